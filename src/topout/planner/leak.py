"""The leak hold: readings of pressure, temperature and time, judged with what the gauge can tell.

Every reading is taken to the first one's temperature at constant volume. The verdict is `holds`, `leaks`, or `not yet`
with the time from which the hold can be told, if nothing more is lost till then. A hold can't be finer than the gauge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from topout.physics.gas import warmed_gauge_pa

# What may be lost of the gauge pressure: 1 % in the first half hour, growing evenly to 2 %, which no night may pass.
# Common practice, no source.
SHORT_S: Final = 30 * 60.0
SHORT_SHARE: Final = 0.01
LONG_SHARE: Final = 0.02
LONG_S: Final = SHORT_S * LONG_SHARE / SHORT_SHARE
# From a night on, one mark lost on the gauge is what the gauge can't tell from none.
NIGHT_S: Final = 8 * 3600.0
TEMPERATURE_U_K: Final = 0.5  # standard uncertainty of the gas's temperature against the first reading's
SLACK: Final = 1e-9  # a mark lost is a mark, whatever binary fractions say
COVERS: Final = 1.96  # standard uncertainties in 95 % of a normal distribution

Verdict = Literal["holds", "leaks", "not yet"]


@dataclass(frozen=True, slots=True)
class Held:
    """One reading of a hold: seconds since the first [s], gauge pressure [Pa], temperature [K]."""

    time_s: float
    pressure_gauge_pa: float
    temperature_k: float


@dataclass(frozen=True, slots=True)
class Leak:
    """What a hold says. Gauge pressures [Pa] at the first reading's temperature.

    `lost_pa` is what was lost, known to ± `known_to_pa` (a mark, and 95 % of what the temperature may be off), `allowed_pa` what may be lost by now; `expected_pa` is
    what the gauge would show now with nothing lost, at the last reading's temperature. `tell_at_s` is the time since
    the first reading from which the loss as it stands can be told to hold; None where that is past, or never comes.
    """

    verdict: Verdict
    lost_pa: float
    known_to_pa: float
    allowed_pa: float
    expected_pa: float
    tell_at_s: float | None


def allowed_share(time_s: float) -> float:
    """The share of the gauge pressure that may be lost after so long [s]; common practice, no source.

    time_s [s] (one) 0 and more → [1] (one). Raises nothing. Source: common practice, no source.
    """
    return LONG_SHARE * min(max(time_s, 0.0) / LONG_S, 1.0)


def judge(readings: Sequence[Held], mark_pa: float, ambient_abs_pa: float) -> Leak:
    """Judge a hold by its first and last reading; `mark_pa` is one mark of the gauge [Pa], the same gauge throughout.

    p₁·T₂/T₁ in absolute pressures takes a reading to another temperature (any thermodynamics textbook). Each reading is
    rounded to a mark, so their difference is off by one mark at most; zero and gain of the gauge are common to both and
    fall out of it, so its class does not count. Raises ValueError for fewer than two readings, readings out of order, or a
    value that is not above absolute zero.

    readings [SI] (2 and more) in the order of time; mark_pa [Pa] (one) above 0; ambient_abs_pa [Pa abs] (one) above 0 →
    [SI] (one). Raises ValueError at fewer readings, another order, a mark or temperature not above 0. Source:
    physics.md 1; limits common practice, no source.
    """
    if len(readings) < 2:
        raise ValueError("a hold needs a first and a last reading")
    times = [each.time_s for each in readings]
    if any(later < earlier for earlier, later in zip(times, times[1:], strict=False)):
        raise ValueError("readings of a hold are in the order of time")
    first, last = readings[0], readings[-1]
    if min(first.temperature_k, last.temperature_k) <= 0.0 or not mark_pa > 0.0:
        raise ValueError("temperatures are absolute, a mark is above 0")
    time_s = last.time_s - first.time_s
    expected = float(warmed_gauge_pa(first.pressure_gauge_pa, first.temperature_k, last.temperature_k, ambient_abs_pa))
    now = float(warmed_gauge_pa(last.pressure_gauge_pa, last.temperature_k, first.temperature_k, ambient_abs_pa))
    lost = first.pressure_gauge_pa - now
    warmth = COVERS * TEMPERATURE_U_K * (first.pressure_gauge_pa + ambient_abs_pa) / first.temperature_k
    known_to = math.hypot(mark_pa, warmth)
    allowed = first.pressure_gauge_pa * allowed_share(time_s)
    whole_night = time_s >= NIGHT_S
    if lost - known_to > allowed:
        verdict: Verdict = "leaks"
    elif time_s >= SHORT_S and lost + known_to <= allowed or whole_night and lost <= mark_pa * (1 + SLACK):
        verdict = "holds"
    elif whole_night:
        verdict = "leaks"  # more than a mark is gone overnight, and no longer wait would make it less
    else:
        verdict = "not yet"
    return Leak(verdict, lost, known_to, allowed, expected, _tell_at(verdict, lost + known_to, lost, mark_pa, first))


def _tell_at(verdict: Verdict, worst_pa: float, lost_pa: float, mark_pa: float, first: Held) -> float | None:
    """When the loss as it stands can be told to hold [s]; None where it is told, or where no wait will tell."""
    if verdict != "not yet":
        return None
    if first.pressure_gauge_pa > 0.0 and worst_pa <= LONG_SHARE * first.pressure_gauge_pa:
        return max(SHORT_S, LONG_S * worst_pa / (LONG_SHARE * first.pressure_gauge_pa))
    return NIGHT_S if lost_pa <= mark_pa * (1 + SLACK) else None
