//! Certificates: those of proven answers pass, and none that was tampered with
//! does. A certificate may be wrong in any line; the check has to see it.

#[path = "../benches/common/mod.rs"]
mod common;
mod support;

use permil::certificate::{self, Certificate, Claim, Entry, Multipliers, Said, Walk};
use permil::control::Control;
use permil::model::Blend;
use permil::problem::Problem;
use permil::problem::check::REPORT_TOLERANCE;
use permil::solve::certify::{Unwritten, certify};
use permil::solve::{Method, Solution, Status, propose};
use permil::units::Ppt;
use support::certificates::{small, verdict};
use support::listing::least_loss;
use support::program::plain_cases;
use support::random::scenario;
use support::{load, problem_at};

fn limited() -> Control {
    Control { node_limit: Some(20_000), ..Control::default() }
}

/// The certificate of a problem's answer, read back, with its status.
fn certified(problem: &Problem) -> Option<(Status, Certificate)> {
    let solution = propose(problem, Method::Auto, &limited()).expect("a method for every problem");
    let text = certify(problem, &solution, &limited()).expect("a certificate that passes its own check").ok()?;
    Some((solution.status, certificate::read(&text).expect("it can be read")))
}

#[test]
fn answers_of_the_reference_cases_are_certified() {
    let (mut proven, mut impossible) = (0, 0);
    for case in plain_cases() {
        let problem = problem_at(&case.join("brief.toml"));
        let (status, certificate) = certified(&problem).unwrap_or_else(|| panic!("{}: none", case.display()));
        assert!(verdict(&problem, &certificate).is_ok());
        match status {
            Status::Optimal => proven += 1,
            Status::Infeasible => impossible += 1,
            other => panic!("{}: {other:?}", case.display()),
        }
        assert_eq!(certificate.claim == Claim::None, status == Status::Infeasible);
    }
    assert!(proven >= 17 && impossible >= 5, "{proven} and {impossible}");
}

#[test]
fn answers_of_random_scenarios_are_certified() {
    let (mut done, mut impossible) = (0, 0);
    for seed in 0..150 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        if let Some((status, certificate)) = certified(&problem) {
            assert!(verdict(&problem, &certificate).is_ok());
            done += 1;
            impossible += usize::from(status == Status::Infeasible);
        }
    }
    assert!(done >= 145 && impossible >= 10, "{done}, of them {impossible} infeasible");
}

/// Many materials under one count, whose multipliers both narrow parts and are
/// written down: whoever asks for a certificate of a proven formula gets one.
#[test]
fn the_answer_of_a_long_shelf_is_certified() {
    use common::blend::{TEN_WHOLE_PARTS, problem};
    let mut by_count = 0;
    for (materials, descriptors, seed) in [(40, 20, 1), (40, 20, 6), (200, 40, 3)] {
        let problem = problem(&common::instance(materials, descriptors, seed), TEN_WHOLE_PARTS);
        let (status, certificate) = certified(&problem).expect("a certificate");
        assert_eq!(status, Status::Optimal);
        assert!(verdict(&problem, &certificate).is_ok(), "{materials} x {descriptors}, seed {seed}");
        let of_count = |entry: &&Entry| matches!(entry, Entry::Narrowed(by, _) if !by.counts.is_empty());
        by_count += certificate.entries.iter().filter(of_count).count();
    }
    assert!(by_count > 0);
}

/// What a certificate says of every formula is true of every formula: a claim
/// above the loss of one that exists is never proven.
#[test]
fn no_claim_above_a_loss_that_exists_passes() {
    let mut tried = 0;
    for seed in 0..60 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        let Some((Status::Optimal, certificate)) = certified(&problem) else { continue };
        let Claim::NoneBelow(bound) = certificate.claim else { continue };
        for more in [1e-5, 0.1, 3.0] {
            let claim = Claim::NoneBelow(bound + more * bound.max(1.0));
            assert!(verdict(&problem, &Certificate { claim, ..certificate.clone() }).is_err(), "seed {seed}, {more}");
            tried += 1;
        }
        let claim = Claim::None;
        assert!(verdict(&problem, &Certificate { claim, ..certificate.clone() }).is_err(), "seed {seed}");
    }
    assert!(tried > 90, "{tried}");
}

