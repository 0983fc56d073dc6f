import hashlib
import struct

import pytest

from strikeoff.base.errors import InputError
from strikeoff.icc.header import VERSION_2_4, VERSION_4_4, Header, channels
from strikeoff.icc.profile import Profile, profile_id, read_profile, write_profile
from strikeoff.icc.tags import text

TEXT_A = text.encode(text.Text("abcd"))
TEXT_B = text.encode(text.Text("xy"))


def small(version=VERSION_4_4):
    header = Header(version, "prtr", "CMYK", date=(2024, 2, 29, 12, 34, 56))
    return Profile(header, {"cprt": TEXT_A, "targ": TEXT_B, "A2B0": TEXT_A})


def entry(data, index):
    return struct.unpack_from(">4sII", data, 132 + 12 * index)


def patched(data, offset, code, *values):
    changed = bytearray(data)
    struct.pack_into(">" + code, changed, offset, *values)
    return bytes(changed)


def test_header_bytes():
    # ICC.1:2022 7.2, field by field.
    data = write_profile(small())
    assert struct.unpack_from(">I", data, 0)[0] == len(data)
    assert data[8:12].hex() == "04400000"
    assert data[12:24] == b"prtrCMYKLab "
    assert data[24:36].hex() == "07e80002001d000c00220038"
    assert data[36:40] == b"acsp"
    assert data[68:80].hex() == "0000f6d6000100000000d32d"
    assert data[100:128] == bytes(28)


def test_equal_tags_are_stored_once_and_aligned():
    data = write_profile(small())
    (_, first, size), (_, second, _), (name, third, _) = (entry(data, i) for i in range(3))
    assert (name, third, size) == (b"A2B0", first, len(TEXT_A))
    assert second == first + 16
    assert all(entry(data, i)[1] % 4 == 0 for i in range(3))
    assert len(data) % 4 == 0


def test_profile_id_of_version_4():
    # ICC.1:2022 7.2.18: MD5 with flags, intent and ID zeroed.
    profile = small()
    data = bytearray(write_profile(profile))
    stored = bytes(data[84:100])
    data[44:48] = data[64:68] = bytes(4)
    data[84:100] = bytes(16)
    assert stored == hashlib.md5(data).digest()
    assert profile_id(write_profile(profile)) == stored


def test_version_2_has_no_id():
    data = write_profile(small(VERSION_2_4))
    assert data[8:12].hex() == "02400000"
    assert data[84:100] == bytes(16)


def test_round_trip_keeps_unknown_tags_and_order():
    profile = small()
    odd = Profile(profile.header, {"zzzz": b"\xff\xfe odd", **profile.tags})
    back = read_profile(write_profile(odd))
    assert list(back.tags.items()) == list(odd.tags.items())
    assert write_profile(back) == write_profile(odd)
    assert back.header.date == (2024, 2, 29, 12, 34, 56)


def test_bytes_after_the_profile_are_left_alone():
    data = write_profile(small())
    assert read_profile(data + b"tail").tags == read_profile(data).tags


def test_every_truncation_is_an_input_error():
    data = write_profile(small())
    for length in range(len(data)):
        with pytest.raises(InputError):
            read_profile(data[:length])


@pytest.mark.parametrize(
    ("offset", "code", "value", "message"),
    [
        (36, "4s", b"acsq", "not an ICC profile"),
        (0, "I", 2**32 - 1, "header size"),
        (128, "I", 2**32 - 1, "tag table"),
        (132 + 12, "4s", b"cprt", "cprt: tag appears twice"),
        (132 + 12 + 4, "I", 140, "targ: tag lies over the tag table"),
        (132 + 12 + 4, "I", 2**32 - 1, "targ: data ends too early"),
        (132 + 12 + 8, "I", 2**31, "targ: data ends too early"),
        (132 + 12 + 4, "I", 172, "targ: tag overlaps another in part"),
    ],
)
def test_damaged_tables_name_the_tag(offset, code, value, message):
    with pytest.raises(InputError, match=message):
        read_profile(patched(write_profile(small()), offset, code, value))


def test_a_missing_tag_is_named():
    with pytest.raises(InputError, match="wtpt: profile lacks a tag"):
        read_profile(write_profile(small())).decode("wtpt")


def test_channels():
    assert [channels(s) for s in ("GRAY", "RGB ", "RGB", "CMYK", "2CLR", "9CLR", "ACLR", "FCLR")] == [
        1, 3, 3, 4, 2, 9, 10, 15,
    ]  # fmt: skip
    with pytest.raises(InputError, match="colour space"):
        channels("1CLR")
