"""What lies on the shelf, `[[shelf]]` in a bench file: parts that a search may fit, each by what it gives.

A kind of part gives one thing, so each kind has its own `gives`: an air shaft its travel, a volume spacer its volume, a
tyre its height, a coil its rate, a stroke reducer what it takes off a shock's stroke. What is left out is not known, and
nothing is concluded from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from topout.bench_file.key import choice, count, number, quantity, text
from topout.bench_file.model import ABOVE_ZERO_ML, ENDS

KINDS: Final = ("air shaft", "volume spacer", "tyre", "coil", "stroke reducer")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part on the shelf, as measured."""

    kind: str = choice("kind", KINDS, "what it is; needed")
    length_m: float | None = quantity("length", "length", "mm", 0.1, 1000, "as measured")
    bore_m: float | None = quantity("bore", "length", "mm", 10, 80, "of the air tube that it fits")
    on_hand: int = count("on_hand", 0, 9999, "how many lie there", default=1)
    cost: float | None = number("cost", 0, 1_000_000, "of one, in the workshop's currency")
    waiting_days: int | None = count("waiting_days", 0, 999, "until more of it are there, where it can be had")
    marking: str | None = text("marking", "what is printed on it")
    family: str | None = text("family", "of the units that it fits")
    end: str | None = choice("end", ENDS, "the end of the bike that it is for, where neither bore nor family says it")


@dataclass(frozen=True, slots=True, kw_only=True)
class AirShaft(Part):
    """An air shaft, by the travel it gives."""

    gives_m: float | None = quantity("gives", "length", "mm", 20, 300, "the travel with it")


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeSpacer(Part):
    """A volume spacer, by the volume it takes."""

    gives_m3: float | None = quantity("gives", "volume", "ml", ABOVE_ZERO_ML, 3000, "the volume of one")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tyre(Part):
    """A tyre, by its height on the rim."""

    bore_m: float | None = quantity("bore", "length", "mm", 200, 700, "its bead seat")
    gives_m: float | None = quantity("gives", "length", "mm", 10, 150, "bead seat to tread")


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilSpring(Part):
    """A coil spring, by its rate."""

    gives_n_per_m: float | None = quantity("gives", "rate", "N/mm", 0.5, 500, "its rate, as marked or measured")
    bind_m: float | None = quantity(
        "bind", "length", "mm", 10, 360, "pressed in so far from its free length its coils touch"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeReducer(Part):
    """A stroke reducer of a rear shock, by what it takes off the stroke."""

    gives_m: float | None = quantity("gives", "length", "mm", 0.5, 60, "what it takes off the stroke")


TYPES: Final[dict[str, type[Part]]] = {
    "air shaft": AirShaft, "volume spacer": VolumeSpacer, "tyre": Tyre, "coil": CoilSpring,
    "stroke reducer": StrokeReducer,
}  # fmt: skip
SAMPLES: Final = {
    "kind": '"air shaft"', "gives": '"160 mm"', "length": '"342 mm"', "bore": '"34.6 mm"', "on_hand": "2", "cost": "118",
    "waiting_days": "4", "marking": '"S-160"', "family": '"Corrie 36"', "end": '"rear"', "bind": '"72 mm"',
}  # fmt: skip
GIVES: Final = {  # how `gives` is written, by kind
    "air shaft": '"160 mm"', "volume spacer": '"8.5 ml"', "tyre": '"58 mm"', "coil": '"8 N/mm"',
    "stroke reducer": '"2.5 mm"',
}  # fmt: skip
NEEDED: Final = ("kind", "gives")


def of_kind(raw: dict[str, Any]) -> type[Part]:
    """The dataclass that reads a part as TOML gives it; the common one where its kind is not known."""
    kind = raw.get("kind")
    return TYPES.get(kind, Part) if isinstance(kind, str) else Part


def sample(word: str, kind: Any = None) -> str:
    """How a key of a part is written: `gives = "160 mm"`."""
    own = GIVES.get(kind) if word == "gives" and isinstance(kind, str) else None
    return f"{word} = {own or SAMPLES[word]}"
