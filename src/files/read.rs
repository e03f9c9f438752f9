//! How is a file read whole, without waiting and without filling the memory?

use std::fs::{File, FileType};
use std::io::Read;
use std::path::Path;
use std::string::FromUtf8Error;

use sha2::{Digest, Sha256};

use super::content::{FileKind, binary_kind, other_kind};
use super::error::FileError;

/// How much of a file's beginning tells its kind.
const HEAD_BYTES: u64 = 4096;

/// The whole content of a file.
///
/// # Errors
/// It is no plain file, cannot be read, is too large for its content or of another kind.
pub fn read_bytes(path: &Path, content: FileKind) -> Result<Vec<u8>, FileError> {
    let failed = |source| FileError::Read { path: path.into(), source };
    let (file, bytes) = open(path)?;
    let too_large = |bytes| FileError::TooLarge { path: path.into(), bytes, content };
    if bytes > content.most_bytes() {
        return Err(too_large(bytes));
    }
    let mut found = Vec::with_capacity(usize::try_from(bytes).unwrap_or(0));
    // It may grow while it is read, and some files do not say how long they are.
    file.take(content.most_bytes() + 1).read_to_end(&mut found).map_err(failed)?;
    if found.len() as u64 > content.most_bytes() {
        return Err(too_large(found.len() as u64));
    }
    match other_kind(path, &found, content) {
        Some(kind) => Err(FileError::OtherKind { path: path.into(), kind, content }),
        None => Ok(found),
    }
}

/// The whole text of a file, without the mark by which some old programs end one.
///
/// # Errors
/// As [`read_bytes`], and where it is no UTF-8 text.
pub fn read_text(path: &Path, content: FileKind) -> Result<String, FileError> {
    text_of(path, read_bytes(path, content)?, content)?
        .map_err(|error| FileError::NoText { path: path.into(), at: error.utf8_error().valid_up_to() })
}

/// The text that a file's bytes hold, as [`read_text`] gives it; the inner error is that of a text in another encoding.
///
/// # Errors
/// It is no text at all.
pub fn text_of(path: &Path, mut bytes: Vec<u8>, content: FileKind) -> Result<Result<String, FromUtf8Error>, FileError> {
    bytes.truncate(without_end_mark(&bytes).len());
    let text = String::from_utf8(bytes);
    match text.as_ref().err().and_then(|error| binary_kind(path, error.as_bytes())) {
        Some(kind) => Err(FileError::OtherKind { path: path.into(), kind, content }),
        None => Ok(text),
    }
}

/// What stands before a trailing Ctrl-Z (0x1A), the end of text of old systems; line ends may follow it.
fn without_end_mark(bytes: &[u8]) -> &[u8] {
    let text = bytes.trim_ascii_end();
    match text.strip_suffix(b"\x1a") {
        Some(mut before) => {
            while let Some(shorter) = before.strip_suffix(b"\x1a") {
                before = shorter;
            }
            before
        }
        None => bytes,
    }
}

/// How a file begins, to tell what it may be.
///
/// # Errors
/// It is no plain file or cannot be read.
pub fn read_head(path: &Path) -> Result<Vec<u8>, FileError> {
    let (file, _) = open(path)?;
    let mut head = Vec::new();
    file.take(HEAD_BYTES).read_to_end(&mut head).map_err(|source| FileError::Read { path: path.into(), source })?;
    Ok(head)
}

/// The fingerprint of some bytes: SHA-256 in hexadecimal digits.
///
/// # Source
/// FIPS 180-4.
pub fn fingerprint(bytes: &[u8]) -> String {
    digits(&Sha256::digest(bytes))
}

/// The [`fingerprint`] of a picture's file.
///
/// # Errors
/// It is no plain file, cannot be read or is too large.
pub fn fingerprint_of_picture(path: &Path) -> Result<String, FileError> {
    let (file, bytes) = open(path)?;
    let most = FileKind::Picture.most_bytes();
    if bytes > most {
        return Err(FileError::TooLarge { path: path.into(), bytes, content: FileKind::Picture });
    }
    let failed = |source| FileError::Read { path: path.into(), source };
    let mut file = file.take(most);
    let mut sum = Sha256::new();
    let mut piece = vec![0; 1 << 16];
    loop {
        match file.read(&mut piece) {
            Ok(0) => return Ok(digits(&sum.finalize())),
            Ok(count) => sum.update(&piece[..count]),
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(failed(error)),
        }
    }
}

