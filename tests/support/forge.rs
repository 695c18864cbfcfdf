//! Forged certificates: real ones, changed in every way that a line can be
//! changed, under claims that are false. Whoever checks them must refuse all.

use std::collections::BTreeSet;

use permil::certificate::{
    self, BoundOnD, CapMultipliers, Certificate, Claim, Entry, Multipliers, Remainder, Said, check,
};
use permil::control::Control;
use permil::formula::Formula;
use permil::model::{Blend, CapColumn};
use permil::problem::check::Checker;
use permil::problem::{Problem, Target};
use permil::solve::backend::Backend;
use permil::solve::certify::certify;
use permil::solve::{Method, Solution, propose};
use permil::units::Ppt;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

/// A rule that is passed by less than this part of its size is kept.
const EXACT: f64 = 1e-14;

/// A brief with a real certificate, and the loss of a formula that keeps its
/// rules: no claim above it is true.
pub struct Subject {
    pub blend: Blend,
    pub names: Vec<String>,
    pub certificate: Certificate,
    pub text: String,
    /// The loss of the best formula known; `None` where none is known.
    pub known: Option<f64>,
}

/// What became of a forgery.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It could not be read.
    Unreadable,
    /// It was read and refused.
    Refused,
    /// It passed, and what it claims may be true.
    Passed,
}

impl Subject {
    /// Solves and certifies; `None` where nothing was proven in the nodes
    /// allowed.
    pub fn of(problem: &Problem, nodes: u64) -> Option<Subject> {
        Subject::try_of(problem, nodes).expect("a certificate passes its own check")
    }

    /// The same. The error is why a certificate does not pass its own check.
    pub fn try_of(problem: &Problem, nodes: u64) -> Result<Option<Subject>, String> {
        let control = Control { node_limit: Some(nodes), ..Control::default() };
        let Ok(solution) = propose(problem, Method::Auto, &control) else { return Ok(None) };
        let Ok(text) = certify(problem, &solution, &control).map_err(|failure| failure.to_string())? else {
            return Ok(None);
        };
        let blend = Blend::new(problem);
        let names = certificate::column_names(&blend, &problem.palette);
        let certificate = certificate::read(&text).expect("it can be read");
        // One that passes a rule in its last digits is no formula to judge by.
        let checker = Checker::new(problem);
        let keeps = |formula: &Formula| checker.breaches(formula, EXACT).is_empty();
        let exact = |solution: Solution| {
            solution.answer.filter(|answer| keeps(&answer.formula)).map(|answer| answer.evaluation.loss)
        };
        let other = || propose(problem, Method::Borrowed(Backend::Microlp), &control).ok().and_then(exact);
        let known = exact(solution).or_else(other);
        Ok(Some(Subject { blend, names, certificate, text, known }))
    }

    pub fn passes(&self, certificate: &Certificate) -> bool {
        check(certificate, &self.blend, &self.names).is_ok()
    }

    /// Whether a claim is false of the formula that is known.
    pub fn is_false(&self, claim: Claim) -> bool {
        self.known.is_some_and(|known| match claim {
            Claim::None => true,
            Claim::NoneBelow(loss) => loss > known + 1e-9 * known.max(1.0),
        })
    }

    /// One forgery, as a certificate or as text. The error is the certificate
    /// that passed and must not.
    pub fn forge(&self, random: &mut ChaCha8Rng) -> Result<Fate, String> {
        let mut forged = self.certificate.clone();
        if random.random_bool(0.8) {
            forged.claim = self.lie(random);
        }
        if random.random_bool(0.7) {
            for _ in 0..random.random_range(0..4) {
                self.change(random, &mut forged);
            }
            return self.judge(&forged);
        }
        let mut text = certificate::write(&forged);
        for _ in 0..random.random_range(1..4) {
            text = changed_text(random, &text);
        }
        match certificate::read(&text) {
            Ok(read) => self.judge(&read),
            Err(_) => Ok(Fate::Unreadable),
        }
    }

