//! How does a site come from its file, and what is said where it does not?
//!
//! The text is walked once for the place of every value; RON then reads the whole. Where RON refuses, a second reader
//! that never stops tells everything it finds; either way the values are checked. So all problems come at once, each
//! with its line.
//!
//! RON wants a second pair of brackets in `Grid((…))`; its extension for that refuses them. So which one was written is looked up.

use std::path::{Path, PathBuf};

use ron::extensions::Extensions;
use thiserror::Error;

use crate::files::{self, FileError, FileKind, fingerprint, text_of};
use crate::optics::Kit;

use super::check::{MOST_BLOCKS, MOST_POSTS, findings, wrong_format};
use super::problem::{Collected, Finding, PathStep, Severity, SiteProblems};
use super::read::{item_at, read_leniently, ways_meet};
use super::underlay::file_name_fault;
use super::value_tree::{Span, Tree, Value, ValueForm, short, walk_text};
use super::{SITE_FORMAT, Site};

/// A site and the file it came from.
#[derive(Clone, Debug)]
pub struct LoadedSite {
    /// The site.
    pub site: Site,
    /// Where it was read.
    pub path: PathBuf,
    /// The file's text.
    pub text: String,
    /// The fingerprint of the file's bytes: see [`site_hash`].
    pub hash: String,
    /// What is probably not as meant.
    pub warnings: SiteProblems,
}

/// A site file that cannot be used.
#[derive(Debug, Error)]
pub enum SiteError {
    /// The file cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// The file is no site, or one with faults.
    #[error(transparent)]
    Problems(#[from] SiteProblems),
}

/// The site in a file.
///
/// # Errors
/// The file cannot be read, or there is something wrong with it: then everything that is.
pub fn read_site(path: &Path) -> Result<LoadedSite, SiteError> {
    read_site_with(path, None)
}

/// As [`read_site`], for a person whose `own` kit the site's stances may name.
///
/// # Errors
/// As [`read_site`].
pub fn read_site_with(path: &Path, own: Option<&Kit>) -> Result<LoadedSite, SiteError> {
    let bytes = files::read_bytes(path, FileKind::Site)?;
    let name = path.display().to_string();
    let hash = fingerprint(&bytes);
    let text = text_of(path, bytes, FileKind::Site)?.map_err(|error| no_text(error, &name))?;
    let mut collected = Collected::new(&text);
    let site = read(&text, &mut collected, own, path.parent());
    let problems = collected.in_order(&name);
    match site {
        Some(site) if !problems.has_errors() => {
            Ok(LoadedSite { site, path: path.into(), hash, text, warnings: problems })
        }
        _ => Err(problems.into()),
    }
}

/// The site in a text; `file_name` is what problems call it. Warnings are left out: see [`check_text`].
///
/// # Errors
/// Everything that is wrong with it.
///
/// # Example
/// ```
/// let problems = plumbsight::site::parse_site("Site(format: 1, name: \"yard\", blocks: [\n  (name: \"stack\")])", "yard")
///     .unwrap_err();
/// let places: Vec<_> = problems.problems.iter().map(|p| (p.line, p.column, p.field.as_str())).collect();
/// assert_eq!(places, [(2, 3, "blocks[0].at"), (2, 3, "blocks[0].shape")]);
/// ```
pub fn parse_site(text: &str, file_name: &str) -> Result<Site, SiteProblems> {
    match read_text(text, file_name) {
        (Some(site), problems) if !problems.has_errors() => Ok(site),
        (_, problems) => Err(problems),
    }
}

/// Everything that is wrong with the text of a site, warnings too.
pub fn check_text(text: &str, file_name: &str) -> SiteProblems {
    read_text(text, file_name).1
}

/// The fingerprint of a site file: SHA-256 of its bytes, in hexadecimal digits.
///
/// # Source
/// FIPS 180-4.
pub fn site_hash(text: &str) -> String {
    fingerprint(text.as_bytes())
}

/// A site without errors, and everything that is wrong.
pub(super) fn read_text(text: &str, file_name: &str) -> (Option<Site>, SiteProblems) {
    read_text_with(text, file_name, None)
}

/// As [`read_text`], for a person whose `own` kit the site's stances may name.
pub(super) fn read_text_with(text: &str, file_name: &str, own: Option<&Kit>) -> (Option<Site>, SiteProblems) {
    let mut collected = Collected::new(text);
    let site = read(text, &mut collected, own, None);
    (site, collected.in_order(file_name))
}

/// The site in a text that RON reads, whether or not it makes sense.
pub(super) fn read_unchecked(text: &str) -> Option<Site> {
    let tree = walk(text);
    let root = tree.root.filter(|_| tree.slips.is_empty())?;
    ron_read(&root, text).ok()
}

/// The walked text of a site; editors write their mark at the front of some files.
pub(super) fn walk(text: &str) -> Tree {
    walk_text(text, start_of(text))
}

pub(super) fn start_of(text: &str) -> usize {
    if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 }
}

