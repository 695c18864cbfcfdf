//! What trials have come of: what each changes, how near it came to a target, and
//! what is due to be smelled again.

use super::learn::Drying;
use crate::brief::Match;
use crate::problem::Problem;
use crate::problem::target::{fidelity_percent, worst_loss};
use crate::tolerance::doses::EQUAL;
use crate::trials::{Date, Trials};

/// A trial in the tree.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Index of the trial.
    pub trial: usize,
    /// How many trials lie between it and the one that it all came from.
    pub depth: usize,
    /// What it changes: (material, neat ppt before, neat ppt after), the
    /// largest change first. Without a trial before it, everything in it.
    pub changes: Vec<(usize, f64, f64)>,
    /// Whether it smells the trial before it again.
    pub is_again: bool,
}

/// How near what was smelled comes to a target, in the descriptors that were
/// judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Smelled {
    /// Weighted sum of the gaps, in score points.
    pub loss: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// How much of the target was judged, in percent of its weighted scores.
    pub judged_percent: f64,
}

/// Why something is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyDue {
    /// It was never smelled.
    Never,
    /// It was smelled within [`OPENING_MINUTES`] of dipping alone.
    OpeningOnly,
    /// It was smelled younger than [`YOUNG_DAYS`] alone.
    YoungOnly,
    /// It was smelled once.
    Once,
}

/// A mod that is due to be smelled.
#[derive(Clone, Debug, PartialEq)]
pub struct Due {
    /// Its last trial.
    pub trial: usize,
    /// How often it was smelled.
    pub times: usize,
    /// Why.
    pub why: Vec<WhyDue>,
    /// From when on; `None` where no date says.
    pub on: Option<Date>,
    /// Whether that is so today.
    pub is_now: bool,
}

/// What is smelled sooner after dipping is the opening, in minutes.
pub const OPENING_MINUTES: f64 = 60.0;
/// What is younger has not come together, in days.
pub const YOUNG_DAYS: f64 = 7.0;

/// A trial on paper, by the palette's own numbers.
#[derive(Clone, Debug)]
pub struct OnPaper {
    /// The part of its film that is left, from 1 to 0.
    pub film_left: f64,
    /// What is left of each of the palette's materials, from 1 to 0; `None` when the film
    /// is gone.
    left: Option<Vec<f64>>,
    hours: f64,
}

impl OnPaper {
    /// A trial that dried.
    pub fn of(drying: &Drying, materials: usize) -> OnPaper {
        let clock = drying.film.clock(drying.hours);
        let left = clock.map(|clock| {
            let mut left = vec![1.0; materials];
            let parts = drying.materials.iter().zip(&drying.film.parts);
            parts.for_each(|(&at, part)| left[at] = part.left(clock));
            left
        });
        OnPaper { film_left: clock.map_or(0.0, |clock| drying.film.left(clock)), left, hours: drying.hours }
    }

    /// The stage of a brief at its time.
    pub fn stage(&self, problem: &Problem) -> Option<usize> {
        problem.stage_at(self.hours)
    }

    /// A brief's problem as the trial is smelled: what is left, by the target of its stage
    /// where the brief has one at that time. `None` when the film is gone.
    pub fn seen(&self, problem: &Problem) -> Option<Problem> {
        let left = self.left.as_ref()?;
        Some(problem.after(|material| left[material], self.stage(problem)))
    }

    /// The problem whose target what was smelled is held against.
    pub fn wanted(&self, problem: &Problem) -> Problem {
        match self.stage(problem) {
            Some(stage) => problem.after(|_| 1.0, Some(stage)).seen(0),
            None => problem.clone(),
        }
    }
}

/// The trials as a tree: each after the one that it comes from, otherwise in the
/// order of the file.
pub fn tree(trials: &Trials, neat_ppt: &[Vec<f64>]) -> Vec<Entry> {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); trials.trials.len()];
    let mut waiting = Vec::new();
    for (at, trial) in trials.trials.iter().enumerate().rev() {
        match trial.from {
            // In reverse, since the last of a stack comes first.
            Some(from) => children[from].push(at),
            None => waiting.push((at, 0)),
        }
    }
    let mut entries = Vec::with_capacity(trials.trials.len());
    while let Some((trial, depth)) = waiting.pop() {
        waiting.extend(children[trial].iter().map(|child| (*child, depth + 1)));
        let before = trials.trials[trial].from.map(|from| &neat_ppt[from]);
        let dose = |material: usize| before.map_or(0.0, |before| before[material]);
        let after = &neat_ppt[trial];
        let mut changes: Vec<(usize, f64, f64)> =
            (0..after.len()).map(|material| (material, dose(material), after[material])).collect();
        changes.retain(|(_, before, after)| (before - after).abs() > EQUAL);
        changes.sort_by(|a, b| (b.2 - b.1).abs().total_cmp(&(a.2 - a.1).abs()));
        let is_again = before.is_some() && changes.is_empty();
        entries.push(Entry { trial, depth, changes, is_again });
    }
    entries
}

