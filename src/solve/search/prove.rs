//! Writing a proof down: the tree for one loss, without looking for formulas,
//! each step with the multipliers that it rests on.

use super::branch_and_bound::BranchAndBound;
use super::certificate_writer::CertificateWriter;
use super::examine::Split;
use super::instance::Instance;
use super::node::{Decision, Node};
use super::prove_part::Settled;
use super::relaxation::{Empty, Relaxation};
use super::simplex::{Ended, Scratch};
use crate::certificate::{
    BoundOnD, Certificate, Claim, Entry, Multipliers, Remainder, Said, bound_of_row, bound_on_d, greatest_d,
    room_of_cap,
};
use crate::control::Control;
use crate::model::{Blend, Ladder};
use crate::tolerance::loss::CERTIFICATE_ROOM;

/// What a tree is built for.
#[derive(Clone, Copy, Debug)]
pub enum Purpose {
    /// No formula has a loss below a little less than this.
    NoneBelow(f64),
    /// There is no formula.
    None,
}

impl Purpose {
    /// What is claimed of it.
    pub fn claim(self) -> Claim {
        match self {
            Purpose::NoneBelow(loss) => Claim::NoneBelow((loss - Purpose::room(loss)).max(0.0)),
            Purpose::None => Claim::None,
        }
    }

    /// The weight of the loss, and by how much the claim lies below the loss that
    /// the relaxation is solved for.
    pub(super) fn objective_and_room(self) -> (f64, f64) {
        match self {
            Purpose::NoneBelow(loss) => (1.0, Purpose::room(loss)),
            Purpose::None => (0.0, 0.0),
        }
    }

    /// How far the claim lies below the loss that the tree is built for.
    pub(super) fn room(loss: f64) -> f64 {
        CERTIFICATE_ROOM * loss.max(1.0)
    }
}

/// Why there is no certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unwritten {
    /// The answer rests on no proof.
    NothingProven,
    /// The time or the nodes that the control allows were not enough.
    OutOfTime,
    /// A part holds no formula by less than rounding takes from a line of
    /// multipliers: more time would not close it.
    NotClosed,
}

/// Writes down why no formula of a blend has a loss below a claim, or why there is
/// none at all.
///
/// # Errors
/// Where that cannot be shown, or not in what the control allows.
pub fn prove(blend: &Blend, names: Vec<String>, purpose: Purpose, control: &Control) -> Result<Certificate, Unwritten> {
    let open = Unwritten::NotClosed;
    let (remainders, entries) = (Vec::new(), Vec::new());
    let mut certificate = Certificate { claim: purpose.claim(), columns: names, remainders, d: [None, None], entries };
    // Rows as the certificate knows them: what just passes one is a formula.
    let mut roomy = blend.clone();
    for (row, original) in roomy.rows.iter_mut().zip(&blend.rows) {
        row.upper = bound_of_row(blend, original).ok_or(open)?;
    }
    for (cap, original) in roomy.caps.iter_mut().zip(&blend.caps) {
        cap.room = room_of_cap(blend, original).ok_or(open)?;
    }
    let relaxation = match Relaxation::new(&roomy, &mut Scratch::default()) {
        _ if blend.contradiction.is_some() => Err(Empty),
        Err(Empty) => Relaxation::of_nothing(&roomy),
        found => found,
    };
    let Ok(relaxation) = relaxation else {
        // What is seen without a relaxation.
        let mut writer = CertificateWriter::new(&certificate, blend).ok_or(open)?;
        writer.line(Entry::Empty);
        let entries = writer.finished().ok_or(open)?;
        return Ok(Certificate { entries, ..certificate });
    };
    let mut search = BranchAndBound::over(Instance::new(&roomy, &|_| None, 0.0, control), relaxation);
    certificate.remainders = search
        .work
        .relaxation
        .remainders
        .iter()
        .map(|kept| Remainder { step: kept.remainder.step, columns: kept.remainder.fine.clone() })
        .collect();
    certificate.d = [1, -1]
        .map(|sign| search.multipliers_of_d(sign as f64).and_then(|by| bound_on_d(&certificate, blend, by, sign)));
    let mut writer = CertificateWriter::new(&certificate, blend).ok_or(open)?;
    let is_written = match &blend.ladder {
        Some(ladder) if blend.contradiction.is_none() => {
            search.write_rungs(&roomy, ladder, purpose, &certificate.d, &mut writer)
        }
        _ => search.aimed(purpose, &certificate.d).and_then(|root| search.write_down(root, purpose, &mut writer)),
    };
    if is_written.is_none() {
        return Err(if search.is_over() { Unwritten::OutOfTime } else { open });
    }
    let entries = writer.finished().ok_or(open)?;
    Ok(Certificate { entries, ..certificate })
}

