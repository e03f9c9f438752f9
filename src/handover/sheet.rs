//! What does whoever pays get to see? The places one could stand, as pictures, side by side, with what each needs.

use std::fmt::Write;

use crate::cautions::CautionKind;
use crate::drawing::{Drawing, Pin, PlanRequest, PlanView, SiteShapes, escaped, plan};
use crate::optics::Camera;
use crate::place::Day;
use crate::pose::Pose;
use crate::progress::{Cancelled, Progress};
use crate::site::Stance;
use crate::still::{Picture, Scene, StillError, Style, View, render};
use crate::survey::{Measured, Survey};
use crate::theme::Theme;
use crate::units::Units;

use super::brand::Brand;
use super::html::{PackError, data_address, figure, jpeg, page};

#[cfg(feature = "paper")]
mod paper;

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

/// Whether a file of this name may be part of a sheet's folder.
pub fn is_of_a_sheet(name: &str) -> bool {
    [PAGE_NAME, PAPER_NAME].contains(&name)
}

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

/// A stance of a sheet, for whoever shows the sheet before it is written.
#[derive(Clone, Copy, Debug)]
pub struct SheetPlace<'a> {
    /// Counted from 1.
    pub number: usize,
    /// What it is called.
    pub name: &'a str,
    /// What is noted of it.
    pub note: Option<&'a str>,
    /// The picture as taken.
    pub taken: &'a Picture,
    /// The picture straightened afterwards, where there is anything to straighten.
    pub straightened: Option<&'a Picture>,
    /// What it is, in a sentence.
    pub sentence: &'a str,
    /// What the comparison says of it.
    pub figures: &'a [String; 6],
    /// What it takes.
    pub needs: &'a [String],
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
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl ClientSheet {
    /// The sheet of stances that are measured, its lengths in this unit; their pictures are made here.
    ///
    /// # Errors
    /// There are none or too many, or a picture is cancelled.
    pub fn of(
        survey: &Survey,
        stances: &[(Stance, Measured)],
        brand: Brand,
        (day, units): (Day, Units),
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
                figures: figures(measured, units),
                needs: needs(measured, units),
                sentence: sentence(survey, measured, units),
            });
        }
        let site = &survey.model.site;
        Ok(Self {
            title: brand.title.clone().unwrap_or_else(|| site.name.clone()),
            brand,
            day,
            subject: survey.subject.as_ref().map_or("site", |subject| &site.blocks[subject.body].name).to_owned(),
            plan: sheet_plan(survey, stances, units),
            cautions: cautions(stances),
            stances: told,
        })
    }

    /// Its title.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// What stands under the title.
    pub fn lead_words(&self) -> String {
        self.lead()
    }

    /// Whose it is.
    pub fn brand(&self) -> &Brand {
        &self.brand
    }

    /// Its stances in their order.
    pub fn places(&self) -> impl Iterator<Item = SheetPlace<'_>> {
        self.stances.iter().map(|told| SheetPlace {
            number: told.number,
            name: &told.name,
            note: told.note.as_deref(),
            taken: &told.taken,
            straightened: told.straightened.as_ref(),
            sentence: &told.sentence,
            figures: &told.figures,
            needs: &told.needs,
        })
    }

    /// What the figures of its stances are called.
    pub fn columns(&self) -> &'static [&'static str; 6] {
        &COLUMNS
    }

    /// The plan with every stance.
    pub fn plan(&self) -> &Drawing {
        &self.plan
    }

    /// What is to be minded.
    pub fn cautions(&self) -> &[String] {
        &self.cautions
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
        if let Some(convergence) = &self.brand.convergence {
            let _ = write!(body, "<p>{}</p>", escaped(convergence));
        }
        let _ = writeln!(body, "<p>{FOOT}</p></footer>");
    }
}

const FOOT: &str = "Pictures are previews from a block model: they show what stands where and how straight it comes out, not light, \
                    colour or surface. The sheet advises on geometry only; local rules and people licensed for the work prevail.";

/// Whether the subject leans enough in the picture that straightening it is worth a picture.
fn leans(measured: &Measured) -> bool {
    measured.account.convergence.is_some_and(|convergence| convergence.largest().abs().degrees() >= 0.1)
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

fn sheet_plan(survey: &Survey, stances: &[(Stance, Measured)], units: Units) -> Drawing {
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
    plan(&PlanRequest { survey, shapes: &shapes, measured: None, pins: &pins, view, units, titled: false })
}

fn figures(measured: &Measured, units: Units) -> [String; 6] {
    let account = &measured.account;
    let none = || "–".to_owned();
    let distance = account.distance_m.map_or_else(none, |distance_m| units.roundly(distance_m));
    let uprights = account.convergence.map_or_else(
        || "cannot be told from here".to_owned(),
        |convergence| {
            let closes = convergence.angle().degrees();
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
    let detail = match (&account.straightened, account.lowest_detail) {
        (Some(Ok(kept)), _) if leans(measured) => {
            let told = |mm_per_px: f64| format!("{}, straightened", units.per_pixel(mm_per_px));
            kept.detail_kept.map_or_else(none, |detail| told(detail.mm_per_px()))
        }
        (_, Some((detail, _))) => units.per_pixel(detail.mm_per_px()),
        _ => none(),
    };
    let from = account.top_elevation.map_or_else(none, |head| {
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
fn needs(measured: &Measured, units: Units) -> Vec<String> {
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
        needs.push(format!("a mast, a hired platform or a drone, {} up", units.roundly(above_m)));
    }
    if standing.camera.rise_mm.abs() > 0.05 || standing.camera.shift_mm.abs() > 0.05 {
        needs.push(format!("a lens that can be moved on its mount ({})", standing.lens.name));
    }
    needs
}

fn sentence(survey: &Survey, measured: &Measured, units: Units) -> String {
    let standing = &measured.standing;
    let height = standing.height_m().map_or_else(
        || format!("{} up", units.length(standing.pose.eye.z, 1)),
        |height_m| match &standing.footing {
            Some(footing) if matches!(footing.support, crate::site::Support::Deck(_)) => {
                let deck = footing.name.as_deref().unwrap_or("deck");
                format!("{} above the {deck}", units.length(height_m, 1))
            }
            _ => format!("{} above the ground", units.length(height_m, 1)),
        },
    );
    let subject = survey.subject.as_ref().map_or("site", |subject| &survey.model.site.blocks[subject.body].name);
    let away = measured
        .account
        .distance_m
        .map_or_else(String::new, |distance_m| format!(", {} from the {subject}", units.roundly(distance_m)));
    format!(
        "The camera {height}{away}, with a lens of {:.0} mm on {}.",
        standing.camera.focal_mm,
        standing.format.words()
    )
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
