//! `permil import` and `permil export` as a user meets them.

mod support;

use support::program::{Folder, permil, reads_well};

const ROSE: &str = "profiles/rose-otto/palette.toml";

#[test]
fn there_and_back() {
    let folder = Folder::of(&[]);
    let [sheet, palette, again] = ["shelf.csv", "palette.toml", "again.csv"].map(|name| folder.path(name));
    let ran = permil(&["export", ROSE, "--save", &sheet]).ended(0);
    assert_eq!(
        (ran.stdout.as_str(), ran.stderr.as_str()),
        (format!("{sheet}: 45 materials, 18 descriptors\n").as_str(), "")
    );
    let ran = permil(&["import", &sheet, "--save", &palette]).ended(0);
    assert!(ran.stdout.contains("45 materials, prices in EUR") && ran.stdout.contains("rosy, fresh"), "{}", ran.stdout);
    permil(&["export", &palette, "--save", &again]).ended(0);
    assert_eq!(folder.read("shelf.csv"), folder.read("again.csv"));
    permil(&["shelf", &palette, "-q"]).ended(0);
    insta::assert_snapshot!("six_as_a_sheet", {
        permil(&[
            "export",
            "profiles/six-materials/palette.toml",
            "--decimal",
            "comma",
            "--save",
            &folder.path("six.csv"),
        ])
        .ended(0);
        folder.read("six.csv")
    });
    insta::assert_snapshot!("six_from_a_sheet", {
        permil(&["import", &folder.path("six.csv"), "--save", &folder.path("six.toml"), "-q"]).ended(0);
        folder.read("six.toml")
    });
}

#[test]
fn formulas_there_and_back() {
    let folder = Folder::copy_of("profiles/six-materials");
    let [formula, sheet, back, palette] =
        ["formula.toml", "f.csv", "back.toml", "palette.toml"].map(|name| folder.path(name));
    permil(&["export", "--formula", &formula, "--save", &sheet]).ended(0);
    permil(&["import", "--formula", &sheet, "--palette", &palette, "--save", &back]).ended(0);
    let report = |path: &str| {
        let brief = folder.path("brief.toml");
        permil(&["compare", &brief, path, "--format", "json", "-q"]).ended(0).json()["formulas"][0]["formula"].clone()
    };
    assert_eq!(report(&formula), report(&back));
    folder.write("drops.csv", "material;drops\nGeraniol;30\nLinalool;10\n");
    let drops = folder.path("drops.csv");
    let ran = permil(&[
        "import",
        "--formula",
        &drops,
        "--palette",
        &palette,
        "--drop-mass",
        "0.025",
        "--save",
        &folder.path("d.toml"),
    ]);
    let said = ran.ended(0).stdout;
    assert!(said.contains("2 materials, 1000 parts\n40 drops of 0.025 g: 1 g poured"), "{said}");
    assert!(folder.read("d.toml").contains("Geraniol = 750"));
}

#[test]
fn nothing_is_overwritten_and_nothing_half_written() {
    let folder =
        Folder::of(&[("shelf.csv", "material,strength,rosy\nA,1,2\n"), ("bad.csv", "material,strength,rosy\nA,1,x\n")]);
    let [sheet, bad, palette] = ["shelf.csv", "bad.csv", "palette.toml"].map(|name| folder.path(name));
    let ran = permil(&["import", &bad, "--save", &palette]).ended(2);
    assert_eq!(ran.stdout, "");
    assert_eq!(folder.names(), ["bad.csv", "shelf.csv"]);
    permil(&["import", &sheet, "--save", &palette]).ended(0);
    let old = folder.read("palette.toml");
    for arguments in [&["import", sheet.as_str()][..], &["export", ROSE]] {
        let ran = permil(&[arguments, &["--save", &palette]].concat()).ended(2);
        assert!(ran.stderr.contains("exists already; --force overwrites it"), "{}", ran.stderr);
    }
    permil(&["import", &bad, "--force", "--save", &palette]).ended(2);
    assert_eq!(folder.read("palette.toml"), old);
    let ran = permil(&["import", &sheet, "--force", "--save", &sheet]).ended(2);
    assert!(ran.stderr.contains("which is read"), "{}", ran.stderr);
    permil(&["import", &sheet, "--force", "--save", &palette]).ended(0);
    assert_eq!(folder.names(), ["bad.csv", "palette.toml", "shelf.csv"]);
}

#[test]
fn faults_read_well() {
    let text = "Material;Strenght;Price;rosy\nA;10;1,234;7\nB;20;$5;12\nA;;x;1\n";
    let folder = Folder::of(&[("shelf.csv", text)]);
    let ran = permil(&["import", &folder.path("shelf.csv"), "--save", &folder.path("p.toml")]).ended(2);
    reads_well(&ran.stderr.replace(&folder.path(""), ""));
    insta::assert_snapshot!("faults", ran.stderr.replace(&folder.path(""), ""));
    let wrong: [&[&str]; 5] = [
        &["import", "a.csv", "--currency", " ", "--save", "x.toml"],
        &["import", "--save", "x.toml"],
        &["import", "a.csv", "--formula", "b.csv", "--save", "x.toml"],
        &["import", "--formula", "b.csv", "--save", "x.toml"],
        &["import", "no-such.csv", "--save", "/tmp/no-such-folder/x.toml"],
    ];
    for arguments in wrong {
        permil(arguments).ended(2);
    }
    let ran = permil(&["import", "no-such.csv", "--save", &folder.path("p.toml")]).ended(2);
    assert!(ran.stderr.contains("no-such.csv does not exist"), "{}", ran.stderr);
    assert_eq!(folder.names(), ["shelf.csv"]);
}

#[test]
fn remarks_that_a_sheet_cannot_hold_are_told() {
    let palette = "[descriptors]\nremarks = \"mine\"\nrosy = \"\"\n[[material]]\nname = \"A\"\nstrength = 1\nremarks = \"kept\"\n\
        bottle = { percent = 10, remarks = \"old\" }\n";
    let folder = Folder::of(&[("p.toml", palette)]);
    let ran = permil(&["export", &folder.path("p.toml"), "--save", &folder.path("p.csv")]).ended(0);
    assert_eq!(ran.stderr.lines().count(), 2, "{}", ran.stderr);
    assert!(ran.stderr.contains("inside `bottle` of A"), "{}", ran.stderr);
    assert!(folder.read("p.csv").contains("kept"));
}
