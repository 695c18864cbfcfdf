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
    assert!(
        ran.stdout.contains("45 materials, prices in EUR") && ran.stdout.contains("rosy 25, fresh 20"),
        "{}",
        ran.stdout
    );
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
    let folder = Folder::of(&[("shelf.csv", text), ("named.csv", &text.replace("Strenght", "Strength"))]);
    for (snapshot, sheet) in [("faults", "shelf.csv"), ("faults_of_cells", "named.csv")] {
        let ran = permil(&["import", &folder.path(sheet), "--save", &folder.path("p.toml")]).ended(2);
        reads_well(&ran.stderr.replace(&folder.path(""), ""));
        insta::assert_snapshot!(snapshot, ran.stderr.replace(&folder.path(""), ""));
    }
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
    assert_eq!(folder.names(), ["named.csv", "shelf.csv"]);
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

/// Imports a sheet with options; what is said on both streams, and the palette.
fn imported(sheet: &str, options: &[&str], ends: i32) -> (String, Option<String>) {
    let folder = Folder::of(&[("shelf.csv", sheet)]);
    let [sheet, palette] = ["shelf.csv", "palette.toml"].map(|name| folder.path(name));
    let ran = permil(&[&["import", &sheet, "--save", &palette], options].concat()).ended(ends);
    let said = format!("{}{}", ran.stdout, ran.stderr).replace(&folder.path(""), "").replace("\n  | ", " ");
    let said = said.replace("\n        ", " ").replace(",\n", ", ");
    (said, (ends == 0).then(|| folder.read("palette.toml")))
}

#[test]
fn a_dilution_is_never_read_a_hundredfold_wrong() {
    let sheet = "material;strength;rosy;bottle\nA;1;2;0,1\nB;1;2;0,01\nC;1;2;1\nD;1;2;neat\n";
    let (said, _) = imported(sheet, &[], 2);
    assert!(said.contains("0,1 may be 0.1 % or 10 %") && said.contains("--bottle"), "{said}");
    assert!(said.contains("and the same in 2 more rows, the next of them row 3"), "{said}");
    assert_eq!(said.matches("error:").count(), 1, "{said}");
    let (_, fractions) = imported(sheet, &["--bottle", "fraction"], 0);
    let fractions = fractions.unwrap();
    assert!(fractions.contains("percent = 10 ") && fractions.contains("percent = 1 "), "{fractions}");
    let (_, percent) = imported(sheet, &["--bottle", "percent"], 0);
    let percent = percent.unwrap();
    assert!(percent.contains("percent = 0.1 ") && percent.contains("percent = 0.01 "), "{percent}");
    // A sign in the cell or in the heading settles it, and a carrier needs no `in`.
    let (_, signed) = imported("material;strength;rosy;bottle\nA;1;2;10 % DPG\nB;1;2;0,5% in DPG\n", &[], 0);
    let signed = signed.unwrap();
    assert_eq!(signed.matches("carrier = \"DPG\"").count(), 2, "{signed}");
    assert!(signed.contains("percent = 0.5"), "{signed}");
    imported("material;strength;rosy;bottle (%)\nA;1;2;0,1\n", &[], 0);
    let (said, _) = imported("material,strength,rosy,bottle\nA,1,2,10\n", &["--bottle", "fraction"], 2);
    assert!(said.contains("10 is more than the whole"), "{said}");
}

#[test]
fn a_fault_of_a_column_is_told_once() {
    let mut sheet = "material,strength,rosy,price\n".to_owned();
    for row in 0..700 {
        sheet += &format!("M{row},1,strong,cheap\n");
    }
    let (said, _) = imported(&sheet, &[], 2);
    assert!(said.lines().count() < 30, "{said}");
    assert!(said.contains("and the same in 699 more rows, the next of them row 3"), "{said}");
    assert!(said.contains("2 faults"), "{said}");
}

#[test]
fn headings_are_judged_before_any_cell() {
    let (said, _) = imported("material,strenght,rosy\nA,x,y\n", &[], 2);
    assert!(said.contains("did you mean strength?") && !said.contains("is no score"), "{said}");
}

#[test]
fn bookkeeping_is_never_taken_for_a_smell() {
    let sheet = "Duft,strength,rosy,jasmine,rice,Cost,g left,Supplier\nA,1,2,3,0,12,5,X\n";
    let (said, _) = imported(sheet, &["--map", "Duft=material"], 2);
    for kept in ["Cost", "g left", "Supplier"] {
        assert!(said.contains(&format!("{kept} looks like bookkeeping")), "{kept}: {said}");
    }
    let (said, palette) =
        imported(sheet, &["--map", "duft=material", "--map", "Cost=price", "--ignore", "g left,Supplier"], 0);
    assert!(said.contains("jasmine 1"), "{said}");
    assert!(palette.unwrap().contains("price = 12"));
    let (said, _) = imported(sheet, &["--map", "Duft=material", "--ignore", "Coast"], 2);
    assert!(said.contains("no heading is called Coast"), "{said}");
    let (said, _) = imported("material,strength,rosy\nA,1,2\n", &["--map", "rosy=prise"], 2);
    assert!(said.contains("did you mean price?"), "{said}");
    // Figures beyond the scale, dates and units ask, and prices under another name.
    let (said, _) = imported("material,strength,rosy,bag\nA,1,2,45 g\nB,1,2,30 g\n", &[], 2);
    assert!(said.contains("--ignore \"bag\"") && said.contains("descriptor: bag"), "{said}");
    let (said, _) = imported("material,strength,rosy,price,pay\nA,1,2,3,3\nB,1,2,7,7\nC,1,2,4,4\n", &[], 2);
    assert!(said.contains("pay repeats the prices"), "{said}");
    imported("material,strength,rosy,price,descriptor: pay\nA,1,2,3,3\nB,1,2,7,7\nC,1,2,4,4\n", &[], 0);
}

#[test]
fn names_that_look_the_same_are_told() {
    let (said, _) = imported("material,strength,rosy\nN\u{e9}roli,1,2\nB,1,2\nNe\u{301}roli,1,3\n", &[], 2);
    assert!(said.contains("two materials named"), "{said}");
    let (said, _) = imported("material,strength,rosy\nRose otto,1,2\nB,1,2\nrose  otto,1,3\n", &[], 0);
    assert!(said.contains("rows 2 and 4"), "{said}");
}
