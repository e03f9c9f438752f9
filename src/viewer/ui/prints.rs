//! Which stances are pinned? Loose prints on the table: picked up, turned over for their notes, renamed, reordered, laid
//! side by side, removed.

use bevy_egui::egui::{
    self, Color32, CursorIcon, Key, Mesh, Popup, PopupCloseBehavior, Pos2, Rect, Response, ScrollArea, Sense, Shape,
    Stroke, TextureId, Ui, Vec2, WidgetInfo, WidgetType, epaint,
};

use crate::compare::{CONVERGENCE, DETAIL, DISTANCE, LARGEST_LEAN_IN_PICTURE};
use crate::plan::PrintId;

use super::context::{PanelContext, in_words};
use super::plan::list_row_ui;
use super::status::menu;
use super::style::{WindowStyle, button, choice, count, text_button, within, word_with_mark};
use super::textures::Textures;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, DeliveryAction, Pinned, PrintAction};
use crate::wording;

/// The height of a print's two lines, in units of the drawing.
const CAPTION: f32 = 34.0;
/// How far prints lie off square, in degrees, one after the other.
const ASKEW_DEG: [f32; 6] = [-1.6, 1.0, -0.7, 1.4, -1.1, 0.8];

/// What the panels remember of the prints.
#[derive(Default)]
pub(super) struct PrintsState {
    textures: Textures<PrintId>,
    /// The print that is turned over, with what is being written on it.
    turned: Option<(PrintId, String)>,
    /// A name that is being typed.
    naming: Option<(PrintId, String)>,
}

impl PrintsState {
    /// The texture of a print's picture, shown so many points high, uploaded when it is new.
    pub(super) fn texture(&mut self, context: &egui::Context, pinned: &Pinned, high: f32) -> Option<TextureId> {
        let thumbnail = pinned.thumbnail.as_ref()?;
        self.textures.of(context, pinned.print.id, thumbnail, high)
    }

    fn forget_gone(&mut self, prints: &[Pinned]) {
        let lies = |id: &PrintId| prints.iter().any(|pinned| pinned.print.id == *id);
        self.textures.retain(lies);
        if self.turned.as_ref().is_some_and(|(id, _)| !lies(id)) {
            self.turned = None;
        }
        if self.naming.as_ref().is_some_and(|(id, _)| !lies(id)) {
            self.naming = None;
        }
    }
}

/// The proportion of a print's picture.
pub(super) fn aspect(pinned: &Pinned) -> f32 {
    let of = |width: f64, height: f64| screen((width / height).clamp(0.3, 3.0));
    match (&pinned.thumbnail, &pinned.measured) {
        (Some(thumbnail), _) => of(f64::from(thumbnail.width_px), f64::from(thumbnail.height_px.max(1))),
        (None, Ok(measured)) => {
            let frame = &measured.standing.camera.frame;
            of(frame.width_mm, frame.height_mm)
        }
        (None, Err(_)) => 1.5,
    }
}

/// What stands at the right of a print's caption: what the subject converges by.
fn key_figure(pinned: &Pinned, panel: &PanelContext<'_>) -> String {
    pinned
        .measured
        .as_ref()
        .ok()
        .and_then(|measured| CONVERGENCE.of(measured))
        .map_or_else(|| "–".into(), |value| CONVERGENCE.written(value, panel.units()))
}

/// The height of the strip: more where the controls leave some.
pub(super) fn prints_height(panel: &PanelContext<'_>, room: f32) -> f32 {
    let style = &panel.style;
    // The controls need so much; a picture that is lower than a stamp says nothing.
    let left = room - style.px(594.0);
    if panel.desk.prints().is_empty() || left < style.px(100.0) { style.px(26.0) } else { left.min(style.px(140.0)) }
}

