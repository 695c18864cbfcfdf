//! What multipliers prove, held against exact fractions.

use super::*;

/// minimise -x - 2y, x + y + s = 3, 0 <= x, y <= 2, 0 <= s <= 3.
fn small() -> BoxedLp {
    let mut lp = BoxedLp::new(1);
    lp.rhs[0] = 3.0;
    lp.push(-1.0, [(0, 1.0)]);
    lp.push(-2.0, [(0, 1.0)]);
    lp.push(0.0, [(0, 1.0)]);
    lp
}

#[test]
fn any_multipliers_bound_from_below() {
    let (lp, mut bound) = (small(), SafeBound::default());
    let boxes = Boxes { lower: &[0.0; 3], upper: &[2.0, 2.0, 3.0], live: &[0, 1, 2] };
    // The optimum is -5 at x = 1, y = 2, and -1 is the best multiplier.
    for (pi, expected) in [(-1.0, -5.0), (0.0, -6.0), (-2.0, -6.0), (1.0, -10.0)] {
        lp.safe_bound(&[pi], boxes, &mut bound);
        assert!(bound.value <= expected && bound.value > expected - 1e-9, "{pi}: {}", bound.value);
    }
}

#[test]
fn infeasibility_needs_a_combination_that_cannot_hold() {
    let lp = small();
    let proves = |multiplier: f64, lower: [f64; 3], upper: [f64; 3]| {
        lp.proves_infeasible(&[multiplier], Boxes { lower: &lower, upper: &upper, live: &[0, 1, 2] })
    };
    assert!(!proves(1.0, [0.0; 3], [2.0, 2.0, 3.0]));
    assert!(proves(1.0, [0.0; 3], [1.0, 1.0, 0.5]));
    assert!(proves(-1.0, [2.0, 2.0, 0.0], [2.0, 2.0, 3.0]));
}

/// What is proven is proven of the numbers as they are: no bound lies above
/// the one that exact arithmetic gives for the same multipliers. Without the
/// rounding deducted, one in many does.
#[test]
fn no_bound_lies_above_the_exact_one() {
    use num_rational::BigRational;
    use num_traits::Zero;
    let exact = |value: f64| BigRational::from_float(value).expect("finite");
    let mut random = crate::chance::Chance::new(9, 0);
    let (mut bound, mut rounded_up) = (SafeBound::default(), 0);
    for _ in 0..2000 {
        let (rows, columns) = (3, 6);
        let mut lp = BoxedLp::new(rows);
        lp.rhs.iter_mut().for_each(|rhs| *rhs = random.between(-1.0, 1.0));
        for _ in 0..columns {
            let entries: Vec<(usize, f64)> = (0..rows).map(|row| (row, random.between(-1.0, 1.0))).collect();
            lp.push(random.between(-1.0, 1.0), entries);
        }
        let lower: Vec<f64> = (0..columns).map(|_| random.between(0.0, 1.0)).collect();
        let upper: Vec<f64> = lower.iter().map(|lower| lower + random.between(0.0, 1.0)).collect();
        let pi: Vec<f64> = (0..rows).map(|_| random.between(-3.0, 3.0)).collect();
        let live: Vec<u32> = (0..columns as u32).collect();
        lp.safe_bound(&pi, Boxes { lower: &lower, upper: &upper, live: &live }, &mut bound);

        let mut whole = BigRational::zero();
        let mut plain = 0.0;
        for (row, pi) in pi.iter().enumerate() {
            whole += exact(*pi) * exact(lp.rhs[row]);
            plain += pi * lp.rhs[row];
        }
        for j in 0..columns {
            let reduced = lp.column(j).fold(exact(lp.cost[j]), |d, (row, a)| d - exact(pi[row]) * exact(a));
            whole += (&reduced * exact(lower[j])).min(&reduced * exact(upper[j]));
            let reduced = lp.cost[j] - lp.dot(&pi, j);
            plain += (reduced * lower[j]).min(reduced * upper[j]);
        }
        assert!(exact(bound.value) <= whole, "{} above {whole}", bound.value);
        assert!(bound.value > plain - 1e-12, "{} far below {plain}", bound.value);
        rounded_up += usize::from(exact(plain) > whole);
    }
    assert!(rounded_up > 200, "{rounded_up} would lie above");
}

