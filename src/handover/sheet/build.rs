//! How is a sheet put together from what was measured? Its pictures are made here.

use std::sync::Arc;

use crate::cautions::CautionKind;
use crate::handover::DocumentSettings;
use crate::handover::brand::Brand;
use crate::handover::page::Paper;
use crate::handover::planned::{moment_words, sun_times};
use crate::handover::shots::{Shot, Shots, kept_outline};
use crate::handover::told::Teller;
use crate::optics::{Orientation, Proportion};
use crate::pose::Pose;
use crate::progress::{Cancelled, Progress};
use crate::site::{Access, Stance};
use crate::still::{Look, Picture, STATURE_M, StillError};
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::text::PlainText;
use crate::wording::capital;

use super::choose::{SheetOrder, ranked};
use super::content::{AccessLine, AccessSign, ClientSheet, Decision, Received, Shape, Standpoint, Taken};
use super::plan::sheet_plan;
use super::wording;

/// The most stances on one sheet.
pub const MOST_STANCES: usize = 12;

/// Pixels along the longer side of the recommended picture, of it as taken, of the alternative and of what else was looked at.
const CHOSEN_PX: f64 = 1280.0;
const TAKEN_PX: f64 = 640.0;
const SECOND_PX: f64 = 720.0;
const OTHER_PX: f64 = 440.0;
/// How high the shapes are.
const SHAPE_PX: f64 = 400.0;
/// The shapes that a client may choose among.
const SHAPES: [Proportion; 4] =
    [Proportion(4.0, 5.0), Proportion(1.0, 1.0), Proportion(3.0, 2.0), Proportion(16.0, 9.0)];

/// Why there is no sheet.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    /// No stance to show.
    #[error("there is no stance to show; save one in the site file, or name some")]
    NoStance,
    /// Too many.
    #[error("{given} stances are more than find room on one sheet; choose {MOST_STANCES} or fewer")]
    TooMany {
        /// How many were asked for.
        given: usize,
    },
    /// A picture cannot be made.
    #[error(transparent)]
    Still(#[from] StillError),
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// What a sheet shows, and how.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetRequest {
    /// The stances it shows.
    pub stances: Vec<Stance>,
    /// What its planner says of each of them; what was measured says it where that is empty.
    pub said: Vec<String>,
    /// Which of them is recommended.
    pub order: SheetOrder,
    /// What is recommended, in the planner's words.
    pub headline: Option<String>,
    /// By what they are measured.
    pub settings: MeasureSettings,
    /// Whose it is.
    pub brand: Brand,
    /// The paper that it is laid out for.
    pub paper: Paper,
    /// Whether figures in degrees and pixels stand on it.
    pub technical: bool,
    /// Language, day and unit.
    pub document: DocumentSettings,
}

/// What a sheet is put together from.
struct Builder<'a> {
    survey: &'a Survey,
    request: &'a SheetRequest,
    teller: Teller<'a>,
    shots: Shots<'a>,
    /// The stances by their numbers on the sheet, with their names there and what their planner says.
    standpoints: Vec<(&'a Stance, &'a Measured, String, &'a str)>,
}

/// The client's sheet of stances that are measured in the order of the request.
///
/// # Errors
/// There are none or too many, or a picture is cancelled.
pub fn client_sheet(
    survey: &Survey,
    request: &SheetRequest,
    measured: &[Measured],
    progress: &Progress,
) -> Result<ClientSheet, SheetError> {
    if measured.is_empty() {
        return Err(SheetError::NoStance);
    }
    if measured.len() > MOST_STANCES {
        return Err(SheetError::TooMany { given: measured.len() });
    }
    let words = &request.document.words;
    let teller = Teller { survey, words, units: request.document.units };
    let named: Vec<_> =
        request.stances.iter().zip(measured).map(|(stance, measured)| (stance, &measured.standing)).collect();
    let labels = teller.labels(&named);
    let standpoints: Vec<_> = ranked(&measured.iter().collect::<Vec<_>>(), request.order)
        .into_iter()
        .map(|index| {
            let said = request.said.get(index).map_or("", |said| said.trim());
            (&request.stances[index], &measured[index], labels[index].clone(), said)
        })
        .collect();
    let shots = Shots { survey, look: request.document.look, progress };
    let builder = Builder { survey, request, teller, shots, standpoints };
    progress.start(builder.pictures());
    builder.sheet()
}

