"""Reads DXF files as a strict reader does and prints what is in them as JSON.

    python measure_dxf.py FILE...

For each file: version, units, what the audit found wrong or would repair, and per layer the kinds of entity, how many
polylines are closed, and area and length by shapely on arcs flattened within 0.00002 of the file's unit.
"""

import json
import math
import sys

import ezdxf
from shapely.geometry import LineString, Polygon

FLATTENING = 0.00002


def points_of(entity):
    """Points along a line or polyline; arcs by their own flattening, as ezdxf's paths take cubics for them (0.03 % off)."""
    if entity.dxftype() == "LINE":
        return [(entity.dxf.start.x, entity.dxf.start.y), (entity.dxf.end.x, entity.dxf.end.y)]
    first = next(iter(entity.points())) if entity.dxftype() == "POLYLINE" else entity[0]
    points = [(first[0], first[1])]
    for piece in entity.virtual_entities():
        if piece.dxftype() == "LINE":
            step = [(piece.dxf.start.x, piece.dxf.start.y), (piece.dxf.end.x, piece.dxf.end.y)]
        else:
            step = [(p.x, p.y) for p in piece.flattening(FLATTENING)]
        # Arcs always run counter-clockwise; turn round those that the polyline walks the other way.
        if math.dist(step[0], points[-1]) > math.dist(step[-1], points[-1]):
            step.reverse()
        points.extend(step[1:])
    return points


def is_closed(entity):
    if entity.dxftype() == "LWPOLYLINE":
        return bool(entity.closed)
    if entity.dxftype() == "POLYLINE":
        return bool(entity.is_closed)
    return False


def measure(file):
    drawing = ezdxf.readfile(file)
    audit = drawing.audit()
    layers = {}
    for entity in drawing.modelspace():
        layer = layers.setdefault(entity.dxf.layer, {"kinds": [], "closed": 0, "areas": [], "lengths": [], "valid": True})
        layer["kinds"].append(entity.dxftype())
        if entity.dxftype() == "TEXT":
            continue
        points = points_of(entity)
        layer["lengths"].append(LineString(points).length)
        if is_closed(entity):
            # The last arc ends a rounding error from the start.
            outline = Polygon([*points[:-1], points[0]])
            layer["closed"] += 1
            layer["areas"].append(outline.area)
            layer["valid"] = layer["valid"] and outline.is_valid
    return {
        "version": drawing.dxfversion,
        "units": drawing.header.get("$INSUNITS"),
        "errors": [error.message for error in audit.errors],
        "fixes": [fix.message for fix in audit.fixes],
        "defined_layers": sorted(layer.dxf.name for layer in drawing.layers),
        "layers": layers,
    }


if __name__ == "__main__":
    print(json.dumps({file: measure(file) for file in sys.argv[1:]}))
