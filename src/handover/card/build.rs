//! How is a card put together from what was measured? Its pictures are made here.

use std::sync::Arc;

use crate::angle::Angle;
use crate::cautions::CautionKind;
use crate::drawing::{Drawing, Mark as DrawnMark, PlanLabels, PlanRequest, PlanView, Role, SiteShapes, gauge, plan};
use crate::handover::DocumentSettings;
use crate::handover::alignments::{Alignment, alignments};
use crate::handover::page::Paper;
use crate::handover::planned::moment_words;
use crate::handover::shots::kept_outline;
use crate::handover::told::{Teller, geographic_of};
use crate::light::{LightSide, PlannedLight};
use crate::optics::{Camera, Frame, Margins, Orientation};
use crate::place::{CompassError, Declination, declination};
use crate::pose::{Attitude, Pose};
use crate::progress::Progress;
use crate::site::Stance;
use crate::still::{Picture, Scene, StillError, Style, View, render};
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::theme::Theme;
use crate::verdict::Fault;
use crate::verticals::{StraightenFailure, Viewpoint};
use crate::wording::capital;

use super::content::{FieldCard, LinedUp, Setting};
use super::place::{Mark, footing, marks, on_earth};
use super::tolerance::tolerance_arrows;

/// Pixels along the longer side of the finder's picture, and across the close look at what lines up.
const PICTURE_PX: u32 = 1000;
const CLOSE_PX: u32 = 420;
/// The focal length of the close look, on a frame of 36 × 24 mm: 10° across.
const CLOSE_MM: f64 = 200.0;
/// The most pairs that a card shows.
const MOST_PAIRS: usize = 2;
/// The plan's canvas.
const PLAN_PT: (f64, f64) = (440.0, 290.0);

/// Why there is no card.
#[derive(Debug, thiserror::Error)]
pub enum CardError {
    /// The magnetic model does not reach that day.
    #[error(transparent)]
    Compass(#[from] CompassError),
    /// The picture cannot be made.
    #[error(transparent)]
    Still(#[from] StillError),
}

/// What a card is for.
#[derive(Clone, Debug, PartialEq)]
pub struct CardRequest {
    /// The stance.
    pub stance: Stance,
    /// By what it is measured.
    pub settings: MeasureSettings,
    /// The paper of which it takes half.
    pub paper: Paper,
    /// Language, day and unit.
    pub document: DocumentSettings,
}

/// The field card of a stance.
///
/// # Errors
/// The day is out of the magnetic model's reach, or a picture is cancelled.
pub fn field_card(
    survey: &Survey,
    request: &CardRequest,
    measured: &Measured,
    progress: &Progress,
) -> Result<FieldCard, CardError> {
    let DocumentSettings { day, units, words, .. } = &request.document;
    let teller = Teller { survey, words, units: *units };
    let position = geographic_of(survey, measured);
    let compass = position.as_ref().map(|position| declination(position, *day)).transpose()?;
    let mut pairs = alignments(survey, &measured.standing);
    pairs.truncate(MOST_PAIRS);
    let standing = &measured.standing;
    let label = teller.labels(&[(&request.stance, standing)]).remove(0);
    let label = if request.stance.name.contains(',') { capital(&request.stance.name) } else { label };
    let builder = Builder { survey, request, measured, teller, compass: compass.as_ref() };
    let found = marks(&teller, &standing.pose.eye);
    let lined_up =
        pairs.iter().zip('A'..).map(|(pair, letter)| builder.lined_up(pair, letter)).collect::<Result<Vec<_>, _>>()?;
    let place = match (&position, &survey.model.site.anchor) {
        (Some(position), Some(anchor)) => on_earth(&teller, position, anchor),
        _ => vec![words.on_site(&teller.length(standing.pose.eye.x, 1), &teller.length(standing.pose.eye.y, 1))],
    };
    Ok(FieldCard {
        words: Arc::clone(words),
        paper: request.paper,
        label: label.into(),
        site: survey.model.site.name.as_str().into(),
        planned: measured
            .planned
            .as_ref()
            .map(|planned| (moment_words(survey, planned, words).into(), builder.light(planned).into())),
        settings: builder.settings(),
        gauge: Arc::new(Drawing { words: builder.leans(), ..gauge(survey, measured, 48.0, 72.0) }),
        verdict: builder.verdict().into(),
        leans: builder.leans().into(),
        afterwards: builder.afterwards().into(),
        picture: Arc::new(builder.finder(progress)?),
        kept: builder.kept(),
        letters: builder.letters(&pairs),
        ticks: builder.ticks(&pairs).into_iter().map(Into::into).collect(),
        plan: Arc::new(builder.plan(&found)),
        place: place.into_iter().chain([footing(&teller, standing)]).map(Into::into).collect(),
        marks: found.iter().map(|mark| builder.mark_words(mark)).map(|(far, way)| (far.into(), way.into())).collect(),
        lined_up,
        tolerance: measured
            .tolerance
            .as_ref()
            .map(|tolerance| Arc::new(tolerance_arrows(&teller, standing, tolerance))),
        cautions: builder.cautions().into_iter().map(Into::into).collect(),
        note: request.stance.note.as_ref().map(Into::into),
        footer: builder.footer().into(),
    })
}

struct Builder<'a> {
    survey: &'a Survey,
    request: &'a CardRequest,
    measured: &'a Measured,
    teller: Teller<'a>,
    compass: Option<&'a Declination>,
}

impl Builder<'_> {
    fn light(&self, planned: &PlannedLight) -> String {
        let words = self.teller.words;
        match planned.side {
            Some(LightSide::Front) => words.light_front(),
            Some(LightSide::Left) => words.light_left(),
            Some(LightSide::Right) => words.light_right(),
            Some(LightSide::Back) => words.light_back(),
            None => words.card_sun_down(),
        }
    }

