//! Powers, logarithms and the like with the same last digit on every machine.
//!
//! The standard library asks the machine's own, and these differ in the last place: on
//! 1,978 of 20,000 arguments of x^0.4 between two of them. What is told to the user must not
//! hang on where it was worked out, so everything here goes through one library in plain
//! arithmetic. `tests/layers.rs` holds that nothing asks the machine.

/// Functions that are not exact in any library, from one library.
pub trait Portable: Copy {
    /// Itself to a power.
    fn power(self, exponent: f64) -> f64;
    /// e to the power of itself.
    fn exponential(self) -> f64;
    /// e to the power of itself, less 1: near 0 without what a difference loses.
    fn exponential_less_one(self) -> f64;
    /// The natural logarithm of 1 and itself, likewise.
    fn logarithm_of_one_more(self) -> f64;
    /// Its natural logarithm.
    fn logarithm(self) -> f64;
    /// Its logarithm to the base 10.
    fn decimal_logarithm(self) -> f64;
    /// Its sine, of radians.
    fn sine(self) -> f64;
    /// Its cosine, of radians.
    fn cosine(self) -> f64;
    /// Its cube root.
    fn cube_root(self) -> f64;
    /// The root of the sum of both squares.
    fn hypotenuse(self, other: f64) -> f64;
    /// The angle in radians of a point: itself upwards, `right` to the right.
    fn angle(self, right: f64) -> f64;
}

impl Portable for f64 {
    fn power(self, exponent: f64) -> f64 {
        libm::pow(self, exponent)
    }

    fn exponential(self) -> f64 {
        libm::exp(self)
    }

    fn exponential_less_one(self) -> f64 {
        libm::expm1(self)
    }

    fn logarithm_of_one_more(self) -> f64 {
        libm::log1p(self)
    }

    fn logarithm(self) -> f64 {
        libm::log(self)
    }

    fn decimal_logarithm(self) -> f64 {
        libm::log10(self)
    }

    fn sine(self) -> f64 {
        libm::sin(self)
    }

    fn cosine(self) -> f64 {
        libm::cos(self)
    }

    fn cube_root(self) -> f64 {
        libm::cbrt(self)
    }

    fn hypotenuse(self, other: f64) -> f64 {
        libm::hypot(self, other)
    }

    fn angle(self, right: f64) -> f64 {
        libm::atan2(self, right)
    }
}
