//! Published compositions of naturals beside a palette.

use serde::Serialize;

use crate::analysis::learn::{Alone, Kind, Moved, Odds, Why};
use crate::palette::Palette;
use crate::sentences::compositions as sentences;
use crate::trials::Trials;

/// A natural that was smelled and whose composition is known, beside what the
/// palette makes of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompositionLine {
    /// The trial's code.
    pub code: String,
    /// The file of the composition.
    pub composition: String,
    /// Its title, and where it was published.
    pub title: Option<String>,
    /// Where it was published.
    pub source: Option<String>,
    /// Percent by mass that nobody identified.
    pub unknown_percent: f64,
    /// Percent by mass of which it is not known what it smells of: what nobody
    /// identified, and what the shelf lacks unless its strength is given as 0.
    pub open_percent: f64,
    /// Names of such parts.
    pub lacking: Vec<String>,
    /// Why it could not be held against the palette, as in `aside` of `learn`; null
    /// where it could.
    pub why_not: Option<Why>,
    /// What came of it; null where nothing did.
    pub beside: Option<BesideLine>,
    /// The same in sentences.
    pub sentences: Vec<String>,
}

/// What the palette makes of a composition.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BesideLine {
    /// Match of what the parts on the shelf would smell of with what was smelled, in
    /// percent; null where no scores were judged.
    pub fidelity: Option<f64>,
    /// The same once the numbers have given way.
    pub reconciled_fidelity: Option<f64>,
    /// How unlikely the natural is by the palette: standard normal where it is not.
    pub misfit: f64,
    /// Whether the palette is at odds with it.
    pub at_odds: bool,
    /// One standard deviation of a judged score with what is left open, in points.
    pub give_or_take: f64,
    /// Every judged descriptor.
    pub scores: Vec<CompositionScore>,
    /// What would have to change so, all together, the most in its own error first.
    pub changes: Vec<NumberMoved>,
    /// The one number that mends most by itself; null where none mends anything.
    pub alone: Option<AloneLine>,
}

/// One judged descriptor, in points.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompositionScore {
    /// The descriptor.
    pub descriptor: String,
    /// What was smelled.
    pub smelled: f64,
    /// By the palette's own numbers.
    pub before: f64,
    /// Once they have given way.
    pub after: f64,
}

/// A number that gives way.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NumberMoved {
    /// The material.
    pub material: String,
    /// `strength`, or the descriptor.
    pub what: String,
    /// As the palette has it: points, or the strength.
    pub before: f64,
    /// As the composition would have it.
    pub after: f64,
    /// The change in the number's own standard deviations.
    pub deviations: f64,
}

/// One number that changes while all others stay.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AloneLine {
    /// The number.
    #[serde(flatten)]
    pub moved: NumberMoved,
    /// The match then, in percent.
    pub fidelity: Option<f64>,
    /// How much of what all together mend it mends alone, in percent.
    pub part_percent: f64,
}

impl CompositionLine {
    /// Every natural among some trials.
    pub fn all(palette: &Palette, trials: &Trials, found: &[Result<Odds, (usize, Why)>]) -> Vec<CompositionLine> {
        found.iter().filter_map(|one| CompositionLine::of(palette, trials, one)).collect()
    }

    fn of(palette: &Palette, trials: &Trials, found: &Result<Odds, (usize, Why)>) -> Option<CompositionLine> {
        let at = found.as_ref().map_or_else(|(at, _)| *at, |odds| odds.trial);
        let trial = &trials.trials[at];
        let analysed = trial.analysed.as_ref()?;
        let composition = &analysed.composition;
        let mut line = CompositionLine {
            code: trial.code.clone(),
            composition: composition.file.to_string(),
            title: composition.title.clone(),
            source: composition.source.clone(),
            unknown_percent: analysed.unknown_percent,
            open_percent: analysed.open_percent(),
            lacking: analysed.open_parts().map(|part| part.name.clone()).collect(),
            why_not: found.as_ref().err().map(|(_, why)| *why),
            beside: found.as_ref().ok().map(|odds| BesideLine::new(palette, odds)),
            sentences: Vec::new(),
        };
        line.sentences = sentences::beside(palette, trial, found.as_ref().ok());
        Some(line)
    }

    /// Whether the palette is at odds with it.
    pub fn is_at_odds(&self) -> bool {
        self.beside.as_ref().is_some_and(|beside| beside.at_odds)
    }
}

impl BesideLine {
    fn new(palette: &Palette, odds: &Odds) -> BesideLine {
        let score = |&(descriptor, smelled, before, after): &(usize, f64, f64, f64)| CompositionScore {
            descriptor: palette.descriptors[descriptor].name.clone(),
            smelled,
            before,
            after,
        };
        BesideLine {
            fidelity: odds.fidelity_percent,
            reconciled_fidelity: odds.reconciled_percent,
            misfit: odds.misfit,
            at_odds: odds.is_at_odds(),
            give_or_take: odds.error,
            scores: odds.scores.iter().map(score).collect(),
            changes: odds.moved.iter().map(|moved| NumberMoved::new(palette, moved)).collect(),
            alone: odds.alone.as_ref().map(|alone| AloneLine::new(palette, alone)),
        }
    }
}

impl NumberMoved {
    fn new(palette: &Palette, moved: &Moved) -> NumberMoved {
        let (material, what) = match moved.kind {
            Kind::Strength { material } => (material, "strength".to_owned()),
            Kind::Lasting { material } => (material, "lasting".to_owned()),
            Kind::Score { material, descriptor } => (material, palette.descriptors[descriptor].name.clone()),
        };
        NumberMoved {
            material: palette.materials[material].name.clone(),
            what,
            before: moved.before,
            after: moved.after,
            deviations: moved.deviations,
        }
    }
}

impl AloneLine {
    fn new(palette: &Palette, alone: &Alone) -> AloneLine {
        AloneLine {
            moved: NumberMoved::new(palette, &alone.moved),
            fidelity: alone.fidelity_percent,
            part_percent: alone.part_percent,
        }
    }
}
