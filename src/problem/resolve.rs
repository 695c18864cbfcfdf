//! From palette, brief and limits to a problem.

use std::sync::Arc;

use super::{Bound, Column, DoseKey, FinishedProduct, Nearby, Problem, Rule, RuleId, RuleKind, Target, View};
use crate::brief::{Basis, Brief, Law, Permission, TargetEntry, TargetFrom};
use crate::escape::escaped;
use crate::formula::Formula;
use crate::limits::{Limits, Restriction, Scope};
use crate::number::{plain, rounded_down};
use crate::palette::Palette;
use crate::place::{Place, Placed};
use crate::units::Ppt;

impl Problem {
    /// Resolves a brief against its palette and limits. The three are
    /// already validated, so nothing here can fail; rules that contradict
    /// each other make the problem infeasible, not invalid.
    pub fn new(palette: Palette, brief: &Brief, limits: &[Limits]) -> Problem {
        let palette = Arc::new(brief.shelf(palette));
        let columns = columns(&palette, brief.basis);
        let mut named = vec![false; palette.materials.len()];
        for entry in &brief.doses {
            named[entry.material] = true;
        }
        let mut problem = Problem {
            title: brief.title.clone(),
            basis: brief.basis,
            matching: brief.matching,
            targets: Vec::new(),
            views: Vec::new(),
            ruled: Arc::new([]),
            target_material: match &brief.target_from {
                Some(TargetFrom::Material(material)) => Some(material.value),
                _ => None,
            },
            named,
            columns,
            products: products(brief),
            restrictions: limits.iter().flat_map(|file| file.restrictions.iter().cloned()).collect(),
            scopes: Scope::of(limits).into(),
            near: brief.near.as_ref().and_then(|near| Nearby::new(&palette, near)).map(Arc::new),
            paper: None,
            rules: Vec::new(),
            warnings: Vec::new(),
            palette,
        };
        let wanted = wanted_scores(&problem, brief.target_from.as_ref());
        problem.resolve_targets(brief, &wanted);
        problem.views = Problem::views_by(brief.laws, problem.views_of_noses(brief));
        problem.ruled = problem.targets.clone().into();
        problem.resolve_rules(brief);
        problem.resolve_paper(brief);
        problem.resolve_warnings(brief);
        problem
    }

    /// The same rules with another target: a formula's own profile, in the
    /// place of every score that the brief wants. Weights stay as the brief
    /// has them. `None` where the formula smells of nothing that counts.
    pub fn with_profile_of(&self, brief: &Brief, formula: &Formula) -> Option<Problem> {
        let mut own = brief.clone();
        own.target.iter_mut().for_each(|entry| entry.score = None);
        let place = Place { file: brief.file.clone(), line: 0, column: 0 };
        own.target_from = Some(TargetFrom::Formula(Placed { value: formula.clone(), place }));
        let mut problem = Problem { targets: Vec::new(), ..self.clone() };
        let wanted = wanted_scores(&problem, own.target_from.as_ref());
        problem.resolve_targets(&own, &wanted);
        let neat = self.neat_ppt(formula);
        // In each view the formula has a profile of its own.
        let seen = |view: &View| {
            let profile = profile_of(&view.palette, view.law, &neat);
            let wanted: Vec<Option<f64>> = profile.into_iter().map(|score| (score > 0.0).then_some(score)).collect();
            targets(&own.target, &wanted, own.off_note_weight)
        };
        let problem = Problem { targets: problem.targets, ..self.clone() }.wanting(&seen);
        let is_any = problem.worst_loss() > 0.0 && problem.views.iter().all(|view| view.worst_loss() > 0.0);
        is_any.then_some(problem)
    }

    pub(super) fn resolve_targets(&mut self, brief: &Brief, wanted: &[Option<f64>]) {
        self.targets = targets(&brief.target, wanted, brief.off_note_weight);
    }

    pub(super) fn push(&mut self, id: RuleId, kind: RuleKind, place: &Place, at: f64) {
        self.rules.push(Rule { id, kind, place: place.clone(), at });
    }

    pub(super) fn push_some(&mut self, id: RuleId, kind: RuleKind, at: &Option<Placed<f64>>) {
        if let Some(at) = at {
            self.push(id, kind, &at.place, at.value);
        }
    }

