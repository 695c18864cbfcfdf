//! The blend model: a linear-fractional programme over doses.
//!
//! With doses `x` in ppt of the basis, `D = sum q x` and
//! `P_d = sum (s a)_d x`, the loss is `N / D` with
//! `N = sum_d w_d (excess_d (P_d - t_d D)+ + (t_d D - P_d)+)`, subject to
//! `sum x = 1000`, rows `sum a x <= b`, and for each column either `x = 0` or
//! `x` on its grid between `least` and `most`; of some sets of columns at most
//! so many are above 0. Where a formula has several views, the loss is the greatest of
//! their ratios, and `D`, `P` and `t` are those of the first (`view`).
//!
//! A material has one column, but where a rule counts its dose: how many doses
//! may move, or may be outside their usual range. Then it has a column for the
//! dose that stays, one for its usual doses and one for any dose, as far as
//! they are needed; one at most of them is used, and a count over columns is
//! the rule.

use super::counted::Counted;
pub use super::heard::CapColumn;
use super::heard::{first_view, scaled_targets, seen};
use super::ladder::Ladder;
use super::role::Role;
use crate::formula::Formula;
use crate::problem::{DoseDomain, Problem, Skeleton, Target};
use crate::units::Ppt;

/// The solver-neutral model of a problem.
#[derive(Clone, Debug)]
pub struct Blend {
    /// Columns that may be used.
    pub columns: Vec<BlendColumn>,
    /// Targets of the descriptors that count.
    pub targets: Vec<Target>,
    /// Linear rules, each `sum a x <= upper`.
    pub rows: Vec<BlendRow>,
    /// How many columns of a set may be above 0.
    pub counts: Vec<BlendCount>,
    /// The rungs of a rule on idle weight, where there is one that a formula can
    /// break: no linear row, but one on each of them.
    pub ladder: Option<Ladder>,
    /// Further ratios that no formula may pass.
    pub caps: Vec<LossCap>,
    /// Further views, of which the worst counts.
    pub views: Vec<BlendView>,
    /// Palette materials, used or not: the length of a formula's doses.
    pub materials: usize,
    /// A contradiction seen while the model was built, as the index of one of
    /// the rules that cannot hold; then no formula exists.
    pub contradiction: Option<usize>,
}

/// One material that may be used.
#[derive(Clone, Debug)]
pub struct BlendColumn {
    /// Index into the palette.
    pub material: usize,
    /// Which of its material's doses it is for.
    pub role: Role,
    /// What one ppt adds to `D`.
    pub weight: f64,
    /// (target, what one ppt adds to its `P`), nonzero entries only.
    pub odours: Vec<(usize, f64)>,
    /// Least dose when used.
    pub least: Ppt,
    /// Greatest dose.
    pub most: Ppt,
    /// Grid; zero is continuous, and a fixed dose has `least = most`.
    pub step: Ppt,
    /// Whether the dose may not be 0.
    pub must: bool,
    /// Price of one ppt, per kg of accord; `None` where it is not known.
    pub price: Option<f64>,
}

/// `sum of coefficient * x[column] <= upper`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BlendRow {
    /// Index of the rule in the problem.
    pub rule: usize,
    /// (column of the blend, coefficient per ppt), nonzero entries only.
    pub coefficients: Vec<(usize, f64)>,
    /// Right-hand side.
    pub upper: f64,
    /// (column, what took itself away in its coefficient): for one that is
    /// `a - b` twice the smaller of the two, per ppt. A double rounds a and b,
    /// so the coefficient is off by parts of these, however little is left.
    pub cancelled: Vec<(usize, f64)>,
    /// The same of the right-hand side.
    pub upper_cancelled: f64,
}

