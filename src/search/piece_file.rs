//! How does a piece of a search travel from the machine that did it?
//!
//! A line of text that names the format, the SHA-256 of that line and of all that follows it in 32 bytes, the length of a
//! JSON header in 8 bytes, the header (site, requirements and places, so that pieces of another search are refused), and
//! then every cell as bytes and 64-bit numbers, little end first. Format 1 had no SHA-256.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use thiserror::Error;

use super::counts::Counts;
use super::criteria::Criteria;
use super::map::Map;
use super::piece::Piece;
use super::place_result::{ParetoFront, PlaceResult, PlaceStatus, STORED_NUMBERS, StoredCandidate};
use super::places::Lattice;
use super::prepared::{MOST_PIECES, Search};

/// How the name of a file of a piece ends: `north.piece`.
pub const PIECE_ENDING: &str = "piece";
/// How a file of a piece begins.
const MARK: &[u8] = b"plumbsight piece of a search, format 2\n";
/// How it began in format 1.
const MARK_1: &[u8] = b"plumbsight piece of a search, format 1\n";
/// The length of its checksum.
const CHECKSUM_BYTES: usize = 32;
/// The longest header that is believed.
const LONGEST_HEADER: u64 = 64 << 20;

#[derive(Serialize, Deserialize)]
struct PieceHeader {
    sha256: String,
    #[serde(rename = "wishes")]
    criteria: Criteria,
    lattice: Lattice,
    piece: usize,
    pieces: usize,
    ground: [u64; 7],
    candidates: u64,
    alone: [u64; 6],
    others: [u64; 6],
    met: u64,
    lenses: BTreeMap<u32, u64>,
    front: usize,
    extras: usize,
}

/// Why a file is not a piece of a search.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum PieceError {
    /// It begins otherwise.
    #[error("this is no piece of a search; `search --tile I/N --out NAME.piece` writes one")]
    NoPiece,
    /// It ends too soon.
    #[error("the file is cut off; copy it again, or search this piece again")]
    CutOff,
    /// It has changed since it was written.
    #[error("the file is damaged: its content does not match its checksum; copy it again, or search this piece again")]
    Damaged,
    /// Its header cannot be read.
    #[error("its header: {0}")]
    Header(String),
    /// Its site is not this one.
    #[error("it belongs to another site, or to this one before it was changed")]
    OtherSite,
    /// Its requirements are not these.
    #[error("it was searched with other requirements")]
    OtherCriteria,
    /// It is no piece of its search.
    #[error("piece {piece} of {pieces}: pieces are counted from 1 to their number")]
    Number {
        /// Which.
        piece: usize,
        /// Of how many.
        pieces: usize,
    },
    /// A place is marked with an unknown status.
    #[error("a place has an unknown mark")]
    Mark,
    /// It goes on after its end.
    #[error("{0} bytes stand after its end")]
    After(usize),
}

/// The SHA-256 of a format's line and of what follows the checksum.
fn checksum(mark: &[u8], content: &[u8]) -> [u8; CHECKSUM_BYTES] {
    Sha256::new().chain_update(mark).chain_update(content).finalize().into()
}

impl Piece {
    /// The piece as the bytes of a file.
    pub fn to_bytes(&self, search: &Search<'_>) -> Vec<u8> {
        let counts = &self.counts;
        let header = PieceHeader {
            sha256: search.survey().mark.sha256.clone(),
            criteria: search.criteria().clone(),
            lattice: *search.lattice(),
            piece: self.piece,
            pieces: self.pieces,
            ground: counts.ground,
            candidates: counts.candidates,
            alone: counts.alone,
            others: counts.others,
            met: counts.met,
            lenses: counts.lenses.clone(),
            front: self.front.kept.len(),
            extras: self.extras.len(),
        };
        let header = serde_json::to_vec(&header).expect("names and finite numbers are always JSON");
        let mut bytes = Vec::new();
        bytes.extend((header.len() as u64).to_le_bytes());
        bytes.extend(header);
        self.front.kept.iter().for_each(|kept| put_kept(&mut bytes, kept));
        for ((x, y), cell) in &self.extras {
            bytes.extend(x.to_le_bytes());
            bytes.extend(y.to_le_bytes());
            put_cell(&mut bytes, cell);
        }
        self.tiles.iter().flatten().for_each(|cell| put_cell(&mut bytes, cell));
        [MARK, &checksum(MARK, &bytes), &bytes].concat()
    }

    /// Whether a file of this content is a piece of some search.
    pub fn is_piece(bytes: &[u8]) -> bool {
        bytes.starts_with(MARK) || bytes.starts_with(MARK_1)
    }

