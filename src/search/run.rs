//! How are all places looked at, coarsely first, on all cores and in pieces?

use std::ops::Range;

use crate::pose::WorldPoint;
use crate::progress::{Cancelled, Progress};
use crate::site::{PlanPoint, outline_holds};

use super::answer::{Answer, answer};
use super::counts::Counts;
use super::criteria::CriteriaError;
use super::evaluate::{Evaluator, Scratch};
use super::eye_box::EyeBox;
use super::kinds::Kinds;
use super::map::{Map, TILE};
use super::openings::{Offered, OpeningTable};
use super::piece::Piece;
use super::place_result::{ParetoFront, PlaceResult};
use super::places::{Plot, feet_m};
use super::prepared::Search;
use super::sweep::{BoxView, Sweep};
use super::visibility::{ByRays, SightMethod, VisibilityTest};

/// The first map has at most so many cells.
const FIRST_CELLS: usize = 4096;
/// Each map after it so many times as many to a side.
const FINER: u32 = 4;
/// What can stand in the way is sorted out for parts of the site that are so many times smaller to a side. Where even one
/// square of a coarse map is larger, rays are faster.
const SORTED: f64 = 6.0;
/// What some squares found.
#[derive(Default)]
struct TilesFound {
    /// By the square's number.
    tiles: Vec<(usize, Vec<PlaceResult>)>,
    counts: Counts,
    front: ParetoFront,
    kinds: Kinds,
    openings: OpeningTable,
}

impl TilesFound {
    /// The squares in their order.
    fn in_order(mut self) -> Vec<Vec<PlaceResult>> {
        self.tiles.sort_unstable_by_key(|(index, _)| *index);
        self.tiles.into_iter().map(|(_, cells)| cells).collect()
    }

    fn with(mut self, other: Self) -> Self {
        self.tiles.extend(other.tiles);
        self.counts.add(&other.counts);
        other.front.kept.iter().for_each(|kept| self.front.offer(kept));
        self.kinds.add(&other.kinds);
        self.openings.add(&other.openings);
        self
    }
}

/// Some squares of a map, in columns and rows.
#[derive(Clone, Debug)]
struct TileRange {
    columns: Range<u32>,
    rows: Range<u32>,
}

impl TileRange {
    /// Both halves; `None` for a single square.
    fn halves(&self) -> Option<[Self; 2]> {
        let half = |range: &Range<u32>| {
            let middle = range.start + range.len() as u32 / 2;
            [range.start..middle, middle..range.end]
        };
        if self.columns.len() >= self.rows.len() && self.columns.len() > 1 {
            return Some(half(&self.columns).map(|columns| Self { columns, ..self.clone() }));
        }
        (self.rows.len() > 1).then(|| half(&self.rows).map(|rows| Self { rows, ..self.clone() }))
    }
}

/// What squares are looked at with.
struct Scan<'a> {
    evaluator: Evaluator<'a>,
    sweep: Option<Sweep<'a>>,
    /// What is offered, where places are looked at for what would open them.
    offered: Option<&'a Offered>,
}

