//! Which of these stances is better, and by what? Prints side by side, a table, and a plot of any figure.

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType};
use egui_plot::{HLine, Line, LineStyle, PlotPoint, PlotUi, Points, Text as PlotText};

use crate::compare::{CONVERGENCE, DISTANCE, FIGURES, Figure, Unit, conclusion, rows};
use crate::site::{Aim, Stance};
use crate::survey::{MeasureSettings, Measured};
use crate::ways::{HeightPoint, over_height};
use crate::wording;

use super::chart::{chart, step_back};
use super::context::PanelContext;
use super::finder::middle_note;
use super::prints::{PrintsState, aspect};
use super::style::{WindowStyle, button, button_width, card, choice, count, text_button, within};
use crate::viewer::state::desk::{Action, Pinned, PrintAction};

/// The height of the line that says what the prints come to, and its type, from the largest.
const HEAD: f32 = 44.0;
const HEAD_PX: [f32; 5] = [34.0, 28.0, 24.0, 20.0, 16.0];
/// Prints that stand no farther apart stand over one spot.
const SAME_SPOT_M: f64 = 0.5;

/// What is plotted, and whether prints are being chosen.
#[derive(Clone, Debug)]
pub(super) struct CompareState {
    across: &'static Figure,
    up: &'static Figure,
    /// Whether the plot is the lean over the camera's height, rather than one figure against another.
    over_height: bool,
    /// Whether every print is shown with a tick, to be laid or removed.
    choosing: bool,
    /// The curves that were asked for last.
    curves: Option<HeightCurves>,
}

/// The lean over the camera's height above one standpoint, the frame filled and tilted least.
#[derive(Clone, Debug)]
struct HeightCurves {
    stance: Stance,
    settings: MeasureSettings,
    highest_m: f64,
    filled: Vec<HeightPoint>,
    tilted_least: Vec<HeightPoint>,
}

impl Default for CompareState {
    fn default() -> Self {
        Self { across: &DISTANCE, up: &CONVERGENCE, over_height: true, choosing: false, curves: None }
    }
}

/// The whole desk in a rectangle.
pub(super) fn compare_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    prints_state: &mut PrintsState,
    state: &mut CompareState,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let gap = style.px(12.0);
    let head = Rect::from_min_size(rect.min, Vec2::new(rect.width(), style.px(HEAD)));
    head_ui(ui, panel, state, head, actions);
    let rect = Rect::from_min_max(Pos2::new(rect.left(), head.bottom() + style.px(4.0)), rect.max);
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
                        0 => pictures_ui(ui, panel, prints_state, state.choosing, place, actions),
                        1 => table_ui(ui, panel, place),
                        _ => plot_ui(ui, panel, state, place),
                    }
                }
            });
        });
        return;
    }
    let upper = Rect::from_min_max(rect.min, Pos2::new(rect.right(), rect.top() + 0.58 * rect.height()));
    pictures_ui(ui, panel, prints_state, state.choosing, upper, actions);
    let lower = Rect::from_min_max(Pos2::new(rect.left(), upper.bottom() + gap), rect.max);
    let middle = lower.left() + 0.56 * lower.width();
    let left = Rect::from_min_max(lower.min, Pos2::new(middle, lower.bottom()));
    let right = Rect::from_min_max(Pos2::new(middle + gap, lower.top()), lower.max);
    table_ui(ui, panel, left);
    plot_ui(ui, panel, state, right);
}

