//! What is handed over? Captures and their records, and where they go.

use bevy_egui::egui::{self, ScrollArea, Ui, Vec2};

use super::context::PanelContext;
use super::figures::{degrees, f_number, heading, millimetres};
use super::lens::lens_words;
use super::requirement::chips;
use super::site::{TypedPath, path_ui};
use super::slider::{AnyEnd, Slider, plain_number};
use super::style::{WindowStyle, button, button_width, choice, main_button, text_button};
use crate::day::WantedLight;
use crate::handover::deliver::{ComparisonForm, DayForm, DeliveryForm, DeliveryKind, IfExists, PageForm};
use crate::handover::film::FilmForm;
use crate::handover::page::PaperSize;
use crate::handover::places::PlacesForm;
use crate::handover::sequence::MOST_FRAMES;
use crate::handover::{PageWords, SheetOrder};
use crate::optics::Orientation;
use crate::place::Day;
use crate::plan::PrintId;
use crate::still::{Depth, Look, Surround};
use crate::viewer::state::desk::{Action, DeliveryAction, DeliveryOptions, DeliveryView, PrintAction, WorkAction};

/// What is typed on this card.
#[derive(Clone, Debug, Default)]
pub(super) struct DeliveryState {
    /// The day, while it is no day yet.
    day: Option<String>,
}

/// What is handed over, how, and where to.
pub(super) fn delivery_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &DeliveryView<'_>,
    typed: &mut TypedPath,
    input: &mut DeliveryState,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(5.0));
    ui.label(style.title("Hand over"));
    let half = 0.5 * (ui.available_width() - style.px(6.0));
    for kinds in DeliveryKind::ALL.chunks(2) {
        ui.horizontal(|ui| {
            for &kind in kinds {
                let word = kind.words();
                if choice(ui, style, word, &format!("hand over: {word}"), view.kind == kind, half).clicked() {
                    actions.push(DeliveryAction::ShowPage(kind).into());
                }
            }
        });
    }
    ui.add_space(style.px(4.0));
    let mut options = view.options.clone();
    match view.kind {
        DeliveryKind::Still => still_ui(ui, panel, &mut options, actions),
        DeliveryKind::Card => card_ui(ui, panel, &mut options, input, actions),
        DeliveryKind::Sheet => sheet_ui(ui, panel, &mut options, input, actions),
        DeliveryKind::Day => order_ui(ui, panel, &mut options, input, actions),
        DeliveryKind::Places => places_ui(ui, panel, &mut options, actions),
        DeliveryKind::Sequence => sequence_ui(ui, panel, view, &mut options, actions),
        DeliveryKind::Film => film_ui(ui, panel, &mut options, actions),
        DeliveryKind::Comparison => comparison_ui(ui, panel, &mut options, actions),
    }
    if options != *view.options {
        actions.push(DeliveryAction::SetOptions(Box::new(options)).into());
    }
    ui.add_space(style.px(4.0));
    ui.label(style.title("Folder"));
    match &panel.desk.folder() {
        Some(folder) => ui.add(egui::Label::new(style.note(folder.to_string_lossy())).wrap()),
        None => ui.label(style.note("none chosen yet")),
    };
    if button(ui, style, "Choose folder…", style.px(140.0)).clicked() {
        actions.push(DeliveryAction::ChooseFolder.into());
    }
    path_ui(ui, style, typed, "or type its path", "Use", |path| DeliveryAction::Folder(path).into(), actions);
    ui.add_space(style.px(4.0));
    works_ui(ui, panel, actions);
    if !view.written.is_empty() {
        ui.label(style.title("Written"));
        for path in view.written.iter().rev().take(8) {
            let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
            ui.add(egui::Label::new(style.note(&name).color(style.ink())).wrap()).on_hover_text(path.to_string_lossy());
            ui.horizontal(|ui| {
                if text_button(ui, style, "Open", &format!("open {name}")).clicked() {
                    actions.push(DeliveryAction::Open(path.clone()).into());
                }
                if text_button(ui, style, "Show in folder", &format!("show {name} in its folder")).clicked() {
                    actions.push(DeliveryAction::ShowInFolder(path.clone()).into());
                }
            });
        }
    }
}

