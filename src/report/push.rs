//! The report of `push`.

use serde::Serialize;

use super::csv::{self, Csv};
use super::offers::most_neat;
use super::{Care, FormulaParts, FormulaReport, Head, Ordered, Page, ReasonsReport, Report, text};
use crate::analysis::caps::{Cap, Reason};
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::push::{End, Point, Push};
use crate::analysis::repair::Reasons;
use crate::brief::Brief;
use crate::evaluate::SECOND_EXPONENT;
use crate::number::plain;
use crate::problem::Problem;
use crate::solve::{Solution, Status};
use crate::units::Ppt;

/// How far one material can go.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PushReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal` (all of it proven), `feasible`, `infeasible` or `unknown`.
    pub status: &'static str,
    /// The material.
    pub material: String,
    /// What the brief says against it and is set aside here; null where it
    /// says nothing.
    pub let_in: Option<String>,
    /// `neat` or `bottle`: what doses count.
    pub basis: &'static str,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Exponent of the second opinion.
    pub exponent: f64,
    /// The best blends within all rules, doses rising, counts, steps and
    /// minimums-if-used set aside.
    pub points: Vec<PushPoint>,
    /// The same beyond the lowest cap, the caps giving way as far as the dose
    /// needs: to see, not to mix.
    pub beyond: Vec<PushPoint>,
    /// The dose with the best fidelity within all rules.
    pub best: Option<BestDose>,
    /// The blend with that dose.
    pub best_blend: Option<FormulaReport>,
    /// The dose of the curve with the best second opinion.
    pub best_second: Option<BestDose>,
    /// Doses between which fidelity is within the margin of the best.
    pub window: Option<[f64; 2]>,
    /// The dose from which on it is no better than without any; null where
    /// that lies beyond the curve, or there is no gain.
    pub gain_gone: Option<f64>,
    /// Whether that lies beyond a cap.
    pub gain_gone_beyond_cap: bool,
    /// The best without any; null where no blend does without.
    pub without: Option<WithoutAny>,
    /// What gives way below the window.
    pub low_end: Option<EndLine>,
    /// What gives way above it.
    pub high_end: Option<EndLine>,
    /// Every cap on the dose, the lowest first.
    pub caps: Vec<CapLine>,
    /// The best formulas in the brief's own doses, doses rising.
    pub formulas: Vec<DoseFormula>,
    /// Doses of the grid with which no formula keeps the brief: proven.
    pub without_formula: Vec<f64>,
    /// Doses of the grid of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// How far the best fidelity may be off, in points: one standard deviation.
    pub doubt: Option<f64>,
    /// Whether there was time for all of it.
    pub complete: bool,
    /// What was checked of the blends within the rules; null where there is
    /// none.
    pub care: Option<Care>,
    /// Why there is no blend, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The best blend with one dose.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PushPoint {
    /// Dose in ppt.
    pub dose: f64,
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Fidelity of the same blend in percent by the second opinion.
    pub second_opinion: f64,
    /// Loss in score points.
    pub loss: f64,
    /// Whether it is proven best.
    pub proven: bool,
    /// Price per kg.
    pub price: Option<f64>,
    /// Dose in ppt of each part, the largest first.
    pub parts: Ordered<Ppt>,
}

/// A dose and what it comes to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BestDose {
    /// Dose in ppt.
    pub dose: f64,
    /// Fidelity in percent, by the opinion that is spoken of.
    pub fidelity: f64,
}

/// The best without any of the material.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WithoutAny {
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Points that leaving it out costs.
    pub costs: f64,
}

/// What gives way at an end of the window.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EndLine {
    /// Dose in ppt.
    pub dose: f64,
    /// Fidelity in percent there.
    pub fidelity: f64,
    /// The descriptor whose gap grows most from the best dose to here; null
    /// where none does.
    pub descriptor: Option<String>,
    /// What the blend has of it less what the target wants, in points.
    pub gap: Option<f64>,
    /// What that gap adds to the loss, in points.
    pub adds: Option<f64>,
    /// Rules that hold the blend here and do not hold the best one.
    pub rules: Vec<RuleLine>,
    /// Whether the dose can go no further inside the rules.
    pub wall: bool,
}

/// A rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RuleLine {
    /// Its id.
    pub rule: String,
    /// The file it was written in.
    pub file: String,
    /// The line; null where no line says it.
    pub line: Option<usize>,
    /// The rule as a sentence without a full stop.
    pub sentence: String,
}

