//! Which body and lens, and how are they set? LensScales for focal length, focus, aperture, rise and shift.

use bevy_egui::egui::{self, DragValue, Ui, Vec2, WidgetInfo, WidgetType};

use crate::optics::{Lens, Margins, Orientation, Proportion};

use super::context::PanelContext;
use super::figures::{f_number, length_in, millimetres, number_in, short};
use super::lens_scale::{LensScale, ScaleInput};
use super::status::menu;
use super::style::{choice, menu_button, menu_width, row_widths};
use crate::units::Units;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, CameraMove, SettingAction, marks_of};

/// The f-numbers a lens is set to, a third of a stop apart, as they are engraved (the usual series; common practice, no
/// source).
const F_NUMBERS: [f64; 28] = [
    1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0,
    13.0, 14.0, 16.0, 18.0, 20.0, 22.0,
];
/// Those with a figure: whole stops.
const WHOLE_STOPS: [f64; 12] = [1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0];
/// The aspects that pictures are asked for in (common practice, no source).
const ASPECTS: [(&str, Option<Proportion>); 6] = [
    ("none", None),
    ("4:5", Some(Proportion(4.0, 5.0))),
    ("1:1", Some(Proportion(1.0, 1.0))),
    ("3:2", Some(Proportion(3.0, 2.0))),
    ("2:3", Some(Proportion(2.0, 3.0))),
    ("16:9", Some(Proportion(16.0, 9.0))),
];
/// Beyond this the focus scale runs on to infinity in its last tenth.
const FAR_M: f64 = 100.0;
/// The share of the focus scale that ends at [`FAR_M`].
const FAR_SHARE: f64 = 0.88;
/// Distances engraved on the focus scale where there is room.
const FOCUS_MARKS_M: [f64; 9] = [0.3, 0.5, 1.0, 2.0, 4.0, 10.0, 30.0, 100.0, f64::INFINITY];
/// A hand that comes this near a mark means the mark.
const SNAP: f32 = 0.018;

/// The body and the lens in words; each can be changed.
pub(super) fn kit_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let standing = panel.standing();
    ui.spacing_mut().item_spacing = Vec2::new(style.px(4.0), style.px(2.0));
    ui.horizontal(|ui| {
        let gap = style.px(4.0);
        ui.spacing_mut().item_spacing.x = gap;
        let held = orientation_words(standing.orientation);
        let held_width = menu_width(ui, style, held).max(menu_width(ui, style, "Portrait"));
        let size = standing.format.words();
        let body = format!("{size} body");
        let body_width = ui.available_width() - held_width - gap;
        let shown = if menu_width(ui, style, &body) <= body_width { &body } else { &size };
        let response = menu_button(ui, style, shown, &format!("body: {body}"), Some(body_width));
        menu(&response, |ui| {
            for format in &panel.desk.survey().kit.formats {
                let name = format.words();
                let size = if name == format.name {
                    format!(", {} × {} mm", short(format.width_mm), short(format.height_mm))
                } else {
                    " mm".into()
                };
                let megapixels = f64::from(format.width_px) * f64::from(format.height_px) / 1e6;
                let words = format!("{name}{size}, {megapixels:.0} MP");
                let chosen = format.name == standing.format.name;
                if ui.selectable_label(chosen, words).clicked() {
                    actions.push(CameraMove::Format(format.name.clone()).into());
                }
            }
        });
        let response = menu_button(ui, style, held, &format!("held: {held}"), Some(held_width));
        menu(&response, |ui| {
            for way in [Orientation::Portrait, Orientation::Landscape] {
                let chosen = way == standing.orientation;
                if ui.selectable_label(chosen, orientation_words(way)).clicked() {
                    if !chosen {
                        actions.push(CameraMove::Turn.into());
                    }
                    ui.close();
                }
            }
            ui.separator();
            composition_ui(ui, panel, actions);
        });
    });
    let lens = lens_words(&standing.lens);
    let response = menu_button(ui, style, &lens, &format!("lens: {lens}"), Some(ui.available_width()));
    menu(&response, |ui| {
        ui.set_max_width(style.px(300.0));
        ui.label(style.note("tick the lenses in the bag; choose the one on the camera"));
        egui::ScrollArea::vertical().id_salt("lens 1").max_height(style.px(420.0)).show(ui, |ui| {
            for lens in &panel.desk.survey().kit.lenses {
                ui.horizontal(|ui| {
                    let mut carried = panel.desk.carries(&lens.name);
                    let tick = ui.checkbox(&mut carried, "");
                    tick.widget_info(|| {
                        WidgetInfo::selected(WidgetType::Checkbox, true, carried, format!("{} in the bag", lens.name))
                    });
                    if tick.changed() {
                        actions.push(SettingAction::Carry(lens.name.clone(), carried).into());
                    }
                    if ui.selectable_label(lens.name == standing.lens.name, lens_words(lens)).clicked() {
                        actions.push(CameraMove::Lens(lens.name.clone()).into());
                    }
                });
            }
        });
    });
}

