//! How are figures and text printed?

use std::io::Write;
use std::time::Duration;

use clap::ValueEnum;
use clap::builder::PossibleValue;
use indicatif::{ProgressBar, ProgressStyle};

use crate::progress::Progress;
use crate::text::without_direction_marks;
use crate::units::Units;
use crate::wording;

use super::Outcome;
use super::table::wrapped;

/// Prose is not wider than this, however wide the terminal is.
const PROSE_WIDTH: usize = 100;

impl ValueEnum for Units {
    fn value_variants<'a>() -> &'a [Self] {
        &[Self::M, Self::Ft]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.name()).help(match self {
            Self::M => "Metres",
            Self::Ft => "Feet",
        }))
    }
}

/// An angle in degrees with its sign, or a dash where there is none.
pub(super) fn angle(degrees: Option<f64>) -> String {
    degrees.map_or_else(dash, wording::degrees)
}

/// A share in percent, or a dash.
pub(super) fn percent(share: Option<f64>) -> String {
    share.map_or_else(dash, wording::percent)
}

pub(super) fn dash() -> String {
    "–".into()
}

/// What cannot be laid out in less.
const LEAST_WIDTH: usize = 20;

/// The width that output has to fit: the terminal's, else what `COLUMNS` says. A file or pipe has none.
pub(super) fn page_width() -> Option<usize> {
    let terminal = terminal_size::terminal_size_of(std::io::stdout());
    let asked = || std::env::var("COLUMNS").ok()?.trim().parse().ok();
    terminal.map(|(width, _)| usize::from(width.0)).or_else(asked).map(|width: usize| width.max(LEAST_WIDTH))
}

/// The width of prose.
pub(super) fn prose_width() -> usize {
    page_width().map_or(PROSE_WIDTH, |width| width.min(PROSE_WIDTH))
}

/// Prints text for people: lines that are wider than the page are broken between words, and no name turns them around.
pub(super) fn tell(text: &str) -> Outcome {
    let text = without_direction_marks(text);
    let Some(width) = page_width() else { return print(&text) };
    let lines: Vec<String> = text.lines().flat_map(|line| wrapped(line, width)).collect();
    print(&lines.join("\n"))
}

/// Prints text as it is.
pub(super) fn print(text: &str) -> Outcome {
    let mut out = anstream::stdout().lock();
    writeln!(out, "{}", text.trim_end())?;
    out.flush()?;
    Ok(())
}

/// Whether errors are drawn in colour: on a terminal that has not asked for none.
pub(super) fn colour() -> bool {
    anstream::AutoStream::choice(&std::io::stderr()) != anstream::ColorChoice::Never
}

/// The width in which errors are drawn.
pub(super) fn width() -> usize {
    page_width().unwrap_or(110).clamp(40, 160)
}

/// Runs long work while a bar on the terminal follows it.
pub(super) fn watched<T: Send>(work: impl FnOnce(&Progress) -> T + Send) -> T {
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
