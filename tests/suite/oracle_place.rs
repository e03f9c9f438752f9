//! Does PROJ put the same places at the same coordinates?
//!
//! `tests/oracles/place.py` draws places inside each reference system's published area of use and asks pyproj; the places of
//! the tangent planes are drawn here. Both from fixed seeds.

use plumbsight::place::{Crs, EcefPoint, Geographic, TangentPlane, distance_m};
use plumbsight::pose::WorldPoint;
use serde::{Deserialize, Serialize};

use crate::support::python::ask;
use crate::support::random::Random;
use crate::support::tell;

const SCRIPT: &str = "tests/oracles/place.py";

#[derive(Serialize)]
struct System {
    code: u16,
    definition: String,
}

#[derive(Serialize)]
struct Question {
    systems: Vec<System>,
    per_system: usize,
    anchors: Vec<[f64; 3]>,
    places: Vec<[f64; 3]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Answer {
    systems: Vec<SystemAnswer>,
    anchors: Vec<Vec<AnchorAnswer>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SystemAnswer {
    code: u16,
    places: Vec<PlaceAnswer>,
    why_not: Option<String>,
}

/// Places are latitude and longitude in degrees.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PlaceAnswer {
    place: (f64, f64),
    on_map: (f64, f64),
    back: (f64, f64),
    map_north_deg: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AnchorAnswer {
    geocentric: [f64; 3],
    topocentric: [f64; 3],
}

fn place((latitude_deg, longitude_deg): (f64, f64)) -> Geographic {
    Geographic::from_degrees(latitude_deg, longitude_deg, 0.0).expect("the oracle gives places")
}

/// What is the largest disagreement, and where is it?
#[derive(Default)]
struct Worst(f64, String);

impl Worst {
    fn see(&mut self, difference: f64, at: impl FnOnce() -> String) {
        if difference.is_nan() || difference > self.0 {
            *self = Self(if difference.is_nan() { f64::INFINITY } else { difference }, at());
        }
    }
}

/// Every UTM zone and every fourth other system.
#[test]
fn map_projections_agree_with_proj() {
    let is_utm = |code: u16| (32601..=32660).contains(&code) || (32701..=32760).contains(&code);
    let systems: Vec<System> = (1..=u16::MAX)
        .filter(|code| code % 4 == 0 || is_utm(*code))
        .filter_map(|code| {
            let crs = Crs::from_epsg(code).ok()?;
            Some(System { code, definition: crs.definition().into() })
        })
        .collect();
    assert!(systems.len() > 1400, "{} systems", systems.len());
    assert_eq!(systems.iter().filter(|system| is_utm(system.code)).count(), 120);
    let asked = systems.len();
    let question = Question { systems, per_system: 4, anchors: Vec::new(), places: Vec::new() };
    let answer: Answer = ask(SCRIPT, &question);

    let (mut onto_map, mut from_map, mut north) = (Worst::default(), Worst::default(), Worst::default());
    let (mut compared, mut own_way) = (0, 0);
    for system in &answer.systems {
        if let Some(why) = &system.why_not {
            assert!(!is_utm(system.code), "EPSG:{}: {why}", system.code);
            continue;
        }
        let crs = Crs::from_epsg(system.code).expect("it was known a moment ago");
        // Where a definition names an old datum, PROJ chooses among shifts of its own, place by place.
        let named_datum = crs.definition().contains("+datum=") && !crs.definition().contains("+datum=WGS84");
        // Degrees of either axis are weighed as metres of latitude.
        let unit_m = if crs.is_geographic() { 111_000.0 } else { crs.unit_m() };
        for answer in &system.places {
            let told = || format!("{crs} {} at {:?}", crs.definition(), answer.place);
            let on_map = crs.map_from_geographic(&place(answer.place)).unwrap_or_else(|| panic!("{}", told()));
            let back = crs.geographic_from_map(answer.on_map, 0.0).unwrap_or_else(|| panic!("{}", told()));
            let difference_m = (on_map.0 - answer.on_map.0).hypot(on_map.1 - answer.on_map.1) * unit_m;
            let convergence = crs.convergence(answer.on_map).unwrap_or_else(|| panic!("{}", told()));
            let turn_deg = (convergence.degrees() - answer.map_north_deg + 180.0).rem_euclid(360.0) - 180.0;
            if named_datum {
                own_way += 1;
                assert!(difference_m < 300.0, "{difference_m} m: {}", told());
            } else {
                compared += 1;
                onto_map.see(difference_m, told);
                from_map.see(distance_m(&back, &place(answer.back)), told);
                north.see(turn_deg.abs(), told);
            }
        }
    }
    tell(&format!(
        "map projections: {asked} systems, {compared} places; onto the map within {:.1e} m ({}), from it within {:.1e} m ({}), \
         north within {:.1e}° ({}); {own_way} places in old datums that PROJ shifts its own way",
        onto_map.0, onto_map.1, from_map.0, from_map.1, north.0, north.1
    ));
    assert!(compared > 4 * 1300, "{compared} places were compared");
    assert!(own_way < compared / 20);
    assert!(onto_map.0 < 1e-6, "{} m: {}", onto_map.0, onto_map.1);
    // Equal-area projections are undone by a series of a few terms here.
    assert!(from_map.0 < 3e-3, "{} m: {}", from_map.0, from_map.1);
    assert!(north.0 < 1e-6, "{}°: {}", north.0, north.1);
}

#[test]
fn tangent_planes_agree_with_proj() {
    let mut random = Random::new(577);
    let mut draw = |reach_deg: f64, near: [f64; 3]| {
        let latitude_deg = (near[0] + random.between(-reach_deg, reach_deg)).clamp(-90.0, 90.0);
        [latitude_deg, near[1] + random.between(-reach_deg, reach_deg), random.between(-400.0, 9000.0)]
    };
    let anchors: Vec<[f64; 3]> = (0..40).map(|_| draw(89.9, [0.0, 0.0, 0.0])).chain([[90.0, 0.0, 0.0]]).collect();
    // Near each anchor and anywhere.
    let places: Vec<[f64; 3]> = anchors.iter().flat_map(|&anchor| [draw(0.05, anchor), draw(80.0, [0.0; 3])]).collect();
    let question = Question { systems: Vec::new(), per_system: 0, anchors: anchors.clone(), places: places.clone() };
    let answer: Answer = ask(SCRIPT, &question);
    assert_eq!(answer.anchors.len(), anchors.len());
    let mut worst_m = 0.0_f64;
    for (anchor, answers) in anchors.iter().zip(&answer.anchors) {
        assert_eq!(answers.len(), places.len());
        let plane = TangentPlane::new(Geographic::from_degrees(anchor[0], anchor[1], anchor[2]).expect("a place"));
        for (place, answer) in places.iter().zip(answers) {
            let place = Geographic::from_degrees(place[0], place[1], place[2]).expect("a place");
            let topocentric = WorldPoint::from(answer.topocentric);
            let misses_m = [
                (place.ecef() - EcefPoint::from(answer.geocentric)).norm(),
                (plane.topocentric_from_geographic(&place) - topocentric).norm(),
                distance_m(&plane.geographic_from_topocentric(&topocentric).expect("a place"), &place),
            ];
            for miss_m in misses_m {
                assert!(miss_m < 1e-6, "{miss_m} m: {place:?} from {anchor:?}");
                worst_m = worst_m.max(miss_m);
            }
        }
    }
    tell(&format!("tangent planes: {} × {} places within {worst_m:.1e} m", anchors.len(), places.len()));
}
