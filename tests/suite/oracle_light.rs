//! Does pvlib put the sun where the program does, and let it rise, culminate and set when it does?
//!
//! Random places and dates from 1900 to 2100 from a fixed seed; `tests/oracles/light.py` asks pvlib.

use plumbsight::light::{Air, Moment, RISE_DEG, Sky};
use plumbsight::site::parse_site;
use serde::{Deserialize, Serialize};

use crate::support::python::ask;
use crate::support::random::Random;
use crate::support::tell;

#[derive(Serialize)]
struct Question {
    positions: Vec<[f64; 7]>,
    days: Vec<[f64; 4]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Answer {
    positions: Vec<[f64; 3]>,
    days: Vec<[Option<f64>; 3]>,
}

fn sky(latitude_deg: f64, longitude_deg: f64, height_m: f64) -> Sky {
    let text = format!(
        "(format: 1, name: \"somewhere\", anchor: (latitude_deg: {latitude_deg}, longitude_deg: {longitude_deg}, height_m: {height_m}))"
    );
    Sky::over(&parse_site(&text, "somewhere").expect("a site")).expect("a sky")
}

/// Seconds from 1 January 1900 to 1 January 2100.
const SECONDS: (f64, f64) = (-2_208_988_800.0, 4_102_444_800.0);

#[test]
fn the_sun_stands_where_pvlib_puts_it_and_rises_when_it_says() {
    let mut random = Random::new(34_302);
    let positions: Vec<[f64; 7]> = (0..10_000)
        .map(|_| {
            [
                // Evenly over the sphere.
                random.between(-1.0, 1.0).asin().to_degrees(),
                random.between(-180.0, 180.0),
                random.between(-300.0, 4000.0).round(),
                random.between(600.0, 1050.0),
                random.between(-30.0, 40.0),
                random.between(-3.0, 90.0),
                random.between(SECONDS.0, SECONDS.1).round(),
            ]
        })
        .collect();
    let days: Vec<[f64; 4]> = (0..10_000)
        .map(|_| {
            let midnight = (random.between(SECONDS.0, SECONDS.1) / 86_400.0).floor() * 86_400.0;
            [random.between(-60.0, 60.0), random.between(-180.0, 180.0), random.between(-3.0, 90.0), midnight]
        })
        .collect();
    let question = Question { positions, days };
    let answer: Answer = ask("tests/oracles/light.py", &question);
    assert_eq!((answer.positions.len(), answer.days.len()), (10_000, 10_000));

    let mut worst_deg = 0.0_f64;
    for (asked, [azimuth_deg, apparent_deg, true_deg]) in question.positions.iter().zip(&answer.positions) {
        let [latitude_deg, longitude_deg, height_m, pressure_hpa, temperature_c, delta_t_s, seconds] = *asked;
        let sky = sky(latitude_deg, longitude_deg, height_m)
            .with_air(Air { pressure_hpa, temperature_c })
            .expect("air")
            .with_delta_t(delta_t_s);
        let sun = sky.sun(Moment::of_unix_ms((1000.0 * seconds) as i64));
        // Near the zenith the azimuth turns fast: what counts is how far apart the two are on the sky.
        let azimuth_off = (sun.azimuth.degrees() - azimuth_deg + 540.0).rem_euclid(360.0) - 180.0;
        let aside_deg = azimuth_off * true_deg.to_radians().cos();
        for off_deg in [aside_deg, sun.true_altitude.degrees() - true_deg, sun.altitude.degrees() - apparent_deg] {
            worst_deg = worst_deg.max(off_deg.abs());
            assert!(off_deg.abs() < 3e-4, "{asked:?}: off by {off_deg}°");
        }
    }

    let mut worst_s = [0.0_f64; 3];
    let mut compared = 0;
    for (asked, theirs) in question.days.iter().zip(&answer.days) {
        let [latitude_deg, longitude_deg, delta_t_s, midnight] = *asked;
        let sky = sky(latitude_deg, longitude_deg, 0.0).with_delta_t(delta_t_s);
        // What belongs to a day in universal time may lie just beyond it.
        let about = [-86_400.0, 0.0, 86_400.0].map(|off| {
            let noon = Moment::of_unix_ms((1000.0 * (midnight + off + 43_200.0)) as i64);
            sky.day(sky.zone().clock(noon).day)
        });
        let about: Vec<_> = about.into_iter().filter_map(Result::ok).collect();
        let of = |pick: fn(&plumbsight::light::SunDay) -> &Vec<Moment>| -> Vec<f64> {
            about.iter().flat_map(|day| pick(day).iter().map(|at| at.unix_ms() as f64 / 1000.0)).collect()
        };
        let ours = [of(|day| &day.transits), of(|day| &day.sun.rises), of(|day| &day.sun.sets)];
        for (index, (ours, theirs)) in ours.iter().zip(theirs).enumerate() {
            let Some(theirs) = theirs else { continue };
            // The algorithm folds the event's time of day into its day in universal time, and pvlib tells one that comes
            // before the transit, or after it, as of the day before or after: it is one of three. Neighbouring days differ by
            // up to minutes, so the wrong one is not taken for the right one.
            let of_days = [-86_400.0, 0.0, 86_400.0].map(|days| theirs + days);
            // At either end of the years there is no day before, or after.
            if about.len() < 3 {
                continue;
            }
            let off_s =
                ours.iter().flat_map(|ours| of_days.map(|theirs| (ours - theirs).abs())).fold(f64::INFINITY, f64::min);
            worst_s[index] = worst_s[index].max(off_s);
            compared += 1;
            assert!(off_s < 1.0, "{asked:?}, event {index}: off by {off_s} s ({theirs}, {ours:?})");
        }
    }
    assert!(compared > 29_000, "{compared}");
    tell(&format!(
        "sun against pvlib: worst {worst_deg:.2e}° in 10,000 positions; transit, rise and set off by {:.2}, {:.2}, {:.2} s at \
         most in 10,000 days to 60° of latitude",
        worst_s[0], worst_s[1], worst_s[2]
    ));
}

/// Beyond 60° the sun may take minutes to rise or set, and the published way of finding them, which interpolates once, is off
/// by as much; there pvlib's own altitude is held against the definition: −0.8333° without the parallax that a standing place
/// adds. So it is elsewhere.
#[test]
fn the_sun_is_at_its_rising_altitude_when_it_rises() {
    let mut random = Random::new(83);
    let mut positions = Vec::new();
    while positions.len() < 2000 {
        let (latitude_deg, longitude_deg) = (random.between(-89.5, 89.5), random.between(-180.0, 180.0));
        let sky = sky(latitude_deg, longitude_deg, 0.0).with_delta_t(69.0);
        let noon = Moment::of_unix_ms((1000.0 * random.between(SECONDS.0 + 1e6, SECONDS.1 - 1e6)) as i64);
        let day = sky.day(sky.zone().clock(noon).day).expect("a day");
        for at in day.sun.rises.iter().chain(&day.sun.sets) {
            positions.push([latitude_deg, longitude_deg, 0.0, 1010.0, 10.0, 69.0, at.unix_ms() as f64 / 1000.0]);
        }
    }
    let answer: Answer = ask("tests/oracles/light.py", &Question { positions: positions.clone(), days: Vec::new() });
    for (asked, [_, _, true_deg]) in positions.iter().zip(&answer.positions) {
        let parallax_deg = 8.794 / 3600.0;
        assert!((true_deg + parallax_deg - RISE_DEG).abs() < 1e-4, "{asked:?}: {true_deg}°");
    }
}
