//! The known programmes, built from `tests/data/worked_lp.toml`.

use permil::model::programme::{Programme, Relation, Sense};
use permil::solve::ratio::Ratio;
use toml::Value;

/// A TOML text as a value.
pub fn toml(text: &str) -> Value {
    Value::Table(text.parse().expect("a reference file is TOML"))
}

/// One table of `[[lp]]` or `[[lfp]]`, by its id.
pub fn entry(kind: &str, id: &str) -> Value {
    let file = toml(include_str!("../data/worked_lp.toml"));
    let entries = file[kind].as_array().expect("an array of tables");
    entries.iter().find(|entry| entry["id"].as_str() == Some(id)).cloned().unwrap_or_else(|| panic!("no {id}"))
}

/// A whole or decimal number.
pub fn number(value: &Value) -> f64 {
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)).expect("a number")
}

/// An array of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("an array").iter().map(number).collect()
}

/// An array of arrays of numbers.
pub fn matrix(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().expect("an array").iter().map(numbers).collect()
}

/// A row without its zeros.
pub fn sparse(row: &[f64]) -> Vec<(usize, f64)> {
    row.iter().copied().enumerate().filter(|(_, a)| *a != 0.0).collect()
}

/// An entry that carries `c`, `A_ub`, `b_ub`, `A_eq`, `b_eq` and `upper`. Rows
/// come in that order.
pub fn dense(entry: &Value) -> Programme {
    let sense = if entry["sense"].as_str() == Some("max") { Sense::Maximise } else { Sense::Minimise };
    let mut programme = Programme { sense, ..Programme::default() };
    let upper = entry.get("upper").map(numbers);
    for (j, cost) in numbers(&entry["c"]).into_iter().enumerate() {
        programme.column(cost, 0.0, upper.as_ref().map_or(f64::INFINITY, |upper| upper[j]));
    }
    for (rows, rhs, relation) in [("A_ub", "b_ub", Relation::AtMost), ("A_eq", "b_eq", Relation::Equal)] {
        if let Some(rows) = entry.get(rows) {
            for (row, rhs) in matrix(rows).iter().zip(numbers(&entry[rhs])) {
                programme.row(sparse(row), relation, rhs);
            }
        }
    }
    programme
}

/// A linear-fractional entry: always a maximum of (p x + p0) / (q x + q0) over
/// A x <= b, x >= 0.
pub fn fractional(entry: &Value) -> (Programme, Ratio) {
    let ratio = Ratio {
        numerator: numbers(&entry["p"]),
        numerator_constant: number(&entry["p0"]),
        denominator: numbers(&entry["q"]),
        denominator_constant: number(&entry["q0"]),
    };
    let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
    for _ in &ratio.numerator {
        programme.column(0.0, 0.0, f64::INFINITY);
    }
    for (row, rhs) in matrix(&entry["A"]).iter().zip(numbers(&entry["b"])) {
        programme.row(sparse(row), Relation::AtMost, rhs);
    }
    (programme, ratio)
}

/// Stigler's diet: dollars a day on each of 77 foods, at least cost, for nine
/// nutrients. Returns the names of the foods as well.
pub fn diet() -> (Programme, Vec<String>) {
    let mut programme = Programme::default();
    let mut names = Vec::new();
    let minima = numbers(&entry("lp", "stigler")["nutrient_minimum_per_day"]);
    let mut nutrients = vec![Vec::new(); minima.len()];
    for line in include_str!("../data/lp/stigler_1945.csv").lines().skip(1) {
        let fields = csv_fields(line);
        let food = programme.column(1.0, 0.0, f64::INFINITY);
        // Name, unit and price in cents come first.
        for (nutrient, field) in nutrients.iter_mut().zip(&fields[3..]) {
            nutrient.push((food, field.parse().expect("a number")));
        }
        names.push(fields[0].clone());
    }
    for (coefficients, minimum) in nutrients.into_iter().zip(minima) {
        programme.row(coefficients, Relation::AtLeast, minimum);
    }
    (programme, names)
}

/// The fields of a line of CSV, where a quoted one may hold commas.
fn csv_fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    for character in line.chars() {
        match character {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            other => fields.last_mut().expect("never empty").push(other),
        }
    }
    fields
}

