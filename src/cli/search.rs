//! `plumbsight search`: where is the best place of all, and what would another cost?

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde::Serialize;

use crate::angle::Angle;
use crate::drawing::{MapRequest, MapSheet, Pin, SiteShapes};
use crate::files::{
    FileError, FileKind, check_folder_of, is_there, read_bytes, text_cell, write_together, write_whole,
};
use crate::optics::{Orientation, Proportion};
use crate::search::{
    Answer, Criteria, CriteriaError, ExportError, LensSet, MapFigure, ObstaclesError, PIECE_ENDING, Piece, Rank,
    Ranked, RequirementCount, Rungs, Search, SightMethod, WithObstacles, esri_grid, geotiff, projection_beside,
    with_obstacles,
};
use crate::site::{Access, Aim, PlanPoint};
use crate::survey::Survey;
use crate::theme::Theme;
use crate::units::Units;
use crate::wording::{self, grouped, percent_of};

use super::request::{aim, numbers, orientation, pair, survey, triple};
use super::show::{angle, dash, page_width, percent, print, tell, watched};
use super::table::TextTable;
use super::{Ending, Outcome};

/// Rows of the front that are printed.
const FRONT_ROWS: usize = 8;

/// What to search for.
#[derive(Args, Debug)]
pub(super) struct SearchArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The figure that ranks standpoints
    #[arg(long, value_enum, default_value_t)]
    rank: RankOption,
    /// How many clearly different standpoints to list
    #[arg(long, value_name = "N", default_value_t = 5)]
    list: usize,
    /// The least distance between listed standpoints, in metres
    #[arg(long, value_name = "M", default_value_t = 15.0)]
    apart: f64,
    /// How many points of the subject's surface are tested for being seen
    #[arg(long, value_name = "N", default_value_t = crate::outline::SIGHT_SAMPLES)]
    samples: usize,
    /// Trace every line of sight by itself: slow, with the same result
    #[arg(long)]
    rays: bool,
    /// Write a map of this figure to --out
    #[arg(long, value_name = "FIGURE", value_parser = figure, requires = "out")]
    map: Option<MapFigure>,
    /// The map's file: .png (a picture with its legend), .asc (Esri ASCII grid) or .tif (GeoTIFF)
    #[arg(short, long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Search only piece I of N of the standpoints, and write the result to --out (.piece) for --merge
    #[arg(long, value_name = "I/N", value_parser = piece, requires = "out", conflicts_with_all = ["map", "json", "csv", "merge", "with"])]
    tile: Option<(usize, usize)>,
    /// Merge pieces that were searched with the same requirements; repeat for each piece, in any order
    #[arg(long, value_name = "FILE", conflicts_with = "with")]
    merge: Vec<PathBuf>,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
    /// The unit of lengths
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Print the result as JSON
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print the listed standpoints as comma-separated values
    #[arg(long)]
    csv: bool,
    #[command(flatten)]
    stand: StandOptions,
    #[command(flatten)]
    picture: PictureOptions,
}

/// Where one may stand, and how high the camera is.
#[derive(Args, Debug)]
#[command(next_help_heading = "Standpoints")]
struct StandOptions {
    /// The distance from one standpoint to the next, in metres
    #[arg(long, value_name = "M", default_value_t = 2.0)]
    spacing: f64,
    /// The ground to search: west, south, east and north, in metres; everything within --distance unless given
    #[arg(long, value_name = "W,S,E,N", value_parser = area, allow_hyphen_values = true)]
    area: Option<Area>,
    /// Camera heights above the standpoint, in metres
    #[arg(long, value_name = "M,…", value_delimiter = ',', default_value = "1.6")]
    height: Vec<f64>,
    /// The nearest and farthest distance from the subject, in metres
    #[arg(long, value_name = "NEAR,FAR", value_parser = pair, default_value = "1,250")]
    distance: (f64, f64),
    /// Include ground and decks that need permission
    #[arg(long, alias = "ask")]
    with_permission: bool,
    /// Where walking starts: metres east and north; the first saved stance unless given
    #[arg(long, value_name = "E,N", value_parser = pair, allow_hyphen_values = true)]
    from: Option<PlanPoint>,
    /// Also find the lowest camera that works: the lowest and highest height to try, and the step, in metres
    #[arg(long, value_name = "LOW,HIGH,STEP", value_parser = triple)]
    lowest: Option<(f64, f64, f64)>,
    /// Remove a block; may be repeated
    #[arg(long, value_name = "BLOCK")]
    without: Vec<String>,
    /// Show how many standpoints found without this block remain when it stands in the way; may be repeated
    #[arg(long, value_name = "BLOCK")]
    with: Vec<String>,
}

