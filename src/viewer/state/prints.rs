//! Which stances are pinned, what is measured from each, and how do they compare?

use std::sync::Arc;

use crate::plan::{LONGEST_NAME, LONGEST_NOTE, MOST_LAID, MOST_PRINTS, Print, PrintId, free_name};
use crate::site::Stance;
use crate::survey::{MeasureSettings, Measured};
use crate::ways::{Options, four_heights};

use super::camera::CameraStore;
use super::effects::{Effect, Effects};
use super::notices::NoticeKind;
use super::print_step::PrintStep;
use super::shown_site::ShownSite;
use super::work::Thumbnail;

/// What happens to the prints.
#[derive(Clone, Debug, PartialEq)]
pub enum PrintAction {
    /// Keep the present stance as a print.
    Pin,
    /// Keep another stance as a print, such as one that a search found.
    PinStance(Box<Stance>),
    /// Remove a print.
    Unpin(PrintId),
    /// Bring back the print that was removed last.
    Restore,
    /// Call a print something else.
    Rename(PrintId, String),
    /// Write on a print's back.
    Note(PrintId, String),
    /// Put a print at this place in the order.
    Move(PrintId, usize),
    /// Compare readings with a print, or with nothing.
    CompareWith(Option<PrintId>),
    /// Lay a print beside the others on Compare, or remove it from them.
    Lay(PrintId, bool),
    /// Pin the standpoint from the ground, a ladder, a deck or vehicle and a drone, and lay these four side by side.
    FourHeights,
    /// Lay a print's picture half through over the finder, or take it off.
    LayOver(Option<PrintId>),
    /// Swap the present stance with the one it is compared with, and back.
    Flick,
    /// Take up a print's stance.
    TakeUp(PrintId),
}

/// A print with what is measured from its stance.
#[derive(Clone, Debug)]
pub struct Pinned {
    /// Its name, note and stance.
    pub print: Print,
    /// What is measured from it on the site as it is now, or why nothing can be.
    pub measured: Result<Arc<Measured>, String>,
    /// Its picture, once it is there.
    pub thumbnail: Option<Thumbnail>,
}

/// The prints of the plan, and what is measured from them.
#[derive(Debug)]
pub(super) struct PrintStore {
    /// In the planner's order.
    prints: Vec<Print>,
    /// Those laid side by side, at most [`MOST_LAID`].
    laid: Vec<PrintId>,
    /// The one that readings are compared with.
    against: Option<PrintId>,
    /// The one whose picture lies over the finder.
    over: Option<PrintId>,
    /// The prints as they are shown: see [`Self::measure`].
    pinned: Vec<Pinned>,
    /// On which site and by what they are measured.
    measured_with: Option<(u64, MeasureSettings)>,
    /// Whether the prints have changed since.
    has_changed: bool,
    /// The stance that was left by a flick.
    flicked_from: Option<Stance>,
    /// The prints that were removed, with their places.
    removed: Vec<(usize, Print)>,
    /// Distinguishes this window's prints from those of others.
    salt: u64,
    pinned_here: u64,
}

impl PrintStore {
    pub(super) fn new() -> Self {
        Self {
            prints: Vec::new(),
            laid: Vec::new(),
            against: None,
            over: None,
            pinned: Vec::new(),
            measured_with: None,
            has_changed: false,
            flicked_from: None,
            removed: Vec::new(),
            salt: salt(),
            pinned_here: 0,
        }
    }

    /// The prints in their order, each with what is measured from it.
    pub(super) fn pinned(&self) -> &[Pinned] {
        &self.pinned
    }

    pub(super) fn pinned_print(&self, id: PrintId) -> Option<&Pinned> {
        self.pinned.iter().find(|pinned| pinned.print.id == id)
    }

    pub(super) fn prints(&self) -> &[Print] {
        &self.prints
    }

    pub(super) fn print(&self, id: PrintId) -> Option<&Print> {
        self.prints.iter().find(|print| print.id == id)
    }

