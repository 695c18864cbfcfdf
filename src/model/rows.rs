//! The linear rows of the rules, each with its rule's index.

use std::collections::BTreeMap;

use super::blend::{Blend, BlendCount, BlendRow};
use super::role::Role;
use crate::brief::Match;
use crate::limits::{Applies, Counts, Restriction};
use crate::palette::{Cas, Material, Palette};
use crate::problem::{Problem, RuleKind, UsualDoses, counted_score, total};
use crate::tolerance::doses::UNIT;
use crate::tolerance::rules::{CANCELLED, DECIMALS, IDLE};
use crate::units::Ppt;

impl Blend {
    pub(super) fn add_rules(&mut self, problem: &Problem) {
        let brings = Brings::new(self, problem);
        for (index, rule) in problem.rules.iter().enumerate() {
            self.add_rule(problem, &brings, index, &rule.kind, rule.at);
        }
    }

    fn add_rule(&mut self, problem: &Problem, brings: &Brings, index: usize, kind: &RuleKind, at: f64) {
        match kind {
            RuleKind::MaxMaterials => self.count((0..self.columns.len()).collect(), at),
            RuleKind::MostOf(members) => {
                let is_member = |&column: &usize| members.contains(&self.columns[column].material);
                self.count((0..self.columns.len()).filter(is_member).collect(), at);
            }
            RuleKind::Moves(kept) => self.moves(index, kept, at),
            RuleKind::MaxUnusual(usual) => self.unusual(usual, at),
            RuleKind::Budget => self.at_most(index, |column| brings.price[column], at),
            RuleKind::PriceOfEffect => {
                self.differences(index, |column| less(brings.price[column], at * brings.strength[column]));
            }
            RuleKind::StrengthMax => self.at_most(index, |column| brings.strength[column], at),
            RuleKind::StrengthMin => self.at_most(index, |column| -brings.strength[column], -at),
            RuleKind::GroupMax(members) => {
                let sum = brings.sum_of(members);
                self.at_most(index, |column| sum[column], at);
            }
            RuleKind::GroupMin(members) => {
                let sum = brings.sum_of(members);
                self.at_most(index, |column| -sum[column], -at);
            }
            RuleKind::RatioMax { of, to } => {
                let (of, to) = (brings.sum_of(&[*of]), brings.sum_of(&[*to]));
                self.differences(index, |column| less(of[column], at * to[column]));
            }
            RuleKind::RatioMin { of, to } => {
                let (of, to) = (brings.sum_of(&[*of]), brings.sum_of(&[*to]));
                self.differences(index, |column| less(at * to[column], of[column]));
            }
            RuleKind::TargetMax(counted) => {
                let excess = brings.excess_over(problem, *counted, at);
                self.differences(index, |column| excess[column]);
            }
            RuleKind::TargetMin(counted) => {
                let excess = brings.excess_over(problem, *counted, at);
                self.differences(index, |column| excess[column].negated());
            }
            RuleKind::NeatMax(material) => self.cap(index, &brings.columns_of(*material), at),
            RuleKind::Concentrate { material, product } => {
                let share = problem.products[*product].accord_share();
                self.cap(index, &brings.columns_of(*material), at * 10.0 / share);
            }
            RuleKind::Product { material, product } => {
                let product = &problem.products[*product];
                let per_ppt = product.accord_share() * product.dosage();
                self.cap(index, &brings.columns_of(*material), at * 10.0 / per_ppt);
            }
            RuleKind::Limit { restriction, product } => {
                self.restrict(problem, brings, index, &[(*restriction, 1.0)], *product, at);
            }
            RuleKind::Joint { members, product } => {
                let weighted: Vec<(usize, f64)> = members.iter().map(|&(r, limit)| (r, 1.0 / limit)).collect();
                self.restrict(problem, brings, index, &weighted, *product, at);
            }
            RuleKind::AtLeast(contrary) => {
                // The rows of the contrary, the other way round.
                let first = self.rows.len();
                let (columns, contradiction) = (self.columns.clone(), self.contradiction);
                self.add_rule(problem, brings, index, contrary, at);
                (self.columns, self.contradiction) = (columns, contradiction);
                for row in &mut self.rows[first..] {
                    row.coefficients.iter_mut().for_each(|(_, a)| *a = -*a);
                    row.upper = -row.upper;
                }
            }
            RuleKind::StageStrengthMax(stage) => {
                let left = brings.left(problem, *stage);
                self.at_most(index, |column| left[column], at);
            }
            RuleKind::StageStrengthMin(stage) => {
                let left = brings.left(problem, *stage);
                self.at_most(index, |column| -left[column], -at);
            }
            RuleKind::StageKept(stage) => {
                let (left, first) = (brings.left(problem, *stage), brings.left(problem, 0));
                self.differences(index, |column| less(at / 100.0 * first[column], left[column]));
            }
            RuleKind::StageShareMax { stage, members } => {
                let (own, whole) = (brings.left_of(problem, *stage, members), brings.left(problem, *stage));
                self.differences(index, |column| less(own[column], at / 100.0 * whole[column]));
            }
            RuleKind::StageShareMin { stage, members } => {
                let (own, whole) = (brings.left_of(problem, *stage, members), brings.left(problem, *stage));
                self.differences(index, |column| less(at / 100.0 * whole[column], own[column]));
            }
            RuleKind::FilmLasts => {
                let (hours, mass) = (brings.film_hours(problem), brings.mass());
                self.differences(index, |column| less(at * mass[column], hours[column]));
            }
            // No row, but one on each rung: see `ladder`.
            RuleKind::MaxIdle => {}
            RuleKind::Near(skeleton) => self.stay_near(problem, index, skeleton, at),
            // In the domains of the columns already.
            RuleKind::DoseMin(_)
            | RuleKind::DoseMax(_)
            | RuleKind::DoseStep(_)
            | RuleKind::Must(_)
            | RuleKind::Never(_)
            | RuleKind::Fixed(_)
            | RuleKind::Only(_)
            | RuleKind::OwnOnly => {}
        }
    }

