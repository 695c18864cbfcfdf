//! Uphill in what is sought by moves of dose from one material to another, inside
//! the rules.

use super::{Aim, gain_of, worth_of};
use crate::analysis::doubt::judge::Judge;
use crate::analysis::doubt::sample::{BLOCK, Sampler};
use crate::control::Control;
use crate::formula::Formula;
use crate::problem::check::{Checker, SEARCH_TOLERANCE};
use crate::problem::{DoseDomain, Problem};
use crate::tolerance::loss::STEADIER;
use crate::units::{Ppt, gcd};

/// Materials that doses may move to at the most: those of the candidates
/// first, then in the order of the palette.
const COLUMNS: usize = 100;
/// Times that all moves are gone through.
const PASSES: usize = 12;
/// So many standard deviations an improvement has to be away from none.
const SURE: f64 = 2.0;
/// The finest move of continuous doses: 0.01 ppt.
const FINEST: Ppt = Ppt::from_units(Ppt::UNITS / 100);
/// Multiples of the finest move that are tried.
const AMOUNTS: [i64; 12] = [1, 2, 3, 5, 10, 20, 30, 50, 100, 200, 1000, 3000];

/// What one ppt of a column brings in every draw.
struct Column {
    material: usize,
    domain: DoseDomain,
    /// Odour of each target, draw by draw.
    odours: Vec<f64>,
    /// What it adds to the denominator, draw by draw.
    weights: Vec<f64>,
}

/// A problem on one set of draws.
pub struct Climber<'a> {
    problem: &'a Problem,
    aim: Aim,
    checker: Checker<'a>,
    judge: Judge,
    columns: Vec<Column>,
    draws: usize,
}

/// A formula on these draws.
struct Standing {
    doses: Vec<Ppt>,
    odours: Vec<f64>,
    denominators: Vec<f64>,
    fidelities: Vec<f64>,
    worth: f64,
    /// On the first block of draws alone.
    at_a_glance: f64,
}

impl<'a> Climber<'a> {
    /// Of a problem with candidates; `None` where nothing may be used.
    pub fn new(
        problem: &'a Problem,
        aim: Aim,
        candidates: &[Formula],
        seed: u64,
        blocks: usize,
    ) -> Option<Climber<'a>> {
        let judge = Judge::new(problem);
        let domains = problem.domains();
        let is_in = |material: &usize| candidates.iter().any(|formula| !formula.dose(*material).is_zero());
        let usable = |material: &usize| domains[*material].is_ok_and(|domain| !domain.is_empty());
        let all = 0..problem.columns.len();
        let mut order: Vec<usize> = all.clone().filter(is_in).collect();
        order.extend(all.filter(|material| !is_in(material) && usable(material)));
        order.truncate(COLUMNS.max(candidates.first()?.parts.len()));
        order.retain(|material| domains[*material].is_ok());
        let all = brought(problem, &judge, &order, seed, blocks);
        let column = |(material, (odours, weights)): (usize, (Vec<f64>, Vec<f64>))| {
            Some(Column { material, domain: domains[material].ok()?, odours, weights })
        };
        let columns: Vec<Column> = order.into_iter().zip(all).filter_map(column).collect();
        let checker = Checker::new(problem);
        (!columns.is_empty()).then_some(Climber { problem, aim, checker, judge, columns, draws: blocks * BLOCK })
    }

    /// What a formula is worth on these draws.
    pub fn worth(&self, formula: &Formula) -> f64 {
        self.standing(formula).worth
    }

    fn standing(&self, formula: &Formula) -> Standing {
        let targets = self.judge.targets();
        let mut standing = Standing {
            doses: self.columns.iter().map(|column| formula.dose(column.material)).collect(),
            odours: vec![0.0; self.draws * targets],
            denominators: vec![0.0; self.draws],
            fidelities: Vec::new(),
            worth: 0.0,
            at_a_glance: 0.0,
        };
        for (column, dose) in self.columns.iter().zip(&standing.doses) {
            let ppt = dose.as_f64();
            if ppt > 0.0 {
                standing.odours.iter_mut().zip(&column.odours).for_each(|(sum, one)| *sum += ppt * one);
                standing.denominators.iter_mut().zip(&column.weights).for_each(|(sum, one)| *sum += ppt * one);
            }
        }
        standing.fidelities = self.fidelities(&standing, None, self.draws);
        standing.worth = worth_of(&mut standing.fidelities.clone(), self.aim);
        standing.at_a_glance = worth_of(&mut standing.fidelities[..BLOCK].to_vec(), self.aim);
        standing
    }

    /// Fidelity in the first draws, after a move of dose if there is one.
    fn fidelities(&self, standing: &Standing, moved: Option<(usize, usize, f64)>, draws: usize) -> Vec<f64> {
        let targets = self.judge.targets();
        let mut odours = vec![0.0; targets];
        let one = |draw: usize| {
            let rows = draw * targets..(draw + 1) * targets;
            let own = &standing.odours[rows.clone()];
            let denominator = standing.denominators[draw];
            let Some((from, to, ppt)) = moved else { return self.judge.fidelity(self.judge.loss(own, denominator)) };
            let (from, to) = (&self.columns[from], &self.columns[to]);
            let changes = to.odours[rows.clone()].iter().zip(&from.odours[rows]);
            for ((sum, own), (to, from)) in odours.iter_mut().zip(own).zip(changes) {
                *sum = own + ppt * (to - from);
            }
            let denominator = denominator + ppt * (to.weights[draw] - from.weights[draw]);
            self.judge.fidelity(self.judge.loss(&odours, denominator))
        };
        (0..draws).map(one).collect()
    }

    /// The formula that moves from one lead to. Every formula on the way keeps
    /// the rules.
    pub fn climb(&self, start: &Formula, control: &Control) -> Formula {
        let mut now = self.standing(start);
        for _ in 0..PASSES {
            let before = now.worth;
            for from in 0..self.columns.len() {
                for to in 0..self.columns.len() {
                    if from == to || now.doses[from].is_zero() {
                        continue;
                    }
                    if control.should_stop() {
                        return self.formula(&now.doses);
                    }
                    if let Some(next) = self.best_move(&now, from, to) {
                        // Sums are taken afresh, so that no rounding gathers.
                        now = self.standing(&next);
                    }
                }
            }
            if now.worth - before < STEADIER {
                break;
            }
        }
        self.formula(&now.doses)
    }

    /// The best amount to move between two columns, if any makes it steadier.
    /// A glance at few draws comes first; what all draws make of it has to be
    /// more than chance, or thousands of moves would find what is good on
    /// these draws alone.
    fn best_move(&self, now: &Standing, from: usize, to: usize) -> Option<Formula> {
        let after = |by: &Ppt, draws: usize| self.fidelities(now, Some((from, to, by.as_f64())), draws);
        let mut tried: Vec<(f64, Ppt)> = self
            .amounts(now, from, to)
            .into_iter()
            .filter(|by| worth_of(&mut after(by, BLOCK), self.aim) > now.at_a_glance)
            .filter_map(|by| {
                let (gain, error) = gain_of(&after(&by, self.draws), &now.fidelities, self.aim);
                (gain > STEADIER + SURE * error).then_some((gain, by))
            })
            .collect();
        tried.sort_by(|a, b| b.0.total_cmp(&a.0));
        tried
            .into_iter()
            .map(|(_, by)| self.moved(now, from, to, by))
            .find(|formula| self.checker.breaches(formula, SEARCH_TOLERANCE).is_empty())
    }

    /// Amounts that leave both doses where they may be.
    fn amounts(&self, now: &Standing, from: usize, to: usize) -> Vec<Ppt> {
        let (source, sink) = (&self.columns[from].domain, &self.columns[to].domain);
        if source.fixed || sink.fixed {
            return Vec::new();
        }
        let grid = common_grid(source.step, sink.step);
        let whole = now.doses[from];
        let mut amounts: Vec<Ppt> = AMOUNTS.iter().map(|times| Ppt::from_units(times * grid.units())).collect();
        amounts.push(whole);
        if now.doses[to].is_zero() {
            amounts.push(sink.least.ceil_to(grid));
        }
        amounts.retain(|by| {
            let (left, right) = (whole - *by, now.doses[to] + *by);
            let stays = if left.is_zero() { !source.must } else { left >= source.least };
            *by > Ppt::ZERO && stays && on(right, sink) && on(left, source)
        });
        amounts.sort_unstable();
        amounts.dedup();
        amounts
    }

    fn moved(&self, now: &Standing, from: usize, to: usize, by: Ppt) -> Formula {
        let mut doses = now.doses.clone();
        doses[from] = doses[from] - by;
        doses[to] = doses[to] + by;
        self.formula(&doses)
    }

    fn formula(&self, doses: &[Ppt]) -> Formula {
        let mut all = vec![Ppt::ZERO; self.problem.columns.len()];
        for (column, dose) in self.columns.iter().zip(doses) {
            all[column.material] = *dose;
        }
        Formula::from_doses(self.problem.basis, &all)
    }
}

