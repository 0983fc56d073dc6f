"""The goods that a press file records: every key there and back, and what is refused."""

import json
import shutil
from datetime import date

import pytest

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, StorageError
from strikeoff.inks.goods import INK_CLASSES, NO_GOODS, PROCESSES, Change, Goods, InkLot, Step
from strikeoff.inks.goods_tables import goods_from_record
from strikeoff.inks.press_file import (
    press_text,
    read_curves,
    read_goods,
    read_inks,
    read_over_white,
    read_press,
    write_curves,
)
from strikeoff.report.cautions import known_processes

GOODS = """
[press]
name = "T1"
width_mm = 1850

[ink_set]
name = "reactive eight"
class = "reactive"

[cloth]
name = 'satin "4/1"'
lot = "S-0417"
composition = "100 % cotton"
mass_g_m2 = 134.5
colour = "écru"
pretreatment = "padded"
optical_brightener = "unknown"

[finishing.warp]
change_percent = -5.5
specimen_sd_percent = 0.7
lot_sd_percent = 0.25
interval_90_percent = [-6.75, -4]
specimens = 9
lots = 3

[finishing.weft]
change_percent = 0.3

[[finishing.step]]
process = "steaming"
temperature_c = 102
minutes = 10
machine = "steamer 2"

[[finishing.step]]
process = "other"
seconds = 35.5
note = "shaken out"

[validity]
from = 2031-03-01
days = 30
"""
INKS = """
[[ink]]
name = "C"
full_name = "reactive cyan"
lot = "C-1"

[[ink]]
name = "c"
role = "light"
light_of = "C"

[[ink]]
name = "K"
lot = "K-7"
"""


@pytest.fixture
def press(tmp_path):
    path = tmp_path / "press.toml"
    path.write_text(GOODS + INKS, encoding="utf-8")
    return path


def test_every_key_is_read(press):
    goods = read_press(press).goods
    assert goods == read_goods(press)
    assert (goods.press.name, goods.press.width_mm) == ("T1", 1850)
    assert goods.ink_set.ink_class == "reactive"
    assert goods.inks == (InkLot("C", "reactive cyan", "C-1"), InkLot("K", None, "K-7"))
    assert goods.cloth.name == 'satin "4/1"'
    assert goods.cloth.colour == "écru"
    assert goods.finishing.warp == Change(-5.5, 0.7, 0.25, (-6.75, -4.0), 9, 3)
    assert goods.finishing.weft == Change(0.3)
    assert goods.finishing.steps == (
        Step("steaming", 102, minutes=10, machine="steamer 2"),
        Step("other", seconds=35.5, note="shaken out"),
    )
    assert goods.valid_until == date(2031, 3, 31)


def test_a_file_of_limits_and_curves_carry_all_unchanged(press, tmp_path):
    described = read_press(press)
    again = tmp_path / "again.toml"
    again.write_text(press_text(described), encoding="utf-8")
    assert read_press(again).goods == described.goods
    assert press_text(read_press(again)) == press_text(described)
    record = json.loads(json.dumps({"goods": described.goods.as_record()}))
    assert goods_from_record(record) == described.goods
    plain = tmp_path / "plain.toml"
    plain.write_text('[[ink]]\nname = "C"\n')
    assert read_press(plain).goods == NO_GOODS
    assert not [line for line in press_text(read_press(plain)).splitlines() if "press" in line]
    with pytest.raises(InputError, match=r"not a file of ink curves.*It reads like ink limits"):
        read_curves(plain)
    shutil.copy(plain, tmp_path / "plain.txt")
    with pytest.raises(InputError, match=r"neither ink curves nor ink limits.*ends in \.toml$"):
        read_over_white(tmp_path / "plain.txt")
    spaces = read_press(plain).spaces()
    write_curves(tmp_path / "a.json", spaces)
    write_curves(tmp_path / "b.json", spaces, described.goods)
    assert "goods" not in json.loads((tmp_path / "a.json").read_text())
    assert read_inks(None, tmp_path / "b.json")[1] == described.goods
    # What the goods are changes no curve.
    assert read_curves(tmp_path / "a.json").curves_digest == read_curves(tmp_path / "b.json").curves_digest


def measured(**directions):
    return json.dumps({"schema": "strikeoff/finishing-measure/1", "results": directions})


FACTS = {
    "change_percent": -5.123456,
    "iso_5077_percent": None,
    "specimens": 6,
    "lots": 2,
    "specimen_sd_percent": 0.5,
    "lot_sd_percent": None,
    "interval_90_percent": [-6.00001, -4.0],
    "printed_for_1000_mm": 1054.0,
}


