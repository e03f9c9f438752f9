//! Which stances are pinned, what is measured from each, and how do they compare?

use std::sync::Arc;

use crate::plan::{LONGEST_NAME, LONGEST_NOTE, MOST_LAID, MOST_PRINTS, Plan, Print, PrintId};
use crate::site::Stance;
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::viewer::state::work::Thumbnail;

use super::Desk;
use super::DeskName;
use super::NoticeKind;
use super::PrintAction;

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

/// The prints as they are shown.
#[derive(Debug, Default)]
pub(super) struct Album {
    /// In the planner's order.
    pub(super) pinned: Vec<Pinned>,
    /// The stance that was left by a flick.
    pub(super) flicked_from: Option<Stance>,
    /// The prints that were taken away, with their places.
    taken_away: Vec<(usize, Print)>,
}

impl Album {
    pub(super) fn can_put_back(&self) -> bool {
        !self.taken_away.is_empty()
    }

    /// Nothing measured holds any more.
    pub(super) fn forget(&mut self) {
        self.pinned.clear();
    }

    /// Brings the prints shown into line with the plan; what is known of a stance is not measured again.
    pub(super) fn follow(&mut self, plan: &Plan, survey: &Survey, measure_settings: &MeasureSettings) {
        let mut known = std::mem::take(&mut self.pinned);
        self.pinned = plan
            .prints
            .iter()
            .map(|print| {
                let same = known.iter().position(|known| known.print.stance == print.stance);
                let (measured, thumbnail) = match same.map(|index| known.swap_remove(index)) {
                    Some(known) => (known.measured, known.thumbnail),
                    None => {
                        let measured = survey.measure(&print.stance, measure_settings);
                        (measured.map(Arc::new).map_err(|error| error.to_string()), None)
                    }
                };
                Pinned { print: print.clone(), measured, thumbnail }
            })
            .collect();
    }
}

impl Desk {
    /// Brings the prints shown into line with the plan.
    pub(super) fn follow_plan(&mut self) {
        self.album.follow(&self.plan, &self.survey, &self.measure_settings);
    }

    pub(super) fn act_on_prints(&mut self, action: PrintAction) -> bool {
        let changed = match action {
            PrintAction::Pin => {
                let (stance, mut measured) = (self.stance.clone(), self.measured.clone());
                if measured.tolerance.is_none() {
                    measured.tolerance = self.survey.tolerance(&stance, &measured.standing, &self.measure_settings);
                }
                self.pin(stance, measured)
            }
            PrintAction::PinStance(stance) => self.pin_other(&stance),
            PrintAction::Unpin(id) => self.unpin(id),
            PrintAction::Restore => self.put_back(),
            PrintAction::Rename(id, name) => self.rename(id, &name),
            PrintAction::Note(id, note) => {
                self.with_print(id, |print| print.note = note.chars().take(LONGEST_NOTE).collect())
            }
            PrintAction::Move(id, place) => self.shift(id, place),
            PrintAction::CompareWith(None) => {
                self.album.flicked_from = None;
                self.plan.against.take().is_some()
            }
            PrintAction::CompareWith(Some(id)) => {
                self.album.flicked_from = None;
                self.plan.print(id).is_some() && self.plan.against.replace(id) != Some(id)
            }
            PrintAction::Lay(id, laid) => self.lay(id, laid),
            PrintAction::Flick => return self.flick(),
            PrintAction::TakeUp(id) => {
                let Some(stance) = self.plan.print(id).map(|print| print.stance.clone()) else { return false };
                return stance != self.stance && self.go_to(stance, false);
            }
        };
        if changed {
            self.follow_plan();
        }
        changed
    }

    /// Pins a stance that is not the one taken up.
    fn pin_other(&mut self, stance: &Stance) -> bool {
        match self.survey.measure(stance, &self.measure_settings) {
            Ok(measured) => self.pin(stance.clone(), measured),
            Err(error) => {
                self.notices.tell(NoticeKind::Error, error.to_string());
                true
            }
        }
    }

