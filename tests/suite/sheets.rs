//! Do field cards and client sheets say what was measured, to people, browsers and screen readers alike?
//!
//! Pages are read back by html5lib and pypdf; the folder of a sheet is killed while it is written.

use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

use serde::Deserialize;
use serde_json::json;

use plumbsight::angle::Angle;
use plumbsight::drawing::Mark;
use plumbsight::handover::page::{Page, PageMark, Paper, PaperSize};
use plumbsight::handover::{
    Brand, CardRequest, DocumentSettings, PageWords, SheetOrder, SheetRequest, alignments, client_sheet, field_card,
};
use plumbsight::optics::Orientation;
use plumbsight::pose::WorldPoint;
use plumbsight::progress::Progress;
use plumbsight::site::Aim;
use plumbsight::survey::{MeasureSettings, Survey};
use plumbsight::theme::{Theme, contrast};

use crate::support::program::{command, run};
use crate::support::project;
use crate::support::python::ask;
use crate::support::surveyed::{stance, surveyed_blocks};

#[derive(Deserialize)]
struct Pages {
    html: Option<Html>,
    pdf: Option<Pdf>,
}

#[derive(Deserialize)]
struct Html {
    errors: Vec<String>,
    title: String,
    language: Option<String>,
    text: String,
    leads_out: Vec<String>,
    headings: Vec<String>,
    undescribed: usize,
    operated: Vec<String>,
    rows: Vec<Vec<String>>,
    pictures: usize,
    bytes: usize,
}

#[derive(Deserialize)]
struct Pdf {
    pages: usize,
    sizes: Vec<[f64; 2]>,
    text: String,
    title: Option<String>,
    fonts: Vec<String>,
    pictures: usize,
}

/// What a browser makes of a page, at one size and scheme of colours.
#[derive(Deserialize)]
struct BrowserView {
    view: String,
    violations: Vec<String>,
    checks_passed: usize,
    console: Vec<String>,
    asked: Vec<String>,
    too_wide_px: f64,
}

/// Where the slider stands, and how the left picture is cut by it.
#[derive(Deserialize, Debug)]
struct Slider {
    share: f64,
    clip: String,
}

#[derive(Deserialize)]
struct Browsed {
    views: Vec<BrowserView>,
    slider: Option<Vec<Slider>>,
    injected: bool,
}

fn browse(page: &Path) -> Browsed {
    ask("tests/oracles/browser.py", &json!({ "page": page, "sizes": [[390, 844], [820, 1180], [1440, 900]] }))
}

/// Web Content Accessibility Guidelines 2.1, levels A and AA, as far as axe-core can tell; no complaint, no request, nothing
/// beside the page, on a telephone, a tablet and a desk, by day and by night.
fn assert_serves_everyone(browsed: &Browsed) {
    assert_eq!(browsed.views.len(), 6);
    for view in &browsed.views {
        let name = &view.view;
        assert!(view.checks_passed > 10, "{name}: axe-core found little to check");
        assert_eq!(view.violations, [""; 0], "{name}");
        assert_eq!(view.console, [""; 0], "{name}");
        assert_eq!(view.asked, [""; 0], "{name}");
        assert!(view.too_wide_px <= 0.0, "{name}: {} px beside the page", view.too_wide_px);
    }
}

fn read_pages(html: Option<&Path>, pdf: Option<&Path>) -> Pages {
    ask("tests/oracles/pages.py", &json!({ "html": html, "pdf": pdf }))
}

fn saltings() -> String {
    project().join("scenes/saltings.site.ron").to_str().expect("a path in UTF-8").to_owned()
}

/// Everything that holds of any page that leaves the desk.
fn assert_stands_alone(html: &Html) {
    assert_eq!(html.errors, Vec::<String>::new());
    assert_eq!(html.leads_out, Vec::<String>::new());
    assert_eq!(html.language.as_deref(), Some("en"));
    assert_eq!(html.undescribed, 0);
    assert!(html.operated.iter().all(|label| !label.is_empty()), "{:?}", html.operated);
}

#[test]
fn a_card_tells_the_place_the_camera_and_the_needle() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = saltings();
    for out in ["yard card.html", "yard card.pdf"] {
        let arguments = ["card", &site, "--stance", "yard, standing", "--day", "2026-06-21", "--out", out];
        run(folder.path(), &arguments).good();
        run(folder.path(), &arguments).refused(2, "--replace");
    }
    let (html, pdf) = (folder.path().join("yard card.html"), folder.path().join("yard card.pdf"));
    let pages = read_pages(Some(&html), Some(&pdf));
    let (html, pdf) = (pages.html.expect("a page"), pages.pdf.expect("a printed page"));
    assert_stands_alone(&html);
    // The same figures as `measure` tells, in both forms.
    let record = run(folder.path(), &["measure", &site, "--stance", "yard, standing", "--json"]).json();
    let figure = |pointer: &str| record.pointer(pointer).and_then(serde_json::Value::as_f64).expect("a figure");
    let pitch = format!("{:.1}° up", figure("/stance/pitch_deg"));
    let heading = format!("{:.1}° true", (figure("/stance/heading_deg") * 10.0).round().rem_euclid(3600.0) / 10.0);
    for text in [&html.text, &pdf.text] {
        for words in [
            "Yard, standing",
            &pitch,
            &heading,
            "1.60 m",
            "camera above the feet",
            "24 mm",
            "World Magnetic Model 2025",
            "Sunday 21 June 2026",
        ] {
            assert!(text.contains(words), "'{words}' is not in: {text}");
        }
    }
    // One side for the camera, one for the feet with a close look at what lines up.
    assert_eq!((pdf.pages, pdf.pictures), (2, 2));
    assert!((pdf.sizes[0][0] - 419.53).abs() < 0.1 && (pdf.sizes[0][1] - 595.28).abs() < 0.1);
    assert!(!pdf.fonts.is_empty() && pdf.fonts.iter().all(|font| font.contains("OpenSans")), "{:?}", pdf.fonts);
    assert!(html.title.contains("Yard, standing") && pdf.title.as_deref() == Some(html.title.as_str()));
    assert_eq!(html.pictures, 2);
}

