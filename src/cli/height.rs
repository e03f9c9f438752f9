//! `plumbsight height`: how high is it, found from what one can read on site, and how far may that be off?

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;

use crate::angle::Angle;
use crate::heights::{
    ANGLE_PM_DEG, BaseSight, COUNT_PM_PX, Count, FoundHeight, HeightBy, LENGTH_PM_SHARE, Length, STOREY_M, STOREY_PM_M,
    Sighted,
};
use crate::site::{Model, SiteEditor, Stance};
use crate::taller::at_height;
use crate::units::Units;

use super::request;
use super::show::{print, tell};
use super::{Ending, Outcome};

/// How the height is found.
#[derive(Args, Debug)]
#[command(after_help = READINGS)]
pub(super) struct HeightArguments {
    #[command(subcommand)]
    by: By,
    /// The unit in which lengths are given and printed; files and JSON are metric
    #[arg(long, value_enum, default_value_t, global = true)]
    units: Units,
    /// Print the height as JSON
    #[arg(long, global = true)]
    json: bool,
    /// Write the height, its uncertainty and how it was found into a block of this site
    #[arg(long, value_name = "SITE", global = true, requires = "block")]
    into: Option<PathBuf>,
    /// The block whose height it is
    #[arg(long, value_name = "NAME", global = true, requires = "into")]
    block: Option<String>,
}

const READINGS: &str = "\
A reading may be followed by how far it may be off, its standard uncertainty: 32.5+-0.2. Unless given it is 0.5° for an angle, \
1 % of a length, 2 pixels, and 0.3 m for the height of a storey (common practice, no source).";

#[derive(Debug, Subcommand)]
enum By {
    /// Count its storeys.
    Storeys {
        /// How many storeys it has
        #[arg(value_name = "N")]
        storeys: u32,
        /// The height of a storey, from floor to floor; 3.0+-0.3 m unless given (common practice, no source)
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        storey: Option<Reading>,
        /// By how much the ground floor is higher than the others, or raised above the ground
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        ground: Option<Reading>,
        /// What rises above the last storey: a parapet, an attic
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        parapet: Option<Reading>,
    },
    /// Sight the top from two places in line with it.
    TwoSightings {
        /// The angle of elevation from the nearer place, in degrees
        #[arg(long, value_name = "DEG", value_parser = reading, allow_hyphen_values = true)]
        near: Reading,
        /// The angle of elevation from the farther place, in degrees
        #[arg(long, value_name = "DEG", value_parser = reading, allow_hyphen_values = true)]
        far: Reading,
        /// How far the two places are apart, level
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        apart: Reading,
        /// The instrument's height above the ground; standing eye height unless given
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        eye: Option<Reading>,
        /// The instrument's height above the ground at the farther place, where it is another
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        far_eye: Option<Reading>,
        /// How much higher the ground of the nearer place is than the base; lower when negative
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        near_ground: Option<Reading>,
        /// How much higher the ground of the farther place is than the base; lower when negative
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        far_ground: Option<Reading>,
    },
    /// Sight the top from a known distance.
    Sighting {
        /// The angle of elevation of the top, in degrees
        #[arg(long, value_name = "DEG", value_parser = reading, allow_hyphen_values = true)]
        top: Reading,
        /// The distance to the point below the top, level
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        distance: Reading,
        /// The instrument's height over the base; standing eye height unless given
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true, conflicts_with = "down")]
        eye: Option<Reading>,
        /// In place of that, the angle of depression to the base, in degrees; negative where the base is higher
        #[arg(long, value_name = "DEG", value_parser = reading, allow_hyphen_values = true)]
        down: Option<Reading>,
    },
    /// Measure its shadow, with the sun's altitude known.
    Shadow {
        /// From the point below the top to the shadow's end, on level ground
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        length: Reading,
        /// The sun's altitude, in degrees
        #[arg(long, value_name = "DEG", value_parser = reading, allow_hyphen_values = true)]
        sun: Reading,
    },
    /// Measure its shadow and that of a post of known height, at the same time.
    Post {
        /// From the point below the top to the shadow's end, on level ground
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        shadow: Reading,
        /// The post's height
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        post: Reading,
        /// The post's shadow
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        post_shadow: Reading,
    },
    /// Count pixels beside a known width of the same wall, in a straight picture taken squarely.
    Width {
        /// The known width
        #[arg(long, value_name = "LENGTH", value_parser = reading, allow_hyphen_values = true)]
        width: Reading,
        /// The same width in the picture, in pixels
        #[arg(long, value_name = "PX", value_parser = reading, allow_hyphen_values = true)]
        width_px: Reading,
        /// The height in the picture, in pixels
        #[arg(long, value_name = "PX", value_parser = reading, allow_hyphen_values = true)]
        height_px: Reading,
    },
}

