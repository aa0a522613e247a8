"""A table of the bench file that the Book holds today and that no command computes yet: the rear shock.

The commands refuse them by name (`model.REFUSED_YET`). `read_tables` reads what a person typed of such a unit with the
same reader, ranges and words as any other table, so that nothing at fault is saved; the values stay as typed.
Sources of the ranges: docs/bench-file.md; a can's shaft is the damper body that it slides on, up to 60 mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from topout.bench_file import model, read, say
from topout.bench_file.model import Air, BenchFile, Bumper, Coil, Damper, quantity
from topout.errors import Fault, FaultsFound


@dataclass(frozen=True, slots=True, kw_only=True)
class CanAir(Air):
    """A rear shock's air can: the keys of `[fork.air]`, the can sliding on the damper body."""

    shaft_m: float | None = quantity("shaft", "length", "mm", 3, 60, "diameter of the damper body the can slides on")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shock:
    """A rear shock at full extension."""

    length_m: float | None = quantity("length", "length", "mm", 50, 400, "eye to eye, at full extension")
    stroke_m: float | None = quantity("stroke", "length", "mm", 20, 120, "to the solid stop")
    body_m: float | None = quantity("body", "length", "mm", 10, 100, "outside diameter of the can")
    friction_n: float = quantity("friction", "force", "N", 0, 1000, "breakaway, without pressure", default=0)
    leverage: Any = model.pairs("leverage", "ratio", "wheel travel and leverage ratio, from wheel travel 0")
    leverage_stroke: Any = model.pairs("leverage_stroke", "stroke", "wheel travel and stroke, from wheel travel 0")
    air: CanAir | None = None
    coil: Coil | None = None
    damper: Damper | None = None
    bumper: Bumper | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeFile(BenchFile):
    """A bench file with the tables that are kept and not computed yet."""

    shock: Shock | None = None


def read_tables(data: dict[str, Any]) -> WholeFile:
    """Read tables as `read.read_tables` does, rear shocks too; raises FaultsFound with every finding."""
    whole, faults = read.content(data, WholeFile, contradictions)
    if faults:
        raise FaultsFound(faults)
    assert isinstance(whole, WholeFile)
    return whole


def read_bytes(data: bytes) -> dict[str, Any]:
    """A bench file as it came from a disk: judged whole, then its tables as typed. Raises FaultsFound with every finding."""
    return read.parsed(data, WholeFile, contradictions)


_EITHER: Final = (("shock.air", "shock.coil"), ("shock.leverage", "shock.leverage_stroke"))


def contradictions(whole: BenchFile, bad: set[str], written: dict[str, str]) -> Iterator[Fault]:
    """What speaks against itself in the tables of this room; the others are `checks`' business."""

    def fault(path: str, message: str, table: bool = False) -> Fault:
        parts = path.split(".")
        place = say.table_place(parts) if table else say.place(parts)
        return Fault(location=place, message=message, value=written.get(path, ""), key=path)

    def at(path: str) -> Any:
        here: Any = whole
        for word in path.split("."):
            table: type = type(here)
            keys = model.keys(table) if here is not None else {}
            here = getattr(here, keys[word][0] if word in keys else word, None)
        return None if path in bad else here

    for first, second in _EITHER:
        if at(first) is not None and at(second) is not None:
            where = say.table_place(first.split(".")) if first.endswith("air") else say.place(first.split("."))
            yield fault(second, f"{where} stands too; give one of them.", table=second.endswith("coil"))
    body, bore, outside = at("shock.air.shaft"), at("shock.air.bore"), at("shock.body")
    if body is not None and bore is not None and body >= bore:
        yield fault("shock.air.shaft", f"the can slides on it: below the bore, {written['shock.air.bore']}.")
    if outside is not None and bore is not None and outside <= bore:
        yield fault("shock.body", f"the can's outside: above its bore, {written['shock.air.bore']}.")
    length, stroke = at("shock.length"), at("shock.stroke")
    if length is not None and stroke is not None and stroke >= length:
        yield fault("shock.stroke", f"a stroke is shorter than the shock, {written['shock.length']} eye to eye.")
    negative = at("shock.air.negative")
    for word, way in (("negative_pressure", "separate-valve"), ("negative_coil", "coil")):
        if negative is not None and negative != way and at(f"shock.air.{word}") is not None:
            yield fault(f"shock.air.{word}", f'belongs to negative = "{way}"; here negative is "{negative}".')
    spacers, most = at("shock.air.spacers"), at("shock.air.spacer_limit")
    if spacers is not None and most is not None and spacers > most:
        yield fault("shock.air.spacers", f"at most {most} may be fitted.")
    bind, preload = at("shock.coil.bind"), at("shock.coil.preload")
    if bind is not None and preload is not None and preload >= bind:
        yield fault("shock.coil.preload", f"the coils would touch: below {written['shock.coil.bind']}.")
