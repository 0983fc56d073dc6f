"""PDF files written by hand, ISO 32000-1 clause 7.5, for the tests of the PDF reader."""


def stream(data, entries=b""):
    return b"<< " + entries + b" /Length %d >>\nstream\n" % len(data) + data + b"\nendstream"


def pdf(objects):
    """Return a file of numbered objects; object 1 is the catalog."""
    out, at = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", {}
    for number in sorted(objects):
        at[number] = len(out)
        out += b"%d 0 obj\n" % number + objects[number] + b"\nendobj\n"
    start, size = len(out), max(objects) + 1
    out += b"xref\n0 %d\n0000000000 65535 f \n" % size
    for number in range(1, size):
        out += b"%010d 00000 n \n" % at[number] if number in at else b"0000000000 00000 f \n"
    return out + b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (size, start)


def page(content, resources=b"", entries=b"", size=(144, 144), more=None, catalog=b""):
    """Return a file of one page; further objects have numbers from 10."""
    return pdf(
        {
            1: b"<< /Type /Catalog /Pages 2 0 R " + catalog + b" >>",
            2: b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
            3: b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %g %g] /Contents 4 0 R /Resources << " % size
            + resources
            + b" >> "
            + entries
            + b" >>",
            4: stream(content),
        }
        | (more or {})
    )


def tint(cmyk):
    """Return a tint transform from nothing to some CMYK, straight."""
    return b"<< /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [%g %g %g %g] /N 1 >>" % cmyk


def separation(name, cmyk=(0, 0.5, 1, 0)):
    return b"[/Separation /" + name + b" /DeviceCMYK " + tint(cmyk) + b"]"


#: Resources of the patches below: two named colours, a two-colour space, states of overprint and alpha.
RESOURCES = (
    b"/ColorSpace << /Reg "
    + separation(b"All", (1, 1, 1, 1))
    + b" /Key "
    + separation(b"Black", (0, 0, 0, 1))
    + b" /Orange " + separation(b"Orange")
    + b" /Green " + separation(b"Green#20Deep", (1, 0, 1, 0))
    + b" /Two [/DeviceN [/Orange /Green#20Deep] /DeviceCMYK 10 0 R]"
    + b" /Duo [/DeviceN [/Cyan /Orange] /DeviceCMYK 10 0 R] >>"
    + b" /ExtGState << /OP0 << /OP true /op true /OPM 0 >> /OP1 << /OP true /op true /OPM 1 >>"
    + b" /SM << /SMask << /S /Luminosity /G 12 0 R >> >>"
    + b" /KO << /OP false /op false >> /Half << /ca 0.5 >> /Full << /ca 1 >> /Mul << /BM /Multiply >> >>"
    + b" /Shading << /Sh << /ShadingType 2 /ColorSpace /DeviceCMYK /Coords [0 0 144 0] /Extend [true true]"
    + b" /Function << /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [1 0 0.5 0] /N 1 >> >>"
    + b" /SpotSh << /ShadingType 2 /ColorSpace " + separation(b"Orange")
    + b" /Coords [0 0 144 0] /Extend [true true]"
    + b" /Function << /FunctionType 2 /Domain [0 1] /C0 [0] /C1 [1] /N 1 >> >> >>"
)  # fmt: skip
_FORM = b"/Type /XObject /Subtype /Form /BBox [0 0 144 144] "
_TWO_KNOCKING_OUT = b"/Half gs 0.8 0 0 0 k 0 0 144 144 re f 0 0.8 0 0 k 0 0 144 144 re f"
MORE = {
    10: stream(b"{ pop 0 0 0 }", b"/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]"),
    12: stream(b"0.5 g 0 0 144 144 re f", _FORM + b"/Group << /S /Transparency /CS /DeviceGray >>"),
    13: stream(
        bytes([128, 64] * 4),
        b"/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8"
        b" /ColorSpace [/DeviceN [/Cyan /Orange] /DeviceCMYK 10 0 R]",
    ),
    14: stream(
        _TWO_KNOCKING_OUT,
        _FORM + b"/Group << /S /Transparency /K true >>"
        b" /Resources << /ExtGState << /Half << /ca 0.5 >> >> >>",
    ),
}
XOBJECTS = b" /XObject << /Two 13 0 R /Knock 14 0 R >>"

#: Name of each patch: content of a page of 144 points, read in the middle. Values: see the test.
PATCHES = {
    "cmyk": b"0.2 0.4 0.6 0.1 k 0 0 144 144 re f",
    "grey": b"0.7 g 0 0 144 144 re f",
    "spot": b"/Orange cs 0.8 scn 0 0 144 144 re f",
    "spot knocks out process": b"0.2 0.4 0.6 0.1 k 0 0 144 144 re f /Orange cs 0.5 scn 0 0 144 144 re f",
    "process knocks out spot": b"/Orange cs 0.5 scn 0 0 144 144 re f 0.2 0 0 0 k 0 0 144 144 re f",
    "spot overprints process": (
        b"0.2 0.4 0.6 0.1 k 0 0 144 144 re f /OP0 gs /Orange cs 0.5 scn 0 0 144 144 re f"
    ),
    "process overprints spot": (
        b"/Orange cs 0.5 scn 0 0 144 144 re f /OP0 gs 0.3 0 0.1 0 k 0 0 144 144 re f"
    ),
    "mode 0 knocks out zero": b"0.2 0.4 0 0 k 0 0 144 144 re f /OP0 gs 0 0 0.5 0 k 0 0 144 144 re f",
    "mode 1 keeps under zero": b"0.2 0.4 0 0 k 0 0 144 144 re f /OP1 gs 0 0 0.5 0 k 0 0 144 144 re f",
    "alpha": b"0.2 0.4 0 0 k 0 0 144 144 re f /Half gs 0.6 0 0 0.4 k 0 0 144 144 re f",
    "alpha of a spot": b"0.4 0 0 0 k 0 0 144 144 re f /Half gs /Orange cs 0.8 scn 0 0 144 144 re f",
    "two spots": b"/Two cs 0.3 0.7 scn 0 0 144 144 re f",
    "process and spot": b"/Duo cs 0.6 0.25 scn 0 0 144 144 re f",
    "spot over spot": (b"/Orange cs 0.5 scn 0 0 144 144 re f /OP0 gs /Green cs 0.7 scn 0 0 144 144 re f"),
    "every plate": b"/Reg cs 0.4 scn 0 0 144 144 re f",
    "black by name": b"/Key cs 0.6 scn 0 0 144 144 re f",
    "soft mask": b"0.2 0 0 0 k 0 0 144 144 re f /SM gs /Orange cs 0.8 scn 0 0 144 144 re f",
    "multiply": b"0.4 0.2 0 0 k 0 0 144 144 re f /Mul gs 0.5 0.5 0 0 k 0 0 144 144 re f",
    "multiply a spot": b"0.4 0.2 0 0 k 0 0 144 144 re f /Mul gs /Orange cs 0.5 scn 0 0 144 144 re f",
    "image of two colours": b"144 0 0 144 0 0 cm /Two Do",
    "knockout group": b"0 0 0.3 0 k 0 0 144 144 re f /Knock Do",
    "shading": b"/Sh sh",
    "shading of a spot": b"/SpotSh sh",
}
