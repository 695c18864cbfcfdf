//! What multipliers prove of a part, in exact arithmetic.
//!
//! Theorem (weak duality). For every formula of the part, whatever the
//! multipliers are, `o (N - lambda D) >= total`, with the total that
//! [`Model::read`] adds up:
//!
//! - `w (e max(0, y) + max(0, -y)) >= v y` for every v from -w to w e, so
//!   `N >= sum v (P - t D)`;
//! - `sigma (1000 - sum x)`, `delta (D - sum q x)` and `tau (R - its sum)` are 0;
//! - `rho (sum a x - b)`, of rows of the rules and of the part's rungs, and
//!   `mu (used - most)` are not above 0, since rho and mu are not below it;
//! - of a cap neither is `sum v (P - t D) - kappa (most D + room)`, for every v
//!   from -kappa w to kappa w e: the first sum is at most kappa times the cap's
//!   own N, as above.
//!
//! Adding all of these to the left makes it no larger, and leaves a sum over
//! columns of `own x + using`, a function of R and one of D, each least at an
//! end of its interval. With o = 1, a total of 0 or more says that the loss N / D
//! (D > 0) is nowhere below lambda; with o = 0, one above 0 that there is no
//! formula (Farkas).
//!
//! Everything here is 1e9 times as large, so that doses are whole units.

use super::exact::Exact;
use super::room::bound;
use super::state::{Doses, Part};
use super::{CapMultipliers, Fault, Multipliers, Remainder};
use crate::model::{Blend, BlendRow, LossCap};
use crate::units::Ppt;

/// A model in exact numbers, by column.
pub(super) struct Model {
    /// What one ppt of each column adds to D, not negative.
    pub weights: Vec<Exact>,
    odours: Vec<Vec<(usize, Exact)>>,
    rules: Vec<Vec<(usize, Exact)>>,
    counts: Vec<Vec<usize>>,
    /// Bounds of the rows with their room.
    bounds: Vec<Exact>,
    /// The most of each count.
    most: Vec<i64>,
    targets: Vec<Target>,
    caps: Vec<Cap>,
}

/// A cap in exact numbers.
struct Cap {
    /// What one ppt of each column adds to its D.
    weights: Vec<Exact>,
    odours: Vec<Vec<(usize, Exact)>>,
    targets: Vec<Target>,
    most: Exact,
    /// Its room.
    room: Exact,
}

struct Target {
    score: Exact,
    /// The ends of its multiplier where the loss counts once.
    ends: (Exact, Exact),
}

/// What a proof speaks of: the loss to beat.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Aim<'a> {
    /// N - lambda D, as the multipliers say (0 or 1 times).
    Loss(&'a Exact),
    /// No formula at all.
    Nothing,
    /// D (1) or -D (-1).
    D(i64),
}

/// What multipliers say of a part.
pub(super) struct Reading {
    objective: bool,
    /// What is not a sum over columns, and the least of every column that has
    /// one.
    total: Exact,
    columns: Vec<Own>,
    /// Columns that have no dose at all.
    without: usize,
}

/// What a column adds.
struct Own {
    /// With each ppt.
    own: Exact,
    /// By being used.
    using: Exact,
    /// The least over its doses in the part; `None` where it has none.
    least: Option<Exact>,
}

impl Reading {
    /// Whether no formula of the part is left: none at all, or none with a loss
    /// below lambda.
    pub(super) fn proves(&self) -> bool {
        self.without > 0 || self.says_so(&self.total)
    }

    fn says_so(&self, total: &Exact) -> bool {
        if self.objective { !total.is_negative() } else { total.is_positive() }
    }

    /// The same of a part in which one column has other doses.
    pub(super) fn proves_with(&self, part: &Part, k: usize, doses: Doses) -> bool {
        let column = &self.columns[k];
        let others_without = self.without - usize::from(column.least.is_none());
        let Some(least) = least(part, k, doses, &column.own, &column.using) else { return true };
        let mut total = self.total.clone();
        if let Some(before) = &column.least {
            total.subtract(before.clone());
        }
        total.add(least);
        others_without > 0 || self.says_so(&total)
    }

