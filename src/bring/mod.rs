//! How does a real place get into a site file?
//!
//! Footprints, terrain and pictures from above come in from open formats and are laid into the site's own axes. Nothing is written here: what
//! was read is returned, with every guess that was made said aloud.

mod error;
mod esri_grid;
mod footprints;
mod geojson;
mod georeference;
mod grid_file;
mod grid_layout;
mod intake;
mod map_grid;
mod names;
mod options;
mod outline;
mod picture;
mod picture_error;
mod words;

use std::path::PathBuf;

use crate::files::{FileError, FileKind, other_kind, read_head, read_text};
use crate::place::{Geographic, TangentPlane, VALID_RADIUS_M};
use crate::site::{Anchor, Block, MOST_BLOCKS, Site, Terrain, TerrainGrid, outline_holds};

pub use error::BringError;
pub use esri_grid::GridProblem;
pub use geojson::GeoJsonProblem;
pub use georeference::{PictureLaying, laid_by_file, laid_in_view};
pub use options::{BringOptions, HeightUnit};
pub use picture::{Raster, picture_size_px, read_picture};
pub use picture_error::{MOST_PIXELS, PictureError};

use footprints::FootprintFile;
use grid_file::{GridFile, lay_grid};
use intake::Intake;
use names::Names;
use options::BLOCK_HEIGHTS_M;
use words::{counted, file_name, some_of};

/// What the files held, in the site's axes.
#[derive(Clone, Debug, PartialEq)]
pub struct Brought {
    /// Where the axes have their origin.
    pub anchor: Anchor,
    /// The ground, if a file held it.
    pub terrain: Option<Terrain>,
    /// A block for each footprint, with names that neither these nor the site's own blocks share.
    pub blocks: Vec<Block>,
    /// Every guess, omission and inexactness, each a sentence to read before the site is trusted.
    pub warnings: Vec<String>,
    /// A line for each file: what it was and what came of it.
    pub summary: Vec<String>,
}

/// Reads files of footprints and terrain and lays them into the axes of a site.
///
/// Files are told apart by what they hold. Beside a terrain grid its `.prj` file is read. `into` is the site that they are
/// to join, if there is one: its anchor and the names of its blocks are then respected.
///
/// # Errors
/// A file that cannot be read or is malformed, lies nowhere or too far away, or an option out of range.
pub fn bring(files: &[PathBuf], options: &BringOptions, into: Option<&Site>) -> Result<Brought, BringError> {
    for (option, value, allowed) in [
        ("the default height in metres (--default-height)", Some(options.default_height_m), BLOCK_HEIGHTS_M),
        ("the radius in metres (--within)", options.within_m, 1.0..=VALID_RADIUS_M),
    ] {
        if let Some(value) = value.filter(|value| !allowed.contains(value)) {
            return Err(BringError::OptionRange { option, value, least: *allowed.start(), most: *allowed.end() });
        }
    }
    let mut warnings = Vec::new();
    let mut grid: Option<GridFile> = None;
    let mut footprint_files = Vec::new();
    let mut centre = None;
    let mut crs_used = options.crs.is_none();
    for path in files {
        let head = read_head(path)?;
        if let Some(kind) = other_kind(path, &head, FileKind::Terrain) {
            return Err(FileError::OtherKind { path: path.clone(), kind, content: FileKind::Terrain }.into());
        }
        let begins = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&head).trim_ascii_start();
        let content = if begins.starts_with(b"{") { FileKind::Footprints } else { FileKind::Terrain };
        let text = read_text(path, content)?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        if text.trim_start().starts_with('{') {
            let file = FootprintFile::read(path, text, options)?;
            crs_used |= file.by_option;
            if centre.is_none() {
                centre = Some(file.centre()?);
            }
            footprint_files.push(file);
        } else if esri_grid::begins_like_one(text) {
            let file = GridFile::read(path, text, options, &mut warnings)?;
            // A grid goes by --crs whatever stands beside it.
            crs_used = true;
            if let Some(first) = grid {
                return Err(BringError::SecondTerrain { first: first.path, second: file.path });
            }
            if centre.is_none() {
                centre = Some(file.centre()?);
            }
            grid = Some(file);
        } else {
            let begins = text.trim_start().chars().take(20).map(|c| if c.is_control() { ' ' } else { c }).collect();
            return Err(BringError::UnknownFormat { path: path.clone(), begins });
        }
    }
    if let Some(code) = options.crs.filter(|_| !crs_used) {
        warnings.push(format!(
            "--crs {code} was not used: what was brought tells its own map system, or is in longitude and latitude as GeoJSON \
             has it"
        ));
    }
    let known_anchor = known_anchor(options, into)?;
    let (centre_deg, known_height_m) = match (&known_anchor, centre) {
        (Some(anchor), _) => ((anchor.latitude_deg, anchor.longitude_deg), Some(anchor.height_m)),
        (None, Some(centre)) => {
            let rounded = |degrees: f64| (degrees * 1e7).round() / 1e7;
            ((rounded(centre.latitude().degrees()), rounded(centre.longitude().degrees())), None)
        }
        (None, None) => return Err(BringError::NoFiles),
    };
    let place = |height_m| Geographic::from_degrees(centre_deg.0, centre_deg.1, height_m).map_err(BringError::Anchor);

    // The posts that are wanted hardly depend on the anchor's height, which may itself come from them.
    let read_grid = match &grid {
        Some(file) => {
            Some(file.posts(&TangentPlane::new(place(known_height_m.unwrap_or(0.0))?), options, &mut warnings)?)
        }
        None => None,
    };
    let anchor = match (known_anchor, &grid, &read_grid) {
        (Some(anchor), _, _) => anchor,
        (None, Some(file), Some(posts)) => Anchor {
            latitude_deg: centre_deg.0,
            longitude_deg: centre_deg.1,
            height_m: posts.height_near_m(&place(0.0)?).round(),
            vertical_datum: Some(datum_of(file)),
        },
        _ => Anchor {
            latitude_deg: centre_deg.0,
            longitude_deg: centre_deg.1,
            height_m: 0.0,
            vertical_datum: Some("the ground at the anchor".into()),
        },
    };
    let plane = TangentPlane::new(place(anchor.height_m)?);

    let mut summary = Vec::new();
    let terrain = match (&grid, read_grid) {
        (Some(file), Some(posts)) => {
            let (terrain, line) = lay_grid(file, posts, &plane, &mut warnings)?;
            summary.push(line);
            Some(terrain)
        }
        _ => None,
    };
    warn_of_the_site(into, &anchor, grid.as_ref(), &mut warnings);
    let mut intake = Intake { plane, options, names: Names::of(into), blocks: Vec::new(), warnings };
    for (index, file) in footprint_files.iter().enumerate() {
        summary.push(file.build(index, &mut intake)?);
    }
    let Intake { names, mut blocks, mut warnings, .. } = intake;
    let count = blocks.len() + into.map_or(0, |site| site.blocks.len());
    if count > MOST_BLOCKS {
        return Err(BringError::TooManyBlocks { count });
    }
    warnings.extend(names.warning());
    if let Some(grid) = &terrain {
        warn_of_blocks_beyond(grid, &blocks, &mut warnings);
    }
    if let Some(name) = &options.subject {
        mark_subject(name, &names, &mut blocks)?;
    }
    Ok(Brought { anchor, terrain: terrain.map(Terrain::Grid), blocks, warnings, summary })
}

