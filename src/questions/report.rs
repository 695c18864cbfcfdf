//! Everything that is known of a brief and its formula: the other questions,
//! asked one after the other.

use super::{Outcome, Refusal, Resolved, compare, leeway, propose, proposed, push, starts, strip, tradeoff, weigh};
use crate::analysis::axis::Axis;
use crate::analysis::basis::in_basis;
use crate::analysis::doubt::told::told_of;
use crate::balance::product::{Named, Plan, label};
use crate::brief::Brief;
use crate::control::Control;
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::problem::{FinishedProduct, Problem};
use crate::results::leeway::LeewayReport;
use crate::results::propose::ProposeReport;
use crate::results::push::PushReport;
use crate::results::starts::StartsReport;
use crate::results::strip::StripReport;
use crate::results::tradeoff::TradeoffReport;
use crate::results::weigh::WeighReport;
use crate::results::{Care, FormulaReport};
use crate::solve::{Method, Status};

/// Share of the time for the proposal.
const FOR_THE_PROPOSAL: f64 = 0.4;
/// Formulas along the curve of prices: fewer than `tradeoff` has, since the
/// other questions share its time.
const ALONG: usize = 12;
/// Materials of which it is told how far they can go.
const PUSHED: usize = 3;

/// Who reads the report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Reader {
    /// The perfumer: everything.
    #[default]
    Own,
    /// A client: nothing of the formula, its cost, the shelf or the files, nor
    /// anything that they could be worked out from.
    Client,
}

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The formula that the report is about, as it was read; the proposal where
    /// there is none.
    pub formula: Option<&'a Formula>,
    /// Grams of the batch to weigh.
    pub batch_grams: f64,
    /// What the balance shows last, in grams.
    pub step_grams: f64,
    /// Which method answers.
    pub method: Method,
    /// Who reads it. What a client may not see is not asked.
    pub reader: Reader,
}

impl Default for Asked<'_> {
    fn default() -> Self {
        let (batch_grams, step_grams) = (weigh::Asked::BATCH_GRAMS, weigh::Asked::STEP_GRAMS);
        Asked { formula: None, batch_grams, step_grams, method: Method::Auto, reader: Reader::Own }
    }
}

/// Everything that is told.
#[derive(Debug)]
pub struct Answer<'a> {
    /// Who reads it.
    pub reader: Reader,
    /// The brief's problem.
    pub problem: &'a Problem,
    /// The brief.
    pub brief: &'a Brief,
    /// The proposal, with what holds it back; or why there is none.
    pub proposal: ProposeReport,
    /// How sure the proposal is.
    pub status: Status,
    /// The formula that the report is about.
    pub subject: Option<Subject>,
    /// What money buys; `None` where prices are missing.
    pub tradeoff: Option<TradeoffReport>,
    /// How far its doses may go.
    pub leeway: Option<LeewayReport>,
    /// How far its strongest materials can go.
    pub pushes: Vec<PushReport>,
    /// Formulas to smell side by side.
    pub starts: Option<StartsReport>,
    /// Names for the label, for each finished product.
    pub labels: Vec<LabelOf>,
    /// The formula over time on a blotter; `None` where the brief has no stages.
    pub strip: Option<StripReport>,
    /// What to weigh.
    pub weigh: Option<WeighReport>,
}

impl Answer<'_> {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        match (&self.subject, self.status) {
            (Some(_), _) => Outcome::Answered,
            (None, Status::Infeasible) => {
                Outcome::Impossible("no blend can meet this brief (proven); the page says why")
            }
            (None, _) => Outcome::Stopped,
        }
    }
}

/// The formula that a report is about.
#[derive(Clone, Debug)]
pub struct Subject {
    /// What it is called: "the proposal", or the title or file of a formula.
    pub name: String,
    /// Whether it is the proposal.
    pub is_proposal: bool,
    /// The formula, judged.
    pub formula: FormulaReport,
    /// Rules that it breaks, a sentence each.
    pub broken: Vec<String>,
    /// What was checked of it.
    pub care: Care,
}

/// What must stand on the label of a finished product.
#[derive(Clone, Debug)]
pub struct LabelOf {
    /// The product's name; `None` where the brief gives none.
    pub product: Option<String>,
    /// Whether a label list was given for its categories.
    pub checked: bool,
    /// Name and percent of the product of what must be named.
    pub named: Vec<(String, f64)>,
}

