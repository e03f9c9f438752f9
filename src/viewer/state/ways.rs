//! What would straighten it from here? Looked for in the background whenever the camera has come to rest.

use std::sync::Arc;

use crate::site::Stance;
use crate::survey::MeasureSettings;
use crate::ways::{Options, Ways, ways};

use super::arrangement::DeskName;
use super::camera::CameraStore;
use super::effects::Effects;
use super::jobs::Outcome;
use super::settings::SettingStore;
use super::shown_site::ShownSite;
use super::work::WorkId;

/// What the ways depend on.
#[derive(Clone, Debug, PartialEq)]
struct WaysKey {
    stance: Stance,
    measure_settings: MeasureSettings,
    bag: Vec<String>,
    site: u64,
}

impl WaysKey {
    fn of(inputs: &WaysInputs<'_>) -> Self {
        let WaysInputs { site, camera, settings, is_tried: _ } = inputs;
        Self {
            stance: camera.stance().clone(),
            measure_settings: *camera.measure_settings(),
            bag: settings.carried(&site.survey().kit).map(|lens| lens.name.clone()).collect(),
            site: site.version(),
        }
    }
}

/// What is looked at to find the ways.
#[derive(Clone, Copy)]
pub(super) struct WaysInputs<'a> {
    pub(super) site: &'a ShownSite,
    pub(super) camera: &'a CameraStore,
    pub(super) settings: &'a SettingStore,
    /// Whether a hand tries something on the site, which will be otherwise in the next frame.
    pub(super) is_tried: bool,
}

/// The ways that were found last, and those being looked for.
#[derive(Debug, Default)]
pub(super) struct WaysStore {
    found: Option<(WaysKey, Result<Ways, String>)>,
    running: Option<(WorkId, WaysKey)>,
}

/// The ways as the window shows them.
#[derive(Clone, Copy, Debug)]
pub struct WaysView<'a> {
    /// The ways, or why there are none.
    pub found: &'a Result<Ways, String>,
    /// The stance they start from, unless that is where the camera stands now.
    pub elsewhere: Option<&'a str>,
}

impl WaysStore {
    /// The ways that were found last; `None` until the camera has come to rest for the first time.
    pub(super) fn view(&self, inputs: &WaysInputs<'_>) -> Option<WaysView<'_>> {
        let (key, found) = self.found.as_ref()?;
        let elsewhere = (*key != WaysKey::of(inputs)).then_some(key.stance.name.as_str());
        Some(WaysView { found, elsewhere })
    }

    /// Looks for the ways from here, where the desk shows them and they are not known.
    pub(super) fn look(&mut self, inputs: &WaysInputs<'_>, effects: &mut Effects) {
        // One at a time: what is not wanted any more takes a moment only.
        let shown = matches!(inputs.settings.desk_name(), DeskName::Walk | DeskName::Build);
        if self.running.is_some() || !shown || inputs.is_tried {
            return;
        }
        let key = WaysKey::of(inputs);
        if self.found.as_ref().is_some_and(|(found, _)| *found == key) {
            return;
        }
        let (survey, of) = (Arc::clone(inputs.site.survey()), key.clone());
        let work = effects.start(None, move |_| {
            let options = Options { bag: of.bag, ..Options::default() };
            let found = ways(&survey, &of.stance, &of.measure_settings, &options);
            Outcome::Ways(Box::new(found.map_err(|error| error.to_string())))
        });
        self.running = Some((work, key));
    }

    /// Takes in what was found.
    pub(super) fn found(
        &mut self,
        work: WorkId,
        found: Result<Ways, String>,
        inputs: &WaysInputs<'_>,
        effects: &mut Effects,
    ) {
        let Some((_, key)) = self.running.take_if(|(running, _)| *running == work) else { return };
        self.found = Some((key, found));
        if !inputs.camera.is_moving() {
            self.look(inputs, effects);
        }
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId, inputs: &WaysInputs<'_>, effects: &mut Effects) {
        self.found(work, Err("the task failed; move to try again".into()), inputs, effects);
    }
}
