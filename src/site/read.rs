//! What is wrong with the values of a site file that RON cannot read?
//!
//! RON stops at the first fault. This reader goes on: it walks the tree of places with the same types as RON does, notes
//! each value that is none of its kind, each unknown field and each missing one, and puts a stand-in where nothing could
//! be read, so that everything else is still looked at. What it makes of a file is never used as a site.
//!
//! A good file is read by `ron` and serde once, and never comes here. `ron` cannot take this file's place for a broken one:
//! it stops at the first fault, gives a position but not the way to the value, and once a field is wrong or missing gives
//! nothing back for its neighbours; read item by item it would still report one fault an item. The file is longer than
//! others because it is one serde `Deserializer`, whose methods belong together.

use std::cell::{Cell, RefCell};

use serde::de::{self, Deserializer, IntoDeserializer, Visitor};

use crate::files::ron_options;
use crate::optics::Kit;

use super::Site;
use super::check::likely;
use super::problem::{Finding, PathStep};
use super::value_tree::{Field, Span, Value, ValueForm, numbers, short};

/// How often one item is read again after something in it was found missing.
const MOST_READINGS: usize = 64;
/// How many findings are kept; the rest is counted.
const MOST_FINDINGS: usize = 2000;

/// The fields of a site, in order. A test holds them to the type.
pub(super) const SITE_FIELDS: [&str; 13] = [
    "format",
    "name",
    "anchor",
    "time_zone",
    "terrain",
    "water_level_m",
    "sun",
    "front",
    "underlay",
    "blocks",
    "grounds",
    "kit",
    "stances",
];
const KIT_FIELDS: [&str; 2] = ["formats", "lenses"];

/// What could be made of a broken site file.
pub(super) struct PartialSite {
    /// The site, with stand-ins where nothing could be read.
    pub(super) site: Site,
    /// What could not be read.
    pub(super) findings: Vec<Finding>,
    /// How many more findings there were.
    pub(super) more: usize,
    /// The ways to what holds a stand-in, in order: nothing can be said of what they lead to.
    pub(super) spoilt: Vec<Vec<PathStep>>,
}

/// Reads as much of a site as can be read.
pub(super) fn read_leniently(root: &Value, text: &str) -> PartialSite {
    let reader = Reader { text, root, found: RefCell::default(), more: Cell::new(0), spoilt: RefCell::default() };
    let fields = reader.known_fields(root, "Site", &SITE_FIELDS, &[]);
    for required in ["format", "name"] {
        if value_of(&fields, required).is_none() {
            reader.note(|| reader.missing(vec![PathStep::Field(required)], root.head(text)));
        }
    }
    let site = Site {
        format: reader.field(&fields, "format").unwrap_or_default(),
        name: reader.field(&fields, "name").unwrap_or_default(),
        anchor: reader.field(&fields, "anchor").flatten(),
        time_zone: reader.field(&fields, "time_zone").flatten(),
        terrain: reader.field(&fields, "terrain").unwrap_or_default(),
        water_level_m: reader.field(&fields, "water_level_m").flatten(),
        sun: reader.field(&fields, "sun").flatten(),
        front: reader.field(&fields, "front").flatten(),
        underlay: reader.field(&fields, "underlay").flatten(),
        blocks: reader.list(value_of(&fields, "blocks"), &[PathStep::Field("blocks")]),
        grounds: reader.list(value_of(&fields, "grounds"), &[PathStep::Field("grounds")]),
        kit: reader.kit(value_of(&fields, "kit")),
        stances: reader.list(value_of(&fields, "stances"), &[PathStep::Field("stances")]),
    };
    let found = reader.found.into_inner();
    let mut spoilt = reader.spoilt.into_inner();
    spoilt.extend(found.iter().filter(|finding| finding.spoils).map(|finding| finding.way.clone()));
    spoilt.sort();
    PartialSite { site, findings: found, more: reader.more.get(), spoilt }
}

type KnownFields<'v> = Vec<(&'static str, &'v Value)>;

fn value_of<'v>(fields: &KnownFields<'v>, name: &str) -> Option<&'v Value> {
    fields.iter().find(|(known, _)| *known == name).map(|&(_, value)| value)
}

