//! What was checked and what was not: every report that a person could mix
//! from says it.

use serde::Serialize;

use super::identity::{IdentityLine, identities};
use super::{CoverageReport, Ordered};
use crate::analysis::identity::phototoxic;
use crate::analysis::unchecked::{has_limits, is_used, unknown_naturals, without_figure};
use crate::limits::{Counts, Restriction};
use crate::number::plain;
use crate::problem::substance::substance_fraction;
use crate::problem::{FinishedProduct, Problem, RuleKind};

/// What a formula is and is not, in every report that shows one: three lines
/// at 80 columns. [`cautions`] is the whole of it.
pub const CAUTION: &str = "A starting point for smelling, not a safety assessment. Not on skin before a qualified \
                           assessor has seen it: the law where it is sold decides. Handle strong materials \
                           diluted, with gloves and air: skin and airways can become sensitised.";

/// A line for the bench on the materials of a formula that are known to be
/// phototoxic.
pub fn light(phototoxic: &[String]) -> Option<String> {
    let names = phototoxic.join(", ");
    (!phototoxic.is_empty()).then(|| format!("{names}: if expressed (cold pressed), can burn skin in sunlight"))
}

/// What stands above the whole list of cautions.
pub const CAUTIONS_HEAD: &str = "Before it is mixed or worn";

/// The same where ethanol is poured, in as many lines.
pub const CAUTION_AND_FIRE: &str = "A starting point for smelling, not a safety assessment. Not on skin before a \
                                    qualified assessor has seen it. Handle strong materials diluted, with gloves and \
                                    air. Ethanol and its vapour burn: no flame, no spark.";

/// Wherever ethanol is poured.
pub const FIRE: &str = "Ethanol burns, and so does its vapour: no flame and no spark near it. Most odour materials \
                        burn as well.";

/// One thing to mind before a formula is mixed or worn.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// What it is about, in a word or two.
    pub about: &'static str,
    /// What to mind.
    pub text: String,
}

/// Everything to mind before a formula is mixed or worn, with the materials in
/// it that are known to be phototoxic. Common practice of the trade, from
/// memory.
pub fn cautions(phototoxic: &[String]) -> Vec<Caution> {
    let here = match phototoxic {
        [] => String::new(),
        names => format!(" In this formula: {}.", names.join(", ")),
    };
    let caution = |about, text: &str| Caution { about, text: text.to_owned() };
    vec![
        caution(
            "Skin",
            "Many odour materials sensitise the skin, for life and by small amounts. Wear gloves, keep neat materials \
             off the skin, and stop at the first itch.",
        ),
        caution(
            "Breathing",
            "Vapour and spray irritate the airways and can sensitise them. Work where the air moves; with asthma, ask \
             a doctor first.",
        ),
        caution(
            "On skin",
            "Nothing made from this goes on anybody's skin, your own included, before a qualified assessor has seen \
             formula and product.",
        ),
        caution(
            "Pregnancy and children",
            "While pregnant or nursing, leave it be unless a doctor agrees. Keep it from children and animals, and out \
             of what is made for children.",
        ),
        Caution {
            about: "Light",
            text: format!(
                "Expressed citrus oils (bergamot, lemon, lime, bitter orange, grapefruit) and the oils of angelica \
                 root, cumin and rue can burn skin in sunlight, hours after they were put on.{here}"
            ),
        },
        caution(
            "Peroxides",
            "Linalool, limonene and the oils rich in them (citrus, lavender, pine) form peroxides in air, and those \
             sensitise. Keep bottles full, cool, dark and dated, and discard old stock.",
        ),
        caution("Fire", FIRE),
        caution(
            "Law",
            "What may be sold, and what its label says, is decided by the law of the place. The limits and label lists \
             used here are for orientation.",
        ),
        caution(
            "Assessor",
            "A qualified assessor judges the finished product before it is worn or sold; many laws demand it.",
        ),
    ]
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
            caution: CAUTION,
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

/// How a product is called in a sentence.
pub fn product_name(name: Option<&str>) -> &str {
    name.unwrap_or("the finished product")
}

fn not_checked(
    problem: &Problem,
    neat_ppt: &[f64],
    coverage: Option<&CoverageReport>,
    identities: &[IdentityLine],
) -> Vec<String> {
    let mut sentences = Vec::new();
    let all_free = coverage.is_some_and(|coverage| coverage.complete && coverage.materials > 0);
    if !has_limits(problem) && !all_free {
        sentences.push(if problem.restrictions.is_empty() {
            "NO LIMITS APPLIED: the brief names no limits file.".to_owned()
        } else {
            "NO LIMITS APPLIED: no restriction has a figure for these categories.".to_owned()
        });
    }
    sentences.extend(identities.iter().map(|line| format!("{}.", line.sentence)));
    for product in &problem.products {
        let called = product_name(product.name.as_deref());
        if product.dosage_percent.is_none() {
            sentences.push(format!("The brief names no dosage for {called}: nothing was checked in it."));
        }
    }
    for (product, restrictions) in without_figure(problem, neat_ppt) {
        let called = product_name(problem.products[product].name.as_deref());
        // What the coverage tells is not told twice.
        let told = |restriction: &Restriction| {
            let silent = coverage.into_iter().flat_map(|coverage| &coverage.without_figure);
            silent.filter_map(|line| line.cas.as_deref()).any(|cas| restriction.cas.iter().any(|it| it.as_str() == cas))
        };
        let untold = restrictions.iter().map(|&r| &problem.restrictions[r]).filter(|restriction| !told(restriction));
        let names: Vec<&str> = untold.map(|restriction| restriction.substance.as_str()).collect();
        if names.is_empty() {
            continue;
        }
        let names = names.join(", ");
        sentences.push(format!("No figure on file for the categories of {called}: {names}."));
    }
    sentences.extend(advice_left_out(problem, neat_ppt));
    for product in problem.products.iter().filter(|product| product.dosage_percent.is_some()) {
        sentences.push(rest_of_concentrate(product));
    }
    sentences
}

/// Advice on materials that has nothing to be checked against.
fn advice_left_out(problem: &Problem, neat_ppt: &[f64]) -> Option<String> {
    let no_use = problem.products.is_empty();
    let no_dosage = problem.products.iter().all(|product| product.dosage_percent.is_none());
    let materials = problem.palette.materials.iter().zip(neat_ppt).filter(|(_, ppt)| **ppt > 0.0);
    let names: Vec<&str> = materials
        .filter(|(material, _)| {
            (no_use && material.max_in_concentrate_percent.is_some())
                || (no_dosage && material.max_in_product_percent.is_some())
        })
        .map(|(material, _)| material.name.as_str())
        .collect();
    let lacking = if no_use { "the brief has no [use]" } else { "no [use] has a dosage" };
    (!names.is_empty()).then(|| {
        format!(
            "The maxima that the palette recommends in concentrate and product were not checked, since {lacking}: {}.",
            names.join(", ")
        )
    })
}

fn rest_of_concentrate(product: &FinishedProduct) -> String {
    let called = product_name(product.name.as_deref());
    let rest = 100.0 - product.accord_share_percent;
    if rest <= 0.0 && product.reserve.is_empty() {
        return format!("In {called} the accord is taken for the whole of the concentrate.");
    }
    let reserve: Vec<String> =
        product.reserve.iter().map(|(cas, percent)| format!("{} % of {cas}", plain(*percent))).collect();
    let counted = if reserve.is_empty() {
        "is not counted".to_owned()
    } else {
        format!("counts only with its reserve of {}", reserve.join(" and "))
    };
    format!("What the rest of the concentrate brings to {called} {counted}.")
}
