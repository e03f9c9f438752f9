//! What stands on the page of a day: its order, its hours, its way, and what to mind.

use std::sync::Arc;

use crate::day::{DayError, DayPlan, DaySettings, Visit, plan_day};
use crate::drawing::{Drawing, Pin, PlanLabels, PlanRequest, PlanView, SiteShapes, plan};
use crate::handover::calendar::calendar;
use crate::handover::page::PaperSize;
use crate::handover::places::{PlacesError, route};
use crate::handover::plane_of;
use crate::light::{Crossings, Moment, Sky, TideTable, Zone};
use crate::place::{Day, TangentPlane};
use crate::site::{PlanPoint, Stance};
use crate::survey::{MeasureSettings, Survey};
use crate::text::PlainText;
use crate::units::Units;

/// What the hours of each stance are told by.
pub(super) const HOURS: [&str; 7] = ["Walk", "Arrive", "Begin", "Leave", "Light on the face", "Light from", "Lens"];
const FOOTER: &str = "Geometry only: weather, traffic and what has changed on site are for those who go there; local rules and people \
                      licensed for the work prevail.";
/// The plan's size on the page.
const PLAN_PT: (f64, f64) = (760.0, 420.0);

/// A day of stances that is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct DayRequest {
    /// The stances, in any order.
    pub stances: Vec<Stance>,
    /// The day.
    pub day: Day,
    /// How it is spent.
    pub settings: DaySettings,
    /// How the water stands.
    pub tide: Option<Arc<TideTable>>,
    /// By what the stances are measured, for their cautions.
    pub measure: MeasureSettings,
    /// The unit of its lengths.
    pub units: Units,
    /// The paper that it is laid out for.
    pub paper: PaperSize,
    /// When the calendar is made.
    pub made: Moment,
}

/// A day of stances in order, as it is handed over.
#[derive(Clone, Debug)]
pub struct DayPages {
    /// The order and its hours.
    pub plan: DayPlan,
    pub(super) paper: PaperSize,
    pub(super) site: PlainText,
    pub(super) heading: PlainText,
    pub(super) subtitle: PlainText,
    /// When to set out, how far it is, what daylight is left.
    pub(super) said: PlainText,
    pub(super) drawing: Arc<Drawing>,
    pub(super) rows: Vec<DayRow>,
    pub(super) parts: Vec<DayPart>,
    /// At which stances, and what to beware of there.
    pub(super) cautions: Vec<(PlainText, PlainText)>,
    pub(super) footer: PlainText,
    zone: Zone,
    plane: TangentPlane,
    made: Moment,
}

/// A stance with its hours.
#[derive(Clone, Debug)]
pub(super) struct DayRow {
    pub(super) name: PlainText,
    /// One for each of [`HOURS`].
    pub(super) cells: Vec<PlainText>,
}

/// Some lines under a heading, each led in by what it is about.
#[derive(Clone, Debug)]
pub(super) struct DayPart {
    pub(super) heading: PlainText,
    pub(super) lines: Vec<(PlainText, PlainText)>,
}

impl DayPart {
    fn of(heading: &str, lines: impl IntoIterator<Item = (String, String)>) -> Self {
        let lines = lines.into_iter().map(|(lead, text)| (lead.into(), text.into())).collect();
        Self { heading: heading.into(), lines }
    }
}

