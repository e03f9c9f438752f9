//! Which triangles does a ray meet, without asking all of them?
//!
//! A tree of boxes, four to a node, over triangles, four to a leaf. Four boxes or triangles lie side by side, so that each
//! instruction treats all four: on any 64-bit x86 or Arm processor without asking what it can do, elsewhere one after the
//! other, with the same results. The tree is obvhs's binary one, folded; obvhs's own eight-way tree takes less memory, and
//! most of a ray's time to unpack its boxes.
//!
//! Rays that ask only whether anything is met go down the tree together, [`TOGETHER`] at a time where there are many: what
//! one of them has fetched, the others find at hand.
//!
//! Whether a ray meets a triangle is decided by the ends of each side (Woop, Benthin, Wald 2013): no ray passes through a joint.
//! The test by a corner and two sides (Möller and Trumbore 1997) lets one in twenty through that are aimed at a joint.

use glam::{BVec4A, Vec3A, Vec4};
use obvhs::BvhBuildParams;
use obvhs::bvh2::Bvh2;
use obvhs::bvh2::reinsertion::ReinsertionOptimizer;
use obvhs::ploc::PlocBuilder;
use obvhs::ray::Ray;
use obvhs::triangle::Triangle;

/// Above this many triangles the tree is built faster and traced a little slower.
const LARGE: usize = 200_000;
/// How many children a node has, and how many triangles a leaf.
pub(super) const WIDE: usize = 4;
/// How many rays go down together; more gain little.
pub(super) const TOGETHER: usize = 16;
/// Marks a child that is a leaf.
const LEAF: u32 = 1 << 31;
/// The stack that serves all but freak trees.
const STACK: usize = 64;
/// A box's far side is taken this much farther, so that rounding lets no ray slip between boxes that touch.
///
/// # Source
/// T. Ize, *Robust BVH Ray Traversal*, Journal of Computer Graphics Techniques 2(2), 2013: 1 + 2γ₃, rounded up.
pub(super) const BEYOND: f32 = 1.000_000_4;
/// The places of leaves that hold no triangle.
const NOBODY: u32 = u32::MAX;

/// Triangles, found quickly.
#[derive(Clone)]
pub(super) struct Hierarchy {
    nodes: Vec<Node>,
    leaves: Vec<Leaf>,
    root: u32,
    /// The triangle at each place, four places to a leaf; [`NOBODY`] where a leaf is not full.
    places: Vec<u32>,
    /// How many children may have to wait while one is looked through.
    waiting: usize,
}

/// Four boxes: their low and their high sides, along each axis. Two lines of the processor's store.
#[derive(Clone, Copy)]
#[repr(align(64))]
struct Node {
    sides: [[Vec4; 3]; 2],
    children: [u32; WIDE],
}

/// Up to four triangles side by side: along each axis, their three corners. Where there is none all is nought, and no ray
/// meets it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Leaf {
    axes: [[Vec4; 3]; 3],
}

/// A ray, four times side by side.
#[derive(Clone, Copy)]
pub(super) struct Spread {
    origin: [Vec4; 3],
    inverse: [Vec4; 3],
    /// Which of a box's two sides along each axis it meets first.
    first: [usize; 3],
    /// Two axes across the ray, and the one that it runs along most.
    axes: [usize; 3],
    /// How fast it moves along the first two for each step along the third, and how long it takes for one.
    shear: [Vec4; 3],
    pub(super) least: Vec4,
    pub(super) most: Vec4,
}

impl Hierarchy {
    /// Sorts triangles. One with a corner that is no finite number is met by no ray.
    pub(super) fn over(mut triangles: Vec<Triangle>) -> Self {
        for triangle in &mut triangles {
            if !corners(triangle).iter().all(|corner| corner.is_finite()) {
                *triangle = Triangle { v0: Vec3A::ZERO, v1: Vec3A::ZERO, v2: Vec3A::ZERO };
            }
        }
        let mut hierarchy = Self { nodes: Vec::new(), leaves: Vec::new(), root: 0, places: Vec::new(), waiting: 0 };
        if !triangles.is_empty() {
            hierarchy.fold(&binary_tree(&triangles), &triangles);
        }
        hierarchy
    }

