"""Where the words of a drawing stand, by the metrics of the font itself (DejaVu, as matplotlib ships it)."""

import re
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import matplotlib
from PIL import ImageFont

SVG = "{http://www.w3.org/2000/svg}"
FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@cache
def font(bold):
    return ImageFont.truetype(str(FONTS / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")), 200)


def words(svg):
    """Return width and height of the page, and each upright text with its left, top, right, bottom on it."""
    root = ET.fromstring(svg)
    _, _, width, height = map(float, root.get("viewBox").split())
    found = []

    def walk(node, scale, x, y):
        for child in node:
            moved = child.get("transform", "")
            if "rotate" in moved:
                continue
            inner = scale, x, y
            shift = re.search(r"translate\(([-\d.]+)[ ,]([-\d.]+)\)", moved)
            if shift:
                inner = scale, x + scale * float(shift[1]), y + scale * float(shift[2])
            grown = re.search(r"scale\(([\d.]+)\)", moved)
            if grown:
                inner = (inner[0] * float(grown[1]), *inner[1:])
            if child.tag == SVG + "text":
                text, size = "".join(child.itertext()), float(child.get("font-size")) * inner[0]
                wide = font(child.get("font-weight") == "bold").getlength(text) * size / 200
                left = inner[1] + inner[0] * float(child.get("x"))
                left -= {"middle": wide / 2, "end": wide}.get(child.get("text-anchor"), 0)
                base = inner[2] + inner[0] * float(child.get("y"))
                # Capitals are 0.73 of the size high; what hangs below the line is left out.
                found.append((text, (left, base - 0.73 * size, left + wide, base)))
            walk(child, *inner)

    walk(root, 1.0, 0.0, 0.0)
    return width, height, found


def faults(svg):
    """Return texts that leave the page, and pairs of texts that lie over each other."""
    width, height, found = words(svg)
    out = [text for text, box in found if box[0] < 0 or box[1] < 0 or box[2] > width or box[3] > height]
    pairs = [
        (one, two)
        for k, (one, a) in enumerate(found)
        for two, b in found[k + 1 :]
        if min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1
    ]
    return out, pairs
