//! What trials say of the scores and strengths of a palette.

use serde::Serialize;

use super::compositions::CompositionLine;
use super::head::SCHEMA;
use super::learn_lasting::{DriedLine, LastingLine, NINETY_FIVE, learned_on_paper};
use super::learn_slips::{SlipLine, slip_line};
use super::states::{Distrust, Foresight};
use crate::analysis::learn::{
    Aside, Evidence, Exponent, Kind, Learned, Left, MISFIT, SURE, TriedMatch, Untrusted, Verdict, Why, off, slip,
};
use crate::brief::Match;
use crate::palette::Palette;
use crate::portable::Portable;
use crate::sentences::said::said;
use crate::trials::{Trials, fingerprint};

/// The report of `learn`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LearnReport {
    /// Version of the JSON.
    pub schema: u32,
    /// The command's name.
    pub command: &'static str,
    /// The palette's own name.
    pub title: Option<String>,
    /// The trials' file.
    pub trials: String,
    /// The palette's file.
    pub palette: String,
    /// Scores run from 0 to this.
    #[serde(skip)]
    pub scale: f64,
    /// What marks the palette's scores and strengths.
    pub palette_fingerprint: String,
    /// How judged scores were compared: `balance` or `level`.
    #[serde(rename = "match")]
    pub matching: Match,
    /// Both ways beside each other; null where nothing was learned.
    pub matches: Option<Matches>,
    /// Why the correction is better not kept: `restless` (the estimate did not
    /// come to rest) or `misfits` (more than half of the trials do not fit the
    /// others); null where nothing speaks against it.
    pub untrusted: Option<Distrust>,
    /// Exponent of the odour shares.
    pub exponent: f64,
    /// Whether trials were put together however they were smelled.
    pub pooled: bool,
    /// Codes of the trials that were learned from.
    pub used: Vec<String>,
    /// Trials that were left aside.
    pub aside: Vec<AsideLine>,
    /// Scores and strengths that the trials touch.
    pub unknowns: usize,
    /// What changes, the largest change in deviations first.
    pub changes: Vec<Change>,
    /// How long materials last on a blotter by trials at several times, the largest change
    /// in deviations first; left out where none tell.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lasting: Vec<LastingLine>,
    /// Trials that were followed as they dried; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub dried: Vec<DriedLine>,
    /// Trials that are unlike the others, the worst first.
    pub misfits: Vec<Misfit>,
    /// Every trial that was learned from.
    pub fits: Vec<TrialFit>,
    /// Whether the correction predicts; null where no scores were judged.
    pub prediction: Option<PredictionLine>,
    /// The two exponents beside each other; null likewise.
    pub exponents: Option<Exponents>,
    /// What the trials say of the exponent itself; null where they say nothing.
    pub exponent_learned: Option<ExponentLearned>,
    /// Whether the estimate came to rest.
    pub settled: bool,
    /// Naturals that were smelled, beside the palette as it was; left out where there
    /// are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub compositions: Vec<CompositionLine>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// A trial that was left aside.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AsideLine {
    /// Its code.
    pub code: String,
    /// `medium`, `minutes`, `age`, `not judged`, `nothing to compare` or `no odour`.
    pub why: Why,
}

/// A score or a strength before and after.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// The material.
    pub material: String,
    /// `strength`, or the descriptor.
    pub what: String,
    /// As the palette has it: points, or the strength.
    pub before: f64,
    /// What a strength rests on that is no number, as in `shelf`; left out where it
    /// is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before_said: Option<String>,
    /// As the trials leave it.
    pub after: f64,
    /// One standard deviation after the trials: points, or that of the natural
    /// logarithm of the strength.
    pub sd: f64,
    /// Lower end of the interval of 95 %.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// The change in these deviations.
    pub sds: f64,
    /// The trials that moved it most, the first most.
    pub driven_by: Vec<Driver>,
}

/// A trial that moved a number.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Driver {
    /// Its code.
    pub code: String,
    /// By how much, to first order: points, or the logarithm of a strength.
    pub moved: f64,
}

