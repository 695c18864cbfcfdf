//! What a batch needs of materials that are to be bought, and the cheapest
//! packs that hold it.

use super::pour::pour;
use crate::formula::Formula;
use crate::number::tidy;
use crate::palette::Pack;
use crate::problem::Problem;
use crate::tolerance::loss::CHEAPER;

/// Whole numbers that amounts are counted in: 1e-9 g.
const UNITS_PER_GRAM: f64 = 1e9;
/// Combinations that are tried before the best so far has to do.
const MOST_TRIALS: u32 = 200_000;

/// What to buy of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Purchase {
    /// The material.
    pub material: usize,
    /// Grams of neat material that the batch needs.
    pub grams: f64,
    /// The packs, the largest first; empty where none are known.
    pub packs: Vec<(Pack, u64)>,
    /// What it costs: the packs, or the amount at the price per kg where no
    /// packs are known; `None` where neither is.
    pub cost: Option<f64>,
    /// Whether the cost is that of packs, and no other packs cost less.
    pub proven: bool,
}

/// What a batch of so many grams of neat accord needs of some materials; those
/// that the formula does not use are left out.
pub fn purchases(problem: &Problem, formula: &Formula, materials: &[usize], batch_grams: f64) -> Vec<Purchase> {
    let pour = pour(problem, formula);
    let all: f64 = pour.lines.iter().map(|line| line.neat_ppt).sum();
    let lines = pour.lines.iter().filter(|line| materials.contains(&line.material));
    lines.map(|line| purchase(problem, line.material, tidy(batch_grams * line.neat_ppt / all))).collect()
}

fn purchase(problem: &Problem, material: usize, grams: f64) -> Purchase {
    let described = problem.material(material);
    if described.packs.is_empty() {
        let cost = described.price_per_kg.map(|price| tidy(price * grams / 1000.0));
        return Purchase { material, grams, packs: Vec::new(), cost, proven: false };
    }
    let (counts, proven) = cheapest(&described.packs, grams);
    let mut packs: Vec<(Pack, u64)> = described.packs.iter().copied().zip(counts).filter(|(_, n)| *n > 0).collect();
    packs.sort_by(|a, b| b.0.grams.total_cmp(&a.0.grams));
    let cost = tidy(packs.iter().map(|(pack, count)| pack.price * *count as f64).sum());
    Purchase { material, grams, packs, cost: Some(cost), proven }
}

/// How many of each pack hold at least so many grams at the least cost, and
/// whether that is proven; among equals those that hold the most are taken
/// first from the packs of the best value. There is at least one pack.
pub fn cheapest(packs: &[Pack], grams: f64) -> (Vec<u64>, bool) {
    let mut order: Vec<usize> = (0..packs.len()).collect();
    let value = |index: usize| packs[index].price / packs[index].grams;
    order.sort_by(|&a, &b| value(a).total_cmp(&value(b)).then(packs[b].grams.total_cmp(&packs[a].grams)));
    let mut search = Cover {
        sizes: order.iter().map(|&index| units(packs[index].grams).max(1)).collect(),
        prices: order.iter().map(|&index| packs[index].price).collect(),
        counts: vec![0; packs.len()],
        best: (f64::INFINITY, vec![0; packs.len()]),
        trials: 0,
    };
    search.fill(0, units(grams).max(1), 0.0);
    let mut counts = vec![0; packs.len()];
    order.iter().zip(&search.best.1).for_each(|(&index, &count)| counts[index] = count);
    (counts, search.trials < MOST_TRIALS)
}

fn units(grams: f64) -> i128 {
    (grams * UNITS_PER_GRAM).round() as i128
}

/// A covering problem in whole numbers, the packs of the best value first.
struct Cover {
    sizes: Vec<i128>,
    prices: Vec<f64>,
    counts: Vec<u64>,
    best: (f64, Vec<u64>),
    trials: u32,
}

