//! `shelf` as rows.

use super::csv::{self, Csv};
use crate::results::shelf::ShelfReport;
use crate::results::shelf::TwinLine;

/// What was found, where something was looked for; else all materials.
pub fn shelf(report: &ShelfReport) -> String {
    let number = csv::number;
    if let Some(find) = &report.find {
        let words: Vec<&String> = find.wanted.iter().chain(&find.unwanted).collect();
        let head = ["material", "fit", "wanted_percent", "unwanted_percent", "strength", "price_of_effect"];
        let head: Vec<String> = head.map(str::to_owned).into_iter().chain(words.into_iter().cloned()).collect();
        let mut table = Csv::new(&head);
        for line in &find.found {
            let figures = [line.fit, line.wanted_percent, line.unwanted_percent, line.strength].map(Some);
            let figures = figures.into_iter().chain([line.price_of_effect]);
            let all = figures.chain(line.scores.iter().map(|word| Some(word.score))).map(number);
            table.row(&std::iter::once(csv::text(&line.material)).chain(all).collect::<Vec<_>>());
        }
        return table.finish();
    }
    let mut table = Csv::new(&[
        "material",
        "strength",
        "price",
        "price_of_effect",
        "lasting",
        "note",
        "have",
        "missing",
        "twins",
        "map_x",
        "map_y",
    ]);
    for line in &report.materials {
        let lacks = report.missing.iter().filter(|missing| missing.materials.contains(&line.material));
        let lacks: Vec<&str> = lacks.map(|missing| missing.what).collect();
        let other = |twin: &TwinLine| match () {
            () if twin.material == line.material => Some(twin.other.clone()),
            () if twin.other == line.material => Some(twin.material.clone()),
            () => None,
        };
        let twins: Vec<String> = report.twins.iter().filter_map(other).collect();
        let place = report.map.places.iter().find(|place| place.material == line.material);
        table.row(&[
            csv::text(&line.material),
            number(Some(line.strength)),
            number(line.price),
            number(line.price_of_effect),
            number(line.lasting),
            csv::text(line.note.unwrap_or_default()),
            csv::text(if line.have { "yes" } else { "no" }),
            csv::text(&lacks.join("; ")),
            csv::text(&twins.join("; ")),
            number(place.map(|place| place.x)),
            number(place.map(|place| place.y)),
        ]);
    }
    table.finish()
}
