//! How is a thing made and written, whole or not at all?

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::destination::Destination;
use super::error::DeliveryError;
use super::kind::{ComparisonForm, DayForm, DeliveryForm, DeliveryRequest, PageForm, Prepared, record_beside};
use crate::files::write_together;
use crate::handover::capture::Capture;
use crate::handover::compare::Comparison;
use crate::handover::day_page::DayPages;
use crate::handover::page::Page;
use crate::handover::places::Places;
use crate::handover::sequence::{Sequence, SequenceFrame, is_of_a_sequence};
use crate::handover::{ClientSheet, FieldCard, NewFolder, PAGE_NAME, PAPER_NAME, is_of_a_sheet};
use crate::progress::Progress;
use crate::survey::Survey;

/// What was handed over.
#[derive(Clone, Debug)]
pub struct Delivered {
    /// Its file, or its folder.
    pub path: PathBuf,
    /// What it is.
    pub content: DeliveredContent,
}

/// What there is to say of a thing that was handed over.
#[derive(Clone, Debug)]
pub enum DeliveredContent {
    /// A picture.
    Still {
        /// The picture with its record.
        capture: Arc<Capture>,
        /// The record's file.
        record: PathBuf,
    },
    /// A field card.
    Card(Arc<FieldCard>),
    /// The folder of a client sheet.
    Sheet {
        /// The sheet.
        sheet: Arc<ClientSheet>,
        /// How large the page for a browser is.
        page_bytes: usize,
        /// Whether there is a file for paper beside it.
        paper: bool,
    },
    /// The stances of a day in order.
    Day(Arc<DayPages>),
    /// Places.
    Places(Arc<Places>),
    /// The cameras of a sequence.
    Sequence(Arc<Vec<SequenceFrame>>),
    /// How large a film is, in bytes.
    Film(usize),
    /// A comparison.
    Comparison(Arc<Comparison>),
}