def test_change_from_a_document_beside_the_file(tmp_path):
    document = tmp_path / "change.json"
    document.write_text(measured(warp=FACTS, weft=None))
    path = tmp_path / "goods.toml"
    path.write_text('[finishing]\nmeasured = "change.json"\n')
    finishing = read_goods(path).finishing
    assert finishing.warp == Change(-5.1235, 0.5, None, (-6.0, -4.0), 6, 2)
    assert finishing.weft is None
    assert finishing.evidence == digest_bytes(document.read_bytes())
    # Values are carried on, not the name: files that are written may lie elsewhere.
    assert "measured" not in json.dumps(read_goods(path).as_record())


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("[1, 2]", "schema"),
        ("no", "--json"),
        ('{"schema": "strikeoff/finishing-risk/1", "results": {}}', "finishing-risk"),
        (measured(warp=None, weft=None), "no change"),
        (measured(warp={**FACTS, "change_percent": None}), "change_percent"),
        (measured(warp={**FACTS, "change_percent": -60.0}), "-50 to 20"),
        (measured(warp={**FACTS, "specimen_sd_percent": float("nan")}), "nan"),
    ],
)
def test_documents_that_hold_no_change(tmp_path, text, found):
    (tmp_path / "change.json").write_text(text)
    path = tmp_path / "goods.toml"
    path.write_text('[finishing]\nmeasured = "change.json"\n')
    with pytest.raises(InputError, match=r"change\.json") as caught:
        read_goods(path)
    assert found in str(caught.value)


def test_a_document_that_is_not_there(tmp_path):
    path = tmp_path / "goods.toml"
    path.write_text('[finishing]\nmeasured = "change.json"\n')
    with pytest.raises(StorageError, match=r"change\.json"):
        read_goods(path)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ('[press]\nnmae = "T1"', "nmae"),
        ('press = "T1"', "press"),
        ("[press]\nwidth_mm = 1.85", "50 to 20000"),
        ('[press]\nname = ""', "press, name"),
        ('[press]\nname = "a\\nb"', "press, name"),
        ('[ink_set]\nclass = "dye"', "reactive"),
        ('[cloth]\nmass_g_m2 = "135 g"', "cloth, mass_g_m2"),
        ("[cloth]\noptical_brightener = true", "yes, no, unknown"),
        ("[finishing]\nstep = 3", "[[finishing.step]]"),
        ("[[finishing.step]]\ntemperature_c = 102", "process is missing"),
        ('[[finishing.step]]\nprocess = "steam"', "steaming"),
        ('[[finishing.step]]\nprocess = "curing"\ntemperature_c = 320', "0 to 300"),
        ('[[finishing.step]]\nprocess = "washing"\n[[finishing.step]]\nprocess = "other"', "step 2"),
        ('[[finishing.step]]\nprocess = "curing"\nminutes = 3\nseconds = 180', "minutes or seconds"),
        ("[finishing.warp]\nspecimen_sd_percent = 0.5", "change_percent is missing"),
        ("[finishing.warp]\nchange_percent = -55", "finishing, warp, change_percent"),
        ("[finishing.warp]\nchange_percent = nan", "nan"),
        ("[finishing.warp]\nchange_percent = -5\nspecimen_sd_percent = -0.5", "0 to 50"),
        ("[finishing.warp]\nchange_percent = -5\nspecimens = 2.5", "whole number"),
        ("[finishing.warp]\nchange_percent = -5\ninterval_90_percent = [-4, -6]", "ends before"),
        ('[finishing]\nmeasured = "a.json"\n[finishing.warp]\nchange_percent = -5', "given twice"),
        ("[validity]\nuntil = 2031-02-30", "TOML"),
        ('[validity]\nuntil = "soon"', "2031-03-01"),
        ("[validity]\nuntil = 2031-03-01T10:00:00", "not a date"),
        ("[validity]\ndays = 30", "first day"),
        ("[validity]\nfrom = 2031-03-01", "no end"),
        ("[validity]\nfrom = 2031-03-01\nuntil = 2031-02-01", "ends before"),
        ("[validity]\nfrom = 2031-03-01\ndays = 0", "1 to 36500"),
        ("[validity]\nfrom = 9999-12-01\ndays = 60", "no such day"),
        ('[[ink]]\nlot = "7"', "name is missing"),
        ('[[ink]]\nname = "C"\nlott = "7"\n[press]\nname = "T1"', "lott"),
        ('[[ink]]\nname = "C"', "nothing of the goods"),
        ("", "nothing of the goods"),
        ("ink = [3]\n[press]\nname = 'T1'", "[[ink]]"),
    ],
)
def test_values_that_cannot_be_are_refused_by_their_key(tmp_path, text, named):
    path = tmp_path / "goods.toml"
    path.write_text(text)
    with pytest.raises(InputError, match=r"goods\.toml") as caught:
        read_goods(path)
    assert named in str(caught.value)


def test_goods_of_a_file_replace_whole_tables(press, tmp_path):
    other = tmp_path / "goods.toml"
    other.write_text('[cloth]\nname = "twill"\n[validity]\nuntil = 2032-01-01\n')
    old, new = read_goods(press), read_goods(other)
    both = new.over(old)
    assert (both.cloth.name, both.cloth.lot) == ("twill", None)
    assert both.valid_until == date(2032, 1, 1)
    assert (both.press, both.inks, both.finishing) == (old.press, old.inks, old.finishing)


def test_what_nobody_recorded(press):
    goods = read_goods(press)
    assert goods.not_recorded(["C", "K"]) == ()
    assert goods.not_recorded(["C", "c", "K"]) == ("lots of ink c",)
    assert len(Goods().not_recorded(["C"])) == 9
    assert "ink lots" in Goods().not_recorded(["C"])


def test_every_process_and_class_has_its_cautions():
    assert set(PROCESSES) - set(known_processes()) == {"other", "conditioning"}
    assert set(INK_CLASSES) - set(known_processes()) == {"other"}
