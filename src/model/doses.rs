//! The blend model as a programme for borrowed solvers: doses scaled to
//! shares of D, gaps as columns, and whole numbers where the rules ask for
//! them.

use super::blend::{Blend, BlendColumn, CapColumn, LossCap};
use super::programme::{Programme, Relation};
use crate::units::Ppt;

/// A blend model as a programme, with the meaning of its columns. The loss is
/// `numerator · x / denominator · x`.
#[derive(Clone, Debug)]
pub struct DoseProgramme {
    /// Rows and bounds; its costs are all 0.
    pub programme: Programme,
    /// One coefficient a column: the weighted gaps.
    pub numerator: Vec<f64>,
    /// One coefficient a column: D.
    pub denominator: Vec<f64>,
    /// (column of the programme, ppt of one unit of it) of each blend column.
    pub doses: Vec<(usize, f64)>,
}

impl DoseProgramme {
    /// States a blend. Doses are measured in `d_ref / q` (at most 1000 ppt),
    /// where `d_ref` is a typical D, so that columns are of one size; doses
    /// on a grid are whole numbers of steps instead.
    pub fn new(blend: &Blend, d_ref: f64) -> DoseProgramme {
        let mut programme = Programme::default();
        let mut counted = vec![false; blend.columns.len()];
        blend.counts.iter().flat_map(|count| &count.columns).for_each(|&column| counted[column] = true);
        let mut doses = Vec::with_capacity(blend.columns.len());
        let mut used_columns = vec![None; blend.columns.len()];
        for (index, column) in blend.columns.iter().enumerate() {
            let impossible = column.most < column.least;
            let whole = column.step > Ppt::ZERO && !impossible;
            let unit = if whole {
                column.step.as_f64()
            } else if column.weight > 0.0 {
                (d_ref / column.weight).min(1000.0)
            } else {
                1000.0
            };
            let (least, most) = (column.least.as_f64() / unit, column.most.as_f64() / unit);
            let lower = if column.must { least } else { 0.0 };
            let upper = if impossible { 0.0 } else { most };
            let dose = if whole {
                programme.integer_column(0.0, lower.round(), upper.round())
            } else {
                programme.column(0.0, lower, upper)
            };
            doses.push((dose, unit));
            // A switch only where using the material must be told apart from
            // leaving it out.
            if !column.must && !impossible && (counted[index] || needs_switch(column)) {
                let used = programme.integer_column(0.0, 0.0, 1.0);
                programme.row(vec![(dose, 1.0), (used, -most)], Relation::AtMost, 0.0);
                programme.row(vec![(dose, 1.0), (used, -least)], Relation::AtLeast, 0.0);
                used_columns[index] = Some(used);
            }
        }
        for count in &blend.counts {
            let musts = count.columns.iter().filter(|&&column| blend.columns[column].must).count();
            let used = count.columns.iter().filter_map(|&column| used_columns[column]).map(|used| (used, 1.0));
            programme.row(used.collect(), Relation::AtMost, count.most as f64 - musts as f64);
        }
        let sum = doses.iter().map(|&(dose, unit)| (dose, unit / 1000.0)).collect();
        programme.row(sum, Relation::Equal, 1.0);
        for row in &blend.rows {
            let scaled = |&(column, a): &(usize, f64)| (doses[column].0, a * doses[column].1);
            let size = row.coefficients.iter().map(|entry| scaled(entry).1.abs()).fold(0.0, f64::max);
            if size > 0.0 {
                let entries = row.coefficients.iter().map(|entry| (scaled(entry).0, scaled(entry).1 / size)).collect();
                programme.row(entries, Relation::AtMost, row.upper / size);
            } else if row.upper < 0.0 {
                programme.row(Vec::new(), Relation::AtMost, row.upper);
            }
        }
        let d = programme.column(0.0, 0.0, f64::INFINITY);
        let scaled_d = |index: usize| (doses[index].0, blend.columns[index].weight * doses[index].1 / d_ref);
        let mut definition: Vec<(usize, f64)> =
            (0..blend.columns.len()).map(scaled_d).filter(|(_, q)| *q != 0.0).collect();
        definition.push((d, -1.0));
        programme.row(definition, Relation::Equal, 0.0);
        let mut numerator = vec![0.0; programme.columns.len()];
        for (index, target) in blend.targets.iter().enumerate() {
            let mut balance: Vec<(usize, f64)> = Vec::new();
            for (column, &(dose, unit)) in blend.columns.iter().zip(&doses) {
                if let Some((_, odour)) = column.odours.iter().find(|(at, _)| *at == index) {
                    balance.push((dose, odour * unit / d_ref));
                }
            }
            if target.score != 0.0 {
                balance.push((d, -target.score));
            }
            balance.push((programme.column(0.0, 0.0, f64::INFINITY), -1.0));
            balance.push((programme.column(0.0, 0.0, f64::INFINITY), 1.0));
            numerator.extend([target.weight * target.excess, target.weight]);
            programme.row(balance, Relation::Equal, 0.0);
        }
        blend.caps.iter().for_each(|cap| add_cap(&mut programme, cap, &doses));
        numerator.resize(programme.columns.len(), 0.0);
        let mut denominator = vec![0.0; programme.columns.len()];
        denominator[d] = 1.0;
        DoseProgramme { programme, numerator, denominator, doses }
    }

