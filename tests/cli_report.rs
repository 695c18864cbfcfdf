//! `permil report`: one page that needs nothing else.

mod support;

use std::collections::BTreeSet;

use support::program::{Folder, Ran, permil};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

/// The page of a brief, and how the program ended.
fn report(folder: &Folder, brief: &str, more: &[&str]) -> (Ran, String) {
    let page = folder.path("report.html");
    let ran = permil(&[&["report", brief, "--save", &page, "--force"], more].concat());
    let html = std::fs::read_to_string(&page).unwrap_or_default();
    (ran, html)
}

/// What any page has to be.
fn is_whole(html: &str) {
    assert!(html.starts_with("<!DOCTYPE html>") && html.trim_end().ends_with("</html>"));
    assert!(html.len() < 600_000, "{} bytes", html.len());
    assert!(html.contains("Content-Security-Policy") && html.contains("default-src 'none'"));
    // Nothing is fetched, and nothing runs.
    for part in ["<script", "<img", "<link", "src=\"", "url(http", "href=\"http", "@import"] {
        assert!(!html.contains(part), "{part}");
    }
    assert!(!html.replace("http://www.w3.org/2000/svg", "").contains("://"), "an address");
    let values = |attribute: &str| -> Vec<String> {
        let start = format!(" {attribute}=\"");
        html.split(&start).skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
    };
    let ids = values("id");
    let different: BTreeSet<&String> = ids.iter().collect();
    assert_eq!(different.len(), ids.len(), "an id stands twice: {ids:?}");
    for anchor in values("href") {
        assert!(different.contains(&anchor.trim_start_matches('#').to_owned()), "{anchor} leads nowhere");
    }
    let labels = values("aria-labelledby");
    for labelled in labels.iter().flat_map(|ids| ids.split(' ')) {
        assert!(different.contains(&labelled.to_owned()), "{labelled} is not there");
    }
    for word in ["compliant", "certified", "hypoallergenic", " safe ", " safe."] {
        assert!(!html.contains(word), "{word}");
    }
    assert!(html.contains("A starting point for smelling, not a safety assessment."));
}

#[test]
fn the_same_files_give_the_same_page() {
    let folder = Folder::of(&[("empty.txt", "")]);
    let (ran, first) = report(&folder, ROSE, &["--time-limit", "300", "--threads", "1"]);
    assert_eq!((ran.ended(0).stdout.as_str(), first.is_empty()), ("", false));
    let (ran, second) = report(&folder, ROSE, &["--time-limit", "300", "--threads", "2"]);
    ran.ended(0);
    assert_eq!(first, second);
    is_whole(&first);
    for heading in [
        "What is wanted",
        "The formula",
        "What each material brings",
        "What holds it back, and what could go",
        "Target and blend",
        "Target and blend in figures",
        "What money buys",
        "How far each dose may go",
        "How far the strongest materials can go",
        "Starting points to smell side by side",
        "Limits and label",
        "To weigh",
        "What is proven, and how sure it is",
        "Sources and files",
    ] {
        assert!(first.contains(&format!(">{heading}</h2>")), "{heading}");
    }
    // The formula is that of `propose`, and the files are those of the brief.
    let json = permil(&["propose", ROSE, "--no-worth", "--format", "json"]).ended(0).json();
    for (material, parts) in json["formula"]["parts"].as_object().unwrap() {
        let row = first
            .split("<tr>")
            .find(|row| row.contains(&format!("<th scope=\"row\">{material}")) && row.contains("class=\"cas\""));
        let row = row.unwrap_or_else(|| panic!("{material} is missing"));
        assert!(row.contains(&format!(">{parts}</td>")), "{material}: {parts} in {row}");
    }
    for file in ["brief.toml", "palette.toml", "limits.toml"] {
        assert!(first.contains(&format!("<th scope=\"row\">{file}</th>")), "{file}");
    }
    assert_eq!(first.matches("<figure>").count(), 7, "profile, money, leeway, three strong materials, starts");
}

