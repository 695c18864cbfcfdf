//! One of many continuous problems that differ in a number: the programme of
//! the search, without the second opinion of a borrowed solver and without the
//! choice of the cheapest among equals. For curves of a hundred points.

use super::borrowed::to_grid;
use super::search::{ContinuousOptimum, Leaf, ParametricModel, Rung, Started};
use super::verify::Verifier;
use super::{Failure, Method, Solution, Status, propose, quiet, search};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::{Problem, RuleKind};

/// The best blend of a continuous problem (see [`Problem::relaxed`]), verified
/// and proven like any other. What this way does not prove, [`propose`] is
/// asked for.
///
/// # Errors
/// As [`propose`].
pub fn best(relaxed: &Problem, control: &Control) -> Result<Solution, Failure> {
    match quick(relaxed, control) {
        Some(solution) => Ok(solution),
        None => propose(relaxed, Method::Auto, control),
    }
}

fn quick(relaxed: &Problem, control: &Control) -> Option<Solution> {
    let blend = Blend::new(relaxed);
    if !blend.is_continuous() {
        return None;
    }
    of_blend(&blend, &Verifier::new(relaxed, &blend), control)
}

/// The best blend of a continuous model, verified and proven; `None` where this way does
/// not prove it.
pub(super) fn of_blend(blend: &Blend, verifier: &Verifier, control: &Control) -> Option<Solution> {
    if blend.contradiction.is_some() {
        return Some(Solution::infeasible());
    }
    let from = verifier.worst_loss();
    let Some(ladder) = &blend.ladder else {
        let optimum = quiet::catch(|| search::continuous_optimum(blend, from)).ok()??;
        return verified(verifier, blend, &optimum);
    };
    // The best rung.
    let mut leaf = |Rung { blend: part, .. }: Rung<'_>| {
        let optimum = quiet::catch(|| search::continuous_optimum(part, from)).ok().flatten().ok_or(())?;
        let solution = verified(verifier, part, &optimum).ok_or(())?;
        let found = solution.answer.map(|answer| (answer.evaluation.loss, answer));
        Ok::<_, ()>(Leaf { bound: optimum.bound, found, nodes: 0, iterations: 0 })
    };
    let union = search::over_rungs(blend, ladder, None, false, control, &mut leaf).ok()?;
    let solution = Solution::from_parts(union.found.map(|(_, answer)| answer), union.bound);
    matches!(solution.status, Status::Optimal | Status::Infeasible).then_some(solution)
}

fn verified(verifier: &Verifier, blend: &Blend, optimum: &ContinuousOptimum) -> Option<Solution> {
    if optimum.bound.is_infinite() {
        return Some(Solution::infeasible());
    }
    let doses = to_grid(blend, &optimum.ppt)?;
    let answer = verifier.answer(&doses).ok()?;
    Some(Solution::from_parts(Some(answer), optimum.bound)).filter(|solution| solution.status == Status::Optimal)
}

/// Continuous problems that differ in where one rule stands, as the points of a
/// curve do: each goes on from the basis of another one. Clones start from the
/// same basis, so that what they find does not depend on what others found.
#[derive(Clone)]
pub struct Family {
    model: ParametricModel,
    columns: usize,
    rows: usize,
    /// The row that moves.
    row: usize,
}

impl Family {
    /// The family of the problem with the rule at its loosest, solved; `None`
    /// where the rule is not one row with one bound, or nothing keeps it.
    pub fn new(loosest: &Problem, kind: &RuleKind) -> Option<Family> {
        // A rule of quotients has its limit among the coefficients.
        if !matches!(kind, RuleKind::Budget | RuleKind::StrengthMin | RuleKind::StrengthMax) {
            return None;
        }
        let blend = Blend::new(loosest);
        // Of idle weight one rung or another may be the best.
        if !blend.is_continuous() || blend.contradiction.is_some() || blend.ladder.is_some() {
            return None;
        }
        let mut rows = blend.rows.iter().enumerate().filter(|(_, row)| loosest.rules[row.rule].kind == *kind);
        let (Some((row, _)), None) = (rows.next(), rows.next()) else { return None };
        let model = quiet::catch(|| {
            let Started::Ready(mut model) = ParametricModel::start(&blend, loosest.worst_loss()) else { return None };
            model.solve().filter(|optimum| optimum.bound.is_finite())?;
            Some(*model)
        });
        Some(Family { model: model.ok()??, columns: blend.columns.len(), rows: blend.rows.len(), row })
    }

    /// The best blend of the problem with the rule where it stands in `member`,
    /// which is otherwise the family's; verified and proven like any other.
    ///
    /// # Errors
    /// As [`propose`].
    pub fn best(&mut self, member: &Problem, control: &Control) -> Result<Solution, Failure> {
        match self.quick(member) {
            Some(solution) => Ok(solution),
            None => best(member, control),
        }
    }

    fn quick(&mut self, member: &Problem) -> Option<Solution> {
        let blend = Blend::new(member);
        let is_of_it = blend.ladder.is_none() && blend.columns.len() == self.columns && blend.rows.len() == self.rows;
        if !is_of_it || !blend.is_continuous() || blend.contradiction.is_some() {
            return None;
        }
        self.model.tighten(self.row, blend.rows[self.row].upper);
        let optimum = quiet::catch(|| self.model.solve()).ok()??;
        verified(&Verifier::new(member, &blend), &blend, &optimum)
    }
}
