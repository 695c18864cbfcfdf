//! Which trials would teach most about a match.

use super::smelled::Smelled;
use super::{NO_BLEND, Outcome, Refusal, Resolved, best, reasons};
use crate::analysis::law;
use crate::analysis::learn::{GIVE_OR_TAKE, Unknowns, choose, exponent, gather};
pub use crate::analysis::next::{Effort, Per};
use crate::analysis::next::{Known, Wanted, next};
use crate::analysis::starts;
use crate::control::Control;
use crate::formula::Formula;
use crate::results::next::{Looked, NextReport};
use crate::results::next_law::NextLawReport;
use crate::sentences::views::OWN_NUMBERS;
use crate::solve::{Method, Status};

/// Formulas near the best that trials are chosen from.
const FORMULAS: usize = 10;
/// Materials at most that blends about the law are made of: the first of the shelf.
const BLENDED: usize = 40;
/// Doses that differ by less than this in ppt are equal.
const SAME_PPT: f64 = 1e-6;
/// The part of the time that the best formula may take; the rest is for those
/// near it.
const SHARE_OF_BEST: f64 = 0.5;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// How many trials.
    pub count: usize,
    /// Points of fidelity that a mod may lie below the best.
    pub margin: f64,
    /// Seed of the random directions in which mods are looked for.
    pub seed: u64,
    /// Whether trials are put together however they were smelled.
    pub pool: bool,
    /// For what trials are to teach most.
    pub per: Per,
    /// What weighing and smelling take.
    pub effort: Effort,
    /// Which method answers.
    pub method: Method,
}

impl Default for Asked {
    fn default() -> Asked {
        Asked {
            count: 3,
            margin: 3.0,
            seed: 1,
            pool: false,
            per: Per::default(),
            effort: Effort::default(),
            method: Method::Auto,
        }
    }
}

/// The trials that teach most.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of them; why there are none where no formula keeps the rules.
    pub report: NextReport,
    status: Status,
    is_known: bool,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        match (self.status, self.is_known) {
            (Status::Infeasible, _) => Outcome::Impossible(NO_BLEND),
            (_, false) => Outcome::Stopped,
            _ => Outcome::Answered,
        }
    }
}

/// Chooses among varied formulas near the best and the single materials in them.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn ask(of: &Resolved, read: &Smelled, asked: &Asked, control: &Control) -> Result<Answer, Refusal> {
    of.linear("next")?;
    let of = of.settled(asked.method, &control.with_share(SHARE_OF_BEST))?;
    let Resolved { problem, brief, .. } = of;
    let best = best(of, asked.method, &control.with_share(SHARE_OF_BEST))?;
    let control = &control.untold();
    let wanted = starts::Asked { count: FORMULAS, margin: asked.margin, seed: asked.seed };
    let done = |done, of| control.count("directions", done, of);
    let found = starts::starts(problem, wanted, best, asked.method, control, &done)?;
    let status = found.best.status;
    // As `learn` would compare them.
    let matching = choose(&read.palette, &read.trials, &read.neat_ppt, asked.pool, &brief.dip, control);
    let (evidence, _) = gather(&read.palette, &read.trials, &read.neat_ppt, asked.pool, matching, &brief.dip);
    let used = evidence.iter().map(|one| read.trials.trials[one.trial].code.clone()).collect();
    let formulas: Vec<Formula> = found.chosen.iter().map(|answer| answer.formula.clone()).collect();
    let is_tried = |formula: &Formula| {
        let neat = problem.neat_ppt(formula);
        let same = |other: &Vec<f64>| neat.iter().zip(other).all(|(a, b)| (a - b).abs() < SAME_PPT);
        read.neat_ppt.iter().any(same)
    };
    let tried: Vec<bool> = formulas.iter().map(is_tried).collect();
    let known = Known { palette: &read.palette, evidence: &evidence, matching };
    let wanted = Wanted { count: asked.count, per: asked.per, effort: asked.effort };
    let chosen = if formulas.is_empty() { None } else { next(&problem.plain(), known, &formulas, &tried, wanted) };
    let looked = Looked {
        trials: &read.trials.file,
        used,
        status,
        margin: asked.margin,
        seed: asked.seed,
        per: asked.per,
        effort: asked.effort,
        formulas: &found.chosen,
    };
    let reasons = reasons(problem, status, control);
    let own_nose = (problem.views.len() > 1).then(|| OWN_NUMBERS.to_owned());
    let warnings = of.warnings.iter().cloned().chain(own_nose).collect();
    let report = NextReport::new(problem, brief, &looked, chosen.as_ref(), &reasons, warnings);
    Ok(Answer { report, status, is_known: chosen.is_some() })
}

/// Chooses blends of a few materials that tell the two laws apart, among those that the
/// brief may use.
pub fn about_law(of: &Resolved, read: &Smelled, asked: &Asked, control: &Control) -> NextLawReport {
    let Resolved { problem, brief, .. } = of;
    let matching = choose(&read.palette, &read.trials, &read.neat_ppt, asked.pool, &brief.dip, control);
    let (evidence, _) = gather(&read.palette, &read.trials, &read.neat_ppt, asked.pool, matching, &brief.dip);
    let used = evidence.iter().map(|one| read.trials.trials[one.trial].code.clone()).collect();
    let domains = problem.domains();
    let usable = |&at: &usize| domains[at].is_ok() && !problem.material(at).is_carrier();
    let mut materials: Vec<usize> = (0..problem.palette.materials.len()).filter(usable).collect();
    materials.truncate(BLENDED);
    let words: Vec<usize> = problem.targets.iter().map(|target| target.descriptor).collect();
    let wanted = law::Asked {
        palette: &read.palette,
        evidence: &evidence,
        matching,
        materials: &materials,
        words: &words,
        error: GIVE_OR_TAKE,
    };
    let chosen = law::separations(wanted, asked.count);
    let unknowns = Unknowns::touched(&read.palette, &evidence);
    let known = exponent(&read.palette, &evidence, &unknowns, matching, control);
    NextLawReport::new(problem, brief, &read.trials.file, used, known, &chosen, of.warnings.clone())
}
