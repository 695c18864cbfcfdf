//! Too much of something is in the vessel: what can be done about it.
//!
//! Three ways lead out: a larger batch that holds the formula, the same batch
//! solved again with what is in the vessel, and a fresh start. Each is held
//! against the rules of the brief, the stock and the least mass that the
//! balance weighs well; what it breaks stands beside it.

use std::sync::Arc;

use super::bottle::{pick, weakest_percent};
use super::sheet::{Asked, Line, Sheet, weighed};
use super::stock::{cost, on_hand};
use crate::analysis::basis::in_basis;
use crate::analysis::broken::{Broken, broken};
use crate::analysis::conflict::conflicts;
use crate::brief::{Basis, Brief};
use crate::control::Control;
use crate::formula::Formula;
use crate::number::tidy;
use crate::place::Place;
use crate::problem::check::{Checker, REPORT_TOLERANCE};
use crate::problem::{DoseKey, Problem, Rule, RuleId, RuleKind, Subject};
use crate::solve::shares::nearest_shares;
use crate::solve::{Failure, Method, Status, propose};
use crate::units::Ppt;

/// How much of the time the same batch may take; the rest is for the reasons
/// where there is none.
const FOR_SAME: f64 = 0.7;

/// What was being weighed when too much was poured.
#[derive(Clone, Copy, Debug)]
pub struct Spill<'a> {
    /// The brief's problem, or the formula's own.
    pub problem: &'a Problem,
    /// The brief, if there is one.
    pub brief: Option<&'a Brief>,
    /// The formula, adding up to 1000.
    pub formula: &'a Formula,
    /// Its sheet.
    pub sheet: &'a Sheet,
    /// What was asked.
    pub asked: Asked,
    /// Grams in the vessel of each line of the sheet, from its bottle.
    pub poured: &'a [f64],
}

/// The ways out.
#[derive(Clone, Debug)]
pub struct WaysOut {
    /// A larger batch that holds the formula.
    pub larger: WayOut,
    /// The batch that was meant, solved again with what is in the vessel.
    pub same: SameBatch,
    /// A fresh start: the sheet as it was, in another vessel.
    pub fresh: WayOut,
    /// What is in the vessel, in grams: a fresh start wastes it.
    pub wasted_grams: f64,
    /// What that cost; `None` where a price is missing.
    pub wasted_cost: Option<f64>,
}

/// One way out.
#[derive(Clone, Debug)]
pub struct WayOut {
    /// The batch in grams.
    pub batch_grams: f64,
    /// What is in the vessel in the end.
    pub sheet: Sheet,
    /// Sum of absolute differences of the odour shares from the formula, from 0
    /// to 2.
    pub distance: f64,
    /// Rules of the brief, stocks and least masses that it breaks.
    pub broken: Vec<Broken>,
}

/// What came of the same batch.
#[derive(Clone, Debug)]
pub struct SameBatch {
    /// How sure it is that nothing in this batch is nearer: to the target of
    /// the brief within its rules, or without one to the formula's odour shares.
    pub status: Status,
    /// The way; `None` where there is none, or none was found.
    pub way: Option<WayOut>,
    /// Where there is none: rules that what is in the vessel does not let stand
    /// together, as far as they were found in time.
    pub conflict: Vec<Broken>,
}

