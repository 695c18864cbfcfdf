//! What trials teach: against finite differences, dense arithmetic, fits anew,
//! SciPy, and made-up noses whose truth is known.

mod support;

use nalgebra::{DMatrix, DVector};
use permil::analysis::learn::{
    Asked, Kind, Learned, Posterior, Unknowns, Why, evidence, fit, kin, learn, left_out, predict,
};
use permil::brief::Match;
use permil::control::Control;
use permil::stage::Dip;
use support::smelled::{Made, World, world};

const MADE: Made =
    Made { materials: 8, descriptors: 6, trials: 12, parts: 4, matching: Match::Level, exponent: 1.0, error: 0.7 };
const ASKED: Asked =
    Asked { exponent: 1.0, pool: false, matching: None, dip: Dip { percent: None, film_weight: None } };
const WAYS: [(Match, f64); 4] =
    [(Match::Level, 1.0), (Match::Level, 0.4), (Match::Balance, 1.0), (Match::Balance, 0.4)];

fn learned(world: &World, asked: Asked) -> Learned {
    learn(&world.palette, &world.trials, &world.neat, asked, &Control::default()).0.expect("something to learn")
}

/// The same where the nose also judged how strong each trial is.
fn with_strengths(mut world: World) -> World {
    for (trial, neat) in world.trials.trials.iter_mut().zip(&world.neat) {
        let truth = world.truth.materials.iter().zip(neat).map(|(it, x)| it.strength * x / 1000.0).sum::<f64>();
        trial.strength = Some(truth * 1.1);
    }
    world
}

#[test]
fn slopes_are_those_of_the_prediction() {
    for (matching, exponent) in WAYS {
        let world = with_strengths(world(3, Made { matching, ..MADE }));
        let found = learned(&world, Asked { exponent, matching: Some(matching), ..ASKED });
        let (unknowns, values) = (&found.unknowns, &found.fit.values);
        for one in &found.evidence {
            let look = |values: &[f64]| predict(&world.palette, one, unknowns, matching, exponent, values);
            let rows = one.slopes(unknowns, &look(values));
            for at in 0..values.len() {
                let step = 1e-5;
                let moved = |by: f64| {
                    let mut moved = values.clone();
                    moved[at] += by;
                    one.residuals(&look(&moved))
                };
                let (up, down) = (moved(step), moved(-step));
                for (row, slopes) in rows.iter().enumerate() {
                    let slope: f64 = slopes.iter().filter(|(of, _)| *of == at).map(|(_, slope)| slope).sum();
                    let differences = -(up[row] - down[row]) / (2.0 * step);
                    assert!((slope - differences).abs() < 1e-6 * (1.0 + slope.abs()), "{slope} {differences}");
                }
            }
        }
    }
}

/// `J'WJ + P` in plain arithmetic, and its right side.
fn dense(world: &World, found: &Learned, matching: Match, exponent: f64) -> (DMatrix<f64>, DVector<f64>) {
    let (unknowns, values) = (&found.unknowns, &found.fit.values);
    let mut matrix = DMatrix::zeros(values.len(), values.len());
    let mut slope = DVector::zeros(values.len());
    for at in 0..values.len() {
        let precision = unknowns.deviations[at].powi(-2);
        matrix[(at, at)] = precision;
        slope[at] = precision * (values[at] - unknowns.prior[at]);
    }
    for one in &found.evidence {
        let prediction = predict(&world.palette, one, unknowns, matching, exponent, values);
        for (row, residual) in one.slopes(unknowns, &prediction).into_iter().zip(one.residuals(&prediction)) {
            let mut whole = DVector::zeros(values.len());
            row.into_iter().for_each(|(at, by)| whole[at] += by);
            slope -= residual * &whole;
            matrix += &whole * whole.transpose();
        }
    }
    (matrix, slope)
}