/// The site in a text without errors; in a `folder` its picture from above is looked for.
fn read(text: &str, collected: &mut Collected<'_>, own: Option<&Kit>, folder: Option<&Path>) -> Option<Site> {
    let most = FileKind::Site.most_bytes();
    if text.len() as u64 > most {
        let fault = format!("the text holds {} bytes; at most {most} are read", text.len());
        collected.broken(Span::new(0, 0), fault, "");
        return None;
    }
    let tree = walk(text);
    let broken = !tree.slips.is_empty();
    for slip in tree.slips {
        collected.broken(slip.span, slip.fault, slip.help);
    }
    let root = tree.root?;
    if let Some(finding) = refused_at_once(&root, text) {
        collected.finding(finding, Some(&root));
        return None;
    }
    let refusal = if broken {
        None
    } else {
        match ron_read(&root, text) {
            Ok(site) => {
                let (found, more) = findings(&site, own);
                let good = found.iter().all(|finding| finding.severity == Severity::Warning);
                for finding in found.into_iter().chain(missing_picture(&site, folder)) {
                    collected.finding(finding, Some(&root));
                }
                collected.count_more(more);
                return good.then_some(site);
            }
            Err(refusal) => Some(refusal),
        }
    };
    let reading = read_leniently(&root, text);
    for finding in reading.findings {
        collected.finding(finding, Some(&root));
    }
    collected.count_more(reading.more);
    if let (Some((at, message)), true) = (refusal, collected.is_empty()) {
        collected.broken(at, message, "");
    }
    // Findings beyond those kept may be about stand-ins, so they are not counted; there are problems enough already.
    let (found, _) = findings(&reading.site, own);
    let spoilt = |way: &[PathStep]| is_spoilt(&reading.spoilt, way);
    for mut finding in found {
        let is_news = !spoilt(&finding.way) && !finding.hangs_on.iter().any(|way| spoilt(way));
        // A warning about a site that is not there yet is no help.
        if is_news && finding.severity == Severity::Error {
            finding.item = item_at(&finding.way, &root, text);
            collected.finding(finding, Some(&root));
        }
    }
    None
}

/// What is to be said where the picture from above is not beside the site: it measures as well without.
fn missing_picture(site: &Site, folder: Option<&Path>) -> Option<Finding> {
    let underlay = site.underlay.as_ref()?;
    let there = file_name_fault(&underlay.file).is_some() || folder?.join(&underlay.file).is_file();
    (!there).then(|| Finding {
        severity: Severity::Warning,
        ..Finding::new(
            "the picture from above",
            vec![PathStep::Field("underlay"), PathStep::Field("file")],
            format!("is '{}', which is not there", short(&underlay.file)),
        )
        .help("put the picture beside the site's file, or take `underlay` out; nothing that is measured hangs on it")
    })
}

/// Whether a way leads to, through or out of one of the spoilt ones, which are in order.
fn is_spoilt(spoilt: &[Vec<PathStep>], way: &[PathStep]) -> bool {
    // What a way leads through stands before it in order: one for each of its steps.
    let through = (0..=way.len()).any(|length| {
        way.get(..length).is_some_and(|start| spoilt.binary_search_by(|known| known.as_slice().cmp(start)).is_ok())
    });
    // What leads on from it follows directly.
    let after = spoilt.partition_point(|known| known.as_slice() < way);
    through || spoilt.get(after).is_some_and(|known| known.len() > way.len() && ways_meet(known, way))
}

/// What makes all else idle: a file of another format, or more of something than is ever read.
fn refused_at_once(root: &Value, text: &str) -> Option<Finding> {
    let format = root.field("format", text).map(|field| field.value.span.of(text));
    let format = format.and_then(|format| files::ron_options().from_str::<u32>(format).ok());
    if let Some(format) = format.filter(|format| *format > SITE_FORMAT) {
        return Some(wrong_format(format));
    }
    let blocks = root.field("blocks", text).map_or(0, |field| field.value.count());
    if blocks > MOST_BLOCKS {
        let finding = Finding::new("the site", vec![PathStep::Field("blocks")], format!("has {blocks} blocks"));
        return Some(finding.allowed(format!("at most {MOST_BLOCKS}")));
    }
    let mut terrain = &root.field("terrain", text)?.value;
    while let Some(inner) = terrain.wrapped() {
        terrain = inner;
    }
    let rows = &terrain.field("rows", text)?.value;
    let posts: usize = match &rows.form {
        ValueForm::List(rows) => rows.iter().map(Value::count).sum(),
        _ => 0,
    };
    (posts > MOST_POSTS).then(|| {
        Finding::new(
            "the terrain",
            vec![PathStep::Field("terrain"), PathStep::Field("rows")],
            format!("has {posts} posts"),
        )
        .allowed(format!("at most {MOST_POSTS}"))
    })
}

