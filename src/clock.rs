//! The one place that knows what time it is. A [`Control`](crate::control::Control)
//! carries a clock down into every computation; where a machine has none, its
//! host may lend one, and otherwise time stands still.

use std::fmt;
use std::ops::Add;
use std::sync::Arc;
use std::time::Duration;

/// A point in time of one clock; of no meaning to another.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(Duration);

impl Moment {
    /// So much later; `None` beyond any time that could come.
    pub fn checked_add(self, time: Duration) -> Option<Moment> {
        self.0.checked_add(time).filter(|sum| i64::try_from(sum.as_secs()).is_ok()).map(Moment)
    }

    /// How long after another moment it is; nothing where it comes first.
    pub fn saturating_since(self, earlier: Moment) -> Duration {
        self.0.saturating_sub(earlier.0)
    }
}

impl Add<Duration> for Moment {
    type Output = Moment;

    fn add(self, time: Duration) -> Moment {
        Moment(self.0.saturating_add(time))
    }
}

/// Tells the time: that of the machine, unless its host lends another.
///
/// On `wasm32-unknown-unknown`, which has no time of its own, a clock that was not
/// lent stands still: nothing ends by a deadline there, and a search is to be
/// limited by its nodes.
#[derive(Clone, Default)]
pub struct Clock(Option<Arc<dyn Fn() -> Duration + Send + Sync>>);

impl Clock {
    /// A clock of the host: `since_start` tells the time since any fixed moment
    /// and never goes back.
    pub fn lent(since_start: impl Fn() -> Duration + Send + Sync + 'static) -> Clock {
        Clock(Some(Arc::new(since_start)))
    }

    /// The present moment.
    pub fn now(&self) -> Moment {
        Moment(self.0.as_ref().map_or_else(machine::since_start, |lent| lent()))
    }

    /// The time since a moment of this clock.
    pub fn since(&self, moment: Moment) -> Duration {
        self.now().saturating_since(moment)
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() { "Clock(lent)" } else { "Clock(machine)" })
    }
}

/// The time since 1970-01-01 (UTC); `None` where the machine has no calendar.
pub fn since_1970() -> Option<Duration> {
    machine::since_1970()
}

#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
mod machine {
    use std::sync::OnceLock;
    use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

    pub(super) fn since_start() -> Duration {
        static START: OnceLock<Instant> = OnceLock::new();
        START.get_or_init(Instant::now).elapsed()
    }

    pub(super) fn since_1970() -> Option<Duration> {
        SystemTime::now().duration_since(UNIX_EPOCH).ok()
    }
}

#[cfg(all(target_family = "wasm", target_os = "unknown"))]
mod machine {
    use std::time::Duration;

    pub(super) fn since_start() -> Duration {
        Duration::ZERO
    }

    pub(super) fn since_1970() -> Option<Duration> {
        None
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::*;

    #[test]
    fn a_lent_clock_tells_the_time_of_its_host() {
        let ticks = Arc::new(AtomicU64::new(5));
        let own = Arc::clone(&ticks);
        let clock = Clock::lent(move || Duration::from_secs(own.load(Ordering::Relaxed)));
        let then = clock.now();
        ticks.store(8, Ordering::Relaxed);
        assert_eq!(clock.since(then), Duration::from_secs(3));
        assert!(then < clock.now());
        assert_eq!(then.saturating_since(clock.now()), Duration::ZERO);
    }

    #[test]
    fn the_clock_of_the_machine_goes_on_and_a_time_that_never_comes_is_none() {
        let clock = Clock::default();
        let then = clock.now();
        std::thread::sleep(Duration::from_millis(2));
        assert!(clock.since(then) >= Duration::from_millis(2));
        assert_eq!(then.checked_add(Duration::MAX), None);
        assert!(then.checked_add(Duration::from_secs(1 << 40)).is_some());
        // 2020 is over.
        assert!(since_1970().is_some_and(|since| since.as_secs() > 1_600_000_000));
    }
}