#[test]
fn the_estimate_is_at_rest_and_its_errors_are_those_of_dense_arithmetic() {
    for (matching, exponent) in WAYS {
        let world = with_strengths(world(5, Made { matching, ..MADE }));
        let found = learned(&world, Asked { exponent, matching: Some(matching), ..ASKED });
        assert!(found.fit.settled && found.fit.rounds < 60, "{} rounds", found.fit.rounds);
        let (matrix, slope) = dense(&world, &found, matching, exponent);
        let inverse = matrix.try_inverse().unwrap();
        let whole =
            Posterior::covariance(&world.palette, &found.evidence, &found.unknowns, matching, exponent, &found.fit);
        let mut held = 0;
        for at in 0..found.unknowns.len() {
            let deviation = inverse[(at, at)].sqrt();
            assert!((found.posterior.deviations[at] - deviation).abs() < 1e-8 * deviation, "{at}");
            for other in 0..found.unknowns.len() {
                assert!((whole[(at, other)] - inverse[(at, other)]).abs() < 1e-8, "{at} {other}");
            }
            let (value, pull) = (found.fit.values[at], slope[at]);
            if found.fit.free[at] {
                assert!(pull.abs() < 1e-6, "{at}: {pull}");
            } else {
                held += 1;
                assert!((value == 0.0 && pull >= 0.0) || (value == 10.0 && pull <= 0.0), "{at}: {value} {pull}");
            }
        }
        assert!(held > 0, "no score pressed against the scale: the case tells too little");
    }
}

#[test]
fn leaving_a_trial_out_is_near_to_a_fit_without_it() {
    for (matching, exponent) in WAYS {
        let world = world(8, Made { matching, ..MADE });
        let found = learned(&world, Asked { exponent, matching: Some(matching), ..ASKED });
        let left = left_out(&world.palette, &found.evidence, &found.unknowns, matching, exponent, &found.fit);
        for (at, one) in found.evidence.iter().enumerate() {
            let others: Vec<_> = found.evidence.iter().filter(|other| *other != one).cloned().collect();
            let anew = fit(&world.palette, &others, &found.unknowns, matching, exponent);
            let exact = predict(&world.palette, one, &found.unknowns, matching, exponent, &anew.values).scores;
            for (first, exact) in left[at].without.iter().zip(&exact) {
                assert!((first - exact).abs() < 0.35, "trial {at}: {first} {exact}");
            }
            // What is told is the fit anew.
            assert!(found.left[at].is_refitted);
            for (told, exact) in found.left[at].without.iter().zip(&exact) {
                assert!((told - exact).abs() < 1e-6, "trial {at}: {told} {exact}");
            }
        }
    }
}

/// (hits, numbers) of the intervals of two deviations, of scores above 0 and of
/// strengths.
fn covered(world: &World, found: &Learned) -> [(usize, usize); 2] {
    let mut counts = [(0, 0); 2];
    for (at, kind) in found.unknowns.kinds().enumerate() {
        let (kind, truth) = match kind {
            Kind::Score { material, descriptor } => {
                if world.palette.materials[material].scores[descriptor] == 0.0 {
                    continue;
                }
                (0, world.truth.materials[material].scores[descriptor])
            }
            Kind::Strength { material } => (1, world.truth.materials[material].strength.ln()),
            Kind::Lasting { .. } => continue,
        };
        let off = (found.fit.values[at] - truth).abs() / found.posterior.deviations[at];
        counts[kind].0 += usize::from(off <= 1.959964);
        counts[kind].1 += 1;
    }
    counts
}

#[test]
fn the_truth_lies_within_the_stated_errors_as_often_as_stated() {
    for (matching, exponent) in WAYS {
        let mut sums = [(0, 0); 2];
        for seed in 0..120 {
            let world = world(1000 + seed, Made { matching, exponent, ..MADE });
            let found = learned(&world, Asked { exponent, matching: Some(matching), ..ASKED });
            for (sum, one) in sums.iter_mut().zip(covered(&world, &found)) {
                *sum = (sum.0 + one.0, sum.1 + one.1);
            }
        }
        for (hits, all) in sums {
            let rate = hits as f64 / all as f64;
            println!("{matching:?} {exponent}: {hits} of {all}, {rate:.3}");
            assert!(all > 800 && (0.90..=0.99).contains(&rate), "{matching:?} {exponent}: {rate} of {all}");
        }
    }
}