#[test]
fn a_formula_of_ones_own() {
    let folder = Folder::of(&[("empty.txt", "")]);
    let own = "profiles/six-materials/formula.toml";
    let (ran, html) = report(&folder, SIX, &["--formula", own, "--batch", "2", "--balance", "0.01"]);
    ran.ended(0);
    is_whole(&html);
    assert!(html.contains("and keeps every rule; the best formula inside the rules reaches 98.23 % (proven)"));
    assert!(html.contains("NO LIMITS APPLIED") && html.contains("2 g of neat accord"));
    assert!(html.contains("<th scope=\"row\">formula.toml</th>"));
    let changed = Folder::copy_of("profiles/six-materials");
    changed.change("formula.toml", "\"Phenylethyl alcohol\" = 486", "\"Phenylethyl alcohol\" = 480");
    let (brief, formula) = (changed.path("brief.toml"), changed.path("formula.toml"));
    let (ran, html) = report(&changed, &brief, &["--formula", &formula]);
    assert!(ran.ended(1).stderr.contains("add up to 994, not 1000"));
    assert_eq!(html, "", "nothing is written");
    let (ran, html) = report(&changed, &brief, &["--formula", &formula, "--rescale"]);
    ran.ended(0);
    assert!(html.contains("It breaks these rules:"), "scaled parts lie on no grid");
}

#[test]
fn no_blend_can_meet_it() {
    let folder = Folder::copy_of("profiles/six-materials");
    let brief = folder.path("brief.toml");
    folder.change("brief.toml", "max_price = 19", "max_price = 1");
    let (ran, html) = report(&folder, &brief, &[]);
    assert!(ran.ended(1).stderr.contains("no blend can meet this brief (proven); the page says why"));
    is_whole(&html);
    for said in ["No blend can keep this rule:", "The cost is at most 1 EUR/kg", "Raise the budget from 1 to"] {
        assert!(html.contains(said), "{said}");
    }
    assert!(!html.contains("To weigh"));
}

#[test]
fn names_stay_names() {
    let folder = Folder::copy_of("profiles/six-materials");
    for file in ["palette.toml", "brief.toml"] {
        let text = folder.read(file).replace("Linalool", "<b onload=x>&'\\u001b[31m");
        folder.write(file, &text);
    }
    let (ran, html) = report(&folder, &folder.path("brief.toml"), &[]);
    ran.ended(0);
    assert!(!html.contains("<b onload") && !html.contains('\u{1b}') && html.contains("&lt;b onload=x&gt;"), "escaped");
}

/// What a page shows and tells, without its fonts and its style: text, tooltips,
/// descriptions and attributes.
fn told(html: &str) -> String {
    let mut told = String::new();
    for (at, piece) in html.split("<style>").enumerate() {
        told += if at == 0 { piece } else { piece.split_once("</style>").unwrap().1 };
    }
    told
}

/// The text alone, without tags and what is in them.
fn text(html: &str) -> String {
    told(html)
        .split('<')
        .map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text))
        .collect::<Vec<_>>()
        .join(" ")
}

/// The same without what names materials on every page or by law: the cautions at
/// large, and the names that must stand on the label of what is sold.
fn without_declared(html: &str) -> String {
    let mut rest = told(html);
    for caution in permil::results::cautions(&[]) {
        assert!(rest.contains(&caution.text), "{} is not told whole", caution.about);
        rest = rest.replace(&caution.text, "");
    }
    while let Some(at) = rest.find("<p>Names for the label") {
        let end = at + rest[at..].find("</p>").unwrap();
        rest.replace_range(at..end, "");
    }
    rest
}

fn numbers(text: &str) -> BTreeSet<String> {
    let pieces = text.split(|letter: char| !letter.is_ascii_digit() && letter != '.');
    pieces.map(|piece| piece.trim_matches('.').to_owned()).filter(|piece| !piece.is_empty()).collect()
}

