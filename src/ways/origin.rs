//! From where are the ways looked for, and what do all of them share?

use crate::appraise::{Account, FinalPicture};
use crate::optics::{Frame, Lens, Orientation};
use crate::outline::Subject;
use crate::pose::{WorldPoint, WorldVector};
use crate::search::USUAL_LENSES;
use crate::site::{Access, Aim, Footing, Stance, Support};
use crate::stance::StanceError;
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::verdict::{Fault, Verdict};
use crate::walking::{Feet, KNEE_M, Reach, may_stand};

use super::figures::Figures;
use super::way::{Effort, Holding, Options, Remark, Remedy, Way, WayOutcome, WaysError};

/// A stance that fills its frame to more than this is cut by it.
pub(super) const WHOLE: f64 = 1.0 + 1e-9;
/// A change of lean that counts: a tenth of a degree is the last digit that is shown.
pub(super) const COUNTS_DEG: f64 = 0.05;
/// A way that sees so much less of the subject than the stance does says so.
pub(super) const SEES_LESS: f64 = 0.1;
/// A subject of which less than this is seen is not much of a picture.
pub(super) const HALF: f64 = 0.5;
/// Focal lengths that differ by less than this share are the same to a photographer.
pub(super) const SAME_ZOOM: f64 = 0.01;
/// Margins that cost more than this share of the picture are told.
const MARGINS_WORTH: f64 = 0.1;
/// A front seen flatter than this (30°) is no picture of it.
pub(super) const FRONT_SINE: f64 = 0.5;

/// What the margins cost, where it is worth a word.
pub(super) fn margins_cost(picture: &FinalPicture) -> Option<Remark> {
    let without_mp = picture.megapixels_without_margins;
    (picture.megapixels() < (1.0 - MARGINS_WORTH) * without_mp).then_some(Remark::MarginsCost { without_mp })
}

/// The stance from which the ways are looked for, and all that they share.
pub(super) struct Origin<'a> {
    pub(super) survey: &'a Survey,
    pub(super) subject: &'a Subject,
    pub(super) stance: &'a Stance,
    pub(super) settings: &'a MeasureSettings,
    pub(super) measured: Measured,
    pub(super) figures: Figures,
    pub(super) bag: Vec<Lens>,
    pub(super) farthest_walk_m: f64,
    pub(super) same_side_only: bool,
    /// The plan direction to the subject, of length 1.
    pub(super) ahead: (f64, f64),
}

impl<'a> Origin<'a> {
    /// Takes up the stance.
    ///
    /// # Errors
    /// It cannot be taken up, there is no subject, or a lens of the bag is unknown.
    pub(super) fn of(
        survey: &'a Survey,
        stance: &'a Stance,
        settings: &'a MeasureSettings,
        options: &Options,
    ) -> Result<Self, WaysError> {
        let subject = survey.subject.as_ref().map_err(|error| *error)?;
        let measured = survey.measure(stance, settings)?;
        let packed: Vec<&str> = if options.bag.is_empty() {
            USUAL_LENSES.into_iter().filter(|name| survey.kit.lens(name).is_ok()).collect()
        } else {
            options.bag.iter().map(String::as_str).collect()
        };
        let mut bag = packed.into_iter().map(|name| survey.kit.lens(name)).collect::<Result<Vec<_>, _>>()?;
        // What is on the camera is in the bag.
        if !bag.iter().any(|lens| lens.name == measured.standing.lens.name) {
            bag.insert(0, measured.standing.lens.clone());
        }
        let eye = measured.standing.pose.eye;
        let towards = WorldVector::new(subject.middle.x - eye.x, subject.middle.y - eye.y, 0.0);
        let ahead = towards.try_normalize(1e-6).unwrap_or_else(WorldVector::y);
        Ok(Self {
            survey,
            subject,
            stance,
            settings,
            figures: Figures::of(&measured.account),
            measured,
            bag,
            farthest_walk_m: options.farthest_walk_m,
            same_side_only: options.same_side,
            ahead: (ahead.x, ahead.y),
        })
    }

    /// Where someone who walks off begins: where the feet are; on the ground where the camera hangs, or is on something
    /// that one does not walk off.
    pub(super) fn start(&self) -> Option<Feet> {
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

    /// Everywhere one can walk to from there; `None` where nobody can stand below the camera.
    pub(super) fn reach(&self) -> Option<Reach<'_>> {
        let survey = self.survey;
        self.start().map(|start| Reach::from(&survey.model, &survey.sight, &start, self.ahead, self.farthest_walk_m))
    }

