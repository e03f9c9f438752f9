//! Whose sheet is it? The name, address and logo of the photographer, from a small file.

use std::path::{Path, PathBuf};

use serde::Deserialize;
use thiserror::Error;

use crate::files::{FileError, FileKind, read_bytes, read_text, ron_options};

/// The largest logo that is taken into a sheet.
const LARGEST_LOGO_BYTES: usize = 400 * 1024;
/// The longest text.
const LONGEST: usize = 2000;

/// Who hands a sheet over, to whom, and what they want to say.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Brand {
    /// The photographer or firm.
    pub name: String,
    /// Where they are reached, line by line.
    pub contact: Vec<String>,
    /// The sheet's title, in place of the site's name.
    pub title: Option<String>,
    /// For whom it is made.
    pub client: Option<String>,
    /// A few words at the beginning.
    pub text: Option<String>,
    /// A few words at the end.
    pub closing: Option<String>,
    /// Who comes and what they bring, line by line.
    pub who: Vec<String>,
    /// Whom the client answers, and by when.
    pub reply: Option<String>,
    /// A picture beside the name: a PNG or JPEG file, by its path from this file.
    #[serde(rename = "mark")]
    pub logo: Option<PathBuf>,
    /// That picture, once it is read.
    #[serde(skip)]
    pub logo_file: Option<LogoFile>,
}

/// A logo as it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogoFile {
    /// Whether it is a PNG; a JPEG else.
    pub png: bool,
    /// The whole file.
    pub bytes: Vec<u8>,
}

/// What is wrong with a brand file.
#[derive(Debug, Error)]
pub enum BrandError {
    /// It, or the logo, cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// It does not say what such a file says.
    #[error("{path}:{line}:{column}: {why}; it may hold name, contact, title, client, text, closing, who, reply and mark", path = path.display())]
    Reading {
        /// The file.
        path: PathBuf,
        /// Where.
        line: usize,
        /// Where.
        column: usize,
        /// What is wrong there.
        why: String,
    },
    /// A text that is too long.
    #[error("{path}: `{field}` has {length} letters; at most {LONGEST} find room", path = path.display())]
    TooLong {
        /// The file.
        path: PathBuf,
        /// Which text.
        field: &'static str,
        /// How long it is.
        length: usize,
    },
    /// A logo that is no picture, or too large a one.
    #[error("{path}: {why}", path = path.display())]
    Logo {
        /// The logo's file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
}

impl Brand {
    /// Reads a brand file and the logo beside it.
    ///
    /// # Errors
    /// The file, or the logo, cannot be read or is not what it should be.
    pub fn read(path: &Path) -> Result<Self, BrandError> {
        let text = read_text(path, FileKind::Brand)?;
        let mut brand: Self = ron_options().from_str(&text).map_err(|error| BrandError::Reading {
            path: path.into(),
            line: error.span.start.line,
            column: error.span.start.col,
            why: error.code.to_string(),
        })?;
        let texts = [
            ("name", Some(brand.name.as_str())),
            ("title", brand.title.as_deref()),
            ("client", brand.client.as_deref()),
            ("text", brand.text.as_deref()),
            ("closing", brand.closing.as_deref()),
            ("reply", brand.reply.as_deref()),
        ];
        let lines = brand.contact.iter().map(|line| ("contact", Some(line.as_str())));
        let who = brand.who.iter().map(|line| ("who", Some(line.as_str())));
        for (field, text) in texts.into_iter().chain(lines).chain(who) {
            let length = text.map_or(0, |text| text.chars().count());
            if length > LONGEST {
                return Err(BrandError::TooLong { path: path.into(), field, length });
            }
        }
        if let Some(logo) = &brand.logo {
            let folder = path.parent().unwrap_or(Path::new(""));
            brand.logo_file = Some(read_logo(&folder.join(logo))?);
        }
        Ok(brand)
    }
}

fn read_logo(path: &Path) -> Result<LogoFile, BrandError> {
    let bytes = read_bytes(path, FileKind::Logo)?;
    let refused = |why: String| BrandError::Logo { path: path.into(), why };
    if bytes.len() > LARGEST_LOGO_BYTES {
        let largest = LARGEST_LOGO_BYTES / 1024;
        return Err(refused(format!("the logo has {} KB; at most {largest} KB find room", bytes.len() / 1024)));
    }
    let png = bytes.starts_with(b"\x89PNG\r\n\x1a\n");
    if !png && !bytes.starts_with(b"\xff\xd8\xff") {
        return Err(refused("the logo is neither a PNG nor a JPEG file".into()));
    }
    Ok(LogoFile { png, bytes })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Brand, BrandError> {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("brand.ron");
        std::fs::write(&path, text).expect("written");
        std::fs::write(folder.path().join("mark.png"), b"\x89PNG\r\n\x1a\n").expect("written");
        std::fs::write(folder.path().join("mark.gif"), b"GIF89a").expect("written");
        Brand::read(&path)
    }

    #[test]
    fn a_brand_file_is_read_with_its_mark() {
        let brand =
            read("(name: \"Yard Pictures\", contact: [\"post@yard.example\"], mark: \"mark.png\")").expect("in order");
        assert_eq!((brand.name.as_str(), brand.contact.len()), ("Yard Pictures", 1));
        assert!(brand.logo_file.expect("a mark").png);
        assert_eq!(read("()").expect("in order"), Brand::default());
    }

    #[test]
    fn what_is_wrong_with_a_brand_file_is_told_with_its_place() {
        for (text, words) in [
            ("(\n  nmae: \"x\")", ":2:"),
            ("(mark: \"none.png\")", "none.png"),
            ("(mark: \"mark.gif\")", "neither a PNG nor a JPEG"),
            ("(name: 5)", "brand.ron:1:"),
        ] {
            let error = read(text).expect_err("refused").to_string();
            assert!(error.contains(words), "'{words}' is not in {error}");
        }
        assert!(read(&format!("(text: \"{}\")", "x".repeat(3000))).expect_err("refused").to_string().contains("3000"));
    }
}
