//! No panic reaches a user as one.

use std::any::Any;
use std::panic::{self, AssertUnwindSafe};
use std::sync::{Arc, Mutex, PoisonError};

use super::output::complain;
use crate::escape::escaped;

/// Runs `work`. A panic inside it is told in one plain message, and the
/// outcome is `None`.
pub fn caught<T>(work: impl FnOnce() -> T) -> Option<T> {
    let seen: Arc<Mutex<String>> = Arc::default();
    let told = Arc::clone(&seen);
    let before = panic::take_hook();
    panic::set_hook(Box::new(move |info| {
        let place = info.location().map(|place| format!(" at {place}")).unwrap_or_default();
        let what = text(info.payload());
        *told.lock().unwrap_or_else(PoisonError::into_inner) = escaped(&format!("{what}{place}"));
    }));
    // Nothing of what `work` was building is looked at after a panic.
    let outcome = panic::catch_unwind(AssertUnwindSafe(work)).ok();
    panic::set_hook(before);
    if outcome.is_none() {
        let what = seen.lock().unwrap_or_else(PoisonError::into_inner).clone();
        complain(&format!(
            "internal error: {what}\nThis is a fault of permil, not of your files. Please report it with the files \
             that led to it."
        ));
    }
    outcome
}

fn text(payload: &(dyn Any + Send)) -> &str {
    let owned = payload.downcast_ref::<String>().map(String::as_str);
    payload.downcast_ref::<&str>().copied().or(owned).unwrap_or("no message")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn panics_end_here() {
        let empty: Vec<u8> = Vec::new();
        let index = empty.len();
        assert_eq!(caught(|| empty[index]), None);
        assert_eq!(caught(|| 7), Some(7));
    }
}
