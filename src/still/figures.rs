//! How large is a person there?
//!
//! Figures of 1.70 m, about the middle of adult statures (common practice, no source), cut as plainly as the blocks. They
//! stand in a copy of the model, so no measurement ever meets them.

use crate::angle::Angle;
use crate::pose::WorldPoint;
use crate::site::{Block, Finish, Lean, Model, PlanPoint, Shape, Site, Terrain};

/// A figure from sole to crown.
pub(super) const STATURE_M: f64 = 1.70;
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

/// The model with figures standing at plan positions, on the highest thing that one can stand on there, their flat sides
/// to the eye.
pub(super) fn with_figures(model: &Model, places: &[PlanPoint], eye: &WorldPoint) -> Model {
    let blocks = places.iter().map(|&at| {
        let feet_m = model.footing(at, None).map_or_else(|_| model.surface_m(at), |footing| footing.height_m);
        figure(at, feet_m, Angle::bearing_of(eye.x - at.0, eye.y - at.1))
    });
    let people = Model::build(Site {
        blocks: blocks.collect(),
        terrain: Terrain::Plane { height_m: 0.0 },
        water_level_m: None,
        grounds: Vec::new(),
        stances: Vec::new(),
        kit: None,
        ..model.site.clone()
    });
    model.with_blocks_of(people)
}

/// One figure, cut from card as if it lay on its back, then stood up to face a bearing.
fn figure(at: PlanPoint, feet_m: f64, facing: Angle) -> Block {
    let head_m = STATURE_M - HEAD.1;
    let head = (1..12).map(|step| {
        let turn = std::f64::consts::PI * (f64::from(step) / 12.0 - 0.5);
        (HEAD.0 * turn.cos(), head_m + HEAD.1 * turn.sin())
    });
    let right: Vec<PlanPoint> = RIGHT_HALF.into_iter().chain(head.skip_while(|place| place.1 <= 1.515)).collect();
    let left = right.iter().rev().map(|&(across, up)| (-across, up));
    let outline = right.iter().copied().chain([(0.0, STATURE_M)]).chain(left).chain([(0.0, FORK_M)]).collect();
    Block {
        // Its head lies away from the eye, and rises as the card is tipped towards it.
        heading_deg: facing.degrees() + 180.0,
        // A block that hangs in the air is not carried down to the ground.
        lift_m: 1e-6,
        base_m: Some(feet_m),
        leans: Some(Lean { by_deg: 90.0, toward_deg: facing.degrees() }),
        finish: Finish::Dark,
        ..Block::new("", at, Shape::Prism { outline, holes: Vec::new(), height_m: CARD_M })
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
        let peopled = with_figures(&model, &[(0.0, 0.0), (0.0, 10.0)], &WorldPoint::new(30.0, 30.0, 5.0));
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
}