/// Whether two ways lie on one another: one leads to the other's end or through it.
pub(super) fn ways_meet(a: &[PathStep], b: &[PathStep]) -> bool {
    a.iter().zip(b).all(|(a, b)| a == b)
}

/// What the value at the end of a way belongs to, in words.
pub(super) fn item_at(way: &[PathStep], root: &Value, text: &str) -> String {
    let what = match way {
        [PathStep::Field("blocks"), PathStep::Item(_), ..] => "block",
        [PathStep::Field("grounds"), PathStep::Item(_), ..] => "ground",
        [PathStep::Field("stances"), PathStep::Item(_), ..] => "stance",
        [PathStep::Field("kit"), PathStep::Field("formats"), PathStep::Item(_), ..] => "format",
        [PathStep::Field("kit"), PathStep::Field("lenses"), PathStep::Item(_), ..] => "lens",
        [PathStep::Field("anchor"), ..] => return "the anchor".into(),
        [PathStep::Field("terrain"), ..] => return "the terrain".into(),
        [PathStep::Field("sun"), ..] => return "the sun".into(),
        [PathStep::Field("front"), ..] => return "the front".into(),
        [PathStep::Field("underlay"), ..] => return "the picture from above".into(),
        [PathStep::Field("kit"), ..] => return "the kit".into(),
        _ => return "the site".into(),
    };
    let mut here = Some(root);
    let mut number = 0;
    for step in way {
        here = match step {
            PathStep::Field(name) => here.and_then(|value| value.field(name, text)).map(|field| &field.value),
            PathStep::Item(index) => {
                number = index + 1;
                here.and_then(|value| match &value.form {
                    ValueForm::List(items) => items.get(*index),
                    _ => None,
                })
            }
        };
        if number > 0 {
            break;
        }
    }
    let name = here
        .and_then(|item| item.field("name", text))
        .and_then(|name| ron_options().from_str::<String>(name.value.span.of(text)).ok())
        .filter(|name| !name.trim().is_empty());
    name.map_or_else(|| format!("{what} {number}"), |name| format!("{what} '{}'", short(&name)))
}

struct Reader<'t> {
    text: &'t str,
    root: &'t Value,
    found: RefCell<Vec<Finding>>,
    more: Cell<usize>,
    /// Ways to items that are stand-ins as a whole.
    spoilt: RefCell<Vec<Vec<PathStep>>>,
}

