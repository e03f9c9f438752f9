//! What would straighten the picture from here, and what would each way cost?
//!
//! Every way is brought to one currency: what leans in the final picture and whether it reads as upright; the detail
//! kept at the worst visible point and the pixels of the picture; how much of the subject is seen and from where its
//! head is seen; and to one effort: metres to walk and to climb, what kit, whose permission. Where a way is a stance,
//! its figures are those of measuring that stance.

mod figures;
mod from_here;
mod higher;
mod on_foot;
mod report;
mod stitch;
mod words;

use thiserror::Error;

use crate::outline::{OutlineError, Subject};
use crate::pose::WorldVector;
use crate::site::{Access, Aim, Footing, Stance, Support};
use crate::stance::StanceError;
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::walking::{Feet, Reach, may_stand};

pub use figures::Figures;
pub use report::{FiguresRecord, WayRecord, WaysRecord};
pub use words::Lengths;

/// How far one walks for a picture unless the user says.
pub const FARTHEST_WALK_M: f64 = 200.0;
/// A stance that fills its frame to more than this is cut by it.
const WHOLE: f64 = 1.0 + 1e-9;
/// A change of lean that counts: a tenth of a degree is the last digit that is shown.
const COUNTS_DEG: f64 = 0.05;
/// A way that sees so much less of the subject than the stance does says so.
const SEES_LESS: f64 = 0.1;
/// A front seen flatter than this (30°) is no picture of it.
const FRONT_SINE: f64 = 0.5;
/// Heights within this are the same.
const SAME_HEIGHT_M: f64 = 0.15;

/// Which ways to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// No farther than this is walked.
    pub farthest_walk_m: f64,
    /// The lenses in the bag, by name; the whole kit where none is named.
    pub bag: Vec<String>,
    /// Whether the best places are looked for on the side that the stance looks at alone. A front has one side anyway.
    pub same_side: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self { farthest_walk_m: FARTHEST_WALK_M, bag: Vec::new(), same_side: false }
    }
}

/// Every way from one stance.
#[derive(Clone, Debug, PartialEq)]
pub struct Ways {
    /// The stance as it is.
    pub home: Figures,
    /// Whether the subject is whole in its frame.
    pub home_whole: bool,
    /// The share of the subject's facing surface in its frame.
    pub home_in_frame: Option<f64>,
    /// The ways, the best first: those that straighten it, those that help, those that do not, those that are
    /// impossible here.
    pub rows: Vec<Way>,
    /// The best place on foot for each lens of the bag, in the same order.
    pub by_lens: Vec<Way>,
    /// How far was walked at most.
    pub farthest_walk_m: f64,
}

/// One way.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// What is done.
    pub remedy: Remedy,
    /// What comes of it.
    pub outcome: Outcome,
    /// The final picture; absent where there is none.
    pub figures: Option<Figures>,
    /// What it takes.
    pub effort: Effort,
    /// What else to know: why it is impossible here, what it costs.
    pub remarks: Vec<Remark>,
    /// The stance to take up, where the way is one.
    pub stance: Option<Stance>,
}

/// What is done to straighten the picture.
#[derive(Clone, Debug, PartialEq)]
pub enum Remedy {
    /// Step back along the line from the subject, with the lens that is on.
    BackOff,
    /// Walk to the best place for a lens.
    BestPlace {
        /// Which lens.
        lens: String,
    },
    /// Stand on a deck, with the lens that is on.
    Deck {
        /// Its block.
        name: String,
    },
    /// Hold the camera at another height over the feet.
    Held(Held),
    /// Raise it as high as it takes to read as upright.
    UprightHeight,
    /// Raise or lower it to where a level camera needs nothing.
    LevelHeight,
    /// Level, with the widest lens of the bag, and crop.
    LevelCrop {
        /// Which lens.
        lens: String,
    },
    /// Level, with a lens of the bag that rises.
    Rise {
        /// Which lens.
        lens: String,
    },
    /// Level, with the focal length that is on and as much rise as it takes.
    RiseNeeded {
        /// At which focal length.
        focal_mm: f64,
        /// How much.
        rise_mm: f64,
    },
    /// Level frames of a lens that rises, moved up and down and joined.
    ShiftedFrames {
        /// Which lens.
        lens: String,
    },
    /// Frames turned up and down from where the camera stands, joined and projected level: with the longest lens of the
    /// bag that does it in few frames.
    PitchedFrames,
    /// Straightened afterwards, leaving a share of the tilt in.
    Straighten {
        /// The share that is left.
        tilt_left: f64,
    },
}

