//! How far a strong material can go: fidelity against its dose.

mod curve;
mod draw;

use super::kit::colour::{HUES, INK, NOW, SOFT};
use super::kit::frame::{Mark, Piece, key, words};
use super::kit::words::{brief, dose, number, percent, sentence};

/// The best fidelity with the dose forced.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PushPoint {
    /// The dose in ppt.
    pub dose_ppt: f64,
    /// Fidelity in percent; none where no blend can have this dose.
    pub fidelity_percent: Option<f64>,
    /// Fidelity in percent by the second opinion.
    pub second_percent: Option<f64>,
    /// Whether it is proven best.
    pub proven: bool,
}

/// A cap on the dose.
#[derive(Clone, Debug, PartialEq)]
pub struct PushCap {
    /// The dose in ppt.
    pub dose_ppt: f64,
    /// Its reason in a few words: "own cap", "restriction, Fine fragrance".
    pub reason: String,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct PushChart {
    /// Title of the brief.
    pub brief: String,
    /// The material.
    pub material: String,
    /// Points with rising dose, from nothing to beyond the cap.
    pub points: Vec<PushPoint>,
    /// Whether doses change little by little, so that what lies between two
    /// points is known.
    pub is_continuous: bool,
    /// What could be had over any doses and with any number of materials: dose in
    /// ppt and fidelity in percent, doses rising.
    pub upper_limit: Vec<(f64, f64)>,
    /// Every cap; the lowest ends what the rules allow.
    pub caps: Vec<PushCap>,
    /// Dose in ppt and fidelity in percent of the best.
    pub best: Option<(f64, f64)>,
    /// Dose in ppt and fidelity in percent of the best by the second opinion.
    pub best_second: Option<(f64, f64)>,
    /// Doses in ppt between which fidelity is within `margin_points` of the best.
    pub window_ppt: Option<(f64, f64)>,
    /// Points that the window gives away.
    pub margin_points: f64,
    /// The dose in ppt from which on it is no better than without any.
    pub gain_gone_ppt: Option<f64>,
    /// Fidelity in percent without any.
    pub without_percent: Option<f64>,
}

/// The hue of the second opinion, dark enough for text.
const SECOND: &str = "#8d4a7c";

impl PushChart {
    /// The lowest cap in ppt.
    fn cap(&self) -> f64 {
        self.caps.iter().map(|cap| cap.dose_ppt).fold(f64::INFINITY, f64::min)
    }

    fn lowest_cap(&self) -> Option<&PushCap> {
        self.caps.iter().min_by(|a, b| a.dose_ppt.total_cmp(&b.dose_ppt))
    }

    /// Whether the next larger dose, in steps of the brief, would pass the lowest
    /// cap.
    fn is_at_its_cap(&self, at: f64) -> bool {
        let cap = self.cap();
        let is_between = |point: &PushPoint| point.dose_ppt > at * (1.0 + 1e-9) && point.dose_ppt <= cap * (1.0 + 1e-9);
        at >= cap * (1.0 - 1e-6) || (!self.is_continuous && !self.points.iter().any(is_between))
    }

    fn finding(&self) -> String {
        let name = sentence(&brief(&self.material));
        let Some((at, fidelity)) = self.best else {
            return format!("No formula keeps the other rules, whatever the dose of {}", brief(&self.material));
        };
        let Some(without) = self.without_percent else {
            return format!("{name} does best at {} ‰: {} %", dose(at), percent(fidelity));
        };
        let gain = fidelity - without;
        if at <= 0.0 || gain < 0.05 {
            return format!("{name} adds nothing: {} % without any", percent(without));
        }
        let end = match (self.gain_gone_ppt.filter(|&gone| gone > at), self.lowest_cap()) {
            (Some(gone), _) if gone <= self.cap() => format!("; by {} ‰ the gain is gone", dose(gone)),
            (_, Some(cap)) if self.is_at_its_cap(at) => {
                format!("; held to {} ‰ by {}", dose(cap.dose_ppt), brief(&cap.reason))
            }
            (_, Some(cap)) => format!("; capped at {} ‰ by {}", dose(cap.dose_ppt), brief(&cap.reason)),
            (Some(gone), None) => format!("; by {} ‰ the gain is gone", dose(gone)),
            (None, None) => String::new(),
        };
        format!("{name} adds {} points at {} ‰{end}", number(gain, 1), dose(at))
    }

    fn description(&self) -> String {
        let mut text = format!("{}. Best match on paper with the dose of {} forced: ", self.brief, self.material);
        let step = self.points.len().div_ceil(8).max(1);
        let point = |point: &PushPoint| match point.fidelity_percent {
            Some(fidelity) => format!("{} % at {} ‰", percent(fidelity), dose(point.dose_ppt)),
            None => format!("no formula at {} ‰", dose(point.dose_ppt)),
        };
        text += &self.points.iter().step_by(step).map(point).collect::<Vec<_>>().join(", ");
        for cap in &self.caps {
            text += &format!(". Cap at {} ‰: {}", dose(cap.dose_ppt), cap.reason);
        }
        text
    }

    fn subtitle(&self) -> Vec<Piece> {
        let best = if self.is_continuous { "match on paper" } else { "formula that keeps every rule," };
        let text = format!("{}: the best {best} with its dose forced and all other doses solved again.", self.brief);
        let mark = if self.is_continuous { Mark::Line(NOW) } else { Mark::Disc(NOW) };
        let proven = if self.is_continuous { "match on paper" } else { "formula, proven best" };
        let mut pieces = vec![words(&text), key(mark, proven, NOW)];
        if self.points.iter().any(|point| point.fidelity_percent.is_some() && !point.proven) {
            pieces.push(key(Mark::Ring, "not proven best", INK));
        }
        if !self.upper_limit.is_empty() {
            pieces.push(key(Mark::Line(SOFT), "upper limit, any doses and any number of materials", SOFT));
        }
        if self.points.iter().any(|point| point.second_percent.is_some()) {
            pieces.push(key(Mark::Line(HUES[5]), "second opinion: strong materials weigh less", SECOND));
        }
        if self.points.iter().any(|point| point.dose_ppt > self.cap()) {
            pieces.push(key(Mark::Dashes(SOFT), "beyond the lowest cap", SOFT));
        }
        pieces
    }
}
