//! What does a picture file say of itself, to any program that reads photographs?
//!
//! Exif, in the tags that older readers know too: what lens it was taken with, from where and in which direction. Nothing
//! is invented: no maker, no exposure time, and no date unless a moment was planned.
//!
//! Altitudes count from the sea until Exif 3.0 and from the ellipsoid since; 0 and 1 are all that older readers know.

use std::fmt;
use std::io::Cursor;
use std::str::FromStr;

use exif::experimental::Writer;
use exif::{Context, Field, In, Rational, SRational, Tag, Value};
use jpeg_encoder::{ColorType, SamplingFactor};
use thiserror::Error;

use crate::angle::Angle;
use crate::optics::Camera;
use crate::place::TangentPlane;
use crate::pose::Pose;
use crate::record::Record;
use crate::still::{Depth, Picture, Surround};
use crate::text::without_direction_marks;
use crate::wording;

/// The quality at which JPEG pictures are written: fine ink edges stay clean. Common practice, no source.
const JPEG_QUALITY: u8 = 92;
/// The farthest along a side that a JPEG picture reaches: its sides are written in 16 bits.
///
/// # Source
/// ITU-T T.81, B.2.2, parameters X and Y.
const LONGEST_JPEG_SIDE_PX: u32 = 65_535;

/// The camera's pitch, of Exif 2.31; the crate has no name for it.
const CAMERA_ELEVATION_ANGLE: Tag = Tag(Context::Exif, 0x9405);

/// What a picture shows and how it was taken.
#[derive(Clone, Copy, Debug)]
pub struct Taken<'a> {
    /// Everything measured of the stance.
    pub record: &'a Record,
    /// The camera as pictured, with the picture's own pixels.
    pub camera: &'a Camera,
    /// The eye and attitude as pictured.
    pub pose: &'a Pose,
    /// Where on the Earth the site lies; without it no position is written.
    pub plane: Option<&'a TangentPlane>,
    /// When the picture is planned for; without it no date is written.
    pub moment: Option<Moment>,
}

/// The form of a picture file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PictureForm {
    /// Every pixel as it is.
    Png,
    /// Smaller, and not quite every pixel as it is.
    Jpeg,
}

/// Why a picture cannot be written in its form.
#[derive(Debug, Error)]
pub enum PictureFileError {
    /// The PNG encoder refuses.
    #[error("the picture cannot be written as PNG: {0}")]
    Png(#[from] png::EncodingError),
    /// The JPEG encoder refuses.
    #[error("the picture cannot be written as JPEG: {0}")]
    Jpeg(#[from] jpeg_encoder::EncodingError),
    /// Too many pixels along a side.
    #[error(
        "a picture of {width_px} × {height_px} pixels is too long for JPEG, which takes {LONGEST_JPEG_SIDE_PX} a side; \
         write it as .png"
    )]
    TooLong {
        /// Pixels across.
        width_px: u32,
        /// Pixels down.
        height_px: u32,
    },
    /// What JPEG has no room for.
    #[error("JPEG holds no {what}; name the picture .png")]
    PngOnly {
        /// What was asked for.
        what: &'static str,
    },
    /// The Exif cannot be laid out.
    #[error("the picture's Exif cannot be written: {0}")]
    Exif(#[from] exif::Error),
}

impl PictureForm {
    /// Refuses what cannot be written in this form.
    ///
    /// # Errors
    /// 16 bits a channel, or clear pixels, in a JPEG.
    pub fn check(self, depth: Depth, surround: Surround) -> Result<(), PictureFileError> {
        match (self, depth, surround) {
            (Self::Jpeg, Depth::Sixteen, _) => Err(PictureFileError::PngOnly { what: "16 bits a channel" }),
            (Self::Jpeg, _, Surround::Clear) => Err(PictureFileError::PngOnly { what: "clear pixels" }),
            _ => Ok(()),
        }
    }

    /// The form that a file's name ends on; `None` for any other ending than .png, .jpg and .jpeg.
    pub fn of(path: &std::path::Path) -> Option<Self> {
        match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
            "png" => Some(Self::Png),
            "jpg" | "jpeg" => Some(Self::Jpeg),
            _ => None,
        }
    }
}

