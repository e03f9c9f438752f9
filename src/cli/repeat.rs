//! `plumbsight repeat`: does the recorded stance still give what was recorded?

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::Value;

use crate::files::{read_bytes, read_text};
use crate::handover::capture::Shot;
use crate::record::Record;
use crate::survey::MeasureSettings;

use super::measure::recorded;
use super::request::survey;
use super::show::print;
use super::still::{Place, WIDTH_PX};
use super::{Ending, Outcome};

/// How many differences are told.
const TOLD: usize = 12;

/// What to repeat.
#[derive(Args, Debug)]
pub(super) struct RepeatArguments {
    /// The record: a *.record.ron or *.record.json file
    #[arg(value_name = "RECORD")]
    record: PathBuf,
    /// The site file; unless given, the file beside the record that the record names
    #[arg(long, value_name = "SITE")]
    site: Option<PathBuf>,
    /// Render the picture again into this file, .png or .jpg
    #[arg(short, long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Overwrite a file that already exists
    #[arg(long, requires = "out")]
    replace: bool,
}

/// The record in a file.
pub(super) fn read_record(path: &Path) -> Result<Record, Ending> {
    let text = read_text(path).map_err(Ending::bad)?;
    Record::read(&text).map_err(|error| Ending::BadInput(format!("{}: {error}", path.display())))
}

/// The site that a record belongs to: as named, or beside the record.
fn site_of(record: &Record, arguments: &RepeatArguments) -> Result<PathBuf, Ending> {
    if let Some(site) = &arguments.site {
        return Ok(site.clone());
    }
    // Only a name is taken from the record, so that it cannot lead out of its own folder.
    let beside = Path::new(&record.site.file).file_name().map(|name| arguments.record.with_file_name(name));
    beside.filter(|path| path.is_file()).ok_or_else(|| {
        Ending::BadInput(format!(
            "{}: its site file '{}' is not in the same folder; use --site SITE",
            arguments.record.display(),
            record.site.file
        ))
    })
}

pub(super) fn run(arguments: &RepeatArguments) -> Outcome {
    let place = arguments.out.as_deref().map(|out| Place::of(out, arguments.replace)).transpose()?;
    let record = read_record(&arguments.record)?;
    let survey = survey(&site_of(&record, arguments)?)?;
    let settings = MeasureSettings::of_record(&record);
    let stance = &record.stance.described;
    let (_, again) = recorded(&survey, stance, &settings)?;
    let mut told = vec![format!("{}, {}", record.site.name, stance.name)];
    if again.site.sha256 != record.site.sha256 {
        told.push("The site file has changed since the record was written.".into());
    }
    let differences = differences(&record, &again);
    told.push(match differences.len() {
        0 => "All figures are as recorded.".into(),
        1 => "One figure differs from the record:".into(),
        count => format!("{count} figures differ from the record:"),
    });
    told.extend(differences.iter().take(TOLD).map(|line| format!("  {line}")));
    if differences.len() > TOLD {
        told.push(format!("  and {} more", differences.len() - TOLD));
    }
    if let Some(place) = place {
        let bad = |error| Ending::BadInput(format!("{}: {error}", arguments.record.display()));
        let shot = Shot::of_record(&record).map_err(bad)?.unwrap_or_else(|| {
            told.push("The record has no picture; this one is rendered as `plumbsight still` renders it.".into());
            Shot { width_px: Some(WIDTH_PX), ..Shot::default() }
        });
        let taken = place.take(&survey, stance, &settings, &shot)?;
        told.push(format!("{} is written, with its record in {}.", place.picture.display(), place.record.display()));
        let name = record.picture.as_ref().and_then(|picture| Path::new(&picture.file).file_name());
        // A picture that is gone, or is the one just written, says nothing.
        let beside = name.map(|name| arguments.record.with_file_name(name)).filter(|beside| *beside != place.picture);
        if let Some((beside, bytes)) = beside.and_then(|path| Some((path.clone(), read_bytes(&path).ok()?))) {
            let same = if bytes == taken.file { "the same as" } else { "not the same as" };
            told.push(format!("Its bytes are {same} those of {}.", beside.display()));
        }
    }
    print(&told.join("\n"))
}

/// Every figure in which two records differ, but for the program, the file's name and the picture.
fn differences(recorded: &Record, again: &Record) -> Vec<String> {
    let plain = |record: &Record| {
        let mut value = serde_json::to_value(record).unwrap_or_default();
        if let Some(fields) = value.as_object_mut() {
            for field in ["format", "program", "site", "picture", "measured_by"] {
                fields.remove(field);
            }
            // Which picture was taken is no figure.
            if let Some(kept) = fields.get_mut("straightened").and_then(Value::as_object_mut) {
                kept.remove("pictured");
            }
        }
        value
    };
    let mut found = Vec::new();
    compare("", &plain(recorded), &plain(again), &mut found);
    found
}

fn compare(way: &str, recorded: &Value, again: &Value, found: &mut Vec<String>) {
    let step = |name: &str| if way.is_empty() { name.to_owned() } else { format!("{way}.{name}") };
    match (recorded, again) {
        (Value::Object(old), Value::Object(new)) => {
            for (name, value) in old {
                compare(&step(name), value, new.get(name).unwrap_or(&Value::Null), found);
            }
        }
        (Value::Array(old), Value::Array(new)) if old.len() == new.len() => {
            for (index, (old, new)) in old.iter().zip(new).enumerate() {
                compare(&format!("{way}[{index}]"), old, new, found);
            }
        }
        (Value::Array(old), Value::Array(new)) => {
            found.push(format!("{way}: recorded {} items, now {}", old.len(), new.len()));
        }
        _ if recorded == again => {}
        _ => found.push(format!("{way}: recorded {recorded}, now {again}")),
    }
}
