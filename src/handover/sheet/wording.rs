//! Which sentences does a standpoint deserve on a sheet: what it comes to, why, and why not?

use crate::cautions::CautionKind;
use crate::handover::told::Teller;
use crate::light::LightSide;
use crate::record::PRINT_PPI;
use crate::site::Access;
use crate::survey::Measured;
use crate::units::Units;
use crate::verdict::Fault;
use crate::wording::{capital, is_all, percent};

use super::choose::{STEEP_DEG, is_crossed};
use super::content::Figures;

/// A camera that is tilted less than this is level.
const LEVEL_DEG: f64 = 0.05;
/// A picture with less than this share of the recommended one's pixels is smaller.
const SMALLER: f64 = 0.6;
/// Two standpoints whose distances differ by less than this share are as far away.
const AS_FAR: f64 = 0.15;
/// A camera that is so much higher looks from higher up.
const HIGHER_M: f64 = 2.0;

/// What is delivered of a stance.
pub(super) enum Outcome {
    /// The subject straight, whole and seen.
    Straight,
    /// Straight and whole, with a part hidden.
    Hidden,
    /// The frame cuts it.
    Cut,
    /// It leans and cannot be set straight.
    Leans,
}

impl Outcome {
    pub(super) fn of(measured: &Measured) -> Self {
        let kept = measured.account.final_picture.as_ref().is_some_and(Result::is_ok);
        match (kept, measured.verdict.seen) {
            (true, Some(false)) => Self::Hidden,
            (true, _) => Self::Straight,
            (false, _) if !measured.account.whole_in_frame => Self::Cut,
            (false, _) => Self::Leans,
        }
    }
}

/// What a standpoint comes to.
pub(super) fn headline(teller: &Teller<'_>, measured: &Measured) -> String {
    let (from, subject) = (teller.from(&measured.standing), teller.subject());
    let words = teller.words;
    capital(&match Outcome::of(measured) {
        Outcome::Straight => words.headline_straight(&from, &subject),
        Outcome::Hidden => words.headline_hidden(&from, &subject),
        Outcome::Cut => words.headline_cut(&from, &subject),
        Outcome::Leans => words.headline_leans(&from, &subject),
    })
}

/// Why that is so, in a sentence.
pub(super) fn why(teller: &Teller<'_>, measured: &Measured) -> String {
    let words = teller.words;
    match Outcome::of(measured) {
        Outcome::Hidden => words.why_hidden(),
        Outcome::Cut => words.why_cut(),
        Outcome::Leans => words.why_leans(),
        Outcome::Straight if is_level(measured) => words.why_level(),
        Outcome::Straight if is_straightened(measured) => words.why_straightened(),
        Outcome::Straight => words.why_room(),
    }
}

fn is_level(measured: &Measured) -> bool {
    measured.standing.pose.attitude.pitch.degrees().abs() < LEVEL_DEG
}

fn is_straightened(measured: &Measured) -> bool {
    matches!(&measured.account.final_picture, Some(Ok(picture)) if picture.straightened)
}

/// How the alternative differs, and what it needs.
pub(super) fn second(teller: &Teller<'_>, measured: &Measured, chosen: &Measured) -> String {
    let needs = teller.needs(measured);
    let mut text = told(teller, measured, chosen, false);
    if !needs.is_empty() {
        text.push(' ');
        text.push_str(&teller.words.needs(&listed(teller, &needs)));
    }
    match teller.away(measured) {
        Some(away) => format!("{}. {text}", capital(&away)),
        None => text,
    }
}

/// Things in a row: "a, b and c".
pub(super) fn listed(teller: &Teller<'_>, things: &[String]) -> String {
    match things.split_last() {
        Some((last, rest)) if !rest.is_empty() => teller.words.both(&rest.join(", "), last),
        Some((last, _)) => last.clone(),
        None => String::new(),
    }
}

