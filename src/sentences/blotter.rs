//! What a picture of an accord that dries leaves out.

use crate::solve::clocks::Holds;

/// The caution in one line.
pub const IN_SHORT: &str = "An ideal film in still air at 25 °C: no skin, no draught. Smell it.";

/// For which amounts left on the paper something is proven, as the end of a phrase; nothing
/// where it is proven for all, or there are no stages.
pub fn scope(holds: Option<Holds>) -> &'static str {
    match holds {
        Some(Holds::OwnAmounts) => " for these amounts left on the paper",
        Some(Holds::AnyAmounts) | None => "",
    }
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
