//! What may go wrong before anything is mixed: facts about a brief and its
//! shelf that a perfumer would want to know. The thresholds are the project's
//! own rules of thumb.

use super::conflict::conflicts;
use super::identity::{Doubtful, described, doubtful};
use crate::brief::Match;
use crate::control::Control;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::idle::HEARD;
use crate::problem::{DoseDomain, Problem, RuleKind, UsualDoses};
use crate::solve::{Feasibility, Method, feasibility, propose};
use crate::units::Ppt;

/// Something that may not be as it was meant.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// A material that no formula inside the rules can use.
    NeverUsable {
        /// The material.
        material: usize,
        /// Rules (indices) that together keep it out.
        rules: Vec<usize>,
    },
    /// A material whose step or least dose is coarse beside the dose that
    /// would be best.
    TooCoarse {
        /// The material.
        material: usize,
        /// Its dose in the best blend over continuous doses, in ppt.
        wanted_ppt: f64,
        /// The least dose that it can have.
        least: Ppt,
        /// Its step; zero where it is its least dose alone that is too large.
        step: Ppt,
        /// A step that would do.
        finer: Ppt,
    },
    /// All strengths lie within one decade.
    OneDecade {
        /// The least strength above 0.
        least: f64,
        /// The greatest strength.
        most: f64,
    },
    /// Strengths a thousand times above or below all others.
    Misplaced {
        /// The materials on the smaller side of the gap.
        materials: Vec<usize>,
        /// How many times the next strength is away.
        factor: f64,
        /// Whether they are stronger than the others.
        stronger: bool,
    },
    /// In match level: no usable material has as much in all as the target
    /// asks for in all, so no blend can.
    BeyondLevel {
        /// Sum of the target's scores.
        wanted: f64,
        /// The richest usable material and the sum of its scores.
        richest: Option<(usize, f64)>,
    },
    /// In match level: a natural with far more in all than the other
    /// materials.
    RichNatural {
        /// The natural.
        material: usize,
        /// Sum of its scores.
        total: f64,
        /// Median of the sums of all usable materials.
        median: f64,
    },
    /// A natural without constituents: limits on what it brings are unchecked.
    UnknownNatural(usize),
    /// A material that its CAS number does not tell the limits.
    Doubtful(Doubtful),
    /// Materials that smell, have no CAS number and a name that nothing knows:
    /// limits pass them by.
    NoNumber(Vec<usize>),
    /// Two materials that smell alike, dose for dose of odour.
    Twins(usize, usize),
    /// A wanted descriptor that no usable material carries.
    Uncarried {
        /// Index of the descriptor in the palette.
        descriptor: usize,
        /// The wanted score, in points.
        wanted: f64,
    },
    /// A descriptor in which no material of the palette has a score.
    Unscored(usize),
    /// A material that the rules leave no usual dose: the doses that it may have.
    NeverUsual(usize, DoseDomain),
    /// A rule (its index) that counts unusual doses where the palette names no
    /// usual ones.
    NothingUsual(usize),
    /// Materials that would be idle weight in a formula as strong as the brief
    /// asks, or as the material that its target is taken from, where no rule
    /// limits it.
    IdleWeight {
        /// The materials, the weakest first.
        idle: Vec<usize>,
        /// Usable materials that smell.
        of: usize,
        /// The strength.
        strength: f64,
        /// The target's material, where it is its strength.
        material: Option<usize>,
    },
}

/// Half a step may be this share of the best dose before the step is coarse.
const COARSE: f64 = 0.2;
/// Half of the step that is advised is at most this share of the best dose.
const FINE: f64 = 0.1;
/// Strengths of fewer materials than this tell nothing about their spread.
const ENOUGH: usize = 5;
/// Neighbours in strength further apart than this are suspicious.
const GAP: f64 = 1000.0;
/// Materials whose scores differ nowhere by more than this share of the scale
/// smell alike.
const ALIKE: f64 = 0.05;

/// Everything that strikes about a problem, apart from what its rules say of
/// each other. `known` are formulas that keep the rules; `None` where there
/// are none, and what takes solving is then left aside.
pub fn findings(problem: &Problem, known: Option<&[Formula]>, control: &Control) -> Vec<Finding> {
    let mut all = Vec::new();
    if let Some(known) = known {
        all.extend(never_usable(problem, known, control));
        all.extend(too_coarse(problem, control));
    }
    all.extend(spread_of_strengths(problem));
    all.extend(level(problem));
    let usable = usable(problem);
    let unknown = |&material: &usize| problem.material(material).is_unknown();
    all.extend(usable.iter().copied().filter(unknown).map(Finding::UnknownNatural));
    all.extend(without_number(problem, &usable));
    all.extend(twins(problem, &usable));
    all.extend(carriers_of_descriptors(problem, &usable));
    all.extend(never_usual(problem));
    all.extend(idle_weight(problem, &usable));
    all
}

