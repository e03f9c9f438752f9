//! Which small pictures of prints and found places are there? The missing ones are drawn one after the other.

use std::sync::Arc;

use crate::site::Stance;
use crate::still::Picture;
use crate::survey::Survey;

use super::effects::Effects;
use super::jobs::Outcome;
use super::jobs::thumbnail::{ThumbnailKey, ThumbnailLook, thumbnail};
use super::work::{Thumbnail, WorkId};

/// The most that are kept; the oldest goes first.
const MOST_PICTURES: usize = 300;

/// The small pictures.
#[derive(Debug, Default)]
pub(super) struct ThumbnailStore {
    made: Vec<(ThumbnailKey, Option<Thumbnail>)>,
    making: Option<WorkId>,
    next_version: u64,
}

impl ThumbnailStore {
    /// A picture that was drawn, or `None` within where there can be none.
    pub(super) fn find(
        &self,
        stance: &Stance,
        look: ThumbnailLook,
        long_px: u32,
        away: &[String],
    ) -> Option<&Option<Thumbnail>> {
        let is_it = |key: &ThumbnailKey| {
            key.look == look && key.long_px == long_px && key.away == away && key.stance == *stance
        };
        self.made.iter().find(|(key, _)| is_it(key)).map(|(_, picture)| picture)
    }

    /// Draws a missing one, unless another is being drawn.
    pub(super) fn draw(&mut self, key: ThumbnailKey, survey: &Arc<Survey>, effects: &mut Effects) {
        if self.making.is_some() {
            return;
        }
        let survey = Arc::clone(survey);
        self.making = Some(effects.start(None, move |progress| {
            let picture = thumbnail(&survey, &key, progress);
            Outcome::Thumbnail(Box::new((key, picture)))
        }));
    }

    pub(super) fn drawn(&mut self, key: ThumbnailKey, picture: Option<Picture>) {
        self.making = None;
        self.next_version += 1;
        let version = self.next_version;
        let thumbnail = picture.map(|picture| Thumbnail {
            width_px: picture.width_px,
            height_px: picture.height_px,
            rgb: picture.rgb.into(),
            version,
        });
        if self.made.len() >= MOST_PICTURES {
            self.made.remove(0);
        }
        self.made.push((key, thumbnail));
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId) {
        self.making = self.making.filter(|making| *making != work);
    }
}
