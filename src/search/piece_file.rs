//! How does a piece of a search travel from the machine that did it?
//!
//! A line of text that names the format, the SHA-256 of that line and of all that follows it in 32 bytes, the length of a
//! JSON header in 8 bytes, the header, and then every cell as bytes and 64-bit numbers, little end first. The header holds the
//! whole search: the site, the kit, the requirements and the places. So pieces are put together from nothing but
//! themselves, and those of another search are told apart. Formats 1 and 2 held only a fingerprint of the site; they and
//! format 3 had fewer figures.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::files::ron_options;
use crate::optics::Kit;
use crate::record::SiteMark;
use crate::site::{Model, Site};
use crate::survey::Survey;

use super::counts::Counts;
use super::criteria::Criteria;
use super::kinds::{DIRECTIONS, Kinds};
use super::map::Map;
use super::openings::{OpeningTable, ROW_NUMBERS};
use super::piece::Piece;
use super::place_result::{ParetoFront, PlaceResult, PlaceStatus, Requirement, STORED_NUMBERS, StoredCandidate};
use super::places::Lattice;
use super::prepared::{MOST_PIECES, Search};

/// How the name of a file of a piece ends: `north.piece`.
pub const PIECE_ENDING: &str = "piece";
/// How a file of a piece begins.
const MARK: &[u8] = b"plumbsight piece of a search, format 4\n";
/// How it began in older formats.
const OLDER_MARKS: [&[u8]; 3] = [
    b"plumbsight piece of a search, format 1\n",
    b"plumbsight piece of a search, format 2\n",
    b"plumbsight piece of a search, format 3\n",
];
/// The length of its checksum.
const CHECKSUM_BYTES: usize = 32;
/// The longest header that is believed.
const LONGEST_HEADER: u64 = 64 << 20;

/// The search that a piece belongs to, whole: what it needs to be put together with others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PieceOrigin {
    mark: SiteMark,
    /// As RON, in which every number is exact.
    site: String,
    kit: Kit,
    criteria: Criteria,
    lattice: Lattice,
    pieces: usize,
}

#[derive(Serialize, Deserialize)]
struct PieceHeader {
    origin: PieceOrigin,
    piece: usize,
    ground: [u64; 7],
    candidates: u64,
    alone: [u64; Requirement::ALL.len()],
    others: [u64; Requirement::ALL.len()],
    met: u64,
    lenses: BTreeMap<u32, u64>,
    front: usize,
    kinds: usize,
    extras: usize,
    openings: Option<usize>,
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
    /// An older program wrote it.
    #[error("an older version of the program wrote it; search this piece again")]
    Older,
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

impl PieceOrigin {
    /// The search, run in `pieces`.
    pub fn of(search: &Search<'_>, pieces: usize) -> Self {
        let survey = search.survey();
        Self {
            mark: survey.mark.clone(),
            site: ron_options().to_string(&survey.model.site).expect("names and finite numbers are always RON"),
            kit: survey.kit.clone(),
            criteria: search.criteria().clone(),
            lattice: *search.lattice(),
            pieces,
        }
    }

    /// The requirements.
    pub fn criteria(&self) -> &Criteria {
        &self.criteria
    }

    /// In how many pieces it is run.
    pub fn pieces(&self) -> usize {
        self.pieces
    }

    /// The site, made ready.
    ///
    /// # Errors
    /// It cannot be read: another version of the program wrote it.
    pub fn survey(&self) -> Result<Survey, PieceError> {
        let site: Site =
            ron_options().from_str(&self.site).map_err(|error| PieceError::Header(error.code.to_string()))?;
        Ok(Survey::ready(Model::build(site), self.kit.clone(), self.mark.clone()))
    }

    /// Whether this is that very search.
    ///
    /// # Errors
    /// Another site, other requirements, or another number of pieces.
    pub fn check(&self, search: &Search<'_>) -> Result<(), PieceError> {
        let own = Self::of(search, self.pieces);
        if (&self.mark.sha256, &self.site) != (&own.mark.sha256, &own.site) {
            return Err(PieceError::OtherSite);
        }
        if (&self.criteria, &self.lattice, &self.kit) != (&own.criteria, &own.lattice, &own.kit) {
            return Err(PieceError::OtherCriteria);
        }
        Ok(())
    }
}

impl Piece {
    /// The piece as the bytes of a file.
    pub fn to_bytes(&self, search: &Search<'_>) -> Vec<u8> {
        let counts = &self.counts;
        let openings = self.openings.as_ref().map(OpeningTable::rows);
        let header = PieceHeader {
            origin: PieceOrigin::of(search, self.pieces),
            piece: self.piece,
            ground: counts.ground,
            candidates: counts.candidates,
            alone: counts.alone,
            others: counts.others,
            met: counts.met,
            lenses: counts.lenses.clone(),
            front: self.front.kept.len(),
            kinds: self.kinds.iter().count(),
            extras: self.extras.len(),
            openings: openings.as_ref().map(Vec::len),
        };
        let header = serde_json::to_vec(&header).expect("names and finite numbers are always JSON");
        let mut bytes = Vec::new();
        bytes.extend((header.len() as u64).to_le_bytes());
        bytes.extend(header);
        self.front.kept.iter().for_each(|kept| put_kept(&mut bytes, kept));
        for (direction, number, kept) in self.kinds.iter() {
            bytes.extend((direction as u64).to_le_bytes());
            bytes.extend((number as u64).to_le_bytes());
            put_kept(&mut bytes, kept);
        }
        openings.iter().flatten().flatten().for_each(|number| bytes.extend(number.to_le_bytes()));
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
        bytes.starts_with(MARK) || OLDER_MARKS.iter().any(|mark| bytes.starts_with(mark))
    }

