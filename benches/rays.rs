//! How many lines of sight a second does the program find free or blocked, on one thread, and how many does Embree?
//!
//! A rolling site of 640,000 triangles with houses on it. Where `benches/run` has installed Embree, the same rays are
//! asked of the same triangles in both, and the ratio is told.

#![expect(clippy::print_stdout, reason = "a bench tells its figures")]

#[path = "../tests/suite/support/python.rs"]
mod python;

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Instant;

use divan::Bencher;
use divan::counter::ItemsCount;
use plumbsight::pose::{WorldPoint, WorldVector};
use plumbsight::sight::Sight;
use plumbsight::site::{Model, Site, Terrain, TerrainGrid};

/// Posts along each side of the ground; four triangles to a cell.
const POSTS: u32 = 400;
const SPACING_M: f64 = 2.0;
const HOUSES: u32 = 400;
/// Rays of each kind: a square number.
const RAYS: u32 = 400 * 400;
/// Rays are timed in batches short enough that other work on the machine interrupts few of them; of each batch's times the
/// best counts.
const BATCH: usize = 10_000;
/// How often both sides are asked by turns, and how often in a row.
const ROUNDS: usize = 3;
const RUNS: usize = 12;

const KINDS: [&str; 2] = ["in order", "scattered"];

fn main() {
    divan::main();
    if std::env::var_os("PLUMBSIGHT_PYTHON").is_some() {
        compare_with_embree();
    } else {
        println!("Not compared with Embree: run benches/run, which installs it.");
    }
}

/// Multiples of irrational numbers fill an interval evenly, the same way each time.
fn spread(index: u32, step: f64, low: f64, high: f64) -> f64 {
    low + (high - low) * (f64::from(index) * step.sqrt()).fract()
}

fn ground_m(x: f64, y: f64) -> f64 {
    let rolling = 12.0 * (x / 90.0).sin() * (y / 70.0).cos() + 4.0 * (x / 23.0 + 1.0).sin() * (y / 31.0).sin();
    rolling + 0.4 * (x / 5.0).sin() * (y / 4.0).cos()
}

fn model() -> Model {
    let blocks: Vec<String> = (0..HOUSES)
        .map(|index| (index, spread(index, 2.0, -380.0, 380.0), spread(index, 3.0, -380.0, 380.0)))
        // The eye needs room.
        .filter(|(_, x, y)| x.hypot(*y) > 15.0)
        .map(|(index, x, y)| {
            let (width_m, depth_m) = (spread(index, 5.0, 4.0, 12.0), spread(index, 7.0, 4.0, 12.0));
            let (heading_deg, height_m) = (spread(index, 11.0, 0.0, 90.0), spread(index, 13.0, 4.0, 16.0));
            format!(
                "(name: \"house {index}\", at: ({x}, {y}), heading_deg: {heading_deg}, \
                 shape: Box(width_m: {width_m}, depth_m: {depth_m}, height_m: {height_m}))"
            )
        })
        .collect();
    let text = format!("(format: 1, name: \"rolling\", blocks: [{}])", blocks.join(", "));
    let mut site: Site = plumbsight::files::ron_options().from_str(&text).expect("a site");
    let post = |step: u32| SPACING_M * (f64::from(step) - 0.5 * f64::from(POSTS - 1));
    let row = |row: u32| (0..POSTS).map(|column| ground_m(post(column), post(row))).collect();
    site.terrain = Terrain::Grid(TerrainGrid {
        south_west: (post(0), post(0)),
        spacing_m: (SPACING_M, SPACING_M),
        turned_deg: 0.0,
        rows: (0..POSTS).rev().map(row).collect(),
    });
    Model::build(site)
}

/// Where somebody looks from.
fn eye() -> WorldPoint {
    WorldPoint::new(0.0, 0.0, ground_m(0.0, 0.0) + 6.0)
}

/// What they look at: points up to 12 m above the ground, in the order of their directions as in a picture, or scattered.
fn points(kind: &str) -> Vec<WorldPoint> {
    let side = f64::from(RAYS).sqrt();
    let place = |index: u32| match kind {
        "in order" => {
            let (row, column) = ((f64::from(index) / side).floor() / side, (f64::from(index) / side).fract());
            let (turn, distance_m) = (1.4 * (column - 0.5), 10.0 + 370.0 * row * row);
            let (x, y) = (distance_m * turn.sin(), distance_m * turn.cos());
            WorldPoint::new(x, y, ground_m(x, y) + 0.2)
        }
        _ => {
            let (x, y) = (spread(index, 2.0, -380.0, 380.0), spread(index, 3.0, -380.0, 380.0));
            WorldPoint::new(x, y, ground_m(x, y) + spread(index, 5.0, 0.2, 12.0))
        }
    };
    (0..RAYS).map(place).collect()
}

fn look_at_each(sight: &Sight, points: &[WorldPoint]) -> Vec<bool> {
    let eye = eye();
    points.iter().map(|point| sight.is_free(&eye, point)).collect()
}

#[divan::bench(args = KINDS, sample_count = 20, sample_size = 1)]
fn one_by_one(bencher: Bencher<'_, '_>, kind: &str) {
    let (sight, points) = (Sight::over(&model()), points(kind));
    bencher.counter(ItemsCount::new(points.len())).bench(|| look_at_each(&sight, black_box(&points)));
}

