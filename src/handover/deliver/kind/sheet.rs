//! What does the client see? The standpoints as pictures, side by side, with what each needs.

use std::sync::Arc;

use crate::cautions::CautionKind;
use crate::drawing::{Drawing, Pin, PlanRequest, PlanView, SiteShapes, plan};
use crate::optics::Camera;
use crate::pose::Pose;
use crate::progress::{Cancelled, Progress};
use crate::site::{Block, Stance};
use crate::still::{Look, Picture, Scene, StillError, Style, View, render};
use crate::survey::{Measured, Survey};
use crate::text::PlainText;
use crate::theme::Theme;
use crate::units::Units;
use crate::verticals::Straightened;
use crate::wording::{self, is_all, percent};

use crate::handover::DocumentSettings;
use crate::handover::brand::Brand;
use crate::handover::document::{
    Article, Document, DocumentBlock, GalleryPicture, Illustration, Image, Letterhead, List, ListItem, ListMarks,
    PageLayout, Paragraph, Section, Table, TableRow,
};

/// The longer side of a picture.
const LONGER_PX: f64 = 1280.0;
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

/// What stances are compared by.
const COLUMNS: [&str; 6] =
    ["Distance", "Verticals as taken", "Straightened afterwards", "Visible", "Lowest detail", "View of the top"];

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
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// The client's sheet of stances that are measured; their pictures are made here.
///
/// # Errors
/// There are none or too many, or a picture is cancelled.
pub fn client_sheet(
    survey: &Survey,
    stances: &[(Stance, Measured)],
    brand: Brand,
    settings: DocumentSettings,
    progress: &Progress,
) -> Result<Document, SheetError> {
    if stances.is_empty() {
        return Err(SheetError::NoStance);
    }
    if stances.len() > MOST_STANCES {
        return Err(SheetError::TooMany { given: stances.len() });
    }
    let units = settings.units;
    let pictures: usize = stances.iter().map(|(_, measured)| 1 + usize::from(straightened(measured).is_some())).sum();
    progress.start(pictures as u64);
    let (mut gallery, mut articles, mut rows, mut needed) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (index, (stance, measured)) in stances.iter().enumerate() {
        let (number, name) = (index + 1, &stance.name);
        let figures = figures(measured, units);
        let needs = needs(measured, units);
        let taken =
            Arc::new(picture(survey, measured, (&measured.standing.camera, &measured.standing.pose), settings.look)?);
        progress.advance(1)?;
        let illustration = |id: &str, what: &str, picture: &Arc<Picture>, caption: String| Illustration {
            image: Image::Picture(Arc::clone(picture)),
            alternative: format!("Preview from {name}, {what}").into(),
            caption: Some(caption.into()),
            id: Some(format!("{id}-{number}")),
        };
        let gallery_picture = |id: &str, what: &str, picture: &Arc<Picture>, main: bool| GalleryPicture {
            id: format!("{id}-{number}"),
            name: format!("{number} {name}, {what}").into(),
            main: main.then(|| format!("{number} {name}").into()),
            picture: Arc::clone(picture),
        };
        let mut illustrations = vec![illustration("taken", "as taken", &taken, format!("As taken: {}", figures[1]))];
        gallery.push(gallery_picture("taken", "as taken", &taken, true));
        if let Some(straightened) = straightened(measured) {
            let pose = Pose { attitude: straightened.attitude, ..measured.standing.pose };
            let after = Arc::new(picture(survey, measured, (&straightened.camera, &pose), settings.look)?);
            progress.advance(1)?;
            let caption = format!("Straightened afterwards: {}", figures[2]);
            illustrations.push(illustration("straight", "straightened", &after, caption));
            gallery.push(gallery_picture("straight", "straightened", &after, false));
        }
        let mut paragraphs = vec![Paragraph::plain(sentence(survey, measured, units))];
        paragraphs.extend(stance.note.as_ref().map(Paragraph::note));
        if !needs.is_empty() {
            paragraphs.push(Paragraph::needed(format!("Needs {}.", needs.join("; "))));
        }
        articles.push(DocumentBlock::Article(Article { number, title: name.into(), illustrations, paragraphs }));
        rows.push(TableRow { number: Some(number), name: name.into(), cells: figures.map(Into::into).to_vec() });
        let needs = if needs.is_empty() { "nothing but a camera".to_owned() } else { needs.join("; ") };
        needed.push(ListItem { lead: Some(name.into()), text: needs.into() });
    }
    let plan = sheet_plan(survey, stances, units);
    let plan = Illustration {
        alternative: plan.words.as_str().into(),
        image: Image::Drawing(Arc::new(plan)),
        caption: None,
        id: None,
    };
    let columns = COLUMNS.map(Into::into).to_vec();
    let mut blocks = vec![
        DocumentBlock::Gallery(gallery),
        DocumentBlock::Section(Section::new("Where to stand", articles)),
        DocumentBlock::Section(Section::new("Standpoints on the plan", vec![DocumentBlock::Illustration(plan)])),
        DocumentBlock::Section(Section::new(
            "Side by side",
            vec![DocumentBlock::Table(Table { corner: "Standpoint".into(), columns, rows })],
        )),
        DocumentBlock::Columns(vec![
            Section::new(
                "What is needed",
                vec![DocumentBlock::List(List { marks: ListMarks::Bullets, items: needed })],
            ),
            Section::of_cautions("Cautions", vec![caution_list(stances)]),
        ]),
    ];
    blocks.extend(brand.closing.as_ref().map(|closing| DocumentBlock::Paragraph(Paragraph::plain(closing))));
    let site = &survey.model.site;
    let subject = survey.subject.as_ref().map_or("site", |subject| &site.blocks[subject.body].name);
    let title: PlainText = brand.title.as_ref().unwrap_or(&site.name).into();
    let subtitle: PlainText = subtitle(&brand, stances.len(), subject, settings).into();
    Ok(Document {
        layout: PageLayout::Report,
        name: title.clone(),
        description: subtitle.clone(),
        letterhead: (!brand.name.is_empty() || brand.logo_file.is_some()).then(|| Letterhead {
            name: brand.name.as_str().into(),
            contact: brand.contact.iter().map(Into::into).collect(),
            logo: brand.logo_file.clone(),
        }),
        title,
        subtitle,
        introduction: brand.text.as_ref().map(Into::into),
        blocks,
        footer: footer(settings.look).into(),
    })
}

