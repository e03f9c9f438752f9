//! What does the site look like from above, with the camera's field of view in it?

use std::collections::BTreeSet;

use crate::angle::Angle;
use crate::pose::WorldPoint;
use crate::site::{Access, Block, PlanPoint, Terrain};
use crate::stance::Standing;
use crate::survey::{Measured, Survey};
use crate::tolerance::{EXACTLY_M, FARTHEST_M};
use crate::units::{Units, digits_of};

use super::canvas::{Canvas, plan_of};
use super::clip::{beyond_side, hatching, inmost, ring_within};
use super::contours::Heights;
use super::disc::disc;
use super::labels::{Label, Labels};
use super::plan_view::PlanView;
use super::{Align, BlockShape, CanvasPoint, Drawing, Mark, Pen, Role, Room, SiteShapes, Text, Tint, Weight};

/// Field of view drawn no wider than this to either side.
const WIDEST: Angle = Angle::from_radians(1.55);
/// No more blocks are named than this.
const MOST_NAMED: usize = 24;
/// A block must be larger on the canvas to have its name written.
const NAMED_PT: f64 = 16.0;
/// From line to line of a hatching.
const HATCH_PT: f64 = 7.0;
/// A block that is smaller on the canvas is a spot without an outline.
const SPOT_PT: f64 = 3.0;
/// Labels avoid the outlines of blocks while there are fewer: thousands of houses leave no line unhidden, and take their time
/// to be asked.
const MOST_AVOIDED: usize = 400;

/// A pinned stance on a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// What it is called.
    pub name: String,
    /// Where its feet are.
    pub at: PlanPoint,
    /// Where it looks.
    pub heading: Option<Angle>,
    /// Its number, where the stances are numbered.
    pub number: Option<u32>,
}

/// What a plan is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct PlanRequest<'a> {
    /// The site.
    pub survey: &'a Survey,
    /// Its shapes, made once.
    pub shapes: &'a SiteShapes,
    /// The stance whose field of view is drawn.
    pub measured: Option<&'a Measured>,
    /// Others.
    pub pins: &'a [Pin],
    /// Ways that are walked, each from its beginning to its end.
    pub walks: &'a [Vec<PlanPoint>],
    /// What is shown.
    pub view: PlanView,
    /// The unit of its lengths.
    pub units: Units,
    /// Whether a title and a note stand at the top.
    pub titled: bool,
    /// What it says beside the site's own names.
    pub labels: PlanLabels<'a>,
}

/// What a plan says beside the site's own names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlanLabels<'a> {
    /// What water is called.
    pub water: &'a str,
    /// Whether access stands beside the names of grounds and decks; their outlines tell it too.
    pub access: bool,
}

impl Default for PlanLabels<'_> {
    fn default() -> Self {
        Self { water: "water", access: true }
    }
}

/// What a plan shows of the site alone, without stances: drawn again only when another part of the site is shown.
#[derive(Clone, Debug)]
pub struct SitePlan {
    view: PlanView,
    /// Ground, water, and who may stand where: under a field of view.
    below: Vec<Mark>,
    /// Blocks and decks: over it.
    above: Vec<Mark>,
    /// Where contours might have their height written.
    heights: Vec<(CanvasPoint, String)>,
    /// Where water might be named.
    water: Option<CanvasPoint>,
    /// Outlines that labels avoid.
    outlines: Vec<Vec<CanvasPoint>>,
    /// Blocks that are large enough for a name, the largest first.
    named: Vec<usize>,
}

/// What a plan shows of stances on a site.
#[derive(Clone, Debug)]
pub struct StancePlan {
    /// The field of view, over the ground and under the blocks.
    pub field: Vec<Mark>,
    /// Stances, names, title, compass and scale bar: over all.
    pub over: Vec<Mark>,
    /// The plan in words, for a screen reader.
    pub words: String,
}

/// The plan.
pub fn plan(request: &PlanRequest<'_>) -> Drawing {
    let site = SitePlan::of(request);
    let stance = site.with(request);
    let (width_pt, height_pt) = (site.view.width_pt, site.view.height_pt);
    let marks = [site.below, stance.field, site.above, stance.over].concat();
    Drawing { width_pt, height_pt, marks, plan: Some(site.view), words: stance.words }
}

