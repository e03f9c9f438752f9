//! Where in the text of a site file does each value stand?
//!
//! The text is walked once, from front to back, into a tree of places: fields, lists, tuples and single values, with
//! comments and blanks between them passed over. Whether a value *means* anything is not asked here. Small slips (a
//! missing comma or colon) are noted and the walk goes on, so that the rest of the file is still looked at.

/// How deep brackets may stand in one another; a site needs eight.
pub(super) const DEEPEST: usize = 64;
/// How many single values a file may hold; a terrain of four million posts and 100 000 blocks fit.
pub(super) const MOST_VALUES: usize = 10_000_000;
/// How many slips are noted before the walk gives up.
const MOST_SLIPS: usize = 100;

/// A stretch of the text, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Span {
    pub(super) start: u32,
    pub(super) end: u32,
}

impl Span {
    pub(super) fn new(start: usize, end: usize) -> Self {
        // A longer text than `u32` counts is refused before it is walked.
        Self { start: start as u32, end: end as u32 }
    }

    pub(super) fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }

    pub(super) fn of(self, text: &str) -> &str {
        text.get(self.range()).unwrap_or_default()
    }

    /// A name without the `r#` that RON allows before it.
    pub(super) fn name_in(self, text: &str) -> &str {
        let name = self.of(text);
        name.strip_prefix("r#").unwrap_or(name)
    }
}

/// A value and where it stands, with the name before its brackets.
#[derive(Clone, Debug)]
pub(super) struct Value {
    pub(super) span: Span,
    pub(super) form: ValueForm,
}

/// What a value looks like from outside.
#[derive(Clone, Debug)]
pub(super) enum ValueForm {
    /// Digits, a sign or a point to begin with.
    Number,
    /// A name without brackets: `true`, `None`, `Fill`, `NaN`.
    Word,
    /// A text in quotes.
    Text,
    /// Something that RON knows and a site file has no use for.
    Strange,
    /// Nothing but numbers in brackets, round or square; they are found again with [`numbers`].
    Numbers { round: bool, count: u32 },
    /// Round brackets with field names inside.
    Fields(Box<FieldList>),
    /// Round brackets without field names inside.
    Items(Box<Items>),
    /// Square brackets.
    List(Box<[Value]>),
}

/// `Name(key: value, …)`.
#[derive(Clone, Debug)]
pub(super) struct FieldList {
    pub(super) name: Option<Span>,
    pub(super) entries: Vec<Field>,
}

/// `key: value`.
#[derive(Clone, Debug)]
pub(super) struct Field {
    pub(super) key: Span,
    pub(super) value: Value,
}

/// `Name(value, …)`.
#[derive(Clone, Debug)]
pub(super) struct Items {
    pub(super) name: Option<Span>,
    pub(super) items: Vec<Value>,
}

impl Value {
    /// The fields, where it has any.
    pub(super) fn fields(&self) -> &[Field] {
        match &self.form {
            ValueForm::Fields(fields) => &fields.entries,
            _ => &[],
        }
    }

