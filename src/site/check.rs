//! Does a site make sense: are its sizes sizes, its outlines outlines, its names names?
//!
//! After this the mathematics may take every number as finite and every outline as simple. Nothing here looks at a text;
//! each finding names the way to the value it is about.

use std::collections::BTreeMap;

use crate::optics::{Distortion, FARTHEST_FOCUS_M, Format, Kit, Lens};

use super::build::{MOST_SIDES, MOST_STAYS, MOST_STEPS, MOST_WINDOWS, triangles_at_most};
use super::problem::{Finding, PathStep, Severity};
use super::ring_check::{RingFault, ring_fault};
use super::value_tree::short;
use super::{
    Access, Aim, Anchor, Block, Ground, PlanPoint, SITE_FORMAT, Shape, Site, Stance, Sun, Terrain, TerrainGrid,
};

/// How far from the anchor the tangent plane holds: beyond it the Earth has dropped 2 m.
pub const FARTHEST_M: f64 = 5000.0;
/// How many blocks a site may have.
pub const MOST_BLOCKS: usize = 100_000;
/// How many posts a terrain may have.
pub const MOST_POSTS: usize = 4_000_000;
/// How many triangles a site may be made of, at most and by the counts of its shapes.
pub const MOST_TRIANGLES: u64 = 20_000_000;

/// How far out terrain may reach: as far as its skirt does.
const FARTHEST_TERRAIN_M: f64 = 20_000.0;
/// Heights that the Earth has.
const LOWEST_M: f64 = -12_000.0;
const HIGHEST_M: f64 = 9_000.0;
/// Sizes of what is built.
const SMALLEST_M: f64 = 0.01;
const LARGEST_M: f64 = 2000.0;
const LARGEST_RADIUS_M: f64 = 1000.0;
/// How high above what it stands on a camera may be: on a pole, a lift or a kite.
const HIGHEST_STANCE_M: f64 = 400.0;

const MOST_CORNERS: usize = 100_000;
const MOST_GROUNDS: usize = 10_000;
const MOST_STANCES: usize = 2000;
const MOST_KIT: usize = 200;
const LONGEST_NAME: usize = 120;
/// How far apart the parts of one subject are thought to be at most.
const SUBJECT_SPREAD_M: f64 = 500.0;
/// How many findings are kept; the rest is counted.
const MOST_FINDINGS: usize = 4000;

/// Everything that is wrong with a site, errors and warnings.
///
/// # Example
/// ```
/// use plumbsight::site::{Shape, parse_site, check_site};
/// let mut site = parse_site(
///     r#"Site(format: 1, name: "yard", blocks: [(name: "stack", subject: true, at: (0, 0),
///        shape: Box(width_m: 4, depth_m: 4, height_m: 40))])"#,
///     "yard.site.ron",
/// ).unwrap();
/// assert!(check_site(&site).is_empty());
/// site.blocks[0].shape = Shape::Box { width_m: 4.0, depth_m: -4.0, height_m: 40.0 };
/// let told = check_site(&site)[0].to_string();
/// assert_eq!(told, "block 'stack': blocks[0].shape.depth_m is -4; allowed is from 0.01 to 2000 m");
/// ```
pub fn check_site(site: &Site) -> Vec<Finding> {
    findings(site, None).0
}

/// As [`check_site`], with the number of findings that were not kept.
///
/// A person's `own` kit may be named as the built-in one may.
pub(super) fn findings(site: &Site, own: Option<&Kit>) -> (Vec<Finding>, usize) {
    let mut check = Check { own: own.cloned(), ..Check::about_the("site") };
    check.site(site);
    (check.found, check.more)
}

/// What is wrong with where a stance stands and how it is turned, whatever its site and kit: for stances that no file
/// holds.
///
/// # Example
/// ```
/// use plumbsight::site::{Stance, check_placing};
/// let stance = Stance { height_m: 401.0, ..Stance::plain("as given", (0.0, -40.0)) };
/// assert_eq!(check_placing(&stance)[0].to_string(), "the stance: height_m is 401; allowed is from 0 to 400 m");
/// ```
pub fn check_placing(stance: &Stance) -> Vec<Finding> {
    let mut check = Check::about_the("stance");
    check.placing(stance);
    check.found
}

