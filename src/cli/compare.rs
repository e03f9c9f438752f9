//! `plumbsight compare`: which of these stances is the best, figure by figure?

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::handover::compare::{Comparison, Row, Unit};
use crate::site::Stance;
use crate::survey::Survey;

use super::measure::{MeasureOptions, recorded};
use super::request::{named_stances, survey};
use super::show::{dash, print, table};
use super::{Ending, Outcome};

/// What to compare.
#[derive(Args, Debug)]
pub(super) struct CompareArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The saved stances, with commas between, the first being the one the others are held against; all unless given
    #[arg(long, value_name = "NAMES")]
    stances: Vec<String>,
    #[command(flatten)]
    measures: MeasureOptions,
    /// As a table, or as a file for other programs
    #[arg(long = "as", value_enum, default_value_t)]
    form: Form,
}

/// The form of the answer.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum Form {
    /// For people.
    #[default]
    Table,
    /// Comma-separated values.
    Csv,
    /// JSON.
    Json,
}

pub(super) fn run(arguments: &CompareArguments) -> Outcome {
    let wishes = arguments.measures.wishes()?;
    let survey = survey(&arguments.site)?;
    let stances = named_stances(&survey, &arguments.stances)?;
    if stances.len() < 2 {
        return Err(Ending::BadInput("it takes two stances to compare: --stances NAME,NAME".into()));
    }
    let comparison = Comparison::of(&stances.iter().map(|stance| row(&survey, stance, &wishes)).collect::<Vec<_>>());
    if comparison.rows.is_empty() {
        let why = comparison.stances.iter().zip(&comparison.refused);
        let why: Vec<String> =
            why.map(|(name, why)| format!("{name}: {}", why.as_deref().unwrap_or("has no figures"))).collect();
        return Err(Ending::NoAnswer(why.join("\n")));
    }
    match arguments.form {
        Form::Table => print(&told(&survey.model.site.name, &comparison)),
        Form::Csv => print(&comparison.to_csv()),
        Form::Json => print(&comparison.to_json()),
    }
}

fn row(
    survey: &Survey,
    stance: &Stance,
    wishes: &crate::survey::Wishes,
) -> (String, Result<crate::record::Record, String>) {
    let record = recorded(survey, stance, wishes).map(|(_, record)| record).map_err(|ending| match ending {
        Ending::NoAnswer(why) | Ending::BadInput(why) => why,
        Ending::Unread => String::new(),
    });
    (stance.name.clone(), record)
}

/// The comparison as a table: a figure a row, a stance a column.
fn told(site: &str, comparison: &Comparison) -> String {
    let mut headings = vec![""];
    headings.extend(comparison.stances.iter().map(String::as_str));
    let mut rows = table(&headings);
    for row in &comparison.rows {
        let mut cells = vec![row.figure.words.to_owned()];
        cells.extend((0..row.values.len()).map(|stance| cell(row, stance)));
        rows.add_row(cells);
    }
    let mut text = format!("{site}\n\n{}\n", rows.trim_fmt());
    for (name, why) in comparison.stances.iter().zip(&comparison.refused) {
        if let Some(why) = why {
            text.push_str(&format!("\n{name} cannot be measured: {why}"));
        }
    }
    text.push_str("\n* the best in this row. In brackets: the difference from the first.");
    text
}

fn cell(row: &Row, stance: usize) -> String {
    let figure = row.figure;
    let Some(value) = row.values.get(stance).copied().flatten() else { return dash() };
    let number = |value: f64| {
        let (value, decimals) = if figure.unit == Unit::Share { (100.0 * value, 0) } else { (value, figure.decimals) };
        let steps = 10_f64.powi(decimals as i32);
        // Zero has no sign.
        ((value * steps).round() / steps + 0.0, decimals)
    };
    let mut text = match figure.unit {
        Unit::YesNo => if value == 0.0 { "no" } else { "yes" }.to_owned(),
        _ if value.is_infinite() => "any".into(),
        unit => {
            let (value, decimals) = number(value);
            // 360° is north again.
            let value = if unit == Unit::Compass { value % 360.0 } else { value };
            let sign = match unit {
                Unit::Degrees | Unit::Compass => "°".to_owned(),
                Unit::Share => " %".into(),
                other if other.sign().is_empty() => String::new(),
                other => format!(" {}", other.sign()),
            };
            format!("{value:.decimals$}{sign}")
        }
    };
    if let (true, Some(difference)) = (stance > 0, row.difference(stance)) {
        let (difference, decimals) = number(difference);
        if difference != 0.0 {
            text.push_str(&format!(" ({difference:+.decimals$})"));
        }
    }
    if row.best.contains(&stance) {
        text.push_str(" *");
    }
    text
}
