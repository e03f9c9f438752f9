//! In which language do sheet and card speak?
//!
//! Every word that they say by themselves stands in one file for each language, `assets/words/en.ron` and `de.ron`; another file
//! with the same keys may take their place. What stands in braces is filled in: `{subject}`.

use std::collections::BTreeMap;
use std::fmt;
use std::path::Path;
use std::sync::Arc;

use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use thiserror::Error;

use crate::files::{FileError, FileKind, read_text, ron_options};
use crate::light::{Moment, Zone};
use crate::place::Day;

/// The languages that the program brings along, each with its file.
const SHIPPED: [(&str, &str); 2] =
    [("en", include_str!("../../assets/words/en.ron")), ("de", include_str!("../../assets/words/de.ron"))];

/// The words of a language.
#[derive(Clone, PartialEq, Eq)]
pub struct PageWords(BTreeMap<String, String>);

/// What is wrong with a file of words.
#[derive(Debug, Error)]
pub enum WordsError {
    /// It cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// It is no list of keys and texts.
    #[error("{path}:{line}:{column}: {why}; a file of words reads {{ \"key\": \"text\", … }}")]
    Reading {
        /// The file.
        path: String,
        /// Where.
        line: usize,
        /// Where.
        column: usize,
        /// What is wrong there.
        why: String,
    },
    /// Its keys, or what they fill in, are not those that pages ask for; each with its line.
    #[error("{}", .0.join("\n"))]
    Keys(Vec<String>),
}

/// Keys and texts in the order of their file, those that come twice too.
struct Entries(Vec<(String, String)>);

impl<'de> Deserialize<'de> for Entries {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Entries;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("keys and texts")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Entries, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = map.next_entry()? {
                    entries.push(entry);
                }
                Ok(Entries(entries))
            }
        }
        deserializer.deserialize_map(InOrder)
    }
}

impl fmt::Debug for PageWords {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PageWords({})", self.language())
    }
}

impl Default for PageWords {
    fn default() -> Self {
        Self::parse(SHIPPED[0].1, SHIPPED[0].0).expect("the words that the program brings along are tested")
    }
}

impl PageWords {
    /// The languages that the program brings along.
    pub fn languages() -> [&'static str; 2] {
        SHIPPED.map(|(language, _)| language)
    }

