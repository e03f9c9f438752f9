//! What does the window know? Its whole state, without a window: the stores, composed.
//!
//! Every change is an [`Action`], which one store takes; what it comes to elsewhere is a list of effects, applied here.
//! What is drawn and read is what the core makes of the described [`Stance`]. Whatever takes long is done in the background,
//! and fetched by [`Desk::catch_up`].

mod shown;
mod sites;

use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use bevy::prelude::Resource;

use crate::site::Stance;
use crate::stance::StanceError;
use crate::survey::{MeasureSettings, Survey};

use super::build::BuildStore;
use super::camera::CameraStore;
use super::delivery::{DeliveryInputs, DeliveryStore};
use super::effects::{Effect, Effects};
use super::exact::ExactStore;
use super::files::FileStore;
use super::jobs::Outcome;
use super::jobs::thumbnail::{ThumbnailKey, ThumbnailLook};
use super::light::LightStore;
use super::notices::NoticeStore;
use super::opening::Home;
use super::plan_file::PlanParts;
use super::prints::PrintStore;
use super::search::{SearchInputs, SearchStore};
use super::settings::{SettingStore, Settings};
use super::showing::ShowingStore;
use super::shown_site::ShownSite;
use super::thumbnails::ThumbnailStore;
use super::ways::{WaysInputs, WaysStore};
use super::work::{Job, WorkId, Works};

pub use super::action::Action;
pub use super::arrangement::DeskName;
pub use super::build::BuildAction;
pub use super::camera::CameraAction;
pub use super::camera_moves::{CameraMove, marks_of};
pub use super::delivery::{BlockedDelivery, DeliveryAction, DeliveryView, StillFiles};
pub use super::dialog::PathQuestion;
pub use super::files::FileAction;
pub use super::jobs::light::DayLight;
pub use super::jobs::underlay::PictureLevels;
pub use super::light::{LightAction, LightView, WaterView};
pub use super::notices::{Notice, NoticeAction, NoticeKind};
pub use super::opening::{StartError, first_stance};
pub use super::prints::{Pinned, PrintAction};
pub use super::search::{LOWEST, SearchAction, SearchRequest, SearchView};
pub use super::settings::SettingAction;
pub use super::showing::ShowAction;
pub use super::site_change::{Picked, SiteChange};
pub use super::site_file::SiteSaving;
pub use super::underlay::UnderlayView;
pub use super::ways::WaysView;
pub use super::work::WorkAction;
pub use crate::handover::deliver::DeliveryOptions;

/// Pixels along the longer side of a print's picture, and of one laid beside others.
const SMALL_PX: u32 = 420;
const LAID_PX: u32 = 1000;

/// The camera on a site, and everything around it.
#[derive(Resource)]
pub struct Desk {
    site: ShownSite,
    camera: CameraStore,
    prints: PrintStore,
    build: BuildStore,
    light: LightStore,
    search: SearchStore,
    ways: WaysStore,
    delivery: DeliveryStore,
    showing: ShowingStore,
    files: FileStore,
    settings: SettingStore,
    notices: NoticeStore,
    thumbnails: ThumbnailStore,
    exact: ExactStore,
    works: Works<Outcome>,
    leaving: bool,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Desk").field("stance", self.stance()).finish_non_exhaustive()
    }
}

impl Desk {
    /// A camera that takes up a stance on a site, and of which nothing is saved.
    ///
    /// # Errors
    /// The stance is impossible.
    pub fn new(survey: Arc<Survey>, stance: Stance, measure_settings: MeasureSettings) -> Result<Self, StanceError> {
        Self::at(Home::default(), Settings::default(), survey, stance, measure_settings)
    }

    fn at(
        home: Home,
        settings: Settings,
        survey: Arc<Survey>,
        stance: Stance,
        measure_settings: MeasureSettings,
    ) -> Result<Self, StanceError> {
        let camera = CameraStore::new(&survey, stance, measure_settings)?;
        let mut notices = NoticeStore::default();
        notices.set_cautions(camera.cautions());
        Ok(Self {
            site: ShownSite::new(survey),
            camera,
            prints: PrintStore::new(),
            build: BuildStore::default(),
            light: LightStore::default(),
            search: SearchStore::default(),
            ways: WaysStore::default(),
            delivery: DeliveryStore::new(),
            showing: ShowingStore::default(),
            settings: SettingStore::new(settings),
            notices,
            thumbnails: ThumbnailStore::default(),
            exact: ExactStore::default(),
            works: Works::new(home.wake.clone()),
            files: FileStore::new(home),
            leaving: false,
        })
    }

