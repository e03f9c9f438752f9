//! How large is a person there?
//!
//! Figures of 1.70 m, about the middle of adult statures (common practice, no source), cut as plainly as the blocks. They
//! stand in a copy of the model, so no measurement ever meets them.

use crate::angle::Angle;
use crate::pose::WorldPoint;
use crate::site::{Block, Finish, Lean, Model, PlanPoint, Shape, Site, Support, Terrain};

/// A figure from sole to crown.
pub(crate) const STATURE_M: f64 = 1.70;
/// The card it is cut from.
const CARD_M: f64 = 0.02;
/// Its right half from the sole upwards: how far from the middle, and how high.
const RIGHT_HALF: [PlanPoint; 11] = [
    (0.018, 0.0),
    (0.115, 0.0),
    (0.125, 0.45),
    (0.172, 0.90),
    (0.158, 1.08),
    (0.215, 1.34),
    (0.205, 1.40),
    (0.165, 1.44),
    (0.070, 1.475),
    (0.052, 1.49),
    (0.050, 1.51),
];
/// Where the legs part.
const FORK_M: f64 = 0.80;
/// The head: half its width, half its height.
const HEAD: PlanPoint = (0.08, 0.108);

/// What stands there for scale: its own places, and what is set down about the subject.
pub(super) struct Company<'a> {
    /// Where people stand.
    pub(super) people: &'a [PlanPoint],
    /// Whether two people, a bicycle, a car and a van stand about the foot of the subject.
    pub(super) about_subject: bool,
}

/// The model with figures standing at plan positions, on the highest thing that one can stand on there, their flat sides
/// to the eye.
pub(super) fn with_figures(model: &Model, company: &Company<'_>, eye: &WorldPoint) -> Model {
    let facing = |at: PlanPoint| Angle::bearing_of(eye.x - at.0, eye.y - at.1);
    let mut blocks: Vec<Block> = company
        .people
        .iter()
        .map(|&at| {
            let feet_m = model.footing(at, None).map_or_else(|_| model.surface_m(at), |footing| footing.height_m);
            person(at, feet_m, facing(at))
        })
        .collect();
    if company.about_subject {
        for (kind, at) in places_about_subject(model, eye) {
            kind.stand(at, model.surface_m(at), facing(at), &mut blocks);
        }
    }
    let people = Model::build(Site {
        blocks,
        terrain: Terrain::Plane { height_m: 0.0 },
        water_level_m: None,
        grounds: Vec::new(),
        stances: Vec::new(),
        kit: None,
        ..model.site.clone()
    });
    model.with_blocks_of(people)
}

/// What may stand there for scale. Sizes are common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum FigureKind {
    Person,
    Bicycle,
    /// 4.30 m long, 1.45 m high.
    Car,
    /// 5.40 m long, 2.25 m high.
    Van,
}

/// The side of a car, its front to the right: along, and up.
const CAR: [PlanPoint; 18] = [
    (-2.15, 0.35),
    (-1.65, 0.22),
    (-1.60, 0.08),
    (-1.32, 0.0),
    (-1.04, 0.08),
    (-0.99, 0.2),
    (0.99, 0.2),
    (1.04, 0.08),
    (1.32, 0.0),
    (1.60, 0.08),
    (1.65, 0.22),
    (2.10, 0.30),
    (2.15, 0.66),
    (1.20, 0.92),
    (0.55, 1.40),
    (-0.95, 1.45),
    (-1.70, 1.02),
    (-2.12, 0.92),
];
/// The side of a van.
const VAN: [PlanPoint; 16] = [
    (-2.70, 0.35),
    (-2.05, 0.25),
    (-2.0, 0.09),
    (-1.70, 0.0),
    (-1.40, 0.09),
    (-1.35, 0.25),
    (1.35, 0.25),
    (1.40, 0.09),
    (1.70, 0.0),
    (2.0, 0.09),
    (2.05, 0.25),
    (2.66, 0.35),
    (2.70, 0.95),
    (2.10, 1.30),
    (1.55, 2.15),
    (-2.66, 2.25),
];
/// A bicycle's wheels: how far from its middle, and their radius.
const WHEELS_M: (f64, f64) = (0.52, 0.34);
/// Its tubes, saddle and handlebar, from end to end.
const TUBES: [[PlanPoint; 2]; 8] = [
    [(-0.52, 0.34), (-0.06, 0.29)],
    [(-0.06, 0.29), (0.36, 0.78)],
    [(-0.20, 0.82), (0.36, 0.84)],
    [(-0.06, 0.29), (-0.22, 0.94)],
    [(-0.52, 0.34), (-0.20, 0.80)],
    [(0.52, 0.34), (0.34, 0.98)],
    [(-0.36, 0.95), (-0.10, 0.97)],
    [(0.26, 0.99), (0.42, 1.01)],
];

impl FigureKind {
    /// How much room it takes to either side, and towards the eye.
    const fn room_m(self) -> (f64, f64) {
        match self {
            Self::Person => (0.3, 0.3),
            Self::Bicycle => (0.9, 0.3),
            Self::Car => (2.3, 1.9),
            Self::Van => (2.8, 2.1),
        }
    }

