"""No command writes over what it reads."""

import pytest
from contracts_program import ROLL, inside

_OVER = """
readings merge FILE --out FILE
readings convert FILE --out FILE
readings assign FILE FILE --out FILE
condition build --readings FILE --out FILE
condition match COND FILE --out FILE
condition predict COND FILE --out FILE
condition predict COND FILE --out LINK
condition limits --readings FILE --out LINK
condition limits --readings FILE --out NEW --plot FILE
condition total --readings FILE --limits NEW --out FILE
condition split --readings FILE --limits NEW --out FILE
condition linearise --readings FILE --out NEW --plot FILE
condition relinearise COND --readings FILE --out FILE
condition relinearise FILE --readings NEW --out LINK
condition change-press FILE --limits NEW --out LINK
condition import --profile FILE --out FILE
condition gamut COND --compare FILE --out FILE
condition lights COND FILE --out FILE
condition lights COND NEW --light FILE --plot FILE --out NEW2
condition report FILE --out FILE
condition report FILE --out NEW --pdf LINK
condition spots COND FILE --out FILE
condition spots COND FILE --out NEW --page FILE
control verify COND FILE --out FILE
finishing measure FILE --drawing FILE
profile write FILE --out FILE
profile link COND --artwork-profile FILE --out LINK
profile design-rgb FILE --out FILE
artwork separate COND FILE --out LINK
artwork check FILE --condition COND --finished 9x9 --out LINK
artwork proof FILE --condition COND --finished 9x9 --out LINK
artwork palette FILE --out FILE
artwork repeat FILE --out FILE
artwork recolour FILE NEW NEW --condition COND --out DIR --sheet FILE
roll screen FILE --out FILE
roll compose FILE ROLL --out FILE
roll compose FILE ROLL --out NEW --drawing LINK
roll compose FILE ROLL --out NEW --strip-reference FILE
roll lay FILE --dpi 300 --out FILE
roll lay FILE --dpi 300 --out NEW --positions LINK
roll marks FILE --positions FILE
roll nest FILE --warp 0 --weft 0 --width 900 --layout LINK
roll nest FILE --warp 0 --weft 0 --width 900 --drawing FILE
roll nest-shapes FILE --warp 0 --weft 0 --width 900 --out FILE
roll cut --layout NEW --contour FILE --out FILE
roll cut --layout NEW --alpha FILE --out LINK
"""


@pytest.mark.parametrize("line", _OVER.strip().splitlines())
def test_what_is_read_is_not_written_over(line, chart, condition, tmp_path):
    """Neither under its own name nor under another one: readings cannot be made again."""
    file, link = tmp_path / "readings.txt", tmp_path / "link.txt"
    file.write_bytes(chart.read_bytes())
    link.symlink_to(file)
    new = {name: tmp_path / name.lower() for name in ("NEW", "NEW2", "DIR")}
    names = {"FILE": file, "LINK": link, "COND": condition, **new}
    words = line.replace("ROLL", ROLL).split()
    done = inside(*(names.get(word, word) for word in words))
    assert done.code == 2, done.err + done.out
    assert "output would replace an input" in done.err
    assert file.read_bytes() == chart.read_bytes()
    assert not any(path.exists() for path in new.values())


@pytest.mark.parametrize("name", ["first-01.tif", "first.pdf", "first.txt"])
def test_a_folder_is_not_written_over_what_is_read(name, chart, condition, tmp_path):
    """Pages of a chart have names of their own, and one of them may be that of an input."""
    given = tmp_path / name
    given.write_bytes(condition.read_bytes())
    done = inside("chart", "make", "--kind", "first", "--condition", given, "--out", tmp_path)
    assert done.code == 2, done.err + done.out
    assert "output would replace an input" in done.err
    given = given.rename(tmp_path / name.replace("first", "next"))
    done = inside("chart", "next", given, "--patches", "4", "--page", "400x400", "--out", tmp_path)
    assert done.code == 2, done.err + done.out
    assert "output would replace an input" in done.err
    assert [path.name for path in tmp_path.iterdir()] == [given.name]
    assert given.read_bytes() == condition.read_bytes()


def test_inks_and_limits_may_be_written_anew(tmp_path):
    """Commands add to them step by step: they get as far as reading them."""
    limits = tmp_path / "limits.toml"
    limits.write_text("total_percent = 300\n")
    done = inside("condition", "total", "--readings", "absent", "--limits", limits, "--out", limits)
    assert done.code == 6, done.err
    assert "absent: no such file" in done.err


_TWICE = """
condition report COND --out NEW --pdf NEW
condition report COND --out NEW --pdf x/../NEW
condition limits --readings FILE --out NEW --plot NEW
condition total --readings FILE --limits FILE --out NEW --plot NEW
condition linearise --readings FILE --limits FILE --out NEW --plot NEW
condition lights COND FILE --out NEW --plot NEW
condition spots COND FILE --out NEW --page NEW
"""


@pytest.mark.parametrize("line", _TWICE.strip().splitlines())
def test_two_results_do_not_share_a_file(line, tmp_path):
    """The later one would replace the earlier without a word; nothing is read before that is seen."""
    folder = tmp_path / "x"
    folder.mkdir()
    names = {"FILE": tmp_path / "file", "COND": tmp_path / "cond", "NEW": tmp_path / "new"}
    names["x/../NEW"] = folder / ".." / "new"
    for name in ("FILE", "COND"):
        names[name].write_text("never looked at")
    done = inside(*(names.get(word, word) for word in line.split()))
    assert done.code == 2, done.err + done.out
    assert "two files to write have one name" in done.err
    assert not names["NEW"].exists()
