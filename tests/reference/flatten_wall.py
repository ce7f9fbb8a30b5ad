"""Lays a wall flat by libigl's as-rigid-as-possible flattening, its tangent line pinned.

Argument: a JSON file {"formed": [[x, y, z]…], "triangles": [[a, b, c]…], "pinned": [node…], "start": [[x, y]…]}. Each iteration is one
call; it stops when no vertex moves by more than 1e-4 of the mean edge. Prints {"flat": [[x, y]…], "seconds": s, "iterations": n,
"kilobytes": k}, the time without reading the file, the factorisation included; the memory is the whole process's, at most.
"""

import json
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

begun = time.perf_counter()
data = igl.ARAPData()
data.max_iter = 1
data.energy = igl.ARAP_ENERGY_TYPE_DEFAULT
igl.arap_precomputation(formed, triangles, 2, pinned, data)
iterations = 0
while iterations < 20_000:
    before = flat.copy()
    flat = igl.arap_solve(places, data, flat)
    iterations += 1
    if np.linalg.norm(flat - before, axis=1).max() < limit:
        break
seconds = time.perf_counter() - begun
kilobytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps({"flat": flat.tolist(), "seconds": seconds, "iterations": iterations, "kilobytes": kilobytes}))
