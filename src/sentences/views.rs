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
    let alone = name.is_empty() && view.stage.is_none();
    let law = match view.law {
        Law::Linear if alone && !problem.is_linear() => "the linear law",
        Law::Linear if !problem.is_linear() => "linear law",
        Law::Linear => "",
        Law::Compressive if alone => "the compressive law",
        Law::Compressive => "compressive law",
    };
    let stage = view.stage.map_or("", |stage| problem.stage_name(stage));
    let said: Vec<&str> = [stage, &name, law].into_iter().filter(|words| !words.is_empty()).collect();
    match said.split_first() {
        // In brackets, so that a list of views reads as one.
        Some((first, more)) if !more.is_empty() => format!("{first} ({})", more.join(", ")),
        Some((first, _)) => (*first).to_owned(),
        None => String::new(),
    }
}

/// Which view is the worst and what the others have, from their names and fidelities in
/// percent; `weighed` where weights had a say.
pub fn worst(each: &[(&str, f64)], worst: usize, weighed: bool) -> String {
    let of = |(name, fidelity): &(&str, f64)| format!("{name} {} %", rounded(*fidelity, 2));
    let others: Vec<String> = each.iter().enumerate().filter(|(at, _)| *at != worst).map(|(_, one)| of(one)).collect();
    let by = if weighed { " by the weights" } else { "" };
    format!("the worst view{by} is {}; {}", of(&each[worst]), others.join(", "))
}

/// That the worst of several views counts, and which they are; `None` where there is one.
pub fn judged_in(problem: &Problem) -> Option<String> {
    let names: Vec<String> = problem.views.iter().map(|view| called(problem, view)).collect();
    let (last, others) = names.split_last().filter(|(_, others)| !others.is_empty())?;
    // A stage of weight 2 that loses 10 percent counts as 80: no match that anybody smells.
    let is_weighed = problem.views.iter().any(|view| view.weight != 1.0);
    let weighed = if is_weighed {
        "; what a stage loses counts by its weight, so that it may be the match of no stage"
    } else {
        ""
    };
    Some(format!("Every match is that of the worst view of {} and {last}{weighed}", others.join(", ")))
}

/// That draws were judged in one view of several.
pub fn drawn_in(problem: &Problem, view: &View) -> String {
    let name = called(problem, view);
    let lasts = if view.stage.is_some() { ", and how long materials last is not drawn" } else { "" };
    format!(
        "the draws are judged in {name}, the worst view of the first formula{lasts}; the other views may be less sure"
    )
}

/// How changes of odour and scores are measured where there are several views.
pub const AS_MIXED: &str = "what is asked for and what changes is measured as the accord is mixed, by the palette's own \
    numbers; every match is still that of the worst view";

/// Why no steadier formula is sought.
pub const NO_STEADY: &str = "a steadier formula is sought in one view of the accord, and this brief judges it in \
    several: ask without --steady";

/// Why no mod is looked for that teaches.
pub const NO_EXPLORING: &str = "a mod that teaches is sought in one view of the accord, as it is mixed, and this brief \
    judges it in several: ask without --explore";

/// By what the next trials are chosen where there are several views.
pub const OWN_NUMBERS: &str = "what a trial would teach is worked out for the accord as it is mixed, by the palette's own \
    numbers";
