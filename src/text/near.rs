//! How far a formula is from a known one, in words: the same in text, on the page
//! and in the report.

use super::page::{Ink, Page};
use crate::brief::MovedBy;
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_down, rounded_up};
use crate::results::NearReport;
use crate::tolerance::doses::SHARE_MOVED;

/// Names of one kind that are listed before the others are counted.
const FEW: usize = 4;

impl NearReport {
    /// What the shares are of: `odour` or `mass`.
    fn of(&self) -> &'static str {
        match self.by {
            MovedBy::Odour => "odour",
            MovedBy::Parts => "mass",
        }
    }

    /// How far it is, in a sentence.
    pub fn distance(&self) -> String {
        let Some(moved) = self.moved else { return "A formula without an odour is near to nothing.".to_owned() };
        let within = self.within.map_or(String::new(), |within| format!(", and at most {} % may be", plain(within)));
        let (of, to) = (self.of(), escaped(&self.to));
        format!("{} % of its {of} is elsewhere than in {to}{within}.", rounded_up(moved, 2))
    }

    /// What was given away to come nearer, and how sure it is that nothing is;
    /// `None` where that was not asked.
    pub fn nearest(&self, fidelity: Option<f64>) -> Option<String> {
        let (give, proven, bound) = (self.give?, self.nearest_proven?, self.nearest_bound?);
        let (best, best_moved) = (self.best_fidelity?, self.best_moved?);
        let best_match = if self.best_proven? { "the best match" } else { "the best match found, not proven" };
        let away = (best - fidelity?).max(0.0);
        let sure = if proven {
            "That none is nearer is proven".to_owned()
        } else {
            format!("That none is nearer is not proven: at least {} % is", rounded_down(bound, 2))
        };
        let give = if give > 0.0 {
            format!("lose at most {} % points of match", plain(give))
        } else {
            "match as well".to_owned()
        };
        Some(if away > SHARE_MOVED || best_moved - self.moved? > SHARE_MOVED {
            let (best, best_moved) = (rounded(best, 2), rounded_up(best_moved, 2));
            format!(
                "It is the nearest found of those that {give}: {best_match}, {best} %, has {best_moved} % elsewhere. {sure}."
            )
        } else {
            format!("None found of those that {give} is nearer than {best_match} itself. {sure}.")
        })
    }

    /// What the shelf lacks of the known formula, and what has its place; empty
    /// where it lacks nothing.
    pub fn lacks(&self) -> Vec<String> {
        if self.lacking.is_empty() {
            return Vec::new();
        }
        let part = |line: &crate::results::LackingLine| format!("{} ({} %)", escaped(&line.name), share(line.share));
        let names = listed(self.lacking.iter().map(part).collect());
        let all = share(self.least_by_lack);
        let mut told = vec![format!("The shelf lacks {names}: {all} % of the {} there.", self.of())];
        let assumed: Vec<String> =
            self.lacking.iter().filter(|line| line.strength_assumed).map(|line| escaped(&line.name)).collect();
        if !assumed.is_empty() && self.by == MovedBy::Odour {
            let strength = self.lacking.iter().find(|line| line.strength_assumed).map_or(0.0, |line| line.strength);
            let (names, strength) = (listed(assumed), rounded(strength, 1));
            told.push(format!("No strength is known of {names}: counted with the mean of the others, {strength}."));
        }
        told
    }

    /// What there is more and less of than there.
    pub fn exchanged(&self) -> Option<String> {
        let side = |all: &crate::results::Ordered<f64>, sign: &str| {
            listed(all.0.iter().map(|(name, by)| format!("{} {sign}{} %", escaped(name), rounded(*by, 1))).collect())
        };
        if self.more.0.is_empty() && self.less.0.is_empty() {
            return None;
        }
        let more =
            (!self.more.0.is_empty()).then(|| format!("In the place of what is missing: {}.", side(&self.more, "+")));
        let less = (!self.less.0.is_empty()).then(|| format!("Less than there: {}.", side(&self.less, "-")));
        Some([more, less].into_iter().flatten().collect::<Vec<_>>().join(" "))
    }

    /// Where it was published, and what of it counts nowhere.
    pub fn origin(&self) -> String {
        let mut told = match &self.source {
            Some(source) => format!("Its source: {}.", escaped(source)),
            None => "It names no source.".to_owned(),
        };
        if self.unknown_percent > 0.0 {
            told +=
                &format!(" {} % of that mass is not identified and counts nowhere.", rounded(self.unknown_percent, 1));
        }
        told
    }

    /// What is told first: how far, how sure, and what the shelf lacks.
    pub fn in_short(&self, fidelity: Option<f64>) -> Vec<String> {
        let mut few = vec![self.distance()];
        few.extend(self.nearest(fidelity));
        few.extend(self.lacks());
        if !self.lacking.is_empty() {
            few.extend(self.exchanged());
        }
        few
    }

    /// All of it, a sentence or two each.
    pub fn sentences(&self, fidelity: Option<f64>) -> Vec<String> {
        let mut all = vec![self.distance()];
        all.extend(self.nearest(fidelity));
        all.extend(self.lacks());
        all.extend(self.exchanged());
        all.push(self.origin());
        all
    }
}

/// What is said of it beside a formula.
pub fn near(report: &NearReport, fidelity: Option<f64>, page: &Page, out: &mut String) {
    let told = if page.full { report.sentences(fidelity) } else { report.in_short(fidelity) };
    page.labelled(out, "Near", &told.join(" "), Ink::Plain);
}

/// A share in percent, never 0 where there is some.
fn share(percent: f64) -> String {
    if percent < 0.1 { "<0.1".to_owned() } else { rounded(percent, 1) }
}

/// Some names, the others counted.
fn listed(names: Vec<String>) -> String {
    let more = names.len().saturating_sub(FEW);
    let few = names.into_iter().take(FEW).collect::<Vec<_>>().join(", ");
    if more > 0 { format!("{few} and {more} more") } else { few }
}
