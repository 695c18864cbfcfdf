//! The report of `weigh`.

mod keys;

pub use keys::{
    AddLine, MixingLine, Overshoot, Remedy, Rounding, Simulation, TakenLine, TakenReport, TopUp, WayOut, WeighLine,
    WeighReport, WeighedProfile,
};

use super::broken::BrokenLine;
use super::head::SCHEMA;
use super::limits::Limits;
use super::{Care, IdleReport, UsualLine};
use crate::balance::dilution::{Mixing, dilution};
use crate::balance::overshoot::{self, WaysOut};
use crate::balance::record::{Taken, record};
use crate::balance::sheet::{Asked, Line, Sheet};
use crate::balance::stock::{cost, largest_batch, on_hand, smallest_batch};
use crate::balance::total::left_grams;
use crate::balance::tremble::{DRAWS, INSIDE_PERCENT, Tremble};
use crate::balance::vessel::Vessel;
use crate::batch::NAMELESS_CARRIER;
use crate::brief::Brief;
use crate::evaluate::{as_judged, evaluate};
use crate::formula::Formula;
use crate::number::tidy;
use crate::problem::Problem;
use crate::sentences;

/// A final mass: how much, and the carrier that fills up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Total {
    /// In grams.
    pub grams: f64,
    /// Index of the carrier; `None` where the palette has none.
    pub carrier: Option<usize>,
    /// The largest batch that fits, in grams.
    pub batch_that_fits: f64,
}

/// All that a sheet is reported from.
#[derive(Clone, Debug)]
pub struct Weighing<'a> {
    /// The brief's problem, or the formula's own.
    pub problem: &'a Problem,
    /// The brief, if there is one.
    pub brief: Option<&'a Brief>,
    /// The formula, adding up to 1000.
    pub formula: &'a Formula,
    /// What was asked.
    pub asked: Asked,
    /// The wanted error in percent; `None` for the pharmacopoeial rule.
    pub error_percent: Option<f64>,
    /// The sheet.
    pub sheet: &'a Sheet,
    /// A final mass, if one is wanted.
    pub total: Option<Total>,
    /// The simulation.
    pub tremble: Option<&'a Tremble>,
    /// Its seed.
    pub seed: u64,
    /// Bases that were replaced by what they are mixed from.
    pub unfolded: Vec<String>,
    /// What is taken from the stock, and materials of which nothing is, if that
    /// was asked for.
    pub taken: Option<(&'a [Taken], &'a [usize])>,
    /// Grams in the vessel of each line of the sheet, if any were named, and
    /// the ways out.
    pub poured: Option<(&'a [f64], Option<&'a WaysOut>)>,
}

impl WeighReport {
    /// The report of a sheet.
    pub fn new(it: &Weighing<'_>, warnings: Vec<String>) -> WeighReport {
        let palette = &it.problem.palette;
        let (poured, neat) = (it.sheet.poured_grams(), it.sheet.neat_grams());
        let top_up = it.total.map(|total| top_up(it, total, poured, neat));
        let more = it.total.zip(top_up.as_ref()).and_then(|(total, top)| Some((total.carrier?, top.left_grams)));
        let (cost, without_price) = cost(palette, it.sheet, more);
        let carriers = it.sheet.carriers().into_iter().map(|(name, grams)| (named(&name), grams));
        let Limits { limits, joints, advice } = Limits::new(it.problem, &in_vessel(it, &top_up));
        WeighReport {
            schema: SCHEMA,
            command: "weigh",
            title: it.formula.title.clone(),
            formula_file: it.formula.file.as_deref().unwrap_or_default().to_owned(),
            brief: it.brief.map(|brief| brief.file.to_string()),
            palette: palette.file.to_string(),
            scale: palette.scale,
            currency: palette.currency.clone(),
            matching: it.brief.map(|brief| brief.matching),
            seed: it.seed,
            basis: it.formula.basis,
            batch: it.asked.batch_grams,
            balance: it.asked.step_grams,
            error: it.error_percent,
            least: tidy(it.asked.least_grams),
            unfolded: it.unfolded.clone(),
            lines: lines(it),
            poured_grams: poured,
            neat_grams: neat,
            concentration_percent: tidy(100.0 * neat / poured),
            carriers: carriers.collect(),
            top_up,
            rounding: rounding(it),
            idle: IdleReport::new(it.problem, it.formula),
            profile: profile(it),
            simulation: it.tremble.map(|tremble| simulation(it, tremble)),
            smallest_batch: smallest_batch(palette, it.formula, it.asked.least_grams),
            largest_batch: largest_batch(palette, it.sheet, it.asked.batch_grams),
            cost,
            without_price,
            taken: it.taken.map(|(taken, passed)| taken_report(it, taken, passed)),
            overshoot: it.poured.map(|(grams, ways)| overshoot(it, grams, ways)),
            limits,
            joints,
            advice,
            care: care(it),
            warnings,
        }
    }
}

