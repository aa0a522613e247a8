"""A bench file seen by the paths of its keys, "fork.air.bore": the value there, its key, how it stands in the file, a finding."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cache
from typing import Any

from topout import units
from topout.bench_file import model, say
from topout.errors import Fault

Path = tuple[str, ...]


class Look:
    """A bench file seen by the paths of its keys; what is missing or at fault is None."""

    def __init__(self, bench: model.BenchFile, bad: Collection[str], written: Mapping[str, str]) -> None:
        self.bench, self.bad, self.written = bench, bad, written

    def __call__(self, path: str) -> Any:
        """The value at a path, defaults in; None where it is missing, at fault, or in a table that is."""
        parts, upward = _parts(path)
        if self.bad and any(each in self.bad for each in upward):
            return None
        return value_at(self.bench, parts)

    def shown(self, path: str) -> str:
        """A value as it stands in the file, or in people's units."""
        if path in self.written:
            return self.written[path]
        value = self(path)
        key = key_at(tuple(path.split(".")))
        if isinstance(value, float) and key is not None and key.kind == "quantity":
            return f'"{say.plain_number(units.from_si(value, key.unit, key.dimension))} {key.unit}"'
        return say.written(value)

    def fault(self, path: str, message: str) -> Fault:
        """A finding at a key."""
        return Fault(location=say.place(path.split(".")), message=message, value=self.shown(path), key=path)


@cache
def _parts(path: str) -> tuple[Path, tuple[str, ...]]:
    """The words of a path, and the paths of it and of every table it lies in."""
    parts = tuple(path.split("."))
    return parts, tuple(".".join(parts[: n + 1]) for n in range(len(parts)))


def value_at(bench: model.BenchFile, path: Path) -> Any:
    """The value at a path of words, defaults in; None where it or its table is left out."""
    here: Any = bench
    for attribute in _attributes(path):
        if here is None:
            return None
        here = here.get(attribute) if isinstance(here, dict) else getattr(here, attribute)
    return here


@cache
def _attributes(path: Path) -> tuple[str, ...]:
    """What the model calls the words of a path."""
    found = []
    table: type = model.BenchFile
    for n, word in enumerate(path):
        keys, inner = model.keys(table), model.subtables(table)
        found.append(keys[word][0] if word in keys else word)
        if n + 1 < len(path):
            table = inner[word] if word in inner else model.NegativeCoil
    return tuple(found)


def key_at(path: Path) -> model.Key | None:
    """The Key at a path of words; None where a table stands there."""
    table: type = model.BenchFile
    for n, word in enumerate(path):
        keys, inner = model.keys(table), model.subtables(table)
        if n + 1 == len(path):
            return keys[word][1] if word in keys else None
        table = inner[word] if word in inner else model.NegativeCoil
    return None
