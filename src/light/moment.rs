//! Which moment is meant? Universal time to the millisecond, and what the clocks of the site's zone show.
//!
//! Zones come with the program (the IANA time zone database): what the clocks show depends on no machine.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};

use crate::place::Day;
use crate::site::{Site, likely};

use super::error::LightError;

/// The first and the last year for which the sun is computed here.
pub const YEARS: (i32, i32) = (1900, 2100);
/// 30 December 1899 and 3 January 2101: days of the first and the last year in every zone lie between.
const RANGE_MS: (i64, i64) = (-2_209_161_600_000, 4_134_153_600_000);
/// The Julian day of 1 January 1970, 0 h. Source: Reda & Andreas, NREL/TP-560-34302, equation 4.
const UNIX_JULIAN: f64 = 2_440_587.5;
const DAY_MS: f64 = 86_400_000.0;

/// A moment in universal time, to the millisecond, of the years from 1900 to 2100 (and a day or two about them).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment {
    unix_ms: i64,
}

impl Moment {
    /// The moment so many milliseconds after 1 January 1970, 0 h; the nearest that there is.
    pub fn of_unix_ms(unix_ms: i64) -> Self {
        Self { unix_ms: unix_ms.clamp(RANGE_MS.0, RANGE_MS.1) }
    }

    /// Milliseconds since 1 January 1970, 0 h.
    pub const fn unix_ms(self) -> i64 {
        self.unix_ms
    }

    /// So many seconds later, or earlier where negative.
    #[must_use]
    pub fn plus_s(self, seconds: f64) -> Self {
        Self::of_unix_ms(self.unix_ms.saturating_add((seconds * 1000.0).round() as i64))
    }

    /// The nearest whole second.
    #[must_use]
    pub fn to_second(self) -> Self {
        Self::of_unix_ms((self.unix_ms + 500).div_euclid(1000) * 1000)
    }

    /// How many seconds later than another it is.
    pub fn seconds_since(self, other: Self) -> f64 {
        (self.unix_ms - other.unix_ms) as f64 / 1000.0
    }

    /// The moment halfway to another.
    #[must_use]
    pub fn halfway(self, other: Self) -> Self {
        Self::of_unix_ms(self.unix_ms + (other.unix_ms - self.unix_ms) / 2)
    }

    /// Its Julian day in universal time.
    ///
    /// # Example
    /// ```
    /// use plumbsight::light::Moment;
    /// // NREL/TP-560-34302, table A4.1: 1 January 1999, 0 h.
    /// assert_eq!(Moment::of_unix_ms(915_148_800_000).julian_day(), 2_451_179.5);
    /// ```
    pub fn julian_day(self) -> f64 {
        UNIX_JULIAN + self.unix_ms as f64 / DAY_MS
    }

    /// The moment of a Julian day.
    pub(super) fn of_julian_day(julian_day: f64) -> Self {
        Self::of_unix_ms(((julian_day - UNIX_JULIAN) * DAY_MS).round() as i64)
    }

    /// Its year with the fraction that has passed.
    pub(super) fn decimal_year(self) -> f64 {
        1970.0 + self.unix_ms as f64 / DAY_MS / 365.2425
    }

    /// As universal time in the form that calendars want: `20260621T133000Z`.
    pub fn basic_utc(self) -> String {
        let civil = Offset::UTC.to_datetime(self.timestamp());
        format!(
            "{:04}{:02}{:02}T{:02}{:02}{:02}Z",
            civil.year(),
            civil.month(),
            civil.day(),
            civil.hour(),
            civil.minute(),
            civil.second()
        )
    }

    /// The moment of a text with its offset (RFC 3339); `None` where it is none.
    pub fn of_rfc3339(text: &str) -> Option<Self> {
        text.trim().parse::<Timestamp>().ok().map(|timestamp| Self::of_unix_ms(timestamp.as_millisecond()))
    }

    /// As RFC 3339 writes it in universal time.
    pub fn rfc3339(self) -> String {
        self.timestamp().to_string()
    }

    fn timestamp(self) -> Timestamp {
        Timestamp::from_millisecond(self.unix_ms).unwrap_or(Timestamp::UNIX_EPOCH)
    }
}

/// A moment as it was read, with what is to be said of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadMoment {
    /// The moment.
    pub moment: Moment,
    /// What the clocks do then, where the time that was asked for comes twice or not at all.
    pub note: Option<String>,
}