    /// Adds its blocks, its side to a bearing.
    fn stand(self, at: PlanPoint, feet_m: f64, facing: Angle, blocks: &mut Vec<Block>) {
        let mut cut = |name: &str, outline: Vec<PlanPoint>, holes: Vec<Vec<PlanPoint>>, deep_m: f64| {
            blocks.push(cut_out(name, at, feet_m, facing, Shape::Prism { outline, holes, height_m: deep_m }));
        };
        match self {
            Self::Person => blocks.push(person(at, feet_m, facing)),
            Self::Car => cut("car", CAR.to_vec(), Vec::new(), 1.75),
            Self::Van => cut("van", VAN.to_vec(), Vec::new(), 2.0),
            Self::Bicycle => {
                let (off_m, radius_m) = WHEELS_M;
                for side in [-1.0, 1.0] {
                    let ring = |radius_m: f64| -> Vec<PlanPoint> {
                        let turn = |step: u32| std::f64::consts::TAU * f64::from(step) / 24.0;
                        let at = |turn: f64| (side * off_m + radius_m * turn.cos(), WHEELS_M.1 + radius_m * turn.sin());
                        (0..24).map(|step| at(turn(step))).collect()
                    };
                    cut("bicycle", ring(radius_m), vec![ring(radius_m - 0.035)], 0.03);
                }
                for [from, to] in TUBES {
                    cut("bicycle", tube(from, to), Vec::new(), 0.03);
                }
            }
        }
    }
}

/// A bar 35 mm thick.
fn tube(from: PlanPoint, to: PlanPoint) -> Vec<PlanPoint> {
    let (along, up) = (to.0 - from.0, to.1 - from.1);
    let half = 0.0175 / along.hypot(up);
    let aside = (-up * half, along * half);
    [(from, -1.0), (to, -1.0), (to, 1.0), (from, 1.0)]
        .map(|(end, side)| (end.0 + side * aside.0, end.1 + side * aside.1))
        .to_vec()
}

/// Where company stands: on open ground before the subject's foot as seen from the eye, each at the first free place of a few.
fn places_about_subject(model: &Model, eye: &WorldPoint) -> Vec<(FigureKind, PlanPoint)> {
    let bounds = model.subject().filter_map(|index| model.solids.get(index)).map(|solid| solid.bounds());
    let Some((low, high)) = bounds.reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1))) else { return Vec::new() };
    let middle = nalgebra::center(&low, &high);
    let toward = (eye - middle).xy().try_normalize(1e-6).unwrap_or_else(|| nalgebra::Vector2::new(0.0, -1.0));
    let right = nalgebra::Vector2::new(-toward.y, toward.x);
    let half = 0.5 * (high - low);
    let reach_m = (half.x * toward.x).abs() + (half.y * toward.y).abs();
    let wide_m = (half.x * right.x).abs() + (half.y * right.y).abs();
    let wanted = [
        (FigureKind::Person, 0.35 * wide_m, 1.4),
        (FigureKind::Person, 0.35 * wide_m + 0.8, 1.8),
        (FigureKind::Bicycle, -0.75 * wide_m, 1.1),
        (FigureKind::Car, wide_m + 4.5, 2.2),
        (FigureKind::Van, -wide_m - 5.5, 1.2),
    ];
    let mut stood: Vec<(FigureKind, PlanPoint)> = Vec::new();
    for (kind, aside_m, before_m) in wanted {
        let steps = [0.0, 1.5, -1.5, 3.0, -3.0, 5.0, -5.0, 8.0, -8.0];
        let tries = [0.0, 1.5, 3.0, 5.0].into_iter().flat_map(|nearer_m| steps.map(|step_m| (nearer_m, step_m)));
        let mut places = tries.map(|(nearer_m, step_m)| {
            let place = middle.xy() + toward * (reach_m + before_m + nearer_m) + right * (aside_m + step_m);
            (place.x, place.y)
        });
        stood.extend(places.find(|&at| is_free(model, kind, at, eye, &stood)).map(|at| (kind, at)));
    }
    stood
}

/// Whether a figure has room on open ground, with its side to the eye.
fn is_free(
    model: &Model,
    kind: FigureKind,
    at: PlanPoint,
    eye: &WorldPoint,
    others: &[(FigureKind, PlanPoint)],
) -> bool {
    let toward =
        (eye.xy() - nalgebra::Point2::new(at.0, at.1)).try_normalize(1e-6).unwrap_or_else(nalgebra::Vector2::x);
    let (aside_m, deep_m) = kind.room_m();
    let apart = others.iter().all(|(other, place)| {
        let room_m = aside_m + other.room_m().0;
        (place.0 - at.0).hypot(place.1 - at.1) > 0.8 * room_m.max(0.6)
    });
    let corners = [(-1.0, 0.0), (0.0, 0.0), (1.0, 0.0), (-1.0, 1.0), (1.0, 1.0)].map(|(side, deep)| {
        (
            at.0 - toward.y * aside_m * side + toward.x * deep_m * deep,
            at.1 + toward.x * aside_m * side + toward.y * deep_m * deep,
        )
    });
    apart
        && corners.iter().all(|&corner| {
            let on_ground = model.footing(corner, None).is_ok_and(|footing| footing.support == Support::Ground);
            let over = WorldPoint::new(corner.0, corner.1, model.surface_m(corner) + 0.6);
            on_ground && model.block_around(&over).is_none()
        })
}