    fn pin(&mut self, stance: Stance, measured: Measured) -> bool {
        if self.plan.prints.len() >= MOST_PRINTS {
            self.notices.tell(NoticeKind::Error, format!("{MOST_PRINTS} prints are pinned already; take some away"));
            return true;
        }
        let name = self.plan.free_name(&stance.name);
        let print = Print { id: self.new_id(), name, note: String::new(), stance };
        let measured = Ok(Arc::new(measured));
        self.album.pinned.push(Pinned { print: print.clone(), measured, thumbnail: None });
        // The first two lie side by side at once: the Compare desk has something to show.
        if self.plan.prints.len() < 2 && self.plan.laid.len() == self.plan.prints.len() {
            self.plan.laid.push(print.id);
        }
        self.plan.prints.push(print);
        // That was its last step, and where it lay prints lie from now on.
        self.guide = false;
        true
    }

    fn new_id(&mut self) -> PrintId {
        self.pinned_here += 1;
        PrintId::new(self.salt, self.pinned_here)
    }

    fn unpin(&mut self, id: PrintId) -> bool {
        let Some(place) = self.plan.place_of(id) else { return false };
        self.album.taken_away.push((place, self.plan.prints.remove(place)));
        self.plan.laid.retain(|laid| *laid != id);
        if self.plan.against == Some(id) {
            self.plan.against = None;
        }
        true
    }

    fn put_back(&mut self) -> bool {
        let Some((place, mut print)) = self.album.taken_away.pop() else { return false };
        if self.plan.print(print.id).is_some() {
            print.id = self.new_id();
        }
        print.name = self.plan.free_name(&print.name);
        self.plan.prints.insert(place.min(self.plan.prints.len()), print);
        true
    }

    fn rename(&mut self, id: PrintId, name: &str) -> bool {
        let name: String = name.trim().chars().take(LONGEST_NAME).collect();
        if name.is_empty() {
            self.notices.tell(NoticeKind::Error, "a print needs a name");
            return true;
        }
        if self.plan.prints.iter().any(|print| print.id != id && print.name == name) {
            self.notices.tell(NoticeKind::Error, format!("another print is called '{name}'; choose another name"));
            return true;
        }
        self.with_print(id, |print| print.name = name)
    }

    fn with_print(&mut self, id: PrintId, change: impl FnOnce(&mut Print)) -> bool {
        let Some(print) = self.plan.prints.iter_mut().find(|print| print.id == id) else { return false };
        let before = print.clone();
        change(print);
        *print != before
    }

    fn shift(&mut self, id: PrintId, place: usize) -> bool {
        let Some(from) = self.plan.place_of(id) else { return false };
        let to = place.min(self.plan.prints.len() - 1);
        let print = self.plan.prints.remove(from);
        self.plan.prints.insert(to, print);
        from != to
    }

    fn lay(&mut self, id: PrintId, laid: bool) -> bool {
        let lies = self.plan.laid.contains(&id);
        if lies == laid || self.plan.print(id).is_none() {
            return false;
        }
        if !laid {
            self.plan.laid.retain(|known| *known != id);
        } else if self.plan.laid.len() >= MOST_LAID {
            self.notices.tell(
                NoticeKind::Told,
                format!("{MOST_LAID} prints lie side by side already; take one off to lay another"),
            );
        } else {
            self.plan.laid.push(id);
        }
        true
    }

    /// A Compare desk on which nothing lies would say nothing: it shows the first two prints.
    pub(super) fn lay_first(&mut self) {
        if self.desk_name == DeskName::Compare && self.laid().next().is_none() && self.plan.prints.len() > 1 {
            self.plan.laid = self.plan.prints.iter().take(2).map(|print| print.id).collect();
        }
    }

    /// Swaps the present stance with the one it is compared with.
    fn flick(&mut self) -> bool {
        let Some(against) = self.plan.against.and_then(|id| self.plan.print(id)).map(|print| print.stance.clone())
        else {
            self.notices.tell(NoticeKind::Told, "choose a print to compare with first; then flick to it and back");
            return true;
        };
        if self.stance == against {
            return match self.album.flicked_from.take() {
                Some(left) => self.go_to(left, false),
                None => false,
            };
        }
        let left = self.stance.clone();
        if self.go_to(against, false) {
            self.album.flicked_from = Some(left);
        }
        true
    }
}
