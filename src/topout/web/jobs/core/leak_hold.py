"""A leak hold's readings as a signed entry keeps them, judged by the planner; judged anew where one was corrected.

What is kept is whole: first and last reading, each with its time, its temperature and its row, the gauge and its mark.
So the verdict of any entry follows from that entry and from the corrections on the card, over a night and a restart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final

from topout.planner.leak import Held, Leak, judge
from topout.planner.plan_numbers import PlanNumbers
from topout.planner.variables import ambient_abs_pa
from topout.procedures import words
from topout.units import to_si
from topout.web.access import preferences
from topout.web.jobs.records.models import Reading

NOT_YET: Final = "not-yet"  # verdict of an entry whose readings are kept and can't be told yet
_FINE_PA = to_si(0.95, "psi", "pressure")  # a gauge marked finer shows tenths


@dataclass(frozen=True)
class Kept:
    """One reading of a hold: when, gauge pressure [Pa], temperature [K], and the rows of both where they are readings."""

    at: datetime
    pressure_gauge_pa: float
    temperature_k: float
    pressure: int | None = None
    temperature: int | None = None

    @classmethod
    def of(cls, row: Mapping[str, Any]) -> Kept:
        """As an entry keeps it."""
        return cls(datetime.fromisoformat(row["at"]), *(row[key] for key in _KEPT))

    def row(self) -> dict[str, Any]:
        """As an entry keeps it."""
        return {"at": self.at.isoformat()} | {key: getattr(self, key) for key in _KEPT}


_KEPT = ("pressure_gauge_pa", "temperature_k", "pressure", "temperature")


@dataclass(frozen=True)
class Hold:
    """First and last reading on one gauge, what they say, and since when it is told: `tell_at` None where no wait tells.

    `anew` says why the hold starts with its last reading: "gauge" another one was used, "rise" it showed more than it can.
    `by_clock` says that the machine was started anew meanwhile: how long it held is known by its clock alone.
    """

    first: Kept
    last: Kept
    gauge: str
    unit: str
    mark_pa: float
    ambient_abs_pa: float
    leak: Leak
    anew: str = ""
    by_clock: bool = False

    def with_rows(self, pressure: int, temperature: int) -> Hold:
        """The same, once its last reading has its rows."""
        last = replace(self.last, pressure=pressure, temperature=temperature)
        return replace(self, first=last if self.anew else self.first, last=last)

    @property
    def verdict(self) -> str:
        """holds, leaks, not yet."""
        return "not yet" if self.anew else self.leak.verdict

    @property
    def tell_at(self) -> datetime | None:
        """From when it can be told, on a whole minute; None where it is told, or no wait tells that it holds."""
        if self.leak.tell_at_s is None:
            return None
        return _whole_minute(self.first.at + timedelta(seconds=self.leak.tell_at_s))

    def row(self) -> dict[str, Any]:
        """As an entry keeps it."""
        return {
            "first": self.first.row(), "last": self.last.row(), "gauge": self.gauge, "unit": self.unit,
            "mark_pa": self.mark_pa, "ambient_abs_pa": self.ambient_abs_pa, "anew": self.anew, "verdict": self.verdict,
            "by_clock": self.by_clock, "says": self.says,
        }  # fmt: skip

    @property
    def says(self) -> str:
        """The verdict in words, without the time from which it can be told: that is the page's."""
        told = self.by_clock and self.verdict in ("holds", "leaks")
        alone = " The machine was started anew meanwhile: the time is by its clock alone." if told else ""
        return f"{self._verdict_said}{alone}"

    @property
    def _verdict_said(self) -> str:
        took = _took((self.last.at - self.first.at).total_seconds())
        if self.anew == "gauge":
            return f"Another gauge, {self.gauge}: the hold starts anew with this reading."
        if self.anew == "rise":
            return "It shows more than was in it: air went in, or it was read wrong. The hold starts anew with this reading."
        if self.leak.verdict == "leaks":
            return f"It leaks: {self._lost} in {took} at the same temperature."
        if self.leak.verdict == "holds":
            lost = (
                "nothing lost" if self.leak.lost_pa <= self.mark_pa / 2 else f"{self._lost} lost, no more than may be,"
            )
            return f"It holds: {lost} in {took}. At the same temperature, as far as gauge {self.gauge} can tell."
        if self.leak.tell_at_s is None:
            return (
                f"Can’t tell for certain with this gauge: {self._lost} in {took} at the same temperature. No wait will show "
                "that it holds. Look for the leak, or read it on a finer gauge."
            )
        return "Can’t tell yet with this gauge."

    @property
    def expects(self) -> str:
        """What the gauge would show at the last temperature with nothing lost."""
        at = words.quantity(self.last.temperature_k, "temperature", preferences.unit("temperature", "degC"))
        return f"At {at} it shows {self._said(self.leak.expected_pa, 1)} with nothing lost."

    @property
    def _lost(self) -> str:
        return self._said(self.leak.lost_pa, 1 if self.mark_pa < _FINE_PA else 0)

    def _said(self, pressure_pa: float, decimals: int) -> str:
        """A pressure in the gauge's unit; `decimals` are those of psi."""
        places = {"psi": decimals, "kPa": 0}.get(self.unit, 2)
        return words.quantity(pressure_pa, "pressure", self.unit, places)


