//! What is the walker told? Every error, caution and piece of news in one list.

use crate::cautions::Caution;

/// The most that is kept; the oldest news goes first.
const MOST_KEPT: usize = 60;

/// How grave it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NoticeKind {
    /// Something could not be done.
    Error,
    /// Something to beware of where one stands; it goes when it no longer holds.
    Caution,
    /// Something that is good to know.
    Told,
}

/// What the walker is told.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    /// How grave it is.
    pub kind: NoticeKind,
    /// What happened.
    pub text: String,
}

/// The list, oldest first.
#[derive(Debug, Default)]
pub(super) struct Notices {
    pub(super) list: Vec<Notice>,
    /// Cautions that were put away and still hold.
    put_away: Vec<String>,
}

impl Notices {
    /// Adds news; what was told already is told again at the end.
    pub(super) fn tell(&mut self, kind: NoticeKind, text: impl Into<String>) {
        let text = text.into();
        self.list.retain(|known| known.text != text);
        if self.list.len() >= MOST_KEPT
            && let Some(oldest) = self.list.iter().position(|known| known.kind != NoticeKind::Caution)
        {
            self.list.remove(oldest);
        }
        self.list.push(Notice { kind, text });
    }

    /// Puts one away.
    pub(super) fn dismiss(&mut self, index: usize) {
        if index < self.list.len() {
            let gone = self.list.remove(index);
            if gone.kind == NoticeKind::Caution {
                self.put_away.push(gone.text);
            }
        }
    }

    /// Shows the cautions that hold now, and no others.
    pub(super) fn beware(&mut self, cautions: &[Caution]) {
        let holds = |text: &str| cautions.iter().any(|caution| caution.text == text);
        self.put_away.retain(|text| holds(text));
        self.list.retain(|known| known.kind != NoticeKind::Caution || holds(&known.text));
        for caution in cautions {
            let known = self.list.iter().any(|known| known.text == caution.text);
            if !known && !self.put_away.contains(&caution.text) {
                self.list.push(Notice { kind: NoticeKind::Caution, text: caution.text.clone() });
            }
        }
    }
}