    /// The same without the triangles at some places, and with the triangles of another: its places come after. Rays meet
    /// what they would if all were sorted anew, a little slower.
    pub(super) fn grafted(&self, is_gone: impl Fn(usize) -> bool, other: &Self) -> Self {
        let mut all = self.clone();
        for place in (0..all.places.len()).filter(|&place| is_gone(place)) {
            all.places[place] = NOBODY;
            all.leaves[place / WIDE].clear(place % WIDE);
        }
        if other.leaves.is_empty() {
            return all;
        }
        if all.leaves.is_empty() {
            return other.clone();
        }
        let (nodes, leaves) = (all.nodes.len() as u32, all.leaves.len() as u32);
        let moved = |child: u32| if child & LEAF == 0 { child + nodes } else { ((child & !LEAF) + leaves) | LEAF };
        all.leaves.extend_from_slice(&other.leaves);
        all.places.extend_from_slice(&other.places);
        all.nodes.extend(other.nodes.iter().map(|node| Node { children: node.children.map(moved), ..*node }));
        let root = Node::around_boxes([self.bounds(), other.bounds()]);
        all.nodes.push(Node { children: [self.root, moved(other.root), 0, 0], ..root });
        all.root = (all.nodes.len() - 1) as u32;
        all.waiting = self.waiting.max(other.waiting) + WIDE - 1;
        all
    }

    /// The box about all triangles.
    fn bounds(&self) -> [Vec3A; 2] {
        let none = [Vec3A::INFINITY, Vec3A::NEG_INFINITY];
        if self.leaves.is_empty() {
            return none;
        }
        if self.root & LEAF == 0 {
            let [low, high] = &self.nodes[self.root as usize].sides;
            return [
                Vec3A::from_array(low.map(|lanes| lanes.min_element())),
                Vec3A::from_array(high.map(|lanes| lanes.max_element())),
            ];
        }
        let leaf = (self.root & !LEAF) as usize;
        let filled = (0..WIDE).filter(|lane| self.places[leaf * WIDE + lane] != NOBODY);
        let corners = filled.flat_map(|lane| self.leaves[leaf].triangle(lane));
        corners.fold(none, |[low, high], corner| [low.min(corner), high.max(corner)])
    }

    /// What belongs to each place, of what belongs to each triangle; `empty` where there is none.
    pub(super) fn by_place<T: Copy>(&self, by_triangle: &[T], empty: T) -> Vec<T> {
        self.places.iter().map(|&triangle| by_triangle.get(triangle as usize).copied().unwrap_or(empty)).collect()
    }

    /// Takes over a binary tree: each node draws up its children's children, the largest first, until it has four.
    fn fold(&mut self, tree: &Bvh2, triangles: &[Triangle]) {
        let counts = counts(tree);
        let is_small = |node: u32| counts[node as usize] as usize <= WIDE;
        // Which node of the binary tree comes where in a node here, and how far down.
        let mut unfolded = vec![(0, None::<(usize, usize)>, 0)];
        while let Some((node, above, depth)) = unfolded.pop() {
            let child = if is_small(node) {
                self.add_leaf(&below(tree, node), triangles)
            } else {
                let children = four_below(tree, node, is_small);
                let index = self.nodes.len();
                self.nodes.push(Node::around(tree, &children));
                unfolded.extend(
                    children.iter().enumerate().rev().map(|(lane, &node)| (node, Some((index, lane)), depth + 1)),
                );
                self.waiting = self.waiting.max((WIDE - 1) * (depth + 1));
                index as u32
            };
            match above {
                Some((index, lane)) => self.nodes[index].children[lane] = child,
                None => self.root = child,
            }
        }
    }

    /// A leaf of up to four triangles.
    fn add_leaf(&mut self, indices: &[u32], triangles: &[Triangle]) -> u32 {
        self.leaves.push(Leaf::of(indices.iter().map(|&index| corners(&triangles[index as usize]))));
        self.places.extend((0..WIDE).map(|lane| indices.get(lane).copied().unwrap_or(NOBODY)));
        (self.leaves.len() - 1) as u32 | LEAF
    }

    /// Whether a ray meets any triangle.
    pub(super) fn is_met(&self, ray: &Spread) -> bool {
        self.any_met(ray).is_some()
    }

    /// The place of a triangle that a ray meets, not always the first, if it meets any.
    pub(super) fn any_met(&self, ray: &Spread) -> Option<u32> {
        if self.leaves.is_empty() {
            None
        } else if self.waiting <= STACK {
            self.any_met_with(ray, &mut [0; STACK])
        } else {
            self.any_met_with(ray, &mut vec![0; self.waiting])
        }
    }

