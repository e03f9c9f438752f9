//! Where is the standpoint: on the Earth, as exactly as the site says where it is, and from what stands about?

use crate::angle::Angle;
use crate::handover::told::Teller;
use crate::place::{Crs, Geographic};
use crate::pose::WorldPoint;
use crate::site::{Anchor, Finish, Solid, Support};
use crate::stance::Standing;

/// Blocks farther than this are no help to find a stance.
const FARTHEST_BLOCK_M: f64 = 120.0;
/// Nearer than this one holds no tape to a block; it may carry the feet.
const NEAREST_BLOCK_M: f64 = 2.0;
/// How many blocks a stance is found by.
const MOST_BLOCKS: usize = 2;
/// They stand at least so far apart as seen from it (common practice, no source).
const BLOCKS_APART: Angle = Angle::from_radians(0.5);
/// A degree of latitude, within 0.6 % of it everywhere on the WGS 84 ellipsoid.
const DEGREE_M: f64 = 111_200.0;
/// Metres of a map projection are told where the site is known so well.
const FINE_M: f64 = 20.0;
/// No more decimals of a degree than this: a tenth of a metre.
const MOST_DECIMALS: usize = 6;

/// How many decimals of a degree a site's place is given with.
fn decimals_of(anchor: &Anchor) -> usize {
    let decimals = |degrees: f64| {
        let written = format!("{degrees}");
        written.split_once('.').map_or(0, |(_, after)| after.len())
    };
    decimals(anchor.latitude_deg).max(decimals(anchor.longitude_deg)).min(MOST_DECIMALS)
}

/// Where a place is on the Earth, as exactly as the site's own place is given: half a step of its last decimal.
pub(super) fn on_earth(teller: &Teller<'_>, place: &Geographic, anchor: &Anchor) -> Vec<String> {
    let digits = decimals_of(anchor);
    let within_m = 0.5 * 10_f64.powi(-(digits as i32)) * DEGREE_M;
    let (latitude_deg, longitude_deg) = (place.latitude().degrees(), place.longitude().degrees());
    let sides = (if latitude_deg < 0.0 { "S" } else { "N" }, if longitude_deg < 0.0 { "W" } else { "E" });
    // As maps take it: with a point in every language.
    let written = format!("{:.digits$} {}, {:.digits$} {}", latitude_deg.abs(), sides.0, longitude_deg.abs(), sides.1);
    let mut lines = vec![written];
    if within_m <= FINE_M
        && let Some((zone, (east_m, north_m))) = utm(place)
    {
        lines.push(format!("UTM {zone} {east_m:.0} E {north_m:.0} N"));
    }
    let within = if within_m < 1000.0 {
        teller.roundly(two_figures(within_m.max(1.0)))
    } else {
        teller.words.figures(&format!("{:.0} km", within_m / 1000.0))
    };
    lines.push(teller.words.on_map_within(&within));
    lines
}

/// The zone and the metres east and north of a place in UTM, between 80° south and 84° north.
///
/// # Source
/// The zones are 6° wide, numbered from 180° west; EPSG codes 32601 to 32660 north of the equator, 32701 to 32760 south
/// of it (EPSG dataset). The wider zones about Norway and Svalbard are left out.
fn utm(place: &Geographic) -> Option<(String, (f64, f64))> {
    let (latitude_deg, longitude_deg) = (place.latitude().degrees(), place.longitude().degrees());
    if !(-80.0..=84.0).contains(&latitude_deg) {
        return None;
    }
    let zone = (((longitude_deg + 180.0) / 6.0).floor() as i64).rem_euclid(60) + 1;
    let (first, side) = if latitude_deg < 0.0 { (32_700, "S") } else { (32_600, "N") };
    let code = u16::try_from(first + zone).ok()?;
    let map = Crs::from_epsg(code).ok()?.map_from_geographic(place)?;
    Some((format!("{zone} {side}"), map))
}

/// A length with no more than two figures that count.
fn two_figures(length_m: f64) -> f64 {
    let step = 10_f64.powf(length_m.log10().floor() - 1.0).max(1.0);
    (length_m / step).round() * step
}

/// What the feet stand on, and how high that is.
pub(super) fn footing(teller: &Teller<'_>, standing: &Standing) -> String {
    let words = teller.words;
    match &standing.footing {
        Some(footing) => {
            let height = teller.length(footing.height_m, 2);
            match (footing.support, &footing.name) {
                (Support::Water, _) => words.feet_on_water(&height),
                (_, Some(name)) => words.feet_on(&words.the(name), &height),
                _ => words.feet_on_ground(&height),
            }
        }
        None => words.feet_on_nothing(&teller.length(standing.pose.eye.z, 2)),
    }
}

