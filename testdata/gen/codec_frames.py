#!/usr/bin/python3
"""Run-length, lossless JPEG, cosine-transform JPEG and JPEG 2000 frames by outside
encoders, with the sha256 of what outside decoders make of them: writes
testdata/codec/{rle,jpegll,jpeg12,jpeg2k}.zip and .csv.

Where two outside decoders are named both were run and agreed.
"""
import os, sys, tempfile
import numpy as np
from codec_lib import *
from codec_jpegll import encode as jpegll_encode

here = os.path.dirname(os.path.abspath(__file__))
tmp = tempfile.mkdtemp()
RLE, BASE, EXT = "1.2.840.10008.1.2.5", "1.2.840.10008.1.2.4.50", "1.2.840.10008.1.2.4.51"
LL, J2K = "1.2.840.10008.1.2.4.57", "1.2.840.10008.1.2.4.90"


def path(name):
    return os.path.join(tmp, name + ".dcm")


def agree(decoders, p, stored):
    """Decodes by every decoder; all that succeed must agree, and one must succeed."""
    good, words = None, []
    for d in decoders:
        try:
            a = decode(d, p)[0]
        except RuntimeError as e:
            print(os.path.basename(p), d, "fails:", str(e)[-120:].replace("\n", " "))
            continue
        h = digest(a, stored)
        if good and good != h:
            print(os.path.basename(p), "decoders differ:", words, d)
            continue
        good = good or h
        words.append(d)
    assert good, p
    return good, " and ".join(words)


def through(pack, codec, name, a, alloc, stored, signed, encode, encoder, decoders, lossless):
    """a native file -> encode(in, out) -> stream; outside decoders give the digest."""
    rows, cols, n = a.shape
    src, dst = path(name + "_src"), path(name)
    wrap(src, rows, cols, n, alloc, stored, signed, container(a, alloc))
    encode(src, dst)
    fr, ds = frames_of(dst)
    h, words = agree(decoders, dst, ds.BitsStored)
    if lossless and h != digest(a, stored):
        print(name, "is not what went in")
    pack.add(codec, name, fr[0], rows, cols, n, ds.BitsAllocated, ds.BitsStored, bool(ds.PixelRepresentation), h, encoder, words)


def given(pack, codec, name, stream, rows, cols, n, alloc, stored, syntax, encoder, decoders, original=None, photometric=None):
    """A stream made without DICOM is wrapped, so that the DICOM decoders can read it."""
    p = path(name)
    wrap(p, rows, cols, n, alloc, stored, False, [stream + b"\0" * (len(stream) % 2)], syntax, photometric)
    h, words = agree(decoders, p, stored)
    if original is not None and h != digest(original, stored):
        print(name, "is not what went in")
    pack.add(codec, name, stream, rows, cols, n, alloc, stored, False, h, encoder, words)


# --- run length ----------------------------------------------------------------------
rng = np.random.default_rng(2)
pack = Pack(os.path.join(here, "..", "codec", "rle"))
for alloc, n, kind in [(a, n, k) for a in (8, 16, 32) for n in (1, 3) for k in ("mixed", "flat", "random")]:
    for signed in (False, True):
        if alloc == 32 or (signed and n == 3):
            continue
        through(pack, "rle", "%s_%02d_%d%s" % (kind, alloc, n, "s" if signed else ""), image(rng, 30, 34, n, alloc, signed, kind), alloc, alloc, signed,
                lambda s, d: run("gdcmconv", "--rle", s, d), "gdcm 3.0.21", ["dcmtk-rle", "gdcm"], True)
    name = "pydicom_%s_%02d_%d" % (kind, alloc, n)
    a = image(rng, 29, 33, n, alloc, False, kind)
    stream = pydicom.pixel_data_handlers.rle_handler.rle_encode_frame(
        (a[:, :, 0] if n == 1 else a).astype({8: "<u1", 16: "<u2", 32: "<u4"}[alloc]))
    given(pack, "rle", name, stream, 29, 33, n, alloc, alloc, RLE, "pydicom 2.3.1", ["dcmtk-rle", "gdcm"], a)
pack.write()

# --- lossless JPEG -------------------------------------------------------------------
rng = np.random.default_rng(3)
pack = Pack(os.path.join(here, "..", "codec", "jpegll"))
for alloc, stored, signed in ((8, 8, False), (16, 12, False), (16, 16, False), (16, 16, True), (16, 12, True)):
    for sv in range(1, 8):
        tag = "grey_%02d%s_sv%d" % (stored, "s" if signed else "", sv)
        through(pack, "jpegll", tag, image(rng, 31, 37, 1, stored, signed), alloc, stored, signed,
                lambda s, d: run("dcmcjpeg", "+el", "+sv", str(sv), s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], True)
    through(pack, "jpegll", "random_%02d%s" % (stored, "s" if signed else ""), image(rng, 31, 37, 1, stored, signed, "random"), alloc, stored, signed,
            lambda s, d: run("dcmcjpeg", "+e1", s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], True)
