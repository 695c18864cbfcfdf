//! An accord on paper: what is left of each material at each stage of the brief.
//!
//! What is left hangs on the clock of the film, and the clock on the whole formula. A
//! problem has its clocks given: then what is left of every material is a number, each
//! stage is a view whose strengths are multiplied by it, and the rules of a stage are
//! linear. [`Problem::with_clocks`] gives others, [`Problem::as_it_dries`] those of a
//! formula itself; [`crate::solve::clocks`] looks for clocks that agree with the formula
//! that is best by them.

use std::sync::Arc;

use super::resolve::{targets, wanted_scores};
use super::view::View;
use super::{Bound, Problem, RuleId, RuleKind, Target};
use crate::brief::{Brief, Law, Laws};
use crate::film::{Film, Part};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::place::Place;
use crate::portable::Portable;
use crate::tenacity::{Blotter, Tenacity};

/// How much longer than the last stage a film has to last: nearly at its end the little
/// that is left hangs on the last digits of the doses.
pub const LASTS: f64 = 1.1;
/// Hours of a minute: times by ratio begin here.
const MINUTE: f64 = 1.0 / 60.0;

/// The stages of a brief, and the clocks by which they are judged.
#[derive(Clone, Debug)]
pub struct Paper {
    /// How it is dipped.
    pub blotter: Blotter,
    /// How long each material of the palette lasts alone.
    pub tenacities: Arc<[Tenacity]>,
    /// The stages, the earliest first.
    pub stages: Arc<[Moment]>,
    /// Where the film's clock stands at each stage, in g/mol times hours, 0 or more;
    /// infinite where the film is gone.
    pub clocks: Vec<f64>,
    /// The views of the accord as it is mixed, of which each has one for every stage.
    mixed: Vec<View>,
}

/// A stage as a problem has it.
#[derive(Clone, Debug)]
pub struct Moment {
    /// Its name.
    pub name: String,
    /// Where it stands.
    pub place: Place,
    /// Hours after dipping.
    pub hours: f64,
    /// How much what is lost at it counts.
    pub weight: f64,
    /// What is wanted at it, in each of the views of the accord as it is mixed.
    pub targets: Vec<Vec<Target>>,
}

impl Paper {
    /// The film of some neat doses of the palette's materials, in any unit.
    pub fn film(&self, neat: &[f64]) -> Film {
        film(neat, &self.tenacities, self.blotter.stretch())
    }

    /// Where the clock of the film of some neat doses stands at each stage; infinite where
    /// the film is gone.
    pub fn clocks_of(&self, neat: &[f64]) -> Vec<f64> {
        let film = self.film(neat);
        self.stages.iter().map(|stage| film.clock(stage.hours).unwrap_or(f64::INFINITY)).collect()
    }

    /// The part of a material that is left at a stage, from 1 to 0.
    pub fn left(&self, stage: usize, material: usize) -> f64 {
        self.left_at(self.clocks[stage], material)
    }

    /// The part of a material that is left when the clock stands so.
    pub fn left_at(&self, clock: f64, material: usize) -> f64 {
        part(0.0, &self.tenacities[material]).left(clock)
    }

    /// Hours that one part of a material adds to the life of a film of one part.
    pub fn life_hours(&self, material: usize) -> f64 {
        self.blotter.stretch() * self.tenacities[material].hours
    }

    /// Clocks to begin with: those of a film of equal parts of the materials that last
    /// longer than the last stage by themselves, or of all where that film lasts.
    fn first_clocks(&self, usable: &[bool]) -> Vec<f64> {
        let last = self.stages.last().map_or(0.0, |stage| stage.hours);
        let mass = |keep: &dyn Fn(usize) -> bool| -> Vec<f64> {
            usable.iter().enumerate().map(|(at, usable)| f64::from(u8::from(*usable && keep(at)))).collect()
        };
        let lasts = |neat: &[f64]| self.film(neat).life_hours() >= LASTS * last;
        let all = mass(&|_| true);
        let neat = if lasts(&all) { all } else { mass(&|at| self.life_hours(at) >= LASTS * last) };
        let clocks = self.clocks_of(&neat);
        let furthest = clocks.iter().copied().filter(|clock| clock.is_finite()).fold(0.0, f64::max);
        // Where nothing lasts no formula keeps the rules, whatever the clock.
        clocks.into_iter().map(|clock| if clock.is_finite() { clock } else { furthest }).collect()
    }

    /// The same with other views of the accord as it is mixed.
    pub(super) fn with_mixed(&self, of: &dyn Fn(&View) -> View) -> Paper {
        Paper { mixed: self.mixed.iter().map(of).collect(), ..self.clone() }
    }

