//! Do the blocks of a site make sense: are their sizes sizes and their outlines outlines?

use super::build::{MOST_SIDES, MOST_STAYS, MOST_STEPS, MOST_WINDOWS, triangles_at_most};
use super::check::{
    Check, FARTHEST_M, HIGHEST_M, LARGEST_M, LARGEST_RADIUS_M, LOWEST_M, MOST_BLOCKS, MOST_CORNERS, MOST_COURSE_M,
    MOST_TRIANGLES, SMALLEST_M, SUBJECT_SPREAD_M, named, plain, span_text,
};
use super::problem::PathStep;
use super::ring_check::{RingFault, ring_fault};
use super::value_tree::short;
use super::{Access, Block, PlanPoint, Shape, Site, Terrain};

impl Check {
    pub(super) fn blocks(&mut self, site: &Site) {
        if !self.most("blocks", site.blocks.len(), MOST_BLOCKS, "blocks") {
            return;
        }
        self.names("blocks", "block", site.blocks.iter().map(|block| block.name.as_str()));
        for (index, block) in site.blocks.iter().enumerate() {
            let item = named("block", index, &block.name);
            self.about(item, &[PathStep::Field("blocks"), PathStep::Item(index)], |check| check.block(block));
        }
        let triangles = site.blocks.iter().map(|block| triangles_at_most(&block.shape)).sum::<u64>()
            + match &site.terrain {
                Terrain::Plane { .. } => 0,
                Terrain::Grid(grid) => 4 * (grid.columns() as u64 + 1) * (grid.rows.len() as u64 + 1),
            };
        if triangles > MOST_TRIANGLES {
            self.error(
                &[PathStep::Field("blocks")],
                format!("and terrain together make about {triangles} triangles"),
                format!("at most {MOST_TRIANGLES}"),
                "leave out what no picture shows, or thin the terrain",
            );
        }
        let subjects: Vec<(usize, &Block)> =
            site.blocks.iter().enumerate().filter(|(_, block)| block.subject).collect();
        let Some(&(_, first)) = subjects.first() else {
            self.warn(
                &[PathStep::Field("blocks")],
                "hold no subject, so nothing can be measured",
                "write subject: true in the block that the picture is about",
            );
            return;
        };
        for &(index, part) in &subjects {
            let apart_m = (part.at.0 - first.at.0).hypot(part.at.1 - first.at.1);
            if apart_m > SUBJECT_SPREAD_M {
                self.item = named("block", index, &part.name);
                self.warn(
                    &[PathStep::Field("blocks"), PathStep::Item(index), PathStep::Field("at")],
                    format!(
                        "is {} m from '{}', which is part of the same subject",
                        apart_m.round(),
                        short(&first.name)
                    ),
                    "all subject blocks together are what the picture is about",
                );
                self.item = "the site".into();
            }
        }
    }

    pub(super) fn block(&mut self, block: &Block) {
        let placed = self.position(&[PathStep::Field("at")], block.at);
        self.degrees("heading_deg", block.heading_deg, -360.0, 360.0);
        self.length("lift_m", block.lift_m, 0.0, 1000.0);
        if let Some(base_m) = block.base_m {
            self.length("base_m", base_m, LOWEST_M, HIGHEST_M);
        }
        if let Some(lean) = block.leans {
            self.within(&[PathStep::Field("leans")], |check| {
                check.degrees("by_deg", lean.by_deg, 0.0, 60.0);
                check.degrees("toward_deg", lean.toward_deg, -360.0, 360.0);
            });
        }
        for (index, caution) in block.cautions.iter().enumerate() {
            if caution.trim().is_empty() {
                self.error(&[PathStep::Field("cautions"), PathStep::Item(index)], "is blank", "some words", "");
            }
        }
        if let Some(deck) = &block.deck {
            self.within(&[PathStep::Field("deck")], |check| {
                if let Some(caution) = &deck.caution {
                    check.words("caution", caution, 1000);
                }
            });
            if block.name == "ground" {
                self.error(
                    &[PathStep::Field("name")],
                    "is 'ground', which stances use for the bare ground",
                    "another name for a block with a deck",
                    "",
                );
            }
            if matches!(
                block.shape,
                Shape::Dome { .. } | Shape::Gable { .. } | Shape::Hip { .. } | Shape::Mast { .. } | Shape::Tree { .. }
            ) && deck.access != Access::Closed
            {
                self.warn(
                    &[PathStep::Field("deck")],
                    "is on a shape without a flat top",
                    "set a Stage or Box where one stands",
                );
            }
        }
        if let Some(pm_m) = block.height_pm_m {
            self.length("height_pm_m", pm_m, 0.0, 1000.0);
        }
        if let Some(found) = &block.height_from {
            self.words("height_from", found, 1000);
        }
        if let Some(together) = &block.together {
            self.words("together", together, 200);
        }
        self.within(&[PathStep::Field("shape")], |check| check.shape(block, placed));
    }