/// A person, facing a bearing.
fn person(at: PlanPoint, feet_m: f64, facing: Angle) -> Block {
    let head_m = STATURE_M - HEAD.1;
    let head = (1..12).map(|step| {
        let turn = std::f64::consts::PI * (f64::from(step) / 12.0 - 0.5);
        (HEAD.0 * turn.cos(), head_m + HEAD.1 * turn.sin())
    });
    let right: Vec<PlanPoint> = RIGHT_HALF.into_iter().chain(head.skip_while(|place| place.1 <= 1.515)).collect();
    let left = right.iter().rev().map(|&(across, up)| (-across, up));
    let outline = right.iter().copied().chain([(0.0, STATURE_M)]).chain(left).chain([(0.0, FORK_M)]).collect();
    cut_out("person", at, feet_m, facing, Shape::Prism { outline, holes: Vec::new(), height_m: CARD_M })
}

/// Something cut from card as if it lay on its back, then stood up to face a bearing.
fn cut_out(name: &str, at: PlanPoint, feet_m: f64, facing: Angle, shape: Shape) -> Block {
    Block {
        // Its head lies away from the eye, and rises as the card is tipped towards it.
        heading_deg: facing.degrees() + 180.0,
        // A block that hangs in the air is not carried down to the ground.
        lift_m: 1e-6,
        base_m: Some(feet_m),
        leans: Some(Lean { by_deg: 90.0, toward_deg: facing.degrees() }),
        finish: Finish::Dark,
        ..Block::new(name, at, shape)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stand_on_what_is_there_and_leave_the_model_alone() {
        let site: Site = crate::files::ron_options()
            .from_str("(format: 1, name: \"t\", terrain: Plane(height_m: 3), blocks: [(name: \"wall\", at: (0, 10), shape: Box(width_m: 8, depth_m: 4, height_m: 2), deck: ())])")
            .expect("a site");
        let model = Model::build(site);
        let company = Company { people: &[(0.0, 0.0), (0.0, 10.0)], about_subject: false };
        let peopled = with_figures(&model, &company, &WorldPoint::new(30.0, 30.0, 5.0));
        assert_eq!(model.solids.len(), 1);
        for (part, feet_m) in [(1, 3.0), (2, 5.0)] {
            let solid = &peopled.solids[part];
            let (low, high) = solid.bounds();
            assert!((low.z - feet_m).abs() < 1e-5 && (high.z - (feet_m + STATURE_M)).abs() < 1e-5);
            // Broadside to the eye, so its width shows.
            let at = [low.x.midpoint(high.x), low.y.midpoint(high.y)];
            let to_eye = nalgebra::Vector2::new(30.0 - at[0], 30.0 - at[1]).normalize();
            let broadest = solid.faces.iter().filter(|face| face.normal.xy().dot(&to_eye) > 0.999).count();
            assert_eq!(broadest, 1);
        }
    }

    #[test]
    fn company_stands_on_open_ground_before_the_subject_in_its_stated_sizes() {
        let site: Site = crate::files::ron_options()
            .from_str(
                "(format: 1, name: \"t\", blocks: [
                    (name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 30)),
                    (name: \"shed\", at: (-9, -6), shape: Box(width_m: 6, depth_m: 8, height_m: 4))])",
            )
            .expect("a site");
        let model = Model::build(site);
        let eye = WorldPoint::new(0.0, -60.0, 1.6);
        let places = places_about_subject(&model, &eye);
        assert_eq!(places.len(), 5, "{places:?}");
        assert!(places.iter().all(|(_, at)| at.1 < -3.0), "{places:?}");
        let peopled = with_figures(&model, &Company { people: &[], about_subject: true }, &eye);
        let height_m = |name: &str| {
            let of_name = peopled.site.blocks.iter().zip(&peopled.solids).filter(|(block, _)| block.name == name);
            of_name.map(|(_, solid)| solid.bounds().1.z).fold(0.0, f64::max)
        };
        for (name, wanted_m) in [("person", 1.70), ("car", 1.45), ("van", 2.25), ("bicycle", 1.0275)] {
            assert!((height_m(name) - wanted_m).abs() < 2e-3, "{name}: {}", height_m(name));
        }
        // Without a subject nothing is set down.
        let bare = Model::build(crate::files::ron_options().from_str("(format: 1, name: \"t\")").expect("a site"));
        assert!(places_about_subject(&bare, &eye).is_empty());
    }
}
