//! The ways out of an overshoot held against a brief, a stock and a balance: what each
//! breaks, worked by hand.

use permil::balance::overshoot::{Spill, WayOut, WaysOut, ways_out};
use permil::balance::sheet::{Asked, sheet};
use permil::brief::Basis;
use permil::control::Control;
use permil::files::{Scenario, load_scenario};
use permil::formula::Formula;
use permil::problem::Problem;
use permil::solve::Status;
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"
animalic = "barn"
[[material]]
name = "Rose"
cas = "106-24-1"
strength = 10
scores = { rosy = 8 }
price = 10
stock = 5
[[material]]
name = "Indole"
strength = 100
scores = { animalic = 8, rosy = 1 }
price = 50
[[material]]
name = "Body"
strength = 5
scores = { rosy = 4, green = 2 }
price = 5
[[material]]
name = "Leaf"
strength = 50
scores = { green = 8 }
"#;

const TARGET: &str = "[target]\nrosy = 5\ngreen = 1.5\nanimalic = 1.5\n[formula]\nstep = 1\n";
/// In 5 g: 3 g of rose, 0.15 g of indole, 1.75 g of body and 0.1 g of leaf.
const WANTED: [f64; 4] = [600.0, 30.0, 350.0, 20.0];
const ROSE: usize = 0;
const INDOLE: usize = 1;
const BODY: usize = 2;
const LEAF: usize = 3;

/// What is asked, and what of the palette differs from the one above.
#[derive(Clone, Copy)]
struct Case<'a> {
    brief: &'a str,
    limits: &'a str,
    palette: (&'a str, &'a str),
    wanted: [f64; 4],
    basis: Basis,
    step_grams: f64,
}

const CASE: Case<'_> =
    Case { brief: TARGET, limits: "", palette: ("", ""), wanted: WANTED, basis: Basis::Neat, step_grams: 0.001 };

impl Case<'_> {
    /// The ways out of 5 g where so much of some materials is in the vessel, from the
    /// bottles of the sheet; at least 0.05 g are weighed well.
    fn ways(self, poured: &[(usize, f64)]) -> WaysOut {
        let folder = tempfile::tempdir().expect("a folder");
        let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
        write("palette.toml", &PALETTE.replace(self.palette.0, self.palette.1));
        write("limits.toml", self.limits);
        let limits = if self.limits.is_empty() { "" } else { "limits = [\"limits.toml\"]\n" };
        write("brief.toml", &format!("palette = \"palette.toml\"\nmatch = \"level\"\n{limits}{}", self.brief));
        let Scenario { palette, brief, limits, .. } = load_scenario(&folder.path().join("brief.toml"))
            .unwrap_or_else(|faults| panic!("{}", faults.render(false)));
        let problem = Problem::new(palette, &brief, &limits);
        let doses: Vec<Ppt> = self.wanted.iter().map(|ppt| Ppt::from_ppt(*ppt)).collect();
        let formula = Formula::from_doses(self.basis, &doses);
        let asked = Asked { batch_grams: 5.0, step_grams: self.step_grams, least_grams: 0.05 };
        let made = sheet(&problem.palette, &formula, asked);
        let of = |material: usize| poured.iter().filter(|it| it.0 == material).map(|it| it.1).sum();
        let in_vessel: Vec<f64> = made.lines.iter().map(|line| of(line.material)).collect();
        let spill = Spill {
            problem: &problem,
            brief: Some(&brief),
            formula: &formula,
            sheet: &made,
            asked,
            poured: &in_vessel,
        };
        ways_out(&spill, &Control::default()).expect("checked").expect("too much is in the vessel")
    }
}

/// (rule, what it stands at, what the way has).
fn broken(way: &WayOut) -> Vec<(String, f64, f64)> {
    way.broken.iter().map(|it| (it.rule.to_string(), it.at, it.has)).collect()
}

fn of(rule: &str, at: f64, has: f64) -> (String, f64, f64) {
    (rule.to_owned(), at, has)
}

/// Grams of a material on the sheet of a way; 0 where it has no line.
fn grams(way: &WayOut, material: usize) -> f64 {
    way.sheet.lines.iter().filter(|line| line.material == material).map(|line| line.grams).sum()
}

