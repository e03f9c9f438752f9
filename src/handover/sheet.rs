//! What does whoever pays get to see? The places one could stand, as pictures, side by side, with what each needs.

use std::fmt::Write;

use crate::cautions::CautionKind;
use crate::drawing::{Drawing, Pin, PlanRequest, PlanView, Role, Room, SiteShapes, Weight, escaped, plan};
use crate::optics::Camera;
use crate::place::Day;
use crate::pose::Pose;
use crate::progress::{Cancelled, Progress};
use crate::site::Stance;
use crate::still::{Picture, Scene, StillError, Style, View, render};
use crate::survey::{Measured, Survey};
use crate::theme::Theme;

use super::brand::Brand;
use super::html::{PackError, data_address, figure, jpeg, page};
use super::paper::{A4_PT, Paper, PaperError, Sheet as PaperSheet, Type};

/// The longer side of a picture.
const LONGER_PX: f64 = 1280.0;
/// The qualities tried, of 100, until the page is small enough.
const QUALITIES: [u8; 4] = [84, 76, 66, 54];
/// As large as a page may get, so that it can be sent by mail.
pub const LARGEST_PAGE_BYTES: usize = 3_000_000;
/// The most stances on one sheet.
pub const MOST_STANCES: usize = 12;
/// The name of the page's file.
pub const PAGE_NAME: &str = "sheet.html";
/// The name of the file for paper.
pub const PAPER_NAME: &str = "sheet.pdf";

/// A sheet for a client.
#[derive(Clone, Debug)]
pub struct ClientSheet {
    title: String,
    brand: Brand,
    day: Day,
    subject: String,
    stances: Vec<Told>,
    plan: Drawing,
    cautions: Vec<String>,
}

/// A stance as it is told to a client.
#[derive(Clone, Debug)]
struct Told {
    number: usize,
    name: String,
    note: Option<String>,
    taken: Picture,
    straightened: Option<Picture>,
    /// What the comparison says of it, in the order of [`COLUMNS`].
    figures: [String; 6],
    needs: Vec<String>,
    sentence: String,
}

/// What stances are compared by.
const COLUMNS: [&str; 6] =
    ["Distance", "Uprights as taken", "Straightened afterwards", "How much is seen", "Finest detail kept", "Seen from"];

