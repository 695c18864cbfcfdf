//! From an accord to the finished product: what its limits leave, the highest
//! dosage that keeps them, and what must stand on the label. Comparisons are
//! made on exact fractions: exactly as much as is allowed is allowed.

use num_rational::BigRational;
use num_traits::{ToPrimitive, Zero};

use crate::brief::{Basis, Brief, Use};
use crate::limits::{Applies, Limits};
use crate::number::tidy;
use crate::palette::Palette;
use crate::place::Place;
use crate::problem::Problem;
use crate::problem::exact::decimal;
use crate::problem::rules::Regulated;
use crate::problem::substance::substance_percent;
use crate::problem::uses::SubstanceUse;

/// What an accord is made into.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Labels as the limits files use them.
    pub categories: Vec<String>,
    /// Percent of concentrate in the finished product, above 0 to 100.
    pub dosage_percent: f64,
    /// Percent of the concentrate that is the accord, above 0 to 100.
    pub accord_share_percent: f64,
}

/// A problem that has finished products and limits, and wants nothing: the
/// rules on substances are all that is asked of it. One product a plan.
pub fn problem_of(palette: Palette, limits: &[Limits], basis: Basis, plans: &[Plan]) -> Problem {
    let place = Place { file: palette.file.clone(), line: 1, column: 1 };
    let many = plans.len() > 1;
    let product = |plan: &Plan| Use {
        name: many.then(|| plan.categories.join(" and ")),
        place: place.clone(),
        categories: plan.categories.clone(),
        dosage_percent: Some(plan.dosage_percent),
        accord_share_percent: plan.accord_share_percent,
        reserve: Vec::new(),
    };
    let brief = Brief {
        basis,
        off_note_weight: 0.0,
        uses: plans.iter().map(product).collect(),
        ..Brief::empty(palette.file.clone())
    };
    Problem::new(palette, &brief, limits)
}

/// The highest dosage of a product, and what sets it.
#[derive(Clone, Debug, PartialEq)]
pub struct Highest {
    /// Percent of concentrate, at most 100; 0 where it may not be used at all.
    pub dosage_percent: f64,
    /// The substance whose limit is full then, or the name of a shared limit;
    /// `None` at 100.
    pub by: Option<String>,
    /// The restriction whose limit it is, or those that share it and are in
    /// use, as indices into the problem's; empty at 100.
    pub restrictions: Vec<usize>,
}

/// A limit that is passed at the dosage of the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Passed {
    /// The substance, or the name of a shared limit.
    pub what: String,
}

/// For each product the highest dosage that keeps every limit, from the neat
/// parts per thousand of every material, and what is passed at its own dosage.
/// Uses grow with the dosage in proportion.
pub fn highest_dosages(problem: &Problem, neat_ppt: &[f64]) -> Vec<(Highest, Vec<Passed>)> {
    let mut uses = problem.substance_uses(neat_ppt);
    uses.retain(|used| !used.from.is_empty());
    (0..problem.products.len()).map(|product| highest_dosage(problem, product, &uses, neat_ppt)).collect()
}

fn highest_dosage(
    problem: &Problem,
    product: usize,
    uses: &[SubstanceUse],
    neat_ppt: &[f64],
) -> (Highest, Vec<Passed>) {
    let dosage = decimal(problem.products[product].dosage_percent.unwrap_or(100.0));
    let of_product = uses.iter().filter(|used| used.product == product);
    let mut most = decimal(100.0);
    let mut by = None;
    let mut of = Vec::new();
    let mut passed = Vec::new();
    let mut limit = |what: &str, restrictions: Vec<usize>, used: BigRational, allowed: BigRational| {
        if used.is_zero() {
            return;
        }
        if used > allowed {
            passed.push(Passed { what: what.to_owned() });
        }
        let highest = &dosage * allowed / used;
        if highest < most {
            (most, by, of) = (highest, Some(what.to_owned()), restrictions);
        }
    };
    let shares = |restriction: usize| {
        problem.rules.iter().any(|rule| match rule.kind.regulated() {
            Some(Regulated::Shared { members, product: of }) => {
                of == product && members.iter().any(|(member, _)| *member == restriction)
            }
            Some(Regulated::One { .. }) | None => false,
        })
    };
    for used in of_product {
        let restriction = &problem.restrictions[used.restriction];
        if !shares(used.restriction) {
            let use_percent = exact_use(problem, used, neat_ppt);
            limit(&restriction.substance, vec![used.restriction], use_percent, decimal(used.limit_percent));
        }
    }
    for rule in &problem.rules {
        let Some(Regulated::Shared { members, product: of }) = rule.kind.regulated() else { continue };
        if of != product {
            continue;
        }
        let mut sum = BigRational::zero();
        let mut shared = Vec::new();
        for used in uses.iter().filter(|used| used.product == product) {
            if members.iter().any(|(member, _)| *member == used.restriction) {
                sum += exact_use(problem, used, neat_ppt) / decimal(used.limit_percent);
                shared.push(used.restriction);
            }
        }
        let name = members.first().and_then(|(member, _)| problem.restrictions[*member].joint.clone());
        limit(&name.unwrap_or_default(), shared, sum, decimal(rule.at));
    }
    (Highest { dosage_percent: most.to_f64().unwrap_or(0.0), by, restrictions: of }, passed)
}

