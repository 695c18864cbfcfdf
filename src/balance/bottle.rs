//! Which of a material's bottles weighs best.

use crate::brief::Basis;
use crate::palette::Material;

/// What is poured of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Pick {
    /// Index into the material's bottles; 0 where it has none and is neat.
    pub bottle: usize,
    /// Percent by mass of neat material in it.
    pub percent: f64,
    /// What it is diluted in, as the palette says.
    pub carrier: Option<String>,
    /// What is poured, in grams.
    pub grams: f64,
}

/// The bottle for so many grams: of neat material, or in basis bottle of the
/// usual bottle, which is then the one. The strongest bottle from which at
/// least `least_grams` are poured brings the least carrier; where none is that
/// weak, the weakest weighs best.
pub fn pick(material: &Material, basis: Basis, amount_grams: f64, least_grams: f64) -> Pick {
    let poured = |percent: f64| amount_grams * 100.0 / percent;
    let of = |bottle: usize, grams: f64| {
        let described = material.bottles.get(bottle);
        Pick {
            bottle,
            percent: described.map_or(100.0, |it| it.percent),
            carrier: described.filter(|it| it.percent < 100.0).and_then(|it| it.carrier.clone()),
            grams,
        }
    };
    if basis == Basis::Bottle || material.bottles.is_empty() {
        return of(0, amount_grams);
    }
    let percent = |bottle: &usize| material.bottles[*bottle].percent;
    let mut falling: Vec<usize> = (0..material.bottles.len()).collect();
    falling.sort_by(|a, b| percent(b).total_cmp(&percent(a)));
    let weighs = |bottle: &&usize| poured(percent(bottle)) >= least_grams * (1.0 - 1e-9);
    let best = falling.iter().find(weighs).or(falling.last()).copied().unwrap_or(0);
    of(best, poured(percent(&best)))
}

/// Percent of the weakest bottle on the shelf.
pub fn weakest_percent(material: &Material) -> f64 {
    material.bottles.iter().map(|bottle| bottle.percent).fold(100.0, f64::min)
}
