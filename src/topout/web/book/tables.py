"""Bench-file tables in the Book: how they are kept, merged, written as TOML, and taken apart again.

Kept flat: table name → key → value as typed, `{"fork.air": {"bore": "34 mm", "spacers": 2}}`. The bench file's own
model says which tables and keys there are and what they hold. This room is the Book's only door to it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import tomli_w

from topout.bench_file import model
from topout.bench_file import read as reader
from topout.bench_file.model import Key as Key
from topout.bench_file.model import NegativeCoil
from topout.bench_file.read import MAX_BYTES
from topout.bench_file.say import NEGATIVES
from topout.errors import Fault
from topout.web.book import kinds
from topout.web.fields import written

Tables = dict[str, dict[str, Any]]
MOST_BYTES = MAX_BYTES  # of a bench file
RIDER = ("rider",)
BIKE = ("bike", "frame", "front_wheel", "rear_wheel")
UNIT = tuple(dict.fromkeys(name for kind in kinds.KINDS.values() for name in kind.tables))
TITLES = {
    "rider": "Rider", "bike": "Weights", "frame": "Frame, as its chart gives it", "front_wheel": "Front wheel",
    "rear_wheel": "Rear wheel", "fork": "Fork at full extension", "fork.air": "Air spring",
    "fork.coil": "Coil spring", "fork.lower_legs": "Air in the lower legs", "fork.damper": "Gas behind the damper’s rod",
    "fork.bumper": "Bumper at the end of the travel", "fork.top_out": "Bumper at full extension",
    "shock": "Rear shock at free length", "shock.air": "Air can", "shock.coil": "Coil spring",
    "shock.damper": "Gas behind the damper’s rod", "shock.bumper": "Bumper at the end of the stroke",
    "conditions": "Where it is worked on",
}  # fmt: skip
LINKAGE_TITLE = "Rear linkage, as the frame’s sheet gives it"
_PLACE = re.compile(
    r"\[(?P<table>[a-z_.]+)\](?: (?P<word>[a-z_.]+)(?: =)?)?"
)  # as the reader names a table or a key of it
# What a workshop calls a key that has another name on this part than in the file.
_LABELS = {
    "front_wheel.bead_seat": "Size (bead seat)", "rear_wheel.bead_seat": "Size (bead seat)",
    "fork.overtravel": "Extra travel on a hard landing", "fork.friction_side": "Friction by side load",
    "fork.air.negative": "Negative chamber", "shock.air.negative": "Negative chamber",
    **{f"{end}.air.port_position": "Port lies in by" for end in ("fork", "shock")},
    **{f"{end}.air.second_{word}": f"Second chamber’s {word}" for end in ("fork", "shock") for word in ("volume", "pressure")},
    **{f"{bumper}.power": "Stiffening" for bumper in ("fork.bumper", "fork.top_out", "shock.bumper")},
    "fork.length_straight": "Axle to crown by tape", "fork.tyre_room": "Axle to underside of crown",
    "shock.length": "Length, eye to eye", "shock.body": "Air can, outside", "shock.air.bore": "Can’s bore",
    "shock.air.shaft": "Damper body", "shock.air.positive_volume": "Positive volume",
    "shock.leverage": "Leverage ratio along the wheel’s travel",
    "shock.leverage_stroke": "or the shock’s stroke along it", "shock.sag": "Sag found, stroke used",
}  # fmt: skip


def table_type(name: str) -> type:
    """The dataclass of a table, `fork.air` → Air."""
    here: type = model.BenchFile
    for word in name.split("."):
        here = model.subtables(here)[word]
    return here


@cache
def keys(name: str) -> tuple[tuple[str, Key], ...]:
    """The keys of a table that have a box, in the order of the file; a coil gives its own two, `negative_coil.rate`."""
    found: list[tuple[str, Key]] = []
    for word, (_, key) in model.keys(table_type(name)).items():
        if key.kind == "coil":
            found += [(f"{word}.{inner}", inner_key) for inner, (_, inner_key) in model.keys(NegativeCoil).items()]
        elif (name, word) != ("front_wheel", "sag"):  # the model's Wheel has it, the front wheel does not
            found.append((word, key))
    return tuple(found)


# What the frame makes of the shock: it stands with the bike, and with a shock that brought its own.
LINKAGE = tuple(word for word, (_, key) in model.keys(model.Shock).items() if key.kind == "pairs")


def linkage(tables: Tables) -> Tables:
    """The leverage that tables hold, alone."""
    held = {word: value for word, value in tables.get("shock", {}).items() if word in LINKAGE}
    return {"shock": held} if held else {}


def fitted(bike: Tables, *units: Tables) -> Tables:
    """A bike with what is fitted to it. A shock that brought a leverage of its own stands before the bike's, whole."""
    if any(linkage(unit) for unit in units):
        bike = {name: held for name, held in bike.items() if name != "shock"}
    return merged(bike, *units)


