"""What a file leaves out of a unit whose outside it gives, and whether that is drawn: one rule for a fork's stanchions and a shock's can."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from topout.bench_file import guesses
from topout.bench_file.model import Air, BenchFile
from topout.planner import missing, typical, typical_can

_BUMPER: Final = {"length": "length_m", "rate": "rate_n_per_m", "power": "power"}


@dataclass(frozen=True, slots=True)
class Drawn:
    """Where what may be left out of one kind of unit stands: its table, its outside's column, tables drawn whole (key → column)."""

    noun: str
    outside: str
    parts: Mapping[str, Mapping[str, str]]
    may_be: tuple[str, ...]
    lacking: Callable[[BenchFile], list[str]]

    @property
    def places(self) -> dict[str, str]:
        """The keys of its air that may be drawn, each with its column.

        nothing → [-] (6) words by key. Raises nothing. Source: none needed, bookkeeping.
        """
        return {f"{self.noun}.air.{word}": column for word, column in guesses.WORDS.items()}

    def given(self, unit: Any) -> dict[str, float]:
        """What a file says of what may be left out, by the words of the file.

        unit [SI] (one) its table as read → [SI] (any) by key. Raises nothing. Source: bench-file.md.
        """
        air = unit.air or Air()
        found = {word: getattr(air, column) for word, column in self.places.items()}
        found[f"{self.noun}.friction"] = unit.friction_n
        for name, columns in self.parts.items():
            table = getattr(unit, name)
            if table is not None:
                found |= {f"{self.noun}.{name}.{word}": getattr(table, column) for word, column in columns.items()}
        return {word: value for word, value in found.items() if value is not None}

    def left_out(self, unit: Any) -> list[str]:
        """The keys that are drawn where anything is; a spacer's volume only where spacers are fitted.

        unit [SI] (one) its table as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
        """
        given, air = self.given(unit), unit.air or Air()
        needless = {
            f"{self.noun}.air.spacer_volume": not air.spacers,
            f"{self.noun}.air.negative_volume": air.negative not in ("self-equalising", "separate-valve"),
            f"{self.noun}.air.port_position": air.negative != "self-equalising",
        }
        asked = [word for word in self.may_be if not any(each.startswith(word) for each in given)]
        return [word for word in asked if not needless.get(word, False)]

    def left_open(self, bench: BenchFile) -> list[str]:
        """The keys that are drawn from what such units usually are; none where the outside is not given, or more than that lacks.

        bench [SI] (one) as read → [-] (any) keys, "fork.air.bore". Raises nothing. Source: bench-file.md.
        """
        unit = getattr(bench, self.noun)
        if unit is None or unit.coil is not None or getattr(unit, self.outside) is None:
            return []
        drawn_for = {missing.place_of(word) for word in self.may_be}
        return self.left_out(unit) if all(place in drawn_for for place in self.lacking(bench)) else []


LEGS: Final = {"air_volume": "air_volume_m3", "area": "area_m2"}
FORK: Final = Drawn("fork", "stanchion_m", {"lower_legs": LEGS, "bumper": _BUMPER}, tuple(typical.MAY_BE_LEFT_OUT), missing.for_spring)  # fmt: skip
DAMPER: Final = {"rod": "rod_m", "gas_pressure": "gas_pressure_gauge_pa", "gas_volume": "gas_volume_m3"}
SHOCK: Final = Drawn("shock", "body_m", {"damper": DAMPER, "bumper": _BUMPER}, tuple(typical_can.MAY_BE_LEFT_OUT), missing.for_shock)  # fmt: skip
