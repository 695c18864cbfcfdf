#!/usr/bin/env python3
"""Strengths from dilution matches, worked out with SciPy: the reference of tests/strengths.rs.

Everything here is made up and seeded. For each case: log-strengths of a prior, pairs that smelled
equal (weighted least squares: numpy.linalg.lstsq on rows scaled by their errors) and pairs of which
one was the stronger (a probit likelihood: scipy.stats.norm.logcdf). Cases with equal pairs alone are
solved by least squares, the others by scipy.optimize.minimize (BFGS, then Newton-CG polished with
numerical second derivatives); standard errors come from the inverse of the second derivatives.

    python3 make_strengths.py      # writes strengths.json
"""
import json
from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import minimize
from scipy.stats import norm

HERE = Path(__file__).parent


def make(seed, materials, equal, stronger):
    random = np.random.default_rng(seed)
    mean = random.uniform(np.log(2), np.log(5000), materials)
    deviation = random.uniform(0.2, 1.2, materials)
    truth = mean + deviation * random.standard_normal(materials)
    truth[0] = mean[0]
    pairs = []
    for verdict, count in (("equal", equal), ("stronger", stronger)):
        for _ in range(count):
            a, b = random.choice(materials, 2, replace=False)
            error = random.uniform(0.15, 0.6)
            percent_b = random.uniform(0.5, 20)
            level = percent_b * np.exp(truth[b] - truth[a])
            if verdict == "equal":
                percent_a = level * np.exp(error * random.standard_normal())
            else:
                percent_a = level * np.exp(random.uniform(-0.3, 1.5))
            # Percentages above 100 have no meaning: both are diluted further.
            scale = min(1.0, 90.0 / max(percent_a, percent_b))
            percent_a, percent_b = (float(f"{x * scale:.6g}") for x in (percent_a, percent_b))
            pairs.append([verdict, int(a), int(b), percent_a, percent_b, float(f"{np.exp(error):.6g}")])
    strengths = [float(f"{x:.6g}") for x in np.exp(mean)]
    factors = [float(f"{x:.6g}") for x in np.exp(deviation)]
    return {"strengths": strengths, "factors": factors, "pairs": pairs}


def solve(case):
    mean, deviation = np.log(case["strengths"]), np.log(case["factors"])
    free = np.arange(1, len(mean))

    def rows(verdict):
        chosen = [p for p in case["pairs"] if p[0] == verdict]
        matrix = np.zeros((len(chosen), len(mean)))
        for row, (_, a, b, *_rest) in enumerate(chosen):
            matrix[row, a] += 1
            matrix[row, b] -= 1
        shift = np.array([np.log(p[3] / p[4]) for p in chosen])
        error = np.log([p[5] for p in chosen]) if chosen else np.zeros(0)
        return matrix[:, free], shift + matrix[:, 0] * mean[0], error

    equal, order = rows("equal"), rows("stronger")
    if len(order[1]) == 0:
        matrix, shift, error = equal
        design = np.vstack([matrix / error[:, None], np.diag(1 / deviation[free])])
        wanted = np.concatenate([-shift / error, mean[free] / deviation[free]])
        u = np.linalg.lstsq(design, wanted, rcond=None)[0]
        covariance = np.linalg.inv(design.T @ design)
        return u, np.sqrt(np.diag(covariance))

    def loss(u):
        value = 0.5 * np.sum(((u - mean[free]) / deviation[free]) ** 2)
        value += 0.5 * np.sum(((equal[0] @ u + equal[1]) / equal[2]) ** 2)
        return value - np.sum(norm.logcdf((order[0] @ u + order[1]) / order[2]))

    def slope(u):
        gradient = (u - mean[free]) / deviation[free] ** 2
        gradient = gradient + equal[0].T @ ((equal[0] @ u + equal[1]) / equal[2] ** 2)
        z = (order[0] @ u + order[1]) / order[2]
        return gradient - order[0].T @ (np.exp(norm.logpdf(z) - norm.logcdf(z)) / order[2])

    def curve(u):
        step, size = 1e-5, len(u)
        hessian = np.empty((size, size))
        for at in range(size):
            by = np.zeros(size)
            by[at] = step
            hessian[at] = (slope(u + by) - slope(u - by)) / (2 * step)
        return 0.5 * (hessian + hessian.T)

    u = minimize(loss, mean[free], jac=slope, method="BFGS", options={"gtol": 1e-8}).x
    for _ in range(20):
        u = u - np.linalg.solve(curve(u), slope(u))
    assert np.abs(slope(u)).max() < 1e-9
    return u, np.sqrt(np.diag(np.linalg.inv(curve(u))))


def main():
    cases = []
    for seed, sizes in enumerate([(4, 6, 0), (8, 20, 0), (15, 40, 0), (4, 4, 4), (8, 12, 12), (12, 0, 30), (15, 30, 20)]):
        case = make(seed, *sizes)
        u, error = solve(case)
        case["u"], case["error"] = [float(x) for x in u], [float(x) for x in error]
        cases.append(case)
    out = {"versions": {"numpy": np.__version__, "scipy": scipy.__version__}, "cases": cases}
    (HERE / "strengths.json").write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    main()
