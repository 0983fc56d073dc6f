"""TIFF and layered pictures written by hand, for kinds that no library at hand writes."""

import struct

import numpy as np


def tiff(tags, data, order="<"):
    """Return a TIFF of one strip, TIFF 6.0 section 2. Tags: number to (type, values or bytes)."""
    start = 8 + len(data) + len(data) % 2
    entries, far, at = [], b"", start + 2 + 12 * len(tags) + 4
    for tag, (kind, value) in sorted(tags.items()):
        if isinstance(value, bytes):
            count, packed = len(value), value
        else:
            values = value if isinstance(value, list) else [value]
            count, packed = len(values), struct.pack(order + {3: "H", 4: "I"}[kind] * len(values), *values)
        if len(packed) <= 4:
            place = packed.ljust(4, b"\0")
        else:
            place = struct.pack(order + "I", at)
            far += packed + b"\0" * (len(packed) % 2)
            at = start + 2 + 12 * len(tags) + 4 + len(far)
        entries.append(struct.pack(order + "HHI", tag, kind, count) + place)
    head = struct.pack(order + "2sHI", b"II" if order == "<" else b"MM", 42, start)
    body = struct.pack(order + "H", len(entries)) + b"".join(entries) + bytes(4)
    return head + data + b"\0" * (len(data) % 2) + body + far


def packed_rows(values, bits):
    """Return rows of samples of any width, each row from a whole byte on, first sample topmost."""
    rows = b""
    for row in values.reshape(len(values), -1):
        text = "".join(format(int(v), f"0{bits}b") for v in row)
        text += "0" * (-len(text) % 8)
        rows += int(text, 2).to_bytes(len(text) // 8, "big")
    return rows


def odd_tiff(values, bits, photometric, **more):
    """Return an uncompressed TIFF of samples of any width; values of shape (height, width, samples)."""
    height, width, samples = values.shape
    data = packed_rows(values, bits)
    tags = {
        256: (4, width), 257: (4, height), 258: (3, [bits] * samples), 259: (3, 1), 262: (3, photometric),
        273: (4, 8), 277: (3, samples), 278: (4, height), 279: (4, len(data)),
    }  # fmt: skip
    tags |= {int(name[1:]): value for name, value in more.items()}
    return tiff(tags, data, ">")


def resource(number, data):
    return b"8BIM" + struct.pack(">H", number) + b"\0\0" + struct.pack(">I", len(data)) + data + b"\0" * (
        len(data) % 2
    )  # fmt: skip


def names(*words):
    """Return resource 1045: names of the channels beyond the colour."""
    text = b"".join(struct.pack(">I", len(w) + 1) + (w + "\0").encode("utf-16-be") for w in words)
    return resource(1045, text)


def kinds(*are_spots):
    """Return resource 1007: whether each of those channels is a spot colour."""
    return resource(1007, b"".join(struct.pack(">5HHBB", 0, 0, 0, 0, 0, 100, 2 * s, 0) for s in are_spots))


def resolution(dpi):
    return resource(1005, struct.pack(">IHHIHH", round(dpi * 65536), 1, 1, round(dpi * 65536), 1, 1))


def pack_bits(row):
    """Return a row run-length coded, TIFF 6.0 section 9: runs of three or more, all else literally."""
    out, at = b"", 0
    while at < len(row):
        run = 1
        while at + run < len(row) and run < 128 and row[at + run] == row[at]:
            run += 1
        if run >= 3:
            out += bytes([257 - run, row[at]])
            at += run
        else:
            stop = min(len(row), at + 128)
            end = next((i for i in range(at, stop - 2) if row[i] == row[i + 1] == row[i + 2]), stop)
            out += bytes([end - at - 1]) + row[at:end]
            at = end
    return out


def psd(values, mode, *, resources=b"", palette=b"", packed=True, large=False, layer_count=None):
    """Return a layered picture; values as stored, shape (channels, height, width), uint8 or uint16."""
    channels, height, width = values.shape
    bits = 8 * values.dtype.itemsize
    out = struct.pack(">4sH6xHIIHH", b"8BPS", 2 if large else 1, channels, height, width, bits, mode)
    out += struct.pack(">I", len(palette)) + palette + struct.pack(">I", len(resources)) + resources
    size = ">Q" if large else ">I"
    layers = b"" if layer_count is None else struct.pack(size, 2) + struct.pack(">h", layer_count)
    out += struct.pack(size, len(layers)) + layers
    rows = [row.tobytes() for row in values.astype(values.dtype.newbyteorder(">")).reshape(-1, width)]
    if not packed:
        return out + b"\0\0" + b"".join(rows)
    rows = [pack_bits(row) for row in rows]
    counts = np.array([len(row) for row in rows], ">u4" if large else ">u2").tobytes()
    return out + b"\0\1" + counts + b"".join(rows)
