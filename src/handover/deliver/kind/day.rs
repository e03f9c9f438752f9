//! What does one carry to have a whole day of stances in order? A page with the plan of the walk, the hours, the light, whom to
//! ask and what to pack; the same as a calendar and as a route.

use std::sync::Arc;

use crate::day::{DayError, DayPlan, DaySettings, Visit, plan_day};
use crate::drawing::{Drawing, Pin, PlanRequest, PlanView, SiteShapes, plan};
use crate::handover::calendar::calendar;
use crate::handover::document::{
    Document, DocumentBlock, Fact, Illustration, Image, List, ListItem, ListMarks, PageLayout, Paragraph, Section,
    Table, TableRow,
};
use crate::handover::places::{PlacesError, route};
use crate::handover::plane_of;
use crate::light::{Crossings, Moment, Sky, TideTable, Zone};
use crate::place::{Day, TangentPlane};
use crate::site::{PlanPoint, Stance};
use crate::survey::{MeasureSettings, Survey};
use crate::text::PlainText;
use crate::units::Units;

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
    /// When the calendar is made.
    pub made: Moment,
}

/// A day of stances in order, as it is handed over.
#[derive(Clone, Debug)]
pub struct DayPages {
    /// The order and its hours.
    pub plan: DayPlan,
    /// The page.
    pub document: Arc<Document>,
    zone: Arc<Zone>,
    plane: TangentPlane,
    made: Moment,
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
        let document = Arc::new(self.document(survey, &plan, sky.zone()));
        Ok(DayPages { plan, document, zone: Arc::new(sky.zone().clone()), plane, made: self.made })
    }

    fn document(&self, survey: &Survey, plan: &DayPlan, zone: &Zone) -> Document {
        let site = &survey.model.site.name;
        let drawing = walk_plan(survey, plan, self.settings.from, self.units);
        let mut blocks = vec![
            DocumentBlock::Illustration(Illustration {
                alternative: drawing.words.as_str().into(),
                image: Image::Drawing(Arc::new(drawing)),
                caption: Some("Stances in the order of the day; the broken line is the way on foot.".into()),
                id: None,
            }),
            DocumentBlock::Table(hours_table(plan, zone, self.units)),
        ];
        let notes: Vec<ListItem> = plan.visits.iter().filter_map(|visit| notes(visit, plan)).collect();
        if !notes.is_empty() {
            let list = DocumentBlock::List(List { marks: ListMarks::Bullets, items: notes });
            blocks.push(DocumentBlock::Section(Section::new("Mind", vec![list])));
        }
        let mut columns = vec![
            Section::new("The sun", vec![DocumentBlock::Facts(sun_facts(plan, zone))]),
            Section::new("In the bag", vec![DocumentBlock::List(List::of(ListMarks::Bullets, self.bag()))]),
        ];
        if let Some(tide) = &self.tide {
            let water = List::of(ListMarks::Bullets, water_words(plan, tide, zone, self.units));
            columns.push(Section::new("The water", vec![DocumentBlock::List(water)]));
        }
        blocks.push(DocumentBlock::Columns(columns));
        let cautions = self.cautions(survey, plan);
        if !cautions.is_empty() {
            let list = DocumentBlock::List(List { marks: ListMarks::Bullets, items: cautions });
            blocks.push(DocumentBlock::Section(Section::of_cautions("Cautions", vec![list])));
        }
        blocks.extend(zone.change_on(plan.sun.day).map(|change| DocumentBlock::Paragraph(Paragraph::needed(change))));
        Document {
            layout: PageLayout::Report,
            name: format!("{site}, {}", plan.sun.day).into(),
            description: "Order of the day: the stances with their hours, light and ways".into(),
            letterhead: None,
            title: format!("Order of the day, {}", plan.sun.day).into(),
            subtitle: format!("{site}; {} at each stance; times of {}", plan.wanted.words(), zone.name()).into(),
            introduction: Some(plan.sentences(zone, self.units).join(" ").into()),
            blocks,
            footer: "Geometry only: weather, traffic and what has changed on site are for those who go there; local rules and \
                     people licensed for the work prevail."
                .into(),
        }
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
    fn cautions(&self, survey: &Survey, plan: &DayPlan) -> Vec<ListItem> {
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
        found.into_iter().map(|(text, at)| ListItem { lead: Some(at.join(", ").into()), text: text.into() }).collect()
    }
}

impl DayPages {
    /// The day as the text of an `.ics` file.
    pub fn calendar(&self) -> String {
        calendar(&self.plan, &self.plane, self.made)
    }

    /// The day as the text of a `.gpx` file.
    pub fn route(&self) -> String {
        route(&self.plan, &self.plane, &self.zone)
    }
}

fn notes(visit: &Visit, plan: &DayPlan) -> Option<ListItem> {
    let mut notes = visit.notes(plan.wanted);
    notes.extend(visit.stance.note.clone());
    let text: PlainText = notes.join("; ").into();
    (!notes.is_empty()).then(|| ListItem { lead: Some(visit.stance.name.as_str().into()), text })
}

fn hours_table(plan: &DayPlan, zone: &Zone, units: Units) -> Table {
    let columns = ["Walk", "Arrive", "Begin", "Leave", "Light on the face", "Light from", "Lens"];
    let row = |(index, visit): (usize, &Visit)| {
        let cells = [
            visit.leg.as_ref().map_or_else(|| "–".into(), |leg| units.length(leg.length_m, 0)),
            zone.minutes(visit.arrives),
            zone.minutes(visit.begins),
            zone.minutes(visit.leaves),
            visit.front.as_ref().map_or_else(|| "–".into(), |(_, light)| light.words().to_owned()),
            visit.side.map_or_else(|| "–".into(), |side| side.words().to_owned()),
            visit.stance.lens.clone(),
        ];
        TableRow {
            number: Some(index + 1),
            name: visit.stance.name.as_str().into(),
            cells: cells.map(PlainText::from).to_vec(),
        }
    };
    Table {
        corner: "Stance".into(),
        columns: columns.map(PlainText::from).to_vec(),
        rows: plan.visits.iter().enumerate().map(row).collect(),
    }
}

fn sun_facts(plan: &DayPlan, zone: &Zone) -> Vec<Fact> {
    let shown = |moments: &[Moment], never: &str| match moments {
        [] => never.to_owned(),
        all => all.iter().map(|&at| zone.minutes(at)).collect::<Vec<_>>().join(", "),
    };
    let sun = &plan.sun.sun;
    let all_day = |crossings: &Crossings| if crossings.begins_above { "up all day" } else { "down all day" };
    let mut facts = vec![
        Fact::new("Sunrise", shown(&sun.rises, all_day(sun))),
        Fact::new("Highest", shown(&plan.sun.transits, "–")),
        Fact::new("Sunset", shown(&sun.sets, all_day(sun))),
    ];
    let [civil, ..] = &plan.sun.twilights;
    if let (Some(&dawn), Some(&dusk)) = (civil.rises.first(), civil.sets.last()) {
        facts
            .push(Fact::new("Civil twilight", format!("from {} and until {}", zone.minutes(dawn), zone.minutes(dusk))));
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
    })
}
