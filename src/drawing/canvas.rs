//! What is a drawing made of?

use crate::angle::Angle;
use crate::pose::WorldPoint;
use crate::site::PlanPoint;
use crate::still::{Lettering, Weight};
use crate::theme::{Colour, Palette};
use crate::wording;

use super::clip::{parts_within, ring_within};
use super::plan_view::PlanView;
use super::room::{CanvasPoint, Room};

/// Text that is read beside a drawing or in it.
pub const TEXT_PT: f64 = 11.0;
/// Headings of a drawing.
pub const TITLE_PT: f64 = 13.0;

/// A list of marks on a canvas.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// The canvas's width.
    pub width_pt: f64,
    /// The canvas's height.
    pub height_pt: f64,
    /// The marks, each over those before it.
    pub marks: Vec<Mark>,
    /// What a plan shows of the world, and how a place on it is found on the ground; absent for other drawings.
    pub plan: Option<PlanView>,
    /// The same in words, for a screen reader.
    pub words: String,
}

/// One thing that is drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// A line through points.
    Line {
        /// At least two.
        points: Vec<CanvasPoint>,
        /// How it is drawn.
        pen: Pen,
    },
    /// An area inside rings, by the even–odd rule: a ring within a ring is a hole.
    Area {
        /// Each closes itself; at least three points.
        rings: Vec<Vec<CanvasPoint>>,
        /// What fills it.
        fill: Option<Tint>,
        /// How its rings are drawn.
        pen: Option<Pen>,
    },
    /// A circle.
    Circle {
        /// Its centre.
        centre: CanvasPoint,
        /// Its radius.
        radius_pt: f64,
        /// What fills it.
        fill: Option<Tint>,
        /// How its rim is drawn.
        pen: Option<Pen>,
    },
    /// An arrow; [`arrow_head`] gives its head.
    Arrow {
        /// Where it starts.
        from: CanvasPoint,
        /// Where its point is.
        to: CanvasPoint,
        /// How it is drawn.
        pen: Pen,
    },
    /// A line of text.
    Text(Text),
}

/// A line of text.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// What it says.
    pub text: String,
    /// Where its start, middle or end is; down, the middle of its capitals.
    pub at: CanvasPoint,
    /// Which of these.
    pub align: Align,
    /// The size of its type.
    pub size_pt: f64,
    /// The weight of its type.
    pub weight: Weight,
    /// Its colour.
    pub role: Role,
    /// Whether a plate in the colour of the panel lies under it.
    pub plate: bool,
}

/// Which part of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Its start.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// A colour by what it is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Behind everything.
    Table,
    /// The card that is drawn on.
    Panel,
    /// Scales; blocks in plan.
    Well,
    /// Hairlines.
    Line,
    /// Text, the stance, blocks' edges.
    Ink,
    /// Captions, contours' figures, limits.
    Soft,
    /// Plumb lines, and nothing else.
    Plumb,
    /// The subject's own outline, and nothing else.
    Side,
    /// Open ground.
    Open,
    /// Permission needed.
    Ask,
    /// Cut ground.
    Ground,
    /// Contours.
    Contour,
    /// Water.
    Water,
}

/// A role's colour, perhaps thinned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tint {
    /// Whose colour.
    pub role: Role,
    /// From 0, nothing, to 1, all of it.
    pub opacity: f64,
}

/// How a line is drawn; ends and corners are round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pen {
    /// Its colour.
    pub role: Role,
    /// Its width.
    pub width_pt: f64,
    /// Whether it is broken.
    pub dash: Dash,
}

/// How a line is broken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Dash {
    /// It is not.
    #[default]
    Solid,
    /// In short strokes.
    Dashed,
    /// In dots.
    Dotted,
}

impl Role {
    /// Every role.
    pub const ALL: [Self; 13] = [
        Self::Table,
        Self::Panel,
        Self::Well,
        Self::Line,
        Self::Ink,
        Self::Soft,
        Self::Plumb,
        Self::Side,
        Self::Open,
        Self::Ask,
        Self::Ground,
        Self::Contour,
        Self::Water,
    ];

