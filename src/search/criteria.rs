//! What must the picture be, where may one stand, and with what?

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::angle::Angle;
use crate::optics::{Kit, KitError, Lens, Margins, Orientation, Proportion};
use crate::outline::{OutlineError, SIGHT_SAMPLES, Subject};
use crate::site::{Access, Aim, PlanPoint};
use crate::tolerance::LEAN_CHANGE_DEG;
use crate::verticals::READS_UPRIGHT_DEG;

use super::daylight::{LightCriterion, LightCriterionError};

/// The most places that one run looks at: they are kept in memory, some 200 bytes each.
pub const MOST_PLACES: f64 = 4e6;
/// The most candidates that one run looks at.
pub const MOST_CANDIDATES: f64 = 2e9;
/// The nearest that two places may lie.
const CLOSEST_M: f64 = 0.02;
/// The farthest that two places may lie.
const SPARSEST_M: f64 = 1000.0;
/// The most heights, lenses, aims or names in one requirement.
pub const MOST_OF_A_KIND: usize = 32;
/// Camera heights that are believed.
const HEIGHTS_M: (f64, f64) = (0.05, 150.0);
/// Light counts as long enough up to this much under what is asked for: moments are found to half a second.
const MINUTES_HAIR: f64 = 0.01;
/// The most rungs between the lowest and the highest camera height that are tried one by one.
const MOST_RUNGS: f64 = 2000.0;

/// The ways of aiming that are tried unless others are chosen: those whose picture is judged as it is taken.
pub const AIMS: [Aim; 4] = [Aim::Fill, Aim::Level, Aim::Rise, Aim::LeastTilt];
/// The lenses that are tried where no bag is packed (common practice, no source).
pub const USUAL_LENSES: [&str; 3] = ["14 mm", "24-70 mm", "70-200 mm"];
/// The least share of the frame that the subject fills unless another is required: with less, most of the picture is of
/// something else (common practice, no source).
pub const USUAL_FILLED_SHARE: f64 = 0.5;

/// The angles to a named front from which it is searched unless others are required: from squarely before it to a three-quarter
/// view, and not its back (common practice, no source).
pub const USUAL_FRONT_DEG: (f64, f64) = (0.0, 60.0);
/// Angles at which a front is taken squarely (common practice, no source).
pub const SQUARE_DEG: (f64, f64) = (0.0, 15.0);
/// Angles of a three-quarter view, which shows a front and one of its sides (common practice, no source).
pub const THREE_QUARTER_DEG: (f64, f64) = (30.0, 60.0);
/// Any side of a front.
pub const ANY_SIDE_DEG: (f64, f64) = (0.0, 180.0);

