//! What is said of idle weight.

use crate::number::{plain, rounded, rounded_up, significant};
use crate::problem::{Problem, RuleId};
use crate::solve::Status;

/// How much of a formula is idle, without a full stop.
pub fn told(ppt: f64, share_percent: f64) -> String {
    let share = if share_percent < 0.1 { "less than 0.1".to_owned() } else { significant(share_percent, 2, 0, 1) };
    format!("{} of 1000 parts bring {share} % of the odour: a solvent would do the same", rounded(ppt, 0))
}

/// A rule that would make more of a formula heard, as the end of "with".
pub fn under(problem: &Problem, rule: &RuleId, at: f64) -> String {
    let at = plain(at);
    match (rule, problem.target_material) {
        (RuleId::MaxIdle, _) => format!("at most {at} \u{2030} of idle weight (max_idle = {at})"),
        (_, Some(material)) => format!(
            "a strength of {at} or more, half that of {} (strength = {{ min = {at} }})",
            problem.material(material).name
        ),
        (_, None) => format!("a strength of {at} or more (strength = {{ min = {at} }})"),
    }
}

/// What is known of the best formula under it: how it ended, `None` where it was
/// not solved; its match in percent, and what none passes.
pub fn way_out(under: &str, then: Option<(Status, Option<f64>, Option<f64>)>) -> String {
    match then {
        None => format!("what the best formula with {under} has was not computed: no time was left for it"),
        Some((Status::Infeasible, ..)) => format!("no blend keeps the other rules with {under} (proven)"),
        Some((Status::Optimal, Some(fidelity), _)) => {
            format!("with {under} the best formula matches {} % (proven)", rounded(fidelity, 2))
        }
        Some((_, Some(fidelity), most)) => format!(
            "with {under} a formula matches {} %, not proven best: at most {} %",
            rounded(fidelity, 2),
            rounded_up(most.unwrap_or(100.0), 2)
        ),
        Some(_) => format!("whether any formula has {under} was not found out in the time allowed"),
    }
}

/// What a shelf has of materials that are idle beside a strength, before anything
/// is solved: how many of how many, and whose strength that is.
pub fn on_the_shelf(idle: usize, of: usize, strength: f64, whose: &str) -> (String, String) {
    let are = if idle == 1 { "is" } else { "are" };
    let message = format!(
        "{idle} of the {of} materials that may be used {are} less than a tenth as strong as {whose} ({}): in a formula \
         of that strength they fill it and are not heard, and no rule says how much of it they may be",
        plain(strength)
    );
    (message, "[formula] max_idle = 250 keeps such idle weight to a quarter of the formula".to_owned())
}
