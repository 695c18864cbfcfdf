//! A formula judged from what was drawn, in arithmetic that shares nothing
//! with the crate: not its files, not its problem, not its evaluation.

use crate::briefs::{From, Near, Restriction, Scenario, Use};
use crate::shelf::UNITS;

/// What a formula has.
pub struct Facts {
    /// Neat ppt of each material, with the carriers that bottles bring.
    pub neat: Vec<f64>,
    pub strength: f64,
    /// Neat ppt of what is less than a tenth as strong as the whole, carriers
    /// apart.
    pub idle: f64,
    /// Per kg; materials without a price count as 0.
    pub price: f64,
    /// Whether everything in it has a price.
    pub is_priced: bool,
    /// Of every descriptor of the palette, in points.
    pub profile: Vec<f64>,
    pub loss: f64,
    pub fidelity: f64,
}

/// What is wanted of a descriptor: (score, weight, excess).
fn wanted(scenario: &Scenario) -> Vec<(f64, f64, f64)> {
    let from: Vec<f64> = match &scenario.from {
        None => vec![0.0; scenario.descriptors],
        Some(From::Material(material)) => scenario.materials[*material].scores.clone(),
        Some(From::Formula(doses)) => {
            let odour = |i: usize| scenario.materials[i].strength * doses[i] as f64;
            let total: f64 = (0..doses.len()).map(odour).sum();
            let mean =
                |d: usize| (0..doses.len()).map(|i| odour(i) * scenario.materials[i].scores[d]).sum::<f64>() / total;
            (0..scenario.descriptors).map(|d| if total > 0.0 { mean(d) } else { 0.0 }).collect()
        }
    };
    let of = |(target, from): (&Option<crate::briefs::Target>, f64)| match target {
        Some(target) => (target.score.unwrap_or(from), target.weight.unwrap_or(1.0), target.excess.unwrap_or(1.0)),
        None if from > 0.0 => (from, 1.0, 1.0),
        None => (0.0, scenario.off_note_weight.unwrap_or(1.0), 1.0),
    };
    scenario.target.iter().zip(from).map(of).collect()
}

/// What is idle, by the shares themselves: a share of the odour below a tenth of
/// the share of the weight. What lies within a hundred-millionth of the tenth is
/// taken for heard, as it is over continuous doses.
fn idle(scenario: &Scenario, neat: &[f64]) -> f64 {
    let odour = |i: usize| scenario.materials[i].strength * neat[i];
    let all: f64 = (0..neat.len()).map(odour).sum();
    let is_idle = |i: &usize| odour(*i) > 0.0 && odour(*i) / all < 0.1 * (1.0 - 1e-8) * neat[*i] / 1000.0;
    (0..neat.len()).filter(is_idle).map(|i| neat[i]).sum()
}

impl Facts {
    /// The facts of doses in units of the scenario's basis.
    pub fn new(scenario: &Scenario, doses: &[i64]) -> Facts {
        let materials = &scenario.materials;
        let mut neat = vec![0.0; materials.len()];
        for (index, dose) in doses.iter().enumerate() {
            let poured = *dose as f64 / UNITS as f64;
            match (scenario.bottle, &materials[index].bottle) {
                (true, Some((percent, carrier))) => {
                    neat[index] += poured * percent / 100.0;
                    if let Some(carrier) = carrier {
                        neat[*carrier] += poured * (100.0 - percent) / 100.0;
                    }
                }
                _ => neat[index] += poured,
            }
        }
        let wanted = wanted(scenario);
        let counted = |d: &usize| wanted[*d].1 > 0.0;
        let odour = |i: usize| materials[i].strength * neat[i];
        let target_total: f64 = (0..wanted.len()).filter(counted).map(|d| wanted[d].0).sum();
        let heard = |i: usize| match scenario.level {
            true => odour(i),
            false => {
                odour(i) * (0..wanted.len()).filter(counted).map(|d| materials[i].scores[d]).sum::<f64>() / target_total
            }
        };
        let total: f64 = (0..neat.len()).map(heard).sum();
        let profile: Vec<f64> = (0..wanted.len())
            .map(|d| (0..neat.len()).map(|i| odour(i) * materials[i].scores[d]).sum::<f64>() / total)
            .collect();
        let gap = |d: usize| {
            let (score, weight, excess) = wanted[d];
            // The loss once more, on purpose: a judge shares nothing with the judged.
            weight * if profile[d] > score { excess * (profile[d] - score) } else { score - profile[d] }
        };
        let loss = (0..wanted.len()).filter(counted).map(gap).sum::<f64>();
        let most: f64 = (0..wanted.len()).map(|d| wanted[d].0 * wanted[d].1).sum::<f64>();
        let most = if scenario.level { most } else { 2.0 * most };
        let used = || (0..neat.len()).filter(|&i| neat[i] > 0.0);
        Facts {
            strength: (0..neat.len()).map(odour).sum::<f64>() / 1000.0,
            idle: idle(scenario, &neat),
            price: used().map(|i| materials[i].price.unwrap_or(0.0) * neat[i]).sum::<f64>() / 1000.0,
            is_priced: used().all(|i| materials[i].price.is_some()),
            fidelity: 100.0 * (1.0 - loss / most).max(0.0),
            neat,
            profile,
            loss,
        }
    }

