#!/usr/bin/python3
# Makes testdata/scan/luts.json: sampled values after modality LUT, VOI LUT, palette and colour conversion by pydicom 2.3.1.
# Grey of colour is luma of BT.601 computed here. Run from the project's root.
import json, warnings
import numpy as np
import pydicom
from pydicom.pixel_data_handlers import numpy_handler
from pydicom.pixel_data_handlers.util import apply_color_lut, apply_modality_lut, apply_voi_lut, convert_color_space

warnings.filterwarnings("ignore")
FOLDER = "../shared/data/dicom-syntaxes/pydicom-data/"
out = {}


def keep(name, a, how, tolerance):
    a = np.asarray(a, np.float64).reshape(-1)
    at = np.arange(0, a.size, 997)
    out[name] = dict(how=how, at=at.tolist(), values=np.round(a[at], 9).tolist(), tolerance=tolerance)


def luma(rgb, bits=8):
    rgb = np.asarray(rgb, np.float64)
    return (0.299 * rgb[..., 0] + 0.587 * rgb[..., 1] + 0.114 * rgb[..., 2]) / 2 ** (bits - 8)


d = pydicom.dcmread(FOLDER + "mlut_18.dcm")
signed = np.where(d.pixel_array & 0x800, d.pixel_array.astype(int) - 0x1000, d.pixel_array)  # 12 bits; pydicom leaves the sign
keep("mlut_18.dcm", apply_modality_lut(signed, d), "value", 0)
d = pydicom.dcmread(FOLDER + "vlut_04.dcm")
bits = d.VOILUTSequence[0].LUTDescriptor[2]
keep("vlut_04.dcm", apply_voi_lut(d.pixel_array, d) / (2 ** bits - 1) * 255, "grey", 1e-6)
d = pydicom.dcmread(FOLDER + "OT-PAL-8-face.dcm", force=True)
raw = np.frombuffer(d.PixelData, np.uint8)[: d.Rows * d.Columns].reshape(d.Rows, d.Columns)
keep("OT-PAL-8-face.dcm", luma(apply_color_lut(raw, d), d.RedPaletteColorLookupTableDescriptor[2]), "value", 1)
for f in ("SC_rgb.dcm", "SC_rgb_expb.dcm", "SC_ybr_full_uncompressed.dcm"):
    d = pydicom.dcmread(FOLDER + f)
    a = d.pixel_array
    if "YBR" in d.PhotometricInterpretation:
        a = convert_color_space(a, "YBR_FULL", "RGB")
    keep(f, luma(a), "value", 2 if "ybr" in f else 1)  # colours beyond RGB are clipped on the way there
json.dump(out, open("testdata/scan/luts.json", "w"), sort_keys=True)
print({k: (v["how"], len(v["at"]), min(v["values"]), max(v["values"])) for k, v in out.items()})