    /// Reads a piece of this very search.
    ///
    /// # Errors
    /// The file is none, is cut off or damaged, or belongs to another site or other requirements.
    pub fn from_bytes(bytes: &[u8], search: &Search<'_>) -> Result<Self, PieceError> {
        let mut rest = match bytes.strip_prefix(MARK) {
            Some(rest) => {
                let (sum, content) = rest.split_first_chunk::<CHECKSUM_BYTES>().ok_or(PieceError::CutOff)?;
                if *sum != checksum(MARK, content) {
                    return Err(PieceError::Damaged);
                }
                content
            }
            None => bytes.strip_prefix(MARK_1).ok_or(PieceError::NoPiece)?,
        };
        let length = u64::from_le_bytes(take(&mut rest)?);
        if length > LONGEST_HEADER || length > rest.len() as u64 {
            return Err(PieceError::CutOff);
        }
        let (header, mut rest) = rest.split_at(length as usize);
        let header: PieceHeader =
            serde_json::from_slice(header).map_err(|error| PieceError::Header(error.to_string()))?;
        if header.sha256 != search.survey().mark.sha256 {
            return Err(PieceError::OtherSite);
        }
        if header.criteria != *search.criteria() || header.lattice != *search.lattice() {
            return Err(PieceError::OtherCriteria);
        }
        let map = Map::new(header.lattice, 1);
        let (across, up) = map.tiles_across();
        let count = across as usize * up as usize;
        if header.pieces > MOST_PIECES || !(1..=header.pieces).contains(&header.piece) {
            return Err(PieceError::Number { piece: header.piece, pieces: header.pieces });
        }
        let rest = &mut rest;
        let mut front = ParetoFront::default();
        for _ in 0..header.front {
            front.kept.push(take_kept(rest)?);
        }
        let mut extras = Vec::new();
        for _ in 0..header.extras {
            let at = (f64::from_le_bytes(take(rest)?), f64::from_le_bytes(take(rest)?));
            extras.push((at, take_cell(rest)?));
        }
        let mut tiles = Vec::new();
        for index in count * (header.piece - 1) / header.pieces..count * header.piece / header.pieces {
            let (columns, rows) = map.tile(index);
            let cells = (0..columns.len() * rows.len()).map(|_| take_cell(rest)).collect::<Result<Vec<_>, _>>()?;
            tiles.push(cells);
        }
        if !rest.is_empty() {
            return Err(PieceError::After(rest.len()));
        }
        let counts = Counts {
            ground: header.ground,
            candidates: header.candidates,
            alone: header.alone,
            others: header.others,
            met: header.met,
            lenses: header.lenses,
        };
        Ok(Self { piece: header.piece, pieces: header.pieces, tiles, extras, counts, front })
    }
}

fn take<const N: usize>(rest: &mut &[u8]) -> Result<[u8; N], PieceError> {
    let (taken, left) = rest.split_first_chunk::<N>().ok_or(PieceError::CutOff)?;
    *rest = left;
    Ok(*taken)
}

fn put_kept(bytes: &mut Vec<u8>, kept: &StoredCandidate) {
    kept.numbers().iter().for_each(|number| bytes.extend(number.to_bits().to_le_bytes()));
}

fn take_kept(rest: &mut &[u8]) -> Result<StoredCandidate, PieceError> {
    let mut numbers = [0.0; STORED_NUMBERS];
    for number in &mut numbers {
        *number = f64::from_bits(u64::from_le_bytes(take(rest)?));
    }
    Ok(StoredCandidate::from_numbers(numbers))
}

fn put_cell(bytes: &mut Vec<u8>, cell: &PlaceResult) {
    bytes.push(cell.ground as u8);
    bytes.push(u8::from(cell.best.is_some()) | u8::from(cell.meets) << 1);
    for number in [cell.seen_share, cell.needed_focal_mm, cell.lowest_seen_m, cell.lowest_met_m] {
        bytes.extend(number.to_bits().to_le_bytes());
    }
    if let Some(kept) = &cell.best {
        put_kept(bytes, kept);
    }
}

fn take_cell(rest: &mut &[u8]) -> Result<PlaceResult, PieceError> {
    let [ground, flags] = take(rest)?;
    let ground = PlaceStatus::ALL.get(usize::from(ground)).ok_or(PieceError::Mark)?;
    let mut cell = PlaceResult::of(*ground);
    let mut number = || Ok::<f64, PieceError>(f64::from_bits(u64::from_le_bytes(take(rest)?)));
    cell.seen_share = number()?;
    cell.needed_focal_mm = number()?;
    cell.lowest_seen_m = number()?;
    cell.lowest_met_m = number()?;
    cell.meets = flags & 2 != 0;
    if flags & 1 != 0 {
        cell.best = Some(take_kept(rest)?);
    }
    Ok(cell)
}
