//! Which of these stances is better, and by what? Prints side by side, a table, and a plot of any figure.

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType};
use egui_plot::{PlotPoint, Points, Text as PlotText};

use crate::compare::{CONVERGENCE, DISTANCE, FIGURES, Figure, Unit, rows};
use crate::survey::Measured;

use super::chart::{chart, step_back};
use super::context::PanelContext;
use super::finder::middle_note;
use super::prints::{PrintsState, aspect};
use super::style::{WindowStyle, card, choice, count, text_button, within};
use crate::viewer::state::desk::{Action, Pinned, PrintAction};
use crate::wording;

/// Which figures are plotted.
#[derive(Clone, Copy, Debug)]
pub(super) struct PlotAxes {
    across: &'static Figure,
    up: &'static Figure,
}

impl Default for PlotAxes {
    fn default() -> Self {
        Self { across: &DISTANCE, up: &CONVERGENCE }
    }
}

/// The whole desk in a rectangle.
pub(super) fn compare_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    prints_state: &mut PrintsState,
    axes: &mut PlotAxes,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let gap = style.px(12.0);
    if rect.width() < style.px(620.0) {
        // One below the other.
        within(ui, "compare", rect, |ui| {
            ScrollArea::vertical().id_salt("compare 1").auto_shrink([false, false]).show(ui, |ui| {
                let width = ui.available_width();
                for (height, part) in [
                    (rect.height().max(style.px(240.0)) * if width < style.px(360.0) { 1.1 } else { 0.6 }, 0),
                    (style.px(330.0), 1),
                    (style.px(320.0), 2),
                ] {
                    let (place, _) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
                    match part {
                        0 => pictures_ui(ui, panel, prints_state, place, actions),
                        1 => table_ui(ui, panel, place),
                        _ => plot_ui(ui, panel, axes, place),
                    }
                }
            });
        });
        return;
    }
    let upper = Rect::from_min_max(rect.min, Pos2::new(rect.right(), rect.top() + 0.52 * rect.height()));
    pictures_ui(ui, panel, prints_state, upper, actions);
    let lower = Rect::from_min_max(Pos2::new(rect.left(), upper.bottom() + gap), rect.max);
    let middle = lower.left() + 0.56 * lower.width();
    let left = Rect::from_min_max(lower.min, Pos2::new(middle, lower.bottom()));
    let right = Rect::from_min_max(Pos2::new(middle + gap, lower.top()), lower.max);
    table_ui(ui, panel, left);
    plot_ui(ui, panel, axes, right);
}

fn pictures_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    prints_state: &mut PrintsState,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let laid: Vec<&Pinned> = panel.desk.laid().collect();
    if laid.is_empty() {
        card(ui, style, rect);
        let words = if panel.desk.prints().is_empty() {
            "Pin two or more stances on the Walk desk, then show them here side by side."
        } else {
            "Choose two to four prints in the list, or open a print and press Side by side."
        };
        let upper = Rect::from_min_max(rect.min, Pos2::new(rect.right(), rect.center().y));
        middle_note(ui, style, upper, words);
        let lower = Rect::from_min_max(Pos2::new(rect.left(), rect.center().y), rect.max).shrink(style.px(16.0));
        within(ui, "to lay", lower, |ui| lay_ui(ui, panel, actions));
        return;
    }
    let columns = if rect.width() < style.px(360.0) {
        1
    } else if laid.len() <= 2 || rect.width() > 2.6 * rect.height() {
        laid.len()
    } else {
        2
    };
    let rows = laid.len().div_ceil(columns);
    let gap = style.px(12.0);
    let size = Vec2::new(
        (rect.width() - gap * count(columns - 1)) / count(columns),
        (rect.height() - gap * count(rows - 1)) / count(rows),
    );
    for (index, pinned) in laid.iter().enumerate() {
        let corner =
            rect.min + Vec2::new(count(index % columns) * (size.x + gap), count(index / columns) * (size.y + gap));
        picture_ui(ui, panel, prints_state, pinned, Rect::from_min_size(corner, size), actions);
    }
}

