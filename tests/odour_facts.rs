//! Figures about odours that plain arithmetic reproduces, each with its source
//! in `tests/data/odour_shares.toml`; some are quoted at second hand or from memory.

mod support;

use permil::odour::shares;
use support::{assert_close, published};

/// Shares of two materials at three exponents (algebra).
#[test]
fn shares_of_two_materials_by_exponent() {
    // 900 parts of strength 1 and 100 of strength 16.
    let products = [900.0, 1600.0];
    for (exponent, first) in [(1.0, 0.36), (0.5, 0.428571), (0.25, 0.464102)] {
        let shares = shares(&products, exponent);
        assert_close(shares[0], first, 1e-6, &format!("exponent {exponent}"));
        assert_close(shares.iter().sum(), 1.0, 1e-12, "the sum");
    }
}

/// Odour activity values of rose oil: composition over threshold. The 70 % of
/// beta-damascenone is quoted at second hand; the rows of the table are from memory.
#[test]
fn a_trace_carries_most_of_rose_oil() {
    let file = published::toml(include_str!("data/odour_shares.toml"));
    let rose = &file["rose_oav"];
    let rows: Vec<(&str, f64)> = rose["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| (row[0].as_str().unwrap(), published::number(&row[1]) / published::number(&row[2])))
        .collect();
    let values: Vec<f64> = rows.iter().map(|(_, value)| *value).collect();
    let of = |name: &str, exponent: f64| {
        let index = rows.iter().position(|(row, _)| *row == name).unwrap();
        shares(&values, exponent)[index]
    };
    assert_close(of("beta-damascenone", 1.0), published::number(&rose["share_damascenone"]), 0.005, "quoted share");
    let recomputed = &rose["recomputed"];
    for (name, key) in [
        ("beta-damascenone", "beta_damascenone"),
        ("beta-ionone", "beta_ionone"),
        ("citronellol", "citronellol"),
        ("rose oxide", "rose_oxide"),
        ("linalool", "linalool"),
        ("geraniol", "geraniol"),
    ] {
        assert_close(of(name, 1.0), published::number(&recomputed[key]), 1e-4, name);
    }
    // The second opinion hears the trace less, and it still leads.
    assert_close(of("beta-damascenone", 0.5), 0.41, 0.005, "share at exponent 0.5");
    assert!(of("beta-damascenone", 0.5) > of("beta-ionone", 0.5));
}

#[test]
fn silence_has_no_shares_and_zeros_stay_zero() {
    for exponent in [1.0, 0.4] {
        assert_eq!(shares(&[], exponent), Vec::<f64>::new());
        assert_eq!(shares(&[0.0, 0.0], exponent), [0.0, 0.0]);
        assert_eq!(shares(&[0.0, 5.0], exponent), [0.0, 1.0]);
        // No overflow, whatever the units.
        assert_eq!(shares(&[1e300, 1e300], exponent), [0.5, 0.5]);
    }
}
