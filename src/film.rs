//! An accord that dries on paper: an ideal film, thin and well mixed, in still air.
//!
//! The flux of a material goes with its vapour pressure times its share of the
//! molecules that are left (Raoult's law). So all materials decay at first order in one
//! clock `u` of the film, `du` proportional to `dt` over the molecules that are left:
//!
//! `left_j(u) = exp(-u / (M_j L_j))`, and
//! `t(u) = stretch * sum_j m_j L_j (1 - left_j(u))`,
//!
//! with `m_j` the mass fraction, `M_j` the molar mass in g/mol and `L_j` the tenacity: the
//! hours until the material, dipped alone, is gone. `stretch` is how much more was dipped
//! than when tenacities were noted. The film is gone after `stretch * sum_j m_j L_j`.
//! A pure material goes at a constant rate (order zero), a trace in a film that stays at
//! first order. A material that never goes adds `m_j u / M_j` to the clock.
//!
//! From a vapour pressure `P` in Pa: pure liquids lose `1464 P M` micrograms per m2 and
//! hour in still air at 25 C (D. Mackay and I. van Wesenbeeck, Environmental Science &
//! Technology 48, 2014), so that a film of `w` g/m2 lasts `w / (1464e-6 P M)` hours.
//!
//! Left out: activity coefficients, draughts and warmth (about twice as fast for 10 K
//! more), crystals, what oxidises or thickens, and that paper is no skin.

use crate::portable::Portable;

/// Micrograms per m2, hour, Pa and g/mol that a pure liquid loses in still air at 25 C.
const FLUX: f64 = 1464.0;
/// g/mol where nothing is known: a middling odour material.
pub const MOLAR_MASS: f64 = 160.0;
/// g/m2 of a film where no material tells.
pub const FILM_WEIGHT: f64 = 20.0;
/// Steps of Newton's method; each brings the clock nearer from below.
const STEPS: usize = 500;

/// A material of a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Its part of the film's mass at the start, from 0 to 1.
    pub mass: f64,
    /// g/mol, above 0.
    pub molar_mass: f64,
    /// Hours until it is gone alone, 0 or more; infinite for what never goes.
    pub hours: f64,
}

impl Part {
    /// How much of the clock one `e`-th of it takes.
    fn span(&self) -> f64 {
        self.molar_mass * self.hours
    }

    /// What is left of it when the film's clock stands so: from 1 to 0.
    pub fn left(&self, clock: f64) -> f64 {
        match self.span() {
            // The clock may be infinite, too.
            span if span.is_infinite() => 1.0,
            span if span > 0.0 => (-clock / span).exponential(),
            // It goes at once.
            _ if clock > 0.0 => 0.0,
            _ => 1.0,
        }
    }

    /// Hours that it has added to the film's time.
    fn hours_at(&self, clock: f64) -> f64 {
        let span = self.span();
        if span.is_infinite() {
            self.mass * clock / self.molar_mass
        } else if span > 0.0 {
            -self.mass * self.hours * (-clock / span).exponential_less_one()
        } else {
            0.0
        }
    }
}

/// An accord on paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    /// What it is of; masses add up to 1 or less.
    pub parts: Vec<Part>,
    /// How much was dipped, by how much of that tenacities were noted at: above 0.
    pub stretch: f64,
}

impl Film {
    /// Hours until all of it is gone; infinite where a part never goes.
    pub fn life_hours(&self) -> f64 {
        let hours = self.parts.iter().filter(|part| part.mass > 0.0).map(|part| part.mass * part.hours);
        self.stretch * hours.sum::<f64>()
    }

    /// The hours at which the clock stands so.
    pub fn hours_at(&self, clock: f64) -> f64 {
        self.stretch * self.parts.iter().map(|part| part.hours_at(clock)).sum::<f64>()
    }

    /// Where the clock stands after so many hours; `None` when the film is gone.
    ///
    /// The time is a concave function of the clock, so that Newton's method comes from
    /// below and never passes the answer.
    pub fn clock(&self, hours: f64) -> Option<f64> {
        if hours <= 0.0 {
            return Some(0.0);
        }
        if hours >= self.life_hours() {
            return None;
        }
        let mut clock = 0.0;
        for _ in 0..STEPS {
            let rate = self.stretch
                * self.parts.iter().map(|part| part.mass * part.left(clock) / part.molar_mass).sum::<f64>();
            let by = (hours - self.hours_at(clock)) / rate;
            if !by.is_finite() || by <= 1e-13 * clock {
                break;
            }
            clock += by;
        }
        Some(clock)
    }

    /// The part of the film's mass that is left, from 1 to 0.
    pub fn left(&self, clock: f64) -> f64 {
        let whole: f64 = self.parts.iter().map(|part| part.mass).sum();
        let left: f64 = self.parts.iter().map(|part| part.mass * part.left(clock)).sum();
        if whole > 0.0 { left / whole } else { 0.0 }
    }
}

/// Hours that a film of a pure liquid lasts, of `film_weight` in g/m2, `vapour_pressure`
/// in Pa at 25 C and `molar_mass` in g/mol, all above 0.
pub fn hours_by_pressure(film_weight: f64, vapour_pressure: f64, molar_mass: f64) -> f64 {
    film_weight / (FLUX * 1e-6 * vapour_pressure * molar_mass)
}