/// A use in percent of the finished product, exactly.
fn exact_use(problem: &Problem, used: &SubstanceUse, neat_ppt: &[f64]) -> BigRational {
    let restriction = &problem.restrictions[used.restriction];
    let product = &problem.products[used.product];
    let in_accord = |&(material, _): &(usize, f64)| {
        let percent = substance_percent(restriction, restriction.applies, problem.material(material));
        decimal(tidy(neat_ppt[material])) * percent
    };
    let sum = used.from.iter().map(in_accord).sum::<BigRational>();
    of_product(sum, product.accord_share_percent, product.dosage_percent.unwrap_or(0.0))
}

/// `sum of ppt times percent` of an accord as percent of the product.
fn of_product(ppt_percent: BigRational, accord_share_percent: f64, dosage_percent: f64) -> BigRational {
    ppt_percent * decimal(accord_share_percent) * decimal(dosage_percent) / decimal(1000.0 * 100.0 * 100.0)
}

/// A substance that the label rules speak of, and how much of it there is.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Index of the limits file, and of the allergen within it.
    pub at: (usize, usize),
    /// Percent of the finished product.
    pub percent: f64,
    /// The share above which it must be named, in percent.
    pub above_percent: f64,
    /// Whether it must be: more than that, exactly.
    pub is_named: bool,
    /// (material, percent of the finished product) of each source, the most
    /// first.
    pub from: Vec<(usize, f64)>,
}

/// What of the label lists is in a product, in the order of the lists. A
/// material counts whole under its own CAS number, or its name where it has no
/// number, and otherwise with its listed constituents.
pub fn label(problem: &Problem, limits: &[Limits], plan: &Plan, neat_ppt: &[f64]) -> Vec<Named> {
    let mut found = Vec::new();
    for (file, limits) in limits.iter().enumerate() {
        for (at, allergen) in limits.allergens.iter().enumerate() {
            let Some((_, above_percent)) = allergen.holding(&plan.categories) else { continue };
            let percent_of = |material| substance_percent(allergen, Applies::All, material);
            let mut sum = BigRational::zero();
            let mut from = Vec::new();
            for (material, &ppt) in neat_ppt.iter().enumerate().filter(|(_, ppt)| **ppt > 0.0) {
                let brought = decimal(tidy(ppt)) * percent_of(problem.material(material));
                let brought = of_product(brought, plan.accord_share_percent, plan.dosage_percent);
                if !brought.is_zero() {
                    from.push((material, brought.to_f64().unwrap_or(0.0)));
                    sum += brought;
                }
            }
            from.sort_by(|a, b| b.1.total_cmp(&a.1));
            if !sum.is_zero() {
                let is_named = sum > decimal(above_percent);
                let percent = sum.to_f64().unwrap_or(0.0);
                found.push(Named { at: (file, at), percent, above_percent, is_named, from });
            }
        }
    }
    found
}

/// Every label of limits files, restrictions and label lists, in the order in
/// which they come; the star is none.
pub fn labels(limits: &[Limits]) -> Vec<&str> {
    let mut labels: Vec<&str> = Vec::new();
    for file in limits {
        let restricted = file.restrictions.iter().flat_map(|it| it.limits.iter().map(|(label, _)| label.as_str()));
        let named = file.allergens.iter().flat_map(|it| it.label_above.iter().map(|(label, _)| label.as_str()));
        for label in restricted.chain(named) {
            if label != crate::limits::EVERY_CATEGORY && !labels.contains(&label) {
                labels.push(label);
            }
        }
    }
    labels
}