    /// Rules that ask for a material. One that has several columns is asked for in
    /// any of them; one that has none cannot be had.
    pub(super) fn add_musts(&mut self, problem: &Problem) {
        for (index, rule) in problem.rules.iter().enumerate() {
            let Some(material) = rule.kind.asks_for() else { continue };
            match self.columns_of(material)[..] {
                [] => self.contradiction = Some(index),
                [column] => self.columns[column].must = true,
                ref own => {
                    let least = own.iter().map(|&column| self.columns[column].least.as_f64()).fold(1000.0, f64::min);
                    own.iter().for_each(|&column| self.columns[column].must = false);
                    let coefficients = own.iter().map(|&column| (column, -1.0)).collect();
                    self.rows.push(BlendRow { rule: index, coefficients, upper: -least, ..BlendRow::default() });
                }
            }
        }
    }

    /// At most so many doses are not the ones that stay: of the columns of
    /// these all but so many are used, and never two of one material.
    fn moves(&mut self, rule: usize, kept: &[(usize, Ppt)], at: f64) {
        let mut coefficients = Vec::new();
        for &(material, dose) in kept {
            let own = self.columns_of(material);
            let stays = own.iter().filter(|&&column| self.columns[column].role == Role::Stays);
            coefficients.extend(stays.map(|&column| (column, -1.0 / dose.as_f64())));
            self.one_of(own);
        }
        let upper = at - kept.len() as f64;
        self.rows.push(BlendRow { rule, coefficients, upper, ..BlendRow::default() });
    }

    /// At most so many doses are unusual, and never two columns of one material.
    fn unusual(&mut self, usual: &[(usize, UsualDoses)], at: f64) {
        let mut unusual = Vec::new();
        for &(material, doses) in usual {
            let own = self.columns_of(material);
            unusual.extend(own.iter().copied().filter(|&column| match self.columns[column].role {
                Role::Unusual => true,
                Role::Stays => !doses.holds(self.columns[column].least),
                // Its doses are usual, or nothing is counted.
                Role::Usual | Role::Any => false,
            }));
            self.one_of(own);
        }
        unusual.sort_unstable();
        self.count(unusual, at);
    }

    /// At most one of the columns of a material is used; said once.
    fn one_of(&mut self, columns: Vec<usize>) {
        if self.counts.iter().all(|count| count.most != 1 || count.columns != columns) {
            self.count(columns, 1.0);
        }
    }

