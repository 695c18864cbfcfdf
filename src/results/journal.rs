//! What trials have come of.

use serde::Serialize;

use super::head::SCHEMA;
use crate::analysis::journal::{Due, Entry, OnPaper, WhyDue, due, smelled, tree};
use crate::analysis::learn::{Drying, tenacities};
use crate::batch::Batch;
use crate::brief::Match;
use crate::evaluate::evaluate;
use crate::files::HistoryStep;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::stage::Dip;
use crate::trials::{Date, Medium, Trials};

/// The report of `journal`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JournalReport {
    /// Version of the JSON.
    pub schema: u32,
    /// The command's name.
    pub command: &'static str,
    /// Title of the brief, or the palette's own name.
    pub title: Option<String>,
    /// The trials' file.
    pub trials: String,
    /// The palette's file.
    pub palette: String,
    /// The brief's file; null without one.
    pub brief: Option<String>,
    /// How the brief compares; null without one.
    #[serde(rename = "match")]
    pub matching: Option<Match>,
    /// The day as of which things are due.
    pub today: String,
    /// The trials, each after the one that it comes from.
    pub entries: Vec<EntryLine>,
    /// What is due to be smelled, now or later.
    pub due: Vec<DueLine>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// A trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EntryLine {
    /// Its code.
    pub code: String,
    /// How many trials lie between it and the one that it all came from.
    pub depth: usize,
    /// Code of the trial that it changes.
    pub from: Option<String>,
    /// The day on which it was smelled.
    pub date: Option<String>,
    /// Minutes since the blotter was dipped.
    pub minutes: Option<f64>,
    /// Days since it was mixed.
    pub age_days: Option<f64>,
    /// `blotter`, `skin` or `product`.
    pub medium: Option<Medium>,
    /// Concentration that was smelled, in percent.
    pub percent: Option<f64>,
    /// Whether it smells the trial before it again.
    pub again: bool,
    /// How many materials it holds.
    pub materials: usize,
    /// What it changes, or all of it where it comes from no other.
    pub changes: Vec<DoseChange>,
    /// What was smelled, the most first.
    pub smelled: Vec<SmelledScore>,
    /// Strength that was smelled.
    pub strength: Option<f64>,
    /// Fidelity in percent of what was smelled, in what was judged of the target.
    pub smelled_fidelity: Option<f64>,
    /// How much of the target was judged, in percent of its weighted scores.
    pub judged_percent: Option<f64>,
    /// Fidelity in percent of the formula by the palette's numbers: of what is left of it
    /// at its time on a blotter.
    pub computed_fidelity: Option<f64>,
    /// Percent of the film that is left then by the palette's numbers; left out where the
    /// trial is not followed as it dries.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub film_left: Option<f64>,
    /// The brief's stage at that time, whose target it is held against; left out where
    /// there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// Numbers of what is in it that `--apply` has changed since it was smelled.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub older_numbers: Vec<OlderNumber>,
    /// The batch that it was smelled of; null where none was named.
    pub batch: Option<BatchLine>,
    /// Free text of the trial.
    pub remarks: Option<String>,
}

/// A number of the palette that was another when a trial was smelled.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OlderNumber {
    /// The material.
    pub material: String,
    /// A key of the material, or the descriptor of a score.
    pub what: String,
    /// As it was written then; null where it was not.
    pub then: Option<String>,
    /// As it was written by the last change.
    pub now: Option<String>,
    /// The day of the last change.
    pub since: String,
    /// The command.
    pub by: String,
}

/// What was weighed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchLine {
    /// The batch's file.
    pub file: String,
    /// What stands on the vessel.
    pub label: Option<String>,
    /// The day on which it was weighed.
    pub date: Option<String>,
    /// All that was in the vessel, in grams.
    pub grams: f64,
    /// Percent of neat accord in it.
    pub concentration_percent: f64,
}

/// A dose before and after, in neat ppt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoseChange {
    /// The material.
    pub material: String,
    /// In the trial before.
    pub before: f64,
    /// In this one.
    pub after: f64,
}

/// A judged score in points.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SmelledScore {
    /// The descriptor.
    pub descriptor: String,
    /// What was smelled.
    pub score: f64,
    /// That less what was smelled of it in the trial before; null where it was
    /// not judged there.
    pub change: Option<f64>,
}

/// Something to smell again.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DueLine {
    /// Code of the mod's last trial.
    pub code: String,
    /// How often the mod was smelled.
    pub times: usize,
    /// `never`, `opening only`, `young only`, `once`: one or several.
    pub why: Vec<WhyDue>,
    /// From when on; null where no date says.
    pub on: Option<String>,
    /// Whether that is so today.
    pub now: bool,
}

impl JournalReport {
    /// The report; against a brief where there is one. `dip` is how blotters were dipped
    /// where a trial does not say it.
    pub fn new(
        palette: &Palette,
        trials: &Trials,
        neat_ppt: &[Vec<f64>],
        problem: Option<(&Problem, &str)>,
        dip: &Dip,
        today: Date,
        warnings: Vec<String>,
    ) -> JournalReport {
        let against = problem.map(|(problem, _)| problem);
        let tenacities = tenacities(palette, dip);
        let on_paper = |at: usize| {
            let drying = Drying::of(palette, &trials.trials[at], &neat_ppt[at], dip, tenacities.as_ref()?)?;
            Some(OnPaper::of(&drying, palette.materials.len()))
        };
        let line = |entry: &Entry| entry_line(palette, trials, against, entry, on_paper(entry.trial).as_ref());
        JournalReport {
            schema: SCHEMA,
            command: "journal",
            title: against.map_or_else(|| palette.name.clone(), |problem| problem.title.clone()),
            trials: trials.file.to_string(),
            palette: palette.file.to_string(),
            brief: problem.map(|(_, file)| file.to_owned()),
            matching: against.map(|problem| problem.matching),
            today: today.to_string(),
            entries: tree(trials, neat_ppt).iter().map(line).collect(),
            due: due(trials, neat_ppt, today).iter().map(|due| due_line(trials, due)).collect(),
            warnings,
        }
    }

