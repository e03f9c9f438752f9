//! How long does it take to look at a million places, and how long would their rays alone take?
//!
//! A square kilometre at 1 m with 500 houses and trees, 4 camera heights, 3 lenses, one aim and 64 points of the subject, and
//! the same with all aims. Then how the time grows with the places and with the blocks, and what one candidate's closed form
//! costs. Where `benches/run` has
//! installed Embree, it traces the rays of a hundredth of the places, evenly spread, from every height to every point that
//! faces it; its time is told for all of them. `cargo bench --bench search -- 2 62 6` only looks at places 2 m apart amid 62
//! blocks on ground that rises and falls by 6 m.

#![expect(clippy::print_stdout, reason = "a bench tells its figures")]

#[path = "../tests/suite/support/python.rs"]
mod python;

use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;

use plumbsight::appraise::{Kernel, Mounted, SubjectView};
use plumbsight::outline::Subject;
use plumbsight::pose::WorldPoint;
use plumbsight::progress::Progress;
use plumbsight::search::{AIMS, Answer, Criteria, Search};
use plumbsight::site::{Aim, LoadedSite, check_text, parse_site, site_hash};
use plumbsight::survey::Survey;

const BLOCKS: u32 = 500;
const HALF_M: f64 = 500.0;
const POINTS: usize = 64;
/// Every so many-th column and row is traced by Embree.
const TRACED: u32 = 10;

fn main() {
    let numbers: Vec<f64> = std::env::args().skip(1).filter_map(|argument| argument.parse().ok()).collect();
    let blocks = numbers.get(1).map_or(BLOCKS, |&blocks| blocks as u32);
    let rolling_m = numbers.get(2).copied().unwrap_or(0.0);
    let survey = survey(blocks, rolling_m);
    println!("a square kilometre, {blocks} blocks, 4 heights, 3 lenses, {POINTS} points");
    let spacing_m = numbers.first().copied().unwrap_or(1.0);
    let searching = search(&survey, spacing_m, &[Aim::Fill]);
    let all = search(&survey, spacing_m, &AIMS);
    println!("  all aims take {:.2} times the processors of one", all.processors / searching.processors);
    if !numbers.is_empty() {
        return;
    }
    candidates(&survey);
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

fn survey(blocks: u32, rolling_m: f64) -> Survey {
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
    let terrain = if rolling_m > 0.0 { format!("terrain: Grid({}),", rolling(rolling_m)) } else { String::new() };
    let text = format!("Site(format: 1, name: \"district\", {terrain} blocks: [{}])", described.join(",\n"));
    Survey::of(LoadedSite {
        site: parse_site(&text, "district").unwrap_or_else(|problems| panic!("{problems}")),
        path: "district".into(),
        hash: site_hash(&text),
        warnings: check_text(&text, "district"),
        text,
    })
}

/// Ground that rises and falls by so much, posts 10 m apart.
fn rolling(by_m: f64) -> String {
    let height_m =
        |x: f64, y: f64| by_m * ((x / 90.0).sin() * (y / 70.0).cos() + 0.3 * (x / 23.0).sin() * (y / 31.0).cos());
    let row = |row: u32| {
        let posts = (0..=100).map(|column| height_m(10.0 * f64::from(column) - HALF_M, HALF_M - 10.0 * f64::from(row)));
        format!("[{}]", posts.map(|post| format!("{post:.3}")).collect::<Vec<_>>().join(","))
    };
    let rows = (0..=100).map(row).collect::<Vec<_>>().join(",\n");
    format!("(south_west: ({}, {}), spacing_m: (10, 10), rows: [{rows}])", -HALF_M, -HALF_M)
}

fn criteria(spacing_m: f64, aims: &[Aim]) -> Criteria {
    Criteria {
        aims: aims.to_vec(),
        spacing_m,
        area: Some([(-HALF_M, -HALF_M), (HALF_M, HALF_M)]),
        heights_m: vec![0.9, 1.6, 2.4, 4.0],
        distance_m: (1.0, 1000.0),
        samples: POINTS,
        ..Criteria::default()
    }
}

/// The most memory this process has held, in MB.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches("kB").trim().parse::<f64>().ok()).map_or(f64::NAN, |kb| kb / 1e3)
}

/// Seconds by the clock on the wall, and of all processors together: other work on the machine does not count in those.
#[derive(Clone, Copy)]
struct Took {
    wall: f64,
    processors: f64,
}

/// Clock and processor time since some start, in seconds.
fn now() -> (Instant, f64) {
    // Ticks of a hundredth of a second: the 14th and 15th field, counted from behind the name in brackets.
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
    let ticks = fields.skip(11).take(2).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>();
    (Instant::now(), 0.01 * ticks)
}

fn since((start, processors): (Instant, f64)) -> Took {
    Took { wall: start.elapsed().as_secs_f64(), processors: now().1 - processors }
}

