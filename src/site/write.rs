//! How is a site written down so that a person likes to read it?
//!
//! Each field of the site begins a line, each block, ground, stance and row of posts has a line of its own where it fits
//! one, and what is longer is wrapped under its opening bracket. Numbers are the shortest that read back the same.

use serde::Serialize;

use crate::files::ron_options;

use super::value_tree::{FieldList, Value, ValueForm, numbers, walk_text};
use super::{Site, TerrainGrid};

/// The width that lines are wrapped at; rows of posts may be longer.
const WIDTH: usize = 120;

/// A whole site as the text of a new file.
///
/// # Example
/// ```
/// use plumbsight::site::{parse_site, write_new};
/// let site = parse_site(r#"(format: 1, name: "yard", blocks: [(name: "hut", at: (0, 0),
///     shape: Box(width_m: 2, depth_m: 2, height_m: 2.5))])"#, "yard").unwrap();
/// let text = write_new(&site);
/// assert!(text.contains("\n        (name: \"hut\", at: (0.0, 0.0), shape: Box(width_m: 2.0, depth_m: 2.0, height_m: 2.5)),\n"));
/// assert_eq!(parse_site(&text, "yard").unwrap(), site);
/// ```
pub fn write_new(site: &Site) -> String {
    let text = compact(site);
    let mut out = SiteWriter { text: &text, out: String::from("Site(\n"), column: 0 };
    if let Some(root) = walk_text(&text, 0).root {
        for field in root.fields() {
            out.indent(4);
            out.put(field.key.of(&text));
            out.put(": ");
            out.value(&field.value, 4, 1);
            out.put(",");
            out.line();
        }
    }
    out.out.push_str(")\n");
    out.out
}

/// A value of a text as it is written in a file at an indentation.
pub(super) fn written_value(text: &str, value: &Value, indent: usize) -> String {
    let mut out = SiteWriter { text, out: String::new(), column: indent };
    out.value(value, indent, 1);
    out.out
}

/// Rounds every post to whole millimetres, as is sensible for what was measured or converted from another format: rows
/// then have at most three decimals.
pub fn round_posts(grid: &mut TerrainGrid) {
    for post_m in grid.rows.iter_mut().flatten() {
        *post_m = (*post_m * 1000.0).round() / 1000.0;
    }
}

/// A value on one line, as RON writes it.
pub(super) fn compact<T: Serialize>(value: &T) -> String {
    ron_options().to_string(value).expect("the types of a site are plain data, which RON can always write")
}

struct SiteWriter<'t> {
    text: &'t str,
    out: String,
    column: usize,
}

impl<'t> SiteWriter<'t> {
    fn put(&mut self, text: &str) {
        self.out.push_str(text);
        self.column += text.chars().count();
    }

    fn line(&mut self) {
        self.out.push('\n');
        self.column = 0;
    }

    fn indent(&mut self, indent: usize) {
        self.out.push_str(&" ".repeat(indent));
        self.column = indent;
    }

    /// A value, with so many characters to follow it on its line.
    fn value(&mut self, value: &Value, indent: usize, after: usize) {
        let room = WIDTH.saturating_sub(self.column + after);
        let mut flat = String::new();
        if !is_table(value) && self.flat(value, room, &mut flat) {
            self.put(&flat);
            return;
        }
        match &value.form {
            ValueForm::Fields(fields) => self.fields(fields, after),
            ValueForm::Items(items) => {
                self.put(items.name.map_or("", |name| name.of(self.text)));
                self.put("(");
                let mut first = true;
                for item in &items.items {
                    if !first {
                        self.put(", ");
                    }
                    first = false;
                    self.value(item, indent, after + 1);
                }
                self.put(")");
            }
            ValueForm::List(items) if is_table(value) => {
                self.put("[");
                self.line();
                for item in items.iter() {
                    self.indent(indent + 4);
                    match item.form {
                        ValueForm::Numbers { round: false, .. } => self.row(item),
                        _ => self.value(item, indent + 4, 1),
                    }
                    self.put(",");
                    self.line();
                }
                self.indent(indent);
                self.put("]");
            }
            ValueForm::List(items) => self.filled(&mut items.iter().cloned(), after),
            // A pair is never parted.
            ValueForm::Numbers { round: true, .. } => {
                let mut pair = String::new();
                self.flat(value, usize::MAX / 8, &mut pair);
                self.put(&pair);
            }
            ValueForm::Numbers { round: false, .. } => self.filled(&mut numbers(self.text, value.span), after),
            _ => self.put(value.span.of(self.text)),
        }
    }