/// Usual doses that count for nothing, or that nothing can have.
fn never_usual(problem: &Problem) -> Vec<Finding> {
    let counts = |rule: usize| match &problem.rules[rule].kind {
        RuleKind::MaxUnusual(usual) => usual.is_empty(),
        _ => false,
    };
    let idle = (0..problem.rules.len()).filter(|&rule| counts(rule)).map(Finding::NothingUsual);
    let domains = problem.domains();
    let never = |&(material, usual): &(usize, UsualDoses)| {
        let domain = domains[material].ok().filter(|domain| !domain.is_empty())?;
        domain.usual(usual).is_empty().then_some(Finding::NeverUsual(material, domain))
    };
    problem.usual_doses().iter().filter_map(never).chain(idle).collect()
}

/// Materials that are idle beside the strength that is wanted, before anything is
/// solved.
fn idle_weight(problem: &Problem, usable: &[usize]) -> Option<Finding> {
    if problem.stands_at(&RuleKind::MaxIdle).is_some() {
        return None;
    }
    let asked = problem.stands_at(&RuleKind::StrengthMin).filter(|least| *least > 0.0);
    let material = problem.target_material.filter(|_| asked.is_none());
    let strength = asked.or_else(|| material.map(|material| problem.material(material).strength))?;
    let of = |&material: &usize| problem.material(material).strength;
    let heard: Vec<usize> = usable.iter().copied().filter(|material| of(material) > 0.0).collect();
    let mut idle: Vec<usize> = heard.iter().copied().filter(|material| of(material) < HEARD * strength).collect();
    idle.sort_by(|a, b| of(a).total_cmp(&of(b)));
    (!idle.is_empty()).then_some(Finding::IdleWeight { of: heard.len(), idle, strength, material })
}

/// Materials that the brief does not leave out and that have a dose.
fn usable(problem: &Problem) -> Vec<usize> {
    let domains = problem.domains();
    (0..domains.len()).filter(|&material| domains[material].is_ok_and(|domain| !domain.is_empty())).collect()
}

fn never_usable(problem: &Problem, known: &[Formula], control: &Control) -> Vec<Finding> {
    let wanted: Vec<usize> = problem
        .domains()
        .iter()
        .enumerate()
        .filter(|(material, domain)| domain.is_ok() && known.iter().all(|formula| formula.dose(*material).is_zero()))
        .map(|(material, _)| material)
        .collect();
    let excluded = in_parallel(&wanted, control, |&material| {
        let with = problem.requiring(material);
        if !matches!(feasibility(&with, control), Feasibility::Impossible) {
            return None;
        }
        // Its own rules make the plainer reason, where they are one.
        let own = |rule: usize| rule >= problem.rules.len() || with.rules[rule].kind.is_about(material);
        let kept: Vec<usize> = (0..with.rules.len()).filter(|&rule| own(rule)).collect();
        let alone = with.with_rules(own);
        let (among, kept) = if matches!(feasibility(&alone, control), Feasibility::Impossible) {
            (alone, kept)
        } else {
            (with, (0..=problem.rules.len()).collect())
        };
        let conflict = conflicts(&among, control).into_iter().next()?;
        // The requirement itself is the last rule and no part of the brief.
        let rules =
            conflict.rules.into_iter().map(|rule| kept[rule]).filter(|&rule| rule < problem.rules.len()).collect();
        Some(Finding::NeverUsable { material, rules })
    });
    excluded.into_iter().flatten().flatten().collect()
}

/// Materials whose dose in the best continuous blend falls between the doses
/// that can be weighed.
fn too_coarse(problem: &Problem, control: &Control) -> Vec<Finding> {
    let relaxed = propose(&problem.relaxed(), Method::Auto, control);
    let Some(best) = relaxed.ok().and_then(|solution| solution.answer) else { return Vec::new() };
    let domains = problem.domains();
    let coarse = |&(material, dose): &(usize, Ppt)| {
        let Ok(domain) = domains[material] else { return None };
        let wanted_ppt = dose.as_f64();
        if domain.fixed || domain.must || dose <= Ppt::LEAST || problem.material(material).is_carrier() {
            return None;
        }
        let by_step = domain.step.as_f64() / 2.0 > COARSE * wanted_ppt;
        let by_min = domain.least.as_f64() > wanted_ppt * (1.0 + COARSE);
        (by_step || by_min).then(|| Finding::TooCoarse {
            material,
            wanted_ppt,
            least: domain.least,
            step: if by_step { domain.step } else { Ppt::ZERO },
            finer: nice_step(2.0 * FINE * wanted_ppt),
        })
    };
    best.formula.parts.iter().filter_map(coarse).collect()
}

/// The largest of 1, 2, 5 and their tenfolds and tenths that is not above a
/// number of ppt; at least 1e-6.
fn nice_step(ppt: f64) -> Ppt {
    let mut step = Ppt::from_ppt(100.0);
    while step.as_f64() > ppt && step > Ppt::LEAST {
        let mut leading = step.units();
        while leading % 10 == 0 {
            leading /= 10;
        }
        step = if leading == 5 { Ppt::from_units(step.units() / 5 * 2) } else { Ppt::from_units(step.units() / 2) };
    }
    step
}