impl Reader<'_> {
    fn note(&self, finding: impl FnOnce() -> Finding) {
        if self.found.borrow().len() < MOST_FINDINGS {
            let finding = finding();
            self.found.borrow_mut().push(finding);
        } else {
            self.more.set(self.more.get() + 1);
        }
    }

    fn finding(&self, way: Vec<PathStep>, fault: impl Into<String>) -> Finding {
        Finding::new(item_at(&way, self.root, self.text), way, fault)
    }

    fn missing(&self, way: Vec<PathStep>, head: Span) -> Finding {
        let help = match way.last() {
            Some(PathStep::Field(field)) => format!("write {field}: and its value in these brackets"),
            _ => String::new(),
        };
        self.finding(way, "is missing").span(head).help(help)
    }

    fn field<T: de::DeserializeOwned>(&self, fields: &KnownFields<'_>, name: &'static str) -> Option<T> {
        self.item(value_of(fields, name)?, &[PathStep::Field(name)])
    }

    fn kit(&self, value: Option<&Value>) -> Option<Kit> {
        let way = [PathStep::Field("kit")];
        let value = value?;
        if matches!(value.form, ValueForm::Word) {
            return self.item::<Option<Kit>>(value, &way).flatten();
        }
        let value = value.wrapped().filter(|_| value.is_some_in(self.text)).unwrap_or(value);
        let fields = self.known_fields(value, "Kit", &KIT_FIELDS, &way);
        Some(Kit {
            formats: self.list(value_of(&fields, "formats"), &[way[0], PathStep::Field("formats")]),
            lenses: self.list(value_of(&fields, "lenses"), &[way[0], PathStep::Field("lenses")]),
        })
    }

    /// The fields of a struct by name; what is no field is noted.
    fn known_fields<'v>(
        &self,
        value: &'v Value,
        name: &str,
        known: &'static [&'static str],
        way: &[PathStep],
    ) -> Vec<(&'static str, &'v Value)> {
        self.check_name(value, name, way);
        let mut fields: KnownFields<'v> = Vec::new();
        let entries: &[Field] = match &value.form {
            ValueForm::Fields(fields) => &fields.entries,
            ValueForm::Items(items) if items.items.is_empty() => &[],
            _ => {
                self.note(|| {
                    let first = known.first().copied().unwrap_or("name");
                    self.finding(way.to_vec(), format!("is {}", self.kind(value)))
                        .span(self.shown(value))
                        .allowed(format!("fields in round brackets: ({first}: …, …)"))
                });
                &[]
            }
        };
        for Field { key, value } in entries {
            let given = key.name_in(self.text);
            let Some(&field) = known.iter().find(|field| **field == given) else {
                self.note(|| {
                    let mut finding = self
                        .finding(way.to_vec(), format!("has no field '{}'", short(given)))
                        .span(*key)
                        .allowed(listed(known))
                        .help(likely(given, known.iter().copied()));
                    finding.spoils = false;
                    finding
                });
                continue;
            };
            if fields.iter().any(|(known, _)| *known == field) {
                self.note(|| {
                    let mut way = way.to_vec();
                    way.push(PathStep::Field(field));
                    self.finding(way, "is given twice").span(*key).allowed("each field once")
                });
                continue;
            }
            fields.push((field, value));
        }
        fields
    }

    /// The name before the brackets may be left out, but not be another.
    fn check_name(&self, value: &Value, name: &str, way: &[PathStep]) {
        if let Some(given) = value.name()
            && given.name_in(self.text) != name
        {
            self.note(|| {
                let mut finding = self
                    .finding(way.to_vec(), format!("is called '{}'", short(given.name_in(self.text))))
                    .span(given)
                    .allowed(format!("'{name}', or no name before the bracket"));
                finding.spoils = false;
                finding
            });
        }
    }

    /// Every entry of a list of items, each with a stand-in where it could not be read.
    fn list<T: de::DeserializeOwned>(&self, value: Option<&Value>, way: &[PathStep]) -> Vec<T> {
        let Some(value) = value else { return Vec::new() };
        let ValueForm::List(items) = &value.form else {
            self.note(|| {
                self.finding(way.to_vec(), format!("is {}", self.kind(value)))
                    .span(self.shown(value))
                    .allowed("a list of entries with fields: [(…), (…)]")
            });
            return Vec::new();
        };
        let mut list = Vec::with_capacity(items.len());
        for (index, item) in items.iter().enumerate() {
            let mut way = way.to_vec();
            way.push(PathStep::Item(index));
            list.extend(self.item(item, &way));
        }
        list
    }

    /// One value, read again with a stand-in for whatever turns out missing in it, until it holds together.
    fn item<T: de::DeserializeOwned>(&self, value: &Value, way: &[PathStep]) -> Option<T> {
        let before = (self.found.borrow().len(), self.more.get());
        let mut lacking: Vec<Finding> = Vec::new();
        for _ in 0..MOST_READINGS {
            self.found.borrow_mut().truncate(before.0);
            self.more.set(before.1);
            let absent: Vec<&[PathStep]> = lacking.iter().map(|finding| finding.way.as_slice()).collect();
            let place = ValuePath { start: way, parent: None, step: None };
            let look = ValueReader { reader: self, value, place: &place, absent: &absent, nameless: false };
            let stuck = match T::deserialize(look) {
                Ok(read) => {
                    for finding in lacking {
                        // A value that is wrong as a whole because a part of it is no value is reported already.
                        let reported = finding.span.is_none()
                            && self.found.borrow().iter().any(|known| ways_meet(&known.way, &finding.way));
                        if !reported {
                            self.note(|| finding);
                        }
                    }
                    return Some(read);
                }
                Err(stuck) => stuck,
            };
            let mut at = stuck.way.unwrap_or_else(|| way.to_vec());
            let finding = match stuck.why {
                FailureCause::Missing(field, head) => {
                    at.push(PathStep::Field(field));
                    self.missing(at, head.unwrap_or_else(|| value.head(self.text)))
                }
                FailureCause::Other(message) => self.finding(at, "cannot be used").allowed(message),
            };
            if lacking.iter().any(|known| known.way == finding.way) {
                break;
            }
            lacking.push(finding);
        }
        for finding in lacking {
            self.note(|| finding);
        }
        self.spoilt.borrow_mut().push(way.to_vec());
        T::deserialize(StandIn).ok()
    }

    /// What a value is, for a person.
    fn kind(&self, value: &Value) -> String {
        let written = short(value.span.of(self.text));
        match &value.form {
            ValueForm::Number => format!("the number {written}"),
            ValueForm::Word => format!("the word '{written}'"),
            ValueForm::Text => format!("the text {written}"),
            ValueForm::Strange => written,
            ValueForm::Numbers { round: true, count } => format!("{count} numbers in round brackets"),
            ValueForm::Numbers { round: false, count } => format!("a list of {count} numbers"),
            ValueForm::Fields(_) => "a set of fields in round brackets".into(),
            ValueForm::Items(items) => match (items.name, items.items.len()) {
                (Some(name), _) => format!("'{}(…)'", short(name.of(self.text))),
                (None, count) => format!("{count} values in round brackets"),
            },
            ValueForm::List(items) => format!("a list of {}", items.len()),
        }
    }

    /// What of a value is pointed at: all of it where it is short, else where it begins.
    fn shown(&self, value: &Value) -> Span {
        if value.count() > 4 { value.head(self.text) } else { value.span }
    }
}