/// The first number before a unit in a text, at or after a place in it.
fn number_before(text: &str, from: &str, unit: &str) -> f64 {
    let text = &text[text.find(from).unwrap_or_else(|| panic!("'{from}' is not in: {text}"))..];
    let end = text.find(unit).unwrap_or_else(|| panic!("'{unit}' is not in: {text}"));
    let start = text[..end].rfind(|c: char| !(c.is_ascii_digit() || c == '.')).map_or(0, |at| at + 1);
    text[start..end].parse().unwrap_or_else(|_| panic!("no number before '{unit}': {text}"))
}

#[test]
fn pages_tell_lengths_in_feet_where_that_is_asked_for() {
    // The international foot is 0.3048 m (NIST Handbook 44, Appendix C).
    const METRES_A_FOOT: f64 = 0.3048;
    let folder = tempfile::tempdir().expect("a folder");
    let site = saltings();
    let text_of = |units: &str| {
        let out = format!("{units}.html");
        let day = ["--day", "2026-06-21", "--units", units];
        run(folder.path(), &[&["card", &site, "--stance", "coal stage", "--out", &out], &day[..]].concat()).good();
        let card = read_pages(Some(&folder.path().join(out)), None).html.expect("a page").text;
        run(folder.path(), &[&["sheet", &site, "--stance", "coal stage", "--out", units], &day[..]].concat()).good();
        let sheet = read_pages(Some(&folder.path().join(units).join("sheet.html")), None).html.expect("a page").text;
        (card, sheet)
    };
    let ((card_m, sheet_m), (card_ft, sheet_ft)) = (text_of("m"), text_of("ft"));
    for (metric, imperial, from, [m, ft], step_ft) in [
        (&card_m, &card_ft, "feet on", [" m", " ft"], 0.01),
        (&card_m, &card_ft, "camera above the feet", [" m", " ft"], 0.01),
        (&card_m, &card_ft, "sharp from", [" m", " ft"], 1.0),
        (&sheet_m, &sheet_ft, "Coal stage", [" m from", " ft from"], 1.0),
    ] {
        let (in_m, in_ft) = (number_before(metric, from, m), number_before(imperial, from, ft));
        // Both are rounded to their last digit.
        let within = step_ft + step_ft / METRES_A_FOOT;
        assert!((in_m / METRES_A_FOOT - in_ft).abs() <= within, "{from}: {in_m} m, {in_ft} ft");
        assert!(in_m > 0.5);
    }
    // What is left in metres are map coordinates and what the law says, which the cautions quote.
    for words in [" m from the", " m to the", " m tall", " cm in the hand"] {
        assert!(!card_ft.contains(words) && !sheet_ft.contains(words), "'{words}' in {card_ft}\n{sheet_ft}");
    }
}

#[test]
fn every_card_of_the_demo_sites_fits_on_its_two_sides() {
    let folder = tempfile::tempdir().expect("a folder");
    for (scene, name) in [("saltings", "coal stage"), ("ropewalk", "bakery roof, level"), ("wendle", "scaffold")] {
        let site = project().join(format!("scenes/{scene}.site.ron"));
        let site = site.to_str().expect("a path in UTF-8");
        let out = format!("{scene}.pdf");
        run(folder.path(), &["card", site, "--stance", name, "--day", "2027-01-31", "--out", &out]).good();
        let pdf = read_pages(None, Some(&folder.path().join(out))).pdf.expect("a printed page");
        assert_eq!(pdf.pages, 2, "{scene}");
        // Permission is told wherever it is needed.
        assert!(pdf.text.contains("permission needed") && pdf.text.contains("Permission at hand"), "{}", pdf.text);
    }
}

#[test]
fn a_card_for_no_such_day_or_without_a_place_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = saltings();
    let card =
        |day: &str| run(folder.path(), &["card", &site, "--stance", "yard, standing", "--day", day, "--replace"]);
    card("2027-02-30").refused(2, "is no day");
    card("1999-01-01").refused(2, "does not reach 1999-01-01");
    // A site that is nowhere has neither a map reference nor a compass bearing.
    let text = "Site(format: 1, name: \"nowhere\", blocks: [(name: \"mast\", subject: true, at: (0, 0), \
                shape: Box(width_m: 2, depth_m: 2, height_m: 20))], stances: [(name: \"here\", at: (0, -30), lens: \"24 mm\")])";
    std::fs::write(folder.path().join("nowhere.site.ron"), text).expect("written");
    run(folder.path(), &["card", "nowhere.site.ron", "--stance", "here", "--day", "2026-06-21", "--out", "n.html"])
        .good();
    let html = read_pages(Some(&folder.path().join("n.html")), None).html.expect("a page");
    assert!(html.text.contains("no place on the map") && !html.text.contains("by compass"), "{}", html.text);
}