    /// The English file, to begin another language from.
    pub const fn english_file() -> &'static str {
        SHIPPED[0].1
    }

    /// The words of a language that the program brings along, by its name, else those of a file.
    ///
    /// # Errors
    /// There is no such file, or everything that is wrong with it.
    pub fn of(name: &str) -> Result<Arc<Self>, WordsError> {
        match SHIPPED.iter().find(|(language, _)| *language == name) {
            Some((language, text)) => Self::parse(text, language),
            None => Self::parse(&read_text(Path::new(name), FileKind::Words)?, name),
        }
        .map(Arc::new)
    }

    /// Reads the text of a file.
    fn parse(text: &str, path: &str) -> Result<Self, WordsError> {
        let Entries(entries) = ron_options().from_str(text).map_err(|error| WordsError::Reading {
            path: path.into(),
            line: error.span.start.line,
            column: error.span.start.col,
            why: error.code.to_string(),
        })?;
        let line_of = |key: &str| {
            let quoted = format!("\"{key}\"");
            text.lines().position(|line| line.trim_start().starts_with(&quoted)).map_or(1, |index| index + 1)
        };
        let (mut wrong, mut known) = (Vec::new(), BTreeMap::new());
        for (key, phrase) in entries {
            let line = line_of(&key);
            let faults = match PHRASES.iter().find(|(name, _)| *name == key) {
                Some((_, slots)) => slot_faults(&phrase, slots),
                None => vec!["no page asks for it; remove it".to_owned()],
            };
            wrong.extend(faults.into_iter().map(|fault| format!("{path}:{line}: `{key}`: {fault}")));
            let parts = phrase.split('|').count();
            if let Some((_, wanted)) = LISTS.iter().find(|(list, wanted)| *list == key && *wanted != parts) {
                wrong.push(format!("{path}:{line}: `{key}` has {parts} parts; write {wanted} with | between"));
            }
            if known.insert(key.clone(), phrase).is_some() {
                wrong.push(format!("{path}:{line}: `{key}` stands in it twice; keep one"));
            }
        }
        let missing: Vec<String> = PHRASES
            .iter()
            .filter(|(name, _)| !known.contains_key(*name))
            .map(|(name, _)| format!("`{name}`"))
            .collect();
        if !missing.is_empty() {
            let line = text.lines().count();
            wrong.push(format!("{path}:{line}: missing: {}; the English file shows each", missing.join(", ")));
        }
        if wrong.is_empty() { Ok(Self(known)) } else { Err(WordsError::Keys(wrong)) }
    }

    fn filled(&self, key: &str, slots: &[(&str, &str)]) -> String {
        // Whoever made these words has seen to it that the key is there.
        let mut rest = self.0.get(key).map_or(key, String::as_str);
        let mut text = String::new();
        // A value that holds braces itself is not filled in again.
        while let Some((before, slot, after)) = next_slot(rest) {
            text.push_str(before);
            text.push_str(slots.iter().find(|(name, _)| *name == slot).map_or(slot, |(_, value)| value));
            rest = after;
        }
        text + rest
    }

    /// Figures as the language writes them: a comma for the point between digits, where it has one.
    pub(super) fn figures(&self, written: &str) -> String {
        let decimal = self.decimal();
        let letters: Vec<char> = written.chars().collect();
        let digit = |index: Option<usize>| index.and_then(|index| letters.get(index)).is_some_and(char::is_ascii_digit);
        let mut text = String::new();
        for (index, letter) in letters.iter().enumerate() {
            if *letter == '.' && digit(index.checked_sub(1)) && digit(Some(index + 1)) {
                text.push_str(&decimal);
            } else {
                text.push(*letter);
            }
        }
        text
    }

    /// A part of a list such as the months'.
    fn part(list: &str, index: usize) -> &str {
        list.split('|').nth(index).unwrap_or_default()
    }

    /// One of the eight directions of the compass, from north on clockwise.
    pub(super) fn direction(&self, eighth: usize) -> String {
        Self::part(&self.directions(), eighth % 8).to_owned()
    }

    /// A day with its weekday.
    pub(super) fn long_day(&self, day: Day) -> String {
        let (year, month, number) = day.numbers();
        let civil =
            i16::try_from(year).ok().and_then(|year| jiff::civil::Date::new(year, month as i8, number as i8).ok());
        let weekday = civil.map_or(0, |civil| civil.weekday().to_monday_zero_offset() as usize);
        let (weekdays, months) = (self.weekdays(), self.months());
        self.date(
            Self::part(&weekdays, weekday),
            &number.to_string(),
            Self::part(&months, usize::from(month) - 1),
            &year.to_string(),
        )
    }

    /// A day and a time of a site's own clocks.
    pub(super) fn long_moment(&self, zone: &Zone, moment: Moment) -> String {
        let day = self.long_day(zone.clock(moment.plus_s(30.0)).day);
        if zone.is_given() {
            self.date_time(&day, &zone.minutes(moment))
        } else {
            self.date_time(&day, &format!("{} UTC", zone.minutes(moment)))
        }
    }
}

/// The text before the next slot, the slot's name, and what comes after it.
fn next_slot(text: &str) -> Option<(&str, &str, &str)> {
    let (before, rest) = text.split_once('{')?;
    let (slot, after) = rest.split_once('}')?;
    Some((before, slot, after))
}

/// What is wrong with what a phrase fills in.
fn slot_faults(phrase: &str, slots: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = phrase;
    while let Some((_, slot, after)) = next_slot(rest) {
        found.push(slot);
        rest = after;
    }
    let known = || slots.iter().map(|slot| format!("{{{slot}}}")).collect::<Vec<_>>().join(", ");
    let unknown = found.iter().filter(|slot| !slots.contains(slot)).map(|slot| {
        let there_is =
            if slots.is_empty() { "nothing is filled in here".to_owned() } else { format!("there is {}", known()) };
        format!("{{{slot}}} is unknown; {there_is}")
    });
    let lost = slots.iter().filter(|slot| !found.contains(slot)).map(|slot| format!("lacks {{{slot}}}"));
    unknown.chain(lost).collect()
}

