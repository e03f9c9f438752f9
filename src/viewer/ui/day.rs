//! What light does the day bring? A strip from midnight to midnight to drag along, with what the sky does above and what the
//! light on the front is below; a card of the year; the next moment with a light that is asked for.

use bevy_egui::egui::{
    self, Align2, Color32, ColorImage, CursorIcon, Pos2, Rect, Sense, Shape, Stroke, TextureHandle, TextureOptions, Ui,
    Vec2, WidgetInfo, WidgetType,
};

use crate::angle::Angle;
use crate::light::{
    FaceLight, LightError, LightRequirement, LightYear, Moment, Sky, light_side, stretches_of, sun_in_picture,
};
use crate::place::Day;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, DayLight, LightAction, LightView};

use super::context::PanelContext;
use super::lens_scale::{ScaleInput, steps, tell, value_line};
use super::style::{WindowStyle, button, button_width, choice, focus_ring, index_mark, text_button, thinned};
use super::trees::trees_ui;

const DAY_S: f64 = 86_400.0;
/// The strip's width, in units of the drawing.
const WIDTH: f32 = 430.0;
/// A day of playing takes so long.
const PLAY_S: f64 = 12.0;
/// Hours from number to number along the strip.
const NUMBERED_H: u8 = 3;

/// What this card remembers between frames.
#[derive(Clone, Default)]
struct DayCard {
    playing: bool,
    shows_year: bool,
    before_noon: bool,
    weekend: bool,
    /// Why the date that was typed last is none.
    fault: Option<String>,
    /// The year's picture, and what it shows.
    year: Option<(YearKey, TextureHandle)>,
}

#[derive(Clone, Copy, PartialEq)]
struct YearKey {
    site: u64,
    year: i32,
    style: WindowStyle,
}

/// The day, where the site has a place on the Earth; else how it would get one.
pub(super) fn day_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let light = panel.desk.light();
    let sky = match light.sky {
        Ok(sky) => sky,
        Err(why) => {
            ui.label(style.title("The day"));
            ui.label(style.note(format!("Date and hour need the site's place on the Earth: {why}.")));
            return;
        }
    };
    let id = ui.id().with("day card");
    let mut kept: DayCard = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    ui.set_width(style.px(WIDTH).min(ui.max_rect().width()));
    ui.spacing_mut().item_spacing.y = style.px(4.0);
    if light.day.is_none() && light.fault.is_none() {
        actions.push(LightAction::LookAtDay.into());
    }
    date_ui(ui, panel, sky, &light, &mut kept, actions);
    strip_ui(ui, panel, sky, &light, actions);
    words_ui(ui, panel, sky, &light);
    water_ui(ui, panel, sky, &light, actions);
    trees_ui(ui, panel, Some(sky.zone().clock(light.at).day), actions);
    play_ui(ui, panel, sky, &light, &mut kept, actions);
    next_ui(ui, panel, &mut kept, actions);
    if kept.shows_year {
        if light.year.is_none() {
            actions.push(LightAction::LookAtYear.into());
        }
        year_ui(ui, panel, sky, &light, &mut kept, actions);
    }
    ui.data_mut(|data| data.insert_temp(id, kept));
}

/// The same time of day on another day.
fn on_day(sky: &Sky, at: Moment, day: Day) -> Result<Moment, LightError> {
    let clock = sky.zone().clock(at);
    sky.zone().at(day, clock.hour, clock.minute).map(|read| read.moment)
}

/// So many days later.
fn days_later(sky: &Sky, at: Moment, days: i32) -> Result<Moment, LightError> {
    let noon = sky.zone().at(sky.zone().clock(at).day, 12, 0)?.moment;
    on_day(sky, at, sky.zone().clock(noon.plus_s(DAY_S * f64::from(days))).day)
}

