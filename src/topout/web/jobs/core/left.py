"""What a job left on a unit and its bike, as tables of the Book: the plan that was carried out, then the readings as left.

The next job starts from these. A reading stands before the plan; a travel or stroke measured by hand within
`SAME_LENGTH_M`, a stroke within `SAME_STROKE_M`, of what the plan or the Book says confirms it, and stands in its place where it does not.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from typing import Any, Final

from topout import units
from topout.bench_file import model, write
from topout.bench_file.read import read_text
from topout.planner import change
from topout.web.book import tables as bench_tables
from topout.web.book.models import Unit
from topout.web.book.tables import Tables
from topout.web.jobs.records.kinds import OF_CAN
from topout.web.jobs.records.models import FrozenPlan, Reading

SAME_LENGTH_M: Final = 0.003  # by hand: a tape's mark at each end, and the bumper
SAME_STROKE_M: Final = 0.001  # of a shock: a reducer takes 2.5 mm
# How far what was left may be off the plan where nothing better is known; ours, no source.
PRESSURE_OFF_PA: Final = units.to_si(3, "psi", "pressure")  # where the gauge does not say what it can tell
PRELOAD_OFF_M: Final = 1e-3  # a turn of most collars is more
# kind of reading -> where it is kept in the Book, by the noun of the unit
_KEPT: Final = {
    "fork": {"pressure": ("fork.air", "pressure"), "spacers": ("fork.air", "spacers"), "travel": ("fork", "travel"),
             "coil-rate": ("fork.coil", "rate"), "preload": ("fork.coil", "preload")},
    "shock": {"pressure": ("shock.air", "pressure"), "spacers": ("shock.air", "spacers"), "length": ("shock", "length"),
              "stroke": ("shock", "stroke"), "coil-rate": ("shock.coil", "rate"), "preload": ("shock.coil", "preload")},
}  # fmt: skip
_BY_HAND: Final = ("travel", "length", "stroke")


def typed_text(reading: Reading) -> str:
    """A reading as the bench file holds it: what counts, in the unit that was typed."""
    value = units.from_si(reading.counts_si, reading.unit, reading.dimension)
    return f"{value:.9g} {reading.unit}"


def measured(book_text: Any, reading: Reading) -> str:
    """A length measured by hand against what the Book says: the Book's where they agree, else the reading."""
    if isinstance(book_text, str):
        known = units.parse(book_text, "length").value_si
        if abs(known - reading.value_si) <= (SAME_STROKE_M if reading.kind == "stroke" else SAME_LENGTH_M) * (1 + 1e-9):
            return book_text
    return typed_text(reading)


def left_on_unit(unit: Unit, left: Mapping[str, Reading], carried_out: FrozenPlan | None) -> Tables:
    """The unit's own tables after the job; `left` are the readings that stand, by kind."""
    own: Tables = copy.deepcopy(unit.tables)
    if carried_out is not None:  # of a plan for both ends, what was done to this unit
        own = bench_tables.merged(own, _changed_by(carried_out, unit.what.tables))
    whole = bench_tables.merged(unit.family.tables if unit.family else {}, own)
    for kind, (table, key) in _KEPT[unit.what.noun].items():
        reading = left.get(kind)
        if reading is None or table not in unit.what.tables:
            continue
        if kind in _BY_HAND:
            value: Any = measured(whole.get(table, {}).get(key), reading)
        else:
            value = typed_text(reading) if reading.dimension else int(reading.value_si)
        if whole.get(table, {}).get(key) != value:
            own.setdefault(table, {})[key] = value
    negative = left.get("negative-pressure")
    air = f"{unit.what.noun}.air"
    if negative is not None and whole.get(air, {}).get("negative") == "separate-valve":
        own.setdefault(air, {})["negative_pressure"] = typed_text(negative)
    return _with_its_sag(unit, own, left)


def _with_its_sag(unit: Unit, own: Tables, left: Mapping[str, Reading]) -> Tables:
    """A shock's sag in the Book is that of its setting: the one as left, else none where the setting is another now."""
    was = unit.tables.get("shock", {}).get("sag")
    if was is None or "shock" not in own:
        return own
    reading = left.get("stroke-sag")
    if reading is not None and reading.value_si > 0.0:  # a step of a workshop's own may take none, which tells no load
        own["shock"]["sag"] = typed_text(reading)
    elif {name: held for name, held in own.items() if name in unit.what.tables} != {
        name: held for name, held in unit.tables.items() if name in unit.what.tables
    }:
        own["shock"].pop("sag", None)
    return own


def measured_on_unit(unit: Unit, own: Tables, found: Mapping[str, Reading]) -> tuple[Tables, list[str]]:
    """The unit's own tables with what was measured of its opened can, and the keys that were, "shock.air.bore"."""
    read = {word: found[kind] for kind, word in OF_CAN.items() if kind in found and "shock.air" in unit.what.tables}
    with_it = (
        bench_tables.merged(own, {"shock.air": {word: typed_text(row) for word, row in read.items()}}) if read else own
    )
    return with_it, [f"shock.air.{word}" for word in read]


def left_beside(unit: Unit, left: Mapping[str, Reading]) -> Tables:
    """The own tables of the unit at the other end after what the steps of a job set there; `left` by what it is on that unit."""
    own: Tables = copy.deepcopy(unit.tables)
    whole, places = unit.whole_tables(), _KEPT[unit.what.noun]
    for kind, reading in left.items():
        table, key = places.get(kind, ("", ""))
        if table in unit.what.tables and whole.get(table, {}).get(key) != (text := typed_text(reading)):
            own.setdefault(table, {})[key] = text
    return _with_its_sag(unit, own, left)


def left_on_bike(bike_tables: Tables, carried_out: FrozenPlan | None) -> Tables:
    """The bike's tables after the job: another wheel, where the plan had one."""
    own = copy.deepcopy(bike_tables)
    if carried_out is None:
        return own
    for table, keys in _changed_by(carried_out, ("front_wheel", "rear_wheel")).items():
        size = {"bead_seat", "tyre_height", "radius"}  # one thing: naming any of it replaces the size
        kept = {key: value for key, value in own.get(table, {}).items() if key not in size or not size & keys.keys()}
        own[table] = {**kept, **keys}
    return own


def _changed_by(frozen: FrozenPlan, names: tuple[str, ...]) -> Tables:
    """What of some tables a plan made another, as text; a key that went back to its default is written out."""
    bench = read_text(frozen.bench_file)
    before, after = (
        bench_tables.flat(tomllib.loads(write.write(file)), names) for file in (bench, change.changed(bench))
    )
    found: Tables = {}
    for name in names:
        was, now = before.get(name, {}), after.get(name, {})
        changed = {key: value for key, value in now.items() if was.get(key) != value}
        changed |= {key: text for key in was if key not in now and (text := _default(name, key)) is not None}
        if changed:
            found[name] = changed
    return found


def _default(name: str, word: str) -> Any:
    """A key's default as the file would write it; None where it has none."""
    table = bench_tables.table_type(name)
    attribute, key = model.keys(table)[word]
    default = next(f.default for f in table.__dataclass_fields__.values() if f.name == attribute)  # type: ignore[attr-defined]
    if default is None:
        return None
    if key.kind == "quantity":
        return f"{units.from_si(default, key.unit, key.dimension):g} {key.unit}"
    return default
