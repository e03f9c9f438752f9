//! How is a thing made and written, whole or not at all?

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::destination::Destination;
use super::error::DeliveryError;
use super::kind::{ComparisonForm, DeliveryForm, DeliveryRequest, DocumentFiles, PageForm, Prepared, record_beside};
use crate::files::write_together;
use crate::handover::NewFolder;
use crate::handover::capture::Capture;
use crate::handover::compare::Comparison;
use crate::handover::document::Document;
use crate::handover::places::Places;
use crate::handover::sequence::{Sequence, SequenceFrame, is_of_a_sequence};
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
    /// A page that is one file, such as a field card.
    Page(Arc<Document>),
    /// A folder with a page, such as a client sheet.
    PageFolder {
        /// The name of the file for a browser.
        page: &'static str,
        /// How large it is.
        page_bytes: usize,
        /// The name of the file for paper, where there is one.
        paper: Option<&'static str>,
    },
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
        (Prepared::Document(kind, document), form) if kind == form.kind() => match form.document_files() {
            Some(DocumentFiles::Page(page)) => {
                let content = match page {
                    PageForm::Html => document.html()?.into_bytes(),
                    PageForm::Pdf => on_paper(&document)?.ok_or(DeliveryError::NoPaper)?,
                };
                progress.check()?;
                (one_file(&content)?, DeliveredContent::Page(document))
            }
            Some(DocumentFiles::Folder { page, paper, ours }) => {
                let (html, pdf) = (document.html()?, on_paper(&document)?);
                progress.check()?;
                let write = |path: &Path, replace| {
                    let folder = NewFolder::beside(path, ours, replace)?;
                    folder.write(page, html.as_bytes())?;
                    if let Some(pdf) = &pdf {
                        folder.write(paper, pdf)?;
                    }
                    Ok(folder.put()?)
                };
                let (path, ()) = destination.write(form, write)?;
                let paper = pdf.is_some().then_some(paper);
                (path, DeliveredContent::PageFolder { page, page_bytes: html.len(), paper })
            }
            None => return Err(DeliveryError::OtherThing { path: destination.path.clone() }),
        },
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

/// A document on paper; `None` where the program was built without.
#[cfg(feature = "paper")]
fn on_paper(document: &Document) -> Result<Option<Vec<u8>>, DeliveryError> {
    Ok(Some(document.pdf()?))
}

#[cfg(not(feature = "paper"))]
fn on_paper(_: &Document) -> Result<Option<Vec<u8>>, DeliveryError> {
    Ok(None)
}
