#!/usr/bin/env python3
"""Reference values for `permil learn`: maximum a posteriori by SciPy.

Seeded small shelves and trials. With strengths that are certain and match level
the problem is linear: weighted least squares within bounds, by
scipy.optimize.lsq_linear, and the errors from the inverse of the normal matrix.
With uncertain strengths it is solved by scipy.optimize.least_squares within the
same bounds. In some cases the last trial is a natural whose composition is known but
for a rest; the moments of the rest's odds are integrated numerically. No code is
shared with the crate.

    python3 tests/reference/make_learn.py > tests/reference/learn.json
"""

import json

import numpy as np
import scipy
from scipy.integrate import quad
from scipy.optimize import least_squares, lsq_linear
from scipy.stats import norm

SCALE = 10.0
SCORE_ERROR, ZERO_PART = 1.0, 0.5
STRENGTH_ERROR = np.log(1.5)


REST_SCORES, REST_STRENGTH = 0.25 * SCALE, np.log(3.0)


def error_with_rest(own, x, strengths, rest):
    """One standard deviation of a score of a natural. Its parts on the shelf are x (of
    1000); of all of it unknown percent were not identified, and each of lacking is a
    part that the shelf has not, with its strength where that is known."""
    missing = sum(percent for percent, _ in rest["lacking"])
    known = 100 - rest["unknown"] - missing
    odour = float(np.dot(strengths, x)) / 1000 * known
    told = sum(percent * strength for percent, strength in rest["lacking"] if strength is not None)
    untold = rest["unknown"] + sum(percent for percent, strength in rest["lacking"] if strength is None)
    told_mass = sum(percent for percent, strength in rest["lacking"] if strength is not None)
    median = (told + untold * (odour + told) / (known + told_mass)) / odour

    def moment(f):
        return quad(lambda z: f(median * np.exp(REST_STRENGTH * z)) * norm.pdf(z), -15, 15, epsabs=0, epsrel=1e-12,
                    limit=400)[0]

    return float(np.sqrt(own ** 2 * moment(lambda o: (1 + o) ** 2) + REST_SCORES ** 2 * moment(lambda o: o ** 2)))


