//! Points of a curve, placed where it bends: an interval is halved as long as
//! the point in its middle lies off the straight line between its ends.

use crate::control::Control;
use crate::pool::in_parallel;
use crate::portable::Portable;
use crate::tolerance::curves::NARROWEST;

/// Where points are placed.
#[derive(Clone, Copy, Debug)]
pub struct Placing {
    /// At least so many.
    pub least: usize,
    /// At most so many.
    pub most: usize,
    /// An interval is halved where the middle lies off by more than this.
    pub tolerance: f64,
}

/// Equal intervals to begin with.
const FIRST: usize = 8;

/// The points of a curve, from left to right.
#[derive(Clone, Debug)]
pub struct Curve<T> {
    /// Where each stands, and what was found there.
    pub points: Vec<(f64, T)>,
    /// Whether there was time for all of them.
    pub is_complete: bool,
}

/// Finds a curve from `low` to `high`, with points at `also` whatever happens.
/// `solve` finds what there is at a place and `value` its height. The same
/// points are placed for any number of threads.
pub fn curve<T: Send + Sync>(
    (low, high): (f64, f64),
    also: &[f64],
    placing: Placing,
    control: &Control,
    solve: impl Fn(f64) -> Option<T> + Sync,
    value: impl Fn(&T) -> f64,
) -> Curve<T> {
    let mut places: Vec<f64> =
        (0..=FIRST).map(|at| low + (high - low) * at as f64 / FIRST as f64).chain(also.iter().copied()).collect();
    // The ends are what they are, not what rounding makes of them.
    (places[0], places[FIRST]) = (low, high);
    places.retain(|at| (low..=high).contains(at));
    places.sort_by(f64::total_cmp);
    places.dedup();
    let mut is_complete = true;
    let mut points: Vec<(f64, T)> = Vec::new();
    let mut add = |places: &[f64], points: &mut Vec<(f64, T)>| {
        let found = in_parallel(places, control, |&at| solve(at));
        is_complete &= found.iter().all(Option::is_some) && !control.should_stop();
        points.extend(places.iter().copied().zip(found).filter_map(|(at, found)| Some((at, found??))));
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
    };
    add(&places, &mut points);
    let narrowest = (high - low) * NARROWEST;
    let height = |points: &[(f64, T)], at: f64| points.iter().find(|point| point.0 == at).map(|point| value(&point.1));
    let mut tried: Vec<f64> = Vec::new();
    let mut open: Vec<(f64, f64)> = points.windows(2).map(|pair| (pair[0].0, pair[1].0)).collect();
    while points.len() < placing.most && !control.should_stop() {
        if open.is_empty() {
            if points.len() >= placing.least {
                break;
            }
            // Nothing bends any more: the widest intervals come next.
            open = points.windows(2).map(|pair| (pair[0].0, pair[1].0)).collect();
            open.retain(|(a, b)| !tried.contains(&f64::midpoint(*a, *b)));
            open.sort_by(|a, b| (b.1 - b.0).total_cmp(&(a.1 - a.0)).then(a.0.total_cmp(&b.0)));
            open.truncate(placing.least - points.len());
        }
        // What was not found once is not looked for again.
        open.retain(|(a, b)| b - a > narrowest && !tried.contains(&f64::midpoint(*a, *b)));
        if open.is_empty() {
            break;
        }
        open.truncate(placing.most - points.len());
        let middles: Vec<f64> = open.iter().map(|(a, b)| f64::midpoint(*a, *b)).collect();
        add(&middles, &mut points);
        tried.extend(&middles);
        let mut bent: Vec<(f64, (f64, f64))> = Vec::new();
        for (&(a, b), &middle) in open.iter().zip(&middles) {
            let heights = [a, middle, b].map(|at| height(&points, at));
            let [Some(left), Some(here), Some(right)] = heights else { continue };
            let off = (here - f64::midpoint(left, right)).abs();
            if off > placing.tolerance {
                bent.extend([(off, (a, middle)), (off, (middle, b))]);
            }
        }
        // What bends most first, should the points run out.
        bent.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.0.total_cmp(&b.1.0)));
        open = bent.into_iter().map(|(_, interval)| interval).collect();
    }
    Curve { points, is_complete }
}

/// Height of a curve at a place, in a straight line between its points;
/// `None` off the curve. Places must rise.
pub fn height_at(points: &[(f64, f64)], at: f64) -> Option<f64> {
    let after = points.iter().position(|point| point.0 >= at)?;
    let (right, height) = points[after];
    if right == at || after == 0 {
        return (right == at).then_some(height);
    }
    let (left, before) = points[after - 1];
    Some(before + (height - before) * (at - left) / (right - left))
}

/// So many places, evenly along a curve as it is drawn: both directions
/// measured by their whole range. Both ends are among them.
pub fn evenly(points: &[(f64, f64)], count: usize) -> Vec<f64> {
    let (Some(&first), Some(&last)) = (points.first(), points.last()) else { return Vec::new() };
    let (low, high) = points
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), point| (low.min(point.1), high.max(point.1)));
    let (wide, tall) = ((last.0 - first.0).max(f64::MIN_POSITIVE), (high - low).max(f64::MIN_POSITIVE));
    let mut gone = vec![0.0];
    for pair in points.windows(2) {
        let length = ((pair[1].0 - pair[0].0) / wide).hypotenuse((pair[1].1 - pair[0].1) / tall);
        gone.push(gone[gone.len() - 1] + length);
    }
    let all = gone[gone.len() - 1];
    let place = |at: usize| {
        if at + 1 == count {
            return last.0;
        }
        let wanted = all * at as f64 / (count - 1) as f64;
        let after = gone.iter().position(|gone| *gone >= wanted).unwrap_or(gone.len() - 1);
        if after == 0 {
            return first.0;
        }
        let part = (wanted - gone[after - 1]) / (gone[after] - gone[after - 1]).max(f64::MIN_POSITIVE);
        points[after - 1].0 + part.clamp(0.0, 1.0) * (points[after].0 - points[after - 1].0)
    };
    (0..count).map(place).collect()
}

