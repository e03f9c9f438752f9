//! What is a surface made of, and what does that look like up close and from afar?
//!
//! Sizes are the trade's: brick of 215 × 102.5 × 65 mm in joints of 10 mm, four courses to 300 mm (BS EN 771-1, work sizes;
//! from memory); slates, tiles, boards and sheets by common practice. Every pattern is counted in metres and averaged over the pixel.

use crate::theme::Colour;

use super::super::tones::Light;
use super::filter::{Footprint, blotches, chance, left, mix, stripes};

/// One course of brick with its joint.
pub(super) const BRICK_COURSE_M: f64 = 0.075;
/// A stretcher with its joint.
const BRICK_M: f64 = 0.225;
/// The joints of brickwork.
const BRICK_JOINT_M: f64 = 0.010;
/// One course of ashlar with its joint.
pub(super) const ASHLAR_COURSE_M: f64 = 0.300;

/// What a surface is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cover {
    /// Brick in courses of 75 mm, every fourth of headers.
    Brick,
    /// Squared stone in courses of 300 mm.
    Ashlar,
    /// Walling of rough stones in courses.
    Rubble,
    /// Render, washed.
    Render,
    /// Level boards that lap.
    Boards,
    /// Corrugated sheet.
    Sheet,
    /// Concrete cast in lifts of 1.2 m.
    Concrete,
    /// Roofing slates.
    Slates,
    /// Clay tiles.
    Tiles,
    /// Lead or felt with rolls.
    Lead,
    /// Bare or painted steel.
    Steel,
    /// Leaves.
    Leaves,
    /// A trunk.
    Bark,
    /// Smooth paint: bodies of cars, clothes, timber.
    Paint,
}

/// A cover in its colours.
#[derive(Clone, Copy, Debug)]
pub(super) struct Coat {
    pub(super) cover: Cover,
    /// What most of it is.
    pub(super) main: Light,
    /// Joints, gaps and laps.
    pub(super) joint: Light,
    /// How strongly its pattern stands out, 1 for the subject.
    pub(super) strength: f64,
    /// What makes one wall differ from the next.
    pub(super) seed: u32,
}

/// The colour of a light that is written as its six digits.
pub(super) fn hex(digits: u32) -> Light {
    Light::from(Colour::hex(digits).linear())
}

/// What walls that the picture is not about go towards.
const QUIET: u32 = 0xc9c2b6;

impl Coat {
    /// A cover as the subject has it, or quieter.
    pub(super) fn of(cover: Cover, subject: bool, seed: u32) -> Self {
        let (main, joint) = match cover {
            Cover::Brick if subject => (hex(0xa96f52), hex(0xc9b699)),
            Cover::Brick => ([hex(0x9f8373), hex(0xa9917c), hex(0x957c70)][seed as usize % 3], hex(0xc6bba9)),
            Cover::Ashlar => (hex(0xc8b998), hex(0x8c8069)),
            Cover::Rubble => (hex(0x9d9483), hex(0x6f6859)),
            Cover::Render => ([hex(0xd9cfbd), hex(0xd3ccc0), hex(0xdacbb0)][seed as usize % 3], hex(0xb9b09f)),
            Cover::Boards => ([hex(0x6f655a), hex(0x7d6f60)][seed as usize % 2], hex(0x2e2a26)),
            Cover::Sheet => ([hex(0x8d9391), hex(0x7f8a86)][seed as usize % 2], hex(0x565b5a)),
            Cover::Concrete => (hex(0xb3aea4), hex(0x7d796f)),
            Cover::Slates => (hex(0x5b626b), hex(0x31353b)),
            Cover::Tiles => (hex(0x98583f), hex(0x552e22)),
            Cover::Lead => (hex(0x8f9294), hex(0x5f6366)),
            Cover::Steel => (hex(0x6d7377), hex(0x3b4043)),
            Cover::Leaves => (hex(0x687748), hex(0x2c3a1d)),
            Cover::Bark => (hex(0x5c5145), hex(0x352e27)),
            Cover::Paint => (hex(0x5a6670), hex(0x2d3338)),
        };
        let quiet = |tone: Light| if subject { tone } else { mix(tone, hex(QUIET), 0.22) };
        Self { cover, main: quiet(main), joint: quiet(joint), strength: if subject { 1.0 } else { 0.7 }, seed }
    }

