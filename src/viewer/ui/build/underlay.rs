//! Which picture of the place lies under the plan? It is drawn under the plan's lines; two points on it, A and B, bring it to
//! its scale and place; a small card tells and sets the rest.

use bevy_egui::egui::{self, Align2, Color32, Mesh, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2};

use crate::site::Underlay;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, BuildAction, SiteChange, UnderlayView};

use super::super::context::PanelContext;
use super::super::figures::length_in;
use super::super::search_map::PlanPlacement;
use super::super::slider::{AnyEnd, Slider, plain_number};
use super::super::style::{WindowStyle, text_button, thinned, within};
use super::fields::Field;
use super::hands::{Dragged, Held};
use super::state::BuildState;
use super::underlay_state::{POINT_NAMES, UnderlayState};

/// The card's size, in units of the drawing.
const CARD: Vec2 = Vec2::new(322.0, 92.0);
/// The same where there is no picture.
const EMPTY_CARD: Vec2 = Vec2::new(156.0, 30.0);
/// The stops of the strength, in percent.
const STRENGTHS: [f64; 11] = [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0];
/// The point of the picture under a hand, ready to be dragged to where it belongs.
pub(super) fn mark_under(
    state: &BuildState,
    underlay: &Underlay,
    place: &PlanPlacement,
    at: Pos2,
    near: f32,
) -> Option<Dragged> {
    let marks = state.underlay.marks(underlay);
    let mark = marks.iter().position(|pixel| place.place(underlay.plan_of_pixel(*pixel)).distance(at) <= near)?;
    Some(Dragged::PictureMark { mark, pixels: marks.to_vec(), before: underlay.clone() })
}

/// The picture under the plan's lines, as strong as it is to be.
pub(super) fn paint_under(ui: &Ui, panel: &PanelContext<'_>, state: &mut UnderlayState, place: &PlanPlacement) {
    let Some(UnderlayView { underlay, picture: Some(Ok(levels)), version }) = panel.desk.underlay() else { return };
    let Some(full) = levels.first() else { return };
    let points_per_pixel = underlay.metres_per_pixel / place.view.metres_per_point * f64::from(place.unit);
    let shown = points_per_pixel * f64::from(ui.pixels_per_point());
    // The smallest one that still has a pixel for each of the screen's.
    let level = levels.iter().rposition(|level| f64::from(level.times) * shown <= 1.0).unwrap_or(0);
    let Some(raster) = levels.get(level) else { return };
    let Some(texture) = state.texture(ui.ctx(), version, level, raster) else { return };
    let [wide, high] = full.file_px.map(f64::from);
    let whole =
        |index: usize| screen(f64::from(raster.file_px[index]) / f64::from(raster.size_px[index] * raster.times));
    let (right, down) = (whole(0), whole(1));
    let strength = state.strength.unwrap_or(underlay.strength);
    let tint = Color32::WHITE.gamma_multiply(screen(strength));
    let mut mesh = Mesh::with_texture(texture);
    for (pixel, uv) in [
        ((0.0, 0.0), (0.0, 0.0)),
        ((wide, 0.0), (right, 0.0)),
        ((wide, high), (right, down)),
        ((0.0, high), (0.0, down)),
    ] {
        let pos = place.place(underlay.plan_of_pixel(pixel));
        mesh.vertices.push(egui::epaint::Vertex { pos, uv: Pos2::new(uv.0, uv.1), color: tint });
    }
    mesh.add_triangle(0, 1, 2);
    mesh.add_triangle(0, 2, 3);
    let painter = ui.painter().with_clip_rect(place.rect.intersect(ui.clip_rect()));
    let edge = mesh.vertices.iter().map(|vertex| vertex.pos).collect();
    painter.add(mesh);
    painter.add(Shape::closed_line(edge, Stroke::new(1.0, thinned(panel.style.soft(), 0.5))));
}

