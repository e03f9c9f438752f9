//! Which kinds of ground are there? Their key is what one picks up to draw; beside it the dividers, to measure with.

use bevy_egui::egui::{self, Pos2, Rect, Sense, Stroke, Ui, Vec2, WidgetInfo, WidgetType};

use crate::site::Access;

use super::super::context::PanelContext;
use super::super::style::{WindowStyle, count, focus_ring, thinned, within};
use super::hands::{DrawnLine, Held};
use super::marks::access_colour;
use super::state::BuildState;

/// The height of a row of the key, in units of the drawing.
const ROW: f32 = 23.0;
/// The key's width.
const WIDTH: f32 = 182.0;

/// What can be picked up from the key.
const ROWS: [Held; 7] = [
    Held::Ground(Access::Open),
    Held::Ground(Access::Ask),
    Held::Ground(Access::Closed),
    Held::Line(DrawnLine::Path),
    Held::Line(DrawnLine::Kerb),
    Held::Line(DrawnLine::Contour),
    Held::Dividers,
];

/// Where the key lies; nowhere on a small sheet.
pub(super) fn key_place(style: &WindowStyle, sheet: Rect) -> Rect {
    if sheet.width() < style.px(420.0) || sheet.height() < style.px(260.0) {
        return Rect::NOTHING;
    }
    let size = Vec2::new(style.px(WIDTH), style.px(44.0) + count(ROWS.len()) * style.px(ROW));
    Rect::from_min_size(sheet.min + Vec2::splat(style.px(6.0)), size)
}

/// The key in the sheet's upper left corner.
pub(super) fn key_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, sheet: Rect) {
    let style = &panel.style;
    let place = key_place(style, sheet).shrink(style.px(4.0));
    if !place.is_positive() {
        return;
    }
    ui.painter().rect_filled(place.expand(style.px(4.0)), 6.0, thinned(style.panel(), 0.94));
    within(ui, "grounds", place, |ui| {
        ui.spacing_mut().item_spacing = Vec2::ZERO;
        ui.label(style.title("Plan"));
        let words = match state.held {
            Held::Nothing => "pick a ground and draw it",
            Held::Shape(_) => "press where it stands",
            Held::Ground(_) => "press its corners; Enter closes it",
            Held::Line(_) => "press its corners; Enter ends it",
            Held::Dividers => "drag from place to place",
            Held::PictureMark => "press a point on the picture",
        };
        ui.label(style.note(words));
        for held in ROWS {
            row_ui(ui, panel, state, held);
        }
    });
}

fn row_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, held: Held) {
    let style = &panel.style;
    let words = match held {
        Held::Ground(access) => access.words(),
        Held::Line(DrawnLine::Path) => "path",
        Held::Line(DrawnLine::Kerb) => "kerb",
        Held::Line(DrawnLine::Contour) => "contour",
        Held::Dividers => "measure",
        Held::Nothing | Held::Shape(_) | Held::PictureMark => return,
    };
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(ROW)), Sense::click());
    let chosen = state.held == held;
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, chosen, format!("draw: {words}")));
    if chosen || response.hovered() {
        ui.painter().rect_filled(rect, 4.0, style.well());
    }
    focus_ring(ui, style, &response, rect);
    let sign = Rect::from_center_size(
        Pos2::new(rect.left() + style.px(18.0), rect.center().y),
        Vec2::new(style.px(24.0), style.px(16.0)),
    );
    let ink = match held {
        Held::Ground(access) => {
            pattern(ui, panel, sign, access);
            access_colour(style, access)
        }
        Held::Line(line) => {
            drawn_line(ui, panel, sign, line);
            style.ink()
        }
        Held::Dividers | Held::Nothing | Held::Shape(_) | Held::PictureMark => {
            dividers(ui, panel, sign);
            style.ink()
        }
    };
    let font = if chosen { style.strong(13.0) } else { style.body() };
    let galley = style.fitted(ui, words, font, ink, rect.width() - style.px(42.0));
    ui.painter().galley(Pos2::new(rect.left() + style.px(38.0), rect.center().y - 0.5 * galley.size().y), galley, ink);
    if response.clicked() {
        state.held = if chosen { Held::Nothing } else { held };
        state.outline.clear();
        state.measured = None;
    }
    response.on_hover_cursor(egui::CursorIcon::PointingHand);
}

/// The pattern of an access, as on the plan: plain, outlined and dashed within, hatched.
fn pattern(ui: &Ui, panel: &PanelContext<'_>, rect: Rect, access: Access) {
    let style = &panel.style;
    let colour = access_colour(style, access);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    match access {
        Access::Open => {
            painter.rect_filled(rect, 2.0, thinned(colour, 0.12));
        }
        Access::Ask => {
            painter.rect_filled(rect, 2.0, thinned(colour, 0.12));
            for row in [0.35, 0.7] {
                let y = rect.top() + row * rect.height();
                let ends = [Pos2::new(rect.left(), y), Pos2::new(rect.right(), y)];
                painter.extend(egui::Shape::dashed_line(&ends, Stroke::new(1.0, colour), 3.0, 3.0));
            }
        }
        Access::Closed => {
            let mut x = rect.left() - rect.height();
            while x < rect.right() {
                let ends = [Pos2::new(x, rect.bottom()), Pos2::new(x + rect.height(), rect.top())];
                painter.line_segment(ends, Stroke::new(1.0, thinned(colour, 0.7)));
                x += style.px(5.0);
            }
        }
    }
    painter.rect_stroke(rect, 2.0, Stroke::new(1.2, colour), egui::StrokeKind::Inside);
}

/// A path, a kerb or contours, as they lie on the plan.
fn drawn_line(ui: &Ui, panel: &PanelContext<'_>, rect: Rect, line: DrawnLine) {
    let style = &panel.style;
    let ends = |up: f32| {
        let at =
            |across: f32, up: f32| Pos2::new(rect.left() + across * rect.width(), rect.bottom() - up * rect.height());
        [at(0.0, up), at(0.35, up + 0.2), at(0.65, up + 0.1), at(1.0, up + 0.3)]
    };
    let (rows, stroke): (&[f32], Stroke) = match line {
        DrawnLine::Path => (&[0.2, 0.5], Stroke::new(1.2, access_colour(style, Access::Open))),
        DrawnLine::Kerb => (&[0.35], Stroke::new(2.6, style.ink())),
        DrawnLine::Contour => (&[0.05, 0.35, 0.65], Stroke::new(1.0, style.soft())),
    };
    for row in rows {
        ui.painter().add(egui::Shape::line(ends(*row).to_vec(), stroke));
    }
}

fn dividers(ui: &Ui, panel: &PanelContext<'_>, rect: Rect) {
    let stroke = Stroke::new(1.4, panel.style.ink());
    let top = Pos2::new(rect.center().x, rect.top() + 1.0);
    for side in [-0.25, 0.25] {
        ui.painter().line_segment([top, Pos2::new(rect.center().x + side * rect.width(), rect.bottom())], stroke);
    }
    ui.painter().circle_filled(top, 1.8, panel.style.ink());
}
