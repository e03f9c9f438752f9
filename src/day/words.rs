//! A day of stances in sentences, for tables, pages and calendars.

use crate::light::Zone;
use crate::units::Units;

use super::plan::{DayPlan, Visit, WantedLight};

impl DayPlan {
    /// When one sets out, how far one walks, what daylight is left, and how good the order is: a sentence each.
    pub fn sentences(&self, zone: &Zone, units: Units) -> Vec<String> {
        let mut said = Vec::new();
        if let Some(at) = self.sets_out {
            said.push(format!("Set out at {}.", zone.minutes(at)));
        }
        said.push(format!("{} on foot in all.", units.length(self.walked_m, 0)));
        said.push(match self.daylight_left_s {
            Some(left_s) if left_s >= 0.0 => format!("{} of daylight are left.", hours(left_s)),
            Some(past_s) => format!("The last stance is left {} after sunset.", hours(-past_s)),
            None => "The sun does not set on this day.".into(),
        });
        if self.missed > 0 {
            let lie = if self.missed == 1 { "stance lies" } else { "stances lie" };
            said.push(format!("{} {lie} outside its light, whatever the order.", self.missed));
        }
        said.push(if self.exact {
            "No other order is better.".into()
        } else {
            "With more than ten stances the order is good, not proven best.".into()
        });
        said
    }
}

impl Visit {
    /// What is to be known of it beside its figures: outside its light, no way found, permission needed.
    pub fn notes(&self, wanted: WantedLight) -> Vec<String> {
        let mut notes = Vec::new();
        if !self.in_window {
            notes.push(format!("outside its windows ({}, dry ground)", wanted.words()));
        } else if self.only_daylight {
            notes.push(format!("no {} on this day; daylight", wanted.words()));
        }
        if self.leg.as_ref().is_some_and(|leg| !leg.found) {
            notes.push("no way on foot was found; the straight line".into());
        }
        if !self.ask.is_empty() {
            notes.push(format!("permission needed: {}", self.ask.join(", ")));
        }
        notes
    }
}

/// A span of time: "25 min", "3 h 05 min".
fn hours(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round() as i64;
    if minutes < 60 { format!("{minutes} min") } else { format!("{} h {:02} min", minutes / 60, minutes % 60) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_of_time_are_told_in_hours_and_minutes() {
        assert_eq!((hours(29.0 * 60.0 + 31.0), hours(3.0 * 3600.0 + 300.0)), ("30 min".into(), "3 h 05 min".into()));
    }
}
