//! What stands there, how high, how wide, and where is the ground open? Four questions answered on one drawing make a site;
//! the first picture of it is live before one agrees.

use bevy_egui::egui::{self, Align2, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, WidgetType};

use crate::new_site::{HEIGHTS_M, NewKind, NewSite, Side};
use crate::site::{Access, Solid};
use crate::viewer::state::desk::{BuildAction, DeskName, SettingAction};
use crate::wording::capital;

use super::super::FinderPicture;
use super::super::context::PanelContext;
use super::super::figures::length_in;
use super::super::finder::finder_ui;
use super::super::height_scale::HeightScale;
use super::super::panels::{Panels, WindowOutput};
use super::super::status::menu;
use super::super::style::{WindowStyle, card, count, focus_ring, main_button, text_button, thinned, within};
use super::super::verdict::verdict_ui;
use super::answers::NewSiteAnswers;
use super::card_block::{CardView, card_drawing};
use super::fields::{Field, Typing};
use super::marks::access_colour;
use super::work_out::{WorkOut, work_out_ui};

/// The page; false once it is closed.
pub(super) fn new_site_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) -> bool {
    let style = &panel.style;
    let gap = style.px(12.0);
    let Some(state) = &mut panels.build.new_site else { return false };
    let head = Rect::from_min_size(body.min + Vec2::new(gap, 0.0), Vec2::new(body.width() - gap, style.px(26.0)));
    let mut open = true;
    within(ui, "new site head", head, |ui| {
        ui.horizontal_centered(|ui| {
            ui.label(style.title("New site"));
            ui.label(style.note("four answers; everything can be changed later"));
            if text_button(ui, style, "Back", "back to the site").clicked() {
                open = false;
            }
        });
    });
    let sheet = Rect::from_min_max(Pos2::new(body.left() + gap, head.bottom() + style.px(4.0)), body.max);
    card(ui, style, sheet);
    let inner = sheet.shrink(style.px(14.0));
    let kinds_height = (0.3 * inner.height()).min(style.px(190.0));
    let kinds = Rect::from_min_size(inner.min, Vec2::new(inner.width(), kinds_height));
    kinds_ui(ui, style, state, kinds);
    let below = Rect::from_min_max(Pos2::new(inner.left(), kinds.bottom() + gap), inner.max);
    ui.painter().hline(below.x_range(), below.top() - 0.5 * gap, style.hairline());
    let part = |from: f32, to: f32| {
        let (left, width) = (below.left(), below.width());
        Rect::from_min_max(
            Pos2::new(left + from * width, below.top()),
            Pos2::new(left + to * width - gap, below.bottom()),
        )
    };
    size_ui(ui, panel, state, (&mut panels.build.typing, &mut panels.build.work_out), part(0.0, 0.4));
    sides_ui(ui, style, state, part(0.4, 0.68));
    let problems = state.answers.problems();
    if problems.is_empty() && state.shown.as_ref() != Some(&state.answers) {
        state.shown = Some(state.answers.clone());
        output.actions.push(BuildAction::TryNew(Box::new(state.answers.clone())).into());
    }
    let text = state.answers.text().ok();
    let words = state.answers.words(panel.units());
    let last = part(0.68, 1.0);
    let button_height = style.px(30.0);
    let finder = Rect::from_min_max(last.min, Pos2::new(last.right(), last.bottom() - button_height - style.px(122.0)));
    if problems.is_empty() {
        output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, finder, picture, &mut output.actions));
    }
    let rest = Rect::from_min_max(Pos2::new(last.left(), finder.bottom() + style.px(6.0)), last.max);
    within(ui, "stand in front", rest, |ui| {
        match problems.first() {
            Some(problem) => {
                ui.label(style.plain(capital(&problem.to_string())));
            }
            None => {
                verdict_ui(ui, panel, 18.0);
                let away = panel.measured().account.distance_m;
                let away = away.map(|away_m| format!(", from {} in front of it", panel.units().length(away_m, 0)));
                ui.label(style.note(format!("{}{}", capital(&words), away.unwrap_or_default())));
                ui.label(style.note("neighbours and street are a guess"));
            }
        }
        let bottom = Rect::from_min_max(Pos2::new(rest.left(), rest.bottom() - button_height), rest.max);
        within(ui, "agree", bottom, |ui| {
            ui.add_enabled_ui(text.is_some(), |ui| {
                let pressed =
                    main_button(ui, style, "Stand in front of it", "stand in front of it", rest.width()).clicked();
                if let (true, Some(text)) = (pressed, text) {
                    output.actions.push(BuildAction::Create(text).into());
                    output.actions.push(SettingAction::ShowDesk(DeskName::Walk).into());
                    open = false;
                }
            });
        });
    });
    if ui.input(|input| input.key_pressed(egui::Key::Escape)) && panels.build.typing.is_none() {
        open = false;
    }
    if !open {
        panels.build.new_site = None;
        output.actions.insert(0, BuildAction::LetGo.into());
    }
    open
}