/// Whether a dose is one that a domain allows.
fn on(dose: Ppt, domain: &DoseDomain) -> bool {
    dose.is_zero() || (dose >= domain.least && dose <= domain.most && dose.floor_to(domain.step) == dose)
}

/// The finest amount that keeps two doses on their grids.
fn common_grid(one: Ppt, other: Ppt) -> Ppt {
    match (one.is_zero(), other.is_zero()) {
        (true, true) => FINEST,
        (true, false) => other,
        (false, true) => one,
        (false, false) => {
            let (a, b) = (one.units(), other.units());
            // The least common multiple of two steps; both are at most 1000 ppt.
            a.checked_div(gcd(a, b)).and_then(|part| part.checked_mul(b)).map_or(Ppt::WHOLE, Ppt::from_units)
        }
    }
}

/// Odours and weights of one ppt of each column in every draw.
fn brought(problem: &Problem, judge: &Judge, columns: &[usize], seed: u64, blocks: usize) -> Vec<(Vec<f64>, Vec<f64>)> {
    let (targets, draws) = (judge.targets(), blocks * BLOCK);
    let mut materials: Vec<usize> =
        columns.iter().flat_map(|&column| problem.columns[column].neat.iter().map(|(material, _)| *material)).collect();
    materials.sort_unstable();
    materials.dedup();
    let sampler = Sampler::new(problem, materials.iter().copied());
    let mut all = vec![(vec![0.0; draws * targets], vec![0.0; draws]); columns.len()];
    for block in 0..blocks {
        let drawn = sampler.first(seed, block, BLOCK);
        for (&column, (odours, weights)) in columns.iter().zip(&mut all) {
            for (material, part) in &problem.columns[column].neat {
                let Ok(slot) = materials.binary_search(material) else { continue };
                for draw in 0..BLOCK {
                    let (one, at) = (drawn[slot].draw(draw), block * BLOCK + draw);
                    let odour = part * one.strength;
                    let sums = &mut odours[at * targets..(at + 1) * targets];
                    sums.iter_mut().zip(one.scores).for_each(|(sum, score)| *sum += odour * score);
                    weights[at] += odour * judge.weight(one.scores);
                }
            }
        }
    }
    all
}
