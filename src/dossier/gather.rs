//! The questions that the page answers.

use super::files::Fingerprint;
use super::{Dossier, LabelOf, Subject};
use crate::analysis::axis::Axis;
use crate::analysis::broken::broken;
use crate::analysis::caps::caps;
use crate::analysis::doubt::told::told_of;
use crate::analysis::leeway::{self, leeway};
use crate::analysis::push::{self, push};
use crate::analysis::repair::Reasons;
use crate::analysis::starts::{self, starts};
use crate::analysis::tradeoff::{self, tradeoff};
use crate::balance::least::least_grams;
use crate::balance::product::{Plan, label};
use crate::balance::sheet::{Asked, sheet};
use crate::balance::tremble::tremble;
use crate::brief::{Brief, TargetFrom};
use crate::control::Control;
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::limits::Limits;
use crate::problem::Problem;
use crate::questions::{self, Refusal, Resolved, propose};
use crate::results::leeway::{LeewayReport, Looked};
use crate::results::push::{PushReport, Subject as Pushed};
use crate::results::starts::StartsReport;
use crate::results::tradeoff::TradeoffReport;
use crate::results::weigh::{WeighReport, Weighing};
use crate::results::{Care, FormulaReport};
use crate::solve::{Failure, Method, Solution};
use crate::store::Store;

/// Points of fidelity that leeway and push give away.
const MARGIN: f64 = 1.0;
/// Points of fidelity that a start may lie below the best.
const STARTS_MARGIN: f64 = 3.0;
/// How many starts stand on the page.
const STARTS: usize = 6;
/// Formulas along the curve of prices.
const ALONG: usize = 12;
/// Materials of which it is told how far they can go.
const PUSHED: usize = 3;
/// The wanted error of a weighing, in percent.
const ERROR_PERCENT: f64 = 1.0;
/// The seed of everything random.
pub const SEED: u64 = 1;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// The formula that the page is about, in the problem's basis and adding
    /// up to 1000; the proposal where there is none.
    pub formula: Option<&'a Formula>,
    /// Grams of the batch to weigh.
    pub batch_grams: f64,
    /// What the balance shows last, in grams.
    pub step_grams: f64,
    /// How is searched.
    pub method: Method,
    /// Where the files are from that were read.
    pub store: &'a dyn Store,
}

/// Asks every question of a brief.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn gather<'a>(of: &'a Resolved, wanted: Wanted<'_>, control: &Control) -> Result<Dossier<'a>, Refusal> {
    let Resolved { problem, brief, limits, .. } = of;
    let method = wanted.method;
    let solution = questions::best(of, method, &control.with_share(0.4))?;
    let asked = propose::Asked { method, ..propose::Asked::default() };
    let propose::Answer { report: proposal, solution } = propose::explained(of, solution, &asked, control);
    let status = solution.status;
    let proposed = solution.answer.as_ref().map(|answer| answer.formula.clone());
    let formula = wanted.formula.cloned().or(proposed);
    let mut dossier = Dossier {
        problem,
        brief,
        proposal,
        subject: None,
        tradeoff: None,
        leeway: None,
        pushes: Vec::new(),
        starts: None,
        labels: Vec::new(),
        weigh: None,
        files: files(problem, brief, limits, &wanted),
    };
    let Some(formula) = formula else { return Ok(dossier) };
    let Ok(evaluation) = evaluate(problem, &formula) else { return Ok(dossier) };
    dossier.subject = Some(subject(problem, brief, &formula, &evaluation, &wanted));
    dossier.tradeoff = money(problem, brief, &solution, method, control)?;
    let asked = leeway::Asked { margin: MARGIN, any_doses: false, method, best: Some(&solution) };
    let found = leeway(problem, &formula, asked, control, &|_, _| {})?;
    let looked = Looked { formula: &formula, evaluation: &evaluation, given: wanted.formula };
    dossier.leeway = Some(LeewayReport::new(problem, brief, &looked, status, MARGIN, &found, Vec::new()));
    for material in strongest(problem, &formula) {
        dossier.pushes.push(pushed(problem, brief, material, method, control)?);
    }
    dossier.starts = several(problem, brief, solution, method, control)?;
    dossier.labels = labels(problem, limits, &evaluation);
    dossier.weigh = Some(weighed(problem, brief, &formula, wanted, Vec::new()));
    Ok(dossier)
}

fn subject(problem: &Problem, brief: &Brief, formula: &Formula, judged: &Evaluation, wanted: &Wanted<'_>) -> Subject {
    let (is_given, store) = (wanted.formula.is_some(), wanted.store);
    let named = formula.title.clone().filter(|title| !title.trim().is_empty());
    let file = formula.file.as_ref().map(|file| Fingerprint::of(store, file).name);
    Subject {
        name: if is_given { named.or(file).unwrap_or_default() } else { "the proposal".to_owned() },
        is_proposal: !is_given,
        formula: FormulaReport::new(problem, formula, Some(judged)).with_range(told_of(problem, formula).as_ref()),
        broken: broken(problem, brief, formula, false).into_iter().map(|it| it.sentence).collect(),
        care: Care::new(problem, &judged.neat_ppt),
    }
}

