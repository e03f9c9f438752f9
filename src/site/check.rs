//! Does a site make sense: are its sizes sizes, its outlines outlines, its names names?
//!
//! After this the mathematics may take every number as finite and every outline as simple. Nothing here looks at a text;
//! each finding names the way to the value it is about.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use crate::optics::Kit;

use super::problem::{Finding, PathStep, Severity};
use super::underlay::{FARTHEST_CORNER_M, METRES_PER_PIXEL, file_name_fault};
use super::value_tree::short;
use super::{Anchor, Block, Front, Ground, PlanPoint, SITE_FORMAT, Site, Stance, Sun, Terrain, TerrainGrid, Underlay};

/// How far from the anchor the tangent plane holds: beyond it the Earth has dropped 2 m.
pub const FARTHEST_M: f64 = 5000.0;
/// How many blocks a site may have.
pub const MOST_BLOCKS: usize = 100_000;
/// How many posts a terrain may have.
pub const MOST_POSTS: usize = 4_000_000;
/// How many triangles a site may be made of, at most and by the counts of its shapes.
pub const MOST_TRIANGLES: u64 = 20_000_000;

/// How far out terrain may reach: as far as its skirt does.
pub(super) const FARTHEST_TERRAIN_M: f64 = 20_000.0;
/// Heights that the Earth has.
pub(super) const LOWEST_M: f64 = -12_000.0;
pub(super) const HIGHEST_M: f64 = 9_000.0;
/// How high ground may lie, in metres above a datum or above the anchor.
pub const GROUND_HEIGHTS_M: RangeInclusive<f64> = LOWEST_M..=HIGHEST_M;
/// Sizes of what is built.
pub(super) const SMALLEST_M: f64 = 0.01;
pub(super) const LARGEST_M: f64 = 2000.0;
pub(super) const LARGEST_RADIUS_M: f64 = 1000.0;
/// A string course stands out no farther.
pub(super) const MOST_COURSE_M: f64 = 1.0;
/// How high above what it stands on a camera may be: on a pole, a lift or a kite.
pub(super) const HIGHEST_STANCE_M: f64 = 400.0;

pub(super) const MOST_CORNERS: usize = 100_000;
pub(super) const MOST_GROUNDS: usize = 10_000;
pub(super) const MOST_STANCES: usize = 2000;
pub(super) const MOST_KIT: usize = 200;
pub(super) const LONGEST_NAME: usize = 120;
/// How far apart the parts of one subject are thought to be at most.
pub(super) const SUBJECT_SPREAD_M: f64 = 500.0;
/// How many findings are kept; the rest is counted.
pub(super) const MOST_FINDINGS: usize = 4000;

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
/// let problem = check_site(&site)[0].to_string();
/// assert_eq!(problem, "block 'stack': blocks[0].shape.depth_m is -4; allowed is from 0.01 to 2000 m");
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

pub(super) struct Check {
    pub(super) found: Vec<Finding>,
    pub(super) more: usize,
    /// Where the check is.
    pub(super) way: Vec<PathStep>,
    /// What that is called.
    pub(super) item: String,
    /// The person's own kit.
    pub(super) own: Option<Kit>,
}

impl Check {
    pub(super) fn about_the(what: &str) -> Self {
        Self { found: Vec::new(), more: 0, way: Vec::new(), item: format!("the {what}"), own: None }
    }

    pub(super) fn way_to(&self, steps: &[PathStep]) -> Vec<PathStep> {
        self.way.iter().chain(steps).copied().collect()
    }

    pub(super) fn finding(&self, steps: &[PathStep], fault: impl Into<String>) -> Finding {
        Finding::new(self.item.clone(), self.way_to(steps), fault)
    }

    pub(super) fn push(&mut self, finding: Finding) {
        if self.found.len() < MOST_FINDINGS {
            self.found.push(finding);
        } else {
            self.more += 1;
        }
    }

    pub(super) fn error(
        &mut self,
        steps: &[PathStep],
        fault: impl Into<String>,
        allowed: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.push(self.finding(steps, fault).allowed(allowed).help(help));
    }

    pub(super) fn warn(&mut self, steps: &[PathStep], fault: impl Into<String>, help: impl Into<String>) {
        let mut finding = self.finding(steps, fault).help(help);
        finding.severity = Severity::Warning;
        self.push(finding);
    }