/// Every print with a tick.
fn lay_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.horizontal_wrapped(|ui| {
        for pinned in panel.desk.prints() {
            let laid = panel.desk.laid().any(|other| other.print.id == pinned.print.id);
            let name = &pinned.print.name;
            let width = style.px(16.0) + style.px(6.8) * count(name.chars().count().min(24));
            if choice(ui, style, name, &format!("show {name} side by side"), laid, width).clicked() {
                actions.push(PrintAction::Lay(pinned.print.id, !laid).into());
            }
        }
    });
}

fn picture_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    prints_state: &mut PrintsState,
    pinned: &Pinned,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    card(ui, style, rect);
    let foot = style.px(if rect.width() < style.px(354.0) { 58.0 } else { 44.0 });
    let room = Rect::from_min_max(rect.min + Vec2::splat(style.px(10.0)), rect.max - Vec2::new(style.px(10.0), foot));
    let shape = aspect(pinned);
    let size = if room.width() / room.height().max(1.0) > shape {
        Vec2::new(room.height() * shape, room.height())
    } else {
        Vec2::new(room.width(), room.width() / shape)
    };
    let picture = Rect::from_center_size(room.center(), size);
    match prints_state.texture(ui.ctx(), pinned, picture.height()) {
        Some(texture) => {
            let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
            ui.painter().image(texture, picture, whole, egui::Color32::WHITE);
        }
        None => {
            ui.painter().rect_filled(picture, 0.0, style.well());
            let words = match &pinned.measured {
                Ok(_) => "picture is being drawn",
                Err(error) => error,
            };
            middle_note(ui, style, picture, words);
        }
    }
    ui.painter().rect_stroke(picture, 1.0, Stroke::new(1.0, style.ink()), StrokeKind::Outside);
    let response = ui.interact(picture, egui::Id::new(("laid", pinned.print.id.0)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("print {}", pinned.print.name)));
    let line = Rect::from_min_max(
        Pos2::new(rect.left() + style.px(12.0), rect.bottom() - foot + style.px(6.0)),
        rect.max - Vec2::new(style.px(12.0), style.px(8.0)),
    );
    within(ui, &format!("laid {}", pinned.print.id.0), line, |ui| {
        ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(1.0));
        let convergence = pinned.measured.as_ref().ok().and_then(|measured| CONVERGENCE.of(measured));
        let convergence = convergence.map(wording::convergence);
        let narrow = line.width() < style.px(330.0);
        if narrow {
            caption_ui(ui, style, &pinned.print.name, convergence.as_deref(), line.width());
        }
        ui.horizontal(|ui| {
            if !narrow {
                caption_ui(ui, style, &pinned.print.name, convergence.as_deref(), 0.5 * line.width());
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let id = pinned.print.id;
                let name = &pinned.print.name;
                if text_button(ui, style, "Remove", &format!("remove {name}")).clicked() {
                    actions.push(PrintAction::Lay(id, false).into());
                }
                if text_button(ui, style, "Go there", &format!("go to {name}")).clicked() {
                    actions.push(PrintAction::TakeUp(id).into());
                }
                let against = panel.desk.against().is_some_and(|other| other.print.id == id);
                let room = ui.available_width() > style.px(64.0);
                if !against
                    && room
                    && text_button(ui, style, "Compare", &format!("compare readings with {name}")).clicked()
                {
                    actions.push(PrintAction::CompareWith(Some(id)).into());
                }
            });
        });
    });
}

/// A print's name and what it converges by, in one line.
fn caption_ui(ui: &mut Ui, style: &WindowStyle, name: &str, convergence: Option<&str>, width: f32) {
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, style.px(18.0)), Sense::hover());
    let convergence = convergence.unwrap_or("not measured");
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{name}, {convergence}")));
    let note = style.fitted(ui, convergence, style.caption(), style.soft(), 0.5 * width);
    let name = style.fitted(ui, name, style.strong(13.0), style.ink(), width - note.size().x - style.px(8.0));
    let after = rect.left() + name.size().x + style.px(8.0);
    ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * name.size().y), name, style.ink());
    ui.painter().galley(Pos2::new(after, rect.center().y - 0.5 * note.size().y), note, style.soft());
}

