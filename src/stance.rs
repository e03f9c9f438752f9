//! Where does a described stance put the camera, and how is it set?

use thiserror::Error;

use crate::aim::{AimError, Aimed, Mounting, aim};
use crate::optics::{Camera, FARTHEST_FOCUS_M, Focus, Format, Kit, KitError, Lens, Orientation};
use crate::outline::Subject;
use crate::pose::{Pose, WorldPoint, WorldVector};
use crate::site::{Aim, Footing, FootingError, Model, Stance};

/// A stance that has been taken up.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// What the feet stand on; absent for an eye whose height was given outright.
    pub footing: Option<Footing>,
    /// The eye and how the camera is turned.
    pub pose: Pose,
    /// The camera as set.
    pub camera: Camera,
    /// The format it has.
    pub format: Format,
    /// How it is held.
    pub orientation: Orientation,
    /// The lens on it.
    pub lens: Lens,
    /// The f-number.
    pub f_number: f64,
    /// The distance focused on, along the axis; infinite for infinity.
    pub focus_m: f64,
    /// How much of the frame within its margins the subject takes: 1 touches them.
    pub fullness: Option<f64>,
}

/// Why a stance cannot be taken up.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum StanceError {
    /// A format or lens that no kit has.
    #[error(transparent)]
    Kit(#[from] KitError),
    /// Nothing to stand on.
    #[error(transparent)]
    Footing(#[from] FootingError),
    /// The camera cannot be aimed so from here.
    #[error(transparent)]
    Aim(#[from] AimError),
    /// A setting that the lens does not have.
    #[error("{what} is {value}; {lens} has {range}")]
    Setting {
        /// What is set.
        what: &'static str,
        /// To what.
        value: f64,
        /// On which lens.
        lens: String,
        /// What it has.
        range: String,
    },
    /// The eye is inside a block.
    #[error("the camera would be inside '{block}', at {eye}; stand beside it or on its deck")]
    InsideBlock {
        /// Which block.
        block: String,
        /// Where the eye would be.
        eye: String,
    },
    /// The eye is under the ground.
    #[error("the camera would be {depth_m:.2} m under the ground, at {eye}; give a greater height")]
    UnderGround {
        /// How deep.
        depth_m: f64,
        /// Where the eye would be.
        eye: String,
    },
    /// The eye is under water.
    #[error("the camera would be {depth_m:.2} m under water, at {eye}; give a greater height")]
    UnderWater {
        /// How deep.
        depth_m: f64,
        /// Where the eye would be.
        eye: String,
    },
}

impl Standing {
    /// What is set on the lens.
    pub fn focus(&self) -> Focus {
        Focus { focal_mm: self.camera.focal_mm, f_number: self.f_number, distance_m: self.focus_m }
    }

    /// The camera above what the feet stand on, where they stand on something.
    pub fn height_m(&self) -> Option<f64> {
        self.footing.as_ref().map(|footing| self.pose.eye.z - footing.height_m)
    }
}

/// Takes up a stance on a site.
///
/// # Errors
/// Its lens, place or aim is impossible; the text says which and what would mend it.
pub fn stand(model: &Model, subject: Option<&Subject>, stance: &Stance, kit: &Kit) -> Result<Standing, StanceError> {
    let format = kit.format(&stance.format)?;
    let lens = kit.lens(&stance.lens)?;
    check_settings(stance, &lens)?;
    let (eye, footing) = eye_of(model, stance)?;
    refuse_inside(model, &eye)?;
    let (orientation, aimed) = aim_held(stance, &eye, subject, &format, &lens)?;
    let pose = Pose { eye, attitude: aimed.attitude };
    Ok(Standing {
        footing,
        focus_m: stance.focus_m.unwrap_or_else(|| subject_distance_m(model, subject, &pose)),
        pose,
        camera: aimed.camera,
        format,
        orientation,
        lens,
        f_number: stance.f_number,
        fullness: aimed.fullness,
    })
}

/// Where a camera that is known to fit stands and looks if its stance is moved and it is aimed anew.
///
/// # Errors
/// As [`stand`].
pub(crate) fn stand_again(
    model: &Model,
    subject: &Subject,
    moved: &Stance,
    standing: &Standing,
) -> Result<(Aimed, Pose), StanceError> {
    let eye = moved_eye(model, moved)?;
    let (_, aimed) = aim_held(moved, &eye, Some(subject), &standing.format, &standing.lens)?;
    Ok((aimed, Pose { eye, attitude: aimed.attitude }))
}

/// Where the eye of a moved stance is.
///
/// # Errors
/// There is nothing to stand on, or it is inside of something.
pub(crate) fn moved_eye(model: &Model, moved: &Stance) -> Result<WorldPoint, StanceError> {
    let (eye, _) = eye_of(model, moved)?;
    refuse_inside(model, &eye)?;
    Ok(eye)
}

/// The eye of a stance and what its feet stand on.
fn eye_of(model: &Model, stance: &Stance) -> Result<(WorldPoint, Option<Footing>), StanceError> {
    let (x, y) = stance.at;
    if let Some(height_m) = stance.eye_height_m {
        return Ok((WorldPoint::new(x, y, height_m), None));
    }
    let footing = model.footing(stance.at, stance.on.as_deref())?;
    Ok((WorldPoint::new(x, y, footing.height_m + stance.height_m), Some(footing)))
}

pub(crate) fn refuse_inside(model: &Model, eye: &WorldPoint) -> Result<(), StanceError> {
    let place = || format!("{:.2}, {:.2}, {:.2}", eye.x, eye.y, eye.z);
    let depth_m = model.site.terrain.height_m((eye.x, eye.y)) - eye.z;
    if depth_m > 0.0 {
        return Err(StanceError::UnderGround { depth_m, eye: place() });
    }
    if let Some(block) = model.block_around(eye) {
        return Err(StanceError::InsideBlock { block: model.site.blocks[block].name.clone(), eye: place() });
    }
    let depth_m = model.surface_m((eye.x, eye.y)) - eye.z;
    if depth_m > 0.0 {
        return Err(StanceError::UnderWater { depth_m, eye: place() });
    }
    Ok(())
}

fn check_settings(stance: &Stance, lens: &Lens) -> Result<(), StanceError> {
    let refuse = |what, value, range: String| {
        Err(StanceError::Setting { what, value, lens: format!("the {} lens", lens.name), range })
    };
    if let Some(focal_mm) = stance.focal_mm.filter(|&focal_mm| !lens.reaches(focal_mm)) {
        let range = if lens.is_zoom() {
            format!("{} to {} mm", lens.focal_mm, lens.longest_mm())
        } else {
            format!("{} mm only", lens.focal_mm)
        };
        return refuse("focal length (mm)", focal_mm, range);
    }
    for (what, set, travel_mm) in
        [("rise (mm)", stance.rise_mm, lens.rise_mm), ("shift (mm)", stance.shift_mm, lens.shift_mm)]
    {
        if let Some(value) = set.filter(|value| value.is_nan() || value.abs() > travel_mm) {
            let range = if travel_mm > 0.0 { format!("up to {travel_mm} mm either way") } else { "none".into() };
            return refuse(what, value, range);
        }
    }
    if !(lens.widest_f..=lens.narrowest_f).contains(&stance.f_number) {
        return refuse("f-number", stance.f_number, format!("f/{} to f/{}", lens.widest_f, lens.narrowest_f));
    }
    if let Some(focus_m) =
        stance.focus_m.filter(|focus_m| !(lens.closest_focus_m()..=FARTHEST_FOCUS_M).contains(focus_m))
    {
        return refuse(
            "focus (m)",
            focus_m,
            format!("{} m at its closest, {FARTHEST_FOCUS_M} m at most", lens.closest_focus_m()),
        );
    }
    Ok(())
}

/// Aims with the camera held as asked, or whichever way suits the subject and the aim.
fn aim_held(
    stance: &Stance,
    eye: &WorldPoint,
    subject: Option<&Subject>,
    format: &Format,
    lens: &Lens,
) -> Result<(Orientation, Aimed), StanceError> {
    let held = |orientation| {
        let mounting = Mounting {
            frame: format.frame(orientation, stance.crop).with_margins(stance.margins),
            lens,
            focal_mm: stance.focal_mm,
            rise_mm: stance.rise_mm,
            shift_mm: stance.shift_mm.unwrap_or(0.0),
            distortion: stance.distortion,
        };
        aim(stance.aim, eye, subject, &mounting).map(|aimed| (orientation, aimed))
    };
    if let Some(orientation) = stance.orientation {
        return Ok(held(orientation)?);
    }
    let turned = matches!(stance.aim, Aim::At(..) | Aim::Turned { .. });
    match (held(Orientation::Landscape), held(Orientation::Portrait)) {
        (Ok(landscape), Ok(portrait)) => {
            let upright = if turned {
                subject.is_some_and(|subject| is_tall(subject, eye))
            } else {
                portrait.1.suits_better(&landscape.1, stance.aim)
            };
            Ok(if upright { portrait } else { landscape })
        }
        (Ok(only), Err(_)) | (Err(_), Ok(only)) => Ok(only),
        (Err(error), Err(_)) => Err(error.into()),
    }
}

/// Whether the subject stands taller than wide from an eye, by angle.
fn is_tall(subject: &Subject, eye: &WorldPoint) -> bool {
    let Ok(outline) = subject.outline(eye) else { return false };
    let distance_m = (subject.middle - eye).xy().norm();
    let tall = (subject.highest_m - eye.z).atan2(distance_m) - (subject.base_m - eye.z).atan2(distance_m);
    tall > (outline.right - outline.left).radians()
}

/// The distance along the axis to the side of the subject that faces the eye; infinite without a subject in front.
fn subject_distance_m(model: &Model, subject: Option<&Subject>, pose: &Pose) -> f64 {
    let facing = subject.and_then(|subject| {
        let height_m = 0.5 * (subject.base_m + subject.top_m);
        let (point, _) = subject.facing_point(model, &pose.eye, height_m)?;
        let along: WorldVector = pose.attitude.forward();
        Some((point - pose.eye).dot(&along)).filter(|distance_m| *distance_m > 0.1)
    });
    facing.unwrap_or(f64::INFINITY)
}