/// A trial that does not fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Misfit {
    /// Its code.
    pub code: String,
    /// How unlike the others: standard normal where it is like them.
    pub misfit: f64,
    /// `strength`, `film` (by the numbers it should have been gone), or the descriptor that
    /// fits least.
    pub what: String,
    /// What was smelled of it.
    pub smelled: Option<f64>,
    /// What the other trials make of it.
    pub without: Option<f64>,
    /// The difference in deviations.
    pub sds: f64,
    /// The one slip that would explain it best; null where none makes it like the others.
    pub slip: Option<SlipLine>,
}

/// How a trial fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialFit {
    /// Its code.
    pub code: String,
    /// How unlike the others: standard normal where it is like them.
    pub misfit: f64,
    /// What was judged of it.
    pub scores: Vec<ScoreFit>,
}

/// How one judged score fits. All in points.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScoreFit {
    /// The descriptor.
    pub descriptor: String,
    /// What was smelled.
    pub smelled: f64,
    /// By the palette's own numbers.
    pub before: f64,
    /// By the fit to all trials.
    pub fitted: f64,
    /// By the fit to all the other trials.
    pub without: f64,
}

/// How far predictions are off: root mean squares in points.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PredictionLine {
    /// Judged scores.
    pub judged: usize,
    /// By the palette's own numbers.
    pub before: f64,
    /// By the fit to all trials.
    pub fitted: f64,
    /// Each trial by the fit to the others.
    pub without: f64,
    /// Whether those are fits anew; else to first order.
    pub refitted: bool,
    /// `predicts`, `merely fits`, `cannot tell` or `too few`.
    pub verdict: Foresight,
}

/// The two exponents beside each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Exponents {
    /// Each exponent, the one that was used first.
    pub tried: Vec<ExponentLine>,
    /// The one that explains this nose better; null where that cannot be told.
    pub better: Option<f64>,
}

/// The exponent as one more unknown.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ExponentLearned {
    /// The most likely one, from 0.3 to 1.
    pub value: f64,
    /// One standard deviation of what is known of it.
    pub error: f64,
    /// Whether the trials say where in its range it lies.
    pub told: bool,
}

impl ExponentLearned {
    /// What the trials say.
    pub fn new(found: Exponent) -> ExponentLearned {
        ExponentLearned { value: found.value, error: found.error, told: found.is_told() }
    }
}

/// Both ways of comparing judged scores.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Matches {
    /// What the trials' file says.
    pub of_file: Match,
    /// Whether `--match` said which one to use.
    pub forced: bool,
    /// Each way, the one that was used first.
    pub tried: Vec<MatchLine>,
    /// The one that explains this nose better; null where that cannot be told.
    pub better: Option<Match>,
}

/// One way of comparing them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MatchLine {
    /// `balance` or `level`.
    #[serde(rename = "match")]
    pub matching: Match,
    /// Each trial by the fit to the others, root mean square in points, at the
    /// total of what was smelled; null where no trial can be compared both ways.
    pub without: Option<f64>,
    /// Trials that it learned from.
    pub trials: usize,
    /// Trials that do not fit the others.
    pub misfits: usize,
    /// Whether the estimate came to rest.
    pub settled: bool,
}

/// One exponent: root mean squares in points.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExponentLine {
    /// The exponent.
    pub exponent: f64,
    /// By the palette's own numbers.
    pub before: f64,
    /// Each trial by the fit to the others.
    pub without: f64,
}

/// Changes below these in points, and in the logarithm of a strength, are not
/// listed: no palette is written so finely.
const LISTED: (f64, f64) = (0.005, 0.005);
/// What fits least where it was smelled after its film should have been gone.
pub const BEYOND: &str = "film";
/// Trials that are named for a change.
const DRIVERS: usize = 3;