def one_rear_sag(tables: Tables) -> Tables:
    """The same with the rear sag said once: the shock's own stroke says more than the bike's rear wheel travel."""
    if not (tables.get("shock", {}).get("sag") and "sag" in tables.get("rear_wheel", {})):
        return tables
    return tables | {"rear_wheel": {key: value for key, value in tables["rear_wheel"].items() if key != "sag"}}


def label(word: str, table: str = "") -> str:
    """A key as people read it: `tyre_height` → Tyre height, `bb_drop` → Bottom bracket drop."""
    named = _LABELS.get(f"{table}.{word}")
    if named:
        return named
    own = word.rpartition(".")[2].replace("bb_", "bottom bracket ").replace("_", " ")
    return f"Negative coil, {own}" if word.startswith("negative_coil.") else own.capitalize()


def in_words(text: str) -> str:
    """A finding of the bench file's reader without the file's keys: `[fork.air] bore = …` → `Air spring, bore …`.

    A table that the Book doesn't show is left out: `[change] travel` → `travel`.
    """

    def named(found: re.Match[str]) -> str:
        table, word = found["table"], found["word"]
        title = TITLES.get(table, "")
        name = label(word, table) if word else ""
        own = name[:1].lower() + name[1:] if title else name
        return ", ".join(part for part in (title, own) if part) or "the plan"

    return _PLACE.sub(named, text)


def fault_in_words(fault: Fault) -> str:
    """The same of a finding in tables of the Book: without the line of a file that nobody wrote."""
    return in_words(str(replace(fault, line=None)))


def facts(tables: Tables) -> list[tuple[str, list[tuple[str, str]]]]:
    """What tables hold, for the eye: title, labels and values, in the order of the model."""
    found = []
    for name in TITLES:
        held = tables.get(name, {})
        rows = [
            (label(word, name), _value_words(key, value))
            for word, key in keys(name)
            if (value := _at(held, word)) is not None
        ]
        if rows:
            found.append((LINKAGE_TITLE if name == "shock" and set(held) <= set(LINKAGE) else TITLES[name], rows))
    return found


def facts_by_key(tables: Tables) -> dict[tuple[str, str], str]:
    """The same facts, each by its table's title and its label."""
    return {(f"{title},", name[:1].lower() + name[1:]): words for title, rows in facts(tables) for name, words in rows}


def _value_words(key: Key, value: Any) -> str:
    if key.kind == "pairs":
        return _pairs_words(value)
    return NEGATIVES.get(str(value), written(value)) if key.kind == "choice" else written(value)


def _pairs_words(pairs: Any) -> str:
    return "; ".join(f"{written(one)}: {written(other)}" for one, other in pairs)


def _at(held: dict[str, Any], word: str) -> Any:
    outer, _, inner = word.partition(".")
    value = held.get(outer)
    return value.get(inner) if inner and isinstance(value, dict) else value


def nested(tables: Tables) -> dict[str, Any]:
    """Flat tables as TOML nests them."""
    whole: dict[str, Any] = {}
    for name, values in tables.items():
        here = whole
        for word in name.split("."):
            here = here.setdefault(word, {})
        here.update(values)
    return whole


def flat(data: dict[str, Any], wanted: Iterable[str]) -> Tables:
    """The wanted tables of a parsed bench file, flat; tables that are empty or not there are left out."""
    result: Tables = {}
    for name in wanted:
        here: Any = data
        for word in name.split("."):
            here = here.get(word, {}) if isinstance(here, dict) else {}
        inner = model.subtables(table_type(name))
        values = {key: value for key, value in here.items() if key not in inner}
        if values:
            result[name] = values
    return result


def merged(*layers: Tables) -> Tables:
    """Tables over tables, later ones before earlier ones key by key."""
    whole: Tables = {}
    for layer in layers:
        for name, values in layer.items():
            whole.setdefault(name, {}).update(values)
    return {name: values for name, values in whole.items() if values}


def read(tables: Tables) -> model.BenchFile:
    """What flat tables say; raises FaultsFound with every finding, `key` as `fork.air.bore`."""
    return reader.read_tables(nested(tables))


def read_bytes(data: bytes) -> model.BenchFile:
    """What a bench file says; raises FaultsFound with every finding."""
    return reader.read_bytes(data)


def take_apart(data: bytes, *groups: tuple[str, ...]) -> list[Tables]:
    """The tables of a bench file as it came from a disk, one set per group; raises FaultsFound with every finding."""
    _, parsed = reader.read_with_tables(data)
    return [flat(parsed, names) for names in groups]


def toml(tables: Tables) -> str:
    """Flat tables as the text of a bench file, as they were typed, in the order of the model."""
    order = [name for name in every() if name in tables] + [name for name in tables if name not in set(every())]
    return tomli_w.dumps(nested({name: tables[name] for name in order}))


def every() -> list[str]:
    """Every table of the file by its path, outer before inner, in the order of the model."""

    def walk(table: type, path: tuple[str, ...]) -> Iterator[str]:
        for word, inner in model.subtables(table).items():
            yield ".".join((*path, word))
            yield from walk(inner, (*path, word))

    return list(walk(model.BenchFile, ()))