    /// Does one thing; what cannot be done is reported and changes nothing. Returns whether anything changed that is shown.
    pub fn act(&mut self, action: impl Into<Action>) -> bool {
        let mut effects = Effects::new(self.works.next_id());
        self.route(action.into(), &mut effects);
        self.finish(effects)
    }

    /// Gives an action to the store that it belongs to.
    fn route(&mut self, action: Action, effects: &mut Effects) {
        match action {
            Action::Camera(action) => self.camera.act(action, &self.site, &self.settings, effects),
            Action::Print(action) => self.prints.act(action, &self.site, &self.camera, effects),
            Action::Build(action) => self.build.act(action, &self.site, effects),
            Action::Light(action) => self.light.act(action, &self.site, &self.camera, effects),
            Action::Search(action) => {
                let inputs = SearchInputs { site: &self.site, stance: self.camera.stance(), settings: &self.settings };
                self.search.act(action, &inputs, self.files.wake(), effects);
            }
            Action::Delivery(action) => {
                self.with_delivery(|delivery, inputs| delivery.act(action, inputs, effects));
            }
            Action::File(action) => self.files.act(action, effects),
            Action::Setting(action) => self.settings.act(action, &self.site.survey().kit, effects),
            Action::Notice(action) => {
                self.notices.act(action);
                effects.change();
            }
            Action::Show(action) => {
                let (prints, delivery, survey) = (&self.prints, &self.delivery, self.site.survey());
                let current = self.camera.stance();
                let chosen = || {
                    let saved = &survey.model.site.stances;
                    match (prints.prints(), saved.is_empty()) {
                        ([], false) => saved.clone(),
                        ([], true) => vec![current.clone()],
                        (prints, _) => {
                            let going_in = prints.iter().filter(|print| delivery.goes_in(print.id));
                            going_in.map(|print| Stance { name: print.name.clone(), ..print.stance.clone() }).collect()
                        }
                    }
                };
                self.showing.act(action, survey, chosen, effects);
            }
            Action::Work(WorkAction::Cancel(work)) => {
                self.works.cancel(work);
                self.files.cancelled(work);
                effects.change();
            }
        }
    }

    /// Applies what an action comes to, and lets everything follow that depends on it.
    fn finish(&mut self, mut effects: Effects) -> bool {
        self.apply(&mut effects);
        self.prints.measure(&self.site, self.camera.measure_settings());
        self.save(&mut effects);
        self.show_thumbnails(&mut effects);
        self.exact.follow(&self.site, &self.camera, &self.settings, &mut effects);
        self.build.follow_underlay(&self.site, &mut effects);
        self.with_delivery(|delivery, inputs| delivery.prepare(inputs, &mut effects));
        self.apply(&mut effects);
        effects.is_changed()
    }

    fn apply(&mut self, effects: &mut Effects) {
        self.notices.set_cautions(self.camera.cautions());
        while let Some(effect) = effects.next() {
            match effect {
                Effect::Notice(kind, text) => self.notices.add(kind, text, false),
                Effect::PassingNotice(kind, text) => self.notices.add(kind, text, true),
                Effect::Done => self.notices.pass(),
                Effect::Unpin(id) => self.prints.take_back(id),
                Effect::PinAgain(id) => self.prints.bring_back(id),
                Effect::PrintStep(step) => self.camera.add_print_step(step),
                Effect::ShowSite(survey, how) => self.show_site(survey, how, effects),
                Effect::SiteStep { change, words } => self.camera.add_site_step(change, words),
                Effect::RetraceSite(change) => self.build.retrace(&change, &self.site, effects),
                Effect::CreateSite { path, text } => self.route(FileAction::CreateSite { path, text }.into(), effects),
                Effect::SaveSite { base, text, number } => self.files.save_site(base, text, number, effects),
                Effect::Start(job) => self.start(job, effects),
                Effect::Cancel(work) => self.works.cancel(work),
                Effect::GoTo(stance) => {
                    self.camera.go_to(*stance, self.site.survey(), effects);
                    self.notices.set_cautions(self.camera.cautions());
                }
                Effect::ShowLight(light) => {
                    self.camera.set_light(light, self.site.survey(), effects);
                }
                Effect::MeasureWith { upright } => {
                    self.camera.measure_with(upright, self.site.survey(), effects);
                    self.notices.set_cautions(self.camera.cautions());
                }
                Effect::Pack(lenses) => self.settings.pack(lenses, &self.site.survey().kit),
                Effect::CloseGuide => self.settings.close_guide(),
                Effect::DeskShown(DeskName::Compare) => self.prints.lay_first(),
                Effect::DeskShown(DeskName::Walk | DeskName::Search | DeskName::HandOver | DeskName::Build) => {}
                Effect::Ask(question) => self.files.ask(question, self.delivery.folder(), effects),
                Effect::Answered(question, path) => self.route(answer(question, path), effects),
                Effect::CloseQuestion => self.files.close_question(),
                Effect::NotAnswered => self.delivery.stop_waiting(),
                Effect::PlanChanged(plans) => self.adopt(&plans.0, &plans.1, effects),
                Effect::Leave => self.leave(effects),
            }
        }
    }