    fn judge(&self, forged: &Certificate) -> Result<Fate, String> {
        match self.passes(forged) {
            false => Ok(Fate::Refused),
            true if self.is_false(forged.claim) => Err(certificate::write(forged)),
            true => Ok(Fate::Passed),
        }
    }

    /// A claim that is false of the formula that is known, by a little or by
    /// much.
    pub fn lie(&self, random: &mut ChaCha8Rng) -> Claim {
        let Some(known) = self.known else { return self.certificate.claim };
        match random.random_range(0..5) {
            0 => Claim::None,
            1 => Claim::NoneBelow(1e6),
            2 => Claim::NoneBelow(known + 3.0),
            3 => Claim::NoneBelow(known + 0.02 * known.max(1.0)),
            _ => Claim::NoneBelow(known + 2e-6 * known.max(1.0)),
        }
    }

    fn change(&self, random: &mut ChaCha8Rng, forged: &mut Certificate) {
        match random.random_range(0..10) {
            0 => self.change_remainders(random, forged),
            1 => self.change_bounds(random, forged),
            2 => self.add_entry(random, forged),
            3 => {
                // Lines gone, twice, or exchanged.
                let n = forged.entries.len();
                if n == 0 {
                    return;
                }
                let at = random.random_range(0..n);
                match random.random_range(0..4) {
                    0 => drop(forged.entries.remove(at)),
                    1 => forged.entries.insert(at, forged.entries[random.random_range(0..n)].clone()),
                    2 => forged.entries.swap(at, random.random_range(0..n)),
                    _ => forged.entries.truncate(at),
                }
            }
            _ => {
                let n = forged.entries.len();
                if n > 0 {
                    let at = random.random_range(0..n);
                    let mut entry = forged.entries[at].clone();
                    self.change_entry(random, &mut entry);
                    forged.entries[at] = entry;
                }
            }
        }
    }

    fn change_remainders(&self, random: &mut ChaCha8Rng, forged: &mut Certificate) {
        let columns = self.blend.columns.len();
        if forged.remainders.is_empty() || random.random_bool(0.3) {
            let all: Vec<usize> = (0..columns).collect();
            let step = dose(random, Ppt::from_ppt(50.0));
            forged.remainders.push(Remainder { step, columns: all });
        }
        let at = random.random_range(0..forged.remainders.len());
        let remainder = &mut forged.remainders[at];
        match random.random_range(0..5) {
            0 => remainder.columns.extend(remainder.columns.clone()),
            1 => {
                let again = remainder.columns[random.random_range(0..remainder.columns.len())];
                remainder.columns.push(again);
                remainder.columns.sort_unstable();
            }
            2 => drop(remainder.columns.remove(random.random_range(0..remainder.columns.len()))),
            3 => remainder.columns.push(random.random_range(0..columns + 2)),
            _ => remainder.step = dose(random, remainder.step),
        }
        if remainder.columns.is_empty() {
            remainder.columns.push(0);
        }
        if random.random_bool(0.5) {
            let by = self.multipliers(random, forged);
            forged.entries = vec![Entry::Closed(by)];
        }
    }

    fn change_bounds(&self, random: &mut ChaCha8Rng, forged: &mut Certificate) {
        let place = random.random_range(0..2);
        let by = self.multipliers(random, forged);
        match &mut forged.d[place] {
            Some(bound) if random.random_bool(0.7) => match random.random_range(0..3) {
                0 => bound.at = number(random, bound.at),
                1 => change_multipliers(random, &mut bound.by),
                _ => bound.at *= if place == 0 { 1.0 + 1e-9 } else { 1.0 - 1e-9 },
            },
            Some(_) if random.random_bool(0.5) => forged.d[place] = None,
            other => *other = Some(BoundOnD { at: number(random, 1.0), by: Multipliers { objective: 0.0, ..by } }),
        }
        if random.random_bool(0.3) {
            forged.entries = vec![Entry::Empty];
        }
    }

