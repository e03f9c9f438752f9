//! How does a sequence read before its frames are rendered?

use std::sync::Arc;

use crate::drawing::{Align, CanvasPoint, Dash, Drawing, Mark, Pen, Role, Text, Tint};
use crate::wording;

use super::document::{Document, DocumentBlock, Fact};
use super::sequence::SequenceFrame;

/// The chart's canvas.
const CHART_PT: (f64, f64) = (560.0, 110.0);
/// The room about the chart's line, across and down.
const MARGIN_PT: (f64, f64) = (10.0, 20.0);

/// A page about a sequence: its ends in figures, and the convergence of every frame as a chart.
pub(super) fn sequence_page(frames: &[SequenceFrame]) -> Document {
    let footer =
        format!("{} numbered frames, an animation, and a table with the figures of every frame.", frames.len());
    page_of_frames("Sequence", frames, footer)
}

/// The same about a film.
pub(super) fn film_page(frames: &[SequenceFrame]) -> Document {
    page_of_frames("Film", frames, "One file, with a rest at each stance.".into())
}

fn page_of_frames(name: &'static str, frames: &[SequenceFrame], footer: String) -> Document {
    let ends = [("start", frames.first()), ("end", frames.last())];
    let facts = ends.into_iter().filter_map(|(label, frame)| Some(end(label, frame?))).collect();
    Document {
        title: format!("{name}: {} frames", frames.len()).into(),
        subtitle: "Convergence from frame to frame".into(),
        blocks: vec![
            DocumentBlock::Facts(facts),
            DocumentBlock::Illustration(
                Arc::new(chart(frames)),
                format!("convergence over {} frames", frames.len()).into(),
            ),
        ],
        footer: footer.into(),
    }
}

fn convergence_deg(frame: &SequenceFrame) -> Option<f64> {
    frame.account.convergence.map(|convergence| convergence.angle().degrees())
}

fn end(label: &str, frame: &SequenceFrame) -> Fact {
    let convergence = convergence_deg(frame).map_or_else(|| "not in front".into(), wording::convergence);
    let focal_mm = (frame.camera.focal_mm * 10.0).round() / 10.0;
    let pitch = wording::degrees(frame.pose.attitude.pitch.degrees());
    Fact::noted(label, convergence, format!("{focal_mm} mm, pitch {pitch}"))
}

/// The convergence of every frame that has one, over a line at 0°.
fn chart(frames: &[SequenceFrame]) -> Drawing {
    let (width_pt, height_pt) = CHART_PT;
    let values_deg: Vec<f64> = frames.iter().filter_map(convergence_deg).collect();
    let most = values_deg.iter().fold(0.1_f64, |most, value| most.max(value.abs()));
    let least = values_deg.iter().fold(0.0_f64, |least, value| least.min(*value));
    let last = values_deg.len().saturating_sub(1).max(1) as f64;
    let at = |index: usize, value_deg: f64| -> CanvasPoint {
        let across = index as f64 / last * (width_pt - 2.0 * MARGIN_PT.0);
        let up = (value_deg - least) / (most - least) * (height_pt - 2.0 * MARGIN_PT.1);
        (MARGIN_PT.0 + across, height_pt - MARGIN_PT.1 - up)
    };
    let line = |points, role, width_pt| Mark::Line { points, pen: Pen { role, width_pt, dash: Dash::Solid } };
    let ground = vec![(0.0, 0.0), (0.0, height_pt), (width_pt, height_pt), (width_pt, 0.0)];
    let (_, zero) = at(0, 0.0);
    let mut marks = vec![
        Mark::Area { rings: vec![ground], fill: Some(Tint { role: Role::Well, opacity: 1.0 }), pen: None },
        line(vec![(MARGIN_PT.0, zero), (width_pt - MARGIN_PT.0, zero)], Role::Line, 0.8),
    ];
    if values_deg.len() > 1 {
        let points = values_deg.iter().enumerate().map(|(index, value_deg)| at(index, *value_deg)).collect();
        marks.push(line(points, Role::Ink, 1.2));
    }
    let caption = "convergence, frame by frame";
    marks.push(Mark::Text(Text::caption(caption, (MARGIN_PT.0, 9.0), Align::Start, Role::Soft)));
    let words = format!("convergence over {} frames", frames.len());
    Drawing { width_pt, height_pt, marks, plan: None, words }
}