    /// The bound itself, 1e9 times as large; `None` where the part holds no
    /// formula.
    pub(super) fn total(&self) -> Option<&Exact> {
        (self.without == 0).then_some(&self.total)
    }
}

/// The least that a column adds: it is linear in its doses in, so at one of
/// their ends, or nothing where it may be out.
fn least(part: &Part, k: usize, doses: Doses, own: &Exact, using: &Exact) -> Option<Exact> {
    let most = doses.most.min(part.d.room[k]);
    let used = (doses.least <= most).then(|| {
        let end = if own.is_negative() { most } else { doses.least };
        let mut at = own.times(&Exact::whole(end.units()));
        at.add(using.clone());
        at
    });
    match used {
        Some(used) if doses.may_be_out => Some(used.min(Exact::zero())),
        None if doses.may_be_out => Some(Exact::zero()),
        used => used,
    }
}

impl Model {
    /// # Errors
    /// [`Fault::Model`] where a number of the model is not finite, or has a sign
    /// that the theorem does not allow.
    pub(super) fn new(blend: &Blend) -> Result<Model, Fault> {
        let exact = |value: f64| Exact::of(value).ok_or(Fault::Model);
        let positive =
            |value: f64| exact(value).and_then(|it| if it.is_negative() { Err(Fault::Model) } else { Ok(it) });
        let n = blend.columns.len();
        let mut rules = vec![Vec::new(); n];
        for (index, row) in blend.rows.iter().enumerate() {
            for &(k, a) in &row.coefficients {
                rules[k].push((index, exact(a)?));
            }
        }
        let mut counts = vec![Vec::new(); n];
        for (index, count) in blend.counts.iter().enumerate() {
            count.columns.iter().for_each(|&k| counts[k].push(index));
        }
        let odours = |column: &crate::model::BlendColumn| {
            column.odours.iter().map(|&(target, odour)| Ok((target, exact(odour)?))).collect::<Result<_, Fault>>()
        };
        let target = |target: &crate::problem::Target| {
            let (weight, excess) = (positive(target.weight)?, positive(target.excess)?);
            Ok(Target { score: exact(target.score)?, ends: (weight.clone().negated(), weight.times(&excess)) })
        };
        let cap = |cap: &LossCap| {
            let odours = |column: &crate::model::CapColumn| {
                column.odours.iter().map(|&(target, odour)| Ok((target, exact(odour)?))).collect::<Result<_, Fault>>()
            };
            Ok(Cap {
                weights: cap.columns.iter().map(|column| positive(column.weight)).collect::<Result<_, _>>()?,
                odours: cap.columns.iter().map(odours).collect::<Result<_, _>>()?,
                targets: cap.targets.iter().map(target).collect::<Result<_, Fault>>()?,
                most: positive(cap.most)?,
                room: room(blend, cap).ok_or(Fault::Model)?,
            })
        };
        Ok(Model {
            weights: blend.columns.iter().map(|column| positive(column.weight)).collect::<Result<_, _>>()?,
            odours: blend.columns.iter().map(odours).collect::<Result<_, _>>()?,
            rules,
            counts,
            bounds: blend.rows.iter().map(|row| bound(blend, row).ok_or(Fault::Model)).collect::<Result<_, _>>()?,
            most: blend.counts.iter().map(|count| i64::try_from(count.most).unwrap_or(i64::MAX)).collect(),
            targets: blend.targets.iter().map(target).collect::<Result<_, Fault>>()?,
            caps: blend.caps.iter().map(cap).collect::<Result<_, Fault>>()?,
        })
    }

    /// A D that no formula passes: 1000 ppt of the heaviest column.
    pub(super) fn greatest_d(&self) -> Exact {
        self.weights.iter().max().map_or_else(Exact::zero, |weight| weight.times(&Exact::whole(1000)))
    }