/// A ratio of the same form as the loss that may not pass a number:
/// `sum_d w_d (excess_d (P_d - t_d D)+ + (t_d D - P_d)+) <= most D`, with a
/// `D` and `P` of its own. A rule may say so; and with it a second objective is
/// sought among the formulas that are as good as the best by the first one.
#[derive(Clone, Debug, PartialEq)]
pub struct LossCap {
    /// Index of the rule in the problem; `None` for an objective of before.
    pub rule: Option<usize>,
    /// The targets of the ratio.
    pub targets: Vec<Target>,
    /// What one ppt of each column adds to its `D` and, nonzero entries only,
    /// to its `P`.
    pub columns: Vec<CapColumn>,
    /// The greatest value.
    pub most: f64,
    /// What may be added to `most D`, for what doubles take from decimals; 0
    /// but where a proof is written down.
    pub room: f64,
}

/// A further view.
#[derive(Clone, Debug, PartialEq)]
pub struct BlendView {
    /// The targets of its ratio. Their weights have in them what makes views compare
    /// ([`Problem::view_scale`]).
    pub targets: Vec<Target>,
    /// What one ppt of each column of the blend adds to its `D` and, nonzero entries
    /// only, to its `P`.
    pub columns: Vec<CapColumn>,
}

/// At most so many of some columns are above 0.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BlendCount {
    /// The columns, in order; more than `most`.
    pub columns: Vec<usize>,
    /// How many of them.
    pub most: usize,
}

impl BlendColumn {
    /// Whether doses come from a grid rather than a continuum.
    pub fn on_grid(&self) -> bool {
        self.step > Ppt::ZERO || self.least == self.most
    }

    /// What one ppt adds, as a capped ratio says it.
    pub(super) fn as_seen(&self) -> CapColumn {
        CapColumn { weight: self.weight, odours: self.odours.clone() }
    }

    /// Whether the column's own rules are more than an interval from 0.
    pub fn is_discrete(&self) -> bool {
        self.on_grid() || self.least > Ppt::LEAST && !self.must
    }
}

impl Blend {
    /// The model of a problem.
    pub fn new(problem: &Problem) -> Blend {
        let mut blend = Blend::as_written(problem);
        blend.tighten();
        blend.drop_idle_rows();
        blend.ladder = Ladder::new(&blend, problem);
        blend
    }

    /// The model with its rows as the rules say them, and without a ladder.
    pub(super) fn as_written(problem: &Problem) -> Blend {
        let mut blend = Blend {
            columns: Vec::new(),
            targets: scaled_targets(problem, first_view(problem)),
            rows: Vec::new(),
            counts: Vec::new(),
            ladder: None,
            caps: Vec::new(),
            views: Vec::new(),
            materials: problem.palette.materials.len(),
            contradiction: None,
        };
        let kept = problem.kept_doses();
        let may_stay = if kept.iter().any(Option::is_some) { problem.may_stay() } else { vec![false; kept.len()] };
        let counted = Counted::of(problem);
        for (index, domain) in problem.domains().into_iter().enumerate() {
            let domain = domain.ok().filter(|domain| !domain.is_empty());
            let stays = kept[index].filter(|_| may_stay[index]);
            if let Some(dose) = stays.filter(|dose| counted.may_have(index, *dose)) {
                // On the grid of its own dose: that or nothing.
                let staying = DoseDomain { least: dose, most: dose, step: dose, must: false, fixed: true };
                blend.columns.push(column(problem, index, staying, Role::Stays));
            }
            // A dose that is fixed anyhow can but stay.
            if let Some(domain) = domain.filter(|domain| !domain.fixed || stays.is_none()) {
                let parts = counted.parts(index, domain);
                blend.columns.extend(parts.map(|(role, domain)| column(problem, index, domain, role)));
            }
        }
        blend.add_views(problem);
        blend.add_musts(problem);
        blend.add_rules(problem);
        blend
    }

