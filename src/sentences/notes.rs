//! What is to be known of a formula before its numbers, and what is written on a
//! bottle.

use std::fmt::Display;

use crate::brief::Basis;
use crate::units::Ppt;

/// Its parts do not add up, and nobody said what to do about it.
pub fn not_used(sum: Ppt) -> String {
    let gap = Ppt::WHOLE - sum;
    let (by, what) = if gap > Ppt::ZERO { (gap, "are missing") } else { (-gap, "are too much") };
    format!("Its parts add up to {sum}: {by} {what}. It was not used; --rescale scales it to 1000.")
}

/// Its parts were made to add up.
pub fn rescaled(sum: Ppt) -> String {
    format!("Its parts add up to {sum} and were scaled to 1000.")
}

/// It was written in the other basis.
pub fn converted(from: Basis, to: Basis) -> String {
    format!(
        "Its parts count in basis {}; they were converted to basis {}. Steps and the bounds of single doses were not \
         judged on it.",
        from.word(),
        to.word()
    )
}

/// It cannot be judged.
pub fn no_numbers(error: &impl Display) -> String {
    format!("It has no numbers: {error}.")
}

/// The label of a dilution to make: so many percent by mass of a material.
pub fn label(name: &str, cas: Option<&str>, percent: &str, carrier: &str) -> String {
    let cas = cas.map(|cas| format!(" (CAS {cas})")).unwrap_or_default();
    format!("{name}{cas}, {percent} % by mass in {carrier}; made on ________, lot ________")
}
