//! Every chart, read back from its SVG: what is drawn is what the report
//! says, no text leaves the sheet or lies on another, and no name breaks out.

mod support;

use permil::chart::kit::font::{Weight, width};
use permil::chart::shelf_map::ShelfMap;
use permil::chart::tradeoff::Against;
use permil::chart::{self, Chart};
use roxmltree::{Document, Node};
use support::charts::{CASES, Case};
use support::program::{Folder, permil};

/// The groups of a class, in the order they are drawn.
fn groups<'a>(svg: &'a Document, class: &'a str) -> Vec<Node<'a, 'a>> {
    let is_it = |node: &Node| node.attribute("class").is_some_and(|words| words.split(' ').any(|word| word == class));
    svg.descendants().filter(is_it).collect()
}

/// A number that a group carries.
#[track_caller]
fn number(group: &Node, key: &str) -> f64 {
    let text = group.attribute(format!("data-{key}").as_str()).unwrap_or_else(|| panic!("no data-{key}"));
    text.parse().unwrap_or_else(|_| panic!("data-{key} is {text}"))
}

fn word<'a>(group: &'a Node, key: &str) -> &'a str {
    group.attribute(format!("data-{key}").as_str()).unwrap_or_default()
}

/// The texts on the sheet, in the order they are drawn.
fn texts(svg: &Document) -> Vec<String> {
    let texts = svg.descendants().filter(|node| node.has_tag_name("text"));
    texts.map(|node| node.text().unwrap_or_default().to_owned()).collect()
}

fn title(svg: &Document) -> String {
    let title = svg.root_element().children().find(|node| node.has_tag_name("title"));
    title.and_then(|node| node.text()).unwrap_or_default().to_owned()
}

/// What a text says, and left, top, right and bottom of where it stands.
type Placed = (String, [f64; 4]);

/// Where the texts stand that are not turned.
fn placed(svg: &Document) -> Vec<Placed> {
    let upright = |node: &Node| node.has_tag_name("text") && node.attribute("transform").is_none();
    let place = |node: Node| {
        let number = |key: &str| node.attribute(key).unwrap().parse::<f64>().unwrap();
        let weight = if node.attribute("font-weight").is_some() { Weight::Semibold } else { Weight::Regular };
        let (text, size) = (node.text().unwrap_or_default(), number("font-size"));
        let wide = width(text, size, weight);
        let left = match node.attribute("text-anchor") {
            Some("middle") => number("x") - wide / 2.0,
            Some("end") => number("x") - wide,
            _ => number("x"),
        };
        // From the height of capitals to the baseline.
        (text.to_owned(), [left, number("y") - 0.72 * size, left + wide, number("y")])
    };
    svg.descendants().filter(upright).map(place).collect()
}

fn each(mut visit: impl FnMut(&str, &str, &Document)) {
    for case in CASES {
        case.each(|name, chart| {
            let svg = chart::svg(chart);
            let name = format!("{name}, {case:?}");
            let document = Document::parse(&svg).unwrap_or_else(|error| panic!("{name}: {error}"));
            visit(&name, &svg, &document);
        });
    }
}

#[test]
fn every_chart_is_sound_xml_that_speaks_and_fetches_nothing() {
    let mut drawn = 0;
    each(|name, svg, document| {
        let root = document.root_element();
        assert_eq!(root.attribute("role"), Some("img"), "{name}");
        let labels: Vec<&str> = root.attribute("aria-labelledby").unwrap().split(' ').collect();
        for label in labels {
            let spoken = document.descendants().find(|node| node.attribute("id") == Some(label));
            assert!(spoken.and_then(|node| node.text()).is_some_and(|text| text.len() > 5), "{name}: {label}");
        }
        for node in document.descendants() {
            assert!(!node.has_tag_name("script") && !node.has_tag_name("image"), "{name}");
            let fetches = |value: &str| value.contains("http:") || value.contains("https:");
            assert!(!node.attributes().any(|attribute| fetches(attribute.value())), "{name}");
        }
        assert!(svg.contains("@font-face") && !svg.contains("NaN") && !svg.contains("inf"), "{name}");
        assert!(!svg.chars().any(|c| c != '\n' && permil::escape::steers(c)), "{name}");
        assert!(!texts(document).iter().any(|text| text.contains("-0") || text == "−0" || text == "0.00"), "{name}");
        drawn += 1;
    });
    assert_eq!(drawn, 104);
}

#[test]
fn no_text_leaves_the_sheet() {
    each(|name, _, document| {
        let height: f64 = document.root_element().attribute("height").unwrap().parse().unwrap();
        for (text, [left, top, right, bottom]) in placed(document) {
            assert!(left >= 8.0 && right <= 960.0 - 8.0, "{name}: {text} from {left:.0} to {right:.0}");
            assert!(top >= 8.0 && bottom <= height - 8.0, "{name}: {text} from {top:.0} to {bottom:.0} of {height}");
        }
    });
}

