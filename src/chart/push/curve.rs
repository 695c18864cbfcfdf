//! The curves in pieces: inside the lowest cap, beyond it, above the floor.

use super::{PushCap, PushChart, PushPoint};

/// A curve: doses in ppt and fidelities in percent.
pub(super) type Curve = Vec<(f64, f64)>;

impl PushChart {
    /// A curve in unbroken stretches, inside the lowest cap and beyond it, as
    /// far as it is not below `floor`.
    pub(super) fn stretches(&self, floor: f64, of: impl Fn(&PushPoint) -> Option<f64>) -> (Vec<Curve>, Vec<Curve>) {
        let (inside, beyond) = self.whole_stretches(of);
        let cut = |curves: Vec<Curve>| curves.iter().flat_map(|curve| above(curve, floor)).collect();
        (cut(inside), cut(beyond))
    }

    fn whole_stretches(&self, of: impl Fn(&PushPoint) -> Option<f64>) -> (Vec<Curve>, Vec<Curve>) {
        let cap = self.cap();
        let mut inside: Vec<Curve> = vec![Vec::new()];
        let mut beyond: Vec<Curve> = vec![Vec::new()];
        let mut before: Option<(f64, f64)> = None;
        for point in &self.points {
            let Some(fidelity) = of(point) else {
                inside.push(Vec::new());
                beyond.push(Vec::new());
                before = None;
                continue;
            };
            let here = (point.dose_ppt, fidelity);
            let is_inside = point.dose_ppt <= cap * (1.0 + 1e-9);
            if let Some(last) = before
                && !is_inside
                && beyond.last().is_some_and(Vec::is_empty)
            {
                // Both stretches meet at the cap.
                let part = ((cap - last.0) / (here.0 - last.0)).clamp(0.0, 1.0);
                let meet = (last.0 + part * (here.0 - last.0), last.1 + part * (here.1 - last.1));
                inside.last_mut().into_iter().for_each(|stretch| stretch.push(meet));
                beyond.last_mut().into_iter().for_each(|stretch| stretch.push(meet));
            }
            let side = if is_inside { &mut inside } else { &mut beyond };
            side.last_mut().into_iter().for_each(|stretch| stretch.push(here));
            before = Some(here);
        }
        (inside, beyond)
    }
}

/// The stretches of a curve that are not below a floor.
fn above(curve: &[(f64, f64)], floor: f64) -> Vec<Curve> {
    let mut pieces: Vec<Curve> = vec![Vec::new()];
    for (at, &point) in curve.iter().enumerate() {
        let last = at.checked_sub(1).map(|at| curve[at]);
        if let Some(last) = last.filter(|last| (last.1 >= floor) != (point.1 >= floor)) {
            let part = (floor - last.1) / (point.1 - last.1);
            let edge = (last.0 + part * (point.0 - last.0), floor);
            if point.1 >= floor {
                pieces.push(vec![edge]);
            } else if let Some(piece) = pieces.last_mut() {
                piece.push(edge);
            }
        }
        if point.1 >= floor
            && let Some(piece) = pieces.last_mut()
        {
            piece.push(point);
        }
    }
    pieces.retain(|piece| !piece.is_empty());
    pieces
}

/// Caps at the same dose are one; the lowest first.
pub(super) fn merged(caps: &[PushCap]) -> Vec<PushCap> {
    let mut sorted = caps.to_vec();
    sorted.sort_by(|a, b| a.dose_ppt.total_cmp(&b.dose_ppt));
    let mut merged: Vec<PushCap> = Vec::new();
    for cap in sorted {
        match merged.last_mut() {
            Some(last) if (last.dose_ppt - cap.dose_ppt).abs() <= 1e-9 * cap.dose_ppt.abs() => {
                last.reason = format!("{} and {}", last.reason, cap.reason);
            }
            _ => merged.push(cap),
        }
    }
    merged
}
