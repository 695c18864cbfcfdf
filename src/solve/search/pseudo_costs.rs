//! What branching has learned: by how much the bound rises when a material is
//! decided.

/// A material's pseudo-costs are trusted after so many observations a side.
const RELIABLE: u32 = 4;

/// Mean rise of the bound when a material is decided.
#[derive(Clone, Debug, Default)]
pub struct PseudoCosts {
    sides: Vec<[Mean; 4]>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum: f64,
    count: u32,
}

/// Which kind of decision a pseudo-cost is about.
#[derive(Clone, Copy, Debug)]
pub enum Side {
    /// The material is left out.
    Out = 0,
    /// It is used.
    In = 1,
    /// Its dose is rounded down.
    Down = 2,
    /// Its dose is rounded up.
    Up = 3,
}

impl PseudoCosts {
    /// Nothing observed yet of `n` materials.
    pub fn new(n: usize) -> PseudoCosts {
        PseudoCosts { sides: vec![[Mean::default(); 4]; n] }
    }

    /// The observations of some materials, in their order.
    pub fn restricted(&self, kept: &[usize]) -> PseudoCosts {
        PseudoCosts { sides: kept.iter().map(|&k| self.sides[k]).collect() }
    }

    /// Takes over observations made of some materials, in their order.
    pub fn learn(&mut self, kept: &[usize], other: PseudoCosts) {
        for (&k, sides) in kept.iter().zip(other.sides) {
            self.sides[k] = sides;
        }
    }

    /// Takes note of a rise of the bound, for one unit of the decision.
    pub fn observe(&mut self, k: usize, side: Side, gain: f64) {
        let mean = &mut self.sides[k][side as usize];
        mean.sum += gain.max(0.0);
        mean.count += 1;
    }

    /// The mean of a material, or of all materials where it has none.
    pub fn expect(&self, k: usize, side: Side, average: f64) -> f64 {
        let mean = self.sides[k][side as usize];
        if mean.count > 0 { mean.sum / f64::from(mean.count) } else { average }
    }

    /// The mean of all materials; 1 where nothing was observed.
    pub fn average(&self, side: Side) -> f64 {
        let (sum, count) = self.sides.iter().fold((0.0, 0), |(sum, count), sides| {
            let mean = sides[side as usize];
            (sum + mean.sum, count + mean.count)
        });
        if count > 0 { sum / f64::from(count) } else { 1.0 }
    }

    /// Whether a material was observed often enough on both sides.
    pub fn is_reliable(&self, k: usize, sides: [Side; 2]) -> bool {
        sides.iter().all(|&side| self.sides[k][side as usize].count >= RELIABLE)
    }

    /// Adds what another has observed since `before`.
    pub fn add(&mut self, other: &PseudoCosts, before: &PseudoCosts) {
        for (index, sides) in self.sides.iter_mut().enumerate() {
            for (side, mean) in sides.iter_mut().enumerate() {
                let (new, old) = (other.sides[index][side], before.sides[index][side]);
                mean.sum += new.sum - old.sum;
                mean.count += new.count - old.count;
            }
        }
    }
}
