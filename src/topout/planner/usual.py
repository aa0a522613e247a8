"""What is drawn for what nobody knows, in words: the range of each, and what would tell it. The numbers are `typical`'s."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Final

from topout.planner import open_to, typical, typical_can
from topout.planner.known_to import Bounds
from topout.units import System


@dataclass(frozen=True, slots=True)
class Usual:
    """A thing that was drawn: what it is, the range as written, its share of an answer's doubt in %, what would tell it."""

    words: str
    span: str
    of_sag: int | None  # of the doubt of the pressure that keeps the sag
    of_end: int | None  # of the doubt of the bottom-out force
    told_by: str


_TOLD_BY: Final = {
    "fork.air.bore": "a caliper", "fork.air.shaft": "a caliper", "fork.air.positive_volume": "the reading far in",
    "fork.air.negative_volume": "the drop at the first stroke", "fork.air.port_position": "the drop at the first stroke",
    "fork.air.spacer_volume": "a syringe", "fork.friction": "three settles each way", "fork.lower_legs": "the maker’s sheet",
    "fork.bumper": "the maker’s sheet", "rider.front_share": "two scales",
    "shock.air.bore": "a caliper, can off", "shock.air.shaft": "a caliper, can off", "shock.air.positive_volume": "a syringe, can off",
    "shock.air.negative_volume": "a syringe, can off", "shock.air.port_position": "a look, can off", "shock.air.spacer_volume": "a syringe",
    "shock.friction": "three settles each way", "shock.damper": "the maker’s sheet", "shock.bumper": "the maker’s sheet",
}  # fmt: skip
# Under what names the share of an answer's doubt is kept, where they are others than the key.
_DRAWN_AS: Final = {
    "fork.lower_legs": ("fork.lower_legs.air_volume", "fork.lower_legs.area"),
    "fork.bumper": ("fork.bumper.length", "fork.bumper.rate"),
    "fork.friction": ("fork.friction", "found.settle"),
    "shock.damper": ("shock.damper.rod", "shock.damper.gas_pressure", "shock.damper.gas_volume"),
    "shock.bumper": ("shock.bumper.length", "shock.bumper.rate"),
    "shock.friction": ("shock.friction", "shock.settle"),
}  # fmt: skip


def drawn(of: Bounds, stanchion_m: float, system: System) -> list[Usual]:
    """Each thing that was drawn, those that bring most doubt first.

    of [SI] (one) what the draws say; stanchion_m [m] (one) above 0; system [-] (one) the units to say it in → [-] (any)
    as written. Raises nothing. Source: physics.md 12.
    """
    spans = _spans(stanchion_m, system)
    words = [word for word in of.assumed if not word.startswith("shock.")]
    return _rows(of, words, spans, ("keep-sag", "end-force"))


def drawn_behind(of: Bounds, body_m: float, system: System) -> list[Usual]:
    """The same of a rear shock, by the answers of the rear end.

    of [SI] (one) what the draws say; body_m [m] (one) its can's outside diameter; system [-] (one) the units to say it in →
    [-] (any) as written. Raises nothing. Source: physics.md 12; `typical_can`.
    """
    words = [word for word in of.assumed if not word.startswith("fork.")]
    return _rows(of, words, _spans_behind(body_m, system), ("rear-keep-sag", "rear-end-force"))


def _rows(of: Bounds, drawn_words: list[str], spans: dict[str, str], answers: tuple[str, str]) -> list[Usual]:
    found = []
    for word in drawn_words:
        sag, end = (_share(of, answer, word) for answer in answers)
        words = open_to.drawn_words(word).removeprefix("the ")
        if word.endswith(".air.positive_volume"):
            words = (
                f"compression ratio of {'the main chamber' if word.startswith('fork') else 'the shock’s main chamber'}"
            )
        found.append(Usual(words[:1].upper() + words[1:], spans.get(word, ""), sag, end, _TOLD_BY.get(word, "")))
    return sorted(found, key=lambda one: -max(one.of_sag or 0, one.of_end or 0))


def _share(of: Bounds, answer: str, word: str) -> int | None:
    names = _DRAWN_AS.get(word, (word,))
    shares = [share for name, share in of.depends_on.get(answer, []) if name in names]
    return round(100 * sum(shares)) if shares else None


def _span(system: System, low_high: tuple[float, float], dimension: str, unit: str, decimals: int | None = None) -> str:
    low, high = (system.show(v, dimension, unit, decimals=decimals) for v in low_high)
    return f"{low.partition(chr(0xA0))[0]} to {high}"


def _front_share(system: System) -> str:
    middle, standard = typical.FRONT_SHARE
    return _span(system, (middle - 2 * standard, middle + 2 * standard), "share", "%", 0)


def _spans_behind(body_m: float, system: System) -> dict[str, str]:
    span = partial(_span, system)
    most = 2.0 * typical_can.WALL_M[1] + typical_can.SLEEVE_M[1]
    return {
        "shock.air.bore": span((body_m - most, body_m - 2.0 * typical_can.WALL_M[0]), "length", "mm", 0),
        "shock.air.shaft": span(typical_can.BODY_M, "length", "mm", 0),
        "shock.air.positive_volume": span(typical_can.RATIO, "ratio", "", 1),
        "shock.air.negative_volume": f"{span(typical_can.NEGATIVE_SHARE, 'ratio', '', 2)} of the main",
        "shock.air.port_position": f"in by {span(typical_can.PORT_M, 'length', 'mm', 0)}",
        "shock.air.spacer_volume": span(typical_can.SPACER_M3, "volume", "ml", 0),
        "shock.friction": span(typical_can.FRICTION_N, "force", "N", 0),
        "shock.damper": span(typical_can.GAS_PA, "pressure", "psi", 0),
        "shock.bumper": f"{span(typical_can.BUMPER_M, 'length', 'mm', 0)} long",
        "rider.front_share": _front_share(system),
    }


def _spans(stanchion_m: float, system: System) -> dict[str, str]:
    span = partial(_span, system)
    most, least = 2.0 * typical.WALL_M[1] + typical.INNER_TUBE_M[1], 2.0 * typical.WALL_M[0]
    return {
        "fork.air.bore": span((stanchion_m - most, stanchion_m - least), "length", "mm", 0),
        "fork.air.shaft": span(typical.SHAFT_M, "length", "mm", 0),
        "fork.air.positive_volume": span(typical.RATIO, "ratio", "", 1),
        "fork.air.negative_volume": f"{span(typical.NEGATIVE_SHARE, 'ratio', '', 2)} of the main",
        "fork.air.port_position": f"in by {span(typical.PORT_M, 'length', 'mm', 0)}",
        "fork.air.spacer_volume": span(typical.SPACER_M3, "volume", "ml", 0),
        "fork.friction": span(typical.FRICTION_N, "force", "N", 0),
        "fork.lower_legs": span(typical.LEGS_M3, "volume", "ml", 0),
        "fork.bumper": f"{span(typical.BUMPER_M, 'length', 'mm', 0)} long",
        "rider.front_share": _front_share(system),
    }