/// The anchor that is already decided.
fn known_anchor(options: &BringOptions, into: Option<&Site>) -> Result<Option<Anchor>, BringError> {
    match (options.anchor.clone(), into.and_then(|site| site.anchor.clone())) {
        (Some(wanted), Some(own)) if wanted != own => {
            Err(BringError::AnchorDiffers { latitude_deg: own.latitude_deg, longitude_deg: own.longitude_deg })
        }
        (wanted, own) => Ok(wanted.or(own)),
    }
}

/// What the files change about, or take for granted of, what is already there.
fn warn_of_the_site(into: Option<&Site>, anchor: &Anchor, grid: Option<&GridFile>, warnings: &mut Vec<String>) {
    let something_stands =
        |site: &Site| !(site.blocks.is_empty() && site.stances.is_empty() && site.grounds.is_empty());
    if into.is_some_and(|site| site.anchor.is_none() && something_stands(site)) {
        warnings.push(format!(
            "the site had no anchor; all that stands on it now stands about latitude {}, longitude {}",
            anchor.latitude_deg, anchor.longitude_deg
        ));
    }
    let Some(grid) = grid else { return };
    if into.is_some_and(|site| matches!(site.terrain, Terrain::Grid(_))) {
        warnings.push(format!("{}: takes the place of the site's own terrain", file_name(&grid.path)));
    }
    let own_datum = datum_of(grid);
    if anchor.vertical_datum.as_ref() != Some(&own_datum) {
        warnings.push(format!(
            "{}: its heights were taken as counted from the same level as the anchor's, {}",
            file_name(&grid.path),
            anchor.vertical_datum.as_deref().unwrap_or("the ellipsoid")
        ));
    }
}

/// The name of the level that a terrain file counts its heights from, which it does not tell.
fn datum_of(grid: &GridFile) -> String {
    // Kept as short and plain as a site's words must be.
    let name: String = file_name(&grid.path).chars().filter(|c| !c.is_control()).take(80).collect();
    format!("that of {name}")
}

fn warn_of_blocks_beyond(grid: &TerrainGrid, blocks: &[Block], warnings: &mut Vec<String>) {
    let (last_column, last_row) = (grid.columns() as f64 - 1.0, grid.rows.len() as f64 - 1.0);
    let rim = [(0.0, 0.0), (last_column, 0.0), (last_column, last_row), (0.0, last_row)]
        .map(|(column, row)| grid.plan_from_grid(column, row));
    let beyond: Vec<&str> =
        blocks.iter().filter(|block| !outline_holds(&rim, block.at)).map(|block| block.name.as_str()).collect();
    if !beyond.is_empty() {
        warnings.push(format!(
            "{} stand beyond the terrain, where the ground goes on level from its edge: {}",
            counted(beyond.len(), "block"),
            some_of(&beyond)
        ));
    }
}

fn mark_subject(name: &str, names: &Names, blocks: &mut [Block]) -> Result<(), BringError> {
    // All parts of the feature that has the name, but not another one that was called the same.
    let chosen: Vec<usize> = names.parts_of(name);
    if chosen.is_empty() {
        let known: Vec<&str> = blocks.iter().map(|block| block.name.as_str()).collect();
        let known = if known.is_empty() { "none".into() } else { some_of(&known) };
        return Err(BringError::NoSubject { name: name.into(), known });
    }
    for index in chosen {
        blocks[index].subject = true;
    }
    Ok(())
}
