//! What strikes about a brief.

use crate::analysis::audit::Finding;
use crate::brief::Basis;
use crate::number::{plain, rounded, significant};
use crate::problem::Problem;
use crate::units::Ppt;

/// What is so, without a full stop, and what would mend it, where something is known.
pub fn finding(problem: &Problem, finding: &Finding) -> (String, Option<String>) {
    let name = |material: usize| problem.material(material).name.clone();
    match finding {
        Finding::NeverUsable { material, rules } => (never(problem, *material, rules), None),
        Finding::TooCoarse { material, wanted_ppt, least, step, finer } => {
            let (message, remedy) = coarse(problem, *material, *wanted_ppt, *least, *step, *finer);
            (message, Some(remedy))
        }
        Finding::OneDecade { least, most } => {
            let message = format!(
                "all strengths lie between {} and {}: that looks like how strong each smells, not like how \
                 far each can be diluted",
                plain(*least),
                plain(*most)
            );
            let remedy = "a material is 100 times as strong as another when it smells as strong at 1 % as the \
                          other neat"
                .to_owned();
            (message, Some(remedy))
        }
        Finding::Misplaced { materials, factor, stronger } => {
            let names: Vec<String> = materials.iter().take(5).map(|&material| name(material)).collect();
            let verb = if materials.len() == 1 { "is" } else { "are" };
            let side = if *stronger { "stronger" } else { "weaker" };
            let message = format!(
                "{} {verb} {} times {side} than the next material",
                names.join(", "),
                significant(*factor, 2, 0, 0)
            );
            let remedy = Some("look whether a zero slipped in".to_owned());
            (message, remedy)
        }
        Finding::BeyondLevel { wanted, richest } => {
            let most = richest.map_or("nothing that may be used has any".to_owned(), |(material, total)| {
                format!("the richest material, {}, has {}", name(material), rounded(total, 1))
            });
            let message =
                format!("the target asks for {} points in all, {most}; no blend has more", rounded(*wanted, 1));
            let remedy = Some("match = \"balance\" compares at the target's own total".to_owned());
            (message, remedy)
        }
        Finding::RichNatural { material, total, median } => {
            let message = format!(
                "{} has {} points in all where the median of the shelf is {}: in match level it outweighs \
                 sparse materials",
                name(*material),
                rounded(*total, 1),
                rounded(*median, 1)
            );
            let remedy = Some("match = \"balance\" compares at the target's own total".to_owned());
            (message, remedy)
        }
        Finding::UnknownNatural(material) => {
            let message = format!("{} is a natural whose constituents are not listed", name(*material));
            let remedy = "add constituents, {} where an analysis found none; limits on what it brings stay \
                          unchecked until then"
                .to_owned();
            (message, Some(remedy))
        }
        Finding::Doubtful(it) => {
            let (message, remedy) = super::identity::doubtful(problem, it);
            (message, Some(remedy))
        }
        Finding::NoNumber(materials) => {
            let names: Vec<String> = materials.iter().map(|&material| name(material)).collect();
            let (has, it) = if names.len() == 1 { ("has", "it") } else { ("have", "them") };
            let message = format!("{} {has} no CAS number: limits pass {it} by", names.join(", "));
            (message, None)
        }
        Finding::Twins(a, b) => {
            let price = |material: usize| {
                let material = problem.material(material);
                let price = material.price_per_kg.filter(|_| material.strength > 0.0);
                price.map(|price| price / material.strength)
            };
            let cheaper = match (price(*a), price(*b)) {
                (Some(one), Some(other)) if one < other => Some(*a),
                (Some(one), Some(other)) if other < one => Some(*b),
                _ => None,
            };
            let message = format!("{} and {} have nearly the same scores", name(*a), name(*b));
            let remedy = cheaper.map(|material| format!("{} costs less for the same strength", name(material)));
            (message, remedy)
        }
        Finding::Uncarried { descriptor, wanted } => {
            let word = &problem.palette.descriptors[*descriptor].name;
            let message =
                format!("the target asks for {} {word}, and nothing that may be used has any", plain(*wanted));
            (message, None)
        }
        Finding::IdleWeight { idle, of, strength, material } => {
            let whose = material.map_or("the strength that is asked for".to_owned(), name);
            let (message, remedy) = super::idle::on_the_shelf(idle.len(), *of, *strength, &whose);
            (message, Some(remedy))
        }
        Finding::Unscored(descriptor) => {
            let word = &problem.palette.descriptors[*descriptor].name;
            (format!("no material has a score for {word}"), None)
        }
        Finding::NeverUsual(material, domain) => {
            let usual = problem.material(*material).usual.map(|it| format!("{} to {}", it.least, it.most));
            let may = if domain.least == domain.most {
                domain.least.to_string()
            } else {
                format!("{} to {}", domain.least, domain.most)
            };
            let counted = if problem.basis == Basis::Bottle { "poured" } else { "neat" };
            let message = format!(
                "{} may have {may} \u{2030} {counted}, and {} \u{2030} neat are usual: every dose of it is outside",
                name(*material),
                usual.unwrap_or_default()
            );
            (message, Some("look whether the rules or the usual doses are as they were meant".to_owned()))
        }
        Finding::NothingUsual(_) => {
            let remedy = "`usual = [2, 40]` of a material says at which doses it is mostly used".to_owned();
            ("max_unusual counts nothing: the palette names no usual doses".to_owned(), Some(remedy))
        }
    }
}

fn never(problem: &Problem, material: usize, rules: &[usize]) -> String {
    let why: Vec<String> = rules
        .iter()
        .map(|&rule| {
            let rule = &problem.rules[rule];
            format!("{} ({})", problem.sentence(rule), rule.place)
        })
        .collect();
    let name = &problem.material(material).name;
    if why.is_empty() {
        return format!("{name} can be in no formula");
    }
    format!("{name} can be in no formula: {}", why.join("; "))
}

fn coarse(problem: &Problem, material: usize, wanted: f64, least: Ppt, step: Ppt, finer: Ppt) -> (String, String) {
    let described = problem.material(material);
    let best = significant(wanted, 2, 0, 6);
    let what = if step > Ppt::ZERO {
        format!("its step is {step} \u{2030}")
    } else {
        format!("its least dose is {least} \u{2030}")
    };
    let message = format!("{} would do best at about {best} \u{2030}, but {what}", described.name);
    let percent = described.bottles.first().map_or(100.0, |bottle| bottle.percent);
    let key = if step > Ppt::ZERO { "step" } else { "min" };
    let poured = if problem.basis == crate::brief::Basis::Neat {
        // What the balance sees of one finer step.
        let seen = finer.as_f64() * 100.0 / percent;
        format!(", which is {} \u{2030} poured from its {} % bottle", plain(crate::number::tidy(seen)), plain(percent))
    } else {
        format!(", or a weaker bottle than the one at {} %", plain(percent))
    };
    let poured = if problem.basis == crate::brief::Basis::Neat && percent >= 100.0 {
        ", weighed from a dilution".to_owned()
    } else {
        poured
    };
    // Nobody weighs a step below a hundredth of a part, nor writes one down.
    if finer < Ppt::from_ppt(0.01) {
        let remedy = "it wants a weaker bottle on the shelf and doses of what is poured from it (basis = \"bottle\")";
        return (message, remedy.to_owned());
    }
    (message, format!("a {key} of {finer} \u{2030} would do{poured}"))
}