/// The camera, and what the picture must show.
#[derive(Args, Debug)]
#[command(next_help_heading = "Picture")]
struct PictureOptions {
    /// The format by name
    #[arg(long, value_name = "FORMAT", default_value = "36x24")]
    format: String,
    /// A lens in the bag, by name; may be repeated (14 mm, 24-70 mm and 70-200 mm unless given)
    #[arg(long, value_name = "LENS")]
    lens: Vec<String>,
    /// Hold the camera landscape or portrait; whichever suits the subject unless given
    #[arg(long, value_name = "ORIENTATION", value_parser = orientation)]
    orientation: Option<Orientation>,
    /// Crop the picture to this aspect, width:height
    #[arg(long, alias = "crop", value_name = "W:H")]
    aspect: Option<Proportion>,
    /// How to aim: fill, level, rise, least-tilt, correct; several with commas between
    #[arg(long, value_name = "AIM,…", value_parser = aim, value_delimiter = ',', default_value = "fill")]
    aim: Vec<Aim>,
    /// Allow the frame to cut the subject
    #[arg(long, alias = "may-cut")]
    allow_cut: bool,
    /// The least share of the subject that is seen, 0 to 1
    #[arg(long, value_name = "SHARE", default_value_t = 0.9)]
    seen: f64,
    /// The largest lean of the subject, in degrees
    #[arg(long, value_name = "DEG")]
    lean: Option<f64>,
    /// The least detail at the worst point, in pixels per metre
    #[arg(long, value_name = "PX")]
    detail: Option<f64>,
    /// A block that must be in the frame; may be repeated
    #[arg(long, value_name = "BLOCK")]
    inside: Vec<String>,
    /// A block that must stay out of the frame; may be repeated
    #[arg(long, value_name = "BLOCK")]
    outside: Vec<String>,
}

/// West and south, east and north.
type Area = [PlanPoint; 2];

fn area(text: &str) -> Result<Area, String> {
    match numbers(text)?[..] {
        [west, south, east, north] => Ok([(west, south), (east, north)]),
        _ => Err("write four numbers with commas between: west,south,east,north".into()),
    }
}

fn figure(text: &str) -> Result<MapFigure, String> {
    MapFigure::ALL.into_iter().find(|figure| figure.name() == text).ok_or_else(|| {
        let names: Vec<&str> = MapFigure::ALL.into_iter().map(MapFigure::name).collect();
        format!("write one of {}", names.join(", "))
    })
}

fn piece(text: &str) -> Result<(usize, usize), String> {
    let wrong = || format!("'{text}' is not a piece; write piece/pieces, such as 3/8");
    let (piece, pieces) = text.split_once('/').ok_or_else(wrong)?;
    let (piece, pieces) = (piece.trim().parse().map_err(|_| wrong())?, pieces.trim().parse().map_err(|_| wrong())?);
    if (1..=pieces).contains(&piece) { Ok((piece, pieces)) } else { Err(wrong()) }
}

/// By what to compare.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum RankOption {
    /// The least lean.
    #[default]
    Lean,
    /// The most detail.
    Detail,
    /// The least walking and climbing.
    #[value(alias = "effort")]
    Walk,
}

impl SearchArguments {
    fn criteria(&self, survey: &Survey) -> Criteria {
        let (stand, picture) = (&self.stand, &self.picture);
        let usual = Criteria::default();
        let mut without = stand.without.clone();
        without.extend(stand.with.iter().filter(|name| !stand.without.contains(name)).cloned());
        Criteria {
            spacing_m: stand.spacing,
            area: stand.area,
            heights_m: stand.height.clone(),
            format: picture.format.clone(),
            lenses: if picture.lens.is_empty() { usual.lenses } else { picture.lens.clone() },
            orientation: picture.orientation,
            crop: picture.aspect,
            aims: picture.aim.clone(),
            whole: !picture.allow_cut,
            seen_share: picture.seen,
            largest_lean_deg: picture.lean,
            detail_px_per_m: picture.detail,
            distance_m: stand.distance,
            access: if stand.with_permission { Access::Ask } else { Access::Open },
            inside: picture.inside.clone(),
            outside: picture.outside.clone(),
            rank: match self.rank {
                RankOption::Lean => Rank::Lean,
                RankOption::Detail => Rank::Detail,
                RankOption::Walk => Rank::Effort,
            },
            places: self.list,
            difference_m: self.apart,
            from: stand.from.or_else(|| survey.model.site.stances.first().map(|stance| stance.at)),
            lowest: stand.lowest.map(|(from_m, to_m, step_m)| Rungs { from_m, to_m, step_m }),
            without,
            samples: self.samples,
            tolerance_deg: usual.tolerance_deg,
        }
    }
}