    /// At most so many of some columns are used; nothing where that is no
    /// restriction.
    fn count(&mut self, columns: Vec<usize>, at: f64) {
        let most = at.max(0.0) as usize;
        if most < columns.len() {
            self.counts.push(BlendCount { columns, most });
        }
    }

    /// Lowers greatest doses to what each row alone leaves, the others at the
    /// doses that leave most. A row that allows nothing then leaves columns out
    /// altogether, instead of holding traces of them at the edge of rounding.
    pub(super) fn tighten(&mut self) {
        for _ in 0..2 {
            for index in 0..self.rows.len() {
                let row = std::mem::take(&mut self.rows[index]);
                self.tighten_by(&row);
                self.rows[index] = row;
            }
        }
    }

    fn tighten_by(&mut self, row: &BlendRow) {
        // Coefficients as little as decimals may have meant.
        let mut coefficients = row.coefficients.clone();
        let mut cancelled = vec![0.0; self.columns.len()];
        row.cancelled.iter().for_each(|&(column, size)| cancelled[column] = size);
        coefficients.iter_mut().for_each(|(column, a)| *a -= CANCELLED * cancelled[*column]);
        let upper = row.upper + CANCELLED * row.upper_cancelled;
        // The least that a column adds to the row.
        let least = |blend: &Blend, column: usize, a: f64| {
            let own = &blend.columns[column];
            if a < 0.0 {
                a * own.most.as_f64()
            } else if own.must {
                a * own.least.as_f64()
            } else {
                0.0
            }
        };
        let terms = coefficients.iter().map(|&(column, a)| least(self, column, a));
        let (sum, size) = terms.fold((0.0, upper.abs()), |(sum, size), term| (sum + term, size + term.abs()));
        for &(column, a) in coefficients.iter().filter(|(_, a)| *a > 0.0) {
            // A hair of room for rounding, of the size of what was added up.
            let room = upper - (sum - least(self, column, a)) + DECIMALS * size;
            let ppt = (room / a).min(1000.0);
            if ppt < self.columns[column].most.as_f64() {
                let units = (ppt.max(0.0) * Ppt::UNITS as f64 + UNIT).floor();
                let most = Ppt::from_units(units as i64).floor_to(self.columns[column].step);
                if most < self.columns[column].most {
                    self.lower_most(row.rule, column, most);
                }
            }
        }
    }

    /// Drops rows that no 1000 parts of the columns can break.
    pub fn drop_idle_rows(&mut self) {
        let columns = std::mem::take(&mut self.columns);
        self.rows.retain(|row| {
            // Fill 1000 parts with the columns that add most.
            let mut coefficients = vec![0.0; columns.len()];
            row.coefficients.iter().for_each(|&(column, a)| coefficients[column] = a);
            let mut order: Vec<usize> = (0..columns.len()).collect();
            order.sort_by(|&a, &b| coefficients[b].total_cmp(&coefficients[a]));
            let (mut left, mut most, mut size) = (1000.0, 0.0, row.upper.abs());
            for column in order {
                let dose = columns[column].most.as_f64().min(left);
                left -= dose;
                most += coefficients[column] * dose;
                size += (coefficients[column] * dose).abs();
            }
            most > row.upper - IDLE * size
        });
        self.columns = columns;
    }

    fn at_most(&mut self, rule: usize, coefficient: impl Fn(usize) -> f64, upper: f64) {
        let all = (0..self.columns.len()).map(|column| (column, coefficient(column)));
        let coefficients = all.filter(|(_, a)| *a != 0.0).collect();
        self.rows.push(BlendRow { rule, coefficients, upper, ..BlendRow::default() });
    }

    /// A row of differences that together are at most 0.
    fn differences(&mut self, rule: usize, difference: impl Fn(usize) -> Difference) {
        self.at_most(rule, |column| difference(column).left, 0.0);
        let all = (0..self.columns.len()).map(|column| (column, difference(column).cancelled));
        if let Some(row) = self.rows.last_mut() {
            row.cancelled = all.filter(|(_, cancelled)| *cancelled > 0.0).collect();
        }
    }

