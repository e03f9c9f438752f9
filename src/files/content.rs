//! What is a file read as, how large may it be for that, and what is it if it is something else?

use std::fmt;
use std::path::Path;

const KIB: u64 = 1024;
const MIB: u64 = 1024 * KIB;

/// What a file is read as.
///
/// Each has a bound that is looked at before anything is read, so that a wrong or hostile file cannot fill the memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// A site: up to 256 MiB, room for the four million posts that its terrain may have.
    Site,
    /// A plan: up to 64 MiB, room for the 2000 prints that it may hold.
    Plan,
    /// A kit of one's own: up to 4 MiB.
    Kit,
    /// A capture record: up to 256 MiB; every line of a large site is in it.
    Record,
    /// A brand file: up to 1 MiB.
    Brand,
    /// The logo of a brand: up to 16 MiB.
    Logo,
    /// The words of sheet and card in a language: up to 1 MiB.
    Words,
    /// Footprints as GeoJSON: up to 64 MiB; what is read of it grows to many times its text in memory.
    Footprints,
    /// A terrain grid: up to 256 MiB.
    Terrain,
    /// A tide table: up to 4 MiB, a year of entries every five minutes.
    Tide,
    /// The projection file beside a grid: up to 64 KiB.
    Projection,
    /// A piece of a search: up to 256 MiB.
    SearchPiece,
    /// A script for the window: up to 1 MiB.
    Script,
    /// The window's settings: up to 1 MiB.
    Settings,
    /// A picture of the place from above: up to 200 MiB.
    FromAbove,
    /// The world file beside such a picture: up to 64 KiB.
    WorldFile,
    /// A picture: up to 4 GiB; it is gone through and not kept in memory.
    Picture,
}

impl FileKind {
    /// The largest file that is read for it.
    pub const fn most_bytes(self) -> u64 {
        match self {
            Self::Site | Self::Record | Self::Terrain | Self::SearchPiece => 256 * MIB,
            Self::Plan | Self::Footprints => 64 * MIB,
            Self::Logo => 16 * MIB,
            Self::Kit | Self::Tide => 4 * MIB,
            Self::Brand | Self::Words | Self::Script | Self::Settings => MIB,
            Self::FromAbove => 200 * MIB,
            Self::Projection | Self::WorldFile => 64 * KIB,
            Self::Picture => 4096 * MIB,
        }
    }

    /// Whether a file that begins as no text does may be the right one.
    const fn is_binary(self) -> bool {
        matches!(self, Self::Logo | Self::Picture | Self::FromAbove | Self::SearchPiece)
    }
}

impl fmt::Display for FileKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Site => "a site file (text in RON)",
            Self::Plan => "a plan file (text in RON)",
            Self::Kit => "a kit file (text in RON)",
            Self::Record => "a capture record (text in RON or JSON)",
            Self::Brand => "a brand file (text in RON)",
            Self::Words => "a file of words (text in RON)",
            Self::Logo => "a logo (PNG or JPEG)",
            Self::Footprints => "footprints (GeoJSON)",
            Self::Terrain => "footprints (GeoJSON) or terrain (an Esri ASCII grid)",
            Self::Tide => "a tide table (CSV)",
            Self::Projection => "a projection file (text)",
            Self::SearchPiece => "a piece of a search",
            Self::Script => "a script (text)",
            Self::Settings => "a settings file (text in RON)",
            Self::FromAbove => "a picture from above (PNG, JPEG or TIFF)",
            Self::WorldFile => "a world file (six lines of text)",
            Self::Picture => "a picture",
        })
    }
}

