#!/usr/bin/python3
"""Makes testdata/annotate/polygons.json: 1,000 outlines with area, length, centroid, validity, points inside and the
depth of the deepest interior point as shapely gives them. Debian 12: python3-shapely 1.8.5, python3-numpy 1.24.2.
Run from the module root: /usr/bin/python3 testdata/gen/polygons.py"""
import json
import numpy as np
import shapely
from shapely.algorithms.polylabel import polylabel
from shapely.geometry import Point, Polygon
from shapely.validation import explain_validity

rng = np.random.default_rng(20260101)


def star(cx, cy, r, n, wobble):
    """A ring round a centre: never crosses itself."""
    turn = np.sort(rng.uniform(0, 2 * np.pi, n))
    rad = r * rng.uniform(1 - wobble, 1, n)
    return [[round(float(cx + a * np.cos(t)), 1), round(float(cy + a * np.sin(t)), 1)] for t, a in zip(turn, rad)]


def scribble(n):
    """Random points in random order: nearly always crosses itself."""
    return [[round(float(x), 1), round(float(y), 1)] for x, y in rng.uniform(0, 300, (n, 2))]


cases = []
while len(cases) < 1000:
    kind = len(cases) % 5
    if kind == 4:
        outer, holes = scribble(int(rng.integers(4, 8))), []
    else:
        r = float(rng.uniform(20, 200))
        cx, cy = rng.uniform(0, 4000, 2)
        outer = star(cx, cy, r, int(rng.integers(3, 16)), float(rng.uniform(0, 0.7)))
        holes = [star(cx + rng.uniform(-.4, .4) * r, cy + rng.uniform(-.4, .4) * r, r * rng.uniform(.05, .3), int(rng.integers(3, 7)), .4)
                 for _ in range(kind if kind < 3 else 0)]
    if len({tuple(q) for q in outer}) < 3 or any(len({tuple(q) for q in h}) < 3 for h in holes):
        continue
    p = Polygon(outer, holes)
    rings = [p.exterior, *p.interiors]
    if p.is_valid and any(a.intersects(b) for i, a in enumerate(rings) for b in rings[:i]):
        continue  # rings that touch in one point: the standard allows it, our rule does not
    c = {"outer": outer, "holes": holes, "valid": p.is_valid}
    if p.is_valid:
        pole = polylabel(p, tolerance=p.length * 1e-5)
        x0, y0, x1, y1 = p.bounds
        pts = [[round(float(x), 3), round(float(y), 3)] for x, y in zip(rng.uniform(x0, x1, 4), rng.uniform(y0, y1, 4))]
        c |= {"area": round(p.area, 6), "length": round(p.length, 6), "centroid": [round(p.centroid.x, 6), round(p.centroid.y, 6)],
              "depth": round(p.boundary.distance(pole), 4), "points": pts, "inside": [p.contains(Point(q)) for q in pts]}
    else:
        c["why"] = explain_validity(p).split("[")[0]
    cases.append(c)

with open("testdata/annotate/polygons.json", "w") as f:
    head = {"by": "testdata/gen/polygons.py", "version": "shapely " + shapely.__version__,
            "tolerance": "area, length and centroid 1e-5; depth 1e-3 of itself"}
    f.write(json.dumps(head)[:-1] + ',"cases":[\n')
    f.write(",\n".join(json.dumps(c, separators=(",", ":")) for c in cases) + "\n]}\n")