#[test]
fn no_text_lies_on_another() {
    each(|name, _, document| {
        let all = placed(document);
        assert!(all.len() > 10, "{name}: only {} texts were found", all.len());
        for (at, (text, one)) in all.iter().enumerate() {
            for (other, two) in &all[..at] {
                let across = one[2].min(two[2]) - one[0].max(two[0]);
                let down = one[3].min(two[3]) - one[1].max(two[1]);
                assert!(across <= 0.5 || down <= 0.5, "{name}: {text:?} lies on {other:?}, by {across:.1} x {down:.1}");
            }
        }
    });
}

#[test]
fn pictures_have_twice_the_size_of_the_drawing() {
    Case::Ordinary.each(|name, chart| {
        let svg = chart::svg(chart);
        let document = Document::parse(&svg).unwrap();
        let of = |key: &str| document.root_element().attribute(key).unwrap().parse::<f64>().unwrap();
        let png = chart::png(chart).unwrap();
        assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n", "{name}");
        let number = |at: usize| f64::from(u32::from_be_bytes(png[at..at + 4].try_into().unwrap()));
        assert_eq!((number(16), number(20)), (2.0 * of("width"), 2.0 * of("height")), "{name}");
    });
}

#[test]
fn a_chart_is_the_same_every_time_and_inline_without_fonts() {
    Case::Ordinary.each(|name, chart| {
        assert_eq!(chart::svg(chart), chart::svg(chart), "{name}");
        let inline = chart::svg_inline(chart);
        assert!(inline.len() + 60_000 < chart::svg(chart).len() && !inline.contains("@font-face"), "{name}");
    });
}

fn drawn(chart: &dyn Chart) -> String {
    chart::svg_inline(chart)
}

#[test]
fn a_tradeoff_draws_its_points_formulas_and_materials() {
    let chart = Case::Ordinary.tradeoff(None);
    let svg = drawn(&chart);
    let svg = Document::parse(&svg).unwrap();
    let pairs = |class: &str| -> Vec<(f64, f64)> {
        groups(&svg, class).iter().map(|group| (number(group, "at"), number(group, "fidelity"))).collect()
    };
    let points: Vec<(f64, f64)> = chart.points.iter().map(|point| (point.at, point.fidelity_percent)).collect();
    assert_eq!(pairs("point"), points);
    let curves = groups(&svg, "curve");
    let series: Vec<&str> = curves.iter().map(|curve| word(curve, "series")).collect();
    assert_eq!(series, ["upper limit", "formulas"]);
    assert_eq!(groups(&svg, "unproven").len(), 1);
    assert_eq!(number(&groups(&svg, "own")[0], "at"), 30.0);
    assert_eq!(number(&groups(&svg, "knee")[0], "at"), 22.0);
    assert_eq!(title(&svg), "30 EUR/kg buys 90.1 %; a further point costs at most 4.50 EUR/kg");
    // The fate of a material beyond the user's limit, from its doses alone.
    let ribbons = groups(&svg, "ribbon");
    for ribbon in &ribbons {
        let material = chart.materials.iter().position(|name| name == word(ribbon, "material")).unwrap();
        let doses: Vec<f64> = chart.points.iter().map(|point| point.doses_ppt[material]).collect();
        let most = doses.iter().copied().fold(0.0, f64::max);
        assert_eq!(number(ribbon, "most"), most);
        let own = chart.points.iter().rposition(|point| point.at <= 30.0).unwrap();
        match word(ribbon, "fate") {
            "stays" => assert!(doses[own] > 0.0 && doses[59] > 0.0),
            "drops out" => assert!(doses[own] > 0.0 && doses[59] < 0.02 * most),
            // A step that ends at the last limit reaches to it.
            "enters" => assert!(doses[own] < 0.02 * most && doses[58].max(doses[59]) > 0.0),
            other => assert!(other == "elsewhere only" && doses[59] < 0.02 * most),
        }
    }
    let used = (0..12).filter(|&m| chart.points.iter().filter(|point| point.doses_ppt[m] > 0.0).count() > 3).count();
    assert_eq!(ribbons.len(), used);
}

#[test]
fn a_tradeoff_by_count_draws_whole_numbers() {
    let svg = drawn(&Case::Ordinary.tradeoff(Some(Against::Count)));
    let svg = Document::parse(&svg).unwrap();
    assert_eq!(groups(&svg, "point").len(), 12);
    let all = texts(&svg);
    assert!((1..=12).all(|count| all.contains(&count.to_string())), "{all:?}");
    assert!(title(&svg).starts_with("9 materials reach 93."), "{}", title(&svg));
}