def hold(
    first: Kept,
    last: Kept,
    before: tuple[Kept, ...],
    gauges: tuple[str, str],
    unit: str,
    mark_pa: float,
    plan: PlanNumbers,
) -> Hold:
    """Judge a hold by its first and last reading; `before` are those between, `gauges` the first's and the last's.

    Another gauge, or a reading that shows more than was in it, starts the hold anew. Raises ValueError out of order.
    """
    ambient = ambient_abs_pa(plan)
    anew = ""
    if gauges[0] != gauges[1]:
        anew = "gauge"
    elif any(_rose(each, last, mark_pa, ambient) for each in (first, *before)):
        anew = "rise"
    start = last if anew else first
    return Hold(start, last, gauges[1], unit, mark_pa, ambient, _judge(start, last, mark_pa, ambient), anew)


def soonest(first: Kept, gauge: str, unit: str, mark_pa: float, plan: PlanNumbers) -> datetime | None:
    """From when a hold can be told on this gauge with nothing lost."""
    return hold(first, first, (), (gauge, gauge), unit, mark_pa, plan).tell_at


def again(row: Mapping[str, Any] | None, corrected: Mapping[int, Reading]) -> Hold | None:
    """A hold that was kept, with its corrections in place; None where a correction was read on another gauge."""
    if row is None:
        return None
    first, last = (standing(Kept.of(row[key]), row["gauge"], corrected) for key in ("first", "last"))
    if first is None or last is None:
        return None
    leak = _judge(first, last, row["mark_pa"], row["ambient_abs_pa"])
    return Hold(
        first,
        last,
        row["gauge"],
        row["unit"],
        row["mark_pa"],
        row["ambient_abs_pa"],
        leak,
        row["anew"],
        row.get("by_clock", False),
    )


def standing(kept: Kept, gauge: str, corrected: Mapping[int, Reading]) -> Kept | None:
    """A reading with its corrections in place; None where one was read on another gauge."""
    pressure, temperature = corrected.get(kept.pressure or 0), corrected.get(kept.temperature or 0)
    if pressure is not None and (pressure.instrument is None or pressure.instrument.code != gauge):
        return None
    return Kept(
        kept.at,
        kept.pressure_gauge_pa if pressure is None else pressure.value_si,
        kept.temperature_k if temperature is None else temperature.value_si,
        kept.pressure, kept.temperature,
    )  # fmt: skip


def _judge(first: Kept, last: Kept, mark_pa: float, ambient: float) -> Leak:
    seconds = (last.at - first.at).total_seconds()
    held = Held(0.0, first.pressure_gauge_pa, first.temperature_k)
    return judge([held, Held(seconds, last.pressure_gauge_pa, last.temperature_k)], mark_pa, ambient)


def _rose(before: Kept, last: Kept, mark_pa: float, ambient: float) -> bool:
    """Whether a later reading shows more than the gauge and the temperature may be off."""
    leak = _judge(before, last, mark_pa, ambient)
    return leak.lost_pa < -leak.known_to_pa


def _whole_minute(at: datetime) -> datetime:
    """The next whole minute, so that at the time that is said it can be told."""
    return at.replace(second=0, microsecond=0) + timedelta(minutes=1 if at.second or at.microsecond else 0)


def _took(seconds: float) -> str:
    minutes = math.floor(seconds / 60)
    if minutes < 120:
        return "1 minute" if minutes == 1 else f"{minutes} minutes"
    halves = math.floor(seconds / 1800)  # whole or half hours gone
    return f"{halves // 2}{'½' if halves % 2 else ''} hours"
