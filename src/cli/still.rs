//! `plumbsight still`: what will the picture look like, exactly?

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, ValueEnum};
use indicatif::{ProgressBar, ProgressStyle};

use crate::appraise::Measures;
use crate::files::write_whole;
use crate::outline::OutlineError;
use crate::pose::Pose;
use crate::progress::Progress;
use crate::record::Record;
use crate::site::{PlanPoint, Stance};
use crate::stance::Standing;
use crate::still::{Picture, Scene, Style, View, annotations, render};
use crate::survey::{Measured, Survey};
use crate::theme::Theme;

use super::measure::{MeasureOptions, recorded};
use super::request::{StanceArguments, beside, pair, survey};
use super::show::print;
use super::{Ending, Outcome};

/// Pixels across unless asked otherwise.
pub(super) const WIDTH_PX: u32 = 1800;

/// What to picture.
#[derive(Args, Debug)]
pub(super) struct StillArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
    /// Where the picture goes; its record is written beside it
    #[arg(long, value_name = "FILE", default_value = "still.png")]
    out: PathBuf,
    /// Pixels across; the body's own with --full
    #[arg(long, value_name = "PX", default_value_t = WIDTH_PX)]
    width: u32,
    /// All of the body's pixels
    #[arg(long, conflicts_with = "width")]
    full: bool,
    /// Rays a pixel: 1, 2, 4, 8 or 16
    #[arg(long, value_name = "N", default_value_t = 4)]
    samples: u32,
    /// The colours
    #[arg(long, value_enum, default_value_t)]
    theme: Colours,
    /// Draw verticals, flanks, horizon and vanishing point over it
    #[arg(long)]
    overlay: bool,
    /// Show the depth of field of the f-number and focus set
    #[arg(long)]
    depth_of_field: bool,
    /// Stand a person there for scale: metres east and north; may be said again
    #[arg(long, value_name = "E,N", value_parser = pair, allow_hyphen_values = true)]
    person: Vec<PlanPoint>,
    /// Take the picture that straightening afterwards would keep
    #[arg(long)]
    straightened: bool,
    /// Write over a picture that is already there
    #[arg(long)]
    replace: bool,
}

/// The colours of a picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Colours {
    /// White card on paper, by day.
    #[default]
    Paper,
    /// Grey card at dusk.
    Dusk,
}

impl From<Colours> for Theme {
    fn from(colours: Colours) -> Self {
        match colours {
            Colours::Paper => Self::Paper,
            Colours::Dusk => Self::Dusk,
        }
    }
}

pub(super) fn run(arguments: &StillArguments) -> Outcome {
    if arguments.width == 0 {
        return Err(Ending::BadInput("--width is 0; it must be at least 1".into()));
    }
    let record_path = beside(&arguments.out, "record.ron");
    for path in [&arguments.out, &record_path] {
        if path.exists() && !arguments.replace {
            return Err(Ending::BadInput(format!(
                "{} is already there; say --replace to write over it, or --out for another place",
                path.display()
            )));
        }
    }
    let wishes = arguments.measures.wishes()?;
    let survey = survey(&arguments.site)?;
    let stance = arguments.stance.stance(&survey)?;
    let (measured, mut record) = recorded(&survey, &stance, &wishes)?;
    let mut view = view_of(&measured.standing, arguments.depth_of_field);
    if arguments.straightened {
        view = straightened_view(&measured)?;
        if let Some(straightened) = &mut record.straightened {
            straightened.pictured = true;
        }
    }
    let width_px = if arguments.full { view.camera.frame.width_px } else { arguments.width };
    let style = Style {
        theme: arguments.theme.into(),
        sun: record.sun,
        samples: arguments.samples,
        figures: arguments.person.clone(),
        ..Style::default()
    };
    let picture = picture(&survey, &view, &style, width_px, arguments.overlay.then_some(&measured.standing))?;
    write_whole(&arguments.out, &picture.png().map_err(Ending::bad)?).map_err(Ending::bad)?;
    write_whole(&record_path, record.to_ron().as_bytes()).map_err(Ending::bad)?;
    print(&format!(
        "{} is written, {} × {} px, with its record in {}.",
        arguments.out.display(),
        picture.width_px,
        picture.height_px,
        record_path.display()
    ))
}