fn listed(names: &[&str]) -> String {
    match names {
        [] => "nothing".into(),
        [only] => (*only).to_owned(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}

/// The way to a value while it is read.
struct ValuePath<'p> {
    /// The way to the item that is read.
    start: &'p [PathStep],
    parent: Option<&'p ValuePath<'p>>,
    step: Option<PathStep>,
}

impl<'p> ValuePath<'p> {
    fn way(&self) -> Vec<PathStep> {
        let mut below = Vec::new();
        let mut here = Some(self);
        while let Some(place) = here {
            below.extend(place.step);
            here = place.parent;
        }
        self.start.iter().copied().chain(below.into_iter().rev()).collect()
    }

    fn then(&'p self, step: PathStep) -> ValuePath<'p> {
        ValuePath { start: self.start, parent: Some(self), step: Some(step) }
    }
}

/// Why a value does not hold together.
#[derive(Debug)]
enum FailureCause {
    /// A field is missing from the brackets that begin there.
    Missing(&'static str, Option<Span>),
    /// What the value's own type says of it.
    Other(String),
}

/// A reading that got stuck, and where.
#[derive(Debug)]
struct ReadFailure {
    way: Option<Vec<PathStep>>,
    why: FailureCause,
}

impl std::fmt::Display for ReadFailure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.why {
            FailureCause::Missing(field, _) => write!(f, "{field} is missing"),
            FailureCause::Other(message) => f.write_str(message),
        }
    }
}

impl std::error::Error for ReadFailure {}

impl de::Error for ReadFailure {
    fn custom<T: std::fmt::Display>(message: T) -> Self {
        Self { way: None, why: FailureCause::Other(message.to_string()) }
    }

    fn missing_field(field: &'static str) -> Self {
        Self { way: None, why: FailureCause::Missing(field, None) }
    }
}

impl ReadFailure {
    fn at(mut self, place: &ValuePath<'_>) -> Self {
        if self.way.is_none() {
            self.way = Some(place.way());
        }
        self
    }

    fn in_brackets(mut self, place: &ValuePath<'_>, head: Span) -> Self {
        if let (None, FailureCause::Missing(_, at @ None)) = (&self.way, &mut self.why) {
            *at = Some(head);
        }
        self.at(place)
    }
}

/// A look at one value of the tree.
#[derive(Clone, Copy)]
struct ValueReader<'r> {
    reader: &'r Reader<'r>,
    value: &'r Value,
    place: &'r ValuePath<'r>,
    /// The ways to what gets a stand-in.
    absent: &'r [&'r [PathStep]],
    /// Whether the name before the brackets has been read already.
    nameless: bool,
}

