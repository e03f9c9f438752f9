//! What do panels, scripts and tests see of the stores?

use std::path::PathBuf;
use std::sync::Arc;

use crate::faults::SiteFault;
use crate::handover::plane_of;
use crate::optics::{Camera, Lens};
use crate::place::{Declination, declination};
use crate::plan::{Plan, PrintId};
use crate::pose::Pose;
use crate::site::{PlanPoint, SiteProblems, Stance, Sun};
use crate::still::Look;
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::verticals::{StraightenFailure, Straightened};
use crate::viewer::state::arrangement::DeskName;
use crate::viewer::state::clock::today;
use crate::viewer::state::delivery::{DeliveryView, StillFiles};
use crate::viewer::state::dialog::PathQuestion;
use crate::viewer::state::notices::Notice;
use crate::viewer::state::opening::Source;
use crate::viewer::state::prints::Pinned;
use crate::viewer::state::search::{SearchInputs, SearchView};
use crate::viewer::state::settings::Settings;
use crate::viewer::state::ways::{WaysInputs, WaysView};
use crate::viewer::state::work::{Thumbnail, Wake, WorkView};

use super::{Desk, LightView, Picked, SiteSaving, UnderlayView, plan_parts};

impl Desk {
    /// The site.
    pub fn survey(&self) -> &Arc<Survey> {
        self.site.survey()
    }

    /// The site as its file has it, whatever the tide.
    pub fn filed_survey(&self) -> &Arc<Survey> {
        self.site.filed()
    }

    /// Grows when another site is shown, or the same one changed.
    pub fn site_version(&self) -> u64 {
        self.site.version()
    }

    /// Grows when another site is opened, and not when the same one changes.
    pub fn site_opened(&self) -> u64 {
        self.site.opened()
    }

    /// Whether the chosen stances are shown full screen.
    pub fn is_showing(&self) -> bool {
        self.showing.is_on()
    }

    /// Whether the camera of the presentation is under way.
    pub fn is_gliding(&self) -> bool {
        self.showing.is_moving()
    }

    /// The stance that the presentation shows, or has just left.
    pub fn shown_stance(&self) -> Option<&Stance> {
        self.showing.stance()
    }

    /// The camera whose picture is shown, and how it is turned: that of the presentation, the straightened one, or the camera as
    /// it stands.
    pub fn shown_camera(&self) -> (Camera, Pose) {
        let standing = &self.measured().standing;
        match (self.showing.shown(), self.straightened()) {
            (Some(shown), _) => shown,
            (None, Some(Ok(straight))) => (straight.camera, Pose { attitude: straight.attitude, ..standing.pose }),
            (None, _) => (standing.camera, standing.pose),
        }
    }

    /// The stance as described now.
    pub fn stance(&self) -> &Stance {
        self.camera.stance()
    }

    /// What is measured from it; the tolerance is there once the camera has come to rest.
    pub fn measured(&self) -> &Measured {
        self.camera.measured()
    }

    /// What is measured by.
    pub fn measure_settings(&self) -> &MeasureSettings {
        self.camera.measure_settings()
    }

    /// Where the sun stands.
    pub fn sun(&self) -> Option<Sun> {
        self.camera.measured().sun
    }

    /// Whether there is a move to take back, and one to make again.
    pub fn can_undo_redo(&self) -> (bool, bool) {
        self.camera.can_undo_redo()
    }

    /// The share of the tilt that is taken out of the picture shown; nothing while it is shown as taken.
    pub fn straighten(&self) -> Option<f64> {
        self.camera.straighten()
    }

    /// The straightened picture that is to be shown, or why there is none; absent while it is shown as taken, and on a
    /// site without a subject.
    pub fn straightened(&self) -> Option<&Result<Straightened, StraightenFailure>> {
        self.camera.straightened()
    }

    /// How far a compass needle is off where the camera stands, today; absent on a site without an anchor.
    pub fn compass(&self) -> Option<Result<Declination, String>> {
        let eye = &self.measured().standing.pose.eye;
        let place = plane_of(&self.survey().model.site)?.geographic_from_world(eye)?;
        Some(declination(&place, today()?).map_err(|error| error.to_string()))
    }

    /// Every error, caution and piece of news, oldest first.
    pub fn notices(&self) -> &[Notice] {
        self.notices.list()
    }

    /// The plan as it is to be saved with the site.
    pub fn plan(&self) -> Plan {
        let parts = plan_parts(&self.camera, &self.prints, &self.search, &self.delivery, &self.light, &self.settings);
        parts.to_plan(self.files.last())
    }

    /// The prints in their order, each with what is measured from it.
    pub fn prints(&self) -> &[Pinned] {
        self.prints.pinned()
    }

    /// A print by its number.
    pub fn print(&self, id: PrintId) -> Option<&Pinned> {
        self.prints.pinned_print(id)
    }

    /// The print that readings are compared with.
    pub fn against(&self) -> Option<&Pinned> {
        self.print(self.prints.against()?)
    }

    /// The print whose picture lies over the finder.
    pub fn over_finder(&self) -> Option<&Pinned> {
        self.print(self.prints.over()?)
    }

    /// The prints that lie side by side, at most four.
    pub fn laid(&self) -> impl Iterator<Item = &Pinned> {
        self.prints.laid().iter().filter_map(|id| self.print(*id))
    }

    /// Whether there is a print that can be brought back.
    pub fn can_put_back(&self) -> bool {
        self.prints.can_restore()
    }

    /// Whether the stance shown is the one flicked to.
    pub fn flicked(&self) -> bool {
        self.prints.flicked_to(self.stance())
    }

