//! What a long computation is told from outside: when to stop, and whom to
//! tell how far it is. Passed down into every solve; there are no globals.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use crate::clock::{Clock, Moment};

/// A report on the way: the best loss so far, the loss below which no formula
/// can lie, and the nodes visited.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Loss of the best formula so far, in score points.
    pub incumbent_loss: Option<f64>,
    /// No formula inside the rules has a loss below this.
    pub bound: f64,
    /// Nodes of the search visited.
    pub nodes: u64,
}

/// How many of several computations of one kind have ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Count {
    /// What is counted, in the plural: "directions".
    pub what: &'static str,
    /// How many have ended.
    pub done: usize,
    /// How many there are.
    pub of: usize,
}

/// Clock, deadline, stop flag, node limit and progress of a computation.
#[derive(Clone, Default)]
pub struct Control {
    /// What tells the time.
    pub clock: Clock,
    /// Stop at this moment of the clock.
    pub deadline: Option<Moment>,
    /// Stop when this becomes true (Ctrl-C).
    pub stop: Arc<AtomicBool>,
    /// Stop after this many nodes of a search.
    pub node_limit: Option<u64>,
    /// Threads for independent computations; `None` is one a core.
    pub threads: Option<usize>,
    /// Called now and then from the solving thread.
    pub progress: Option<Arc<dyn Fn(Progress) + Send + Sync>>,
    /// Called when one of several computations has ended, from its thread.
    pub counted: Option<Arc<dyn Fn(Count) + Send + Sync>>,
}

impl Control {
    /// Whether the deadline has passed or a stop was asked for.
    pub fn should_stop(&self) -> bool {
        self.stop.load(Ordering::Relaxed) || self.deadline.is_some_and(|deadline| self.clock.now() >= deadline)
    }

    /// Seconds until the deadline, if there is one; 0 when it has passed.
    pub fn seconds_left(&self) -> Option<f64> {
        self.deadline.map(|deadline| deadline.saturating_since(self.clock.now()).as_secs_f64())
    }

    /// The same with a part of the time that is left, from 0 to 1.
    pub fn with_share(&self, share: f64) -> Control {
        let deadline = self.seconds_left().map(|left| self.clock.now() + Duration::from_secs_f64(left * share));
        Control { deadline, ..self.clone() }
    }

    /// The same with no more than so much time from now on.
    #[must_use]
    pub fn within(self, limit: Duration) -> Control {
        let end = self.clock.now().checked_add(limit);
        let deadline = self.deadline.into_iter().chain(end).min();
        Control { deadline, ..self }
    }

    /// The same without anybody who is told of the search: one that serves
    /// another is not what is waited for.
    pub fn untold(&self) -> Control {
        Control { progress: None, ..self.clone() }
    }

    /// Tells the listener that some of several computations have ended.
    pub fn count(&self, what: &'static str, done: usize, of: usize) {
        if let Some(listener) = &self.counted {
            listener(Count { what, done: done.min(of), of });
        }
    }

    /// Tells the listener, if there is one.
    pub fn tell(&self, progress: Progress) {
        if let Some(listener) = &self.progress {
            listener(progress);
        }
    }
}
