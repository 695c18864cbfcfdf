//! A formula at the stages of its brief.

use serde::Serialize;

use super::Ordered;
use super::broken::BrokenLine;
use super::strip::StageLine;
use crate::analysis::broken::Broken;
use crate::analysis::strip::dried;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::problem::check::{Checker, REPORT_TOLERANCE};
use crate::sentences::blotter;
use crate::tolerance::clocks::SAME;

/// One stage: what is left of the formula, by the clock of its own film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NamedStage {
    /// What the brief calls it.
    pub name: String,
    /// How much counts what is lost at it.
    pub weight: f64,
    /// The formula at it.
    #[serde(flatten)]
    pub line: StageLine,
    /// Strength of what is left, in percent of the first stage's; `kept` is of the moment of
    /// dipping.
    pub kept_of_first: f64,
    /// The clock by which the formula was sought and proven; `clock` is that of its own
    /// film.
    pub clock_assumed: Option<f64>,
    /// Its fidelity in percent by that clock.
    pub fidelity_assumed: Option<f64>,
}

/// A formula on paper, as the brief has it smelled.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OnPaper {
    /// Percent of the accord in what the blotter is dipped in.
    pub percent: f64,
    /// The same of what it was dipped in when tenacities were noted.
    pub lasting_percent: f64,
    /// g/m2 of the film that tenacities from vapour pressures go by; null where there is
    /// none of these.
    pub film_weight: Option<f64>,
    /// Hours until the film is gone.
    pub life_hours: f64,
    /// The stage that is missed most, by its name.
    pub worst: String,
    /// Materials of it of which the palette does not say how long they last.
    pub lasting_assumed: Vec<String>,
    /// Hours that each material lasts alone.
    pub lasting: Ordered<f64>,
    /// Rules of the stages that it breaks by the clock of its own film.
    pub broken: Vec<BrokenLine>,
    /// What the figures leave out, and what in them is assumed.
    pub notes: Vec<String>,
}

/// A formula at the stages of its problem; nothing where that has none.
pub fn stages(problem: &Problem, formula: &Formula) -> Option<(OnPaper, Vec<NamedStage>)> {
    let paper = problem.paper.as_ref()?;
    let hours: Vec<f64> = paper.stages.iter().map(|stage| stage.hours).collect();
    let dried = dried(problem, formula, &paper.blotter, &hours)?;
    let neat = problem.neat_ppt(formula);
    let mut order: Vec<usize> = (0..dried.materials.len()).collect();
    order.sort_by(|&a, &b| dried.gone_hours[a].total_cmp(&dried.gone_hours[b]));
    let own = problem.as_it_dries(formula);
    let worst = evaluate(&own, formula).ok().and_then(|it| own.views[it.worst].stage).unwrap_or_default();
    let assumed = evaluate(problem, formula).ok();
    let first = dried.moments.first().map_or(0.0, |moment| dried.strength_at(problem, &neat, &moment.left));
    let each = paper.stages.iter().zip(&dried.moments).enumerate();
    let lines = each.map(|(at, (stage, moment))| {
        let of_stage = assumed.iter().flat_map(|it| it.views.iter().zip(&problem.views));
        let of_stage = of_stage.filter(|(_, view)| view.stage == Some(at)).map(|(seen, _)| seen.fidelity_percent);
        let line = StageLine::new(problem, &dried, &order, moment, &neat);
        NamedStage {
            name: stage.name.clone(),
            weight: stage.weight,
            kept_of_first: if first > 0.0 { 100.0 * line.strength / first } else { 0.0 },
            line,
            clock_assumed: Some(paper.clocks[at]).filter(|clock| clock.is_finite()),
            fidelity_assumed: of_stage.reduce(f64::min),
        }
    });
    let breaches = Checker::new(&own).breaches(formula, REPORT_TOLERANCE).into_iter();
    let broken = breaches.filter(|breach| own.rules[breach.rule].kind.is_of_stages());
    let broken = broken.map(|breach| Broken::new(&own, formula, &breach).into()).collect();
    let name = |at: &usize| problem.material(dried.materials[*at]).name.clone();
    let unsaid: Vec<String> = order.iter().filter(|at| dried.tenacities[**at].is_assumed()).map(name).collect();
    let names: Vec<&str> = unsaid.iter().map(String::as_str).collect();
    let on_paper = OnPaper {
        percent: paper.blotter.percent,
        lasting_percent: paper.blotter.lasting_percent,
        film_weight: dried.film_weight,
        life_hours: dried.film.life_hours(),
        worst: paper.stages[worst].name.clone(),
        notes: blotter::notes(&names),
        lasting: order.iter().map(|at| (name(at), dried.tenacities[*at].hours)).collect(),
        lasting_assumed: unsaid,
        broken,
    };
    Some((on_paper, lines.collect()))
}

impl NamedStage {
    /// Whether the clock by which the formula was sought is that of its own film.
    pub fn clock_agrees(&self) -> bool {
        match (self.line.clock, self.clock_assumed) {
            (Some(own), Some(assumed)) => (own - assumed).abs() <= SAME * own.max(assumed),
            (own, assumed) => own == assumed,
        }
    }
}
