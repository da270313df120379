#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
# Copyright The Steadyhand authors
#
# Writes tests/reference/hulls.json: random pairs of convex hulls, each summed with a level disc, a ball and an upright
# segment, and how far they are apart: by an active-set solver for non-negative least squares, not by the method under
# test.
#
#   python3 make_hull_cases.py > hulls.json         (Debian: python3-scipy)
#
# The nearest point to 0 of the hull of the differences d_i is found from  min |sum l_i (d_i, 1) - (0, 1)|, l >= 0
# (scipy.optimize.nnls, Lawson and Hanson 1974): the weights, made to sum to 1, are those of the nearest point. A disc is
# the hull of as many points of its rim as it takes. Each answer is proven here: the points found are that far apart, and
# a plane between the two leaves at least that much room, to 1e-9 m. The same seed gives the same file.
import itertools
import json
import math
import sys

import numpy
import scipy
from scipy.optimize import nnls

SEED = 19880401
PER_KIND = 8
PROVEN = 1e-9


def block(rng, turned):
    half = rng.uniform(0.05, 1, 3)
    corners = numpy.array(list(itertools.product((-1, 1), repeat=3))) * half
    if turned:
        corners = corners @ numpy.linalg.qr(rng.normal(size=(3, 3)))[0].T
    return corners + rng.uniform(-2, 2, 3)


def polygon(rng):
    angles = numpy.sort(rng.uniform(0, 2 * math.pi, 7))
    return numpy.stack([numpy.cos(angles), numpy.sin(angles), 0 * angles], 1) * rng.uniform(0.2, 1) + rng.uniform(-2, 2, 3)


def hull(points, **sums):
    return {"points": points.tolist(), "disc": 0.0, "ball": 0.0, "tall": 0.0} | {k: float(v) for k, v in sums.items()}


def somewhere(rng, n, spread):
    return rng.uniform(-3, 3, 3) + rng.uniform(-spread, spread, (n, 3))


def swept_cord(rng, way):
    start = rng.uniform(-2, 2, 3)
    return numpy.array([start, start + rng.uniform(-way, way, 3), rng.uniform(-6, 6, 3)])


KINDS = {
    "point, box": lambda r: (hull(somewhere(r, 1, 0), ball=0.1), hull(block(r, False))),
    "segment, turned box": lambda r: (hull(somewhere(r, 2, 1), ball=r.uniform(0, 0.3)), hull(block(r, True))),
    "swept cord, turned box": lambda r: (hull(swept_cord(r, 0.3)), hull(block(r, True))),
    "cord swept by a hair, prism": lambda r: (hull(swept_cord(r, 1e-7)), hull(polygon(r), tall=r.uniform(0.1, 2))),
    "swept cord, capsule": lambda r: (hull(swept_cord(r, 0.3)), hull(somewhere(r, 2, 1), ball=0.3)),
    "clouds": lambda r: (hull(somewhere(r, 10, 1.5)), hull(somewhere(r, 10, 1.5))),
    "boom, turned box": lambda r: (hull(somewhere(r, 2, 0.3), tall=0.8, ball=0.02), hull(block(r, True))),
    "body at any yaw, box": lambda r: (hull(somewhere(r, 2, 0.5), disc=r.uniform(0.05, 0.5), ball=0.1), hull(block(r, False))),
    "body at any yaw, turned box": lambda r: (hull(somewhere(r, 2, 0.5), disc=r.uniform(0.05, 0.5)), hull(block(r, True))),
    "body at any yaw, prism": lambda r: (hull(somewhere(r, 1, 0.5), disc=0.4, tall=0.3), hull(polygon(r), tall=r.uniform(0.1, 2))),
    "two discs": lambda r: (hull(somewhere(r, 1, 0), disc=0.4), hull(somewhere(r, 2, 0.5), disc=0.3, ball=0.1)),
    "tens of metres": lambda r: (hull(swept_cord(r, 0.3) * 10), hull(block(r, True) * 10)),
}


def uprights(h):
    points = numpy.array(h["points"])
    return numpy.concatenate([points, points + [0, 0, h["tall"]]]) if h["tall"] else points


def nearest(differences):
    weights, _ = nnls(numpy.vstack([differences.T, numpy.ones(len(differences))]), numpy.array([0, 0, 0, 1.0]),
                      maxiter=10000)
    return differences.T @ (weights / weights.sum())


def apart(a, b):
    """Without the balls."""
    corners = (uprights(a)[:, None, :] - uprights(b)[None, :, :]).reshape(-1, 3)
    disc = a["disc"] + b["disc"]
    rim = [[math.cos(t), math.sin(t), 0] for t in numpy.arange(0, 2 * math.pi, 0.1)] if disc else [[0, 0, 0]]
    for _ in range(100):
        v = nearest((corners[:, None, :] + disc * numpy.array(rim)[None, :, :]).reshape(-1, 3))
        length = numpy.linalg.norm(v)
        if length < PROVEN:
            return 0.0
        level = math.hypot(v[0], v[1])
        room = ((corners @ v).min() - disc * level) / length
        if length - room < PROVEN:
            return float(length)
        rim.append([-v[0] / level, -v[1] / level, 0])
    raise RuntimeError("not proven")


def main():
    rng = numpy.random.default_rng(SEED)
    cases = []
    for kind, make in KINDS.items():
        wanted = {True: PER_KIND // 4, False: PER_KIND - PER_KIND // 4}  # meeting, apart
        while any(wanted.values()):
            a, b = make(rng)
            d = apart(a, b)
            if not wanted[d == 0]:
                continue
            wanted[d == 0] -= 1
            cases.append({"id": f"hull-{len(cases)}", "what": kind, "input": {"a": a, "b": b},
                          "expect": {"apart": d, "distance": d - a["ball"] - b["ball"]}})
    about = f"Random pairs of convex hulls and their distance, proven to {PROVEN} m. Written by make_hull_cases.py, seed {SEED}."
    source = f"scipy.optimize.nnls, SciPy {scipy.__version__}; both bounds checked when written"
    print("{\n" + f' "about": {json.dumps(about)},\n "source": {json.dumps(source)},\n "cases": [')
    print(",\n".join("  " + json.dumps(c) for c in cases))
    print(" ]\n}")


if __name__ == "__main__":
    sys.exit(main())
