"""Draws the pages of templates and measures them: bars between their long ticks on every page, and
the first thing's sheets in one row put together ring on ring, against the outline of its DXF file.

Usage: measure_templates.py TEMPLATES.pdf BLANK.dxf SHEETS
"""

import json
import sys

import ezdxf
import ezdxf.path
import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

# Twenty pixels in a millimetre, of which ISO papers hold whole ones.
DPI = 508
MM = DPI / 25.4
RING = 2.0
ARM = 3.5


def drawn(page):
    """Darkness of each pixel from 0 to 1, row 0 at the top."""
    # A page is drawn on whole pixels, rounded up: a hair less, so that rounding adds none.
    grey = page.render(scale=DPI / 72 * (1 - 1e-6), grayscale=True).to_numpy()
    return 1.0 - grey.reshape(grey.shape[0], grey.shape[1]).astype(float) / 255.0


def longest_run(row):
    """Length and ends of the longest dark stretch."""
    dark = np.flatnonzero(np.diff(np.concatenate(([0], (row > 0.3).astype(int), [0]))))
    if len(dark) == 0:
        return 0, 0, 0
    starts, ends = dark[::2], dark[1::2]
    i = np.argmax(ends - starts)
    return ends[i] - starts[i], starts[i], ends[i]


def middle(dark, at):
    """Middle of the line around a pixel."""
    low, high = max(at - 6, 0), at + 7
    weights = dark[low:high]
    return (np.arange(low, low + len(weights)) * weights).sum() / weights.sum()


def bar(page, low, high):
    """Lengths in mm of a level bar that lies between two heights in mm from the top: between the
    long ticks above and below it."""
    best = max(
        (longest_run(page[y]) + (y,) for y in range(int(low * MM), int(high * MM))),
        key=lambda found: found[0],
    )
    _, start, end, y = best
    lengths = []
    for side in (-3.7, 3.7):
        row = page[y + int(side * MM), start - 10 : end + 10]
        ticks = np.flatnonzero(row > 0.3)
        lengths.append((middle(row, ticks[-1] - 2) - middle(row, ticks[0] + 2)) / MM)
    return lengths


def ring_pattern():
    reach = int((ARM + 0.6) * MM)
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1] / MM
    ring = np.abs(np.hypot(x, y) - RING) < 0.12
    cross = (np.abs(y) < 0.12) & (np.abs(x) < ARM)
    pattern = (ring | cross).astype(float)
    return pattern - pattern.mean()


def rings(page, left, right):
    """Middles of the two register marks between two columns, in mm from the upper left corner."""
    strip = page[:, int(left * MM) : int(right * MM)]
    pattern = ring_pattern()
    size = [a + b - 1 for a, b in zip(strip.shape, pattern.shape)]
    found = np.fft.irfft2(np.fft.rfft2(strip, size) * np.fft.rfft2(pattern[::-1, ::-1], size), size)
    marks = []
    for _ in range(2):
        y, x = np.unravel_index(np.argmax(found), found.shape)
        area = found[y - 2 : y + 3, x - 2 : x + 3]
        weights = np.clip(area - area.min(), 0, None) ** 2
        ys, xs = np.mgrid[y - 2 : y + 3, x - 2 : x + 3]
        reach = pattern.shape[0] // 2
        marks.append(
            (
                ((xs * weights).sum() / weights.sum() - reach) / MM + int(left * MM) / MM,
                ((ys * weights).sum() / weights.sum() - reach) / MM,
            )
        )
        found[max(y - pattern.shape[0], 0) : y + pattern.shape[0]] = found.min()
    return sorted(marks, key=lambda mark: mark[1])


def thick(page, x):
    """Heights in mm from the top at which a column meets the heavy outline first and last: nothing
    else stands outside it above the foot, but at its ends it runs along the column."""
    column = page[: page.shape[0] - int(26 * MM), int(round(x * MM))]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], (column > 0.5).astype(int), [0]))))
    runs = list(zip(edges[::2], edges[1::2]))
    found = []
    for start, end in runs[:1] + runs[1:][-1:]:
        if 0.45 < (end - start) / MM < 0.7:
            low, high = start - 3, end + 3
            weights = column[low:high]
            found.append((np.arange(low, high) * weights).sum() / weights.sum() / MM)
    return found