/// How files begin that are no text of this program's, and what they are.
const BEGINNINGS: [(&[u8], &str); 39] = [
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"II*\0", "a TIFF picture or GeoTIFF grid"),
    (b"MM\0*", "a TIFF picture or GeoTIFF grid"),
    (b"II+\0", "a BigTIFF picture or GeoTIFF grid"),
    (b"MM\0+", "a BigTIFF picture or GeoTIFF grid"),
    (b"\0\0\0\x0cjP  ", "a JPEG 2000 picture"),
    (b"%PDF-", "a PDF document"),
    (b"%!PS", "a PostScript document"),
    (b"{\\rtf", "a word processor's document (RTF)"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an office document, such as a spreadsheet"),
    (b"\x1f\x8b", "a gzip archive; unpack it first"),
    (b"BZh", "a bzip2 archive; unpack it first"),
    (b"\xfd7zXZ\0", "an xz archive; unpack it first"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive; unpack it first"),
    (b"\x28\xb5\x2f\xfd", "a Zstandard archive; unpack it first"),
    (b"Rar!\x1a\x07", "a RAR archive; unpack it first"),
    (b"\0\0\x27\x0a", "a part of a shapefile; save its footprints as GeoJSON"),
    (b"SQLite format 3\0", "a database, such as a GeoPackage; save its footprints as GeoJSON"),
    (b"fgb\x03", "a FlatGeobuf file; save its footprints as GeoJSON"),
    (b"PAR1", "a Parquet table; save its footprints as GeoJSON"),
    (b"glTF", "a 3D model (glTF)"),
    (b"ply\n", "a point cloud or 3D model (PLY)"),
    (b"ply\r\n", "a point cloud or 3D model (PLY)"),
    (b"LASF", "a point cloud (LAS)"),
    (b"ASTM-E57", "a point cloud (E57)"),
    (b"\x89HDF\r\n\x1a\n", "an HDF5 file, such as a NetCDF grid"),
    (b"CDF\x01", "a NetCDF grid"),
    (b"CDF\x02", "a NetCDF grid"),
    (b"GRIB", "a GRIB grid"),
    (b"\x7fELF", "a program"),
    (b"MZ\x90\0", "a program"),
    (b"<?xml", "an XML document (such as KML, GML or GPX)"),
    (b"<kml", "an XML document (KML)"),
    (b"<!DOCTYPE html", "a web page"),
    (b"<!doctype html", "a web page"),
    (b"<html", "a web page"),
];

/// Names' endings of files that have no beginning of their own.
const ENDINGS: [(&str, &str); 7] = [
    ("hgt", "an SRTM height tile"),
    ("dbf", "the table of a shapefile; save its footprints as GeoJSON"),
    ("flt", "a binary terrain grid; save it as an Esri ASCII grid"),
    ("bil", "a binary terrain grid; save it as an Esri ASCII grid"),
    ("img", "a binary picture or grid"),
    ("dwg", "a drawing (DWG)"),
    ("stl", "a 3D model (STL)"),
];

/// What a file is, if it is of a kind that is known and not the one that was wanted; `head` is how it begins.
pub fn other_kind(path: &Path, head: &[u8], content: FileKind) -> Option<&'static str> {
    if content.is_binary() {
        return None;
    }
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    if head.starts_with(b"PK\x03\x04") {
        return Some(packed_kind(&ending));
    }
    if head.starts_with(b"RIFF") && head.get(8..12) == Some(b"WEBP") {
        return Some("a WebP picture");
    }
    if head.starts_with(b"BM") && head.get(6..10) == Some(&[0; 4]) {
        return Some("a BMP picture");
    }
    if head.get(4..8) == Some(b"ftyp") {
        return Some("a film, or a HEIF or AVIF picture");
    }
    let text = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head).trim_ascii_start();
    let begins = |(beginning, _): &&(&[u8], &str)| head.starts_with(beginning) || text.starts_with(beginning);
    BEGINNINGS.iter().find(begins).map(|(_, kind)| *kind)
}

/// What a file is that is no text and has no known beginning; `None` for a text in another encoding.
pub(super) fn binary_kind(path: &Path, bytes: &[u8]) -> Option<&'static str> {
    // UTF-16 says so by its mark.
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
        return None;
    }
    let head = &bytes[..bytes.len().min(4096)];
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    let by_ending = ENDINGS.iter().find(|(known, _)| *known == ending).map(|(_, kind)| *kind);
    by_ending.or_else(|| head.contains(&0).then_some("binary data of a kind that is not read"))
}

/// What a packed file holds, which its name tells.
fn packed_kind(ending: &str) -> &'static str {
    match ending {
        "xlsx" | "xlsm" | "ods" => "a spreadsheet",
        "docx" | "odt" => "a word processor's document",
        "pptx" | "odp" => "a slide show",
        "kmz" => "a packed KML file (KMZ)",
        _ => "a ZIP archive; unpack it first",
    }
}
