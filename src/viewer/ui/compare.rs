//! Which of these stances is better, and by what? Prints side by side, a table, and a plot of any figure.

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType};
use egui_plot::{PlotPoint, Points, Text as PlotText};

use crate::compare::{CLOSING, DISTANCE, FIGURES, Figure, Unit, convergence_words, rows};
use crate::survey::Measured;

use super::chart::{chart, step_back};
use super::finder::middle_note;
use super::prints::{Handling, aspect};
use super::style::{Look, card, choice, count, within, word_button};
use super::table::Table;
use crate::viewer::state::desk::{Action, Pinned, PrintAction};

/// Which figures are plotted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axes {
    across: &'static Figure,
    up: &'static Figure,
}

impl Default for Axes {
    fn default() -> Self {
        Self { across: &DISTANCE, up: &CLOSING }
    }
}

/// The whole desk in a rectangle.
pub(super) fn compare_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    handling: &mut Handling,
    axes: &mut Axes,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    let gap = look.px(12.0);
    if rect.width() < look.px(620.0) {
        // One below the other.
        within(ui, "compare", rect, |ui| {
            ScrollArea::vertical().id_salt("compare 1").auto_shrink([false, false]).show(ui, |ui| {
                let width = ui.available_width();
                for (height, part) in [
                    (rect.height().max(look.px(240.0)) * if width < look.px(360.0) { 1.1 } else { 0.6 }, 0),
                    (look.px(330.0), 1),
                    (look.px(320.0), 2),
                ] {
                    let (place, _) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
                    match part {
                        0 => pictures_ui(ui, table, handling, place, actions),
                        1 => table_ui(ui, table, place),
                        _ => plot_ui(ui, table, axes, place),
                    }
                }
            });
        });
        return;
    }
    let upper = Rect::from_min_max(rect.min, Pos2::new(rect.right(), rect.top() + 0.52 * rect.height()));
    pictures_ui(ui, table, handling, upper, actions);
    let lower = Rect::from_min_max(Pos2::new(rect.left(), upper.bottom() + gap), rect.max);
    let middle = lower.left() + 0.56 * lower.width();
    let left = Rect::from_min_max(lower.min, Pos2::new(middle, lower.bottom()));
    let right = Rect::from_min_max(Pos2::new(middle + gap, lower.top()), lower.max);
    table_ui(ui, table, left);
    plot_ui(ui, table, axes, right);
}

fn pictures_ui(ui: &mut Ui, table: &Table<'_>, handling: &mut Handling, rect: Rect, actions: &mut Vec<Action>) {
    let look = &table.look;
    let laid: Vec<&Pinned> = table.desk.laid().collect();
    if laid.is_empty() {
        card(ui, look, rect);
        let words = if table.desk.prints().is_empty() {
            "Pin two stances or more on the Walk desk, then lay them here side by side."
        } else {
            "Lay two prints or four here: tick them in the list, or pick one up and choose Side by side."
        };
        let upper = Rect::from_min_max(rect.min, Pos2::new(rect.right(), rect.center().y));
        middle_note(ui, look, upper, words);
        let lower = Rect::from_min_max(Pos2::new(rect.left(), rect.center().y), rect.max).shrink(look.px(16.0));
        within(ui, "to lay", lower, |ui| lay_ui(ui, table, actions));
        return;
    }
    let columns = if rect.width() < look.px(360.0) {
        1
    } else if laid.len() <= 2 || rect.width() > 2.6 * rect.height() {
        laid.len()
    } else {
        2
    };
    let rows = laid.len().div_ceil(columns);
    let gap = look.px(12.0);
    let size = Vec2::new(
        (rect.width() - gap * count(columns - 1)) / count(columns),
        (rect.height() - gap * count(rows - 1)) / count(rows),
    );
    for (index, pinned) in laid.iter().enumerate() {
        let corner =
            rect.min + Vec2::new(count(index % columns) * (size.x + gap), count(index / columns) * (size.y + gap));
        picture_ui(ui, table, handling, pinned, Rect::from_min_size(corner, size), actions);
    }
}

/// Every print with a tick.
fn lay_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    ui.horizontal_wrapped(|ui| {
        for pinned in table.desk.prints() {
            let laid = table.desk.laid().any(|other| other.print.id == pinned.print.id);
            let name = &pinned.print.name;
            let width = look.px(16.0) + look.px(6.8) * count(name.chars().count().min(24));
            if choice(ui, look, name, &format!("lay {name} side by side"), laid, width).clicked() {
                actions.push(PrintAction::Lay(pinned.print.id, !laid).into());
            }
        }
    });
}

