//! How is the Walk desk laid out? What one turns lies on the table; what the stance answers stands on one sheet: the picture
//! first, then the verdict with its figures, the ways to straighten it, and the plan.
//!
//! A portrait picture takes the whole height of the sheet and everything else stands beside it; a landscape one has the verdict
//! below.

use bevy_egui::egui::{Pos2, Rect, ScrollArea, Ui, Vec2};

use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::Action;

use super::FinderPicture;
use super::camera::{camera_ui, undo_redo_ui};
use super::context::PanelContext;
use super::finder::finder_ui;
use super::guide::{guide_height, guide_strip_ui};
use super::handover::works_ui;
use super::notices::cautions_ui;
use super::panels::{Panels, WalkPart, WindowOutput};
use super::parts::{TWO_COLUMNS, edge, filled, has_cautions, problem_strip, scrolled};
use super::plan::{plan_ui, section_ui};
use super::prints::{prints_height, prints_list_ui, strip_ui};
use super::readings::readings_ui;
use super::style::{WindowStyle, card, choice, count, row_widths, within};
use super::tolerance::{tolerance_ui, ways_of_moving_ui};
use super::verdict::{figures_height, figures_ui, header_ui, mends_ui, more_ui, rule_ui, verdict_ui};
use super::ways::{ways_height, ways_ui};

/// How wide the controls are, in units of the drawing.
pub(super) const CONTROLS: f32 = 204.0;
/// Narrower windows show the controls, the plan and the ways one at a time.
const ALL_AT_ONCE: f32 = 980.0;
/// What stands beside a picture is no narrower than this, where that can be helped, and no broader.
const ANSWER: (f32, f32) = (330.0, 640.0);
/// What a landscape picture leaves below it.
const BELOW: f32 = 286.0;
/// The plan is no lower than this.
const PLAN: f32 = 150.0;
/// The switch between plan and section.
const SWITCH: f32 = 26.0;
/// What the tolerance takes in words below a plan.
const TOLERANCE: f32 = 124.0;
/// Where the plan is broader than this, what belongs to it stands beside it.
const PLAN_BESIDE: f32 = 400.0;

/// The Walk desk: the picture is large.
pub(super) fn walk(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let window = ui.ctx().content_rect();
    if window.width() < style.px(TWO_COLUMNS) || window.height() < style.px(420.0) {
        return walk_small(panels, ui, panel, body, picture, output);
    }
    let controls_left = body.left() + style.px(12.0);
    let controls =
        Rect::from_min_size(Pos2::new(controls_left, body.top()), Vec2::new(style.px(CONTROLS), body.height()));
    let sheet = Rect::from_min_max(Pos2::new(controls.right() + style.px(14.0), body.top()), body.max);
    if window.width() >= style.px(ALL_AT_ONCE) {
        controls_ui(panels, ui, panel, controls, output);
        sheet_ui(panels, ui, panel, sheet, picture, output);
        return;
    }
    // What finds no room beside the picture stands in the place of the controls, each behind its word.
    let parts = [WalkPart::Camera, WalkPart::Plan, WalkPart::Ways];
    let left = Rect::from_min_max(body.min, Pos2::new(controls.right(), body.bottom()));
    walk_part_ui(panels, ui, panel, left.with_min_x(body.left() + style.px(8.0)), &parts, output);
    narrow_sheet_ui(panels, ui, panel, sheet, picture, output);
}

/// What one turns, and the prints under it: all on the table, without a box.
fn controls_ui(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, output: &mut WindowOutput) {
    let style = &panel.style;
    let works = panel.desk.works().len().min(3);
    let works_height = style.px(34.0) * count(works);
    let prints = prints_height(panel, rect.height());
    let bottom = rect.bottom() - prints - works_height;
    let camera = Rect::from_min_max(rect.min, Pos2::new(rect.right(), bottom - style.px(6.0)));
    within(ui, "camera", camera, |ui| camera_ui(ui, panel, &mut panels.heights, &mut output.actions));
    if works > 0 {
        let strip = Rect::from_min_size(Pos2::new(rect.left(), bottom), Vec2::new(rect.width(), works_height));
        within(ui, "works", strip, |ui| works_ui(ui, panel, &mut output.actions));
    }
    let strip = Rect::from_min_max(Pos2::new(rect.left(), rect.bottom() - prints), rect.max);
    strip_ui(ui, panel, &mut panels.prints, strip, &mut output.actions);
}

