//! What may hurt, or needs leave?
//!
//! The program advises on geometry only; every caution defers to local law and to people licensed for the work.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::angle::Angle;
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
    let mut cautions = Vec::new();
    let mut add = |kind, text: String| cautions.push(Caution { kind, text });
    let eye = &standing.pose.eye;
    let here = (eye.x, eye.y);
    let surface_m = standing.footing.as_ref().map_or_else(|| model.surface_m(here), |footing| footing.height_m);

    if let Some(footing) = &standing.footing {
        let drop_m = drop_beside_m(model, here, footing.height_m);
        if drop_m >= STEP_M {
            add(
                CautionKind::Fall,
                format!(
                    "A drop of {drop_m:.1} m within {BESIDE_M} m of the feet: use a rail or stay clear of the edge. Work rules \
                     commonly ask for protection from about 1.2 to 1.8 m (29 CFR 1910.28, 1926.501); local rules prevail."
                ),
            );
        }
        match footing.access {
            Access::Closed => add(
                CautionKind::Closed,
                format!("{} is closed. Do not stand there.", place_name(footing.name.as_deref(), "This ground")),
            ),
            Access::Ask => add(
                CautionKind::Ask,
                format!("{}: permission needed.", place_name(footing.name.as_deref(), "This ground")),
            ),
            Access::Open => {}
        }
        match footing.support {
            Support::Deck(deck) => {
                if let Some(text) = &model.decks[deck].caution {
                    add(CautionKind::Site, text.clone());
                }
            }
            Support::Water => {
                let depth_m = footing.height_m - model.site.terrain.height_m(here);
                add(
                    CautionKind::Water,
                    format!(
                        "The stance is on water {depth_m:.1} m deep. It needs a boat, a lifejacket and someone who knows the tide."
                    ),
                );
            }
            Support::Ground => {}
        }
    }
    if !matches!(standing.footing.as_ref().map(|footing| footing.support), Some(Support::Deck(_) | Support::Water)) {
        let ground = model.site.grounds.iter().rev().find(|ground| outline_holds(&ground.outline, here));
        if let Some(text) = ground.and_then(|ground| ground.caution.as_ref()) {
            add(CautionKind::Site, text.clone());
        }
        if water_near(model, here) {
            add(CautionKind::Water, "Open water within 5 m. Watch the edge, the tide and slippery ground.".into());
        }
    }
    let above_m = eye.z - surface_m;
    if above_m > LADDER_M {
        add(
            CautionKind::Flying,
            format!(
                "The camera is {above_m:.1} m above what lies below it: a mast, a hired platform or a drone. Aviation law \
                 (commonly at most 120 m above the surface), owners' leave and licensed operators apply."
            ),
        );
    } else if above_m > OVERHEAD_M {
        add(
            CautionKind::Ladder,
            format!(
                "The camera is {above_m:.1} m above the feet: a ladder or pole. Keep well clear of overhead lines; ladders only for \
                 short, low-risk work on firm ground (UK Work at Height Regulations 2005, Schedule 6); local rules prevail."
            ),
        );
    }
    for (index, block) in model.site.blocks.iter().enumerate() {
        if block.cautions.is_empty() {
            continue;
        }
        let (low, high) = model.solids[index].bounds();
        let outside = |value: f64, low: f64, high: f64| (low - value).max(value - high).max(0.0);
        if outside(eye.x, low.x, high.x).hypot(outside(eye.y, low.y, high.y)) <= NEAR_M {
            for text in &block.cautions {
                add(CautionKind::Site, format!("{}: {text}", block.name));
            }
        }
    }
    if let Some(sun) = sun.filter(|sun| sun.altitude_deg > -1.0) {
        let off_axis =
            Angle::from_radians(sun.direction().dot(&standing.pose.attitude.forward()).clamp(-1.0, 1.0).acos());
        let half_field = standing.camera.fields()[2].map_or(90.0, |field| 0.5 * field.degrees());
        if off_axis.degrees() < half_field + 5.0 {
            add(
                CautionKind::Sun,
                format!(
                    "The sun stands {:.0}° off the lens axis, in or near the frame: never look at it through an optical finder.",
                    off_axis.degrees()
                ),
            );
        }
    }
    let out_m = eye.x.hypot(eye.y);
    if out_m > 5000.0 {
        add(
            CautionKind::Reach,
            format!(
                "The stance is {:.1} km from the anchor; the site is taken as flat, and the Earth has dropped {:.1} m there.",
                out_m / 1000.0,
                out_m * out_m / (2.0 * 6_371_000.0)
            ),
        );
    }
    cautions.sort_by_key(|caution| caution.kind);
    cautions.dedup();
    cautions
}

fn place_name(name: Option<&str>, otherwise: &str) -> String {
    name.map_or_else(|| otherwise.into(), |name| format!("'{name}'"))
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
