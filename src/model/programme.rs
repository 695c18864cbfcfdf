//! A linear or mixed-integer programme in plain data, before any solver.

/// minimise (or maximise) `cost · x` subject to `rows` and bounds.
#[derive(Clone, Debug, Default)]
pub struct Programme {
    /// Direction of the objective.
    pub sense: Sense,
    /// The variables.
    pub columns: Vec<Column>,
    /// The rows; solvers report their multipliers in this order.
    pub rows: Vec<Row>,
}

/// Direction of an objective.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Sense {
    /// Smaller is better.
    #[default]
    Minimise,
    /// Larger is better.
    Maximise,
}

/// One variable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Its coefficient in the objective.
    pub cost: f64,
    /// Lower bound; `-inf` where there is none.
    pub lower: f64,
    /// Upper bound; `inf` where there is none.
    pub upper: f64,
    /// Whether it must be whole.
    pub integer: bool,
}

/// One row: `sum of coefficient * x[column]` compared with `rhs`.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// (column, coefficient), each column at most once.
    pub coefficients: Vec<(usize, f64)>,
    /// How the sum compares.
    pub relation: Relation,
    /// Right-hand side.
    pub rhs: f64,
}

/// How a row's sum compares with its right-hand side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relation {
    /// At most.
    AtMost,
    /// At least.
    AtLeast,
    /// Equal.
    Equal,
}

impl Programme {
    /// Adds a continuous column and returns its index.
    pub fn column(&mut self, cost: f64, lower: f64, upper: f64) -> usize {
        self.columns.push(Column { cost, lower, upper, integer: false });
        self.columns.len() - 1
    }

    /// Adds a whole-number column and returns its index.
    pub fn integer_column(&mut self, cost: f64, lower: f64, upper: f64) -> usize {
        self.columns.push(Column { cost, lower, upper, integer: true });
        self.columns.len() - 1
    }

    /// Adds a row and returns its index.
    pub fn row(&mut self, coefficients: Vec<(usize, f64)>, relation: Relation, rhs: f64) -> usize {
        self.rows.push(Row { coefficients, relation, rhs });
        self.rows.len() - 1
    }

    /// Whether any column must be whole.
    pub fn is_mixed(&self) -> bool {
        self.columns.iter().any(|column| column.integer)
    }

    /// The objective at a point.
    pub fn objective(&self, x: &[f64]) -> f64 {
        self.columns.iter().zip(x).map(|(column, value)| column.cost * value).sum()
    }

    /// The greatest violation of a row or bound at a point, each divided by
    /// its size: the largest of 1, |bound| and the sum of |terms|.
    pub fn violation(&self, x: &[f64]) -> f64 {
        let rows = self.rows.iter().map(|row| {
            let sum: f64 = row.coefficients.iter().map(|&(j, a)| a * x[j]).sum();
            let size: f64 =
                row.coefficients.iter().map(|&(j, a)| (a * x[j]).abs()).sum::<f64>().max(row.rhs.abs()).max(1.0);
            let by = match row.relation {
                Relation::AtMost => sum - row.rhs,
                Relation::AtLeast => row.rhs - sum,
                Relation::Equal => (sum - row.rhs).abs(),
            };
            by / size
        });
        let bounds = self.columns.iter().zip(x).map(|(column, &value)| {
            let below = (column.lower - value) / column.lower.abs().max(1.0);
            let above = (value - column.upper) / column.upper.abs().max(1.0);
            // An infinite bound gives -inf or NaN here and is never violated.
            below.max(above)
        });
        rows.chain(bounds).fold(0.0, f64::max)
    }
}
