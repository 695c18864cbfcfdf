//! The formula inside the rules that differs least from another one: the search
//! with that formula for a target.
//!
//! By parts: one descriptor for each part of the other formula, of which that
//! part's column alone has one point a ppt, one more that all other columns
//! share, and every column bringing the same to `D`. The loss of the search is
//! then the sum of all changes in ppt.
//!
//! By odour: the formula's own profile for a target, with one more descriptor
//! for each part, which is its share of `D`, and one that all new materials
//! share. All of them are quotients with the same `D`, so their sum is one ratio,
//! and what is proven of a loss is proven of a change of odour. Where a formula has
//! several views, its odour is measured as it is mixed.

use super::search::{self, Aim, Found, Judged, Known};
use super::verify::Verifier;
use super::{Answer, Failure, PROVEN, Status};
use crate::brief::Match;
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::model::{Blend, CapColumn};
use crate::problem::{Problem, Target};
use crate::tolerance::doses::MOVED;
use crate::tolerance::loss::{CUTOFF_MARGIN, TIE};
use crate::units::Ppt;

/// What makes a change of a formula small.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure<'a> {
    /// Little of the odour changes, beside the descriptors (indices into the
    /// problem's targets) that are asked for; see [`OdourChange`]. Of changes
    /// that are equal in that, the one in which fewer parts move.
    Odour(&'a [usize]),
    /// Few parts move; see [`change`].
    Parts,
}

/// The nearest formula.
#[derive(Clone, Debug)]
pub struct Nearest {
    /// How sure it is.
    pub status: Status,
    /// The formula, judged by the problem's own target.
    pub answer: Option<Answer>,
    /// No formula inside the rules changes less, in the unit of the measure;
    /// infinite where there is none at all.
    pub bound: f64,
}

/// How the odours of two formulas differ, as one number: the points by which the
/// profile changes in the descriptors that were not asked for, and a hundredth
/// of the scale for each hundredth of `D`, the whole odour that counts, that a
/// material brings more or less of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OdourChange {
    /// Sum of the changes of the profile in descriptors that were not asked for.
    pub profile_points: f64,
    /// Sum of the changes of what each material brings to the odour that counts,
    /// in percent of it: 200 where everything is exchanged.
    pub moved_percent: f64,
    /// Points on the palette's scale.
    pub scale: f64,
}

impl OdourChange {
    /// The two together, in points.
    pub fn points(&self) -> f64 {
        self.profile_points + self.scale * self.moved_percent / 100.0
    }

    /// The change from one formula of a problem's basis to another; `None` where
    /// one of them has no odour that counts.
    pub fn between(problem: &Problem, before: &Formula, after: &Formula, asked: &[usize]) -> Option<OdourChange> {
        let problem = &problem.plain();
        let [was, now] = [before, after].map(|formula| evaluate(problem, formula).ok());
        let (was, now) = (was?, now?);
        let apart = was.profile.iter().zip(&now.profile).enumerate();
        let apart = apart.filter(|(counted, _)| !asked.contains(counted)).map(|(_, (was, now))| (now - was).abs());
        let [was, now] = [before, after].map(|formula| shares(problem, formula));
        let moved: f64 = was.iter().zip(&now).map(|(was, now)| (now - was).abs()).sum();
        Some(OdourChange { profile_points: apart.sum(), moved_percent: 100.0 * moved, scale: problem.palette.scale })
    }
}

/// What each palette material's dose brings to `D`, as a share of it.
fn shares(problem: &Problem, formula: &Formula) -> Vec<f64> {
    let mut shares = vec![0.0; problem.palette.materials.len()];
    for &(column, dose) in &formula.parts {
        for &(material, part) in &problem.columns[column].neat {
            let heard = match problem.matching {
                Match::Level => 1.0,
                Match::Balance => problem.counted_score(material) / problem.target_total(),
            };
            shares[column] += dose.as_f64() * part * problem.material(material).strength * heard;
        }
    }
    let total: f64 = shares.iter().sum();
    shares.iter_mut().for_each(|share| *share /= total);
    shares
}

