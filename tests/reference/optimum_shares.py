"""Writes optimum_shares.json: best shares of ears by a conic solver, to check src/genetics/optimum.rs against.

Needs numpy, scipy and clarabel from PyPI. Run it as `python3 optimum_shares.py > optimum_shares.json`.
The cases are invented: drawn from a fixed seed, rounded, and written with the answer.

The problem: maximise g'c with 1'c = 1, 0 <= c <= most, c'Tc <= ceiling; as a second-order cone |L'c| <= sqrt(ceiling) with
T = LL'. Kinship is either a full matrix or that of ears whose mothers come from groups and whose groups come from lines:
1/8 of an ear with itself, 1/32 within a group, 1/128 within a line.
"""

import json
import sys

import clarabel
import numpy as np
from scipy import sparse


def solve(q, g, rows, upper, cone=None):
    """Minimises x'Qx/2 + g'x with sum 1 and bounds 0 and upper; cone is (L, radius) or None."""
    n = len(g)
    a = [np.ones((1, n)), -np.eye(n), np.eye(n)]
    b = [np.ones(1), np.zeros(n), upper]
    cones = [clarabel.ZeroConeT(1), clarabel.NonnegativeConeT(2 * n)]
    if cone is not None:
        factor, radius = cone
        a.append(np.vstack([np.zeros((1, n)), -factor.T]))
        b.append(np.concatenate([[radius], np.zeros(n)]))
        cones.append(clarabel.SecondOrderConeT(n + 1))
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-13
    settings.max_iter = 400
    solver = clarabel.DefaultSolver(
        sparse.csc_matrix(np.triu(q)), g, sparse.csc_matrix(np.vstack(a)), np.concatenate(b), cones, settings
    )
    found = solver.solve()
    assert str(found.status) in ("Solved", "AlmostSolved"), found.status
    return np.array(found.x)


def kinship(groups, lines):
    """The coancestry of ears by their mothers' group and line."""
    groups, lines = np.array(groups), np.array(lines)
    same_group = groups[:, None] == groups[None, :]
    same_line = lines[groups][:, None] == lines[groups][None, :]
    return np.where(np.eye(len(groups)), 1 / 8, np.where(same_group, 1 / 32, np.where(same_line, 1 / 128, 0.0)))


def main():
    rng = np.random.default_rng(20260814)
    sizes = [2, 3, 4, 5, 6, 7, 8, 9, 10, 12] * 2 + [15, 20, 24, 30, 36, 40, 48, 50, 60, 70]
    sizes += [80, 90, 100, 110, 120, 130, 140, 150, 160, 180, 200, 220, 240, 240, 250, 260, 280, 300, 300, 300]
    cases = []
    for number, n in enumerate(sizes):
        case = {"n": n}
        if number < 20:
            spread = rng.normal(size=(n, n + 2))
            full = spread @ spread.T / (n + 2)
            full = np.round(np.maximum(full, 0.0) * (1 - 0.5 * (1 - np.eye(n))) + 0.3 * np.eye(n), 4) / 8
            full = (full + full.T) / 2
            case["matrix"] = full.tolist()
        else:
            count = max(2, n // 11)
            groups = np.sort(rng.integers(0, count, size=n)).tolist()
            lines = rng.integers(0, max(2, count // 4), size=count).tolist()
            full = kinship(groups, lines)
            case["groups"], case["lines"] = groups, lines
        # Every third case has many equal gains, as ten kernels give.
        gains = rng.beta(6, 3, size=n)
        gains = np.round(gains, 1 if number % 3 == 0 else 4)
        upper = np.ones(n)
        if number % 2 == 1:
            upper = np.round(np.minimum(1.0, rng.uniform(1.2, 6.0, size=n) / n), 4)
        case["gains"], case["most"] = gains.tolist(), upper.tolist()
        factor = np.linalg.cholesky(full)
        least = solve(full, np.zeros(n), n, upper)
        least = float(least @ full @ least)
        # Of the highest gain: what a nearly free price of coancestry gives.
        top = solve(1e-7 * full, -gains, n, upper)
        top = float(top @ full @ top)
        ceiling = float(f"{least + (top - least) * rng.uniform(0.05, 0.9):.9g}")
        shares = solve(np.zeros((n, n)), -gains, n, upper, (factor, np.sqrt(ceiling)))
        case["ceiling"], case["least"] = ceiling, least
        case["gain"], case["shares"] = float(gains @ shares), [round(float(share), 9) for share in shares]
        cases.append(case)
    source = f"clarabel {clarabel.__version__} (PyPI), tolerances 1e-13; see optimum_shares.py"
    lines = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    sys.stdout.write(f'{{"source":{json.dumps(source)},\n"cases":[\n{lines}\n]}}\n')


main()
