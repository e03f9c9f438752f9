//! How long does it take to find the sun, the light on a front through a day and through a year, and the sun at an edge?
//!
//! On the demo sites, with every cast shadow by rays, in one thread. The bars: a day of one-minute steps under 1 s of the
//! processor's time, a year of ten-minute steps under 5 s.

use std::path::Path;

use divan::{Bencher, black_box};
use plumbsight::light::{LightLimits, LightYear, LitFace, Moment, Shade, Sky, contacts, faces};
use plumbsight::place::Day;
use plumbsight::survey::Survey;

const SITES: [&str; 3] = ["ropewalk", "saltings", "wendle"];

fn main() {
    divan::main();
}

fn survey(site: &str) -> Survey {
    Survey::open(Path::new(&format!("scenes/{site}.site.ron"))).expect("a demo site")
}

/// A site with its sky and the face that the picture is of.
fn ready(site: &str) -> (Survey, Sky, LitFace) {
    let survey = survey(site);
    let sky = Sky::over(&survey.model.site).expect("an anchor");
    let face = faces(&survey.model, survey.subject.as_ref().expect("a subject")).swap_remove(0);
    (survey, sky, face)
}

fn midsummer() -> Day {
    Day::new(2026, 6, 21).expect("a day")
}

#[divan::bench]
fn the_sun_once(bencher: Bencher<'_, '_>) {
    let (_, sky, _) = ready("ropewalk");
    let mut moment = Moment::of_unix_ms(1_780_000_000_000);
    bencher.bench_local(|| {
        moment = moment.plus_s(61.0);
        black_box(sky.sun(moment))
    });
}

#[divan::bench(args = SITES)]
fn a_day_of_one_minute_steps(bencher: Bencher<'_, '_>, site: &str) {
    let (survey, sky, face) = ready(site);
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    let bounds = sky.day(midsummer()).expect("a day").bounds;
    bencher.bench_local(|| black_box(face.spans(&sky, &shade, bounds, 60.0)));
}

#[divan::bench(args = SITES, sample_count = 5, sample_size = 1)]
fn a_year_of_ten_minute_steps(bencher: Bencher<'_, '_>, site: &str) {
    let (survey, sky, face) = ready(site);
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    bencher.bench_local(|| black_box(LightYear::of(&sky, &face, &shade, 2026, 10).expect("a year")));
}

#[divan::bench(args = SITES)]
fn the_sun_at_the_edge_on_a_day(bencher: Bencher<'_, '_>, site: &str) {
    let (survey, sky, _) = ready(site);
    let subject = survey.subject.as_ref().expect("a subject");
    let standing = survey.stand(&survey.model.site.stances[0]).expect("a stance");
    let bounds = sky.day(midsummer()).expect("a day").bounds;
    bencher
        .bench_local(|| black_box(contacts(&survey.model, subject, &survey.sight, &standing.pose.eye, &sky, bounds)));
}
