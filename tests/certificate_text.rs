//! The text of a certificate with a line of every kind, and which multipliers it has a place for.

mod support;

use permil::certificate::{
    self, BoundOnD, CapMultipliers, Certificate, Claim, Entry, Fault, Multipliers, Remainder, Said, check, greatest_d,
    shortened,
};
use permil::model::Blend;
use permil::problem::{Problem, Rule, RuleId, RuleKind};
use permil::units::Ppt;
use support::certificates::{names_of, small};

fn ppt(ppt: f64) -> Ppt {
    Ppt::from_ppt(ppt)
}

fn full() -> Multipliers {
    Multipliers {
        objective: 1.0,
        sum: 0.5,
        d: -2e-9,
        targets: vec![(0, -0.25), (3, 1500.0)],
        rules: vec![(1, 0.000_001)],
        counts: vec![(0, 3.0)],
        remainders: vec![(0, -1.0)],
        rungs: vec![(2, 1e30)],
        caps: vec![
            CapMultipliers { cap: 0, most: 0.75, targets: vec![(0, -1.0), (2, 2.0)] },
            CapMultipliers { cap: 4, most: 1.0, targets: Vec::new() },
        ],
    }
}

const FULL: &str = "1 s=0.5 d=-2e-9 t0=-0.25 t3=1500 r1=1e-6 c0=3 m0=-1 l2=1e30 k0=0.75 k0.0=-1 k0.2=2 k4=1";

fn whole() -> (Certificate, String) {
    let none = Multipliers::default;
    let certificate = Certificate {
        claim: Claim::NoneBelow(5.41),
        columns: vec!["Geraniol".to_owned(), "a \"b\"\n".to_owned()],
        remainders: vec![Remainder { step: ppt(0.5), columns: vec![0, 12] }],
        d: [
            Some(BoundOnD { at: 12.5, by: Multipliers { sum: 0.3, ..none() } }),
            Some(BoundOnD { at: 1e9, by: Multipliers { rules: vec![(2, 1.5)], ..none() } }),
        ],
        entries: vec![
            Entry::Narrowed(full(), vec![(4, Said::Out), (5, Said::AtMost(ppt(30.0))), (5, Said::AtLeast(ppt(0.05)))]),
            Entry::OnGrid(vec![(1, Said::In(ppt(2.0)))]),
            Entry::Split(3, Said::Out, Said::In(ppt(2.0))),
            Entry::SplitRemainder(0, -ppt(1.5), ppt(50.0)),
            Entry::SplitD(0.1),
            Entry::SplitLadder(7),
            Entry::Closed(none()),
            Entry::Empty,
        ],
    };
    let text = format!(
        "permil certificate 1\nclaim none-below 5.41\ncolumn 0 \"Geraniol\"\ncolumn 1 \"a \\\"b\\\"\\n\"\n\
         remainder 0 step 0.5 columns 0,12\nd least 12.5 by 0 s=0.3\nd most 1000000000 by 0 r2=1.5\ntree\n\
         narrowed {FULL} : 4 out, 5 <=30, 5 >=0.05\non-grid : 1 in>=2\nsplit 3 : out, in>=2\n\
         split-remainder 0 : <=-1.5, >=50\nsplit-d 0.1\nsplit-ladder 7\nclosed 0\nempty\n"
    );
    (certificate, text)
}

#[test]
fn every_line_is_written_and_read_back() {
    let (certificate, text) = whole();
    assert_eq!(certificate::write(&certificate), text);
    assert_eq!(certificate::read(&text), Ok(certificate));
    let none = Certificate { claim: Claim::None, ..whole().0 };
    assert_eq!(certificate::read(&certificate::write(&none)), Ok(none));
}

/// Each line once left out, said twice and with a word too many: what is then wrong, and where.
#[test]
fn what_is_wrong_is_told_with_its_line() {
    let (_, text) = whole();
    let lines: Vec<&str> = text.lines().collect();
    let fault = |lines: &[&str]| certificate::read(&lines.join("\n")).err().map(|it| (it.line, it.why));
    assert_eq!(fault(&lines), None);
    for (at, line) in lines.iter().enumerate() {
        let longer = format!("{line} ");
        let mut odd = lines.clone();
        odd[at] = &longer;
        assert_eq!(fault(&odd).map(|it| it.0), Some(at + 1), "a blank after {line}");
        let longer = format!("{line} x");
        odd[at] = &longer;
        assert_eq!(fault(&odd).map(|it| it.0), Some(at + 1), "a word after {line}");
    }
    let early = "the certificate ends early".to_owned();
    for end in [0, 1, 2, 5, 7] {
        assert_eq!(fault(&lines[..end]), Some((end.max(1), early.clone())), "after {end} lines");
    }
    assert_eq!(fault(&["permil certificate 2"]), Some((1, "expected \"permil certificate 1\"".to_owned())));
    // A claim is one of the two, and nothing like it.
    for claim in ["claim some", "claim", "claim none-below"] {
        let claimed = fault(&["permil certificate 1", claim, "tree", "empty"]);
        assert_eq!(claimed, Some((2, "expected what is claimed".to_owned())), "{claim}");
    }
    let said = |why: &str, text: &str| {
        let head = ["permil certificate 1", "claim none", "tree", text];
        assert_eq!(fault(&head), Some((4, why.to_owned())), "{text}");
    };
    said("\"close\" is not expected here", "close 0");
    said("\"empty\" is not expected here", "empty 0");
    said("expected the weight of the objective, 0 or 1", "closed 2");
    said("expected \":\"", "narrowed 0 1 out");
    said("expected two sides", "split 3 : out in>=2");
    said("\"s\" is 0, or out of order", "closed 0 d=1 s=1");
    said("\"k1.0\" comes before its cap", "closed 0 k0=1 k1.0=2");
    said("\"k0.0\" comes before its cap", "closed 0 k0.0=2");
    said("\"k0.1\" is 0, or out of order", "closed 0 k0=1 k0.1=2 k0.1=3");
    said("expected a multiplier in place of \"dd\"", "closed 0 dd=1");
    said("expected a multiplier in place of \"ss\"", "closed 0 ss=1");
    said("expected a dose in place of \"<3\"", "on-grid : 1 <3");
}

