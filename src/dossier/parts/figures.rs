//! The drawings, each with what it shows in words.

use maud::{Markup, PreEscaped, html};

use crate::chart::descriptors::DescriptorsChart;
use crate::chart::drying::DryingChart;
use crate::chart::leeway::LeewayChart;
use crate::chart::profile::ProfileChart;
use crate::chart::push::PushChart;
use crate::chart::stages::StagesChart;
use crate::chart::starts::StartsChart;
use crate::chart::tradeoff::TradeoffChart;
use crate::chart::{Chart, dumbbell::Dumbbell, svg_inline};
use crate::dossier::page::Part;
use crate::dossier::{Dossier, Reader};
use crate::escape::escaped;
use crate::html::align::Column;
use crate::html::kit::signed;
use crate::number::{plain, rounded, significant};

/// A drawing with a caption; `number` tells drawings of one kind apart.
fn figure(chart: &dyn Chart, number: usize, caption: &str) -> Markup {
    let name = chart.name();
    // Two drawings of one kind may not share their ids.
    let svg = svg_inline(chart)
        .replace(&format!("\"{name}-title {name}-desc\""), &format!("\"{name}-{number}-title {name}-{number}-desc\""))
        .replace(&format!("id=\"{name}-title\""), &format!("id=\"{name}-{number}-title\""))
        .replace(&format!("id=\"{name}-desc\""), &format!("id=\"{name}-{number}-desc\""));
    html! { figure { (PreEscaped(svg)) figcaption { (caption) } } }
}

/// The blend beside the target, drawn.
pub fn profile(dossier: &Dossier<'_>) -> Option<Part> {
    let subject = dossier.subject.as_ref()?;
    let is_client = dossier.reader == Reader::Client;
    let name = if is_client { "the formula" } else { &subject.name };
    let chart = ProfileChart::of_formula(&super::brief::title(dossier), name, &subject.formula)?;
    let scale = plain(dossier.problem.palette.scale);
    let caption = format!("Open marks are the target, filled ones the blend, on the 0-{scale} scale.");
    let drawn = figure(&Dumbbell(&chart), 1, &caption);
    let drawn = if is_client { PreEscaped(without_data(&drawn.into_string())) } else { drawn };
    Some(("profile", "Target and blend", drawn))
}

/// A drawing without its `data-` attributes, which hold figures to the last decimal.
fn without_data(drawing: &str) -> String {
    let mut pieces = drawing.split(" data-");
    let mut bare = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        // name="value", and what follows.
        bare.push_str(piece.splitn(3, '"').nth(2).unwrap_or_default());
    }
    bare
}

/// The blend beside the target, in figures.
pub fn profile_figures(dossier: &Dossier<'_>) -> Option<Part> {
    let subject = dossier.subject.as_ref()?;
    let lines = || subject.formula.profile.iter().filter(|line| line.target > 0.0 || line.blend >= 0.005);
    let targets = Column::of(lines().map(|line| plain(line.target)));
    Some((
        "scores",
        "Target and blend in figures",
        html! {
            div.scroll { table {
                thead { tr { th { "Descriptor" } th.n { "Target" } th.n { "Blend" } th.n { "Gap" } } }
                tbody { @for line in lines() { tr {
                    th scope="row" { (escaped(&line.descriptor)) }
                    (targets.cell(&plain(line.target))) td.n { (rounded(line.blend, 2)) }
                    td.n { (if rounded(line.gap.abs(), 2) == "0.00" { "0.00".to_owned() } else { signed(line.gap, 2) }) }
                } } }
            } }
        },
    ))
}

/// What is left beside what is wanted at each stage, drawn.
pub fn stages(dossier: &Dossier<'_>) -> Option<Part> {
    let formula = &dossier.subject.as_ref()?.formula;
    formula.blotter.as_ref()?;
    let chart = StagesChart::of_stages(&super::brief::title(dossier), &formula.stages);
    let caption = "Open marks are what is wanted at the stage, filled ones what is left then.";
    Some(("stages", "Target and blend stage by stage", figure(&chart, 1, caption)))
}

/// Who carries it over time on a blotter, and what it smells of.
pub fn drying(dossier: &Dossier<'_>) -> Option<Part> {
    let report = dossier.strip.as_ref()?;
    let carriers =
        "Odour shares of what is left, by time after dipping in equal ratios. Dashed: the stages of the brief.";
    let words =
        "What is left over the same time, descriptor by descriptor; the ticks are what the brief wants at its stages.";
    let drawn = html! {
        (figure(&DryingChart::of_report(report), 1, carriers))
        @if let Some(chart) = DescriptorsChart::of_report(report) { (figure(&chart, 1, words)) }
    };
    Some(("drying", "Over time on a blotter", drawn))
}

