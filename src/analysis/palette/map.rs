//! The shelf in two dimensions: the two directions in which the characters of
//! the materials differ most (principal components).

use nalgebra::{DMatrix, SymmetricEigen};

use super::character;
use crate::palette::Palette;
use crate::tolerance::curves::NO_DIFFERENCE;
use crate::tolerance::curves::SAME_SHARE;

/// A direction in the space of characters.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// The part of all differences that lies along it, in percent.
    pub explains_percent: f64,
    /// What a step along it changes of each descriptor; of length 1.
    pub loadings: Vec<f64>,
}

/// A map of the shelf.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Map {
    /// Two axes, fewer where the materials do not differ so much.
    pub axes: Vec<Axis>,
    /// Material and its place along the axes; 0 along one that is missing.
    pub places: Vec<(usize, [f64; 2])>,
}

/// Maps the materials that have scores. The singular value decomposition of the
/// centred characters, by the eigenvectors of their products: of the smaller
/// side, so that 3000 materials cost no more than their descriptors. The axis
/// that explains more comes first; its largest loading, the first of equals,
/// is positive.
pub fn map(palette: &Palette) -> Map {
    let all: Vec<(usize, Vec<f64>)> =
        palette.materials.iter().enumerate().filter_map(|(at, material)| Some((at, character(material)?))).collect();
    let descriptors = palette.descriptors.len();
    let mut centred = DMatrix::from_fn(all.len(), descriptors, |row, column| all[row].1[column]);
    for mut column in centred.column_iter_mut() {
        let mean = column.mean();
        column.add_scalar_mut(-mean);
    }
    let total: f64 = centred.iter().map(|value| value * value).sum();
    if total <= NO_DIFFERENCE * all.len() as f64 {
        let places = all.iter().map(|(at, _)| (*at, [0.0; 2])).collect();
        return Map { axes: Vec::new(), places };
    }
    let tall = all.len() >= descriptors;
    let products = if tall { centred.transpose() * &centred } else { &centred * centred.transpose() };
    let eigen = SymmetricEigen::new(products);
    let mut order: Vec<usize> = (0..eigen.eigenvalues.len()).collect();
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    let mut axes = Vec::new();
    let mut places: Vec<(usize, [f64; 2])> = all.iter().map(|(at, _)| (*at, [0.0; 2])).collect();
    for &at in order.iter().take(2).filter(|&&at| eigen.eigenvalues[at] > NO_DIFFERENCE * total) {
        let vector = eigen.eigenvectors.column(at);
        let mut loadings = if tall { vector.into_owned() } else { centred.transpose() * vector };
        loadings.normalize_mut();
        let largest = loadings.amax();
        // Loadings that rounding alone tells apart count as equal.
        let first = loadings.iter().find(|loading| loading.abs() >= largest * (1.0 - SAME_SHARE));
        if first.is_some_and(|loading| *loading < 0.0) {
            loadings.neg_mut();
        }
        let along = &centred * &loadings;
        for (place, value) in places.iter_mut().zip(along.iter()) {
            place.1[axes.len()] = *value;
        }
        let explains_percent = (100.0 * eigen.eigenvalues[at] / total).min(100.0);
        axes.push(Axis { explains_percent, loadings: loadings.iter().copied().collect() });
    }
    Map { axes, places }
}