fn date_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    sky: &Sky,
    light: &LightView<'_>,
    kept: &mut DayCard,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let clock = sky.zone().clock(light.at);
    ui.horizontal(|ui| {
        ui.label(style.title("The day"));
        ui.label(style.note(format!("{} by the clocks of {}", sky.zone().minutes(light.at), sky.zone().name())));
    });
    let mut show = |moment: Result<Moment, String>| {
        kept.fault = moment.as_ref().err().cloned();
        actions.extend(moment.map(|moment| LightAction::Show(moment).into()));
    };
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        for (words, name, days) in [("−30", "30 days earlier", -30), ("−1", "a day earlier", -1)] {
            if button(ui, style, words, style.px(40.0)).on_hover_text(name).clicked() {
                show(days_later(sky, light.at, days).map_err(|error| error.to_string()));
            }
        }
        let room = style.px(170.0);
        ui.allocate_ui(Vec2::new(room, style.px(22.0)), |ui| {
            ui.set_width(room);
            let shown = clock.day.to_string();
            let typed = value_line(ui, style, ui.id().with("date"), "date", "Date", &shown);
            if let Some(ScaleInput::Typed(text)) = typed {
                let day = text.parse::<Day>().map_err(|error| error.to_string());
                show(day.and_then(|day| on_day(sky, light.at, day).map_err(|error| error.to_string())));
            }
        });
        for (words, name, days) in [("+1", "a day later", 1), ("+30", "30 days later", 30)] {
            if button(ui, style, words, style.px(40.0)).on_hover_text(name).clicked() {
                show(days_later(sky, light.at, days).map_err(|error| error.to_string()));
            }
        }
    });
    if let Some(fault) = &kept.fault {
        ui.label(style.note(fault));
    }
    if light.moment.is_none() {
        let sun = panel.desk.survey().light(panel.sun());
        ui.label(style.note(format!(
            "The picture has the sun at {:.0}°, {:.0}° up, as it was set. Press on the strip for the day's.",
            sun.azimuth_deg.rem_euclid(360.0),
            sun.altitude_deg
        )));
    }
}

/// Where moments of a day lie along the strip.
struct Along {
    bounds: (Moment, Moment),
    rect: Rect,
}

impl Along {
    fn x(&self, moment: Moment) -> f32 {
        let share = moment.seconds_since(self.bounds.0) / self.bounds.1.seconds_since(self.bounds.0);
        self.rect.left() + screen(share.clamp(0.0, 1.0)) * self.rect.width()
    }

    /// The whole minute at a place.
    fn moment(&self, x: f32) -> Moment {
        let share = f64::from(((x - self.rect.left()) / self.rect.width()).clamp(0.0, 1.0));
        let minutes = (share * self.bounds.1.seconds_since(self.bounds.0) / 60.0).round();
        // Midnight at the end is the next day's.
        self.bounds.0.plus_s(60.0 * minutes).min(self.bounds.1.plus_s(-60.0))
    }

    fn stretch(&self, (from, to): (Moment, Moment), y: [f32; 2]) -> Rect {
        Rect::from_min_max(Pos2::new(self.x(from), y[0]), Pos2::new(self.x(to), y[1]))
    }
}

