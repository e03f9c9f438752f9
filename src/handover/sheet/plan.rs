//! Where do the standpoints lie? The plan with a numbered disc for each.

use crate::drawing::{Drawing, Pin, PlanLabels, PlanRequest, PlanView, SiteShapes, plan};
use crate::handover::words::PageWords;
use crate::survey::{Measured, Survey};
use crate::units::Units;

/// The plan's canvas.
const CANVAS_PT: (f64, f64) = (340.0, 280.0);

/// The plan of standpoints in the order of their numbers, their names given.
pub(super) fn sheet_plan(
    survey: &Survey,
    standpoints: &[(String, &Measured)],
    words: &PageWords,
    units: Units,
) -> Drawing {
    let shapes = SiteShapes::of(&survey.model);
    let pins: Vec<Pin> = (1_u32..)
        .zip(standpoints)
        .map(|(number, (label, measured))| Pin::of(label, &measured.standing, Some(number)))
        .collect();
    let mut places: Vec<_> = pins.iter().map(|pin| pin.at).collect();
    if let Ok(subject) = &survey.subject {
        let shown = subject.blocks.iter().filter_map(|&block| shapes.blocks.get(block));
        places.extend(shown.flat_map(|shape| [shape.bounds.0, shape.bounds.1]));
    }
    let view = PlanView::around(places, CANVAS_PT.0, CANVAS_PT.1);
    let water = words.water();
    let labels = PlanLabels { water: &water, access: false };
    let request = PlanRequest {
        survey,
        shapes: &shapes,
        measured: None,
        pins: &pins,
        walks: &[],
        view,
        units,
        titled: false,
        labels,
    };
    let named: Vec<String> = (1..).zip(standpoints).map(|(number, (label, _))| format!("{number} {label}")).collect();
    Drawing { words: format!("{}: {}", words.where_heading(), named.join("; ")), ..plan(&request) }
}