/// The ways out; `None` where no line has too much.
///
/// # Errors
/// Where a result of the search failed its check.
pub fn ways_out(spill: &Spill<'_>, control: &Control) -> Result<Option<WaysOut>, Failure> {
    let Spill { sheet, asked, poured, .. } = *spill;
    let is_over = |at: usize| poured[at] > sheet.lines[at].grams.max(sheet.lines[at].pick.grams) + 1e-9;
    if !(0..poured.len()).any(is_over) {
        return Ok(None);
    }
    let factor = sheet.lines.iter().zip(poured).map(|(line, poured)| poured / line.pick.grams).fold(1.0, f64::max);
    let scaled: Vec<f64> = sheet.lines.iter().map(|line| line.pick.grams * factor).collect();
    let larger = spill.with_grams(&scaled);
    let in_vessel = Sheet {
        lines: sheet.lines.iter().zip(poured).filter(|it| *it.1 > 0.0).map(|it| at(it.0, *it.1)).collect(),
        ..sheet.clone()
    };
    let wasted =
        |line: &Line| in_vessel.lines.iter().find(|it| it.material == line.material).map_or(0.0, |it| it.grams);
    Ok(Some(WaysOut {
        larger: WayOut {
            batch_grams: tidy(asked.batch_grams * factor),
            distance: larger.distance,
            broken: spill.broken(spill.formula, &larger, &|line| line.grams, false),
            sheet: larger,
        },
        same: same_batch(spill, control)?,
        fresh: WayOut {
            batch_grams: asked.batch_grams,
            sheet: sheet.clone(),
            distance: sheet.distance,
            broken: spill.broken(spill.formula, sheet, &|line| tidy(line.grams + wasted(line)), true),
        },
        wasted_grams: in_vessel.poured_grams(),
        wasted_cost: cost(&spill.problem.palette, &in_vessel, None).0,
    }))
}

/// A line with so many grams.
fn at(line: &Line, grams: f64) -> Line {
    let mut line = line.clone();
    (line.grams, line.pick.grams) = (grams, grams);
    line
}

impl Spill<'_> {
    /// Grams of a material in the vessel.
    fn in_vessel(&self, material: usize) -> f64 {
        let lines = self.sheet.lines.iter().zip(self.poured);
        lines.filter(|(line, _)| line.material == material).map(|(_, grams)| *grams).sum()
    }

    /// What a gram from the bottle of a line counts towards the batch.
    fn counts(&self, line: &Line) -> f64 {
        match self.sheet.basis {
            Basis::Neat => line.pick.percent / 100.0,
            Basis::Bottle => 1.0,
        }
    }

    /// Grams that count, as a dose of the batch that was meant.
    fn dose(&self, grams: f64) -> Ppt {
        Ppt::from_ppt(1000.0 * grams / self.asked.batch_grams)
    }

    /// The sheet with other grams, in the same order, nothing below what is in
    /// the vessel.
    fn with_grams(&self, grams: &[f64]) -> Sheet {
        let picked = self.sheet.lines.iter().zip(grams).map(|(line, &grams)| {
            let mut pick = line.pick.clone();
            pick.grams = grams;
            (line.material, line.dose, pick)
        });
        let (palette, step_grams) = (&self.problem.palette, self.asked.step_grams);
        let place = |material: usize| self.sheet.lines.iter().position(|line| line.material == material);
        let mut other =
            weighed(palette, self.sheet.basis, picked.collect(), step_grams, &|material| self.in_vessel(material));
        other.lines.sort_by_key(|line| place(line.material));
        other
    }

    /// What a way breaks: rules of the brief by the formula that is meant, and
    /// limits on substances also by the masses as the balance shows them; the
    /// stock of which a line `needs` so many grams; the least mass, of what is
    /// added to what is in the vessel, or in a fresh one of all.
    fn broken(&self, meant: &Formula, sheet: &Sheet, needs: &dyn Fn(&Line) -> f64, is_fresh: bool) -> Vec<Broken> {
        let mut found = self.broken_rules(meant, sheet);
        for line in &sheet.lines {
            found.extend(self.broken_stock(line, needs(line)));
        }
        for line in &sheet.lines {
            let has = if is_fresh { 0.0 } else { self.in_vessel(line.material) };
            found.extend(self.broken_least(line, line.pick.grams - has, line.grams - has));
        }
        found
    }

    fn broken_rules(&self, meant: &Formula, sheet: &Sheet) -> Vec<Broken> {
        let Some(brief) = self.brief else { return Vec::new() };
        let problem = self.problem;
        let converted = meant.basis != problem.basis;
        let of = |formula: &Formula| in_basis(&problem.palette, formula, problem.basis);
        let mut found = broken(problem, brief, &of(meant), converted);
        for breach in Checker::new(problem).breaches(&of(&sheet.obtained()), REPORT_TOLERANCE) {
            let rule = &problem.rules[breach.rule];
            let of_substance = match rule.kind.subject() {
                Subject::InConcentrate { .. } | Subject::InProduct { .. } | Subject::Limit { .. } => true,
                Subject::Dose(_)
                | Subject::Asked(_)
                | Subject::Barred(_)
                | Subject::Selection
                | Subject::Amount(_)
                | Subject::Amounts
                | Subject::Blend => false,
            };
            if of_substance && found.iter().all(|known| known.rule != rule.id) {
                found.push(Broken {
                    rule: rule.id.clone(),
                    file: rule.place.file.clone(),
                    line: Some(rule.place.line),
                    at: rule.at,
                    has: breach.has,
                    sentence: format!("{}, which rounding to the balance passes", problem.sentence(rule)),
                });
            }
        }
        found
    }

    fn broken_stock(&self, line: &Line, needs_grams: f64) -> Option<Broken> {
        let has = on_hand(&self.problem.palette, line)?;
        let material = self.problem.material(line.material);
        (needs_grams > has * (1.0 + 1e-9)).then(|| Broken {
            rule: RuleId::Stock(material.name.as_str().into()),
            file: material.place.file.clone(),
            line: Some(material.place.line),
            at: has,
            has: tidy(needs_grams),
            sentence: self.problem.sentence_of_stock(line.material, has, Some(tidy(needs_grams))),
        })
    }

    /// Nothing is weighed that is less than the least mass; nothing at all may
    /// be added.
    fn broken_least(&self, line: &Line, exact_grams: f64, add_grams: f64) -> Option<Broken> {
        let Asked { least_grams, step_grams, .. } = self.asked;
        let is_nothing = exact_grams < step_grams / 2.0 && add_grams < step_grams / 2.0;
        let name = &self.problem.material(line.material).name;
        (!is_nothing && exact_grams < least_grams * (1.0 - 1e-9)).then(|| Broken {
            rule: RuleId::Least(name.as_str().into()),
            file: Arc::from(""),
            line: None,
            at: least_grams,
            has: tidy(add_grams),
            sentence: self.problem.sentence_of_least(line.material, tidy(add_grams), tidy(least_grams)),
        })
    }
}