fn strip_ui(ui: &mut Ui, panel: &PanelContext<'_>, sky: &Sky, light: &LightView<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let Ok(bounds) = sky.zone().bounds(sky.zone().clock(light.at).day) else { return };
    let size = Vec2::new(ui.available_width(), style.px(74.0));
    let (whole, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let rect = whole.shrink2(Vec2::new(style.px(8.0), 0.0));
    let along = Along { bounds, rect };
    let [sky_y, front_y] = [[12.0, 30.0], [34.0, 52.0]].map(|y| y.map(|y| rect.top() + style.px(y)));
    let painter = ui.painter();
    painter.rect_filled(along.stretch(bounds, sky_y), 2.0, style.well());
    painter.rect_filled(along.stretch(bounds, front_y), 2.0, style.well());
    if let Some(day) = light.day {
        paint_sky(painter, style, &along, sky_y, day);
        paint_front(painter, style, &along, front_y, day);
        for contact in day.contacts.iter().filter(|contact| contact.seen) {
            let x = along.x(contact.at);
            painter.vline(x, sky_y[1]..=front_y[0], Stroke::new(style.px(1.6), style.side()));
        }
    }
    for hour in 0..24_u8 {
        let Ok(at) = sky.zone().at(sky.zone().clock(light.at).day, hour, 0) else { continue };
        let x = along.x(at.moment);
        let long = hour % NUMBERED_H == 0;
        let end = front_y[1] + style.px(if long { 5.0 } else { 3.0 });
        painter.vline(x, front_y[1]..=end, style.control());
        if long && hour > 0 {
            let at = Pos2::new(x, end + style.px(1.0));
            painter.text(at, Align2::CENTER_TOP, hour.to_string(), style.figure(), style.soft());
        }
    }
    let x = along.x(light.at);
    // Faint while the picture has another light.
    let ink = if light.moment.is_some() { style.ink() } else { style.line() };
    painter.vline(x, rect.top() + style.px(10.0)..=front_y[1], Stroke::new(style.px(1.4), ink));
    if light.moment.is_some() {
        index_mark(painter, style, Pos2::new(x, rect.top() + style.px(10.0)));
    }
    focus_ring(ui, style, &response, whole);
    let hand = response.interact_pointer_pos().filter(|_| response.clicked() || response.dragged());
    let by = |minutes: f64| {
        let moved = light.at.plus_s(60.0 * minutes);
        LightAction::Show(moved).into()
    };
    if let Some(hand) = hand {
        let moment = along.moment(hand.x);
        if moment != light.at || light.moment.is_none() {
            actions.push(LightAction::Show(moment).into());
        }
    }
    match steps(ui, &response) {
        Some(ScaleInput::Stops(count)) => actions.push(by(15.0 * f64::from(count))),
        Some(ScaleInput::Fine(count)) => actions.push(by(f64::from(count))),
        Some(ScaleInput::End(last)) => {
            actions.push(LightAction::Show(if last { bounds.1.plus_s(-60.0) } else { bounds.0 }).into());
        }
        Some(ScaleInput::To(_) | ScaleInput::Typed(_)) | None => {}
    }
    let minutes = light.at.seconds_since(bounds.0) / 60.0;
    tell(ui, &response, "hour of the day", &sky.zone().minutes(light.at), minutes);
    response.on_hover_cursor(CursorIcon::ResizeHorizontal);
}

/// From night to day, in the theme's colours.
fn daylight(style: &WindowStyle, share: f32) -> Color32 {
    let is_dark = style.ink().intensity() > style.panel().intensity();
    let (night, day) = if is_dark { (style.panel(), style.ink()) } else { (style.ink(), style.panel()) };
    mixed(day, night, share)
}

/// Night, twilights, day; golden and blue hours as lines under it.
fn paint_sky(painter: &egui::Painter, style: &WindowStyle, along: &Along, y: [f32; 2], day: &DayLight) {
    let bounds = day.sun.bounds;
    painter.rect_filled(along.stretch(bounds, y), 2.0, daylight(style, 0.25));
    // From the darkest on: each lies over the one before.
    let [civil, nautical, astronomical] = &day.sun.twilights;
    for (crossings, share) in [(astronomical, 0.4), (nautical, 0.55), (civil, 0.7), (&day.sun.sun, 0.95)] {
        for span in crossings.spans_above(bounds) {
            painter.rect_filled(along.stretch(span, y), 0.0, daylight(style, share));
        }
    }
    for (spans, colour) in [(&day.golden, style.ask()), (&day.blue, style.side())] {
        for span in spans {
            let line = along.stretch(*span, [y[1] - style.px(5.0), y[1]]);
            painter.rect_filled(line, 0.0, colour);
        }
    }
    for moment in day.sun.sun.rises.iter().chain(&day.sun.sun.sets).chain(&day.sun.transits) {
        painter.vline(along.x(*moment), y[0]..=y[1], Stroke::new(1.0, style.soft()));
    }
}

/// When the sun is on the front: full, grazing in stripes; in shadow or turned away thin.
fn paint_front(painter: &egui::Painter, style: &WindowStyle, along: &Along, y: [f32; 2], day: &DayLight) {
    let Some((_, spans)) = &day.front else { return };
    let warm = style.ask();
    for span in spans {
        let rect = along.stretch((span.from, span.to), y);
        match span.light {
            FaceLight::Lit => {
                painter.rect_filled(rect, 0.0, thinned(warm, 0.75));
            }
            FaceLight::Grazing => {
                painter.rect_filled(rect, 0.0, thinned(warm, 0.25));
                stripes(painter, style, rect, warm);
            }
            FaceLight::Shaded => stripes(painter, style, rect, style.line()),
            FaceLight::Away | FaceLight::Night => {}
        }
    }
}

/// Slanting stripes in a rectangle.
fn stripes(painter: &egui::Painter, style: &WindowStyle, rect: Rect, colour: Color32) {
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let mut x = rect.left() - rect.height();
    while x < rect.right() {
        let ends = [Pos2::new(x, rect.bottom()), Pos2::new(x + rect.height(), rect.top())];
        painter.add(Shape::line_segment(ends, Stroke::new(style.px(1.6), colour)));
        x += style.px(5.0);
    }
}

/// The moment in words, and the day's.
fn words_ui(ui: &mut Ui, panel: &PanelContext<'_>, sky: &Sky, light: &LightView<'_>) {
    let style = &panel.style;
    let sun = sky.sun(light.at);
    let minutes = |moment: Moment| sky.zone().minutes(moment);
    let mut words = if sun.is_up() {
        format!("Sun {:.0}°, {:.0}° up", sun.azimuth.compass_degrees(), sun.altitude.degrees())
    } else {
        format!("Sun {:.0}° below the horizon", -sun.altitude.degrees())
    };
    let standing = panel.standing();
    if let (Ok(subject), true) = (&panel.desk.survey().subject, sun.is_up()) {
        words = format!("{words}, {}", light_side(subject, standing, &sun.direction()).words());
    }
    ui.label(style.plain(words));
    let Some(day) = light.day else {
        ui.label(style.note(light.fault.unwrap_or("finding out about the day …")));
        return;
    };
    if let Some((face, spans)) = &day.front {
        let now = day.light_at(light.at).map_or("", FaceLight::words);
        let lit: Vec<String> = stretches_of(spans, FaceLight::has_sun)
            .iter()
            .map(|(from, to)| format!("{}–{}", minutes(*from), minutes(*to)))
            .collect();
        let lit =
            if lit.is_empty() { "no sun on it that day".to_owned() } else { format!("sun on it {}", lit.join(", ")) };
        ui.label(style.note(format!("{}: {now}; {lit}", face.name)));
    }
    let first = |moments: &[Moment], word: &str| {
        moments.first().map_or_else(|| format!("no sun{word}"), |moment| format!("sun{word} {}", minutes(*moment)))
    };
    let course = if day.sun.sun.always_above() {
        "the sun does not set".to_owned()
    } else if day.sun.sun.always_below() {
        "the sun does not rise".to_owned()
    } else {
        format!("{}, {}", first(&day.sun.sun.rises, "rise"), first(&day.sun.sun.sets, "set"))
    };
    ui.label(style.note(course));
    for contact in day.contacts.iter().filter(|contact| contact.seen).take(4) {
        ui.label(style.note(format!("the disc {} at {}", contact.kind.words(), sky.zone().seconds(contact.at))));
    }
    if let Some(change) = sky.zone().change_on(day.sun.day) {
        ui.label(style.note(change));
    }
    let seen = sun_in_picture(standing, &sun.direction());
    if sun.is_up() {
        ui.label(style.note(seen.flare.words()));
    }
    if sun.is_up() && seen.near_frame {
        let warning = "The sun stands in or near the frame: never look at it through an optical finder";
        ui.label(egui::RichText::new(warning).font(style.caption()).color(style.ask()));
    }
}

/// How high the water stands, and the file that says so.
fn water_ui(ui: &mut Ui, panel: &PanelContext<'_>, sky: &Sky, light: &LightView<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        if let Some(water) = light.water {
            let at = sky.zone().minutes(light.at);
            let words = match water.level_m {
                Some(level_m) => format!("Water at {} at {at}", panel.units().length(level_m, 1)),
                None => format!("The tide table does not reach {at}"),
            };
            ui.label(style.note(words)).on_hover_text(water.path.to_string_lossy());
        }
        let word = if light.water.is_some() { "Other tides…" } else { "Tide table…" };
        let hint = "a CSV file of time,height_m: times by the site's clocks, heights in the site's metres";
        if text_button(ui, style, word, "tide table").on_hover_text(hint).clicked() {
            actions.push(LightAction::ChooseTide.into());
        }
        if light.water.is_some() && text_button(ui, style, "Without", "without a tide table").clicked() {
            actions.push(LightAction::Tide(None).into());
        }
    });
    if light.water.is_some_and(|water| water.covers_stance) {
        let warning =
            "The ground you stand on is under water then. Tides differ from tables with wind and pressure: ask locally";
        ui.label(egui::RichText::new(warning).font(style.caption()).color(style.ask()));
    }
}