/// The points A and B: ringed crosses with a dotted line between them.
pub(super) fn paint_marks(
    painter: &Painter,
    style: &WindowStyle,
    state: &UnderlayState,
    underlay: &Underlay,
    place: &PlanPlacement,
) {
    let spots: Vec<Pos2> =
        state.marks(underlay).iter().map(|pixel| place.place(underlay.plan_of_pixel(*pixel))).collect();
    if let [a, b] = spots.as_slice() {
        painter.extend(Shape::dotted_line(&[*a, *b], style.ink(), style.px(4.0), style.px(0.8)));
    }
    for (spot, name) in spots.iter().zip(POINT_NAMES) {
        let (ring, arm) = (style.px(6.5), style.px(10.0));
        painter.circle(*spot, ring, thinned(style.panel(), 0.6), Stroke::new(1.4, style.ink()));
        for along in [Vec2::new(arm, 0.0), Vec2::new(0.0, arm)] {
            painter.line_segment([*spot - along, *spot + along], Stroke::new(1.0, style.ink()));
        }
        let at = *spot - Vec2::new(arm + style.px(6.0), 0.0);
        let galley = painter.layout_no_wrap(name.to_owned(), style.strong(13.0), style.ink());
        let rect = Align2::RIGHT_CENTER.anchor_size(at, galley.size());
        painter.rect_filled(rect.expand2(Vec2::new(3.0, 0.0)), 3.0, thinned(style.panel(), 0.9));
        painter.galley(rect.min, galley, style.ink());
    }
}

/// The card at the sheet's lower right.
pub(super) fn card_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    place: &PlanPlacement,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let sheet = place.rect;
    if sheet.width() < style.px(420.0) || sheet.height() < style.px(240.0) {
        return;
    }
    let view = panel.desk.underlay();
    let size = if view.is_some() { CARD } else { EMPTY_CARD } * style.unit;
    // Beside the compass.
    let rect = Rect::from_min_size(sheet.max - size - Vec2::new(style.px(64.0), style.px(12.0)), size);
    ui.painter().rect_filled(rect.expand(style.px(4.0)), 6.0, thinned(style.panel(), 0.94));
    // The card is no place on the plan: presses on it go no further.
    ui.interact(rect, egui::Id::new("card of the picture from above"), Sense::click_and_drag());
    let ask = BuildAction::AskPicture {
        middle: place.view.centre,
        width_m: place.view.metres_per_point * place.view.width_pt,
    };
    within(ui, "picture from above", rect, |ui| {
        ui.spacing_mut().item_spacing = Vec2::new(style.px(4.0), style.px(1.0));
        match view {
            Some(view) => shown_ui(ui, panel, state, view, ask, actions),
            None => {
                let name = "lay a picture from above under the plan";
                let pressed =
                    ui.centered_and_justified(|ui| text_button(ui, style, "Lay a picture…", name).clicked()).inner;
                if pressed {
                    actions.push(ask.into());
                }
            }
        }
    });
}