fn question(ui: &mut Ui, style: &WindowStyle, at: Pos2, number: usize, words: &str) {
    let figure = ui.painter().layout_no_wrap(number.to_string(), style.strong(15.0), style.soft());
    let words = ui.painter().layout_no_wrap(words.to_owned(), style.strong(15.0), style.ink());
    ui.painter().galley(at, figure, style.soft());
    let size = words.size();
    let at = at + Vec2::new(style.px(18.0), 0.0);
    ui.painter().galley(at, words.clone(), style.ink());
    let response = ui.interact(Rect::from_min_size(at, size), ui.id().with(("question", number)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, words.text()));
}

/// The six kinds, each with its picture, standing on one line.
fn kinds_ui(ui: &mut Ui, style: &WindowStyle, state: &mut NewSiteAnswers, rect: Rect) {
    question(ui, style, rect.min, 1, "What is it?");
    let board = rect.bottom() - style.px(24.0);
    ui.painter().hline(rect.x_range(), board, style.hairline());
    let width = rect.width() / count(NewKind::ALL.len());
    for (index, kind) in NewKind::ALL.into_iter().enumerate() {
        let place = Rect::from_min_max(
            Pos2::new(rect.left() + count(index) * width, rect.top() + style.px(24.0)),
            Pos2::new(rect.left() + (count(index) + 1.0) * width, rect.bottom()),
        );
        let chosen = state.answers.kind == kind;
        let response = ui.interact(place, ui.id().with(("kind", index)), Sense::click());
        response.widget_info(|| {
            WidgetInfo::selected(WidgetType::SelectableLabel, true, chosen, format!("it is a {}", kind.words()))
        });
        if chosen || response.hovered() {
            ui.painter().rect_filled(place.shrink(2.0), 4.0, style.well());
        }
        focus_ring(ui, style, &response, place.shrink(4.0));
        let room = Rect::from_min_max(
            place.min + Vec2::new(style.px(14.0), style.px(4.0)),
            Pos2::new(place.right() - style.px(14.0), board - 1.0),
        );
        let solids: Vec<&Solid> = state.kinds.get(index).into_iter().flatten().map(|solid| &**solid).collect();
        ui.painter().extend(card_drawing(style, &solids, CardView::oblique(), room).shapes);
        if chosen {
            let bar = Rect::from_min_max(
                Pos2::new(place.left() + style.px(8.0), board - style.px(1.5)),
                Pos2::new(place.right() - style.px(8.0), board + style.px(1.5)),
            );
            ui.painter().rect_filled(bar, 0.0, style.ink());
        }
        let font = if chosen { style.strong(13.0) } else { style.body() };
        let ink = if chosen { style.ink() } else { style.soft() };
        let galley = style.fitted(ui, &capital(kind.words()), font, ink, width - style.px(8.0));
        let at = Pos2::new(place.center().x - 0.5 * galley.size().x, board + style.px(4.0));
        ui.painter().galley(at, galley, ink);
        if response.on_hover_text(kind.explained()).clicked() && !chosen {
            let NewSite { open, front_deg, .. } = state.answers.clone();
            state.answers = NewSite { open, front_deg, ..NewSite::of(kind) };
        }
    }
}

