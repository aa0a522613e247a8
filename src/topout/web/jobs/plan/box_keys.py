"""Where each box of the plan page stands in the bench file: one for every key that a `[change]` may have.

The first boxes are what is asked for every day. The rest stand folded, in groups, and are made from the bench file's
own model, so that a key added there has its box here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from topout.bench_file import say
from topout.bench_file.model import TRAVEL_WAYS
from topout.web.book import tables as bench_tables
from topout.web.book.tables import Tables
from topout.web.jobs.core import End

Kind = Literal["stepper", "choice", "box"]
WAYS: Final = dict(zip(TRAVEL_WAYS, ("shaft", "piston spacer", "chassis"), strict=True))
NEGATIVES: Final = {"": "as fitted"} | say.NEGATIVES
HOW, WHEELS, PART = "How the travel is changed", "Wheels, further", "The new air-spring part"
COIL, BEHIND, CAN = "The new spring", "The shock’s new coil", "The shock’s spacers"
MORE: Final = {  # group -> the line under its title
    HOW: "", COIL: "Left empty, another rate is of a spring whose coils nobody has looked at.",
    CAN: "Where others are among them: what one takes, on the average.", BEHIND: "Left empty, another rate is of a spring whose coils nobody has looked at.", WHEELS: "A radius as measured stands in place of bead seat and tyre.",
    PART: "Write what differs from the part that is fitted. What is left empty stays.",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """Where a box stands in the bench file: its table and key as fitted, its table in the change."""

    name: str
    label: str
    fitted: str
    change: str
    word: str
    dimension: str
    kind: Kind = "stepper"
    group: str = ""  # "" stands open; else the group of the folded part
    usual: str = ""  # the unit where none was typed yet
    may_stay: bool = False  # left empty it stays as fitted; else it shows what is fitted
    empty: str = ""  # what an empty one means, where nothing fitted says it
    end: End = "front"

    @property
    def key(self) -> str:
        """The key of the change as a fault names it: `change.air.bore`."""
        return f"{self.change}.{self.word}"


_FIRST: Final = (
    Place("travel", "Travel", "fork", "change", "travel", "length"),
    Place("pressure", "Pressure", "fork.air", "change", "pressure", "pressure"),
    Place("negative", "Negative pressure", "fork.air", "change.air", "negative_pressure", "pressure"),
    Place("spacers", "Volume spacers", "fork.air", "change", "spacers", ""),
    Place("rate", "Spring rate", "fork.coil", "change.coil", "rate", "rate", "box", usual="N/mm"),
    Place("preload", "Preload", "fork.coil", "change.coil", "preload", "length"),
    Place("offset", "Offset", "fork", "change", "offset", "length"),
    Place("bead", "Front wheel", "front_wheel", "change.front_wheel", "bead_seat", "length", "choice"),
    Place("tyre", "Front tyre", "front_wheel", "change.front_wheel", "tyre_height", "length"),
    Place("shock_pressure", "Shock pressure", "shock.air", "change.shock", "pressure", "pressure", end="rear"),
    Place("shock_spacers", "Shock spacers", "shock.air", "change.shock", "spacers", "", end="rear"),
    Place("shock_rate", "Shock coil", "shock.coil", "change.shock", "rate", "rate", "box", usual="N/mm", end="rear"),
    Place("shock_preload", "Shock preload", "shock.coil", "change.shock", "preload", "length", end="rear"),
    Place("shock_stroke", "Shock stroke", "shock", "change.shock", "stroke", "length", end="rear"),
)
_MORE: Final = (
    Place("by", "Travel is changed by", "", "change", "by", "", "choice", HOW),
    Place("solid", "Spacer’s own volume", "", "change", "spacer_solid_volume", "volume", "box", HOW, may_stay=True),
    Place("length", "Fork length", "", "change", "fork_length", "length", "box", HOW, may_stay=True, empty="with the travel"),
    Place("bind", "Coils touch at", "fork.coil", "change.coil", "bind", "length", "box", COIL, may_stay=True, empty="as wound up"),
    Place("shock_spacer_volume", "Each shock spacer", "shock.air", "change.shock", "spacer_volume", "volume", "box", CAN, may_stay=True),
    Place("shock_bind", "Its coils touch at", "shock.coil", "change.shock", "bind", "length", "box", BEHIND, may_stay=True, empty="as wound up"),
    Place("radius", "Front radius", "front_wheel", "change.front_wheel", "radius", "length", "box", WHEELS, may_stay=True),
    Place("rear_bead", "Rear wheel", "rear_wheel", "change.rear_wheel", "bead_seat", "length", "choice", WHEELS),
    Place("rear_tyre", "Rear tyre", "rear_wheel", "change.rear_wheel", "tyre_height", "length", "stepper", WHEELS),
    Place("rear_radius", "Rear radius", "rear_wheel", "change.rear_wheel", "radius", "length", "box", WHEELS, may_stay=True),
    Place("rear_sag", "Rear sag", "rear_wheel", "change.rear_wheel", "sag", "length", "box", WHEELS, may_stay=True),
)  # fmt: skip
# `[change.air]` may say these too; the page has them in the boxes of `[change]`, which mean the same.
TWINS: Final = {"change.pressure": ("change.air", "pressure"), "change.spacers": ("change.air", "spacers")}


def _part() -> Iterator[Place]:
    """The keys of `[change.air]` that have no box further up."""
    had = {word for _, word in TWINS.values()} | {place.word for place in _FIRST if place.change == "change.air"}
    for word, key in bench_tables.keys("fork.air"):
        if word in had:
            continue
        kind: Kind = "choice" if key.choices else "box"
        label, name = bench_tables.label(word), "air_" + word.replace(".", "_")
        yield Place(name, label, "fork.air", "change.air", word, key.dimension, kind, PART, key.unit, may_stay=True)


PLACES: Final = (*_FIRST, *_MORE, *_part())
_NEGATIVE: Final = replace(_FIRST[2], kind="box", group=PART, may_stay=True)


def places(fitted: Tables, asked: Tables) -> list[Place]:
    """The boxes of a bike's page. A second valve that only a new part would have stands with the part."""
    air = fitted.get("fork.air", {})
    found = []
    coil = bool(fitted.get("fork.coil")) and not air
    behind = any(fitted.get(table) for table in ("shock.air", "shock.coil"))
    forked = not behind or any(name.partition(".")[0] == "fork" for name in fitted)
    for place in PLACES:
        if place.fitted.startswith("shock.") and not fitted.get(place.fitted):
            continue
        if place.name == "shock_stroke" and not (behind and fitted.get("shock", {}).get("stroke")):
            continue  # reducers take from a stroke that is known
        if not forked and (place.fitted.partition(".")[0] == "fork" or place.group in (HOW, PART)):
            continue  # of a bike whose fork is not in the Book the page is the shock's
        if behind and place.name == "rear_sag":
            continue  # it follows from the shock
        if behind and place.name == "rear_tyre":
            place = replace(place, group="", end="rear")
        if coil and (place.fitted == "fork.air" or place.name in ("by", "solid")):
            continue  # a coil has neither pressure nor spacers, and no air piston
        if not coil and place.fitted == "fork.coil":
            continue
        if place.name == "negative" and air.get("negative") != "separate-valve":
            place = _NEGATIVE
        if (place.name in ("pressure", "spacers") or place.group == PART) and not air and not asked.get("change.air"):
            continue  # of a spring that nobody described nothing can be set
        found.append(place)
    # a stable order by group: what was open and is now with the part goes to it; a shock's own boxes lead where no fork is known
    return sorted(found, key=lambda place: (("", *MORE).index(place.group), not forked and place.end == "front"))


def new_among(drawn: Sequence[Place]) -> str:
    """What may be fitted anew by these boxes, in the words of the fold that they lie in; "" where no box is of a spring."""
    if any(place.name == "rate" for place in drawn):
        return ", the new spring"
    return ", the new air-spring part" if any(place.group == PART for place in drawn) else ""


def value_at(tables: Tables, table: str, word: str) -> Any:
    """What flat tables hold at a key, `negative_coil.rate` too; None where there is nothing."""
    here: Any = tables.get(table, {})
    for part in word.split("."):
        here = here.get(part) if isinstance(here, dict) else None
    return here


def put(tables: Tables, table: str, word: str, value: Any) -> None:
    """Lay a value at a key of flat tables."""
    here: dict[str, Any] = tables.setdefault(table, {})
    *outer, last = word.split(".")
    for part in outer:
        here = here.setdefault(part, {})
    here[last] = value
