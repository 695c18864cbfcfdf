//! Checking a certificate, as if an enemy had written it: exact arithmetic, and
//! nothing believed that was not shown. Nothing here searches, and nothing is
//! shared with what does. profiles/CERTIFICATE.md has the format, with the
//! theorem that each line rests on.

use super::exact::Exact;
use super::reading::{Aim, Model};
use super::rungs::Rungs;
use super::state::{Part, Span, above, grid_of};
use super::views::claimed;
use super::{BoundOnD, Certificate, Claim, Entry, Multipliers, shape};
use crate::model::Blend;
use crate::units::Ppt;

/// Why a certificate proves nothing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// A number of the brief's model is not one that proofs can speak of.
    #[error("the brief has numbers that no proof can speak of")]
    Model,
    /// It is about other materials.
    #[error("it is about other materials, or the same in another order")]
    OtherColumns,
    /// The claim is about no loss.
    #[error("what it claims is no loss")]
    Claim,
    /// A line of the wrong shape.
    #[error("line {0} of its tree speaks of something that the brief does not have, or twice of the same")]
    Unknown(usize),
    /// A remainder that is not all that keeps no step.
    #[error("remainder {0} is not, each once, every material that does not keep its step")]
    Remainder(usize),
    /// A bound on D is not proven.
    #[error("its multipliers do not prove the {0} D")]
    D(&'static str),
    /// Multipliers do not prove what they should.
    #[error("the multipliers in line {0} of its tree do not prove what they should")]
    Multipliers(usize),
    /// Doses that are left out could complete the sum.
    #[error("line {0} of its tree leaves out doses that can complete a sum of 1000")]
    Grid(usize),
    /// A part that is called empty is not.
    #[error("line {0} of its tree calls a part empty that is not")]
    NotEmpty(usize),
    /// The two sides of a split leave something out.
    #[error("the sides of the split in line {0} of its tree leave something out")]
    Gap(usize),
    /// The tree ends early.
    #[error("its tree is not complete")]
    Incomplete,
    /// The tree is complete before its last line.
    #[error("line {0} of its tree comes after the end")]
    AfterEnd(usize),
    /// It is larger than what is read.
    #[error("it is too large to be checked")]
    TooLarge,
}

/// Bounds on D that cross each other are taken further out by themselves times
/// two to the minus this.
const CROSSED: i32 = 30;

/// Parts that wait for their turn, times columns: about 100 MB.
const MOST_WAITING: usize = 1 << 22;

/// Checks that a certificate proves its claim of a blend with these column
/// names, in all its views. Returns the number of parts that were closed.
///
/// # Errors
/// The first [`Fault`].
pub fn check(certificate: &Certificate, blend: &Blend, names: &[String]) -> Result<usize, Fault> {
    let blend = &claimed(certificate.claim, blend);
    shape::check(certificate, blend, names)?;
    let mut walk = Walk::start(certificate, blend)?;
    certificate.entries.iter().try_for_each(|entry| walk.follow(entry))?;
    if walk.is_complete() { Ok(walk.closed) } else { Err(Fault::Incomplete) }
}

/// A tree that is followed line by line: by the check, and by whoever writes
/// one, so that no line is written that would be refused.
pub struct Walk<'a> {
    checker: Checker<'a>,
    /// Parts that wait for their turn, the next one last.
    open: Vec<Part>,
    lines: usize,
    closed: usize,
}

