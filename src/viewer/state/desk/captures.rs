//! How are stills taken and thumbnails drawn while the window goes on?

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::handover::capture::Shot;
use crate::handover::deliver::{
    DeliveryError, DeliveryRequest, Destination, IfExists, deliver, file_stem, record_beside,
};
use crate::plan::PrintId;
use crate::progress::Progress;
use crate::site::{Stance, Sun};
use crate::still::{Picture, Scene, Style, View, render};
use crate::survey::Survey;
use crate::theme::Theme;
use crate::viewer::state::work::Thumbnail;

use super::Asking;
use super::Desk;
use super::DeskName;
use super::NoticeKind;
use super::Outcome;

/// Pixels along the longer side of a print's picture, and of one laid beside others.
const SMALL_PX: u32 = 420;
const LAID_PX: u32 = 1000;
/// The most pictures of prints that are kept.
const MOST_PICTURES: usize = 300;

/// A still that was taken: the picture, and its record beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StillFiles {
    /// The picture.
    pub picture: PathBuf,
    /// Its record.
    pub record: PathBuf,
}

/// What a print's picture depends on.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PictureKey {
    stance: Stance,
    site: u64,
    sun: Option<Sun>,
    theme: Theme,
    long_px: u32,
    /// Blocks that were away where the stance was found.
    away: Vec<String>,
}

/// The prints' pictures.
#[derive(Debug, Default)]
pub(super) struct Pictures {
    made: Vec<(PictureKey, Option<Thumbnail>)>,
    making: bool,
    next_version: u64,
}

impl Desk {
    /// The stills in the chosen folder, as far as they were taken here or lay there when the site was opened.
    pub fn captures(&self) -> &[StillFiles] {
        &self.captures
    }

    /// Tells how many pixels of the frame are shown, which is the size of a capture that is not taken in full.
    pub fn shown_at(&mut self, width_px: u32, height_px: u32) {
        if width_px > 0 && height_px > 0 {
            self.shown_px = Some((width_px, height_px));
        }
    }

    pub(super) fn capture(&mut self, full: bool, folder: Option<PathBuf>) -> bool {
        if let Some(folder) = folder {
            self.plan.folder = Some(folder);
            self.asking = None;
        }
        let Some(folder) = self.plan.folder.clone() else {
            // The answer takes the picture.
            self.capture_waits = Some(full);
            return self.ask(Asking::Folder);
        };
        let name = format!("{}.png", file_stem(&self.survey.model.site.name, &self.stance.name));
        let destination = Destination {
            path: self.folder_in_full(&folder).join(name),
            // Of a stance there may be any number of stills.
            if_exists: IfExists::KeepBoth,
            make_folder: true,
        };
        let mut settings = self.measure_settings;
        settings.measures.tilt_left = self.straighten.map_or(settings.measures.tilt_left, |share| 1.0 - share);
        let request = DeliveryRequest::Still {
            stance: self.stance.clone(),
            settings,
            shot: Shot { theme: self.settings.theme, straightened: self.straighten.is_some(), ..Shot::default() },
            within_px: (!full).then(|| self.shown_px.unwrap_or((1200, 1200))),
        };
        let survey = Arc::clone(&self.survey);
        let title = format!("Taking a still of {}", survey.model.site.name);
        let work = move |progress: &Progress| {
            Outcome::Captured(match deliver(&survey, &request, None, &destination, progress) {
                Ok(delivered) => {
                    Ok(Some(StillFiles { record: record_beside(&delivered.path), picture: delivered.path }))
                }
                Err(DeliveryError::Cancelled) => Ok(None),
                Err(error) => Err(error.to_string()),
            })
        };
        let started = self.works.start(Some(title), work);
        self.refused_work(started.is_none())
    }

    pub(super) fn captured(&mut self, taken: Result<Option<StillFiles>, String>) {
        match taken {
            Ok(Some(still)) => {
                let text = format!("{} is written, with its record beside it", still.picture.display());
                self.notices.tell(NoticeKind::Told, text);
                self.captures.push(still);
            }
            Ok(None) => self.notices.tell(NoticeKind::Told, "the still was called off; nothing is written"),
            Err(text) => self.notices.tell(NoticeKind::Error, text),
        }
    }