    pub(super) fn shape(&mut self, block: &Block, placed: bool) {
        let size = (SMALLEST_M, LARGEST_M);
        match &block.shape {
            Shape::Box { width_m, depth_m, height_m } => {
                self.length("width_m", *width_m, size.0, size.1);
                self.length("depth_m", *depth_m, size.0, size.1);
                self.length("height_m", *height_m, size.0, size.1);
            }
            Shape::Prism { outline, holes, height_m } => {
                self.length("height_m", *height_m, size.0, size.1);
                self.rings(outline, holes, placed.then_some(block));
            }
            Shape::RoundTaper { foot_radius_m, head_radius_m, height_m } => {
                self.length("foot_radius_m", *foot_radius_m, SMALLEST_M, LARGEST_RADIUS_M);
                self.length("head_radius_m", *head_radius_m, 0.0, LARGEST_RADIUS_M);
                self.length("height_m", *height_m, size.0, size.1);
            }
            Shape::PolygonTaper { sides, foot_across_m, head_across_m, height_m } => {
                self.count("sides", *sides, 3, MOST_SIDES);
                self.length("foot_across_m", *foot_across_m, size.0, size.1);
                self.length("head_across_m", *head_across_m, 0.0, size.1);
                self.length("height_m", *height_m, size.0, size.1);
            }
            Shape::Dome { radius_m, height_m } => {
                self.length("radius_m", *radius_m, SMALLEST_M, LARGEST_RADIUS_M);
                self.length("height_m", *height_m, size.0, size.1);
            }
            Shape::Gable { width_m, depth_m, eaves_m, ridge_m } => {
                self.length("width_m", *width_m, size.0, size.1);
                self.length("depth_m", *depth_m, size.0, size.1);
                self.roof(*eaves_m, *ridge_m);
            }
            Shape::Hip { width_m, depth_m, eaves_m, ridge_m, ridge_length_m } => {
                let wide = self.length("width_m", *width_m, size.0, size.1);
                self.length("depth_m", *depth_m, size.0, size.1);
                self.roof(*eaves_m, *ridge_m);
                if self.length("ridge_length_m", *ridge_length_m, 0.0, size.1) && wide && ridge_length_m > width_m {
                    self.error_with(
                        "ridge_length_m",
                        &["width_m"],
                        format!("is {}", plain(*ridge_length_m)),
                        format!("at most the width, {} m", plain(*width_m)),
                    );
                }
            }
            Shape::Steps { width_m, going_m, rise_m, count } => self.steps(*width_m, *going_m, *rise_m, *count),
            Shape::Wall { path, thickness_m, height_m } => {
                self.length("thickness_m", *thickness_m, SMALLEST_M, 100.0);
                self.length("height_m", *height_m, size.0, size.1);
                self.path(path, placed.then_some(block));
            }
            Shape::Stage { width_m, depth_m, floor_m, rail_m } => {
                self.length("width_m", *width_m, size.0, size.1);
                self.length("depth_m", *depth_m, size.0, size.1);
                self.length("floor_m", *floor_m, size.0, size.1);
                self.length("rail_m", *rail_m, 0.0, 10.0);
            }
            Shape::Mast { foot_radius_m, head_radius_m, height_m, stays, stay_heights_m, stay_radius_m } => {
                self.length("foot_radius_m", *foot_radius_m, 0.005, 100.0);
                self.length("head_radius_m", *head_radius_m, 0.0, 100.0);
                let high = self.length("height_m", *height_m, size.0, size.1);
                self.count("stays", *stays, 0, MOST_STAYS);
                self.most("stay_heights_m", stay_heights_m.len(), MOST_STAYS as usize, "heights");
                for (index, &stay_m) in stay_heights_m.iter().take(MOST_STAYS as usize).enumerate() {
                    let steps = [PathStep::Field("stay_heights_m"), PathStep::Item(index)];
                    if self.number(&steps, stay_m, (SMALLEST_M, LARGEST_M), "m") && high && stay_m > *height_m {
                        let mut finding = self
                            .finding(&steps, format!("is {}", plain(stay_m)))
                            .allowed(format!("at most the mast's height, {} m", plain(*height_m)));
                        finding.hangs_on = vec![self.way_to(&[PathStep::Field("height_m")])];
                        self.push(finding);
                    }
                }
                let held = *stays > 0 && !stay_heights_m.is_empty();
                let lowest = if held { SMALLEST_M } else { 0.0 };
                if !(lowest..=LARGEST_M).contains(stay_radius_m) {
                    self.error_with(
                        "stay_radius_m",
                        &["stays", "stay_heights_m"],
                        format!("is {}", plain(*stay_radius_m)),
                        span_text(lowest, LARGEST_M, "m"),
                    );
                }
                if !held && (*stays > 0 || !stay_heights_m.is_empty()) {
                    self.warn(&[], "has no stays", "stays want both their number and their heights");
                }
            }
            Shape::Tree { height_m, crown_radius_m, crown_base_m, trunk_radius_m, bare: _ } => {
                let high = self.length("height_m", *height_m, size.0, 200.0);
                let wide = self.length("crown_radius_m", *crown_radius_m, SMALLEST_M, 100.0);
                if self.length("crown_base_m", *crown_base_m, 0.0, 200.0) && high && crown_base_m >= height_m {
                    self.error_with(
                        "crown_base_m",
                        &["height_m"],
                        format!("is {}", plain(*crown_base_m)),
                        format!("below the tree's height, {} m", plain(*height_m)),
                    );
                }
                if self.length("trunk_radius_m", *trunk_radius_m, SMALLEST_M, 20.0)
                    && wide
                    && trunk_radius_m > crown_radius_m
                {
                    self.error_with(
                        "trunk_radius_m",
                        &["crown_radius_m"],
                        format!("is {}", plain(*trunk_radius_m)),
                        format!("at most the crown's radius, {} m", plain(*crown_radius_m)),
                    );
                }
            }
            Shape::Facade {
                width_m,
                depth_m,
                height_m,
                bays,
                storeys,
                opening_share,
                reveal_m,
                courses_m,
                clock_m,
                louvred_storeys,
            } => {
                self.length("courses_m", *courses_m, 0.0, MOST_COURSE_M);
                if self.length("clock_m", *clock_m, 0.0, LARGEST_M) && *clock_m > width_m.min(*height_m) {
                    self.error_with(
                        "clock_m",
                        &["width_m", "height_m"],
                        format!("is {}", plain(*clock_m)),
                        format!("at most the front's width and height, {} m", plain(width_m.min(*height_m))),
                    );
                }
                if self.count("louvred_storeys", *louvred_storeys, 0, MOST_WINDOWS) && louvred_storeys > storeys {
                    self.error_with(
                        "louvred_storeys",
                        &["storeys"],
                        format!("is {louvred_storeys}"),
                        format!("at most the storeys, {storeys}"),
                    );
                }
                self.length("width_m", *width_m, size.0, size.1);
                let deep = self.length("depth_m", *depth_m, size.0, size.1);
                self.length("height_m", *height_m, size.0, size.1);
                self.count("bays", *bays, 0, MOST_WINDOWS);
                self.count("storeys", *storeys, 0, MOST_WINDOWS);
                self.number(
                    &[PathStep::Field("opening_share")],
                    *opening_share,
                    (0.05, 0.95),
                    "of each bay and storey",
                );
                if self.length("reveal_m", *reveal_m, 0.0, LARGEST_M) && deep && reveal_m >= depth_m {
                    self.error_with(
                        "reveal_m",
                        &["depth_m"],
                        format!("is {}", plain(*reveal_m)),
                        format!("less than the depth, {} m", plain(*depth_m)),
                    );
                }
            }
        }
    }

