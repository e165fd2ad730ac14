#!/usr/bin/python3
"""Writes testdata/photo/formats: small photographs of every kind, what outside readers make of them (*.want.png), and
profiles.json, colours carried over to sRGB by Little CMS. Needs Pillow (Debian python3-pil) and libjpeg-turbo-progs.
Made with Pillow 9.4.0, libjpeg-turbo 2.1.5, libwebp 1.2.4, Little CMS 2.14. Use: photo_formats.py testdata/photo/formats"""
import base64, io, json, os, random, struct, subprocess, sys, zlib
from PIL import Image, ImageCms, ImageOps, PngImagePlugin, TiffImagePlugin

out = sys.argv[1]
W, H = 46, 31
rnd = random.Random(4)


def base():
    m = Image.new("RGB", (W, H))
    for y in range(H):
        for x in range(W):
            block = (x * 5 // W + y * 4 // H * 3) % 7
            c = [(180, 60, 50), (60, 140, 70), (50, 70, 170), (200, 180, 120), (120, 50, 110), (90, 150, 160), (150, 110, 80)][block]
            m.putpixel((x, y), tuple(v + rnd.randrange(-9, 10) for v in c))
    return m


picture = base()
grey = picture.convert("L")
palette = picture.quantize(40)


def path(name):
    return os.path.join(out, name)


def want(name, m=None):
    """What a reader must show: upright, RGB, over white."""
    if m is None:
        m = Image.open(path(name))
    m = ImageOps.exif_transpose(m)
    if m.mode.startswith("I;16"):
        m = Image.frombytes("L", m.size, m.tobytes()[1::2])
    if m.mode in ("RGBA", "LA", "PA") or "transparency" in m.info:
        m = m.convert("RGBA")
        m = Image.alpha_composite(Image.new("RGBA", m.size, (255, 255, 255, 255)), m)
    m.convert("RGB").save(path(name + ".want.png"), optimize=True)


def jpeg(name, *args, source=picture):
    ppm = io.BytesIO()
    source.save(ppm, "PPM")
    data = subprocess.run(["cjpeg", "-quality", "93", *args], input=ppm.getvalue(), capture_output=True, check=True).stdout
    open(path(name), "wb").write(data)
    # chroma repeated, not smoothed: that is a choice of the enlarging, not of the decoding
    ppm = subprocess.run(["djpeg", "-nosmooth", "-dct", "int"], input=data, capture_output=True, check=True).stdout
    Image.open(io.BytesIO(ppm)).convert("RGB").save(path(name + ".want.png"), optimize=True)


for name, sampling in dict(s444="1x1", s422="2x1", s420="2x2", s440="1x2", s411="4x1", s410="4x2").items():
    jpeg(f"jpeg_{name}.jpg", "-sample", sampling)
    if name in ("s444", "s420", "s422"):
        jpeg(f"jpeg_progressive_{name}.jpg", "-progressive", "-sample", sampling)
jpeg("jpeg_restart.jpg", "-restart", "2B", "-optimize")
jpeg("jpeg_grey.jpg", "-grayscale")
jpeg("jpeg_grey_progressive.jpg", "-grayscale", "-progressive")
jpeg("jpeg_rgb.jpg", "-rgb")
for name, args in dict(arithmetic=["-arithmetic"], arithmetic_progressive=["-arithmetic", "-progressive"]).items():
    jpeg(f"refused_{name}.jpg", *args)
    os.remove(path(f"refused_{name}.jpg.want.png"))
picture.convert("CMYK").save(path("refused_cmyk.jpg"), quality=80)
cmyk = bytearray(open(path("refused_cmyk.jpg"), "rb").read())  # YCCK is the same with Adobe's transform 2
at = cmyk.find(b"Adobe")
cmyk[at + 11] = 2
open(path("refused_ycck.jpg"), "wb").write(cmyk)

exif = Image.Exif()
exif[0x0112] = 6
exif[0x0132] = "2026:03:04 15:16:17"


def png(name, m, chunks=(), **more):
    info = PngImagePlugin.PngInfo()
    for kind, body in chunks:
        info.add(kind, body)
    m.save(path(name), pnginfo=info, **more)
    want(name)


png("png_rgb.png", picture)
png("png_grey8.png", grey)
deep = Image.frombytes("I;16", (W, H), b"".join(struct.pack("<H", v * 257) for v in grey.tobytes()))
deep.save(path("png_grey16.png"))
grey.convert("RGB").save(path("png_grey16.png.want.png"))
png("png_bit1.png", grey.convert("1"))
for bits in (2, 4, 8):
    png(f"png_palette{bits}.png", picture.quantize(min(200, 1 << bits)), bits=bits)
alpha = picture.copy()
alpha.putalpha(Image.linear_gradient("L").resize((W, H)))
png("png_alpha.png", alpha)
see = palette.copy()
see.info["transparency"] = 3
png("png_palette_clear.png", see, transparency=3)
png("png_gama_srgb.png", picture, [(b"gAMA", struct.pack(">I", 45455)), (b"sRGB", b"\0")])
png("png_exif6.png", picture, exif=exif)


def adam7(m):
    """An interlaced PNG (PNG, third edition, 8.2), for Pillow writes none."""
    raw = b""
    for x0, y0, dx, dy in ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)):
        for y in range(y0, H, dy):
            row = b"".join(bytes(m.getpixel((x, y))) for x in range(x0, W, dx))
            raw += b"\0" + row if row else b""
    chunk = lambda k, b: struct.pack(">I", len(b)) + k + b + struct.pack(">I", zlib.crc32(k + b))
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", W, H, 8, 2, 0, 0, 1))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b"")


