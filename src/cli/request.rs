//! Which site and which stance are meant?

use std::path::{Path, PathBuf};

use clap::Args;

use crate::optics::{Distortion, Kit, Margins, Orientation, Proportion};
use crate::plan::{PlanError, read_own_kit};
use crate::site::{Aim, LoadedSite, SiteError, Stance, Sun, check_placing, likely, read_site_with};
use crate::survey::Survey;
use crate::verticals::{CRITICAL_DEG, LENIENT_DEG, READS_UPRIGHT_DEG};

use super::Ending;
use super::show::{colour, width};

/// Reads a site file, or reports all errors in it.
pub(super) fn load(path: &Path) -> Result<LoadedSite, Ending> {
    load_with(path, own_kit()?.as_ref())
}

fn load_with(path: &Path, own: Option<&Kit>) -> Result<LoadedSite, Ending> {
    read_site_with(path, own).map_err(|error| match error {
        SiteError::File(error) => Ending::bad(error),
        SiteError::Problems(problems) => Ending::BadInput(problems.render(colour(), width())),
    })
}

/// Reads a site file and makes it ready for measuring.
pub(super) fn survey(path: &Path) -> Result<Survey, Ending> {
    let own = own_kit()?;
    load_with(path, own.as_ref()).map(|loaded| Survey::with_kit(loaded, own.as_ref()))
}

/// The folder of a person's own settings and kit; `None` where the platform has no such folder.
pub(super) fn configuration_folder() -> Option<PathBuf> {
    use etcetera::BaseStrategy;
    etcetera::choose_base_strategy().ok().map(|base| base.config_dir().join("plumbsight"))
}

/// The person's own kit, or all errors in it.
pub(super) fn own_kit() -> Result<Option<Kit>, Ending> {
    let Some(folder) = configuration_folder() else { return Ok(None) };
    read_own_kit(&folder).map_err(plan_ending)
}

/// What is said of a kit or plan that cannot be read.
pub(super) fn plan_ending(error: PlanError) -> Ending {
    match error {
        PlanError::File(error) => Ending::bad(error),
        PlanError::Problems(problems) => Ending::BadInput(problems.render(colour(), width())),
    }
}

/// A stance by its saved name.
pub(super) fn saved(survey: &Survey, name: &str) -> Result<Stance, Ending> {
    survey.model.site.stance(name).cloned().ok_or_else(|| {
        let known: Vec<_> = survey.model.site.stances.iter().map(|stance| format!("'{}'", stance.name)).collect();
        let known = if known.is_empty() { "no saved stances".into() } else { known.join(", ") };
        let meant = likely(name, survey.model.site.stances.iter().map(|stance| stance.name.as_str()));
        let meant = if meant.is_empty() { meant } else { format!("{meant} ") };
        Ending::BadInput(format!("no stance is called '{name}'; {meant}the site has {known}"))
    })
}

/// Saved stances by their names, with commas between; all of them where none is named. A name may have commas itself.
pub(super) fn named_stances(survey: &Survey, lists: &[String]) -> Result<Vec<Stance>, Ending> {
    if lists.is_empty() {
        return Ok(survey.model.site.stances.clone());
    }
    let mut named = Vec::new();
    for list in lists {
        let parts: Vec<&str> = list.split(',').collect();
        let mut at = 0;
        while at < parts.len() {
            // The longest run of parts that is a name.
            let run = (at + 1..=parts.len()).rev().find_map(|end| {
                let name = parts[at..end].join(",");
                Some((end, survey.model.site.stance(&name).or_else(|| survey.model.site.stance(name.trim()))?))
            });
            let Some((end, stance)) = run else { return saved(survey, parts[at].trim()).map(|stance| vec![stance]) };
            named.push(stance.clone());
            at = end;
        }
    }
    Ok(named)
}

