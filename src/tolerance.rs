//! Every tolerance that an answer rests on, in one table: its value, the unit it
//! is in, why it is as it is, and who relies on it.
//!
//! Three of them are told to the user and order all others: a formula is proven
//! when its loss lies within [`loss::PROVEN`] of the bound, two formulas are as
//! near when their losses lie within [`loss::TIE`], and a rule is kept when it is
//! passed by no more than [`rules::REPORTED`]. What the search assumes is tighter
//! than what a report claims, so that nothing slips through between the two; the
//! assertions below the table hold these orders.
//!
//! Not here, on purpose: what settings of a method are no tolerances (how many
//! nodes, how wide a neighbourhood), how figures are shown, and the copies of the
//! certificate's check (`certificate`), which shares nothing with the search: a
//! tolerance that is wrong here must not be wrong there as well.

/// Losses, as a share of max(1, loss) in score points unless said otherwise.
pub mod loss {
    /// Proven best: loss and bound differ by no more. Told in every report as
    /// `optimal`; `solve`, `analysis`.
    pub const PROVEN: f64 = 1e-6;
    /// Ties: formulas whose losses differ by less are as near, and the cheaper one
    /// is kept. A fifth of the margin, so that ties of ties stay proven; the
    /// search, `solve::cheapest`, `solve::nearest`, `solve::traces`,
    /// `solve::borrowed`, curves, `buy`.
    pub const TIE: f64 = 1e-7;
    /// A better formula must beat the incumbent by this much. Half of
    /// [`PROVEN`], so that a finished search is a proof; the search, and whoever
    /// hands it a ceiling that a tie must stay below.
    pub const CUTOFF_MARGIN: f64 = 5e-7;
    /// A certificate claims a loss this far below the formula's: a little less
    /// than [`PROVEN`], so that what it shows is as much as the report says;
    /// `solve::certify`.
    pub const CERTIFICATE_BELOW: f64 = 9e-7;
    /// The claim lies this far below the loss that the certificate's tree is
    /// built for: room for multipliers of few digits; `search::prove`.
    pub const CERTIFICATE_ROOM: f64 = 5e-8;
    /// Loosening a rule counts where it lowers the loss by more than this, in
    /// score points: what is not proven to differ is no reason; `worth`.
    pub const COUNTS: f64 = 1e-6;
    /// A descriptor is worse where its gap adds more than this to the loss, in
    /// score points; `push`.
    pub const WORSE: f64 = 1e-6;
    /// A ceiling is kept when it is passed by no more; the size of a tie;
    /// `solve::extent`.
    pub const WITHIN_CEILING: f64 = 1e-7;
    /// How far below a ceiling an end is looked for, as a share of it, so that
    /// rounding stays within; `solve::extent`.
    pub const BELOW_CEILING: f64 = 1e-10;
    /// A price below the incumbent's counts as cheaper from this share on: what
    /// adding up in another order does not reach; the search.
    pub const CHEAPER: f64 = 1e-12;
    /// The same for a price that a borrowed solver's programme claims;
    /// `solve::borrowed`.
    pub const CHEAPER_BORROWED: f64 = 1e-9;
    /// The steepest part of a curve that is not looked into, as a part of the
    /// worst loss: a two-hundredth of a point of fidelity; `stairs`.
    pub const FLAT: f64 = 5e-5;
    /// An improvement of a steadier formula below this, in points of fidelity, is
    /// none; `steady`.
    pub const STEADIER: f64 = 1e-4;
}

/// Clocks of films, as a part of them unless said otherwise.
pub mod clocks {
    /// Clocks that differ by no more are the same: of one formula they are computed
    /// in two ways; `solve::clocks`, stages of reports.
    pub const SAME: f64 = 1e-9;
    /// How many times clocks are taken from the best formula before that counts as
    /// a circle; `solve::clocks`.
    pub const ROUNDS: usize = 12;
    /// A bound over boxes of clocks is as good as closed when it comes so near to the
    /// loss of the best formula, as a part of that; `solve::boxes`.
    pub const CLOSED: f64 = 0.005;
    /// Boxes that are looked at, at most; `solve::boxes`.
    pub const BOXES: u64 = 4_000;
    /// The same where whole parts are asked for, and what any doses reach stands beside
    /// them.
    pub const BOXES_ASIDE: u64 = 400;
    /// A box is not split where its clocks differ by less; `solve::boxes`.
    pub const THINNEST: f64 = 1e-7;
}