    pub(super) fn laid(&self) -> &[PrintId] {
        &self.laid
    }

    pub(super) fn against(&self) -> Option<PrintId> {
        self.against
    }

    pub(super) fn over(&self) -> Option<PrintId> {
        self.over
    }

    pub(super) fn can_restore(&self) -> bool {
        !self.removed.is_empty()
    }

    /// Whether a stance is the one flicked to.
    pub(super) fn flicked_to(&self, stance: &Stance) -> bool {
        let against = self.against.and_then(|id| self.print(id));
        self.flicked_from.is_some() && against.is_some_and(|print| print.stance == *stance)
    }

    /// The prints of another site are shown.
    pub(super) fn open(&mut self, prints: Vec<Print>, laid: Vec<PrintId>, against: Option<PrintId>) {
        (self.pinned, self.flicked_from, self.removed) = (Vec::new(), None, Vec::new());
        self.replace(prints, laid, against);
    }

    /// The same prints as another window has changed them.
    pub(super) fn replace(&mut self, prints: Vec<Print>, laid: Vec<PrintId>, against: Option<PrintId>) {
        (self.prints, self.laid, self.against, self.has_changed) = (prints, laid, against, true);
    }

    /// Brings what is shown into line with the prints, the site and what is measured by; what is known of a stance is not
    /// measured again.
    pub(super) fn measure(&mut self, site: &ShownSite, settings: &MeasureSettings) {
        let with = Some((site.version(), *settings));
        if self.measured_with == with && !self.has_changed {
            return;
        }
        let mut known = std::mem::take(&mut self.pinned);
        if self.measured_with != with {
            known.clear();
        }
        (self.measured_with, self.has_changed) = (with, false);
        self.pinned = self
            .prints
            .iter()
            .map(|print| {
                let same = known.iter().position(|known| known.print.stance == print.stance);
                let (measured, thumbnail) = match same.map(|index| known.swap_remove(index)) {
                    Some(known) => (known.measured, known.thumbnail),
                    None => {
                        let measured = site.survey().measure(&print.stance, settings);
                        (measured.map(Arc::new).map_err(|error| error.to_string()), None)
                    }
                };
                Pinned { print: print.clone(), measured, thumbnail }
            })
            .collect();
    }

    /// Gives every print that can be measured the picture that there is of it: `picture` of its number and stance.
    pub(super) fn show_thumbnails(&mut self, mut picture: impl FnMut(PrintId, &Stance) -> Option<Thumbnail>) {
        for pinned in self.pinned.iter_mut().filter(|pinned| pinned.measured.is_ok()) {
            if let Some(picture) = picture(pinned.print.id, &pinned.print.stance) {
                pinned.thumbnail = Some(picture);
            }
        }
    }

    /// Compare with nothing laid down would say nothing: it shows the first two prints.
    pub(super) fn lay_first(&mut self) {
        if self.laid.iter().all(|id| self.print(*id).is_none()) && self.prints.len() > 1 {
            self.laid = self.prints.iter().take(2).map(|print| print.id).collect();
        }
    }

