//! Blends beside their target: what the dumbbell, the contributions and the
//! radar are drawn from.

use super::kit::colour::{CALM, HIGH, SHORT};
use super::kit::words::{brief, count, list, percent, sentence};
use crate::portable::Portable;

/// A descriptor of the target.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// The word.
    pub descriptor: String,
    /// Wanted, in score points.
    pub target: f64,
}

/// One material of a blend.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its name.
    pub material: String,
    /// Its dose in ppt.
    pub dose_ppt: f64,
    /// How a dose outside the usual ones is marked; none for any other.
    pub unusual: Option<String>,
    /// Score points it brings to each descriptor, in the order of the target.
    pub brings: Vec<f64>,
}

impl Part {
    /// That the dose is outside the usual ones, behind the dose.
    pub(super) fn unusual_words(&self) -> String {
        self.unusual.as_ref().map_or_else(String::new, |mark| format!(", unusual: {mark}"))
    }
}

/// One blend.
#[derive(Clone, Debug, PartialEq)]
pub struct Blend {
    /// What it is called.
    pub name: String,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Its score on each descriptor, in the order of the target.
    pub scores: Vec<f64>,
    /// Where nine draws in ten of each of these scores lie, likewise; none where
    /// that is not known.
    pub ranges: Vec<Option<(f64, f64)>>,
    /// Its materials.
    pub parts: Vec<Part>,
}

/// The input of the three charts.
#[derive(Clone, Debug, PartialEq)]
pub struct ProfileChart {
    /// Title of the brief.
    pub brief: String,
    /// The descriptors that count.
    pub wanted: Vec<Wanted>,
    /// The blends; at most six can be told apart.
    pub blends: Vec<Blend>,
    /// A finding that the scores alone do not tell, for the title.
    pub told: Option<String>,
}

/// The most blends that one chart tells apart.
pub const MOST_BLENDS: usize = 6;
/// Part of the largest score below which a gap needs no attention.
const FITS: f64 = 0.025;
/// The longest list of descriptors in a title.
const NAMED: usize = 4;

impl ProfileChart {
    /// The largest score of target and blends; at least 1.
    pub fn most(&self) -> f64 {
        let scores = self.blends.iter().flat_map(|blend| blend.scores.iter().copied());
        scores.chain(self.wanted.iter().map(|wanted| wanted.target)).fold(1.0, f64::max)
    }

    /// The end of an axis of scores: a round number that holds every target of the
    /// brief, and only beyond that what a blend has. So the axis stays where it
    /// is while the formula moves.
    pub fn axis_end(&self) -> f64 {
        let targets = self.wanted.iter().map(|wanted| wanted.target).fold(1.0, f64::max);
        let ranges = self.blends.iter().flat_map(|blend| blend.ranges.iter().flatten().map(|range| range.1));
        round_up(targets).max(ranges.fold(self.most(), f64::max))
    }

    /// Score points that a gap may have and still fit: 0.25 on a scale to 10.
    pub fn tolerance(&self) -> f64 {
        tolerance_of(self.most())
    }

    /// Blend less target.
    pub fn gap(&self, blend: usize, descriptor: usize) -> f64 {
        self.blends[blend].scores[descriptor] - self.wanted[descriptor].target
    }

    /// Whether a gap wants attention: -1 too low, 1 too high, 0 it fits.
    pub fn verdict(&self, gap: f64) -> i8 {
        verdict_of(gap, self.tolerance())
    }

