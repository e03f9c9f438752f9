//! `plumbsight ways`: what would straighten it from here, and at what cost?

use std::path::PathBuf;

use clap::Args;

use crate::angle::Angle;
use crate::appraise::Measures;
use crate::optics::Proportion;
use crate::plan::packed_bag;
use crate::site::{Aim, Stance};
use crate::survey::{MeasureSettings, Survey};
use crate::units::Units;
use crate::verticals::READS_UPRIGHT_DEG;
use crate::ways::{
    Equipment, FARTHEST_WALK_M, Figures, Options, Remedy, Way, WayOutcome, Ways, WaysError, WaysRecord, ways,
};

use super::request::{StanceArguments, plan_ending, survey, threshold};
use super::show::{angle, dash, page_width, percent, print, prose_width, tell};
use super::table::{cells_wide, wrapped};
use super::{Ending, Outcome};

/// From where, and which ways.
#[derive(Args, Debug)]
pub(super) struct WaysArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// A lens in the bag, by name; repeat for several. The bag of the site's plan unless given; without one, 14 mm,
    /// 24-70 mm and 70-200 mm beside the lens that is on
    #[arg(long, value_name = "LENS")]
    bag: Vec<String>,
    /// Stay on this side of the subject
    #[arg(long)]
    same_side: bool,
    /// How far to walk at most, in metres
    #[arg(long, value_name = "M", default_value_t = FARTHEST_WALK_M)]
    walk: f64,
    /// The largest lean that is upright: critical (0.2°), usual (0.6°), lenient (1.0°), or in degrees
    #[arg(long, value_name = "DEG", value_parser = threshold, default_value_t = READS_UPRIGHT_DEG)]
    upright: f64,
    // Scripts of earlier days: of the straightened picture alone, while --aspect crops the frame as well.
    #[arg(long, value_name = "W:H", hide = true)]
    proportion: Option<Proportion>,
    /// The unit of lengths
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Print the ways as JSON, each with its stance
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    stance: StanceArguments,
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
    let bag = if arguments.bag.is_empty() {
        packed_bag(&arguments.site).map_err(plan_ending)?.unwrap_or_default()
    } else {
        arguments.bag.clone()
    };
    let options = Options { farthest_walk_m: arguments.walk, bag, same_side: arguments.same_side };
    let ways = ways(&survey, &stance, &settings, &options)?;
    if arguments.json {
        return print(&WaysRecord::of(&survey.mark.name, &stance, &ways).to_json());
    }
    tell(&summary(&survey, &stance, &ways, arguments.units))
}

/// The figures of a way: the two lines of a heading, and the width of the column.
const COLUMNS: [(&str, &str, usize); 6] = [
    ("lean of", "subject", 9),
    ("lean in", "picture", 9),
    ("lowest", "detail", 12),
    ("", "pixels", 9),
    ("subject", "seen", 9),
    ("looking", "up", 9),
];
/// The widest that the column of titles becomes, and the narrowest; where there is less room, figures have lines of their own.
const TITLE_MOST: usize = 40;
const TITLE_LEAST: usize = 22;

/// How wide the titles beside the figures are; `None` where the figures stand beneath them.
fn title_width() -> Option<usize> {
    let figures: usize = COLUMNS.iter().map(|(_, _, width)| width).sum();
    let room = page_width().unwrap_or(usize::MAX).checked_sub(figures)?;
    (room >= TITLE_LEAST).then_some(room.min(TITLE_MOST))
}

