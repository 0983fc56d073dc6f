"""Calculations side by side: in order, and left alone as soon as someone wants to stop."""

import threading
import time

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.base.threads import side_by_side
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.gaussian import in_parts
from strikeoff.model.validation import validate

LONG_S = 20.0
SOON_S = 5.0


def work_for_long(wanted=lambda: None, seconds=LONG_S):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        time.sleep(0.001)
        wanted()


def test_results_keep_the_order_and_are_told():
    def work(item, wanted):
        time.sleep(0.03 / item)
        return item

    done = []
    assert side_by_side(work, [1, 2, 3], 3, done.append) == [1, 2, 3]
    assert done == [1, 2, 3]


@pytest.mark.parametrize("wish", [KeyboardInterrupt, InputError])
def test_a_wish_to_stop_ends_work_that_has_begun_and_begins_no_more(wish):
    begun, ended = [], threading.Semaphore(0)

    def work(item, wanted):
        begun.append(item)
        try:
            work_for_long(wanted, 0.0 if item == 0 else LONG_S)
        finally:
            ended.release()

    def told(done):
        raise wish("stop")

    start = time.monotonic()
    with pytest.raises(wish):
        side_by_side(work, range(9), 2, told)
    # At most two more had been taken up by the threads when the first was told.
    assert len(begun) <= 4
    for _ in begun:
        assert ended.acquire(timeout=SOON_S)
    assert time.monotonic() - start < SOON_S


def test_work_that_never_looks_up_is_not_waited_for():
    over = threading.Event()

    def work(item, wanted):
        over.wait(LONG_S)

    def told(done):
        raise AssertionError("nothing is done")

    start = time.monotonic()
    with pytest.raises(InputError):
        side_by_side(
            lambda item, wanted: failing(item) if item == 0 else work(item, wanted), range(4), 2, told
        )
    assert time.monotonic() - start < SOON_S
    over.set()


def failing(item):
    raise InputError("odd", found=item)


def test_a_signal_leaves_the_refits_of_a_validation(monkeypatch):
    """What a person hears as Ctrl-C must not wait for five refits of many inks, nor let them go on."""
    fitting, ended = threading.Event(), threading.Semaphore(0)

    def endless(recipes, repeats, bands, view, wanted):
        fitting.set()
        try:
            work_for_long(wanted)
        finally:
            ended.release()

    def interrupt(unfinished_here):
        assert fitting.wait(SOON_S)
        raise KeyboardInterrupt

    monkeypatch.setattr("strikeoff.model.validation.fit_forward", endless)
    monkeypatch.setattr("concurrent.futures.Future.result", interrupt)
    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        validate(np.eye(40), np.ones(40), np.full((40, 3), 0.5), View(np.eye(3), np.ones(3)))
    assert ended.acquire(timeout=SOON_S)
    assert time.monotonic() - start < SOON_S


def test_parts_that_nobody_wants_are_not_begun():
    begun = []

    def work(rows):
        begun.append(rows.start)
        if rows.start == 0:
            raise KeyboardInterrupt
        time.sleep(0.2)

    with pytest.raises(KeyboardInterrupt):
        in_parts(work, 50 * 1024)
    time.sleep(0.5)
    assert len(begun) < 10


@pytest.mark.parametrize("step", [1, 5, 60])
def test_a_fit_looks_up_between_its_steps(step):
    """Steps of the area-coverage fit, and of the likelihood of both experts after it."""
    rng = np.random.default_rng(0)
    recipes = np.vstack([np.zeros(2), rng.random((40, 2))])
    bands = 0.9 * np.exp(-recipes @ np.array([[2.0, 0.3, 0.1], [0.1, 1.0, 0.4]]))
    calls = []

    def wanted():
        calls.append(1)
        if len(calls) == step:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fit_forward(recipes, np.ones(41), bands, View(100 * np.eye(3), np.full(3, 100.0)), wanted)
    assert len(calls) == step
