"""Writes DXF files with ezdxf, each with one outline, and prints their areas by shapely or exactly as JSON.

    python write_dxf.py FOLDER
"""

import json
import math
import pathlib
import sys

import ezdxf
from ezdxf import units
from ezdxf.math import BSpline, rational_bspline_from_arc
from shapely.geometry import Polygon

FLATTENING = 1e-5


def area_of(points):
    return Polygon([(p[0], p[1]) for p in points]).area


def closed_curve(msp):
    """A closed cubic through points, written with its control points."""
    points = [(40 * math.cos(t) * (1 + 0.2 * math.cos(3 * t)), 25 * math.sin(t)) for t in [i * math.tau / 12 for i in range(13)]]
    spline = msp.add_spline(dxfattribs={"layer": "CUT"})
    curve = ezdxf.math.global_bspline_interpolation(points, degree=3)
    spline.apply_construction_tool(curve)
    return area_of(curve.flattening(FLATTENING))


def rational_disc(msp):
    """Half a disc of radius 30 bounded by a rational spline and a line."""
    spline = msp.add_spline(dxfattribs={"layer": "CUT"})
    spline.apply_construction_tool(rational_bspline_from_arc(center=(5, 5), radius=30, start_angle=0, end_angle=180))
    msp.add_line((-25, 5), (35, 5), dxfattribs={"layer": "CUT"})
    return math.pi * 450


def quintic(msp):
    control = [(0, 0), (30, -20), (80, 10), (90, 50), (40, 90), (-20, 40), (0, 0)]
    curve = BSpline(control, order=6)
    spline = msp.add_spline(dxfattribs={"layer": "CUT"})
    spline.apply_construction_tool(curve)
    return area_of(curve.flattening(FLATTENING))


def turned_ellipse(msp):
    msp.add_ellipse((10, 20), major_axis=(30, 40), ratio=0.3, dxfattribs={"layer": "CUT"})
    return math.pi * 50 * 15


def bulged(msp):
    """A rectangle 60 x 20 with round ends, seen from below."""
    points = [(0, 0, 0), (60, 0, 1), (60, 20, 0), (0, 20, 1)]
    msp.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": "CUT", "extrusion": (0, 0, -1)})
    return 60 * 20 + math.pi * 100


def nested_blocks(msp):
    """A quarter disc of radius 8 in a block in a block, mirrored, turned and twice as large."""
    inner = msp.doc.blocks.new("INNER")
    inner.add_line((0, 0), (8, 0))
    inner.add_arc((0, 0), 8, 0, 90)
    inner.add_line((0, 8), (0, 0))
    outer = msp.doc.blocks.new("OUTER", base_point=(3, 4))
    outer.add_blockref("INNER", (10, 0), dxfattribs={"xscale": -1, "rotation": 30})
    msp.add_blockref("OUTER", (100, 50), dxfattribs={"layer": "CUT", "xscale": 2, "yscale": 2, "rotation": -75})
    return math.pi * 64


def old_polyline(msp):
    msp.add_polyline2d([(0, 0, 0), (60, 0, 1), (60, 20, 0), (0, 20, -0.5)], format="xyb", close=True, dxfattribs={"layer": "CUT"})
    # The left end bulges in: a segment with bulge b over a chord c has radius c (1 + b^2) / (4 b).
    radius, sweep = 20 * 1.25 / 2, 4 * math.atan(0.5)
    return 1200 + math.pi * 50 - radius**2 * (sweep - math.sin(sweep)) / 2


SHAPES = [closed_curve, rational_disc, quintic, turned_ellipse, bulged, nested_blocks, old_polyline]
OLD = [nested_blocks, old_polyline]


def main(folder):
    written = []
    for version in ["R12", "R2000", "R2010", "R2018"]:
        for shape in OLD if version == "R12" else SHAPES:
            # `setup` adds dimension styles, line types and text styles, as drawing programs do.
            drawing = ezdxf.new(version, setup=True)
            drawing.units = units.MM
            msp = drawing.modelspace()
            area = shape(msp)
            msp.add_text("CUT", dxfattribs={"layer": "Größe"})
            msp.add_line((-500, -500), (500, -500), dxfattribs={"layer": "FRAME"})
            if version != "R12":
                msp.add_hatch(dxfattribs={"layer": "CUT"}).paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
                drawing.layout("Layout1").add_circle((0, 0), 400, dxfattribs={"layer": "CUT"})
            file = folder / f"{shape.__name__}-{version}.dxf"
            drawing.saveas(file)
            written.append({"file": str(file), "area": area, "units": version != "R12"})
    print(json.dumps(written))


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]))