/// What is left of the sheet for what the stance answers, once faults of the file and the guide have their place.
fn cleared(ui: &mut Ui, panel: &PanelContext<'_>, sheet: Rect, output: &mut WindowOutput) -> Rect {
    let style = &panel.style;
    card(ui, style, sheet);
    let mut inner = sheet.shrink(style.px(12.0));
    inner = problem_strip(ui, panel, inner);
    if panel.desk.guide() && inner.width() > style.px(620.0) {
        let height = guide_height(style);
        let strip = Rect::from_min_max(Pos2::new(inner.left(), inner.bottom() - height), inner.max);
        guide_strip_ui(ui, panel, strip, &mut output.actions);
        inner.set_bottom(strip.top() - style.px(8.0));
    }
    inner
}

/// The picture with everything that the stance answers.
fn sheet_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    sheet: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let inner = cleared(ui, panel, sheet, output);
    let gap = style.px(22.0);
    let frame = panel.shown_frame();
    let shape = screen(frame.width_mm / frame.height_mm);
    let least = style.px(ANSWER.0);
    if shape < 1.0 {
        let width = (inner.height() * shape).min(inner.width() - least - gap).max(style.px(120.0));
        let area = Rect::from_min_size(inner.min, Vec2::new(width, (width / shape).min(inner.height())));
        output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, area, picture, &mut output.actions));
        let beside = Rect::from_min_max(Pos2::new(area.right() + gap, inner.top()), inner.max);
        let rest = answer_ui(panels, ui, panel, beside, &mut output.actions);
        let rule = style.px(13.0);
        ui.painter().hline(rest.x_range(), rest.top() + 0.5 * rule, style.hairline());
        lower_ui(panels, ui, panel, rest.with_min_y(rest.top() + rule), output);
        return;
    }
    let most_height = inner.height() - style.px(BELOW);
    let side = (0.36 * inner.width()).clamp(least, style.px(ANSWER.1));
    let width = (most_height * shape).min(inner.width() - side - gap).max(style.px(160.0));
    let area = Rect::from_min_size(inner.min, Vec2::new(width, width / shape));
    output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, area, picture, &mut output.actions));
    let below = Rect::from_min_max(
        Pos2::new(area.left(), area.bottom() + style.px(8.0)),
        Pos2::new(area.right(), inner.bottom()),
    );
    answer_ui(panels, ui, panel, below, &mut output.actions);
    let beside = Rect::from_min_max(Pos2::new(area.right() + gap, inner.top()), inner.max);
    lower_ui(panels, ui, panel, beside, output);
}

/// The picture with the verdict, where ways and plan find no room.
fn narrow_sheet_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    sheet: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let inner = cleared(ui, panel, sheet, output);
    let prints = style.px(34.0);
    let answer = style.px(BELOW).min(0.5 * inner.height());
    let area =
        Rect::from_min_max(inner.min, Pos2::new(inner.right(), inner.bottom() - answer - prints - style.px(8.0)));
    output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, area, picture, &mut output.actions));
    let below =
        Rect::from_min_size(Pos2::new(inner.left(), area.bottom() + style.px(8.0)), Vec2::new(inner.width(), answer));
    answer_ui(panels, ui, panel, below, &mut output.actions);
    let strip = Rect::from_min_max(Pos2::new(inner.left(), inner.bottom() - prints), inner.max);
    within(ui, "prints in words", strip, |ui| prints_list_ui(ui, panel, &mut output.actions));
}

/// The verdict and what it rests on, from the top of a place; what of the place is left below.
fn answer_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    rect: Rect,
    actions: &mut Vec<Action>,
) -> Rect {
    let style = &panel.style;
    // In a low place the verdict is smaller, so that its figures stay.
    let low = rect.height() < style.px(BELOW + 8.0);
    let used = within(ui, "answer", rect, |ui| {
        ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(2.0));
        let top = ui.cursor().top();
        header_ui(ui, panel, actions);
        ui.add_space(style.px(if low { 0.0 } else { 4.0 }));
        verdict_ui(ui, panel, if low { 26.0 } else { 34.0 });
        mends_ui(ui, panel, &mut panels.ways);
        if low {
            ui.add_space(style.px(4.0));
        } else {
            rule_ui(ui, style);
        }
        if rect.bottom() - ui.cursor().top() >= figures_height(style) {
            figures_ui(ui, panel);
        }
        more_ui(ui, panel, &mut panels.drawings, actions);
        if has_cautions(panel) {
            ui.add_space(style.px(4.0));
            cautions_ui(ui, panel, (rect.bottom() - ui.cursor().top()).max(style.px(20.0)).min(style.px(70.0)));
        }
        ui.cursor().top() - top
    });
    Rect::from_min_max(Pos2::new(rect.left(), (rect.top() + used).min(rect.bottom())), rect.max)
}