/// The batch that was meant, with what is in the vessel: the nearest blend that
/// keeps every rule, the stock and the least masses.
fn same_batch(spill: &Spill<'_>, control: &Control) -> Result<SameBatch, Failure> {
    let none = |status| SameBatch { status, way: None, conflict: Vec::new() };
    if spill.formula.basis != spill.problem.basis {
        // The doses of the brief count something else than the batch does.
        return Ok(none(Status::Unknown));
    }
    let rules = with_vessel(spill);
    let share = control.with_share(FOR_SAME);
    let (status, answer) = match spill.brief {
        Some(_) => propose(&rules, Method::Auto, &share).map(|it| (it.status, it.answer))?,
        None => nearest_shares(&rules, spill.formula, &share).map(|it| (it.status, it.answer))?,
    };
    let Some(answer) = answer else {
        let found = if status == Status::Infeasible { conflicts(&rules, control) } else { Vec::new() };
        let first = found.into_iter().next().map(|conflict| conflict.rules).unwrap_or_default();
        let has = |id: RuleId| first.iter().any(|&rule| rules.rules[rule].id == id);
        // What is in the vessel says it already.
        let is_told = |id: &RuleId| match id {
            RuleId::Least(name) => has(RuleId::InVessel(name.clone())),
            _ => false,
        };
        let named = first.iter().map(|&rule| &rules.rules[rule]).filter(|rule| !is_told(&rule.id));
        let conflict = named.map(|rule| told(spill, &rules, rule)).collect();
        return Ok(SameBatch { conflict, ..none(status) });
    };
    let sheet = sheet_of(spill, &answer.formula);
    let broken = spill.broken(&answer.formula, &sheet, &|line| line.grams, false);
    // What is in the vessel may stay at a dose off its grid; what else the
    // search keeps is kept.
    let kept = broken.into_iter().filter(|it| !is_of_vessel(spill, it)).collect();
    let distance = distance(spill, &sheet);
    let way = WayOut { batch_grams: spill.asked.batch_grams, sheet, distance, broken: kept };
    Ok(SameBatch { status, way: Some(way), conflict: Vec::new() })
}