#[test]
fn a_push_draws_both_opinions_every_cap_and_the_window() {
    let mut chart = Case::Ordinary.push();
    let text = drawn(&chart);
    let svg = Document::parse(&text).unwrap();
    assert_eq!(title(&svg), "Beta-Damascenone adds 5.0 points at 0.9 ‰; capped at 1.3 ‰ by own cap");
    let points = groups(&svg, "point");
    assert_eq!(points.len(), 60);
    for (group, point) in points.iter().zip(&chart.points) {
        assert_eq!(number(group, "dose"), point.dose_ppt);
        assert_eq!(number(group, "fidelity"), point.fidelity_percent.unwrap());
        assert_eq!(number(group, "second"), point.second_percent.unwrap());
    }
    let caps: Vec<(f64, &str)> = chart.caps.iter().map(|cap| (cap.dose_ppt, cap.reason.as_str())).collect();
    let found = groups(&svg, "cap");
    assert_eq!(found.iter().map(|cap| (number(cap, "dose"), word(cap, "reason"))).collect::<Vec<_>>(), caps);
    let window = groups(&svg, "window")[0];
    assert_eq!((number(&window, "from"), number(&window, "to")), (0.72, 1.3));
    // What lies beyond the lowest cap is drawn apart: dashed.
    for curve in groups(&svg, "curve") {
        let lines: Vec<bool> = curve
            .children()
            .filter(|node| node.has_tag_name("polyline"))
            .map(|line| line.attribute("stroke-dasharray").is_some())
            .collect();
        // The upper limit is drawn as far as the cap.
        let expected = if word(&curve, "series") == "upper limit" { vec![false] } else { vec![false, true] };
        assert_eq!(lines, expected, "{}", word(&curve, "series"));
    }
    // The title follows the numbers.
    (chart.best, chart.gain_gone_ppt) = (Some((1.3, 91.5)), None);
    let svg = drawn(&chart);
    assert_eq!(
        title(&Document::parse(&svg).unwrap()),
        "Beta-Damascenone adds 4.0 points at 1.3 ‰; held to 1.3 ‰ by own cap"
    );
    chart.best = Some((0.0, 87.5));
    let svg = drawn(&chart);
    assert_eq!(title(&Document::parse(&svg).unwrap()), "Beta-Damascenone adds nothing: 87.5 % without any");
}

#[test]
fn leeway_sets_what_is_indispensable_apart() {
    let chart = Case::Ordinary.leeway();
    let svg = drawn(&chart);
    let svg = Document::parse(&svg).unwrap();
    let bars = groups(&svg, "bar");
    assert_eq!(bars.len(), chart.bars.len());
    for group in &bars {
        let bar = chart.bars.iter().find(|bar| bar.material == word(group, "material")).unwrap();
        assert_eq!(
            (number(group, "min"), number(group, "max"), number(group, "at")),
            (bar.min_ppt, bar.max_ppt, bar.at_ppt)
        );
    }
    let places: Vec<&str> = bars.iter().map(|bar| word(bar, "place")).collect();
    assert_eq!(places, [["indispensable"; 4], ["can be left out"; 4], ["could come in"; 4]].concat());
    assert_eq!(title(&svg), "4 materials are indispensable; any one of 4 can be left out; 4 could come in");
}

#[test]
fn starts_have_a_column_each_and_their_line() {
    let chart = Case::Ordinary.starts();
    let svg = drawn(&chart);
    let svg = Document::parse(&svg).unwrap();
    let panels = groups(&svg, "start");
    assert_eq!(panels.len(), 6);
    for (panel, start) in panels.iter().zip(&chart.starts) {
        assert_eq!((word(panel, "name"), number(panel, "fidelity")), (start.name.as_str(), start.fidelity_percent));
        let shares: Vec<(String, f64)> = panel
            .children()
            .filter(|node| node.attribute("class") == Some("share"))
            .map(|share| (word(&share, "material").to_owned(), number(&share, "share")))
            .collect();
        assert_eq!(shares.len(), start.shares_percent.len());
        assert!(start.shares_percent.iter().all(|share| shares.contains(share)));
        let lines = groups(&svg, "apart");
        let line = lines.iter().find(|line| word(line, "name") == start.name).unwrap();
        let said: Vec<&str> = line.children().filter_map(|node| node.text()).collect();
        assert!(said.join(" ").contains(&start.apart), "{said:?}");
    }
    // The area of a dot is the share.
    let radius = |share: &Node| {
        let disc = share.children().find(|node| node.has_tag_name("circle"));
        disc.map_or(0.0, |disc| disc.attribute("r").unwrap().parse::<f64>().unwrap())
    };
    let areas: Vec<f64> =
        groups(&svg, "share").iter().map(|share| radius(share).powi(2) / number(share, "share")).collect();
    assert!(areas.iter().all(|area| (area / areas[0] - 1.0).abs() < 0.05), "{areas:?}");
    assert_eq!(title(&svg), "6 starting points between 92.8 and 93.6 %, any two at least 3.4 % of the odour apart");
}

