//! How do rows of figures fit the terminal?
//!
//! A table that is too wide is cut into bands: each repeats the first column and goes on with the next figures. Every figure
//! is shown at every width, and no word is broken.

use unicode_width::UnicodeWidthStr;

/// Spaces between two columns.
const GAP: usize = 2;
/// A note stands beside its row where it has at least this much room, else beneath it.
const NOTE_LEAST: usize = 24;
/// How far a note beneath its row is moved in.
const NOTE_INDENT: usize = 4;

/// Rows of figures under headings. The first column says what a row is about.
pub(super) struct TextTable {
    /// Of the first column, then of the figures.
    headings: Vec<String>,
    /// Of a last column for notes, where there is one; otherwise notes stand beneath their rows.
    note: Option<String>,
    rows: Vec<Row>,
}

struct Row {
    /// What the row is about, then its figures; there may be none.
    cells: Vec<String>,
    note: String,
}

/// Columns that stand side by side, each with its width.
struct Band {
    columns: Vec<(usize, usize)>,
    /// The width of the notes beside the rows.
    beside: Option<usize>,
    /// The width of the notes beneath the rows.
    beneath: Option<usize>,
}

impl TextTable {
    /// An empty table. If all headings are empty they take no line.
    pub(super) fn new(headings: &[&str]) -> Self {
        Self { headings: headings.iter().map(|&heading| heading.to_owned()).collect(), note: None, rows: Vec::new() }
    }

    /// The same with a last column for notes.
    pub(super) fn with_notes(self, heading: &str) -> Self {
        Self { note: Some(heading.to_owned()), ..self }
    }

    /// Adds a row of figures.
    pub(super) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.noted(cells, String::new());
    }

    /// Adds a row with a note.
    pub(super) fn noted(&mut self, cells: impl IntoIterator<Item = String>, note: String) {
        self.rows.push(Row { cells: cells.into_iter().collect(), note });
    }

    /// The table in lines of at most this width (a single longer word excepted); without a width, a line for each row.
    pub(super) fn fitted(&self, width: Option<usize>) -> String {
        let natural: Vec<usize> = (0..self.headings.len()).map(|column| self.widest(column, cells_wide)).collect();
        let note = self
            .note
            .as_deref()
            .map(|heading| self.rows.iter().map(|row| cells_wide(&row.note)).fold(cells_wide(heading), usize::max));
        let whole = natural.iter().chain(&note).map(|width| width + GAP).sum::<usize>() - GAP;
        let bands = match width {
            Some(width) if whole > width => self.bands(&natural, note, width),
            _ => {
                let beneath = note.is_none().then_some(width.unwrap_or(usize::MAX));
                vec![Band { columns: natural.into_iter().enumerate().collect(), beside: note, beneath }]
            }
        };
        bands.iter().map(|band| self.lay(band)).collect::<Vec<_>>().join("\n\n")
    }

    /// As few bands as hold all columns.
    fn bands(&self, natural: &[usize], note: Option<usize>, width: usize) -> Vec<Band> {
        let first = natural[0].min(self.widest(0, longest_word).max(width / 3));
        // Headings break between words, figures stay on one line where a line can hold them.
        let figure = |column: usize| {
            let least = self.cells(column).map(cells_wide).fold(longest_word(&self.headings[column]), usize::max);
            least.min(width.saturating_sub(first + GAP)).max(self.widest(column, longest_word))
        };
        let mut bands = vec![vec![(0, first)]];
        let used = |band: &[(usize, usize)]| band.iter().map(|(_, width)| width + GAP).sum::<usize>();
        for column in 1..natural.len() {
            let column = (column, figure(column));
            match bands.last_mut().filter(|band| band.len() == 1 || used(band) + column.1 <= width) {
                Some(band) => band.push(column),
                None => bands.push(vec![(0, first), column]),
            }
        }
        let count = bands.len();
        let band = |(number, mut columns): (usize, Vec<(usize, usize)>)| {
            // The first column takes what the figures leave.
            let figures = used(&columns[1..]);
            let room = width.saturating_sub(figures);
            let all = count == 1 && natural[0] + GAP + NOTE_LEAST <= room;
            columns[0].1 = natural[0].min(room.max(first));
            // What is still left lets headings stand on one line.
            let mut left = room.saturating_sub(columns[0].1);
            for (column, column_width) in columns.iter_mut().skip(1).filter(|_| !all) {
                let wider = (natural[*column].max(*column_width) - *column_width).min(left);
                *column_width += wider;
                left -= wider;
            }
            let beside = note.filter(|_| all).map(|note| note.min(room - natural[0] - GAP));
            Band { columns, beside, beneath: (beside.is_none() && number + 1 == count).then_some(width) }
        };
        bands.into_iter().enumerate().map(band).collect()
    }

    fn lay(&self, band: &Band) -> String {
        let mut text = String::new();
        let mut line = |cells: &[&str], note: &str| {
            let widths = band.columns.iter().map(|(_, width)| *width).chain(band.beside);
            let cells = cells.iter().copied().chain(band.beside.map(|_| note));
            let cells: Vec<(Vec<String>, usize)> =
                cells.zip(widths).map(|(cell, width)| (wrapped(cell, width), width)).collect();
            for number in 0..cells.iter().map(|(lines, _)| lines.len()).max().unwrap_or(0) {
                let mut written = String::new();
                for (lines, width) in &cells {
                    let part = lines.get(number).map_or("", String::as_str);
                    written.push_str(part);
                    written.push_str(&" ".repeat(width.saturating_sub(cells_wide(part)) + GAP));
                }
                text.push_str(written.trim_end());
                text.push('\n');
            }
            if let Some(width) = band.beneath.filter(|_| !note.is_empty()) {
                let note = format!("{:NOTE_INDENT$}{note}", "");
                wrapped(&note, width).iter().for_each(|line| text.push_str(&format!("{line}\n")));
            }
        };
        let headings: Vec<&str> = band.columns.iter().map(|(column, _)| self.headings[*column].as_str()).collect();
        if headings.iter().any(|heading| !heading.is_empty()) {
            line(&headings, self.note.as_deref().unwrap_or_default());
        }
        for row in &self.rows {
            // A row that is nothing but a note is written once.
            if row.cells.len() > 1 || row.note.is_empty() || band.beneath.is_some() {
                let cell = |(column, _): &(usize, usize)| row.cells.get(*column).map_or("", String::as_str);
                line(&band.columns.iter().map(cell).collect::<Vec<_>>(), &row.note);
            }
        }
        text.trim_end().to_owned()
    }

    fn cells(&self, column: usize) -> impl Iterator<Item = &str> {
        // What stands alone in its row may be as long as it likes.
        self.rows.iter().filter_map(move |row| row.cells.get(column).map(String::as_str))
    }

    fn widest(&self, column: usize, of: fn(&str) -> usize) -> usize {
        self.cells(column).chain([self.headings[column].as_str()]).map(of).max().unwrap_or(0)
    }
}

