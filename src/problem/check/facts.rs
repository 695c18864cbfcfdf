//! What each kind of rule asks of a formula, in plain arithmetic.

use super::Checker;
use crate::brief::Match;
use crate::formula::Formula;
use crate::problem::idle::Idle;
use crate::problem::{Problem, Rule, RuleKind, UsualDoses, counted_score, total};
use crate::units::Ppt;

/// What a formula has of a rule.
pub(super) enum Verdict {
    /// Whole units of doses, or materials, counted.
    Counted {
        /// What the formula has, in the unit of the rule.
        has: f64,
        /// By how much it passes the rule, as a share of its size; 0 inside.
        by: f64,
        /// How far it is from breaking it, likewise; 0 where nothing lies
        /// between what is kept and what is broken.
        room: f64,
    },
    /// Two numbers, held against each other.
    Compared(Reading),
}

impl Verdict {
    /// What the formula has, and how far it passes the rule as a share of the
    /// rule's size; 0 or less inside.
    pub(super) fn has_and_by(&self) -> (f64, f64) {
        match self {
            Verdict::Counted { has, by, .. } => (*has, *by),
            Verdict::Compared(reading) => (reading.has, reading.passed_by()),
        }
    }

    /// How far the formula is from breaking the rule, as a share of the rule's
    /// size; 0 where it holds the formula or is broken.
    pub(super) fn room(&self) -> f64 {
        match self {
            Verdict::Counted { room, .. } => *room,
            Verdict::Compared(reading) => (-reading.passed_by()).max(0.0),
        }
    }

    fn with_room(self, room: f64) -> Verdict {
        match self {
            Verdict::Counted { has, by, .. } => Verdict::Counted { has, by, room },
            compared @ Verdict::Compared(_) => compared,
        }
    }
}

/// A rule that allows so many of something.
fn at_most(count: usize, at: f64) -> Verdict {
    let has = count as f64;
    Verdict::Counted { has, by: (has - at).max(0.0), room: 0.0 }
}

/// By how much one number is above another, as a share of the larger.
fn apart(above: f64, below: f64) -> f64 {
    (above - below).max(0.0) / above.abs().max(below.abs()).max(f64::MIN_POSITIVE)
}

/// Both sides of a rule: `left <= right`, or `left >= right`.
pub(super) struct Reading {
    left: f64,
    right: f64,
    at_most: bool,
    /// What the formula has, in the unit of the rule.
    has: f64,
    /// Sum of |terms|.
    terms: f64,
}

impl Reading {
    fn of(has: f64, at: f64, at_most: bool, terms: f64) -> Reading {
        Reading { left: has, right: at, at_most, has, terms }
    }

    /// How far the rule is passed, as a share of its size; negative inside.
    pub(super) fn passed_by(&self) -> f64 {
        let size = self.right.abs().max(self.terms).max(f64::MIN_POSITIVE);
        let over = if self.at_most { self.left - self.right } else { self.right - self.left };
        over / size
    }
}

/// What the rules ask about: amounts of a formula, added up once.
pub(super) struct Facts<'a> {
    pub(super) checker: &'a Checker<'a>,
    pub(super) problem: &'a Problem,
    pub(super) formula: &'a Formula,
    doses: Vec<Ppt>,
    neat_ppt: Vec<f64>,
}

impl<'a> Facts<'a> {
    pub(super) fn new(checker: &'a Checker<'a>, formula: &'a Formula) -> Self {
        let problem = checker.problem;
        let mut doses = vec![Ppt::ZERO; problem.palette.materials.len()];
        for &(material, dose) in &formula.parts {
            doses[material] = dose;
        }
        Facts { checker, problem, formula, doses, neat_ppt: problem.neat_ppt(formula) }
    }

    fn strength(&self) -> f64 {
        let terms = self.problem.palette.materials.iter().zip(&self.neat_ppt);
        terms.map(|(material, ppt)| material.strength * ppt / 1000.0).sum()
    }

    /// What of the formula is idle, over whole parts in exact fractions.
    pub(super) fn idle(&self) -> Idle {
        let is_exact = self.checker.is_whole_part();
        Idle::new(self.problem, self.formula, &self.neat_ppt, is_exact).unwrap_or_default()
    }

    /// Price per kg; `None` where a used material has none.
    fn price(&self) -> Option<f64> {
        let used = self.problem.palette.materials.iter().zip(&self.neat_ppt).filter(|(_, ppt)| **ppt > 0.0);
        used.map(|(material, ppt)| material.price_per_kg.map(|price| price * ppt / 1000.0)).sum()
    }

