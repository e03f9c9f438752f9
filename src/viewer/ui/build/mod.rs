//! The Build desk: the plan is a sheet of paper on which things are set down and moved; beside it stand the picture with its
//! verdict, the section, and what is chosen with its dimensions.

mod answers;
mod arrange;
mod card_block;
mod chosen;
mod contours;
mod fields;
mod grounds;
mod hands;
mod head;
mod inputs;
mod marks;
mod new_site;
mod paper;
mod section;
mod sheet;
mod shelf;
pub(super) mod state;
mod steps;
mod underlay;
mod underlay_state;
mod whole_site;
mod work_out;

use bevy_egui::egui::{Pos2, Rect, Ui, Vec2};

use super::FinderPicture;
use super::context::PanelContext;
use super::finder::finder_ui;
use super::panels::{Panels, WindowOutput};
use super::parts::problem_strip;
use super::style::{card, within};
use super::verdict::{mends_ui, verdict_ui};

/// The whole desk in a rectangle.
pub(super) fn build_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    if new_site::new_site_ui(panels, ui, panel, body, picture, output) {
        return;
    }
    let style = &panel.style;
    let gap = style.px(12.0);
    let wide = body.width() >= style.px(760.0);
    let side = if wide { style.px(330.0).min(0.36 * body.width()) } else { 0.0 };
    let left =
        Rect::from_min_max(body.min, Pos2::new(body.right() - if wide { side + gap } else { 0.0 }, body.bottom()));
    let head = Rect::from_min_size(left.min + Vec2::new(gap, 0.0), Vec2::new(left.width() - gap, style.px(28.0)));
    within(ui, "build head", head, |ui| head::head_ui(ui, panel, &mut panels.build, &mut output.actions));
    let low = body.height() < style.px(620.0);
    let steps_height = style.px(46.0);
    let shelf_height = if low { style.px(58.0) } else { style.px(92.0) };
    let sheet = Rect::from_min_max(
        Pos2::new(left.left() + if wide { gap } else { 0.0 }, head.bottom() + style.px(6.0)),
        Pos2::new(left.right(), left.bottom() - shelf_height - steps_height - 2.0 * style.px(8.0)),
    );
    card(ui, style, sheet);
    let inner = problem_strip(ui, panel, sheet.shrink(style.px(2.0)));
    sheet::sheet_ui(ui, panel, &mut panels.build, &mut panels.drawings, inner, &mut output.actions);
    let shelf = Rect::from_min_size(
        Pos2::new(sheet.left(), sheet.bottom() + style.px(8.0)),
        Vec2::new(sheet.width(), shelf_height),
    );
    shelf::shelf_ui(ui, panel, &mut panels.build, shelf, low);
    let steps = Rect::from_min_size(
        Pos2::new(sheet.left(), shelf.bottom() + style.px(8.0)),
        Vec2::new(sheet.width(), steps_height),
    );
    steps::steps_ui(ui, panel, &mut panels.build, steps, &mut output.actions);
    if wide {
        let column = Rect::from_min_max(Pos2::new(body.right() - side, body.top()), body.max);
        column_ui(panels, ui, panel, column, picture, output);
    }
}

/// The picture with its verdict, and under it the section and what is chosen.
fn column_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    column: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let gap = style.px(10.0);
    let top_height = (0.34 * column.height()).min(style.px(330.0));
    let frame = panel.shown_frame();
    let tall = frame.height_mm > frame.width_mm;
    let top = Rect::from_min_size(column.min, Vec2::new(column.width(), top_height));
    let (finder, words) = if tall {
        let width = (0.62 * top.height()).min(0.5 * top.width());
        let finder = Rect::from_min_size(top.min, Vec2::new(width, top.height()));
        (finder, Rect::from_min_max(Pos2::new(finder.right() + gap, top.top()), top.max))
    } else {
        let finder = Rect::from_min_size(top.min, Vec2::new(top.width(), 0.62 * top.height()));
        (finder, Rect::from_min_max(Pos2::new(top.left(), finder.bottom() + style.px(4.0)), top.max))
    };
    output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, finder, picture, &mut output.actions));
    within(ui, "build verdict", words, |ui| {
        verdict_ui(ui, panel, if tall { 22.0 } else { 18.0 });
    });
    let mends = Rect::from_min_size(
        Pos2::new(column.left(), top.bottom() + style.px(6.0)),
        Vec2::new(column.width(), style.px(if panel.measured().verdict.upright { 0.0 } else { 84.0 })),
    );
    within(ui, "build mends", mends, |ui| mends_ui(ui, panel, &mut panels.ways));
    let sheet = Rect::from_min_max(Pos2::new(column.left(), mends.bottom() + gap), column.max);
    card(ui, style, sheet);
    let inner = sheet.shrink(style.px(12.0));
    let section = Rect::from_min_size(inner.min, Vec2::new(inner.width(), (0.4 * inner.height()).min(style.px(210.0))));
    section::section_ui(ui, panel, &mut panels.build, &mut panels.drawings, section, &mut output.actions);
    let rest = Rect::from_min_max(Pos2::new(inner.left(), section.bottom() + gap), inner.max);
    ui.painter().hline(rest.x_range(), rest.top() - 0.5 * gap, style.hairline());
    within(ui, "chosen", rest, |ui| chosen::chosen_ui(ui, panel, &mut panels.build, &mut output.actions));
}