    /// A cap on the neat amount of one material: a bound where one column
    /// alone brings it, a row otherwise.
    fn cap(&mut self, rule: usize, brought_by: &[(usize, f64)], ppt: f64) {
        if let [(column, part)] = *brought_by {
            // Down to a whole unit of 1e-9 ppt; the small addend keeps binary
            // rounding from taking away a unit that the decimals allow.
            let units = ((ppt / part).min(1000.0) * Ppt::UNITS as f64 + UNIT).floor();
            let most = Ppt::from_units(units as i64).floor_to(self.columns[column].step);
            if most < self.columns[column].most {
                self.lower_most(rule, column, most);
            }
        } else if !brought_by.is_empty() {
            let coefficients = brought_by.to_vec();
            self.rows.push(BlendRow { rule, coefficients, upper: ppt, ..BlendRow::default() });
        }
    }

    fn lower_most(&mut self, rule: usize, column: usize, most: Ppt) {
        let column = &mut self.columns[column];
        if most < column.least {
            if column.must {
                self.contradiction = Some(rule);
            }
            // Kept as a column that can only be 0, so that indices stay put.
            column.most = Ppt::ZERO;
        } else {
            column.most = most;
        }
    }

    /// A row for a restriction, or for several that share one limit; where
    /// there is no room, every source is held at 0.
    fn restrict(
        &mut self,
        problem: &Problem,
        brings: &Brings,
        rule: usize,
        members: &[(usize, f64)],
        product: usize,
        at: f64,
    ) {
        let product = &problem.products[product];
        let per_ppt = product.accord_share() * product.dosage() / 10.0;
        let mut sums = vec![0.0; self.columns.len()];
        let mut reserve = 0.0;
        for &(restriction, weight) in members {
            let restriction = &problem.restrictions[restriction];
            let parts = brings.substance(&problem.palette, restriction);
            for (sum, part) in sums.iter_mut().zip(parts) {
                *sum += weight * per_ppt * part;
            }
            let already = product.reserve.iter().filter(|(cas, _)| restriction.cas.contains(cas));
            reserve += weight * already.map(|(_, percent)| percent).sum::<f64>();
        }
        let room = at - reserve;
        if room.abs() <= DECIMALS * at {
            // Decimals that take each other away; binary leaves a trace.
            let sources = sums.iter().enumerate().filter(|(_, sum)| **sum > 0.0);
            for (column, _) in sources {
                self.lower_most(rule, column, Ppt::ZERO);
            }
            return;
        }
        if room < 0.0 {
            // The rest of the concentrate alone is too much.
            self.contradiction = Some(rule);
        }
        self.at_most(rule, |column| sums[column], room);
        if let Some(row) = self.rows.last_mut() {
            row.upper_cancelled = 2.0 * at.min(reserve);
        }
    }
}

/// What one ppt of each column brings.
struct Brings {
    /// Neat parts of each material, by column.
    neat: Vec<Vec<(usize, f64)>>,
    /// Columns that bring a material, with the part of it in one ppt.
    by_material: BTreeMap<usize, Vec<(usize, f64)>>,
    /// Price per kg of accord of one ppt; an unknown price counts as 0 here,
    /// validated briefs have none where money is spoken of.
    price: Vec<f64>,
    /// Strength of the formula that one ppt gives.
    strength: Vec<f64>,
}

impl Brings {
    fn new(blend: &Blend, problem: &Problem) -> Brings {
        let mut by_material: BTreeMap<usize, Vec<(usize, f64)>> = BTreeMap::new();
        let mut neat = Vec::new();
        let mut strength = Vec::new();
        for (index, column) in blend.columns.iter().enumerate() {
            let content = problem.columns[column.material].neat.clone();
            for &(material, part) in &content {
                by_material.entry(material).or_default().push((index, part));
            }
            let of = |(material, part): &(usize, f64)| problem.material(*material).strength * part / 1000.0;
            strength.push(content.iter().map(of).sum());
            neat.push(content);
        }
        let price = blend.columns.iter().map(|column| column.price.unwrap_or(0.0)).collect();
        Brings { neat, by_material, price, strength }
    }

