//! One formula, one set of numbers: whichever command judges it, match, price,
//! strength, profile, odour shares and limits are the same to the last digit, and
//! the formula in every headline keeps every rule of its brief.

mod support;

use std::fmt::Write as _;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use support::page::{Server, of_kind};
use support::program::{Folder, permil};

const SEEDS: std::ops::Range<u64> = 0..6;

/// CAS numbers with the shipped kind of restriction on some of them.
const SUBSTANCES: [(&str, &str); 8] = [
    ("Phenylethyl alcohol", "60-12-8"),
    ("Geraniol", "106-24-1"),
    ("Citronellol", "106-22-9"),
    ("Linalool", "78-70-6"),
    ("Eugenol", "97-53-0"),
    ("beta-Ionone", "14901-07-6"),
    ("Citral", "5392-40-5"),
    ("Vanillin", "121-33-5"),
];

/// A scenario of made-up numbers: some bottles diluted, one finished product, a
/// budget, steps, a count, one natural with listed constituents.
fn scenario(seed: u64) -> Folder {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut palette = "[descriptors]\nrosy = \"\"\nfresh = \"\"\nspicy = \"\"\nsweet = \"\"\n".to_owned();
    for (at, (name, cas)) in SUBSTANCES.into_iter().enumerate() {
        let strength = [20.0, 40.0, 75.0, 110.0, 300.0, 900.0][random.random_range(0..6)];
        let mut scores = Vec::new();
        for descriptor in ["rosy", "fresh", "spicy", "sweet"] {
            if random.random_range(0..3) > 0 {
                scores.push(format!("{descriptor} = {}", random.random_range(1..9)));
            }
        }
        if scores.is_empty() {
            scores.push("rosy = 4".to_owned());
        }
        writeln!(
            palette,
            "[[material]]\nname = \"{name}\"\ncas = \"{cas}\"\nstrength = {strength}\nscores = {{ {} }}\nprice = {}",
            scores.join(", "),
            random.random_range(5..200)
        )
        .unwrap();
        if strength >= 300.0 {
            writeln!(palette, "step = 0.1\nbottle = {{ percent = 10, carrier = \"Dipropylene glycol\" }}").unwrap();
        }
        if at == 7 {
            writeln!(palette, "natural = true\nconstituents = {{ \"97-53-0\" = 2.5 }}").unwrap();
        }
    }
    let matching = if seed.is_multiple_of(2) { "balance" } else { "level" };
    let basis = if seed % 3 == 2 { "bottle" } else { "neat" };
    let target: Vec<String> = ["rosy", "fresh", "spicy", "sweet"]
        .map(|descriptor| format!("{descriptor} = {}", random.random_range(1..8)))
        .into();
    let brief = format!(
        "title = \"Seed {seed}\"\npalette = \"palette.toml\"\nlimits = \"limits.toml\"\nmatch = \"{matching}\"\n\
         [target]\n{}\n[formula]\nbasis = \"{basis}\"\nstep = 1\nmin_dose = 5\nmax_materials = 5\n\
         [budget]\nmax_price = 150\n[use]\ncategory = \"4\"\ndosage = 15\n",
        target.join("\n")
    );
    let limits = "[[restriction]]\nsubstance = \"Eugenol\"\ncas = \"97-53-0\"\nsource = \"made up\"\nlimits = { \"4\" = 2.5 }\n\
                  [[restriction]]\nsubstance = \"Geraniol\"\ncas = \"106-24-1\"\nsource = \"made up\"\nlimits = { \"4\" = 4.7 }\n"
        .replace("cas = \"97-53-0\"", "cas = [\"97-53-0\"]")
        .replace("cas = \"106-24-1\"", "cas = [\"106-24-1\"]");
    Folder::of(&[("palette.toml", &palette), ("brief.toml", &brief), ("limits.toml", &limits)])
}