/// What the laid prints come to, and what changes which are laid.
fn head_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut CompareState, rect: Rect, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let laid: Vec<(&str, &Measured)> = panel
        .desk
        .laid()
        .filter_map(|pinned| Some((pinned.print.name.as_str(), pinned.measured.as_ref().ok()?.as_ref())))
        .collect();
    let headline = if laid.is_empty() { "Stances side by side".to_owned() } else { conclusion(&laid) };
    let (four, choose) = ("Four heights", if state.choosing { "Pictures" } else { "Change prints" });
    let widths = [button_width(ui, style, four), button_width(ui, style, choose)];
    let buttons = widths[0] + widths[1] + style.px(8.0);
    let room = rect.width() - buttons - style.px(16.0);
    let fitting = HEAD_PX
        .into_iter()
        .find(|size| ui.painter().layout_no_wrap(headline.clone(), style.strong(*size), style.ink()).size().x <= room);
    let galley = style.fitted(ui, &headline, style.strong(fitting.unwrap_or(16.0)), style.ink(), room);
    let place = Rect::from_min_size(Pos2::new(rect.left(), rect.center().y - 0.5 * galley.size().y), galley.size());
    ui.interact(place, ui.id().with("conclusion"), Sense::hover())
        .widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("conclusion: {headline}")));
    ui.painter().galley(place.min, galley, style.ink());
    let corner = Pos2::new(rect.right() - buttons, rect.center().y - style.px(13.0));
    within(ui, "compare head", Rect::from_min_size(corner, Vec2::new(buttons, style.px(26.0))), |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(8.0);
            let words = "pin this standpoint from the ground, a ladder, a deck or vehicle, and a drone, and lay them side by side";
            if button(ui, style, four, widths[0]).on_hover_text(words).clicked() {
                actions.push(PrintAction::FourHeights.into());
                state.over_height = true;
            }
            if button(ui, style, choose, widths[1]).on_hover_text("lay other prints side by side").clicked() {
                state.choosing = !state.choosing;
            }
        });
    });
}

fn pictures_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    prints_state: &mut PrintsState,
    choosing: bool,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let laid: Vec<&Pinned> = panel.desk.laid().collect();
    if laid.is_empty() || choosing {
        card(ui, style, rect);
        let words = if panel.desk.prints().is_empty() {
            "Press Four heights to compare this standpoint from the ground, a ladder, a deck or vehicle, and a drone; or pin stances on the Walk desk."
        } else {
            "Choose two to four prints."
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
    let foot = style.px(58.0);
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
        let measured = pinned.measured.as_ref().ok();
        let verdict = measured.map(|measured| measured.verdict.headline(panel.units()));
        caption_ui(ui, style, &pinned.print.name, verdict.as_deref(), line.width());
        let handed_over = measured.map_or_else(String::new, |measured| final_words(panel, measured));
        ui.horizontal(|ui| {
            let room = (line.width() - style.px(124.0)).max(style.px(60.0));
            let note = style.fitted(ui, &handed_over, style.caption(), style.soft(), room);
            let (place, response) = ui.allocate_exact_size(Vec2::new(room, style.px(18.0)), Sense::hover());
            response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, handed_over.clone()));
            ui.painter().galley(Pos2::new(place.left(), place.center().y - 0.5 * note.size().y), note, style.soft());
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

/// What is handed over of a stance: how large, whether straightened, how finely it draws the subject.
fn final_words(panel: &PanelContext<'_>, measured: &Measured) -> String {
    match measured.account.final_picture {
        None => String::new(),
        Some(Err(failure)) => format!("cannot be straightened: {}", failure.brief()),
        Some(Ok(kept)) => {
            let done = if kept.straightened { "straightened" } else { "as taken" };
            let detail = kept.lowest_detail.map(|detail| format!(", {}", panel.units().detail(detail.px_per_m)));
            format!("{:.1} MP {done}{}", kept.megapixels(), detail.unwrap_or_default())
        }
    }
}

/// A print's name and its verdict, in one line.
fn caption_ui(ui: &mut Ui, style: &WindowStyle, name: &str, verdict: Option<&str>, width: f32) {
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, style.px(18.0)), Sense::hover());
    let verdict = verdict.unwrap_or("not measured");
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{name}, {verdict}")));
    let note = style.fitted(ui, verdict, style.caption(), style.soft(), 0.6 * width);
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

/// The lean over the camera's height, or any figure over any other across all prints.
fn plot_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut CompareState, rect: Rect) {
    let style = &panel.style;
    card(ui, style, rect);
    within(ui, "plot", rect.shrink(style.px(12.0)), |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(6.0);
            for (word, over_height) in [("Over height", true), ("Figures", false)] {
                let width = button_width(ui, style, word);
                if choice(ui, style, word, word, state.over_height == over_height, width).clicked() {
                    state.over_height = over_height;
                }
            }
        });
        if state.over_height { height_plot_ui(ui, panel, state) } else { figures_plot_ui(ui, panel, state) }
    });
}