impl<'r> ValueReader<'r> {
    fn text(&self) -> &'r str {
        self.value.span.of(self.reader.text)
    }

    fn wrong(&self, allowed: impl Into<String>, help: impl Into<String>) {
        let reader = self.reader;
        reader.note(|| {
            reader
                .finding(self.place.way(), format!("is {}", reader.kind(self.value)))
                .span(reader.shown(self.value))
                .allowed(allowed)
                .help(help)
        });
    }

    fn is_absent(&self) -> bool {
        !self.absent.is_empty() && {
            let way = self.place.way();
            self.absent.contains(&way.as_slice())
        }
    }

    /// Fields of a struct, or of a variant that has some.
    fn visit_fields<'de, V: Visitor<'de>>(
        self,
        name: &str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        let way = self.place.way();
        let mut entries: Vec<(&'static str, Option<&Value>)> = match &self.value.form {
            ValueForm::Fields(_) | ValueForm::Items(_) => self
                .reader
                .known_fields(self.value, name, fields, &way)
                .into_iter()
                .map(|(field, value)| (field, Some(value)))
                .collect(),
            _ => {
                // Told once, as a whole.
                self.reader.known_fields(self.value, name, fields, &way);
                fields.iter().map(|&field| (field, None)).collect()
            }
        };
        if matches!(&self.value.form, ValueForm::Items(items) if !items.items.is_empty()) {
            entries = fields.iter().map(|&field| (field, None)).collect();
        }
        for absent in self.absent {
            if let Some((PathStep::Field(field), start)) = absent.split_last().map(|(last, start)| (*last, start))
                && start == way.as_slice()
                && !entries.iter().any(|(known, _)| *known == field)
            {
                entries.push((field, None));
            }
        }
        let walk = FieldWalk { look: self, entries: entries.into_iter(), next: None };
        visitor.visit_map(walk).map_err(|stuck| stuck.in_brackets(self.place, self.value.head(self.reader.text)))
    }

    fn visit_items<'de, V: Visitor<'de>>(self, visitor: V, wanted: Option<usize>) -> Result<V::Value, ReadFailure> {
        let items: Box<dyn Iterator<Item = ReadItem<'r>>> = match &self.value.form {
            ValueForm::Numbers { .. } => Box::new(numbers(self.reader.text, self.value.span).map(ReadItem::Number)),
            ValueForm::List(items) => Box::new(items.iter().map(ReadItem::Value)),
            ValueForm::Items(items) => Box::new(items.items.iter().map(ReadItem::Value)),
            _ => Box::new(std::iter::empty()),
        };
        visitor.visit_seq(ItemWalk { look: self, items, index: 0, wanted }).map_err(|stuck| stuck.at(self.place))
    }

    fn whole<T: de::DeserializeOwned + Default>(self, allowed: &str) -> T {
        if let (ValueForm::Number, Ok(read)) = (&self.value.form, ron_options().from_str(self.text())) {
            return read;
        }
        self.wrong(allowed, "");
        T::default()
    }

    fn words(self) -> String {
        if let ValueForm::Text = self.value.form {
            match ron_options().from_str(self.text()) {
                Ok(read) => return read,
                Err(error) => {
                    let reader = self.reader;
                    reader.note(|| reader.finding(self.place.way(), "cannot be read").allowed(error.code.to_string()));
                }
            }
        } else {
            self.wrong("a text in double quotes: \"…\"", "");
        }
        String::new()
    }
}

/// A value of a list, kept in the tree or found again.
enum ReadItem<'r> {
    Value(&'r Value),
    Number(Value),
}

macro_rules! whole_numbers {
    ($($method:ident $visit:ident $kind:ty;)*) => {
        $(
            fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
                let allowed = format!("a whole number from {} to {}, without a point", <$kind>::MIN, <$kind>::MAX);
                visitor.$visit(self.whole::<$kind>(&allowed))
            }
        )*
    };
}

