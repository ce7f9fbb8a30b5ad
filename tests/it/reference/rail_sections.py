"""Sections of the demo's rail (shapes/slate-wren/rail-half.yaml) by finite elements, from its sizes alone.

Prints for each draft (degrees) and station area, moments of inertia and torsion constant. Arguments: one or more `draft:station`; or
`known`, for two sections whose properties W. D. Pilkey prints (Analysis and Design of Elastic Beams, 2002, examples 1.1 and 5.6).
"""

import json
import math
import sys

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq
from sectionproperties.analysis import Section
from sectionproperties.pre import Geometry
from shapely import Polygon

THICKNESS, RADIUS, DEPTH, GAP = 1.6, 4.8, 30.0, 0.5
BELLY = np.array([[0, 0], [170, 4], [320, 22], [470, 22], [620, 4]], dtype=float)
TOP_FROM, TOP_TO, TOP_RADIUS = np.array([620.0, 74.0]), np.array([0.0, 120.0]), 1800.0

# A natural cubic spline over the chord length.
chords = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(BELLY, axis=0), axis=1))])
belly = CubicSpline(chords, BELLY, bc_type="natural")
chord = TOP_TO - TOP_FROM
length = np.linalg.norm(chord)
# The arc turns left from tail to head: its centre lies to the left of the chord, below it.
centre = (TOP_FROM + TOP_TO) / 2 + np.array([-chord[1], chord[0]]) / length * math.sqrt(TOP_RADIUS**2 - length**2 / 4)


def belly_at(x, inset):
    """Where the belly moved up by `inset` crosses the station at x."""

    def place(s):
        point, tangent = belly(s), belly(s, 1)
        return point + np.array([-tangent[1], tangent[0]]) / np.linalg.norm(tangent) * inset

    return place(brentq(lambda s: place(s)[0] - x, -40, chords[-1] + 40, xtol=1e-12))[1]


def top_at(x, inset):
    """Where the top moved down by `inset` crosses the station at x."""
    return centre[1] + math.sqrt((TOP_RADIUS - inset) ** 2 - (x - centre[0]) ** 2)


def skin(draft, outside):
    """Inset and height over the seam plane of a skin, from the face to the seam plane."""
    lean = math.radians(draft)
    turned = math.pi / 2 - lean
    rho = RADIUS + (THICKNESS if outside else 0)
    start = DEPTH * math.tan(lean) + (RADIUS + THICKNESS) * math.tan(turned / 2)
    rows = []
    for angle in np.linspace(0, turned, 33):
        rows.append((start - rho * math.sin(angle), DEPTH - (RADIUS + THICKNESS - rho * math.cos(angle)) + GAP / 2))
    end = 0 if outside else THICKNESS / math.cos(lean)
    rows.append((end, GAP / 2))
    rows.append((end, 0.0))
    return rows


def outline(x, draft, outside):
    rows = skin(draft, outside)
    upper = [(top_at(x, inset), z) for inset, z in rows[::-1]] + [(belly_at(x, inset), z) for inset, z in rows]
    return upper + [(y, -z) for y, z in upper[::-1]]


def known():
    """An angle of legs 1 and 2, 0.1 thick, about its mid-lines, and an equilateral triangle 3 high."""
    angle = Polygon([(-0.05, -2), (0.05, -2), (0.05, -0.05), (1, -0.05), (1, 0.05), (-0.05, 0.05)])
    fe = Section(Geometry(angle).create_mesh(mesh_sizes=[0.001]))
    fe.calculate_geometric_properties()
    ixx, iyy, ixy = fe.get_ic()
    i11, i22 = fe.get_ip()
    triangle = Polygon([(-math.sqrt(3), 0), (math.sqrt(3), 0), (0, 3)])
    torsion = Section(Geometry(triangle).create_mesh(mesh_sizes=[0.005]))
    torsion.calculate_geometric_properties()
    torsion.calculate_warping_properties()
    return {"area": fe.get_area(), "ixx": ixx, "iyy": iyy, "ixy": ixy, "i11": i11, "i22": i22, "j": torsion.get_j()}


if sys.argv[1:] == ["known"]:
    print(json.dumps(known()))
    sys.exit()
found = []
for argument in sys.argv[1:]:
    draft, x = (float(word) for word in argument.split(":"))
    section = Polygon(outline(x, draft, True), [outline(x, draft, False)])
    # Points of both halves that meet in the seam plane are one.
    geometry = Geometry(section.buffer(0)).create_mesh(mesh_sizes=[0.6])
    fe = Section(geometry)
    fe.calculate_geometric_properties()
    fe.calculate_warping_properties()
    # Its x is our y, its y our z.
    ixx, iyy, _ = fe.get_ic()
    found.append({"area": fe.get_area(), "iyy": ixx, "izz": iyy, "j": fe.get_j(), "elements": len(fe.elements)})
print(json.dumps(found))
