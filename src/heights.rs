//! How high is something whose height nobody knows, and how far may that be off?
//!
//! Each way of finding a height gives it with its standard uncertainty and a sentence that says how it was found. What goes in are
//! readings with standard uncertainties of their own; what comes out is their first-order propagation, with exact partial
//! derivatives: u² = Σ (∂H/∂x · u(x))², the readings being independent.
//!
//! # Source
//! JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, 5.1.2 (from memory).

use thiserror::Error;

use crate::angle::Angle;
use crate::units::{Units, digits_of};

/// The standard uncertainty of an angle taken with a hand-held level or a telephone, in degrees, unless another is given (common
/// practice, no source).
pub const ANGLE_PM_DEG: f64 = 0.5;
/// The standard uncertainty of a length that was taped or paced with care, as a share of it, unless another is given (common
/// practice, no source).
pub const LENGTH_PM_SHARE: f64 = 0.01;
/// The height of a storey from floor to floor, in metres, unless another is given (common practice, no source).
pub const STOREY_M: f64 = 3.0;
/// Its standard uncertainty, in metres (common practice, no source).
pub const STOREY_PM_M: f64 = 0.3;
/// The standard uncertainty of pixels that were counted between two edges, unless another is given (common practice, no source).
pub const COUNT_PM_PX: f64 = 2.0;
/// Two angles of elevation that differ by less give no height that is worth having (common practice, no source).
pub const NEAREST_ANGLES_DEG: f64 = 1.0;
/// The most storeys.
pub const MOST_STOREYS: u32 = 200;
/// The longest length that is believed, in metres.
pub const LONGEST_M: f64 = 10_000.0;
/// The most pixels that are believed.
pub const MOST_PX: f64 = 1e6;

/// A length with its standard uncertainty, in metres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Length {
    /// What was read.
    pub m: f64,
    /// Its standard uncertainty.
    pub pm_m: f64,
}

/// An angle with its standard uncertainty.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sighted {
    /// What was read.
    pub angle: Angle,
    /// Its standard uncertainty.
    pub pm: Angle,
}

/// Pixels counted in a picture, with their standard uncertainty.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Count {
    /// What was counted.
    pub px: f64,
    /// Its standard uncertainty.
    pub pm_px: f64,
}

/// What tells how far below the instrument the base is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BaseSight {
    /// The instrument's height over the base: the ground is level, or the difference is known.
    Over(Length),
    /// The angle of depression to the base; negative where the base is above the instrument.
    Depression(Sighted),
}

/// A way of finding a height, with what was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HeightBy {
    /// Storeys of one height each, with what is below the first floor and above the last ceiling.
    Storeys {
        /// How many: 1 to [`MOST_STOREYS`].
        storeys: u32,
        /// The height of one, from floor to floor. All are taken to be alike, and to be off alike.
        storey: Length,
        /// What the ground floor is higher than the others, or lies above the ground.
        ground: Length,
        /// What rises above the last storey: a parapet, an attic.
        parapet: Length,
    },
    /// Two angles of elevation of the top, taken in line with it.
    TwoSightings {
        /// From the nearer place.
        near: Sighted,
        /// From the farther place.
        far: Sighted,
        /// How far the places are apart, level.
        apart: Length,
        /// How high the instrument at the nearer place is over the base of what is measured.
        near_over_base: Length,
        /// The same at the farther place.
        far_over_base: Length,
    },
    /// One angle of elevation of the top, and the distance.
    Sighting {
        /// Of the top.
        top: Sighted,
        /// To the point below the top, level.
        distance: Length,
        /// Where the base is.
        base: BaseSight,
    },
    /// The length of its shadow on level ground, and the sun's altitude.
    Shadow {
        /// From the point below the top to the shadow's end.
        shadow: Length,
        /// The sun's altitude.
        sun: Sighted,
    },
    /// Its shadow beside that of a post of known height, at the same time on level ground.
    Post {
        /// From the point below the top to the shadow's end.
        shadow: Length,
        /// The post's height.
        post: Length,
        /// The post's shadow.
        post_shadow: Length,
    },
    /// A known width in the same wall, in a straight picture of it that was taken squarely.
    Width {
        /// The known width.
        width: Length,
        /// The same in the picture.
        width_px: Count,
        /// The height in the picture.
        height_px: Count,
    },
}

/// A height that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundHeight {
    /// The height, in metres.
    pub height_m: f64,
    /// Its standard uncertainty, in metres.
    pub pm_m: f64,
    /// What each reading adds to it, in metres, with its name; the largest first.
    pub shares: Vec<(&'static str, f64)>,
}