/// How tall and how wide: the scale, and the elevation with its widths to be typed.
fn size_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut NewSiteAnswers,
    (typing, work_out): (&mut Option<Typing>, &mut WorkOut),
    rect: Rect,
) {
    let style = &panel.style;
    question(ui, style, rect.min, 2, "How tall?");
    let scale_width = style.px(120.0).min(0.45 * rect.width());
    let scale = Rect::from_min_max(
        rect.min + Vec2::new(0.0, style.px(28.0)),
        Pos2::new(rect.left() + scale_width, rect.bottom()),
    );
    within(ui, "how tall", scale, |ui| {
        let scale = HeightScale {
            name: ["height", "To the very top"],
            height_m: state.answers.height_m,
            limits_m: HEIGHTS_M,
            units: panel.units(),
            presets: &[],
            tolerance_m: None,
        };
        if let Some(height_m) = scale.ui(ui, style, (ui.available_height() - style.px(52.0)).max(style.px(60.0))) {
            // Widths that were usual for the old height are usual for the new one, too.
            let usual = NewSite::of_height(state.answers.kind, state.answers.height_m);
            let next = NewSite::of_height(state.answers.kind, height_m);
            if (usual.base_m, usual.top_m) == (state.answers.base_m, state.answers.top_m) {
                (state.answers.base_m, state.answers.top_m) = (next.base_m, next.top_m);
            }
            state.answers.height_m = height_m;
        }
        let response = text_button(ui, style, "Not known? Work it out", "work the height out");
        menu(&response, |ui| {
            if let Some(found) = work_out_ui(ui, panel, work_out, "it") {
                state.answers.height_m = found.height_m.clamp(HEIGHTS_M.0, HEIGHTS_M.1);
            }
        });
    });
    let wide = Rect::from_min_max(Pos2::new(scale.right() + style.px(16.0), rect.top()), rect.max);
    question(ui, style, wide.min, 3, "How wide?");
    let place = Rect::from_min_max(
        wide.min + Vec2::new(style.px(4.0), style.px(34.0)),
        wide.max - Vec2::new(style.px(70.0), style.px(40.0)),
    );
    let front = CardView::front(state.answers.front_deg);
    let solids: Vec<&Solid> = state.subject().iter().map(|solid| &**solid).collect();
    let drawing = card_drawing(style, &solids, front, place);
    ui.painter().extend(drawing.shapes);
    ui.painter().hline(wide.x_range(), place.bottom(), style.control());
    let drawn = drawing.rect;
    let line = Stroke::new(1.0, style.ink());
    let slash = Vec2::new(style.px(3.5), -style.px(3.5));
    let y = place.bottom() + style.px(12.0);
    ui.painter().hline(drawn.x_range(), y, line);
    for x in [drawn.left(), drawn.right()] {
        let end = Pos2::new(x, y);
        ui.painter().line_segment([end - slash, end + slash], Stroke::new(1.4, style.ink()));
    }
    let mut width = |ui: &mut Ui, name: &str, value_m: f64, at: Pos2| {
        let shown = panel.units().length(value_m, 2);
        let field = Field { name, shown: &shown, font: style.strong(13.0) };
        let typed = field.at(ui, style, typing, at, Align2::LEFT_CENTER)?;
        length_in(&typed, panel.units())
    };
    let at = Pos2::new((drawn.right() + style.px(10.0)).min(wide.right() - style.px(66.0)), y);
    if let Some(base_m) = width(ui, "width at the base", state.answers.base_m, at) {
        state.answers.base_m = base_m;
        if !state.answers.kind.tapers() {
            state.answers.top_m = base_m;
        }
    }
    if state.answers.kind.tapers() {
        let at = Pos2::new(at.x, drawn.top() + 0.24 * drawn.height());
        if let Some(top_m) = width(ui, "width at the top", state.answers.top_m, at) {
            state.answers.top_m = top_m;
        }
        let galley = ui.painter().layout_no_wrap("at its top".into(), style.caption(), style.soft());
        ui.painter().galley(at + Vec2::new(0.0, style.px(10.0)), galley, style.soft());
    }
    // A person for the size, drawn to scale.
    let metre = drawn.height() / crate::viewer::render::narrow::screen(state.answers.height_m.max(1.0));
    let person = (1.7 * metre).max(2.0);
    let foot = Pos2::new((drawn.right() + style.px(16.0)).min(wide.right() - style.px(8.0)), place.bottom());
    ui.painter().rect_filled(
        Rect::from_min_max(foot - Vec2::new(0.13 * person, 0.8 * person), foot + Vec2::new(0.13 * person, 0.0)),
        1.0,
        style.soft(),
    );
    ui.painter().circle_filled(foot - Vec2::new(0.0, 0.88 * person), 0.13 * person, style.soft());
}

