//! How high is the water at a moment, and what ground does it cover?
//!
//! A tide table is a CSV file of times and heights. Between two entries the water follows half a cosine, as between high
//! and low water (common practice, no source); entries every few minutes are followed as they are.

use thiserror::Error;

use crate::site::{PlanPoint, Site};

use super::moment::{Moment, Zone};

/// Entries farther apart than this have a high or low water missing between them.
const WIDEST_GAP_S: f64 = 9.0 * 3600.0;
/// Heights beyond this are no water's.
const HIGHEST_M: f64 = 10_000.0;
/// So many faults are told.
const MOST_TOLD: usize = 12;

/// A tide table.
#[derive(Clone, Debug, PartialEq)]
pub struct TideTable {
    /// In order of time.
    entries: Vec<(Moment, f64)>,
}

/// What is wrong with a tide table.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("{}", faults.join("\n"))]
pub struct TideError {
    /// Each with its line and what to do.
    pub faults: Vec<String>,
}

impl TideTable {
    /// Reads a table: two columns, `time` and `height_m`, with or without that heading. Times are the site's own or have
    /// their offset; heights are in the site's z, metres.
    ///
    /// # Errors
    /// Everything that is wrong with it: what is no time or height, what is out of order, gaps of more than nine hours.
    pub fn read(text: &str, zone: &Zone) -> Result<Self, TideError> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let (mut entries, mut faults): (Vec<(Moment, f64)>, Vec<String>) = (Vec::new(), Vec::new());
        for (index, row) in reader.records().enumerate() {
            let line = |row: &csv::StringRecord| row.position().map_or(index as u64 + 1, csv::Position::line);
            let row = match row {
                Ok(row) => row,
                Err(error) => {
                    faults.push(format!("row {}: {error}", index + 1));
                    continue;
                }
            };
            let (line, first) = (line(&row), row.get(0).unwrap_or_default());
            if index == 0 && first.eq_ignore_ascii_case("time") {
                continue;
            }
            let (Some(height), 2) = (row.get(1), row.len()) else {
                faults.push(format!("line {line}: has {} columns; write time,height_m", row.len()));
                continue;
            };
            let moment = zone.read(first).map_err(|error| faults.push(format!("line {line}: {error}"))).ok();
            let height_m: Option<f64> =
                height.parse().ok().filter(|height_m: &f64| (-HIGHEST_M..=HIGHEST_M).contains(height_m));
            if height_m.is_none() {
                faults.push(format!("line {line}: '{height}' is no height; write metres, such as 1.85"));
            }
            let (Some(read), Some(height_m)) = (moment, height_m) else { continue };
            if let Some((before, _)) = entries.last() {
                let gap_s = read.moment.seconds_since(*before);
                if gap_s <= 0.0 {
                    faults.push(format!(
                        "line {line}: {first} is not after the line before; put the lines in order of time"
                    ));
                } else if gap_s > WIDEST_GAP_S {
                    faults.push(format!(
                        "line {line}: {first} is {:.1} h after the line before; at most 9 h may lie between, so that no high \
                         or low water is left out",
                        gap_s / 3600.0
                    ));
                }
            }
            entries.push((read.moment, height_m));
        }
        if faults.is_empty() && entries.len() < 2 {
            faults
                .push("has fewer than two times with heights; write one a line, such as 2026-06-21T06:12,1.85".into());
        }
        if faults.is_empty() {
            return Ok(Self { entries });
        }
        let more = faults.len().saturating_sub(MOST_TOLD);
        faults.truncate(MOST_TOLD);
        if more > 0 {
            faults.push(format!("and {more} more faults"));
        }
        Err(TideError { faults })
    }

    /// The first and the last moment that it knows.
    pub fn reach(&self) -> (Moment, Moment) {
        (self.entries[0].0, self.entries[self.entries.len() - 1].0)
    }

    /// The water's height at a moment; `None` before the first entry and after the last.
    pub fn level_m(&self, moment: Moment) -> Option<f64> {
        let after = self.entries.partition_point(|(at, _)| *at < moment);
        let (to, to_m) = *self.entries.get(after)?;
        let Some(&(from, from_m)) = after.checked_sub(1).and_then(|before| self.entries.get(before)) else {
            return (to == moment).then_some(to_m);
        };
        let share = moment.seconds_since(from) / to.seconds_since(from);
        Some(from_m + (to_m - from_m) * 0.5 * (1.0 - (std::f64::consts::PI * share).cos()))
    }

    /// The stretches between two moments in which the water stays under a height, looked at every minute; what the table
    /// does not know counts as flooded.
    pub fn spans_below(&self, height_m: f64, (start, end): (Moment, Moment)) -> Vec<(Moment, Moment)> {
        let dry = |at: Moment| self.level_m(at).is_some_and(|level_m| level_m < height_m);
        let mut spans = Vec::new();
        let (mut at, mut since) = (start, None);
        while at < end {
            match (since, dry(at)) {
                (None, true) => since = Some(at),
                (Some(from), false) => {
                    spans.push((from, at));
                    since = None;
                }
                (None, false) | (Some(_), true) => {}
            }
            at = at.plus_s(60.0);
        }
        spans.extend(since.map(|from| (from, end)));
        spans
    }

    /// The site as it is at a moment: with the water at its height then. The search, walking and the cautions take flooded
    /// ground for what it is, water. `None` where the table does not know.
    pub fn site_at(&self, site: &Site, moment: Moment) -> Option<Site> {
        let level_m = self.level_m(moment)?;
        Some(Site { water_level_m: Some(level_m), ..site.clone() })
    }
}

/// Whether the bare ground at a place is under water of this height.
pub fn is_flooded(site: &Site, at: PlanPoint, level_m: f64) -> bool {
    site.terrain.height_m(at) < level_m
}
