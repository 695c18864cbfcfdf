//! Made-up briefs with every kind of rule, laid around a formula that keeps
//! most of them, so that many briefs have an answer and many have none.

use std::fmt::Write as _;

use proptest::prelude::*;
use proptest::sample::{Index, select};

use crate::campaign::Case;
use crate::folder::Folder;
use crate::plain;
use crate::shelf::{self, Entry, Factor, Material, RawMaterial, UNITS, above, below, cas, maybe, three_figures};

/// What a brief says of one descriptor.
#[derive(Clone, Debug)]
pub struct Target {
    pub score: Option<f64>,
    pub weight: Option<f64>,
    pub excess: Option<f64>,
    pub min: Option<f64>,
    pub max: Option<f64>,
}

/// Where a target starts from.
#[derive(Clone, Debug)]
pub enum From {
    Material(usize),
    /// Doses in units, neat.
    Formula(Vec<i64>),
}

/// A finished product.
#[derive(Clone, Debug)]
pub struct Use {
    pub categories: Vec<&'static str>,
    pub dosage: Option<f64>,
    pub accord_share: Option<f64>,
    pub reserve: Option<(String, f64)>,
}

/// A restriction.
#[derive(Clone, Debug)]
pub struct Restriction {
    pub cas: Vec<String>,
    pub applies: &'static str,
    pub limits: Vec<(&'static str, Option<f64>)>,
    pub joint: bool,
}

/// A bound on a sum, or on a quotient, of doses.
#[derive(Clone, Debug)]
pub struct Sum {
    pub members: Vec<usize>,
    pub tagged: bool,
    pub min: Option<f64>,
    pub max: Option<f64>,
}

/// A known formula to stay near to.
#[derive(Clone, Debug)]
pub struct Near {
    /// (material, parts).
    pub parts: Vec<(usize, f64)>,
    /// Parts that the shelf lacks, and their strength where the file says one.
    pub nowhere: Option<(f64, Option<f64>)>,
    pub by_parts: bool,
    pub within: f64,
}

/// A palette and a brief, with the formula they were made around.
#[derive(Clone, Debug)]
pub struct Scenario {
    pub descriptors: usize,
    pub materials: Vec<Material>,
    pub level: bool,
    pub bottle: bool,
    pub from: Option<From>,
    pub target: Vec<Option<Target>>,
    pub step: Option<f64>,
    pub min_dose: Option<f64>,
    pub max_materials: Option<usize>,
    pub max_idle: Option<f64>,
    pub max_unusual: Option<usize>,
    pub off_note_weight: Option<f64>,
    pub strength: (Option<f64>, Option<f64>),
    pub only: Option<Vec<usize>>,
    pub own_only: bool,
    pub max_price: Option<f64>,
    pub max_price_of_effect: Option<f64>,
    pub uses: Vec<Use>,
    pub restrictions: Vec<Restriction>,
    pub entries: Vec<Option<Entry>>,
    pub groups: Vec<Sum>,
    pub ratios: Vec<Sum>,
    pub near: Option<Near>,
    /// Doses in units.
    pub witness: Vec<i64>,
}

#[derive(Clone, Debug)]
struct RawTarget {
    score: f64,
    named: bool,
    weight: Option<f64>,
    excess: Option<f64>,
    min: Option<Factor>,
    max: Option<Factor>,
}

#[derive(Clone, Debug)]
struct RawSum {
    members: Vec<Index>,
    tagged: bool,
    min: Option<Factor>,
    max: Option<Factor>,
}

#[derive(Clone, Debug)]
struct RawRestriction {
    cas: Vec<Index>,
    applies: &'static str,
    limit: Option<Factor>,
    everywhere: bool,
    joint: bool,
}

#[derive(Clone, Debug)]
struct RawNear {
    /// A multiple of what the formula holds of each, and others.
    factors: Vec<f64>,
    others: Vec<(Index, f64)>,
    nowhere: Option<(f64, Option<f64>)>,
    by_parts: bool,
    within: Factor,
}

#[derive(Clone, Debug)]
struct RawUse {
    leave_on: bool,
    dosage: f64,
    accord_share: Option<f64>,
    reserve: Option<(Index, f64)>,
}

#[derive(Clone, Debug)]
struct RawBrief {
    level: bool,
    bottle: bool,
    from: Option<(bool, Index)>,
    step: Option<f64>,
    min_dose: Option<f64>,
    spare_materials: Option<i8>,
    idle: Option<Factor>,
    spare_unusual: Option<i8>,
    off_note_weight: Option<f64>,
    strength: (Option<Factor>, Option<Factor>),
    only: Option<Vec<Index>>,
    own_only: bool,
    money: (Option<Factor>, Option<Factor>),
    groups: Vec<RawSum>,
    ratios: Vec<RawSum>,
    uses: Vec<RawUse>,
    restrictions: Vec<RawRestriction>,
    near: Option<RawNear>,
    odd_names: bool,
}

fn target(wild: bool) -> impl Strategy<Value = RawTarget> {
    let factors = if wild { vec![0.0, 0.1, 2.0, 5.0, 1e-6, 1e6] } else { vec![0.0, 0.5, 2.0, 4.0] };
    let score = prop_oneof![5 => (1..=20u8).prop_map(|half| f64::from(half) / 2.0), 1 => Just(10.0), 1 => Just(0.0)];
    (
        score,
        prop::bool::weighted(0.8),
        maybe(0.3, select(factors.clone())),
        maybe(0.2, select(factors)),
        maybe(0.1, below(wild)),
        maybe(0.15, above(wild)),
    )
        .prop_map(|(score, named, weight, excess, min, max)| RawTarget { score, named, weight, excess, min, max })
}

fn sum(members: std::ops::Range<usize>, wild: bool) -> impl Strategy<Value = RawSum> {
    (
        prop::collection::vec(any::<Index>(), members),
        prop::bool::weighted(0.3),
        maybe(0.6, below(wild)),
        maybe(0.6, above(wild)),
    )
        .prop_map(|(members, tagged, min, max)| RawSum { members, tagged, min, max })
}

fn restriction(wild: bool) -> impl Strategy<Value = RawRestriction> {
    let limit = if wild {
        prop_oneof![4 => above(true), 1 => Just(0.0)].boxed()
    } else {
        prop_oneof![8 => above(false), 1 => Just(0.0)].boxed()
    };
    (
        prop::collection::vec(any::<Index>(), 1..4),
        select(vec!["all", "all", "added", "constituents"]),
        maybe(0.9, limit),
        any::<bool>(),
        prop::bool::weighted(0.3),
    )
        .prop_map(|(cas, applies, limit, everywhere, joint)| RawRestriction {
            cas,
            applies,
            limit,
            everywhere,
            joint,
        })
}

fn product() -> impl Strategy<Value = RawUse> {
    let dosage = select(vec![18.0, 12.5, 100.0, 5.0, 0.7]);
    let share = maybe(0.4, select(vec![7.5, 40.0, 60.0, 100.0]));
    (any::<bool>(), dosage, share, maybe(0.3, (any::<Index>(), select(vec![0.01, 0.2, 5.0]))))
        .prop_map(|(leave_on, dosage, accord_share, reserve)| RawUse { leave_on, dosage, accord_share, reserve })
}

fn near(wild: bool) -> impl Strategy<Value = RawNear> {
    let factors = prop::collection::vec(select(vec![0.0, 0.5, 1.0, 1.0, 2.0]), 3);
    let others = prop::collection::vec((any::<Index>(), select(vec![1.0, 30.0, 200.0])), 0..3);
    let nowhere = maybe(0.3, (select(vec![2.0, 80.0]), maybe(0.5, select(vec![0.0, 5.0, 400.0]))));
    (factors, others, nowhere, any::<bool>(), above(wild))
        .prop_map(|(factors, others, nowhere, by_parts, within)| RawNear { factors, others, nowhere, by_parts, within })
}

fn rules(wild: bool) -> impl Strategy<Value = RawBrief> {
    let least = select(vec![0.3, 1.0, 2.0, 20.0, 60.0, 150.0]);
    (
        (any::<bool>(), prop::bool::weighted(0.35), maybe(0.25, (any::<bool>(), any::<Index>()))),
        (
            maybe(0.6, shelf::step(wild)),
            maybe(0.3, least),
            maybe(0.4, -2..3i8),
            maybe(0.4, -1..2i8),
            maybe(0.25, above(wild)),
        ),
        (maybe(0.3, select(vec![0.0, 0.2, 0.5, 2.0])), maybe(0.25, below(wild)), maybe(0.2, above(wild))),
        (maybe(0.1, prop::collection::vec(any::<Index>(), 0..4)), prop::bool::weighted(0.1)),
        (maybe(0.4, above(wild)), maybe(0.15, above(wild))),
        (prop::collection::vec(sum(1..5, wild), 0..3), prop::collection::vec(sum(2..3, wild), 0..3)),
        (prop::collection::vec(product(), 0..3), prop::collection::vec(restriction(wild), 0..4)),
        maybe(0.3, near(wild)),
        prop::bool::weighted(0.05),
    )
        .prop_map(|(kind, doses, odour, out, money, sums, limits, near, odd_names)| RawBrief {
            level: kind.0,
            bottle: kind.1,
            from: kind.2,
            step: doses.0,
            min_dose: doses.1,
            spare_materials: doses.2,
            spare_unusual: doses.3,
            idle: doses.4,
            off_note_weight: odour.0,
            strength: (odour.1, odour.2),
            only: out.0,
            own_only: out.1,
            money,
            groups: sums.0,
            ratios: sums.1,
            uses: limits.0,
            restrictions: limits.1,
            near,
            odd_names,
        })
}

/// Scenarios of up to so many materials; `wild` ones take numbers from the
/// ends of their ranges too.
pub fn strategy(most: usize, wild: bool) -> impl Strategy<Value = Scenario> {
    let materials = prop::collection::vec(shelf::material(wild), 1..=most);
    (materials, prop::collection::vec(target(wild), 1..5), rules(wild)).prop_map(|(m, t, b)| build(&m, &t, &b))
}

fn name(index: usize, odd: bool) -> String {
    match (odd, index % 5) {
        (false, _) => format!("M{index}"),
        (true, 0) => format!("M{index} \u{1b}[2J\u{202e}"),
        (true, 1) => format!("=M{index},\"\n"),
        (true, 2) => format!("薔薇{index} 👩‍👩‍👧‍👦"),
        (true, 3) => format!("M{index} {}", "long".repeat(60)),
        (true, _) => format!("-{index}\t;'"),
    }
}

/// From what was drawn to numbers.
fn build(raw: &[RawMaterial], targets: &[RawTarget], brief: &RawBrief) -> Scenario {
    let count = raw.len();
    let descriptors = targets.len() + usize::from(brief.off_note_weight.is_some());
    let uses: Vec<Use> = brief.uses.iter().map(|raw| product_of(raw, count)).collect();
    let needs_prices = brief.money.0.is_some() || brief.money.1.is_some();
    let from = brief.from.as_ref().map(|(material, at)| {
        let at = at.index(count);
        if *material {
            From::Material(at)
        } else {
            From::Formula((0..count).map(|i| if i == at { shelf::WHOLE } else { UNITS }).collect())
        }
    });
    let mut scenario = Scenario {
        descriptors,
        materials: raw
            .iter()
            .enumerate()
            .map(|(index, raw)| material(raw, index, count, descriptors, brief, needs_prices))
            .collect(),
        level: brief.level,
        bottle: brief.bottle,
        from,
        target: targets.iter().map(|raw| raw.named.then(|| plain_target(raw))).collect(),
        step: brief.step,
        min_dose: brief.min_dose,
        max_materials: None,
        max_idle: None,
        max_unusual: None,
        off_note_weight: brief.off_note_weight,
        strength: (None, None),
        only: None,
        own_only: brief.own_only,
        max_price: None,
        max_price_of_effect: None,
        uses,
        restrictions: Vec::new(),
        entries: raw
            .iter()
            .map(|raw| raw.entry.as_ref().map(|entry| Entry { step: entry.step, ..Entry::default() }))
            .collect(),
        groups: Vec::new(),
        ratios: Vec::new(),
        near: None,
        witness: Vec::new(),
    };
    scenario.target.resize(descriptors, None);
    if !scenario.target.iter().flatten().any(|t| t.score > Some(0.0) && t.weight != Some(0.0)) {
        scenario.target[0] = Some(Target { score: Some(5.0), weight: None, excess: None, min: None, max: None });
    }
    let steps: Vec<f64> = (0..count).map(|i| scenario.step_of(i).unwrap_or(0.001)).collect();
    let usable: Vec<bool> = (0..count).map(|i| scenario.is_usable(i)).collect();
    let weights: Vec<f64> = raw.iter().map(|raw| raw.weight).collect();
    scenario.witness = shelf::formula(&weights, &steps, &usable);
    lay_rules(&mut scenario, raw, targets, brief);
    scenario
}

fn material(
    raw: &RawMaterial,
    index: usize,
    count: usize,
    descriptors: usize,
    brief: &RawBrief,
    priced: bool,
) -> Material {
    let mut scores = vec![0.0; descriptors];
    if raw.strength > 0.0 {
        raw.scores.iter().for_each(|(at, score)| scores[at.index(descriptors)] = *score);
    }
    let constituents = raw.constituents.as_ref().map(|list| {
        let mut named: Vec<(String, f64)> =
            list.iter().map(|(at, percent)| (cas(at.index(count + 2)), *percent)).collect();
        named.sort_by(|a, b| a.0.cmp(&b.0));
        named.dedup_by(|a, b| a.0 == b.0);
        named
    });
    let bottle = raw.bottle.as_ref().map(|(percent, carrier)| {
        let carrier = carrier.as_ref().map(|at| at.index(count)).filter(|carrier| *carrier != index);
        (*percent, carrier)
    });
    Material {
        name: name(index, brief.odd_names),
        strength: raw.strength,
        scores,
        price: if priced { Some(raw.price.unwrap_or(3.0)) } else { raw.price },
        cas: raw.has_cas.then(|| cas(index)),
        step: raw.step,
        tagged: raw.tagged,
        natural: raw.natural,
        constituents,
        bottle,
        have: raw.have,
        ..Material::default()
    }
}

fn plain_target(raw: &RawTarget) -> Target {
    Target { score: Some(raw.score), weight: raw.weight, excess: raw.excess, min: None, max: None }
}

fn product_of(raw: &RawUse, count: usize) -> Use {
    Use {
        categories: if raw.leave_on { vec!["4", "leave-on"] } else { vec!["9"] },
        dosage: Some(raw.dosage),
        accord_share: raw.accord_share,
        reserve: raw.reserve.as_ref().map(|(at, percent)| (cas(at.index(count + 2)), *percent)),
    }
}

/// A number that a rule stands at: a multiple of what the formula has, or of
/// `unless` where it has none of it; within the range of its key.
fn at(factor: Option<Factor>, has: f64, unless: f64, most: f64) -> Option<f64> {
    let value = factor? * if has > 0.0 && has.is_finite() { has } else { unless };
    // Some as people write them, some with all their digits.
    let figures = if factor != Some(1.0) && value > 1e-3 { three_figures(value) } else { value };
    Some(figures.clamp(0.0, most))
}

fn ordered(min: Option<f64>, max: Option<f64>) -> (Option<f64>, Option<f64>) {
    match (min, max) {
        (Some(low), Some(high)) if low > high => (min, None),
        both => both,
    }
}

fn lay_rules(scenario: &mut Scenario, raw: &[RawMaterial], targets: &[RawTarget], brief: &RawBrief) {
    let count = raw.len();
    let facts = plain::Facts::new(scenario, &scenario.witness);
    let ppt = |units: i64| units as f64 / UNITS as f64;
    for (index, raw) in raw.iter().enumerate() {
        let dose = ppt(scenario.witness[index]);
        let neat = facts.neat[index];
        let own = &mut scenario.materials[index];
        let (min, max) = (at(raw.min, dose, 20.0, 1000.0), at(raw.max, neat, 80.0, 1000.0));
        // Bounds of a diluted material meet in one basis only.
        (own.min, own.max) = if own.bottle.is_some() { (None, max) } else { ordered(min, max) };
        own.usual = raw.usual.map(|(low, high)| {
            let end = |factor: Factor| at(Some(factor), neat, 30.0, 1000.0).filter(|end| *end >= 1e-8).unwrap_or(0.0);
            (end(low).min(end(high)), end(low).max(end(high)))
        });
        own.max_in_concentrate = at(raw.advice.0, neat / 10.0, 2.0, 100.0);
        own.max_in_product = at(raw.advice.1, neat / 10.0 * 0.18, 0.2, 100.0);
        if let (Some(raw), Some(entry)) = (&raw.entry, &mut scenario.entries[index]) {
            (entry.min, entry.max) = ordered(at(raw.min, dose, 10.0, 1000.0), at(raw.max, dose, 100.0, 1000.0));
            let fixed = (raw.fixed && dose > 0.0).then_some(dose);
            if fixed.is_some() && entry.max.is_none_or(|max| dose <= max) {
                entry.fixed = fixed;
            }
            entry.permission = raw.permission.filter(|word| match *word {
                "must" => dose > 0.0 || entry.min > Some(0.0),
                "never" => entry.fixed.is_none() && dose == 0.0,
                _ => true,
            });
            if entry.permission == Some("must")
                && entry.fixed.is_none()
                && entry.step.is_none()
                && entry.min.is_none_or(|least| least <= 0.0)
            {
                entry.min =
                    Some(if dose > 0.0 { dose } else { 1.0 }.min(entry.max.unwrap_or(1000.0))).filter(|min| *min > 0.0);
                entry.permission = entry.min.and(entry.permission);
            }
        }
    }
    for (index, raw) in targets.iter().enumerate() {
        let has = facts.profile[index];
        if let Some(target) = &mut scenario.target[index] {
            (target.min, target.max) = ordered(at(raw.min, has, 1.0, 10.0), at(raw.max, has, 3.0, 10.0));
        }
    }
    let used = scenario.witness.iter().filter(|dose| **dose > 0).count() as i64;
    scenario.max_materials = brief.spare_materials.map(|spare| (used + i64::from(spare)).max(1) as usize);
    let unusual = (0..count).filter(|&i| scenario.is_unusual(i, scenario.witness[i])).count() as i64;
    scenario.max_unusual = brief.spare_unusual.map(|spare| (unusual + i64::from(spare)).max(0) as usize);
    scenario.strength =
        ordered(at(brief.strength.0, facts.strength, 1.0, 1e6), at(brief.strength.1, facts.strength, 100.0, 1e6));
    scenario.max_idle = at(brief.idle, facts.idle, 100.0, 1000.0);
    scenario.max_price = at(brief.money.0, facts.price, 50.0, 1e9);
    scenario.max_price_of_effect = at(brief.money.1, facts.price / facts.strength, 5.0, 1e9);
    scenario.only = brief.only.as_ref().map(|others| {
        let mut only: Vec<usize> = (0..count).filter(|&i| scenario.witness[i] > 0).collect();
        only.extend(others.iter().map(|at| at.index(count)));
        only.sort_unstable();
        only.dedup();
        only
    });
    scenario.only = scenario.only.take().filter(|only| !only.is_empty());
    for raw in &brief.groups {
        let mut members: Vec<usize> = raw.members.iter().map(|at| at.index(count)).collect();
        members.sort_unstable();
        members.dedup();
        let tagged = raw.tagged && scenario.materials.iter().any(|material| material.tagged);
        let all = scenario.members(&members, tagged);
        let has: f64 = all.iter().map(|&member| facts.neat[member]).sum();
        let (min, max) = ordered(at(raw.min, has, 10.0, 1000.0), at(raw.max, has, 100.0, 1000.0));
        if min.is_some() || max.is_some() {
            scenario.groups.push(Sum { members, tagged, min, max });
        }
    }
    for raw in &brief.ratios {
        let (of, to) = (raw.members[0].index(count), raw.members[1].index(count));
        let has = facts.neat[of] / facts.neat[to];
        let (min, max) = ordered(at(raw.min, has, 0.5, 1e9), at(raw.max, has, 3.0, 1e9));
        if of != to && (min.is_some() || max.is_some()) {
            scenario.ratios.push(Sum { members: vec![of, to], tagged: false, min, max });
        }
    }
    lay_near(scenario, &facts, brief);
    if !scenario.uses.is_empty() {
        lay_limits(scenario, &facts, brief);
    }
}

/// A known formula around the witness; none where nothing of it would smell.
fn lay_near(scenario: &mut Scenario, facts: &plain::Facts, brief: &RawBrief) {
    let Some(raw) = &brief.near else { return };
    let count = scenario.materials.len();
    let mut amounts: Vec<f64> =
        (0..count).map(|i| three_figures(facts.neat[i] * raw.factors[i % raw.factors.len()])).collect();
    raw.others.iter().for_each(|(at, parts)| amounts[at.index(count)] += parts);
    let parts: Vec<(usize, f64)> = amounts.into_iter().enumerate().filter(|(_, parts)| *parts > 1e-6).collect();
    if !parts.iter().any(|(i, _)| scenario.materials[*i].strength > 0.0) {
        return;
    }
    let near = Near { parts, nowhere: raw.nowhere, by_parts: raw.by_parts, within: 0.0 };
    let moved = facts.moved(scenario, &near);
    let within = at(Some(raw.within), moved, 25.0, 100.0).expect("a number");
    scenario.near = Some(Near { within, ..near });
}

fn lay_limits(scenario: &mut Scenario, facts: &plain::Facts, brief: &RawBrief) {
    let count = scenario.materials.len();
    for raw in &brief.restrictions {
        let mut numbers: Vec<String> = raw.cas.iter().map(|at| cas(at.index(count + 2))).collect();
        numbers.sort();
        numbers.dedup();
        let mut restriction = Restriction { cas: numbers, applies: raw.applies, limits: Vec::new(), joint: false };
        let uses = scenario.uses.iter().map(|product| facts.use_percent(scenario, &restriction, product));
        let limit = at(raw.limit, uses.fold(0.0, f64::max), 0.5, 100.0);
        restriction.joint = raw.joint && limit.is_some_and(|limit| limit > 0.0);
        // Every category of the brief has to stand in some restriction.
        let of = |label: &'static str, named: bool| (label, if named { limit } else { None });
        restriction.limits = if raw.everywhere {
            vec![of("*", true), of("4", false), of("9", false), of("leave-on", false)]
        } else {
            vec![of("4", true), of("leave-on", false), of("9", false)]
        };
        scenario.restrictions.push(restriction);
    }
}

impl Scenario {
    /// The step of a column in ppt.
    pub fn step_of(&self, material: usize) -> Option<f64> {
        let own = self.entries[material].as_ref().and_then(|entry| entry.step);
        own.or(self.materials[material].step).or(self.step)
    }