#[divan::bench(args = KINDS, sample_count = 20, sample_size = 1)]
fn all_at_once(bencher: Bencher<'_, '_>, kind: &str) {
    let (sight, points) = (Sight::over(&model()), points(kind));
    bencher.counter(ItemsCount::new(points.len())).bench(|| sight.free_many(&eye(), black_box(&points)));
}

#[divan::bench(args = KINDS, sample_count = 20, sample_size = 1)]
fn first_hits(bencher: Bencher<'_, '_>, kind: &str) {
    let (sight, points, eye) = (Sight::over(&model()), points(kind), eye());
    let directions: Vec<WorldVector> = points.iter().map(|point| (point - eye).normalize()).collect();
    bencher
        .counter(ItemsCount::new(points.len()))
        .bench(|| black_box(&directions).iter().filter(|way| sight.first_hit(&eye, way, 0.0).is_some()).count());
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn prepare(bencher: Bencher<'_, '_>) {
    let model = model();
    bencher.bench(|| Sight::over(black_box(&model)));
}

#[derive(serde::Serialize)]
struct Question {
    triangles: PathBuf,
    rays: Vec<PathBuf>,
    batch: usize,
    runs: usize,
}

#[derive(serde::Deserialize)]
struct Answer {
    blocked: Vec<bool>,
    /// For each batch.
    seconds: Vec<f64>,
}

/// Numbers as Embree takes them.
fn write(path: PathBuf, numbers: impl Iterator<Item = f64>) -> PathBuf {
    let bytes: Vec<u8> = numbers.flat_map(|number| (number as f32).to_le_bytes()).collect();
    std::fs::write(&path, bytes).expect("room for a file");
    path
}

/// The lines of sight as rays, which end as far before their points as the program's own do.
fn rays(points: &[WorldPoint]) -> impl Iterator<Item = f64> {
    let eye = eye();
    points.iter().flat_map(move |point| {
        let span = point - eye;
        let length_m = span.norm();
        let end_m = length_m - (2e-5 * length_m).max(2e-3);
        let way = span / length_m;
        [eye.x, eye.y, eye.z, way.x, way.y, way.z, end_m]
    })
}

fn question(model: &Model, sets: &[Vec<WorldPoint>], folder: &Path) -> Question {
    let solids = model.solids.iter().flat_map(|solid| solid.triangles.iter().map(|part| solid.corners(part)));
    let triangles: Vec<[WorldPoint; 3]> = solids.chain(model.site.terrain.triangles()).collect();
    println!("\nLines of sight a second, one thread, {} triangles, {RAYS} rays from one eye:", triangles.len());
    let numbers = triangles.iter().flatten().flat_map(|corner| [corner.x, corner.y, corner.z]);
    Question {
        triangles: write(folder.join("triangles"), numbers),
        rays: (0..).zip(sets).map(|(index, set)| write(folder.join(format!("rays {index}")), rays(set))).collect(),
        batch: BATCH,
        runs: RUNS,
    }
}

/// How long each batch takes at best, and what is free.
fn timed(set: &[WorldPoint], look: impl Fn(&[WorldPoint]) -> Vec<bool>) -> (Vec<f64>, Vec<bool>) {
    let mut best = vec![f64::INFINITY; set.len().div_ceil(BATCH)];
    let mut free = Vec::new();
    for _ in 0..RUNS {
        free.clear();
        for (points, best) in set.chunks(BATCH).zip(&mut best) {
            let start = Instant::now();
            let seen = black_box(look(black_box(points)));
            *best = best.min(start.elapsed().as_secs_f64());
            free.extend(seen);
        }
    }
    (best, free)
}

fn compare_with_embree() {
    let model = model();
    let sight = Sight::over(&model);
    let sets = KINDS.map(points);
    let folder = tempfile::tempdir().expect("a folder");
    let question = question(&model, &sets, folder.path());
    // For each kind the best times of the batches: of Embree, one by one, all at once.
    let mut best = KINDS.map(|_| [const { Vec::new() }; 3]);
    for _ in 0..ROUNDS {
        let answers: Vec<Answer> = python::ask("benches/against_embree.py", &question);
        for ((set, answer), best) in sets.iter().zip(answers).zip(&mut best) {
            let ours = [timed(set, |points| look_at_each(&sight, points)), timed(set, |p| sight.free_many(&eye(), p))];
            for (_, free) in &ours {
                let apart = free.iter().zip(&answer.blocked).filter(|(free, blocked)| free == blocked).count();
                // Both round; a ray in ten thousand may graze an edge.
                assert!(apart * 10_000 <= set.len(), "the two see different things: {apart} of {}", set.len());
            }
            let [(singly, _), (together, _)] = ours;
            for (best, seconds) in best.iter_mut().zip([answer.seconds, singly, together]) {
                best.resize(seconds.len(), f64::INFINITY);
                best.iter_mut().zip(seconds).for_each(|(best, seconds)| *best = best.min(seconds));
            }
        }
    }
    for ((kind, best), set) in KINDS.iter().zip(best).zip(&sets) {
        let [theirs, singly, together] = best.map(|seconds| set.len() as f64 / seconds.iter().sum::<f64>() / 1e6);
        println!(
            "{kind:>10}: Embree {theirs:5.2} million; one by one {singly:5.2}, ratio {:.2}; all at once {together:5.2}, \
             ratio {:.2}",
            singly / theirs,
            together / theirs
        );
    }
}
