"""What may be asked for, and the ways to it: a sag, a force at the end of the travel, a figure of the stance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from topout.planner.results import Default
from topout.uncertainty import intervals
from topout.uncertainty.intervals import Interval

INSIDE_TRAVEL: Final = "a sag lies inside the travel. Ask for less."
INSIDE_STROKE: Final = "a sag lies inside the shock’s stroke. Ask for less."
BY_PRESSURE: Final = "pressure"
BY_SPACERS: Final = "spacers"
BY_RATE: Final = "rate"
BY_PRELOAD: Final = "preload"


@dataclass(frozen=True, slots=True)
class Neutral:
    """The fork length [m] that keeps one figure of the unloaded stance, and the nearest travel [m]; None where none does."""

    fork_length_m: float | None
    travel_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked for; any of these, None for what is not."""

    sag_m: float | None = None
    sag_share: float | None = None
    end_force_n: float | None = None
    end_force_more_n: float | None = None  # against the bike as it is
    head_angle_rad: float | None = None  # these three with the fork at full extension
    trail_m: float | None = None
    bb_height_m: float | None = None
    rear_sag_m: float | None = None  # of the shock's stroke
    rear_share: float | None = None  # of it, too

    @property
    def at_rear(self) -> bool:
        """Whether anything is asked of the rear shock.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.rear_sag_m is not None or self.rear_share is not None

    @property
    def stance(self) -> dict[str, float]:
        """What is asked of the stance, by the names that the options use.

        nothing → [SI] (3) at most, by name. Raises nothing. Source: none needed, bookkeeping.
        """
        asked = {"head-angle": self.head_angle_rad, "trail": self.trail_m, "bb-height": self.bb_height_m}
        return {name: value for name, value in asked.items() if value is not None}

    @property
    def of_spring(self) -> bool:
        """Whether anything is asked of the spring.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return any(each is not None for each in (self.sag_m, self.sag_share, self.end_force_n, self.end_force_more_n))


@dataclass(frozen=True, slots=True)
class Way:
    """One way to what is asked, and the sag [m] and end force [N] that it gives.

    On air the spacers and the gauge pressure to set [Pa], `over` where that lies above the maker's limit; on a coil its
    rate [N/m] as it is wound up, or its preload [m].
    """

    by: str
    spacers: int | None
    pressure_gauge_pa: Interval | None
    rate_n_per_m: Interval | None
    preload_m: Interval | None
    sag_m: Interval | None
    share: Interval | None
    end_force_n: Interval | None
    over: bool


@dataclass(frozen=True, slots=True)
class Target:
    """One thing asked for, the value wanted [SI], and the ways to it, best first; none where nothing within range does it."""

    asked: str
    wanted: Interval | None
    ways: tuple[Way, ...]

    @property
    def met(self) -> bool:
        """Whether the first way gives what is asked for: other spacers at the same sag only come near it.

        nothing → [-] (one) yes or no. Raises nothing. Source: none needed, bookkeeping.
        """
        return bool(self.ways) and self.ways[0].by != BY_SPACERS


@dataclass(frozen=True, slots=True)
class StanceTarget:
    """A figure of the stance asked for [SI], the fork length [m] that gives it, and the nearest travel [m] that exists.

    `limit_m` is the frame maker's, where that length lies above it.
    """

    asked: str
    wanted: float
    fork: Neutral
    limit_m: float | None


@dataclass(frozen=True, slots=True)
class RearTarget:
    """A sag asked for at the shock: stroke used [m] and its share, the wheel travel there [m] and its share, and what does it.

    The can's gauge pressure [Pa]; or the coil's rate [N/m] as it is wound up, and the preload [m] of the coil that is there;
    None where none in range does. The wheel's force at the end [N], on a coil of that rate. `limit_gauge_pa` is the maker's, where the pressure lies above it.
    """

    stroke_m: Interval | None
    share_of_stroke: Interval | None
    wheel_m: Interval | None
    share_of_wheel_travel: Interval | None
    pressure_gauge_pa: Interval | None
    rate_n_per_m: Interval | None
    wheel_end_force_n: Interval | None
    limit_gauge_pa: float | None
    preload_m: Interval | None = None


@dataclass(frozen=True, slots=True)
class Targets:
    """The answers to everything that was asked."""

    targets: tuple[Target, ...]
    stance: tuple[StanceTarget, ...]
    limit_gauge_pa: float | None
    drawn: bool
    rear: tuple[RearTarget, ...] = ()
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on
    by_stroke: bool = False  # the rear of a shock whose frame's leverage is not known: nothing is told of the wheel

    def as_json(self) -> dict[str, Any]:
        """The object that `topout target --json` prints.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        rows = [(each, way) for each in self.targets for way in each.ways or (None,)]
        return {
            "ways": [
                {"asked": each.asked, **self._number("wanted", each.wanted), **self._way(way)} for each, way in rows
            ],
            "stance": {
                each.asked: {
                    "wanted": each.wanted,
                    "fork_length_m": each.fork.fork_length_m,
                    "travel_m": each.fork.travel_m,
                    "over_limit": each.limit_m is not None,
                }
                for each in self.stance
            },
            "rear": [self._rear(each) for each in self.rear],
            "by_stroke": self.by_stroke,
            "defaults": [each.as_json() for each in self.defaults],
        }

    def _way(self, way: Way | None) -> dict[str, Any]:
        """A way's numbers, all of them null where none does it."""
        if way is None:
            names = (
                "by", "spacers", "over_limit", "pressure_pa", "rate_n_per_m", "preload_m", "travel_m", "share", "end_force_n",
            )  # fmt: skip
            return dict.fromkeys(names)
        return {
            "by": way.by, "spacers": way.spacers, "over_limit": way.over,
            **self._number("pressure_pa", way.pressure_gauge_pa), **self._number("rate_n_per_m", way.rate_n_per_m),
            **self._number("preload_m", way.preload_m), **self._number("travel_m", way.sag_m),
            **self._number("share", way.share), **self._number("end_force_n", way.end_force_n),
        }  # fmt: skip

    def _rear(self, each: RearTarget) -> dict[str, Any]:
        return {
            **self._number("stroke_m", each.stroke_m), **self._number("share_of_stroke", each.share_of_stroke),
            **self._number("travel_m", each.wheel_m), **self._number("share_of_wheel_travel", each.share_of_wheel_travel),
            **self._number("pressure_pa", each.pressure_gauge_pa), **self._number("rate_n_per_m", each.rate_n_per_m),
            **self._number("preload_m", each.preload_m),
            **self._number("wheel_end_force_n", each.wheel_end_force_n), "over_limit": each.limit_gauge_pa is not None,
        }  # fmt: skip

    def _number(self, name: str, told: Interval | None) -> dict[str, float | None]:
        return intervals.as_json(name, told, exact=not self.drawn)
