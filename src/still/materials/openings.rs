//! What is set into or laid upon a wall?
//!
//! Openings and courses in the wall's own metres: to the right as one faces it, and up from its foot. They are painted on, and
//! alter no edge and no shadow of the model.

use super::super::tones::Light;
use super::cover::hex;
use super::filter::{Footprint, between, mix, stripes};

/// One thing on a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Detail {
    pub(super) kind: DetailKind,
    /// From left to right.
    pub(super) across: (f64, f64),
    /// From its foot to its top.
    pub(super) up: (f64, f64),
}

/// What it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum DetailKind {
    /// A window of so many panes across and up.
    Window { panes: (u32, u32), head: Head },
    /// A door.
    Door { head: Head },
    /// A gate of boards in two leaves.
    Gate,
    /// Sloping boards or slabs.
    Louvre { head: Head },
    /// A clock's face.
    Clock,
    /// A band of dressed stone: string course, plinth, coping, lintel, sill.
    Stone,
    /// An iron band.
    Iron,
    /// Dressed stones up a corner, long and short by turns, on the left or the right.
    Quoins { right: bool },
    /// A ladder of rungs 300 mm apart.
    Ladder,
    /// A plain colour, by its six digits: parts of figures.
    Colour(u32),
    /// A wheel with its hub.
    Wheel,
    /// Soot, from nothing at its foot to thick at its top.
    Soot,
}

/// How an opening ends at its top.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Head {
    /// Level.
    Flat,
    /// A half circle.
    Round,
    /// Two arcs that meet in a point.
    Pointed,
}

/// What a wall's details are drawn in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trim {
    /// Dressed stone.
    pub(super) stone: Light,
    /// Painted timber of windows.
    pub(super) sash: Light,
    /// Doors and gates.
    pub(super) door: Light,
}

impl Detail {
    /// Whether it reaches into the pixel at all.
    fn is_near(&self, pixel: &Footprint) -> bool {
        let room = (0.5 * pixel.wide.0 + 0.2, 0.5 * pixel.wide.1 + 0.3);
        pixel.at.0 > self.across.0 - room.0
            && pixel.at.0 < self.across.1 + room.0
            && pixel.at.1 > self.up.0 - room.1
            && pixel.at.1 < self.up.1 + room.1
    }

    fn head(&self) -> Head {
        match self.kind {
            DetailKind::Window { head, .. } | DetailKind::Door { head } | DetailKind::Louvre { head } => head,
            DetailKind::Gate
            | DetailKind::Clock
            | DetailKind::Stone
            | DetailKind::Iron
            | DetailKind::Quoins { .. }
            | DetailKind::Ladder
            | DetailKind::Colour(_)
            | DetailKind::Wheel
            | DetailKind::Soot => Head::Flat,
        }
    }

    /// The share of the pixel within the opening, drawn in or out by `grown` metres.
    fn covers(&self, pixel: &Footprint, grown: f64) -> f64 {
        let (from, to) = (self.across.0 - grown, self.across.1 + grown);
        let (low, high) = (self.up.0 - grown, self.up.1 + grown);
        let rectangle = pixel.in_rectangle((from, to), (low, high));
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        let rise = match self.head() {
            Head::Flat => return rectangle,
            Head::Round => half,
            Head::Pointed => half * 3.0_f64.sqrt(),
        };
        let spring = high - rise;
        if pixel.at.1 < spring {
            return rectangle;
        }
        let (off, over) = ((pixel.at.0 - middle).abs(), pixel.at.1 - spring);
        let within = match self.head() {
            Head::Round => half - off.hypot(over),
            // Each side is an arc about the other side's springing.
            Head::Flat | Head::Pointed => 2.0 * half - (off + half).hypot(over),
        };
        pixel.within(within).min(rectangle)
    }

