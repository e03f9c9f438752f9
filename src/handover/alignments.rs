//! How does one know, on site and without instruments, that one stands in the right place?
//!
//! By what lines up: two upright edges at different distances are seen in one line from one line of places only. A step
//! to the right moves the nearer edge to the left against the farther one, by 1/near − 1/far radians a metre; the larger
//! that is, the more exactly the pair tells where one stands. Two pairs in different directions tell the place itself.

use crate::angle::Angle;
use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Finish, Support};
use crate::stance::Standing;
use crate::survey::Survey;
use crate::units::Units;
use crate::verticals::{LineKind, StandingLine, standing_lines};
use crate::wording;

/// A pair counts as lined up from here if a shorter step would make it so.
const NEAR_M: f64 = 1.5;
/// Wider apart than this (2°) a pair is not seen as one line.
const WIDEST: Angle = Angle::from_radians(0.035);
/// Edges nearer than this move with every sway of the head.
const NEAREST_M: f64 = 3.0;
/// A pair must tell a step to the side of one metre by at least so much.
const LEAST_A_METRE: Angle = Angle::from_radians(0.006);
/// Two pairs tell a place if their directions are at least so far apart.
const CROSSING: Angle = Angle::from_radians(0.35);
/// No more blocks than this, the nearest ones, are looked at.
const MOST_BLOCKS: usize = 150;
/// The most pairs that are listed.
const MOST: usize = 3;
/// How far off its own solid a point of an edge is taken before asking whether it can be seen.
const NUDGE_M: f64 = 4e-3;

/// An upright edge that can be seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Landmark {
    /// Its block.
    pub block: usize,
    /// Which of the block's edges, such as "left edge".
    pub which: &'static str,
    /// Where it stands.
    pub line: StandingLine,
    /// Its true bearing.
    pub bearing: Angle,
    /// Its distance in plan.
    pub distance_m: f64,
}

/// Two edges that line up.
#[derive(Clone, Debug, PartialEq)]
pub struct Alignment {
    /// The nearer one.
    pub near: Landmark,
    /// The farther one.
    pub far: Landmark,
    /// How far the farther one stands to the right of the nearer one from here; negative to the left.
    pub apart: Angle,
    /// How far to the right of here they line up exactly; negative to the left.
    pub off_m: f64,
    /// By how much a step of one metre to the side parts them.
    pub a_metre: Angle,
}

/// What lines up from a stance, the most telling first; the second and third in other directions than the first.
pub fn alignments(survey: &Survey, standing: &Standing) -> Vec<Alignment> {
    let mut landmarks = landmarks(survey, standing);
    landmarks.sort_by(|a, b| a.bearing.radians().total_cmp(&b.bearing.radians()));
    let mut found: Vec<Alignment> = Vec::new();
    for (index, one) in landmarks.iter().enumerate() {
        // Round the compass: what stands a little west of north stands beside what stands a little east of it.
        let after = landmarks[index + 1..].iter().chain(&landmarks[..index]);
        for other in after {
            let between = (other.bearing - one.bearing).wrapped();
            if between.abs() > WIDEST {
                break;
            }
            found.extend(aligned(one, other));
        }
    }
    found.sort_by(|a, b| {
        let telling = |pair: &Alignment| pair.a_metre.radians() * (1.0 - pair.off_m.abs() / NEAR_M);
        telling(b).total_cmp(&telling(a)).then(a.near.block.cmp(&b.near.block)).then(a.far.block.cmp(&b.far.block))
    });
    let mut pairs: Vec<Alignment> = Vec::new();
    for pair in found {
        let other_way = pairs.iter().all(|known| {
            let between = (pair.near.bearing - known.near.bearing).wrapped().abs();
            between >= CROSSING && Angle::from_degrees(180.0) - between >= CROSSING
        });
        if other_way && pairs.len() < MOST && sees_both(survey, standing, &pair) {
            pairs.push(pair);
        }
    }
    pairs
}

/// Two edges as a pair, if they line up nearby and tell enough.
fn aligned(one: &Landmark, other: &Landmark) -> Option<Alignment> {
    if one.block == other.block {
        return None;
    }
    let (near, far) = if one.distance_m <= other.distance_m { (one, other) } else { (other, one) };
    let a_metre = 1.0 / near.distance_m - 1.0 / far.distance_m;
    if a_metre < LEAST_A_METRE.radians() {
        return None;
    }
    let apart = (far.bearing - near.bearing).wrapped();
    let off_m = -apart.radians() / a_metre;
    (off_m.abs() <= NEAR_M).then(|| Alignment {
        near: near.clone(),
        far: far.clone(),
        apart,
        off_m,
        a_metre: Angle::from_radians(a_metre),
    })
}

