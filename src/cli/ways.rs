//! `plumbsight ways`: what would straighten it from here, and at what cost?

use std::path::PathBuf;

use clap::Args;

use crate::angle::Angle;
use crate::appraise::Measures;
use crate::optics::Proportion;
use crate::site::{Aim, Stance};
use crate::survey::{MeasureSettings, Survey};
use crate::units::Units;
use crate::verticals::READS_UPRIGHT_DEG;
use crate::ways::{
    Equipment, FARTHEST_WALK_M, Figures, Options, Outcome as Comes, Remedy, Way, Ways, WaysError, WaysRecord, ways,
};

use super::request::{StanceArguments, survey};
use super::show::{angle, dash, percent, print, width};
use super::{Ending, Outcome};

/// From where, and which ways.
#[derive(Args, Debug)]
pub(super) struct WaysArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    #[command(flatten)]
    stance: StanceArguments,
    /// A lens in the bag, by name; may be given again; the whole kit unless given
    #[arg(long, value_name = "LENS")]
    bag: Vec<String>,
    /// Look for places on this side of the subject only
    #[arg(long)]
    same_side: bool,
    /// How far to walk at most, in metres
    #[arg(long, value_name = "M", default_value_t = FARTHEST_WALK_M)]
    walk: f64,
    /// The largest lean that reads as upright, in degrees
    #[arg(long, value_name = "DEG", default_value_t = READS_UPRIGHT_DEG)]
    upright: f64,
    /// The proportion wanted of the straightened picture, width:height; the frame's own unless given
    #[arg(long, value_name = "W:H")]
    proportion: Option<Proportion>,
    /// Lengths in metres or feet
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Print the ways as JSON, each with its stance
    #[arg(long)]
    json: bool,
}

impl From<WaysError> for Ending {
    fn from(error: WaysError) -> Self {
        match error {
            WaysError::Stance(error) => error.into(),
            WaysError::Outline(error) => Self::NoAnswer(error.to_string()),
            WaysError::Kit(error) => Self::bad(error),
            WaysError::Walk(_) => Self::BadInput(format!("--walk: {error}")),
        }
    }
}

pub(super) fn run(arguments: &WaysArguments) -> Outcome {
    if !(0.0..=90.0).contains(&arguments.upright) {
        return Err(Ending::BadInput(format!("--upright is {}; it must lie between 0 and 90", arguments.upright)));
    }
    let survey = survey(&arguments.site)?;
    let stance = arguments.stance.stance(&survey)?;
    let settings = MeasureSettings {
        measures: Measures {
            upright: Angle::from_degrees(arguments.upright),
            proportion: arguments.proportion.map(Proportion::ratio),
            ..Measures::default()
        },
        ..MeasureSettings::default()
    };
    let options =
        Options { farthest_walk_m: arguments.walk, bag: arguments.bag.clone(), same_side: arguments.same_side };
    let ways = ways(&survey, &stance, &settings, &options)?;
    if arguments.json {
        return print(&WaysRecord::of(&survey.mark.name, &stance, &ways).to_json());
    }
    print(&told(&survey, &stance, &ways, arguments.units))
}

/// How wide the columns are: the way, then its figures.
const WAY: usize = 41;
const COLUMNS: [(&str, usize); 6] =
    [("leans", 7), ("in view", 9), ("detail", 11), ("picture", 10), ("seen", 7), ("head", 6)];

