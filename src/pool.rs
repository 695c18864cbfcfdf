//! The one place that knows threads: independent computations on all cores, with
//! the results in the order of what they were computed from, whichever ended
//! first. Without the feature `parallel` they are computed one after the other, to
//! the same results.

use crate::control::Control;

/// Threads that independent computations run on.
pub fn threads(control: &Control) -> usize {
    shared::threads(control)
}

/// Applies `compute` to every item, on as many threads as the control allows.
/// An item whose turn comes after the control has said stop gives `None`.
/// Called from within another such computation it shares that one's threads.
pub fn in_parallel<T: Sync, R: Send>(
    items: &[T],
    control: &Control,
    compute: impl Fn(&T) -> R + Sync,
) -> Vec<Option<R>> {
    shared::map(items, control, |item: &T| (!control.should_stop()).then(|| compute(item)))
}

/// Threads for a computation that takes turns: some work for all of them, a
/// look at what came of it, and so on.
pub struct Crew(shared::Crew);

impl Crew {
    /// As many threads as the control allows; the present one alone where it
    /// belongs to other computations that already share them out.
    pub fn new(control: &Control) -> Crew {
        Crew(shared::Crew::new(control))
    }

    /// Does something with every item, each on whichever thread is free.
    pub fn for_each<T: Send>(&self, items: &mut [T], work: impl Fn(&mut T) + Sync + Send) {
        self.0.for_each(items, work);
    }
}

#[cfg(feature = "parallel")]
mod shared {
    use rayon::prelude::*;

    use crate::control::Control;

    pub(super) fn threads(control: &Control) -> usize {
        control.threads.unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from))
    }

    pub(super) fn map<T: Sync, R: Send>(items: &[T], control: &Control, one: impl Fn(&T) -> R + Sync) -> Vec<R> {
        let all = || items.par_iter().with_max_len(1).map(&one).collect();
        let alone = items.len() < 2 || control.threads == Some(1);
        if rayon::current_thread_index().is_some() {
            return all();
        }
        let pool = rayon::ThreadPoolBuilder::new().num_threads(control.threads.unwrap_or(0));
        match pool.build() {
            Ok(pool) if !alone => pool.install(all),
            // One item, one thread, or none to be had.
            _ => items.iter().map(&one).collect(),
        }
    }

    pub(super) struct Crew(Option<rayon::ThreadPool>);

    impl Crew {
        pub(super) fn new(control: &Control) -> Crew {
            let alone = threads(control) < 2 || rayon::current_thread_index().is_some();
            let pool = || rayon::ThreadPoolBuilder::new().num_threads(threads(control)).build().ok();
            Crew(if alone { None } else { pool() })
        }

        pub(super) fn for_each<T: Send>(&self, items: &mut [T], work: impl Fn(&mut T) + Sync + Send) {
            match &self.0 {
                Some(pool) => pool.install(|| items.par_iter_mut().with_max_len(1).for_each(work)),
                None => items.iter_mut().for_each(work),
            }
        }
    }
}

#[cfg(not(feature = "parallel"))]
mod shared {
    use crate::control::Control;

    pub(super) fn threads(_: &Control) -> usize {
        1
    }

    pub(super) fn map<T: Sync, R: Send>(items: &[T], _: &Control, one: impl Fn(&T) -> R + Sync) -> Vec<R> {
        items.iter().map(one).collect()
    }

    pub(super) struct Crew;

    impl Crew {
        pub(super) fn new(_: &Control) -> Crew {
            Crew
        }

        pub(super) fn for_each<T: Send>(&self, items: &mut [T], work: impl Fn(&mut T) + Sync + Send) {
            items.iter_mut().for_each(work);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_keep_the_order_for_any_number_of_threads() {
        let items: Vec<u64> = (0..100).collect();
        let squares: Vec<Option<u64>> = items.iter().map(|item| Some(item * item)).collect();
        for threads in [None, Some(1), Some(2), Some(8)] {
            let control = Control { threads, ..Control::default() };
            assert_eq!(in_parallel(&items, &control, |item| item * item), squares);
        }
    }

    #[test]
    fn a_crew_works_on_every_item() {
        for threads in [1, 2, 8] {
            let control = Control { threads: Some(threads), ..Control::default() };
            let mut items: Vec<u64> = (0..100).collect();
            let crew = Crew::new(&control);
            crew.for_each(&mut items, |item| *item *= 2);
            crew.for_each(&mut items, |item| *item += 1);
            assert_eq!(items, (0..100).map(|item| 2 * item + 1).collect::<Vec<u64>>());
        }
    }

    #[test]
    fn nothing_begins_after_the_stop() {
        let control = Control::default();
        control.stop.store(true, std::sync::atomic::Ordering::Relaxed);
        assert_eq!(in_parallel(&[1, 2], &control, |item| *item), [None, None]);
    }
}