    /// The same where materials last as long as a palette says; as it is where nothing on it
    /// tells.
    pub(super) fn lasting_by(&self, palette: &Palette) -> Paper {
        let found: Option<Vec<Tenacity>> = self.blotter.tenacities(palette).into_iter().collect();
        found.map_or_else(|| self.clone(), |found| Paper { tenacities: found.into(), ..self.clone() })
    }

    /// The same where at every stage is wanted what its views want.
    pub(super) fn with_targets(&self, views: &[View]) -> Paper {
        let stages = self.stages.iter().zip(views.chunks(self.mixed.len())).map(|(stage, views)| Moment {
            targets: views.iter().map(|view| view.targets.clone()).collect(),
            ..stage.clone()
        });
        Paper { stages: stages.collect(), ..self.clone() }
    }

    /// The same judged by other laws.
    pub(super) fn by_laws(&self, laws: Laws) -> Paper {
        let first = self.mixed.first().map_or(Law::Linear, |view| view.law);
        let is_once = |at: usize| self.mixed[at].law == first;
        let once = (0..self.mixed.len()).filter(|&at| is_once(at)).map(|at| self.mixed[at].clone());
        let stages = self.stages.iter().map(|stage| {
            let once = stage.targets.iter().enumerate().filter(|(at, _)| is_once(*at));
            let each = once.flat_map(|(_, targets)| laws.each().iter().map(|_| targets.clone()));
            Moment { targets: each.collect(), ..stage.clone() }
        });
        Paper { mixed: Problem::views_by(laws, once.collect()), stages: stages.collect(), ..self.clone() }
    }

    /// The views at every stage, with targets and ways to compare as others have them:
    /// whatever they were exchanged for stays.
    pub(super) fn views_wanting(&self, others: &[View]) -> Vec<View> {
        let kept = |(new, old): (View, &View)| View { targets: old.targets.clone(), matching: old.matching, ..new };
        self.views().into_iter().zip(others).map(kept).collect()
    }

    /// The views at every stage.
    fn views(&self) -> Vec<View> {
        let mut views = Vec::with_capacity(self.mixed.len() * self.stages.len());
        for (at, stage) in self.stages.iter().enumerate() {
            for (mixed, targets) in self.mixed.iter().zip(&stage.targets) {
                let palette = weakened(&mixed.palette, |material| self.left(at, material));
                let weight = mixed.weight * stage.weight;
                views.push(View { stage: Some(at), palette, targets: targets.clone(), weight, ..mixed.clone() });
            }
        }
        views
    }
}

/// A palette of which so much of each material's strength is left.
fn weakened(palette: &Palette, left: impl Fn(usize) -> f64) -> Arc<Palette> {
    let mut palette = palette.clone();
    for (index, material) in palette.materials.iter_mut().enumerate() {
        material.strength *= left(index);
    }
    Arc::new(palette)
}

/// A material of a film.
fn part(mass: f64, tenacity: &Tenacity) -> Part {
    Part { mass, molar_mass: tenacity.molar_mass, hours: tenacity.hours }
}

/// The film of some neat doses, in any unit, of materials that last so long.
pub fn film(neat: &[f64], tenacities: &[Tenacity], stretch: f64) -> Film {
    let whole: f64 = neat.iter().sum();
    let there = neat.iter().zip(tenacities).filter(|(mass, _)| **mass > 0.0);
    Film { parts: there.map(|(mass, tenacity)| part(mass / whole, tenacity)).collect(), stretch }
}

impl Problem {
    /// Puts the accord on paper where the brief has stages: its views become those of the
    /// stages.
    pub(super) fn resolve_paper(&mut self, brief: &Brief) {
        let blotter = Blotter::of(&brief.dip, &self.palette);
        // The reader refuses stages where nothing tells how long a material lasts.
        let tenacities: Option<Vec<Tenacity>> = blotter.tenacities(&self.palette).into_iter().collect();
        let (Some(tenacities), false) = (tenacities, brief.stages.is_empty()) else { return };
        let moment = |stage: &crate::stage::Stage| Moment {
            name: stage.name.clone(),
            place: stage.place.clone(),
            hours: stage.minutes / 60.0,
            weight: stage.weight,
            targets: self.views.iter().map(|view| self.targets_at(brief, stage, view)).collect(),
        };
        let stages = brief.stages.iter().map(moment).collect();
        let mut paper =
            Paper { blotter, tenacities: tenacities.into(), stages, clocks: Vec::new(), mixed: self.views.clone() };
        let mut usable = vec![false; self.palette.materials.len()];
        for (column, domain) in self.columns.iter().zip(self.domains()) {
            if domain.is_ok() {
                column.neat.iter().for_each(|&(material, _)| usable[material] = true);
            }
        }
        paper.clocks = paper.first_clocks(&usable);
        self.views = paper.views();
        self.paper = Some(Arc::new(paper));
    }

