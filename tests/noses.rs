//! Several noses: what their files may say, their mean, what they disagree on, and the
//! table of what people smell differently.

mod support;

use permil::analysis::noses::disagreements;
use permil::evaluate::evaluate;
use permil::files::{check_sensitivities, load_scenario, sensitivities};
use permil::formula::Formula;
use permil::nose::{Heed, hodges_lehmann};
use permil::problem::Problem;
use permil::trials::Trials;
use permil::units::Ppt;
use proptest::prelude::*;
use support::assert_close;

const PALETTE: &str = "\
[descriptors]
rosy = \"\"
sharp = \"\"
[[material]]
name = \"A\"
cas = \"23726-93-4\"
strength = 100
strength_factor = 1.2
scores = { rosy = 8 }
score_error = 0.5
[[material]]
name = \"B\"
strength = 50
scores = { sharp = 4 }
[[material]]
name = \"Solvent\"
strength = 0
";
const SECOND: &str = "\
name = \"Second\"
[descriptors]
sharp = \"\"
rosy = \"\"
[[material]]
name = \"A\"
strength = 400
strength_factor = 1.2
scores = { rosy = 4, sharp = 1 }
score_error = 0.5
[[material]]
name = \"B\"
strength = 0
";
const BRIEF: &str = "palette = \"palette.toml\"\nnoses = [\"second.toml\"]\n[target]\nrosy = 6\nsharp = 2\n";

/// The scenario of a brief and a second nose, or what is wrong with them.
fn read(brief: &str, second: &str) -> Result<permil::files::Scenario, String> {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in [("palette.toml", PALETTE), ("second.toml", second), ("brief.toml", brief)] {
        std::fs::write(folder.path().join(name), text).expect("a file");
    }
    load_scenario(&folder.path().join("brief.toml")).map_err(|faults| faults.render(false))
}

fn problem(brief: &str) -> (Problem, permil::brief::Brief) {
    let scenario = read(brief, SECOND).unwrap_or_else(|faults| panic!("{faults}"));
    (Problem::new(scenario.palette, &scenario.brief, &[]), scenario.brief)
}

#[test]
fn a_nose_is_read_beside_the_palette() {
    let brief = read(BRIEF, SECOND).unwrap_or_else(|faults| panic!("{faults}")).brief;
    let names: Vec<&str> = brief.noses.iter().map(|nose| &*nose.name).collect();
    assert_eq!((names, brief.heed()), (vec!["own", "Second"], Heed::Worst));
    let [Some(a), Some(b), None] = &brief.noses[1].impressions[..] else { panic!("two materials are listed") };
    // Descriptors stand in another order there.
    assert_eq!((a.strength, a.scores.clone(), b.strength), (400.0, vec![4.0, 1.0], 0.0));
    // Without a name of its own it is called as its file is.
    let unnamed = read(BRIEF, &SECOND.replace("name = \"Second\"\n", "")).unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(&*unnamed.brief.noses[1].name, "second");
}

#[test]
fn one_nose_alone_or_the_mean_of_all() {
    let own = problem(&BRIEF.replace("[target]", "nose = \"own\"\n[target]")).0;
    assert_eq!((own.material(0).strength, own.material(0).scores.clone()), (100.0, vec![8.0, 0.0]));
    let second = problem(&BRIEF.replace("[target]", "nose = \"Second\"\n[target]")).0;
    assert_eq!((second.material(0).strength, second.material(0).scores.clone()), (400.0, vec![4.0, 1.0]));
    assert_eq!((second.material(1).strength, second.material(2).strength), (0.0, 0.0));
    let mean = problem(&BRIEF.replace("[target]", "nose = \"mean\"\n[target]")).0;
    let a = mean.material(0);
    // The geometric mean of 100 and 400; the means of 8 and 4, 0 and 1.
    assert_close(a.strength, 200.0, 1e-12, "strength");
    assert_eq!(a.scores, [6.0, 0.5]);
    // By hand: variances of 8 and 4 (8) and of 0 and 1 (0.5), their mean 4.25 of two noses.
    assert_close(a.score_error.expect("an error"), (4.25_f64 / 2.0).sqrt(), 1e-12, "score error");
    // ln 4 apart: a variance of (ln 4)^2 / 2, halved for a mean of two.
    assert_close(a.strength_factor.expect("a factor").ln(), 4_f64.ln() / 2.0, 1e-12, "strength factor");
    // What one nose does not smell counts as a hundredth of what the other smells.
    assert_close(mean.material(1).strength, 5.0, 1e-12, "a strength of nothing");
    assert_eq!(mean.material(2).strength, 0.0, "a solvent stays one");
}

