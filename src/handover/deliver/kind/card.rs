//! What does a photographer carry to the site? One page: where to stand, how to set the camera, how exactly, how to know
//! that the place is right, and what to mind.

use std::sync::Arc;

use crate::angle::Angle;
use crate::cautions::CautionKind;
use crate::drawing::{Drawing, PlanRequest, PlanView, SiteShapes, plan};
use crate::optics::Orientation;
use crate::place::{CompassError, Crs, Day, Declination, Geographic, declination};
use crate::pose::WorldPoint;
use crate::progress::Progress;
use crate::site::{Finish, Stance, Support};
use crate::still::{
    LabelAnchor, Overlay, OverlayInk, OverlayLabel, OverlayLine, Picture, Scene, StillError, Style, View, render,
};
use crate::survey::{Measured, Survey};
use crate::theme::Theme;
use crate::units::Units;
use crate::verticals::Viewpoint;

use crate::handover::DocumentSettings;
use crate::handover::alignments::{Alignment, alignments};
use crate::handover::document::{
    Document, DocumentBlock, Fact, Illustration, Image, List, ListMarks, PageLayout, Paragraph, Section,
};
use crate::handover::plane_of;

/// Pixels across of the finder's picture.
const PICTURE_PX: u32 = 1100;
/// Blocks farther than this are no help to find a stance.
const FARTHEST_BLOCK_M: f64 = 120.0;
/// How many blocks a stance is found by.
const MOST_BLOCKS: usize = 4;
/// Blocks that a stance is found by stand at least so far apart as seen from it.
const BLOCKS_APART: Angle = Angle::from_radians(0.3);

/// Where the camera is on the Earth.
fn geographic_of(survey: &Survey, measured: &Measured) -> Option<Geographic> {
    plane_of(&survey.model.site)?.geographic_from_world(&measured.standing.pose.eye)
}

