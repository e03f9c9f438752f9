//! What is wrong with a site, where does it stand, and how is it mended?

use std::fmt;
use std::ops::Range;

use serde::Serialize;
use unicode_width::UnicodeWidthStr;

use crate::wording;

use super::value_tree::{Span, Value, ValueForm, short};

/// How many problems are kept; beyond them they are only counted.
const MOST_KEPT: usize = 1000;
/// How many problems are drawn; beyond them they are only counted.
const MOST_DRAWN: usize = 50;
/// What stands under a problem's sentence is set in by this.
const INDENT: &str = "    ";
/// How much of an offending line is kept on either side of the fault, in bytes.
const KEPT_BESIDE: usize = 240;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Severity {
    /// The site cannot be used.
    Error,
    /// The site can be used, but probably not as meant.
    Warning,
}

/// One step of the way from a site to a value inside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PathStep {
    /// Into the field of this name.
    Field(&'static str),
    /// To the item with this number, from 0.
    Item(usize),
}

/// The way from a site to a value inside it, such as `blocks[2].shape.height_m`.
pub(super) fn way_text(steps: &[PathStep]) -> String {
    let mut out = String::new();
    for step in steps {
        match step {
            PathStep::Field(name) => {
                if !out.is_empty() {
                    out.push('.');
                }
                out.push_str(name);
            }
            PathStep::Item(index) => out.push_str(&format!("[{index}]")),
        }
    }
    out
}

/// A fault of a site, before its place in a text is known; a site that never was a text has nothing else.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How bad it is.
    pub severity: Severity,
    /// What it is about: "block 'stack'".
    pub item: String,
    /// What is wrong, as a sentence's end: "is -3".
    pub fault: String,
    /// What would be right: "from 0.01 to 2000 m"; may be empty.
    pub allowed: String,
    /// How it is mended; may be empty.
    pub help: String,
    pub(super) way: Vec<PathStep>,
    /// Other values that the fault hangs on: where one of them is no value at all, this fault is no news.
    pub(super) hangs_on: Vec<Vec<PathStep>>,
    /// Whether nothing more can be said of what `way` leads to.
    pub(super) spoils: bool,
    /// Its place, where that is not the value at the end of `way`.
    pub(super) span: Option<Span>,
}

impl Finding {
    /// A fault of what stands at the end of a way.
    pub fn new(item: impl Into<String>, way: Vec<PathStep>, fault: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            item: item.into(),
            fault: fault.into(),
            allowed: String::new(),
            help: String::new(),
            way,
            hangs_on: Vec::new(),
            spoils: true,
            span: None,
        }
    }

    /// With what would be right.
    #[must_use]
    pub fn allowed(mut self, allowed: impl Into<String>) -> Self {
        self.allowed = allowed.into();
        self
    }

    /// With how it is mended.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }

    pub(super) fn span(mut self, span: Span) -> Self {
        self.span = Some(span);
        self
    }

    /// The field it is about, from the site down: `blocks[2].shape.height_m`.
    pub fn field(&self) -> String {
        way_text(&self.way)
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        sentence(f, &self.item, &self.field(), &self.fault, &self.allowed)
    }
}

fn sentence(f: &mut fmt::Formatter<'_>, item: &str, field: &str, fault: &str, allowed: &str) -> fmt::Result {
    f.write_str(&title(item, field, fault))?;
    if allowed.is_empty() { Ok(()) } else { write!(f, "; allowed is {allowed}") }
}

fn title(item: &str, field: &str, fault: &str) -> String {
    match (item.is_empty(), field.is_empty()) {
        (true, true) => fault.to_owned(),
        (true, false) => format!("{field} {fault}"),
        (false, true) => format!("{item}: {fault}"),
        (false, false) => format!("{item}: {field} {fault}"),
    }
}

