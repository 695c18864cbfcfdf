//! Which materials enter and leave along a curve, and where.

/// A dose below this part of the material's greatest on the curve counts as
/// none: it is on its way in or out.
const TRACE: f64 = 0.02;
/// What comes or goes for less than this part of the curve is a blink that
/// nobody would act on.
const BLINK: f64 = 0.03;

/// Where a material is present along a curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Passing {
    /// Index into the palette.
    pub material: usize,
    /// Its greatest dose on the curve in ppt, and where that is.
    pub most: (f64, f64),
    /// Stretches in which it is present, from left to right.
    pub present: Vec<Stretch>,
}

/// A stretch of a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Where it begins; `None` where that is the beginning of the curve.
    pub from: Option<f64>,
    /// Where it ends; `None` where that is the end of the curve.
    pub to: Option<f64>,
}

/// For every material that is present anywhere on a curve, where. `doses[k]`
/// is the dose in ppt of each palette material at `places[k]`; places rise.
/// Those that are there from the start come first, then in the order in which
/// they enter.
/// Where `whole`, nothing stands between two places.
pub fn passings(places: &[f64], doses: &[Vec<f64>], whole: bool) -> Vec<Passing> {
    let (Some(&low), Some(&high)) = (places.first(), places.last()) else { return Vec::new() };
    let materials = doses.first().map_or(0, Vec::len);
    let mut all: Vec<Passing> =
        (0..materials).filter_map(|material| passing(material, places, doses, whole, BLINK * (high - low))).collect();
    let begins = |passing: &Passing| passing.present.first().and_then(|stretch| stretch.from).unwrap_or(low);
    all.sort_by(|a, b| begins(a).total_cmp(&begins(b)).then(b.most.0.total_cmp(&a.most.0)));
    all
}

fn passing(material: usize, places: &[f64], doses: &[Vec<f64>], whole: bool, blink: f64) -> Option<Passing> {
    let dose = |at: usize| doses[at][material];
    let top = (0..places.len()).reduce(|a, b| if dose(b) > dose(a) { b } else { a })?;
    let most = dose(top);
    if most <= crate::units::Ppt::LEAST.as_f64() {
        return None;
    }
    let floor = TRACE * most;
    // Stretches above the floor, their ends between the points.
    let crossing = |a: usize, b: usize| {
        let part = (floor - dose(a)) / (dose(b) - dose(a));
        places[a] + part * (places[b] - places[a])
    };
    let last = places.len() - 1;
    let mut ends: Vec<(f64, f64)> = Vec::new();
    let mut began = (dose(0) >= floor).then_some(places[0]);
    for at in 1..=last {
        match (began, dose(at) >= floor) {
            (None, true) => began = Some(if whole { places[at] } else { crossing(at - 1, at) }),
            (Some(from), false) => {
                ends.push((from, if whole { places[at - 1] } else { crossing(at - 1, at) }));
                began = None;
            }
            _ => {}
        }
    }
    ends.extend(began.map(|from| (from, places[last])));
    // Gaps that are blinks are bridged, then stretches that are blinks go.
    let mut joined: Vec<(f64, f64)> = Vec::new();
    for (from, to) in ends {
        match joined.last_mut() {
            Some(before) if !whole && from - before.1 < blink => before.1 = to,
            _ => joined.push((from, to)),
        }
    }
    joined.retain(|(from, to)| whole || to - from >= blink);
    let present = joined
        .iter()
        .map(|&(from, to)| Stretch { from: (from > places[0]).then_some(from), to: (to < places[last]).then_some(to) });
    let present: Vec<Stretch> = present.collect();
    (!present.is_empty()).then_some(Passing { material, most: (most, places[top]), present })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entering_leaving_and_blinks() {
        let places: Vec<f64> = (0..=100).map(f64::from).collect();
        // There throughout; enters at 50; leaves at 20; blinks at 70; never.
        let doses: Vec<Vec<f64>> = places
            .iter()
            .map(|&at| {
                let blink = if at == 70.0 { 5.0 } else { 0.0 };
                vec![10.0, (at - 50.0).max(0.0), (20.0 - at).max(0.0), blink, 0.0]
            })
            .collect();
        let found = passings(&places, &doses, false);
        assert_eq!(found.iter().map(|one| one.material).collect::<Vec<_>>(), [2, 0, 1]);
        assert_eq!(found[1].present, [Stretch { from: None, to: None }]);
        let enters = found[2].present[0];
        assert!((enters.from.unwrap() - 51.0).abs() < 1e-9 && enters.to.is_none());
        let leaves = found[0].present[0];
        assert!((leaves.to.unwrap() - 19.6).abs() < 1e-9 && leaves.from.is_none());
        assert_eq!(found[2].most, (50.0, 100.0));
    }

    #[test]
    fn counts_have_nothing_between_them() {
        let places = [3.0, 4.0, 5.0];
        let doses: Vec<Vec<f64>> = vec![vec![1.0, 0.0, 2.0], vec![1.0, 5.0, 0.0], vec![1.0, 0.0, 0.0]];
        let present: Vec<Stretch> = passings(&places, &doses, true).iter().map(|one| one.present[0]).collect();
        let stretch = |from, to| Stretch { from, to };
        assert_eq!(present, [stretch(None, Some(3.0)), stretch(None, None), stretch(Some(4.0), Some(4.0))]);
    }

    #[test]
    fn a_short_gap_is_bridged() {
        let places: Vec<f64> = (0..=100).map(f64::from).collect();
        let doses: Vec<Vec<f64>> = places.iter().map(|&at| vec![if at == 40.0 { 0.0 } else { 1.0 }]).collect();
        assert_eq!(passings(&places, &doses, false)[0].present, [Stretch { from: None, to: None }]);
        assert!(passings(&[], &[], false).is_empty());
    }
}
