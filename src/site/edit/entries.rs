//! Where in a text does one more entry go, and what goes with one that is removed?
//!
//! Entries are what stands between brackets, parted by commas: fields, blocks, corners. One that begins and ends a line
//! has its line for itself, with the comment that ends it.

use std::ops::Range;

use crate::site::value_tree::{Value, ValueForm, blank_until, numbers};

/// Bytes to be replaced, and by what.
#[derive(Debug)]
pub(super) struct Splice {
    pub(super) place: Range<usize>,
    pub(super) text: String,
}

impl Splice {
    fn insert(at: usize, text: impl Into<String>) -> Self {
        Self { place: at..at, text: text.into() }
    }
}

/// The text with all of its splices, which do not overlap; of those at one place the earlier stands first.
pub(super) fn spliced(text: &str, mut splices: Vec<Splice>) -> String {
    splices.sort_by_key(|splice| (splice.place.start, splice.place.end));
    let mut out = String::with_capacity(text.len() + splices.iter().map(|splice| splice.text.len()).sum::<usize>());
    let mut done = 0;
    for splice in splices {
        out.push_str(text.get(done..splice.place.start).unwrap_or_default());
        out.push_str(&splice.text);
        done = splice.place.end;
    }
    out.push_str(text.get(done..).unwrap_or_default());
    out
}

/// Something new between brackets.
pub(super) struct Piece {
    pub(super) ink: String,
    /// What follows its comma on the line: a comment.
    pub(super) tail: String,
}

impl From<String> for Piece {
    fn from(ink: String) -> Self {
        Self { ink, tail: String::new() }
    }
}

/// How something new is laid out.
#[derive(Clone, Copy)]
pub(super) struct Layout {
    /// Whether each entry has a line of its own.
    pub(super) lines: bool,
    /// The column at which it begins.
    pub(super) indent: usize,
}

/// What stands between two brackets of a text.
pub(super) struct Entries<'t> {
    text: &'t str,
    /// Behind the opening bracket.
    open: usize,
    /// The closing bracket.
    close: usize,
    places: Vec<Range<usize>>,
}

/// What follows an entry.
struct After {
    /// Where its comma stands.
    comma: Option<usize>,
    /// Behind its comma and the comments before that.
    at: usize,
    /// The end of its line, where nothing but comments follow on it.
    line_end: Option<usize>,
}

impl<'t> Entries<'t> {
    pub(super) fn of(brackets: &Value, text: &'t str) -> Self {
        let places = match &brackets.form {
            ValueForm::Fields(fields) => {
                fields.entries.iter().map(|field| field.key.start as usize..field.value.span.end as usize).collect()
            }
            ValueForm::List(items) => items.iter().map(|item| item.span.range()).collect(),
            ValueForm::Items(items) => items.items.iter().map(|item| item.span.range()).collect(),
            ValueForm::Numbers { .. } => numbers(text, brackets.span).map(|number| number.span.range()).collect(),
            ValueForm::Number | ValueForm::Word | ValueForm::Text | ValueForm::Strange => Vec::new(),
        };
        let open = brackets.head(text).end as usize;
        Self { text, open, close: (brackets.span.end as usize).saturating_sub(1).max(open), places }
    }

    pub(super) fn len(&self) -> usize {
        self.places.len()
    }