/// Whether a broken rule says no more than that a dose in the vessel is off its
/// grid.
fn is_of_vessel(spill: &Spill<'_>, broken: &Broken) -> bool {
    let RuleId::Dose(name, DoseKey::Step) = &broken.rule else { return false };
    let mut poured = spill.sheet.lines.iter().zip(spill.poured).filter(|(_, grams)| **grams > 0.0);
    poured.any(|(line, _)| spill.problem.material(line.material).name == **name)
}

/// Sum of absolute differences of the odour shares from the formula.
fn distance(spill: &Spill<'_>, sheet: &Sheet) -> f64 {
    let shares = |amounts: &[f64]| {
        let odour = |(material, ppt): (&crate::palette::Material, &f64)| material.strength * ppt;
        let odours: Vec<f64> = spill.problem.palette.materials.iter().zip(amounts).map(odour).collect();
        crate::odour::shares(&odours, 1.0)
    };
    let neat = |formula: &Formula| spill.problem.neat_ppt(formula);
    let (wanted, got) = (shares(&neat(spill.formula)), shares(&neat(&sheet.obtained())));
    wanted.iter().zip(got).map(|(a, b)| (a - b).abs()).sum()
}

/// The rules of the batch: of what is in the vessel no less, of what is on hand
/// no more, and of everything that is poured as much as weighs well.
fn with_vessel(spill: &Spill<'_>) -> Problem {
    let mut rules = spill.problem.clone();
    let palette = Arc::clone(&spill.problem.palette);
    let mut kept: Vec<(usize, Ppt)> = Vec::new();
    let asked = |id: RuleId, kind: RuleKind, at: f64| Rule {
        id,
        kind,
        place: Place { file: Arc::from("--poured"), line: 0, column: 0 },
        at,
    };
    for (material, described) in palette.materials.iter().enumerate() {
        let name: Arc<str> = described.name.as_str().into();
        let line = spill.sheet.lines.iter().position(|line| line.material == material);
        let in_vessel = line.map(|at| (&spill.sheet.lines[at], spill.poured[at])).filter(|(_, grams)| *grams > 0.0);
        let dose = in_vessel.map_or(Ppt::ZERO, |(line, grams)| spill.dose(spill.counts(line) * grams));
        // From the bottle that is open already, or from the weakest there is.
        let counted = match (in_vessel, spill.sheet.basis) {
            (Some((line, _)), _) => spill.counts(line),
            (None, Basis::Neat) => weakest_percent(described) / 100.0,
            (None, Basis::Bottle) => 1.0,
        };
        let least = dose + spill.dose(spill.asked.least_grams * counted);
        if in_vessel.is_some() {
            rules.named[material] = true;
            kept.push((material, dose));
            rules.rules.push(asked(RuleId::InVessel(name.clone()), RuleKind::Must(material), 1.0));
            let fixed = rules.rules.iter().find(|rule| rule.kind == RuleKind::Fixed(material));
            if fixed.is_some_and(|rule| Ppt::from_ppt(rule.at) < dose) {
                // A dose that is passed already leaves none.
                rules.rules.push(asked(RuleId::InVessel(name.clone()), RuleKind::Fixed(material), dose.as_f64()));
            }
        } else if spill.brief.is_none() && line.is_some() {
            // Nobody wants another formula than this one.
            rules.named[material] = true;
            rules.rules.push(asked(RuleId::Dose(name.clone(), DoseKey::Must), RuleKind::Must(material), 1.0));
        }
        at_least(&mut rules, material, asked(RuleId::Least(name.clone()), RuleKind::DoseMin(material), least.as_f64()));
        if let Some(most) = most_on_hand(spill, material) {
            let at = most.max(dose).as_f64().min(1000.0);
            let place = described.place.clone();
            rules.rules.push(Rule { place, ..asked(RuleId::Stock(name.clone()), RuleKind::DoseMax(material), at) });
        }
    }
    if spill.brief.is_none() {
        let own: Arc<[usize]> = spill.formula.parts.iter().map(|(material, _)| *material).collect();
        rules.rules.push(asked(RuleId::Only, RuleKind::Only(own), 1.0));
    }
    let most = kept.len() as f64;
    rules.rules.push(asked(RuleId::Vessel, RuleKind::Moves(kept.into()), most));
    rules
}

