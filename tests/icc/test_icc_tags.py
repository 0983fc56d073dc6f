import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.icc.curves import IDENTITY, ParametricCurve, SampledCurve
from strikeoff.icc.luts import Clut, CurveLut, Curves, Matrix, TableLut
from strikeoff.icc.tags import (
    any_curve,
    clrt,
    curv,
    desc,
    dictionary,
    dtim,
    mab,
    mft1,
    mft2,
    mluc,
    para,
    sf32,
    sig,
    text,
    xyz,
)
from strikeoff.icc.tags.registry import decode_tag


def hexed(*fields):
    return bytes.fromhex("".join(fields))


# Layouts by ICC.1:2022 clause 10 (desc: ICC.1:2001-04 6.5.17).
TEXT = hexed("74657874", "00000000", "6162", "00")
DESC = hexed(
    "64657363", "00000000",
    "00000003", "6162", "00",  # ASCII count with zero byte, "ab"
    "00000000", "00000003", "00fc", "0062", "0000",  # language, count with zero, UTF-16BE
    "0000", "00", "00" * 67,  # script code
)  # fmt: skip
MLUC = hexed(
    "6d6c7563", "00000000",
    "00000002", "0000000c",  # records, record size
    "656e", "5553", "00000004", "00000028",  # en US, length, offset from tag start
    "6465", "4445", "00000002", "0000002c",
    "0061", "0062", "00fc",
)  # fmt: skip
XYZ = hexed("58595a20", "00000000", "0000f6d6", "00010000", "0000d32d")
CURV = hexed("63757276", "00000000", "00000003", "0000", "4000", "ffff")
GAMMA = hexed("63757276", "00000000", "00000001", "0240")  # u8Fixed8 2.25
PARA = hexed("70617261", "00000000", "0001", "0000", "00020000", "00010000", "ffff8000")
CLRT = hexed("636c7274", "00000000", "00000001", "4379616e" + "00" * 28, "8f1b", "5d1a", "4b7b")
DICT = hexed(
    "64696374", "00000000",
    "00000002", "00000010",  # entries, record size
    "00000030", "00000004", "00000034", "00000002",  # name and value: offset from tag start, bytes
    "00000038", "00000002", "0000003c", "00000000",  # no value
    "00690061", "00fc0000", "006b0000",
)  # fmt: skip
SIG = hexed("73696720", "00000000", "696a6574")
DTIM = hexed("6474696d", "00000000", "07e8", "0002", "001d", "000c", "0022", "0038")
SF32 = hexed("73663332", "00000000", "00010000", "ffff8000")


@pytest.mark.parametrize(
    ("module", "data", "record"),
    [
        (text, TEXT, text.Text("ab")),
        (desc, DESC, desc.TextDescription("ab", "üb")),
        (mluc, MLUC, mluc.Localised((("en", "US", "ab"), ("de", "DE", "ü")))),
        (para, PARA, ParametricCurve(1, (2.0, 1.0, -0.5))),
        (clrt, CLRT, clrt.Colorants((("Cyan", (0x8F1B, 0x5D1A, 0x4B7B)),))),
        (dictionary, DICT, dictionary.Dictionary((("ia", "ü"), ("k", "")))),
        (sig, SIG, sig.Signature("ijet")),
        (dtim, DTIM, dtim.DateTime(2024, 2, 29, 12, 34, 56)),
    ],
)
def test_bytes_and_record(module, data, record):
    assert decode_tag(data, "tag") == record
    assert module.encode(record) == data


@pytest.mark.parametrize(
    ("module", "data", "values"), [(xyz, XYZ, [[0.9642, 1, 0.8249]]), (sf32, SF32, [1, -0.5])]
)
def test_number_tags(module, data, values):
    record = decode_tag(data, "tag")
    np.testing.assert_allclose(record.values, values, atol=1e-5)
    assert module.encode(record) == data


def test_curves():
    curve = decode_tag(CURV, "tag")
    np.testing.assert_allclose(curve.table, [0, 0x4000 / 65535, 1])
    assert curv.encode(curve) == CURV
    assert decode_tag(GAMMA, "tag") == ParametricCurve(0, (2.25,))
    assert decode_tag(curv.encode(None), "tag") == IDENTITY
    assert any_curve.encode(IDENTITY) == curv.encode(None)


def test_old_desc_without_unicode_part():
    assert decode_tag(DESC[:15], "tag") == desc.TextDescription("ab")


def test_text_is_escaped_to_ascii():
    assert text.encode(text.Text("Grün"))[8:] == b"Gr\\xfcn\0"


def random_lut(rng, n_in, n_out, kind="mft2", grid=3):
    codes = rng.integers(0, 65536, (*(grid,) * n_in, n_out)).astype(np.uint16)
    tables = [np.sort(rng.integers(0, 65536, (n, 5)), axis=1) / 65535 for n in (n_in, n_out)]
    return TableLut(kind, np.eye(3), tables[0], Clut(codes), tables[1])