/// A still of this stance.
fn still_ui(ui: &mut Ui, panel: &PanelContext<'_>, options: &mut DeliveryOptions, actions: &mut Vec<Action>) {
    let style = &panel.style;
    note(ui, style, "A still of this stance, traced ray by ray through the lens, with its record.");
    look_ui(ui, style, options);
    still_options_ui(ui, style, options);
    let frame = &panel.standing().camera.frame;
    let whole = format!("Full size, {:.0} MP", frame.megapixels());
    let half = 0.5 * (ui.available_width() - style.px(6.0));
    ui.horizontal(|ui| {
        if button(ui, style, "Screen size", half)
            .on_hover_text("2000 pixels along its longer side, or as many as the finder shows; quick")
            .clicked()
        {
            actions.push(DeliveryAction::Capture { full: false, folder: None }.into());
        }
        let said = format!("{} × {} pixels, as the sensor has", frame.width_px, frame.height_px);
        if button(ui, style, &whole, half).on_hover_text(said).clicked() {
            actions.push(DeliveryAction::Capture { full: true, folder: None }.into());
        }
    });
}

/// What a still shows beside the picture itself.
fn still_options_ui(ui: &mut Ui, style: &WindowStyle, options: &mut DeliveryOptions) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        ui.label(style.note("surround"));
        for (surround, words) in [(Surround::Sky, "Sky"), (Surround::White, "White"), (Surround::Clear, "Clear")] {
            let width = button_width(ui, style, words);
            if choice(ui, style, words, &format!("surround: {words}"), options.surround == surround, width).clicked() {
                options.surround = surround;
            }
        }
    });
    let mut fine = options.depth == Depth::Sixteen;
    for (ticked, words) in [
        (&mut options.crop, "Draw the edge of the final picture"),
        (&mut options.before_after, "Final picture beside it"),
        (&mut fine, "16 bits a channel"),
    ] {
        let response = ui.checkbox(ticked, style.plain(words));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(words));
    }
    options.depth = if fine { Depth::Sixteen } else { Depth::Eight };
}

fn note(ui: &mut Ui, style: &WindowStyle, words: &str) {
    ui.add(egui::Label::new(style.note(words)).wrap());
}

/// The day that something is for; what is typed holds as soon as it is a day.
fn day_ui(ui: &mut Ui, style: &WindowStyle, options: &mut DeliveryOptions, input: &mut DeliveryState) {
    ui.horizontal(|ui| {
        ui.label(style.note("date of the shoot"));
        let set = options.day.map_or_else(String::new, |day| day.to_string());
        let mut text = input.day.clone().unwrap_or(set);
        let field = egui::TextEdit::singleline(&mut text).desired_width(style.px(96.0)).hint_text("2026-06-21");
        let response = ui.add(field);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("date of the shoot"));
        if response.changed() {
            match text.parse::<Day>() {
                Ok(day) => (options.day, input.day) = (Some(day), None),
                Err(_) => input.day = Some(text),
            }
        } else if response.lost_focus() {
            input.day = None;
        }
    });
    if let Some(text) = &input.day
        && let Err(error) = text.parse::<Day>()
    {
        ui.add(egui::Label::new(style.note(error.to_string()).color(style.ask())).wrap());
    }
}

fn card_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    options: &mut DeliveryOptions,
    input: &mut DeliveryState,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    note(ui, style, "Two sides for the pocket about this stance: how to set the camera, and where to stand.");
    day_ui(ui, style, options, input);
    moment_ui(ui, panel);
    words_ui(ui, style, options);
    paper_ui(ui, style, options, false);
    let half = 0.5 * (ui.available_width() - style.px(6.0));
    ui.horizontal(|ui| {
        for (word, hint, form) in [
            ("Save for phone", "an .html page that works offline", PageForm::Html),
            ("Save for paper", "two sides of half a sheet, .pdf", PageForm::Pdf),
        ] {
            if button(ui, style, word, half).on_hover_text(hint).clicked() {
                actions.push(DeliveryAction::Write(DeliveryForm::Card(form)).into());
            }
        }
    });
}