    pub(super) fn act(&mut self, action: PrintAction, site: &ShownSite, camera: &CameraStore, effects: &mut Effects) {
        let changed = match action {
            PrintAction::Pin => {
                let (stance, mut measured) = (camera.stance().clone(), camera.measured().clone());
                if measured.tolerance.is_none() {
                    let settings = camera.measure_settings();
                    let both = site.survey().tolerances(&stance, &measured.standing, settings);
                    measured.tolerance = both.map(|both| both.anew);
                    measured.tolerance_as_set = both.map(|both| both.as_set);
                }
                self.pin(stance, measured, effects)
            }
            PrintAction::PinStance(stance) => match site.survey().measure(&stance, camera.measure_settings()) {
                Ok(measured) => self.pin(*stance, measured, effects),
                Err(error) => return effects.passing_notice(NoticeKind::Error, error.to_string()),
            },
            PrintAction::Unpin(id) => {
                let removed = self.remove(id);
                if removed {
                    effects.push(Effect::PrintStep(PrintStep::Removed(id)));
                }
                removed
            }
            PrintAction::Restore => self.restore(),
            PrintAction::Rename(id, name) => self.rename(id, &name, effects),
            PrintAction::Note(id, note) => {
                self.with_print(id, |print| print.note = note.chars().take(LONGEST_NOTE).collect())
            }
            PrintAction::Move(id, place) => self.move_to(id, place),
            PrintAction::CompareWith(None) => {
                self.flicked_from = None;
                self.against.take().is_some()
            }
            PrintAction::CompareWith(Some(id)) => {
                self.flicked_from = None;
                self.print(id).is_some() && self.against.replace(id) != Some(id)
            }
            PrintAction::LayOver(id) => {
                let over = id.filter(|id| self.print(*id).is_some());
                std::mem::replace(&mut self.over, over) != over
            }
            PrintAction::Lay(id, laid) => self.lay(id, laid, effects),
            PrintAction::FourHeights => self.pin_four_heights(site, camera, effects),
            PrintAction::Flick => return self.flick(camera.stance(), effects),
            PrintAction::TakeUp(id) => {
                let stance = self.print(id).map(|print| &print.stance).filter(|stance| *stance != camera.stance());
                if let Some(stance) = stance {
                    effects.push(Effect::GoTo(Box::new(stance.clone())));
                }
                return;
            }
        };
        if changed {
            self.has_changed = true;
            effects.push(Effect::Done);
            effects.change();
        }
    }

    /// Takes a print back that was pinned, as Undo does.
    pub(super) fn take_back(&mut self, id: PrintId) {
        self.has_changed |= self.remove(id);
    }

    /// Pins a print again that was removed.
    pub(super) fn bring_back(&mut self, id: PrintId) {
        let Some(last) = self.removed.iter().rposition(|(_, print)| print.id == id) else { return };
        let removed = self.removed.remove(last);
        self.removed.push(removed);
        self.has_changed |= self.restore();
    }

    fn pin(&mut self, stance: Stance, measured: Measured, effects: &mut Effects) -> bool {
        if self.prints.len() >= MOST_PRINTS {
            let text = format!("{MOST_PRINTS} prints are pinned already; remove some");
            effects.passing_notice(NoticeKind::Error, text);
            return false;
        }
        let name = free_name(&self.prints, &stance.name);
        let print = Print { id: self.new_id(), name, note: String::new(), stance };
        let print_id = print.id;
        self.pinned.push(Pinned { print: print.clone(), measured: Ok(Arc::new(measured)), thumbnail: None });
        // The first two lie side by side at once: the Compare desk has something to show.
        if self.prints.len() < 2 && self.laid.len() == self.prints.len() {
            self.laid.push(print.id);
        }
        self.prints.push(print);
        effects.push(Effect::PrintStep(PrintStep::Pinned(print_id)));
        // That was its last step, and where it lay prints lie from now on.
        effects.push(Effect::CloseGuide);
        true
    }

    /// Pins those of the four that are not pinned yet, and lays all of them.
    fn pin_four_heights(&mut self, site: &ShownSite, camera: &CameraStore, effects: &mut Effects) -> bool {
        let (survey, settings) = (site.survey(), camera.measure_settings());
        let four = match four_heights(survey, camera.stance(), settings, &Options::default()) {
            Ok(four) => four,
            Err(error) => {
                effects.passing_notice(NoticeKind::Error, error.to_string());
                return false;
            }
        };
        let mut laid = Vec::new();
        for stance in four {
            let same = |print: &&Print| {
                Stance { name: String::new(), ..print.stance.clone() }
                    == Stance { name: String::new(), ..stance.clone() }
            };
            if let Some(known) = self.prints.iter().find(same) {
                laid.push(known.id);
                continue;
            }
            match survey.measure(&stance, settings) {
                Ok(measured) => {
                    if !self.pin(stance, measured, effects) {
                        break;
                    }
                    laid.extend(self.prints.last().map(|print| print.id));
                }
                Err(error) => {
                    effects.passing_notice(NoticeKind::Error, format!("{}: {error}", stance.name));
                }
            }
        }
        self.laid = laid;
        true
    }

