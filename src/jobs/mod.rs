//! One named worker thread with progress and cancellation.
//!
//! Jobs run one after another in the order in which they were handed in, so two saves never race. A job owns what it
//! reads (a snapshot), and its result waits until the window asks for it.

mod spread;

pub use spread::{spread, threads};

use std::any::Any;
use std::collections::VecDeque;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};

/// Called from the worker whenever there is something new to show; the window asks for a repaint in it.
pub type Wake = Arc<dyn Fn() + Send + Sync>;

/// How a job ended.
#[derive(Debug, PartialEq, Eq)]
pub enum Outcome<T> {
    /// It ran to its end, perhaps an early one if it saw that it was cancelled.
    Finished(T),
    /// It was cancelled before it began.
    Cancelled,
    /// It panicked; the text says with what. The worker goes on with the next job.
    Failed(String),
}

/// A job that has ended.
#[derive(Debug, PartialEq, Eq)]
pub struct Done<T> {
    /// The number that its ticket carries.
    pub id: u64,
    /// What it was called.
    pub label: String,
    /// How it ended.
    pub outcome: Outcome<T>,
}

/// What a job can ask and tell while it runs.
pub struct JobContext {
    shared: Arc<Shared>,
    wake: Wake,
}

impl JobContext {
    /// For work that is done at once, where no second thread could be started: nobody cancels it or looks at it.
    pub fn at_once() -> Self {
        Self {
            shared: Arc::default(),
            wake: Arc::new(|| {}),
        }
    }

    /// Whether somebody no longer wants the result. A job that takes long looks at this often.
    pub fn cancelled(&self) -> bool {
        self.shared.cancelled.load(Ordering::Relaxed)
    }

    /// Tells how much is done, from 0 to 1. Wakes the window only when a whole percent has passed.
    pub fn progress(&self, done: f32) {
        let percent = (done.clamp(0.0, 1.0) * 100.0) as u32;
        if self.shared.percent.swap(percent, Ordering::Relaxed) != percent {
            (self.wake)();
        }
    }
}

#[derive(Default)]
struct Shared {
    cancelled: AtomicBool,
    percent: AtomicU32,
}

/// The claim check of a job: for asking how far it is, and for cancelling it.
#[derive(Clone)]
pub struct Ticket {
    /// The number that the job's [`Done`] carries, from 1.
    pub id: u64,
    /// What the job is called.
    pub label: String,
    shared: Arc<Shared>,
}

impl Ticket {
    /// How much is done, in whole percent, as far as the job has told.
    pub fn percent(&self) -> u32 {
        self.shared.percent.load(Ordering::Relaxed)
    }

    /// Says that the result is no longer wanted. A waiting job does not begin; a running one ends when it looks.
    pub fn cancel(&self) {
        self.shared.cancelled.store(true, Ordering::Relaxed);
    }

    /// Whether somebody said that the result is no longer wanted.
    pub fn is_cancelled(&self) -> bool {
        self.shared.cancelled.load(Ordering::Relaxed)
    }
}

type Work<T> = Box<dyn FnOnce(&JobContext) -> T + Send>;

/// One thread and its queue. `T` is what every job gives back, usually an enum of the window's.
pub struct Worker<T> {
    queue: Option<Sender<(Ticket, Work<T>)>>,
    results: Receiver<Done<T>>,
    open: Arc<Mutex<VecDeque<Ticket>>>,
    thread: Option<JoinHandle<()>>,
    last_id: u64,
    /// Jobs handed in whose end was not taken yet.
    untaken: usize,
}

