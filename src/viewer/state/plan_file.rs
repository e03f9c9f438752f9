//! How is everything that the planner does on a site saved in its plan, which other windows may change meanwhile?

use std::path::{Path, PathBuf};

use crate::light::Moment;
use crate::plan::{Kept, PLAN_FORMAT, Plan, PlanError, Print, PrintId, Saved, SavedSearch};
use crate::site::{Stance, site_hash};

use super::given_light::GivenLight;
use super::watch::real;
use super::work::Wake;
use super::writer::Writer;

/// What the other stores hold of the plan, side by side; where the camera stood last is known here.
pub(super) struct PlanParts<'a> {
    pub(super) prints: &'a [Print],
    pub(super) bag: Option<&'a Vec<String>>,
    pub(super) folder: Option<&'a PathBuf>,
    pub(super) against: Option<PrintId>,
    pub(super) laid: &'a [PrintId],
    pub(super) light: GivenLight,
    pub(super) tide: Option<&'a PathBuf>,
    pub(super) sought: Option<&'a SavedSearch>,
}

impl PlanParts<'_> {
    /// The plan of these parts.
    pub(super) fn to_plan(&self, last: Option<&Stance>) -> Plan {
        Plan {
            format: PLAN_FORMAT,
            prints: self.prints.to_vec(),
            bag: self.bag.cloned(),
            folder: self.folder.cloned(),
            against: self.against,
            laid: self.laid.to_vec(),
            sun: self.light.sun,
            moment: self.light.moment.map(Moment::rfc3339),
            tide: self.tide.cloned(),
            last: last.cloned(),
            sought: self.sought.cloned(),
        }
    }

    /// Whether a plan has these parts. It is looked at after every step, and nothing is copied for it.
    fn are_of(&self, last: Option<&Stance>, plan: &Plan) -> bool {
        let Plan { format: _, prints, bag, folder, against, laid, sun, moment, tide, last: known_last, sought } = plan;
        self.prints == prints.as_slice()
            && self.bag == bag.as_ref()
            && self.folder == folder.as_ref()
            && self.against == *against
            && self.laid == laid.as_slice()
            && self.light.sun == *sun
            && self.tide == tide.as_ref()
            && self.light.moment == moment.as_deref().and_then(Moment::of_rfc3339)
            && last == known_last.as_ref()
            && self.sought == sought.as_ref()
    }
}

/// What is to be done with the plan's file.
enum PlanOrder {
    /// Save a plan, made by someone who last saw the other on disk.
    Save(Box<(Plan, Plan)>),
    /// Look whether somebody else changed it.
    Look,
}

/// What became of the plan's file.
enum PlanNews {
    /// It was saved: what was sent, and what became of it.
    Saved(Box<(Plan, Saved)>),
    /// Somebody else changed it to this.
    Changed(Box<Plan>),
    /// It could not be saved or read.
    Failed(String),
}

/// A plan's file, written by a thread of its own.
pub(super) struct PlanFile {
    path: PathBuf,
    writer: Writer<PlanOrder, PlanNews>,
    /// What the file holds as far as is known here, and what was sent there last.
    seen: Plan,
    sent: Plan,
}

/// What happened to a plan's file.
pub(super) enum PlanChange {
    /// Another window has changed it, from the first plan to the second.
    ByOthers(Box<(Plan, Plan)>),
    /// A plan that could not be read is now kept as this file.
    SetAside(PathBuf),
    /// It could not be saved or read.
    Failed(String),
}

