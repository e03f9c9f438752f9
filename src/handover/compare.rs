//! Which of these stances is the best, figure by figure?
//!
//! The figures side by side, each with its difference from the first stance's, and which of them is best where one can
//! be: less lean, more detail, more room to stand amiss. As JSON and CSV, always metric.

use serde_json::{Value, json};

use crate::compare::{Better, ComparedRow, Figure, Unit, rows};
use crate::files::text_cell;
use crate::survey::Measured;
use crate::units::Units;

use super::document::{Document, DocumentBlock, Fact};

/// Stances side by side.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The stances' names.
    pub stances: Vec<String>,
    /// Why a stance has no figures.
    pub refused: Vec<Option<String>>,
    /// The figures.
    pub rows: Vec<ComparedRow>,
}

impl Comparison {
    /// Stances side by side: each its name, and what was measured or why nothing was.
    pub fn of(stances: &[(String, Result<Measured, String>)]) -> Self {
        Self {
            stances: stances.iter().map(|(name, _)| name.clone()).collect(),
            refused: stances.iter().map(|(_, measured)| measured.as_ref().err().cloned()).collect(),
            rows: rows(stances.iter().map(|(_, measured)| measured.as_ref().ok())),
        }
    }

    /// The comparison as a page to read, with lengths in this unit.
    pub fn document(&self, units: Units) -> Document {
        let section = |(stance, name): (usize, &String)| {
            let refused = self.refused[stance].as_ref().map(|why| DocumentBlock::Cautions(vec![why.into()]));
            let fact = |row: &ComparedRow| {
                let note = row.best.contains(&stance).then(|| "best".into());
                Some(Fact { note, ..Fact::new(row.figure.words, row.figure.written(row.values[stance]?, units)) })
            };
            let facts = DocumentBlock::Facts(self.rows.iter().filter_map(fact).collect());
            DocumentBlock::section(name, refused.into_iter().chain([facts]).collect())
        };
        Document {
            title: self.stances.join(", ").into(),
            subtitle: "Figure by figure".into(),
            blocks: self.stances.iter().enumerate().map(section).collect(),
            footer: "Files are metric.".into(),
        }
    }

    /// The comparison as JSON.
    pub fn to_json(&self) -> String {
        let figures: Vec<Value> = self
            .rows
            .iter()
            .map(|row| {
                let figure = row.figure;
                json!({
                    "name": figure.name,
                    "words": figure.words,
                    "unit": unit(figure),
                    "better": match figure.better {
                        Better::Smaller => Some("nearer 0"),
                        Better::Larger => Some("larger"),
                        Better::NearerOne => Some("nearer 1"),
                        Better::Neither => None,
                    },
                    "values": row.values.iter().map(|value| json_of(figure, *value)).collect::<Vec<_>>(),
                    "differences": (0..row.values.len()).map(|stance| difference(row, stance)).collect::<Vec<_>>(),
                    "best": row.best,
                })
            })
            .collect();
        let comparison = json!({ "stances": self.stances, "refused": self.refused, "figures": figures });
        serde_json::to_string_pretty(&comparison).expect("every key is text")
    }

    /// The comparison as CSV, a figure a row: name, unit, the best stances, then each stance's value and difference. Names that
    /// a spreadsheet would run are led in by an apostrophe.
    ///
    /// # Source
    /// RFC 4180.
    pub fn to_csv(&self) -> String {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        let mut head = vec!["figure".to_owned(), "unit".into(), "best".into()];
        head.extend(self.stances.iter().flat_map(|name| {
            let name = text_cell(name);
            [name.clone().into_owned(), format!("{name}, difference")]
        }));
        let rows = self.rows.iter().map(|row| {
            let best: Vec<&str> = row.best.iter().map(|&stance| self.stances[stance].as_str()).collect();
            let mut cells =
                vec![row.figure.name.to_owned(), unit(row.figure), text_cell(&best.join("; ")).into_owned()];
            for (stance, value) in row.values.iter().enumerate() {
                cells.push(match json_of(row.figure, *value) {
                    Value::Null => String::new(),
                    Value::String(words) => words,
                    other => other.to_string(),
                });
                cells.push(difference(row, stance).map_or_else(String::new, |step| step.to_string()));
            }
            cells
        });
        for cells in std::iter::once(head).chain(rows) {
            writer.write_record(&cells).expect("rows are of one length, and memory takes them");
        }
        String::from_utf8(writer.into_inner().expect("memory takes it")).expect("text was written")
    }
}

/// How far a stance's value is from the first one's; `None` where there is no such difference.
fn difference(row: &ComparedRow, stance: usize) -> Option<f64> {
    row.figure.step((*row.values.first()?)?, (*row.values.get(stance)?)?)
}

/// The unit's name in files; empty for a plain number.
fn unit(figure: &Figure) -> String {
    match figure.unit {
        Unit::Share => "share".into(),
        Unit::YesNo => "yes or no".into(),
        _ => figure.sign(Units::M),
    }
}

/// A value in files: a number, a yes or no, "any" where it does not matter, or null.
fn json_of(figure: &Figure, value: Option<f64>) -> Value {
    match value {
        None => Value::Null,
        Some(value) if figure.unit == Unit::YesNo => json!(value != 0.0),
        Some(value) if value.is_infinite() => json!("any"),
        Some(value) => json!(value),
    }
}