#[test]
fn a_shelf_map_places_every_material_and_names_its_edges() {
    let chart = Case::Many.shelf_map();
    let svg = drawn(&chart);
    let svg = Document::parse(&svg).unwrap();
    let places = groups(&svg, "place");
    assert_eq!(places.len(), 80);
    for group in &places {
        let place = chart.places.iter().find(|place| place.material == word(group, "material")).unwrap();
        assert_eq!((number(group, "x"), number(group, "y")), place.at);
        assert_eq!(word(group, "strongest"), place.strongest);
    }
    // A name is drawn beside its disc, or a number is and the name stands beside
    // it in the key: none is left out.
    let mut numbered = 0;
    for group in &places {
        let texts = group.children().filter(|node| node.has_tag_name("text")).filter_map(|node| node.text());
        let said: Vec<&str> = texts.collect();
        assert_eq!(said.len(), 1, "{}: {said:?}", word(group, "material"));
        if said[0] != word(group, "material") {
            let keys = groups(&svg, "name");
            let key = keys.iter().find(|key| word(key, "number") == said[0]).unwrap();
            assert_eq!(word(key, "name"), word(group, "material"));
            numbered += 1;
        }
    }
    assert!(numbered > 0 && numbered < 60 && numbered == groups(&svg, "name").len(), "{numbered}");
    let chart = Case::Ordinary.shelf_map();
    let text = drawn(&chart);
    let svg = Document::parse(&text).unwrap();
    assert_eq!(title(&svg), "The shelf runs from fresh to rosy, then from honeyed to fresh: 48.0 % of all differences");
    assert!(texts(&svg).contains(&"more rosy, honeyed, green".to_owned()), "{:?}", texts(&svg));
    let alike = ShelfMap { axes: Vec::new(), ..chart };
    let text = drawn(&alike);
    assert_eq!(title(&Document::parse(&text).unwrap()), "The materials do not differ in character");
    let one = drawn(&Case::One.shelf_map());
    assert_eq!(groups(&Document::parse(&one).unwrap(), "place").len(), 1);
}

#[test]
fn an_effect_chart_says_who_is_cheap_and_who_is_dear() {
    let mut chart = Case::Ordinary.effect();
    let text = drawn(&chart);
    let svg = Document::parse(&text).unwrap();
    let points = groups(&svg, "point");
    assert_eq!(points.len(), 12);
    for group in &points {
        let point = chart.points.iter().find(|point| point.material == word(group, "material")).unwrap();
        assert_eq!((number(group, "strength"), number(group, "effect")), (point.strength, point.effect));
    }
    assert!(texts(&svg).iter().any(|text| text.contains("Without a price above 0: 3 materials")), "{:?}", texts(&svg));
    for (point, effect) in chart.points.iter_mut().zip([0.02, 5.0]) {
        point.effect = effect;
    }
    chart.points.truncate(2);
    let text = drawn(&chart);
    assert_eq!(
        title(&Document::parse(&text).unwrap()),
        "Citronellol has the cheapest effect; that of Phenylethyl alcohol costs 250 times as much"
    );
    chart.points.clear();
    let text = drawn(&chart);
    assert_eq!(title(&Document::parse(&text).unwrap()), "No material has both a strength and a price");
}

#[test]
fn a_shelf_is_drawn_as_its_report_says() {
    let folder = Folder::of(&[]);
    let plot = folder.path("plot.svg");
    let palette = "profiles/rose-otto/palette.toml";
    let report = permil(&["shelf", palette, "--format", "json", "--plot", &plot]).ended(0).json();
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    let places = groups(&svg, "place");
    assert_eq!(places.len(), report["map"]["places"].as_array().unwrap().len());
    for line in report["map"]["places"].as_array().unwrap() {
        let group = places.iter().find(|group| line["material"] == word(group, "material")).unwrap();
        assert_eq!((Some(number(group, "x")), Some(number(group, "y"))), (line["x"].as_f64(), line["y"].as_f64()));
    }
    permil(&["shelf", palette, "--plot", &plot, "--chart", "effect"]).ended(0);
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    let priced =
        report["materials"].as_array().unwrap().iter().filter(|line| line["price_of_effect"].as_f64() > Some(0.0));
    assert_eq!(groups(&svg, "point").len(), priced.count());
}

#[test]
fn contributions_add_up_to_the_blend() {
    let chart = Case::Many.profile(1);
    let svg = drawn(&permil::chart::contributions::Contributions(&chart));
    let svg = Document::parse(&svg).unwrap();
    for (wanted, score) in chart.wanted.iter().zip(&chart.blends[0].scores) {
        let parts = groups(&svg, "part");
        let sum: f64 = parts
            .iter()
            .filter(|part| word(part, "descriptor") == wanted.descriptor)
            .map(|part| number(part, "points"))
            .sum();
        assert!((sum - score).abs() < 1e-9, "{}: {sum} of {score}", wanted.descriptor);
    }
    let names: Vec<&str> = groups(&svg, "key").into_iter().map(|key| key.attribute("data-material").unwrap()).collect();
    assert_eq!((names.len(), names[6]), (7, "74 others"));
}

/// The proposal's JSON and its chart, from one run.
fn proposal(chart: &str) -> (serde_json::Value, String) {
    let folder = Folder::of(&[]);
    let plot = folder.path("plot.svg");
    let arguments = [
        "propose",
        "profiles/rose-otto/brief.toml",
        "--no-worth",
        "--format",
        "json",
        "--plot",
        &plot,
        "--chart",
        chart,
    ];
    let report = permil(&arguments).ended(0).json();
    (report, folder.read("plot.svg"))
}

