"""A rear shock whose frame's leverage nobody knows, by itself: what it carried where its sag was found is known all the same.

Behind a ratio of one the wheel is the shock's own end, so that whatever is worked out of a wheel is told of the stroke. The ratio is
taken to be the same at both sags; what is told so says that, and nothing of the wheel.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from topout.bench_file import checks
from topout.bench_file.model import BenchFile, Change, Found
from topout.errors import FaultsFound
from topout.planner import missing
from topout.uncertainty.doubt import Doubt

_LONGEST_M: Final = 0.2  # past every stroke, that of a change too
_ITS_KEYS: Final = ("shock.", "change.shock.", "conditions.", "ride.")


def by_stroke(bench: BenchFile) -> BenchFile | None:
    """The shock alone behind a ratio of one; None where its frame's leverage is known, or there is none.

    bench [SI] (one) as read → [SI] (one) or None. Raises FaultsFound where its sag was not found in mm of stroke. Source: physics.md
    7, virtual work.
    """
    shock = bench.shock
    if shock is None or not checks.unlevered(bench):
        return None
    if shock.sag_m is None:
        raise FaultsFound([missing.needed("[shock] sag")])
    readings = bench.found.readings if bench.found is not None else ()
    own = [number for number, each in enumerate(readings) if each.end == "rear"]
    asked = bench.change.shock if bench.change is not None else None
    return BenchFile(
        conditions=bench.conditions,
        ride=bench.ride,
        shock=replace(shock, leverage=((0.0, 1.0), (_LONGEST_M, 1.0))),
        found=Found(readings=tuple(readings[number] for number in own)) if own else None,
        guessed=bench.guessed,
        change=Change(shock=asked) if asked is not None else None,
        doubts=tuple(_its_doubts(bench.doubts, own)),
        written=bench.written,
    )


def _its_doubts(doubts: tuple[Doubt, ...], readings: list[int]) -> list[Doubt]:
    """How far its own values may be off; of the readings that are left by their new numbers."""
    found = [off for off in doubts if off.key.startswith(_ITS_KEYS)]
    for now, was in enumerate(readings):
        place = f"found.reading.{was}."
        found += [
            replace(off, key=off.key.replace(place, f"found.reading.{now}."))
            for off in doubts
            if off.key.startswith(place)
        ]
    return found