/// Where one may stand: four sides about the subject; a press changes one.
fn sides_ui(ui: &mut Ui, style: &WindowStyle, state: &mut NewSiteAnswers, rect: Rect) {
    question(ui, style, rect.min, 4, "Where is the ground open?");
    let area = Rect::from_min_max(rect.min + Vec2::new(0.0, style.px(30.0)), rect.max - Vec2::new(0.0, style.px(22.0)));
    let radius = 0.48 * area.size().min_elem();
    let middle = area.center();
    // As one sees it from in front, which is below.
    for (side, turn) in [(Side::Front, 0.5), (Side::Left, 1.0), (Side::Behind, 1.5), (Side::Right, 0.0)] {
        let about = std::f32::consts::PI * turn;
        let (from, to) = (about - 0.72, about + 0.72);
        let arc = |reach: f32| {
            (0..=16_u8).map(move |step| {
                let angle = from + (to - from) * f32::from(step) / 16.0;
                middle + reach * Vec2::angled(angle)
            })
        };
        let mut ring: Vec<Pos2> = arc(radius).collect();
        ring.extend(arc(0.22 * radius).collect::<Vec<_>>().into_iter().rev());
        let access = state.answers.open.of(side);
        let colour = access_colour(style, access);
        let mut mesh = egui::Mesh::default();
        let outer: Vec<Pos2> = arc(radius).collect();
        let near: Vec<Pos2> = arc(0.22 * radius).collect();
        let fill = thinned(colour, if access == Access::Closed { 0.08 } else { 0.18 });
        for (index, (out, inside)) in outer.iter().zip(&near).enumerate() {
            mesh.colored_vertex(*out, fill);
            mesh.colored_vertex(*inside, fill);
            if index > 0 {
                let at = 2 * u32::try_from(index).unwrap_or(0);
                mesh.add_triangle(at - 2, at - 1, at);
                mesh.add_triangle(at - 1, at, at + 1);
            }
        }
        ui.painter().add(Shape::mesh(mesh));
        ring.push(ring[0]);
        let stroke = Stroke::new(style.px(1.6), colour);
        ui.painter().extend(match access {
            Access::Open => vec![Shape::line(ring, stroke)],
            Access::Ask => Shape::dashed_line(&ring, stroke, 8.0, 3.0),
            Access::Closed => Shape::dashed_line(&ring, stroke, 3.0, 4.0),
        });
        let centre = middle + 0.62 * radius * Vec2::angled(about);
        let place = Rect::from_center_size(centre, Vec2::new(0.62 * radius, 0.42 * radius));
        let response = ui.interact(place, ui.id().with(("side", side.key())), Sense::click());
        let words = match side {
            Side::Front => "in front",
            Side::Right => "right",
            Side::Behind => "behind",
            Side::Left => "left",
        };
        response.widget_info(|| {
            WidgetInfo::labeled(WidgetType::Button, true, format!("{words}: {}; press to change it", access.words()))
        });
        focus_ring(ui, style, &response, place);
        let name = style.fitted(ui, words, style.strong(13.0), colour, place.width());
        let short = match access {
            Access::Open => "open",
            Access::Ask => "permission",
            Access::Closed => "closed",
        };
        let term = style.fitted(ui, short, style.caption(), colour, place.width());
        ui.painter().galley(Pos2::new(centre.x - 0.5 * name.size().x, centre.y - name.size().y), name, colour);
        ui.painter().galley(Pos2::new(centre.x - 0.5 * term.size().x, centre.y + 1.0), term, colour);
        if response.on_hover_cursor(egui::CursorIcon::PointingHand).clicked() {
            let next = match access {
                Access::Open => Access::Ask,
                Access::Ask => Access::Closed,
                Access::Closed => Access::Open,
            };
            state.answers.open.set(side, next);
        }
    }
    let base = Rect::from_center_size(middle, Vec2::splat(0.24 * radius));
    ui.painter().rect(base, 2.0, style.panel(), Stroke::new(style.px(2.0), style.side()), egui::StrokeKind::Inside);
    ui.painter().hline(base.x_range(), base.bottom(), Stroke::new(style.px(4.0), style.side()));
    let galley = ui.painter().layout_no_wrap("press a side to change it".into(), style.caption(), style.soft());
    let at = Pos2::new(rect.center().x - 0.5 * galley.size().x, rect.bottom() - galley.size().y);
    ui.painter().galley(at, galley, style.soft());
}