impl WeighReport {
    /// Which doses of the formula are outside their usual range, as a sentence;
    /// `None` where there are none.
    pub fn unusual_told(&self) -> Option<String> {
        let mark = |line: &WeighLine| line.usual.as_ref()?.mark();
        let marked = self.lines.iter().filter_map(|line| Some((line.material.as_str(), mark(line)?)));
        sentences::usual::told(&marked.collect::<Vec<_>>())
    }
}

/// Neat parts per thousand of accord of everything in the vessel, carriers
/// included: they have limits of their own.
fn in_vessel(it: &Weighing<'_>, top_up: &Option<TopUp>) -> Vec<f64> {
    let filled = top_up.as_ref().and_then(|top| Some((top.carrier.clone()?, top.left_grams)));
    Vessel::weighed(&record(it.sheet, filled)).neat_ppt(it.problem, &it.sheet.obtained())
}

fn taken_report(it: &Weighing<'_>, taken: &[Taken], passed: &[usize]) -> TakenReport {
    let name = |material: usize| it.problem.material(material).name.clone();
    let line = |taken: &Taken| TakenLine {
        material: name(taken.material),
        before: taken.before_grams,
        poured: taken.poured_grams,
        after: taken.after_grams(),
    };
    TakenReport {
        lines: taken.iter().map(line).collect(),
        not_counted: passed.iter().map(|&material| name(material)).collect(),
    }
}

/// A carrier's name; that of one without a name.
fn named(carrier: &str) -> String {
    if carrier.is_empty() { NAMELESS_CARRIER.to_owned() } else { carrier.to_owned() }
}

fn lines(it: &Weighing<'_>) -> Vec<WeighLine> {
    let doses = it.sheet.doses_ppt(&it.sheet.grams());
    let mut reading = 0.0;
    let line = |(line, dose): (&Line, &f64)| {
        reading = tidy(reading + line.grams);
        let material = it.problem.material(line.material);
        let stock = on_hand(&it.problem.palette, line);
        let below_least = line.pick.grams < it.asked.least_grams * (1.0 - 1e-9);
        WeighLine {
            material: material.name.clone(),
            cas: material.cas.as_ref().map(ToString::to_string),
            bottle_percent: line.pick.percent,
            bottle_carrier: line.pick.carrier.clone(),
            other_bottle: line.pick.bottle > 0,
            usual_percent: tidy(100.0 * material.usual_fraction()),
            grams: line.grams,
            reading,
            exact_grams: line.pick.grams,
            error_percent: tidy(50.0 * it.asked.step_grams / line.grams),
            below_least,
            parts: line.dose,
            parts_weighed: tidy(*dose),
            usual: UsualLine::new(it.problem, it.formula, line.material),
            handling: material.handling.clone(),
            stock,
            stock_missing: stock.map(|stock| tidy(line.grams - stock)).filter(|missing| *missing > 0.0),
            remedy: if below_least { remedy(it, line) } else { None },
        }
    };
    it.sheet.lines.iter().zip(&doses).map(line).collect()
}

/// The dilution to make; a carrier is not diluted.
fn remedy(it: &Weighing<'_>, line: &Line) -> Option<Remedy> {
    let material = it.problem.material(line.material);
    if material.is_carrier() {
        return None;
    }
    let Asked { least_grams, step_grams, .. } = it.asked;
    let made = dilution(line.neat(line.pick.grams), line.pick.percent, least_grams, step_grams)?;
    let first = it.problem.palette.materials.iter().find(|other| other.is_carrier()).map(|other| other.name.clone());
    let carrier = line.pick.carrier.clone().or(first).unwrap_or_else(|| "a carrier".to_owned());
    let mixing = |it: &Mixing| MixingLine {
        from_percent: it.from_percent,
        take_grams: it.take_grams,
        carrier_grams: it.carrier_grams,
        gives_percent: it.gives_percent,
    };
    let cas = material.cas.as_ref().map(|cas| cas.as_str());
    let label = sentences::notes::label(&material.name, cas, &crate::number::plain(made.percent), &carrier);
    let mixings = made.mixings.iter().map(mixing).collect();
    Some(Remedy { percent: made.percent, carrier, grams: made.grams, mixings, label })
}

fn top_up(it: &Weighing<'_>, total: Total, poured: f64, neat: f64) -> TopUp {
    let step = it.asked.step_grams;
    let left = total.grams - poured;
    let left_grams = left_grams(total.grams, poured, step);
    let reading = tidy(poured + left_grams);
    TopUp {
        total: total.grams,
        carrier: total.carrier.map(|carrier| it.problem.material(carrier).name.clone()),
        left_grams,
        // A rounding is not too much.
        too_much_grams: if left < -step * it.sheet.lines.len() as f64 / 2.0 { tidy(-left) } else { 0.0 },
        reading,
        concentration_percent: tidy(100.0 * neat / reading),
        batch_that_fits: total.batch_that_fits,
    }
}

