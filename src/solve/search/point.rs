//! What a relaxation's point looks like to the search: which materials it
//! uses, and how far it is from a formula.

use super::grid::Grid;
use super::node::{Node, UseStatus};
use super::relaxation::Relaxation;
use crate::tolerance::search::{BELOW_LEAST, ON_GRID, ON_GRID_LEAST, ON_GRID_MOST, PRESENT, TRACE};
use crate::units::Ppt;

/// A reading of a node's point.
pub struct Point {
    /// Dose of each material in ppt, 0 where it is not used.
    pub ppt: Vec<f64>,
    /// Undecided materials that the point uses.
    pub undecided: Vec<usize>,
    /// By how many materials each count rule is passed.
    pub surplus: Vec<usize>,
    /// Undecided materials used below their least dose.
    pub too_small: Vec<usize>,
    /// Materials used between two doses of their grid, with the share of a
    /// step above the lower one.
    pub between: Vec<(usize, f64)>,
}

impl Point {
    /// Reads a node's point.
    pub fn read(node: &Node, relaxation: &Relaxation, grid: &Grid) -> Point {
        let n = relaxation.n;
        let mut point = Point {
            ppt: vec![0.0; n],
            undecided: Vec::new(),
            surplus: Vec::new(),
            too_small: Vec::new(),
            between: Vec::new(),
        };
        for k in 0..n {
            if node.use_status[k] == UseStatus::Out {
                continue;
            }
            let dose = node.dose_ppt(k, relaxation);
            let present = dose / relaxation.scale_ppt[k] > PRESENT;
            if node.use_status[k] == UseStatus::Undecided {
                if !present {
                    continue;
                }
                point.undecided.push(k);
                if dose < node.least[k].as_f64() * (1.0 - BELOW_LEAST) {
                    point.too_small.push(k);
                }
            } else if !present && node.least[k] == Ppt::ZERO {
                continue;
            }
            point.ppt[k] = dose;
            if !grid.is_continuous(k) && node.least[k] < node.most[k] {
                let steps = dose / grid.step(k).as_f64();
                let share = steps - steps.floor();
                let tolerance =
                    (ON_GRID * relaxation.scale_ppt[k] / grid.step(k).as_f64()).clamp(ON_GRID_LEAST, ON_GRID_MOST);
                if share > tolerance && share < 1.0 - tolerance {
                    point.between.push((k, share));
                }
            }
        }
        let mut used = node.used.clone();
        point.undecided.iter().flat_map(|&k| &relaxation.counts_of[k]).for_each(|&count| used[count] += 1);
        let over = relaxation.counts.iter().zip(used).map(|(count, used)| used.saturating_sub(count.most));
        point.surplus = over.collect();
        point
    }

    /// Whether no more materials are used than may be.
    pub fn count_holds(&self) -> bool {
        self.surplus.iter().all(|&surplus| surplus == 0)
    }

    /// Whether no more materials are used than may be, and each at its least dose
    /// or above.
    pub fn keeps_use(&self) -> bool {
        self.count_holds() && self.too_small.is_empty()
    }

    /// The undecided materials that count where more are used than may be.
    pub fn too_many<'a>(&'a self, relaxation: &'a Relaxation) -> impl Iterator<Item = usize> + 'a {
        let is_passed = |k: usize| relaxation.counts_of[k].iter().any(|&count| self.surplus[count] > 0);
        self.undecided.iter().copied().filter(move |&k| is_passed(k))
    }

    /// Whether the point is a formula up to rounding.
    pub fn is_formula(&self) -> bool {
        self.keeps_use() && self.between.is_empty()
    }

    /// The point without traces of continuous doses.
    pub fn without_traces(&self, relaxation: &Relaxation, grid: &Grid) -> Point {
        let keep = |(k, &ppt): (usize, &f64)| {
            let trace = grid.is_continuous(k) && ppt / relaxation.scale_ppt[k] < TRACE && ppt < TRACE * 1000.0;
            if trace { 0.0 } else { ppt }
        };
        Point {
            ppt: self.ppt.iter().enumerate().map(keep).collect(),
            undecided: self.undecided.clone(),
            surplus: self.surplus.clone(),
            too_small: Vec::new(),
            between: Vec::new(),
        }
    }

    /// The nearest doses on the grids; continuous ones take up what rounding
    /// leaves of 1000. `None` when they cannot.
    pub fn nearest(&self, node: &Node, grid: &Grid) -> Option<Vec<Ppt>> {
        let mut doses: Vec<Ppt> = vec![Ppt::ZERO; self.ppt.len()];
        for (k, &ppt) in self.ppt.iter().enumerate().filter(|(_, ppt)| **ppt > 0.0) {
            let half = Ppt::from_units(grid.step(k).units() / 2);
            let nearest = (Ppt::from_ppt(ppt) + half).floor_to(grid.step(k));
            doses[k] = nearest.max(node.least[k]).min(node.most[k]);
            // A trace that may not be used (below 1e-6 ppt) is nothing.
            if doses[k] < Ppt::LEAST {
                doses[k] = Ppt::ZERO;
            }
        }
        let rest = Ppt::WHOLE - doses.iter().copied().sum();
        if !rest.is_zero() {
            let takes = |k: &usize| {
                let new = doses[*k] + rest;
                grid.is_continuous(*k) && !doses[*k].is_zero() && new >= node.least[*k] && new <= node.most[*k]
            };
            let k = (0..doses.len()).filter(takes).max_by_key(|&k| doses[k])?;
            doses[k] = doses[k] + rest;
        }
        Some(doses)
    }
}