impl<'de, 'r> Deserializer<'de> for ValueReader<'r> {
    type Error = ReadFailure;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        match (&self.value.form, self.text()) {
            (ValueForm::Word, "true") => visitor.visit_bool(true),
            (ValueForm::Word, "false") => visitor.visit_bool(false),
            _ => {
                self.wrong("true or false", "");
                visitor.visit_bool(false)
            }
        }
    }

    whole_numbers! {
        deserialize_i8 visit_i8 i8;
        deserialize_i16 visit_i16 i16;
        deserialize_i32 visit_i32 i32;
        deserialize_i64 visit_i64 i64;
        deserialize_u8 visit_u8 u8;
        deserialize_u16 visit_u16 u16;
        deserialize_u32 visit_u32 u32;
        deserialize_u64 visit_u64 u64;
    }

    fn deserialize_f32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        self.deserialize_f64(visitor)
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        let text = self.text();
        let read: Option<f64> = match self.value.form {
            // Most numbers are plain ones, which need no RON.
            ValueForm::Number
                if text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'+' | b'-' | b'.')) =>
            {
                text.parse().ok()
            }
            ValueForm::Number | ValueForm::Word => ron_options().from_str(text).ok(),
            _ => None,
        };
        match read {
            Some(value) if value.is_finite() => return visitor.visit_f64(value),
            Some(_) => {
                let reader = self.reader;
                let fault = format!("is {}", short(text));
                reader.note(|| reader.finding(self.place.way(), fault).allowed("a finite number"));
            }
            None => {
                let help = if text.contains(',') && matches!(self.value.form, ValueForm::Text) {
                    "write a point, not a comma, and no quotes"
                } else if matches!(self.value.form, ValueForm::Text) {
                    "write it without quotes"
                } else {
                    ""
                };
                self.wrong("a number", help);
            }
        }
        visitor.visit_f64(f64::NAN)
    }

    fn deserialize_char<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        self.deserialize_string(visitor)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_string(self.words())
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_string(self.words())
    }

    fn deserialize_bytes<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        self.deserialize_string(visitor)
    }

    fn deserialize_byte_buf<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        self.deserialize_string(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        if matches!(self.value.form, ValueForm::Word) && self.text() == "None" {
            return visitor.visit_none();
        }
        if self.value.is_some_in(self.reader.text) {
            return match self.value.wrapped() {
                Some(value) => visitor.visit_some(ValueReader { value, nameless: false, ..self }),
                None => visitor.visit_some(ValueReader { nameless: true, ..self }),
            };
        }
        visitor.visit_some(self)
    }

    fn deserialize_unit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_unit_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        if self.is_absent() {
            return visitor.visit_seq(Zeros(5));
        }
        match &self.value.form {
            ValueForm::List(_) | ValueForm::Numbers { round: false, .. } => self.visit_items(visitor, None),
            _ => {
                let help = match self.value.form {
                    ValueForm::Numbers { .. } | ValueForm::Items(_) => "a list has square brackets",
                    _ => "",
                };
                self.wrong("a list in square brackets: […]", help);
                visitor.visit_seq(Zeros(0))
            }
        }
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, ReadFailure> {
        let round = match &self.value.form {
            ValueForm::Items(items) => items.name.is_none() || self.nameless,
            ValueForm::Numbers { round, .. } => *round,
            _ => false,
        };
        let blanks = vec!["…"; length].join(", ");
        if !round {
            let help = match self.value.form {
                ValueForm::List(_) | ValueForm::Numbers { .. } => "a place or size has round brackets",
                _ => "",
            };
            self.wrong(format!("{length} values in round brackets: ({blanks})"), help);
            return visitor.visit_seq(StandIns(length));
        }
        if self.value.count() != length {
            self.wrong(format!("{length} values in round brackets: ({blanks})"), "");
        }
        self.visit_items(visitor, Some(length))
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        length: usize,
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        if !self.nameless {
            self.reader.check_name(self.value, name, &self.place.way());
        }
        ValueReader { nameless: true, ..self }.deserialize_tuple(length, visitor)
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        let name = match self.value.name() {
            Some(given) if self.nameless => given.name_in(self.reader.text),
            _ => name,
        };
        self.visit_fields(name, fields, visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        let given = match self.value.form {
            ValueForm::Word => Some(self.value.span),
            _ => self.value.name().filter(|_| !self.nameless),
        };
        let reader = self.reader;
        let Some(given) = given else {
            self.wrong(listed(variants), "");
            return visitor.visit_enum(StandInVariant(variants));
        };
        let name = given.name_in(reader.text);
        match variants.iter().find(|variant| **variant == name) {
            Some(variant) => visitor.visit_enum(Variant { look: self, variant }).map_err(|stuck| stuck.at(self.place)),
            None => {
                reader.note(|| {
                    reader
                        .finding(self.place.way(), format!("is '{}'", short(name)))
                        .span(given)
                        .allowed(listed(variants))
                        .help(likely(name, variants.iter().copied()))
                });
                visitor.visit_enum(StandInVariant(variants))
            }
        }
    }

    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_string(self.text().to_owned())
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }
}