    /// The profile in a descriptor that a rule speaks of and the sum of
    /// |terms| of `profile * D - at * D`, divided by D.
    fn profile(&self, counted: usize, at: f64) -> Option<(f64, f64)> {
        let problem = self.problem;
        let ruled = &problem.ruled;
        let (mut above, mut below) = (0.0, 0.0);
        for (material, ppt) in problem.palette.materials.iter().zip(&self.neat_ppt) {
            let odour = material.strength * ppt;
            above += odour * material.scores[ruled[counted].descriptor];
            below += match problem.matching {
                Match::Level => odour,
                Match::Balance => odour * counted_score(ruled, material) / total(ruled),
            };
        }
        (below > 0.0).then(|| (above / below, above / below + at.abs()))
    }

    /// What the formula has of a rule and how far it passes it; `None` where
    /// the rule asks nothing of this formula: a price that nobody knows, or a
    /// profile of nothing.
    pub(super) fn verdict(&self, rule: &Rule) -> Option<Verdict> {
        self.verdict_on(&rule.kind, rule.at)
    }

    /// Every kind has its arm: one that had none would read as kept by all.
    fn verdict_on(&self, kind: &RuleKind, at: f64) -> Option<Verdict> {
        use RuleKind::*;
        let compared = |reading: Reading| Some(Verdict::Compared(reading));
        match *kind {
            DoseMin(column) => Some(self.dose_min(column, at)),
            DoseStep(column) => Some(self.dose_step(column, at)),
            DoseMax(column) => {
                let (dose, most) = (self.doses[column], Ppt::from_ppt(at));
                Some(self.on_dose(column, at, dose > most, dose - most).with_room(apart(at, dose.as_f64())))
            }
            Fixed(column) => {
                let dose = Ppt::from_ppt(at);
                Some(self.on_dose(column, at, self.doses[column] != dose, self.doses[column] - dose))
            }
            Must(column) => Some(self.on_dose(column, at, self.doses[column].is_zero(), Ppt::WHOLE)),
            Never(column) => Some(self.on_dose(column, at, !self.doses[column].is_zero(), Ppt::WHOLE)),
            MaxMaterials => {
                let used = at_most(self.doses.iter().filter(|dose| !dose.is_zero()).count(), at);
                Some(used.with_room(apart(at, self.formula.parts.len() as f64)))
            }
            MostOf(ref members) => {
                Some(at_most(members.iter().filter(|&&member| !self.doses[member].is_zero()).count(), at))
            }
            Moves(ref kept) => {
                Some(at_most(kept.iter().filter(|(column, dose)| self.doses[*column] != *dose).count(), at))
            }
            MaxUnusual(ref usual) => {
                let is_unusual = |(column, doses): &&(usize, UsualDoses)| {
                    !self.doses[*column].is_zero() && !doses.holds(self.doses[*column])
                };
                let unusual = usual.iter().filter(is_unusual).count();
                Some(at_most(unusual, at).with_room(apart(at, unusual as f64)))
            }
            Only(ref only) => Some(self.none_of(|material| !only.contains(&material))),
            OwnOnly => Some(self.none_of(|material| !self.problem.material(material).have)),
            AtLeast(ref contrary) => match self.verdict_on(contrary, at)? {
                Verdict::Compared(reading) => compared(Reading { at_most: false, ..reading }),
                // Only rules that compare two numbers have a contrary.
                Verdict::Counted { .. } => None,
            },
            Budget => {
                let price = self.price()?;
                compared(Reading::of(price, at, true, price))
            }
            PriceOfEffect => {
                let (price, strength) = (self.price()?, self.strength());
                let terms = price + at * strength;
                compared(Reading { left: price, right: at * strength, at_most: true, has: price / strength, terms })
            }
            StrengthMin => compared(Reading::of(self.strength(), at, false, self.strength())),
            StrengthMax => compared(Reading::of(self.strength(), at, true, self.strength())),
            MaxIdle => {
                let idle = self.idle().ppt;
                compared(Reading::of(idle, at, true, idle))
            }
            NeatMax(material) => {
                let neat = self.neat_ppt[material];
                compared(Reading::of(neat, at, true, neat))
            }
            GroupMin(ref members) => compared(self.sum_of(members, at, false)),
            GroupMax(ref members) => compared(self.sum_of(members, at, true)),
            RatioMin { of, to } => compared(self.quotient(of, to, at, false)),
            RatioMax { of, to } => compared(self.quotient(of, to, at, true)),
            TargetMin(counted) => {
                let (profile, terms) = self.profile(counted, at)?;
                compared(Reading::of(profile, at, false, terms))
            }
            TargetMax(counted) => {
                let (profile, terms) = self.profile(counted, at)?;
                compared(Reading::of(profile, at, true, terms))
            }
            Near(ref skeleton) => {
                let moved = skeleton.moved_percent(self.problem, self.formula)?;
                compared(Reading::of(moved, at, true, 100.0))
            }
            StageStrengthMin(stage) => {
                let left = self.left(stage);
                compared(Reading::of(left, at, false, left))
            }
            StageStrengthMax(stage) => {
                let left = self.left(stage);
                compared(Reading::of(left, at, true, left))
            }
            StageKept(stage) => {
                let (left, first) = (self.left(stage), self.left(0));
                let right = at / 100.0 * first;
                compared(Reading { left, right, at_most: false, has: 100.0 * left / first, terms: left + right })
            }
            StageShareMin { stage, ref members } => compared(self.share(stage, members, at, false)),
            StageShareMax { stage, ref members } => compared(self.share(stage, members, at, true)),
            FilmLasts => {
                let hours = self.problem.paper.as_ref()?.film(&self.neat_ppt).life_hours();
                compared(Reading::of(hours, at, false, hours))
            }
            Limit { restriction, product } => {
                let percent = self.use_percent(restriction, product);
                compared(Reading::of(percent, at, true, percent))
            }
            Joint { ref members, product } => {
                let sum = members.iter().map(|&(member, limit)| self.use_percent(member, product) / limit).sum();
                compared(Reading::of(sum, at, true, sum))
            }
            Concentrate { material, product } => {
                let percent = self.neat_ppt[material] / 10.0 * self.problem.products[product].accord_share();
                compared(Reading::of(percent, at, true, percent))
            }
            Product { material, product } => {
                let product = &self.problem.products[product];
                let percent = self.neat_ppt[material] / 10.0 * product.accord_share() * product.dosage();
                compared(Reading::of(percent, at, true, percent))
            }
        }
    }

