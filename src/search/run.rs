//! How are all places looked at, coarsely first, on all cores and in pieces?

use rayon::prelude::*;

use crate::appraise::Mounted;
use crate::optics::Format;
use crate::outline::{SIGHT_SAMPLES, Subject};
use crate::pose::WorldPoint;
use crate::progress::{Cancelled, Progress};
use crate::sight::Sight;
use crate::site::{Model, PlanPoint, outline_holds};
use crate::survey::Survey;

use super::answer::{Answer, answer};
use super::cell::{Cell, Front};
use super::look::{Look, Looker, Scratch, Tally};
use super::map::{Map, TILE};
use super::places::{Lattice, Plot};
use super::seen::{Looking, Seen};
use super::wishes::{WishError, Wishes};

/// The first map has at most so many cells.
const FIRST_CELLS: usize = 4096;
/// Each map after it so many times as many to a side.
const FINER: u32 = 4;
/// The most pieces of one search.
const MOST_PIECES: usize = 100_000;

/// A search that can be run.
#[derive(Debug)]
pub struct Search<'a> {
    survey: &'a Survey,
    wishes: Wishes,
    /// The site without the blocks that are taken away.
    reduced: Option<Box<(Model, Sight)>>,
    /// The subject, where it is not the survey's own.
    subject: Option<Box<Subject>>,
    format: Format,
    mounted: Vec<Mounted>,
    lattice: Lattice,
    looking: Looking,
}

/// What was found in one piece of a search; pieces put together give the same answer as the whole.
#[derive(Clone, Debug)]
pub struct Piece {
    pub(super) piece: usize,
    pub(super) pieces: usize,
    pub(super) tiles: Vec<Vec<Cell>>,
    /// Decks too small to hold a place of the lattice; in the last piece.
    pub(super) extras: Vec<(PlanPoint, Cell)>,
    pub(super) tally: Tally,
    pub(super) front: Front,
}

/// Looks by a ray for every point.
struct ByRays<'a> {
    subject: &'a Subject,
    sight: &'a Sight,
}

impl Looker for ByRays<'_> {
    fn look(&mut self, eye: &WorldPoint, seen: &mut Seen) {
        seen.by_rays(self.subject, self.sight, eye);
    }
}

impl<'a> Search<'a> {
    /// Checks the wishes against a site and gets ready.
    ///
    /// # Errors
    /// A wish out of its range, a name that there is not, a site without a subject, or more places than can be kept: the
    /// numbers are told before any memory is taken for them.
    pub fn new(survey: &'a Survey, wishes: Wishes) -> Result<Self, WishError> {
        Self::in_pieces(survey, wishes, 1)
    }

    /// As [`Search::new`], for a search that is run in pieces, each of which has its own memory.
    ///
    /// # Errors
    /// As [`Search::new`].
    pub fn in_pieces(survey: &'a Survey, wishes: Wishes, pieces: usize) -> Result<Self, WishError> {
        if !(1..=MOST_PIECES).contains(&pieces) {
            return Err(WishError::Piece { piece: pieces, pieces });
        }
        wishes.check()?;
        let format = survey.kit.format(&wishes.format)?;
        let lens = |name: &String| Ok(Mounted { lens: survey.kit.lens(name)?, focal_mm: None });
        let mounted = wishes.lenses.iter().map(lens).collect::<Result<Vec<Mounted>, WishError>>()?;
        let site = &survey.model.site;
        for name in wishes.inside.iter().chain(&wishes.outside).chain(&wishes.without) {
            if !site.blocks.iter().any(|block| block.name == *name) {
                let known: Vec<String> = site.blocks.iter().map(|block| format!("'{}'", block.name)).collect();
                return Err(WishError::NoBlock { name: name.clone(), known: known.join(", ") });
            }
        }
        let whole = survey.subject.as_ref().map_err(|error| *error)?;
        let lattice = Lattice::of(&wishes, whole, pieces)?;
        let reduced = (!wishes.without.is_empty()).then(|| {
            let mut fewer = site.clone();
            fewer.blocks.retain(|block| !wishes.without.contains(&block.name));
            let model = Model::build(fewer);
            let sight = Sight::over(&model);
            Box::new((model, sight))
        });
        let own = reduced.is_some() || wishes.samples != SIGHT_SAMPLES;
        let model = reduced.as_ref().map_or(&survey.model, |reduced| &reduced.0);
        let subject = own.then(|| Subject::with_samples(model, wishes.samples).map(Box::new)).transpose()?;
        Ok(Self { survey, wishes, reduced, subject, format, mounted, lattice, looking: Looking::default() })
    }

