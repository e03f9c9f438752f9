//! How is the answer of a search told: in words, in one table of many, as JSON and as CSV?

use serde::Serialize;

use crate::files::text_cell;
use crate::search::{
    ANY_SIDE_DEG, Answer, Change, Criteria, LensSet, Opening, Ranked, RequirementCount, Search, WithObstacles,
};
use crate::site::Access;
use crate::survey::Survey;
use crate::units::Units;
use crate::wording::{self, grouped, percent_of};

use super::super::show::{angle, dash, page_width, percent};
use super::super::table::TextTable;

/// Rows of the front that are printed.
const FRONT_ROWS: usize = 8;

/// What is printed for programs.
#[derive(Serialize)]
pub(super) struct SearchReport<'a> {
    pub(super) site: &'a str,
    pub(super) subject: String,
    pub(super) criteria: &'a Criteria,
    pub(super) places: u64,
    pub(super) looked: u64,
    pub(super) closed: u64,
    pub(super) water: u64,
    pub(super) occupied: u64,
    pub(super) too_near: u64,
    pub(super) too_far: u64,
    pub(super) candidates: u64,
    pub(super) met: u64,
    pub(super) each_requirement: &'a [RequirementCount],
    openings: Vec<OpeningReport<'a>>,
    pub(super) ranked: &'a [Ranked],
    pub(super) front: &'a [Ranked],
    pub(super) front_size: usize,
    pub(super) packing: &'a [LensSet],
    pub(super) remains: Option<&'a WithObstacles>,
}

/// A change that opens standpoints, with the options to type for it.
#[derive(Serialize)]
struct OpeningReport<'a> {
    #[serde(flatten)]
    opening: &'a Opening,
    options: String,
}

impl<'a> SearchReport<'a> {
    pub(super) fn of(search: &'a Search<'_>, answer: &'a Answer, remains: Option<&'a WithObstacles>) -> Self {
        let (criteria, site) = (search.criteria(), &search.survey().model.site);
        let opened = |opening: &'a Opening| OpeningReport { opening, options: options(opening, criteria) };
        Self {
            site: &site.name,
            subject: subject_words(search.survey()),
            criteria,
            places: answer.places,
            looked: answer.looked,
            closed: answer.out[0],
            water: answer.out[1],
            occupied: answer.out[2],
            too_near: answer.out[3],
            too_far: answer.out[4],
            candidates: answer.candidates,
            met: answer.met,
            each_requirement: &answer.criteria,
            openings: answer.openings.iter().map(opened).collect(),
            ranked: &answer.ranked,
            front: &answer.front,
            front_size: answer.front_size,
            packing: &answer.packing,
            remains,
        }
    }
}

/// What the picture is about, by the names of its blocks.
pub(super) fn subject_words(survey: &Survey) -> String {
    let blocks = survey.model.site.blocks.iter().filter(|block| block.subject);
    blocks.map(|block| block.name.as_str()).collect::<Vec<_>>().join(", ")
}

/// A count in groups of thousands, between which no line ends.
fn count(number: u64) -> String {
    grouped(number).replace('\u{2009}', "\u{a0}")
}

/// What was looked at, and what became of the other places.
fn looked(report: &SearchReport<'_>) -> String {
    let criteria = report.criteria;
    let several = |number: usize, one: &str, many: &str| format!("{number} {}", if number == 1 { one } else { many });
    let mut text = format!(
        "{}: {} standpoints, {} of them free to stand on, {} stances tried ({}; {}; aims {}).",
        report.site,
        count(report.places),
        count(report.looked),
        count(report.candidates),
        several(criteria.heights_m.len(), "height", "heights"),
        criteria.lenses.join(", "),
        criteria.aims.iter().map(|aim| aim.key()).collect::<Vec<_>>().join(", ")
    );
    let others = [
        (report.closed, "closed or with permission needed"),
        (report.water, "under water"),
        (report.occupied, "occupied by blocks"),
        (report.too_near, "too near"),
        (report.too_far, "too far"),
    ];
    let others: Vec<String> = others
        .iter()
        .filter(|(number, _)| *number > 0)
        .map(|(number, why)| format!("{} {why}", count(*number)))
        .collect();
    if !others.is_empty() {
        text.push_str(&format!("\nNot tried: {}.", others.join(", ")));
    }
    text
}

