//! Which columns a material needs where a rule counts doses outside their usual
//! range.

use std::sync::Arc;

use super::role::Role;
use crate::problem::{DoseDomain, Problem, UsualDoses};
use crate::units::Ppt;

/// The doses that a rule counts as usual, and whether it has anything to count.
pub(super) struct Counted {
    usual: Vec<Option<UsualDoses>>,
    /// How many may be unusual; `None` where as many as could be may.
    most: Option<usize>,
}

impl Counted {
    /// What the rules of a problem count.
    pub(super) fn of(problem: &Problem) -> Counted {
        let mut usual = vec![None; problem.columns.len()];
        let (counted, most) = problem.counted_usual_doses().unwrap_or((Arc::new([]), 0));
        counted.iter().for_each(|&(column, doses)| usual[column] = Some(doses));
        let domains = if counted.is_empty() { Vec::new() } else { problem.domains() };
        let kept = problem.kept_doses();
        let could_be = |&(column, doses): &(usize, UsualDoses)| {
            let is_within = |domain: &DoseDomain| doses.holds(domain.least) && doses.holds(domain.most);
            let is_outside = |domain: &DoseDomain| !(domain.is_empty() || is_within(domain));
            domains[column].as_ref().is_ok_and(is_outside) || kept[column].is_some_and(|dose| !doses.holds(dose))
        };
        let outside = counted.iter().filter(|one| could_be(one)).count();
        Counted { usual, most: Some(most).filter(|most| *most < outside) }
    }

    /// Whether a dose may be at all.
    pub(super) fn may_have(&self, column: usize, dose: Ppt) -> bool {
        self.most != Some(0) || self.usual[column].is_none_or(|usual| usual.holds(dose))
    }

    /// The doses of a domain, those that count for nothing first: in one part
    /// where all count alike, or where none of the others may be.
    pub(super) fn parts(&self, column: usize, domain: DoseDomain) -> impl Iterator<Item = (Role, DoseDomain)> {
        let parts = match (self.usual[column], self.most) {
            (None, _) | (_, None) => [Some((Role::Any, domain)), None],
            (Some(doses), Some(most)) => {
                let usual = domain.usual(doses);
                let is_whole = usual.least == domain.least && usual.most == domain.most;
                let within = Some(usual).filter(|usual| !usual.is_empty());
                match within {
                    // No dose of it is unusual.
                    Some(_) if is_whole => [Some((Role::Any, domain)), None],
                    _ if most == 0 => [within.map(|within| (Role::Any, within)), None],
                    _ => {
                        let outside = Some(outside_part(domain, usual)).filter(|outside| !outside.is_empty());
                        [within.map(|within| (Role::Usual, within)), outside.map(|outside| (Role::Unusual, outside))]
                    }
                }
            }
        };
        parts.into_iter().flatten()
    }
}

/// The other doses of a domain: those on one side of the usual ones where no
/// dose lies on the other side, else all.
fn outside_part(domain: DoseDomain, usual: DoseDomain) -> DoseDomain {
    let next = domain.step.max(Ppt::from_units(1));
    if usual.is_empty() {
        domain
    } else if usual.least == domain.least {
        DoseDomain { least: usual.most + next, ..domain }
    } else if usual.most == domain.most {
        DoseDomain { most: usual.least - next, ..domain }
    } else {
        domain
    }
}
