#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
# Copyright The Steadyhand authors
#
# Writes tests/reference/tensions.json: random cord rigs with 1 to 8 cords, and what a general linear-programming solver
# says of them. For every case: is there any set of tensions within limits that balances the load; the least and the
# greatest tension of every cord among them; and the greatest distance all cords can keep from their limits.
#
#   python3 make_tension_cases.py > tensions.json         (Debian: python3-scipy)
#
# Solver: scipy.optimize.linprog, method "highs" (Huangfu and Hall, 2018). The same seed gives the same file.
import json
import math
import sys

import numpy
import scipy
from scipy.optimize import linprog

SEED = 20180613
PER_COUNT = 40  # cases for each number of cords
GRAVITY = 9.80665
CLOSE = 1e-4  # no case is nearer to the edge of feasibility than this [N]: there the answer is a matter of rounding


def units(anchors, position):
    rays = numpy.array(anchors) - numpy.array(position)
    return (rays / numpy.linalg.norm(rays, axis=1)[:, None]).T


def load(case):
    return case["mass"] * (numpy.array(case["acceleration"]) + numpy.array([0, 0, GRAVITY]))


def solve(cost, a, w, bounds):
    """The least of cost . t subject to a t = w. Equations that repeat each other (cords in one plane) are taken out
    first, as the solver's tolerance is absolute: they are rotated to the axes of the cords."""
    u, s, _ = numpy.linalg.svd(a[:, : len(bounds)], full_matrices=True)
    rank = int((s > 1e-9).sum())
    a, w = u.T @ a, u.T @ w
    if numpy.abs(w[rank:]).max(initial=0) > 1e-9 * numpy.linalg.norm(w):
        return None
    r = linprog(cost, A_eq=a[:rank], b_eq=w[:rank], bounds=bounds, method="highs",
                options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10})
    return r if r.status == 0 else None


def slack(a, w, lo, hi):
    """Greatest s for which some t with lo + s <= t <= hi - s balances the load; None if nothing does."""
    n = a.shape[1]
    u, sv, _ = numpy.linalg.svd(a, full_matrices=True)
    rank = int((sv > 1e-9).sum())
    ra, rw = u.T @ a, u.T @ w
    if numpy.abs(rw[rank:]).max(initial=0) > 1e-9 * numpy.linalg.norm(rw):
        return None
    eye, one = numpy.eye(n), numpy.ones((n, 1))
    r = linprog([0] * n + [-1], A_eq=numpy.hstack([ra[:rank], numpy.zeros((rank, 1))]), b_eq=rw[:rank],
                A_ub=numpy.vstack([numpy.hstack([eye, one]), numpy.hstack([-eye, one])]),
                b_ub=numpy.concatenate([hi, -numpy.array(lo)]), bounds=[(None, None)] * (n + 1), method="highs",
                options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10})
    if r.status != 0:
        raise RuntimeError(r.message)
    return -r.fun


def rounded(value, places):
    if isinstance(value, dict):
        return {k: rounded(v, places) for k, v in value.items()}
    if isinstance(value, list):
        return [rounded(v, places) for v in value]
    return round(value, places) if isinstance(value, float) else value


def anchors_of(rng, kind, n):
    if kind == "suspended":  # around the ceiling of a room
        turn = rng.uniform(0, 2 * math.pi) + numpy.arange(n) * 2 * math.pi / n + rng.uniform(-0.3, 0.3, n)
        return [[4 + 4 * math.cos(t), 3 + 3 * math.sin(t), z] for t, z in zip(turn, rng.uniform(2.5, 4, n))]
    if kind == "level":  # all at one height
        turn = rng.uniform(0, 2 * math.pi) + numpy.arange(n) * 2 * math.pi / n
        return [[4 + 4 * math.cos(t), 3 + 3 * math.sin(t), 3.0] for t in turn]
    if kind == "pairs":  # two cords to each point
        points = [rng.uniform([0, 0, 2.5], [8, 6, 4]).tolist() for _ in range((n + 1) // 2)]
        return [points[k // 2] for k in range(n)]
    if kind == "plane":  # all in one upright plane, the platform too
        return [[x, 3.0, z] for x, z in zip(rng.uniform(0, 8, n), rng.uniform(2.5, 4, n))]
    return rng.uniform([0, 0, 0], [8, 6, 4], (n, 3)).tolist()  # anywhere, below the platform too


def random_case(rng, n):
    kinds = ["suspended", "level", "anywhere", "anywhere", "anywhere", "pairs", "plane"] if n > 2 else ["plane"]
    kind = str(rng.choice(kinds))
    case = {"kind": kind, "anchors": anchors_of(rng, kind, n)}
    case["position"] = rng.uniform([0.5, 0.5, 0.3], [7.5, 5.5, 2.4]).tolist()
    case["mass"] = float(rng.uniform(0.5, 30))
    case["acceleration"] = (rng.uniform(-1.5, 1.5, 3) * rng.integers(0, 2)).tolist()
    if kind == "plane":
        case["acceleration"][1] = 0.0
        if n == 1:
            case["position"][0] = case["anchors"][0][0]
            case["acceleration"][0] = 0.0
        case["position"][1] = 3.0 if rng.uniform() < 0.8 else case["position"][1]  # or beside where it can hang
    weight = case["mass"] * GRAVITY
    lo = rng.uniform(0, 0.2, n) * weight
    case["min"] = (lo * rng.integers(0, 2)).tolist()
    case["max"] = (lo + rng.uniform(0.3, 3, n) * weight).tolist()
    return rounded(case, 6)


def answer(case):
    """None for a case that is too near the edge."""
    a, w, n = units(case["anchors"], case["position"]), load(case), len(case["anchors"])
    s = slack(a, w, case["min"], case["max"])
    if s is not None and abs(s) < CLOSE:
        return None
    # A rank that depends on rounding is no case either.
    sv = numpy.linalg.svd(a, compute_uv=False)
    if ((sv > 1e-12) & (sv < 1e-3)).any():
        return None
    found = {"feasible": s is not None and s > 0, "slack": s}
    if found["feasible"]:
        bounds = list(zip(case["min"], case["max"]))
        ends = [[solve(numpy.eye(n)[k] * sign, a, w, bounds) for sign in (1, -1)] for k in range(n)]
        found["range"] = [[least.fun, -most.fun] for least, most in ends]
    return found


def main():
    rng = numpy.random.default_rng(SEED)
    cases = []
    for n in range(1, 9):
        feasible = refused = 0
        while feasible + refused < PER_COUNT:
            case = random_case(rng, n)
            found = answer(case)
            # A third cannot be held: of rigs anywhere most cannot, and those would hide the ones that can.
            if found is None or (not found["feasible"] and refused >= PER_COUNT // 3):
                continue
            feasible += found["feasible"]
            refused += not found["feasible"]
            cases.append({"id": f"tension-{n}-{feasible + refused}", "input": case, "expect": rounded(found, 10)})
    about = (f"Random cord rigs: feasible or not, range of every tension, greatest distance from the limits. "
             f"Written by make_tension_cases.py, seed {SEED}.")
    source = f"scipy.optimize.linprog, method highs, SciPy {scipy.__version__}; a t = m (g z + a), min <= t <= max"
    print("{\n" + f' "about": {json.dumps(about)},\n "source": {json.dumps(source)},\n "g": {GRAVITY},\n "tol": "1e-6 N",\n'
          ' "cases": [')
    print(",\n".join("  " + json.dumps(c) for c in cases))
    print(" ]\n}")


if __name__ == "__main__":
    sys.exit(main())