impl PlanFile {
    /// Reads a plan's file and starts saving to it. One that cannot be read is an empty plan, and the reason comes with it.
    pub(super) fn open(path: PathBuf, configuration: Option<&Path>, wake: Wake) -> (Self, Option<String>) {
        let (kept, read) = Kept::open(&path);
        let (plan, unread) = match read {
            Ok(plan) => (plan, None),
            Err(error) => (Plan::default(), Some(unread(&path, &error))),
        };
        let writer = Writer::new(wake, outdone, plan_keeper(kept, configuration.map(Path::to_path_buf)));
        (Self { path, writer, seen: plan.clone(), sent: plan }, unread)
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// The plan as it was read.
    pub(super) fn plan(&self) -> &Plan {
        &self.seen
    }

    /// Orders the plan to be saved if it has changed; false where nobody can do it.
    pub(super) fn save(&mut self, parts: &PlanParts<'_>, last: Option<&Stance>) -> bool {
        if parts.are_of(last, &self.sent) {
            return true;
        }
        let plan = parts.to_plan(last);
        let ordered = self.writer.order(PlanOrder::Save(Box::new((self.seen.clone(), plan.clone()))));
        if ordered {
            self.sent = plan;
        }
        ordered
    }

    /// Looks whether another window has changed it.
    pub(super) fn look(&self) {
        // A writer that cannot do orders was reported when it was asked to save.
        let _ = self.writer.order(PlanOrder::Look);
    }

    /// What happened since this was last asked.
    pub(super) fn changes(&mut self) -> Vec<PlanChange> {
        let mut changes = Vec::new();
        for piece in self.writer.news() {
            match piece {
                PlanNews::Saved(saved) => {
                    let (sent, Saved { held, aside }) = *saved;
                    changes.extend(aside.map(PlanChange::SetAside));
                    if held != sent {
                        changes.push(PlanChange::ByOthers(Box::new((sent, held.clone()))));
                    }
                    self.seen = held;
                }
                PlanNews::Changed(theirs) => {
                    let seen = std::mem::replace(&mut self.seen, (*theirs).clone());
                    changes.push(PlanChange::ByOthers(Box::new((seen, *theirs))));
                }
                PlanNews::Failed(text) => {
                    // It is tried again with the next change.
                    self.sent = self.seen.clone();
                    changes.push(PlanChange::Failed(text));
                }
            }
        }
        changes
    }

    /// Waits until all that was ordered is on disk; false where that takes too long.
    pub(super) fn finish(&self) -> bool {
        self.writer.finish()
    }
}

/// Whether an order is idle because of a later one.
fn outdone(first: &PlanOrder, later: &PlanOrder) -> bool {
    match (first, later) {
        // A later state of the same plan; what it was made from is the same or newer.
        (PlanOrder::Save(first), PlanOrder::Save(later)) => first.0 == later.0,
        (PlanOrder::Look, _) => true,
        (PlanOrder::Save(_), PlanOrder::Look) => false,
    }
}

/// Does orders on a plan's file, one window at a time.
fn plan_keeper(
    mut kept: Kept,
    configuration: Option<PathBuf>,
) -> impl FnMut(PlanOrder) -> Option<PlanNews> + Send + 'static {
    move |order| {
        let held = configuration.as_deref().map(|folder| lock(folder, kept.path()));
        let news = match order {
            PlanOrder::Save(save) => {
                let (seen, mine) = *save;
                match kept.save(&seen, &mine) {
                    Ok(saved) => Some(PlanNews::Saved(Box::new((mine, saved)))),
                    Err(error) => Some(PlanNews::Failed(format!("the plan is not saved: {error}"))),
                }
            }
            PlanOrder::Look => match kept.look() {
                Ok(theirs) => theirs.map(|theirs| PlanNews::Changed(Box::new(theirs))),
                Err(error) => Some(PlanNews::Failed(unread(kept.path(), &error))),
            },
        };
        drop(held);
        news
    }
}

fn unread(file: &Path, error: &PlanError) -> String {
    let text = match error {
        PlanError::Problems(problems) => problems.render(false, 100),
        PlanError::File(error) => error.to_string(),
    };
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    format!(
        "the plan {name} cannot be read and is left as it is; when something new is pinned it is renamed, never \
         overwritten\n{text}"
    )
}

/// Holds the right to write a file against other windows, as long as the answer lives. Without it (a folder that cannot be
/// written) windows still merge what each of them saves.
pub(super) fn lock(configuration: &Path, file: &Path) -> Option<std::fs::File> {
    let name = site_hash(&real(file).to_string_lossy());
    let folder = configuration.join("locks");
    std::fs::create_dir_all(&folder).ok()?;
    let held = std::fs::File::options().create(true).truncate(false).write(true).open(folder.join(name)).ok()?;
    held.lock().ok()?;
    Some(held)
}
