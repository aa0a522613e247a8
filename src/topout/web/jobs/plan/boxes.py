"""The boxes of the plan page: what may be set, as typed, as understood, and as the `[change]` of a bench file.

A box keeps what was typed. A bare number counts as the unit that stands beside it, the workshop's own; another unit may
be typed into the box, and stands in it where the Book or the reading was typed so. The bench file's own reader judges the values, so a box refuses what a file refuses, in the same words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Final
from urllib.parse import quote_plus

from topout import units
from topout.bench_file.model import TRAVEL_WAYS, BenchFile
from topout.errors import FaultsFound
from topout.units import BARE_NUMBER, UnitFault
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.book.tables import Tables
from topout.web.fields import WRITTEN, TwoWays, decimals, with_point
from topout.web.jobs.plan.box_keys import MORE, NEGATIVES, PLACES, TWINS, WAYS, Place, new_among, places, put, value_at

# Bead seats [mm] of ISO 5775-1 that suspension forks come in, and what riders call the wheel.
WHEELS_IN: Final = {622: "29", 584: "27.5", 559: "26"}
# What − and + move, by the unit in the box: one click of a gauge, one line of a rule, one step of a maker's list.
STEPS: Final[dict[str, dict[str, str]]] = {
    "travel": {"mm": "10", "cm": "1", "in": "0.5", "m": "0.01"},
    "pressure": {"psi": "1", "bar": "0.1", "kPa": "5", "MPa": "0.01", "Pa": "5000"},
    "spacers": {"": "1"},
    "offset": {"mm": "1", "cm": "0.1", "in": "0.05", "m": "0.001"},
    "stroke": {"mm": "2.5", "cm": "0.25", "in": "0.1", "m": "0.0025"},
    "tyre": {"mm": "1", "cm": "0.1", "in": "0.05", "m": "0.001"},
}
STEPS_OF: Final = {
    "negative": "pressure", "rear_tyre": "tyre", "preload": "tyre", "shock_pressure": "pressure", "shock_spacers": "spacers",
    "shock_preload": "tyre", "shock_stroke": "stroke",
}  # fmt: skip


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
            return units.parse(self.plain, self.place.dimension, self.unit).unit
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
        """What − and + move, in the unit that counts in the box."""
        return self._steps().get(self.typed_unit if self.place.dimension else "", "1")

    @property
    def step_words(self) -> str:
        """The same, as it is read aloud: "10 mm", "1 psi", "one"."""
        return f"{self.step} {WRITTEN.get(self.typed_unit, self.typed_unit)}" if self.unit else "one"

    def _steps(self) -> dict[str, str]:
        return STEPS.get(STEPS_OF.get(self.name, self.name), {"": "1"})

    @property
    def plain(self) -> str:
        """What was typed, with a decimal point; as it is where a comma may part thousands: the reader then asks."""
        with suppress(TwoWays):
            return with_point(self.text)
        return self.text.strip()

    def typed(self) -> Any:
        """The box's text as a bench file holds it."""
        text = self.plain
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
    def new(self) -> str:
        """What may be fitted anew; nothing where nobody described a spring."""
        return new_among([box.place for box in self.boxes])

    @property
    def both(self) -> bool:
        """Whether fork and shock have boxes: then the page shows those of one end at a time."""
        return self.forked and self.behind

    @property
    def behind(self) -> bool:
        """Whether a shock has boxes."""
        return any(box.place.fitted.startswith("shock.") for box in self.boxes)

    @property
    def forked(self) -> bool:
        """Whether the fork has boxes."""
        return any(box.name == "travel" for box in self.boxes)

    @property
    def end_at_fault(self) -> str:
        """The end whose open boxes have a fault, so that it is not hidden; "" where none has."""
        return next((box.place.end for box in self.boxes if box.fault and not box.place.group), "")

    @property
    def pressure_unit(self) -> str:
        """The unit that counts in the pressure's box; the workshop's own where a coil has none."""
        return self.unit_of("pressure")

    def unit_of(self, name: str) -> str:
        """The unit that counts in a pressure's box; the workshop's own where there is none."""
        found = next((box for box in self.boxes if box.name == name), None)
        return preferences.unit("pressure", "psi") if found is None else found.typed_unit

    @property
    def first(self) -> list[Box]:
        return [box for box in self.boxes if not box.place.group]

    @property
    def more(self) -> list[tuple[str, str, list[Box]]]:
        """The folded groups: title, the line under it, boxes."""
        found = [(title, says, [box for box in self.boxes if box.place.group == title]) for title, says in MORE.items()]
        return [group for group in found if group[2]]

    @property
    def more_is_set(self) -> bool:
        """Whether the folded part asks for something or has a fault: then it stands open, nothing acts unseen."""
        return any(box.fault or is_asked(box) and box.text.strip() for box in self.boxes if box.place.group)

    @property
    def faults(self) -> list[tuple[str, str]]:
        """For the summary: the box's id and the sentence; "" where it is not a box's."""
        return [(box.name, box.fault) for box in self.boxes if box.fault] + [("", text) for text in self.others]

    def query(self, **instead: str) -> str:
        """The boxes as an address's query, some replaced. Names need no quoting, and most boxes are empty."""
        texts = [(box.name, instead.get(box.name, box.text)) for box in self.boxes]
        return "&".join([f"{name}={quote_plus(text) if text else ''}" for name, text in texts])