/// The numbers of a formula that no command may tell otherwise.
const NUMBERS: [&str; 10] = [
    "formula",
    "fidelity",
    "loss",
    "price",
    "strength",
    "price_of_effect",
    "second_opinion",
    "profile",
    "shares",
    "limits",
];

/// Whether two answers are the same in all that both of them tell.
fn agree(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Object(a), Value::Object(b)) => {
            a.iter().all(|(key, value)| b.get(key).is_none_or(|other| agree(value, other)))
        }
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| agree(a, b)),
        _ => one == other,
    }
}

/// Compares what two commands say of one formula; a number that one of them does
/// not tell is no difference.
fn same(seed: u64, command: &str, told: &Value, judged: &Value) {
    for key in NUMBERS {
        if let (Some(a), Some(b)) = (told.get(key), judged.get(key)) {
            assert!(agree(a, b), "seed {seed}: {command} tells another {key}: {a} and {b}");
        }
    }
}

#[test]
fn every_command_tells_the_same_of_one_formula() {
    for seed in SEEDS {
        let folder = scenario(seed);
        let [brief, formula] = ["brief.toml", "mod.toml"].map(|name| folder.path(name));
        let run = |arguments: &[&str]| {
            let ran = permil(&[arguments, &["--format", "json", "-q"]].concat());
            assert!(ran.status <= 1, "seed {seed}: {arguments:?}: {}", ran.stderr);
            ran.json()
        };
        let proposed = run(&["propose", &brief, "--no-worth", "--save", &formula]);
        assert_eq!(proposed["status"], "optimal", "seed {seed}");
        let compared = run(&["compare", &brief, &formula]);
        same(seed, "compare", &compared["formulas"][0], &proposed);
        assert_eq!(compared["formulas"][0]["broken"], Value::Array(Vec::new()), "seed {seed}");

        let doubted = run(&["doubt", &brief, &formula]);
        assert_eq!(doubted["formulas"][0]["on_paper"], proposed["fidelity"], "seed {seed}: doubt");
        assert_eq!(doubted["formulas"][0]["formula"], proposed["formula"], "seed {seed}: doubt");
        let percentiles = &doubted["fidelity"];
        for (key, percentile) in [("low", "p5"), ("high", "p95")] {
            assert_eq!(compared["formulas"][0]["range"][key], proposed["range"][key], "seed {seed}: compare's {key}");
            assert_eq!(percentiles[percentile], proposed["range"][key], "seed {seed}: doubt's {percentile}");
        }

        let adjusted = run(&["adjust", &brief, &formula, "--more", "rosy", "--by", "0.1"]);
        same(seed, "adjust", &adjusted["before"], &proposed);

        let first = proposed["formula"]["parts"].as_object().unwrap().keys().next().unwrap().clone();
        let replaced = run(&["replace", &brief, &formula, "--out", &first]);
        let before = &replaced["before"];
        for key in ["formula", "price", "strength", "profile", "shares", "limits"] {
            assert!(agree(&before[key], &proposed[key]), "seed {seed}: replace tells another {key}");
        }
        assert_eq!(before["to_brief"]["fidelity"], proposed["fidelity"], "seed {seed}: replace");

        let weighed = run(&["weigh", &formula, "--batch", "50", "--balance", "0.0001", "--brief", &brief]);
        assert_eq!(weighed["rounding"]["fidelity_wanted"], proposed["fidelity"], "seed {seed}: weigh");
        assert_eq!(
            weighed["rounding"]["second_wanted"], proposed["second_opinion"]["fidelity"],
            "seed {seed}: weigh's second opinion"
        );
        assert_eq!(weighed["limits"], proposed["limits"], "seed {seed}: weigh's limits");

        let limits = folder.path("limits.toml");
        let product = run(&["product", &formula, "--limits", &limits, "--category", "4", "--dosage", "15"]);
        assert_eq!(product["formula"], proposed["formula"], "seed {seed}: product");
        assert_eq!(product["limits"], proposed["limits"], "seed {seed}: product's limits");
    }
}

