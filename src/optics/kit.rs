//! What is in the bag?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::{Format, Lens};

/// Formats and lenses that can be named.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Kit {
    /// Picture areas.
    #[serde(default)]
    pub formats: Vec<Format>,
    /// Lenses.
    #[serde(default)]
    pub lenses: Vec<Lens>,
}

/// A name that no kit has.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum KitError {
    /// No such format.
    #[error(
        "no format is called '{name}'; there are {known}, or write width x height in mm and pixels across: 36x24@6000"
    )]
    NoFormat {
        /// What was asked for.
        name: String,
        /// What there is.
        known: String,
    },
    /// No such lens.
    #[error("no lens is called '{name}'; there are {known}, or write a focal length such as '35 mm'")]
    NoLens {
        /// What was asked for.
        name: String,
        /// What there is.
        known: String,
    },
}

impl Kit {
    /// The kit the program comes with: `assets/kit.ron`.
    pub fn built_in() -> Self {
        crate::files::ron_options().from_str(include_str!("../../assets/kit.ron")).expect("the built-in kit is tested")
    }

    /// This kit with everything of `own` added; what `own` names again replaces the entry here.
    #[must_use]
    pub fn with(mut self, own: &Self) -> Self {
        for format in &own.formats {
            self.formats.retain(|known| !same_name(&known.name, &format.name));
            self.formats.push(format.clone());
        }
        for lens in &own.lenses {
            self.lenses.retain(|known| !same_name(&known.name, &lens.name));
            self.lenses.push(lens.clone());
        }
        self
    }

    /// The format of this name, or one described as `width x height @ pixels across`.
    ///
    /// # Errors
    /// Neither a known name nor such a description.
    pub fn format(&self, name: &str) -> Result<Format, KitError> {
        self.formats
            .iter()
            .find(|format| same_name(&format.name, name))
            .cloned()
            .or_else(|| described_format(name))
            .ok_or_else(|| KitError::NoFormat {
                name: name.into(),
                known: listed(self.formats.iter().map(|format| format.name.as_str())),
            })
    }

    /// The lens of this name, or a plain prime described as `35 mm`.
    ///
    /// # Errors
    /// Neither a known name nor a focal length from 1 to 5000 mm.
    pub fn lens(&self, name: &str) -> Result<Lens, KitError> {
        self.lenses
            .iter()
            .find(|lens| same_name(&lens.name, name))
            .cloned()
            .or_else(|| described_lens(name))
            .ok_or_else(|| KitError::NoLens {
                name: name.into(),
                known: listed(self.lenses.iter().map(|lens| lens.name.as_str())),
            })
    }
}

/// Names are the same whatever their case, spaces and kind of dash.
fn same_name(a: &str, b: &str) -> bool {
    plain(a).eq(plain(b))
}

fn plain(name: &str) -> impl Iterator<Item = char> {
    name.chars().filter(|c| !c.is_whitespace()).flat_map(|c| {
        match c {
            '–' | '—' | '−' => '-',
            '×' => 'x',
            other => other,
        }
        .to_lowercase()
    })
}

fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ")
}

fn described_format(name: &str) -> Option<Format> {
    let (size, pixels) = name.split_once('@')?;
    let (width, height) = size.split_once(['x', '×'])?;
    let side = |text: &str| text.trim().parse::<f64>().ok().filter(|side| (1.0..=1000.0).contains(side));
    let (width_mm, height_mm) = (side(width)?, side(height)?);
    let width_px = pixels.trim().parse::<u32>().ok().filter(|pixels| (16..=100_000).contains(pixels))?;
    let height_px = (f64::from(width_px) * height_mm / width_mm).round();
    (1.0..=100_000.0).contains(&height_px).then(|| Format {
        name: name.into(),
        width_mm,
        height_mm,
        width_px,
        height_px: height_px as u32,
        source: String::new(),
    })
}

/// A plain prime "35 mm", or one that shifts, "24 mm with 12 mm rise".
fn described_lens(name: &str) -> Option<Lens> {
    let millimetres = |text: &str, low: f64, high: f64| {
        let number = text.trim().strip_suffix("mm").unwrap_or(text).trim();
        number.parse::<f64>().ok().filter(|mm| (low..=high).contains(mm))
    };
    let (focal, travel_mm) = match name.split_once(" with ") {
        Some((focal, rise)) => (focal, millimetres(rise.trim().strip_suffix("rise")?.trim(), 0.0, 100.0)?),
        None => (name, 0.0),
    };
    let plain = Lens::prime(millimetres(focal, 1.0, 5000.0)?);
    Some(Lens { name: name.trim().into(), rise_mm: travel_mm, shift_mm: travel_mm, ..plain })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_kit_is_in_order() {
        let kit = Kit::built_in();
        assert!(kit.formats.len() >= 7 && kit.lenses.len() >= 10);
        for format in &kit.formats {
            assert!(!format.source.is_empty(), "{} has no source", format.name);
            let aspect_mm = format.width_mm / format.height_mm;
            let aspect_px = f64::from(format.width_px) / f64::from(format.height_px);
            assert!((aspect_mm / aspect_px - 1.0).abs() < 0.01, "{} has oblong pixels", format.name);
        }
        for lens in &kit.lenses {
            assert_eq!(lens.problems(), Vec::new(), "{}", lens.name);
        }
    }

    #[test]
    fn names_are_found_however_they_are_typed() {
        let kit = Kit::built_in();
        assert_eq!(kit.format("36 × 24").expect("known").width_mm, 36.0);
        assert_eq!(kit.format("30x20@3000").expect("described").height_px, 2000);
        assert_eq!(kit.lens("43 mm").expect("described").focal_mm, 43.0);
        assert_eq!(kit.lens("43 mm with 7.5 mm rise").expect("described").rise_mm, 7.5);
        assert!(kit.lens("a brick").expect_err("unknown").to_string().contains("a brick"));
        assert!(kit.lens("1e309").is_err() && kit.lens("NaN").is_err());
    }
}