    fn any_met_with(&self, ray: &Spread, stack: &mut [u32]) -> Option<u32> {
        let (mut current, mut waiting) = (self.root, 0);
        loop {
            if current & LEAF == 0 {
                let node = &self.nodes[current as usize];
                let (starts, met) = node.met(ray, ray.most);
                let mut met = met.bitmask();
                if met != 0 {
                    // The nearest first: it most often ends the question.
                    let lane = take_lowest(&mut met) % WIDE;
                    current = node.children[lane];
                    if met != 0 {
                        let starts = starts.to_array();
                        let mut nearest = starts[lane];
                        while met != 0 {
                            let lane = take_lowest(&mut met) % WIDE;
                            let mut other = node.children[lane];
                            if starts[lane] < nearest {
                                nearest = starts[lane];
                                std::mem::swap(&mut current, &mut other);
                            }
                            stack[waiting] = other;
                            waiting += 1;
                        }
                    }
                    continue;
                }
            } else {
                let leaf = current & !LEAF;
                if let Some(lane) = self.leaves[leaf as usize].any_met(ray) {
                    return Some(leaf * WIDE as u32 + lane);
                }
            }
            if waiting == 0 {
                return None;
            }
            waiting -= 1;
            current = stack[waiting];
        }
    }

    /// Which of up to [`TOGETHER`] rays meet any triangle, a bit for each, the first the lowest; the nearer to each other
    /// they run, the faster.
    pub(super) fn are_met(&self, rays: &[Spread]) -> u32 {
        match rays {
            [] => 0,
            [ray] => u32::from(self.is_met(ray)),
            _ if self.leaves.is_empty() => 0,
            _ if self.waiting <= STACK => self.are_met_with(rays, &mut [(0, 0); STACK]),
            _ => self.are_met_with(rays, &mut vec![(0, 0); self.waiting]),
        }
    }

    /// Each child that waits on the stack stands beside those of the rays that meet its box.
    fn are_met_with(&self, rays: &[Spread], stack: &mut [(u32, u32)]) -> u32 {
        let count = rays.len().min(TOGETHER);
        let all = (1 << count) - 1;
        let (mut unmet, mut waiting) = (all, 0);
        let (mut current, mut asking) = (self.root, all);
        loop {
            if current & LEAF == 0 {
                let node = &self.nodes[current as usize];
                let mut askers = [0; WIDE];
                let (mut any, mut starts) = (0, Vec4::INFINITY);
                while asking != 0 {
                    let ray = take_lowest(&mut asking) % TOGETHER;
                    let (start, met) = node.met(&rays[ray], rays[ray].most);
                    starts = Vec4::select(met, starts.min(start), starts);
                    let met = met.bitmask();
                    any |= met;
                    for (lane, askers) in askers.iter_mut().enumerate() {
                        *askers |= (met >> lane & 1) << ray;
                    }
                }
                if any != 0 {
                    // The nearest first: it most often ends the question.
                    let lane = take_lowest(&mut any) % WIDE;
                    (current, asking) = (node.children[lane], askers[lane]);
                    if any != 0 {
                        let starts = starts.to_array();
                        let mut nearest = starts[lane];
                        while any != 0 {
                            let lane = take_lowest(&mut any) % WIDE;
                            let (mut other, mut others) = (node.children[lane], askers[lane]);
                            if starts[lane] < nearest {
                                nearest = starts[lane];
                                std::mem::swap(&mut current, &mut other);
                                std::mem::swap(&mut asking, &mut others);
                            }
                            stack[waiting] = (other, others);
                            waiting += 1;
                        }
                    }
                    continue;
                }
            } else {
                let leaf = &self.leaves[(current & !LEAF) as usize];
                while asking != 0 {
                    let ray = take_lowest(&mut asking) % TOGETHER;
                    if leaf.is_met(&rays[ray]) {
                        unmet &= !(1 << ray);
                    }
                }
            }
            if unmet == 0 {
                return all;
            }
            while asking == 0 {
                if waiting == 0 {
                    return all & !unmet;
                }
                waiting -= 1;
                current = stack[waiting].0;
                asking = stack[waiting].1 & unmet;
            }
        }
    }