    /// A bearing to a tenth of a degree.
    fn tenths(&self, angle: Angle) -> String {
        let degrees = (angle.compass_degrees() * 10.0).round().rem_euclid(3600.0) / 10.0;
        self.teller.words.figures(&format!("{degrees:.1}°"))
    }

    /// A pitch with its way; nothing where it is none.
    fn pitch(&self) -> String {
        let (words, pitch) = (self.teller.words, self.measured.standing.pose.attitude.pitch);
        match (pitch.degrees() * 10.0).round() {
            0.0 => words.level(),
            tenths if tenths > 0.0 => words.up(&self.teller.degrees(pitch)),
            _ => words.down(&self.teller.degrees(pitch)),
        }
    }

    fn settings(&self) -> Vec<Setting> {
        let (words, teller, standing) = (self.teller.words, &self.teller, &self.measured.standing);
        let setting = |value: String, label: String| Setting { value: value.into(), label: label.into() };
        let held = match standing.orientation {
            Orientation::Portrait => words.held_portrait(),
            Orientation::Landscape => words.held_landscape(),
        };
        let sharp = &self.measured.account.depth_of_field;
        let near = teller.length(sharp.near_m, usize::from(sharp.near_m < 20.0));
        let reach = if sharp.far_m.is_finite() {
            words.sharp(&near, &teller.length(sharp.far_m, 0))
        } else {
            words.sharp_from(&near)
        };
        let roll = standing.pose.attitude.roll;
        let pitch_label = match (roll.degrees() * 10.0).round() {
            0.0 => words.pitch_roll_level(),
            tenths if tenths > 0.0 => words.pitch_roll(&words.clockwise(&teller.degrees(roll))),
            _ => words.pitch_roll(&words.anticlockwise(&teller.degrees(roll))),
        };
        let focal_mm = standing.camera.focal_mm;
        let height = standing.height_m().map_or_else(
            || setting(teller.length(standing.pose.eye.z, 2), words.above_zero()),
            |height_m| setting(teller.length(height_m, 2), words.above_feet()),
        );
        let focus = if standing.focus_m.is_finite() {
            teller.length(standing.focus_m, usize::from(standing.focus_m < 20.0))
        } else {
            words.infinity()
        };
        let heading = standing.pose.attitude.heading;
        let bearing = match self.compass {
            Some(compass) => {
                let truly = words.bearing_true(&self.tenths(heading));
                setting(self.tenths(compass.magnetic(heading)), words.by_compass(&truly))
            }
            None => setting(self.tenths(heading), words.bearing_no_compass()),
        };
        let mut settings = vec![
            setting(words.figures(&format!("{focal_mm:.0} mm")), words.set_lens(&standing.lens.name, &held)),
            setting(words.figures(&format!("f/{}", standing.f_number)), reach),
            setting(self.pitch(), pitch_label),
            height,
            setting(focus, words.focus_on(&teller.subject())),
            bearing,
        ];
        if let Some(moves) = self.moves() {
            settings.push(setting(moves, words.rise_shift()));
        }
        settings
    }