/// 0.1 x + 0.2 y = 0.3 holds at x = y = 1, though not in doubles.
#[test]
fn rounding_alone_rules_out_no_point() {
    let mut lp = BoxedLp::new(1);
    lp.rhs[0] = 0.3;
    lp.push(0.0, [(0, 0.1)]);
    lp.push(0.0, [(0, 0.2)]);
    let ones = [1.0; 2];
    let boxes = Boxes { lower: &ones, upper: &ones, live: &[0, 1] };
    assert_ne!(0.1 + 0.2, 0.3);
    for multiplier in [1.0, -1.0, 1e6, -1e-6] {
        assert!(!lp.proves_infeasible(&[multiplier], boxes), "{multiplier}");
        assert!(!lp.falls_short(&[multiplier], boxes), "{multiplier}");
    }
    // A billionth short is short.
    lp.rhs[0] = 0.3 + 1e-9;
    assert!(lp.proves_infeasible(&[1.0], boxes) && lp.proves_infeasible(&[-1.0], boxes));
    assert!(lp.falls_short(&[1.0], boxes) && !lp.falls_short(&[-1.0], boxes));
}

/// The exact value of a double.
fn exact(value: f64) -> num_rational::BigRational {
    num_rational::BigRational::from_float(value).expect("finite")
}

/// Decimals that take each other away leave a reduced cost that is nothing but
/// rounding, of one sign or the other, and boxes reach far on both sides: the bound is
/// not above the exact one, and no further below than rounding is.
#[test]
fn what_is_left_of_decimals_has_no_sign() {
    let mut random = crate::chance::Chance::new(4, 0);
    let (mut bound, mut plain_above) = (SafeBound::default(), 0);
    for case in 0..1200 {
        let decimal = |random: &mut crate::chance::Chance| (random.between(1.0, 1000.0)).round() / 100.0;
        // One entry or several, of ones or of anything.
        let rows = 1 + case % 4;
        let (is_ones, scale) = (case % 8 < 4, if case % 3 == 0 { 1e6 } else { 1.0 });
        let mut lp = BoxedLp::new(rows);
        let entries: Vec<f64> = (0..rows).map(|_| if is_ones { 1.0 } else { decimal(&mut random) }).collect();
        let pi: Vec<f64> = (0..rows).map(|_| decimal(&mut random) * scale).collect();
        let cost = (entries.iter().zip(&pi).map(|(a, pi)| a * pi).sum::<f64>() * 1e4).round() / 1e4;
        lp.push(cost, entries.iter().copied().enumerate());
        lp.push(1.0, []);
        let ends = [(-1000.0, 1.0), (-1.0, 1000.0), (0.0, 1000.0)][case % 3];
        // The second column is held at 0, and its cost counts nothing.
        let boxes = Boxes { lower: &[ends.0, 0.0], upper: &[ends.1, 0.0], live: &[0, 1] };
        lp.safe_bound(&pi, boxes, &mut bound);
        assert_eq!(bound.reduced[1], 0.0);
        let d = entries.iter().zip(&pi).fold(exact(cost), |d, (a, pi)| d - exact(*a) * exact(*pi));
        let whole = (&d * exact(ends.0)).min(&d * exact(ends.1));
        assert!(exact(bound.value) <= whole, "{case}: {} above {whole}", bound.value);
        // A slack alone is off by its own rounding, whatever it is the difference of.
        let size = if rows == 1 && is_ones { 1.0 } else { 1e4 * scale };
        let least = 1e-15 * size * 1000.0 * 4.0;
        assert!(exact(bound.value + least) >= whole, "{case}: {} far below {whole}", bound.value);
        let rounded = cost - lp.dot(&pi, 0);
        plain_above += usize::from(exact((rounded * ends.0).min(rounded * ends.1)) > whole);
    }
    assert!(plain_above > 100, "{plain_above} would lie above");
}