    /// Lays the detail over a wall's tone; says how much of the pixel is glass.
    pub(super) fn lay(&self, tone: Light, pixel: &Footprint, trim: &Trim) -> (Light, f64) {
        if !self.is_near(pixel) {
            return (tone, 0.0);
        }
        match self.kind {
            DetailKind::Window { panes, .. } => self.window(tone, pixel, trim, panes),
            DetailKind::Door { .. } => (self.door(tone, pixel, trim), 0.0),
            DetailKind::Gate => {
                let board = stripes(pixel.at.0 - self.across.0, pixel.wide.0, 0.16, 0.014);
                let middle = 0.5 * (self.across.0 + self.across.1);
                let leaf = between(pixel.at.0, pixel.wide.0, middle - 0.02, middle + 0.02);
                let gate = mix(trim.door, trim.door * 0.35, board.max(leaf));
                (mix(self.surround(tone, pixel, trim, 0.15), gate, self.covers(pixel, 0.0)), 0.0)
            }
            DetailKind::Louvre { .. } => {
                let slab = stripes(pixel.at.1 - self.up.0, pixel.wide.1, 0.28, 0.17);
                let louvre = mix(hex(0x1d1b19), trim.stone * 0.62, slab);
                (mix(self.surround(tone, pixel, trim, 0.16), louvre, self.covers(pixel, 0.0)), 0.0)
            }
            DetailKind::Clock => (self.clock(tone, pixel, trim), 0.0),
            DetailKind::Stone => {
                let on = self.covers(pixel, 0.0);
                // It throws a thin shadow on the wall under it.
                let shadow = pixel.in_rectangle(self.across, (self.up.0 - 0.07, self.up.0));
                let stone = mix(trim.stone, trim.stone * 0.55, stripes(pixel.at.0, pixel.wide.0, 0.9, 0.008));
                (mix(tone * (1.0 - 0.35 * shadow), stone, on), 0.0)
            }
            DetailKind::Iron => (mix(tone, hex(0x3a3531), self.covers(pixel, 0.0)), 0.0),
            DetailKind::Quoins { right } => (self.quoins(tone, pixel, trim, right), 0.0),
            DetailKind::Ladder => {
                let rung = stripes(pixel.at.1 - self.up.0, pixel.wide.1, 0.30, 0.028);
                let (left, right) = self.across;
                let rail = between(pixel.at.0, pixel.wide.0, left, left + 0.05)
                    + between(pixel.at.0, pixel.wide.0, right - 0.05, right);
                let on = pixel.in_rectangle(self.across, self.up);
                let drawn = rail.min(1.0) * between(pixel.at.1, pixel.wide.1, self.up.0, self.up.1);
                (mix(tone, hex(0x2f2d2b), drawn.max(on * rung)), 0.0)
            }
            DetailKind::Colour(digits) => (mix(tone, hex(digits), self.covers(pixel, 0.0)), 0.0),
            DetailKind::Wheel => {
                let radius = 0.5 * (self.across.1 - self.across.0);
                let middle = (0.5 * (self.across.0 + self.across.1), 0.5 * (self.up.0 + self.up.1));
                let off = (pixel.at.0 - middle.0).hypot(pixel.at.1 - middle.1);
                let wheel = mix(hex(0x1c1c1d), hex(0x8a8d90), pixel.within(0.6 * radius - off));
                (mix(tone, wheel, pixel.within(radius - off)), 0.0)
            }
            DetailKind::Soot => {
                let share = ((pixel.at.1 - self.up.0) / (self.up.1 - self.up.0)).clamp(0.0, 1.0);
                (mix(tone, hex(0x3b322c), 0.5 * share * share), 0.0)
            }
        }
    }

    /// Dressed stone about an opening.
    fn surround(&self, tone: Light, pixel: &Footprint, trim: &Trim, wide: f64) -> Light {
        mix(tone, trim.stone, self.covers(pixel, wide))
    }

    fn window(&self, tone: Light, pixel: &Footprint, trim: &Trim, (columns, rows): (u32, u32)) -> (Light, f64) {
        let (wide, high) = (self.across.1 - self.across.0, self.up.1 - self.up.0);
        // The sill stands out below and throws a shadow.
        let sill = ((self.across.0 - 0.08, self.across.1 + 0.08), (self.up.0 - 0.11, self.up.0));
        let under = pixel.in_rectangle(sill.0, (sill.1.0 - 0.06, sill.1.0));
        let mut tone = tone * (1.0 - 0.4 * under);
        // A lintel, or a dressed arch.
        let arched = self.head() != Head::Flat;
        let over = if arched {
            self.covers(pixel, 0.17) * between(pixel.at.1, pixel.wide.1, self.up.0, self.up.1 + 1.0)
        } else {
            pixel.in_rectangle((self.across.0 - 0.12, self.across.1 + 0.12), (self.up.1, self.up.1 + 0.20))
        };
        tone = mix(tone, trim.stone, over.max(pixel.in_rectangle(sill.0, sill.1)));
        let open = self.covers(pixel, 0.0);
        if open <= 0.0 {
            return (tone, 0.0);
        }
        let inner = self.covers(pixel, -0.055);
        let bars_across =
            stripes(pixel.at.0 - self.across.0 + 0.015, pixel.wide.0, wide / f64::from(columns.max(1)), 0.03);
        let bars_up = stripes(pixel.at.1 - self.up.0 + 0.015, pixel.wide.1, high / f64::from(rows.max(1)), 0.03);
        let meeting = if rows > 1 {
            let middle = self.up.0 + 0.5 * high;
            between(pixel.at.1, pixel.wide.1, middle - 0.03, middle + 0.03)
        } else {
            0.0
        };
        let bars = (1.0 - (1.0 - bars_across) * (1.0 - bars_up)).max(meeting);
        let glass = inner * (1.0 - bars);
        // Under the head of the opening lies its own shadow, a reveal of 100 mm deep.
        let shade = pixel.in_rectangle(self.across, (self.up.1 - 0.14, self.up.1));
        let sash = trim.sash * (1.0 - 0.5 * shade);
        let frame = (open - glass).max(0.0);
        (tone * (1.0 - open) + sash * frame, glass * (1.0 - 0.6 * shade))
    }