    /// What multipliers of the right shape say of a part; `None` where one of
    /// them is no number.
    pub(super) fn read(&self, part: &Part, remainders: &[Remainder], by: &Multipliers, aim: Aim) -> Option<Reading> {
        let billion = Exact::whole(Ppt::UNITS);
        let objective = by.objective > 0.0 && matches!(aim, Aim::Loss(_));
        let mut total = Exact::of(by.sum)?.times(&Exact::whole(Ppt::WHOLE.units()));

        let mut rules = vec![None; self.bounds.len()];
        for &(row, rho) in &by.rules {
            let rho = not_negative(rho)?;
            total.subtract(rho.times(&self.bounds[row]));
            rules[row] = Some(rho);
        }
        let mut in_rungs = vec![Exact::zero(); part.doses.len()];
        for &(kind, rho) in &by.rungs {
            let rho = not_negative(rho)?;
            // A row that the part does not have shows nothing.
            let Some(row) = part.rungs.row(kind) else { continue };
            total.subtract(rho.times(&row.bound));
            row.entries.iter().for_each(|(k, a)| in_rungs[*k].add(rho.times(a)));
        }
        let mut counts = vec![None; self.most.len()];
        for &(count, mu) in &by.counts {
            let mu = not_negative(mu)?.times(&billion);
            total.subtract(mu.times(&Exact::whole(self.most[count])));
            counts[count] = Some(mu);
        }
        let ends = |multiplier: &Exact, (least, most): (&Exact, &Exact)| {
            if multiplier.is_negative() { multiplier.times(most) } else { multiplier.times(least) }
        };
        let mut in_remainders = vec![Exact::zero(); part.doses.len()];
        for &(index, tau) in &by.remainders {
            let tau = Exact::of(tau)?;
            let (least, most) = part.remainders[index];
            total.add(ends(&tau, (&Exact::whole(least.units()), &Exact::whole(most.units()))));
            remainders[index].columns.iter().for_each(|&k| in_remainders[k].add(tau.clone()));
        }
        let delta = Exact::of(by.d)?;
        total.add(ends(&delta, (&part.d.least, &part.d.most)).times(&billion));

        let mut of_d = delta.negated();
        if let (true, Aim::Loss(lambda)) = (objective, aim) {
            of_d.subtract(lambda.clone());
        }
        if let Aim::D(sign) = aim {
            of_d.add(Exact::whole(sign));
        }
        let mut targets = vec![None; self.targets.len()];
        for &(index, v) in &by.targets {
            let v = Exact::of(v)?;
            if objective {
                let Target { score, ends: (least, most) } = &self.targets[index];
                let v = v.clamp(least.clone(), most.clone());
                of_d.subtract(v.times(score));
                targets[index] = Some(v);
            }
        }

        // What the caps add to each column.
        let mut in_caps = vec![Exact::zero(); part.doses.len()];
        for CapMultipliers { cap, most, targets } in &by.caps {
            let (cap, kappa) = (&self.caps[*cap], not_negative(*most)?);
            total.subtract(kappa.times(&cap.room));
            let mut of_d = kappa.times(&cap.most).negated();
            let mut own = vec![None; cap.targets.len()];
            for &(index, v) in targets {
                let Target { score, ends: (least, most) } = &cap.targets[index];
                let v = Exact::of(v)?.clamp(least.times(&kappa), most.times(&kappa));
                of_d.subtract(v.times(score));
                own[index] = Some(v);
            }
            for (k, sum) in in_caps.iter_mut().enumerate() {
                sum.add(of_d.times(&cap.weights[k]));
                for (index, odour) in &cap.odours[k] {
                    if let Some(v) = &own[*index] {
                        sum.add(v.times(odour));
                    }
                }
            }
        }

        let sum = Exact::of(by.sum)?;
        let mut without = 0;
        let mut columns = Vec::with_capacity(part.doses.len());
        let in_both = in_rungs.into_iter().zip(in_caps);
        for (k, (in_remainders, (in_rungs, in_caps))) in in_remainders.into_iter().zip(in_both).enumerate() {
            let mut own = of_d.times(&self.weights[k]);
            let add = |own: &mut Exact, entries: &[(usize, Exact)], multipliers: &[Option<Exact>]| {
                for (index, value) in entries {
                    if let Some(multiplier) = &multipliers[*index] {
                        own.add(multiplier.times(value));
                    }
                }
            };
            add(&mut own, &self.odours[k], &targets);
            add(&mut own, &self.rules[k], &rules);
            own.add(in_rungs);
            own.subtract(sum.clone());
            own.subtract(in_remainders);
            own.add(in_caps);
            let mut using = Exact::zero();
            self.counts[k].iter().filter_map(|&count| counts[count].clone()).for_each(|mu| using.add(mu));
            let least = least(part, k, part.doses[k], &own, &using);
            match &least {
                Some(least) => total.add(least.clone()),
                None => without += 1,
            }
            columns.push(Own { own, using, least });
        }
        Some(Reading { objective, total, columns, without })
    }
}

