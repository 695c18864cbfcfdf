//! Random scenarios with numbers from the ends of their ranges, so small that
//! every formula can be listed.

use std::fmt::Write as _;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A seeded palette, brief and limits as the texts of their files.
pub fn scenario(seed: u64) -> (String, String, String) {
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed));
    let materials = draw.0.random_range(1..=5usize);
    let descriptors = if seed % 20 == 19 { 400 } else { draw.0.random_range(1..=4usize) };
    let fine = seed % 4 == 3;
    let palette = draw.palette(materials, descriptors);
    let mut brief = format!(
        "palette = \"palette.toml\"\nlimits = \"limits.toml\"\nmatch = \"{}\"\n[use]\ncategory = \"4\"\ndosage = {}\n",
        draw.one_of(&["balance", "level"]),
        draw.one_of(&[100.0, 18.0, 0.001])
    );
    brief.push_str("[target]\n");
    let wanted = draw.0.random_range(0..descriptors);
    for d in 0..descriptors {
        let score = if d == wanted { 10.0 } else { draw.one_of(&[0.0, 0.0, 10.0, 5.0, 0.001]) };
        let weight = draw.one_of(&[1.0, 1.0, 1.0, 1e-6, 1e6]);
        writeln!(brief, "note{d} = {{ score = {score}, weight = {weight} }}").unwrap();
    }
    let step = if fine { 0.001 } else { draw.one_of(&[50.0, 100.0, 125.0, 40.0, 200.0]) };
    writeln!(brief, "[formula]\nstep = {step}").unwrap();
    if draw.0.random_bool(0.3) {
        writeln!(brief, "max_materials = {}", draw.0.random_range(1..=materials)).unwrap();
    }
    if draw.0.random_bool(0.2) {
        let at = draw.power(-3.0, 5.0);
        let end = draw.one_of(&["min", "max"]);
        writeln!(brief, "strength = {{ {end} = {at} }}").unwrap();
    }
    if draw.0.random_bool(0.4) {
        writeln!(brief, "[budget]\nmax_price = {}", draw.power(-1.0, 6.0)).unwrap();
    }
    brief.push_str("[doses]\n");
    for m in 0..materials {
        if fine {
            // A window of some thousandths beside a coarse rest.
            let low = draw.0.random_range(0..250) * 1000 / i64::try_from(materials).unwrap();
            let open = m + 1 < materials || materials == 1;
            let (low, high) = if open { (low, low + 24) } else { (0, 1_000_000) };
            let step = if open { "" } else { ", step = 1" };
            writeln!(brief, "\"M{m}\" = {{ min = {}, max = {}{step} }}", thousandths(low.max(1)), thousandths(high))
                .unwrap();
        } else {
            match draw.0.random_range(0..8) {
                0 => {
                    writeln!(brief, "\"M{m}\" = {{ step = {}, max = 300 }}", draw.one_of(&[12.5, 20.0, 60.0])).unwrap()
                }
                1 => writeln!(brief, "\"M{m}\" = {{ fixed = {} }}", draw.one_of(&["0.001", "99.999", "200"])).unwrap(),
                2 => writeln!(brief, "\"M{m}\" = {{ use = \"must\" }}").unwrap(),
                3 => writeln!(brief, "\"M{m}\" = {{ max = {} }}", draw.one_of(&[0.001, 40.0, 999.999])).unwrap(),
                _ => {}
            }
        }
    }
    if materials > 1 && draw.0.random_bool(0.3) {
        let at = draw.one_of(&["min = 0.000001", "max = 0.000001", "min = 1000000", "max = 1000000", "min = 1"]);
        writeln!(brief, "[[ratio]]\nof = \"M0\"\nto = \"M1\"\n{at}").unwrap();
    }
    let mut limits = String::new();
    for (m, cas) in CAS.iter().enumerate().take(2) {
        let limit = draw.one_of(&["0", "0.000000001", "0.00001", "0.1", "100"]);
        writeln!(
            limits,
            "[[restriction]]\nsubstance = \"S{m}\"\ncas = [\"{cas}\"]\nsource = \"made up\"\nlimits = {{ \"4\" = {limit} }}"
        )
        .unwrap();
    }
    (palette, brief, limits)
}

/// Numbers whose check digit holds.
const CAS: [&str; 5] = ["10-00-4", "10-01-5", "10-02-6", "10-03-7", "10-04-8"];

/// Thousandths of a part as a decimal.
fn thousandths(units: i64) -> String {
    format!("{}.{:03}", units / 1000, units % 1000)
}

struct Draw(ChaCha8Rng);

impl Draw {
    fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.0.random_range(0..choices.len())]
    }

    /// Ten to a power, to three figures.
    fn power(&mut self, least: f64, most: f64) -> f64 {
        let power = 10f64.powf(self.0.random_range(least..most));
        format!("{power:.2e}").parse().expect("a number")
    }

    fn palette(&mut self, materials: usize, descriptors: usize) -> String {
        let mut text = String::from("[descriptors]\n");
        for d in 0..descriptors {
            writeln!(text, "note{d} = \"made up\"").unwrap();
        }
        let (twins, flat) = (self.0.random_bool(0.2), self.0.random_bool(0.15));
        let mut first = None;
        for (m, cas) in CAS.iter().enumerate().take(materials) {
            let strength = if self.0.random_bool(0.2) { self.one_of(&[1e-6, 1e6]) } else { self.power(-6.0, 6.0) };
            let mut scores: Vec<String> = Vec::new();
            for d in 0..descriptors {
                let score = if flat { 5.0 } else { self.one_of(&[0.0, 10.0, 10.0, 5.0, 0.001, 7.5]) };
                if score > 0.0 {
                    scores.push(format!("note{d} = {score}"));
                }
            }
            let body = format!("strength = {strength}\nscores = {{ {} }}\n", scores.join(", "));
            let body = if twins { first.get_or_insert(body).clone() } else { body };
            let price = self.power(-2.0, 6.0);
            // Every second material is under a limit at the most.
            let number = if self.0.random_bool(0.5) { format!("cas = \"{cas}\"\n") } else { String::new() };
            writeln!(text, "[[material]]\nname = \"M{m}\"\n{number}price = {price}\n{body}").unwrap();
        }
        text
    }
}