/// How the camera is held over the feet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// Crouching.
    Crouching,
    /// At a standing adult's eye.
    Standing,
    /// With the arms up.
    Overhead,
    /// From the lower rungs of a ladder.
    ShortLadder,
    /// On a hand-held pole.
    Pole,
}

impl Held {
    /// All of them, from the lowest.
    pub const ALL: [Self; 5] = [Self::Crouching, Self::Standing, Self::Overhead, Self::ShortLadder, Self::Pole];

    /// The camera's height above the feet (common practice, no source; standing is the median eye of S. Pheasant,
    /// *Bodyspace*).
    pub const fn height_m(self) -> f64 {
        match self {
            Self::Crouching => 0.9,
            Self::Standing => 1.6,
            Self::Overhead => 2.1,
            Self::ShortLadder => 3.0,
            Self::Pole => 4.2,
        }
    }

    /// The lowest way of holding that reaches a height; `None` above a pole.
    pub fn reaching(height_m: f64) -> Option<Self> {
        Self::ALL.into_iter().find(|held| height_m <= held.height_m() + SAME_HEIGHT_M)
    }
}

/// What comes of a way, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// The subject is whole and reads as upright.
    Upright,
    /// It reads as upright, but the frame cuts the subject.
    Cut,
    /// It leans less than from the stance.
    Better,
    /// It leans as much.
    Same,
    /// It leans more.
    Worse,
    /// There is no such picture from here.
    NotHere,
}

/// What a way takes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Effort {
    /// How far to walk; absent where nobody walks.
    pub walk_m: Option<f64>,
    /// How much higher the camera comes; lower where negative.
    pub climb_m: f64,
    /// What is needed that the stance does not have.
    pub kit: Vec<Kit>,
    /// Whom to ask: grounds and decks by name, on the way and there.
    pub ask: Vec<String>,
}

/// Something that is needed.
#[derive(Clone, Debug, PartialEq)]
pub enum Kit {
    /// A lens, by name.
    Lens(String),
    /// A lens that the kit does not have.
    LensToHire(String),
    /// A way of holding the camera.
    Held(Held),
    /// Something that holds a camera higher than a pole.
    Platform,
    /// So many frames, joined afterwards.
    Frames(usize),
    /// Work at the desk.
    Afterwards,
}