/// The aspect that the frame is cropped to, and what is kept clear about the subject.
fn composition_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let stance = panel.desk.stance();
    ui.label(style.note("Crop the frame"));
    ui.horizontal(|ui| {
        for (words, aspect) in ASPECTS {
            if ui.selectable_label(stance.crop == aspect, words).clicked() {
                actions.push(CameraMove::Crop(aspect).into());
            }
        }
    });
    ui.label(style.note("Keep clear about the subject"));
    let now = stance.margins.unwrap_or_default();
    let percents = 0.0..=100.0 * Margins::WIDEST;
    let mut wanted = [100.0 * now.side, 100.0 * now.above];
    for (share, words) in wanted.iter_mut().zip(["at the sides and below", "above"]) {
        ui.horizontal(|ui| {
            let value = DragValue::new(share).range(percents.clone()).speed(0.1).max_decimals(1).suffix(" %");
            let response = ui.add(value);
            response.widget_info(|| WidgetInfo::labeled(WidgetType::DragValue, true, format!("margin {words}")));
            ui.label(style.note(words));
        });
    }
    let wanted = Margins { side: wanted[0] / 100.0, above: wanted[1] / 100.0 };
    if wanted != now {
        actions.push(CameraMove::Margins(Some(wanted).filter(|margins| *margins != Margins::USUAL)).into());
    }
}

/// A lens in words: "24-70 mm zoom, no rise".
pub(super) fn lens_words(lens: &Lens) -> String {
    let name = lens.name.replace('-', "–");
    match (lens.is_zoom(), lens.rise_mm > 0.0) {
        (true, false) => format!("{name} zoom · no rise"),
        (true, true) => format!("{name} zoom"),
        (false, false) => format!("{name} · no rise"),
        (false, true) => name,
    }
}

const fn orientation_words(way: Orientation) -> &'static str {
    match way {
        Orientation::Portrait => "Portrait",
        Orientation::Landscape => "Landscape",
    }
}

/// All barrels that the lens has.
pub(super) fn lens_scales_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    focal_ui(ui, panel, actions);
    focus_ui(ui, panel, actions);
    aperture_ui(ui, panel, actions);
    let standing = panel.standing();
    let (lens, camera) = (&standing.lens, &standing.camera);
    if lens.rise_mm > 0.0 {
        let moved = moved_ui(ui, panel, "rise", camera.rise_mm, lens.rise_mm, ["up", "down"]);
        actions.extend(moved.map(|set| CameraMove::Rise(set).into()));
    }
    if lens.shift_mm > 0.0 {
        let shift_mm = camera.shift_mm;
        let moved = moved_ui(ui, panel, "shift", shift_mm, lens.shift_mm, ["right", "left"]);
        actions.extend(moved.map(|set| CameraMove::Shift(set).into()));
    }
}

/// The place of a value on a scale that grows by ratios.
fn ratio_share(value: f64, low: f64, high: f64) -> f64 {
    (value / low).ln() / (high / low).ln()
}

