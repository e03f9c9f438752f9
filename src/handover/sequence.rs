//! What does the picture do on the way from one stance to another?
//!
//! The walk back with the lens growing, the climb: numbered frames and one animated picture, with the convergence written under
//! each. The camera goes straight from one eye to the other, over the ground where both stand on it; the subject stays
//! framed all the way. The first and the last frame are the two stances themselves.

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;

use thiserror::Error;

use crate::aim::{Mounting, aim};
use crate::angle::Angle;
use crate::appraise::{Account, Measures};
use crate::files::{FileError, write_whole};
use crate::optics::{Camera, Distortion, Frame};
use crate::pose::{Attitude, Pose, WorldPoint};
use crate::progress::{Cancelled, Progress};
use crate::site::{Aim, Stance, Support};
use crate::stance::{StanceError, Standing};
use crate::still::{Look, Overlay, OverlayInk, Picture, Scene, StillError, Style, View, annotations, render};
use crate::survey::Survey;
use crate::theme::Theme;
use crate::units::Units;
use crate::wording;

/// The most frames of a sequence.
pub const MOST_FRAMES: u32 = 999;
/// How long the animated picture rests on its first and its last frame, in frames a second of its own: 1.2 s.
const REST_MS: u16 = 1200;
/// The animated picture's name in its folder.
pub const ANIMATED: &str = "animated.png";
/// The name of the table of figures.
pub const FIGURES: &str = "frames.csv";

/// A move from one stance to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Sequence {
    /// Where it begins.
    pub from: Stance,
    /// Where it ends.
    pub to: Stance,
    /// How many frames, the two ends among them.
    pub frames: u32,
    /// How they are drawn.
    pub style: FrameStyle,
}

/// How the frames of a move are drawn, and how fast they follow one another.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameStyle {
    /// Pixels across.
    pub width_px: u32,
    /// Rays a pixel.
    pub samples: u32,
    /// What the site is shown as.
    pub look: Look,
    /// The colours of the card look.
    pub theme: Theme,
    /// Whether verticals, sides and the horizon are drawn over each frame.
    pub overlay: bool,
    /// How many of them are shown in a second.
    pub per_second: u16,
    /// The unit of lengths written under each frame.
    pub units: Units,
}

/// A camera of a sequence.
#[derive(Clone, Debug)]
pub struct SequenceFrame {
    /// Its eye and attitude.
    pub pose: Pose,
    /// The camera as set there.
    pub camera: Camera,
    /// What is measured there.
    pub account: Account,
}

