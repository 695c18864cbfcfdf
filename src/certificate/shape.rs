//! Whether a certificate is of the shape that the format asks for: every index
//! names something, every list rises and so repeats nothing, every number is
//! finite and of an ordinary size. The check relies on it, whoever made the
//! certificate, be it from a text or not.

use super::rungs::KINDS;
use super::{BoundOnD, CapMultipliers, Certificate, Change, Claim, Entry, Fault, Multipliers, Remainder, Said};
use crate::model::{Blend, Ladder};
use crate::units::Ppt;

/// Numbers other than 0 are of a size from this ...
pub(super) const SMALLEST: f64 = 1e-60;
/// ... to this.
pub(super) const LARGEST: f64 = 1e60;
/// More remainders than this are refused.
pub(super) const MOST_REMAINDERS: usize = 16;
/// More lines of a tree than this are refused.
pub(super) const MOST_ENTRIES: usize = 1 << 21;

/// Whether a number is 0, or finite and of an ordinary size.
pub(super) fn is_ordinary(value: f64) -> bool {
    value == 0.0 || (SMALLEST..=LARGEST).contains(&value.abs())
}

/// The multipliers that the format has a place for; the others count as 0, as
/// any multipliers may.
pub(super) fn ordinary(by: Multipliers) -> Multipliers {
    let keep = |entries: Vec<(usize, f64)>, has_sign: bool| -> Vec<(usize, f64)> {
        let is_kept = |&(_, value): &(usize, f64)| value != 0.0 && is_ordinary(value) && (value > 0.0 || !has_sign);
        entries.into_iter().filter(is_kept).collect()
    };
    let number = |value: f64| if is_ordinary(value) { value } else { 0.0 };
    Multipliers {
        objective: by.objective,
        sum: number(by.sum),
        d: number(by.d),
        targets: keep(by.targets, false),
        rules: keep(by.rules, true),
        counts: keep(by.counts, true),
        remainders: keep(by.remainders, false),
        rungs: keep(by.rungs, true),
        caps: by
            .caps
            .into_iter()
            .filter(|of| of.most > 0.0 && is_ordinary(of.most))
            .map(|of| CapMultipliers { targets: keep(of.targets, false), ..of })
            .collect(),
    }
}

/// Multipliers of so many significant digits, without those that the format has
/// no place for: any multipliers are valid, and a few digits mostly prove as
/// much.
pub fn shortened(by: &Multipliers, digits: usize) -> Multipliers {
    let short = |value: f64| format!("{value:.*e}", digits.saturating_sub(1)).parse().unwrap_or(value);
    let all = |entries: &[(usize, f64)]| entries.iter().map(|&(index, value)| (index, short(value))).collect();
    ordinary(Multipliers {
        objective: by.objective,
        sum: short(by.sum),
        d: short(by.d),
        targets: all(&by.targets),
        rules: all(&by.rules),
        counts: all(&by.counts),
        remainders: all(&by.remainders),
        rungs: all(&by.rungs),
        caps: by
            .caps
            .iter()
            .map(|of| CapMultipliers { cap: of.cap, most: short(of.most), targets: all(&of.targets) })
            .collect(),
    })
}

/// # Errors
/// The first thing that is not as it should be.
pub(super) fn check(certificate: &Certificate, blend: &Blend, names: &[String]) -> Result<(), Fault> {
    check_head(certificate, blend, names)?;
    if certificate.entries.len() > MOST_ENTRIES {
        return Err(Fault::TooLarge);
    }
    match certificate.entries.iter().position(|entry| !fits(entry, certificate, blend)) {
        Some(index) => Err(Fault::Unknown(index + 1)),
        None => Ok(()),
    }
}

/// The same of what stands above the tree.
pub(super) fn check_head(certificate: &Certificate, blend: &Blend, names: &[String]) -> Result<(), Fault> {
    if certificate.columns != names || names.len() != blend.columns.len() {
        return Err(Fault::OtherColumns);
    }
    if let Claim::NoneBelow(loss) = certificate.claim
        && !(loss >= 0.0 && is_ordinary(loss))
    {
        return Err(Fault::Claim);
    }
    let sizes = Sizes::of(certificate, blend);
    if certificate.remainders.len() > MOST_REMAINDERS {
        return Err(Fault::TooLarge);
    }
    for (index, remainder) in certificate.remainders.iter().enumerate() {
        if !is_remainder(remainder, blend) {
            return Err(Fault::Remainder(index));
        }
    }
    for (bound, which) in certificate.d.iter().zip(["least", "greatest"]) {
        if let Some(BoundOnD { at, by }) = bound
            && !(*at >= 0.0 && is_ordinary(*at) && sizes.fit(by) && by.objective == 0.0 && by.d == 0.0)
        {
            return Err(Fault::D(which));
        }
    }
    Ok(())
}