    /// The least dose of a column in ppt, if used at all.
    pub fn min_of(&self, material: usize) -> Option<f64> {
        let own = self.entries[material].as_ref().and_then(|entry| entry.min);
        own.or(self.materials[material].min).or(self.min_dose)
    }

    /// Whether nothing but numbers keeps a material out.
    pub fn is_usable(&self, material: usize) -> bool {
        let own = &self.materials[material];
        let named = self.entries[material].is_some();
        let is_target = matches!(self.from, Some(From::Material(from)) if from == material);
        let never = self.entries[material].as_ref().is_some_and(|entry| entry.permission == Some("never"));
        let out = self.only.as_ref().is_some_and(|only| !only.contains(&material)) || self.own_only && !own.have;
        (named || own.strength > 0.0 && !is_target) && !never && !out
    }

    /// Whether a dose in units brings neat material outside the usual range.
    pub fn is_unusual(&self, material: usize, dose: i64) -> bool {
        let own = &self.materials[material];
        let Some((low, high)) = own.usual else { return false };
        // Percent of bottles have one decimal at most.
        let tenths = own.bottle.filter(|_| self.bottle).map_or(1000.0, |(percent, _)| (percent * 10.0).round());
        let neat = i128::from(dose) * tenths as i128;
        let end = |ppt: f64| (ppt * UNITS as f64).round() as i128 * 1000;
        dose > 0 && (neat < end(low) || neat > end(high))
    }