    /// Lists the stills that lie in the chosen folder.
    pub(super) fn list_captures(&mut self) {
        self.captures.clear();
        let Some(folder) = self.plan.folder.as_ref().map(|folder| self.folder_in_full(folder)) else { return };
        // A folder that is not there yet has no captures.
        let Ok(entries) = std::fs::read_dir(folder) else { return };
        let mut found: Vec<StillFiles> = entries
            .flatten()
            .map(|entry| entry.path())
            .filter_map(|picture| {
                let record = record_beside(&picture);
                (picture.extension()? == "png" && record.is_file()).then_some(StillFiles { picture, record })
            })
            .collect();
        found.sort_by(|a, b| a.picture.cmp(&b.picture));
        self.captures = found;
    }

    /// A folder that is not written out in full lies beside the site.
    pub(super) fn folder_in_full(&self, folder: &Path) -> PathBuf {
        match &self.keeping.source {
            Some(crate::viewer::state::opening::Source::File(path)) => {
                path.parent().map_or_else(|| folder.into(), |beside| beside.join(folder))
            }
            _ => folder.into(),
        }
    }

    /// A file that is not written out in full lies beside the site, too.
    pub(super) fn beside_site(&self, path: &Path) -> PathBuf {
        self.folder_in_full(path)
    }

    /// Gives every print and every place that was found the picture that is there, and has the next missing one made.
    pub(super) fn show_thumbnails(&mut self) {
        let (site, sun, theme) = (self.site_version, self.sun(), self.settings.theme);
        // Large pictures are wanted where prints lie side by side, and nowhere else.
        let laid: &[PrintId] = if self.desk_name == DeskName::Compare { &self.plan.laid } else { &[] };
        let mut missing = None;
        for pinned in &mut self.album.pinned {
            if pinned.measured.is_err() {
                continue;
            }
            let long_px = if laid.contains(&pinned.print.id) { LAID_PX } else { SMALL_PX };
            let stance = pinned.print.stance.clone();
            let key = PictureKey { stance, site, sun, theme, long_px, away: Vec::new() };
            match self.pictures.made.iter().find(|(known, _)| *known == key) {
                Some((_, picture)) => pinned.thumbnail = picture.clone().or(pinned.thumbnail.take()),
                None if missing.is_none() => missing = Some((key, Arc::clone(&self.survey))),
                None => {}
            }
        }
        if self.desk_name == DeskName::Search
            && let Some((reduced, ranked)) = self.listed()
        {
            let away = self.away();
            let mut pictures = Vec::with_capacity(ranked.len());
            for found in ranked {
                let (stance, away) = (found.stance.clone(), away.clone());
                let key = PictureKey { stance, site, sun, theme, long_px: SMALL_PX, away };
                let made = self.pictures.made.iter().find(|(known, _)| *known == key);
                if made.is_none() && missing.is_none() {
                    missing = Some((key, Arc::clone(reduced.unwrap_or(&self.survey))));
                }
                pictures.push(made.and_then(|(_, picture)| picture.clone()));
            }
            self.set_listed_thumbnails(pictures);
        }
        let Some((key, survey)) = missing.filter(|_| !self.pictures.making) else { return };
        let started = self.works.start(None, move |progress| {
            let picture = thumbnail(&survey, &key, progress);
            Outcome::Thumbnail(Box::new((key, picture)))
        });
        self.pictures.making = started.is_some();
    }

    pub(super) fn thumbnail_made(&mut self, key: PictureKey, picture: Option<Picture>) {
        self.pictures.making = false;
        self.pictures.next_version += 1;
        let version = self.pictures.next_version;
        let thumbnail = picture.map(|picture| Thumbnail {
            width_px: picture.width_px,
            height_px: picture.height_px,
            rgb: picture.rgb.into(),
            version,
        });
        if self.pictures.made.len() >= MOST_PICTURES {
            self.pictures.made.remove(0);
        }
        self.pictures.made.push((key, thumbnail));
    }

    /// The work that was to make a picture failed.
    pub(super) fn thumbnail_failed(&mut self) {
        self.pictures.making = false;
    }
}

fn thumbnail(survey: &Survey, key: &PictureKey, progress: &Progress) -> Option<Picture> {
    let standing = survey.stand(&key.stance).ok()?;
    let mut camera = standing.camera;
    let frame = camera.frame;
    let longer = f64::from(frame.width_px.max(frame.height_px));
    let width_px = (f64::from(frame.width_px) * f64::from(key.long_px) / longer).round() as u32;
    camera.frame = frame.with_width_px(width_px);
    let style = Style { theme: key.theme, sun: key.sun, samples: 2, ..Style::default() };
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    render(&scene, &View { camera, pose: standing.pose, focus: None }, &style, progress).ok()
}