/// What straightening keeps, where there is anything to straighten.
fn straightened(measured: &Measured) -> Option<&Straightened> {
    let straightened = measured.account.straightened.as_ref()?.as_ref().ok()?;
    leans(measured).then_some(straightened)
}

fn subtitle(brand: &Brand, count: usize, subject: &str, settings: DocumentSettings) -> String {
    let standpoints = if count == 1 { "one standpoint".to_owned() } else { format!("{count} standpoints") };
    let client = brand.client.as_ref().map_or_else(String::new, |client| format!("For {client}: "));
    format!("{client}{standpoints} to photograph the {subject}, as previews made from a model. {}", settings.day)
}

const fn footer(look: Look) -> &'static str {
    match look {
        Look::Card => {
            "Pictures are previews from a block model: they show what stands where and how straight it comes out, not light, \
             colour or surface. The sheet advises on geometry only; local rules and people licensed for the work prevail."
        }
        Look::Materials => {
            "Pictures are previews from a block model: they show what stands where and how straight it comes out. Materials, doors, \
             windows, people and vehicles are made up, in their true size. The sheet advises on geometry only; local rules and \
             people licensed for the work prevail."
        }
    }
}

/// Whether the subject leans enough in the picture that straightening it is worth a picture.
fn leans(measured: &Measured) -> bool {
    measured.account.convergence.is_some_and(|convergence| convergence.largest().abs().degrees() >= 0.1)
}

fn picture(
    survey: &Survey,
    measured: &Measured,
    (camera, pose): (&Camera, &Pose),
    look: Look,
) -> Result<Picture, StillError> {
    let mut camera = *camera;
    let aspect = camera.frame.width_mm / camera.frame.height_mm;
    let width_px = if aspect >= 1.0 { LONGER_PX } else { LONGER_PX * aspect };
    camera.frame = camera.frame.with_width_px(width_px.round().max(1.0) as u32);
    // People and a car say how large everything is, where walls and windows do.
    let company = look == Look::Materials;
    let sun = Some(survey.light(measured.sun));
    let style = Style { theme: Theme::Paper, sun, company, ..Style::of(look) };
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
    plan(&PlanRequest { survey, shapes: &shapes, measured: None, pins: &pins, walks: &[], view, units, titled: false })
}

