//! The simulation on a thread of its own, and what it gives back.

use crate::genetics::ahead::{Outlook, Plan, batch, batches, outlook, replicates};
use crate::insight::AheadStart;
use crate::jobs::{JobContext, Outcome, Ticket, Wake, Worker, spread, threads};
use crate::model::{SeasonId, sentence};
use egui::Context;
use std::sync::Arc;

/// What is simulated: two plans from one start.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Asked {
    pub season: SeasonId,
    pub start: AheadStart,
    pub plans: [Plan; 2],
    pub replicates: u32,
    pub seed: u64,
}

/// What came out for both plans.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seen {
    pub asked: Asked,
    pub outlooks: [Outlook; 2],
}

/// `None` when it was stopped.
type Done = Option<Result<Seen, String>>;

/// The thread, what runs on it, and what it gave last.
#[derive(Default)]
pub(super) struct Work {
    worker: Option<Worker<Done>>,
    running: Option<Ticket>,
    pub seen: Option<Seen>,
    pub fault: Option<String>,
}

impl std::fmt::Debug for Work {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "look ahead, running: {}", self.running.is_some())
    }
}

impl Drop for Work {
    /// The thread ends its piece and no more; the window does not wait for a look ahead.
    fn drop(&mut self) {
        self.stop();
    }
}

impl Work {
    /// Begins. What ran before is stopped.
    pub fn begin(&mut self, ctx: &Context, asked: Asked) {
        self.stop();
        self.fault = None;
        if self.worker.is_none() {
            let ctx = ctx.clone();
            let wake: Wake = Arc::new(move || ctx.request_repaint());
            match Worker::new("look ahead", wake) {
                Ok(worker) => self.worker = Some(worker),
                Err(why) => {
                    self.fault = Some(format!("The system gives no thread for a look ahead: {why}."));
                    return;
                }
            }
        }
        let worker = self.worker.as_mut();
        self.running = worker.map(|worker| worker.submit("look ahead", move |job| simulate(asked, job)));
    }

    /// Gives the simulation up.
    pub fn stop(&mut self) {
        if let Some(ticket) = self.running.take() {
            ticket.cancel();
        }
    }

    /// How far it is, in percent; `None` while nothing runs.
    pub fn percent(&self) -> Option<u32> {
        self.running.as_ref().map(Ticket::percent)
    }

    /// Takes what has come out.
    pub fn poll(&mut self) {
        while let Some(done) = self.worker.as_mut().and_then(Worker::poll) {
            if self.running.take_if(|ticket| ticket.id == done.id).is_none() {
                continue;
            }
            match done.outcome {
                Outcome::Finished(Some(Ok(seen))) => self.seen = Some(seen),
                Outcome::Finished(Some(Err(why))) => self.fault = Some(why),
                Outcome::Finished(None) | Outcome::Cancelled => {}
                Outcome::Failed(why) => {
                    self.fault = Some(format!(
                        "The look ahead broke off by a fault of the program ({why}). The project is as it was."
                    ));
                }
            }
        }
    }
}

fn simulate(asked: Asked, job: &JobContext) -> Done {
    let each = batches(asked.replicates);
    // Both plans are drawn from the same numbers, so that they differ by the plans and less by luck.
    let piece = |piece: usize| {
        let plan = &asked.plans[piece / each];
        let numbers = batch(asked.replicates, piece % each);
        replicates(&asked.start.population, plan, asked.seed, numbers)
    };
    let mut found = Vec::new();
    for piece in spread(2 * each, threads(), job, piece)? {
        match piece {
            Ok(rounds) => found.extend(rounds),
            Err(why) => return Some(Err(sentence(&why.to_string()))),
        }
    }
    let (first, second) = found.split_at(asked.replicates as usize);
    let both = outlook(first).zip(outlook(second));
    Some(
        both.map(|(first, second)| Seen {
            asked,
            outlooks: [first, second],
        })
        .ok_or_else(|| "Nothing came out of the look ahead.".to_owned()),
    )
}