    /// Its colour in a theme.
    pub const fn colour(self, palette: &Palette) -> Colour {
        match self {
            Self::Table => palette.table,
            Self::Panel => palette.panel,
            Self::Well => palette.well,
            Self::Line => palette.line,
            Self::Ink => palette.ink,
            Self::Soft => palette.soft,
            Self::Plumb => palette.plumb,
            Self::Side => palette.side,
            Self::Open => palette.open,
            Self::Ask => palette.ask,
            Self::Ground => palette.ground,
            Self::Contour => palette.contour,
            Self::Water => palette.water,
        }
    }

    /// Its name, as a style sheet calls it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Table => "table",
            Self::Panel => "panel",
            Self::Well => "well",
            Self::Line => "line",
            Self::Ink => "ink",
            Self::Soft => "soft",
            Self::Plumb => "plumb",
            Self::Side => "flank",
            Self::Open => "open",
            Self::Ask => "ask",
            Self::Ground => "ground",
            Self::Contour => "contour",
            Self::Water => "water",
        }
    }

    /// All of its colour.
    pub const fn full(self) -> Tint {
        Tint { role: self, opacity: 1.0 }
    }

    /// A share of its colour.
    pub const fn thinned(self, opacity: f64) -> Tint {
        Tint { role: self, opacity }
    }

    /// An unbroken line of this width.
    pub const fn pen(self, width_pt: f64) -> Pen {
        Pen { role: self, width_pt, dash: Dash::Solid }
    }

    /// A dashed line of this width.
    pub const fn dashed(self, width_pt: f64) -> Pen {
        Pen { role: self, width_pt, dash: Dash::Dashed }
    }

    /// A dotted line of this width.
    pub const fn dotted(self, width_pt: f64) -> Pen {
        Pen { role: self, width_pt, dash: Dash::Dotted }
    }
}

impl Pen {
    /// Stroke and gap of a broken line.
    pub fn pattern(&self) -> Option<[f64; 2]> {
        match self.dash {
            Dash::Solid => None,
            Dash::Dashed => Some([4.0, 3.0 + self.width_pt]),
            // Round ends make dots of strokes of (almost) no length.
            Dash::Dotted => Some([0.01, 2.6 * self.width_pt.max(0.8)]),
        }
    }
}

impl Text {
    /// A caption in the ordinary size.
    pub fn caption(text: impl Into<String>, at: CanvasPoint, align: Align, role: Role) -> Self {
        Self { text: text.into(), at, align, size_pt: TEXT_PT, weight: Weight::Regular, role, plate: false }
    }

    /// How long it is.
    pub fn width_pt(&self) -> f64 {
        Lettering::new(self.weight, self.size_pt).width_px(&self.text)
    }

    /// Where its letters start and stand: the left end of its baseline.
    pub fn baseline(&self) -> CanvasPoint {
        let lettering = Lettering::new(self.weight, self.size_pt);
        let share = match self.align {
            Align::Start => 0.0,
            Align::Middle => 0.5,
            Align::End => 1.0,
        };
        let left = if share == 0.0 { self.at.0 } else { self.at.0 - share * lettering.width_px(&self.text) };
        (left, self.at.1 + 0.5 * lettering.capitals_px())
    }

    /// The room it takes, with its plate's margin: left, top, right, bottom.
    pub fn room(&self) -> Room {
        let (left, _) = self.baseline();
        let (aside, over) = (0.32 * self.size_pt, 0.72 * self.size_pt);
        Room {
            left: left - aside,
            top: self.at.1 - over,
            right: left + self.width_pt() + aside,
            bottom: self.at.1 + over,
        }
    }
}

/// The head of an arrow: barb, point, barb; `None` for an arrow of no length.
pub fn arrow_head(from: CanvasPoint, to: CanvasPoint, pen: &Pen) -> Option<[CanvasPoint; 3]> {
    let (along, down) = (to.0 - from.0, to.1 - from.1);
    let length = along.hypot(down);
    if !(length > 0.0 && length.is_finite()) {
        return None;
    }
    let reach = 3.0 + 2.6 * pen.width_pt;
    let (along, down) = (along / length * reach, down / length * reach);
    let barb = |side: f64| (to.0 - along + side * 0.55 * down, to.1 - down - side * 0.55 * along);
    Some([barb(1.0), to, barb(-1.0)])
}

