//! Where is the best place of all? What the Search desk requires, the search in the background, and what it found.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use crate::plan::SavedSearch;
use crate::search::{
    Answer, Criteria, CriteriaError, Lattice, MOST_OF_A_KIND, Map, MapFigure, Ranked, Rungs, Search, WithObstacles,
};
use crate::site::{PlanPoint, Stance};
use crate::survey::Survey;

use super::effects::{Effect, Effects};
use super::jobs::Outcome;
use super::jobs::search::{SearchFailure, Searched, search};
use super::notices::NoticeKind;
use super::settings::SettingStore;
use super::shown_site::ShownSite;
use super::work::{Thumbnail, Wake, WorkId, WorkView};

pub use super::jobs::search::SearchRequest;

/// How near and far is searched at first: what one walks to.
const FIRST_DISTANCE_M: (f64, f64) = (5.0, 150.0);
/// Camera heights among which the lowest that serves is looked for, unless others are given.
pub const LOWEST: Rungs = Rungs { from_m: 0.5, to_m: 6.0, step_m: 0.25 };

/// What happens on the Search desk.
#[derive(Clone, Debug, PartialEq)]
pub enum SearchAction {
    /// Require something else.
    Change(Box<SearchRequest>),
    /// Search by these requirements.
    Start,
    /// Stop the search that runs.
    Stop,
    /// Show another figure on the map of the search.
    ShowFigure(MapFigure),
}

/// On which site, and for what, something was found.
#[derive(Clone, Debug, PartialEq)]
struct SearchKey {
    request: SearchRequest,
    site: u64,
}

impl SearchKey {
    /// What has changed since.
    fn outdated(&self, now: &Self) -> Option<&'static str> {
        if self.site != now.site {
            Some("the site has changed")
        } else if self.request != now.request {
            Some("the requirements have changed")
        } else {
            None
        }
    }
}

/// A search in the background.
#[derive(Debug)]
struct RunningSearch {
    work: WorkId,
    key: SearchKey,
    maps: Maps,
}

/// Where a search lays its coarser maps down for the window.
type Maps = Arc<Mutex<Option<Arc<Map>>>>;

/// What was found last.
#[derive(Debug)]
struct Found {
    key: SearchKey,
    searched: Searched,
    /// Pictures of the listed places, as far as they are there.
    pictures: Vec<Option<Thumbnail>>,
}

/// What a search looks at of the other stores.
#[derive(Clone, Copy)]
pub(super) struct SearchInputs<'a> {
    pub(super) site: &'a ShownSite,
    pub(super) stance: &'a Stance,
    pub(super) settings: &'a SettingStore,
}

/// What is required, the search that runs, and what was found.
#[derive(Debug, Default)]
pub(super) struct SearchStore {
    /// What the plan keeps of the requirements; the first ones unless they were changed.
    sought: Option<SavedSearch>,
    figure: MapFigure,
    running: Option<RunningSearch>,
    /// The newest map of a search that has not come to its end.
    coarse: Option<(SearchKey, Arc<Map>)>,
    found: Option<Found>,
    failed: Option<String>,
    stopped: bool,
    /// The key of the map's texture: a map is too large to be compared in every frame.
    map_version: u64,
}

/// What the Search desk shows.
#[derive(Clone, Debug)]
pub struct SearchView<'a> {
    /// What the next search looks for.
    pub request: SearchRequest,
    /// How many places and combinations that is, or why it cannot be looked for.
    pub asked: Result<(usize, usize), String>,
    /// Which figure the map shows.
    pub figure: MapFigure,
    /// The search in the background, with the share that is done.
    pub running: Option<(WorkId, Option<f64>)>,
    /// The map: of the finished search, or the newest of one that is not.
    pub map: Option<&'a Map>,
    /// For which requirements the map is.
    pub mapped: Option<&'a SearchRequest>,
    /// Another number for every other map.
    pub map_version: u64,
    /// Whether the map is a coarse one of a search that was stopped.
    pub stopped: bool,
    /// Why the map is not what the requirements now ask for.
    pub map_outdated: Option<&'static str>,
    /// What was found last.
    pub answer: Option<&'a Answer>,
    /// What of it remains when something stands in the way.
    pub remains: Option<&'a WithObstacles>,
    /// Pictures of the listed places.
    pub pictures: &'a [Option<Thumbnail>],
    /// For which requirements the answer is.
    pub answered: Option<&'a SearchRequest>,
    /// Why the answer is not what the requirements now ask for.
    pub outdated: Option<&'static str>,
    /// How long the search took.
    pub took: Option<Duration>,
    /// Why the last search came to nothing.
    pub failed: Option<&'a str>,
}

impl SearchStore {
    /// What the plan keeps of the requirements.
    pub(super) fn sought(&self) -> Option<&SavedSearch> {
        self.sought.as_ref()
    }

