//! Do the cameras, lenses and stances of a site make sense?

use std::collections::BTreeMap;

use crate::optics::{Distortion, FARTHEST_FOCUS_M, Format, Kit, Lens, Margins};

use super::check::{
    Check, FARTHEST_M, HIGHEST_M, HIGHEST_STANCE_M, LARGEST_M, LOWEST_M, MOST_KIT, MOST_STANCES, likely, named, plain,
    span_text,
};
use super::problem::PathStep;
use super::value_tree::short;
use super::{Aim, Site, Stance};

impl Check {
    pub(super) fn kit(&mut self, kit: &Kit) {
        if !self.most("formats", kit.formats.len(), MOST_KIT, "formats")
            | !self.most("lenses", kit.lenses.len(), MOST_KIT, "lenses")
        {
            return;
        }
        self.names("formats", "format", kit.formats.iter().map(|format| format.name.as_str()));
        for (index, format) in kit.formats.iter().enumerate() {
            let item = named("format", index, &format.name);
            self.about(item, &[PathStep::Field("formats"), PathStep::Item(index)], |check| check.format(format));
        }
        self.names("lenses", "lens", kit.lenses.iter().map(|lens| lens.name.as_str()));
        for (index, lens) in kit.lenses.iter().enumerate() {
            let item = named("lens", index, &lens.name);
            self.about(item, &[PathStep::Field("lenses"), PathStep::Item(index)], |check| check.lens(lens));
        }
    }

    pub(super) fn format(&mut self, format: &Format) {
        let mm = (1.0, 1000.0);
        let good = self.number(&[PathStep::Field("width_mm")], format.width_mm, mm, "mm")
            & self.number(&[PathStep::Field("height_mm")], format.height_mm, mm, "mm");
        self.count("width_px", format.width_px, 16, 100_000);
        self.count("height_px", format.height_px, 16, 100_000);
        let counted = [format.width_px, format.height_px].iter().all(|count| (16..=100_000).contains(count));
        if good && format.height_mm > format.width_mm {
            self.error_with(
                "height_mm",
                &["width_mm"],
                format!("is {}", plain(format.height_mm)),
                format!("at most the width, {} mm: formats are given in landscape", plain(format.width_mm)),
            );
        } else if good && counted {
            let across = f64::from(format.width_px) / format.width_mm;
            let down = f64::from(format.height_px) / format.height_mm;
            if (across / down - 1.0).abs() > 0.02 {
                let square = (across * format.height_mm).round();
                self.error_with(
                    "height_px",
                    &["width_px", "width_mm", "height_mm"],
                    format!("is {}, which makes pixels oblong", format.height_px),
                    format!("{square} within 2 %"),
                );
            }
        }
    }

    pub(super) fn lens(&mut self, lens: &Lens) {
        for (field, value, range) in lens.problems() {
            self.error(&[PathStep::Field(field)], format!("is {value}"), range, "");
        }
        self.most("marks_mm", lens.marks_mm.len(), 100, "marks");
        self.most("distortion", lens.distortion.len(), 100, "entries");
        for (index, measured) in lens.distortion.iter().take(100).enumerate() {
            let steps = [PathStep::Field("distortion"), PathStep::Item(index), PathStep::Field("focal_mm")];
            self.number(&steps, measured.focal_mm, (1.0, 5000.0), "mm");
            let entry = [PathStep::Field("distortion"), PathStep::Item(index), PathStep::Field("coefficients")];
            self.distortion(&entry, &measured.coefficients);
        }
    }

    /// Coefficients far beyond any lens's would lose every digit of the picture's rim.
    pub(super) fn distortion(&mut self, steps: &[PathStep], distortion: &Distortion) {
        for (index, value) in distortion.coefficients().into_iter().enumerate() {
            let mut steps = steps.to_vec();
            steps.push(PathStep::Item(index));
            self.number(&steps, value, (-10_000.0, 10_000.0), "");
        }
    }

    pub(super) fn stances(&mut self, site: &Site) {
        if !self.most("stances", site.stances.len(), MOST_STANCES, "stances") {
            return;
        }
        self.names("stances", "stance", site.stances.iter().map(|stance| stance.name.as_str()));
        if site.stances.is_empty() {
            return;
        }
        let kit = match &site.kit {
            Some(own) if own.formats.len() > MOST_KIT || own.lenses.len() > MOST_KIT => return,
            _ => site.kit_with(self.own.as_ref()),
        };
        let decks: BTreeMap<&str, bool> =
            site.blocks.iter().map(|block| (block.name.as_str(), block.deck.is_some())).collect();
        for (index, stance) in site.stances.iter().enumerate() {
            let item = named("stance", index, &stance.name);
            self.about(item, &[PathStep::Field("stances"), PathStep::Item(index)], |check| {
                check.stance(stance, Some((&kit, &decks)));
            });
        }
    }

