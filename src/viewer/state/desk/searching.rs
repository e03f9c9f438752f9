//! Where is the best place of all? What the Search desk requirements for, the search beside the window, and what it found.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use crate::plan::Sought;
use crate::progress::Progress;
use crate::search::{
    Answer, Criteria, CriteriaError, Figure, Lattice, Looking, Map, Ranked, Remains, RemainsError, Rungs, Search,
    remains,
};
use crate::survey::Survey;
use crate::viewer::state::work::{Thumbnail, WorkId};

use super::Desk;
use super::NoticeKind;
use super::Outcome;

/// The most lenses that are looked at unless they are chosen.
const MOST_LENSES: usize = 6;
/// How near and far is searched at first: what one walks to.
const FIRST_DISTANCE_M: (f64, f64) = (5.0, 150.0);
/// Camera heights among which the lowest that serves is looked for, unless told otherwise.
pub const LOWEST: Rungs = Rungs { from_m: 0.5, to_m: 6.0, step_m: 0.25 };

/// What a search is to look for.
#[derive(Clone, Debug, PartialEq)]
pub struct Seeking {
    /// The requirements; body, crop and orientation are those of the present stance's camera.
    pub criteria: Criteria,
    /// Blocks that may stand in the way on the day: the search takes them away, and tells what remains with them.
    pub may_come: Vec<String>,
}

impl Seeking {
    /// The requirements of the search itself, for which whatever may come is away.
    fn searched(&self) -> Criteria {
        let mut criteria = self.criteria.clone();
        criteria.without.extend(self.may_come.iter().filter(|name| !self.criteria.without.contains(name)).cloned());
        criteria
    }
}

/// On which site, and for what, something was found.
#[derive(Clone, Debug, PartialEq)]
struct Of {
    seeking: Seeking,
    site: u64,
}

/// A search beside the window.
struct Running {
    work: WorkId,
    of: Of,
    maps: Maps,
}

/// Where a search lays its coarser maps down for the window.
type Maps = Arc<Mutex<Option<Arc<Map>>>>;

/// What a search came to.
pub(super) struct Searched {
    answer: Arc<Answer>,
    remains: Option<Remains>,
    /// The site without the blocks that were away; absent where none were.
    reduced: Option<Arc<Survey>>,
    took: Duration,
}

/// Why a search came to nothing.
pub(super) enum Unfound {
    Cancelled,
    Error(String),
}

/// What was found last.
struct Found {
    of: Of,
    searched: Searched,
    /// Pictures of the listed places, as far as they are there.
    pictures: Vec<Option<Thumbnail>>,
}

/// All that the desk knows of searching; the requirements are the plan's.
#[derive(Default)]
pub(super) struct Searching {
    figure: Figure,
    running: Option<Running>,
    /// The newest map of a search that has not come to its end.
    coarse: Option<(Of, Arc<Map>)>,
    found: Option<Found>,
    failed: Option<String>,
    stopped: bool,
    map_version: u64,
}

impl Searching {
    /// Another site is shown: nothing that was found holds. Maps are numbered on.
    pub(super) fn forget(&mut self) {
        *self = Self { map_version: self.map_version + 1, ..Self::default() };
    }
}

/// What the Search desk shows.
#[derive(Clone, Debug)]
pub struct SearchView<'a> {
    /// What the next search looks for.
    pub seeking: Seeking,
    /// How many places and combinations that is, or why it cannot be looked for.
    pub asked: Result<(usize, usize), String>,
    /// Which figure the map shows.
    pub figure: Figure,
    /// The search beside the window, with the share that is done.
    pub running: Option<(WorkId, Option<f64>)>,
    /// The map: of the finished search, or the newest of one that is not.
    pub map: Option<&'a Map>,
    /// Another number for every other map.
    pub map_version: u64,
    /// Whether the map is a coarse one of a search that was stopped.
    pub stopped: bool,
    /// Why the map is not what the requirements now ask for.
    pub map_outdated: Option<&'static str>,
    /// What was found last.
    pub answer: Option<&'a Answer>,
    /// What of it remains when something stands in the way.
    pub remains: Option<&'a Remains>,
    /// Pictures of the listed places.
    pub pictures: &'a [Option<Thumbnail>],
    /// For which requirements the answer is.
    pub answered: Option<&'a Seeking>,
    /// Why the answer is not what the requirements now ask for.
    pub outdated: Option<&'static str>,
    /// How long the search took.
    pub took: Option<Duration>,
    /// Why the last search came to nothing.
    pub failed: Option<&'a str>,
}

