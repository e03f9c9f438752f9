//! What light must the face of the picture have, and when? That part of a search's requirements.

use bevy_egui::egui::{self, Ui};

use super::context::PanelContext;
use super::requirement::{chips, excluded_words, heading};
use super::slider::{AnyEnd, Slider, plain_number};
use crate::light::{Moment, Sky};
use crate::place::Day;
use crate::search::{Criteria, DAY_MINUTES, LightCriterion, LightWhen, Rank, Requirement};
use crate::viewer::state::desk::{LightView, SearchRequest, SearchView, WaterView};

const MINUTE_STOPS: [f64; 9] = [1.0, 15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 240.0];
const HOUR_STOPS: [f64; 25] = {
    let mut stops = [0.0; 25];
    let mut hour = 0;
    while hour < 25 {
        stops[hour] = 60.0 * hour as f64;
        hour += 1;
    }
    stops
};
/// The hours that are asked for first.
const FIRST_HOURS: (u16, u16) = (8 * 60, 11 * 60);

/// A choice of when.
#[derive(Clone, Copy, PartialEq, Eq)]
enum When {
    Any,
    Shown,
    Day,
    Month,
}

/// Light as a requirement.
pub(super) fn light_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let (style, criteria) = (&panel.style, &mut seeking.criteria);
    heading(ui, style, "Light");
    let light = panel.desk.light();
    let sky = match light.sky {
        Ok(sky) => sky,
        Err(why) => {
            ui.add(egui::Label::new(style.note(format!("Needs the site's place on the Earth: {why}."))).wrap());
            return;
        }
    };
    water_ui(ui, panel, criteria, &light);
    let present = criteria.light.as_ref().map_or(When::Any, |asked| match &asked.when {
        LightWhen::From(_) => When::Shown,
        LightWhen::Days { first, last, .. } if first == last => When::Day,
        LightWhen::Days { .. } => When::Month,
    });
    let clock = sky.zone().minutes(light.at);
    let day = sky.zone().clock(light.at).day;
    let choices = [
        ("Any light".to_owned(), When::Any),
        (format!("From {clock} on {day}"), When::Shown),
        (format!("On {day}"), When::Day),
        ("All its month".to_owned(), When::Month),
    ];
    let mut pressed = None;
    chips(
        ui,
        style,
        choices.into_iter().map(|(word, when)| (word.clone(), format!("light: {word}"), present == when, when)),
        &mut |when, _| pressed = Some(when),
    );
    if let Some(when) = pressed {
        let hours = match criteria.light.as_ref().map(|asked| &asked.when) {
            Some(&LightWhen::Days { from_minute, to_minute, .. }) => (from_minute, to_minute),
            Some(LightWhen::From(_)) | None => FIRST_HOURS,
        };
        let (grazing, least_minutes) =
            criteria.light.as_ref().map_or((false, 30.0), |asked| (asked.grazing, asked.least_minutes));
        criteria.light =
            when_of(when, sky, light.at, hours).map(|when| LightCriterion { when, grazing, least_minutes });
        if criteria.light.is_none() && criteria.rank == Rank::Light {
            criteria.rank = Rank::default();
        }
    }
    let Some(asked) = &mut criteria.light else {
        ui.add(
            egui::Label::new(
                style.note(
                    "Sun on the face of the picture can be asked for, from the hour shown on or through the day.",
                ),
            )
            .wrap(),
        );
        return;
    };
    chips(
        ui,
        style,
        [("Any sun", false), ("Grazing only", true)]
            .map(|(word, grazing)| (word.to_owned(), format!("light: {word}"), asked.grazing == grazing, grazing))
            .into_iter(),
        &mut |grazing, _| asked.grazing = grazing,
    );
    if let LightWhen::Days { from_minute, to_minute, .. } = &mut asked.when {
        hours_ui(ui, panel, from_minute, to_minute);
    }
    let minutes = Slider {
        name: "minutes of sun on the face of the picture",
        caption: "Sun on the face, at least",
        stops: &MINUTE_STOPS,
        any: AnyEnd::Left,
        value: (asked.least_minutes > 0.0).then_some(asked.least_minutes),
        range: (1.0, f64::from(DAY_MINUTES)),
        written: &|minutes| format!("{minutes:.0} min"),
        read: &plain_number,
        note: excluded_words(view, Requirement::Light),
    };
    if let Some(minutes) = minutes.ui(ui, style) {
        asked.least_minutes = minutes.unwrap_or(0.0);
    }
    ui.add(egui::Label::new(style.note(format!("counted {}", asked.when_words()))).wrap());
}

