//! Sites ready to be measured, and stances on them.

use plumbsight::angle::Angle;
use plumbsight::outline::Subject;
use plumbsight::record::Record;
use plumbsight::site::{Aim, LoadedSite, Stance, check_text, parse_site, site_hash};
use plumbsight::survey::{MeasureSettings, Survey};
use plumbsight::tolerance::LEAN_CHANGE_DEG;

/// A site from the text of a file that must be in order.
pub(crate) fn surveyed(text: &str, file: &str) -> Survey {
    Survey::of(LoadedSite {
        site: parse_site(text, file).unwrap_or_else(|problems| panic!("{problems}")),
        path: file.into(),
        text: text.into(),
        hash: site_hash(text),
        warnings: check_text(text, file),
    })
}

/// A site of these blocks, written as in a file, on level ground at height 0.
pub(crate) fn surveyed_blocks(blocks: &str) -> Survey {
    surveyed(&format!("Site(format: 1, name: \"test\", blocks: [{blocks}])"), "test")
}

/// The subject of a site that must have one.
pub(crate) fn subject(survey: &Survey) -> &Subject {
    survey.subject.as_ref().expect("a subject")
}

/// What the command line asks for unless told otherwise.
pub(crate) fn usual() -> MeasureSettings {
    MeasureSettings { lean_change: Some(Angle::from_degrees(LEAN_CHANGE_DEG)), ..MeasureSettings::default() }
}

/// The record of a stance that can be taken up.
pub(crate) fn record(survey: &Survey, stance: &Stance) -> Record {
    let measured = survey.measure(stance, &usual()).unwrap_or_else(|error| panic!("{}: {error}", stance.name));
    survey.record(stance, &measured, &usual())
}

/// A stance at a place and height with a lens, aimed so.
pub(crate) fn stance(at: (f64, f64), height_m: f64, lens: &str, aim: Aim) -> Stance {
    Stance {
        name: "test".into(),
        at,
        height_m,
        on: None,
        eye_height_m: None,
        format: "36x24".into(),
        orientation: None,
        crop: None,
        margins: None,
        lens: lens.into(),
        focal_mm: None,
        f_number: 8.0,
        focus_m: None,
        rise_mm: None,
        shift_mm: None,
        distortion: None,
        aim,
        note: None,
    }
}

/// Turned to a compass heading, pitched up and rolled.
pub(crate) const fn turned(heading_deg: f64, pitch_deg: f64, roll_deg: f64) -> Aim {
    Aim::Turned { heading_deg, pitch_deg, roll_deg }
}