/// Why there is no day.
#[derive(Debug, thiserror::Error)]
pub enum DayPagesError {
    /// The order cannot be found.
    #[error(transparent)]
    Day(#[from] DayError),
    /// The site has no place on the Earth.
    #[error(transparent)]
    Places(#[from] PlacesError),
}

impl DayRequest {
    /// Finds the order and puts its page together.
    ///
    /// # Errors
    /// The site has no anchor, the day is not one that is computed, a stance cannot be taken up, a setting is out of range.
    pub fn pages(&self, survey: &Survey) -> Result<DayPages, DayPagesError> {
        let sky = Sky::over(&survey.model.site).map_err(DayError::Light)?;
        let plan = plan_day(survey, &sky, self.day, &self.stances, &self.settings, self.tide.as_deref())?;
        let plane = plane_of(&survey.model.site).ok_or(PlacesError::NoAnchor)?;
        let zone = sky.zone();
        let unled = |texts: Vec<String>| texts.into_iter().map(|text| (String::new(), text)).collect::<Vec<_>>();
        let mut parts =
            vec![DayPart::of("The sun", sun_facts(&plan, zone)), DayPart::of("In the bag", unled(self.bag()))];
        if let Some(tide) = &self.tide {
            parts.push(DayPart::of("The water", unled(water_words(&plan, tide, zone, self.units))));
        }
        let mut mind: Vec<(String, String)> = plan.visits.iter().filter_map(|visit| notes(visit, &plan)).collect();
        mind.extend(zone.change_on(plan.sun.day).map(|change| (String::new(), change)));
        if !mind.is_empty() {
            parts.insert(0, DayPart::of("Mind", mind));
        }
        let site = &survey.model.site.name;
        let subtitle = format!("{} at each stance; times of {}", plan.wanted.words(), zone.name());
        let drawing = walk_plan(survey, &plan, self.settings.from, self.units);
        Ok(DayPages {
            paper: self.paper,
            site: site.as_str().into(),
            heading: format!("Order of the day, {}", plan.sun.day).into(),
            subtitle: subtitle.into(),
            said: plan.sentences(zone, self.units).join(" ").into(),
            drawing: Arc::new(drawing),
            rows: rows(&plan, zone, self.units),
            parts,
            cautions: self.cautions(survey, &plan),
            footer: FOOTER.into(),
            zone: zone.clone(),
            plane,
            made: self.made,
            plan,
        })
    }

    /// The bodies' formats and the lenses that the stances ask for, each once.
    fn bag(&self) -> Vec<String> {
        let mut things: Vec<String> = Vec::new();
        let formats = self.stances.iter().map(|stance| format!("a body of {}", stance.format.replace('x', " × ")));
        let lenses = self.stances.iter().map(|stance| stance.lens.clone());
        let high = self.stances.iter().map(|stance| stance.height_m).fold(0.0, f64::max);
        let support = format!("a support that holds the camera {} over the feet", self.units.length(high, 1));
        for thing in formats.chain(lenses).chain(std::iter::once(support)) {
            if !things.contains(&thing) {
                things.push(thing);
            }
        }
        things
    }

    /// What to beware of, at which stances; the same words once.
    fn cautions(&self, survey: &Survey, plan: &DayPlan) -> Vec<(PlainText, PlainText)> {
        let mut found: Vec<(String, Vec<String>)> = Vec::new();
        for (number, visit) in plan.visits.iter().enumerate() {
            let Ok(measured) = survey.measure(&visit.stance, &self.measure) else { continue };
            for caution in &measured.cautions {
                let at = (number + 1).to_string();
                match found.iter_mut().find(|(text, _)| *text == caution.text) {
                    Some((_, all)) => all.push(at),
                    None => found.push((caution.text.clone(), vec![at])),
                }
            }
        }
        found.into_iter().map(|(text, at)| (at.join(", ").into(), text.into())).collect()
    }
}

impl DayPages {
    /// What it is called in lists of files and windows.
    pub fn title(&self) -> String {
        format!("{}, {}", self.site, self.plan.sun.day)
    }

    /// What it holds, in a sentence.
    pub fn about(&self) -> String {
        "Order of the day: the stances with their hours, light and ways".into()
    }

    /// The day as the text of an `.ics` file.
    pub fn calendar(&self) -> String {
        calendar(&self.plan, &self.plane, self.made)
    }

    /// The day as the text of a `.gpx` file.
    pub fn route(&self) -> String {
        route(&self.plan, &self.plane, &self.zone)
    }
}

fn notes(visit: &Visit, plan: &DayPlan) -> Option<(String, String)> {
    let mut notes = visit.notes(plan.wanted);
    notes.extend(visit.stance.note.clone());
    (!notes.is_empty()).then(|| (visit.stance.name.clone(), notes.join("; ")))
}

fn rows(plan: &DayPlan, zone: &Zone, units: Units) -> Vec<DayRow> {
    let row = |visit: &Visit| {
        let cells = [
            visit.leg.as_ref().map_or_else(|| "–".into(), |leg| units.length(leg.length_m, 0)),
            zone.minutes(visit.arrives),
            zone.minutes(visit.begins),
            zone.minutes(visit.leaves),
            visit.front.as_ref().map_or_else(|| "–".into(), |(_, light)| light.words().to_owned()),
            visit.side.map_or_else(|| "–".into(), |side| side.words().to_owned()),
            visit.stance.lens.clone(),
        ];
        DayRow { name: visit.stance.name.as_str().into(), cells: cells.map(PlainText::from).to_vec() }
    };
    plan.visits.iter().map(row).collect()
}

fn sun_facts(plan: &DayPlan, zone: &Zone) -> Vec<(String, String)> {
    let shown = |moments: &[Moment], never: &str| match moments {
        [] => never.to_owned(),
        all => all.iter().map(|&at| zone.minutes(at)).collect::<Vec<_>>().join(", "),
    };
    let sun = &plan.sun.sun;
    let all_day = |crossings: &Crossings| if crossings.begins_above { "up all day" } else { "down all day" };
    let mut facts = vec![
        ("Sunrise".into(), shown(&sun.rises, all_day(sun))),
        ("Highest".into(), shown(&plan.sun.transits, "–")),
        ("Sunset".into(), shown(&sun.sets, all_day(sun))),
    ];
    let [civil, ..] = &plan.sun.twilights;
    if let (Some(&dawn), Some(&dusk)) = (civil.rises.first(), civil.sets.last()) {
        facts.push(("Civil twilight".into(), format!("from {} and until {}", zone.minutes(dawn), zone.minutes(dusk))));
    }
    facts
}

/// How high the water stands as work begins at each stance.
fn water_words(plan: &DayPlan, tide: &TideTable, zone: &Zone, units: Units) -> Vec<String> {
    let level = |visit: &Visit| {
        let at = zone.minutes(visit.begins);
        match tide.level_m(visit.begins) {
            Some(level_m) => format!("{} at {at}, {}", units.length(level_m, 1), visit.stance.name),
            None => format!("not known at {at}, {}: the tide table does not reach it", visit.stance.name),
        }
    };
    plan.visits.iter().map(level).collect()
}

fn walk_plan(survey: &Survey, day: &DayPlan, from: Option<PlanPoint>, units: Units) -> Drawing {
    let shapes = SiteShapes::of(&survey.model);
    let pin = |(index, visit): (usize, &Visit)| {
        let standing = survey.stand(&visit.stance).ok()?;
        Some(Pin::of(&visit.stance.name, &standing, u32::try_from(index + 1).ok()))
    };
    let mut pins: Vec<Pin> = day.visits.iter().enumerate().filter_map(pin).collect();
    pins.extend(from.map(|at| Pin { name: "start".into(), at, heading: None, number: None }));
    let walks: Vec<Vec<PlanPoint>> =
        day.visits.iter().filter_map(|visit| visit.leg.as_ref()).map(|leg| leg.path.clone()).collect();
    let mut places: Vec<PlanPoint> = pins.iter().map(|pin| pin.at).chain(walks.iter().flatten().copied()).collect();
    if let Ok(subject) = &survey.subject {
        let blocks = subject.blocks.iter().filter_map(|&block| shapes.blocks.get(block));
        places.extend(blocks.flat_map(|shape| [shape.bounds.0, shape.bounds.1]));
    }
    let view = PlanView::around(places, PLAN_PT.0, PLAN_PT.1);
    plan(&PlanRequest {
        survey,
        shapes: &shapes,
        measured: None,
        pins: &pins,
        walks: &walks,
        view,
        units,
        titled: false,
        labels: PlanLabels::default(),
    })
}
