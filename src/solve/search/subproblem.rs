//! A subproblem: a blend without what a node has ruled out, small enough to be
//! worth a relaxation of its own.

use super::node::{Node, UseStatus};
use crate::model::{Blend, BlendCount};
use crate::units::Ppt;

/// A blend of the materials that a node still allows, at the doses that it
/// still allows.
pub struct Subproblem {
    /// The smaller blend.
    pub blend: Blend,
    /// Column of the full blend of each of its columns.
    pub kept: Vec<usize>,
}

impl Subproblem {
    /// What a node leaves of a blend.
    pub fn new(blend: &Blend, node: &Node) -> Subproblem {
        let kept: Vec<usize> = (0..blend.columns.len()).filter(|&k| node.use_status[k] != UseStatus::Out).collect();
        let mut place = vec![None; blend.columns.len()];
        for (index, &k) in kept.iter().enumerate() {
            place[k] = Some(index);
        }
        let mut smaller = blend.clone();
        smaller.columns = kept
            .iter()
            .map(|&k| {
                let mut column = blend.columns[k].clone();
                column.most = node.most[k];
                if node.use_status[k] == UseStatus::Undecided {
                    column.least = node.least[k];
                } else if !node.least[k].is_zero() {
                    column.least = node.least[k];
                    column.must = true;
                }
                column
            })
            .collect();
        for row in &mut smaller.rows {
            row.coefficients = row.coefficients.iter().filter_map(|&(k, a)| Some((place[k]?, a))).collect();
        }
        for cap in &mut smaller.caps {
            cap.columns = kept.iter().map(|&k| cap.columns[k].clone()).collect();
        }
        for view in &mut smaller.views {
            view.columns = kept.iter().map(|&k| view.columns[k].clone()).collect();
        }
        smaller.drop_idle_rows();
        let count = |count: &BlendCount| {
            let columns: Vec<usize> = count.columns.iter().filter_map(|&k| place[k]).collect();
            (count.most < columns.len()).then_some(BlendCount { columns, most: count.most })
        };
        smaller.counts = blend.counts.iter().filter_map(count).collect();
        Subproblem { blend: smaller, kept }
    }

    /// Whether it is enough smaller than the full blend to be built anew.
    pub fn is_worthwhile(&self, full: &Blend) -> bool {
        self.kept.len() * 10 <= full.columns.len() * 9
    }

    /// Doses of the full blend's columns.
    pub fn full(&self, full: &Blend, doses: &[Ppt]) -> Vec<Ppt> {
        let mut all = vec![Ppt::ZERO; full.columns.len()];
        for (&k, &dose) in self.kept.iter().zip(doses) {
            all[k] = dose;
        }
        all
    }
}