    /// What is chosen on the Build desk.
    pub fn chosen(&self) -> &[Picked] {
        self.build.chosen()
    }

    /// What is probably not as meant on the site, as of the last rest.
    pub fn site_suspects(&self) -> &[SiteFault] {
        self.build.faults()
    }

    /// What becomes of the verdict if the subject is as much taller or shorter as its height is uncertain.
    pub fn height_doubt(&self) -> &[String] {
        self.build.doubt(self.site_version(), self.stance())
    }

    /// The picture from above under the plan, if the site has one.
    pub fn underlay(&self) -> Option<UnderlayView<'_>> {
        self.build.underlay(&self.site)
    }

    /// How the site's file stands to what is shown.
    pub fn site_saving(&self) -> &SiteSaving {
        self.build.saving()
    }

    /// The text of the site's file as it is shown.
    pub fn site_text(&self) -> Option<&str> {
        self.build.text()
    }

    /// The site without what a hand just tries; the one shown where it tries nothing.
    pub fn survey_before_trial(&self) -> &Arc<Survey> {
        self.build.survey_before_trial().unwrap_or(self.site.survey())
    }

    /// What was done, oldest first, and what was taken back of it.
    pub fn steps(&self) -> (Vec<&str>, Vec<&str>) {
        let (past, future) = self.camera.steps();
        (past.collect(), future.collect())
    }

    /// Which arrangement is shown.
    pub fn desk_name(&self) -> DeskName {
        self.settings.desk_name()
    }

    /// What is remembered.
    pub fn settings(&self) -> &Settings {
        self.settings.all()
    }

    /// The lenses in the bag: all of the kit unless the planner has chosen.
    pub fn carried(&self) -> impl Iterator<Item = &Lens> {
        self.settings.carried(&self.survey().kit)
    }

    /// Whether a lens is in the bag.
    pub fn carries(&self, lens: &str) -> bool {
        self.settings.carries(lens)
    }

    /// Whether the first-minute guide is shown.
    pub fn guide(&self) -> bool {
        self.settings.guide()
    }

    /// Whether the help is shown.
    pub fn help(&self) -> bool {
        self.settings.help()
    }

    /// The ways that were found last; `None` until the camera has come to rest for the first time.
    pub fn ways(&self) -> Option<WaysView<'_>> {
        let (site, camera, settings) = (&self.site, &self.camera, &self.settings);
        self.ways.view(&WaysInputs { site, camera, settings, is_tried: false })
    }

    /// Whether a hand tries something on the site, which will be otherwise in the next frame.
    pub(super) fn is_tried(&self) -> bool {
        self.build.survey_before_trial().is_some()
    }

    /// The day and hour whose light is shown, and what is known of them.
    pub fn light(&self) -> LightView<'_> {
        self.light.view(&self.site, &self.camera)
    }

    /// What the Search desk requires, and what was found.
    pub fn search(&self) -> SearchView<'_> {
        let inputs = SearchInputs { site: &self.site, stance: self.stance(), settings: &self.settings };
        self.search.view(&inputs, &self.works.shown())
    }

    /// The very stance whose figures the map of the search shows at a place; none where it shows none, or shows another site.
    pub fn stance_on_map(&self, at: PlanPoint) -> Option<Stance> {
        self.search.stance_at(&self.site, at)
    }

    /// What the Hand over desk shows.
    pub fn delivery(&self) -> DeliveryView<'_> {
        self.delivery.view(&self.prints)
    }

    /// Whether a print goes into sheets and places.
    pub fn goes_in(&self, id: PrintId) -> bool {
        self.delivery.goes_in(id)
    }

    /// Where captures and everything else that is handed over go.
    pub fn folder(&self) -> Option<&PathBuf> {
        self.delivery.folder()
    }

    /// The stills in the chosen folder, as far as they were taken here or lay there when the site was opened.
    pub fn captures(&self) -> &[StillFiles] {
        self.delivery.captures()
    }

    /// So many pixels of the frame are shown: the size of a capture that is not taken in full.
    pub fn shown_at(&mut self, width_px: u32, height_px: u32) {
        self.delivery.shown_at(width_px, height_px);
        self.exact.shown_at((width_px, height_px));
    }

    /// The finder's picture in its materials, where the site is shown in them and the camera has come to rest.
    pub fn exact_picture(&self) -> Option<&Thumbnail> {
        (self.settings().finder_look == Look::Materials).then(|| self.exact.picture(&self.site, &self.camera)).flatten()
    }

    /// What is being worked on.
    ///
    /// While there is any, the window looks again a few times a second to show how far it is.
    pub fn works(&self) -> Vec<WorkView> {
        self.works.shown()
    }

    /// What wakes the window: connect it once the window is there.
    pub fn wake(&self) -> &Wake {
        self.files.wake()
    }

    /// Where the site that is shown comes from; absent where nothing is saved.
    pub fn source(&self) -> Option<&Source> {
        self.files.source()
    }

    /// Which question for a typed path is open, where the desktop has no dialog.
    pub fn asking(&self) -> Option<PathQuestion> {
        self.files.question()
    }

    /// What is wrong with the site's file as it now lies on disk, in full; the last good site is shown meanwhile.
    pub fn site_problems(&self) -> Option<&str> {
        self.files.problems().map(|error| error.text.as_str())
    }

    /// The same one by one, where the file could be read.
    pub fn site_faults(&self) -> Option<&SiteProblems> {
        self.files.problems().map(|error| &error.problems)
    }

    /// Whether the window is to be closed.
    pub fn leaving(&self) -> bool {
        self.leaving
    }
}