    /// How far the lens is moved, if it is.
    fn moves(&self) -> Option<String> {
        let (words, camera) = (self.teller.words, &self.measured.standing.camera);
        let length = |moved_mm: f64| words.figures(&format!("{:.1} mm", moved_mm.abs()));
        let rise = (camera.rise_mm.abs() >= 0.05).then(|| match camera.rise_mm > 0.0 {
            true => words.rise_up(&length(camera.rise_mm)),
            false => words.rise_down(&length(camera.rise_mm)),
        });
        let shift = (camera.shift_mm.abs() >= 0.05).then(|| match camera.shift_mm > 0.0 {
            true => words.shift_right(&length(camera.shift_mm)),
            false => words.shift_left(&length(camera.shift_mm)),
        });
        let moves: Vec<String> = rise.into_iter().chain(shift).collect();
        (!moves.is_empty()).then(|| moves.join(", "))
    }

    fn verdict(&self) -> String {
        let words = self.teller.words;
        match self.measured.verdict.faults.first() {
            None if self.measured.verdict.upright => words.verdict_upright(),
            None | Some(Fault::NoOutline(_)) => words.verdict_none(),
            Some(Fault::NothingSeen) => words.verdict_unseen(),
            Some(Fault::Hidden { .. }) => words.verdict_hidden(),
            Some(Fault::Cut { .. }) => words.verdict_cut(),
            Some(Fault::SubjectLeans { .. }) => words.verdict_leans(),
            Some(Fault::PictureLeans { block, .. }) => words.verdict_beside(&words.the(block)),
        }
    }

    fn leans(&self) -> String {
        let (words, account) = (self.teller.words, &self.measured.account);
        let converges = account.convergence.map(|convergence| {
            let angle = convergence.angle();
            let written = self.teller.degrees(angle);
            if angle.degrees() <= -0.05 { words.diverges(&written) } else { words.converges(&written) }
        });
        let lean =
            account.largest_lean.map(|lean| words.largest_lean(&self.teller.subject(), &self.teller.degrees(lean)));
        converges.into_iter().chain(lean).collect::<Vec<_>>().join(" ")
    }

    fn afterwards(&self) -> String {
        let words = self.teller.words;
        let frame = &self.measured.standing.camera.frame;
        match &self.measured.account.final_picture {
            Some(Ok(kept)) => {
                let mp = |megapixels: f64| words.figures(&format!("{megapixels:.1}"));
                let (left, all) = (mp(kept.megapixels()), mp(frame.megapixels()));
                let wanted = kept.camera.frame.width_mm / kept.camera.frame.height_mm;
                let aspect = ratio_words(wanted);
                match (kept.straightened, self.kept().is_some()) {
                    (false, false) => words.afterwards_nothing(),
                    (false, true) => words.afterwards_crop(&aspect, &left, &all),
                    (true, _) => words.afterwards_straighten(&aspect, &left, &all),
                }
            }
            Some(Err(StraightenFailure::SubjectCut { .. })) => words.afterwards_cut(),
            Some(Err(StraightenFailure::TooSteep)) => words.afterwards_steep(),
            Some(Err(StraightenFailure::ProportionDoesNotFit)) => words.afterwards_shape(),
            Some(Err(StraightenFailure::NotInFront)) | None => words.afterwards_behind(),
        }
    }

    /// The outline of what is kept of the picture.
    fn kept(&self) -> Option<Vec<(f64, f64)>> {
        let standing = &self.measured.standing;
        let kept = self.measured.account.final_picture.as_ref()?.as_ref().ok()?;
        let pose = Pose { attitude: kept.attitude, ..standing.pose };
        kept_outline((&standing.camera, &standing.pose), (&kept.camera, &pose))
    }

    fn style(&self) -> Style {
        Style { theme: Theme::Paper, sun: Some(self.survey.light(self.measured.sun)), ..Style::default() }
    }

    /// What the finder shows.
    fn finder(&self, progress: &Progress) -> Result<Picture, StillError> {
        let standing = &self.measured.standing;
        let mut camera = standing.camera;
        let aspect = (camera.frame.width_mm / camera.frame.height_mm).min(1.0);
        camera.frame = camera.frame.with_width_px((f64::from(PICTURE_PX) * aspect).round() as u32);
        let view = View { camera, pose: standing.pose, focus: None };
        let scene = Scene { model: &self.survey.model, sight: &self.survey.sight };
        render(&scene, &view, &self.style(), progress)
    }