#[test]
fn what_lines_up_lines_up_and_a_step_parts_it_as_told() {
    // Two posts in line from the camera, 10 m and 40 m away, and a third aside.
    let survey = surveyed_blocks(
        "(name: \"post\", at: (0, 10), shape: Box(width_m: 0.2, depth_m: 0.2, height_m: 3)),
         (name: \"mast\", subject: true, at: (0, 40), shape: Box(width_m: 0.2, depth_m: 0.2, height_m: 12)),
         (name: \"hut\", at: (9, 12), shape: Box(width_m: 3, depth_m: 3, height_m: 3))",
    );
    let described = stance((0.0, 0.0), 1.6, "24 mm", Aim::Fill);
    let measured = survey.measure(&described, &MeasureSettings::default()).expect("a stance");
    let pairs = alignments(&survey, &measured.standing);
    let pair = pairs.first().expect("post and mast line up");
    let name = |block: usize| survey.model.site.blocks[block].name.as_str();
    assert_eq!((name(pair.near.block), name(pair.far.block)), ("post", "mast"));
    // From the place it names they line up exactly: the bearings of both edges, computed from their plan positions.
    let bearing = |foot: &WorldPoint, (x, y): (f64, f64)| (foot.x - x).atan2(foot.y - y);
    let sideways = |metres: f64| {
        let (sine, cosine) = pair.near.bearing.sin_cos();
        (metres * cosine, -metres * sine)
    };
    let apart = |at| bearing(&pair.far.line.base, at) - bearing(&pair.near.line.base, at);
    assert!((apart((0.0, 0.0)) - pair.apart.radians()).abs() < 1e-9);
    assert!(apart(sideways(pair.off_m)).abs() < 2e-4, "{}", apart(sideways(pair.off_m)));
    let parted = apart(sideways(pair.off_m + 0.1)) - apart(sideways(pair.off_m));
    assert!((parted.abs() / 0.1 / pair.a_metre.radians() - 1.0).abs() < 0.02, "{parted}");
}

/// Six stances of the demo site, with a brand.
fn write_sheet(folder: &Path, more: &[&str]) -> crate::support::program::Run {
    std::fs::write(
        folder.join("brand.ron"),
        "(name: \"Yard Pictures & Co\", contact: [\"1 Quay <Yard>\"], client: \"the station keepers\", closing: \"With thanks.\",
          who: [\"Two of us, one car\"], reply: \"Please tell us by 5 May\")",
    )
    .expect("written");
    let site = saltings();
    let mut arguments = vec!["sheet", &site, "--brand", "brand.ron", "--day", "2026-06-21"];
    for name in ["by the wall, low", "yard, standing", "coal stage", "gantry", "slip, standing", "field gate"] {
        arguments.extend(["--stance", name]);
    }
    arguments.extend(more);
    run(folder, &arguments)
}

/// The six stances of [`write_sheet`] as the sheet calls them.
const LABELS: [&str; 6] = ["By the wall", "Yard", "Coal stage", "Gantry", "Slip", "Field gate"];

#[test]
fn a_sheet_of_six_stances_recommends_one_and_is_light_enough_to_send() {
    let folder = tempfile::tempdir().expect("a folder");
    let said = write_sheet(folder.path(), &["--out", "für Zoë 📷"]).good();
    let home = folder.path().join("für Zoë 📷");
    let pages = read_pages(Some(&home.join("sheet.html")), Some(&home.join("sheet.pdf")));
    let (html, pdf) = (pages.html.expect("a page"), pages.pdf.expect("printed pages"));
    assert_stands_alone(&html);
    assert!(html.bytes < 3_000_000, "{} bytes", html.bytes);
    // Six as delivered, the recommended one once more among what is received, and three shapes of it: its longest lens, at its
    // shortest, is too long for the widest.
    assert_eq!((html.pictures, html.rows.len()), (6 + 1 + 3, 0));
    // The recommendation is the headline; every standpoint is there by name and number.
    assert!(said.contains(&html.headings[0]), "{said}: {:?}", html.headings);
    for text in [&html.text, &pdf.text] {
        for words in LABELS.iter().chain(&[
            html.headings[0].as_str(),
            "Yard Pictures & Co",
            "1 Quay <Yard>",
            "the station keepers",
            "With thanks.",
            "Two of us, one car",
            "Please tell us by 5 May",
            "a working line: keep off",
            "your permission needed",
            "What else we looked at",
            "Which shape do you need?",
        ]) {
            assert!(text.contains(words), "'{words}' is not in: {text}");
        }
        // Nothing that a client would have to look up.
        for jargon in ["°", "px", "MP", "pixel", "converge", "pitch", "mm "] {
            assert!(!text.contains(jargon), "'{jargon}' is in: {text}");
        }
    }
    // Two sheets of A4, landscape (ISO 216).
    assert_eq!(pdf.pages, 2);
    assert!(
        pdf.sizes.iter().all(|size| (size[0] - 841.89).abs() < 0.1 && (size[1] - 595.28).abs() < 0.1),
        "{:?}",
        pdf.sizes
    );
    // The slider and both lists are there for the keyboard.
    for operated in ["How much of the left picture is shown", "left", "right"] {
        assert!(html.operated.iter().any(|label| label == operated), "{:?}", html.operated);
    }
}

#[test]
fn figures_stand_on_a_sheet_where_its_reader_is_technical_and_are_those_that_are_measured() {
    let folder = tempfile::tempdir().expect("a folder");
    let chosen = ["--technical", "--order", "given", "--paper", "letter", "--turned", "portrait", "--out", "s"];
    write_sheet(folder.path(), &chosen).good();
    let home = folder.path().join("s");
    let pages = read_pages(Some(&home.join("sheet.html")), Some(&home.join("sheet.pdf")));
    let (html, pdf) = (pages.html.expect("a page"), pages.pdf.expect("printed pages"));
    assert_eq!(html.rows.len(), 7);
    for (index, label) in LABELS.iter().enumerate() {
        // In the order given, the first recommended.
        assert_eq!(html.rows[index + 1][0], format!("{} {label}", index + 1));
    }
    let site = saltings();
    let record = run(folder.path(), &["measure", &site, "--stance", "slip, standing", "--json"]).json();
    let figure = |pointer: &str| record.pointer(pointer).and_then(serde_json::Value::as_f64).expect("a figure");
    let row = &html.rows[5];
    for (cell, wanted) in [
        (4, format!("{:.1}°", figure("/subject/convergence_deg").abs())),
        (8, format!("{:.1} MP", figure("/final_picture/megapixels"))),
    ] {
        assert_eq!(row[cell], wanted, "{row:?}");
        assert!(pdf.text.contains(&wanted), "{wanted}");
    }
    // ANSI/ASME Y14.1: 8.5 × 11 inch.
    assert_eq!(pdf.pages, 3);
    assert!(
        pdf.sizes.iter().all(|size| (size[0] - 612.0).abs() < 0.1 && (size[1] - 792.0).abs() < 0.1),
        "{:?}",
        pdf.sizes
    );
}

/// Where a mark of a page lies: left, top, right, bottom.
fn bounds_of(mark: &PageMark) -> [f64; 4] {
    let of = |points: &mut dyn Iterator<Item = (f64, f64)>| {
        points.fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |[l, t, r, b], (x, y)| {
            [l.min(x), t.min(y), r.max(x), b.max(y)]
        })
    };
    match mark {
        PageMark::Mark(Mark::Line { points, .. }) => of(&mut points.iter().copied()),
        PageMark::Mark(Mark::Area { rings, .. }) => of(&mut rings.iter().flatten().copied()),
        PageMark::Mark(Mark::Circle { centre: (x, y), radius_pt: r, .. }) => [x - r, y - r, x + r, y + r],
        PageMark::Mark(Mark::Arrow { from, to, .. }) => of(&mut [*from, *to].into_iter()),
        PageMark::Mark(Mark::Text(text)) => {
            let (left, baseline) = text.baseline();
            [left, baseline - 0.7 * text.size_pt, left + text.width_pt(), baseline]
        }
        PageMark::Picture(_, room) | PageMark::Drawing(_, room) | PageMark::Logo(_, room) => {
            [room.left, room.top, room.right, room.bottom]
        }
    }
}

/// What is wrong with a page: something runs off the paper, texts lie on one another or on a picture, a band of it stands empty.
fn faults_of(page: &Page) -> Vec<String> {
    let mut faults = Vec::new();
    let bounds: Vec<[f64; 4]> = page.marks.iter().map(bounds_of).collect();
    for (mark, [left, top, right, bottom]) in page.marks.iter().zip(&bounds) {
        if !(*left >= 0.0 && *top >= -0.01 && *right <= page.width_pt && *bottom <= page.height_pt) {
            faults.push(format!("{mark:?} runs off the paper"));
        }
    }
    let texts: Vec<(&str, [f64; 4])> = page
        .marks
        .iter()
        .zip(&bounds)
        .filter_map(|(mark, bounds)| match mark {
            PageMark::Mark(Mark::Text(text)) if text.text.len() > 2 => Some((text.text.as_str(), *bounds)),
            _ => None,
        })
        .collect();
    let meet =
        |a: &[f64; 4], b: &[f64; 4]| a[0] + 0.5 < b[2] && b[0] + 0.5 < a[2] && a[1] + 0.5 < b[3] && b[1] + 0.5 < a[3];
    for (index, (text, room)) in texts.iter().enumerate() {
        for (other, beside) in &texts[index + 1..] {
            if meet(room, beside) {
                faults.push(format!("'{text}' and '{other}' lie on one another"));
            }
        }
        for (mark, picture) in page.marks.iter().zip(&bounds) {
            if matches!(mark, PageMark::Picture(..) | PageMark::Drawing(..)) && meet(room, picture) {
                faults.push(format!("'{text}' lies on a picture"));
            }
        }
    }
    // Bands of the page's height that nothing but a rule or the plumb line reaches.
    let mut reached: Vec<(f64, f64)> = page
        .marks
        .iter()
        .zip(&bounds)
        .filter(|(mark, _)| !matches!(mark, PageMark::Mark(Mark::Line { .. })))
        .map(|(_, bounds)| (bounds[1], bounds[3]))
        .collect();
    reached.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut end, mut widest) = (0.0_f64, 0.0_f64);
    for (from, to) in reached.into_iter().chain([(page.height_pt, page.height_pt)]) {
        widest = widest.max(from - end);
        end = end.max(to);
    }
    if widest > 0.25 * page.height_pt {
        faults.push(format!("{widest:.0} of {:.0} points stand empty", page.height_pt));
    }
    faults
}

#[test]
fn every_sheet_and_card_of_the_demo_sites_is_composed_on_every_paper_in_both_languages() {
    let mut found: Vec<String> = Vec::new();
    let brand = Brand {
        name: "Yard Pictures & Co".into(),
        contact: vec!["studio@yard.example".into()],
        client: Some("the keepers of the place".into()),
        who: vec!["Two of us, one car".into()],
        ..Brand::default()
    };
    for scene in ["saltings", "ropewalk", "wendle"] {
        let survey = Survey::open(&project().join(format!("scenes/{scene}.site.ron"))).expect("a site");
        let day = "2026-06-21".parse().expect("a day");
        let settings = MeasureSettings { lean_change: Some(Angle::from_degrees(0.2)), ..MeasureSettings::default() };
        for (language, first, most) in [("en", 0, 1), ("en", 2, 1), ("de", 0, 7)] {
            let words = PageWords::of(language).expect("words");
            let document = DocumentSettings { words, ..DocumentSettings::on(day) };
            let stances: Vec<_> = survey.model.site.stances.iter().skip(first).take(most).cloned().collect();
            let measured: Vec<_> =
                stances.iter().map(|stance| survey.measure(stance, &settings).expect("a stance")).collect();
            let request = SheetRequest {
                said: Vec::new(),
                order: SheetOrder::BestFirst,
                headline: None,
                settings,
                brand: brand.clone(),
                paper: Paper::default(),
                technical: true,
                document: document.clone(),
                stances: stances.clone(),
            };
            let mut sheet = client_sheet(&survey, &request, &measured, &Progress::unwatched()).expect("a sheet");
            for size in [PaperSize::A4, PaperSize::Letter] {
                for turned in [Orientation::Landscape, Orientation::Portrait] {
                    sheet.paper = Paper { size, turned };
                    for (number, page) in sheet.pages().iter().enumerate() {
                        let name = format!(
                            "{scene}, {most} from {first} in {language}, {size:?} {turned:?}, page {}",
                            number + 1
                        );
                        found.extend(faults_of(page).into_iter().map(|fault| format!("{name}: {fault}")));
                    }
                }
            }
            for (stance, measured) in stances.iter().zip(&measured).take(3) {
                let request = CardRequest {
                    stance: stance.clone(),
                    settings,
                    paper: Paper::default(),
                    document: document.clone(),
                };
                let mut card = field_card(&survey, &request, measured, &Progress::unwatched()).expect("a card");
                for size in [PaperSize::A4, PaperSize::Letter] {
                    card.paper.size = size;
                    for (number, page) in card.pages().iter().enumerate() {
                        let name = format!("{scene}, {} in {language}, {size:?}, side {}", stance.name, number + 1);
                        found.extend(faults_of(page).into_iter().map(|fault| format!("{name}: {fault}")));
                    }
                }
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn pages_speak_the_language_that_is_asked_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = saltings();
    let card = ["card", &site, "--stance", "yard, standing", "--day", "2026-06-21", "--out", "c.html"];
    run(folder.path(), &[&card[..], &["--words", "de"]].concat()).good();
    let html = read_pages(Some(&folder.path().join("c.html")), None).html.expect("a page");
    assert_eq!(html.language.as_deref(), Some("de"));
    for words in ["Vor dem Auslösen", "1,60 m", "Kamera über den Füßen", "Sonntag, 21. Juni 2026"] {
        assert!(html.text.contains(words), "'{words}' is not in: {}", html.text);
    }
    for words in ["Before", "above the feet", "1.60"] {
        assert!(!html.text.contains(words), "'{words}' is in: {}", html.text);
    }
    // A file of one's own, begun from the English one.
    let english = run(folder.path(), &["pages", "words"]).good();
    let own = english.replace("\"stand_heading\": \"Stand here\"", "\"stand_heading\": \"Feet go here\"");
    assert_ne!(own, english);
    std::fs::write(folder.path().join("mine.ron"), &own).expect("written");
    run(folder.path(), &[&card[..], &["--words", "mine.ron", "--replace"]].concat()).good();
    let html = read_pages(Some(&folder.path().join("c.html")), None).html.expect("a page");
    assert!(html.text.contains("Feet go here"), "{}", html.text);
    // What is wrong with it is told with its line, before anything is written.
    let refused = |text: &str, told: &str| {
        std::fs::write(folder.path().join("mine.ron"), text).expect("written");
        run(folder.path(), &[&card[..], &["--words", "mine.ron", "--replace"]].concat()).refused(2, told);
    };
    refused(&own.replace("\"the\": ", "\"teh\": "), "`teh`: no page asks for it");
    refused(&own.replace("\"the\": \"the {name}\"", "\"the\": \"the {thing}\""), "lacks {name}");
    refused("{ 5", "mine.ron:1:");
    run(folder.path(), &[&card[..], &["--words", "nowhere.ron", "--replace"]].concat()).refused(2, "nowhere.ron");
}

#[test]
fn the_planned_moment_and_its_light_stand_on_both_pages() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = saltings();
    let one = ["--stance", "slip, standing", "--moment", "2026-06-21T17:30"];
    run(folder.path(), &[&["sheet", &site, "--out", "s"], &one[..]].concat()).good();
    run(folder.path(), &[&["card", &site, "--out", "c.html"], &one[..]].concat()).good();
    let sheet = read_pages(Some(&folder.path().join("s/sheet.html")), None).html.expect("a page").text;
    let card = read_pages(Some(&folder.path().join("c.html")), None).html.expect("a page").text;
    // In the afternoon the sun stands in the west: to the left of a camera that looks north from the slip. 21 June 2026 is a
    // Sunday (Gregorian calendar).
    for (text, words) in [
        (&sheet, "Sunday 21 June 2026, 17:30"),
        (&sheet, "The sun comes from the left."),
        (&card, "Sunday 21 June 2026, 17:30"),
        (&card, "The sun comes from the left."),
    ] {
        assert!(text.contains(words), "'{words}' is not in: {text}");
    }
    // Near Hull the sun rises and sets on that day at 04:31 and 21:36 British Summer Time, within a few minutes (almanac times
    // for 53.7° N, 0.3° W, from memory).
    let minutes = |from: &str| {
        let text = &sheet[sheet.find(from).expect("told") + from.len()..];
        let (hours, minutes) = text.trim_start()[..5].split_once(':').expect("a time");
        60 * hours.parse::<i32>().expect("hours") + minutes.parse::<i32>().expect("minutes")
    };
    assert!(
        (minutes("Sunrise") - (4 * 60 + 31)).abs() <= 4 && (minutes("sunset") - (21 * 60 + 36)).abs() <= 4,
        "{sheet}"
    );
    // The picture is drawn in that light: another moment gives another.
    let bytes = || std::fs::read(folder.path().join("s/sheet.pdf")).expect("read");
    let evening = bytes();
    let morning = ["--stance", "slip, standing", "--moment", "2026-06-21T08:00", "--replace", "--out", "s"];
    run(folder.path(), &[&["sheet", &site], &morning[..]].concat()).good();
    assert_ne!(bytes(), evening);
    run(folder.path(), &["card", &site, "--stance", "slip, standing", "--moment", "noon", "--out", "d.html"])
        .refused(2, "--moment");
}

#[test]
fn a_browser_shows_sheet_and_card_to_everyone_and_its_slider_is_dragged() {
    let folder = tempfile::tempdir().expect("a folder");
    write_sheet(folder.path(), &["--out", "s"]).good();
    let sheet = browse(&folder.path().join("s/sheet.html"));
    assert_serves_everyone(&sheet);
    let [before, dragged, stepped] = &sheet.slider.expect("a slider")[..] else { panic!("three readings") };
    assert_eq!((before.share, before.clip.as_str()), (50.0, "inset(0px 50% 0px 0px)"));
    // A quarter of its width to the right, within the rounding of a pixel and the thumb's own width.
    assert!((dragged.share - 75.0).abs() <= 3.0, "{dragged:?}");
    assert_eq!(stepped.share, dragged.share - 1.0, "{stepped:?}");
    assert_eq!(stepped.clip, format!("inset(0px {}% 0px 0px)", 100.0 - stepped.share));

    run(folder.path(), &["card", &saltings(), "--stance", "yard, standing", "--day", "2026-06-21", "--out", "c.html"])
        .good();
    assert_serves_everyone(&browse(&folder.path().join("c.html")));
}

#[test]
fn a_page_runs_its_own_script_and_no_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let one = ["--stance", "yard, standing", "--day", "2026-06-21", "--out", "s"];
    run(folder.path(), &[&["sheet", &saltings()], &one[..]].concat()).good();
    let page = std::fs::read_to_string(folder.path().join("s/sheet.html")).expect("a page");
    // What would run if somebody got it on to the page: an element, and an event of one.
    let foreign = "<script>window.injected = true</script>\
                   <img alt=\"\" src=\"data:image/png,x\" onerror=\"window.injected = true\"></main>";
    let injected = page.replacen("</main>", foreign, 1);
    assert_ne!(injected, page);
    let browsed = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).expect("written");
        browse(&path)
    };
    let kept = browsed("kept.html", &injected);
    assert!(!kept.injected, "a script that is not the page's own has run");
    let [before, dragged, _] = &kept.slider.expect("a slider")[..] else { panic!("three readings") };
    assert!(dragged.share > before.share && dragged.clip != before.clip, "{before:?}, {dragged:?}");
    // Without the policy it runs: the check sees it.
    let from = injected.find("<meta http-equiv=\"Content-Security-Policy\"").expect("a policy");
    let to = from + injected[from..].find('>').expect("its end") + 1;
    assert!(!injected[from..to].contains("unsafe"), "{}", &injected[from..to]);
    let bare = format!("{}{}", &injected[..from], &injected[to..]);
    assert!(browsed("bare.html", &bare).injected);
}