    /// Multipliers made up.
    fn multipliers(&self, random: &mut ChaCha8Rng, forged: &Certificate) -> Multipliers {
        let mut list = |length: usize| -> Vec<(usize, f64)> {
            let mut all = Vec::new();
            for index in 0..length {
                if random.random_bool(0.4) {
                    all.push((index, number(random, 1.0)));
                }
            }
            all
        };
        let (targets, rules) = (list(self.blend.targets.len()), list(self.blend.rows.len()));
        let (counts, remainders) = (list(self.blend.counts.len()), list(forged.remainders.len()));
        let rungs = list(3);
        let blend = certificate::claimed(forged.claim, &self.blend);
        let of_caps = blend.caps.iter().map(|cap| list(cap.targets.len())).collect::<Vec<_>>();
        let mut caps = Vec::new();
        for (cap, targets) in of_caps.into_iter().enumerate() {
            if random.random_bool(0.6) {
                caps.push(CapMultipliers { cap, most: number(random, 1.0), targets });
            }
        }
        let (sum, d) = (number(random, 1.0), if random.random_bool(0.5) { 0.0 } else { number(random, 1.0) });
        let objective = f64::from(random.random_range(0..2u8));
        let rungs = if random.random_bool(0.5) { Vec::new() } else { rungs };
        Multipliers { objective, sum, d, targets, rules, counts, remainders, rungs, caps }
    }

    fn add_entry(&self, random: &mut ChaCha8Rng, forged: &mut Certificate) {
        let columns = self.blend.columns.len();
        let k = random.random_range(0..columns);
        let grid = self.blend.columns[k].step.max(Ppt::from_units(1));
        let at = random.random_range(0..=forged.entries.len());
        let entry = match random.random_range(0..9) {
            0 => Entry::Empty,
            1 => Entry::Closed(self.multipliers(random, forged)),
            2 => Entry::OnGrid(vec![(k, said(random, grid))]),
            3 => Entry::Narrowed(self.multipliers(random, forged), vec![(k, said(random, grid))]),
            4 => Entry::Split(k, said(random, grid), said(random, grid)),
            5 => Entry::SplitD(number(random, 10.0)),
            6 => Entry::SplitLadder(random.random_range(0..4)),
            7 => Entry::SplitRemainder(random.random_range(0..2), dose(random, grid), dose(random, grid)),
            _ => match forged.entries.get(at) {
                Some(Entry::Narrowed(by, _) | Entry::Closed(by)) => {
                    Entry::Narrowed(by.clone(), vec![(k, said(random, grid))])
                }
                _ => Entry::Narrowed(Multipliers::default(), vec![(k, said(random, grid))]),
            },
        };
        forged.entries.insert(at, entry);
        // Parts that are new call themselves empty.
        if random.random_bool(0.5) {
            forged.entries.insert(at + 1, Entry::Empty);
        }
    }

    fn change_entry(&self, random: &mut ChaCha8Rng, entry: &mut Entry) {
        let columns = self.blend.columns.len();
        let changes = |random: &mut ChaCha8Rng, all: &mut Vec<(usize, Said)>| {
            let at = random.random_range(0..all.len());
            let grid = self.blend.columns[all[at].0.min(columns - 1)].step.max(Ppt::from_units(1));
            match random.random_range(0..4) {
                0 => all[at].0 = random.random_range(0..columns + 1),
                1 => all.push((random.random_range(0..columns), said(random, grid))),
                2 => all[at].1 = said(random, grid),
                _ => all[at].1 = changed_said(random, all[at].1, grid),
            }
        };
        match entry {
            Entry::Closed(by) => match random.random_range(0..6) {
                0 => *entry = Entry::Empty,
                _ => change_multipliers(random, by),
            },
            Entry::Narrowed(by, all) => match random.random_bool(0.5) {
                true => change_multipliers(random, by),
                false => changes(random, all),
            },
            Entry::OnGrid(all) => changes(random, all),
            Entry::Empty => *entry = Entry::Closed(Multipliers::default()),
            Entry::Split(k, less, more) => {
                let grid = self.blend.columns[(*k).min(columns - 1)].step.max(Ppt::from_units(1));
                match random.random_range(0..4) {
                    0 => *k = random.random_range(0..columns + 1),
                    1 => *less = changed_said(random, *less, grid),
                    2 => *more = changed_said(random, *more, grid),
                    _ => (*less, *more) = (*more, *less),
                }
            }
            Entry::SplitRemainder(index, most, least) => match random.random_range(0..3) {
                0 => *index += 1,
                1 => *most = dose(random, *most),
                _ => *least = dose(random, *least),
            },
            Entry::SplitD(at) => *at = number(random, *at),
            Entry::SplitLadder(at) => {
                *at = if random.random_bool(0.5) { *at + 1 } else { random.random_range(0..5) };
            }
        }
    }
}

