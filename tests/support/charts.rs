//! Inputs of charts, made up: ordinary ones and hard ones.

use permil::chart::Chart;
use permil::chart::contributions::Contributions;
use permil::chart::descriptors::{DescriptorLine, DescriptorsChart, Tick};
use permil::chart::doubt::{DoubtChart, DoubtPart, DoubtRow};
use permil::chart::drying::{DryingBand, DryingChart};
use permil::chart::dumbbell::Dumbbell;
use permil::chart::effect::{EffectChart, EffectPoint};
use permil::chart::kit::time::TimeMark;
use permil::chart::leeway::{LeewayBar, LeewayChart};
use permil::chart::pairs::{Pair, PairsChart, Panel};
use permil::chart::profile::{Blend, Part, ProfileChart, Wanted};
use permil::chart::push::{PushCap, PushChart, PushPoint};
use permil::chart::radar::Radar;
use permil::chart::shelf_map::{MapAxis, MapPlace, ShelfMap};
use permil::chart::stages::StagesChart;
use permil::chart::starts::{Start, StartsChart};
use permil::chart::strengths::{StrengthRow, StrengthsChart};
use permil::chart::tradeoff::{Against, Course, TradeoffChart, TradeoffPoint};

/// What a name may be that wishes nobody well.
pub const HOSTILE: &str =
    "<script>alert('x')</script> & \"]]>\u{1b}[31m\u{202e}\u{0}\u{ffff}\n--> R\u{e9}s\u{e9}da 薔薇";
/// A name that no column has room for.
pub const LONG: &str = "Reconstituted rose otto, top fraction of the second molecular distillation, third drum";

/// How hard a chart is to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Case {
    /// Twelve materials, fourteen descriptors, prices in tens.
    Ordinary,
    /// One material, one descriptor.
    One,
    /// Eighty materials, forty descriptors, prices in hundreds of thousands.
    Many,
    /// Names without end.
    Long,
    /// Names with markup and control characters.
    Hostile,
}

pub const CASES: [Case; 5] = [Case::Ordinary, Case::One, Case::Many, Case::Long, Case::Hostile];

const MATERIALS: [&str; 12] = [
    "Citronellol",
    "Phenylethyl alcohol",
    "Geraniol",
    "Nerol",
    "Clove bud oil",
    "Rose oxide",
    "beta-Damascenone",
    "Phenylacetaldehyde",
    "Geranyl acetate",
    "Linalool",
    "alpha-Ionone",
    "Rose absolute",
];
const DESCRIPTORS: [&str; 14] = [
    "rosy", "fresh", "honeyed", "fruity", "green", "waxy", "citrus", "spicy", "tea", "metallic", "woody", "earthy",
    "powdery", "musky",
];

impl Case {
    pub fn materials(self) -> usize {
        match self {
            Case::One => 1,
            Case::Many => 80,
            _ => 12,
        }
    }

    pub fn descriptors(self) -> usize {
        match self {
            Case::One => 1,
            Case::Many => 40,
            _ => 14,
        }
    }

    fn name(self, at: usize, known: &[&str]) -> String {
        match self {
            Case::Long => format!("{LONG}, {at}"),
            Case::Hostile => format!("{at} {HOSTILE}"),
            _ => known.get(at).map_or_else(|| format!("Number {at}"), |name| (*name).to_owned()),
        }
    }

    fn material(self, at: usize) -> String {
        self.name(at, &MATERIALS)
    }

    fn currency(self) -> String {
        match self {
            Case::Many => "JPY".to_owned(),
            Case::Hostile => HOSTILE.to_owned(),
            _ => "EUR".to_owned(),
        }
    }

    fn brief(self) -> String {
        self.name(0, &["Rose stand-in"])
    }