/// Everything that is wrong with a kit that stands in a file of its own.
pub(crate) fn check_kit(kit: &Kit) -> Vec<Finding> {
    let mut check = Check::about_the("kit");
    check.kit(kit);
    check.found
}

/// What is wrong with a stance that is kept apart from its site, at the end of a way: numbers that no site and no lens
/// allows. Whether the site still has its deck and lens is seen when it is taken up.
pub(crate) fn check_kept_stance(stance: &Stance, item: String, way: &[PathStep]) -> Vec<Finding> {
    let mut check = Check::about_the("plan");
    check.about(item, way, |check| check.stance(stance, None));
    check.found
}

struct Check {
    found: Vec<Finding>,
    more: usize,
    /// Where the check is.
    way: Vec<PathStep>,
    /// What that is called.
    item: String,
    /// The person's own kit.
    own: Option<Kit>,
}

impl Check {
    fn about_the(what: &str) -> Self {
        Self { found: Vec::new(), more: 0, way: Vec::new(), item: format!("the {what}"), own: None }
    }

    fn way_to(&self, steps: &[PathStep]) -> Vec<PathStep> {
        self.way.iter().chain(steps).copied().collect()
    }

    fn finding(&self, steps: &[PathStep], fault: impl Into<String>) -> Finding {
        Finding::new(self.item.clone(), self.way_to(steps), fault)
    }

    fn push(&mut self, finding: Finding) {
        if self.found.len() < MOST_FINDINGS {
            self.found.push(finding);
        } else {
            self.more += 1;
        }
    }

    fn error(
        &mut self,
        steps: &[PathStep],
        fault: impl Into<String>,
        allowed: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.push(self.finding(steps, fault).allowed(allowed).help(help));
    }

    fn warn(&mut self, steps: &[PathStep], fault: impl Into<String>, help: impl Into<String>) {
        let mut finding = self.finding(steps, fault).help(help);
        finding.severity = Severity::Warning;
        self.push(finding);
    }