    pub(super) fn roof(&mut self, eaves_m: f64, ridge_m: f64) {
        let eaves = self.length("eaves_m", eaves_m, 0.0, LARGEST_M);
        if self.length("ridge_m", ridge_m, SMALLEST_M, LARGEST_M) && eaves && ridge_m <= eaves_m {
            self.error_with(
                "ridge_m",
                &["eaves_m"],
                format!("is {}", plain(ridge_m)),
                format!("above the eaves, {} m", plain(eaves_m)),
            );
        }
    }

    pub(super) fn steps(&mut self, width_m: f64, going_m: f64, rise_m: f64, count: u32) {
        self.length("width_m", width_m, SMALLEST_M, LARGEST_M);
        let long = self.length("going_m", going_m, SMALLEST_M, 100.0);
        let high = self.length("rise_m", rise_m, SMALLEST_M, 100.0);
        self.count("count", count, 1, MOST_STEPS);
        for (field, step_m, good, what) in [("going_m", going_m, long, "long"), ("rise_m", rise_m, high, "high")] {
            let total_m = step_m * f64::from(count);
            if good && count <= MOST_STEPS && total_m > LARGEST_M {
                self.error_with(
                    "count",
                    &[field],
                    format!("makes the flight {} m {what}", plain(total_m)),
                    format!("at most {LARGEST_M} m"),
                );
            }
        }
    }

