//! How does a value in a file become another one with as few bytes changed as can be?
//!
//! Three trees are laid side by side: the value as it stands in the file, what was read from it, and what is wanted. Only
//! where the last two differ is the first one changed, so that what a person spelt out, left out or wrote beside it stays.
//! Fields are added once everything else is changed, so that no two changes meet.

use serde::Serialize;

use crate::site::Stance;
use crate::site::value_tree::{FieldList, Span, Value, ValueForm, numbers, walk_text};
use crate::site::write::{compact, written_value};

use super::entries::{Entries, Piece, Splice, column_of, indent_of, line_break, spliced};

/// What begins farther to the right is not wrapped under its own beginning.
const FARTHEST_COLUMN: usize = 80;

/// A value in RON on one line, with its tree.
pub(super) struct Plain {
    text: String,
    root: Value,
}

impl Plain {
    pub(super) fn of<T: Serialize>(value: &T) -> Self {
        let text = compact(value);
        let root = walk_text(&text, 0).root;
        let whole = Value { span: Span::new(0, text.len()), form: ValueForm::Strange };
        Self { root: root.unwrap_or(whole), text }
    }

    /// A stance without the settings that a file need not give.
    pub(super) fn of_stance(stance: &Stance) -> Self {
        let mut plain = Self::of(stance);
        let usual = Self::of(&Stance::plain("", stance.at));
        let is_usual = |name: &str, value: &str| {
            !["name", "at", "lens"].contains(&name)
                && usual.root.field(name, &usual.text).is_some_and(|field| field.value.span.of(&usual.text) == value)
        };
        if let ValueForm::Fields(fields) = &mut plain.root.form {
            let text = &plain.text;
            fields.entries.retain(|field| !is_usual(field.key.name_in(text), field.value.span.of(text)));
        }
        plain
    }

    /// As it is written in a file at this column.
    pub(super) fn written(&self, column: usize, line_break: &str) -> String {
        self.at(&self.root).written(column, line_break)
    }

    fn at<'a>(&'a self, value: &'a Value) -> Part<'a> {
        Part { text: &self.text, value }
    }
}

/// A value of a [`Plain`].
#[derive(Clone, Copy)]
struct Part<'a> {
    text: &'a str,
    value: &'a Value,
}

impl<'a> Part<'a> {
    fn with(self, value: &'a Value) -> Self {
        Self { value, ..self }
    }

    fn words(self) -> &'a str {
        self.value.span.of(self.text)
    }

    fn name(self) -> Option<&'a str> {
        self.value.name().map(|name| name.name_in(self.text))
    }

    fn field(self, name: &str) -> Option<Self> {
        self.value.field(name, self.text).map(|field| self.with(&field.value))
    }

    fn written(self, column: usize, line_break: &str) -> String {
        // A line break of a text is written as an escape, so these are all between values.
        written_value(self.text, self.value, column).replace('\n', line_break)
    }
}

/// The text with `old`, from which `before` was read, made to read as `after`; `find` finds the value anew after a change.
pub(super) fn rewritten(text: &str, find: impl Fn(&str) -> Option<Value>, before: &Plain, after: &Plain) -> String {
    let mut text = text.to_owned();
    for pass in [Pass::Changes, Pass::Additions] {
        let Some(old) = find(&text) else { return text };
        let mut rewrite = Rewrite { text: &text, pass, line_break: line_break(&text), splices: Vec::new() };
        rewrite.value(&old, before.at(&before.root), after.at(&after.root));
        text = spliced(&text, rewrite.splices);
    }
    text
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Pass {
    /// Values change, fields and entries of lists go, entries of lists come.
    Changes,
    /// Fields come.
    Additions,
}

struct Rewrite<'t> {
    text: &'t str,
    pass: Pass,
    line_break: &'static str,
    splices: Vec<Splice>,
}