/// How high the water stands while one photographs, where a tide table says so.
fn water_ui(ui: &mut Ui, panel: &PanelContext<'_>, criteria: &mut Criteria, light: &LightView<'_>) {
    let now = light.water.and_then(|water: WaterView<'_>| water.level_m);
    let set = criteria.water_level_m;
    if now.is_none() && set.is_none() {
        return;
    }
    // What is set stays as it is while the hour that is shown moves on.
    let levels = [set, now.filter(|now| set.is_none_or(|set| (set - now).abs() >= 0.005))];
    let mut choices = vec![("Water as the site says".to_owned(), None)];
    choices.extend(levels.into_iter().flatten().map(|level_m| {
        let level = panel.units().length(level_m, 2);
        (format!("Water at {level}"), Some(level_m))
    }));
    let mut chosen = set;
    chips(
        ui,
        &panel.style,
        choices.into_iter().map(|(word, level_m)| (word.clone(), word, set == level_m, level_m)),
        &mut |level_m, _| chosen = level_m,
    );
    criteria.water_level_m = chosen;
}

/// The hours of the day within which light counts.
fn hours_ui(ui: &mut Ui, panel: &PanelContext<'_>, from_minute: &mut u16, to_minute: &mut u16) {
    let mut hour_ui = |name: &str, caption: &str, minute: &mut u16| {
        let slide = Slider {
            name,
            caption,
            stops: &HOUR_STOPS,
            any: AnyEnd::Nowhere,
            value: Some(f64::from(*minute)),
            range: (0.0, f64::from(DAY_MINUTES)),
            written: &|minutes| format!("{:02}:{:02}", minutes as u16 / 60, minutes as u16 % 60),
            read: &minute_of,
            note: None,
        };
        if let Some(Some(minutes)) = slide.ui(ui, &panel.style) {
            *minute = minutes.round() as u16;
        }
    };
    let before = (*from_minute, *to_minute);
    hour_ui("light counts from this hour on", "From", from_minute);
    hour_ui("light counts until this hour", "Until", to_minute);
    // Whichever end was moved takes the other along.
    if *to_minute <= *from_minute {
        if *from_minute == before.0 {
            *from_minute = to_minute.saturating_sub(60);
            *to_minute = (*to_minute).max(*from_minute + 1);
        } else {
            *to_minute = (*from_minute + 60).min(DAY_MINUTES);
            *from_minute = (*from_minute).min(*to_minute - 1);
        }
    }
}

/// A time of the clock, or an hour, as minutes of the day.
fn minute_of(text: &str) -> Option<f64> {
    let (hour, minute) = text.trim().split_once(':').unwrap_or((text.trim(), "0"));
    let (hour, minute): (u16, u16) = (hour.parse().ok()?, minute.parse().ok()?);
    (minute < 60 && hour <= 24).then(|| f64::from(60 * hour + minute))
}

fn when_of(when: When, sky: &Sky, at: Moment, (from_minute, to_minute): (u16, u16)) -> Option<LightWhen> {
    let day = sky.zone().clock(at).day;
    let between = |first: Day, last: Day| Some(LightWhen::Days { first, last, from_minute, to_minute });
    match when {
        When::Any => None,
        When::Shown => Some(LightWhen::From(sky.zone().rfc3339(at))),
        When::Day => between(day, day),
        When::Month => {
            let (year, month, _) = day.numbers();
            let last = (28..=31).rev().find_map(|number| Day::new(year, month, number).ok())?;
            between(Day::new(year, month, 1).ok()?, last)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_are_typed_as_clocks_show_them() {
        assert_eq!(minute_of("8:30"), Some(510.0));
        assert_eq!(minute_of(" 24 "), Some(1440.0));
        for bad in ["", "8:60", "25:00", "noon"] {
            assert_eq!(minute_of(bad), None, "{bad}");
        }
    }
}
