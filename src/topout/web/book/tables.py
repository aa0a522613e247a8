"""Bench-file tables in the Book: how they are kept, merged, written as TOML, and taken apart again.

Kept flat: table name → key → value as typed, `{"fork.air": {"bore": "34 mm", "spacers": 2}}`. The bench file's own
model says which tables and keys there are and what they hold. This room is the Book's only door to it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from typing import Any

import tomli_w

from topout.bench_file import model
from topout.bench_file.model import Key as Key
from topout.bench_file.model import NegativeCoil
from topout.bench_file.read import MAX_BYTES, read_bytes, read_tables
from topout.web.fields import written

Tables = dict[str, dict[str, Any]]
MOST_BYTES = MAX_BYTES  # of a bench file
RIDER = ("rider",)
BIKE = ("bike", "frame", "front_wheel", "rear_wheel")
UNIT = ("fork", "fork.air", "fork.lower_legs", "fork.damper", "fork.bumper", "fork.top_out")
TITLES = {
    "rider": "Rider", "bike": "Weights", "frame": "Frame, as its chart gives it", "front_wheel": "Front wheel",
    "rear_wheel": "Rear wheel", "fork": "Fork at full extension", "fork.air": "Air spring",
    "fork.lower_legs": "Air in the lower legs", "fork.damper": "Gas behind the damper’s rod",
    "fork.bumper": "Bumper at the end of the travel", "fork.top_out": "Bumper at full extension",
    "conditions": "Where it is worked on",
}  # fmt: skip


def table_type(name: str) -> type:
    """The dataclass of a table, `fork.air` → Air."""
    here: type = model.BenchFile
    for word in name.split("."):
        here = model.subtables(here)[word]
    return here


def keys(name: str) -> Iterator[tuple[str, Key]]:
    """The keys of a table in the order of the file; a coil gives its own two, `negative_coil.rate`."""
    for word, (_, key) in model.keys(table_type(name)).items():
        if key.kind == "coil":
            for inner, (_, inner_key) in model.keys(NegativeCoil).items():
                yield f"{word}.{inner}", inner_key
        else:
            yield word, key


def label(word: str) -> str:
    """A key as people read it: `tyre_height` → Tyre height, `bb_drop` → Bottom bracket drop."""
    own = word.rpartition(".")[2].replace("bb_", "bottom bracket ").replace("_", " ")
    return f"Negative coil, {own}" if word.startswith("negative_coil.") else own.capitalize()


def facts(tables: Tables) -> list[tuple[str, list[tuple[str, str]]]]:
    """What tables hold, for the eye: title, labels and values, in the order of the model."""
    found = []
    for name in TITLES:
        held = tables.get(name, {})
        rows = [(label(word), written(value)) for word, _ in keys(name) if (value := _at(held, word)) is not None]
        if rows:
            found.append((TITLES[name], rows))
    return found


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
    return read_tables(nested(tables))


def take_apart(data: bytes, *groups: tuple[str, ...]) -> list[Tables]:
    """The tables of a bench file as it came from a disk, one set per group; raises FaultsFound with every finding."""
    read_bytes(data)
    parsed = tomllib.loads(data.decode("utf-8-sig"))
    return [flat(parsed, names) for names in groups]


def toml(tables: Tables) -> str:
    """Flat tables as the text of a bench file, as they were typed, in the order of the model."""
    order = [name for name in _order() if name in tables] + [name for name in tables if name not in set(_order())]
    return tomli_w.dumps(nested({name: tables[name] for name in order}))


def _order() -> list[str]:
    def walk(table: type, path: tuple[str, ...]) -> Iterator[str]:
        for word, inner in model.subtables(table).items():
            yield ".".join((*path, word))
            yield from walk(inner, (*path, word))

    return list(walk(model.BenchFile, ()))