impl SitePlan {
    /// What a plan shows of the request's site; the rest of it plays no part.
    pub fn of(request: &PlanRequest<'_>) -> Self {
        let canvas = Canvas::new(request.view.width_pt, request.view.height_pt);
        let view = request.view.sized(canvas.drawing.width_pt, canvas.drawing.height_pt).clamped();
        let mut plan = Self {
            view,
            below: Vec::new(),
            above: Vec::new(),
            heights: Vec::new(),
            water: None,
            outlines: Vec::new(),
            named: Vec::new(),
        };
        let mut site = SiteCanvas { request, view, canvas, plan: &mut plan };
        site.ground();
        site.grounds();
        let below = std::mem::take(&mut site.canvas.drawing.marks);
        site.blocks();
        site.outlines();
        let above = site.canvas.drawing.marks;
        (plan.below, plan.above) = (below, above);
        plan
    }

    /// What is shown of the world.
    pub const fn view(&self) -> &PlanView {
        &self.view
    }

    /// What lies under a field of view.
    pub fn below(&self) -> &[Mark] {
        &self.below
    }

    /// What lies over a field of view.
    pub fn above(&self) -> &[Mark] {
        &self.above
    }

    /// What is drawn for the request's stances on this site.
    pub fn with(&self, request: &PlanRequest<'_>) -> StancePlan {
        let canvas = Canvas::new(self.view.width_pt, self.view.height_pt);
        let labels = Labels::on(&canvas, Vec::new());
        let mut plan = PlanDrawing { request, site: self, view: self.view, canvas, labels };
        if let Some(measured) = request.measured {
            plan.field(measured);
        }
        plan.walks();
        let field = std::mem::take(&mut plan.canvas.drawing.marks);
        plan.furniture();
        plan.stances();
        plan.names();
        StancePlan { field, words: plan.words(), over: plan.canvas.drawing.marks }
    }
}

/// The site's part of a plan while it is drawn.
struct SiteCanvas<'a> {
    request: &'a PlanRequest<'a>,
    view: PlanView,
    canvas: Canvas,
    plan: &'a mut SitePlan,
}

