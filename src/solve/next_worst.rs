//! Of several views the worst is made as near as can be; then, among the formulas whose
//! worst view is as near, the next worst, and so on: views that bind keep their value.
//!
//! As with the price ([`super::cheapest`]), whether any formula is as near in the views
//! that bind and nearer in the others is asked first, by the objective of the proof with
//! a ceiling just above it, which closes as fast as the proof did.

use super::search::{self, Aim, Found, Judged, Known};
use super::verify::Verifier;
use super::{Answer, Failure, PROVEN, Solution, Status};
use crate::brief::Law;
use crate::control::Control;
use crate::model::{Blend, LossCap};
use crate::problem::Problem;
use crate::tolerance::loss::{CUTOFF_MARGIN, TIE};
use crate::units::Ppt;

/// The part of a tie inside which a search looks, so that rounding stays within it.
const WITHIN: f64 = 0.9;
/// Nodes beyond those of the first search that this may take: a count, not a time, so that
/// every run gives the same answer.
const NODES: u64 = 2000;
/// The part of the time that is left which this may take.
const SHARE: f64 = 0.3;

/// The proven best of several views, with what the other views can still have.
pub(super) struct NextWorst {
    /// The solution; status and bound are those of the worst view.
    pub solution: Solution,
    /// What whoever looks among equals further on must keep.
    pub kept: Vec<LossCap>,
}

/// A proven solution with the formula whose next worst view is nearest among those that
/// tie with the best one, and so on, as far as that is found. Nothing changes where there
/// is one view.
///
/// # Errors
/// Where a result failed its check.
pub(super) fn next_worst(
    problem: &Problem,
    blend: &Blend,
    verifier: &Verifier,
    solution: Solution,
    control: &Control,
) -> Result<NextWorst, Failure> {
    let mut kept = Vec::new();
    let best = solution.answer.clone().filter(|_| solution.status == Status::Optimal && !blend.views.is_empty());
    let Some(mut best) = best else { return Ok(NextWorst { solution, kept }) };
    let nodes = solution.nodes + NODES;
    let control = Control {
        node_limit: Some(control.node_limit.map_or(nodes, |most| most.min(nodes))),
        progress: None,
        ..control.with_share(SHARE)
    };
    let mut ask = Ask { problem, verifier, bind: Vec::new(), lower: Vec::new(), control: &control };
    let mut free: Vec<usize> = (0..problem.views.len()).collect();
    free.retain(|&view| problem.views[view].law == Law::Linear);
    loop {
        // Those that bind are known to a tie.
        let worst = ask.greatest(&best, &free);
        let level = Level { at: worst, tie: TIE * worst.max(1.0) };
        let binds = |view: &usize| best.evaluation.views[*view].compared >= worst - level.tie;
        let (bind, rest): (Vec<usize>, Vec<usize>) = free.into_iter().partition(binds);
        if ask.bind.is_empty() {
            ask.bind = bind.into_iter().map(|view| (view, level)).collect();
        } else {
            ask.lower.extend(bind.into_iter().map(|view| (view, level)));
        }
        free = rest;
        if free.is_empty() {
            break;
        }
        if let Some(better) = ask.nearer(&best, &free)? {
            best = better;
        }
    }
    kept.extend(ask.lower.iter().map(|&(view, level)| ask.cap(view, level.within())));
    Ok(NextWorst { solution: Solution { answer: Some(best), ..solution }, kept })
}

/// The value of views that bind.
#[derive(Clone, Copy)]
struct Level {
    at: f64,
    tie: f64,
}

impl Level {
    fn within(self) -> f64 {
        self.at + WITHIN * self.tie
    }

    fn most(self) -> f64 {
        self.at + self.tie
    }
}

/// The question whether some views can be nearer.
struct Ask<'a> {
    problem: &'a Problem,
    verifier: &'a Verifier<'a>,
    /// The views that bind as the worst, and those that bind further down.
    bind: Vec<(usize, Level)>,
    lower: Vec<(usize, Level)>,
    control: &'a Control,
}

impl Ask<'_> {
    /// The greatest that an answer loses in some views.
    fn greatest(&self, answer: &Answer, views: &[usize]) -> f64 {
        views.iter().map(|&view| answer.evaluation.views[view].compared).fold(0.0, f64::max)
    }

    /// The model judged by some views alone.
    fn by(&self, views: impl Iterator<Item = usize>) -> Blend {
        let views = views.map(|view| self.problem.views[view].clone()).collect();
        Blend::new(&Problem { views, ..self.problem.clone() })
    }

    /// A view as a cap.
    fn cap(&self, view: usize, most: f64) -> LossCap {
        self.by([view].into_iter()).capped(most)
    }

    /// An answer as near in the views that bind and nearer in the others.
    fn nearer(&self, best: &Answer, free: &[usize]) -> Result<Option<Answer>, Failure> {
        let present = self.greatest(best, free);
        let below = present - PROVEN * present.max(1.0);
        if below <= 0.0 {
            return Ok(None);
        }
        let is_kept = |answer: &Answer| {
            let mut all = self.bind.iter().chain(&self.lower);
            all.all(|&(view, level)| answer.evaluation.views[view].compared <= level.most())
        };
        let judged = |doses: &[Ppt]| {
            self.verifier.judge(doses)?;
            let answer = self.verifier.answer(doses).ok().filter(is_kept)?;
            Some(Judged { loss: self.greatest(&answer, free), price_per_kg: answer.evaluation.price_per_kg })
        };
        let Some(found) = self.any_below(free, below, &judged) else { return Ok(None) };
        let mut among = self.by(free.iter().copied());
        among.caps.extend(self.bind.iter().chain(&self.lower).map(|&(view, level)| self.cap(view, level.within())));
        let known = Known { formulas: vec![found], ..Known::default() };
        let tolerance = self.verifier.tolerance();
        // A search that fails has found out nothing.
        let Ok(outcome) = search::search(&among, &judged, tolerance, Aim::Best, &known, self.control) else {
            return Ok(None);
        };
        outcome.found.map(|found| self.verifier.answer(&found.doses)).transpose()
    }

    /// Doses that are as near in the views that bind and lose less than `below` in the
    /// others; `None` where there are none, or none was found.
    fn any_below(
        &self,
        free: &[usize],
        below: f64,
        judged: &(dyn Fn(&[Ppt]) -> Option<Judged> + Sync),
    ) -> Option<Vec<Ppt>> {
        let (_, level) = *self.bind.first()?;
        let mut blend = self.by(self.bind.iter().map(|(view, _)| *view));
        blend.caps.extend(self.lower.iter().map(|&(view, level)| self.cap(view, level.within())));
        blend.caps.extend(free.iter().map(|&view| self.cap(view, below)));
        let judge = |doses: &[Ppt]| {
            let loss = self.verifier.judge(doses)?.loss;
            judged(doses).filter(|judged| judged.loss < below + level.tie).map(|judged| Judged { loss, ..judged })
        };
        // The search looks for what beats a ceiling by a margin of its own.
        let ceiling = level.most() + 2.0 * CUTOFF_MARGIN * level.most().max(1.0);
        let known = Known { ceiling: Some(ceiling), ..Known::default() };
        let outcome = search::search(&blend, &judge, self.verifier.tolerance(), Aim::Any, &known, self.control);
        let Found { doses, .. } = outcome.ok()?.found?;
        Some(doses)
    }
}