    fn resolve_rules(&mut self, brief: &Brief) {
        self.push_some(RuleId::Budget, RuleKind::Budget, &brief.max_price);
        self.push_some(RuleId::PriceOfEffect, RuleKind::PriceOfEffect, &brief.max_price_of_effect);
        self.push_some(RuleId::Strength(Bound::Min), RuleKind::StrengthMin, &brief.strength_min);
        self.push_some(RuleId::Strength(Bound::Max), RuleKind::StrengthMax, &brief.strength_max);
        if let Some(most) = &brief.max_materials {
            self.push(RuleId::MaxMaterials, RuleKind::MaxMaterials, &most.place, most.value as f64);
        }
        if let Some(most) = &brief.max_idle {
            self.push(RuleId::MaxIdle, RuleKind::MaxIdle, &most.place, most.value.as_f64());
        }
        if let Some(most) = &brief.max_unusual {
            let kind = RuleKind::MaxUnusual(self.usual_doses());
            self.push(RuleId::MaxUnusual, kind, &most.place, most.value as f64);
        }
        if let Some(only) = &brief.only {
            self.push(RuleId::Only, RuleKind::Only(only.value.clone().into()), &only.place, 1.0);
        }
        if let Some(place) = &brief.own_only {
            self.push(RuleId::OwnOnly, RuleKind::OwnOnly, place, 1.0);
        }
        for material in 0..self.palette.materials.len() {
            self.resolve_dose(brief, material);
        }
        for group in &brief.groups {
            let members: Arc<[usize]> = group.materials.clone().into();
            let ppt = |bound: &Option<Placed<Ppt>>| bound.as_ref().map(as_number);
            let id = |bound| RuleId::group(&group.name, bound);
            self.push_some(id(Bound::Min), RuleKind::GroupMin(members.clone()), &ppt(&group.min));
            self.push_some(id(Bound::Max), RuleKind::GroupMax(members), &ppt(&group.max));
        }
        for ratio in &brief.ratios {
            let (of, to) = (ratio.of, ratio.to);
            let names = (self.material(of).name.clone(), self.material(to).name.clone());
            let id = |bound| RuleId::ratio(&names.0, &names.1, bound);
            self.push_some(id(Bound::Min), RuleKind::RatioMin { of, to }, &ratio.min);
            self.push_some(id(Bound::Max), RuleKind::RatioMax { of, to }, &ratio.max);
        }
        for entry in &brief.target {
            // A descriptor of weight 0 is not looked at, anywhere.
            let Some(counted) = self.targets.iter().position(|target| target.descriptor == entry.descriptor) else {
                continue;
            };
            let name = self.palette.descriptors[entry.descriptor].name.clone();
            let id = |bound| RuleId::target(&name, bound);
            self.push_some(id(Bound::Min), RuleKind::TargetMin(counted), &entry.min);
            self.push_some(id(Bound::Max), RuleKind::TargetMax(counted), &entry.max);
        }
        if let (Some(near), Some(within)) =
            (self.near.clone(), brief.near.as_ref().and_then(|near| near.within.as_ref()))
        {
            self.push(RuleId::Near, RuleKind::Near(near.skeleton.clone()), &within.place, within.value);
        }
        for product in 0..self.products.len() {
            self.resolve_product(product);
        }
        self.resolve_stages(brief);
    }

    /// The rules on the dose of one material: `[doses]` goes before the
    /// material, the material before `[formula]`; the smallest maximum holds.
    fn resolve_dose(&mut self, brief: &Brief, material: usize) {
        let palette = Arc::clone(&self.palette);
        let described = &palette.materials[material];
        let entry = brief.doses.iter().find(|entry| entry.material == material);
        let id = |key: DoseKey| RuleId::dose(&described.name, key);

        let min = entry.and_then(|e| e.min.as_ref()).or(described.min.as_ref()).or(brief.min_dose.as_ref());
        let step = entry.and_then(|e| e.step.as_ref()).or(described.step.as_ref()).or(brief.step.as_ref());
        self.push_some(id(DoseKey::Min), RuleKind::DoseMin(material), &min.map(as_number));
        self.push_some(id(DoseKey::Step), RuleKind::DoseStep(material), &step.map(as_number));

        let own = entry.and_then(|e| e.max.as_ref());
        match (own, &described.max, self.basis) {
            // Both count the same parts: the smaller one is the rule.
            (Some(own), Some(general), Basis::Neat) => {
                let smaller = if own.value <= general.value { own } else { general };
                self.push_some(id(DoseKey::Max), RuleKind::DoseMax(material), &Some(as_number(smaller)));
            }
            (own, general, basis) => {
                self.push_some(id(DoseKey::Max), RuleKind::DoseMax(material), &own.map(as_number));
                let kind = match basis {
                    Basis::Neat => RuleKind::DoseMax(material),
                    Basis::Bottle => RuleKind::NeatMax(material),
                };
                self.push_some(id(DoseKey::Max), kind, &general.as_ref().map(as_number));
            }
        }
        let Some(entry) = entry else { return };
        if let Some(fixed) = &entry.fixed {
            self.push(id(DoseKey::Fixed), RuleKind::Fixed(material), &fixed.place, fixed.value.as_f64());
        }
        match entry.permission.value {
            Permission::May => {}
            Permission::Must => self.push(id(DoseKey::Must), RuleKind::Must(material), &entry.permission.place, 1.0),
            Permission::Never => self.push(id(DoseKey::Never), RuleKind::Never(material), &entry.permission.place, 1.0),
        }
    }

