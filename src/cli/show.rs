//! How are numbers and tables printed?

use std::io::{IsTerminal, Write};
use std::time::Duration;

use comfy_table::{ContentArrangement, Table, presets};

use clap::ValueEnum;
use clap::builder::PossibleValue;
use indicatif::{ProgressBar, ProgressStyle};

use crate::progress::Progress;
use crate::text::without_direction_marks;
use crate::units::Units;

use super::Outcome;

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

/// An angle with its sign as said, or a dash where there is none.
pub(super) fn angle(degrees: Option<f64>) -> String {
    degrees.map_or_else(dash, |degrees| {
        // Zero has no sign, and nobody reads a hundredth.
        let rounded = (degrees * 10.0).round() / 10.0;
        format!("{:.1}°", if rounded == 0.0 { 0.0 } else { rounded })
    })
}

/// A share in percent, or a dash.
pub(super) fn percent(share: Option<f64>) -> String {
    share.map_or_else(dash, |share| format!("{:.0} %", 100.0 * share))
}

pub(super) fn dash() -> String {
    "–".into()
}

/// An empty table with these headings, as wide as the terminal where there is one.
pub(super) fn table(headings: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
    if !std::io::stdout().is_terminal() {
        // A file or pipe has no width: keep every row on one line.
        table.set_content_arrangement(ContentArrangement::Disabled);
    }
    if !headings.is_empty() {
        table.set_header(headings.to_vec());
    }
    table
}

/// Prints lines for people: no name of a site turns them around.
pub(super) fn print(text: &str) -> Outcome {
    print_data(&without_direction_marks(text))
}

/// Prints what another program reads, as it stands.
pub(super) fn print_data(text: &str) -> Outcome {
    let mut out = anstream::stdout().lock();
    writeln!(out, "{}", text.trim_end())?;
    out.flush()?;
    Ok(())
}

/// Whether errors are drawn in colour: on a terminal that has not asked for none.
pub(super) fn colour() -> bool {
    anstream::AutoStream::choice(&std::io::stderr()) != anstream::ColorChoice::Never
}

/// How wide errors may be drawn.
pub(super) fn width() -> usize {
    comfy_table::Table::new().width().map_or(110, usize::from).clamp(40, 160)
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
