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
        "What holds it back, and what could go",
        "Target and blend",
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
            .find(|row| row.contains(&format!("<th scope=\"row\">{material}")) && row.contains("white-space"));
        let row = row.unwrap_or_else(|| panic!("{material} is missing"));
        assert!(row.contains(&format!("<td class=\"n\">{parts}</td>")), "{material}: {parts} in {row}");
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
    assert!(
        html.contains("it matches 89.87 % and keeps every rule; the best formula inside the rules reaches 98.23 %")
    );
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
    for said in ["No blend can keep this rule:", "The price is at most 1 EUR/kg", "Raise the budget from 1 to"] {
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