/// A height that cannot be found so.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum HeightError {
    /// A reading outside its range.
    #[error("{what} is {value}; allowed is {allowed}")]
    Range {
        /// Which reading.
        what: &'static str,
        /// What it is, with its unit.
        value: String,
        /// What is allowed.
        allowed: String,
    },
    /// Readings that contradict one another, or give no height worth having.
    #[error("{fault}; {mend}")]
    Unsuitable {
        /// What is wrong.
        fault: String,
        /// What would give a height.
        mend: &'static str,
    },
}

impl Length {
    /// A length that is known exactly.
    pub const fn exact(m: f64) -> Self {
        Self { m, pm_m: 0.0 }
    }

    /// A length that was taped or paced with care: see [`LENGTH_PM_SHARE`].
    pub fn read(m: f64) -> Self {
        Self { m, pm_m: LENGTH_PM_SHARE * m.abs() }
    }

    fn checked(self, what: &'static str, (low, high): (f64, f64)) -> Result<Self, HeightError> {
        let range = |value: f64, what, low: f64| HeightError::Range {
            what,
            value: format!("{value} m"),
            allowed: format!("from {low} to {high} m"),
        };
        if !(low..=high).contains(&self.m) {
            return Err(range(self.m, what, low));
        }
        if !(0.0..=high).contains(&self.pm_m) {
            return Err(range(self.pm_m, "an uncertainty", 0.0));
        }
        Ok(self)
    }
}

impl Sighted {
    /// An angle read off with a hand-held level, in degrees: see [`ANGLE_PM_DEG`].
    pub fn read(degrees: f64) -> Self {
        Self { angle: Angle::from_degrees(degrees), pm: Angle::from_degrees(ANGLE_PM_DEG) }
    }

    /// The angle, where it lies between these degrees, neither of them being allowed itself.
    fn checked(self, what: &'static str, (low, high): (f64, f64)) -> Result<Self, HeightError> {
        let (angle, pm) = (self.angle.degrees(), self.pm.degrees());
        if !(angle > low && angle < high) {
            let allowed = format!("more than {low}° and less than {high}°");
            return Err(HeightError::Range { what, value: format!("{}°", short(angle)), allowed });
        }
        if !(0.0..=45.0).contains(&pm) {
            let allowed = "from 0° to 45°".to_owned();
            return Err(HeightError::Range { what: "an uncertainty", value: format!("{}°", short(pm)), allowed });
        }
        Ok(self)
    }

    fn tangent(self) -> f64 {
        self.angle.radians().tan()
    }

    /// How far the tangent may be off: its derivative is 1 + tan².
    fn tangent_pm(self) -> f64 {
        (1.0 + self.tangent().powi(2)) * self.pm.radians()
    }
}

impl Count {
    /// Pixels counted between two edges: see [`COUNT_PM_PX`].
    pub const fn read(px: f64) -> Self {
        Self { px, pm_px: COUNT_PM_PX }
    }

    fn checked(self, what: &'static str) -> Result<Self, HeightError> {
        for (value, low, what) in [(self.px, 1.0, what), (self.pm_px, 0.0, "an uncertainty")] {
            if !(low..=MOST_PX).contains(&value) {
                let allowed = format!("from {low} to {MOST_PX} px");
                return Err(HeightError::Range { what, value: format!("{value} px"), allowed });
            }
        }
        Ok(self)
    }
}

impl HeightBy {
    /// The height that these readings give.
    ///
    /// # Errors
    /// A reading is impossible, readings contradict one another, or the height would not be worth having.
    ///
    /// # Example
    /// ```
    /// use plumbsight::heights::{BaseSight, HeightBy, Length, Sighted};
    /// // Half a right angle from 28.5 m away and 1.5 m up: 28.5 + 1.5 = 30 m.
    /// let top = Sighted::read(45.0);
    /// let base = BaseSight::Over(Length::read(1.5));
    /// let found = HeightBy::Sighting { top, distance: Length::read(28.5), base }.found().unwrap();
    /// assert!((found.height_m - 30.0).abs() < 1e-12);
    /// ```
    pub fn found(&self) -> Result<FoundHeight, HeightError> {
        match *self {
            Self::Storeys { storeys, storey, ground, parapet } => by_storeys(storeys, storey, ground, parapet),
            Self::TwoSightings { near, far, apart, near_over_base, far_over_base } => {
                by_two_sightings(near, far, apart, near_over_base, far_over_base)
            }
            Self::Sighting { top, distance, base } => by_sighting(top, distance, base),
            Self::Shadow { shadow, sun } => {
                let shadow = shadow.checked("the shadow's length", POSITIVE)?;
                let sun = sun.checked("the sun's altitude", UPWARD)?;
                let height_m = shadow.m * sun.tangent();
                worth_having(
                    height_m,
                    vec![
                        ("the shadow's length", sun.tangent() * shadow.pm_m),
                        ("the sun's altitude", shadow.m * sun.tangent_pm()),
                    ],
                )
            }
            Self::Post { shadow, post, post_shadow } => {
                let shadow = shadow.checked("the shadow's length", POSITIVE)?;
                let post = post.checked("the post's height", POSITIVE)?;
                let post_shadow = post_shadow.checked("the post's shadow", POSITIVE)?;
                let height_m = post.m * shadow.m / post_shadow.m;
                worth_having(
                    height_m,
                    vec![
                        ("the shadow's length", height_m * shadow.pm_m / shadow.m),
                        ("the post's height", height_m * post.pm_m / post.m),
                        ("the post's shadow", height_m * post_shadow.pm_m / post_shadow.m),
                    ],
                )
            }
            Self::Width { width, width_px, height_px } => {
                let width = width.checked("the known width", POSITIVE)?;
                let width_px = width_px.checked("the width in the picture")?;
                let height_px = height_px.checked("the height in the picture")?;
                let height_m = width.m * height_px.px / width_px.px;
                worth_having(
                    height_m,
                    vec![
                        ("the known width", height_m * width.pm_m / width.m),
                        ("the width in the picture", height_m * width_px.pm_px / width_px.px),
                        ("the height in the picture", height_m * height_px.pm_px / height_px.px),
                    ],
                )
            }
        }
    }