fn digits(sum: &[u8]) -> String {
    sum.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Opens a plain file, and tells how long it says that it is.
fn open(path: &Path) -> Result<(File, u64), FileError> {
    let failed = |source| FileError::Read { path: path.into(), source };
    // Looked at before it is opened: opening alone does something to some devices, and waits at a named pipe.
    check_plain(path, &std::fs::metadata(path).map_err(failed)?.file_type())?;
    let file = open_at_once(path).map_err(failed)?;
    let known = file.metadata().map_err(failed)?;
    // It may have become something else in between.
    check_plain(path, &known.file_type())?;
    Ok((file, known.len()))
}

#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn open_at_once(path: &Path) -> std::io::Result<File> {
    use std::os::unix::fs::OpenOptionsExt;
    let at_once = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY;
    File::options().read(true).custom_flags(at_once.bits().cast_signed()).open(path)
}

#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn open_at_once(path: &Path) -> std::io::Result<File> {
    File::open(path)
}

/// Refuses what is no plain file.
pub(super) fn check_plain(path: &Path, found: &FileType) -> Result<(), FileError> {
    if found.is_file() {
        return Ok(());
    }
    Err(FileError::NoPlainFile { path: path.into(), what: name_of(found) })
}

#[cfg(unix)]
fn name_of(found: &FileType) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    if found.is_dir() {
        "a folder"
    } else if found.is_fifo() {
        "a named pipe"
    } else if found.is_socket() {
        "a socket"
    } else {
        "a device"
    }
}

#[cfg(not(unix))]
fn name_of(found: &FileType) -> &'static str {
    if found.is_dir() { "a folder" } else { "no plain file" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_that_is_none_is_told_by_its_byte_or_its_kind() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bytes");
        let read = |bytes: &[u8]| {
            std::fs::write(&path, bytes).expect("written");
            read_text(&path, FileKind::Site)
        };
        assert!(matches!(read(b"abc\xff"), Err(FileError::NoText { at: 3, .. })));
        assert!(matches!(read(b"\xff\xfeS\0i\0"), Err(FileError::NoText { at: 0, .. })));
        for (bytes, words) in [
            (&b"\x89PNG\r\n\x1a\n\0"[..], "is a PNG picture; expected a site file"),
            (b"%PDF-1.7\n", "is a PDF document"),
            (b"PK\x03\x04\x14\0", "is a ZIP archive"),
            (b"\0\0\x27\x0a\0\0", "a shapefile"),
            (b"II*\0\x08\0\0\0", "GeoTIFF"),
            (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "spreadsheet"),
            (b"\xef\xbb\xbf  <?xml version=", "an XML document"),
            (b"\x01\x02\0\xff", "binary data"),
        ] {
            let error = read(bytes).expect_err("refused").to_string();
            assert!(error.contains(words) && !error.contains("UTF-8"), "{bytes:?}: {error}");
        }
    }

    #[test]
    fn a_trailing_end_mark_is_no_part_of_a_text() {
        for (bytes, text) in [
            (&b"(a: 1)\n\x1a"[..], &b"(a: 1)\n"[..]),
            (b"(a: 1)\x1a\x1a\r\n", b"(a: 1)"),
            (b"(a: 1)\r\n", b"(a: 1)\r\n"),
            (b"\x1a", b""),
            (b"a\x1ab", b"a\x1ab"),
        ] {
            assert_eq!(without_end_mark(bytes), text);
        }
    }

    #[test]
    fn the_fingerprint_of_a_file_is_that_of_its_bytes() {
        // FIPS 180-4's example, "abc".
        let known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(fingerprint(b"abc"), known);
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.png");
        std::fs::write(&path, b"abc").expect("written");
        assert_eq!(fingerprint_of_picture(&path).expect("read"), known);
        assert!(matches!(fingerprint_of_picture(folder.path()), Err(FileError::NoPlainFile { .. })));
    }

    #[test]
    fn what_is_too_large_for_its_content_is_refused_before_it_is_read() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("large");
        let file = std::fs::File::create(&path).expect("made");
        for content in [FileKind::Projection, FileKind::Brand, FileKind::Footprints, FileKind::Record] {
            file.set_len(content.most_bytes() + 1).expect("sparse");
            let error = read_bytes(&path, content).expect_err("refused");
            assert!(matches!(error, FileError::TooLarge { bytes, .. } if bytes == content.most_bytes() + 1));
            file.set_len(content.most_bytes().min(1 << 16)).expect("sparse");
            assert_eq!(read_bytes(&path, content).expect("read").len() as u64, content.most_bytes().min(1 << 16));
        }
    }
}