    /// Reads a piece of this very search.
    ///
    /// # Errors
    /// The file is none, is cut off or damaged, or belongs to another site or other requirements.
    pub fn from_bytes(bytes: &[u8], search: &Search<'_>) -> Result<Self, PieceError> {
        let (origin, piece) = Self::open(bytes)?;
        origin.check(search)?;
        Ok(piece)
    }

    /// Reads a piece, and the search that it belongs to.
    ///
    /// # Errors
    /// The file is none, or is cut off or damaged.
    pub fn open(bytes: &[u8]) -> Result<(PieceOrigin, Self), PieceError> {
        if OLDER_MARKS.iter().any(|mark| bytes.starts_with(mark)) {
            return Err(PieceError::Older);
        }
        let rest = bytes.strip_prefix(MARK).ok_or(PieceError::NoPiece)?;
        let (sum, content) = rest.split_first_chunk::<CHECKSUM_BYTES>().ok_or(PieceError::CutOff)?;
        if *sum != checksum(MARK, content) {
            return Err(PieceError::Damaged);
        }
        let mut rest = content;
        let length = u64::from_le_bytes(take(&mut rest)?);
        if length > LONGEST_HEADER || length > rest.len() as u64 {
            return Err(PieceError::CutOff);
        }
        let (header, mut rest) = rest.split_at(length as usize);
        let header: PieceHeader =
            serde_json::from_slice(header).map_err(|error| PieceError::Header(error.to_string()))?;
        let PieceHeader { origin, piece, .. } = header;
        let pieces = origin.pieces;
        if pieces > MOST_PIECES || !(1..=pieces).contains(&piece) {
            return Err(PieceError::Number { piece, pieces });
        }
        let map = Map::new(origin.lattice, 1);
        let (across, up) = map.tiles_across();
        let count = across as usize * up as usize;
        let rest = &mut rest;
        let mut front = ParetoFront::default();
        for _ in 0..header.front {
            front.kept.push(take_kept(rest)?);
        }
        let numbers = origin.criteria.kind_numbers();
        let mut kinds = Kinds::default();
        for _ in 0..header.kinds {
            let (direction, number) = (u64::from_le_bytes(take(rest)?), u64::from_le_bytes(take(rest)?));
            let kept = take_kept(rest)?;
            if direction >= DIRECTIONS as u64 || number >= numbers.count() as u64 {
                return Err(PieceError::Mark);
            }
            let key = origin.criteria.key(false, &kept);
            kinds.put(direction as usize, numbers.count(), number as usize, key, &kept);
        }
        let mut openings = header.openings.map(|_| Vec::new());
        for _ in 0..header.openings.unwrap_or(0) {
            let mut row = [0; ROW_NUMBERS];
            for number in &mut row {
                *number = u64::from_le_bytes(take(rest)?);
            }
            openings.iter_mut().for_each(|rows| rows.push(row));
        }
        let mut extras = Vec::new();
        for _ in 0..header.extras {
            let at = (f64::from_le_bytes(take(rest)?), f64::from_le_bytes(take(rest)?));
            extras.push((at, take_cell(rest)?));
        }
        let mut tiles = Vec::new();
        for index in count * (piece - 1) / pieces..count * piece / pieces {
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
        let openings = openings.map(|rows| OpeningTable::from_rows(&rows));
        Ok((origin, Self { piece, pieces, tiles, extras, counts, front, kinds, openings }))
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
    for number in [
        cell.seen_share,
        cell.front_deg,
        cell.light_minutes,
        cell.needed_focal_mm,
        cell.lowest_seen_m,
        cell.lowest_met_m,
    ] {
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
    cell.front_deg = number()?;
    cell.light_minutes = number()?;
    cell.needed_focal_mm = number()?;
    cell.lowest_seen_m = number()?;
    cell.lowest_met_m = number()?;
    cell.meets = flags & 2 != 0;
    if flags & 1 != 0 {
        cell.best = Some(take_kept(rest)?);
    }
    Ok(cell)
}
