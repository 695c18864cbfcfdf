//! The colours, what each of them means, and how far apart they are to every
//! eye.
//!
//! One colour has one meaning on every chart:
//!
//! | colour | constant | it is |
//! |---|---|---|
//! | blue | [`NOW`] | the blend; what is found; a value now, or after a change |
//! | light blue | [`WIDE`] | the same, less surely: nine draws in ten, room, what can be left out |
//! | dark, open or upright | [`INK`] | what is compared with: the target; a value before |
//! | violet | [`SHORT`] | too little |
//! | crimson | [`HIGH`] | too much, and warnings |
//! | plum | [`LIMIT`] | a limit, what stands at it, what lies beyond it |
//! | green | [`GOOD`], as an area [`COMES_IN`] | what is as it should be, or comes in |
//! | ochre | [`GOES_OUT`] | what goes out |
//! | grey | [`CALM`], [`OTHERS`] | what needs no attention; the rest |
//!
//! Open marks are what is compared with, and what is not yet sure or not proven.
//! Where things of one kind stand side by side, such as several blends or the
//! materials of a bar, they have the hues of [`HUES`] in their order.

use crate::portable::Portable;

/// Text and targets.
pub const INK: &str = "#1d2025";
/// What can be read later: subtitles, axes, notes.
pub const SOFT: &str = "#5c636d";
/// What fits, and needs no attention.
pub const CALM: &str = "#8b929b";
/// Lines of a grid.
pub const GRID: &str = "#e4e6ea";
/// Axes and rules between groups.
pub const AXIS: &str = "#a4a9b1";
/// The ground.
pub const PAPER: &str = "#ffffff";
/// The blend, what is found, a value now or after a change.
pub const NOW: &str = "#145ca8";
/// The same, less surely.
pub const WIDE: &str = HUES[3];
/// What is too little.
pub const SHORT: &str = "#6d28d9";
/// A limit, what stands at it and what lies beyond it.
pub const LIMIT: &str = HUES[4];
/// What comes in, as an area.
pub const COMES_IN: &str = HUES[2];
/// What goes out, as an area.
pub const GOES_OUT: &str = HUES[1];
/// What is too much, and warnings. Crimson: orange and yellow are no colours
/// for text.
pub const HIGH: &str = "#b01f4a";
/// What comes in or is as it should be, as text.
pub const GOOD: &str = "#1b7650";
/// Everything beside the hues.
pub const OTHERS: &str = "#c9ccd1";

/// The hues that stand side by side, the most important first. Any two of
/// them, and [`OTHERS`], are at least 25 apart (CIE 1976 L*a*b*) to the common
/// eye, under protanopia and under deuteranopia.
pub const HUES: [&str; 6] = ["#145ca8", "#e9b44c", "#2fa16e", "#8cc1f5", "#6a1b4d", "#b470a1"];

/// How an eye sees.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sight {
    /// With three kinds of cones.
    Common,
    /// Without the cones for long waves.
    Protanopia,
    /// Without the cones for middle waves.
    Deuteranopia,
}

impl Sight {
    /// Acts on linear RGB. G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, A
    /// physiologically-based model for simulation of color vision deficiency,
    /// IEEE Transactions on Visualization and Computer Graphics 15 (2009), the
    /// matrices of severity 1.0.
    fn matrix(self) -> [[f64; 3]; 3] {
        match self {
            Sight::Common => [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            Sight::Protanopia => {
                [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
            }
            Sight::Deuteranopia => {
                [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
            }
        }
    }
}

/// Linear RGB of sRGB (IEC 61966-2-1) to XYZ under D65.
const XYZ: [[f64; 3]; 3] =
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]];
/// The white of D65.
const WHITE: [f64; 3] = [0.95047, 1.0, 1.08883];

fn times(matrix: [[f64; 3]; 3], vector: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum())
}

/// The linear red, green and blue of `#rrggbb`; black where it is no colour.
fn linear(hex: &str) -> [f64; 3] {
    [1, 3, 5].map(|at| {
        let byte = hex.get(at..at + 2).and_then(|pair| u8::from_str_radix(pair, 16).ok()).unwrap_or(0);
        let value = f64::from(byte) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).power(2.4) }
    })
}

fn lab(hex: &str, sight: Sight) -> [f64; 3] {
    let seen = times(sight.matrix(), linear(hex)).map(|value| value.clamp(0.0, 1.0));
    let xyz = times(XYZ, seen);
    let f = |at: usize| {
        let ratio = xyz[at] / WHITE[at];
        if ratio > 216.0 / 24389.0 { ratio.cube_root() } else { (24389.0 / 27.0 * ratio + 16.0) / 116.0 }
    };
    [116.0 * f(1) - 16.0, 500.0 * (f(0) - f(1)), 200.0 * (f(1) - f(2))]
}

/// Distance of two colours in CIE 1976 L*a*b*, as an eye sees them.
pub fn distance(one: &str, other: &str, sight: Sight) -> f64 {
    let (one, other) = (lab(one, sight), lab(other, sight));
    one.iter().zip(other).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt()
}

/// Contrast of a colour on paper, from 1 to 21 (WCAG 2).
pub fn contrast(hex: &str) -> f64 {
    1.05 / (times(XYZ, linear(hex))[1] + 0.05)
}

/// The ink that reads best on a filled area.
pub fn ink_on(fill: &str) -> &'static str {
    if contrast(fill) > contrast(INK) / contrast(fill) { PAPER } else { INK }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hues_are_told_apart_by_every_eye() {
        let all: Vec<&str> = HUES.iter().copied().chain([OTHERS]).collect();
        for sight in [Sight::Common, Sight::Protanopia, Sight::Deuteranopia] {
            for (at, one) in all.iter().enumerate() {
                for other in &all[..at] {
                    let apart = distance(one, other, sight);
                    assert!(apart > 25.0, "{one} and {other}: {apart:.1} under {sight:?}");
                }
            }
            let meant = [NOW, SHORT, HIGH, CALM];
            for (at, one) in meant.iter().enumerate() {
                for other in &meant[..at] {
                    let apart = distance(one, other, sight);
                    assert!(apart > 25.0, "{one} and {other}: {apart:.1} under {sight:?}");
                }
            }
            assert!(distance(LIMIT, NOW, sight) > 25.0 && distance(LIMIT, CALM, sight) > 25.0, "{sight:?}");
        }
    }

    #[test]
    fn distances_are_those_of_the_literature() {
        // Black and white are 100 apart in lightness alone.
        assert!((distance("#000000", "#ffffff", Sight::Common) - 100.0).abs() < 0.05);
        // L*a*b* of pure red is (53.24, 80.09, 67.20).
        let red = lab("#ff0000", Sight::Common);
        assert!(red.iter().zip([53.24, 80.09, 67.20]).all(|(a, b)| (a - b).abs() < 0.05), "{red:?}");
        // Pure red and a dark green come together for those who lack the
        // cones for long waves.
        let apart = |sight| distance("#b30000", "#3d5c00", sight);
        assert!(apart(Sight::Protanopia) < 0.5 * apart(Sight::Common));
    }

    #[test]
    fn text_can_be_read() {
        for text in [INK, SOFT, NOW, SHORT, HIGH, LIMIT, GOOD] {
            assert!(contrast(text) > 4.5, "{text}");
        }
    }
}
