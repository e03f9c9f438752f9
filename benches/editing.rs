//! How long does a site with many blocks take to be changed? One step of a drag, and a change that lasts, beside making all of
//! it ready anew: `benches/run editing`.

#![expect(clippy::print_stdout, reason = "a bench tells its figures")]

use std::error::Error;
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::{Duration, Instant};

use plumbsight::site::{LoadedSite, Site, check_site, parse_site, site_hash};
use plumbsight::survey::Survey;

const TRIES: usize = 9;

fn main() -> Result<(), Box<dyn Error>> {
    for count in [100, 1000, 10_000] {
        let text = town(count)?;
        let loaded = LoadedSite {
            site: parse_site(&text, "town")?,
            path: "town.site.ron".into(),
            hash: site_hash(&text),
            text,
            warnings: Default::default(),
        };
        let survey = Survey::of(loaded.clone());
        let moved = |index: usize, try_number: usize| {
            let mut site = survey.model.site.clone();
            site.blocks[index].at.0 += 0.25 * (try_number + 1) as f64;
            site
        };
        let tried = |site: Site| {
            black_box(check_site(&site));
            black_box(survey.tried(site, None));
        };
        let anew = fastest(|_| {
            black_box(Survey::of(loaded.clone()));
        });
        let house = fastest(|number| tried(moved(7, number)));
        let subject = fastest(|number| tried(moved(0, number)));
        let kept = fastest(|number| {
            black_box(survey.changed(LoadedSite { site: moved(7, number), ..loaded.clone() }, None));
        });
        let ms = |time: Duration| 1e3 * time.as_secs_f64();
        println!(
            "{count} blocks: all anew {:.1} ms; a step of a drag {:.1} ms ({:.3} of it), of the subject {:.1} ms; let go {:.1} ms",
            ms(anew),
            ms(house),
            house.as_secs_f64() / anew.as_secs_f64(),
            ms(subject),
            ms(kept)
        );
    }
    Ok(())
}

fn fastest(mut run: impl FnMut(usize)) -> Duration {
    let times = (0..TRIES).map(|number| {
        let start = Instant::now();
        run(number);
        start.elapsed()
    });
    times.min().unwrap_or_default()
}

/// A tower, and houses with gables on a square net of streets: so many blocks in all.
fn town(count: usize) -> Result<String, std::fmt::Error> {
    let mut text = String::from("Site(format: 1, name: \"town\", blocks: [\n");
    text.push_str("(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 40)),\n");
    let side = (1..).find(|side| side * side >= count).unwrap_or(1);
    for house in 1..count {
        let (east, north) = (14 * (house % side) as i64 - 7 * side as i64, 30 + 14 * (house / side));
        writeln!(
            text,
            "(name: \"house {house}\", at: ({east}, {north}), shape: Gable(width_m: 9, depth_m: 7, eaves_m: 5, ridge_m: 8)),"
        )?;
    }
    text.push_str("], stances: [(name: \"before\", at: (0, -60), lens: \"24-70 mm\")])\n");
    Ok(text)
}
