"""Profile and gamut commands give the fields that the page promises."""

import iccdev
import pytest
from contracts_page import result_fields
from contracts_program import inside

from strikeoff.icc.profile import read_profile

pytestmark = pytest.mark.usefixtures("small_tables")


def fields(words, *outputs):
    """Run a command with --json; return its results after comparing their names with the page."""
    done = inside(*words, "--json")
    assert (done.code, done.document["status"]) == (0, "ok"), done.out + done.err
    command = " ".join(words[:2])
    assert done.document["schema"] == f"strikeoff/{command.replace(' ', '-')}/1"
    assert set(done.document["results"]) == result_fields(command)
    assert [output["path"] for output in done.document["outputs"]] == [str(path) for path in outputs]
    return done.document["results"]


def test_profile_commands(condition, tmp_path):
    link, rgb, press = (tmp_path / name for name in ("link.icc", "rgb.icc", "press.icc"))
    fields(["profile", "write", condition, "--out", press], press)
    words = ["profile", "link", condition, "--artwork-profile", "srgb", "--intent", "saturation"]
    assert fields([*words, "--out", link], link)["grid"] == 6
    fields(["profile", "design-rgb", condition, "--out", rgb], rgb)
    for path, kind in ((press, "prtr"), (link, "link"), (rgb, "mntr")):
        assert fields(["profile", "inspect", path])["device_class"] == kind


@pytest.mark.parametrize("version", ["2", "4"])
def test_a_profile_for_customers_holds_the_tables_alone(condition, tmp_path, version):
    """`targ` and `meta` are optional in output profiles (ICC.1:2022 clause 8.4), and iccdev agrees."""
    whole, bare = tmp_path / "whole.icc", tmp_path / "bare.icc"
    words = ["profile", "write", condition, "--version", version]
    fields([*words, "--out", whole], whole)
    fields([*words, "--colours-only", "--out", bare], bare)
    tags, left = read_profile(whole.read_bytes()).tags, read_profile(bare.read_bytes()).tags
    assert left == {name: tag for name, tag in tags.items() if name not in ("targ", "meta")}
    assert len(left) == len(tags) - 2
    assert "strikeoff.inks".encode("utf-16-be") not in bare.read_bytes()
    result = iccdev.validate_profile(bare.read_bytes())
    assert (result.status, result.report) == (iccdev.ValidationStatus.OK, "")


def test_condition_from_a_profile(condition, tmp_path):
    press, made, page = (tmp_path / name for name in ("press.icc", "made.cond", "gamut.html"))
    assert inside("profile", "write", condition, "--out", press).code == 0
    fields(["condition", "import", "--profile", press, "--out", made], made)
    assert fields(["condition", "show", made])["held_out"] is None
    compared = fields(["condition", "gamut", made, "--compare", condition, "--out", page], page)["compared"]
    assert compared["covered_share"] > 0.9
    assert inside("condition", "gamut", made, "--out", tmp_path / "gamut.pdf").code == 2


def test_a_light_without_spectra_is_refused(condition, tmp_path):
    for words in (["--illuminant", "A"], ["--illuminant", "D50", "--light", "x.csv"]):
        done = inside("profile", "write", condition, *words, "--out", tmp_path / "p.icc")
        assert done.code == 2, words
        assert not (tmp_path / "p.icc").exists()
