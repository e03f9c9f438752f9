//! The finder's picture in its materials, ray by ray: made as the camera comes to rest, laid over what the card draws.

use std::sync::Arc;

use crate::site::{Stance, Sun};
use crate::still::{Look, Picture};

use super::arrangement::DeskName;
use super::camera::CameraStore;
use super::effects::{Effect, Effects};
use super::jobs::Outcome;
use super::jobs::exact::exact_picture;
use super::settings::SettingStore;
use super::shown_site::ShownSite;
use super::work::{Thumbnail, WorkId};

/// No side of it is longer; a larger finder stretches it.
const LONGEST_PX: u32 = 2400;

/// What it depends on.
#[derive(Clone, Debug, PartialEq)]
struct ExactKey {
    stance: Stance,
    site: u64,
    sun: Option<Sun>,
    straighten: Option<f64>,
    size_px: (u32, u32),
}

/// The picture, and the one that is being made.
#[derive(Debug, Default)]
pub(super) struct ExactStore {
    made: Option<(ExactKey, Option<Thumbnail>)>,
    making: Option<(WorkId, ExactKey)>,
    /// How many pixels of the frame are shown.
    size_px: (u32, u32),
    version: u64,
}

impl ExactStore {
    /// So many pixels of the frame are shown.
    pub(super) fn shown_at(&mut self, size_px: (u32, u32)) {
        self.size_px = size_px;
    }

    fn key(&self, site: &ShownSite, camera: &CameraStore) -> ExactKey {
        let measured = camera.measured();
        ExactKey {
            stance: camera.stance().clone(),
            site: site.version(),
            sun: measured.sun,
            straighten: camera.straighten(),
            size_px: (self.size_px.0.min(LONGEST_PX), self.size_px.1.min(LONGEST_PX)),
        }
    }

    /// The picture of what is shown now, if it is there; while the window changes its size, the last one.
    pub(super) fn picture(&self, site: &ShownSite, camera: &CameraStore) -> Option<&Thumbnail> {
        let (of, picture) = self.made.as_ref()?;
        let now = ExactKey { size_px: of.size_px, ..self.key(site, camera) };
        picture.as_ref().filter(|_| *of == now)
    }

    /// Makes it once the camera has come to rest.
    pub(super) fn follow(
        &mut self,
        site: &ShownSite,
        camera: &CameraStore,
        settings: &SettingStore,
        effects: &mut Effects,
    ) {
        let is_shown = settings.all().finder_look == Look::Materials
            && matches!(settings.desk_name(), DeskName::Walk | DeskName::HandOver);
        let of = self.key(site, camera);
        let same = |known: Option<&ExactKey>| known == Some(&of);
        if self.making.as_ref().is_some_and(|(_, making)| !is_shown || *making != of)
            && let Some((work, _)) = self.making.take()
        {
            effects.push(Effect::Cancel(work));
        }
        let is_there = same(self.made.as_ref().map(|(made, _)| made));
        if !is_shown || is_there || self.making.is_some() || camera.is_moving() || of.size_px.0 == 0 {
            return;
        }
        let survey = Arc::clone(site.survey());
        let measured = camera.measured().clone();
        let straightened = camera.straightened().and_then(|straightened| straightened.as_ref().ok()).copied();
        let width_px = of.size_px.0;
        let work = effects.start(None, move |progress| {
            Outcome::Exact(exact_picture(&survey, &measured, straightened.as_ref(), width_px, progress))
        });
        self.making = Some((work, of));
    }

    /// It was made; `None` where it was stopped or cannot be.
    pub(super) fn made(&mut self, work: WorkId, picture: Option<Picture>) {
        let Some((_, of)) = self.making.take_if(|(making, _)| *making == work) else { return };
        self.version += 1;
        let version = self.version;
        let picture = picture.map(|picture| Thumbnail {
            width_px: picture.width_px,
            height_px: picture.height_px,
            rgb: picture.rgb.into(),
            version,
        });
        self.made = Some((of, picture));
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId) {
        self.made(work, None);
    }
}
