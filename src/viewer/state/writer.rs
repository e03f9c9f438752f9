//! Who writes to disk while the window goes on?
//!
//! One thread does orders one after the other; of several orders waiting that ask for the same, only the last is done.

use std::sync::mpsc::{Sender, channel};
use std::time::Duration;

use super::work::{Mailbox, Wake};

/// How long closing the window waits for the last of it to be written.
const PATIENCE: Duration = Duration::from_secs(10);

enum Task<J> {
    Do(J),
    /// Answer when everything before this is done.
    Answer(Sender<()>),
}

/// A thread that does orders of kind `J` and brings back news of kind `N`.
pub(in crate::viewer) struct Writer<J, N> {
    orders: Option<Sender<Task<J>>>,
    news: Mailbox<N>,
}

impl<J: Send + 'static, N: Send + 'static> Writer<J, N> {
    /// Starts the thread. `outdone` says whether an order is idle because of a later one.
    pub(in crate::viewer) fn new(
        wake: Wake,
        outdone: fn(&J, &J) -> bool,
        mut work: impl FnMut(J) -> Option<N> + Send + 'static,
    ) -> Self {
        let (orders, waiting) = channel::<Task<J>>();
        let (bring, news) = Mailbox::new();
        let run = move || {
            while let Ok(first) = waiting.recv() {
                let mut batch = vec![first];
                batch.extend(waiting.try_iter());
                let mut batch = batch.into_iter().peekable();
                while let Some(order) = batch.next() {
                    match order {
                        Task::Do(job) => {
                            if matches!(batch.peek(), Some(Task::Do(later)) if outdone(&job, later)) {
                                continue;
                            }
                            if let Some(piece) = work(job) {
                                // Nobody listens any more when the window is gone.
                                if bring.send(piece).is_ok() {
                                    wake.call();
                                }
                            }
                        }
                        Task::Answer(done) => {
                            // As above.
                            let _ = done.send(());
                        }
                    }
                }
            }
        };
        // Without a thread orders are refused, and the sender reports it.
        let started = std::thread::Builder::new().name("plumbsight-writer".into()).spawn(run).is_ok();
        Self { orders: started.then_some(orders), news }
    }

    /// Gives an order; false where nobody can do it.
    pub(in crate::viewer) fn order(&self, job: J) -> bool {
        self.orders.as_ref().is_some_and(|orders| orders.send(Task::Do(job)).is_ok())
    }

    /// What has been done meanwhile.
    pub(in crate::viewer) fn news(&self) -> Vec<N> {
        self.news.take()
    }

    /// Waits until everything ordered is done; false where that takes too long.
    pub(in crate::viewer) fn finish(&self) -> bool {
        let Some(orders) = &self.orders else { return true };
        let (done, wait) = channel();
        orders.send(Task::Answer(done)).is_ok() && wait.recv_timeout(PATIENCE).is_ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_of_many_orders_is_always_done() {
        let writer = Writer::new(
            Wake::default(),
            |_: &u32, _| true,
            |job| {
                std::thread::sleep(Duration::from_millis(1));
                Some(job)
            },
        );
        for job in 0..100 {
            assert!(writer.order(job));
        }
        assert!(writer.finish());
        let done = writer.news();
        assert_eq!(done.last(), Some(&99));
        assert!(done.len() < 100, "{}", done.len());
        assert!(done.windows(2).all(|pair| pair[0] < pair[1]));
    }
}