/// The prints under the controls: how many there are, and where there is room their pictures.
pub(super) fn strip_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut PrintsState,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let prints = panel.desk.prints();
    state.forget_gone(prints);
    let head = Rect::from_min_size(rect.min, Vec2::new(rect.width(), style.px(22.0)));
    let rest = Rect::from_min_max(Pos2::new(rect.left(), head.bottom()), rect.max);
    let in_words = rest.height() < style.px(60.0);
    within(ui, "pinned", head, |ui| pinned_ui(ui, panel, in_words, actions));
    if in_words || prints.is_empty() {
        return;
    }
    within(ui, "prints", rest, |ui| {
        ScrollArea::horizontal().id_salt("prints 1").auto_shrink([false, false]).show(ui, |ui| {
            ui.horizontal(|ui| {
                ui.spacing_mut().item_spacing.x = style.px(6.0);
                // Prints lie askew: the first one needs room to its left.
                ui.add_space(style.px(2.0));
                let mut places: Vec<Rect> = Vec::new();
                let mut dropped: Option<(PrintId, Pos2)> = None;
                for (index, pinned) in prints.iter().enumerate() {
                    let (place, hand) = print_ui(ui, panel, state, index, pinned, rest.height(), actions);
                    places.push(place);
                    dropped = hand.map(|hand| (pinned.print.id, hand)).or(dropped);
                }
                if let Some((id, hand)) = dropped {
                    let before = places.iter().filter(|place| place.center().x < hand.x).count();
                    let from = prints.iter().position(|pinned| pinned.print.id == id).unwrap_or(before);
                    let to = if before > from { before - 1 } else { before };
                    actions.push(PrintAction::Move(id, to).into());
                }
            });
        });
    });
}

/// How many prints there are; where their pictures find no room, the word opens the list of them.
fn pinned_ui(ui: &mut Ui, panel: &PanelContext<'_>, in_words: bool, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let words = match panel.desk.prints().len() {
        0 => "Nothing pinned yet".to_owned(),
        number => format!("{number} pinned"),
    };
    ui.horizontal(|ui| {
        if in_words && !panel.desk.prints().is_empty() {
            let response = word_with_mark(ui, style, &words, &format!("{words}; show them"), style.soft());
            menu(&response, |ui| {
                ui.set_width(style.px(260.0));
                for pinned in panel.desk.prints() {
                    let present = pinned.print.stance == *panel.desk.stance();
                    let figure = key_figure(pinned, panel);
                    if list_row_ui(ui, style, &pinned.print.name, &figure, present).clicked() {
                        actions.push(PrintAction::TakeUp(pinned.print.id).into());
                        ui.close();
                    }
                }
            });
        } else {
            ui.label(style.note(words));
        }
        if panel.desk.can_put_back() && text_button(ui, style, "Restore", "restore the last print").clicked() {
            actions.push(PrintAction::Restore.into());
        }
    });
}

/// Turns points about a middle.
struct PrintRotation {
    middle: Pos2,
    by: egui::emath::Rot2,
}

impl PrintRotation {
    fn at(&self, point: Pos2) -> Pos2 {
        self.middle + self.by * (point - self.middle)
    }

    fn ring(&self, rect: Rect) -> Vec<Pos2> {
        [rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom()]
            .map(|corner| self.at(corner))
            .to_vec()
    }
}

