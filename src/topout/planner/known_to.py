"""How far a plan is known: each number's limits, what its doubt hangs on, and the reading that would settle it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from topout.uncertainty.intervals import Interval
from topout.units import PSI_PA

# Up to these half-widths a number stands in a sentence as one figure (physics.md 12).
MOST_PRESSURE_PA: Final = 3.0 * PSI_PA
MOST_SAG_M: Final = 0.003
MOST_SAG_SHARE: Final = 0.02  # ours: 3 mm of 150
MOST_OF_A_FORCE: Final = 0.08
MOST_ANGLE_DEG: Final = 0.3
_ANSWERS: Final = {
    "keep-sag": ("keep", "sag", "pressure_pa"), "keep-sag-share": ("keep", "sag-share", "pressure_pa"),
    "sag": ("after", "sag", "front", "travel_m"), "end-force": ("after", "end_force_n"),
}  # fmt: skip
_SAGS: Final = ("travel_m", "shown_m", "low_m", "high_m")


@dataclass(frozen=True, slots=True)
class Next:
    """A reading that could be taken: its kind, the travel it is taken at, and the half-width of each answer after it."""

    kind: str
    travel_m: float | None
    half_width: dict[str, float]
    hold_n: float | None = None  # what it takes to hold the fork there, on the high side
    shows_pa: float | None = None  # what the gauge is expected to show there, on the high side [Pa gauge]
    start_pa: float | None = None  # what it is begun from at full extension [Pa gauge]


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the draws say of one plan. `of` holds an interval for each number, by its place in the plan's JSON."""

    of: Mapping[tuple[str, ...], Interval]
    draws: int
    effective: float
    seed: int
    assumed: tuple[str, ...]
    redrawn: tuple[tuple[str, float], ...]  # keys of which more than 1 % of the draws were not allowed, and their share
    depends_on: Mapping[str, list[tuple[str, float]]]
    next: tuple[Next, ...]

    @property
    def answers(self) -> dict[str, Interval]:
        """The four answers that a reading is chosen by, those that are not exact.

        nothing → [SI] (4) at most, by name. Raises nothing. Source: bench-file.md.
        """
        return {name: self.of[place] for name, place in _ANSWERS.items() if place in self.of}

    def beside(self, exact: dict[str, Any]) -> dict[str, Any]:
        """A plan's JSON with the standard uncertainty and the 95 % limits beside each number that is not exact.

        exact [SI] (one) as bench-file.md has it → [SI] (one) the same, widened. Raises nothing. Source: bench-file.md.
        """
        wide: dict[str, Any] = _copied(exact)
        for place, found in self.of.items():
            here: Any = wide
            for word in place[:-1]:
                here = here.get(word) if isinstance(here, dict) else None
            key = place[-1]
            if not isinstance(here, dict) or here.get(key) is None:
                continue
            if place[0] == "difference":
                here[key] = found.median
            here[f"{key}_u"], here[f"{key}_low95"], here[f"{key}_high95"] = found.standard, found.low95, found.high95
        return wide | {"drawn": self.as_json()}

    @classmethod
    def of_results(cls, results: Mapping[str, Any]) -> Bounds | None:
        """The limits that a plan's JSON holds beside its numbers; None where nothing was drawn for it.

        results [SI] (one) as bench-file.md has it → [SI] (one) or None. Raises nothing. Source: bench-file.md.
        """
        said = results.get("drawn")
        if not said:
            return None
        return cls(
            dict(_limits(results, ())),
            said["draws"],
            said["effective"],
            said["seed"],
            tuple(said["assumed"]),
            tuple((one["key"], one["share"]) for one in said["redrawn"]),
            {name: [(one["key"], one["share"]) for one in keys] for name, keys in said["depends_on"].items()},
            tuple(Next(n["kind"], n["travel_m"], n["half_width"]) for n in said["next"]),
        )

    def worth_saying(self, results: dict[str, Any]) -> dict[str, Any]:
        """A plan's JSON without the numbers of its states that are not known well enough to be said as one figure.

        results [SI] (one) as bench-file.md has it → [SI] (one) None for those. Raises nothing. Source: physics.md 12.
        """
        said: dict[str, Any] = _copied(results)
        for place, found in self.of.items():
            key = place[-1]
            if place[0] in ("before", "after") and found.half_width > _most(key, found.median):
                here: Any = said
                for word in place[:-1]:
                    here = here.get(word) if isinstance(here, dict) else None
                if isinstance(here, dict) and key in here:
                    here[key] = None
        return said

    def as_json(self) -> dict[str, Any]:
        """The object `drawn` of the plan's JSON.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        return {
            "draws": self.draws, "effective": round(self.effective, 1), "seed": self.seed, "assumed": list(self.assumed),
            "depends_on": {
                name: [{"key": key, "share": round(share, 3)} for key, share in keys] for name, keys in self.depends_on.items()
            },
            "redrawn": [{"key": key, "share": round(share, 3)} for key, share in self.redrawn],
            "next": [{"kind": n.kind, "travel_m": n.travel_m, "half_width": n.half_width} for n in self.next],
        }  # fmt: skip


def _limits(tree: Mapping[str, Any], place: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Interval]]:
    """Each number of a plan's JSON that has its limits beside it, by its place."""
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _limits(value, (*place, key))
        elif f"{key}_low95" in tree and value is not None:
            yield (*place, key), Interval(value, tree[f"{key}_low95"], tree[f"{key}_high95"], tree[f"{key}_u"])


def _most(key: str, median: float) -> float:
    """The half-width up to which a number is said as one figure."""
    if key.endswith("_n"):
        return MOST_OF_A_FORCE * abs(median)
    if key.endswith("_deg"):
        return MOST_ANGLE_DEG
    if key == "share":
        return MOST_SAG_SHARE
    return MOST_SAG_M if key in _SAGS else float("inf")


def _copied(tree: Any) -> Any:
    """Plain tables and lists once more, to write into."""
    if isinstance(tree, dict):
        return {key: _copied(value) for key, value in tree.items()}
    return [_copied(value) for value in tree] if isinstance(tree, list) else tree