/// What the clocks of a place show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Clock {
    /// The day.
    pub day: Day,
    /// The hour, from 0 to 23.
    pub hour: u8,
    /// The minute.
    pub minute: u8,
    /// The second.
    pub second: u8,
    /// Thousandths of a second.
    pub ms: u16,
    /// How far the clocks are ahead of universal time, in seconds.
    pub offset_s: i32,
}

/// The time zone by which the clocks of a site go.
#[derive(Clone, Debug)]
pub struct Zone {
    zone: TimeZone,
    name: String,
    given: bool,
}

impl Zone {
    /// The zone that a site names; universal time where it names none.
    ///
    /// # Errors
    /// There is no such zone.
    pub fn of(site: &Site) -> Result<Self, LightError> {
        site.time_zone
            .as_deref()
            .map_or_else(|| Ok(Self { zone: TimeZone::UTC, name: "UTC".into(), given: false }), Self::named)
    }

    /// The zone of an IANA name.
    ///
    /// # Errors
    /// There is no such zone.
    pub fn named(name: &str) -> Result<Self, LightError> {
        let known = TimeZoneDatabase::bundled();
        let zone = known.get(name).map_err(|_| {
            let names: Vec<String> = known.available().map(|zone| zone.as_str().to_owned()).collect();
            let meant = likely(name, names.iter().map(String::as_str));
            let meant = if meant.is_empty() { meant } else { format!("{meant} ") };
            LightError::UnknownZone { zone: name.into(), meant }
        })?;
        let name = zone.iana_name().unwrap_or(name).to_owned();
        Ok(Self { zone, name, given: true })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether the site names it; otherwise times are universal.
    pub const fn is_given(&self) -> bool {
        self.given
    }

    /// What the clocks show at a moment.
    pub fn clock(&self, moment: Moment) -> Clock {
        clock_at(moment, self.zone.to_offset(moment.timestamp()))
    }

    /// The hours and minutes that the clocks show, with the seconds rounded.
    ///
    /// # Example
    /// ```
    /// use plumbsight::light::Zone;
    /// let zone = Zone::named("Asia/Kathmandu")?;
    /// let noon = zone.read("2026-06-21T12:00:29Z")?.moment;
    /// assert_eq!(zone.minutes(noon), "17:45");
    /// # Ok::<(), plumbsight::light::LightError>(())
    /// ```
    pub fn minutes(&self, moment: Moment) -> String {
        let clock = self.clock(moment.plus_s(30.0));
        format!("{:02}:{:02}", clock.hour, clock.minute)
    }

    /// The hours, minutes and seconds that the clocks show.
    pub fn seconds(&self, moment: Moment) -> String {
        let clock = self.clock(moment.plus_s(0.5));
        format!("{:02}:{:02}:{:02}", clock.hour, clock.minute, clock.second)
    }

    /// A moment as RFC 3339 writes it, to the millisecond, with the zone's offset.
    pub fn rfc3339(&self, moment: Moment) -> String {
        // Before zones had standard times their offsets had seconds, which RFC 3339 cannot write.
        let offset_s = f64::from(self.zone.to_offset(moment.timestamp()).seconds());
        let offset = Offset::from_seconds(60 * (offset_s / 60.0).round() as i32).unwrap_or(Offset::UTC);
        let Clock { day, hour, minute, second, ms, offset_s } = clock_at(moment, offset);
        let fraction = if ms == 0 { String::new() } else { format!(".{ms:03}") };
        format!("{day}T{hour:02}:{minute:02}:{second:02}{fraction}{}", offset_words(offset_s))
    }

    /// The first moment of a day, and the first of the next.
    ///
    /// # Errors
    /// The day is outside the years that are computed.
    pub fn bounds(&self, day: Day) -> Result<(Moment, Moment), LightError> {
        let (year, month, number) = day.numbers();
        let outside = || LightError::OutOfYears { given: day.to_string() };
        if !(YEARS.0..=YEARS.1).contains(&year) {
            return Err(outside());
        }
        let civil = i16::try_from(year)
            .ok()
            .and_then(|year| jiff::civil::Date::new(year, month as i8, number as i8).ok())
            .ok_or_else(outside)?;
        let next = civil.tomorrow().map_err(|_| outside())?;
        let first = |date: jiff::civil::Date| {
            let ambiguous = self.zone.to_ambiguous_timestamp(date.at(0, 0, 0, 0));
            // A midnight that does not exist is the moment at which the clocks go on; one that comes twice is the first.
            ambiguous.compatible().map(|at| Moment::of_unix_ms(at.as_millisecond())).map_err(|_| outside())
        };
        Ok((first(civil)?, first(next)?))
    }

    /// The moment at which the clocks show a time on a day.
    ///
    /// # Errors
    /// There is no such time, or the day is outside the years that are computed.
    pub fn at(&self, day: Day, hour: u8, minute: u8) -> Result<ReadMoment, LightError> {
        self.read(&format!("{day}T{hour:02}:{minute:02}"))
    }

    /// Reads a moment: a time of the zone's own (`2026-06-21T14:30`), or one with its offset (RFC 3339).
    ///
    /// A time that the clocks leave out is taken as much later as they are put on; of one that comes twice the first is
    /// taken. Both are said.
    ///
    /// # Errors
    /// It is no moment, its day is not in the calendar, or outside the years that are computed.
    pub fn read(&self, text: &str) -> Result<ReadMoment, LightError> {
        let text = text.trim();
        let refused = || LightError::NoMoment { given: text.chars().take(40).collect() };
        let (date, _) = text.split_once(['T', 't', ' ']).ok_or_else(refused)?;
        let day: Day = date.parse()?;
        if !(YEARS.0..=YEARS.1).contains(&day.numbers().0) {
            return Err(LightError::OutOfYears { given: date.to_owned() });
        }
        if let Some(moment) = Moment::of_rfc3339(text) {
            return Ok(ReadMoment { moment, note: None });
        }
        let civil: DateTime = text.parse().map_err(|_| refused())?;
        let ambiguous = self.zone.to_ambiguous_timestamp(civil);
        let offset = ambiguous.offset();
        let moment = Moment::of_unix_ms(ambiguous.compatible().map_err(|_| refused())?.as_millisecond());
        let time = format!("{:02}:{:02}", civil.hour(), civil.minute());
        let note = match offset {
            AmbiguousOffset::Unambiguous { .. } => None,
            AmbiguousOffset::Gap { before, after } => Some(format!(
                "{time} does not exist on {day} in {}: the clocks are put on by {}. {} is taken.",
                self.name,
                span_words(after.seconds() - before.seconds()),
                self.minutes(moment),
            )),
            AmbiguousOffset::Fold { before, after } => Some(format!(
                "{time} comes twice on {day} in {}: the clocks are put back by {}. The first is taken, {}; write {} for \
                 the second.",
                self.name,
                span_words(before.seconds() - after.seconds()),
                self.rfc3339(moment),
                self.rfc3339(moment.plus_s(f64::from(before.seconds() - after.seconds()))),
            )),
        };
        Ok(ReadMoment { moment, note })
    }

    /// What the clocks do on a day, in words, where they are put on or back.
    pub fn change_on(&self, day: Day) -> Option<String> {
        let (start, end) = self.bounds(day).ok()?;
        let offset_at = |moment: Moment| self.clock(moment).offset_s;
        // The day's own first moment may be that of the change.
        let before = start.plus_s(-0.001);
        let change = self
            .zone
            .following(before.timestamp())
            .map(|transition| Moment::of_unix_ms(transition.timestamp().as_millisecond()))
            .take_while(|moment| *moment < end)
            .find(|moment| offset_at(*moment) != offset_at(moment.plus_s(-1.0)))?;
        let (old_s, new_s) = (offset_at(change.plus_s(-1.0)), offset_at(change));
        let shown = clock_at(change, Offset::from_seconds(old_s).unwrap_or(Offset::UTC));
        let way = if new_s > old_s { "on" } else { "back" };
        Some(format!(
            "On {day} the clocks of {} are put {way} by {}: {:02}:{:02} becomes {}.",
            self.name,
            span_words(new_s - old_s),
            shown.hour,
            shown.minute,
            self.minutes(change),
        ))
    }
}

fn clock_at(moment: Moment, offset: Offset) -> Clock {
    let civil = offset.to_datetime(moment.timestamp());
    Clock {
        day: day_of(civil),
        hour: civil.hour() as u8,
        minute: civil.minute() as u8,
        second: civil.second() as u8,
        ms: civil.millisecond() as u16,
        offset_s: offset.seconds(),
    }
}

fn day_of(civil: DateTime) -> Day {
    // A civil time has a day that is one.
    Day::new(i32::from(civil.year()), civil.month() as u8, civil.day() as u8)
        .unwrap_or_else(|_| unreachable!("{civil} is a day"))
}

/// An offset of whole minutes from universal time as RFC 3339 writes it.
fn offset_words(offset_s: i32) -> String {
    let minutes = offset_s / 60;
    let sign = if minutes < 0 { '-' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
}

/// A span of clock time in words.
fn span_words(seconds: i32) -> String {
    let minutes = seconds.abs() / 60;
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}
