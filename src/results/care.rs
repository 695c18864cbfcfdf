//! What was checked and what was not: every report that a person could mix
//! from says it.

use serde::Serialize;

use super::identity::{IdentityLine, identities};
use super::{CoverageReport, Ordered};
use crate::analysis::identity::phototoxic;
use crate::analysis::unchecked::{has_limits, is_used, unknown_naturals};
use crate::limits::{Counts, Restriction};
use crate::problem::substance::substance_fraction;
use crate::problem::{FinishedProduct, Problem, RuleKind};
use crate::sentences;

/// One thing to mind before a formula is mixed or worn.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// What it is about, in a word or two.
    pub about: &'static str,
    /// What to mind.
    pub text: String,
}

/// Everything to mind before a formula is mixed or worn, with the materials in
/// it that are known to be phototoxic.
pub fn cautions(phototoxic: &[String]) -> Vec<Caution> {
    sentences::care::cautions(phototoxic).into_iter().map(|(about, text)| Caution { about, text }).collect()
}

/// What was checked, and what was not.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Care {
    /// Whether any restriction holds in any of the finished products.
    pub limits_applied: bool,
    /// The finished products that the limits were checked in.
    pub uses: Vec<UseLine>,
    /// Naturals in it whose constituents are unknown: limits on what they
    /// bring were not checked.
    pub unknown_constituents: Vec<String>,
    /// What the limits files know of every material; null where there are no
    /// limits to ask.
    pub coverage: Option<CoverageReport>,
    /// Everything else that was not checked, a sentence each.
    pub not_checked: Vec<String>,
    /// The sources of the limits that hold, each once, in the order of the files.
    pub sources: Vec<String>,
    /// Texts that restrictions want said where their substance is used.
    pub specifications: Vec<Specification>,
    /// Materials whose CAS number does not tell the limits what they are; each
    /// has its sentence in `not_checked` as well.
    pub identities: Vec<IdentityLine>,
    /// Materials in it that are known to be phototoxic.
    pub phototoxic: Vec<String>,
    /// One short caution.
    pub caution: &'static str,
    /// The same at length.
    pub cautions: Vec<Caution>,
}

/// One finished product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct UseLine {
    /// Its name.
    pub name: Option<String>,
    /// Labels as the limits files use them.
    pub category: Vec<String>,
    /// Percent of concentrate in it; null where the brief does not say.
    pub dosage: Option<f64>,
    /// Percent of the concentrate that is this accord.
    pub accord_share: f64,
    /// Percent of it that the rest of the concentrate already brings.
    pub reserve: Ordered<f64>,
}

/// A text that a restriction wants said.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Specification {
    /// The substance.
    pub substance: String,
    /// The materials that bring it without being it.
    pub within: Vec<String>,
    /// The text.
    pub text: String,
}

impl Care {
    /// What was checked of formulas that hold these neat parts per thousand of
    /// every palette material; where there are several formulas, the most of
    /// each material in any of them.
    pub fn new(problem: &Problem, neat_ppt: &[f64]) -> Care {
        let name = |index: usize| problem.material(index).name.clone();
        let used = problem.restrictions.iter().enumerate();
        let specified = used.filter(|(index, _)| is_used(problem, *index, neat_ppt)).filter_map(|(_, restriction)| {
            let (substance, text) = (restriction.substance.clone(), restriction.specification.clone()?);
            Some(Specification { substance, within: within(problem, restriction, neat_ppt).map(name).collect(), text })
        });
        let coverage = CoverageReport::new(problem, neat_ppt);
        let phototoxic: Vec<String> = phototoxic(problem, neat_ppt).into_iter().map(name).collect();
        let identities = identities(problem, neat_ppt);
        Care {
            limits_applied: has_limits(problem),
            uses: problem.products.iter().map(UseLine::new).collect(),
            unknown_constituents: unknown_naturals(problem, neat_ppt).into_iter().map(name).collect(),
            not_checked: not_checked(problem, neat_ppt, coverage.as_ref(), &identities),
            coverage,
            sources: sources(problem),
            specifications: specified.collect(),
            identities,
            caution: sentences::care::CAUTION,
            cautions: cautions(&phototoxic),
            phototoxic,
        }
    }
}

impl Care {
    /// What was not checked, without the sentences on the rest of each
    /// concentrate: those say what was assumed, and come last.
    pub fn not_checked_of_materials(&self) -> &[String] {
        let assumed = self.uses.iter().filter(|product| product.dosage.is_some()).count();
        &self.not_checked[..self.not_checked.len().saturating_sub(assumed)]
    }
}

impl UseLine {
    fn new(product: &FinishedProduct) -> UseLine {
        UseLine {
            name: product.name.clone(),
            category: product.categories.clone(),
            dosage: product.dosage_percent,
            accord_share: product.accord_share_percent,
            reserve: product.reserve.iter().map(|(cas, percent)| (cas.to_string(), *percent)).collect(),
        }
    }
}

/// The materials in use that hold a substance as a constituent.
fn within<'a>(
    problem: &'a Problem,
    restriction: &'a Restriction,
    neat_ppt: &'a [f64],
) -> impl Iterator<Item = usize> + 'a {
    let is_it = |index: usize| restriction.matched(problem.material(index)).is_some();
    let brings = |index: usize| substance_fraction(restriction, problem.material(index)) > 0.0;
    (0..neat_ppt.len()).filter(move |&index| neat_ppt[index] > 0.0 && brings(index) && !is_it(index))
}

fn sources(problem: &Problem) -> Vec<String> {
    let mut sources: Vec<String> = Vec::new();
    for (index, restriction) in problem.restrictions.iter().enumerate() {
        let holds = |rule: &crate::problem::Rule| matches!(rule.kind, RuleKind::Limit { restriction, .. } if restriction == index);
        if problem.rules.iter().any(holds) && !sources.contains(&restriction.source) {
            sources.push(restriction.source.clone());
        }
    }
    sources
}

/// What the coverage and the lines of identities do not tell already.
fn not_checked(
    problem: &Problem,
    neat_ppt: &[f64],
    coverage: Option<&CoverageReport>,
    identities: &[IdentityLine],
) -> Vec<String> {
    let all_free = coverage.is_some_and(|coverage| coverage.complete && coverage.materials > 0);
    let told: Vec<&str> =
        coverage.iter().flat_map(|it| &it.without_figure).filter_map(|it| it.cas.as_deref()).collect();
    let identities: Vec<&str> = identities.iter().map(|line| line.sentence.as_str()).collect();
    sentences::care::not_checked(problem, neat_ppt, all_free, &told, &identities)
}
