//! The linear relaxation that the search bounds with, for a fixed loss
//! `lambda`: minimise `N(x) - lambda D(x)` over the dose polytope
//! (Dinkelbach 1967). A node whose minimum is not below 0 holds no formula
//! with a loss below `lambda`.
//!
//! Everything is scaled: doses by `r = min(d_ref / q, 1000 ppt)`, so that a
//! column is a share of D (a dose that stays by itself), and D by `d_ref`, the geometric mean of its least
//! and greatest value. Each material has two columns: one while it is
//! undecided, in `[0, most]`, that takes its part of the count rows, and one
//! once it is in, in `[least, most]`, that does not. So branching moves
//! bounds and never a coefficient.

use std::sync::Arc;

use super::lp::{BoxedLp, SafeBound};
use super::remainder::Remainder;
use super::simplex::{Ended, Scratch, State};
use crate::model::{Blend, LossCap};
use crate::units::Ppt;

/// The relaxation with the meaning of its columns.
#[derive(Clone)]
pub struct Relaxation {
    /// The programme. The cost of the column D is `-lambda`.
    pub lp: BoxedLp,
    /// Number of materials; columns `0..n` are the undecided ones, `n..2n`
    /// those that are in.
    pub n: usize,
    /// ppt of one unit of each material's columns.
    pub scale_ppt: Vec<f64>,
    /// Greatest dose of each material, in units of its columns.
    pub most: Vec<f64>,
    /// Units of D that one unit of each material's columns adds.
    pub share: Vec<f64>,
    /// The columns that hold what a target is passed by or missed by.
    pub gaps: std::ops::Range<usize>,
    /// The column D.
    pub d: usize,
    /// D in model units of one unit of the column.
    pub d_ref: f64,
    /// The count rules.
    pub counts: Vec<Count>,
    /// For each material, the count rules that it falls under.
    pub counts_of: Arc<[Vec<usize>]>,
    /// What each rule was divided by.
    pub row_sizes: Vec<f64>,
    /// What coarse steps leave to the fine ones, each with its column.
    pub remainders: Vec<Kept>,
    /// Box of every column at the start.
    pub lower: Vec<f64>,
    /// Box of every column at the start.
    pub upper: Vec<f64>,
    /// A unit column for each row.
    basis: Vec<usize>,
}

/// Where a count rule sits.
#[derive(Clone, Debug)]
pub struct Count {
    /// Its row.
    pub row: usize,
    /// The column fixed at the number of its materials that are in.
    pub used: usize,
    /// Its slack.
    pub slack: usize,
    /// The greatest number of its materials.
    pub most: usize,
    /// Its materials.
    pub members: Vec<usize>,
}

/// Where a remainder sits.
#[derive(Clone, Debug)]
pub struct Kept {
    /// The remainder.
    pub remainder: Remainder,
    /// The column that holds its sum.
    pub column: usize,
    /// ppt of one unit of the column.
    pub unit_ppt: f64,
}

/// Least and greatest D inside the rules, in model units.
#[derive(Clone, Copy, Debug)]
pub struct Span {
    /// A lower bound on D.
    pub least: f64,
    /// An upper bound on D.
    pub most: f64,
}

/// The relaxation has no point at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Empty;

impl Relaxation {
    /// Builds the relaxation of a blend, with D bounded as tightly as two
    /// linear programmes tell.
    ///
    /// # Errors
    /// When there is certainly no formula.
    pub fn new(blend: &Blend, scratch: &mut Scratch) -> Result<Relaxation, Empty> {
        let crude = crude_span(blend).ok_or(Empty)?;
        let first = Relaxation::with_span(blend, crude, false)?;
        let span = first.tighten_span(crude, scratch)?;
        Relaxation::with_span(blend, span, false)
    }

    /// The relaxation of a blend that has no formula, for the multipliers that
    /// show it.
    ///
    /// # Errors
    /// When no material has an odour.
    pub fn of_nothing(blend: &Blend) -> Result<Relaxation, Empty> {
        Relaxation::with_span(blend, crude_span(blend).ok_or(Empty)?, true)
    }

