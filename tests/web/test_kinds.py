"""What is read on which unit, written out here a second time: limits, what a bench sees on most days, what a form asks beside it."""

from __future__ import annotations

import pytest

from topout.web.book.models import Unit
from topout.web.jobs.records.kinds import KINDS, kinds_of
from topout.web.jobs.records.models import Job

# kind: unit, lowest and highest taken, span that is not asked about, and what belongs to it: gauge, clicks, posture
TAKEN: dict[str, tuple[str, float, float, tuple[float, float] | None, str]] = {
    "pressure": ("psi", 0, 870, (15, 300), "gauge"), "negative-pressure": ("psi", 0, 870, (15, 300), "gauge"),
    "gas-pressure": ("psi", 0, 870, (40, 400), "gauge"), "own-pump": ("psi", 0, 870, (15, 300), ""),
    "temperature": ("degC", -40, 60, (2, 42), ""), "spacers": ("", 0, 20, None, ""), "negative-spacers": ("", 0, 20, None, ""),
    "coil-rate": ("N/mm", 0.5, 500, (3, 160), ""), "preload": ("mm", 0, 60, (0, 25), ""),
    "rebound": ("", 0, 60, None, "clicks"), "compression": ("", 0, 60, None, "clicks"),
    "sag": ("mm", 0.5, 300, (8, 90), "posture"), "stroke-sag": ("mm", 0.5, 120, (5, 35), "posture"),
    "exposed-length": ("mm", 10, 400, (60, 300), ""), "travel": ("mm", 20, 300, (60, 240), ""),
    "length": ("mm", 50, 400, (120, 300), ""), "stroke": ("mm", 20, 120, (30, 90), ""),
    "wheel-mass": ("kg", 0.3, 15, (0.8, 5), ""), "hours": ("", 0, 5000, None, ""),
    "can-bore": ("mm", 10, 80, (25, 60), ""), "can-body": ("mm", 3, 60, (20, 45), ""), "can-volume": ("ml", 5, 1000, (40, 400), ""),
    # of the other end, at a step alone: tests/web/test_other_end_steps.py
    **{f"{end}-pressure": ("psi", 0, 870, (15, 300), "gauge") for end in ("rear", "front")},
    **{f"{end}-preload": ("mm", 0, 60, (0, 25), "") for end in ("rear", "front")},
    **{f"{end}-rebound": ("", 0, 60, None, "clicks") for end in ("rear", "front")},
    "far-in": ("psi", 0, 870, None, ""),  # has a page of its own: tests/web/test_far_in.py
}  # fmt: skip
DIMENSION = {
    "psi": "pressure",
    "degC": "temperature",
    "N/mm": "rate",
    "mm": "length",
    "ml": "volume",
    "kg": "mass",
    "": "",
}
AIR = ["pressure", "negative-pressure", "temperature", "spacers"]
FORK = [*AIR, "rebound", "compression", "sag", "exposed-length", "travel", "own-pump", "wheel-mass", "hours"]
# What is read as found, with the bike there.
READ = {
    "fork": FORK,
    "coil-fork": ["temperature", "coil-rate", "preload", *FORK[4:9], "wheel-mass", "hours"],
    "shock": [
        "pressure", "negative-pressure", "gas-pressure", "temperature", "spacers", "negative-spacers", "rebound", "compression",
        "stroke-sag", "length", "stroke", "own-pump", "can-bore", "can-body", "can-volume", "hours",
    ],
    "coil-shock": [
        "gas-pressure", "temperature", "coil-rate", "preload", "rebound", "compression", "stroke-sag", "length", "stroke", "hours",
    ],
}  # fmt: skip
ON_THE_BIKE, AS_FOUND_ALONE = (
    {"sag", "stroke-sag", "wheel-mass"},
    {"wheel-mass", "hours", "can-bore", "can-body", "can-volume"},
)


def test_every_kind_is_written_out_here() -> None:
    assert set(TAKEN) == set(KINDS)


@pytest.mark.parametrize("key", TAKEN)
def test_limits_and_likely_span(key: str) -> None:
    kind, (unit, low, high, likely, beside) = KINDS[key], TAKEN[key]
    assert (kind.key, kind.unit, kind.dimension) == (key, unit, DIMENSION[unit])
    assert (kind.low, kind.high, kind.likely) == (low, high, likely)
    assert (kind.pressure, kind.clicks, kind.posture) == (beside == "gauge", beside == "clicks", beside == "posture")
    assert kind.label[:1].isupper() and kind.label != key


@pytest.mark.parametrize("unit", READ)
def test_what_is_read_on_a_unit_with_its_bike_and_without(unit: str) -> None:
    with_bike, alone = Job(unit=Unit(kind=unit), bike_id=1), Job(unit=Unit(kind=unit))
    assert [kind.key for kind in kinds_of(with_bike, "as-found")] == READ[unit]
    left = [key for key in READ[unit] if key not in AS_FOUND_ALONE]
    assert [kind.key for kind in kinds_of(with_bike, "as-left")] == left
    assert [kind.key for kind in kinds_of(alone, "as-found")] == [key for key in READ[unit] if key not in ON_THE_BIKE]
    assert [kind.key for kind in kinds_of(alone, "as-left")] == [key for key in left if key not in ON_THE_BIKE]


def test_a_job_without_a_unit_is_read_as_a_forks() -> None:
    assert [kind.key for kind in kinds_of(Job(bike_id=1), "as-found")] == READ["fork"]
