//! One job's pieces spread over several threads.

use super::{JobContext, locked};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// The most threads that are used: beyond that the window and other programs would suffer.
const MOST_THREADS: usize = 8;

/// How many threads this computer has for a job.
pub fn threads() -> usize {
    thread::available_parallelism().map_or(1, |known| known.get().min(MOST_THREADS))
}

/// Does `pieces` pieces of work, each told its number, on so many threads at once, this one among them. Tells the job's
/// progress and stops between pieces once the job is cancelled: then, and only then, `None`. Results come in the order of
/// the pieces, whichever thread did them.
///
/// # Panics
/// If a piece does.
pub fn spread<T: Send>(
    pieces: usize,
    threads: usize,
    job: &JobContext,
    work: impl Fn(usize) -> T + Sync,
) -> Option<Vec<T>> {
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, T)>> = Mutex::new(Vec::with_capacity(pieces));
    let take = || {
        while !job.cancelled() {
            let piece = next.fetch_add(1, Ordering::Relaxed);
            if piece >= pieces {
                break;
            }
            let result = work(piece);
            let finished = {
                let mut done = locked(&done);
                done.push((piece, result));
                done.len()
            };
            job.progress(finished as f32 / pieces as f32);
        }
    };
    thread::scope(|scope| {
        for number in 1..threads.min(pieces) {
            let name = format!("spread-{number}");
            // Where the system gives no more threads, the others do the work.
            if let Err(why) = thread::Builder::new().name(name).spawn_scoped(scope, take) {
                tracing::warn!("no thread for a job's pieces: {why}");
                break;
            }
        }
        take();
    });
    let mut done = done
        .into_inner()
        .unwrap_or_else(std::sync::PoisonError::into_inner);
    done.sort_unstable_by_key(|(piece, _)| *piece);
    (done.len() == pieces).then(|| done.into_iter().map(|(_, result)| result).collect())
}

#[cfg(test)]
mod tests {
    use super::super::{Outcome, Worker};
    use super::*;
    use std::sync::Arc;
    use std::sync::mpsc;

    #[test]
    fn pieces_come_back_in_order_and_progress_reaches_the_whole() {
        let mut worker = Worker::new("spread-test", Arc::new(|| {})).unwrap();
        let ticket = worker.submit("squares", |job| spread(100, 3, job, |piece| piece * piece));
        let squares: Vec<usize> = (0..100).map(|piece| piece * piece).collect();
        assert_eq!(worker.wait().unwrap().outcome, Outcome::Finished(Some(squares)));
        assert_eq!(ticket.percent(), 100);
        assert_eq!(
            spread(0, 2, &JobContext::at_once(), |piece| piece),
            Some(Vec::new())
        );
    }

    #[test]
    fn it_stops_between_pieces_when_it_is_cancelled() {
        let mut worker = Worker::new("spread-test", Arc::new(|| {})).unwrap();
        let (began, has_begun) = mpsc::channel();
        let (open_gate, gate) = mpsc::channel::<()>();
        let gate = Mutex::new(gate);
        let began = Mutex::new(began);
        let ticket = worker.submit("long", move |job| {
            spread(1_000_000, 1, job, |piece| {
                if piece == 0 {
                    locked(&began).send(()).unwrap();
                    locked(&gate).recv().unwrap();
                }
                piece
            })
        });
        has_begun.recv().unwrap();
        ticket.cancel();
        open_gate.send(()).unwrap();
        assert_eq!(worker.wait().unwrap().outcome, Outcome::Finished(None));
    }
}