#[test]
fn each_nose_judges_by_its_own_numbers_and_the_worst_counts() {
    let problem = problem(BRIEF).0;
    let formula = Formula::from_doses(problem.basis, &[600.0, 400.0, 0.0].map(Ppt::from_ppt));
    let evaluation = evaluate(&problem, &formula).expect("an odour");
    let alone = |nose: &str| {
        let problem = self::problem(&BRIEF.replace("[target]", &format!("nose = \"{nose}\"\n[target]"))).0;
        evaluate(&problem, &formula).expect("an odour").fidelity_percent
    };
    // Own, in balance: rosy 60000 x 8, sharp 20000 x 4, brought to 8 in all.
    assert_close(evaluation.views[0].profile[0], 8.0 * 480.0 / 560.0, 1e-12, "rosy to the first");
    // The second smells A alone: rosy 4 of 5.
    assert_close(evaluation.views[1].profile[0], 8.0 * 4.0 / 5.0, 1e-12, "rosy to the second");
    for (seen, nose) in evaluation.views.iter().zip(["own", "Second"]) {
        assert_close(seen.fidelity_percent, alone(nose), 1e-12, nose);
    }
    assert_eq!(evaluation.worst, 0);
    assert_close(evaluation.fidelity_percent, alone("own"), 1e-12, "the worst");
    // A target that is taken from a material is what each nose makes of that.
    let from = self::problem(&BRIEF.replace("[target]\nrosy = 6\nsharp = 2\n", "target_from = \"A\"\n")).0;
    let targets = |at: usize| from.views[at].targets.iter().map(|target| target.score).collect::<Vec<_>>();
    assert_eq!((targets(0), targets(1)), (vec![8.0, 0.0], vec![4.0, 1.0]));
}

/// Each nose has a view under its name, at every stage, and makes its own of a target that
/// is taken from a material.
#[test]
fn views_are_told_by_their_nose_and_stage() {
    let plain = problem(BRIEF).0;
    let told = |problem: &Problem| -> Vec<(String, Option<usize>, Option<usize>)> {
        problem.views.iter().map(|view| (view.name.to_string(), view.nose, view.stage)).collect()
    };
    let of = |nose: &str, at: usize, stage: Option<usize>| (nose.to_owned(), Some(at), stage);
    assert_eq!(told(&plain), [of("own", 0, None), of("Second", 1, None)]);
    let staged =
        "target_from = \"A\"\n[[stage]]\nname = \"opening\"\nminutes = 0\n[[stage]]\nname = \"late\"\nminutes = 60\n";
    let palette = PALETTE.replace("strength = 100\n", "strength = 100\nlasting = 20\n");
    let palette = palette.replace("strength = 50\n", "strength = 50\nlasting = 20\n");
    let brief = BRIEF.replace("[target]\nrosy = 6\nsharp = 2\n", staged);
    let staged = support::load_beside(&palette, &brief, &[("second.toml", SECOND)]);
    let views = [of("own", 0, Some(0)), of("Second", 1, Some(0)), of("own", 0, Some(1)), of("Second", 1, Some(1))];
    assert_eq!(told(&staged), views);
    let targets = |at: usize| staged.views[at].targets.iter().map(|target| target.score).collect::<Vec<_>>();
    for stage in [0, 2] {
        assert_eq!((targets(stage), targets(stage + 1)), (vec![8.0, 0.0], vec![4.0, 1.0]));
    }
    // Of a time that is no stage each nose has one view, and nothing dries on.
    let late = staged.after(|_| 0.5, None);
    assert_eq!((late.views.len(), late.paper.is_none()), (2, true));
    assert_eq!([0, 1].map(|at| late.views[at].material(0).strength), [50.0, 200.0]);
}