/// A block that a stance is found by.
pub(super) struct Mark {
    pub(super) block: usize,
    pub(super) distance_m: f64,
    pub(super) bearing: Angle,
    /// Its edge that a tape is held to.
    pub(super) at: (f64, f64),
    /// Which edge that is.
    pub(super) which: String,
}

/// The nearest named blocks in other directions than one another; the subject only where nothing else stands about.
pub(super) fn marks(teller: &Teller<'_>, eye: &WorldPoint) -> Vec<Mark> {
    let model = &teller.survey.model;
    let mut marks: Vec<(bool, Mark)> = Vec::new();
    for (index, (block, solid)) in model.site.blocks.iter().zip(&model.solids).enumerate() {
        let Some(mark) = nearest_edge(teller, index, solid, eye) else { continue };
        let helpful = block.finish != Finish::Leaf && block.is_named() && mark.distance_m > NEAREST_BLOCK_M;
        if helpful && (block.subject || mark.distance_m < FARTHEST_BLOCK_M) {
            marks.push((block.subject, mark));
        }
    }
    marks.sort_by(|(a_subject, a), (b_subject, b)| {
        a_subject.cmp(b_subject).then(a.distance_m.total_cmp(&b.distance_m)).then(a.block.cmp(&b.block))
    });
    let mut kept: Vec<Mark> = Vec::new();
    for (_, mark) in marks {
        let apart = kept.iter().all(|known| (known.bearing - mark.bearing).wrapped().abs() > BLOCKS_APART);
        if apart && kept.len() < MOST_BLOCKS {
            kept.push(mark);
        }
    }
    kept
}

/// The edge of a block that a tape is held to: the near face of a round one, else the nearest corner, named by the side of the
/// block that it is on. Distance in plan and true bearing.
fn nearest_edge(teller: &Teller<'_>, block: usize, solid: &Solid, eye: &WorldPoint) -> Option<Mark> {
    let words = teller.words;
    if let Some(round) = solid.rounds.first() {
        let (east, north) = (round.axis.0 - eye.x, round.axis.1 - eye.y);
        let whole_m = east.hypot(north);
        let distance_m = whole_m - round.base_radius_m;
        let share = distance_m / whole_m.max(1e-9);
        let at = (eye.x + share * east, eye.y + share * north);
        let bearing = Angle::bearing_of(east, north);
        return (distance_m > 0.0).then(|| Mark { block, distance_m, bearing, at, which: words.near_face() });
    }
    let (low, high) = solid.bounds();
    let middle = nalgebra::center(&low, &high);
    let corners = solid.edges.iter().filter(|edge| edge.plumb).map(|edge| solid.vertices[edge.ends[0] as usize]);
    let corner = corners.min_by(|a, b| {
        let distance = |corner: &WorldPoint| (corner - eye).xy().norm();
        distance(a).total_cmp(&distance(b))
    })?;
    let (east, north) = (corner.x - eye.x, corner.y - eye.y);
    let side = Angle::bearing_of(corner.x - middle.x, corner.y - middle.y).compass_degrees();
    let which = words.corner(&words.direction((side / 45.0).round() as usize));
    Some(Mark {
        block,
        distance_m: east.hypot(north),
        bearing: Angle::bearing_of(east, north),
        at: (corner.x, corner.y),
        which,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_told_as_exactly_as_the_site_gives_its_own() {
        let anchor =
            |latitude_deg, longitude_deg| Anchor { latitude_deg, longitude_deg, height_m: 0.0, vertical_datum: None };
        for (anchor, decimals) in [
            (anchor(50.0, 8.0), 0),
            (anchor(53.7, -0.31), 2),
            (anchor(53.699_21, -0.310_2), 5),
            (anchor(53.699_213_456_7, 0.0), 6),
        ] {
            assert_eq!(decimals_of(&anchor), decimals, "{anchor:?}");
        }
        // A degree of the meridian is 110.574 km at the equator and 111.694 km at the poles (WGS 84; NIMA TR8350.2 gives the
        // ellipsoid): half the fifth decimal is 0.55 to 0.56 m.
        assert!((0.5e-5 * DEGREE_M - 0.555).abs() < 0.004);
    }
}