impl Rewrite<'_> {
    fn value(&mut self, old: &Value, before: Part<'_>, after: Part<'_>) {
        if before.words() == after.words() {
            return;
        }
        if old.is_some_in(self.text)
            && let Some(inner) = old.wrapped()
        {
            return self.value(inner, before, after);
        }
        // `Grid(south_west: …)` is read as `Grid((south_west: …))` is.
        if let (ValueForm::Fields(_), Some(was), Some(now)) = (&old.form, before.value.wrapped(), after.value.wrapped())
            && before.name() == after.name()
        {
            return self.value(old, before.with(was), after.with(now));
        }
        if before.name() != after.name() {
            return self.replace(old, after);
        }
        match (&old.form, &before.value.form, &after.value.form) {
            (ValueForm::Fields(old_fields), ValueForm::Fields(was), ValueForm::Fields(now)) => {
                self.fields(old, old_fields, (before, was), (after, now));
            }
            // Brackets with nothing in them have no field names either.
            (_, ValueForm::Fields(_), _) | (_, _, ValueForm::Fields(_)) => self.replace(old, after),
            (ValueForm::Items(_) | ValueForm::Numbers { round: true, .. }, _, _) => {
                let (old_items, was, now) = (items(old, self.text), before.items(), after.items());
                if old_items.len() == was.len() && was.len() == now.len() {
                    self.pairs(&old_items, (before, &was), (after, &now));
                } else {
                    self.replace(old, after);
                }
            }
            (ValueForm::List(_) | ValueForm::Numbers { round: false, .. }, _, _) => {
                let (old_items, was, now) = (items(old, self.text), before.items(), after.items());
                // Once the changes are made, a list whose length changed reads as is wanted.
                if was.len() == now.len() && old_items.len() == was.len() {
                    self.pairs(&old_items, (before, &was), (after, &now));
                } else if old_items.len() == was.len() {
                    self.list(old, &old_items, (before, &was), (after, &now));
                } else {
                    self.replace(old, after);
                }
            }
            (
                ValueForm::Fields(_) | ValueForm::Number | ValueForm::Word | ValueForm::Text | ValueForm::Strange,
                _,
                _,
            ) => self.replace(old, after),
        }
    }

    fn replace(&mut self, old: &Value, after: Part<'_>) {
        if self.pass == Pass::Additions {
            return;
        }
        let was = old.span.of(self.text);
        let at = old.span.start as usize;
        let column = match column_of(self.text, at) {
            far if far > FARTHEST_COLUMN => indent_of(self.text, at) + 4,
            column => column,
        };
        let mut text = after.written(column, self.line_break);
        // A person who writes whole metres goes on to read whole metres.
        if matches!(old.form, ValueForm::Number)
            && was.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'-' | b'+'))
            && let Some(whole) = text.strip_suffix(".0")
        {
            text = whole.to_owned();
        }
        self.splices.push(Splice { place: old.span.range(), text });
    }

    fn pairs(&mut self, old: &[Value], (before, was): (Part<'_>, &[Value]), (after, now): (Part<'_>, &[Value])) {
        for ((old, was), now) in old.iter().zip(was).zip(now) {
            self.value(old, before.with(was), after.with(now));
        }
    }

    fn fields(
        &mut self,
        old: &Value,
        old_fields: &FieldList,
        (before, was): (Part<'_>, &FieldList),
        (after, now): (Part<'_>, &FieldList),
    ) {
        let entries = Entries::of(old, self.text);
        let number_of = |name: &str| old_fields.entries.iter().position(|field| field.key.name_in(self.text) == name);
        let mut added: Vec<(usize, Vec<Piece>)> = Vec::new();
        let mut behind = None;
        for field in &now.entries {
            let name = field.key.name_in(after.text);
            let (now, was) = (after.with(&field.value), before.field(name));
            match number_of(name) {
                Some(index) => {
                    behind = Some(index);
                    let old = &old_fields.entries[index].value;
                    match was {
                        Some(was) => self.value(old, was, now),
                        // Spelt out in the file, though it says what is usual.
                        None => self.replace(old, now),
                    }
                }
                None if self.pass == Pass::Additions && was.map(Part::words) != Some(now.words()) => {
                    let at = behind.map_or(0, |index| index + 1);
                    let column = entries.layout(at, false).indent + name.len() + 2;
                    let piece = Piece::from(format!("{name}: {}", now.written(column, self.line_break)));
                    match added.last_mut() {
                        Some((last, pieces)) if *last == at => pieces.push(piece),
                        _ => added.push((at, vec![piece])),
                    }
                }
                None => {}
            }
        }
        match self.pass {
            Pass::Changes => {
                let gone = was.entries.iter().map(|field| field.key.name_in(before.text));
                let gone: Vec<usize> = gone.filter(|name| after.field(name).is_none()).filter_map(number_of).collect();
                self.splices.extend(entries.removal(&gone));
            }
            Pass::Additions => {
                for (at, pieces) in added {
                    self.splices.extend(entries.insertion(at, entries.layout(at, false), &pieces));
                }
            }
        }
    }

    /// A list that became longer or shorter: what is the same at both ends stays.
    fn list(
        &mut self,
        old: &Value,
        old_items: &[Value],
        (before, was): (Part<'_>, &[Value]),
        (after, now): (Part<'_>, &[Value]),
    ) {
        if self.pass == Pass::Additions {
            return;
        }
        let same = |(was, now): &(&Value, &Value)| before.with(was).words() == after.with(now).words();
        let head = was.iter().zip(now).take_while(same).count();
        let most = was.len().min(now.len()) - head;
        let tail = was.iter().rev().zip(now.iter().rev()).take(most).take_while(same).count();
        let (gone, come) = (was.len() - tail - head, now.len() - tail - head);
        let kept = gone.min(come);
        for index in head..head + kept {
            self.replace(&old_items[index], after.with(&now[index]));
        }
        let entries = Entries::of(old, self.text);
        if gone > kept {
            self.splices.extend(entries.removal(&(head + kept..head + gone).collect::<Vec<_>>()));
        } else {
            let at = head + kept;
            let layout = entries.layout(at, false);
            let pieces: Vec<Piece> = now[at..head + come]
                .iter()
                .map(|item| after.with(item).written(layout.indent, self.line_break).into())
                .collect();
            self.splices.extend(entries.insertion(at, layout, &pieces));
        }
    }
}

impl Part<'_> {
    fn items(self) -> Vec<Value> {
        items(self.value, self.text)
    }
}

/// What stands in brackets without field names.
fn items(value: &Value, text: &str) -> Vec<Value> {
    match &value.form {
        ValueForm::Numbers { .. } => numbers(text, value.span).collect(),
        ValueForm::List(items) => items.to_vec(),
        ValueForm::Items(items) => items.items.clone(),
        ValueForm::Fields(_) | ValueForm::Number | ValueForm::Word | ValueForm::Text | ValueForm::Strange => Vec::new(),
    }
}