    fn piece(&self, range: Range<usize>) -> &'t str {
        self.text.get(range).unwrap_or_default()
    }

    fn line_start(&self, at: usize) -> usize {
        self.piece(0..at).rfind('\n').map_or(0, |newline| newline + 1)
    }

    /// Where the line of a byte ends, before its line break; nowhere if something else stands on it, or a comment runs on.
    fn line_end(&self, at: usize) -> Option<usize> {
        let rest = self.piece(at..self.text.len());
        let line = rest.find('\n').map_or(rest, |end| rest.get(..end).unwrap_or_default());
        let line = line.strip_suffix('\r').unwrap_or(line);
        (blank_until(line, 0) == line.len() && !unclosed(line)).then_some(at + line.len())
    }

    fn begins_line(&self, index: usize) -> bool {
        let start = self.places[index].start;
        self.piece(self.line_start(start)..start).bytes().all(|byte| matches!(byte, b' ' | b'\t'))
    }

    fn after(&self, index: usize) -> After {
        let end = self.places[index].end;
        let next = blank_until(self.text, end);
        let comma = (self.text.as_bytes().get(next) == Some(&b',')).then_some(next);
        let at = comma.map_or_else(|| end + comments_on_line(self.piece(end..self.close)), |comma| comma + 1);
        After { comma, at, line_end: self.line_end(at) }
    }

    fn has_own_lines(&self, index: usize) -> bool {
        self.begins_line(index) && self.after(index).line_end.is_some()
    }

    /// Where the comments of empty brackets end.
    fn last_ink(&self) -> usize {
        self.open + self.piece(self.open..self.close).trim_end().len()
    }

    /// How something new is laid out before the entry of this number, or at the end; `lines_at_end` wants lines there.
    pub(super) fn layout(&self, at: usize, lines_at_end: bool) -> Layout {
        let inside = || indent_of(self.text, self.open) + 4;
        let column = |index: usize| column_of(self.text, self.places[index].start);
        match at.checked_sub(1) {
            _ if self.places.is_empty() => {
                let lines = lines_at_end || self.piece(self.last_ink()..self.close).contains('\n');
                Layout { lines, indent: inside() }
            }
            None => Layout { lines: self.begins_line(0), indent: column(0) },
            Some(previous) => {
                let lines = self.has_own_lines(previous) || (at == self.len() && lines_at_end);
                let first = [previous, 0].into_iter().find(|index| self.begins_line(*index));
                Layout { lines, indent: first.filter(|_| lines).map_or_else(inside, column) }
            }
        }
    }

    /// Puts something new in before the entry of this number, or at the end.
    pub(super) fn insertion(&self, at: usize, layout: Layout, pieces: &[Piece]) -> Vec<Splice> {
        if pieces.is_empty() {
            return Vec::new();
        }
        // What follows a comment that ends a line must not stand on it.
        let lines = layout.lines || pieces.iter().any(|piece| !piece.tail.is_empty());
        let line = line_break(self.text);
        let own_line = format!("{line}{}", " ".repeat(layout.indent));
        let closing_line = format!("{line}{}", " ".repeat(indent_of(self.text, self.open)));
        let lines_of =
            || -> String { pieces.iter().map(|piece| format!("{own_line}{},{}", piece.ink, piece.tail)).collect() };
        let joined = || pieces.iter().map(|piece| piece.ink.as_str()).collect::<Vec<_>>().join(", ");
        // The closing bracket keeps a line of its own.
        let before_closing = |from: usize| {
            let rest = self.piece(from..self.close);
            if rest.contains('\n') {
                Splice::insert(from, lines_of())
            } else {
                let blanks = rest.len() - rest.trim_start().len();
                Splice { place: from..from + blanks, text: lines_of() + &closing_line }
            }
        };
        match at.checked_sub(1) {
            _ if self.places.is_empty() => {
                let ink = self.last_ink();
                vec![if lines {
                    before_closing(ink)
                } else {
                    Splice::insert(ink, if ink > self.open { format!(" {}", joined()) } else { joined() })
                }]
            }
            None => {
                let first = self.places[0].start;
                vec![match self.line_end(self.open) {
                    Some(end) if lines && self.begins_line(0) => Splice::insert(end, lines_of()),
                    _ if lines => Splice::insert(
                        first,
                        pieces
                            .iter()
                            .map(|piece| format!("{},{}{own_line}", piece.ink, piece.tail))
                            .collect::<String>(),
                    ),
                    _ => Splice::insert(first, joined() + ", "),
                }]
            }
            Some(previous) => {
                let after = self.after(previous);
                let comma = after.comma.is_none().then(|| Splice::insert(after.at, ","));
                let new = match (lines, after.line_end) {
                    (true, end) if at == self.len() => before_closing(end.unwrap_or(after.at)),
                    (true, Some(end)) => Splice::insert(end, lines_of()),
                    (true, None) => {
                        let blanks = blanks_before(self.piece(after.at..self.places[at].start));
                        Splice { place: after.at..after.at + blanks, text: lines_of() + &own_line }
                    }
                    (false, _) if after.comma.is_some() => Splice::insert(after.at, format!(" {},", joined())),
                    (false, _) => Splice::insert(after.at, format!(" {}", joined())),
                };
                comma.into_iter().chain([new]).collect()
            }
        }
    }

    /// Takes entries out, each with its comma and the comments that follow it on its line if it has that for itself.
    pub(super) fn removal(&self, indices: &[usize]) -> Vec<Splice> {
        let mut ranges: Vec<Range<usize>> = indices.iter().map(|&index| self.range_with(index)).collect();
        ranges.sort_by_key(|range| (range.start, range.end));
        let mut splices: Vec<Splice> = Vec::with_capacity(ranges.len());
        for range in ranges {
            match splices.last_mut() {
                Some(last) if range.start < last.place.end => last.place.end = last.place.end.max(range.end),
                _ => splices.push(Splice { place: range, text: String::new() }),
            }
        }
        splices
    }

    /// Everything that goes when an entry goes.
    fn range_with(&self, index: usize) -> Range<usize> {
        let Range { start, .. } = self.places[index];
        let after = self.after(index);
        let begins_line = self.begins_line(index);
        if let Some(line_end) = after.line_end.filter(|_| begins_line) {
            let line_break = self.piece(line_end..self.text.len()).find('\n').map_or(0, |newline| newline + 1);
            return self.line_start(start)..line_end + line_break;
        }
        let before = self.piece(self.line_start(start)..start);
        let blanks = if begins_line { 0 } else { before.len() - before.trim_end_matches([' ', '\t']).len() };
        match after.comma {
            Some(_) => {
                let next = after.at + blanks_before(self.piece(after.at..self.close));
                let rest = self.piece(next..self.text.len());
                if rest.starts_with(['\n', '\r']) || rest.starts_with("//") {
                    start - blanks..after.at
                } else {
                    start..next
                }
            }
            None => {
                let start = start - blanks;
                let comma = index.checked_sub(1).and_then(|previous| self.after(previous).comma);
                let follows = comma.is_some_and(|comma| comma + 1 == start);
                start - usize::from(follows)..after.at
            }
        }
    }

    /// Gives an entry another place among the others, `to` being its number afterwards.
    pub(super) fn moving(&self, from: usize, to: usize) -> Vec<Splice> {
        if from == to {
            return Vec::new();
        }
        let place = self.places[from].clone();
        let after = self.after(from);
        let piece = match after.line_end.filter(|_| self.begins_line(from)) {
            Some(line_end) => {
                let comma = after.comma.unwrap_or(place.end);
                Piece {
                    ink: self.piece(place.start..comma).to_owned(),
                    tail: self.piece(after.comma.map_or(place.end, |comma| comma + 1)..line_end).to_owned(),
                }
            }
            None => {
                let end = place.end + comments_on_line(self.piece(place.end..self.close));
                self.piece(place.start..end).to_owned().into()
            }
        };
        let at = if to < from { to } else { to + 1 };
        let mut splices = self.insertion(at, self.layout(at, false), &[piece]);
        splices.extend(self.removal(&[from]));
        splices
    }
}

