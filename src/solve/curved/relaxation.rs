//! The relaxation: a linear programme whose columns are doses of materials, as many
//! of each as were found to matter, one convexity row a material (G. B. Dantzig and
//! P. Wolfe, Operations Research 8, 1960). A column of material `i` at dose `v` has
//! `v` in the rows of parts and `v^g` in those of a compressive view, so that a mix
//! of columns may lie anywhere in the hull of the curve; what is not among the columns
//! is priced in closed form ([`super::curve`]).
//!
//! With a loss `lambda` to beat it minimises `theta`, subject to
//!
//! - the parts add up to 1000, and the rules hold,
//! - `D_k` and `P_kd` of each view are the sums of what the columns add,
//! - `scale_k sum_d w_d (excess_d e+_kd + e-_kd) - lambda D_k <= theta D^_k`,
//!
//! where `D^_k` is a typical `D_k`. Only where `theta` can be below 0 is there a
//! formula below `lambda` (J.-P. Crouzeix, J. A. Ferland and S. Schaible, Journal of
//! Optimization Theory and Applications 47, 1985).

use std::collections::HashMap;

use super::super::search::lp::BoxedLp;
use super::curve::power;
use super::model::Model;
use crate::brief::Law;
use crate::tolerance::search::WIDER;
use crate::units::Ppt;

/// A dose of a material as a column of the programme.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// The column of the model.
    pub k: usize,
    /// Its dose, above 0.
    pub dose: Ppt,
    /// Its dose in ppt, and that to the power of the compressive law.
    pub ppt: f64,
    pub power: f64,
    /// What one unit of the programme's column is of it.
    pub unit: f64,
}

/// The rows of one view.
#[derive(Clone, Debug)]
pub(super) struct ViewRows {
    /// The column of `D_k / D^_k`.
    pub d: usize,
    /// The row of its ratio.
    pub ratio: usize,
}

/// The programme, and what each material adds to its rows.
pub(super) struct Relaxation<'m, 'a> {
    pub model: &'m Model<'a>,
    pub lp: BoxedLp,
    /// Boxes of the columns that are no doses.
    pub lower: Vec<f64>,
    pub upper: Vec<f64>,
    /// A column of one entry for each row.
    pub start: Vec<usize>,
    /// The column of theta.
    pub theta: usize,
    /// The rows of each view.
    pub views: Vec<ViewRows>,
    /// (row, what one ppt adds) of each material.
    pub straight: Vec<Vec<(usize, f64)>>,
    /// (row, what one ppt to the power of the law adds).
    pub bent: Vec<Vec<(usize, f64)>>,
    /// (row, what using it adds).
    pub switched: Vec<Vec<(usize, f64)>>,
    /// The row of the first material's convexity; the others follow.
    pub convexity: usize,
    /// The columns that are no doses and no slack of a convexity row.
    pub structural: Vec<u32>,
    /// The doses that are columns, from `first_point` on.
    pub points: Vec<Point>,
    pub first_point: usize,
    by_dose: HashMap<(usize, i64), usize>,
    /// The loss to beat.
    pub lambda: f64,
}

/// Adds rows and columns one after the other.
struct Builder {
    lower: Vec<f64>,
    upper: Vec<f64>,
    columns: Vec<Vec<(usize, f64)>>,
    rhs: Vec<f64>,
    start: Vec<usize>,
}

impl Builder {
    fn row(&mut self, rhs: f64) -> usize {
        self.rhs.push(rhs);
        self.start.push(usize::MAX);
        self.rhs.len() - 1
    }

    fn column(&mut self, lower: f64, upper: f64, entries: Vec<(usize, f64)>) -> usize {
        self.lower.push(lower);
        self.upper.push(upper);
        self.columns.push(entries);
        self.columns.len() - 1
    }

    /// A column of one entry that the method may begin with.
    fn slack(&mut self, row: usize, upper: f64) -> usize {
        let column = self.column(0.0, upper, vec![(row, 1.0)]);
        self.start[row] = column;
        column
    }
}

