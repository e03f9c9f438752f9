//! Which day and hour is it on the site? The moment whose light is shown, and what is known of its day and its year.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::files::{FileKind, read_text};
use crate::light::{LightRequirement, LightYear, Moment, Sky, TideTable, Zone, is_flooded};
use crate::site::Support;

use super::camera::CameraStore;
use super::clock::today;
use super::dialog::PathQuestion;
use super::effects::{Effect, Effects};
use super::given_light::GivenLight;
use super::jobs::Outcome;
use super::jobs::light::{DayKey, DayLight, FoundDay, FoundYear, NextLight};
use super::notices::NoticeKind;
use super::shown_site::ShownSite;
use super::work::WorkId;

/// What happens to the light.
#[derive(Clone, Debug, PartialEq)]
pub enum LightAction {
    /// Show the light of a moment.
    Show(Moment),
    /// Find out about the day that is shown, if that is not known.
    LookAtDay,
    /// Find out about the year of the day that is shown, if that is not known.
    LookAtYear,
    /// Find the next moment with such light, and show it.
    FindNext(LightRequirement),
    /// Choose the file of the tides in a dialog.
    ChooseTide,
    /// That file, or none.
    Tide(Option<PathBuf>),
}

/// The water as a tide table has it.
#[derive(Clone, Copy, Debug)]
pub struct WaterView<'a> {
    /// The table's file.
    pub path: &'a Path,
    /// How high it stands at the moment that is looked at; none where the table does not reach it.
    pub level_m: Option<f64>,
    /// Whether it covers the ground under the stance then.
    pub covers_stance: bool,
}

/// The light as it is shown.
#[derive(Clone, Copy, Debug)]
pub struct LightView<'a> {
    /// The sky over the site, or why there is none.
    pub sky: Result<&'a Sky, &'a str>,
    /// The moment whose light is shown; none where the sun was put by hand, or nobody has said.
    pub moment: Option<Moment>,
    /// The moment by which the strip of the day stands: the one that is shown, else noon of today.
    pub at: Moment,
    /// The day, if it is known by now.
    pub day: Option<&'a DayLight>,
    /// Why nothing can be known of the day, where that is so.
    pub fault: Option<&'a str>,
    /// The year, if it is known by now.
    pub year: Option<&'a LightYear>,
    /// The water, where a tide table is known.
    pub water: Option<WaterView<'a>>,
}

/// The light on the site.
#[derive(Debug, Default)]
pub(super) struct LightStore {
    /// The sky over which version of the site.
    sky: Option<(u64, Result<Arc<Sky>, String>)>,
    /// The moment that was shown last.
    last: Option<Moment>,
    day: Option<FoundDay>,
    day_work: Option<WorkId>,
    year: Option<FoundYear>,
    year_work: Option<WorkId>,
    next_work: Option<WorkId>,
    tide: Option<(PathBuf, Arc<TideTable>)>,
}

impl LightStore {
    /// Looks at the sky over the site that is shown.
    pub(super) fn follow(&mut self, site: &ShownSite) {
        if self.sky.as_ref().is_none_or(|(version, _)| *version != site.filed_version()) {
            let sky = Sky::over(&site.filed().model.site).map(Arc::new).map_err(|error| error.to_string());
            self.sky = Some((site.filed_version(), sky));
        }
    }

    fn known_sky(&self) -> Result<&Arc<Sky>, &str> {
        match &self.sky {
            Some((_, Ok(sky))) => Ok(sky),
            Some((_, Err(why))) => Err(why),
            None => Err("the sky is not known yet"),
        }
    }