/// How a text breaks its lines.
pub(super) fn line_break(text: &str) -> &'static str {
    if text.contains("\r\n") { "\r\n" } else { "\n" }
}

/// Whether a comment of this line runs on into the next.
fn unclosed(line: &str) -> bool {
    // With a bracket behind it, a comment that is never closed still reaches to the end.
    let closed = format!("{line}\n)");
    blank_until(&closed, 0) == closed.len()
}

fn blanks_before(text: &str) -> usize {
    text.len() - text.trim_start_matches([' ', '\t']).len()
}

/// How far comments in `/* */` reach from here on this line.
fn comments_on_line(text: &str) -> usize {
    let mut reached = 0;
    loop {
        let rest = text.get(reached..).unwrap_or_default();
        let blanks = blanks_before(rest);
        let comment = rest.get(blanks..).unwrap_or_default();
        if !comment.starts_with("/*") {
            return reached;
        }
        let (mut level, mut at) = (0_usize, 0_usize);
        let bytes = comment.as_bytes();
        loop {
            match bytes.get(at..at + 2) {
                Some(b"/*") => (level, at) = (level + 1, at + 2),
                Some(b"*/") => (level, at) = (level - 1, at + 2),
                Some(pair) if pair[0] != b'\n' => at += 1,
                _ => return reached,
            }
            if level == 0 {
                break;
            }
        }
        reached += blanks + at;
    }
}

/// The column of a byte, in characters from 0.
pub(super) fn column_of(text: &str, at: usize) -> usize {
    let before = text.get(..at).unwrap_or_default();
    before.get(before.rfind('\n').map_or(0, |newline| newline + 1)..).unwrap_or_default().chars().count()
}

/// How far the line of a byte is indented.
pub(super) fn indent_of(text: &str, at: usize) -> usize {
    let before = text.get(..at).unwrap_or_default();
    let line = before.get(before.rfind('\n').map_or(0, |newline| newline + 1)..).unwrap_or_default();
    line.chars().take_while(|c| matches!(c, ' ' | '\t')).count()
}