/// All ways, by what comes of them.
fn summary(survey: &Survey, stance: &Stance, ways: &Ways, units: Units) -> String {
    let lengths = |metres: f64, digits: usize| units.length(metres, digits);
    let mut text = String::new();
    for line in wrapped(&ways.sentence(units), prose_width()) {
        text.push_str(&format!("{line}\n"));
    }
    text.push_str(&format!("\n{}, {}: ways to straighten it\n\n", survey.mark.name, stance.name));
    if let Some(title) = title_width() {
        let upper: String = COLUMNS.iter().map(|(upper, _, width)| format!("{upper:>width$}")).collect();
        let lower: String = COLUMNS.iter().map(|(_, lower, width)| format!("{lower:>width$}")).collect();
        text.push_str(&format!("{:title$}{upper}\n{:title$}{lower}\n", "", ""));
    }
    text.push_str(&row("This stance", &ways.stance_figures, units));
    let mut write_rows = |rows: &[Way], title: &dyn Fn(&Way) -> String| {
        let mut group: Option<WayOutcome> = None;
        for way in rows {
            if group != Some(way.outcome) {
                group = Some(way.outcome);
                text.push_str(&format!("\n{}\n", way.outcome.words()));
            }
            text.push_str(&way_words(way, &title(way), &lengths, units));
        }
    };
    write_rows(&ways.rows, &|way| way.action(units));
    let by_lens = ways.by_lens.iter().filter(|way| way.outcome != WayOutcome::NotHere).cloned().collect::<Vec<_>>();
    if !by_lens.is_empty() {
        text.push_str(&format!(
            "\nThe best standpoint for each lens, within {} on foot\n",
            units.length(ways.farthest_walk_m, 0)
        ));
    }
    for way in &by_lens {
        text.push_str(&way_words(way, &lens_of(way), &lengths, units));
    }
    let none: Vec<&Way> = ways.by_lens.iter().filter(|way| way.outcome == WayOutcome::NotHere).collect();
    if !none.is_empty() {
        text.push_str("\nNo standpoint for\n");
    }
    for way in none {
        text.push_str(&way_words(way, &lens_of(way), &lengths, units));
    }
    text.push('\n');
    for line in wrapped(LEGEND, prose_width()) {
        text.push_str(&format!("{line}\n"));
    }
    text
}

/// What the columns are.
const LEGEND: &str = "Lean: the largest, of the subject and of anything in the final picture. Lowest detail: at the worst \
                      visible point. Pixels: what remains of the picture. Seen: the share of the subject that nothing \
                      hides. Looking up: how steeply, at the subject's top (negative: down).";

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

fn way_words(way: &Way, title: &str, lengths: &dyn Fn(f64, usize) -> String, units: Units) -> String {
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
    // A way without figures is a sentence.
    let said = if way.figures.is_some() { said } else { format!("{title}: {said}") };
    if said.is_empty() {
        return text;
    }
    // A sentence hangs from its first line.
    let (indent, hang) = if way.figures.is_some() { ("    ", "") } else { ("  ", "  ") };
    for (index, line) in wrapped(&format!("{indent}{said}"), prose_width() - hang.len()).iter().enumerate() {
        text.push_str(&format!("{}{line}\n", if index > 0 { hang } else { "" }));
    }
    text
}

fn row(title: &str, figures: &Figures, units: Units) -> String {
    let cells = [
        angle(figures.largest_lean.map(Angle::degrees)),
        angle(figures.largest_in_picture.map(Angle::degrees)),
        figures.detail.map_or_else(dash, |detail| units.detail(detail.px_per_m)),
        figures.megapixels().map_or_else(dash, |megapixels| format!("{megapixels:.1} MP")),
        percent(figures.visible_share),
        figures.top_elevation.map_or_else(dash, |head| format!("{:.0}°", head.degrees())),
    ];
    let Some(width) = title_width() else {
        let mut text = wrapped(title, prose_width()).join("\n") + "\n";
        let mut line = String::new();
        for (cell, (upper, lower, _)) in cells.iter().zip(COLUMNS) {
            let figure = format!("{upper} {lower} {cell}").trim_start().to_owned();
            if !line.is_empty() && cells_wide(&line) + 2 + cells_wide(&figure) > prose_width() {
                text.push_str(&format!("{line}\n"));
                line.clear();
            }
            line.push_str(if line.is_empty() { "    " } else { ", " });
            line.push_str(&figure);
        }
        return format!("{text}{line}\n");
    };
    let cells: String = cells.iter().zip(COLUMNS).map(|(cell, (_, _, width))| format!("{cell:>width$}")).collect();
    if cells_wide(title) < width {
        format!("{title}{:1$}{cells}\n", "", width - cells_wide(title))
    } else {
        format!("{}\n{:width$}{cells}\n", wrapped(title, prose_width()).join("\n"), "")
    }
}