/// Which requirement rules out how much.
fn each_requirement(report: &SearchReport<'_>) -> String {
    let mut rows = TextTable::new(&["Requirement", "excludes alone", "standpoints without it"]);
    for requirement in report.each_requirement {
        rows.row([
            requirement.requirement_words.clone(),
            percent_of(report.looked - requirement.met_alone.min(report.looked), report.looked),
            count(requirement.met_without),
        ]);
    }
    rows.fitted(page_width())
}

pub(super) fn nothing(report: &SearchReport<'_>, units: Units) -> String {
    if report.looked == 0 {
        let hint = if report.closed > 0 { "; --with-permission includes ground that needs permission" } else { "" };
        return format!("there is nowhere to stand{hint}.\n{}", looked(report));
    }
    let mut text =
        format!("no standpoint meets every requirement.\n{}\n\n{}", looked(report), each_requirement(report));
    for requirement in report.each_requirement.iter().filter(|requirement| requirement.met_alone == 0) {
        text.push_str(&format!("\nNo standpoint has {}, whatever else is required.", requirement.requirement_words));
    }
    if report.openings.is_empty() {
        text.push_str("\nNo single change and no pair of changes opens a standpoint.");
        return text;
    }
    let mut rows = TextTable::new(&["What would open standpoints", "opens", "type"]);
    for opening in &report.openings {
        let (words, opens) = opening_words(opening.opening, units);
        rows.row([words, opens, opening.options.clone()]);
    }
    text.push_str("\n\n");
    text.push_str(&rows.fitted(page_width()));
    text
}

/// What is changed, and how many standpoints it opens.
fn opening_words(opening: &Opening, units: Units) -> (String, String) {
    let words: Vec<String> = opening.changes.iter().map(|change| change.words(units)).collect();
    let about = if opening.exact { "" } else { "about " };
    (words.join(" and "), format!("{about}{}", count(opening.standpoints)))
}

/// The options to type for the changed requirements; those that stay are typed as before.
fn options(opening: &Opening, criteria: &Criteria) -> String {
    let changed = opening.changed(criteria);
    let lenses = || changed.lenses.iter().map(|name| format!("--lens \"{name}\"")).collect::<Vec<_>>().join(" ");
    let several = |words: Vec<String>| words.join(",");
    let option = |change: &Change| match change {
        Change::Seen(share) => format!("--seen {share}"),
        Change::AllowCut => "--allow-cut".into(),
        Change::Filled(share) => format!("--filled {share}"),
        Change::FrontTo(_) | Change::FrontFrom(_) => {
            let (from_deg, to_deg) = changed.front_deg.unwrap_or(ANY_SIDE_DEG);
            format!("--front {from_deg},{to_deg}")
        }
        Change::Light(minutes) if *minutes < 1.0 => "leave out --lit".into(),
        Change::Light(minutes) => format!("--lit {minutes}"),
        Change::Lean(degrees) => format!("--lean {degrees}"),
        Change::Detail(px_per_m) => format!("--detail {px_per_m}"),
        Change::DropInside => "leave out --inside".into(),
        Change::DropOutside => "leave out --outside".into(),
        Change::WithPermission => "--with-permission".into(),
        Change::Lens(_) => lenses(),
        Change::Aim(_) => {
            format!("--aim {}", several(changed.aims.iter().map(|aim| aim.key().to_owned()).collect()))
        }
        Change::Height(_) => format!("--height {}", several(changed.heights_m.iter().map(f64::to_string).collect())),
    };
    let mut all: Vec<String> = opening.changes.iter().map(option).collect();
    all.dedup();
    all.join(" ")
}

