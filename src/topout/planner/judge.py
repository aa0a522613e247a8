"""Whether an answer passes: the band of a number from its evidence, the plan, earlier readings and the gauge."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from topout.errors import TopoutError
from topout.planner.variables import value_of
from topout.procedures.model import Bound, Evidence, Tolerance
from topout.procedures.service import FIELDS
from topout.units import to_si

MOST_CLASS_PERCENT: Final = 4.0  # the widest class that EN 837-1 has; a gauge beyond it judges nothing
WIDEST_OF_NOTHING_PA: Final = to_si(
    5, "psi", "pressure"
)  # marks by which nothing is told from a charge; ours, no source
MOST_OFF_SHARE: Final = 1 / 3  # of a pressure that a gauge may be off by and still say that it is set; ours, no source
SLACK: Final = 1e-9  # relative: 7.4 mm is inside 7.2 mm ± 0.2 mm, whatever binary fractions say


@dataclass(frozen=True, slots=True)
class Gauge:
    """What a gauge can tell: its mark and span [Pa], and its class in per cent of the span (EN 837-1)."""

    mark_pa: float
    span_pa: float
    class_percent: float

    def as_fine_as(self, other: Gauge) -> bool:
        """Whether it can tell at least as much as another: neither its mark nor its class of the span is wider [Pa].

        other [SI] (one) a mark above 0 → [-] (one). Raises nothing. Source: common practice, no source.
        """
        return self.mark_pa <= other.mark_pa * (1 + SLACK) and self.error_pa(0) <= other.error_pa(0) * (1 + SLACK)

    def error_pa(self, marks: float) -> float:
        """So many marks plus the class of the span [Pa].

        marks [1] (one) 0 and more → [Pa] (one). Raises nothing. Source: EN 837-1, class in per cent of span.
        """
        return marks * self.mark_pa + self.class_percent / 100 * self.span_pa

    def tells(self, pressure_pa: float, marks: float) -> bool:
        """Whether so many marks and its class leave anything told of a gauge pressure [Pa]: by marks of 30 psi 15 psi pass for 70.

        pressure_pa [Pa] (one) any; marks [1] (one) 0 and more → [-] (one). Raises nothing. Source: common practice, no source.
        """
        return self.error_pa(marks) <= MOST_OFF_SHARE * pressure_pa * (1 + SLACK)


class NotKnown(TopoutError):
    """A band needs a number that is not there yet; `what` names it."""

    def __init__(self, what: str) -> None:
        self.what = what
        super().__init__(what)

    def __str__(self) -> str:
        return f"{self.what} is not known yet, so this can’t be judged."


@dataclass(frozen=True, slots=True)
class Band:
    """The span that passes, both ends in it, and its middle where something is expected; SI, None for open."""

    expect_si: float | None
    low_si: float | None
    high_si: float | None

    def holds(self, value_si: float) -> bool:
        """Whether a reading lies in the band.

        value_si [SI] (one) any → [-] (one). Raises nothing. Source: procedures.md.
        """
        if not math.isfinite(value_si):
            return False
        slack = SLACK * max(1e-3, *(abs(end) for end in (value_si, self.low_si or 0.0, self.high_si or 0.0)))
        if self.low_si is not None and value_si < self.low_si - slack:
            return False
        return self.high_si is None or value_si <= self.high_si + slack

    @property
    def bounded(self) -> bool:
        """Whether anything can fail.

        nothing → [-] (one). Raises nothing. Source: procedures.md.
        """
        return self.low_si is not None or self.high_si is not None


def band(evidence: Evidence, found: Mapping[str, float | None], gauge: Gauge | None = None) -> Band:
    """The band of a number; raises NotKnown where a name it uses, or the gauge, is missing.

    `found` holds names and, by their field, the service data that the Book has [SI]: known, a field is what is expected.

    evidence [SI] (one) a number's; found [SI] (any) by name, None where not known; gauge [SI] (one) or None → [SI]
    (one). Raises NotKnown where a name it uses, or the gauge, is missing. Source: procedures.md.
    """
    expect = _end(evidence.expect, found)
    known = found.get(evidence.service) if evidence.service else None
    if known is not None:
        off = FIELDS[evidence.service].off * abs(known)
        if evidence.below is None and evidence.above is None:
            return Band(known, known - off, known + off)
        expect = known
    lows = [_end(evidence.low, found)]
    highs = [_end(evidence.high, found)]
    if expect is not None:
        lows.append(None if evidence.below is None else expect - _distance(evidence.below, expect, gauge))
        highs.append(None if evidence.above is None else expect + _distance(evidence.above, expect, gauge))
        lows[-1], highs[-1] = _on_one_gauge(evidence, expect, lows[-1], highs[-1], found, gauge)
    low = max((end for end in lows if end is not None), default=None)
    high = min((end for end in highs if end is not None), default=None)
    return Band(expect, low, high)


def _on_one_gauge(
    evidence: Evidence, expect: float, low: float | None, high: float | None, found: Mapping[str, float | None],
    gauge: Gauge | None,
) -> tuple[float | None, float | None]:  # fmt: skip
    """The band of a reading after a stroke, which is a drop from the pressure pumped to on the same gauge just before.

    Zero and gain of the gauge are in both readings and fall out, so its class does not count, only its marks. And a
    drop is a drop: at least half of what is expected must be gone (ours, no source), or a port that is blocked passes.
    """
    pumped = found.get("round_pressure")
    if evidence.expect is None or evidence.expect.name != "round_reading" or pumped is None or gauge is None:
        return low, high
    if evidence.below is not None and evidence.below.kind == "gauge":
        low = expect - evidence.below.value * gauge.mark_pa
    if evidence.above is not None and evidence.above.kind == "gauge":
        high = expect + evidence.above.value * gauge.mark_pa
    if pumped - expect < gauge.mark_pa:  # less than the gauge can show
        return low, high
    half = expect + (pumped - expect) / 2
    return low, half if high is None else min(high, half)


def _end(bound: Bound | None, found: Mapping[str, float | None]) -> float | None:
    if bound is None:
        return None
    value = value_of(bound, found)
    if value is None:
        raise NotKnown((bound.name or "").replace("_", " "))
    return value


def _distance(tolerance: Tolerance, expect: float, gauge: Gauge | None) -> float:
    if tolerance.kind == "quantity":
        return tolerance.value
    if tolerance.kind == "share":
        return tolerance.value * abs(expect)
    if gauge is None:
        raise NotKnown("the gauge")
    return tolerance.value * gauge.mark_pa if tolerance.kind == "drop" else gauge.error_pa(tolerance.value)