#[test]
fn no_line_is_longer_than_a_million_bytes() {
    let with = |bytes: usize| {
        let name = "a".repeat(bytes - "column 0 \"\"".len());
        certificate::read(&format!("permil certificate 1\nclaim none\ncolumn 0 \"{name}\"\ntree\nempty\n"))
    };
    assert!(with(1 << 20).is_ok());
    let fault = with((1 << 20) + 1).expect_err("too long");
    assert_eq!((fault.line, fault.why.as_str()), (3, "the line is longer than any of a certificate"));
}

/// Every escape that names are written with is read back as what it stands for.
#[test]
fn names_with_every_escape_are_read_back() {
    let odd = "tab\t nul\0 return\r line\n quote\" apostrophe' backslash\\ bell\u{7} accent e\u{301}";
    let certificate = Certificate { columns: vec![odd.to_owned()], ..whole().0 };
    assert_eq!(certificate::read(&certificate::write(&certificate)).expect("read").columns, [odd]);
    let name = |text: &str| {
        let text = format!("permil certificate 1\nclaim none\ncolumn 0 \"{text}\"\ntree\nempty\n");
        certificate::read(&text).ok().map(|it| it.columns[0].clone())
    };
    assert_eq!(name("\\n\\t\\r\\0\\\\\\\"\\'\\u{e9}").as_deref(), Some("\n\t\r\0\\\"'\u{e9}"));
    for odd in ["\\x", "\\u{}", "\\u{1234567}", "\\u{d800}", "\\u{+41}", "\\", "\u{7}"] {
        assert_eq!(name(odd), None, "{odd:?}");
    }
}

/// What the format has no place for counts as 0, as any multipliers may: it is left out.
#[test]
fn what_has_no_place_is_left_out() {
    let odd = [0.0, f64::NAN, f64::INFINITY, 1e61, 1e-61];
    for value in odd {
        let list = vec![(0, value), (1, 0.5)];
        let caps = vec![
            CapMultipliers { cap: 0, most: value, targets: vec![(0, 1.0)] },
            CapMultipliers { cap: 1, most: -1.0, targets: vec![(0, 1.0)] },
            CapMultipliers { cap: 2, most: 1.0, targets: list.clone() },
        ];
        let (targets, remainders) = (list.clone(), list.clone());
        let (rules, counts, rungs) = (list.clone(), list.clone(), list);
        let by = Multipliers { objective: 1.0, sum: value, d: value, targets, rules, counts, remainders, rungs, caps };
        let kept = vec![(1, 0.5)];
        let short = shortened(&by, 17);
        assert_eq!((short.sum, short.d, &short.targets, &short.rules), (0.0, 0.0, &kept, &kept), "{value}");
        assert_eq!((&short.counts, &short.remainders, &short.rungs), (&kept, &kept, &kept), "{value}");
        assert_eq!(short.caps, [CapMultipliers { cap: 2, most: 1.0, targets: kept }], "{value}");
        // Written as it is, it is left out as well.
        let entries = vec![Entry::Closed(by)];
        let text = certificate::write(&Certificate { entries, ..whole().0 });
        let last = text.lines().last().expect("a line");
        assert_eq!(last, "closed 1 t1=0.5 r1=0.5 c1=0.5 m1=0.5 l1=0.5 k2=1 k2.1=0.5", "{value}");
    }
    // Below 0 are targets and remainders alone.
    let list = vec![(0, -1.0)];
    let (targets, rules, counts) = (list.clone(), list.clone(), list.clone());
    let by =
        Multipliers { targets, rules, counts, remainders: list.clone(), rungs: list.clone(), ..Multipliers::default() };
    let short = shortened(&by, 17);
    assert_eq!((&short.targets, &short.remainders), (&list, &list));
    assert!(short.rules.is_empty() && short.counts.is_empty() && short.rungs.is_empty());
    let text = certificate::write(&Certificate { entries: vec![Entry::Closed(by)], ..whole().0 });
    assert_eq!(text.lines().last(), Some("closed 0 t0=-1 m0=-1"));
    // So many digits of each.
    let digits = Multipliers { sum: 1.0 / 3.0, d: 2.0 / 3.0, ..Multipliers::default() };
    let short = shortened(&digits, 3);
    assert_eq!((short.sum, short.d, short.objective), (0.333, 0.667, 0.0));
    assert_eq!(shortened(&Multipliers { objective: 1.0, ..digits.clone() }, 1).sum, 0.3);
    assert_eq!(shortened(&digits, 0).sum, 0.3);
}