/// Where to stand, with which camera, and how to aim it: a saved stance, changed by what else is given, or all of it.
#[derive(Args, Debug, Default, PartialEq)]
#[command(next_help_heading = "Stance")]
pub(super) struct StanceArguments {
    /// A stance saved in the site file; the options below change it
    #[arg(long, value_name = "NAME")]
    pub(super) stance: Option<String>,
    /// The standpoint: metres east and north
    #[arg(long, value_name = "E,N", value_parser = pair, allow_hyphen_values = true, conflicts_with = "eye")]
    at: Option<(f64, f64)>,
    /// The camera's height above the standpoint, in metres
    #[arg(long, value_name = "M", allow_hyphen_values = true, conflicts_with = "eye")]
    height: Option<f64>,
    /// What to stand on: the name of a block with a deck, or "ground"
    #[arg(long, value_name = "NAME", conflicts_with = "eye")]
    on: Option<String>,
    /// The camera's position itself: metres east, north and up
    #[arg(long, value_name = "E,N,U", value_parser = triple, allow_hyphen_values = true)]
    eye: Option<(f64, f64, f64)>,
    /// How to aim: fill (the subject fills the frame), level, rise (level, and the lens rises), or at:E,N,U (a point)
    #[arg(long, value_name = "AIM", value_parser = aim, allow_hyphen_values = true, conflicts_with_all = ["heading", "pitch", "roll"])]
    aim: Option<Aim>,
    /// The camera's bearing, in degrees clockwise from true north
    #[arg(long, value_name = "DEG", allow_hyphen_values = true)]
    heading: Option<f64>,
    /// The camera's pitch, in degrees upwards; with --heading, 0 unless given
    #[arg(long, value_name = "DEG", allow_hyphen_values = true)]
    pitch: Option<f64>,
    /// The camera's roll, in degrees clockwise; with --heading, 0 unless given
    #[arg(long, value_name = "DEG", allow_hyphen_values = true)]
    roll: Option<f64>,
    /// The format by name, or as 36x24@6000 (mm, and pixels across)
    #[arg(long, value_name = "FORMAT")]
    format: Option<String>,
    /// Hold the camera landscape or portrait; whichever suits the subject unless given
    #[arg(long, value_name = "ORIENTATION", value_parser = orientation)]
    orientation: Option<Orientation>,
    /// Crop the picture to this aspect, width:height
    #[arg(long, alias = "crop", value_name = "W:H")]
    aspect: Option<Proportion>,
    /// Keep these per cents of the frame clear about the subject: at the sides and below, and above; 5,8 unless given
    #[arg(long, value_name = "SIDE,ABOVE")]
    margins: Option<Margins>,
    /// The lens by name
    #[arg(long, value_name = "LENS")]
    lens: Option<String>,
    /// The focal length in mm; without --lens, a plain lens of this focal length with the rise and shift that are asked for
    #[arg(long, value_name = "MM")]
    focal: Option<f64>,
    /// The f-number
    #[arg(long, alias = "f-number", value_name = "N")]
    aperture: Option<f64>,
    /// The focus distance, in metres
    #[arg(long, value_name = "M")]
    focus: Option<f64>,
    /// How far the lens is moved up, in mm; down when negative
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    rise: Option<f64>,
    /// How far the lens is moved to the right, in mm; to the left when negative
    #[arg(long, alias = "lateral-shift", value_name = "MM", allow_hyphen_values = true)]
    shift: Option<f64>,
    /// A distortion that replaces the lens's own: k1,k2,p1,p2,k3[,k4,k5,k6]
    #[arg(long, value_name = "K", value_parser = distortion, allow_hyphen_values = true)]
    distortion: Option<Distortion>,
}

impl StanceArguments {
    /// Whether nothing is given: all saved stances are meant.
    pub(super) fn is_empty(&self) -> bool {
        // An option that would change a stance needs one, so that none is ignored.
        *self == Self::default()
    }

    /// The stance that is meant.
    pub(super) fn stance(&self, survey: &Survey) -> Result<Stance, Ending> {
        let mut stance = match (&self.stance, self.at, self.eye) {
            (Some(name), ..) => saved(survey, name)?,
            (None, Some(at), _) => Stance::plain("as given", at),
            (None, None, Some((east, north, _))) => Stance::plain("as given", (east, north)),
            (None, None, None) => {
                return Err(Ending::BadInput("give a standpoint: --stance NAME, --at E,N or --eye E,N,U".into()));
            }
        };
        if let Some(at) = self.at {
            (stance.at, stance.eye_height_m) = (at, None);
        }
        if let Some((east, north, up)) = self.eye {
            (stance.at, stance.eye_height_m) = ((east, north), Some(up));
        }
        if let Some(height_m) = self.height {
            (stance.height_m, stance.eye_height_m) = (height_m, None);
        }
        if self.on.is_some() {
            (stance.on, stance.eye_height_m) = (self.on.clone(), None);
        }
        self.aim_of(&mut stance)?;
        self.camera_of(&mut stance);
        // What no file would be allowed to hold is not measured either.
        let faults: Vec<String> = check_placing(&stance).iter().map(ToString::to_string).collect();
        if faults.is_empty() { Ok(stance) } else { Err(Ending::BadInput(faults.join("\n"))) }
    }