    /// The first field of this name.
    pub(super) fn field<'a>(&'a self, name: &str, text: &str) -> Option<&'a Field> {
        self.fields().iter().find(|field| field.key.name_in(text) == name)
    }

    /// The name before the brackets.
    pub(super) fn name(&self) -> Option<Span> {
        match &self.form {
            ValueForm::Fields(fields) => fields.name,
            ValueForm::Items(items) => items.name,
            _ => None,
        }
    }

    /// The value inside `Some(…)`, `Grid((…))` and the like: a single one in named round brackets.
    pub(super) fn wrapped(&self) -> Option<&Value> {
        match &self.form {
            ValueForm::Items(items) if items.name.is_some() && items.items.len() == 1 => items.items.first(),
            _ => None,
        }
    }

    /// Whether it is written as `Some(…)`.
    pub(super) fn is_some_in(&self, text: &str) -> bool {
        self.name().is_some_and(|name| name.name_in(text) == "Some")
    }

    /// How many values stand in these brackets.
    pub(super) fn count(&self) -> usize {
        match &self.form {
            ValueForm::Numbers { count, .. } => *count as usize,
            ValueForm::List(items) => items.len(),
            ValueForm::Items(items) => items.items.len(),
            ValueForm::Fields(fields) => fields.entries.len(),
            _ => 0,
        }
    }

    /// The place of the value with this number in brackets.
    pub(super) fn item(&self, index: usize, text: &str) -> Option<Value> {
        match &self.form {
            ValueForm::Numbers { .. } => numbers(text, self.span).nth(index),
            ValueForm::List(items) => items.get(index).cloned(),
            ValueForm::Items(items) => items.items.get(index).cloned(),
            _ => None,
        }
    }

    /// Its opening bracket with the name before it; the whole of it where it has none.
    pub(super) fn head(&self, text: &str) -> Span {
        let start = self.span.start as usize;
        let from = self.name().map_or(start, |name| name.end as usize);
        let bracket = match self.form {
            ValueForm::Fields(_) | ValueForm::Items(_) | ValueForm::List(_) | ValueForm::Numbers { .. } => {
                // Only blanks and comments stand between the name and its bracket.
                let mut walk = Parser::new(text, from);
                walk.blank().is_ok().then_some(walk.at + 1)
            }
            _ => None,
        };
        Span::new(start, bracket.unwrap_or(self.span.end as usize).min(self.span.end as usize))
    }
}

/// The places of the numbers in brackets that hold nothing else.
pub(super) fn numbers(text: &str, brackets: Span) -> impl Iterator<Item = Value> + '_ {
    let mut walk = Parser::new(text, brackets.start as usize + 1);
    std::iter::from_fn(move || {
        loop {
            walk.blank().ok()?;
            if walk.peek() == Some(b',') {
                walk.at += 1;
            } else {
                break;
            }
        }
        is_number_start(walk.peek()?).then(|| walk.number())
    })
}

/// The first byte from `at` on that is neither blank nor comment; the end of the text where there is none.
pub(super) fn blank_until(text: &str, at: usize) -> usize {
    let mut walk = Parser::new(text, at);
    // A comment that is never closed reaches to the end.
    match walk.blank() {
        Ok(()) => walk.at,
        Err(GivenUp) => text.len(),
    }
}

/// A slip in the writing.
#[derive(Clone, Debug)]
pub(super) struct Slip {
    pub(super) span: Span,
    /// What is wrong, as a sentence without its stop.
    pub(super) fault: String,
    /// How it is mended; may be empty.
    pub(super) help: String,
}

/// A text that was walked through.
#[derive(Debug)]
pub(super) struct Tree {
    /// The outermost value; absent where the writing is so broken that the end was not reached.
    pub(super) root: Option<Value>,
    /// What was wrong with the writing.
    pub(super) slips: Vec<Slip>,
}

/// Walks the text from `start` to its end.
pub(super) fn walk_text(text: &str, start: usize) -> Tree {
    let mut walk = Parser::new(text, start);
    let root = walk.document().ok();
    Tree { root, slips: walk.slips }
}

/// The walk was given up; why is in the slips.
struct GivenUp;

/// What stands in round brackets so far.
enum Inside {
    Nothing,
    Fields(Vec<Field>),
    Values(Values),
}

/// A growing list that keeps no places as long as it holds nothing but numbers.
#[derive(Default)]
struct Values {
    count: u32,
    kept: Option<Vec<Value>>,
}

struct Parser<'a> {
    text: &'a str,
    bytes: &'a [u8],
    at: usize,
    count: usize,
    slips: Vec<Slip>,
}

