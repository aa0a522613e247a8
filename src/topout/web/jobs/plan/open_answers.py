"""What is not known exactly, on the plan page: each answer with its limits, what it rests on, what one reading would leave."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from topout.bench_file.model import BenchFile
from topout.documents import band_charts, charts
from topout.units import from_si
from topout.web.access import preferences
from topout.web.jobs.core import figures
from topout.web.jobs.core.figures import Answered, Between, Bounds, KeepTo, Leaves, NotYet, Usual


@dataclass(frozen=True)
class OpenAnswers:
    """A plan that was told from draws: what it leaves open, worked out when a template asks for it."""

    file: BenchFile = field(repr=False)
    draws: Answered = field(repr=False)
    pressure_unit: str
    sizes: dict[str, int]

    @property
    def bounds(self) -> Bounds:
        return self.draws.bounds

    @cached_property
    def firm(self) -> NotYet | None:
        """How firm the end is, where that is not known yet."""
        return figures.open_to.end(self.bounds, preferences.system())

    @cached_property
    def between(self) -> list[Between]:
        """Each answer with its limits, but for the pressures: those stand with what they keep, in front and behind."""
        return [one for one in figures.open_to.between(self.bounds, preferences.system()) if not one.to_set]

    @cached_property
    def keeps(self) -> list[KeepTo]:
        """What to set, to keep one thing as it was, each with its limits; none where all of them are exact."""
        if not any(place[0] == "keep" for place in self.bounds.of):
            return []
        air = self.file.fork.air if self.file.fork is not None else None
        limit_pa = air.pressure_limit_gauge_pa if air is not None else None
        return figures.open_to.keeps(self.draws.said, self.pressure_unit, limit_pa)

    @cached_property
    def usual(self) -> list[Usual]:
        """What was drawn, the largest doubt first."""
        fork = self.file.fork
        if fork is None or fork.stanchion_m is None:
            return []
        return figures.usual.drawn(self.bounds, fork.stanchion_m, preferences.system())

    @cached_property
    def leaves(self) -> tuple[Leaves, ...]:
        """What each reading of the gauge would leave of the end; none where the end is known, or no reading is proposed."""
        reading = self.firm.reading if self.firm is not None else None
        if reading is None or reading.travel_m is None or reading.start_pa is None:
            return ()
        return figures.held_in.leaves(self.draws.made, self.draws.end_force_n[1], reading.travel_m, reading.start_pa)

    @cached_property
    def svgs(self) -> tuple[str, ...]:
        """The same as pictures."""
        if not self.leaves or self.firm is None or self.firm.reading is None:
            return ()
        now, at_m = self.bounds.answers["end-force"], self.firm.reading.travel_m or 0.0
        return tuple(
            band_charts.readings(
                now, self.leaves, at_m, self.pressure_unit, charts.room(px), f"leaves{cls}", cls, preferences.system()
            ).svg()
            for cls, px in self.sizes.items()
        )

    @property
    def leaves_rows(self) -> list[tuple[str, str, str, str]]:
        """The picture's values: what the gauge shows; the middle, the least and the most of the end."""
        system, rows = preferences.system(), []
        for one in self.leaves:
            middle, low, high = figures.open_state.limits(one.end_n, "force", "N", system)
            rows.append((f"{round(from_si(one.shows_pa, self.pressure_unit, 'pressure'), 2):g}", middle, low, high))
        return rows