/// The sum of the differences between the doses of two formulas.
pub fn change(a: &Formula, b: &Formula) -> Ppt {
    let apart = |x: Ppt, y: Ppt| (x - y).max(y - x);
    let of_a: Ppt = a.parts.iter().map(|&(material, dose)| apart(dose, b.dose(material))).sum();
    let new: Ppt = b.parts.iter().filter(|(it, _)| a.dose(*it).is_zero()).map(|(_, dose)| *dose).sum();
    of_a + new
}

impl Measure<'_> {
    /// How large a change is, in points or ppt; infinite where a formula has no
    /// odour that counts.
    pub fn size(&self, problem: &Problem, before: &Formula, after: &Formula) -> f64 {
        match self {
            Measure::Odour(asked) => {
                OdourChange::between(problem, before, after, asked).map_or(f64::INFINITY, |change| change.points())
            }
            Measure::Parts => change(before, after).as_f64(),
        }
    }
}

/// The formula inside the rules of a problem nearest to one of its basis. A
/// `ceiling`, in the unit of the measure, says that greater changes are of no
/// use.
///
/// # Errors
/// Where a result failed its check.
pub fn nearest(
    problem: &Problem,
    formula: &Formula,
    measure: Measure,
    ceiling: Option<f64>,
    control: &Control,
) -> Result<Nearest, Failure> {
    let plain = problem.plain();
    let real = Blend::new(&plain);
    let verifier = Verifier::new(problem, &real);
    let blend = match measure {
        Measure::Odour(asked) => by_odour(&plain, &real, formula, asked)?,
        Measure::Parts => by_parts(&real, formula),
    };
    let judge = |doses: &[Ppt]| {
        let judged = verifier.judge(doses)?;
        let candidate = Formula::from_doses(problem.basis, &real.palette_doses(doses));
        Some(Judged { loss: measure.size(problem, formula, &candidate), ..judged })
    };
    let known = Known { formulas: real.column_doses(formula).into_iter().collect(), bound: 0.0, ceiling };
    let outcome =
        search::search(&blend, &judge, verifier.tolerance(), Aim::Best, &known, control).map_err(Failure::Internal)?;
    let bound = outcome.bound.max(0.0);
    let Some(Found { doses, judged }) = outcome.found else {
        let status = if bound.is_infinite() { Status::Infeasible } else { Status::Unknown };
        return Ok(Nearest { status, answer: None, bound });
    };
    let proven = judged.loss - bound <= PROVEN * judged.loss.max(1.0);
    let fewer = match measure {
        Measure::Odour(_) if proven && ceiling.is_none() => {
            fewest_parts(&blend, &real, formula, &judge, verifier.tolerance(), &doses, judged.loss, control)
        }
        _ => None,
    };
    let answer = Some(verifier.answer(&fewer.unwrap_or(doses))?);
    Ok(Nearest { status: if proven { Status::Optimal } else { Status::Feasible }, answer, bound })
}

/// The objective of a change by parts.
fn by_parts(real: &Blend, formula: &Formula) -> Blend {
    let mut blend = real.clone();
    for column in &mut blend.columns {
        let CapColumn { weight, odours } = parts_of(column.material, formula);
        (column.weight, column.odours) = (weight, odours);
    }
    blend.targets = parts_targets(formula);
    blend
}

/// What one ppt of a material adds to a change by parts.
fn parts_of(material: usize, formula: &Formula) -> CapColumn {
    let place = formula.parts.iter().position(|(part, _)| *part == material);
    CapColumn { weight: 1e-3, odours: vec![(place.unwrap_or(formula.parts.len()), 1.0)] }
}

/// The doses themselves, and one for everything new. Which descriptor stands for
/// a dose does not matter to the search.
fn parts_targets(formula: &Formula) -> Vec<Target> {
    let doses = formula.parts.iter().map(|(_, dose)| dose.as_f64()).chain([0.0]);
    doses.map(|score| Target { descriptor: 0, score, weight: 1.0, excess: 1.0 }).collect()
}