impl SiteCanvas<'_> {
    /// Contours and water.
    fn ground(&mut self) {
        let terrain = &self.request.survey.model.site.terrain;
        let heights = Heights::over(terrain, self.view.bounds(), 4.0 * self.view.metres_per_point);
        if let Some(heights) = &heights {
            self.contours(heights);
        }
        self.water(heights);
    }

    /// Contours, with the height beside every fifth.
    fn contours(&mut self, heights: &Heights) {
        let units = self.request.units;
        let Some(interval_m) = heights.interval_m(units) else { return };
        let digits = digits_of(units.from_metres(5.0 * interval_m));
        let (low, high) = heights.range_m();
        for step in (low / interval_m).ceil() as i64..=(high / interval_m).floor() as i64 {
            let level_m = step as f64 * interval_m;
            let fifth = step % 5 == 0;
            for contour in heights.lines(level_m) {
                let points = self.view.ring(&contour.points);
                if fifth && points.len() > 20 {
                    let text = format!("{:.digits$}", units.from_metres(level_m) + 0.0);
                    self.plan.heights.push((points[points.len() / 3], text));
                }
                self.canvas.line(&points, Role::Contour.pen(if fifth { 1.1 } else { 0.6 }));
            }
        }
    }

    /// Water with its shore.
    fn water(&mut self, heights: Option<Heights>) {
        let site = &self.request.survey.model.site;
        let Some(water_m) = site.water_level_m else { return };
        let rings: Vec<Vec<CanvasPoint>> = match (&site.terrain, heights) {
            (Terrain::Plane { height_m }, _) if *height_m < water_m => {
                let whole = Room { left: 0.0, top: 0.0, right: self.view.width_pt, bottom: self.view.height_pt };
                vec![whole.grown(20.0).corners()]
            }
            (_, Some(heights)) => {
                let shores = heights.walled().lines(water_m);
                shores.iter().filter(|shore| shore.closed).map(|shore| self.view.ring(&shore.points)).collect()
            }
            _ => Vec::new(),
        };
        if rings.is_empty() {
            return;
        }
        self.canvas.area(&rings, Some(Role::Water.thinned(0.85)), Some(Role::Soft.pen(0.7)));
        let (_, top) = self.view.point_of((0.0, 0.0));
        let clipped: Vec<_> = rings.iter().map(|ring| ring_within(ring, &self.canvas.bounds)).collect();
        for [a, b] in hatching(&clipped, (1.0, 0.0), 2.0 * HATCH_PT, top) {
            self.canvas.line(&[a, b], Role::Contour.dashed(0.5));
        }
        self.plan.water = inmost(&clipped).filter(|(_, from_sides)| *from_sides > 10.0).map(|(at, _)| at);
    }

    /// Grounds by access: open plain, ask outlined, closed hatched.
    fn grounds(&mut self) {
        for ground in &self.request.survey.model.site.grounds {
            let ring = self.view.ring(&ground.outline);
            let rings = [ring_within(&ring, &self.canvas.bounds)];
            match ground.access {
                Access::Open => self.canvas.area(&[ring], None, Some(Role::Open.pen(0.9))),
                Access::Ask => self.canvas.area(&[ring], Some(Role::Ask.thinned(0.07)), Some(Role::Ask.pen(1.3))),
                Access::Closed => {
                    let slant = std::f64::consts::FRAC_1_SQRT_2;
                    // The hatching lies on the ground and moves with it.
                    let (x, y) = self.view.point_of((0.0, 0.0));
                    let first = y * slant + x * slant;
                    for [a, b] in hatching(&rings, (slant, -slant), HATCH_PT, first) {
                        self.canvas.line(&[a, b], Role::Soft.pen(0.5));
                    }
                    self.canvas.area(&[ring], None, Some(Role::Soft.dashed(1.0)));
                }
            }
        }
    }

    /// Blocks, decks over them, and the subject last, so that nothing lies over it.
    fn blocks(&mut self) {
        let model = &self.request.survey.model;
        let drawn = || model.site.blocks.iter().zip(&self.request.shapes.blocks);
        for (_, shape) in drawn().filter(|(block, _)| !block.subject) {
            self.block(shape);
        }
        for deck in &model.decks {
            let pen = match deck.access {
                Access::Open => Role::Open.pen(1.4),
                Access::Ask => Role::Ask.pen(1.6),
                Access::Closed => Role::Soft.dashed(1.2),
            };
            let rings: Vec<_> =
                std::iter::once(&deck.outline).chain(&deck.holes).map(|ring| self.view.ring(ring)).collect();
            self.canvas.area(&rings, None, Some(pen));
        }
        for (_, shape) in drawn().filter(|(block, _)| block.subject) {
            self.outlined(shape, Role::Side.thinned(0.14), Role::Side.pen(1.8), Role::Side.pen(0.6));
        }
    }

    /// A block that is no subject; where it is very small, a spot.
    fn block(&mut self, shape: &BlockShape) {
        if self.side_pt(shape) < SPOT_PT {
            let rings: Vec<_> = shape.rings.iter().map(|ring| self.view.ring(ring)).collect();
            self.canvas.area(&rings, Some(Role::Ink.thinned(0.55)), None);
        } else {
            self.outlined(shape, Role::Well.thinned(0.94), Role::Ink.pen(0.9), Role::Ink.pen(0.4));
        }
    }

    fn outlined(&mut self, shape: &BlockShape, fill: Tint, outline: Pen, crease: Pen) {
        let rings: Vec<_> = shape.rings.iter().map(|ring| self.view.ring(ring)).collect();
        self.canvas.area(&rings, Some(fill), Some(outline));
        for line in &shape.creases {
            self.canvas.line(&line.map(|end| self.view.point_of(end)), crease);
        }
    }

    /// What names need to know of blocks.
    fn outlines(&mut self) {
        let request = self.request;
        for ring in request.shapes.blocks.iter().flat_map(|shape| &shape.rings) {
            let mut ring = self.view.ring(ring);
            ring.extend(ring.first().copied());
            self.plan.outlines.extend(super::clip::parts_within(&ring, &self.canvas.bounds));
            if self.plan.outlines.len() >= MOST_AVOIDED {
                self.plan.outlines.clear();
                break;
            }
        }
        let model = &request.survey.model;
        let has_deck: BTreeSet<usize> = model.decks.iter().map(|deck| deck.block).collect();
        let mut named: Vec<(f64, usize)> = request
            .shapes
            .blocks
            .iter()
            .zip(&model.site.blocks)
            .enumerate()
            .filter(|(index, (_, block))| !block.subject && block.is_named() && !has_deck.contains(index))
            .filter(|(_, (shape, _))| !shape.rings.is_empty() && self.canvas.bounds.holds(self.middle(shape)))
            .map(|(index, (shape, _))| (self.side_pt(shape), index))
            .filter(|(side_pt, _)| *side_pt > NAMED_PT)
            .collect();
        named.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        named.truncate(MOST_NAMED);
        self.plan.named = named.into_iter().map(|(_, index)| index).collect();
    }

    fn middle(&self, shape: &BlockShape) -> CanvasPoint {
        let (low, high) = shape.bounds;
        self.view.point_of((0.5 * (low.0 + high.0), 0.5 * (low.1 + high.1)))
    }

    /// The longer side of a block on the canvas.
    fn side_pt(&self, shape: &BlockShape) -> f64 {
        let (low, high) = shape.bounds;
        (high.0 - low.0).max(high.1 - low.1) / self.view.metres_per_point
    }
}

