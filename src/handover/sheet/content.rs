//! What does a client read? One recommended standpoint with its reason, an alternative, what else was looked at, and what is to
//! be decided.

use std::sync::Arc;

use crate::drawing::Drawing;
use crate::handover::brand::LogoFile;
use crate::handover::page::Paper;
use crate::handover::words::PageWords;
use crate::still::Picture;
use crate::text::PlainText;

/// A client's sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct ClientSheet {
    /// In whose words it speaks.
    pub words: Arc<PageWords>,
    /// The paper that it is laid out for.
    pub paper: Paper,
    /// Its title.
    pub title: PlainText,
    /// For whom it is.
    pub client: Option<PlainText>,
    /// Whose it is; empty where nobody says.
    pub name: PlainText,
    /// Where they are reached, line by line.
    pub contact: Vec<PlainText>,
    /// Their logo.
    pub logo: Option<LogoFile>,
    /// Its date.
    pub day: PlainText,
    /// What is recommended, in a sentence.
    pub headline: PlainText,
    /// Why, in a sentence.
    pub why: PlainText,
    /// A few words before everything else.
    pub introduction: Option<PlainText>,
    /// The recommended standpoint, as its picture is delivered.
    pub chosen: Standpoint,
    /// How the picture was made, and how large things in it are.
    pub scale: PlainText,
    /// The alternative, and when it applies.
    pub second: Option<(PlainText, Standpoint)>,
    /// All standpoints on the plan.
    pub plan: Arc<Drawing>,
    /// Who may go where, and what to beware of.
    pub access: Vec<AccessLine>,
    /// Day, light, and who comes.
    pub when: Vec<PlainText>,
    /// The recommended picture as it is taken, and what becomes of it.
    pub received: Received,
    /// What else was looked at.
    pub others: Vec<Standpoint>,
    /// The shapes that the client may choose among; none where one is chosen.
    pub shapes: Vec<Shape>,
    /// Whom to answer, by when.
    pub reply: PlainText,
    /// What the client decides, each with a box to tick.
    pub decisions: Vec<Decision>,
    /// The figures of every standpoint, for readers who want them.
    pub figures: Option<Figures>,
    /// A few words at the end.
    pub closing: Option<PlainText>,
    /// What the pictures are and are not.
    pub footer: PlainText,
}

/// A standpoint with its picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Standpoint {
    /// Its number on picture, plan and sheet; 1 is the recommended one.
    pub number: usize,
    /// What it is called.
    pub label: PlainText,
    /// The picture as it is delivered.
    pub picture: Arc<Picture>,
    /// What there is to say of it.
    pub text: PlainText,
}

/// The sign before a line about access.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AccessSign {
    /// Open ground.
    Open,
    /// Ground that needs a permission: outlined on the plan.
    Ask,
    /// Closed ground: hatched on the plan.
    Closed,
    /// Something to beware of.
    Caution,
}

/// Who may go somewhere, or what to beware of there.
#[derive(Clone, Debug, PartialEq)]
pub struct AccessLine {
    /// Its sign, which is the plan's.
    pub sign: AccessSign,
    /// Where.
    pub place: PlainText,
    /// What holds there.
    pub text: PlainText,
}

/// A picture as it is taken and as it is delivered.
#[derive(Clone, Debug, PartialEq)]
pub struct Received {
    /// As it is taken, and what is said of it; absent where it is delivered as it is taken.
    pub taken: Option<Taken>,
    /// What is said of the delivered one.
    pub delivered: PlainText,
}

/// A picture as it is taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// The picture.
    pub picture: Arc<Picture>,
    /// The outline of what is kept, in shares of its width and height.
    pub kept: Vec<(f64, f64)>,
    /// What is said of it.
    pub text: PlainText,
}

/// A shape that the picture may have.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// The picture in this shape, from the recommended standpoint.
    pub picture: Arc<Picture>,
    /// What it is called.
    pub name: PlainText,
    /// Width to height.
    pub proportion: PlainText,
    /// What it is good for.
    pub text: PlainText,
}

/// Something that the client decides.
#[derive(Clone, Debug, PartialEq)]
pub struct Decision {
    /// What is said yes to.
    pub text: PlainText,
    /// More about it.
    pub note: PlainText,
}

/// Figures side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// By what the standpoints are compared, their name first.
    pub columns: Vec<PlainText>,
    /// Each standpoint's number, name and figures.
    pub rows: Vec<(usize, PlainText, Vec<PlainText>)>,
}
