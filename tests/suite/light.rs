//! Does the sun stand, rise and set as published, fall where a ruler says, and pass the subject's edge when rays say so?

use std::collections::BTreeSet;

use plumbsight::angle::Angle;
use plumbsight::day::{DaySettings, WantedLight, plan_day};
use plumbsight::handover::places::route;
use plumbsight::handover::{calendar, plane_of};
use plumbsight::light::{
    Air, ContactKind, Cover, FaceLight, FlareRisk, LightLimits, LightRequirement, LightSide, LightYear, Moment,
    RequiredFrom, Shade, SkinFromEye, Sky, SunPosition, TideTable, Zone, cast_shadow, contacts, edge_band, faces,
    incidence, is_flooded, light_side, sun_in_picture,
};
use plumbsight::place::Day;
use plumbsight::pose::{WorldPoint, WorldVector};
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Model};
use plumbsight::survey::Survey;
use plumbsight::walking::{Feet, Reach};
use serde::Deserialize;

use crate::support::program::{command, run};
use crate::support::python::ask;
use crate::support::surveyed::{stance, subject, surveyed};

/// A site at a place, with these blocks.
fn site(anchor: &str, zone: &str, more: &str) -> Survey {
    surveyed(&format!("(format: 1, name: \"t\", anchor: ({anchor}), time_zone: \"{zone}\", {more})"), "t.site.ron")
}

/// Where the worked example of NREL/TP-560-34302 stands.
const GOLDEN: &str = "latitude_deg: 39.742476, longitude_deg: -105.1786, height_m: 1830.14";
const YORK: &str = "latitude_deg: 53.96, longitude_deg: -1.08, height_m: 20";

fn sky_of(survey: &Survey) -> Sky {
    Sky::over(&survey.model.site).expect("a sky")
}

fn day(text: &str) -> Day {
    text.parse().expect("a day")
}

fn at(sky: &Sky, text: &str) -> Moment {
    sky.zone().read(text).expect("a moment").moment
}

/// A sun that stands so, however it came there.
fn sun(azimuth_deg: f64, altitude_deg: f64) -> SunPosition {
    SunPosition {
        azimuth: Angle::from_degrees(azimuth_deg),
        altitude: Angle::from_degrees(altitude_deg),
        true_altitude: Angle::from_degrees(altitude_deg),
        semi_diameter: Angle::from_degrees(0.2667),
    }
}

/// Reda & Andreas, *Solar Position Algorithm for Solar Radiation Applications*, NREL/TP-560-34302, rev. 2008, table A5.1.
#[test]
fn the_published_worked_example_comes_out() {
    let sky = sky_of(&site(GOLDEN, "America/Denver", "blocks: []"));
    let published =
        sky.clone().with_air(Air { pressure_hpa: 820.0, temperature_c: 11.0 }).expect("air").with_delta_t(67.0);
    let moment = at(&sky, "2003-10-17T12:30:30-07:00");
    let found = published.sun(moment);
    assert!((90.0 - found.altitude.degrees() - 50.11162).abs() < 1e-4, "{found:?}");
    assert!((found.azimuth.degrees() - 194.34024).abs() < 1e-4, "{found:?}");
    // A surface with a slope of 30° that looks 10° east of south: the table's azimuth rotation runs westwards from south.
    let (slope, towards) = (30.0_f64.to_radians(), 170.0_f64.to_radians());
    let normal = WorldVector::new(slope.sin() * towards.sin(), slope.sin() * towards.cos(), slope.cos());
    assert!((incidence(&normal, &found.direction()).degrees() - 25.18700).abs() < 1e-4);
    // By the usual air of that height and the estimate of delta T it is still within the algorithm's own uncertainty.
    let usual = sky.sun(moment);
    assert!((usual.altitude.degrees() - 39.88838).abs() < 3e-4, "{usual:?}");
    assert!((usual.azimuth.degrees() - 194.34024).abs() < 3e-4, "{usual:?}");
}

/// The same report: tables A5.1 and A2.1; and the values of NREL's own calculator for the example's place, 2 January 2015.
#[test]
fn rise_transit_and_set_come_out_as_published_to_the_second() {
    let golden = sky_of(&site(GOLDEN, "America/Denver", "blocks: []"));
    let checks = [
        (
            golden.clone().with_delta_t(67.0),
            "2003-10-17",
            [Some("2003-10-17T13:12:43.46Z"), Some("2003-10-17T18:46:04.97Z"), None],
        ),
        // The report's sunset is that of its day in universal time, when it is still the evening before at the place: the
        // report folds the fraction of the day into that day. A day later the sun sets 87 s earlier.
        (golden.clone().with_delta_t(67.0), "2003-10-16", [None, None, Some("2003-10-17T00:20:19.19Z")]),
        (
            golden,
            "2015-01-02",
            [Some("2015-01-02T07:21:55-07:00"), Some("2015-01-02T12:04:45-07:00"), Some("2015-01-02T16:47:43-07:00")],
        ),
        (
            sky_of(&site("latitude_deg: 35, longitude_deg: 0", "UTC", "blocks: []")),
            "1994-01-02",
            [Some("1994-01-02T07:08:12.8Z"), None, Some("1994-01-02T16:59:55.9Z")],
        ),
        (
            sky_of(&site("latitude_deg: -35, longitude_deg: 0", "UTC", "blocks: []")),
            "1996-07-05",
            [Some("1996-07-05T07:08:15.4Z"), None, Some("1996-07-05T17:01:04.5Z")],
        ),
    ];
    for (sky, date, published) in checks {
        let found = sky.day(day(date)).expect("a day");
        for (found, published) in [&found.sun.rises, &found.transits, &found.sun.sets].into_iter().zip(published) {
            let [found] = found[..] else { panic!("{date}: {found:?}") };
            let Some(published) = published else { continue };
            let off_s = found.seconds_since(at(&sky, published));
            assert!(off_s.abs() < 1.0, "{date}: {published} is off by {off_s} s");
        }
    }
}

