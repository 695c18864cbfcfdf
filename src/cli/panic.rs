//! No panic reaches a user as one.

use std::panic::{self, AssertUnwindSafe};
use std::sync::{Arc, Mutex, PoisonError};

use super::output::complain;

/// Runs `work`. A panic inside it is told in one plain message, and the
/// outcome is `None`.
pub fn caught<T>(work: impl FnOnce() -> T) -> Option<T> {
    let seen: Arc<Mutex<String>> = Arc::default();
    let told = Arc::clone(&seen);
    panic::set_hook(Box::new(move |info| {
        let place = info.location().map(|place| format!(" at {place}")).unwrap_or_default();
        let what = info.payload_as_str().unwrap_or("no message");
        *told.lock().unwrap_or_else(PoisonError::into_inner) = format!("{what}{place}");
    }));
    // Nothing of what `work` was building is looked at after a panic.
    let outcome = panic::catch_unwind(AssertUnwindSafe(work)).ok();
    if outcome.is_none() {
        let what = seen.lock().unwrap_or_else(PoisonError::into_inner).clone();
        complain(&format!(
            "internal error: {what}\nThis is a fault of permil, not of your files. Please report it with the files \
             that led to it."
        ));
    }
    outcome
}