impl Search<'_> {
    /// Looks at every place. Coarser maps are shown on the way, the finished one last.
    ///
    /// # Errors
    /// The watcher has cancelled.
    pub fn run(&self, progress: &Progress, show: &dyn Fn(&Map)) -> Result<Answer, Cancelled> {
        let steps = self.coarse_steps();
        let cells =
            |step: u32| u64::from(self.lattice.columns.div_ceil(step)) * u64::from(self.lattice.rows.div_ceil(step));
        progress.start(steps.iter().map(|&step| cells(step)).sum::<u64>() + cells(1));
        let Ok(scan) = self.scan() else { return Err(Cancelled) };
        for step in steps {
            let mut map = Map::new(self.lattice, step);
            map.tiles = self.tiles(&scan, &map, 0, 1, progress)?.in_order();
            show(&map);
        }
        let piece = self.piece_of(&scan, 1, 1, progress)?;
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
        let Ok(scan) = self.scan() else { return Err(Cancelled) };
        self.piece_of(&scan, piece, pieces, progress)
    }

    /// Puts the pieces of this search together, in whatever order they come.
    ///
    /// # Errors
    /// Pieces are missing, or are those of another division.
    pub fn put_together(&self, pieces: Vec<Piece>) -> Result<Answer, CriteriaError> {
        let unlike = |why: String| Err(CriteriaError::Unlike { why });
        let mut pieces = pieces;
        pieces.sort_by_key(Piece::number);
        let count = pieces.first().map_or(1, Piece::of);
        if let Some(piece) = pieces.iter().find(|piece| piece.of() != count) {
            return unlike(format!("one is of {count}, another of {}", piece.of()));
        }
        if let Some(twice) = pieces.windows(2).find(|two| two[0].number() == two[1].number()) {
            return unlike(format!("piece {} is there twice", twice[0].number()));
        }
        let missing: Vec<usize> =
            (1..=count).filter(|number| pieces.binary_search_by_key(number, Piece::number).is_err()).collect();
        if !missing.is_empty() {
            let (word, are) = if missing.len() == 1 { ("piece", "is") } else { ("pieces", "are") };
            return unlike(format!("{word} {} of {count} {are} missing", listed(&missing)));
        }
        answer(self, pieces, &Progress::unwatched()).map_err(|why| CriteriaError::Unlike { why: why.to_string() })
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

    fn piece_of(&self, scan: &Scan<'_>, piece: usize, pieces: usize, progress: &Progress) -> Result<Piece, Cancelled> {
        let map = Map::new(self.lattice, 1);
        let mut found = self.tiles(scan, &map, piece - 1, pieces, progress)?;
        let mut extras = Vec::new();
        if piece == pieces {
            extras = self.extras(scan, &mut found);
        }
        found.front.sort();
        let openings = if found.counts.met == 0 { Some(self.openings(piece, pieces, progress)?) } else { None };
        let (counts, front) = (std::mem::take(&mut found.counts), std::mem::take(&mut found.front));
        let kinds = std::mem::take(&mut found.kinds);
        Ok(Piece { piece, pieces, tiles: found.in_order(), extras, counts, front, kinds, openings })
    }

    /// What would open the places of a piece, of which none meets every requirement.
    fn openings(&self, piece: usize, pieces: usize, progress: &Progress) -> Result<OpeningTable, Cancelled> {
        let offered = self.offered();
        let (criteria, mounted, tried) = (&offered.criteria, offered.mounted.clone(), offered.tried.clone());
        let Ok(evaluator) = self.evaluator_of(criteria, mounted, tried) else { return Err(Cancelled) };
        let scan = Scan { offered: Some(&offered), ..self.scan_by(evaluator) };
        let map = Map::new(self.lattice, offered.step(self.lattice.len()));
        progress.start(u64::from(map.columns()) * u64::from(map.rows()) / pieces as u64);
        let mut found = self.tiles(&scan, &map, piece - 1, pieces, progress)?;
        // Where only some of the places are looked at, each stands for many; a small deck does not.
        if piece == pieces && map.step() == 1 {
            self.extras(&scan, &mut found);
        }
        Ok(found.openings)
    }

    fn scan(&self) -> Result<Scan<'_>, CriteriaError> {
        Ok(self.scan_by(self.evaluator()?))
    }

    fn scan_by<'b>(&self, evaluator: Evaluator<'b>) -> Scan<'b> {
        let sweep = match self.looking {
            SightMethod::Swept => Some(Sweep::over(evaluator.model, evaluator.subject, evaluator.sight)),
            SightMethod::Rays => None,
        };
        Scan { evaluator, sweep, offered: None }
    }

    /// Looks at the squares of a map that belong to a piece, and gathers them in their order.
    fn tiles(
        &self,
        scan: &Scan<'_>,
        map: &Map,
        piece: usize,
        pieces: usize,
        progress: &Progress,
    ) -> Result<TilesFound, Cancelled> {
        let (across, up) = map.tiles_across();
        let count = across as usize * up as usize;
        let own = count * piece / pieces..count * (piece + 1) / pieces;
        let all = TileRange { columns: 0..across, rows: 0..up };
        self.squares(scan, map, &own, &all, None, progress)
    }

    /// Looks at some squares: at one half of them beside the other, down to single ones. What can stand in the way is
    /// sorted out for all of them first, and more closely for each half.
    fn squares(
        &self,
        scan: &Scan<'_>,
        map: &Map,
        own: &Range<usize>,
        squares: &TileRange,
        wider: Option<&BoxView<'_>>,
        progress: &Progress,
    ) -> Result<TilesFound, Cancelled> {
        progress.check()?;
        let across = map.tiles_across().0 as usize;
        let number = |column: u32, row: u32| row as usize * across + column as usize;
        let is_own =
            |row: u32| number(squares.columns.start, row) < own.end && number(squares.columns.end, row) > own.start;
        if !squares.rows.clone().any(is_own) {
            return Ok(TilesFound::default());
        }
        let eyes = self.eyes(scan, map, squares);
        let view = match (wider, &scan.sweep) {
            (Some(wider), _) => Some(wider.narrowed(&eyes)),
            (None, Some(sweep)) if self.is_sorted_out(map, squares) => Some(sweep.view(&eyes)),
            _ => None,
        };
        if let Some([one, other]) = squares.halves() {
            let look = |half: &TileRange| self.squares(scan, map, own, half, view.as_ref(), progress);
            let (one, other) = rayon::join(|| look(&one), || look(&other));
            return Ok(one?.with(other?));
        }
        let index = number(squares.columns.start, squares.rows.start);
        let found = self.tile(scan, view.as_ref(), map, index);
        progress.advance(found.tiles.iter().map(|(_, cells)| cells.len() as u64).sum())?;
        Ok(found)
    }

    fn is_sorted_out(&self, map: &Map, squares: &TileRange) -> bool {
        let (wide, deep) = (squares.columns.len() as u32 * TILE, squares.rows.len() as u32 * TILE);
        let small = f64::from(wide.max(deep)) * SORTED <= f64::from(map.columns().max(map.rows()));
        small || (map.step() == 1 && squares.halves().is_none())
    }

    /// Number and middle of the place that a cell of a map stands for.
    fn place(&self, map: &Map, column: u32, row: u32) -> (usize, PlanPoint) {
        let (column, row) = map.place_of(column, row);
        (row as usize * self.lattice.columns as usize + column as usize, self.lattice.at(column, row))
    }

    /// All eyes that may be held at the places of some squares.
    fn eyes(&self, scan: &Scan<'_>, map: &Map, squares: &TileRange) -> EyeBox {
        let last = |squares: &Range<u32>, cells: u32| (squares.end * TILE).min(cells) - 1;
        let low = self.place(map, squares.columns.start * TILE, squares.rows.start * TILE).1;
        let high = self.place(map, last(&squares.columns, map.columns()), last(&squares.rows, map.rows())).1;
        self.eyes_between(scan, low, high)
    }

    fn eyes_between(&self, scan: &Scan<'_>, low: PlanPoint, high: PlanPoint) -> EyeBox {
        let model = scan.evaluator.model;
        let ground_m = scan.sweep.as_ref().map_or((0.0, 0.0), |sweep| sweep.ground_m(low, high));
        let feet_m = feet_m(model, low, high, ground_m);
        let criteria = scan.evaluator.criteria;
        let heights = criteria.heights_m.iter().copied();
        let rungs = criteria.lowest.into_iter().flat_map(|rungs| [rungs.from_m, rungs.to_m]);
        let (least_m, most_m) =
            heights.chain(rungs).fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), height_m| {
                (least.min(height_m), most.max(height_m))
            });
        let (low, high) = ((low.0, low.1, feet_m.0 + least_m), (high.0, high.1, feet_m.1 + most_m));
        EyeBox::between(WorldPoint::new(low.0, low.1, low.2), WorldPoint::new(high.0, high.1, high.2))
    }

    /// Looks at the places of one square.
    fn tile(&self, scan: &Scan<'_>, view: Option<&BoxView<'_>>, map: &Map, index: usize) -> TilesFound {
        let (columns, rows) = map.tile(index);
        let mut scratch = Scratch::default();
        let mut cells = Vec::with_capacity((TILE * TILE) as usize);
        let low = self.place(map, columns.start, rows.start).1;
        let high = self.place(map, columns.end - 1, rows.end - 1).1;
        let plot = Plot::of(scan.evaluator.model, low, high);
        for row in rows {
            for column in columns.clone() {
                let (number, at) = self.place(map, column, row);
                cells.push(scan.place(number, at, None, &plot, view, &mut scratch));
            }
        }
        let Scratch { counts, front, kinds, openings, .. } = scratch;
        TilesFound { tiles: vec![(index, cells)], counts, front, kinds, openings }
    }

    /// Decks that hold no place of the lattice are stood on at their middle.
    fn extras(&self, scan: &Scan<'_>, found: &mut TilesFound) -> Vec<(PlanPoint, PlaceResult)> {
        let evaluator = &scan.evaluator;
        let mut scratch = Scratch::default();
        let mut extras = Vec::new();
        for (deck, top) in evaluator.model.decks.iter().enumerate() {
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
            let plot = Plot::of(evaluator.model, middle, middle);
            let view = scan.sweep.as_ref().map(|sweep| sweep.view(&self.eyes_between(scan, middle, middle)));
            let number = self.lattice.len() + extras.len();
            extras.push((middle, scan.place(number, middle, Some(deck), &plot, view.as_ref(), &mut scratch)));
        }
        found.counts.add(&scratch.counts);
        scratch.front.kept.iter().for_each(|kept| found.front.offer(kept));
        found.kinds.add(&scratch.kinds);
        found.openings.add(&scratch.openings);
        extras
    }
}

