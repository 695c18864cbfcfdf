//! A shelf by itself.

use crate::chart::effect::{EffectChart, EffectPoint};
use crate::chart::shelf_map::{MapAxis, MapPlace, ShelfMap};
use crate::results::shelf::{AxisLine, Loading, ShelfReport};

/// What a chart calls the shelf: its name, or its file.
fn title(report: &ShelfReport) -> String {
    report.name.as_ref().filter(|name| !name.trim().is_empty()).unwrap_or(&report.palette).clone()
}

impl ShelfMap {
    /// The map of a report.
    pub fn of_report(report: &ShelfReport) -> ShelfMap {
        let words = |loadings: &[Loading]| loadings.iter().map(|it| it.descriptor.clone()).collect();
        let axis = |axis: &AxisLine| MapAxis {
            explains_percent: axis.explains_percent,
            more: words(&axis.more),
            less: words(&axis.less),
        };
        let places = report.map.places.iter().map(|place| MapPlace {
            material: place.material.clone(),
            strongest: place.strongest.clone(),
            at: (place.x, place.y),
        });
        ShelfMap { shelf: title(report), axes: report.map.axes.iter().map(axis).collect(), places: places.collect() }
    }
}

impl EffectChart {
    /// Strength and price of effect of a report.
    pub fn of_report(report: &ShelfReport) -> EffectChart {
        let odorous = || report.materials.iter().filter(|line| line.strength > 0.0);
        let points: Vec<EffectPoint> = odorous()
            .filter_map(|line| {
                Some(EffectPoint {
                    material: line.material.clone(),
                    strength: line.strength,
                    is_loose: line.strength_said.is_some(),
                    effect: line.price_of_effect.filter(|effect| *effect > 0.0)?,
                    note: line.note.map(|note| note.word().to_owned()),
                })
            })
            .collect();
        let without_price = odorous().count() - points.len();
        EffectChart { shelf: title(report), currency: report.currency.clone(), points, without_price }
    }
}
