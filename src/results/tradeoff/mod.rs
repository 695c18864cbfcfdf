//! The report of `tradeoff`.

mod keys;

pub use keys::{
    Ends, Knee, LimitFormula, Named, OwnLine, PassingLine, PointLine, StretchLine, TradeoffReport, UpperLine,
};

use super::most::most_neat;
use super::states::Traded;
use super::{Care, FormulaParts, FormulaReport, Head, ReasonsReport};
use crate::analysis::axis::{Axis, NoRange};
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::doubt::told::nearer_percent;
use crate::analysis::repair::Reasons;
use crate::analysis::tradeoff::{Own, Point, Tradeoff};
use crate::brief::Brief;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::sentences;
use crate::solve::Status;

impl Named {
    fn new(axis: Axis, at: f64) -> Named {
        let none = Named::default();
        match axis {
            Axis::Price => Named { price_limit: Some(at), ..none },
            Axis::Effect => Named { effect_limit: Some(at), ..none },
            Axis::Strength => Named { strength_limit: Some(at), ..none },
            Axis::Count => Named { count: Some(at as u64), ..none },
            Axis::Dose(_) => Named { dose: Some(at), ..none },
        }
    }
}

impl TradeoffReport {
    /// The report of a trade-off; `reasons` where there is no blend.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        found: &Tradeoff,
        reasons: &Reasons,
        let_in: Option<String>,
        warnings: Vec<String>,
    ) -> TradeoffReport {
        let axis = found.axis;
        let told = found.formulas.iter().map(|&at| limit_formula(problem, axis, &found.points[at]));
        let mut formulas: Vec<LimitFormula> = told.collect();
        tell_nearer(problem, found, &mut formulas);
        let answers = found.points.iter().map(|point| &point.answer);
        let best = best_point(&found.points);
        TradeoffReport {
            head: Head::new("tradeoff", problem, brief),
            status: status(found),
            against: match axis {
                Axis::Price => Traded::Price,
                Axis::Effect => Traded::Effect,
                Axis::Strength => Traded::Strength,
                Axis::Count => Traded::Count,
                Axis::Dose(_) => Traded::Dose,
            },
            material: match axis {
                Axis::Dose(material) => Some(problem.material(material).name.clone()),
                _ => None,
            },
            let_in,
            unit: sentences::order::axis_unit(axis, &problem.palette.currency),
            points: found.points.iter().map(|point| point_line(problem, found, point)).collect(),
            formulas,
            upper_limit: found
                .upper_limit
                .iter()
                .map(|upper| UpperLine { at: upper.at, fidelity: upper.fidelity_percent })
                .collect(),
            without_formula: found.without_formula.clone(),
            not_computed: found.not_computed.clone(),
            ends: ends(found),
            knee: found.knee.and_then(|at| knee(&found.points, at)),
            own: found.own.map(|own| own_line(own, best)),
            blend: own_point(found)
                .map(|point| FormulaReport::new(problem, &point.answer.formula, Some(&point.answer.evaluation))),
            materials: found
                .passings
                .iter()
                .map(|passing| PassingLine {
                    material: problem.material(passing.material).name.clone(),
                    most: passing.most.0,
                    most_at: passing.most.1,
                    present: passing
                        .present
                        .iter()
                        .map(|stretch| StretchLine { enters: stretch.from, leaves: stretch.to })
                        .collect(),
                })
                .collect(),
            doubt: in_doubt(found).and_then(|formula| fidelity_deviation(problem, formula)),
            complete: found.is_complete,
            care: most_neat(problem, answers).map(|neat| Care::new(problem, &neat)),
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
            shows_upper_limit: false,
        }
    }

    /// Whether the curve is one of steps: a formula holds from its own limit to
    /// that of the next.
    pub fn is_in_steps(&self) -> bool {
        matches!(self.against, Traded::Price | Traded::Effect | Traded::Strength)
            && self.points.iter().all(|point| !point.continuous)
    }

    /// The point whose formula is the best known at a limit.
    pub fn kept_at(&self, limit: f64) -> Option<usize> {
        match self.against {
            Traded::Strength => self.points.iter().position(|point| point.at >= limit),
            Traded::Dose => self.points.iter().position(|point| point.at == limit),
            _ => self.points.iter().rposition(|point| point.at <= limit),
        }
    }

    /// Whether nothing keeps the other rules.
    pub fn is_impossible(&self) -> bool {
        self.status == Status::Infeasible
    }
}

