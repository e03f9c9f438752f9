//! How large is a person there?
//!
//! Figures of 1.70 m, about the middle of adult statures (common practice, no source), cut as plainly as the blocks. They
//! stand in a copy of the model, so no measurement ever meets them.

use crate::site::{Block, Finish, Model, PlanPoint, Shape, Site, Terrain};

/// A figure from sole to crown.
pub(super) const STATURE_M: f64 = 1.70;
const SHOULDERS_M: f64 = 1.34;
const CHIN_M: f64 = 1.46;

/// The model with figures standing at plan positions, on the highest thing that one can stand on there.
pub(super) fn with_figures(model: &Model, places: &[PlanPoint]) -> Model {
    let blocks = places.iter().flat_map(|&at| {
        let feet_m = model.footing(at, None).map_or_else(|_| model.surface_m(at), |footing| footing.height_m);
        figure(at, feet_m)
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
    let mut peopled = model.clone();
    peopled.site.blocks.extend(people.site.blocks);
    peopled.solids.extend(people.solids);
    peopled
}

/// One figure: a body that widens to the shoulders, the shoulders, and a head on its neck.
fn figure(at: PlanPoint, feet_m: f64) -> [Block; 3] {
    // A block that hangs in the air is not carried down to the ground.
    let part = |from_m: f64, shape: Shape| Block {
        name: String::new(),
        subject: false,
        at,
        heading_deg: 0.0,
        lift_m: from_m.max(1e-6),
        base_m: Some(feet_m),
        leans: None,
        finish: Finish::Dark,
        deck: None,
        cautions: Vec::new(),
        shape,
    };
    let crown_base_m = CHIN_M - SHOULDERS_M;
    [
        part(0.0, Shape::RoundTaper { foot_radius_m: 0.13, head_radius_m: 0.21, height_m: SHOULDERS_M }),
        part(SHOULDERS_M, Shape::Dome { radius_m: 0.21, height_m: 0.11 }),
        part(
            SHOULDERS_M,
            Shape::Tree { height_m: STATURE_M - SHOULDERS_M, crown_radius_m: 0.1, crown_base_m, trunk_radius_m: 0.05 },
        ),
    ]
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
        let peopled = with_figures(&model, &[(0.0, 0.0), (0.0, 10.0)]);
        assert_eq!(model.solids.len(), 1);
        let top = |part: usize| peopled.solids[part].bounds().1.z;
        let foot = |part: usize| peopled.solids[part].bounds().0.z;
        assert!((foot(1) - 3.0).abs() < 1e-5 && (top(3) - (3.0 + STATURE_M)).abs() < 1e-9);
        assert!((foot(4) - 5.0).abs() < 1e-5 && (top(6) - (5.0 + STATURE_M)).abs() < 1e-9);
    }
}