/// A number near another, or one that arithmetic stumbles over.
fn number(random: &mut ChaCha8Rng, near: f64) -> f64 {
    const ODD: [f64; 18] = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        2.0,
        1e-60,
        1e60,
        -1e60,
        1e-61,
        1e61,
        1e300,
        -1e300,
        1.7e308,
        -1.7e308,
        5e-324,
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
    ];
    match random.random_range(0..6) {
        0 => ODD[random.random_range(0..ODD.len())],
        1 => -near,
        2 => near * 10f64.powi(random.random_range(-20..20)),
        3 => near * random.random_range(0.0..2.0),
        4 => near.next_up(),
        _ => near + random.random_range(-1e-6..1e-6),
    }
}

fn change_multipliers(random: &mut ChaCha8Rng, by: &mut Multipliers) {
    match random.random_range(0..12) {
        9.. if by.caps.is_empty() => {
            let targets = vec![(random.random_range(0..3), number(random, 1.0))];
            by.caps.push(CapMultipliers { cap: random.random_range(0..2), most: number(random, 1.0), targets });
        }
        9 => {
            let at = random.random_range(0..by.caps.len());
            match random.random_range(0..4) {
                0 => by.caps[at].cap += 1,
                1 => by.caps.insert(at, by.caps[at].clone()),
                2 => drop(by.caps.remove(at)),
                _ => by.caps[at].most = number(random, by.caps[at].most),
            }
        }
        10.. => {
            let at = random.random_range(0..by.caps.len());
            change_list(random, &mut by.caps[at].targets);
        }
        0 => by.objective = 1.0 - by.objective,
        1 => by.sum = number(random, by.sum),
        2 => by.d = number(random, by.d),
        3 => by.objective = number(random, by.objective),
        which => {
            let list = match which {
                4 => &mut by.targets,
                5 => &mut by.rules,
                6 => &mut by.counts,
                7 => &mut by.rungs,
                _ => &mut by.remainders,
            };
            change_list(random, list);
        }
    }
}

fn change_list(random: &mut ChaCha8Rng, list: &mut Vec<(usize, f64)>) {
    if list.is_empty() {
        list.push((random.random_range(0..3), number(random, 1.0)));
        return;
    }
    let at = random.random_range(0..list.len());
    match random.random_range(0..5) {
        0 => list[at].0 = random.random_range(0..list.len() + 2),
        1 => list.insert(at, list[at]),
        2 => drop(list.remove(at)),
        _ => list[at].1 = number(random, list[at].1),
    }
}

fn dose(random: &mut ChaCha8Rng, near: Ppt) -> Ppt {
    let units = near.units();
    Ppt::from_units(match random.random_range(0..8) {
        0 => 0,
        1 => Ppt::WHOLE.units(),
        2 => units + 1,
        3 => units - 1,
        4 => 2 * units,
        5 => -units,
        6 => random.random_range(0..=Ppt::WHOLE.units()),
        _ => Ppt::from_ppt(f64::from(random.random_range(0..=20u8)) * 50.0).units(),
    })
}

