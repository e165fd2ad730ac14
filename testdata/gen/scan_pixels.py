#!/usr/bin/python3
# Makes testdata/scan/pixels.json: for every file of two collections the sha256 of its decoded samples, or why it has none.
# Collections: "syntaxes" (../shared/data/dicom-syntaxes), "series" (../shared/data/dicom-series), "pydicom" (the data folder
# of Debian's python3-pydicom 2.3.1). Decoders: native, deflated and run-length by pydicom's own numpy code; cosine and lossless
# JPEG by dcmtk 3.6.7 (dcmdjpeg, colours left as coded); JPEG-LS by dcmtk (dcmdjpls); JPEG 2000 by gdcm 3.0.21 (gdcmconv).
# Samples: every frame, pixel by pixel, as int32 (float64 for floating point): the bits of BitsStored, sign extended.
# Run from the project's root.
import hashlib, json, os, subprocess, sys, tempfile, warnings, zlib
import numpy as np
import pydicom
from pydicom.encaps import generate_pixel_data_frame
from pydicom.pixel_data_handlers import numpy_handler, rle_handler

warnings.filterwarnings("ignore")
SYN = "1.2.840.10008.1.2"
JPEG, JLS, J2K = {"50", "51", "57", "70"}, {"80", "81"}, {"90", "91"}


def kind(uid):
    return uid.rsplit(".", 1)[1] if uid.startswith(SYN + ".4.") else ""


def outside(tool, path):
    """Has a tool unpack the file and reads the result."""
    out = tempfile.NamedTemporaryFile(suffix=".dcm", delete=False).name
    try:
        r = subprocess.run([*tool, path, out], capture_output=True)
        if r.returncode or not os.path.getsize(out):
            raise ValueError("%s fails" % tool[0])
        return pydicom.dcmread(out)
    finally:
        os.unlink(out)


def native(ds):
    """Raw array of an uncompressed data set, frames first, samples last. Nothing is turned into another colour space."""
    n, s = int(ds.get("NumberOfFrames", 1) or 1), int(ds.get("SamplesPerPixel", 1))
    if "FloatPixelData" in ds or "DoubleFloatPixelData" in ds:
        v = np.frombuffer(ds.get("FloatPixelData") or ds.get("DoubleFloatPixelData"), "<f4" if "FloatPixelData" in ds else "<f8")
        return v.reshape(n, ds.Rows, ds.Columns, 1)
    a = numpy_handler.get_pixeldata(ds)
    if ds.BitsAllocated == 1:
        a = a[: n * ds.Rows * ds.Columns]
    a = np.asarray(a)
    if not ds.is_little_endian and ds.BitsAllocated == 8 and ds["PixelData"].VR == "OW":
        a = a.reshape(-1, 2)[:, ::-1].reshape(-1)  # PS3.5 7.3: words are swapped; this pydicom leaves them. OBXXXX1A's twins agree
    if s == 3 and ds.get("PlanarConfiguration", 0) == 1 and ds.file_meta.TransferSyntaxUID != SYN + ".5":
        return a.reshape(n, 3, ds.Rows, ds.Columns).transpose(0, 2, 3, 1)
    return a.reshape(n, ds.Rows, ds.Columns, s)


def settle(a, ds, shift):
    if a.dtype.kind == "f":
        return a.astype("<f8")
    stored, high = int(ds.BitsStored), int(ds.HighBit)
    v = a.astype(np.int64) >> (high - stored + 1 if shift else 0)
    v &= (1 << stored) - 1
    if ds.PixelRepresentation == 1:
        v = np.where(v >> (stored - 1), v - (1 << stored), v)
    return v.astype(np.int64).astype("<i4" if stored < 32 or ds.PixelRepresentation else "<u4")


