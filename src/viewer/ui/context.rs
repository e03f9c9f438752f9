//! What does every panel look at? The desk's state, and how things look.

use std::borrow::Cow;

use crate::optics::Frame;
use crate::site::Sun;
use crate::stance::Standing;
use crate::survey::Measured;
use crate::tolerance::Tolerance;
use crate::units::Units;

use super::style::WindowStyle;
use crate::viewer::state::desk::Desk;

/// The drawing table: what lies on it, and in what dress.
#[derive(Clone, Copy)]
pub(super) struct PanelContext<'a> {
    pub(super) desk: &'a Desk,
    pub(super) style: WindowStyle,
    /// Whether the tolerance is that of a camera as it was set, not of one aimed anew.
    pub(super) as_set: bool,
}

impl<'a> PanelContext<'a> {
    pub(super) fn measured(&self) -> &'a Measured {
        self.desk.measured()
    }

    pub(super) fn standing(&self) -> &'a Standing {
        &self.desk.measured().standing
    }

    /// How exactly one must stand, in the way that is chosen; once it is known.
    pub(super) fn tolerance(&self) -> Option<&'a Tolerance> {
        let measured = self.measured();
        if self.as_set { measured.tolerance_as_set.as_ref() } else { measured.tolerance.as_ref() }
    }

    pub(super) fn units(&self) -> Units {
        self.desk.settings().units
    }

    pub(super) fn sun(&self) -> Option<Sun> {
        self.desk.sun()
    }

    /// The subject by its block's name, "the subject" where it has several.
    pub(super) fn subject(&self) -> Cow<'a, str> {
        let survey = self.desk.survey();
        match &survey.subject {
            Ok(subject) if subject.blocks.len() == 1 => survey.model.site.blocks[subject.body].with_article().into(),
            _ => "the subject".into(),
        }
    }

    /// The frame of the picture that is shown: as taken, or straightened.
    pub(super) fn shown_frame(&self) -> &'a Frame {
        match self.desk.straightened() {
            Some(Ok(straight)) => &straight.camera.frame,
            _ => &self.standing().camera.frame,
        }
    }

    /// The camera above the feet; above the origin's height where there are no feet.
    pub(super) fn height_m(&self) -> f64 {
        let standing = self.standing();
        standing.height_m().unwrap_or(standing.pose.eye.z)
    }
}

/// A number in words up to twelve.
pub(super) fn in_words(number: usize) -> String {
    const WORDS: [&str; 13] =
        ["none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    WORDS.get(number).map_or_else(|| number.to_string(), |word| (*word).to_owned())
}