/// The ways, and the plan or section with the tolerance.
fn lower_ui(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, output: &mut WindowOutput) {
    let style = &panel.style;
    let mut rest = rect;
    let narrow = rect.width() < style.px(PLAN_BESIDE);
    let below = style.px(PLAN) + if narrow { style.px(SWITCH) } else { 0.0 };
    let height = ways_height(panel, &panels.ways, rest.height(), below + style.px(8.0));
    let ways = Rect::from_min_size(rest.min, Vec2::new(rest.width(), height));
    within(ui, "ways", ways, |ui| ways_ui(ui, panel, &mut panels.ways, &mut output.actions));
    if panels.ways.all {
        return;
    }
    rest.set_top(ways.bottom() + style.px(8.0));
    drawings_ui(panels, ui, panel, rest, output);
}

/// The plan or the section, and beside it or below what belongs to it.
fn drawings_ui(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, output: &mut WindowOutput) {
    let style = &panel.style;
    if rect.height() < style.px(60.0) {
        return;
    }
    let (drawing, words) = if rect.width() >= style.px(PLAN_BESIDE) {
        let middle = rect.right() - style.px(168.0);
        (
            Rect::from_min_max(rect.min, Pos2::new(middle - style.px(14.0), rect.bottom())),
            Rect::from_min_max(Pos2::new(middle, rect.top()), rect.max),
        )
    } else {
        // Under a low plan there is room for the switch alone: arrows and brackets tell the tolerance.
        let words_height = style.px(if rect.height() < style.px(340.0) { SWITCH } else { SWITCH + TOLERANCE });
        let middle = rect.bottom() - words_height;
        (
            Rect::from_min_max(rect.min, Pos2::new(rect.right(), middle - style.px(6.0))),
            Rect::from_min_max(Pos2::new(rect.left(), middle), rect.max),
        )
    };
    drawing_ui(panels, ui, panel, drawing, output);
    within(ui, "tolerance", words, |ui| {
        ui.spacing_mut().item_spacing = Vec2::new(style.px(4.0), style.px(4.0));
        let switch = Rect::from_min_max(Pos2::new(words.left(), words.bottom() - style.px(SWITCH)), words.max);
        let above = Rect::from_min_max(words.min, Pos2::new(words.right(), switch.top() - style.px(6.0)));
        if above.height() >= style.px(40.0) {
            within(ui, "how exactly", above, |ui| {
                ui.label(style.title("Tolerance"));
                ways_of_moving_ui(ui, panel, &mut panels.as_set);
                ScrollArea::vertical()
                    .id_salt("tolerance")
                    .auto_shrink([false, false])
                    .show(ui, |ui| tolerance_ui(ui, panel));
            });
        }
        within(ui, "plan or section", switch, |ui| switch_ui(ui, style, &mut panels.section));
    });
}

fn switch_ui(ui: &mut Ui, style: &WindowStyle, section: &mut bool) {
    let gap = style.px(4.0);
    let widths = row_widths(ui, style, ["Plan", "Section"], (ui.available_width() - gap).min(style.px(180.0)));
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = gap;
        for ((word, of), width) in [("Plan", false), ("Section", true)].into_iter().zip(widths) {
            if choice(ui, style, word, word, *section == of, width).clicked() {
                *section = of;
            }
        }
    });
}

fn drawing_ui(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, output: &mut WindowOutput) {
    let style = &panel.style;
    ui.painter().rect_filled(rect, 6.0, super::style::thinned(style.well(), 0.45));
    if panels.section {
        section_ui(ui, panel, &mut panels.drawings, rect);
    } else {
        plan_ui(ui, panel, &mut panels.drawings, rect, None, &mut output.actions);
    }
    edge(ui, style, rect);
}

