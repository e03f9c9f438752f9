//! How does the camera stand and look? The card of instruments at the left.

use bevy_egui::egui::{self, Rect, ScrollArea, Ui, Vec2};

use crate::angle::Angle;
use crate::place::Declination;
use crate::site::{Access, Support};

use super::compass::CompassBand;
use super::context::PanelContext;
use super::figures::{heading, tenths};
use super::height_scale::{CAMERA_HEIGHTS_M, HeightMark, HeightScale};
use super::lens::{aims_ui, kit_ui, lens_scales_ui};
use super::level::{BubbleLevel, LevelInput};
use super::plan::decks_ui;
use super::presets;
use super::status::menu;
use super::style::{WindowStyle, button, text_button, within, word_with_mark};
use crate::viewer::state::desk::{Action, CameraAction, CameraMove};

/// The staff is never shorter than this, in units of the drawing.
const SHORTEST_STAFF: f32 = 105.0;
/// Nor longer.
const LONGEST_STAFF: f32 = 300.0;

/// Everything of the card, from top to bottom; what finds no room is reached by scrolling.
pub(super) fn camera_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    editing: &mut Option<presets::HeightsEditing>,
    actions: &mut Vec<Action>,
) {
    let style = panel.style;
    let height = ui.available_height();
    // What stands above and below the staff was measured when it was drawn last.
    let rest_id = ui.id().with("height without its scale");
    let rest: f32 = ui.data(|data| data.get_temp(rest_id)).unwrap_or(style.px(420.0));
    let staff_height = (height - rest).clamp(style.px(SHORTEST_STAFF), style.px(LONGEST_STAFF));
    ScrollArea::vertical().id_salt("camera 1").auto_shrink([false, false]).show(ui, |ui| {
        ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(2.0));
        let top = ui.cursor().top();
        kit_ui(ui, panel, actions);
        ui.add_space(style.px(6.0));
        lens_scales_ui(ui, panel, actions);
        ui.add_space(style.px(6.0));
        height_scale_ui(ui, panel, editing, staff_height, actions);
        ui.add_space(style.px(4.0));
        levels_ui(ui, panel, actions);
        heading_ui(ui, panel, actions);
        ui.add_space(style.px(5.0));
        ui.spacing_mut().item_spacing.y = style.px(4.0);
        aims_ui(ui, panel, actions);
        let rest_now = ui.cursor().top() - top - staff_height;
        if (rest_now - rest).abs() > 0.5 {
            ui.data_mut(|data| data.insert_temp(rest_id, rest_now));
            ui.ctx().request_repaint();
        }
    });
}

fn height_scale_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    editing: &mut Option<presets::HeightsEditing>,
    height: f32,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let presets: Vec<HeightMark<'_>> = panel
        .desk
        .settings()
        .presets
        .iter()
        .map(|preset| HeightMark { name: &preset.name, height_m: preset.height_m })
        .collect();
    let height_m = panel.height_m();
    let tolerance_m = panel.tolerance().map(|tolerance| [tolerance.down_m, tolerance.up_m]);
    let height_scale = HeightScale {
        name: ["camera height", "Camera above the feet"],
        height_m,
        limits_m: CAMERA_HEIGHTS_M,
        units: panel.units(),
        presets: &presets,
        tolerance_m,
    };
    actions.extend(height_scale.ui(ui, style, height).map(|set| CameraMove::Height(set).into()));
    if editing.is_none() {
        // In the corner that the named heights leave free.
        let foot = ui.min_rect().right_bottom() - Vec2::new(0.0, style.px(4.0));
        let corner = Rect::from_min_max(foot - Vec2::new(style.px(92.0), style.px(20.0)), foot);
        within(ui, "naming heights", corner, |ui| {
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if text_button(ui, style, "Name heights", "name heights").clicked() {
                    *editing = Some(presets::HeightsEditing::default());
                }
            });
        });
    }
    footing_ui(ui, panel, actions);
    presets::edit_ui(ui, panel, editing, actions);
}

/// What the feet stand on, and how high that is; it opens the list of what else they may stand on.
fn footing_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let Some(footing) = &panel.standing().footing else {
        ui.label(style.note("the eye's own height is given"));
        return;
    };
    let what = match footing.support {
        Support::Ground => footing.name.as_deref().unwrap_or("the ground"),
        Support::Water => "the water",
        Support::Deck(_) => footing.name.as_deref().unwrap_or("a deck"),
    };
    let access = match footing.access {
        Access::Open => String::new(),
        access => format!(", {}", access.words()),
    };
    let height = panel.units().length(footing.height_m, 1);
    let ink = match footing.access {
        Access::Open => style.soft(),
        Access::Ask | Access::Closed => style.ask(),
    };
    let words = format!("Feet on {what}, {height}{access}");
    let response = word_with_mark(ui, style, &words, &format!("{words}; stand elsewhere"), ink);
    menu(&response, |ui| decks_ui(ui, panel, actions));
}

