//! Mixtures of ethanol and water at 20 degrees Celsius: density, and strength
//! by mass from strength by volume.
//!
//! Source: Council Directive 76/766/EEC, annex (the formula of the
//! international alcoholometric tables, OIML R 22): the part of it that is left
//! at 20 degrees, `sum A_k p^(k-1)` with the mass fraction p.

/// The coefficients A_1 to A_12 in kg per cubic metre.
const A: [f64; 12] = [
    9.982_012_300e2,
    -1.929_769_495e2,
    3.891_238_958e2,
    -1.668_103_923e3,
    1.352_215_441e4,
    -8.829_278_388e4,
    3.062_874_042e5,
    -6.138_381_234e5,
    7.470_172_998e5,
    -5.478_461_354e5,
    2.234_460_334e5,
    -3.903_285_426e4,
];

/// Halvings of an interval of mass fractions: beyond the last bit.
const HALVINGS: usize = 60;

/// Density in g per ml at 20 degrees Celsius of a mixture with a mass fraction
/// of ethanol from 0 to 1.
pub fn density_g_per_ml(mass_fraction: f64) -> f64 {
    A.iter().rev().fold(0.0, |sum, a| sum * mass_fraction + a) / 1000.0
}

/// Strength in percent by volume of a mixture with a mass fraction of ethanol
/// from 0 to 1: the volume that its ethanol has alone, beside its own.
pub fn percent_by_volume(mass_fraction: f64) -> f64 {
    100.0 * mass_fraction * density_g_per_ml(mass_fraction) / density_g_per_ml(1.0)
}

/// The mass fraction of ethanol in a mixture with a strength from 0 to 100
/// percent by volume.
pub fn mass_fraction(percent_by_volume_wanted: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if percent_by_volume(middle) < percent_by_volume_wanted { low = middle } else { high = middle }
    }
    if percent_by_volume_wanted >= 100.0 { 1.0 } else { f64::midpoint(low, high) }
}

/// Ethanol and water that make a mixture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixture {
    /// Grams of the ethanol at hand.
    pub ethanol_grams: f64,
    /// The same in ml at 20 degrees.
    pub ethanol_ml: f64,
    /// Grams of water to add.
    pub water_grams: f64,
    /// The same in ml at 20 degrees.
    pub water_ml: f64,
    /// Grams of both.
    pub grams: f64,
    /// Volume of both mixed, in ml at 20 degrees: less than the sum.
    pub ml: f64,
}

/// So many grams of a mixture of a strength, from ethanol of another one, both
/// in percent by volume; `None` where the ethanol at hand is too weak.
pub fn mixture(grams: f64, wanted_percent: f64, at_hand_percent: f64) -> Option<Mixture> {
    if wanted_percent > at_hand_percent {
        return None;
    }
    let (wanted, at_hand) = (mass_fraction(wanted_percent), mass_fraction(at_hand_percent));
    let ethanol_grams = if wanted_percent == at_hand_percent { grams } else { grams * wanted / at_hand };
    let water_grams = grams - ethanol_grams;
    Some(Mixture {
        ethanol_grams,
        ethanol_ml: ethanol_grams / density_g_per_ml(at_hand),
        water_grams,
        water_ml: water_grams / density_g_per_ml(0.0),
        grams,
        ml: grams / density_g_per_ml(wanted),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Densities in kg per cubic metre at 20 degrees: 998.20 of water and
    /// 789.24 of ethanol stand in the directive's tables, as does 948.05 at
    /// 40 % by volume; the others are the handbook's, from memory.
    #[test]
    fn densities_of_the_tables() {
        assert!((density_g_per_ml(0.0) - 0.998_20).abs() < 5e-6);
        assert!((density_g_per_ml(1.0) - 0.789_24).abs() < 5e-6);
        assert!((density_g_per_ml(mass_fraction(40.0)) - 0.948_05).abs() < 5e-6);
        // From memory: CRC Handbook, aqueous ethanol by mass.
        for (percent, density) in [(10.0, 0.981_9), (50.0, 0.913_9), (90.0, 0.818_0)] {
            assert!((density_g_per_ml(percent / 100.0) - density).abs() < 3e-4, "{percent}");
        }
    }

    #[test]
    fn strengths_there_and_back() {
        for percent in [0.0, 12.5, 40.0, 70.0, 96.0, 99.9, 100.0] {
            assert!((percent_by_volume(mass_fraction(percent)) - percent).abs() < 1e-9, "{percent}");
        }
        // Ethanol of 96 % by volume is 93.8 % by mass.
        assert!((mass_fraction(96.0) - 0.938).abs() < 5e-4);
    }

    #[test]
    fn volume_is_lost_on_mixing() {
        let mixed = mixture(100.0, 70.0, 96.0).unwrap();
        assert!((mixed.ethanol_grams + mixed.water_grams - 100.0).abs() < 1e-12);
        assert!(mixed.ml < mixed.ethanol_ml + mixed.water_ml);
        let pure = mixed.ethanol_grams * mass_fraction(96.0) / density_g_per_ml(1.0);
        assert!((100.0 * pure / mixed.ml - 70.0).abs() < 1e-9);
        assert_eq!(mixture(50.0, 96.0, 96.0).unwrap().water_grams, 0.0);
        assert_eq!(mixture(50.0, 97.0, 96.0), None);
    }
}
