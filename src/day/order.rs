//! Which order of stops misses fewest windows, walks least and ends earliest?
//!
//! Times are seconds from the day's beginning.

/// Up to so many stops the order is the best there is.
pub const MOST_EXACT: usize = 10;

/// Stops with the ways between them.
#[derive(Clone, Debug, PartialEq)]
pub struct Round {
    /// How far it is from the start to each stop, in metres.
    pub first_m: Vec<f64>,
    /// How far it is from each stop to each other, in metres.
    pub legs_m: Vec<Vec<f64>>,
    /// For each stop the stretches in which all of its work must lie, in order.
    pub windows: Vec<Vec<(f64, f64)>>,
    /// When one sets out.
    pub start_s: f64,
    /// From arriving to being ready.
    pub setup_s: f64,
    /// From being ready to leaving.
    pub work_s: f64,
    /// Metres a second.
    pub pace: f64,
}

/// What an order comes to; of two, the smaller is better.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct RoundScore {
    /// Stops outside their windows.
    pub missed: u32,
    /// Metres.
    pub walked_m: f64,
    /// When the last stop is left.
    pub ends_s: f64,
}

/// An order of stops.
#[derive(Clone, Debug, PartialEq)]
pub struct Order {
    /// The stops, first to last.
    pub stops: Vec<usize>,
    /// What it comes to.
    pub score: RoundScore,
    /// Whether no other order is better.
    pub exact: bool,
}

/// A way to have come to a stop.
#[derive(Clone, Copy)]
struct Label {
    score: RoundScore,
    stop: usize,
    from: Option<usize>,
}

impl RoundScore {
    fn order(&self, other: &Self) -> std::cmp::Ordering {
        self.missed
            .cmp(&other.missed)
            .then(self.walked_m.total_cmp(&other.walked_m))
            .then(self.ends_s.total_cmp(&other.ends_s))
    }

    /// Whether nothing that follows can make the other better.
    fn is_no_worse(&self, other: &Self) -> bool {
        self.missed <= other.missed && self.walked_m <= other.walked_m && self.ends_s <= other.ends_s
    }
}

impl Round {
    /// When the work at a stop begins if one comes there at a time, and whether it lies in a window. One waits for the next
    /// window that is long enough; where there is none left, work begins at once.
    pub fn begins_s(&self, stop: usize, arrives_s: f64) -> (f64, bool) {
        let ready_s = arrives_s + self.setup_s;
        let begin = |&(from_s, to_s): &(f64, f64)| {
            let begin_s = ready_s.max(from_s);
            (begin_s + self.work_s <= to_s).then_some(begin_s)
        };
        self.windows[stop].iter().find_map(begin).map_or((ready_s, false), |begin_s| (begin_s, true))
    }

    fn after(&self, score: RoundScore, leg_m: f64, stop: usize) -> RoundScore {
        let (begins_s, in_window) = self.begins_s(stop, score.ends_s + leg_m / self.pace);
        RoundScore {
            missed: score.missed + u32::from(!in_window),
            walked_m: score.walked_m + leg_m,
            ends_s: begins_s + self.work_s,
        }
    }

    fn start(&self) -> RoundScore {
        RoundScore { missed: 0, walked_m: 0.0, ends_s: self.start_s }
    }

    /// What an order comes to.
    pub fn score(&self, stops: &[usize]) -> RoundScore {
        let mut before = None;
        stops.iter().fold(self.start(), |score, &stop| {
            let leg_m = before.map_or(self.first_m[stop], |before: usize| self.legs_m[before][stop]);
            before = Some(stop);
            self.after(score, leg_m, stop)
        })
    }

    /// The best order that is found.
    pub fn best(&self) -> Order {
        if self.windows.len() <= MOST_EXACT { self.best_of_all() } else { self.good() }
    }

    /// Over subsets of stops (R. Bellman, M. Held and R. M. Karp, 1962, from memory), keeping for each subset and last stop
    /// every way there that no other beats in windows missed, metres and time at once: coming earlier never leads to leaving
    /// later.
    fn best_of_all(&self) -> Order {
        let count = self.windows.len();
        let mut ways = Ways { labels: Vec::new(), kept: vec![Vec::new(); count << count] };
        for stop in 0..count {
            let score = self.after(self.start(), self.first_m[stop], stop);
            ways.keep((1 << stop) * count + stop, Label { score, stop, from: None });
        }
        // What is kept later belongs to larger subsets, so each is whole when its turn comes.
        for subset in 1..1_usize << count {
            for last in (0..count).filter(|last| subset >> last & 1 == 1) {
                for from in ways.kept[subset * count + last].clone() {
                    for stop in (0..count).filter(|stop| subset >> stop & 1 == 0) {
                        let score = self.after(ways.labels[from].score, self.legs_m[last][stop], stop);
                        ways.keep((subset | 1 << stop) * count + stop, Label { score, stop, from: Some(from) });
                    }
                }
            }
        }
        let whole = (1_usize << count) - 1;
        let ends = (0..count).flat_map(|last| ways.kept[whole * count + last].iter().copied());
        let best = ends.min_by(|a, b| ways.labels[*a].score.order(&ways.labels[*b].score));
        let (mut stops, mut way) = (Vec::with_capacity(count), best);
        while let Some(label) = way.map(|way| ways.labels[way]) {
            stops.push(label.stop);
            way = label.from;
        }
        stops.reverse();
        Order { score: self.score(&stops), stops, exact: true }
    }

