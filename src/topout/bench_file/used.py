"""The units that a file is written in: who writes psi reads psi."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from topout import units


def system(tables: dict[str, Any]) -> units.System:
    """The system in which most lengths and most gauge pressures of these tables are written; the bench's own where none is.

    One unit for each quantity: nothing stands beside it.
    """
    counts: dict[str, Counter[str]] = {"length": Counter(), "pressure": Counter()}
    for text in _texts(tables):
        for dimension, count in counts.items():
            try:
                count[units.parse(text, dimension).unit] += 1
            except units.UnitFault:
                continue
    del counts["pressure"]["Pa"]  # the ambient pressure, as a weather station gives it
    length, pressure = (next(iter(dict(count.most_common(1))), None) for count in counts.values())
    return units.System(metric=length != "in", bar=pressure not in (None, "psi"), beside=False)


def _texts(value: Any) -> Iterator[str]:
    """Every value in quotes, in the order of the file."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)