fn not_negative(value: f64) -> Option<Exact> {
    Exact::of(value).filter(|exact| !exact.is_negative())
}

/// A bound that a row with its room does not pass, in the unit of the row:
/// the room and a quarter more of it, which is room for the rounding of those
/// who compute in doubles. `None` where a number of the row is not finite.
pub fn bound_of_row(blend: &Blend, row: &BlendRow) -> Option<f64> {
    let mut bound = bound(blend, row)?;
    let mut room = bound.clone();
    room.subtract(Exact::of(row.upper)?.times(&Exact::whole(Ppt::UNITS)));
    bound.add(room.shifted(-2));
    Some(-bound.negated().quotient_down(Ppt::UNITS)?)
}

/// The room of a cap, 1e9 times as large: 2^-46 of the most that its terms can
/// come to, whatever the sides of its targets.
fn room(blend: &Blend, cap: &LossCap) -> Option<Exact> {
    let (mut largest, mut filled) = (Exact::zero(), Exact::zero());
    for (own, column) in cap.columns.iter().zip(&blend.columns) {
        let q = Exact::of(own.weight)?.abs();
        let mut terms: Vec<Exact> = Vec::with_capacity(cap.targets.len());
        for target in &cap.targets {
            terms.push(Exact::of(target.score)?.abs().times(&q));
        }
        for &(index, odour) in &own.odours {
            terms[index].add(Exact::of(odour)?.abs());
        }
        let mut size = Exact::of(cap.most)?.abs().times(&q);
        for (target, term) in cap.targets.iter().zip(terms) {
            let sides = Exact::of(target.excess)?.abs().max(Exact::whole(1));
            size.add(Exact::of(target.weight)?.abs().times(&sides).times(&term));
        }
        filled.add(size.times(&Exact::whole(column.most.units())));
        largest = largest.max(size);
    }
    Some(largest.times(&Exact::whole(Ppt::WHOLE.units())).min(filled).shifted(-46))
}