fn picture_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    handling: &mut Handling,
    pinned: &Pinned,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    card(ui, look, rect);
    let foot = look.px(if rect.width() < look.px(354.0) { 58.0 } else { 44.0 });
    let room = Rect::from_min_max(rect.min + Vec2::splat(look.px(10.0)), rect.max - Vec2::new(look.px(10.0), foot));
    let shape = aspect(pinned);
    let size = if room.width() / room.height().max(1.0) > shape {
        Vec2::new(room.height() * shape, room.height())
    } else {
        Vec2::new(room.width(), room.width() / shape)
    };
    let picture = Rect::from_center_size(room.center(), size);
    match handling.texture(ui.ctx(), pinned, picture.height()) {
        Some(texture) => {
            let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
            ui.painter().image(texture, picture, whole, egui::Color32::WHITE);
        }
        None => {
            ui.painter().rect_filled(picture, 0.0, look.well());
            let words = match &pinned.measured {
                Ok(_) => "its picture is being drawn",
                Err(error) => error,
            };
            middle_note(ui, look, picture, words);
        }
    }
    ui.painter().rect_stroke(picture, 1.0, Stroke::new(1.0, look.ink()), StrokeKind::Outside);
    let response = ui.interact(picture, egui::Id::new(("laid", pinned.print.id.0)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("print {}", pinned.print.name)));
    let line = Rect::from_min_max(
        Pos2::new(rect.left() + look.px(12.0), rect.bottom() - foot + look.px(6.0)),
        rect.max - Vec2::new(look.px(12.0), look.px(8.0)),
    );
    within(ui, &format!("laid {}", pinned.print.id.0), line, |ui| {
        ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(1.0));
        let convergence = pinned.measured.as_ref().ok().and_then(|measured| CLOSING.of(measured));
        let convergence = convergence.map(|value| convergence_words(value, table.units()));
        let narrow = line.width() < look.px(330.0);
        if narrow {
            caption_ui(ui, look, &pinned.print.name, convergence.as_deref(), line.width());
        }
        ui.horizontal(|ui| {
            if !narrow {
                caption_ui(ui, look, &pinned.print.name, convergence.as_deref(), 0.5 * line.width());
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let id = pinned.print.id;
                let name = &pinned.print.name;
                if word_button(ui, look, "take off", &format!("take {name} off")).clicked() {
                    actions.push(PrintAction::Lay(id, false).into());
                }
                if word_button(ui, look, "stand here", &format!("stand at {name}")).clicked() {
                    actions.push(PrintAction::TakeUp(id).into());
                }
                let against = table.desk.against().is_some_and(|other| other.print.id == id);
                let room = ui.available_width() > look.px(64.0);
                if !against
                    && room
                    && word_button(ui, look, "compare", &format!("compare readings with {name}")).clicked()
                {
                    actions.push(PrintAction::CompareWith(Some(id)).into());
                }
            });
        });
    });
}

/// A print's name and what it converges by, in one line.
fn caption_ui(ui: &mut Ui, look: &Look, name: &str, convergence: Option<&str>, width: f32) {
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, look.px(18.0)), Sense::hover());
    let convergence = convergence.unwrap_or("not measured");
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{name}, {convergence}")));
    let note = look.fitted(ui, convergence, look.caption(), look.soft(), 0.5 * width);
    let name = look.fitted(ui, name, look.strong(13.0), look.ink(), width - note.size().x - look.px(8.0));
    let after = rect.left() + name.size().x + look.px(8.0);
    ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * name.size().y), name, look.ink());
    ui.painter().galley(Pos2::new(after, rect.center().y - 0.5 * note.size().y), note, look.soft());
}

