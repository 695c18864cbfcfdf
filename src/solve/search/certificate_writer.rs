//! The lines of a certificate that are written so far. Each is checked as it is
//! written, by the very check that whoever reads it will make: what the search
//! knows in doubles is no reason for a line, only for trying one.

use crate::certificate::{Certificate, Change, Entry, Multipliers, Walk, shortened};
use crate::model::Blend;

/// Significant digits of multipliers: few where that is enough.
const DIGITS: [usize; 2] = [9, 17];

/// Lines that pass.
pub struct CertificateWriter<'a> {
    walk: Walk<'a>,
    entries: Vec<Entry>,
    /// How many rows of rules the model has, and which row of rungs each row
    /// beyond them is.
    rules: usize,
    beyond: Vec<usize>,
}

impl<'a> CertificateWriter<'a> {
    /// No line yet below a head. `None` where the head proves less than it says.
    pub fn new(head: &'a Certificate, blend: &'a Blend) -> Option<CertificateWriter<'a>> {
        let walk = Walk::new(head, blend).ok()?;
        Some(CertificateWriter { walk, entries: Vec::new(), rules: blend.rows.len(), beyond: Vec::new() })
    }

    /// Goes on with a part of the ladder, whose rows (by kind) stand behind those
    /// of the rules in what multipliers are given for.
    pub fn on_rungs(&mut self, rows: Vec<usize>) {
        self.beyond = rows;
    }

    /// Multipliers of a blend on some rungs as those of the model.
    fn of_model(&self, by: &Multipliers) -> Multipliers {
        let mut by = by.clone();
        let beyond = by.rules.iter().position(|(row, _)| *row >= self.rules).unwrap_or(by.rules.len());
        let rungs = by.rules.split_off(beyond);
        by.rungs = rungs.into_iter().map(|(row, value)| (self.beyond[row - self.rules], value)).collect();
        by
    }

    /// All lines, `None` where some are missing.
    pub fn finished(self) -> Option<Vec<Entry>> {
        self.walk.is_complete().then_some(self.entries)
    }

    /// Writes a line if it passes.
    pub fn line(&mut self, entry: Entry) -> bool {
        let passes = self.walk.follow(&entry).is_ok();
        if passes {
            self.entries.push(entry);
        }
        passes
    }

    /// Closes a part if the multipliers do.
    pub fn closed(&mut self, by: &Multipliers) -> bool {
        let by = self.of_model(by);
        DIGITS.iter().any(|&digits| self.line(Entry::Closed(shortened(&by, digits))))
    }

    /// Narrows a part by its multipliers, as far as they do: returns the changes
    /// that were written.
    pub fn narrowed(&mut self, by: &Multipliers, changes: &[Change]) -> Vec<Change> {
        let by = &self.of_model(by);
        let mut tries = DIGITS.iter().map(|&digits| shortened(by, digits));
        if tries.any(|by| self.line(Entry::Narrowed(by, changes.to_vec()))) {
            return changes.to_vec();
        }
        let by = shortened(by, DIGITS[1]);
        self.one_by_one(changes, |change| Entry::Narrowed(by.clone(), vec![change]))
    }

    /// Narrows a part by the sum of 1000, likewise.
    pub fn on_grid(&mut self, changes: &[Change]) -> Vec<Change> {
        if self.line(Entry::OnGrid(changes.to_vec())) {
            return changes.to_vec();
        }
        self.one_by_one(changes, |change| Entry::OnGrid(vec![change]))
    }

    fn one_by_one(&mut self, changes: &[Change], line: impl Fn(Change) -> Entry) -> Vec<Change> {
        changes.iter().copied().filter(|&change| self.line(line(change))).collect()
    }
}