def decode(path):
    try:
        ds = pydicom.dcmread(path, force=True)
        len(list(ds))
    except Exception as e:
        return dict(refused="not", why="pydicom cannot read it: " + type(e).__name__)
    if len(ds) == 0 or "SOPClassUID" not in ds and "Rows" not in ds:
        return dict(refused="not", why="no DICOM data set")
    uid = str(ds.file_meta.get("TransferSyntaxUID", "")) if hasattr(ds, "file_meta") else ""
    k = kind(uid)
    facts = dict(syntax=uid, modality=str(ds.get("Modality", "")), sop=str(ds.get("SOPClassUID", "")))
    if not any(k in ds for k in ("PixelData", "FloatPixelData", "DoubleFloatPixelData")):
        return dict(refused="not", why="no pixel data", **facts)
    try:
        shift = True
        if os.path.basename(path) == "SC_rgb_jpeg.dcm":  # dcmtk refuses its odd header: libjpeg-turbo reads the stream
            from PIL import Image
            import io
            im = Image.open(io.BytesIO(next(generate_pixel_data_frame(ds.PixelData))))
            im.draft("YCbCr", im.size)
            assert im.mode == "YCbCr"
            a, ref, shift = np.asarray(im)[None], None, False
        elif os.path.basename(path) == "OT-PAL-8-face.dcm":  # no syntax stated: implicit little endian, one byte a pixel
            a, ref = np.frombuffer(ds.PixelData, np.uint8)[: ds.Rows * ds.Columns].reshape(1, ds.Rows, ds.Columns, 1), None
        elif os.path.basename(path) == "JPEG2000-embedded-sequence-delimiter.dcm":  # gdcm stops at the delimiter inside the frame
            with tempfile.TemporaryDirectory() as d:
                open(d + "/a.j2k", "wb").write(next(generate_pixel_data_frame(ds.PixelData, 1)))
                subprocess.run(["opj_decompress", "-i", d + "/a.j2k", "-o", d + "/a.rawl"], check=True, capture_output=True)
                a, ref, shift = np.fromfile(d + "/a.rawl", "<u2").reshape(1, ds.Rows, ds.Columns, 1), None, False
        elif os.path.basename(path) == "JLSL_08_07_0_1F.dcm":  # dcmtk refuses 7 of 8 bits: gdcm reads it
            ref, shift = outside(["gdcmconv", "--raw"], path), False
        elif k in JPEG:
            ref, shift = outside(["dcmdjpeg", "+cn"], path), False
        elif k in JLS:
            ref, shift = outside(["dcmdjpls"], path), False
        elif k in J2K:
            ref, shift = outside(["gdcmconv", "--raw"], path), False
        elif k:
            return dict(refused="unsupported", why="transfer syntax " + uid, **facts)
        elif uid == SYN + ".8.1":
            frames = [zlib.decompress(f, -15) for f in generate_pixel_data_frame(ds.PixelData, int(ds.NumberOfFrames))]
            bits = [np.unpackbits(np.frombuffer(f, np.uint8), bitorder="little")[: ds.Rows * ds.Columns] for f in frames]
            a, ref = np.stack(bits).reshape(len(frames), ds.Rows, ds.Columns, 1), None
        elif uid == SYN + ".5":
            shift = False
            if ds.BitsAllocated == 1:
                return dict(twin=path.replace("_rle", ""), **facts)  # no reference reads 1-bit run length: its native twin counts
            a = rle_handler.get_pixeldata(ds)
            n = int(ds.get("NumberOfFrames", 1) or 1)
            if ds.SamplesPerPixel == 3:
                a = a.reshape(n, 3, ds.Rows, ds.Columns).transpose(0, 2, 3, 1)
            a, ref = a.reshape(n, ds.Rows, ds.Columns, -1), None
        else:
            ref = ds
        if ref is not None:
            if ref is not ds:
                for t in ("Rows", "Columns"):
                    assert ref[t].value == ds[t].value
            a = native(ref)
        v = settle(a, ds, shift)
    except Exception as e:
        return dict(refused="damaged", why="%s: %s" % (type(e).__name__, str(e)[:150]), **facts)
    return dict(sha256=hashlib.sha256(np.ascontiguousarray(v).tobytes()).hexdigest(), frames=int(v.shape[0]), rows=int(v.shape[1]),
                columns=int(v.shape[2]), samples=int(v.shape[3]), **facts)


out = {}
for name, folder in [("syntaxes", "../shared/data/dicom-syntaxes"), ("series", "../shared/data/dicom-series"), ("pydicom", os.path.join(os.path.dirname(pydicom.__file__), "data"))]:
    table = out[name] = {}
    for at, _, files in sorted(os.walk(folder)):
        for f in sorted(files):
            p = os.path.join(at, f)
            rel = os.path.relpath(p, folder)
            if f.endswith((".nii.gz", ".py", ".pyc")) or name == "series" and f == "LICENSE":
                continue
            table[rel] = decode(p)
for table in out.values():
    for f, r in table.items():
        if "twin" in r:
            twin = table[f.replace("_rle", "")]
            r.update({k: twin[k] for k in ("sha256", "frames", "rows", "columns", "samples")})
            del r["twin"]
# only the closing delimiter is cut off: every frame is whole, and the uncut twin counts
short = out["syntaxes"]["pydicom-data/emri_small_jpeg_2k_lossless_too_short.dcm"]
short.update({k: v for k, v in out["syntaxes"]["pydicom-data/emri_small_jpeg_2k_lossless.dcm"].items()})
del short["refused"], short["why"]
# what pydicom passes over in silence
for f, why in {"test_files/rtplan_truncated.dcm": "the file ends inside an element", "test_files/meta_missing_tsyntax.dcm": "pixel data without rows and columns",
               "test_files/nested_priv_SQ.dcm": "pixel data without rows and columns"}.items():
    out["pydicom"][f].update(refused="damaged", why=why)
json.dump(out, open("testdata/scan/pixels.json", "w"), indent=0, sort_keys=True)
for name in out:
    for f, r in out[name].items():
        if "refused" in r:
            print(name, f, r["refused"], r["why"], r.get("syntax"))
    print(name, len(out[name]), sum("sha256" in r for r in out[name].values()))
