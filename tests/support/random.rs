//! Random programmes: some that have an optimum by construction, some of
//! which nothing is known. Random scenarios, small enough to list.

use std::fmt::Write as _;

use permil::model::programme::{Programme, Relation, Sense};
use rand::seq::index::sample;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A bounded programme with a feasible point: a point is drawn first, and the
/// rows are laid around it.
pub fn feasible_and_bounded(seed: u64) -> Programme {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let columns = random.random_range(2..=30);
    let rows = random.random_range(1..=20);
    let sense = if random.random_bool(0.5) { Sense::Minimise } else { Sense::Maximise };
    let mut programme = Programme { sense, ..Programme::default() };
    let mut point = Vec::with_capacity(columns);
    for _ in 0..columns {
        let lower = random.random_range(-5.0..5.0);
        let upper = lower + random.random_range(0.0..10.0);
        point.push(random.random_range(lower..=upper));
        programme.column(random.random_range(-10.0..10.0), lower, upper);
    }
    for _ in 0..rows {
        let mut coefficients = Vec::new();
        for column in 0..columns {
            if random.random_bool(0.4) {
                coefficients.push((column, random.random_range(-10.0..10.0)));
            }
        }
        let here: f64 = coefficients.iter().map(|&(column, a): &(usize, f64)| a * point[column]).sum();
        let room = if random.random_bool(0.3) { 0.0 } else { random.random_range(0.0..10.0) };
        match random.random_range(0..5) {
            0 => programme.row(coefficients, Relation::Equal, here),
            1 | 2 => programme.row(coefficients, Relation::AtMost, here + room),
            _ => programme.row(coefficients, Relation::AtLeast, here - room),
        };
    }
    programme
}

/// A programme of small whole numbers, open columns and equations, of which
/// nothing is known: it may be infeasible, unbounded or degenerate.
pub fn anything(seed: u64) -> Programme {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let columns = random.random_range(1..=8);
    let rows = random.random_range(1..=8);
    let sense = if random.random_bool(0.5) { Sense::Minimise } else { Sense::Maximise };
    let mut programme = Programme { sense, ..Programme::default() };
    let mut whole = |from: i32, to: i32| f64::from(random.random_range(from..=to));
    for _ in 0..columns {
        let lower = if whole(0, 4) == 0.0 { f64::NEG_INFINITY } else { whole(-2, 2) };
        let upper = if whole(0, 1) == 0.0 { f64::INFINITY } else { lower.max(-3.0) + whole(0, 4) };
        programme.column(whole(-3, 3), lower, upper);
    }
    for _ in 0..rows {
        let coefficients = (0..columns).map(|column| (column, whole(-3, 3))).collect();
        let relation = match whole(0, 4) as u8 {
            0 => Relation::Equal,
            1 | 2 => Relation::AtMost,
            _ => Relation::AtLeast,
        };
        programme.row(coefficients, relation, whole(-4, 4));
    }
    programme
}

/// A seeded palette and brief as the texts of their files.
pub fn scenario(seed: u64) -> (String, String) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let materials = random.random_range(3..=5usize);
    let descriptors = random.random_range(2..=4usize);
    let carrier = random.random_bool(0.4);
    let mut palette = String::from("[descriptors]\n");
    for d in 0..descriptors {
        writeln!(palette, "note{d} = \"made up\"").unwrap();
    }
    for m in 0..materials {
        let strength = 10f64.powf(random.random_range(-1.0..3.0));
        let price = random.random_range(1..200);
        writeln!(palette, "[[material]]\nname = \"M{m}\"\nstrength = {strength:.3}\nprice = {price}").unwrap();
        let count = random.random_range(1..=descriptors);
        let scores: Vec<String> = sample(&mut random, descriptors, count)
            .into_iter()
            .map(|d| format!("note{d} = {}", random.random_range(1..=10)))
            .collect();
        writeln!(palette, "scores = {{ {} }}\ntags = [\"t{}\"]", scores.join(", "), m % 2).unwrap();
    }
    if carrier {
        palette.push_str("[[material]]\nname = \"C\"\nstrength = 0\nprice = 2\n");
    }

    let mut brief = String::from("palette = \"palette.toml\"\n");
    writeln!(brief, "match = \"{}\"", if seed.is_multiple_of(2) { "balance" } else { "level" }).unwrap();
    brief.push_str("[target]\n");
    for d in 0..descriptors {
        let score = random.random_range(1..=8);
        if random.random_bool(0.3) {
            let bound = if random.random_bool(0.5) {
                format!("max = {}", (score + 3).min(10))
            } else {
                format!("min = {}", score.min(2))
            };
            let weight = random.random_range(1..=3);
            writeln!(brief, "note{d} = {{ score = {score}, weight = {weight}, excess = 2, {bound} }}").unwrap();
        } else {
            writeln!(brief, "note{d} = {score}").unwrap();
        }
    }
    let steps = [50.0, 100.0, 125.0, 40.0];
    let step = steps[random.random_range(0..steps.len())];
    writeln!(brief, "[formula]\nstep = {step}").unwrap();
    if random.random_bool(0.6) {
        writeln!(brief, "max_materials = {}", random.random_range(2..=materials)).unwrap();
    }
    if random.random_bool(0.5) {
        writeln!(brief, "min_dose = {}", random.random_range(30..200)).unwrap();
    }
    if random.random_bool(0.3) {
        writeln!(brief, "strength = {{ min = {} }}", random.random_range(1..30)).unwrap();
    }
    writeln!(brief, "[budget]\nmax_price = {}", random.random_range(30..200)).unwrap();
    if random.random_bool(0.2) {
        writeln!(brief, "max_price_of_effect = {}", random.random_range(1..100)).unwrap();
    }
    brief.push_str("[doses]\n");
    if carrier {
        writeln!(brief, "\"C\" = {{ max = {} }}", random.random_range(100..900)).unwrap();
    }
    for m in 0..materials {
        match random.random_range(0..8) {
            0 => writeln!(brief, "\"M{m}\" = {{ step = {}, max = 500 }}", [5.0, 12.5, 20.0][m % 3]).unwrap(),
            1 => writeln!(brief, "\"M{m}\" = {{ fixed = {} }}", [35.5, 80.0, 120.0][m % 3]).unwrap(),
            2 => writeln!(brief, "\"M{m}\" = {{ use = \"must\", min = 60, max = 700 }}").unwrap(),
            3 => writeln!(brief, "\"M{m}\" = {{ max = {} }}", random.random_range(100..600)).unwrap(),
            _ => {}
        }
    }
    if random.random_bool(0.3) {
        writeln!(brief, "[[group]]\nname = \"g\"\ntag = \"t0\"\nmin = 100\nmax = 800").unwrap();
    }
    if random.random_bool(0.3) {
        writeln!(brief, "[[ratio]]\nof = \"M0\"\nto = \"M1\"\nmin = 0.5\nmax = 3").unwrap();
    }
    (palette, brief)
}

