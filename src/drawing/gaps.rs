//! How far are two blocks apart in plan, and where are they nearest?

use crate::site::{PlanPoint, outline_holds};

use super::shapes::BlockShape;

/// The shortest way between two blocks in plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Where it begins and ends: on the one outline, and on the other.
    pub ends: [PlanPoint; 2],
    /// Its length.
    pub length_m: f64,
}

impl BlockShape {
    /// Whether a plan position lies in the block's outline and in none of its holes.
    pub fn holds(&self, at: PlanPoint) -> bool {
        self.rings.iter().filter(|ring| outline_holds(ring, at)).count() % 2 == 1
    }

    /// The shortest way from this block's outline to another's; `None` where one of them has none, or where they overlap.
    ///
    /// # Example
    /// ```
    /// use plumbsight::drawing::SiteShapes;
    /// use plumbsight::site::{Model, parse_site};
    /// let site = parse_site(
    ///     "Site(format: 1, name: \"x\", blocks: [\
    ///      (name: \"a\", at: (0, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 3)), \
    ///      (name: \"b\", at: (7, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 3))])",
    ///     "x",
    /// )
    /// .unwrap();
    /// let shapes = SiteShapes::of(&Model::build(site));
    /// let gap = shapes.blocks[0].gap_to(&shapes.blocks[1]).unwrap();
    /// assert!((gap.length_m - 3.0).abs() < 1e-9);
    /// ```
    pub fn gap_to(&self, other: &Self) -> Option<Gap> {
        let (first, second) = (self.rings.first()?.first()?, other.rings.first()?.first()?);
        if self.holds(*second) || other.holds(*first) {
            return None;
        }
        let mut best: Option<Gap> = None;
        for (from, to) in sides(self).flat_map(|side| sides(other).map(move |other| (side, other))) {
            if cross(from, to) {
                return None;
            }
            let ways = [
                [from[0], nearest(to, from[0])],
                [from[1], nearest(to, from[1])],
                [nearest(from, to[0]), to[0]],
                [nearest(from, to[1]), to[1]],
            ];
            for ends in ways {
                let length_m = (ends[0].0 - ends[1].0).hypot(ends[0].1 - ends[1].1);
                if best.is_none_or(|best| length_m < best.length_m) {
                    best = Some(Gap { ends, length_m });
                }
            }
        }
        best
    }
}

fn sides(shape: &BlockShape) -> impl Iterator<Item = [PlanPoint; 2]> {
    shape.rings.iter().flat_map(|ring| (0..ring.len()).map(|index| [ring[index], ring[(index + 1) % ring.len()]]))
}

/// The point of a side that is nearest to a place.
fn nearest([a, b]: [PlanPoint; 2], at: PlanPoint) -> PlanPoint {
    let (along_x, along_y) = (b.0 - a.0, b.1 - a.1);
    let length = along_x * along_x + along_y * along_y;
    let share = if length > 0.0 { ((at.0 - a.0) * along_x + (at.1 - a.1) * along_y) / length } else { 0.0 };
    let share = share.clamp(0.0, 1.0);
    (a.0 + share * along_x, a.1 + share * along_y)
}

/// Whether two sides cross.
fn cross([a, b]: [PlanPoint; 2], [c, d]: [PlanPoint; 2]) -> bool {
    let side = |p: PlanPoint, q: PlanPoint, at: PlanPoint| (q.0 - p.0) * (at.1 - p.1) - (q.1 - p.1) * (at.0 - p.0);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, half: f64) -> BlockShape {
        let ring = vec![(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)];
        BlockShape { rings: vec![ring], creases: Vec::new(), bounds: ((x - half, y - half), (x + half, y + half)) }
    }

    #[test]
    fn gaps_are_those_of_geometry() {
        let a = square(0.0, 0.0, 2.0);
        // Corner to corner: 3 and 4 make 5.
        let gap = a.gap_to(&square(7.0, 8.0, 2.0)).expect("apart");
        assert_eq!((gap.length_m, gap.ends), (5.0, [(2.0, 2.0), (5.0, 6.0)]));
        // Side to side, and touching.
        assert_eq!(a.gap_to(&square(10.0, 1.0, 2.0)).expect("apart").length_m, 6.0);
        assert_eq!(a.gap_to(&square(4.0, 0.0, 2.0)).expect("touching").length_m, 0.0);
        // Overlapping, and one within the other.
        assert_eq!(a.gap_to(&square(3.0, 3.0, 2.0)), None);
        assert_eq!(a.gap_to(&square(0.0, 0.0, 1.0)), None);
    }
}