    /// Members of a group.
    pub fn members(&self, listed: &[usize], tagged: bool) -> Vec<usize> {
        (0..self.materials.len()).filter(|i| listed.contains(i) || tagged && self.materials[*i].tagged).collect()
    }

    fn palette(&self) -> String {
        let mut text = String::from("scale = 10\n\n[descriptors]\n");
        (0..self.descriptors).for_each(|d| writeln!(text, "note{d} = \"made up\"").unwrap());
        for material in &self.materials {
            writeln!(text, "\n[[material]]\nname = {}\nstrength = {}", quoted(&material.name), material.strength)
                .unwrap();
            let scores = material.scores.iter().enumerate().filter(|(_, score)| **score > 0.0);
            let scores: Vec<String> = scores.map(|(d, score)| format!("note{d} = {score}")).collect();
            writeln!(text, "scores = {{ {} }}", scores.join(", ")).unwrap();
            let numbers = [
                ("price", material.price),
                ("min", material.min),
                ("max", material.max),
                ("step", material.step),
                ("max_in_concentrate", material.max_in_concentrate),
                ("max_in_product", material.max_in_product),
            ];
            text += &keys(&numbers, "\n");
            if let Some((low, high)) = material.usual {
                writeln!(text, "usual = [{low}, {high}]").unwrap();
            }
            if let Some(cas) = &material.cas {
                writeln!(text, "cas = \"{cas}\"").unwrap();
            }
            if material.tagged {
                text += "tags = [\"tag\"]\n";
            }
            if material.natural {
                text += "natural = true\n";
            }
            if let Some(list) = &material.constituents {
                let list: Vec<String> = list.iter().map(|(cas, percent)| format!("\"{cas}\" = {percent}")).collect();
                writeln!(text, "constituents = {{ {} }}", list.join(", ")).unwrap();
            }
            if let Some((percent, carrier)) = &material.bottle {
                let carrier = carrier.map_or("\"ethanol\"".to_owned(), |carrier| quoted(&self.materials[carrier].name));
                writeln!(text, "bottle = {{ percent = {percent}, carrier = {carrier} }}").unwrap();
            }
            if !material.have {
                text += "have = false\n";
            }
        }
        text
    }