/// Williams' food manufacture: buy, store, refine and blend five oils over six
/// months.
pub fn food_manufacture() -> Programme {
    let entry = entry("lp", "food_manufacture_1");
    let hardness = numbers(&entry["hardness"]);
    let window = numbers(&entry["hardness_window"]);
    let (price, storage) = (number(&entry["price"]), &entry["storage"]);
    let storage = |key: &str| number(&storage[key]);
    let veg_max = number(&entry["refine_max"]["veg"]);
    let nonveg_max = number(&entry["refine_max"]["nonveg"]);
    let months = matrix(&entry["cost_by_month"]);
    let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
    // Stock at the end of the month before; none has a column at the start.
    let mut stored: Vec<Option<usize>> = vec![None; hardness.len()];
    for (month, costs) in months.iter().enumerate() {
        let product = programme.column(price, 0.0, f64::INFINITY);
        let used: Vec<usize> = costs.iter().map(|_| programme.column(0.0, 0.0, f64::INFINITY)).collect();
        for (oil, cost) in costs.iter().enumerate() {
            let bought = programme.column(-cost, 0.0, f64::INFINITY);
            let (least, most) = if month + 1 == months.len() {
                (storage("final_each"), storage("final_each"))
            } else {
                (0.0, storage("max_each"))
            };
            let kept = programme.column(-storage("cost_per_ton_month"), least, most);
            let mut balance = vec![(bought, 1.0), (used[oil], -1.0), (kept, -1.0)];
            let mut at_hand = storage("initial_each");
            if let Some(before) = stored[oil].replace(kept) {
                balance.push((before, 1.0));
                at_hand = 0.0;
            }
            programme.row(balance, Relation::Equal, -at_hand);
        }
        programme.row(vec![(used[0], 1.0), (used[1], 1.0)], Relation::AtMost, veg_max);
        programme.row(used[2..].iter().map(|&oil| (oil, 1.0)).collect(), Relation::AtMost, nonveg_max);
        let blend = |factor: &dyn Fn(usize) -> f64, of_product: f64| {
            let mut row: Vec<(usize, f64)> = used.iter().enumerate().map(|(oil, &j)| (j, factor(oil))).collect();
            row.push((product, of_product));
            row
        };
        programme.row(blend(&|oil| hardness[oil], -window[1]), Relation::AtMost, 0.0);
        programme.row(blend(&|oil| hardness[oil], -window[0]), Relation::AtLeast, 0.0);
        programme.row(blend(&|_| 1.0, -1.0), Relation::Equal, 0.0);
    }
    programme
}

/// Three crudes into three fuels, with octane, lead and advertising. Columns
/// are the nine blends by crude, then the dollars of advertising by fuel.
pub fn gasoline() -> Programme {
    let entry = entry("lp", "gasoline_blending");
    let crude = |key: &str| numbers(&entry["crude"][key]);
    let fuel = |key: &str| numbers(&entry["fuel"][key]);
    /// Barrels of demand that a dollar of advertising adds.
    const BARRELS_PER_DOLLAR: f64 = 10.0;
    let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
    let production_cost = number(&entry["production_cost"]);
    let mut blend = [[0; 3]; 3];
    for (c, bought_at) in crude("price").into_iter().enumerate() {
        for (f, sold_at) in fuel("price").into_iter().enumerate() {
            blend[c][f] = programme.column(sold_at - bought_at - production_cost, 0.0, f64::INFINITY);
        }
    }
    let every = blend.concat();
    for crude_blends in &blend {
        let row = crude_blends.iter().map(|&j| (j, 1.0)).collect();
        programme.row(row, Relation::AtMost, number(&entry["crude"]["max_each"]));
    }
    programme.row(every.iter().map(|&j| (j, 1.0)).collect(), Relation::AtMost, number(&entry["total_max"]));
    let (octane, lead) = (crude("octane"), crude("lead"));
    let (octane_min, lead_max, demand) = (fuel("octane_min"), fuel("lead_max"), fuel("demand"));
    for f in 0..3 {
        let sum = |factor: &dyn Fn(usize) -> f64| (0..3).map(|c| (blend[c][f], factor(c))).collect::<Vec<_>>();
        programme.row(sum(&|c| octane[c] - octane_min[f]), Relation::AtLeast, 0.0);
        programme.row(sum(&|c| lead[c] - lead_max[f]), Relation::AtMost, 0.0);
        let mut sales = sum(&|_| 1.0);
        sales.push((programme.column(-1.0, 0.0, f64::INFINITY), -BARRELS_PER_DOLLAR));
        programme.row(sales, Relation::Equal, demand[f]);
    }
    programme
}