    /// An error that is no news where one of the other fields is no value at all.
    pub(super) fn error_with(&mut self, field: &'static str, others: &[&'static str], fault: String, allowed: String) {
        let mut finding = self.finding(&[PathStep::Field(field)], fault).allowed(allowed);
        finding.hangs_on = others.iter().map(|other| self.way_to(&[PathStep::Field(other)])).collect();
        self.push(finding);
    }

    pub(super) fn within<T>(&mut self, steps: &[PathStep], check: impl FnOnce(&mut Self) -> T) -> T {
        let depth = self.way.len();
        self.way.extend_from_slice(steps);
        let result = check(self);
        self.way.truncate(depth);
        result
    }

    pub(super) fn about(&mut self, item: String, steps: &[PathStep], check: impl FnOnce(&mut Self)) {
        let before = std::mem::replace(&mut self.item, item);
        self.within(steps, check);
        self.item = before;
    }

    /// Whether a number is finite and within its range.
    pub(super) fn number(&mut self, steps: &[PathStep], value: f64, (low, high): (f64, f64), unit: &str) -> bool {
        let good = (low..=high).contains(&value);
        if !good {
            self.error(steps, format!("is {}", plain(value)), span_text(low, high, unit), "");
        }
        good
    }

    pub(super) fn length(&mut self, field: &'static str, value_m: f64, low: f64, high: f64) -> bool {
        self.number(&[PathStep::Field(field)], value_m, (low, high), "m")
    }

    pub(super) fn degrees(&mut self, field: &'static str, value: f64, low: f64, high: f64) {
        self.number(&[PathStep::Field(field)], value, (low, high), "degrees");
    }

    pub(super) fn count(&mut self, field: &'static str, value: u32, low: u32, high: u32) -> bool {
        let good = (low..=high).contains(&value);
        if !good {
            self.error(&[PathStep::Field(field)], format!("is {value}"), format!("from {low} to {high}"), "");
        }
        good
    }

    pub(super) fn most(&mut self, field: &'static str, given: usize, most: usize, what: &str) -> bool {
        let good = given <= most;
        if !good {
            self.error(&[PathStep::Field(field)], format!("has {given} {what}"), format!("at most {most}"), "");
        }
        good
    }

    /// A plan position near enough to the anchor.
    pub(super) fn position(&mut self, steps: &[PathStep], at: PlanPoint) -> bool {
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
    pub(super) fn words(&mut self, field: &'static str, text: &str, most: usize) {
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
    pub(super) fn names<'a>(&mut self, list: &'static str, what: &str, names: impl Iterator<Item = &'a str>) {
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

    pub(super) fn site(&mut self, site: &Site) {
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
        if let Some(front) = &site.front {
            self.about("the front".into(), &[PathStep::Field("front")], |check| check.front(front, &site.blocks));
        }
        if let Some(underlay) = &site.underlay {
            self.about("the picture from above".into(), &[PathStep::Field("underlay")], |check| {
                check.underlay(underlay)
            });
        }
        self.blocks(site);
        self.grounds(&site.grounds);
        if let Some(kit) = &site.kit {
            self.within(&[PathStep::Field("kit")], |check| check.kit(kit));
        }
        self.stances(site);
    }

    fn front(&mut self, front: &Front, blocks: &[Block]) {
        match front {
            Front::Any => {}
            Front::Bearing(toward_deg) => self.degrees("Bearing", *toward_deg, -360.0, 360.0),
            Front::Face { block, toward_deg } => {
                self.degrees("toward_deg", *toward_deg, -360.0, 360.0);
                let known = blocks.iter().find(|known| known.name == *block);
                if known.is_some_and(|known| known.subject) {
                    return;
                }
                let subjects = || blocks.iter().filter(|block| block.subject).map(|block| block.name.as_str());
                let fault =
                    if known.is_some() { "is a block that is not the subject" } else { "is the name of no block" };
                self.error(
                    &[PathStep::Field("block")],
                    format!("'{}' {fault}", short(block)),
                    "the name of a block with subject: true",
                    likely(block, subjects()),
                );
            }
        }
    }

    pub(super) fn underlay(&mut self, underlay: &Underlay) {
        if let Some(fault) = file_name_fault(&underlay.file) {
            self.error(
                &[PathStep::Field("file")],
                fault,
                "the name of a file, without folders",
                "put the picture beside the site's file, and write its name alone",
            );
        }
        for value in [underlay.at.0, underlay.at.1] {
            let within = (-FARTHEST_CORNER_M, FARTHEST_CORNER_M);
            if !self.number(&[PathStep::Field("at")], value, within, "m east and north") {
                break;
            }
        }
        self.length("metres_per_pixel", underlay.metres_per_pixel, METRES_PER_PIXEL.0, METRES_PER_PIXEL.1);
        self.degrees("turned_deg", underlay.turned_deg, -360.0, 360.0);
        self.number(&[PathStep::Field("strength")], underlay.strength, (0.0, 1.0), "");
    }

    pub(super) fn anchor(&mut self, anchor: &Anchor) {
        self.degrees("latitude_deg", anchor.latitude_deg, -90.0, 90.0);
        self.degrees("longitude_deg", anchor.longitude_deg, -180.0, 180.0);
        self.length("height_m", anchor.height_m, LOWEST_M, HIGHEST_M);
        if let Some(datum) = &anchor.vertical_datum {
            self.words("vertical_datum", datum, LONGEST_NAME);
        }
    }

    /// IANA names are letters, digits and a few signs, in parts with a slash between them; whether the zone exists is
    /// asked where a time is wanted.
    pub(super) fn time_zone(&mut self, zone: &str) {
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

    pub(super) fn sun(&mut self, sun: &Sun) {
        self.degrees("azimuth_deg", sun.azimuth_deg, -360.0, 360.0);
        self.degrees("altitude_deg", sun.altitude_deg, -90.0, 90.0);
    }

    pub(super) fn terrain(&mut self, terrain: &Terrain) {
        match terrain {
            Terrain::Plane { height_m } => {
                self.length("height_m", *height_m, LOWEST_M, HIGHEST_M);
            }
            Terrain::Grid(grid) => self.grid(grid),
        }
    }

    pub(super) fn grid(&mut self, grid: &TerrainGrid) {
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

    pub(super) fn grounds(&mut self, grounds: &[Ground]) {
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

pub(super) fn named(what: &str, index: usize, name: &str) -> String {
    if name.trim().is_empty() { format!("{what} {}", index + 1) } else { format!("{what} '{}'", short(name)) }
}

/// The one of some names that was probably meant, as a question.
pub(crate) fn likely<'a>(given: &str, known: impl Iterator<Item = &'a str>) -> String {
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

pub(super) fn span_text(low: f64, high: f64, unit: &str) -> String {
    let text = if low == high { plain(low) } else { format!("from {} to {}", plain(low), plain(high)) };
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}

/// A number as a person writes it.
pub(super) fn plain(value: f64) -> String {
    if value == 0.0 {
        "0".into()
    } else if value.is_finite() && !(1e-4..1e9).contains(&value.abs()) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}
