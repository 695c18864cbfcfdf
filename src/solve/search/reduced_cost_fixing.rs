//! Reduced-cost fixing: what a node's multipliers decide without branching: materials that cannot
//! be in, or cannot be left out, of any formula better than the one wanted,
//! and doses that such a formula cannot take.
//!
//! All of it rests on the safe bound alone. With `z` the bound (below 0, or
//! the node were closed) and `gap = -z`, any change that raises the bound by
//! the gap or more is impossible.

use super::grid::Grid;
use super::lp::SafeBound;
use super::node::{Decision, Node, UseStatus};
use super::relaxation::Relaxation;
use crate::tolerance::search::{FLAT, GAP_MORE, GAP_WIDER};
use crate::units::Ppt;

/// Narrows the node by its multipliers. Returns the number of decisions, or
/// `None` when they leave no formula.
///
/// `multipliers` are those of the rows that the bound was computed from.
pub fn fix_by_reduced_costs(
    node: &mut Node,
    relaxation: &Relaxation,
    grid: &Grid,
    multipliers: &[f64],
    bound: &SafeBound,
) -> Option<usize> {
    let n = relaxation.n;
    // Comparisons below are kept on the cautious side by this much.
    let gap = -bound.value * (1.0 + GAP_WIDER) + GAP_MORE;
    let multipliers: Vec<f64> = relaxation.counts.iter().map(|count| multipliers[count.row]).collect();
    let mut decisions = 0;
    for k in 0..n {
        let scale = relaxation.scale_ppt[k];
        // The boxes that the bound was computed for: a narrowed D makes them
        // smaller than the doses alone would.
        let column = if node.use_status[k] == UseStatus::Undecided { k } else { n + k };
        let (least, most) = (node.least[k].as_f64() / scale, node.state.upper[column]);
        match node.use_status[k] {
            UseStatus::Out => {}
            UseStatus::Undecided => {
                let d = bound.reduced[k];
                // What the material gives the bound while undecided.
                let now = (d * most).min(0.0);
                let coefficient = if relaxation.most[k] > 0.0 { 1.0 / relaxation.most[k] } else { 0.0 };
                let own = || relaxation.counts_of[k].iter().map(|&count| multipliers[count]);
                let d_in = d + own().sum::<f64>() * coefficient;
                let one_more: f64 = own().map(|multiplier| (-multiplier).max(0.0)).sum();
                let at = |dose: f64| one_more + d_in * dose - now;
                if at(least).min(at(most)) >= gap {
                    node.decide(k, Decision::Out, grid);
                    decisions += 1;
                    continue;
                }
                if -now >= gap {
                    if !node.decide(k, Decision::In(node.least[k]), grid) {
                        return None;
                    }
                    decisions += 1;
                }
                // Doses at which being in costs the gap or more.
                if d_in.abs() > FLAT {
                    let turn = (gap - one_more + now) / d_in;
                    decisions += usize::from(if d_in > 0.0 && turn < most {
                        narrow(node, k, None, Some(turn * scale), grid)?
                    } else if d_in < 0.0 && turn > least {
                        narrow(node, k, Some(turn * scale), None, grid)?
                    } else {
                        false
                    });
                }
            }
            UseStatus::In if node.least[k] < node.most[k] => {
                let d = bound.reduced[n + k];
                if d > FLAT && least + gap / d < most {
                    decisions += usize::from(narrow(node, k, None, Some((least + gap / d) * scale), grid)?);
                } else if d < -FLAT && most + gap / d > least {
                    decisions += usize::from(narrow(node, k, Some((most + gap / d) * scale), None, grid)?);
                }
            }
            UseStatus::In => {}
        }
    }
    Some(decisions)
}

/// Moves dose bounds inwards to the grid, a hair on the outer side of the
/// given numbers of ppt. `Some(true)` when something moved, `None` when
/// nothing is left of a material that must be in.
fn narrow(node: &mut Node, k: usize, least: Option<f64>, most: Option<f64>, grid: &Grid) -> Option<bool> {
    let units = |ppt: f64| ppt.clamp(-1.0, 1001.0) * Ppt::UNITS as f64;
    // Continuous doses shrink a little at every node: only a real cut counts.
    let width = node.most[k] - node.least[k];
    let worthwhile = |by: Ppt| by.units() * 20 >= width.units();
    let mut moved = false;
    if let Some(ppt) = most {
        let new = grid.down(k, Ppt::from_units((units(ppt) + 2.0).ceil() as i64));
        if new < node.most[k] && (!grid.is_continuous(k) || worthwhile(node.most[k] - new)) {
            if !node.decide(k, Decision::AtMost(new), grid) {
                return None;
            }
            moved = true;
        }
    }
    if let Some(ppt) = least {
        let new = grid.up(k, Ppt::from_units((units(ppt) - 2.0).floor() as i64));
        if new > node.least[k] && (!grid.is_continuous(k) || worthwhile(new - node.least[k])) {
            if new > node.most[k] {
                return node.leave_out(k).then_some(true);
            }
            let most = node.most[k];
            node.set_bounds(k, new, most);
            moved = true;
        }
    }
    Some(moved)
}
