//! What any formula reaches whose clocks lie in a box: a model without a clock.
//!
//! At a clock between two bounds what is left of a material lies between what is left at
//! either. So in a box of clocks a material is a mixture of the corners: each corner has a
//! column with what is left by its clocks, and the dose is the sum of the columns. That the
//! hours that have gone by at each stage are the stage's is an equation, linear in what is
//! left, so that the corners are not mixed at will: what one material has too little of,
//! weighed by its hours, others have too much of. Whatever keeps the rules by clocks of its
//! own in the box is a point of the model, which loses no more than the formula does.
//!
//! What a stage adds hangs on its own clock alone, and every rule is a sum over stages. So
//! each bound of a clock is looked at once ([`Drying::at`]), and the corners of any box are
//! put together from those ([`Drying::within`]).

use std::sync::Arc;

use super::blend::{Blend, BlendColumn, BlendRow, BlendView, CapColumn, LossCap};
use super::heard::{scaled_targets, seen};
use crate::brief::Law;
use crate::problem::{Problem, Target};
use crate::units::Ppt;

/// A continuous problem with stages, before its clocks are known.
pub struct Drying<'a> {
    relaxed: &'a Problem,
    /// The clocks by which `plain` is written.
    by: Vec<f64>,
    /// The model by those clocks, with its rows as the rules say them.
    plain: Blend,
    /// The linear views that differ, by their index in the problem: the first is the model's
    /// own.
    views: Vec<usize>,
    targets: Vec<Vec<Target>>,
}

/// What a stage comes to at one stand of its clock.
pub struct AtClock {
    /// The clock.
    pub clock: f64,
    /// The rows of the rules, by row and column of the model.
    rows: Vec<Vec<f64>>,
    uppers: Vec<f64>,
    /// For each view of the stage what one ppt of each column adds.
    views: Vec<(usize, Vec<CapColumn>)>,
    /// Hours that have gone by, less those of the stage, of a film of one ppt of a column.
    past: Vec<f64>,
}

/// Clocks between bounds, stage by stage.
#[derive(Clone)]
pub struct ClockBox {
    /// The least.
    pub low: Vec<Arc<AtClock>>,
    /// The greatest, no less.
    pub high: Vec<Arc<AtClock>>,
}

impl ClockBox {
    /// Stage and corner: the greatest where the bit of the stage is set.
    pub fn end(&self, stage: usize, bits: usize) -> &AtClock {
        if bits >> stage & 1 == 1 { &self.high[stage] } else { &self.low[stage] }
    }

    /// The corners: a bit for each stage whose bounds differ, 0 for the others.
    pub fn corners(&self) -> Vec<usize> {
        let differs = |at: &usize| self.low[*at].clock < self.high[*at].clock;
        let differ: usize = (0..self.low.len()).filter(differs).map(|at| 1 << at).sum();
        (0..1 << self.low.len()).filter(|bits| bits & !differ == 0).collect()
    }

    /// Both halves of it, split at a stand of a stage's clock.
    pub fn halves(&self, stage: usize, at: Arc<AtClock>) -> [ClockBox; 2] {
        let (mut early, mut late) = (self.clone(), self.clone());
        early.high[stage] = Arc::clone(&at);
        late.low[stage] = at;
        [early, late]
    }
}