/// Field by field through round brackets; a field without a value gets a stand-in.
struct FieldWalk<'r> {
    look: ValueReader<'r>,
    entries: std::vec::IntoIter<(&'static str, Option<&'r Value>)>,
    next: Option<(&'static str, Option<&'r Value>)>,
}

impl<'de> de::MapAccess<'de> for FieldWalk<'_> {
    type Error = ReadFailure;

    fn next_key_seed<K: de::DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, ReadFailure> {
        self.next = self.entries.next();
        let Some((field, _)) = self.next else { return Ok(None) };
        let name: de::value::StrDeserializer<'_, ReadFailure> = field.into_deserializer();
        seed.deserialize(name).map(Some)
    }

    fn next_value_seed<V: de::DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, ReadFailure> {
        match self.next.take() {
            Some((field, Some(value))) => {
                let place = self.look.place.then(PathStep::Field(field));
                seed.deserialize(ValueReader { value, place: &place, nameless: false, ..self.look })
                    .map_err(|stuck| stuck.at(&place))
            }
            Some((field, None)) => {
                let place = self.look.place.then(PathStep::Field(field));
                seed.deserialize(StandIn).map_err(|stuck| stuck.at(&place))
            }
            None => seed.deserialize(StandIn),
        }
    }
}

/// Value by value through brackets; `wanted` values where so many are wanted.
struct ItemWalk<'r> {
    look: ValueReader<'r>,
    items: Box<dyn Iterator<Item = ReadItem<'r>> + 'r>,
    index: usize,
    wanted: Option<usize>,
}

impl<'de> de::SeqAccess<'de> for ItemWalk<'_> {
    type Error = ReadFailure;

    fn next_element_seed<T: de::DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, ReadFailure> {
        if self.wanted.is_some_and(|wanted| self.index >= wanted) {
            return Ok(None);
        }
        let place = self.look.place.then(PathStep::Item(self.index));
        self.index += 1;
        let look = ValueReader { place: &place, nameless: false, ..self.look };
        let read = match self.items.next() {
            Some(ReadItem::Value(value)) => seed.deserialize(ValueReader { value, ..look }),
            Some(ReadItem::Number(value)) => seed.deserialize(ValueReader { value: &value, ..look }),
            None if self.wanted.is_some() => seed.deserialize(StandIn),
            None => return Ok(None),
        };
        read.map(Some).map_err(|stuck| stuck.at(&place))
    }
}

/// One of the forms that a value may take, by name.
struct Variant<'r> {
    look: ValueReader<'r>,
    variant: &'static str,
}

impl<'de, 'r> de::EnumAccess<'de> for Variant<'r> {
    type Error = ReadFailure;
    type Variant = Variant<'r>;

    fn variant_seed<V: de::DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self::Variant), ReadFailure> {
        let name: de::value::StrDeserializer<'_, ReadFailure> = self.variant.into_deserializer();
        Ok((seed.deserialize(name)?, self))
    }
}

impl<'de> de::VariantAccess<'de> for Variant<'_> {
    type Error = ReadFailure;

    fn unit_variant(self) -> Result<(), ReadFailure> {
        if !matches!(self.look.value.form, ValueForm::Word) {
            self.look.wrong(format!("{} without brackets", self.variant), "");
        }
        Ok(())
    }

    fn newtype_variant_seed<T: de::DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, ReadFailure> {
        match (&self.look.value.form, self.look.value.wrapped()) {
            (_, Some(value)) => seed.deserialize(ValueReader { value, nameless: false, ..self.look }),
            (ValueForm::Fields(_), _) => seed.deserialize(ValueReader { nameless: true, ..self.look }),
            _ => {
                self.look.wrong(format!("{} with one value in its brackets: {}((…))", self.variant, self.variant), "");
                seed.deserialize(StandIn)
            }
        }
    }

    fn tuple_variant<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, ReadFailure> {
        ValueReader { nameless: true, ..self.look }.deserialize_tuple(length, visitor)
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        self.look.visit_fields(self.variant, fields, visitor)
    }
}