/// The point of the brief's own limit, else the best.
fn own_point(found: &Tradeoff) -> Option<&Point> {
    found.own.and_then(|own| found.kept_at(own.at)).or_else(|| best_point(&found.points))
}

/// The formula whose fidelity is asked how sure it is.
fn in_doubt(found: &Tradeoff) -> Option<&Formula> {
    own_point(found).map(|point| &point.answer.formula)
}

fn status(found: &Tradeoff) -> Status {
    match found.none {
        Some(NoRange::Impossible) => return Status::Infeasible,
        Some(NoRange::Unknown) => return Status::Unknown,
        None => {}
    }
    if found.points.is_empty() {
        return if found.not_computed.is_empty() && found.is_complete { Status::Infeasible } else { Status::Unknown };
    }
    let all = found.points.iter().all(|point| point.proven) && found.ends_proven;
    if all && found.is_complete { Status::Optimal } else { Status::Feasible }
}

fn point_line(problem: &Problem, found: &Tradeoff, point: &Point) -> PointLine {
    PointLine {
        limit: Named::new(found.axis, point.at),
        at: point.at,
        fidelity: point.answer.evaluation.fidelity_percent,
        loss: point.answer.evaluation.loss,
        continuous: found.is_continuous,
        proven: point.proven,
        until: Some(point.until).filter(|until| until.is_finite()),
        at_most: problem.fidelity_percent(point.bound),
        price: point.answer.evaluation.price_per_kg,
        parts: FormulaParts::new(problem, &point.answer.formula).parts,
    }
}

fn limit_formula(problem: &Problem, axis: Axis, point: &Point) -> LimitFormula {
    let mut formula = FormulaReport::new(problem, &point.answer.formula, Some(&point.answer.evaluation));
    formula.bound = Some(point.bound);
    let status = if point.proven { Status::Optimal } else { Status::Feasible };
    LimitFormula { limit: Named::new(axis, point.at), at: point.at, status, nearer_in_percent: None, formula }
}

/// In how many of the draws each formula is nearer than the one at the brief's
/// own limit.
fn tell_nearer(problem: &Problem, found: &Tradeoff, lines: &mut [LimitFormula]) {
    let Some(own) = found.own.and_then(|own| found.kept_at(own.at)) else { return };
    let all: Vec<&Formula> = found.formulas.iter().map(|&at| &found.points[at].answer.formula).collect();
    for (line, nearer) in lines.iter_mut().zip(nearer_percent(problem, &own.answer.formula, &all)) {
        line.nearer_in_percent = nearer.filter(|_| line.at != own.at);
    }
}

/// The first of the best points.
fn best_point(points: &[Point]) -> Option<&Point> {
    let loss = |point: &Point| point.answer.evaluation.loss;
    points.iter().reduce(|a, b| if loss(b) < loss(a) - crate::solve::PROVEN * loss(a).max(1.0) { b } else { a })
}

fn ends(found: &Tradeoff) -> Option<Ends> {
    let points = &found.points;
    let (first, last, best) = (points.first()?, points.last()?, best_point(points)?);
    let fidelity = |point: &Point| point.answer.evaluation.fidelity_percent;
    Some(Ends {
        from: first.at,
        fidelity_from: fidelity(first),
        to: last.at,
        fidelity_to: fidelity(last),
        best_at: best.at,
        best: fidelity(best),
        proven: found.ends_proven,
    })
}

fn knee(points: &[Point], at: usize) -> Option<Knee> {
    let (first, here, last) = (points.first()?, points.get(at)?, points.last()?);
    let slope = |a: &Point, b: &Point| {
        let rise = b.answer.evaluation.fidelity_percent - a.answer.evaluation.fidelity_percent;
        if b.at > a.at { rise / (b.at - a.at) } else { 0.0 }
    };
    Some(Knee {
        at: here.at,
        fidelity: here.answer.evaluation.fidelity_percent,
        return_before: slope(first, here),
        return_after: slope(here, last),
    })
}

fn own_line(own: Own, best: Option<&Point>) -> OwnLine {
    let most = best.map(|best| best.answer.evaluation.fidelity_percent);
    OwnLine {
        at: own.at,
        fidelity: own.fidelity,
        point_more_costs: own.point_more,
        point_less_saves: own.point_less,
        slope_up: own.slope_up,
        slope_down: own.slope_down,
        to_gain: most.zip(own.fidelity).map(|(most, here)| (most - here).max(0.0)),
    }
}