    fn with_span(blend: &Blend, span: Span, even_empty: bool) -> Result<Relaxation, Empty> {
        let n = blend.columns.len();
        let d_ref = (span.least * span.most).sqrt();
        let targets = blend.targets.len();
        let (d_row, sum_row, target_row, rule_row) = (0, 1, 2, 2 + targets);
        let count_row = rule_row + blend.rows.len();
        let remainders = Remainder::all(blend);
        let remainder_row = count_row + blend.counts.len();
        let cap_row = remainder_row + remainders.len();
        // A row a target of the cap, and one for their sum.
        let cap = blend.cap.as_ref().and_then(|cap| Some((cap, cap_span(blend, cap)?)));
        let rows = cap_row + cap.as_ref().map_or(0, |(cap, _)| cap.targets.len() + 1);
        let mut counts_of: Vec<Vec<usize>> = vec![Vec::new(); n];
        for (index, count) in blend.counts.iter().enumerate() {
            count.columns.iter().for_each(|&column| counts_of[column].push(index));
        }

        let mut entries: Vec<Vec<(usize, f64)>> = Vec::with_capacity(n);
        let mut scale_ppt = Vec::with_capacity(n);
        let mut greatest = Vec::with_capacity(n);
        let mut share = Vec::with_capacity(n);
        for (k, column) in blend.columns.iter().enumerate() {
            // What a cap looks at needs the finer scale.
            let (weight, d_ref_of) = match &cap {
                Some((cap, span)) => (cap.columns[k].weight, (span.least * span.most).sqrt()),
                None => (column.weight, d_ref),
            };
            let scale = match weight {
                // All of it or nothing, however little that is.
                _ if column.stays && column.most > Ppt::ZERO => column.most.as_f64(),
                weight if weight > 0.0 => (d_ref_of / weight).min(1000.0),
                _ => 1000.0,
            };
            scale_ppt.push(scale);
            greatest.push(column.most.as_f64() / scale);
            share.push(column.weight * scale / d_ref);
            let mut of = vec![(d_row, column.weight * scale / d_ref), (sum_row, scale / 1000.0)];
            of.extend(column.odours.iter().map(|&(target, odour)| (target_row + target, odour * scale / d_ref)));
            entries.push(of);
        }
        // Rules, each divided by its largest scaled coefficient.
        let mut slack_most = Vec::new();
        let mut uppers = Vec::new();
        let mut row_sizes = Vec::new();
        for (index, row) in blend.rows.iter().enumerate() {
            let scaled = || row.coefficients.iter().map(|&(column, a)| (column, a * scale_ppt[column]));
            let size = scaled().map(|(_, a)| a.abs()).fold(0.0, f64::max);
            let size = if size > 0.0 { size } else { row.upper.abs().max(1.0) };
            let mut least_activity = 0.0;
            for (column, a) in scaled() {
                entries[column].push((rule_row + index, a / size));
                let dose = |ppt: Ppt| ppt.as_f64() / scale_ppt[column];
                let must_have = if blend.columns[column].must { dose(blend.columns[column].least) } else { 0.0 };
                least_activity += a / size * if a < 0.0 { dose(blend.columns[column].most) } else { must_have };
            }
            let room = row.upper / size - least_activity;
            if room < -1e-9 * (1.0 + (row.upper / size).abs()) && !even_empty {
                return Err(Empty);
            }
            uppers.push(row.upper / size);
            row_sizes.push(size);
            slack_most.push(room.max(0.0));
        }

        let mut units = Vec::new();
        for (index, remainder) in remainders.iter().enumerate() {
            let unit = remainder.fine.iter().map(|&k| scale_ppt[k]).fold(0.0, f64::max);
            for &k in &remainder.fine {
                entries[k].push((remainder_row + index, scale_ppt[k] / unit));
            }
            units.push(unit);
        }

        if let Some((cap, span)) = &cap {
            let sum_row = cap_row + cap.targets.len();
            let cap_d = (span.least * span.most).sqrt();
            for (k, column) in cap.columns.iter().enumerate() {
                let unit = scale_ppt[k] / cap_d;
                let mut per_unit: Vec<f64> =
                    cap.targets.iter().map(|target| -target.score * column.weight * unit).collect();
                column.odours.iter().for_each(|&(target, odour)| per_unit[target] += odour * unit);
                let nonzero = per_unit.into_iter().enumerate().filter(|(_, a)| *a != 0.0);
                entries[k].extend(nonzero.map(|(target, a)| (cap_row + target, a)));
                if column.weight > 0.0 && cap.most > 0.0 {
                    entries[k].push((sum_row, -cap.most * column.weight * unit));
                }
            }
        }

        let mut lp = BoxedLp::new(rows);
        let (mut lower, mut upper) = (Vec::new(), Vec::new());
        let mut push = |lp: &mut BoxedLp, cost: f64, entries: Vec<(usize, f64)>, l: f64, u: f64| {
            lower.push(l);
            upper.push(u);
            lp.push(cost, entries)
        };
        for (index, &most) in greatest.iter().enumerate() {
            let mut undecided = entries[index].clone();
            if most > 0.0 {
                undecided.extend(counts_of[index].iter().map(|count| (count_row + count, 1.0 / most)));
            }
            push(&mut lp, 0.0, undecided, 0.0, 0.0);
        }
        for of in entries {
            push(&mut lp, 0.0, of, 0.0, 0.0);
        }
        let mut d_entries = vec![(d_row, -1.0)];
        d_entries.extend(blend.targets.iter().enumerate().map(|(i, target)| (target_row + i, -target.score)));
        let d_most = span.most / d_ref;
        let d = push(&mut lp, 0.0, d_entries, span.least / d_ref, d_most);

        let mut basis = vec![d; rows];
        // D is no unit column: its row starts with a column held at 0.
        basis[d_row] = push(&mut lp, 0.0, vec![(d_row, 1.0)], 0.0, 0.0);
        basis[sum_row] = push(&mut lp, 0.0, vec![(sum_row, 1.0)], 0.0, 0.0);
        lp.rhs[sum_row] = 1.0;
        let first_gap = lp.columns();
        for (index, target) in blend.targets.iter().enumerate() {
            // No blend passes the greatest score of a single column, and none
            // falls short by more than the target.
            let greatest = blend.columns.iter().map(|column| greatest_score(column, index)).fold(0.0, f64::max);
            let excess = (greatest - target.score).max(0.0) * d_most;
            let (above, below) = (target.weight * target.excess, target.weight);
            let row = target_row + index;
            basis[row] = push(&mut lp, above, vec![(row, -1.0)], 0.0, excess * (1.0 + 1e-9));
            push(&mut lp, below, vec![(row, 1.0)], 0.0, target.score * d_most * (1.0 + 1e-9));
        }
        let gaps = first_gap..first_gap + 2 * targets;
        for index in 0..blend.rows.len() {
            let row = rule_row + index;
            basis[row] = push(&mut lp, 0.0, vec![(row, 1.0)], 0.0, slack_most[index]);
            lp.rhs[row] = uppers[index];
        }
        let mut counts = Vec::with_capacity(blend.counts.len());
        for (index, count) in blend.counts.iter().enumerate() {
            let (row, most) = (count_row + index, count.most);
            let slack = push(&mut lp, 0.0, vec![(row, 1.0)], 0.0, most as f64);
            let used = push(&mut lp, 0.0, vec![(row, 1.0)], 0.0, 0.0);
            basis[row] = slack;
            lp.rhs[row] = most as f64;
            counts.push(Count { row, used, slack, most, members: count.columns.clone() });
        }
        let counts_of = counts_of.into();
        let mut kept = Vec::new();
        for (index, (remainder, unit_ppt)) in remainders.into_iter().zip(units).enumerate() {
            let row = remainder_row + index;
            let column = push(&mut lp, 0.0, vec![(row, -1.0)], 0.0, remainder.most.as_f64() / unit_ppt);
            basis[row] = column;
            kept.push(Kept { remainder, column, unit_ppt });
        }
        if let Some((cap, span)) = &cap {
            let sum_row = cap_row + cap.targets.len();
            let d_most = (span.most / span.least).sqrt();
            for (index, target) in cap.targets.iter().enumerate() {
                let row = cap_row + index;
                let scores = cap.columns.iter().filter(|column| column.weight > 0.0).map(|column| {
                    column.odours.iter().find(|(at, _)| *at == index).map_or(0.0, |(_, odour)| odour / column.weight)
                });
                let excess = (scores.fold(0.0, f64::max) - target.score).max(0.0) * d_most;
                let above = vec![(row, -1.0), (sum_row, target.weight * target.excess)];
                push(&mut lp, 0.0, above, 0.0, excess * (1.0 + 1e-9));
                let below = vec![(row, 1.0), (sum_row, target.weight)];
                push(&mut lp, 0.0, below, 0.0, target.score * d_most * (1.0 + 1e-9));
                // A gap stands in two rows: its own begins with a column held
                // at 0.
                basis[row] = push(&mut lp, 0.0, vec![(row, 1.0)], 0.0, 0.0);
            }
            basis[sum_row] = push(&mut lp, 0.0, vec![(sum_row, 1.0)], 0.0, cap.most * d_most);
        }
        Ok(Relaxation {
            lp,
            n,
            scale_ppt,
            most: greatest,
            share,
            gaps,
            d,
            d_ref,
            counts,
            counts_of,
            row_sizes,
            remainders: kept,
            lower,
            upper,
            basis,
        })
    }

