#!/usr/bin/python3
"""JPEG-LS frames encoded by CharLS 2.4.1, with the sha256 of what CharLS decodes.

  codec_jpegls.py             writes testdata/codec/jpegls.zip and .csv
  codec_jpegls.py N BASE      writes N random frames to BASE.zip and .csv (for a long check)
"""
import os, sys
import numpy as np
from codec_lib import *

here = os.path.dirname(os.path.abspath(__file__))
lib = charls()
# Presets keep the highest sample at the precision's: CharLS 2.4.1 takes no notice of another
# MAXVAL, or fails its own assertion, so it cannot judge those.


def add(pack, rng, name, rows, cols, n, bits, near, ilv, kind, preset=None):
    a = image(rng, rows, cols, n, bits, kind=kind)
    if preset and preset[0]:
        a = np.minimum(a, preset[0])
    s = jls_encode(lib, a, bits, near, ilv, preset)
    try:
        out = jls_decode(lib, s, rows, cols, n, bits, ilv)
    except RuntimeError as e:
        print(name, "CharLS cannot read its own frame:", e, rows, cols, n, bits, near, ilv, kind, preset)
        return
    if near == 0:
        assert (out == a).all(), name
    pack.add("jpegls", name, s, rows, cols, n, 8 if bits <= 8 else 16, bits, False, digest(out, bits), "CharLS 2.4.1", "CharLS 2.4.1")


if len(sys.argv) == 3:
    count, base = int(sys.argv[1]), sys.argv[2]
    pack, rng = Pack(base), np.random.default_rng(87)
    for i in range(count):
        n = int(rng.choice([1, 1, 3]))
        bits = int(rng.integers(2, 17))
        near = int(rng.integers(0, 6))
        near = min(near, ((1 << bits) - 1) // 2)
        ilv = int(rng.integers(0, 3)) if n == 3 else 0
        preset = None
        if rng.random() < 0.2 and ilv != 2:  # CharLS 2.4.1 garbles presets there
            top = (1 << bits) - 1
            t = sorted(int(v) for v in rng.integers(min(near + 1, top), top + 1, 3))
            preset = (top, t[0], t[1], t[2], int(rng.choice([3, 31, 63, 255])))
        add(pack, rng, "%05d" % i, int(rng.integers(1, 80)), int(rng.integers(1, 80)), n, bits, near, ilv,
            str(rng.choice(["mixed", "mixed", "flat", "random"])), preset)
    pack.write()
    sys.exit()

pack, rng = Pack(os.path.join(here, "..", "codec", "jpegls")), np.random.default_rng(1)
for bits in range(2, 17):
    add(pack, rng, "grey_%02d" % bits, 23, 31, 1, bits, 0, 0, "mixed")
for bits in (2, 8, 12, 16):
    for kind in ("flat", "random"):
        add(pack, rng, "%s_%02d" % (kind, bits), 17, 40, 1, bits, 0, 0, kind)
    for near in range(1, 6):
        if near <= ((1 << bits) - 1) // 2:
            add(pack, rng, "near%d_%02d" % (near, bits), 23, 31, 1, bits, near, 0, "mixed")
    for ilv, word in enumerate(("none", "line", "sample")):
        for near in (0, 1, 3):
            if near <= ((1 << bits) - 1) // 2:
                add(pack, rng, "rgb_%s_near%d_%02d" % (word, near, bits), 19, 27, 3, bits, near, ilv, "mixed")
        add(pack, rng, "rgb_%s_flat_%02d" % (word, bits), 19, 27, 3, bits, 0, ilv, "flat")
add(pack, rng, "near255_16", 23, 31, 1, 16, 255, 0, "mixed")
add(pack, rng, "preset_12", 23, 31, 1, 12, 0, 0, "mixed", (4095, 10, 50, 300, 40))
add(pack, rng, "preset_reset_16", 23, 31, 1, 16, 0, 0, "mixed", (65535, 0, 0, 0, 7))
add(pack, rng, "preset_near_10", 23, 31, 1, 10, 2, 0, "mixed", (1023, 9, 30, 90, 31))
add(pack, rng, "column_12", 37, 1, 1, 12, 0, 0, "mixed")
add(pack, rng, "row_12", 1, 37, 1, 12, 0, 0, "mixed")
add(pack, rng, "one_08", 1, 1, 1, 8, 0, 0, "mixed")

# Restart intervals: every interval is coded as an image of its own lines (T.87 A.1: the
# state starts afresh), so strips encoded alone and joined by restart markers make one.
for n, ilv, bits in ((1, 0, 12), (3, 2, 8), (3, 1, 8)):
    a = image(rng, 24, 29, n, bits)
    strips = [jls_encode(lib, a[y : y + 5], bits, 0, ilv) for y in range(0, 24, 5)]
    head = bytearray(strips[0])
    sof = head.index(b"\xff\xf7")
    head[sof + 5 : sof + 7] = (24).to_bytes(2, "big")
    sos = head.index(b"\xff\xda")
    body = head[:sos] + b"\xff\xdd\x00\x04\x00\x05" + head[sos:-2]
    for i, s in enumerate(strips[1:]):
        at = s.index(b"\xff\xda")
        at += 2 + int.from_bytes(s[at + 2 : at + 4], "big")
        body += bytes([0xFF, 0xD0 + i % 8]) + s[at:-2]
    body += b"\xff\xd9"
    out = jls_decode(lib, bytes(body), 24, 29, n, bits, ilv)
    assert (out == a).all()
    pack.add("jpegls", "restart_%d_%02d_%d" % (n, bits, ilv), bytes(body), 24, 29, n, 8 if bits <= 8 else 16, bits, False,
             digest(out, bits), "CharLS 2.4.1, strips joined", "CharLS 2.4.1")
pack.write()
