//! A formula before and after its change.

use super::profile::beside;
use crate::chart::kit::words::{dose, list, percent, signed};
use crate::chart::profile::ProfileChart;
use crate::results::adjust::AdjustReport;

impl ProfileChart {
    /// The blend before and after the change; none where nothing does what was
    /// asked for.
    pub fn of_adjustment(report: &AdjustReport) -> Option<ProfileChart> {
        let (before, after) = (&report.before.formula, &report.after.as_ref()?.formula);
        let (wanted, blends) = beside(before, after)?;
        let told = told(report, &blends[0].scores, &blends[1].scores, &wanted_words(report));
        Some(ProfileChart { brief: report.name.clone(), wanted, blends, told: Some(told) })
    }
}

/// The descriptors that were to move, with their places in the profile.
fn wanted_words(report: &AdjustReport) -> Vec<(usize, String)> {
    let place = |word: &String| {
        let found = report.before.formula.profile.iter().position(|line| line.descriptor == *word);
        found.map(|at| (at, word.clone()))
    };
    report.more.iter().chain(&report.less).filter_map(place).collect()
}

fn told(report: &AdjustReport, before: &[f64], after: &[f64], words: &[(usize, String)]) -> String {
    let moves: Vec<String> =
        words.iter().map(|(at, word)| format!("{word} {}", signed(after[*at] - before[*at], 2))).collect();
    let by = match (&report.add, report.moved) {
        (Some(add), _) => format!("Adding {} g", dose(add.added)),
        (None, Some(moved)) => format!("Moving {} ‰", dose(moved.as_f64())),
        (None, None) => "The change".to_owned(),
    };
    let after = report.after.as_ref().and_then(|after| after.formula.fidelity);
    let fidelity = match (report.before.formula.fidelity, after) {
        (Some(before), Some(after)) => {
            format!("the match goes from {} to {} %", percent(before), percent(after))
        }
        _ => String::new(),
    };
    if moves.is_empty() {
        return "Nothing was to be moved: the formula stays".to_owned();
    }
    format!("{by} gives {}; {fidelity}", list(&moves, 4))
}