    /// Where the letters of what lines up are in the picture; an edge outside it has none there.
    fn letters(&self, pairs: &[Alignment]) -> Vec<(char, (f64, f64))> {
        let standing = &self.measured.standing;
        let viewpoint = Viewpoint::new(&standing.camera, &standing.pose);
        let (across_px, down_px) =
            (f64::from(standing.camera.frame.width_px), f64::from(standing.camera.frame.height_px));
        let of = |(pair, letter): (&Alignment, char)| {
            let inside = |share: &f64| {
                let pixel = viewpoint.pixel_of(&pair.near.line.at(*share)).ok()?;
                let at = (pixel.x / across_px, pixel.y / down_px);
                ((0.04..=0.96).contains(&at.0) && (0.04..=0.96).contains(&at.1)).then_some(at)
            };
            [0.65, 0.45, 0.85, 0.25].iter().find_map(inside).map(|at| (letter, at))
        };
        pairs.iter().zip('A'..).filter_map(of).collect()
    }

    /// A pair of edges, looked at closely, with which way to step.
    fn lined_up(&self, pair: &Alignment, letter: char) -> Result<LinedUp, StillError> {
        let (words, teller) = (self.teller.words, &self.teller);
        let block = |index: usize| teller.block(&self.survey.model.site.blocks[index]);
        let edge = |landmark: &crate::handover::Landmark| match landmark.which {
            "left edge" => words.left_edge(&block(landmark.block)),
            "right edge" => words.right_edge(&block(landmark.block)),
            _ => words.nearest_edge(&block(landmark.block)),
        };
        // A step to the right moves what is near to the left against what is far.
        let (gap, hidden) = match pair.near.which {
            "right edge" => (words.gap_then(&words.step_left()), words.hidden_then(&words.step_right())),
            "left edge" => (words.gap_then(&words.step_right()), words.hidden_then(&words.step_left())),
            _ => (words.right_then(&words.step_left()), words.left_then(&words.step_right())),
        };
        let mut text = format!("{gap} {hidden}");
        if pair.off_m.abs() >= 0.02 {
            // They line up exactly beside the standpoint: from there it lies the other way.
            let far = teller.by_tape(pair.off_m.abs());
            text.push(' ');
            text.push_str(&if pair.off_m > 0.0 { words.then_left(&far) } else { words.then_right(&far) });
        }
        let picture = Arc::new(self.close_look(pair)?);
        let title = capital(&words.lines_up(&edge(&pair.near), &edge(&pair.far)));
        Ok(LinedUp { letter, picture, title: title.into(), text: text.into() })
    }

    fn close_look(&self, pair: &Alignment) -> Result<Picture, StillError> {
        let eye = self.measured.standing.pose.eye;
        // Where the lower of both ends still is: there they meet.
        let top_m = pair
            .near
            .line
            .top
            .z
            .min(eye.z + (pair.far.line.top.z - eye.z) * pair.near.distance_m / pair.far.distance_m);
        let middle_m = 0.5 * (top_m + pair.near.line.base.z);
        let attitude = Attitude {
            heading: pair.near.bearing,
            pitch: Angle::from_radians((middle_m - eye.z).atan2(pair.near.distance_m)),
            roll: Angle::ZERO,
        };
        let frame = Frame {
            width_mm: 36.0,
            height_mm: 24.0,
            width_px: CLOSE_PX,
            height_px: CLOSE_PX * 2 / 3,
            margins: Margins::USUAL,
        };
        let view = View { camera: Camera::plain(frame, CLOSE_MM), pose: Pose { eye, attitude }, focus: None };
        let scene = Scene { model: &self.survey.model, sight: &self.survey.sight };
        render(&scene, &view, &self.style(), &Progress::unwatched())
    }

    fn ticks(&self, pairs: &[Alignment]) -> Vec<String> {
        let (words, standing) = (self.teller.words, &self.measured.standing);
        let mut ticks = Vec::new();
        if self.measured.cautions.iter().any(|caution| caution.kind == CautionKind::Ask) {
            ticks.push(words.tick_permission());
        }
        let level = standing.pose.attitude.pitch.degrees().abs() < 0.05;
        ticks.push(if level { words.tick_level(&words.level()) } else { words.tick_pitch(&self.pitch()) });
        if !pairs.is_empty() {
            let letters: Vec<String> = pairs.iter().zip('A'..).map(|(_, letter)| letter.to_string()).collect();
            ticks.push(words.tick_lines_up(&letters.join(", ")));
        }
        if let Some(moves) = self.moves() {
            ticks.push(words.tick_rise(&moves));
        }
        if self.measured.account.whole_in_frame {
            ticks.push(words.tick_margins());
        }
        ticks.push(words.tick_focus());
        if standing.lens.to_mm.is_some() {
            ticks.push(words.tick_zoom(&words.figures(&format!("{:.0} mm", standing.camera.focal_mm))));
        }
        ticks
    }

