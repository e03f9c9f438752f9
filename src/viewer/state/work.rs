//! What is being worked on in the background, how far is it, and how is it stopped?

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};

use crate::progress::Progress;

/// Whatever wakes the window, so that it fetches what was done: see [`super::desk::Desk::catch_up`].
#[derive(Clone, Default)]
pub struct Wake(Arc<Mutex<Option<Waker>>>);

/// What a window is woken by.
pub type Waker = Arc<dyn Fn() + Send + Sync>;

impl std::fmt::Debug for Wake {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Wake")
    }
}

impl Wake {
    /// Connects the window; all work started before and after wakes it.
    pub fn connect(&self, window: Waker) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(window);
    }

    /// Wakes the window, where there is one.
    pub fn call(&self) {
        let window = self.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        if let Some(window) = window {
            window();
        }
    }
}

/// What other threads bring to the window.
pub(in crate::viewer) struct Mailbox<T>(Mutex<Receiver<T>>);

impl<T> Mailbox<T> {
    /// A mailbox, and what puts things in.
    pub(in crate::viewer) fn new() -> (Sender<T>, Self) {
        let (send, receive) = channel();
        (send, Self(Mutex::new(receive)))
    }

    /// Everything that has come.
    pub(in crate::viewer) fn take(&self) -> Vec<T> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).try_iter().collect()
    }
}

/// The number of a piece of work; never given twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WorkId(pub u64);

/// What happens to work in the background.
#[derive(Clone, Debug, PartialEq)]
pub enum WorkAction {
    /// Stop it.
    Cancel(WorkId),
}

/// A piece of work as the window shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkView {
    /// Its number, to cancel it by.
    pub id: WorkId,
    /// What it does: "Taking still.png".
    pub title: String,
    /// How much is done, 0 to 1; nothing where that cannot be told.
    pub share: Option<f64>,
}

/// A small picture, in sRGB, three bytes a pixel.
#[derive(Clone, PartialEq)]
pub struct Thumbnail {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Row by row from the top left.
    pub rgb: Arc<[u8]>,
    /// Another number for every other picture, so that a texture is made only when needed.
    pub version: u64,
}

impl std::fmt::Debug for Thumbnail {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Thumbnail({}x{}, version {})", self.width_px, self.height_px, self.version)
    }
}

/// A piece of work to be started, its outcome of kind `O`.
pub(in crate::viewer) struct Job<O> {
    pub(in crate::viewer) id: WorkId,
    /// What the window shows; nothing for small things that nobody waits for.
    pub(in crate::viewer) title: Option<String>,
    pub(in crate::viewer) run: Box<dyn FnOnce(&Progress) -> O + Send>,
}

struct Running {
    id: WorkId,
    /// What the window shows; nothing for small things that nobody waits for.
    title: Option<String>,
    progress: Arc<Progress>,
}

/// All the work in the background; each piece on a thread of its own, its outcome of kind `O`.
pub(in crate::viewer) struct Works<O> {
    wake: Wake,
    next_id: WorkId,
    running: Vec<Running>,
    send: Sender<(WorkId, Option<O>)>,
    done: Mailbox<(WorkId, Option<O>)>,
}

impl<O: Send + 'static> Works<O> {
    pub(in crate::viewer) fn new(wake: Wake) -> Self {
        let (send, done) = Mailbox::new();
        Self { wake, next_id: WorkId(1), running: Vec::new(), send, done }
    }

    /// The number of the next piece of work.
    pub(in crate::viewer) fn next_id(&self) -> WorkId {
        self.next_id
    }

    /// Starts a piece of work; false where the system gives no thread.
    pub(in crate::viewer) fn start(&mut self, job: Job<O>) -> bool {
        let Job { id, title, run } = job;
        self.next_id = self.next_id.max(WorkId(id.0 + 1));
        let progress = Arc::new(Progress::unwatched());
        let (send, wake, watched) = (self.send.clone(), self.wake.clone(), Arc::clone(&progress));
        let run = move || {
            // Work that breaks must not leave the window waiting.
            let outcome = catch_unwind(AssertUnwindSafe(|| run(&watched))).ok();
            if send.send((id, outcome)).is_ok() {
                wake.call();
            }
        };
        let started = std::thread::Builder::new().name(format!("plumbsight-work-{}", id.0)).spawn(run).is_ok();
        if started {
            self.running.push(Running { id, title, progress });
        }
        started
    }

    /// Everything that has ended; `None` is work that broke.
    pub(in crate::viewer) fn ended(&mut self) -> Vec<(WorkId, Option<O>)> {
        let ended = self.done.take();
        self.running.retain(|running| ended.iter().all(|(id, _)| *id != running.id));
        ended
    }

    /// Asks a piece of work to stop soon.
    pub(in crate::viewer) fn cancel(&self, id: WorkId) {
        for running in self.running.iter().filter(|running| running.id == id) {
            running.progress.cancel();
        }
    }

    pub(in crate::viewer) fn cancel_all(&self) {
        for running in &self.running {
            running.progress.cancel();
        }
    }

    /// What the window shows of it.
    pub(in crate::viewer) fn shown(&self) -> Vec<WorkView> {
        let view = |running: &Running| {
            let (done, total) = running.progress.count();
            let share = (total > 0).then(|| (done as f64 / total as f64).min(1.0));
            Some(WorkView { id: running.id, title: running.title.clone()?, share })
        };
        self.running.iter().filter_map(view).collect()
    }

    /// Whether anything at all is still being worked on.
    pub(in crate::viewer) fn busy(&self) -> bool {
        !self.running.is_empty()
    }
}
