//! What a search calls proven is true of every formula there is, also where it
//! was stopped early: a bound that lies too high would call a poor formula the
//! best, or a good one impossible.

mod support;

use permil::control::Control;
use permil::solve::{Method, Status, propose};
use support::listing::least_by_listing;
use support::load;
use support::random::scenario;

#[test]
fn no_bound_lies_above_the_best_formula_that_listing_finds() {
    let (mut finished, mut stopped) = (0, 0);
    for seed in 0..80 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        let Some(least) = least_by_listing(&problem) else { continue };
        for nodes in [1, 3, 10, 30, 100, 20_000] {
            let control = Control { node_limit: Some(nodes), ..Control::default() };
            let solution = propose(&problem, Method::Auto, &control).expect("a method for every problem");
            if solution.status == Status::Infeasible {
                assert!(least.is_infinite(), "seed {seed}: {least} is there");
                continue;
            }
            let Some(bound) = solution.bound else { continue };
            assert!(bound <= least * (1.0 + 1e-12), "seed {seed}, {nodes} nodes: {bound} above {least}");
            if solution.status == Status::Optimal {
                // No further below than what still counts as proven.
                assert!(bound >= least - 1e-6 * least.max(1.0), "seed {seed}: {bound} far below {least}");
                finished += 1;
            } else {
                stopped += 1;
            }
        }
    }
    assert!(finished > 100 && stopped > 20, "{finished} finished, {stopped} stopped early");
}