    /// A corner of a block's own plan, and where it lies in the world.
    pub(super) fn corner(&mut self, steps: &[PathStep], corner: PlanPoint, block: Option<&Block>) -> bool {
        if ![corner.0, corner.1].iter().all(|value| (-FARTHEST_M..=FARTHEST_M).contains(value)) {
            return self.position(steps, corner);
        }
        let Some(block) = block.filter(|block| block.heading_deg.is_finite()) else { return true };
        let (sine, cosine) = block.heading_deg.to_radians().sin_cos();
        let east = block.at.0 + corner.0 * cosine + corner.1 * sine;
        let north = block.at.1 - corner.0 * sine + corner.1 * cosine;
        let good = east.abs() <= FARTHEST_M && north.abs() <= FARTHEST_M;
        if !good {
            let mut finding = self
                .finding(steps, format!("lies at ({}, {}) of the site", plain(east.round()), plain(north.round())))
                .allowed(span_text(-FARTHEST_M, FARTHEST_M, "m east and north"))
                .help("corners are counted from the block's own place");
            let block_way = self.way.iter().take(2).copied();
            finding.hangs_on =
                ["at", "heading_deg"].map(|field| block_way.clone().chain([PathStep::Field(field)]).collect()).into();
            self.push(finding);
        }
        good
    }

    pub(super) fn rings(&mut self, outline: &[PlanPoint], holes: &[Vec<PlanPoint>], block: Option<&Block>) {
        let corners = outline.len() + holes.iter().map(Vec::len).sum::<usize>();
        if corners > MOST_CORNERS {
            self.error(
                &[PathStep::Field("outline")],
                format!("and holes have {corners} corners"),
                format!("at most {MOST_CORNERS}"),
                "",
            );
            return;
        }
        let mut good = true;
        for (index, &corner) in outline.iter().enumerate() {
            good &= self.corner(&[PathStep::Field("outline"), PathStep::Item(index)], corner, block);
        }
        for (hole, ring) in holes.iter().enumerate() {
            for (index, &corner) in ring.iter().enumerate() {
                good &= self.corner(
                    &[PathStep::Field("holes"), PathStep::Item(hole), PathStep::Item(index)],
                    corner,
                    block,
                );
            }
        }
        if !good {
            return;
        }
        let rings: Vec<&[PlanPoint]> = std::iter::once(outline).chain(holes.iter().map(Vec::as_slice)).collect();
        let Some(fault) = ring_fault(&rings) else { return };
        let ring_steps = |ring: usize| match ring.checked_sub(1) {
            None => vec![PathStep::Field("outline")],
            Some(hole) => vec![PathStep::Field("holes"), PathStep::Item(hole)],
        };
        let corner_steps = |(ring, corner): (usize, usize)| {
            let mut steps = ring_steps(ring);
            steps.push(PathStep::Item(corner));
            steps
        };
        let text = |corner| super::problem::way_text(&corner_steps(corner));
        let finding = match fault {
            RingFault::TooFew { ring } => {
                let count = rings.get(ring).map_or(0, |ring| ring.len());
                self.finding(&ring_steps(ring), format!("has {count} corners")).allowed("at least 3")
            }
            RingFault::Repeated { corner, first } => self
                .finding(&corner_steps(corner), format!("is the same corner as {}", text(first)))
                .allowed("each corner once")
                .help("an outline closes itself; its first corner is not written again at the end"),
            RingFault::Crosses { edge, other } => self
                .finding(
                    &corner_steps(edge),
                    format!("begins an edge that crosses or touches the one that begins at {}", text(other)),
                )
                .allowed("edges that meet at their corners only")
                .help("give the corners in order around the outline"),
            RingFault::Flat { ring } => self.finding(&ring_steps(ring), "encloses no area").allowed("at least 1 cm²"),
            RingFault::Outside { ring } => {
                self.finding(&ring_steps(ring), "lies outside the outline").allowed("holes inside it")
            }
            RingFault::Nested { ring } => self
                .finding(&ring_steps(ring), "lies inside another hole")
                .allowed("holes beside one another")
                .help("what stands in a court is a block of its own"),
        };
        let mut finding = finding;
        // A corner that could not be read moves every edge.
        finding.hangs_on = vec![self.way_to(&[PathStep::Field("outline")]), self.way_to(&[PathStep::Field("holes")])];
        self.push(finding);
    }

    pub(super) fn path(&mut self, path: &[PlanPoint], block: Option<&Block>) {
        if !self.most("path", path.len(), MOST_CORNERS, "corners") {
            return;
        }
        if path.len() < 2 {
            self.error(&[PathStep::Field("path")], format!("has {} corners", path.len()), "at least 2", "");
        }
        for (index, &corner) in path.iter().enumerate() {
            let steps = [PathStep::Field("path"), PathStep::Item(index)];
            self.corner(&steps, corner, block);
            let before = index.checked_sub(1).and_then(|before| path.get(before));
            if before.is_some_and(|before| (before.0 - corner.0).hypot(before.1 - corner.1) < 1e-3) {
                self.error(&steps, "is the same place as the corner before it", "corners at least 1 mm apart", "");
            }
        }
    }
}