/// The lean of the subject over the camera's height above the standpoint of the first laid print, with the prints on it.
fn height_plot_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut CompareState) {
    let style = &panel.style;
    let units = panel.units();
    let first = panel.desk.laid().next().map_or_else(|| panel.desk.stance(), |pinned| &pinned.print.stance).clone();
    // Prints over the same spot lie on the curve.
    let near = |stance: &Stance| (stance.at.0 - first.at.0).hypot(stance.at.1 - first.at.1) < SAME_SPOT_M;
    let over: Vec<(&Pinned, &Measured, f64)> = panel
        .desk
        .laid()
        .filter(|pinned| near(&pinned.print.stance))
        .filter_map(|pinned| {
            let measured = pinned.measured.as_ref().ok()?.as_ref();
            Some((pinned, measured, measured.standing.height_m()?))
        })
        .collect();
    let highest_m = over.iter().map(|(.., height_m)| *height_m).fold(0.0, f64::max);
    let settings = *panel.desk.measure_settings();
    let known =
        |curves: &HeightCurves| curves.stance == first && curves.settings == settings && curves.highest_m == highest_m;
    if !state.curves.as_ref().is_some_and(known) {
        let survey = panel.desk.survey();
        let curve = |aim| over_height(survey, &first, aim, &[highest_m], &settings).unwrap_or_default();
        let (filled, tilted_least) = (curve(Aim::Fill), curve(Aim::LeastTilt));
        state.curves = Some(HeightCurves { stance: first, settings, highest_m, filled, tilted_least });
    }
    let Some(curves) = &state.curves else { return };
    let points = |curve: &[HeightPoint]| -> Vec<[f64; 2]> {
        curve.iter().filter_map(|point| Some([units.from_metres(point.height_m), point.lean_deg?])).collect()
    };
    if points(&curves.filled).is_empty() {
        ui.label(style.note("Nothing to plot: the subject cannot be framed from here."));
        return;
    }
    step_back(ui, style);
    let across = format!("camera above the feet, {}", units.name());
    let plot = chart(style, "lean over height", across, format!("largest lean of {}, °", panel.subject()))
        .include_y(0.0)
        .set_margin_fraction(Vec2::new(0.06, 0.16));
    let threshold = settings.measures.upright.degrees();
    let shown = plot.show(ui, |plot| {
        plot.hline(HLine::new("upright up to here", threshold).color(style.soft()));
        let mut names = PlotNames { room: plot.response().rect, taken: Vec::new() };
        names.write(
            plot,
            style,
            [0.0, threshold],
            &format!("upright up to {}", wording::degrees(threshold)),
            style.soft(),
        );
        // The dots are named first: the curves have room elsewhere.
        for (pinned, measured, height_m) in &over {
            let Some(lean) = measured.account.largest_lean else { continue };
            let at = [units.from_metres(*height_m), lean.degrees()];
            let name = pinned.print.name.clone();
            plot.points(Points::new(name.clone(), vec![at]).radius(style.px(4.0)).color(style.ink()));
            names.write(plot, style, at, &name, style.soft());
        }
        for (name, curve, dashed) in
            [("frame filled", &curves.filled, false), ("tilted least", &curves.tilted_least, true)]
        {
            let points = points(curve);
            if let Some(at) = points.get(points.len() / 3) {
                names.write(plot, style, *at, name, style.ink());
            }
            let line = Line::new(name, points).color(style.ink()).width(style.px(1.5));
            plot.line(if dashed { line.style(LineStyle::dashed_loose()) } else { line });
        }
    });
    ui.ctx()
        .accesskit_node_builder(shown.response.id, |node| node.set_label("plot of the lean over the camera's height"));
}

