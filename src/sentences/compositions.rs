//! What is said of a published composition beside a palette.

use crate::analysis::learn::{Alone, Kind, Moved, Odds};
use crate::number::{rounded, rounded_up, significant};
use crate::palette::Palette;
use crate::trials::Trial;

/// Changes that are told in a sentence.
const TOLD: usize = 4;

/// How like the natural the composition would smell, how much of it is open, what
/// would have to change, and what alone would mend most.
pub fn beside(palette: &Palette, trial: &Trial, odds: Option<&Odds>) -> Vec<String> {
    let Some(analysed) = &trial.analysed else { return Vec::new() };
    let composition = &analysed.composition;
    let what = composition.title.as_deref().unwrap_or(&trial.code);
    let source = composition.source.as_ref().map_or_else(String::new, |source| format!(" ({source})"));
    let Some(odds) = odds else {
        return vec![format!("the published composition of {what}{source} could not be held against your numbers")];
    };
    let mut all = Vec::new();
    if let Some(fidelity) = odds.fidelity_percent {
        let is = if odds.is_at_odds() { ", which is at odds with it" } else { ", within what is unsure" };
        all.push(format!(
            "by your numbers the published composition of {what}{source} would smell {} % like what was smelled{is}",
            rounded(fidelity, 1)
        ));
    }
    let open = analysed.open_percent();
    if open > 0.0 {
        let lacking: Vec<&str> = analysed.open_parts().map(|part| part.name.as_str()).collect();
        let not_here = match &lacking[..] {
            [] => String::new(),
            some => format!(", {} of it not on the shelf", some.join(", ")),
        };
        all.push(format!(
            "{} % of it is open{not_here}: each score is held to within {} points",
            rounded_up(open, 1),
            rounded_up(odds.error, 1)
        ));
    }
    let changes: Vec<String> = odds.moved.iter().take(TOLD).map(|moved| change(palette, moved)).collect();
    match (&changes[..], odds.reconciled_percent) {
        ([], _) => all.push("no number would have to change".to_owned()),
        (some, Some(then)) => {
            all.push(format!("to come to {} % these would change most: {}", rounded(then, 1), some.join("; ")));
        }
        (some, None) => all.push(format!("these would change most: {}", some.join("; "))),
    }
    if let Some(alone) = odds.alone.as_ref().filter(|_| odds.moved.len() > 1) {
        all.push(by_itself(palette, alone));
    }
    all
}

/// "the strength of Indole 1200 to 310 (2.1 of its own errors)"
fn change(palette: &Palette, moved: &Moved) -> String {
    let size = rounded(moved.deviations.abs(), 1);
    match moved.kind {
        Kind::Strength { material } => {
            let shown = |strength| significant(strength, 2, 0, 6);
            let name = &palette.materials[material].name;
            format!("the strength of {name} {} to {} ({size} of its errors)", shown(moved.before), shown(moved.after))
        }
        Kind::Lasting { material } => {
            let shown = |hours| significant(hours, 2, 0, 3);
            let name = &palette.materials[material].name;
            format!(
                "the {} h that {name} lasts to {} h ({size} of its errors)",
                shown(moved.before),
                shown(moved.after)
            )
        }
        Kind::Score { material, descriptor } => {
            let (name, word) = (&palette.materials[material].name, &palette.descriptors[descriptor].name);
            let (before, after) = (rounded(moved.before, 1), rounded(moved.after, 1));
            format!("how {word} {name} is {before} to {after} ({size} of its errors)")
        }
    }
}

fn by_itself(palette: &Palette, alone: &Alone) -> String {
    let then = alone.fidelity_percent.map_or_else(String::new, |then| format!(", and come to {} %", rounded(then, 1)));
    format!(
        "alone {} would mend most: {} % of what all together do{then}",
        change(palette, &alone.moved),
        rounded(alone.part_percent, 0)
    )
}
