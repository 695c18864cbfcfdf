//! Errors of a palette's numbers that trials have tied together.
//!
//! A blend tells of its materials together: after it was smelled, a score that is lower
//! than it is thought to be has to be made good by another. Such errors are not drawn one
//! by one but as `L z`, with `z` independent standard normal numbers, one for each number
//! of the palette, and `L` a root of their covariance, which is lower triangular. Where
//! nothing was learned `L` is diagonal, and every number is drawn by itself.

/// A number of a palette.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TiedNumber {
    /// Index of the material.
    pub material: usize,
    /// Index of the descriptor whose score it is, in points; `None` for the logarithm of
    /// the strength.
    pub descriptor: Option<usize>,
}

/// Numbers whose errors are drawn together.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Tied {
    /// The numbers, in order, each once.
    numbers: Vec<TiedNumber>,
    /// For each number what each of them, up to itself, adds to its error for one standard
    /// deviation: the rows of `L`.
    rows: Vec<Vec<f64>>,
}

impl Tied {
    /// Of some numbers in order, and the rows of a root of their covariance.
    ///
    /// # Panics
    /// Where there is no row for each of them, as long as its place.
    pub fn new(numbers: Vec<TiedNumber>, rows: Vec<Vec<f64>>) -> Tied {
        let is_triangle = rows.iter().enumerate().all(|(at, row)| row.len() == at + 1);
        assert!(numbers.is_sorted() && rows.len() == numbers.len() && is_triangle, "a root of the covariance");
        Tied { numbers, rows }
    }

    /// The numbers, in order.
    pub fn numbers(&self) -> &[TiedNumber] {
        &self.numbers
    }

    /// Where a number stands among them.
    pub fn place(&self, number: TiedNumber) -> Option<usize> {
        self.numbers.binary_search(&number).ok()
    }

    /// The materials that have some of them, in order, each once.
    pub fn materials(&self) -> Vec<usize> {
        let mut materials: Vec<usize> = self.numbers.iter().map(|number| number.material).collect();
        materials.dedup();
        materials
    }

    /// One standard deviation of a number's error.
    pub fn deviation(&self, place: usize) -> f64 {
        self.rows[place].iter().map(|part| part * part).sum::<f64>().sqrt()
    }

    /// The errors of a number in so many draws: `normals` holds standard normal numbers, those
    /// of all draws for the first number, then those for the second, and so on.
    pub fn errors(&self, place: usize, normals: &[f64], draws: usize) -> Vec<f64> {
        let mut errors = vec![0.0; draws];
        for (part, normals) in self.rows[place].iter().zip(normals.chunks_exact(draws)) {
            errors.iter_mut().zip(normals).for_each(|(error, normal)| *error += part * normal);
        }
        errors
    }
}
