"""The boxes of the plan page: what may be set, as typed, as understood, and as the `[change]` of a bench file.

A box keeps what was typed. Its unit is the one that the Book or the reading was typed in; another unit may be typed
into the box. The bench file's own reader judges the values, so a box refuses what a file refuses, in the same words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal
from urllib.parse import urlencode

from topout import units
from topout.bench_file.model import TRAVEL_WAYS, BenchFile
from topout.errors import FaultsFound
from topout.units import UnitFault
from topout.web.book import tables as bench_tables
from topout.web.book.tables import Tables
from topout.web.fields import WRITTEN

Kind = Literal["stepper", "choice", "box"]
BARE_NUMBER: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)", re.ASCII)
WAYS: Final = {"shaft": "shaft", "piston-spacer": "piston spacer", "chassis": "chassis"}
BEAD_SEATS_MM: Final = (622, 584, 559)  # ISO 5775-1, the sizes that suspension forks come in
# What − and + move, by the unit in the box: one click of a gauge, one line of a rule, one step of a maker's list.
STEPS: Final[dict[str, dict[str, str]]] = {
    "travel": {"mm": "10", "cm": "1", "in": "0.5", "m": "0.01"},
    "pressure": {"psi": "1", "bar": "0.1", "kPa": "5", "MPa": "0.01", "Pa": "5000"},
    "spacers": {"": "1"},
    "offset": {"mm": "1", "cm": "0.1", "in": "0.05", "m": "0.001"},
    "tyre": {"mm": "1", "cm": "0.1", "in": "0.05", "m": "0.001"},
}
STEPS_OF: Final = {"negative": "pressure", "rear_tyre": "tyre"}


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
    more: bool = False  # under "Rear wheel, how the travel is changed"


PLACES: Final = (
    Place("travel", "Travel", "fork", "change", "travel", "length"),
    Place("pressure", "Pressure", "fork.air", "change", "pressure", "pressure"),
    Place("negative", "Negative pressure", "fork.air", "change.air", "negative_pressure", "pressure"),
    Place("spacers", "Volume spacers", "fork.air", "change", "spacers", ""),
    Place("offset", "Offset", "fork", "change", "offset", "length"),
    Place("bead", "Front bead seat", "front_wheel", "change.front_wheel", "bead_seat", "length", "choice"),
    Place("tyre", "Front tyre", "front_wheel", "change.front_wheel", "tyre_height", "length"),
    Place("rear_bead", "Rear bead seat", "rear_wheel", "change.rear_wheel", "bead_seat", "length", "choice", True),
    Place("rear_tyre", "Rear tyre", "rear_wheel", "change.rear_wheel", "tyre_height", "length", "stepper", True),
    Place("by", "Travel is changed by", "", "change", "by", "", "choice", True),
    Place("solid", "Spacer’s own volume", "", "change", "spacer_solid_volume", "volume", "box", True),
)  # fmt: skip


@dataclass(slots=True)
class Box:
    """One box as it is drawn."""

    place: Place
    text: str
    unit: str  # as `units` knows it; "" for a count or a word
    as_found: str  # as typed, with its unit; "" where it is not known
    choices: tuple[tuple[str, str], ...] = ()
    beside: str = ""  # what stands beside the box where there is no unit: "of 4"
    note: str = ""  # the echo of a box that is no quantity
    echo: str = ""
    fault: str = ""

    @property
    def name(self) -> str:
        return self.place.name

    @property
    def typed_unit(self) -> str:
        """The unit that counts: the one typed into the box, else the one beside it."""
        try:
            return units.parse(self.text, self.place.dimension, self.unit).unit
        except UnitFault:
            return self.unit

    @property
    def unit_written(self) -> str:
        """The unit as it is written beside the box."""
        return WRITTEN.get(self.unit, self.unit)

    @property
    def steps(self) -> str:
        """What − and + move, per unit, for the script."""
        return " ".join(f"{unit or '-'}={step}" for unit, step in self._steps().items())

    @property
    def step(self) -> str:
        """What − and + move in the box's own unit."""
        return self._steps().get(self.unit, "1")

    @property
    def step_words(self) -> str:
        """The same, as it is read aloud: "10 mm", "1 psi", "one"."""
        return f"{self.step} {self.unit_written}" if self.unit else "one"

    def _steps(self) -> dict[str, str]:
        return STEPS.get(STEPS_OF.get(self.name, self.name), {"": "1"})

    def typed(self) -> Any:
        """The box's text as a bench file holds it."""
        text = self.text.strip()
        if self.place.dimension:
            return f"{text} {self.unit}" if BARE_NUMBER.fullmatch(text) else text
        return int(text) if re.fullmatch(r"[0-9]{1,6}", text) else text