/// What is required. [`Criteria::default`] asks for a subject that is whole in the frame, fills half of it and is nine tenths
/// seen, from open ground, standing, with a bag of three lenses.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Criteria {
    /// The distance between places on the ground.
    pub spacing_m: f64,
    /// South-west and north-east corner of the ground that is searched; a square about the subject unless given.
    pub area: Option<[PlanPoint; 2]>,
    /// The camera above what one stands on; each is tried at every place.
    pub heights_m: Vec<f64>,
    /// The body, by the name of its format.
    pub format: String,
    /// The lenses in the bag, by name; each is tried at every place.
    pub lenses: Vec<String>,
    /// How the camera is held; whatever suits the subject unless given.
    pub orientation: Option<Orientation>,
    /// A crop proportion.
    pub crop: Option<Proportion>,
    /// What is kept clear about the subject; the usual margins unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margins: Option<Margins>,
    /// The ways of aiming, of those in [`Aim::FRAMING`]; each is tried at every place, `Rise` with lenses that rise.
    pub aims: Vec<Aim>,
    /// Whether the subject must be whole in the frame, with its margins.
    pub whole: bool,
    /// The least share of the subject that must be seen, of what faces the camera.
    pub seen_share: f64,
    /// The least share of the frame that the subject fills within its margins: of its height or its width, whichever is
    /// filled more.
    pub filled_share: f64,
    /// Between which angles to the front one may stand, in degrees: 0 is squarely before it, 180 behind. Unless given,
    /// [`USUAL_FRONT_DEG`] of a front that the site names, and anywhere about a subject of which it names none.
    pub front_deg: Option<(f64, f64)>,
    /// The light that the face of the picture has, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub light: Option<LightCriterion>,
    /// How high the water stands then; as the site says unless given. Nobody stands on what it covers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_level_m: Option<f64>,
    /// The largest lean of the subject's verticals.
    #[serde(rename = "worst_lean_deg")]
    pub largest_lean_deg: Option<f64>,
    /// The least detail at any point that is seen.
    pub detail_px_per_m: Option<f64>,
    /// The nearest and farthest that one may stand from the subject, in plan.
    pub distance_m: (f64, f64),
    /// Whether one is ready to ask for permission; closed ground is never walked on.
    pub access: Access,
    /// Blocks that the frame must hold whole, seen or not.
    pub inside: Vec<String>,
    /// Blocks of which the frame must hold nothing.
    pub outside: Vec<String>,
    /// By which figure places are compared first.
    pub rank: Rank,
    /// The largest lean of what is upright enough to be ranked by the walk.
    pub upright_deg: f64,
    /// How many clearly different places are listed.
    pub places: usize,
    /// How far apart they are at least.
    pub difference_m: f64,
    /// From where one walks, for the effort; nobody walks unless it is given.
    pub from: Option<PlanPoint>,
    /// The camera heights between which the lowest that serves is looked for, and the step.
    pub lowest: Option<Rungs>,
    /// Blocks that are taken away.
    pub without: Vec<String>,
    /// How many points of the subject's surface stand for it.
    pub samples: usize,
    /// The change of lean by which the tolerance of the listed places is measured.
    #[serde(rename = "slack_deg")]
    pub tolerance_deg: f64,
}

/// Camera heights one by one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rungs {
    /// The lowest.
    pub from_m: f64,
    /// The highest.
    pub to_m: f64,
    /// From one to the next.
    pub step_m: f64,
}

impl Rungs {
    /// How many there are.
    pub fn count(&self) -> usize {
        (((self.to_m - self.from_m) / self.step_m + 1e-9).floor() as usize) + 1
    }

    /// The height of one.
    pub fn height_m(&self, rung: usize) -> f64 {
        self.from_m + self.step_m * rung as f64
    }
}

/// By which figure places are compared first. Figures that read the same are equal: to a tenth of a degree, a metre, a pixel
/// a metre, a hundredth of the frame; equal ones are compared by the next figure, at last by their order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Rank {
    /// What is upright enough first, by the least effort, then the most detail, then the fullest frame; the rest after it, by
    /// the least lean.
    #[default]
    Upright,
    /// The least lean, then the least effort.
    Lean,
    /// The highest of the lowest details, then the least effort.
    Detail,
    /// The least effort, then the least lean.
    Effort,
    /// The longest light on the face of the picture, then the least lean, then the least effort.
    Light,
}

impl Default for Criteria {
    fn default() -> Self {
        Self {
            spacing_m: 2.0,
            area: None,
            heights_m: vec![1.6],
            format: "36x24".into(),
            lenses: USUAL_LENSES.map(String::from).to_vec(),
            orientation: None,
            crop: None,
            margins: None,
            aims: AIMS.to_vec(),
            whole: true,
            seen_share: 0.9,
            filled_share: USUAL_FILLED_SHARE,
            front_deg: None,
            light: None,
            water_level_m: None,
            largest_lean_deg: None,
            detail_px_per_m: None,
            distance_m: (1.0, 250.0),
            access: Access::Open,
            inside: Vec::new(),
            outside: Vec::new(),
            rank: Rank::default(),
            upright_deg: READS_UPRIGHT_DEG,
            places: 5,
            difference_m: 15.0,
            from: None,
            lowest: None,
            without: Vec::new(),
            samples: SIGHT_SAMPLES,
            tolerance_deg: LEAN_CHANGE_DEG,
        }
    }
}

