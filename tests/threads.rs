//! One hard brief on any number of threads: the same formula, the same bound,
//! the same work.

#[path = "../benches/common/mod.rs"]
mod common;

use common::blend::{Rules, TEN_WHOLE_PARTS, problem};
use permil::brief::Match;
use permil::control::Control;
use permil::solve::{Method, Status, propose};

#[test]
fn threads_change_nothing() {
    for (matching, seed) in [(Match::Level, 8), (Match::Balance, 8), (Match::Balance, 6)] {
        let problem = problem(&common::instance(40, 20, seed), Rules { matching, ..TEN_WHOLE_PARTS });
        let answer = |threads: usize, node_limit: Option<u64>| {
            let control = Control { threads: Some(threads), node_limit, ..Control::default() };
            let solution = propose(&problem, Method::Auto, &control).expect("solved");
            let answer = solution.answer.expect("a formula");
            let told = (answer.formula, answer.evaluation.loss.to_bits(), solution.bound.map(f64::to_bits));
            (solution.status, told, solution.nodes, solution.iterations)
        };
        for limit in [None, Some(700)] {
            let alone = answer(1, limit);
            // Enough for the work to have been shared out.
            assert!(alone.2 >= 600, "{} nodes", alone.2);
            assert_eq!(alone.0 == Status::Optimal, limit.is_none());
            for threads in [2, 3, 8] {
                assert_eq!(answer(threads, limit), alone, "{matching:?}, {seed}, {threads} threads, {limit:?}");
            }
        }
    }
}