fn focal_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let standing = panel.standing();
    let lens = &standing.lens;
    let focal_mm = standing.camera.focal_mm;
    // A prime stands in the middle of its scale; around it are the focal lengths of the bag's other lenses.
    let (low, high) =
        if lens.is_zoom() { (lens.focal_mm, lens.longest_mm()) } else { (lens.focal_mm / 1.9, lens.focal_mm * 1.9) };
    let share = |value: f64| screen(ratio_share(value, low, high));
    let mut engraved = marks_of(lens);
    if !lens.is_zoom() {
        let others = panel.desk.carried().filter(|other| other.mapping == lens.mapping).flat_map(marks_of);
        engraved.extend(others.filter(|mark| (low..=high).contains(mark)));
        engraved.sort_by(f64::total_cmp);
        engraved.dedup();
    }
    let marks: Vec<(f32, String)> = engraved.iter().map(|&mark| (share(mark), short(mark))).collect();
    let lens_scale = LensScale {
        name: "focal length",
        caption: if lens.is_zoom() { "Focal length" } else { "Focal length, fixed" },
        value: &millimetres(focal_mm),
        number: focal_mm,
        index: share(focal_mm).clamp(0.0, 1.0),
        marks: &marks,
        ticks: &[],
        bracket: None,
    };
    let action = match lens_scale.ui(ui, &panel.style) {
        Some(ScaleInput::To(place)) if lens.is_zoom() => {
            let near = engraved.iter().find(|&&mark| (share(mark) - place).abs() < SNAP);
            CameraMove::Focal(near.copied().unwrap_or_else(|| low * (high / low).powf(f64::from(place)))).into()
        }
        Some(ScaleInput::To(place)) => {
            let distance = |mark: &f64| (share(*mark) - place).abs();
            match engraved.iter().copied().min_by(|a, b| distance(a).total_cmp(&distance(b))) {
                Some(mark) if mark != focal_mm => CameraMove::Focal(mark).into(),
                _ => return,
            }
        }
        Some(ScaleInput::Stops(stops)) => CameraMove::FocalStop(stops).into(),
        Some(ScaleInput::Fine(steps)) => CameraMove::Focal(focal_mm + f64::from(steps)).into(),
        Some(ScaleInput::End(end)) => CameraMove::Focal(if end { lens.longest_mm() } else { lens.focal_mm }).into(),
        Some(ScaleInput::Typed(text)) => match number_in(&text).filter(|value| *value > 0.0) {
            Some(value) => CameraMove::Focal(value).into(),
            None => return,
        },
        None => return,
    };
    actions.push(action);
}

/// The place of a distance on the focus scale.
fn focus_share(distance_m: f64, closest_m: f64) -> f64 {
    let far_m = FAR_M.max(2.0 * closest_m);
    if distance_m <= far_m {
        FAR_SHARE * ratio_share(distance_m.max(closest_m), closest_m, far_m)
    } else {
        1.0 - (1.0 - FAR_SHARE) * far_m / distance_m
    }
}

/// The distance at a place of the focus scale.
fn focus_at(share: f64, closest_m: f64) -> f64 {
    let far_m = FAR_M.max(2.0 * closest_m);
    if share <= FAR_SHARE {
        closest_m * (far_m / closest_m).powf(share / FAR_SHARE)
    } else {
        (1.0 - FAR_SHARE) * far_m / (1.0 - share).max(1e-9)
    }
}

fn focus_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let standing = panel.standing();
    let closest_m = standing.lens.closest_focus_m();
    let units = panel.units();
    let share = |distance_m: f64| screen(focus_share(distance_m, closest_m)).clamp(0.0, 1.0);
    let figure =
        |distance_m: f64| if distance_m.is_infinite() { "∞".into() } else { short(units.from_metres(distance_m)) };
    let marks: Vec<(f32, String)> =
        FOCUS_MARKS_M
            .iter()
            .map(|&mark| {
                if mark.is_finite() { units.to_metres(mark) * if units == Units::Ft { 3.0 } else { 1.0 } } else { mark }
            })
            .filter(|mark| *mark >= closest_m)
            .map(|mark| (share(mark), figure(mark)))
            .collect();
    let sharp = &panel.measured().account.depth_of_field;
    let near = units.length(sharp.near_m, if sharp.near_m < 10.0 { 1 } else { 0 });
    let caption = if sharp.far_m.is_finite() {
        format!("Focus, sharp {near} to {}", units.length(sharp.far_m, if sharp.far_m < 10.0 { 1 } else { 0 }))
    } else {
        format!("Focus, sharp from {near}")
    };
    let focus_m = standing.focus_m;
    let value =
        if focus_m.is_finite() { units.length(focus_m, if focus_m < 10.0 { 1 } else { 0 }) } else { "∞".into() };
    let lens_scale = LensScale {
        name: "focus",
        caption: &caption,
        value: &value,
        number: if focus_m.is_finite() { focus_m } else { f64::MAX },
        index: share(focus_m),
        marks: &marks,
        ticks: &[],
        bracket: Some((share(sharp.near_m), share(sharp.far_m))),
    };
    let stepped = |places: f64| focus_at((focus_share(focus_m, closest_m) + places).clamp(0.0, 1.0), closest_m);
    let action = match lens_scale.ui(ui, &panel.style) {
        Some(ScaleInput::To(place)) => CameraMove::Focus(Some(focus_at(f64::from(place), closest_m))).into(),
        Some(ScaleInput::Stops(steps)) => CameraMove::Focus(Some(stepped(0.03 * f64::from(steps)))).into(),
        Some(ScaleInput::Fine(steps)) => CameraMove::Focus(Some(stepped(0.005 * f64::from(steps)))).into(),
        Some(ScaleInput::End(true)) => CameraMove::Focus(Some(f64::INFINITY)).into(),
        Some(ScaleInput::End(false)) => CameraMove::Focus(Some(closest_m)).into(),
        Some(ScaleInput::Typed(text)) => match length_in(&text, units) {
            Some(distance_m) => CameraMove::Focus(Some(distance_m)).into(),
            None if text.contains('∞') || text.contains("far") || text.contains("inf") => {
                CameraMove::Focus(Some(f64::INFINITY)).into()
            }
            None if text.trim().is_empty() || text.contains("subject") => CameraMove::Focus(None).into(),
            None => return,
        },
        None => return,
    };
    actions.push(action);
}