/// A picture as the bytes of a file, with its parameters inside.
///
/// The same picture taken the same way gives the same bytes.
///
/// # Errors
/// The picture has no pixels, or more along a side than the form can hold.
pub fn picture_file(picture: &Picture, form: PictureForm, taken: &Taken<'_>) -> Result<Vec<u8>, PictureFileError> {
    let exif = exif_of(taken)?;
    if form == PictureForm::Png {
        return Ok(picture.png_telling(Some(&exif))?);
    }
    let (width_px, height_px) = (picture.width_px, picture.height_px);
    let (Ok(width), Ok(height)) = (u16::try_from(width_px), u16::try_from(height_px)) else {
        return Err(PictureFileError::TooLong { width_px, height_px });
    };
    let mut file = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut file, JPEG_QUALITY);
    encoder.set_sampling_factor(SamplingFactor::R_4_4_4);
    encoder.add_exif_metadata(&exif)?;
    encoder.encode(&picture.rgb, width, height, ColorType::Rgb)?;
    Ok(file)
}

/// The Exif of a picture, from its byte-order mark on.
///
/// # Errors
/// None is known; the crate may refuse what it cannot lay out.
///
/// # Source
/// CIPA DC-008 (Exif 2.32): tags, types and counts; the meaning of the equivalent focal length from CIPA DCG-001 (from
/// memory).
pub fn exif_of(taken: &Taken<'_>) -> Result<Vec<u8>, exif::Error> {
    let mut fields = picture_fields(taken);
    fields.extend(lens_fields(taken));
    fields.extend(taken.moment.iter().flat_map(moment_fields));
    fields.extend(place_fields(taken).unwrap_or_default());
    let mut writer = Writer::new();
    for field in &fields {
        writer.push_field(field);
    }
    let mut bytes = Cursor::new(Vec::new());
    writer.write(&mut bytes, true)?;
    Ok(bytes.into_inner())
}

fn field(tag: Tag, value: Value) -> Field {
    Field { tag, ifd_num: In::PRIMARY, value }
}

/// Text in the 7 bits that Exif's text has; any other sign becomes a question mark, and the comment has it whole.
fn ascii(tag: Tag, text: &str) -> Field {
    let plain = |sign: char| if sign.is_ascii_graphic() || sign == ' ' { sign as u8 } else { b'?' };
    field(tag, Value::Ascii(vec![text.chars().map(plain).collect()]))
}

/// A number from nought up as a fraction of so many parts, or of fewer where it would not fit.
fn fraction(value: f64, mut parts: u32) -> Value {
    let limit = f64::from(u32::MAX);
    while parts > 1 && value * f64::from(parts) > limit {
        parts /= 10;
    }
    let parts = parts.max(1);
    Value::Rational(vec![Rational { num: (value * f64::from(parts)).round().clamp(0.0, limit) as u32, denom: parts }])
}

/// What the file itself is, and in words what it shows.
fn picture_fields(taken: &Taken<'_>) -> Vec<Field> {
    let frame = &taken.camera.frame;
    let words = description(taken);
    // A comment begins with the name of its code, padded to eight bytes; the order of bytes is the file's.
    let mut comment = b"UNICODE\0".to_vec();
    comment.extend(words.encode_utf16().flat_map(u16::to_le_bytes));
    vec![
        ascii(Tag::ImageDescription, &words.replace('°', " deg").replace('×', "x").replace('–', "-")),
        ascii(Tag::Software, &taken.record.program),
        field(Tag::Orientation, Value::Short(vec![1])),
        // Nothing is known of the paper; the standard then asks for 72.
        field(Tag::XResolution, fraction(72.0, 1)),
        field(Tag::YResolution, fraction(72.0, 1)),
        field(Tag::ResolutionUnit, Value::Short(vec![2])),
        field(Tag::YCbCrPositioning, Value::Short(vec![1])),
        field(Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)),
        field(Tag::ComponentsConfiguration, Value::Undefined(vec![1, 2, 3, 0], 0)),
        field(Tag::FlashpixVersion, Value::Undefined(b"0100".to_vec(), 0)),
        // sRGB.
        field(Tag::ColorSpace, Value::Short(vec![1])),
        field(Tag::PixelXDimension, Value::Long(vec![frame.width_px])),
        field(Tag::PixelYDimension, Value::Long(vec![frame.height_px])),
        field(Tag::UserComment, Value::Undefined(comment, 0)),
    ]
}