/// Any figure over any other, across all prints.
fn figures_plot_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut CompareState) {
    let style = &panel.style;
    let units = panel.units();
    {
        ui.horizontal_wrapped(|ui| {
            let width = (0.5 * (ui.available_width() - style.px(52.0))).clamp(style.px(84.0), style.px(140.0));
            figure_ui(ui, style, "up", &mut state.up, width);
            ui.label(style.note("against"));
            figure_ui(ui, style, "across", &mut state.across, width);
        });
        let of = |measured: &Measured| -> Option<[f64; 2]> {
            let shown = |figure: &Figure| {
                let value = figure.of(measured).map(|value| figure.shown(value, units));
                value.filter(|value| value.is_finite())
            };
            Some([shown(state.across)?, shown(state.up)?])
        };
        let axis = |figure: &Figure| {
            let sign = figure.sign(units);
            if sign.is_empty() { figure.words.to_owned() } else { format!("{}, {sign}", figure.words) }
        };
        // Grid and figures step back behind the stances.
        step_back(ui, style);
        let plot = chart(style, "figures plotted", axis(state.across), axis(state.up))
            .set_margin_fraction(Vec2::new(0.12, 0.16));
        let shown = plot.show(ui, |plot| {
            let mut names = PlotNames { room: plot.response().rect, taken: Vec::new() };
            for pinned in panel.desk.prints() {
                let Some([x, y]) = pinned.measured.as_ref().ok().and_then(|measured| of(measured)) else { continue };
                let name = pinned.print.name.clone();
                plot.points(Points::new(name.clone(), vec![[x, y]]).radius(style.px(4.0)).color(style.ink()));
                names.write(plot, style, [x, y], &name, style.soft());
            }
            if let Some([x, y]) = of(panel.measured()) {
                let ring =
                    Points::new("here, now", vec![[x, y]]).radius(style.px(6.0)).filled(false).color(style.ink());
                plot.points(ring);
            }
        });
        let words = format!("plot of {} against {}", state.up.words, state.across.words);
        ui.ctx().accesskit_node_builder(shown.response.id, |node| node.set_label(words));
    }
}

/// Names on a plot, each beside what it names, where it covers no other.
struct PlotNames {
    room: Rect,
    taken: Vec<Rect>,
}

impl PlotNames {
    /// Writes a name beside a point, nearer places first; pointing at the dot tells it all the same.
    fn write(&mut self, plot: &mut PlotUi<'_>, style: &WindowStyle, [x, y]: [f64; 2], name: &str, ink: egui::Color32) {
        let place = plot.screen_from_plot(PlotPoint::new(x, y));
        let size = Vec2::new(style.px(6.2) * count(name.chars().count() + 3), style.px(14.0));
        let rows = [0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0];
        let anchors =
            [egui::Align2::LEFT_BOTTOM, egui::Align2::LEFT_TOP, egui::Align2::RIGHT_BOTTOM, egui::Align2::RIGHT_TOP];
        let free = rows
            .into_iter()
            .flat_map(|row| anchors.map(|anchor| (place + Vec2::new(0.0, row * size.y), anchor)))
            .map(|(at, anchor)| (at, anchor, anchor.anchor_size(at, size)))
            .find(|(.., rect)| {
                self.room.contains_rect(*rect) && !self.taken.iter().any(|known| known.intersects(*rect))
            });
        self.taken.push(Rect::from_center_size(place, Vec2::splat(style.px(8.0))));
        let Some((at, anchor, rect)) = free else { return };
        self.taken.push(rect);
        let label = egui::RichText::new(format!("  {name}  ")).font(style.figure());
        let text = PlotText::new("name", plot.plot_from_screen(at), label).anchor(anchor).color(ink);
        plot.text(text.allow_hover(false));
    }
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