def outline(file):
    lines = [e for e in ezdxf.readfile(file).modelspace() if e.dxf.layer == "OUTSIDE"]
    points = [(p.x, p.y) for p in ezdxf.path.make_path(lines[0]).flattening(0.001)]
    return np.array(points + points[:1])


def heights(points, x):
    """Where a polygon crosses the line at x."""
    a, b = points[:-1], points[1:]
    crosses = (a[:, 0] - x) * (b[:, 0] - x) < 0
    a, b = a[crosses], b[crosses]
    return np.sort(a[:, 1] + (b[:, 1] - a[:, 1]) * (x - a[:, 0]) / (b[:, 0] - a[:, 0]))


def together(pages, points):
    """The sheets of a row put together: all in mm of the first one, y down."""
    offsets, off = [(0.0, 0.0)], 0.0
    for here, there in zip(pages, pages[1:]):
        width = here.shape[1] / MM
        ours = rings(here, width - 6.35 - 5 - 6, width - 6.35 + 1)
        theirs = rings(there, 17.85 + 5 - 6, 17.85 + 5 + 6)
        steps = [(a[0] - b[0], a[1] - b[1]) for a, b in zip(ours, theirs)]
        off = max(off, np.hypot(steps[0][0] - steps[1][0], steps[0][1] - steps[1][1]))
        step = np.mean(steps, axis=0)
        offsets.append((offsets[-1][0] + step[0], offsets[-1][1] + step[1]))
    # Crossings of columns with the outline, away from its ends where it runs along a column.
    seen = []
    for i, (page, (dx, dy)) in enumerate(zip(pages, offsets)):
        width = page.shape[1] / MM
        for x in np.arange(25.0, width - 20.0, 4.0):
            seen.extend((i, x + dx, y + dy) for y in thick(page, x))
    seen = np.array(seen)
    # One shift is free: it is found from the first and last sheets' outline alone, by least squares.
    centre = (points.max(axis=0) + points.min(axis=0)) / 2
    shift = np.array([seen[:, 1].mean() - centre[0], seen[:, 2].mean() + centre[1]])

    def misses(shift):
        all_off = []
        for i, x, y in seen:
            there = heights(points, x - shift[0])
            if len(there) == 2 and np.abs(there[1] - there[0]) > 60:
                near = there[np.argmin(np.abs(there - (shift[1] - y)))]
                nudge = heights(points, x - shift[0] + 0.5)
                slope = nudge[np.argmin(np.abs(nudge - near))] - near if len(nudge) == 2 else 9
                if abs(slope) < 0.5:
                    all_off.append((i, (shift[1] - y) - near, slope / 0.5))
        return np.array(all_off)

    for _ in range(40):
        found = misses(shift)
        keep = np.abs(found[:, 1]) < max(0.5, np.median(np.abs(found[:, 1])) * 3)
        design = np.stack([found[keep, 2], np.ones(keep.sum())], axis=1)
        step = np.linalg.lstsq(design, -found[keep, 1], rcond=None)[0]
        shift = shift + step
    found = misses(shift)
    sheets = [int((found[:, 0] == i).sum()) for i in range(len(pages))]
    return {
        "joints": len(pages) - 1,
        "rings_off_mm": off,
        "points": len(found),
        "points_of_sheets": sheets,
        "outline_off_mm": float(np.abs(found[:, 1]).max()),
    }


def main():
    templates, blank, sheets = sys.argv[1], sys.argv[2], int(sys.argv[3])
    document = pypdfium2.PdfDocument(templates)
    said = {
        "print_scaling": bool(pdfium.FPDF_VIEWERREF_GetPrintScaling(document.raw)),
        "pages": [page.get_size() for page in document],
        "bars": [],
    }
    kept = []
    for i, page in enumerate(document):
        dark = drawn(page)
        # The bar at the foot, and that at the left edge with the page turned to have it above.
        foot = dark.shape[0] / MM
        across = bar(dark, foot - 33, foot - 8)
        up = bar(np.rot90(dark, -1), 8, 15)
        said["bars"].append({"page": i + 1, "across": across, "up": up})
        if 1 <= i <= sheets:
            kept.append(dark)
    if len(kept) > 1:
        said["together"] = together(kept, outline(blank))
    print(json.dumps(said))


if __name__ == "__main__":
    main()