/// The same report, table A4.1.
#[test]
fn julian_days_are_the_published_ones() {
    for (text, julian_day) in [("1999-01-01T00:00Z", 2_451_179.5), ("1987-06-19T12:00Z", 2_446_966.0)] {
        let moment = Zone::named("UTC").expect("a zone").read(text).expect("a moment").moment;
        assert_eq!(moment.julian_day(), julian_day);
    }
}

#[test]
fn polar_days_and_nights_have_neither_rise_nor_set() {
    // Longyearbyen: midnight sun from late April to late August, polar night in winter.
    let sky = sky_of(&site("latitude_deg: 78.22, longitude_deg: 15.63", "Arctic/Longyearbyen", "blocks: []"));
    let (summer, winter) = (sky.day(day("2026-06-21")).expect("a day"), sky.day(day("2026-12-21")).expect("a day"));
    assert!(summer.sun.always_above() && !summer.sun.always_below() && summer.transits.len() == 1);
    assert!(winter.sun.always_below() && winter.twilights[0].always_below(), "{winter:?}");
    assert_eq!(summer.sun.spans_above(summer.bounds), [summer.bounds]);
    // Around the first midnight sun a day may have two risings, or none: never a rise without the set between.
    for number in 10..25 {
        let found = sky.day(Day::new(2026, 4, number).expect("a day")).expect("a day");
        let spans = found.sun.spans_above(found.bounds);
        assert!(spans.windows(2).all(|pair| pair[0].1 < pair[1].0), "{found:?}");
    }
    // The years that are computed, and no others.
    for good in ["1900-01-01", "2100-12-31"] {
        sky.day(day(good)).expect("in reach");
    }
    assert!(sky.day(day("2101-01-01")).expect_err("too late").to_string().contains("1900 to 2100"));
    assert!(sky.day(day("1899-12-31")).expect_err("too early").to_string().contains("1900 to 2100"));
}

/// The zones' own rules: Britain puts its clocks on at 1:00 on the last Sunday of March and back at 2:00 on that of October;
/// Lord Howe Island by half an hour; Nepal is 5 h 45 min ahead; Samoa had no 30 December 2011.
#[test]
fn clocks_that_change_are_handled_and_explained() {
    let london = Zone::named("Europe/London").expect("a zone");
    let gap = london.read("2026-03-29T01:30").expect("a moment");
    assert_eq!(london.rfc3339(gap.moment), "2026-03-29T02:30:00+01:00");
    assert!(gap.note.expect("a note").contains("01:30 does not exist on 2026-03-29"));
    let twice = london.read("2026-10-25T01:30").expect("a moment");
    assert_eq!(london.rfc3339(twice.moment), "2026-10-25T01:30:00+01:00");
    let note = twice.note.expect("a note");
    assert!(note.contains("comes twice") && note.contains("2026-10-25T01:30:00+00:00"), "{note}");
    let second = london.read("2026-10-25T01:30:00+00:00").expect("a moment");
    assert_eq!(second.moment.seconds_since(twice.moment), 3600.0);
    let hours = |zone: &Zone, text: &str| {
        let (start, end) = zone.bounds(day(text)).expect("a day");
        end.seconds_since(start) / 3600.0
    };
    assert_eq!(
        (hours(&london, "2026-03-29"), hours(&london, "2026-10-25"), hours(&london, "2026-07-01")),
        (23.0, 25.0, 24.0)
    );
    assert!(london.change_on(day("2026-03-29")).expect("a change").contains("put on by 1 h: 01:00 becomes 02:00"));
    assert!(london.change_on(day("2026-10-25")).expect("a change").contains("put back by 1 h: 02:00 becomes 01:00"));
    assert_eq!(london.change_on(day("2026-07-01")), None);
    let howe = Zone::named("Australia/Lord_Howe").expect("a zone");
    assert_eq!((hours(&howe, "2026-04-05"), hours(&howe, "2026-10-04")), (24.5, 23.5));
    assert!(howe.change_on(day("2026-10-04")).expect("a change").contains("by 30 min"));
    let nepal = Zone::named("Asia/Kathmandu").expect("a zone");
    assert_eq!(nepal.rfc3339(nepal.read("2026-06-21T00:00Z").expect("a moment").moment), "2026-06-21T05:45:00+05:45");
    assert_eq!(hours(&Zone::named("Pacific/Apia").expect("a zone"), "2011-12-30"), 0.0);
    for (bad, words) in [
        ("2026-02-30T10:00", "2026-02-30"),
        ("2026-06-21", "is no moment"),
        ("noon", "is no moment"),
        ("2026-06-21T25:00", "is no moment"),
        ("2150-06-21T12:00", "1900 to 2100"),
    ] {
        let error = london.read(bad).expect_err(bad).to_string();
        assert!(error.contains(words), "{bad}: {error}");
    }
    let error = Zone::named("Europe/Lundon").expect_err("no zone").to_string();
    assert!(error.contains("did you mean 'Europe/London'?"), "{error}");
}