    fn aim_of(&self, stance: &mut Stance) -> Result<(), Ending> {
        if let Some(aim) = self.aim {
            stance.aim = aim;
        }
        if self.heading.is_none() && self.pitch.is_none() && self.roll.is_none() {
            return Ok(());
        }
        let (heading, pitch, roll) = match stance.aim {
            Aim::Turned { heading_deg, pitch_deg, roll_deg } => (Some(heading_deg), pitch_deg, roll_deg),
            _ => (None, 0.0, 0.0),
        };
        let heading_deg = self.heading.or(heading).ok_or_else(|| {
            Ending::BadInput("--pitch and --roll need --heading DEG, or a saved stance whose aim is Turned".into())
        })?;
        stance.aim =
            Aim::Turned { heading_deg, pitch_deg: self.pitch.unwrap_or(pitch), roll_deg: self.roll.unwrap_or(roll) };
        Ok(())
    }

    fn camera_of(&self, stance: &mut Stance) {
        if let Some(format) = &self.format {
            stance.format.clone_from(format);
        }
        stance.orientation = self.orientation.or(stance.orientation);
        stance.crop = self.aspect.or(stance.crop);
        stance.margins = self.margins.or(stance.margins);
        stance.f_number = self.aperture.unwrap_or(stance.f_number);
        stance.focus_m = self.focus.or(stance.focus_m);
        stance.rise_mm = self.rise.or(stance.rise_mm);
        stance.shift_mm = self.shift.or(stance.shift_mm);
        stance.distortion = self.distortion.or(stance.distortion);
        match (&self.lens, self.focal) {
            (Some(lens), focal) => {
                stance.lens.clone_from(lens);
                stance.focal_mm = focal;
            }
            (None, Some(focal_mm)) if self.stance.is_some() => stance.focal_mm = Some(focal_mm),
            (None, Some(focal_mm)) => {
                let travel_mm = self.rise.unwrap_or(0.0).abs().max(self.shift.unwrap_or(0.0).abs());
                stance.lens = if travel_mm > 0.0 {
                    format!("{focal_mm} mm with {travel_mm} mm rise")
                } else {
                    format!("{focal_mm} mm")
                };
            }
            (None, None) => {}
        }
    }
}

/// The sun's position, from "azimuth,altitude".
pub(super) fn sun(text: &str) -> Result<Sun, String> {
    let (azimuth_deg, altitude_deg) = pair(text)?;
    if !(-90.0..=90.0).contains(&altitude_deg) {
        return Err(format!("the altitude is {altitude_deg}°; it must lie between -90 and 90"));
    }
    Ok(Sun { azimuth_deg, altitude_deg })
}

pub(super) fn pair(text: &str) -> Result<(f64, f64), String> {
    match numbers(text)?[..] {
        [a, b] => Ok((a, b)),
        _ => Err("write two numbers with a comma between, such as 12.5,-40".into()),
    }
}

pub(super) fn triple(text: &str) -> Result<(f64, f64, f64), String> {
    match numbers(text)?[..] {
        [a, b, c] => Ok((a, b, c)),
        _ => Err("write three numbers with commas between, such as 12.5,-40,1.6".into()),
    }
}

pub(super) fn numbers(text: &str) -> Result<Vec<f64>, String> {
    text.split(',')
        .map(|part| {
            let number: f64 = part.trim().parse().map_err(|_| format!("'{}' is not a number", part.trim()))?;
            if number.is_finite() { Ok(number) } else { Err(format!("{number} is not finite")) }
        })
        .collect()
}

pub(super) fn aim(text: &str) -> Result<Aim, String> {
    if let Some(aim) = Aim::FRAMING.into_iter().find(|aim| aim.key() == text) {
        return Ok(aim);
    }
    let point = text.strip_prefix("at:").ok_or("write fill, level, rise, least-tilt, correct or at:E,N,U")?;
    triple(point).map(|(east, north, up)| Aim::At(east, north, up))
}

/// A threshold of uprightness: by name, or in degrees.
pub(super) fn threshold(text: &str) -> Result<f64, String> {
    match text {
        "critical" => Ok(CRITICAL_DEG),
        "usual" => Ok(READS_UPRIGHT_DEG),
        "lenient" => Ok(LENIENT_DEG),
        // What lies outside the range is refused with the option's own name.
        number => number.parse().ok().filter(|degrees: &f64| degrees.is_finite()).ok_or_else(|| {
            format!("'{number}' is no threshold; write critical, usual, lenient or degrees from 0 to 90")
        }),
    }
}

pub(super) fn orientation(text: &str) -> Result<Orientation, String> {
    match text {
        "landscape" => Ok(Orientation::Landscape),
        "portrait" => Ok(Orientation::Portrait),
        _ => Err("write landscape or portrait".into()),
    }
}

fn distortion(text: &str) -> Result<Distortion, String> {
    Distortion::from_slice(&numbers(text)?).map_err(|error| error.to_string())
}