fn said(random: &mut ChaCha8Rng, grid: Ppt) -> Said {
    let at = match random.random_bool(0.6) {
        true => Ppt::from_units(random.random_range(0..=Ppt::WHOLE.units())).floor_to(grid),
        false => dose(random, grid),
    };
    match random.random_range(0..4) {
        0 => Said::Out,
        1 => Said::In(at),
        2 => Said::AtLeast(at),
        _ => Said::AtMost(at),
    }
}

/// Something else said of the same dose, or the same of another.
fn changed_said(random: &mut ChaCha8Rng, before: Said, grid: Ppt) -> Said {
    let by = if random.random_bool(0.5) { grid } else { Ppt::from_units(1) };
    let by = if random.random_bool(0.5) { by } else { -by };
    match before {
        Said::Out => said(random, grid),
        Said::In(at) if random.random_bool(0.7) => Said::In(at + by),
        Said::AtLeast(at) if random.random_bool(0.7) => Said::AtLeast(at + by),
        Said::AtMost(at) if random.random_bool(0.7) => Said::AtMost(at + by),
        Said::In(at) => Said::AtLeast(at),
        Said::AtLeast(at) => Said::In(at),
        Said::AtMost(at) => Said::AtLeast(at),
    }
}

/// A text with a few signs, a word or a line changed.
pub fn changed_text(random: &mut ChaCha8Rng, text: &str) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    if lines.is_empty() {
        return text.to_owned();
    }
    let at = random.random_range(0..lines.len());
    match random.random_range(0..8) {
        0 => drop(lines.remove(at)),
        1 => lines.insert(at, lines[random.random_range(0..lines.len())].clone()),
        2 => {
            let other = random.random_range(0..lines.len());
            lines.swap(at, other);
        }
        3 => {
            lines.push(["empty", "closed 1", "", "split 0 : out, in>=0", "tree"][random.random_range(0..5)].to_owned())
        }
        4 => {
            // A word of this line again, or gone.
            let mut words: Vec<&str> = lines[at].split(' ').collect();
            let word = random.random_range(0..words.len());
            match random.random_bool(0.5) {
                true => words.insert(word, words[word]),
                false => drop(words.remove(word)),
            }
            lines[at] = words.join(" ");
        }
        5 => {
            // A number of this line exchanged.
            let odd = ["0", "-0", "1e60", "1e308", "nan", "inf", "-1", "1e-60", "007", "+1", "99999999999999999999"];
            let mut words: Vec<String> = lines[at].split(' ').map(str::to_owned).collect();
            let word = random.random_range(0..words.len());
            let key = words[word].split_once('=').map_or(String::new(), |(key, _)| format!("{key}="));
            words[word] = format!("{key}{}", odd[random.random_range(0..odd.len())]);
            lines[at] = words.join(" ");
        }
        _ => {
            let mut signs: Vec<char> = lines[at].chars().collect();
            let own = ['0', '1', '2', '5', '9', '-', '.', 'e', '=', ' ', ':', ',', 'o', '\r', 'é', '>', '<'];
            let sign = own[random.random_range(0..own.len())];
            let place = random.random_range(0..=signs.len());
            match random.random_range(0..3) {
                0 if place < signs.len() => signs[place] = sign,
                1 if place < signs.len() => drop(signs.remove(place)),
                _ => signs.insert(place, sign),
            }
            lines[at] = signs.into_iter().collect();
        }
    }
    lines.join("\n") + "\n"
}