def draw(fitted: Tables, asked: Tables, sent: Mapping[str, str] | None = None) -> Boxes:
    """The boxes for a bike (`fitted`, flat tables as typed): as sent, else as asked for, else as found; judged."""
    known = places(fitted, asked)
    result = Boxes([_box(place, fitted, asked, sent) for place in known])
    _judge(result, fitted)
    return result


def _box(place: Place, fitted: Tables, asked: Tables, sent: Mapping[str, str] | None) -> Box:
    found = value_at(fitted, place.fitted, place.word)
    now = value_at(asked, place.change, place.word)
    if now is None and place.key in TWINS:
        now = value_at(asked, *TWINS[place.key])
    unit = _unit(place)
    box = Box(place, "", unit, "" if found is None else str(found))
    if place.may_stay:
        box.note = place.empty or (f"stays {_written(found)}" if found is not None else "")
    elif now is None:
        now = TRAVEL_WAYS[0] if place.name == "by" else found
    box.text = _bare(now, unit)
    if sent is not None and place.name in sent:
        box.text = sent[place.name]
    if place.word == "spacers":
        _spacers(box, fitted, asked, sent)
    if place.kind == "choice":
        box.choices = _choices(place, box)
    return box


def _spacers(box: Box, fitted: Tables, asked: Tables, sent: Mapping[str, str] | None) -> None:
    """How many may be fitted and what each takes, of the new part where it says so."""
    air = fitted.get(box.place.fitted, {})
    new = box.place.end == "front"  # a part of the fork's may be another; a shock's can stays
    limit, each = (
        (new and ((sent or {}).get(f"air_{word}") or asked.get("change.air", {}).get(word))) or air.get(word)
        for word in ("spacer_limit", "spacer_volume")
    )
    box.beside = f"of {limit}" if limit is not None else ""
    box.note = f"{_written(each)} each" if each is not None else ""
    box.as_found = str(air.get("spacers") or 0)
    if box.text == "" and (sent is None or box.name not in sent):
        box.text = box.as_found


def _unit(place: Place) -> str:
    """The unit that a bare number counts as: the workshop's own. Bead seats are called by their millimetres everywhere."""
    if not place.dimension:
        return ""
    usual = place.usual or {"length": "mm", "pressure": "psi", "volume": "ml"}[place.dimension]
    return usual if place.kind == "choice" else preferences.unit(place.dimension, usual)


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
    if not place.dimension:
        return tuple(NEGATIVES.items())
    sizes = [units.from_si(mm / 1e3, box.unit, "length") for mm in WHEELS_IN]
    texts = [f"{round(size, 4):g}" for size in sizes]
    for text in (_bare(box.as_found, box.unit), box.text):
        if text and not any(_same(text, known, box.unit) for known in texts):
            texts.insert(0, text)
    chosen = next((known for known in texts if _same(box.text, known, box.unit)), None)
    if chosen is not None:
        box.text = chosen
    return tuple((text, _wheel(text, box.unit)) for text in texts)


def _wheel(text: str, unit: str) -> str:
    """A bead seat as riders call the wheel: "29 in (622)"; another size as it was typed."""
    known = (
        f"{inch} in ({mm})"
        for mm, inch in WHEELS_IN.items()
        if _same(text, f"{units.from_si(mm / 1e3, unit, 'length'):g}", unit)
    )
    return next(known, text).replace(" in", f"{units.NO_BREAK}in")


def _same(one: str, other: str, unit: str) -> bool:
    try:
        a, b = (units.parse(text, "length", unit).value_si for text in (one, other))
    except UnitFault:
        return False
    return abs(a - b) < 1e-7