impl LearnReport {
    /// The report; with nothing learned where no trial says anything.
    pub fn new(
        palette: &Palette,
        trials: &Trials,
        exponent: f64,
        pooled: bool,
        learned: Option<&Learned>,
        aside: &[Aside],
        warnings: Vec<String>,
    ) -> LearnReport {
        let code = |one: &Evidence| trials.trials[one.trial].code.clone();
        let mut report = LearnReport {
            schema: SCHEMA,
            command: "learn",
            title: palette.name.clone(),
            trials: trials.file.to_string(),
            palette: palette.file.to_string(),
            scale: palette.scale,
            palette_fingerprint: fingerprint(palette),
            matching: learned.map_or(trials.matching, |learned| learned.matching),
            matches: learned.map(|learned| matches(trials, learned)),
            untrusted: learned.and_then(Learned::is_untrusted).map(|why| match why {
                Untrusted::Restless => Distrust::Restless,
                Untrusted::Misfits(..) => Distrust::Misfits,
            }),
            exponent,
            pooled,
            used: Vec::new(),
            aside: aside.iter().map(|aside| aside_line(trials, aside)).collect(),
            unknowns: 0,
            changes: Vec::new(),
            lasting: Vec::new(),
            dried: Vec::new(),
            misfits: Vec::new(),
            fits: Vec::new(),
            prediction: None,
            exponents: None,
            exponent_learned: None,
            settled: true,
            compositions: Vec::new(),
            warnings,
        };
        let Some(learned) = learned else { return report };
        report.used = learned.evidence.iter().map(code).collect();
        report.unknowns = learned.unknowns.len();
        report.settled = learned.fit.settled;
        report.changes = changes(palette, learned, &report.used);
        (report.lasting, report.dried) = learned_on_paper(palette, learned, &code);
        let pairs = || learned.evidence.iter().zip(&learned.left);
        report.fits = pairs().map(|(one, left)| trial_fit(palette, code(one), one, left)).collect();
        let unlike = pairs().enumerate().filter(|(_, (_, left))| left.misfit > MISFIT);
        report.misfits = unlike
            .filter_map(|(at, (one, left))| {
                let is_weighed = trials.trials[one.trial].analysed.is_none();
                let by = (learned.matching, learned.asked.exponent);
                let slip = slip(palette, &learned.evidence, at, by, is_weighed);
                Some(Misfit { slip: slip.map(|it| slip_line(palette, &it)), ..misfit(palette, code(one), one, left)? })
            })
            .collect();
        report.misfits.sort_by(|a, b| b.misfit.total_cmp(&a.misfit));
        report.prediction = off(&learned.evidence, &learned.left).map(|off| PredictionLine {
            judged: off.scores,
            before: off.before,
            fitted: off.fitted,
            without: off.without,
            refitted: learned.is_refitted(),
            verdict: match learned.predicts() {
                Verdict::Better => Foresight::Predicts,
                Verdict::TooFew => Foresight::TooFew,
                _ if off.without >= off.before => Foresight::MerelyFits,
                _ => Foresight::CannotTell,
            },
        });
        let lines = [(exponent, &learned.left), (learned.other.0, &learned.other.1)];
        let line = |(exponent, left): &(f64, &Vec<Left>)| {
            let off = off(&learned.evidence, left)?;
            Some(ExponentLine { exponent: *exponent, before: off.before, without: off.without })
        };
        let tried: Vec<ExponentLine> = lines.iter().filter_map(line).collect();
        let better = match learned.other_is() {
            Verdict::Better => Some(learned.other.0),
            Verdict::Worse => Some(exponent),
            _ => None,
        };
        report.exponent_learned = learned.exponent.map(ExponentLearned::new);
        report.exponents = (!tried.is_empty()).then_some(Exponents { tried, better });
        report
    }

    /// Standard errors that settle a comparison.
    pub fn sure() -> f64 {
        SURE
    }
}

fn matches(trials: &Trials, learned: &Learned) -> Matches {
    let line = |tried: &TriedMatch| MatchLine {
        matching: tried.matching,
        without: tried.without,
        trials: tried.trials,
        misfits: tried.misfits,
        settled: tried.settled,
    };
    let tried: Vec<MatchLine> = learned.matches.iter().map(line).collect();
    let better = match learned.match_is {
        Verdict::Better => tried.first(),
        Verdict::Worse => tried.get(1),
        Verdict::Open | Verdict::TooFew => None,
    };
    Matches {
        of_file: trials.matching,
        forced: learned.asked.matching.is_some(),
        better: better.map(|line| line.matching),
        tried,
    }
}