    /// The first triangle that a ray meets: how far off, and at which place.
    pub(super) fn first_met(&self, ray: &Spread) -> Option<(f32, u32)> {
        if self.leaves.is_empty() {
            None
        } else if self.waiting <= STACK {
            self.first_met_with(ray, &mut [(0.0, 0); STACK])
        } else {
            self.first_met_with(ray, &mut vec![(0.0, 0); self.waiting])
        }
    }

    /// Each child that waits on the stack stands beside the distance at which its box begins.
    fn first_met_with(&self, ray: &Spread, stack: &mut [(f32, u32)]) -> Option<(f32, u32)> {
        let (mut most, mut first) = (ray.most.x, None);
        let (mut current, mut waiting) = (self.root, 0);
        loop {
            if current & LEAF == 0 {
                let node = &self.nodes[current as usize];
                let (distances, met) = node.met(ray, Vec4::splat(most));
                let mut met = met.bitmask();
                if met != 0 {
                    let distances = distances.to_array();
                    let start = waiting;
                    // Sorted on the stack, the nearest on top.
                    while met != 0 {
                        let lane = take_lowest(&mut met) % WIDE;
                        let mut place = waiting;
                        while place > start && stack[place - 1].0 < distances[lane] {
                            stack[place] = stack[place - 1];
                            place -= 1;
                        }
                        stack[place] = (distances[lane], node.children[lane]);
                        waiting += 1;
                    }
                    waiting -= 1;
                    current = stack[waiting].1;
                    continue;
                }
            } else {
                let leaf = current & !LEAF;
                if let Some((distance, lane)) = self.leaves[leaf as usize].first_met(ray, most) {
                    most = distance;
                    first = Some((distance, leaf * WIDE as u32 + lane));
                }
            }
            current = loop {
                if waiting == 0 {
                    return first;
                }
                waiting -= 1;
                let (distance, next) = stack[waiting];
                if distance <= most {
                    break next;
                }
            };
        }
    }

    /// Looks at every triangle but those in boxes, given by their low and high corners, that lie `outside`; until one is
    /// answered with `false`. `unseen` is room to work in.
    pub(super) fn look_through(
        &self,
        unseen: &mut Vec<u32>,
        outside: impl Fn(Vec3A, Vec3A) -> bool,
        mut look: impl FnMut(u32, [Vec3A; 3]) -> bool,
    ) {
        unseen.clear();
        unseen.extend((!self.leaves.is_empty()).then_some(self.root));
        while let Some(current) = unseen.pop() {
            if current & LEAF == 0 {
                let node = &self.nodes[current as usize];
                unseen.extend(node.children.iter().enumerate().filter_map(|(lane, &child)| {
                    let corner = |side: &[Vec4; 3]| Vec3A::new(side[0][lane], side[1][lane], side[2][lane]);
                    let (low, high) = (corner(&node.sides[0]), corner(&node.sides[1]));
                    (low.x <= high.x && !outside(low, high)).then_some(child)
                }));
                continue;
            }
            let leaf = (current & !LEAF) as usize;
            for lane in 0..WIDE {
                let place = leaf * WIDE + lane;
                if self.places[place] != NOBODY && !look(place as u32, self.leaves[leaf].triangle(lane)) {
                    return;
                }
            }
        }
    }
}

/// Something for each of three axes or corners. An array's own `map` is not always compiled into the loop that calls it, and
/// then every line of sight takes three times as long.
#[inline(always)]
pub(super) fn each<T>(of: impl Fn(usize) -> T) -> [T; 3] {
    [of(0), of(1), of(2)]
}

/// The place of the lowest set bit, which is taken away.
#[inline(always)]
pub(super) fn take_lowest(bits: &mut u32) -> usize {
    let lowest = bits.trailing_zeros() as usize;
    *bits &= *bits - 1;
    lowest
}

impl Spread {
    pub(super) fn of(ray: &Ray) -> Self {
        let direction = ray.direction;
        let along = direction.abs().max_position();
        let axes = [(along + 1) % 3, (along + 2) % 3, along];
        let shear =
            [direction[axes[0]] / direction[along], direction[axes[1]] / direction[along], 1.0 / direction[along]];
        Self {
            origin: each(|axis| Vec4::splat(ray.origin[axis])),
            inverse: each(|axis| Vec4::splat(ray.inv_direction[axis])),
            first: each(|axis| usize::from(ray.inv_direction[axis] < 0.0)),
            axes,
            shear: each(|axis| Vec4::splat(shear[axis])),
            least: Vec4::splat(ray.tmin),
            most: Vec4::splat(ray.tmax),
        }
    }

