//! Which substance a material is: by its CAS number or, where it has none, by
//! its name.

use crate::limits::Verified;
use crate::palette::{Cas, Material};

/// One CAS number with the names it goes by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Substance {
    /// The number.
    pub cas: Cas,
    /// What a palette may call it, the usual name first; generic names only.
    pub names: Vec<String>,
    /// Numbers of one sum are counted together wherever one of them is
    /// restricted or must be named: isomers, or several numbers of one natural.
    pub sum: String,
    /// Document, edition and year.
    pub source: String,
    /// Whether number and names were read there.
    pub verified: Verified,
    /// Whether it can burn the skin together with daylight.
    pub phototoxic: bool,
}

/// A table of substances, in the order of its file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Substances {
    /// Its rows; no two have one number.
    pub rows: Vec<Substance>,
}

impl Substances {
    /// The row of a number.
    pub fn by_number(&self, cas: &Cas) -> Option<&Substance> {
        self.rows.iter().find(|row| row.cas == *cas)
    }

    /// The row that a name may mean: as it is written, else without what a
    /// label adds to it ("Isoeugenol extra, 10 % in ethanol").
    pub fn by_name(&self, name: &str) -> Option<&Substance> {
        let called = |wanted: &str| self.rows.iter().find(|row| row.names.iter().any(|own| same_name(own, wanted)));
        called(name).or_else(|| called(&without_additions(name)))
    }

    /// The rows of one sum.
    pub fn of_sum<'a>(&'a self, sum: &'a str) -> impl Iterator<Item = &'a Substance> {
        self.rows.iter().filter(move |row| row.sum == sum)
    }
}

/// What tells that a material is what a row of a limits file speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MatchedBy {
    /// Its CAS number.
    Number,
    /// Its name, since it has no number.
    Name,
}

/// Whether a material is one of some substances: by its CAS number where it
/// has one, and only without one by its name. What a base is, its parts say.
/// Everything that counts substances asks here.
pub fn matched(cas: &[Cas], names: &[String], material: &Material) -> Option<MatchedBy> {
    match &material.cas {
        Some(own) => cas.contains(own).then_some(MatchedBy::Number),
        None if material.base.is_some() => None,
        None => names.iter().any(|name| same_name(name, &material.name)).then_some(MatchedBy::Name),
    }
}

/// Whether two names are the same but for capitals, blanks, punctuation and
/// the way in which Greek letters are written. A name without any letter or
/// digit is like no other.
pub fn same_name(one: &str, other: &str) -> bool {
    letters(one).next().is_some() && letters(one).eq(letters(other))
}

fn letters(name: &str) -> impl Iterator<Item = char> + '_ {
    name.chars().flat_map(|letter| {
        let spelled = GREEK.iter().find(|(greek, _)| greek.contains(letter)).map_or("", |(_, spelled)| spelled);
        let plain = spelled.is_empty().then(|| letter.to_lowercase()).into_iter().flatten();
        spelled.chars().chain(plain).filter(|letter| letter.is_alphanumeric())
    })
}

/// Greek letters of isomers, small and capital, and how they are spelled.
const GREEK: [(&str, &str); 5] = [("αΑ", "alpha"), ("βΒ", "beta"), ("γΓ", "gamma"), ("δΔ", "delta"), ("εΕ", "epsilon")];

/// Words that sellers add to the name of a substance.
const ADDITIONS: [&str; 16] = [
    "natural",
    "nat",
    "nature",
    "synthetic",
    "pure",
    "neat",
    "extra",
    "fine",
    "coeur",
    "crystals",
    "solution",
    "dilution",
    "fcc",
    "bp",
    "usp",
    "organic",
];

/// A name without what comes after its first comma, bracket or "in", and
/// without percentages and words that sellers add.
fn without_additions(name: &str) -> String {
    let mut kept: Vec<&str> = Vec::new();
    let main = name.split([',', '[', ';', '@']).next().unwrap_or_default();
    let main = main.split(" (").next().unwrap_or_default();
    for word in main.split_whitespace() {
        let bare = word.trim_matches(|letter: char| !letter.is_alphanumeric()).to_lowercase();
        if bare == "in" || bare == "ex" {
            break;
        }
        let is_share = word.contains('%') || bare.parse::<f64>().is_ok();
        if !is_share && !ADDITIONS.contains(&bare.as_str()) {
            kept.push(word);
        }
    }
    kept.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn capitals_blanks_and_greek_do_not_make_another_name() {
        for other in ["β-Damascone", "BETA DAMASCONE", "beta-damascone", "Beta–Damascone"] {
            assert!(same_name("beta-Damascone", other), "{other}");
        }
        for other in ["alpha-Damascone", "Damascone", "beta-Damascenone", "beta-Damascone 2", ""] {
            assert!(!same_name("beta-Damascone", other), "{other}");
        }
        assert!(!same_name("", "") && !same_name("-", "?"));
    }

    #[test]
    fn what_a_label_adds_is_left_aside() {
        for (name, left) in [
            ("Isoeugenol extra, 10 % in ethanol", "Isoeugenol"),
            ("Isoeugenol 10% in DPG", "Isoeugenol"),
            ("Isoeugenol 10 %", "Isoeugenol"),
            ("Geraniol ex palmarosa", "Geraniol"),
            ("Eugenol (natural)", "Eugenol"),
            ("Methyl 2-octynoate", "Methyl 2-octynoate"),
            ("(E)-Isoeugenol", "(E)-Isoeugenol"),
        ] {
            assert_eq!(without_additions(name), left);
        }
    }
}
