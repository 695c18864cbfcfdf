//! Which trials can be put together: what was smelled on paper and on skin are different
//! smells, and so are a first minute and a day where nothing says how a trial dried.

use super::model::Evidence;
use crate::portable::Portable;
use crate::tolerance::fits::WITHIN_FACTOR;
use crate::trials::Trials;

/// A trial that was left aside, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Aside {
    /// Index of the trial.
    pub trial: usize,
    /// Why.
    pub why: Why,
}

/// Why a trial was left aside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// It was smelled on something else than most.
    Medium,
    /// It was smelled much earlier or later after dipping.
    Minutes,
    /// It was much younger or older.
    Age,
    /// Another nose smelled it.
    Nose,
    /// Nothing was judged.
    NotJudged,
    /// In balance one score alone, zeros alone, or scores of what has none in
    /// the palette say nothing.
    NothingToCompare,
    /// Nothing in it has an odour.
    NoOdour,
}

/// Minutes and days that are alike are so within this factor ...
const FACTOR: f64 = 3.0;
/// ... after these many minutes, and days, are added to both: the first
/// moments are not told apart by their quotient.
const FIRST_MINUTES: f64 = 5.0;
const FIRST_DAYS: f64 = 2.0;

/// The largest group of trials that were smelled alike, and the others. On one
/// medium; then within a factor of three of one time since dipping, but for those that
/// are followed as they dry; then likewise of one age. What a trial does not say does not set it apart. Of
/// equally large groups the first in the file's order counts.
pub fn kin(trials: &Trials, all: &[Evidence]) -> (Vec<Evidence>, Vec<Aside>) {
    let of = |one: &Evidence| &trials.trials[one.trial];
    let (used, medium) = largest(all.to_vec(), |one| of(one).medium, |a, b| a == b);
    let (used, minutes) =
        largest(used, |one| of(one).minutes.filter(|_| one.drying.is_none()), |a, b| is_one_time(*a, *b));
    let (used, age) = largest(used, |one| of(one).age_days, |a, b| is_near(*a, *b, FIRST_DAYS));
    let because = |why: Why| move |one: Evidence| Aside { trial: one.trial, why };
    let aside = medium.into_iter().map(because(Why::Medium));
    let aside = aside.chain(minutes.into_iter().map(because(Why::Minutes)));
    (used, aside.chain(age.into_iter().map(because(Why::Age))).collect())
}

/// Whether two times in minutes after dipping are alike.
pub(super) fn is_one_time(one: f64, other: f64) -> bool {
    is_near(one, other, FIRST_MINUTES)
}

fn is_near(one: f64, other: f64, first: f64) -> bool {
    ((one + first) / (other + first)).logarithm().abs() <= FACTOR.logarithm() + WITHIN_FACTOR
}

/// Those that are alike to one of them in some respect, as many as can be, and
/// the others.
fn largest<K>(
    all: Vec<Evidence>,
    key: impl Fn(&Evidence) -> Option<K>,
    alike: impl Fn(&K, &K) -> bool,
) -> (Vec<Evidence>, Vec<Evidence>) {
    let keys: Vec<Option<K>> = all.iter().map(key).collect();
    let count = |centre: &K| keys.iter().flatten().filter(|key| alike(centre, key)).count();
    let centre = keys.iter().flatten().rev().max_by_key(|centre| count(centre));
    let is_kin = |key: &Option<K>| key.as_ref().zip(centre).is_none_or(|(key, centre)| alike(centre, key));
    let kin: Vec<bool> = keys.iter().map(is_kin).collect();
    let (kept, others): (Vec<_>, Vec<_>) = all.into_iter().zip(kin).partition(|(_, kin)| *kin);
    (kept.into_iter().map(|(one, _)| one).collect(), others.into_iter().map(|(one, _)| one).collect())
}
