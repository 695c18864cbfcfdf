//! What any formula reaches whose clocks lie in a box: a model without a clock.
//!
//! At a clock between two bounds what is left of a material lies between what is left at
//! either. So in a box of clocks a material is a mixture of the corners: each corner has a
//! column with what is left by its clocks, and the dose is the sum of the columns. That the
//! time of each stage has to come within its bounds is two rows, linear in the doses.
//! Whatever keeps the rules by clocks of its own in the box is a point of the model, which
//! loses no more than the formula does.

use super::blend::{Blend, BlendColumn, BlendRow, BlendView, CapColumn, LossCap};
use crate::problem::Problem;
use crate::units::Ppt;

/// Clocks between bounds, stage by stage.
#[derive(Clone, Debug, PartialEq)]
pub struct ClockBox {
    /// The least.
    pub low: Vec<f64>,
    /// The greatest, no less.
    pub high: Vec<f64>,
}

impl ClockBox {
    /// The clocks of a corner: the greatest where the bit of the stage is set.
    pub fn corner(&self, bits: usize) -> Vec<f64> {
        let of = |at: usize| if bits >> at & 1 == 1 { self.high[at] } else { self.low[at] };
        (0..self.low.len()).map(of).collect()
    }

    /// The corners: a bit for each stage whose bounds differ, 0 for the others.
    pub fn corners(&self) -> Vec<usize> {
        let differs: usize = (0..self.low.len()).filter(|&at| self.low[at] < self.high[at]).map(|at| 1 << at).sum();
        (0..1 << self.low.len()).filter(|bits| bits & !differs == 0).collect()
    }
}

impl Blend {
    /// The model over continuous doses of a problem whose clocks lie in a box. `None` where
    /// the corners have no model in common.
    pub fn of_clocks(relaxed: &Problem, within: &ClockBox) -> Option<Blend> {
        let corners = within.corners();
        let models: Vec<Blend> =
            corners.iter().map(|&bits| Blend::as_written(&relaxed.with_clocks(&within.corner(bits)))).collect();
        let first = models.first()?;
        let is_alike = |model: &Blend| {
            model.columns.len() == first.columns.len()
                && model.rows.len() == first.rows.len()
                && model.views.len() == first.views.len()
                && model.caps.len() == first.caps.len()
                && model.contradiction.is_none()
        };
        if !models.iter().all(is_alike) {
            return None;
        }
        let count = first.columns.len();
        let mut blend =
            Blend { columns: Vec::new(), rows: first.rows.clone(), counts: Vec::new(), ladder: None, ..first.clone() };
        for model in &models {
            blend.columns.extend(model.columns.iter().map(|column| BlendColumn {
                least: Ppt::ZERO,
                step: Ppt::ZERO,
                must: false,
                ..column.clone()
            }));
        }
        let placed = |corner: usize, entries: &[(usize, f64)]| -> Vec<(usize, f64)> {
            entries.iter().map(|&(column, a)| (corner * count + column, a)).collect()
        };
        for (at, row) in blend.rows.iter_mut().enumerate() {
            row.coefficients =
                models.iter().enumerate().flat_map(|(c, it)| placed(c, &it.rows[at].coefficients)).collect();
            row.cancelled = models.iter().enumerate().flat_map(|(c, it)| placed(c, &it.rows[at].cancelled)).collect();
            // What a rule rounds away at one corner it may at another.
            row.upper = models.iter().map(|it| it.rows[at].upper).fold(row.upper, f64::max);
        }
        let joined = |columns: &dyn Fn(&Blend) -> Vec<CapColumn>| models.iter().flat_map(columns).collect::<Vec<_>>();
        blend.views = (0..first.views.len())
            .map(|at| BlendView { columns: joined(&|it| it.views[at].columns.clone()), ..first.views[at].clone() })
            .collect();
        blend.caps = (0..first.caps.len())
            .map(|at| LossCap { columns: joined(&|it| it.caps[at].columns.clone()), ..first.caps[at].clone() })
            .collect();
        // The dose of a material is the sum of its columns.
        for (at, column) in first.columns.iter().enumerate() {
            let all = |by: f64| (0..models.len()).map(|corner| (corner * count + at, by)).collect();
            if column.most < Ppt::WHOLE {
                blend.rows.push(BlendRow {
                    coefficients: all(1.0),
                    upper: column.most.as_f64(),
                    ..BlendRow::default()
                });
            }
            if column.must {
                blend.rows.push(BlendRow {
                    coefficients: all(-1.0),
                    upper: -column.least.as_f64(),
                    ..BlendRow::default()
                });
            }
        }
        blend.add_times(relaxed, within);
        blend.drop_idle_rows();
        Some(blend)
    }

    /// The time of each stage comes between the bounds of its clock.
    fn add_times(&mut self, problem: &Problem, within: &ClockBox) {
        let Some(paper) = &problem.paper else { return };
        for (at, stage) in paper.stages.iter().enumerate() {
            for (clock, sign) in [(within.low[at], 1.0), (within.high[at], -1.0)] {
                // By then so many hours have gone by, of one part of the column.
                let hours = |column: &BlendColumn| -> f64 {
                    let content = problem.columns[column.material].neat.iter();
                    content
                        .map(|&(material, part)| {
                            part * (paper.life_hours(material) * (1.0 - paper.left_at(clock, material)) - stage.hours)
                        })
                        .sum()
                };
                let coefficients = self.columns.iter().enumerate().map(|(k, column)| (k, sign * hours(column)));
                let coefficients = coefficients.filter(|(_, a)| *a != 0.0).collect();
                self.rows.push(BlendRow { coefficients, upper: 0.0, ..BlendRow::default() });
            }
        }
    }
}