/// The prints with a tick each.
fn prints_ui(ui: &mut Ui, panel: &PanelContext<'_>, options: &mut DeliveryOptions) {
    let style = &panel.style;
    if panel.desk.prints().is_empty() {
        note(
            ui,
            style,
            "No print is pinned, so the current stance is included. Pin stances on the Walk desk to choose among them.",
        );
        return;
    }
    ui.label(style.note("prints to include"));
    for pinned in panel.desk.prints() {
        let id = pinned.print.id;
        let goes_in = !options.left_out.contains(&id);
        let mut ticked = goes_in;
        let response = ui.checkbox(&mut ticked, style.plain(&pinned.print.name));
        let name = format!("include {}", pinned.print.name);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
        if ticked && !goes_in {
            options.left_out.retain(|known| *known != id);
        } else if !ticked && goes_in {
            options.left_out.push(id);
        }
    }
}

/// What the site is shown as in the pictures.
fn look_ui(ui: &mut Ui, style: &WindowStyle, options: &mut DeliveryOptions) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        ui.label(style.note("pictures"));
        for (look, words) in [(Look::Card, "Of card"), (Look::Materials, "In materials")] {
            let width = button_width(ui, style, words);
            if choice(ui, style, words, words, options.look == look, width).clicked() {
                options.look = look;
            }
        }
    });
    if options.look == Look::Materials {
        note(
            ui,
            style,
            "Brick, slate, glass and grass are drawn in what is saved. The finder has its own switch, in the menu of units at the head.",
        );
    }
}

/// The moment that cards and sheets are planned for: the one whose light the window shows.
fn moment_ui(ui: &mut Ui, panel: &PanelContext<'_>) {
    let light = panel.desk.light();
    let said = match (light.sky, light.moment) {
        (Ok(sky), Some(moment)) => {
            let zone = sky.zone();
            format!("planned for {} {}, the moment shown", zone.clock(moment.plus_s(30.0)).day, zone.minutes(moment))
        }
        (Ok(_), None) => "no moment planned; show one on the strip of the day".into(),
        (Err(why), _) => format!("no moment planned: {why}"),
    };
    note(ui, &panel.style, &said);
}

/// The language of the page: one that is shipped, or a file of one's own.
fn words_ui(ui: &mut Ui, style: &WindowStyle, options: &mut DeliveryOptions) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        ui.label(style.note("language"));
        for (language, word) in PageWords::languages().into_iter().zip(["English", "Deutsch"]) {
            let width = button_width(ui, style, word);
            if choice(ui, style, word, word, options.words == language, width).clicked() {
                options.words = language.into();
            }
        }
    });
    let own = !PageWords::languages().contains(&options.words.as_str());
    let mut path = if own { options.words.clone() } else { String::new() };
    let hint = "or the path of a file of words";
    if line_ui(ui, style, &mut path, hint, "file of words", 400) {
        options.words = if path.trim().is_empty() { PageWords::languages()[0].into() } else { path };
    }
}

/// The paper, and how a sheet is turned.
fn paper_ui(ui: &mut Ui, style: &WindowStyle, options: &mut DeliveryOptions, turns: bool) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        ui.label(style.note("paper"));
        for (size, word) in [(PaperSize::A4, "A4"), (PaperSize::Letter, "Letter")] {
            let width = button_width(ui, style, word);
            if choice(ui, style, word, &format!("paper: {word}"), options.paper.size == size, width).clicked() {
                options.paper.size = size;
            }
        }
        if turns {
            for (turned, word) in [(Orientation::Landscape, "Landscape"), (Orientation::Portrait, "Portrait")] {
                let width = button_width(ui, style, word);
                if choice(ui, style, word, &format!("paper: {word}"), options.paper.turned == turned, width).clicked() {
                    options.paper.turned = turned;
                }
            }
        }
    });
}

