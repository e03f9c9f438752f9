//! `plumbsight light`: where does the sun stand, what does it light, and when?

mod asked;
mod found;
mod json;
mod report;
mod required;

use std::path::{Path, PathBuf};

use clap::Args;

use crate::angle::Angle;
use crate::files::{FileKind, read_text};
use crate::light::{
    Air, LightError, LightLimits, LightRequirement, LitFace, Moment, Shade, Sky, TideTable, Zone, face_towards, faces,
};
use crate::place::Day;
use crate::stance::Standing;
use crate::survey::Survey;
use crate::units::Units;

pub(super) use self::required::minute;

use self::asked::Asked;

use super::deliver::day_or_today;
use super::request::{pair, saved, survey};
use super::show::{print, tell};
use super::{Ending, Outcome};

/// Of which light, and when.
#[derive(Args, Debug)]
pub(super) struct LightArguments {
    /// The site file; it needs an anchor, and times are those of its time_zone
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The stance from which the sun, the side of the light and the edge of the subject are looked at
    #[arg(long, value_name = "NAME")]
    stance: Option<String>,
    /// The day, such as 2026-06-21; today unless given
    #[arg(long, value_name = "DAY")]
    date: Option<Day>,
    /// The moment: the site's own time as 2026-06-21T14:30, or with its offset (RFC 3339)
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    moment: Option<String>,
    /// The light on the front through the year of the day
    #[arg(long, conflicts_with = "moment")]
    year: bool,
    /// Minutes from one look to the next with --year, from 1 to 120
    #[arg(long, value_name = "MIN", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=120))]
    step: u32,
    /// When the light is next as asked for, from the day or moment on; with commas between: lit, grazing, incidence 60-80,
    /// altitude 5-20, edge, deep sky, after 8:00, before 12:00, sunday
    #[arg(long, value_name = "LIGHT", value_parser = required::required)]
    next: Option<LightRequirement>,
    /// With --moment: standpoints from which the sun is at the subject's edge, the eye so many metres over the ground
    #[arg(long, value_name = "M", requires = "moment", value_parser = eye)]
    edge: Option<f64>,
    /// A tide table: CSV with time,height_m
    #[arg(long, value_name = "FILE")]
    tide: Option<PathBuf>,
    /// The incidence from which light grazes a face, in degrees
    #[arg(long, value_name = "DEG", default_value_t = 60.0)]
    grazing: f64,
    /// The altitudes of the sun between which the hour is golden, in degrees
    #[arg(long, value_name = "LOW,HIGH", value_parser = pair, allow_hyphen_values = true, default_value = "-4,6")]
    golden: (f64, f64),
    /// The altitudes of the sun between which the hour is blue, in degrees
    #[arg(long, value_name = "LOW,HIGH", value_parser = pair, allow_hyphen_values = true, default_value = "-6,-4")]
    blue: (f64, f64),
    /// The air's pressure at the site in hPa; the standard atmosphere's at the anchor's height unless given
    #[arg(long, value_name = "HPA")]
    pressure: Option<f64>,
    /// The air's temperature at the site in °C; 10 unless given
    #[arg(long, value_name = "C", allow_hyphen_values = true)]
    temperature: Option<f64>,
    /// The unit of lengths
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Print it as JSON
    #[arg(long)]
    json: bool,
}

impl From<LightError> for Ending {
    fn from(error: LightError) -> Self {
        Self::bad(error)
    }
}

/// The height of an eye over the ground.
fn eye(text: &str) -> Result<f64, String> {
    let height_m: f64 = text.parse().map_err(|_| format!("'{text}' is not a number"))?;
    if (0.0..=100.0).contains(&height_m) { Ok(height_m) } else { Err("it must lie from 0 to 100 m".into()) }
}

