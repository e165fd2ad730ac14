"""A small lossless JPEG encoder (ITU-T T.81 Annex H, process 14), for streams the outside
encoders cannot make: restart intervals, one scan per component, any predictor."""
import numpy as np


def encode(a, bits, predictor, point=0, restart_lines=0, split=False):
    """a: (rows, cols, samples) codes. One Huffman table: 17 categories, codes of 5 bits."""
    rows, cols, n = a.shape
    v = (a >> point).astype(np.int64)
    out = bytearray(b"\xff\xd8")

    def segment(marker, body):
        out.extend(bytes([0xFF, marker]) + (len(body) + 2).to_bytes(2, "big") + body)

    segment(0xC3, bytes([bits]) + rows.to_bytes(2, "big") + cols.to_bytes(2, "big") + bytes([n]) + b"".join(bytes([i + 1, 0x11, 0]) for i in range(n)))
    segment(0xC4, bytes([0] + [0, 0, 0, 0, 17] + [0] * 11 + list(range(17))))
    if restart_lines:
        segment(0xDD, (restart_lines * cols).to_bytes(2, "big"))
    for comps in [[i] for i in range(n)] if split else [list(range(n))]:
        segment(0xDA, bytes([len(comps)]) + b"".join(bytes([i + 1, 0]) for i in comps) + bytes([predictor, 0, point]))
        step, number = restart_lines or rows, 0
        for top in range(0, rows, step):
            if top:
                out.extend([0xFF, 0xD0 + number % 8])
                number += 1
            acc, have = 0, 0
            for y in range(top, min(top + step, rows)):
                for x in range(cols):
                    for c in comps:
                        if y == top:
                            p = 1 << (bits - point - 1) if x == 0 else v[y, x - 1, c]
                        elif x == 0:
                            p = v[y - 1, x, c]
                        else:
                            ra, rb, rc = int(v[y, x - 1, c]), int(v[y - 1, x, c]), int(v[y - 1, x - 1, c])
                            p = [ra, rb, rc, ra + rb - rc, ra + ((rb - rc) >> 1), rb + ((ra - rc) >> 1), (ra + rb) >> 1][predictor - 1]
                        d = (int(v[y, x, c]) - int(p)) & 0xFFFF
                        d = d - 65536 if d > 32768 else d
                        size = abs(d).bit_length()
                        acc, have = acc << 5 | size, have + 5
                        if size < 16:
                            acc, have = acc << size | ((d if d > 0 else d + (1 << size) - 1) if size else 0), have + size
                        while have >= 8:
                            byte = acc >> (have - 8) & 255
                            out.append(byte)
                            if byte == 255:
                                out.append(0)
                            have -= 8
                            acc &= (1 << have) - 1
            if have:
                byte = (acc << (8 - have) | (1 << (8 - have)) - 1) & 255
                out.append(byte)
                if byte == 255:
                    out.append(0)
    out.extend(b"\xff\xd9")
    return bytes(out)