/// A point that meets the rows exactly is ruled out by no multipliers, whatever is lost
/// of them in doubles; a millionth beside it is.
#[test]
fn no_point_that_meets_the_rows_is_ruled_out() {
    let mut random = crate::chance::Chance::new(6, 0);
    let mut plain_rules_out = 0;
    for case in 0..800 {
        let (rows, columns) = (1 + case % 4, 1 + case % 5);
        let mut lp = BoxedLp::new(rows);
        let point: Vec<f64> = (0..columns).map(|_| random.between(-50.0, 50.0).round()).collect();
        for x in &point {
            // Of a few binary digits, so that rows times whole numbers are exact.
            let entries: Vec<f64> = (0..rows).map(|_| (random.between(-1.0, 1.0) * 1024.0).round() / 1024.0).collect();
            entries.iter().zip(&mut lp.rhs).for_each(|(a, rhs)| *rhs += a * x);
            lp.push(0.0, entries.into_iter().enumerate());
        }
        let pi: Vec<f64> = (0..rows).map(|_| random.between(-1e3, 1e3)).collect();
        let live: Vec<u32> = (0..columns as u32).collect();
        let boxes = Boxes { lower: &point, upper: &point, live: &live };
        assert!(!lp.proves_infeasible(&pi, boxes) && !lp.falls_short(&pi, boxes), "{case}");
        let sum: f64 = (0..columns).map(|j| lp.dot(&pi, j) * point[j]).sum();
        plain_rules_out += usize::from(sum != pi.iter().zip(&lp.rhs).map(|(pi, b)| pi * b).sum::<f64>());
        // More is wanted than there is, and less.
        for (more, falls_short) in [(1e-6, true), (-1e-6, false)] {
            let mut other = lp.clone();
            other.rhs[0] += more * pi[0].signum();
            if pi[0].abs() > 1.0 {
                assert!(other.proves_infeasible(&pi, boxes), "{case}");
                assert_eq!(other.falls_short(&pi, boxes), falls_short, "{case}");
            }
        }
    }
    assert!(plain_rules_out > 100, "{plain_rules_out} would be ruled out");
}

/// Where the sign of a reduced cost is certain, the other end of the box does not count,
/// however far away it is.
#[test]
fn the_far_end_of_a_box_adds_no_doubt() {
    let mut bound = SafeBound::default();
    for (cost, box_of) in [(1.0, (0.0, 1e15)), (-1.0, (-1e15, 0.0))] {
        let mut lp = BoxedLp::new(1);
        lp.push(cost, [(0, 0.3)]);
        lp.safe_bound(&[0.1], Boxes { lower: &[box_of.0], upper: &[box_of.1], live: &[0] }, &mut bound);
        assert_eq!(bound.value, 0.0, "{cost}");
    }
}

/// A bound is in the unit of the cost: what is rounded goes with the size of the numbers.
/// Powers of two change nothing else.
#[test]
fn a_bound_goes_with_the_unit_of_the_cost() {
    let mut random = crate::chance::Chance::new(2, 0);
    let (mut bound, mut scaled) = (SafeBound::default(), SafeBound::default());
    for exponent in [-40, -1, 1, 40] {
        let unit = 2_f64.powi(exponent);
        let (mut lp, mut other) = (BoxedLp::new(3), BoxedLp::new(3));
        lp.rhs.iter_mut().zip(&mut other.rhs).for_each(|(a, b)| (*a, *b) = (0.7, 0.7));
        for _ in 0..6 {
            let entries: Vec<(usize, f64)> = (0..3).map(|row| (row, random.between(-1.0, 1.0))).collect();
            let cost = random.between(-1.0, 1.0);
            lp.push(cost, entries.iter().copied());
            other.push(cost * unit, entries);
        }
        let pi: Vec<f64> = (0..3).map(|_| random.between(-3.0, 3.0)).collect();
        let other_pi: Vec<f64> = pi.iter().map(|pi| pi * unit).collect();
        let boxes = Boxes { lower: &[0.25; 6], upper: &[1.5; 6], live: &[0, 1, 2, 3, 4, 5] };
        lp.safe_bound(&pi, boxes, &mut bound);
        other.safe_bound(&other_pi, boxes, &mut scaled);
        assert_eq!(bound.value * unit, scaled.value, "{exponent}");
    }
}

/// A reduced cost of four of its last digits below 0, where rounding may have made it so
/// or half a digit less: its sign is not certain, and the upper end counts as well.
#[test]
fn where_no_sign_is_certain_both_ends_count() {
    let mut random = crate::chance::Chance::new(8, 0);
    let (mut bound, mut beyond) = (SafeBound::default(), 0);
    for case in 0..200 {
        let (pi, a) = (random.between(1.0, 1.02), random.between(1.0, 1.02));
        let cost = pi * a - 4.0 * f64::EPSILON;
        let mut lp = BoxedLp::new(1);
        lp.push(cost, [(0, a)]);
        lp.safe_bound(&[pi], Boxes { lower: &[0.0], upper: &[1000.0], live: &[0] }, &mut bound);
        let whole = (exact(cost) - exact(pi) * exact(a)) * exact(1000.0);
        assert!(exact(bound.value) <= whole, "{case}: {} above {whole}", bound.value);
        assert!(bound.value > -1e-11, "{case}: {}", bound.value);
        beyond += usize::from(exact(-4.1 * f64::EPSILON * 1000.0) > whole);
    }
    assert!(beyond > 20, "{beyond} lie further out than the doubt alone");
    // Below 0 on both sides nothing of nothing is nothing.
    let mut lp = BoxedLp::new(1);
    lp.push(0.1 * 3.0, [(0, 0.1)]);
    lp.safe_bound(&[3.0], Boxes { lower: &[-1000.0], upper: &[-1.0], live: &[0] }, &mut bound);
    assert!(bound.value <= 0.0 && bound.value > -1e-9, "{}", bound.value);
}