/// The six materials with doses, prices and file names that are found nowhere else, a
/// material that burns in sunlight, limits and a label list.
fn secret() -> Folder {
    let folder = Folder::copy_of("profiles/six-materials");
    let palette =
        folder.read("palette.toml").replace("\"Linalool\"", "\"Bergamot heart\"").replace("78-70-6", "8007-75-8");
    let mut prices = ["10.37", "25.41", "30.73", "20.59", "25.87", "100.91", "5.63"].iter();
    let line = |line: &str| {
        if line.starts_with("price") { format!("price = {}", prices.next().unwrap()) } else { line.to_owned() }
    };
    folder.write("shelf-of-mine.toml", &palette.lines().map(line).collect::<Vec<_>>().join("\n"));
    folder.write(
        "limits-of-mine.toml",
        "[[restriction]]\nsubstance = \"Geraniol\"\ncas = [\"106-24-1\"]\nsource = \"A standard on Geraniol\"\nlimits = { \"4\" = 4.7 }\n\
         specification = \"free of iron\"\n\
         [[restriction]]\nsubstance = \"Eugenol\"\ncas = [\"97-53-0\"]\nsource = \"Another standard\"\nlimits = { \"4\" = 2.5 }\n\
         [[allergen]]\nname = \"Citronellol\"\ncas = [\"106-22-9\"]\nsource = \"A regulation\"\nlabel_above = { \"4\" = 0.001 }\n",
    );
    let brief =
        folder.read("brief.toml").replace("palette.toml", "shelf-of-mine.toml\"\nlimits = \"limits-of-mine.toml");
    let brief = brief.replace("max_price = 19", "max_price = 19.79");
    folder.write("brief-of-mine.toml", &format!("{brief}\n[use]\ncategory = [\"4\"]\ndosage = 5\n"));
    folder.write(
        "mod-of-mine.toml",
        "basis = \"neat\"\n[parts]\n\"Phenylethyl alcohol\" = 485.317\n\"Citronellol\" = 243.109\n\"Geraniol\" = 216.083\n\
         \"Bergamot heart\" = 40.211\n\"Eugenol\" = 10.157\n\"cis-3-Hexenol\" = 5.123\n",
    );
    folder
}

const MATERIALS: [&str; 7] = [
    "Phenylethyl alcohol",
    "Citronellol",
    "Geraniol",
    "Bergamot heart",
    "Eugenol",
    "cis-3-Hexenol",
    "Dipropylene glycol",
];
const FIGURES: [&str; 14] = [
    "485.317", "243.109", "216.083", "40.211", "10.157", "5.123", "10.37", "25.41", "30.73", "20.59", "25.87",
    "100.91", "5.63", "19.79",
];

/// Fails where a page tells of the formula, of money, of the shelf or of files.
#[track_caller]
fn is_for_a_client(html: &str, materials: &[&str], currency: &str) {
    let rest = without_declared(html);
    let small = rest.to_lowercase();
    for material in materials {
        assert!(!small.contains(&material.to_lowercase()), "{material} is told");
    }
    let words = ["sha-256", ".toml", "/tmp", "(line ", "certificate", "cost per", "price at"];
    for word in words {
        assert!(!small.contains(word), "{word}");
    }
    assert!(!rest.contains(currency), "{currency}");
    assert!(rest.split(" data-").skip(1).all(|data| data.starts_with("pad=\"")), "figures behind the drawing");
}

#[test]
fn a_client_sees_nothing_of_the_formula() {
    let folder = secret();
    let [brief, formula] = ["brief-of-mine.toml", "mod-of-mine.toml"].map(|name| folder.path(name));
    let (ran, own) = report(&folder, &brief, &["--formula", &formula, "--for", "self"]);
    ran.ended(0);
    let shown = numbers(&text(&own));
    for figure in FIGURES.iter().take(6) {
        assert!(shown.contains(*figure), "{figure} is on the perfumer's own page");
    }
    assert!(shown.contains("19.79") && MATERIALS.iter().take(6).all(|material| own.contains(material)));
    let (ran, html) = report(&folder, &brief, &["--formula", &formula, "--for", "client"]);
    assert_eq!(ran.ended(0).stdout, "");
    is_whole(&html);
    is_for_a_client(&html, &MATERIALS, "EUR");
    let shown = numbers(&text(&html));
    for figure in FIGURES {
        assert!(!shown.contains(figure), "{figure} is told");
    }
    let cas = ["60-12-8", "106-22-9", "106-24-1", "8007-75-8", "97-53-0", "928-96-1"];
    assert!(cas.iter().all(|number| !told(&html).contains(number)), "a CAS number is told");
    // What a client is told all the same.
    for said in [
        "breaks rules of the brief",
        "Names for the label of the finished product: Citronellol.",
        "All 2 limits that apply are kept.",
        "2 of 2 limits that apply are unverified (from memory).",
        "2 of 6 materials have a figure on file.",
        "This formula holds such a material.",
        "Another standard",
    ] {
        assert!(html.contains(said), "{said}");
    }
}

