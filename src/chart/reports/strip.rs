//! How a formula dries.

use crate::brief::Match;
use crate::chart::descriptors::{DescriptorLine, DescriptorsChart, Tick};
use crate::chart::drying::{DryingBand, DryingChart};
use crate::chart::kit::time::TimeMark;
use crate::chart::profile::ProfileChart;
use crate::chart::stages::StagesChart;
use crate::portable::Portable;
use crate::results::stages::NamedStage;
use crate::results::strip::{StageLine, StripReport, TimeLine};
use crate::text::{self, called};

/// The times that were asked about.
fn marks(report: &StripReport) -> Vec<TimeMark> {
    let mark = |TimeLine { name, line }: &TimeLine| TimeMark {
        name: name.clone(),
        minutes: line.minutes,
        fidelity_percent: line.fidelity,
        kept_percent: line.kept,
    };
    report.stages.iter().map(mark).collect()
}

impl DryingChart {
    /// The chart of a report.
    pub fn of_report(report: &StripReport) -> DryingChart {
        let course = &report.course.course;
        let band = |(at, line): (usize, &crate::results::strip::DryingLine)| DryingBand {
            material: line.material.clone(),
            shares_percent: course.iter().map(|point| point.shares[at]).collect(),
        };
        let smells = |band: &DryingBand| band.shares_percent.iter().any(|share| *share > 0.0);
        DryingChart {
            formula: report.name.clone(),
            minutes: course.iter().map(|point| point.minutes).collect(),
            bands: report.materials.iter().enumerate().map(band).filter(smells).collect(),
            marks: marks(report),
            view: report.course.course_view.clone(),
        }
    }
}

impl DescriptorsChart {
    /// The chart of a report; none where nothing counts or nothing is left.
    pub fn of_report(report: &StripReport) -> Option<DescriptorsChart> {
        let course = &report.course;
        if course.course.is_empty() || course.descriptors.is_empty() {
            return None;
        }
        // In match balance the points of a blend are those of its nearest stage: between
        // stages they are scaled to what is between the sums that are wanted, so that a line
        // does not jump half-way.
        let scale: Vec<f64> = match report.head.matching {
            Match::Level => vec![1.0; course.course.len()],
            Match::Balance => {
                let totals: Vec<(f64, f64)> =
                    course.wanted.iter().map(|line| (line.minutes.unwrap_or(0.0), total(&line.target))).collect();
                course.course.iter().map(|point| between(&totals, point.minutes) / totals[point.wanted].1).collect()
            }
        };
        let line = |(at, name): (usize, &String)| DescriptorLine {
            descriptor: name.clone(),
            blend: course.course.iter().zip(&scale).map(|(it, scale)| it.blend[at].map(|it| it * scale)).collect(),
            wanted: course.wanted.iter().map(|line| line.target[at]).collect(),
        };
        let tick = |line: &crate::results::course::WantedLine| Tick { name: line.stage.clone(), minutes: line.minutes };
        Some(DescriptorsChart {
            formula: report.name.clone(),
            minutes: course.course.iter().map(|point| point.minutes).collect(),
            lines: course.descriptors.iter().enumerate().map(line).collect(),
            ticks: course.wanted.iter().map(tick).collect(),
            marks: marks(report),
            view: course.course_view.clone(),
            is_balance: report.head.matching == Match::Balance,
        })
    }
}

impl StagesChart {
    /// The chart of a formula at the times that were asked about.
    pub fn of_report(report: &StripReport) -> StagesChart {
        let each = report.stages.iter().map(|time| (called(time), &time.line));
        StagesChart::of_times(&report.name, each)
    }

    /// The chart of a formula at the stages of its brief.
    pub fn of_stages(title: &str, stages: &[NamedStage]) -> StagesChart {
        StagesChart::of_times(title, stages.iter().map(|stage| (text::stages::called(stage), &stage.line)))
    }

    fn of_times<'a>(title: &str, times: impl Iterator<Item = (String, &'a StageLine)>) -> StagesChart {
        let mut chart = StagesChart { title: title.to_owned(), stages: Vec::new(), gone: Vec::new() };
        for (called, line) in times {
            match ProfileChart::of_time(title, called.clone(), line) {
                Some(profile) => chart.stages.push(profile),
                None => chart.gone.push(called),
            }
        }
        chart
    }
}

fn total(points: &[Option<f64>]) -> f64 {
    points.iter().flatten().sum()
}

/// What lies at a time between the values of some times, by ratio of the times: the first
/// before them all, the last after.
fn between(values: &[(f64, f64)], minutes: f64) -> f64 {
    let after = values.partition_point(|value| value.0 <= minutes);
    let (Some(one), other) = (values.get(after.saturating_sub(1)), values.get(after)) else { return 1.0 };
    match other {
        Some(other) if after > 0 => {
            let log = |minutes: f64| minutes.max(1.0).logarithm();
            let part = (log(minutes) - log(one.0)) / (log(other.0) - log(one.0)).max(1e-12);
            one.1 + part.clamp(0.0, 1.0) * (other.1 - one.1)
        }
        _ => one.1,
    }
}

#[cfg(test)]
mod tests {
    use super::between;

    #[test]
    fn totals_run_from_stage_to_stage_by_ratio() {
        let values = [(10.0, 20.0), (1000.0, 10.0)];
        let close = |minutes: f64, expected: f64| {
            let found = between(&values, minutes);
            assert!((found - expected).abs() < 1e-9, "{minutes}: {found}");
        };
        close(1.0, 20.0);
        close(10.0, 20.0);
        close(100.0, 15.0);
        close(1000.0, 10.0);
        close(5000.0, 10.0);
    }
}