/// Where the return falls off most: the place at which a rising curve stands
/// furthest above the straight line between its ends, both measured by their
/// whole range, so that the slope falls below the average there (V. Satopaa,
/// J. Albrecht, D. Irwin, B. Raghavan, "Finding a kneedle in a haystack", 2011).
/// `None` where the curve does not stand above that line.
pub fn knee(points: &[(f64, f64)]) -> Option<usize> {
    let (first, last) = (*points.first()?, *points.last()?);
    let (wide, high) = (last.0 - first.0, last.1 - first.1);
    if wide <= 0.0 || high.abs() < VISIBLE {
        return None;
    }
    let above = |point: &(f64, f64)| {
        let gone = (point.0 - first.0) / wide;
        // A falling curve keeps what it has up to its knee.
        let risen = (point.1 - first.1) / high.abs();
        if high > 0.0 { risen - gone } else { risen + gone }
    };
    let best = (0..points.len()).map(|at| (above(&points[at]), at)).reduce(|a, b| if b.0 > a.0 { b } else { a })?;
    (best.0 > BENDS).then_some(best.1)
}

/// Points of fidelity below which nothing is gained.
const VISIBLE: f64 = 0.05;
/// A curve that stands less than this part of its height above the line
/// between its ends has no knee.
const BENDS: f64 = 0.02;

#[cfg(test)]
mod tests {
    use super::*;

    const PLACING: Placing = Placing { least: 20, most: 200, tolerance: 0.01 };

    fn of(f: impl Fn(f64) -> f64 + Sync, also: &[f64], threads: usize) -> Vec<(f64, f64)> {
        let control = Control { threads: Some(threads), ..Control::default() };
        let found = curve((0.0, 10.0), also, PLACING, &control, |at| Some(f(at)), |value| *value);
        assert!(found.is_complete);
        found.points
    }

    #[test]
    fn points_stand_where_it_bends_and_are_enough() {
        let bent = |at: f64| if at < 3.3 { 10.0 * at } else { 33.0 };
        let points = of(bent, &[7.7], 1);
        assert!(points.len() >= 20 && points.len() < 60, "{}", points.len());
        assert!(points.windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert_eq!((points[0].0, points[points.len() - 1].0), (0.0, 10.0));
        assert!(points.iter().any(|point| point.0 == 7.7));
        for at in 0..=1000 {
            let at = f64::from(at) / 100.0;
            let off = (height_at(&points, at).unwrap() - bent(at)).abs();
            assert!(off <= 0.03, "off by {off} at {at}");
        }
        assert_eq!(points, of(bent, &[7.7], 3));
        assert_eq!(height_at(&points, 10.5), None);
        // A straight line needs no more than the least.
        assert_eq!(of(|at| at, &[], 1).len(), 20);
    }

    #[test]
    fn places_lie_evenly_along_what_is_drawn() {
        // Up, then along: half of the places on each.
        let corner = [(0.0, 0.0), (1e-9, 5.0), (10.0, 5.0)];
        let places = evenly(&corner, 5);
        assert!(places[1] <= 1e-9 && (places[3] - 5.0).abs() < 1e-6, "{places:?}");
        assert_eq!((places[0], places[4]), (0.0, 10.0));
        assert!(evenly(&[], 5).is_empty());
        assert_eq!(evenly(&[(2.0, 1.0)], 1), [2.0]);
    }

    #[test]
    fn the_knee_is_where_the_slope_falls_below_the_average() {
        let bent = [(0.0, 0.0), (1.0, 8.0), (2.0, 9.0), (10.0, 10.0)];
        assert_eq!(knee(&bent), Some(1));
        assert_eq!(knee(&[(0.0, 0.0), (5.0, 5.0), (10.0, 10.0)]), None);
        assert_eq!(knee(&[(0.0, 1.0), (10.0, 1.0)]), None);
        // Falling: nearly all of it is kept up to the knee.
        assert_eq!(knee(&[(0.0, 10.0), (8.0, 9.0), (10.0, 0.0)]), Some(1));
    }

    #[test]
    fn what_cannot_be_had_is_left_out() {
        let control = Control::default();
        let found = curve((0.0, 1.0), &[], PLACING, &control, |at| (at >= 0.5).then_some(at), |value| *value);
        assert!(found.points.iter().all(|point| point.0 >= 0.5) && found.points.len() >= 20);
        // Holes everywhere: it ends all the same.
        let holes = |at: f64| (at == 0.0 || at == 1.0).then_some(at);
        assert_eq!(curve((0.0, 1.0), &[], PLACING, &control, holes, |value| *value).points.len(), 2);
        control.stop.store(true, std::sync::atomic::Ordering::Relaxed);
        let stopped = curve((0.0, 1.0), &[], PLACING, &control, Some, |value| *value);
        assert!(stopped.points.is_empty() && !stopped.is_complete);
    }
}