    /// Where a stance stands and how it is turned.
    pub(super) fn placing(&mut self, stance: &Stance) {
        self.position(&[PathStep::Field("at")], stance.at);
        self.length("height_m", stance.height_m, 0.0, HIGHEST_STANCE_M);
        if let Some(eye_m) = stance.eye_height_m {
            self.length("eye_height_m", eye_m, LOWEST_M, HIGHEST_M + HIGHEST_STANCE_M);
        }
        match stance.aim {
            Aim::Fill | Aim::Level | Aim::Rise | Aim::LeastTilt | Aim::Correct => {}
            Aim::At(east, north, up) => self.within(&[PathStep::Field("aim")], |check| {
                for (index, value) in [east, north].into_iter().enumerate() {
                    check.number(&[PathStep::Item(index)], value, (-FARTHEST_M, FARTHEST_M), "m");
                }
                check.number(&[PathStep::Item(2)], up, (LOWEST_M, HIGHEST_M + LARGEST_M), "m");
            }),
            Aim::Turned { heading_deg, pitch_deg, roll_deg } => self.within(&[PathStep::Field("aim")], |check| {
                check.degrees("heading_deg", heading_deg, -360.0, 360.0);
                check.degrees("pitch_deg", pitch_deg, -90.0, 90.0);
                check.degrees("roll_deg", roll_deg, -180.0, 180.0);
            }),
        }
    }

    /// A stance, against the kit and decks that it may name where they are known.
    pub(super) fn stance(&mut self, stance: &Stance, known: Option<(&Kit, &BTreeMap<&str, bool>)>) {
        self.placing(stance);
        if stance.eye_height_m.is_some() && stance.on.is_some() {
            self.warn(&[PathStep::Field("on")], "is not used where eye_height_m is given", "take one of the two out");
        }
        if let (Some(on), Some((_, decks))) = (stance.on.as_deref().filter(|on| *on != "ground"), known) {
            match decks.get(on) {
                Some(true) => {}
                Some(false) => self.error(
                    &[PathStep::Field("on")],
                    format!("is '{}', a block without a deck", short(on)),
                    "\"ground\" or a block with a deck",
                    "write deck: (access: Open), Ask or Closed in that block",
                ),
                None => {
                    let help = likely(on, decks.keys().copied());
                    self.error(
                        &[PathStep::Field("on")],
                        format!("is '{}', which no block is called", short(on)),
                        "\"ground\" or the name of a block with a deck",
                        help,
                    );
                }
            }
        }
        if let Some(Err(error)) = known.map(|(kit, _)| kit.format(&stance.format)) {
            self.error(
                &[PathStep::Field("format")],
                format!("is '{}'", short(&stance.format)),
                "a format of the kit",
                error.to_string(),
            );
        }
        if let Some(crop) = stance.crop {
            for (index, side) in [crop.0, crop.1].into_iter().enumerate() {
                self.number(&[PathStep::Field("crop"), PathStep::Item(index)], side, (0.1, 100.0), "");
            }
        }
        if let Some(margins) = stance.margins {
            for (side, share) in [("side", margins.side), ("above", margins.above)] {
                let at = [PathStep::Field("margins"), PathStep::Field(side)];
                self.number(&at, share, (0.0, Margins::WIDEST), "shares of the frame, such as 0.05");
            }
        }
        match known.map(|(kit, _)| kit.lens(&stance.lens)) {
            None => self.settings(stance, None),
            Some(Ok(lens)) => self.settings(stance, Some(&lens)),
            Some(Err(error)) => self.error(
                &[PathStep::Field("lens")],
                format!("is '{}'", short(&stance.lens)),
                "a lens of the kit",
                error.to_string(),
            ),
        }
        if let Some(distortion) = &stance.distortion {
            self.distortion(&[PathStep::Field("distortion")], distortion);
        }
        if let Some(note) = &stance.note
            && note.chars().count() > 4000
        {
            self.error(&[PathStep::Field("note")], "is very long", "at most 4000 characters", "");
        }
    }

    /// What is set on the lens, against what the lens can be set to. A lens that is itself at fault is reported already.
    pub(super) fn settings(&mut self, stance: &Stance, lens: Option<&Lens>) {
        let sound = lens.is_some_and(|lens| lens.problems().is_empty());
        let of_lens = |what: &str| format!("{what} of '{}'", short(&stance.lens));
        let any = Lens::prime(50.0);
        let lens = lens.unwrap_or(&any);
        let mut against =
            |field: &'static str, value: f64, (low, high): (f64, f64), unit: &str, what: &str| {
                // A number out of all reason is refused whatever the lens.
                let bounds = if sound { (low, high) } else { (-1e6, 1e6) };
                if !(bounds.0..=bounds.1).contains(&value) {
                    let finding = self
                        .finding(&[PathStep::Field(field)], format!("is {}", plain(value)))
                        .allowed(format!("{}, {}", span_text(bounds.0, bounds.1, unit), of_lens(what)));
                    let mut finding = finding;
                    finding.hangs_on = vec![self.way_to(&[PathStep::Field("lens")])];
                    self.push(finding);
                }
            };
        against("f_number", stance.f_number, (lens.widest_f, lens.narrowest_f), "", "the f-numbers");
        if let Some(focal_mm) = stance.focal_mm {
            against("focal_mm", focal_mm, (lens.focal_mm, lens.longest_mm()), "mm", "the focal lengths");
        }
        if let Some(focus_m) = stance.focus_m {
            against("focus_m", focus_m, (lens.closest_focus_m(), FARTHEST_FOCUS_M), "m", "the distances");
        }
        if let Some(rise_mm) = stance.rise_mm {
            against("rise_mm", rise_mm, (-lens.rise_mm, lens.rise_mm), "mm", "the rise");
        }
        if let Some(shift_mm) = stance.shift_mm {
            let most = lens.shift_mm;
            against("lateral_shift_mm", shift_mm, (-most, most), "mm", "the shift");
        }
    }
}
