//! What must hold of every answer to every brief.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use permil::analysis::broken::broken;
use permil::analysis::check::{Check, Verdict};
use permil::analysis::explain::Explanation;
use permil::analysis::repair::Reasons;
use permil::control::Control;
use permil::escape::steers;
use permil::evaluate::evaluate;
use permil::files::{self, Scenario, load_formula, save_formula};
use permil::formats::{Format, Report, render};
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE, SEARCH_TOLERANCE};
use permil::results::check::CheckReport;
use permil::results::compare::CompareReport;
use permil::results::propose::ProposeReport;
use permil::solve::backend::Backend;
use permil::solve::{Feasibility, Method, Solution, Start, Status, feasibility, propose, propose_from};
use permil::text::Page;
use permil::units::Ppt;

use crate::briefs;
use crate::campaign::Case;
use crate::folder::Folder;
use crate::judge_files::must;
use crate::plain::Facts;
use crate::support::listing::{choice_count, least_loss};
use crate::support::program;

/// Losses that differ by less than this times max(1, loss) are the same:
/// twice what an optimum may fall short of its bound.
const SAME: f64 = 2e-6;
/// What rounding may do to a loss, relative to max(1, loss).
const ROUNDING: f64 = 1e-9;
/// A formula that passes a rule by no more than rounding keeps it.
const KEPT: f64 = 1e-12;
/// A rule that is passed by more than this part of its size is passed, and not
/// by rounding: in a corner as narrow as that a continuous answer may beat what
/// is proven of those that keep every rule.
const EXACT: f64 = 1e-14;
/// Choices of doses that can be listed in no time.
const FEW: usize = 60_000;

/// How often each thing came up, so that a run can tell whether it tried
/// what it was meant to.
pub static TALLY: Tally = Tally([const { AtomicU64::new(0) }; 8]);

/// Counters with names.
pub struct Tally([AtomicU64; 8]);

impl Tally {
    const NAMES: [&str; 8] =
        ["refused", "optimal", "feasible", "infeasible", "unknown", "open before the limit", "listed", "with witness"];

    fn count(&self, name: &str) -> u64 {
        let at = Self::NAMES.iter().position(|own| *own == name).unwrap();
        self.0[at].fetch_add(1, Ordering::Relaxed)
    }

    /// All the counts in words.
    pub fn words(&self) -> String {
        let counts =
            Self::NAMES.iter().zip(&self.0).map(|(name, count)| format!("{name} {}", count.load(Ordering::Relaxed)));
        counts.collect::<Vec<_>>().join(", ")
    }

    /// One of the counts.
    pub fn get(&self, name: &str) -> u64 {
        self.0[Self::NAMES.iter().position(|own| *own == name).unwrap()].load(Ordering::Relaxed)
    }
}

/// Judges a made-up brief.
pub fn judge(case: &briefs::Scenario, nodes: u64) -> Result<(), String> {
    judge_files(&case.folder(), Some(case), nodes)
}

/// Judges the files of a brief.
pub fn judge_folder(folder: &Folder, nodes: u64) -> Result<(), String> {
    judge_files(folder, None, nodes)
}

fn judge_files(folder: &Folder, drawn: Option<&briefs::Scenario>, nodes: u64) -> Result<(), String> {
    let place = tempfile::tempdir().map_err(|error| error.to_string())?;
    folder.write(place.path());
    match files::load_scenario(&place.path().join("brief.toml")) {
        Ok(scenario) => judge_scenario(&scenario, drawn, place.path(), nodes, true),
        Err(_) if drawn.is_some() => {
            TALLY.count("refused");
            Ok(())
        }
        Err(faults) => Err(format!("it does not load:\n{faults}")),
    }
}