open(path("png_interlaced.png"), "wb").write(adam7(picture))
want("png_interlaced.png")


def tiff(name, m, **more):
    m.save(path(name), "TIFF", **more)
    want(name)


tiff("tiff_rgb.tif", picture)
for c in ("tiff_lzw", "tiff_adobe_deflate", "packbits"):
    tiff(f"tiff_rgb_{c.replace('tiff_', '')}.tif", picture, compression=c)
    tiff(f"tiff_grey_{c.replace('tiff_', '')}.tif", grey, compression=c)
tiff("tiff_lzw_predictor.tif", picture, compression="tiff_lzw", tiffinfo={317: 2})
tiff("tiff_strips.tif", picture, compression="tiff_lzw", tiffinfo={278: 4})
tiff("tiff_bit1.tif", grey.convert("1"))
tiff("tiff_palette.tif", palette)
tiff("tiff_alpha.tif", alpha, compression="tiff_lzw")
# Pillow leaves TIFF's orientation alone in this version, so the turn is told here: 6 is 90 degrees clockwise, 8 the other way
tiff("tiff_orientation6.tif", picture, tiffinfo={274: 6})
want("tiff_orientation6.tif", picture.transpose(Image.Transpose.ROTATE_270))
picture.save(path("tiff_three_pages.tif"), save_all=True, append_images=[grey, grey])
want("tiff_three_pages.tif")
picture.convert("CMYK").save(path("refused_cmyk.tif"))
picture.save(path("refused_jpeg_inside.tif"), compression="jpeg")
Image.new("F", (W, H), 0.5).save(path("refused_float.tif"))