def case(seed, matching, exponent, certain, rest=None):
    rng = np.random.default_rng(seed)
    n, m, t = 5, 4, 8
    strengths = np.round(10 ** rng.uniform(1, 3, n), 2)
    scores = np.where(rng.uniform(size=(n, m)) < 0.6, rng.integers(1, 10, (n, m)), 0).astype(float)
    scores[:, 0] = np.maximum(scores[:, 0], 1.0)
    doses, judged = [], []
    for _ in range(t):
        x = np.where(rng.uniform(size=n) < 0.7, rng.uniform(0.2, 1, n), 0.0)
        x[rng.integers(n)] += 0.5
        x = x / strengths
        x = np.round(1000 * x / x.sum(), 3)
        x[int(np.argmax(x))] += round(1000 - x.sum(), 9)
        x = np.round(x, 6)
        true_h = (strengths * x * rng.uniform(0.7, 1.4, n)) ** exponent
        p = true_h @ scores / true_h.sum()
        words = sorted(rng.choice(m, size=int(rng.integers(2, m + 1)), replace=False).tolist())
        doses.append(x.tolist())
        judged.append([[d, round(float(np.clip(p[d] + rng.normal(0, 0.8), 0, SCALE)), 2)] for d in words])
    error = 0.8
    trial_errors = [error] * t
    if rest is not None:
        trial_errors[-1] = error_with_rest(error, doses[-1], strengths, rest)
    sd = np.where(scores > 0, SCORE_ERROR, ZERO_PART * SCORE_ERROR)
    # Only what a trial touches is unknown.
    touched = np.zeros((n, m), bool)
    used = np.zeros(n, bool)
    for x, row in zip(doses, judged):
        for i in range(n):
            if x[i] > 0:
                used[i] = True
                for d, _ in row:
                    touched[i, d] = True
    where = [(i, d) for i in range(n) for d in range(m) if touched[i, d]]
    who = [] if certain else [i for i in range(n) if used[i]]
    prior = np.array([scores[i, d] for i, d in where] + [np.log(strengths[i]) for i in who])
    deviations = np.array([sd[i, d] for i, d in where] + [STRENGTH_ERROR for _ in who])

    def unpack(v):
        a, u = scores.copy(), np.log(strengths)
        for (i, d), value in zip(where, v):
            a[i, d] = value
        for i, value in zip(who, v[len(where):]):
            u[i] = value
        return a, u

    def residuals(v):
        a, u = unpack(v)
        out = []
        for x, row, sd_here in zip(doses, judged, trial_errors):
            x = np.array(x)
            h = np.where(x > 0, (np.exp(u) * x) ** exponent, 0.0)
            p = h @ a / h.sum()
            words = [d for d, _ in row]
            y = np.array([points for _, points in row])
            q = p[words]
            if matching == "balance":
                q = q * y.sum() / q.sum()
            out.extend((q - y) / sd_here)
        return np.concatenate([out, (v - prior) / deviations])

    low = np.array([0.0] * len(where) + [-np.inf] * len(who))
    high = np.array([SCALE] * len(where) + [np.inf] * len(who))
    if certain and matching == "level":
        base = residuals(np.zeros(len(prior)))
        jacobian = np.stack([residuals(e) - base for e in np.eye(len(prior))], axis=1)
        found = lsq_linear(jacobian, -base, bounds=(low, high), method="bvls", tol=1e-14)
        values = found.x
    else:
        # The start lies inside: the ends of the scale are reached from there.
        start = np.clip(prior, low + 1e-3, high - 1e-3)
        found = least_squares(residuals, start, bounds=(low, high), xtol=1e-15, ftol=1e-15, gtol=1e-13,
                              x_scale=deviations, max_nfev=20000)
        values, jacobian = found.x, None
        steps = 1e-6
        jacobian = np.stack(
            [(residuals(values + steps * e) - residuals(values - steps * e)) / (2 * steps) for e in np.eye(len(prior))],
            axis=1)
    errors = np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian)))
    result = [{"material": i, "descriptor": d, "value": v, "sd": s} for (i, d), v, s in zip(where, values, errors)]
    result += [{"material": i, "descriptor": None, "value": v, "sd": s}
               for i, v, s in zip(who, values[len(where):], errors[len(where):])]
    natural = {} if rest is None else {"rest": rest, "error_with_rest": trial_errors[-1]}
    return {
        "match": matching, "exponent": exponent, "certain": certain, "error": error, **natural,
        "strengths": strengths.tolist(), "scores": scores.tolist(), "doses": doses, "judged": judged,
        "cost": float(0.5 * np.sum(residuals(values) ** 2)), "unknowns": result,
    }


cases = [case(1, "level", 1.0, True), case(2, "level", 1.0, True), case(3, "level", 0.4, True)]
for seed, (matching, exponent) in enumerate(
        [("level", 1.0), ("level", 0.4), ("balance", 1.0), ("balance", 0.4)], start=10):
    cases.append(case(seed, matching, exponent, False))
for seed, (matching, exponent, rest) in enumerate([
        ("level", 1.0, {"unknown": 6.0, "lacking": []}),
        ("balance", 1.0, {"unknown": 4.0, "lacking": [[5.0, 300.0], [3.0, None]]}),
        ("balance", 0.4, {"unknown": 40.0, "lacking": [[2.0, 5000.0]]})], start=20):
    cases.append(case(seed, matching, exponent, False, rest))
print(json.dumps({"made_by": f"make_learn.py, SciPy {scipy.__version__}, NumPy {np.__version__}", "cases": cases},
                 indent=1, default=float))