/// A cap on the dose.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CapLine {
    /// Dose in ppt.
    pub dose: f64,
    /// `own`, `palette`, `concentrate`, `product`, `restriction`, `joint` or
    /// `stock`.
    pub reason: &'static str,
    /// The reason in words.
    pub words: String,
    /// The rule's id; null for stock.
    pub rule: Option<String>,
    /// Name of the finished product, if the cap is of one that has a name.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// The file it is written in.
    pub file: Option<String>,
    /// The line.
    pub line: Option<usize>,
    /// Whether the figure was checked in its source; null for other reasons.
    pub verified: Option<bool>,
}

/// The best formula with one dose, in the brief's own doses.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoseFormula {
    /// Dose in ppt.
    pub dose: f64,
    /// `optimal` or `feasible`.
    pub status: &'static str,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
}

/// What was asked of a material.
pub struct Subject<'a> {
    /// Index into the palette.
    pub material: usize,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Every cap on it.
    pub caps: &'a [Cap],
    /// What the brief says against it.
    pub let_in: Option<String>,
}

impl PushReport {
    /// The report; `reasons` where there is no blend.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        subject: Subject,
        found: &Push,
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> PushReport {
        let line = |point: &Point| point_line(problem, point);
        let doses = |status: Status| {
            found.whole.iter().filter(|(_, solution)| solution.status == status).map(|(dose, _)| *dose).collect()
        };
        let best = found.best.as_ref();
        let fidelity = |point: &Point| point.answer.evaluation.fidelity_percent;
        let points: Vec<PushPoint> = found.points.iter().map(line).collect();
        let best_second = points.iter().reduce(|a, b| if b.second_opinion > a.second_opinion { b } else { a });
        let whole = || found.whole.iter().filter_map(|(_, solution)| solution.answer.as_ref());
        let answers = found.points.iter().chain(best).map(|point| &point.answer).chain(whole());
        PushReport {
            head: Head::new("push", problem, brief),
            status: match found.none {
                Some(Status::Infeasible) => "infeasible",
                Some(_) => "unknown",
                None if found.is_complete && is_proven(found) => "optimal",
                None => "feasible",
            },
            material: problem.material(subject.material).name.clone(),
            let_in: subject.let_in,
            basis: super::formula::basis_word(problem.basis),
            margin: subject.margin,
            exponent: SECOND_EXPONENT,
            best: best.map(|best| BestDose { dose: best.dose_ppt, fidelity: fidelity(best) }),
            best_blend: best
                .map(|best| FormulaReport::new(problem, &best.answer.formula, Some(&best.answer.evaluation))),
            best_second: best_second.map(|point| BestDose { dose: point.dose, fidelity: point.second_opinion }),
            window: found.window.map(|(low, high)| [low, high]),
            gain_gone: found.gone.map(|(dose, _)| dose),
            gain_gone_beyond_cap: found.gone.is_some_and(|(_, is_beyond)| is_beyond),
            without: best.zip(found.without.as_ref()).map(|(best, without)| WithoutAny {
                fidelity: fidelity(without),
                costs: (fidelity(best) - fidelity(without)).max(0.0),
            }),
            low_end: found.ends[0].as_ref().map(|end| end_line(problem, end)),
            high_end: found.ends[1].as_ref().map(|end| end_line(problem, end)),
            caps: subject.caps.iter().map(|cap| cap_line(problem, cap)).collect(),
            formulas: found
                .whole
                .iter()
                .filter_map(|(dose, solution)| dose_formula(problem, *dose, solution))
                .collect(),
            without_formula: doses(Status::Infeasible),
            not_computed: doses(Status::Unknown),
            doubt: best.and_then(|best| fidelity_deviation(problem, &best.answer.formula)),
            complete: found.none == Some(Status::Infeasible) || found.is_complete,
            care: most_neat(problem, answers).map(|neat| Care::new(problem, &neat)),
            beyond: found.beyond.iter().map(line).collect(),
            points,
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }
}

fn is_proven(found: &Push) -> bool {
    let points = found.points.iter().chain(&found.beyond).all(|point| point.proven);
    points && found.whole.iter().all(|(_, solution)| matches!(solution.status, Status::Optimal | Status::Infeasible))
}

fn point_line(problem: &Problem, point: &Point) -> PushPoint {
    let evaluation = &point.answer.evaluation;
    PushPoint {
        dose: point.dose_ppt,
        fidelity: evaluation.fidelity_percent,
        second_opinion: evaluation.second_opinion.fidelity_percent,
        loss: evaluation.loss,
        proven: point.proven,
        price: evaluation.price_per_kg,
        parts: FormulaParts::new(problem, &point.answer.formula).parts,
    }
}

fn dose_formula(problem: &Problem, dose: f64, solution: &Solution) -> Option<DoseFormula> {
    let answer = solution.answer.as_ref()?;
    let mut formula = FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation));
    formula.bound = solution.bound;
    Some(DoseFormula { dose, status: solution.status.word(), formula })
}

