//! Which part of a variance comes from which uncertain number.
//!
//! Two independent draws, A and B, are taken of all numbers; f is judged at A,
//! at B, and at A with one number from B. The first-order share of the number
//! is the part of the variance that would be gone, on average, once it were
//! known (I. M. Sobol', Mathematics and Computers in Simulation 55, 2001):
//! `V_j = E[(f(B) - c) (f(A_B^j) - f(A))]` for any constant c, as estimated by
//! A. Saltelli et al., Computer Physics Communications 181 (2010), 259-270.
//! The total share counts what it does together with others as well
//! (M. J. W. Jansen): `T_j = E[(f(A) - f(A_B^j))^2] / 2`.

/// Sums over draws, for one number or for several that change together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sums {
    count: f64,
    first: f64,
    first_squares: f64,
    total: f64,
}

/// The share of a number in a variance.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    /// What would be gone of the variance once the number were known, 0 to 1
    /// but for the error of the estimate.
    pub first: f64,
    /// One standard deviation of that estimate.
    pub first_error: f64,
    /// What would be left if all others were known, 0 to 1 likewise.
    pub total: f64,
}

impl Sums {
    /// Adds a draw: f at A, at B less a constant near its mean, and at A with
    /// the number from B.
    pub fn add(&mut self, at_a: f64, at_b_less: f64, mixed: f64) {
        let change = mixed - at_a;
        let first = at_b_less * change;
        self.count += 1.0;
        self.first += first;
        self.first_squares += first * first;
        self.total += 0.5 * change * change;
    }

    /// Adds what another part of the draws gave.
    pub fn merge(&mut self, other: &Sums) {
        self.count += other.count;
        self.first += other.first;
        self.first_squares += other.first_squares;
        self.total += other.total;
    }

    /// The share in a variance; nothing in none.
    pub fn share(&self, variance: f64) -> Share {
        if variance <= 0.0 || self.count < 2.0 {
            return Share::default();
        }
        let first = self.first / self.count;
        let spread = (self.first_squares / self.count - first * first).max(0.0);
        Share {
            first: first / variance,
            first_error: (spread / self.count).sqrt() / variance,
            total: self.total / self.count / variance,
        }
    }
}
