//! What the format asks of each line of a certificate, one departure at a time:
//! a line that names nothing, repeats itself or has a number of no ordinary size
//! is refused before anything is made of it.

mod support;

use permil::certificate::{
    self, BoundOnD, Certificate, Claim, Entry, Fault, Multipliers, Remainder, Said, Walk, check,
};
use permil::model::Blend;
use permil::problem::Problem;
use permil::units::Ppt;
use support::certificates::{FOUR_MATERIALS, names_of, small};
use support::load;

fn ppt(ppt: f64) -> Ppt {
    Ppt::from_ppt(ppt)
}

/// A certificate of a problem with nothing but these lines.
fn of(problem: &Problem, claim: Claim, entries: Vec<Entry>) -> Certificate {
    Certificate { claim, columns: names_of(problem), remainders: Vec::new(), d: [None, None], entries }
}

fn verdict(problem: &Problem, certificate: &Certificate) -> Result<usize, Fault> {
    check(certificate, &Blend::new(problem), &names_of(problem))
}

/// Whether a line is of the shape of one, whatever it proves.
fn fits(problem: &Problem, claim: Claim, entry: &Entry) -> bool {
    verdict(problem, &of(problem, claim, vec![entry.clone()])) != Err(Fault::Unknown(1))
}

#[test]
fn multipliers_name_what_there_is_once_and_in_order_with_ordinary_numbers() {
    let problem = small();
    let blend = Blend::new(&problem);
    let sizes = [blend.targets.len(), blend.rows.len(), blend.counts.len(), 0];
    assert!(sizes[0] >= 2 && sizes[1] >= 1 && sizes[2] == 1, "{sizes:?}");
    let claim = Claim::NoneBelow(0.1);
    let with = |place: usize, list: &[(usize, f64)]| {
        let mut by = Multipliers { objective: 1.0, ..Multipliers::default() };
        *[&mut by.targets, &mut by.rules, &mut by.counts, &mut by.remainders][place] = list.to_vec();
        fits(&problem, claim, &Entry::Closed(by.clone()))
            && fits(&problem, claim, &Entry::Narrowed(by, vec![(0, Said::Out)]))
    };
    for (place, &size) in sizes.iter().enumerate() {
        if size > 0 {
            assert!(with(place, &[(size - 1, 0.5)]), "the last of list {place}");
            assert!(!with(place, &[(0, 0.5), (0, 0.5)]), "twice in list {place}");
        }
        assert!(!with(place, &[(size, 0.5)]), "beyond list {place}");
    }
    assert!(with(0, &[(0, 0.5), (1, 0.5)]) && !with(0, &[(1, 0.5), (0, 0.5)]), "they rise");
    for odd in [0.0, f64::NAN, f64::INFINITY, 1.1e60, 0.9e-60, -1.1e60] {
        assert!(!with(0, &[(0, odd)]) && !with(1, &[(0, odd)]), "{odd}");
        let sum = Multipliers { objective: 1.0, sum: odd, ..Multipliers::default() };
        let d = Multipliers { objective: 1.0, d: odd, ..Multipliers::default() };
        for by in [sum, d] {
            assert_eq!(fits(&problem, claim, &Entry::Closed(by)), odd == 0.0, "{odd}");
        }
    }
    for ordinary in [1e60, 1e-60] {
        assert!(with(0, &[(0, ordinary)]) && with(0, &[(0, -ordinary)]) && with(1, &[(0, ordinary)]), "{ordinary}");
        // What rules and counts forbid cannot be held against what they allow.
        assert!(!with(1, &[(0, -ordinary)]) && !with(2, &[(0, -ordinary)]), "{ordinary}");
    }
    // The loss counts once or not at all, and not in a claim that speaks of none.
    let objective = |objective: f64| Multipliers { objective, ..Multipliers::default() };
    for (value, below, none) in [(0.0, true, true), (1.0, true, false), (0.5, false, false), (2.0, false, false)] {
        for entry in [Entry::Closed(objective(value)), Entry::Narrowed(objective(value), vec![(0, Said::Out)])] {
            assert_eq!(fits(&problem, claim, &entry), below, "{entry:?}");
            assert_eq!(fits(&problem, Claim::None, &entry), none, "{entry:?}");
        }
    }
}

