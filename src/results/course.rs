//! What a formula is all the while that it dries.

use serde::Serialize;

use crate::analysis::strip::{Dried, Point, told_view};
use crate::formula::Formula;
use crate::portable::Portable;
use crate::problem::{Problem, Target};

/// A formula from the first time to the last, or until the film is gone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Course {
    /// The view that it is told in: the one in which the formula is missed most; left out
    /// where there is no other.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub course_view: Option<String>,
    /// The descriptors that count at any time.
    pub descriptors: Vec<String>,
    /// What is wanted at each stage of the brief; one line where it has none.
    pub wanted: Vec<WantedLine>,
    /// Times in equal ratios, and those that were asked about.
    pub course: Vec<CoursePoint>,
}

/// What is wanted at a stage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WantedLine {
    /// The stage; null where the brief has none.
    pub stage: Option<String>,
    /// Minutes after dipping; null likewise.
    pub minutes: Option<f64>,
    /// Points of each of the descriptors, in their order; null where it does not count then.
    pub target: Vec<Option<f64>>,
}

/// The formula at one time of its course.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CoursePoint {
    /// Minutes after dipping.
    pub minutes: f64,
    /// The stage that is nearest by ratio: by what is wanted there `blend` is scaled. Its place
    /// in `wanted`.
    pub wanted: usize,
    /// Strength of what is left, in percent of that at the moment of dipping.
    pub kept: f64,
    /// Percent of the film's mass that is left.
    pub film_left: f64,
    /// Odour share in percent of each material, in the order of `materials`.
    pub shares: Vec<f64>,
    /// Percent of each material that is left, likewise.
    pub left: Vec<f64>,
    /// Points of each of the descriptors, in their order; null where it does not count then.
    pub blend: Vec<Option<f64>>,
}

/// Points of a course in equal ratios.
const POINTS: usize = 60;
/// Minutes from which a course is told where the first time is earlier.
const FIRST_MINUTE: f64 = 1.0;
/// Of the life of a film that much is told: at its end a trace of what stays is all there is.
const TOLD_OF_LIFE: f64 = 0.98;
/// Part of a time by which two points of a course are the same.
const SAME: f64 = 1e-9;

impl Course {
    /// The course of a formula that dries, with the materials in this order.
    pub fn new(problem: &Problem, formula: &Formula, dried: &Dried, order: &[usize]) -> Course {
        let view = told_view(problem, formula);
        let of_stage = |stage: Option<usize>| problem.after(|_| 1.0, stage).views.swap_remove(view);
        let stages: Vec<Option<usize>> = match &problem.paper {
            Some(paper) => (0..paper.stages.len()).map(Some).collect(),
            None => vec![None],
        };
        let targets: Vec<Vec<Target>> = stages.iter().map(|stage| of_stage(*stage).targets).collect();
        let mut counted: Vec<usize> = targets.iter().flatten().map(|target| target.descriptor).collect();
        counted.sort_unstable();
        counted.dedup();
        // Points of the counted descriptors, of those that a stage's targets have.
        let laid_out = |stage: usize, points: &[f64]| -> Vec<Option<f64>> {
            let own = &targets[stage];
            let place = |descriptor: &usize| own.iter().position(|target| target.descriptor == *descriptor);
            counted.iter().map(|descriptor| Some(points[place(descriptor)?])).collect()
        };
        let wanted = stages.iter().enumerate().map(|(at, stage)| {
            let scores: Vec<f64> = targets[at].iter().map(|target| target.score).collect();
            WantedLine {
                stage: stage.map(|stage| problem.stage_name(stage).to_owned()),
                minutes: stage.and_then(|stage| Some(problem.paper.as_ref()?.stages[stage].hours * 60.0)),
                target: laid_out(at, &scores),
            }
        });
        let at_start = dried.strength_at_start(problem, &problem.neat_ppt(formula));
        let point = |point: Point| {
            let wanted = point.stage.unwrap_or(0);
            CoursePoint {
                minutes: point.hours * 60.0,
                wanted,
                kept: if at_start > 0.0 { 100.0 * point.strength / at_start } else { 0.0 },
                film_left: 100.0 * point.film_left,
                shares: order.iter().map(|&at| point.shares_percent[at]).collect(),
                left: order.iter().map(|&at| 100.0 * point.left[at]).collect(),
                blend: laid_out(wanted, &point.profile),
            }
        };
        let told = minutes(dried);
        let course =
            told.into_iter().filter_map(|minutes| dried.point(problem, formula, view, minutes / 60.0)).map(point);
        let name = of_stage(None).name;
        Course {
            course_view: (!name.is_empty()).then(|| name.to_string()),
            descriptors: counted.iter().map(|&at| problem.palette.descriptors[at].name.clone()).collect(),
            wanted: wanted.collect(),
            course: course.collect(),
        }
    }

    /// The number of the point at a time that was asked about, in minutes: the first where
    /// the course begins later, `None` where it ends before.
    pub fn at(&self, minutes: f64) -> Option<usize> {
        self.course.iter().position(|point| point.minutes > minutes || is_same(point.minutes, minutes))
    }
}

fn is_same(one: f64, other: f64) -> bool {
    (one - other).abs() <= SAME * one.max(other)
}

/// The times of a course: in equal ratios, and those that were asked about in between.
fn minutes(dried: &Dried) -> Vec<f64> {
    let ends = dried.moments.first().zip(dried.moments.last());
    let (first, last) = ends.map_or((0.0, 0.0), |(first, last)| (first.hours * 60.0, last.hours * 60.0));
    let last = last.max(10.0 * FIRST_MINUTE).min(dried.film.life_hours() * 60.0 * TOLD_OF_LIFE);
    let first = first.max(FIRST_MINUTE).min(last / 10.0);
    if first <= 0.0 {
        return Vec::new();
    }
    let even = |point: usize| first * (last / first).power(point as f64 / (POINTS - 1) as f64);
    let asked = dried.moments.iter().map(|moment| moment.hours * 60.0);
    let asked: Vec<f64> = asked.filter(|minutes| (first..=last).contains(minutes)).collect();
    let mut all: Vec<f64> = (0..POINTS).map(even).collect();
    // A time that was asked about stands for the one beside it that is the same.
    all.retain(|minutes| !asked.iter().any(|asked| is_same(*minutes, *asked)));
    all.extend(asked);
    all.sort_unstable_by(f64::total_cmp);
    all
}