/// A line of text; whether it was changed.
fn line_ui(ui: &mut Ui, style: &WindowStyle, text: &mut String, hint: &str, name: &str, longest: usize) -> bool {
    let width = ui.available_width() - style.px(10.0);
    let response = ui.add(egui::TextEdit::singleline(text).desired_width(width).hint_text(hint).char_limit(longest));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
    response.changed()
}

/// The prints of a sheet: which go in, in which order, and what is said of each.
fn sheet_prints_ui(ui: &mut Ui, panel: &PanelContext<'_>, options: &mut DeliveryOptions, actions: &mut Vec<Action>) {
    let style = &panel.style;
    prints_ui(ui, panel, options);
    let included: Vec<(usize, PrintId, &str)> = panel
        .desk
        .prints()
        .iter()
        .enumerate()
        .filter(|(_, pinned)| !options.left_out.contains(&pinned.print.id))
        .map(|(index, pinned)| (index, pinned.print.id, pinned.print.name.as_str()))
        .collect();
    if included.is_empty() {
        return;
    }
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        ui.label(style.note("recommend"));
        for (order, word) in [(SheetOrder::BestFirst, "The best"), (SheetOrder::AsGiven, "The first")] {
            let width = button_width(ui, style, word);
            if choice(ui, style, word, &format!("recommend: {word}"), options.order == order, width).clicked() {
                options.order = order;
            }
        }
    });
    line_ui(ui, style, &mut options.headline, "the recommendation in your words", "recommendation", 200);
    for (place, (index, id, name)) in included.iter().enumerate() {
        ui.horizontal(|ui| {
            let room = Vec2::new((ui.available_width() - style.px(104.0)).max(style.px(40.0)), style.px(18.0));
            ui.allocate_ui(room, |ui| {
                let words = style.note(format!("{}  {name}", place + 1)).color(style.ink());
                ui.add(egui::Label::new(words).truncate());
            });
            let before = place.checked_sub(1).and_then(|place| included.get(place));
            if let Some((earlier, ..)) = before
                && text_button(ui, style, "Earlier", &format!("{name} earlier")).clicked()
            {
                actions.push(PrintAction::Move(*id, *earlier).into());
            }
            if let Some((later, ..)) = included.get(place + 1)
                && *later > *index
                && text_button(ui, style, "Later", &format!("{name} later")).clicked()
            {
                actions.push(PrintAction::Move(*id, *later).into());
            }
        });
        let known = options.said.iter().position(|(known, _)| known == id);
        let mut said = known.map_or_else(String::new, |known| options.said[known].1.clone());
        if line_ui(ui, style, &mut said, "your words about it", &format!("words about {name}"), 400) {
            options.said.retain(|(known, _)| known != id);
            if !said.is_empty() {
                options.said.push((*id, said));
            }
        }
    }
}

fn sheet_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    options: &mut DeliveryOptions,
    input: &mut DeliveryState,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    note(ui, style, "A folder for the client: one recommendation, an alternative, and what else there is to decide.");
    line_ui(ui, style, &mut options.title, "title; the site's name if empty", "title of the sheet", 200);
    sheet_prints_ui(ui, panel, options, actions);
    day_ui(ui, style, options, input);
    moment_ui(ui, panel);
    words_ui(ui, style, options);
    paper_ui(ui, style, options, true);
    let response = ui.checkbox(&mut options.technical, style.plain("Figures in degrees and pixels"));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("figures in degrees and pixels"));
    ui.horizontal(|ui| {
        let words = match &options.brand {
            Some(path) => path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned(),
            None => "no name or logo".into(),
        };
        ui.add(egui::Label::new(style.note(words)).truncate());
    });
    ui.horizontal(|ui| {
        if text_button(ui, style, "Choose brand file…", "choose the file with your name and logo").clicked() {
            actions.push(DeliveryAction::ChooseBrand.into());
        }
        if options.brand.is_some() && text_button(ui, style, "Remove", "remove your name and logo").clicked() {
            actions.push(DeliveryAction::Brand(None).into());
        }
    });
    look_ui(ui, style, options);
    if main_button(ui, style, "Save the sheet", "Save the sheet", ui.available_width()).clicked() {
        actions.push(DeliveryAction::Write(DeliveryForm::Sheet).into());
    }
}

