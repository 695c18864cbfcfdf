//! The doses that each column may take, read off the rules.

use super::id::{DoseKey, RuleId};
use super::rules::LeftOut;
use super::usual::UsualDoses;
use super::{Problem, Rule, RuleKind};
use crate::place::Place;
use crate::units::{Ppt, gcd};

/// The doses a usable column may take: 0 (unless `must`), or a multiple of
/// `step` from `least` to `most`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DoseDomain {
    /// Least dose when used, on the grid, at least 1e-6 ppt.
    pub least: Ppt,
    /// Greatest dose, on the grid. Below `least` the column cannot be used.
    pub most: Ppt,
    /// The grid; zero is continuous.
    pub step: Ppt,
    /// Whether the dose may not be 0.
    pub must: bool,
    /// Whether there is just one dose.
    pub fixed: bool,
}

impl DoseDomain {
    /// Whether doses come from a grid rather than a continuum.
    pub fn on_grid(&self) -> bool {
        self.fixed || self.step > Ppt::ZERO
    }

    /// The usual doses of it, on its grid; empty where it has none.
    pub fn usual(self, usual: UsualDoses) -> DoseDomain {
        let least = usual.least.max(self.least).ceil_to(self.step);
        let most = usual.most.min(self.most).floor_to(self.step);
        // A fixed dose is one of them or none.
        let (least, most) =
            if self.fixed && !usual.holds(self.least) { (self.least, Ppt::ZERO) } else { (least, most) };
        DoseDomain { least, most, ..self }
    }

    /// Whether there is no dose at which it could be used.
    pub fn is_empty(&self) -> bool {
        self.most < self.least
    }
}

/// Why a column may not be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Absence {
    /// A rule says so (index into the problem's rules).
    Rule(usize),
    /// It is a carrier that `[doses]` does not name.
    UnnamedCarrier,
    /// Its scores are the target's, and `[doses]` does not name it.
    TargetItself,
}

impl Problem {
    /// For each column the doses it may take, or why it may not be used.
    pub fn domains(&self) -> Vec<Result<DoseDomain, Absence>> {
        let absences = self.absences();
        let domains = self.dose_rules();
        domains.into_iter().zip(absences).map(|(domain, absence)| absence.map_or(Ok(domain), Err)).collect()
    }

    fn absences(&self) -> Vec<Option<Absence>> {
        let mut absences: Vec<Option<Absence>> = (0..self.columns.len())
            .map(|column| {
                if self.named[column] {
                    None
                } else if self.material(column).is_carrier() {
                    Some(Absence::UnnamedCarrier)
                } else if self.target_material == Some(column) {
                    Some(Absence::TargetItself)
                } else {
                    None
                }
            })
            .collect();
        for (index, rule) in self.rules.iter().enumerate() {
            let mut leave_out = |column: usize| absences[column] = Some(Absence::Rule(index));
            match rule.kind.leaves_out() {
                LeftOut::One(column) => leave_out(column),
                LeftOut::AllBut(only) => {
                    let mut allowed = vec![false; self.columns.len()];
                    only.iter().for_each(|&column| allowed[column] = true);
                    (0..allowed.len()).filter(|&column| !allowed[column]).for_each(leave_out);
                }
                LeftOut::NotOnShelf => {
                    (0..self.columns.len()).filter(|&column| !self.material(column).have).for_each(leave_out);
                }
                LeftOut::Nothing => {}
            }
        }
        absences
    }