    /// What one ppt of each column adds to `P_d - at * D`, for a descriptor
    /// that a rule speaks of.
    fn excess_over(&self, problem: &Problem, counted: usize, at: f64) -> Vec<Difference> {
        let ruled = &problem.ruled;
        let of = |content: &Vec<(usize, f64)>| {
            let (mut profile, mut allowed) = (0.0, 0.0);
            for &(material, part) in content {
                let material = problem.material(material);
                let heard = match problem.matching {
                    Match::Level => 1.0,
                    Match::Balance => counted_score(ruled, material) / total(ruled),
                };
                profile += part * material.strength * material.scores[ruled[counted].descriptor];
                allowed += part * material.strength * at * heard;
            }
            less(profile, allowed)
        };
        self.neat.iter().map(of).collect()
    }

    /// By column, a sum over the neat materials that one ppt of it brings.
    fn summed(&self, of: impl Fn(usize) -> f64) -> Vec<f64> {
        self.neat.iter().map(|content| content.iter().map(|&(material, part)| part * of(material)).sum()).collect()
    }

    /// By column, the strength of what is left at a stage, by the problem's clocks.
    fn left(&self, problem: &Problem, stage: usize) -> Vec<f64> {
        self.summed(|material| problem.left_strength(stage, material) / 1000.0)
    }

    /// The same of some materials.
    fn left_of(&self, problem: &Problem, stage: usize, members: &[usize]) -> Vec<f64> {
        self.summed(|material| match members.contains(&material) {
            true => problem.left_strength(stage, material) / 1000.0,
            false => 0.0,
        })
    }

    /// By column, hours that one ppt adds to the life of a film of one ppt.
    fn film_hours(&self, problem: &Problem) -> Vec<f64> {
        self.summed(|material| problem.paper.as_ref().map_or(0.0, |paper| paper.life_hours(material)))
    }

    /// By column, neat parts of the palette's materials in one ppt.
    fn mass(&self) -> Vec<f64> {
        self.summed(|_| 1.0)
    }

    fn columns_of(&self, material: usize) -> Vec<(usize, f64)> {
        self.by_material.get(&material).cloned().unwrap_or_default()
    }

    /// By column, the neat amount of some materials together.
    fn sum_of(&self, members: &[usize]) -> Vec<f64> {
        let mut sums = vec![0.0; self.neat.len()];
        for member in members {
            for (column, part) in self.columns_of(*member) {
                sums[column] += part;
            }
        }
        sums
    }

    /// By column, the amount of a restricted substance.
    fn substance(&self, palette: &Palette, restriction: &Restriction) -> Vec<f64> {
        let fraction = |material: usize| brings(restriction, &palette.materials[material]);
        self.neat
            .iter()
            .map(|content| content.iter().map(|&(material, part)| part * fraction(material)).sum())
            .collect()
    }
}

/// What is left of one number less another, and what took itself away.
#[derive(Clone, Copy)]
struct Difference {
    left: f64,
    cancelled: f64,
}

impl Difference {
    fn negated(self) -> Difference {
        Difference { left: -self.left, ..self }
    }
}

/// `a - b` of two sums that are not negative, and 0 where no more is left than
/// what binary arithmetic leaves of decimals that take each other away: as the
/// coefficient of a row against 0, a trace would rule its column out.
fn less(a: f64, b: f64) -> Difference {
    let difference = a - b;
    let left = if difference.abs() <= 16.0 * f64::EPSILON * (a + b) { 0.0 } else { difference };
    Difference { left, cancelled: 2.0 * a.min(b) }
}

/// The part of a neat material that counts under a restriction, from 0 to 1.
fn brings(restriction: &Restriction, material: &Material) -> f64 {
    let listed = |cas: &Cas| restriction.cas.iter().any(|own| own == cas);
    let as_such = restriction.matched(material).is_some();
    match (restriction.applies, &material.base, &material.constituents) {
        (Applies::Added | Applies::All, ..) if as_such => 1.0,
        (_, Some(base), _) => {
            let whole = Ppt::WHOLE.as_f64();
            base.parts.iter().map(|(part, dose)| brings(restriction, part) * dose.as_f64() / whole).sum()
        }
        (Applies::Added, ..) | (_, None, None) => 0.0,
        (Applies::All | Applies::Constituents, None, Some(constituents)) => {
            let within = constituents.iter().filter(|(cas, _)| listed(cas));
            within.map(|(_, part)| part / 100.0).sum::<f64>().min(1.0)
        }
    }
}
