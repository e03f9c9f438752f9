//! Which picture from above is shown under the plan, and is it read yet?

use std::path::PathBuf;

use crate::site::{Anchor, PlanPoint, Underlay};

use super::effects::{Effect, Effects};
use super::jobs::Outcome;
use super::jobs::underlay::{LaidPicture, LayingOrder, PictureLevels, lay_picture, read_levels};
use super::notices::NoticeKind;
use super::site_change::SiteChange;
use super::work::WorkId;

/// The picture from above as it is shown.
#[derive(Clone, Copy, Debug)]
pub struct UnderlayView<'a> {
    /// Where it lies.
    pub underlay: &'a Underlay,
    /// The picture, or why it cannot be read; absent while it is read.
    pub picture: Option<Result<&'a PictureLevels, &'a str>>,
    /// Another number for every other picture.
    pub version: u64,
}

/// The picture that lies under the plan.
#[derive(Debug, Default)]
pub(super) struct UnderlayStore {
    /// The view in which a picture was asked for.
    asked_in: Option<(PlanPoint, f64)>,
    /// A picture that is being laid.
    laying: Option<WorkId>,
    /// A picture that is being read.
    reading: Option<(WorkId, PathBuf)>,
    read: Option<(PathBuf, Result<PictureLevels, String>)>,
    version: u64,
}

impl UnderlayStore {
    /// A picture is to be laid, in this view: its middle and its width.
    pub(super) fn ask_in(&mut self, middle: PlanPoint, width_m: f64) {
        self.asked_in = Some((middle, width_m));
    }

    /// Lays the picture that was asked for, in the background.
    pub(super) fn lay(&mut self, path: PathBuf, folder: PathBuf, anchor: Option<Anchor>, effects: &mut Effects) {
        // Nobody looks at a plan narrower than this, and one that nobody has looked at is as wide.
        const WIDTH_M: f64 = 100.0;
        let view = self.asked_in.take().unwrap_or(((0.0, 0.0), WIDTH_M));
        if let Some(earlier) = self.laying.take() {
            effects.push(Effect::Cancel(earlier));
        }
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        let order = LayingOrder { path, folder, anchor, view };
        let work = move |_: &_| Outcome::PictureLaid(Box::new(lay_picture(&order)));
        self.laying = Some(effects.start(Some(format!("Reading {name}")), work));
        effects.change();
    }

    /// A picture was laid: the change of the site that it stands for, where it is still wanted.
    pub(super) fn laid(
        &mut self,
        work: WorkId,
        laid: Result<LaidPicture, String>,
        effects: &mut Effects,
    ) -> Option<SiteChange> {
        self.laying.take_if(|laying| *laying == work)?;
        match laid {
            Ok(LaidPicture { laying, path, levels }) => {
                for note in laying.notes {
                    effects.notice(NoticeKind::News, note);
                }
                self.keep(path, Ok(levels));
                Some(SiteChange::SetUnderlay(Some(laying.underlay)))
            }
            Err(why) => {
                effects.notice(NoticeKind::Error, format!("the picture is not laid: {why}"));
                None
            }
        }
    }

    /// Has the picture of the site read that is shown, where it is not yet.
    pub(super) fn follow(&mut self, path: Option<PathBuf>, effects: &mut Effects) {
        let Some(path) = path else {
            (self.read, self.reading) = (None, None);
            return;
        };
        let known = self.read.as_ref().map(|(path, _)| path).or(self.reading.as_ref().map(|(_, path)| path));
        if known == Some(&path) {
            return;
        }
        self.read = None;
        let wanted = path.clone();
        let work = effects.start(None, move |_| Outcome::UnderlayRead(Box::new(read_levels(&wanted))));
        self.reading = Some((work, path));
    }

    /// A picture was read.
    pub(super) fn was_read(&mut self, work: WorkId, levels: Result<PictureLevels, String>) {
        if let Some((_, path)) = self.reading.take_if(|(reading, _)| *reading == work) {
            self.keep(path, levels);
        }
    }

    /// A piece of work broke, or could not be started.
    pub(super) fn broke(&mut self, work: WorkId) {
        self.laying = self.laying.filter(|laying| *laying != work);
        self.was_read(work, Err("reading it failed".into()));
    }

    fn keep(&mut self, path: PathBuf, levels: Result<PictureLevels, String>) {
        (self.read, self.reading) = (Some((path, levels)), None);
        self.version += 1;
    }

    /// What is shown of the picture that a site lays.
    pub(super) fn view<'a>(&'a self, underlay: &'a Underlay) -> UnderlayView<'a> {
        let picture = self.read.as_ref().map(|(_, read)| read.as_ref().map_err(String::as_str));
        UnderlayView { underlay, picture, version: self.version }
    }
}
