"""Sections of pairs of half-shells by finite elements, from slices through the solid of one half.

Argument: a JSON file with a list of solids:
    {"stl": FILE, "seam": z of the solid's seam plane, "gap": root gap of the seam, "twist": whether J is wanted,
     "stations": [{"name", "origin": [x, y], "along": [x, y]}]}
Prints a list with a list for each solid, in the order of its stations:
    {"name", "area", "iyy", "izz", "j", "cells": holes all round which there is metal, "pieces": parts that hang apart,
     "flaws": what is wrong with the slice}
y runs across the station, z from the seam plane, both moments about the centroid. A pair is the solid, cut off at its seam plane and raised
by half the gap, its mirror below, and weld in the gap as thick as the wall's end. J is given
where it is wanted and the section is of one piece.
"""

import json
import sys

import numpy as np
import shapely
from sectionproperties.analysis import Section
from sectionproperties.pre import CompoundGeometry, Geometry

FAR = 1e5
# Digits after the point, mm, to which points are told apart.
SAME_POINT = 4
# Halves of a seam without a gap overlap by twice this, mm.
OVERLAP = 1e-4
# Points of an outline nearer than this to the line between their neighbours are left out, mm.
STRAIGHT = 1e-3
# Smaller areas count for nothing, mm2.
SPECK = 1e-2
# Area of an element at most, in squares of the wall's thickness: J is less than 0.01 % above that of elements a tenth as large.
ELEMENT = 0.8


def read_stl(file):
    """Points of a binary STL file, each once, and its triangles as indices of them."""
    with open(file, "rb") as stl:
        count = int.from_bytes(stl.read(84)[80:], "little")
        facets = np.frombuffer(stl.read(), dtype=[("corners", "<f4", (4, 3)), ("unused", "<u2")], count=count)
    # Points that differ by rounding are one; the sum makes -0 to 0.
    corners = facets["corners"][:, 1:].reshape(-1, 3).astype(float).round(SAME_POINT) + 0.0
    points, triangles = np.unique(corners, axis=0, return_inverse=True)
    return points, triangles.reshape(-1, 3)


def slice_loops(points, triangles, origin, along):
    """Closed lines in which an upright plane cuts the triangles, as points (y, z), and how many ends of lines find no other."""
    offset = points[:, :2] - origin
    ahead = offset @ along
    flat = np.column_stack([offset @ [-along[1], along[0]], points[:, 2]])
    # A corner in the plane counts as ahead of it, for all its triangles alike.
    side = ahead >= 0
    sides = side[triangles]
    follows, place = {}, {}
    flaws = 0
    for triangle in triangles[sides.any(axis=1) & ~sides.all(axis=1)]:
        edges = {}
        for a, b in zip(triangle, np.roll(triangle, -1)):
            if side[a] != side[b]:
                key = (min(a, b), max(a, b))
                low, high = key
                share = ahead[low] / (ahead[low] - ahead[high])
                place[key] = flat[low] + share * (flat[high] - flat[low])
                edges[bool(side[b])] = key
        flaws += edges[True] in follows
        follows[edges[True]] = edges[False]
    loops = []
    while follows:
        first, key = follows.popitem()
        loop = [first]
        while key != first and key in follows:
            loop.append(key)
            key = follows.pop(key)
        flaws += key != first
        if len(loop) > 2:
            loops.append(np.array([place[key] for key in loop]))
    return loops, flaws


def shoelace(loop):
    y, z = loop.T
    return (y @ np.roll(z, -1) - z @ np.roll(y, -1)) / 2


def half_metal(loops):
    """What lies within the lines, an odd number of times, and what is wrong with them."""
    flaws = []
    metal = shapely.Polygon()
    for loop in loops:
        polygon = shapely.Polygon(loop)
        metal = metal.symmetric_difference(polygon if polygon.is_valid else shapely.make_valid(polygon))
    signed = abs(sum(shoelace(loop) for loop in loops))
    # Metal passed over twice counts twice in the signed area, metal turned inside out takes off.
    if abs(metal.area - signed) > SPECK:
        flaws.append(f"crosses itself: {metal.area:.3f} mm2 within, {signed:.3f} walked round")
    if any(shapely.Polygon(ring).area > SPECK for part in parts_of(metal) for ring in part.interiors):
        flaws.append("one half closes a ring")
    return metal, flaws


def parts_of(shape):
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > SPECK]


def pair_metal(half, seam, gap):
    """The half above its seam plane, its mirror below, and the weld between."""
    above = shapely.affinity.translate(half.intersection(shapely.box(-FAR, seam, FAR, FAR)), 0, gap / 2 - seam)
    foot = above.intersection(shapely.LineString([(-FAR, gap / 2 + OVERLAP), (FAR, gap / 2 + OVERLAP)]))
    weld = [shapely.box(line.bounds[0], -gap / 2 - OVERLAP, line.bounds[2], gap / 2 + OVERLAP) for line in shapely.get_parts(foot)]
    below = shapely.affinity.scale(above, 1, -1, origin=(0, 0))
    return shapely.union_all([above, below, *weld])


def without_specks(part):
    rings = [ring for ring in part.interiors if shapely.Polygon(ring).area > SPECK]
    return shapely.Polygon(part.exterior, rings).simplify(STRAIGHT)


def section(points, triangles, solid, station):
    loops, loose = slice_loops(points, triangles, np.array(station["origin"]), np.array(station["along"]))
    half, flaws = half_metal(loops)
    if loose:
        flaws.append(f"{loose} lines of the slice do not close")
    metal = [without_specks(part) for part in parts_of(pair_metal(half, solid["seam"], solid["gap"]))]
    found = {"name": station["name"], "pieces": len(metal), "cells": sum(len(part.interiors) for part in metal), "flaws": flaws}
    if not metal:
        return found
    thickness = 2 * metal[0].area / metal[0].length
    if solid["twist"] and len(metal) == 1:
        elements = Section(Geometry(metal[0]).create_mesh(mesh_sizes=[ELEMENT * thickness**2]))
        area, iyy, izz, _, found["j"], _ = elements.calculate_frame_properties()
    else:
        elements = Section(CompoundGeometry([Geometry(part) for part in metal]).create_mesh(mesh_sizes=[0]))
        elements.calculate_geometric_properties()
        area, (iyy, izz, _) = elements.get_area(), elements.get_ic()
    # Their x is our y, their y our z.
    return found | {"area": area, "iyy": iyy, "izz": izz}


def main():
    with open(sys.argv[1]) as file:
        solids = json.load(file)
    found = []
    for solid in solids:
        points, triangles = read_stl(solid["stl"])
        found.append([section(points, triangles, solid, station) for station in solid["stations"]])
    print(json.dumps(found))


main()