    /// A unit column for each row.
    pub fn basis(&self) -> &[usize] {
        &self.basis
    }

    /// The state at the start: no material has a box yet.
    pub fn start(&self) -> Option<State> {
        State::new(&self.lp, self.lower.clone(), self.upper.clone(), &self.basis)
    }

    /// The boxes of a continuous model's doses: (column, least, most). The
    /// second column of a material is the one that is in.
    pub fn continuous_boxes(&self, blend: &Blend) -> Vec<(usize, f64, f64)> {
        let usable = blend.columns.iter().enumerate().filter(|(_, column)| column.least <= column.most);
        let boxed = usable.map(|(k, column)| {
            let least = column.least.as_f64() / self.scale_ppt[k];
            if column.must { (self.n + k, least, self.most[k]) } else { (k, 0.0, self.most[k]) }
        });
        boxed.collect()
    }

    /// Sets the bound of a rule's row, by the row's index in the blend: no
    /// looser than it was when the slack was boxed.
    pub fn set_upper(&mut self, rule: usize, upper: f64) {
        self.lp.rhs[2 + self.gaps.len() / 2 + rule] = upper / self.row_sizes[rule];
    }

    /// Sets the loss that the relaxation is solved for.
    pub fn set_lambda(&mut self, lambda: f64) {
        self.lp.cost[self.d] = -lambda;
    }

