"""A job for a fork of which only the outside is known: stanchion, travel, pressure, spacers, sag, rider and frame."""

from __future__ import annotations

from copy import deepcopy
from functools import lru_cache
from typing import Any

import pytest
from django.contrib.auth.models import User

from topout import units
from topout.bench_file.model import BenchFile
from topout.planner import bounds, drawn
from topout.planner.inexact import MOVING
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken

RIDER: dict[str, dict[str, Any]] = {"rider": {"mass": "82 kg"}}
BIKE: dict[str, dict[str, Any]] = {
    "bike": {"mass": "15 kg", "unsprung_front": "3 kg"},
    "frame": {
        "head_angle": "65.5 deg", "seat_angle": "77 deg", "reach": "470 mm", "stack": "625 mm", "chainstay": "435 mm",
        "bb_drop": "25 mm", "fork_length": "546 mm", "fork_offset": "44 mm", "front_radius": "369 mm", "rear_radius": "369 mm",
    },
    "front_wheel": {"bead_seat": "622 mm", "tyre_height": "58 mm"},
    "rear_wheel": {"bead_seat": "622 mm", "tyre_height": "58 mm"},
}  # fmt: skip
UNIT: dict[str, dict[str, Any]] = {
    "fork": {"length": "546 mm", "offset": "44 mm", "travel": "150 mm", "stanchion": "36 mm", "tyre_room": "533 mm"},
    "fork.air": {"spacers": 1, "pressure": "72 psi", "pressure_limit": "120 psi"},
}
ANSWER = bounds.answer
ASKED = {"travel": "160", "pressure": "72", "spacers": "1", "offset": "44", "bead": "622", "tyre": "58"}


def few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """For what hangs not on how well an answer is known: as many draws at rest as while a control moves, a file's answer
    worked out once, and a refusal after a tenth of the draws."""
    real = drawn.draw
    monkeypatch.setattr(drawn, "draw", lambda bench, count=MOVING, *more: real(bench, min(count, MOVING), *more))
    monkeypatch.setattr(drawn, "TO_REFUSE", drawn.TO_REFUSE // 10)
    monkeypatch.setattr(bounds, "answer", lambda bench, count=MOVING: _few_answers(bench))


def _few_answers(bench: BenchFile) -> bounds.Answered:
    try:
        return _answered_once(bench)
    except TypeError:  # a file with [change.air] or [change.coil], which nothing can be kept by
        return _answered_once.__wrapped__(bench)


@lru_cache(maxsize=16)
def _answered_once(bench: BenchFile) -> bounds.Answered:
    return ANSWER(bench, MOVING)


def outside_job(who: User) -> Job:
    """The job, with sag and pressure as found."""
    with change(who, "outside", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Runa Telvik", tables=deepcopy(RIDER))
        bike = book.make_bike(doing, rider=rider, name="Hollin hardtail, size L", tables=deepcopy(BIKE))
        unit = book.make_unit(doing, bike=bike, name="Quillon 36 fork", tables=deepcopy(UNIT))
        job = changes.take_in(
            doing, rider=rider, bike=bike, unit=unit, asked_title="travel 150 → 160 mm", asked="Ten more.",
            procedure="travel-change-by-air-shaft",
        )  # fmt: skip
        for kind, text, dimension, more in (
            ("temperature", "20 degC", "temperature", {}),
            ("pressure", "72 psi", "pressure", {}),
            ("sag", "33 mm", "length", {"posture": "standing"}),
        ):
            readings.take(doing, job, "as-found", Taken.quantity(kind, units.parse(text, dimension), dimension, **more))
        readings.take(doing, job, "as-found", Taken.count("spacers", 1))
    return job