    /// By putting in stop after stop where it costs least, then moving stops and turning stretches round while that helps.
    fn good(&self) -> Order {
        let mut stops: Vec<usize> = Vec::new();
        for stop in 0..self.windows.len() {
            let with = |at: usize| {
                let mut with = stops.clone();
                with.insert(at, stop);
                with
            };
            let tries = (0..=stops.len()).map(with);
            stops = tries.min_by(|a, b| self.score(a).order(&self.score(b))).unwrap_or_else(|| vec![stop]);
        }
        loop {
            let score = self.score(&stops);
            let better = self.neighbours(&stops).into_iter().find(|other| self.score(other).order(&score).is_lt());
            match better {
                Some(better) => stops = better,
                None => return Order { score, stops, exact: false },
            }
        }
    }

    /// Every order with one stop elsewhere, or one stretch turned round.
    fn neighbours(&self, stops: &[usize]) -> Vec<Vec<usize>> {
        let mut found = Vec::new();
        for from in 0..stops.len() {
            for to in 0..stops.len() {
                let mut moved = stops.to_vec();
                let stop = moved.remove(from);
                moved.insert(to, stop);
                found.push(moved);
                if from < to {
                    let mut turned = stops.to_vec();
                    turned[from..=to].reverse();
                    found.push(turned);
                }
            }
        }
        found
    }
}

/// What is kept of all ways.
struct Ways {
    labels: Vec<Label>,
    /// By subset and last stop.
    kept: Vec<Vec<usize>>,
}

impl Ways {
    fn keep(&mut self, place: usize, label: Label) {
        let Self { labels, kept } = self;
        if kept[place].iter().any(|&known| labels[known].score.is_no_worse(&label.score)) {
            return;
        }
        kept[place].retain(|&known| !label.score.is_no_worse(&labels[known].score));
        kept[place].push(labels.len());
        labels.push(label);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every order of a number of stops.
    fn all_orders(count: usize) -> Vec<Vec<usize>> {
        if count == 0 {
            return vec![Vec::new()];
        }
        let put_in = |order: Vec<usize>| {
            (0..count).map(move |at| {
                let mut longer = order.clone();
                longer.insert(at, count - 1);
                longer
            })
        };
        all_orders(count - 1).into_iter().flat_map(put_in).collect()
    }

    /// Numbers that look random, from 0 to 1.
    fn numbers(mut seed: u64) -> impl FnMut() -> f64 {
        move || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    fn round(count: usize, seed: u64) -> Round {
        let mut random = numbers(seed);
        let places: Vec<(f64, f64)> = (0..count).map(|_| (400.0 * random(), 400.0 * random())).collect();
        let legs_m = places
            .iter()
            .map(|a| places.iter().map(|b| (a.0 - b.0).hypot(a.1 - b.1) * (1.0 + 0.3 * random())).collect())
            .collect();
        let windows = (0..count)
            .map(|_| {
                let from = 30_000.0 * random();
                let second = from + 9000.0 + 9000.0 * random();
                vec![(from, from + 2000.0 + 6000.0 * random()), (second, second + 3000.0 * random())]
            })
            .collect();
        Round { first_m: vec![0.0; count], legs_m, windows, start_s: 3000.0, setup_s: 600.0, work_s: 1200.0, pace: 1.2 }
    }

    #[test]
    fn no_order_of_all_is_better_than_the_best() {
        for seed in 0..60 {
            let round = round(1 + (seed % 7) as usize, seed);
            let best = round.best();
            let all = all_orders(round.windows.len());
            let least = all.iter().map(|stops| round.score(stops)).min_by(RoundScore::order).expect("an order");
            assert!(best.exact);
            assert_eq!(best.score, least, "seed {seed}");
        }
    }

    #[test]
    fn more_than_ten_stops_get_a_good_order_that_says_so() {
        let mut round = round(11, 5);
        let best = round.best();
        assert!(!best.exact);
        let mut stops = best.stops.clone();
        stops.sort_unstable();
        assert_eq!(stops, (0..11).collect::<Vec<_>>());
        // Along a line without windows the best order is known: from one end to the other.
        let at = |stop: usize| ((stop * 7) % 11) as f64 * 100.0;
        round.legs_m = (0..11).map(|a| (0..11).map(|b| (at(a) - at(b)).abs()).collect()).collect();
        round.windows = vec![vec![(0.0, 1e9)]; 11];
        assert_eq!(round.best().score.walked_m, 1000.0);
    }

    #[test]
    fn one_waits_for_a_window_that_is_long_enough() {
        let round = Round {
            first_m: vec![0.0],
            legs_m: vec![vec![0.0]],
            windows: vec![vec![(100.0, 150.0), (1000.0, 1100.0), (2000.0, 9000.0)]],
            start_s: 0.0,
            setup_s: 60.0,
            work_s: 300.0,
            pace: 1.0,
        };
        assert_eq!(round.begins_s(0, 0.0), (2000.0, true));
        assert_eq!(round.begins_s(0, 5000.0), (5060.0, true));
        assert_eq!(round.begins_s(0, 8700.0), (8760.0, false));
    }
}