fn play_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    sky: &Sky,
    light: &LightView<'_>,
    kept: &mut DayCard,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        let word = if kept.playing { "Stop" } else { "Play the day" };
        let width = button_width(ui, style, "Play the day");
        if choice(ui, style, word, "play the day", kept.playing, width).clicked() {
            kept.playing = !kept.playing;
        }
        let width = button_width(ui, style, "The year");
        if choice(ui, style, "The year", "card of the year", kept.shows_year, width).clicked() {
            kept.shows_year = !kept.shows_year;
        }
    });
    if kept.playing
        && let Ok(bounds) = sky.zone().bounds(sky.zone().clock(light.at).day)
    {
        let passed_s = f64::from(ui.input(|input| input.stable_dt)).min(0.2);
        let next = light.at.plus_s((DAY_S / PLAY_S * passed_s).max(60.0));
        // The day begins anew.
        let next = if next < bounds.1 { next } else { bounds.0 };
        actions.push(LightAction::Show(next).into());
        ui.ctx().request_repaint();
    }
}

/// The next moment with a light that is required.
fn next_ui(ui: &mut Ui, panel: &PanelContext<'_>, kept: &mut DayCard, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.label(style.note("the next moment with"));
    let choices = [
        ("Front lit", LightRequirement { lit: true, ..LightRequirement::default() }),
        (
            "Light that grazes it",
            LightRequirement {
                incidence: Some((Angle::from_degrees(60.0), Angle::from_degrees(80.0))),
                ..LightRequirement::default()
            },
        ),
        ("Lit before a deep sky", LightRequirement { lit: true, deep_sky: true, ..LightRequirement::default() }),
        ("Sun at its edge", LightRequirement { at_edge: true, ..LightRequirement::default() }),
    ];
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = Vec2::splat(style.px(4.0));
        for (words, asked_for) in choices {
            let width = button_width(ui, style, words);
            if button(ui, style, words, width).clicked() {
                let asked_for = LightRequirement {
                    before_minute: kept.before_noon.then_some(12 * 60),
                    weekdays: if kept.weekend { [false, false, false, false, false, true, true] } else { [false; 7] },
                    ..asked_for
                };
                actions.push(LightAction::FindNext(asked_for).into());
            }
        }
        for (words, name, set) in [
            ("Before noon", "only before noon", &mut kept.before_noon),
            ("At weekends", "only at weekends", &mut kept.weekend),
        ] {
            let width = button_width(ui, style, words);
            if choice(ui, style, words, name, *set, width).clicked() {
                *set = !*set;
            }
        }
    });
}

