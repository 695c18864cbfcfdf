//! Files to take along. One more file is one more [`File`], an arm of `made`
//! and a button of the page.

use super::bench::Bench;
use super::desk::Desk;
use super::requests::{Download, File};
use super::save::{open, solution};
use crate::chart::dumbbell::Dumbbell;
use crate::chart::profile::ProfileChart;
use crate::chart::{png, svg};
use crate::control::Control;
use crate::dossier;
use crate::dossier::files::Fingerprint;
use crate::formats::{Report, csv};
use crate::formula::Formula;
use crate::html;
use crate::questions::{propose, report};
use crate::results::propose::ProposeReport;
use crate::trials::Date;

/// Grams that may be asked for.
const BATCH: std::ops::RangeInclusive<f64> = 0.001..=1e6;
/// What a balance may show last, in grams.
const BALANCE: std::ops::RangeInclusive<f64> = 1e-6..=10.0;

/// A file to take along: its media type and its bytes.
///
/// # Errors
/// Why there is none, in words.
pub fn made(desk: &Desk, request: &Download) -> Result<(&'static str, Vec<u8>), String> {
    let bench = open(desk, &request.view)?;
    let solution = solution(desk, &request.view, &bench)?;
    let answer = solution.answer.as_ref().ok_or("there is no formula")?;
    let report = propose::at_once(&bench.resolved, &solution);
    Ok(match request.file {
        File::Csv => ("text/csv; charset=utf-8", csv::text(&report.table()).into_bytes()),
        File::Svg => ("image/svg+xml", svg(&Dumbbell(&chart(&report)?)).into_bytes()),
        File::Png => ("image/png", png(&Dumbbell(&chart(&report)?))?),
        File::Weigh => ("text/html; charset=utf-8", weighing_sheet(&bench, &answer.formula, request)?.into_bytes()),
        File::Report => ("text/html; charset=utf-8", whole_report(desk, &bench, request)?.into_bytes()),
    })
}

fn chart(report: &ProposeReport) -> Result<ProfileChart, String> {
    ProfileChart::of_proposal(report).ok_or_else(|| "there is nothing to draw".to_owned())
}

fn weighing_sheet(bench: &Bench, formula: &Formula, request: &Download) -> Result<String, String> {
    let formula = Formula { title: bench.resolved.brief.title.clone(), ..formula.clone() };
    let (batch_grams, step_grams) = weighable(request)?;
    // Nothing has been poured that a way out would be looked for.
    let report = report::weighed(&bench.resolved, &formula, batch_grams, step_grams, &Control::default());
    Ok(html::weigh(&report.map_err(|refusal| refusal.to_string())?))
}

/// Batch and balance, in grams, where they may be asked for.
fn weighable(request: &Download) -> Result<(f64, f64), String> {
    let (batch_grams, step_grams) = (request.batch, request.balance);
    if !BATCH.contains(&batch_grams) || !BALANCE.contains(&step_grams) || step_grams > batch_grams {
        return Err("a batch from 0.001 to 1,000,000 g and a balance from 0.000001 to 10 g are expected".to_owned());
    }
    Ok((batch_grams, step_grams))
}

/// Everything on one page, of the brief as it stands on the page.
fn whole_report(desk: &Desk, bench: &Bench, request: &Download) -> Result<String, String> {
    let control = Control::default().within(desk.options.time_limit);
    let (batch_grams, step_grams) = weighable(request)?;
    let asked = report::Asked { batch_grams, step_grams, ..report::Asked::default() };
    let answer = report::ask(&bench.resolved, &asked, &control).map_err(|refusal| refusal.to_string())?;
    let mut files = Fingerprint::of_all(&bench.store, &bench.resolved);
    if let Some(brief) = files.first_mut() {
        // What is on disk may be an older brief.
        *brief = Fingerprint::of_text(&brief.name, &bench.text);
    }
    Ok(dossier::page(&answer, &files, (desk.options.since_1970)().map(Date::at)))
}