    /// The nearest place on the ground beside a deck.
    pub(super) fn beside(&self, deck: usize) -> Option<Feet> {
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
                let knee = WorldPoint::new(at.0, at.1, footing.height_m + KNEE_M);
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

    /// The picture that is wanted, with the camera held so.
    pub(super) fn frame(&self, orientation: Orientation) -> Frame {
        let format = &self.measured.standing.format;
        format.frame(orientation, self.stance.crop).with_margins(self.stance.margins)
    }

    /// The same camera, body and lens somewhere else, filling its frame: a zoom is turned anew.
    pub(super) fn elsewhere(&self, at: (f64, f64), on: Option<String>) -> Stance {
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

    /// The same camera and lens where it stands, free to be aimed and zoomed anew.
    pub(super) fn where_it_stands(&self) -> Stance {
        Stance { focal_mm: None, focus_m: None, note: None, ..self.stance.clone() }
    }

    /// How high the camera is held over whatever the feet stand on; standing, for a camera that hangs.
    pub(super) fn body_height_m(&self) -> f64 {
        self.measured.standing.height_m().unwrap_or(Holding::Standing.height_m())
    }

    /// The same place with another lens.
    pub(super) fn with_lens(&self, lens: &Lens, aim: Aim) -> Stance {
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

    pub(super) fn measure(&self, stance: &Stance) -> Result<Measured, StanceError> {
        self.survey.measure(stance, self.settings)
    }

    /// The row of a way that is a stance, measured.
    pub(super) fn row(&self, remedy: Remedy, stance: Stance, effort: Effort, remarks: Vec<Remark>) -> Way {
        match self.measure(&stance) {
            Ok(measured) => self.row_of(remedy, stance, &measured, effort, remarks),
            Err(error) => {
                let mut remarks = remarks;
                remarks.push(Remark::Refused(error.to_string()));
                Way { effort, ..Way::not_here(remedy, Vec::new(), remarks) }
            }
        }
    }

    pub(super) fn row_of(
        &self,
        remedy: Remedy,
        stance: Stance,
        measured: &Measured,
        mut effort: Effort,
        mut remarks: Vec<Remark>,
    ) -> Way {
        let figures = Figures::of(&measured.account);
        effort.climb_m = measured.standing.pose.eye.z - self.measured.standing.pose.eye.z;
        if let Some(footing) = &measured.standing.footing {
            self.ask_for(footing, &mut effort.ask);
        }
        if let (false, Some(kept)) = (measured.account.whole_in_frame, measured.account.in_frame_share) {
            remarks.push(Remark::CutByFrame { kept });
        }
        if !self.same_side(&measured.standing.pose.eye) {
            remarks.push(Remark::OtherSide);
        }
        remarks.extend(self.hidden(&measured.account));
        let outcome = self.outcome(&figures, &measured.verdict);
        if outcome == WayOutcome::NotHere {
            return Way { effort, ..Way::not_here(remedy, Vec::new(), vec![Remark::SeesNothing]) };
        }
        if let Some(picture) = figures.kept() {
            remarks.extend(margins_cost(&picture));
        }
        let stance = Stance { name: remedy.words(), ..stance };
        let (there, here) = (&measured.standing, &self.measured.standing);
        let zoomed =
            there.lens.name != here.lens.name || (there.camera.focal_mm / here.camera.focal_mm - 1.0).abs() > SAME_ZOOM;
        Way {
            remedy,
            outcome,
            figures: Some(figures),
            verdict: Some(measured.verdict.clone()),
            effort,
            remarks,
            stance: Some(stance),
            zoom_mm: (there.lens.is_zoom() && zoomed).then_some(there.camera.focal_mm),
        }
    }

    /// Adds whom to ask for a footing, unless the stance stands there itself.
    pub(super) fn ask_for(&self, footing: &Footing, ask: &mut Vec<String>) {
        let here = self.measured.standing.footing.as_ref().and_then(|here| here.name.as_ref());
        if footing.access != Access::Ask || here.is_some() && here == footing.name.as_ref() {
            return;
        }
        let name = footing.name.clone().unwrap_or_else(|| "the ground".into());
        if !ask.contains(&name) {
            ask.push(name);
        }
    }

    /// What comes of a picture; `NotHere` for one in which nothing of the subject is seen.
    pub(super) fn outcome(&self, figures: &Figures, verdict: &Verdict) -> WayOutcome {
        if verdict.faults.contains(&Fault::NothingSeen) {
            return WayOutcome::NotHere;
        }
        let Some(lean) = figures.largest_lean else { return WayOutcome::Same };
        if figures.reads_upright == Some(true) {
            return if !verdict.whole_in_frame {
                WayOutcome::Cut
            } else if self.sees_enough(figures.visible_share) {
                WayOutcome::Upright
            } else {
                WayOutcome::Hidden
            };
        }
        let Some(origin) = self.figures.largest_lean else { return WayOutcome::Better };
        let less_deg = origin.degrees() - lean.degrees();
        if less_deg > COUNTS_DEG {
            WayOutcome::Better
        } else if less_deg < -COUNTS_DEG {
            WayOutcome::Worse
        } else {
            WayOutcome::Same
        }
    }

    /// Whether so much of the subject is enough: what is asked for, or nearly what the stance sees where that is more than half.
    pub(super) fn sees_enough(&self, share: Option<f64>) -> bool {
        share.is_none_or(|share| share >= self.wanted_share())
    }

    /// The share of the subject that a way must show.
    pub(super) fn wanted_share(&self) -> f64 {
        let wanted = self.settings.measures.seen_share;
        self.figures.visible_share.map_or(0.0, |here| (here - SEES_LESS).max(HALF)).min(wanted)
    }

    /// Whether a place looks at the front, or at the wall that the stance looks at where none is named, no flatter than one still
    /// reads a front, or than the stance does; a subject without walls has one side.
    pub(super) fn same_side(&self, eye: &WorldPoint) -> bool {
        let Some(front) = self.measured.account.front.filter(|_| !self.subject.any_front) else { return true };
        let cosine = |eye: &WorldPoint| front.angle_to(eye).cos();
        cosine(eye) >= cosine(&self.measured.standing.pose.eye).min(FRONT_SINE) - 1e-9
    }

    /// What of the subject is hidden, where less of it is seen than from the stance or its base or top is.
    pub(super) fn hidden(&self, account: &Account) -> Vec<Remark> {
        let mut remarks = Vec::new();
        if let (Some(share), Some(stance_share)) = (account.visible_share, self.figures.visible_share)
            && share < stance_share - SEES_LESS
        {
            remarks.push(Remark::SeesLess { share, stance_share });
        }
        remarks.extend(account.hidden.below_m().map(|below_m| Remark::BaseHidden { below_m }));
        remarks.extend(account.hidden.above_m().map(|above_m| Remark::TopHidden { above_m }));
        remarks
    }
}