    /// How the height was found, in a sentence without a full stop, to be kept with it.
    pub fn words(&self, units: Units) -> String {
        let length = |length: Length| written(length.m, units);
        let degrees = |sighted: Sighted| format!("{}°", short(sighted.angle.degrees()));
        match *self {
            Self::Storeys { storeys, storey, ground, parapet } => {
                let mut more = String::new();
                for (extra, what) in [(ground, "for the ground floor"), (parapet, "for what rises above the last")] {
                    if extra.m != 0.0 {
                        more.push_str(&format!(" and {} {what}", length(extra)));
                    }
                }
                let storeys_word = if storeys == 1 { "storey" } else { "storeys" };
                format!("counted: {storeys} {storeys_word} of {}{more}", length(storey))
            }
            Self::TwoSightings { near, far, apart, near_over_base, far_over_base } => format!(
                "sighted twice in line with the top: {} and, {} farther back, {}; the instrument {} and {} over the base",
                degrees(near),
                length(apart),
                degrees(far),
                length(near_over_base),
                length(far_over_base),
            ),
            Self::Sighting { top, distance, base: BaseSight::Over(over) } => format!(
                "sighted from {} away and {} over the base: the top at {}",
                length(distance),
                length(over),
                degrees(top)
            ),
            Self::Sighting { top, distance, base: BaseSight::Depression(down) } => format!(
                "sighted from {} away: the top {} up, the base {} down",
                length(distance),
                degrees(top),
                degrees(down)
            ),
            Self::Shadow { shadow, sun } => {
                format!("from its shadow, {} long with the sun {} high", length(shadow), degrees(sun))
            }
            Self::Post { shadow, post, post_shadow } => format!(
                "from its shadow, {} long, beside that of a post {} high, {} long",
                length(shadow),
                length(post),
                length(post_shadow)
            ),
            Self::Width { width, width_px, height_px } => format!(
                "from a straight picture: {} px high where {} are {} px",
                short(height_px.px),
                length(width),
                short(width_px.px)
            ),
        }
    }
}

const POSITIVE: (f64, f64) = (0.001, LONGEST_M);
/// Levels over the base, which may be below it.
const LEVEL: (f64, f64) = (-LONGEST_M, LONGEST_M);
const UPWARD: (f64, f64) = (0.0, 90.0);

fn by_storeys(storeys: u32, storey: Length, ground: Length, parapet: Length) -> Result<FoundHeight, HeightError> {
    if !(1..=MOST_STOREYS).contains(&storeys) {
        return Err(HeightError::Range {
            what: "the number of storeys",
            value: storeys.to_string(),
            allowed: format!("from 1 to {MOST_STOREYS}"),
        });
    }
    let storey = storey.checked("the height of a storey", (0.5, 50.0))?;
    let ground = ground.checked("the ground floor's extra height", (-50.0, 100.0))?;
    let parapet = parapet.checked("the height above the last storey", (0.0, 1000.0))?;
    let count = f64::from(storeys);
    worth_having(
        count * storey.m + ground.m + parapet.m,
        vec![
            ("the height of a storey", count * storey.pm_m),
            ("the ground floor", ground.pm_m),
            ("what rises above the last storey", parapet.pm_m),
        ],
    )
}