    /// The same with what the palette's history says: which numbers were others
    /// when a trial was smelled. A change of the same day came after it.
    pub fn with_history(mut self, steps: &[HistoryStep]) -> JournalReport {
        let mut held: Vec<(String, Vec<String>)> = Vec::new();
        for entry in &mut self.entries {
            // What a trial holds: what its mod does, and what it changes.
            let mut parts = entry.from.as_ref().map_or_else(Vec::new, |from| {
                held.iter().find(|(code, _)| code == from).map(|(_, parts)| parts.clone()).unwrap_or_default()
            });
            for change in &entry.changes {
                parts.retain(|part| *part != change.material);
                if change.after > 0.0 {
                    parts.push(change.material.clone());
                }
            }
            if let Some(date) = entry.date.as_deref().and_then(Date::parse) {
                entry.older_numbers = older_numbers(steps, date, &parts);
            }
            held.push((entry.code.clone(), parts));
        }
        self
    }

    /// The mods in the order in which they were smelled: by date, those without
    /// one in the order of the tree. A single material is on the way to nothing.
    pub fn in_time(&self) -> Vec<&EntryLine> {
        let mut entries: Vec<&EntryLine> = self.entries.iter().filter(|entry| entry.materials > 1).collect();
        entries.sort_by(|a, b| a.date.cmp(&b.date));
        entries
    }
}

/// Changes of these materials from a day on, the first former number beside the
/// last new one.
fn older_numbers(steps: &[HistoryStep], date: Date, parts: &[String]) -> Vec<OlderNumber> {
    let mut out: Vec<OlderNumber> = Vec::new();
    for step in steps.iter().filter(|step| step.date >= date) {
        for change in step.changes.iter().filter(|change| parts.contains(&change.material)) {
            let known = out.iter_mut().find(|it| it.material == change.material && it.what == change.number);
            let (now, since, by) = (change.after.clone(), step.date.to_string(), step.by.clone());
            match known {
                Some(known) => (known.now, known.since, known.by) = (now, since, by),
                None => out.push(OlderNumber {
                    material: change.material.clone(),
                    what: change.number.clone(),
                    then: change.before.clone(),
                    now,
                    since,
                    by,
                }),
            }
        }
    }
    out
}

fn entry_line(
    palette: &Palette,
    trials: &Trials,
    problem: Option<&Problem>,
    entry: &Entry,
    on_paper: Option<&OnPaper>,
) -> EntryLine {
    let trial = &trials.trials[entry.trial];
    let from = trial.from.map(|from| &trials.trials[from]);
    let before = |descriptor: usize| {
        from.and_then(|from| from.scores.iter().find(|(judged, _)| *judged == descriptor)).map(|(_, points)| *points)
    };
    let mut scores: Vec<SmelledScore> = trial
        .scores
        .iter()
        .map(|&(descriptor, score)| SmelledScore {
            descriptor: palette.descriptors[descriptor].name.clone(),
            score,
            change: before(descriptor).map(|before| score - before),
        })
        .collect();
    scores.sort_by(|a, b| b.score.total_cmp(&a.score));
    let near = problem.and_then(|problem| match on_paper {
        Some(on_paper) => smelled(&on_paper.wanted(problem), &trial.scores),
        None => smelled(problem, &trial.scores),
    });
    let as_smelled = problem.and_then(|problem| match on_paper {
        Some(on_paper) => on_paper.seen(problem),
        None => Some(problem.as_it_dries(&trial.formula)),
    });
    let change = |&(material, before, after): &(usize, f64, f64)| DoseChange {
        material: palette.materials[material].name.clone(),
        before,
        after,
    };
    EntryLine {
        code: trial.code.clone(),
        depth: entry.depth,
        from: from.map(|from| from.code.clone()),
        date: trial.date.map(|date| date.to_string()),
        minutes: trial.minutes,
        age_days: trial.age_days,
        medium: trial.medium,
        percent: trial.percent,
        again: entry.is_again,
        materials: trial.formula.parts.len(),
        changes: entry.changes.iter().map(change).collect(),
        smelled: scores,
        strength: trial.strength,
        smelled_fidelity: near.map(|near| near.fidelity_percent),
        judged_percent: near.map(|near| near.judged_percent),
        computed_fidelity: as_smelled
            .and_then(|problem| evaluate(&problem, &trial.formula).ok())
            .map(|evaluation| evaluation.fidelity_percent),
        film_left: on_paper.map(|on_paper| 100.0 * on_paper.film_left),
        stage: on_paper
            .zip(problem)
            .and_then(|(on_paper, problem)| Some(problem.stage_name(on_paper.stage(problem)?).to_owned())),
        older_numbers: Vec::new(),
        batch: trial.batch.as_deref().map(batch_line),
        remarks: trial.remarks.clone(),
    }
}

fn batch_line(batch: &Batch) -> BatchLine {
    BatchLine {
        file: batch.file.as_deref().unwrap_or_default().to_owned(),
        label: batch.label.clone(),
        date: batch.date.map(|date| date.to_string()),
        grams: batch.grams(),
        concentration_percent: batch.concentration_percent(),
    }
}

fn due_line(trials: &Trials, due: &Due) -> DueLine {
    DueLine {
        code: trials.trials[due.trial].code.clone(),
        times: due.times,
        why: due.why.clone(),
        on: due.on.map(|day| day.to_string()),
        now: due.is_now,
    }
}