/// How near judged scores come to the target of a brief. In match balance they
/// are brought to the target's total over the descriptors that were judged.
/// `None` where none of the target was judged.
pub fn smelled(problem: &Problem, scores: &[(usize, f64)]) -> Option<Smelled> {
    let points = |descriptor: usize| scores.iter().find(|(judged, _)| *judged == descriptor).map(|(_, points)| *points);
    let pairs: Vec<_> =
        problem.targets.iter().filter_map(|target| Some((target, points(target.descriptor)?))).collect();
    let weighted = |target: &crate::problem::Target| target.weight * target.score;
    let worst: f64 = pairs.iter().map(|(target, _)| weighted(target)).sum();
    let all: f64 = problem.targets.iter().map(weighted).sum();
    let total: f64 = pairs.iter().map(|(_, points)| points).sum();
    let factor = match problem.matching {
        Match::Level => 1.0,
        Match::Balance if total > 0.0 => pairs.iter().map(|(target, _)| target.score).sum::<f64>() / total,
        Match::Balance => return None,
    };
    let worst_loss = worst_loss(problem.matching, pairs.iter().map(|(target, _)| *target));
    if worst <= 0.0 {
        return None;
    }
    let loss: f64 = pairs.iter().map(|(target, points)| target.gap(factor * points)).sum();
    Some(Smelled { loss, fidelity_percent: fidelity_percent(loss, worst_loss), judged_percent: 100.0 * worst / all })
}

/// What is due to be smelled as of a day. A mod is every trial of one formula; one
/// that another mod has changed is done with, and so is a single material that
/// was smelled, or a natural.
pub fn due(trials: &Trials, neat_ppt: &[Vec<f64>], today: Date) -> Vec<Due> {
    let all = &trials.trials;
    let mut due = Vec::new();
    for first in 0..all.len() {
        let same = |at: &usize| neat_ppt[*at] == neat_ppt[first];
        if (0..first).any(|at| same(&at)) {
            continue;
        }
        let own: Vec<usize> = (first..all.len()).filter(same).collect();
        let changed =
            (0..all.len()).any(|at| !own.contains(&at) && all[at].from.is_some_and(|from| own.contains(&from)));
        let times = own.iter().filter(|&&at| !all[at].scores.is_empty() || all[at].strength.is_some()).count();
        let is_single = all[first].formula.parts.len() == 1 || all[first].analysed.is_some();
        if changed || (is_single && times > 0) {
            continue;
        }
        let last = own.iter().copied().max_by_key(|&at| (all[at].date, at)).unwrap_or(first);
        let (why, on) = reasons(trials, &own, times);
        let on = on.into_iter().flatten().min();
        if !why.is_empty() {
            due.push(Due { trial: last, times, why, on, is_now: on.is_none_or(|on| on <= today) });
        }
    }
    due.sort_by_key(|due| (!due.is_now, due.on));
    due
}

/// Why a mod is due, and from when on for each reason.
fn reasons(trials: &Trials, own: &[usize], times: usize) -> (Vec<WhyDue>, Vec<Option<Date>>) {
    let each = || own.iter().map(|&at| &trials.trials[at]);
    let last = each().filter_map(|trial| trial.date).max();
    if times == 0 {
        return (vec![WhyDue::Never], vec![last]);
    }
    let only = |of: &dyn Fn(&crate::trials::Trial) -> Option<f64>, below: f64| {
        each().all(|trial| of(trial).is_some_and(|value| value < below))
    };
    let (mut why, mut on) = (Vec::new(), Vec::new());
    let mut add = |reason: WhyDue, day: Option<Date>| {
        why.push(reason);
        on.push(day);
    };
    if only(&|trial| trial.minutes, OPENING_MINUTES) {
        add(WhyDue::OpeningOnly, last);
    }
    if only(&|trial| trial.age_days, YOUNG_DAYS) {
        let mixed = |trial: &crate::trials::Trial| Some(trial.date?.after(-(trial.age_days? as i64)));
        add(WhyDue::YoungOnly, each().filter_map(mixed).min().map(|day| day.after(YOUNG_DAYS as i64)));
    }
    if times == 1 {
        add(WhyDue::Once, last.map(|day| day.after(1)));
    }
    (why, on)
}