impl From<CriteriaError> for Ending {
    fn from(error: CriteriaError) -> Self {
        match error {
            CriteriaError::Subject(_) => Self::NoAnswer(error.to_string()),
            _ => Self::bad(error),
        }
    }
}

impl From<ExportError> for Ending {
    fn from(error: ExportError) -> Self {
        Self::bad(error)
    }
}

/// What is printed for programs.
#[derive(Serialize)]
struct SearchReport<'a> {
    site: &'a str,
    criteria: &'a Criteria,
    places: u64,
    looked: u64,
    closed: u64,
    water: u64,
    occupied: u64,
    too_near: u64,
    too_far: u64,
    candidates: u64,
    met: u64,
    each_requirement: &'a [RequirementCount],
    ranked: &'a [Ranked],
    front: &'a [Ranked],
    front_size: usize,
    packing: &'a [LensSet],
    remains: Option<&'a WithObstacles>,
}

pub(super) fn run(arguments: &SearchArguments) -> Outcome {
    if arguments.out.is_some() && arguments.map.is_none() && arguments.tile.is_none() {
        return Err(Ending::BadInput("--out needs --map FIGURE or --tile I/N, which say what to write".into()));
    }
    let export = arguments.map.zip(arguments.out.as_deref()).map(|(figure, path)| Export::of(figure, path));
    let export = export.transpose()?;
    if let Some(path) = arguments.out.as_deref().filter(|path| path.exists() && !arguments.replace) {
        return Err(Ending::bad(FileError::AlreadyThere { path: path.into() }));
    }
    if let (Some(_), Some(path)) = (arguments.tile, &arguments.out) {
        check_piece_path(path)?;
    }
    let survey = survey(&arguments.site)?;
    let criteria = arguments.criteria(&survey);
    let looking = if arguments.rays { SightMethod::Rays } else { SightMethod::Swept };
    if let (Some((piece, pieces)), Some(path)) = (arguments.tile, &arguments.out) {
        let search = Search::in_pieces(&survey, criteria, pieces)?.looking(looking);
        let found = watched(|progress| search.run_piece(piece, pieces, progress)).map_err(Ending::bad)?;
        // Once more: a long search leaves time for something else to take the name.
        check_piece_path(path)?;
        write_together(&[(path, &found.to_bytes(&search))], arguments.replace).map_err(Ending::bad)?;
        return tell(&format!("Piece {piece} of {pieces} is written to {}.", path.display()));
    }
    let search = Search::in_pieces(&survey, criteria.clone(), arguments.merge.len().max(1))?.looking(looking);
    let answer = if arguments.merge.is_empty() { found(&search)? } else { merged(&search, &arguments.merge)? };
    let remains = remaining(arguments, &survey, &answer, looking)?;
    if let Some(export) = &export {
        export.write(&survey, &answer, arguments.units)?;
    }
    let report = SearchReport {
        site: &survey.model.site.name,
        criteria: &criteria,
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
        ranked: &answer.ranked,
        front: &answer.front,
        front_size: answer.front_size,
        packing: &answer.packing,
        remains: remains.as_ref(),
    };
    if arguments.json {
        print(&serde_json::to_string_pretty(&report).map_err(Ending::bad)?)?;
    } else if arguments.csv {
        print(&csv(&answer))?;
    } else if answer.met > 0 {
        tell(&summary(&report, arguments.units))?;
    }
    if answer.met == 0 { Err(Ending::NoAnswer(nothing(&report))) } else { Ok(()) }
}

/// Runs a search while a bar follows it.
fn found(search: &Search<'_>) -> Result<Answer, Ending> {
    watched(|progress| search.run(progress, &|_| {})).map_err(Ending::bad)
}

