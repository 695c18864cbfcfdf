//! Made-up materials, and a formula of them around which rules are laid.

use proptest::prelude::*;
use proptest::sample::{Index, select};

/// Units of a dose in one ppt.
pub const UNITS: i64 = 1_000_000_000;
/// A whole formula in units of doses.
pub const WHOLE: i64 = 1000 * UNITS;

/// A material as it is written down.
#[derive(Clone, Debug, Default)]
pub struct Material {
    pub name: String,
    pub strength: f64,
    pub scores: Vec<f64>,
    pub price: Option<f64>,
    pub cas: Option<String>,
    pub min: Option<f64>,
    pub max: Option<f64>,
    pub step: Option<f64>,
    /// The least and the greatest usual dose.
    pub usual: Option<(f64, f64)>,
    pub max_in_concentrate: Option<f64>,
    pub max_in_product: Option<f64>,
    pub tagged: bool,
    pub natural: bool,
    pub constituents: Option<Vec<(String, f64)>>,
    /// Percent, and the carrier if it is one of the shelf.
    pub bottle: Option<(f64, Option<usize>)>,
    pub have: bool,
}

/// What `[doses]` says of a material.
#[derive(Clone, Debug, Default)]
pub struct Entry {
    pub min: Option<f64>,
    pub max: Option<f64>,
    pub step: Option<f64>,
    pub fixed: Option<f64>,
    pub permission: Option<&'static str>,
}

/// A number that a rule stands at, as a multiple of what the formula has.
pub type Factor = f64;

/// A material before names and the formula are known.
#[derive(Clone, Debug)]
pub struct RawMaterial {
    pub strength: f64,
    pub scores: Vec<(Index, f64)>,
    pub price: Option<f64>,
    pub has_cas: bool,
    pub min: Option<Factor>,
    pub max: Option<Factor>,
    pub step: Option<f64>,
    pub usual: Option<(Factor, Factor)>,
    pub advice: (Option<Factor>, Option<Factor>),
    pub tagged: bool,
    pub natural: bool,
    pub constituents: Option<Vec<(Index, f64)>>,
    pub bottle: Option<(f64, Option<Index>)>,
    pub have: bool,
    /// Its part in the formula; below 0 it has none.
    pub weight: f64,
    pub entry: Option<RawEntry>,
}

/// An entry of `[doses]`, relative to the formula.
#[derive(Clone, Debug)]
pub struct RawEntry {
    pub min: Option<Factor>,
    pub max: Option<Factor>,
    pub step: Option<f64>,
    pub fixed: bool,
    pub permission: Option<&'static str>,
}

/// A number with three figures.
pub fn three_figures(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap()
}

/// Ten to a power in a range, with three figures.
fn powers(range: std::ops::Range<f64>) -> impl Strategy<Value = f64> + Clone {
    range.prop_map(|power| three_figures(10f64.powf(power)))
}

/// Where an upper bound stands beside what the formula has: mostly above.
pub fn above(wild: bool) -> BoxedStrategy<Factor> {
    let tame = prop_oneof![3 => Just(1.0), 3 => 1.0..1.6f64, 2 => 1.6..20.0f64, 1 => 0.4..1.0f64];
    if !wild {
        return tame.boxed();
    }
    let ends =
        select(vec![0.0, 1e-9, 1e-6, 1.0 - 1e-6, 1.0 - 1e-9, 1.0 - 1e-12, 1.0 + 1e-12, 1.0 + 1e-9, 1.0 + 1e-6, 1e6]);
    prop_oneof![3 => tame, 1 => ends].boxed()
}

/// The same for a lower bound: mostly below.
pub fn below(wild: bool) -> BoxedStrategy<Factor> {
    above(wild).prop_map(|factor| if factor > 0.0 { 1.0 / factor } else { 1e9 }).boxed()
}

/// Sometimes a value.
pub fn maybe<S: Strategy>(share: f64, inner: S) -> impl Strategy<Value = Option<S::Value>> {
    prop::option::weighted(share, inner)
}

/// Steps of doses in ppt.
pub fn step(wild: bool) -> BoxedStrategy<f64> {
    let tame = select(vec![100.0, 125.0, 50.0, 40.0, 12.5, 10.0, 5.0, 1.0, 0.5, 0.1]);
    let ends = select(vec![1000.0, 999.0, 333.333333, 300.0, 7.0, 3.0, 0.7, 0.3, 0.01, 0.001, 0.000001]);
    if wild { prop_oneof![2 => tame, 1 => ends].boxed() } else { prop_oneof![8 => tame, 1 => ends].boxed() }
}