    fn brief(&self) -> String {
        let mut text = String::from("palette = \"palette.toml\"\n");
        if !self.restrictions.is_empty() {
            text += "limits = \"limits.toml\"\n";
        }
        writeln!(text, "match = \"{}\"", if self.level { "level" } else { "balance" }).unwrap();
        match &self.from {
            Some(From::Material(material)) => {
                writeln!(text, "target_from = {}", quoted(&self.materials[*material].name)).unwrap()
            }
            Some(From::Formula(_)) => text += "target_from = { formula = \"old.toml\" }\n",
            None => {}
        }
        text += "\n[target]\n";
        for (index, target) in self.target.iter().enumerate() {
            let Some(target) = target else { continue };
            let numbers = [
                ("score", target.score),
                ("weight", target.weight),
                ("excess", target.excess),
                ("min", target.min),
                ("max", target.max),
            ];
            writeln!(text, "note{index} = {{ {} }}", keys(&numbers, ", ").trim_end_matches(", ")).unwrap();
        }
        writeln!(text, "\n[formula]\nbasis = \"{}\"", if self.bottle { "bottle" } else { "neat" }).unwrap();
        text +=
            &keys(&[("step", self.step), ("min_dose", self.min_dose), ("off_note_weight", self.off_note_weight)], "\n");
        if let Some(most) = self.max_materials {
            writeln!(text, "max_materials = {most}").unwrap();
        }
        text += &keys(&[("max_idle", self.max_idle)], "\n");
        if let Some(most) = self.max_unusual {
            writeln!(text, "max_unusual = {most}").unwrap();
        }
        let strength = keys(&[("min", self.strength.0), ("max", self.strength.1)], ", ");
        if !strength.is_empty() {
            writeln!(text, "strength = {{ {} }}", strength.trim_end_matches(", ")).unwrap();
        }
        if let Some(only) = &self.only {
            let names: Vec<String> = only.iter().map(|&i| quoted(&self.materials[i].name)).collect();
            writeln!(text, "only = [{}]", names.join(", ")).unwrap();
        }
        if self.own_only {
            text += "own_only = true\n";
        }
        text += "\n[budget]\n";
        text += &keys(&[("max_price", self.max_price), ("max_price_of_effect", self.max_price_of_effect)], "\n");
        self.products(&mut text);
        text += "\n[doses]\n";
        for (material, entry) in self.materials.iter().zip(&self.entries) {
            let Some(entry) = entry else { continue };
            let numbers = [("min", entry.min), ("max", entry.max), ("step", entry.step), ("fixed", entry.fixed)];
            let permission = entry.permission.map_or(String::new(), |word| format!("use = \"{word}\""));
            let inner = keys(&numbers, ", ") + &permission;
            writeln!(text, "{} = {{ {} }}", quoted(&material.name), inner.trim_end_matches(", ")).unwrap();
        }
        for (index, group) in self.groups.iter().enumerate() {
            let names: Vec<String> = group.members.iter().map(|&i| quoted(&self.materials[i].name)).collect();
            writeln!(text, "\n[[group]]\nname = \"g{index}\"\nmaterials = [{}]", names.join(", ")).unwrap();
            if group.tagged {
                text += "tag = \"tag\"\n";
            }
            text += &keys(&[("min", group.min), ("max", group.max)], "\n");
        }
        if let Some(near) = &self.near {
            let by = if near.by_parts { "parts" } else { "odour" };
            writeln!(text, "\n[near]\nformula = \"known.toml\"\nby = \"{by}\"\nwithin = {}", near.within).unwrap();
        }
        for ratio in &self.ratios {
            let [of, to] = [0, 1].map(|end| quoted(&self.materials[ratio.members[end]].name));
            writeln!(text, "\n[[ratio]]\nof = {of}\nto = {to}").unwrap();
            text += &keys(&[("min", ratio.min), ("max", ratio.max)], "\n");
        }
        text
    }