#[test]
fn doubt_is_that_of_the_worst_nose_at_each_stage() {
    use permil::analysis::doubt::told::told_of;
    // Nothing evaporates, and nothing is unsure but by the other nose: what both make of it is
    // what each draw says.
    let lasting = PALETTE.replace("strength = 100\n", "strength = 100\nlasting = 1000000\n");
    let lasting =
        lasting.replace("strength = 50\n", "strength = 50\nstrength_factor = 1\nscore_error = 0\nlasting = 1000000\n");
    let sure = |text: &str| {
        text.replace("strength_factor = 1.2", "strength_factor = 1").replace("score_error = 0.5", "score_error = 0")
    };
    let folder = tempfile::tempdir().expect("a folder");
    let brief = format!("{BRIEF}[[stage]]\nname = \"opening\"\nminutes = 0\n");
    let second = sure(SECOND)
        .replace("strength = 0\n", "strength = 10\nstrength_factor = 1\nscores = { sharp = 9 }\nscore_error = 0\n");
    for (name, text) in [("palette.toml", &sure(&lasting)), ("second.toml", &second), ("brief.toml", &brief)] {
        std::fs::write(folder.path().join(name), text).expect("a file");
    }
    let scenario =
        load_scenario(&folder.path().join("brief.toml")).unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    let problem = Problem::new(scenario.palette, &scenario.brief, &[]);
    assert_eq!(problem.views.len(), 2);
    let formula = Formula::from_doses(problem.basis, &[600.0, 400.0, 0.0].map(Ppt::from_ppt));
    let judged = evaluate(&problem.as_it_dries(&formula), &formula).expect("an odour");
    assert_ne!(judged.views[0].fidelity_percent, judged.views[1].fidelity_percent);
    let told = told_of(&problem, &formula).expect("an odour").fidelity;
    assert_close(told.p5, judged.fidelity_percent, 1e-9, "the least of nine draws in ten");
    assert_close(told.p95, judged.fidelity_percent, 1e-9, "the greatest");
}

#[test]
fn faults_of_noses_stand_where_they_are_made() {
    let wrong = |brief: &str, second: &str, parts: &[&str]| {
        let faults = read(brief, second).expect_err("a fault");
        parts.iter().for_each(|part| assert!(faults.contains(part), "{part} is not in\n{faults}"));
    };
    wrong(BRIEF, &SECOND.replace("name = \"B\"", "name = \"Bb\""), &["second.toml:12", "no material of the palette"]);
    wrong(
        BRIEF,
        &SECOND.replace("sharp = \"\"", "shrap = \"\"").replace(", sharp = 1", ""),
        &["second.toml:3", "sharp"],
    );
    wrong(BRIEF, &format!("scale = 5\n{SECOND}"), &["second.toml:1", "`scale` of this nose is 5"]);
    wrong(
        BRIEF,
        &format!("{SECOND}[[material]]\nname = \"Solvent\"\nstrength = 3\nscores = {{ rosy = 1 }}\n"),
        &["second.toml:15", "odourless in the palette"],
    );
    wrong(
        &BRIEF.replace("[target]", "nose = \"Secnd\"\n[target]"),
        SECOND,
        &["brief.toml:3", "did you mean `Second`?"],
    );
    wrong(&BRIEF.replace("noses = [\"second.toml\"]", "nose = \"mean\""), SECOND, &["brief.toml:2", "without `noses`"]);
    wrong(BRIEF, &SECOND.replace("\"Second\"", "\"mean\""), &["brief.toml:2", "cannot be called \"mean\""]);
    wrong(&BRIEF.replace("second.toml", "third.toml"), SECOND, &["brief.toml:2", "third.toml"]);
}