#[test]
fn what_a_larger_batch_adds_is_held_against_stock_and_balance() {
    // Twice the indole is twice the batch: 6 g of rose, of which 5 are on hand.
    let out = CASE.ways(&[(INDOLE, 0.3)]);
    assert_eq!(broken(&out.larger), [of("stock:Rose", 5.0, 6.0)]);
    assert_eq!((broken(&out.fresh), out.wasted_grams), (vec![], 0.3));
    // The leaf has no price, and none of it is wasted.
    assert_eq!(out.wasted_cost, Some(0.015));
    assert_eq!(CASE.ways(&[(INDOLE, 0.3), (LEAF, 0.01)]).wasted_cost, None);
    // 0.2 g of leaf are meant: 0.03 g more are too little to weigh, 0.05 g are not.
    let adds = |leaf: f64| broken(&CASE.ways(&[(INDOLE, 0.3), (LEAF, leaf)]).larger).split_off(1);
    assert_eq!((adds(0.17), adds(0.15)), (vec![of("least:Leaf", 0.05, 0.03)], vec![]));
    // Nothing at all may be added: less than half of what the balance shows.
    assert_eq!((adds(0.2), adds(0.1996)), (vec![], vec![]));
    let faint = adds(0.1993).remove(0);
    assert!(faint.0 == "least:Leaf" && (faint.2 - 0.0007).abs() < 1e-9, "{faint:?}");
    // 0.3 mg are meant, and the balance makes 0.7 of them.
    let hair = Case { wanted: [600.04, 30.0, 350.0, 19.96], ..CASE }.ways(&[(INDOLE, 0.3), (LEAF, 0.1993)]);
    assert_eq!(hair.larger.broken.last().expect("the leaf").rule.to_string(), "least:Leaf");
    // A fresh vessel takes all of it again: 0.04 g of 8 parts.
    let faint = Case { wanted: [612.0, 30.0, 350.0, 8.0], ..CASE }.ways(&[(INDOLE, 0.3), (LEAF, 0.02)]);
    assert_eq!(broken(&faint.fresh), [of("least:Leaf", 0.05, 0.04)]);
}

#[test]
fn a_larger_batch_keeps_the_order_of_the_sheet() {
    // 0.1004 g are 0.100 g as 0.1 g are, and the palette's order decides; of four times as
    // much the indole is the heavier.
    let near = Case { wanted: [629.92, 20.08, 330.0, 20.0], ..CASE }.ways(&[(BODY, 6.6)]);
    let order = |way: &WayOut| way.sheet.lines.iter().map(|line| line.material).collect::<Vec<_>>();
    assert_eq!(
        (order(&near.fresh), order(&near.larger)),
        (vec![INDOLE, LEAF, BODY, ROSE], vec![INDOLE, LEAF, BODY, ROSE])
    );
    assert_eq!((grams(&near.larger, INDOLE), grams(&near.larger, LEAF)), (0.402, 0.4));
}

const LIMIT: &str = "[[restriction]]\nsubstance = \"Geraniol\"\ncas = [\"106-24-1\"]\nsource = \"made up\"\nlimits = { \"4\" = 5.98 }\n";
const IN_PRODUCT: &str = "[use]\ncategory = \"4\"\ndosage = 10\n";

/// 596 parts are within a limit of 598. On a balance that shows 0.1 g they are 3 g of 5.
#[test]
fn a_limit_on_a_substance_holds_for_what_the_balance_shows() {
    let brief = format!("{TARGET}{IN_PRODUCT}[doses]\nRose = {{ max = 598 }}\n");
    let coarse = Case { brief: &brief, limits: LIMIT, step_grams: 0.1, ..CASE };
    let out = Case { wanted: [596.0, 0.0, 404.0, 0.0], ..coarse }.ways(&[(BODY, 2.3)]);
    assert_eq!(grams(&out.fresh, ROSE), 3.0);
    // The cap of the brief is on what is meant, and that keeps it.
    let found = &out.fresh.broken;
    assert_eq!((found.len(), found[0].rule.to_string(), found[0].at), (1, "limit:Geraniol".to_owned(), 5.98));
    assert!((found[0].has - 6.0).abs() < 1e-9 && found[0].line == Some(1) && found[0].file.ends_with("limits.toml"));
    let said = "Geraniol is at most 5.98 % of the finished product, which rounding to the balance passes";
    assert_eq!(found[0].sentence, said);
    // What is meant to pass it is said once, without the balance.
    let meant = Case { wanted: [599.0, 0.0, 401.0, 0.0], ..coarse }.ways(&[(BODY, 2.3)]);
    let named: Vec<_> = meant.fresh.broken.iter().map(|it| (it.rule.to_string(), it.sentence.as_str())).collect();
    let limit = "Geraniol is at most 5.98 % of the finished product";
    assert_eq!(named, [("dose:Rose.max".to_owned(), "Rose is at most 598 ‰"), ("limit:Geraniol".to_owned(), limit)]);
    // A formula that counts what is poured was never meant to keep doses of neat material,
    // and cannot be solved again with them.
    let poured = Case { basis: Basis::Bottle, wanted: [599.0, 0.0, 401.0, 0.0], ..coarse }.ways(&[(BODY, 2.3)]);
    assert_eq!(poured.fresh.broken.iter().map(|it| it.rule.to_string()).collect::<Vec<_>>(), ["limit:Geraniol"]);
    assert!(poured.same.status == Status::Unknown && poured.same.way.is_none());
}