/// One print; tells where it lies, and where it was let go after a drag.
fn print_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut PrintsState,
    index: usize,
    pinned: &Pinned,
    height: f32,
    actions: &mut Vec<Action>,
) -> (Rect, Option<Pos2>) {
    let style = &panel.style;
    let margin = style.px(5.0);
    let caption = style.px(CAPTION);
    let picture_height = (height - style.px(14.0) - caption - margin).clamp(style.px(26.0), style.px(150.0));
    let figure = key_figure(pinned, panel);
    // A tall picture lies on a broader sheet, so that its name can be read; but three of them lie beside one another.
    let width = (picture_height * aspect(pinned)).clamp(style.px(50.0), style.px(112.0));
    let size = Vec2::new(width + 2.0 * margin, picture_height + caption + margin);
    let (place, _) = ui.allocate_exact_size(Vec2::new(size.x, height - style.px(2.0)), Sense::hover());
    let rect = Rect::from_center_size(place.center(), size);
    let id = egui::Id::new(("print", pinned.print.id.0));
    let response = ui.interact(rect, id, Sense::click_and_drag());
    let present = pinned.print.stance == *panel.desk.stance();
    let against = panel.desk.against().is_some_and(|other| other.print.id == pinned.print.id);
    let convergence = pinned.measured.as_ref().ok().and_then(|measured| CONVERGENCE.of(measured));
    let closes = convergence.map_or_else(|| "not measured".into(), wording::convergence);
    response.widget_info(|| {
        WidgetInfo::selected(
            WidgetType::Button,
            true,
            present,
            format!("print {}, {closes}{}", pinned.print.name, if against { ", compared" } else { "" }),
        )
    });
    let dragged = response.dragged();
    let degrees = if response.hovered() || dragged || style.still { 0.0 } else { ASKEW_DEG[index % ASKEW_DEG.len()] };
    let lifted = if dragged {
        let by = response.interact_pointer_pos().map_or(Vec2::ZERO, |hand| hand - rect.center());
        rect.translate(by)
    } else {
        rect
    };
    let turn = PrintRotation { middle: lifted.center(), by: egui::emath::Rot2::from_angle(degrees.to_radians()) };
    let painter = if dragged {
        ui.ctx().layer_painter(egui::LayerId::new(egui::Order::Foreground, id))
    } else {
        ui.painter().clone()
    };
    let texture = state.texture(ui.ctx(), pinned, picture_height);
    let look = PrintLook { texture, figure: &figure, present, focused: response.has_focus() };
    draw_print(&painter, style, lifted, &turn, pinned, &look);
    if against {
        let tag = painter.layout_no_wrap("compared".into(), style.figure(), style.panel());
        let plate = Rect::from_min_size(
            turn.at(lifted.left_top()) + Vec2::new(-2.0, -2.0),
            tag.size() + Vec2::new(style.px(8.0), style.px(2.0)),
        );
        painter.rect_filled(plate, 2.0, style.ink());
        painter.galley(plate.center() - 0.5 * tag.size(), tag, style.panel());
    }
    if response.double_clicked() {
        actions.push(PrintAction::TakeUp(pinned.print.id).into());
    }
    if response.has_focus() {
        let moved = ui.input(|input| {
            let shift = input.modifiers.shift;
            i32::from(shift && input.key_pressed(Key::ArrowRight))
                - i32::from(shift && input.key_pressed(Key::ArrowLeft))
        });
        if moved > 0 {
            actions.push(PrintAction::Move(pinned.print.id, index + 1).into());
        } else if moved < 0 {
            actions.push(PrintAction::Move(pinned.print.id, index.saturating_sub(1)).into());
        }
        if ui.input(|input| input.key_pressed(Key::Delete)) {
            actions.push(PrintAction::Unpin(pinned.print.id).into());
        }
    }
    held_ui(&response, panel, state, pinned, texture, actions);
    let hand = response.drag_stopped().then(|| ui.input(|input| input.pointer.latest_pos())).flatten();
    context_menu(&response, panel, pinned, state, actions);
    response.on_hover_cursor(CursorIcon::Grab).on_hover_text(format!("{}, {closes}", pinned.print.name));
    (place, hand)
}

/// What can be done with a print, under the right button.
fn context_menu(
    response: &Response,
    panel: &PanelContext<'_>,
    pinned: &Pinned,
    state: &mut PrintsState,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let id = pinned.print.id;
    response.context_menu(|ui| {
        ui.set_width(style.px(200.0));
        ui.label(style.title(&pinned.print.name));
        let against = panel.desk.against().is_some_and(|other| other.print.id == id);
        let laid = panel.desk.laid().any(|other| other.print.id == id);
        let over = panel.desk.over_finder().is_some_and(|other| other.print.id == id);
        let entries: [(&str, PrintAction); 5] = [
            ("Go there", PrintAction::TakeUp(id)),
            (
                if against { "Stop comparing" } else { "Compare readings" },
                PrintAction::CompareWith((!against).then_some(id)),
            ),
            (if laid { "Take from Compare" } else { "Lay on Compare" }, PrintAction::Lay(id, !laid)),
            (
                if over { "Take off the finder" } else { "Lay over the finder" },
                PrintAction::LayOver((!over).then_some(id)),
            ),
            ("Remove", PrintAction::Unpin(id)),
        ];
        for (word, action) in entries {
            if ui.button(word).clicked() {
                actions.push(action.into());
                ui.close();
            }
        }
        if ui.button("Name and note").clicked() {
            state.turned = Some((id, pinned.print.note.clone()));
            Popup::open_id(ui.ctx(), held_id(response));
            ui.close();
        }
    });
}

/// How a print shows.
struct PrintLook<'a> {
    /// Its picture, once it is there.
    texture: Option<TextureId>,
    /// Its figure.
    figure: &'a str,
    /// Whether the camera stands there.
    present: bool,
    /// Whether keys act on it.
    focused: bool,
}