    /// An error that is no news where one of the other fields is no value at all.
    fn error_with(&mut self, field: &'static str, others: &[&'static str], fault: String, allowed: String) {
        let mut finding = self.finding(&[PathStep::Field(field)], fault).allowed(allowed);
        finding.hangs_on = others.iter().map(|other| self.way_to(&[PathStep::Field(other)])).collect();
        self.push(finding);
    }

    fn within<T>(&mut self, steps: &[PathStep], check: impl FnOnce(&mut Self) -> T) -> T {
        let depth = self.way.len();
        self.way.extend_from_slice(steps);
        let result = check(self);
        self.way.truncate(depth);
        result
    }

    fn about(&mut self, item: String, steps: &[PathStep], check: impl FnOnce(&mut Self)) {
        let before = std::mem::replace(&mut self.item, item);
        self.within(steps, check);
        self.item = before;
    }

    /// Whether a number is finite and within its range.
    fn number(&mut self, steps: &[PathStep], value: f64, (low, high): (f64, f64), unit: &str) -> bool {
        let good = (low..=high).contains(&value);
        if !good {
            self.error(steps, format!("is {}", plain(value)), span_text(low, high, unit), "");
        }
        good
    }

    fn length(&mut self, field: &'static str, value_m: f64, low: f64, high: f64) -> bool {
        self.number(&[PathStep::Field(field)], value_m, (low, high), "m")
    }

    fn degrees(&mut self, field: &'static str, value: f64, low: f64, high: f64) {
        self.number(&[PathStep::Field(field)], value, (low, high), "degrees");
    }

    fn count(&mut self, field: &'static str, value: u32, low: u32, high: u32) {
        if !(low..=high).contains(&value) {
            self.error(&[PathStep::Field(field)], format!("is {value}"), format!("from {low} to {high}"), "");
        }
    }

    fn most(&mut self, field: &'static str, given: usize, most: usize, what: &str) -> bool {
        let good = given <= most;
        if !good {
            self.error(&[PathStep::Field(field)], format!("has {given} {what}"), format!("at most {most}"), "");
        }
        good
    }

    /// A plan position near enough to the anchor.
    fn position(&mut self, steps: &[PathStep], at: PlanPoint) -> bool {
        let good = [at.0, at.1].iter().all(|value| (-FARTHEST_M..=FARTHEST_M).contains(value));
        if !good {
            self.error(
                steps,
                format!("is ({}, {})", plain(at.0), plain(at.1)),
                span_text(-FARTHEST_M, FARTHEST_M, "m east and north"),
                "a site is flat about its anchor, which is true to 5 km; move the anchor nearer",
            );
        }
        good
    }

    /// A text that is something.
    fn words(&mut self, field: &'static str, text: &str, most: usize) {
        let steps = [PathStep::Field(field)];
        if text.trim().is_empty() {
            self.error(&steps, "is blank", "some words", "");
        } else if text.chars().count() > most {
            self.error(&steps, format!("is '{}'", short(text)), format!("at most {most} characters"), "");
        } else if text.chars().any(char::is_control) {
            self.error(&steps, format!("is '{}'", short(text)), "no line breaks or control characters", "");
        }
    }

    /// Names that must differ from one another.
    fn names<'a>(&mut self, list: &'static str, what: &str, names: impl Iterator<Item = &'a str>) {
        let mut known: BTreeMap<&str, usize> = BTreeMap::new();
        for (index, name) in names.enumerate() {
            let item = named(what, index, name);
            self.about(item, &[PathStep::Field(list), PathStep::Item(index)], |check| {
                check.words("name", name, LONGEST_NAME);
            });
            if let Some(first) = known.get(name) {
                if !name.trim().is_empty() {
                    let way = [PathStep::Field(list), PathStep::Item(index), PathStep::Field("name")];
                    let fault = format!("is '{}' as in {list}[{first}]", short(name));
                    let mut finding =
                        Finding::new(named(what, index, name), self.way_to(&way), fault).allowed("a name of its own");
                    finding.hangs_on =
                        vec![self.way_to(&[PathStep::Field(list), PathStep::Item(*first), PathStep::Field("name")])];
                    self.push(finding);
                }
            } else {
                known.insert(name, index);
            }
        }
    }

    fn site(&mut self, site: &Site) {
        if site.format != SITE_FORMAT {
            self.push(wrong_format(site.format));
        }
        self.words("name", &site.name, LONGEST_NAME);
        if let Some(anchor) = &site.anchor {
            self.about("the anchor".into(), &[PathStep::Field("anchor")], |check| check.anchor(anchor));
        }
        if let Some(zone) = &site.time_zone {
            self.time_zone(zone);
        }
        self.about("the terrain".into(), &[PathStep::Field("terrain")], |check| check.terrain(&site.terrain));
        if let Some(level_m) = site.water_level_m {
            self.length("water_level_m", level_m, LOWEST_M, HIGHEST_M);
        }
        if let Some(sun) = &site.sun {
            self.about("the sun".into(), &[PathStep::Field("sun")], |check| check.sun(sun));
        }
        self.blocks(site);
        self.grounds(&site.grounds);
        if let Some(kit) = &site.kit {
            self.within(&[PathStep::Field("kit")], |check| check.kit(kit));
        }
        self.stances(site);
    }

    fn anchor(&mut self, anchor: &Anchor) {
        self.degrees("latitude_deg", anchor.latitude_deg, -90.0, 90.0);
        self.degrees("longitude_deg", anchor.longitude_deg, -180.0, 180.0);
        self.length("height_m", anchor.height_m, LOWEST_M, HIGHEST_M);
        if let Some(datum) = &anchor.vertical_datum {
            self.words("vertical_datum", datum, LONGEST_NAME);
        }
    }

    /// IANA names are letters, digits and a few signs, in parts with a slash between them; whether the zone exists is
    /// asked where a time is wanted.
    fn time_zone(&mut self, zone: &str) {
        let part_is_good = |part: &str| {
            part.starts_with(|c: char| c.is_ascii_alphabetic())
                && part.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '+'))
        };
        if zone.len() > 64 || !zone.split('/').all(part_is_good) {
            self.error(
                &[PathStep::Field("time_zone")],
                format!("is '{}'", short(zone)),
                "an IANA name",
                "write area and place, such as \"Europe/London\", or \"UTC\"",
            );
        }
    }

    fn sun(&mut self, sun: &Sun) {
        self.degrees("azimuth_deg", sun.azimuth_deg, -360.0, 360.0);
        self.degrees("altitude_deg", sun.altitude_deg, -90.0, 90.0);
    }

    fn terrain(&mut self, terrain: &Terrain) {
        match terrain {
            Terrain::Plane { height_m } => {
                self.length("height_m", *height_m, LOWEST_M, HIGHEST_M);
            }
            Terrain::Grid(grid) => self.grid(grid),
        }
    }

    fn grid(&mut self, grid: &TerrainGrid) {
        let corner_steps = [PathStep::Field("south_west")];
        let mut placed = self.number(
            &corner_steps,
            if grid.south_west.0.is_finite() { grid.south_west.1 } else { grid.south_west.0 },
            (-FARTHEST_TERRAIN_M, FARTHEST_TERRAIN_M),
            "m east and north",
        );
        if placed {
            placed = self.number(
                &corner_steps,
                grid.south_west.0,
                (-FARTHEST_TERRAIN_M, FARTHEST_TERRAIN_M),
                "m east and north",
            );
        }
        for (index, spacing) in [grid.spacing_m.0, grid.spacing_m.1].into_iter().enumerate() {
            placed &= self.number(
                &[PathStep::Field("spacing_m"), PathStep::Item(index)],
                spacing,
                (SMALLEST_M, 1000.0),
                "m between posts",
            );
        }
        placed &= self.number(&[PathStep::Field("turned_deg")], grid.turned_deg, (-360.0, 360.0), "degrees");
        let (rows, columns) = (grid.rows.len(), grid.columns());
        let rows_step = PathStep::Field("rows");
        if rows < 2 {
            self.error(&[rows_step], format!("has {rows} rows"), "at least 2 rows of at least 2 posts", "");
        } else if columns < 2 {
            self.error(&[rows_step, PathStep::Item(0)], format!("has {columns} posts"), "at least 2", "");
        }
        let posts: usize = grid.rows.iter().map(Vec::len).sum();
        if posts > MOST_POSTS {
            self.error(&[rows_step], format!("has {posts} posts"), format!("at most {MOST_POSTS}"), "");
        }
        for (index, row) in grid.rows.iter().enumerate() {
            if row.len() != columns {
                self.error(
                    &[rows_step, PathStep::Item(index)],
                    format!("has {} posts", row.len()),
                    format!("{columns}, as in the first row"),
                    "",
                );
            }
            for (place, &height_m) in row.iter().enumerate() {
                if !(LOWEST_M..=HIGHEST_M).contains(&height_m) {
                    let steps = [rows_step, PathStep::Item(index), PathStep::Item(place)];
                    self.number(&steps, height_m, (LOWEST_M, HIGHEST_M), "m");
                }
            }
        }
        if placed && rows >= 2 && columns >= 2 {
            let (last_column, last_row) = ((columns - 1) as f64, (rows - 1) as f64);
            let farthest = [(0.0, 0.0), (last_column, 0.0), (0.0, last_row), (last_column, last_row)]
                .map(|(column, row)| grid.plan_from_grid(column, row))
                .iter()
                .fold(0.0_f64, |far, &(x, y)| far.max(x.abs()).max(y.abs()));
            if farthest > FARTHEST_TERRAIN_M {
                self.error(
                    &[rows_step],
                    format!("reach {} m from the anchor", farthest.round()),
                    format!("at most {FARTHEST_TERRAIN_M} m"),
                    "cut the terrain to the site's surroundings",
                );
            } else if farthest > FARTHEST_M {
                self.warn(
                    &[rows_step],
                    format!("reach {} m from the anchor", farthest.round()),
                    "a site is flat about its anchor: at 5 km the Earth has dropped 2 m, at 20 km 31 m, which is left out",
                );
            }
        }
    }

    fn blocks(&mut self, site: &Site) {
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

    fn block(&mut self, block: &Block) {
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
        self.within(&[PathStep::Field("shape")], |check| check.shape(block, placed));
    }

    fn shape(&mut self, block: &Block, placed: bool) {
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
            Shape::Tree { height_m, crown_radius_m, crown_base_m, trunk_radius_m } => {
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
            Shape::Facade { width_m, depth_m, height_m, bays, storeys, opening_share, reveal_m } => {
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

    fn roof(&mut self, eaves_m: f64, ridge_m: f64) {
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

    fn steps(&mut self, width_m: f64, going_m: f64, rise_m: f64, count: u32) {
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
    fn corner(&mut self, steps: &[PathStep], corner: PlanPoint, block: Option<&Block>) -> bool {
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

    fn rings(&mut self, outline: &[PlanPoint], holes: &[Vec<PlanPoint>], block: Option<&Block>) {
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

    fn path(&mut self, path: &[PlanPoint], block: Option<&Block>) {
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

    fn grounds(&mut self, grounds: &[Ground]) {
        if !self.most("grounds", grounds.len(), MOST_GROUNDS, "grounds") {
            return;
        }
        self.names("grounds", "ground", grounds.iter().map(|ground| ground.name.as_str()));
        for (index, ground) in grounds.iter().enumerate() {
            let item = named("ground", index, &ground.name);
            self.about(item, &[PathStep::Field("grounds"), PathStep::Item(index)], |check| {
                check.rings(&ground.outline, &[], None);
                if let Some(caution) = &ground.caution {
                    check.words("caution", caution, 1000);
                }
            });
        }
    }

    fn kit(&mut self, kit: &Kit) {
        if !self.most("formats", kit.formats.len(), MOST_KIT, "formats")
            | !self.most("lenses", kit.lenses.len(), MOST_KIT, "lenses")
        {
            return;
        }
        self.names("formats", "format", kit.formats.iter().map(|format| format.name.as_str()));
        for (index, format) in kit.formats.iter().enumerate() {
            let item = named("format", index, &format.name);
            self.about(item, &[PathStep::Field("formats"), PathStep::Item(index)], |check| check.format(format));
        }
        self.names("lenses", "lens", kit.lenses.iter().map(|lens| lens.name.as_str()));
        for (index, lens) in kit.lenses.iter().enumerate() {
            let item = named("lens", index, &lens.name);
            self.about(item, &[PathStep::Field("lenses"), PathStep::Item(index)], |check| check.lens(lens));
        }
    }

    fn format(&mut self, format: &Format) {
        let mm = (1.0, 1000.0);
        let good = self.number(&[PathStep::Field("width_mm")], format.width_mm, mm, "mm")
            & self.number(&[PathStep::Field("height_mm")], format.height_mm, mm, "mm");
        self.count("width_px", format.width_px, 16, 100_000);
        self.count("height_px", format.height_px, 16, 100_000);
        let counted = [format.width_px, format.height_px].iter().all(|count| (16..=100_000).contains(count));
        if good && format.height_mm > format.width_mm {
            self.error_with(
                "height_mm",
                &["width_mm"],
                format!("is {}", plain(format.height_mm)),
                format!("at most the width, {} mm: formats are given in landscape", plain(format.width_mm)),
            );
        } else if good && counted {
            let across = f64::from(format.width_px) / format.width_mm;
            let down = f64::from(format.height_px) / format.height_mm;
            if (across / down - 1.0).abs() > 0.02 {
                let square = (across * format.height_mm).round();
                self.error_with(
                    "height_px",
                    &["width_px", "width_mm", "height_mm"],
                    format!("is {}, which makes pixels oblong", format.height_px),
                    format!("{square} within 2 %"),
                );
            }
        }
    }

    fn lens(&mut self, lens: &Lens) {
        for (field, value, range) in lens.problems() {
            self.error(&[PathStep::Field(field)], format!("is {value}"), range, "");
        }
        self.most("marks_mm", lens.marks_mm.len(), 100, "marks");
        self.most("distortion", lens.distortion.len(), 100, "entries");
        for (index, measured) in lens.distortion.iter().take(100).enumerate() {
            let steps = [PathStep::Field("distortion"), PathStep::Item(index), PathStep::Field("focal_mm")];
            self.number(&steps, measured.focal_mm, (1.0, 5000.0), "mm");
            let entry = [PathStep::Field("distortion"), PathStep::Item(index), PathStep::Field("coefficients")];
            self.distortion(&entry, &measured.coefficients);
        }
    }

    /// Coefficients far beyond any lens's would lose every digit of the picture's rim.
    fn distortion(&mut self, steps: &[PathStep], distortion: &Distortion) {
        for (index, value) in distortion.coefficients().into_iter().enumerate() {
            let mut steps = steps.to_vec();
            steps.push(PathStep::Item(index));
            self.number(&steps, value, (-10_000.0, 10_000.0), "");
        }
    }

    fn stances(&mut self, site: &Site) {
        if !self.most("stances", site.stances.len(), MOST_STANCES, "stances") {
            return;
        }
        self.names("stances", "stance", site.stances.iter().map(|stance| stance.name.as_str()));
        if site.stances.is_empty() {
            return;
        }
        let kit = match &site.kit {
            Some(own) if own.formats.len() > MOST_KIT || own.lenses.len() > MOST_KIT => return,
            _ => site.kit_with(self.own.as_ref()),
        };
        let decks: BTreeMap<&str, bool> =
            site.blocks.iter().map(|block| (block.name.as_str(), block.deck.is_some())).collect();
        for (index, stance) in site.stances.iter().enumerate() {
            let item = named("stance", index, &stance.name);
            self.about(item, &[PathStep::Field("stances"), PathStep::Item(index)], |check| {
                check.stance(stance, Some((&kit, &decks)));
            });
        }
    }

    /// Where a stance stands and how it is turned.
    fn placing(&mut self, stance: &Stance) {
        self.position(&[PathStep::Field("at")], stance.at);
        self.length("height_m", stance.height_m, 0.0, HIGHEST_STANCE_M);
        if let Some(eye_m) = stance.eye_height_m {
            self.length("eye_height_m", eye_m, LOWEST_M, HIGHEST_M + HIGHEST_STANCE_M);
        }
        match stance.aim {
            Aim::Fill | Aim::Level | Aim::Rise => {}
            Aim::At(east, north, up) => self.within(&[PathStep::Field("aim")], |check| {
                for (index, value) in [east, north].into_iter().enumerate() {
                    check.number(&[PathStep::Item(index)], value, (-FARTHEST_M, FARTHEST_M), "m");
                }
                check.number(&[PathStep::Item(2)], up, (LOWEST_M, HIGHEST_M + LARGEST_M), "m");
            }),
            Aim::Turned { heading_deg, pitch_deg, roll_deg } => self.within(&[PathStep::Field("aim")], |check| {
                check.degrees("heading_deg", heading_deg, -360.0, 360.0);
                check.degrees("pitch_deg", pitch_deg, -90.0, 90.0);
                check.degrees("roll_deg", roll_deg, -180.0, 180.0);
            }),
        }
    }

    /// A stance, against the kit and decks that it may name where they are known.
    fn stance(&mut self, stance: &Stance, known: Option<(&Kit, &BTreeMap<&str, bool>)>) {
        self.placing(stance);
        if stance.eye_height_m.is_some() && stance.on.is_some() {
            self.warn(&[PathStep::Field("on")], "is not used where eye_height_m is given", "take one of the two out");
        }
        if let (Some(on), Some((_, decks))) = (stance.on.as_deref().filter(|on| *on != "ground"), known) {
            match decks.get(on) {
                Some(true) => {}
                Some(false) => self.error(
                    &[PathStep::Field("on")],
                    format!("is '{}', a block without a deck", short(on)),
                    "\"ground\" or a block with a deck",
                    "write deck: (access: Open), Ask or Closed in that block",
                ),
                None => {
                    let help = likely(on, decks.keys().copied());
                    self.error(
                        &[PathStep::Field("on")],
                        format!("is '{}', which no block is called", short(on)),
                        "\"ground\" or the name of a block with a deck",
                        help,
                    );
                }
            }
        }
        if let Some(Err(error)) = known.map(|(kit, _)| kit.format(&stance.format)) {
            self.error(
                &[PathStep::Field("format")],
                format!("is '{}'", short(&stance.format)),
                "a format of the kit",
                error.to_string(),
            );
        }
        if let Some(crop) = stance.crop {
            for (index, side) in [crop.0, crop.1].into_iter().enumerate() {
                self.number(&[PathStep::Field("crop"), PathStep::Item(index)], side, (0.1, 100.0), "");
            }
        }
        match known.map(|(kit, _)| kit.lens(&stance.lens)) {
            None => self.settings(stance, None),
            Some(Ok(lens)) => self.settings(stance, Some(&lens)),
            Some(Err(error)) => self.error(
                &[PathStep::Field("lens")],
                format!("is '{}'", short(&stance.lens)),
                "a lens of the kit",
                error.to_string(),
            ),
        }
        if let Some(distortion) = &stance.distortion {
            self.distortion(&[PathStep::Field("distortion")], distortion);
        }
        if let Some(note) = &stance.note
            && note.chars().count() > 4000
        {
            self.error(&[PathStep::Field("note")], "is very long", "at most 4000 characters", "");
        }
    }

    /// What is set on the lens, against what the lens can be set to. A lens that is itself at fault has been told of.
    fn settings(&mut self, stance: &Stance, lens: Option<&Lens>) {
        let sound = lens.is_some_and(|lens| lens.problems().is_empty());
        let of_lens = |what: &str| format!("{what} of '{}'", short(&stance.lens));
        let any = Lens::prime(50.0);
        let lens = lens.unwrap_or(&any);
        let mut against =
            |field: &'static str, value: f64, (low, high): (f64, f64), unit: &str, what: &str| {
                // A number out of all reason is refused whatever the lens.
                let bounds = if sound { (low, high) } else { (-1e6, 1e6) };
                if !(bounds.0..=bounds.1).contains(&value) {
                    let finding = self
                        .finding(&[PathStep::Field(field)], format!("is {}", plain(value)))
                        .allowed(format!("{}, {}", span_text(bounds.0, bounds.1, unit), of_lens(what)));
                    let mut finding = finding;
                    finding.hangs_on = vec![self.way_to(&[PathStep::Field("lens")])];
                    self.push(finding);
                }
            };
        against("f_number", stance.f_number, (lens.widest_f, lens.narrowest_f), "", "the f-numbers");
        if let Some(focal_mm) = stance.focal_mm {
            against("focal_mm", focal_mm, (lens.focal_mm, lens.longest_mm()), "mm", "the focal lengths");
        }
        if let Some(focus_m) = stance.focus_m {
            against("focus_m", focus_m, (lens.closest_focus_m(), FARTHEST_FOCUS_M), "m", "the distances");
        }
        if let Some(rise_mm) = stance.rise_mm {
            against("rise_mm", rise_mm, (-lens.rise_mm, lens.rise_mm), "mm", "the rise");
        }
        if let Some(shift_mm) = stance.shift_mm {
            let most = lens.shift_mm;
            against("lateral_shift_mm", shift_mm, (-most, most), "mm", "the shift");
        }
    }
}

/// The finding that a file is of another format than this program reads.
pub(super) fn wrong_format(format: u32) -> Finding {
    let finding = Finding::new("the site", vec![PathStep::Field("format")], format!("is {format}"));
    if format > SITE_FORMAT {
        finding.allowed(format!("up to {SITE_FORMAT}")).help(format!(
            "a newer program wrote this file, in format {format}; this is plumbsight {}, which reads format {SITE_FORMAT}",
            env!("CARGO_PKG_VERSION"),
        ))
    } else {
        finding.allowed(SITE_FORMAT.to_string())
    }
}

fn named(what: &str, index: usize, name: &str) -> String {
    if name.trim().is_empty() { format!("{what} {}", index + 1) } else { format!("{what} '{}'", short(name)) }
}

/// The one of some names that was probably meant, as a question.
pub(super) fn likely<'a>(given: &str, known: impl Iterator<Item = &'a str>) -> String {
    let given = given.to_lowercase();
    // A wrong name can be long; a right one is not.
    if given.chars().count() > LONGEST_NAME {
        return String::new();
    }
    known
        .map(|name| (strsim::damerau_levenshtein(&given, &name.to_lowercase()), name))
        .filter(|(edits, name)| *edits <= (name.chars().count().max(3)) / 3)
        .min()
        .map_or_else(String::new, |(_, name)| format!("did you mean '{}'?", short(name)))
}

fn span_text(low: f64, high: f64, unit: &str) -> String {
    let text = if low == high { plain(low) } else { format!("from {} to {}", plain(low), plain(high)) };
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}

/// A number as a person writes it.
fn plain(value: f64) -> String {
    if value == 0.0 {
        "0".into()
    } else if value.is_finite() && !(1e-4..1e9).contains(&value.abs()) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}