impl<'m, 'a> Relaxation<'m, 'a> {
    /// The programme of a model for a loss to beat, without any dose. `typical` is a
    /// typical `D` of each view.
    pub fn new(model: &'m Model<'a>, lambda: f64, typical: &[f64]) -> Relaxation<'m, 'a> {
        let n = model.columns();
        let mut builder = Builder { lower: vec![], upper: vec![], columns: vec![], rhs: vec![], start: vec![] };
        let (mut straight, mut bent, mut switched) = (vec![vec![]; n], vec![vec![]; n], vec![vec![]; n]);
        let sum = builder.row(1.0);
        builder.slack(sum, 0.0);
        straight.iter_mut().for_each(|rows: &mut Vec<(usize, f64)>| rows.push((sum, 1e-3)));

        let mut views = Vec::new();
        let (mut theta_least, mut theta_most) = (0.0_f64, 0.0_f64);
        for (view, &typical) in model.views.iter().zip(typical) {
            let d_row = builder.row(0.0);
            builder.slack(d_row, 0.0);
            let ratio = builder.row(0.0);
            let d_most = view.greatest(|k| view.columns[k].weight, &model.spans) / typical * (1.0 + WIDER);
            let mut d_entries = vec![(d_row, -1.0), (ratio, -lambda)];
            let adds = |k: usize| match view.law {
                Law::Linear => (k, true),
                Law::Compressive => (k, false),
            };
            let mut gaps_most = 0.0;
            for (index, target) in view.targets.iter().enumerate() {
                let row = builder.row(0.0);
                let odour = |k: usize| {
                    view.columns[k].odours.iter().find(|(at, _)| *at == index).map_or(0.0, |(_, odour)| *odour)
                };
                let most = view.greatest(odour, &model.spans) / typical * (1.0 + WIDER);
                // Better than lambda no single gap is larger.
                let within = |weight: f64, most: f64| {
                    let rate = view.scale * weight;
                    if rate > 0.0 { most.min(lambda * d_most / rate * (1.0 + WIDER)) } else { most }
                };
                let over = within(target.weight * target.excess, most);
                let under = within(target.weight, target.score * d_most);
                let rate = view.scale * target.weight;
                builder.column(0.0, over, vec![(row, -1.0), (ratio, rate * target.excess)]);
                let below = builder.column(0.0, under, vec![(row, 1.0), (ratio, rate)]);
                builder.start[row] = below;
                gaps_most += rate * (target.excess * over + under);
                d_entries.push((row, -target.score));
                for k in 0..n {
                    let odour = odour(k);
                    if odour != 0.0 {
                        let (k, is_straight) = adds(k);
                        let rows = if is_straight { &mut straight[k] } else { &mut bent[k] };
                        rows.push((row, odour / typical));
                    }
                }
            }
            for k in 0..n {
                let weight = view.columns[k].weight;
                if weight != 0.0 {
                    let (k, is_straight) = adds(k);
                    let rows = if is_straight { &mut straight[k] } else { &mut bent[k] };
                    rows.push((d_row, weight / typical));
                }
            }
            d_entries.retain(|(_, a)| *a != 0.0);
            let d = builder.column(0.0, d_most, d_entries);
            theta_least = theta_least.min(-lambda * d_most);
            theta_most = theta_most.max(gaps_most);
            views.push(ViewRows { d, ratio });
        }
        let theta_entries = views.iter().map(|view| (view.ratio, -1.0)).collect();
        let theta = builder.column(theta_least * 1.01 - 1.0, theta_most * 1.01 + 1.0, theta_entries);
        let beyond = 1.01 * (theta_most - theta_least) + 2.0;
        for view in &views {
            // A slack of the least theta that any view asks for.
            builder.slack(view.ratio, beyond);
        }
        // The basis begins with theta's rows at their slack, whose entry is 1; a slack
        // that has to take up a negative sum is driven out at once.
        add_rules(&mut builder, model, &mut straight, &mut switched);
        let structural = (0..builder.columns.len() as u32).collect();
        let convexity = builder.rhs.len();
        for rows in &mut switched {
            let row = builder.row(1.0);
            builder.slack(row, 1.0);
            rows.push((row, 1.0));
        }

        let mut lp = BoxedLp::new(builder.rhs.len());
        lp.rhs = builder.rhs;
        for (j, entries) in builder.columns.into_iter().enumerate() {
            lp.push(if j == theta { 1.0 } else { 0.0 }, entries);
        }
        Relaxation {
            first_point: lp.columns(),
            lp,
            lower: builder.lower,
            upper: builder.upper,
            start: builder.start,
            theta,
            views,
            straight,
            bent,
            switched,
            convexity,
            structural,
            points: Vec::new(),
            by_dose: HashMap::new(),
            lambda,
            model,
        }
    }

