//! What stands in for an ingredient that was withdrawn, restricted or ran out:
//! the formula that comes nearest to the old one's own profile.
//!
//! A strong material is not replaced weight for weight, so something has to make
//! up the sum: a carrier of the formula, beside which the other doses stay, or
//! the material with the largest dose, beside which they keep their proportions.
//! Where nothing fits, more is let go, step by step. What stays, how many doses
//! move and how many new materials come in are rules of the problem, so that the
//! nearest formula of each step is one exact search.

use std::sync::Arc;

use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::place::Place;
use crate::problem::{Bound, DoseKey, Problem, Rule, RuleId, RuleKind};
use crate::solve::usual::most_usual;
use crate::solve::{self, Answer, Failure, Method, Solution, Start, Status};
use crate::units::Ppt;

/// Single replacements that are ranked.
pub const ALTERNATIVES: usize = 5;

/// How much of the time the nearest formula may take, and how much of what is
/// then left the alternatives.
const FOR_NEAREST: f64 = 0.7;
const FOR_ALTERNATIVES: f64 = 0.5;

/// What is asked of a formula.
#[derive(Clone, Debug, Default)]
pub struct Wish {
    /// Materials of the formula that go.
    pub out: Vec<usize>,
    /// Materials of the formula that are lowered: (material, greatest dose).
    pub lowered: Vec<(usize, Ppt)>,
    /// New materials, carriers aside, at most.
    pub new: usize,
    /// How many of the others may move, beside what makes up the sum.
    pub free: usize,
    /// Whether one material makes up the sum, and more is let go where nothing
    /// fits: up to two further doses, then two new materials. Otherwise all stay
    /// but those that `free` allows to move.
    pub widens: bool,
}

/// A step on the way from what changes least to what changes more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stage {
    /// New materials, carriers aside, at most.
    pub new: usize,
    /// How many of the others may move, beside what makes up the sum.
    pub free: usize,
    /// Whether the others keep their proportions, all of them moving together;
    /// otherwise they stay.
    pub in_proportion: bool,
}

/// A formula with something replaced.
#[derive(Clone, Debug)]
pub struct Replace {
    /// The nearest formula.
    pub solution: Solution,
    /// The material that makes up the sum, where one does.
    pub filler: Option<usize>,
    /// What the solution was allowed.
    pub stage: Stage,
    /// What was tried before and was not enough, and whether that is proven.
    pub not_enough: Vec<(Stage, Status)>,
    /// The best with a single new material each, the nearest first.
    pub alternatives: Vec<Alternative>,
    /// Whether there was time for all of these.
    pub is_complete: bool,
    /// The rules that the solution keeps: those of the brief, and of the wish.
    pub rules: Problem,
}

/// The best formula with one new material.
#[derive(Clone, Debug)]
pub struct Alternative {
    /// The material.
    pub material: usize,
    /// The formula.
    pub answer: Answer,
    /// Whether it is proven the best with this material.
    pub is_proven: bool,
}

/// Whether a wish changes anything at all: a dose that is below its new limit
/// already stays.
pub fn changes_anything(formula: &Formula, wish: &Wish) -> bool {
    !wish.out.is_empty() || wish.lowered.iter().any(|&(material, most)| formula.dose(material) > most)
}

/// Looks for the formula nearest to a profile. `problem` has the target, and
/// the rules of the brief; `places` tells where each part of the formula was
/// written. `done` is told how many of how many searches have ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn replace(
    problem: &Problem,
    formula: &Formula,
    places: &[(usize, Place)],
    wish: &Wish,
    method: Method,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Replace, Failure> {
    let mut bench = Bench::new(problem, formula, places, wish, method);
    let stages = bench.stages(wish);
    let mut stage = stages[0];
    if !changes_anything(formula, wish) {
        let evaluation = evaluate(problem, formula).map_err(|error| Failure::Internal(error.to_string()))?;
        let (loss, answer) = (evaluation.loss, Answer { formula: formula.clone(), evaluation });
        let solution = Solution::from_parts(Some(answer), loss);
        return Ok(Replace {
            solution,
            filler: None,
            stage,
            not_enough: Vec::new(),
            alternatives: Vec::new(),
            is_complete: true,
            rules: bench.problem,
        });
    }
    let mut not_enough = Vec::new();
    let (rules, solution) = loop {
        bench.stage = stage;
        let rules = bench.problem(&bench.new, stage.new, false);
        let mut solution = solve::propose_from(&rules, &Start::default(), method, &control.with_share(FOR_NEAREST))?;
        solution.answer = solution.answer.map(|answer| most_usual(&rules, answer, control));
        match stages.get(not_enough.len() + 1) {
            Some(&next) if solution.answer.is_none() && !control.should_stop() => {
                not_enough.push((stage, solution.status));
                stage = next;
            }
            _ => break (rules, solution),
        }
    };
    done(1, ALTERNATIVES + 1);
    let tell = |ended| done(ended + 1, ALTERNATIVES + 1);
    let (alternatives, is_complete) = bench.alternatives(&solution, &control.with_share(FOR_ALTERNATIVES), &tell)?;
    Ok(Replace { solution, filler: bench.filler, stage, not_enough, alternatives, is_complete, rules })
}