fn draw_print(
    painter: &egui::Painter,
    style: &WindowStyle,
    rect: Rect,
    turn: &PrintRotation,
    pinned: &Pinned,
    look: &PrintLook<'_>,
) {
    let &PrintLook { texture, figure, present, focused } = look;
    let margin = style.px(5.0);
    let caption = style.px(CAPTION);
    // A soft shadow: the print lies on the table.
    for (reach, share) in [(3.0, 0.05), (1.5, 0.08)] {
        let shadow = rect.translate(Vec2::new(0.0, style.px(1.5))).expand(reach);
        painter.add(Shape::convex_polygon(turn.ring(shadow), Color32::BLACK.gamma_multiply(share), Stroke::NONE));
    }
    let edge = if focused { Stroke::new(2.0, style.ink()) } else { style.hairline() };
    painter.add(Shape::convex_polygon(turn.ring(rect), style.panel(), edge));
    let room =
        Rect::from_min_max(rect.min + Vec2::splat(margin), Pos2::new(rect.right() - margin, rect.bottom() - caption));
    let shape = aspect(pinned);
    let size = if room.width() / room.height() > shape {
        Vec2::new(room.height() * shape, room.height())
    } else {
        Vec2::new(room.width(), room.width() / shape)
    };
    let picture = Rect::from_center_size(room.center(), size);
    let ring = turn.ring(picture);
    match texture {
        Some(texture) => {
            let mut mesh = Mesh::with_texture(texture);
            let ends = [Pos2::ZERO, Pos2::new(1.0, 0.0), Pos2::new(1.0, 1.0), Pos2::new(0.0, 1.0)];
            for (pos, uv) in ring.iter().zip(ends) {
                mesh.vertices.push(epaint::Vertex { pos: *pos, uv, color: Color32::WHITE });
            }
            mesh.add_triangle(0, 1, 2);
            mesh.add_triangle(0, 2, 3);
            painter.add(Shape::mesh(mesh));
        }
        None => {
            painter.add(Shape::convex_polygon(ring.clone(), style.well(), Stroke::NONE));
        }
    }
    let mut frame = ring;
    frame.extend(frame.first().copied());
    painter.line(frame, Stroke::new(if present { style.px(2.4) } else { 1.0 }, style.ink()));
    let room = (rect.width() - 2.0 * margin).max(1.0);
    let font = if present { style.strong(11.0) } else { style.figure() };
    let name = style.fitted_by(painter, &pinned.print.name, font, style.ink(), room);
    let value = painter.layout_no_wrap(figure.to_owned(), style.strong(11.0), style.ink());
    let angle = turn.by.angle();
    let mut base = rect.bottom() - caption + style.px(1.0);
    for galley in [name, value] {
        let at = turn.at(Pos2::new(rect.left() + margin, base));
        base += galley.size().y - style.px(1.0);
        painter.add(epaint::TextShape::new(at, galley, style.ink()).with_angle(angle));
    }
}

/// What opens as a print is taken into the hand.
fn held_id(response: &Response) -> egui::Id {
    response.id.with("held")
}

/// A print in the hand: its picture or its back, and what can be done with it.
fn held_ui(
    response: &Response,
    panel: &PanelContext<'_>,
    state: &mut PrintsState,
    pinned: &Pinned,
    texture: Option<TextureId>,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let id = pinned.print.id;
    // The menu under the right button is another one.
    let popup = Popup::from_toggle_button_response(response)
        .id(held_id(response))
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .width(style.px(264.0))
        .show(|ui| {
            ui.set_max_width(style.px(264.0));
            ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(6.0));
            name_ui(ui, style, state, pinned, actions);
            let turned = state.turned.as_ref().is_some_and(|(over, _)| *over == id);
            if turned {
                back_ui(ui, style, state, pinned, actions);
            } else {
                front_ui(ui, panel, pinned, texture);
            }
            let half = 0.5 * (style.px(264.0) - style.px(6.0));
            ui.horizontal(|ui| {
                if button(ui, style, "Go there", half).clicked() {
                    actions.push(PrintAction::TakeUp(id).into());
                    ui.close();
                }
                let words = if turned { "Show picture" } else { "Show note" };
                if button(ui, style, words, half).clicked() {
                    state.turned = (!turned).then(|| (id, pinned.print.note.clone()));
                }
            });
            ui.horizontal(|ui| {
                let against = panel.desk.against().is_some_and(|other| other.print.id == id);
                if choice(ui, style, "Compare", "compare readings with this print", against, half).clicked() {
                    actions.push(PrintAction::CompareWith((!against).then_some(id)).into());
                }
                let laid = panel.desk.laid().any(|other| other.print.id == id);
                if choice(ui, style, "Side by side", "show on the Compare desk", laid, half).clicked() {
                    actions.push(PrintAction::Lay(id, !laid).into());
                }
            });
            if button(ui, style, "Remove", half).on_hover_text("Restore brings it back").clicked() {
                actions.push(PrintAction::Unpin(id).into());
                ui.close();
            }
        });
    if popup.is_none() && state.turned.as_ref().is_some_and(|(over, _)| *over == id) {
        // Put down: what was written stays written.
        if let Some((_, text)) = state.turned.take()
            && text != pinned.print.note
        {
            actions.push(PrintAction::Note(id, text).into());
        }
    }
}