/// When the alternative applies.
pub(super) fn second_heading(teller: &Teller<'_>, chosen: &Measured, second: &Measured) -> String {
    let words = teller.words;
    let asks =
        |measured: &Measured| measured.standing.footing.as_ref().is_some_and(|footing| footing.access != Access::Open);
    let (far, near) = (chosen.account.distance_m, second.account.distance_m);
    match (far, near) {
        _ if asks(chosen) && !asks(second) => words.second_free(),
        _ if second.standing.pose.eye.z > chosen.standing.pose.eye.z + HIGHER_M => words.second_higher(),
        (Some(chosen_m), Some(second_m)) if second_m < chosen_m * (1.0 - AS_FAR) => words.second_nearer(),
        (Some(chosen_m), Some(second_m)) if second_m > chosen_m * (1.0 + AS_FAR) => words.second_farther(),
        _ => words.second_other(),
    }
}

/// Why a standpoint is not the recommended one, in two short sentences at most.
pub(super) fn reasons(teller: &Teller<'_>, measured: &Measured, chosen: &Measured) -> String {
    told(teller, measured, chosen, true)
}

/// What tells a standpoint from the recommended one; what it needs as well, where that is not said elsewhere.
fn told(teller: &Teller<'_>, measured: &Measured, chosen: &Measured, with_needs: bool) -> String {
    let words = teller.words;
    let account = &measured.account;
    let has = |kind: CautionKind| measured.cautions.iter().any(|caution| caution.kind == kind);
    let mut reasons = Vec::new();
    if has(CautionKind::Closed) {
        reasons.push(words.reason_closed());
    }
    for fault in &measured.verdict.faults {
        match fault {
            Fault::NoOutline(_) => reasons.push(words.reason_behind()),
            Fault::NothingSeen => reasons.push(words.reason_unseen()),
            Fault::Hidden { stretches_m, rise_m, .. } => reasons.push(match stretches_m.as_slice() {
                [(from_m, _)] if *from_m == 0.0 => words.reason_base_hidden(),
                [(_, to_m)] if to_m == rise_m => words.reason_top_hidden(),
                _ => words.reason_part_hidden(),
            }),
            Fault::Cut { .. } => reasons.push(words.reason_cut()),
            Fault::SubjectLeans { .. } | Fault::PictureLeans { .. } => {}
        }
    }
    if matches!(Outcome::of(measured), Outcome::Leans) {
        reasons.push(words.reason_leans());
    }
    if is_crossed(measured) && measured.verdict.seen == Some(true) {
        reasons.push(words.reason_in_front());
    }
    if account.top_elevation.is_some_and(|angle| angle.degrees() > STEEP_DEG) {
        reasons.push(words.reason_steep());
    }
    if with_needs && has(CautionKind::Ask) {
        reasons.push(words.reason_permission());
    }
    let site = measured.cautions.iter().find(|caution| caution.kind == CautionKind::Site);
    reasons.extend(site.map(|caution| format!("{}.", capital(caution.text.trim_end_matches('.')))));
    if with_needs && has(CautionKind::Flying) {
        reasons.push(words.reason_lift());
    } else if with_needs && has(CautionKind::Ladder) {
        reasons.push(words.reason_ladder());
    }
    let camera = &measured.standing.camera;
    if with_needs && (camera.rise_mm != 0.0 || camera.shift_mm != 0.0) {
        reasons.push(words.reason_lens());
    }
    if megapixels(measured) < SMALLER * megapixels(chosen) && account.final_picture.as_ref().is_some_and(Result::is_ok)
    {
        reasons.push(words.reason_small());
    }
    if reasons.is_empty() {
        reasons.push(match (account.distance_m, chosen.account.distance_m) {
            (Some(here_m), Some(there_m)) if here_m < there_m * (1.0 - AS_FAR) => {
                words.reason_nearer(&teller.roundly(there_m - here_m))
            }
            (Some(here_m), Some(there_m)) if here_m > there_m * (1.0 + AS_FAR) => {
                words.reason_farther(&teller.roundly(here_m - there_m))
            }
            _ => words.reason_alike(),
        });
    }
    reasons.truncate(2);
    reasons.join(" ")
}