pub(super) fn aside_line(trials: &Trials, aside: &Aside) -> AsideLine {
    AsideLine { code: trials.trials[aside.trial].code.clone(), why: aside.why }
}

fn changes(palette: &Palette, learned: &Learned, codes: &[String]) -> Vec<Change> {
    let unknowns = &learned.unknowns;
    let mut changes = Vec::new();
    for (at, kind) in unknowns.kinds().enumerate() {
        let (from, to, sd) = (unknowns.prior[at], learned.fit.values[at], learned.posterior.deviations[at]);
        let least = if matches!(kind, Kind::Strength { .. }) { LISTED.1 } else { LISTED.0 };
        // Tenacities have a list of their own.
        if (to - from).abs() < least || matches!(kind, Kind::Lasting { .. }) {
            continue;
        }
        let (low, high) = (to - NINETY_FIVE * sd, to + NINETY_FIVE * sd);
        let (material, what, numbers) = match kind {
            Kind::Strength { material } => {
                // As the palette has it, not by way of its logarithm.
                let before = palette.materials[material].strength;
                (material, "strength".to_owned(), [before, to.exponential(), low.exponential(), high.exponential()])
            }
            Kind::Lasting { .. } => continue,
            Kind::Score { material, descriptor } => {
                let what = palette.descriptors[descriptor].name.clone();
                (material, what, [from, to, low.max(0.0), high.min(palette.scale)])
            }
        };
        changes.push(Change {
            material: palette.materials[material].name.clone(),
            before_said: said(&palette.materials[material]).filter(|_| matches!(kind, Kind::Strength { .. })),
            what,
            before: numbers[0],
            after: numbers[1],
            sd,
            low: numbers[2],
            high: numbers[3],
            sds: (to - from) / sd,
            driven_by: drivers(learned, codes, at, to - from),
        });
    }
    changes.sort_by(|a, b| b.sds.abs().total_cmp(&a.sds.abs()));
    changes
}

/// The trials that moved an unknown most in the direction in which it went.
fn drivers(learned: &Learned, codes: &[String], at: usize, change: f64) -> Vec<Driver> {
    let mut drivers: Vec<Driver> = (learned.left.iter().zip(codes))
        .map(|(left, code)| Driver { code: code.clone(), moved: left.moved[at] })
        .filter(|driver| driver.moved * change > 0.0)
        .collect();
    drivers.sort_by(|a, b| b.moved.abs().total_cmp(&a.moved.abs()));
    // Those that count beside the first.
    let most = drivers.first().map_or(0.0, |driver| driver.moved.abs());
    drivers.retain(|driver| driver.moved.abs() >= most / 4.0);
    drivers.truncate(DRIVERS);
    drivers
}

fn trial_fit(palette: &Palette, code: String, one: &Evidence, left: &Left) -> TrialFit {
    let scores = one.judged.iter().enumerate().map(|(at, &(descriptor, smelled))| ScoreFit {
        descriptor: palette.descriptors[descriptor].name.clone(),
        smelled,
        before: left.before[at],
        fitted: left.fitted[at],
        without: left.without[at],
    });
    TrialFit { code, misfit: left.misfit, scores: scores.collect() }
}

fn misfit(palette: &Palette, code: String, one: &Evidence, left: &Left) -> Option<Misfit> {
    let worst = (0..left.standardised.len())
        .max_by(|a, b| left.standardised[*a].abs().total_cmp(&left.standardised[*b].abs()))?;
    let judged = one.judged.get(worst);
    let is_strength = worst == one.judged.len() && one.log_strength.is_some();
    let other = if is_strength { "strength" } else { BEYOND };
    let what = judged.map_or(other, |(descriptor, _)| palette.descriptors[*descriptor].name.as_str());
    Some(Misfit {
        code,
        misfit: left.misfit,
        what: what.to_owned(),
        smelled: judged
            .map_or(one.log_strength.filter(|_| is_strength).map(f64::exponential), |(_, points)| Some(*points)),
        without: left.without.get(worst).copied(),
        sds: left.standardised[worst],
        slip: None,
    })
}