/// A fault of a site file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Problem {
    /// How bad it is.
    pub severity: Severity,
    /// What it is about: "block 'stack'"; empty where the writing itself is broken.
    pub item: String,
    /// The field, from the site down: `blocks[2].shape.height_m`; empty where the writing itself is broken.
    pub field: String,
    /// The value as it is written there, cut where it is long; absent where something is missing.
    pub value: Option<String>,
    /// What is wrong, as a sentence's end: "is -3".
    pub fault: String,
    /// What would be right: "from 0.01 to 2000 m"; may be empty.
    pub allowed: String,
    /// How it is mended; may be empty.
    pub help: String,
    /// The offending bytes of the file.
    pub span: Range<usize>,
    /// Line of the first of them, from 1.
    pub line: usize,
    /// Column of the first of them in characters, from 1.
    pub column: usize,
    #[serde(skip)]
    excerpt: Excerpt,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: ", self.line, self.column)?;
        sentence(f, &self.item, &self.field, &self.fault, &self.allowed)
    }
}

impl Problem {
    /// What is wrong, as a sentence: "Block 'stack': shape.height_m is -3."
    pub fn sentence(&self) -> String {
        // The item is named; its number in a list adds nothing.
        let field = match (self.item.is_empty(), self.field.split_once("].")) {
            (false, Some((list, inner))) if !list.contains('.') => inner,
            (false, None) if self.field.ends_with(']') && !self.field.contains('.') => "",
            _ => self.field.as_str(),
        };
        sentence_of(&one_line(&title(&self.item, field, &self.fault)))
    }

    /// What would be right and how it is mended, a sentence each.
    pub fn mends(&self) -> Vec<String> {
        let allowed = (!self.allowed.is_empty()).then(|| format!("Allowed: {}.", self.allowed));
        let help = (!self.help.is_empty()).then(|| sentence_of(&self.help));
        allowed.into_iter().chain(help).collect()
    }

    /// The offending line without what indents it, cut about the fault to so many characters, and the offending bytes in it.
    pub fn excerpt(&self, width: usize) -> (String, Range<usize>) {
        let (line, span) = self.excerpt.fitted(width);
        let lead = (line.len() - line.trim_start_matches(' ').len()).min(span.start);
        (line[lead..].to_owned(), span.start - lead..span.end - lead)
    }
}

/// The same with a capital and a full stop.
fn sentence_of(text: &str) -> String {
    let end = if text.ends_with(['.', '!', '?', ':']) { "" } else { "." };
    format!("{}{end}", wording::capital(text))
}

/// A text over lines no longer than `width`, broken between words; lines after the first are indented.
fn folded(text: &str, width: usize, indent: &str) -> String {
    let mut out = String::new();
    let mut column = 0;
    for word in text.split(' ') {
        let wide = word.width();
        if column > indent.len() && column + 1 + wide > width {
            out.push('\n');
            out.push_str(indent);
            column = indent.len();
        } else if !out.is_empty() {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += wide;
    }
    out
}

/// The offending line, or what is near the fault of a very long one.
#[derive(Clone, Debug, Default, PartialEq)]
struct Excerpt {
    line: String,
    /// The offending bytes within `line`.
    span: Range<usize>,
    /// Whether the line begins or ends elsewhere.
    cut: (bool, bool),
}

/// Everything that is wrong with a site file, in the order of the file.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SiteProblems {
    /// What the file is called.
    pub file: String,
    /// The problems; the first thousand where there are more.
    pub problems: Vec<Problem>,
    /// How many more there are.
    pub more: usize,
}