#[test]
fn every_headline_is_a_formula_that_keeps_every_rule() {
    for seed in SEEDS {
        let folder = scenario(seed);
        let brief = folder.path("brief.toml");
        let run = |arguments: &[&str]| {
            let ran = permil(&[arguments, &["--format", "json", "-q"]].concat());
            assert!(ran.status <= 1, "seed {seed}: {arguments:?}: {}", ran.stderr);
            ran.json()
        };
        let strongest =
            run(&["propose", &brief, "--no-worth"])["formula"]["parts"].as_object().unwrap().keys().next().cloned();
        let strongest = strongest.unwrap();
        let mut told = Vec::new();
        for arguments in [
            &["propose", &brief][..],
            &["tradeoff", &brief],
            &["push", &brief, &strongest],
            &["leeway", &brief],
            &["starts", &brief, "-n", "3"],
        ] {
            formulas(&run(arguments), &mut told);
        }
        assert!(told.len() >= 8, "seed {seed}: {}", told.len());
        told.sort_by_key(Value::to_string);
        told.dedup();
        for (at, formula) in told.iter().enumerate() {
            let mut text = format!("palette = \"palette.toml\"\nbasis = {}\n[parts]\n", formula["basis"]);
            for (name, dose) in formula["parts"].as_object().unwrap() {
                writeln!(text, "\"{name}\" = {dose}").unwrap();
            }
            folder.write(&format!("told-{at}.toml"), &text);
        }
        let files: Vec<String> = (0..told.len()).map(|at| folder.path(&format!("told-{at}.toml"))).collect();
        let mut arguments = vec!["compare", &brief];
        arguments.extend(files.iter().map(String::as_str));
        for judged in run(&arguments)["formulas"].as_array().unwrap() {
            assert_eq!(judged["broken"], Value::Array(Vec::new()), "seed {seed}: {}", judged["formula"]);
        }
    }
}