impl Cover {
    /// Fills what is left with the packs from `at` on. What remains costs at
    /// least as much as by the best value of the packs that are left.
    fn fill(&mut self, at: usize, left: i128, cost: f64) {
        self.trials = self.trials.saturating_add(1);
        if left <= 0 {
            if self.is_worth(cost) {
                self.best = (cost, self.counts.clone());
            }
            return;
        }
        if at == self.sizes.len() {
            return;
        }
        let (size, price) = (self.sizes[at], self.prices[at]);
        let most = (left + size - 1) / size;
        for count in (0..=most).rev() {
            let (rest, paid) = (left - count * size, cost + count as f64 * price);
            let next = self.sizes.get(at + 1).map(|&size| self.prices[at + 1] / size as f64);
            let least = paid + rest.max(0) as f64 * next.unwrap_or(if rest > 0 { f64::INFINITY } else { 0.0 });
            // Fewer of these packs leave more to packs of a worse value.
            if count < most && !self.is_worth(least) || self.trials >= MOST_TRIALS {
                break;
            }
            self.counts[at] = count as u64;
            self.fill(at + 1, rest, paid);
        }
        self.counts[at] = 0;
    }

    fn is_worth(&self, cost: f64) -> bool {
        cost < self.best.0 * (1.0 - CHEAPER)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn packs(packs: &[(f64, f64)]) -> Vec<Pack> {
        packs.iter().map(|&(grams, price)| Pack { grams, price }).collect()
    }

    /// The least cost by trying every combination of up to `most` of each.
    fn by_listing(packs: &[Pack], grams: f64, most: u64) -> f64 {
        let Some((first, others)) = packs.split_first() else {
            return if grams <= 1e-10 { 0.0 } else { f64::INFINITY };
        };
        let cost =
            |count: u64| count as f64 * first.price + by_listing(others, grams - count as f64 * first.grams, most);
        (0..=most).map(cost).fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn worked_by_hand() {
        let shop = packs(&[(5.0, 4.0), (10.0, 6.0), (25.0, 12.0)]);
        assert_eq!(cheapest(&shop, 0.3), (vec![1, 0, 0], true));
        assert_eq!(cheapest(&shop, 5.0), (vec![1, 0, 0], true));
        assert_eq!(cheapest(&shop, 5.1), (vec![0, 1, 0], true));
        // 10 + 5 costs 10, two of 10 and one of 25 cost 12.
        assert_eq!(cheapest(&shop, 15.0), (vec![1, 1, 0], true));
        assert_eq!(cheapest(&shop, 16.0), (vec![0, 0, 1], true));
        assert_eq!(cheapest(&shop, 2500.0), (vec![0, 0, 100], true));
        // What rounding adds to a need does not ask for another pack.
        assert_eq!(cheapest(&packs(&[(0.3, 1.0)]), 0.1 + 0.2), (vec![1], true));
    }

    #[test]
    fn as_cheap_as_by_listing() {
        // A fixed sequence of small numbers, mixed by a linear congruence.
        let mut state = 1_u64;
        let mut draw = |most: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            1 + (state >> 33) % most
        };
        for case in 0..300 {
            let shop: Vec<(f64, f64)> = (0..1 + draw(3)).map(|_| (draw(20) as f64 / 2.0, draw(40) as f64)).collect();
            let shop = packs(&shop);
            let grams = draw(60) as f64 / 4.0;
            let (counts, proven) = cheapest(&shop, grams);
            let held: f64 = shop.iter().zip(&counts).map(|(pack, &count)| pack.grams * count as f64).sum();
            let cost: f64 = shop.iter().zip(&counts).map(|(pack, &count)| pack.price * count as f64).sum();
            assert!(proven && held >= grams, "case {case}");
            assert_eq!(cost, by_listing(&shop, grams, 30), "case {case}: {shop:?} for {grams} g");
        }
    }
}
