#!/usr/bin/python3
# Makes testdata/scan/nifti.json: small NIfTI images and what nibabel reads from them.
# Debian 12: nibabel 5.0.0, numpy 1.24.2. Run from the project's root; the result is the same each time.
import base64, gzip, io, itertools, json
import nibabel as nib
import numpy as np
from nibabel import affines

rng = np.random.default_rng(20)
out = []


def bytes_of(img):
    holder = {k: nib.FileHolder(fileobj=io.BytesIO()) for k in img.files_types and [t[0] for t in img.files_types]}
    img.file_map = holder
    img.to_file_map()
    return {k: v.fileobj.getvalue() for k, v in holder.items()}


def add(name, img, scaled=True, note=""):
    files = bytes_of(img)
    back = type(img).from_file_map({k: nib.FileHolder(fileobj=io.BytesIO(v)) for k, v in files.items()})
    data = np.asarray(back.dataobj)
    if data.dtype.names:  # RGB: luma of BT.601
        data = np.floor(0.299 * data["R"] + 0.587 * data["G"] + 0.114 * data["B"] + 0.5)
    elif np.iscomplexobj(data):
        data = np.abs(data)
    data = np.asarray(data, np.float64)
    while data.ndim < 3:
        data = data[..., None]
    first = data[(Ellipsis,) + (0,) * (data.ndim - 3)] if data.ndim > 3 else data
    h = back.header
    oriented = int(h["qform_code"]) > 0 or int(h["sform_code"]) > 0
    out.append(dict(
        name=name, files={k: base64.b64encode(v).decode() for k, v in files.items()},
        shape=list(first.shape), sum=float(first.sum()), last=float(first[-1, -1, -1]), first=float(first[0, 0, 0]),
        oriented=oriented, affine=np.round(back.affine, 9).tolist(),
        axes="".join(nib.aff2axcodes(back.affine)) if oriented else "???", note=note))


shape = (3, 4, 2)
values = np.arange(24, dtype=np.int16).reshape(shape, order="F") * 7 - 50
# every axis order and direction, by sform, by qform, and by both saying different things
for perm in itertools.permutations(range(3)):
    for flips in itertools.product((1, -1), repeat=3):
        m = np.zeros((4, 4))
        for col, row in enumerate(perm):
            m[row, col] = flips[col] * (0.8, 1.1, 2.5)[col]
        m[:3, 3], m[3, 3] = (-12.5, 30.25, 7), 1
        label = "".join(nib.aff2axcodes(m))
        s = nib.Nifti1Image(values, None)
        s.set_sform(m, 2); s.set_qform(None, 0)
        add("sform " + label, s)
        q = nib.Nifti1Image(values, None)
        q.set_qform(m, 1); q.set_sform(None, 0)
        add("qform " + label, q)
a, b = 0.3, -0.5
turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]]) @ np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
oblique = affines.from_matvec(turn @ np.diag((0.9, 1.2, 3)), (5, -6, 700))
both = nib.Nifti1Image(values, None)
both.set_sform(oblique, 1); both.set_qform(np.diag((1, 2, 3, 1)), 1)
add("sform before qform", both)
shear = oblique.copy(); shear[:3, 2] += (0.4, 0.6, 0)
img = nib.Nifti1Image(values, None); img.set_sform(shear, 1); img.set_qform(None, 0)
add("sheared sform", img)
none = nib.Nifti1Image(values, None); none.set_sform(None, 0); none.set_qform(None, 0)
none.header.set_zooms((0.8, 1.1, 2.5))
add("neither", none)

kinds = ["u1", "i1", "i2", "u2", "i4", "u4", "i8", "u8", "f4", "f8", "c8", "c16"]
for kind in kinds:
    for order in "<>":
        for cls in (nib.Nifti1Image, nib.Nifti2Image, nib.Nifti1Pair, nib.Nifti2Pair):
            dt = np.dtype(kind)
            if dt.kind in "iu":
                i = np.iinfo(dt)
                d = rng.integers(max(i.min, -2**40), min(i.max, 2**40), shape, dtype=np.int64).astype(dt)
                if dt.itemsize <= 2:
                    d[0, 0, 0], d[-1, -1, -1] = i.min, i.max
            else:
                d = rng.normal(0, 100, shape).astype(dt)
            h = cls.header_class(endianness=order)
            img = cls(d, oblique, header=h)
            img.set_data_dtype(dt)
            add("%s %s %s" % (cls.__name__, order, kind), img)
rgb = np.zeros(shape, dtype=[("R", "u1"), ("G", "u1"), ("B", "u1")])
for c in "RGB":
    rgb[c] = rng.integers(0, 256, shape)
add("rgb", nib.Nifti1Image(rgb, oblique))
# scale slopes: nibabel's rule is that 0 and what is not finite mean no scaling
for slope, inter in [(2, -10), (0.001, 33.5), (-1.5, 4), (0, 5), (float("nan"), 1), (float("inf"), 1)]:
    img = nib.Nifti1Image(values, oblique)
    raw = bytearray(bytes_of(img)["image"])
    raw[112:116] = np.float32(slope).tobytes(); raw[116:120] = np.float32(inter).tobytes()
    back = nib.Nifti1Image.from_bytes(bytes(raw))
    data = np.asarray(back.dataobj, np.float64)
    out.append(dict(name="slope %g inter %g" % (slope, inter), files={"image": base64.b64encode(bytes(raw)).decode()}, shape=list(shape),
                    sum=float(data.sum()), last=float(data[-1, -1, -1]), first=float(data[0, 0, 0]), oriented=True,
                    affine=np.round(back.affine, 9).tolist(), axes="".join(nib.aff2axcodes(back.affine)), note=""))
four = nib.Nifti1Image(rng.integers(-300, 300, shape + (3,)).astype("i2"), oblique)
add("three volumes", four)
add("one plane", nib.Nifti1Image(values[:, :, 0], oblique))
json.dump(out, open("testdata/scan/nifti.json", "w"), indent=0)
print(len(out), nib.__version__, np.__version__)