/// What else to know about a way.
#[derive(Clone, Debug, PartialEq)]
pub enum Remark {
    /// Stepping back is stopped.
    Stopped {
        /// After so far.
        after_m: f64,
        /// By what.
        by: Barrier,
    },
    /// Even the farthest place that was looked at leaves a lean.
    StillLeans,
    /// It comes so much nearer to the subject.
    Nearer {
        /// How much.
        by_m: f64,
        /// The share of the distance that it costs.
        share: f64,
    },
    /// It goes so much farther from the subject.
    Farther {
        /// How much.
        by_m: f64,
    },
    /// The frame cuts the subject.
    CutByFrame {
        /// The share of its facing surface in the frame.
        kept: f64,
    },
    /// The head is out of the level frame.
    HeadCut {
        /// By so much of its height.
        by_m: f64,
    },
    /// The foot is out of the level frame.
    FootCut {
        /// By so much of its height.
        by_m: f64,
    },
    /// A side is out of the level frame.
    SideCut {
        /// By so much.
        by_m: f64,
    },
    /// The subject is whole, with less than the wanted margin.
    MarginLost,
    /// The subject's base is hidden.
    BaseHidden {
        /// Below this height over its foot.
        below_m: f64,
    },
    /// The subject's head is hidden.
    HeadHidden {
        /// Above this height over its foot.
        above_m: f64,
    },
    /// Less of the subject is seen than from the stance.
    SeesLess {
        /// The share from here.
        share: f64,
        /// The share from the stance.
        home: f64,
    },
    /// Nobody may stand there.
    Closed {
        /// Where.
        place: String,
    },
    /// No way leads there on foot.
    NoWay {
        /// How far was walked at most.
        within_m: f64,
    },
    /// The lens is too long for every place that can be walked to.
    TooLong {
        /// About how far from the subject it would fit.
        needs_m: Option<f64>,
    },
    /// The lens is too long for this place.
    TooLongHere {
        /// How often the subject would fill the frame.
        fullness: f64,
    },
    /// The lens does not draw straight lines straight.
    Bent,
    /// So much rise is needed, and what stands against it.
    NeedsRise {
        /// How much.
        needed_mm: f64,
        /// How far the lens moves.
        moves_mm: f64,
        /// How far its image circle lets it, where that is less.
        covered_mm: Option<f64>,
    },
    /// How far the lens is moved, and the circle it needs.
    Rises {
        /// How far.
        rise_mm: f64,
        /// The circle.
        circle_mm: f64,
    },
    /// Turning a level camera alone would not do.
    TurningGainsNoHeight,
    /// How the frames are taken.
    Frames {
        /// At which focal length.
        focal_mm: f64,
        /// Columns of them.
        columns: usize,
        /// Rows of them.
        rows: usize,
        /// From the lowest frame's pitch.
        from_deg: f64,
        /// To the highest's.
        to_deg: f64,
    },
    /// How far the frames are moved.
    FramesMoved {
        /// From this rise (a fall where negative).
        from_mm: f64,
        /// To this one.
        to_mm: f64,
    },
    /// Why a straightened picture is none.
    NotStraightened(crate::verticals::StraightenFailure),
    /// The camera's height above the feet.
    AboveFeet {
        /// How high.
        height_m: f64,
    },
    /// The stance cannot be taken up.
    Refused(String),
    /// No place on foot that holds the subject sees enough of it.
    NoPlaceSees {
        /// The share that would do.
        share: f64,
    },
    /// It shows the subject from another side.
    OtherSide,
    /// No lens is so wide.
    NoLensSoWide {
        /// Of which focal length it would have to be.
        focal_mm: f64,
        /// How far it would have to be moved.
        rise_mm: f64,
        /// The angle across the image circle it would have to draw.
        field: crate::angle::Angle,
    },
    /// The best place is where the camera stands.
    WhereYouStand,
    /// A camera in the air is not the photographer's own affair.
    FlyingRules,
    /// A height that drones are commonly kept below.
    HighForFlying,
    /// What to beware of there.
    Beware(String),
}

/// What stops someone who steps back.
#[derive(Clone, Debug, PartialEq)]
pub enum Barrier {
    /// A wall or the like.
    Wall,
    /// A step too high.
    Step {
        /// How high.
        up_m: f64,
    },
    /// An edge.
    Drop {
        /// How deep.
        down_m: f64,
    },
    /// Closed ground.
    Closed {
        /// Its name.
        name: String,
    },
    /// Water.
    Water,
}