/// Every part of a tree is told from every other: dropping or changing a line
/// of a certificate never leaves a valid one with a claim that is false.
#[test]
fn a_certificate_that_is_tampered_with_never_proves_what_is_false() {
    let problem = small();
    let least = least_loss(&problem, REPORT_TOLERANCE);
    let (status, certificate) = certified(&problem).expect("a certificate");
    assert_eq!(status, Status::Optimal);
    assert!(certificate.entries.len() > 3, "{:?}", certificate.entries);
    let Claim::NoneBelow(bound) = certificate.claim else { panic!("{:?}", certificate.claim) };
    assert!((least - 2e-6..=least).contains(&bound), "{bound} beside {least}");
    assert!(verdict(&problem, &certificate).is_ok());

    let with = |entries: Vec<Entry>| Certificate { entries, ..certificate.clone() };
    // Without a line the tree is not whole, unless the line narrowed only.
    for at in 0..certificate.entries.len() {
        let mut entries = certificate.entries.clone();
        let gone = entries.remove(at);
        if !matches!(gone, Entry::Narrowed(..) | Entry::OnGrid(_)) {
            assert!(verdict(&problem, &with(entries)).is_err(), "without line {}", at + 1);
        }
    }
    // Calling a part empty that holds a formula.
    assert!(verdict(&problem, &with(vec![Entry::Empty])).is_err());
    // A split that leaves something out.
    for (less, more) in [
        (Said::AtMost(Ppt::from_ppt(300.0)), Said::In(Ppt::from_ppt(400.0))),
        (Said::Out, Said::In(Ppt::from_ppt(150.0))),
    ] {
        let mut entries = vec![Entry::Split(0, less, more)];
        entries.extend(certificate.entries.iter().cloned());
        entries.extend(certificate.entries.iter().cloned());
        let fault = verdict(&problem, &with(entries)).expect_err("a gap");
        assert_eq!(fault, certificate::Fault::Gap(1));
    }
    // Something that is not there.
    assert!(verdict(&problem, &with(vec![Entry::Split(99, Said::Out, Said::In(Ppt::ZERO))])).is_err());
    // Other materials.
    let columns = certificate.columns.iter().rev().cloned().collect();
    assert_eq!(
        verdict(&problem, &Certificate { columns, ..certificate.clone() }),
        Err(certificate::Fault::OtherColumns)
    );
}

/// Time is blamed where it is time: what rounding decides is told apart, and so
/// is an answer that rests on no proof.
#[test]
fn why_there_is_no_certificate_is_told_apart() {
    let problem = small();
    let solution = propose(&problem, Method::Auto, &limited()).expect("solved");
    let why = |solution: &Solution, control: &Control| {
        certify(&problem, solution, control).expect("sound").expect_err("there is none")
    };
    let no_node = Control { node_limit: Some(0), ..Control::default() };
    assert_eq!(why(&solution, &no_node), Unwritten::OutOfTime);
    // A claim above the best loss leaves a part with a formula in it: nothing
    // closes that, however long it is tried.
    let mut worse = solution.clone();
    worse.answer.as_mut().expect("a formula").evaluation.loss += 0.5;
    assert_eq!(why(&worse, &limited()), Unwritten::NotClosed);
    let unknown = Solution { status: Status::Unknown, answer: None, bound: None, ..solution };
    assert_eq!(why(&unknown, &limited()), Unwritten::NothingProven);
}

/// Random changes of the text: read or refused, never a panic, and never a
/// proof of more than is true.
#[test]
fn no_change_of_the_text_proves_more_than_is_true() {
    use rand::{RngExt, SeedableRng};
    let problem = small();
    let least = least_loss(&problem, REPORT_TOLERANCE);
    let solution = propose(&problem, Method::Auto, &limited()).expect("solved");
    let text = certify(&problem, &solution, &limited()).expect("checked").expect("written");
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(20_261_125);
    let (mut readable, mut passed) = (0, 0);
    for _ in 0..20_000 {
        let mut changed: Vec<char> = text.chars().collect();
        for _ in 0..rng.random_range(1..4) {
            let at = rng.random_range(0..changed.len());
            let digits = ['0', '1', '2', '5', '9', '-', '.', 'e', '=', ' ', '\n', ':', ',', 'o', 't'];
            match rng.random_range(0..3) {
                0 => changed[at] = digits[rng.random_range(0..digits.len())],
                1 => changed.insert(at, digits[rng.random_range(0..digits.len())]),
                _ => drop(changed.remove(at)),
            }
        }
        let Ok(read) = certificate::read(&changed.into_iter().collect::<String>()) else { continue };
        readable += 1;
        if verdict(&problem, &read).is_ok() {
            passed += 1;
            match read.claim {
                Claim::NoneBelow(bound) => assert!(bound <= least + 1e-9, "{bound} beside {least}"),
                Claim::None => panic!("there are formulas"),
            }
        }
    }
    assert!(readable > 2000 && passed > 100, "{readable} could be read, {passed} passed");
}

#[test]
fn written_and_read_it_is_the_same() {
    let problem = small();
    let (_, certificate) = certified(&problem).expect("a certificate");
    let text = certificate::write(&certificate);
    assert_eq!(certificate::read(&text).as_ref(), Ok(&certificate));
    for broken in ["", "permil certificate 2", "permil certificate 1\nclaim none-below x", "permil certificate 1"] {
        assert!(certificate::read(broken).is_err(), "{broken:?}");
    }
}

/// Whoever writes a certificate tries lines and goes on from those that are
/// refused: they leave no trace.
#[test]
fn a_line_that_is_refused_changes_nothing() {
    let problem = small();
    let (_, certificate) = certified(&problem).expect("a certificate");
    let (blend, head) = (Blend::new(&problem), Certificate { entries: Vec::new(), ..certificate.clone() });
    let mut walk = Walk::new(&head, &blend).expect("what stands above the tree");
    let wrong =
        [Entry::Closed(Multipliers::default()), Entry::Split(99, Said::Out, Said::In(Ppt::ZERO)), Entry::SplitD(0.0)];
    for entry in &certificate.entries {
        assert!(!walk.is_complete());
        // Of a part that is empty everything is true.
        let refused = if *entry == Entry::Empty { &wrong[1..] } else { &wrong[..] };
        assert!(refused.iter().all(|line| walk.follow(line).is_err()), "{entry:?}");
        assert_eq!(walk.follow(entry), Ok(()));
    }
    assert!(walk.is_complete());
    assert!(walk.follow(&Entry::Empty).is_err());
}