#[test]
fn what_was_learned_predicts_trials_that_were_held_back() {
    for (matching, exponent) in WAYS {
        let (mut better, mut before, mut after) = (0, 0.0, 0.0);
        for seed in 0..40 {
            let world = world(2000 + seed, Made { trials: 24, matching, exponent, ..MADE });
            let mut known = world.trials.clone();
            known.trials.truncate(16);
            let (found, _) = learn(
                &world.palette,
                &known,
                &world.neat[..16],
                Asked { exponent, matching: Some(matching), ..ASKED },
                &Control::default(),
            );
            let palette = found.unwrap().palette(&world.palette);
            let error = |palette: &permil::palette::Palette| -> f64 {
                let mut sum = 0.0;
                for at in 16..24 {
                    let smelled = support::smelled::smell(palette, &world.neat[at], exponent);
                    let truth = &world.true_scores[at];
                    // In balance the level of all scores is left open.
                    let factor = match matching {
                        Match::Level => 1.0,
                        Match::Balance => truth.iter().sum::<f64>() / smelled.iter().sum::<f64>(),
                    };
                    sum += smelled.iter().zip(truth).map(|(p, t)| (factor * p - t).powi(2)).sum::<f64>();
                }
                sum
            };
            let (one, other) = (error(&world.palette), error(&palette));
            better += usize::from(other < one);
            before += one;
            after += other;
        }
        println!("{matching:?} {exponent}: better in {better} of 40, squares {before:.1} to {after:.1}");
        assert!(better >= 34 && after < 0.8 * before, "{matching:?} {exponent}: {better}, {before} to {after}");
    }
}

#[test]
fn a_planted_contradiction_is_the_trial_that_does_not_fit() {
    for (matching, exponent) in WAYS {
        let (mut named, mut clean) = (0, 0);
        for seed in 0..30 {
            let mut world = world(3000 + seed, Made { trials: 16, matching, exponent, ..MADE });
            let asked = Asked { exponent, matching: Some(matching), ..ASKED };
            clean += learned(&world, asked).left.iter().filter(|left| left.misfit > 3.0).count();
            // One trial is judged as if every word meant the next.
            let at = seed as usize % 16;
            let scores = &mut world.trials.trials[at].scores;
            let points: Vec<f64> = scores.iter().map(|(_, points)| *points).collect();
            let most = points.iter().copied().fold(0.0, f64::max);
            scores.iter_mut().for_each(|(_, points)| *points = most - *points);
            let found = learned(&world, asked);
            let worst = (0..16).max_by(|a, b| found.left[*a].misfit.total_cmp(&found.left[*b].misfit)).unwrap();
            named += usize::from(found.evidence[worst].trial == at && found.left[worst].misfit > 3.0);
        }
        println!("{matching:?} {exponent}: named {named} of 30, false {clean} of 480");
        // The balance of a trial alone says less than its scores.
        let least = if matching == Match::Level { 27 } else { 24 };
        assert!(named >= least, "{matching:?} {exponent}: {named}");
        assert!(clean <= 10, "{matching:?} {exponent}: {clean}");
    }
}

#[test]
fn the_true_exponent_explains_a_nose_better() {
    for truth in [1.0, 0.4] {
        let mut right = 0;
        for seed in 0..20 {
            let world = world(4000 + seed, Made { trials: 30, error: 0.4, exponent: truth, ..MADE });
            let found = learned(&world, Asked { matching: Some(Match::Level), ..ASKED });
            let squares = |left: &[permil::analysis::learn::Left]| -> f64 {
                let of = |(one, left): (&permil::analysis::learn::Evidence, &permil::analysis::learn::Left)| -> f64 {
                    one.judged.iter().zip(&left.without).map(|((_, points), p)| (points - p).powi(2)).sum()
                };
                found.evidence.iter().zip(left).map(of).sum()
            };
            let linear = squares(&found.left) < squares(&found.other.1);
            right += usize::from(linear == (truth == 1.0));
        }
        assert!(right >= 17, "{truth}: {right} of 20");
    }
}