/// Refuses a place for a piece whose name says something else, or where something else than a piece is.
fn check_piece_path(path: &Path) -> Result<(), Ending> {
    let shown = path.display();
    if path.extension().is_none_or(|ending| ending != PIECE_ENDING) {
        return Err(Ending::BadInput(format!(
            "{shown}: end the name of a piece in .{PIECE_ENDING}, such as part-1.{PIECE_ENDING}"
        )));
    }
    if is_there(path) && !Piece::is_piece(&read_bytes(path, FileKind::SearchPiece).map_err(Ending::bad)?) {
        return Err(Ending::BadInput(format!(
            "{shown} exists and is not a piece of a search, so it is not overwritten; choose another name"
        )));
    }
    Ok(())
}

/// Reads pieces and puts them together.
fn merged(search: &Search<'_>, paths: &[PathBuf]) -> Result<Answer, Ending> {
    let mut pieces = Vec::new();
    for path in paths {
        let bytes = read_bytes(path, FileKind::SearchPiece).map_err(Ending::bad)?;
        let piece = Piece::from_bytes(&bytes, search);
        pieces.push(piece.map_err(|error| Ending::bad(error).of(&path.display().to_string()))?);
    }
    pieces.sort_by_key(Piece::number);
    Ok(search.put_together(pieces)?)
}

/// What remains with the blocks of `--with` standing.
fn remaining(
    arguments: &SearchArguments,
    survey: &Survey,
    answer: &Answer,
    looking: SightMethod,
) -> Result<Option<WithObstacles>, Ending> {
    let with = &arguments.stand.with;
    if with.is_empty() {
        return Ok(None);
    }
    let criteria = arguments.criteria(survey);
    match watched(|progress| with_obstacles(survey, &criteria, with, answer, looking, progress)) {
        Ok(remains) => Ok(Some(remains)),
        Err(ObstaclesError::Requirement(error)) => Err(error.into()),
        Err(error) => Err(Ending::bad(error)),
    }
}

/// A map that is written to a file.
struct Export<'a> {
    figure: MapFigure,
    path: &'a Path,
    kind: ExportKind,
}

/// By the ending of the file's name.
enum ExportKind {
    EsriGrid,
    GeoTiff,
    Picture,
}

/// Of a map that is a picture.
const PIXELS_PER_POINT: f64 = 2.0;

impl<'a> Export<'a> {
    fn of(figure: MapFigure, path: &'a Path) -> Result<Self, Ending> {
        let ending = path.extension().map(|ending| ending.to_ascii_lowercase());
        let kind = match ending.as_deref().and_then(|ending| ending.to_str()) {
            Some("asc") => ExportKind::EsriGrid,
            Some("tif" | "tiff") => ExportKind::GeoTiff,
            Some("png") => ExportKind::Picture,
            _ => {
                return Err(Ending::BadInput(format!(
                    "{}: a map is written as .png (a picture), .asc (Esri ASCII grid) or .tif (GeoTIFF)",
                    path.display()
                )));
            }
        };
        check_folder_of(path).map_err(Ending::bad)?;
        Ok(Self { figure, path, kind })
    }

