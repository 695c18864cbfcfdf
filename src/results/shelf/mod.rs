//! What a shelf holds, lacks and has twice.

mod keys;

pub use keys::{
    AxisLine, DescriptorLine, FindReport, FoundLine, Loading, MapReport, MaterialLine, MissingLine, PlaceLine,
    ScoreLine, ShelfReport, Sort, TwinLine, WordLine,
};

use crate::analysis::palette::map::{Axis, Map};
use crate::analysis::palette::missing::{Lack, carriers_of};
use crate::analysis::palette::price_of_effect;
use crate::analysis::palette::ranking::Ranked;
use crate::analysis::palette::twins::Twins;
use crate::palette::{Note, Palette};
use crate::sentences::said::said;

/// What was worked out of a palette.
#[derive(Clone, Debug)]
pub struct Looked {
    /// The order of the materials.
    pub sort: Sort,
    /// The note that they are narrowed down to.
    pub note: Option<Note>,
    /// The least that twins have in common, in percent.
    pub twins_from_percent: f64,
    /// The twins.
    pub twins: Vec<Twins>,
    /// Wanted and unwanted descriptors, and the ranking.
    pub find: Option<(Vec<usize>, Vec<usize>, Vec<Ranked>)>,
    /// The map.
    pub map: Map,
}

impl ShelfReport {
    /// The report of a palette.
    pub fn new(palette: &Palette, looked: &Looked) -> ShelfReport {
        let name = |at: usize| palette.materials[at].name.clone();
        let word = |at: usize| palette.descriptors[at].name.clone();
        let carried: Vec<Vec<(usize, f64)>> =
            (0..palette.descriptors.len()).map(|at| carriers_of(palette, at)).collect();
        let by_count = |count: usize| (0..carried.len()).filter(|&at| carried[at].len() == count).map(word).collect();
        let descriptors = palette.descriptors.iter().zip(&carried).map(|(descriptor, carried)| DescriptorLine {
            descriptor: descriptor.name.clone(),
            meaning: descriptor.meaning.clone(),
            materials: carried.iter().map(|&(at, score)| ScoreLine { material: name(at), score }).collect(),
        });
        let missing = Lack::ALL
            .map(|lack| MissingLine { what: lack, materials: lack.of(palette).into_iter().map(name).collect() });
        let twin = |twins: &Twins| {
            let (one, other) = (&palette.materials[twins.one], &palette.materials[twins.other]);
            TwinLine {
                material: one.name.clone(),
                other: other.name.clone(),
                alike: twins.alike_percent,
                price_of_effect: price_of_effect(one),
                other_price_of_effect: price_of_effect(other),
                saves_percent: twins.saves_percent,
                parts_for_one: other.strength / one.strength,
            }
        };
        let find = looked.find.as_ref().map(|(wanted, unwanted, found)| FindReport {
            wanted: wanted.iter().copied().map(word).collect(),
            unwanted: unwanted.iter().copied().map(word).collect(),
            found: found
                .iter()
                .filter(|ranked| looked.note.is_none() || palette.materials[ranked.material].note == looked.note)
                .map(|ranked| found_line(palette, wanted, unwanted, ranked))
                .collect(),
        });
        ShelfReport {
            schema: super::head::SCHEMA,
            command: "shelf",
            palette: palette.file.to_string(),
            name: palette.name.clone(),
            currency: palette.currency.clone(),
            scale: palette.scale,
            note: looked.note,
            materials: materials(palette, looked.sort, looked.note),
            descriptors: descriptors.collect(),
            single: by_count(1),
            unused: by_count(0),
            missing: missing.into_iter().filter(|line| !line.materials.is_empty()).collect(),
            twins_from: looked.twins_from_percent,
            twins: looked.twins.iter().map(twin).collect(),
            find,
            map: map(palette, &looked.map),
        }
    }
}

fn found_line(palette: &Palette, wanted: &[usize], unwanted: &[usize], ranked: &Ranked) -> FoundLine {
    let material = &palette.materials[ranked.material];
    let scores = wanted
        .iter()
        .chain(unwanted)
        .map(|&at| WordLine { descriptor: palette.descriptors[at].name.clone(), score: material.scores[at] });
    FoundLine {
        material: material.name.clone(),
        fit: ranked.fit_percent,
        wanted_percent: ranked.wanted_percent,
        unwanted_percent: ranked.unwanted_percent,
        scores: scores.collect(),
        strength: material.strength,
        strength_said: said(material),
        price_of_effect: price_of_effect(material),
    }
}

fn materials(palette: &Palette, sort: Sort, note: Option<Note>) -> Vec<MaterialLine> {
    let mut lines: Vec<MaterialLine> = palette
        .materials
        .iter()
        .filter(|material| note.is_none() || material.note == note)
        .map(|material| MaterialLine {
            material: material.name.clone(),
            strength: material.strength,
            strength_said: said(material),
            price: material.price_per_kg,
            price_of_effect: price_of_effect(material),
            lasting: material.lasting_hours,
            note: material.note,
            have: material.have,
        })
        .collect();
    let last = |value: Option<f64>| value.unwrap_or(f64::INFINITY);
    match sort {
        Sort::Strength => lines.sort_by(|a, b| b.strength.total_cmp(&a.strength)),
        Sort::Effect => lines.sort_by(|a, b| last(a.price_of_effect).total_cmp(&last(b.price_of_effect))),
        Sort::Lasting => lines.sort_by(|a, b| b.lasting.unwrap_or(-1.0).total_cmp(&a.lasting.unwrap_or(-1.0))),
        Sort::Name => lines.sort_by_cached_key(|line| line.material.to_lowercase()),
    }
    lines
}

fn map(palette: &Palette, map: &Map) -> MapReport {
    let axis = |axis: &Axis| {
        let mut loadings: Vec<Loading> = palette
            .descriptors
            .iter()
            .zip(&axis.loadings)
            .map(|(descriptor, &loading)| Loading { descriptor: descriptor.name.clone(), loading })
            .collect();
        loadings.sort_by(|a, b| b.loading.abs().total_cmp(&a.loading.abs()));
        let (more, less): (Vec<Loading>, Vec<Loading>) =
            loadings.into_iter().filter(|it| it.loading.abs() > 1e-9).partition(|it| it.loading > 0.0);
        AxisLine { explains_percent: axis.explains_percent, more, less }
    };
    let strongest = |at: usize| {
        let scores = &palette.materials[at].scores;
        let most = (0..scores.len()).reduce(|best, at| if scores[at] > scores[best] { at } else { best });
        most.map(|at| palette.descriptors[at].name.clone()).unwrap_or_default()
    };
    let place = |&(at, [x, y]): &(usize, [f64; 2])| PlaceLine {
        material: palette.materials[at].name.clone(),
        strongest: strongest(at),
        x,
        y,
    };
    MapReport { axes: map.axes.iter().map(axis).collect(), places: map.places.iter().map(place).collect() }
}