    /// So many formulas beside one target.
    pub fn profile(self, blends: usize) -> ProfileChart {
        let descriptors = self.descriptors();
        let wanted = |at: usize| Wanted {
            descriptor: self.name(at, &DESCRIPTORS),
            target: if at == 0 { 7.5 } else { ((at * 7) % 11) as f64 * 0.3 },
        };
        let blend = |number: usize| {
            let part = |at: usize| Part {
                material: self.material(at),
                dose_ppt: 1000.0 / self.materials() as f64,
                unusual: (at % 3 == 1).then(|| "above 0.123456".to_owned()),
                brings: (0..descriptors)
                    .map(|d| {
                        let all = if d == 0 { 7.9 } else { ((d * 7 + number) % 11) as f64 * 0.32 };
                        all * (1.0 + ((at + d) % 5) as f64)
                            / (0..self.materials()).map(|m| 1.0 + ((m + d) % 5) as f64).sum::<f64>()
                    })
                    .collect(),
            };
            let parts: Vec<Part> = (0..self.materials()).map(part).collect();
            let scores: Vec<f64> = (0..descriptors).map(|d| parts.iter().map(|part| part.brings[d]).sum()).collect();
            // What is next to nothing is sure.
            let range = |(at, score): (usize, &f64)| {
                let wide = 0.05 * score.sqrt() * (1 + at % 5) as f64;
                (at % 6 != 5).then_some(((score - wide).max(0.0), score + 1.4 * wide))
            };
            Blend {
                name: self.name(number, &["the proposal", "mod 1", "mod 2", "mod 3", "mod 4", "mod 5"]),
                fidelity_percent: 93.6 - number as f64,
                ranges: scores.iter().enumerate().map(range).collect(),
                scores,
                parts,
            }
        };
        ProfileChart {
            brief: self.brief(),
            wanted: (0..descriptors).map(wanted).collect(),
            blends: (0..blends).map(blend).collect(),
            told: None,
        }
    }

    pub fn tradeoff(self, against: Option<Against>) -> TradeoffChart {
        let unit = if self == Case::Many { 16_500.0 } else { 1.0 };
        let count = against == Some(Against::Count);
        let materials = if count { 0 } else { self.materials() };
        let points: Vec<TradeoffPoint> = (0..if count { 12 } else { 60 })
            .map(|at| {
                let t = at as f64 / if count { 11.0 } else { 59.0 };
                let dose = |m: usize| {
                    let (peak, wide) = ((m as f64 * 0.37) % 1.4 - 0.2, 0.2 + (m as f64 * 0.13) % 0.6);
                    400.0 / (1.0 + m as f64) * (1.0 - ((t - peak) / wide).abs()).max(0.0)
                };
                TradeoffPoint {
                    at: if count { at as f64 + 1.0 } else { (14.0 + 66.0 * t) * unit },
                    fidelity_percent: 78.0 + 16.0 * (1.0 - (-6.0 * t).exp()),
                    doses_ppt: (0..materials).map(dose).collect(),
                    proven: at != 22,
                    until: Some(if at % 3 == 0 { (14.0 + 66.0 * (t + 0.01)) * unit } else { (14.0 + 66.0 * t) * unit }),
                }
            })
            .collect();
        let upper = |point: &TradeoffPoint| (point.at, point.fidelity_percent + 1.5);
        TradeoffChart {
            brief: self.brief(),
            against: against.unwrap_or_else(|| Against::Price(self.currency())),
            materials: (0..materials).map(|at| self.material(at)).collect(),
            course: if count { Course::Apart } else { Course::StepsUp },
            upper_limit: if count { Vec::new() } else { points.iter().map(upper).collect() },
            own: Some(if count { 9.0 } else { 30.0 * unit }),
            knee: Some(if count { 4.0 } else { 22.0 * unit }),
            cost_of_a_point: (!count).then_some(4.5 * unit),
            points,
        }
    }

    pub fn push(self) -> PushChart {
        let fidelity = |dose: f64| if dose < 0.9 { 87.5 + 5.5 * dose } else { 92.45 - 6.0 * (dose - 0.9).powi(2) };
        let point = |at: usize| {
            let dose_ppt = at as f64 * 0.05;
            let fidelity = fidelity(dose_ppt);
            let second = fidelity - 1.5 - 0.3 * dose_ppt;
            PushPoint { dose_ppt, fidelity_percent: Some(fidelity), second_percent: Some(second), proven: at != 7 }
        };
        let caps: &[(f64, &str)] = match self {
            Case::One => &[],
            Case::Many => {
                &[(1.3, "a"), (1.31, "b"), (1.4, "c"), (1.9, "d"), (2.2, "e"), (2.8, "f"), (2.9, "g"), (40.0, "h")]
            }
            _ => &[(1.3, "own cap"), (1.6, "restriction, Fine fragrance, category 4"), (2.2, "restriction, Soap")],
        };
        let cap = |(at, &(dose_ppt, reason)): (usize, &(f64, &str))| PushCap {
            dose_ppt,
            reason: self.name(at, &[reason; 8]),
        };
        PushChart {
            brief: self.brief(),
            material: self.name(0, &["beta-Damascenone"]),
            points: (0..60).map(point).collect(),
            is_continuous: self == Case::One,
            upper_limit: (0..30).map(|at| (at as f64 * 0.05, fidelity(at as f64 * 0.05) + 1.0)).collect(),
            caps: caps.iter().enumerate().map(cap).collect(),
            best: Some((0.9, 92.45)),
            best_second: Some((0.85, 90.4)),
            window_ppt: Some((0.72, 1.3)),
            margin_points: 1.0,
            gain_gone_ppt: Some(1.81),
            without_percent: Some(87.5),
        }
    }