    /// The loss that the relaxation is solved for.
    pub fn lambda(&self) -> f64 {
        -self.lp.cost[self.d]
    }

    /// The loss of a state's point, `N / D`.
    pub fn ratio(&self, state: &State) -> f64 {
        let numerator = state.objective(&self.lp) + self.lambda() * state.value(self.d);
        numerator / state.value(self.d)
    }

    /// Solves for the least and the greatest D over boxes from 0 to the
    /// greatest dose (all columns undecided).
    fn tighten_span(mut self, crude: Span, scratch: &mut Scratch) -> Result<Span, Empty> {
        self.lp.cost.fill(0.0);
        let mut span = crude;
        let mut bound = SafeBound::default();
        for sign in [1.0, -1.0] {
            self.lp.cost[self.d] = sign;
            let Some(mut state) = self.start() else { continue };
            let all: Vec<(usize, f64, f64)> = (0..self.n).map(|k| (k, 0.0, self.most[k])).collect();
            state.change_bounds(&self.lp, &all, scratch);
            match state.run(&self.lp, f64::INFINITY, 2000 + 20 * self.lp.rows, scratch) {
                Ended::Infeasible(row) if self.lp.proves_infeasible(state.inverse_row(row), state.boxes()) => {
                    return Err(Empty);
                }
                Ended::Trouble => continue,
                _ => {}
            }
            self.lp.safe_bound(&state.multipliers, state.boxes(), &mut bound);
            let value = sign * bound.value * self.d_ref;
            if sign > 0.0 {
                span.least = span.least.max(value);
            } else {
                span.most = span.most.min(value);
            }
        }
        // Equal up to rounding (a single formula): keep a thin interval.
        if span.least > span.most {
            let middle = span.least.midpoint(span.most);
            span = Span { least: middle * (1.0 - 1e-9), most: middle * (1.0 + 1e-9) };
        }
        Ok(span)
    }
}

/// The greatest value of a target's profile that a column alone has.
fn greatest_score(column: &crate::model::BlendColumn, target: usize) -> f64 {
    if column.weight <= 0.0 {
        return 0.0;
    }
    column.odours.iter().find(|(index, _)| *index == target).map_or(0.0, |(_, odour)| odour / column.weight)
}

/// Bounds on D from the doses alone: fill 1000 parts with the weakest and
/// with the strongest columns. `None` where no formula has an odour.
fn crude_span(blend: &Blend) -> Option<Span> {
    span_of(blend, |k| blend.columns[k].weight)
}

/// The same for the D of a cap.
fn cap_span(blend: &Blend, cap: &LossCap) -> Option<Span> {
    span_of(blend, |k| cap.columns[k].weight)
}

fn span_of(blend: &Blend, weight: impl Fn(usize) -> f64) -> Option<Span> {
    let mut by_weight: Vec<(f64, f64)> =
        blend.columns.iter().enumerate().map(|(k, column)| (weight(k), column.most.as_f64())).collect();
    by_weight.sort_by(|x, y| x.0.total_cmp(&y.0));
    let fill = |columns: &mut dyn Iterator<Item = &(f64, f64)>| {
        let (mut left, mut d) = (1000.0, 0.0);
        for (weight, most) in columns {
            let dose = most.min(left);
            d += weight * dose;
            left -= dose;
        }
        d
    };
    let most = fill(&mut by_weight.iter().rev());
    // Something with an odour is in every formula, at its least dose.
    let scented = blend.columns.iter().enumerate().filter(|(k, column)| weight(*k) > 0.0 && column.most > Ppt::ZERO);
    let least_one =
        scented.map(|(k, column)| weight(k) * column.least.max(Ppt::LEAST).as_f64()).min_by(f64::total_cmp)?;
    let least = fill(&mut by_weight.iter()).max(least_one);
    Some(Span { least: least.min(most) * (1.0 - 1e-9), most: most * (1.0 + 1e-9) })
}