/// Raises the least dose of a material, in the place of a lower one.
fn at_least(rules: &mut Problem, material: usize, rule: Rule) {
    let kind = RuleKind::DoseMin(material);
    if rules.rules.iter().any(|other| other.kind == kind && other.at >= rule.at) {
        return;
    }
    rules.rules.retain(|other| other.kind != kind);
    rules.rules.push(rule);
}

/// The dose that what is on hand allows; `None` where nobody knows: the palette
/// says it of the usual bottle alone.
fn most_on_hand(spill: &Spill<'_>, material: usize) -> Option<Ppt> {
    let described = spill.problem.material(material);
    let stock = described.stock_grams?;
    let most = |grams: f64| spill.dose(grams).min(Ppt::WHOLE);
    match spill.sheet.basis {
        Basis::Bottle => Some(most(stock)),
        Basis::Neat if described.bottles.len() <= 1 => Some(most(stock * described.usual_fraction())),
        Basis::Neat => None,
    }
}

/// The sheet of another formula in the same batch: what is in the vessel comes
/// from its bottle, the rest from that which weighs best.
fn sheet_of(spill: &Spill<'_>, formula: &Formula) -> Sheet {
    let Asked { batch_grams, step_grams, least_grams } = spill.asked;
    let palette = &spill.problem.palette;
    let picked = formula.parts.iter().map(|&(material, dose)| {
        let amount = tidy(dose.as_f64() / 1000.0 * batch_grams);
        let open = spill.sheet.lines.iter().find(|line| line.material == material && spill.in_vessel(material) > 0.0);
        let pick = match open {
            Some(line) => {
                let mut pick = line.pick.clone();
                pick.grams = tidy(amount / spill.counts(line));
                pick
            }
            None => pick(&palette.materials[material], formula.basis, amount, least_grams),
        };
        (material, dose, pick)
    });
    weighed(palette, formula.basis, picked.collect(), step_grams, &|material| spill.in_vessel(material))
}

/// A rule of a conflict, in words.
fn told(spill: &Spill<'_>, rules: &Problem, rule: &Rule) -> Broken {
    let named = |name: &str| rules.palette.materials.iter().position(|it| it.name == name);
    let said = match &rule.id {
        RuleId::InVessel(name) => named(name).map(|material| {
            let open = spill.sheet.lines.iter().find(|line| line.material == material);
            rules.sentence_of_vessel(material, open.map(|line| line.pick.percent), spill.in_vessel(material))
        }),
        RuleId::Stock(name) => named(name).map(|material| {
            rules.sentence_of_stock(material, rules.material(material).stock_grams.unwrap_or_default(), None)
        }),
        RuleId::Least(name) => named(name).map(|material| rules.sentence_of_no_less(material, spill.asked.least_grams)),
        RuleId::Vessel => Some(rules.sentence_of_what_stays()),
        // A rule of the brief says what it says.
        _ => None,
    };
    let sentence = said.unwrap_or_else(|| rules.sentence(rule));
    Broken {
        rule: rule.id.clone(),
        file: rule.place.file.clone(),
        line: (rule.place.line > 0).then_some(rule.place.line),
        at: rule.at,
        has: 0.0,
        sentence,
    }
}