/// The picture in one line of words.
fn description(taken: &Taken<'_>) -> String {
    let record = taken.record;
    let mut parts =
        vec![without_direction_marks(&format!("{}, {}", record.site.name, record.stance.described.name)).into_owned()];
    if record.straightened.as_ref().is_some_and(|straightened| straightened.pictured) {
        parts.push("straightened afterwards".into());
    }
    let camera = taken.camera;
    let mut lens = format!(
        "{} at {:.1} mm on {:.1}×{:.1} mm, f/{}",
        record.camera.lens, camera.focal_mm, camera.frame.width_mm, camera.frame.height_mm, record.camera.f_number
    );
    if camera.rise_mm != 0.0 {
        lens.push_str(&format!(", rise {:.1} mm", camera.rise_mm));
    }
    if camera.shift_mm != 0.0 {
        lens.push_str(&format!(", shift {:.1} mm", camera.shift_mm));
    }
    parts.push(lens);
    let [east, north, up] = record.stance.eye_m;
    parts.push(format!("eye {east:.2} m east, {north:.2} m north, {up:.2} m up"));
    let attitude = &taken.pose.attitude;
    parts.push(format!(
        "heading {:.1}°, pitch {}, roll {}",
        attitude.heading.compass_degrees(),
        wording::degrees(attitude.pitch.degrees()),
        wording::degrees(attitude.roll.degrees())
    ));
    if let Some(convergence_deg) = record.subject.as_ref().and_then(|subject| subject.convergence_deg) {
        let straightened = record.straightened.as_ref().is_some_and(|straightened| straightened.pictured);
        let when = if straightened { "as taken " } else { "" };
        parts.push(format!("{when}the subject {}", wording::convergence(convergence_deg)));
    }
    parts.push("a drawing of a block model, not a photograph".into());
    parts.join("; ")
}

fn lens_fields(taken: &Taken<'_>) -> Vec<Field> {
    let (camera, record) = (taken.camera, taken.record);
    let f_number = record.camera.f_number;
    let (across, down) = camera.frame.pixels_per_mm();
    // Nought says that it is not known: it must fit into 16 bits.
    let equivalent_mm = camera.equivalent_focal_mm().round();
    let equivalent = if (1.0..=65_535.0).contains(&equivalent_mm) { equivalent_mm as u16 } else { 0 };
    let pitch = taken.pose.attitude.pitch.degrees();
    let mut fields = vec![
        ascii(Tag::LensModel, &record.camera.lens),
        field(Tag::FocalLength, fraction(camera.focal_mm, 10_000)),
        field(Tag::FocalLengthIn35mmFilm, Value::Short(vec![equivalent])),
        field(Tag::FNumber, fraction(f_number, 100)),
        // APEX: f/1 is 0, each stop 1.
        field(Tag::ApertureValue, fraction((2.0 * f_number.log2()).max(0.0), 10_000)),
        field(Tag::FocalPlaneXResolution, fraction(10.0 * across, 10_000)),
        field(Tag::FocalPlaneYResolution, fraction(10.0 * down, 10_000)),
        // Centimetres.
        field(Tag::FocalPlaneResolutionUnit, Value::Short(vec![3])),
        field(
            CAMERA_ELEVATION_ANGLE,
            Value::SRational(vec![SRational { num: (pitch * 1e4).round() as i32, denom: 10_000 }]),
        ),
    ];
    // All ones says infinity.
    let distance = record.camera.focus_m.map_or_else(
        || Value::Rational(vec![Rational { num: u32::MAX, denom: 1 }]),
        |distance_m| fraction(distance_m, 1000),
    );
    fields.push(field(Tag::SubjectDistance, distance));
    fields
}

fn moment_fields(moment: &Moment) -> Vec<Field> {
    let mut fields = vec![ascii(Tag::DateTimeOriginal, &moment.exif_text())];
    if let Some(minutes) = moment.offset_minutes {
        fields.push(ascii(Tag::OffsetTimeOriginal, &offset_text(minutes)));
    }
    fields
}