/// The kinds of lines and of multipliers that a certificate has.
pub fn kinds(certificate: &Certificate) -> BTreeSet<&'static str> {
    let mut kinds = BTreeSet::new();
    if !certificate.remainders.is_empty() {
        kinds.insert("remainder");
    }
    for (bound, name) in certificate.d.iter().zip(["d least", "d most"]) {
        if bound.is_some() {
            kinds.insert(name);
        }
    }
    for entry in &certificate.entries {
        kinds.insert(match entry {
            Entry::Closed(by) if by.objective == 0.0 => "closed 0",
            Entry::Closed(_) => "closed 1",
            Entry::Narrowed(..) => "narrowed",
            Entry::OnGrid(_) => "on-grid",
            Entry::Empty => "empty",
            Entry::Split(..) => "split",
            Entry::SplitRemainder(..) => "split-remainder",
            Entry::SplitD(_) => "split-d",
            Entry::SplitLadder(_) => "split-ladder",
        });
        if let Entry::Closed(by) | Entry::Narrowed(by, _) = entry {
            let lists =
                [(&by.targets, "t="), (&by.rules, "r="), (&by.counts, "c="), (&by.remainders, "m="), (&by.rungs, "l=")];
            kinds.extend(lists.into_iter().filter(|(list, _)| !list.is_empty()).map(|(_, name)| name));
            if by.d != 0.0 {
                kinds.insert("d=");
            }
            if !by.caps.is_empty() {
                kinds.insert("k=");
            }
            if by.caps.iter().any(|of| !of.targets.is_empty()) {
                kinds.insert("k.=");
            }
        }
    }
    kinds
}

/// A model as profiles/CERTIFICATE.md names its parts.
pub fn model_json(blend: &Blend) -> Value {
    let columns = blend.columns.iter().map(|column| {
        json!({
            "q": column.weight,
            "odours": column.odours,
            "least": column.least.units(),
            "most": column.most.units(),
            "step": column.step.units(),
            "must": column.must,
        })
    });
    let targets = blend.targets.iter();
    let targets =
        targets.map(|target| json!({"score": target.score, "weight": target.weight, "excess": target.excess}));
    let rows = blend.rows.iter().map(|row| {
        json!({
            "entries": row.coefficients,
            "upper": row.upper,
            "cancelled": row.cancelled,
            "upper_cancelled": row.upper_cancelled,
        })
    });
    let counts = blend.counts.iter().map(|count| json!({"columns": count.columns, "most": count.most}));
    let ladder = blend.ladder.as_ref().map(|ladder| {
        let steps = ladder.steps.iter().map(|step| json!({"strength": step.strength, "entries": step.weight}));
        json!({"most": ladder.most, "strength": ladder.strength, "steps": steps.collect::<Vec<_>>()})
    });
    let ratio = |targets: &[Target], columns: &[CapColumn]| {
        let targets = targets.iter();
        let targets =
            targets.map(|target| json!({"score": target.score, "weight": target.weight, "excess": target.excess}));
        let columns = columns.iter().map(|column| json!({"q": column.weight, "odours": column.odours}));
        json!({"targets": targets.collect::<Vec<_>>(), "columns": columns.collect::<Vec<_>>()})
    };
    let caps = blend.caps.iter().map(|cap| {
        let mut json = ratio(&cap.targets, &cap.columns);
        json["most"] = json!(cap.most);
        json
    });
    let views = blend.views.iter().map(|view| ratio(&view.targets, &view.columns));
    json!({
        "ladder": ladder,
        "columns": columns.collect::<Vec<_>>(),
        "targets": targets.collect::<Vec<_>>(),
        "rows": rows.collect::<Vec<_>>(),
        "counts": counts.collect::<Vec<_>>(),
        "caps": caps.collect::<Vec<_>>(),
        "views": views.collect::<Vec<_>>(),
        "contradiction": blend.contradiction.is_some(),
    })
}

impl Subject {
    /// A forgery as text.
    pub fn forged_text(&self, random: &mut ChaCha8Rng) -> String {
        let mut forged = self.certificate.clone();
        if random.random_bool(0.5) {
            forged.claim = self.lie(random);
        }
        for _ in 0..random.random_range(1..3) {
            self.change(random, &mut forged);
        }
        certificate::write(&forged)
    }
}