fn megapixels(measured: &Measured) -> f64 {
    match &measured.account.final_picture {
        Some(Ok(picture)) => picture.megapixels(),
        _ => measured.standing.camera.frame.megapixels(),
    }
}

/// What is said of the picture as it is taken.
pub(super) fn taken(teller: &Teller<'_>, measured: &Measured) -> String {
    let pitch_deg = measured.standing.pose.attitude.pitch.degrees();
    match () {
        () if is_level(measured) => teller.words.taken_level(),
        () if pitch_deg > 0.0 => teller.words.taken_up(),
        () => teller.words.taken_down(),
    }
}

/// What is said of the picture as it is delivered: how it stands, and how large it may be printed.
pub(super) fn delivered(teller: &Teller<'_>, measured: &Measured, technical: bool) -> String {
    let words = teller.words;
    let Some(Ok(picture)) = &measured.account.final_picture else {
        return capital(&words.delivered_leans(&teller.subject()));
    };
    let (width_mm, height_mm) = picture.print_mm(PRINT_PPI);
    let mut text = words.delivered_straight(&teller.subject());
    text.push(' ');
    text.push_str(&words.print(&print_side(teller, width_mm), &print_side(teller, height_mm)));
    if technical {
        let all = measured.standing.camera.frame.megapixels();
        let mp = |megapixels: f64| words.figures(&format!("{megapixels:.1}"));
        text.push(' ');
        text.push_str(&words.megapixels(&mp(picture.megapixels()), &mp(all)));
    }
    text
}

/// A side of a print, in whole centimetres or inches.
fn print_side(teller: &Teller<'_>, side_mm: f64) -> String {
    match teller.units {
        Units::M => format!("{:.0} cm", (side_mm / 10.0).floor()),
        Units::Ft => format!("{:.0} in", (side_mm / 25.4).floor()),
    }
}

/// From which side the light comes.
pub(super) fn light(teller: &Teller<'_>, side: Option<LightSide>) -> String {
    match side {
        Some(LightSide::Front) => teller.words.light_front(),
        Some(LightSide::Left) => teller.words.light_left(),
        Some(LightSide::Right) => teller.words.light_right(),
        Some(LightSide::Back) => teller.words.light_back(),
        None => teller.words.light_none(),
    }
}

/// The figures of standpoints side by side.
pub(super) fn figures(teller: &Teller<'_>, standpoints: &[(String, &Measured)]) -> Figures {
    let words = teller.words;
    let none = || "–".to_owned();
    let degrees = |angle: Option<crate::angle::Angle>| angle.map_or_else(none, |angle| teller.degrees(angle));
    let row = |(index, (label, measured)): (usize, &(String, &Measured))| {
        let account = &measured.account;
        let kept = account.final_picture.as_ref().and_then(|picture| picture.as_ref().ok());
        let detail = kept.and_then(|kept| kept.lowest_detail);
        let seen =
            account.visible_share.map_or_else(none, |share| if is_all(share) { percent(1.0) } else { percent(share) });
        let cells = [
            account.distance_m.map_or_else(none, |distance_m| teller.roundly(distance_m)),
            words.figures(&format!("{:.0} mm", measured.standing.camera.focal_mm)),
            account.top_elevation.map_or_else(none, |angle| words.figures(&format!("{:.0}°", angle.degrees()))),
            degrees(account.convergence.map(|convergence| convergence.angle())),
            degrees(account.largest_lean),
            seen,
            detail.map_or_else(none, |detail| words.figures(&teller.units.detail(detail.px_per_m))),
            kept.map_or_else(none, |kept| words.figures(&format!("{:.1} MP", kept.megapixels()))),
        ];
        (index + 1, label.into(), cells.map(Into::into).to_vec())
    };
    let columns = [
        words.figure_place(),
        words.figure_distance(),
        words.figure_lens(),
        words.figure_looking(),
        words.figure_converges(),
        words.figure_lean(),
        words.figure_seen(),
        words.figure_detail(),
        words.figure_kept(),
    ];
    Figures {
        columns: columns.map(|column| capital(&column).into()).to_vec(),
        rows: standpoints.iter().enumerate().map(row).collect(),
    }
}
