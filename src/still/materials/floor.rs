//! What lies on the ground?
//!
//! By the names of the site's grounds: roads are asphalt with a kerb and a line, yards setts, sidings ballast with rails,
//! gardens and meadows grass. Elsewhere a level site is paved and a hilly one grass; near water it is mud.

use crate::site::{PlanPoint, Site, Terrain, outline_holds};

use super::super::tones::Light;
use super::cover::hex;
use super::filter::{Footprint, between, blotches, chance, left, mix, stripes};
use super::skins::seed_of;

/// The usual distance between the heads of two rails, and from sleeper to sleeper (common practice, no source).
const GAUGE_M: f64 = 1.435;
const SLEEPERS_M: f64 = 0.7;
/// The height over still water that mud reaches, and where grass begins.
const MUD_M: (f64, f64) = (0.5, 1.3);

/// What a piece of ground is covered with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Floor {
    Grass,
    Setts,
    Flags,
    Asphalt,
    Gravel,
    Rails,
    Mud,
}

/// Words of names and what they say about ground; the first that is found counts.
const WORDS: [(&[&str], Floor); 6] = [
    (&["siding", "railway", "track", "line"], Floor::Rails),
    (&["carriageway", "road", "street", "lane", "drive", "car park"], Floor::Asphalt),
    (&["yard", "court", "setts", "quay", "wharf"], Floor::Setts),
    (&["mud", "foreshore", "slip"], Floor::Mud),
    (&["path", "gravel", "ballast", "track"], Floor::Gravel),
    (&["pavement", "terrace", "square", "plaza", "forecourt"], Floor::Flags),
];

/// A ground of its own.
struct Piece {
    floor: Floor,
    outline: Vec<PlanPoint>,
    /// A point of its middle line and the line's direction.
    through: PlanPoint,
    along: PlanPoint,
    seed: u32,
}

/// The ground of a site.
pub(super) struct Floors {
    pieces: Vec<Piece>,
    elsewhere: Floor,
    water_m: Option<f64>,
}

/// A pixel on the ground: where, how high, and how wide it is east and north.
pub(super) struct GroundPixel {
    pub(super) at: PlanPoint,
    pub(super) height_m: f64,
    pub(super) wide: (f64, f64),
}

impl Floors {
    pub(super) fn of(site: &Site) -> Self {
        let floor_of = |name: &str| {
            let name = name.to_lowercase();
            let found = WORDS.iter().find(|(words, _)| words.iter().any(|word| name.contains(word)));
            found.map_or(Floor::Grass, |&(_, floor)| floor)
        };
        let pieces = site
            .grounds
            .iter()
            .filter(|ground| ground.outline.len() > 2)
            .map(|ground| {
                let (through, along) = middle_line(&ground.outline);
                let seed = seed_of(&ground.name);
                Piece { floor: floor_of(&ground.name), outline: ground.outline.clone(), through, along, seed }
            })
            .collect::<Vec<_>>();
        let paved = pieces.iter().any(|piece| piece.floor == Floor::Asphalt);
        let elsewhere = match site.terrain {
            Terrain::Plane { .. } if paved => Floor::Flags,
            Terrain::Plane { .. } | Terrain::Grid(_) => Floor::Grass,
        };
        Self { pieces, elsewhere, water_m: site.water_level_m }
    }

    /// What the ground is where no ground of the site lies, as seen from afar.
    #[cfg(feature = "viewer")]
    pub(super) fn usual(&self) -> Light {
        let height_m = self.water_m.unwrap_or(0.0) + 2.0 * MUD_M.1;
        self.tone(&GroundPixel { at: (1e6, 1e6), height_m, wide: (1e3, 1e3) })
    }

    /// The share of light that the ground throws back, averaged over a pixel.
    pub(super) fn tone(&self, pixel: &GroundPixel) -> Light {
        let turned = |along: PlanPoint, through: PlanPoint| {
            let (east, north) = (pixel.at.0 - through.0, pixel.at.1 - through.1);
            Footprint {
                at: (east * along.0 + north * along.1, north * along.0 - east * along.1),
                wide: (
                    (pixel.wide.0 * along.0).abs() + (pixel.wide.1 * along.1).abs(),
                    (pixel.wide.0 * along.1).abs() + (pixel.wide.1 * along.0).abs(),
                ),
            }
        };
        let plain = Footprint { at: pixel.at, wide: pixel.wide };
        let mut tone = self.elsewhere.tone(&plain, 1);
        for piece in &self.pieces {
            let off = off_edge(&piece.outline, pixel.at);
            let share = plain.within(if outline_holds(&piece.outline, pixel.at) { off } else { -off });
            let kerb = piece.floor == Floor::Asphalt;
            if share <= 0.0 && !(kerb && off < 0.3 + plain.widest()) {
                continue;
            }
            let footprint = turned(piece.along, piece.through);
            let mut own = piece.floor.tone(&footprint, piece.seed);
            if piece.floor == Floor::Asphalt {
                // A dashed line along the middle, 100 mm wide, 4 m long each 6 m; a channel of setts beside the kerb.
                let line = between(footprint.at.1, footprint.wide.1, -0.05, 0.05);
                own = mix(own, hex(0xd8d5cb), 0.85 * line * stripes(footprint.at.0, footprint.wide.0, 6.0, 4.0));
                own = mix(own, own * 0.82, between(off, plain.widest(), 0.0, 0.25));
            }
            tone = mix(tone, own, share);
            if kerb {
                // Stones of 125 mm by 915 mm, outside the edge.
                let outside = if outline_holds(&piece.outline, pixel.at) { -off } else { off };
                let stone = between(outside, plain.widest(), 0.0, 0.125);
                let joint = stripes(footprint.at.0, footprint.wide.0, 0.915, 0.01);
                tone = mix(tone, mix(hex(0xb9b4a9), hex(0x77736a), joint), stone);
            }
        }
        let Some(water_m) = self.water_m else { return tone };
        let over = pixel.height_m - water_m;
        let wet = 1.0 - ((over - MUD_M.0) / (MUD_M.1 - MUD_M.0)).clamp(0.0, 1.0);
        if wet <= 0.0 {
            tone
        } else {
            mix(tone, Floor::Mud.tone(&plain, 5) * (0.75 + 0.25 * over.clamp(0.0, 1.0)), wet)
        }
    }
}