impl<'a> Walk<'a> {
    /// Before the first line of a certificate whose lines are still to be
    /// written: its own are not looked at.
    ///
    /// # Errors
    /// The first [`Fault`] of what stands above the tree.
    pub fn new(head: &'a Certificate, blend: &'a Blend) -> Result<Walk<'a>, Fault> {
        shape::check_head(head, blend, &head.columns)?;
        Walk::start(head, blend)
    }

    fn start(certificate: &'a Certificate, blend: &'a Blend) -> Result<Walk<'a>, Fault> {
        let checker = Checker::new(certificate, blend)?;
        Ok(Walk { open: vec![checker.whole()?], checker, lines: 0, closed: 0 })
    }

    /// Checks the next line and does as it says. One that is refused changes
    /// nothing: another may take its place.
    ///
    /// # Errors
    /// Why the line proves nothing.
    pub fn follow(&mut self, entry: &Entry) -> Result<(), Fault> {
        let (line, blend) = (self.lines + 1, self.checker.blend);
        let part = self.open.last_mut().ok_or(Fault::AfterEnd(line))?;
        if !shape::fits(entry, self.checker.certificate, blend) {
            return Err(Fault::Unknown(line));
        }
        part.settle(blend);
        let next = self.checker.follow(entry, part, line)?;
        let waiting = self.open.len() + usize::from(matches!(next, Next::Two(..)));
        if line > shape::MOST_ENTRIES || waiting.saturating_mul(blend.columns.len()) > MOST_WAITING {
            return Err(Fault::TooLarge);
        }
        self.open.pop();
        match next {
            Next::Done => self.closed += 1,
            Next::One(part) => self.open.push(part),
            Next::Two(first, second) => self.open.extend([second, first]),
        }
        self.lines = line;
        Ok(())
    }

    /// Whether every part is closed.
    pub fn is_complete(&self) -> bool {
        self.open.is_empty()
    }
}

/// A bound on D that multipliers prove: a lower one for a `sign` of 1, an upper
/// one for -1. `None` where they prove none, or are not of the shape that a
/// certificate must have.
pub fn bound_on_d(certificate: &Certificate, blend: &Blend, by: Multipliers, sign: i64) -> Option<BoundOnD> {
    let checker = Checker::new(certificate, blend).ok()?;
    let by = shape::ordinary(by);
    let reading = checker.model.read(&checker.before_bounds(), &certificate.remainders, &by, Aim::D(sign))?;
    let at = sign as f64 * reading.total()?.quotient_down(Ppt::UNITS)?;
    (at > 0.0 && shape::is_ordinary(at)).then_some(BoundOnD { at, by })
}

/// What a line leaves to be said.
enum Next {
    /// Nothing: the part holds no formula of interest.
    Done,
    /// The same part, narrowed.
    One(Part),
    /// Two parts, the first of which is next.
    Two(Part, Part),
}

struct Checker<'a> {
    blend: &'a Blend,
    certificate: &'a Certificate,
    model: Model,
    rungs: Rungs,
}

impl<'a> Checker<'a> {
    fn new(certificate: &'a Certificate, blend: &'a Blend) -> Result<Checker<'a>, Fault> {
        let rungs = Rungs::all(blend).ok_or(Fault::Model)?;
        Ok(Checker { blend, certificate, model: Model::new(blend)?, rungs })
    }
}