/// Every figure of the prints that are laid, or of all of them, and of the present stance; the best of a row is bold.
fn table_ui(ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect) {
    let style = &panel.style;
    card(ui, style, rect);
    let units = panel.units();
    let laid: Vec<&Pinned> = panel.desk.laid().collect();
    let shown: Vec<&Pinned> = if laid.is_empty() { panel.desk.prints().iter().collect() } else { laid };
    let mut columns: Vec<(&str, Option<&Measured>)> = vec![("Here, now", Some(panel.measured()))];
    columns.extend(shown.iter().map(|pinned| {
        let measured = pinned.measured.as_ref().ok().map(std::convert::AsRef::as_ref);
        (pinned.print.name.as_str(), measured)
    }));
    let rows = rows(columns.iter().map(|(_, measured)| *measured));
    within(ui, "figures", rect.shrink(style.px(12.0)), |ui| {
        let height = style.px(19.0);
        let first = style.px(158.0);
        let wide = ((ui.available_width() - first - style.px(10.0)) / count(columns.len())).max(style.px(84.0));
        let width = first + wide * count(columns.len());
        let cell = |area: Rect, column: usize, line: usize| {
            let left = if column == 0 { area.left() } else { area.left() + first + wide * count(column - 1) };
            let width = if column == 0 { first } else { wide };
            Rect::from_min_size(
                Pos2::new(left, area.top() + height * count(line)),
                Vec2::new(width - style.px(8.0), height),
            )
        };
        ScrollArea::horizontal().id_salt("compare 2").auto_shrink([false, false]).show(ui, |ui| {
            // The names stay where they are while the figures scroll under them.
            let (area, _) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
            write(ui, style, cell(area, 0, 0), "bold: best in its row", false, false);
            for (index, (name, _)) in columns.iter().enumerate() {
                write(ui, style, cell(area, index + 1, 0), name, true, true);
            }
            ui.painter().hline(area.x_range(), area.bottom() - 1.0, style.hairline());
            ui.spacing_mut().item_spacing.y = 0.0;
            ScrollArea::vertical().id_salt("compare 3").auto_shrink([false, false]).show(ui, |ui| {
                let whole = Vec2::new(width, height * count(rows.len()));
                let (area, _) = ui.allocate_exact_size(whole, Sense::hover());
                for (line, row) in rows.iter().enumerate() {
                    let figure = row.figure;
                    write(ui, style, cell(area, 0, line), figure.words, false, false);
                    for (index, ((name, _), value)) in columns.iter().zip(&row.values).enumerate() {
                        let text = value.map_or_else(|| "–".to_owned(), |value| figure.written(value, units));
                        let best = row.best.contains(&index);
                        let place = cell(area, index + 1, line);
                        write(ui, style, place, &text, true, best);
                        let spoken = if best { ", best" } else { "" };
                        let id = ui.id().with((line, index));
                        ui.interact(place, id, Sense::hover()).widget_info(|| {
                            let words = format!("{name}, {}: {text}{spoken}", figure.words);
                            WidgetInfo::labeled(WidgetType::Label, true, words)
                        });
                    }
                }
            });
        });
    });
}

fn write(ui: &Ui, style: &WindowStyle, cell: Rect, text: &str, right: bool, strong: bool) {
    let font = if strong { style.strong(12.0) } else { egui::FontId::proportional(style.px(12.0)) };
    let ink = if right { style.ink() } else { style.soft() };
    let galley = style.fitted(ui, text, font, ink, cell.width());
    let left = if right { cell.right() - galley.size().x } else { cell.left() };
    ui.painter().galley(Pos2::new(left, cell.center().y - 0.5 * galley.size().y), galley, ink);
}