    /// The same search, looking in another way; the answer is the same.
    #[must_use]
    pub fn looking(self, looking: Looking) -> Self {
        Self { looking, ..self }
    }

    /// What is wished for.
    pub fn wishes(&self) -> &Wishes {
        &self.wishes
    }

    /// The places.
    pub fn lattice(&self) -> &Lattice {
        &self.lattice
    }

    /// The site that is searched.
    pub fn model(&self) -> &Model {
        self.reduced.as_ref().map_or(&self.survey.model, |reduced| &reduced.0)
    }

    /// What one sees on it.
    pub fn sight(&self) -> &Sight {
        self.reduced.as_ref().map_or(&self.survey.sight, |reduced| &reduced.1)
    }

    /// The survey it belongs to.
    pub fn survey(&self) -> &'a Survey {
        self.survey
    }

    /// What the picture is about.
    ///
    /// # Errors
    /// Never, once the search is made; the type is that of the survey's own subject.
    pub fn subject(&self) -> Result<&Subject, WishError> {
        match &self.subject {
            Some(own) => Ok(own),
            None => Ok(self.survey.subject.as_ref().map_err(|error| *error)?),
        }
    }

    pub(super) fn look(&self) -> Result<Look<'_>, WishError> {
        let (subject, mounted) = (self.subject()?, self.mounted.clone());
        Ok(Look::new(self.model(), subject, self.sight(), &self.wishes, &self.format, mounted))
    }

    /// Looks at every place. Coarser maps are shown on the way, the finished one last.
    ///
    /// # Errors
    /// The watcher has cancelled.
    pub fn run(&self, progress: &Progress, show: &dyn Fn(&Map)) -> Result<Answer, Cancelled> {
        let steps = self.coarse_steps();
        let cells =
            |step: u32| u64::from(self.lattice.columns.div_ceil(step)) * u64::from(self.lattice.rows.div_ceil(step));
        progress.start(steps.iter().map(|&step| cells(step)).sum::<u64>() + cells(1));
        for step in steps {
            let mut map = Map::new(self.lattice, step);
            map.tiles = self.tiles(&map, 0, 1, progress)?.0;
            show(&map);
        }
        let piece = self.piece_of(1, 1, progress)?;
        let answer = answer(self, vec![piece], progress)?;
        show(&answer.map);
        Ok(answer)
    }

    /// Looks at one piece of the places, counted from 1: any machine can do any piece.
    ///
    /// # Errors
    /// The watcher has cancelled.
    pub fn run_piece(&self, piece: usize, pieces: usize, progress: &Progress) -> Result<Piece, Cancelled> {
        progress.start(self.lattice.len() as u64 / pieces.max(1) as u64);
        self.piece_of(piece, pieces, progress)
    }

    /// Puts the pieces of this search together.
    ///
    /// # Errors
    /// Pieces are missing, or are those of another division.
    pub fn put_together(&self, pieces: Vec<Piece>) -> Result<Answer, WishError> {
        let count = pieces.len();
        for (index, piece) in pieces.iter().enumerate() {
            if piece.piece != index + 1 || piece.pieces != count {
                let why = format!(
                    "piece {} of {} stands where piece {} of {count} is wanted",
                    piece.piece,
                    piece.pieces,
                    index + 1
                );
                return Err(WishError::Unlike { why });
            }
        }
        answer(self, pieces, &Progress::unwatched()).map_err(|why| WishError::Unlike { why: why.to_string() })
    }

    /// How many places to a side the cells of the coarser maps stand for.
    fn coarse_steps(&self) -> Vec<u32> {
        let mut steps = Vec::new();
        let mut step = 1_u32;
        while self.lattice.columns.div_ceil(step) as usize * self.lattice.rows.div_ceil(step) as usize > FIRST_CELLS {
            step *= FINER;
            steps.insert(0, step);
        }
        steps
    }

    fn piece_of(&self, piece: usize, pieces: usize, progress: &Progress) -> Result<Piece, Cancelled> {
        let map = Map::new(self.lattice, 1);
        let (tiles, mut tally, mut front) = self.tiles(&map, piece - 1, pieces, progress)?;
        let mut extras = Vec::new();
        if piece == pieces {
            extras = self.extras(&mut tally, &mut front);
        }
        front.sort();
        Ok(Piece { piece, pieces, tiles, extras, tally, front })
    }

    /// Looks at the squares of a map that belong to a piece, each by one thread, and gathers them in their order.
    fn tiles(
        &self,
        map: &Map,
        piece: usize,
        pieces: usize,
        progress: &Progress,
    ) -> Result<(Vec<Vec<Cell>>, Tally, Front), Cancelled> {
        let Ok(look) = self.look() else { return Ok(Default::default()) };
        let (across, up) = map.tiles_across();
        let count = across as usize * up as usize;
        let own = count * piece / pieces..count * (piece + 1) / pieces;
        let found: Vec<_> = own
            .into_par_iter()
            .map(|index| {
                progress.check()?;
                let result = self.tile(&look, map, index);
                progress.advance(result.0.len() as u64)?;
                Ok(result)
            })
            .collect::<Result<_, Cancelled>>()?;
        let (mut tally, mut front) = (Tally::default(), Front::default());
        let mut tiles = Vec::with_capacity(found.len());
        for (cells, tile_tally, tile_front) in found {
            tally.add(&tile_tally);
            tile_front.kept.iter().for_each(|kept| front.offer(kept));
            tiles.push(cells);
        }
        Ok((tiles, tally, front))
    }

    /// Looks at the places of one square.
    fn tile(&self, look: &Look<'_>, map: &Map, index: usize) -> (Vec<Cell>, Tally, Front) {
        let (columns, rows) = map.tile(index);
        let mut scratch = Scratch::default();
        let mut cells = Vec::with_capacity((TILE * TILE) as usize);
        let place = |column, row| {
            let (column, row) = map.place_of(column, row);
            (row as usize * self.lattice.columns as usize + column as usize, self.lattice.at(column, row))
        };
        let (low, high) = (place(columns.start, rows.start).1, place(columns.end - 1, rows.end - 1).1);
        let plot = Plot::of(look.model, low, high);
        let mut looker = self.looker(look, &plot, low, high);
        for row in rows {
            for column in columns.clone() {
                let (number, at) = place(column, row);
                cells.push(look.place(number, at, None, &plot, looker.as_mut(), &mut scratch));
            }
        }
        (cells, scratch.tally, scratch.front)
    }

    fn looker<'l>(
        &self,
        look: &'l Look<'_>,
        _plot: &Plot<'_>,
        _low: PlanPoint,
        _high: PlanPoint,
    ) -> Box<dyn Looker + 'l> {
        match self.looking {
            Looking::Rays | Looking::Swept => Box::new(ByRays { subject: look.subject, sight: look.sight }),
        }
    }

    /// Decks that hold no place of the lattice are stood on at their middle.
    fn extras(&self, tally: &mut Tally, front: &mut Front) -> Vec<(PlanPoint, Cell)> {
        let Ok(look) = self.look() else { return Vec::new() };
        let mut scratch = Scratch::default();
        let mut extras = Vec::new();
        for (deck, top) in look.model.decks.iter().enumerate() {
            let holds = |at: PlanPoint| {
                outline_holds(&top.outline, at) && !top.holes.iter().any(|hole| outline_holds(hole, at))
            };
            let (low, high) = bounds(&top.outline);
            let (west, south) = self.lattice.corner();
            let spacing_m = self.lattice.spacing_m;
            let index = |from: f64, start: f64| ((from - start) / spacing_m).floor().max(0.0) as u32;
            let (columns, rows) = (
                index(low.0, west)..index(high.0, west).saturating_add(1).min(self.lattice.columns),
                index(low.1, south)..index(high.1, south).saturating_add(1).min(self.lattice.rows),
            );
            let held = rows.clone().any(|row| columns.clone().any(|column| holds(self.lattice.at(column, row))));
            let middle = (0.5 * (low.0 + high.0), 0.5 * (low.1 + high.1));
            let within = columns.start < self.lattice.columns && rows.start < self.lattice.rows;
            if held || !holds(middle) || !within {
                continue;
            }
            let plot = Plot::of(look.model, middle, middle);
            let mut looker = self.looker(&look, &plot, middle, middle);
            let number = self.lattice.len() + extras.len();
            extras.push((middle, look.place(number, middle, Some(deck), &plot, looker.as_mut(), &mut scratch)));
        }
        tally.add(&scratch.tally);
        scratch.front.kept.iter().for_each(|kept| front.offer(kept));
        extras
    }
}

/// The corners of the box around an outline.
fn bounds(outline: &[PlanPoint]) -> (PlanPoint, PlanPoint) {
    outline
        .iter()
        .fold(((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY)), |(low, high), &(x, y)| {
            ((low.0.min(x), low.1.min(y)), (high.0.max(x), high.1.max(y)))
        })
}