/// The weight in g/m2 of the film that lasts so many hours, likewise.
pub fn film_weight(hours: f64, vapour_pressure: f64, molar_mass: f64) -> f64 {
    hours * FLUX * 1e-6 * vapour_pressure * molar_mass
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(parts: &[(f64, f64, f64)], stretch: f64) -> Film {
        let part = |&(mass, molar_mass, hours): &(f64, f64, f64)| Part { mass, molar_mass, hours };
        Film { parts: parts.iter().map(part).collect(), stretch }
    }

    #[test]
    fn alone_a_material_goes_at_a_constant_rate() {
        let alone = film(&[(1.0, 154.0, 3.0)], 1.0);
        let clock = alone.clock(1.0).unwrap();
        assert!((alone.parts[0].left(clock) - 2.0 / 3.0).abs() < 1e-12);
        assert_eq!((alone.clock(3.0), alone.life_hours()), (None, 3.0));
        // Ten times as much of it lasts ten times as long.
        let thick = film(&[(1.0, 154.0, 3.0)], 10.0);
        let clock = thick.clock(10.0).unwrap();
        assert!((thick.left(clock) - 2.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn a_trace_in_a_film_that_stays_goes_at_first_order() {
        let stays = film(&[(1.0, 150.0, f64::INFINITY), (0.0, 150.0, 4.0)], 1.0);
        let clock = stays.clock(4.0).unwrap();
        assert!((stays.parts[1].left(clock) - (-1.0_f64).exponential()).abs() < 1e-12);
        assert!(stays.life_hours().is_infinite() && stays.left(clock) == 1.0);
    }

    /// The same law followed step by step (Runge-Kutta of order 4 in time), to a share of
    /// the molecules that is left: shares nothing with the closed form.
    fn followed(film: &Film, hours: f64, steps: usize) -> Vec<f64> {
        let moles: Vec<f64> = film.parts.iter().map(|part| part.mass / part.molar_mass).collect();
        let slope = |left: &[f64]| -> Vec<f64> {
            let all: f64 = moles.iter().zip(left).map(|(n, left)| n * left).sum::<f64>() * film.stretch;
            film.parts.iter().zip(left).map(|(part, left)| -left / (part.molar_mass * part.hours) / all).collect()
        };
        let h = hours / steps as f64;
        let mut left = vec![1.0; moles.len()];
        for _ in 0..steps {
            let add = |by: &[f64], f: f64| -> Vec<f64> { left.iter().zip(by).map(|(a, b)| a + f * b).collect() };
            let one = slope(&left);
            let two = slope(&add(&one, h / 2.0));
            let three = slope(&add(&two, h / 2.0));
            let four = slope(&add(&three, h));
            for at in 0..left.len() {
                left[at] += h / 6.0 * (one[at] + 2.0 * two[at] + 2.0 * three[at] + four[at]);
            }
        }
        left
    }

    #[test]
    fn the_closed_form_is_what_the_law_comes_to_step_by_step() {
        // A pair of equal molar masses, and a citrus, floral and woody third.
        let pair = film(&[(0.5, 160.0, 2.0), (0.5, 160.0, 20.0)], 1.0);
        let three = film(&[(0.3, 154.249, 6.0), (0.6, 122.164, 20.0), (0.1, 152.147, 400.0)], 1.0);
        let pinned =
            [(&pair, 6.0, 11.0, vec![0.00097466, 0.49990253]), (&three, 8.0, 53.8, vec![0.193329, 0.536605, 0.975319])];
        for (film, hours, life, expected) in pinned {
            assert!((film.life_hours() - life).abs() < 1e-9);
            let clock = film.clock(hours).unwrap();
            assert!((film.hours_at(clock) - hours).abs() < 1e-9);
            let steps = followed(film, hours, 20_000);
            for ((part, expected), step) in film.parts.iter().zip(expected).zip(steps) {
                assert!((part.left(clock) - expected).abs() < 6e-7, "{} {expected}", part.left(clock));
                assert!((part.left(clock) - step).abs() < 1e-8, "{} {step}", part.left(clock));
            }
        }
    }

    #[test]
    fn nearly_at_the_end_the_clock_is_still_found() {
        let film = film(&[(0.5, 160.0, 2.0), (0.5, 160.0, 20.0)], 1.0);
        let clock = film.clock(11.0 - 1e-9).unwrap();
        assert!((film.hours_at(clock) - (11.0 - 1e-9)).abs() < 1e-10 && film.left(clock) < 1e-9);
    }

    #[test]
    fn pressures_give_the_published_rates() {
        // The law of Mackay and van Wesenbeeck (2014, read) on vapour pressures at 25 C from
        // Perry's Handbook (benzyl alcohol) and Landolt-Boernstein IV/20 (eugenol, limonene).
        for (pressure, molar_mass, hours) in [(13.12, 108.138, 9.63), (1.85, 164.201, 44.97), (271.5, 136.234, 0.369)] {
            let lasts = hours_by_pressure(20.0, pressure, molar_mass);
            assert!((lasts / hours - 1.0).abs() < 1e-3, "{lasts} {hours}");
            assert!((film_weight(lasts, pressure, molar_mass) - 20.0).abs() < 1e-12);
        }
    }
}