/// Phrases that are lists, and how many parts each has.
const LISTS: [(&str, usize); 3] = [("months", 12), ("weekdays", 7), ("directions", 8)];

/// Declares what pages can say: each phrase with what is filled in.
macro_rules! phrases {
    ($($name:ident($($slot:ident),*);)*) => {
        const PHRASES: &[(&str, &[&str])] = &[$((stringify!($name), &[$(stringify!($slot)),*])),*];

        #[expect(clippy::wrong_self_convention, reason = "a phrase is called as it reads")]
        impl PageWords {
            $(pub(super) fn $name(&self, $($slot: &str),*) -> String {
                self.filled(stringify!($name), &[$((stringify!($slot), $slot)),*])
            })*
        }
    };
}

phrases! {
    // The language itself.
    language();
    decimal();
    months();
    weekdays();
    directions();
    date(weekday, day, month, year);
    date_time(date, time);
    // Things and places.
    the(name);
    the_subject();
    both(first, last);
    from_named(place);
    from_beside(place);
    from_side(direction);
    label_beside(place);
    label_side(direction);
    away(distance, subject);
    page_of(number, count);
    water();
    // What a stance comes to.
    headline_straight(from, subject);
    headline_hidden(from, subject);
    headline_cut(from, subject);
    headline_leans(from, subject);
    why_room();
    why_level();
    why_straightened();
    why_hidden();
    why_cut();
    why_leans();
    needs(list);
    need_permission(place);
    need_permission_here();
    need_consent();
    need_boat();
    need_ladder();
    need_lift(height);
    need_lens();
    // The sheet.
    prepared_for(client);
    drawn_card();
    drawn_materials();
    scale(subject, height);
    scale_person(subject, height, person);
    second_free();
    second_nearer();
    second_farther();
    second_higher();
    second_other();
    where_heading();
    access_heading();
    access_open();
    access_ask();
    access_closed();
    standpoints(numbers);
    standpoint(number);
    warn_fall(drop);
    warn_ladder(height);
    warn_lift(height);
    warn_water();
    warn_on_water();
    warn_sun();
    warn_reach();
    when_heading();
    when_open();
    light_front();
    light_left();
    light_right();
    light_back();
    light_none();
    sun_times(rise, set);
    receive_heading();
    taken();
    taken_up();
    taken_down();
    taken_level();
    delivered();
    delivered_straight(subject);
    delivered_leans(subject);
    print(width, height);
    megapixels(kept, all);
    others_heading();
    reason_closed();
    reason_behind();
    reason_unseen();
    reason_base_hidden();
    reason_top_hidden();
    reason_part_hidden();
    reason_cut();
    reason_leans();
    reason_in_front();
    reason_steep();
    reason_permission();
    reason_lens();
    reason_ladder();
    reason_lift();
    reason_small();
    reason_nearer(distance);
    reason_farther(distance);
    reason_alike();
    shapes_heading();
    shapes_note(number);
    shape_tall();
    shape_tall_for();
    shape_square();
    shape_square_for();
    shape_wide();
    shape_wide_for();
    shape_very_wide();
    shape_very_wide_for();
    reply();
    decide_date();
    decide_date_open();
    decide_place(number);
    decide_place_or(number);
    decide_entry(place);
    decide_entry_for();
    decide_shapes();
    decide_shapes_for();
    to_scale();
    geometry_only();
    figures_heading();
    figure_place();
    figure_distance();
    figure_lens();
    figure_looking();
    figure_converges();
    figure_lean();
    figure_seen();
    figure_detail();
    figure_kept();
    compare_heading();
    compare_left();
    compare_right();
    compare_share();
    compare_slider();
    picture_from(label, what);
    // The field card.
    card_name(label, site);
    card_for();
    set_lens(lens, held);
    held_portrait();
    held_landscape();
    sharp(near, far);
    sharp_from(near);
    infinity();
    up(angle);
    down(angle);
    level();
    pitch_roll_level();
    pitch_roll(roll);
    clockwise(angle);
    anticlockwise(angle);
    above_feet();
    above_zero();
    focus_on(subject);
    by_compass(bearing);
    bearing_true(bearing);
    bearing_no_compass();
    rise_up(length);
    rise_down(length);
    shift_right(length);
    shift_left(length);
    rise_shift();
    verdict_upright();
    verdict_leans();
    verdict_cut();
    verdict_hidden();
    verdict_unseen();
    verdict_beside(block);
    verdict_none();
    converges(angle);
    diverges(angle);
    largest_lean(subject, angle);
    afterwards();
    afterwards_nothing();
    afterwards_crop(aspect, kept, all);
    afterwards_straighten(aspect, kept, all);
    afterwards_cut();
    afterwards_steep();
    afterwards_shape();
    afterwards_behind();
    before_heading();
    tick_level(pitch);
    tick_pitch(pitch);
    tick_lines_up(letters);
    tick_margins();
    tick_focus();
    tick_zoom(length);
    tick_rise(moves);
    tick_permission();
    finder_shows(label);
    stand_heading();
    on_map_within(distance);
    on_site(east, north);
    feet_on(place, height);
    feet_on_ground(height);
    feet_on_water(height);
    feet_on_nothing(height);
    mark(distance, place, which);
    near_face();
    corner(direction);
    bears(bearing);
    left_edge(block);
    right_edge(block);
    nearest_edge(block);
    lines_up(near, far);
    gap_then(step);
    hidden_then(step);
    right_then(step);
    left_then(step);
    step_left();
    step_right();
    then_left(distance);
    then_right(distance);
    nothing_lines_up();
    tolerance_heading();
    tolerance_until();
    tolerance_none();
    nearer(distance);
    farther(distance);
    higher(distance);
    lower(distance);
    to_the_ground();
    any_distance(distance);
    tolerance_roll(angle);
    tolerance_pitch(angle);
    tolerance_bearing(angle);
    any_angle();
    cautions_heading();
    permission_needed(place);
    permission_here();
    note_heading();
    compass_model(year, day);
    compass_none(day);
    compass_weak();
    card_sun_down();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_language_that_is_shipped_has_every_phrase() {
        for (language, text) in SHIPPED {
            let words = PageWords::parse(text, language).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(words.language(), language);
        }
    }

    #[test]
    fn what_is_wrong_with_a_file_is_told_all_at_once_with_its_lines() {
        let text = SHIPPED[0].1.replacen("\"needs\":", "\"neds\":", 1).replacen("{place}", "{spot}", 1);
        let told = PageWords::parse(&text, "mine.ron").expect_err("refused").to_string();
        for words in
            ["`neds`: no page asks for it", "missing: `needs`", "{spot} is unknown", "lacks {place}", "mine.ron:"]
        {
            assert!(told.contains(words), "'{words}' is not in {told}");
        }
        let told = PageWords::parse("{ \"a\": 5 }", "mine.ron").expect_err("refused").to_string();
        assert!(told.starts_with("mine.ron:1:"), "{told}");
        let twice = SHIPPED[0].1.replacen("\"decimal\": \".\",", "\"decimal\": \".\", \"decimal\": \",\",", 1);
        assert!(PageWords::parse(&twice, "m").expect_err("refused").to_string().contains("twice"));
    }

    #[test]
    fn figures_and_days_are_written_as_the_language_does() {
        let (english, german) = (PageWords::of("en").expect("English"), PageWords::of("de").expect("German"));
        assert_eq!((english.figures("1.60 m."), german.figures("1.60 m.")), ("1.60 m.".into(), "1,60 m.".into()));
        // 1 January 2000 was a Saturday (Astronomical Almanac; Julian day 2451544.5).
        let day: Day = "2000-01-01".parse().expect("a day");
        assert_eq!(english.long_day(day), "Saturday 1 January 2000");
        assert_eq!(german.long_day(day), "Samstag, 1. Januar 2000");
        // What is filled in is not filled in again.
        assert_eq!(english.needs("{list}"), "It needs {list}.");
    }
}