def by_hand(name, order, bits=8, tile=0, planar=False, orientation=1):
    """TIFF 6.0 laid down field by field, for what Pillow does not write: big-endian, 16 bits, tiles, planes."""
    sample = (lambda v: struct.pack(order + "H", v * 257)) if bits == 16 else (lambda v: bytes([v]))
    pieces = []
    if tile:
        for ty in range(0, H, tile):
            for tx in range(0, W, tile):
                pieces.append(b"".join(sample(v) for y in range(ty, ty + tile) for x in range(tx, tx + tile)
                                       for v in (picture.getpixel((x, y)) if x < W and y < H else (0, 0, 0))))
    elif planar:
        pieces = [b"".join(sample(picture.getpixel((x, y))[k]) for y in range(H) for x in range(W)) for k in range(3)]
    else:
        pieces = [b"".join(sample(v) for x in range(W) for v in picture.getpixel((x, y))) for y in range(H)]
    body, at = b"", []
    for p in pieces:
        at.append(8 + len(body))
        body += p + b"\0" * (len(p) & 1)
    fields = [(256, "H", [W]), (257, "H", [H]), (258, "H", [bits] * 3), (259, "H", [1]), (262, "H", [2]), (274, "H", [orientation]),
              (277, "H", [3]), (284, "H", [2 if planar else 1])]
    counts = [len(p) for p in pieces]
    if tile:
        fields += [(322, "H", [tile]), (323, "H", [tile]), (324, "I", at), (325, "I", counts)]
    else:
        fields += [(273, "I", at), (278, "H", [H if planar else 1]), (279, "I", counts)]
    fields.sort()
    ifd = 8 + len(body)
    later, rest = ifd + 2 + 12 * len(fields) + 4, b""
    entries = struct.pack(order + "H", len(fields))
    for tag, kind, values in fields:
        packed = struct.pack(order + str(len(values)) + kind, *values)
        if len(packed) > 4:
            rest, packed = rest + packed, struct.pack(order + "I", later + len(rest))
        entries += struct.pack(order + "HHI", tag, {"H": 3, "I": 4}[kind], len(values)) + packed.ljust(4, b"\0")
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", ifd)
    open(path(name), "wb").write(head + body + entries + struct.pack(order + "I", 0) + rest)


for name, args in {"tiff_big_endian.tif": dict(order=">"), "tiff_tiles.tif": dict(order="<", tile=16),
                   "tiff_tiles_big_endian.tif": dict(order=">", tile=16), "tiff_big_endian_orientation8.tif": dict(order=">", orientation=8)}.items():
    by_hand(name, **args)
    want(name, picture.transpose(Image.Transpose.ROTATE_90) if "orientation8" in name else None)
for name, order in (("tiff_deep.tif", "<"), ("tiff_deep_big_endian.tif", ">")):
    by_hand(name, order, bits=16)
    picture.save(path(name + ".want.png"))  # every sample is v * 257; Pillow reads no RGB of 16 bits
by_hand("refused_planes.tif", "<", planar=True)

picture.save(path("webp_lossless.webp"), lossless=True, exact=True)
want("webp_lossless.webp")
picture.save(path("webp_lossless_exif6.webp"), lossless=True, exact=True, exif=exif.tobytes())
want("webp_lossless_exif6.webp")
alpha.save(path("webp_alpha.webp"), lossless=True, exact=True)
want("webp_alpha.webp")
picture.save(path("webp_lossy.webp"), quality=95)
want("webp_lossy.webp")
picture.save(path("webp_lossy_exif6.webp"), quality=95, exif=exif.tobytes())
want("webp_lossy_exif6.webp")
picture.save(path("refused_animated.webp"), save_all=True, append_images=[picture.rotate(90)], duration=100)


def fixed(v):
    return struct.pack(">i", round(v * 65536))


def profile(space, tags, version, pcs=b"XYZ "):
    table, body, start = struct.pack(">I", len(tags)), b"", 128 + 4 + 12 * len(tags)
    for k, v in tags:
        table += k + struct.pack(">II", start + len(body), len(v))
        body += v + b"\0" * (-len(v) % 4)
    head = bytearray(128)
    head[0:4] = struct.pack(">I", start + len(body))
    head[8:12] = struct.pack(">I", version)
    head[12:24] = b"mntr" + space + pcs
    head[36:40] = b"acsp"
    head[68:80] = fixed(0.9642) + fixed(1) + fixed(0.8249)
    return bytes(head) + table + body


def xyz(*v):
    return b"XYZ \0\0\0\0" + b"".join(fixed(x) for x in v)


def mluc(s):
    t = s.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">IIHHII", 1, 12, 0x656e, 0x5553, len(t), 28) + t


