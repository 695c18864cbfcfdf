//! Files to take along. One more file is one more [`File`], an arm of `made`
//! and a button of the page; a report of its own would join in that way.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::extract::rejection::JsonRejection;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use tokio::task::spawn_blocking;

use super::Shared;
use super::bench::Bench;
use super::guard::refusal;
use super::requests::{Download, File};
use super::save::{open, solution};
use super::stream::not_understood;
use crate::balance::least::least_grams;
use crate::balance::sheet::{Asked, sheet};
use crate::balance::tremble::tremble;
use crate::chart::dumbbell::Dumbbell;
use crate::chart::profile::ProfileChart;
use crate::chart::{png, svg};
use crate::formula::Formula;
use crate::report::propose::ProposeReport;
use crate::report::weigh::{WeighReport, Weighing};
use crate::report::{Report, html};
use crate::solve::quiet;

/// The error of a weighing that is still good, in percent.
const ERROR_PERCENT: f64 = 1.0;
/// Grams that may be asked for.
const BATCH: std::ops::RangeInclusive<f64> = 0.001..=1e6;
/// What a balance may show last, in grams.
const BALANCE: std::ops::RangeInclusive<f64> = 1e-6..=10.0;

/// `POST /download`.
pub async fn answer(State(shared): State<Arc<Shared>>, body: Result<Json<Download>, JsonRejection>) -> Response {
    let request = match body {
        Ok(Json(request)) if request.view.is_sound() => request,
        Ok(_) => return refusal(StatusCode::BAD_REQUEST, "the page has no name of its own"),
        Err(rejection) => return not_understood(&rejection),
    };
    let Ok(_place) = shared.work.acquire().await else {
        return refusal(StatusCode::SERVICE_UNAVAILABLE, "the server ends");
    };
    let work = Arc::clone(&shared);
    match spawn_blocking(move || quiet::catch(|| made(&work, &request))).await {
        Ok(Ok(Ok((kind, bytes)))) => ([(CONTENT_TYPE, kind)], bytes).into_response(),
        Ok(Ok(Err(words))) => refusal(StatusCode::UNPROCESSABLE_ENTITY, &words),
        _ => refusal(StatusCode::INTERNAL_SERVER_ERROR, "the file could not be made: a fault of the program"),
    }
}

fn made(shared: &Shared, request: &Download) -> Result<(&'static str, Vec<u8>), String> {
    let bench = open(shared, &request.view)?;
    let solution = solution(shared, &request.view, &bench)?;
    let answer = solution.answer.as_ref().ok_or("there is no formula")?;
    let report = bench.report(&solution);
    Ok(match request.file {
        File::Csv => ("text/csv; charset=utf-8", report.csv().into_bytes()),
        File::Svg => ("image/svg+xml", svg(&Dumbbell(&chart(&report)?)).into_bytes()),
        File::Png => ("image/png", png(&Dumbbell(&chart(&report)?))?),
        File::Weigh => ("text/html; charset=utf-8", weighing_sheet(&bench, &answer.formula, request)?.into_bytes()),
    })
}

fn chart(report: &ProposeReport) -> Result<ProfileChart, String> {
    ProfileChart::of_proposal(report).ok_or_else(|| "there is nothing to draw".to_owned())
}

fn weighing_sheet(bench: &Bench, formula: &Formula, request: &Download) -> Result<String, String> {
    let (batch_grams, step_grams) = (request.batch, request.balance);
    if !BATCH.contains(&batch_grams) || !BALANCE.contains(&step_grams) || step_grams > batch_grams {
        return Err("a batch from 0.001 to 1,000,000 g and a balance from 0.000001 to 10 g are expected".to_owned());
    }
    let formula = Formula { title: bench.brief.title.clone(), ..formula.clone() };
    let asked = Asked { batch_grams, step_grams, least_grams: least_grams(step_grams, ERROR_PERCENT) };
    let sheet = sheet(&bench.problem.palette, &formula, asked);
    let seed = 1;
    let trembled = tremble(&bench.problem, &sheet, step_grams, seed);
    let weighing = Weighing {
        problem: &bench.problem,
        brief: Some(&bench.brief),
        formula: &formula,
        asked,
        error_percent: Some(ERROR_PERCENT),
        sheet: &sheet,
        total: None,
        tremble: trembled.as_ref(),
        seed,
        unfolded: Vec::new(),
        poured: None,
    };
    Ok(html::weigh(&WeighReport::new(&weighing, bench.warnings.clone())))
}