#[test]
fn changes_name_columns_that_there_are_in_order_with_doses_of_a_whole() {
    let problem = small();
    let (claim, beyond) = (Claim::NoneBelow(0.1), Ppt::WHOLE + ppt(50.0));
    let listed = |changes: &[(usize, Said)]| {
        let narrowed = Entry::Narrowed(Multipliers::default(), changes.to_vec());
        let both = [fits(&problem, claim, &narrowed), fits(&problem, claim, &Entry::OnGrid(changes.to_vec()))];
        assert_eq!(both[0], both[1], "{changes:?}");
        both[0]
    };
    let all = [Said::Out, Said::In(ppt(100.0)), Said::AtLeast(ppt(100.0)), Said::AtMost(ppt(900.0))];
    let of_first = all.map(|said| (0, said));
    assert!(listed(&of_first) && listed(&[(0, Said::Out), (3, Said::Out)]));
    assert!(!listed(&[]) && !listed(&[(4, Said::Out)]) && !listed(&[(3, Said::Out), (0, Said::Out)]));
    for at in 0..3 {
        let mut turned = of_first;
        turned.swap(at, at + 1);
        assert!(!listed(&turned), "{turned:?}");
        assert!(!listed(&[of_first[at], of_first[at]]), "twice {:?}", of_first[at]);
    }
    for (dose, is_one) in [(Ppt::ZERO, true), (Ppt::WHOLE, true), (beyond, false), (-ppt(50.0), false)] {
        for said in [Said::In(dose), Said::AtLeast(dose), Said::AtMost(dose)] {
            assert_eq!(listed(&[(1, said)]), is_one, "{said:?}");
            for (less, more) in [(said, Said::Out), (Said::Out, said)] {
                assert_eq!(fits(&problem, claim, &Entry::Split(1, less, more)), is_one, "{less:?}, {more:?}");
            }
        }
    }
    assert!(fits(&problem, claim, &Entry::Split(3, Said::Out, Said::In(ppt(100.0)))));
    assert!(!fits(&problem, claim, &Entry::Split(4, Said::Out, Said::In(ppt(100.0)))));
    for (at, is_one) in [(1.0, true), (1e60, true), (0.0, false), (-1.0, false), (1e61, false), (f64::NAN, false)] {
        assert_eq!(fits(&problem, claim, &Entry::SplitD(at)), is_one, "{at}");
    }
}

#[test]
fn remainders_are_few_and_leave_out_nothing_that_the_step_does_not_keep() {
    // One dose of no step among steps of 50.
    let brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 5\ngreen = 3\n[formula]\nstep = 50\n\
                 [doses]\n\"Beta\" = { step = 7.5 }\n";
    let problem = load(FOUR_MATERIALS, brief);
    let claim = Claim::NoneBelow(0.0);
    let with = |remainders: &[Remainder], entry: Entry| {
        let whole = Certificate { remainders: remainders.to_vec(), ..of(&problem, claim, vec![entry]) };
        verdict(&problem, &whole)
    };
    let remainder = |step: f64, columns: &[usize]| Remainder { step: ppt(step), columns: columns.to_vec() };
    let good = remainder(50.0, &[1]);
    let is_one =
        |remainder: &Remainder| with(std::slice::from_ref(remainder), Entry::Empty) != Err(Fault::Remainder(0));
    assert!(is_one(&good) && is_one(&remainder(50.0, &[0, 1])) && is_one(&remainder(25.0, &[1])));
    assert!(is_one(&remainder(1000.0, &[0, 1, 2, 3])));
    for wrong in [
        remainder(50.0, &[]),
        remainder(50.0, &[0]),
        remainder(100.0, &[1]),
        remainder(50.0, &[1, 1]),
        remainder(50.0, &[1, 0]),
        remainder(50.0, &[1, 4]),
        remainder(0.0, &[1]),
        remainder(-50.0, &[1]),
        remainder(1050.0, &[0, 1, 2, 3]),
    ] {
        assert!(!is_one(&wrong), "{wrong:?}");
    }
    assert_eq!(with(&[good.clone(), remainder(50.0, &[0])], Entry::Empty), Err(Fault::Remainder(1)));
    // Sixteen of them and no more.
    assert_ne!(with(&vec![good.clone(); 16], Entry::Empty), Err(Fault::TooLarge));
    assert_eq!(with(&vec![good.clone(); 17], Entry::Empty), Err(Fault::TooLarge));
    let split = |index: usize, most: Ppt, least: Ppt| {
        with(std::slice::from_ref(&good), Entry::SplitRemainder(index, most, least)) != Err(Fault::Unknown(1))
    };
    assert!(split(0, ppt(50.0), ppt(100.0)) && split(0, -Ppt::WHOLE, Ppt::WHOLE));
    assert!(!split(1, ppt(50.0), ppt(100.0)));
    // Sums go up in steps: nothing lies between 50 and 100, and 100 does between 50 and 150.
    let gap = |most: f64, least: f64| {
        let entry = Entry::SplitRemainder(0, ppt(most), ppt(least));
        with(std::slice::from_ref(&good), entry) == Err(Fault::Gap(1))
    };
    assert!(!gap(50.0, 100.0) && !gap(99.0, 100.0) && gap(50.0, 150.0) && gap(50.0, 101.0));
    assert!(!split(0, Ppt::WHOLE + ppt(50.0), Ppt::WHOLE) && !split(0, ppt(50.0), -Ppt::WHOLE - ppt(50.0)));
}