/// The objective of a change by odour.
fn by_odour(problem: &Problem, real: &Blend, formula: &Formula, asked: &[usize]) -> Result<Blend, Failure> {
    let own = evaluate(problem, formula).map_err(|error| Failure::Internal(error.to_string()))?;
    let mut blend = real.clone();
    blend.targets.clear();
    let mut place_of = vec![None; problem.targets.len()];
    for (counted, target) in problem.targets.iter().enumerate().filter(|(counted, _)| !asked.contains(counted)) {
        place_of[counted] = Some(blend.targets.len());
        blend.targets.push(Target { score: own.profile[counted], weight: 1.0, excess: 1.0, ..*target });
    }
    let (first, shares) = (blend.targets.len(), shares(problem, formula));
    let weight = problem.palette.scale;
    let scores = formula.parts.iter().map(|(part, _)| shares[*part]).chain([0.0]);
    blend.targets.extend(scores.map(|score| Target { descriptor: 0, score, weight, excess: 1.0 }));
    for column in &mut blend.columns {
        let profile = column.odours.iter().filter_map(|&(counted, odour)| Some((place_of[counted]?, odour)));
        let mut odours: Vec<(usize, f64)> = profile.collect();
        let place = formula.parts.iter().position(|(part, _)| *part == column.material);
        if column.weight > 0.0 {
            odours.push((first + place.unwrap_or(formula.parts.len()), column.weight));
        }
        column.odours = odours;
    }
    Ok(blend)
}

/// Among the formulas whose odour changes as little, the one in which the fewest
/// parts move; `None` where none has fewer.
#[expect(clippy::too_many_arguments, reason = "what one search knows, handed to the next")]
fn fewest_parts(
    by_odour: &Blend,
    real: &Blend,
    formula: &Formula,
    judge: &(dyn Fn(&[Ppt]) -> Option<Judged> + Sync),
    tolerance: f64,
    doses: &[Ppt],
    size: f64,
    control: &Control,
) -> Option<Vec<Ppt>> {
    let tie = TIE * size.max(1.0);
    let control = Control { node_limit: Some(NODES), progress: None, ..control.with_share(SHARE) };
    let moved = |doses: &[Ppt]| change(formula, &Formula::from_doses(formula.basis, &real.palette_doses(doses)));
    // Most often no other change is as small: that is the search for the odour
    // once more, under a cap on the parts.
    let parts = moved(doses).as_f64();
    let below = by_parts(real, formula).among_the_best(parts - MOVED, by_odour.targets.clone(), |index, _| {
        let column = &by_odour.columns[index];
        CapColumn { weight: column.weight, odours: column.odours.clone() }
    });
    let asked =
        |doses: &[Ppt]| judge(doses).filter(|judged| judged.loss <= size + tie && moved(doses).as_f64() < parts);
    let ceiling = size + tie + 2.0 * CUTOFF_MARGIN * (size + tie).max(1.0);
    let known = Known { ceiling: Some(ceiling), ..Known::default() };
    let fewer = search::search(&below, &asked, tolerance, Aim::Any, &known, &control).ok()?.found?.doses;
    let among = by_odour
        .among_the_best(size + WITHIN * tie, parts_targets(formula), |_, column| parts_of(column.material, formula));
    let judge = |doses: &[Ppt]| {
        let judged = judge(doses).filter(|judged| judged.loss <= size + tie)?;
        Some(Judged { loss: moved(doses).as_f64(), ..judged })
    };
    let known = Known { formulas: vec![fewer.clone()], ..Known::default() };
    let outcome = search::search(&among, &judge, tolerance, Aim::Best, &known, &control).ok();
    outcome.and_then(|outcome| outcome.found).map(|found| found.doses).or(Some(fewer))
}

/// The part of a tie inside which fewer parts are looked for, so that rounding
/// stays within it.
const WITHIN: f64 = 0.9;
/// Nodes and part of the time that is left that this may take.
const NODES: u64 = 20_000;
const SHARE: f64 = 0.3;
