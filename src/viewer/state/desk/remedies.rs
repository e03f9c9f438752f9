//! What would straighten it from here? Looked for beside the window whenever the walker has come to rest.

use std::sync::Arc;

use crate::site::Stance;
use crate::survey::MeasureSettings;
use crate::viewer::state::work::WorkId;
use crate::ways::{Options, Ways, ways};

use super::Desk;
use super::DeskName;
use super::Outcome;

/// From where, with what, the ways are told.
#[derive(Clone, Debug, PartialEq)]
struct From {
    stance: Stance,
    measure_settings: MeasureSettings,
    bag: Vec<String>,
    site: u64,
}

/// The ways that were found last, and those being looked for.
#[derive(Default)]
pub(super) struct Remedies {
    found: Option<(From, Result<Ways, String>)>,
    sought: Option<(WorkId, From)>,
}

/// The ways as the window shows them.
#[derive(Clone, Copy, Debug)]
pub struct WaysView<'a> {
    /// The ways, or why there are none.
    pub found: &'a Result<Ways, String>,
    /// From where they are told, unless that is where the walker stands now.
    pub elsewhere: Option<&'a str>,
}

impl Desk {
    /// The ways that were found last; `None` until the walker has come to rest for the first time.
    pub fn ways(&self) -> Option<WaysView<'_>> {
        let (from, found) = self.remedies.found.as_ref()?;
        let elsewhere = (*from != self.present()).then_some(from.stance.name.as_str());
        Some(WaysView { found, elsewhere })
    }

    fn present(&self) -> From {
        From {
            stance: self.stance.clone(),
            measure_settings: self.measure_settings,
            bag: self.carried().map(|lens| lens.name.clone()).collect(),
            site: self.site_version(),
        }
    }

    /// Looks for the ways from here, where the desk shows them and they are not known.
    pub(super) fn seek_ways(&mut self) {
        let from = self.present();
        let known = self.remedies.found.as_ref().is_some_and(|(found_from, _)| *found_from == from);
        // One at a time: what is not wanted any more takes a moment only.
        if known || self.remedies.sought.is_some() || self.desk_name != DeskName::Walk {
            return;
        }
        let survey = Arc::clone(&self.survey);
        let of = from.clone();
        let work = self.works.start(None, move |_| {
            let options = Options { bag: of.bag, ..Options::default() };
            Outcome::Ways(ways(&survey, &of.stance, &of.measure_settings, &options).map_err(|error| error.to_string()))
        });
        match work {
            Some(id) => self.remedies.sought = Some((id, from)),
            None => self.remedies.found = Some((from, Err("no thread is to be had to look for ways".into()))),
        }
    }

    /// Takes in what was found; work that broke brings nothing.
    pub(super) fn found_ways(&mut self, id: WorkId, found: Option<Result<Ways, String>>) {
        let Some((_, from)) = self.remedies.sought.take_if(|(sought, _)| *sought == id) else { return };
        self.remedies.found = Some((from, found.unwrap_or_else(|| Err("looking for the ways broke off".into()))));
        if !self.moving {
            self.seek_ways();
        }
    }
}
