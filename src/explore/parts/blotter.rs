//! The formula on a blotter: a slider of time, and what is there at the time where it stands.

use maud::{Markup, html};
use serde::Serialize;

use super::profile::{self, place, signed};
use crate::chart::descriptors::DescriptorsChart;
use crate::chart::drying::DryingChart;
use crate::chart::stages::StagesChart;
use crate::chart::svg_inline;
use crate::escape::escaped;
use crate::explore::around::chart_box;
use crate::explore::shell::scrolling;
use crate::number::{rounded, significant};
use crate::results::strip::StripReport;
use crate::sentences::blotter::IN_SHORT;
use crate::text::{called, moment};

/// All that the script puts into its place as the slider moves, in words and figures as
/// they are shown.
#[derive(Serialize)]
struct Told {
    /// What is wanted at each stage: place and points of each row.
    wanted: Vec<Vec<(String, String)>>,
    points: Vec<PointTold>,
}

/// One time.
#[derive(Serialize)]
struct PointTold {
    minutes: f64,
    /// What the slider says.
    words: String,
    /// What is told beside it.
    figures: String,
    /// By which of `wanted` it is held.
    wanted: usize,
    /// Place, points, gap and verdict of each row.
    blend: Vec<(String, String, String, &'static str)>,
    /// Odour share and what is left of each material, in percent.
    materials: Vec<(String, String)>,
}

/// A descriptor that has a row: its number among those of the course.
type Row = usize;

fn told(report: &StripReport, rows: &[Row], most: f64, fits: f64) -> Told {
    let course = &report.course;
    let points_of = |points: Option<f64>| points.unwrap_or(0.0);
    let wanted = |line: &crate::results::course::WantedLine| {
        let cell = |row: &Row| {
            let target = points_of(line.target[*row]);
            (place(target, most), rounded(target, 1))
        };
        rows.iter().map(cell).collect()
    };
    let point = |point: &crate::results::course::CoursePoint| {
        let targets = &course.wanted[point.wanted].target;
        let blend = |row: &Row| {
            let (blend, gap) = (points_of(point.blend[*row]), points_of(point.blend[*row]) - points_of(targets[*row]));
            (place(blend, most), rounded(blend, 1), signed(gap), profile::verdict(gap, fits))
        };
        let material = |(share, left): (&f64, &f64)| (rounded(*share, 1), significant(*left, 2, 0, 2));
        let asked = report.stages.iter().find(|time| course.at(time.line.minutes) == Some(at_of(report, point)));
        let matches = asked.and_then(|time| Some(format!("match {} % ", rounded(time.line.fidelity?, 1))));
        PointTold {
            minutes: point.minutes,
            words: moment(course, point.minutes),
            figures: format!(
                "{}strength kept {} %, film left {} %",
                matches.map_or_else(String::new, |it| format!("{}, ", it.trim_end())),
                significant(point.kept, 2, 0, 2),
                significant(point.film_left, 2, 0, 2)
            ),
            wanted: point.wanted,
            blend: rows.iter().map(blend).collect(),
            materials: point.shares.iter().zip(&point.left).map(material).collect(),
        }
    };
    Told { wanted: course.wanted.iter().map(wanted).collect(), points: course.course.iter().map(point).collect() }
}

/// The number of a point of the course.
fn at_of(report: &StripReport, point: &crate::results::course::CoursePoint) -> usize {
    report.course.course.iter().position(|it| std::ptr::eq(it, point)).unwrap_or(0)
}

/// The slider and all that moves with it, then the whole course, drawn.
pub fn blotter(report: &StripReport, scale: f64) -> Markup {
    let course = &report.course;
    let Some(last) = course.course.len().checked_sub(1) else {
        return html! { p { "Nothing of it is left to smell at any stage." } };
    };
    let fits = scale * profile::FITS;
    let points_of = |at: usize| course.course.iter().filter_map(move |point| point.blend[at]);
    let targets_of = |at: usize| course.wanted.iter().filter_map(move |line| line.target[at]);
    let all = 0..course.descriptors.len();
    let rows: Vec<Row> =
        all.clone().filter(|&at| targets_of(at).any(|it| it > 0.0) || points_of(at).any(|it| it >= fits)).collect();
    let most = all.flat_map(|at| points_of(at).chain(targets_of(at))).fold(scale * 0.1, f64::max);
    let told = told(report, &rows, most, fits);
    let first = &told.points[0];
    let stages: Vec<(usize, String)> = (report.stages.iter())
        .filter_map(|time| time.name.as_ref().and(course.at(time.line.minutes)).map(|at| (at, called(time))))
        .collect();
    let carried = html! {
        table {
            thead { tr { th { "Material" } th.n { "odour %" } th.n { "left %" } } }
            tbody { @for (at, line) in report.materials.iter().enumerate() {
                tr data-row=(at) { th scope="row" { (escaped(&line.material)) }
                    td.n.share { svg.bar aria-hidden="true" height="10" {
                        rect.track width="100%" height="10" rx="2" {}
                        rect.fill width={ (first.materials[at].0) "%" } height="10" rx="2" {}
                    } " " span.n { (first.materials[at].0) } }
                    td.n.left { (first.materials[at].1) } }
            } }
        }
    };
    html! {
        div.time data-course=(serde_json::to_string(&told).unwrap_or_default()) {
            p.choice {
                label for="time" { "Time after dipping " }
                strong #time-said { (first.words) }
            }
            input #time type="range" min="0" max=(last) step="1" value="0" list="time-stages" aria-valuetext=(first.words) data-key="time";
            datalist #time-stages { @for (at, name) in &stages { option value=(at) label=(name) {} } }
            p.buttons role="group" aria-label="Go to a stage" {
                @for (at, name) in &stages { button.small type="button" data-time=(at) data-key={ "stage " (at) } { (name) } }
            }
            p #time-figures { (first.figures) }
            div.beside {
                div {
                    h3 { "What is left smells of" @if let Some(view) = &course.course_view { ", " (escaped(view)) } }
                    ul.profile aria-label="What is left and what is wanted, in points" {
                        @for (at, row) in rows.iter().enumerate() {
                            @let (target, blend) = (&told.wanted[first.wanted][at], &first.blend[at]);
                            li data-row=(at) {
                                span.word { (escaped(&course.descriptors[*row])) }
                                svg.line height="20" aria-hidden="true" {
                                    line.axis x1=(place(0.0, most)) x2=(place(most, most)) y1="10" y2="10" {}
                                    line class={ "gap " (blend.3) } x1=(target.0) x2=(blend.0) y1="10" y2="10" {}
                                    circle.target cx=(target.0) cy="10" r="6" {}
                                    circle.blend class=(blend.3) cx=(blend.0) cy="10" r="4.5" {}
                                }
                                span.numbers {
                                    span.is { (blend.1) } span.soft { " of " span.of { (target.1) } }
                                    span class={ "gap " (blend.3) } { (blend.2) }
                                }
                            }
                        }
                    }
                    p.soft { "Open marks: what the nearest stage wants." }
                }
                div {
                    h3 { "Who carries it, and what is left" }
                    (scrolling("Odour shares and what is left", &carried))
                }
            }
        }
        (chart_box("Target and blend stage by stage", &svg_inline(&StagesChart::of_report(report))))
        (chart_box("Odour shares over time", &svg_inline(&DryingChart::of_report(report))))
        @if let Some(chart) = DescriptorsChart::of_report(report) {
            (chart_box("Descriptors over time", &svg_inline(&chart)))
        }
        p.soft { (IN_SHORT) }
    }
}