#[test]
fn a_proposal_is_drawn_as_its_report_says() {
    let (report, svg) = proposal("dumbbell");
    let svg = Document::parse(&svg).unwrap();
    let rows = groups(&svg, "row");
    let profile = report["profile"].as_array().unwrap();
    assert_eq!(rows.len(), profile.len());
    let mut last = f64::NEG_INFINITY;
    for row in &rows {
        let line = profile.iter().find(|line| line["descriptor"] == word(row, "descriptor")).unwrap();
        let (target, blend) = (line["target"].as_f64().unwrap(), line["blend"].as_f64().unwrap());
        assert_eq!((number(row, "target"), number(row, "blend")), (target, blend));
        let range = format!("{} {}", line["low"], line["high"]);
        assert_eq!(
            word(row, "range").split(' ').map(|end| end.parse::<f64>().unwrap()).collect::<Vec<_>>(),
            range.split(' ').map(|end| end.parse::<f64>().unwrap()).collect::<Vec<_>>()
        );
        assert!(blend - target >= last, "sorted by gap");
        last = blend - target;
        let gap = format!("{:.2}", (blend - target).abs());
        let said: Vec<&str> =
            row.children().filter(|node| node.has_tag_name("text")).filter_map(|node| node.text()).collect();
        assert!(said[1].ends_with(&gap) || (gap == "0.00" && said[1] == "0"), "{said:?}");
    }
    // The title counts what is more than 0.25 points off.
    let off = |sign: f64| profile.iter().filter(|line| sign * line["gap"].as_f64().unwrap() > 0.25).count();
    let fit = profile.len() - off(1.0) - off(-1.0);
    let said = title(&svg);
    assert!(said.ends_with(&format!("the other {fit} of {} descriptors fit", profile.len())), "{said}");

    let (report, svg) = proposal("contributions");
    let svg = Document::parse(&svg).unwrap();
    for line in report["materials"].as_array().unwrap() {
        let parts = groups(&svg, "part");
        for part in parts.iter().filter(|part| word(part, "material") == line["material"]) {
            assert_eq!(number(part, "points"), line["brings"][word(part, "descriptor")].as_f64().unwrap());
        }
    }

    let (_, svg) = proposal("radar");
    let svg = Document::parse(&svg).unwrap();
    assert_eq!(groups(&svg, "axis").len(), profile.len());
}

#[test]
fn a_comparison_draws_every_formula_on_every_line() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, mine, best) = (folder.path("brief.toml"), folder.path("formula.toml"), folder.path("best.toml"));
    permil(&["propose", &brief, "--save", &best]).ended(0);
    let plot = folder.path("plot.svg");
    let report = permil(&["compare", &brief, &mine, &best, "--plot", &plot, "--format", "json"]).ended(0).json();
    let svg = folder.read("plot.svg");
    let svg = Document::parse(&svg).unwrap();
    for row in groups(&svg, "row") {
        let drawn: Vec<f64> = word(&row, "blend").split(' ').map(|score| score.parse().unwrap()).collect();
        let of = |formula: &serde_json::Value| {
            let line = formula["profile"]
                .as_array()
                .unwrap()
                .iter()
                .find(|line| line["descriptor"] == word(&row, "descriptor"));
            line.unwrap()["blend"].as_f64().unwrap()
        };
        assert_eq!(drawn, report["formulas"].as_array().unwrap().iter().map(of).collect::<Vec<_>>());
        assert_eq!(row.children().filter(|node| node.has_tag_name("circle")).count(), 3);
    }
    let ran = permil(&["compare", &brief, &mine, &best, "--plot", &plot, "--chart", "contributions"]).ended(2);
    assert!(ran.stderr.contains("draws one formula"), "{}", ran.stderr);
    let seven: Vec<&str> = std::iter::repeat_n(mine.as_str(), 7).collect();
    let ran = permil(&[&["compare", &brief][..], &seven, &["--plot", &plot]].concat()).ended(2);
    assert!(ran.stderr.contains("at most 6 formulas"), "{}", ran.stderr);
}

