//! The report of `strengths`.

use serde::Serialize;

use crate::analysis::strengths::ties::Tie;
use crate::analysis::strengths::{Compared, Judged, Strengths};
use crate::files::Edit;
use crate::matches::{Dilution, GIVE_OR_TAKE_FACTOR, Matches, Pair, Verdict};
use crate::palette::{Material, Palette};
use crate::portable::Portable;
use crate::sentences::said::said;

/// Two-sided 95 % of a normal distribution, in standard deviations.
const WIDE: f64 = 1.959_963_984_540_054;
/// Changes of a strength smaller than this part of it are not written.
const NOTHING: f64 = 1e-6;

/// Strengths from matches.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StrengthsReport {
    /// Version of the JSON.
    pub schema: u32,
    /// `strengths`.
    pub command: &'static str,
    /// The palette's file.
    pub palette: String,
    /// What the shelf is called.
    pub name: Option<String>,
    /// The file of the matches.
    pub matches: String,
    /// The material that keeps its strength.
    pub reference: String,
    /// Intensity goes with (strength x percent) to this power.
    pub exponent: f64,
    /// How much weaker a dilution to a tenth smells: a factor.
    pub tenfold: f64,
    /// One standard deviation of a match that says nothing else, as a factor
    /// of dilution.
    pub give_or_take_factor: f64,
    /// The materials, the most changed first.
    pub materials: Vec<StrengthLine>,
    /// The pairs, those that agree worst first.
    pub pairs: Vec<PairLine>,
    /// Materials that no chain of pairs ties to the reference.
    pub untied: Vec<String>,
    /// Materials that only pairs of which one was stronger tie to it.
    pub tied_by_order: Vec<String>,
    /// How much equal pairs scatter, in units of what was said of their errors.
    pub scatter: Option<f64>,
    /// Whether the arithmetic came to rest.
    pub settled: bool,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The strength of one material.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StrengthLine {
    /// The material.
    pub material: String,
    /// The palette's strength.
    pub before: f64,
    /// What that rests on where it is no number, as in `shelf`; left out where it is
    /// one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before_said: Option<String>,
    /// One standard deviation of it, as a factor.
    pub before_factor: f64,
    /// The strength that palette and matches say together.
    pub after: f64,
    /// One standard deviation of it, as a factor.
    pub factor: f64,
    /// It lies between this...
    pub low: f64,
    /// ...and this with 95 %.
    pub high: f64,
    /// After over before.
    pub ratio: f64,
    /// `equal`, `order` or `none`: how it hangs together with the reference.
    pub tie: Tie,
    /// In how many pairs it is.
    pub count: usize,
    /// Whether it keeps its strength.
    pub held: bool,
}

/// One pair.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PairLine {
    /// `equal` or `stronger`.
    pub verdict: Verdict,
    /// The first.
    pub a: DilutionLine,
    /// The second.
    pub b: DilutionLine,
    /// The line of the file.
    pub line: usize,
    /// How many times as strong the first would be as the second, by the
    /// strengths that were found, in dilution.
    pub times: f64,
    /// One standard deviation of the pair, as a factor of dilution.
    pub pair_factor: f64,
    /// The logarithm of `times` in units of that.
    pub residual: f64,
    /// How many times as strong the first is by all other pairs.
    pub others_say: f64,
    /// How far the pair is from that, in standard deviations of both.
    pub apart: f64,
    /// Whether it contradicts the others.
    pub contradicts: bool,
}

/// A material as it was smelled.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DilutionLine {
    /// The material.
    pub material: String,
    /// Percent of neat material.
    pub percent: f64,
}

impl StrengthsReport {
    /// What came of matches.
    pub fn new(palette: &Palette, matches: &Matches, found: &Strengths, warnings: Vec<String>) -> StrengthsReport {
        let name = |index: usize| palette.materials[index].name.clone();
        let mut materials: Vec<StrengthLine> = found
            .materials
            .iter()
            .map(|judged| StrengthLine::new(&palette.materials[judged.material], judged))
            .collect();
        let moved = |line: &StrengthLine| line.ratio.logarithm().abs();
        materials.sort_by(|a, b| a.held.cmp(&b.held).then(moved(b).total_cmp(&moved(a))));
        let mut pairs: Vec<PairLine> = matches
            .pairs
            .iter()
            .zip(&found.pairs)
            .map(|(pair, compared)| PairLine::new(palette, pair, compared))
            .collect();
        pairs.sort_by(|a, b| b.apart.abs().total_cmp(&a.apart.abs()));
        let with = |tie: Tie| {
            let those = found.materials.iter().filter(|judged| judged.tie == tie);
            those.map(|judged| name(judged.material)).collect()
        };
        let factor = matches.give_or_take_factor;
        StrengthsReport {
            schema: super::head::SCHEMA,
            command: "strengths",
            palette: palette.file.to_string(),
            name: palette.name.clone(),
            matches: matches.file.to_string(),
            reference: name(matches.reference),
            exponent: matches.exponent,
            tenfold: matches.tenfold(),
            give_or_take_factor: factor.unwrap_or_else(|| GIVE_OR_TAKE_FACTOR.power(1.0 / matches.exponent)),
            materials,
            pairs,
            untied: with(Tie::None),
            tied_by_order: with(Tie::Order),
            scatter: found.scatter,
            settled: found.settled,
            warnings,
        }
    }

    /// What a palette has to change: strengths to four digits, factors to
    /// three.
    pub fn edits(&self) -> Vec<Edit> {
        let digits = |value: f64, digits: usize| format!("{value:.*e}", digits - 1).parse().unwrap_or(value);
        let is_new = |line: &&StrengthLine| {
            !line.held && (moved(line.ratio) || moved(line.factor.logarithm() / line.before_factor.logarithm()))
        };
        let edit = |line: &StrengthLine| Edit {
            material: line.material.clone(),
            strength: Some(digits(line.after, 4).clamp(1e-6, 1e6)),
            strength_factor: Some(digits(line.factor, 3).max(1.0)),
        };
        self.materials.iter().filter(is_new).map(edit).collect()
    }
}

/// Whether a ratio is more than rounding away from 1.
fn moved(ratio: f64) -> bool {
    (ratio - 1.0).abs() > NOTHING
}

impl StrengthLine {
    fn new(material: &Material, judged: &Judged) -> StrengthLine {
        StrengthLine {
            material: material.name.clone(),
            before: judged.before,
            before_said: said(material),
            before_factor: judged.before_deviation.exponential(),
            after: judged.after,
            factor: judged.deviation.exponential(),
            low: judged.after * (-WIDE * judged.deviation).exponential(),
            high: judged.after * (WIDE * judged.deviation).exponential(),
            ratio: judged.after / judged.before,
            tie: judged.tie,
            count: judged.pairs,
            held: judged.held,
        }
    }

    /// Where it lay with 95 % before the matches.
    pub fn before_range(&self) -> (f64, f64) {
        let wide = self.before_factor.power(WIDE);
        (self.before / wide, self.before * wide)
    }
}

impl PairLine {
    fn new(palette: &Palette, pair: &Pair, compared: &Compared) -> PairLine {
        let side =
            |it: &Dilution| DilutionLine { material: palette.materials[it.material].name.clone(), percent: it.percent };
        PairLine {
            verdict: pair.verdict,
            a: side(&pair.a),
            b: side(&pair.b),
            line: pair.place.line,
            times: compared.distance.exponential(),
            pair_factor: compared.error.exponential(),
            residual: compared.residual,
            others_say: compared.others.exponential(),
            apart: compared.apart,
            contradicts: compared.contradicts,
        }
    }
}
