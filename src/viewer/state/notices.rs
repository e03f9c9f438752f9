//! What is reported to the person? Every error, caution and piece of news in one list.

use crate::cautions::Caution;

/// The most that is kept; the oldest news goes first.
const MOST_KEPT: usize = 60;

/// How grave it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NoticeKind {
    /// Something could not be done.
    Error,
    /// Something to mind where one stands; it goes when it no longer holds.
    Caution,
    /// Something that is good to know.
    News,
}

/// What is reported.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    /// How grave it is.
    pub kind: NoticeKind,
    /// What happened.
    pub text: String,
    /// Grows from one to the next: none has the number of another.
    pub number: u64,
    /// Whether the next thing that is done ends it: it says why another thing was not done, or what came with one.
    pub passing: bool,
}

/// What happens to notices.
#[derive(Clone, Debug, PartialEq)]
pub enum NoticeAction {
    /// Close one, by its place in the list.
    Dismiss(usize),
}

/// The list, oldest first.
#[derive(Debug, Default)]
pub(super) struct NoticeStore {
    list: Vec<Notice>,
    /// Cautions that were closed and still hold.
    closed: Vec<String>,
    /// How many there have been.
    count: u64,
}

impl NoticeStore {
    pub(super) fn list(&self) -> &[Notice] {
        &self.list
    }

    pub(super) fn act(&mut self, action: NoticeAction) {
        match action {
            NoticeAction::Dismiss(index) => self.dismiss(index),
        }
    }

    /// Another site is shown: what was reported of the one before is past.
    pub(super) fn clear(&mut self) {
        self.list.clear();
    }

    /// Something was done: what only said why another thing was not is past.
    pub(super) fn pass(&mut self) {
        self.list.retain(|known| !known.passing);
    }

    fn number(&mut self) -> u64 {
        self.count += 1;
        self.count
    }

    /// Adds a notice; one that is there already moves to the end.
    pub(super) fn add(&mut self, kind: NoticeKind, text: impl Into<String>, passing: bool) {
        let text = text.into();
        self.list.retain(|known| known.text != text);
        if self.list.len() >= MOST_KEPT
            && let Some(oldest) = self.list.iter().position(|known| known.kind != NoticeKind::Caution)
        {
            self.list.remove(oldest);
        }
        let number = self.number();
        self.list.push(Notice { kind, text, number, passing });
    }

    fn dismiss(&mut self, index: usize) {
        if index < self.list.len() {
            let gone = self.list.remove(index);
            if gone.kind == NoticeKind::Caution {
                self.closed.push(gone.text);
            }
        }
    }

    /// Shows the cautions that hold now, and no others.
    pub(super) fn set_cautions(&mut self, cautions: &[Caution]) {
        let holds = |text: &str| cautions.iter().any(|caution| caution.text == text);
        self.closed.retain(|text| holds(text));
        self.list.retain(|known| known.kind != NoticeKind::Caution || holds(&known.text));
        for caution in cautions {
            let known = self.list.iter().any(|known| known.text == caution.text);
            if !known && !self.closed.contains(&caution.text) {
                let (text, number) = (caution.text.clone(), self.number());
                self.list.push(Notice { kind: NoticeKind::Caution, text, number, passing: false });
            }
        }
    }
}
