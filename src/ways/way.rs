//! What is a way, what comes of it, and what does it take?

use thiserror::Error;

use crate::angle::Angle;
use crate::optics::{KitError, Proportion};
use crate::outline::OutlineError;
use crate::site::Stance;
use crate::stance::StanceError;
use crate::verdict::Verdict;
use crate::verticals::StraightenFailure;

use super::figures::Figures;

/// How far one walks for a picture unless the user says.
pub const FARTHEST_WALK_M: f64 = 200.0;
/// Heights within this are the same.
pub(super) const SAME_HEIGHT_M: f64 = 0.15;

/// Which ways to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// No farther than this is walked.
    pub farthest_walk_m: f64,
    /// The lenses in the bag, by name; the usual ones of a search where none is named. What is on the camera is in it anyway.
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
    pub stance_figures: Figures,
    /// The share of the subject's facing surface in its frame.
    pub stance_in_frame: Option<f64>,
    /// The ways, the best first: those that straighten it, those that help, those that do not, those that are
    /// impossible here.
    pub rows: Vec<Way>,
    /// The best place on foot for each lens of the bag, in the same order.
    pub by_lens: Vec<Way>,
    /// How far was walked at most.
    pub farthest_walk_m: f64,
    /// The verdict on the stance as it is.
    pub verdict: Verdict,
    /// What to do, in two lines.
    pub advice: Advice,
}

/// The cheapest mend and the best one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Advice {
    /// The one that takes least.
    pub cheapest: Option<Mend>,
    /// The one whose picture is upright as it is taken and draws the subject most finely for what it takes, with what one owns
    /// and can reach; absent where that is the cheapest.
    pub best: Option<Mend>,
}

/// Which way is advised.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mend {
    /// Whether it is one of the places for a lens, rather than one of the rows.
    pub by_lens: bool,
    /// Its place in that list.
    pub index: usize,
}

/// One way.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// What is done.
    pub remedy: Remedy,
    /// What comes of it.
    pub outcome: WayOutcome,
    /// What it amounts to; absent where there is no such picture.
    pub figures: Option<Figures>,
    /// Whether its picture is upright, in parts: as taken, or as joined or straightened where that is what is done.
    pub verdict: Option<Verdict>,
    /// What it takes.
    pub effort: Effort,
    /// What else to know: why it is impossible here, what it costs.
    pub remarks: Vec<Remark>,
    /// The stance to take up, where the way is one.
    pub stance: Option<Stance>,
    /// The focal length to zoom to, where the stance has another on the same lens, or on another zoom.
    pub zoom_mm: Option<f64>,
}

impl Way {
    /// A way that there is not from here.
    pub(super) fn not_here(remedy: Remedy, kit: Vec<Equipment>, remarks: Vec<Remark>) -> Self {
        let effort = Effort { kit, ..Effort::default() };
        Self {
            remedy,
            outcome: WayOutcome::NotHere,
            figures: None,
            verdict: None,
            effort,
            remarks,
            stance: None,
            zoom_mm: None,
        }
    }
}

/// What is done to straighten the picture.
#[derive(Clone, Debug, PartialEq)]
pub enum Remedy {
    /// Pitch the camera nearer to level from where it stands, and zoom where that helps.
    Tilt {
        /// To which pitch.
        pitch: Angle,
        /// From which.
        from: Angle,
        /// To which focal length, where the lens is zoomed.
        zoom_mm: Option<f64>,
        /// Whether the picture is straightened and cropped afterwards.
        afterwards: bool,
    },
    /// Back off, raise the camera and pitch it least, all at once.
    Together {
        /// How the camera is held there.
        held: Holding,
    },
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
    Holding(Holding),
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
pub enum Holding {
    /// Crouching.
    Crouching,
    /// At a standing adult's eye.
    Standing,
    /// With the arms up.
    Overhead,
    /// On the roof of a vehicle that is made for it.
    VehicleRoof,
    /// From the lower rungs of a ladder.
    ShortLadder,
    /// On a hand-held pole.
    Pole,
}

impl Holding {
    /// All of them, from the lowest.
    pub const ALL: [Self; 6] =
        [Self::Crouching, Self::Standing, Self::Overhead, Self::VehicleRoof, Self::ShortLadder, Self::Pole];

    /// The camera's height above the feet (common practice, no source: a vehicle's roof brings it to 8 to 10 ft; standing is the
    /// median eye of S. Pheasant, *Bodyspace*).
    pub const fn height_m(self) -> f64 {
        match self {
            Self::Crouching => 0.9,
            Self::Standing => 1.6,
            Self::Overhead => 2.1,
            Self::VehicleRoof => 2.7,
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
pub enum WayOutcome {
    /// The subject is seen, whole and upright.
    Upright,
    /// It is upright, but the frame cuts the subject.
    Cut,
    /// It is upright, but much of the subject is hidden.
    Hidden,
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
    pub kit: Vec<Equipment>,
    /// Whom to ask: grounds and decks by name, on the way and there.
    pub ask: Vec<String>,
}

/// Something that is needed.
#[derive(Clone, Debug, PartialEq)]
pub enum Equipment {
    /// A lens, by name.
    Lens(String),
    /// A lens that the kit does not have.
    LensToHire(String),
    /// A way of holding the camera.
    Holding(Holding),
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
    TopCut {
        /// By so much of its height.
        by_m: f64,
    },
    /// The foot is out of the level frame.
    BaseCut {
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
    TopHidden {
        /// Above this height over its foot.
        above_m: f64,
    },
    /// Less of the subject is seen than from the stance.
    SeesLess {
        /// The share from here.
        share: f64,
        /// The share from the stance.
        stance_share: f64,
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
    NotStraightened(StraightenFailure),
    /// What would let the picture be straightened.
    WouldStraighten(Straightener),
    /// Nothing that can be set from here would.
    NothingStraightens,
    /// Nothing of the subject is seen from there.
    SeesNothing,
    /// What the margins cost: how many megapixels there would be without them.
    MarginsCost {
        /// Without them.
        without_mp: f64,
    },
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
        field: Angle,
    },
    /// The best place is where the camera stands.
    WhereYouStand,
    /// A camera in the air is not the photographer's own affair.
    DroneRules,
    /// A height that drones are commonly kept below.
    HighForDrone,
    /// What to beware of there.
    Beware(String),
}

/// What would let a picture be straightened from where it is taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Straightener {
    /// Another pitch.
    Pitch(Angle),
    /// Another focal length of the lens that is on, and the pitch that goes with it.
    Zoom {
        /// The focal length.
        focal_mm: f64,
        /// The pitch.
        pitch: Angle,
    },
    /// Another proportion of the picture: width to height.
    Aspect(Proportion),
    /// Another lens of the bag.
    Lens(String),
}

/// What stops someone who steps back.
#[derive(Clone, Debug, PartialEq)]
pub enum Barrier {
    /// A wall or the like.
    Wall {
        /// Whose, where it has a name.
        name: Option<String>,
    },
    /// A step too high.
    Step {
        /// How high.
        up_m: f64,
    },
    /// An edge.
    Drop {
        /// How deep.
        down_m: f64,
        /// The edge of what.
        name: Option<String>,
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
    Kit(#[from] KitError),
    /// A walk that is none.
    #[error("the farthest walk is {0} m; it must lie between 2 and 1000 m")]
    Walk(f64),
}