/// Judges a brief that loads. `drawn` is what it was made from, for a
/// judgement that knows nothing of the crate; with `thorough` the costly
/// questions are asked too.
pub fn judge_scenario(
    scenario: &Scenario,
    drawn: Option<&briefs::Scenario>,
    place: &Path,
    nodes: u64,
    thorough: bool,
) -> Result<(), String> {
    let problem = Problem::new(scenario.palette.clone(), &scenario.brief, &scenario.limits);
    let control = Control { node_limit: Some(nodes), threads: Some(1), ..Control::default() };
    let judge = Judge { problem: &problem, scenario, drawn, checker: Checker::new(&problem) };
    let witness = judge.witness(place)?;

    let mut solutions = Vec::new();
    for method in [Method::Auto, Method::Search, Method::Borrowed(Backend::Clarabel)] {
        match propose(&problem, method, &control) {
            Ok(solution) => {
                judge.solution(&solution).map_err(|why| format!("{method:?}: {why}"))?;
                solutions.push((method, solution));
            }
            Err(permil::solve::Failure::Unsupported(_)) if method == Method::Borrowed(Backend::Clarabel) => {}
            Err(failure) => return Err(format!("{method:?} fails: {failure}")),
        }
    }
    let auto = solutions[0].1.clone();
    let number = TALLY.count(auto.status.word());
    if matches!(auto.status, Status::Feasible | Status::Unknown) && auto.nodes < nodes {
        TALLY.count("open before the limit");
    }
    agree(&judge.checker, &solutions)?;
    if let Some(witness) = &witness {
        TALLY.count("with witness");
        let loss = evaluate(&problem, witness).map_err(|error| error.to_string())?.loss;
        for (method, solution) in &solutions {
            allows(solution, loss, "the formula the brief was made around")
                .map_err(|why| format!("{method:?}: {why}"))?;
        }
    }
    judge.neighbours(&auto)?;
    if let Some(choices) = choice_count(&problem)
        && choices <= FEW
    {
        TALLY.count("listed");
        judge.listing(&auto)?;
    }
    match feasibility(&problem, &control) {
        Feasibility::Possible(formula) => {
            judge.kept(&formula)?;
            must!(auto.status != Status::Infeasible, "a formula is found where none is said to be");
        }
        Feasibility::Impossible => {
            must!(auto.answer.is_none() && witness.is_none(), "none is said to be where one is found")
        }
        Feasibility::Unknown => {}
    }
    // What takes solving again is asked of some.
    let explanation = match auto.status {
        Status::Infeasible if thorough => Explanation { reasons: judge.reasons(&control)?, ..Explanation::default() },
        _ => Explanation::of(&problem, &auto, number.is_multiple_of(5) && thorough, Method::Auto, &soon(&control)),
    };
    judge.report(&auto, &explanation)?;
    if number.is_multiple_of(5) && thorough {
        judge.looked_at(&auto, witness.as_ref(), &soon(&control))?;
    }
    judge.started(&auto, witness.as_ref(), &control)?;
    judge.compared(&auto, witness.as_ref())?;
    if let Some(answer) = &auto.answer {
        let path = place.join("saved.toml");
        save_formula(&path, &answer.formula, &problem.palette, true).map_err(|error| error.to_string())?;
        let read = load_formula(&path, &problem.palette).map_err(|faults| faults.to_string())?;
        must!(read.parts == answer.formula.parts, "the saved formula is read as {:?}", read.parts);
    }
    // The program itself says the same; starting it takes a while.
    if number.is_multiple_of(25) && thorough {
        by_program(place, &auto, nodes)?;
    }
    Ok(())
}

/// The same, with little time: questions that solve many times over.
fn soon(control: &Control) -> Control {
    Control { deadline: None, ..control.clone() }.within(Duration::from_secs(2))
}

/// Whether a solution allows that there is a formula with this loss.
fn allows(solution: &Solution, loss: f64, whose: &str) -> Result<(), String> {
    must!(solution.status != Status::Infeasible, "infeasible, but {whose} keeps every rule");
    let slack = ROUNDING * loss.max(1.0);
    let bound = solution.bound.unwrap_or(f64::INFINITY);
    must!(bound <= loss + slack, "the bound {bound} lies above {loss}, the loss of {whose}");
    let best = solution.answer.as_ref().map_or(0.0, |answer| answer.evaluation.loss);
    let proven = solution.status == Status::Optimal;
    must!(!proven || best <= loss + SAME / 2.0 * loss.max(1.0) + slack, "{best} is not best: {whose} has {loss}");
    Ok(())
}

/// No two methods contradict each other.
fn agree(checker: &Checker, solutions: &[(Method, Solution)]) -> Result<(), String> {
    for (method, one) in solutions {
        for (other, two) in solutions {
            if let Some(answer) = &two.answer
                && checker.breaches(&answer.formula, EXACT).is_empty()
            {
                let whose = format!("the answer of {other:?}");
                allows(one, answer.evaluation.loss, &whose).map_err(|why| format!("{method:?}: {why}"))?;
            }
        }
    }
    Ok(())
}

struct Judge<'a> {
    problem: &'a Problem,
    scenario: &'a Scenario,
    drawn: Option<&'a briefs::Scenario>,
    checker: Checker<'a>,
}