def _judge(result: Boxes, fitted: Tables) -> None:
    """Read bike and change together; faults go to their boxes, echoes to the rest."""
    asked: Tables = {}
    needed = () if result.both else ("travel", "pressure")  # of one end the other may be all that is known
    for box in result.boxes:
        _echo(box)
        if box.text.strip() == "":
            if not box.place.may_stay and (box.as_found or box.name in needed):
                box.fault = f"{box.place.label}: empty. Write it{_as_in(box)}."
            continue
        if is_asked(box):
            put(asked, box.place.change, box.place.word, box.typed())
    _radii(result)
    result.change = asked
    try:
        file = bench_tables.read(bench_tables.merged(fitted, asked))
    except FaultsFound as found:
        by_key = {box.place.key: box for box in result.boxes}
        by_key |= {key.rpartition(".")[0]: box for key, box in by_key.items() if "." in box.place.word}
        for fault in found.faults:
            said = bench_tables.in_words(fault.message)
            words = f"{fault.value}: {said}" if fault.value else said
            beside = by_key.get(fault.key)
            if beside is not None:
                beside.fault = f"{beside.place.label}, {_in_unit_of(beside, words)}"
            else:
                result.others.append(f"{bench_tables.in_words(fault.location)}: {words}")
        return
    if not any(box.fault for box in result.boxes):
        result.file = file


def _radii(result: Boxes) -> None:
    """A tyre's echo is the wheel's radius, which is what the bike stands on."""
    for seat, tyre, measured in (("bead", "tyre", "radius"), ("rear_bead", "rear_tyre", "rear_radius")):
        if result.box(measured).text.strip():
            continue
        try:
            across, high = (units.parse(result.box(n).plain, "length", result.box(n).unit) for n in (seat, tyre))
        except UnitFault:
            continue
        radius = across.value_si / 2 + high.value_si
        result.box(tyre).echo = f"radius {preferences.system().show(radius, 'length', 'mm', decimals=0)}"


def is_asked(box: Box) -> bool:
    """Whether a box says something else than what is fitted; only that becomes part of the change."""
    if box.name == "by":
        return box.text != TRAVEL_WAYS[0]
    if box.place.may_stay:
        return True
    if not box.as_found:
        return True
    if not box.place.dimension:
        return box.text.strip() != box.as_found
    try:
        now = units.parse(box.plain, box.place.dimension, box.unit).value_si
        was = units.parse(box.as_found, box.place.dimension, box.unit).value_si
    except UnitFault:  # an uncertainty, a range: what says the same as the fitted one asks for nothing
        return box.text.strip() != box.as_found.strip()
    return abs(now - was) > 1e-9 * max(abs(now), abs(was))


def _in_unit_of(box: Box, words: str) -> str:
    """What a bench file's reader says, with its example in the unit that a bare number counts as in this box."""
    if not box.place.dimension:
        return words
    return words.replace(units.example(box.place.dimension), units.example(box.place.dimension, box.unit))


def _as_in(box: Box) -> str:
    return f", as in {units.example(box.place.dimension, box.unit)}" if box.place.dimension else ""


def _echo(box: Box) -> None:
    """What was understood: the other system; where a unit was typed into the box, both."""
    stays = not box.text.strip() or not box.place.may_stay
    box.echo = box.note if stays else ""
    if not box.place.dimension or not box.text.strip():
        return
    try:
        typed = units.parse(box.plain, box.place.dimension, box.unit)
    except UnitFault:
        return
    if box.place.kind == "choice":
        return  # a wheel is chosen by its name in inches: a rim's diameter in inches beside it would be another number
    shown = units.show(typed.value_si, box.place.dimension, typed.unit, decimals=decimals(box.plain), second=True)
    box.echo = shown if typed.unit != box.unit else shown.partition(" · ")[2]


def sent_boxes(data: Mapping[str, Any]) -> dict[str, str] | None:
    """What a request sent for the boxes, None where it sent none; each at most as long as anyone types."""
    known = {place.name for place in PLACES}
    found = {name: str(data[name])[:200] for name in data if name in known}
    return found or None


def draft_of(sent: Mapping[str, str], fitted: Tables, asked: Tables) -> dict[str, str]:
    """What a draft keeps of the boxes sent: what differs from the bike as found; nothing where it is what is asked for.

    The travel always stands in it, so that a draft that goes back to the bike as found is one.
    """
    boxes = draw(fitted, {}, sent)
    if same_change(boxes, draw(fitted, asked).boxes):
        return {}
    found = {box.name: box.text for box in draw(fitted, {}).boxes}
    return {
        box.name: box.text.replace("\0", "")
        for box in boxes.boxes
        if box.name in sent and (box.name == "travel" or box.text != found.get(box.name))
    }


def same_change(one: Boxes, other: Iterable[Box]) -> bool:
    """Whether two sets of boxes ask for the same: no one uses a plan whose answer they have not seen."""
    return {box.name: box.typed() for box in one.boxes} == {box.name: box.typed() for box in other}