impl<'a> Parser<'a> {
    fn new(text: &'a str, at: usize) -> Self {
        Self { text, bytes: text.as_bytes(), at, count: 0, slips: Vec::new() }
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn character(&self) -> Option<char> {
        self.text.get(self.at..)?.chars().next()
    }

    fn starts_with(&self, word: &str) -> bool {
        self.bytes.get(self.at..).is_some_and(|rest| rest.starts_with(word.as_bytes()))
    }

    fn slip(&mut self, span: Span, fault: impl Into<String>, help: impl Into<String>) -> Result<(), GivenUp> {
        self.slips.push(Slip { span, fault: fault.into(), help: help.into() });
        if self.slips.len() < MOST_SLIPS { Ok(()) } else { Err(GivenUp) }
    }

    fn give_up<T>(&mut self, span: Span, fault: impl Into<String>, help: impl Into<String>) -> Result<T, GivenUp> {
        self.slips.push(Slip { span, fault: fault.into(), help: help.into() });
        Err(GivenUp)
    }

    /// The character here, for pointing at it; empty at the end of the text.
    fn here(&self) -> Span {
        Span::new(self.at, self.at + self.character().map_or(0, char::len_utf8))
    }

    fn line_of(&self, at: usize) -> usize {
        1 + self.bytes.iter().take(at).filter(|&&byte| byte == b'\n').count()
    }

    /// Passes over blanks and comments.
    fn blank(&mut self) -> Result<(), GivenUp> {
        loop {
            match self.peek() {
                Some(b' ' | b'\t' | b'\n' | b'\r' | 0x0b | 0x0c) => self.at += 1,
                Some(b'/') if self.starts_with("//") => {
                    let rest = self.bytes.get(self.at..).unwrap_or_default();
                    self.at += rest.iter().position(|&byte| byte == b'\n').unwrap_or(rest.len());
                }
                Some(b'/') if self.starts_with("/*") => self.block_comment()?,
                Some(byte) if byte >= 0x80 => match self.character() {
                    Some(c @ ('\u{85}' | '\u{200E}' | '\u{200F}' | '\u{2028}' | '\u{2029}')) => {
                        self.at += c.len_utf8();
                    }
                    _ => return Ok(()),
                },
                _ => return Ok(()),
            }
        }
    }

    fn block_comment(&mut self) -> Result<(), GivenUp> {
        let opening = Span::new(self.at, self.at + 2);
        let mut level = 0_usize;
        loop {
            if self.starts_with("/*") {
                level += 1;
                self.at += 2;
            } else if self.starts_with("*/") {
                level -= 1;
                self.at += 2;
                if level == 0 {
                    return Ok(());
                }
            } else if self.at < self.bytes.len() {
                self.at += 1;
            } else {
                return self.give_up(opening, "this comment is never closed", "close it with */");
            }
        }
    }

    fn document(&mut self) -> Result<Value, GivenUp> {
        self.blank()?;
        while self.peek() == Some(b'#') {
            self.attribute()?;
            self.blank()?;
        }
        if self.peek().is_none() {
            return self.give_up(
                self.here(),
                "the file holds nothing but blanks and comments",
                "a site begins with Site( and ends with )",
            );
        }
        let root = self.value(0)?;
        self.blank()?;
        if self.peek().is_some() {
            self.slip(self.here(), "something follows after the end of the site", "take it out, or move it inside")?;
        }
        Ok(root)
    }

    /// `#![enable(…)]` and the like; what it says is left to RON itself.
    fn attribute(&mut self) -> Result<(), GivenUp> {
        let opening = self.here();
        let mut open = 0_usize;
        while let Some(byte) = self.peek() {
            match byte {
                b'"' => {
                    self.quoted(b'"')?;
                    continue;
                }
                b'[' => open += 1,
                b']' => {
                    self.at += 1;
                    if open <= 1 {
                        return Ok(());
                    }
                    open -= 1;
                    continue;
                }
                _ => {}
            }
            self.at += 1;
        }
        self.give_up(opening, "this attribute is never closed", "it ends with ]")
    }

    fn value(&mut self, depth: usize) -> Result<Value, GivenUp> {
        self.count += 1;
        if self.count > MOST_VALUES {
            return self.give_up(
                self.here(),
                format!("the file holds more than {MOST_VALUES} values"),
                "thin the terrain out, or split the site",
            );
        }
        if depth > DEEPEST {
            return self.give_up(
                self.here(),
                format!("brackets stand more than {DEEPEST} deep in one another"),
                "a site needs eight",
            );
        }
        let start = self.at;
        match self.peek() {
            None => self.give_up(self.here(), "the text ends where a value is wanted", ""),
            Some(b'(') => self.round(None, start, depth),
            Some(b'[') => self.square(depth),
            Some(b'{') => self.curly(depth),
            Some(b'"') => {
                self.quoted(b'"')?;
                Ok(Value { span: Span::new(start, self.at), form: ValueForm::Text })
            }
            Some(b'\'') => {
                self.quoted(b'\'')?;
                Ok(Value { span: Span::new(start, self.at), form: ValueForm::Strange })
            }
            Some(byte) if is_number_start(byte) => Ok(self.number()),
            Some(b'r') if self.raw_text(1)? => Ok(Value { span: Span::new(start, self.at), form: ValueForm::Text }),
            Some(b'b') if self.byte_text()? => Ok(Value { span: Span::new(start, self.at), form: ValueForm::Strange }),
            Some(_) => match self.word() {
                Some(name) => {
                    let after_name = self.at;
                    self.blank()?;
                    if self.peek() == Some(b'(') {
                        self.round(Some(name), start, depth)
                    } else {
                        self.at = after_name;
                        Ok(Value { span: name, form: ValueForm::Word })
                    }
                }
                None => {
                    let fault = match self.character() {
                        Some(c) => format!("{} stands where a value is wanted", shown(c)),
                        None => "a value is wanted here".into(),
                    };
                    self.give_up(self.here(), fault, "")
                }
            },
        }
    }

    fn number(&mut self) -> Value {
        let start = self.at;
        while self.peek().is_some_and(is_number_byte) {
            self.at += 1;
        }
        Value { span: Span::new(start, self.at), form: ValueForm::Number }
    }

    /// A name, with `r#` before it or not. What is no ASCII and no blank counts as part of it, so that a wrong letter is
    /// reported as a wrong name.
    fn word(&mut self) -> Option<Span> {
        let start = self.at;
        let raw = self.starts_with("r#");
        if raw {
            self.at += 2;
        }
        let first = self.at;
        while let Some(byte) = self.peek() {
            if byte.is_ascii_alphabetic() || byte == b'_' {
                self.at += 1;
            } else if byte.is_ascii_digit() || (raw && matches!(byte, b'.' | b'+' | b'-')) {
                if self.at == first && !raw {
                    break;
                }
                self.at += 1;
            } else if byte >= 0x80 {
                match self.character() {
                    Some('\u{85}' | '\u{200E}' | '\u{200F}' | '\u{2028}' | '\u{2029}') | None => break,
                    Some(c) if !c.is_alphanumeric() && self.at == first => break,
                    Some(c) => self.at += c.len_utf8(),
                }
            } else {
                break;
            }
        }
        if self.at == first {
            self.at = start;
            return None;
        }
        Some(Span::new(start, self.at))
    }

    /// A text in quotes, or a character; escapes are only passed over.
    fn quoted(&mut self, quote: u8) -> Result<(), GivenUp> {
        let opening = Span::new(self.at, self.at + 1);
        self.at += 1;
        // '"' alone is a character: its quote is the third byte.
        while let Some(byte) = self.peek() {
            self.at += 1;
            if byte == quote {
                return Ok(());
            }
            if byte == b'\\' && self.at < self.bytes.len() {
                self.at += self.character().map_or(1, char::len_utf8);
            }
        }
        self.give_up(opening, "this text is never closed", format!("close it with {}", char::from(quote)))
    }

    /// `r"…"` or `r#"…"#`, after a prefix of so many bytes; false, and nothing passed over, where none begins here.
    fn raw_text(&mut self, prefix: usize) -> Result<bool, GivenUp> {
        let rest = self.bytes.get(self.at + prefix..).unwrap_or_default();
        let hashes = rest.iter().take_while(|&&byte| byte == b'#').count();
        if rest.get(hashes) != Some(&b'"') {
            return Ok(false);
        }
        let opening = Span::new(self.at, self.at + prefix + hashes + 1);
        let inside = self.at + prefix + hashes + 1;
        let ending = format!("\"{}", "#".repeat(hashes));
        match self.text.get(inside..).and_then(|inside| inside.find(&ending)) {
            Some(length) => {
                self.at = inside + length + ending.len();
                Ok(true)
            }
            None => self.give_up(opening, "this text is never closed", format!("close it with {ending}")),
        }
    }

    /// A byte or a text of bytes; false where none begins here.
    fn byte_text(&mut self) -> Result<bool, GivenUp> {
        if self.starts_with("b\"") || self.starts_with("b'") {
            self.at += 1;
            self.quoted(self.peek().unwrap_or(b'"'))?;
            return Ok(true);
        }
        if self.starts_with("br") { self.raw_text(2) } else { Ok(false) }
    }

    fn round(&mut self, name: Option<Span>, start: usize, depth: usize) -> Result<Value, GivenUp> {
        let opening = self.at;
        self.at += 1;
        let mut inside = Inside::Nothing;
        loop {
            self.blank()?;
            if self.closes(b')', opening)? {
                break;
            }
            let entry = self.at;
            let key = self.key(matches!(inside, Inside::Values(_)))?;
            let value = self.value(depth + 1)?;
            match (key, &mut inside) {
                (Some(key), Inside::Nothing) => inside = Inside::Fields(vec![Field { key, value }]),
                (Some(key), Inside::Fields(fields)) => fields.push(Field { key, value }),
                (None, Inside::Nothing) => {
                    let mut values = Values::default();
                    values.push(value, name.is_none(), self.text, opening);
                    inside = Inside::Values(values);
                }
                (None, Inside::Values(values)) => values.push(value, name.is_none(), self.text, opening),
                (None, Inside::Fields(_)) => self.slip(
                    value.span,
                    "this value has no field name before it",
                    "write the name and a colon: height_m: 4.0",
                )?,
                (Some(key), Inside::Values(_)) => {
                    self.slip(key, "a field name stands among values that have none", "")?;
                }
            }
            self.separator(b')', entry)?;
        }
        let span = Span::new(start, self.at);
        let form = match inside {
            Inside::Nothing => ValueForm::Items(Box::new(Items { name, items: Vec::new() })),
            Inside::Fields(entries) => ValueForm::Fields(Box::new(FieldList { name, entries })),
            Inside::Values(values) => match values.kept {
                Some(items) => ValueForm::Items(Box::new(Items { name, items })),
                None => ValueForm::Numbers { round: true, count: values.count },
            },
        };
        Ok(Value { span, form })
    }

    /// The field name that begins here, passed over with its colon.
    fn key(&mut self, among_values: bool) -> Result<Option<Span>, GivenUp> {
        let start = self.at;
        // A text or byte may begin with a letter too.
        let quoted = ["r\"", "r#\"", "r##", "b\"", "b'", "br\"", "br#"].iter().any(|start| self.starts_with(start));
        let Some(name) = (!quoted).then(|| self.word()).flatten() else { return Ok(None) };
        self.blank()?;
        match self.peek() {
            Some(b':') => self.at += 1,
            Some(b'=') => {
                self.slip(self.here(), "'=' stands where a colon is wanted", "write ':'")?;
                self.at += 1;
            }
            Some(byte) if !among_values && byte != b'(' && starts_value(byte) => {
                let fault = format!("a colon is missing after '{}'", short(name.of(self.text)));
                self.slip(name, fault, "write the name, a colon and the value: height_m: 4.0")?;
            }
            _ => {
                self.at = start;
                return Ok(None);
            }
        }
        self.blank()?;
        Ok(Some(name))
    }

    fn square(&mut self, depth: usize) -> Result<Value, GivenUp> {
        let opening = self.at;
        self.at += 1;
        let mut values = Values::default();
        loop {
            self.blank()?;
            if self.closes(b']', opening)? {
                break;
            }
            let entry = self.at;
            let value = self.value(depth + 1)?;
            values.push(value, true, self.text, opening);
            self.separator(b']', entry)?;
        }
        let span = Span::new(opening, self.at);
        let form = match values.kept {
            Some(items) => ValueForm::List(items.into_boxed_slice()),
            None if values.count == 0 => ValueForm::List(Box::default()),
            None => ValueForm::Numbers { round: false, count: values.count },
        };
        Ok(Value { span, form })
    }

    /// A map, which no site has use for: its end is found, its content dropped.
    fn curly(&mut self, depth: usize) -> Result<Value, GivenUp> {
        let opening = self.at;
        self.at += 1;
        loop {
            self.blank()?;
            if self.closes(b'}', opening)? {
                break;
            }
            let entry = self.at;
            self.value(depth + 1)?;
            self.blank()?;
            if self.peek() == Some(b':') {
                self.at += 1;
                self.blank()?;
                self.value(depth + 1)?;
            }
            self.separator(b'}', entry)?;
        }
        Ok(Value { span: Span::new(opening, self.at), form: ValueForm::Strange })
    }

    /// Whether the bracket closes here; passes over it then.
    fn closes(&mut self, closing: u8, opening: usize) -> Result<bool, GivenUp> {
        let opened = char::from(self.bytes.get(opening).copied().unwrap_or(b'('));
        match self.peek() {
            Some(byte) if byte == closing => {
                self.at += 1;
                Ok(true)
            }
            Some(byte @ (b')' | b']' | b'}')) => {
                let fault = format!(
                    "'{}' stands where the '{opened}' of line {} wants '{}'",
                    char::from(byte),
                    self.line_of(opening),
                    char::from(closing),
                );
                self.give_up(self.here(), fault, "a bracket is missing before it, or this one is too many")
            }
            None => self.give_up(
                Span::new(opening, opening + 1),
                format!("this '{opened}' is never closed"),
                format!("the text ends before its '{}'", char::from(closing)),
            ),
            _ => Ok(false),
        }
    }

    /// The comma after an entry that began at `entry`.
    fn separator(&mut self, closing: u8, entry: usize) -> Result<(), GivenUp> {
        let end = self.at;
        self.blank()?;
        match self.peek() {
            Some(b',') => {
                self.at += 1;
                Ok(())
            }
            None | Some(b')' | b']' | b'}') => Ok(()),
            Some(byte) if starts_value(byte) => {
                // The last character before the gap, so that the mark stands where the comma goes.
                let before = self.text.get(entry..end).and_then(|entry| entry.chars().next_back());
                let last = Span::new(end - before.map_or(0, char::len_utf8), end);
                self.slip(last, "a comma is missing after this", "")
            }
            Some(_) => {
                let fault = match self.character() {
                    Some(c) => {
                        format!("{} stands where a comma or '{}' is wanted", shown(c), char::from(closing))
                    }
                    None => "a comma is wanted here".into(),
                };
                self.give_up(self.here(), fault, "")
            }
        }
    }
}

impl Values {
    fn push(&mut self, value: Value, may_fold: bool, text: &str, opening: usize) {
        match &mut self.kept {
            Some(kept) => kept.push(value),
            None if may_fold && matches!(value.form, ValueForm::Number) => self.count += 1,
            None => {
                let mut kept: Vec<Value> =
                    numbers(text, Span::new(opening, opening + 1)).take(self.count as usize).collect();
                kept.push(value);
                self.kept = Some(kept);
            }
        }
    }
}

fn is_number_start(byte: u8) -> bool {
    byte.is_ascii_digit() || matches!(byte, b'+' | b'-' | b'.')
}

fn is_number_byte(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'+' | b'-' | b'.' | b'_')
}

