//! What may hurt, or needs permission?
//!
//! The program advises on geometry only; every caution defers to local law and to people licensed for the work.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::light::sun_in_picture;
use crate::site::{Access, Model, PlanPoint, Sun, Support, outline_holds};
use crate::stance::Standing;

/// A drop smaller than this is a step.
const STEP_M: f64 = 0.6;
/// How far around the feet drops are looked for.
const BESIDE_M: f64 = 1.5;
/// Above this a camera is out of reach of the feet.
const OVERHEAD_M: f64 = 2.2;
/// Above this it needs a mast, a platform or an aircraft.
const LADDER_M: f64 = 6.0;
/// Blocks with cautions of their own are named within this distance.
const NEAR_M: f64 = 5.0;
/// So far from the anchor the Earth has dropped by 2 m, and the site no longer counts as flat.
const FLAT_M: f64 = 5000.0;
/// The Earth's mean radius.
const EARTH_RADIUS_M: f64 = 6_371_000.0;

/// What a caution is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CautionKind {
    /// A drop beside the stance.
    Fall,
    /// A ladder, pole or overhead lines.
    Ladder,
    /// A drone.
    Flying,
    /// Water and tide.
    Water,
    /// Closed ground.
    Closed,
    /// Permission needed.
    Ask,
    /// The sun in the finder.
    Sun,
    /// What the site's author wrote.
    Site,
    /// The reach of the flat model of the Earth.
    Reach,
}

/// Something to beware of at a stance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Caution {
    /// What it is about.
    pub kind: CautionKind,
    /// What to know, in plain words, with its measure.
    pub text: String,
}

/// Everything to beware of at a stance, the gravest kinds first.
pub fn cautions(model: &Model, standing: &Standing, sun: Option<Sun>) -> Vec<Caution> {
    let mut cautions: Vec<Caution> = [
        of_drop(model, standing),
        of_access(standing),
        of_footing(model, standing),
        of_ground(model, standing),
        of_shore(model, standing),
        of_height(model, standing),
        sun.and_then(|sun| of_sun(standing, sun)),
        of_distance(standing),
    ]
    .into_iter()
    .flatten()
    .collect();
    cautions.extend(of_blocks(model, standing));
    // Where several kinds come from the site, what one stands on comes before the blocks around.
    cautions.sort_by_key(|caution| caution.kind);
    cautions.dedup();
    cautions
}

impl Caution {
    fn new(kind: CautionKind, text: impl Into<String>) -> Self {
        Self { kind, text: text.into() }
    }
}

fn below_eye(standing: &Standing) -> PlanPoint {
    (standing.pose.eye.x, standing.pose.eye.y)
}

fn of_drop(model: &Model, standing: &Standing) -> Option<Caution> {
    let drop_m = drop_beside_m(model, below_eye(standing), standing.footing.as_ref()?.height_m);
    (drop_m >= STEP_M).then(|| {
        Caution::new(
            CautionKind::Fall,
            format!(
                "A drop of {drop_m:.1} m within {BESIDE_M} m of the feet: use a rail or stay clear of the edge. Work rules \
                 commonly ask for protection from about 1.2 to 1.8 m (29 CFR 1910.28, 1926.501); local rules prevail."
            ),
        )
    })
}

fn of_access(standing: &Standing) -> Option<Caution> {
    let footing = standing.footing.as_ref()?;
    let place = footing.name.as_ref().map_or_else(|| "This ground".to_owned(), |name| format!("'{name}'"));
    match footing.access {
        Access::Closed => Some(Caution::new(CautionKind::Closed, format!("{place} is closed. Do not stand there."))),
        Access::Ask => Some(Caution::new(CautionKind::Ask, format!("{place}: {}.", Access::Ask.words()))),
        Access::Open => None,
    }
}

/// What carries the feet: a deck may have a caution of its own, water has its depth.
fn of_footing(model: &Model, standing: &Standing) -> Option<Caution> {
    let footing = standing.footing.as_ref()?;
    match footing.support {
        Support::Deck(deck) => {
            model.decks[deck].caution.as_ref().map(|text| Caution::new(CautionKind::Site, text.as_str()))
        }
        Support::Water => {
            let depth_m = footing.height_m - model.site.terrain.height_m(below_eye(standing));
            Some(Caution::new(
                CautionKind::Water,
                format!(
                    "The stance is on water {depth_m:.1} m deep. It needs a boat, a lifejacket and someone who knows the tide."
                ),
            ))
        }
        Support::Ground => None,
    }
}

/// Whether the ground lies below the camera with neither a deck nor water between.
fn is_over_ground(standing: &Standing) -> bool {
    let support = standing.footing.as_ref().map(|footing| footing.support);
    !matches!(support, Some(Support::Deck(_) | Support::Water))
}