fn levels_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let attitude = panel.standing().pose.attitude;
    let (pitch_deg, roll_deg) = (attitude.pitch.degrees(), attitude.roll.degrees());
    let tolerance = panel.tolerance();
    let way = |degrees: f64, more: &str, less: &str| {
        let written = tenths(degrees.abs());
        match degrees {
            degrees if degrees >= 0.05 => format!("{written} {more}"),
            degrees if degrees <= -0.05 => format!("{written} {less}"),
            _ => "level".into(),
        }
    };
    let pitch = BubbleLevel {
        name: "pitch",
        caption: "Pitch",
        angle_deg: pitch_deg,
        value: &way(pitch_deg, "up", "down"),
        sense: 1.0,
        most_deg: 90.0,
        tolerance_deg: tolerance.and_then(|tolerance| tolerance.pitch).map(Angle::degrees),
    };
    // Turned clockwise the left side is high.
    let roll = BubbleLevel {
        name: "roll",
        caption: "Roll",
        angle_deg: roll_deg,
        value: &way(roll_deg, "right", "left"),
        sense: -1.0,
        most_deg: 45.0,
        tolerance_deg: tolerance.and_then(|tolerance| tolerance.roll).map(Angle::degrees),
    };
    let mut asked = [None, None];
    ui.spacing_mut().item_spacing.x = style.px(14.0);
    ui.columns_const(|columns: &mut [Ui; 2]| {
        let [left, right] = columns;
        asked = [pitch.ui(left, style), roll.ui(right, style)];
    });
    ui.spacing_mut().item_spacing.x = style.px(6.0);
    if let Some(tilted) = asked[0] {
        actions.push(match tilted {
            LevelInput::To(degrees) => CameraMove::Pitch(Angle::from_degrees(degrees)).into(),
            LevelInput::Level => CameraMove::Pitch(Angle::ZERO).into(),
        });
    }
    if let Some(tilted) = asked[1] {
        actions.push(match tilted {
            LevelInput::To(degrees) => CameraMove::Roll(Angle::from_degrees(degrees)).into(),
            LevelInput::Level => CameraMove::Roll(Angle::ZERO).into(),
        });
    }
}

/// How far the needle is off, on which day, and how sure that is.
fn needle_words(compass: &Declination) -> String {
    let off = compass.east.degrees();
    let way = if off < 0.0 { "west" } else { "east" };
    let mut words = format!(
        "The heading counts from true north. On {} a compass points {} {way} of true north, ± {} (World Magnetic Model {}).",
        compass.day,
        tenths(off.abs()),
        tenths(compass.uncertainty.degrees()),
        compass.model_year
    );
    if compass.weak {
        words.push_str(" The field is weak here: do not trust the compass.");
    }
    words
}

fn heading_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let now = panel.standing().pose.attitude.heading;
    let sun = panel.sun().filter(|sun| sun.altitude_deg > 0.0).map(|sun| Angle::from_degrees(sun.azimuth_deg));
    let subject = panel.measured().account.outline.ok().map(|outline| outline.middle());
    let compass = panel.desk.compass();
    let value = match &compass {
        Some(Ok(compass)) => format!("{}, compass {}", heading(now), heading(compass.magnetic(now))),
        Some(Err(_)) | None => format!("{} true", heading(now)),
    };
    let needle = compass.map(|compass| match compass {
        Ok(compass) => needle_words(&compass),
        Err(error) => error,
    });
    let needle =
        needle.unwrap_or_else(|| "The site has no geographic anchor, so the compass bearing is unknown.".into());
    let tolerance = panel.tolerance().and_then(|tolerance| tolerance.heading);
    let band = CompassBand { heading: now, value: &value, needle: &needle, subject, sun, tolerance };
    actions.extend(band.ui(ui, &panel.style).map(|set| CameraMove::Heading(set).into()));
}

/// Steps back and forth through what was done.
pub(super) fn undo_redo_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style: &WindowStyle = &panel.style;
    let (undo, redo) = panel.desk.can_undo_redo();
    let width = (0.5 * (ui.available_width() - style.px(6.0))).min(style.px(110.0));
    ui.horizontal(|ui| {
        for (word, able, action) in
            [("Undo", undo, CameraAction::Undo.into()), ("Redo", redo, CameraAction::Redo.into())]
        {
            let inner = ui.add_enabled_ui(able, |ui: &mut egui::Ui| button(ui, style, word, width));
            if inner.inner.clicked() {
                actions.push(action);
            }
        }
    });
}