def test_mft2_layout_and_round_trip():
    lut = random_lut(np.random.default_rng(1), 4, 3)
    data = mft2.encode(lut)
    # type, reserved, in, out, grid, pad, matrix of s15Fixed16, entries in, entries out (10.10 table 39)
    assert data[:16].hex() == "6d66743200000000" + "04030300" + "00010000"
    assert data[48:52].hex() == "00050005"
    assert len(data) == 52 + 2 * (4 * 5 + 3**4 * 3 + 3 * 5)
    # the first ink varies slowest: its step is 27 nodes of 3 outputs
    start = 52 + 2 * 4 * 5
    assert int.from_bytes(data[start + 2 * 81 : start + 2 * 81 + 2]) == lut.clut.codes[1, 0, 0, 0, 0]
    back = mft2.decode(data, "A2B0")
    np.testing.assert_array_equal(back.clut.codes, lut.clut.codes)
    np.testing.assert_allclose(back.input_tables, lut.input_tables)
    assert mft2.encode(back) == data


def test_mft1_layout():
    ramp = bytes(range(256))
    head = hexed("6d667431", "00000000", "01030200") + sf32.encode(sf32.FixedArray(np.eye(3).ravel()))[8:]
    lut = mft1.decode(head + ramp[::-1] + bytes([10, 20, 30, 40, 50, 60]) + ramp * 3, "A2B0")
    assert lut.clut.codes.tolist() == [[10, 20, 30], [40, 50, 60]]
    assert lut.input_tables[0, 0] == 1
    assert lut.output_tables[2, 255] == 1


@pytest.mark.parametrize("precision", ["u1", "u2"])
@pytest.mark.parametrize("kind", ["mAB ", "mBA "])
def test_mab_round_trip_with_every_part(kind, precision):
    rng = np.random.default_rng(3)
    n_in, n_out = (4, 3) if kind == "mAB " else (3, 4)
    sizes = (2, 3, 4, 2)[:n_in]
    top = 255 if precision == "u1" else 65535
    three = Curves(
        (SampledCurve(np.array([0, 0.25, 1])), IDENTITY, ParametricCurve(3, (2.4, 0.9, 0.1, 0.08, 0.04)))
    )
    lut = CurveLut(
        kind, n_in, n_out, b=three, m=three,
        matrix=Matrix(np.arange(9).reshape(3, 3) / 8 - 0.5, np.array([0.25, -0.5, 0])),
        clut=Clut(rng.integers(0, top + 1, (*sizes, n_out)).astype(precision)),
        a=Curves((*three.curves, IDENTITY)),
    )  # fmt: skip
    data = mab.encode(lut)
    back = mab.decode(data, "tag")
    assert mab.encode(back) == data
    np.testing.assert_array_equal(back.clut.codes, lut.clut.codes)
    np.testing.assert_array_equal(back.matrix.coefficients, lut.matrix.coefficients)
    np.testing.assert_array_equal(back.matrix.offset, lut.matrix.offset)
    np.testing.assert_allclose(back.b.curves[2].parameters, three.curves[2].parameters, atol=1e-5)
    offsets = np.frombuffer(data[12:32], ">u4")
    assert not (offsets % 4).any()
    assert offsets[0] == 32


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (hexed("63757276", "00000000", "ffffffff"), "ends too early"),
        (hexed("70617261", "00000000", "0005", "0000"), "unknown curve function"),
        (hexed("6d6c7563", "00000000", "ffffffff", "0000000c"), "ends too early"),
        (hexed("6d6c7563", "00000000", "00000001", "00000010"), "bad record size"),
        (hexed("636c7274", "00000000", "ffffffff"), "ends too early"),
        (hexed("64657363", "00000000", "ffffffff"), "ends too early"),
        (hexed("58595a20", "00000000"), "no XYZ value"),
        (hexed("6d667432", "00000000", "0f0fff00", "00" * 36, "0002", "0002", "00" * 90), "ends too early"),
        (hexed("6d667432", "00000000", "10030200", "00" * 36, "0002", "0002"), "bad channel count"),
        (hexed("6d667432", "00000000", "03030100", "00" * 36, "0002", "0002"), "bad grid size"),
        (hexed("6d667432", "00000000", "03030200", "00" * 36, "0001", "0002"), "input entries"),
        (hexed("6d414220", "00000000", "03030000", "00" * 20), "B curves are missing"),
        (hexed("6d414220", "00000000", "04030000", "00000020", "00" * 16), "without a CLUT"),
        (hexed("6d414220", "00000000", "03030000", "00000020", "00" * 16, "41424344"), "ends too early"),
        (hexed("6d414220", "00000000", "03030000", "00000020", "00" * 16, "4142434400000000"), "not a curve"),
        (hexed("41424344", "00000000"), "not supported"),
        (b"te", "ends too early"),
    ],
)  # fmt: skip
def test_damaged_tags_are_named(data, message):
    with pytest.raises(InputError, match=f"^A2B0: .*{message}"):
        decode_tag(data, "A2B0")


def test_mluc_whose_records_share_one_long_text_is_refused():
    count = 2000
    record = hexed("656e", "5553", f"{10_000:08x}", "00000010")
    data = hexed("6d6c7563", "00000000", f"{count:08x}", "0000000c") + record * count
    with pytest.raises(InputError, match="longer than the tag"):
        decode_tag(data, "desc")


def test_colorant_names_have_31_bytes():
    fits = clrt.Colorants((("x" * 31, (0, 0, 0)),))
    assert clrt.decode(clrt.encode(fits), "clrt") == fits
    with pytest.raises(InputError, match="too long"):
        clrt.encode(clrt.Colorants((("x" * 32, (0, 0, 0)),)))
