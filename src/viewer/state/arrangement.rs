//! Which parts of the window are large?

/// One of the five arrangements of the same parts.
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
    /// The site is built and changed.
    Build,
}

impl DeskName {
    /// All of them, in order.
    pub const ALL: [Self; 5] = [Self::Walk, Self::Search, Self::Compare, Self::HandOver, Self::Build];

    /// As it is written on the divider.
    pub fn words(self) -> &'static str {
        match self {
            Self::Walk => "Walk",
            Self::Search => "Search",
            Self::Compare => "Compare",
            Self::HandOver => "Hand over",
            Self::Build => "Build",
        }
    }
}
