//! When a search ends: its limits, and Ctrl-C.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::shared::Search;
use crate::control::Control;

/// Exit status after a second Ctrl-C: 128 and the number of the signal.
const INTERRUPTED: i32 = 130;

/// A stop flag that the first Ctrl-C sets; the second ends the program at once.
pub fn on_interrupt() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&stop);
    let handler = move || {
        if flag.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
    };
    // Without a handler Ctrl-C ends the program as usual: nothing to tell.
    let _ = ctrlc::set_handler(handler);
    stop
}

/// Does something at the first Ctrl-C or request of the system to end; the
/// second ends the program at once.
pub fn on_signal(work: impl Fn() + Send + 'static) {
    let seen = AtomicBool::new(false);
    let _ = ctrlc::set_handler(move || {
        if seen.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
        work();
    });
}

/// The control of work that begins now and may take so many seconds.
pub fn within(seconds: f64) -> Control {
    Control::default().within(Duration::from_secs_f64(seconds))
}

/// The control of a search that begins now.
pub fn control(search: &Search, stop: Arc<AtomicBool>) -> Control {
    // Rounding up keeps the smallest limit from being none.
    let limit = Duration::from_secs_f64(search.time_limit).max(Duration::from_nanos(1));
    let control = Control {
        stop,
        node_limit: search.node_limit,
        threads: search.threads.map(|threads| threads as usize),
        ..Control::default()
    };
    control.within(limit)
}