    /// How far off the ray reaches what lies across an axis.
    #[inline(always)]
    pub(super) fn reach(&self, axis: usize, sides: Vec4) -> Vec4 {
        (sides - self.origin[axis]) * self.inverse[axis]
    }

    /// Of the low and the high along an axis, the one that the ray meets first, then the other.
    #[inline(always)]
    pub(super) fn in_turn<'a, T>(&self, axis: usize, sides: [&'a T; 2]) -> (&'a T, &'a T) {
        // The side is 0 or 1 in any case; said aloud, it spares a check.
        (sides[self.first[axis] & 1], sides[(self.first[axis] ^ 1) & 1])
    }

    /// What turns numbers of up to [`WIDE`] things that stand along an axis into numbers in the order in which the ray meets
    /// them, and back: by exclusive or.
    #[inline(always)]
    pub(super) fn turn(&self, axis: usize) -> usize {
        (WIDE - 1) * (self.first[axis] & 1)
    }
}

impl Node {
    fn around(tree: &Bvh2, children: &[u32]) -> Self {
        Self::around_boxes(children.iter().map(|&child| {
            let bounds = tree.nodes[child as usize].aabb();
            [bounds.min, bounds.max]
        }))
    }

    /// About up to four boxes, by their low and high corners; its children are still to be named.
    fn around_boxes(boxes: impl IntoIterator<Item = [Vec3A; 2]>) -> Self {
        // No ray meets a box that ends before it begins.
        let mut sides = [[[f32::INFINITY; WIDE]; 3], [[f32::NEG_INFINITY; WIDE]; 3]];
        for (lane, corners) in boxes.into_iter().take(WIDE).enumerate() {
            for (side, corner) in sides.iter_mut().zip(corners) {
                side.iter_mut().zip(corner.to_array()).for_each(|(lanes, bound)| lanes[lane] = bound);
            }
        }
        Self { sides: sides.map(|side| side.map(Vec4::from_array)), children: [0; WIDE] }
    }

    /// Where a ray enters each box, and which ones it meets before `most`.
    #[inline(always)]
    fn met(&self, ray: &Spread, most: Vec4) -> (Vec4, BVec4A) {
        let [low, high] = &self.sides;
        let [(x, x_far), (y, y_far), (z, z_far)] = each(|axis| {
            let (near, far) = ray.in_turn(axis, [&low[axis], &high[axis]]);
            (ray.reach(axis, *near), ray.reach(axis, *far))
        });
        let enter = x.max(y).max(z.max(ray.least));
        let leave = (x_far.min(y_far).min(z_far) * BEYOND).min(most);
        (enter, enter.cmple(leave))
    }
}

impl Leaf {
    /// The first four of some triangles.
    pub(super) fn of(triangles: impl Iterator<Item = [Vec3A; 3]>) -> Self {
        let mut axes = [[[0.0; WIDE]; 3]; 3];
        for (lane, triangle) in triangles.take(WIDE).enumerate() {
            for (corner, point) in triangle.into_iter().enumerate() {
                for axis in 0..3 {
                    axes[axis][corner][lane] = point[axis];
                }
            }
        }
        Self { axes: axes.map(|corners| corners.map(Vec4::from_array)) }
    }

    /// Four triangles: along each axis, their three corners.
    #[inline(always)]
    pub(super) fn side_by_side(axes: [[Vec4; 3]; 3]) -> Self {
        Self { axes }
    }

    /// Takes a triangle away.
    fn clear(&mut self, lane: usize) {
        self.axes.iter_mut().flatten().for_each(|corners| corners[lane] = 0.0);
    }

    pub(super) fn triangle(&self, lane: usize) -> [Vec3A; 3] {
        let [x, y, z] = &self.axes;
        each(|corner| Vec3A::new(x[corner][lane], y[corner][lane], z[corner][lane]))
    }