    fn new_id(&mut self) -> PrintId {
        self.pinned_here += 1;
        PrintId::new(self.salt, self.pinned_here)
    }

    fn place_of(&self, id: PrintId) -> Option<usize> {
        self.prints.iter().position(|print| print.id == id)
    }

    fn remove(&mut self, id: PrintId) -> bool {
        let Some(place) = self.place_of(id) else { return false };
        self.removed.push((place, self.prints.remove(place)));
        self.laid.retain(|laid| *laid != id);
        self.against = self.against.filter(|against| *against != id);
        self.over = self.over.filter(|over| *over != id);
        true
    }

    fn restore(&mut self) -> bool {
        let Some((place, mut print)) = self.removed.pop() else { return false };
        if self.print(print.id).is_some() {
            print.id = self.new_id();
        }
        print.name = free_name(&self.prints, &print.name);
        self.prints.insert(place.min(self.prints.len()), print);
        true
    }

    fn rename(&mut self, id: PrintId, name: &str, effects: &mut Effects) -> bool {
        let name: String = name.trim().chars().take(LONGEST_NAME).collect();
        if name.is_empty() {
            effects.passing_notice(NoticeKind::Error, "a print needs a name");
            return false;
        }
        if self.prints.iter().any(|print| print.id != id && print.name == name) {
            let text = format!("another print is named '{name}'; choose another name");
            effects.passing_notice(NoticeKind::Error, text);
            return false;
        }
        self.with_print(id, |print| print.name = name)
    }

    fn with_print(&mut self, id: PrintId, change: impl FnOnce(&mut Print)) -> bool {
        let Some(print) = self.prints.iter_mut().find(|print| print.id == id) else { return false };
        let before = print.clone();
        change(print);
        *print != before
    }

    fn move_to(&mut self, id: PrintId, place: usize) -> bool {
        let Some(from) = self.place_of(id) else { return false };
        let to = place.min(self.prints.len() - 1);
        let print = self.prints.remove(from);
        self.prints.insert(to, print);
        from != to
    }

    fn lay(&mut self, id: PrintId, laid: bool, effects: &mut Effects) -> bool {
        let lies = self.laid.contains(&id);
        if lies == laid || self.print(id).is_none() {
            return false;
        }
        if !laid {
            self.laid.retain(|known| *known != id);
        } else if self.laid.len() >= MOST_LAID {
            let text = format!("{MOST_LAID} prints lie side by side already; remove one to lay another");
            effects.passing_notice(NoticeKind::News, text);
            return false;
        } else {
            self.laid.push(id);
        }
        true
    }

    /// Swaps the present stance with the one it is compared with.
    fn flick(&mut self, stance: &Stance, effects: &mut Effects) {
        let Some(against) = self.against.and_then(|id| self.pinned_print(id)) else {
            let text = "choose a print to compare with first";
            return effects.passing_notice(NoticeKind::News, text);
        };
        let (there, is_possible) = (against.print.stance.clone(), against.measured.is_ok());
        if *stance != there {
            if is_possible {
                self.flicked_from = Some(stance.clone());
            }
            effects.push(Effect::GoTo(Box::new(there)));
        } else if let Some(left) = self.flicked_from.take() {
            effects.push(Effect::GoTo(Box::new(left)));
        }
    }
}

/// A number that no other window has, but for one chance in 10¹⁹.
fn salt() -> u64 {
    use std::hash::{BuildHasher, Hasher};
    std::hash::RandomState::new().build_hasher().finish()
}
