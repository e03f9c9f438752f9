//! What stands on a page that is handed over, whatever it is read on?
//!
//! A card or a sheet is put together once, as a [`Document`]. A browser ([`Document::html`]), paper (`Document::pdf`) and the
//! window each lay out the same blocks in their own way, so that all of them say the same.

use std::sync::Arc;

use crate::drawing::Drawing;
use crate::still::Picture;
use crate::text::PlainText;

use super::brand::LogoFile;

/// How a document is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PageLayout {
    /// One page for the pocket: dense, A5 on paper.
    Pocket,
    /// Pages for the desk: large pictures, A4 on paper.
    Report,
}

/// A page, or several, with everything that stands on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// How it is laid out.
    pub layout: PageLayout,
    /// What the file is called in lists of files and windows.
    pub name: PlainText,
    /// What the file holds, in a sentence.
    pub description: PlainText,
    /// Whose it is.
    pub letterhead: Option<Letterhead>,
    /// Its heading.
    pub title: PlainText,
    /// What stands under the heading.
    pub subtitle: PlainText,
    /// A few words before everything else.
    pub introduction: Option<PlainText>,
    /// What there is to read and to see, in order.
    pub blocks: Vec<DocumentBlock>,
    /// What stands at the bottom, on paper of every page.
    pub footer: PlainText,
}

/// Whose a document is.
#[derive(Clone, Debug, PartialEq)]
pub struct Letterhead {
    /// The photographer or firm.
    pub name: PlainText,
    /// Where they are reached, line by line.
    pub contact: Vec<PlainText>,
    /// Their logo.
    pub logo: Option<LogoFile>,
}

/// A part of a document.
#[derive(Clone, Debug, PartialEq)]
pub enum DocumentBlock {
    /// Blocks under a heading.
    Section(Section),
    /// Sections beside one another, where there is room.
    Columns(Vec<Section>),
    /// A picture or a drawing.
    Illustration(Illustration),
    /// Pictures to be compared: two at a time on a screen, all of them small on paper.
    Gallery(Vec<GalleryPicture>),
    /// Something with pictures and words of its own, under a number.
    Article(Article),
    /// Some sentences.
    Paragraph(Paragraph),
    /// Values with their labels.
    Facts(Vec<Fact>),
    /// Items one below the other.
    List(List),
    /// Figures of several things side by side.
    Table(Table),
}

/// Blocks under a heading.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// The heading.
    pub title: PlainText,
    /// Whether it says what to beware of.
    pub cautions: bool,
    /// What stands under it.
    pub blocks: Vec<DocumentBlock>,
}

impl Section {
    /// A section with this heading.
    pub fn new(title: impl Into<PlainText>, blocks: Vec<DocumentBlock>) -> Self {
        Self { title: title.into(), cautions: false, blocks }
    }

    /// A section that says what to beware of.
    pub fn of_cautions(title: impl Into<PlainText>, blocks: Vec<DocumentBlock>) -> Self {
        Self { cautions: true, ..Self::new(title, blocks) }
    }
}

/// What an illustration shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Image {
    /// Pixels.
    Picture(Arc<Picture>),
    /// Lines, which take the colours of the page.
    Drawing(Arc<Drawing>),
}

/// A picture or a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Illustration {
    /// What it shows.
    pub image: Image,
    /// The same in words, for a screen reader.
    pub alternative: PlainText,
    /// What stands under it.
    pub caption: Option<PlainText>,
    /// By what a gallery finds it; a word of letters, digits and dashes.
    pub id: Option<String>,
}

impl Illustration {
    /// Width over height.
    pub fn aspect(&self) -> f64 {
        match &self.image {
            Image::Picture(picture) => f64::from(picture.width_px) / f64::from(picture.height_px.max(1)),
            Image::Drawing(drawing) => drawing.width_pt / drawing.height_pt.max(1e-9),
        }
    }
}

