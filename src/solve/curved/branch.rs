//! Where a node is split: what its point leaves undecided, and which decision
//! raises the bound of both sides most.

use super::curve::{Span, dose_of, power};
use super::node::{Node, Side, Use};
use super::relaxation::Relaxation;
use crate::units::Ppt;

/// A share of a column below this is rounding.
const TRACE: f64 = 1e-7;
/// A split of continuous doses keeps this share of the span on either side.
const KEPT: f64 = 0.1;

/// What the simplex method's point says of each material.
pub(super) struct Reading {
    /// How far it is used, from 0 to 1.
    pub used: Vec<f64>,
    /// Its dose in ppt.
    pub ppt: Vec<f64>,
    /// The same of doses to the power of the law.
    pub power: Vec<f64>,
    /// Its dose where the point has just one, 0 included.
    pub only: Vec<Option<Ppt>>,
}

impl Reading {
    /// Reads a node's point.
    pub fn of(node: &Node, relaxation: &Relaxation) -> Reading {
        let n = node.uses.len();
        let mut reading =
            Reading { used: vec![0.0; n], ppt: vec![0.0; n], power: vec![0.0; n], only: vec![Some(Ppt::ZERO); n] };
        let mut several = vec![false; n];
        for &j in node.state.live().iter().filter(|&&j| j as usize >= relaxation.first_point) {
            let point = relaxation.points[j as usize - relaxation.first_point];
            let share = node.state.value(j as usize) * point.unit;
            if share > TRACE {
                let k = point.k;
                several[k] |= reading.used[k] > 0.0;
                reading.used[k] += share;
                reading.ppt[k] += share * point.ppt;
                reading.power[k] += share * point.power;
                reading.only[k] = Some(point.dose);
            }
        }
        for ((only, used), several) in reading.only.iter_mut().zip(&reading.used).zip(several) {
            let is_whole = *used == 0.0 || *used > 1.0 - TRACE;
            if several || !is_whole {
                *only = None;
            }
        }
        reading
    }

    /// The doses of the point, where each material has one and no more.
    pub fn formula(&self) -> Option<Vec<Ppt>> {
        self.only.iter().copied().collect()
    }

    /// Doses that smell as the point does, in ppt that add up to 1000.
    pub fn as_smelled(&self) -> Vec<f64> {
        let dose = |k: usize| {
            let used = self.used[k].max(TRACE);
            dose_of(self.power[k] / used.min(1.0))
        };
        let mut ppt: Vec<f64> = (0..self.ppt.len()).map(dose).collect();
        let sum: f64 = ppt.iter().sum();
        if sum > 0.0 {
            ppt.iter_mut().for_each(|ppt| *ppt *= 1000.0 / sum);
        }
        ppt
    }
}

/// A way to split a node.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Split {
    pub k: usize,
    /// The side that is looked at first, and the other.
    pub sides: [Side; 2],
    /// Whether it decides on use rather than on a dose.
    pub is_use: bool,
    /// How much the point leaves undecided there.
    pub measure: f64,
}

/// The ways in which a node may be split at its point, those first that leave most
/// undecided by the bends of the materials' worths.
pub(super) fn splits(node: &Node, reading: &Reading, bends: impl Fn(usize) -> f64) -> Vec<Split> {
    let mut splits = Vec::new();
    for k in 0..node.uses.len() {
        if node.is_settled(k) || reading.only[k].is_some() {
            continue;
        }
        let used = reading.used[k].min(1.0);
        let mean = reading.ppt[k] / used.max(TRACE);
        if node.uses[k] == Use::Open && used > TRACE && used < 1.0 - TRACE {
            let measure = used.min(1.0 - used);
            splits.push(Split { k, sides: [Side::In, Side::Out], is_use: true, measure });
        }
        if let Some((below, above)) = split_at(node.spans[k], mean_of(node, reading, k, mean)) {
            let bent = (used * power(mean) - reading.power[k]).abs() * bends(k).abs();
            let sides = [Side::AtMost(below), Side::AtLeast(above)];
            splits.push(Split { k, sides, is_use: false, measure: bent });
        }
    }
    splits
}

/// The dose at which a span is best split: a free material's is its dose as it stands.
fn mean_of(node: &Node, reading: &Reading, k: usize, mean: f64) -> f64 {
    if node.spans[k].least.is_zero() { reading.ppt[k] } else { mean }
}

/// The two doses next to a split of a span; `None` where it has just one dose.
pub(super) fn split_at(span: Span, ppt: f64) -> Option<(Ppt, Ppt)> {
    if span.is_point() {
        return None;
    }
    let (low, high) = (power(span.least.as_f64()), power(span.most.as_f64()));
    let part = |share: f64| dose_of(low + share * (high - low));
    let ppt = if span.step.units() == 1 { ppt.clamp(part(KEPT), part(1.0 - KEPT)) } else { ppt };
    let below = span.below(ppt).min(span.most - span.step);
    let above = below + span.step;
    // Above nothing comes the least dose that there is.
    Some((below, if below.is_zero() { above.max(Ppt::LEAST.min(span.most)) } else { above }))
}

/// Where nothing is known of the point: the first open use, or the widest span.
pub(super) fn any_split(node: &Node) -> Option<Split> {
    let open = (0..node.uses.len()).find(|&k| node.uses[k] == Use::Open);
    if let Some(k) = open {
        return Some(Split { k, sides: [Side::In, Side::Out], is_use: true, measure: 0.0 });
    }
    let width = |k: usize| {
        let Span { least, most, step } = node.spans[k];
        (most - least).units() / step.units()
    };
    let widest = (0..node.uses.len()).filter(|&k| !node.is_settled(k)).max_by_key(|&k| (width(k), usize::MAX - k))?;
    let Span { least, most, .. } = node.spans[widest];
    let (below, above) = split_at(node.spans[widest], least.as_f64().midpoint(most.as_f64()))?;
    Some(Split { k: widest, sides: [Side::AtMost(below), Side::AtLeast(above)], is_use: false, measure: 0.0 })
}
