#!/usr/bin/python3
"""Every encapsulated frame of ../shared/data and of the files Debian's python3-pydicom
ships: writes testdata/codec/real.csv with the sha256 of what outside decoders make of it.
Colours stay as coded (no conversion from luma and chroma). No pixel is kept here.
"""
import csv, os, sys, tempfile
import numpy as np
from codec_lib import *

here = os.path.dirname(os.path.abspath(__file__))
shared = os.path.normpath(os.path.join(here, "..", "..", "..", "shared", "data"))
PYDICOM = "/usr/lib/python3/dist-packages/pydicom/data/test_files"
PREFIX = "1.2.840.10008.1.2."
CODECS = {"5": "rle", "4.50": "jpeg12", "4.51": "jpeg12", "4.57": "jpegll", "4.70": "jpegll", "4.80": "jpegls", "4.81": "jpegls", "4.90": "jpeg2k", "4.91": "jpeg2k"}
TOOLS = {"rle": ["dcmtk-rle", "gdcm"], "jpeg12": ["dcmtk-jpeg", "gdcm"], "jpegll": ["dcmtk-jpeg", "gdcm"], "jpegls": ["dcmtk-jpegls", "gdcm"], "jpeg2k": ["gdcm"]}
# One-bit frames: the tools above do not read them; the same picture stands uncompressed beside.
TWINS = {"liver_rle.dcm": "liver.dcm", "liver_nonbyte_aligned_rle.dcm": "liver_nonbyte_aligned.dcm",
         "liver_j2k.dcm": "liver.dcm", "liver_nonbyte_aligned_j2k.dcm": "liver_nonbyte_aligned.dcm"}


def bits_of(p):
    ds = pydicom.dcmread(p)
    n = int(ds.get("NumberOfFrames", 1))
    b = np.unpackbits(np.frombuffer(ds.PixelData, "u1"), bitorder="little")
    return b[: n * ds.Rows * ds.Columns].reshape(n, ds.Rows, ds.Columns, 1).astype(np.int64)


def opj(p, ds, n):
    """Frame by frame through opj_decompress."""
    out = []
    for k, fr in enumerate(generate_pixel_data_frame(ds.PixelData, n)):
        with tempfile.TemporaryDirectory() as t:
            src, dst = os.path.join(t, "a.j2k"), os.path.join(t, "a.rawl")
            open(src, "wb").write(fr)
            run("opj_decompress", "-i", src, "-o", dst)
            raw = open(dst, "rb").read()
            count = ds.Rows * ds.Columns * ds.SamplesPerPixel
            a = np.frombuffer(raw, "u1" if len(raw) == count else "<u2").astype(np.int64)
            out.append(a.reshape(ds.SamplesPerPixel, ds.Rows, ds.Columns).transpose(1, 2, 0))
    return np.stack(out)


rows = []
for where, base in (("shared", shared), ("pydicom", PYDICOM)):
    for folder, dirs, files in os.walk(base):
        dirs.sort()
        for name in sorted(files):
            p = os.path.join(folder, name)
            try:
                ds = pydicom.dcmread(p)
                codec = CODECS[str(ds.file_meta.TransferSyntaxUID)[len(PREFIX):]]
                ds.Rows, ds.PixelData
            except Exception:
                continue
            n = int(ds.get("NumberOfFrames", 1) or 1)
            got = {}
            for tool in ["twin"] if name in TWINS else TOOLS[codec] + (["opj"] if codec == "jpeg2k" else []):
                try:
                    if tool == "twin":
                        a = bits_of(os.path.join(folder, TWINS[name]))
                    elif tool == "opj":
                        a = opj(p, ds, n)
                    else:
                        a = decode(tool, p)
                    assert a.shape == (n, ds.Rows, ds.Columns, ds.SamplesPerPixel), a.shape
                    got[tool] = [digest(f, ds.BitsStored) for f in a]
                except Exception as e:
                    print(name, tool, "fails:", str(e)[-160:].replace("\n", " "))
            for k in range(n):
                by = {}
                for tool, h in got.items():
                    by.setdefault(h[k], []).append(tool)
                if len(by) > 1 and k == 0:
                    print(name, "decoders differ:", list(by.values()))
                sha = next(iter(by), "")
                rows.append(dict(where=where, file=os.path.relpath(p, base), frame=k + 1, codec=codec, rows=ds.Rows, columns=ds.Columns,
                                 samples=ds.SamplesPerPixel, allocated=ds.BitsAllocated, stored=ds.BitsStored, signed=ds.PixelRepresentation,
                                 sha256=sha, decoder=" and ".join(by.get(sha, []))))
with open(os.path.join(here, "..", "codec", "real.csv"), "w", newline="") as f:
    w = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
    w.writeheader()
    w.writerows(rows)
print(len(rows), "frames,", sum(1 for r in rows if not r["sha256"]), "without a decoder")