impl<'a> Drying<'a> {
    /// Of a problem over continuous doses that has stages; `by` are clocks at which
    /// something is left of what lasts. `None` where its rules contradict each other.
    pub fn new(relaxed: &'a Problem, by: &[f64]) -> Option<Drying<'a>> {
        let written = relaxed.with_clocks(by);
        let plain = Blend::as_written(&written);
        let seen_in = |view: usize| -> Vec<CapColumn> {
            plain.columns.iter().map(|column| seen(&written, &written.views[view], column.material)).collect()
        };
        let (mut views, mut targets, mut known) = (Vec::new(), Vec::new(), Vec::new());
        for (index, view) in written.views.iter().enumerate().filter(|(_, view)| view.law == Law::Linear) {
            let of = (view.stage, scaled_targets(&written, view), seen_in(index));
            if !known.contains(&of) {
                views.push(index);
                targets.push(of.1.clone());
                known.push(of);
            }
        }
        let is_sound = plain.contradiction.is_none() && !views.is_empty();
        is_sound.then(|| Drying { relaxed, by: by.to_vec(), plain, views, targets })
    }

    /// A stage at one stand of its clock; `None` where its rules are other rows there.
    pub fn at(&self, stage: usize, clock: f64) -> Option<AtClock> {
        let paper = self.relaxed.paper.as_ref()?;
        let mut clocks = self.by.clone();
        clocks[stage] = clock;
        let problem = self.relaxed.with_clocks(&clocks);
        let written = Blend::as_written(&problem);
        if written.columns.len() != self.plain.columns.len() || written.rows.len() != self.plain.rows.len() {
            return None;
        }
        let of_stage = self.views.iter().enumerate().filter(|(_, view)| problem.views[**view].stage == Some(stage));
        let views = of_stage.map(|(at, &view)| {
            let own = |column: &BlendColumn| seen(&problem, &problem.views[view], column.material);
            (at, self.plain.columns.iter().map(own).collect())
        });
        let hours = paper.stages[stage].hours;
        let past = |column: &BlendColumn| -> f64 {
            let content = problem.columns[column.material].neat.iter();
            let one = |&(material, part): &(usize, f64)| {
                part * (paper.life_hours(material) * (1.0 - paper.left_at(clock, material)) - hours)
            };
            content.map(one).sum()
        };
        Some(AtClock {
            clock,
            views: views.collect(),
            rows: written.rows.iter().map(|row| dense(row, written.columns.len())).collect(),
            uppers: written.rows.iter().map(|row| row.upper).collect(),
            past: self.plain.columns.iter().map(past).collect(),
        })
    }

    /// The columns of the model at each corner.
    pub fn columns(&self) -> &[BlendColumn] {
        &self.plain.columns
    }

    /// The model over continuous doses of all formulas whose clocks lie in a box. Its columns
    /// are those of the corners, one after the other.
    pub fn within(&self, within: &ClockBox) -> Blend {
        let corners = within.corners();
        let count = self.plain.columns.len();
        let all = |of: &dyn Fn(usize, usize) -> f64| -> Vec<(usize, f64)> {
            let each = corners
                .iter()
                .enumerate()
                .flat_map(|(place, &bits)| (0..count).map(move |column| (place * count + column, bits, column)));
            each.map(|(at, bits, column)| (at, of(bits, column))).filter(|(_, a)| *a != 0.0).collect()
        };
        let stages = 0..within.low.len();
        let mut rows: Vec<BlendRow> = Vec::with_capacity(self.plain.rows.len() + count + 2 * stages.len());
        for (at, row) in self.plain.rows.iter().enumerate() {
            let by_reference = dense(row, count);
            let of = |bits: usize, column: usize| {
                let own = stages.clone().map(|stage| within.end(stage, bits).rows[at][column]);
                together(by_reference[column], own)
            };
            // What a rule rounds away at one corner it may at another.
            let ends = within.low.iter().chain(&within.high);
            let upper = ends.map(|end| end.uppers[at]).fold(row.upper, f64::max);
            rows.push(BlendRow { rule: row.rule, coefficients: all(&of), upper, ..BlendRow::default() });
        }
        // The dose of a material is the sum of its columns.
        for (own, column) in self.plain.columns.iter().enumerate() {
            let sum = |by: f64| all(&|_, column| if column == own { by } else { 0.0 });
            if column.most < Ppt::WHOLE && corners.len() > 1 {
                rows.push(BlendRow { coefficients: sum(1.0), upper: column.most.as_f64(), ..BlendRow::default() });
            }
            if column.must {
                rows.push(BlendRow { coefficients: sum(-1.0), upper: -column.least.as_f64(), ..BlendRow::default() });
            }
        }
        // At each stage so many hours have gone by.
        for stage in stages.clone().filter(|&stage| within.high[stage].clock > 0.0) {
            for sign in [1.0, -1.0] {
                let coefficients = all(&|bits, column| sign * within.end(stage, bits).past[column]);
                rows.push(BlendRow { coefficients, upper: 0.0, ..BlendRow::default() });
            }
        }
        let mut views: Vec<BlendView> =
            self.targets.iter().map(|it| BlendView { targets: it.clone(), columns: Vec::new() }).collect();
        for &bits in &corners {
            for stage in stages.clone() {
                for (view, columns) in &within.end(stage, bits).views {
                    views[*view].columns.extend(columns.iter().cloned());
                }
            }
        }
        let first = views.remove(0);
        let at_corner = corners.iter().flat_map(|_| &self.plain.columns).zip(first.columns);
        let columns = at_corner.map(|(column, CapColumn { weight, odours })| BlendColumn {
            least: Ppt::ZERO,
            step: Ppt::ZERO,
            must: false,
            weight,
            odours,
            ..column.clone()
        });
        let repeated = |cap: &LossCap| LossCap {
            columns: corners.iter().flat_map(|_| cap.columns.iter().cloned()).collect(),
            ..cap.clone()
        };
        Blend {
            columns: columns.collect(),
            targets: first.targets,
            rows,
            counts: Vec::new(),
            ladder: None,
            caps: self.plain.caps.iter().map(repeated).collect(),
            views,
            materials: self.plain.materials,
            contradiction: None,
        }
    }
}

/// A sum over stages from what it is by the clocks of reference but for one stage each.
fn together(by_reference: f64, own: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut only, mut differ) = (by_reference, by_reference, 0);
    for own in own.filter(|own| *own != by_reference) {
        sum += own - by_reference;
        only = own;
        differ += 1;
    }
    // A single stage is taken as it is: a difference of differences would round it.
    if differ > 1 { sum } else { only }
}

fn dense(row: &BlendRow, columns: usize) -> Vec<f64> {
    let mut all = vec![0.0; columns];
    row.coefficients.iter().for_each(|&(column, a)| all[column] += a);
    all
}
