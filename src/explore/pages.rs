//! What each open page is doing: newer work of a page ends its older work.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use crate::solve::Solution;

/// Pages that are remembered; the one unused longest is forgotten first.
const MOST: usize = 256;

/// The last answer of a page: it need not be found again to be saved.
#[derive(Clone, Debug)]
pub struct Last {
    /// The fingerprint of what it answers: brief, palette, limits and changes.
    pub fingerprint: String,
    /// The answer.
    pub solution: Arc<Solution>,
}

#[derive(Debug, Default)]
struct Entry {
    id: String,
    stop: Arc<AtomicBool>,
    last: Option<Last>,
}

/// All open pages.
#[derive(Debug, Default)]
pub struct Pages(Mutex<VecDeque<Entry>>);

impl Pages {
    /// Begins the work of a move: it ends what its page was doing, the
    /// questions included that were asked beside the search.
    pub fn begin_move(&self, id: &str) -> Arc<AtomicBool> {
        {
            let entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            let is_question = |it: &&Entry| it.id.strip_prefix(id).is_some_and(|rest| rest.starts_with('?'));
            entries.iter().filter(is_question).for_each(|entry| entry.stop.store(true, Ordering::Relaxed));
        }
        self.begin(id)
    }

    /// Begins work of a page, ends what it was doing, and gives the flag that
    /// ends the new work.
    pub fn begin(&self, id: &str) -> Arc<AtomicBool> {
        let mut entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = entries.iter().position(|entry| entry.id == id);
        let mut entry =
            at.and_then(|at| entries.remove(at)).unwrap_or_else(|| Entry { id: id.to_owned(), ..Entry::default() });
        entry.stop.store(true, Ordering::Relaxed);
        entry.stop = Arc::default();
        let stop = Arc::clone(&entry.stop);
        entries.push_back(entry);
        if entries.len() > MOST
            && let Some(oldest) = entries.pop_front()
        {
            oldest.stop.store(true, Ordering::Relaxed);
        }
        stop
    }

    /// Keeps the answer of a page.
    pub fn remember(&self, id: &str, last: Last) {
        let mut entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(entry) = entries.iter_mut().find(|entry| entry.id == id) {
            entry.last = Some(last);
        }
    }

    /// The answer of a page to the state of a fingerprint, if it is the last one.
    pub fn last(&self, id: &str, fingerprint: &str) -> Option<Arc<Solution>> {
        let entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let last = entries.iter().find(|entry| entry.id == id)?.last.as_ref()?;
        (last.fingerprint == fingerprint).then(|| Arc::clone(&last.solution))
    }

    /// Ends all work.
    pub fn end(&self) {
        let entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        entries.iter().for_each(|entry| entry.stop.store(true, Ordering::Relaxed));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_move_ends_the_questions_of_its_page() {
        let pages = Pages::default();
        let (search, question, other) = (pages.begin("a"), pages.begin("a?starts"), pages.begin("ab?starts"));
        let asked_again = pages.begin("a?closer");
        assert!(!search.load(Ordering::Relaxed), "a question does not end the search");
        let moved = pages.begin_move("a");
        let flags = [&search, &question, &asked_again, &other, &moved].map(|flag| flag.load(Ordering::Relaxed));
        assert_eq!(flags, [true, true, true, false, false]);
    }

    #[test]
    fn newer_work_ends_older_work_of_the_same_page_only() {
        let pages = Pages::default();
        let (first, other) = (pages.begin("a"), pages.begin("b"));
        let second = pages.begin("a");
        let flags = [&first, &second, &other].map(|flag| flag.load(Ordering::Relaxed));
        assert_eq!(flags, [true, false, false]);
        for page in 0..MOST {
            pages.begin(&page.to_string());
        }
        assert!(second.load(Ordering::Relaxed) && other.load(Ordering::Relaxed), "forgotten pages do nothing");
        assert_eq!(pages.0.lock().unwrap().len(), MOST);
    }
}