/// The view of a stance, everything sharp or as the lens draws it.
pub(super) fn view_of(standing: &Standing, depth_of_field: bool) -> View {
    View { camera: standing.camera, pose: standing.pose, focus: depth_of_field.then(|| standing.focus()) }
}

/// The view of the picture that straightening would keep.
fn straightened_view(measured: &Measured) -> Result<View, Ending> {
    match &measured.account.straightened {
        Some(Ok(kept)) => {
            let pose = Pose { attitude: kept.attitude, ..measured.standing.pose };
            Ok(View { camera: kept.camera, pose, focus: None })
        }
        Some(Err(failure)) => Err(Ending::NoAnswer(format!("straightening keeps nothing: {}", failure.words()))),
        None => Err(Ending::NoAnswer(OutlineError::NoSubject.to_string())),
    }
}

/// The picture at so many pixels across, with its progress on the terminal where somebody watches.
pub(super) fn picture(
    survey: &Survey,
    view: &View,
    style: &Style,
    width_px: u32,
    overlay: Option<&Standing>,
) -> Result<Picture, Ending> {
    let mut view = *view;
    view.camera.frame = view.camera.frame.with_width_px(width_px);
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    let mut picture = watched(|progress| render(&scene, &view, style, progress)).map_err(Ending::bad)?;
    if let Some(standing) = overlay {
        // The same measurements on the picture's own pixels.
        let drawn = Standing { camera: view.camera, pose: view.pose, ..standing.clone() };
        let account = survey.appraise(&drawn, &Measures::default());
        let notes = annotations(&account, survey.subject.as_ref().ok(), &view.camera, &view.pose);
        let written = picture.draw(&notes, style.theme);
        if written.left_out > 0 {
            print(&format!("{} labels found no room.", written.left_out))?;
        }
    }
    Ok(picture)
}

/// Runs long work while a bar on the terminal follows it.
pub(super) fn watched<T: Send, E: Send>(work: impl FnOnce(&Progress) -> Result<T, E> + Send) -> Result<T, E> {
    let progress = Progress::unwatched();
    // Drawn to the error stream, and not at all where that is no terminal.
    let bar = ProgressBar::new(1).with_style(
        ProgressStyle::with_template("{bar:40} {percent} %  {elapsed} of about {duration}")
            .unwrap_or_else(|_| ProgressStyle::default_bar()),
    );
    let result = std::thread::scope(|scope| {
        let worker = scope.spawn(|| work(&progress));
        while !worker.is_finished() {
            let (done, total) = progress.count();
            bar.set_length(total.max(1));
            bar.set_position(done);
            std::thread::sleep(Duration::from_millis(40));
        }
        worker.join()
    });
    bar.finish_and_clear();
    result.unwrap_or_else(|panic| std::panic::resume_unwind(panic))
}

/// A stance's picture and record in a folder, under its number and name: names may differ in signs that no file has.
pub(super) fn into_folder(
    survey: &Survey,
    (number, stance): (usize, &Stance),
    standing: &Standing,
    record: &Record,
    folder: &std::path::Path,
) -> Outcome {
    let plain: String = stance.name.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    let name = format!("{number}-{plain}");
    let style = Style { sun: record.sun, ..Style::default() };
    let width_px = if standing.orientation == crate::optics::Orientation::Portrait { 800 } else { 1200 };
    let picture = picture(survey, &view_of(standing, false), &style, width_px, Some(standing))?;
    write_whole(&folder.join(format!("{name}.png")), &picture.png().map_err(Ending::bad)?).map_err(Ending::bad)?;
    write_whole(&folder.join(format!("{name}.record.ron")), record.to_ron().as_bytes()).map_err(Ending::bad)?;
    write_whole(&folder.join(format!("{name}.record.json")), record.to_json().as_bytes()).map_err(Ending::bad)
}