/// Unicode Standard Annex #9, section 2: the characters that turn the direction of text.
const DIRECTION_MARKS: [char; 12] = [
    '\u{61c}', '\u{200e}', '\u{200f}', '\u{202a}', '\u{202b}', '\u{202c}', '\u{202d}', '\u{202e}', '\u{2066}',
    '\u{2067}', '\u{2068}', '\u{2069}',
];

#[test]
fn names_cannot_turn_the_text_around_them() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = "Site(format: 1, name: \"night\u{202e}yard\", anchor: (latitude_deg: 50, longitude_deg: 8, height_m: 0),
        blocks: [(name: \"mast\u{2067}<b>\", subject: true, at: (0, 0), shape: Box(width_m: 2, depth_m: 2, height_m: 20))],
        stances: [(name: \"here\u{200f}\", at: (0, -30), lens: \"24 mm\"), (name: \"there\u{61c}\", at: (9, -30), lens: \"24 mm\")])";
    std::fs::write(folder.path().join("n.site.ron"), site).expect("written");
    std::fs::write(folder.path().join("brand.ron"), "(name: \"Yard\u{202d}\", contact: [\"1 Quay\u{2066}\"])")
        .expect("written");
    let day = ["--day", "2026-06-21"];
    for (command, out) in [("card", "c.html"), ("card", "c.pdf")] {
        let stance = ["--stance", "here\u{200f}", "--out", out];
        run(folder.path(), &[&[command, "n.site.ron"], &stance[..], &day[..]].concat()).good();
    }
    run(folder.path(), &[&["sheet", "n.site.ron", "--brand", "brand.ron", "--out", "s"], &day[..]].concat()).good();
    for out in ["p.gpx", "p.kml", "p.geojson"] {
        run(folder.path(), &["places", "n.site.ron", "--out", out]).good();
    }
    let said = run(folder.path(), &["compare", "n.site.ron"]).good();
    let marked = |text: &str| text.contains(DIRECTION_MARKS);
    assert!(said.contains("here") && !marked(&said), "{said}");
    for file in ["c.html", "s/sheet.html", "p.gpx", "p.kml", "p.geojson"] {
        let text = std::fs::read_to_string(folder.path().join(file)).expect("text");
        assert!(text.to_lowercase().contains("here"), "{file}");
        assert!(!marked(&text), "{file}");
        assert!(file.ends_with("json") || !text.contains("mast<b>"), "{file}");
    }
    for (html, pdf) in [("c.html", "c.pdf"), ("s/sheet.html", "s/sheet.pdf")] {
        let pages = read_pages(Some(&folder.path().join(html)), Some(&folder.path().join(pdf)));
        let (html, pdf) = (pages.html.expect("a page"), pages.pdf.expect("pages"));
        assert_stands_alone(&html);
        for text in [&html.text, &html.title, &pdf.text, pdf.title.as_ref().expect("a title")] {
            assert!(text.contains("nightyard") && !marked(text), "{text}");
        }
        assert!(html.text.contains("mast<b>") && pdf.text.contains("mast<b>"));
    }
    // A name that is written from right to left keeps to itself.
    let sheet = std::fs::read_to_string(folder.path().join("s/sheet.html")).expect("a page");
    for name in ["<bdi>Here</bdi>", "<bdi>nightyard</bdi>", "<bdi>Yard</bdi>", "<bdi>1 Quay</bdi>"] {
        assert!(sheet.contains(name), "{name}");
    }
    // What other programs read keeps the name as it is.
    assert!(marked(&run(folder.path(), &["compare", "n.site.ron", "--as", "json"]).good()));
}

#[test]
fn nothing_is_replaced_without_asking_and_nothing_of_anyone_elses_ever() {
    let folder = tempfile::tempdir().expect("a folder");
    let one = ["--out", "s", "--stance", "yard, standing"];
    let site = saltings();
    let sheet = |more: &[&str]| {
        let mut arguments = vec!["sheet", &site, "--day", "2026-06-21"];
        arguments.extend(one);
        arguments.extend(more);
        run(folder.path(), &arguments)
    };
    sheet(&[]).good();
    let first = std::fs::read(folder.path().join("s/sheet.html")).expect("a page");
    sheet(&[]).refused(2, "--replace");
    sheet(&["--replace"]).good();
    // The same question, the same bytes.
    assert_eq!(std::fs::read(folder.path().join("s/sheet.html")).expect("a page"), first);
    std::fs::write(folder.path().join("s/my notes.txt"), "mine").expect("written");
    sheet(&["--replace"]).refused(2, "my notes.txt");
    assert_eq!(std::fs::read_to_string(folder.path().join("s/my notes.txt")).expect("read"), "mine");
    let refused = |out: &str, words: &str| {
        run(folder.path(), &["sheet", &site, "--stance", "yard, standing", "--out", out]).refused(2, words);
    };
    refused("no/such/folder", "no such folder");
    refused("..", "names no folder");
    refused("s/sheet.html", "is no folder");
    run(folder.path(), &["sheet", &site, "--stance", "nobody"]).refused(2, "no stance is called 'nobody'");
    std::fs::write(folder.path().join("bad.ron"), "(nmae: 1)").expect("written");
    run(folder.path(), &["sheet", &site, "--brand", "bad.ron", "--out", "t"]).refused(2, "bad.ron:1:");
    let left: Vec<String> = std::fs::read_dir(folder.path())
        .expect("listed")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|name| name.starts_with('.'))
        .collect();
    assert_eq!(left, Vec::<String>::new());
}

#[cfg(target_os = "linux")]
#[test]
fn a_folder_or_disk_that_takes_nothing_is_told_and_the_old_sheet_stays() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = saltings();
    // No file of the process may grow beyond so many blocks of 1 KB: what a full disk does to a file, without one.
    let limited = |out: &str, kilobytes: u32, more: &str| {
        let script = format!(
            "trap '' XFSZ; ulimit -f {kilobytes}; exec \"$0\" sheet \"$1\" --stance 'yard, standing' --day 2026-06-21 --out {out} {more}"
        );
        let output = std::process::Command::new("bash")
            .args(["-c", &script, env!("CARGO_BIN_EXE_plumbsight"), &site])
            .current_dir(folder.path())
            .output()
            .expect("a shell");
        (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    let (code, said) = limited("s", 100_000, "");
    assert_eq!(code, Some(0), "{said}");
    let old = std::fs::read(folder.path().join("s/sheet.html")).expect("a page");
    let (code, said) = limited("s", 20, "--replace");
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("cannot be written") && !said.contains("panicked"), "{said}");
    assert_eq!(std::fs::read(folder.path().join("s/sheet.html")).expect("a page"), old);
    // The kernel's own folders take no file from anyone, not even from root.
    let (code, said) = limited("/proc/sheet", 100_000, "");
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("cannot be written"), "{said}");
    assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
}

/// A sheet is killed at many moments while it replaces another: what is there is the old one or the new one, each whole.
#[cfg(unix)]
#[test]
fn a_killed_sheet_leaves_the_old_folder_or_the_new_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = saltings();
    let start = |day: &str, replace: bool| {
        let mut command = command(folder.path());
        command.args(["sheet", &site, "--stance", "yard, with rise", "--day", day, "--out", "s"]);
        if replace {
            command.arg("--replace");
        }
        command.stdout(Stdio::null()).stderr(Stdio::null());
        command
    };
    let files =
        || ["sheet.html", "sheet.pdf"].map(|name| std::fs::read(folder.path().join("s").join(name)).expect("whole"));
    // Each day gives other bytes; both are known beforehand.
    let mut versions = Vec::new();
    let mut took = Duration::ZERO;
    for (day, replace) in [("2026-06-22", false), ("2026-06-21", true)] {
        let began = Instant::now();
        assert!(start(day, replace).status().expect("it runs").success());
        took = began.elapsed();
        versions.push(files());
    }
    assert_ne!(versions[0], versions[1]);
    let began_writing = || {
        let entries = std::fs::read_dir(folder.path()).expect("listed");
        let mut names = entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned());
        names.any(|name| name.starts_with(".plumbsight-"))
    };
    let (mut seen, mut killed) = ([0, 0], 0);
    for round in 0..24_u32 {
        let mut child =
            start(if round % 2 == 0 { "2026-06-22" } else { "2026-06-21" }, true).spawn().expect("it starts");
        // Every now and then one is let through, so that both are seen to be there.
        if round % 8 < 6 {
            // As soon as the new folder is begun, and a little later each time: while its files are written, while the
            // folders change names, while the old one is removed.
            let patience = Instant::now();
            while !began_writing() && patience.elapsed() < 20 * took && child.try_wait().expect("asked").is_none() {
                std::thread::sleep(Duration::from_micros(200));
            }
            std::thread::sleep(Duration::from_micros(700) * (round / 8 * 6 + round % 8));
            killed += u32::from(child.try_wait().expect("asked").is_none());
            // It may have ended by itself.
            let _ = child.kill();
        }
        child.wait().expect("it ends");
        let there = files();
        let which = versions.iter().position(|version| *version == there);
        seen[which.expect("neither the old sheet nor the new one")] += 1;
        for entry in std::fs::read_dir(folder.path()).expect("listed") {
            let path = entry.expect("an entry").path();
            if path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(".plumbsight-")) {
                std::fs::remove_dir_all(path).expect("what a killed run began is removed by hand");
            }
        }
    }
    assert!(seen[0] > 0 && seen[1] > 0 && killed > 5, "{seen:?}, {killed} killed");
    // After all of it another sheet is written as ever.
    assert!(start("2026-06-21", true).status().expect("it runs").success());
    assert_eq!(files(), versions[1]);
}

#[test]
fn text_on_every_page_has_the_contrast_that_is_asked_of_it() {
    // WCAG 2.2, 1.4.3 and 1.4.11: text 4.5, marks 3. The pairs that the style sheets set upon one another.
    for theme in Theme::ALL {
        let p = theme.palette();
        for (what, text, ground) in [
            ("text on a page", p.ink, p.panel),
            ("text on the table", p.ink, p.table),
            ("text in a list", p.ink, p.well),
            ("captions on a page", p.soft, p.panel),
            ("captions on the table", p.soft, p.table),
            ("a number on its disc", p.panel, p.ink),
        ] {
            let found = contrast(text, ground);
            assert!(found >= 4.5, "{theme:?}: {what} has {found:.2}");
        }
        for (what, mark, ground) in [
            ("the frame of a list", p.soft, p.panel),
            ("the focus ring", p.ink, p.table),
            ("the frame of ground that needs a permission", p.ask, p.panel),
            ("the frame of open ground", p.open, p.panel),
            ("the slider's line", p.ink, p.panel),
        ] {
            let found = contrast(mark, ground);
            assert!(found >= 3.0, "{theme:?}: {what} has {found:.2}");
        }
    }
}