#[test]
fn a_chart_is_written_whole_or_not_at_all() {
    let folder = Folder::copy_of("profiles/six-materials");
    let brief = folder.path("brief.toml");
    for wrong in ["plot.pdf", "plot", "plot.svg.txt"] {
        let ran = permil(&["propose", &brief, "--plot", &folder.path(wrong)]).ended(2);
        assert!(ran.stderr.contains(".svg or .png") && ran.stdout.is_empty(), "{}", ran.stderr);
    }
    let ran = permil(&["propose", &brief, "--plot", &folder.path("none/plot.svg")]).ended(2);
    assert!(ran.stderr.contains("cannot be written") && ran.stdout.is_empty(), "{}", ran.stderr);

    let plot = folder.path("plot.PNG");
    folder.write("plot.PNG", "an older chart");
    permil(&["propose", &brief, "--plot", &plot]).ended(0);
    assert!(std::fs::read(&plot).unwrap().starts_with(b"\x89PNG"));

    // Without a formula the older chart stays.
    folder.write("plot.svg", "an older chart");
    folder.change("brief.toml", "max_price = 19", "max_price = 1");
    let ran = permil(&["propose", &brief, "--plot", &folder.path("plot.svg")]).ended(1);
    assert!(ran.stderr.contains("nothing to draw"), "{}", ran.stderr);
    assert_eq!(folder.read("plot.svg"), "an older chart");
    let names = ["README.md", "brief.toml", "formula.toml", "palette.toml", "plot.PNG", "plot.svg"];
    assert_eq!(folder.names(), names);

    // A brief is not lost to a chart.
    let ran = permil(&["propose", &folder.path("plot.svg"), "--plot", &folder.path("plot.svg")]);
    assert_eq!((ran.status, folder.read("plot.svg").as_str()), (2, "an older chart"));
}

#[test]
fn names_of_a_palette_cannot_break_out() {
    let folder = Folder::copy_of("profiles/six-materials");
    let evil = r#"<script>\u0001\u001B[31m&\u202E"#;
    let palette = folder.read("palette.toml").replace("\"Citronellol\"", &format!("\"{evil}\""));
    folder.write("palette.toml", &palette);
    folder.write("brief.toml", &folder.read("brief.toml").replace("\"Citronellol\"", &format!("\"{evil}\"")));
    let plot = folder.path("plot.svg");
    permil(&["propose", &folder.path("brief.toml"), "--plot", &plot, "--chart", "contributions"]).ended(0);
    let svg = folder.read("plot.svg");
    let document = Document::parse(&svg).unwrap();
    assert!(texts(&document).iter().any(|text| text.contains("<script>")), "{:?}", texts(&document));
    assert!(!svg.chars().any(|c| c != '\n' && permil::escape::steers(c)));
}

#[test]
fn leeway_is_drawn_as_its_report_says() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, plot) = (folder.path("brief.toml"), folder.path("plot.svg"));
    let report = permil(&["leeway", &brief, "--plot", &plot, "--format", "json"]).ended(0).json();
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    let bars = groups(&svg, "bar");
    let lines: Vec<&serde_json::Value> = report["materials"].as_array().unwrap().iter().collect();
    assert_eq!(bars.len(), lines.iter().filter(|line| line["max"].as_f64() > Some(0.0)).count());
    for bar in &bars {
        let line = lines.iter().find(|line| line["material"] == word(bar, "material")).unwrap();
        for key in ["min", "max", "at"] {
            assert_eq!(number(bar, key), line[key].as_f64().unwrap(), "{key} of {}", line["material"]);
        }
    }
    let needed = lines.iter().filter(|line| line["role"] == "indispensable").count();
    assert!(title(&svg).starts_with(&format!("{needed} material")), "{}", title(&svg));
}

#[test]
fn what_trials_teach_is_drawn_as_its_report_says() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let (trials, brief, plot) = (folder.path("trials.toml"), folder.path("brief.toml"), folder.path("plot.svg"));
    let report = permil(&["learn", &trials, "--plot", &plot, "--format", "json"]).ended(0).json();
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    let pairs = groups(&svg, "pair");
    assert!(pairs.len() > 5);
    let changes = report["changes"].as_array().unwrap();
    let scores =
        changes.iter().filter(|change| change["what"] != "strength" && change["sds"].as_f64().unwrap().abs() >= 0.5);
    for (pair, change) in pairs.iter().zip(scores) {
        assert_eq!(number(pair, "first"), change["before"].as_f64().unwrap());
        assert_eq!(number(pair, "second"), change["after"].as_f64().unwrap());
    }
    assert_eq!(title(&svg), "Rose oxide is 2.0 times as strong as it says");
    let journal = ["journal", &trials, "--brief", &brief, "--today", "2026-11-01", "--plot", &plot, "--format", "json"];
    let report = permil(&journal).ended(0).json();
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    let pairs = groups(&svg, "pair");
    let mods: Vec<&serde_json::Value> =
        report["entries"].as_array().unwrap().iter().filter(|entry| entry["materials"].as_u64() > Some(1)).collect();
    assert_eq!(pairs.len(), mods.len());
    for pair in &pairs {
        let code = word(pair, "name").split(',').next().unwrap().to_owned();
        let entry = mods.iter().find(|entry| entry["code"] == code.as_str()).unwrap();
        assert_eq!(number(pair, "first"), entry["computed_fidelity"].as_f64().unwrap(), "{code}");
    }
}