/// Rules, as a share of the size of their row (the largest of |bound| and the sum
/// of |terms|) unless said otherwise.
pub mod rules {
    /// How far a reported formula may pass a rule: below what any balance tells;
    /// `problem::check`, every report.
    pub const REPORTED: f64 = 1e-6;
    /// How far a formula that the search accepts may pass one. Tighter than
    /// [`REPORTED`], so that nothing slips through between the two;
    /// `problem::check` as the judge of the search.
    pub const SEARCHED: f64 = 1e-9;
    /// Over continuous doses a material whose share of the odour lies this near to
    /// a tenth of its share of the weight, as a part of that tenth, is not idle:
    /// the last digits of such doses are a solver's. As much as the search lets
    /// them pass any rule. Over whole parts exact fractions decide;
    /// `problem::idle`.
    pub const IDLE_EDGE: f64 = 10.0 * SEARCHED;
    /// A rule that continuous doses come this near holds them; `worth`, `push`.
    pub const HOLDS: f64 = 1e-6;
    /// The same of a formula in whole parts, whose steps keep it further off;
    /// `push`.
    pub const HOLDS_IN_PARTS: f64 = 5e-3;
    /// A row that the greatest doses come within this of is kept in the model;
    /// `model::rows`.
    pub const IDLE: f64 = 1e-9;
    /// Room that is left for rounding where a row caps a dose, and a limit whose
    /// room is no more than this share of it has none: decimals that take each
    /// other away leave a trace in binary; `model::rows`.
    pub const DECIMALS: f64 = 1e-12;
    /// What binary arithmetic leaves of decimals that are taken from each other,
    /// as a share of them: 64 roundings. By so much, of what took itself away,
    /// coefficients are off; `model::rows`.
    pub const CANCELLED: f64 = 64.0 * f64::EPSILON;
    /// What is left of a limit below this share of it is rounding; `full`.
    pub const FULL: f64 = 1e-6;
    /// A limit stands this share of itself beyond the blend that reaches it, so
    /// that rounding does not shut that blend out; `axis`, `caps`, `loosen`.
    pub const BEYOND: f64 = 1e-9;
    /// The least repair of a rule is bracketed to this share of the distance
    /// moved; `repair`.
    pub const REPAIRED: f64 = 5e-4;
}

/// Doses, in ppt unless said otherwise.
pub mod doses {
    /// Added, in units of 1e-9 ppt, before a cap is rounded down to whole units:
    /// binary rounding takes away no unit that the decimals allow;
    /// `model::rows`.
    pub const UNIT: f64 = 1e-3;
    /// A dose within this share of another is the same: below what any balance
    /// tells; `push`.
    pub const SAME: f64 = 1e-6;
    /// Doses that differ by less are equal: one unit; `journal`, `tradeoff`.
    pub const EQUAL: f64 = 1e-9;
    /// A continuous dose that a borrowed solver returns counts as used above
    /// this; `solve::borrowed`.
    pub const BORROWED: f64 = 1e-9;
    /// Parts that a change tells apart; `solve::nearest`.
    pub const MOVED: f64 = 1e-4;
    /// Percentage points of a share that a report tells from none;
    /// `results::near`.
    pub const SHARE_MOVED: f64 = 1e-6;
    /// A dose below this share of the least step is a trace; `solve::traces`.
    pub const TRACE_OF_STEP: f64 = 1e-3;
    /// An end of a range without a step is looked for to this share of itself;
    /// `ends`.
    pub const END: f64 = 1e-3;
    /// A wall over continuous doses is taken this share of itself, and as much in
    /// ppt, further out, since it is rounded; `ends`.
    pub const WALL: f64 = 1e-6;
    /// The share of an addition is known to within this; `add`.
    pub const ADDED: f64 = 1e-9;
    /// An addition of less than this share of the batch is none: what halving
    /// leaves; `add`.
    pub const ADDED_TRACE: f64 = 1e-7;
    /// The furthest end of an amount is certain when its proof lies no further
    /// beyond it than this share of what a whole formula adds up to;
    /// `solve::extent`, `solve::reach`.
    pub const END_PROVEN: f64 = 1e-6;
}