    /// Fields under one another's beginning, as many on a line as fit.
    fn fields(&mut self, fields: &FieldList, after: usize) {
        self.put(fields.name.map_or("", |name| name.of(self.text)));
        self.put("(");
        let indent = self.column;
        for (index, field) in fields.entries.iter().enumerate() {
            let last = index + 1 == fields.entries.len();
            let after = if last { after + 1 } else { 1 };
            let key = field.key.of(self.text);
            if index > 0 {
                let room = WIDTH.saturating_sub(self.column + key.len() + 3 + after);
                let mut flat = String::new();
                if !is_table(&field.value) && self.flat(&field.value, room, &mut flat) {
                    self.put(" ");
                } else {
                    self.line();
                    self.indent(indent);
                }
            }
            self.put(key);
            self.put(": ");
            self.value(&field.value, indent, after);
            if !last {
                self.put(",");
            }
        }
        self.put(")");
    }

    /// Values in square brackets, as many on a line as fit.
    fn filled(&mut self, items: &mut dyn Iterator<Item = Value>, after: usize) {
        self.put("[");
        let indent = self.column;
        let mut items = items.peekable();
        let mut first = true;
        while let Some(item) = items.next() {
            let after = if items.peek().is_none() { after + 1 } else { 1 };
            let mut flat = String::new();
            let room = WIDTH.saturating_sub(self.column + 1 + after);
            let fits = self.flat(&item, room, &mut flat);
            if !first {
                if fits {
                    self.put(" ");
                } else {
                    self.line();
                    self.indent(indent);
                }
            }
            first = false;
            self.value(&item, indent, after);
            if items.peek().is_some() {
                self.put(",");
            }
        }
        self.put("]");
    }

    /// A row of posts, all on one line.
    fn row(&mut self, row: &Value) {
        let mut line = String::from("[");
        for (index, post) in numbers(self.text, row.span).enumerate() {
            if index > 0 {
                line.push_str(", ");
            }
            let post = post.span.of(self.text);
            line.push_str(post.strip_suffix(".0").unwrap_or(post));
        }
        line.push(']');
        self.put(&line);
    }

    /// Writes a value on one line; false once it is longer than the room.
    fn flat(&self, value: &Value, room: usize, out: &mut String) -> bool {
        if out.len() > 4 * room {
            return false;
        }
        let separate = |out: &mut String, index: usize| {
            if index > 0 {
                out.push_str(", ");
            }
        };
        match &value.form {
            ValueForm::Fields(fields) => {
                out.push_str(fields.name.map_or("", |name| name.of(self.text)));
                out.push('(');
                for (index, field) in fields.entries.iter().enumerate() {
                    separate(out, index);
                    out.push_str(field.key.of(self.text));
                    out.push_str(": ");
                    if !self.flat(&field.value, room, out) {
                        return false;
                    }
                }
                out.push(')');
            }
            ValueForm::Items(items) => {
                out.push_str(items.name.map_or("", |name| name.of(self.text)));
                out.push('(');
                for (index, item) in items.items.iter().enumerate() {
                    separate(out, index);
                    if !self.flat(item, room, out) {
                        return false;
                    }
                }
                out.push(')');
            }
            ValueForm::List(items) => {
                out.push('[');
                for (index, item) in items.iter().enumerate() {
                    separate(out, index);
                    if !self.flat(item, room, out) {
                        return false;
                    }
                }
                out.push(']');
            }
            ValueForm::Numbers { round, .. } => {
                out.push(if *round { '(' } else { '[' });
                for (index, number) in numbers(self.text, value.span).enumerate() {
                    separate(out, index);
                    out.push_str(number.span.of(self.text));
                    if out.len() > 4 * room {
                        return false;
                    }
                }
                out.push(if *round { ')' } else { ']' });
            }
            _ => out.push_str(value.span.of(self.text)),
        }
        out.chars().count() <= room
    }
}

/// Whether a list is one of things that each have a line of their own: entries with fields, or rows of posts.
fn is_table(value: &Value) -> bool {
    match &value.form {
        ValueForm::List(items) => items
            .first()
            .is_some_and(|first| matches!(first.form, ValueForm::Fields(_) | ValueForm::Numbers { round: false, .. })),
        _ => false,
    }
}
