//! A shelf by itself: cases that can be worked out by hand.

mod support;

use permil::analysis::palette::map::map;
use permil::analysis::palette::missing::{Lack, carriers_of};
use permil::analysis::palette::ranking::ranking;
use permil::analysis::palette::twins::{Twins, twins};
use permil::control::Control;
use permil::files::load_palette;
use permil::palette::Palette;
use support::assert_close;
use support::program::{Folder, permil, reads_well};

const SHELF: &str = "[descriptors]\nrosy = \"\"\ngreen = \"\"\nwoody = \"\"\nmusky = \"\"\n\
    [[material]]\nname = \"A\"\nstrength = 10\nprice = 20\ncas = \"60-12-8\"\nscores = { rosy = 8, green = 2 }\n\
    [[material]]\nname = \"B\"\nstrength = 40\nprice = 20\nscores = { rosy = 7, green = 3 }\n\
    [[material]]\nname = \"C\"\nstrength = 1\nscores = { woody = 5 }\nnatural = true\n\
    [[material]]\nname = \"D\"\nstrength = 5\nprice = 1\n\
    [[material]]\nname = \"E\"\nstrength = 0\nprice = 1\nnatural = true\nconstituents = {}\n";

fn shelf(text: &str) -> Palette {
    let folder = Folder::of(&[("palette.toml", text)]);
    load_palette(folder.path("palette.toml").as_ref()).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

#[test]
fn twins_by_hand() {
    let palette = shelf(SHELF);
    // Characters 0.8, 0.2 and 0.7, 0.3: they share 0.7 + 0.2. The effect of B costs 0.5, that of A 2.
    let found = twins(&palette, 85.0, &Control::default());
    let [Twins { one: 1, other: 0, alike_percent, saves_percent: Some(saves) }] = found[..] else {
        panic!("{found:?}")
    };
    assert_close(alike_percent, 90.0, 1e-12, "alike");
    assert_close(saves, 75.0, 1e-12, "saves");
    assert_eq!(twins(&palette, 90.0, &Control::default()).len(), 1);
    assert_eq!(twins(&palette, 90.1, &Control::default()), []);
    let threads = |number| Control { threads: Some(number), ..Control::default() };
    let rose = load_palette("profiles/rose-otto/palette.toml".as_ref()).unwrap();
    let all = twins(&rose, 40.0, &threads(1));
    assert!(all.len() > 50 && all == twins(&rose, 40.0, &threads(4)));
    assert!(all.windows(2).all(|pair| pair[0].alike_percent >= pair[1].alike_percent));
}

#[test]
fn what_is_missing_and_who_carries() {
    let palette = shelf(SHELF);
    assert_eq!(Lack::ALL.map(|lack| lack.of(&palette)), [vec![2], vec![1, 3], vec![3], vec![2]]);
    assert_eq!(carriers_of(&palette, 0), [(0, 8.0), (1, 7.0)]);
    assert_eq!(carriers_of(&palette, 3), []);
}

#[test]
fn ranking_by_hand() {
    let palette = shelf(SHELF);
    let found = ranking(&palette, &[0, 1], &[]);
    let fits: Vec<(usize, f64)> = found.iter().map(|it| (it.material, it.fit_percent)).collect();
    // min(0.7, 0.5) + min(0.3, 0.5), and the same of A.
    assert_eq!(fits.iter().map(|(at, _)| *at).collect::<Vec<_>>(), [1, 0]);
    assert_close(fits[0].1, 80.0, 1e-12, "B");
    assert_close(fits[1].1, 70.0, 1e-12, "A");
    let found = ranking(&palette, &[0], &[1]);
    assert_eq!(found.iter().map(|it| it.material).collect::<Vec<_>>(), [0, 1]);
    assert_close(found[0].fit_percent, 60.0, 1e-12, "0.8 less 0.2");
    assert_eq!(ranking(&palette, &[3], &[]), []);
}

#[test]
fn the_map_by_hand() {
    // Two pairs at opposite ends of one line: all differences lie along it.
    let text = |scores: [&str; 4]| {
        let rows = scores.iter().enumerate();
        let rows: String = rows
            .map(|(at, it)| format!("[[material]]\nname = \"M{at}\"\nstrength = 1\nscores = {{ {it} }}\n"))
            .collect();
        format!("[descriptors]\na = \"\"\nb = \"\"\nc = \"\"\n{rows}")
    };
    let line = map(&shelf(&text(["a = 4", "a = 4", "b = 2", "b = 9"])));
    assert_eq!(line.axes.len(), 1);
    assert_close(line.axes[0].explains_percent, 100.0, 1e-12, "all");
    let half = 0.5_f64.sqrt();
    for (got, wanted) in line.axes[0].loadings.iter().zip([half, -half, 0.0]) {
        assert_close(*got, wanted, 1e-12, "the first of two equal loadings is positive");
    }
    // Each character lies half of the square root of two from the middle.
    for (place, wanted) in line.places.iter().zip([half, half, -half, -half]) {
        assert_close(place.1[0], wanted, 1e-12, "place");
        assert_eq!(place.1[1], 0.0);
    }
    let same = map(&shelf(&text(["a = 4", "a = 1", "a = 2", "a = 9"])));
    assert_eq!((same.axes.len(), same.places.len()), (0, 4));
}

#[test]
fn the_map_keeps_what_it_says_on_a_real_shelf() {
    let palette = load_palette("profiles/rose-otto/palette.toml".as_ref()).unwrap();
    let found = map(&palette);
    assert_eq!(found, map(&palette));
    let [first, second] = &found.axes[..] else { panic!() };
    assert!(first.explains_percent >= second.explains_percent && second.explains_percent > 0.0);
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    assert_close(dot(&first.loadings, &first.loadings), 1.0, 1e-12, "length");
    assert_close(dot(&first.loadings, &second.loadings), 0.0, 1e-12, "at right angles");
    // The variance along an axis is what the axis claims of all of it.
    let characters: Vec<Vec<f64>> = palette.materials.iter().filter_map(permil::analysis::palette::character).collect();
    let count = characters.len() as f64;
    let means: Vec<f64> =
        (0..palette.descriptors.len()).map(|d| characters.iter().map(|it| it[d]).sum::<f64>() / count).collect();
    let all: f64 = characters.iter().flat_map(|it| it.iter().zip(&means).map(|(a, b)| (a - b) * (a - b))).sum();
    for (axis, at) in [(first, 0), (second, 1)] {
        let along: f64 = found.places.iter().map(|place| place.1[at] * place.1[at]).sum();
        assert_close(100.0 * along / all, axis.explains_percent, 1e-9, "explained");
    }
    // Fewer materials than descriptors take the other way to the same thing.
    let mut few = palette.clone();
    few.materials.truncate(12);
    let found = map(&few);
    assert_close(dot(&found.axes[0].loadings, &found.axes[0].loadings), 1.0, 1e-12, "length");
    assert_close(dot(&found.axes[0].loadings, &found.axes[1].loadings), 0.0, 1e-9, "at right angles");
}

const ROSE: &str = "profiles/rose-otto/palette.toml";
const SIX: &str = "profiles/six-materials/palette.toml";

#[test]
fn shelf_in_text() {
    for (name, palette) in [("rose_in_text", ROSE), ("six_in_text", SIX)] {
        let ran = permil(&["shelf", palette]).ended(0);
        reads_well(&ran.stdout);
        assert_eq!(ran.stderr, "");
        insta::assert_snapshot!(name, ran.stdout);
    }
    let ran = permil(&["shelf", ROSE, "--find", "Rosy,green", "--not", "metallic"]).ended(0);
    reads_well(&ran.stdout);
    insta::assert_snapshot!("found_in_text", ran.stdout);
}

#[test]
fn shelf_in_json_and_csv() {
    let json = permil(&["shelf", ROSE, "--sort", "effect", "--format", "json"]).ended(0).json();
    let lines = json["materials"].as_array().unwrap();
    assert_eq!(lines.len(), 45);
    let effects: Vec<f64> = lines.iter().filter_map(|line| line["price_of_effect"].as_f64()).collect();
    assert!(effects.windows(2).all(|pair| pair[0] <= pair[1]));
    assert_eq!(json["single"], serde_json::json!(["musky"]));
    assert_eq!(json["missing"][0]["materials"], serde_json::json!(["Beeswax absolute"]));
    let csv = permil(&["shelf", ROSE, "--format", "csv"]).ended(0).stdout;
    assert_eq!(csv.lines().count(), 46);
    let csv = permil(&["shelf", ROSE, "--find", "rosy", "--format", "csv"]).ended(0).stdout;
    assert_eq!(csv.lines().count(), 26);
    assert!(csv.starts_with("material,fit,wanted_percent,unwanted_percent,strength,price_of_effect,rosy\n"), "{csv}");
}

#[test]
fn shelf_refuses() {
    let cases: [(&[&str], &str); 5] = [
        (&["--find", "rosie"], "did you mean \"rosy\"?"),
        (&["--find", "rosy", "--not", "Rosy"], "wanted and not wanted"),
        (&["--twins", "0"], "expected a percentage"),
        (&["--plot", "x.pdf"], ".svg or .png"),
        (&["--not", "rosy"], "--find"),
    ];
    for (more, wanted) in cases {
        let ran = permil(&[&["shelf", ROSE], more].concat()).ended(2);
        assert!(ran.stderr.contains(wanted) && ran.stdout.is_empty(), "{}", ran.stderr);
    }
    let folder = Folder::of(&[("p.toml", SHELF)]);
    std::fs::copy(folder.path("p.toml"), folder.path("p.svg")).unwrap();
    let path = folder.path("p.svg");
    let ran = permil(&["shelf", &path, "--plot", &path]).ended(2);
    assert!(ran.stderr.contains("which is read"), "{}", ran.stderr);
    assert_eq!(folder.read("p.svg"), SHELF);
}