/// The stances of a day in order.
fn order_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    options: &mut DeliveryOptions,
    input: &mut DeliveryState,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    note(
        ui,
        style,
        "The prints in the order that walks least and has each of them in its light: hours, ways, whom to ask, what to pack.",
    );
    day_ui(ui, style, options, input);
    ui.label(style.note("each stance waits for"));
    let wanted = [
        ("Sun on the face", WantedLight::Sun),
        ("Grazing light", WantedLight::Grazing),
        ("Daylight", WantedLight::Daylight),
    ];
    let present = options.day_order.wanted;
    chips(
        ui,
        style,
        wanted.into_iter().map(|(word, light)| (word.to_owned(), format!("wait for: {word}"), present == light, light)),
        &mut |light, _| options.day_order.wanted = light,
    );
    minutes_ui(ui, style, "minutes to set up at each stance", "Setting up", &mut options.day_order.setup_s);
    minutes_ui(ui, style, "minutes of work at each stance", "Work", &mut options.day_order.work_s);
    prints_ui(ui, panel, options);
    let half = 0.5 * (ui.available_width() - style.px(6.0));
    let forms = [
        ("Save for phone", "an .html page that works offline", DayForm::Page(PageForm::Html)),
        ("Save for paper", "A4 pages, .pdf", DayForm::Page(PageForm::Pdf)),
        ("Save for calendar", "an event for each stance, .ics", DayForm::Calendar),
        ("Save for GPS", "a route through the stances, .gpx", DayForm::Route),
    ];
    for two in forms.chunks(2) {
        ui.horizontal(|ui| {
            for &(word, hint, form) in two {
                if button(ui, style, word, half).on_hover_text(hint).clicked() {
                    actions.push(DeliveryAction::Write(DeliveryForm::Day(form)).into());
                }
            }
        });
    }
}

/// A time in minutes, kept in seconds.
fn minutes_ui(ui: &mut Ui, style: &WindowStyle, name: &str, caption: &str, seconds: &mut f64) {
    let slider = Slider {
        name,
        caption,
        stops: &[0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0],
        any: AnyEnd::Nowhere,
        value: Some(*seconds / 60.0),
        range: (0.0, 600.0),
        written: &|minutes| format!("{minutes:.0} min"),
        read: &plain_number,
        note: None,
    };
    if let Some(Some(minutes)) = slider.ui(ui, style) {
        *seconds = 60.0 * minutes;
    }
}

fn places_ui(ui: &mut Ui, panel: &PanelContext<'_>, options: &mut DeliveryOptions, actions: &mut Vec<Action>) {
    let style = &panel.style;
    note(ui, style, "Stances, subject and grounds for maps and GPS.");
    prints_ui(ui, panel, options);
    let third = (ui.available_width() - style.px(12.0)) / 3.0;
    ui.horizontal(|ui| {
        for (word, said, form) in [
            ("Save GPX", "waypoints for a GPS", PlacesForm::Gpx),
            ("Save KML", "placemarks with the view of each stance", PlacesForm::Kml),
            ("Save GeoJSON", "points and areas for maps", PlacesForm::GeoJson),
        ] {
            if button(ui, style, word, third).on_hover_text(said).clicked() {
                actions.push(DeliveryAction::Write(DeliveryForm::Places(form)).into());
            }
        }
    });
}