/// The bounded dual simplex method, in the scaled units of its programme.
pub mod simplex {
    /// A value may pass a bound by this much times (1 + |bound|): far below what
    /// rules are judged by, far above what doubles lose in a hundred pivots.
    pub const PRIMAL: f64 = 1e-9;
    /// Pivots smaller than this ruin the inverse, and are not taken.
    pub const PIVOT: f64 = 1e-7;
    /// Entries of a pivot row smaller than this are rounding.
    pub const NEGLIGIBLE: f64 = 1e-9;
    /// A basis that a change of its entries leaves with a pivot below this is taken for
    /// singular, and its inverse computed afresh.
    pub const SINGULAR: f64 = 1e-6;
    /// Breakpoints of the ratio test this close to each other are tied, and the
    /// largest pivot among them is taken.
    pub const TIED_RATIO: f64 = 1e-10;
    /// An objective that rises by less has not moved: then the method may be in a
    /// cycle.
    pub const RISEN: f64 = 1e-13;
    /// Least amount that costs are perturbed by to leave a cycle.
    pub const PERTURBATION: f64 = 1e-9;
    /// A pivot that is computed twice may differ by this much times (1 + |pivot|)
    /// before the inverse is computed afresh.
    pub const DISAGREES: f64 = 1e-6;
    /// The most that one operation rounds away, as a share of its result: a sum
    /// of n terms is off by less than n + 1 times this, of the sum of |terms|
    /// (Higham, Accuracy and Stability of Numerical Algorithms, 2002, 4.2). A
    /// whole epsilon instead of half of one allows for the rounding of this
    /// estimate. Every safe bound rests on it.
    pub const ROUNDING: f64 = f64::EPSILON;
    /// A sum of such estimates is taken this share larger, for its own rounding.
    pub const DOUBT_WIDER: f64 = 1e-9;
}

/// The search above the simplex method.
pub mod search {
    /// Bounds on D and on gaps are taken this share wider, so that rounding cuts
    /// off no formula; `relaxation`, `node`.
    pub const WIDER: f64 = 1e-9;
    /// The D of a further view is measured by its greatest value times this at least:
    /// where nearly all has evaporated from some formulas, their D is no measure for
    /// others; `relaxation`.
    pub const FAINT: f64 = 1e-3;
    /// A rule whose row no dose keeps by more than this, times (1 + |bound|) of
    /// the scaled row, leaves no formula; less may be rounding; `relaxation`.
    pub const ROW_ROOM: f64 = 1e-9;
    /// Dinkelbach's method has settled at the root when the loss falls by less,
    /// as a share of max(1, loss).
    pub const ROOT_SETTLED: f64 = 1e-11;
    /// So far below that loss the root's bound is tried, one after the other, as a
    /// share of max(1, loss): rounding spoils a bound at the loss itself.
    pub const ROOT_HAIRS: [f64; 3] = [1e-10, 1e-8, 1e-7];
    /// The same method has settled in a dive, where the point is only rounded.
    pub const DIVE_SETTLED: f64 = 1e-6;
    /// The same for a continuous optimum, which is the answer itself.
    pub const CONTINUOUS_SETTLED: f64 = 1e-13;
    /// A material whose share of D is no more than this is not used; `point`.
    pub const PRESENT: f64 = 1e-8;
    /// Continuous doses below this share of D and of the formula are traces: the
    /// last digits of the simplex method; `point`.
    pub const TRACE: f64 = 1e-6;
    /// A dose is below its least one from this share on; `point`.
    pub const BELOW_LEAST: f64 = 1e-9;
    /// A dose is on its grid within this, in units of its column (three times
    /// what the simplex method leaves), and within these shares of a step at
    /// least and at most; `point`.
    pub const ON_GRID: f64 = 3e-9;
    /// See [`ON_GRID`].
    pub const ON_GRID_LEAST: f64 = 1e-6;
    /// See [`ON_GRID`].
    pub const ON_GRID_MOST: f64 = 0.1;
    /// A remainder this share of a step away from what coarse doses complete is
    /// split on; `branching`.
    pub const UNCOMPLETED: f64 = 1e-4;
    /// Reduced-cost fixing takes the gap to the cutoff this share larger, so that
    /// its comparisons stay on the cautious side.
    pub const GAP_WIDER: f64 = 1e-9;
    /// And this much more, in scaled units of the objective, for a gap of nearly
    /// nothing.
    pub const GAP_MORE: f64 = 1e-13;
    /// A reduced cost this small moves no dose; reduced-cost fixing.
    pub const FLAT: f64 = 1e-12;
    /// Formulas of rounding whose merits differ by less are as good: exchanges
    /// end; `rounding`.
    pub const SAME_MERIT: f64 = 1e-12;
    /// A part of a certificate is split by D while its ends lie further apart
    /// than this share; `prove_part`.
    pub const NARROW_SPAN: f64 = 1e-6;
    /// Where D may be nothing at all, it is split from this share of its most;
    /// `prove_part`.
    pub const LEAST_OF_SPAN: f64 = 1e-6;
}