fn end_line(problem: &Problem, end: &End) -> EndLine {
    let evaluation = &end.point.answer.evaluation;
    let of = |counted: usize| &problem.targets[counted];
    EndLine {
        dose: end.point.dose_ppt,
        fidelity: evaluation.fidelity_percent,
        descriptor: end.descriptor.map(|(counted, _)| problem.palette.descriptors[of(counted).descriptor].name.clone()),
        gap: end.descriptor.map(|(counted, _)| evaluation.profile[counted] - of(counted).score),
        adds: end.descriptor.map(|(_, by)| by),
        rules: end
            .rules
            .iter()
            .map(|rule| RuleLine {
                rule: rule.id.clone(),
                file: rule.place.file.to_string(),
                line: (rule.place.line > 0).then_some(rule.place.line),
                sentence: problem.sentence(rule),
            })
            .collect(),
        wall: end.is_wall,
    }
}

fn cap_line(problem: &Problem, cap: &Cap) -> CapLine {
    let product = cap.product.map(|product| &problem.products[product]);
    let name = product.and_then(|product| product.name.clone());
    let of_product = name.as_deref().unwrap_or("the finished product").to_owned();
    // At which dosage it holds.
    let at = product.and_then(|product| product.dosage_percent.map(|dosage| (dosage, product.accord_share_percent)));
    let dosage = at.map_or_else(String::new, |(dosage, share)| {
        let share = if share < 100.0 { format!(", {} % of it this accord", plain(share)) } else { String::new() };
        format!(" at {} % concentrate{share}", plain(dosage))
    });
    let (reason, words) = match cap.reason {
        Reason::Own => ("own", "the brief's own cap".to_owned()),
        Reason::Palette => ("palette", "the palette's cap".to_owned()),
        Reason::Concentrate(percent) => {
            ("concentrate", format!("advised: at most {} % of the concentrate of {of_product}", plain(percent)))
        }
        Reason::Product(percent) => {
            ("product", format!("advised: at most {} % of {of_product}{dosage}", plain(percent)))
        }
        Reason::Restriction(restriction, percent) => {
            let substance = &problem.restrictions[restriction].substance;
            ("restriction", format!("{substance} at most {} % of {of_product}{dosage}", plain(percent)))
        }
        Reason::Joint => {
            let rule = cap.rule.as_ref().map(|rule| problem.sentence(rule)).unwrap_or_default();
            ("joint", format!("{rule}{dosage}"))
        }
        Reason::Stock(grams) => ("stock", format!("{} g of the bottle are on hand", plain(grams))),
    };
    let verified = match cap.reason {
        Reason::Restriction(restriction, _) => {
            Some(problem.restrictions[restriction].verified != crate::limits::Verified::No)
        }
        _ => None,
    };
    CapLine {
        dose: cap.dose_ppt,
        reason,
        words,
        rule: cap.rule.as_ref().map(|rule| rule.id.clone()),
        product: name,
        file: cap.place.as_ref().map(|place| place.file.to_string()),
        line: cap.place.as_ref().map(|place| place.line),
        verified,
    }
}

impl Report for PushReport {
    fn text(&self, page: &Page) -> String {
        text::push(self, page)
    }

    /// One row for each dose of the curve, those beyond the lowest cap marked,
    /// then one for each formula in the brief's own doses.
    fn csv(&self) -> String {
        let mut csv = Csv::new(&["dose", "fidelity", "second_opinion", "loss", "price", "kind", "proven"]);
        for (points, kind) in [(&self.points, "within"), (&self.beyond, "beyond")] {
            for point in points {
                csv.row(&[
                    csv::number(Some(point.dose)),
                    csv::number(Some(point.fidelity)),
                    csv::number(Some(point.second_opinion)),
                    csv::number(Some(point.loss)),
                    csv::number(point.price),
                    csv::text(kind),
                    point.proven.to_string(),
                ]);
            }
        }
        for line in &self.formulas {
            csv.row(&[
                csv::number(Some(line.dose)),
                csv::number(line.formula.fidelity),
                csv::number(line.formula.second_opinion.map(|second| second.fidelity)),
                csv::number(line.formula.loss),
                csv::number(line.formula.price),
                csv::text("formula"),
                (line.status == "optimal").to_string(),
            ]);
        }
        csv.finish()
    }
}