/// One place that several parts share, each behind its word.
fn walk_part_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    rect: Rect,
    parts: &[WalkPart],
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    if !parts.contains(&panels.walk_part) {
        panels.walk_part = parts.first().copied().unwrap_or_default();
    }
    let row = Rect::from_min_size(rect.min, Vec2::new(rect.width(), style.px(26.0)));
    within(ui, "folds", row, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(4.0);
            let width = (rect.width() - style.px(4.0) * count(parts.len() - 1)) / count(parts.len());
            for (part, word) in WalkPart::ALL.into_iter().filter(|(part, _)| parts.contains(part)) {
                if choice(ui, style, word, word, panels.walk_part == part, width).clicked() {
                    panels.walk_part = part;
                }
            }
        });
    });
    let rest = Rect::from_min_max(Pos2::new(rect.left(), row.bottom() + style.px(6.0)), rect.max);
    match panels.walk_part {
        WalkPart::Camera => {
            within(ui, "camera", rest, |ui| camera_ui(ui, panel, &mut panels.heights, &mut output.actions));
        }
        WalkPart::Readings => scrolled(ui, style, "readings", rest, |ui| {
            cautions_ui(ui, panel, f32::INFINITY);
            header_ui(ui, panel, &mut output.actions);
            verdict_ui(ui, panel, 22.0);
            mends_ui(ui, panel, &mut panels.ways);
            ui.add_space(style.px(4.0));
            figures_ui(ui, panel);
            readings_ui(ui, panel);
        }),
        WalkPart::Plan => {
            let middle = rest.top() + 0.62 * rest.height();
            let plan = Rect::from_min_max(rest.min, Pos2::new(rest.right(), middle - style.px(6.0)));
            let section = Rect::from_min_max(Pos2::new(rest.left(), middle + style.px(6.0)), rest.max);
            card(ui, style, plan);
            plan_ui(ui, panel, &mut panels.drawings, plan, None, &mut output.actions);
            edge(ui, style, plan);
            card(ui, style, section);
            section_ui(ui, panel, &mut panels.drawings, section);
            edge(ui, style, section);
        }
        WalkPart::Ways => filled(ui, style, "ways", rest, |ui| {
            panels.ways.all = true;
            ways_ui(ui, panel, &mut panels.ways, &mut output.actions);
        }),
        WalkPart::Prints => scrolled(ui, style, "prints in words", rest, |ui| {
            prints_list_ui(ui, panel, &mut output.actions);
            works_ui(ui, panel, &mut output.actions);
            undo_redo_ui(ui, panel, &mut output.actions);
        }),
    }
}

/// A small window: the finder, and one other part beside it or below.
fn walk_small(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let gap = style.px(8.0);
    let beside = body.width() > body.height() * 1.15;
    let (finder, other) = if beside {
        let middle = body.right() - style.px(252.0).min(0.5 * body.width());
        (
            Rect::from_min_max(body.min, Pos2::new(middle - gap, body.bottom())),
            Rect::from_min_max(Pos2::new(middle, body.top()), body.max),
        )
    } else {
        let middle = body.top() + 0.42 * body.height();
        (
            Rect::from_min_max(body.min, Pos2::new(body.right(), middle - gap)),
            Rect::from_min_max(Pos2::new(body.left(), middle), body.max),
        )
    };
    let cautioned = has_cautions(panel);
    let strip = if cautioned { style.px(34.0).min(0.25 * finder.height()) } else { 0.0 };
    let area = Rect::from_min_max(finder.min, Pos2::new(finder.right(), finder.bottom() - strip));
    output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, area, picture, &mut output.actions));
    if cautioned {
        let rect = Rect::from_min_max(Pos2::new(finder.left(), area.bottom() + style.px(4.0)), finder.max);
        within(ui, "beware", rect, |ui| {
            cautions_ui(ui, panel, rect.height());
        });
    }
    let all: Vec<WalkPart> = WalkPart::ALL.map(|(part, _)| part).to_vec();
    walk_part_ui(panels, ui, panel, other, &all, output);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fold_has_a_word_of_its_own() {
        for (index, (part, word)) in WalkPart::ALL.into_iter().enumerate() {
            assert!(WalkPart::ALL[..index].iter().all(|(other, known)| *other != part && *known != word));
        }
        assert!(WalkPart::ALL.iter().any(|(part, _)| *part == WalkPart::default()));
    }
}