    /// A rule on the dose of one column, in exact arithmetic.
    fn on_dose(&self, column: usize, at: f64, broken: bool, distance: Ppt) -> Verdict {
        let has = self.doses[column].as_f64();
        let size = at.max(has).max(f64::MIN_POSITIVE);
        Verdict::Counted { has, by: if broken { distance.as_f64().abs() / size } else { 0.0 }, room: 0.0 }
    }

    fn dose_min(&self, column: usize, at: f64) -> Verdict {
        let (dose, least) = (self.doses[column], Ppt::from_ppt(at));
        // The grid moves a minimum up, and a used dose has at least 1e-6.
        let broken = !self.is_fixed(column) && dose > Ppt::ZERO && dose < least.max(Ppt::LEAST);
        let room = if dose.is_zero() { 0.0 } else { apart(dose.as_f64(), at) };
        self.on_dose(column, at, broken, least - dose).with_room(room)
    }

    fn dose_step(&self, column: usize, at: f64) -> Verdict {
        let (dose, below) = (self.doses[column], self.doses[column].floor_to(Ppt::from_ppt(at)));
        self.on_dose(column, at, !self.is_fixed(column) && below != dose, dose - below)
    }

    /// A rule that leaves some materials out.
    fn none_of(&self, is_left_out: impl Fn(usize) -> bool) -> Verdict {
        at_most(self.formula.parts.iter().filter(|(material, _)| is_left_out(*material)).count(), 0.0)
    }

    fn sum_of(&self, members: &[usize], at: f64, at_most: bool) -> Reading {
        let sum = members.iter().map(|&material| self.neat_ppt[material]).sum();
        Reading::of(sum, at, at_most, sum)
    }

    fn quotient(&self, of: usize, to: usize, at: f64, at_most: bool) -> Reading {
        let (of, to) = (self.neat_ppt[of], self.neat_ppt[to]);
        Reading { left: of, right: at * to, at_most, has: of / to, terms: of + at * to }
    }

    /// Strength of what is left at a stage, by the problem's clocks.
    fn left(&self, stage: usize) -> f64 {
        let terms = self.neat_ppt.iter().enumerate();
        terms.map(|(material, ppt)| self.problem.left_strength(stage, material) * ppt / 1000.0).sum()
    }

    /// What some materials carry of it.
    fn share(&self, stage: usize, members: &[usize], at: f64, at_most: bool) -> Reading {
        let of = |&material: &usize| self.problem.left_strength(stage, material) * self.neat_ppt[material] / 1000.0;
        let (left, whole): (f64, f64) = (members.iter().map(of).sum(), self.left(stage));
        let right = at / 100.0 * whole;
        Reading { left, right, at_most, has: 100.0 * left / whole, terms: left + right }
    }

    /// Whether a column is at a dose that sets minimum and step aside.
    fn is_fixed(&self, column: usize) -> bool {
        self.checker.fixed[column] || self.checker.kept[column] == Some(self.doses[column])
    }

    fn use_percent(&self, restriction: usize, product: usize) -> f64 {
        let (from, reserve) = self.problem.substance_sources(restriction, product, &self.neat_ppt);
        from.iter().map(|(_, percent)| percent).sum::<f64>() + reserve
    }
}
