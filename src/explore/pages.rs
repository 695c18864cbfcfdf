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
    /// The text of the brief that it answers.
    pub text: String,
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

    /// The answer of a page to a brief of this text, if it is the last one.
    pub fn last(&self, id: &str, text: &str) -> Option<Arc<Solution>> {
        let entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let last = entries.iter().find(|entry| entry.id == id)?.last.as_ref()?;
        (last.text == text).then(|| Arc::clone(&last.solution))
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
