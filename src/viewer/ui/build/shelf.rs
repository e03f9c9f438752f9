//! Which shapes are there? A shelf of card blocks: one is picked up, and set down on the plan.

use std::sync::Arc;

use bevy_egui::egui::{self, Pos2, Rect, Sense, Shape, Ui, Vec2, WidgetInfo, WidgetType};

use crate::site::{Shape as Form, figures, form_words, palette};

use super::super::context::PanelContext;
use super::super::style::{WindowStyle, count, focus_ring, within};
use super::card_block::{CardView, card_drawing, of_shape};
use super::hands::Held;
use super::state::BuildState;

/// The drawings of the shelf, kept while nothing in them changes.
#[derive(Clone)]
struct ShelfDrawings {
    style: WindowStyle,
    place: Rect,
    shapes: Arc<Vec<Vec<Shape>>>,
}

/// What lies on the shelf: the word under it, the name of a new block, and its shape.
pub(super) fn on_the_shelf() -> Vec<(&'static str, &'static str, Form)> {
    let shapes = palette().into_iter().map(|shape| (label(&shape), form_words(&shape), shape));
    shapes.chain(figures().map(|(name, shape)| (name, name, shape))).collect()
}

/// The shelf; a low one has no words under its blocks.
pub(super) fn shelf_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, rect: Rect, low: bool) {
    let style = &panel.style;
    let shapes = on_the_shelf();
    let title_width = if rect.width() > style.px(720.0) { style.px(118.0) } else { 0.0 };
    if title_width > 0.0 {
        let title = Rect::from_min_size(
            rect.min + Vec2::new(style.px(4.0), style.px(12.0)),
            Vec2::new(title_width, rect.height()),
        );
        within(ui, "shelf title", title, |ui| {
            ui.spacing_mut().item_spacing.y = style.px(2.0);
            ui.label(style.title("Shapes"));
            ui.label(style.note("pick one up and\nset it on the plan"));
        });
    }
    let row = Rect::from_min_max(Pos2::new(rect.left() + title_width, rect.top()), rect.max);
    let words = if low { 0.0 } else { style.px(20.0) };
    let width = row.width() / count(shapes.len());
    let board = row.bottom() - words;
    ui.painter().hline(row.x_range(), board, style.control());
    let drawings = drawings(ui, style, row, width, board);
    for (index, (name, ..)) in shapes.iter().enumerate() {
        let place = Rect::from_min_size(
            Pos2::new(row.left() + count(index) * width, row.top()),
            Vec2::new(width, row.height()),
        );
        let held = state.held == Held::Shape(index);
        let response = ui.interact(place, ui.id().with(("shape", index)), Sense::click());
        response
            .widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, held, format!("shape: {name}")));
        if held || response.hovered() {
            ui.painter().rect_filled(place.shrink(1.0), 4.0, style.well());
        }
        focus_ring(ui, style, &response, place.shrink(3.0));
        if let Some(drawn) = drawings.get(index) {
            ui.painter().extend(drawn.iter().cloned());
        }
        if held {
            let bar = Rect::from_min_max(
                Pos2::new(place.left() + 2.0, board - style.px(2.0)),
                Pos2::new(place.right() - 2.0, board + style.px(1.5)),
            );
            ui.painter().rect_filled(bar, 0.0, style.ink());
        }
        if !low {
            let font = if held { style.strong(12.0) } else { style.caption() };
            let ink = if held { style.ink() } else { style.soft() };
            let galley = style.fitted(ui, name, font, ink, width - 2.0);
            let at = Pos2::new(place.center().x - 0.5 * galley.size().x, board + style.px(3.0));
            ui.painter().galley(at, galley, ink);
        }
        if response.clicked() {
            state.held = if held { Held::Nothing } else { Held::Shape(index) };
            state.outline.clear();
        }
        response.on_hover_cursor(egui::CursorIcon::Grab).on_hover_text(*name);
    }
}

/// What a shape is called under its block.
const fn label(shape: &Form) -> &'static str {
    match shape {
        Form::Box { .. } => "box",
        Form::Prism { .. } => "outline",
        Form::RoundTaper { .. } => "round",
        Form::PolygonTaper { .. } => "sided",
        Form::Dome { .. } => "dome",
        Form::Gable { .. } => "gable",
        Form::Hip { .. } => "hip",
        Form::Steps { .. } => "steps",
        Form::Wall { .. } => "wall",
        Form::Stage { .. } => "stage",
        Form::Mast { .. } => "mast",
        Form::Tree { .. } => "tree",
        Form::Facade { .. } => "façade",
    }
}

fn drawings(ui: &Ui, style: &WindowStyle, row: Rect, width: f32, board: f32) -> Arc<Vec<Vec<Shape>>> {
    let id = ui.id().with("shelf drawings");
    let known: Option<ShelfDrawings> = ui.data(|data| data.get_temp(id));
    if let Some(known) = known.filter(|known| known.style == *style && known.place == row) {
        return known.shapes;
    }
    let drawn = |(index, (_, _, shape))| {
        let place = Rect::from_min_max(
            Pos2::new(row.left() + count(index) * width + style.px(6.0), row.top() + style.px(6.0)),
            Pos2::new(row.left() + (count(index) + 1.0) * width - style.px(6.0), board - 1.0),
        );
        of_shape(shape).map_or_else(Vec::new, |solid| card_drawing(style, &[&solid], CardView::oblique(), place).shapes)
    };
    let shapes = Arc::new(on_the_shelf().into_iter().enumerate().map(drawn).collect::<Vec<_>>());
    let kept = ShelfDrawings { style: *style, place: row, shapes: Arc::clone(&shapes) };
    ui.data_mut(|data| data.insert_temp(id, kept));
    shapes
}