fn spread_of_strengths(problem: &Problem) -> Vec<Finding> {
    let strength = |&material: &usize| problem.material(material).strength;
    let mut order: Vec<usize> = (0..problem.columns.len()).filter(|material| strength(material) > 0.0).collect();
    order.sort_by(|a, b| strength(a).total_cmp(&strength(b)));
    let (Some(first), Some(last)) = (order.first(), order.last()) else { return Vec::new() };
    let (least, most) = (strength(first), strength(last));
    if order.len() >= ENOUGH && most <= 10.0 * least {
        return vec![Finding::OneDecade { least, most }];
    }
    let gap = |at: usize| strength(&order[at + 1]) / strength(&order[at]);
    let gaps = (0..order.len() - 1).filter(|&at| order.len() >= ENOUGH && gap(at) >= GAP);
    gaps.map(|at| {
        let (weaker, stronger) = order.split_at(at + 1);
        let is_stronger = stronger.len() <= weaker.len();
        let materials = if is_stronger { stronger } else { weaker };
        Finding::Misplaced { materials: materials.to_vec(), factor: gap(at), stronger: is_stronger }
    })
    .collect()
}

fn level(problem: &Problem) -> Vec<Finding> {
    if problem.matching != Match::Level {
        return Vec::new();
    }
    let scented = usable(problem).into_iter().filter(|&material| !problem.material(material).is_carrier());
    let mut totals: Vec<(f64, usize)> = scented.map(|material| (problem.counted_score(material), material)).collect();
    totals.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let wanted = problem.target_total();
    let richest = totals.last().map(|&(total, material)| (material, total));
    let mut found = Vec::new();
    if richest.is_none_or(|(_, total)| total < wanted) {
        found.push(Finding::BeyondLevel { wanted, richest });
    }
    let Some(&(median, _)) = totals.get(totals.len() / 2) else { return found };
    let rich = totals.iter().filter(|(total, material)| {
        problem.material(*material).natural && totals.len() >= ENOUGH && *total > 2.0 * median
    });
    found.extend(rich.map(|&(total, material)| Finding::RichNatural { material, total, median }));
    found
}

/// What is doubtful about the materials, and, where there are limits, which
/// of them nothing at all is known of.
fn without_number(problem: &Problem, usable: &[usize]) -> Vec<Finding> {
    let doubtful = doubtful(problem, usable);
    let told = |material: usize| {
        doubtful.iter().any(|it| match it {
            Doubtful::ByName { subject, .. } | Doubtful::MayBe { subject, .. } => subject.material == material,
            Doubtful::OtherNumber { .. } | Doubtful::LeftOut { .. } => false,
        })
    };
    let silent = |material: usize| {
        let mut parts = described(problem, material).into_iter();
        parts.any(|(_, part)| part.cas.is_none() && !part.is_carrier())
    };
    let unknown: Vec<usize> = usable.iter().copied().filter(|&material| silent(material) && !told(material)).collect();
    let limited = !problem.restrictions.is_empty() && !unknown.is_empty();
    doubtful.into_iter().map(Finding::Doubtful).chain(limited.then_some(Finding::NoNumber(unknown))).collect()
}

fn twins(problem: &Problem, usable: &[usize]) -> Vec<Finding> {
    let most = ALIKE * problem.palette.scale;
    let alike = |a: usize, b: usize| {
        let (a, b) = (problem.material(a), problem.material(b));
        a.scores.iter().zip(&b.scores).all(|(a, b)| (a - b).abs() <= most)
    };
    let scented: Vec<usize> =
        usable.iter().copied().filter(|&m| problem.material(m).scores.iter().any(|score| *score > 0.0)).collect();
    let mut found = Vec::new();
    for (at, &a) in scented.iter().enumerate() {
        found.extend(scented[at + 1..].iter().filter(|&&b| alike(a, b)).map(|&b| Finding::Twins(a, b)));
    }
    found
}

fn carriers_of_descriptors(problem: &Problem, usable: &[usize]) -> Vec<Finding> {
    let scored = |descriptor: usize, material: usize| problem.material(material).scores[descriptor] > 0.0;
    let mut found = Vec::new();
    for descriptor in 0..problem.palette.descriptors.len() {
        let wanted = problem.targets.iter().find(|target| target.descriptor == descriptor && target.score > 0.0);
        if (0..problem.columns.len()).all(|material| !scored(descriptor, material)) {
            found.push(Finding::Unscored(descriptor));
        } else if let Some(target) = wanted
            && !usable.iter().any(|&material| scored(descriptor, material))
        {
            found.push(Finding::Uncarried { descriptor, wanted: target.score });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_of_the_series_of_one_two_and_five() {
        for (ppt, step) in [(0.07, 0.05), (0.05, 0.05), (0.021, 0.02), (0.1, 0.1), (3.0, 2.0), (1e-9, 1e-6)] {
            assert_eq!(nice_step(ppt), Ppt::from_ppt(step), "{ppt}");
        }
    }
}