/// Why there is no sequence.
#[derive(Debug, Error)]
pub enum SequenceError {
    /// One of the stances cannot be taken up.
    #[error("stance '{name}': {error}")]
    Stance {
        /// Which one.
        name: String,
        /// Why.
        error: StanceError,
    },
    /// The camera would pass where none can be.
    #[error("frame {frame} of {frames}: {error}")]
    Frame {
        /// Which frame, from 1.
        frame: u32,
        /// Of how many.
        frames: u32,
        /// Why.
        error: StanceError,
    },
    /// The cameras cannot be blended into one another.
    #[error("'{from}' and '{to}' have {what}; a sequence needs one and the same at both ends")]
    Unlike {
        /// The first stance.
        from: String,
        /// The last.
        to: String,
        /// What differs.
        what: &'static str,
    },
    /// A number outside its range.
    #[error("{what} is {value}; it must lie between {lowest} and {highest}")]
    Range {
        /// Which number.
        what: &'static str,
        /// What was given.
        value: u32,
        /// The least allowed.
        lowest: u32,
        /// The most allowed.
        highest: u32,
    },
    /// A film of no length or too long.
    #[error("{seconds} s at {per_second} frames a second; from stance to stance a film has 2 to {MOST_FRAMES} frames")]
    Seconds {
        /// How long a leg is to take.
        seconds: f64,
        /// Frames a second.
        per_second: u16,
    },
    /// A film that goes nowhere.
    #[error("a film goes through two stances or more, or rises at one")]
    Stops,
    /// The program was built without video.
    #[error("this program was built without video; name the film .png")]
    NoVideo,
    /// The video cannot be made.
    #[cfg(feature = "video")]
    #[error(transparent)]
    Video(#[from] super::video::VideoError),
    /// A frame cannot be pictured.
    #[error(transparent)]
    Still(#[from] StillError),
    /// A frame cannot be written.
    #[error(transparent)]
    File(#[from] FileError),
    /// The animated picture cannot be written.
    #[error("the animated picture cannot be written: {0}")]
    Animation(#[from] png::EncodingError),
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl Sequence {
    fn check(&self) -> Result<(), SequenceError> {
        for (what, value, lowest, highest) in [
            ("the number of frames", self.frames, 2, MOST_FRAMES),
            ("the width in pixels", self.style.width_px, 16, 8000),
            ("the number of frames a second", u32::from(self.style.per_second), 1, 60),
        ] {
            if !(lowest..=highest).contains(&value) {
                return Err(SequenceError::Range { what, value, lowest, highest });
            }
        }
        Ok(())
    }

    /// The camera at each frame, with what is measured there.
    ///
    /// # Errors
    /// As [`Sequence::cameras`].
    pub fn frames(&self, survey: &Survey) -> Result<Vec<SequenceFrame>, SequenceError> {
        let (cameras, from) = self.moved(survey)?;
        let measured = |(camera, pose): (Camera, Pose)| {
            let standing = Standing { camera, pose, ..from.clone() };
            SequenceFrame { pose, camera, account: survey.appraise(&standing, &Measures::default()) }
        };
        Ok(cameras.into_iter().map(measured).collect())
    }

    /// The camera at each frame, and how it is turned.
    ///
    /// # Errors
    /// A stance cannot be taken up, their formats or lenses cannot be blended, or the camera passes through a block, under the
    /// ground or amid the subject.
    pub fn cameras(&self, survey: &Survey) -> Result<Vec<(Camera, Pose)>, SequenceError> {
        Ok(self.moved(survey)?.0)
    }

    /// The cameras, and how the first stance stands.
    fn moved(&self, survey: &Survey) -> Result<(Vec<(Camera, Pose)>, Standing), SequenceError> {
        self.check()?;
        let stand = |stance: &Stance| {
            survey.stand(stance).map_err(|error| SequenceError::Stance { name: stance.name.clone(), error })
        };
        let from = stand(&self.from)?;
        // Both are held the same way, so that all frames have one size.
        let held = Stance { orientation: Some(from.orientation), ..self.to.clone() };
        let to = stand(&held)?;
        let unlike = |what| Err(SequenceError::Unlike { from: self.from.name.clone(), to: self.to.name.clone(), what });
        if !same_frame(&from.camera.frame, &to.camera.frame) {
            return unlike("different formats or crops");
        }
        if from.camera.mapping != to.camera.mapping {
            return unlike("lenses of different mappings");
        }
        let transition = Transition { survey, from: &from, to: &to, described: (&self.from, &held) };
        let cameras: Result<Vec<(Camera, Pose)>, SequenceError> = (0..self.frames)
            .map(|frame| {
                let share = f64::from(frame) / f64::from(self.frames - 1);
                match frame {
                    0 => Ok((from.camera, from.pose)),
                    last if last + 1 == self.frames => Ok((to.camera, to.pose)),
                    _ => transition.at(share).map_err(|error| SequenceError::Frame {
                        frame: frame + 1,
                        frames: self.frames,
                        error,
                    }),
                }
            })
            .collect();
        let cameras = cameras?;
        Ok((cameras, from))
    }

    /// Pictures the move into a folder: `frame-001.png` and on, the animated picture, and a table of figures.
    ///
    /// Each frame counts as one piece of the progress.
    ///
    /// # Errors
    /// As [`Sequence::frames`]; a frame cannot be pictured or written; the watcher has cancelled.
    pub fn picture_into(
        &self,
        survey: &Survey,
        folder: &Path,
        progress: &Progress,
    ) -> Result<Vec<SequenceFrame>, SequenceError> {
        let frames = self.frames(survey)?;
        progress.start(u64::from(self.frames));
        let mut animated: Option<png::Writer<BufWriter<File>>> = None;
        for (number, frame) in (1..).zip(&frames) {
            let picture = self.picture(survey, frame, true)?;
            write_whole(&folder.join(frame_name(number)), &picture.png().map_err(SequenceError::Animation)?)?;
            let writer = match &mut animated {
                Some(writer) => writer,
                None => animated.insert(self.animation(&folder.join(ANIMATED), &picture)?),
            };
            let ends = number == 1 || number == frames.len() as u32;
            let delay = if ends { (REST_MS, 1000) } else { (1, self.style.per_second) };
            writer.set_frame_delay(delay.0, delay.1)?;
            writer.write_image_data(&picture.rgb)?;
            progress.advance(1)?;
        }
        if let Some(writer) = animated {
            writer.finish()?;
        }
        write_whole(&folder.join(FIGURES), table(&frames).as_bytes())?;
        Ok(frames)
    }

    /// The picture of a frame, with what is measured under it where that is wanted.
    pub(super) fn picture(
        &self,
        survey: &Survey,
        frame: &SequenceFrame,
        captioned: bool,
    ) -> Result<Picture, StillError> {
        let camera = Camera { frame: frame.camera.frame.with_width_px(self.style.width_px), ..frame.camera };
        let view = View { camera, pose: frame.pose, focus: None };
        let style = Style {
            theme: self.style.theme,
            sun: Some(survey.light(survey.model.site.sun)),
            samples: self.style.samples,
            ..Style::of(self.style.look)
        };
        let scene = Scene { model: &survey.model, sight: &survey.sight };
        // A frame is soon done: the sequence itself is what can be cancelled.
        let mut picture = render(&scene, &view, &style, &Progress::unwatched())?;
        if self.style.overlay {
            let notes = annotations(&frame.account, survey.subject.as_ref().ok(), &camera, &frame.pose);
            // Labels would jump from frame to frame; what they say stands in the caption.
            let lines = Overlay { labels: Vec::new(), ..notes };
            let _ = picture.draw(&lines, self.style.theme);
        }
        if !captioned {
            return Ok(picture);
        }
        Ok(picture.with_caption(&caption(survey, frame, self.style.units), self.style.theme))
    }

    fn animation(&self, path: &Path, picture: &Picture) -> Result<png::Writer<BufWriter<File>>, SequenceError> {
        let file = File::create(path).map_err(|source| FileError::Write { path: path.into(), source })?;
        let mut encoder = png::Encoder::new(BufWriter::new(file), picture.width_px, picture.height_px);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
        // It begins again and again.
        encoder.set_animated(self.frames, 0)?;
        Ok(encoder.write_header()?)
    }
}

/// The name of a frame's file, counted from 1.
pub fn frame_name(number: u32) -> String {
    format!("frame-{number:03}.png")
}

/// Whether a file of this name may have been written by [`Sequence::picture_into`].
pub fn is_of_a_sequence(name: &str) -> bool {
    let number = name.strip_prefix("frame-").and_then(|rest| rest.strip_suffix(".png"));
    [ANIMATED, FIGURES].contains(&name)
        || number.is_some_and(|digits| digits.len() == 3 && digits.bytes().all(|digit| digit.is_ascii_digit()))
}

fn same_frame(a: &Frame, b: &Frame) -> bool {
    (a.width_mm - b.width_mm).abs() < 1e-9 && (a.height_mm - b.height_mm).abs() < 1e-9
}

/// The move between two stances that are taken up.
struct Transition<'a> {
    survey: &'a Survey,
    from: &'a Standing,
    to: &'a Standing,
    described: (&'a Stance, &'a Stance),
}

impl Transition<'_> {
    /// The camera at a share of the move.
    fn at(&self, share: f64) -> Result<(Camera, Pose), StanceError> {
        let eye = self.eye(share)?;
        crate::stance::refuse_inside(&self.survey.model, &eye)?;
        if let Some(wanted) = self.same_aim() {
            return self.aimed(wanted, &eye, share);
        }
        let camera = self.blended(self.focal_mm(&eye, share), share);
        Ok((camera, Pose { eye, attitude: self.attitude(&eye, share) }))
    }

    /// Over the ground where both stand on it, else straight from eye to eye.
    fn eye(&self, share: f64) -> Result<WorldPoint, StanceError> {
        let (a, b) = (self.from.pose.eye, self.to.pose.eye);
        let straight = a + (b - a) * share;
        let on_ground = |standing: &Standing| {
            standing.footing.as_ref().is_some_and(|footing| matches!(footing.support, Support::Ground))
        };
        let (Some(low), Some(high)) = (self.from.height_m(), self.to.height_m()) else { return Ok(straight) };
        if !on_ground(self.from) || !on_ground(self.to) {
            return Ok(straight);
        }
        let footing = self.survey.model.footing((straight.x, straight.y), Some("ground"))?;
        Ok(WorldPoint::new(straight.x, straight.y, footing.height_m + low + (high - low) * share))
    }

    /// The aim that both stances ask for, if it is one that frames the subject.
    fn same_aim(&self) -> Option<Aim> {
        let (a, b) = (self.described.0.aim, self.described.1.aim);
        let framing = Aim::FRAMING.contains(&a);
        (a == b && framing && self.survey.subject.is_ok()).then_some(a)
    }

    fn aimed(&self, wanted: Aim, eye: &WorldPoint, share: f64) -> Result<(Camera, Pose), StanceError> {
        let subject = self.survey.subject.as_ref().ok();
        let (from, to) = self.described;
        let one_lens = self.from.lens == self.to.lens;
        let blended = self.blended(self.focal_mm(eye, share), share);
        // A lens that is on at both ends and free to zoom frames the subject as it would from anywhere.
        let zooms = one_lens && from.focal_mm.is_none() && to.focal_mm.is_none();
        let rises = one_lens && wanted == Aim::Rise && from.rise_mm.is_none() && to.rise_mm.is_none();
        let mounting = Mounting {
            frame: blended.frame,
            lens: &self.from.lens,
            focal_mm: (!zooms).then_some(blended.focal_mm),
            rise_mm: (!rises).then_some(blended.rise_mm),
            shift_mm: blended.shift_mm,
            distortion: (!one_lens || from.distortion.is_some()).then_some(blended.distortion),
        };
        let mut aimed = aim(wanted, eye, subject, &mounting)?;
        // The frame is never fuller than at the fuller end, or than full: the picture grows with the focal length.
        let most = [self.from.fullness, self.to.fullness].into_iter().flatten().fold(1.0, f64::max);
        if let (false, Some(fullness)) = (zooms, aimed.fullness.filter(|fullness| *fullness > most)) {
            let shortest_mm = self.from.camera.focal_mm.min(self.to.camera.focal_mm);
            let focal_mm = (blended.focal_mm * most / fullness).max(shortest_mm);
            aimed = aim(wanted, eye, subject, &Mounting { focal_mm: Some(focal_mm), ..mounting })?;
        }
        Ok((aimed.camera, Pose { eye: *eye, attitude: aimed.attitude }))
    }

    /// The point that is kept in its place in the frame: the subject's middle, if there is a subject.
    fn target(&self) -> Option<WorldPoint> {
        self.survey.subject.as_ref().ok().map(|subject| subject.middle)
    }

    /// The focal length at which the subject's size in the picture grows or shrinks evenly: longer from farther off.
    fn focal_mm(&self, eye: &WorldPoint, share: f64) -> f64 {
        let (a, b) = (self.from.camera.focal_mm, self.to.camera.focal_mm);
        let Some(target) = self.target() else { return blend(a, b, share) };
        let distance_m = |eye: &WorldPoint| (target - eye).norm().max(1e-3);
        let (first, last) = (a / distance_m(&self.from.pose.eye), b / distance_m(&self.to.pose.eye));
        // Held between the two ends' own, so that a move past the subject asks for no lens that neither has.
        (blend(first, last, share) * distance_m(eye)).clamp(a.min(b), a.max(b))
    }

    /// Both cameras' settings blended.
    fn blended(&self, focal_mm: f64, share: f64) -> Camera {
        let (a, b) = (&self.from.camera, &self.to.camera);
        let bend: Vec<f64> = a
            .distortion
            .coefficients()
            .iter()
            .zip(b.distortion.coefficients())
            .map(|(a, b)| blend(*a, b, share))
            .collect();
        Camera {
            frame: a.frame,
            focal_mm,
            rise_mm: blend(a.rise_mm, b.rise_mm, share),
            shift_mm: blend(a.shift_mm, b.shift_mm, share),
            mapping: a.mapping,
            distortion: Distortion::from_slice(&bend).unwrap_or(if share < 0.5 { a.distortion } else { b.distortion }),
        }
    }

    /// How the camera is turned where the two ends aim unlike: what it is off the subject by is blended.
    fn attitude(&self, eye: &WorldPoint, share: f64) -> Attitude {
        let (a, b) = (&self.from.pose, &self.to.pose);
        let toward = |eye: &WorldPoint| {
            let offset = self.target().map_or_else(|| a.attitude.forward(), |target| target - eye);
            (Angle::bearing_of(offset.x, offset.y), Angle::from_radians(offset.z.atan2(offset.x.hypot(offset.y))))
        };
        let off = |pose: &Pose| {
            let (bearing, elevation) = toward(&pose.eye);
            ((pose.attitude.heading - bearing).wrapped().degrees(), (pose.attitude.pitch - elevation).degrees())
        };
        let ((first_heading, first_pitch), (last_heading, last_pitch)) = (off(a), off(b));
        let (bearing, elevation) = toward(eye);
        // The short way round.
        let turn = Angle::from_degrees(last_heading - first_heading).wrapped().degrees();
        let pitch = elevation.degrees() + blend(first_pitch, last_pitch, share);
        Attitude {
            heading: bearing + Angle::from_degrees(first_heading + turn * share),
            // Level at both ends is level between.
            pitch: if a.attitude.pitch == b.attitude.pitch {
                a.attitude.pitch
            } else {
                Angle::from_degrees(pitch.clamp(-90.0, 90.0))
            },
            roll: Angle::from_degrees(blend(a.attitude.roll.degrees(), b.attitude.roll.degrees(), share)),
        }
    }
}

fn blend(a: f64, b: f64, share: f64) -> f64 {
    a + (b - a) * share
}

/// What stands under a frame.
fn caption(survey: &Survey, frame: &SequenceFrame, units: Units) -> Vec<(String, OverlayInk)> {
    let eye = &frame.pose.eye;
    let convergence = frame.account.convergence.map_or_else(
        || "nothing to measure".to_owned(),
        |convergence| wording::convergence(convergence.angle().degrees()),
    );
    let away =
        frame.account.distance_m.map_or_else(|| "–".to_owned(), |away_m| format!("{} away", units.length(away_m, 1)));
    let up_m = eye.z - survey.model.site.terrain.height_m((eye.x, eye.y));
    vec![
        (convergence, OverlayInk::Plumb),
        (format!("{:.1} mm", frame.camera.focal_mm), OverlayInk::Horizon),
        (away, OverlayInk::Horizon),
        (format!("{} up", units.length(up_m, 1)), OverlayInk::Horizon),
    ]
}

/// The figures of every frame as CSV.
fn table(frames: &[SequenceFrame]) -> String {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let head = [
        "frame",
        "east_m",
        "north_m",
        "up_m",
        "heading_deg",
        "pitch_deg",
        "roll_deg",
        "focal_mm",
        "rise_mm",
        "distance_m",
        "convergence_deg",
        "worst_lean_deg",
        "detail_worst_px_per_m",
    ];
    let rows = (1..).zip(frames).map(|(number, frame): (u32, &SequenceFrame)| {
        let (eye, attitude, account) = (&frame.pose.eye, &frame.pose.attitude, &frame.account);
        let figures = [
            Some(eye.x),
            Some(eye.y),
            Some(eye.z),
            Some(attitude.heading.compass_degrees()),
            Some(attitude.pitch.degrees()),
            Some(attitude.roll.degrees()),
            Some(frame.camera.focal_mm),
            Some(frame.camera.rise_mm),
            account.distance_m,
            account.convergence.map(|convergence| convergence.angle().degrees()),
            account.largest_lean.map(Angle::degrees),
            account.lowest_detail.map(|(detail, _)| detail.px_per_m),
        ];
        let figures = figures.map(|figure| figure.map_or_else(String::new, |value| format!("{:.6}", value + 0.0)));
        std::iter::once(number.to_string()).chain(figures).collect::<Vec<_>>()
    });
    for cells in std::iter::once(head.map(str::to_owned).to_vec()).chain(rows) {
        writer.write_record(&cells).expect("rows are of one length, and memory takes them");
    }
    String::from_utf8(writer.into_inner().expect("memory takes it")).expect("text was written")
}
