//! Questions that are answered when they are asked: six starts, push, leeway.

use maud::{Markup, html};

use super::Desk;
use super::around::chart_box;
use super::bench::Bench;
use super::piece::{Piece, Sink};
use super::requests::{Ask, Question};
use super::save::opened;
use super::shell::{bar, change_button, note};
use crate::chart::leeway::LeewayChart;
use crate::chart::push::PushChart;
use crate::chart::svg_inline;
use crate::control::Control;
use crate::escape::escaped;
use crate::files::edit::{BriefEdits, DoseEdit};
use crate::number::rounded;
use crate::questions::{self, leeway, push, starts};
use crate::results::starts::StartLine;
use crate::solve::{Method, Solution, Status};
use crate::text::{dose, money};

/// Materials of a start that are drawn.
const DRAWN: usize = 6;

/// Answers a question about the state of a page.
pub fn ask(desk: &Desk, request: &Ask, sink: &Sink) {
    let content = match opened(desk, &request.view) {
        Ok(bench) => {
            sink.answers(&bench);
            let control = sink.control(desk.options.time_limit);
            answered(&bench, desk, request, &control).unwrap_or_else(|why| note("wrong", &why))
        }
        Err(words) => html! { @for word in words { (note("wrong", &word)) } },
    };
    sink_answer(sink, element(request.question), content);
}

fn sink_answer(sink: &Sink, element: &'static str, content: Markup) {
    sink.send(Piece { said: "Worked out.".to_owned(), ..Piece::new("answer").with(element, content) });
}

/// The element whose place an answer takes.
pub fn element(question: Question) -> &'static str {
    match question {
        Question::Starts => "starts",
        Question::Push | Question::Leeway => "closer",
    }
}

fn answered(bench: &Bench, desk: &Desk, request: &Ask, control: &Control) -> Result<Markup, String> {
    let best = || -> Result<Solution, String> {
        match desk.pages.last(&request.view.page, &bench.fingerprint) {
            Some(solution) => Ok(solution.on_match_alone()),
            None => questions::best(&bench.resolved, Method::Auto, control).map_err(|refusal| refusal.to_string()),
        }
    };
    match request.question {
        Question::Starts => six_starts(bench, best()?, control),
        Question::Leeway => room(bench, &best()?, control),
        Question::Push => pushed(bench, &request.material, control),
    }
}

fn six_starts(bench: &Bench, best: Solution, control: &Control) -> Result<Markup, String> {
    let problem = &bench.resolved.problem;
    let asked = starts::Asked::default();
    let report = starts::around(&bench.resolved, &asked, best, control).map_err(|refusal| refusal.to_string())?.report;
    if report.formulas.is_empty() {
        return Err("There is no formula inside the rules to start from.".to_owned());
    }
    let currency = escaped(&problem.palette.currency);
    let shares = report.formulas.iter().flat_map(|start| &start.formula.shares.0).map(|(_, share)| *share);
    let most = shares.fold(1.0, f64::max);
    Ok(html! {
        p {
            "Each lies within " (asked.margin) " points of the best match, and they are as different in odour as the rules allow"
            @if let Some(distance) = report.least_distance { ": any two differ by " (rounded(distance, 0)) " share points or more" }
            ". Bars are odour shares."
        }
        ol.starts { @for start in &report.formulas { (card(start, most, &currency)) } }
    })
}

fn card(start: &StartLine, most: f64, currency: &str) -> Markup {
    let mut shares: Vec<&(String, f64)> = start.formula.shares.0.iter().collect();
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    let parts: std::collections::BTreeMap<&str, f64> =
        start.formula.materials.iter().map(|line| (line.material.as_str(), line.parts.as_f64())).collect();
    let mut taken = BriefEdits::default();
    for (material, parts) in &parts {
        let edit = DoseEdit { permission: Some("may".to_owned()), fixed: Some(Some(*parts)), ..DoseEdit::default() };
        taken.doses.insert((*material).to_owned(), edit);
    }
    let name = format!("start {}", start.start);
    html! {
        li {
            h3 { "Start " (start.start) }
            p.soft {
                strong { (rounded(start.formula.fidelity.unwrap_or(0.0), 2)) " %" }
                @if let Some(price) = start.formula.price { " · " (money(price)) " " (currency) "/kg" }
                " · " (start.formula.materials.len()) " materials"
            }
            ul.mini {
                @for (material, share) in shares.iter().take(DRAWN) {
                    li { span.word { (escaped(material)) } (bar(share / most, "fill")) span.n { (rounded(*share, 0)) " %" } }
                }
                @if shares.len() > DRAWN { li.soft { (shares.len() - DRAWN) " more" } }
            }
            p.apart { (escaped(&start.apart)) }
            p.buttons {
                (change_button(&taken, "Take it", &format!("Take it: {name}, all its doses locked")))
                button.small type="button" data-pin=(serde_json::to_string(&parts).unwrap_or_default()) data-name=(name)
                    aria-label={ "Pin " (name) " to compare" } { "Pin" }
            }
        }
    }
}

fn room(bench: &Bench, best: &Solution, control: &Control) -> Result<Markup, String> {
    let problem = &bench.resolved.problem;
    let asked = leeway::Asked { best: Some(best), ..leeway::Asked::default() };
    let answer = leeway::ask(&bench.resolved, &asked, control).map_err(|refusal| refusal.to_string())?;
    let report = answer.report;
    if answer.status == Status::Infeasible || answer.status == Status::Unknown {
        return Err("There is no formula inside the rules.".to_owned());
    }
    let chart = LeewayChart::of_report(&report, problem).ok_or("There is nothing to draw.")?;
    Ok(html! {
        h3 { "Leeway of every dose" }
        (chart_box("Leeway", &svg_inline(&chart)))
        p.soft {
            "Each end is that of a formula which keeps every rule"
            @if !report.materials.iter().all(|line| line.proven) { ", not all of them proven" }
            "; they cannot be had together."
        }
    })
}

fn pushed(bench: &Bench, name: &str, control: &Control) -> Result<Markup, String> {
    let problem = &bench.resolved.problem;
    let known = problem.palette.materials.iter().position(|material| material.name == name);
    let material = known.ok_or("Choose a material of the shelf.")?;
    let report = push::ask(&bench.resolved, &push::Asked::of(material), control);
    let report = report.map_err(|refusal| refusal.to_string())?.report;
    let chart = PushChart::of_report(&report).ok_or("No blend inside the rules has this material.")?;
    let best = report.best.map(|best| best.dose);
    Ok(html! {
        h3 { "How far " (escaped(name)) " can go" }
        (chart_box("Push", &svg_inline(&chart)))
        p.soft {
            @if let Some(aside) = &report.let_in { (escaped(aside)) " " }
            @if let Some(best) = best { "Best at " (dose(crate::number::rounded(best, 3).parse().unwrap_or(best))) " ‰. " }
            @if let Some(cap) = report.caps.first() { "Lowest cap: " (dose(cap.dose)) " ‰, " (escaped(&cap.words)) "." }
        }
    })
}