impl Builder<'_> {
    fn chosen(&self) -> &Measured {
        self.standpoints[0].1
    }

    /// How many pictures are made at most.
    fn pictures(&self) -> u64 {
        self.standpoints.len() as u64 + 1 + if self.shape_is_chosen() { 0 } else { SHAPES.len() as u64 }
    }

    fn shape_is_chosen(&self) -> bool {
        self.standpoints[0].0.crop.is_some()
    }

    fn sheet(&self) -> Result<ClientSheet, SheetError> {
        let (request, words, teller) = (self.request, self.teller.words, &self.teller);
        let brand = &request.brand;
        let chosen = self.chosen();
        let numbered: Vec<(String, &Measured)> =
            self.standpoints.iter().map(|(_, measured, label, _)| (label.clone(), *measured)).collect();
        let why = match self.standpoints[0].3 {
            "" => wording::why(teller, chosen),
            said => said.to_owned(),
        };
        let chosen_point =
            self.standpoint(0, CHOSEN_PX, teller.away(chosen).map(|away| capital(&away)).unwrap_or_default())?;
        let received = self.received()?;
        let second = match self.standpoints.get(1) {
            Some((_, measured, _, said)) => {
                let text = if said.is_empty() { wording::second(teller, measured, chosen) } else { (*said).to_owned() };
                let heading = wording::second_heading(teller, chosen, measured);
                Some((heading.into(), self.standpoint(1, SECOND_PX, text)?))
            }
            None => None,
        };
        let others = (2..self.standpoints.len())
            .map(|index| {
                let (_, measured, _, said) = &self.standpoints[index];
                let text =
                    if said.is_empty() { wording::reasons(teller, measured, chosen) } else { (*said).to_owned() };
                self.standpoint(index, OTHER_PX, text)
            })
            .collect::<Result<Vec<_>, _>>()?;
        let shapes = self.shapes()?;
        let plan = sheet_plan(self.survey, &numbered, words, request.document.units);
        let text = |text: &Option<String>| text.as_ref().map(PlainText::from);
        let headline = request.headline.as_deref().map(str::trim).filter(|headline| !headline.is_empty());
        Ok(ClientSheet {
            words: Arc::clone(&request.document.words),
            paper: request.paper,
            title: brand.title.as_ref().unwrap_or(&self.survey.model.site.name).into(),
            client: brand.client.as_ref().map(|client| words.prepared_for(client).into()),
            name: brand.name.as_str().into(),
            contact: brand.contact.iter().map(Into::into).collect(),
            logo: brand.logo_file.clone(),
            day: words.long_day(request.document.day).into(),
            headline: headline.map_or_else(|| wording::headline(teller, chosen), str::to_owned).into(),
            why: why.into(),
            introduction: text(&brand.text),
            chosen: chosen_point,
            scale: self.scale().into(),
            second,
            plan: Arc::new(plan),
            access: self.access(),
            when: self.when(),
            received,
            others,
            decisions: self.decisions(!shapes.is_empty()),
            shapes,
            reply: brand.reply.clone().unwrap_or_else(|| words.reply()).into(),
            figures: request.technical.then(|| wording::figures(teller, &numbered)),
            closing: text(&brand.closing),
            footer: format!("{} {}", words.to_scale(), words.geometry_only()).into(),
        })
    }

    /// A standpoint with its picture as it is delivered.
    fn standpoint(&self, index: usize, longer_px: f64, text: String) -> Result<Standpoint, SheetError> {
        let (_, measured, label, _) = &self.standpoints[index];
        let picture = Arc::new(self.delivered(measured, longer_px)?);
        Ok(Standpoint { number: index + 1, label: label.as_str().into(), picture, text: text.into() })
    }

    /// The picture as it is delivered; as it is taken where nothing better can be made of it.
    fn delivered(&self, measured: &Measured, longer_px: f64) -> Result<Picture, StillError> {
        let standing = &measured.standing;
        let (camera, pose) = match &measured.account.final_picture {
            Some(Ok(kept)) => (&kept.camera, Pose { attitude: kept.attitude, ..standing.pose }),
            _ => (&standing.camera, standing.pose),
        };
        self.shots.take(measured, Shot { camera, pose, longer_px })
    }

    /// The recommended picture as it is taken, where something else is delivered.
    fn received(&self) -> Result<Received, SheetError> {
        let chosen = self.chosen();
        let (teller, standing) = (&self.teller, &chosen.standing);
        let delivered = wording::delivered(teller, chosen, self.request.technical).into();
        let Some(Ok(kept)) = &chosen.account.final_picture else { return Ok(Received { taken: None, delivered }) };
        let pose = Pose { attitude: kept.attitude, ..standing.pose };
        let Some(outline) = kept_outline((&standing.camera, &standing.pose), (&kept.camera, &pose)) else {
            return Ok(Received { taken: None, delivered });
        };
        let shot = Shot { camera: &standing.camera, pose: standing.pose, longer_px: TAKEN_PX };
        let picture = Arc::new(self.shots.take(chosen, shot)?);
        let text = wording::taken(teller, chosen).into();
        Ok(Received { taken: Some(Taken { picture, kept: outline, text }), delivered })
    }

    /// The recommended picture in other shapes, each aimed anew from the same place; those that it can be had in.
    fn shapes(&self) -> Result<Vec<Shape>, SheetError> {
        if self.shape_is_chosen() {
            return Ok(Vec::new());
        }
        let words = self.teller.words;
        let named = [
            (words.shape_tall(), words.shape_tall_for()),
            (words.shape_square(), words.shape_square_for()),
            (words.shape_wide(), words.shape_wide_for()),
            (words.shape_very_wide(), words.shape_very_wide_for()),
        ];
        let mut shapes = Vec::new();
        for (proportion, (name, text)) in SHAPES.into_iter().zip(named) {
            let Some(measured) = self.in_shape(proportion) else { continue };
            let longer_px = SHAPE_PX * proportion.ratio().max(1.0);
            let picture = Arc::new(self.delivered(&measured, longer_px)?);
            let proportion = proportion.to_string().into();
            shapes.push(Shape { picture, name: name.into(), proportion, text: text.into() });
        }
        // One alone is no choice.
        Ok(if shapes.len() > 1 { shapes } else { Vec::new() })
    }

    /// The recommended stance aimed for a shape, if its picture can be delivered so.
    fn in_shape(&self, proportion: Proportion) -> Option<Measured> {
        let (stance, chosen) = (self.standpoints[0].0, self.chosen());
        let suits = if proportion.ratio() >= 1.0 { Orientation::Landscape } else { Orientation::Portrait };
        let other = if suits == Orientation::Landscape { Orientation::Portrait } else { Orientation::Landscape };
        let settings = MeasureSettings { lean_change: None, sun: chosen.sun, ..self.request.settings };
        [suits, other].into_iter().find_map(|held| {
            // Another shape takes another zoom and another rise.
            let stance = Stance {
                crop: Some(proportion),
                orientation: Some(held),
                focal_mm: None,
                rise_mm: None,
                shift_mm: None,
                ..stance.clone()
            };
            let mut measured = self.survey.measure(&stance, &settings).ok()?;
            measured.sun = chosen.sun;
            matches!(measured.account.final_picture, Some(Ok(_))).then_some(measured)
        })
    }

    /// How the picture was made, and how large things in it are.
    fn scale(&self) -> String {
        let (teller, words) = (&self.teller, self.teller.words);
        let drawn = match self.request.document.look {
            Look::Card => words.drawn_card(),
            Look::Materials => words.drawn_materials(),
        };
        let Ok(subject) = &self.survey.subject else { return drawn };
        let (name, height) = (teller.subject(), teller.roundly(subject.highest_m - subject.base_m));
        let peopled = self.request.document.look == Look::Card && self.shots.person(self.chosen()).is_some();
        let scale = if peopled {
            words.scale_person(&name, &height, &teller.length(STATURE_M, 1))
        } else {
            words.scale(&name, &height)
        };
        format!("{drawn} {}", capital(&scale))
    }

    /// Who may go where: open standpoints, grounds and decks that need a permission or are closed, and what else to beware of at
    /// the recommended standpoint and its alternative.
    fn access(&self) -> Vec<AccessLine> {
        let (teller, words) = (&self.teller, self.teller.words);
        let mut lines = Vec::new();
        let access_of =
            |measured: &Measured| measured.standing.footing.as_ref().map_or(Access::Open, |footing| footing.access);
        let open: Vec<String> = (1..)
            .zip(&self.standpoints)
            .filter(|(_, (_, measured, ..))| access_of(measured) == Access::Open)
            .map(|(number, _)| number.to_string())
            .collect();
        if !open.is_empty() {
            let numbers = wording::listed(teller, &open);
            let place = if open.len() == 1 { words.standpoint(&numbers) } else { words.standpoints(&numbers) };
            lines.push(AccessLine { sign: AccessSign::Open, place: place.into(), text: words.access_open().into() });
        }
        let with = |text: String, caution: Option<&str>| match caution {
            Some(caution) => format!("{text}; {caution}"),
            None => text,
        };
        let model = &self.survey.model;
        let stood_on = |name: &str| {
            let of = |(_, measured, ..): &(&Stance, &Measured, String, &str)| {
                measured.standing.footing.as_ref().and_then(|footing| footing.name.as_deref()) == Some(name)
            };
            self.standpoints.iter().any(of)
        };
        let grounds = model.site.grounds.iter().map(|ground| (&ground.name, ground.access, ground.caution.as_deref()));
        let decks =
            model.decks.iter().map(|deck| (&model.site.blocks[deck.block].name, deck.access, deck.caution.as_deref()));
        let decks = decks.filter(|(name, ..)| stood_on(name));
        let mut told: Vec<&String> = Vec::new();
        for (name, access, caution) in grounds.chain(decks) {
            let (sign, text) = match access {
                Access::Open => continue,
                Access::Ask => (AccessSign::Ask, words.access_ask()),
                Access::Closed => (AccessSign::Closed, words.access_closed()),
            };
            if !told.contains(&name) {
                told.push(name);
                lines.push(AccessLine { sign, place: capital(name).into(), text: with(text, caution).into() });
            }
        }
        for (number, (_, measured, label, _)) in (1..).zip(&self.standpoints).take(2) {
            for caution in &measured.cautions {
                // What is told of a deck stands with its access already.
                let of_deck = caution.kind == CautionKind::Site
                    && lines.iter().any(|line| line.text.ends_with(caution.text.as_str()));
                let Some(text) = teller.warning(&measured.standing, caution).filter(|_| !of_deck) else { continue };
                let place = format!("{number} {label}");
                lines.push(AccessLine { sign: AccessSign::Caution, place: place.into(), text: text.into() });
            }
        }
        lines
    }

    /// Day and light, then who comes.
    fn when(&self) -> Vec<PlainText> {
        let words = self.teller.words;
        let mut lines: Vec<PlainText> = Vec::new();
        match &self.chosen().planned {
            Some(planned) => {
                lines.push(moment_words(self.survey, planned, words).into());
                let mut light = wording::light(&self.teller, planned.side);
                if let Some((rise, set)) = sun_times(self.survey, planned) {
                    light = format!("{light} {}", words.sun_times(&rise, &set));
                }
                lines.push(light.into());
            }
            None => lines.push(words.when_open().into()),
        }
        lines.extend(self.request.brand.who.iter().map(PlainText::from));
        lines
    }

    fn decisions(&self, has_shapes: bool) -> Vec<Decision> {
        let words = self.teller.words;
        let decision = |text: String, note: String| Decision { text: text.into(), note: note.into() };
        let mut decisions = Vec::new();
        decisions.push(match &self.chosen().planned {
            Some(planned) => decision(words.decide_date(), moment_words(self.survey, planned, words)),
            None => decision(words.decide_date_open(), String::new()),
        });
        let or = if self.standpoints.len() > 1 { words.decide_place_or("2") } else { String::new() };
        decisions.push(decision(words.decide_place("1"), or));
        let asked = |(_, measured, ..): &&(&Stance, &Measured, String, &str)| {
            measured.cautions.iter().any(|caution| caution.kind == CautionKind::Ask)
        };
        let mut places: Vec<String> = Vec::new();
        for (_, measured, ..) in self.standpoints.iter().take(2).filter(asked) {
            let name = measured.standing.footing.as_ref().and_then(|footing| footing.name.as_ref());
            let place = name.map_or_else(|| words.standpoint("1"), |name| words.the(name));
            if !places.contains(&place) {
                places.push(place);
            }
        }
        if !places.is_empty() {
            let place = wording::listed(&self.teller, &places);
            decisions.push(decision(words.decide_entry(&place), words.decide_entry_for()));
        }
        if has_shapes {
            decisions.push(decision(words.decide_shapes(), words.decide_shapes_for()));
        }
        decisions
    }
}