/// The same batch may be at the limit, and then the balance may pass it.
#[test]
fn the_same_batch_says_where_the_balance_passes_a_limit() {
    let brief =
        format!("[target]\nrosy = 8\n[formula]\nstep = 1\n{IN_PRODUCT}[doses]\nIndole = {{ use = \"never\" }}\n");
    let case = Case { brief: &brief, limits: LIMIT, step_grams: 0.1, wanted: [500.0, 0.0, 500.0, 0.0], ..CASE };
    let same = case.ways(&[(ROSE, 2.6)]).same.way.expect("a way");
    assert_eq!(
        same.sheet.lines.iter().map(|line| (line.material, line.dose.as_f64())).collect::<Vec<_>>(),
        [(BODY, 402.0), (ROSE, 598.0)]
    );
    assert_eq!(same.broken.iter().map(|it| it.rule.to_string()).collect::<Vec<_>>(), ["limit:Geraniol"]);
}

/// 120.2 parts of indole are in the vessel where doses but of the body are whole parts:
/// they stay.
#[test]
fn what_is_in_the_vessel_stays_off_its_grid() {
    let brief = format!("{TARGET}[doses]\nBody = {{ use = \"must\", step = 0.01 }}\n");
    let out = Case { brief: &brief, ..CASE }.ways(&[(INDOLE, 0.601)]);
    let same = out.same.way.expect("a way");
    assert_eq!((out.same.status, broken(&same)), (Status::Optimal, vec![]));
    let dose = same.sheet.lines.iter().find(|line| line.material == INDOLE).expect("a line").dose;
    assert_eq!(dose, Ppt::from_ppt(120.2));
}

/// A brief that wants rose alone has no use for the leaf, which the formula has.
#[test]
fn the_same_batch_keeps_the_brief_and_not_the_formula() {
    let brief = "[target]\nrosy = 8\n[doses]\nBody = { use = \"must\", min = 700 }\n";
    let same = Case { brief, ..CASE }.ways(&[(INDOLE, 0.3)]).same.way.expect("a way");
    assert_eq!((grams(&same, LEAF), grams(&same, INDOLE)), (0.0, 0.3));
    // The brief's own least dose is more than weighs well, and holds.
    assert_eq!((grams(&same, BODY), broken(&same)), (3.5, vec![]));
}

#[test]
fn the_same_batch_keeps_to_what_is_on_hand_of_the_bottle_that_is_known() {
    let rosy = "[target]\nrosy = 8\n[doses]\nIndole = { use = \"never\" }\n";
    let same = |palette: (&'static str, &'static str)| {
        let case = Case { brief: rosy, palette, wanted: [500.0, 0.0, 500.0, 0.0], ..CASE };
        let same = case.ways(&[(BODY, 2.6)]).same.way.expect("a way");
        same.sheet.lines.iter().find(|line| line.material == ROSE).expect("a line").dose.as_f64()
    };
    // Half of the 4 g on hand are rose: 400 parts of 5 g.
    assert_eq!(same(("stock = 5", "stock = 4\nbottle = { percent = 50 }")), 400.0);
    assert_eq!(same(("stock = 5", "stock = 2")), 400.0);
    // Of two bottles nobody knows what is in the other.
    let two = same(("stock = 5", "stock = 2\nbottle = [{ percent = 100 }, { percent = 50 }]"));
    assert!((two - 480.0).abs() < 1e-6, "{two}");
}