impl Judge<'_> {
    /// The formula that the brief was made around, where it keeps every rule.
    fn witness(&self, place: &Path) -> Result<Option<Formula>, String> {
        let path = place.join("witness.toml");
        if !path.exists() {
            return Ok(None);
        }
        let Ok(formula) = load_formula(&path, &self.problem.palette) else { return Ok(None) };
        self.same_judgement(&formula)?;
        let kept = formula.sum() == Ppt::WHOLE
            && self.checker.breaches(&formula, KEPT).is_empty()
            && broken(self.problem, &self.scenario.brief, &formula, false).is_empty()
            && evaluate(self.problem, &formula).is_ok();
        Ok(kept.then_some(formula))
    }

    /// The crate and plain arithmetic find the same numbers and the same
    /// broken rules.
    fn same_judgement(&self, formula: &Formula) -> Result<(), String> {
        let (Some(drawn), Ok(evaluation)) = (self.drawn, evaluate(self.problem, formula)) else { return Ok(()) };
        let mut doses = vec![0; drawn.materials.len()];
        formula.parts.iter().for_each(|&(material, dose)| doses[material] = dose.units());
        let facts = Facts::new(drawn, &doses);
        let same = |what: &str, crates: f64, own: f64| {
            let near = (crates - own).abs() <= 1e-9 * own.abs().max(1e-9);
            if near { Ok(()) } else { Err(format!("{what} is {crates}, by plain arithmetic {own}")) }
        };
        same("strength", evaluation.strength, facts.strength)?;
        same("price", evaluation.price_per_kg.unwrap_or(facts.price), facts.price)?;
        must!(evaluation.price_per_kg.is_some() == facts.is_priced, "the price is {:?}", evaluation.price_per_kg);
        let size = self.problem.worst_loss().max(facts.loss);
        must!((evaluation.loss - facts.loss).abs() <= 1e-9 * size, "loss {} and {}", evaluation.loss, facts.loss);
        must!((evaluation.fidelity_percent - facts.fidelity).abs() <= 1e-6, "fidelity {}", evaluation.fidelity_percent);

        let found = broken(self.problem, &self.scenario.brief, formula, false);
        let found: BTreeSet<String> = found.iter().map(|broken| broken.rule.to_string()).collect();
        let left_out = |id: &str| id == "only" || id == "own_only" || id.ends_with(".never");
        let rules = facts.rules(drawn, &doses);
        for (id, by) in &rules {
            let is_found = found.contains(id.as_str()) || left_out(id) && found.iter().any(|id| left_out(id));
            must!(*by <= 1e-5 || is_found, "{id} is broken by {by}, and is not found");
        }
        for id in &found {
            let by = rules.iter().filter(|(own, _)| own == id || left_out(own) && left_out(id)).map(|(_, by)| *by);
            let most = by.fold(f64::NEG_INFINITY, f64::max);
            must!(most > -1e-12, "{id} is said to be broken, and is kept by {}", -most);
        }
        Ok(())
    }

    /// A formula that is an answer keeps every rule.
    fn kept(&self, formula: &Formula) -> Result<(), String> {
        must!(formula.sum() == Ppt::WHOLE, "the parts add up to {}", formula.sum());
        must!(formula.basis == self.problem.basis, "a formula of the other basis");
        let breaches = self.checker.breaches(formula, REPORT_TOLERANCE);
        let ids: Vec<String> = breaches.iter().map(|breach| self.problem.rules[breach.rule].id.to_string()).collect();
        must!(ids.is_empty(), "the formula breaks {ids:?}");
        let broken = broken(self.problem, &self.scenario.brief, formula, false);
        must!(broken.is_empty(), "the formula breaks {broken:?}");
        self.same_judgement(formula)
    }

    fn solution(&self, solution: &Solution) -> Result<(), String> {
        let Some(answer) = &solution.answer else {
            must!(
                matches!(solution.status, Status::Infeasible | Status::Unknown),
                "{:?} without a formula",
                solution.status
            );
            must!(
                (solution.status == Status::Infeasible) == solution.bound.is_none(),
                "{:?}, bound {:?}",
                solution.status,
                solution.bound
            );
            return Ok(());
        };
        self.kept(&answer.formula)?;
        let again = evaluate(self.problem, &answer.formula).map_err(|error| error.to_string())?;
        must!(again == answer.evaluation, "judged again, it is {again:?} instead of {:?}", answer.evaluation);
        let (loss, Some(bound)) = (again.loss, solution.bound) else { return Err("a formula without a bound".into()) };
        must!(loss.is_finite() && loss >= 0.0, "a loss of {loss}");
        must!((0.0..=loss).contains(&bound), "a bound of {bound} and a loss of {loss}");
        let proven = loss - bound <= 1e-6 * loss.max(1.0);
        must!(
            solution.status == if proven { Status::Optimal } else { Status::Feasible },
            "{loss}, {bound}, {:?}",
            solution.status
        );
        Ok(())
    }

    /// Moving a little from one material to another gives no better formula
    /// than a proven one, and none below the bound.
    fn neighbours(&self, solution: &Solution) -> Result<(), String> {
        let Some(answer) = &solution.answer else { return Ok(()) };
        let domains = self.problem.domains();
        let amounts: Vec<Ppt> = [1e-6, 0.001, 0.1, 1.0, 10.0, 50.0, 100.0].map(Ppt::from_ppt).to_vec();
        let columns = domains.len().min(12);
        for (give, _) in answer.formula.parts.iter().take(8) {
            for take in (0..columns).filter(|take| take != give && domains[*take].is_ok()) {
                for amount in amounts.iter().copied().chain([answer.formula.dose(*give)]) {
                    let mut doses: Vec<Ppt> = (0..domains.len()).map(|i| answer.formula.dose(i)).collect();
                    doses[*give] = doses[*give] - amount;
                    doses[take] = doses[take] + amount;
                    if doses[*give] < Ppt::ZERO {
                        continue;
                    }
                    let formula = Formula::from_doses(self.problem.basis, &doses);
                    if self.checker.breaches(&formula, KEPT).is_empty()
                        && let Ok(evaluation) = evaluate(self.problem, &formula)
                    {
                        allows(solution, evaluation.loss, &format!("a neighbour, {:?}", formula.parts))?;
                    }
                }
            }
        }
        Ok(())
    }

    fn listing(&self, solution: &Solution) -> Result<(), String> {
        // A search may rule out what passes a rule by more than rounding, and
        // may also take it: it is within the tolerance.
        let best = least_loss(self.problem, KEPT);
        if best.is_finite() {
            return allows(solution, best, "the best of all formulas");
        }
        let nearly = least_loss(self.problem, SEARCH_TOLERANCE);
        must!(solution.answer.is_none() || nearly.is_finite(), "a formula where listing finds none");
        Ok(())
    }

    /// Conflicts are conflicts, and none of their rules is there for nothing.
    fn reasons(&self, control: &Control) -> Result<Reasons, String> {
        let reasons = Reasons::of(self.problem, &soon(control));
        // One stretch of time for all of them.
        let checked = soon(control);
        let id = |rule: &usize| self.problem.rules[*rule].id.to_string();
        for conflict in &reasons.conflicts {
            let ids: Vec<String> = conflict.rules.iter().map(id).collect();
            let together = feasibility(&self.problem.with_rules(|rule| conflict.rules.contains(&rule)), &checked);
            must!(!matches!(together, Feasibility::Possible(_)), "{ids:?} can stand together");
            for &left_out in &conflict.rules {
                let others = self.problem.with_rules(|rule| rule != left_out && conflict.rules.contains(&rule));
                let possible = feasibility(&others, &checked);
                must!(!matches!(possible, Feasibility::Impossible), "{} is not needed in {ids:?}", id(&left_out));
            }
        }
        for repair in &reasons.repairs {
            let mended = feasibility(&self.problem.with_changes(&repair.changes), &checked);
            must!(!matches!(mended, Feasibility::Impossible), "{:?} does not mend it", repair.changes);
        }
        Ok(reasons)
    }

    /// A look at the brief agrees with the search, and its ranges hold what
    /// formulas have.
    fn looked_at(&self, auto: &Solution, witness: Option<&Formula>, control: &Control) -> Result<(), String> {
        let check = Check::of(self.problem, control);
        match check.verdict {
            Verdict::Possible => must!(auto.status != Status::Infeasible, "check says that the rules can be kept"),
            Verdict::Contradictory => {
                must!(auto.answer.is_none() && witness.is_none(), "check says that the rules contradict each other");
            }
            Verdict::Unknown => {}
        }
        let report = CheckReport::new(self.problem, &self.scenario.brief, &check, Vec::new());
        let json = self.formats(&report)?;
        let formulas = auto.answer.iter().map(|answer| &answer.formula).chain(witness);
        // In a narrow corner what passes a rule by less than its tolerance lies
        // outside of what keeps every rule by more than rounding.
        for formula in formulas.filter(|formula| self.checker.breaches(formula, EXACT).is_empty()) {
            let evaluation = evaluate(self.problem, formula).map_err(|error| error.to_string())?;
            for (at, points) in evaluation.profile.iter().enumerate() {
                let line = &json["ranges"][at];
                let end =
                    |key: &str, unless: f64| line[key].as_f64().filter(|_| line["proven"] == true).unwrap_or(unless);
                let slack = 1e-6 * points.max(1.0);
                let inside = end("low", 0.0) - slack <= *points && *points <= end("high", f64::INFINITY) + slack;
                must!(inside, "{points} lies outside the range {line}");
            }
        }
        Ok(())
    }

    /// The report says what was found, in every format.
    fn report(&self, solution: &Solution, explanation: &Explanation) -> Result<(), String> {
        let report = ProposeReport::new(self.problem, &self.scenario.brief, solution, explanation, Vec::new());
        let json = self.formats(&report)?;
        must!(json["status"] == solution.status.word(), "status {}", json["status"]);
        let number = |key: &str| json[key].as_f64();
        let evaluation = solution.answer.as_ref().map(|answer| &answer.evaluation);
        must!(number("loss") == evaluation.map(|it| it.loss), "loss {}", json["loss"]);
        must!(number("fidelity") == evaluation.map(|it| it.fidelity_percent), "fidelity {}", json["fidelity"]);
        must!(number("bound") == solution.bound, "bound {} for {:?}", json["bound"], solution.bound);
        must!(number("price") == evaluation.and_then(|it| it.price_per_kg), "price {}", json["price"]);
        if let Some(answer) = &solution.answer {
            let parts = json["formula"]["parts"].as_object().ok_or("no parts")?;
            let doses = parts.values().map(|dose| dose.as_f64().map(Ppt::from_ppt));
            let sum: Option<Ppt> = doses.sum();
            must!(sum == Some(Ppt::WHOLE), "the parts of the report add up to {sum:?}");
            must!(parts.len() == answer.formula.parts.len(), "{} parts", parts.len());
        }
        Ok(())
    }

    /// All formats can be shown; returns the JSON.
    fn formats(&self, report: &impl Report) -> Result<serde_json::Value, String> {
        for page in [Page::default(), Page { width: 60, colour: true, full: true, ..Page::default() }] {
            let text = render(report, Format::Text, &page);
            let plain = |c: char| c == '\n' || page.colour && c == '\u{1b}';
            must!(!text.chars().any(|c| steers(c) && !plain(c)), "a text that steers a terminal: {text:?}");
            let longest = text.lines().map(|line| line.chars().count()).max().unwrap_or(0);
            let is_tame = self.drawn.is_some_and(|drawn| drawn.materials[0].name == "M0");
            must!(page.colour || !is_tame || longest <= page.width, "{longest} columns in\n{text}");
            // The folder of a test may be called anything.
            let without = text.replace(&*self.scenario.brief.file, "");
            let nothing = ["NaN", "inf "].iter().find(|word| without.contains(**word));
            must!(!is_tame || nothing.is_none(), "{nothing:?} in\n{text}");
        }
        let csv = render(report, Format::Csv, &Page::default());
        must!(!csv.is_empty(), "an empty table");
        let json = render(report, Format::Json, &Page::default());
        must!(!json.chars().any(|c| c != '\n' && steers(c)), "JSON that steers a terminal");
        serde_json::from_str(&json).map_err(|error| format!("{error} in {json}"))
    }

    /// What is known beforehand changes the way, not the answer.
    fn started(&self, auto: &Solution, witness: Option<&Formula>, control: &Control) -> Result<(), String> {
        let formulas = auto.answer.iter().map(|answer| &answer.formula).chain(witness).cloned().collect();
        let start = Start { formulas, bound: auto.bound.unwrap_or(0.0), ..Start::default() };
        let solution =
            propose_from(self.problem, &start, Method::Search, control).map_err(|error| error.to_string())?;
        self.solution(&solution).map_err(|why| format!("started from an answer: {why}"))?;
        if let Some(answer) = &auto.answer {
            allows(&solution, answer.evaluation.loss, "what it started from")?;
            must!(solution.answer.is_some(), "what it started from is lost");
        }
        let pair = [(Method::Auto, auto.clone()), (Method::Search, solution)];
        agree(&self.checker, &pair).map_err(|why| format!("started from an answer: {why}"))
    }

    /// A comparison judges as the evaluation and the checker do.
    fn compared(&self, auto: &Solution, witness: Option<&Formula>) -> Result<(), String> {
        let mut formulas: Vec<Formula> = auto.answer.iter().map(|answer| answer.formula.clone()).collect();
        formulas.extend(witness.cloned());
        if let Some(first) = formulas.first().cloned() {
            let other = match first.basis {
                permil::brief::Basis::Neat => permil::brief::Basis::Bottle,
                permil::brief::Basis::Bottle => permil::brief::Basis::Neat,
            };
            let doubled = first.parts.iter().map(|&(material, dose)| (material, dose + dose)).collect();
            formulas.push(Formula { basis: other, ..first.clone() });
            formulas.push(Formula { parts: doubled, ..first });
        }
        let everything = self.problem.palette.materials.len() as i64;
        let parts = (0..everything).map(|i| (i as usize, Ppt::from_units((i + 1) * 7_000_000_001))).collect();
        formulas.push(Formula { file: None, title: None, basis: self.problem.basis, parts });
        for rescale in [false, true] {
            let report = CompareReport::new(self.problem, &self.scenario.brief, &formulas, rescale, Vec::new());
            let json = self.formats(&report)?;
            for (index, formula) in formulas.iter().enumerate() {
                let compared = &json["formulas"][index];
                if formula.basis != self.problem.basis || formula.sum() != Ppt::WHOLE {
                    must!(rescale || formula.sum() == Ppt::WHOLE || compared["loss"].is_null(), "judged though unused");
                    continue;
                }
                let loss = evaluate(self.problem, formula).ok().map(|it| it.loss);
                must!(compared["loss"].as_f64() == loss, "compare says {}, not {loss:?}", compared["loss"]);
                let broken = broken(self.problem, &self.scenario.brief, formula, false);
                let listed = compared["broken"].as_array().map(Vec::len);
                must!(listed == Some(broken.len()), "compare lists {}, not {broken:?}", compared["broken"]);
            }
        }
        let rescaled = formulas.last().map(Formula::rescaled).ok_or("no formula")?;
        must!(rescaled.sum() == Ppt::WHOLE, "rescaled to {}", rescaled.sum());
        self.same_judgement(&rescaled)
    }
}

