//! What does a photographer carry to the site? One side for the camera, one for the feet.

use std::sync::Arc;

use crate::drawing::Drawing;
use crate::handover::page::Paper;
use crate::handover::words::PageWords;
use crate::still::Picture;
use crate::text::PlainText;

/// A field card.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldCard {
    /// In whose words it speaks.
    pub words: Arc<PageWords>,
    /// The paper of which it takes half.
    pub paper: Paper,
    /// What the stance is called.
    pub label: PlainText,
    /// The site.
    pub site: PlainText,
    /// The planned moment and its light, where it is planned.
    pub planned: Option<(PlainText, PlainText)>,
    /// What is set on the camera, the most important first.
    pub settings: Vec<Setting>,
    /// How much of what narrows is shape, and how much tilt.
    pub gauge: Arc<Drawing>,
    /// Whether the picture is upright.
    pub verdict: PlainText,
    /// By how much it is not.
    pub leans: PlainText,
    /// What to do with the picture afterwards.
    pub afterwards: PlainText,
    /// What the finder shows.
    pub picture: Arc<Picture>,
    /// The outline of what is kept of it, in shares of its width and height; absent where all of it is.
    pub kept: Option<Vec<(f64, f64)>>,
    /// Letters of what lines up, and where they are in the picture, in the same shares.
    pub letters: Vec<(char, (f64, f64))>,
    /// What to see to before the picture is taken.
    pub ticks: Vec<PlainText>,
    /// The stance, the whole subject, and the lines to what stands about.
    pub plan: Arc<Drawing>,
    /// Where that is on the Earth, or on the site, as exactly as the site says where it is itself.
    pub place: Vec<PlainText>,
    /// What stands about: how far away, and in which direction.
    pub marks: Vec<(PlainText, PlainText)>,
    /// What lines up when the standpoint is right.
    pub lined_up: Vec<LinedUp>,
    /// How far one may be off, as arrows; absent where nobody can tell.
    pub tolerance: Option<Arc<Drawing>>,
    /// What to beware of.
    pub cautions: Vec<PlainText>,
    /// What its planner wanted to remember.
    pub note: Option<PlainText>,
    /// What its figures go by.
    pub footer: PlainText,
}

/// Something that is set on the camera.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// To what.
    pub value: PlainText,
    /// What it is.
    pub label: PlainText,
}

/// Two edges that line up.
#[derive(Clone, Debug, PartialEq)]
pub struct LinedUp {
    /// Their letter.
    pub letter: char,
    /// A close look at them.
    pub picture: Arc<Picture>,
    /// Which edge meets which.
    pub title: PlainText,
    /// Which way to step where they do not.
    pub text: PlainText,
}
