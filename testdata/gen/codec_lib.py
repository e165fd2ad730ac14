"""Shared by the codec_*.py generators: synthetic images, DICOM wrapping, outside
encoders and decoders, and the packing of frames with the sha256 of their samples.

Needs Debian's python3-pydicom, python3-numpy, python3-gdcm, libgdcm-tools, dcmtk,
libcharls2, libopenjp2-tools, libjpeg-turbo-progs.
"""
import csv, ctypes, hashlib, io, os, subprocess, tempfile, warnings, zipfile
import numpy as np
import pydicom
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.encaps import encapsulate, generate_pixel_data_frame
from pydicom.uid import ExplicitVRLittleEndian, generate_uid

warnings.filterwarnings("ignore")
SC = "1.2.840.10008.5.1.4.1.1.7"


def image(rng, rows, cols, samples, stored, signed=False, kind="mixed"):
    """A shape with slopes, flat areas and noise; values fit `stored` bits."""
    top = (1 << stored) - 1
    y, x = np.mgrid[0:rows, 0:cols]
    out = np.zeros((rows, cols, samples), np.int64)
    for s in range(samples):
        if kind == "random":
            v = rng.integers(0, top + 1, (rows, cols))
        elif kind == "flat":
            v = np.full((rows, cols), int(rng.integers(0, top + 1)))
            v[rng.random((rows, cols)) < 0.03] = int(rng.integers(0, top + 1))
        else:
            cy, cx = rows * (0.4 + 0.1 * s), cols * 0.5
            r2 = ((y - cy) / (rows * 0.4 + 1)) ** 2 + ((x - cx) / (cols * 0.4 + 1)) ** 2
            v = np.where(r2 < 1, top * (0.3 + 0.5 * r2) + top * 0.1 * np.sin(x / 3.0 + s), 0)
            noise = rng.normal(0, max(0.6, top * 0.01), (rows, cols))
            v = np.where((r2 < 1) & (x > cols // 4), v + noise, np.round(v))
            v = np.clip(np.rint(v), 0, top).astype(np.int64)
            if rows * cols > 12:
                v[rows // 2, : cols // 3] = top
        out[:, :, s] = v
    if signed:
        out = np.where(out > top // 2, out - top - 1, out) if kind == "random" else out - (top + 1) // 2
    return out


def container(a, alloc):
    """Samples as little-endian words of the container, two's complement."""
    return (a & ((1 << alloc) - 1)).astype({8: "<u1", 16: "<u2", 32: "<u4"}[alloc]).tobytes()


def digest(a, stored):
    """sha256 of the samples, the low `stored` bits as little-endian words of 1, 2 or 4
    bytes, interleaved by pixel, rows from the top."""
    size = 1 if stored <= 8 else 2 if stored <= 16 else 4
    v = (np.asarray(a).astype(np.int64) & ((1 << stored) - 1)).astype("<u%d" % size)
    return hashlib.sha256(v.tobytes()).hexdigest()


def wrap(path, rows, cols, samples, alloc, stored, signed, pixels, syntax=ExplicitVRLittleEndian, photometric=None, frames=1):
    """Writes a DICOM file. pixels: bytes of native samples, or an encapsulated list of frames."""
    ds = Dataset()
    ds.file_meta = FileMetaDataset()
    ds.file_meta.TransferSyntaxUID = syntax
    ds.file_meta.MediaStorageSOPClassUID = ds.SOPClassUID = SC
    ds.file_meta.MediaStorageSOPInstanceUID = ds.SOPInstanceUID = generate_uid(entropy_srcs=[path])
    ds.PatientName, ds.PatientID = "", ""
    ds.StudyInstanceUID = ds.SeriesInstanceUID = generate_uid(entropy_srcs=["series"])
    ds.Modality = "OT"
    ds.Rows, ds.Columns, ds.SamplesPerPixel = rows, cols, samples
    ds.BitsAllocated, ds.BitsStored, ds.HighBit = alloc, stored, stored - 1
    ds.PixelRepresentation = int(signed)
    ds.PhotometricInterpretation = photometric or ("RGB" if samples == 3 else "MONOCHROME2")
    if samples == 3:
        ds.PlanarConfiguration = 0
    if frames > 1:
        ds.NumberOfFrames = frames
    if isinstance(pixels, list):
        ds.PixelData = encapsulate(pixels)
        ds["PixelData"].is_undefined_length = True
        ds["PixelData"].VR = "OB"
    else:
        if len(pixels) % 2:
            pixels += b"\0"
        ds.PixelData = pixels
        ds["PixelData"].VR = "OW" if alloc > 8 else "OB"
    ds.is_little_endian, ds.is_implicit_VR = True, False
    ds.save_as(path, write_like_original=False)


def frames_of(path):
    ds = pydicom.dcmread(path)
    return list(generate_pixel_data_frame(ds.PixelData, int(ds.get("NumberOfFrames", 1) or 1))), ds


def native(path):
    """Samples of a native file as integers (frames, rows, cols, samples), codes unsigned."""
    ds = pydicom.dcmread(path)
    n = int(ds.get("NumberOfFrames", 1) or 1)
    spp, alloc = ds.SamplesPerPixel, ds.BitsAllocated
    a = np.frombuffer(ds.PixelData, {8: "<u1", 16: "<u2", 32: "<u4"}[alloc])
    a = a[: n * ds.Rows * ds.Columns * spp].astype(np.int64)
    if spp > 1 and ds.get("PlanarConfiguration", 0) == 1:
        return a.reshape(n, spp, ds.Rows, ds.Columns).transpose(0, 2, 3, 1)
    return a.reshape(n, ds.Rows, ds.Columns, spp)


def run(*cmd):
    p = subprocess.run(cmd, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    if p.returncode:
        raise RuntimeError("%s: %s" % (" ".join(cmd), p.stdout.decode(errors="replace")[-400:]))


DECODERS = {
    "dcmtk-jpeg": lambda a, b: run("dcmdjpeg", "+cn", a, b),
    "dcmtk-jpegls": lambda a, b: run("dcmdjpls", a, b),
    "dcmtk-rle": lambda a, b: run("dcmdrle", a, b),
    "gdcm": lambda a, b: run("gdcmconv", "--raw", a, b),
}


def decode(decoder, path):
    with tempfile.TemporaryDirectory() as t:
        out = os.path.join(t, "raw.dcm")
        DECODERS[decoder](path, out)
        return native(out)


class Pack:
    """Collects frames into NAME.zip beside NAME.csv."""

    FIELDS = "codec name rows columns samples allocated stored signed sha256 encoder decoder".split()

    def __init__(self, base):
        self.base, self.rows, self.data = base, [], {}

    def add(self, codec, name, stream, rows, cols, samples, alloc, stored, signed, sha, encoder, decoder):
        assert name not in self.data, name
        self.data[name] = stream
        self.rows.append(dict(zip(self.FIELDS, [codec, name, rows, cols, samples, alloc, stored, int(signed), sha, encoder, decoder])))

    def write(self):
        with zipfile.ZipFile(self.base + ".zip", "w", zipfile.ZIP_DEFLATED) as z:
            for name in sorted(self.data):
                z.writestr(zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0)), self.data[name], zipfile.ZIP_DEFLATED)
        with open(self.base + ".csv", "w", newline="") as f:
            w = csv.DictWriter(f, self.FIELDS, lineterminator="\n")
            w.writeheader()
            w.writerows(sorted(self.rows, key=lambda r: (r["codec"], r["name"])))
        print(self.base, len(self.rows), "frames", sum(map(len, self.data.values())), "bytes")


# --- CharLS, through its C interface -------------------------------------------------
class FrameInfo(ctypes.Structure):
    _fields_ = [("width", ctypes.c_uint32), ("height", ctypes.c_uint32), ("bits", ctypes.c_int32), ("components", ctypes.c_int32)]


class Preset(ctypes.Structure):
    _fields_ = [(n, ctypes.c_int32) for n in "maxval t1 t2 t3 reset".split()]


def charls():
    lib = ctypes.CDLL("libcharls.so.2")
    lib.charls_jpegls_encoder_create.restype = ctypes.c_void_p
    lib.charls_jpegls_decoder_create.restype = ctypes.c_void_p
    return lib


def jls_encode(lib, a, bits, near=0, interleave=0, preset=None):
    """a: (rows, cols, samples) codes. interleave: 0 none, 1 line, 2 sample."""
    rows, cols, n = a.shape
    dt = "u1" if bits <= 8 else "<u2"
    buf = (a if interleave == 2 or n == 1 else a.transpose(2, 0, 1)) if interleave != 1 else a
    if interleave == 0 and n > 1:
        buf = a.transpose(2, 0, 1)
    raw = np.ascontiguousarray(buf).astype(dt).tobytes()
    e = ctypes.c_void_p(lib.charls_jpegls_encoder_create())
    info = FrameInfo(cols, rows, bits, n)

    def ok(code):
        if code:
            raise RuntimeError("CharLS error %d" % code)

    try:
        ok(lib.charls_jpegls_encoder_set_frame_info(e, ctypes.byref(info)))
        ok(lib.charls_jpegls_encoder_set_near_lossless(e, near))
        ok(lib.charls_jpegls_encoder_set_interleave_mode(e, interleave))
        if preset:
            ok(lib.charls_jpegls_encoder_set_preset_coding_parameters(e, ctypes.byref(Preset(*preset))))
        dst = ctypes.create_string_buffer(len(raw) * 3 + 4096)
        ok(lib.charls_jpegls_encoder_set_destination_buffer(e, dst, ctypes.c_size_t(len(dst))))
        ok(lib.charls_jpegls_encoder_encode_from_buffer(e, raw, ctypes.c_size_t(len(raw)), ctypes.c_uint32(0)))
        size = ctypes.c_size_t()
        ok(lib.charls_jpegls_encoder_get_bytes_written(e, ctypes.byref(size)))
        return dst.raw[: size.value]
    finally:
        lib.charls_jpegls_encoder_destroy(e)


def jls_decode(lib, stream, rows, cols, n, bits, interleave):
    d = ctypes.c_void_p(lib.charls_jpegls_decoder_create())

    def ok(code):
        if code:
            raise RuntimeError("CharLS error %d" % code)

    try:
        ok(lib.charls_jpegls_decoder_set_source_buffer(d, stream, ctypes.c_size_t(len(stream))))
        ok(lib.charls_jpegls_decoder_read_header(d))
        size = rows * cols * n * (1 if bits <= 8 else 2)
        dst = ctypes.create_string_buffer(size)
        ok(lib.charls_jpegls_decoder_decode_to_buffer(d, dst, ctypes.c_size_t(size), ctypes.c_uint32(0)))
        a = np.frombuffer(dst.raw, "u1" if bits <= 8 else "<u2").astype(np.int64)
        if interleave == 0 and n > 1:
            return a.reshape(n, rows, cols).transpose(1, 2, 0)
        return a.reshape(rows, cols, n)
    finally:
        lib.charls_jpegls_decoder_destroy(d)