    /// The share of light that the surface throws back, red, green and blue, averaged over a pixel.
    pub(super) fn tone(&self, pixel: &Footprint) -> Light {
        let (u, v) = pixel.at;
        let (across, up) = pixel.wide;
        match self.cover {
            Cover::Brick => self.brick(pixel),
            Cover::Ashlar => self.coursed(pixel, (0.62, ASHLAR_COURSE_M, 0.008), 0.16),
            Cover::Rubble => self.coursed(pixel, (0.34, 0.17, 0.018), 0.34),
            Cover::Render => self.weathered(self.main, pixel, 0.05),
            Cover::Boards => {
                let gap = stripes(v, up, 0.15, 0.012);
                let board = (v / 0.15).floor() as i64;
                let part = left(up, 0.15) * (chance(board, (u / 3.6).floor() as i64, self.seed) - 0.5);
                let grain = blotches((u * 0.25, v * 3.0), 0.08, across.max(up), self.seed) * 0.05;
                mix(self.main * (1.0 + self.strength * (0.28 * part + grain)), self.joint, 0.8 * gap * self.strength)
            }
            Cover::Sheet => {
                // The mean of a wave over the pixel: its height falls as the pixel grows.
                let turn = std::f64::consts::TAU / 0.076;
                let width = 0.5 * turn * across;
                let kept = if width.abs() < 1e-6 { 1.0 } else { width.sin() / width };
                let wave = 0.16 * kept.max(0.0) * (turn * u).sin();
                let lap = stripes(v, up, 2.4, 0.02).max(0.5 * stripes(u, across, 0.76, 0.012));
                let sheet = 0.12 * (chance((u / 0.76).floor() as i64, (v / 2.4).floor() as i64, self.seed) - 0.5);
                let tone = self.main * (1.0 + self.strength * (wave + sheet * left(across, 0.76)));
                self.weathered(mix(tone, self.joint, 0.7 * lap), pixel, 0.06)
            }
            Cover::Concrete => {
                let lift = stripes(v, up, 1.2, 0.014).max(0.7 * stripes(u, across, 2.4, 0.01));
                let ties = stripes(v - 0.3, up, 0.6, 0.03) * stripes(u - 0.3, across, 0.8, 0.03);
                let panel = chance((u / 2.4).floor() as i64, (v / 1.2).floor() as i64, self.seed) - 0.5;
                let tone = self.main * (1.0 + 0.10 * self.strength * panel * left(up, 1.2));
                self.weathered(mix(tone, self.joint, (0.75 * lift).max(ties) * self.strength), pixel, 0.07)
            }
            Cover::Slates => self.lapped(pixel, (0.26, 0.20), 0.26),
            Cover::Tiles => self.lapped(pixel, (0.165, 0.10), 0.30),
            Cover::Lead => {
                let roll = stripes(u, across, 0.6, 0.05);
                self.weathered(mix(self.main, self.joint, 0.5 * roll), pixel, 0.05)
            }
            Cover::Steel | Cover::Paint => self.main,
            Cover::Leaves | Cover::Bark => self.weathered(self.main, pixel, 0.12),
        }
    }

    /// Stretchers in three courses, headers in the fourth, no joint over another.
    fn brick(&self, pixel: &Footprint) -> Light {
        let (u, v) = pixel.at;
        let (across, up) = pixel.wide;
        let course = (v / BRICK_COURSE_M).floor();
        let headers = course.rem_euclid(4.0) == 3.0;
        let long = if headers { 0.5 * BRICK_M } else { BRICK_M };
        let shifted = u + if course.rem_euclid(2.0) == 0.0 { 0.0 } else { 0.5 * long + 0.056 };
        let bed = stripes(v, up, BRICK_COURSE_M, BRICK_JOINT_M);
        let near = left(up, 2.0 * BRICK_COURSE_M);
        let upright =
            near * stripes(shifted, across, long, BRICK_JOINT_M) + (1.0 - near) * BRICK_JOINT_M / BRICK_M * 1.25;
        let joint = bed + (1.0 - bed) * upright;
        let own = chance(course as i64, (shifted / long).floor() as i64, self.seed) - 0.5;
        let burnt = chance((shifted / long).floor() as i64, course as i64, self.seed + 1) > 0.93;
        let seen = left(up, BRICK_COURSE_M * 1.4) * left(across, long);
        // A course of headers is a little darker; seen from afar it is a fine band every 300 mm.
        let band = stripes(v - 3.0 * BRICK_COURSE_M, up, 4.0 * BRICK_COURSE_M, BRICK_COURSE_M) - 0.25;
        let own = seen * (0.30 * own - if burnt { 0.17 } else { 0.0 }) - 0.14 * band;
        let tone = mix(self.main * (1.0 + self.strength * own), self.joint, joint * (0.45 + 0.4 * self.strength));
        self.weathered(tone, pixel, 0.07)
    }

