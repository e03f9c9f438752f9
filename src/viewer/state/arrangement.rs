//! Which parts of the window are large?

/// One of the four arrangements of the same parts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DeskName {
    /// The finder is large.
    #[default]
    Walk,
    /// The plan is large.
    Search,
    /// Prints lie side by side.
    Compare,
    /// Records, cards and sheets.
    HandOver,
}

impl DeskName {
    /// All of them, in order.
    pub const ALL: [Self; 4] = [Self::Walk, Self::Search, Self::Compare, Self::HandOver];

    /// As it is written on the divider.
    pub fn words(self) -> &'static str {
        match self {
            Self::Walk => "Walk",
            Self::Search => "Search",
            Self::Compare => "Compare",
            Self::HandOver => "Hand over",
        }
    }
}
