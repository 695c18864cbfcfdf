//! Which trials a proposal has learned from.

use serde::Serialize;

use super::learn::AsideLine;
use crate::analysis::learn::Aside;
use crate::brief::Match;
use crate::escape::escaped;
use crate::trials::Trials;

/// The trials that a palette was taught by before the brief was answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TaughtReport {
    /// Their file.
    pub trials: String,
    /// Codes of those that said something.
    pub used: Vec<String>,
    /// Those that were left aside, and why.
    pub aside: Vec<AsideLine>,
    /// How judged scores were compared; null where no trial said anything.
    #[serde(rename = "match")]
    pub matching: Option<Match>,
    /// One standard deviation of a judged score in points, on average over those trials;
    /// null where no trial said anything.
    pub give_or_take: Option<f64>,
}

impl TaughtReport {
    /// Of some trials by their indices, compared in a way and give or take so much.
    pub fn new(trials: &Trials, used: &[usize], aside: &[Aside], by: Option<(Match, f64)>) -> TaughtReport {
        TaughtReport {
            trials: trials.file.to_string(),
            used: used.iter().map(|&at| trials.trials[at].code.clone()).collect(),
            aside: aside.iter().map(|aside| super::learn::aside_line(trials, aside)).collect(),
            matching: by.map(|(matching, _)| matching),
            give_or_take: by.map(|(_, error)| error),
        }
    }

    /// The same as a sentence without a full stop.
    pub fn told(&self) -> String {
        let file = escaped(&self.trials);
        let aside = match self.aside.len() {
            0 => String::new(),
            1 => format!("; 1 trial was left aside, `permil learn {file}` says why"),
            count => format!("; {count} trials were left aside, `permil learn {file}` says why"),
        };
        if self.used.is_empty() {
            return format!("no trial of {file} says anything yet: this is by the numbers as they are written{aside}");
        }
        let codes: Vec<String> = self.used.iter().map(|code| escaped(code)).collect();
        format!("by what {} taught ({file}){aside}", codes.join(", "))
    }
}