    fn start(&mut self, job: Job<Outcome>, effects: &mut Effects) {
        let work = job.id;
        if !self.works.start(job) {
            let text = "could not start a background thread; close something and try again";
            effects.notice(NoticeKind::Error, text);
            self.broke(work, effects);
        }
    }

    /// The camera has come to rest: the next step is a move of its own, and there is time for the tolerance. Returns whether
    /// anything changed that is shown.
    pub fn rest(&mut self) -> bool {
        let mut effects = Effects::new(self.works.next_id());
        self.camera.stop();
        self.light.follow(&self.site);
        // While a hand tries something, nothing that takes its time is asked about it.
        if !self.is_tried() {
            self.follow_tide(&mut effects);
            let (site, camera, settings) = (&self.site, &self.camera, &self.settings);
            self.ways.look(&WaysInputs { site, camera, settings, is_tried: false }, &mut effects);
            self.files.stands_at(self.camera.stance());
            self.build.look(&self.site, &self.camera, self.settings.units(), &mut effects);
            self.camera.look_for_tolerance(self.site.survey(), &mut effects);
        }
        self.finish(effects)
    }

    /// Fetches what was done in the background. Returns whether anything changed that is shown.
    pub fn catch_up(&mut self) -> bool {
        let mut effects = Effects::new(self.works.next_id());
        self.files.catch_up(self.site.survey(), &mut effects);
        for news in self.files.saved_sites() {
            self.build.saved(news, &mut effects);
        }
        self.search.take_coarse(&mut effects);
        self.apply(&mut effects);
        for (work, outcome) in self.works.ended() {
            effects.change();
            match outcome {
                Some(outcome) => self.take_in(work, outcome, &mut effects),
                None => {
                    self.broke(work, &mut effects);
                    let text = "a background task failed; everything else continues";
                    effects.notice(NoticeKind::Error, text);
                }
            }
            self.apply(&mut effects);
        }
        self.finish(effects)
    }

    /// Gives what work has come to to the store that started it.
    fn take_in(&mut self, work: WorkId, outcome: Outcome, effects: &mut Effects) {
        match outcome {
            Outcome::Opened(opened) => {
                // Somebody may want another one meanwhile.
                if self.files.take_opened(work) {
                    self.arrived(opened, effects);
                }
            }
            Outcome::Reloaded { opened, unchanged } => {
                if let Some(opened) = self.files.reloaded(*opened, unchanged) {
                    self.reloaded(opened, effects);
                }
            }
            Outcome::Chosen(question, chosen) => self.files.chosen(question, chosen, effects),
            Outcome::Captured(taken) => self.delivery.captured(taken, effects),
            Outcome::Thumbnail(drawn) => self.thumbnails.drawn(drawn.0, drawn.1),
            Outcome::Exact(picture) => self.exact.made(work, picture),
            Outcome::Tolerances(found) => {
                self.camera.tolerances_found(work, *found, self.site.survey(), self.is_tried(), effects);
            }
            Outcome::Doubt(found) => self.build.doubt_found(*found),
            Outcome::Brought(found) => self.brought(*found, effects),
            Outcome::DayLight(found) => self.light.day_found(*found),
            Outcome::YearLight(found) => self.light.year_found(*found),
            Outcome::NextLight(found) => self.light.next_found(*found, effects),
            Outcome::Ways(found) => {
                let is_tried = self.is_tried();
                let (site, camera, settings) = (&self.site, &self.camera, &self.settings);
                self.ways.found(work, *found, &WaysInputs { site, camera, settings, is_tried }, effects);
            }
            Outcome::Searched(searched) => self.search.searched(work, searched, effects),
            Outcome::PictureLaid(laid) => {
                let laid = self.build.picture_laid(work, *laid, effects);
                laid.into_iter().for_each(|action| self.route(action.into(), effects));
            }
            Outcome::UnderlayRead(levels) => self.build.underlay_read(work, *levels),
            Outcome::Prepared(made) => self.delivery.prepared(work, made),
            Outcome::Written(outcome) => self.delivery.written(outcome, effects),
        }
    }