fn shown_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    view: UnderlayView<'_>,
    ask: BuildAction,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let whole = ui.max_rect();
    let right = style.px(110.0);
    let top = Rect::from_min_max(whole.min, Pos2::new(whole.right() - right - style.px(8.0), whole.max.y));
    let side = Rect::from_min_max(Pos2::new(whole.right() - right, whole.top()), whole.max);
    within(ui, "picture words", top, |ui| {
        ui.label(style.title("Picture from above"));
        match view.picture {
            Some(Err(why)) => {
                ui.label(style.note("not there, or not to be read").color(style.ask())).on_hover_text(why);
            }
            None => {
                ui.label(style.note("reading it…"));
            }
            Some(Ok(_)) => scale_ui(ui, panel, state, view.underlay, actions),
        }
        let galley = style.fitted(ui, &view.underlay.file, style.caption(), style.soft(), top.width());
        let (line, _) = ui.allocate_exact_size(Vec2::new(top.width(), style.px(16.0)), Sense::hover());
        ui.painter().galley(line.min, galley, style.soft());
        ui.horizontal(|ui| {
            let marking = state.held == Held::PictureMark;
            let (word, name) = if marking {
                ("Stop", "stop marking points on the picture")
            } else {
                ("Two points", "mark two points on the picture")
            };
            if text_button(ui, style, word, name).clicked() {
                state.held = if marking { Held::Nothing } else { Held::PictureMark };
                state.outline.clear();
            }
            if text_button(ui, style, "Another…", "lay another picture from above").clicked() {
                actions.push(ask.into());
            }
            if text_button(ui, style, "Remove", "remove the picture from above").clicked() {
                actions.push(BuildAction::Change(SiteChange::SetUnderlay(None), None).into());
                (state.held, state.underlay) = (Held::Nothing, UnderlayState::default());
            }
        });
    });
    within(ui, "picture strength", side, |ui| strength_ui(ui, panel, state, view.underlay, actions));
}

/// How far A lies from B, which can be typed, and how the picture is turned.
fn scale_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    underlay: &Underlay,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let turned = format!("turned {:.1}°", underlay.turned_deg);
    let marks = state.underlay.marks(underlay).to_vec();
    let &[a, b] = marks.as_slice() else {
        let words = match (state.held, marks.len()) {
            (Held::PictureMark, 0) => "press a point on it that you know".to_owned(),
            (Held::PictureMark, _) => "press another, far from the first".to_owned(),
            (Held::Nothing | Held::Shape(_) | Held::Ground(_) | Held::Line(_) | Held::Dividers, _) => {
                format!("{}, {turned}", panel.units().per_pixel(1000.0 * underlay.metres_per_pixel))
            }
        };
        ui.label(style.note(words));
        return;
    };
    let apart_m = underlay.metres_per_pixel * (a.0 - b.0).hypot(a.1 - b.1);
    let shown = panel.units().length(apart_m, 2);
    ui.horizontal(|ui| {
        ui.label(style.note("A to B"));
        let field = Field { name: "distance from A to B", shown: &shown, font: style.caption() };
        let width = ui.painter().layout_no_wrap(shown.clone(), style.caption(), style.ink()).size().x + style.px(8.0);
        let typed = field.ui(ui, style, &mut state.typing, width);
        ui.label(style.note(turned));
        if let Some(length_m) = typed.and_then(|typed| length_in(&typed, panel.units())) {
            // What would be out of range is refused by the site's own check, with its reason.
            let unchecked =
                || Underlay { metres_per_pixel: length_m / (a.0 - b.0).hypot(a.1 - b.1), ..underlay.clone() };
            let laid = underlay.scaled_by_length([a, b], length_m).map_or_else(|_| unchecked(), Underlay::rounded);
            actions.push(BuildAction::Change(SiteChange::SetUnderlay(Some(laid)), None).into());
        }
    });
}

fn strength_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    underlay: &Underlay,
    actions: &mut Vec<Action>,
) {
    let now = state.underlay.strength.unwrap_or(underlay.strength);
    let slider = Slider {
        name: "strength of the picture",
        caption: "strength",
        stops: &STRENGTHS,
        any: AnyEnd::Nowhere,
        value: Some(100.0 * now),
        range: (0.0, 100.0),
        written: &|percent| format!("{percent:.0} %"),
        read: &plain_number,
        note: None,
    };
    if let Some(Some(percent)) = slider.ui(ui, &panel.style) {
        state.underlay.strength = Some(percent / 100.0);
    }
    // One step of the history for a whole drag.
    if !ui.input(|input| input.pointer.any_down())
        && let Some(strength) = state.underlay.strength.take()
        && strength != underlay.strength
    {
        let faded = Underlay { strength, ..underlay.clone() }.rounded();
        actions.push(BuildAction::Change(SiteChange::SetUnderlay(Some(faded)), None).into());
    }
}