    /// How far off a ray meets each triangle, and which ones it does meet before `most`; their sides and corners included.
    ///
    /// The corners are sheared so that the ray becomes an axis; whether it passes a side to the left or right is then told
    /// from that side's ends alone, so that two triangles which share a side never both let a ray through there.
    ///
    /// # Source
    /// S. Woop, C. Benthin and I. Wald, *Watertight Ray/Triangle Intersection*, Journal of Computer Graphics Techniques 2(1),
    /// 2013; a ray that runs exactly through a side counts for both triangles, which spares the paper's second look.
    #[inline(always)]
    fn met(&self, ray: &Spread, most: Vec4) -> (Vec4, BVec4A) {
        let [x, y, z] = each(|axis| (&self.axes[ray.axes[axis]], ray.origin[ray.axes[axis]]));
        let [a, b, c] = each(|corner| {
            let depth = z.0[corner] - z.1;
            let across = |axis: (&[Vec4; 3], Vec4), shear: Vec4| axis.0[corner] - axis.1 - shear * depth;
            [across(x, ray.shear[0]), across(y, ray.shear[1]), depth * ray.shear[2]]
        });
        let left_of = |from: &[Vec4; 3], to: &[Vec4; 3]| from[0] * to[1] - from[1] * to[0];
        let (u, v, w) = (left_of(&b, &c), left_of(&c, &a), left_of(&a, &b));
        let area = u + v + w;
        let distance = (u * a[2] + v * b[2] + w * c[2]) / area;
        let (low, high) = (u.min(v).min(w), u.max(v).max(w));
        let inside = low.cmpge(Vec4::ZERO) | high.cmple(Vec4::ZERO);
        // Along a triangle there is no area, and the distance is no number, which is neither more nor less than another.
        (distance, inside & distance.cmpge(ray.least) & distance.cmplt(most))
    }

    /// Whether a ray meets any of the triangles.
    #[inline(always)]
    pub(super) fn is_met(&self, ray: &Spread) -> bool {
        self.met(ray, ray.most).1.any()
    }

    /// One of the four triangles that a ray meets, if it meets any.
    #[inline(always)]
    fn any_met(&self, ray: &Spread) -> Option<u32> {
        let met = self.met(ray, ray.most).1.bitmask();
        (met != 0).then(|| met.trailing_zeros())
    }

    /// The nearest triangle that a ray meets before `most`: how far off, and which of the four.
    #[inline(always)]
    pub(super) fn first_met(&self, ray: &Spread, most: f32) -> Option<(f32, u32)> {
        let (distances, met) = self.met(ray, Vec4::splat(most));
        let mut met = met.bitmask();
        let distances = distances.to_array();
        let mut first = None;
        let mut most = most;
        while met != 0 {
            let lane = take_lowest(&mut met) % WIDE;
            if distances[lane] < most {
                most = distances[lane];
                first = Some((most, lane as u32));
            }
        }
        first
    }
}

fn corners(triangle: &Triangle) -> [Vec3A; 3] {
    [triangle.v0, triangle.v1, triangle.v2]
}

/// obvhs's binary tree, one triangle to a leaf.
fn binary_tree(triangles: &[Triangle]) -> Bvh2 {
    let params = if triangles.len() > LARGE { BvhBuildParams::fast_build() } else { BvhBuildParams::medium_build() };
    let mut tree = PlocBuilder::with_capacity(triangles.len()).build(
        params.ploc_search_distance,
        triangles,
        (0..triangles.len() as u32).collect(),
        params.sort_precision,
        params.search_depth_threshold,
    );
    ReinsertionOptimizer::default().run(&mut tree, params.reinsertion_batch_ratio, None);
    tree
}

/// How many triangles there are under each node.
fn counts(tree: &Bvh2) -> Vec<u32> {
    let mut counts: Vec<u32> = tree.nodes.iter().map(|node| node.prim_count).collect();
    // Every node before those under it.
    let mut downwards = vec![0_u32];
    let mut next = 0;
    while let Some(&node) = downwards.get(next) {
        let node = &tree.nodes[node as usize];
        if !node.is_leaf() {
            downwards.extend([node.first_index, node.first_index + 1]);
        }
        next += 1;
    }
    for &node in downwards.iter().rev() {
        let first = tree.nodes[node as usize].first_index as usize;
        if !tree.nodes[node as usize].is_leaf() {
            counts[node as usize] = counts[first] + counts[first + 1];
        }
    }
    counts
}

/// The triangles under a node.
fn below(tree: &Bvh2, node: u32) -> Vec<u32> {
    let (mut found, mut unseen) = (Vec::with_capacity(WIDE), vec![node]);
    while let Some(node) = unseen.pop() {
        let node = &tree.nodes[node as usize];
        if node.is_leaf() {
            let first = node.first_index as usize;
            found.extend(&tree.primitive_indices[first..first + node.prim_count as usize]);
        } else {
            unseen.extend([node.first_index + 1, node.first_index]);
        }
    }
    found
}