/// Solvers that are borrowed, and the check of what they answer.
pub mod borrowed {
    /// Greatest violation of a row or bound that an answer may have, as
    /// `Programme::violation` measures it.
    pub const FEASIBILITY: f64 = 1e-7;
    /// Greatest distance between an objective and the bound that its multipliers
    /// prove, relative to the larger of 1 and |objective|.
    pub const GAP: f64 = 1e-6;
    /// How far from a whole number an integer column may come back.
    pub const WHOLE: f64 = 1e-6;
    /// A reduced cost of this size, relative to the terms it is made of, counts
    /// as zero where the column has no bound on that side.
    pub const RESIDUE: f64 = 1e-7;
    /// A ray must improve the objective by this part of the largest cost.
    pub const RAY: f64 = 1e-6;
    /// Farkas multipliers must prove a violation of this part of their terms.
    pub const FARKAS: f64 = 1e-9;
    /// Relative and absolute gap, and feasibility, that Clarabel is asked for.
    /// Where it gets stuck short of them it falls back on its reduced tolerances,
    /// and the checks decide.
    pub const CLARABEL: f64 = 1e-10;
    /// Both feasibility tolerances of HiGHS. With its own of 1e-6 a count of six
    /// materials can come back with seven.
    pub const HIGHS: f64 = 1e-9;
    /// Dinkelbach's method has converged when N - lambda D can be improved by no
    /// more than this times max(1, |lambda|), N and D being divided by the D of
    /// the best point so far.
    pub const CONVERGED: f64 = 1e-9;
    /// A scale tau of this size or less, beside the columns, is no scale: the
    /// point would lie a thousand million times further out than the data.
    pub const NO_SCALE: f64 = 1e-9;
}

/// Places along a curve and figures of a shelf, as shares of the whole.
pub mod curves {
    /// Intervals of a curve narrower than this are not halved; `curve`, `stairs`.
    pub const NARROWEST: f64 = 1e-4;
    /// A price of effect that falls by less than this share has settled; `axis`.
    pub const PRICE_SETTLED: f64 = 1e-12;
    /// Decimal places are tried by ceilings and floors that let this much pass as
    /// rounding; `repair`, `loosen`.
    pub const DIGITS: f64 = 1e-9;
    /// Shares that differ by less are the same; `apart`, palette maps and twins (in
    /// percent), strengths that disagree most, distances of starts.
    pub const SAME_SHARE: f64 = 1e-9;
    /// Differences of profiles below this part of all are rounding; palette maps.
    pub const NO_DIFFERENCE: f64 = 1e-12;
}

/// Fits to trials and dilution matches, and what follows from scores.
pub mod fits {
    /// A sum of scores that is smaller, in points, smells of nothing that was
    /// judged, and nothing is divided by less; `learn`.
    pub const NO_SCORE: f64 = 1e-6;
    /// A fit of scores is at rest when no value moves by more than this share of
    /// its prior's deviation; `learn`.
    pub const REST: f64 = 1e-9;
    /// The same where tenacities are among the unknowns: scores are judged to a tenth of a
    /// deviation at best, and steps become shorter by so little each time that the digits
    /// beyond take four times as many; `learn`.
    pub const REST_OF_LASTING: f64 = 1e-4;
    /// A fit of strengths is at its peak when a step promises less than this share
    /// of 1 + the sum of squares; `strengths`.
    pub const PROMISE: f64 = 1e-18;
    /// The same where a step brought nothing: rounding is all that is left.
    pub const ROUNDED_PROMISE: f64 = 1e-9;
    /// A step of a fit is not halved below this part of itself; `strengths`.
    pub const LEAST_PART: f64 = 1e-12;
    /// What is left of a comparison without itself is divided by this at least;
    /// `strengths`.
    pub const LEAST_REST: f64 = 1e-9;
    /// A score of a blend this far below its target, in points, reaches it;
    /// `doubt`.
    pub const REACHED: f64 = 1e-9;
    /// Logarithms of times this far beyond a factor lie within it; `learn`.
    pub const WITHIN_FACTOR: f64 = 1e-9;
}

// What the search assumes is tighter than what is claimed.
const _: () = {
    assert!(2.0 * loss::CUTOFF_MARGIN <= loss::PROVEN);
    assert!(loss::CERTIFICATE_BELOW + loss::CERTIFICATE_ROOM < loss::PROVEN);
    assert!(loss::TIE < loss::CUTOFF_MARGIN && loss::CHEAPER < loss::TIE);
    assert!(rules::SEARCHED < rules::REPORTED && rules::HOLDS <= rules::HOLDS_IN_PARTS);
    assert!(simplex::PRIMAL < borrowed::FEASIBILITY && simplex::PRIMAL <= rules::SEARCHED);
    assert!(simplex::ROUNDING < search::WIDER && search::CONTINUOUS_SETTLED < search::ROOT_SETTLED);
};