    /// Stones of a length and height in joints, in half bond, each of its own tone.
    fn coursed(&self, pixel: &Footprint, (long, high, joint_m): (f64, f64, f64), differ: f64) -> Light {
        let (u, v) = pixel.at;
        let (across, up) = pixel.wide;
        let course = (v / high).floor();
        let shifted = u + long * (0.5 * course.rem_euclid(2.0) + 0.22 * chance(course as i64, 0, self.seed));
        let bed = stripes(v, up, high, joint_m);
        let near = left(up, 2.0 * high);
        let upright = near * stripes(shifted, across, long, joint_m) + (1.0 - near) * joint_m / long;
        let own = chance(course as i64, (shifted / long).floor() as i64, self.seed) - 0.5;
        let lift = chance(course as i64, 77, self.seed) - 0.5;
        let seen = left(up, high * 1.4) * left(across, long);
        let own = differ * own * seen + 0.5 * differ * lift * left(up, 1.6 * high);
        let joint = bed + (1.0 - bed) * upright;
        let tone = mix(self.main * (1.0 + self.strength * own), self.joint, joint * (0.35 + 0.45 * self.strength));
        self.weathered(tone, pixel, 0.06)
    }

    /// Slates or tiles of a width that show so much each, in half bond, each with the shadow of the next over it.
    fn lapped(&self, pixel: &Footprint, (long, gauge): (f64, f64), differ: f64) -> Light {
        let (u, v) = pixel.at;
        let (across, up) = pixel.wide;
        let course = (v / gauge).floor();
        let shifted = u + if course.rem_euclid(2.0) == 0.0 { 0.0 } else { 0.5 * long };
        let shadow = stripes(v, up, gauge, 0.10 * gauge);
        let near = left(up, 2.0 * gauge);
        let gap = near * stripes(shifted, across, long, 0.006) + (1.0 - near) * 0.006 / long;
        let own = chance(course as i64, (shifted / long).floor() as i64, self.seed) - 0.5;
        let seen = left(up, gauge * 1.4) * left(across, long);
        let tone = self.main * (1.0 + self.strength * differ * own * seen);
        self.weathered(mix(tone, self.joint, (shadow + gap).min(1.0) * (0.4 + 0.5 * self.strength)), pixel, 0.08)
    }

    /// Large, soft differences of weather: what is left of a wall's life from afar.
    fn weathered(&self, tone: Light, pixel: &Footprint, much: f64) -> Light {
        let (u, v) = pixel.at;
        let wide = pixel.widest();
        let soft = blotches((u, v), 1.7, wide, self.seed) + 0.6 * blotches((u, 0.35 * v), 0.55, wide, self.seed + 9);
        tone * (1.0 + much * self.strength * soft)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_courses_of_brick_are_300_mm() {
        assert!((4.0 * BRICK_COURSE_M - ASHLAR_COURSE_M).abs() < 1e-12);
        let coat = Coat::of(Cover::Brick, true, 3);
        // Up the middle of a stretcher: from joint to joint.
        let tone = |v: f64| coat.tone(&Footprint { at: (0.1, v), wide: (0.002, 0.002) });
        let lightest = |v: f64| tone(v).z > 1.4 * tone(v + 0.03).z;
        for course in 0..40 {
            assert!(lightest(f64::from(course) * 0.075 + 0.005), "course {course}");
        }
    }

    #[test]
    fn from_afar_a_wall_is_its_mean() {
        for cover in [Cover::Brick, Cover::Ashlar, Cover::Slates, Cover::Tiles, Cover::Boards, Cover::Concrete] {
            let coat = Coat { strength: 1.0, ..Coat::of(cover, true, 5) };
            let far = coat.tone(&Footprint { at: (3.0, 3.0), wide: (4.0, 4.0) });
            let steps = 240;
            let place = |step: i32| 1.0 + 4.0 * (f64::from(step) + 0.5) / f64::from(steps);
            let mut mean = Light::zeros();
            for across in 0..steps {
                for up in 0..steps {
                    let wide = 4.0 / f64::from(steps);
                    mean += coat.tone(&Footprint { at: (place(across), place(up)), wide: (wide, wide) });
                }
            }
            let mean = mean / f64::from(steps * steps);
            assert!((mean.y / far.y - 1.0).abs() < 0.05, "{cover:?} {} {}", mean.y, far.y);
        }
    }
}