/// Why there is no sheet.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    /// No stance to show.
    #[error("there is no stance to show; save one in the site file, or name some")]
    NoStance,
    /// Too many.
    #[error("{given} stances are more than find room on one sheet; choose {MOST_STANCES} or fewer")]
    TooMany {
        /// How many were asked for.
        given: usize,
    },
    /// A picture cannot be made.
    #[error(transparent)]
    Still(#[from] StillError),
    /// A picture cannot be packed.
    #[error(transparent)]
    Pack(#[from] PackError),
    /// The pages cannot be made.
    #[error(transparent)]
    Paper(#[from] PaperError),
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl ClientSheet {
    /// The sheet of stances that are measured; their pictures are made here.
    ///
    /// # Errors
    /// There are none or too many, or a picture is cancelled.
    pub fn of(
        survey: &Survey,
        stances: &[(Stance, Measured)],
        brand: Brand,
        day: Day,
        progress: &Progress,
    ) -> Result<Self, SheetError> {
        if stances.is_empty() {
            return Err(SheetError::NoStance);
        }
        if stances.len() > MOST_STANCES {
            return Err(SheetError::TooMany { given: stances.len() });
        }
        let straightened = |measured: &Measured| {
            measured
                .account
                .straightened
                .as_ref()
                .and_then(|kept| kept.as_ref().ok())
                .filter(|_| leans(measured))
                .cloned()
        };
        let pictures: usize =
            stances.iter().map(|(_, measured)| 1 + usize::from(straightened(measured).is_some())).sum();
        progress.start(pictures as u64);
        let mut told = Vec::new();
        for (index, (stance, measured)) in stances.iter().enumerate() {
            let standing = &measured.standing;
            let taken = picture(survey, measured, &standing.camera, &standing.pose)?;
            progress.advance(1)?;
            let straightened = straightened(measured)
                .map(|kept| {
                    let pose = Pose { attitude: kept.attitude, ..standing.pose };
                    let made = picture(survey, measured, &kept.camera, &pose)?;
                    progress.advance(1)?;
                    Ok::<Picture, SheetError>(made)
                })
                .transpose()?;
            told.push(Told {
                number: index + 1,
                name: stance.name.clone(),
                note: stance.note.clone(),
                taken,
                straightened,
                figures: figures(measured),
                needs: needs(measured),
                sentence: sentence(survey, measured),
            });
        }
        let site = &survey.model.site;
        Ok(Self {
            title: brand.title.clone().unwrap_or_else(|| site.name.clone()),
            brand,
            day,
            subject: survey.subject.as_ref().map_or("site", |subject| &site.blocks[subject.body].name).to_owned(),
            plan: sheet_plan(survey, stances),
            cautions: cautions(stances),
            stances: told,
        })
    }

    /// The sheet as a page: one file that needs no network, under 3 MB where its pictures allow it.
    ///
    /// # Errors
    /// A picture cannot be packed.
    pub fn html(&self) -> Result<String, SheetError> {
        let mut page = String::new();
        for quality in QUALITIES {
            page = self.html_of(quality)?;
            if page.len() <= LARGEST_PAGE_BYTES {
                break;
            }
        }
        Ok(page)
    }

    fn html_of(&self, quality: u8) -> Result<String, SheetError> {
        let mut body = String::from("<main>\n");
        self.write_head(&mut body);
        let several = self.stances.len() > 1 || self.stances.iter().any(|told| told.straightened.is_some());
        if several {
            self.write_pair(&mut body);
        }
        body += "<section aria-labelledby=\"places\"><h2 id=\"places\">Where one could stand</h2>\n";
        for told in &self.stances {
            write_stance(&mut body, told, quality)?;
        }
        body += "</section>\n";
        let _ = writeln!(
            body,
            "<section aria-labelledby=\"plan\"><h2 id=\"plan\">The places on the plan</h2><figure class=\"card\" \
             style=\"margin:0\">{}</figure></section>",
            figure(&self.plan)
        );
        self.write_table(&mut body);
        self.write_needs(&mut body);
        self.write_foot(&mut body);
        body += "</main>\n";
        let script = if several { include_str!("sheet.js") } else { "" };
        Ok(page(&self.title, include_str!("sheet.css"), &body, script))
    }

    fn write_head(&self, body: &mut String) {
        let brand = &self.brand;
        if !brand.name.is_empty() || brand.mark_file.is_some() {
            body.push_str("<div class=\"brand\">");
            if let Some(mark) = &brand.mark_file {
                let kind = if mark.png { "image/png" } else { "image/jpeg" };
                let _ = write!(body, "<img alt=\"\" src=\"{}\">", data_address(kind, &mark.bytes));
            }
            let contact: Vec<String> = brand.contact.iter().map(|line| escaped(line)).collect();
            let _ =
                writeln!(body, "<strong>{}</strong><span>{}</span></div>", escaped(&brand.name), contact.join("<br>"));
        }
        let _ =
            write!(body, "<header><h1>{}</h1><p class=\"lead\">{}</p>", escaped(&self.title), escaped(&self.lead()));
        if let Some(text) = &brand.text {
            let _ = write!(body, "<p class=\"text\">{}</p>", escaped(text));
        }
        *body += "</header>\n";
    }

    fn lead(&self) -> String {
        let places = match self.stances.len() {
            1 => "one place to stand".to_owned(),
            count => format!("{count} places to stand"),
        };
        let client = self.brand.client.as_ref().map_or_else(String::new, |client| format!("For {client}: "));
        format!("{client}{places} to photograph the {}, as previews made from a model. {}", self.subject, self.day)
    }

    /// The slider between any two pictures. It is shown by its script: without one every picture stands below.
    fn write_pair(&self, body: &mut String) {
        let mut options: Vec<(String, String)> = Vec::new();
        for told in &self.stances {
            options.push((format!("taken-{}", told.number), format!("{} {}, as taken", told.number, told.name)));
            if told.straightened.is_some() {
                let name = format!("{} {}, straightened", told.number, told.name);
                options.push((format!("straight-{}", told.number), name));
            }
        }
        // At first a picture and what straightening makes of it, where there is such a pair.
        let first = options.iter().position(|(id, _)| id.starts_with("straight")).map_or(0, |index| index - 1);
        let list = |chosen: usize| {
            let write = |(index, (id, name)): (usize, &(String, String))| {
                let selected = if index == chosen { " selected" } else { "" };
                format!("<option value=\"{id}\"{selected}>{}</option>", escaped(name))
            };
            options.iter().enumerate().map(write).collect::<String>()
        };
        let _ = writeln!(
            body,
            "<section class=\"compare\" id=\"compare\" aria-labelledby=\"two\" hidden><h2 id=\"two\">Two at a time</h2>\n\
             <div class=\"card\"><div class=\"pair\" id=\"pair\"><img class=\"under\" alt=\"\"><img class=\"over\" alt=\"\">\
             <span class=\"cut paper\"></span><input type=\"range\" id=\"share\" min=\"0\" max=\"100\" value=\"50\" \
             aria-label=\"How much of the left picture is shown\"></div>\n\
             <div class=\"choose\"><label>On the left<select id=\"left\">{}</select></label>\
             <label>On the right<select id=\"right\">{}</select></label></div></div></section>",
            list(first),
            list(first + 1),
        );
    }

    fn write_table(&self, body: &mut String) {
        *body += "<section aria-labelledby=\"table\"><h2 id=\"table\">Side by side</h2><div class=\"card\">\
                  <table role=\"table\"><thead role=\"rowgroup\"><tr role=\"row\"><th role=\"columnheader\" scope=\"col\">Place</th>";
        for column in COLUMNS {
            let _ = write!(body, "<th role=\"columnheader\" scope=\"col\">{column}</th>");
        }
        *body += "</tr></thead><tbody role=\"rowgroup\">\n";
        for told in &self.stances {
            let _ = write!(
                body,
                "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\"><span class=\"number\">{}</span>{}</th>",
                told.number,
                escaped(&told.name)
            );
            for (column, figure) in COLUMNS.iter().zip(&told.figures) {
                let _ = write!(body, "<td role=\"cell\" data-of=\"{column}\">{}</td>", escaped(figure));
            }
            *body += "</tr>\n";
        }
        *body += "</tbody></table></div></section>\n";
    }

    fn write_needs(&self, body: &mut String) {
        *body += "<section class=\"two\"><div class=\"card\"><h2>What is needed</h2><ul>";
        for told in &self.stances {
            let needs = if told.needs.is_empty() { "nothing but a camera".to_owned() } else { told.needs.join("; ") };
            let _ = write!(body, "<li><strong>{}</strong>: {}</li>", escaped(&told.name), escaped(&needs));
        }
        *body += "</ul></div><div class=\"card mind\"><h2>To mind</h2>";
        if self.cautions.is_empty() {
            *body += "<p>The model shows nothing in particular; look around on site all the same.</p>";
        } else {
            *body += "<ul>";
            for caution in &self.cautions {
                let _ = write!(body, "<li>{}</li>", escaped(caution));
            }
            *body += "</ul>";
        }
        *body += "</div></section>\n";
    }

    fn write_foot(&self, body: &mut String) {
        *body += "<footer>";
        if let Some(closing) = &self.brand.closing {
            let _ = write!(body, "<p>{}</p>", escaped(closing));
        }
        let _ = writeln!(body, "<p>{FOOT}</p></footer>");
    }

    /// The sheet on paper, A4.
    ///
    /// # Errors
    /// A picture cannot be packed, or the pages not be made.
    pub fn pdf(&self) -> Result<Vec<u8>, SheetError> {
        let mut paper = Paper::new(&self.title, &self.lead())?;
        let (width_pt, height_pt) = A4_PT;
        let inner = Room { left: 48.0, top: 54.0, right: width_pt - 48.0, bottom: height_pt - 50.0 };
        let mut packed = Vec::new();
        for told in &self.stances {
            let straightened = told.straightened.as_ref().map(|picture| jpeg(picture, 86)).transpose()?;
            packed.push((jpeg(&told.taken, 86)?, straightened));
        }
        paper.page(A4_PT, |sheet| self.first_page(sheet, &inner, &packed))?;
        let mut waiting: Vec<_> = self.stances.iter().zip(&packed).collect();
        while !waiting.is_empty() {
            let two = waiting.drain(..waiting.len().min(2)).collect::<Vec<_>>();
            paper.page(A4_PT, |sheet| {
                let half = 0.5 * (inner.bottom - inner.top);
                for (index, (told, pictures)) in two.iter().enumerate() {
                    let top = inner.top + index as f64 * half;
                    stance_on_paper(sheet, told, pictures, &Room { top, bottom: top + half - 14.0, ..inner })?;
                }
                self.foot_on_paper(sheet, &inner);
                Ok(())
            })?;
        }
        let mut rows = Rows::of(self, &inner);
        while !rows.is_done() {
            paper.page(A4_PT, |sheet| {
                rows.set(sheet, &inner);
                self.foot_on_paper(sheet, &inner);
                Ok(())
            })?;
        }
        Ok(paper.finish()?)
    }

    fn first_page(
        &self,
        sheet: &mut PaperSheet<'_>,
        inner: &Room,
        packed: &[(Vec<u8>, Option<Vec<u8>>)],
    ) -> Result<(), PaperError> {
        let width_pt = inner.right - inner.left;
        let mut y = inner.top;
        let brand = &self.brand;
        let small = Type::new(9.0, Weight::Regular, Role::Soft);
        if !brand.name.is_empty() || brand.mark_file.is_some() {
            let mut left = inner.left;
            if let Some(mark) = &brand.mark_file {
                left +=
                    sheet.mark_of(mark, &Room { left, top: y - 18.0, right: left + 120.0, bottom: y + 14.0 })? + 10.0;
            }
            sheet.text(&brand.name, (left, y + 2.0), &Type::new(12.0, Weight::Semibold, Role::Ink));
            let mut line_y = y - 10.0;
            for line in &brand.contact {
                sheet.text(line, (inner.right - small.width_pt(line), line_y + 2.0), &small);
                line_y += small.leading_pt();
            }
            y = (y + 18.0).max(line_y + 2.0);
            sheet.rule((inner.left, y), (inner.right, y), Role::Ink.pen(1.4));
            y += 16.0;
        }
        y = sheet.paragraph(&self.title, (inner.left, y), width_pt, &Type::new(24.0, Weight::Semibold, Role::Ink));
        y = sheet.paragraph(
            &self.lead(),
            (inner.left, y + 2.0),
            width_pt,
            &Type::new(10.5, Weight::Regular, Role::Soft),
        );
        if let Some(text) = &brand.text {
            y = sheet.paragraph(text, (inner.left, y + 8.0), width_pt, &Type::new(10.5, Weight::Regular, Role::Ink));
        }
        y += 14.0;
        let plan_height = width_pt * self.plan.height_pt / self.plan.width_pt;
        let lowest = inner.bottom - plan_height;
        let room = Room { left: inner.left, top: y, right: inner.right, bottom: lowest - 16.0 };
        let plan_top = (self.all_on_paper(sheet, &room, packed)? + 16.0).min(lowest);
        sheet.drawing(&self.plan, (inner.left, plan_top), width_pt);
        let plan = Room { left: inner.left, top: plan_top, right: inner.right, bottom: plan_top + plan_height };
        sheet.rect(&plan, None, Some(Role::Line.pen(0.8)));
        self.foot_on_paper(sheet, inner);
        Ok(())
    }

    /// Every stance as taken, small, in as few rows as leave the pictures large; where they end.
    fn all_on_paper(
        &self,
        sheet: &mut PaperSheet<'_>,
        room: &Room,
        packed: &[(Vec<u8>, Option<Vec<u8>>)],
    ) -> Result<f64, PaperError> {
        let (gap, below) = (10.0, 18.0);
        let aspect = |told: &Told| f64::from(told.taken.width_px) / f64::from(told.taken.height_px);
        let count = self.stances.len();
        let height_of = |rows: usize| {
            let across = count.div_ceil(rows);
            let widest = self.stances.chunks(across).map(|row| row.iter().map(aspect).sum::<f64>()).fold(0.1, f64::max);
            let by_width = (room.right - room.left - gap * (across - 1) as f64) / widest;
            by_width.min((room.bottom - room.top) / rows as f64 - below)
        };
        let rows =
            (1..=3.min(count)).reduce(|a, b| if height_of(b) > 1.25 * height_of(a) { b } else { a }).unwrap_or(1);
        let height_pt = height_of(rows);
        // Long words at the beginning leave no room; every picture stands on its own page all the same.
        if height_pt < 30.0 {
            return Ok(room.top);
        }
        let small = Type::new(8.0, Weight::Regular, Role::Soft);
        let across = count.div_ceil(rows);
        for (index, (told, (taken, _))) in self.stances.iter().zip(packed).enumerate() {
            let before = &self.stances[index - index % across..index];
            let left = room.left + before.iter().map(|told| aspect(told) * height_pt + gap).sum::<f64>();
            let top = room.top + (index / across) as f64 * (height_pt + below);
            let width_pt = height_pt * aspect(told);
            let picture = Room { left, top, right: left + width_pt, bottom: top + height_pt };
            sheet.jpeg(taken, &picture)?;
            sheet.rect(&picture, None, Some(Role::Ink.pen(0.6)));
            let name = format!("{} {}", told.number, told.name);
            let name = small.lines(&name, width_pt).into_iter().next().unwrap_or_default();
            sheet.text(&name, (left, top + height_pt + 10.0), &small);
        }
        Ok(room.top + rows as f64 * (height_pt + below))
    }

    fn foot_on_paper(&self, sheet: &mut PaperSheet<'_>, inner: &Room) {
        let set = Type::new(7.0, Weight::Regular, Role::Soft);
        sheet.paragraph(FOOT, (inner.left, inner.bottom + 12.0), inner.right - inner.left, &set);
    }
}

const FOOT: &str = "Pictures are previews from a block model: they show what stands where and how straight it comes out, not light, \
                    colour or surface. The sheet advises on geometry only; local rules and people licensed for the work prevail.";

/// Whether the subject leans enough in the picture that straightening it is worth a picture.
fn leans(measured: &Measured) -> bool {
    measured.account.closing.is_some_and(|closing| closing.worst().abs().degrees() >= 0.1)
}

fn picture(survey: &Survey, measured: &Measured, camera: &Camera, pose: &Pose) -> Result<Picture, StillError> {
    let mut camera = *camera;
    let aspect = camera.frame.width_mm / camera.frame.height_mm;
    let width_px = if aspect >= 1.0 { LONGER_PX } else { LONGER_PX * aspect };
    camera.frame = camera.frame.with_width_px(width_px.round().max(1.0) as u32);
    let style = Style { theme: Theme::Paper, sun: measured.sun, ..Style::default() };
    let view = View { camera, pose: *pose, focus: None };
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    render(&scene, &view, &style, &Progress::unwatched())
}

fn sheet_plan(survey: &Survey, stances: &[(Stance, Measured)]) -> Drawing {
    let shapes = SiteShapes::of(&survey.model);
    let pins: Vec<Pin> = stances
        .iter()
        .enumerate()
        .map(|(index, (stance, measured))| Pin::of(&stance.name, &measured.standing, u32::try_from(index + 1).ok()))
        .collect();
    let mut places: Vec<_> = pins.iter().map(|pin| pin.at).collect();
    if let Ok(subject) = &survey.subject {
        places.extend(
            subject
                .blocks
                .iter()
                .filter_map(|&block| shapes.blocks.get(block))
                .flat_map(|shape| [shape.bounds.0, shape.bounds.1]),
        );
    }
    // A little around them, so that what stands between is seen.
    let view = PlanView::around(places, 760.0, 470.0);
    plan(&PlanRequest { survey, shapes: &shapes, measured: None, pins: &pins, view, titled: false })
}

fn figures(measured: &Measured) -> [String; 6] {
    let account = &measured.account;
    let none = || "–".to_owned();
    let distance = account.distance_m.map_or_else(none, |distance_m| {
        if distance_m < 9.95 { format!("{distance_m:.1} m") } else { format!("{distance_m:.0} m") }
    });
    let uprights = account.closing.map_or_else(
        || "cannot be told from here".to_owned(),
        |closing| {
            let closes = closing.convergence().degrees();
            let upright = account.reads_upright == Some(true);
            match (closes, upright) {
                (closes, _) if closes.abs() < 0.05 && upright => "parallel".to_owned(),
                (closes, true) => format!("read as upright ({:.1}°)", closes.abs()),
                (closes, false) if closes >= 0.05 => format!("visibly close toward the top, by {closes:.1}°"),
                (closes, false) if closes <= -0.05 => format!("visibly open toward the top, by {:.1}°", -closes),
                _ => "lean to one side".to_owned(),
            }
        },
    );
    let straightened = match &account.straightened {
        Some(Ok(_)) if !leans(measured) => "not needed".to_owned(),
        Some(Ok(kept)) => {
            let all = measured.standing.camera.frame.megapixels();
            format!("{:.0} of {all:.0} megapixels remain", kept.megapixels_kept)
        }
        Some(Err(failure)) => format!("not possible: {}", failure.words()),
        None => none(),
    };
    let seen = match (account.visible_share, account.in_frame_share) {
        (Some(seen), framed) => {
            let hidden = if seen >= 0.995 { "all of it".to_owned() } else { format!("{:.0} % of it", 100.0 * seen) };
            match framed {
                Some(framed) if framed < 0.995 => format!("{hidden}; {:.0} % is in the picture", 100.0 * framed),
                _ => hidden,
            }
        }
        _ => none(),
    };
    let detail = match (&account.straightened, account.worst_detail) {
        (Some(Ok(kept)), _) if leans(measured) => {
            kept.detail_kept.map_or_else(none, |detail| format!("{:.0} mm a pixel, straightened", detail.mm_per_px()))
        }
        (_, Some((detail, _))) => format!("{:.0} mm a pixel", detail.mm_per_px()),
        _ => none(),
    };
    let from = account.head_elevation.map_or_else(none, |head| {
        let degrees = head.degrees();
        if degrees.abs() < 0.5 {
            "level with its head".to_owned()
        } else {
            format!("{:.0}° {} its head", degrees.abs(), if degrees > 0.0 { "below" } else { "above" })
        }
    });
    [distance, uprights, straightened, seen, detail, from]
}

/// What a stance needs beyond a camera, by its cautions, its height and its lens.
fn needs(measured: &Measured) -> Vec<String> {
    let mut needs = Vec::new();
    let has = |kind: CautionKind| measured.cautions.iter().any(|caution| caution.kind == kind);
    let standing = &measured.standing;
    let name = standing.footing.as_ref().and_then(|footing| footing.name.as_deref());
    if has(CautionKind::Ask) {
        needs
            .push(name.map_or_else(|| "permission to stand there".into(), |name| format!("permission for the {name}")));
    }
    if has(CautionKind::Closed) {
        needs.push("the ground is closed: not without its owner's word".into());
    }
    if has(CautionKind::Water)
        && standing.footing.as_ref().is_some_and(|footing| footing.support == crate::site::Support::Water)
    {
        needs.push("a boat".into());
    }
    if has(CautionKind::Ladder) {
        needs.push("a ladder or a pole".into());
    }
    if has(CautionKind::Flying) {
        let above_m = standing.height_m().unwrap_or(standing.pose.eye.z);
        needs.push(format!("a mast, a hired platform or a flying camera, {above_m:.0} m up"));
    }
    if standing.camera.rise_mm.abs() > 0.05 || standing.camera.lateral_shift_mm.abs() > 0.05 {
        needs.push(format!("a lens that can be moved on its mount ({})", standing.lens.name));
    }
    needs
}

fn sentence(survey: &Survey, measured: &Measured) -> String {
    let standing = &measured.standing;
    let height = standing.height_m().map_or_else(
        || format!("{:.1} m up", standing.pose.eye.z),
        |height_m| match &standing.footing {
            Some(footing) if matches!(footing.support, crate::site::Support::Deck(_)) => {
                format!("{height_m:.1} m above the {}", footing.name.as_deref().unwrap_or("deck"))
            }
            _ => format!("{height_m:.1} m above the ground"),
        },
    );
    let subject = survey.subject.as_ref().map_or("site", |subject| &survey.model.site.blocks[subject.body].name);
    let away = measured
        .account
        .distance_m
        .map_or_else(String::new, |distance_m| format!(", {distance_m:.0} m from the {subject}"));
    format!("The camera {height}{away}, with a lens of {:.0} mm on {}.", standing.camera.focal_mm, standing.format.name)
}

/// Everything to mind at any of the stances, each once, with where.
fn cautions(stances: &[(Stance, Measured)]) -> Vec<String> {
    let mut told: Vec<(String, Vec<&str>)> = Vec::new();
    for (stance, measured) in stances {
        for caution in &measured.cautions {
            match told.iter_mut().find(|known| known.0 == caution.text) {
                Some(known) => known.1.push(&stance.name),
                None => told.push((caution.text.clone(), vec![&stance.name])),
            }
        }
    }
    told.into_iter().map(|(text, names)| format!("{}: {text}", names.join("; "))).collect()
}

fn write_stance(body: &mut String, told: &Told, quality: u8) -> Result<(), PackError> {
    let image = |id: &str, what: &str, picture: &Picture| {
        Ok::<String, PackError>(format!(
            "<img id=\"{id}-{}\" alt=\"{}\" width=\"{}\" height=\"{}\" src=\"{}\">",
            told.number,
            escaped(&format!("Preview from {}, {what}", told.name)),
            picture.width_px,
            picture.height_px,
            data_address("image/jpeg", &jpeg(picture, quality)?)
        ))
    };
    let _ = write!(
        body,
        "<article class=\"place\"><figure>{}<figcaption>As taken</figcaption></figure><div><h3><span \
         class=\"number\">{}</span>{}</h3><p>{}</p>",
        image("taken", "as taken", &told.taken)?,
        told.number,
        escaped(&told.name),
        escaped(&told.sentence)
    );
    let _ = write!(body, "<p>Uprights: {}.</p>", escaped(&told.figures[1]));
    if let Some(note) = &told.note {
        let _ = write!(body, "<p class=\"note\">{}</p>", escaped(note));
    }
    if let Some(straightened) = &told.straightened {
        let _ = write!(
            body,
            "<figure class=\"after\">{}<figcaption>Straightened afterwards: {}</figcaption></figure>",
            image("straight", "straightened", straightened)?,
            escaped(&told.figures[2])
        );
    }
    *body += "</div></article>\n";
    Ok(())
}

/// A stance on half a page: its pictures beside one another, and what there is to say.
fn stance_on_paper(
    sheet: &mut PaperSheet<'_>,
    told: &Told,
    (taken, straightened): &(Vec<u8>, Option<Vec<u8>>),
    room: &Room,
) -> Result<(), PaperError> {
    let width_pt = room.right - room.left;
    let title = Type::new(14.0, Weight::Semibold, Role::Ink);
    let body = Type::new(9.5, Weight::Regular, Role::Ink);
    let caption = Type::new(8.5, Weight::Regular, Role::Soft);
    let name = title.lines(&format!("{}  {}", told.number, told.name), width_pt).into_iter().next().unwrap_or_default();
    sheet.rule((room.left, room.top), (room.right, room.top), Role::Line.pen(0.8));
    sheet.text(&name, (room.left, room.top + 18.0), &title);
    let mut y = sheet.paragraph(&told.sentence, (room.left, room.top + 24.0), width_pt, &body);
    if let Some(note) = &told.note {
        y = sheet.paragraph(note, (room.left, y), width_pt, &Type { role: Role::Soft, ..body });
    }
    let needs = if told.needs.is_empty() { String::new() } else { format!("Needs {}.", told.needs.join("; ")) };
    if !needs.is_empty() {
        y = sheet.paragraph(&needs, (room.left, y), width_pt, &Type { role: Role::Ask, ..body });
    }
    let pictures = Room { left: room.left, top: y + 6.0, right: room.right, bottom: room.bottom - 14.0 };
    let gap = 12.0;
    let right = if straightened.is_some() { pictures.left + 0.5 * (width_pt - gap) } else { pictures.right };
    let placed = sheet.fitted(taken, &told.taken, &Room { right, ..pictures })?;
    let text = format!("as taken: {}", told.figures[1]);
    sheet.text(&text, (placed.left, placed.bottom + 11.0), &caption);
    if let (Some(bytes), Some(picture)) = (straightened, &told.straightened) {
        let placed = sheet.fitted(bytes, picture, &Room { left: right + gap, ..pictures })?;
        let text = format!("straightened: {}", told.figures[2]);
        sheet.text(&text, (placed.left, placed.bottom + 11.0), &caption);
    }
    Ok(())
}

/// What stands on the last pages, line by line.
struct Rows {
    lines: std::collections::VecDeque<RowLine>,
}

enum RowLine {
    Heading(&'static str),
    /// A stance's name, then what is compared, as caption and value.
    Stance(String, Vec<(&'static str, String)>),
    /// A text with its bullet.
    Point(String),
}

impl Rows {
    fn of(sheet: &ClientSheet, _inner: &Room) -> Self {
        let mut lines = std::collections::VecDeque::new();
        lines.push_back(RowLine::Heading("Side by side"));
        for told in &sheet.stances {
            let mut figures: Vec<(&'static str, String)> =
                COLUMNS.iter().copied().zip(told.figures.iter().cloned()).collect();
            let needs = if told.needs.is_empty() { "nothing but a camera".to_owned() } else { told.needs.join("; ") };
            figures.push(("Needed", needs));
            lines.push_back(RowLine::Stance(format!("{}  {}", told.number, told.name), figures));
        }
        if !sheet.cautions.is_empty() {
            lines.push_back(RowLine::Heading("To mind"));
            lines.extend(sheet.cautions.iter().map(|caution| RowLine::Point(caution.clone())));
        }
        if let Some(closing) = &sheet.brand.closing {
            lines.push_back(RowLine::Heading("And finally"));
            lines.push_back(RowLine::Point(closing.clone()));
        }
        Self { lines }
    }

    fn is_done(&self) -> bool {
        self.lines.is_empty()
    }

    /// Sets as many lines as find room on a page; at least one.
    fn set(&mut self, sheet: &mut PaperSheet<'_>, inner: &Room) {
        let width_pt = inner.right - inner.left;
        let heading = Type::new(14.0, Weight::Semibold, Role::Ink);
        let name = Type::new(10.5, Weight::Semibold, Role::Ink);
        let body = Type::new(9.5, Weight::Regular, Role::Ink);
        let caption = Type::new(9.5, Weight::Regular, Role::Soft);
        let mut y = inner.top;
        while let Some(line) = self.lines.front() {
            let half = 0.5 * (width_pt - 16.0);
            let beside = 114.0;
            let cell = |(_, value): &(&str, String)| body.lines(value, half - beside).len() as f64 * body.leading_pt();
            let height_pt = match line {
                RowLine::Heading(_) => 60.0,
                RowLine::Stance(_, figures) => {
                    22.0 + figures.chunks(2).map(|two| two.iter().map(cell).fold(0.0, f64::max) + 2.0).sum::<f64>()
                }
                RowLine::Point(text) => body.lines(text, width_pt - 12.0).len() as f64 * body.leading_pt() + 3.0,
            };
            if y > inner.top && y + height_pt > inner.bottom {
                break;
            }
            match line {
                RowLine::Heading(text) => {
                    y += if y > inner.top { 14.0 } else { 0.0 };
                    sheet.text(text, (inner.left, y + 14.0), &heading);
                    y += 24.0;
                }
                RowLine::Stance(text, figures) => {
                    sheet.rule((inner.left, y), (inner.right, y), Role::Line.pen(0.8));
                    sheet.text(text, (inner.left, y + 13.0), &name);
                    y += 18.0;
                    for two in figures.chunks(2) {
                        let mut lowest = y;
                        for (index, (what, value)) in two.iter().enumerate() {
                            let left = inner.left + index as f64 * (half + 16.0);
                            sheet.text(what, (left, y + 1.05 * caption.size_pt), &caption);
                            lowest = lowest.max(sheet.paragraph(value, (left + beside, y), half - beside, &body));
                        }
                        y = lowest + 2.0;
                    }
                    y += 4.0;
                }
                RowLine::Point(text) => {
                    sheet.text("·", (inner.left, y + 1.05 * body.size_pt), &body);
                    y = sheet.paragraph(text, (inner.left + 12.0, y), width_pt - 12.0, &body) + 3.0;
                }
            }
            self.lines.pop_front();
        }
    }
}
