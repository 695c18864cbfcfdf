//! Solving with every change: what is known first goes out first.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use maud::{Markup, html};

use super::bench::Bench;
use super::pages::Last;
use super::parts::blotter::blotter;
use super::parts::compare::pinned;
use super::parts::formula::{self, Stage, figures, parts};
use super::parts::limits::{care, limits};
use super::parts::profile::profile;
use super::parts::reasons::reasons;
use super::piece::{Later, Piece, Sink};
use super::requests::Solve;
use super::save::opened;
use super::shell::note;
use super::{Desk, around};
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::number::rounded;
use crate::questions::{self, propose, strip};
use crate::results::FormulaReport;
use crate::solve::{Answer, Method, Solution, Status};

/// Between two better formulas that are shown.
const BREATH: Duration = Duration::from_millis(80);
/// Share of the time limit that reasons and worths may take.
const AFTERWARDS: Duration = Duration::from_secs(10);

/// Solves the state of a page; what is left to work out once the page rests.
pub fn solve(desk: &Desk, request: &Solve, sink: &Sink) -> Option<Later> {
    let bench = match opened(desk, &request.view) {
        Ok(bench) => bench,
        Err(words) => {
            let content = html! {
                h2 { "This cannot be solved as it stands" }
                @for word in &words { (note("wrong", word)) }
                p.soft { "Undo the last change, or mend the value. The formula below is the one before." }
            };
            let mut piece = Piece::new("wrong").with("headline", content);
            piece.said = format!("This cannot be solved as it stands: {}", words.first().map_or("", String::as_str));
            sink.send(piece);
            return None;
        }
    };
    sink.answers(&bench);
    let pin =
        request.view.pin.as_ref().and_then(|pin| Some((pin.name.as_str(), pin.formula(&bench.resolved.problem)?)));
    let show = Shower { bench: &bench, pin, sink };

    let solution = show.search(desk.options.time_limit)?;
    let last = Last { fingerprint: bench.fingerprint.clone(), solution: Arc::new(solution.clone()) };
    if sink.is_wanted() {
        desk.pages.remember(&request.view.page, last);
    }
    match &solution.answer {
        Some(answer) => {
            let stage = match solution.status {
                _ if solution.gives() => {
                    Stage::Nearer(solution.given.as_ref().map_or(0.0, |given| given.best.evaluation.fidelity_percent))
                }
                Status::Optimal => Stage::Proven(bench.resolved.as_settled().holds()),
                _ => Stage::Open(bench.resolved.problem.fidelity_percent(solution.bound.unwrap_or(0.0))),
            };
            show.formula("final", stage, answer, Some(&solution));
            let against = request.against;
            Some(Box::new(move |sink| around::answer(&bench, &solution, against, sink, AFTERWARDS)))
        }
        None => {
            show.none(&solution);
            None
        }
    }
}

/// Shows what is found.
struct Shower<'a> {
    bench: &'a Bench,
    pin: Option<(&'a str, Formula)>,
    sink: &'a Sink,
}