/// What money buys.
pub fn tradeoff(dossier: &Dossier<'_>) -> Option<Part> {
    let chart = TradeoffChart::of_report(dossier.tradeoff.as_ref()?)?;
    let caption = "Each mark is the best formula that keeps every rule; the thin line is the upper limit, any doses and \
                   any number of materials. Below, what enters and leaves.";
    Some(("money", "What money buys", figure(&chart, 1, caption)))
}

/// How far doses may go.
pub fn leeway(dossier: &Dossier<'_>) -> Option<Part> {
    let report = dossier.leeway.as_ref()?;
    let chart = LeewayChart::of_report(report, dossier.problem)?;
    let proven = report.materials.iter().all(|line| line.proven);
    let caption = format!(
        "The least and the greatest dose of each material in any formula that keeps every rule and lies at most {} \
         % points below. Doses at the ends do not go together.{}",
        plain(report.margin),
        if proven { "" } else { " Not every end is proven: some ranges may be wider." }
    );
    Some(("leeway", "How far each dose may go", figure(&chart, 1, &caption)))
}

/// How far strong materials can go.
pub fn push(dossier: &Dossier<'_>) -> Option<Part> {
    let charts =
        dossier.pushes.iter().filter_map(|report| Some((PushChart::of_report(report)?, report.let_in.as_deref())));
    let charts: Vec<(PushChart, Option<&str>)> = charts.collect();
    let drawn = "The best formula that keeps every rule at doses of this material, all other doses chosen anew; upright lines are its caps.";
    let caption = |aside: Option<&str>| aside.map_or(drawn.to_owned(), |aside| format!("{drawn} {}", escaped(aside)));
    (!charts.is_empty()).then(|| {
        let figures = html! { @for (at, (chart, aside)) in charts.iter().enumerate() { (figure(chart, at + 1, &caption(*aside))) } };
        ("push", "How far the strongest materials can go", figures)
    })
}

/// Formulas to smell side by side.
pub fn starts(dossier: &Dossier<'_>) -> Option<Part> {
    let report = dossier.starts.as_ref()?;
    let chart = StartsChart::of_report(report)?;
    let mut materials: Vec<&str> = Vec::new();
    for line in report.formulas.iter().flat_map(|start| &start.formula.materials) {
        if !materials.contains(&line.material.as_str()) {
            materials.push(&line.material);
        }
    }
    let dose = |start: &crate::results::starts::StartLine, material: &str| {
        let part = start.formula.materials.iter().find(|line| line.material == material);
        part.map_or(String::new(), |line| significant(line.parts.as_f64(), 5, 0, 6))
    };
    let columns: Vec<Column> = report
        .formulas
        .iter()
        .map(|start| Column::of(materials.iter().map(|material| dose(start, material))))
        .collect();
    let caption = format!(
        "Formulas inside every rule, each at most {} % points below the best and as different from the others as can be.",
        plain(report.margin)
    );
    Some((
        "starts",
        "Starting points to smell side by side",
        html! {
            (figure(&chart, 1, &caption))
            div.scroll { table {
                caption { "Parts per thousand" }
                thead { tr { th { "Material" } @for start in &report.formulas { th.n { (start.start) } } } }
                tbody { @for material in materials { tr {
                    th scope="row" { (escaped(material)) }
                    @for (start, column) in report.formulas.iter().zip(&columns) { (column.cell(&dose(start, material))) }
                } } }
                tfoot { tr { th scope="row" { "Match %" } @for start in &report.formulas {
                    td.n { (start.formula.fidelity.map_or(String::new(), |fidelity| rounded(fidelity, 2))) }
                } } }
            } }
            ul { @for start in &report.formulas { li { (start.start) ": " (escaped(&start.apart)) } } }
        },
    ))
}

#[cfg(test)]
mod tests {
    use super::without_data;

    #[test]
    fn a_drawing_loses_its_data_and_nothing_else() {
        let drawn = "<g class=\"row\" data-a=\"x &gt; y\" data-b=\"1.5\"><title>t</title></g><g data-c=\"\"/>";
        assert_eq!(without_data(drawn), "<g class=\"row\"><title>t</title></g><g/>");
        assert_eq!(without_data("plain"), "plain");
    }
}