impl Desk {
    /// What the Search desk requirements for, and what was found.
    pub fn search(&self) -> SearchView<'_> {
        let searching = &self.searching;
        let now = self.of_now();
        let outdated = |of: &Of| {
            if of.site != now.site {
                Some("the site has changed since")
            } else if of.seeking != now.seeking {
                Some("the requirements have changed since")
            } else {
                None
            }
        };
        let found = searching.found.as_ref();
        let (map, map_outdated) = match (&searching.coarse, found) {
            (Some((of, map)), _) => (Some(map.as_ref()), outdated(of)),
            (None, Some(found)) => (Some(&found.searched.answer.map), outdated(&found.of)),
            (None, None) => (None, None),
        };
        let shown = self.works.shown();
        let running = searching.running.as_ref().map(|running| {
            let share = shown.iter().find(|work| work.id == running.work).and_then(|work| work.share);
            (running.work, share)
        });
        SearchView {
            asked: self.counted(&now.seeking),
            seeking: now.seeking.clone(),
            figure: searching.figure,
            running,
            map,
            map_version: searching.map_version,
            stopped: searching.stopped && searching.coarse.is_some(),
            map_outdated,
            answer: found.map(|found| found.searched.answer.as_ref()),
            remains: found.and_then(|found| found.searched.remains.as_ref()),
            pictures: found.map_or(&[], |found| &found.pictures),
            answered: found.map(|found| &found.of.seeking),
            outdated: found.and_then(|found| outdated(&found.of)),
            took: found.map(|found| found.searched.took),
            failed: searching.failed.as_deref(),
        }
    }

    /// How many places and combinations a search looks at.
    fn counted(&self, seeking: &Seeking) -> Result<(usize, usize), String> {
        let criteria = seeking.searched();
        let count = || {
            criteria.check()?;
            let subject = self.survey.subject.as_ref().map_err(|error| *error)?;
            Ok::<_, CriteriaError>((Lattice::of(&criteria, subject, 1)?.len(), criteria.each()))
        };
        count().map_err(|error| error.to_string())
    }

    /// What a search would look for now, and where.
    fn of_now(&self) -> Of {
        let sought = self.sought();
        let site = &self.survey.model.site;
        let stands = |name: &String| site.blocks.iter().any(|block| block.name == *name);
        let kept = |names: &[String]| names.iter().filter(|name| stands(name)).cloned().collect::<Vec<_>>();
        let criteria = Criteria {
            format: self.stance.format.clone(),
            orientation: None,
            crop: self.stance.crop,
            lenses: self.sought_lenses(),
            inside: kept(&sought.criteria.inside),
            outside: kept(&sought.criteria.outside),
            without: kept(&sought.criteria.without),
            from: sought.criteria.from.or_else(|| site.stances.first().map(|stance| stance.at)),
            ..sought.criteria
        };
        Of { seeking: Seeking { criteria, may_come: kept(&sought.may_come) }, site: self.site_version }
    }

    /// What the plan keeps of the requirements, or the first ones.
    fn sought(&self) -> Sought {
        self.plan.sought.clone().unwrap_or_else(|| Sought {
            criteria: Criteria { distance_m: FIRST_DISTANCE_M, ..Criteria::default() },
            lenses: None,
            may_come: Vec::new(),
        })
    }

    /// The lenses that were chosen; else those in the bag, or the usual ones where nobody has packed one.
    fn sought_lenses(&self) -> Vec<String> {
        let known = |name: &String| self.carried().any(|lens| lens.name == *name);
        if let Some(chosen) = self.plan.sought.as_ref().and_then(|sought| sought.lenses.as_ref()) {
            return chosen.iter().filter(|name| known(name)).cloned().collect();
        }
        let usual: Vec<String> = Criteria::default().lenses.into_iter().filter(known).collect();
        if self.plan.bag.is_none() && !usual.is_empty() {
            return usual;
        }
        self.carried().take(MOST_LENSES).map(|lens| lens.name.clone()).collect()
    }

    /// Criteria for something else.
    pub(super) fn seek(&mut self, seeking: &Seeking) -> bool {
        let now = self.of_now().seeking;
        if *seeking == now {
            return false;
        }
        if let Err(error) = seeking.criteria.check_each() {
            self.notices.tell(NoticeKind::Error, error.to_string());
            return true;
        }
        let mut sought = self.sought();
        let from = sought.criteria.from;
        (sought.criteria, sought.may_come) = (seeking.criteria.clone(), seeking.may_come.clone());
        // What was not chosen goes on following bag and site.
        if seeking.criteria.from == now.criteria.from {
            sought.criteria.from = from;
        }
        if seeking.criteria.lenses != now.criteria.lenses {
            sought.lenses = Some(seeking.criteria.lenses.clone());
        }
        self.plan.sought = Some(sought);
        self.searching.failed = None;
        true
    }

    pub(super) fn show_figure(&mut self, figure: Figure) -> bool {
        std::mem::replace(&mut self.searching.figure, figure) != figure
    }

    /// Starts to search; a search that still runs is left.
    pub(super) fn begin_search(&mut self) -> bool {
        self.stop_search();
        let of = self.of_now();
        self.searching.failed = None;
        self.searching.stopped = false;
        if let Err(error) = self.counted(&of.seeking) {
            self.searching.failed = Some(error);
            return true;
        }
        let maps = Maps::default();
        let work = {
            let (survey, seeking, maps) = (Arc::clone(&self.survey), of.seeking.clone(), Arc::clone(&maps));
            let wake = self.keeping.home.wake.clone();
            let title = format!("Searching {}", survey.model.site.name);
            self.works.start(Some(title), move |progress| {
                let show = |map: &Map| {
                    // The finished one comes with the answer.
                    if map.step() > 1 {
                        *maps.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(map.clone()));
                        wake.call();
                    }
                };
                Outcome::Searched(search(&survey, &seeking, progress, &show))
            })
        };
        match work {
            Some(work) => self.searching.running = Some(Running { work, of, maps }),
            None => {
                self.refused_work(true);
            }
        }
        true
    }

    /// Leaves the search that runs; what it has shown so far stays, marked as coarse.
    pub(super) fn stop_search(&mut self) -> bool {
        self.take_coarse();
        let Some(running) = self.searching.running.take() else { return false };
        self.works.cancel(running.work);
        self.searching.stopped = true;
        true
    }

    /// Takes the newest coarse map in. Returns whether there was one.
    pub(super) fn take_coarse(&mut self) -> bool {
        let Some(running) = &self.searching.running else { return false };
        let newest = running.maps.lock().unwrap_or_else(PoisonError::into_inner).take();
        let Some(map) = newest else { return false };
        self.searching.coarse = Some((running.of.clone(), map));
        self.searching.map_version += 1;
        true
    }

    /// A search has come to its end.
    pub(super) fn searched(&mut self, work: WorkId, searched: Result<Searched, Unfound>) {
        self.take_coarse();
        // One that was left has nothing to say any more.
        let Some(running) = self.searching.running.take_if(|running| running.work == work) else { return };
        match searched {
            Ok(searched) => {
                let pictures = vec![None; searched.answer.ranked.len()];
                self.searching.coarse = None;
                self.searching.found = Some(Found { of: running.of, searched, pictures });
                self.searching.map_version += 1;
            }
            // Called off from the list of works.
            Err(Unfound::Cancelled) => self.searching.stopped = true,
            Err(Unfound::Error(text)) => {
                self.notices.tell(NoticeKind::Error, format!("the search: {text}"));
                self.searching.failed = Some(text);
            }
        }
    }

    /// A search whose work broke has no outcome.
    pub(super) fn search_broke(&mut self, work: WorkId) {
        if self.searching.running.take_if(|running| running.work == work).is_some() {
            self.searching.failed = Some("the search broke off; try other requirements".into());
        }
    }

    /// The listed places that want a picture: on which site, and from where.
    pub(super) fn listed(&self) -> Option<(Option<&Arc<Survey>>, &[Ranked])> {
        let found = self.searching.found.as_ref().filter(|found| found.of.site == self.site_version)?;
        Some((found.searched.reduced.as_ref(), &found.searched.answer.ranked))
    }

    /// The blocks that were away in what was found: pictures of its places belong to the site without them.
    pub(super) fn away(&self) -> Vec<String> {
        self.searching.found.as_ref().map_or_else(Vec::new, |found| found.of.seeking.searched().without)
    }

    pub(super) fn set_listed_thumbnails(&mut self, pictures: Vec<Option<Thumbnail>>) {
        if let Some(found) = &mut self.searching.found {
            for (place, picture) in found.pictures.iter_mut().zip(pictures) {
                *place = picture.or(place.take());
            }
        }
    }
}

/// The search itself, beside the window.
fn search(survey: &Survey, seeking: &Seeking, progress: &Progress, show: &dyn Fn(&Map)) -> Result<Searched, Unfound> {
    let start = Instant::now();
    let criteria = seeking.searched();
    let wrong = |error: CriteriaError| Unfound::Error(error.to_string());
    let search = Search::new(survey, criteria.clone()).map_err(wrong)?;
    let answer = search.run(progress, show).map_err(|_| Unfound::Cancelled)?;
    let took = start.elapsed();
    let looking = Looking::default();
    let remains = (!seeking.may_come.is_empty())
        .then(|| remains(survey, &criteria, &seeking.may_come, &answer, looking, progress))
        .transpose()
        .map_err(|error| match error {
            RemainsError::Cancelled(_) => Unfound::Cancelled,
            RemainsError::Requirement(error) => wrong(error),
        })?;
    let reduced = (!criteria.without.is_empty()).then(|| Arc::new(survey.without(&criteria.without)));
    Ok(Searched { answer: Arc::new(answer), remains, reduced, took })
}