pub(super) fn run(arguments: &LightArguments) -> Outcome {
    let survey = survey(&arguments.site)?;
    let whose = |error: LightError| Ending::from(error).of(&arguments.site.display().to_string());
    let sky = sky(arguments, &survey).map_err(whose)?;
    let stance = match &arguments.stance {
        Some(name) => {
            let stance = saved(&survey, name)?;
            let standing = survey.stand(&stance)?;
            Some((stance, standing))
        }
        None => None,
    };
    let asked = Asked {
        shade: Shade { sight: &survey.sight, limits: limits(arguments)? },
        faces: faces_of(&survey, stance.as_ref().map(|(_, standing)| standing)),
        stance,
        tide: arguments.tide.as_deref().map(|path| tide(path, sky.zone())).transpose()?,
        survey: &survey,
        sky: &sky,
        units: arguments.units,
    };
    let moment = arguments
        .moment
        .as_deref()
        .map(|text| sky.zone().read(text))
        .transpose()
        .map_err(|error| Ending::from(error).of("--moment"))?;
    let day = match (&moment, arguments.date) {
        (Some(_), None) => None,
        (_, day) => Some(day_or_today(day)?),
    };
    let found = found::Found {
        at: moment.as_ref().map(|read| found::at_moment(&asked, read, arguments.edge)),
        on: day.filter(|_| !arguments.year).map(|day| found::on_day(&asked, day)).transpose()?,
        year: match day.filter(|_| arguments.year) {
            Some(day) => Some(found::through_year(&asked, day.numbers().0, arguments.step)?),
            None => None,
        },
        next: match &arguments.next {
            Some(required) => Some(found::next(&asked, required, moment.as_ref().map(|read| read.moment), day)?),
            None => None,
        },
    };
    if arguments.json {
        let json = json::of(&asked, &found);
        print(&serde_json::to_string_pretty(&json).map_err(Ending::bad)?)?;
    } else {
        tell(&report::words(&asked, &found))?;
    }
    match found.next {
        Some(None) => Err(Ending::NoAnswer("there is no such light within 400 days; ask for less of it".into())),
        Some(Some(_)) | None => Ok(()),
    }
}

/// The subject's faces, first the one that the picture from the stance is of.
fn faces_of(survey: &Survey, standing: Option<&Standing>) -> Vec<LitFace> {
    let Ok(subject) = &survey.subject else { return Vec::new() };
    let mut all = faces(&survey.model, subject);
    if let Some(front) = standing.and_then(|standing| face_towards(&survey.model, subject, &standing.pose.eye)) {
        all.retain(|face| face.name != front.name);
        all.insert(0, front);
    }
    all
}

fn sky(arguments: &LightArguments, survey: &Survey) -> Result<Sky, LightError> {
    let sky = Sky::over(&survey.model.site)?;
    let usual = sky.air();
    sky.with_air(Air {
        pressure_hpa: arguments.pressure.unwrap_or(usual.pressure_hpa),
        temperature_c: arguments.temperature.unwrap_or(usual.temperature_c),
    })
}

fn limits(arguments: &LightArguments) -> Result<LightLimits, Ending> {
    if !(0.0..=90.0).contains(&arguments.grazing) {
        return Err(Ending::BadInput(format!("--grazing is {}; it must lie between 0 and 90", arguments.grazing)));
    }
    for (option, (low, high)) in [("--golden", arguments.golden), ("--blue", arguments.blue)] {
        if !(-90.0..=90.0).contains(&low) || !(-90.0..=90.0).contains(&high) || low >= high {
            return Err(Ending::BadInput(format!(
                "{option} is {low},{high}; write two altitudes from -90 to 90, the lower one first"
            )));
        }
    }
    Ok(LightLimits {
        grazing_from: Angle::from_degrees(arguments.grazing),
        golden_deg: arguments.golden,
        blue_deg: arguments.blue,
        ..LightLimits::default()
    })
}

/// Reads a tide table, or reports all errors in it.
pub(super) fn tide(path: &Path, zone: &Zone) -> Result<TideTable, Ending> {
    let text = read_text(path, FileKind::Tide).map_err(Ending::bad)?;
    TideTable::read(&text, zone).map_err(|error| {
        let told: Vec<String> = error.faults.iter().map(|fault| format!("{}: {fault}", path.display())).collect();
        Ending::BadInput(told.join("\n"))
    })
}

/// How high the water stands at a moment by the tide table in a file.
pub(super) fn level_by_table(path: &Path, zone: &Zone, moment: Moment) -> Result<f64, Ending> {
    let table = tide(path, zone)?;
    let (first, last) = table.reach();
    table.level_m(moment).ok_or_else(|| {
        Ending::BadInput(format!(
            "{}: the tide table reaches from {} to {}, and not to {}",
            path.display(),
            zone.rfc3339(first),
            zone.rfc3339(last),
            zone.rfc3339(moment)
        ))
    })
}
