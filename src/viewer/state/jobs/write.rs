//! How is what leaves the desk written in the background?

use std::path::{Path, PathBuf};

use crate::files::{self, FileError};
use crate::handover::places::PlacesForm;
use crate::handover::sequence::{ANIMATED, is_of_a_sequence};
use crate::handover::{
    CardError, FolderError, NewFolder, PAGE_NAME, PAPER_NAME, PaperError, SheetError, check_folder, is_of_a_sheet,
};
use crate::progress::Progress;
use crate::survey::Survey;

use super::prepare::{Ready, ReadyOf, Unmade, made, sequence};

/// What is to be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// The field card of the present stance: a page for a telephone, or paper.
    Card {
        /// Whether it is for paper.
        paper: bool,
    },
    /// The client sheet.
    Sheet,
    /// The places, in this form.
    Places(PlacesForm),
    /// The sequence.
    Sequence,
}

/// What is there already, and what is to become of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InTheWay {
    /// What was ordered.
    pub order: Order,
    /// The file or folder.
    pub path: PathBuf,
}

/// What writing came to.
pub(in crate::viewer::state) enum Written {
    Done { path: PathBuf, told: String },
    InTheWay(InTheWay),
    Cancelled,
    Failed(String),
}

impl From<PaperError> for Unwritten {
    fn from(error: PaperError) -> Self {
        Self::Unmade(Unmade::because(error))
    }
}

/// A thing that is written in the background.
pub(in crate::viewer::state) struct Writing<'a> {
    pub(in crate::viewer::state) survey: &'a Survey,
    pub(in crate::viewer::state) of: ReadyOf,
    /// The thing, where it was made ready before.
    pub(in crate::viewer::state) known: Option<Ready>,
    pub(in crate::viewer::state) order: Order,
    pub(in crate::viewer::state) path: PathBuf,
    pub(in crate::viewer::state) replace: bool,
}

/// Why something is not written.
enum Unwritten {
    Unmade(Unmade),
    File(FileError),
    Folder(FolderError),
}

impl From<FileError> for Unwritten {
    fn from(error: FileError) -> Self {
        Self::File(error)
    }
}

impl From<FolderError> for Unwritten {
    fn from(error: FolderError) -> Self {
        Self::Folder(error)
    }
}

impl From<Unmade> for Unwritten {
    fn from(error: Unmade) -> Self {
        Self::Unmade(error)
    }
}

impl From<CardError> for Unwritten {
    fn from(error: CardError) -> Self {
        Self::Unmade(error.into())
    }
}

impl From<SheetError> for Unwritten {
    fn from(error: SheetError) -> Self {
        Self::Unmade(error.into())
    }
}

impl Writing<'_> {
    pub(in crate::viewer::state) fn written(self, progress: &Progress) -> Written {
        let (order, path) = (self.order, self.path.clone());
        match self.write(progress) {
            Ok(told) => Written::Done { path, told },
            Err(Unwritten::Unmade(Unmade::Cancelled)) => Written::Cancelled,
            Err(Unwritten::Unmade(Unmade::Because(text))) => Written::Failed(text),
            // It has come to be there since it was looked for.
            Err(
                Unwritten::File(FileError::AlreadyThere { .. }) | Unwritten::Folder(FolderError::AlreadyThere { .. }),
            ) => Written::InTheWay(InTheWay { order, path }),
            Err(Unwritten::File(error)) => Written::Failed(error.to_string()),
            Err(Unwritten::Folder(error)) => Written::Failed(error.to_string()),
        }
    }

    fn write(self, progress: &Progress) -> Result<String, Unwritten> {
        let Self { survey, of, known, order, path, replace } = self;
        let path = path.as_path();
        let folder = path.parent().unwrap_or(Path::new("."));
        std::fs::create_dir_all(folder).map_err(|source| FileError::Write { path: folder.into(), source })?;
        // Looked at before the work is done, and once more when it is put there.
        match order {
            Order::Sheet => check_folder(path, is_of_a_sheet, replace)?,
            Order::Sequence => check_folder(path, is_of_a_sequence, replace)?,
            Order::Card { .. } | Order::Places(_) => {}
        }
        if order == Order::Sequence {
            let folder = NewFolder::beside(path, is_of_a_sequence, replace)?;
            let pictured = sequence(&of)?.picture_into(survey, folder.path(), progress);
            let steps = pictured.map_err(|error| match error {
                crate::handover::sequence::SequenceError::Cancelled(_) => Unmade::Cancelled,
                error => Unmade::because(error),
            })?;
            still_wanted(progress)?;
            folder.put()?;
            return Ok(format!("{} is written: {} frames and {ANIMATED}", path.display(), steps.len()));
        }
        let ready = match known {
            Some(ready) => ready,
            None => made(survey, &of, progress)?,
        };
        match (ready, order) {
            (Ready::Card(card), Order::Card { paper }) => {
                let content = if paper { card.pdf()? } else { card.html()?.into_bytes() };
                still_wanted(progress)?;
                files::write_together(&[(path, &content)], replace)?;
                Ok(format!("{} is written", path.display()))
            }
            (Ready::Sheet(sheet), Order::Sheet) => {
                let (page, paper) = (sheet.html()?, sheet.pdf()?);
                let folder = NewFolder::beside(path, is_of_a_sheet, replace)?;
                folder.write(PAGE_NAME, page.as_bytes())?;
                folder.write(PAPER_NAME, &paper)?;
                still_wanted(progress)?;
                folder.put()?;
                Ok(format!("{} is written: {PAGE_NAME} and {PAPER_NAME}", path.display()))
            }
            (Ready::Places(places), Order::Places(form)) => {
                files::write_together(&[(path, places.to_text(form).as_bytes())], replace)?;
                let mut told = format!("{} is written", path.display());
                for why in &places.left_out {
                    told.push_str(&format!("\nleft out: {why}"));
                }
                Ok(told)
            }
            _ => Err(Unmade::Because("something else was made than was ordered".into()).into()),
        }
    }
}

fn still_wanted(progress: &Progress) -> Result<(), Unmade> {
    progress.check().map_err(|_| Unmade::Cancelled)
}
