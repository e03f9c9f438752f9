//! Does the verdict hold if the subject is taller or shorter than the model says?
//!
//! A height that was counted or sighted is uncertain. The block whose height is most uncertain is made taller and shorter, up to
//! its standard uncertainty, with what it carries; the camera takes up the same stance before it, aimed anew as one aims at what
//! is really there; and by halving the height is found at which the verdict changes.

use crate::pose::WorldPoint;
use crate::site::{Block, Model, PlanPoint, Severity, Site, Stance, check_site};
use crate::stance::Standing;
use crate::survey::{MeasureSettings, Survey};
use crate::units::Units;
use crate::verdict::Verdict;

/// Into how many steps the uncertainty is cut before halving, so that a verdict that changes and changes back is noticed.
const STEPS: u32 = 4;
/// How exactly a height is found, in metres.
const EXACTLY_M: f64 = 0.01;
/// What stands no lower than this under the top stands on it.
const ON_TOP_M: f64 = 0.01;

/// What becomes of the verdict if the subject is as much taller or shorter as its height is uncertain.
#[derive(Clone, Debug, PartialEq)]
pub struct WhatIfTaller {
    /// The block whose height is uncertain, with its article.
    pub block: String,
    /// Its height in the model, in metres.
    pub height_m: f64,
    /// Its standard uncertainty, in metres.
    pub pm_m: f64,
    /// How its height was found, where the site says.
    pub found: Option<String>,
    /// The first change if it is taller; `None` where nothing changes.
    pub taller: Option<VerdictChange>,
    /// The first change if it is shorter.
    pub shorter: Option<VerdictChange>,
}

/// A change of the verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct VerdictChange {
    /// By how much the block is taller, or shorter, when the verdict changes, in metres.
    pub by_m: f64,
    /// What has changed, each in words that follow on "If it is taller,".
    pub what: Vec<String>,
}

impl WhatIfTaller {
    /// In sentences: "If the tower is 3.1 m taller, its top is cut off."
    pub fn sentences(&self, units: Units) -> Vec<String> {
        let changes = [(&self.taller, "taller"), (&self.shorter, "shorter")];
        let told: Vec<String> = changes
            .into_iter()
            .filter_map(|(change, way)| {
                let VerdictChange { by_m, what } = change.as_ref()?;
                Some(format!("If {} is {} {way}, {}.", self.block, units.length(*by_m, 1), what.join(" and ")))
            })
            .collect();
        if told.is_empty() {
            let pm = units.length(self.pm_m, 1);
            vec![format!("If {} is up to {pm} taller or shorter, the verdict stays the same.", self.block)]
        } else {
            told
        }
    }
}

/// What a verdict amounts to, so that two can be compared.
#[derive(Clone, Debug, PartialEq)]
struct Parts {
    stands: bool,
    seen: Option<bool>,
    whole: bool,
    subject: Option<bool>,
    picture: Option<bool>,
    /// Whether the frame ends below the top.
    top_cut: bool,
}

/// What becomes of a stance's verdict within the uncertainty of the subject's height; `None` where no part of the subject has an
/// uncertain height, or the stance cannot be taken up.
pub fn what_if_taller(survey: &Survey, stance: &Stance, settings: &MeasureSettings) -> Option<WhatIfTaller> {
    let site = &survey.model.site;
    let (index, pm_m) = survey
        .model
        .subject()
        .filter_map(|index| Some((index, site.blocks[index].height_pm_m.filter(|pm_m| *pm_m > 0.0)?)))
        .reduce(|most, other| if other.1 > most.1 { other } else { most })?;
    let home = Parts::of(survey, stance, settings).filter(|home| home.stands)?;
    let at = |by_m: f64| {
        let changed = survey.with_site(taller(survey, index, by_m)?);
        Parts::of(&changed, stance, settings)
    };
    let change = |sense: f64| {
        let changed = |by_m: f64| at(sense * by_m).filter(|parts| !parts.same_verdict(&home));
        let step_m = pm_m / f64::from(STEPS);
        let first = (1..=STEPS).find(|step| changed(f64::from(*step) * step_m).is_some())?;
        let (mut same_m, mut other_m) = (f64::from(first - 1) * step_m, f64::from(first) * step_m);
        while other_m - same_m > EXACTLY_M {
            let middle_m = 0.5 * (same_m + other_m);
            if changed(middle_m).is_some() { other_m = middle_m } else { same_m = middle_m }
        }
        let what = changed(other_m)?.changes_from(&home, settings);
        Some(VerdictChange { by_m: other_m, what })
    };
    let block = &site.blocks[index];
    Some(WhatIfTaller {
        block: block.with_article(),
        height_m: block.shape.height_m(),
        pm_m,
        found: block.height_from.clone(),
        taller: change(1.0),
        shorter: change(-1.0),
    })
}