impl Shower<'_> {
    /// The best formula, shown as it comes nearer.
    fn search(&self, limit: Duration) -> Option<Solution> {
        // The first ones follow each other fast: what is proven soon is not
        // shown half done.
        let control = self.sink.control(limit);
        let shown = Mutex::new(control.clock.now());
        let heard = |piece: propose::Piece<'_>| match piece {
            propose::Piece::Continuous(answer) => self.formula("continuous", Stage::Continuous, answer, None),
            propose::Piece::Better(answer, most) => {
                let mut shown = shown.lock().unwrap_or_else(PoisonError::into_inner);
                if control.clock.since(*shown) >= BREATH && self.sink.is_wanted() {
                    *shown = control.clock.now();
                    self.formula("better", Stage::Better(most), answer, None);
                }
            }
        };
        match propose::watched(&self.bench.resolved, Method::Auto, &control, &heard) {
            Ok(solution) => Some(solution),
            Err(refusal) => {
                let content = note("wrong", &refusal.to_string());
                self.sink.send(Piece::new("failed").with("headline", content));
                None
            }
        }
    }

    /// A formula, at whatever stage it is.
    fn formula(&self, kind: &'static str, stage: Stage, answer: &Answer, solution: Option<&Solution>) {
        let problem = &self.bench.resolved.problem;
        let report = solution.map(|solution| propose::at_once(&self.bench.resolved, solution));
        let judged = match &report {
            Some(report) => report.formula.clone(),
            None => FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation)),
        };
        let pin = self.pin.as_ref().and_then(|(name, formula)| {
            Some((*name, FormulaReport::new(problem, formula, Some(&evaluate(problem, formula).ok()?)), formula))
        });
        let pin_report = pin.as_ref().map(|(name, report, _)| (*name, report));
        let mut piece = Piece::new(kind)
            .with("headline", formula::headline(&judged, stage, &problem.palette.currency))
            .with("formula", parts(&judged, stage, pin_report, &problem.palette.currency))
            .with("profile", profile(&judged, pin_report, problem.palette.scale));
        if let Some(report) = &report {
            piece = piece.with("warnings", warnings(&self.bench.resolved.warnings)).with("conflict", html! {});
            piece = piece.with("limits", limits(&report.formula, report.care.as_ref()));
            piece = piece.with("care", care(report.care.as_ref(), &report.formula));
            piece = piece.with("near", formula::near(&report.formula));
            if let Some(content) = self.on_paper(&answer.formula) {
                piece = piece.with("blotter", content);
            }
            piece = piece.with(
                "compare",
                pinned(
                    self.bench,
                    pin.as_ref().map(|(name, report, formula)| (*name, report, *formula)),
                    &report.formula,
                ),
            );
            piece.said = said(&judged, stage, &problem.palette.currency);
        }
        piece.doses = Some(
            judged
                .materials
                .iter()
                .map(|line| (line.material.clone(), line.parts.to_string()))
                .collect::<BTreeMap<_, _>>(),
        );
        piece.blend = Some(judged.profile.iter().map(|line| (line.descriptor.clone(), line.blend)).collect());
        self.sink.send(piece);
    }

    /// The formula over time on a blotter; nothing where the brief has no stages.
    fn on_paper(&self, formula: &Formula) -> Option<Markup> {
        let resolved = &self.bench.resolved;
        if resolved.brief.stages.is_empty() {
            return None;
        }
        let named = Formula { title: Some("This formula".to_owned()), ..formula.clone() };
        let answer = strip::ask(resolved, &named, &strip::Asked::default());
        Some(answer.map_or_else(
            |why| note("calm", &why.to_string()),
            |answer| blotter(&answer.report, resolved.problem.palette.scale),
        ))
    }

    /// There is no formula: why, and what would make room.
    fn none(&self, solution: &Solution) {
        let problem = &self.bench.resolved.problem;
        let (head, sentence) = match solution.status {
            Status::Infeasible => {
                ("No blend keeps these rules", "That is proven. Which of them collide is being looked for.")
            }
            _ => (
                "Stopped without an answer",
                "No formula was found in the time allowed, and it is not proven that there is none.",
            ),
        };
        let headline = figures(html! { h2.alert { (head) } p { (sentence) } });
        let mut piece =
            Piece::new("none").with("headline", headline).with("warnings", warnings(&self.bench.resolved.warnings));
        piece.said = format!("{head}.");
        self.sink.send(piece);
        if solution.status == Status::Infeasible {
            let found = questions::reasons(problem, solution.status, &self.sink.control(AFTERWARDS));
            let file = &*self.bench.resolved.brief.file;
            let headline = figures(html! {
                h2.alert { (head) }
                p { "That is proven. The formula below is the one before, and does not keep the rules as they are now." }
            });
            let piece = Piece::new("none").with("headline", headline).with("conflict", reasons(problem, file, &found));
            self.sink.send(Piece { said: format!("{} ways to make room are offered.", found.repairs.len()), ..piece });
        }
    }
}

fn warnings(warnings: &[String]) -> Markup {
    html! { @for warning in warnings { (note("warn", warning)) } }
}

/// The formula in one sentence.
fn said(report: &FormulaReport, stage: Stage, currency: &str) -> String {
    let fidelity = rounded(report.fidelity.unwrap_or(0.0), 2);
    let price = report.price.map(|price| format!(", {} {currency} per kilo", rounded(price, 2))).unwrap_or_default();
    format!("Match {fidelity} percent, {}{price}, {} materials.", stage.word(), report.materials.len())
}
