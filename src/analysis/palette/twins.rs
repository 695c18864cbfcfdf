//! Materials that smell of nearly the same: one could stand in for the other.

use super::{character, price_of_effect};
use crate::control::Control;
use crate::palette::Palette;
use crate::pool::in_parallel;
use crate::tolerance::curves::SAME_SHARE;

/// Two materials of nearly the same character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Twins {
    /// The one whose effect costs less, where both prices are known; the
    /// first of the palette elsewhere.
    pub one: usize,
    /// The other.
    pub other: usize,
    /// What their characters have in common, in percent.
    pub alike_percent: f64,
    /// How much less the effect of `one` costs, in percent of the other's.
    pub saves_percent: Option<f64>,
}

/// What two characters have in common, 0 to 1: the overlap of two profiles
/// that add up to 1.
pub fn overlap(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a.min(*b)).sum()
}

/// How far below a limit a sum may be taken, so that rounding leaves out no pair.
const ROUNDING: f64 = 1e-9;

/// Who can be alike at all: of a character those descriptors are looked at, the rarest first,
/// without which too little is left to have in common. Who has none of them is no twin. So most
/// pairs of a large shelf are never compared.
struct Carriers<'a> {
    profiles: &'a [(usize, Vec<f64>)],
    /// Of each descriptor the places of those that have it, in their order.
    of: Vec<Vec<usize>>,
    least: f64,
}

impl<'a> Carriers<'a> {
    fn new(profiles: &'a [(usize, Vec<f64>)], least: f64) -> Carriers<'a> {
        let mut of = vec![Vec::new(); profiles.first().map_or(0, |(_, profile)| profile.len())];
        for (at, (_, profile)) in profiles.iter().enumerate() {
            (0..of.len()).filter(|&word| profile[word] > 0.0).for_each(|word| of[word].push(at));
        }
        Carriers { profiles, of, least }
    }

    /// The places behind this one that may have so much in common with it, in their order.
    fn behind(&self, at: usize) -> Vec<usize> {
        let profile = &self.profiles[at].1;
        let mut words: Vec<usize> = (0..self.of.len()).filter(|&word| profile[word] > 0.0).collect();
        words.sort_by_key(|&word| (self.of[word].len(), word));
        let (mut seen, mut found) = (0.0, Vec::new());
        for word in words {
            let members = &self.of[word];
            found.extend_from_slice(&members[members.partition_point(|&other| other <= at)..]);
            seen += profile[word];
            if seen > 1.0 - self.least + ROUNDING {
                found.sort_unstable();
                found.dedup();
                return found;
            }
        }
        (at + 1..self.profiles.len()).collect()
    }
}

/// All pairs that have at least so much in common, the most alike first.
pub fn twins(palette: &Palette, least_percent: f64, control: &Control) -> Vec<Twins> {
    let all: Vec<(usize, Vec<f64>)> =
        palette.materials.iter().enumerate().filter_map(|(at, material)| Some((at, character(material)?))).collect();
    let places: Vec<usize> = (0..all.len()).collect();
    let carriers = Carriers::new(&all, (least_percent - SAME_SHARE) / 100.0);
    let of_one = |&at: &usize| {
        let (one, profile) = &all[at];
        let alike = carriers.behind(at).into_iter().map(|place| &all[place]).filter_map(|(other, theirs)| {
            let alike_percent = 100.0 * overlap(profile, theirs);
            // Sums of thirds may lie a rounding below a round limit.
            (alike_percent >= least_percent - SAME_SHARE).then(|| pair(palette, *one, *other, alike_percent))
        });
        alike.collect::<Vec<_>>()
    };
    let mut found: Vec<Twins> = in_parallel(&places, control, of_one).into_iter().flatten().flatten().collect();
    found.sort_by(|a, b| {
        let order = b.alike_percent.total_cmp(&a.alike_percent);
        order.then(a.one.min(a.other).cmp(&b.one.min(b.other))).then(a.one.max(a.other).cmp(&b.one.max(b.other)))
    });
    found
}

fn pair(palette: &Palette, one: usize, other: usize, alike_percent: f64) -> Twins {
    let effect = |at: usize| price_of_effect(&palette.materials[at]);
    let (Some(a), Some(b)) = (effect(one), effect(other)) else {
        return Twins { one, other, alike_percent, saves_percent: None };
    };
    let (one, other, low, high) = if b < a { (other, one, b, a) } else { (one, other, a, b) };
    let saves = if high > 0.0 { 100.0 * (1.0 - low / high) } else { 0.0 };
    Twins { one, other, alike_percent, saves_percent: Some(saves) }
}

#[cfg(test)]
mod tests {
    use super::{Carriers, overlap};
    use crate::chance::Chance;

    /// Whoever is left out has less in common than was asked for.
    #[test]
    fn no_pair_is_left_out() {
        let mut chance = Chance::new(11, 0);
        let mut draw = move || chance.between(0.0, 1.0);
        let mut profiles = Vec::new();
        for at in 0..120 {
            let mut profile: Vec<f64> =
                (0..9).map(|_| if draw() < 0.4 { (10.0 * draw()).ceil() } else { 0.0 }).collect();
            profile[at % 9] += 1.0;
            let total: f64 = profile.iter().sum();
            profiles.push((at, profile.iter().map(|points| points / total).collect::<Vec<f64>>()));
        }
        for (least, fewer) in [(-0.1, false), (0.0, false), (0.5, true), (0.9, true), (1.0, true)] {
            let carriers = Carriers::new(&profiles, least);
            let (mut compared, mut pairs) = (0, 0);
            for (at, one) in profiles.iter().enumerate() {
                let behind = carriers.behind(at);
                for (place, other) in profiles.iter().enumerate().skip(at + 1) {
                    assert!(
                        behind.contains(&place) || overlap(&one.1, &other.1) < least,
                        "{at} and {place} at {least}"
                    );
                    pairs += 1;
                }
                compared += behind.len();
            }
            assert_eq!(compared < pairs, fewer, "{compared} of {pairs} at {least}");
        }
    }
}