/// A plan while its stances are drawn.
struct PlanDrawing<'a> {
    request: &'a PlanRequest<'a>,
    site: &'a SitePlan,
    view: PlanView,
    canvas: Canvas,
    labels: Labels,
}

impl PlanDrawing<'_> {
    fn label(&mut self, label: &Label<'_>) -> bool {
        self.labels.write(&mut self.canvas, label)
    }

    /// A contour's height, written on it where there is room.
    fn height(&mut self, at: CanvasPoint, text: &str) {
        let mut written = Text::caption(text, at, Align::Middle, Role::Soft);
        written.plate = true;
        if self.labels.is_free(&written.room()) {
            self.labels.take(written.room());
            self.canvas.text(written);
        }
    }

    /// The field of view and, in it, what is sharp.
    fn field(&mut self, measured: &Measured) {
        let Some(field) = FieldOfView::of(measured, &self.view) else { return };
        let outline = field.outline();
        let drawn = self.view.ring(&outline);
        self.canvas.area(&[drawn], Some(Role::Ink.thinned(0.05)), None);
        let mut zone = beyond_side(&outline, |place| field.depth_m(place) - field.near_m);
        zone = beyond_side(&zone, |place| field.far_m.min(1e9) - field.depth_m(place));
        if zone.len() >= 3 {
            let zone = self.view.ring(&zone);
            self.canvas.area(&[zone], Some(Role::Ink.thinned(0.06)), None);
        }
        self.field_edges(&field);
        for limit_m in [field.near_m, field.far_m].into_iter().filter(|limit_m| *limit_m < field.reach_m) {
            let line = [field.left, field.right].map(|turn| self.view.point_of(field.at_depth(turn, limit_m)));
            self.canvas.line(&line, Role::Soft.dashed(0.9));
        }
    }

    /// The left and right edges of the field of view, and the lens axis.
    fn field_edges(&mut self, field: &FieldOfView) {
        let edge = Role::Soft.pen(0.8);
        for (turn, pen) in [(field.left, edge), (field.right, edge), (Angle::ZERO, Role::Soft.dotted(0.8))] {
            let line = [plan_of(&field.eye), field.towards(turn)].map(|place| self.view.point_of(place));
            self.canvas.line(&line, pen);
            self.labels.keep_clear(&line);
        }
    }

    /// The ways that are walked, over the ground and under the blocks.
    fn walks(&mut self) {
        for walk in self.request.walks {
            let line: Vec<CanvasPoint> = walk.iter().map(|&place| self.view.point_of(place)).collect();
            self.canvas.line(&line, Role::Ink.dashed(1.4));
            for part in line.windows(2) {
                self.labels.keep_clear(&[part[0], part[1]]);
            }
        }
    }

    /// The pinned stances, and the camera over them.
    fn stances(&mut self) {
        for pin in self.request.pins.iter().filter(|pin| pin.number.is_none()) {
            self.pin(pin);
        }
        self.numbered();
        let Some(measured) = self.request.measured else { return };
        let at = self.view.point_of(plan_of(&measured.standing.pose.eye));
        self.labels.take(around(at, 5.0));
        self.tolerance(measured, at);
        self.canvas.circle(at, 5.0, Some(Role::Ink.full()), Some(Role::Panel.pen(1.2)));
    }

    /// How far one may stand off: a dashed strip along the line to the subject, and an arrow each way with its length.
    fn tolerance(&mut self, measured: &Measured, at: CanvasPoint) {
        let (Some(tolerance), Ok(outline)) = (&measured.tolerance, &measured.account.outline) else { return };
        if !self.canvas.bounds.holds(at) || self.view.width_pt < 160.0 {
            return;
        }
        let (sine, cosine) = outline.middle().sin_cos();
        // Ahead on the canvas, whose y runs down.
        let (ahead, right) = ((sine, -cosine), (cosine, sine));
        let off = |(x, y): (f64, f64), by_pt: f64| (at.0 + x * by_pt, at.1 + y * by_pt);
        let opposite = |(x, y): (f64, f64)| (-x, -y);
        let ways = [
            (ahead, tolerance.forward_m),
            (right, tolerance.right_m),
            (opposite(ahead), tolerance.back_m),
            (opposite(right), tolerance.left_m),
        ];
        let metres_per_point = self.view.metres_per_point;
        let reach_pt = |far_m: Option<f64>| far_m.unwrap_or(FARTHEST_M) / metres_per_point;
        let [front, right_pt, rear, left_pt] = ways.map(|(_, far_m)| reach_pt(far_m));
        let corner = |along: f64, across: f64| {
            (at.0 + ahead.0 * along + right.0 * across, at.1 + ahead.1 * along + right.1 * across)
        };
        let mut strip =
            vec![corner(front, -left_pt), corner(front, right_pt), corner(-rear, right_pt), corner(-rear, -left_pt)];
        strip.extend(strip.first().copied());
        self.canvas.line(&strip, Role::Ink.dashed(0.9));
        for (way, far_m) in ways {
            let Some(far_m) = far_m else { continue };
            // A very short arrow would be a speck.
            let tip = off(way, reach_pt(Some(far_m)).max(15.0));
            self.canvas.arrow(at, tip, Role::Ink.pen(1.3));
            // Nobody stands more exactly than this.
            let text = self.request.units.offset(far_m.max(EXACTLY_M));
            let mut label = Label::beside(&text, tip, (3.0, 3.0), Role::Ink);
            label.strong = true;
            self.label(&label);
        }
    }

    fn pin(&mut self, pin: &Pin) {
        let at = self.view.point_of(pin.at);
        let radius_pt = pin.radius_pt();
        if let Some(heading) = pin.heading {
            let (sine, cosine) = heading.sin_cos();
            let tip = |reach: f64| (at.0 + reach * sine, at.1 - reach * cosine);
            self.canvas.line(&[tip(radius_pt), tip(radius_pt + 6.0)], Role::Ink.pen(1.4));
        }
        self.canvas.circle(at, radius_pt, Some(Role::Panel.full()), Some(Role::Ink.pen(1.2)));
        self.labels.take(around(at, radius_pt));
    }

    /// Discs with their numbers; where others stand already, beside their places, with a line from each.
    fn numbered(&mut self) {
        let mut discs = Vec::new();
        for pin in self.request.pins {
            let (at, radius_pt) = (self.view.point_of(pin.at), pin.radius_pt());
            let Some(number) = pin.number.filter(|_| self.canvas.bounds.holds(at)) else { continue };
            let rings = [20.0, 28.0, 38.0, 50.0].into_iter().flat_map(|reach_pt| {
                (0..16).map(move |step| {
                    // Downwards first, away from a subject that stands to the north of most cameras.
                    let turn = std::f64::consts::TAU * (f64::from(step) * 5.0 % 16.0 + 4.0) / 16.0;
                    (at.0 + reach_pt * turn.cos(), at.1 + reach_pt * turn.sin())
                })
            });
            let free = |place: &CanvasPoint| self.labels.is_free(&around(*place, radius_pt));
            let centre = std::iter::once(at).chain(rings).find(free).unwrap_or(at);
            if centre != at {
                self.canvas.line(&[at, centre], Role::Ink.pen(0.9));
                self.canvas.circle(at, 2.2, Some(Role::Ink.full()), None);
                self.labels.take(around(at, 2.2));
            }
            self.labels.take(around(centre, radius_pt));
            discs.extend(disc(number as usize, centre, radius_pt));
        }
        // Over all lines.
        self.canvas.drawing.marks.extend(discs);
    }

    /// Title, compass with the sun, scale bar; a small plan has its title alone.
    fn furniture(&mut self) {
        if self.request.titled {
            self.title();
        }
        if self.view.width_pt < 120.0 || self.view.height_pt < 100.0 {
            return;
        }
        self.compass();
        self.scale_bar();
    }

    fn title(&mut self) {
        let distance_m = self.request.measured.and_then(|measured| measured.account.distance_m);
        let note = distance_m.map_or_else(String::new, |distance_m| {
            format!("{} from {}", self.request.units.length(distance_m, 1), subject_words(self.request.survey))
        });
        for room in self.canvas.title("Plan", &note) {
            self.labels.take(room);
        }
    }

    fn compass(&mut self) {
        let (ring, centre) = (13.0, (self.view.width_pt - 27.0, self.view.height_pt - 27.0));
        let room = around(centre, ring + 9.0);
        self.canvas.circle(centre, ring + 8.0, Some(Role::Panel.thinned(0.85)), None);
        self.canvas.circle(centre, ring, None, Some(Role::Line.pen(1.0)));
        self.canvas.arrow((centre.0, centre.1 + ring - 3.0), (centre.0, centre.1 - ring + 2.0), Role::Ink.pen(1.3));
        let mut north = Text::caption("N", (centre.0, centre.1 - ring - 5.0), Align::Middle, Role::Ink);
        north.weight = Weight::Semibold;
        self.canvas.text(north);
        self.labels.take(Room { top: room.top - 6.0, ..room });
        let sun = self.request.measured.and_then(|measured| measured.sun).or(self.request.survey.model.site.sun);
        if let Some(sun) = sun.filter(|sun| sun.altitude_deg > 0.0) {
            let (sine, cosine) = sun.azimuth_deg.to_radians().sin_cos();
            let at = |reach: f64| (centre.0 + reach * sine, centre.1 - reach * cosine);
            // Light comes in from the ring.
            self.canvas.arrow(at(ring - 4.0), at(4.0), Role::Soft.pen(0.9));
            self.canvas.circle(at(ring), 3.4, Some(Role::Panel.full()), Some(Role::Soft.pen(1.2)));
            self.canvas.circle(at(ring), 1.0, Some(Role::Soft.full()), None);
        }
    }

    fn scale_bar(&mut self) {
        let units = self.request.units;
        let metres_per_point = self.view.metres_per_point;
        let Some(length_m) = units.round_length_m(0.11 * self.view.width_pt * metres_per_point) else { return };
        let length_pt = length_m / metres_per_point;
        let (left, y) = (14.0, self.view.height_pt - 14.0);
        let text = if units == Units::M && length_m < 1.0 {
            format!("{:.0} cm", 100.0 * length_m)
        } else {
            units.length(length_m, digits_of(units.from_metres(length_m)))
        };
        let text = Text::caption(text, (left + length_pt + 6.0, y - 2.0), Align::Start, Role::Soft);
        let room = Room { left: left - 6.0, top: y - 11.0, right: text.room().right + 2.0, bottom: y + 6.0 };
        self.canvas.area(&[room.corners()], Some(Role::Panel.thinned(0.85)), None);
        let bar = [(left, y - 4.0), (left, y), (left + length_pt, y), (left + length_pt, y - 4.0)];
        self.canvas.line(&bar, Role::Ink.pen(1.2));
        self.canvas.text(text);
        self.labels.take(room);
    }

    /// Names, the most important first: the subject, stances, decks, grounds, then other blocks that are large enough.
    fn names(&mut self) {
        for outline in &self.site.outlines {
            self.labels.keep_clear(outline);
        }
        self.name_subject();
        self.name_pins();
        self.name_decks();
        self.name_grounds();
        if let Some(at) = self.site.water {
            self.label(&Label { hides: 6, ..Label::upon(self.request.labels.water, at, Role::Soft) });
        }
        self.name_blocks();
        for (at, text) in &self.site.heights {
            self.height(*at, text);
        }
    }

    fn name_subject(&mut self) {
        let survey = self.request.survey;
        let Ok(subject) = &survey.subject else { return };
        let Some((at, clear_pt)) = self.middle_of(subject.body) else { return };
        let body = &survey.model.site.blocks[subject.body];
        let text = if body.is_named() { body.name.as_str() } else { "subject" };
        let role = Role::Side;
        let upon = clear_pt.0 > 0.5 * Text::caption(text, at, Align::Middle, role).width_pt() + 8.0;
        self.label(&Label { text, at, clear_pt, role, strong: true, upon, hides: usize::MAX });
    }

    /// Of several at one place only the first is named; where the camera stands, none.
    fn name_pins(&mut self) {
        let model = &self.request.survey.model;
        let camera = self.request.measured.map(|measured| self.view.point_of(plan_of(&measured.standing.pose.eye)));
        let mut marks: Vec<CanvasPoint> = camera.into_iter().collect();
        for pin in self.request.pins {
            // Numbers say elsewhere what they are; a deck's own name stands beside it already.
            if pin.number.is_some() || model.decks.iter().any(|deck| model.site.blocks[deck.block].name == pin.name) {
                continue;
            }
            let at = self.view.point_of(pin.at);
            if marks.iter().any(|mark| (mark.0 - at.0).hypot(mark.1 - at.1) < 4.0) {
                continue;
            }
            marks.push(at);
            let clear_pt = (pin.radius_pt(), pin.radius_pt());
            self.label(&Label::beside(&pin.name, at, clear_pt, Role::Ink));
        }
    }

    fn name_decks(&mut self) {
        let model = &self.request.survey.model;
        let mut decks: Vec<(usize, Access)> = model.decks.iter().map(|deck| (deck.block, deck.access)).collect();
        decks.dedup_by_key(|deck| deck.0);
        for &(index, access) in &decks {
            let Some((at, clear_pt)) = self.middle_of(index) else { continue };
            let (text, role) = self.with_access(&model.site.blocks[index].name, access);
            self.label(&Label::beside(&text, at, clear_pt, role));
        }
    }

    fn name_grounds(&mut self) {
        for ground in &self.request.survey.model.site.grounds {
            let ring = ring_within(&self.view.ring(&ground.outline), &self.canvas.bounds);
            let Some((at, from_sides)) = inmost(&[ring]) else { continue };
            if from_sides < 8.0 {
                continue;
            }
            let (text, role) = self.with_access(&ground.name, ground.access);
            self.label(&Label { hides: 6, ..Label::upon(&text, at, role) });
        }
    }

    fn name_blocks(&mut self) {
        for &index in &self.site.named {
            let Some((at, clear_pt)) = self.middle_of(index) else { continue };
            let text = &self.request.survey.model.site.blocks[index].name;
            let room = Text::caption(text.clone(), at, Align::Middle, Role::Soft).room();
            let upon = 0.5 * (room.right - room.left) < clear_pt.0;
            self.label(&Label { upon, hides: 1, ..Label::beside(text, at, clear_pt, Role::Soft) });
        }
    }

    /// A name, with the access of what it names unless that is open.
    fn with_access(&self, name: &str, access: Access) -> (String, Role) {
        let role = match access {
            Access::Open => Role::Open,
            Access::Ask => Role::Ask,
            Access::Closed => Role::Soft,
        };
        if access == Access::Open || !self.request.labels.access {
            return (name.to_owned(), role);
        }
        (format!("{name}, {}", access.words()), role)
    }

    /// The middle of a block on the canvas, and how far it reaches about there.
    fn middle_of(&self, block: usize) -> Option<(CanvasPoint, (f64, f64))> {
        let (low, high) = self.request.shapes.blocks.get(block)?.bounds;
        let at = self.view.point_of((0.5 * (low.0 + high.0), 0.5 * (low.1 + high.1)));
        let reach_pt = |low: f64, high: f64| (0.5 * (high - low) / self.view.metres_per_point).min(60.0);
        Some((at, (reach_pt(low.0, high.0), reach_pt(low.1, high.1))))
    }

    fn words(&self) -> String {
        let (survey, units) = (self.request.survey, self.request.units);
        let mut words = format!("Plan of {}, north up.", survey.model.site.name);
        if let Some(measured) = self.request.measured {
            let pose = &measured.standing.pose;
            let heading_deg = pose.attitude.heading.compass_degrees().round() % 360.0;
            words += &format!(
                " The camera stands {} east and {} north of the origin, bearing {heading_deg:.0}° (true).",
                units.length(pose.eye.x, 1),
                units.length(pose.eye.y, 1)
            );
            if let Some(distance_m) = measured.account.distance_m {
                words += &format!(" The camera is {} from {}.", units.length(distance_m, 1), subject_words(survey));
            }
        }
        for pin in self.request.pins {
            let number = pin.number.map_or_else(String::new, |number| format!("{number}, "));
            let (east, north) = (units.length(pin.at.0, 1), units.length(pin.at.1, 1));
            words += &format!(" Stance {number}{}: {east} east, {north} north.", pin.name);
        }
        words
    }
}

