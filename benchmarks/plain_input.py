"""A bike for the plain script: the bench file as nested dicts of SI floats.

The shape is that of the bench file, table by table and key by key (``bike["fork"]["air"]["bore"]``), with every number as
an SI float: m, m2, m3, Pa, N, N/m, kg, K, rad. Pressures are gauge as in the file; only ``ambient_pressure`` is absolute.
A key that the file leaves out is left out here too; ``plain.py`` knows the defaults. Words (``negative``, ``by``, ...)
stay words. Nothing is checked: faults are the bench file reader's matter, and this is the second way to the numbers.

Two doors: ``from_toml`` reads a bench file with its own small table of units, ``from_bench_file`` takes the tool's own
record. A test holds that both give the same dict.
"""

from __future__ import annotations

import dataclasses
import math
import re
import tomllib
from typing import Any

Bike = dict[str, Any]

POUND_KG = 0.45359237  # exact, international pound
GRAVITY_M_PER_S2 = 9.80665  # exact, standard gravity
INCH_M = 0.0254  # exact

TO_SI = {
    "mm": 1e-3,
    "cm": 1e-2,
    "m": 1.0,
    "in": INCH_M,
    "ml": 1e-6,
    "cm^3": 1e-6,
    "l": 1e-3,
    "mm^2": 1e-6,
    "cm^2": 1e-4,
    "psi": POUND_KG * GRAVITY_M_PER_S2 / INCH_M**2,
    "bar": 1e5,
    "kPa": 1e3,
    "MPa": 1e6,
    "Pa": 1.0,
    "N": 1.0,
    "kgf": GRAVITY_M_PER_S2,
    "lbf": POUND_KG * GRAVITY_M_PER_S2,
    "N/mm": 1e3,
    "N/m": 1.0,
    "lbf/in": POUND_KG * GRAVITY_M_PER_S2 / INCH_M,
    "kg": 1.0,
    "lb": POUND_KG,
    "deg": math.pi / 180.0,
}
NUMBER_AND_UNIT = re.compile(r"([-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?) *([A-Za-z][A-Za-z^0-9/]*)")


def si(value: object) -> object:
    """One value of the file as an SI float; words, counts and tables come back as they are, tables with SI inside."""
    if isinstance(value, dict):
        return {key: si(inner) for key, inner in value.items()}
    if not isinstance(value, str):
        return value
    match = NUMBER_AND_UNIT.fullmatch(value.strip())
    if match is None:
        return value
    number, unit = float(match[1]), match[2]
    if unit == "degC":
        return number + 273.15
    if unit == "degF":
        return (number + 459.67) / 1.8
    return number * TO_SI[unit]


def from_toml(text: str) -> Bike:
    """Read the text of a bench file without the tool."""
    table = si(tomllib.loads(text))
    assert isinstance(table, dict)
    return table


def from_bench_file(record: Any) -> Bike:
    """The same dict from the tool's record; a field's word in the file stands in its metadata."""
    from topout.bench_file.model import Air

    air_words = {f.name: f.metadata["key"].word for f in dataclasses.fields(Air)}

    def table(part: Any) -> Bike:
        result: Bike = {}
        for f in dataclasses.fields(part):
            value = getattr(part, f.name)
            word = f.metadata["key"].word if "key" in f.metadata else f.name
            if dataclasses.is_dataclass(value):
                result[word] = table(value)
            elif isinstance(value, dict):
                inside = {air_words[name]: inner for name, inner in value.items() if inner is not None}
                result[word] = {k: table(v) if dataclasses.is_dataclass(v) else v for k, v in inside.items()}
            elif value is not None:
                result[word] = value
        return result

    return table(record)