/// Every figure of the prints that are laid, or of all of them, and of the present stance; the best of a row is bold.
fn table_ui(ui: &mut Ui, table: &Table<'_>, rect: Rect) {
    let look = &table.look;
    card(ui, look, rect);
    let units = table.units();
    let laid: Vec<&Pinned> = table.desk.laid().collect();
    let shown: Vec<&Pinned> = if laid.is_empty() { table.desk.prints().iter().collect() } else { laid };
    let mut columns: Vec<(&str, Option<&Measured>)> = vec![("here, now", Some(table.measured()))];
    columns.extend(shown.iter().map(|pinned| {
        let measured = pinned.measured.as_ref().ok().map(std::convert::AsRef::as_ref);
        (pinned.print.name.as_str(), measured)
    }));
    let rows = rows(columns.iter().map(|(_, measured)| *measured));
    within(ui, "figures", rect.shrink(look.px(12.0)), |ui| {
        let height = look.px(19.0);
        let first = look.px(158.0);
        let wide = ((ui.available_width() - first - look.px(10.0)) / count(columns.len())).max(look.px(84.0));
        let width = first + wide * count(columns.len());
        let cell = |area: Rect, column: usize, line: usize| {
            let left = if column == 0 { area.left() } else { area.left() + first + wide * count(column - 1) };
            let width = if column == 0 { first } else { wide };
            Rect::from_min_size(
                Pos2::new(left, area.top() + height * count(line)),
                Vec2::new(width - look.px(8.0), height),
            )
        };
        ScrollArea::horizontal().id_salt("compare 2").auto_shrink([false, false]).show(ui, |ui| {
            // The names stay where they are while the figures scroll under them.
            let (area, _) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
            write(ui, look, cell(area, 0, 0), "bold: the best of its row", false, false);
            for (index, (name, _)) in columns.iter().enumerate() {
                write(ui, look, cell(area, index + 1, 0), name, true, true);
            }
            ui.painter().hline(area.x_range(), area.bottom() - 1.0, look.hairline());
            ui.spacing_mut().item_spacing.y = 0.0;
            ScrollArea::vertical().id_salt("compare 3").auto_shrink([false, false]).show(ui, |ui| {
                let whole = Vec2::new(width, height * count(rows.len()));
                let (area, _) = ui.allocate_exact_size(whole, Sense::hover());
                for (line, row) in rows.iter().enumerate() {
                    let figure = row.figure;
                    write(ui, look, cell(area, 0, line), figure.words, false, false);
                    for (index, ((name, _), value)) in columns.iter().zip(&row.values).enumerate() {
                        let text = value.map_or_else(|| "–".to_owned(), |value| figure.written(value, units));
                        let best = row.best.contains(&index);
                        let place = cell(area, index + 1, line);
                        write(ui, look, place, &text, true, best);
                        let spoken = if best { ", the best" } else { "" };
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

fn write(ui: &Ui, look: &Look, cell: Rect, text: &str, right: bool, strong: bool) {
    let font = if strong { look.strong(12.0) } else { egui::FontId::proportional(look.px(12.0)) };
    let ink = if right { look.ink() } else { look.soft() };
    let galley = look.fitted(ui, text, font, ink, cell.width());
    let left = if right { cell.right() - galley.size().x } else { cell.left() };
    ui.painter().galley(Pos2::new(left, cell.center().y - 0.5 * galley.size().y), galley, ink);
}

/// Any figure over any other, across all prints.
fn plot_ui(ui: &mut Ui, table: &Table<'_>, axes: &mut Axes, rect: Rect) {
    let look = &table.look;
    card(ui, look, rect);
    let units = table.units();
    within(ui, "plot", rect.shrink(look.px(12.0)), |ui| {
        ui.horizontal_wrapped(|ui| {
            let width = (0.5 * (ui.available_width() - look.px(52.0))).clamp(look.px(84.0), look.px(140.0));
            figure_ui(ui, look, "up", &mut axes.up, width);
            ui.label(look.note("over"));
            figure_ui(ui, look, "across", &mut axes.across, width);
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
        step_back(ui, look);
        let plot =
            chart(look, "figures plotted", axis(axes.across), axis(axes.up)).set_margin_fraction(Vec2::new(0.12, 0.16));
        let shown = plot.show(ui, |plot| {
            let mut taken: Vec<Rect> = Vec::new();
            let room = plot.response().rect;
            for pinned in table.desk.prints() {
                let Some([x, y]) = pinned.measured.as_ref().ok().and_then(|measured| of(measured)) else { continue };
                let name = pinned.print.name.clone();
                plot.points(Points::new(name.clone(), vec![[x, y]]).radius(look.px(4.0)).color(look.ink()));
                // Beside its dot, where it covers no other name; pointing at a dot tells its name all the same.
                let place = plot.screen_from_plot(PlotPoint::new(x, y));
                let size = Vec2::new(look.px(5.6) * count(name.chars().count() + 3), look.px(13.0));
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
                taken.push(Rect::from_center_size(place, Vec2::splat(look.px(8.0))));
                let label = egui::RichText::new(format!("  {name}  ")).font(look.figure());
                let text = PlotText::new("name", PlotPoint::new(x, y), label).anchor(anchor).color(look.soft());
                plot.text(text.allow_hover(false));
            }
            if let Some([x, y]) = of(table.measured()) {
                let ring = Points::new("here, now", vec![[x, y]]).radius(look.px(6.0)).filled(false).color(look.ink());
                plot.points(ring);
            }
        });
        let words = format!("plot of {} over {}", axes.up.words, axes.across.words);
        ui.ctx().accesskit_node_builder(shown.response.id, |node| node.set_label(words));
    });
}

fn figure_ui(ui: &mut Ui, look: &Look, name: &str, figure: &mut &'static Figure, width: f32) {
    let response = egui::ComboBox::from_id_salt(("figure", name))
        .selected_text(look.note(figure.words).color(look.ink()))
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