    fn door(&self, tone: Light, pixel: &Footprint, trim: &Trim) -> Light {
        let tone = self.surround(tone, pixel, trim, 0.16);
        let leaf_top = (self.up.1 - 0.35).max(self.up.0 + 1.9).min(self.up.1);
        let wide = self.across.1 - self.across.0;
        // Four sunk panels, drawn by their shadows.
        let (u, v) = (pixel.at.0 - self.across.0, pixel.at.1 - self.up.0);
        let panel_wide = 0.5 * (wide - 0.36);
        let column = between(u, pixel.wide.0, 0.12, 0.12 + panel_wide)
            + between(u, pixel.wide.0, wide - 0.12 - panel_wide, wide - 0.12);
        let row = between(v, pixel.wide.1, 0.25, 0.85) + between(v, pixel.wide.1, 1.05, leaf_top - self.up.0 - 0.14);
        let door = trim.door * (1.0 - 0.32 * column.min(1.0) * row.min(1.0));
        let light = between(pixel.at.1, pixel.wide.1, leaf_top, self.up.1);
        let step = pixel.in_rectangle((self.across.0 - 0.2, self.across.1 + 0.2), (self.up.0 - 0.16, self.up.0));
        let drawn = mix(door, hex(0x20252a), light);
        mix(mix(tone, trim.stone * 0.9, step), drawn, self.covers(pixel, 0.0))
    }

    fn clock(&self, tone: Light, pixel: &Footprint, trim: &Trim) -> Light {
        let (x, y) = (0.5 * (self.across.0 + self.across.1), 0.5 * (self.up.0 + self.up.1));
        let radius = 0.5 * (self.across.1 - self.across.0);
        let (right, over) = (pixel.at.0 - x, pixel.at.1 - y);
        let off = right.hypot(over);
        let tone = mix(tone, trim.stone, pixel.within(radius + 0.14 - off));
        let mut face = mix(hex(0xc9a54a), hex(0x22262b), pixel.within(radius - 0.06 - off));
        // Twelve marks, and hands at ten to two.
        let turn = right.atan2(over) / (std::f64::consts::TAU / 12.0);
        let to_mark = (turn - turn.round()).abs() * std::f64::consts::TAU / 12.0 * off;
        let mark = pixel.within(0.05 - to_mark) * pixel.within(radius - 0.12 - off) * pixel.within(off - radius * 0.72);
        let hand = |turn: f64, long: f64, wide: f64| {
            let (sine, cosine) = turn.sin_cos();
            let (along, aside) = (right * sine + over * cosine, (right * cosine - over * sine).abs());
            pixel.within(wide - aside) * pixel.within(long - along) * pixel.within(along + 0.1)
        };
        let hands = hand(-1.02, 0.52 * radius, 0.05).max(hand(1.05, 0.78 * radius, 0.035));
        face = mix(face, hex(0xe2c574), mark.max(hands));
        mix(tone, face, pixel.within(radius - off))
    }

    /// Stones of 300 mm, long and short by turns.
    fn quoins(&self, tone: Light, pixel: &Footprint, trim: &Trim, right: bool) -> Light {
        let (low, high) = self.up;
        let up = between(pixel.at.1, pixel.wide.1, low, high);
        let long_share = stripes(pixel.at.1 - low, pixel.wide.1, 0.6, 0.3);
        let reach = |long: f64| {
            if right {
                between(pixel.at.0, pixel.wide.0, self.across.1 - long, self.across.1)
            } else {
                between(pixel.at.0, pixel.wide.0, self.across.0, self.across.0 + long)
            }
        };
        let on = up * (long_share * reach(0.5) + (1.0 - long_share) * reach(0.3));
        let joint = stripes(pixel.at.1 - low, pixel.wide.1, 0.3, 0.01);
        mix(tone, mix(trim.stone, trim.stone * 0.6, joint), on)
    }
}