impl SiteProblems {
    /// Whether the site cannot be used.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(|problem| problem.severity == Severity::Error)
    }

    /// Whether all is well.
    pub fn is_empty(&self) -> bool {
        self.problems.is_empty()
    }

    /// The problems as a person reads them: each a sentence with its line, then the line with the fault marked in it, then the
    /// mend.
    ///
    /// `colour` writes ANSI colours; lines are cut to `width` columns where they are longer.
    pub fn render(&self, colour: bool, width: usize) -> String {
        let width = width.max(40);
        let painted = |text: &str, code: &str| {
            if colour { format!("\u{1b}[{code}m{text}\u{1b}[0m") } else { text.to_owned() }
        };
        let file = one_line(&self.file);
        let mut out = String::new();
        for problem in self.problems.iter().take(MOST_DRAWN) {
            let (kind, code) = match problem.severity {
                Severity::Error => ("Error", "1;31"),
                Severity::Warning => ("Warning", "1;33"),
            };
            let place = format!("in {file}, line {}:", problem.line);
            let head = format!("{kind} {place} {}", problem.sentence());
            let head = folded(&head, width, INDENT);
            out.push_str(&painted(kind, code));
            out.push_str(&head[kind.len()..]);
            let (line, span) = problem.excerpt(width - INDENT.len() - 2);
            out.push_str(&format!("\n{INDENT}{line}\n"));
            let before = line[..span.start].width();
            let mark = "^".repeat(line[span].width().max(1));
            out.push_str(&format!("{INDENT}{}{}\n", " ".repeat(before), painted(&mark, code)));
            for more in problem.mends() {
                out.push_str(INDENT);
                out.push_str(&folded(&more, width - INDENT.len(), INDENT));
                out.push('\n');
            }
            out.push('\n');
        }
        let undrawn = self.unlisted();
        if undrawn > 0 {
            out.push_str(&format!("and {undrawn} more\n"));
        }
        out
    }

    /// The problems that are shown one by one.
    pub fn listed(&self) -> &[Problem] {
        &self.problems[..self.problems.len().min(MOST_DRAWN)]
    }

    /// How many more there are than are shown one by one.
    pub fn unlisted(&self) -> usize {
        self.problems.len() - self.listed().len() + self.more
    }
}

impl fmt::Display for SiteProblems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.render(false, 100).trim_end())
    }
}

impl std::error::Error for SiteProblems {}

impl Excerpt {
    fn of(text: &str, start: usize, end: usize) -> Self {
        let floor = boundary_before(text, start.saturating_sub(KEPT_BESIDE));
        let before = text.get(floor..start).unwrap_or_default();
        let (from, cut_before) = match before.rfind('\n') {
            Some(newline) => (floor + newline + 1, false),
            None => (floor, floor > 0),
        };
        let ceiling = boundary_before(text, (end.min(start + 2 * KEPT_BESIDE) + KEPT_BESIDE).min(text.len()));
        let after = text.get(start..ceiling).unwrap_or_default();
        let (to, cut_after) = match after.find(['\n', '\r']) {
            Some(newline) => (start + newline, false),
            None => (ceiling, ceiling < text.len()),
        };
        let end = end.clamp(start, to.max(start));
        Self {
            line: text.get(from..to.max(start)).unwrap_or_default().to_owned(),
            span: start - from..end - from,
            cut: (cut_before, cut_after),
        }
    }

    /// The line and the mark in it, cut about the mark to so many characters.
    fn fitted(&self, width: usize) -> (String, Range<usize>) {
        let whole: Vec<(usize, char)> = self.line.char_indices().collect();
        let index_of = |byte: usize| whole.partition_point(|&(at, _)| at < byte);
        let (first, last) = (index_of(self.span.start), index_of(self.span.end));
        let (mut from, mut to) = (0, whole.len());
        if whole.len() > width {
            // The mark's beginning is always kept; a third of the width leads up to it.
            let marked = (last - first).min(width);
            let lead = (width / 3).min(width - marked);
            from = first.saturating_sub(lead).min(whole.len() - width);
            to = from + width;
        }
        let (cut_before, cut_after) = (self.cut.0 || from > 0, self.cut.1 || to < whole.len());
        let mut line = String::new();
        if cut_before {
            line.push('…');
        }
        let mut span = 0..0;
        for (index, &(_, c)) in whole.iter().enumerate().take(to).skip(from) {
            if index == first {
                span.start = line.len();
            }
            line.push(if c.is_control() { ' ' } else { c });
            if index + 1 == last {
                span.end = line.len();
            }
        }
        if first >= to {
            span.start = line.len();
        }
        if last > to {
            span.end = line.len();
        }
        if cut_after {
            line.push('…');
        }
        span.end = span.end.max(span.start);
        (line, span)
    }
}

