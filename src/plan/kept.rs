//! How is a plan kept on disk, so that nothing that anyone pinned is ever lost?
//!
//! A writer says what it had seen of the file: else a window that has not yet read the other's prints would write them away. The
//! numbers of prints are drawn from a window's own salt, so that merging renumbers nothing.

use std::path::{Path, PathBuf};

use crate::files::{self, FileError, FileKind};

use super::{Plan, PlanError, merge, read_plan, write_plan};

/// How often a plan is merged anew because somebody else saves at the same time.
const MOST_TRIES: u32 = 100;

/// A plan's file, what it held when it was last read or written, and what a window sent last.
#[derive(Debug)]
pub struct Kept {
    path: PathBuf,
    /// The text then; `None` where there was no file, or one that could not be read.
    text: Option<String>,
    /// The plan then.
    held: Plan,
    /// What was sent to be saved last.
    sent: Plan,
}

/// What became of a plan that was saved.
#[derive(Clone, Debug, PartialEq)]
pub struct Saved {
    /// What the file holds now: what was sent, and what somebody else saved meanwhile.
    pub held: Plan,
    /// Where a file that could not be read was put aside.
    pub aside: Option<PathBuf>,
}

impl Kept {
    /// Opens a plan's file. One that cannot be read stays as it is, and is put aside by the first saving.
    pub fn open(path: &Path) -> (Self, Result<Plan, PlanError>) {
        let (text, held, found) = match read_plan(path) {
            Ok(Some((plan, text))) => (Some(text), plan.clone(), Ok(plan)),
            Ok(None) => (None, Plan::default(), Ok(Plan::default())),
            Err(error) => (None, Plan::default(), Err(error)),
        };
        (Self { path: path.into(), text, sent: held.clone(), held }, found)
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Saves a plan; `seen` is what the file held when whoever sends it last looked. What somebody else saved meanwhile is
    /// merged in.
    ///
    /// # Errors
    /// The file cannot be written; what it held before it still holds.
    pub fn save(&mut self, seen: &Plan, mine: &Plan) -> Result<Saved, FileError> {
        // A sender who has not seen yet what was merged in last time goes on from what they sent then.
        let ahead = *seen == self.held || self.sent == self.held;
        let ours = if ahead { mine.clone() } else { merge(&self.sent, mine, &self.held) };
        let mut aside = None;
        for _ in 0..MOST_TRIES {
            let mut plan = ours.clone();
            let there = match read_plan(&self.path) {
                Ok(Some((theirs, text))) => {
                    if self.text.as_ref() != Some(&text) {
                        plan = merge(&self.held, &plan, &theirs);
                    }
                    Some(text)
                }
                // Taken away by hand: written anew.
                Ok(None) => None,
                Err(_) => {
                    aside = Some(files::put_aside(&self.path, "unread")?);
                    None
                }
            };
            let text = write_plan(&plan);
            if there.as_ref() != Some(&text) {
                if let Some(folder) = self.path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
                    std::fs::create_dir_all(folder)
                        .map_err(|source| FileError::Write { path: self.path.clone(), source })?;
                }
                match files::rewrite(&self.path, there.as_deref(), &text, FileKind::Plan) {
                    Ok(()) => {}
                    // Saved by somebody else in this very moment: theirs is merged in as well.
                    Err(FileError::Changed { .. }) => continue,
                    Err(error) => return Err(error),
                }
            }
            (self.text, self.held, self.sent) = (Some(text), plan.clone(), mine.clone());
            return Ok(Saved { held: plan, aside });
        }
        Err(FileError::Changed { path: self.path.clone() })
    }

