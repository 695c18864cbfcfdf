//! The report of `adjust`.

use serde::Serialize;

use super::broken::BrokenLine;
use super::parts::name_of;
use super::replace::{DoseChange, changes_between};
use super::states::{DoseMove, SmallestIn};
use super::{Care, FormulaParts, FormulaReport, Head, Ordered, ReasonsReport};
use crate::analysis::adjust::{Wish, as_mixed, moved};
use crate::analysis::broken::broken;
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::doubt::told::nearer_percent;
use crate::analysis::furthest::Furthest;
use crate::analysis::repair::Reasons;
use crate::brief::{Basis, Brief};
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::problem::{DoseKey, Problem, RuleId};
use crate::solve::nearest::{OdourChange, change};
use crate::solve::{Answer, Status};
use crate::units::Ppt;

/// A formula and the smallest change that moves it in a wanted direction.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AdjustReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal`: no smaller change does it, proven; `feasible`: the smallest
    /// found in time; `infeasible` or `unknown`: none.
    pub status: Status,
    /// Title of the formula, or its file where it has none.
    pub name: String,
    /// Its file.
    pub file: String,
    /// Whether its parts were scaled to add up to 1000.
    pub rescaled: bool,
    /// The basis it was written in, where that is not the brief's.
    pub converted_from: Option<Basis>,
    /// Descriptors to have more of.
    pub more: Vec<String>,
    /// Descriptors to have less of.
    pub less: Vec<String>,
    /// By how many points at least, each.
    pub by: f64,
    /// Materials whose dose stays.
    pub keep: Vec<String>,
    /// The most that any one dose may change, in ppt.
    pub most_change: Option<Ppt>,
    /// What makes a change small: `odour`, or `parts`.
    pub smallest_in: SmallestIn,
    /// Sum of all changes of doses, in ppt.
    pub moved: Option<Ppt>,
    /// No change that does it is smaller, in ppt; null for additions and where
    /// it is the odour that is to change least.
    pub least_moved: Option<f64>,
    /// The smallest change found in ppt, where one of fewer parts was preferred
    /// and it is the parts that count.
    pub smallest: Option<Ppt>,
    /// How much of the odour changes beside what was asked for.
    pub odour_change: Option<OdourLine>,
    /// Descriptors that were not asked for and change by more than half a point.
    pub side_effects: Vec<SideEffect>,
    /// How many parts move, go or come in.
    pub parts_moved: Option<usize>,
    /// The formula as it was.
    pub before: Side,
    /// The formula after the change; null where there is none.
    pub after: Option<Side>,
    /// Doses that differ, the largest difference first.
    pub changes: Vec<DoseChange>,
    /// Grams in the beaker, in the basis of the brief, where nothing can be taken
    /// out of it.
    pub batch: Option<f64>,
    /// What to add to them; null unless that was asked for and can be done.
    pub add: Option<Add>,
    /// How far one can go, where it cannot be done.
    pub furthest: Option<FurthestLine>,
    /// Where `most_change` is too little: how far one dose moves in the smallest
    /// change that does it, in ppt.
    pub needs: Option<Ppt>,
    /// Percent of the draws of scores and strengths in which the formula after the
    /// change is nearer the target than before; null where there is none.
    pub nearer_in_percent: Option<f64>,
    /// How far the formula's fidelity may be off, in points: one standard
    /// deviation over the draws of scores and strengths.
    pub doubt: Option<f64>,
    /// What was checked and what was not.
    pub care: Care,
    /// Why there is no such change, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// How much of the odour changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OdourLine {
    /// The points of the profile and of what moves, added up.
    pub points: f64,
    /// Sum of the changes of the profile in descriptors that were not asked for,
    /// in points.
    pub profile_points: f64,
    /// Sum of the changes of what each material brings to the odour that counts,
    /// in percent of it.
    pub moved_percent: f64,
    /// No change that does it has fewer points; null where that is not known.
    pub least_points: Option<f64>,
    /// The points of the smallest change, where one of fewer parts or, of
    /// additions, of less was preferred.
    pub smallest_points: Option<f64>,
}

/// A descriptor that was not asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SideEffect {
    /// The descriptor.
    pub descriptor: String,
    /// Points of the blend before.
    pub before: f64,
    /// Points of it now.
    pub now: f64,
}

