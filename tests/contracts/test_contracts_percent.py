"""Percentages are written in one way, a blank before the sign (ISO 80000-1, 7.1.4), by all of the package."""

import re
from pathlib import Path

import strikeoff

_ROOT = Path(strikeoff.__file__).parent
# A format that sets the sign without a blank, or a field or digit right before it in words.
_WRONG = re.compile(r":[^{}\s\"']*%\}|(?:\}|\d)%(?=[\s.,;:)\"'])")


def test_a_blank_stands_before_the_sign():
    wrong = [
        f"{path.relative_to(_ROOT)}:{number}: {line.strip()}"
        for path in sorted(_ROOT.rglob("*.py"))
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if _WRONG.search(line.replace("\\u00a0", " "))
    ]
    assert not wrong, "\n".join(wrong)


def test_the_pattern_finds_what_is_wrong():
    assert all(_WRONG.search(text) for text in ('f"{share:.1%}"', 'f"{x:g}% of it"', '"about 5% more"'))
    assert not any(_WRONG.search(text) for text in ('f"{100 * x:.1f} %"', "b = a % 3", '"%d" % 3'))