/// The built program on the same files: the same status and the same loss, and
/// from no command anything but an answer.
fn by_program(place: &Path, auto: &Solution, nodes: u64) -> Result<(), String> {
    let path = |name: &str| place.join(name).to_string_lossy().into_owned();
    let (brief, witness, nodes) = (path("brief.toml"), path("witness.toml"), nodes.to_string());
    // The reasons of an infeasible brief have no limit but the time.
    let seconds = if auto.status == Status::Infeasible { "2" } else { "100000" };
    let limits = ["--format", "json", "--node-limit", &nodes, "--threads", "1", "--time-limit"];
    let with = |words: &[&str], seconds: &str| program::permil(&[words, &limits, &[seconds]].concat());
    let ran = with(&["propose", &brief, "--no-worth"], seconds);
    let status = match auto.status {
        Status::Optimal | Status::Feasible => 0,
        Status::Infeasible => 1,
        Status::Unknown => 3,
    };
    must!(ran.status == status, "exit status {} for {:?}: {}", ran.status, auto.status, ran.stderr);
    let json = ran.json();
    must!(json["status"] == auto.status.word(), "the program says {}", json["status"]);
    let loss = auto.answer.as_ref().map(|answer| answer.evaluation.loss);
    must!(json["loss"].as_f64() == loss, "the program says {}, not {loss:?}", json["loss"]);

    let mut runs = vec![with(&["propose", &brief], "2"), with(&["check", &brief], "2"), with(&["buy", &brief], "2")];
    if place.join("witness.toml").exists() {
        let text = std::fs::read_to_string(&witness).unwrap_or_default();
        let names = text.lines().filter_map(|line| line.split_once(" = ")).skip(1);
        let first = names.map(|(name, _)| name.trim_matches('"')).find(|name| !name.contains('\\')).unwrap_or("M0");
        runs.push(with(&["replace", &brief, &witness, "--out", first, "--rescale", "--free", "1"], "2"));
        runs.push(program::permil(&["compare", &brief, &witness, "--rescale"]));
    }
    for ran in runs {
        must!((0..=3).contains(&ran.status), "exit status {}: {}", ran.status, ran.stderr);
        must!(!ran.stderr.contains("internal") && !ran.stderr.contains("panic"), "{}", ran.stderr);
    }
    Ok(())
}