fn aperture_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let standing = panel.standing();
    let (widest, narrowest) = (standing.lens.widest_f, standing.lens.narrowest_f);
    let share = |value: f64| screen(ratio_share(value, widest, narrowest));
    let within = |value: &f64| (widest..=narrowest).contains(value);
    let mut marks: Vec<(f32, String)> = Vec::new();
    if !WHOLE_STOPS.contains(&widest) {
        marks.push((0.0, short(widest)));
    }
    marks.extend(WHOLE_STOPS.into_iter().filter(within).map(|stop| (share(stop), short(stop))));
    let mut stops: Vec<f64> =
        F_NUMBERS.into_iter().chain(WHOLE_STOPS).filter(within).chain([widest, narrowest]).collect();
    stops.sort_by(f64::total_cmp);
    stops.dedup();
    let ticks: Vec<f32> = stops.iter().map(|&stop| share(stop)).collect();
    let now = standing.f_number;
    let lens_scale = LensScale {
        name: "aperture",
        caption: "Aperture",
        value: &f_number(now),
        number: now,
        index: share(now).clamp(0.0, 1.0),
        marks: &marks,
        ticks: &ticks,
        bracket: None,
    };
    let nearest = |place: f32| {
        stops.iter().copied().min_by(|a, b| (share(*a) - place).abs().total_cmp(&(share(*b) - place).abs()))
    };
    let moved = |steps: i32| {
        let at = stops.partition_point(|stop| *stop < now - 1e-9);
        let output = (at as i64 + i64::from(steps)).clamp(0, stops.len() as i64 - 1);
        usize::try_from(output).ok().and_then(|index| stops.get(index)).copied()
    };
    let asked = match lens_scale.ui(ui, &panel.style) {
        Some(ScaleInput::To(place)) => nearest(place),
        Some(ScaleInput::Stops(steps) | ScaleInput::Fine(steps)) => moved(steps),
        Some(ScaleInput::End(end)) => Some(if end { narrowest } else { widest }),
        Some(ScaleInput::Typed(text)) => number_in(&text),
        None => None,
    };
    actions.extend(asked.filter(|value| *value > 0.0).map(|set| CameraMove::Aperture(set).into()));
}

