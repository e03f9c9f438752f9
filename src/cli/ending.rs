//! How may a command end?

use crate::stance::StanceError;

/// Why a command ended without its result.
#[derive(Debug)]
pub(super) enum Ending {
    /// Nothing can be measured there, or nothing fits: code 1.
    NoAnswer(String),
    /// The input is wrong: code 2.
    BadInput(String),
    /// Whoever read the output has gone.
    Unread,
}

impl Ending {
    /// The same, with what it is about.
    pub(super) fn of(self, item: &str) -> Self {
        match self {
            Self::NoAnswer(why) => Self::NoAnswer(format!("{item}: {why}")),
            Self::BadInput(why) => Self::BadInput(format!("{item}: {why}")),
            Self::Unread => Self::Unread,
        }
    }

    /// All of them as one, the worst of their codes; `None` where there is none.
    pub(super) fn all(endings: Vec<Self>) -> Option<Self> {
        endings.into_iter().reduce(|one, other| match (one, other) {
            (Self::Unread, _) | (_, Self::Unread) => Self::Unread,
            (Self::NoAnswer(one), Self::NoAnswer(other)) => Self::NoAnswer(format!("{one}\n{other}")),
            (Self::NoAnswer(one) | Self::BadInput(one), Self::NoAnswer(other) | Self::BadInput(other)) => {
                Self::BadInput(format!("{one}\n{other}"))
            }
        })
    }

    pub(super) fn bad(error: impl std::fmt::Display) -> Self {
        Self::BadInput(error.to_string())
    }
}

impl From<std::io::Error> for Ending {
    fn from(error: std::io::Error) -> Self {
        if error.kind() == std::io::ErrorKind::BrokenPipe { Self::Unread } else { Self::bad(error) }
    }
}

impl From<StanceError> for Ending {
    fn from(error: StanceError) -> Self {
        match &error {
            StanceError::Kit(_) | StanceError::Footing(_) | StanceError::Setting { .. } => Self::bad(&error),
            StanceError::Aim(_)
            | StanceError::InsideBlock { .. }
            | StanceError::UnderGround { .. }
            | StanceError::UnderWater { .. } => Self::NoAnswer(error.to_string()),
        }
    }
}

pub(super) type Outcome = Result<(), Ending>;
