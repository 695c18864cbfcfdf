//! The report of `tradeoff`.

mod keys;

pub use keys::{Ends, Knee, LimitFormula, Named, OwnLine, PassingLine, PointLine, StretchLine, TradeoffReport};

use super::csv::{self, Csv};
use super::offers::most_neat;
use super::{Care, FormulaParts, FormulaReport, Head, Ordered, Page, ReasonsReport, Report, text};
use crate::analysis::axis::{Axis, NoRange};
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::doubt::told::nearer_percent;
use crate::analysis::repair::Reasons;
use crate::analysis::tradeoff::{Own, Point, Tradeoff};
use crate::brief::Brief;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::solve::{Solution, Status};
use crate::units::Ppt;

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
        let is_count = axis == Axis::Count;
        let of_status = |status: Status| {
            found.formulas.iter().filter(move |(_, solution)| solution.status == status).map(|(at, _)| *at).collect()
        };
        let mut formulas: Vec<LimitFormula> =
            found.formulas.iter().filter_map(|(at, solution)| limit_formula(problem, axis, *at, solution)).collect();
        tell_nearer(problem, found, &mut formulas);
        let answers = || {
            let whole = found.formulas.iter().filter_map(|(_, solution)| solution.answer.as_ref());
            found.points.iter().map(|point| &point.answer).chain(whole)
        };
        let best = best_point(&found.points);
        let without_formula: Vec<f64> = of_status(Status::Infeasible);
        let not_computed: Vec<f64> = of_status(Status::Unknown);
        TradeoffReport {
            head: Head::new("tradeoff", problem, brief),
            status: status(found, &formulas, &without_formula),
            against: match axis {
                Axis::Price => "price",
                Axis::Effect => "effect",
                Axis::Strength => "strength",
                Axis::Count => "count",
                Axis::Dose(_) => "dose",
            },
            material: match axis {
                Axis::Dose(material) => Some(problem.material(material).name.clone()),
                _ => None,
            },
            let_in,
            unit: match axis {
                Axis::Price => format!("{}/kg", problem.palette.currency),
                Axis::Effect => format!("{}/kg per unit of strength", problem.palette.currency),
                Axis::Strength => "strength".to_owned(),
                Axis::Count => "materials".to_owned(),
                Axis::Dose(_) => "ppt".to_owned(),
            },
            points: found.points.iter().map(|point| point_line(problem, axis, point, !is_count)).collect(),
            formulas,
            without_formula,
            not_computed,
            ends: ends(&found.points),
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
            care: most_neat(problem, answers()).map(|neat| Care::new(problem, &neat)),
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }

    /// Whether nothing keeps the other rules.
    pub fn is_impossible(&self) -> bool {
        self.status == "infeasible"
    }
}

/// The point at the brief's own limit, else the best.
fn own_point(found: &Tradeoff) -> Option<&Point> {
    let own = found.own.map(|own| own.at);
    found.points.iter().find(|point| Some(point.at) == own).or_else(|| best_point(&found.points))
}

/// The formula whose fidelity is asked how sure it is.
fn in_doubt(found: &Tradeoff) -> Option<&Formula> {
    let own = found.own.map(|own| own.at);
    let whole = found.formulas.iter().find(|(at, _)| Some(*at) == own);
    let whole = whole.and_then(|(_, solution)| solution.answer.as_ref());
    Some(&whole.or_else(|| own_point(found).map(|point| &point.answer))?.formula)
}

fn status(found: &Tradeoff, formulas: &[LimitFormula], without_formula: &[f64]) -> &'static str {
    match found.none {
        Some(NoRange::Impossible) => return "infeasible",
        Some(NoRange::Unknown) => return "unknown",
        None => {}
    }
    if found.points.is_empty() {
        return "unknown";
    }
    if formulas.is_empty() && !found.formulas.is_empty() && without_formula.len() == found.formulas.len() {
        return "infeasible";
    }
    let all = found.points.iter().all(|point| point.proven) && formulas.iter().all(|line| line.status == "optimal");
    if all && found.is_complete { "optimal" } else { "feasible" }
}