/// Much more leaf than the formula had comes from the strong bottle, though the sheet
/// had it from the weak one.
#[test]
fn what_is_not_in_the_vessel_comes_from_the_bottle_that_weighs_best() {
    let palette = ("scores = { green = 8 }", "scores = { green = 8 }\nbottle = [{ percent = 10 }, { percent = 1 }]");
    let case = Case { palette, wanted: [619.6, 30.0, 350.0, 0.4], ..CASE };
    let percent =
        |way: &WayOut| way.sheet.lines.iter().find(|line| line.material == LEAF).map(|line| line.pick.percent);
    let out = case.ways(&[(INDOLE, 0.3)]);
    assert_eq!(percent(&out.fresh), Some(1.0));
    assert_eq!(percent(&out.same.way.expect("a way")), Some(10.0));
    // From the bottle that was opened, where something of it is in the vessel.
    let out = case.ways(&[(INDOLE, 0.3), (LEAF, 0.1)]);
    assert_eq!(percent(&out.same.way.expect("a way")), Some(1.0));
}

/// (rule, sentence, whether it has a line) of what does not go together.
fn conflict(case: Case<'_>, poured: &[(usize, f64)]) -> Vec<(String, String, bool)> {
    let same = case.ways(poured).same;
    assert!(same.status == Status::Infeasible && same.way.is_none());
    let mut told: Vec<_> =
        same.conflict.into_iter().map(|it| (it.rule.to_string(), it.sentence, it.line.is_some())).collect();
    told.sort();
    told
}

#[test]
fn where_the_same_batch_is_impossible_the_reasons_are_named() {
    let with = |doses: &str| format!("{TARGET}[doses]\n{doses}\n");
    let told = |doses: &str, poured: &[(usize, f64)]| conflict(Case { brief: &with(doses), ..CASE }, poured);
    let line = |rule: &str, sentence: &str, has_line: bool| (rule.to_owned(), sentence.to_owned(), has_line);
    // That no less is added says nothing more where it is in the vessel already.
    assert_eq!(
        told("Indole = { max = 40 }", &[(INDOLE, 0.3)]),
        [
            line("dose:Indole.max", "Indole is at most 40 ‰", true),
            line("vessel:Indole", "0.3 g of Indole are in the vessel", false),
        ]
    );
    // A dose that is fixed below what is in the vessel, and one that is reached by it.
    assert_eq!(
        told("Indole = { fixed = 30 }", &[(INDOLE, 0.3)]),
        [
            line("dose:Indole.fixed", "Indole is exactly 30 ‰", true),
            line("vessel:Indole", "0.3 g of Indole are in the vessel", false),
        ]
    );
    let reached = format!("{TARGET}[doses]\nIndole = {{ fixed = 30 }}\n");
    let out = Case { brief: &reached, ..CASE }.ways(&[(INDOLE, 0.15), (LEAF, 0.2)]);
    assert_eq!(grams(&out.same.way.expect("a way"), INDOLE), 0.15);
    // 8 parts of leaf are 0.04 g.
    assert_eq!(
        told("Leaf = { use = \"must\", max = 8 }", &[(INDOLE, 0.3)]),
        [
            line("dose:Leaf.max", "Leaf is at most 8 ‰", true),
            line("dose:Leaf.must", "Leaf must be used", true),
            line("least:Leaf", "of Leaf nothing is added below 0.05 g, which this balance weighs well", false),
        ]
    );
    // 3.5 g of rose are asked for, and 3 are on hand.
    let scarce = with("Rose = { use = \"must\", min = 700 }");
    let scarce = Case { brief: &scarce, palette: ("stock = 5", "stock = 3"), ..CASE };
    assert_eq!(
        conflict(scarce, &[(INDOLE, 0.3)]),
        [
            line("dose:Rose.min", "Rose, if used, is dosed at 700 ‰ or more", true),
            line("dose:Rose.must", "Rose must be used", true),
            line("stock:Rose", "3 g of Rose are on hand", true),
        ]
    );
    // From the bottle that it came from.
    let bottle = ("price = 50", "price = 50\nbottle = { percent = 50 }");
    let half = with("Indole = { max = 40 }");
    let told = conflict(Case { brief: &half, palette: bottle, ..CASE }, &[(INDOLE, 0.6)]);
    assert_eq!(told[1].1, "0.6 g of Indole at 50 % are in the vessel");
    // 3 g of indole in 5 g cost 30 a kilo.
    let dear = format!("{TARGET}[budget]\nmax_price = 20\n");
    let dear = Case { brief: &dear, palette: ("scores = { green = 8 }", "scores = { green = 8 }\nprice = 30"), ..CASE };
    let told = conflict(dear, &[(INDOLE, 3.0)]);
    let said: Vec<&str> = told.iter().map(|it| it.1.as_str()).collect();
    assert_eq!(said, ["the cost is at most 20 EUR/kg", "3 g of Indole are in the vessel"]);
}