    pub(super) fn view(&self, site: &ShownSite, camera: &CameraStore) -> LightView<'_> {
        let moment = camera.measure_settings().moment;
        let sky = self.known_sky().map(|sky| &**sky);
        let at = moment.or(self.last).or_else(|| noon(sky.ok()?));
        let at = at.unwrap_or_else(|| Moment::of_unix_ms(0));
        let day_of = |moment| sky.ok().map(|sky| sky.zone().clock(moment).day);
        let day = self.day.as_ref().filter(|found| {
            let DayKey { site: of_site, day, stance } = &found.key;
            *of_site == site.filed_version() && Some(*day) == day_of(at) && stance == camera.stance()
        });
        let year = day_of(at).map(|day| day.numbers().0);
        let face = day.and_then(|found| found.found.as_ref().ok()?.front.as_ref()).map(|(face, _)| face.name.as_str());
        let of_face = |found: &&FoundYear| face.is_none_or(|face| found.face == face);
        let known = self.year.as_ref().filter(|found| found.site == site.filed_version() && Some(found.year) == year);
        let known = known.filter(of_face);
        LightView {
            sky,
            moment,
            at,
            day: day.and_then(|found| found.found.as_ref().ok()),
            fault: day.and_then(|found| found.found.as_ref().err()).map(String::as_str),
            year: known.and_then(|found| found.found.as_ref().ok()),
            water: self.tide.as_ref().map(|(path, table)| {
                let level_m = table.level_m(at);
                let footing = camera.measured().standing.footing.as_ref();
                let on_ground = footing.is_some_and(|footing| !matches!(footing.support, Support::Deck(_)));
                let ground = camera.stance().at;
                let covers = |level_m| is_flooded(&site.filed().model.site, ground, level_m);
                WaterView { path, level_m, covers_stance: on_ground && level_m.is_some_and(covers) }
            }),
        }
    }

    pub(super) fn act(&mut self, action: LightAction, site: &ShownSite, camera: &CameraStore, effects: &mut Effects) {
        self.follow(site);
        match &action {
            LightAction::ChooseTide => return effects.push(Effect::Ask(PathQuestion::Tide)),
            LightAction::Tide(path) => {
                effects.push(Effect::CloseQuestion);
                return self.open(path.clone(), site, effects);
            }
            _ => {}
        }
        let sky = match self.known_sky() {
            Ok(sky) => Arc::clone(sky),
            Err(why) => {
                let why = why.to_owned();
                return effects.passing_notice(NoticeKind::News, why);
            }
        };
        match action {
            LightAction::Show(moment) => self.show(moment, &sky, effects),
            LightAction::LookAtDay => self.look_at_day(&sky, site, camera, effects),
            LightAction::LookAtYear => self.look_at_year(&sky, site, camera, effects),
            LightAction::FindNext(asked_for) => {
                let from = self.view(site, camera).at;
                let (survey, stance) = (Arc::clone(site.filed()), camera.stance().clone());
                let work = effects.start(Some("Looking for the next such light".into()), move |_| {
                    Outcome::NextLight(Box::new(NextLight::of(&survey, &sky, &stance, &asked_for, from)))
                });
                self.next_work = Some(work);
            }
            LightAction::ChooseTide | LightAction::Tide(_) => {}
        }
    }

    /// The tide table, where one is known.
    pub(super) fn tide(&self) -> Option<&Arc<TideTable>> {
        self.tide.as_ref().map(|(_, table)| table)
    }

    /// How high the water stands at a moment, in metres of the site to the centimetre, where a tide table tells.
    pub(super) fn water_m(&self, moment: Moment) -> Option<f64> {
        let level_m = self.tide()?.level_m(moment)?;
        Some((100.0 * level_m).round() / 100.0)
    }

    /// Its file.
    pub(super) fn tide_path(&self) -> Option<&PathBuf> {
        self.tide.as_ref().map(|(path, _)| path)
    }

    /// Takes over the tide table of a file, or none; what is wrong with it is told, and the one before stays.
    pub(super) fn open(&mut self, path: Option<PathBuf>, site: &ShownSite, effects: &mut Effects) {
        effects.change();
        let Some(path) = path else {
            self.tide = None;
            return;
        };
        let path = std::path::absolute(&path).unwrap_or(path);
        let read = || {
            let zone = Zone::of(&site.filed().model.site).map_err(|error| error.to_string())?;
            let text = read_text(&path, FileKind::Tide).map_err(|error| error.to_string())?;
            TideTable::read(&text, &zone).map_err(|error| format!("{}: {error}", path.display()))
        };
        match read() {
            Ok(table) => self.tide = Some((path, Arc::new(table))),
            Err(why) => effects.notice(NoticeKind::Error, why),
        }
    }

    fn show(&mut self, moment: Moment, sky: &Sky, effects: &mut Effects) {
        let sun = sky.sun(moment).seen();
        self.last = Some(moment);
        effects.push(Effect::ShowLight(GivenLight { sun: Some(sun), moment: Some(moment) }));
        effects.change();
    }

    fn look_at_day(&mut self, sky: &Arc<Sky>, site: &ShownSite, camera: &CameraStore, effects: &mut Effects) {
        let day = sky.zone().clock(self.view(site, camera).at).day;
        let key = DayKey { site: site.filed_version(), day, stance: camera.stance().clone() };
        // One at a time: what is not wanted any more takes a moment only.
        if self.day_work.is_some() || self.day.as_ref().is_some_and(|known| known.key == key) {
            return;
        }
        let (survey, sky) = (Arc::clone(site.filed()), Arc::clone(sky));
        let eye = camera.measured().standing.pose.eye;
        self.day_work =
            Some(effects.start(None, move |_| Outcome::DayLight(Box::new(FoundDay::of(&survey, &sky, key, &eye)))));
    }

    fn look_at_year(&mut self, sky: &Arc<Sky>, site: &ShownSite, camera: &CameraStore, effects: &mut Effects) {
        let year = sky.zone().clock(self.view(site, camera).at).day.numbers().0;
        let version = site.filed_version();
        // The day says which face the picture is of.
        if self.year_work.is_some() || self.day_work.is_some() || self.view(site, camera).year.is_some() {
            return;
        }
        let (survey, sky) = (Arc::clone(site.filed()), Arc::clone(sky));
        let eye = camera.measured().standing.pose.eye;
        self.year_work = Some(
            effects
                .start(None, move |_| Outcome::YearLight(Box::new(FoundYear::of(&survey, &sky, version, year, &eye)))),
        );
    }

    /// What a day brings was found.
    pub(super) fn day_found(&mut self, found: FoundDay) {
        (self.day, self.day_work) = (Some(found), None);
    }

    /// What a year brings was found.
    pub(super) fn year_found(&mut self, found: FoundYear) {
        (self.year, self.year_work) = (Some(found), None);
    }

    /// The next moment with the light that was asked for.
    pub(super) fn next_found(&mut self, found: NextLight, effects: &mut Effects) {
        self.next_work = None;
        match found.found {
            Ok(Some(moment)) => {
                if let Ok(sky) = self.known_sky().cloned() {
                    self.show(moment, &sky, effects);
                }
            }
            Ok(None) => effects.notice(NoticeKind::News, found.nothing),
            Err(why) => effects.notice(NoticeKind::Error, why),
        }
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId) {
        for running in [&mut self.day_work, &mut self.year_work, &mut self.next_work] {
            running.take_if(|running| *running == work);
        }
    }
}

/// Noon of today on the site.
fn noon(sky: &Sky) -> Option<Moment> {
    sky.zone().at(today()?, 12, 0).ok().map(|read| read.moment)
}