fn comparison_ui(ui: &mut Ui, panel: &PanelContext<'_>, options: &mut DeliveryOptions, actions: &mut Vec<Action>) {
    let style = &panel.style;
    note(ui, style, "Every figure of the stances side by side, and which is best. Files are metric.");
    prints_ui(ui, panel, options);
    let half = 0.5 * (ui.available_width() - style.px(6.0));
    ui.horizontal(|ui| {
        for (word, hint, form) in
            [("Save CSV", "for spreadsheets", ComparisonForm::Csv), ("Save JSON", "for programs", ComparisonForm::Json)]
        {
            if button(ui, style, word, half).on_hover_text(hint).clicked() {
                actions.push(DeliveryAction::Write(DeliveryForm::Comparison(form)).into());
            }
        }
    });
}

fn sequence_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &DeliveryView<'_>,
    options: &mut DeliveryOptions,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    note(ui, style, "The picture on the way from one print to another: numbered frames and an animation.");
    if panel.desk.prints().len() < 2 {
        note(ui, style, "Pin two stances on the Walk desk first.");
        return;
    }
    for (end, word) in ["from", "to"].into_iter().enumerate() {
        end_ui(ui, panel, view, options, end, word);
    }
    let frames = Slider {
        name: "how many frames",
        caption: "Frames",
        stops: &[12.0, 24.0, 48.0, 72.0, 96.0, 144.0, 240.0],
        any: AnyEnd::Nowhere,
        value: Some(f64::from(options.frames)),
        range: (2.0, f64::from(MOST_FRAMES)),
        written: &|frames| format!("{frames:.0}"),
        read: &plain_number,
        note: None,
    };
    if let Some(Some(frames)) = frames.ui(ui, style) {
        options.frames = whole(frames);
    }
    width_ui(ui, style, options);
    let response = ui.checkbox(&mut options.overlay, style.plain("Draw the verticals"));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("draw the verticals on each frame"));
    look_ui(ui, style, options);
    if button(ui, style, "Save the sequence", ui.available_width()).clicked() {
        actions.push(DeliveryAction::Write(DeliveryForm::Sequence).into());
    }
}

/// How wide the frames are.
fn width_ui(ui: &mut Ui, style: &WindowStyle, options: &mut DeliveryOptions) {
    let pixels = Slider {
        name: "width in pixels",
        caption: "Width, pixels",
        stops: &[360.0, 480.0, 720.0, 960.0, 1280.0, 1920.0],
        any: AnyEnd::Nowhere,
        value: Some(f64::from(options.width_px)),
        range: (64.0, 4096.0),
        written: &|pixels| format!("{pixels:.0}"),
        read: &plain_number,
        note: None,
    };
    if let Some(Some(pixels)) = pixels.ui(ui, style) {
        options.width_px = whole(pixels);
    }
}

