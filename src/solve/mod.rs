//! The one place that knows a solver.