/// Every formula that stands in a report, but for those that the report offers
/// with a rule changed, and those of the relaxation.
fn formulas(report: &Value, found: &mut Vec<Value>) {
    match report {
        Value::Object(fields) => {
            if let Some(formula) = fields.get("formula").filter(|formula| formula["parts"].is_object()) {
                found.push(formula.clone());
            }
            let offers = ["binding", "repairs", "upper_limit", "without"];
            for (_, value) in fields.iter().filter(|(key, _)| !offers.contains(&key.as_str())) {
                formulas(value, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| formulas(item, found)),
        _ => {}
    }
}

/// The numbers of every drawing in a page or a file, in the order in which they
/// are drawn.
fn drawings(text: &str) -> Vec<Vec<String>> {
    let drawings = text.split("<svg").skip(1).map(|rest| rest.split("</svg>").next().unwrap_or_default());
    let numbers = |drawing: &str| {
        let attributes = drawing.split(" data-").skip(1).filter_map(|rest| rest.split('>').next());
        attributes
            .map(|rest| rest.split(" data-").next().unwrap_or_default().trim_end_matches('/').to_owned())
            .collect()
    };
    drawings.map(numbers).filter(|numbers: &Vec<String>| !numbers.is_empty()).collect()
}

/// A brief that fixes a dose: what `push` sets aside is a note that none may leave
/// out.
fn fixed() -> Folder {
    let folder = Folder::copy_of("profiles/six-materials");
    let brief = folder.read("brief.toml").replace("[doses]\n", "[doses]\n\"Eugenol\" = { fixed = 30 }\n");
    assert!(brief.contains("fixed = 30"));
    folder.write("brief.toml", &brief);
    folder
}

#[test]
fn terminal_page_and_report_answer_alike() {
    let folder = fixed();
    let [brief, html, plot] = ["brief.toml", "report.html", "plot.svg"].map(|name| folder.path(name));
    // As long as the page may take.
    let patience = &["--time-limit", "300", "-q"];
    let run = |arguments: &[&str]| permil(&[arguments, &patience[..], &["--format", "json"]].concat()).ended(0).json();
    let drawn = |arguments: &[&str]| {
        permil(&[arguments, &["--plot", &plot], &patience[..]].concat()).ended(0);
        let [numbers] = &drawings(&folder.read("plot.svg"))[..] else { panic!("{arguments:?}: one drawing is wanted") };
        assert!(numbers.len() > 3, "{arguments:?}: {numbers:?}");
        numbers.clone()
    };
    permil(&[&["report", &brief, "--save", &html], &patience[..]].concat()).ended(0);
    let report = folder.read("report.html");
    let in_report = drawings(&report);
    let server = Server::of(&brief);
    let ask = |question: &str, material: &str| {
        let body = json!({"view": {"page": "b"}, "question": question, "material": material});
        let pieces = server.post("/ask", &body).pieces();
        let element = if question == "starts" { "starts" } else { "closer" };
        pieces[0]["html"][element].as_str().unwrap_or_else(|| panic!("{question}: {pieces:?}")).to_owned()
    };

    let proposed = run(&["propose", &brief]);
    assert_eq!(proposed["status"], "optimal");
    let solved = server.solve("a", &json!({}));
    let last = of_kind(&solved, "final")[0];
    for (name, dose) in proposed["formula"]["parts"].as_object().unwrap() {
        assert_eq!(last["doses"][name].as_str().unwrap().parse::<f64>().unwrap(), dose.as_f64().unwrap(), "{name}");
    }
    let fidelity = format!("{:.2} %", proposed["fidelity"].as_f64().unwrap());
    assert!(report.contains(&fidelity), "the report lacks {fidelity}");
    assert!(last["html"]["headline"].as_str().unwrap().contains(&fidelity[..5]), "{last}");

    // What holds the formula back, and what could go.
    let around = of_kind(&solved, "around");
    let worth = around.iter().find_map(|piece| piece["html"]["worth"].as_str()).unwrap();
    let binding = proposed["binding"].as_array().unwrap();
    assert!(!binding.is_empty());
    for line in binding.iter().take(3) {
        let then = format!("{:.2}", line["fidelity_then"].as_f64().unwrap());
        assert!(worth.contains(&then) && report.contains(&then), "{then}: {worth}");
    }

    // The note of what is set aside, and the numbers of the curve.
    let pushed = run(&["push", &brief, "Eugenol"]);
    let aside = pushed["let_in"].as_str().unwrap();
    assert!(aside.contains("fixes Eugenol at 30"), "{aside}");
    let on_page = ask("push", "Eugenol");
    assert!(on_page.contains(aside) && report.contains(aside), "{aside}: {on_page}");
    let numbers = drawn(&["push", &brief, "Eugenol"]);
    assert_eq!(drawings(&on_page), std::slice::from_ref(&numbers), "push on the page");
    assert!(in_report.contains(&numbers), "push in the report");

    let numbers = drawn(&["leeway", &brief]);
    assert_eq!(drawings(&ask("leeway", "")), std::slice::from_ref(&numbers), "leeway on the page");
    assert!(in_report.contains(&numbers), "leeway in the report");

    let starts = run(&["starts", &brief]);
    let on_page = ask("starts", "");
    for start in starts["formulas"].as_array().unwrap() {
        let fidelity = format!("{:.2}", start["fidelity"].as_f64().unwrap());
        let apart = start["apart"].as_str().unwrap();
        assert!(on_page.contains(&fidelity) && on_page.contains(apart), "{fidelity}, {apart}: {on_page}");
        assert!(report.contains(&fidelity) && report.contains(apart), "{fidelity}, {apart}");
    }
    assert!(in_report.contains(&drawn(&["starts", &brief])), "starts in the report");

    let fewer = drawn(&["tradeoff", &brief, "--formulas", "12"]);
    assert!(in_report.contains(&fewer), "trade-off in the report");
}
