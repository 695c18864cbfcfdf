//! What a picture of an accord that dries leaves out.

use crate::number::rounded_up;
use crate::solve::clocks::Holds;

/// The caution in one line.
pub const IN_SHORT: &str = "An ideal film in still air at 25 °C: no skin, no draught. Smell it.";

/// For which amounts left on the paper something is proven, as the end of a phrase; nothing
/// where it is proven for all, or there are no stages. `any_amounts` is the fidelity in
/// percent that no formula passes by its own, where that is known.
pub fn scope(holds: Option<Holds>, any_amounts: Option<f64>) -> String {
    let none = any_amounts.map(|most| format!("; by what its own film leaves, none passes {} %", rounded_up(most, 2)));
    match holds {
        Some(Holds::OwnAmounts) => format!(" for these amounts left on the paper{}", none.unwrap_or_default()),
        Some(Holds::AnyAmounts) | None => String::new(),
    }
}

/// What is said where several formulas stand side by side that were all judged by the clocks of
/// one: `apart` is the most that the match of one moves by the clock of its own film, in
/// points, and `broken` how many break a rule of a stage by that, of `count`.
pub fn by_one_film(apart: f64, broken: usize, count: usize) -> String {
    let moved = match rounded_up(apart, 2) {
        apart if apart == "0.00" => "none moves by as much as 0.01 points".to_owned(),
        apart => format!("they move by up to {apart} points"),
    };
    let rules = match broken {
        0 => "and all keep the rules of the stages".to_owned(),
        broken => format!("and {broken} of {count} break a rule of a stage"),
    };
    format!(
        "matches at the stages are by what the film of the brief's best formula leaves; by what its own film leaves, \
         {moved}, {rules}"
    )
}

/// What is assumed of some materials, then what the film leaves out; a sentence each.
pub fn notes(assumed: &[&str]) -> Vec<String> {
    let mut notes = Vec::new();
    if !assumed.is_empty() {
        let (names, last) = (assumed.join(", "), if assumed.len() == 1 { "this lasts" } else { "these last" });
        notes.push(format!(
            "The palette does not say how long {last}: {names}. The median of the shelf's materials of the same note \
             stands in, taken as good to a factor of three."
        ));
    }
    notes.push(
        "An ideal film in still air at 25 °C: ten degrees more dry it about twice as fast, draughts faster. A blotter is \
         no skin, a natural has many tenacities, and a nose tires: smell it."
            .to_owned(),
    );
    notes
}
