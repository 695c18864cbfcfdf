//! The report of `tradeoff`.

use serde::Serialize;

use super::csv::{self, Csv};
use super::offers::most_neat;
use super::{Care, FormulaParts, FormulaReport, Head, Ordered, Page, ReasonsReport, Report, text};
use crate::analysis::axis::{Axis, NoRange};
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::repair::Reasons;
use crate::analysis::tradeoff::{Own, Point, Tradeoff};
use crate::brief::Brief;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::solve::{Solution, Status};
use crate::units::Ppt;

/// What a limit buys, along its whole range.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TradeoffReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal` (all of it proven), `feasible`, `infeasible` (no formula keeps
    /// the other rules, or none in the brief's own doses) or `unknown`.
    pub status: &'static str,
    /// `price`, `effect`, `strength`, `count` or `dose`.
    pub against: &'static str,
    /// The material whose dose it is; null unless `dose`.
    pub material: Option<String>,
    /// What the rules keep out though it is let in here, in a sentence; null
    /// where that is so of nothing.
    pub let_in: Option<String>,
    /// What the limit counts.
    pub unit: String,
    /// The best blends, limits rising: over continuous doses or, for a count,
    /// in the brief's own doses.
    pub points: Vec<PointLine>,
    /// The best formulas in the brief's own doses, limits rising.
    pub formulas: Vec<LimitFormula>,
    /// Limits that no formula in the brief's own doses keeps: proven.
    pub without_formula: Vec<f64>,
    /// Limits of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// Where the curve begins, ends and is best.
    pub ends: Option<Ends>,
    /// Where the return falls off most; null where it does not.
    pub knee: Option<Knee>,
    /// What the brief's own limit means; null where it has none.
    pub own: Option<OwnLine>,
    /// The blend of the curve at the brief's own limit, else the best.
    pub blend: Option<FormulaReport>,
    /// Every material of the curve: where it enters and leaves.
    pub materials: Vec<PassingLine>,
    /// How far a fidelity may be off, in points: one standard deviation, of the
    /// formula at the brief's own limit, else of the best blend.
    pub doubt: Option<f64>,
    /// Whether there was time for all of it.
    pub complete: bool,
    /// What was checked of these blends; null where there is none.
    pub care: Option<Care>,
    /// Why there is no blend, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// A limit under the name of what is traded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Named {
    /// Price per kg, at most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_limit: Option<f64>,
    /// Price of effect, at most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effect_limit: Option<f64>,
    /// Strength, at least.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strength_limit: Option<f64>,
    /// Number of materials, at most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u64>,
    /// Dose in ppt, exactly.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dose: Option<f64>,
}

/// The best at one limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PointLine {
    /// The limit by its name.
    #[serde(flatten)]
    pub limit: Named,
    /// The limit, whatever it is of.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Loss in score points.
    pub loss: f64,
    /// Whether counts, steps and minimums-if-used are set aside.
    pub continuous: bool,
    /// Whether it is proven best.
    pub proven: bool,
    /// Price per kg.
    pub price: Option<f64>,
    /// Dose in ppt of each part, the largest first.
    pub parts: Ordered<Ppt>,
}

/// The best formula at one limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitFormula {
    /// The limit by its name.
    #[serde(flatten)]
    pub limit: Named,
    /// The limit, whatever it is of.
    pub at: f64,
    /// `optimal` or `feasible`.
    pub status: &'static str,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
}

/// Both ends of a curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ends {
    /// The first limit.
    pub from: f64,
    /// Fidelity in percent there.
    pub fidelity_from: f64,
    /// The last limit.
    pub to: f64,
    /// Fidelity in percent there.
    pub fidelity_to: f64,
    /// The limit of the best, the first where several are equal.
    pub best_at: f64,
    /// Its fidelity in percent.
    pub best: f64,
}

/// Where the return falls off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Knee {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent there.
    pub fidelity: f64,
    /// Points of fidelity for each unit on the way there, on average.
    pub return_before: f64,
    /// Points of fidelity for each unit from there on, on average.
    pub return_after: f64,
}

/// What the brief's own limit means.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OwnLine {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent there; null where no blend keeps it.
    pub fidelity: Option<f64>,
    /// How far the limit must give for one point more; null where so much is
    /// not to be had.
    pub point_more_costs: Option<f64>,
    /// How far it may be tightened for one point less.
    pub point_less_saves: Option<f64>,
    /// Points of fidelity for a unit more of the limit.
    pub slope_up: Option<f64>,
    /// Points of fidelity that a unit less takes.
    pub slope_down: Option<f64>,
    /// Points of fidelity that are to be had beyond it.
    pub to_gain: Option<f64>,
}

/// Where one material is present along the curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PassingLine {
    /// The material.
    pub material: String,
    /// Its greatest dose on the curve in ppt.
    pub most: f64,
    /// The limit at which it has that.
    pub most_at: f64,
    /// Stretches in which it is present.
    pub present: Vec<StretchLine>,
}

/// A stretch of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StretchLine {
    /// The limit at which it enters; null where it is there from the start.
    pub enters: Option<f64>,
    /// The limit at which it leaves; null where it stays to the end.
    pub leaves: Option<f64>,
}

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
        let formulas: Vec<LimitFormula> =
            found.formulas.iter().filter_map(|(at, solution)| limit_formula(problem, axis, *at, solution)).collect();
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
    Some(LimitFormula { limit: Named::new(axis, at), at, status: solution.status.word(), formula })
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
