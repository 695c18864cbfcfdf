//! How often each thing came up, so that a run can tell whether it tried what it
//! was meant to.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// Counters with names.
pub struct Tally(Mutex<BTreeMap<&'static str, u64>>);

impl Tally {
    pub const fn new() -> Tally {
        Tally(Mutex::new(BTreeMap::new()))
    }

    pub fn add(&self, name: &'static str, more: u64) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner).entry(name).or_default() += more;
    }

    pub fn get(&self, name: &str) -> u64 {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(name).copied().unwrap_or_default()
    }

    /// All the counts in words.
    pub fn words(&self) -> String {
        let counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        counts.iter().map(|(name, count)| format!("{name} {count}")).collect::<Vec<_>>().join(", ")
    }
}