/// A requirement that cannot be looked for.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum CriteriaError {
    /// A number outside its range.
    #[error("{what} is {value}; it must lie from {lowest} to {highest}")]
    Range {
        /// Which requirement.
        what: &'static str,
        /// What was required.
        value: f64,
        /// The least.
        lowest: f64,
        /// The most.
        highest: f64,
    },
    /// A range whose end lies below its start.
    #[error("{what} runs from {from} to {to}; its end must not lie below its start")]
    Turned {
        /// Which requirement.
        what: &'static str,
        /// Its start.
        from: f64,
        /// Its end.
        to: f64,
    },
    /// None of something of which one at least is needed, or far too many.
    #[error("{what}: {count} are given; 1 to {MOST_OF_A_KIND} can be tried")]
    Count {
        /// Of what.
        what: &'static str,
        /// How many.
        count: usize,
    },
    /// An aim that does not depend on the place.
    #[error(
        "places are searched by the aims fill, level, rise, least-tilt and correct; a fixed point or direction is no requirement for all of them"
    )]
    Aim,
    /// A rise is required of lenses that have none.
    #[error("none of the lenses rises, so there is nothing to try with the aim rise alone")]
    NoRise,
    /// Light that cannot be asked for.
    #[error("the light: {0}")]
    Light(#[from] LightCriterionError),
    /// Places are ranked by a light of which nobody said when.
    #[error("places can be ranked by their light only where it is said when; give a moment or days")]
    NoLight,
    /// A lens or format that no kit has.
    #[error(transparent)]
    Kit(#[from] KitError),
    /// A block that is not there.
    #[error("no block is called '{name}'; there are {known}")]
    NoBlock {
        /// What was asked for.
        name: String,
        /// What there is.
        known: String,
    },
    /// There is no subject.
    #[error(transparent)]
    Subject(#[from] OutlineError),
    /// A piece that there is not.
    #[error("piece {piece} of {pieces}: pieces are counted from 1 to their number, 100000 at most")]
    Piece {
        /// Which.
        piece: usize,
        /// Of how many.
        pieces: usize,
    },
    /// More places than can be kept.
    #[error(
        "{places:.3e} places of {spacing_m} m on {width_m:.0} × {depth_m:.0} m are more than the {MOST_PLACES:.0e} that one run \
         keeps; a spacing of {enough_m:.2} m, a smaller area, or pieces of the search would do"
    )]
    TooManyPlaces {
        /// How many.
        places: f64,
        /// How far apart.
        spacing_m: f64,
        /// On which ground.
        width_m: f64,
        /// On which ground.
        depth_m: f64,
        /// What spacing would do.
        enough_m: f64,
    },
    /// More candidates than can be looked at.
    #[error(
        "{places:.0} places with {each} combinations of height, lens and aim each are {candidates:.3e} candidates; one run \
         looks at {MOST_CANDIDATES:.0e}: take a wider spacing or fewer of them"
    )]
    TooManyCandidates {
        /// How many places.
        places: f64,
        /// How many at each.
        each: usize,
        /// Together.
        candidates: f64,
    },
    /// Results that do not belong together.
    #[error("the pieces cannot be put together: {why}")]
    Unlike {
        /// Why.
        why: String,
    },
}

impl Criteria {
    /// The largest lean that is allowed, if any.
    pub fn largest_lean(&self) -> Option<Angle> {
        self.largest_lean_deg.map(Angle::from_degrees)
    }

    /// Between which angles to its front, in degrees, one may stand about a subject; `None` where nothing is required of it.
    pub fn front_of(&self, subject: &Subject) -> Option<(f64, f64)> {
        self.front_deg.or_else(|| subject.named_front.map(|_| USUAL_FRONT_DEG))
    }