#[test]
fn trade_offs_are_drawn_as_their_report_says() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, plot) = (folder.path("brief.toml"), folder.path("plot.svg"));
    for against in ["price", "effect", "strength", "count", "Geraniol"] {
        let report =
            permil(&["tradeoff", &brief, "--against", against, "--plot", &plot, "--format", "json"]).ended(0).json();
        let text = folder.read("plot.svg");
        let svg = Document::parse(&text).unwrap();
        let drawn = |class: &str| -> Vec<[f64; 2]> {
            groups(&svg, class).iter().map(|group| [number(group, "at"), number(group, "fidelity")]).collect()
        };
        let told = |list: &str| -> Vec<[f64; 2]> {
            let pair = |line: &serde_json::Value| ["at", "fidelity"].map(|key| line[key].as_f64().unwrap());
            report[list].as_array().unwrap().iter().map(pair).collect()
        };
        assert_eq!(drawn("point"), told("points"), "{against}");
        assert!(groups(&svg, "unproven").is_empty(), "{against}");
        assert_eq!(groups(&svg, "knee").len(), usize::from(!report["knee"].is_null()), "{against}");
        for ribbon in groups(&svg, "ribbon") {
            let lines = report["materials"].as_array().unwrap();
            let line = lines.iter().find(|line| line["material"] == word(&ribbon, "material")).unwrap();
            assert_eq!(number(&ribbon, "most"), line["most"].as_f64().unwrap(), "{}", line["material"]);
        }
    }
}

#[test]
fn a_push_is_drawn_as_its_report_says() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, plot) = (folder.path("brief.toml"), folder.path("plot.svg"));
    let report = permil(&["push", &brief, "geraniol", "--plot", &plot, "--format", "json"]).ended(0).json();
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    let lines = || ["points", "beyond"].into_iter().flat_map(|list| report[list].as_array().unwrap());
    let points = groups(&svg, "point");
    assert_eq!(points.len(), lines().count());
    for (point, line) in points.iter().zip(lines()) {
        for (key, told) in [("dose", "dose"), ("fidelity", "fidelity"), ("second", "second_opinion")] {
            assert_eq!(number(point, key), line[told].as_f64().unwrap(), "{told}");
        }
    }
    let caps: Vec<f64> = groups(&svg, "cap").iter().map(|cap| number(cap, "dose")).collect();
    let told: Vec<f64> = report["caps"].as_array().unwrap().iter().map(|cap| cap["dose"].as_f64().unwrap()).collect();
    assert_eq!(caps, told);
    let window = &groups(&svg, "window")[0];
    assert_eq!(
        [number(window, "from"), number(window, "to")].map(Some),
        [0, 1].map(|at| report["window"][at].as_f64())
    );
    assert!(title(&svg).starts_with("Geraniol "), "{}", title(&svg));
}

#[test]
fn starts_are_drawn_as_their_report_says_and_never_when_blind() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, plot, key) = (folder.path("brief.toml"), folder.path("plot.svg"), folder.path("key.txt"));
    let report = permil(&["starts", &brief, "-n", "3", "--plot", &plot, "--format", "json"]).ended(0).json();
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    let panels = groups(&svg, "start");
    let formulas = report["formulas"].as_array().unwrap();
    assert_eq!(panels.len(), formulas.len());
    for (panel, formula) in panels.iter().zip(formulas) {
        assert_eq!(number(panel, "fidelity"), formula["fidelity"].as_f64().unwrap());
        for (material, share) in formula["shares"].as_object().unwrap() {
            let bars = panel.children().filter(|node| node.attribute("data-material") == Some(material));
            let drawn: Vec<f64> = bars.map(|bar| number(&bar, "share")).collect();
            assert_eq!(drawn, [share.as_f64().unwrap()], "{material}");
        }
    }
    let blind = ["starts", &brief, "--blind", "--key", &key, "--plot", &folder.path("blind.svg")];
    let ran = permil(&blind).ended(2);
    assert!(
        ran.stderr.contains("smelled blind") && !folder.names().contains(&"blind.svg".to_owned()),
        "{}",
        ran.stderr
    );
}

#[test]
fn an_adjustment_is_drawn_before_and_after() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, formula, plot) = (folder.path("brief.toml"), folder.path("formula.toml"), folder.path("plot.svg"));
    let arguments = ["adjust", &brief, &formula, "--more", "rosy", "--by", "0.2", "--plot", &plot, "--format", "json"];
    let report = permil(&arguments).ended(0).json();
    let text = folder.read("plot.svg");
    let svg = Document::parse(&text).unwrap();
    for row in groups(&svg, "row") {
        let of = |side: &str| {
            let profile = report[side]["profile"].as_array().unwrap();
            profile.iter().find(|line| line["descriptor"] == word(&row, "descriptor")).unwrap()["blend"]
                .as_f64()
                .unwrap()
        };
        assert_eq!(word(&row, "blend"), format!("{} {}", of("before"), of("after")));
    }
    assert!(title(&svg).starts_with("Moving ") && title(&svg).contains("rosy +0.2"), "{}", title(&svg));
}

/// What `permil strip` says of the rose on paper, as JSON and as one of its charts.
fn dried(chart: &str) -> (serde_json::Value, String) {
    let folder = Folder::of(&[]);
    let plot = folder.path("plot.svg");
    let (mod_1, brief) = ("profiles/rose-otto/mod-1.toml", "profiles/rose-otto/stages.toml");
    let arguments = ["strip", mod_1, "--brief", brief, "--format", "json", "--plot", &plot, "--chart", chart];
    let report = permil(&arguments).ended(0).json();
    (report, folder.read("plot.svg"))
}