/// Why there are no ways.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum WaysError {
    /// The stance cannot be taken up.
    #[error(transparent)]
    Stance(#[from] StanceError),
    /// There is nothing to straighten.
    #[error(transparent)]
    Outline(#[from] OutlineError),
    /// A lens of the bag is unknown.
    #[error(transparent)]
    Kit(#[from] crate::optics::KitError),
    /// A walk that is none.
    #[error("the farthest walk is {0} m; it must lie between 2 and 1000 m")]
    Walk(f64),
}

/// The stance from which the ways are looked for, and all that they share.
struct Home<'a> {
    survey: &'a Survey,
    subject: &'a Subject,
    stance: &'a Stance,
    settings: &'a MeasureSettings,
    measured: Measured,
    figures: Figures,
    bag: Vec<crate::optics::Lens>,
    farthest_walk_m: f64,
    same_side_only: bool,
    /// The plan direction to the subject, of length 1.
    ahead: (f64, f64),
}

/// Every way to straighten the picture from a stance.
///
/// # Errors
/// The stance cannot be taken up, there is no subject, or the options are impossible.
pub fn ways(
    survey: &Survey,
    stance: &Stance,
    settings: &MeasureSettings,
    options: &Options,
) -> Result<Ways, WaysError> {
    if !(2.0..=1000.0).contains(&options.farthest_walk_m) {
        return Err(WaysError::Walk(options.farthest_walk_m));
    }
    let subject = survey.subject.as_ref().map_err(|error| *error)?;
    let settings = MeasureSettings { lean_change: None, ..*settings };
    let measured = survey.measure(stance, &settings)?;
    let bag = if options.bag.is_empty() {
        survey.kit.lenses.clone()
    } else {
        options.bag.iter().map(|name| survey.kit.lens(name)).collect::<Result<_, _>>()?
    };
    let eye = measured.standing.pose.eye;
    let towards = WorldVector::new(subject.middle.x - eye.x, subject.middle.y - eye.y, 0.0);
    let ahead = towards.try_normalize(1e-6).unwrap_or_else(WorldVector::y);
    let home = Home {
        survey,
        subject,
        stance,
        settings: &settings,
        figures: Figures::of(&measured.account, &measured.standing.camera.frame),
        measured,
        bag,
        farthest_walk_m: options.farthest_walk_m,
        same_side_only: options.same_side,
        ahead: (ahead.x, ahead.y),
    };
    let start = home.start();
    let reach = start
        .as_ref()
        .map(|start| Reach::from(&survey.model, &survey.sight, start, home.ahead, options.farthest_walk_m));
    let mut rows = Vec::new();
    rows.extend(on_foot::back_off(&home));
    rows.extend(higher::decks(&home, reach.as_ref()));
    rows.extend(higher::held(&home));
    rows.extend(higher::heights(&home));
    rows.extend(from_here::level_crop(&home));
    rows.extend(from_here::rises(&home));
    rows.extend(stitch::shifted(&home));
    rows.extend(stitch::pitched(&home));
    rows.extend(from_here::straightened(&home));
    let mut by_lens: Vec<Way> = reach.iter().flat_map(|reach| on_foot::best_places(&home, reach)).collect();
    sort(&mut rows);
    sort(&mut by_lens);
    Ok(Ways {
        home_whole: home.is_whole(&home.measured),
        home_in_frame: home.measured.account.in_frame_share,
        home: home.figures,
        rows,
        by_lens,
        farthest_walk_m: options.farthest_walk_m,
    })
}

/// The best first: by outcome; those that read as upright by their detail, the others by what still leans.
fn sort(rows: &mut [Way]) {
    let detail = |way: &Way| way.figures.and_then(|figures| figures.detail).map_or(0.0, |detail| detail.px_per_m);
    let lean = |way: &Way| way.figures.and_then(|figures| figures.largest_lean).map_or(f64::INFINITY, |l| l.radians());
    rows.sort_by(|a, b| {
        a.outcome.cmp(&b.outcome).then_with(|| match a.outcome {
            Outcome::Upright | Outcome::Cut => detail(b).total_cmp(&detail(a)),
            Outcome::NotHere => std::cmp::Ordering::Equal,
            _ => lean(a).total_cmp(&lean(b)),
        })
    });
}

impl Home<'_> {
    /// Where someone who walks off begins: where the feet are; on the ground where the camera hangs, or is on something
    /// that one does not walk off.
    fn start(&self) -> Option<Feet> {
        let model = &self.survey.model;
        let at = self.stance.at;
        let Some(footing) = &self.measured.standing.footing else {
            let below = model.footing(at, Some("ground")).ok()?;
            return Some(Feet::of(at, None, &below));
        };
        let on = match footing.support {
            Support::Deck(_) => footing.name.as_deref(),
            _ => None,
        };
        let feet = Feet::of(at, on, footing);
        let Support::Deck(deck) = footing.support else { return Some(feet) };
        if model.decks[deck].open_below {
            let below = model.footing(at, Some("ground")).ok()?;
            return Some(Feet::of(at, None, &below));
        }
        // A roof without steps is left as it was climbed: down its side.
        let near = Reach::from(model, &self.survey.sight, &feet, self.ahead, 40.0);
        let walks_off = near.places().any(|place| !matches!(place.footing.support, Support::Deck(_)));
        if walks_off { Some(feet) } else { self.beside(deck).or(Some(feet)) }
    }

    /// The nearest place on the ground beside a deck.
    fn beside(&self, deck: usize) -> Option<Feet> {
        let model = &self.survey.model;
        let outline = &model.decks[deck].outline;
        let (x, y) = self.stance.at;
        let mut best: Option<(f64, Feet)> = None;
        for (index, a) in outline.iter().enumerate() {
            let b = outline[(index + 1) % outline.len()];
            let (along, length) = ((b.0 - a.0, b.1 - a.1), (b.0 - a.0).hypot(b.1 - a.1));
            if length < 1e-6 {
                continue;
            }
            let share = ((x - a.0) * along.0 + (y - a.1) * along.1) / (length * length);
            let share = share.clamp(0.0, 1.0);
            let foot = (a.0 + share * along.0, a.1 + share * along.1);
            for side in [1.0, -1.0] {
                let at = (foot.0 + side * along.1 / length, foot.1 - side * along.0 / length);
                let Ok(footing) = model.footing(at, None) else { continue };
                let knee = crate::pose::WorldPoint::new(at.0, at.1, footing.height_m + crate::walking::KNEE_M);
                let stands = may_stand(&footing)
                    && !matches!(footing.support, Support::Deck(_))
                    && model.block_around(&knee).is_none();
                let far_m = (at.0 - x).hypot(at.1 - y);
                if stands && best.as_ref().is_none_or(|(known_m, _)| far_m < *known_m) {
                    best = Some((far_m, Feet::of(at, None, &footing)));
                }
            }
        }
        best.map(|(_, feet)| feet)
    }

    /// The same camera, body and lens somewhere else, filling its frame: a zoom is turned anew.
    fn elsewhere(&self, at: (f64, f64), on: Option<String>) -> Stance {
        Stance {
            at,
            on,
            eye_height_m: None,
            height_m: self.body_height_m(),
            focal_mm: None,
            focus_m: None,
            rise_mm: None,
            aim: Aim::Fill,
            orientation: Some(self.measured.standing.orientation),
            note: None,
            ..self.stance.clone()
        }
    }

    /// How high the camera is held over whatever the feet stand on; standing, for a camera that hangs.
    fn body_height_m(&self) -> f64 {
        self.measured.standing.height_m().unwrap_or(Held::Standing.height_m())
    }

    /// The same place with another lens.
    fn with_lens(&self, lens: &crate::optics::Lens, aim: Aim) -> Stance {
        let own = lens.name == self.measured.standing.lens.name;
        Stance {
            lens: lens.name.clone(),
            distortion: self.stance.distortion.filter(|_| own),
            f_number: self.stance.f_number.clamp(lens.widest_f, lens.narrowest_f),
            focal_mm: None,
            focus_m: None,
            rise_mm: None,
            shift_mm: self.stance.shift_mm.map(|mm| mm.clamp(-lens.shift_mm, lens.shift_mm)),
            note: None,
            aim,
            ..self.stance.clone()
        }
    }

    /// Whether a stance holds all of the subject.
    fn is_whole(&self, measured: &Measured) -> bool {
        measured.standing.fullness.is_some_and(|fullness| fullness <= WHOLE)
            || measured.account.in_frame_share == Some(1.0)
    }

    fn measure(&self, stance: &Stance) -> Result<Measured, StanceError> {
        self.survey.measure(stance, self.settings)
    }

    /// The row of a way that is a stance, measured.
    fn row(&self, remedy: Remedy, stance: Stance, effort: Effort, remarks: Vec<Remark>) -> Way {
        match self.measure(&stance) {
            Ok(measured) => self.row_of(remedy, stance, &measured, effort, remarks),
            Err(error) => {
                let mut remarks = remarks;
                remarks.push(Remark::Refused(error.to_string()));
                Way { remedy, outcome: Outcome::NotHere, figures: None, effort, remarks, stance: None }
            }
        }
    }

    fn row_of(
        &self,
        remedy: Remedy,
        stance: Stance,
        measured: &Measured,
        mut effort: Effort,
        mut remarks: Vec<Remark>,
    ) -> Way {
        let figures = Figures::of(&measured.account, &measured.standing.camera.frame);
        effort.climb_m = measured.standing.pose.eye.z - self.measured.standing.pose.eye.z;
        if let Some(footing) = &measured.standing.footing {
            self.ask_for(footing, &mut effort.ask);
        }
        let whole = self.is_whole(measured);
        if !whole && let Some(kept) = measured.account.in_frame_share {
            remarks.push(Remark::CutByFrame { kept });
        }
        if !self.same_side(&measured.standing.pose.eye) {
            remarks.push(Remark::OtherSide);
        }
        remarks.extend(self.hidden(&figures, &measured.standing.pose.eye));
        let outcome = self.outcome(&figures, whole);
        let stance = Stance { name: remedy.words(), ..stance };
        Way { remedy, outcome, figures: Some(figures), effort, remarks, stance: Some(stance) }
    }

    /// Adds whom to ask for a footing, unless the stance stands there itself.
    fn ask_for(&self, footing: &Footing, ask: &mut Vec<String>) {
        let here = self.measured.standing.footing.as_ref().and_then(|here| here.name.as_ref());
        if footing.access != Access::Ask || here.is_some() && here == footing.name.as_ref() {
            return;
        }
        let name = footing.name.clone().unwrap_or_else(|| "the ground".into());
        if !ask.contains(&name) {
            ask.push(name);
        }
    }

    fn outcome(&self, figures: &Figures, whole: bool) -> Outcome {
        let Some(lean) = figures.largest_lean else { return Outcome::Same };
        if figures.reads_upright == Some(true) {
            return if whole { Outcome::Upright } else { Outcome::Cut };
        }
        let Some(home) = self.figures.largest_lean else { return Outcome::Better };
        let less_deg = home.degrees() - lean.degrees();
        if less_deg > COUNTS_DEG {
            Outcome::Better
        } else if less_deg < -COUNTS_DEG {
            Outcome::Worse
        } else {
            Outcome::Same
        }
    }

    /// The subject's largest wall as the stance sees it.
    fn main_wall(&self) -> Option<&crate::outline::Wall> {
        self.subject.main_wall(&self.measured.standing.pose.eye)
    }

    /// Whether a place looks at the wall that the stance looks at, no flatter than one still reads a front, or than the
    /// stance does; a subject without walls has one side.
    fn same_side(&self, eye: &crate::pose::WorldPoint) -> bool {
        let Some(wall) = self.main_wall() else { return true };
        let sine = |eye: &crate::pose::WorldPoint| {
            let towards = WorldVector::new(eye.x - wall.middle.x, eye.y - wall.middle.y, 0.0);
            wall.normal.dot(&towards) / towards.norm().max(1e-9)
        };
        sine(eye) >= sine(&self.measured.standing.pose.eye).min(FRONT_SINE) - 1e-9
    }

    /// What of the subject is hidden, where less of it is seen than from the stance or its foot or head is.
    fn hidden(&self, figures: &Figures, eye: &crate::pose::WorldPoint) -> Vec<Remark> {
        let mut remarks = Vec::new();
        if let (Some(share), Some(home)) = (figures.visible_share, self.figures.visible_share)
            && share < home - SEES_LESS
        {
            remarks.push(Remark::SeesLess { share, home });
        }
        if figures.visible_share.is_some_and(|share| share < 1.0) {
            remarks.extend(figures::hidden_ends(self.survey, self.subject, eye));
        }
        remarks
    }
}