/// Any figure over any other, across all prints.
fn plot_ui(ui: &mut Ui, panel: &PanelContext<'_>, axes: &mut PlotAxes, rect: Rect) {
    let style = &panel.style;
    card(ui, style, rect);
    let units = panel.units();
    within(ui, "plot", rect.shrink(style.px(12.0)), |ui| {
        ui.horizontal_wrapped(|ui| {
            let width = (0.5 * (ui.available_width() - style.px(52.0))).clamp(style.px(84.0), style.px(140.0));
            figure_ui(ui, style, "up", &mut axes.up, width);
            ui.label(style.note("against"));
            figure_ui(ui, style, "across", &mut axes.across, width);
        });
        let of = |measured: &Measured| -> Option<[f64; 2]> {
            let shown = |figure: &Figure| {
                let value = figure.of(measured).map(|value| figure.shown(value, units));
                value.filter(|value| value.is_finite())
            };
            Some([shown(axes.across)?, shown(axes.up)?])
        };
        let axis = |figure: &Figure| {
            let sign = figure.sign(units);
            if sign.is_empty() { figure.words.to_owned() } else { format!("{}, {sign}", figure.words) }
        };
        // Grid and figures step back behind the stances.
        step_back(ui, style);
        let plot = chart(style, "figures plotted", axis(axes.across), axis(axes.up))
            .set_margin_fraction(Vec2::new(0.12, 0.16));
        let shown = plot.show(ui, |plot| {
            let mut taken: Vec<Rect> = Vec::new();
            let room = plot.response().rect;
            for pinned in panel.desk.prints() {
                let Some([x, y]) = pinned.measured.as_ref().ok().and_then(|measured| of(measured)) else { continue };
                let name = pinned.print.name.clone();
                plot.points(Points::new(name.clone(), vec![[x, y]]).radius(style.px(4.0)).color(style.ink()));
                // Beside its dot, where it covers no other name; pointing at a dot tells its name all the same.
                let place = plot.screen_from_plot(PlotPoint::new(x, y));
                let size = Vec2::new(style.px(5.6) * count(name.chars().count() + 3), style.px(13.0));
                let free = [
                    egui::Align2::LEFT_BOTTOM,
                    egui::Align2::LEFT_TOP,
                    egui::Align2::RIGHT_BOTTOM,
                    egui::Align2::RIGHT_TOP,
                ]
                .into_iter()
                .map(|anchor| (anchor, anchor.anchor_size(place, size)))
                .find(|(_, rect)| room.contains_rect(*rect) && !taken.iter().any(|known| known.intersects(*rect)));
                let Some((anchor, rect)) = free else { continue };
                taken.push(rect);
                taken.push(Rect::from_center_size(place, Vec2::splat(style.px(8.0))));
                let label = egui::RichText::new(format!("  {name}  ")).font(style.figure());
                let text = PlotText::new("name", PlotPoint::new(x, y), label).anchor(anchor).color(style.soft());
                plot.text(text.allow_hover(false));
            }
            if let Some([x, y]) = of(panel.measured()) {
                let ring =
                    Points::new("here, now", vec![[x, y]]).radius(style.px(6.0)).filled(false).color(style.ink());
                plot.points(ring);
            }
        });
        let words = format!("plot of {} against {}", axes.up.words, axes.across.words);
        ui.ctx().accesskit_node_builder(shown.response.id, |node| node.set_label(words));
    });
}

fn figure_ui(ui: &mut Ui, style: &WindowStyle, name: &str, figure: &mut &'static Figure, width: f32) {
    let response = egui::ComboBox::from_id_salt(("figure", name))
        .selected_text(style.note(figure.words).color(style.ink()))
        .width(width)
        .truncate()
        .show_ui(ui, |ui| {
            // A yes or no has no place on an axis.
            for other in FIGURES.iter().filter(|figure| figure.unit != Unit::YesNo) {
                ui.selectable_value(figure, other, other.words);
            }
        });
    ui.ctx().accesskit_node_builder(response.response.id, |node| {
        node.set_label(format!("figure plotted {name}: {}", figure.words));
    });
}