impl Parts {
    /// The verdict on a stance of a site; `None` only where the site has no subject.
    fn of(survey: &Survey, stance: &Stance, settings: &MeasureSettings) -> Option<Self> {
        let subject = survey.subject.as_ref().ok()?;
        let Ok(standing) = survey.stand(stance) else {
            let none = Self { stands: false, seen: None, whole: false, subject: None, picture: None, top_cut: false };
            return Some(none);
        };
        let account = survey.appraise(&standing, &settings.measures);
        let verdict = Verdict::of(&survey.model, &account, &settings.measures);
        Some(Self {
            stands: true,
            seen: verdict.seen,
            whole: verdict.whole_in_frame,
            subject: verdict.subject_upright,
            picture: verdict.picture_upright,
            top_cut: subject.corners.iter().any(|corner| corner.z == subject.highest_m && is_above(&standing, corner)),
        })
    }

    fn same_verdict(&self, other: &Self) -> bool {
        let parts = |of: &Self| (of.stands, of.seen, of.whole, of.subject, of.picture);
        parts(self) == parts(other)
    }

    /// What is otherwise than it was, what matters most first.
    fn changes_from(&self, home: &Self, settings: &MeasureSettings) -> Vec<String> {
        if !self.stands {
            return vec!["the camera cannot be aimed so from there".into()];
        }
        let mut changes = Vec::new();
        let mut part = |now: Option<bool>, before: Option<bool>, lost: String, gained: &str| {
            if now != before {
                changes.push(if now == Some(true) { gained.to_owned() } else { lost });
            }
        };
        let enough = crate::wording::percent(settings.measures.seen_share);
        part(self.seen, home.seen, format!("less than {enough} of it is seen"), "enough of it is seen");
        let cut = if self.top_cut { "its top is cut off" } else { "the frame cuts it" };
        part(Some(self.whole), Some(home.whole), cut.into(), "the frame holds all of it");
        part(self.subject, home.subject, "it is no longer upright".into(), "it is upright");
        let picture = "something else in the picture leans too much".into();
        part(self.picture, home.picture, picture, "nothing else in the picture leans too much");
        changes
    }
}

/// Whether a point of the world would be drawn above the frame.
fn is_above(standing: &Standing, point: &WorldPoint) -> bool {
    let drawn = standing.camera.picture_from_view(&standing.pose.view_of(point));
    drawn.is_some_and(|drawn| drawn.y > 0.5 * standing.camera.frame.height_mm)
}

/// The site with one block so much taller, and with what it carries moved along; `None` where no such site may be.
fn taller(survey: &Survey, index: usize, by_m: f64) -> Option<Site> {
    let mut site = survey.model.site.clone();
    for (other, up_m) in carried(&survey.model, index, by_m) {
        let Block { lift_m, base_m, .. } = &mut site.blocks[other];
        match base_m {
            Some(base_m) => *base_m += up_m,
            None => *lift_m = (*lift_m + up_m).max(0.0),
        }
    }
    let block = &mut site.blocks[index];
    block.shape = block.shape.with_height_m(block.shape.height_m() + by_m);
    check_site(&site).iter().all(|finding| finding.severity != Severity::Error).then_some(site)
}

/// The block at another height, and after it every block that it carries, moved along, to the millimetre; each with its number.
pub fn at_height(model: &Model, index: usize, height_m: f64) -> Vec<(usize, Block)> {
    let Some(block) = model.site.blocks.get(index) else { return Vec::new() };
    let to_millimetre = |metres: f64| (metres * 1000.0).round() / 1000.0;
    let moved = carried(model, index, height_m - block.shape.height_m()).into_iter().map(|(other, up_m)| {
        let block = model.site.blocks[other].clone();
        let moved = match block.base_m {
            Some(base_m) => Block { base_m: Some(to_millimetre(base_m + up_m)), ..block },
            None => Block { lift_m: to_millimetre(block.lift_m + up_m).max(0.0), ..block },
        };
        (other, moved)
    });
    let own = Block { shape: block.shape.with_height_m(height_m), ..block.clone() };
    std::iter::once((index, own)).chain(moved).collect()
}

/// By how much other blocks go up if one becomes so much taller: what stands on it by all of it, what hangs on its walls by a
/// share, as high as it hangs. Only blocks with a `lift_m` or `base_m` of their own, whose middle is over the block, are carried.
pub fn carried(model: &Model, index: usize, by_m: f64) -> Vec<(usize, f64)> {
    let (low, high) = model.solids[index].bounds();
    let over = |(x, y): PlanPoint| (low.x..=high.x).contains(&x) && (low.y..=high.y).contains(&y);
    let hung = |block: &Block| block.lift_m > 0.0 || block.base_m.is_some();
    let blocks = model.site.blocks.iter().enumerate();
    blocks
        .filter(|(other, block)| *other != index && hung(block) && over(block.at))
        .filter_map(|(other, _)| {
            let foot_m = model.solids[other].bounds().0.z;
            let share = if foot_m >= high.z - ON_TOP_M { 1.0 } else { (foot_m - low.z) / (high.z - low.z) };
            (share > 0.0).then(|| (other, by_m * share.min(1.0)))
        })
        .collect()
}
