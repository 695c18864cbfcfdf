//! What is said of the two laws by which odours may add up.

use crate::brief::{Law, Laws};
use crate::number::{plain, rounded};

/// Points of fidelity that a formula may lie apart by the two laws before the choice is
/// worth a sentence: about what the choice costs on average where it is the wrong one.
const APART_POINTS: f64 = 10.0;

/// What the second opinion on a formula is, by its exponent.
pub fn second(exponent: f64) -> &'static str {
    if exponent < 1.0 { "second opinion, strong materials weighing less" } else { "second opinion, by the linear law" }
}

/// What the other law makes of a formula that is judged by one, and what the choice is;
/// `None` where they agree, or both count anyhow. Fidelities are in percent.
pub fn choice(laws: Laws, fidelity: f64, second: f64) -> Option<String> {
    let [law] = laws.each() else { return None };
    if (fidelity - second).abs() <= APART_POINTS {
        return None;
    }
    let apart = rounded((fidelity - second).abs(), 2);
    let of = |law: Law, fidelity: f64| format!("{} % by the {} law", rounded(fidelity, 2), law.word());
    Some(format!(
        "The laws disagree on this formula: {}, {}, {apart} points apart; which of them your nose follows is not \
         known, and law = \"both\" in the brief looks for the formula whose worse law is the nearest",
        of(*law, fidelity),
        of(law.other(), second)
    ))
}

/// What trials say of the exponent of a nose so far.
pub fn so_far(value: f64, error: f64, told: bool) -> String {
    let (value, error) = (rounded(value, 2), rounded(error.max(0.01), 2));
    let but = if told { "" } else { ", which may be anything from 0.3 to 1" };
    format!("By the trials so far the exponent of this nose is {value}, give or take {error}{but}")
}

/// What trials say of the exponent of a nose, one standard deviation beside it, and of
/// which exponent the numbers are that are learned beside it.
pub fn learned(value: f64, error: f64, told: bool, used: f64) -> String {
    let (value, error, used) = (rounded(value, 2), rounded(error.max(0.01), 2), plain(used));
    if told {
        format!(
            "As one more unknown the exponent is {value}, give or take {error}; the corrected numbers are those for \
             exponent {used}"
        )
    } else {
        format!(
            "As one more unknown the exponent may be anything from 0.3 to 1 ({value}, give or take {error}); `permil \
             next` with --about law says which trials would tell"
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_choice_is_named_where_the_laws_disagree() {
        assert_eq!(choice(Laws::Linear, 93.6, 92.6), None);
        assert_eq!(choice(Laws::Both, 93.6, 40.0), None);
        let said = choice(Laws::Linear, 88.4, 76.7).expect("a sentence");
        assert!(
            said.contains("88.40 % by the linear law, 76.70 % by the compressive law, 11.70 points apart"),
            "{said}"
        );
        let said = choice(Laws::Compressive, 88.1, 62.2).expect("a sentence");
        assert!(said.contains("88.10 % by the compressive law, 62.20 % by the linear law"), "{said}");
    }
}
