//! Which dilution to make of a material that is too strong for the balance.

use crate::number::tidy;

/// Percent of the dilutions that are usual in the trade, the strongest first
/// (common practice).
const USUAL: &[f64] = &[50.0, 25.0, 20.0, 10.0, 1.0, 0.1, 0.01, 0.001];
/// No less is taken for a dilution, in grams.
const LEAST_TAKEN: f64 = 0.1;
/// More than so many times is not diluted at once.
const AT_ONCE: f64 = 100.0;
/// The dilution holds so many times what is poured of it, to spare.
const TO_SPARE: f64 = 1.25;

/// One mixing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixing {
    /// Percent of the bottle that is diluted.
    pub from_percent: f64,
    /// Grams taken of it.
    pub take_grams: f64,
    /// Grams of carrier.
    pub carrier_grams: f64,
    /// Percent of what it gives.
    pub gives_percent: f64,
}

/// A dilution, and how it is made.
#[derive(Clone, Debug, PartialEq)]
pub struct Dilution {
    /// Percent by mass of neat material.
    pub percent: f64,
    /// What is poured of it then, in grams.
    pub grams: f64,
    /// One mixing after the other.
    pub mixings: Vec<Mixing>,
}

/// The strongest usual dilution of a bottle of which at least `least_grams`
/// are poured where the neat material weighs `neat_grams`; `None` where even
/// the weakest is too strong.
pub fn dilution(neat_grams: f64, bottle_percent: f64, least_grams: f64, step_grams: f64) -> Option<Dilution> {
    let poured = |percent: f64| tidy(neat_grams * 100.0 / percent);
    let enough = |percent: f64| poured(percent) >= least_grams * (1.0 - 1e-9);
    let percent = USUAL.iter().copied().find(|&percent| percent < bottle_percent && enough(percent))?;
    let mut mixings = Vec::new();
    let mut from = bottle_percent;
    // Weaker than a hundredth is made by way of another dilution.
    while from / percent > AT_ONCE * (1.0 + 1e-9) {
        let to = tidy(from / AT_ONCE);
        mixings.push(mixing(from, to, 0.0, least_grams, step_grams));
        from = to;
    }
    mixings.push(mixing(from, percent, poured(percent), least_grams, step_grams));
    Some(Dilution { percent, grams: poured(percent), mixings })
}

fn mixing(from: f64, to: f64, poured_grams: f64, least_grams: f64, step_grams: f64) -> Mixing {
    let least = (least_grams.max(LEAST_TAKEN) * from / to).max(poured_grams * TO_SPARE);
    let whole = round_amount(least);
    let on_balance = |grams: f64| tidy((grams / step_grams).round().max(1.0) * step_grams);
    let take_grams = on_balance(whole * to / from);
    let carrier_grams = on_balance(whole - take_grams);
    let gives_percent = tidy(from * take_grams / (take_grams + carrier_grams));
    Mixing { from_percent: from, take_grams, carrier_grams, gives_percent }
}

/// 1, 2 or 5 times a power of ten that is no less, from 1 gram on.
fn round_amount(least: f64) -> f64 {
    let mut decade = 1.0;
    loop {
        for times in [1.0, 2.0, 5.0] {
            // What binary arithmetic adds does not make it the next one.
            if times * decade >= least * (1.0 - 1e-9) {
                return times * decade;
            }
        }
        decade *= 10.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tenth_of_a_gram_in_ten_gives_one_percent() {
        let made = dilution(0.000_5, 100.0, 0.05, 0.01).unwrap();
        let one = Mixing { from_percent: 100.0, take_grams: 0.1, carrier_grams: 9.9, gives_percent: 1.0 };
        assert_eq!((made.percent, made.grams, made.mixings.as_slice()), (1.0, 0.05, &[one][..]));
    }

    /// Common practice, no source: strong materials stand at 10 % (some at 20
    /// to 25 %), medium ones are used neat, and for a trial of a gram even
    /// those are cut to 50 %. At a balance of 1 mg and an error of 1 %:
    #[test]
    fn the_advice_agrees_with_common_practice() {
        let advice = |ppt: f64, batch: f64| dilution(ppt / 1000.0 * batch, 100.0, 0.05, 0.001).map(|it| it.percent);
        // A trial of a gram: medium materials of 30 and 45 parts; strong ones
        // of 5 to 12 parts.
        assert_eq!((advice(30.0, 1.0), advice(45.0, 1.0)), (Some(50.0), Some(50.0)));
        assert_eq!((advice(12.0, 1.0), advice(10.0, 1.0), advice(5.0, 1.0)), (Some(20.0), Some(20.0), Some(10.0)));
        // Ten grams: a strong material of a part stands at 20 %, of half a part at 10 %.
        assert_eq!((advice(1.0, 10.0), advice(0.5, 10.0)), (Some(20.0), Some(10.0)));
        // Below about a part the weaker dilutions.
        assert_eq!((advice(0.1, 10.0), advice(0.05, 10.0)), (Some(1.0), Some(1.0)));
    }

    #[test]
    fn very_weak_ones_are_made_in_two_mixings() {
        let made = dilution(0.000_05, 100.0, 0.05, 0.001).unwrap();
        let gives: Vec<f64> = made.mixings.iter().map(|mixing| mixing.gives_percent).collect();
        assert_eq!((made.percent, gives), (0.1, vec![1.0, 0.1]));
        assert_eq!(dilution(1e-9, 100.0, 0.05, 0.001), None);
        // From a bottle that is diluted already, one is enough.
        assert_eq!(dilution(0.000_05, 10.0, 0.05, 0.001).unwrap().mixings.len(), 1);
    }
}