    /// The rules of one finished product: advice on single materials, and
    /// the restrictions of the limits files.
    fn resolve_product(&mut self, product: usize) {
        let several = self.products.len() > 1;
        let at_use = self.products[product].name.clone().filter(|_| several);
        let named = |name: &str| RuleId::in_product(name, at_use.as_deref());
        let palette = Arc::clone(&self.palette);
        for (material, described) in palette.materials.iter().enumerate() {
            let name = &described.name;
            self.push_some(
                RuleId::Concentrate(named(name)),
                RuleKind::Concentrate { material, product },
                &described.max_in_concentrate_percent,
            );
            if self.products[product].dosage_percent.is_some() {
                self.push_some(
                    RuleId::Product(named(name)),
                    RuleKind::Product { material, product },
                    &described.max_in_product_percent,
                );
            }
        }
        if self.products[product].dosage_percent.is_none() {
            return;
        }
        let restrictions = Arc::clone(&self.restrictions);
        struct Joint<'a> {
            name: &'a str,
            place: &'a Place,
            members: Vec<(usize, f64)>,
        }
        let mut joints: Vec<Joint> = Vec::new();
        for (index, restriction) in restrictions.iter().enumerate() {
            let Some((_, percent)) = restriction.holding(&self.products[product].categories) else { continue };
            let id = RuleId::Limit(named(&restriction.substance));
            self.push(id, RuleKind::Limit { restriction: index, product }, &restriction.place, percent);
            if let Some(name) = &restriction.joint {
                match joints.iter_mut().find(|joint| joint.name == name) {
                    Some(joint) => join(&restrictions, &mut joint.members, (index, percent)),
                    None => joints.push(Joint { name, place: &restriction.place, members: vec![(index, percent)] }),
                }
            }
        }
        for Joint { name, place, members } in joints {
            let kind = RuleKind::Joint { members: members.into(), product };
            self.push(RuleId::Joint(named(name)), kind, place, 1.0);
        }
    }

    fn resolve_warnings(&mut self, brief: &Brief) {
        let names = |indices: &[usize]| {
            let names: Vec<&str> = indices.iter().map(|&i| self.material(i).name.as_str()).collect();
            names.join(", ")
        };
        let mut warnings = Vec::new();
        let domains = self.domains();
        let usable = |column: &usize| domains[*column].is_ok();
        let free: Vec<usize> = (0..self.columns.len())
            .filter(|&column| {
                self.material(column).is_carrier()
                    && domains[column].is_ok_and(|domain| domain.most == Ppt::WHOLE && !domain.fixed)
            })
            .collect();
        if brief.max_price.is_some() && brief.strength_min.is_none() && !free.is_empty() {
            warnings.push(format!(
                "the budget can be met by dilution alone: {} has no max and [formula] strength no min",
                names(&free)
            ));
        }
        if let (Some(near), Some(within)) = (&self.near, brief.near.as_ref().and_then(|near| near.within.as_ref())) {
            let lacking = 100.0 * near.skeleton.lacking_share();
            if lacking > within.value {
                warnings.push(format!(
                    "{}: `within` is {}, but the shelf lacks {} % of {}: no formula keeps it",
                    within.place,
                    plain(within.value),
                    rounded_down(lacking, 2),
                    escaped(near.name())
                ));
            }
        }
        if let Some(only) = &brief.only {
            let unnamed: Vec<usize> =
                only.value.iter().copied().filter(|&i| self.material(i).is_carrier() && !self.named[i]).collect();
            if !unnamed.is_empty() {
                warnings.push(format!(
                    "{} stands in only, but a carrier is left out unless [doses] names it too",
                    names(&unnamed)
                ));
            }
        }
        if self.matching == crate::brief::Match::Balance {
            let silent: Vec<usize> = (0..self.columns.len())
                .filter(usable)
                .filter(|&column| !self.material(column).is_carrier() && self.counted_score(column) == 0.0)
                .collect();
            if !silent.is_empty() {
                warnings.push(format!("no score that counts: {}; in match balance it adds nothing", names(&silent)));
            }
        }
        self.warnings.extend(warnings);
    }
}