    fn write(&self, survey: &Survey, answer: &Answer, units: Units) -> Outcome {
        let anchor = survey.model.site.anchor.as_ref();
        match self.kind {
            ExportKind::EsriGrid => {
                let grid = esri_grid(&answer.map, self.figure);
                write_whole(self.path, grid.as_bytes()).map_err(Ending::bad)?;
                if let Some(anchor) = anchor {
                    let beside = self.path.with_extension("prj");
                    write_whole(&beside, projection_beside(anchor).as_bytes()).map_err(Ending::bad)?;
                }
                Ok(())
            }
            ExportKind::GeoTiff => {
                write_whole(self.path, &geotiff(&answer.map, self.figure, anchor)?).map_err(Ending::bad)
            }
            ExportKind::Picture => {
                let pin = |ranked: &Ranked| Pin {
                    name: ranked.place.words(units),
                    at: ranked.stance.at,
                    heading: Some(Angle::from_degrees(ranked.figures.heading_deg)),
                    number: u32::try_from(ranked.number).ok(),
                };
                let pins: Vec<Pin> = answer.ranked.iter().map(pin).collect();
                let shapes = SiteShapes::of(&survey.model);
                let sheet = MapSheet::of(MapRequest {
                    survey,
                    shapes: &shapes,
                    map: &answer.map,
                    figure: self.figure,
                    pins: &pins,
                    units,
                    theme: Theme::Paper,
                });
                // A sheet has a width and a height within what a picture can have.
                let picture = sheet.picture(PIXELS_PER_POINT).ok_or_else(|| Ending::bad("the map has no size"))?;
                write_whole(self.path, &picture.png().map_err(Ending::bad)?).map_err(Ending::bad)
            }
        }
    }
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
        "{}: {} standpoints, {} of them free to stand on, {} stances tried ({}, {}, {}).",
        report.site,
        count(report.places),
        count(report.looked),
        count(report.candidates),
        several(criteria.heights_m.len(), "height", "heights"),
        several(criteria.lenses.len(), "lens", "lenses"),
        several(criteria.aims.len(), "aim", "aims")
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

fn nothing(report: &SearchReport<'_>) -> String {
    if report.looked == 0 {
        let hint = if report.closed > 0 { "; --with-permission includes ground that needs permission" } else { "" };
        return format!("there is nowhere to stand{hint}.\n{}", looked(report));
    }
    let mut text =
        format!("no standpoint meets every requirement.\n{}\n\n{}", looked(report), each_requirement(report));
    for requirement in report.each_requirement.iter().filter(|requirement| requirement.met_alone == 0) {
        text.push_str(&format!("\nNo standpoint has {}, whatever else is required.", requirement.requirement_words));
    }
    let dropped =
        report.each_requirement.iter().filter(|requirement| requirement.met_without > 0 && requirement.met_alone > 0);
    for requirement in dropped {
        text.push_str(&format!(
            "\nWithout {}, {} standpoints are left.",
            requirement.requirement_words,
            count(requirement.met_without)
        ));
    }
    text
}

fn listed(ranked: &[Ranked], units: Units) -> String {
    let headings = [
        "Standpoint",
        "camera height",
        "lens",
        "pitch",
        "largest lean",
        "convergence",
        "lowest detail",
        "seen",
        "walk, climb",
        "tolerance",
    ];
    let mut rows = TextTable::new(&headings).with_notes("Why");
    let digits = ranked.iter().map(|found| found.number.to_string().len()).max().unwrap_or(0);
    for found in ranked {
        let figures = &found.figures;
        let held = if found.stance.aim == Aim::Fill { String::new() } else { format!(", {}", found.stance.aim.key()) };
        let access = if found.access == Access::Ask { format!(" ({})", found.access.words()) } else { String::new() };
        let figures = [
            format!("{:>digits$}. {}{access}", found.number, found.place.words(units)),
            units.length(found.stance.height_m, 2),
            format!("{:.0} mm{held}", figures.focal_mm),
            angle(Some(figures.pitch_deg)),
            angle(figures.largest_lean_deg),
            angle(figures.convergence_deg),
            figures.detail_px_per_m.map_or_else(dash, |detail| units.detail(detail)),
            percent(figures.visible_share),
            units.length(figures.effort_m, 0),
            found
                .tolerance_m
                .sideways_m
                .map_or_else(|| format!("over {}", units.length(50.0, 0)), |m| units.length(m, 1)),
        ];
        rows.noted(figures, found.reason.clone());
    }
    rows.fitted(page_width())
}

fn summary(report: &SearchReport<'_>, units: Units) -> String {
    let mut text = format!(
        "{}\n\n{}\n\n{} standpoints meet every requirement. The best, at least {} apart:\n\n{}\n",
        looked(report),
        each_requirement(report),
        count(report.met),
        units.length(report.criteria.difference_m, 0),
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
fn csv(answer: &Answer) -> String {
    let mut text = "number,east_m,north_m,height_m,on,access,format,lens,aim,focal_mm,rise_mm,heading_deg,pitch_deg,\
                    distance_m,worst_lean_deg,convergence_deg,detail_px_per_m,visible_share,in_frame_share,effort_m,\
                    slack_sideways_m,place,reason\n"
        .to_owned();
    let quoted = |text: &str| format!("\"{}\"", text_cell(text).replace('"', "\"\""));
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for found in &answer.ranked {
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
            number(found.tolerance_m.sideways_m),
            quoted(&found.place.words(Units::M)),
            quoted(&found.reason),
        ];
        text.push_str(&fields.join(","));
        text.push('\n');
    }
    text
}