fn figures(measured: &Measured, units: Units) -> [String; 6] {
    let account = &measured.account;
    let none = || "–".to_owned();
    let distance = account.distance_m.map_or_else(none, |distance_m| units.roundly(distance_m));
    let verticals = account.convergence.map_or_else(
        || "cannot be measured from here".to_owned(),
        |convergence| {
            let upright = account.reads_upright == Some(true);
            let degrees = convergence.angle().degrees();
            let written = wording::degrees(degrees.abs());
            match (degrees, upright) {
                (degrees, true) if degrees.abs() < 0.05 => "parallel".to_owned(),
                (_, true) => format!("upright ({written})"),
                (degrees, false) if degrees >= 0.05 => format!("visibly converge by {written}"),
                (degrees, false) if degrees <= -0.05 => format!("visibly diverge by {written}"),
                _ => "lean to one side".to_owned(),
            }
        },
    );
    let straightened = match &account.straightened {
        Some(Ok(_)) if !leans(measured) => "not needed".to_owned(),
        Some(Ok(straightened)) => {
            let all = measured.standing.camera.frame.megapixels();
            format!("{:.0} of {all:.0} megapixels remain", straightened.megapixels_kept)
        }
        Some(Err(failure)) => format!("not possible: {}", failure.words()),
        None => none(),
    };
    let seen = match (account.visible_share, account.in_frame_share) {
        (Some(seen), framed) => {
            let seen = if is_all(seen) { "all of it".to_owned() } else { format!("{} of it", percent(seen)) };
            match framed {
                Some(framed) if !is_all(framed) => format!("{seen}; {} is in the picture", percent(framed)),
                _ => seen,
            }
        }
        _ => none(),
    };
    let detail = match (&account.straightened, account.lowest_detail) {
        (Some(Ok(straightened)), _) if leans(measured) => {
            let words = |mm_per_px: f64| format!("{}, straightened", units.per_pixel(mm_per_px));
            straightened.detail_kept.map_or_else(none, |detail| words(detail.mm_per_px()))
        }
        (_, Some((detail, _))) => units.per_pixel(detail.mm_per_px()),
        _ => none(),
    };
    let from = account.top_elevation.map_or_else(none, |head| {
        let degrees = head.degrees();
        if degrees.abs() < 0.5 {
            "level with it".to_owned()
        } else {
            format!("looking {} {:.0}° at it", if degrees > 0.0 { "up" } else { "down" }, degrees.abs())
        }
    });
    [distance, verticals, straightened, seen, detail, from]
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
        needs.push("the owner's consent: the ground is closed".into());
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
        needs.push(format!("a lens with rise and shift ({})", standing.lens.name));
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
    let body = survey.subject.as_ref().map(|subject| &survey.model.site.blocks[subject.body]);
    let subject = body.map_or_else(|_| "the site".into(), Block::with_article);
    let away = measured
        .account
        .distance_m
        .map_or_else(String::new, |distance_m| format!(", {} from {subject}", units.roundly(distance_m)));
    format!(
        "The camera is {height}{away}, with a lens of {:.0} mm on {}.",
        standing.camera.focal_mm,
        standing.format.words()
    )
}

/// What to beware of at any of the stances, each once, with where.
fn caution_list(stances: &[(Stance, Measured)]) -> DocumentBlock {
    let mut found: Vec<(&str, Vec<&str>)> = Vec::new();
    for (stance, measured) in stances {
        for caution in &measured.cautions {
            match found.iter_mut().find(|known| known.0 == caution.text) {
                Some(known) => known.1.push(&stance.name),
                None => found.push((&caution.text, vec![&stance.name])),
            }
        }
    }
    if found.is_empty() {
        let words = "The model shows nothing in particular; look around on site all the same.";
        return DocumentBlock::Paragraph(Paragraph::plain(words));
    }
    let item = |(text, names): (&str, Vec<&str>)| ListItem { lead: Some(names.join("; ").into()), text: text.into() };
    DocumentBlock::List(List { marks: ListMarks::Bullets, items: found.into_iter().map(item).collect() })
}
