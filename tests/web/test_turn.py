"""Writers of one process stand in line: in the order in which they came, none passed over, none for ever."""

from __future__ import annotations

import threading
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.db import connection

from topout.web.access import change as changes
from topout.web.access.models import Change
from topout.web.access.turn import Line
from web.people import Cast


def come(line: Line, name: str, order: list[str], holds: threading.Event | None = None) -> threading.Thread:
    def act() -> None:
        with line.turn():
            order.append(name)
            if holds is not None:
                holds.wait(20)

    thread = threading.Thread(target=act)
    thread.start()
    return thread


def wait_for(line: Line, count: int) -> None:
    for _ in range(2000):
        if len(line._waiting) == count:
            return
        time.sleep(0.005)
    raise AssertionError(len(line._waiting))


def test_they_go_in_the_order_in_which_they_came() -> None:
    line, order, holds = Line(), list[str](), threading.Event()
    threads = [come(line, "first", order, holds)]
    for nth in range(12):
        while not order:
            time.sleep(0.005)
        threads.append(come(line, str(nth), order))
        wait_for(line, nth + 1)
    assert order == ["first"], "one at a time"
    holds.set()
    for thread in threads:
        thread.join(20)
    assert order == ["first", *map(str, range(12))]
    with line.turn(0.0):
        pass


def test_who_is_inside_comes_again_and_who_waits_too_long_goes_on() -> None:
    line, order, holds = Line(), list[str](), threading.Event()
    with line.turn(), line.turn():
        order.append("inside")
    thread = come(line, "holder", order, holds)
    while len(order) < 2:
        time.sleep(0.005)
    with line.turn(0.05):
        order.append("went on")
    assert not line._waiting and order == ["inside", "holder", "went on"]
    holds.set()
    thread.join(20)
    come(line, "after", order).join(20)
    assert order[-1] == "after", "the line is free again"


def test_an_error_inside_lets_the_next_one_in() -> None:
    line = Line()
    with pytest.raises(ValueError), line.turn():
        raise ValueError
    with line.turn(0.0):
        assert line._taken


def test_a_change_stands_in_line_while_another_is_under_way(
    workshop: Path, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And not at SQLite's door, where it would look again by chance; its time is that of its turn."""
    line, saved = Line(), list[datetime]()
    monkeypatch.setattr(changes, "turn", line.turn)

    def other() -> None:
        with changes.change(cast.technician, "second", {}) as doing:
            saved.append(doing.at)
        connection.close()

    with changes.change(cast.technician, "first", {}) as first:
        thread = threading.Thread(target=other)
        thread.start()
        wait_for(line, 1)
        time.sleep(0.05)
    thread.join(20)
    assert saved[0] - first.at >= timedelta(seconds=0.05)
    assert list(Change.objects.order_by("pk").values_list("what", flat=True)) == ["first", "second"]