/// The width of a text on a terminal, in cells.
pub(super) fn cells_wide(text: &str) -> usize {
    text.width()
}

fn longest_word(text: &str) -> usize {
    indent(text) + text.split(' ').map(cells_wide).max().unwrap_or(0)
}

fn indent(text: &str) -> usize {
    text.len() - text.trim_start_matches(' ').len()
}

/// A text broken between words into lines of at most this width, each moved in as the text is. A word that is wider stands
/// alone, and a number keeps its unit.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    if cells_wide(text) <= width {
        return vec![text.to_owned()];
    }
    let indent = " ".repeat(indent(text));
    let mut lines: Vec<String> = Vec::new();
    for word in glued(text) {
        match lines.last_mut() {
            Some(line) if cells_wide(line) + 1 + cells_wide(&word) <= width => {
                line.push(' ');
                line.push_str(&word);
            }
            _ if cells_wide(&indent) + cells_wide(&word) <= width => lines.push(format!("{indent}{word}")),
            // No line can hold number and unit together.
            _ => word.split(' ').for_each(|word| lines.push(format!("{indent}{word}"))),
        }
    }
    if lines.is_empty() { vec![String::new()] } else { lines }
}

/// The words of a text, a number and its unit being one.
fn glued(text: &str) -> Vec<String> {
    const UNITS: [&str; 9] = ["m", "mm", "cm", "ft", "in", "px", "px/m", "px/ft", "MP"];
    let unit = |word: &str| {
        let plain = word.trim_end_matches([',', ';', ':', '.', ')']);
        UNITS.contains(&plain) || plain == "%"
    };
    let mut words: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        match words.last_mut() {
            Some(number) if unit(word) && number.ends_with(|c: char| c.is_ascii_digit()) => {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::{TextTable, cells_wide, wrapped};

    fn three() -> TextTable {
        let mut table = TextTable::new(&["Stance", "away", "largest lean", "lowest detail"]).with_notes("Why");
        table.noted(["by the gate", "24.0 m", "1.5°", "57 px/m"].map(Into::into), "the least lean of all".into());
        table.noted(["lane", "80.0 m", "0.3°", "113 px/m"].map(Into::into), "near; nothing hides it".into());
        table
    }

    #[test]
    fn a_table_that_fits_has_a_line_for_each_row() {
        let text = "Stance       away    largest lean  lowest detail  Why\n\
                    by the gate  24.0 m  1.5°          57 px/m        the least lean of all\n\
                    lane         80.0 m  0.3°          113 px/m       near; nothing hides it";
        assert_eq!(three().fitted(None), text);
        assert_eq!(three().fitted(Some(72)), text);
        assert_ne!(three().fitted(Some(71)), text);
    }

    #[test]
    fn a_wide_table_becomes_bands_and_its_notes_stand_beneath() {
        let narrow = "Stance       away    largest\n                     lean\n\
                      by the gate  24.0 m  1.5°\n\
                      lane         80.0 m  0.3°\n\n\
                      Stance       lowest detail\n    Why\n\
                      by the gate  57 px/m\n    the least lean of all\n\
                      lane         113 px/m\n    near; nothing hides it";
        assert_eq!(three().fitted(Some(30)), narrow);
        // No page is narrower than 20 cells.
        for width in 20..80 {
            let fitted = three().fitted(Some(width));
            assert!(fitted.lines().all(|line| cells_wide(line) <= width), "{width}:\n{fitted}");
            for word in three().fitted(None).split_whitespace() {
                assert!(fitted.split_whitespace().any(|shown| shown == word), "{word} at {width}:\n{fitted}");
            }
        }
    }

    #[test]
    fn words_are_not_broken_and_numbers_keep_their_units() {
        assert_eq!(wrapped("  camera 2.6 m higher; a pole", 10), ["  camera", "  2.6 m", "  higher;", "  a pole"]);
        assert_eq!(wrapped("seen 100 %, leans", 9), ["seen", "100 %,", "leans"]);
        assert_eq!(wrapped("2\u{a0}318 standpoints", 6), ["2\u{a0}318", "standpoints"]);
        assert_eq!(wrapped("unbreakable", 4), ["unbreakable"]);
        assert_eq!(wrapped("塔の足元 塔", 8), ["塔の足元", "塔"]);
        assert_eq!(wrapped("", 4), [""]);
    }
}
