//! How sure a match is, in words: the same in text, on the page and in the report.

use crate::analysis::doubt::told::TOLD_APART;
use crate::number::{rounded, rounded_down, rounded_up};
use crate::results::RangeLine;

impl RangeLine {
    /// `83 to 93`: outwards to whole percent, to a decimal where that would say
    /// less than is known.
    pub fn words(&self) -> String {
        let decimals = if self.high - self.low < 2.0 { 1 } else { 0 };
        format!("{} to {}", rounded_down(self.low, decimals), rounded_up(self.high.min(100.0), decimals))
    }

    /// The same after `likely`, with what it counts.
    pub fn likely() -> &'static str {
        "nine in ten draws of scores and strengths"
    }
}

/// `83 of 100`: in so many of 100 draws.
pub fn of_hundred(percent: f64) -> String {
    let count = rounded(percent, 0);
    match count.as_str() {
        "100" if percent < 100.0 => ">99 of 100".to_owned(),
        "0" | "-0" if percent > 0.0 => "<1 of 100".to_owned(),
        _ => format!("{count} of 100"),
    }
}

/// `nearer in 83 of 100 draws`.
pub fn nearer_in(percent: f64) -> String {
    format!("nearer in {} draws", of_hundred(percent))
}

/// Whether a difference may not be noticeable: neither of the two formulas is
/// nearer in enough of the draws.
pub fn may_not_be_noticeable(percent: f64) -> bool {
    percent.max(100.0 - percent) < 100.0 * TOLD_APART
}

/// What a column of such counts means, under a table of formulas beside `than`.
pub fn key_of_counts(than: &str) -> String {
    let least = rounded(100.0 * TOLD_APART, 0);
    let most = rounded(100.0 * (1.0 - TOLD_APART), 0);
    format!(
        "Of 100 draws of the scores and strengths so many put that formula nearer than {than}; between {most} and \
         {least} the difference may not be noticeable."
    )
}
