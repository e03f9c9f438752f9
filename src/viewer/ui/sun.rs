//! Where does the sun stand? A dial of the sky seen from below it: the sun is set by dragging it.

use bevy_egui::egui::{self, Align2, CursorIcon, Pos2, Sense, Stroke, Ui, Vec2};

use crate::site::Sun;

use super::context::PanelContext;
use super::day::day_ui;
use super::figures::number_in;
use super::lens_scale::{ScaleInput, steps, tell, value_line};
use super::style::button;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, CameraAction};

/// The dial and its two numbers.
pub(super) fn sun_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    day_ui(ui, panel, actions);
    ui.separator();
    ui.set_max_width(style.px(220.0));
    ui.label(style.title("Sun"));
    let sun = panel.desk.survey().light(panel.sun());
    let shown = panel.sun().is_some();
    if !shown {
        ui.label(style.note(
            "Nobody has said where the sun stands. The light is a default: from in front of the subject, 45° to its side.",
        ));
    }
    let (rect, response) = ui.allocate_exact_size(Vec2::splat(style.px(160.0)), Sense::click_and_drag());
    let painter = ui.painter();
    let middle = rect.center();
    let radius = 0.5 * rect.width() - style.px(14.0);
    painter.circle(middle, radius, style.well(), style.hairline());
    for altitude in [30.0_f32, 60.0] {
        painter.circle_stroke(middle, radius * (1.0 - altitude / 90.0), style.hairline());
    }
    for (turn, word) in [(0.0_f32, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W")] {
        let way = Vec2::new(turn.to_radians().sin(), -turn.to_radians().cos());
        painter.line_segment(
            [middle + way * (radius - style.px(4.0)), middle + way * radius],
            Stroke::new(1.0, style.soft()),
        );
        painter.text(
            middle + way * (radius + style.px(7.0)),
            Align2::CENTER_CENTER,
            word,
            style.figure(),
            style.soft(),
        );
    }
    // Where the camera looks.
    let heading = panel.standing().pose.attitude.heading;
    let (sine, cosine) = heading.sin_cos();
    let way = Vec2::new(screen(sine), -screen(cosine));
    painter.line_segment([middle, middle + way * radius], Stroke::new(1.0, style.soft()));
    let high = screen((90.0 - sun.altitude_deg.clamp(0.0, 90.0)) / 90.0);
    let azimuth = screen(sun.azimuth_deg.to_radians());
    let place = middle + Vec2::new(azimuth.sin(), -azimuth.cos()) * radius * high;
    let ink = if shown { style.ink() } else { style.soft() };
    painter.circle(place, style.px(6.0), style.panel(), Stroke::new(style.px(2.0), ink));
    for ray in 0..8_u8 {
        let turn = f32::from(ray) * std::f32::consts::TAU / 8.0;
        let way = Vec2::new(turn.cos(), turn.sin());
        painter.line_segment([place + way * style.px(8.0), place + way * style.px(10.5)], Stroke::new(1.2, ink));
    }
    if let Some(hand) = response.interact_pointer_pos().filter(|_| response.clicked() || response.dragged()) {
        actions.push(CameraAction::Sun(Some(sun_at(middle, radius, hand))).into());
    }
    super::style::focus_ring(ui, style, &response, rect);
    let set = |azimuth_deg: f64, altitude_deg: f64| {
        CameraAction::Sun(Some(Sun {
            azimuth_deg: azimuth_deg.rem_euclid(360.0),
            altitude_deg: altitude_deg.clamp(-90.0, 90.0),
        }))
        .into()
    };
    match steps(ui, &response) {
        Some(ScaleInput::Stops(count)) => actions.push(set(sun.azimuth_deg + 5.0 * f64::from(count), sun.altitude_deg)),
        Some(ScaleInput::Fine(count)) => actions.push(set(sun.azimuth_deg, sun.altitude_deg + f64::from(count))),
        _ => {}
    }
    let words = format!("at {:.0}°, {:.0}° high", sun.azimuth_deg, sun.altitude_deg);
    tell(ui, &response, "sun", &words, sun.azimuth_deg);
    response.on_hover_cursor(CursorIcon::Crosshair);
    let azimuth = format!("{:.1}°", sun.azimuth_deg);
    let typed = value_line(ui, style, ui.id().with("azimuth"), "azimuth", "Azimuth from true north", &azimuth);
    if let Some(ScaleInput::Typed(text)) = typed
        && let Some(value) = number_in(&text)
    {
        actions.push(set(value, sun.altitude_deg));
    }
    let altitude = format!("{:.1}°", sun.altitude_deg);
    let typed = value_line(ui, style, ui.id().with("altitude"), "altitude", "Altitude above the horizon", &altitude);
    if let Some(ScaleInput::Typed(text)) = typed
        && let Some(value) = number_in(&text)
    {
        actions.push(set(sun.azimuth_deg, value));
    }
    if button(ui, style, "Use the site's", style.px(140.0)).clicked() {
        actions.push(CameraAction::Sun(None).into());
    }
    ui.label(
        egui::RichText::new("Never look at the sun through an optical finder").font(style.caption()).color(style.ask()),
    );
}

/// The sun at a place of the dial: its rim is the horizon, its middle overhead.
fn sun_at(middle: Pos2, radius: f32, hand: Pos2) -> Sun {
    let off = hand - middle;
    let azimuth_deg = f64::from(off.x).atan2(-f64::from(off.y)).to_degrees().rem_euclid(360.0);
    let share = f64::from((off.length() / radius).min(1.0));
    Sun { azimuth_deg: azimuth_deg.round(), altitude_deg: (90.0 * (1.0 - share)).round() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rim_is_the_horizon_and_east_is_right() {
        let middle = Pos2::new(100.0, 100.0);
        let east = sun_at(middle, 50.0, Pos2::new(150.0, 100.0));
        assert_eq!((east.azimuth_deg, east.altitude_deg), (90.0, 0.0));
        let high_south = sun_at(middle, 50.0, Pos2::new(100.0, 125.0));
        assert_eq!((high_south.azimuth_deg, high_south.altitude_deg), (180.0, 45.0));
    }
}