/// A number as it was typed, with how far it may be off where that was typed as well.
#[derive(Clone, Copy, Debug)]
struct Reading {
    value: f64,
    pm: Option<f64>,
}

/// A reading: "32.5", "32.5+-0.2" or "32.5±0.2".
fn reading(text: &str) -> Result<Reading, String> {
    let number = |part: &str| {
        let number: f64 = part.trim().parse().map_err(|_| format!("'{}' is not a number", part.trim()))?;
        if number.is_finite() { Ok(number) } else { Err(format!("{number} is not finite")) }
    };
    match text.split_once('±').or_else(|| text.split_once("+-")) {
        Some((value, pm)) => Ok(Reading { value: number(value)?, pm: Some(number(pm)?) }),
        None => Ok(Reading { value: number(text)?, pm: None }),
    }
}

impl Reading {
    fn length(self, units: Units) -> Length {
        self.length_within(units, LENGTH_PM_SHARE * units.to_metres(self.value).abs())
    }

    fn length_within(self, units: Units, usual_pm_m: f64) -> Length {
        Length { m: units.to_metres(self.value), pm_m: self.pm.map_or(usual_pm_m, |pm| units.to_metres(pm)) }
    }

    fn sighted(self) -> Sighted {
        let pm = self.pm.unwrap_or(ANGLE_PM_DEG);
        Sighted { angle: Angle::from_degrees(self.value), pm: Angle::from_degrees(pm) }
    }

    fn count(self) -> Count {
        Count { px: self.value, pm_px: self.pm.unwrap_or(COUNT_PM_PX) }
    }
}

impl By {
    /// What was read, in metres and with its uncertainties.
    fn readings(&self, units: Units) -> HeightBy {
        let extra = |reading: &Option<Reading>| reading.map_or_else(Length::default, |reading| reading.length(units));
        let eye = |reading: &Option<Reading>| {
            reading.map_or_else(|| Length::read(Stance::STANDING_M), |reading| reading.length(units))
        };
        let over = |eye: Length, ground: Length| Length { m: eye.m + ground.m, pm_m: eye.pm_m.hypot(ground.pm_m) };
        match self {
            Self::Storeys { storeys, storey, ground, parapet } => {
                let storey = storey.map_or(Length { m: STOREY_M, pm_m: STOREY_PM_M }, |storey| {
                    storey.length_within(units, STOREY_PM_M)
                });
                HeightBy::Storeys { storeys: *storeys, storey, ground: extra(ground), parapet: extra(parapet) }
            }
            Self::TwoSightings { near, far, apart, eye: near_eye, far_eye, near_ground, far_ground } => {
                HeightBy::TwoSightings {
                    near: near.sighted(),
                    far: far.sighted(),
                    apart: apart.length(units),
                    near_over_base: over(eye(near_eye), extra(near_ground)),
                    far_over_base: over(eye(&far_eye.or(*near_eye)), extra(far_ground)),
                }
            }
            Self::Sighting { top, distance, eye: over_base, down } => HeightBy::Sighting {
                top: top.sighted(),
                distance: distance.length(units),
                base: match down {
                    Some(down) => BaseSight::Depression(down.sighted()),
                    None => BaseSight::Over(eye(over_base)),
                },
            },
            Self::Shadow { length, sun } => HeightBy::Shadow { shadow: length.length(units), sun: sun.sighted() },
            Self::Post { shadow, post, post_shadow } => HeightBy::Post {
                shadow: shadow.length(units),
                post: post.length(units),
                post_shadow: post_shadow.length(units),
            },
            Self::Width { width, width_px, height_px } => {
                HeightBy::Width { width: width.length(units), width_px: width_px.count(), height_px: height_px.count() }
            }
        }
    }
}