fn film_ui(ui: &mut Ui, panel: &PanelContext<'_>, options: &mut DeliveryOptions, actions: &mut Vec<Action>) {
    let style = &panel.style;
    note(
        ui,
        style,
        "A moving picture through the prints. Of one stance alone: what the picture does as the camera rises.",
    );
    prints_ui(ui, panel, options);
    let number = |name, caption, stops, range, value, written: &dyn Fn(f64) -> String, ui: &mut Ui| {
        let any = AnyEnd::Nowhere;
        let slider =
            Slider { name, caption, stops, any, value: Some(value), range, written, read: &plain_number, note: None };
        slider.ui(ui, style).flatten()
    };
    let going_in = panel.desk.prints().iter().filter(|pinned| !options.left_out.contains(&pinned.print.id)).count();
    if going_in < 2 {
        let units = panel.units();
        let stops: &[f64] = &[2.0, 4.0, 6.0, 8.0, 12.0, 20.0, 40.0];
        let height = |height_m: f64| units.length(height_m, 1);
        let to_m = options.film_height_m;
        if let Some(height_m) = number("rises to", "Rises to, metres", stops, (0.5, 60.0), to_m, &height, ui) {
            options.film_height_m = height_m;
        }
    }
    let seconds = |seconds: f64| format!("{seconds:.1} s");
    let stops: &[f64] = &[2.0, 3.0, 4.0, 6.0, 8.0, 12.0];
    let named = ("seconds from stance to stance", "Seconds, each move");
    if let Some(time_s) = number(named.0, named.1, stops, (0.5, 16.0), options.film_seconds, &seconds, ui) {
        options.film_seconds = time_s;
    }
    let stops: &[f64] = &[8.0, 12.0, 24.0, 25.0, 30.0, 60.0];
    let per_second = f64::from(options.film_per_second);
    let rate = |rate: f64| format!("{rate:.0}");
    if let Some(rate) = number("frames per second", "Frames per second", stops, (1.0, 60.0), per_second, &rate, ui) {
        options.film_per_second = rate.round().clamp(1.0, 60.0) as u16;
    }
    width_ui(ui, style, options);
    for (ticked, words) in
        [(&mut options.overlay, "Draw the verticals"), (&mut options.film_caption, "Figures under each frame")]
    {
        let response = ui.checkbox(ticked, style.plain(words));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(format!("{words} of the film")));
    }
    look_ui(ui, style, options);
    let half = 0.5 * (ui.available_width() - style.px(6.0));
    ui.horizontal(|ui| {
        for (word, hint, form) in [
            ("Save video", "AV1 in an .mp4 file", FilmForm::Video),
            ("Save animation", "an animated .png", FilmForm::Animated),
        ] {
            // An encoder is not in every build.
            let can = form != FilmForm::Video || cfg!(feature = "video");
            let hint = if can { hint } else { "this program was built without video (feature 'video')" };
            let response = ui.add_enabled_ui(can, |ui| button(ui, style, word, half)).inner;
            if response.on_hover_text(hint).on_disabled_hover_text(hint).clicked() {
                actions.push(DeliveryAction::Write(DeliveryForm::Film(form)).into());
            }
        }
    });
}

/// One end of the way: which print it is.
fn end_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &DeliveryView<'_>,
    options: &mut DeliveryOptions,
    end: usize,
    word: &str,
) {
    let style = &panel.style;
    let id = view.ends[end];
    let name = id.and_then(|id| panel.desk.print(id)).map_or("none", |pinned| pinned.print.name.as_str());
    ui.horizontal(|ui| {
        let (place, _) = ui.allocate_exact_size(Vec2::new(style.px(30.0), style.px(20.0)), egui::Sense::hover());
        let galley = style.fitted(ui, word, style.caption(), style.soft(), place.width());
        ui.painter().galley(place.min + Vec2::new(0.0, style.px(3.0)), galley, style.soft());
        let response = egui::ComboBox::from_id_salt(("end", end))
            .selected_text(style.plain(name))
            .width(ui.available_width() - style.px(8.0))
            .truncate()
            .show_ui(ui, |ui| {
                for pinned in panel.desk.prints() {
                    let other = pinned.print.id;
                    if ui.selectable_label(Some(other) == id, style.plain(&pinned.print.name)).clicked() {
                        options.ends = view.ends;
                        options.ends[end] = Some(other);
                    }
                }
            });
        ui.ctx()
            .accesskit_node_builder(response.response.id, |node| node.set_label(format!("sequence {word}: {name}")));
    });
}

/// A count that a slide gave.
fn whole(value: f64) -> u32 {
    value.round().clamp(0.0, f64::from(u32::MAX)) as u32
}

