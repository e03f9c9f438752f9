//! What does an action come to, outside the store that takes it? Plain data, which the desk applies in one place.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;

use crate::angle::Angle;
use crate::plan::{Plan, PrintId};
use crate::progress::Progress;
use crate::site::{Stance, TextChange};
use crate::survey::Survey;

use super::arrangement::DeskName;
use super::dialog::PathQuestion;
use super::given_light::GivenLight;
use super::jobs::Outcome;
use super::notices::NoticeKind;
use super::print_step::PrintStep;
use super::work::{Job, WorkId};

/// One thing that a store asks of the rest.
pub(super) enum Effect {
    /// Report this.
    Notice(NoticeKind, String),
    /// Report this until something is done.
    PassingNotice(NoticeKind, String),
    /// Something was done: passing notices go.
    Done,
    /// Take a print back that was pinned, as a step of the history.
    Unpin(PrintId),
    /// Pin it once more.
    PinAgain(PrintId),
    /// The history has another step: a print was pinned, or removed.
    PrintStep(PrintStep),
    /// Start work in the background; its outcome comes back to the store.
    Start(Job<Outcome>),
    /// Stop work in the background.
    Cancel(WorkId),
    /// Take up a stance, as a move of its own.
    GoTo(Box<Stance>),
    /// Let the sun stand here.
    ShowLight(GivenLight),
    /// Measure again, with this largest lean that reads as upright.
    MeasureWith {
        /// The largest lean that reads as upright.
        upright: Angle,
    },
    /// Pack these lenses into the bag, by name.
    Pack(Vec<String>),
    /// The first-minute guide has come to its end.
    CloseGuide,
    /// Another desk is shown.
    DeskShown(DeskName),
    /// Ask the person for a path.
    Ask(PathQuestion),
    /// The person has answered with this path.
    Answered(PathQuestion, PathBuf),
    /// The question for a path has its answer, given some other way.
    CloseQuestion,
    /// The person has closed the question without an answer.
    NotAnswered,
    /// Show this site.
    ShowSite(Arc<Survey>, SiteShow),
    /// The history has another step: the site's text was changed.
    SiteStep {
        /// What was changed.
        change: TextChange,
        /// In words.
        words: String,
    },
    /// Change the site's text so, as a step of the history that is gone back or forth.
    RetraceSite(TextChange),
    /// Write a new site file, and open it.
    CreateSite {
        /// Where.
        path: PathBuf,
        /// Its text.
        text: String,
    },
    /// Write the site's text in place of the one that is known to be on disk.
    SaveSite {
        /// What is known to be there.
        base: String,
        /// What is to be there.
        text: String,
        /// Counts the orders.
        number: u64,
    },
    /// Another window has changed the plan, from the first to the second.
    PlanChanged(Box<(Plan, Plan)>),
    /// Save everything and close the window.
    Leave,
}

/// How a site is shown.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum SiteShow {
    /// While a hand tries something.
    Tried,
    /// While one looks at another site, from this stance.
    Visited(Box<Stance>),
    /// It is so from now on.
    Kept,
}

/// Everything that an action comes to, in order.
pub(super) struct Effects {
    changed: bool,
    list: VecDeque<Effect>,
    next_work: WorkId,
}

impl Effects {
    /// Nothing yet; work that is started is numbered from `next_work`.
    pub(super) fn new(next_work: WorkId) -> Self {
        Self { changed: false, list: VecDeque::new(), next_work }
    }

    /// Something that is shown has changed.
    pub(super) fn change(&mut self) {
        self.changed = true;
    }

    /// Something that is shown has changed if `changed`.
    pub(super) fn change_if(&mut self, changed: bool) {
        self.changed |= changed;
    }

    pub(super) fn is_changed(&self) -> bool {
        self.changed
    }

    pub(super) fn push(&mut self, effect: Effect) {
        self.list.push_back(effect);
    }

    /// Reports something, which changes what is shown.
    pub(super) fn notice(&mut self, kind: NoticeKind, text: impl Into<String>) {
        self.changed = true;
        self.push(Effect::Notice(kind, text.into()));
    }

    /// Reports something that is past as soon as something else is done, such as why a move was refused.
    pub(super) fn passing_notice(&mut self, kind: NoticeKind, text: impl Into<String>) {
        self.changed = true;
        self.push(Effect::PassingNotice(kind, text.into()));
    }

    /// Starts work in the background; with a title it is shown while it lasts.
    pub(super) fn start(
        &mut self,
        title: Option<String>,
        run: impl FnOnce(&Progress) -> Outcome + Send + 'static,
    ) -> WorkId {
        let id = self.next_work;
        self.next_work = WorkId(id.0 + 1);
        self.push(Effect::Start(Job { id, title, run: Box::new(run) }));
        id
    }

    /// The first effect that is not applied yet.
    pub(super) fn next(&mut self) -> Option<Effect> {
        self.list.pop_front()
    }
}