@dataclass(slots=True)
class Boxes:
    """All boxes of a page, and what they ask for."""

    boxes: list[Box]
    file: BenchFile | None = None  # bike and change, read; None where something is at fault
    change: Tables = field(default_factory=dict)
    others: list[str] = field(default_factory=list)  # faults that no box of this page can mend

    def box(self, name: str) -> Box:
        return next(box for box in self.boxes if box.name == name)

    @property
    def first(self) -> list[Box]:
        return [box for box in self.boxes if not box.place.more]

    @property
    def more(self) -> list[Box]:
        return [box for box in self.boxes if box.place.more]

    @property
    def faults(self) -> list[tuple[str, str]]:
        """For the summary: the box's id and the sentence; "" where it is not a box's."""
        return [(box.name, box.fault) for box in self.boxes if box.fault] + [("", text) for text in self.others]

    def query(self, **instead: str) -> str:
        """The boxes as an address's query, some replaced."""
        return urlencode([(box.name, instead.get(box.name, box.text)) for box in self.boxes])


def draw(fitted: Tables, asked: Tables, sent: Mapping[str, str] | None = None) -> Boxes:
    """The boxes for a bike (`fitted`, flat tables as typed): as sent, else as asked for, else as found; judged."""
    boxes = [box for place in PLACES if (box := _box(place, fitted, asked, sent)) is not None]
    result = Boxes(boxes)
    _judge(result, fitted)
    return result


def _box(place: Place, fitted: Tables, asked: Tables, sent: Mapping[str, str] | None) -> Box | None:
    found = fitted.get(place.fitted, {}).get(place.word)
    air = fitted.get("fork.air", {})
    if place.name == "negative" and air.get("negative") != "separate-valve":
        return None
    if place.name == "spacers" and not air:
        return None
    now = asked.get(place.change, {}).get(place.word, found)
    if place.name == "by":
        now = now or TRAVEL_WAYS[0]
    unit = _unit(place, found)
    text = _bare(now, unit)
    if sent is not None and place.name in sent:
        text = sent[place.name]
    box = Box(place, text, unit, "" if found is None else str(found))
    if place.name == "spacers":
        limit, each = air.get("spacer_limit"), air.get("spacer_volume")
        box.beside = f"of {limit}" if limit is not None else ""
        box.note = f"{_written(each)} each" if each is not None else ""
        box.as_found = str(found or 0)
        if text == "":
            box.text = box.as_found if sent is None or place.name not in sent else ""
    if place.kind == "choice":
        box.choices = _choices(place, box)
    return box


def _unit(place: Place, found: Any) -> str:
    """The unit that the value as found was typed in."""
    if not place.dimension:
        return ""
    usual = {"length": "mm", "pressure": "psi", "volume": "ml"}[place.dimension]
    try:
        return units.parse(str(found), place.dimension).unit if found is not None else usual
    except UnitFault:
        return usual


def _bare(value: Any, unit: str) -> str:
    """A typed value without the unit that stands beside the box."""
    if value is None:
        return ""
    text = str(value)
    match = re.fullmatch(rf"({BARE_NUMBER.pattern})\s*{re.escape(unit)}", text) if unit else None
    return match.group(1) if match else text


def _written(value: Any) -> str:
    return str(value).replace(" ", units.NO_BREAK)


