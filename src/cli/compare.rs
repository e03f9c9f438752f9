//! `plumbsight compare`: which of these stances is the best, figure by figure?

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::compare::ComparedRow;
use crate::handover::compare::Comparison;
use crate::handover::deliver::{DeliveryKind, DeliveryRequest, Prepared, deliver};
use crate::optics::Proportion;
use crate::progress::Progress;
use crate::units::Units;

use super::deliver::destination;
use super::measure::MeasureOptions;
use super::request::{named_stances, survey};
use super::show::{dash, page_width, print, tell};
use super::table::TextTable;
use super::{Ending, Outcome};

/// What to compare.
#[derive(Args, Debug)]
pub(super) struct CompareArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The saved stances, with commas between; the first is the one that others are compared with. All unless given
    #[arg(long, value_name = "NAMES")]
    stances: Vec<String>,
    /// Crop the pictures to this aspect, width:height
    #[arg(long, value_name = "W:H")]
    aspect: Option<Proportion>,
    /// The form of the result
    #[arg(long = "as", value_enum, default_value_t)]
    form: Form,
    /// Write the comparison to this file: .csv or .json
    #[arg(short, long, value_name = "FILE", conflicts_with = "form")]
    out: Option<PathBuf>,
    /// Replace a file that exists
    #[arg(long, requires = "out")]
    replace: bool,
    /// The unit of lengths in the table; files are metric
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    #[command(flatten)]
    measures: MeasureOptions,
}

/// The form of the answer.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum Form {
    /// A table for people.
    #[default]
    Table,
    /// Comma-separated values.
    Csv,
    /// JSON.
    Json,
}

pub(super) fn run(arguments: &CompareArguments) -> Outcome {
    let out = arguments.out.as_deref();
    let out = out.map(|out| destination(out, arguments.replace, DeliveryKind::Comparison)).transpose()?;
    let survey = survey(&arguments.site)?;
    let (survey, settings) = arguments.measures.on(survey)?;
    let mut stances = named_stances(&survey, &arguments.stances)?;
    stances.iter_mut().for_each(|stance| stance.crop = arguments.aspect.or(stance.crop));
    if stances.len() < 2 {
        return Err(Ending::BadInput("a comparison needs two stances: --stances NAME,NAME".into()));
    }
    let request = DeliveryRequest::Comparison { stances, settings };
    let Prepared::Comparison(comparison) = request.prepare(&survey, &Progress::unwatched())? else { return Ok(()) };
    if comparison.rows.is_empty() {
        let why = comparison.stances.iter().zip(&comparison.refused);
        let why: Vec<String> =
            why.map(|(name, why)| format!("{name}: {}", why.as_deref().unwrap_or("has no figures"))).collect();
        return Err(Ending::NoAnswer(why.join("\n")));
    }
    if let Some(out) = out {
        let prepared = Some(Prepared::Comparison(comparison));
        let delivered = deliver(&survey, &request, prepared, &out, &Progress::unwatched())?;
        return tell(&format!("{} is written.", delivered.path.display()));
    }
    match arguments.form {
        Form::Table => tell(&summary(&survey.model.site.name, &comparison, arguments.units)),
        Form::Csv => print(&comparison.to_csv()),
        Form::Json => print(&comparison.to_json()),
    }
}

/// The comparison as a table: a figure a row, a stance a column.
fn summary(site: &str, comparison: &Comparison, units: Units) -> String {
    let mut headings = vec![""];
    headings.extend(comparison.stances.iter().map(String::as_str));
    let mut rows = TextTable::new(&headings);
    for row in &comparison.rows {
        let mut cells = vec![row.figure.words.to_owned()];
        cells.extend((0..row.values.len()).map(|stance| cell(row, stance, units)));
        rows.row(cells);
    }
    let mut text = format!("{site}\n\n{}\n", rows.fitted(page_width()));
    for (name, why) in comparison.stances.iter().zip(&comparison.refused) {
        if let Some(why) = why {
            text.push_str(&format!("\n{name} cannot be measured: {why}"));
        }
    }
    text.push_str(
        "\n* the best in this row. In brackets: the difference from the first stance; leans and convergence by size.",
    );
    text
}

fn cell(row: &ComparedRow, stance: usize, units: Units) -> String {
    let figure = row.figure;
    let Some(value) = row.values.get(stance).copied().flatten() else { return dash() };
    let mut text = figure.written(value, units);
    let first = row.values.first().copied().flatten().filter(|_| stance > 0);
    if let Some(excess) = first.and_then(|first| figure.excess(value, first)) {
        let signed = figure.signed(excess, units);
        text.push_str(&signed.map_or_else(String::new, |signed| format!(" ({signed})")));
    }
    if row.best.contains(&stance) {
        text.push_str(" *");
    }
    text
}