/// All ways, by what comes of them.
fn told(survey: &Survey, stance: &Stance, ways: &Ways, units: Units) -> String {
    let lengths = |metres: f64, digits: usize| units.length(metres, digits);
    let mut text = format!("{}, {}: ways to straighten it\n\n", survey.mark.name, stance.name);
    let headings: String = COLUMNS.iter().map(|(name, width)| format!("{name:>width$}")).collect();
    text.push_str(&format!("{:WAY$}{headings}\n", ""));
    text.push_str(&row("As you stand", &ways.stance_figures, units));
    let upright = match ways.stance_figures.reads_upright {
        Some(true) => "reads as upright as it is",
        Some(false) => "does not read as upright",
        None => "the subject is not before the camera",
    };
    let framed = ways.stance_in_frame.filter(|_| !ways.stance_whole);
    let framed = framed.map_or_else(String::new, |share| format!("; the frame holds {:.0} % of it", 100.0 * share));
    text.push_str(&format!("    {upright}{framed}\n"));
    let mut told = |rows: &[Way], title: &dyn Fn(&Way) -> String| {
        let mut group: Option<Comes> = None;
        for way in rows {
            if group != Some(way.outcome) {
                group = Some(way.outcome);
                text.push_str(&format!("\n{}\n", way.outcome.words()));
            }
            text.push_str(&told_way(way, &title(way), &lengths, units));
        }
    };
    told(&ways.rows, &|way| way.remedy.words());
    let by_lens = ways.by_lens.iter().filter(|way| way.outcome != Comes::NotHere).cloned().collect::<Vec<_>>();
    if !by_lens.is_empty() {
        text.push_str(&format!(
            "\nThe best place for each lens, within {} on foot\n",
            units.length(ways.farthest_walk_m, 0)
        ));
    }
    for way in &by_lens {
        text.push_str(&told_way(way, &lens_of(way), &lengths, units));
    }
    let none: Vec<&Way> = ways.by_lens.iter().filter(|way| way.outcome == Comes::NotHere).collect();
    if !none.is_empty() {
        text.push_str("\nNo place for\n");
    }
    for way in none {
        text.push_str(&told_way(way, &lens_of(way), &lengths, units));
    }
    text.push('\n');
    for line in wrapped(LEGEND, width().min(100)) {
        text.push_str(&format!("{line}\n"));
    }
    text
}

/// What the columns are.
const LEGEND: &str = "leans: the subject's largest lean in the final picture. in view: the worst of anything in it. detail: at \
                      the worst visible point. picture: what remains of it. seen: the share of the subject that nothing \
                      hides. head: how far above the horizon its head is seen (negative: from above).";

fn lens_of(way: &Way) -> String {
    match &way.remedy {
        Remedy::BestPlace { lens } => {
            let level = way.stance.as_ref().map(|stance| stance.aim);
            let aim = match level {
                Some(Aim::Level) => ", level",
                Some(Aim::Rise) => ", level, raised lens",
                _ => "",
            };
            format!("{lens}{aim}")
        }
        other => other.words(),
    }
}

fn told_way(way: &Way, title: &str, lengths: &dyn Fn(f64, usize) -> String, units: Units) -> String {
    let mut text = match &way.figures {
        Some(figures) => row(&format!("  {title}"), figures, units),
        None => String::new(),
    };
    let mut effort = way.effort.clone();
    // What the title names is not named again.
    effort.kit.retain(|kit| !matches!(kit, Equipment::Lens(name) if title.contains(name.as_str())));
    // What cannot be done takes nothing.
    let effort = if way.figures.is_some() { effort.words(lengths) } else { String::new() };
    let parts = [effort, way.remark_words(lengths)];
    let said = parts.iter().filter(|part| !part.is_empty()).cloned().collect::<Vec<_>>().join(" · ");
    // A way without figures is told in a sentence.
    let said = if way.figures.is_some() { said } else { format!("{title}: {said}") };
    for (index, line) in wrapped(&said, width().min(100) - 4).iter().enumerate() {
        let indent = if way.figures.is_none() && index == 0 { 2 } else { 4 };
        text.push_str(&format!("{:indent$}{line}\n", ""));
    }
    text
}

fn row(title: &str, figures: &Figures, units: Units) -> String {
    let cells = [
        angle(figures.largest_lean.map(Angle::degrees)),
        angle(figures.largest_in_picture.map(Angle::degrees)),
        figures.detail.map_or_else(dash, |detail| units.detail(detail.px_per_m)),
        format!("{:.1} MP", figures.megapixels),
        percent(figures.visible_share),
        figures.head_elevation.map_or_else(dash, |head| format!("{:.0}°", head.degrees())),
    ];
    let cells: String = cells.iter().zip(COLUMNS).map(|(cell, (_, width))| format!("{cell:>width$}")).collect();
    if title.chars().count() < WAY {
        format!("{title:WAY$}{cells}\n")
    } else {
        format!("{title}\n{:WAY$}{cells}\n", "")
    }
}

/// Words broken into lines that are no wider.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.into()),
        }
    }
    lines
}