/// What a camera holds of the plan, in plan metres.
struct FieldOfView {
    eye: WorldPoint,
    heading: Angle,
    /// Its left edge, from the heading.
    left: Angle,
    /// Its right edge, from the heading.
    right: Angle,
    /// Farther than the corners of what is shown.
    reach_m: f64,
    /// Where what is sharp begins, along the heading. It lies between two planes square to the lens axis, which are
    /// straight lines at the height of the eye.
    near_m: f64,
    /// Where it ends.
    far_m: f64,
}

impl FieldOfView {
    /// The field of view of a stance; `None` where it has no width.
    fn of(measured: &Measured, view: &PlanView) -> Option<Self> {
        let standing = &measured.standing;
        let eye = standing.pose.eye;
        let window = standing.camera.ideal_window();
        let turn = |slope: f64| Angle::from_radians(slope.atan().clamp(-WIDEST.radians(), WIDEST.radians()));
        let (left, right) = (turn(window.left), turn(window.right));
        if (right - left).radians() <= 1e-9 {
            return None;
        }
        let (low, high) = view.bounds();
        let corners = [(low.0, low.1), (low.0, high.1), (high.0, low.1), (high.0, high.1)];
        let reach_m = corners.into_iter().map(|(x, y)| (x - eye.x).hypot(y - eye.y)).fold(1.0, f64::max) * 1.1;
        let tilt = standing.pose.attitude.pitch.cos().max(0.05);
        let sharp = &measured.account.depth_of_field;
        let (near_m, far_m) = (sharp.near_m / tilt, sharp.far_m / tilt);
        Some(Self { eye, heading: standing.pose.attitude.heading, left, right, reach_m, near_m, far_m })
    }