/// A movement of the lens either way from the middle; returns what was asked for.
fn moved_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    name: &'static str,
    now_mm: f64,
    travel_mm: f64,
    [more, less]: [&str; 2],
) -> Option<f64> {
    let share = |value_mm: f64| screen(0.5 + 0.5 * value_mm / travel_mm);
    let step_mm = if travel_mm > 20.0 {
        5.0
    } else if travel_mm > 8.0 {
        4.0
    } else {
        2.0
    };
    let mut marks = vec![(0.5, "0".to_owned())];
    let mut ticks = Vec::new();
    let mut at_mm = 1.0;
    while at_mm <= travel_mm {
        let whole = (at_mm / step_mm).fract() == 0.0;
        for side in [-1.0, 1.0] {
            let place = share(side * at_mm);
            if whole {
                marks.push((place, short(at_mm)));
            } else {
                ticks.push(place);
            }
        }
        at_mm += 1.0;
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let value = if now_mm.abs() < 0.05 {
        "none".to_owned()
    } else {
        format!("{} {}", millimetres(now_mm.abs()), if now_mm > 0.0 { more } else { less })
    };
    let lens_scale = LensScale {
        name,
        caption: name,
        value: &value,
        number: now_mm,
        index: share(now_mm).clamp(0.0, 1.0),
        marks: &marks,
        ticks: &ticks,
        bracket: None,
    };
    let asked = match lens_scale.ui(ui, &panel.style)? {
        ScaleInput::To(place) => {
            let value_mm = (f64::from(place) - 0.5) * 2.0 * travel_mm;
            if value_mm.abs() < 0.02 * travel_mm { 0.0 } else { (value_mm * 4.0).round() / 4.0 }
        }
        ScaleInput::Stops(steps) => (now_mm + f64::from(steps)).round(),
        ScaleInput::Fine(steps) => now_mm + 0.25 * f64::from(steps),
        ScaleInput::End(end) => {
            if end {
                travel_mm
            } else {
                -travel_mm
            }
        }
        ScaleInput::Typed(text) => {
            let number = number_in(&text)?;
            if text.contains(less) { -number.abs() } else { number }
        }
    };
    Some(asked.clamp(-travel_mm, travel_mm))
}

/// The buttons that aim: those that are most used in the first row.
pub(super) fn aims_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    use crate::site::Aim;
    let aim = panel.desk.stance().aim;
    let level = panel.standing().pose.attitude.pitch.degrees().abs() < 1e-9;
    let first = [
        AimButton { word: "Level", help: "level the camera", wanted: CameraMove::Level, chosen: level },
        AimButton {
            word: "Tilt least",
            help: "pitch no more than it takes to hold the subject with its margins",
            wanted: CameraMove::Aim(Aim::LeastTilt),
            chosen: aim == Aim::LeastTilt,
        },
        AimButton {
            word: "Fill",
            help: "pitch and zoom until the subject fills the frame",
            wanted: CameraMove::Aim(Aim::Fill),
            chosen: aim == Aim::Fill,
        },
    ];
    aim_row_ui(ui, panel, first, actions);
    let look = AimButton {
        word: "Look at",
        help: "turn to the middle of the subject and keep the lens",
        wanted: CameraMove::LookAtSubject,
        chosen: matches!(aim, Aim::At(..)),
    };
    let correct = AimButton {
        word: "For correction",
        help: "pitch and zoom so that straightening afterwards keeps the most detail",
        wanted: CameraMove::Aim(Aim::Correct),
        chosen: aim == Aim::Correct,
    };
    if panel.standing().lens.rise_mm > 0.0 {
        let rise = AimButton {
            word: "Rise",
            help: "level the camera and use the rise that the lens allows",
            wanted: CameraMove::Aim(Aim::Rise),
            chosen: aim == Aim::Rise,
        };
        aim_row_ui(ui, panel, [look, rise], actions);
        aim_row_ui(ui, panel, [correct], actions);
    } else {
        aim_row_ui(ui, panel, [look, correct], actions);
    }
}

/// A button that aims.
struct AimButton {
    word: &'static str,
    help: &'static str,
    wanted: CameraMove,
    /// Whether the camera is aimed so.
    chosen: bool,
}

fn aim_row_ui<const N: usize>(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    buttons: [AimButton; N],
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let gap = style.px(4.0);
    let room = ui.available_width() - gap * super::style::count(N - 1);
    let words: [&str; N] = std::array::from_fn(|index| buttons[index].word);
    let widths = row_widths(ui, style, words, room);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = gap;
        for (AimButton { word, help, wanted, chosen }, width) in buttons.into_iter().zip(widths) {
            if choice(ui, style, word, word, chosen, width).on_hover_text(help).clicked() {
                actions.push(wanted.into());
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_focus_scale_returns_every_distance() {
        for closest_m in [0.3, 0.8, 60.0] {
            for distance_m in [0.3, 1.0, 12.0, 99.0, 101.0, 500.0, 9000.0] {
                if distance_m < closest_m {
                    continue;
                }
                let share = focus_share(distance_m, closest_m);
                assert!((0.0..=1.0).contains(&share));
                assert!((focus_at(share, closest_m) / distance_m - 1.0).abs() < 1e-6, "{distance_m} from {closest_m}");
            }
            assert_eq!(focus_share(f64::INFINITY, closest_m), 1.0);
        }
    }
}
