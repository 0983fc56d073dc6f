"""Tolerance sets: packaged data and clear errors."""

import hashlib
import tomllib

import pytest

from strikeoff.base.errors import InputError, StorageError
from strikeoff.verification.tolerances import default_tolerances_path, read_tolerances

GOOD = """name = "Mine"
origin = "agreed with the customer"

[guard]
coverage_factor = 2.0

[[item]]
name = "Cloth"
patches = "cloth"
statistic = "mean"
formula = "de2000"
limit = 1.5

[[item]]
name = "Solids"
patches = "solids"
statistic = "max"
formula = "cmc"
limit = 2
optional = true
"""


def write(tmp_path, text):
    path = tmp_path / "limits.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_packaged_sets_are_listed_with_their_digest():
    folder = default_tolerances_path("textile").parent
    rows = {row["file"]: row for row in tomllib.loads((folder / "SOURCES.toml").read_text())["source"]}
    assert set(rows) == {path.name for path in folder.glob("*.toml")} - {"SOURCES.toml"}
    for name, row in rows.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == row["sha256"]
        assert len(read_tolerances(folder / name).items) == row["rows"]


def test_print_limits_are_the_recalled_ones_and_never_claim_conformity():
    # Modelled on ISO 12647-7:2016 from memory: substrate 3, mean 2.5, max 5, solids 3, grey 2.0 and 3.5.
    path = default_tolerances_path("print")
    read = read_tolerances(path)
    limits = {(i.patches, i.statistic): i.limit for i in read.items}
    assert limits["cloth", "mean"] == 3.0
    assert limits["all", "mean"] == 2.5
    assert limits["all", "max"] == 5.0
    assert limits["solids", "max"] == 3.0
    assert (limits["greys", "mean"], limits["greys", "max"]) == (2.0, 3.5)
    # Largest |dL*| of single-ink tints, usual limit 2: common practice, no source.
    assert limits["tints", "max"] == 2.0
    assert "modelled on" in read.origin
    assert "check before use" in read.origin
    for name in ("print", "textile"):
        assert "conform" not in default_tolerances_path(name).read_text().lower()


def test_values_arrive_as_written(tmp_path):
    read = read_tolerances(write(tmp_path, GOOD))
    assert (read.name, read.items[1].limit, read.items[1].optional) == ("Mine", 2.0, True)
    assert read.guard.reading_sd == 0.3
    assert read.digest.startswith("sha256:")


@pytest.mark.parametrize(
    ("old", "new", "parts"),
    [
        ("limit = 1.5", "limit = -1.5", ("line 12", "limit", "above 0")),
        ("limit = 1.5", 'limit = "1,5"', ("line 12", "wrong kind", "'1,5'")),
        ("limit = 1.5", "limit = nan", ("line 12", "out of range")),
        ("limit = 1.5", "limit = true", ("line 12", "wrong kind")),
        ("limit = 2\n", "limt = 2\n", ("line 19", "limt", "name, patches, statistic, formula, limit")),
        ("limit = 2\n", "", ("line 14", "no limit")),
        ('formula = "cmc"', 'formula = "de94"', ("line 18", "de94", "de2000, cmc")),
        ('statistic = "max"', 'statistic = "median"', ("line 17", "median", "percentile-95")),
        ('patches = "solids"', 'patches = "reds"', ("line 16", "overprints")),
        ("coverage_factor = 2.0", "coverage_factor = 0", ("line 5", "above 0")),
        ("coverage_factor = 2.0", "k = 2", ("line 5", "coverage_factor, instrument_sd, reading_sd")),
        ('origin = "agreed', 'orign = "agreed', ("line 2", "orign", "name, origin")),
        ('name = "Solids"', 'name = "Cloth"', ("line 15", "one name")),
        ("optional = true", "optional = 1", ("line 20", "true or false")),
        ("[guard]", "[guard", ("line 4", "TOML")),
    ],
)
def test_every_fault_names_its_line(tmp_path, old, new, parts):
    assert old in GOOD
    with pytest.raises(InputError) as caught:
        read_tolerances(write(tmp_path, GOOD.replace(old, new, 1)))
    for part in ("limits.toml", *parts):
        assert part in str(caught.value)


@pytest.mark.parametrize(
    "text", ["", "item = 3", "item = []", "item = [1]", b"\xff\xfe", "[" * 5000, "a = " + "[" * 9000]
)
def test_rubbish_is_an_input_error(tmp_path, text):
    with pytest.raises(InputError):
        read_tolerances(write(tmp_path, text))


def test_missing_and_huge_files(tmp_path):
    with pytest.raises(StorageError):
        read_tolerances(tmp_path / "none.toml")
    with pytest.raises(InputError, match="too large"):
        read_tolerances(write(tmp_path, b"#" * (1 << 21)))
    with pytest.raises(InputError, match=r"print, textile"):
        default_tolerances_path("leather")
