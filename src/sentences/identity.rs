//! Materials whose CAS number does not tell the limits what they are.

use crate::analysis::identity::{Doubtful, Subject, Unlabelled, label_doubts};
use crate::limits::Allergen;
use crate::problem::Problem;
use crate::substances::Substance;

/// The substances of some restrictions, each once.
pub fn restricted(problem: &Problem, restrictions: &[usize]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for &restriction in restrictions {
        let name = &problem.restrictions[restriction].substance;
        if !names.contains(name) {
            names.push(name.clone());
        }
    }
    names
}

/// What is not known of a material, without a full stop, and what would mend it.
pub fn doubtful(problem: &Problem, it: &Doubtful) -> (String, String) {
    match it {
        Doubtful::ByName { subject, restrictions } => (
            format!(
                "{} has no CAS number and is matched by its name: limits count it as {}",
                called(problem, subject),
                restricted(problem, restrictions).join(", ")
            ),
            "write its number (cas) to be sure".to_owned(),
        ),
        Doubtful::MayBe { subject, known, .. } => (
            format!(
                "{} has no CAS number; by its name it may be {}: limits pass it by until the number is written",
                called(problem, subject),
                name_and_number(known)
            ),
            format!("write cas = \"{}\" if that is what it is", known.cas),
        ),
        Doubtful::OtherNumber { subject, by_name, by_number } => (
            format!(
                "{} has the CAS number of another substance, {}; by its name it may be {}",
                called(problem, subject),
                name_and_number(by_number),
                name_and_number(by_name)
            ),
            "look at the bottle: limits and labels go by the number".to_owned(),
        ),
        Doubtful::LeftOut { restriction, known, materials } => {
            let materials: Vec<&str> = materials.iter().map(|&it| problem.material(it).name.as_str()).collect();
            (
                format!(
                    "The limit on {} does not count {} ({}), though it counts other numbers of the same sum, {}",
                    problem.restrictions[*restriction].substance,
                    known.cas,
                    materials.join(", "),
                    known.sum
                ),
                "add the number to its cas where the source means it too".to_owned(),
            )
        }
    }
}

fn called(problem: &Problem, subject: &Subject) -> String {
    let name = &problem.material(subject.material).name;
    subject.part.as_ref().map_or_else(|| name.clone(), |part| format!("{part} (in {name})"))
}

/// "Isoeugenol, 97-54-1".
pub fn name_and_number(known: &Substance) -> String {
    format!("{}, {}", known.names.first().unwrap_or(&known.sum), known.cas)
}

/// What a label list says of materials without a number, a sentence each.
pub fn on_the_label(problem: &Problem, allergens: &[&Allergen], neat_ppt: &[f64]) -> Vec<String> {
    let sentence = |it: &Unlabelled| {
        let called = called(problem, &it.subject);
        match it.may_be {
            Some(known) => format!(
                "{called} has no CAS number; by its name it may be {}: the label list passes it by until the number \
                 is written.",
                name_and_number(known)
            ),
            None => format!(
                "{called} has no CAS number and is matched by its name: the label list counts it as {}.",
                it.counted_as.join(", ")
            ),
        }
    };
    label_doubts(problem, allergens, neat_ppt).iter().map(sentence).collect()
}