/// What several searches found, in one table.
pub(super) fn one_table(reports: &[SearchReport<'_>], units: Units) -> String {
    let headings = [
        "Site",
        "subject",
        "standpoints",
        "the best",
        "camera height",
        "lens and aim",
        "largest lean",
        "lowest detail",
        "final picture",
        "fills",
        "seen",
        "walk, climb",
    ];
    let mut rows = TextTable::new(&headings);
    for report in reports {
        let head = [report.site.to_owned(), report.subject.clone(), count(report.met)];
        for found in report.ranked {
            let figures = &found.figures;
            let cells = [
                found.place.words(units),
                units.length(found.stance.height_m, 2),
                lens_words(found),
                angle(figures.largest_lean_deg),
                figures.detail_px_per_m.map_or_else(dash, |detail| units.detail(detail)),
                final_words(found),
                percent(figures.fullness),
                percent(figures.visible_share),
                units.length(figures.effort_m, 0),
            ];
            rows.row(head.clone().into_iter().chain(cells));
        }
        if report.ranked.is_empty() {
            let opening = report.openings.first().map_or_else(dash, |opening| {
                let (words, opens) = opening_words(opening.opening, units);
                format!("{words} opens {opens}")
            });
            let rest = std::iter::once(opening).chain((0..8).map(|_| dash()));
            rows.row(head.into_iter().chain(rest));
        }
    }
    rows.fitted(page_width())
}

/// How far one may be off to a side; a dash where nobody asked.
fn tolerance_words(found: &Ranked, units: Units) -> String {
    let Some(tolerance) = found.tolerance_m else { return dash() };
    tolerance.sideways_m.map_or_else(|| format!("over {}", units.length(50.0, 0)), |metres| units.length(metres, 1))
}

/// The pixels of the picture that is handed over.
fn final_words(found: &Ranked) -> String {
    let megapixels = found.final_picture.as_ref().and_then(|kept| kept.megapixels);
    megapixels.map_or_else(dash, |megapixels| format!("{megapixels:.1} MP"))
}

/// The focal length that is set, and the aim.
fn lens_words(found: &Ranked) -> String {
    format!("{:.0} mm, {}", found.figures.focal_mm, found.stance.aim.key())
}

fn listed(ranked: &[Ranked], units: Units) -> String {
    let headings = [
        "Standpoint",
        "camera height",
        "lens and aim",
        "pitch",
        "largest lean",
        "convergence",
        "lowest detail",
        "final picture",
        "fills",
        "seen",
        "walk, climb",
        "tolerance",
    ];
    let mut rows = TextTable::new(&headings).with_notes("Why");
    let digits = ranked.iter().map(|found| found.number.to_string().len()).max().unwrap_or(0);
    for found in ranked {
        let figures = &found.figures;
        let access = if found.access == Access::Ask { format!(" ({})", found.access.words()) } else { String::new() };
        let figures = [
            format!("{:>digits$}. {}{access}", found.number, found.place.words(units)),
            units.length(found.stance.height_m, 2),
            lens_words(found),
            angle(Some(figures.pitch_deg)),
            angle(figures.largest_lean_deg),
            angle(figures.convergence_deg),
            figures.detail_px_per_m.map_or_else(dash, |detail| units.detail(detail)),
            final_words(found),
            percent(figures.fullness),
            percent(figures.visible_share),
            units.length(figures.effort_m, 0),
            tolerance_words(found, units),
        ];
        rows.noted(figures, found.reason.clone());
    }
    rows.fitted(page_width())
}

/// From where the walk is counted.
fn walk_words(criteria: &Criteria, survey: &Survey, units: Units) -> String {
    let Some(from) = criteria.from else { return "No starting point is set, so walking is not counted.".into() };
    match survey.model.site.stances.first().filter(|stance| stance.at == from) {
        Some(stance) => format!("The walk is counted from '{}'.", stance.name),
        None => {
            let way = |metres: f64, more: &str, less: &str| {
                format!("{} {}", units.length(metres.abs(), 0), if metres < 0.0 { less } else { more })
            };
            format!("The walk is counted from {}, {}.", way(from.0, "east", "west"), way(from.1, "north", "south"))
        }
    }
}

pub(super) fn summary(report: &SearchReport<'_>, survey: &Survey, units: Units) -> String {
    let mut text = format!(
        "{}\n\n{}\n\n{} standpoints meet every requirement. The best that differ in kind, at least {} apart. {}\n\n{}\n",
        looked(report),
        each_requirement(report),
        count(report.met),
        units.length(report.criteria.difference_m, 0),
        walk_words(report.criteria, survey, units),
        listed(report.ranked, units)
    );
    let step = report.front.len().div_ceil(FRONT_ROWS).max(1);
    let some: Vec<Ranked> = report.front.iter().step_by(step).cloned().collect();
    text.push_str(&format!(
        "\nTrade-offs: {} of the {} stances that no other beats in lean, detail and walk together:\n\n{}\n",
        some.len(),
        report.front_size,
        listed(&some, units)
    ));
    if !report.packing.is_empty() {
        text.push_str("\nWhat to pack:\n");
        for packing in report.packing {
            text.push_str(&format!(
                "  {}: {} standpoints, {} of those of the whole bag\n",
                packing.lenses.join(" and "),
                count(packing.places),
                wording::percent(packing.share)
            ));
        }
    }
    if let Some(remains) = report.remains {
        let numbers: Vec<String> = remains.listed.iter().map(usize::to_string).collect();
        let listed = if numbers.is_empty() {
            "none of those listed".into()
        } else {
            format!("those listed as {}", numbers.join(", "))
        };
        text.push_str(&format!(
            "\nWith '{}' in the way {} of {} standpoints remain, {listed}.\n",
            remains.with.join("' and '"),
            count(remains.met),
            count(remains.met_without)
        ));
    }
    text
}

/// The listed places, one a line.
pub(super) fn csv(reports: &[SearchReport<'_>]) -> String {
    let mut text = "number,east_m,north_m,height_m,on,access,format,lens,aim,focal_mm,rise_mm,heading_deg,pitch_deg,\
                    distance_m,worst_lean_deg,convergence_deg,detail_px_per_m,visible_share,in_frame_share,effort_m,\
                    slack_sideways_m,place,reason,filled_share,final_megapixels,front_deg,site,subject,light_minutes\n"
        .to_owned();
    let quoted = |text: &str| format!("\"{}\"", text_cell(text).replace('"', "\"\""));
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for (report, found) in reports.iter().flat_map(|report| report.ranked.iter().map(move |found| (report, found))) {
        let (stance, figures) = (&found.stance, &found.figures);
        let fields = [
            found.number.to_string(),
            stance.at.0.to_string(),
            stance.at.1.to_string(),
            stance.height_m.to_string(),
            quoted(found.on.as_deref().unwrap_or("ground")),
            format!("{:?}", found.access).to_lowercase(),
            quoted(&stance.format),
            quoted(&stance.lens),
            stance.aim.key().into(),
            figures.focal_mm.to_string(),
            figures.rise_mm.to_string(),
            figures.heading_deg.to_string(),
            figures.pitch_deg.to_string(),
            number(figures.distance_m),
            number(figures.largest_lean_deg),
            number(figures.convergence_deg),
            number(figures.detail_px_per_m),
            number(figures.visible_share),
            number(figures.in_frame_share),
            figures.effort_m.to_string(),
            number(found.tolerance_m.and_then(|tolerance| tolerance.sideways_m)),
            quoted(&found.place.words(Units::M)),
            quoted(&found.reason),
            number(figures.fullness),
            number(found.final_picture.as_ref().and_then(|kept| kept.megapixels)),
            number(figures.front_deg),
            quoted(report.site),
            quoted(&report.subject),
            number(figures.light_minutes),
        ];
        text.push_str(&fields.join(","));
        text.push('\n');
    }
    text
}