fn point_line(problem: &Problem, axis: Axis, point: &Point, continuous: bool) -> PointLine {
    PointLine {
        limit: Named::new(axis, point.at),
        at: point.at,
        fidelity: point.answer.evaluation.fidelity_percent,
        loss: point.answer.evaluation.loss,
        continuous,
        proven: point.proven,
        price: point.answer.evaluation.price_per_kg,
        parts: FormulaParts::new(problem, &point.answer.formula).parts,
    }
}

fn limit_formula(problem: &Problem, axis: Axis, at: f64, solution: &Solution) -> Option<LimitFormula> {
    let answer = solution.answer.as_ref()?;
    let mut formula = FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation));
    formula.bound = solution.bound;
    let (limit, status) = (Named::new(axis, at), solution.status.word());
    Some(LimitFormula { limit, at, status, nearer_in_percent: None, formula })
}

/// In how many of the draws each formula is nearer than the one at the brief's
/// own limit.
fn tell_nearer(problem: &Problem, found: &Tradeoff, lines: &mut [LimitFormula]) {
    let answer = |wanted: f64| {
        let solution = found.formulas.iter().find(|(at, _)| *at == wanted);
        solution.and_then(|(_, solution)| solution.answer.as_ref()).map(|answer| &answer.formula)
    };
    let Some((at, own)) = found.own.and_then(|own| Some((own.at, answer(own.at)?))) else { return };
    let all: Vec<&Formula> = lines.iter().filter_map(|line| answer(line.at)).collect();
    for (line, nearer) in lines.iter_mut().zip(nearer_percent(problem, own, &all)) {
        line.nearer_in_percent = nearer.filter(|_| line.at != at);
    }
}

/// The first of the best points.
fn best_point(points: &[Point]) -> Option<&Point> {
    let loss = |point: &Point| point.answer.evaluation.loss;
    points.iter().reduce(|a, b| if loss(b) < loss(a) - crate::solve::PROVEN * loss(a).max(1.0) { b } else { a })
}

fn ends(points: &[Point]) -> Option<Ends> {
    let (first, last, best) = (points.first()?, points.last()?, best_point(points)?);
    let fidelity = |point: &Point| point.answer.evaluation.fidelity_percent;
    Some(Ends {
        from: first.at,
        fidelity_from: fidelity(first),
        to: last.at,
        fidelity_to: fidelity(last),
        best_at: best.at,
        best: fidelity(best),
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

impl Report for TradeoffReport {
    fn text(&self, page: &Page) -> String {
        text::tradeoff(self, page)
    }

    /// One row for each point of the curve and for each formula, limits rising
    /// within each; then a column for the dose of every material.
    fn csv(&self) -> String {
        let mut names: Vec<&str> = Vec::new();
        let whole = self.formulas.iter().filter_map(|line| line.formula.formula.as_ref()).map(|formula| &formula.parts);
        for (name, _) in self.points.iter().map(|point| &point.parts).chain(whole).flat_map(|parts| &parts.0) {
            if !names.contains(&name.as_str()) {
                names.push(name);
            }
        }
        let fixed = ["limit", "fidelity", "loss", "continuous", "proven", "price"];
        let mut csv = Csv::new(&fixed.iter().copied().chain(names.iter().copied()).collect::<Vec<_>>());
        let doses = |parts: &Ordered<Ppt>| -> Vec<String> {
            let of = |name: &&str| parts.0.iter().find(|(part, _)| part == name).map(|(_, dose)| dose.to_string());
            names.iter().map(|name| of(name).unwrap_or_else(|| "0".to_owned())).collect()
        };
        let mut row =
            |at: f64, numbers: [Option<f64>; 2], words: [bool; 2], price: Option<f64>, parts: &Ordered<Ppt>| {
                let mut cells = vec![csv::number(Some(at)), csv::number(numbers[0]), csv::number(numbers[1])];
                cells.extend(words.map(|word| word.to_string()));
                cells.push(csv::number(price));
                cells.extend(doses(parts));
                csv.row(&cells);
            };
        for point in self.points.iter().filter(|point| point.continuous) {
            let numbers = [Some(point.fidelity), Some(point.loss)];
            row(point.at, numbers, [true, point.proven], point.price, &point.parts);
        }
        for line in &self.formulas {
            let Some(formula) = &line.formula.formula else { continue };
            let numbers = [line.formula.fidelity, line.formula.loss];
            row(line.at, numbers, [false, line.status == "optimal"], line.formula.price, &formula.parts);
        }
        csv.finish()
    }
}
