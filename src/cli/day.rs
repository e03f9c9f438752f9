//! `plumbsight day`: in which order are the stances of a day visited, and when?

use std::path::PathBuf;
use std::sync::Arc;
use std::time::UNIX_EPOCH;

use clap::{Args, ValueEnum};
use serde_json::{Value, json};

use crate::day::{DayError, DayPlan, DaySettings, WantedLight};
use crate::handover::deliver::{DeliveryKind, DeliveryRequest, Prepared, deliver};
use crate::handover::page::PaperSize;
use crate::handover::{DayPagesError, DayRequest};
use crate::light::{LightError, Moment, Sky, Zone};
use crate::place::Day;
use crate::progress::Progress;
use crate::survey::{MeasureSettings, Survey};
use crate::units::Units;

use super::deliver::{day_or_today, destination};
use super::light::{minute, tide};
use super::request::{named_stances, pair, survey};
use super::show::{page_width, print, prose_width, tell, watched};
use super::table::{TextTable, wrapped};
use super::{Ending, Outcome};

/// Which stances, on which day, and how.
#[derive(Args, Debug)]
pub(super) struct DayArguments {
    /// The site file; it needs an anchor, and times are those of its time_zone
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The saved stances, with commas between; all unless given
    #[arg(long, value_name = "NAMES")]
    stances: Vec<String>,
    /// The day, such as 2026-06-21; today unless given
    #[arg(long, value_name = "DAY")]
    date: Option<Day>,
    /// What each stance waits for
    #[arg(long, value_enum, default_value_t)]
    light: Wanted,
    /// Where the walk sets out: metres east and north; at the first stance unless given
    #[arg(long, value_name = "E,N", value_parser = pair, allow_hyphen_values = true)]
    from: Option<(f64, f64)>,
    /// The earliest time to set out, such as 9:00; sunrise unless given
    #[arg(long, value_name = "TIME")]
    start: Option<String>,
    /// Minutes from arriving to being ready
    #[arg(long, value_name = "MIN", default_value_t = 10.0)]
    setup: f64,
    /// Minutes of work at each stance
    #[arg(long, value_name = "MIN", default_value_t = 20.0)]
    work: f64,
    /// Walking pace in metres a second
    #[arg(long, value_name = "M/S", default_value_t = 1.1)]
    pace: f64,
    /// A tide table: CSV with time,height_m; stances on flooded ground wait until it is dry
    #[arg(long, value_name = "FILE")]
    tide: Option<PathBuf>,
    /// Write the day to a file: .html or .pdf for reading, .ics for calendars, .gpx for GPS receivers
    #[arg(long, short, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
    /// The unit of lengths
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Print the day as JSON
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Wanted {
    /// The sun on the front
    #[default]
    Sun,
    /// The sun on the front at a grazing angle
    Grazing,
    /// Daylight
    Daylight,
}

impl From<DayPagesError> for Ending {
    fn from(error: DayPagesError) -> Self {
        match error {
            DayPagesError::Day(error) => error.into(),
            DayPagesError::Places(error) => Self::bad(error),
        }
    }
}

impl From<DayError> for Ending {
    fn from(error: DayError) -> Self {
        match error {
            DayError::Stance { name, error } => Self::from(error).of(&format!("stance '{name}'")),
            error => Self::bad(error),
        }
    }
}

pub(super) fn run(arguments: &DayArguments) -> Outcome {
    let out = arguments.out.as_deref().map(|out| destination(out, arguments.replace, DeliveryKind::Day)).transpose()?;
    let survey = survey(&arguments.site)?;
    let whose = |error: LightError| Ending::from(error).of(&arguments.site.display().to_string());
    let sky = Sky::over(&survey.model.site).map_err(whose)?;
    let day = day_or_today(arguments.date)?;
    let request = DayRequest {
        stances: named_stances(&survey, &arguments.stances)?,
        day,
        settings: settings(arguments, &sky, day)?,
        tide: arguments.tide.as_deref().map(|path| tide(path, sky.zone()).map(Arc::new)).transpose()?,
        measure: MeasureSettings::default(),
        units: arguments.units,
        paper: PaperSize::default(),
        made: now()?,
    };
    let pages = watched(|_| request.pages(&survey))?;
    let written = match out {
        Some(out) => {
            let prepared = Some(Prepared::Day(Arc::new(pages.clone())));
            let delivered = deliver(&survey, &DeliveryRequest::Day(request), prepared, &out, &Progress::unwatched())?;
            Some(format!("{} is written.", delivered.path.display()))
        }
        None => None,
    };
    let plan = &pages.plan;
    if arguments.json {
        return print(&serde_json::to_string_pretty(&to_json(plan, sky.zone())).map_err(Ending::bad)?);
    }
    let mut text = words(&survey, plan, sky.zone(), arguments.units);
    text.extend(written);
    tell(&text.join("\n\n"))
}

fn settings(arguments: &DayArguments, sky: &Sky, day: Day) -> Result<DaySettings, Ending> {
    let begins = arguments.start.as_deref().map(|text| {
        let minute = minute(text)
            .filter(|minute| *minute < 1440)
            .ok_or_else(|| Ending::BadInput(format!("--start is '{text}'; write hours and minutes, such as 9:00")))?;
        sky.zone().at(day, (minute / 60) as u8, (minute % 60) as u8).map_err(Ending::from)
    });
    Ok(DaySettings {
        wanted: match arguments.light {
            Wanted::Sun => WantedLight::Sun,
            Wanted::Grazing => WantedLight::Grazing,
            Wanted::Daylight => WantedLight::Daylight,
        },
        from: arguments.from,
        begins: begins.transpose()?.map(|read| read.moment),
        setup_s: 60.0 * arguments.setup,
        work_s: 60.0 * arguments.work,
        pace: arguments.pace,
        ..DaySettings::default()
    })
}

/// The computer's time.
fn now() -> Result<Moment, Ending> {
    let since = UNIX_EPOCH.elapsed().map_err(Ending::bad)?;
    Ok(Moment::of_unix_ms(i64::try_from(since.as_millis()).unwrap_or(i64::MAX)))
}

fn words(survey: &Survey, plan: &DayPlan, zone: &Zone, units: Units) -> Vec<String> {
    let mut parts = vec![format!("{}, {} ({}): {}", survey.mark.name, plan.sun.day, zone.name(), plan.wanted.words())];
    parts.extend(zone.change_on(plan.sun.day));
    let mut table = TextTable::new(&["Stance", "arrive", "begin", "leave", "walk", "light"]);
    for visit in &plan.visits {
        let light = visit.front.as_ref().map_or("–", |(_, light)| light.words());
        table.noted(
            [
                visit.stance.name.clone(),
                zone.minutes(visit.arrives),
                zone.minutes(visit.begins),
                zone.minutes(visit.leaves),
                visit.leg.as_ref().map_or_else(|| "–".into(), |leg| units.length(leg.length_m, 0)),
                light.into(),
            ],
            visit.notes(plan.wanted).join("; "),
        );
    }
    parts.push(table.fitted(page_width()));
    let said = plan.sentences(zone, units);
    parts.push(wrapped(&said.join(" "), prose_width()).join("\n"));
    parts
}

fn to_json(plan: &DayPlan, zone: &Zone) -> Value {
    let time = |moment: Moment| zone.rfc3339(moment);
    let spans = |spans: &[(Moment, Moment)]| -> Vec<Value> {
        spans.iter().map(|&(from, to)| json!({ "from": time(from), "to": time(to) })).collect()
    };
    let centimetres = |length_m: f64| (length_m * 100.0).round() / 100.0;
    let visits: Vec<Value> = plan
        .visits
        .iter()
        .map(|visit| {
            json!({
                "stance": visit.stance.name,
                "arrive": time(visit.arrives),
                "begin": time(visit.begins),
                "leave": time(visit.leaves),
                "in_window": visit.in_window,
                "only_daylight": visit.only_daylight,
                "windows": spans(&visit.windows),
                "walk_m": visit.leg.as_ref().map(|leg| centimetres(leg.length_m)),
                "way_found": visit.leg.as_ref().map(|leg| leg.found),
                "permission_needed": visit.ask,
                "front": visit.front.as_ref().map(|(face, _)| face),
                "light": visit.front.as_ref().map(|(_, light)| light.key()),
                "light_from": visit.side.map(|side| side.key()),
                "lens": visit.stance.lens,
            })
        })
        .collect();
    json!({
        "site": plan.site,
        "time_zone": zone.name(),
        "date": plan.sun.day.to_string(),
        "wanted": plan.wanted.words(),
        "set_out": plan.sets_out.map(time),
        "visits": visits,
        "walk_m": centimetres(plan.walked_m),
        "missed": plan.missed,
        "exact": plan.exact,
        "daylight_left_s": plan.daylight_left_s,
    })
}