/// The descriptors that count, with what is wanted of them: by what is said of single ones,
/// and by the profile that a target starts from.
pub(super) fn targets(entries: &[TargetEntry], wanted: &[Option<f64>], off_note_weight: f64) -> Vec<Target> {
    let mut targets = Vec::new();
    for (descriptor, wanted) in wanted.iter().enumerate() {
        let entry = entries.iter().find(|entry| entry.descriptor == descriptor);
        let unnamed = entry.is_none() && wanted.is_none();
        let weight = match entry.and_then(|entry| entry.weight) {
            Some(weight) => weight,
            None if unnamed => off_note_weight,
            None => 1.0,
        };
        if weight > 0.0 {
            let score = entry.and_then(|entry| entry.score).or(*wanted).unwrap_or(0.0);
            let excess = entry.and_then(|entry| entry.excess).unwrap_or(1.0);
            targets.push(Target { descriptor, score, weight, excess });
        }
    }
    targets
}

/// Adds a restriction to those that share a limit. What two files say of one
/// substance counts once, by the stricter figure.
fn join(restrictions: &[Restriction], members: &mut Vec<(usize, f64)>, new: (usize, f64)) {
    let (index, percent) = new;
    let added = &restrictions[index];
    let same = |&&mut (other, _): &&mut (usize, f64)| {
        let other = &restrictions[other];
        other.place.file != added.place.file
            && other.applies == added.applies
            && other.cas.iter().any(|cas| added.cas.contains(cas))
    };
    match members.iter_mut().find(same) {
        Some(member) if percent < member.1 => *member = new,
        Some(_) => {}
        None => members.push(new),
    }
}

fn as_number(ppt: &Placed<Ppt>) -> Placed<f64> {
    Placed { value: ppt.value.as_f64(), place: ppt.place.clone() }
}

fn columns(palette: &Palette, basis: Basis) -> Arc<[Column]> {
    (0..palette.materials.len())
        .map(|material| Column {
            neat: match basis {
                Basis::Neat => vec![(material, 1.0)],
                Basis::Bottle => palette.usual_content(material),
            },
        })
        .collect()
}

fn products(brief: &Brief) -> Vec<FinishedProduct> {
    let product = |of: &crate::brief::Use| FinishedProduct {
        name: of.name.clone(),
        place: of.place.clone(),
        categories: of.categories.clone(),
        dosage_percent: of.dosage_percent,
        accord_share_percent: of.accord_share_percent,
        reserve: of.reserve.clone(),
    };
    brief.uses.iter().map(product).collect()
}

/// The scores that `target_from` names, by descriptor; a score of 0 names
/// nothing.
pub(super) fn wanted_scores(problem: &Problem, from: Option<&TargetFrom>) -> Vec<Option<f64>> {
    let named = |score: f64| (score > 0.0).then_some(score);
    match from {
        None => vec![None; problem.palette.descriptors.len()],
        Some(TargetFrom::Material(material)) => {
            problem.material(material.value).scores.iter().copied().map(named).collect()
        }
        Some(TargetFrom::Formula(formula)) => own_profile(problem, &formula.value).into_iter().map(named).collect(),
    }
}

/// A formula's own profile: the strength-weighted mean of the scores, for
/// every descriptor of the palette; zeros where it has no strength.
pub fn own_profile(problem: &Problem, formula: &Formula) -> Vec<f64> {
    profile_of(&problem.palette, Law::Linear, &problem.neat_ppt(formula))
}

/// The same of neat doses of a palette's materials, by a law.
fn profile_of(palette: &Palette, law: Law, neat: &[f64]) -> Vec<f64> {
    let mut profile = vec![0.0; palette.descriptors.len()];
    let mut total = 0.0;
    for (material, amount) in palette.materials.iter().zip(neat) {
        let odour = law.of(material.strength * amount);
        total += odour;
        for (sum, score) in profile.iter_mut().zip(&material.scores) {
            *sum += odour * score;
        }
    }
    if total > 0.0 {
        profile.iter_mut().for_each(|sum| *sum /= total);
    }
    profile
}
