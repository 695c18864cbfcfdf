//! The report of `check`.

use serde::Serialize;

use super::compositions::CompositionLine;
use super::doubt::{NumberLine, SpreadLine};
use super::finding::{FindingLine, Severity};
use super::noses::{DifferentlyLine, NosesReport};
use super::{CoverageReport, Head, IdleReport, ReasonsReport};
use crate::analysis::check::{Check, Verdict};
use crate::analysis::first::{DRAWS, First};
use crate::brief::Brief;
use crate::files::sensitivities;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::solve::reach::End;

/// What a look at a brief came to, before anything is mixed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `possible`, `contradictory` or `unknown`.
    pub status: Verdict,
    /// What blends inside the rules can reach, descriptor by descriptor.
    pub ranges: Vec<RangeLine>,
    /// The greatest score that the palette knows. In `balance` a blend of little
    /// else than one descriptor goes beyond it, and no target can ask for that.
    pub scale: f64,
    /// Why the rules cannot be kept together, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What the limits files know of the materials that may be used; null
    /// where there are no limits to ask.
    pub coverage: Option<CoverageReport>,
    /// What is idle of each formula that was given; left out where none was.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub given: Vec<GivenLine>,
    /// Which numbers to smell first; left out where that was not asked for and
    /// every strength is a number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub smell_first: Option<SmellFirst>,
    /// Naturals that were smelled, beside the palette; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub compositions: Vec<CompositionLine>,
    /// Several noses and what they disagree on; left out where the brief names none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub noses: Option<NosesReport>,
    /// Materials that people are known to smell differently.
    pub smelled_differently: Vec<DifferentlyLine>,
    /// What else strikes, warnings first.
    pub findings: Vec<FindingLine>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// A formula that was given beside the brief.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GivenLine {
    /// Its title, or its file.
    pub name: String,
    /// What of it is idle; null where it has no odour.
    pub idle: Option<IdleReport>,
}

/// Which numbers to smell first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SmellFirst {
    /// How many draws.
    pub draws: usize,
    /// Match of the best blend over any doses, over these draws, in percent.
    pub fidelity: SpreadLine,
    /// The numbers that most of its uncertainty comes from, the most first.
    pub numbers: Vec<NumberLine>,
}

/// What blends inside the rules can have of a descriptor, over continuous
/// doses: counts, steps and least doses are set aside.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RangeLine {
    /// The word.
    pub descriptor: String,
    /// The wanted score, in points.
    pub target: f64,
    /// The least that a blend can have, in points; null where it could not be
    /// worked out.
    pub low: Option<f64>,
    /// The greatest.
    pub high: Option<f64>,
    /// Whether the target lies inside; null where that is not known.
    pub inside: Option<bool>,
    /// Whether it is certain that no blend goes further.
    pub proven: bool,
}

/// A target this close to the end of a range, in points, counts as inside.
const INSIDE: f64 = 1e-6;

impl SmellFirst {
    /// The numbers to smell first.
    pub fn new(first: &First) -> SmellFirst {
        let line = |(number, share): &(_, _)| NumberLine::new(&first.problem, *number, share);
        SmellFirst { draws: DRAWS, fidelity: first.fidelity.into(), numbers: first.numbers.iter().map(line).collect() }
    }
}

impl CheckReport {
    /// The report of a look at a brief. `warnings` are those of its files.
    pub fn new(problem: &Problem, brief: &Brief, check: &Check, warnings: Vec<String>) -> CheckReport {
        let mut findings: Vec<FindingLine> =
            check.findings.iter().map(|finding| FindingLine::new(problem, finding)).collect();
        let usable: Vec<bool> = problem.domains().iter().map(Result::is_ok).collect();
        findings.sort_by_key(|line| line.severity != Severity::Warning);
        CheckReport {
            head: Head::new("check", problem, brief),
            status: check.verdict,
            ranges: check.ranges.iter().enumerate().map(|(at, ends)| range(problem, at, ends)).collect(),
            scale: problem.palette.scale,
            reasons: ReasonsReport::new(problem, &check.reasons),
            coverage: CoverageReport::of(problem, |material| usable[material]),
            given: Vec::new(),
            smell_first: None,
            compositions: Vec::new(),
            noses: NosesReport::new(problem, brief),
            smelled_differently: DifferentlyLine::all(problem, sensitivities()),
            findings,
            warnings,
        }
    }

    /// The same with what is idle of some formulas of the problem's basis.
    pub fn with_given(self, problem: &Problem, given: &[Formula]) -> CheckReport {
        let line = |formula: &Formula| GivenLine {
            name: formula.title.clone().or_else(|| formula.file.as_ref().map(ToString::to_string)).unwrap_or_default(),
            idle: IdleReport::new(problem, formula),
        };
        CheckReport { given: given.iter().map(line).collect(), ..self }
    }
}

fn range(problem: &Problem, counted: usize, ends: &[Option<End>; 2]) -> RangeLine {
    let target = problem.targets[counted];
    let points = |end: &Option<End>| end.as_ref().map(|end| end.points);
    let (low, high) = (points(&ends[0]), points(&ends[1]));
    let inside = low.zip(high).map(|(low, high)| target.score >= low - INSIDE && target.score <= high + INSIDE);
    RangeLine {
        descriptor: problem.palette.descriptors[target.descriptor].name.clone(),
        target: target.score,
        low,
        high,
        inside,
        proven: ends.iter().all(|end| end.as_ref().is_some_and(|end| end.proven)),
    }
}