/// A picture of a gallery; it stands in the document as an illustration too.
#[derive(Clone, Debug, PartialEq)]
pub struct GalleryPicture {
    /// The illustration's.
    pub id: String,
    /// What it is called among the others.
    pub name: PlainText,
    /// What is called so on paper, where only the main ones are shown.
    pub main: Option<PlainText>,
    /// The picture.
    pub picture: Arc<Picture>,
}

/// Something with pictures and words of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Article {
    /// Counted from 1.
    pub number: usize,
    /// Its heading.
    pub title: PlainText,
    /// Its pictures, the main one first.
    pub illustrations: Vec<Illustration>,
    /// Its words.
    pub paragraphs: Vec<Paragraph>,
}

/// How a paragraph is meant.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tone {
    /// As it stands.
    #[default]
    Plain,
    /// A remark beside the matter.
    Note,
    /// Something that must be seen to first.
    Needed,
}

/// Some sentences.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Paragraph {
    /// What they say.
    pub text: PlainText,
    /// How they are meant.
    pub tone: Tone,
}

impl Paragraph {
    /// Sentences as they stand.
    pub fn plain(text: impl Into<PlainText>) -> Self {
        Self { text: text.into(), tone: Tone::Plain }
    }

    /// A remark.
    pub fn note(text: impl Into<PlainText>) -> Self {
        Self { text: text.into(), tone: Tone::Note }
    }

    /// Something that must be seen to first.
    pub fn needed(text: impl Into<PlainText>) -> Self {
        Self { text: text.into(), tone: Tone::Needed }
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

/// What stands before the items of a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ListMarks {
    /// A bullet.
    Bullets,
    /// A, B, C: the letters that an illustration shows.
    Letters,
}

/// Items one below the other.
#[derive(Clone, Debug, PartialEq)]
pub struct List {
    /// What stands before each.
    pub marks: ListMarks,
    /// The items.
    pub items: Vec<ListItem>,
}

impl List {
    /// Items of text alone.
    pub fn of(marks: ListMarks, items: impl IntoIterator<Item = impl Into<PlainText>>) -> Self {
        Self { marks, items: items.into_iter().map(|text| ListItem { lead: None, text: text.into() }).collect() }
    }
}

/// An item of a list.
#[derive(Clone, Debug, PartialEq)]
pub struct ListItem {
    /// What it is about, where it is named before the text.
    pub lead: Option<PlainText>,
    /// What it says.
    pub text: PlainText,
}

/// Figures of several things side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// What the things are.
    pub corner: PlainText,
    /// What they are compared by.
    pub columns: Vec<PlainText>,
    /// The things.
    pub rows: Vec<TableRow>,
}

/// One of the things in a table.
#[derive(Clone, Debug, PartialEq)]
pub struct TableRow {
    /// Its number, which it has elsewhere too.
    pub number: Option<usize>,
    /// What it is called.
    pub name: PlainText,
    /// Its figures, one for each column.
    pub cells: Vec<PlainText>,
}

impl Document {
    /// Every block, those within sections too, in order.
    pub fn all_blocks(&self) -> Vec<&DocumentBlock> {
        fn add<'a>(blocks: &'a [DocumentBlock], found: &mut Vec<&'a DocumentBlock>) {
            for block in blocks {
                found.push(block);
                match block {
                    DocumentBlock::Section(section) => add(&section.blocks, found),
                    DocumentBlock::Columns(sections) => sections.iter().for_each(|section| add(&section.blocks, found)),
                    _ => {}
                }
            }
        }
        let mut found = Vec::new();
        add(&self.blocks, &mut found);
        found
    }

    /// How many things the letters in its illustrations mark.
    pub fn lettered(&self) -> usize {
        let of = |block: &&DocumentBlock| match block {
            DocumentBlock::List(list) if list.marks == ListMarks::Letters => list.items.len(),
            _ => 0,
        };
        self.all_blocks().iter().map(of).sum()
    }
}