struct Bench<'a> {
    /// The rules of the brief, and what goes and what is lowered.
    problem: Problem,
    formula: &'a Formula,
    places: &'a [(usize, Place)],
    /// Parts of the formula that are neither out nor lowered.
    others: Vec<usize>,
    /// Materials that could come in, carriers aside.
    new: Vec<usize>,
    /// The part that makes up the sum, where one does.
    filler: Option<usize>,
    stage: Stage,
    method: Method,
}

impl<'a> Bench<'a> {
    fn new(
        problem: &Problem,
        formula: &'a Formula,
        places: &'a [(usize, Place)],
        wish: &Wish,
        method: Method,
    ) -> Bench<'a> {
        let mut problem = problem.clone();
        // What is in the formula is named by it: a carrier stays.
        formula.parts.iter().for_each(|&(material, _)| problem.named[material] = true);
        let palette = Arc::clone(&problem.palette);
        let name = |material: usize| palette.materials[material].name.as_str();
        let said = |option: &str| Place { file: Arc::from(option), line: 0, column: 0 };
        let out = wish.out.iter().map(|&material| Rule {
            id: RuleId::dose(name(material), DoseKey::Never),
            kind: RuleKind::Never(material),
            place: said("--out"),
            at: 1.0,
        });
        let is_lowered = |&&(material, most): &&(usize, Ppt)| formula.dose(material) > most;
        let lowered = wish.lowered.iter().filter(is_lowered).map(|&(material, most)| Rule {
            id: RuleId::dose(name(material), DoseKey::Max),
            kind: RuleKind::DoseMax(material),
            place: said("--limit"),
            at: most.as_f64(),
        });
        let rules: Vec<Rule> = out.chain(lowered).collect();
        let is_asked = |material: usize| {
            wish.out.contains(&material) || wish.lowered.iter().filter(is_lowered).any(|(it, _)| *it == material)
        };
        let others: Vec<usize> =
            formula.parts.iter().map(|(material, _)| *material).filter(|&it| !is_asked(it)).collect();
        let dose = |&&it: &&usize| formula.dose(it);
        let carriers = others.iter().filter(|&&it| problem.material(it).is_carrier());
        let filler = carriers.max_by_key(dose).or_else(|| others.iter().max_by_key(dose)).copied();
        problem.rules.extend(rules);
        let usable = problem.domains();
        let is_new = |&material: &usize| {
            formula.dose(material).is_zero()
                && !problem.material(material).is_carrier()
                && usable[material].is_ok_and(|domain| !domain.is_empty())
        };
        let new = (0..problem.columns.len()).filter(is_new).collect();
        let filler = filler.filter(|_| wish.widens);
        let stage = Stage { new: wish.new, free: wish.free, in_proportion: false };
        Bench { problem, formula, places, others, new, filler, stage, method }
    }

    /// What is allowed at first, and what where that is not enough.
    fn stages(&self, wish: &Wish) -> Vec<Stage> {
        let stage = |new: usize, free: usize| Stage { new, free, in_proportion: false };
        if !wish.widens {
            return vec![stage(wish.new, wish.free)];
        }
        // Beside a carrier nothing has to move with it.
        let in_proportion = self.filler.is_some_and(|filler| !self.problem.material(filler).is_carrier());
        let mut stages = vec![Stage { in_proportion, ..stage(wish.new, 0) }];
        stages.extend([stage(wish.new, 1), stage(wish.new, 2)]);
        if wish.new < 2 {
            stages.push(stage(2, 2));
        }
        stages
    }

    /// Where a part of the formula was written.
    fn written(&self, material: usize) -> Place {
        let written = self.places.iter().find(|(part, _)| *part == material).map(|(_, place)| place.clone());
        let file = self.formula.file.as_deref().unwrap_or("the formula");
        written.unwrap_or_else(|| Place { file: Arc::from(file), line: 0, column: 0 })
    }

    /// The rules by which the other doses keep their proportions, each to half
    /// of its step, while all may grow or shrink together.
    fn proportions(&self, kept: &[usize]) -> Vec<Rule> {
        let Some(&largest) = kept.iter().max_by_key(|&&material| self.formula.dose(material)) else {
            return Vec::new();
        };
        let domains = self.problem.dose_rules();
        let neat = |material: usize| {
            let part = self.problem.columns[material].neat.iter().find(|(brought, _)| *brought == material);
            self.formula.dose(material).as_f64() * part.map_or(1.0, |(_, part)| *part)
        };
        let mut rules = Vec::new();
        for &material in kept {
            let place = self.written(material);
            let name = &self.problem.material(material).name;
            let mut rule = |key: DoseKey, kind: RuleKind, at: f64| {
                rules.push(Rule { id: RuleId::Proportion(name.as_str().into(), key), kind, place: place.clone(), at });
            };
            rule(DoseKey::Must, RuleKind::Must(material), 1.0);
            if material == largest {
                continue;
            }
            let half = (domains[material].step.as_f64() / 2.0).max(Ppt::LEAST.as_f64());
            let room = (half / self.formula.dose(material).as_f64()).min(1.0);
            let ratio = neat(material) / neat(largest);
            rule(DoseKey::Min, RuleKind::RatioMin { of: material, to: largest }, ratio * (1.0 - room));
            rule(DoseKey::Max, RuleKind::RatioMax { of: material, to: largest }, ratio * (1.0 + room));
        }
        rules
    }

    /// The problem with at most so many of some new materials, and one of them
    /// at least where that is asked for.
    fn problem(&self, new: &[usize], most: usize, one_at_least: bool) -> Problem {
        let mut problem = self.problem.clone();
        let said = |option: &str| Place { file: Arc::from(option), line: 0, column: 0 };
        let dose = |material: usize, key: DoseKey| RuleId::dose(&self.problem.material(material).name, key);
        let least = self.least_neat(new);
        let mut rule =
            |id: RuleId, kind: RuleKind, place: Place, at: f64| problem.rules.push(Rule { id, kind, place, at });
        for &material in self.new.iter().filter(|material| !new.contains(material)) {
            rule(dose(material, DoseKey::Never), RuleKind::Never(material), said("--with"), 1.0);
        }
        if most < new.len() {
            rule(RuleId::With, RuleKind::MostOf(new.into()), said("--with"), most as f64);
        }
        if one_at_least {
            rule(RuleId::group("new", Bound::Min), RuleKind::GroupMin(new.into()), said("--with"), least);
        }
        let kept: Vec<usize> = self.others.iter().copied().filter(|&it| Some(it) != self.filler).collect();
        if let Some(filler) = self.filler.filter(|&filler| !self.problem.material(filler).is_carrier()) {
            // What makes up the sum does not leave the formula for it.
            rule(dose(filler, DoseKey::Must), RuleKind::Must(filler), self.written(filler), 1.0);
        }
        if self.stage.in_proportion {
            problem.rules.extend(self.proportions(&kept));
        } else if self.stage.free == 0 {
            for &material in &kept {
                let at = self.formula.dose(material).as_f64();
                let id = dose(material, DoseKey::Fixed);
                rule(id, RuleKind::Fixed(material), self.written(material), at);
            }
        } else if self.stage.free < kept.len() {
            let kept = kept.iter().map(|&material| (material, self.formula.dose(material))).collect();
            rule(RuleId::Free, RuleKind::Moves(kept), said("--free"), self.stage.free as f64);
        }
        problem
    }

    /// The least that any of some new materials brings of itself, in neat ppt.
    fn least_neat(&self, new: &[usize]) -> f64 {
        let domains = self.problem.domains();
        let of = |&material: &usize| {
            let part = self.problem.columns[material].neat.iter().find(|(brought, _)| *brought == material);
            let least = domains[material].map_or(Ppt::WHOLE, |domain| domain.least);
            least.as_f64() * part.map_or(1.0, |(_, part)| *part)
        };
        new.iter().map(of).fold(1000.0, f64::min)
    }

    /// The best few single replacements: each is the best of those that are not
    /// among the ones before it. With it whether time was left for all.
    fn alternatives(
        &self,
        nearest: &Solution,
        control: &Control,
        done: &dyn Fn(usize),
    ) -> Result<(Vec<Alternative>, bool), Failure> {
        let mut found: Vec<Alternative> = Vec::new();
        let mut left = self.new.clone();
        // With less to choose from none is nearer.
        let Some(mut bound) = nearest.bound else { return Ok((found, true)) };
        while found.len() < ALTERNATIVES && !left.is_empty() {
            let formulas = nearest.answer.iter().map(|answer| answer.formula.clone()).collect();
            let start = Start { formulas, bound, ..Start::default() };
            let rules = self.problem(&left, 1, true);
            let solution = solve::propose_from(&rules, &start, self.method, control)?;
            done(found.len() + 1);
            let is_proven = solution.status == Status::Optimal;
            match (solution.answer, solution.bound) {
                (Some(answer), Some(proven)) => {
                    let answer = most_usual(&rules, answer, control);
                    let is_in = |material: &usize| !answer.formula.dose(*material).is_zero();
                    let Some(at) = left.iter().position(is_in) else { return Ok((found, false)) };
                    found.push(Alternative { material: left.remove(at), answer, is_proven });
                    bound = proven;
                }
                (_, bound) => return Ok((found, bound.is_none())),
            }
        }
        Ok((found, true))
    }
}
