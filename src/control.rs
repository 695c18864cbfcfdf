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

    /// Tells the listener, if there is one.
    pub fn tell(&self, progress: Progress) {
        if let Some(listener) = &self.progress {
            listener(progress);
        }
    }
}
