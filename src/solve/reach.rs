//! How much and how little of one descriptor a blend inside the rules can
//! have: two linear-fractional programmes over continuous doses.

use super::backend::Backend;
use super::borrowed::{self, to_grid};
use super::quiet;
use super::ratio::charnes_cooper;
use super::search::{self, Leaf, Rung};
use super::verify::Verifier;
use crate::control::Control;
use crate::formula::Formula;
use crate::model::{Blend, DoseProgramme};
use crate::problem::{Problem, Target};
use crate::tolerance::doses::END_PROVEN;

/// One end of a range.
#[derive(Clone, Debug)]
pub struct End {
    /// The profile's value there, in points.
    pub points: f64,
    /// A blend that has it, verified.
    pub formula: Formula,
    /// Whether it is certain that no blend goes further, to 1e-6.
    pub proven: bool,
}

/// What blends of one problem can reach, descriptor by descriptor.
pub struct Reaches {
    relaxed: Problem,
    blend: Blend,
    /// For each counted descriptor (column of the blend, what one ppt adds to it).
    odours: Vec<Vec<(usize, f64)>>,
}

impl Reaches {
    /// Of a continuous problem (see [`Problem::relaxed`]); `None` where it is not.
    pub fn new(relaxed: &Problem) -> Option<Reaches> {
        let relaxed = relaxed.plain();
        let mut blend = Blend::new(&relaxed);
        if !blend.is_continuous() {
            return None;
        }
        let mut odours = vec![Vec::new(); relaxed.targets.len()];
        for (at, column) in blend.columns.iter_mut().enumerate() {
            for (target, odour) in std::mem::take(&mut column.odours) {
                odours[target].push((at, odour));
            }
        }
        Some(Reaches { relaxed, blend, odours })
    }

    /// The least and the greatest value of the profile in one counted descriptor, over
    /// continuous doses; `None` for an end that could not be worked out.
    pub fn of(&self, counted: usize, control: &Control) -> [Option<End>; 2] {
        let Reaches { relaxed, blend, odours } = self;
        let mut blend = blend.clone();
        let mut greatest = 0.0_f64;
        for &(at, odour) in &odours[counted] {
            let column = &mut blend.columns[at];
            column.odours.push((0, odour));
            if column.weight > 0.0 {
                greatest = greatest.max(odour / column.weight);
            }
        }
        // What misses the least imaginable value least, and the greatest likewise.
        [0.0, greatest].map(|score| {
            blend.targets = vec![Target { score, weight: 1.0, excess: 1.0, ..relaxed.targets[counted] }];
            let proven =
                |points: f64, bound: f64| (points - score).abs() - bound <= END_PROVEN * score.max(points).max(1.0);
            let Some(ladder) = &blend.ladder else {
                let (points, formula, bound) = end(relaxed, &blend, greatest, counted, control)??;
                return Some(End { points, formula, proven: proven(points, bound) });
            };
            // The furthest of all rungs.
            let mut leaf = |Rung { blend: part, .. }: Rung<'_>| {
                let reached = end(relaxed, part, greatest, counted, control).ok_or(())?;
                let bound = reached.as_ref().map_or(f64::INFINITY, |(_, _, bound)| *bound);
                let found = reached.map(|(points, formula, _)| ((points - score).abs(), (points, formula)));
                Ok::<_, ()>(Leaf { bound, found, nodes: 0, iterations: 0 })
            };
            let union = search::over_rungs(&blend, ladder, None, false, control, &mut leaf).ok()?;
            let (_, (points, formula)) = union.found?;
            Some(End { points, formula, proven: proven(points, union.bound) })
        })
    }
}

/// The points of a blend at the end of its rows, that blend, and what no other has
/// less of the loss than; `Some(None)` where there is none, `None` where that was
/// not found out. No blend loses more than `most` points.
#[expect(clippy::option_option, reason = "nothing there and nothing known are two things")]
fn end(
    relaxed: &Problem,
    blend: &Blend,
    most: f64,
    counted: usize,
    control: &Control,
) -> Option<Option<(f64, Formula, f64)>> {
    let (ppt, bound) = match quiet::catch(|| search::continuous_optimum(blend, most)).ok().flatten() {
        Some(optimum) => (optimum.ppt, optimum.bound),
        // Rounding has taken over: a borrowed solver is asked.
        None => {
            let root = search::root_bound(blend, control);
            if root.bound.is_infinite() {
                return Some(None);
            }
            let model = DoseProgramme::new(blend, root.d_ref);
            let best = charnes_cooper(Backend::Microlp, &model.programme, &borrowed::ratio(&model), control).ok()?;
            (model.ppt(&best.x), root.bound)
        }
    };
    if bound.is_infinite() {
        return Some(None);
    }
    let doses = to_grid(blend, &ppt)?;
    let answer = Verifier::new(relaxed, blend).answer(&doses).ok()?;
    let points = answer.evaluation.profile[counted];
    Some(Some((points, answer.formula, bound)))
}