/// What RON itself makes of the text, or where and why it refuses.
fn ron_read(root: &Value, text: &str) -> Result<Site, (Span, String)> {
    let mut options = files::ron_options();
    // `Grid(south_west: …)` is as good as `Grid((south_west: …))`.
    if root.field("terrain", text).is_some_and(|terrain| {
        matches!(terrain.value.form, ValueForm::Fields(_))
            && terrain.value.name().is_some_and(|name| name.name_in(text) == "Grid")
    }) {
        options = options.with_default_extension(Extensions::UNWRAP_VARIANT_NEWTYPES);
    }
    ron_read_with(&options, text)
}

/// What RON itself makes of a text, or where and why it refuses.
pub(super) fn ron_read_with<T: serde::de::DeserializeOwned>(
    options: &ron::Options,
    text: &str,
) -> Result<T, (Span, String)> {
    let start = start_of(text);
    let body = text.get(start..).unwrap_or_default();
    options.from_str(body).map_err(|error| {
        let (line, column) = (error.span.start.line, error.span.start.col);
        let line_start: usize = body.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
        let here = body.get(line_start..).unwrap_or_default();
        let before: usize = here.chars().take(column.saturating_sub(1)).map(char::len_utf8).sum();
        let at = (start + line_start + before).min(text.len());
        let length = text.get(at..).and_then(|rest| rest.chars().next()).map_or(0, char::len_utf8);
        (Span::new(at, at + length), format!("RON cannot read this: {}", error.code))
    })
}

/// The place of the first byte that is no text.
pub(super) fn no_text(error: std::string::FromUtf8Error, file_name: &str) -> SiteProblems {
    let at = error.utf8_error().valid_up_to();
    let bytes = error.into_bytes();
    // Only what is before the fault, and a mark for it, is needed to draw it.
    let mut text = String::from_utf8_lossy(bytes.get(..at).unwrap_or_default()).into_owned();
    text.push('\u{fffd}');
    let mut collected = Collected::new(&text);
    let byte = bytes.get(at).copied().unwrap_or_default();
    collected.broken(
        Span::new(at, text.len()),
        format!("the byte {byte:#04x} is no UTF-8 text"),
        "save the file as UTF-8; letters with accents are what most often goes wrong",
    );
    collected.in_order(file_name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::read::SITE_FIELDS;

    #[test]
    fn the_hash_is_sha_256() {
        // NIST, Secure Hash Standard examples: the one-block message "abc".
        assert_eq!(site_hash("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    /// Takes down the fields that a struct asks for.
    struct FieldsOf;

    #[derive(Debug)]
    struct Fields(&'static [&'static str]);

    impl std::fmt::Display for Fields {
        fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            write!(f, "{:?}", self.0)
        }
    }

    impl std::error::Error for Fields {}

    impl serde::de::Error for Fields {
        fn custom<T: std::fmt::Display>(_: T) -> Self {
            Self(&[])
        }
    }

    impl<'de> serde::Deserializer<'de> for FieldsOf {
        type Error = Fields;

        fn deserialize_any<V: serde::de::Visitor<'de>>(self, _: V) -> Result<V::Value, Fields> {
            Err(Fields(&[]))
        }

        fn deserialize_struct<V: serde::de::Visitor<'de>>(
            self,
            _: &'static str,
            fields: &'static [&'static str],
            _: V,
        ) -> Result<V::Value, Fields> {
            Err(Fields(fields))
        }

        serde::forward_to_deserialize_any! {
            bool i8 i16 i32 i64 u8 u16 u32 u64 f32 f64 char str string bytes byte_buf option unit unit_struct
            newtype_struct seq tuple tuple_struct map enum identifier ignored_any
        }
    }

    #[test]
    fn the_second_reader_knows_every_field_of_a_site() {
        let fields = <Site as serde::Deserialize>::deserialize(FieldsOf).expect_err("never read").0;
        assert_eq!(fields, SITE_FIELDS);
    }
}