fn figures(text: &str) -> Vec<f64> {
    text.split(' ').map(|figure| figure.parse().unwrap_or_else(|_| panic!("{figure} of {text}"))).collect()
}

#[test]
fn ribbons_name_the_stages_and_tell_the_last_one() {
    let (report, svg) = dried("drying");
    let svg = Document::parse(&svg).unwrap();
    let stages = report["stages"].as_array().unwrap();
    let marks = groups(&svg, "mark");
    assert_eq!(marks.iter().map(|mark| word(mark, "stage")).collect::<Vec<_>>(), ["opening", "heart", "drydown"]);
    for (mark, stage) in marks.iter().zip(stages) {
        assert_eq!(
            (number(mark, "minutes"), word(mark, "stage")),
            (stage["minutes"].as_f64().unwrap(), stage["name"].as_str().unwrap())
        );
        let fidelity = stage["fidelity"].as_f64().unwrap();
        assert!((number(mark, "fidelity") - fidelity).abs() <= 0.05 + 1e-9);
    }
    let all = texts(&svg);
    assert!(all.contains(&"at drydown, 8 h".to_owned()), "{all:?}");
    // The shares of the last stage stand beside the names.
    let shares = stages[2]["shares"].as_object().unwrap();
    let (leader, share) = shares.iter().max_by(|a, b| a.1.as_f64().unwrap().total_cmp(&b.1.as_f64().unwrap())).unwrap();
    let told = format!("{:.1}", share.as_f64().unwrap());
    assert!(all.contains(leader) && all.iter().filter(|text| **text == told).count() >= 2, "{leader} {told}: {all:?}");
    assert!(title(&svg).ends_with("at drydown (8 h)"), "{}", title(&svg));
    // The course and its stages are one answer.
    let course = report["course"].as_array().unwrap();
    let materials = report["materials"].as_array().unwrap();
    for stage in stages {
        let point =
            course.iter().find(|point| point["minutes"] == stage["minutes"]).expect("the stage is in its course");
        for (at, line) in materials.iter().enumerate() {
            let name = line["material"].as_str().unwrap();
            let share = stage["shares"][name].as_f64().unwrap_or(0.0);
            assert!((point["shares"][at].as_f64().unwrap() - share).abs() < 1e-9, "{name}");
            assert!(
                (point["left"][at].as_f64().unwrap() - stage["left"][name].as_f64().unwrap()).abs() < 1e-9,
                "{name}"
            );
        }
        for (at, descriptor) in report["descriptors"].as_array().unwrap().iter().enumerate() {
            let line =
                stage["profile"].as_array().unwrap().iter().find(|line| line["descriptor"] == *descriptor).unwrap();
            assert!(
                (point["blend"][at].as_f64().unwrap() - line["blend"].as_f64().unwrap()).abs() < 1e-9,
                "{descriptor}"
            );
            let wanted = &report["wanted"][point["wanted"].as_u64().unwrap() as usize];
            assert_eq!((&wanted["stage"], &wanted["target"][at]), (&stage["name"], &line["target"]));
        }
    }
}

#[test]
fn descriptors_over_time_have_their_targets() {
    for (chart, class) in [("descriptors", "panel"), ("stages", "row")] {
        let (report, svg) = dried(chart);
        let svg = Document::parse(&svg).unwrap();
        let stages = report["stages"].as_array().unwrap();
        let drawn = groups(&svg, class);
        let mut last = f64::INFINITY;
        for group in &drawn {
            let of = |stage: &serde_json::Value, key: &str| {
                let lines = stage["profile"].as_array().unwrap();
                lines.iter().find(|line| line["descriptor"] == word(group, "descriptor")).unwrap()[key]
                    .as_f64()
                    .unwrap()
            };
            let (targets, blends) = (figures(word(group, "target")), figures(word(group, "blend")));
            let mut gap = 0.0_f64;
            for (at, stage) in stages.iter().enumerate() {
                assert!((targets[at] - of(stage, "target")).abs() < 1e-9, "{chart}");
                assert!((blends[at] - of(stage, "blend")).abs() < 1e-9, "{chart}");
                gap = gap.max((blends[at] - targets[at]).abs());
            }
            assert!(gap <= last + 1e-9, "{chart}: what is missed most stands first");
            last = gap;
        }
        let wanted = |name: &str| {
            stages.iter().any(|stage| {
                let lines = stage["profile"].as_array().unwrap();
                lines.iter().any(|line| line["descriptor"] == name && line["target"].as_f64().unwrap() > 0.0)
            })
        };
        let names: Vec<&str> = drawn.iter().map(|group| word(group, "descriptor")).collect();
        for name in report["descriptors"].as_array().unwrap().iter().filter_map(|name| name.as_str()) {
            assert!(names.contains(&name) || !wanted(name) || names.len() >= 14, "{chart}: {name}");
        }
    }
}