/// Asks every question of a brief.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn ask<'a>(of: &'a Resolved, asked: &Asked<'_>, control: &Control) -> Result<Answer<'a>, Refusal> {
    let method = asked.method;
    let of = of.settled(method, &control.with_share(FOR_THE_PROPOSAL))?;
    let Resolved { problem, brief, .. } = of;
    let solution = proposed(of, method, &control.with_share(FOR_THE_PROPOSAL))?;
    let whole = asked.reader == Reader::Own;
    let wanted = propose::Asked { method, worth: whole, ..propose::Asked::default() };
    let propose::Answer { report: proposal, solution } = propose::explained(of, solution, &wanted, control);
    let given = asked.formula.map(|read| {
        let (file, title) = (read.file.clone(), read.title.clone());
        Formula { file, title, ..in_basis(&problem.palette, &read.rescaled(), problem.basis) }
    });
    let proposed = solution.answer.as_ref().map(|answer| answer.formula.clone());
    let mut answer = Answer {
        reader: asked.reader,
        problem,
        brief,
        proposal,
        status: solution.status,
        subject: None,
        tradeoff: None,
        leeway: None,
        pushes: Vec::new(),
        starts: None,
        labels: Vec::new(),
        strip: None,
        weigh: None,
    };
    let Some(formula) = given.or(proposed) else { return Ok(answer) };
    let Ok(judged) = evaluate(problem, &formula) else { return Ok(answer) };
    answer.subject = Some(subject(of, &formula, &judged, asked.formula));
    if let Some(subject) = answer.subject.as_mut().filter(|subject| subject.is_proposal) {
        subject.formula.near.clone_from(&answer.proposal.formula.near);
    }
    answer.labels = labels(of, &judged);
    if !whole {
        return Ok(answer);
    }
    if !brief.stages.is_empty() {
        let title = formula.title.clone().or_else(|| formula.file.is_none().then(|| "The proposal".to_owned()));
        let named = Formula { title, ..formula.clone() };
        answer.strip = Some(strip::ask(of, &named, &strip::Asked::default())?.report);
    }
    // What rests on the linear law is left out where that is not the brief's.
    if problem.is_linear() {
        let gives = solution.gives().then_some(&formula);
        let solution = solution.on_match_alone();
        if tradeoff::priced(of, Axis::Price).is_ok() {
            let best = Some(&solution);
            let wanted = tradeoff::Asked { formulas: ALONG, best, method, ..tradeoff::Asked::default() };
            answer.tradeoff = Some(tradeoff::ask(of, &wanted, control)?.report);
        }
        let best = Some(&solution);
        let wanted = leeway::Asked { formula: asked.formula.or(gives), best, method, ..leeway::Asked::default() };
        answer.leeway = Some(leeway::ask(of, &wanted, control)?.report);
        for material in strongest(problem, &formula) {
            let wanted = push::Asked { method, ..push::Asked::of(material) };
            answer.pushes.push(push::ask(of, &wanted, control)?.report);
        }
        if solution.answer.is_some() {
            let wanted = starts::Asked { method, ..starts::Asked::default() };
            answer.starts = Some(starts::around(of, &wanted, solution, control)?.report);
        }
    }
    answer.weigh = Some(weighed(of, &formula, asked.batch_grams, asked.step_grams, control)?);
    Ok(answer)
}

/// The sheet to weigh a formula from: its parts add up to 1000 in the basis of
/// the brief.
///
/// # Errors
/// The balance cannot weigh the batch.
pub fn weighed(
    of: &Resolved,
    formula: &Formula,
    batch_grams: f64,
    step_grams: f64,
    control: &Control,
) -> Result<WeighReport, Refusal> {
    let asked = weigh::Asked { batch_grams: Some(batch_grams), step_grams, ..weigh::Asked::default() };
    let Resolved { problem, brief, warnings, .. } = of;
    let subject = weigh::Subject { problem, brief: Some(brief), formula, unfolded: &[], warnings };
    Ok(weigh::ask(&subject, &asked, control)?.report)
}

fn subject(of: &Resolved, formula: &Formula, judged: &Evaluation, given: Option<&Formula>) -> Subject {
    let problem = &of.problem;
    let named = formula.title.clone().filter(|title| !title.trim().is_empty());
    let file = formula.file.as_ref().and_then(|file| file.rsplit(['/', '\\']).next()).map(str::to_owned);
    Subject {
        name: match given {
            Some(_) => named.or(file).unwrap_or_default(),
            None => "the proposal".to_owned(),
        },
        is_proposal: given.is_none(),
        formula: FormulaReport::new(problem, formula, Some(judged)).with_range(told_of(problem, formula).as_ref()),
        broken: compare::breaks(of, formula, given),
        care: Care::new(problem, &judged.neat_ppt),
    }
}

/// The strongest materials of a formula, the strongest first.
fn strongest(problem: &Problem, formula: &Formula) -> Vec<usize> {
    let mut materials: Vec<usize> = formula.parts.iter().map(|(material, _)| *material).collect();
    materials.retain(|&material| problem.material(material).strength > 0.0);
    materials.sort_by(|&a, &b| problem.material(b).strength.total_cmp(&problem.material(a).strength).then(a.cmp(&b)));
    materials.truncate(PUSHED);
    materials
}

fn labels(of: &Resolved, judged: &Evaluation) -> Vec<LabelOf> {
    let Resolved { problem, limits, .. } = of;
    let one = |product: &FinishedProduct| {
        let plan = Plan {
            categories: product.categories.clone(),
            dosage_percent: product.dosage_percent?,
            accord_share_percent: product.accord_share_percent,
        };
        let allergens = || limits.iter().flat_map(|limits| &limits.allergens);
        let named = label(problem, limits, &plan, &judged.neat_ppt);
        let name = |it: &Named| limits[it.at.0].allergens[it.at.1].name.clone();
        Some(LabelOf {
            product: product.name.clone(),
            checked: allergens().any(|it| it.holding(&plan.categories).is_some()),
            named: named.iter().filter(|it| it.is_named).map(|it| (name(it), it.percent)).collect(),
        })
    };
    problem.products.iter().filter_map(one).collect()
}