def _choices(place: Place, box: Box) -> tuple[tuple[str, str], ...]:
    """Words to choose from: ways of changing the travel, or bead seats, the fitted one among them."""
    if place.name == "by":
        return tuple(WAYS.items())
    sizes = [units.from_si(mm / 1e3, box.unit, "length") for mm in BEAD_SEATS_MM]
    texts = [f"{round(size, 4):g}" for size in sizes]
    for text in (_bare(box.as_found, box.unit), box.text):
        if text and not any(_same(text, known, box.unit) for known in texts):
            texts.insert(0, text)
    chosen = next((known for known in texts if _same(box.text, known, box.unit)), None)
    if chosen is not None:
        box.text = chosen
    return tuple((text, text) for text in texts)


def _same(one: str, other: str, unit: str) -> bool:
    try:
        a, b = (units.parse(text, "length", unit).value_si for text in (one, other))
    except UnitFault:
        return False
    return abs(a - b) < 1e-7


def _judge(result: Boxes, fitted: Tables) -> None:
    """Read bike and change together; faults go to their boxes, echoes to the rest."""
    asked: Tables = {}
    for box in result.boxes:
        _echo(box)
        if box.text.strip() == "":
            if box.as_found or box.name in ("travel", "pressure"):
                box.fault = f"{box.place.label}: nothing stands here. Write it{_as_in(box)}."
            continue
        if _is_asked(box, result):
            asked.setdefault(box.place.change, {})[box.place.word] = box.typed()
    _radii(result)
    result.change = asked
    try:
        file = bench_tables.read(bench_tables.merged(fitted, asked))
    except FaultsFound as found:
        by_key = {f"{box.place.change}.{box.place.word}": box for box in result.boxes}
        for fault in found.faults:
            words = f"{fault.value}: {fault.message}" if fault.value else fault.message
            beside = by_key.get(fault.key)
            if beside is not None:
                beside.fault = f"{beside.place.label}, {words}"
            else:
                result.others.append(f"{fault.place}: {words}")
        return
    if not any(box.fault for box in result.boxes):
        result.file = file


def _radii(result: Boxes) -> None:
    """A tyre's echo is the wheel's radius, which is what the bike stands on."""
    for seat, tyre in (("bead", "tyre"), ("rear_bead", "rear_tyre")):
        try:
            across, high = (units.parse(result.box(n).text, "length", result.box(n).unit) for n in (seat, tyre))
        except UnitFault:
            continue
        radius = across.value_si / 2 + high.value_si
        result.box(
            tyre
        ).echo = f"radius {units.show(radius, 'length', high.unit, decimals=0 if high.unit == 'mm' else None)}"


def _is_asked(box: Box, result: Boxes) -> bool:
    """Whether a box says something else than what is fitted; only that becomes part of the change."""
    if box.name == "by":
        return box.text != TRAVEL_WAYS[0]
    if box.name == "solid":
        return result.box("by").text == "piston-spacer"
    if not box.as_found:
        return True
    if not box.place.dimension:
        return box.text.strip() != box.as_found
    try:
        now = units.parse(box.text, box.place.dimension, box.unit).value_si
        was = units.parse(box.as_found, box.place.dimension, box.unit).value_si
    except UnitFault:
        return True
    return abs(now - was) > 1e-9 * max(abs(now), abs(was))


def _as_in(box: Box) -> str:
    return f", as in {units.example(box.place.dimension)}" if box.place.dimension else ""


def _echo(box: Box) -> None:
    """What was understood: the other system; where a unit was typed into the box, both."""
    box.echo = box.note
    if not box.place.dimension or not box.text.strip():
        return
    try:
        typed = units.parse(box.text, box.place.dimension, box.unit)
    except UnitFault:
        return
    shown = units.show(typed.value_si, box.place.dimension, typed.unit, second=True)
    box.echo = shown if typed.unit != box.unit else shown.partition(" · ")[2]


def sent_boxes(data: Mapping[str, Any]) -> dict[str, str] | None:
    """What a request sent for the boxes, None where it sent none; each at most as long as anyone types."""
    known = {place.name for place in PLACES}
    found = {name: str(data[name])[:200] for name in data if name in known}
    return found or None


def same_change(one: Boxes, other: Iterable[Box]) -> bool:
    """Whether two sets of boxes ask for the same: no one uses a plan whose answer they have not seen."""
    return {box.name: box.typed() for box in one.boxes} == {box.name: box.typed() for box in other}