    /// Looks whether somebody else changed the file: then what it holds now.
    ///
    /// # Errors
    /// It cannot be read any more.
    pub fn look(&mut self) -> Result<Option<Plan>, PlanError> {
        match read_plan(&self.path)? {
            Some((theirs, text)) if self.text.as_ref() != Some(&text) => {
                self.text = Some(text);
                let before = std::mem::replace(&mut self.held, theirs.clone());
                Ok((before != theirs).then_some(theirs))
            }
            _ => Ok(None),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Print, PrintId};
    use crate::site::Stance;

    fn pin(plan: &mut Plan, salt: u64, name: &str) {
        let id = PrintId::new(salt, plan.prints.len() as u64);
        let stance = Stance::plain(name, (0.0, 0.0));
        plan.prints.push(Print { id, name: name.into(), note: String::new(), stance });
    }

    fn names(plan: &Plan) -> Vec<&str> {
        plan.prints.iter().map(|print| print.name.as_str()).collect()
    }

    #[test]
    fn two_windows_on_one_site_lose_nothing_of_each_other() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.plan.ron");
        let ((mut first, mine), (mut second, theirs)) = (Kept::open(&path), Kept::open(&path));
        let (mut mine, mut theirs) = (mine.expect("none yet"), theirs.expect("none yet"));
        let (mut i_saw, mut they_saw) = (mine.clone(), theirs.clone());
        for round in 0..6 {
            pin(&mut mine, 1, &format!("mine {round}"));
            let saved = first.save(&i_saw, &mine).expect("saved").held;
            // Every other time the news comes late.
            if round % 2 == 1 {
                mine = merge(&mine, &mine, &saved);
                i_saw = saved;
            }
            pin(&mut theirs, 2, &format!("theirs {round}"));
            let saved = second.save(&they_saw, &theirs).expect("saved").held;
            if round % 3 == 2 {
                theirs = merge(&theirs, &theirs, &saved);
                they_saw = saved;
            }
        }
        let held = first.look().expect("read").expect("changed");
        for (who, count) in [("mine", 6), ("theirs", 6)] {
            let of = names(&held).iter().filter(|name| name.starts_with(who)).count();
            assert_eq!(of, count, "{:?}", names(&held));
        }
    }

    #[test]
    fn many_windows_that_save_at_the_same_time_lose_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.plan.ron");
        std::thread::scope(|scope| {
            for window in 0..4_u64 {
                let path = &path;
                scope.spawn(move || {
                    let (mut kept, plan) = Kept::open(path);
                    let mut plan = plan.expect("in order");
                    for round in 0..10 {
                        let seen = plan.clone();
                        let id = PrintId::new(window + 1, round);
                        let name = format!("{window}-{round}");
                        plan.prints.push(Print {
                            id,
                            name,
                            note: String::new(),
                            stance: Stance::plain("a", (0.0, 0.0)),
                        });
                        plan = kept.save(&seen, &plan).expect("saved").held;
                    }
                });
            }
        });
        let (held, _) = read_plan(&path).expect("in order").expect("there");
        assert_eq!(held.prints.len(), 40, "{:?}", names(&held));
    }

    #[test]
    fn what_was_pinned_and_taken_away_at_once_stays_away() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.plan.ron");
        let (mut kept, seen) = Kept::open(&path);
        let seen = seen.expect("none yet");
        let mut mine = seen.clone();
        pin(&mut mine, 1, "a");
        kept.save(&seen, &mine).expect("saved");
        mine.prints.clear();
        assert_eq!(kept.save(&seen, &mine).expect("saved").held, mine);
    }

    #[test]
    fn a_file_that_cannot_be_read_is_put_aside_and_never_overwritten() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.plan.ron");
        for (round, broken) in ["(format: 99, secrets: [1, 2])", "(format: 1, prints: [", "\u{0}"].iter().enumerate() {
            std::fs::write(&path, broken).expect("written");
            let (mut kept, read) = Kept::open(&path);
            assert!(read.is_err(), "{broken}");
            assert_eq!(std::fs::read_to_string(&path).expect("still there"), *broken);
            let mut mine = Plan::default();
            pin(&mut mine, 1, "new");
            let aside = kept.save(&Plan::default(), &mine).expect("saved").aside.expect("put aside");
            assert_eq!(aside, folder.path().join(format!("yard.plan.unread-{}.ron", round + 1)));
            assert_eq!(std::fs::read_to_string(aside).expect("there"), *broken);
            assert_eq!(names(&read_plan(&path).expect("read").expect("there").0), ["new"]);
        }
    }

    #[test]
    fn a_plan_taken_away_by_hand_is_written_anew_and_an_unchanged_one_not_at_all() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("sub").join("yard.plan.ron");
        let (mut kept, _) = Kept::open(&path);
        let mut mine = Plan::default();
        pin(&mut mine, 1, "a");
        kept.save(&mine, &mine).expect("saved");
        let written = |path: &Path| std::fs::metadata(path).expect("there").modified().expect("known");
        let before = written(&path);
        assert_eq!(kept.save(&mine, &mine).expect("saved").held, mine);
        assert_eq!(written(&path), before);
        std::fs::remove_file(&path).expect("removed");
        kept.save(&mine, &mine).expect("saved");
        assert!(path.exists());
        std::fs::remove_dir_all(folder.path().join("sub")).expect("removed");
        std::fs::write(folder.path().join("sub"), "a file where the folder was").expect("written");
        assert!(matches!(kept.save(&mine, &mine), Err(FileError::Write { .. } | FileError::Read { .. })));
    }
}
