//! How long does it take to look at a million places, and how long would their rays alone take?
//!
//! A square kilometre at 1 m with 500 houses and trees, 4 camera heights, 3 lenses and 64 points of the subject. Then how
//! the time grows with the places and with the blocks. Where `benches/run` has installed Embree, it traces the rays of a
//! hundredth of the places, evenly spread, from every height to every point that faces it; its time is told for all of
//! them.

#![expect(clippy::print_stdout, reason = "a bench tells its figures")]

#[path = "../tests/suite/support/python.rs"]
mod python;

use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;

use plumbsight::outline::Subject;
use plumbsight::pose::WorldPoint;
use plumbsight::progress::Progress;
use plumbsight::search::{Answer, Search, Wishes};
use plumbsight::site::{LoadedSite, check_text, parse_site, site_hash};
use plumbsight::survey::Survey;

const BLOCKS: u32 = 500;
const HALF_M: f64 = 500.0;
const POINTS: usize = 64;
/// Every so many-th column and row is traced by Embree.
const TRACED: u32 = 10;

fn main() {
    let survey = survey(BLOCKS);
    if let Some(spacing_m) = std::env::args().nth(1).and_then(|spacing| spacing.parse().ok()) {
        search(&survey, spacing_m);
        return;
    }
    println!("a square kilometre, {BLOCKS} blocks, 4 heights, 3 lenses, {POINTS} points");
    let searching = search(&survey, 1.0);
    series(&survey);
    if std::env::var_os("PLUMBSIGHT_PYTHON").is_some() {
        compare_with_embree(&survey, searching);
    } else {
        println!("Not compared with Embree: run benches/run, which installs it.");
    }
}

/// Multiples of irrational numbers fill an interval evenly, the same way each time.
fn spread(index: u32, step: f64, low: f64, high: f64) -> f64 {
    low + (high - low) * (f64::from(index) * step.sqrt()).fract()
}

fn survey(blocks: u32) -> Survey {
    let mut described = vec![
        "(name: \"stack\", subject: true, at: (0, 0), \
         shape: PolygonTaper(sides: 8, foot_across_m: 7, head_across_m: 4, height_m: 42))"
            .to_owned(),
    ];
    let places = (0..).map(|index| (index, spread(index, 2.0, -HALF_M, HALF_M), spread(index, 3.0, -HALF_M, HALF_M)));
    for (index, x, y) in places.filter(|(_, x, y)| x.hypot(*y) > 25.0).take(blocks as usize) {
        let (width_m, depth_m) = (spread(index, 5.0, 6.0, 14.0), spread(index, 7.0, 6.0, 12.0));
        let (heading_deg, height_m) = (spread(index, 11.0, 0.0, 90.0), spread(index, 13.0, 3.0, 10.0));
        let ridge_m = height_m + 3.0;
        let shape = match index % 10 {
            0..=5 => format!("Box(width_m: {width_m}, depth_m: {depth_m}, height_m: {height_m})"),
            6 | 7 => format!("Gable(width_m: {width_m}, depth_m: {depth_m}, eaves_m: {height_m}, ridge_m: {ridge_m})"),
            8 => format!(
                "Hip(width_m: {width_m}, depth_m: {depth_m}, eaves_m: {height_m}, ridge_m: {ridge_m}, ridge_length_m: 2)"
            ),
            _ => "Tree(height_m: 9, crown_radius_m: 3, crown_base_m: 2.2, trunk_radius_m: 0.25)".to_owned(),
        };
        described
            .push(format!("(name: \"block {index}\", at: ({x}, {y}), heading_deg: {heading_deg}, shape: {shape})"));
    }
    let text = format!("Site(format: 1, name: \"district\", blocks: [{}])", described.join(",\n"));
    Survey::of(LoadedSite {
        site: parse_site(&text, "district").unwrap_or_else(|problems| panic!("{problems}")),
        path: "district".into(),
        hash: site_hash(&text),
        warnings: check_text(&text, "district"),
        text,
    })
}

fn wishes(spacing_m: f64) -> Wishes {
    Wishes {
        spacing_m,
        area: Some([(-HALF_M, -HALF_M), (HALF_M, HALF_M)]),
        heights_m: vec![0.9, 1.6, 2.4, 4.0],
        distance_m: (1.0, 1000.0),
        samples: POINTS,
        ..Wishes::default()
    }
}

/// The most memory this process has held, in MB.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches("kB").trim().parse::<f64>().ok()).map_or(f64::NAN, |kb| kb / 1e3)
}