    /// Lowers the loss to beat. Whoever holds a basis has to renew it.
    pub fn set_lambda(&mut self, lambda: f64) {
        self.lambda = lambda;
        for view in &self.views {
            self.lp.set(view.ratio, view.d, -lambda);
        }
    }

    /// The column of a dose, made where there is none.
    pub fn point(&mut self, k: usize, dose: Ppt) -> usize {
        if let Some(&index) = self.by_dose.get(&(k, dose.units())) {
            return self.first_point + index;
        }
        let ppt = dose.as_f64();
        let power = power(ppt);
        let mut entries: Vec<(usize, f64)> = self.straight[k].iter().map(|&(row, a)| (row, a * ppt)).collect();
        entries.extend(self.bent[k].iter().map(|&(row, a)| (row, a * power)));
        entries.extend(&self.switched[k]);
        // The largest entry is 1, and none is lost beside it.
        let largest = entries.iter().map(|(_, a)| a.abs()).fold(1.0, f64::max);
        let unit = 1.0 / largest;
        entries.iter_mut().for_each(|(_, a)| *a *= unit);
        self.by_dose.insert((k, dose.units()), self.points.len());
        self.points.push(Point { k, dose, ppt, power, unit });
        self.lower.push(0.0);
        self.upper.push(largest);
        self.lp.push(0.0, entries)
    }

    /// The slack of a material's convexity row.
    pub fn unused(&self, k: usize) -> usize {
        self.start[self.convexity + k]
    }
}

/// The rules as rows: the linear ones, further ratios, and counts.
fn add_rules(
    builder: &mut Builder,
    model: &Model,
    straight: &mut [Vec<(usize, f64)>],
    switched: &mut [Vec<(usize, f64)>],
) {
    let most = |k: usize| model.spans[k].most.as_f64();
    for row in &model.blend.rows {
        let size = row.coefficients.iter().map(|&(k, a)| (a * most(k)).abs()).fold(row.upper.abs(), f64::max);
        let size = size.max(f64::MIN_POSITIVE);
        let least: f64 = row.coefficients.iter().map(|&(k, a)| (a * most(k)).min(0.0)).sum();
        let index = builder.row(row.upper / size);
        builder.slack(index, ((row.upper - least) / size).max(0.0) * (1.0 + WIDER) + WIDER);
        row.coefficients.iter().for_each(|&(k, a)| straight[k].push((index, a / size)));
    }
    for cap in &model.blend.caps {
        let heaviest = cap.columns.iter().map(|column| column.weight).fold(0.0, f64::max);
        // Without an odour that counts the cap says nothing.
        if heaviest <= 0.0 {
            continue;
        }
        let typical = 1000.0 * heaviest;
        let (d_row, sum_row) = (builder.row(0.0), builder.row(cap.room / typical));
        builder.slack(d_row, 0.0);
        builder.slack(sum_row, cap.most + cap.room / typical + 1.0);
        let mut d_entries = vec![(d_row, -1.0), (sum_row, -cap.most)];
        for (index, target) in cap.targets.iter().enumerate() {
            let row = builder.row(0.0);
            d_entries.push((row, -target.score));
            let mut greatest = 0.0_f64;
            for (k, column) in cap.columns.iter().enumerate() {
                if let Some(&(_, odour)) = column.odours.iter().find(|(at, _)| *at == index) {
                    straight[k].push((row, odour / typical));
                    greatest = greatest.max(1000.0 * odour / typical);
                }
            }
            builder.column(0.0, greatest + WIDER, vec![(row, -1.0), (sum_row, target.weight * target.excess)]);
            let below = builder.column(0.0, target.score + WIDER, vec![(row, 1.0), (sum_row, target.weight)]);
            builder.start[row] = below;
        }
        d_entries.retain(|(_, a)| *a != 0.0);
        builder.column(0.0, 1.0 + WIDER, d_entries);
        for (k, column) in cap.columns.iter().enumerate() {
            if column.weight != 0.0 {
                straight[k].push((d_row, column.weight / typical));
            }
        }
    }
    for count in &model.blend.counts {
        let row = builder.row(count.most as f64);
        builder.slack(row, count.most as f64);
        count.columns.iter().for_each(|&k| switched[k].push((row, 1.0)));
    }
}