/// With the instrument's heights h₁ (near) and h₂ over the base, angles α and β and the distance d between: the nearer place is
/// x = (d tan β + h₂ − h₁) / (tan α − tan β) from the top's plumb line, and H = h₁ + x tan α.
fn by_two_sightings(
    near: Sighted,
    far: Sighted,
    apart: Length,
    near_over: Length,
    far_over: Length,
) -> Result<FoundHeight, HeightError> {
    let near = near.checked("the angle from the nearer place", UPWARD)?;
    let far = far.checked("the angle from the farther place", UPWARD)?;
    let apart = apart.checked("the distance between the places", POSITIVE)?;
    let near_over = near_over.checked("the instrument's height at the nearer place", LEVEL)?;
    let far_over = far_over.checked("the instrument's height at the farther place", LEVEL)?;
    let differ_deg = near.angle.degrees() - far.angle.degrees();
    if differ_deg <= 0.0 {
        return Err(HeightError::Unsuitable {
            fault: format!(
                "the angle from the nearer place, {}°, is not larger than that from the farther one, {}°",
                short(near.angle.degrees()),
                short(far.angle.degrees())
            ),
            mend: "give the nearer place's angle as the near one",
        });
    }
    if differ_deg < NEAREST_ANGLES_DEG {
        return Err(HeightError::Unsuitable {
            fault: format!(
                "the two angles differ by only {}°, which gives no height that is worth having",
                short(differ_deg)
            ),
            mend: "take the two places farther apart, or nearer to what is measured",
        });
    }
    let (tan_near, tan_far) = (near.tangent(), far.tangent());
    let (between, step_m) = (tan_near - tan_far, far_over.m - near_over.m);
    let away_m = (apart.m * tan_far + step_m) / between;
    if away_m <= 0.0 {
        return Err(HeightError::Unsuitable {
            fault: "so sighted, the top would lie behind the nearer place".into(),
            mend: "check the heights of the instrument over the base",
        });
    }
    worth_having(
        near_over.m + away_m * tan_near,
        vec![
            ("the angle from the nearer place", away_m * tan_far / between * near.tangent_pm()),
            (
                "the angle from the farther place",
                tan_near * (apart.m * tan_near + step_m) / between.powi(2) * far.tangent_pm(),
            ),
            ("the distance between the places", tan_near * tan_far / between * apart.pm_m),
            ("the instrument's height at the nearer place", tan_far / between * near_over.pm_m),
            ("the instrument's height at the farther place", tan_near / between * far_over.pm_m),
        ],
    )
}

fn by_sighting(top: Sighted, distance: Length, base: BaseSight) -> Result<FoundHeight, HeightError> {
    let top = top.checked("the angle to the top", UPWARD)?;
    let distance = distance.checked("the distance", POSITIVE)?;
    let angle_m = distance.m * top.tangent_pm();
    match base {
        BaseSight::Over(over) => {
            let over = over.checked("the instrument's height", LEVEL)?;
            worth_having(
                distance.m * top.tangent() + over.m,
                vec![
                    ("the angle to the top", angle_m),
                    ("the distance", top.tangent() * distance.pm_m),
                    ("the instrument's height", over.pm_m),
                ],
            )
        }
        BaseSight::Depression(down) => {
            let down = down.checked("the angle down to the base", (-90.0, 90.0))?;
            let tangents = top.tangent() + down.tangent();
            worth_having(
                distance.m * tangents,
                vec![
                    ("the angle to the top", angle_m),
                    ("the angle down to the base", distance.m * down.tangent_pm()),
                    ("the distance", tangents * distance.pm_m),
                ],
            )
        }
    }
}

/// A height with what each reading adds to its uncertainty, where there is a height at all and more of it than of doubt.
fn worth_having(height_m: f64, shares: Vec<(&'static str, f64)>) -> Result<FoundHeight, HeightError> {
    let mut shares: Vec<_> = shares.into_iter().map(|(what, share_m)| (what, share_m.abs())).collect();
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    let pm_m = shares.iter().map(|(_, share_m)| share_m * share_m).sum::<f64>().sqrt();
    if height_m.is_nan() || height_m <= 0.0 {
        return Err(HeightError::Unsuitable {
            fault: "these readings give no height above the base".into(),
            mend: "check them, and where the base is",
        });
    }
    if height_m > LONGEST_M || pm_m > 0.5 * height_m {
        return Err(HeightError::Unsuitable {
            fault: format!(
                "the height would be {height_m:.1} m, give or take {pm_m:.1} m, which is not worth having; most of the doubt \
                 comes from {}",
                shares.first().map_or("the readings", |(what, _)| what)
            ),
            mend: "read that more exactly, or find the height another way",
        });
    }
    Ok(FoundHeight { height_m, pm_m, shares })
}

/// A number to four digits after the point at the most, without the zeros at its end.
fn short(number: f64) -> String {
    format!("{number:.digits$}", digits = digits_of(number))
}

fn written(metres: f64, units: Units) -> String {
    let shown = units.from_metres(metres);
    units.length(metres, digits_of((shown * 100.0).round() / 100.0).min(2))
}