    /// For each column the doses that the rules on its dose alone leave,
    /// whether or not it may be used.
    pub fn dose_rules(&self) -> Vec<DoseDomain> {
        #[derive(Clone)]
        struct Found {
            min: Ppt,
            step: Ppt,
            most: Ppt,
            must: bool,
            fixed: Option<Ppt>,
        }
        let blank = Found { min: Ppt::ZERO, step: Ppt::ZERO, most: Ppt::WHOLE, must: false, fixed: None };
        let mut found = vec![blank; self.columns.len()];
        for rule in &self.rules {
            let at = Ppt::from_ppt(rule.at);
            match rule.kind {
                // Of several rules of one kind all hold: the greatest minimum,
                // the smallest maximum, the doses that lie on every grid.
                RuleKind::DoseMin(column) => found[column].min = found[column].min.max(at),
                RuleKind::DoseStep(column) => found[column].step = common_step(found[column].step, at),
                RuleKind::DoseMax(column) => found[column].most = found[column].most.min(at),
                RuleKind::Must(column) => found[column].must = true,
                // Two different doses at once leave none.
                RuleKind::Fixed(column) if found[column].fixed.is_some_and(|other| other != at) => {
                    found[column].most = Ppt::ZERO;
                }
                RuleKind::Fixed(column) => found[column].fixed = Some(at),
                // Absences, and rows and counts of the model.
                RuleKind::Never(_)
                | RuleKind::Only(_)
                | RuleKind::OwnOnly
                | RuleKind::MaxMaterials
                | RuleKind::MostOf(_)
                | RuleKind::Moves(_)
                | RuleKind::MaxUnusual(_)
                | RuleKind::Budget
                | RuleKind::PriceOfEffect
                | RuleKind::StrengthMin
                | RuleKind::StrengthMax
                | RuleKind::MaxIdle
                | RuleKind::NeatMax(_)
                | RuleKind::GroupMin(_)
                | RuleKind::GroupMax(_)
                | RuleKind::RatioMin { .. }
                | RuleKind::RatioMax { .. }
                | RuleKind::TargetMin(_)
                | RuleKind::TargetMax(_)
                | RuleKind::StageStrengthMin(_)
                | RuleKind::StageStrengthMax(_)
                | RuleKind::StageKept(_)
                | RuleKind::StageShareMin { .. }
                | RuleKind::StageShareMax { .. }
                | RuleKind::FilmLasts
                | RuleKind::Near(_)
                | RuleKind::Limit { .. }
                | RuleKind::Joint { .. }
                | RuleKind::Concentrate { .. }
                | RuleKind::Product { .. }
                | RuleKind::AtLeast(_) => {}
            }
        }
        let domain = |Found { min, step, most, must, fixed }| match fixed {
            // A fixed dose sets the minimum and the step aside, never a cap.
            Some(dose) => {
                let most = if most < dose { most } else { dose };
                DoseDomain { least: dose, most, step: Ppt::ZERO, must: true, fixed: true }
            }
            None => {
                let least = min.ceil_to(step).max(step).max(Ppt::LEAST);
                DoseDomain { least, most: most.floor_to(step), step, must, fixed: false }
            }
        };
        found.into_iter().map(domain).collect()
    }

    /// For each column the dose at which it may stay, where a rule says how
    /// many may move.
    pub fn kept_doses(&self) -> Vec<Option<Ppt>> {
        let mut doses = vec![None; self.columns.len()];
        for rule in &self.rules {
            if let RuleKind::Moves(kept) = &rule.kind {
                kept.iter().for_each(|&(column, dose)| doses[column] = Some(dose));
            }
        }
        doses
    }

    /// For each column whether it may stay at the dose that [`kept_doses`]
    /// names: as a fixed dose, which no cap and no other fixed dose forbids.
    ///
    /// [`kept_doses`]: Problem::kept_doses
    pub fn may_stay(&self) -> Vec<bool> {
        let kept = self.kept_doses();
        let fixed = kept.iter().enumerate().filter_map(|(column, dose)| Some((column, (*dose)?)));
        let mut problem = self.clone();
        problem.rules.extend(fixed.map(|(column, dose)| Rule {
            id: RuleId::dose(&self.material(column).name, DoseKey::Fixed),
            kind: RuleKind::Fixed(column),
            place: Place { file: self.palette.file.clone(), line: 0, column: 0 },
            at: dose.as_f64(),
        }));
        let domains = problem.domains();
        let may = |(dose, domain): (&Option<Ppt>, &Result<DoseDomain, Absence>)| {
            dose.is_some() && domain.is_ok_and(|domain| !domain.is_empty())
        };
        kept.iter().zip(&domains).map(may).collect()
    }

    /// Whether every dose that a formula may have lies on a grid.
    pub fn is_whole_part(&self) -> bool {
        self.domains().iter().flatten().all(DoseDomain::on_grid)
    }
}

/// The step of the doses that lie on both grids; 0 is no step. More than a
/// whole formula stands for any step of which nothing but 0 is a multiple.
fn common_step(a: Ppt, b: Ppt) -> Ppt {
    if a.is_zero() || b.is_zero() {
        return a.max(b);
    }
    let beyond = Ppt::from_units(Ppt::WHOLE.units() + 1);
    let times = a.units() / gcd(a.units(), b.units());
    times.checked_mul(b.units()).map_or(beyond, |units| Ppt::from_units(units).min(beyond))
}
