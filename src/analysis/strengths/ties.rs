//! Which materials a chain of comparisons ties to the reference.

use crate::matches::{Matches, Verdict};

/// How a material hangs together with the reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tie {
    /// By pairs that smelled equally strong: the ratio is known.
    Equal,
    /// By pairs of which one was stronger as well: the ratio has bounds.
    Order,
    /// Not at all: its strength rests on the palette alone.
    None,
}

/// The tie of every material of a palette.
pub fn ties(matches: &Matches, materials: usize) -> Vec<Tie> {
    let equal = reached(matches, materials, |verdict| verdict == Verdict::Equal);
    let any = reached(matches, materials, |_| true);
    equal
        .into_iter()
        .zip(any)
        .map(|(equal, any)| match (equal, any) {
            (true, _) => Tie::Equal,
            (false, true) => Tie::Order,
            (false, false) => Tie::None,
        })
        .collect()
}

/// The materials that pairs with certain verdicts lead to from the reference.
fn reached(matches: &Matches, materials: usize, counts: impl Fn(Verdict) -> bool) -> Vec<bool> {
    let mut beside = vec![Vec::new(); materials];
    for pair in matches.pairs.iter().filter(|pair| counts(pair.verdict)) {
        beside[pair.a.material].push(pair.b.material);
        beside[pair.b.material].push(pair.a.material);
    }
    let mut reached = vec![false; materials];
    reached[matches.reference] = true;
    let mut next = vec![matches.reference];
    while let Some(material) = next.pop() {
        for &other in &beside[material] {
            if !reached[other] {
                reached[other] = true;
                next.push(other);
            }
        }
    }
    reached
}