impl Scan<'_> {
    /// Looks at one place.
    fn place(
        &self,
        number: usize,
        at: PlanPoint,
        only: Option<usize>,
        plot: &Plot<'_>,
        view: Option<&BoxView<'_>>,
        scratch: &mut Scratch,
    ) -> PlaceResult {
        let rays = ByRays { subject: self.evaluator.subject, sight: self.evaluator.sight };
        let visibility: &dyn VisibilityTest = match view {
            Some(view) => view,
            None => &rays,
        };
        match self.offered {
            Some(offered) => {
                self.evaluator.open((number, at), only, plot, visibility, scratch, offered);
                PlaceResult::default()
            }
            None => self.evaluator.place(number, at, only, plot, visibility, scratch),
        }
    }
}

/// Numbers in words, runs of them as from and to: 2, 5 to 9 and 12.
fn listed(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &number in numbers {
        match runs.last_mut() {
            Some((_, end)) if *end + 1 == number => *end = number,
            _ => runs.push((number, number)),
        }
    }
    let words = |&(start, end): &(usize, usize)| match end - start {
        0 => start.to_string(),
        1 => format!("{start}, {end}"),
        _ => format!("{start} to {end}"),
    };
    let words: Vec<String> = runs.iter().map(words).collect();
    match words.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
        None => String::new(),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::Subject;
    use crate::pose::WorldVector;
    use crate::search::{Criteria, MapFigure, Rungs};
    use crate::site::{Aim, LoadedSite, check_text, parse_site, site_hash};
    use crate::survey::Survey;

    /// A block of a shape that is its own mirror image: where, turned how, and what.
    const BLOCKS: [(f64, f64, f64, &str); 6] = [
        (
            0.3,
            -0.4,
            17.0,
            "subject: true, shape: PolygonTaper(sides: 4, foot_across_m: 6, head_across_m: 5, height_m: 22)",
        ),
        (-14.0, 9.0, 33.0, "shape: Gable(width_m: 10, depth_m: 7, eaves_m: 4, ridge_m: 8)"),
        (11.0, -9.0, -20.0, "shape: Hip(width_m: 8, depth_m: 6, eaves_m: 3, ridge_m: 5, ridge_length_m: 3)"),
        (9.0, 13.0, 0.0, "shape: Box(width_m: 5, depth_m: 3, height_m: 6), deck: ()"),
        (4.0, -12.0, 40.0, "lift_m: 2.4, shape: Box(width_m: 4, depth_m: 0.3, height_m: 1.5)"),
        (-6.0, -17.0, 10.0, "shape: Stage(width_m: 6, depth_m: 4, floor_m: 2.6, rail_m: 1.0)"),
    ];
    const POSTS: [[f64; 5]; 5] = [
        [0.0, 2.0, 1.0, 0.0, 0.5],
        [0.0, 1.0, 0.0, 1.2, 0.0],
        [1.0, 0.0, 0.3, 0.0, 1.0],
        [0.2, 3.0, 0.0, 1.0, 0.0],
        [0.0, 0.0, 1.5, 0.0, 0.0],
    ];

    /// The ways in which a site may lie: as it is, mirrored at the north–south axis, and turned clockwise by a quarter.
    #[derive(Clone, Copy, Debug)]
    enum Placement {
        Plain,
        Mirrored,
        Turned,
    }

    impl Placement {
        fn point(self, (x, y): PlanPoint) -> PlanPoint {
            match self {
                Self::Plain => (x, y),
                Self::Mirrored => (-x, y),
                Self::Turned => (y, -x),
            }
        }

        fn heading_deg(self, heading_deg: f64) -> f64 {
            match self {
                Self::Plain => heading_deg,
                Self::Mirrored => -heading_deg,
                Self::Turned => heading_deg + 90.0,
            }
        }

        fn survey(self) -> Survey {
            let block = |(index, &(x, y, heading_deg, rest)): (usize, &(f64, f64, f64, &str))| {
                let (x, y) = self.point((x, y));
                let heading_deg = self.heading_deg(heading_deg);
                format!("(name: \"{index}\", at: ({x}, {y}), heading_deg: {heading_deg}, {rest})")
            };
            let blocks: Vec<String> = BLOCKS.iter().enumerate().map(block).collect();
            // Row and column of the post that comes to lie in a row and column, counted from the north-west.
            let post = |row: usize, column: usize| match self {
                Self::Plain => POSTS[row][column],
                Self::Mirrored => POSTS[row][4 - column],
                Self::Turned => POSTS[4 - column][row],
            };
            let rows: Vec<Vec<f64>> = (0..5).map(|row| (0..5).map(|column| post(row, column)).collect()).collect();
            let text = format!(
                "Site(format: 1, name: \"t\", terrain: Grid((south_west: (-30, -30), spacing_m: (15, 15), rows: {rows:?})), \
                 blocks: [{}])",
                blocks.join(", ")
            );
            Survey::of(LoadedSite {
                site: parse_site(&text, "t").unwrap_or_else(|problems| panic!("{problems}")),
                path: "t".into(),
                hash: site_hash(&text),
                warnings: check_text(&text, "t"),
                text,
            })
        }
    }

    #[test]
    fn mirrored_and_turned_sites_give_mirrored_and_turned_answers() {
        let criteria = Criteria {
            spacing_m: 2.0,
            area: Some([(-32.0, -32.0), (32.0, 32.0)]),
            heights_m: vec![0.9, 1.6, 3.5],
            aims: vec![Aim::Fill, Aim::Rise],
            lenses: ["24-70 mm", "24 mm with 12 mm rise"].map(String::from).to_vec(),
            seen_share: 0.8,
            lowest: Some(Rungs { from_m: 0.4, to_m: 5.0, step_m: 0.2 }),
            ..Criteria::default()
        };
        let plain_survey = Placement::Plain.survey();
        let plain = Search::new(&plain_survey, criteria.clone()).expect("criteria in order");
        let known = plain.run(&Progress::unwatched(), &|_| {}).expect("nobody cancels");
        assert!(known.met > 30 && known.met < known.looked, "{} of {}", known.met, known.looked);
        for lying in [Placement::Mirrored, Placement::Turned] {
            let survey = lying.survey();
            let mut search = Search::new(&survey, criteria.clone()).expect("criteria in order");
            // The points of the subject lie with it.
            let mut subject = plain.subject().expect("a subject").clone();
            for sample in &mut subject.samples {
                let point = lying.point((sample.point.x, sample.point.y));
                let normal = lying.point((sample.normal.x, sample.normal.y));
                sample.point = WorldPoint::new(point.0, point.1, sample.point.z);
                sample.normal = WorldVector::new(normal.0, normal.1, sample.normal.z);
            }
            let own = search.subject().expect("a subject").clone();
            search.subject = Some(Box::new(Subject { samples: subject.samples, ..own }));
            let found = search.run(&Progress::unwatched(), &|_| {}).expect("nobody cancels");
            assert_eq!((found.looked, found.met, found.out), (known.looked, known.met, known.out), "{lying:?}");
            let lattice = *plain.lattice();
            for (column, row) in (0..lattice.rows).flat_map(|row| (0..lattice.columns).map(move |column| (column, row)))
            {
                let (x, y) = lying.point(lattice.at(column, row));
                let index = |value: f64| ((value + 32.0) / 2.0) as u32;
                let there = (index(x), index(y));
                let (before, after) = (&known.map, &found.map);
                assert_eq!(before.ground(column, row), after.ground(there.0, there.1), "{lying:?} {column} {row}");
                assert_eq!(before.meets(column, row), after.meets(there.0, there.1), "{lying:?} {column} {row}");
                for figure in MapFigure::ALL {
                    let (a, b) = (before.value(column, row, figure), after.value(there.0, there.1, figure));
                    // What leans to the left leans to the right in a mirror, so the convergence stays.
                    let same = match (a, b) {
                        (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * (1.0 + a.abs()),
                        (a, b) => a == b,
                    };
                    assert!(same, "{lying:?} {figure:?} at {column}, {row}: {a:?} and {b:?}");
                }
            }
        }
    }
}
