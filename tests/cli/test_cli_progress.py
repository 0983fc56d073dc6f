import io

import pytest

from strikeoff.cli.cancel import Cancel
from strikeoff.cli.progress import TerminalProgress, bar


class Clock:
    now = 100.0

    def monotonic(self):
        return self.now


@pytest.fixture
def clock(monkeypatch):
    clock = Clock()
    monkeypatch.setattr("strikeoff.cli.progress.time", clock)
    return clock


def test_files_get_a_line_every_ten_seconds(clock):
    stream = io.StringIO()
    progress = TerminalProgress(stream, Cancel(), is_terminal=False)
    for second in range(25):
        clock.now = 100.0 + second
        progress("write", second / 25)
    progress.close()
    assert stream.getvalue() == "write: 40 %\nwrite: 80 %\n"


def test_terminals_get_one_line_that_is_wiped(clock):
    stream = io.StringIO()
    progress = TerminalProgress(stream, Cancel(), is_terminal=True)
    progress("fit the model", 0.5)
    clock.now += 0.01
    progress("fit the model", 0.6)
    progress("write", 0.0)
    progress.close()
    text = stream.getvalue()
    assert "\n" not in text
    assert " 50 %" in text
    assert " 60 %" not in text
    assert "write" in text
    assert text.split("\r")[-1] == ""
    assert text.split("\r")[-2].strip() == ""
    assert len(text.split("\r")[-2]) == len(bar("write", 0.0))


def test_a_terminal_that_went_away_does_not_stop_the_work():
    class Gone(io.StringIO):
        def write(self, text):
            raise BrokenPipeError

    progress = TerminalProgress(Gone(), Cancel(), is_terminal=True)
    progress("write", 0.1)
    progress("read", 0.2)
    progress.close()


def test_reports_hear_the_wish_to_stop():
    cancel = Cancel()
    progress = TerminalProgress(None, cancel, is_terminal=False)
    progress("write", 0.1)
    cancel.requested = True
    with pytest.raises(KeyboardInterrupt):
        progress("write", 0.2)


@pytest.mark.parametrize("fraction", [-1.0, 0.0, 1.0, 2.0])
def test_bars_stay_as_long(fraction):
    assert len(bar("a very long name of a stage indeed", fraction)) == len(bar("x", 0.3))