/// What is said may quote the file, so that it could hold anything and be of any length.
fn one_line(text: &str) -> String {
    const MOST: usize = 800;
    let mut line: String = text.chars().take(MOST).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(MOST).is_some() {
        line.push('…');
    }
    line
}

fn boundary_before(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Problems as they are found, before they are put in order.
pub(super) struct Collected<'a> {
    text: &'a str,
    found: Vec<(Span, Problem)>,
    more: usize,
}

impl<'a> Collected<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Self { text, found: Vec::new(), more: 0 }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// Counts problems that were found but not kept.
    pub(super) fn count_more(&mut self, more: usize) {
        self.more += more;
    }

    /// A fault of the writing.
    pub(super) fn broken(&mut self, span: Span, fault: impl Into<String>, help: impl Into<String>) {
        self.push(span, Finding::new("", Vec::new(), fault).help(help), false);
    }

    /// A fault found in the values; `root` tells where each stands.
    pub(super) fn finding(&mut self, finding: Finding, root: Option<&Value>) {
        let (span, exact) = match (finding.span, root) {
            (Some(span), _) => (span, true),
            (None, Some(root)) => place_of(&finding.way, root, self.text),
            (None, None) => (Span::new(0, 0), false),
        };
        self.push(span, finding, exact);
    }

    fn push(&mut self, span: Span, finding: Finding, exact: bool) {
        if self.found.len() >= MOST_KEPT {
            self.more += 1;
            return;
        }
        let field = finding.field();
        let value = exact.then(|| short(span.of(self.text)));
        let Finding { severity, item, fault, allowed, help, .. } = finding;
        let (fault, allowed, help) = (one_line(&fault), one_line(&allowed), one_line(&help));
        self.found.push((
            span,
            Problem {
                severity,
                item,
                field,
                value,
                fault,
                allowed,
                help,
                span: span.range(),
                line: 0,
                column: 0,
                excerpt: Excerpt::default(),
            },
        ));
    }

    /// The problems in the order of the file, each with its line.
    pub(super) fn in_order(mut self, file: &str) -> SiteProblems {
        self.found.sort_by_key(|(span, problem)| (*span, problem.severity));
        let (mut at, mut line, mut column) = (0, 1, 1);
        let mut problems = Vec::with_capacity(self.found.len());
        for (span, mut problem) in self.found {
            let start = boundary_before(self.text, (span.start as usize).min(self.text.len()));
            for c in self.text.get(at..start).unwrap_or_default().chars() {
                if c == '\n' {
                    (line, column) = (line + 1, 1);
                } else if c != '\u{feff}' {
                    column += 1;
                }
            }
            at = start;
            let end = boundary_before(self.text, (span.end as usize).clamp(start, self.text.len()));
            problem.span = start..end;
            (problem.line, problem.column) = (line, column);
            problem.excerpt = Excerpt::of(self.text, start, end);
            problems.push(problem);
        }
        SiteProblems { file: file.to_owned(), problems, more: self.more }
    }
}

/// Where the value at the end of a way stands; where it is not written, the head of what it would stand in, and false.
fn place_of(way: &[PathStep], root: &Value, text: &str) -> (Span, bool) {
    let mut here = root;
    for step in way {
        let next = match step {
            PathStep::Field(name) => {
                // `Grid((…))` and `Some(…)` add brackets, but no step.
                while let Some(inner) = here.wrapped() {
                    here = inner;
                }
                here.field(name, text).map(|field| &field.value)
            }
            PathStep::Item(index) => {
                if let Some(inner) = here.wrapped().filter(|_| here.is_some_in(text)) {
                    here = inner;
                }
                match &here.form {
                    ValueForm::List(items) => items.get(*index),
                    ValueForm::Items(items) => items.items.get(*index),
                    _ => {
                        return here.item(*index, text).map_or((here.head(text), false), |number| (number.span, true));
                    }
                }
            }
        };
        match next {
            Some(next) => here = next,
            None => return (here.head(text), false),
        }
    }
    (here.span, true)
}