/// What is in the way of what is to be written: nothing is written over without asking.
pub(super) fn existing_file_ui(ui: &Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let view = panel.desk.delivery();
    let Some(in_the_way) = view.in_the_way else { return };
    let style = &panel.style;
    let modal = egui::Modal::new(egui::Id::new("in the way")).show(ui.ctx(), |ui| {
        ui.set_width(style.px(400.0).min(ui.ctx().content_rect().width() - style.px(48.0)));
        ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(6.0));
        ui.label(style.title("The file already exists"));
        note(ui, style, &in_the_way.path.to_string_lossy());
        let third = (ui.available_width() - style.px(12.0)) / 3.0;
        ui.horizontal(|ui| {
            for (word, hint, answer) in [
                ("Keep both", "the new file gets a number", Some(IfExists::KeepBoth)),
                ("Replace", "the old file is deleted", Some(IfExists::Replace)),
                ("Cancel", "nothing is written", None),
            ] {
                if button(ui, style, word, third).on_hover_text(hint).clicked() {
                    actions.push(DeliveryAction::Resolve(answer).into());
                }
            }
        });
    });
    if modal.should_close() {
        actions.push(DeliveryAction::Resolve(None).into());
    }
}

/// What is being worked on, with what is done and a way to call it off.
pub(super) fn works_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let works = panel.desk.works();
    if !works.is_empty() {
        ui.ctx().request_repaint_after(super::criteria::LOOKED_AT_EVERY);
    }
    for work in works {
        ui.horizontal(|ui| {
            let width = (ui.available_width() - style.px(64.0)).max(style.px(60.0));
            ui.vertical(|ui| {
                ui.set_max_width(width);
                ui.label(style.note(&work.title).color(style.ink()));
                if work.share.is_some() {
                    super::criteria::bar_ui(ui, style, work.share);
                }
            });
            if text_button(ui, style, "Cancel", &format!("cancel: {}", work.title)).clicked() {
                actions.push(WorkAction::Cancel(work.id).into());
            }
        });
    }
}

/// What the record of this stance says, in plain words.
pub(super) fn record_ui(ui: &mut Ui, panel: &PanelContext<'_>) {
    let style = &panel.style;
    let standing = panel.standing();
    let units = panel.units();
    let (pose, camera) = (&standing.pose, &standing.camera);
    ui.label(style.title("Record"));
    let feet = standing.height_m().map_or_else(
        || format!("eye at {}", units.length(pose.eye.z, 2)),
        |height_m| format!("{} above the feet", units.length(height_m, 2)),
    );
    let mut rows = vec![
        ("stance", panel.desk.stance().name.clone()),
        ("east, north", format!("{}, {}", units.length(pose.eye.x, 2), units.length(pose.eye.y, 2))),
        ("camera", feet),
        ("heading", format!("{} true", heading(pose.attitude.heading))),
        ("pitch, roll", format!("{}, {}", degrees(pose.attitude.pitch), degrees(pose.attitude.roll))),
        ("body", format!("{}, {} × {} px", standing.format.words(), camera.frame.width_px, camera.frame.height_px)),
        ("lens", lens_words(&standing.lens)),
        ("settings", format!("{}, {}", millimetres(camera.focal_mm), f_number(standing.f_number))),
        ("focus", if standing.focus_m.is_finite() { units.length(standing.focus_m, 1) } else { "infinity".into() }),
    ];
    if camera.rise_mm != 0.0 || camera.shift_mm != 0.0 {
        rows.push(("rise, shift", format!("{:.2} mm, {:.2} mm", camera.rise_mm, camera.shift_mm)));
    }
    if let Some(sun) = panel.sun() {
        rows.push(("sun", format!("at {:.0}°, {:.0}° high", sun.azimuth_deg, sun.altitude_deg)));
    }
    ScrollArea::vertical().id_salt("handover 1").auto_shrink([false, false]).show(ui, |ui| {
        let term = style.px(78.0).min(0.4 * ui.available_width());
        for (what, value) in rows {
            ui.horizontal_top(|ui| {
                let (place, _) = ui.allocate_exact_size(Vec2::new(term, style.px(18.0)), egui::Sense::hover());
                let galley = style.fitted(ui, what, style.caption(), style.soft(), term);
                ui.painter().galley(place.min + Vec2::new(0.0, style.px(2.0)), galley, style.soft());
                ui.add(egui::Label::new(style.plain(value)).wrap());
            });
        }
        ui.add_space(style.px(8.0));
        super::tolerance::tolerance_ui(ui, panel);
    });
}
