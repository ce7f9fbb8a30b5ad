"""Lays a wall flat by libigl's as-rigid-as-possible flattening, its tangent line pinned.

Argument: a JSON file {"formed": [[x, y, z]…], "triangles": [[a, b, c]…], "pinned": [node…], "start": [[x, y]…]}. Each iteration is one
call; it stops when no vertex moves by more than 1e-4 of the mean edge. Prints {"flat": [[x, y]…], "seconds": s, "iterations": n,
"kilobytes": k}: the time is the best of three runs, factorisation included, reading the file not; the memory is the most the process had.
"""

import json
import math
import resource
import sys
import time

import igl
import numpy as np

with open(sys.argv[1]) as file:
    wall = json.load(file)
formed = np.array(wall["formed"])
triangles = np.array(wall["triangles"], dtype=np.int64)
pinned = np.array(wall["pinned"], dtype=np.int64)
flat = np.array(wall["start"])
places = flat[pinned].copy()
edges = formed[triangles] - formed[np.roll(triangles, 1, axis=1)]
limit = 1e-4 * np.linalg.norm(edges, axis=2).mean()


def flatten():
    """Flat positions and how many iterations they took, from the start given."""
    laid = flat.copy()
    data = igl.ARAPData()
    data.max_iter = 1
    data.energy = igl.ARAP_ENERGY_TYPE_DEFAULT
    igl.arap_precomputation(formed, triangles, 2, pinned, data)
    for count in range(1, 20_000):
        before = laid.copy()
        laid = igl.arap_solve(places, data, laid)
        if np.linalg.norm(laid - before, axis=1).max() < limit:
            break
    return laid, count


seconds = math.inf
for _ in range(3):
    begun = time.perf_counter()
    laid, iterations = flatten()
    seconds = min(seconds, time.perf_counter() - begun)
kilobytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps({"flat": laid.tolist(), "seconds": seconds, "iterations": iterations, "kilobytes": kilobytes}))