fn starts_value(byte: u8) -> bool {
    byte.is_ascii_alphanumeric()
        || byte >= 0x80
        || matches!(byte, b'(' | b'[' | b'{' | b'"' | b'\'' | b'+' | b'-' | b'.' | b'_')
}

/// A character for a message, named by its number where it cannot be seen.
fn shown(c: char) -> String {
    if c.is_control() || c.is_whitespace() || c == '\u{feff}' {
        format!("the character U+{:04X}", u32::from(c))
    } else {
        format!("'{c}'")
    }
}

/// Text from a file for a message: on one line, without control characters, cut where it is long.
pub(super) fn short(text: &str) -> String {
    const MOST: usize = 48;
    let mut out = String::new();
    for (index, c) in text.chars().enumerate() {
        if index == MOST {
            out.push('…');
            break;
        }
        if c.is_control() {
            out.push(' ');
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(text: &str) -> Value {
        let tree = walk_text(text, 0);
        assert!(tree.slips.is_empty(), "{text}: {:?}", tree.slips);
        tree.root.expect("a value")
    }

    fn slips(text: &str) -> Vec<(String, String)> {
        walk_text(text, 0).slips.into_iter().map(|slip| (slip.span.of(text).to_owned(), slip.fault)).collect()
    }

    #[test]
    fn places_are_found_through_comments_and_odd_texts() {
        let text = r###"#![enable(implicit_some)] // first ')'
            /* nested /* ( */ [ */
            Site ( /* , */ name : "a \" ) \\", r#kind: r##"raw "# ) "##, at: (1, -2.5e3 /* ( */,), c: '\'', d: '"',
                list: [ 1, 2, /* 3, */ x, (4, 5) ], rows: [[1,2],[3,4,]], last: Some(1), e: b"\")", f: {"a": 1})"###;
        let root = whole(text);
        assert_eq!(root.name().map(|name| name.of(text)), Some("Site"));
        assert_eq!(root.head(text).of(text), "Site (");
        let value = |name: &str| root.field(name, text).map(|field| field.value.span.of(text));
        assert_eq!(value("name"), Some(r#""a \" ) \\""#));
        assert_eq!(value("kind"), Some(r###"r##"raw "# ) "##"###));
        assert_eq!(value("d"), Some("'\"'"));
        let at = &root.field("at", text).expect("at").value;
        assert!(matches!(at.form, ValueForm::Numbers { round: true, count: 2 }));
        assert_eq!(at.item(1, text).expect("second").span.of(text), "-2.5e3");
        let list = &root.field("list", text).expect("list").value;
        let items: Vec<&str> =
            (0..list.count()).map(|index| list.item(index, text).expect("listed").span.of(text)).collect();
        assert_eq!(items, ["1", "2", "x", "(4, 5)"]);
        let rows = &root.field("rows", text).expect("rows").value;
        assert_eq!(rows.item(1, text).and_then(|row| row.item(1, text)).expect("post").span.of(text), "4");
        assert_eq!(root.field("last", text).and_then(|f| f.value.wrapped()).map(|v| v.span.of(text)), Some("1"));
    }

    #[test]
    fn slips_are_told_and_passed_over() {
        let text = "(a: 1 b: [2 3], c 4, d = 5)";
        let root = walk_text(text, 0).root.expect("walked to the end");
        let keys: Vec<&str> = root.fields().iter().map(|field| field.key.of(text)).collect();
        assert_eq!(keys, ["a", "b", "c", "d"]);
        let places: Vec<String> = slips(text).into_iter().map(|(place, _)| place).collect();
        assert_eq!(places, ["1", "2", "c", "="]);
    }

    #[test]
    fn broken_brackets_are_told_where_they_open() {
        for (text, place) in [
            ("(a: [1, 2)", ")"),
            ("(a: (1, 2)", "("),
            ("(a: \"no end)", "\""),
            ("(a: /* no end)", "/*"),
            ("(a: 1) b", "b"),
            ("(a: ;)", ";"),
            ("(a: 1 ; b: 2)", ";"),
            ("// only this", ""),
            ("#![enable(", "#"),
            ("(a: )", ")"),
            ("(\u{1}: 1)", "\u{1}"),
        ] {
            let found = slips(text);
            assert_eq!(found.last().map(|(place, _)| place.as_str()), Some(place), "{text}: {found:?}");
        }
    }

    #[test]
    fn depth_and_number_of_values_are_bounded() {
        let deep = "(".repeat(100_000);
        assert!(slips(&deep).last().expect("refused").1.contains("64 deep"));
        let deep = "[".repeat(100_000);
        assert!(slips(&deep).last().expect("refused").1.contains("64 deep"));
        let deep = "a(".repeat(100_000);
        assert!(slips(&deep).last().expect("refused").1.contains("64 deep"));
        let many = format!("[{}]", "0,".repeat(MOST_VALUES + 1));
        assert!(slips(&many).last().expect("refused").1.contains("more than"));
    }
}