impl<T: Send + 'static> Worker<T> {
    /// Starts a thread called `name`. Fails only when the system gives no more threads.
    pub fn new(name: &str, wake: Wake) -> io::Result<Self> {
        let (queue, jobs) = mpsc::channel();
        let (sender, results) = mpsc::channel();
        let open = Arc::new(Mutex::new(VecDeque::new()));
        let still_open = Arc::clone(&open);
        let thread = thread::Builder::new()
            .name(name.to_owned())
            .spawn(move || run_all(&jobs, &sender, &still_open, &wake))?;
        Ok(Self {
            queue: Some(queue),
            results,
            open,
            thread: Some(thread),
            last_id: 0,
            untaken: 0,
        })
    }

    /// Hands in a job; it runs after those handed in before it.
    ///
    /// # Panics
    /// If the thread has ended, which only a panic in the `wake` function can bring about.
    pub fn submit(&mut self, label: &str, work: impl FnOnce(&JobContext) -> T + Send + 'static) -> Ticket {
        self.last_id += 1;
        let ticket = Ticket {
            id: self.last_id,
            label: label.to_owned(),
            shared: Arc::default(),
        };
        locked(&self.open).push_back(ticket.clone());
        self.queue
            .as_ref()
            .and_then(|queue| queue.send((ticket.clone(), Box::new(work))).ok())
            .expect("the worker's thread runs until the worker is dropped");
        self.untaken += 1;
        ticket
    }

    /// The next job that has ended, in order, if there is one. Never waits.
    pub fn poll(&mut self) -> Option<Done<T>> {
        let done = self.results.try_recv().ok()?;
        self.untaken -= 1;
        Some(done)
    }

    /// Waits for the next job to end; `None` when the end of every job was taken.
    pub fn wait(&mut self) -> Option<Done<T>> {
        if self.untaken == 0 {
            return None;
        }
        let done = self.results.recv().ok()?;
        self.untaken -= 1;
        Some(done)
    }

    /// The job that is running or next to run, if any.
    pub fn current(&self) -> Option<Ticket> {
        locked(&self.open).front().cloned()
    }

    /// How many jobs are running or waiting, or have ended without their end having been taken.
    pub fn pending(&self) -> usize {
        self.untaken
    }
}

impl<T> Drop for Worker<T> {
    /// Waits until the jobs handed in have run, so that no save is lost. Cancel long ones first.
    fn drop(&mut self) {
        self.queue = None;
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
        {
            tracing::error!("the worker thread ended with a panic");
        }
    }
}

fn run_all<T>(
    jobs: &Receiver<(Ticket, Work<T>)>,
    results: &Sender<Done<T>>,
    open: &Mutex<VecDeque<Ticket>>,
    wake: &Wake,
) {
    while let Ok((ticket, work)) = jobs.recv() {
        let outcome = run_one(&ticket, work, wake);
        let done = Done {
            id: ticket.id,
            label: ticket.label,
            outcome,
        };
        // Nobody takes results any more while the worker is being dropped; the jobs still run.
        locked(open).pop_front();
        if results.send(done).is_ok() {
            wake();
        }
    }
}

fn run_one<T>(ticket: &Ticket, work: Work<T>, wake: &Wake) -> Outcome<T> {
    let context = JobContext {
        shared: Arc::clone(&ticket.shared),
        wake: Arc::clone(wake),
    };
    if context.cancelled() {
        return Outcome::Cancelled;
    }
    match catch_unwind(AssertUnwindSafe(|| work(&context))) {
        Ok(result) => Outcome::Finished(result),
        Err(panic) => Outcome::Failed(panic_text(panic.as_ref())),
    }
}

fn panic_text(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| panic.downcast_ref::<&str>().copied())
        .unwrap_or("no reason given")
        .to_owned()
}