    /// The stance, the whole subject and what stands between, with a line to each mark.
    fn plan(&self, marks: &[Mark]) -> Drawing {
        let survey = self.survey;
        let shapes = SiteShapes::of(&survey.model);
        let eye = self.measured.standing.pose.eye;
        let mut places = vec![(eye.x, eye.y)];
        places.extend(marks.iter().map(|mark| mark.at));
        if let Ok(subject) = &survey.subject {
            let shown = subject.blocks.iter().filter_map(|&block| shapes.blocks.get(block));
            places.extend(shown.flat_map(|shape| [shape.bounds.0, shape.bounds.1]));
        }
        let view = PlanView::around(places, PLAN_PT.0, PLAN_PT.1);
        // How far one may be off has arrows of its own.
        let measured = Measured { tolerance: None, ..self.measured.clone() };
        let units = self.teller.units;
        let water = self.teller.words.water();
        let request = PlanRequest {
            survey,
            shapes: &shapes,
            measured: Some(&measured),
            pins: &[],
            walks: &[],
            view,
            units,
            titled: false,
            labels: PlanLabels { water: &water, access: false },
        };
        let mut drawing = plan(&request);
        drawing.words = self.teller.words.stand_heading();
        let view = drawing.plan.unwrap_or(view);
        for mark in marks {
            let points = vec![view.point_of((eye.x, eye.y)), view.point_of(mark.at)];
            let centre = points[1];
            drawing.marks.push(DrawnMark::Line { points, pen: Role::Ink.dotted(1.2) });
            drawing.marks.push(DrawnMark::Circle { centre, radius_pt: 2.6, fill: Some(Role::Ink.full()), pen: None });
        }
        drawing
    }

    /// How far a mark is, and in which direction.
    fn mark_words(&self, mark: &Mark) -> (String, String) {
        let (words, teller) = (self.teller.words, &self.teller);
        let place = teller.block(&self.survey.model.site.blocks[mark.block]);
        let whole = |angle: Angle| format!("{:.0}°", angle.compass_degrees().round().rem_euclid(360.0));
        let bearing = match self.compass {
            Some(compass) => {
                let truly = words.bearing_true(&whole(mark.bearing));
                format!("{} {}", whole(compass.magnetic(mark.bearing)), words.by_compass(&truly))
            }
            None => words.bearing_true(&whole(mark.bearing)),
        };
        let distance = words.figures(&teller.units.drawn(mark.distance_m));
        (words.mark(&distance, &place, &mark.which), words.bears(&bearing))
    }

    /// Permissions and closed ground first, then the rest as they come.
    fn cautions(&self) -> Vec<String> {
        let (words, standing) = (self.teller.words, &self.measured.standing);
        let name = standing.footing.as_ref().and_then(|footing| footing.name.as_deref());
        let mut cautions = Vec::new();
        for caution in &self.measured.cautions {
            match caution.kind {
                CautionKind::Closed => cautions.insert(0, words.reason_closed()),
                CautionKind::Ask => {
                    let said =
                        name.map_or_else(|| words.permission_here(), |name| words.permission_needed(&capital(name)));
                    cautions.insert(0, format!("{said}."));
                }
                _ => cautions.extend(
                    self.teller
                        .warning(standing, caution)
                        .map(|text| format!("{}.", capital(text.trim_end_matches('.')))),
                ),
            }
        }
        cautions
    }

    fn footer(&self) -> String {
        let (words, day) = (self.teller.words, self.request.document.day);
        let compass = match self.compass {
            Some(compass) => {
                let model = words.compass_model(&compass.model_year.to_string(), &words.long_day(day));
                if compass.weak { format!("{model} {}", words.compass_weak()) } else { model }
            }
            None => words.compass_none(&words.long_day(day)),
        };
        format!("{compass} {}", words.geometry_only())
    }
}

/// A proportion in small whole numbers, such as 2:3; in hundredths where there are none.
fn ratio_words(ratio: f64) -> String {
    let near = |height: u32| {
        let width = (ratio * f64::from(height)).round();
        let off = (width / f64::from(height) / ratio - 1.0).abs();
        (off < 0.004 && width >= 1.0).then(|| format!("{width:.0}:{height}"))
    };
    (1..=16).find_map(near).unwrap_or_else(|| format!("{ratio:.2}:1"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn proportions_are_told_in_small_numbers() {
        for (ratio, words) in [(2.0 / 3.0, "2:3"), (1.0, "1:1"), (16.0 / 9.0, "16:9"), (0.8, "4:5"), (4.0 / 3.0, "4:3")]
        {
            assert_eq!(ratio_words(ratio), words);
        }
    }
}