impl Floor {
    fn tone(self, pixel: &Footprint, seed: u32) -> Light {
        let (u, v) = pixel.at;
        let (across, along) = pixel.wide;
        let wide = pixel.widest();
        let spots = |size: f64, seed: u32| blotches((u, v), size, wide, seed);
        match self {
            Self::Grass => {
                let fields = 0.45 * spots(23.0, seed) + 0.35 * spots(6.5, seed + 1) + 0.4 * spots(1.3, seed + 2);
                let blades = 0.5 * spots(0.16, seed + 3) + 0.6 * spots(0.045, seed + 4);
                let tone = mix(hex(0x828660), hex(0xa29d78), (0.42 + 0.5 * fields).clamp(0.0, 1.0));
                tone * (1.0 + 0.30 * blades + 0.05 * fields)
            }
            Self::Setts => stones(pixel, (0.22, 0.12), 0.012, [0x968d80, 0x5d564c], seed),
            Self::Flags => stones(pixel, (0.9, 0.6), 0.008, [0xb3ab9d, 0x7c7468], seed),
            Self::Asphalt => {
                let patch = 0.5 * spots(5.0, seed) + 0.4 * spots(0.9, seed + 1);
                hex(0x7b7975) * (1.0 + 0.14 * patch + 0.16 * spots(0.02, seed + 2))
            }
            Self::Gravel => {
                let grain = spots(0.03, seed) + 0.6 * spots(0.11, seed + 1);
                hex(0xb0a48d) * (1.0 + 0.22 * grain + 0.10 * spots(2.0, seed + 2))
            }
            Self::Rails => {
                let ballast = hex(0x8a8278) * (1.0 + 0.25 * spots(0.05, seed) + 0.08 * spots(1.5, seed + 1));
                // Tracks lie 4.5 m apart, the first along the middle.
                let track = v - 4.5 * (v / 4.5).round();
                let sleeper = stripes(u, across, SLEEPERS_M, 0.25) * between(track, along, -1.3, 1.3);
                let rail = [-0.5, 0.5].map(|side| between(track - side * GAUGE_M, along, -0.035, 0.035));
                mix(mix(ballast, hex(0x554a3f), 0.85 * sleeper), hex(0x77706a), rail[0] + rail[1])
            }
            Self::Mud => {
                let soft = spots(2.4, seed) + 0.5 * spots(0.5, seed + 1);
                hex(0x8b7c66) * (1.0 + 0.10 * soft)
            }
        }
    }
}

/// Paving in half bond.
fn stones(pixel: &Footprint, (long, high): (f64, f64), joint_m: f64, [main, joint]: [u32; 2], seed: u32) -> Light {
    let (u, v) = pixel.at;
    let (across, along) = pixel.wide;
    let course = (v / high).floor();
    let shifted = u + long * (0.5 * course.rem_euclid(2.0) + 0.17 * chance(course as i64, 3, seed));
    let near = left(along, 2.0 * high);
    let upright = near * stripes(shifted, across, long, joint_m) + (1.0 - near) * joint_m / long;
    let bed = stripes(v, along, high, joint_m);
    let own = chance(course as i64, (shifted / long).floor() as i64, seed) - 0.5;
    let seen = left(along, 1.4 * high) * left(across, long);
    let worn =
        0.10 * blotches(pixel.at, 3.1, pixel.widest(), seed) + 0.05 * blotches(pixel.at, 0.7, pixel.widest(), seed + 1);
    mix(hex(main) * (1.0 + 0.30 * own * seen + worn), hex(joint), bed + (1.0 - bed) * upright)
}

/// The middle line of an outline: through its middle, along its longest side.
fn middle_line(outline: &[PlanPoint]) -> (PlanPoint, PlanPoint) {
    let sides = outline.iter().zip(outline.iter().cycle().skip(1));
    let longest = sides
        .map(|(a, b)| ((b.0 - a.0), (b.1 - a.1)))
        .max_by(|a, b| a.0.hypot(a.1).total_cmp(&b.0.hypot(b.1)))
        .unwrap_or((1.0, 0.0));
    let length = longest.0.hypot(longest.1).max(1e-9);
    let count = outline.len().max(1) as f64;
    let middle = outline.iter().fold((0.0, 0.0), |sum, corner| (sum.0 + corner.0 / count, sum.1 + corner.1 / count));
    (middle, (longest.0 / length, longest.1 / length))
}

/// How far a place is from the nearest side of an outline.
fn off_edge(outline: &[PlanPoint], (x, y): PlanPoint) -> f64 {
    let sides = outline.iter().zip(outline.iter().cycle().skip(1));
    sides
        .map(|(a, b)| {
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let share = ((x - a.0) * dx + (y - a.1) * dy) / (dx * dx + dy * dy).max(1e-12);
            let share = share.clamp(0.0, 1.0);
            (x - a.0 - share * dx).hypot(y - a.1 - share * dy)
        })
        .fold(f64::INFINITY, f64::min)
}
