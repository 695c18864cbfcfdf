//! Palette, brief and limits resolved into one problem: a target, a column
//! for every material, and the list of rules.

pub mod check;
mod domain;
pub mod exact;
pub mod id;
pub mod idle;
mod laws;
mod moved;
pub mod near;
mod noses;
pub mod resolve;
pub mod rules;
mod sentence;
pub mod stage;
pub mod substance;
pub mod target;
mod unusual;
pub mod uses;
pub mod usual;
pub mod view;

use std::sync::Arc;

pub use domain::{Absence, DoseDomain};
pub use id::{Bound, DoseKey, RuleId};
pub use near::{Nearby, Skeleton};
pub use rules::{Change, FinishedProduct, Rule, RuleKind, Subject};
pub use stage::Paper;
pub use target::Target;
pub(crate) use target::{counted_score, total};
pub use usual::UsualDoses;
pub use view::View;

use crate::brief::{Basis, Match};
use crate::formula::Formula;
use crate::limits::{Restriction, Scope};
use crate::palette::{Material, Palette};

/// A brief with everything it refers to, ready to be solved or checked.
#[derive(Clone, Debug)]
pub struct Problem {
    /// The shelf.
    pub palette: Arc<Palette>,
    /// The brief's title.
    pub title: Option<String>,
    /// What the parts of a formula count.
    pub basis: Basis,
    /// How a blend is compared with the target.
    pub matching: Match,
    /// The descriptors that count (weight above 0), with their targets.
    pub targets: Vec<Target>,
    /// How a formula is judged, never empty: the worst of these counts. One that is as the
    /// three fields above where the brief asks for no more.
    pub views: Vec<View>,
    /// What the rules on the blend's profile are measured against: the
    /// brief's own targets, whatever the target is exchanged for.
    pub ruled: Arc<[Target]>,
    /// The material whose scores are the target's, if one is.
    pub target_material: Option<usize>,
    /// Materials that `[doses]` names: carriers and the target's own material
    /// are left out unless they are among them.
    pub named: Vec<bool>,
    /// What one part of each column brings; one column a palette material.
    pub columns: Arc<[Column]>,
    /// The finished products.
    pub products: Vec<FinishedProduct>,
    /// The restrictions of all limits files, in the order of the files.
    pub restrictions: Arc<[Restriction]>,
    /// What each limits file can answer for.
    pub scopes: Arc<[Scope]>,
    /// The known formula that the brief wants to stay near to.
    pub near: Option<Arc<Nearby>>,
    /// The stages at which it is smelled on paper, where the brief has any.
    pub paper: Option<Arc<Paper>>,
    /// The rules.
    pub rules: Vec<Rule>,
    /// What the user should hear beside the answer.
    pub warnings: Vec<String>,
}

/// What one part of a column brings. In basis neat that is one part of the
/// material itself; in basis bottle it is the bottle's content.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// (material, parts of it neat), each material once; the rest up to 1 is
    /// an odourless carrier without a name in the palette.
    pub neat: Vec<(usize, f64)>,
}

impl Problem {
    /// The material of a column.
    pub fn material(&self, column: usize) -> &Material {
        &self.palette.materials[column]
    }

    /// The sum of the target's scores over the descriptors that count.
    pub fn target_total(&self) -> f64 {
        total(&self.targets)
    }

    /// Sum of a material's scores over the descriptors that count.
    pub fn counted_score(&self, material: usize) -> f64 {
        counted_score(&self.targets, &self.palette.materials[material])
    }

    /// The first rule with this id.
    pub fn rule(&self, id: &RuleId) -> Option<&Rule> {
        self.rules.iter().find(|rule| rule.id == *id)
    }

    /// The same problem with one rule changed. `rule` is an index into
    /// `rules`; an index beyond it changes nothing.
    pub fn with_change(&self, rule: usize, change: Change) -> Problem {
        self.with_changes(&[(rule, change)])
    }

    /// The same problem with several rules changed.
    pub fn with_changes(&self, changes: &[(usize, Change)]) -> Problem {
        let mut problem = self.clone();
        for &(index, change) in changes {
            if let (Some(rule), Change::To(at)) = (problem.rules.get_mut(index), change) {
                rule.at = at;
            }
        }
        let dropped = |index: usize| changes.contains(&(index, Change::Dropped));
        let mut index = 0;
        problem.rules.retain(|_| {
            index += 1;
            !dropped(index - 1)
        });
        problem
    }

    /// The same problem over continuous doses: counts, steps and least doses
    /// of materials that need not be used are set aside, every other rule is
    /// kept.
    pub fn relaxed(&self) -> Problem {
        let required = |column: usize| self.rules.iter().any(|rule| rule.kind == RuleKind::Must(column));
        self.with_rules(|index| match self.rules[index].kind {
            RuleKind::MaxMaterials | RuleKind::MaxUnusual(_) | RuleKind::DoseStep(_) => false,
            RuleKind::DoseMin(column) => required(column),
            RuleKind::Budget
            | RuleKind::PriceOfEffect
            | RuleKind::StrengthMin
            | RuleKind::StrengthMax
            | RuleKind::MaxIdle
            | RuleKind::DoseMax(_)
            | RuleKind::NeatMax(_)
            | RuleKind::Must(_)
            | RuleKind::Never(_)
            | RuleKind::Fixed(_)
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
            | RuleKind::Only(_)
            | RuleKind::OwnOnly
            | RuleKind::AtLeast(_) => true,
            // Counts that a question asks for beside the brief, not the brief.
            RuleKind::MostOf(_) | RuleKind::Moves(_) => true,
        })
    }

    /// The same problem with one material that has to be used.
    pub fn requiring(&self, material: usize) -> Problem {
        self.with_rule(material, DoseKey::Must, RuleKind::Must(material))
    }

    /// The same problem with one material left out, as `use = "never"` does.
    pub fn leaving_out(&self, material: usize) -> Problem {
        self.with_rule(material, DoseKey::Never, RuleKind::Never(material))
    }

    fn with_rule(&self, material: usize, key: DoseKey, kind: RuleKind) -> Problem {
        let mut problem = self.clone();
        let described = self.material(material);
        let id = RuleId::dose(&described.name, key);
        problem.rules.push(Rule { id, kind, place: described.place.clone(), at: 1.0 });
        problem
    }

    /// The same problem with those rules alone for which `keep` holds.
    pub fn with_rules(&self, keep: impl Fn(usize) -> bool) -> Problem {
        let kept = self.rules.iter().enumerate().filter(|(index, _)| keep(*index));
        Problem { rules: kept.map(|(_, rule)| rule.clone()).collect(), ..self.clone() }
    }

    /// Neat parts per thousand of every palette material in a formula,
    /// carriers that bottles bring included where the formula's basis is
    /// bottle. The formula's own basis counts, whatever the problem's is.
    pub fn neat_ppt(&self, formula: &Formula) -> Vec<f64> {
        let mut neat = vec![0.0; self.palette.materials.len()];
        for &(material, dose) in &formula.parts {
            match formula.basis {
                Basis::Neat => neat[material] += dose.as_f64(),
                Basis::Bottle => {
                    for (brought, fraction) in self.palette.usual_content(material) {
                        neat[brought] += dose.as_f64() * fraction;
                    }
                }
            }
        }
        neat
    }
}
