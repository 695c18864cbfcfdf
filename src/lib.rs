//! Accord exploration and optimisation for perfumers.
//!
//! # The model
//!
//! A palette has `n` materials and `m` descriptors. A formula has neat parts
//! `x_i >= 0` with `sum x_i = 1000`. Material `i` has a strength `s_i` per unit
//! mass, by dilution (A is 100 times as strong as B when A at 1 % smells as
//! strong as B neat), and scores `a_id`. The target has scores `t_d`, weights
//! `w_d` and factors `excess_d`; descriptors of weight 0 are not looked at.
//!
//! - strength of the formula: `S = sum s_i x_i / 1000`
//! - odour share: `h_i = s_i x_i / sum_j s_j x_j`, the share of an odour activity
//!   value ([`odour`])
//! - profile: `p_d = sum_i s_i x_i a_id / D` with `D = sum_i q_i x_i`, where
//!   `q_i = s_i` for match `level` and `q_i = s_i sum_e a_ie / sum_e t_e` for match
//!   `balance`, which compares at the target's own total
//! - loss: `sum_d w_d (excess_d (p_d - t_d)+ + (t_d - p_d)+)`, in score points
//! - fidelity: `100 max(0, 1 - loss / L0)` percent, `L0 = sum_d w_d t_d` for level
//!   and twice that for balance
//! - second opinion: the same with shares proportional to `(s_i x_i)^0.4`.
//!   The evidence is thin. Of the rated mixtures of the DREAM Olfactory Mixtures
//!   Prediction Challenge 2025 (task 2: 523 of 2 to 10 components, 49 descriptors
//!   used) 393 chose the exponent and the other 130 scored it. There blends by
//!   shares correlate with the ratings at a mean r of 0.711 with exponent 0.3,
//!   0.706 with 0.4 and 0.671 with 1; equal weights, which know neither strength
//!   nor dose, reach 0.671 as well. The gain over 1 is 0.040 (95 % interval 0.024
//!   to 0.057), and two ratings of one mixture correlate at 0.69. No molecule
//!   stands at two ratios in those data: the exponent is inferred across
//!   materials and probably biased low. So the linear rule, which is exact and
//!   reproducible, decides unless the brief's `law` says otherwise: `compressive`, or
//!   `both`, which are two views of which the worse counts ([`problem::view`]).
//!
//! The loss is a ratio `N(x) / D(x)` with `N` convex and piecewise linear. Over
//! continuous doses its minimum is one linear programme (A. Charnes and W. W.
//! Cooper, Naval Research Logistics Quarterly 9, 1962). With counts, least doses
//! and steps it is a sequence of mixed-integer programmes (W. Dinkelbach,
//! Management Science 13, 1967), or the search of [`solve::search`], in which
//! Dinkelbach's parameter is the loss to be beaten.
//!
//! Under the compressive law the same holds in `z_i = (s_i x_i)^0.4`: the loss is a ratio
//! of linear forms, and boxes of doses, quotients of two doses, use and counts stay linear.
//! A brief is convex in `z` where nothing but such rules and upper bounds on sums of doses
//! (caps of groups, limits, a budget) is asked for and an odourless filler without a cap
//! completes the 1000 parts: `sum a x <= b` with `a >= 0` is then a sum of convex powers
//! `z^2.5`. The sum of 1000 without a filler, least sums of groups, least strength, the
//! price of effect and rows of mixed sign are not, and neither is the worse of both laws.
//! So [`solve::curved`] is a branch and bound over spans of doses, for any of these.
//!
//! # From files to a formula
//!
//! ```no_run
//! use permil::{control::Control, files, problem::Problem, solve};
//!
//! let scenario = files::load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
//! let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
//! let solution = solve::propose(&problem, solve::Method::Auto, &Control::default()).expect("a solution");
//! if let Some(answer) = solution.answer {
//!     println!("{:.1} %, {}", answer.evaluation.fidelity_percent, solution.status.word());
//! }
//! ```
//!
//! # Features
//!
//! All but `highs` are on unless `default-features = false` turns them off: `cli` is the
//! program, `serve` the local page, `parallel` computes on all cores, `png` draws charts
//! as PNG. Without any of them the library needs no threads, no disk ([`store`]) and no
//! clock of the machine ([`clock`]), and compiles for `wasm32-unknown-unknown`.

pub mod analysis;
pub mod balance;
pub mod batch;
pub mod brief;
pub mod certificate;
pub mod chance;
pub mod chart;
#[cfg(feature = "cli")]
pub mod cli;
pub mod clock;
pub mod composition;
pub mod control;
pub mod dossier;
pub mod escape;
pub mod evaluate;
pub mod explore;
pub mod files;
pub mod film;
pub mod follow;
pub mod formats;
pub mod formula;
pub mod html;
pub mod limits;
pub mod matches;
pub mod model;
pub mod nose;
pub mod number;
pub mod odour;
pub mod palette;
pub mod place;
pub mod pool;
pub mod portable;
pub mod problem;
pub mod questions;
pub mod results;
pub mod sensitivity;
pub mod sentences;
pub mod solve;
pub mod stage;
pub mod store;
pub mod strength;
pub mod substances;
pub mod table;
pub mod tenacity;
pub mod text;
pub mod thresholds;
pub mod tied;
pub mod tolerance;
pub mod trials;
pub mod units;
pub mod wanted;

/// Version of the program, and of the build where whoever made it said so
/// (`PERMIL_BUILD`, such as a commit).
pub const VERSION: &str = match option_env!("PERMIL_BUILD") {
    Some(build) => build,
    None => env!("CARGO_PKG_VERSION"),
};