/// A scenario whose palette names usual doses of most materials, in either key,
/// and whose brief allows `most` others. Every third counts what is poured.
pub fn unusual_scenario(seed: u64, most: usize) -> (String, String) {
    let (palette, brief) = scenario(seed);
    let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x5eed);
    let by_bottle = seed.is_multiple_of(3);
    let mut pieces = palette.split("[[material]]\n");
    let mut palette = pieces.next().expect("a head").to_owned();
    for piece in pieces {
        write!(palette, "[[material]]\n{piece}").unwrap();
        let (low, wide) = (random.random_range(0..4) * 50, random.random_range(0..8) * 40);
        match random.random_range(0..4) {
            0 => {}
            1 => writeln!(palette, "usual_in_concentrate = [{}, {}]", low / 10, (low + wide) / 10).unwrap(),
            _ => writeln!(palette, "usual = [{low}, {}]", low + wide).unwrap(),
        }
        if by_bottle && !piece.starts_with("name = \"C\"") && random.random_bool(0.5) {
            writeln!(palette, "bottle = {{ percent = {} }}", [50, 30, 80][random.random_range(0..3)]).unwrap();
        }
    }
    let basis = if by_bottle { "basis = \"bottle\"\n" } else { "" };
    let brief = brief.replace("[formula]\n", &format!("[formula]\n{basis}max_unusual = {most}\n"));
    (palette, brief)
}

/// A seeded palette of `own` materials on the shelf and `wished` ones that
/// could be bought, and a brief, as the texts of their files. Every second
/// brief wants whole parts and few materials, the others leave doses free.
pub fn shopping(seed: u64, own: usize, wished: usize) -> (String, String) {
    const DESCRIPTORS: usize = 6;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut palette = String::from("[descriptors]\n");
    for d in 0..DESCRIPTORS {
        writeln!(palette, "note{d} = \"made up\"").unwrap();
    }
    for m in 0..own + wished {
        let strength = 10f64.powf(random.random_range(0.0..2.5));
        let price = random.random_range(5..100);
        writeln!(palette, "[[material]]\nname = \"M{m:02}\"\nstrength = {strength:.3}\nprice = {price}").unwrap();
        let count = random.random_range(1..=3);
        let scores: Vec<String> = sample(&mut random, DESCRIPTORS, count)
            .into_iter()
            .map(|d| format!("note{d} = {}", random.random_range(1..=10)))
            .collect();
        writeln!(palette, "scores = {{ {} }}\ntags = [\"t{}\"]", scores.join(", "), m % 2).unwrap();
        if m >= own {
            palette.push_str("have = false\n");
        }
    }
    let mut brief = String::from("palette = \"palette.toml\"\n");
    writeln!(brief, "match = \"{}\"\n[target]", if seed % 4 < 2 { "balance" } else { "level" }).unwrap();
    for d in 0..DESCRIPTORS {
        writeln!(brief, "note{d} = {}", random.random_range(u32::from(d == 0)..=6)).unwrap();
    }
    if seed.is_multiple_of(2) {
        let most = random.random_range(3..=4);
        writeln!(brief, "[formula]\nstep = 5\nmin_dose = 10\nmax_materials = {most}").unwrap();
    }
    if random.random_bool(0.6) {
        writeln!(brief, "[budget]\nmax_price = {}", random.random_range(20..80)).unwrap();
    }
    if random.random_bool(0.4) {
        writeln!(brief, "[[group]]\nname = \"g\"\ntag = \"t0\"\nmax = {}", random.random_range(300..900)).unwrap();
    }
    (palette, brief)
}
