//! Panics of borrowed solvers, caught and kept from the terminal.

use std::any::Any;
use std::cell::Cell;
use std::panic::{self, AssertUnwindSafe};
use std::sync::Once;

thread_local! {
    /// Whether a panic on this thread is about to be caught by [`catch`].
    static CATCHING: Cell<bool> = const { Cell::new(false) };
}

/// Runs `work`; a panic inside it becomes an `Err` with its message.
///
/// The panic hook of the process is wrapped once, so that a caught panic
/// prints nothing. Panics anywhere else, and on other threads, are reported as
/// before.
pub(crate) fn catch<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    static WRAP_HOOK: Once = Once::new();
    WRAP_HOOK.call_once(|| {
        let previous = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            // A thread that is being torn down has no flag any more.
            if !CATCHING.try_with(Cell::get).unwrap_or(false) {
                previous(info);
            }
        }));
    });
    let outer = CATCHING.replace(true);
    // Whatever `work` was building is dropped with the panic; nothing half
    // made is looked at afterwards.
    let outcome = panic::catch_unwind(AssertUnwindSafe(work));
    CATCHING.set(outer);
    outcome.map_err(|payload| message(payload.as_ref()))
}

fn message(payload: &(dyn Any + Send)) -> String {
    if let Some(text) = payload.downcast_ref::<&str>() {
        (*text).to_owned()
    } else if let Some(text) = payload.downcast_ref::<String>() {
        text.clone()
    } else {
        "it panicked without a message".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::catch;

    #[test]
    fn a_panic_becomes_its_message() {
        let empty: Vec<u8> = Vec::new();
        let index = empty.len();
        let told = catch(|| empty[index]).unwrap_err();
        assert!(told.contains("out of bounds"), "{told}");
        assert_eq!(catch(|| 7), Ok(7));
    }
}
