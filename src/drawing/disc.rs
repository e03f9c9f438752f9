//! How is a numbered standpoint marked, on plans and pages alike?

use crate::still::Weight;

use super::{Align, CanvasPoint, Mark, Role, Text};

/// The disc of a standpoint: the first, which is recommended, is filled, the second has a strong ring, all others a thin one.
pub fn disc(number: usize, centre: CanvasPoint, radius_pt: f64) -> [Mark; 2] {
    let (fill, pen, role) = match number {
        1 => (Role::Ink, Role::Ink.pen(0.8), Role::Panel),
        2 => (Role::Panel, Role::Ink.pen(1.5), Role::Ink),
        _ => (Role::Panel, Role::Soft.pen(0.8), Role::Soft),
    };
    let text = Text {
        text: number.to_string(),
        at: centre,
        align: Align::Middle,
        size_pt: 1.3 * radius_pt,
        weight: Weight::Semibold,
        role,
        plate: false,
    };
    [Mark::Circle { centre, radius_pt, fill: Some(fill.full()), pen: Some(pen) }, Mark::Text(text)]
}