for pt in (1, 3):
    through(pack, "jpegll", "grey_12_pt%d" % pt, image(rng, 31, 37, 1, 12), 16, 12, False,
            lambda s, d: run("dcmcjpeg", "+el", "+sv", "4", "+pt", str(pt), s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], False)
for sv in (1, 4, 6, 7):
    through(pack, "jpegll", "rgb_08_sv%d" % sv, image(rng, 31, 37, 3, 8), 8, 8, False,
            lambda s, d: run("dcmcjpeg", "+el", "+sv", str(sv), s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], True)
through(pack, "jpegll", "rgb_16", image(rng, 31, 37, 3, 16), 16, 16, False,
        lambda s, d: run("dcmcjpeg", "+e1", s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], True)
through(pack, "jpegll", "gdcm_16", image(rng, 31, 37, 1, 16), 16, 16, False,
        lambda s, d: run("gdcmconv", "--jpeg", s, d), "gdcm 3.0.21", ["dcmtk-jpeg", "gdcm"], True)
# What those encoders cannot make: our own encoder, judged by the outside decoders.
for name, n, bits, sv, pt, restart, split in (
    ("own_restart_12", 1, 12, 6, 0, 4, False), ("own_restart_08", 1, 8, 1, 0, 1, False), ("own_restart_rgb", 3, 8, 7, 0, 3, False),
    ("own_split_rgb", 3, 8, 5, 0, 0, True), ("own_split_restart_rgb", 3, 8, 2, 0, 5, True), ("own_pt_restart_16", 1, 16, 3, 2, 7, False)):
    a = image(rng, 31, 37, n, bits)
    given(pack, "jpegll", name, jpegll_encode(a, bits, sv, pt, restart, split), 31, 37, n, 8 if bits <= 8 else 16, bits, LL,
          "codec_jpegll.py", ["dcmtk-jpeg", "gdcm"], (a >> pt) << pt)
pack.write()

# --- cosine-transform JPEG -----------------------------------------------------------
rng = np.random.default_rng(4)
pack = Pack(os.path.join(here, "..", "codec", "jpeg12"))
for q in (30, 75, 95, 100):
    for kind in ("mixed", "random"):
        through(pack, "jpeg12", "grey_12_q%d_%s" % (q, kind), image(rng, 43, 51, 1, 12, False, kind), 16, 12, False,
                lambda s, d: run("dcmcjpeg", "+ee", "+q", str(q), s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], False)
        through(pack, "jpeg12", "grey_08_q%d_%s" % (q, kind), image(rng, 43, 51, 1, 8, False, kind), 8, 8, False,
                lambda s, d: run("dcmcjpeg", "+eb", "+q", str(q), s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], False)
through(pack, "jpeg12", "extended_08", image(rng, 43, 51, 1, 8), 8, 8, False,
        lambda s, d: run("dcmcjpeg", "+ee", s, d), "dcmtk 3.6.7", ["dcmtk-jpeg", "gdcm"], False)
for rows, cols in ((43, 51), (16, 16), (17, 33), (1, 1), (3, 2), (5, 4), (7, 6), (40, 5)):
    for opt in ("+s2", "+s4", "+n1", "+cr"):
        a = image(rng, rows, cols, 3, 8)
        through(pack, "jpeg12", "rgb_08_%s_%dx%d" % (opt[1:], rows, cols), a, 8, 8, False,
                lambda s, d: run("dcmcjpeg", "+eb", "+q", "85", opt, s, d), "dcmtk 3.6.7", ["dcmtk-jpeg"], False)
for opt in ("+s2", "+s4", "+n1", "+cr"):
    try:
        through(pack, "jpeg12", "rgb_12_%s" % opt[1:], image(rng, 43, 51, 3, 12), 16, 12, False,
                lambda s, d: run("dcmcjpeg", "+ee", "+q", "85", opt, s, d), "dcmtk 3.6.7", ["dcmtk-jpeg"], False)
    except Exception as e:
        print("12-bit colour:", opt, str(e)[-150:])


def cjpeg(a, *opts):
    rows, cols, n = a.shape
    src, out = os.path.join(tmp, "x.ppm"), os.path.join(tmp, "x.jpg")
    with open(src, "wb") as f:
        f.write(b"P%d %d %d 255\n" % (6 if n == 3 else 5, cols, rows) + a.astype("u1").tobytes())
    run("cjpeg", "-outfile", out, *opts, src)
    return open(out, "rb").read()