    /// Percent that is not where a known formula has it; not a number where the
    /// formula has no odour.
    pub fn moved(&self, scenario: &Scenario, near: &Near) -> f64 {
        let strength = |i: usize| scenario.materials[i].strength;
        let smells = near.parts.iter().filter(|(i, _)| strength(*i) > 0.0).map(|&(i, parts)| (strength(i), parts));
        let said = near.nowhere.and_then(|(parts, own)| Some((own.filter(|own| *own > 0.0)?, parts)));
        let all: Vec<(f64, f64)> = smells.chain(said).collect();
        let mean =
            all.iter().map(|(own, parts)| own * parts).sum::<f64>() / all.iter().map(|(_, parts)| parts).sum::<f64>();
        let counts = |own: f64| if near.by_parts { f64::from(u8::from(own > 0.0)) } else { own };
        let mut was = vec![0.0; self.neat.len()];
        near.parts.iter().for_each(|&(i, parts)| was[i] += parts * counts(strength(i)));
        let lacking = near.nowhere.map_or(0.0, |(parts, own)| parts * counts(own.unwrap_or(mean)));
        let has: Vec<f64> = self.neat.iter().enumerate().map(|(i, neat)| neat * counts(strength(i))).collect();
        let (of_was, of_has) = (was.iter().sum::<f64>() + lacking, has.iter().sum::<f64>());
        let apart = was.iter().zip(&has).map(|(was, has)| (was / of_was - has / of_has).abs()).sum::<f64>();
        50.0 * (apart + lacking / of_was)
    }

    /// Percent of a restricted substance in a finished product.
    pub fn use_percent(&self, scenario: &Scenario, restriction: &Restriction, product: &Use) -> f64 {
        let listed = |cas: &String| restriction.cas.contains(cas);
        let part = |i: usize| {
            let material = &scenario.materials[i];
            let itself = material.cas.as_ref().is_some_and(listed);
            let within = material.constituents.iter().flatten().filter(|(cas, _)| listed(cas)).map(|(_, p)| p / 100.0);
            match restriction.applies {
                "added" => f64::from(u8::from(itself)),
                "all" if itself => 1.0,
                _ => within.sum::<f64>().min(1.0),
            }
        };
        let amount: f64 = (0..self.neat.len()).map(|i| self.neat[i] * part(i)).sum();
        let share = product.accord_share.unwrap_or(100.0) / 100.0 * product.dosage.unwrap_or(0.0) / 100.0;
        let reserve = product.reserve.iter().filter(|(cas, _)| listed(cas)).map(|(_, percent)| percent).sum::<f64>();
        amount / 10.0 * share + reserve
    }

    /// By how much rules are passed, as a share of their size: negative
    /// inside. Rules on single doses are 0 or 1.
    pub fn rules(&self, scenario: &Scenario, doses: &[i64]) -> Vec<(String, f64)> {
        let mut found: Vec<(String, f64)> = Vec::new();
        let mut at_most = |id: String, left: f64, right: Option<f64>, terms: f64| {
            if let Some(right) = right {
                found.push((id, (left - right) / right.abs().max(terms).max(f64::MIN_POSITIVE)));
            }
        };
        let (priced, strength) = (self.is_priced, self.strength);
        at_most("budget".into(), self.price, scenario.max_price.filter(|_| priced), self.price);
        let effect = scenario.max_price_of_effect.filter(|_| priced);
        let allowed = effect.map(|at| at * strength);
        at_most("price_of_effect".into(), self.price, allowed, self.price + allowed.unwrap_or(0.0));
        at_most("max_idle".into(), self.idle, scenario.max_idle, self.idle);
        at_most("strength.min".into(), -strength, scenario.strength.0.map(|at| -at), strength);
        at_most("strength.max".into(), strength, scenario.strength.1, strength);
        for (index, group) in scenario.groups.iter().enumerate() {
            let sum = scenario.members(&group.members, group.tagged).iter().map(|&i| self.neat[i]).sum::<f64>();
            at_most(format!("group:g{index}.min"), -sum, group.min.map(|at| -at), sum);
            at_most(format!("group:g{index}.max"), sum, group.max, sum);
        }
        for ratio in &scenario.ratios {
            let (of, to) = (self.neat[ratio.members[0]], self.neat[ratio.members[1]]);
            let id = format!(
                "ratio:{}/{}",
                scenario.materials[ratio.members[0]].name, scenario.materials[ratio.members[1]].name
            );
            let bound = |at: Option<f64>| at.map(|at| at * to);
            at_most(format!("{id}.min"), -of, bound(ratio.min).map(|b| -b), of + bound(ratio.min).unwrap_or(0.0));
            at_most(format!("{id}.max"), of, bound(ratio.max), of + bound(ratio.max).unwrap_or(0.0));
        }
        for (d, target) in scenario.target.iter().enumerate() {
            let Some(target) = target.as_ref().filter(|target| target.weight != Some(0.0)) else { continue };
            let has = self.profile[d];
            if has.is_finite() {
                at_most(format!("target:note{d}.min"), -has, target.min.map(|at| -at), has + target.min.unwrap_or(0.0));
                at_most(format!("target:note{d}.max"), has, target.max, has + target.max.unwrap_or(0.0));
            }
        }
        if let Some(near) = &scenario.near {
            let moved = self.moved(scenario, near);
            if moved.is_finite() {
                at_most("near".into(), moved, Some(near.within), 100.0);
            }
        }
        self.products(scenario, &mut at_most);
        self.doses(scenario, doses, &mut found);
        found
    }