/// Looks at all places, and tells when the maps came.
fn search(survey: &Survey, spacing_m: f64, aims: &[Aim]) -> Took {
    println!("  aims: {}", aims.iter().map(Aim::key).collect::<Vec<_>>().join(", "));
    let start = now();
    let maps = Mutex::new(Vec::new());
    let answer = run(survey, spacing_m, aims, &|step| maps.lock().expect("unpoisoned").push((step, since(start))));
    let took = since(start);
    for (step, at) in maps.into_inner().expect("unpoisoned") {
        println!("  map of every {step}. place after {:.2} s, {:.2} s of processors", at.wall, at.processors);
    }
    println!(
        "  all of {} places ({} candidates; {} places meet every requirement) after {:.2} s, {:.2} s of processors; {:.0} MB at most",
        answer.places,
        answer.candidates,
        answer.met,
        took.wall,
        took.processors,
        peak_mb()
    );
    took
}

fn run(survey: &Survey, spacing_m: f64, aims: &[Aim], shown: &dyn Fn(u32)) -> Answer {
    let search = Search::new(survey, criteria(spacing_m, aims)).unwrap_or_else(|error| panic!("{error}"));
    search.run(&Progress::unwatched(), &|map| shown(map.step())).expect("nobody cancels")
}

/// What a candidate's closed form costs, on one thread: the eye of each height taken in, and three lenses aimed.
fn candidates(survey: &Survey) {
    let subject = survey.subject.as_ref().expect("a subject");
    let criteria = criteria(10.0, &AIMS);
    let format = survey.kit.format(&criteria.format).expect("known");
    let lens = |name: &String| Mounted { lens: survey.kit.lens(name).expect("known"), focal_mm: None };
    let mounted: Vec<Mounted> = criteria.lenses.iter().map(lens).collect();
    let kernel = Kernel::new(&survey.model, subject, &format, None, None, None);
    let lattice = *Search::new(survey, criteria.clone()).expect("criteria in order").lattice();
    for &aim in &criteria.aims {
        let (mut prospect, mut count, mut whole) = (SubjectView::default(), 0_u64, 0_u64);
        let start = now();
        for place in 0..lattice.columns * lattice.rows {
            let at = lattice.at(place % lattice.columns, place / lattice.columns);
            for height_m in &criteria.heights_m {
                kernel.look(&WorldPoint::new(at.0, at.1, *height_m), &mut prospect);
                for mounted in &mounted {
                    count += 1;
                    let candidate = kernel.candidate(&mut prospect, mounted, aim);
                    whole += u64::from(candidate.is_ok_and(|candidate| candidate.fullness <= 1.0));
                }
            }
        }
        let each = 1e9 * since(start).processors / count as f64;
        println!("a candidate's closed form, {}: {each:.0} ns ({count} of them, {whole} hold the subject)", aim.key());
    }
}

/// How the time of the processors grows with the places, and with the blocks.
fn series(survey: &Survey) {
    let tell = |what: &str, took: Vec<(u64, Took)>| {
        println!("{what:>10}, seconds of processors:");
        let most = took.iter().map(|(_, took)| took.processors).fold(0.01, f64::max);
        for (count, took) in took {
            let bar = "#".repeat((60.0 * took.processors / most).round() as usize);
            println!("  {count:>8} {:>6.2} {bar}", took.processors);
        }
    };
    let timed = |survey: &Survey, spacing_m: f64| {
        let start = now();
        let places = run(survey, spacing_m, &[Aim::Fill], &|_| {}).places;
        (places, since(start))
    };
    tell("places", [8.0, 4.0, 2.0, 1.5, 1.0].map(|spacing_m| timed(survey, spacing_m)).to_vec());
    let timed_blocks =
        |blocks: u32, rolling_m: f64| (u64::from(blocks), timed(&self::survey(blocks, rolling_m), 2.0).1);
    tell("blocks", [62, 125, 250, 500, 1000, 2000].map(|blocks| timed_blocks(blocks, 0.0)).to_vec());
    tell("on rolling ground: blocks", [125, 500, 2000].map(|blocks| timed_blocks(blocks, 6.0)).to_vec());
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
    /// Of a processor, for each batch.
    spent: Vec<f64>,
}

fn bytes(numbers: impl Iterator<Item = f64>) -> Vec<u8> {
    numbers.flat_map(|number| (number as f32).to_le_bytes()).collect()
}

fn compare_with_embree(survey: &Survey, searching: Took) {
    let subject = Subject::with_samples(&survey.model, POINTS).expect("a subject");
    let lattice = *Search::new(survey, criteria(1.0, &[Aim::Fill])).expect("criteria in order").lattice();
    let mut rays = Vec::new();
    let mut count = 0_u64;
    for row in (0..lattice.rows).step_by(TRACED as usize) {
        for column in (0..lattice.columns).step_by(TRACED as usize) {
            let at = lattice.at(column, row);
            for height_m in criteria(1.0, &[Aim::Fill]).heights_m {
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
    let seconds = all * answers.iter().flat_map(|traced| &traced.spent).sum::<f64>();
    println!(
        "Embree 4: {:.0} million rays for all places take {seconds:.1} s of a processor; the whole search took {:.2} s of \
         processors, {:.2} of that",
        all * count as f64 / 1e6,
        searching.processors,
        searching.processors / seconds
    );
}
