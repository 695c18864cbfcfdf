//! From a relaxation's point to a formula on the grids: round, make the sum
//! exactly 1000, then exchange doses between two materials as long as that
//! helps. A heuristic: what it returns is checked elsewhere, and nothing is
//! proven by what it does not find.

use super::grid::Grid;
use super::tally::{Merit, Tally};
use crate::model::Blend;
use crate::tolerance::search::SAME_MERIT;
use crate::units::{Ppt, gcd};

/// Rounds continuous doses to the grids with a sum of exactly 1000. `None`
/// when no quick correction completes the sum.
pub fn round(blend: &Blend, grid: &Grid, ppt: &[f64]) -> Option<Vec<Ppt>> {
    let mut doses = vec![Ppt::ZERO; ppt.len()];
    let mut used: Vec<usize> = Vec::new();
    for (k, &dose) in ppt.iter().enumerate() {
        let column = &blend.columns[k];
        let least = if column.must { column.least } else { column.least.max(grid.step(k)) };
        // Half a least dose or more rounds up to it, less to nothing.
        if dose * 2.0 >= least.as_f64() || column.must {
            let step = grid.step(k);
            let below = Ppt::from_ppt(dose).floor_to(step);
            let nearest = if dose - below.as_f64() > step.as_f64() / 2.0 { below + step } else { below };
            doses[k] = nearest.max(least).min(column.most);
            used.push(k);
        }
    }
    complete_sum(blend, grid, &mut doses, &used).then_some(doses)
}

/// Corrects doses of used materials until they add up to 1000: first what the
/// coarse steps cannot express, with the finest one, then whole steps where
/// one part weighs least in the odour.
fn complete_sum(blend: &Blend, grid: &Grid, doses: &mut [Ppt], used: &[usize]) -> bool {
    let movable: Vec<usize> =
        used.iter().copied().filter(|&k| blend.columns[k].least < blend.columns[k].most).collect();
    let mut by_step = movable;
    // Coarse first; within a step the weakest first.
    by_step.sort_by(|&a, &b| {
        grid.step(b)
            .cmp(&grid.step(a))
            .then(blend.columns[a].weight.total_cmp(&blend.columns[b].weight))
            .then(a.cmp(&b))
    });
    let mut rest = (Ppt::WHOLE - doses.iter().copied().sum()).units();
    // From the finest step to the coarsest: leave a multiple of the coarser.
    for i in (0..by_step.len()).rev() {
        let coarser = by_step[..i].iter().map(|&k| grid.step(k).units()).fold(0, gcd);
        if coarser == 0 || rest % coarser == 0 {
            continue;
        }
        let k = by_step[i];
        let step = grid.step(k).units();
        let up = rest.rem_euclid(coarser);
        for change in [up, up - coarser] {
            let new = doses[k] + Ppt::from_units(change);
            if change % step == 0 && new >= blend.columns[k].least && new <= blend.columns[k].most {
                doses[k] = new;
                rest -= change;
                break;
            }
        }
    }
    for &k in &by_step {
        let step = grid.step(k).units();
        let column = &blend.columns[k];
        let wanted = rest / step * step;
        let new = Ppt::from_units((doses[k].units() + wanted).clamp(column.least.units(), column.most.units()));
        let change = (new - doses[k]).units() / step * step;
        doses[k] = doses[k] + Ppt::from_units(change);
        rest -= change;
    }
    rest == 0
}

/// Exchanges doses between two used materials as long as that mends a broken
/// rule or lowers the loss, at most `rounds` times.
pub fn exchange(blend: &Blend, grid: &Grid, tally: &mut Tally, rounds: usize) -> Merit {
    let used: Vec<usize> = (0..tally.doses.len()).filter(|&k| !tally.doses[k].is_zero()).collect();
    let mut merit = tally.merit();
    for _ in 0..rounds {
        let mut best: Option<(Merit, usize, usize, Ppt)> = None;
        for &to in &used {
            for &from in &used {
                if to == from {
                    continue;
                }
                let Some(unit) = common_step(grid, to, from) else { continue };
                let room =
                    (blend.columns[to].most - tally.doses[to]).min(tally.doses[from] - blend.columns[from].least);
                let mut by = unit;
                while by <= room && by > Ppt::ZERO {
                    tally.shift(to, by);
                    tally.shift(from, -by);
                    let trial = tally.merit();
                    tally.shift(to, -by);
                    tally.shift(from, by);
                    if is_better(trial, best.map_or(merit, |(best, ..)| best)) {
                        best = Some((trial, to, from, by));
                    }
                    by = Ppt::from_units(by.units() * 3);
                }
            }
        }
        let Some((better, to, from, by)) = best else { break };
        tally.shift(to, by);
        tally.shift(from, -by);
        merit = better;
    }
    merit
}

/// The smallest dose that two materials can exchange; `None` where it is more
/// than any formula holds.
fn common_step(grid: &Grid, a: usize, b: usize) -> Option<Ppt> {
    let (a, b) = (grid.step(a).units(), grid.step(b).units());
    // Two continuous doses move by something visible.
    let step = if a == 1 && b == 1 { Some(Ppt::UNITS / 1000) } else { (a / gcd(a, b)).checked_mul(b) };
    step.map(Ppt::from_units).filter(|step| *step <= Ppt::WHOLE)
}

fn is_better(a: Merit, b: Merit) -> bool {
    if (a.broken - b.broken).abs() > SAME_MERIT { a.broken < b.broken } else { a.loss < b.loss - SAME_MERIT }
}