impl BranchAndBound<'_> {
    /// The whole, with the relaxation at the loss that the tree is built for and D
    /// between what the certificate proves, not what the search knows.
    fn aimed(&mut self, purpose: Purpose, d: &[Option<BoundOnD>; 2]) -> Option<Node> {
        match purpose {
            Purpose::NoneBelow(loss) => self.work.relaxation.set_lambda(loss),
            Purpose::None => self.work.relaxation.lp.cost.fill(0.0),
        }
        // Gaps have no end of their own.
        let gaps = self.work.relaxation.gaps.clone();
        self.work.relaxation.upper[gaps].iter_mut().for_each(|upper| *upper *= 100.0);
        for gaps in self.work.relaxation.caps.iter().map(|cap| cap.gaps.clone()).collect::<Vec<_>>() {
            self.work.relaxation.upper[gaps].iter_mut().for_each(|upper| *upper *= 100.0);
        }
        let mut root = Node::root(self.instance.blend, &self.work.relaxation)?;
        let [least, most] = d;
        let d_ref = self.work.relaxation.d_ref;
        let scaled = |bound: &BoundOnD| bound.at / d_ref;
        root.span =
            (least.as_ref().map_or(0.0, scaled), most.as_ref().map_or(greatest_d(self.instance.blend) / d_ref, scaled));
        Some(root)
    }

    /// Writes the tree of a blend with a ladder: rung by rung, where the relaxation
    /// of several does not close them together.
    fn write_rungs(
        &mut self,
        blend: &Blend,
        ladder: &Ladder,
        purpose: Purpose,
        d: &[Option<BoundOnD>; 2],
        writer: &mut CertificateWriter,
    ) -> Option<()> {
        let mut open = vec![(0, ladder.top())];
        while let Some(rungs) = open.pop() {
            let mut part = blend.on_rungs(rungs);
            for row in &mut part.rows[blend.rows.len()..] {
                row.upper = bound_of_row(blend, row)?;
            }
            let kinds = ladder.rows(rungs).into_iter().enumerate();
            writer.on_rungs(kinds.filter_map(|(kind, row)| row.map(|_| kind)).collect());
            let relaxation = Relaxation::new(&part, &mut Scratch::default());
            let relaxation = relaxation.or_else(|_| Relaxation::of_nothing(&part)).ok()?;
            let instance = Instance::new(&part, &|_| None, 0.0, self.instance.control);
            let mut search = BranchAndBound::over(instance, relaxation);
            search.counters.nodes = self.counters.nodes;
            let written = search.write_part(rungs, ladder, purpose, d, writer);
            self.counters.nodes = search.counters.nodes;
            if let Some(at) = written? {
                open.extend([(at + 1, rungs.1), (rungs.0, at)]);
            }
        }
        Some(())
    }

    /// Writes the tree of some rungs, or where they are split.
    fn write_part(
        &mut self,
        rungs: (usize, usize),
        ladder: &Ladder,
        purpose: Purpose,
        d: &[Option<BoundOnD>; 2],
        writer: &mut CertificateWriter,
    ) -> Option<Option<usize>> {
        let mut root = self.aimed(purpose, d)?;
        if rungs.0 == rungs.1 {
            return self.write_down(root, purpose, writer).map(|()| None);
        }
        if self.is_over() {
            return None;
        }
        self.counters.nodes += 1;
        let is_any = self.instance.grid.complete(&mut root) && root.close_count(&self.work.relaxation);
        if !is_any && writer.line(Entry::Empty) {
            return Some(None);
        }
        let Some(bounded) = self.bound_part(&mut root, purpose.objective_and_room(), writer) else {
            return Some(None);
        };
        let is_sound = is_any && bounded.ended == Ended::Optimal;
        let ppt = |k: usize| root.dose_ppt(k, &self.work.relaxation).max(0.0);
        let point: Vec<f64> = (0..self.instance.blend.columns.len()).map(ppt).collect();
        let at = ladder.split(rungs, is_sound.then_some(&point));
        writer.line(Entry::SplitLadder(at)).then_some(Some(at))
    }

    /// Multipliers that bound D, from below for a `sign` of 1 and from above for
    /// -1.
    fn multipliers_of_d(&mut self, sign: f64) -> Option<Multipliers> {
        let costs = self.work.relaxation.lp.cost.clone();
        let relaxation = &mut self.work.relaxation;
        relaxation.lp.cost.fill(0.0);
        relaxation.lp.cost[relaxation.d] = sign;
        let mut state = relaxation.start()?;
        let mut all: Vec<(usize, f64, f64)> = (0..relaxation.n).map(|k| (k, 0.0, relaxation.most[k])).collect();
        // The multipliers alone bound it.
        all.push((relaxation.d, 0.0, 10.0 * relaxation.upper[relaxation.d]));
        state.change_bounds(&relaxation.lp, &all, &mut self.work.scratch);
        let ended = state.run(&relaxation.lp, f64::INFINITY, 2000 + 20 * relaxation.lp.rows, &mut self.work.scratch);
        let rows = relaxation.one_way(&state.multipliers, 0.0);
        let by = Multipliers { d: 0.0, ..relaxation.multipliers(&rows, 0.0) };
        self.work.relaxation.lp.cost = costs;
        (ended == Ended::Optimal).then_some(by)
    }

    /// Writes the tree below a node, in order. `None` where it cannot be closed.
    fn write_down(&mut self, root: Node, purpose: Purpose, writer: &mut CertificateWriter) -> Option<()> {
        // A part that a decision has left empty has no node.
        let mut open = vec![Some(root)];
        while let Some(part) = open.pop() {
            let Some(mut node) = part else {
                if !writer.line(Entry::Empty) {
                    return None;
                }
                continue;
            };
            if self.is_over() {
                return None;
            }
            self.counters.nodes += 1;
            let split = match self.settle_part(&mut node, purpose, writer)? {
                Settled::Closed => continue,
                Settled::Open(split) => split,
            };
            if !writer.line(self.line(&split)) {
                return None;
            }
            let [less, more] = self.children(node, split);
            open.extend([more, less]);
        }
        Some(())
    }

    /// The line of a split.
    fn line(&self, split: &Split) -> Entry {
        let relaxation = &self.work.relaxation;
        match *split {
            Split::Dose(branch) => Entry::Split(branch.material, said(branch.less), said(branch.more)),
            Split::Remainder(index, below) => {
                Entry::SplitRemainder(index, below, below + relaxation.remainders[index].remainder.step)
            }
            Split::Span(middle) => Entry::SplitD(middle * relaxation.d_ref),
        }
    }
}

fn said(decision: Decision) -> Said {
    match decision {
        Decision::Out => Said::Out,
        Decision::In(least) => Said::In(least),
        Decision::AtMost(most) => Said::AtMost(most),
    }
}