    /// Doses in ppt at a point of the programme.
    pub fn ppt(&self, x: &[f64]) -> Vec<f64> {
        self.doses.iter().map(|&(column, unit)| x[column] * unit).collect()
    }
}

/// The rows of a capped ratio, divided by a typical value of its D.
fn add_cap(programme: &mut Programme, cap: &LossCap, doses: &[(usize, f64)]) {
    let heaviest = cap.columns.iter().map(|column| column.weight).fold(0.0, f64::max);
    // Without an odour that counts the cap says nothing.
    if heaviest <= 0.0 {
        return;
    }
    let per_unit = |k: usize, ppt: f64| ppt * doses[k].1 / (1000.0 * heaviest);
    let weights = cap.columns.iter().enumerate().map(|(k, column)| (doses[k].0, per_unit(k, column.weight)));
    let weights: Vec<(usize, f64)> = weights.filter(|(_, q)| *q != 0.0).collect();
    let d = programme.column(0.0, 0.0, f64::INFINITY);
    programme.row(weights.into_iter().chain([(d, -1.0)]).collect(), Relation::Equal, 0.0);
    let mut sum = vec![(d, -cap.most)];
    for (index, target) in cap.targets.iter().enumerate() {
        let odour = |column: &CapColumn| column.odours.iter().find(|(at, _)| *at == index).map(|(_, odour)| *odour);
        let of = |(k, column): (usize, &CapColumn)| Some((doses[k].0, per_unit(k, odour(column)?)));
        let mut gap: Vec<(usize, f64)> = cap.columns.iter().enumerate().filter_map(of).collect();
        if target.score != 0.0 {
            gap.push((d, -target.score));
        }
        for (sign, weight) in [(-1.0, target.weight * target.excess), (1.0, target.weight)] {
            let side = programme.column(0.0, 0.0, f64::INFINITY);
            gap.push((side, sign));
            if weight != 0.0 {
                sum.push((side, weight));
            }
        }
        programme.row(gap, Relation::Equal, 0.0);
    }
    sum.retain(|(_, a)| *a != 0.0);
    programme.row(sum, Relation::AtMost, cap.room / (1000.0 * heaviest));
}

/// Whether leaving a material out is more than taking its dose down to the
/// first step of its grid, or to nothing.
fn needs_switch(column: &BlendColumn) -> bool {
    column.least > column.step.max(Ppt::LEAST)
}
