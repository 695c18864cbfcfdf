//! The report of `compare`.

use serde::Serialize;

use super::broken::BrokenLine;
use super::formula::FormulaReport;
use super::parts::{file_of, name_of};
use super::states::FormulaStatus;
use super::{Care, FormulaParts, Head};
use crate::analysis::basis::in_basis;
use crate::analysis::broken::broken;
use crate::analysis::doubt::told::{Told, told_some};
use crate::brief::{Basis, Brief, TargetFrom};
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::sentences;
use crate::units::Ppt;

/// Formulas beside the target.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompareReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// What is wanted.
    pub target: TargetReport,
    /// The formulas, in the order of the command line.
    pub formulas: Vec<Compared>,
    /// Pairs of formulas that were judged, and whether their matches differ.
    pub apart: Vec<ApartLine>,
    /// Materials whose doses differ between the formulas that were judged, the
    /// largest difference first.
    pub differences: Vec<Difference>,
    /// What was checked and what was not.
    pub care: Care,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The target of a brief.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TargetReport {
    /// The material or the formula that it starts from.
    pub from: Option<String>,
    /// Every descriptor that counts.
    pub profile: Vec<TargetLine>,
}

/// What is wanted of one descriptor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TargetLine {
    /// The word.
    pub descriptor: String,
    /// Wanted, in points.
    pub target: f64,
    /// Weight of the gap.
    pub weight: f64,
    /// Multiplies the weight where the blend has too much.
    pub excess: f64,
}

/// One formula of a comparison.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// Its title, or its file where it has none.
    pub name: String,
    /// Its file.
    pub file: String,
    /// `feasible` (inside the rules), `broken` (it breaks some), `unjudged`
    /// (it has no odour) or `unused` (its parts do not add up to 1000).
    pub status: FormulaStatus,
    /// One standard deviation of the fidelity over the draws of scores and
    /// strengths, in points.
    pub give_or_take: Option<f64>,
    /// The formula, in the basis of the brief where it was judged.
    #[serde(flatten)]
    pub formula: FormulaReport,
    /// Sum of its parts as they were read.
    pub sum: Ppt,
    /// What is missing to 1000; negative where it is too much.
    pub missing: Ppt,
    /// Whether its parts were scaled to add up to 1000.
    pub rescaled: bool,
    /// The basis it was written in, where that is not the brief's.
    pub converted_from: Option<Basis>,
    /// The rules that it breaks; null where it was not judged by them.
    pub broken: Option<Vec<BrokenLine>>,
    /// Why there are no numbers, or what was not judged.
    pub notes: Vec<String>,
}

/// How far the matches of two formulas are apart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ApartLine {
    /// The first, counted from 0.
    pub a: usize,
    /// The second.
    pub b: usize,
    /// Fidelity of the first less that of the second, in points.
    pub difference: f64,
    /// Percent of the draws of scores and strengths in which the first is nearer
    /// the target.
    pub nearer_in_percent: f64,
    /// One standard deviation of the difference over them.
    pub give_or_take: f64,
    /// Whether neither is nearer in enough of them to speak of it.
    pub inside_doubt: bool,
}

/// A material whose dose differs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// The material.
    pub material: String,
    /// Its dose in each formula, 0 where it is absent; null in a formula that
    /// was not judged.
    pub parts: Vec<Option<Ppt>>,
    /// Largest dose less smallest.
    pub spread: Ppt,
}

impl CompareReport {
    /// Compares formulas with a brief. Those whose parts do not add up to
    /// 1000 are judged only where they may be rescaled.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        formulas: &[Formula],
        rescale: bool,
        warnings: Vec<String>,
    ) -> CompareReport {
        let judged: Vec<Option<Formula>> = formulas
            .iter()
            .map(|formula| {
                let usable = rescale || formula.sum() == Ppt::WHOLE;
                usable.then(|| in_basis(&problem.palette, &formula.rescaled(), problem.basis))
            })
            .collect();
        let mut most_neat = vec![0.0_f64; problem.palette.materials.len()];
        for formula in judged.iter().flatten() {
            for (most, ppt) in most_neat.iter_mut().zip(problem.neat_ppt(formula)) {
                *most = most.max(ppt);
            }
        }
        let sure = told_some(problem, &judged.iter().map(Option::as_ref).collect::<Vec<_>>(), judged.len());
        let pairs = formulas.iter().zip(judged.iter().zip(&sure));
        CompareReport {
            head: Head::new("compare", problem, brief),
            target: TargetReport::new(problem, brief),
            formulas: pairs
                .map(|(read, (judged, told))| Compared::new(problem, brief, read, judged.as_ref(), told.as_ref()))
                .collect(),
            apart: apart(problem, &judged, &sure),
            differences: differences(problem, &judged),
            care: Care::new(problem, &most_neat),
            warnings,
        }
    }

    /// Whether every formula adds up to 1000, or was rescaled.
    pub fn all_used(&self) -> bool {
        self.formulas.iter().all(Compared::is_used)
    }
}

