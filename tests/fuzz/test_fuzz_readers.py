"""Sound files with bytes changed: no crash, no hang, bounded memory, only errors meant for bad input."""

import time
import tracemalloc
import warnings
from contextlib import suppress
from functools import cache

import pytest
from fuzz_readers import ALLOWED, READERS
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

EXAMPLES = {"pdf": 6, "tiff": 60}
MOST_BYTES = 400 << 20
MOST_SECONDS = 10.0

#: One change: where (share of the length), what, and with which bytes.
CHANGES = st.lists(
    st.tuples(
        st.floats(0, 1, exclude_max=True),
        st.sampled_from(["set", "insert", "cut", "end", "copy"]),
        st.one_of(
            st.binary(min_size=1, max_size=8),
            st.sampled_from([b"\xff" * 4, b"\x7f\xff\xff\xff", bytes(4), b"\x80\0\0\0", b"\xff\xff"]),
        ),
    ),
    min_size=1,
    max_size=6,
)  # fmt: skip


@cache
def seeds(name):
    return READERS[name].seeds()


def changed(data, changes):
    """Return the bytes with some changes made.

    >>> changed(b"abcdef", [(0.5, "set", b"X")]), changed(b"abcdef", [(0.5, "end", b"X")])
    (b'abcXef', b'abc')
    """
    for share, what, new in changes:
        at = int(share * len(data))
        if what == "set":
            data = data[:at] + new + data[at + len(new) :]
        elif what == "insert":
            data = data[:at] + new + data[at:]
        elif what == "cut":
            data = data[:at] + data[at + 4 * len(new) :]
        elif what == "copy":
            data = data[:at] + data[: 64 * len(new)] + data[at:]
        else:
            data = data[:at]
    return data


@pytest.mark.parametrize("name", READERS)
def test_sound_files_are_read(tmp_path, name):
    if name == "pdf":
        pytest.importorskip("pymupdf")
    for data in seeds(name):
        READERS[name].read(data, tmp_path)


@pytest.mark.parametrize("name", READERS)
def test_changed_files_are_read_or_refused(tmp_path, name):
    if name == "pdf":
        pytest.importorskip("pymupdf")

    @settings(
        max_examples=EXAMPLES.get(name, 30),
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )
    @given(st.integers(0, 99), CHANGES)
    def check(seed, changes):
        known = seeds(name)
        data = changed(known[seed % len(known)], changes)
        start = time.monotonic()
        # Warnings of foreign decoders about bad bytes are no faults of ours.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with suppress(ALLOWED):
                READERS[name].read(data, tmp_path)
        assert time.monotonic() - start < MOST_SECONDS

    tracemalloc.start()
    try:
        check()
        assert tracemalloc.get_traced_memory()[1] < MOST_BYTES
    finally:
        tracemalloc.stop()