/// Where on the Earth the eye is and which way it looks; `None` where the site is nowhere.
fn place_fields(taken: &Taken<'_>) -> Option<Vec<Field>> {
    let place = taken.plane?.geographic_from_world(&taken.pose.eye)?;
    let side = |angle: Angle, plus: &str, minus: &str| if angle.degrees() < 0.0 { minus } else { plus }.to_owned();
    // A hundredth of a degree is as fine as the tag goes; 360.00 is north again.
    let heading = (taken.pose.attitude.heading.compass_degrees() * 100.0).round() % 36_000.0;
    Some(vec![
        field(Tag::GPSVersionID, Value::Byte(vec![2, 3, 0, 0])),
        ascii(Tag::GPSLatitudeRef, &side(place.latitude(), "N", "S")),
        field(Tag::GPSLatitude, degrees_minutes_seconds(place.latitude())),
        ascii(Tag::GPSLongitudeRef, &side(place.longitude(), "E", "W")),
        field(Tag::GPSLongitude, degrees_minutes_seconds(place.longitude())),
        // Above or below whatever heights are counted from: in older Exif the sea, in Exif 3.0 the ellipsoid.
        field(Tag::GPSAltitudeRef, Value::Byte(vec![u8::from(place.height_m() < 0.0)])),
        field(Tag::GPSAltitude, fraction(place.height_m().abs(), 1000)),
        ascii(Tag::GPSImgDirectionRef, "T"),
        field(Tag::GPSImgDirection, Value::Rational(vec![Rational { num: heading as u32, denom: 100 }])),
        ascii(Tag::GPSMapDatum, "WGS-84"),
    ])
}

/// Whole degrees, whole minutes, and seconds to a ten-millionth, 3 µm on the ground.
fn degrees_minutes_seconds(angle: Angle) -> Value {
    const PARTS: u64 = 10_000_000;
    // Rounded as a whole, so that no 60 seconds come out.
    let parts = (angle.degrees().abs() * 3600.0 * PARTS as f64).round() as u64;
    let (degrees, minutes, seconds) = (parts / (3600 * PARTS), parts / (60 * PARTS) % 60, parts % (60 * PARTS));
    let of = |num: u64, denom: u64| Rational { num: num as u32, denom: denom as u32 };
    Value::Rational(vec![of(degrees, 1), of(minutes, 1), of(seconds, PARTS)])
}

/// A planned moment by the clock on the site, with its offset from UTC if it was given.
///
/// # Example
/// ```
/// use plumbsight::handover::exif::Moment;
/// let moment: Moment = "2027-06-21T17:30+01:00".parse()?;
/// assert_eq!(moment.to_string(), "2027-06-21T17:30:00+01:00");
/// assert!("2027-02-30T12:00".parse::<Moment>().is_err());
/// # Ok::<(), String>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    year: u16,
    month: u8,
    day: u8,
    hour: u8,
    minute: u8,
    second: u8,
    offset_minutes: Option<i16>,
}

impl Moment {
    /// Whether it says how far the clock is ahead of universal time.
    pub const fn has_offset(&self) -> bool {
        self.offset_minutes.is_some()
    }

    fn exif_text(&self) -> String {
        let Self { year, month, day, hour, minute, second, .. } = self;
        format!("{year:04}:{month:02}:{day:02} {hour:02}:{minute:02}:{second:02}")
    }
}

fn offset_text(minutes: i16) -> String {
    let sign = if minutes < 0 { '-' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { year, month, day, hour, minute, second, offset_minutes } = self;
        write!(f, "{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}")?;
        offset_minutes.map_or(Ok(()), |minutes| f.write_str(&offset_text(minutes)))
    }
}

impl FromStr for Moment {
    type Err = String;