/// Changes of a descriptor beyond this many points are side effects.
pub const SIDE_EFFECT: f64 = 0.5;

/// One side of a change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Side {
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
    /// The rules of the brief that it breaks.
    pub broken: Vec<BrokenLine>,
}

/// What is added to a beaker.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Add {
    /// Grams to add of each material in that basis, the most first.
    pub grams: Ordered<f64>,
    /// The same as it is poured from the usual bottles.
    pub grams_poured: Ordered<f64>,
    /// Grams added, in the basis of the brief.
    pub added: f64,
    /// Grams in it afterwards, in the basis of the brief.
    pub total: f64,
}

/// How far one can go.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FurthestLine {
    /// So many points in every wanted direction at once.
    pub by: f64,
    /// A formula that goes so far.
    pub formula: FormulaParts,
}

/// The formula that is changed.
pub struct Subject<'a> {
    /// The brief's problem.
    pub problem: &'a Problem,
    /// The brief.
    pub brief: &'a Brief,
    /// The formula as it was read.
    pub read: &'a Formula,
    /// The formula as 1000 parts in the basis of the brief.
    pub formula: &'a Formula,
}

/// What was found.
pub struct Outcome<'a> {
    /// How sure it is.
    pub status: Status,
    /// The formula after the change.
    pub answer: Option<&'a Answer>,
    /// No change is smaller, in the unit of the wish's measure.
    pub bound: Option<f64>,
    /// The size of the smallest change in that unit, where another one that is
    /// little larger was preferred.
    pub smallest: Option<f64>,
    /// How far one can go.
    pub furthest: Option<&'a Furthest>,
    /// How far one dose moves where it may not move so far.
    pub needs: Option<Ppt>,
    /// Grams in the beaker, where nothing can be taken out of it.
    pub batch: Option<f64>,
    /// Grams that are added of each material.
    pub added: Option<&'a [(usize, f64)]>,
    /// The rules that hold.
    pub rules: &'a Problem,
}

impl AdjustReport {
    /// The report of a change.
    pub fn new(
        subject: &Subject,
        wish: &Wish,
        outcome: &Outcome,
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> AdjustReport {
        let Subject { problem, brief, read, formula } = *subject;
        let name = |material: usize| problem.material(material).name.clone();
        let word = |&counted: &usize| problem.palette.descriptors[problem.targets[counted].descriptor].name.clone();
        let converted = read.basis != problem.basis;
        let after = outcome.answer.map(|answer| &answer.formula);
        let mut neat_ppt = problem.neat_ppt(formula);
        if let Some(answer) = outcome.answer {
            neat_ppt.iter_mut().zip(&answer.evaluation.neat_ppt).for_each(|(most, ppt)| *most = most.max(*ppt));
        }
        AdjustReport {
            head: Head::new("adjust", problem, brief),
            status: outcome.status,
            name: name_of(read),
            file: read.file.as_deref().unwrap_or_default().to_owned(),
            rescaled: read.sum() != Ppt::WHOLE,
            converted_from: converted.then_some(read.basis),
            more: wish.more.iter().map(word).collect(),
            less: wish.less.iter().map(word).collect(),
            by: wish.by,
            keep: wish.keep.iter().map(|&material| name(material)).collect(),
            most_change: wish.most_change,
            smallest_in: if wish.by_parts { SmallestIn::Parts } else { SmallestIn::Odour },
            moved: after.map(|after| change(formula, after)),
            least_moved: outcome.bound.filter(|bound| bound.is_finite() && wish.by_parts),
            smallest: outcome.smallest.filter(|_| wish.by_parts).map(Ppt::from_ppt),
            odour_change: after.and_then(|after| odour_change(problem, formula, after, wish, outcome)),
            side_effects: outcome.answer.map(|answer| side_effects(problem, formula, answer, wish)).unwrap_or_default(),
            parts_moved: after.map(|after| {
                let (old, new) = moved(formula, after);
                old + new
            }),
            before: subject.side(formula, converted, false),
            after: after.map(|after| subject.side(after, converted, outcome.batch.is_some())),
            changes: after.map(|after| changes(problem, formula, after)).unwrap_or_default(),
            batch: outcome.batch,
            add: outcome.batch.zip(outcome.added).map(|(batch, grams)| Add::new(problem, batch, grams)),
            furthest: outcome.furthest.map(|furthest| FurthestLine {
                by: furthest.by,
                formula: FormulaParts::new(problem, &furthest.answer.formula),
            }),
            needs: outcome.needs,
            nearer_in_percent: after.and_then(|after| nearer_percent(problem, formula, &[after])[0]),
            doubt: fidelity_deviation(problem, formula),
            care: Care::new(problem, &neat_ppt),
            reasons: ReasonsReport::new(outcome.rules, reasons),
            warnings,
        }
    }

    /// Whether it is the odour that is to change least.
    pub fn by_odour(&self) -> bool {
        self.smallest_in == SmallestIn::Odour
    }

    /// Whether anything is to change.
    pub fn asks_for_something(&self) -> bool {
        !self.more.is_empty() || !self.less.is_empty()
    }
}

impl Subject<'_> {
    /// One side; what was poured into a beaker is on no grid.
    fn side(&self, formula: &Formula, converted: bool, off_grid: bool) -> Side {
        let evaluation = evaluate(self.problem, formula).ok();
        let breaches = broken(self.problem, self.brief, formula, converted);
        let counts = |line: &BrokenLine| !(off_grid && matches!(line.rule, RuleId::Dose(_, DoseKey::Step)));
        Side {
            formula: FormulaReport::new(self.problem, formula, evaluation.as_ref()),
            broken: breaches.into_iter().map(BrokenLine::from).filter(counts).collect(),
        }
    }
}