/// What lies under a label.
pub const PLATE: Tint = Role::Panel.thinned(0.9);

/// How far beyond the canvas marks are kept, so that the ends of lines are not seen.
pub(super) const BEYOND_PT: f64 = 6.0;

/// A canvas on which a drawing grows; what lies beyond it is cut off.
pub(super) struct Canvas {
    pub(super) drawing: Drawing,
    pub(super) bounds: Room,
}

impl Canvas {
    pub(super) fn new(width_pt: f64, height_pt: f64) -> Self {
        // A canvas without size, or of no number, holds nothing.
        let side = |side: f64| if side.is_finite() { side.clamp(1.0, 1e5) } else { 1.0 };
        let (width_pt, height_pt) = (side(width_pt), side(height_pt));
        let bounds = Room { left: 0.0, top: 0.0, right: width_pt, bottom: height_pt }.grown(BEYOND_PT);
        Self { drawing: Drawing { width_pt, height_pt, ..Drawing::default() }, bounds }
    }

    /// A line, in as many parts as lie on the canvas. A broken line's dashes begin anew with each part.
    pub(super) fn line(&mut self, points: &[CanvasPoint], pen: Pen) {
        for points in parts_within(points, &self.bounds) {
            self.drawing.marks.push(Mark::Line { points, pen });
        }
    }

    pub(super) fn area(&mut self, rings: &[Vec<CanvasPoint>], fill: Option<Tint>, pen: Option<Pen>) {
        let rings: Vec<_> =
            rings.iter().map(|ring| ring_within(ring, &self.bounds)).filter(|ring| ring.len() >= 3).collect();
        if !rings.is_empty() {
            self.drawing.marks.push(Mark::Area { rings, fill, pen });
        }
    }

    pub(super) fn circle(&mut self, centre: CanvasPoint, radius_pt: f64, fill: Option<Tint>, pen: Option<Pen>) {
        if self.bounds.grown(radius_pt).holds(centre) {
            self.drawing.marks.push(Mark::Circle { centre, radius_pt, fill, pen });
        }
    }

    pub(super) fn arrow(&mut self, from: CanvasPoint, to: CanvasPoint, pen: Pen) {
        if self.bounds.holds(from) && self.bounds.holds(to) {
            self.drawing.marks.push(Mark::Arrow { from, to, pen });
        }
    }

    pub(super) fn text(&mut self, text: Text) {
        self.drawing.marks.push(Mark::Text(text));
    }

    /// The drawing's title and what is noted beside it; the rooms they take.
    pub(super) fn title(&mut self, title: &str, note: &str) -> Vec<Room> {
        let mut title = Text::caption(title, (12.0, 16.0), Align::Start, Role::Ink);
        (title.size_pt, title.weight, title.plate) = (TITLE_PT, Weight::Semibold, true);
        let mut rooms = vec![title.room()];
        let mut note = Text::caption(note, (self.drawing.width_pt - 12.0, 16.0), Align::End, Role::Soft);
        note.plate = true;
        // Where both find no room beside one another, the note goes under the title.
        if note.room().meets(&title.room(), 4.0) {
            (note.at, note.align) = ((12.0, 34.0), Align::Start);
        }
        self.text(title);
        if !note.text.is_empty() {
            rooms.push(note.room());
            self.text(note);
        }
        rooms
    }

    pub(super) fn finish(mut self, words: String) -> Drawing {
        self.drawing.words = words;
        self.drawing
    }
}

/// The plan position of a world point.
pub(super) fn plan_of(point: &WorldPoint) -> PlanPoint {
    (point.x, point.y)
}

/// An angle as it is written on a drawing, without sign.
pub(super) fn written_degrees(angle: Angle) -> String {
    wording::degrees(angle.abs().degrees())
}