/// Looks at all places, and tells when the maps came; the seconds it took.
fn search(survey: &Survey, spacing_m: f64) -> f64 {
    let start = Instant::now();
    let maps = Mutex::new(Vec::new());
    let answer = run(survey, spacing_m, &|step| {
        maps.lock().expect("unpoisoned").push((step, start.elapsed().as_secs_f64()));
    });
    let seconds = start.elapsed().as_secs_f64();
    for (step, at) in maps.into_inner().expect("unpoisoned") {
        println!("  map of every {step}. place after {at:.2} s");
    }
    println!(
        "  all of {} places ({} candidates, {} places meet every wish) after {seconds:.2} s, {:.0} MB at most",
        answer.places,
        answer.candidates,
        answer.met,
        peak_mb()
    );
    seconds
}

fn run(survey: &Survey, spacing_m: f64, shown: &dyn Fn(u32)) -> Answer {
    let search = Search::new(survey, wishes(spacing_m)).unwrap_or_else(|error| panic!("{error}"));
    search.run(&Progress::unwatched(), &|map| shown(map.step())).expect("nobody cancels")
}

/// How the time grows with the places, and with the blocks.
fn series(survey: &Survey) {
    println!("places, seconds, microseconds a place:");
    for spacing_m in [8.0, 4.0, 2.0] {
        let start = Instant::now();
        let places = run(survey, spacing_m, &|_| {}).places;
        let seconds = start.elapsed().as_secs_f64();
        println!("  {places:>8} {seconds:>7.2} {:>7.2}", 1e6 * seconds / places as f64);
    }
    println!("blocks, seconds for 250 000 places:");
    for blocks in [62, 125, 250, 500, 1000, 2000] {
        let survey = self::survey(blocks);
        let start = Instant::now();
        run(&survey, 2.0, &|_| {});
        println!("  {blocks:>8} {:>7.2}", start.elapsed().as_secs_f64());
    }
}

#[derive(serde::Serialize)]
struct Question<'a> {
    triangles: &'a Path,
    rays: Vec<&'a Path>,
    batch: usize,
    runs: usize,
}

#[derive(serde::Deserialize)]
struct Traced {
    seconds: Vec<f64>,
}

fn bytes(numbers: impl Iterator<Item = f64>) -> Vec<u8> {
    numbers.flat_map(|number| (number as f32).to_le_bytes()).collect()
}

fn compare_with_embree(survey: &Survey, searching: f64) {
    let subject = Subject::with_samples(&survey.model, POINTS).expect("a subject");
    let lattice = *Search::new(survey, wishes(1.0)).expect("wishes").lattice();
    let mut rays = Vec::new();
    let mut count = 0_u64;
    for row in (0..lattice.rows).step_by(TRACED as usize) {
        for column in (0..lattice.columns).step_by(TRACED as usize) {
            let at = lattice.at(column, row);
            for height_m in wishes(1.0).heights_m {
                let eye = WorldPoint::new(at.0, at.1, height_m);
                if survey.model.block_around(&eye).is_some() {
                    continue;
                }
                for sample in &subject.samples {
                    let towards = sample.point + sample.normal * 4e-3 - eye;
                    if sample.normal.dot(&towards) < 0.0 {
                        let length_m = towards.norm();
                        let direction = towards / length_m;
                        rays.extend([eye.x, eye.y, eye.z, direction.x, direction.y, direction.z, length_m - 2e-3]);
                        count += 1;
                    }
                }
            }
        }
    }
    let triangles = survey.model.solids.iter().flat_map(|solid| {
        let corners = solid.triangles.iter().flat_map(|triangle| solid.corners(triangle));
        corners.flat_map(|corner| [corner.x, corner.y, corner.z])
    });
    let folder = tempfile::tempdir().expect("a folder");
    let (triangle_file, ray_file) = (folder.path().join("triangles"), folder.path().join("rays"));
    std::fs::write(&triangle_file, bytes(triangles)).expect("written");
    std::fs::write(&ray_file, bytes(rays.into_iter())).expect("written");
    let question = Question { triangles: &triangle_file, rays: vec![&ray_file], batch: 100_000, runs: 3 };
    let answers: Vec<Traced> = python::ask("benches/against_embree.py", &question);
    let all = f64::from(TRACED * TRACED);
    let seconds = all * answers.iter().flat_map(|traced| &traced.seconds).sum::<f64>();
    let threads = rayon::current_num_threads() as f64;
    println!(
        "Embree 4: {:.0} million rays for all places would take {seconds:.1} s on one thread, {:.1} s on {threads} at \
         best; the whole search took {searching:.2} s, {:.2} of that",
        all * count as f64 / 1e6,
        seconds / threads,
        searching * threads / seconds
    );
}