    pub fn leeway(self) -> LeewayChart {
        let bar = |at: usize| {
            let at_ppt = if at % 3 == 2 { 0.0 } else { 435.0 / (1.0 + at as f64).powi(2) };
            LeewayBar {
                material: self.material(at),
                min_ppt: if at.is_multiple_of(3) { 0.7 * at_ppt } else { 0.0 },
                max_ppt: 1.2 * at_ppt + 0.01,
                at_ppt,
                usual_ppt: (at % 4 != 3).then_some((0.3 * at_ppt, (0.8 + 0.2 * (at % 4) as f64) * at_ppt)),
                cap_ppt: at.is_multiple_of(4).then_some(1.4 * at_ppt),
                loss_without_points: (at % 3 == 1).then_some(0.14 * at as f64),
            }
        };
        LeewayChart {
            brief: self.brief(),
            margin_points: 1.0,
            fidelity_percent: 93.6,
            bars: (0..self.materials()).map(bar).collect(),
        }
    }

    pub fn pairs(self) -> PairsChart {
        let rows = |count: usize, most: f64| -> Vec<Pair> {
            let row = |at: usize| {
                let first = most * (0.2 + 0.6 * (at as f64 * 0.7).sin().abs());
                let second = (first + 0.1 * most * (at as f64).cos()).max(0.0);
                Pair {
                    name: format!("{}, {}", self.material(at), self.name(at % self.descriptors(), &DESCRIPTORS)),
                    first: (at % 7 != 3).then_some(first),
                    second: (at % 5 != 4).then_some(second),
                    is_sure: at % 3 != 1,
                    interval: at.is_multiple_of(2).then_some(((second - 0.2 * most).max(0.0), second + 0.1 * most)),
                }
            };
            (0..count).map(row).collect()
        };
        let half = self.materials().div_ceil(2);
        PairsChart {
            title: format!("{}: rosy 6 becomes 7.2", permil::chart::kit::words::brief(&self.material(0))),
            subtitle: format!("What 12 trials say of {}, the surest changes first:", self.brief()),
            keys: ["before".to_owned(), "after".to_owned(), "95 % interval".to_owned()],
            note: "Judgements corrected by judgements; the nose decides.".to_owned(),
            panels: vec![
                Panel {
                    axis: "score, on the scale of the palette".to_owned(),
                    end: Some(10.0),
                    may_begin_higher: true,
                    rows: rows(half, 10.0),
                },
                Panel {
                    axis: "strength, times what the palette says".to_owned(),
                    end: None,
                    may_begin_higher: false,
                    rows: rows(half, 3.0),
                },
            ],
        }
    }

    pub fn starts(self) -> StartsChart {
        let count = match self {
            Case::One => 1,
            Case::Many => 12,
            _ => 6,
        };
        let start = |number: usize| {
            let weight = |at: usize| 1.0 / (1.0 + at as f64) + ((at * 5 + number * 3) % 7) as f64 * 0.05;
            let sum: f64 = (0..self.materials()).map(weight).sum();
            Start {
                name: self.name(number, &["417", "232", "893", "105", "661", "748"]),
                fidelity_percent: 93.6 - 0.15 * number as f64,
                price_per_kg: Some(if self == Case::Many { 1_234_567.0 } else { 69.98 }),
                shares_percent: (0..self.materials()).map(|at| (self.material(at), 100.0 * weight(at) / sum)).collect(),
                apart: format!(
                    "More {} than the others, less {}.",
                    self.material(0),
                    self.material(self.materials() - 1)
                ),
            }
        };
        StartsChart {
            brief: self.brief(),
            currency: self.currency(),
            starts: (0..count).map(start).collect(),
            least_difference_percent: (count > 1).then_some(3.42),
            margin_points: 1.0,
        }
    }