    /// The same formulas judged by another objective, those alone whose loss
    /// is at most `most`, in every view. The new objective is `target` for each target and
    /// `of` for each column: its weight and its odours.
    pub fn among_the_best(
        &self,
        most: f64,
        targets: Vec<Target>,
        of: impl Fn(usize, &BlendColumn) -> CapColumn,
    ) -> Blend {
        let mut among = Blend { targets, ..self.capped_views(most) };
        among.caps.push(self.capped(most));
        for (index, column) in among.columns.iter_mut().enumerate() {
            let CapColumn { weight, odours } = of(index, &self.columns[index]);
            (column.weight, column.odours) = (weight, odours);
        }
        among
    }

    /// The same formulas judged by how far they are from a skeleton, in percent,
    /// those alone whose loss is at most `most`.
    pub fn nearest_to(&self, problem: &Problem, skeleton: &Skeleton, most: f64) -> Blend {
        let (mut targets, columns) = self.distance(problem, skeleton);
        targets.iter_mut().for_each(|target| target.weight = 100.0);
        self.among_the_best(most, targets, |column, _| columns[column].clone())
    }

    /// The columns of a material: none, one, or several where a rule counts its
    /// dose.
    pub fn columns_of(&self, material: usize) -> Vec<usize> {
        (0..self.columns.len()).filter(|&column| self.columns[column].material == material).collect()
    }

    /// Whether doses are continuous and neither counts nor minimums choose
    /// between using a column and leaving it out: one linear programme, or with a ladder one
    /// on each rung.
    pub fn is_continuous(&self) -> bool {
        self.counts.is_empty()
            && self.columns.iter().all(|column| !column.is_discrete() || column.least == column.most && column.must)
    }

    /// Whether every dose lies on a grid.
    pub fn is_whole_part(&self) -> bool {
        self.columns.iter().all(BlendColumn::on_grid)
    }

    /// The same model over continuous doses: counts, steps and minimums of
    /// columns that need not be used are set aside.
    pub fn relaxed(&self) -> Blend {
        let mut relaxed = self.clone();
        relaxed.counts.clear();
        for column in &mut relaxed.columns {
            if column.must {
                if column.least < column.most {
                    column.step = Ppt::ZERO;
                }
            } else {
                column.least = Ppt::ZERO;
                column.step = Ppt::ZERO;
            }
        }
        relaxed
    }

    /// Doses of the columns from a formula of the problem's basis; `None`
    /// where it uses a material that has no column for its dose.
    pub fn column_doses(&self, formula: &Formula) -> Option<Vec<Ppt>> {
        let mut doses = vec![Ppt::ZERO; self.columns.len()];
        for &(material, dose) in &formula.parts {
            // What counts for least comes first.
            let takes = |column: &&usize| {
                let BlendColumn { role, least, most, .. } = self.columns[**column];
                match role {
                    Role::Stays => dose == least,
                    Role::Usual => (least..=most).contains(&dose),
                    Role::Any | Role::Unusual => true,
                }
            };
            doses[*self.columns_of(material).iter().find(takes)?] = dose;
        }
        Some(doses)
    }

    /// Doses of every palette material from doses of the columns.
    pub fn palette_doses(&self, doses: &[Ppt]) -> Vec<Ppt> {
        let mut all = vec![Ppt::ZERO; self.materials];
        for (column, &dose) in self.columns.iter().zip(doses) {
            all[column.material] = all[column.material] + dose;
        }
        all
    }
}

/// The column of a material whose doses come from a domain, in the first view.
fn column(problem: &Problem, index: usize, domain: DoseDomain, role: Role) -> BlendColumn {
    let CapColumn { weight, odours } = seen(problem, first_view(problem), index);
    let content = problem.columns[index].neat.iter();
    let prices = content.map(|&(material, part)| Some(part * problem.material(material).price_per_kg? / 1000.0));
    BlendColumn {
        material: index,
        role,
        weight,
        odours,
        least: domain.least,
        most: domain.most,
        step: domain.step,
        must: domain.must,
        price: prices.sum(),
    }
}