fn name_ui(ui: &mut Ui, style: &WindowStyle, state: &mut PrintsState, pinned: &Pinned, actions: &mut Vec<Action>) {
    let id = pinned.print.id;
    let mut name = match &state.naming {
        Some((naming, text)) if *naming == id => text.clone(),
        _ => pinned.print.name.clone(),
    };
    let response = ui.add(egui::TextEdit::singleline(&mut name).desired_width(f32::INFINITY).font(style.strong(13.0)));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("name of the print"));
    if response.changed() {
        state.naming = Some((id, name.clone()));
    }
    if response.lost_focus() && state.naming.take().is_some() && name != pinned.print.name {
        actions.push(PrintAction::Rename(id, name).into());
    }
}

fn front_ui(ui: &mut Ui, panel: &PanelContext<'_>, pinned: &Pinned, texture: Option<TextureId>) {
    let style = &panel.style;
    if let Some(texture) = texture {
        let shape = aspect(pinned);
        let width = (style.px(170.0) * shape).min(ui.available_width());
        let size = Vec2::new(width, width / shape);
        ui.image(egui::load::SizedTexture::new(texture, size));
    }
    match &pinned.measured {
        Ok(measured) => {
            let standing = &measured.standing;
            let place = format!(
                "{}, {}, {}",
                super::lens::lens_words(&standing.lens),
                super::figures::millimetres(standing.camera.focal_mm),
                standing.height_m().map_or_else(
                    || "eye height given".to_owned(),
                    |height_m| format!("{} above the feet", panel.units().length(height_m, 2))
                )
            );
            ui.label(style.note(place));
            let figures = [CONVERGENCE, LARGEST_LEAN_IN_PICTURE, DETAIL, DISTANCE];
            let words: Vec<String> = figures
                .into_iter()
                .filter_map(|figure| {
                    figure
                        .of(measured)
                        .map(|value| format!("{} {}", figure.words, figure.written(value, panel.units())))
                })
                .collect();
            ui.label(style.note(words.join(" · ")));
        }
        Err(error) => {
            ui.label(style.note(error).color(style.ask()));
        }
    }
    if !pinned.print.note.is_empty() {
        ui.label(style.plain(&pinned.print.note));
    }
}

fn back_ui(ui: &mut Ui, style: &WindowStyle, state: &mut PrintsState, pinned: &Pinned, actions: &mut Vec<Action>) {
    let Some((_, text)) = &mut state.turned else { return };
    let edit = egui::TextEdit::multiline(text)
        .desired_width(f32::INFINITY)
        .desired_rows(5)
        .hint_text("a note about this stance");
    let response = ui.add(edit);
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("note of the print"));
    if response.lost_focus() && *text != pinned.print.note {
        actions.push(PrintAction::Note(pinned.print.id, text.clone()).into());
    }
    ui.label(style.note("note"));
}

/// The prints as words in one line, where there is no room for pictures.
pub(super) fn prints_list_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(4.0));
        ui.label(style.note(format!("Pinned, {}", in_words(panel.desk.prints().len()))));
        if button(ui, style, "Pin", style.px(54.0)).clicked() {
            actions.push(PrintAction::Pin.into());
        }
        if button(ui, style, "Capture", style.px(70.0)).clicked() {
            actions.push(DeliveryAction::Capture { full: false, folder: None }.into());
        }
        for pinned in panel.desk.prints() {
            let name = &pinned.print.name;
            let width = style.px(14.0) + style.px(6.6) * count(name.chars().count().min(18));
            let present = pinned.print.stance == *panel.desk.stance();
            if choice(ui, style, name, &format!("print {name}"), present, width).clicked() {
                actions.push(PrintAction::TakeUp(pinned.print.id).into());
            }
        }
    });
}