    /// Whether so many minutes of light are too few; nothing is too little where no light is asked for.
    pub(super) fn lacks_light(&self, minutes: f64) -> bool {
        self.light.as_ref().is_some_and(|light| {
            light.least_minutes > 0.0 && (minutes.is_nan() || minutes + MINUTES_HAIR < light.least_minutes)
        })
    }

    /// How many combinations of height, lens and aim are tried at each place.
    ///
    /// # Errors
    /// A lens that the kit does not have.
    pub fn each(&self, kit: &Kit) -> Result<usize, CriteriaError> {
        let lenses = self.lenses.iter().map(|name| kit.lens(name)).collect::<Result<Vec<Lens>, _>>()?;
        Ok(self.heights_m.len() * self.tried(&lenses).len())
    }

    /// The pairs of a lens and an aim that are tried, by their index, lens by lens.
    pub(super) fn tried(&self, lenses: &[Lens]) -> Vec<(usize, usize)> {
        let is_tried = |lens: &Lens, aim: Aim| aim != Aim::Rise || lens.rise_mm > 0.0;
        let aims = |lens: usize| (0..self.aims.len()).map(move |aim| (lens, aim));
        let all = (0..lenses.len()).flat_map(aims);
        all.filter(|&(lens, aim)| is_tried(&lenses[lens], self.aims[aim])).collect()
    }

    /// Refuses what cannot be looked for, before anything is built for it.
    ///
    /// # Errors
    /// The first requirement that is out of its range, of which there are none or too many, or that runs backwards.
    pub fn check(&self) -> Result<(), CriteriaError> {
        self.check_each()?;
        for (what, count) in
            [("camera heights", self.heights_m.len()), ("lenses", self.lenses.len()), ("aims", self.aims.len())]
        {
            if !(1..=MOST_OF_A_KIND).contains(&count) {
                return Err(CriteriaError::Count { what, count });
            }
        }
        let forward =
            |what, from: f64, to: f64| if to < from { Err(CriteriaError::Turned { what, from, to }) } else { Ok(()) };
        if let Some((from_deg, to_deg)) = self.front_deg {
            forward("the angle to the front (degrees)", from_deg, to_deg)?;
        }
        forward("the distance (m)", self.distance_m.0, self.distance_m.1)?;
        if let Some([south_west, north_east]) = self.area {
            for (what, from, to) in [
                ("the area from west to east (m)", south_west.0, north_east.0),
                ("the area from south to north (m)", south_west.1, north_east.1),
            ] {
                if to <= from {
                    return Err(CriteriaError::Turned { what, from, to });
                }
            }
        }
        if self.rank == Rank::Light && self.light.is_none() {
            return Err(CriteriaError::NoLight);
        }
        if let Some(rungs) = self.lowest {
            forward("the camera heights to try (m)", rungs.from_m, rungs.to_m)?;
            let range = (rungs.to_m - rungs.from_m) / rungs.step_m;
            in_range("the number of camera heights to try", range, 0.0, MOST_RUNGS)?;
        }
        Ok(())
    }

