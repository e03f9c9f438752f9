//! How does the picture glide from stance to stance, or change as the camera rises, as one moving picture?
//!
//! Every frame is an exact still, as in a sequence; the film rests at each stance. It is written as an animated PNG, or as a
//! video: AV1 in an MP4 file.

use std::path::Path;

use crate::progress::Progress;
use crate::site::Stance;
use crate::still::Picture;
use crate::survey::Survey;

use super::sequence::{FrameStyle, MOST_FRAMES, Sequence, SequenceError, SequenceFrame};
#[cfg(feature = "video")]
use super::video::Video;

/// How long a film rests at each stance, in seconds. Common practice, no source.
const REST_S: f64 = 1.0;
/// How high over the feet a rising camera begins: a tripod with its legs spread. Common practice, no source.
pub const LOWEST_M: f64 = 0.3;
/// How high over the feet it ends unless told: a lift or a high pole. Common practice, no source.
pub const PLATFORM_M: f64 = 8.0;

/// A moving picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    /// The stances that it goes through, two or more; all are held as the first one is.
    pub stops: Vec<Stance>,
    /// How long it takes from each to the next, in seconds.
    pub seconds: f64,
    /// How its frames are drawn; an odd width becomes the even one below, as videos want.
    pub style: FrameStyle,
    /// Whether the convergence stands under each frame, with focal length, distance and height.
    pub caption: bool,
}

/// As what a film is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FilmForm {
    /// An animated PNG.
    Animated,
    /// AV1 in an MP4 file.
    Video,
}

impl FilmForm {
    /// The form that a file's name ends on; `None` for any other ending than .png and .mp4.
    pub fn of(path: &Path) -> Option<Self> {
        match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
            "png" => Some(Self::Animated),
            "mp4" => Some(Self::Video),
            _ => None,
        }
    }
}

/// The two ends of a rise: the same stance near the ground and as high as that over the feet.
pub fn rise(stance: &Stance, to_m: f64) -> Vec<Stance> {
    [LOWEST_M, to_m].map(|height_m| Stance { height_m, ..stance.clone() }).to_vec()
}

impl Film {
    /// The move from one stop to the next.
    fn leg(&self, from: &Stance, to: &Stance) -> Result<Sequence, SequenceError> {
        let frames = self.seconds * f64::from(self.style.per_second) + 1.0;
        if !(self.seconds > 0.0 && frames.round() <= f64::from(MOST_FRAMES)) {
            return Err(SequenceError::Seconds { seconds: self.seconds, per_second: self.style.per_second });
        }
        Ok(Sequence {
            from: from.clone(),
            to: to.clone(),
            frames: (frames.round() as u32).max(2),
            style: FrameStyle { width_px: self.style.width_px & !1, ..self.style.clone() },
        })
    }

    fn legs(&self, survey: &Survey) -> Result<Vec<Sequence>, SequenceError> {
        let [first, _, ..] = self.stops.as_slice() else { return Err(SequenceError::Stops) };
        let standing =
            survey.stand(first).map_err(|error| SequenceError::Stance { name: first.name.clone(), error })?;
        let held = |stance: &Stance| Stance { orientation: Some(standing.orientation), ..stance.clone() };
        self.stops.windows(2).map(|pair| self.leg(&held(&pair[0]), &held(&pair[1]))).collect()
    }

    /// The cameras of the film, each with how many frames it is held.
    ///
    /// # Errors
    /// Fewer than two stops, or a leg is impossible as a sequence is.
    pub fn frames(&self, survey: &Survey) -> Result<Vec<(SequenceFrame, u16)>, SequenceError> {
        let rest = (REST_S * f64::from(self.style.per_second)).round().max(1.0) as u16;
        let mut all: Vec<(SequenceFrame, u16)> = Vec::new();
        for leg in self.legs(survey)? {
            let frames = leg.frames(survey)?;
            let last = frames.len() - 1;
            // Each leg begins where the one before ended.
            let first = usize::from(!all.is_empty());
            let held = |index: usize| if index == 0 || index == last { rest } else { 1 };
            all.extend(frames.into_iter().enumerate().skip(first).map(|(index, frame)| (frame, held(index))));
        }
        Ok(all)
    }

    /// The film as the bytes of a file. Each camera counts as one piece of the progress.
    ///
    /// # Errors
    /// As [`Film::frames`]; a frame cannot be pictured or written; the watcher has cancelled.
    pub fn file(&self, survey: &Survey, form: FilmForm, progress: &Progress) -> Result<Vec<u8>, SequenceError> {
        let leg = self.legs(survey)?.into_iter().next().ok_or(SequenceError::Stops)?;
        let frames = self.frames(survey)?;
        progress.start(frames.len() as u64);
        let pictures = frames.iter().map(|(frame, held)| {
            let picture = leg.picture(survey, frame, self.caption)?;
            progress.advance(1)?;
            Ok((picture.with_even_height(), *held))
        });
        match form {
            FilmForm::Animated => animated(pictures, frames.len() as u32, self.style.per_second),
            FilmForm::Video => video(pictures, self.style.per_second),
        }
    }
}

fn animated(
    pictures: impl Iterator<Item = Result<(Picture, u16), SequenceError>>,
    count: u32,
    per_second: u16,
) -> Result<Vec<u8>, SequenceError> {
    let mut pictures = pictures.peekable();
    let size = match pictures.peek() {
        Some(Ok((first, _))) => (first.width_px, first.height_px),
        _ => (1, 1),
    };
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, size.0, size.1);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.set_animated(count, 0)?;
    let mut writer = encoder.write_header()?;
    for pictured in pictures {
        let (picture, held) = pictured?;
        writer.set_frame_delay(held, per_second)?;
        writer.write_image_data(&picture.rgb)?;
    }
    writer.finish()?;
    Ok(file)
}

#[cfg(feature = "video")]
fn video(
    pictures: impl Iterator<Item = Result<(Picture, u16), SequenceError>>,
    per_second: u16,
) -> Result<Vec<u8>, SequenceError> {
    let mut video: Option<Video> = None;
    for pictured in pictures {
        let (picture, held) = pictured?;
        let video = match &mut video {
            Some(video) => video,
            None => video.insert(Video::of(picture.width_px, picture.height_px, per_second)?),
        };
        video.add(&picture, held)?;
    }
    Ok(video.map(Video::file).transpose()?.unwrap_or_default())
}

#[cfg(not(feature = "video"))]
fn video(_: impl Iterator<Item = Result<(Picture, u16), SequenceError>>, _: u16) -> Result<Vec<u8>, SequenceError> {
    Err(SequenceError::NoVideo)
}