/// Up to four nodes that together hold all that is under one.
fn four_below(tree: &Bvh2, node: u32, is_small: impl Fn(u32) -> bool) -> Vec<u32> {
    let children = |node: u32| {
        let first = tree.nodes[node as usize].first_index;
        [first, first + 1]
    };
    let area = |node: u32| tree.nodes[node as usize].aabb().half_area();
    let mut found = children(node).to_vec();
    while found.len() < WIDE {
        let largest = (0..found.len())
            .filter(|&index| !is_small(found[index]))
            .max_by(|&a, &b| area(found[a]).total_cmp(&area(found[b])));
        let Some(largest) = largest else { break };
        let [one, other] = children(found[largest]);
        found[largest] = one;
        found.push(other);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SplitMix64, as in the suite.
    struct Random(u64);

    impl Random {
        fn between(&mut self, low: f32, high: f32) -> f32 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut bits = self.0;
            bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            low + (high - low) * ((bits ^ (bits >> 31)) >> 40) as f32 / (1_u32 << 24) as f32
        }

        fn point(&mut self, reach: f32) -> Vec3A {
            Vec3A::new(self.between(-reach, reach), self.between(-reach, reach), self.between(-reach, reach))
        }
    }

    fn ray(from: Vec3A, to: Vec3A) -> Ray {
        Ray::new(from, (to - from).normalize(), 1e-3, (to - from).length())
    }

    /// How far off a ray meets a triangle by Cramer's rule in `f64`, and by how much it passes inside its sides; the latter
    /// below 0 where it does not meet it.
    fn by_hand(triangle: &Triangle, ray: &Ray) -> (f64, f64) {
        let wide = |vector: Vec3A| nalgebra::Vector3::from(vector.to_array()).cast::<f64>();
        let (a, origin, direction) = (wide(triangle.v0), wide(ray.origin), wide(ray.direction));
        let (u, v) = (wide(triangle.v1) - a, wide(triangle.v2) - a);
        let columns = nalgebra::Matrix3::from_columns(&[u, v, -direction]);
        let Some(inverse) = columns.try_inverse() else { return (f64::INFINITY, -1.0) };
        let met = inverse * (origin - a);
        let inside = met.x.min(met.y).min(1.0 - met.x - met.y);
        let (least, most) = (f64::from(ray.tmin), f64::from(ray.tmax));
        (met.z, inside.min(met.z - least).min(most - met.z))
    }

    #[test]
    fn the_tree_meets_what_each_triangle_alone_does() {
        let mut random = Random(3);
        let (mut met, mut missed) = (0, 0);
        for count in [0, 1, 2, 3, 4, 5, 17, 120, 700] {
            let size = 18.0 / (count as f32).max(1.0).sqrt();
            let mut triangles: Vec<Triangle> = (0..count)
                .map(|_| {
                    let v0 = random.point(10.0);
                    Triangle { v0, v1: v0 + random.point(size), v2: v0 + random.point(size) }
                })
                .collect();
            let sound = triangles.clone();
            // Points, lines, and what is no number at all stand in nobody's way.
            for _ in 0..count / 3 {
                let (v0, v1) = (random.point(10.0), random.point(10.0));
                triangles.push(Triangle { v0, v1: v0, v2: v0 });
                triangles.push(Triangle { v0, v1, v2: v0 + (v1 - v0) * 0.5 });
                triangles.push(Triangle { v0, v1, v2: Vec3A::new(f32::NAN, 0.0, 1.0) });
                triangles.push(Triangle { v0, v1: Vec3A::splat(f32::INFINITY), v2: v1 });
            }
            let hierarchy = Hierarchy::over(triangles);
            let numbers: Vec<usize> = (0..sound.len()).collect();
            let by_place = hierarchy.by_place(&numbers, usize::MAX);
            for _ in 0..60 {
                let from = random.point(14.0);
                let rays: Vec<Ray> = (0..TOGETHER).map(|_| ray(from, random.point(14.0))).collect();
                let spread: Vec<Spread> = rays.iter().map(Spread::of).collect();
                let together = hierarchy.are_met(&spread);
                for (bit, (ray, spread)) in rays.iter().zip(&spread).enumerate() {
                    let alone: Vec<(f64, f64)> = sound.iter().map(|triangle| by_hand(triangle, ray)).collect();
                    // Whether a ray that grazes a side meets it is a matter of rounding.
                    if alone.iter().any(|(_, inside)| inside.abs() < 2e-5) {
                        continue;
                    }
                    let inside = (0..).zip(&alone).filter(|(_, (_, inside))| *inside > 0.0);
                    let nearest = inside.min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0));
                    assert_eq!(hierarchy.is_met(spread), nearest.is_some());
                    assert_eq!(together >> bit & 1 == 1, nearest.is_some());
                    match (hierarchy.first_met(spread), nearest) {
                        (Some((distance, place)), Some((index, &(known, _)))) => {
                            assert_eq!(by_place[place as usize], index);
                            assert!((f64::from(distance) - known).abs() < 1e-3 * known.max(1.0), "{distance} {known}");
                            met += 1;
                        }
                        (None, None) => missed += 1,
                        (ours, known) => panic!("{ours:?} and {known:?}"),
                    }
                }
            }
        }
        assert!(met > 400 && missed > 1000, "{met} {missed}");
    }

    #[test]
    fn no_ray_slips_out_of_a_closed_skin_through_its_joints() {
        // A ball of 20,000 triangles about a point that is no round number, looked at from places inside it.
        let (rings, sectors) = (100_u32, 100_u32);
        let middle = Vec3A::new(310.7, -1220.3, 41.9);
        let corner = |ring: u32, sector: u32| {
            let (up, turn) = (
                std::f32::consts::PI * ring as f32 / rings as f32,
                std::f32::consts::TAU * (sector % sectors) as f32 / sectors as f32,
            );
            middle + 25.0 * Vec3A::new(up.sin() * turn.cos(), up.sin() * turn.sin(), up.cos())
        };
        let mut triangles = Vec::new();
        for (ring, sector) in (0..rings).flat_map(|ring| (0..sectors).map(move |sector| (ring, sector))) {
            let [a, b] = [corner(ring, sector), corner(ring, sector + 1)];
            let [c, d] = [corner(ring + 1, sector), corner(ring + 1, sector + 1)];
            triangles.extend([Triangle { v0: a, v1: c, v2: d }, Triangle { v0: a, v1: d, v2: b }]);
        }
        let hierarchy = Hierarchy::over(triangles);
        let mut random = Random(8);
        let (mut rays, mut escaped) = (0, 0);
        for _ in 0..4 {
            let from = middle + random.point(12.0);
            for (ring, sector) in (0..=rings).flat_map(|ring| (0..sectors).map(move |sector| (ring, sector))) {
                let share = random.between(0.0, 1.0);
                let at = corner(ring, sector);
                for to in [
                    at,
                    at.lerp(corner(ring, sector + 1), share),
                    at.lerp(corner((ring + 1).min(rings), sector), share),
                ] {
                    let ray = Spread::of(&Ray::new(from, (to - from).normalize(), 0.0, 100.0));
                    rays += 1;
                    escaped += u32::from(!hierarchy.is_met(&ray));
                    assert_eq!(hierarchy.first_met(&ray).is_some(), hierarchy.is_met(&ray));
                }
            }
        }
        assert_eq!(escaped, 0, "of {rays}");
    }

    #[test]
    fn a_freak_tree_is_searched_to_its_bottom() {
        // Each triangle twice as far out and as large as the one before: they nest, one to a level.
        let triangles: Vec<Triangle> = (-40..40)
            .map(|power| {
                let size = 2.0_f32.powi(power);
                let corner = |x: f32, y: f32| Vec3A::new(x * size, y * size, size);
                Triangle { v0: corner(-1.0, -1.0), v1: corner(1.0, -1.0), v2: corner(0.0, 1.0) }
            })
            .collect();
        let hierarchy = Hierarchy::over(triangles);
        assert!(hierarchy.waiting > STACK, "{}", hierarchy.waiting);
        let along = Spread::of(&Ray::new(Vec3A::new(0.0, 0.0, -1.0), Vec3A::Z, 0.0, 1e13));
        let aside = Spread::of(&Ray::new(Vec3A::new(0.0, 0.0, -1.0), Vec3A::X, 0.0, 1e13));
        let nearest = hierarchy.first_met(&along).map_or(0.0, |(distance, _)| distance);
        assert!((nearest - 1.0).abs() < 1e-6, "{nearest}");
        assert_eq!(hierarchy.are_met(&[along, aside, along]), 0b101);
        assert!(hierarchy.is_met(&along) && !hierarchy.is_met(&aside));
    }
}