def para(kind, *v):
    return b"para\0\0\0\0" + struct.pack(">HH", kind, 0) + b"".join(fixed(x) for x in v)


def gamma(g):
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(g * 256))


white = (b"wtpt", xyz(0.9642, 1, 0.8249))
srgb_curve = para(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
p3 = [(b"rXYZ", xyz(0.51512, 0.24120, -0.00105)), (b"gXYZ", xyz(0.29198, 0.69225, 0.04189)), (b"bXYZ", xyz(0.15710, 0.06657, 0.78407))]
prophoto = [(b"rXYZ", xyz(0.79767, 0.28804, 0)), (b"gXYZ", xyz(0.13519, 0.71188, 0)), (b"bXYZ", xyz(0.03134, 0.00009, 0.82491))]
table = b"curv\0\0\0\0" + struct.pack(">I", 256) + b"".join(struct.pack(">H", round(65535 * (i / 255) ** 1.8)) for i in range(256))
profiles = {
    "Display P3": profile(b"RGB ", [(b"desc", mluc("Display P3")), white] + p3 + [(k, srgb_curve) for k in (b"rTRC", b"gTRC", b"bTRC")], 0x04000000),
    "wide, table": profile(b"RGB ", [(b"desc", mluc("wide, table")), white] + prophoto + [(k, table) for k in (b"rTRC", b"gTRC", b"bTRC")], 0x04200000),
    "grey 2.2": profile(b"GRAY", [(b"desc", mluc("grey 2.2")), white, (b"kTRC", gamma(2.2))], 0x04000000),
    "grey 1.8, table": profile(b"GRAY", [(b"desc", mluc("grey 1.8, table")), white, (b"kTRC", table)], 0x02100000),
}
lut = b"mft1\0\0\0\0" + bytes([3, 3, 2, 0]) + b"".join(fixed(v) for v in (1, 0, 0, 0, 1, 0, 0, 0, 1))
lut += bytes(range(256)) * 3 + b"".join(bytes([255 * ((i >> 2) & 1), 128, 128]) for i in range(8)) + bytes(range(256)) * 3
with_table = profile(b"RGB ", [(b"desc", mluc("printer")), white, (b"A2B0", lut)], 0x02400000, b"Lab ")
rows = []
srgb = ImageCms.createProfile("sRGB")
for name, icc in profiles.items():
    space = "L" if name.startswith("grey") else "RGB"
    m = Image.new(space, (120, 1))
    for i in range(120):
        v = 2 * i + 10
        m.putpixel((i, 0), v if space == "L" else tuple(rnd.randrange(256) for _ in range(3)))
    to = ImageCms.profileToProfile(m, ImageCms.ImageCmsProfile(io.BytesIO(icc)), srgb, renderingIntent=1, outputMode="RGB")
    rows.append({"name": name, "icc": base64.b64encode(icc).decode(), "in": list(m.getdata()), "out": list(to.getdata())})
json.dump({"by": "Little CMS 2.14 through Pillow 9.4.0, relative colorimetric, to its sRGB", "tolerance": "1 level, 2 where a channel is below 24",
           "profiles": rows, "table": base64.b64encode(with_table).decode()}, open(path("profiles.json"), "w"))
picture.save(path("icc_p3.jpg"), quality=95, subsampling=0, icc_profile=profiles["Display P3"])
for name, more in {"icc_p3.png": {}, "icc_p3.tif": {}, "icc_p3.webp": dict(lossless=True, exact=True)}.items():
    picture.save(path(name), icc_profile=profiles["Display P3"], **more)
grey.save(path("icc_grey.png"), icc_profile=profiles["grey 1.8, table"])
for name in ("icc_p3.png", "icc_grey.png"):
    m = Image.open(path(name))
    ImageCms.profileToProfile(m, ImageCms.ImageCmsProfile(io.BytesIO(m.info["icc_profile"])), srgb, renderingIntent=1,
                              outputMode="RGB").save(path(name + ".want.png"))
