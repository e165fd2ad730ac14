"""A board with a point every 100 mm, photographed through two bent lenses, square on and tilted by 10 degrees.

OpenCV's projectPoints (the model of Brown in the order k1, k2, p1, p2, k3) makes testdata/photo/lens_grid.json:
/usr/bin/python3 testdata/gen/lens_grid.py, with python3-opencv 4.6.0 of Debian 12.
"""
import json
import math
import pathlib

import cv2
import numpy as np

SIZE = (4000, 3000)
BARREL = ([[3200.0, 0, 2010.0], [0, 3200.0, 1505.0], [0, 0, 1]], [-0.12, 0.045, 0.0008, -0.0006, -0.01])
PINCUSHION = ([[4100.0, 0, 1985.0], [0, 4100.0, 1490.0], [0, 0, 1]], [0.08, -0.02, -0.0004, 0.0005, 0.0])


def case(name, lens, tilt, away, reach):
    k, d = np.array(lens[0]), np.array(lens[1])
    mm = [(x, y) for y in np.arange(-reach[1], reach[1] + 1, 100.0) for x in np.arange(-reach[0], reach[0] + 1, 100.0)]
    board = np.array([(x, y, 0.0) for x, y in mm])
    px, _ = cv2.projectPoints(board, np.array([math.radians(tilt), 0, 0]), np.array([0.0, 0.0, away]), k, d)
    px = px.reshape(-1, 2)
    seen = [i for i, (x, y) in enumerate(px) if 0 <= x < SIZE[0] and 0 <= y < SIZE[1]]
    return {"name": name, "tilt": tilt, "K": k.tolist(), "D": d.tolist(), "mm": [mm[i] for i in seen], "px": px[seen].round(9).tolist()}


out = {
    "by": "OpenCV " + cv2.__version__ + " projectPoints; lens_grid.py",
    "size": SIZE,
    "boards": [
        case("barrel, square on", BARREL, 0, 900, (500, 300)),
        case("barrel, tilted", BARREL, 10, 900, (500, 300)),
        case("pincushion, square on", PINCUSHION, 0, 1000, (400, 300)),
        case("pincushion, tilted", PINCUSHION, 10, 1000, (400, 300)),
    ],
}
path = pathlib.Path(__file__).parent.parent / "photo" / "lens_grid.json"
path.write_text(json.dumps(out, separators=(",", ":")) + "\n")