/// The queue's list is whole after every statement that changes it, so a poisoned lock is as good as any.
fn locked<V>(mutex: &Mutex<V>) -> MutexGuard<'_, V> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicUsize;

    use super::*;

    fn counting_wake() -> (Wake, Arc<AtomicUsize>) {
        let calls = Arc::new(AtomicUsize::new(0));
        let counter = Arc::clone(&calls);
        let wake = move || {
            counter.fetch_add(1, Ordering::SeqCst);
        };
        (Arc::new(wake), calls)
    }

    #[test]
    fn jobs_run_in_order_on_one_named_thread_and_wake_the_window() {
        let (wake, calls) = counting_wake();
        let mut worker = Worker::new("worker-test", wake).unwrap();
        let (open_gate, gate) = mpsc::channel::<()>();
        worker.submit("first", move |_| {
            gate.recv().unwrap();
            (1, thread::current().name().map(str::to_owned))
        });
        worker.submit("second", |_| (2, thread::current().name().map(str::to_owned)));
        assert_eq!(worker.pending(), 2, "the second waits while the first runs");
        assert_eq!(worker.current().unwrap().label, "first");
        assert_eq!(worker.poll(), None);
        open_gate.send(()).unwrap();
        let name = Some("worker-test".to_owned());
        assert_eq!(
            worker.wait().unwrap().outcome,
            Outcome::Finished((1, name.clone()))
        );
        let second = worker.wait().unwrap();
        assert_eq!((second.id, second.label.as_str()), (2, "second"));
        assert_eq!(second.outcome, Outcome::Finished((2, name)));
        assert_eq!(worker.wait(), None);
        assert_eq!(worker.pending(), 0);
        drop(worker);
        assert_eq!(calls.load(Ordering::SeqCst), 2);
    }

    #[test]
    fn a_waiting_job_is_cancelled_and_a_running_one_is_told() {
        let (wake, _) = counting_wake();
        let mut worker = Worker::new("worker-test", wake).unwrap();
        let (started, has_started) = mpsc::channel::<()>();
        let running = worker.submit("running", move |job| {
            started.send(()).unwrap();
            while !job.cancelled() {
                thread::yield_now();
            }
            "stopped early"
        });
        let waiting = worker.submit("waiting", |_| "never");
        has_started.recv().unwrap();
        waiting.cancel();
        running.cancel();
        assert_eq!(worker.wait().unwrap().outcome, Outcome::Finished("stopped early"));
        assert_eq!(
            worker.pending(),
            1,
            "an end that nobody has taken is still to come"
        );
        assert_eq!(worker.wait().unwrap().outcome, Outcome::Cancelled);
    }

    #[test]
    fn progress_is_seen_and_wakes_once_a_percent() {
        let (wake, calls) = counting_wake();
        let mut worker = Worker::new("worker-test", wake).unwrap();
        let ticket = worker.submit("counting", |job| {
            for step in 0..=1000 {
                job.progress(step as f32 / 1000.0);
            }
        });
        assert_eq!(worker.wait().unwrap().outcome, Outcome::Finished(()));
        assert_eq!(ticket.percent(), 100);
        drop(worker);
        assert_eq!(calls.load(Ordering::SeqCst), 101, "1 to 100 percent, and the end");
    }

    #[test]
    fn a_panic_is_reported_and_the_next_job_runs() {
        let (wake, _) = counting_wake();
        let mut worker = Worker::new("worker-test", wake).unwrap();
        worker.submit("bad", |_| -> u8 { panic!("no such tray {}", 7) });
        worker.submit("good", |_| 5);
        assert_eq!(
            worker.wait().unwrap().outcome,
            Outcome::Failed("no such tray 7".to_owned())
        );
        assert_eq!(worker.wait().unwrap().outcome, Outcome::Finished(5));
    }

    #[test]
    fn dropping_the_worker_runs_what_was_handed_in() {
        let (wake, _) = counting_wake();
        let ran = Arc::new(AtomicUsize::new(0));
        let mut worker = Worker::new("worker-test", wake).unwrap();
        for _ in 0..5 {
            let ran = Arc::clone(&ran);
            worker.submit("save", move |_| ran.fetch_add(1, Ordering::SeqCst));
        }
        drop(worker);
        assert_eq!(ran.load(Ordering::SeqCst), 5);
    }
}
