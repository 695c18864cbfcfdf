//! What is said of several views of one formula.

use crate::brief::Law;
use crate::nose::OWN;
use crate::number::rounded;
use crate::problem::{Problem, View};

/// What a view is called: its nose, its stage, its law, as far as it has them.
pub fn called(problem: &Problem, view: &View) -> String {
    let name = match (&*view.name, view.nose) {
        (OWN, Some(_)) => "your own nose".to_owned(),
        (name, Some(_)) => format!("the nose \"{name}\""),
        (name, None) => name.to_owned(),
    };
    let law = match view.law {
        Law::Linear => "",
        Law::Compressive if name.is_empty() && view.stage.is_none() => "the compressive law",
        Law::Compressive => "compressive law",
    };
    let stage = view.stage.map_or("", |stage| problem.stage_name(stage));
    let said = [stage, &name, law];
    said.into_iter().filter(|words| !words.is_empty()).collect::<Vec<_>>().join(", ")
}

/// Which view is the worst and what the others have, from their names and fidelities in
/// percent; `weighed` where weights had a say.
pub fn worst(each: &[(&str, f64)], worst: usize, weighed: bool) -> String {
    let of = |(name, fidelity): &(&str, f64)| format!("{name} {} %", rounded(*fidelity, 2));
    let others: Vec<String> = each.iter().enumerate().filter(|(at, _)| *at != worst).map(|(_, one)| of(one)).collect();
    let by = if weighed { " by the weights" } else { "" };
    format!("the worst view{by} is {}; {}", of(&each[worst]), others.join(", "))
}
