//! A blend judged from the sums of its odours: the arithmetic of
//! [`crate::evaluate`] without what does not change from draw to draw.

use super::sample::Drawn;
use crate::brief::{Law, Match};
use crate::problem::Problem;
use crate::problem::target::fidelity_percent;

/// What a problem wants, ready to judge many blends.
#[derive(Clone, Debug)]
pub struct Judge {
    /// Wanted score of each target.
    wanted: Vec<f64>,
    /// What the loss grows by with each point above it: 0 or more.
    over: Vec<f64>,
    /// What it grows by with each point more below it: negative.
    under: Vec<f64>,
    worst: f64,
    /// 1 over the sum of the wanted scores, in match balance.
    per_score: Option<f64>,
    /// How odours add up.
    law: Law,
}

impl Judge {
    /// Of a problem that is seen one way: its first view's.
    pub fn new(problem: &Problem) -> Judge {
        let targets = || problem.targets.iter();
        Judge {
            wanted: targets().map(|target| target.score).collect(),
            over: targets().map(|target| target.slope(true)).collect(),
            under: targets().map(|target| target.slope(false)).collect(),
            worst: problem.worst_loss(),
            per_score: (problem.matching == Match::Balance).then(|| 1.0 / problem.target_total()),
            law: problem.views[0].law,
        }
    }

    /// How many descriptors count.
    pub fn targets(&self) -> usize {
        self.wanted.len()
    }

    /// What a material with these scores adds to the denominator for each unit
    /// of its odour.
    pub fn weight(&self, scores: &[f64]) -> f64 {
        self.per_score.map_or(1.0, |per_score| per_score * scores.iter().sum::<f64>())
    }

    /// What a point of score adds to that.
    pub fn weight_per_point(&self) -> f64 {
        self.per_score.unwrap_or(0.0)
    }

    /// The loss, in points, of a blend with these odours of each target over
    /// this denominator; the worst there is where nothing smells.
    pub fn loss(&self, odours: &[f64], denominator: f64) -> f64 {
        if denominator <= 0.0 {
            return self.worst;
        }
        let scale = 1.0 / denominator;
        let mut loss = 0.0;
        for (((odour, wanted), over), under) in odours.iter().zip(&self.wanted).zip(&self.over).zip(&self.under) {
            let gap = odour * scale - wanted;
            loss += if gap > 0.0 { over * gap } else { under * gap };
        }
        loss
    }

    /// The loss of one target alone at so much of its odour.
    pub fn loss_of(&self, target: usize, odour: f64, denominator: f64) -> f64 {
        let gap = odour / denominator - self.wanted[target];
        if gap > 0.0 { self.over[target] * gap } else { self.under[target] * gap }
    }

    /// Fidelity in percent of a loss.
    pub fn fidelity(&self, loss: f64) -> f64 {
        fidelity_percent(loss, self.worst)
    }
}

/// Odour of each target (strength times score times neat ppt, summed), and the denominator that makes points of it.
#[derive(Debug)]
pub struct Odours {
    /// Of each target.
    pub of: Vec<f64>,
    /// What they are divided by.
    pub denominator: f64,
}

impl Odours {
    /// Of so many targets, nothing yet.
    pub fn new(targets: usize) -> Odours {
        Odours { of: vec![0.0; targets], denominator: 0.0 }
    }

    /// What turns a sum into a score: 1 over the denominator; 0 of no odour.
    pub fn scale(&self) -> f64 {
        if self.denominator > 0.0 { 1.0 / self.denominator } else { 0.0 }
    }

    /// Nothing again.
    pub fn clear(&mut self) {
        self.of.fill(0.0);
        self.denominator = 0.0;
    }

    /// The sums of a blend's parts (slot, neat ppt).
    pub fn fill<'a>(&mut self, judge: &Judge, parts: &[(usize, f64)], drawn: impl Fn(usize) -> Drawn<'a>) {
        self.clear();
        for &(slot, ppt) in parts {
            self.add(judge, drawn(slot), ppt);
        }
    }

    /// Adds so many ppt of one material.
    pub fn add(&mut self, judge: &Judge, drawn: Drawn<'_>, ppt: f64) {
        let odour = judge.law.of(drawn.strength * ppt);
        self.of.iter_mut().zip(drawn.scores).for_each(|(sum, score)| *sum += odour * score);
        self.denominator += odour * judge.weight(drawn.scores);
    }
}
