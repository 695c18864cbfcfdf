//! Random numbers that are the same for the same seed, on every machine.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// A source of random numbers.
pub struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream of a seed: streams of one seed are independent of each
    /// other, so that computations in parallel draw what they would in turn.
    pub fn new(seed: u64, stream: u64) -> Chance {
        let mut source = ChaCha8Rng::seed_from_u64(seed);
        source.set_stream(stream);
        Chance(source)
    }

    /// A number from `from` up to, and without, `to`.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        self.0.random_range(from..to)
    }

    /// A number from the standard normal distribution.
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// Whether something of this probability happens.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.0.random_range(0.0..1.0) < probability
    }

    /// So many different whole numbers from `from` up to, and without, `to`,
    /// in random order; fewer where there are not so many.
    pub fn different(&mut self, count: usize, from: u32, to: u32) -> Vec<u32> {
        let mut all: Vec<u32> = (from..to).collect();
        let count = count.min(all.len());
        for at in 0..count {
            let other = self.0.random_range(at..all.len());
            all.swap(at, other);
        }
        all.truncate(count);
        all
    }
}

#[cfg(test)]
mod tests {
    use super::Chance;

    #[test]
    fn the_same_seed_gives_the_same_numbers_and_each_stream_its_own() {
        let draw = |seed, stream| Chance::new(seed, stream).between(0.0, 1.0);
        assert_eq!(draw(1, 0), draw(1, 0));
        assert_ne!(draw(1, 0), draw(1, 1));
        assert_ne!(draw(1, 0), draw(2, 0));
        let mut source = Chance::new(3, 0);
        let normal: Vec<f64> = (0..10_000).map(|_| source.normal()).collect();
        let mean = normal.iter().sum::<f64>() / 1e4;
        let variance = normal.iter().map(|z| z * z).sum::<f64>() / 1e4;
        assert!(mean.abs() < 0.04 && (variance - 1.0).abs() < 0.06, "{mean} {variance}");
        let mut codes = Chance::new(7, 0).different(900, 100, 1000);
        codes.sort_unstable();
        assert_eq!(codes, (100..1000).collect::<Vec<u32>>());
    }
}