fn rounding(it: &Weighing<'_>) -> Rounding {
    let problem = &as_judged(it.problem, it.formula);
    let judged = |formula: &Formula| it.brief.and_then(|_| evaluate(problem, formula).ok());
    let (wanted, weighed) = (judged(it.formula), judged(&it.sheet.obtained()));
    Rounding {
        share_distance: tidy(50.0 * it.sheet.distance),
        proven: it.sheet.proven,
        fidelity_wanted: wanted.as_ref().map(|it| it.fidelity_percent),
        fidelity_weighed: weighed.as_ref().map(|it| it.fidelity_percent),
        second_wanted: wanted.as_ref().map(|it| it.second_opinion.fidelity_percent),
        second_weighed: weighed.as_ref().map(|it| it.second_opinion.fidelity_percent),
    }
}

fn profile(it: &Weighing<'_>) -> Vec<WeighedProfile> {
    let problem = &as_judged(it.problem, it.formula);
    let judged = |formula: &Formula| evaluate(problem, formula).ok();
    let (Some(wanted), Some(weighed), Some(tremble)) = (judged(it.formula), judged(&it.sheet.obtained()), it.tremble)
    else {
        return Vec::new();
    };
    let line = |(at, target): (usize, &crate::problem::Target)| WeighedProfile {
        descriptor: problem.palette.descriptors[target.descriptor].name.clone(),
        wanted: wanted.profile[at],
        weighed: weighed.profile[at],
        low: tremble.profile[at].0,
        high: tremble.profile[at].1,
    };
    let lines = problem.targets.iter().enumerate().map(line);
    // What the formula does not smell of cannot tremble.
    lines.filter(|line| line.wanted > 0.0 || line.weighed > 0.0).collect()
}

fn simulation(it: &Weighing<'_>, tremble: &Tremble) -> Simulation {
    let of_lines = |line: &WeighedProfile| (line.weighed - line.low).max(line.high - line.weighed);
    let (low, high) = tremble.fidelity_percent;
    Simulation {
        draws: DRAWS,
        inside_percent: INSIDE_PERCENT,
        fidelity_low: it.brief.map(|_| low),
        fidelity_high: it.brief.map(|_| high),
        widest: profile(it).iter().map(of_lines).fold(0.0, f64::max),
    }
}

fn overshoot(it: &Weighing<'_>, poured: &[f64], ways: Option<&WaysOut>) -> Overshoot {
    let vessel = || it.sheet.lines.iter().zip(poured).filter(|(_, grams)| **grams > 0.0);
    let name = |line: &Line| it.problem.material(line.material).name.clone();
    let way = |way: &overshoot::WayOut, in_vessel: &dyn Fn(usize) -> f64| WayOut {
        batch: way.batch_grams,
        lines: adds(it, &way.sheet, in_vessel),
        share_distance: tidy(50.0 * way.distance),
        fidelity: it
            .brief
            .and_then(|_| evaluate(&as_judged(it.problem, it.formula), &way.sheet.obtained()).ok())
            .map(|it| it.fidelity_percent),
        cost: cost(&it.problem.palette, &way.sheet, None).0,
        broken: way.broken.iter().cloned().map(BrokenLine::from).collect(),
    };
    let held = |material: usize| vessel().filter(|(line, _)| line.material == material).map(|(_, grams)| *grams).sum();
    Overshoot {
        in_vessel: vessel().map(|(line, grams)| (name(line), *grams)).collect(),
        is_over: ways.is_some(),
        larger: ways.map(|ways| way(&ways.larger, &held)),
        same: ways.and_then(|ways| Some(way(ways.same.way.as_ref()?, &held))),
        same_status: ways.map(|ways| ways.same.status),
        same_conflict: ways.iter().flat_map(|ways| &ways.same.conflict).cloned().map(BrokenLine::from).collect(),
        fresh: ways.map(|ways| way(&ways.fresh, &|_| 0.0)),
        wasted_grams: tidy(poured.iter().sum()),
        wasted_cost: ways.and_then(|ways| ways.wasted_cost),
    }
}

/// What is poured still, beside so many grams of each material in the vessel.
fn adds(it: &Weighing<'_>, sheet: &Sheet, in_vessel: &dyn Fn(usize) -> f64) -> Vec<AddLine> {
    let mut reading: f64 = sheet.lines.iter().map(|line| in_vessel(line.material)).sum();
    let doses = sheet.doses_ppt(&sheet.grams());
    let line = |(line, dose): (&Line, &f64)| {
        let add_grams = tidy(line.grams - in_vessel(line.material));
        reading = tidy(reading + add_grams);
        AddLine {
            material: it.problem.material(line.material).name.clone(),
            bottle_percent: line.pick.percent,
            add_grams,
            reading,
            grams: line.grams,
            parts_weighed: tidy(*dose),
        }
    };
    sheet.lines.iter().zip(&doses).map(line).collect()
}

fn care(it: &Weighing<'_>) -> Care {
    let neat = it.problem.neat_ppt(it.formula);
    let care = Care::new(it.problem, &neat);
    if it.brief.is_some() {
        return care;
    }
    Care { not_checked: vec![sentences::care::NO_BRIEF.to_owned()], ..care }
}