    fn products(&self, text: &mut String) {
        for (index, product) in self.uses.iter().enumerate() {
            writeln!(text, "\n[[use]]\nname = \"u{index}\"").unwrap();
            if !self.restrictions.is_empty() {
                let labels: Vec<String> = product.categories.iter().map(|label| format!("\"{label}\"")).collect();
                writeln!(text, "category = [{}]", labels.join(", ")).unwrap();
            }
            *text += &keys(&[("dosage", product.dosage), ("accord_share", product.accord_share)], "\n");
            if let Some((cas, percent)) = &product.reserve {
                writeln!(text, "reserve = {{ \"{cas}\" = {percent} }}").unwrap();
            }
        }
    }

    fn limits(&self) -> String {
        let mut text = String::new();
        for (index, restriction) in self.restrictions.iter().enumerate() {
            let numbers: Vec<String> = restriction.cas.iter().map(|cas| format!("\"{cas}\"")).collect();
            let limits = restriction.limits.iter().map(|(label, limit)| match limit {
                Some(limit) => format!("\"{label}\" = {limit}"),
                None => format!("\"{label}\" = \"none\""),
            });
            let limits: Vec<String> = limits.collect();
            writeln!(
                text,
                "[[restriction]]\nsubstance = \"S{index}\"\ncas = [{}]\nsource = \"made up\"\napplies = \"{}\"\nlimits = {{ {} }}",
                numbers.join(", "),
                restriction.applies,
                limits.join(", ")
            )
            .unwrap();
            if restriction.joint {
                text += "joint = \"shared\"\n";
            }
        }
        text
    }

