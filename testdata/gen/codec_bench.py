#!/usr/bin/python3
"""codec_bench.py BASE: one noisy 512 x 512 CT-like frame of 12 bits in 16 coded by outside
encoders, packed as BASE.zip and BASE.csv, and the least processor time outside decoders
take for it, printed. The Go benchmarks read the same pack:

  CODEC_BENCH_PACK=BASE go test -run - -bench Pack ./slices/scan/codec/...
"""
import sys, tempfile, time
import gdcm
from codec_lib import *

base = sys.argv[1]
gdcm.Trace.WarningOff()
gdcm.Trace.ErrorOff()
rng = np.random.default_rng(512)
n = 512
v, u = np.mgrid[-1:1:n * 1j, -1:1:n * 1j]
r = np.hypot(u / 0.9, v / 0.7)
a = np.where(r < 1, 1060 + 30 * np.sin(9 * u) * np.cos(7 * v), 100.0)
a += np.where((np.hypot(u, v - 0.35) < 0.12) | ((r > 0.93) & (r < 1)), 700, 0) + 20 * rng.standard_normal((n, n))
a = np.clip(np.rint(a), 0, 4095).astype(np.int64)[:, :, None]
tmp = tempfile.mkdtemp()
src = tmp + "/src.dcm"
wrap(src, n, n, 1, 16, 12, False, container(a, 16))
pack, times = Pack(base), []


def best(f, count=15):
    t = 1e9
    for _ in range(count):
        s = time.process_time()
        f()
        t = min(t, time.process_time() - s)
    return 1e3 * t


def gdcm_time(path):
    def once():
        rd = gdcm.ImageReader()
        rd.SetFileName(path)
        assert rd.Read()
        rd.GetImage().GetBuffer()
    return best(once)


for codec, cmd in (("rle", ["gdcmconv", "--rle"]), ("jpegll", ["dcmcjpeg", "+e1"]), ("jpeg12", ["dcmcjpeg", "+ee", "+q", "90"]), ("jpeg2k", ["gdcmconv", "--j2k"])):
    dst = "%s/%s.dcm" % (tmp, codec)
    run(*cmd, src, dst)
    fr, ds = frames_of(dst)
    out = decode("gdcm", dst)[0]
    pack.add(codec, codec, fr[0], n, n, 1, 16, 12, False, digest(out, 12), cmd[0], "gdcm")
    times.append((codec, "gdcm 3.0.21 in process, with the file's reading", gdcm_time(dst)))
lib = charls()
s = jls_encode(lib, a, 12)
pack.add("jpegls", "jpegls", s, n, n, 1, 16, 12, False, digest(a, 12), "CharLS", "CharLS")
times.append(("jpegls", "CharLS 2.4.1 in process", best(lambda: jls_decode(lib, s, n, n, 1, 12, 0))))
pack.write()
for codec, tool, ms in times:
    print("%-7s %6.2f ms  %s" % (codec, ms, tool))