    /// ISO 8601's extended form: date, `T`, time with or without seconds, and an offset or `Z` if wanted.
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("'{text}' is no moment; write it as 2027-06-21T17:30 or 2027-06-21T17:30:00+01:00");
        let (date, time) = text.split_once('T').ok_or_else(wrong)?;
        let number = |part: &str, digits: usize, lowest: u16, highest: u16| {
            let right = part.len() == digits && part.bytes().all(|sign| sign.is_ascii_digit());
            let value = right.then(|| part.parse::<u16>().ok()).flatten();
            value.filter(|value| (lowest..=highest).contains(value)).ok_or_else(wrong)
        };
        let &[year, month, day] = date.split('-').collect::<Vec<_>>().as_slice() else { return Err(wrong()) };
        let (year, month) = (number(year, 4, 1, 9999)?, number(month, 2, 1, 12)?);
        let leap = year.is_multiple_of(4) && !year.is_multiple_of(100) || year.is_multiple_of(400);
        let days = match month {
            2 => 28 + u16::from(leap),
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        };
        let day = number(day, 2, 1, days)?;
        let (clock, offset_minutes) = if let Some(clock) = time.strip_suffix('Z') {
            (clock, Some(0))
        } else if let Some(at) = time.find(['+', '-']) {
            let (clock, offset) = time.split_at(at);
            let (hours, minutes) = offset[1..].split_once(':').ok_or_else(wrong)?;
            let minutes = (60 * number(hours, 2, 0, 14)? + number(minutes, 2, 0, 59)?) as i16;
            (clock, Some(if offset.starts_with('-') { -minutes } else { minutes }))
        } else {
            (time, None)
        };
        let mut parts = clock.split(':');
        let mut part = |highest| parts.next().map(|part| number(part, 2, 0, highest));
        let (hour, minute) = (part(23).ok_or_else(wrong)??, part(59).ok_or_else(wrong)??);
        let second = part(59).transpose()?.unwrap_or(0);
        if parts.next().is_some() {
            return Err(wrong());
        }
        Ok(Self {
            year,
            month: month as u8,
            day: day as u8,
            hour: hour as u8,
            minute: minute as u8,
            second: second as u8,
            offset_minutes,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn thirds(value: &Value) -> Vec<f64> {
        let Value::Rational(parts) = value else { panic!("fractions") };
        parts.iter().map(Rational::to_f64).collect()
    }

    #[test]
    fn seconds_never_come_to_sixty() {
        // 53°48′33.820″, the place of IOGP 373-7-2's topocentric example.
        let parts = thirds(&degrees_minutes_seconds(Angle::from_degrees(53.0 + 48.0 / 60.0 + 33.82 / 3600.0)));
        assert_eq!(&parts[..2], [53.0, 48.0]);
        assert!((parts[2] - 33.82).abs() < 1e-6);
        assert_eq!(thirds(&degrees_minutes_seconds(Angle::from_degrees(-1.0 + 1e-13))), [1.0, 0.0, 0.0]);
        assert_eq!(thirds(&degrees_minutes_seconds(Angle::from_degrees(180.0))), [180.0, 0.0, 0.0]);
    }

    #[test]
    fn large_fractions_lose_digits_and_nothing_else() {
        assert!((thirds(&fraction(1e6, 10_000))[0] - 1e6).abs() < 1e-9);
        assert_eq!(thirds(&fraction(1e12, 10))[0], f64::from(u32::MAX));
    }

    #[test]
    fn moments_that_are_none_are_refused() {
        for good in ["2028-02-29T00:00", "2027-12-31T23:59:59Z", "1999-01-01T12:00-03:30"] {
            let moment: Moment = good.parse().expect("a moment");
            assert_eq!(moment.to_string().parse::<Moment>(), Ok(moment));
        }
        for bad in [
            "",
            "T",
            "2027-02-29T00:00",
            "2027-6-21T17:30",
            "2027-06-21 17:30",
            "2027-06-21T24:00",
            "2027-06-21T17",
            "2027-06-21T17:30:00:00",
            "2027-06-21T17:30+1",
            "２０２７-06-21T17:30",
            "2027-06-21T17:30+é:00",
        ] {
            assert!(bad.parse::<Moment>().is_err(), "{bad}");
        }
    }

    #[test]
    fn a_files_ending_tells_its_form() {
        let form = |name: &str| PictureForm::of(std::path::Path::new(name));
        assert_eq!(form("a b/é.PNG"), Some(PictureForm::Png));
        assert_eq!((form("x.jpg"), form("x.jpeg")), (Some(PictureForm::Jpeg), Some(PictureForm::Jpeg)));
        assert_eq!((form("png"), form("x.gif"), form("..")), (None, None, None));
    }
}