/// Every number of the formula that `propose` gives, on the page that a client gets.
#[test]
fn a_client_sees_the_rose_without_its_materials() {
    let folder = Folder::copy_of("profiles/rose-otto");
    folder.change("brief.toml", "title = \"Rose otto stand-in\"", "title = \"A rose\"");
    let brief = folder.path("brief.toml");
    let (ran, html) = report(&folder, &brief, &["--for", "client", "--time-limit", "300"]);
    ran.ended(0);
    is_whole(&html);
    let json = permil(&["propose", &brief, "--no-worth", "--format", "json"]).ended(0).json();
    let materials: Vec<&String> = json["formula"]["parts"].as_object().unwrap().keys().collect();
    assert!(materials.len() > 5);
    is_for_a_client(&html, &materials.iter().map(|name| name.as_str()).collect::<Vec<_>>(), "EUR");
    let fidelity = format!("matches {:.2} %", json["fidelity"].as_f64().unwrap());
    assert!(html.contains(&fidelity) && html.contains("(proven)"), "{fidelity}");
}

#[test]
fn a_client_is_not_told_which_rules_clash() {
    let folder = secret();
    folder.change("brief-of-mine.toml", "max_price = 19.79", "max_price = 1");
    let (ran, html) = report(&folder, &folder.path("brief-of-mine.toml"), &["--for", "client"]);
    ran.ended(1);
    is_whole(&html);
    is_for_a_client(&html, &MATERIALS, "EUR");
    assert!(html.contains("No blend can meet this brief (proven)."));
}

#[test]
fn verdict_formula_and_drawing_come_first() {
    let folder = Folder::of(&[("empty.txt", "")]);
    let (ran, html) = report(&folder, SIX, &[]);
    ran.ended(0);
    let (first, rest) = html.split_once("</header>").unwrap();
    for part in ["(proven)", "<table class=\"formula\">", "<svg", "cost per kg of accord", "href=\"#cautions\"", "<nav"]
    {
        assert!(first.contains(part), "{part} is not on the first page");
    }
    assert!(!rest.contains("<table class=\"formula\">"));
    let day = first.split_once("<time>").unwrap().1.split_once("</time>").unwrap().0;
    assert!(permil::trials::Date::parse(day).is_some(), "{day}");
    assert!(html.contains("header { break-after: page }") && html.contains("content: counter(page)"));
}

#[test]
fn what_may_not_be_written_is_refused_first() {
    let folder = Folder::copy_of("profiles/six-materials");
    let brief = folder.path("brief.toml");
    folder.write("old.html", "kept");
    for (save, said) in [
        ("old.html", "--force overwrites it"),
        ("report.pdf", "ends in .html"),
        ("nowhere/report.html", "nowhere"),
        ("palette.toml", "which the brief needs"),
    ] {
        let ran = permil(&["report", &brief, "--save", &folder.path(save)]).ended(2);
        assert!(ran.stderr.contains(said), "{save}: {}", ran.stderr);
    }
    assert_eq!(folder.read("old.html"), "kept");
    let ran = permil(&["report", &brief, "--save", &folder.path("r.html"), "--batch", "1", "--balance", "2"]).ended(2);
    assert!(ran.stderr.contains("cannot weigh a batch"), "{}", ran.stderr);
    let ran = permil(&["report", &brief]).ended(2);
    assert!(ran.stderr.contains("--save"), "{}", ran.stderr);
}

#[test]
fn help() {
    insta::assert_snapshot!("help", permil(&["report", "--help"]).ended(0).stdout);
}