for name, n, opts in (
    ("turbo_restart", 1, ["-restart", "3B"]), ("turbo_restart_rgb", 3, ["-sample", "2x2", "-restart", "1"]), ("turbo_optimised", 3, ["-optimize", "-sample", "1x1"]),
    ("turbo_1x2", 3, ["-sample", "1x2"]), ("turbo_4x1", 3, ["-sample", "4x1"]), ("turbo_4x2", 3, ["-sample", "4x2"]), ("turbo_2x1", 3, ["-sample", "2x1,1x1,1x1"]),
    ("turbo_mixed", 3, ["-sample", "2x2,2x1,1x2"]), ("turbo_quality1", 1, ["-quality", "1"])):
    a = image(rng, 43, 51, n, 8)
    given(pack, "jpeg12", name, cjpeg(a, *opts), 43, 51, n, 8, 8, BASE, "libjpeg-turbo 2.1.5 cjpeg", ["dcmtk-jpeg"], None, "YBR_FULL" if n == 3 else None)
a = image(rng, 43, 51, 3, 8)
scans = os.path.join(tmp, "scans")
open(scans, "w").write("0;\n1;\n2;\n")
for s in ("1x1", "2x2"):
    given(pack, "jpeg12", "turbo_split_" + s, cjpeg(a, "-sample", s, "-scans", scans), 43, 51, 3, 8, 8, BASE, "libjpeg-turbo 2.1.5 cjpeg", ["dcmtk-jpeg"], None, "YBR_FULL")
pack.write()

# --- JPEG 2000 -----------------------------------------------------------------------
rng = np.random.default_rng(5)
pack = Pack(os.path.join(here, "..", "codec", "jpeg2k"))


# An even width: opj_compress 2.5.0 refuses raw input whose width, height, components and
# depth share a set bit.
def opj(a, bits, signed, *opts):
    rows, cols, n = a.shape
    src, out = os.path.join(tmp, "x.rawl"), os.path.join(tmp, "x.j2k")
    dt = ("<i" if signed else "<u") + ("1" if bits <= 8 else "2")
    open(src, "wb").write(a.transpose(2, 0, 1).astype(dt if bits > 8 else dt[1:]).tobytes())
    run("opj_compress", "-i", src, "-o", out, "-F", "%d,%d,%d,%d,%s" % (cols, rows, n, bits, "s" if signed else "u"), *opts)
    return open(out, "rb").read()


def opj_raw(stream, rows, cols, n, bits, signed):
    src, out = os.path.join(tmp, "y.j2k"), os.path.join(tmp, "y.rawl")
    open(src, "wb").write(stream)
    run("opj_decompress", "-i", src, "-o", out)
    dt = ("i" if signed else "u") + ("1" if bits <= 8 else "2")
    return np.frombuffer(open(out, "rb").read(), dt if bits <= 8 else "<" + dt).astype(np.int64).reshape(n, rows, cols).transpose(1, 2, 0)


for n, bits, signed, opts, tag in (
    (1, 8, False, [], ""), (1, 12, False, [], ""), (1, 16, False, [], ""), (1, 12, True, [], ""), (1, 16, True, [], ""),
    (1, 10, False, [], ""), (1, 1, False, [], ""), (1, 7, False, [], ""), (1, 13, True, [], ""), (3, 8, False, [], ""), (3, 12, False, [], ""), (3, 16, False, [], ""), (3, 8, False, ["-mct", "0"], "nomct"),
    (1, 12, False, ["-I", "-r", "8"], "lossy"), (1, 16, True, ["-I", "-r", "6"], "lossy"), (3, 8, False, ["-I", "-r", "10"], "lossy"),
    (1, 12, False, ["-n", "3", "-t", "16,16"], "tiles"), (3, 8, False, ["-n", "3", "-t", "20,13"], "tiles"), (1, 12, False, ["-n", "1"], "flat"), (1, 8, False, ["-b", "4,4"], "blocks"),
    (1, 12, False, ["-c", "[32,32],[16,16]"], "precincts"), (3, 8, False, ["-p", "RPCL"], "rpcl"), (1, 16, False, ["-M", "63"], "modes"), (1, 12, False, ["-SOP", "-EPH"], "sop")):
    a = image(rng, 41, 54, n, bits, signed)
    s = opj(a, bits, signed, *opts)
    out = opj_raw(s, 41, 54, n, bits, signed)
    if tag != "lossy":
        assert digest(out, bits) == digest(a, bits), (n, bits, signed, tag)
    pack.add("jpeg2k", "opj_%d_%02d%s%s" % (n, bits, "s" if signed else "", tag and "_" + tag), s, 41, 54, n, 1 if bits == 1 else 8 if bits <= 8 else 16, bits, signed,
             digest(out, bits), "OpenJPEG 2.5.0", "opj_decompress 2.5.0")
for alloc, stored, signed, n in ((8, 8, False, 1), (16, 12, False, 1), (16, 16, True, 1), (8, 8, False, 3)):
    for opts in ([], ["--lossy", "-r", "8"]):
        through(pack, "jpeg2k", "gdcm_%d_%02d%s%s" % (n, stored, "s" if signed else "", "_lossy" if opts else ""), image(rng, 41, 54, n, stored, signed), alloc, stored, signed,
                lambda s, d: run("gdcmconv", "--j2k", *opts, s, d), "gdcm 3.0.21", ["gdcm"], not opts)
pack.write()