/// Why there is no card.
#[derive(Debug, thiserror::Error)]
pub enum CardError {
    /// The magnetic model does not reach that day.
    #[error(transparent)]
    Compass(#[from] CompassError),
    /// The picture cannot be made.
    #[error(transparent)]
    Still(#[from] StillError),
}

/// The field card of a stance: one page with what there is to know on site.
///
/// # Errors
/// The day is out of the magnetic model's reach, or the picture is cancelled.
pub fn field_card(
    survey: &Survey,
    stance: &Stance,
    measured: &Measured,
    settings: DocumentSettings,
    progress: &Progress,
) -> Result<Document, CardError> {
    let DocumentSettings { day, units, look: _ } = settings;
    let position = geographic_of(survey, measured);
    let compass = position.as_ref().map(|position| declination(position, day)).transpose()?;
    let compass = compass.as_ref();
    let pairs = alignments(survey, &measured.standing);
    let shapes = SiteShapes::of(&survey.model);
    let site = &survey.model.site.name;
    let picture = finder(survey, measured, &pairs, progress)?;
    let caption = if pairs.is_empty() {
        "What the finder shows."
    } else {
        "What the finder shows. The letters mark what lines up, below."
    };
    let plan = card_plan(survey, measured, &shapes, units);
    let mut blocks = vec![DocumentBlock::Illustration(Illustration {
        image: Image::Picture(Arc::new(picture)),
        alternative: format!("What the finder shows from {}", stance.name).into(),
        caption: Some(caption.into()),
        id: None,
    })];
    if let Some(note) = &stance.note {
        blocks
            .push(DocumentBlock::Section(Section::new("Note", vec![DocumentBlock::Paragraph(Paragraph::plain(note))])));
    }
    let facts =
        |title: &str, facts: Vec<Fact>| DocumentBlock::Section(Section::new(title, vec![DocumentBlock::Facts(facts)]));
    blocks.push(facts("Stand here", position_facts(survey, measured, position.as_ref(), compass, units)));
    blocks.push(DocumentBlock::Section(Section::new(
        "You are in the right place when",
        vec![alignment_list(survey, &pairs, units)],
    )));
    blocks.push(facts("Set the camera", camera_facts(measured, compass, units)));
    blocks.push(facts("How exactly", tolerance_facts(measured, units)));
    let cautions = cautions(measured);
    if !cautions.is_empty() {
        let list = DocumentBlock::List(List::of(ListMarks::Bullets, cautions));
        blocks.push(DocumentBlock::Section(Section::of_cautions("Cautions", vec![list])));
    }
    blocks.push(DocumentBlock::Illustration(Illustration {
        alternative: plan.words.as_str().into(),
        image: Image::Drawing(Arc::new(plan)),
        caption: None,
        id: None,
    }));
    Ok(Document {
        layout: PageLayout::Pocket,
        name: format!("{}, {site}", stance.name).into(),
        description: "Field card: where to stand, how to set the camera, what to beware of".into(),
        letterhead: None,
        title: stance.name.as_str().into(),
        subtitle: site.into(),
        introduction: None,
        blocks,
        footer: footer(compass, day).into(),
    })
}

fn alignment_list(survey: &Survey, pairs: &[Alignment], units: Units) -> DocumentBlock {
    if pairs.is_empty() {
        return DocumentBlock::Paragraph(Paragraph::plain("No upright edges line up from here; go by the distances."));
    }
    DocumentBlock::List(List::of(ListMarks::Letters, pairs.iter().map(|pair| pair.words(survey, units))))
}

/// What the finder shows, with letters at what lines up.
fn finder(
    survey: &Survey,
    measured: &Measured,
    pairs: &[Alignment],
    progress: &Progress,
) -> Result<Picture, StillError> {
    let standing = &measured.standing;
    let mut camera = standing.camera;
    let tall = standing.orientation == Orientation::Portrait;
    camera.frame = camera.frame.with_width_px(if tall { PICTURE_PX * 3 / 4 } else { PICTURE_PX });
    let view = View { camera, pose: standing.pose, focus: None };
    let style = Style { theme: Theme::Paper, sun: Some(survey.light(measured.sun)), ..Style::default() };
    let mut picture = render(&Scene { model: &survey.model, sight: &survey.sight }, &view, &style, progress)?;
    let viewpoint = Viewpoint::new(&camera, &standing.pose);
    // It is looked at on a telephone.
    let mut overlay = Overlay { large: true, ..Overlay::default() };
    for (pair, letter) in pairs.iter().zip('A'..) {
        let line = &pair.near.line;
        let points_px: Vec<(f64, f64)> = (0..=16)
            .filter_map(|step| viewpoint.pixel_of(&line.at(f64::from(step) / 16.0)).ok())
            .map(|pixel| (pixel.x, pixel.y))
            .collect();
        let Some(&at_px) = points_px.get(points_px.len() * 2 / 3) else { continue };
        overlay.lines.push(OverlayLine { points_px, ink: OverlayInk::Horizon, dotted: true });
        let (text, ink) = (letter.to_string(), OverlayInk::Horizon);
        overlay.labels.push(OverlayLabel { at_px, text, ink, anchor: LabelAnchor::Right });
    }
    // A letter whose edge lies outside the frame finds no room, and its words stand below all the same.
    let _ = picture.draw(&overlay, Theme::Paper);
    Ok(picture)
}

/// The stance, its subject and what stands between.
fn card_plan(survey: &Survey, measured: &Measured, shapes: &SiteShapes, units: Units) -> Drawing {
    let eye = measured.standing.pose.eye;
    let mut places = vec![(eye.x, eye.y)];
    if let Ok(subject) = &survey.subject {
        for &block in &subject.blocks {
            if let Some(shape) = shapes.blocks.get(block) {
                places.extend([shape.bounds.0, shape.bounds.1]);
            }
        }
        let reach_m = 0.25 * (subject.middle - eye).xy().norm();
        places.extend([(eye.x - reach_m, eye.y - reach_m), (eye.x + reach_m, eye.y + reach_m)]);
    }
    let view = PlanView::around(places, 420.0, 340.0);
    plan(&PlanRequest { survey, shapes, measured: Some(measured), pins: &[], walks: &[], view, units, titled: true })
}

/// A true bearing, and what a compass shows.
fn bearing(true_bearing: Angle, compass: Option<&Declination>) -> String {
    let whole = |angle: Angle| angle.compass_degrees().round().rem_euclid(360.0);
    match compass {
        Some(compass) => {
            format!("{:.0}° true, {:.0}° by compass", whole(true_bearing), whole(compass.magnetic(true_bearing)))
        }
        None => format!("{:.0}° true", whole(true_bearing)),
    }
}

fn position_facts(
    survey: &Survey,
    measured: &Measured,
    place: Option<&Geographic>,
    compass: Option<&Declination>,
    units: Units,
) -> Vec<Fact> {
    let standing = &measured.standing;
    let eye = standing.pose.eye;
    let mut facts = Vec::new();
    match place {
        Some(place) => {
            let (latitude_deg, longitude_deg) = (place.latitude().degrees(), place.longitude().degrees());
            let sides = (if latitude_deg < 0.0 { "S" } else { "N" }, if longitude_deg < 0.0 { "W" } else { "E" });
            let signed = format!("{latitude_deg:.6}, {longitude_deg:.6} (WGS 84)");
            facts.push(Fact::noted(
                "Map",
                format!("{:.6}° {}, {:.6}° {}", latitude_deg.abs(), sides.0, longitude_deg.abs(), sides.1),
                signed,
            ));
            if let Some((zone, (east_m, north_m))) = utm(place) {
                facts.push(Fact::noted("UTM", format!("{zone} {east_m:.0} E {north_m:.0} N"), "metres, WGS 84"));
            }
        }
        None => facts.push(Fact::noted(
            "On the site",
            format!("{} east, {} north", units.length(eye.x, 1), units.length(eye.y, 1)),
            "of the site's own origin; the site has no place on the map",
        )),
    }
    facts.push(footing_fact(measured, units));
    facts.extend(from_blocks(survey, &eye, compass, units));
    facts
}

/// The zone and the metres east and north of a place in UTM, between 80° south and 84° north.
///
/// # Source
/// The zones are 6° wide, numbered from 180° west; EPSG codes 32601 to 32660 north of the equator, 32701 to 32760 south
/// of it (EPSG dataset). The wider zones about Norway and Svalbard are left out.
fn utm(place: &Geographic) -> Option<(String, (f64, f64))> {
    let (latitude_deg, longitude_deg) = (place.latitude().degrees(), place.longitude().degrees());
    if !(-80.0..=84.0).contains(&latitude_deg) {
        return None;
    }
    let zone = (((longitude_deg + 180.0) / 6.0).floor() as i64).rem_euclid(60) + 1;
    let (first, side) = if latitude_deg < 0.0 { (32_700, "south") } else { (32_600, "north") };
    let code = u16::try_from(first + zone).ok()?;
    let map = Crs::from_epsg(code).ok()?.map_from_geographic(place)?;
    Some((format!("{zone} {side}"), map))
}

fn footing_fact(measured: &Measured, units: Units) -> Fact {
    let standing = &measured.standing;
    match &standing.footing {
        Some(footing) => {
            let what = match (footing.support, &footing.name) {
                (Support::Deck(_), Some(name)) => format!("the {name}"),
                (Support::Water, _) => "the water".into(),
                (_, Some(name)) => format!("the ground, {name}"),
                _ => "the ground".into(),
            };
            Fact::noted("Feet on", what, format!("at {}", units.length(footing.height_m + 0.0, 2)))
        }
        None => Fact::noted(
            "Camera at",
            units.length(standing.pose.eye.z, 2),
            "above the site's zero; nothing to stand on below",
        ),
    }
}

/// Distance and bearing of the nearest corner or face of named blocks around a place: the subject first, then the nearest
/// that stand in other directions.
fn from_blocks(survey: &Survey, eye: &WorldPoint, compass: Option<&Declination>, units: Units) -> Vec<Fact> {
    let model = &survey.model;
    let body = survey.subject.as_ref().ok().map(|subject| subject.body);
    let mut marks: Vec<(f64, usize, Angle, String)> = Vec::new();
    for (index, (block, solid)) in model.site.blocks.iter().zip(&model.solids).enumerate() {
        let Some((distance_m, towards, which)) = nearest_edge(solid, eye) else { continue };
        let helpful = block.finish != Finish::Leaf && distance_m > 0.3 && distance_m < FARTHEST_BLOCK_M;
        if Some(index) == body || helpful {
            marks.push((distance_m, index, towards, which));
        }
    }
    marks.sort_by(|a, b| (Some(a.1) != body).cmp(&(Some(b.1) != body)).then(a.0.total_cmp(&b.0)).then(a.1.cmp(&b.1)));
    let mut kept: Vec<(f64, usize, Angle, String)> = Vec::new();
    for mark in marks {
        let apart = kept.iter().all(|known| (known.2 - mark.2).wrapped().abs() > BLOCKS_APART);
        if (kept.is_empty() || apart) && kept.len() < MOST_BLOCKS {
            kept.push(mark);
        }
    }
    kept.into_iter()
        .map(|(distance_m, index, towards, which)| {
            let name = &model.site.blocks[index].name;
            Fact::noted(
                name.clone(),
                format!("{}, its {which}", units.drawn(distance_m)),
                format!("it bears {}", bearing(towards, compass)),
            )
        })
        .collect()
}

/// The edge of a block that a tape is held to: the near face of a round one, else the nearest corner, named by the side
/// of the block that it is on. Distance in plan and true bearing.
fn nearest_edge(solid: &crate::site::Solid, eye: &WorldPoint) -> Option<(f64, Angle, String)> {
    if let Some(round) = solid.rounds.first() {
        let (east, north) = (round.axis.0 - eye.x, round.axis.1 - eye.y);
        let distance_m = east.hypot(north) - round.base_radius_m;
        return (distance_m > 0.0).then(|| (distance_m, Angle::bearing_of(east, north), "near face".into()));
    }
    let (low, high) = solid.bounds();
    let middle = nalgebra::center(&low, &high);
    let corners = solid.edges.iter().filter(|edge| edge.plumb).map(|edge| solid.vertices[edge.ends[0] as usize]);
    let corner = corners.min_by(|a, b| {
        let distance = |corner: &WorldPoint| (corner - eye).xy().norm();
        distance(a).total_cmp(&distance(b))
    })?;
    let (east, north) = (corner.x - eye.x, corner.y - eye.y);
    let side = Angle::bearing_of(corner.x - middle.x, corner.y - middle.y).compass_degrees();
    let names = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
    let name = names[((side / 45.0).round() as usize) % 8];
    Some((east.hypot(north), Angle::bearing_of(east, north), format!("{name} corner")))
}

fn camera_facts(measured: &Measured, compass: Option<&Declination>, units: Units) -> Vec<Fact> {
    let standing = &measured.standing;
    let (attitude, camera) = (&standing.pose.attitude, &standing.camera);
    let tenths = |angle: Angle| (angle.compass_degrees() * 10.0).round().rem_euclid(3600.0) / 10.0;
    let mut facts = Vec::new();
    match compass {
        Some(compass) => {
            let east_deg = compass.east.degrees();
            let side = if east_deg < 0.0 { "west" } else { "east" };
            let weak = if compass.weak { "; the needle is weak here: do not trust it" } else { "" };
            facts.push(Fact::noted(
                "Bearing",
                format!(
                    "{:.1}° true, {:.1}° by compass",
                    tenths(attitude.heading),
                    tenths(compass.magnetic(attitude.heading))
                ),
                format!(
                    "declination {:.1}° {side} ± {:.1}° on {}{weak}",
                    east_deg.abs(),
                    compass.uncertainty.degrees(),
                    compass.day
                ),
            ));
        }
        None => facts.push(Fact::new("Bearing", format!("{:.1}° true", tenths(attitude.heading)))),
    }
    let height = standing.height_m().map_or_else(
        || Fact::noted("Camera", format!("{} up", units.length(standing.pose.eye.z, 2)), "above the site's zero"),
        |height_m| Fact::new("Camera", format!("{} above the feet", units.length(height_m, 2))),
    );
    facts.push(height);
    facts.push(Fact::new("Pitch", tilt(attitude.pitch, "up", "down", "level")));
    facts.push(Fact::new("Roll", tilt(attitude.roll, "clockwise", "anticlockwise", "level")));
    let orientation = if standing.orientation == Orientation::Portrait { "portrait" } else { "landscape" };
    facts.push(Fact::new("Body", format!("{}, {orientation}", standing.format.words())));
    facts.push(Fact::noted("Lens", format!("{:.1} mm", camera.focal_mm), format!("with the {}", standing.lens.name)));
    if camera.rise_mm != 0.0 || camera.shift_mm != 0.0 {
        let mut moves = Vec::new();
        if camera.rise_mm != 0.0 {
            moves.push(format!("{:.1} mm {}", camera.rise_mm.abs(), if camera.rise_mm > 0.0 { "up" } else { "down" }));
        }
        if camera.shift_mm != 0.0 {
            let way = if camera.shift_mm > 0.0 { "right" } else { "left" };
            moves.push(format!("{:.1} mm {way}", camera.shift_mm.abs()));
        }
        facts.push(Fact::new("Rise, shift", moves.join(", ")));
    }
    let sharp = &measured.account.depth_of_field;
    let reach = |length_m: f64, digits: usize| {
        if length_m.is_finite() { units.length(length_m, digits) } else { "infinity".to_owned() }
    };
    facts.push(Fact::noted(
        "Aperture, focus",
        format!("f/{}, {}", standing.f_number, reach(standing.focus_m, 1)),
        format!("sharp from {} to {}", reach(sharp.near_m, 1), reach(sharp.far_m, 0)),
    ));
    facts
}

fn tilt(angle: Angle, more: &str, less: &str, none: &str) -> String {
    let degrees = (angle.degrees() * 10.0).round() / 10.0;
    if degrees == 0.0 {
        return none.into();
    }
    format!("{:.1}° {}", degrees.abs(), if degrees > 0.0 { more } else { less })
}

fn tolerance_facts(measured: &Measured, units: Units) -> Vec<Fact> {
    let Some(tolerance) = &measured.tolerance else {
        return vec![Fact::new("Tolerance", "cannot be measured without a subject in front")];
    };
    let length = |length_m: Option<f64>| length_m.map_or_else(|| "any".to_owned(), |length_m| units.by_tape(length_m));
    let angle =
        |angle: Option<Angle>| angle.map_or_else(|| "any".to_owned(), |angle| format!("± {:.2}°", angle.degrees()));
    vec![
        Fact::new("Left, right", format!("{}, {}", length(tolerance.left_m), length(tolerance.right_m))),
        Fact::new("Nearer, farther", format!("{}, {}", length(tolerance.forward_m), length(tolerance.back_m))),
        Fact::new("Higher, lower", format!("{}, {}", length(tolerance.up_m), length(tolerance.down_m))),
        Fact::new("Pitch, heading", format!("{}, {}", angle(tolerance.pitch), angle(tolerance.heading))),
        Fact::noted(
            "Roll",
            angle(tolerance.roll),
            "beyond these the verticals change by more than was allowed, or the subject is cut",
        ),
    ]
}

/// Permissions and closed ground first, then the rest as they come.
fn cautions(measured: &Measured) -> Vec<String> {
    let first = |kind: CautionKind| matches!(kind, CautionKind::Closed | CautionKind::Ask);
    let mut cautions: Vec<_> = measured.cautions.iter().collect();
    cautions.sort_by_key(|caution| !first(caution.kind));
    cautions.into_iter().map(|caution| caution.text.clone()).collect()
}

fn footer(compass: Option<&Declination>, day: Day) -> String {
    let compass = compass.map_or_else(
        || format!("Made for {day}; without a place on the map there is no compass bearing."),
        |compass| {
            format!(
                "Compass by the World Magnetic Model {} for {day}; iron, cars and cables nearby turn the needle further.",
                compass.model_year
            )
        },
    );
    format!("{compass} The card advises on geometry only; local rules and people licensed for the work prevail.")
}
