//! `plumbsight search`: where is the best place of all, and what would another cost?

mod daylight;
mod report;

use std::path::{Path, PathBuf};

use clap::{Args, FromArgMatches, ValueEnum};

use crate::angle::Angle;
use crate::drawing::{MapRequest, MapSheet, Pin, SiteShapes};
use crate::files::{FileError, FileKind, check_folder_of, is_there, read_bytes, write_together, write_whole};
use crate::optics::{Margins, Orientation, Proportion};
use crate::plan::packed_bag;
use crate::search::{
    ANY_SIDE_DEG, Answer, Criteria, CriteriaError, ExportError, MapFigure, ObstaclesError, PIECE_ENDING, Piece,
    PieceOrigin, Rank, Ranked, Rungs, SQUARE_DEG, Search, SightMethod, THREE_QUARTER_DEG, USUAL_FILLED_SHARE,
    WithObstacles, esri_grid, geotiff, projection_beside, with_obstacles,
};
use crate::site::{Access, Aim, PlanPoint};
use crate::survey::Survey;
use crate::theme::Theme;
use crate::units::Units;
use crate::verticals::READS_UPRIGHT_DEG;

use self::daylight::DaylightOptions;
use self::report::{SearchReport, csv, nothing, one_table, subject_words, summary};
use super::request::{aim, numbers, orientation, pair, plan_ending, survey, threshold, triple};
use super::show::{print, tell, watched};
use super::{Ending, Outcome};

/// What to search for.
#[derive(Args, Debug)]
pub(super) struct SearchArguments {
    /// The site file; several are answered with one table
    #[arg(value_name = "SITE", required_unless_present = "merge")]
    sites: Vec<PathBuf>,
    /// Search each subject block by itself; --subjects=BLOCK searches this block, and may be repeated
    #[arg(long, value_name = "BLOCK", num_args = 0..=1, require_equals = true, default_missing_value = "")]
    subjects: Vec<String>,
    /// What ranks the standpoints that meet every requirement
    #[arg(long, value_enum, default_value_t)]
    rank: RankOption,
    /// The largest lean that is upright enough for --rank upright: critical, usual, lenient, or in degrees
    #[arg(long, value_name = "DEG", value_parser = threshold, default_value_t = READS_UPRIGHT_DEG)]
    upright: f64,
    /// How many standpoints that differ in kind to list: 5, or 1 of each of several searches, unless given
    #[arg(long, value_name = "N")]
    list: Option<usize>,
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
    /// Search only piece I of N of the standpoints, and write the result to --out (.piece) for --merge; a piece that is
    /// already there is not searched again
    #[arg(long, value_name = "I/N", value_parser = piece, requires = "out", conflicts_with_all = ["map", "json", "csv", "merge", "with"])]
    tile: Option<(usize, usize)>,
    /// Merge pieces, in any order; they hold site and requirements. Pieces of several searches are answered with one table
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with = "with")]
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
    #[command(flatten)]
    daylight: DaylightOptions,
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
    /// A lens to try, by name; may be repeated. The bag of the site's plan unless given; without one, 14 mm, 24-70 mm and
    /// 70-200 mm
    #[arg(long, value_name = "LENS")]
    lens: Vec<String>,
    /// Hold the camera landscape or portrait; whichever suits the subject unless given
    #[arg(long, value_name = "ORIENTATION", value_parser = orientation)]
    orientation: Option<Orientation>,
    /// Crop the picture to this aspect, width:height
    #[arg(long, alias = "crop", value_name = "W:H")]
    aspect: Option<Proportion>,
    /// Keep these per cents of the frame clear about the subject: at the sides and below, and above; 5,8 unless given
    #[arg(long, value_name = "SIDE,ABOVE")]
    margins: Option<Margins>,
    /// How to aim: fill, level, rise (where the lens rises), least-tilt, correct; several with commas between. All
    /// but correct unless given: its picture is upright only once it is straightened
    #[arg(long, value_name = "AIM,…", value_parser = aim, value_delimiter = ',')]
    aim: Vec<Aim>,
    /// Allow the frame to cut the subject
    #[arg(long, alias = "may-cut")]
    allow_cut: bool,
    /// The least share of the subject that is seen, 0 to 1
    #[arg(long, value_name = "SHARE", default_value_t = 0.9)]
    seen: f64,
    /// The least share of the frame that the subject fills, of its height or its width, 0 to 1
    #[arg(long, value_name = "SHARE", default_value_t = USUAL_FILLED_SHARE)]
    filled: f64,
    /// The side of the front to stand on: square, three-quarter, any, or the least and greatest angle to it in degrees; within
    /// 60 of a front that the site names unless given
    #[arg(long, value_name = "SIDE", value_parser = front)]
    front: Option<(f64, f64)>,
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