/// A height as JSON.
#[derive(Serialize)]
struct FoundJson {
    height_m: f64,
    height_pm_m: f64,
    height_from: String,
    shares_m: Vec<ShareJson>,
}

/// What one reading adds to the uncertainty.
#[derive(Serialize)]
struct ShareJson {
    reading: &'static str,
    pm_m: f64,
}

pub(super) fn run(arguments: &HeightArguments) -> Outcome {
    let readings = arguments.by.readings(arguments.units);
    let found = readings.found().map_err(Ending::bad)?;
    let written = match (&arguments.into, &arguments.block) {
        (Some(site), Some(block)) => Some(write_into(site, block, &readings, &found)?),
        _ => None,
    };
    if arguments.json {
        let shares_m = found.shares.iter().map(|&(reading, pm_m)| ShareJson { reading, pm_m }).collect();
        let json = FoundJson {
            height_m: found.height_m,
            height_pm_m: found.pm_m,
            height_from: readings.words(Units::M),
            shares_m,
        };
        return print(&serde_json::to_string_pretty(&json).map_err(Ending::bad)?);
    }
    tell(&words(&readings, &found, arguments.units, written.as_deref()))
}

/// The height with its uncertainty, how it was found, and what would make it more certain.
fn words(readings: &HeightBy, found: &FoundHeight, units: Units, written: Option<&str>) -> String {
    let digits = digits(units.from_metres(found.pm_m));
    let mut text = format!(
        "{:.digits$} ± {}\n{}.",
        units.from_metres(found.height_m),
        units.length(found.pm_m, digits),
        crate::wording::capital(&readings.words(units)),
    );
    let doubt = found.shares.iter().filter(|(_, pm_m)| *pm_m > 0.0);
    if let [(first, pm_m), _, ..] = doubt.collect::<Vec<_>>()[..] {
        text.push_str(&format!("\nMost of the uncertainty comes from {first}: {}.", units.length(*pm_m, digits)));
    }
    if let Some(written) = written {
        text.push_str(&format!("\n{written}"));
    }
    text
}

/// The digits after the point that an uncertainty is worth: two figures of it below a unit.
fn digits(pm: f64) -> usize {
    if pm >= 0.95 { 1 } else { 2 }
}

/// Writes the height into a block, and says so.
fn write_into(site: &Path, name: &str, readings: &HeightBy, found: &FoundHeight) -> Result<String, Ending> {
    let loaded = request::load(site)?;
    let mut editor = SiteEditor::new(&loaded.text, &site.display().to_string()).map_err(Ending::bad)?;
    let to_centimetre = |metres: f64| (metres * 100.0).round() / 100.0;
    let height_m = to_centimetre(found.height_m);
    let index = editor.block_named(name).map_err(Ending::bad)?;
    // What stands on it, or hangs on its walls, goes with it.
    let mut blocks = at_height(&Model::build(loaded.site), index, height_m);
    let moved = blocks.len().saturating_sub(1);
    if let Some((_, block)) = blocks.first_mut() {
        block.height_from = Some(readings.words(Units::M));
        block.height_pm_m = Some(to_centimetre(found.pm_m));
    }
    editor
        .together(|editor| blocks.iter().try_for_each(|(index, block)| editor.set_block(*index, block).map(drop)))
        .map_err(Ending::bad)?;
    editor.save(site).map_err(Ending::bad)?;
    let with_it = match moved {
        0 => String::new(),
        1 => "; the block that it carries is moved along".into(),
        count => format!("; the {count} blocks that it carries are moved along"),
    };
    Ok(format!("{} is written: '{name}' is {height_m} m high{with_it}.", site.display()))
}