/// The outermost upright edges of the blocks about a stance, and the nearest edge of each that is neither.
fn landmarks(survey: &Survey, standing: &Standing) -> Vec<Landmark> {
    let model = &survey.model;
    let eye = standing.pose.eye;
    // What one stands on is not looked along.
    let underfoot = match standing.footing.as_ref().map(|footing| footing.support) {
        Some(Support::Deck(deck)) => model.decks.get(deck).map(|deck| deck.block),
        _ => None,
    };
    let mut blocks: Vec<(f64, usize)> = model
        .solids
        .iter()
        .enumerate()
        .filter(|(index, _)| model.site.blocks[*index].finish != Finish::Leaf && Some(*index) != underfoot)
        .map(|(index, solid)| {
            let (low, high) = solid.bounds();
            let outside = |value: f64, low: f64, high: f64| (low - value).max(value - high).max(0.0);
            (outside(eye.x, low.x, high.x).hypot(outside(eye.y, low.y, high.y)), index)
        })
        .collect();
    blocks.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut landmarks = Vec::new();
    for (_, block) in blocks.into_iter().take(MOST_BLOCKS) {
        let mut lines = Vec::new();
        standing_lines(model, block, &eye, &mut lines);
        lines.retain(|line| line.kind == LineKind::Vertical && !line.turned_away && line.top.z - line.base.z > 0.5);
        let of = |line: &StandingLine| {
            let offset = line.base - eye;
            (Angle::bearing_of(offset.x, offset.y), offset.x.hypot(offset.y))
        };
        let Some(first) = lines.first().map(|line| of(line).0) else { continue };
        let beside = |line: &StandingLine| (of(line).0 - first).wrapped().radians();
        let mut edges: Vec<(&StandingLine, &'static str)> = Vec::new();
        if let Some(left) = lines.iter().min_by(|a, b| beside(a).total_cmp(&beside(b))) {
            edges.push((left, "left edge"));
        }
        if let Some(right) = lines.iter().max_by(|a, b| beside(a).total_cmp(&beside(b)))
            && edges.iter().all(|(edge, _)| *edge != right)
        {
            edges.push((right, "right edge"));
        }
        if let Some(nearest) = lines.iter().min_by(|a, b| of(a).1.total_cmp(&of(b).1))
            && edges.iter().all(|(edge, _)| *edge != nearest)
        {
            edges.push((nearest, "nearest edge"));
        }
        landmarks.extend(edges.into_iter().filter_map(|(line, which)| {
            let (bearing, distance_m) = of(line);
            (distance_m > NEAREST_M).then_some(Landmark { block, which, line: *line, bearing, distance_m })
        }));
    }
    landmarks
}

/// Whether some part of both edges has a free line to the eye.
fn sees_both(survey: &Survey, standing: &Standing, pair: &Alignment) -> bool {
    let eye = standing.pose.eye;
    [&pair.near, &pair.far].into_iter().all(|landmark| sees(survey, &eye, &landmark.line))
}

fn sees(survey: &Survey, eye: &WorldPoint, line: &StandingLine) -> bool {
    (0..=8).any(|step| {
        let point = line.at(0.05 + 0.9 * f64::from(step) / 8.0) + line.outward * NUDGE_M;
        let towards: WorldVector = eye - point;
        // The ground may hide its base.
        towards.norm() > 0.1 && survey.sight.is_free(eye, &point)
    })
}

impl Alignment {
    /// The pair in plain words, with the names of the blocks.
    pub fn words(&self, survey: &Survey, units: Units) -> String {
        let name = |landmark: &Landmark| {
            format!("the {} of {}", landmark.which, survey.model.site.blocks[landmark.block].with_article())
        };
        let (near, far) = (name(&self.near), name(&self.far));
        let meets = if self.off_m.abs() < 0.02 {
            format!("{} lines up with {far} behind it", wording::capital(&near))
        } else {
            let way = if self.off_m > 0.0 { "right" } else { "left" };
            let beside = if self.apart.radians() > 0.0 { "right" } else { "left" };
            format!(
                "{} has {far} behind it, just to its {beside} ({:.1}°): they line up exactly {} to your {way}",
                wording::capital(&near),
                self.apart.abs().degrees(),
                units.by_tape(self.off_m.abs())
            )
        };
        let (step, step_m) = match units {
            Units::M => ("one metre", 1.0),
            Units::Ft => ("three feet", units.to_metres(3.0)),
        };
        format!("{meets}. A step of {step} to the side parts them by {:.1}°.", step_m * self.a_metre.degrees())
    }
}
