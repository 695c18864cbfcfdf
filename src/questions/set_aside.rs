//! What a brief says against a material that is looked at all the same.

use crate::problem::{Absence, Problem};

/// What the brief says against using a material, set aside to look at it.
pub(super) fn set_aside(problem: &Problem, material: usize) -> Option<String> {
    let name = &problem.material(material).name;
    match problem.domains()[material] {
        Ok(domain) if domain.fixed => {
            Some(format!("The brief fixes {name} at {} ‰; that is set aside here.", domain.least))
        }
        Ok(_) => None,
        Err(Absence::TargetItself) => {
            Some(format!("The target is {name} itself, which the brief leaves out; it is let in here."))
        }
        Err(Absence::UnnamedCarrier) => {
            Some(format!("{name} is a carrier, which the brief leaves out; it is let in here."))
        }
        Err(Absence::Rule(rule)) => {
            let rule = &problem.rules[rule];
            Some(format!("The brief leaves {name} out ({}); it is let in here.", problem.sentence(rule)))
        }
    }
}
