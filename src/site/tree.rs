//! How does a tree become a skin, in leaf or bare?

use std::f64::consts::PI;

use crate::pose::{WorldPoint, WorldVector};

use super::Shape;
use super::solid::SolidBuilder;
use super::solid_parts::{Cut, Ellipsoid, Frustum, Rim, beam, dome_sides, ellipsoid, frustum, sides_of};

/// How many limbs leave the trunk of a bare tree, and how many twigs each of them.
const LIMBS: u32 = 18;
const TWIGS: u32 = 3;
/// All of a bare tree but its trunk.
pub(super) const BRANCHES: u64 = (LIMBS * (1 + TWIGS)) as u64;
/// The angle from one limb to the next, by which no two of them stand over one another.
const GOLDEN_ANGLE: f64 = PI * 0.763_932_022_500_210_3;
/// No branch is thinner.
const THINNEST_M: f64 = 0.03;

/// See [`super::Shape::Tree`].
struct Tree {
    height_m: f64,
    crown_radius_m: f64,
    crown_base_m: f64,
    trunk_radius_m: f64,
}

impl Tree {
    fn half_height_m(&self) -> f64 {
        0.5 * (self.height_m - self.crown_base_m)
    }

    fn middle_m(&self) -> f64 {
        self.crown_base_m + self.half_height_m()
    }

    /// How wide the crown is at a height.
    fn reach_m(&self, height_m: f64) -> f64 {
        let along = ((height_m - self.middle_m()) / self.half_height_m()).clamp(-1.0, 1.0);
        self.crown_radius_m * (1.0 - along * along).sqrt()
    }
}

/// The skin of a tree; its trunk reaches down to `base_m`.
pub(super) fn tree(builder: &mut SolidBuilder<'_>, base_m: f64, shape: &Shape) {
    let Shape::Tree { height_m, crown_radius_m, crown_base_m, trunk_radius_m, bare } = *shape else { return };
    let tree = &Tree { height_m, crown_radius_m, crown_base_m, trunk_radius_m };
    let rim = |radius_m: f64, height_m: f64| Rim { radius_m, height_m, closed: true };
    let (thick_m, sides) = (tree.trunk_radius_m, sides_of(tree.trunk_radius_m));
    if bare {
        // The trunk goes on to the top, ever thinner.
        let top = rim(0.15 * thick_m, tree.height_m);
        frustum(builder, sides, Frustum { base: rim(thick_m, base_m), top });
        branches(builder, tree);
        return;
    }
    let top = rim(thick_m, tree.crown_base_m + 0.2 * tree.half_height_m());
    frustum(builder, sides, Frustum { base: rim(thick_m, base_m), top });
    let crown = Ellipsoid {
        centre_m: tree.middle_m(),
        radius_m: tree.crown_radius_m,
        half_height_m: tree.half_height_m(),
        cut: Cut::Whole,
    };
    ellipsoid(builder, dome_sides(tree.crown_radius_m, Cut::Whole), crown);
}

/// Limbs that leave the trunk about it and rise to the skin that the crown has in leaf, each with twigs.
fn branches(builder: &mut SolidBuilder<'_>, tree: &Tree) {
    let crown_m = tree.height_m - tree.crown_base_m;
    for limb in 0..LIMBS {
        let share = (f64::from(limb) + 0.5) / f64::from(LIMBS);
        let from_m = tree.crown_base_m + 0.8 * share * crown_m;
        let to_m = from_m + (0.42 - 0.2 * share) * crown_m;
        let to = |turn: f64, height_m: f64| {
            let reach_m = 0.97 * tree.reach_m(height_m);
            WorldPoint::new(reach_m * turn.sin(), reach_m * turn.cos(), height_m)
        };
        let turn = GOLDEN_ANGLE * f64::from(limb);
        let (start, end) = (WorldPoint::new(0.0, 0.0, from_m), to(turn, to_m));
        let thick_m = (0.6 * tree.trunk_radius_m * (1.0 - 0.8 * share)).max(THINNEST_M);
        beam(builder, start, end, thick_m);
        for twig in 0..TWIGS {
            let along = 0.4 + 0.2 * f64::from(twig);
            let aside = if twig % 2 == 0 { 0.55 } else { -0.55 } * (1.2 - along);
            let leaves = start + (end - start) * along;
            let tip = to(turn + aside, to_m + (0.14 - 0.1 * f64::from(twig)) * crown_m);
            // Far down the skin a twig would hang; it ends where it has risen a little.
            let tip =
                WorldPoint::from(tip.coords.sup(&WorldVector::new(f64::MIN, f64::MIN, leaves.z + 0.05 * crown_m)));
            beam(builder, leaves, tip, (0.45 * thick_m).max(THINNEST_M));
        }
    }
}