    /// A shelf on a map; those of `Many` stand in each other's way.
    pub fn shelf_map(self) -> ShelfMap {
        let word = |at: usize| self.name(at % self.descriptors(), &DESCRIPTORS);
        let axis = |at: usize| MapAxis {
            explains_percent: 30.0 - 12.0 * at as f64,
            more: (0..5).map(|step| word(at + 2 * step)).collect(),
            less: (0..5).map(|step| word(at + 2 * step + 1)).collect(),
        };
        let place = |at: usize| MapPlace {
            material: self.material(at),
            strongest: word(at * 5 % 7),
            // Most stand near the middle.
            at: ((((at * 37) % 101) as f64 / 100.0 - 0.4).powi(3), (((at * 53) % 89) as f64 / 150.0 - 0.3).powi(3)),
        };
        let axes = if self == Case::One { Vec::new() } else { (0..2).map(axis).collect() };
        ShelfMap { shelf: self.brief(), axes, places: (0..self.materials()).map(place).collect() }
    }

    /// Strength against the price of effect.
    pub fn effect(self) -> EffectChart {
        let point = |at: usize| EffectPoint {
            material: self.material(at),
            strength: 2.0 * 10f64.powf(((at * 29) % 41) as f64 / 10.0),
            is_loose: at % 5 == 4,
            effect: if self == Case::Many { 300.0 } else { 1.0 } * 10f64.powf(((at * 17) % 43) as f64 / 15.0 - 2.0),
            note: [Some("opening"), Some("heart"), Some("drydown"), None][at % 4].map(str::to_owned),
        };
        let points = (0..self.materials()).map(point).collect();
        EffectChart { shelf: self.brief(), currency: self.currency(), points, without_price: 3 }
    }

    /// Strengths before and after matches.
    pub fn strengths(self) -> StrengthsChart {
        let row = |at: usize| {
            let before = 2.0 * 10f64.powf(((at * 29) % 41) as f64 / 10.0);
            let after = if at == 0 { before } else { before * 10f64.powf(((at * 13) % 7) as f64 / 10.0 - 0.3) };
            let factor = 1.3 + (at % 4) as f64 * 0.4;
            let held = at == 0 && self != Case::One;
            StrengthRow {
                material: self.material(at),
                before,
                before_range: if held { (before, before) } else { (before / factor / 2.0, before * factor * 2.0) },
                after,
                range: if held { (after, after) } else { (after / factor, after * factor) },
                held,
                tied: at % 5 != 4,
            }
        };
        StrengthsChart {
            shelf: self.brief(),
            reference: self.material(0),
            pairs: 15,
            contradictions: if self == Case::Many { 3 } else { 1 },
            rows: (0..self.materials()).map(row).collect(),
        }
    }

    /// A formula as it dries.
    pub fn drying(self) -> DryingChart {
        let minutes: Vec<f64> = (0..30).map(|at| 5.0 * 1.2_f64.powi(at)).collect();
        let weight = |at: usize, minutes: f64| (1.0 + (at % 5) as f64) * (-minutes / (40.0 * (1.0 + at as f64))).exp();
        let share = |at: usize, minutes: f64| {
            100.0 * weight(at, minutes) / (0..self.materials()).map(|at| weight(at, minutes)).sum::<f64>()
        };
        let band = |at: usize| DryingBand {
            material: self.material(at),
            shares_percent: minutes.iter().map(|&minutes| share(at, minutes)).collect(),
        };
        DryingChart {
            formula: self.brief(),
            bands: (0..self.materials()).map(band).collect(),
            marks: self.marks(),
            view: (self == Case::Long).then(|| self.brief()),
            minutes,
        }
    }

    /// Times that were asked about, some of them stages.
    fn marks(self) -> Vec<TimeMark> {
        let mark = |(at, minutes): (usize, f64)| TimeMark {
            name: (at % 2 == 0).then(|| self.name(at, &["opening", "b", "heart", "d", "drydown"])),
            minutes,
            fidelity_percent: (minutes < 900.0).then_some(93.4 - minutes / 30.0),
            kept_percent: 100.0 - minutes / 12.0,
        };
        let minutes: &[f64] = if self == Case::One { &[0.0, 480.0] } else { &[0.0, 5.0, 7.0, 60.0, 480.0, 960.0] };
        minutes.iter().copied().enumerate().map(mark).collect()
    }