const WALL: &str = "blocks: [
    (name: \"hall\", subject: true, at: (0, 5), shape: Box(width_m: 20, depth_m: 10, height_m: 12)),
    (name: \"screen\", at: (0, -10.5), shape: Box(width_m: 400, depth_m: 1, height_m: 8)),
]";

/// A long screen 10 m before the wall, 8 m high, with the sun square to both: its shadow ends 8 − 10·tan(altitude) up.
#[test]
fn the_share_of_a_front_that_is_lit_is_that_of_a_ruler() {
    let survey = site(YORK, "Europe/London", WALL);
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    let all = faces(&survey.model, subject(&survey));
    let names: Vec<&str> = all.iter().map(|face| face.name.as_str()).collect();
    assert_eq!(names, ["hall, 0°", "hall, 90°", "hall, 180°", "hall, 270°"]);
    for altitude_deg in [3.0_f64, 8.0, 20.0, 27.0, 33.0, 38.0, 39.5, 50.0, 75.0] {
        let lighting = all[2].lighting(&sun(180.0, altitude_deg), &shade);
        let dark_m = (8.0 - 10.0 * altitude_deg.to_radians().tan()).clamp(0.0, 12.0);
        let lit_share = 1.0 - dark_m / 12.0;
        assert!(
            (lighting.lit_share - lit_share).abs() < 0.03,
            "{altitude_deg}: {} for {lit_share}",
            lighting.lit_share
        );
        assert!((lighting.incidence.degrees() - altitude_deg).abs() < 1e-9);
        let light = match (lit_share, altitude_deg) {
            (share, _) if share < 0.5 => FaceLight::Shaded,
            (_, altitude_deg) if altitude_deg >= 60.0 => FaceLight::Grazing,
            _ => FaceLight::Lit,
        };
        assert_eq!(lighting.light, light, "{altitude_deg}");
    }
    assert_eq!(all[0].lighting(&sun(180.0, 30.0), &shade).light, FaceLight::Away);
    assert_eq!(all[2].lighting(&sun(180.0, -1.0), &shade).light, FaceLight::Night);
    // The subject's own shadow: 12 m at 45° is 12 m long, and the box's shadow is its footprint swept along it.
    let cast = cast_shadow(&survey.model, subject(&survey), &sun(225.0, 45.0)).expect("a shadow");
    assert!((cast.length_m - 12.0 / 45.0_f64.to_radians().tan()).abs() < 1e-9);
    assert!((cast.towards.compass_degrees() - 45.0).abs() < 1e-9);
    let reach = 12.0 * 0.5_f64.sqrt();
    let farthest = cast.outlines[0].iter().map(|(x, y)| x + y).fold(f64::NEG_INFINITY, f64::max);
    assert!((farthest - (10.0 + reach + 10.0 + reach)).abs() < 1e-6, "{farthest}");
    for altitude_deg in [5.0_f64, 20.0, 60.0] {
        let cast = cast_shadow(&survey.model, subject(&survey), &sun(100.0, altitude_deg)).expect("a shadow");
        assert!((cast.length_m * altitude_deg.to_radians().tan() - 12.0).abs() < 1e-9);
    }
    assert_eq!(cast_shadow(&survey.model, subject(&survey), &sun(100.0, -0.1)), None);
}

#[test]
fn terrain_casts_shadows_too() {
    // A ridge 20 m high, 100 m to the south, flat on this side up to 90 m: the sun must stand above it.
    // The first row is the northernmost.
    let ridge = "[20, 20, 20, 20, 20, 20, 20, 20, 20]";
    let rows = format!("rows: [{}, {ridge}, {ridge}]", vec!["[0, 0, 0, 0, 0, 0, 0, 0, 0]"; 20].join(", "));
    let more = format!(
        "terrain: Grid(south_west: (-4000, -110), spacing_m: (1000, 10), {rows}), blocks: [
            (name: \"post\", subject: true, at: (0, 0), shape: Box(width_m: 1, depth_m: 1, height_m: 2))]"
    );
    let survey = site(YORK, "Europe/London", &more);
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    let face = &faces(&survey.model, subject(&survey))[2];
    assert_eq!(face.name, "post, 180°");
    // From the wall, half a metre before the middle, the ridge's edge is 99.5 m away: 20 m over the foot and 18 over the head.
    assert_eq!(face.lighting(&sun(180.0, 9.0), &shade).lit_share, 0.0);
    assert_eq!(face.lighting(&sun(180.0, 12.0), &shade).lit_share, 1.0);
}

#[test]
fn stretches_of_light_end_where_the_light_changes() {
    let survey = site(YORK, "Europe/London", WALL);
    let sky = sky_of(&survey);
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    let face = &faces(&survey.model, subject(&survey))[2];
    let sun_day = sky.day(day("2026-03-20")).expect("a day");
    let spans = face.spans(&sky, &shade, sun_day.bounds, 60.0);
    assert_eq!((spans[0].from, spans[spans.len() - 1].to), sun_day.bounds);
    assert!(spans.windows(2).all(|pair| pair[0].to == pair[1].from && pair[0].light != pair[1].light));
    let kinds: BTreeSet<FaceLight> = spans.iter().map(|span| span.light).collect();
    assert!(kinds.contains(&FaceLight::Lit) && kinds.contains(&FaceLight::Night), "{spans:?}");
    for span in &spans {
        for inside in [span.from.plus_s(1.0), span.to.plus_s(-1.0)] {
            assert_eq!(face.lighting(&sky.sun(inside), &shade).light, span.light, "{span:?}");
        }
    }
    // The year's card says the same of that day.
    let year = LightYear::of(&sky, face, &shade, 2026, 60).expect("a year");
    assert_eq!(year.days.len(), 365);
    assert_eq!(year.days.iter().map(|day| day.lights.len()).sum::<usize>(), 8760);
    let march = year.days.iter().find(|found| found.day == day("2026-03-20")).expect("the day");
    for (hour, light) in march.lights.iter().enumerate() {
        assert_eq!(*light, face.lighting(&sky.sun(march.start.plus_s(3600.0 * hour as f64)), &shade).light);
    }
}

#[test]
fn golden_and_blue_hours_end_at_their_altitudes() {
    let sky = sky_of(&site(YORK, "Europe/London", "blocks: []"));
    let bounds = sky.day(day("2026-10-01")).expect("a day").bounds;
    let limits = LightLimits::default();
    let (golden, blue) = (sky.spans_between(bounds, limits.golden_deg), sky.spans_between(bounds, limits.blue_deg));
    assert_eq!((golden.len(), blue.len()), (2, 2));
    // In the morning blue comes before gold, and the one ends where the other begins.
    assert!(blue[0].1.seconds_since(golden[0].0).abs() < 0.01 && golden[1].1.seconds_since(blue[1].0).abs() < 0.01);
    for (moment, altitude_deg) in [(golden[0].0, -4.0), (golden[0].1, 6.0), (golden[1].0, 6.0), (blue[0].0, -6.0)] {
        // Parallax lowers the sun by up to 9″.
        assert!((sky.sun(moment).true_altitude.degrees() - altitude_deg).abs() < 0.003);
    }
}

/// The camera looks north from the south side: the sun in the south is behind it, in the west to the left.
#[test]
fn light_comes_from_the_side_that_the_sun_is_on() {
    let survey = site(YORK, "Europe/London", WALL);
    let standing = survey.stand(&stance((0.0, -5.0), 1.6, "24 mm", Aim::Level)).expect("a stance");
    let side = |azimuth_deg: f64| light_side(subject(&survey), &standing, &sun(azimuth_deg, 20.0).direction());
    assert_eq!(
        [180.0, 200.0, 270.0, 0.0, 340.0, 90.0].map(side),
        [LightSide::Front, LightSide::Front, LightSide::Left, LightSide::Back, LightSide::Back, LightSide::Right]
    );
    let seen =
        |azimuth_deg: f64, altitude_deg: f64| sun_in_picture(&standing, &sun(azimuth_deg, altitude_deg).direction());
    let ahead = seen(0.0, 2.0);
    assert!(ahead.in_frame && ahead.near_frame && ahead.flare == FlareRisk::InFrame);
    assert!((ahead.off_axis.degrees() - 2.0).abs() < 1e-9);
    assert_eq!(seen(180.0, 20.0).flare, FlareRisk::No);
    assert_eq!(seen(85.0, 0.0).flare, FlareRisk::Some);
    assert_eq!(seen(50.0, 0.0).flare, FlareRisk::Likely);
}

const TOWER: &str = "blocks: [
    (name: \"tower\", subject: true, at: (0, 0), heading_deg: 17, shape: Box(width_m: 3, depth_m: 3, height_m: 40)),
    (name: \"ball\", subject: true, at: (8, 2), lift_m: 22, shape: Dome(radius_m: 2, height_m: 3)),
]";

/// Stepping through the day second by second with rays to 720 points of the disc's rim and to its middle, through the sight
/// that the rest of the program looks with.
#[test]
fn disc_and_outline_meet_when_stepped_rays_say_so() {
    let survey = site(YORK, "Europe/London", TOWER);
    let sky = sky_of(&survey);
    let bounds = sky.day(day("2026-09-10")).expect("a day").bounds;
    // The sun stands in the south-west at about 30°.
    let eye = WorldPoint::new(22.0, 30.0, 1.6);
    let found = contacts(&survey.model, subject(&survey), &survey.sight, &eye, &sky, bounds);
    assert!(found.len() >= 4 && found.iter().any(|contact| contact.kind == ContactKind::Behind), "{found:?}");
    let cover = |moment: Moment| {
        let sun = sky.sun(moment);
        let (middle, radius) = (sun.direction(), sun.semi_diameter.radians());
        let aside = WorldVector::new(middle.y, -middle.x, 0.0).normalize();
        let above = aside.cross(&middle);
        let hidden = |index: u32| {
            let turn = std::f64::consts::TAU * f64::from(index) / 720.0;
            let limb = middle * radius.cos() + (aside * turn.cos() + above * turn.sin()) * radius.sin();
            !survey.sight.is_open_towards(&eye, &limb)
        };
        let count = (0..720).filter(|index| hidden(*index)).count();
        match count {
            0 => Cover::Clear,
            720 => Cover::Whole,
            _ => Cover::Partly,
        }
    };
    for contact in &found {
        let (before, after) = (cover(contact.at.plus_s(-1.0)), cover(contact.at.plus_s(1.0)));
        let expected = match contact.kind {
            ContactKind::Touches => (Cover::Clear, Cover::Partly),
            ContactKind::Behind => (Cover::Partly, Cover::Whole),
            ContactKind::Appears => (Cover::Whole, Cover::Partly),
            ContactKind::Leaves => (Cover::Partly, Cover::Clear),
        };
        assert_eq!((before, after), expected, "{contact:?}");
        assert!(contact.seen, "{contact:?}");
    }
    // Between the meetings nothing changes: stepped minute by minute while the sun is up.
    let (from, to) = sky.crossings(bounds, 0.5).spans_above(bounds)[0];
    let mut moment = from;
    while moment < to {
        if found.iter().all(|contact| contact.at.seconds_since(moment).abs() > 1.0) {
            let last = found.iter().rfind(|contact| contact.at < moment).map(|contact| contact.kind);
            let expected = match last {
                None | Some(ContactKind::Leaves) => Cover::Clear,
                Some(ContactKind::Touches | ContactKind::Appears) => Cover::Partly,
                Some(ContactKind::Behind) => Cover::Whole,
            };
            assert_eq!(cover(moment), expected, "{}", sky.zone().rfc3339(moment));
        }
        moment = moment.plus_s(60.0);
    }
}

#[test]
fn from_the_band_at_the_edge_the_disc_is_at_the_edge() {
    let survey = site(YORK, "Europe/London", TOWER);
    let low = sun(220.0, 30.0);
    let spots = edge_band(&survey.model, subject(&survey), &survey.sight, &low, 1.6);
    assert!(spots.len() > 20, "{}", spots.len());
    let cover = |(x, y): (f64, f64)| {
        let eye = WorldPoint::new(x, y, survey.model.surface_m((x, y)) + 1.6);
        SkinFromEye::of(&survey.model, subject(&survey), &eye).cover(&low.direction(), low.semi_diameter.radians())
    };
    for spot in &spots {
        assert_eq!(cover(spot.at), Cover::Partly, "{spot:?}");
        // To the right of whoever faces the sun, and just beyond.
        let aside = |reach_m: f64| (spot.at.0 + reach_m * low.azimuth.cos(), spot.at.1 - reach_m * low.azimuth.sin());
        for (sign, limit_m) in [(-1.0, spot.aside_m.0), (1.0, spot.aside_m.1)] {
            if limit_m > 0.02 {
                assert_eq!(cover(aside(sign * (limit_m - 0.01))), Cover::Partly, "{spot:?}");
            }
            if limit_m < 10.0 {
                assert_ne!(cover(aside(sign * (limit_m + 0.02))), Cover::Partly, "{spot:?}");
            }
        }
    }
    // Beside the tower's plumb edges the band is as wide as the disc is there: 2·tan(0.2667°) of the way along the ray.
    let beside = spots.iter().filter(|spot| (10.0..40.0).contains(&spot.at.0.hypot(spot.at.1)));
    let widths: Vec<(f64, f64)> =
        beside.map(|spot| (spot.at.0.hypot(spot.at.1), spot.aside_m.0 + spot.aside_m.1)).collect();
    assert!(widths.len() > 10, "{spots:?}");
    for (off_m, width_m) in widths {
        let disc_m = |off_m: f64| 2.0 * 0.2667_f64.to_radians().tan() * off_m / 30.0_f64.to_radians().cos();
        // The edges stand up to 2.2 m before or behind the tower's axis.
        assert!((disc_m(off_m - 2.3) - 0.03..disc_m(off_m + 2.3) + 0.03).contains(&width_m), "{width_m} at {off_m}");
    }
}

#[test]
fn the_next_light_asked_for_is_as_asked_for_and_the_first() {
    let survey = site(YORK, "Europe/London", WALL);
    let sky = sky_of(&survey);
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    let all = faces(&survey.model, subject(&survey));
    let seen = RequiredFrom { sky: &sky, shade: &shade, face: Some(&all[2]), stance: None };
    let range = (Angle::from_degrees(60.0), Angle::from_degrees(80.0));
    let mut weekdays = [false; 7];
    weekdays[6] = true;
    let required =
        LightRequirement { incidence: Some(range), before_minute: Some(720), weekdays, ..LightRequirement::default() };
    // 1 June 2026 is a Monday; the next Sunday is the 7th.
    let (from, to) = required.next(&seen, at(&sky, "2026-06-01T00:00")).expect("in reach").expect("there is one");
    assert_eq!(sky.zone().clock(from).day, day("2026-06-07"));
    assert!(from < to && sky.zone().clock(to).hour < 12);
    let holds = |moment: Moment| {
        let lighting = all[2].lighting(&sky.sun(moment), &shade);
        (60.0..=80.0).contains(&lighting.incidence.degrees()) && lighting.light.has_sun()
    };
    assert!(holds(from) && holds(to) && !holds(from.plus_s(-60.0)));
    // Nothing turned to the north has sun at noon in winter.
    let north = RequiredFrom { face: Some(&all[0]), ..seen };
    let never =
        LightRequirement { lit: true, from_minute: Some(660), before_minute: Some(780), ..LightRequirement::default() };
    assert_eq!(never.next(&north, at(&sky, "2026-01-01T00:00")).expect("in reach"), None);
}

#[test]
fn a_tide_table_is_checked_and_floods_the_ground_it_covers() {
    let zone = Zone::named("Europe/London").expect("a zone");
    let text =
        "time,height_m\n2026-06-21T00:00,-1.0\n2026-06-21T06:00,1.0\n2026-06-21T12:00,-1.0\n2026-06-21T18:00,1.0\n";
    let table = TideTable::read(text, &zone).expect("a table");
    let at = |text: &str| zone.read(text).expect("a moment").moment;
    // Half a cosine: a third of the way in time is a quarter of the way in height.
    for (time, level_m) in
        [("2026-06-21T00:00", -1.0), ("2026-06-21T02:00", -0.5), ("2026-06-21T03:00", 0.0), ("2026-06-21T18:00", 1.0)]
    {
        assert!((table.level_m(at(time)).expect("known") - level_m).abs() < 1e-9, "{time}");
    }
    assert_eq!((table.level_m(at("2026-06-20T23:59")), table.level_m(at("2026-06-21T18:01"))), (None, None));
    let dry = table.spans_below(0.0, table.reach());
    assert_eq!(dry.len(), 2, "{dry:?}");
    assert!(dry[0].1.seconds_since(at("2026-06-21T03:00")).abs() <= 60.0);
    for (bad, words) in [
        ("2026-06-21T06:00,1\n2026-06-21T03:00,2", "line 2: 2026-06-21T03:00 is not after the line before"),
        ("2026-06-21T00:00,1\n2026-06-21T12:00,2", "12.0 h after the line before"),
        ("2026-06-21T00:00,high\n2026-06-21T06:00,2", "'high' is no height"),
        ("2026-02-30T00:00,1\n2026-06-21T06:00,2", "line 1: '2026-02-30' is no day"),
        ("2026-06-21T00:00;1", "has 1 columns"),
        ("", "fewer than two"),
    ] {
        let error = TideTable::read(bad, &zone).expect_err(bad).to_string();
        assert!(error.contains(words), "{bad}: {error}");
    }
    // A hollow in the ground between two places: at high water one does not walk through it.
    let more = "terrain: Grid(south_west: (-60, -60), spacing_m: (10, 60), rows: [
        [1, 1, 1, 1, 1, 0.4, 0, 0.4, 1, 1, 1, 1, 1], [1, 1, 1, 1, 1, 0.4, 0, 0.4, 1, 1, 1, 1, 1],
        [1, 1, 1, 1, 1, 0.4, 0, 0.4, 1, 1, 1, 1, 1]]), blocks: []";
    let survey = site(YORK, "Europe/London", more);
    let walked = |time: &str| {
        let site = table.site_at(&survey.model.site, at(time)).expect("known");
        assert_eq!(is_flooded(&site, (0.0, 0.0), table.level_m(at(time)).expect("known")), time.contains("T05"));
        let model = Model::build(site);
        let sight = plumbsight::sight::Sight::over(&model);
        let feet = Feet::of((-40.0, 0.0), None, &model.footing((-40.0, 0.0), None).expect("ground"));
        let reach = Reach::from(&model, &sight, &feet, (0.0, 1.0), 100.0);
        reach.places().any(|place| place.at.0 > 30.0)
    };
    assert!(walked("2026-06-21T00:00"), "at low water the hollow is dry");
    assert!(!walked("2026-06-21T05:59"), "just before high water it is not");
}

fn demo(file: &str) -> Survey {
    let scene = SCENES.iter().find(|scene| scene.name == file).expect("a demo site");
    surveyed(scene.text, scene.name)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Agenda {
    version: String,
    events: Vec<Event>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Event {
    uid: String,
    stamp: String,
    summary: String,
    description: String,
    start: String,
    end: String,
    geo: Option<(f64, f64)>,
}

#[test]
fn a_day_of_stances_holds_together_and_is_read_by_calendars() {
    let survey = demo("saltings");
    let sky = sky_of(&survey);
    let stances = survey.model.site.stances.clone();
    let settings = DaySettings { wanted: WantedLight::Daylight, ..DaySettings::default() };
    let plan = plan_day(&survey, &sky, day("2026-06-21"), &stances, &settings, None).expect("a plan");
    assert_eq!(plan.visits.len(), stances.len());
    assert!(plan.exact && plan.missed == 0, "{plan:?}");
    for visit in &plan.visits {
        assert!(visit.begins.seconds_since(visit.arrives) >= settings.setup_s - 0.01);
        assert!((visit.leaves.seconds_since(visit.begins) - settings.work_s).abs() < 0.01);
        assert!(visit.windows.iter().any(|(from, to)| *from <= visit.begins && visit.leaves <= *to));
    }
    for pair in plan.visits.windows(2) {
        let leg = pair[1].leg.as_ref().expect("a way");
        let straight_m = (pair[0].stance.at.0 - pair[1].stance.at.0).hypot(pair[0].stance.at.1 - pair[1].stance.at.1);
        assert!(leg.length_m >= straight_m - 0.02, "{leg:?} for {straight_m}");
        assert!((pair[1].arrives.seconds_since(pair[0].leaves) - leg.length_m / settings.pace).abs() < 0.01);
    }
    assert!(
        (plan.walked_m
            - plan.visits.iter().filter_map(|visit| visit.leg.as_ref()).map(|leg| leg.length_m).sum::<f64>())
        .abs()
            < 1e-6
    );
    let made = at(&sky, "2026-06-01T08:00Z");
    let plane = plane_of(&survey.model.site).expect("an anchor");
    let text = calendar(&plan, &plane, made);
    assert!(text.lines().all(|line| line.len() <= 75) && text.matches("\r\n").count() == text.lines().count());
    let agenda: Agenda = ask("tests/oracles/agenda.py", &serde_json::json!({ "text": text }));
    assert_eq!((agenda.version.as_str(), agenda.events.len()), ("2.0", plan.visits.len()));
    let ids: BTreeSet<&str> = agenda.events.iter().map(|event| event.uid.as_str()).collect();
    assert_eq!(ids.len(), agenda.events.len());
    for (event, visit) in agenda.events.iter().zip(&plan.visits) {
        assert_eq!(event.summary, format!("{}: {}", plan.site, visit.stance.name));
        assert!(event.description.contains(&visit.stance.lens), "{}", event.description);
        assert!(event.stamp.starts_with("2026-06-01T08:00:00"));
        for (text, moment) in [(&event.start, visit.arrives), (&event.end, visit.leaves)] {
            assert!(at(&sky, text).seconds_since(moment).abs() <= 1.0, "{text}");
        }
        let place = plumbsight::place::Geographic::from_degrees(
            event.geo.expect("a place").0,
            event.geo.expect("a place").1,
            plane.anchor().height_m(),
        );
        let (x, y) = plane.plan_from_geographic(&place.expect("a place"));
        assert!((x - visit.stance.at.0).hypot(y - visit.stance.at.1) < 0.2);
    }
    let gpx = route(&plan, &plane, sky.zone());
    let read = gpx::read(gpx.as_bytes()).expect("GPX");
    let names: Vec<String> = read.routes[0].points.iter().filter_map(|point| point.name.clone()).collect();
    assert_eq!(names, plan.visits.iter().map(|visit| visit.stance.name.clone()).collect::<Vec<_>>());
}

#[test]
fn light_at_the_command_line_is_that_of_the_core() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = format!(
        "(format: 1, name: \"golden\", anchor: ({GOLDEN}), time_zone: \"America/Denver\", front: Bearing(180), blocks: [
            (name: \"hall\", subject: true, at: (0, 0), shape: Box(width_m: 20, depth_m: 10, height_m: 12))],
            stances: [(name: \"yard\", at: (0, -40), lens: \"24-70 mm\"), (name: \"lane\", at: (30, -40), lens: \"24-70 mm\")])"
    );
    std::fs::write(folder.path().join("golden.site.ron"), text).expect("written");
    let light = |more: &[&str]| {
        let mut arguments = vec!["light", "golden.site.ron"];
        arguments.extend(more);
        run(folder.path(), &arguments)
    };
    let json = light(&[
        "--moment",
        "2003-10-17T12:30:30-07:00",
        "--date",
        "2003-10-17",
        "--pressure",
        "820",
        "--temperature",
        "11",
        "--json",
    ])
    .json();
    let figure = |key: &str| json[key].as_f64().expect(key);
    assert!((figure("azimuth_deg") - 194.34024).abs() < 3e-4);
    assert!((figure("altitude_deg") - (90.0 - 50.11162)).abs() < 3e-4);
    // The wall looks south: cos i = cos(altitude)·cos(azimuth − 180°).
    let by_hand =
        (figure("altitude_deg").to_radians().cos() * (figure("azimuth_deg") - 180.0).to_radians().cos()).acos();
    let south = json["incidence_deg"]["hall, 180°"].as_f64().expect("the south face");
    assert!((south - by_hand.to_degrees()).abs() < 1e-4);
    assert_eq!(json["faces"][0]["front"], true);
    assert!(json["rise"].as_str().expect("a rise").starts_with("2003-10-17T07:12:4"), "{}", json["rise"]);
    assert!(json["transit"].as_str().expect("a transit").starts_with("2003-10-17T12:46:0"), "{}", json["transit"]);
    assert!(json["civil_dawn"].as_str().expect("dawn") < json["rise"].as_str().expect("a rise"));
    assert!(
        (json["shadow"]["length_m"].as_f64().expect("a shadow") - 12.0 / figure("altitude_deg").to_radians().tan())
            .abs()
            < 1e-3
    );

    for more in [
        &["--date", "2026-06-21", "--stance", "yard"][..],
        &["--moment", "2026-06-21T18:00", "--stance", "yard", "--edge", "1.6"],
        &["--date", "2026-06-21", "--year", "--step", "60"],
        &["--date", "2026-06-21", "--next", "grazing, before 12:00, sunday"],
    ] {
        let mut told = command(folder.path());
        told.env("COLUMNS", "80").arg("light").arg("golden.site.ron").args(more);
        let output = told.output().expect("the program starts");
        let text = String::from_utf8(output.stdout).expect("UTF-8");
        assert!(output.status.success() && !text.is_empty(), "{more:?}: {}", String::from_utf8_lossy(&output.stderr));
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{more:?}:\n{text}");
    }
    let day = run(folder.path(), &["day", "golden.site.ron", "--date", "2026-06-21", "--out", "day.ics"]).good();
    assert!(day.contains("No other order is better.") && day.contains("day.ics is written."), "{day}");
    let json =
        run(folder.path(), &["day", "golden.site.ron", "--stances", "lane,yard", "--date", "2026-06-21", "--json"])
            .json();
    assert_eq!((json["visits"].as_array().map(Vec::len), json["missed"].as_u64()), (Some(2), Some(0)));
    run(folder.path(), &["day", "golden.site.ron", "--date", "2026-06-21", "--out", "day.ics"]).refused(2, "day.ics");
}

#[test]
fn a_picture_at_high_water_is_repeated_from_its_record_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("tidal.site.ron"), SCENES[0].text).expect("written");
    let tide = "time,height_m\n2026-06-21T06:00,-2\n2026-06-21T12:00,3\n2026-06-21T18:00,-2\n";
    std::fs::write(folder.path().join("tide.csv"), tide).expect("written");
    let at =
        |time: &'static str| ["tidal.site.ron", "--stance", "yard, standing", "--moment", time, "--tide", "tide.csv"];
    let measured = |time| run(folder.path(), &[&["measure"][..], &at(time), &["--json"]].concat()).json();
    let is_warned = |record: &serde_json::Value| {
        let cautions = record["cautions"].as_array().expect("cautions");
        cautions.iter().any(|caution| caution["kind"] == "water")
    };
    let (high, low) = (measured("2026-06-21T12:00"), measured("2026-06-21T06:00"));
    assert_eq!(
        (high["site"]["water_level_m"].as_f64(), low["site"]["water_level_m"].as_f64()),
        (Some(3.0), Some(-2.0))
    );
    assert!(is_warned(&high) && !is_warned(&low), "{}", high["cautions"]);
    let still = ["still", "-o", "high.png", "--width", "90", "--samples", "2"];
    run(folder.path(), &[&still[..], &at("2026-06-21T12:00")].concat()).good();
    let told = run(folder.path(), &["repeat", "high.record.ron", "-o", "again.png"]).good();
    assert!(told.contains("All figures are as recorded.") && told.contains("the same as those of high.png"), "{told}");
    run(folder.path(), &[&["measure"][..], &at("2026-06-22T12:00")].concat()).refused(2, "the tide table reaches from");
    run(folder.path(), &["measure", "tidal.site.ron", "--tide", "tide.csv"]).refused(2, "--moment");
}

#[test]
fn nonsense_about_light_is_refused_with_its_place_and_mend() {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, anchor: &str, zone: &str| {
        let text = format!(
            "(format: 1, name: \"t\", {anchor} time_zone: \"{zone}\", front: Any, blocks: [
            (name: \"hall\", subject: true, at: (0, 0), shape: Box(width_m: 20, depth_m: 10, height_m: 12))],
            stances: [(name: \"yard\", at: (0, -40), lens: \"24-70 mm\")])"
        );
        std::fs::write(folder.path().join(name), text).expect("written");
    };
    write("nowhere.ron", "", "UTC");
    write("good.ron", "anchor: (latitude_deg: 53.7, longitude_deg: -0.3),", "Europe/London");
    write("zone.ron", "anchor: (latitude_deg: 53.7, longitude_deg: -0.3),", "Europe/Lundon");
    write("pole.ron", "anchor: (latitude_deg: 91, longitude_deg: -0.3),", "UTC");
    std::fs::write(folder.path().join("tide.csv"), "2026-06-21T06:00,1\n2026-06-21T03:00,2\n").expect("written");
    let date = ["--date", "2026-06-21"];
    for (site, more, words) in [
        ("nowhere.ron", &date[..], "nowhere.ron: site 't' has no anchor"),
        ("zone.ron", &date, "did you mean 'Europe/London'?"),
        ("pole.ron", &date, "latitude_deg is 91"),
        ("good.ron", &["--date", "2026-02-30"], "'2026-02-30' is no day"),
        ("good.ron", &["--date", "1850-01-01"], "1900 to 2100"),
        ("good.ron", &["--moment", "noon"], "--moment: 'noon' is no moment"),
        ("good.ron", &["--stance", "roof"], "no stance is called 'roof'"),
        ("good.ron", &["--next", "bright"], "'bright' is no light that can be asked for"),
        ("good.ron", &["--date", "2026-06-21", "--next", "edge"], "add --stance NAME"),
        ("good.ron", &["--pressure", "20"], "the pressure in hPa is 20"),
        ("good.ron", &["--golden", "6,-4"], "--golden is 6,-4"),
        (
            "good.ron",
            &["--date", "2026-06-21", "--tide", "tide.csv"],
            "tide.csv: line 2: 2026-06-21T03:00 is not after",
        ),
    ] {
        let mut arguments = vec!["light", site];
        arguments.extend(more);
        run(folder.path(), &arguments).refused(2, words);
    }
    run(folder.path(), &["day", "nowhere.ron", "--date", "2026-06-21"]).refused(2, "has no anchor");
    run(folder.path(), &["day", "good.ron", "--date", "2026-06-21", "--out", "day.doc"]).refused(2, ".ics or .gpx");
    run(folder.path(), &["day", "good.ron", "--date", "2026-06-21", "--start", "9 am"]).refused(2, "--start is '9 am'");
    // Everything else works where the site is nowhere, or its zone is not known.
    for site in ["nowhere.ron", "zone.ron"] {
        assert!(run(folder.path(), &["measure", site]).good().contains("yard"));
    }
    // What the clocks leave out is said.
    let told = run(folder.path(), &["light", "good.ron", "--moment", "2026-03-29T01:30"]).good();
    assert!(told.contains("01:30 does not exist on 2026-03-29"), "{told}");
}