fn money(
    problem: &Problem,
    brief: &Brief,
    best: &Solution,
    method: Method,
    control: &Control,
) -> Result<Option<TradeoffReport>, Failure> {
    if !Axis::Price.without_price(problem).is_empty() {
        return Ok(None);
    }
    let asked = tradeoff::Asked { axis: Axis::Price, formulas: ALONG, method, known: Some(best) };
    let found = tradeoff(problem, asked, control, &|_, _| {})?;
    Ok(Some(TradeoffReport::new(problem, brief, &found, &Reasons::default(), None, Vec::new())))
}

/// The strongest materials of a formula, the strongest first.
fn strongest(problem: &Problem, formula: &Formula) -> Vec<usize> {
    let mut materials: Vec<usize> = formula.parts.iter().map(|(material, _)| *material).collect();
    materials.retain(|&material| problem.material(material).strength > 0.0);
    materials.sort_by(|&a, &b| problem.material(b).strength.total_cmp(&problem.material(a).strength).then(a.cmp(&b)));
    materials.truncate(PUSHED);
    materials
}

fn pushed(
    problem: &Problem,
    brief: &Brief,
    material: usize,
    method: Method,
    control: &Control,
) -> Result<PushReport, Failure> {
    let caps = caps(problem, brief, material, None);
    let asked = push::Asked { material, margin: MARGIN, many: false, method };
    let found = push(problem, &caps, asked, control, &|_, _| {})?;
    let subject = Pushed { material, margin: MARGIN, caps: &caps, let_in: None, in_full: false };
    Ok(PushReport::new(problem, brief, subject, &found, &Reasons::default(), Vec::new()))
}

fn several(
    problem: &Problem,
    brief: &Brief,
    best: Solution,
    method: Method,
    control: &Control,
) -> Result<Option<StartsReport>, Failure> {
    if best.answer.is_none() {
        return Ok(None);
    }
    let asked = starts::Asked { count: STARTS, margin: STARTS_MARGIN, seed: SEED };
    let found = starts(problem, asked, best, method, control, &|_, _| {})?;
    Ok(Some(StartsReport::new(problem, brief, asked, &found, &[], &Reasons::default(), Vec::new())))
}

fn labels(problem: &Problem, limits: &[Limits], judged: &Evaluation) -> Vec<LabelOf> {
    let of = |product: &crate::problem::FinishedProduct| {
        let plan = Plan {
            categories: product.categories.clone(),
            dosage_percent: product.dosage_percent?,
            accord_share_percent: product.accord_share_percent,
        };
        let allergens = || limits.iter().flat_map(|limits| &limits.allergens);
        let named = label(problem, limits, &plan, &judged.neat_ppt);
        let name = |it: &crate::balance::product::Named| limits[it.at.0].allergens[it.at.1].name.clone();
        Some(LabelOf {
            product: product.name.clone(),
            checked: allergens().any(|it| it.holding(&plan.categories).is_some()),
            named: named.iter().filter(|it| it.is_named).map(|it| (name(it), it.percent)).collect(),
        })
    };
    problem.products.iter().filter_map(of).collect()
}

/// The sheet to weigh a formula from.
pub fn weighed(
    problem: &Problem,
    brief: &Brief,
    formula: &Formula,
    wanted: Wanted<'_>,
    warnings: Vec<String>,
) -> WeighReport {
    let Wanted { batch_grams, step_grams, .. } = wanted;
    let asked = Asked { batch_grams, step_grams, least_grams: least_grams(step_grams, ERROR_PERCENT) };
    let sheet = sheet(&problem.palette, formula, asked);
    let trembled = tremble(problem, &sheet, step_grams, SEED);
    let weighing = Weighing {
        problem,
        brief: Some(brief),
        formula,
        asked,
        error_percent: Some(ERROR_PERCENT),
        sheet: &sheet,
        total: None,
        tremble: trembled.as_ref(),
        seed: SEED,
        unfolded: Vec::new(),
        taken: None,
        poured: None,
    };
    WeighReport::new(&weighing, warnings)
}

/// Every file that had a say.
fn files(problem: &Problem, brief: &Brief, limits: &[Limits], wanted: &Wanted<'_>) -> Vec<Fingerprint> {
    let mut paths = vec![brief.file.to_string(), problem.palette.file.to_string()];
    paths.extend(limits.iter().map(|limits| limits.file.to_string()));
    if let Some(TargetFrom::Formula(formula)) = &brief.target_from {
        paths.extend(formula.value.file.as_ref().map(ToString::to_string));
    }
    paths.extend(wanted.formula.and_then(|formula| formula.file.as_ref()).map(ToString::to_string));
    paths.iter().map(|path| Fingerprint::of(wanted.store, path)).collect()
}