/// What is put where nothing could be read: numbers that are none, empty texts and lists, the first of several forms.
struct StandIn;

macro_rules! stand_ins {
    ($($method:ident $visit:ident $value:expr;)*) => {
        $(
            fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
                visitor.$visit($value)
            }
        )*
    };
}

impl<'de> Deserializer<'de> for StandIn {
    type Error = ReadFailure;

    stand_ins! {
        deserialize_bool visit_bool false;
        deserialize_i8 visit_i8 0;
        deserialize_i16 visit_i16 0;
        deserialize_i32 visit_i32 0;
        deserialize_i64 visit_i64 0;
        deserialize_u8 visit_u8 0;
        deserialize_u16 visit_u16 0;
        deserialize_u32 visit_u32 0;
        deserialize_u64 visit_u64 0;
        deserialize_f32 visit_f32 f32::NAN;
        deserialize_f64 visit_f64 f64::NAN;
        deserialize_char visit_char ' ';
        deserialize_str visit_str "";
        deserialize_string visit_str "";
        deserialize_bytes visit_bytes b"";
        deserialize_byte_buf visit_bytes b"";
        deserialize_identifier visit_str "";
        deserialize_seq visit_seq Zeros(0);
    }

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_none()
    }

    fn deserialize_unit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_unit_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_unit()
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_seq(StandIns(length))
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        length: usize,
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        visitor.visit_seq(StandIns(length))
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_map(StandInFields(&[]))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        visitor.visit_map(StandInFields(fields))
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        visitor.visit_enum(StandInVariant(variants))
    }
}

struct StandIns(usize);

impl<'de> de::SeqAccess<'de> for StandIns {
    type Error = ReadFailure;

    fn next_element_seed<T: de::DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, ReadFailure> {
        let Some(left) = self.0.checked_sub(1) else { return Ok(None) };
        self.0 = left;
        seed.deserialize(StandIn).map(Some)
    }
}

/// So many noughts: a distortion that is none, in place of one that is refused as a whole.
struct Zeros(usize);

impl<'de> de::SeqAccess<'de> for Zeros {
    type Error = ReadFailure;

    fn next_element_seed<T: de::DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, ReadFailure> {
        let Some(left) = self.0.checked_sub(1) else { return Ok(None) };
        self.0 = left;
        let zero: de::value::F64Deserializer<ReadFailure> = 0.0.into_deserializer();
        seed.deserialize(zero).map(Some)
    }
}

struct StandInFields(&'static [&'static str]);

impl<'de> de::MapAccess<'de> for StandInFields {
    type Error = ReadFailure;

    fn next_key_seed<K: de::DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, ReadFailure> {
        let Some((first, rest)) = self.0.split_first() else { return Ok(None) };
        self.0 = rest;
        let name: de::value::StrDeserializer<'_, ReadFailure> = (*first).into_deserializer();
        seed.deserialize(name).map(Some)
    }

    fn next_value_seed<V: de::DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, ReadFailure> {
        seed.deserialize(StandIn)
    }
}

struct StandInVariant(&'static [&'static str]);

impl<'de> de::EnumAccess<'de> for StandInVariant {
    type Error = ReadFailure;
    type Variant = StandInVariant;

    fn variant_seed<V: de::DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self::Variant), ReadFailure> {
        let name: de::value::StrDeserializer<'_, ReadFailure> =
            self.0.first().copied().unwrap_or_default().into_deserializer();
        Ok((seed.deserialize(name)?, self))
    }
}

impl<'de> de::VariantAccess<'de> for StandInVariant {
    type Error = ReadFailure;

    fn unit_variant(self) -> Result<(), ReadFailure> {
        Ok(())
    }

    fn newtype_variant_seed<T: de::DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, ReadFailure> {
        seed.deserialize(StandIn)
    }

    fn tuple_variant<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, ReadFailure> {
        visitor.visit_seq(StandIns(length))
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadFailure> {
        visitor.visit_map(StandInFields(fields))
    }
}