#[test]
fn noses_disagree_on_what_lies_beyond_their_errors() {
    let (problem, brief) = problem(BRIEF);
    let found = disagreements(&problem, &brief.noses);
    let of = |material: usize, descriptor: Option<usize>| {
        found.iter().find(|one| (one.material, one.descriptor) == (material, descriptor))
    };
    // 8 against 4, each give or take a half: 4 / sqrt(0.5).
    let rosy = of(0, Some(0)).expect("a disagreement");
    assert_close(rosy.deviations, 4.0 / 0.5_f64.sqrt(), 1e-12, "rosy");
    assert_eq!((rosy.noses, rosy.at), ([1, 0], [4.0, 8.0]));
    // 100 against 400, each to within 1.2.
    let strength = of(0, None).expect("a disagreement");
    assert_close(strength.deviations, 4_f64.ln() / (1.2_f64.ln() * 2_f64.sqrt()), 1e-12, "strength");
    // 0 against 1 is within their errors; B is nothing to one of them.
    assert!(of(0, Some(1)).is_none());
    assert_eq!(of(1, None).expect("a disagreement").at, [0.0, 50.0]);
    assert!(found.windows(2).all(|pair| pair[0].deviations >= pair[1].deviations));
}

#[test]
fn the_table_of_what_people_smell_differently_reads_and_is_found_by_number() {
    let table = check_sensitivities().unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    assert_eq!(&table, sensitivities());
    assert!(table.rows.iter().all(|row| !row.cas.is_empty() && row.source.chars().any(|c| c.is_ascii_digit())));
    let problem = problem(BRIEF).0;
    assert_eq!(table.of(problem.material(0)).map(|row| row.name.as_str()), Some("beta-damascenone"));
    assert_eq!(table.of(problem.material(1)), None);
}

#[test]
fn trials_of_another_nose_are_left_aside() {
    let trials = |nose: &str| -> (permil::palette::Palette, Trials) {
        let folder = tempfile::tempdir().expect("a folder");
        let text = format!(
            "palette = \"palette.toml\"\n[[trial]]\ncode = \"1\"\nparts = {{ A = 500, B = 500 }}\nscores = {{ rosy = 5, \
             sharp = 2 }}\n[[trial]]\ncode = \"2\"\n{nose}parts = {{ A = 400, B = 600 }}\nscores = {{ rosy = 5, sharp = 2 }}\n"
        );
        for (name, text) in [("palette.toml", format!("name = \"Mine\"\n{PALETTE}")), ("trials.toml", text)] {
            std::fs::write(folder.path().join(name), text).expect("a file");
        }
        let read = permil::files::load_trials(&folder.path().join("trials.toml"));
        let (palette, trials, _) = read.unwrap_or_else(|faults| panic!("{}", faults.render(false)));
        (palette, trials)
    };
    let used = |nose: &str| {
        let (palette, trials) = trials(nose);
        let neat = vec![vec![500.0, 500.0, 0.0], vec![400.0, 600.0, 0.0]];
        let (all, aside) =
            permil::analysis::learn::gather(&palette, &trials, &neat, false, trials.matching, &Default::default());
        (all.len(), aside.iter().map(|one| one.why).collect::<Vec<_>>())
    };
    use permil::analysis::learn::Why;
    assert_eq!(used(""), (2, vec![]));
    assert_eq!(used("nose = \"own\"\n"), (2, vec![]));
    assert_eq!(used("nose = \"Mine\"\n"), (2, vec![]));
    assert_eq!(used("nose = \"Second\"\n"), (1, vec![Why::Nose]));
}

proptest! {
    #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(21), failure_persistence: None, ..ProptestConfig::default() })]

    /// A mean of noses lies between them, and moves with all of them.
    #[test]
    fn a_mean_lies_between(values in prop::collection::vec(0.0..10.0_f64, 1..7), shift in -3.0..3.0_f64) {
        let mean = hodges_lehmann(&values);
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let most = values.iter().copied().fold(0.0, f64::max);
        prop_assert!(least <= mean && mean <= most);
        let moved: Vec<f64> = values.iter().map(|value| value + shift).collect();
        prop_assert!((hodges_lehmann(&moved) - mean - shift).abs() < 1e-9);
    }
}
