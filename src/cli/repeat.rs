//! `plumbsight repeat`: does the recorded stance still give what was recorded, and is the picture beside it still its own?

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::Value;

use crate::files::{FileError, FileKind, fingerprint, fingerprint_of_picture, read_text};
use crate::handover::capture::Shot;
use crate::handover::deliver::DeliveryKind;
use crate::record::Record;
use crate::survey::MeasureSettings;

use super::deliver::destination;
use super::measure::recorded;
use super::request::survey;
use super::show::tell;
use super::still::{WIDTH_PX, take};
use super::{Ending, Outcome};

/// No more differences than this are listed.
const MOST_LISTED: usize = 12;

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
    let text = read_text(path, FileKind::Record).map_err(Ending::bad)?;
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
    let out = arguments.out.as_deref();
    let out = out.map(|out| destination(out, arguments.replace, DeliveryKind::Still)).transpose()?;
    let record = read_record(&arguments.record)?;
    let mut survey = survey(&site_of(&record, arguments)?)?;
    if let Some(level_m) = record.site.water_level_m {
        survey = survey.flooded(level_m);
    }
    let settings = MeasureSettings::of_record(&record);
    let stance = &record.stance.described;
    let (_, again) = recorded(&survey, stance, &settings)?;
    let mut lines = vec![format!("{}, {}", record.site.name, stance.name)];
    if again.site.sha256 != record.site.sha256 {
        lines.push("The site file has changed since the record was written.".into());
    }
    let differences = differences(&record, &again);
    lines.push(match differences.len() {
        0 => "All figures are as recorded.".into(),
        1 => "One figure differs from the record:".into(),
        count => format!("{count} figures differ from the record:"),
    });
    lines.extend(differences.iter().take(MOST_LISTED).map(|difference| format!("  {difference}")));
    if differences.len() > MOST_LISTED {
        lines.push(format!("  and {} more", differences.len() - MOST_LISTED));
    }
    let mut unlike = Vec::new();
    if !differences.is_empty() {
        let differ = if differences.len() == 1 { "figure differs" } else { "figures differ" };
        unlike.push(format!("{} {differ}", differences.len()));
    }
    match beside(&record, arguments) {
        RecordedPicture::None => {}
        RecordedPicture::Same(picture) => {
            lines.push(format!("{} is the picture that was recorded.", picture.display()))
        }
        RecordedPicture::Unknown(picture) => lines.push(format!(
            "The record is older than fingerprints: whether {} is the picture that was recorded is not known.",
            picture.display()
        )),
        RecordedPicture::Missing(picture) if out.is_some() => {
            lines.push(format!("The recorded picture, {}, is not there.", picture.display()));
        }
        RecordedPicture::Missing(picture) => {
            unlike.push(format!("the recorded picture, {}, is not there", picture.display()))
        }
        RecordedPicture::Other(picture) => unlike.push(format!(
            "{} is not the picture that was recorded: it was edited or swapped, or only one of the two was written",
            picture.display()
        )),
        RecordedPicture::Unreadable(error) => unlike.push(format!("the recorded picture cannot be looked at: {error}")),
    }
    if let Some(out) = out {
        let bad = |error| Ending::BadInput(format!("{}: {error}", arguments.record.display()));
        let shot = Shot::of_record(&record).map_err(bad)?.unwrap_or_else(|| {
            lines.push("The record has no picture; this one is rendered as `plumbsight still` renders it.".into());
            Shot { width_px: Some(WIDTH_PX), ..Shot::default() }
        });
        let taken = take(&survey, stance.clone(), settings, shot, &out)?;
        lines.push(format!("{} is written, with its record in {}.", taken.path.display(), taken.record.display()));
        if let Some(picture) = &record.picture {
            // Of an older record, the picture beside it is all there is to go by.
            let known = picture.sha256.clone().or_else(|| {
                let beside = picture_of(&record, arguments).filter(|beside| *beside != taken.path)?;
                fingerprint_of_picture(&beside).ok()
            });
            match known.map(|known| known == fingerprint(&taken.capture.file)) {
                Some(true) => lines.push(format!("Its bytes are the same as those of {}.", picture.file)),
                Some(false) => {
                    lines.push(format!("Its bytes are not the same as those of {}.", picture.file));
                    unlike.push("the picture comes out with other bytes".into());
                }
                None => {}
            }
        }
    }
    tell(&lines.join("\n"))?;
    if unlike.is_empty() {
        Ok(())
    } else {
        Err(Ending::NoAnswer(format!("It does not repeat: {}.", unlike.join("; "))))
    }
}

/// What lies beside a record as its picture.
enum RecordedPicture {
    /// It was recorded without one.
    None,
    /// The picture that was recorded.
    Same(PathBuf),
    /// A picture, of which the record does not say what it was.
    Unknown(PathBuf),
    /// Nothing.
    Missing(PathBuf),
    /// Another picture.
    Other(PathBuf),
    /// Something that cannot be looked at.
    Unreadable(FileError),
}

/// The path of a record's picture. Only a name is taken from the record, so that it cannot lead out of its own folder.
fn picture_of(record: &Record, arguments: &RepeatArguments) -> Option<PathBuf> {
    let name = Path::new(&record.picture.as_ref()?.file).file_name()?;
    Some(arguments.record.with_file_name(name))
}

fn beside(record: &Record, arguments: &RepeatArguments) -> RecordedPicture {
    let (Some(picture), Some(path)) = (&record.picture, picture_of(record, arguments)) else {
        return RecordedPicture::None;
    };
    match (fingerprint_of_picture(&path), &picture.sha256) {
        (Ok(_), None) => RecordedPicture::Unknown(path),
        (Ok(found), Some(recorded)) if found == *recorded => RecordedPicture::Same(path),
        (Ok(_), Some(_)) => RecordedPicture::Other(path),
        (Err(FileError::Read { source, .. }), _) if source.kind() == std::io::ErrorKind::NotFound => {
            RecordedPicture::Missing(path)
        }
        (Err(error), _) => RecordedPicture::Unreadable(error),
    }
}

/// Every figure in which two records differ, but for the program, the file's name and the picture, and for what the older of
/// them does not tell.
fn differences(recorded: &Record, again: &Record) -> Vec<String> {
    let older = recorded.format < 4;
    let untold: &[&str] = if older { &["verdict", "final_picture", "tolerance_as_set"] } else { &[] };
    let plain = |record: &Record| {
        let mut value = serde_json::to_value(record).unwrap_or_default();
        if let Some(fields) = value.as_object_mut() {
            for field in ["format", "program", "site", "picture", "measured_by", "if_taller"].iter().chain(untold) {
                fields.remove(*field);
            }
            if older && let Some(subject) = fields.get_mut("subject").and_then(Value::as_object_mut) {
                subject.remove("front");
            }
            // Which picture was taken is no figure.
            if let Some(straightened) = fields.get_mut("straightened").and_then(Value::as_object_mut) {
                straightened.remove("pictured");
            }
            // Nor are words that go on with what to do where somebody asked for that.
            for (part, words) in [("verdict", "sentence"), ("final_picture", "why_not")] {
                if let Some(part) = fields.get_mut(part).and_then(Value::as_object_mut) {
                    part.remove(words);
                }
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