/// Makes a thing and writes it, whole or not at all. What was `prepared` of the same request before is not made again.
///
/// # Errors
/// It cannot be made or written, something is in the way, or the watcher has cancelled; then nothing new is there.
pub fn deliver(
    survey: &Survey,
    request: &DeliveryRequest,
    prepared: Option<Prepared>,
    destination: &Destination,
    progress: &Progress,
) -> Result<Delivered, DeliveryError> {
    let form = destination.check(request.kind())?;
    if let DeliveryRequest::Sequence(sequence) = request {
        return deliver_sequence(survey, sequence, destination, progress);
    }
    if let (DeliveryRequest::Film(film), DeliveryForm::Film(film_form)) = (request, form) {
        let content = film.file(survey, film_form, progress)?;
        progress.check()?;
        let write = |path: &Path, replace| Ok(write_together(&[(path, &content)], replace)?);
        let (path, ()) = destination.write(form, write)?;
        return Ok(Delivered { path, content: DeliveredContent::Film(content.len()) });
    }
    // A picture that was prepared to be looked at may be of another form.
    let prepared = match (prepared.filter(|prepared| !matches!(prepared, Prepared::Still(_))), form) {
        (Some(prepared), _) => prepared,
        (None, DeliveryForm::Still(picture)) => request.prepare_in(survey, picture, progress)?,
        (None, _) => request.prepare(survey, progress)?,
    };
    progress.check()?;
    let one_file = |content: &[u8]| {
        let write = |path: &Path, replace| Ok(write_together(&[(path, content)], replace)?);
        Ok::<PathBuf, DeliveryError>(destination.write(form, write)?.0)
    };
    let (path, content) = match (prepared, form) {
        (Prepared::Still(capture), DeliveryForm::Still(_)) => {
            let mut capture = Arc::unwrap_or_clone(capture);
            let write = |path: &Path, replace| {
                if let Some(picture) = &mut capture.record.picture {
                    picture.file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
                }
                let (record, text) = (record_beside(path), capture.record.to_ron());
                write_together(&[(path, &capture.file), (&record, text.as_bytes())], replace)?;
                Ok(record)
            };
            let (path, record) = destination.write(form, write)?;
            (path, DeliveredContent::Still { capture: Arc::new(capture), record })
        }
        (Prepared::Card(card), DeliveryForm::Card(page)) => {
            let content = match page {
                PageForm::Html => card.html()?.into_bytes(),
                PageForm::Pdf => {
                    let (name, about, language) = (card.name(), card.words.card_for(), card.words.language());
                    on_paper(&card.pages(), [&name, &about, &language])?.ok_or(DeliveryError::NoPaper)?
                }
            };
            progress.check()?;
            (one_file(&content)?, DeliveredContent::Card(card))
        }
        (Prepared::Sheet(sheet), DeliveryForm::Sheet) => {
            let html = sheet.html()?;
            let pdf = on_paper(&sheet.pages(), [&sheet.title, &sheet.headline, &sheet.words.language()])?;
            progress.check()?;
            let write = |path: &Path, replace| {
                let folder = NewFolder::beside(path, is_of_a_sheet, replace)?;
                folder.write(PAGE_NAME, html.as_bytes())?;
                if let Some(pdf) = &pdf {
                    folder.write(PAPER_NAME, pdf)?;
                }
                Ok(folder.put()?)
            };
            let (path, ()) = destination.write(form, write)?;
            let (page_bytes, paper) = (html.len(), pdf.is_some());
            (path, DeliveredContent::Sheet { sheet, page_bytes, paper })
        }
        (Prepared::Day(day), DeliveryForm::Day(form)) => {
            let content = match form {
                DayForm::Page(PageForm::Html) => day.html()?.into_bytes(),
                DayForm::Page(PageForm::Pdf) => {
                    on_paper(&day.pages(), [&day.title(), &day.about(), "en"])?.ok_or(DeliveryError::NoPaper)?
                }
                DayForm::Calendar => day.calendar().into_bytes(),
                DayForm::Route => day.route().into_bytes(),
            };
            (one_file(&content)?, DeliveredContent::Day(day))
        }
        (Prepared::Places(places), DeliveryForm::Places(places_form)) => {
            (one_file(places.to_text(places_form).as_bytes())?, DeliveredContent::Places(places))
        }
        (Prepared::Comparison(comparison), DeliveryForm::Comparison(comparison_form)) => {
            let text = match comparison_form {
                ComparisonForm::Csv => comparison.to_csv(),
                ComparisonForm::Json => comparison.to_json(),
            };
            (one_file(text.as_bytes())?, DeliveredContent::Comparison(comparison))
        }
        _ => return Err(DeliveryError::OtherThing { path: destination.path.clone() }),
    };
    Ok(Delivered { path, content })
}

/// A sequence is pictured into its folder frame by frame.
fn deliver_sequence(
    survey: &Survey,
    sequence: &Sequence,
    destination: &Destination,
    progress: &Progress,
) -> Result<Delivered, DeliveryError> {
    let write = |path: &Path, replace| {
        let folder = NewFolder::beside(path, is_of_a_sequence, replace)?;
        let frames = sequence.picture_into(survey, folder.path(), progress)?;
        progress.check()?;
        folder.put()?;
        Ok(frames)
    };
    let (path, frames) = destination.write(DeliveryForm::Sequence, write)?;
    Ok(Delivered { path, content: DeliveredContent::Sequence(Arc::new(frames)) })
}

/// Pages on paper, with their title, what they hold and their language; `None` where the program was built without.
#[cfg(feature = "paper")]
fn on_paper(pages: &[Page], [title, about, language]: [&str; 3]) -> Result<Option<Vec<u8>>, DeliveryError> {
    Ok(Some(crate::handover::paper::pdf(pages, title, about, language)?))
}

#[cfg(not(feature = "paper"))]
fn on_paper(_: &[Page], _: [&str; 3]) -> Result<Option<Vec<u8>>, DeliveryError> {
    Ok(None)
}