    /// Refuses numbers that no requirement can be, each for itself: what is left may be a requirement that is not yet whole.
    ///
    /// # Errors
    /// The first number that is out of its range, or an aim that is none for all places.
    pub fn check_each(&self) -> Result<(), CriteriaError> {
        in_range("the spacing (m)", self.spacing_m, CLOSEST_M, SPARSEST_M)?;
        for &height_m in &self.heights_m {
            in_range("a camera height (m)", height_m, HEIGHTS_M.0, HEIGHTS_M.1)?;
        }
        if self.aims.iter().any(|aim| !Aim::FRAMING.contains(aim)) {
            return Err(CriteriaError::Aim);
        }
        in_range("the share seen", self.seen_share, 0.0, 1.0)?;
        in_range("the share of the frame that is filled", self.filled_share, 0.0, 1.0)?;
        in_range("the lean that is upright enough (degrees)", self.upright_deg, 0.0, 90.0)?;
        if let Some(lean_deg) = self.largest_lean_deg {
            in_range("the largest lean (degrees)", lean_deg, 0.0, 90.0)?;
        }
        if let Some(px_per_m) = self.detail_px_per_m {
            in_range("the detail (px/m)", px_per_m, 0.0, 1e9)?;
        }
        if let Some((from_deg, to_deg)) = self.front_deg {
            in_range("the angle to the front (degrees)", from_deg, 0.0, 180.0)?;
            in_range("the angle to the front (degrees)", to_deg, 0.0, 180.0)?;
        }
        if let Some(light) = &self.light {
            light.check()?;
        }
        if let Some(level_m) = self.water_level_m {
            in_range("the water's height (m)", level_m, -1e4, 1e4)?;
        }
        in_range("the nearest distance (m)", self.distance_m.0, 0.0, 1e5)?;
        in_range("the farthest distance (m)", self.distance_m.1, 0.0, 1e5)?;
        if let Some([south_west, north_east]) = self.area {
            for value in [south_west.0, south_west.1, north_east.0, north_east.1] {
                in_range("a corner of the area (m)", value, -1e6, 1e6)?;
            }
        }
        if let Some(rungs) = self.lowest {
            in_range("the lowest camera height to try (m)", rungs.from_m, HEIGHTS_M.0, HEIGHTS_M.1)?;
            in_range("the highest camera height to try (m)", rungs.to_m, HEIGHTS_M.0, HEIGHTS_M.1)?;
            in_range("the step between camera heights (m)", rungs.step_m, 0.001, 10.0)?;
        }
        in_range("the number of places to list", self.places as f64, 1.0, 1000.0)?;
        in_range("how far apart listed places are (m)", self.difference_m, 0.0, 1e5)?;
        in_range("the points of the subject", self.samples as f64, 8.0, 4096.0)?;
        in_range("the change of lean for the tolerance (degrees)", self.tolerance_deg, 1e-6, 45.0)?;
        if let Some(from) = self.from {
            in_range("where one walks from (m)", from.0.abs().max(from.1.abs()), 0.0, 1e6)?;
        }
        Ok(())
    }
}

fn in_range(what: &'static str, value: f64, lowest: f64, highest: f64) -> Result<(), CriteriaError> {
    if (lowest..=highest).contains(&value) {
        Ok(())
    } else {
        Err(CriteriaError::Range { what, value, lowest, highest })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_looked_for_is_refused_with_its_range() {
        let refused = |criteria: Criteria| criteria.check().expect_err("refused").to_string();
        for spacing_m in [0.0, 1e-9, -1.0, f64::NAN, f64::INFINITY] {
            let message = refused(Criteria { spacing_m, ..Criteria::default() });
            assert!(message.contains("spacing") && message.contains("0.02"), "{message}");
        }
        assert!(refused(Criteria { heights_m: Vec::new(), ..Criteria::default() }).contains("camera heights: 0"));
        assert!(refused(Criteria { heights_m: vec![f64::NAN], ..Criteria::default() }).contains("height"));
        assert!(refused(Criteria { distance_m: (50.0, 20.0), ..Criteria::default() }).contains("50 to 20"));
        assert!(refused(Criteria { aims: vec![Aim::At(0.0, 0.0, 0.0)], ..Criteria::default() }).contains("fill"));
        let rungs = Rungs { from_m: 0.5, to_m: 140.0, step_m: 0.001 };
        assert!(refused(Criteria { lowest: Some(rungs), ..Criteria::default() }).contains("2000"));
        Criteria::default().check().expect("the usual requirements can be looked for");
    }

    #[test]
    fn rungs_are_counted_with_both_ends() {
        let rungs = Rungs { from_m: 0.3, to_m: 4.3, step_m: 0.1 };
        assert_eq!(rungs.count(), 41);
        assert!((rungs.height_m(40) - 4.3).abs() < 1e-12);
    }
}