impl TargetReport {
    fn new(problem: &Problem, brief: &Brief) -> TargetReport {
        let from = match &brief.target_from {
            None => None,
            Some(TargetFrom::Material(material)) => Some(problem.material(material.value).name.clone()),
            Some(TargetFrom::Formula(formula)) => Some(name_of(&formula.value)),
        };
        let line = |target: &crate::problem::Target| TargetLine {
            descriptor: problem.palette.descriptors[target.descriptor].name.clone(),
            target: target.score,
            weight: target.weight,
            excess: target.excess,
        };
        TargetReport { from, profile: problem.targets.iter().map(line).collect() }
    }
}

impl Compared {
    fn new(
        problem: &Problem,
        brief: &Brief,
        read: &Formula,
        judged: Option<&Formula>,
        told: Option<&Told>,
    ) -> Compared {
        let sum = read.sum();
        let converted_from = (read.basis != problem.basis).then_some(read.basis);
        let unjudged = Compared {
            name: name_of(read),
            file: file_of(read),
            status: FormulaStatus::Unused,
            give_or_take: None,
            formula: FormulaReport { formula: Some(FormulaParts::new(problem, read)), ..FormulaReport::default() },
            sum,
            missing: Ppt::WHOLE - sum,
            rescaled: false,
            converted_from: None,
            broken: None,
            notes: Vec::new(),
        };
        let Some(formula) = judged else {
            return Compared { notes: vec![sentences::notes::not_used(sum)], ..unjudged };
        };
        let mut notes = Vec::new();
        if sum != Ppt::WHOLE {
            notes.push(sentences::notes::rescaled(sum));
        }
        if let Some(basis) = converted_from {
            notes.push(sentences::notes::converted(basis, problem.basis));
        }
        // On paper each formula dries by a clock of its own.
        let evaluation = evaluate(&problem.as_it_dries(formula), formula);
        let broken = broken(problem, brief, formula, converted_from.is_some());
        let status = match &evaluation {
            Err(_) => FormulaStatus::Unjudged,
            Ok(_) if broken.is_empty() => FormulaStatus::Feasible,
            Ok(_) => FormulaStatus::Broken,
        };
        if let Err(error) = &evaluation {
            notes.push(sentences::notes::no_numbers(error));
        }
        Compared {
            status,
            give_or_take: told.map(|told| told.fidelity.sd),
            formula: FormulaReport::new(problem, formula, evaluation.as_ref().ok()).with_range(told),
            rescaled: sum != Ppt::WHOLE,
            converted_from,
            broken: Some(broken.into_iter().map(BrokenLine::from).collect()),
            notes,
            ..unjudged
        }
    }

    /// Whether its numbers were looked at.
    pub fn is_used(&self) -> bool {
        self.broken.is_some()
    }
}

fn apart(problem: &Problem, judged: &[Option<Formula>], told: &[Option<Told>]) -> Vec<ApartLine> {
    let fidelity =
        |formula: &Formula| evaluate(&problem.as_it_dries(formula), formula).ok().map(|it| it.fidelity_percent);
    let line = |a: usize, b: usize| {
        let (one, other) = (judged[a].as_ref()?, judged[b].as_ref()?);
        let difference = fidelity(one)? - fidelity(other)?;
        let pair = told[a].as_ref()?.beside(told[b].as_ref()?);
        Some(ApartLine {
            a,
            b,
            difference,
            nearer_in_percent: pair.nearer_percent(),
            give_or_take: pair.difference.sd,
            inside_doubt: !pair.is_told_apart(),
        })
    };
    let pairs = (0..judged.len()).flat_map(|a| (a + 1..judged.len()).map(move |b| (a, b)));
    pairs.filter_map(|(a, b)| line(a, b)).collect()
}

fn differences(problem: &Problem, judged: &[Option<Formula>]) -> Vec<Difference> {
    let mut rows = Vec::new();
    for (index, material) in problem.palette.materials.iter().enumerate() {
        let parts: Vec<Option<Ppt>> =
            judged.iter().map(|formula| formula.as_ref().map(|formula| formula.dose(index))).collect();
        let most = parts.iter().flatten().max().copied().unwrap_or_default();
        let least = parts.iter().flatten().min().copied().unwrap_or_default();
        if most != least {
            rows.push(Difference { material: material.name.clone(), parts, spread: most - least });
        }
    }
    rows.sort_by_key(|row| std::cmp::Reverse(row.spread));
    rows
}
