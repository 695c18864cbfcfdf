//! The sliders of the target.

use maud::{Markup, html};

use super::controls::{Ends, Value};
use crate::brief::TargetFrom;
use crate::escape::escaped;
use crate::explore::bench::Bench;

/// A slider for each descriptor, with weight and bounds below it.
pub fn target(bench: &Bench) -> Markup {
    let (problem, brief) = (&bench.resolved.problem, &bench.resolved.brief);
    let scale = problem.palette.scale;
    let from = match &brief.target_from {
        Some(TargetFrom::Material(material)) => Some(problem.material(material.value).name.clone()),
        Some(TargetFrom::Formula(formula)) => formula.value.title.clone().or(Some("a formula".to_owned())),
        None => None,
    };
    html! {
        details.card open {
            summary { h2 { "Target" } }
            p.soft {
                "How much of each descriptor is wanted, from 0 to " (scale) " points."
                @if let Some(from) = from { " It starts from the scores of " (escaped(&from)) "." }
            }
            ul.target {
                @for (at, descriptor) in problem.palette.descriptors.iter().enumerate() {
                    @let entry = brief.target.iter().find(|entry| entry.descriptor == at);
                    @let counted = problem.targets.iter().find(|target| target.descriptor == at);
                    @let weight = counted.map_or(0.0, |target| target.weight);
                    @let score = counted.map(|target| target.score).or(entry.and_then(|entry| entry.score)).unwrap_or(0.0);
                    @let is_named = entry.is_some() || counted.is_some_and(|target| target.score > 0.0);
                    (row(bench, is_named, &descriptor.name, &descriptor.meaning, score, weight, entry.and_then(|it| it.max.as_ref()).map(|it| it.value)))
                }
            }
        }
    }
}

fn row(bench: &Bench, is_named: bool, name: &str, meaning: &str, score: f64, weight: f64, max: Option<f64>) -> Markup {
    let scale = bench.resolved.problem.palette.scale;
    let shown = escaped(name);
    let points = Ends { min: 0.0, max: scale, step: scale / 100.0 };
    let label = format!("{shown}, wanted points");
    let wanted = Value { path: &["target", name, "score"], file: Some(score), label: &label };
    let label = format!("{shown}, weight of the gap");
    let weighs = Value { path: &["target", name, "weight"], file: Some(weight), label: &label };
    let label = format!("{shown}, at most so many points");
    let ceiling = Value { path: &["target", name, "max"], file: max, label: &label };
    html! {
        li data-descriptor=(name) data-unnamed[!is_named] {
            span.word title=(escaped(meaning)) { (shown) }
            (wanted.slider(points))
            (wanted.entry(points, false))
            span.blend aria-hidden="true" {}
            details.more {
                summary { span.hidden { (shown) ": " } "weight and ceiling" span.changed {} }
                div.pair {
                    span aria-hidden="true" { "weight" }
                    (weighs.slider(Ends { min: 0.0, max: 5.0, step: 0.25 }))
                    (weighs.entry(Ends { min: 0.0, max: 5.0, step: 0.25 }, false))
                    span aria-hidden="true" { "ceiling" }
                    (ceiling.slider(points))
                    (ceiling.entry(points, true))
                }
            }
        }
    }
}
