//! A shelf as rows.

use super::{Table, cells, numbers};
use crate::palette::Note;
use crate::results::shelf::{FindReport, ShelfReport, TwinLine};

/// What was found, where something was looked for; else all materials.
pub fn shelf(report: &ShelfReport) -> Table {
    if let Some(find) = &report.find {
        return found(find);
    }
    let is_loose = report.materials.iter().any(|line| line.strength_said.is_some());
    let head = [
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
    ];
    let mut table = Table::new(head.into_iter().chain(is_loose.then_some("strength_said")));
    for line in &report.materials {
        let lacks = report.missing.iter().filter(|missing| missing.materials.contains(&line.material));
        let lacks: Vec<&str> = lacks.map(|missing| missing.what.word()).collect();
        let other = |twin: &TwinLine| match () {
            () if twin.material == line.material => Some(twin.other.clone()),
            () if twin.other == line.material => Some(twin.material.clone()),
            () => None,
        };
        let twins: Vec<String> = report.twins.iter().filter_map(other).collect();
        let place = report.map.places.iter().find(|place| place.material == line.material);
        let mut row = cells![
            &line.material,
            line.strength,
            line.price,
            line.price_of_effect,
            line.lasting,
            line.note.map(Note::word),
            if line.have { "yes" } else { "no" },
            lacks.join("; "),
            twins.join("; "),
            place.map(|place| place.x),
            place.map(|place| place.y),
        ];
        if is_loose {
            row.extend(cells![line.strength_said.clone()]);
        }
        table.row(row);
    }
    table
}

fn found(find: &FindReport) -> Table {
    let head = ["material", "fit", "wanted_percent", "unwanted_percent", "strength", "price_of_effect"];
    let words = find.wanted.iter().chain(&find.unwanted).map(String::as_str);
    let mut table = Table::new(head.into_iter().chain(words));
    for line in &find.found {
        let mut row = cells![
            &line.material,
            line.fit,
            line.wanted_percent,
            line.unwanted_percent,
            line.strength,
            line.price_of_effect,
        ];
        row.extend(numbers(line.scores.iter().map(|word| Some(word.score))));
        table.row(row);
    }
    table
}