    /// The place as far out as the field is drawn, so far to the right of the heading.
    fn towards(&self, turn: Angle) -> PlanPoint {
        let (sine, cosine) = (self.heading + turn).sin_cos();
        (self.eye.x + self.reach_m * sine, self.eye.y + self.reach_m * cosine)
    }

    /// The eye, and an arc from the left edge to the right one.
    fn outline(&self) -> Vec<PlanPoint> {
        let steps = 12;
        let turns = (0..=steps).map(|step| {
            let share = f64::from(step) / f64::from(steps);
            self.left + (self.right - self.left) * share
        });
        std::iter::once(plan_of(&self.eye)).chain(turns.map(|turn| self.towards(turn))).collect()
    }

    /// How far ahead of the eye a place lies, along the heading.
    fn depth_m(&self, place: &PlanPoint) -> f64 {
        let (sine, cosine) = self.heading.sin_cos();
        (place.0 - self.eye.x) * sine + (place.1 - self.eye.y) * cosine
    }

    /// The place so far ahead of the eye, so far to the right of the heading.
    fn at_depth(&self, turn: Angle, depth_m: f64) -> PlanPoint {
        let (sine, cosine) = self.heading.sin_cos();
        let slope = turn.tan();
        (self.eye.x + depth_m * (sine + slope * cosine), self.eye.y + depth_m * (cosine - slope * sine))
    }
}