#[test]
fn without_judgements_nothing_is_unknown() {
    let world = world(1, MADE);
    let nothing = Unknowns::touched(&world.palette, &[]);
    assert!(nothing.is_empty());
    let fitted = fit(&world.palette, &[], &nothing, Match::Level, 1.0);
    assert!(fitted.settled && fitted.values.is_empty());
    let mut silent = world.trials.clone();
    silent.trials.iter_mut().for_each(|trial| trial.scores.clear());
    let (found, aside) = learn(&world.palette, &silent, &world.neat, ASKED, &Control::default());
    assert!(found.is_none() && aside.len() == 12);
    assert!(evidence(&world.palette, &silent, 0, &world.neat[0], Match::Level).is_err());
}

/// SciPy's estimates and errors, see tests/reference/make_learn.py: weighted
/// least squares where strengths are certain, least squares within bounds
/// elsewhere.
#[test]
fn estimates_and_errors_are_those_of_scipy() {
    let text = std::fs::read_to_string("tests/reference/learn.json").unwrap();
    let reference: serde_json::Value = serde_json::from_str(&text).unwrap();
    let numbers = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
    };
    let cases = reference["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 10);
    for (at, case) in cases.iter().enumerate() {
        let certain = case["certain"].as_bool().unwrap();
        let scores: Vec<Vec<f64>> = case["scores"].as_array().unwrap().iter().map(numbers).collect();
        let descriptors = scores[0].len();
        let strengths = numbers(&case["strengths"]);
        let materials = scores.into_iter().zip(&strengths).enumerate().map(|(at, (scores, strength))| {
            let mut it = support::smelled::material(format!("material {at}"), *strength, scores);
            it.strength_factor = Some(if certain { 1.0 } else { 1.5 });
            it
        });
        let palette = support::smelled::palette(descriptors, materials.collect());
        let error = case["error"].as_f64().unwrap();
        let neat: Vec<Vec<f64>> = case["doses"].as_array().unwrap().iter().map(numbers).collect();
        let trials = neat.iter().zip(case["judged"].as_array().unwrap()).enumerate().map(|(at, (doses, judged))| {
            let pair = |pair: &serde_json::Value| (pair[0].as_u64().unwrap() as usize, pair[1].as_f64().unwrap());
            let judged = judged.as_array().unwrap().iter().map(pair).collect();
            support::smelled::trial(at.to_string(), doses, judged, error)
        });
        let matching = if case["match"] == "level" { Match::Level } else { Match::Balance };
        let mut trials = permil::trials::Trials {
            file: "made up".into(),
            matching,
            palette_fingerprint: None,
            trials: trials.collect(),
            remarks: None,
        };
        if let Some(rest) = case.get("rest") {
            // The last trial is a natural of which that much is open.
            let analysed = support::smelled::analysed(neat.last().unwrap(), rest);
            trials.trials.last_mut().unwrap().analysed = Some(analysed);
            let one = evidence(&palette, &trials, neat.len() - 1, neat.last().unwrap(), matching).unwrap();
            support::assert_close(one.error, case["error_with_rest"].as_f64().unwrap(), 1e-9, "error with a rest");
        }
        let exponent = case["exponent"].as_f64().unwrap();
        let asked = Asked { exponent, pool: false, matching: Some(trials.matching), ..ASKED };
        let (found, aside) = learn(&palette, &trials, &neat, asked, &Control::default());
        let found = found.unwrap();
        assert!(aside.is_empty(), "case {at}");
        support::assert_close(found.fit.cost, case["cost"].as_f64().unwrap(), 1e-7, &format!("cost of case {at}"));
        let unknowns = case["unknowns"].as_array().unwrap();
        assert_eq!(unknowns.len(), found.unknowns.len(), "case {at}");
        for unknown in unknowns {
            let material = unknown["material"].as_u64().unwrap() as usize;
            let place = match unknown["descriptor"].as_u64() {
                Some(descriptor) => found.unknowns.score(material, descriptor as usize),
                None => found.unknowns.strength(material),
            };
            let place = place.unwrap();
            let what = format!("case {at}, {unknown}");
            support::assert_close(found.fit.values[place], unknown["value"].as_f64().unwrap(), 2e-4, &what);
            support::assert_close(found.posterior.deviations[place], unknown["sd"].as_f64().unwrap(), 1e-3, &what);
        }
    }
}