    fn products(&self, scenario: &Scenario, at_most: &mut impl FnMut(String, f64, Option<f64>, f64)) {
        for (u, product) in scenario.uses.iter().enumerate() {
            let at_use = if scenario.uses.len() > 1 { format!("@u{u}") } else { String::new() };
            let share = product.accord_share.unwrap_or(100.0) / 100.0;
            for (i, material) in scenario.materials.iter().enumerate() {
                let percent = self.neat[i] / 10.0 * share;
                let name = &material.name;
                at_most(format!("concentrate:{name}{at_use}"), percent, material.max_in_concentrate, percent);
                if let Some(dosage) = product.dosage {
                    let percent = percent * dosage / 100.0;
                    at_most(format!("product:{name}{at_use}"), percent, material.max_in_product, percent);
                }
            }
            let (mut joint, mut shares) = (false, 0.0);
            for (index, restriction) in scenario.restrictions.iter().enumerate() {
                let holds =
                    restriction.limits.iter().filter(|(label, _)| *label == "*" || product.categories.contains(label));
                let limit = holds.filter_map(|(_, limit)| *limit).reduce(f64::min);
                let percent = self.use_percent(scenario, restriction, product);
                at_most(format!("limit:S{index}{at_use}"), percent, limit, percent);
                if let (true, Some(limit)) = (restriction.joint, limit) {
                    joint = true;
                    shares += percent / limit;
                }
            }
            at_most(format!("joint:shared{at_use}"), shares, joint.then_some(1.0), shares);
        }
    }

    fn doses(&self, scenario: &Scenario, doses: &[i64], found: &mut Vec<(String, f64)>) {
        let units = |ppt: f64| (ppt * UNITS as f64).round() as i64;
        let mut pass = |id: String, by: f64| found.push((id, by));
        let broken = |is: bool| if is { 1.0 } else { 0.0 };
        for (i, material) in scenario.materials.iter().enumerate() {
            let (name, dose) = (&material.name, doses[i]);
            let entry = scenario.entries[i].clone().unwrap_or_default();
            // How far a dose lies from one that is allowed, beside the larger of
            // the two numbers.
            let off = |distance: i64, at: i64| distance as f64 / at.max(dose).max(1) as f64;
            match entry.fixed {
                Some(fixed) => pass(format!("dose:{name}.fixed"), off((dose - units(fixed)).abs(), units(fixed))),
                None => {
                    let min = scenario.min_of(i).map_or(0, units).max(1000);
                    let lacks = if dose > 0 { (min - dose).max(0) } else { 0 };
                    pass(format!("dose:{name}.min"), off(lacks, min));
                    let step = scenario.step_of(i).map_or(1, units);
                    pass(format!("dose:{name}.step"), off(dose % step, step));
                }
            }
            // In basis bottle the palette's max counts neat.
            let own = if scenario.bottle {
                entry.max
            } else {
                [entry.max, material.max].into_iter().flatten().reduce(f64::min)
            };
            pass(format!("dose:{name}.max"), own.map_or(0.0, |max| off((dose - units(max)).max(0), units(max))));
            if let (true, Some(max)) = (scenario.bottle, material.max) {
                let neat = self.neat[i];
                pass(format!("dose:{name}.max"), (neat - max) / max.max(neat).max(f64::MIN_POSITIVE));
            }
            pass(format!("dose:{name}.must"), broken(entry.permission == Some("must") && dose == 0));
            pass(format!("dose:{name}.never"), broken(!scenario.is_usable(i) && dose > 0));
        }
        let used = doses.iter().filter(|dose| **dose > 0).count();
        let unusual = (0..doses.len()).filter(|&i| scenario.is_unusual(i, doses[i])).count();
        pass("max_unusual".into(), broken(scenario.max_unusual.is_some_and(|most| unusual > most)));
        pass("max_materials".into(), broken(scenario.max_materials.is_some_and(|most| used > most)));
    }
}