#[test]
fn the_head_claims_a_loss_and_bounds_of_ordinary_size() {
    let problem = small();
    for (loss, is_one) in [(0.0, true), (1e60, true), (-1.0, false), (1e61, false), (1e-61, false), (f64::NAN, false)] {
        let fault = verdict(&problem, &of(&problem, Claim::NoneBelow(loss), vec![Entry::Empty]));
        assert_eq!(fault != Err(Fault::Claim), is_one, "{loss}");
    }
    for place in [0, 1] {
        let which = ["least", "greatest"][place];
        let fault = |at: f64, by: Multipliers| {
            let mut head = of(&problem, Claim::NoneBelow(0.1), vec![Entry::Empty]);
            head.d[place] = Some(BoundOnD { at, by });
            verdict(&problem, &head) == Err(Fault::D(which))
        };
        // Weights are from 20 to 90: D lies between 20 and 90 times 1000.
        let (at, sum) = [(20_000.0, 20.0), (90_000.0, -90.0)][place];
        let by = |objective: f64, d: f64| Multipliers { objective, sum, d, ..Multipliers::default() };
        assert!(!fault(at, by(0.0, 0.0)), "{which}");
        assert!(fault(at, by(1.0, 0.0)) && fault(at, by(0.0, 1.0)), "of D alone");
        assert!(fault(-at, by(0.0, 0.0)) && fault(f64::NAN, by(0.0, 0.0)) && fault(1e61, by(0.0, 0.0)), "{which}");
        assert!(fault([20_001.0, 89_999.0][place], by(0.0, 0.0)), "{which} is not proven");
    }
}

/// D is 30 times 1000 where all is Alpha. After a split at less than that nothing is on the near side, and after
/// one at more nothing on the far side; whichever holds the formula is closed by a claim that no loss is below 0.
#[test]
fn a_split_of_d_tells_both_sides_where_they_end() {
    let brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 5\n[formula]\nonly = [\"Alpha\"]\n";
    let problem = load(FOUR_MATERIALS, brief);
    let blend = Blend::new(&problem);
    let head = of(&problem, Claim::NoneBelow(0.0), Vec::new());
    let any = Entry::Closed(Multipliers { objective: 1.0, ..Multipliers::default() });
    let by = |sum: f64, d: f64| Entry::Closed(Multipliers { sum, d, ..Multipliers::default() });
    let refuted = |at: f64, is_far: bool| {
        [(30.0, 1.0), (30.0, -1.0), (-30.0, 1.0), (-30.0, -1.0)].into_iter().any(|(sum, d)| {
            let mut walk = Walk::new(&head, &blend).expect("a head");
            walk.follow(&Entry::SplitD(at)).expect("a split");
            if is_far {
                walk.follow(&any).expect("no loss is below 0");
            }
            walk.follow(&by(sum, d)).is_ok()
        })
    };
    assert!(refuted(20_000.0, false) && !refuted(40_000.0, false));
    assert!(refuted(40_000.0, true) && !refuted(20_000.0, true));
}

#[test]
fn heads_are_read_in_their_order_and_no_other() {
    let lines = ["column 0 \"A\"", "remainder 0 step 50 columns 0", "d least 1 by 0 s=1", "d most 2 by 0 s=-1"];
    let read = |order: &[usize]| {
        let head: String = order.iter().map(|&at| format!("{}\n", lines[at])).collect();
        certificate::read(&format!("permil certificate 1\nclaim none\n{head}tree\nempty\n")).is_ok()
    };
    for order in [&[0, 1, 2, 3][..], &[0, 2, 3], &[0, 1, 3], &[0, 1], &[0]] {
        assert!(read(order), "{order:?}");
    }
    for order in [&[1, 0][..], &[2, 0], &[3, 0], &[1, 2, 0], &[2, 1], &[3, 1], &[3, 2], &[2, 2], &[3, 3]] {
        assert!(!read(order), "{order:?}");
    }
    let many = |number: usize| {
        let all: String = (0..number).map(|at| format!("remainder {at} step 50 columns 0\n")).collect();
        certificate::read(&format!("permil certificate 1\nclaim none\n{}\n{all}tree\nempty\n", lines[0])).is_ok()
    };
    assert!(many(16) && !many(17));
}