/// Scores of what has none in the palette: learned from in level, left aside in
/// balance, where there is nothing to bring to a total.
#[test]
fn a_material_without_scores() {
    for (matching, used) in [(Match::Level, 12), (Match::Balance, 11)] {
        let mut world = world(6, Made { matching, ..MADE });
        world.neat[0] = vec![0.0; 8];
        world.neat[0][0] = 1000.0;
        world.palette.materials[0].scores.iter_mut().for_each(|score| *score = 0.0);
        let found = learned(&world, Asked { matching: Some(matching), ..ASKED });
        assert_eq!(found.evidence.len(), used, "{matching:?}");
        assert!(found.fit.settled && found.fit.values.iter().all(|value| value.is_finite()));
        if matching == Match::Level {
            let smelled = &world.trials.trials[0].scores;
            let (descriptor, points) = smelled.iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
            let at = found.unknowns.score(0, *descriptor).unwrap();
            assert!(*points > 1.0 && found.fit.values[at] > 0.2, "{points} {}", found.fit.values[at]);
        }
    }
}

#[test]
fn the_match_that_predicts_left_out_trials_is_used_whatever_the_file_says() {
    // A nose that judges the balance alone makes nonsense of the level, and the answer must not follow it.
    let (mut balance, mut restless) = (0, 0);
    for seed in 0..20 {
        let mut world = world(5000 + seed, Made { trials: 24, matching: Match::Balance, error: 0.4, ..MADE });
        // How much is smelled of all differs from trial to trial and from what the numbers say.
        for (at, trial) in world.trials.trials.iter_mut().enumerate() {
            let by = [0.45, 0.7, 0.95][at % 3];
            trial.scores.iter_mut().for_each(|(_, points)| *points *= by);
        }
        world.trials.matching = Match::Level;
        let found = learned(&world, ASKED);
        balance += usize::from(found.matching == Match::Balance);
        restless += usize::from(found.matches.iter().any(|tried| tried.without.is_none()));
        assert_eq!(found.matches.len(), 2);
        assert_eq!(found.matches[0].matching, found.matching);
        if found.matches.iter().all(|tried| tried.settled) {
            assert!(found.matches[0].without <= found.matches[1].without, "{:?}", found.matches);
        }
        let forced = learned(&world, Asked { matching: Some(Match::Level), ..ASKED });
        assert_eq!(forced.matching, Match::Level);
    }
    assert!(balance >= 17 && restless == 0, "{balance} of 20");
}

#[test]
fn trials_are_kin_up_to_three_times_the_time_and_no_further() {
    // Five minutes and two days are added to both: 40 and 10 minutes are 45 and 15, 7 days and 1 are 9 and 3.
    let world = world(9, Made { trials: 4, ..MADE });
    let aside = |minutes: Option<f64>, days: Option<f64>| {
        let mut trials = world.trials.clone();
        for (at, trial) in trials.trials.iter_mut().enumerate() {
            trial.minutes = minutes.map(|last| if at == 3 { last } else { 10.0 });
            trial.age_days = days.map(|last| if at == 3 { last } else { 1.0 });
        }
        let one = |at: usize| evidence(&world.palette, &trials, at, &world.neat[at], Match::Level).unwrap();
        let (used, aside) = kin(&trials, &(0..4).map(one).collect::<Vec<_>>());
        assert_eq!(used.len() + aside.len(), 4);
        aside.iter().map(|it| (it.trial, it.why)).collect::<Vec<_>>()
    };
    assert_eq!(aside(Some(40.0), None), []);
    assert_eq!(aside(Some(40.1), None), [(3, Why::Minutes)]);
    assert_eq!(aside(Some(0.0), None), []);
    assert_eq!(aside(None, Some(7.0)), []);
    assert_eq!(aside(None, Some(7.1)), [(3, Why::Age)]);
}