/// Whether a line is of the shape that it must have below the head of a
/// certificate.
pub(super) fn fits(entry: &Entry, head: &Certificate, blend: &Blend) -> bool {
    let sizes = Sizes::of(head, blend);
    let is_of_nothing = head.claim == Claim::None;
    match entry {
        Entry::Closed(by) => sizes.fit(by) && !(is_of_nothing && by.objective != 0.0),
        Entry::Narrowed(by, changes) => sizes.fit(by) && !(is_of_nothing && by.objective != 0.0) && sizes.rise(changes),
        Entry::OnGrid(changes) => sizes.rise(changes),
        Entry::Split(k, less, more) => *k < sizes.columns && is_dose_said(*less) && is_dose_said(*more),
        Entry::SplitRemainder(index, most, least) => {
            *index < sizes.remainders && [most, least].iter().all(|sum| (-Ppt::WHOLE..=Ppt::WHOLE).contains(sum))
        }
        Entry::SplitD(at) => *at > 0.0 && is_ordinary(*at),
        Entry::SplitLadder(at) => *at < sizes.top,
        Entry::Empty => true,
    }
}

/// Whether the listed columns are all that need not keep the step.
///
/// Theorem: then all other doses are multiples of the step (0, or from a least
/// one that is, in steps that are), and those listed add up to 1000 less one.
fn is_remainder(remainder: &Remainder, blend: &Blend) -> bool {
    let step = remainder.step.units();
    let keeps = |k: usize| {
        let column = &blend.columns[k];
        let on = |dose: Ppt| dose.units() % step == 0;
        on(column.least) && (column.least == column.most || !column.step.is_zero() && on(column.step))
    };
    let rises = remainder.columns.windows(2).all(|pair| pair[0] < pair[1]);
    let all = blend.columns.len();
    (1..=Ppt::WHOLE.units()).contains(&step)
        && !remainder.columns.is_empty()
        && rises
        && remainder.columns.iter().all(|&k| k < all)
        && (0..all).all(|k| remainder.columns.binary_search(&k).is_ok() || keeps(k))
}

/// How many there are of what multipliers and changes name.
struct Sizes {
    columns: usize,
    targets: usize,
    rules: usize,
    counts: usize,
    remainders: usize,
    /// The highest rung.
    top: usize,
    /// The targets of each cap.
    caps: Vec<usize>,
}

impl Sizes {
    fn of(certificate: &Certificate, blend: &Blend) -> Sizes {
        Sizes {
            columns: blend.columns.len(),
            targets: blend.targets.len(),
            rules: blend.rows.len(),
            counts: blend.counts.len(),
            remainders: certificate.remainders.len(),
            top: blend.ladder.as_ref().map_or(0, Ladder::top),
            caps: blend.caps.iter().map(|cap| cap.targets.len()).collect(),
        }
    }

    /// Whether multipliers are those of what there is, each once, of ordinary
    /// size, and those of rows, counts and caps above 0.
    fn fit(&self, by: &Multipliers) -> bool {
        let below = |entries: &[(usize, f64)], number: usize, has_sign: bool| {
            entries.iter().all(|&(index, value)| {
                index < number && value != 0.0 && is_ordinary(value) && (value > 0.0 || !has_sign)
            }) && entries.windows(2).all(|pair| pair[0].0 < pair[1].0)
        };
        (by.objective == 0.0 || by.objective == 1.0)
            && is_ordinary(by.sum)
            && is_ordinary(by.d)
            && below(&by.targets, self.targets, false)
            && below(&by.rules, self.rules, true)
            && below(&by.counts, self.counts, true)
            && below(&by.remainders, self.remainders, false)
            && below(&by.rungs, if self.top > 0 { KINDS } else { 0 }, true)
            && by.caps.windows(2).all(|pair| pair[0].cap < pair[1].cap)
            && by.caps.iter().all(|of| {
                let fits = |targets| below(&of.targets, targets, false);
                self.caps.get(of.cap).is_some_and(|targets| fits(*targets)) && of.most > 0.0 && is_ordinary(of.most)
            })
    }

    /// Whether changes are of columns that there are, and rise.
    fn rise(&self, changes: &[Change]) -> bool {
        let rank = |said: Said| match said {
            Said::Out => 0,
            Said::In(_) => 1,
            Said::AtLeast(_) => 2,
            Said::AtMost(_) => 3,
        };
        let key = |&(k, said): &Change| (k, rank(said));
        !changes.is_empty()
            && changes.iter().all(|&(k, said)| k < self.columns && is_dose_said(said))
            && changes.windows(2).all(|pair| key(&pair[0]) < key(&pair[1]))
    }
}

fn is_dose_said(said: Said) -> bool {
    match said {
        Said::Out => true,
        Said::In(dose) | Said::AtLeast(dose) | Said::AtMost(dose) => (Ppt::ZERO..=Ppt::WHOLE).contains(&dose),
    }
}