impl Add {
    fn new(problem: &Problem, batch: f64, grams: &[(usize, f64)]) -> Add {
        let added: f64 = grams.iter().map(|(_, grams)| grams).sum();
        let name = |material: usize| problem.material(material).name.clone();
        let poured = |&(material, grams): &(usize, f64)| match problem.basis {
            Basis::Neat => (name(material), grams / problem.material(material).usual_fraction()),
            Basis::Bottle => (name(material), grams),
        };
        Add {
            grams: grams.iter().map(|&(material, grams)| (name(material), grams)).collect(),
            grams_poured: grams.iter().map(poured).collect(),
            added,
            total: batch + added,
        }
    }
}

fn odour_change(
    problem: &Problem,
    before: &Formula,
    after: &Formula,
    wish: &Wish,
    outcome: &Outcome,
) -> Option<OdourLine> {
    let change = OdourChange::between(problem, before, after, &wish.asked())?;
    Some(OdourLine {
        points: change.points(),
        profile_points: change.profile_points,
        moved_percent: change.moved_percent,
        least_points: outcome.bound.filter(|bound| bound.is_finite() && !wish.by_parts),
        smallest_points: outcome.smallest.filter(|_| !wish.by_parts),
    })
}

/// What changes by more than half a point without having been asked for, the
/// most first.
fn side_effects(problem: &Problem, before: &Formula, after: &Answer, wish: &Wish) -> Vec<SideEffect> {
    let [Ok(was), Ok(now)] = [before, &after.formula].map(|formula| as_mixed(problem, formula)) else {
        return Vec::new();
    };
    let asked = wish.asked();
    let lines = was.profile.iter().zip(&now.profile).enumerate();
    let mut effects: Vec<SideEffect> = lines
        .filter(|(counted, (was, now))| !asked.contains(counted) && (*now - *was).abs() > SIDE_EFFECT)
        .map(|(counted, (&before, &now))| {
            let descriptor = problem.palette.descriptors[problem.targets[counted].descriptor].name.clone();
            SideEffect { descriptor, before, now }
        })
        .collect();
    effects.sort_by(|a, b| (b.now - b.before).abs().total_cmp(&(a.now - a.before).abs()));
    effects
}

fn changes(problem: &Problem, before: &Formula, after: &Formula) -> Vec<DoseChange> {
    changes_between(problem, before, after, &|material| match (before.dose(material), after.dose(material)) {
        (Ppt::ZERO, _) => DoseMove::New,
        (_, Ppt::ZERO) => DoseMove::Out,
        _ => DoseMove::Moved,
    })
}