    /// Another site is shown: nothing that was found holds. Maps are numbered on.
    pub(super) fn open(&mut self, sought: Option<SavedSearch>) {
        *self = Self { sought, map_version: self.map_version + 1, ..Self::default() };
    }

    /// What the Search desk requires, and what was found; `works` tells how far a search is.
    pub(super) fn view(&self, inputs: &SearchInputs<'_>, works: &[WorkView]) -> SearchView<'_> {
        let now = self.key(inputs);
        let found = self.found.as_ref();
        let shown = self.map();
        let running = self.running.as_ref().map(|running| {
            let share = works.iter().find(|work| work.id == running.work).and_then(|work| work.share);
            (running.work, share)
        });
        SearchView {
            asked: counted(inputs.site.filed(), &now.request),
            figure: self.figure,
            running,
            map: shown.map(|(_, map)| map),
            mapped: shown.map(|(key, _)| &key.request),
            map_version: self.map_version,
            stopped: self.stopped && self.coarse.is_some(),
            map_outdated: shown.and_then(|(key, _)| key.outdated(&now)),
            answer: found.map(|found| found.searched.answer.as_ref()),
            remains: found.and_then(|found| found.searched.remains.as_ref()),
            pictures: found.map_or(&[], |found| &found.pictures),
            answered: found.map(|found| &found.key.request),
            outdated: found.and_then(|found| found.key.outdated(&now)),
            took: found.map(|found| found.searched.took),
            failed: self.failed.as_deref(),
            request: now.request,
        }
    }

    /// What a search would look for now, and where.
    fn key(&self, inputs: &SearchInputs<'_>) -> SearchKey {
        let sought = self.sought_or_first();
        let site = &inputs.site.filed().model.site;
        let stands = |name: &String| site.blocks.iter().any(|block| block.name == *name);
        let kept = |names: &[String]| names.iter().filter(|name| stands(name)).cloned().collect::<Vec<_>>();
        let criteria = Criteria {
            format: inputs.stance.format.clone(),
            orientation: None,
            crop: inputs.stance.crop,
            margins: inputs.stance.margins,
            // The bag is one, for walking, ways and search.
            lenses: inputs
                .settings
                .carried(&inputs.site.filed().kit)
                .take(MOST_OF_A_KIND)
                .map(|lens| lens.name.clone())
                .collect(),
            upright_deg: inputs.settings.all().upright.degrees(),
            inside: kept(&sought.criteria.inside),
            outside: kept(&sought.criteria.outside),
            without: kept(&sought.criteria.without),
            from: sought.criteria.from.or_else(|| site.stances.first().map(|stance| stance.at)),
            ..sought.criteria
        };
        SearchKey {
            request: SearchRequest { criteria, may_come: kept(&sought.may_come) },
            site: inputs.site.filed_version(),
        }
    }

    fn sought_or_first(&self) -> SavedSearch {
        self.sought.clone().unwrap_or_else(|| SavedSearch {
            criteria: Criteria { distance_m: FIRST_DISTANCE_M, ..Criteria::default() },
            lenses: None,
            may_come: Vec::new(),
        })
    }

    /// The very stance whose figures the map shows at a place; none where it shows none, or shows another site.
    pub(super) fn stance_at(&self, site: &ShownSite, at: PlanPoint) -> Option<Stance> {
        let (key, map) = self.map()?;
        if key.site != site.filed_version() {
            return None;
        }
        let search = Search::new(site.filed(), key.request.searched()).ok()?;
        let (column, row) = map.cell_of(at)?;
        search.stance_at(map, column, row)
    }

    /// The map that is shown, and for what: the newest of a search that is not at its end, else the finished one.
    fn map(&self) -> Option<(&SearchKey, &Map)> {
        let coarse = self.coarse.as_ref().map(|(key, map)| (key, map.as_ref()));
        coarse.or_else(|| self.found.as_ref().map(|found| (&found.key, &found.searched.answer.map)))
    }

    pub(super) fn act(&mut self, action: SearchAction, inputs: &SearchInputs<'_>, wake: &Wake, effects: &mut Effects) {
        match action {
            SearchAction::Change(request) => self.change(&request, inputs, effects),
            SearchAction::Start => self.start(inputs, wake, effects),
            SearchAction::Stop => self.stop(effects),
            SearchAction::ShowFigure(figure) => {
                effects.change_if(std::mem::replace(&mut self.figure, figure) != figure);
            }
        }
    }

    /// Requires something else.
    fn change(&mut self, request: &SearchRequest, inputs: &SearchInputs<'_>, effects: &mut Effects) {
        let now = self.key(inputs).request;
        if *request == now {
            return;
        }
        if let Err(error) = request.criteria.check_each() {
            return effects.notice(NoticeKind::Error, error.to_string());
        }
        let mut sought = self.sought_or_first();
        let from = sought.criteria.from;
        (sought.criteria, sought.may_come) = (request.criteria.clone(), request.may_come.clone());
        // What was not chosen goes on following bag and site.
        if request.criteria.from == now.criteria.from {
            sought.criteria.from = from;
        }
        if request.criteria.lenses != now.criteria.lenses {
            effects.push(Effect::Pack(request.criteria.lenses.clone()));
        }
        self.sought = Some(sought);
        self.failed = None;
        effects.change();
    }

    /// Starts to search; a search that still runs is left.
    fn start(&mut self, inputs: &SearchInputs<'_>, wake: &Wake, effects: &mut Effects) {
        self.stop(effects);
        effects.change();
        let key = self.key(inputs);
        (self.failed, self.stopped) = (None, false);
        let survey = Arc::clone(inputs.site.filed());
        if let Err(error) = counted(&survey, &key.request) {
            self.failed = Some(error);
            return;
        }
        let maps = Maps::default();
        let title = format!("Searching {}", survey.model.site.name);
        let (request, shown, wake) = (key.request.clone(), Arc::clone(&maps), wake.clone());
        let work = effects.start(Some(title), move |progress| {
            let show = |map: &Map| {
                // The finished one comes with the answer.
                if map.step() > 1 {
                    *shown.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(map.clone()));
                    wake.call();
                }
            };
            Outcome::Searched(search(&survey, &request, progress, &show))
        });
        self.running = Some(RunningSearch { work, key, maps });
    }

