//! A blend as its views see it: for each column and each view what one ppt of it,
//! or one ppt to the power of the law, adds to the view's `D` and to each `P`.

use super::curve::{Span, power};
use crate::brief::{Law, Match};
use crate::model::Blend;
use crate::problem::{Problem, Target, View};
use crate::units::{Ppt, gcd};

/// What is searched. Nothing of it changes while it is searched.
pub(super) struct Model<'a> {
    /// The rules, and the doses of each column.
    pub blend: &'a Blend,
    /// How formulas are judged: the worst of these counts.
    pub views: Vec<Seen>,
    /// The doses at which each column may be used.
    pub spans: Vec<Span>,
    /// The different steps of columns that can be used, in units of a dose.
    pub steps: Vec<i64>,
    /// Whether leaving a column out is more than taking its dose to nothing.
    pub has_switch: Vec<bool>,
    /// The counts that each column belongs to.
    pub counts_of: Vec<Vec<usize>>,
    /// (row, coefficient) of each column.
    pub rows_of: Vec<Vec<(usize, f64)>>,
}

/// One view.
pub(super) struct Seen {
    /// The law by which a dose counts.
    pub law: Law,
    /// What its loss is multiplied by before views are compared.
    pub scale: f64,
    /// Its targets.
    pub targets: Vec<Target>,
    /// What each column adds.
    pub columns: Vec<Adds>,
}

/// What one ppt of a column, or one ppt to the power of the law, adds to a view.
pub(super) struct Adds {
    /// To `D`.
    pub weight: f64,
    /// (target, to its `P`), nonzero entries only.
    pub odours: Vec<(usize, f64)>,
}

impl Seen {
    /// What a dose counts for.
    pub fn counts(&self, ppt: f64) -> f64 {
        match self.law {
            Law::Linear => ppt,
            Law::Compressive => power(ppt),
        }
    }

    /// The greatest `sum of coefficient * dose^law` over all doses that add up to 1000,
    /// none above its own greatest.
    pub fn greatest(&self, coefficient: impl Fn(usize) -> f64, spans: &[Span]) -> f64 {
        let exponent = self.law.exponent();
        let each = |k: usize| coefficient(k).max(0.0) * self.counts(spans[k].most.as_f64());
        let alone: f64 = (0..spans.len()).map(each).sum();
        let shared = if exponent < 1.0 {
            // By Hoelder's inequality, with the doses at which it holds with equality.
            let power = 1.0 / (1.0 - exponent);
            let sum: f64 = (0..spans.len()).map(|k| libm::pow(coefficient(k).max(0.0), power)).sum();
            libm::pow(sum, 1.0 - exponent) * self.counts(1000.0)
        } else {
            1000.0 * (0..spans.len()).map(&coefficient).fold(0.0, f64::max)
        };
        alone.min(shared)
    }
}

impl<'a> Model<'a> {
    /// The views of a problem over its blend.
    ///
    /// # Errors
    /// In words, where a material would be smelled from two bottles at once.
    pub fn new(problem: &Problem, blend: &'a Blend) -> Result<Model<'a>, String> {
        let views = problem.views.iter().map(|view| seen(problem, view, blend)).collect::<Result<_, String>>()?;
        let mut counts_of = vec![Vec::new(); blend.columns.len()];
        for (index, count) in blend.counts.iter().enumerate() {
            count.columns.iter().for_each(|&column| counts_of[column].push(index));
        }
        let mut rows_of = vec![Vec::new(); blend.columns.len()];
        for (index, row) in blend.rows.iter().enumerate() {
            row.coefficients.iter().for_each(|&(column, a)| rows_of[column].push((index, a)));
        }
        let spans = spans(blend);
        let has_switch = |k: usize| {
            let column = &blend.columns[k];
            !column.must && (!counts_of[k].is_empty() || spans[k].least > spans[k].step.max(Ppt::LEAST))
        };
        let has_switch: Vec<bool> = (0..spans.len()).map(has_switch).collect();
        let usable = spans.iter().filter(|span| span.least < span.most);
        let mut steps: Vec<i64> = usable.map(|span| span.step.units()).collect();
        steps.sort_unstable();
        steps.dedup();
        Ok(Model { blend, views, spans, steps, has_switch, counts_of, rows_of })
    }

    /// Whether there is a dose at which a column could be used.
    pub fn can_be_used(&self, k: usize) -> bool {
        self.spans[k].least <= self.spans[k].most
    }

    /// How many columns there are.
    pub fn columns(&self) -> usize {
        self.spans.len()
    }

    /// The loss in compared points of sums of `D` and `P` of each view; infinite
    /// where a view smells nothing.
    pub fn worst<'s>(&self, sums: impl Iterator<Item = (f64, &'s [f64])>) -> f64 {
        let losses = self.views.iter().zip(sums).map(|(view, (d, odours))| {
            if d <= 0.0 {
                return f64::INFINITY;
            }
            let gaps = view.targets.iter().zip(odours).map(|(target, odour)| target.gap(odour / d));
            view.scale * gaps.sum::<f64>()
        });
        losses.fold(0.0, f64::max)
    }
}

