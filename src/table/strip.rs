//! A formula on a blotter, as rows.

use super::{Cell, Table, cells};
use crate::results::strip::StripReport;

/// One row a time: the stage that it is, its measures, its profile with what is wanted, and of
/// every material the odour share and what is left.
pub fn strip(report: &StripReport) -> Table {
    let fixed = ["minutes", "stage", "fidelity", "low", "high", "loss", "strength", "kept", "film_left"];
    let mut descriptors: Vec<&str> = Vec::new();
    for line in report.stages.iter().flat_map(|time| &time.line.profile) {
        if !descriptors.contains(&line.descriptor.as_str()) {
            descriptors.push(&line.descriptor);
        }
    }
    let materials: Vec<&str> = report.materials.iter().map(|line| line.material.as_str()).collect();
    let blends = descriptors.iter().map(|descriptor| format!("blend:{descriptor}"));
    let targets = descriptors.iter().map(|descriptor| format!("target:{descriptor}"));
    let shares = materials.iter().map(|name| format!("share:{name}"));
    let left = materials.iter().map(|name| format!("left:{name}"));
    let mut table =
        Table::new(fixed.map(str::to_owned).into_iter().chain(blends).chain(targets).chain(shares).chain(left));
    for time in &report.stages {
        let stage = &time.line;
        let mut row = cells![
            stage.minutes,
            time.name.as_deref(),
            stage.fidelity,
            stage.range.map(|range| range.low),
            stage.range.map(|range| range.high),
            stage.loss,
            stage.strength,
            stage.kept,
            stage.film_left,
        ];
        let of_it = |name: &str| stage.profile.iter().find(|line| line.descriptor == name);
        let of = |list: &[(String, f64)], name: &str| list.iter().find(|(it, _)| it == name).map_or(0.0, |it| it.1);
        row.extend(descriptors.iter().map(|name| Cell::from(of_it(name).map(|line| line.blend))));
        row.extend(descriptors.iter().map(|name| Cell::from(of_it(name).map(|line| line.target))));
        row.extend(materials.iter().map(|name| Cell::from(of(&stage.shares.0, name))));
        row.extend(materials.iter().map(|name| Cell::from(of(&stage.left.0, name))));
        table.row(row);
    }
    table
}
