//! What strikes about a brief, in words.

use serde::Serialize;

use super::identity::{IdentityKind, IdentityLine};
use crate::analysis::audit::Finding;
use crate::analysis::identity::Doubtful;
use crate::number::{plain, rounded, significant};
use crate::place::Place;
use crate::problem::Problem;
use crate::units::Ppt;

/// What a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FindingKind {
    /// A material that can be in no formula.
    NeverUsable,
    /// A material whose step or least dose is too coarse.
    TooCoarse,
    /// All strengths lie close together.
    OneDecade,
    /// A strength that stands alone.
    MisplacedStrength,
    /// A target beyond the level that the shelf reaches.
    BeyondLevel,
    /// A natural that is compared at its level.
    RichNatural,
    /// A natural of unknown constituents.
    UnknownNatural,
    /// A material that its number does not tell the limits.
    Identity(IdentityKind),
    /// Materials without a CAS number.
    NoNumber,
    /// Two materials of nearly the same scores.
    NearTwins,
    /// A wanted descriptor that nothing has.
    Uncarried,
    /// A descriptor that nobody scored.
    Unscored,
}

impl FindingKind {
    /// The word that reports have for it.
    pub const fn word(self) -> &'static str {
        match self {
            FindingKind::NeverUsable => "never usable",
            FindingKind::TooCoarse => "too coarse",
            FindingKind::OneDecade => "one decade",
            FindingKind::MisplacedStrength => "misplaced strength",
            FindingKind::BeyondLevel => "beyond level",
            FindingKind::RichNatural => "rich natural",
            FindingKind::UnknownNatural => "unknown natural",
            FindingKind::Identity(kind) => kind.word(),
            FindingKind::NoNumber => "no number",
            FindingKind::NearTwins => "near twins",
            FindingKind::Uncarried => "uncarried",
            FindingKind::Unscored => "unscored",
        }
    }
}

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// It may not be as it was meant.
    Warning,
    /// Good to know.
    Note,
}

/// Something that may not be as it was meant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingLine {
    /// What it is, in a word that stays the same: `never usable`, `too
    /// coarse`, `one decade`, `misplaced strength`, `beyond level`, `rich
    /// natural`, `unknown natural`, `matched by name`, `may be`, `other number`,
    /// `left out`, `no number`, `near twins`, `uncarried`, `unscored`.
    pub kind: FindingKind,
    /// `warning` or `note`.
    pub severity: Severity,
    /// The file that it is about.
    pub file: String,
    /// The line, counted from 1; null where it is about the whole file.
    pub line: Option<usize>,
    /// The materials that it is about.
    pub materials: Vec<String>,
    /// What is so, as a sentence without a full stop.
    pub message: String,
    /// What could be done, likewise.
    pub remedy: Option<String>,
}

impl FindingLine {
    /// A finding in words.
    pub fn new(problem: &Problem, finding: &Finding) -> FindingLine {
        let name = |material: usize| problem.material(material).name.clone();
        let described = |material: usize| Some(problem.material(material).place.clone());
        let palette = || problem.palette.file.to_string();
        let line = |kind, severity, place: Option<Place>, materials: &[usize], message, remedy| FindingLine {
            kind,
            severity,
            file: place.as_ref().map_or_else(palette, |place| place.file.to_string()),
            line: place.map(|place| place.line),
            materials: materials.iter().map(|&material| name(material)).collect(),
            message,
            remedy,
        };
        match finding {
            Finding::NeverUsable { material, rules } => {
                let place = rules.first().map(|&rule| problem.rules[rule].place.clone());
                line(
                    FindingKind::NeverUsable,
                    Severity::Warning,
                    place,
                    &[*material],
                    never(problem, *material, rules),
                    None,
                )
            }
            Finding::TooCoarse { material, wanted_ppt, least, step, finer } => {
                let (message, remedy) = coarse(problem, *material, *wanted_ppt, *least, *step, *finer);
                line(
                    FindingKind::TooCoarse,
                    Severity::Warning,
                    described(*material),
                    &[*material],
                    message,
                    Some(remedy),
                )
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
                line(FindingKind::OneDecade, Severity::Warning, None, &[], message, Some(remedy))
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
                let place = materials.first().and_then(|&material| described(material));
                let remedy = Some("look whether a zero slipped in".to_owned());
                line(FindingKind::MisplacedStrength, Severity::Warning, place, materials, message, remedy)
            }
            Finding::BeyondLevel { wanted, richest } => {
                let most = richest.map_or("nothing that may be used has any".to_owned(), |(material, total)| {
                    format!("the richest material, {}, has {}", name(material), rounded(total, 1))
                });
                let message =
                    format!("the target asks for {} points in all, {most}; no blend has more", rounded(*wanted, 1));
                let remedy = Some("match = \"balance\" compares at the target's own total".to_owned());
                line(FindingKind::BeyondLevel, Severity::Warning, None, &[], message, remedy)
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
                line(FindingKind::RichNatural, Severity::Note, described(*material), &[*material], message, remedy)
            }
            Finding::UnknownNatural(material) => {
                let message = format!("{} is a natural whose constituents are not listed", name(*material));
                let remedy = "add constituents, {} where an analysis found none; limits on what it brings stay \
                              unchecked until then"
                    .to_owned();
                line(
                    FindingKind::UnknownNatural,
                    Severity::Warning,
                    described(*material),
                    &[*material],
                    message,
                    Some(remedy),
                )
            }
            Finding::Doubtful(it) => doubtful(problem, it),
            Finding::NoNumber(materials) => {
                let names: Vec<String> = materials.iter().map(|&material| name(material)).collect();
                let (has, it) = if names.len() == 1 { ("has", "it") } else { ("have", "them") };
                let message = format!("{} {has} no CAS number: limits pass {it} by", names.join(", "));
                let place = materials.first().and_then(|&material| described(material));
                line(FindingKind::NoNumber, Severity::Warning, place, materials, message, None)
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
                line(FindingKind::NearTwins, Severity::Note, described(*b), &[*a, *b], message, remedy)
            }
            Finding::Uncarried { descriptor, wanted } => {
                let word = &problem.palette.descriptors[*descriptor].name;
                let message =
                    format!("the target asks for {} {word}, and nothing that may be used has any", plain(*wanted));
                line(FindingKind::Uncarried, Severity::Warning, None, &[], message, None)
            }
            Finding::Unscored(descriptor) => {
                let word = &problem.palette.descriptors[*descriptor].name;
                line(
                    FindingKind::Unscored,
                    Severity::Note,
                    None,
                    &[],
                    format!("no material has a score for {word}"),
                    None,
                )
            }
        }
    }
}

/// A material that its CAS number does not tell the limits.
fn doubtful(problem: &Problem, it: &Doubtful) -> FindingLine {
    let place = match it {
        Doubtful::ByName { subject, .. } | Doubtful::MayBe { subject, .. } | Doubtful::OtherNumber { subject, .. } => {
            &problem.material(subject.material).place
        }
        Doubtful::LeftOut { restriction, .. } => &problem.restrictions[*restriction].place,
    };
    let line = IdentityLine::new(problem, it);
    FindingLine {
        kind: FindingKind::Identity(line.kind),
        severity: Severity::Warning,
        file: place.file.to_string(),
        line: Some(place.line),
        materials: line.materials,
        message: line.sentence,
        remedy: Some(line.remedy),
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