/// x + y = -3 has a point where x reaches from -5 to 0, and none where it is 0.
#[test]
fn a_box_that_ends_at_nothing_counts() {
    let mut lp = BoxedLp::new(1);
    lp.rhs[0] = -3.0;
    lp.push(0.0, [(0, 1.0)]);
    lp.push(0.0, [(0, 1.0)]);
    let proves =
        |lower: [f64; 2]| lp.proves_infeasible(&[1.0], Boxes { lower: &lower, upper: &[0.0, 2.0], live: &[0, 1] });
    assert!(!proves([-5.0, 0.0]) && proves([0.0, 0.0]) && proves([-2.5, 0.0]));
}

/// Multipliers that take each other away, in rows that a point meets exactly: nothing is
/// left but the rounding inside each column, which grows with the number of rows.
#[test]
fn rounding_inside_a_column_rules_out_no_point() {
    let mut random = crate::chance::Chance::new(3, 0);
    for (rows, cases) in [(2, 400), (16, 100), (2000, 4)] {
        let mut plain_rules_out = 0;
        for case in 0..cases {
            let v: Vec<f64> = (0..rows).map(|_| (random.between(0.25, 1.0) * 1024.0).round() / 1024.0).collect();
            // The first half adds up, the other half takes it away.
            let sign = |row: usize| if row < rows / 2 { 1.0 } else { -1.0 };
            let mut pi: Vec<f64> = (0..rows).map(|row| sign(row) * random.between(0.25, 1.0)).collect();
            let others: f64 = pi.iter().zip(&v).take(rows - 1).map(|(pi, v)| pi * v).sum();
            pi[rows - 1] = -others / v[rows - 1];
            let mut lp = BoxedLp::new(rows);
            lp.push(0.0, v.iter().copied().enumerate());
            lp.push(0.0, v.iter().map(|v| -3.0 * v).enumerate());
            let point = [3e6, 1e6];
            let boxes = Boxes { lower: &point, upper: &point, live: &[0, 1] };
            assert!(!lp.proves_infeasible(&pi, boxes), "{rows} rows, case {case}");
            assert!(!lp.falls_short(&pi, boxes), "{rows} rows, case {case}");
            plain_rules_out += usize::from(lp.dot(&pi, 0) * point[0] + lp.dot(&pi, 1) * point[1] != 0.0);
        }
        assert!(2 * plain_rules_out > cases / 4, "{plain_rules_out} of {cases} would be ruled out at {rows} rows");
    }
}

/// Each row is met by a column of its own. The same products are added up from the first to
/// the last and from the last to the first, and what rounding makes of that proves nothing.
#[test]
fn the_order_of_a_long_sum_proves_nothing() {
    let mut random = crate::chance::Chance::new(5, 0);
    let (rows, mut apart) = (2000, 0);
    for case in 0..20 {
        let mut lp = BoxedLp::new(rows);
        for row in 0..rows {
            lp.rhs[row] = random.between(0.0, 1.0);
            lp.push(0.0, [(row, 1.0)]);
        }
        let point = lp.rhs.clone();
        let pi: Vec<f64> = (0..rows).map(|_| random.between(0.0, 1.0)).collect();
        let live: Vec<u32> = (0..rows as u32).rev().collect();
        let boxes = Boxes { lower: &point, upper: &point, live: &live };
        assert!(!lp.proves_infeasible(&pi, boxes) && !lp.falls_short(&pi, boxes), "{case}");
        let products = || pi.iter().zip(&point).map(|(pi, b)| pi * b);
        apart += usize::from(products().sum::<f64>() != products().rev().sum::<f64>());
    }
    assert!(apart > 10, "{apart} sums differ by their order");
}
