//! How does a piece of a search travel from the machine that did it?
//!
//! A line of text that names the format, the length of a JSON header in 8 bytes, the header (site, requirements and places, so
//! that pieces of another search are refused), and then every cell as bytes and 64-bit numbers, little end first.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::cell::{Cell, Front, Ground, KEPT_NUMBERS, Kept};
use super::counts::Counts;
use super::criteria::{Criteria, CriteriaError};
use super::map::Map;
use super::piece::Piece;
use super::places::Lattice;
use super::prepared::Search;

/// How a file of a piece begins.
const MARK: &[u8] = b"plumbsight piece of a search, format 1\n";
/// The longest header that is believed.
const LONGEST_HEADER: u64 = 64 << 20;

#[derive(Serialize, Deserialize)]
struct Header {
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

fn unlike(why: impl Into<String>) -> CriteriaError {
    CriteriaError::Unlike { why: why.into() }
}

impl Piece {
    /// The piece as the bytes of a file.
    pub fn to_bytes(&self, search: &Search<'_>) -> Vec<u8> {
        let counts = &self.counts;
        let header = Header {
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
        let mut bytes = MARK.to_vec();
        bytes.extend((header.len() as u64).to_le_bytes());
        bytes.extend(header);
        self.front.kept.iter().for_each(|kept| put_kept(&mut bytes, kept));
        for ((x, y), cell) in &self.extras {
            bytes.extend(x.to_le_bytes());
            bytes.extend(y.to_le_bytes());
            put_cell(&mut bytes, cell);
        }
        self.tiles.iter().flatten().for_each(|cell| put_cell(&mut bytes, cell));
        bytes
    }

    /// Reads a piece of this very search.
    ///
    /// # Errors
    /// The file is none, is cut off, or belongs to another site or other requirements.
    pub fn from_bytes(bytes: &[u8], search: &Search<'_>) -> Result<Self, CriteriaError> {
        let mut rest =
            bytes.strip_prefix(MARK).ok_or_else(|| unlike("this is no piece of a search of this version"))?;
        let length = u64::from_le_bytes(take(&mut rest)?);
        if length > LONGEST_HEADER || length > rest.len() as u64 {
            return Err(unlike("the file is cut off in its header"));
        }
        let (header, mut rest) = rest.split_at(length as usize);
        let header: Header = serde_json::from_slice(header).map_err(|error| unlike(format!("its header: {error}")))?;
        if header.sha256 != search.survey().mark.sha256 {
            return Err(unlike("it belongs to another site, or to this one before it was changed"));
        }
        if header.criteria != *search.criteria() || header.lattice != *search.lattice() {
            return Err(unlike("it was searched with other requirements"));
        }
        let map = Map::new(header.lattice, 1);
        let (across, up) = map.tiles_across();
        let count = across as usize * up as usize;
        if !(1..=header.pieces).contains(&header.piece) {
            return Err(CriteriaError::Piece { piece: header.piece, pieces: header.pieces });
        }
        let rest = &mut rest;
        let mut front = Front::default();
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
            return Err(unlike(format!("{} bytes stand after its end", rest.len())));
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

fn take<const N: usize>(rest: &mut &[u8]) -> Result<[u8; N], CriteriaError> {
    let (taken, left) = rest.split_first_chunk::<N>().ok_or_else(|| unlike("the file is cut off"))?;
    *rest = left;
    Ok(*taken)
}

fn put_kept(bytes: &mut Vec<u8>, kept: &Kept) {
    kept.numbers().iter().for_each(|number| bytes.extend(number.to_bits().to_le_bytes()));
}

fn take_kept(rest: &mut &[u8]) -> Result<Kept, CriteriaError> {
    let mut numbers = [0.0; KEPT_NUMBERS];
    for number in &mut numbers {
        *number = f64::from_bits(u64::from_le_bytes(take(rest)?));
    }
    Ok(Kept::from_numbers(numbers))
}

fn put_cell(bytes: &mut Vec<u8>, cell: &Cell) {
    bytes.push(cell.ground as u8);
    bytes.push(u8::from(cell.best.is_some()) | u8::from(cell.meets) << 1);
    for number in [cell.seen_share, cell.needed_focal_mm, cell.lowest_seen_m, cell.lowest_met_m] {
        bytes.extend(number.to_bits().to_le_bytes());
    }
    if let Some(kept) = &cell.best {
        put_kept(bytes, kept);
    }
}

fn take_cell(rest: &mut &[u8]) -> Result<Cell, CriteriaError> {
    let [ground, flags] = take(rest)?;
    let ground = Ground::ALL.get(usize::from(ground)).ok_or_else(|| unlike("a place has an unknown mark"))?;
    let mut cell = Cell::of(*ground);
    let mut number = || Ok::<f64, CriteriaError>(f64::from_bits(u64::from_le_bytes(take(rest)?)));
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