fn front(text: &str) -> Result<(f64, f64), String> {
    match text {
        "square" => Ok(SQUARE_DEG),
        "three-quarter" => Ok(THREE_QUARTER_DEG),
        "any" => Ok(ANY_SIDE_DEG),
        _ => pair(text).map_err(|_| "write square, three-quarter, any, or two angles such as 0,30".to_owned()),
    }
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
    /// Upright enough by the least walk and climb, then the most detail, then the fullest frame.
    #[default]
    Upright,
    /// The least lean.
    Lean,
    /// The most detail.
    Detail,
    /// The least walking and climbing.
    #[value(alias = "effort")]
    Walk,
    /// The longest sun on the face of the picture.
    Light,
}

impl SearchArguments {
    /// What is required on a site, with the lenses of its plan's bag, if it has one.
    ///
    /// # Errors
    /// Light or water that cannot be asked for.
    fn criteria(&self, survey: &Survey, bag: Option<&[String]>, list: usize) -> Result<Criteria, Ending> {
        let daylight = self.daylight.required(&survey.model.site, self.rank == RankOption::Light)?;
        let (stand, picture) = (&self.stand, &self.picture);
        let usual = Criteria::default();
        let mut without = stand.without.clone();
        without.extend(stand.with.iter().filter(|name| !stand.without.contains(name)).cloned());
        Ok(Criteria {
            spacing_m: stand.spacing,
            area: stand.area,
            heights_m: stand.height.clone(),
            format: picture.format.clone(),
            lenses: match bag {
                _ if !picture.lens.is_empty() => picture.lens.clone(),
                Some(bag) => bag.to_vec(),
                None => usual.lenses,
            },
            orientation: picture.orientation,
            crop: picture.aspect,
            margins: picture.margins,
            aims: if picture.aim.is_empty() { usual.aims } else { picture.aim.clone() },
            whole: !picture.allow_cut,
            seen_share: picture.seen,
            filled_share: picture.filled,
            front_deg: picture.front,
            light: daylight.light,
            water_level_m: daylight.water_level_m,
            largest_lean_deg: picture.lean,
            detail_px_per_m: picture.detail,
            distance_m: stand.distance,
            access: if stand.with_permission { Access::Ask } else { Access::Open },
            inside: picture.inside.clone(),
            outside: picture.outside.clone(),
            rank: match self.rank {
                RankOption::Upright => Rank::Upright,
                RankOption::Lean => Rank::Lean,
                RankOption::Detail => Rank::Detail,
                RankOption::Walk => Rank::Effort,
                RankOption::Light => Rank::Light,
            },
            upright_deg: self.upright,
            places: list,
            difference_m: self.apart,
            from: stand.from.or_else(|| survey.model.site.stances.first().map(|stance| stance.at)),
            lowest: stand.lowest.map(|(from_m, to_m, step_m)| Rungs { from_m, to_m, step_m }),
            without,
            samples: self.samples,
            tolerance_deg: usual.tolerance_deg,
        })
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

/// One search: a site with its subject, and what is required.
struct Job {
    survey: Survey,
    criteria: Criteria,
}

/// One search that has come to its end.
struct Done {
    job: Job,
    pieces: usize,
    answer: Answer,
}

pub(super) fn run(arguments: &SearchArguments) -> Outcome {
    if arguments.out.is_some() && arguments.map.is_none() && arguments.tile.is_none() {
        return Err(Ending::BadInput("--out needs --map FIGURE or --tile I/N, which say what to write".into()));
    }
    let export = arguments.map.zip(arguments.out.as_deref()).map(|(figure, path)| Export::of(figure, path));
    let export = export.transpose()?;
    let out = arguments.out.as_deref().filter(|path| path.exists() && !arguments.replace && arguments.tile.is_none());
    if let Some(path) = out {
        return Err(Ending::bad(FileError::AlreadyThere { path: path.into() }));
    }
    if let (Some(_), Some(path)) = (arguments.tile, &arguments.out) {
        check_piece_path(path)?;
    }
    let looking = if arguments.rays { SightMethod::Rays } else { SightMethod::Swept };
    if !arguments.merge.is_empty() {
        let done = merged(arguments)?;
        return answered(arguments, export.as_ref(), &done, Vec::new(), looking);
    }
    let (mut jobs, mut wrong) = (Vec::new(), Vec::new());
    let several = arguments.sites.len() > 1 || arguments.subjects.len() > 1;
    for path in &arguments.sites {
        match arguments.jobs(path, several) {
            Ok(found) => jobs.extend(found),
            // The other sites are searched all the same. What is wrong with a file names it.
            Err(error @ Ending::BadInput(_)) if arguments.sites.len() > 1 => wrong.push(error),
            Err(error) if arguments.sites.len() > 1 => wrong.push(error.of(&path.display().to_string())),
            Err(error) => return Err(error),
        }
    }
    let one_at_most = arguments.tile.is_some() || export.is_some() || !arguments.stand.with.is_empty();
    if one_at_most && arguments.sites.len() + jobs.len() > 2 {
        return Err(Ending::BadInput("--tile, --map and --with need one site and one subject".into()));
    }
    if let (Some((piece, pieces)), Some(path), [job]) = (arguments.tile, &arguments.out, jobs.as_slice()) {
        return searched_piece(arguments, job, (piece, pieces), path, looking);
    }
    let mut done = Vec::new();
    for job in jobs {
        let search = Search::new(&job.survey, job.criteria.clone()).map(|search| search.looking(looking));
        match search.map_err(Ending::from).and_then(|search| found(&search)) {
            Ok(answer) => done.push(Done { job, pieces: 1, answer }),
            Err(error) if several => wrong.push(error.of(&job.survey.mark.name)),
            Err(error) => return Err(error),
        }
    }
    answered(arguments, export.as_ref(), &done, wrong, looking)
}

impl SearchArguments {
    /// The searches of one site file.
    fn jobs(&self, path: &Path, several: bool) -> Result<Vec<Job>, Ending> {
        let survey = survey(path)?;
        // Whoever names the lenses needs no plan.
        let bag = if self.picture.lens.is_empty() { packed_bag(path).map_err(plan_ending)? } else { None };
        let surveys = if self.subjects.is_empty() { vec![survey] } else { self.each_subject(survey)? };
        let list = self.list.unwrap_or(if several || surveys.len() > 1 { 1 } else { Criteria::default().places });
        let job = |survey: Survey| Ok(Job { criteria: self.criteria(&survey, bag.as_deref(), list)?, survey });
        surveys.into_iter().map(job).collect()
    }

    /// The site once for each subject of --subjects, which is its only one there.
    fn each_subject(&self, survey: Survey) -> Result<Vec<Survey>, Ending> {
        let blocks = &survey.model.site.blocks;
        let mut names: Vec<&str> = Vec::new();
        for name in &self.subjects {
            if name.is_empty() {
                names.extend(blocks.iter().filter(|block| block.subject).map(|block| block.name.as_str()));
            } else if blocks.iter().any(|block| block.name == *name) {
                names.push(name);
            } else {
                let known: Vec<String> = blocks.iter().map(|block| format!("'{}'", block.name)).collect();
                let known = known.join(", ");
                return Err(Ending::BadInput(format!("--subjects: no block is called '{name}'; there are {known}")));
            }
        }
        if names.is_empty() {
            return Err(Ending::NoAnswer("no block of this site is marked as the subject".into()));
        }
        Ok(names.into_iter().map(|name| survey.about(name)).collect())
    }
}

/// Prints what came of the searches: one in full, several as one table.
fn answered(
    arguments: &SearchArguments,
    export: Option<&Export<'_>>,
    done: &[Done],
    wrong: Vec<Ending>,
    looking: SightMethod,
) -> Outcome {
    let units = arguments.units;
    let searches = done.iter().map(|done| Search::in_pieces(&done.job.survey, done.job.criteria.clone(), done.pieces));
    let searches = searches.collect::<Result<Vec<_>, _>>()?;
    let one = wrong.is_empty() && done.len() == 1;
    let remains = match done {
        [only] if one => remaining(arguments, &only.job, &only.answer, looking)?,
        _ => None,
    };
    if let (Some(export), [only]) = (export, done) {
        export.write(&only.job.survey, &only.answer, units)?;
    }
    let reports: Vec<SearchReport<'_>> = searches
        .iter()
        .zip(done)
        .map(|(search, done)| SearchReport::of(search, &done.answer, remains.as_ref()))
        .collect();
    let met = reports.iter().any(|report| report.met > 0);
    if arguments.json {
        let json = match reports.as_slice() {
            [report] if one => serde_json::to_string_pretty(report),
            reports => serde_json::to_string_pretty(reports),
        };
        print(&json.map_err(Ending::bad)?)?;
    } else if arguments.csv {
        print(&csv(&reports))?;
    } else if !one && !reports.is_empty() {
        tell(&one_table(&reports, units))?;
    } else if let ([report], [search]) = (reports.as_slice(), searches.as_slice())
        && met
    {
        tell(&summary(report, search.survey(), units))?;
    }
    if let Some(ending) = Ending::all(wrong) {
        return Err(ending);
    }
    match reports.as_slice() {
        [report] if one && !met => Err(Ending::NoAnswer(nothing(report, units))),
        _ if !met => Err(Ending::NoAnswer("no standpoint meets every requirement in any of the searches".into())),
        _ => Ok(()),
    }
}

/// Searches a piece and writes it, unless it is there.
fn searched_piece(
    arguments: &SearchArguments,
    job: &Job,
    (piece, pieces): (usize, usize),
    path: &Path,
    looking: SightMethod,
) -> Outcome {
    let search = Search::in_pieces(&job.survey, job.criteria.clone(), pieces)?.looking(looking);
    if is_there(path) && !arguments.replace {
        let bytes = read_bytes(path, FileKind::SearchPiece).map_err(Ending::bad)?;
        let known = Piece::from_bytes(&bytes, &search);
        let known =
            known.map_err(|error| Ending::BadInput(format!("{}: {error}; --replace overwrites it", path.display())))?;
        if (known.number(), known.of()) != (piece, pieces) {
            let (number, of) = (known.number(), known.of());
            let shown = path.display();
            return Err(Ending::BadInput(format!("{shown} is piece {number} of {of}; --replace overwrites it")));
        }
        return tell(&format!("Piece {piece} of {pieces} is already in {}.", path.display()));
    }
    let found = watched(|progress| search.run_piece(piece, pieces, progress)).map_err(Ending::bad)?;
    // Once more: a long search leaves time for something else to take the name.
    check_piece_path(path)?;
    write_together(&[(path, &found.to_bytes(&search))], arguments.replace).map_err(Ending::bad)?;
    tell(&format!("Piece {piece} of {pieces} is written to {}.", path.display()))
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

/// Reads pieces and puts those of each search together, the searches in the order of their first pieces.
fn merged(arguments: &SearchArguments) -> Result<Vec<Done>, Ending> {
    let mut searches: Vec<(PieceOrigin, Vec<Piece>)> = Vec::new();
    for path in &arguments.merge {
        let bytes = read_bytes(path, FileKind::SearchPiece).map_err(Ending::bad)?;
        let (origin, piece) =
            Piece::open(&bytes).map_err(|error| Ending::bad(error).of(&path.display().to_string()))?;
        match searches.iter_mut().find(|(known, _)| *known == origin) {
            Some((_, pieces)) => pieces.push(piece),
            None => searches.push((origin, vec![piece])),
        }
    }
    let several = searches.len() > 1;
    let mut done = Vec::new();
    for (origin, mut pieces) in searches {
        pieces.sort_by_key(Piece::number);
        // The same piece twice is one piece.
        pieces.dedup_by_key(|piece| piece.number());
        let survey = origin.survey().map_err(Ending::bad)?;
        arguments.check_merged(&survey, &origin)?;
        let search = Search::in_pieces(&survey, origin.criteria().clone(), origin.pieces())?;
        let name = survey.mark.name.clone();
        let answer = search.put_together(pieces).map_err(|error| {
            let ending = Ending::from(error);
            if several { ending.of(&name) } else { ending }
        })?;
        done.push(Done { job: Job { criteria: origin.criteria().clone(), survey }, pieces: origin.pieces(), answer });
    }
    // In the order of their sites, whatever the order of the pieces.
    done.sort_by_cached_key(|done| {
        let site = &done.job.survey;
        (site.mark.name.clone(), site.mark.file.clone(), subject_words(site), format!("{:?}", done.job.criteria))
    });
    Ok(done)
}

impl SearchArguments {
    /// Refuses pieces of another site or other requirements than are named beside them; they need not be named.
    fn check_merged(&self, survey: &Survey, origin: &PieceOrigin) -> Outcome {
        for path in &self.sites {
            let named = self::survey(path)?;
            if named.mark.sha256 != survey.mark.sha256 {
                return Err(Ending::bad(crate::search::PieceError::OtherSite).of(&path.display().to_string()));
            }
        }
        let unnamed = unnamed()?;
        let list = self.list.unwrap_or(origin.criteria().places);
        let (own, plain) = (self.criteria(survey, None, list)?, unnamed.criteria(survey, None, list)?);
        let lenses = |criteria: Criteria| Criteria { lenses: Vec::new(), ..criteria };
        let asked_otherwise = own != plain && lenses(own.clone()) != lenses(origin.criteria().clone());
        let other_lenses = !self.picture.lens.is_empty() && own.lenses != origin.criteria().lenses;
        if asked_otherwise || other_lenses || list != origin.criteria().places {
            return Err(Ending::bad(crate::search::PieceError::OtherCriteria));
        }
        Ok(())
    }
}

/// The arguments as they are where none is given but the site.
fn unnamed() -> Result<SearchArguments, Ending> {
    let matches = SearchArguments::augment_args(clap::Command::new("search")).try_get_matches_from(["search", "-"]);
    matches.and_then(|matches| SearchArguments::from_arg_matches(&matches)).map_err(Ending::bad)
}

/// What remains with the blocks of `--with` standing.
fn remaining(
    arguments: &SearchArguments,
    job: &Job,
    answer: &Answer,
    looking: SightMethod,
) -> Result<Option<WithObstacles>, Ending> {
    let with = &arguments.stand.with;
    if with.is_empty() {
        return Ok(None);
    }
    match watched(|progress| with_obstacles(&job.survey, &job.criteria, with, answer, looking, progress)) {
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