    /// Leaves the search that runs; what it has shown so far stays, marked as coarse.
    pub(super) fn stop(&mut self, effects: &mut Effects) {
        self.take_coarse(effects);
        let Some(running) = self.running.take() else { return };
        effects.push(Effect::Cancel(running.work));
        self.stopped = true;
        effects.change();
    }

    /// Takes the newest coarse map in.
    pub(super) fn take_coarse(&mut self, effects: &mut Effects) {
        let Some(running) = &self.running else { return };
        let newest = running.maps.lock().unwrap_or_else(PoisonError::into_inner).take();
        let Some(map) = newest else { return };
        self.coarse = Some((running.key.clone(), map));
        self.map_version += 1;
        effects.change();
    }

    /// A search has come to its end.
    pub(super) fn searched(&mut self, work: WorkId, searched: Result<Searched, SearchFailure>, effects: &mut Effects) {
        self.take_coarse(effects);
        // One that was left has nothing to say any more.
        let Some(running) = self.running.take_if(|running| running.work == work) else { return };
        match searched {
            Ok(searched) => {
                let pictures = vec![None; searched.answer.ranked.len()];
                self.coarse = None;
                self.found = Some(Found { key: running.key, searched, pictures });
                self.map_version += 1;
            }
            // Stopped from the list of works.
            Err(SearchFailure::Cancelled) => self.stopped = true,
            Err(SearchFailure::Error(text)) => {
                effects.notice(NoticeKind::Error, format!("the search: {text}"));
                self.failed = Some(text);
            }
        }
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId) {
        if self.running.take_if(|running| running.work == work).is_some() {
            self.failed = Some("the search failed; try other requirements".into());
        }
    }

    /// The listed places that want a picture: on which site, if it is one with fewer blocks, and from where.
    pub(super) fn listed(&self, site: &ShownSite) -> Option<(Option<&Arc<Survey>>, &[Ranked])> {
        let found = self.found.as_ref().filter(|found| found.key.site == site.filed_version())?;
        Some((found.searched.reduced.as_ref(), &found.searched.answer.ranked))
    }

    /// The blocks that were away in what was found: pictures of its places belong to the site without them.
    pub(super) fn away(&self) -> Vec<String> {
        self.found.as_ref().map_or_else(Vec::new, |found| found.key.request.searched().without)
    }

    /// Gives the listed places the pictures that there are, in their order.
    pub(super) fn show_thumbnails(&mut self, pictures: Vec<Option<Thumbnail>>) {
        if let Some(found) = &mut self.found {
            for (place, picture) in found.pictures.iter_mut().zip(pictures) {
                *place = picture.or(place.take());
            }
        }
    }
}

/// How many places and combinations a search looks at.
fn counted(survey: &Survey, request: &SearchRequest) -> Result<(usize, usize), String> {
    let criteria = request.searched();
    let count = || {
        criteria.check()?;
        let subject = survey.subject.as_ref().map_err(|error| *error)?;
        Ok::<_, CriteriaError>((Lattice::of(&criteria, subject, 1)?.len(), criteria.each(&survey.kit)?))
    };
    count().map_err(|error| error.to_string())
}