fn of_ground(model: &Model, standing: &Standing) -> Option<Caution> {
    if !is_over_ground(standing) {
        return None;
    }
    let here = below_eye(standing);
    let ground = model.site.grounds.iter().rev().find(|ground| outline_holds(&ground.outline, here))?;
    ground.caution.as_ref().map(|text| Caution::new(CautionKind::Site, text.as_str()))
}

fn of_shore(model: &Model, standing: &Standing) -> Option<Caution> {
    (is_over_ground(standing) && water_near(model, below_eye(standing))).then(|| {
        Caution::new(CautionKind::Water, "Open water within 5 m. Watch the edge, the tide and slippery ground.")
    })
}

/// What it takes to lift the camera so high.
fn of_height(model: &Model, standing: &Standing) -> Option<Caution> {
    let surface_m =
        standing.footing.as_ref().map_or_else(|| model.surface_m(below_eye(standing)), |footing| footing.height_m);
    let above_m = standing.pose.eye.z - surface_m;
    if above_m > LADDER_M {
        Some(Caution::new(
            CautionKind::Flying,
            format!(
                "The camera is {above_m:.1} m above what lies below it: a mast, a hired platform or a drone. Aviation law \
                 (commonly at most 120 m above the surface), owners' leave and licensed operators apply."
            ),
        ))
    } else if above_m > OVERHEAD_M {
        Some(Caution::new(
            CautionKind::Ladder,
            format!(
                "The camera is {above_m:.1} m above the feet: a ladder or pole. Keep well clear of overhead lines; ladders only for \
                 short, low-risk work on firm ground (UK Work at Height Regulations 2005, Schedule 6); local rules prevail."
            ),
        ))
    } else {
        None
    }
}

/// What the site's author wrote on the blocks nearby.
fn of_blocks(model: &Model, standing: &Standing) -> Vec<Caution> {
    let (x, y) = below_eye(standing);
    let beyond = |value: f64, low: f64, high: f64| (low - value).max(value - high).max(0.0);
    let mut cautions = Vec::new();
    for (block, solid) in model.site.blocks.iter().zip(&model.solids).filter(|(block, _)| !block.cautions.is_empty()) {
        let (low, high) = solid.bounds();
        if beyond(x, low.x, high.x).hypot(beyond(y, low.y, high.y)) <= NEAR_M {
            let texts = block.cautions.iter().map(|text| format!("{}: {text}", block.name));
            cautions.extend(texts.map(|text| Caution::new(CautionKind::Site, text)));
        }
    }
    cautions
}

fn of_sun(standing: &Standing, sun: Sun) -> Option<Caution> {
    if sun.altitude_deg <= -1.0 {
        return None;
    }
    let seen = sun_in_picture(standing, &sun.direction());
    seen.near_frame.then(|| {
        Caution::new(
            CautionKind::Sun,
            format!(
                "The sun stands {:.0}° off the lens axis, in or near the frame: never look at it through an optical finder.",
                seen.off_axis.degrees()
            ),
        )
    })
}

/// How far the Earth falls away below the flat model.
fn of_distance(standing: &Standing) -> Option<Caution> {
    let out_m = standing.pose.eye.x.hypot(standing.pose.eye.y);
    (out_m > FLAT_M).then(|| {
        Caution::new(
            CautionKind::Reach,
            format!(
                "The stance is {:.1} km from the anchor; the site is taken as flat, and the Earth has dropped {:.1} m there.",
                out_m / 1000.0,
                out_m * out_m / (2.0 * EARTH_RADIUS_M)
            ),
        )
    })
}

/// The deepest drop from a height to whatever lies within reach of a plan position.
pub fn drop_beside_m(model: &Model, (x, y): PlanPoint, height_m: f64) -> f64 {
    let mut deepest_m = 0.0_f64;
    for reach in [0.5, 1.0, BESIDE_M] {
        for step in 0..16 {
            let turn = std::f64::consts::TAU * f64::from(step) / 16.0;
            let place = (x + reach * turn.cos(), y + reach * turn.sin());
            let mut under_m = model.surface_m(place);
            for deck in &model.decks {
                // A deck that one could step on to from here catches the fall.
                if deck.height_m <= height_m + STEP_M && outline_holds(&deck.outline, place) {
                    under_m = under_m.max(deck.height_m);
                }
            }
            deepest_m = deepest_m.max(height_m - under_m);
        }
    }
    deepest_m
}

fn water_near(model: &Model, (x, y): PlanPoint) -> bool {
    let Some(water_m) = model.site.water_level_m else { return false };
    (0..16).any(|step| {
        let turn = std::f64::consts::TAU * f64::from(step) / 16.0;
        [2.0, NEAR_M]
            .iter()
            .any(|reach| model.site.terrain.height_m((x + reach * turn.cos(), y + reach * turn.sin())) < water_m)
    })
}