fn entry(wild: bool) -> impl Strategy<Value = RawEntry> {
    let permission = select(vec![None, None, None, Some("must"), Some("never"), Some("may")]);
    (maybe(0.3, below(wild)), maybe(0.4, above(wild)), maybe(0.25, step(wild)), prop::bool::weighted(0.2), permission)
        .prop_map(|(min, max, step, fixed, permission)| RawEntry { min, max, step, fixed, permission })
}

/// A material; `wild` takes numbers from the ends of their ranges too.
pub fn material(wild: bool) -> impl Strategy<Value = RawMaterial> {
    let strength = if wild {
        prop_oneof![3 => powers(-1.0..3.0), 3 => powers(-6.0..6.0), 1 => Just(0.0), 1 => select(vec![1e-6, 1e6, 1.0])]
            .boxed()
    } else {
        prop_oneof![6 => powers(-1.0..3.0), 1 => Just(0.0)].boxed()
    };
    let price = if wild {
        prop_oneof![3 => powers(-2.0..6.0), 1 => select(vec![0.0, 0.01, 1e6, 1e9])].boxed()
    } else {
        powers(0.0..3.0).boxed()
    };
    let score = prop_oneof![5 => (1..=20u8).prop_map(|half| f64::from(half) / 2.0), 1 => Just(10.0), 1 => Just(0.01)];
    let percent = select(vec![100.0, 50.0, 30.0, 12.0, 1.5, 0.05]);
    let bottle = (select(vec![1.0, 10.0, 20.0, 33.3, 50.0, 100.0, 0.1]), maybe(0.6, any::<Index>()));
    let usual = maybe(0.5, (below(wild), above(wild)));
    let rules = (maybe(0.1, below(wild)), maybe(0.2, above(wild)), maybe(0.15, step(wild)), usual);
    let advice = (maybe(0.1, above(wild)), maybe(0.1, above(wild)));
    let about = (any::<bool>(), prop::bool::weighted(0.2), prop::bool::weighted(0.85), prop::bool::weighted(0.9));
    (
        (strength, prop::collection::vec((any::<Index>(), score), 1..4), maybe(0.95, price)),
        rules,
        advice,
        about,
        maybe(0.15, prop::collection::vec((any::<Index>(), percent), 0..3)),
        maybe(0.2, bottle),
        prop_oneof![1 => Just(-1.0), 2 => 0.001..1.0f64],
        maybe(0.3, entry(wild)),
    )
        .prop_map(
            |(
                (strength, scores, price),
                (min, max, step, usual),
                advice,
                about,
                constituents,
                bottle,
                weight,
                entry,
            )| {
                let (tagged, natural, have, has_cas) = about;
                let constituents = constituents.filter(|_| natural);
                RawMaterial {
                    strength,
                    scores,
                    price,
                    has_cas,
                    min,
                    max,
                    step,
                    usual,
                    advice,
                    tagged,
                    natural,
                    constituents,
                    bottle,
                    have,
                    weight,
                    entry,
                }
            },
        )
}

/// A CAS number of a made-up substance, with its check digit.
pub fn cas(number: usize) -> String {
    let digits: Vec<usize> = format!("{:04}", 1000 + number).bytes().map(|b| usize::from(b - b'0')).collect();
    let check: usize = digits.iter().rev().zip(1..).map(|(digit, weight)| digit * weight).sum();
    format!("{}{}-{}{}-{}", digits[0], digits[1], digits[2], digits[3], check % 10)
}

/// Doses in units that add up to 1000 where the steps allow it, from weights.
pub fn formula(weights: &[f64], steps: &[f64], usable: &[bool]) -> Vec<i64> {
    let mut members: Vec<usize> = (0..weights.len()).filter(|&i| weights[i] > 0.0 && usable[i]).collect();
    if members.is_empty() {
        members.extend(usable.iter().position(|usable| *usable));
    }
    let units = |ppt: f64| ((ppt * UNITS as f64).round() as i64).max(1);
    // The finest step takes what is left.
    members.sort_by(|&a, &b| steps[b].total_cmp(&steps[a]));
    let total: f64 = members.iter().map(|&i| weights[i].max(1e-3)).sum();
    let mut doses = vec![0; weights.len()];
    for &member in &members {
        let step = units(steps[member]);
        let wanted = (weights[member].max(1e-3) / total * WHOLE as f64) as i64;
        doses[member] = (wanted / step).max(1) * step;
    }
    if let Some(&last) = members.last() {
        doses[last] = 0;
        let rest = WHOLE - doses.iter().sum::<i64>();
        let step = units(steps[last]);
        doses[last] = rest.max(0) / step * step;
    }
    doses
}