    fn known(&self, near: &Near) -> String {
        let mut text = String::from("[parts]\n");
        for (i, parts) in &near.parts {
            writeln!(text, "{} = {parts}", quoted(&self.materials[*i].name)).unwrap();
        }
        if let Some((parts, strength)) = near.nowhere {
            let strength = strength.map_or(String::new(), |own| format!(", strength = {own}"));
            writeln!(text, "Nowhere = {{ parts = {parts}{strength} }}").unwrap();
        }
        text
    }

    fn formula(&self, doses: &[i64], bottle: bool) -> String {
        let mut text = format!("basis = \"{}\"\n[parts]\n", if bottle { "bottle" } else { "neat" });
        for (material, &dose) in self.materials.iter().zip(doses).filter(|(_, dose)| **dose > 0) {
            writeln!(text, "{} = {}.{:09}", quoted(&material.name), dose / UNITS, dose % UNITS).unwrap();
        }
        text
    }
}

impl Case for Scenario {
    fn folder(&self) -> Folder {
        let mut files = vec![("brief.toml", self.brief()), ("palette.toml", self.palette())];
        if !self.restrictions.is_empty() {
            files.push(("limits.toml", self.limits()));
        }
        if let Some(From::Formula(doses)) = &self.from {
            files.push(("old.toml", self.formula(doses, false)));
        }
        if let Some(near) = &self.near {
            files.push(("known.toml", self.known(near)));
        }
        files.push(("witness.toml", self.formula(&self.witness, self.bottle)));
        Folder { files: files.into_iter().map(|(name, text)| (name.to_owned(), text.into_bytes())).collect() }
    }
}

fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for character in text.chars() {
        match character {
            '"' | '\\' => quoted.extend(['\\', character]),
            _ if character.is_control() => write!(quoted, "\\u{:04x}", u32::from(character)).unwrap(),
            _ => quoted.push(character),
        }
    }
    quoted + "\""
}

/// `key = number` of those that are there, each followed by `end`.
fn keys(numbers: &[(&str, Option<f64>)], end: &str) -> String {
    let given = numbers.iter().filter_map(|(key, number)| Some(format!("{key} = {}{end}", (*number)?)));
    given.collect()
}
