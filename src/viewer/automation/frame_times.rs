//! How long does a frame take, and what of it is the processor's work?

use std::time::{Duration, Instant};

/// The median and the 95th percentile of some frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrameTimes {
    /// How many.
    pub count: usize,
    /// Half of them took no longer.
    pub median: Duration,
    /// Nineteen in twenty took no longer.
    pub nearly_all: Duration,
    /// The processor's time for each, on all cores, where the system tells it.
    pub processor: Option<Duration>,
}

/// What was found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timings {
    /// What drew.
    pub adapter: String,
    /// From the start of the program to the first whole picture.
    pub first: Duration,
    /// While the walker walks.
    pub walking: Option<FrameTimes>,
    /// While only the panels change.
    pub panels: Option<FrameTimes>,
    /// Of the same meshes with the engine's own material and shadow, where that was asked for.
    pub standard: Option<FrameTimes>,
}

impl std::fmt::Display for FrameTimes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let ms = |time: Duration| time.as_secs_f64() * 1e3;
        write!(f, "median {:.1} ms, 95th percentile {:.1} ms", ms(self.median), ms(self.nearly_all))?;
        if let Some(processor) = self.processor {
            write!(f, ", processor {:.1} ms a frame", ms(processor))?;
        }
        write!(f, " ({} frames)", self.count)
    }
}

/// Takes the time of frames.
#[derive(Debug)]
pub(in crate::viewer) struct FrameClock {
    last: Option<Instant>,
    times: Vec<Duration>,
    processor: Option<Duration>,
}

impl FrameClock {
    pub(in crate::viewer) fn start() -> Self {
        Self { last: None, times: Vec::new(), processor: None }
    }

    /// A frame has ended.
    pub(in crate::viewer) fn tick(&mut self) {
        let now = Instant::now();
        match self.last {
            Some(last) => self.times.push(now - last),
            None => self.processor = processor_time(),
        }
        self.last = Some(now);
    }

    pub(in crate::viewer) fn count(&self) -> usize {
        self.times.len()
    }

    /// What was found; `None` without a frame.
    pub(in crate::viewer) fn read(&self) -> Option<FrameTimes> {
        let mut sorted = self.times.clone();
        sorted.sort();
        let at = |share: f64| sorted.get(((sorted.len() as f64 * share) as usize).min(sorted.len().saturating_sub(1)));
        let spent = self.processor.zip(processor_time()).map(|(start, end)| end.saturating_sub(start));
        Some(FrameTimes {
            count: sorted.len(),
            median: *at(0.5)?,
            nearly_all: *at(0.95)?,
            processor: spent.map(|spent| spent / sorted.len() as u32),
        })
    }
}

/// The time that this program has had of all cores: its user and system ticks, which Linux counts by the hundredth of a
/// second (`proc_pid_stat(5)`).
fn processor_time() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    // The second field is the program's name in brackets, and may hold anything.
    let fields: Vec<&str> = text.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks: u64 = fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?;
    Some(Duration::from_millis(10 * ticks))
}
