//! What was checked of a formula and what was not, and the cautions.

use crate::analysis::unchecked::{has_limits, without_figure};
use crate::balance::vessel::Vessel;
use crate::limits::Restriction;
use crate::number::plain;
use crate::problem::{FinishedProduct, Problem};

/// What a formula is and is not, in every report that shows one: three lines
/// at 80 columns. [`cautions`] is the whole of it.
pub const CAUTION: &str = "A starting point for smelling, not a safety assessment. Not on skin before a qualified \
                           assessor has seen it: the law where it is sold decides. Handle strong materials \
                           diluted, with gloves and air: skin and airways can become sensitised.";

/// What stands above the whole list of cautions.
pub const CAUTIONS_HEAD: &str = "Before it is mixed or worn";

/// The same as [`CAUTION`] where ethanol is poured, in as many lines.
pub const CAUTION_AND_FIRE: &str = "A starting point for smelling, not a safety assessment. Not on skin before a \
                                    qualified assessor has seen it; local law decides. Gloves and air: skin and \
                                    airways can become sensitised. Ethanol and its vapour burn: no flame, no spark.";

/// Wherever ethanol is poured.
pub const FIRE: &str = "Ethanol burns, and so does its vapour: no flame and no spark near it. Most odour materials \
                        burn as well.";

/// A line for the bench on the materials of a formula that are known to be
/// phototoxic.
pub fn light(phototoxic: &[String]) -> Option<String> {
    let names = phototoxic.join(", ");
    (!phototoxic.is_empty()).then(|| format!("{names}: if expressed (cold pressed), can burn skin in sunlight"))
}

/// How a product is called in a sentence.
pub fn product_name(name: Option<&str>) -> &str {
    name.unwrap_or("the finished product")
}

/// Everything to mind before a formula is mixed or worn, with the materials in
/// it that are known to be phototoxic. Common practice of the trade, from
/// memory.
pub fn cautions(phototoxic: &[String]) -> Vec<(&'static str, String)> {
    let here = match phototoxic {
        [] => String::new(),
        names => format!(" In this formula: {}.", names.join(", ")),
    };
    let caution = |about: &'static str, text: &str| (about, text.to_owned());
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
        (
            "Light",
            format!(
                "Expressed citrus oils (bergamot, lemon, lime, bitter orange, grapefruit) and the oils of angelica \
                 root, cumin and rue can burn skin in sunlight, hours after they were put on.{here}"
            ),
        ),
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

/// Everything that was not checked of a formula of these neat parts per thousand,
/// a sentence each. `all_free` says that every material was looked up and none is
/// restricted, `told` has the CAS numbers that were told to have no figure, and
/// `identities` what is doubtful of materials.
pub fn not_checked(
    problem: &Problem,
    neat_ppt: &[f64],
    all_free: bool,
    told: &[&str],
    identities: &[&str],
) -> Vec<String> {
    let mut sentences = Vec::new();
    if !has_limits(problem) && !all_free {
        sentences.push(if problem.restrictions.is_empty() {
            "NO LIMITS APPLIED: the brief names no limits file.".to_owned()
        } else {
            "NO LIMITS APPLIED: no restriction has a figure for these categories.".to_owned()
        });
    }
    sentences.extend(identities.iter().map(|line| format!("{line}.")));
    for product in &problem.products {
        let called = product_name(product.name.as_deref());
        if product.dosage_percent.is_none() {
            sentences.push(format!("The brief names no dosage for {called}: nothing was checked in it."));
        }
    }
    for (product, restrictions) in without_figure(problem, neat_ppt) {
        let called = product_name(problem.products[product].name.as_deref());
        // What the coverage tells is not told twice.
        let is_told =
            |restriction: &Restriction| told.iter().any(|cas| restriction.cas.iter().any(|it| it.as_str() == *cas));
        let untold = restrictions.iter().map(|&r| &problem.restrictions[r]).filter(|restriction| !is_told(restriction));
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

/// What is said of carriers that no limit can look at.
pub fn unchecked_carriers(problem: &Problem, vessel: &Vessel) -> Option<String> {
    let names: Vec<&str> = vessel.unchecked(problem).collect();
    let are = if names.len() == 1 { "the palette gives no CAS number for it" } else { "no CAS numbers are on file" };
    (!names.is_empty()).then(|| format!("What is poured brings {}: {are}, so limits pass it by.", names.join(" and ")))
}

/// Where nothing was asked for that limits could be checked in.
pub const NO_BRIEF: &str = "NO LIMITS APPLIED: no brief was given (--brief) that names limits and a product.";