/// The year: days across, hours up; a press goes there.
fn year_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    sky: &Sky,
    light: &LightView<'_>,
    kept: &mut DayCard,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let Some(year) = light.year else {
        ui.label(style.note("finding out about the year …"));
        return;
    };
    let key = YearKey { site: panel.desk.site_version(), year: year.year, style: *style };
    let texture = match kept.year.take() {
        Some((known, texture)) if known == key => texture,
        _ => ui.ctx().load_texture("year of light", picture_of(year, style), TextureOptions::NEAREST),
    };
    let size = Vec2::new(ui.available_width(), style.px(150.0));
    let (whole, response) = ui.allocate_exact_size(size, Sense::click());
    let rect = Rect::from_min_max(
        whole.min + Vec2::new(style.px(22.0), style.px(4.0)),
        whole.max - Vec2::new(style.px(8.0), style.px(16.0)),
    );
    let painter = ui.painter();
    let all = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
    painter.image(texture.id(), rect, all, Color32::WHITE);
    kept.year = Some((key, texture));
    for hour in [6_u8, 12, 18] {
        let y = rect.bottom() - f32::from(hour) / 24.0 * rect.height();
        painter.hline(rect.x_range(), y, Stroke::new(0.6, style.line()));
        let at = Pos2::new(rect.left() - style.px(3.0), y);
        painter.text(at, Align2::RIGHT_CENTER, hour.to_string(), style.figure(), style.soft());
    }
    let days = screen(year.days.len() as f64).max(1.0);
    let across = |number: usize| rect.left() + (screen(number as f64) + 0.5) / days * rect.width();
    const MONTHS: [&str; 12] = ["J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D"];
    for (number, day) in year.days.iter().enumerate() {
        let (_, month, of_month) = day.day.numbers();
        if of_month == 15 {
            let name = MONTHS.get(usize::from(month) - 1).copied().unwrap_or_default();
            let at = Pos2::new(across(number), rect.bottom() + style.px(2.0));
            painter.text(at, Align2::CENTER_TOP, name, style.figure(), style.soft());
        }
    }
    let clock = sky.zone().clock(light.at);
    if let Some(number) = year.days.iter().position(|day| day.day == clock.day) {
        let share = (f32::from(clock.hour) + f32::from(clock.minute) / 60.0) / 24.0;
        let at = Pos2::new(across(number), rect.bottom() - share * rect.height());
        painter.circle_stroke(at, style.px(4.0), Stroke::new(style.px(1.8), style.ink()));
    }
    response.widget_info(|| {
        let words = format!("light on the front through {}", year.year);
        WidgetInfo::labeled(WidgetType::Image, true, words)
    });
    if let Some(hand) = response.interact_pointer_pos().filter(|_| response.clicked()) {
        let number = (f64::from((hand.x - rect.left()) / rect.width()) * f64::from(days)) as usize;
        let minutes = f64::from(((rect.bottom() - hand.y) / rect.height()).clamp(0.0, 1.0)) * 24.0 * 60.0;
        if let Some(day) = year.days.get(number.min(year.days.len().saturating_sub(1))) {
            actions.push(LightAction::Show(day.start.plus_s(60.0 * minutes.round())).into());
        }
    }
    response.on_hover_cursor(CursorIcon::PointingHand);
    ui.horizontal(|ui| {
        for (light, words) in
            [(FaceLight::Lit, "lit"), (FaceLight::Grazing, "grazing"), (FaceLight::Shaded, "in shadow")]
        {
            let (sign, _) = ui.allocate_exact_size(Vec2::splat(style.px(10.0)), Sense::hover());
            ui.painter().rect_filled(sign, 1.0, colour_of(light, style));
            ui.label(style.note(words));
        }
    });
}

fn colour_of(light: FaceLight, style: &WindowStyle) -> Color32 {
    match light {
        FaceLight::Lit => style.ask(),
        FaceLight::Grazing => mixed(style.ask(), daylight(style, 0.95), 0.45),
        FaceLight::Shaded => daylight(style, 0.65),
        FaceLight::Away => daylight(style, 0.85),
        FaceLight::Night => daylight(style, 0.25),
    }
}

/// A share of one colour in another.
fn mixed(colour: Color32, ground: Color32, share: f32) -> Color32 {
    ground.lerp_to_gamma(colour, share)
}

/// A pixel for each day and step.
fn picture_of(year: &LightYear, style: &WindowStyle) -> ColorImage {
    let rows = (24 * 60 / year.step_min.max(1)) as usize;
    let columns = year.days.len().max(1);
    let mut image = ColorImage::filled([columns, rows], colour_of(FaceLight::Night, style));
    for (column, day) in year.days.iter().enumerate() {
        for (step, light) in day.lights.iter().take(rows).enumerate() {
            image.pixels[(rows - 1 - step) * columns + column] = colour_of(*light, style);
        }
    }
    image
}
