"""A clock that is set forward while a wait or a leak hold runs makes neither shorter: the machine's own running tells."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from topout.web import clock
from topout.web.jobs.steps import holds
from topout.web.jobs.steps.sign import Refused
from web.steps_kit import START, Hands

BY_CLOCK = "The machine was started anew meanwhile: the time is by its clock alone."


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """A machine that runs as long as the hands' clock says, but for what it was `ahead` by; its run has a name."""
    state: dict[str, Any] = {"boot": "one", "ahead": 0.0}
    monkeypatch.setattr(
        clock, "running", lambda: {"boot": state["boot"], "s": (clock.now() - START).total_seconds() - state["ahead"]}
    )
    return state


def test_a_leak_hold_of_five_minutes_is_none_of_two_days(machine: dict[str, Any], hands: Hands) -> None:
    slot = hands._work("leak-end")
    assert slot is not None
    begun = hands.at
    hands.at += timedelta(days=2)
    for minutes in (0, 6):  # a minute of them before the hands were looked at
        machine["ahead"] = (hands.at - begun - timedelta(minutes=minutes - 1)).total_seconds()
        said = rf"The clock was set forward since step \d+ was signed: this machine ran {minutes} minutes"
        with pytest.raises(Refused, match=said):
            hands.sign(slot, minutes=0)
    start = hands.here().slot("leak-start")
    assert start is not None
    hands.sign(start, again=True)
    assert hands._work("leak-end") is not None
    hands.at += timedelta(days=1)  # a true day: it runs from the start that was read again
    assert hands.sign(slot, minutes=0).verdict == "passed"


def test_a_wait_of_minutes_is_over_when_the_machine_ran_so_long(machine: dict[str, Any], hands: Hands) -> None:
    slot = hands._work("leak-start")
    assert slot is not None and slot.step.wait is not None
    minutes = slot.step.wait.minutes
    hands.at += timedelta(hours=3)
    for short, refused in ((60.0, True), (0.0, False)):
        machine["ahead"] = 3 * 3600 - minutes * 60 + short
        if refused:
            with pytest.raises(Refused, match="The clock was set forward"):
                hands.sign(slot, minutes=0)
        else:
            assert hands.sign(slot, minutes=0).verdict == "passed"


def test_over_a_restart_nobody_knows_and_a_true_night_holds(machine: dict[str, Any], hands: Hands) -> None:
    slot = hands._work("leak-end")
    assert slot is not None
    machine |= {"boot": "two", "ahead": 1e6}
    hands.at += timedelta(hours=14)
    entry = hands.sign(slot, minutes=0)
    assert entry.verdict == "passed" and entry.evidence["hold"]["says"].endswith(BY_CLOCK)
    told = holds.told(hands.here(), slot)
    assert told is not None and told.says == entry.evidence["hold"]["says"]


def test_started_anew_and_running_ever_since_the_clock_is_not_alone(machine: dict[str, Any], hands: Hands) -> None:
    """A machine that runs longer than the hold has witnessed all of it."""
    slot = hands._work("leak-end")
    assert slot is not None
    machine |= {"boot": "two", "ahead": -3600.0}
    hands.at += timedelta(hours=14)
    entry = hands.sign(slot, minutes=0)
    assert entry.verdict == "passed" and not entry.evidence["hold"]["says"].endswith(BY_CLOCK)


def test_the_machine_says_how_long_it_ran_and_a_given_moment_is_none_of_its() -> None:
    first, second = clock.running(), clock.running()
    assert first is not None and second is not None and first["boot"] == second["boot"] and first["s"] <= second["s"]
    assert clock.set_forward(clock.now(), first) is None
    assert clock.set_forward(clock.now() - timedelta(minutes=2), first) is not None
    assert clock.set_forward(clock.now() - timedelta(minutes=2), first | {"boot": "another"}) is None
    with clock.frozen(START):
        assert clock.running() is None and clock.set_forward(START - timedelta(days=1), first) is None
    with clock.frozen():
        assert clock.running() is not None