    /// A piece of work broke, or could not be started: whoever waits for it goes on.
    fn broke(&mut self, work: WorkId, effects: &mut Effects) {
        let is_tried = self.is_tried();
        let (site, camera, settings) = (&self.site, &self.camera, &self.settings);
        self.ways.broke(work, &WaysInputs { site, camera, settings, is_tried }, effects);
        self.camera.tolerance_broke(work);
        self.search.broke(work);
        self.delivery.broke(work);
        self.thumbnails.broke(work);
        self.exact.broke(work);
        self.files.broke(work);
        self.build.doubt_broke(work);
        self.light.broke(work);
        self.build.broke(work);
    }

    /// Whether anything is being worked on in the background, shown or not.
    pub fn is_busy(&self) -> bool {
        self.works.busy()
    }

    /// Waits until all work in the background is done and fetched, at most so long: for whoever drives the window without a
    /// screen. False where work is left.
    pub fn settle(&mut self, patience: Duration) -> bool {
        let end = Instant::now() + patience;
        loop {
            self.catch_up();
            if !self.works.busy() {
                return self.files.finish();
            }
            if Instant::now() > end {
                return false;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Gives delivery what it looks at of the other stores.
    fn with_delivery(&mut self, run: impl FnOnce(&mut DeliveryStore, &DeliveryInputs<'_>)) {
        let inputs = DeliveryInputs {
            site: &self.site,
            source: self.files.source(),
            camera: &self.camera,
            prints: &self.prints,
            settings: &self.settings,
            tide: self.light.tide(),
        };
        run(&mut self.delivery, &inputs);
    }

    /// Orders whatever changed to be saved.
    fn save(&mut self, effects: &mut Effects) {
        let parts = plan_parts(&self.camera, &self.prints, &self.search, &self.delivery, &self.light, &self.settings);
        self.files.save(&parts, self.settings.all(), effects);
    }

    /// Gives every print and every listed place the picture that there is of it, and has the next missing one drawn.
    fn show_thumbnails(&mut self, effects: &mut Effects) {
        let look = ThumbnailLook {
            site: self.site.version(),
            sun: self.sun(),
            theme: self.settings.theme(),
            look: self.settings.all().finder_look,
        };
        let mut missing = None;
        let key = |stance: &Stance, long_px, away| ThumbnailKey { stance: stance.clone(), look, long_px, away };
        // Large pictures are wanted where prints lie side by side or over the finder, and nowhere else.
        let mut large = if self.settings.desk_name() == DeskName::Compare { self.prints.laid() } else { &[] }.to_vec();
        large.extend(self.prints.over());
        self.prints.show_thumbnails(|id, stance| {
            let long_px = if large.contains(&id) { LAID_PX } else { SMALL_PX };
            let known = self.thumbnails.find(stance, look, long_px, &[]);
            if known.is_none() && missing.is_none() {
                missing = Some((key(stance, long_px, Vec::new()), Arc::clone(self.site.survey())));
            }
            known?.clone()
        });
        if self.settings.desk_name() == DeskName::Search
            && let Some((reduced, ranked)) = self.search.listed(&self.site)
        {
            let away = self.search.away();
            let mut pictures = Vec::with_capacity(ranked.len());
            for found in ranked {
                let known = self.thumbnails.find(&found.stance, look, SMALL_PX, &away);
                if known.is_none() && missing.is_none() {
                    let survey = reduced.unwrap_or(self.site.survey());
                    missing = Some((key(&found.stance, SMALL_PX, away.clone()), Arc::clone(survey)));
                }
                pictures.push(known.and_then(Clone::clone));
            }
            self.search.show_thumbnails(pictures);
        }
        if let Some((key, survey)) = missing {
            self.thumbnails.draw(key, &survey, effects);
        }
    }

    /// Saves everything and lets the window close.
    fn leave(&mut self, effects: &mut Effects) {
        self.files.stands_at(self.camera.stance());
        self.save(effects);
        self.works.cancel_all();
        self.files.finish();
        self.leaving = true;
    }
}

/// What the stores hold of the plan.
fn plan_parts<'a>(
    camera: &CameraStore,
    prints: &'a PrintStore,
    search: &'a SearchStore,
    delivery: &'a DeliveryStore,
    light: &'a LightStore,
    settings: &'a SettingStore,
) -> PlanParts<'a> {
    PlanParts {
        prints: prints.prints(),
        bag: settings.bag(),
        folder: delivery.folder(),
        against: prints.against(),
        laid: prints.laid(),
        light: camera.plan_light(),
        tide: light.tide_path(),
        sought: search.sought(),
    }
}

/// The action that a path asked for stands for.
fn answer(question: PathQuestion, path: PathBuf) -> Action {
    match question {
        PathQuestion::Site => FileAction::Open(path).into(),
        PathQuestion::SaveSite => BuildAction::SaveAs(path).into(),
        PathQuestion::Folder => DeliveryAction::Folder(path).into(),
        PathQuestion::Brand => DeliveryAction::Brand(Some(path)).into(),
        PathQuestion::Tide => LightAction::Tide(Some(path)).into(),
        PathQuestion::PictureFromAbove => BuildAction::LayPicture(path).into(),
        PathQuestion::FootprintsOrHeights => BuildAction::Bring(path).into(),
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        // However the window ends, what was ordered is written.
        self.works.cancel_all();
        self.save(&mut Effects::new(self.works.next_id()));
        self.files.finish();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenes::SCENES;
    use crate::site::{Aim, LoadedSite, parse_site, site_hash};

    fn saltings() -> Desk {
        let text = SCENES[0].text;
        let site = parse_site(text, "saltings").expect("in order");
        let path = std::path::PathBuf::from("saltings.site.ron");
        let loaded = LoadedSite { site, path, text: text.into(), hash: site_hash(text), warnings: Default::default() };
        let survey = Arc::new(Survey::of(loaded));
        let stance = survey.model.site.stance("yard, standing").expect("saved").clone();
        Desk::new(survey, stance, MeasureSettings::default()).expect("a stance")
    }

    #[test]
    fn walking_back_converges_less_and_undo_returns() {
        let mut desk = saltings();
        let convergence = |desk: &Desk| desk.measured().account.convergence.expect("in front").angle().degrees();
        let (start, before) = (desk.stance().clone(), convergence(&desk));
        assert!(desk.act(CameraMove::Walk { ahead_m: -1.0, right_m: 0.0 }));
        for _ in 0..20 {
            desk.act(CameraMove::Walk { ahead_m: -1.0, right_m: 0.0 });
        }
        desk.rest();
        assert!(desk.act(CameraMove::Aim(Aim::Fill)));
        assert!(convergence(&desk) < before);
        assert!(desk.act(CameraAction::Undo) && desk.act(CameraAction::Undo));
        assert_eq!(desk.stance(), &start);
        assert!(!desk.act(CameraAction::Undo));
        assert!(desk.act(CameraAction::Redo));
    }

    #[test]
    fn walls_stop_the_walker_and_steps_are_climbed() {
        let mut desk = saltings();
        desk.act(CameraMove::StandAt(0.0, -5.0));
        desk.act(CameraMove::Aim(Aim::At(0.0, 0.0, 2.0)));
        for _ in 0..50 {
            desk.act(CameraMove::Walk { ahead_m: 0.2, right_m: 0.0 });
        }
        assert!(desk.stance().at.1 < -2.6, "{:?}", desk.stance().at);
        assert_eq!(desk.notices().last().map(|notice| notice.text.as_str()), Some("a wall is in the way"));
        // The steps lead east up to the coal stage.
        desk.act(CameraMove::StandAt(0.2, -38.0));
        desk.act(CameraMove::Aim(Aim::At(30.0, -38.0, 1.6)));
        for _ in 0..60 {
            desk.act(CameraMove::Walk { ahead_m: 0.14, right_m: 0.0 });
        }
        assert!(desk.measured().standing.footing.as_ref().expect("feet").height_m > 2.5);
    }
}
