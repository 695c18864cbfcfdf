//! What a limit buys along its range.

use super::title;
use crate::chart::tradeoff::{Against, Course, TradeoffChart, TradeoffPoint};
use crate::results::states::Traded;
use crate::results::tradeoff::{PointLine, TradeoffReport};

impl TradeoffChart {
    /// The chart of a report; none where there is no curve.
    pub fn of_report(report: &TradeoffReport) -> Option<TradeoffChart> {
        let currency = || report.head.currency.clone();
        let against = match report.against {
            Traded::Price => Against::Price(currency()),
            Traded::Effect => Against::Effect(currency()),
            Traded::Count => Against::Count,
            Traded::Strength => Against::Strength,
            Traded::Dose => Against::Dose(report.material.clone()?),
        };
        let materials: Vec<String> = report.materials.iter().map(|line| line.material.clone()).collect();
        let dose = |point: &PointLine, name: &String| {
            point.parts.0.iter().find(|(part, _)| part == name).map_or(0.0, |(_, dose)| dose.as_f64())
        };
        let point = |point: &PointLine| TradeoffPoint {
            at: point.at,
            fidelity_percent: point.fidelity,
            doses_ppt: materials.iter().map(|name| dose(point, name)).collect(),
            proven: point.proven,
            until: point.until,
        };
        let course = match report.against {
            Traded::Count | Traded::Dose if !report.points.iter().all(|point| point.continuous) => Course::Apart,
            Traded::Strength if report.is_in_steps() => Course::StepsDown,
            _ if report.is_in_steps() => Course::StepsUp,
            _ => Course::Line,
        };
        (!report.points.is_empty()).then(|| TradeoffChart {
            brief: title(&report.head),
            points: report.points.iter().map(point).collect(),
            course,
            upper_limit: report.upper_limit.iter().map(|upper| (upper.at, upper.fidelity)).collect(),
            own: report.own.map(|own| own.at),
            knee: report.knee.map(|knee| knee.at),
            cost_of_a_point: report.own.and_then(|own| own.point_more_costs),
            against: against.clone(),
            materials: materials.clone(),
        })
    }
}