    /// Descriptors from the one that is most too low to the one that is most
    /// too high.
    pub fn by_gap(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.wanted.len()).collect();
        let key = |descriptor: usize| match self.blends.len() {
            1 => self.gap(0, descriptor),
            // Of several blends the one that is farthest off decides.
            blends => -(0..blends).map(|blend| self.gap(blend, descriptor).abs()).fold(0.0, f64::max),
        };
        order.sort_by(|&a, &b| key(a).total_cmp(&key(b)).then(a.cmp(&b)));
        order
    }

    /// What a sorted list of gaps comes to, for a title.
    pub fn finding(&self) -> String {
        match &self.told {
            Some(told) => told.clone(),
            None if self.blends.len() == 1 => self.finding_of_one(),
            None => self.finding_of_several(),
        }
    }

    fn named(&self, order: impl Iterator<Item = usize>) -> Vec<String> {
        order.map(|descriptor| brief(&self.wanted[descriptor].descriptor)).collect()
    }

    fn finding_of_one(&self) -> String {
        let order = self.by_gap();
        let with = |verdict: i8| order.iter().copied().filter(move |&d| self.verdict(self.gap(0, d)) == verdict);
        let (low, high) = (self.named(with(-1)), self.named(with(1).collect::<Vec<_>>().into_iter().rev()));
        let fit = self.wanted.len() - low.len() - high.len();
        let mut parts = Vec::new();
        if !low.is_empty() {
            parts.push(format!("short on {}", list(&low, NAMED)));
        }
        if !high.is_empty() {
            parts.push(format!("too much {}", list(&high, NAMED)));
        }
        let all = count(self.wanted.len(), "descriptor", "descriptors");
        match (parts.is_empty(), fit) {
            (true, 1) => "The one descriptor fits its target".to_owned(),
            (true, _) => format!("All {all} fit the target"),
            (false, 0) => sentence(&parts.join("; ")),
            (false, _) => sentence(&format!(
                "{}; the other {fit} of {all} {}",
                parts.join("; "),
                if fit == 1 { "fits" } else { "fit" }
            )),
        }
    }

    fn finding_of_several(&self) -> String {
        let Some(best) = self.blends.iter().reduce(|a, b| if b.fidelity_percent > a.fidelity_percent { b } else { a })
        else {
            return "Nothing to compare".to_owned();
        };
        let nearest = sentence(&format!("{} comes nearest, {} %", brief(&best.name), percent(best.fidelity_percent)));
        let all_are = |verdict: i8| {
            let shared = |&d: &usize| (0..self.blends.len()).all(|blend| self.verdict(self.gap(blend, d)) == verdict);
            self.named(self.by_gap().into_iter().filter(shared))
        };
        let which = if self.blends.len() == 2 { "both".to_owned() } else { format!("all {}", self.blends.len()) };
        let (low, high) = (all_are(-1), all_are(1));
        let mut shared = Vec::new();
        if !low.is_empty() {
            shared.push(format!("lack {}", list(&low, NAMED)));
        }
        if !high.is_empty() {
            shared.push(format!("have too much {}", list(&high, NAMED)));
        }
        if shared.is_empty() { nearest } else { format!("{nearest}; {which} {}", shared.join(" and ")) }
    }

    /// The scores in words, for those who do not see the chart.
    pub fn description(&self) -> String {
        let mut text = format!("{}. ", self.brief);
        for blend in &self.blends {
            text += &format!("{}, {} % match on paper: ", blend.name, percent(blend.fidelity_percent));
            let line = |(wanted, score): (&Wanted, &f64)| {
                let number = |value: f64| super::kit::words::number(value, 2);
                format!("{} {} of {} wanted", wanted.descriptor, number(*score), number(wanted.target))
            };
            let lines: Vec<String> = self.wanted.iter().zip(&blend.scores).map(line).collect();
            text += &format!("{}. ", lines.join(", "));
        }
        text.trim_end().to_owned()
    }
}

/// Score points that a gap may have and still fit, where the largest score is so much.
pub(super) fn tolerance_of(most: f64) -> f64 {
    10f64.power((most * 0.999).decimal_logarithm().floor() + 1.0) * FITS
}

/// Whether a gap wants attention beyond some points: -1 too low, 1 too high, 0 it fits.
pub(super) fn verdict_of(gap: f64, tolerance: f64) -> i8 {
    match gap {
        gap if gap.abs() <= tolerance => 0,
        gap if gap < 0.0 => -1,
        _ => 1,
    }
}

/// The colour of a verdict.
pub(super) fn colour_of(verdict: i8) -> &'static str {
    match verdict {
        -1 => SHORT,
        1 => HIGH,
        _ => CALM,
    }
}

/// The least of 1, 2, 5 and 10 times a power of ten that is no less.
pub(super) fn round_up(value: f64) -> f64 {
    let power = 10f64.power(value.decimal_logarithm().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|factor| factor * power).find(|&end| end >= value * 0.999).unwrap_or(value)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A chart of gaps from a target of 2 each.
    pub fn with_gaps(gaps: &[&[f64]]) -> ProfileChart {
        let names = ["rosy", "green", "spicy", "sweet", "dewy", "waxy"];
        let wanted = |at: usize| Wanted { descriptor: names[at].to_owned(), target: 2.0 };
        let blend = |(at, gaps): (usize, &&[f64])| Blend {
            name: format!("mod {}", at + 1),
            fidelity_percent: 90.0 + at as f64,
            scores: gaps.iter().map(|gap| 2.0 + gap).collect(),
            ranges: vec![None; gaps.len()],
            parts: Vec::new(),
        };
        ProfileChart {
            brief: "Rose".to_owned(),
            wanted: (0..gaps[0].len()).map(wanted).collect(),
            blends: gaps.iter().enumerate().map(blend).collect(),
            told: None,
        }
    }

    #[test]
    fn the_title_is_what_the_numbers_say() {
        let one = |gaps: &[f64]| with_gaps(&[gaps]).finding();
        assert_eq!(
            one(&[-0.5, 0.1, -0.9, 0.4]),
            "Short on spicy and rosy; too much sweet; the other 1 of 4 descriptors fits"
        );
        assert_eq!(one(&[0.1, 0.0, -0.2]), "All 3 descriptors fit the target");
        assert_eq!(one(&[0.1]), "The one descriptor fits its target");
        assert_eq!(one(&[0.5]), "Too much rosy");
        let several = with_gaps(&[&[-0.5, 0.1, 0.5], &[-0.4, 0.3, 0.1]]).finding();
        assert_eq!(several, "Mod 2 comes nearest, 91.0 %; both lack rosy");
    }

    #[test]
    fn what_fits_depends_on_the_scale() {
        let mut chart = with_gaps(&[&[0.2]]);
        assert!((chart.tolerance() - 0.25).abs() < 1e-12);
        chart.wanted[0].target = 80.0;
        assert!((chart.tolerance() - 2.5).abs() < 1e-12);
        chart.wanted[0].target = 10.0;
        assert!((chart.tolerance() - 0.25).abs() < 1e-12);
    }
}