    /// The rules of the stages, and that the film lasts until the last of them.
    pub(super) fn resolve_stages(&mut self, brief: &Brief) {
        for (stage, own) in brief.stages.iter().enumerate() {
            let id = |bound| RuleId::StageStrength(own.name.as_str().into(), bound);
            self.push_some(id(Bound::Min), RuleKind::StageStrengthMin(stage), &own.strength_min);
            self.push_some(id(Bound::Max), RuleKind::StageStrengthMax(stage), &own.strength_max);
            let id = RuleId::StageKept(own.name.as_str().into());
            self.push_some(id, RuleKind::StageKept(stage), &own.kept_min);
            for share in &own.shares {
                let members: Arc<[usize]> = share.materials.clone().into();
                let id = |bound| RuleId::stage_share(&own.name, &share.tag, bound);
                let kind = RuleKind::StageShareMin { stage, members: members.clone() };
                self.push_some(id(Bound::Min), kind, &share.min);
                self.push_some(id(Bound::Max), RuleKind::StageShareMax { stage, members }, &share.max);
            }
        }
        if let Some(last) = brief.stages.last().filter(|last| last.minutes > 0.0) {
            self.push(RuleId::Film, RuleKind::FilmLasts, &last.place, LASTS * last.minutes / 60.0);
        }
    }

    /// What is wanted at a stage in a view of the accord as it is mixed.
    fn targets_at(&self, brief: &Brief, stage: &crate::stage::Stage, view: &View) -> Vec<Target> {
        let as_smelled = Problem { palette: Arc::clone(&view.palette), targets: view.targets.clone(), ..self.clone() };
        let wanted = wanted_scores(&as_smelled, brief.target_from.as_ref());
        targets(&brief.target_at(stage), &wanted, brief.off_note_weight)
    }

    /// The same problem with what is left at each stage by other clocks; the problem itself
    /// where it has no stages.
    pub fn with_clocks(&self, clocks: &[f64]) -> Problem {
        let Some(paper) = &self.paper else { return self.clone() };
        let paper = Paper { clocks: clocks.to_vec(), ..(**paper).clone() };
        let views = paper.views_wanting(&self.views);
        Problem { views, paper: Some(Arc::new(paper)), ..self.clone() }
    }

    /// Where the clock of a formula's own film stands at each stage; nothing where there are
    /// no stages, infinite where its film is gone.
    pub fn clocks_of(&self, formula: &Formula) -> Vec<f64> {
        self.paper.as_ref().map_or_else(Vec::new, |paper| paper.clocks_of(&self.neat_ppt(formula)))
    }

    /// The same problem with what is left at each stage as a formula's own film has it.
    pub fn as_it_dries(&self, formula: &Formula) -> Problem {
        self.with_clocks(&self.clocks_of(formula))
    }

    /// The stage at so many hours after dipping.
    pub fn stage_at(&self, hours: f64) -> Option<usize> {
        self.paper.as_ref()?.stages.iter().position(|stage| stage.hours == hours)
    }

    /// The stage that is nearest to so many hours after dipping, by ratio; the earlier of two
    /// that are as near. Before the first minute all times are one.
    pub fn nearest_stage(&self, hours: f64) -> Option<usize> {
        let log = |hours: f64| hours.max(MINUTE).logarithm();
        let stages = self.paper.as_ref()?.stages.iter().enumerate();
        let apart = stages.map(|(at, stage)| (at, (log(stage.hours) - log(hours)).abs()));
        apart.reduce(|one, other| if other.1 < one.1 { other } else { one }).map(|(at, _)| at)
    }

    /// The same problem as it is smelled when so much of each material is left, at a stage of
    /// it by what is wanted there; without stages of its own.
    pub fn after(&self, left: impl Fn(usize) -> f64, stage: Option<usize>) -> Problem {
        let mixed = self.paper.as_ref().map_or(&self.views, |paper| &paper.mixed);
        let at_stage = |at: usize| Some(&self.views[stage? * mixed.len() + at]);
        let view = |(at, view): (usize, &View)| View {
            palette: weakened(&view.palette, &left),
            targets: at_stage(at).unwrap_or(view).targets.clone(),
            ..view.clone()
        };
        let views: Vec<View> = mixed.iter().enumerate().map(view).collect();
        let problem = Problem { views, paper: None, ..self.clone() };
        if let [_] = problem.views[..] { problem.seen(0) } else { problem }
    }

    /// Strength of a material at a stage, of what is left, by the problem's clocks; 0
    /// without stages.
    pub fn left_strength(&self, stage: usize, material: usize) -> f64 {
        let left = self.paper.as_ref().map_or(0.0, |paper| paper.left(stage, material));
        left * self.material(material).strength
    }

    /// What a stage is called.
    pub fn stage_name(&self, stage: usize) -> &str {
        self.paper.as_ref().map_or("", |paper| &paper.stages[stage].name)
    }
}