    /// Descriptors as a formula dries; some are wanted at no stage.
    pub fn over_time(self) -> DescriptorsChart {
        let minutes: Vec<f64> = (0..30).map(|at| 5.0 * 1.2_f64.powi(at)).collect();
        let ticks: Vec<Tick> = match self {
            Case::One => vec![Tick { name: None, minutes: None }],
            _ => [(0, 0.0), (2, 60.0), (4, 480.0)]
                .map(|(at, minutes)| Tick {
                    name: Some(self.name(at, &["opening", "b", "heart", "d", "drydown"])),
                    minutes: Some(minutes),
                })
                .into(),
        };
        let line = |at: usize| {
            let is_off = at % 4 == 3;
            let start = if is_off { 0.2 } else { 6.0 / (1.0 + at as f64) };
            let blend = |(index, minutes): (usize, &f64)| {
                // One that does not count at first.
                (at != 2 || index > 12).then_some(start * (-minutes / (300.0 * (1.0 + at as f64))).exp())
            };
            DescriptorLine {
                descriptor: self.name(at, &DESCRIPTORS),
                blend: minutes.iter().enumerate().map(blend).collect(),
                wanted: (0..ticks.len())
                    .map(|tick| {
                        (at != 2 || tick > 0).then_some(if is_off { 0.0 } else { 0.9 * start - 0.1 * tick as f64 })
                    })
                    .map(|wanted| wanted.map(|wanted: f64| wanted.max(0.0)))
                    .collect(),
            }
        };
        DescriptorsChart {
            formula: self.brief(),
            lines: (0..self.descriptors()).map(line).collect(),
            ticks,
            marks: self.marks(),
            view: (self == Case::Long).then(|| self.brief()),
            is_balance: self == Case::Ordinary,
            minutes,
        }
    }

    /// Target and blend at so many stages.
    pub fn stages(self, number: usize) -> StagesChart {
        let profile = self.profile(number.clamp(1, 6));
        let stage = |blend: &Blend| ProfileChart { blends: vec![blend.clone()], ..profile.clone() };
        StagesChart {
            title: self.brief(),
            stages: profile.blends.iter().take(number).map(stage).collect(),
            gone: if number == 3 { vec![self.name(4, &["drydown"])] } else { Vec::new() },
        }
    }

    /// The doubt of so many formulas.
    pub fn doubt(self, formulas: usize) -> DoubtChart {
        let row = |number: usize| {
            let mean = 88.4 - 2.3 * number as f64;
            DoubtRow {
                name: self.name(number, &["the proposal", "mod 1", "mod 2", "mod 3", "mod 4", "mod 5"]),
                on_paper_percent: mean + 5.2 - 2.0 * number as f64,
                mean_percent: mean,
                nine_in_ten_percent: (mean - 5.1, mean + 4.0),
                half_percent: (mean - 1.6, mean + 2.0),
            }
        };
        let part = |at: usize| {
            let share_percent = 40.0 / (1.0 + at as f64);
            DoubtPart {
                material: self.material(at),
                share_percent,
                by_strength_percent: share_percent * (at % 3) as f64 / 2.0,
            }
        };
        DoubtChart {
            brief: self.brief(),
            draws: 10_000,
            rows: (0..formulas).map(row).collect(),
            nearer_percent: (formulas == 2).then_some(91.1),
            parts: (0..self.materials()).map(part).collect(),
        }
    }

    /// Every chart of the case, with a name.
    pub fn each(self, mut visit: impl FnMut(&str, &dyn Chart)) {
        let (one, several) = (self.profile(1), self.profile(6));
        visit("dumbbell", &Dumbbell(&one));
        visit("dumbbell of six", &Dumbbell(&several));
        visit("contributions", &Contributions(&one));
        visit("radar", &Radar(&one));
        visit("radar of six", &Radar(&several));
        visit("tradeoff", &self.tradeoff(None));
        visit("tradeoff by count", &self.tradeoff(Some(Against::Count)));
        visit("push", &self.push());
        visit("leeway", &self.leeway());
        visit("pairs", &self.pairs());
        visit("starts", &self.starts());
        visit("effect", &self.effect());
        visit("strengths", &self.strengths());
        visit("drying", &self.drying());
        visit("descriptors", &self.over_time());
        visit("stages", &self.stages(3));
        visit("six stages", &self.stages(6));
        visit("doubt", &self.doubt(1));
        visit("doubt of two", &self.doubt(2));
        visit("doubt of six", &self.doubt(6));
        // A single material has no neighbours, and so no words around it.
        if self != Case::One {
            visit("shelf map", &self.shelf_map());
        }
    }
}