/// The room about a mark.
fn around((x, y): CanvasPoint, reach_pt: f64) -> Room {
    Room { left: x - reach_pt, top: y - reach_pt, right: x + reach_pt, bottom: y + reach_pt }
}

/// What the picture is about, as it stands in a sentence: "the stack".
pub(super) fn subject_words(survey: &Survey) -> String {
    let body = survey.subject.as_ref().map(|subject| &survey.model.site.blocks[subject.body]);
    body.map_or_else(|_| "the subject".into(), Block::with_article)
}

impl Pin {
    /// The pin of a stance that is taken up.
    pub fn of(name: &str, standing: &Standing, number: Option<u32>) -> Self {
        let eye: WorldPoint = standing.pose.eye;
        Self { name: name.into(), at: (eye.x, eye.y), heading: Some(standing.pose.attitude.heading), number }
    }

    /// How large it is drawn: with room for its number where it has one.
    const fn radius_pt(&self) -> f64 {
        if self.number.is_some() { 9.0 } else { 4.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_click_lands_where_it_is_drawn() {
        let view = PlanView::around([(-20.0, 5.0), (60.0, 90.0)], 300.0, 260.0);
        for place in [(0.0, 0.0), (-13.2, 77.0)] {
            let back = view.plan_of(view.point_of(place));
            assert!((back.0 - place.0).hypot(back.1 - place.1) < 1e-9);
        }
        let close = view.zoomed((40.0, 50.0), 3.0);
        let (before, after) = (view.plan_of((40.0, 50.0)), close.plan_of((40.0, 50.0)));
        assert!((before.0 - after.0).hypot(before.1 - after.1) < 1e-9);
        let dragged = view.dragged(10.0, -4.0);
        let (x, y) = dragged.point_of(view.plan_of((100.0, 100.0)));
        assert!((x - 110.0).abs() < 1e-9 && (y - 96.0).abs() < 1e-9);
        for bad in [PlanView::around([(f64::NAN, 0.0)], 300.0, 200.0), view.zoomed((0.0, 0.0), f64::NAN)] {
            assert!(bad.metres_per_point.is_finite() && bad.centre.0.is_finite());
        }
    }
}
