//! How do places, a sequence or a comparison read before they are written?
//!
//! They are written as files of other forms; a [`Document`] is what the window shows of them.

use std::sync::Arc;

use crate::drawing::Drawing;
use crate::text::PlainText;

/// Something to read, with everything that stands in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// Its heading.
    pub title: PlainText,
    /// What stands under the heading.
    pub subtitle: PlainText,
    /// What there is to read and to see, in order.
    pub blocks: Vec<DocumentBlock>,
    /// What stands at the end.
    pub footer: PlainText,
}

/// A part of a document.
#[derive(Clone, Debug, PartialEq)]
pub enum DocumentBlock {
    /// Blocks under a heading.
    Section {
        /// The heading.
        title: PlainText,
        /// What stands under it.
        blocks: Vec<DocumentBlock>,
    },
    /// A drawing, whose lines take the colours of the page, and what it shows in words, for a screen reader.
    Illustration(Arc<Drawing>, PlainText),
    /// Values with their labels.
    Facts(Vec<Fact>),
    /// What to beware of, item by item.
    Cautions(Vec<PlainText>),
}

impl DocumentBlock {
    /// Blocks under this heading.
    pub fn section(title: impl Into<PlainText>, blocks: Vec<Self>) -> Self {
        Self::Section { title: title.into(), blocks }
    }
}

/// A value with its label.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fact {
    /// What it is.
    pub label: PlainText,
    /// How much.
    pub value: PlainText,
    /// What else there is to say of it.
    pub note: Option<PlainText>,
}

impl Fact {
    /// A value with nothing else to say of it.
    pub fn new(label: impl Into<PlainText>, value: impl Into<PlainText>) -> Self {
        Self { label: label.into(), value: value.into(), note: None }
    }

    /// A value with a note.
    pub fn noted(label: impl Into<PlainText>, value: impl Into<PlainText>, note: impl Into<PlainText>) -> Self {
        Self { note: Some(note.into()), ..Self::new(label, value) }
    }
}