/// The small brief with a rule on idle weight and a known formula: rungs and a cap.
fn with_rungs_and_cap() -> Problem {
    let mut problem = small();
    let place = problem.rules[0].place.clone();
    let near = permil::problem::Skeleton {
        by: permil::brief::MovedBy::Parts,
        shares: vec![(0, 0.5), (1, 0.25), (2, 0.25)],
        lacking: Vec::new(),
    };
    for (id, kind, at) in [
        (RuleId::MaxIdle, RuleKind::MaxIdle, 100.0),
        (RuleId::Near, RuleKind::Near(near.clone().into()), 60.0),
        (RuleId::Near, RuleKind::Near(near.into()), 70.0),
    ] {
        problem.rules.push(Rule { id, kind, place: place.clone(), at });
    }
    // Weak enough to be idle beside the others.
    std::sync::Arc::make_mut(&mut problem.palette).materials[3].strength = 1.0;
    let palette = std::sync::Arc::clone(&problem.palette);
    problem.with_palette(palette)
}

#[test]
fn multipliers_of_rungs_and_caps_name_what_there_is() {
    let (problem, plain) = (with_rungs_and_cap(), small());
    let blend = Blend::new(&problem);
    let top = blend.ladder.as_ref().expect("a ladder").top();
    assert_eq!((blend.caps.len(), blend.caps[0].targets.len()), (2, 3));
    let fits = |problem: &Problem, entry: Entry| {
        let (claim, columns) = (Claim::NoneBelow(0.1), names_of(problem));
        let certificate = Certificate { claim, columns, remainders: Vec::new(), d: [None, None], entries: vec![entry] };
        check(&certificate, &Blend::new(problem), &names_of(problem)) != Err(Fault::Unknown(1))
    };
    let rungs = |problem: &Problem, rungs: &[(usize, f64)]| {
        fits(problem, Entry::Closed(Multipliers { rungs: rungs.to_vec(), ..Multipliers::default() }))
    };
    assert!(rungs(&problem, &[(0, 1.0), (1, 1.0), (2, 1.0)]));
    for odd in [&[(3, 1.0)][..], &[(0, -1.0)], &[(0, 0.0)], &[(1, 1.0), (0, 1.0)], &[(1, 1.0), (1, 1.0)]] {
        assert!(!rungs(&problem, odd), "{odd:?}");
    }
    // A model without a ladder has no rungs.
    assert!(!rungs(&plain, &[(0, 1.0)]) && !fits(&plain, Entry::SplitLadder(0)));
    assert!(fits(&problem, Entry::SplitLadder(top - 1)) && !fits(&problem, Entry::SplitLadder(top)));
    let cap = |cap: usize, most: f64, targets: &[(usize, f64)]| CapMultipliers { cap, most, targets: targets.to_vec() };
    let caps = |problem: &Problem, caps: &[CapMultipliers]| {
        fits(problem, Entry::Closed(Multipliers { caps: caps.to_vec(), ..Multipliers::default() }))
    };
    assert!(caps(&problem, &[cap(0, 1.0, &[])]) && caps(&problem, &[cap(0, 1.0, &[(0, -1.0), (2, 1.0)])]));
    assert!(!caps(&plain, &[cap(0, 1.0, &[])]));
    assert!(!caps(&problem, &[cap(2, 1.0, &[])]) && !caps(&problem, &[cap(0, 1.0, &[]), cap(0, 1.0, &[])]));
    let both = [cap(0, 1.0, &[]), cap(1, 1.0, &[])];
    assert!(caps(&problem, &both) && !caps(&problem, &[both[1].clone(), both[0].clone()]));
    for most in [0.0, -1.0, 1e61, 1e-61, f64::NAN] {
        assert!(!caps(&problem, &[cap(0, most, &[])]), "{most}");
    }
    for odd in [&[(3, 1.0)][..], &[(0, 0.0)], &[(1, 1.0), (0, 1.0)], &[(0, f64::NAN)]] {
        assert!(!caps(&problem, &[cap(0, 1.0, odd)]), "{odd:?}");
    }
}

#[test]
fn no_thousand_parts_pass_the_greatest_d() {
    let blend = Blend::new(&small());
    // Gamma alone is the strongest: 90 a part.
    let greatest = greatest_d(&blend);
    assert!((90_000.0..90_001.0).contains(&greatest), "{greatest}");
    let mut weaker = blend;
    weaker.columns.retain(|column| column.weight < 60.0);
    assert!((50_000.0..50_001.0).contains(&greatest_d(&weaker)));
}