/// The doses at which each column may be used. What all other steps have in common a
/// column's dose has too, since all of them add up to 1000.
fn spans(blend: &Blend) -> Vec<Span> {
    let steps: Vec<i64> = blend.columns.iter().map(|column| column.step.units().max(1)).collect();
    let is_fixed = |k: usize| blend.columns[k].least == blend.columns[k].most;
    // A fixed dose is on the grid of itself.
    let unit = |k: usize| if is_fixed(k) { blend.columns[k].least.units().max(1) } else { steps[k] };
    let span = |k: usize| {
        let column = &blend.columns[k];
        let others = (0..steps.len()).filter(|&other| other != k).map(unit).fold(0, gcd);
        let fits = others > 0 && Ppt::WHOLE.units() % others == 0 && !is_fixed(k);
        let step =
            if fits { (steps[k] / gcd(steps[k], others)).checked_mul(others).unwrap_or(steps[k]) } else { steps[k] };
        let step = Ppt::from_units(step);
        if is_fixed(k) {
            return Span { least: column.least, most: column.most, step };
        }
        Span { least: column.least.ceil_to(step), most: column.most.floor_to(step), step }
    };
    (0..steps.len()).map(span).collect()
}

/// One view over the columns of a blend.
fn seen(problem: &Problem, view: &View, blend: &Blend) -> Result<Seen, String> {
    let exponent = view.law.exponent();
    let mut brought_by = vec![None; problem.palette.materials.len()];
    let total = view.target_total();
    let mut columns = Vec::with_capacity(blend.columns.len());
    for column in &blend.columns {
        let mut adds = Adds { weight: 0.0, odours: Vec::new() };
        let mut odours = vec![0.0; view.targets.len()];
        for &(index, part) in &problem.columns[column.material].neat {
            let material = view.material(index);
            if material.strength <= 0.0 || part <= 0.0 {
                continue;
            }
            // Powers of two doses do not add up to the power of their sum.
            let by = brought_by[index].get_or_insert(column.material);
            if view.law == Law::Compressive && *by != column.material {
                return Err(format!(
                    "{} is smelled from two bottles, and the compressive law cannot add up what one material \
                     brings in two ways",
                    crate::escape::escaped(&material.name)
                ));
            }
            let counts = libm::pow(material.strength * part, exponent);
            for (sum, target) in odours.iter_mut().zip(&view.targets) {
                *sum += counts * material.scores[target.descriptor];
            }
            adds.weight += counts;
        }
        if view.matching == Match::Balance {
            adds.weight = odours.iter().sum::<f64>() / total;
        }
        adds.odours = odours.into_iter().enumerate().filter(|(_, odour)| *odour != 0.0).collect();
        columns.push(adds);
    }
    Ok(Seen { law: view.law, scale: problem.view_scale(view), targets: view.targets.clone(), columns })
}