/// What a cap with its room may be passed by, and a quarter more, as
/// [`bound_of_row`] has it. `None` where a number of the cap is not finite.
pub fn room_of_cap(blend: &Blend, cap: &LossCap) -> Option<f64> {
    let mut room = room(blend, cap)?;
    room.add(room.clone().shifted(-2));
    Some(-room.negated().quotient_down(Ppt::UNITS)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::certificate::rungs::Rungs;
    use crate::certificate::state::Span;
    use crate::chance::Chance;
    use crate::model::{BlendColumn, BlendCount, Role};
    use crate::portable::Portable;

    /// Three columns on steps of 100, two targets, a row and a count.
    fn blend() -> Blend {
        let column = |weight: f64, odours: &[(usize, f64)]| BlendColumn {
            material: 0,
            role: Role::Any,
            weight,
            odours: odours.to_vec(),
            least: Ppt::from_ppt(100.0),
            most: Ppt::WHOLE,
            step: Ppt::from_ppt(100.0),
            must: false,
            price: None,
        };
        let target =
            |score: f64, weight: f64, excess: f64| crate::problem::Target { descriptor: 0, score, weight, excess };
        Blend {
            columns: vec![column(1.0, &[(0, 8.0)]), column(2.0, &[(0, 2.0), (1, 10.0)]), column(0.0, &[])],
            targets: vec![target(5.0, 1.0, 2.0), target(3.0, 2.0, 0.5)],
            rows: vec![BlendRow { coefficients: vec![(0, 0.04), (1, 0.01)], upper: 25.0, ..BlendRow::default() }],
            counts: vec![BlendCount { columns: vec![0, 1, 2], most: 2 }],
            materials: 3,
            contradiction: None,
            ladder: None,
            caps: Vec::new(),
            views: Vec::new(),
        }
    }

    /// N - lambda D of a formula, in ppt.
    fn surplus(blend: &Blend, x: [f64; 3], lambda: f64) -> f64 {
        let d: f64 = blend.columns.iter().zip(x).map(|(column, x)| column.weight * x).sum();
        let n = blend.targets.iter().enumerate().map(|(index, target)| {
            let own = |(column, x): (&BlendColumn, f64)| {
                column.odours.iter().filter(|(at, _)| *at == index).map(|(_, odour)| odour * x).sum::<f64>()
            };
            let gap = blend.columns.iter().zip(x).map(own).sum::<f64>() - target.score * d;
            target.weight * if gap > 0.0 { target.excess * gap } else { -gap }
        });
        n.sum::<f64>() - lambda * d
    }

    fn formulas() -> Vec<[f64; 3]> {
        let mut all = Vec::new();
        for a in 0..=10 {
            for b in 0..=10 - a {
                let x = [a, b, 10 - a - b].map(|steps| f64::from(steps) * 100.0);
                let keeps = 0.04 * x[0] + 0.01 * x[1] <= 25.0 && x.iter().filter(|x| **x > 0.0).count() <= 2;
                if keeps && x[0] + x[1] > 0.0 {
                    all.push(x);
                }
            }
        }
        all
    }

    /// The theorem: whatever the multipliers, no formula lies below the total.
    #[test]
    fn no_multipliers_prove_more_than_is_true_of_every_formula() {
        let (blend, lambda) = (blend(), 1.5);
        let model = Model::new(&blend).expect("finite");
        let all = formulas();
        assert!(all.len() > 10);
        let mut random = Chance::new(3, 0);
        let (mut refused, mut near) = (0, f64::INFINITY);
        for _ in 0..4000 {
            let d = Span::new(Exact::zero(), model.greatest_d(), &model.weights);
            let part = Part::whole(&blend, &[], d, Rungs::all(&blend).expect("finite"));
            let objective = f64::from(u8::from(random.happens(0.5)));
            let size = 10f64.power(random.between(-2.0, 2.0).round());
            let mut one = || random.between(-size, size);
            let by = Multipliers {
                objective,
                sum: one(),
                d: one(),
                targets: vec![(0, one()), (1, one())],
                rules: vec![(0, one())],
                counts: vec![(0, one())],
                remainders: Vec::new(),
                rungs: Vec::new(),
                caps: Vec::new(),
            };
            let Some(reading) = model.read(&part, &[], &by, Aim::Loss(&Exact::of(lambda).expect("finite"))) else {
                assert!(by.rules[0].1 < 0.0 || by.counts[0].1 < 0.0);
                refused += 1;
                continue;
            };
            assert!(by.rules[0].1 >= 0.0 && by.counts[0].1 >= 0.0, "{by:?}");
            let total =
                reading.total().and_then(|total| total.quotient_down(Ppt::UNITS)).expect("every column has doses");
            for x in &all {
                let has = objective * surplus(&blend, *x, lambda);
                assert!(total <= has + 1e-9 * (1.0 + has.abs()), "{total} above {has} of {x:?} by {by:?}");
                near = near.min(has - total);
            }
        }
        assert!(refused > 1000 && near < 200.0, "{refused} refused, {near} nearest");
    }

    /// A target's multiplier counts up to its weight and no further: by hand, the
    /// gap of 5 D - P of a formula of the second column alone (D 2000, P 2000).
    #[test]
    fn a_target_weighs_no_more_than_its_weight() {
        let mut blend = blend();
        blend.rows.clear();
        blend.counts.clear();
        blend.columns.iter_mut().for_each(|column| column.must = false);
        (blend.columns[0].most, blend.columns[2].most) = (Ppt::ZERO, Ppt::ZERO);
        blend.columns[1].must = true;
        (blend.columns[1].least, blend.columns[1].step) = (Ppt::WHOLE, Ppt::WHOLE);
        let model = Model::new(&blend).expect("finite");
        let part = Part::whole(
            &blend,
            &[],
            Span::new(Exact::zero(), model.greatest_d(), &model.weights),
            Rungs::all(&blend).expect("finite"),
        );
        let total = |objective: f64, v: f64| {
            let by = Multipliers { objective, targets: vec![(0, v)], ..Multipliers::default() };
            let zero = Exact::zero();
            let reading = model.read(&part, &[], &by, Aim::Loss(&zero)).expect("finite");
            reading.total().expect("doses").quotient_down(Ppt::UNITS).expect("ordinary")
        };
        // v (P - 5 D) = -v 8000: at most 8000, once, and for v up to 2 when too much.
        assert_eq!(total(1.0, -1.0), 8000.0);
        assert_eq!(total(1.0, -3.0), 8000.0);
        assert_eq!(total(1.0, 2.0), -16_000.0);
        assert_eq!(total(1.0, 7.0), -16_000.0);
        assert_eq!(total(0.0, -3.0), 0.0);
    }

    #[test]
    fn a_row_has_room_for_its_own_rounding_and_no_more() {
        let blend = blend();
        let bound = bound(&blend, &blend.rows[0]).expect("finite").quotient_down(Ppt::UNITS).expect("ordinary");
        // 25, and the least of 1000 * 0.04 and 0.04 * 1000 + 0.01 * 1000.
        let room = (25.0 + 40.0) * 2f64.powi(-46);
        assert!((bound - 25.0 - room).abs() < 0.1 * room, "{bound}");
        let wider = bound_of_row(&blend, &blend.rows[0]).expect("finite");
        assert!(wider > bound && wider - 25.0 < 1.4 * room, "{wider} beside {bound}");
    }

    #[test]
    fn a_row_has_room_for_what_took_itself_away() {
        let mut blend = blend();
        // 30.04 - 30, nothing of 20 - 20, and a bound of 45 - 20.
        blend.rows[0].cancelled = vec![(0, 60.0), (2, 40.0)];
        blend.rows[0].upper_cancelled = 40.0;
        blend.columns[2].most = Ppt::from_ppt(100.0);
        blend.columns[0].most = Ppt::from_ppt(500.0);
        let room_of = |blend: &Blend| {
            bound(blend, &blend.rows[0]).expect("finite").quotient_down(Ppt::UNITS).expect("ordinary") - 25.0
        };
        let room = (25.0 + 40.0 + 0.5 * 60_040.0 + 10.0 + 0.1 * 40_000.0) * 2f64.powi(-46);
        assert!((room_of(&blend) - room).abs() < 0.01 * room, "{}", room_of(&blend));
        blend.columns[0].most = Ppt::WHOLE;
        let room = (25.0 + 40.0 + 60_040.0) * 2f64.powi(-46);
        assert!((room_of(&blend) - room).abs() < 0.01 * room, "{}", room_of(&blend));
    }
}