impl Checker<'_> {
    /// All formulas, before anything is known of D but that doses are not
    /// negative and add up to 1000.
    fn before_bounds(&self) -> Part {
        let d = Span::new(Exact::zero(), self.model.greatest_d(), &self.model.weights);
        Part::whole(self.blend, &self.certificate.remainders, d, self.rungs.clone())
    }

    /// All formulas, with D where its bounds are proven.
    ///
    /// Theorem: the total of `reading` with D in the place of the loss is at most
    /// D (or -D) of every formula.
    fn whole(&self) -> Result<Part, Fault> {
        let mut whole = self.before_bounds();
        let (mut least, mut most) = (whole.d.least.clone(), whole.d.most.clone());
        for ((bound, which), sign) in self.certificate.d.iter().zip(["least", "greatest"]).zip([1, -1]) {
            let Some(BoundOnD { at, by }) = bound else { continue };
            let at = Exact::of(*at).ok_or(Fault::D(which))?;
            let claimed = at.times(&Exact::whole(sign * Ppt::UNITS));
            let reading = self.model.read(&whole, &self.certificate.remainders, by, Aim::D(sign));
            let proven = reading.is_some_and(|reading| reading.total().is_none_or(|total| *total >= claimed));
            if !proven {
                return Err(Fault::D(which));
            }
            if sign > 0 { least = at } else { most = at }
        }
        if least > most {
            // Crossed by rounding alone they say nothing: a part is void for a
            // difference that no rounding makes.
            least.subtract(least.clone().shifted(-CROSSED));
            most.add(most.clone().shifted(-CROSSED));
        }
        whole.d = Span::new(least, most, &self.model.weights);
        Ok(whole)
    }

    /// Checks what a line says of a part that is settled, and does as it says.
    /// A void part holds no formula: of it everything is true.
    fn follow(&self, entry: &Entry, part: &Part, line: usize) -> Result<Next, Fault> {
        let blend = self.blend;
        Ok(match entry {
            Entry::Closed(by) => {
                // `reading` has the theorem.
                if !part.is_void && !self.read(part, by).is_some_and(|reading| reading.proves()) {
                    return Err(Fault::Multipliers(line));
                }
                Next::Done
            }
            Entry::Empty => {
                // D > 0 needs a column that smells; the sum is in `Part::takes_none`.
                let contradicts = blend.contradiction.is_some();
                if !(part.is_void || contradicts || !part.may_smell(blend) || part.has_no_sum(blend)) {
                    return Err(Fault::NotEmpty(line));
                }
                Next::Done
            }
            Entry::Narrowed(by, changes) => {
                // A formula that does not go on has, in some column, a dose that
                // a change leaves out; of those parts it is shown that they hold
                // none of interest, each against the part before all changes.
                let reading = self.read(part, by).ok_or(Fault::Multipliers(line))?;
                let mut narrowed = part.clone();
                for &(k, said) in changes {
                    let left_out = part.doses[k].left_out(said, grid_of(&blend.columns[k]));
                    let proven = left_out.is_none_or(|doses| reading.proves_with(part, k, doses));
                    if !proven && !part.is_void {
                        return Err(Fault::Multipliers(line));
                    }
                    narrowed.apply(blend, (k, said));
                }
                Next::One(narrowed)
            }
            Entry::OnGrid(changes) => {
                // Likewise: no formula has such a dose.
                let sums = part.sums(blend);
                let mut narrowed = part.clone();
                for &(k, said) in changes {
                    let left_out = part.doses[k].left_out(said, grid_of(&blend.columns[k]));
                    let proven = left_out.is_none_or(|doses| part.takes_none(blend, &sums, k, doses));
                    if !proven && !part.is_void {
                        return Err(Fault::Grid(line));
                    }
                    narrowed.apply(blend, (k, said));
                }
                Next::One(narrowed)
            }
            &Entry::Split(k, less, more) => {
                // Every dose is in one side or in both.
                let grid = grid_of(&blend.columns[k]);
                let left = part.doses[k].left_out(less, grid).and_then(|doses| doses.left_out(more, grid));
                if left.is_some() && !part.is_void {
                    return Err(Fault::Gap(line));
                }
                let (mut first, mut second) = (part.clone(), part.clone());
                first.apply(blend, (k, less));
                second.apply(blend, (k, more));
                Next::Two(first, second)
            }
            &Entry::SplitRemainder(index, most, least) => {
                // The sum is 1000 less a multiple of the step (`shape`), so that
                // nothing lies between one such sum and the next.
                let step = self.certificate.remainders[index].step;
                let next = above(most - Ppt::WHOLE, step) + Ppt::WHOLE;
                if least > next && !part.is_void {
                    return Err(Fault::Gap(line));
                }
                let (mut first, mut second) = (part.clone(), part.clone());
                first.remainders[index].1 = first.remainders[index].1.min(most);
                second.remainders[index].0 = second.remainders[index].0.max(least);
                Next::Two(first, second)
            }
            Entry::SplitD(at) => {
                // Both sides have `at` itself.
                let at = Exact::of(*at).ok_or(Fault::Unknown(line))?;
                let (mut first, mut second) = (part.clone(), part.clone());
                if at < first.d.most {
                    first.d = Span::new(first.d.least, at.clone(), &self.model.weights);
                }
                if at > second.d.least {
                    second.d.least = at;
                }
                Next::Two(first, second)
            }
            &Entry::SplitLadder(at) => {
                // Every formula stands on one rung.
                let (mut first, mut second) = (part.clone(), part.clone());
                first.rungs = part.rungs.up_to(blend, at).ok_or(Fault::Model)?;
                second.rungs = part.rungs.from(blend, at + 1).ok_or(Fault::Model)?;
                Next::Two(first, second)
            }
        })
    }

    fn read(&self, part: &Part, by: &Multipliers) -> Option<super::reading::Reading> {
        let lambda = match self.certificate.claim {
            Claim::NoneBelow(loss) => Some(Exact::of(loss)?),
            Claim::None => None,
        };
        let aim = lambda.as_ref().map_or(Aim::Nothing, Aim::Loss);
        self.model.read(part, &self.certificate.remainders, by, aim)
    }
}
