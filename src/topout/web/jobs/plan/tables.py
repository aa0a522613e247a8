"""The tables of the plan page: before, after, difference of the figures shown; the values of the pictures."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.utils.safestring import SafeString, mark_safe

from topout.bench_file.model import Air, BenchFile, Key, NegativeCoil, keys
from topout.documents.charts import Side
from topout.units import NO_BREAK, digits, from_si
from topout.web.jobs.core.figures import ISO_4210_6_LOAD_N, Curve, Plan, Stance, State, fork_length_m, room

Value = float | None
GRAIN_N = 10  # forces are said to 10 N


@dataclass(frozen=True, slots=True)
class Cell:
    """A figure split at its decimal sign, so that a column aligns on it."""

    whole: str
    fraction: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One line: its name with the unit, cells, and whether it heads a group."""

    name: str
    cells: tuple[Cell, ...] = ()
    group: bool = False

    @property
    def columns(self) -> SafeString:
        """Its cells as table cells: before, after, difference, and again. Figures only, so nothing needs escaping.

        Written here and not in the template: a hundred cells a move cost a template 10 ms, this under 1.
        """
        kinds = ("n was", "n is", "n", "n was gap", "n is", "n")
        return mark_safe("".join(_td(kind, one) for kind, one in zip(kinds, self.cells, strict=False)))

    @property
    def plain_columns(self) -> SafeString:
        """The same without a meaning of their places."""
        return mark_safe("".join(_td("n", one) for one in self.cells))


NONE = Cell("–")


def _td(kind: str, one: Cell) -> str:
    return f'<td class="{kind}">{one.whole}<i>{one.fraction}</i></td>'


def cell(value: Value, places: int = 0, *, signed: bool = False, grain: float = 0) -> Cell:
    """A number of the table; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return NONE
    if grain:
        value = round(value / grain) * grain
    whole, point, fraction = digits(value, places, signed=signed).partition(".")
    return Cell(whole, point + fraction)


def _shown(value: Value, places: int, grain: float) -> Value:
    if value is None or not math.isfinite(value):
        return None
    return round(value / grain) * grain if grain else round(value, places)


def line(name: str, was: Value, now: Value, places: int = 0, grain: float = 0) -> Row:
    """Before, after, and the difference of what is shown."""
    a, b = _shown(was, places, grain), _shown(now, places, grain)
    difference = None if a is None or b is None else b - a
    return Row(
        name, (cell(was, places, grain=grain), cell(now, places, grain=grain), cell(difference, places, signed=True))
    )


def compared(bench: BenchFile, changed: BenchFile, plan: Plan) -> list[Row]:
    """Set, spring, room. Rows of which neither state knows anything are left out."""

    def both(name: str, get: Callable[[BenchFile], Value], places: int = 0) -> Row:
        return line(name, get(bench), get(changed), places)

    air = bench.fork.air if bench.fork else None
    each = f", {_ml(air.spacer_volume_m3)} each" if air is not None and air.spacer_volume_m3 is not None else ""
    limit = bench.frame.fork_length_limit_m if bench.frame else None
    one, two = plan.before, plan.after
    curve_a, curve_b = plan.curve_before, plan.curve_after
    groups = {
        "Set": [
            both("Travel, mm", lambda b: _mm(b.fork.travel_m if b.fork else None)),
            both(f"Volume spacers{each}", lambda b: float(b.fork.air.spacers) if b.fork and b.fork.air else None),
            both("Pressure, psi", lambda b: _pressure(b, "psi"), _psi_places(bench, changed)),
            both("Pressure, bar", lambda b: _pressure(b, "bar"), 2),
        ],
        "Air spring": _part(bench, changed),
        "Spring": [
            line("Sag, mm", front(one, "travel_m", 1e3), front(two, "travel_m", 1e3), 1),
            line("Sag, % of travel; difference in points", front(one, "share", 100), front(two, "share", 100), 1),
            line("Sag at the least, mm", front(one, "low_m", 1e3), front(two, "low_m", 1e3), 1),
            line("Sag at the most, mm", front(one, "high_m", 1e3), front(two, "high_m", 1e3), 1),
            line("End of travel, slow, N", one.end_force_n, two.end_force_n, 0, GRAIN_N),
            line("End of travel, fast, N", _fast(curve_a), _fast(curve_b), 0, GRAIN_N),
            line("Energy to the end, slow, J", *_energies(curve_a, curve_b)),
            line("Compression ratio", _ratio(curve_a), _ratio(curve_b), 2),
        ],
        "Room": [
            both(f"Fork length{f', limit {digits(limit * 1e3, 0)}' if limit else ''}, mm", lambda b: _mm(fork_length_m(b))),
            both("Tyre to crown, bottomed, mm", lambda b: _mm(room(b).tyre_to_crown_m), 1),
            both(f"… under {digits(ISO_4210_6_LOAD_N, 0)}{NO_BREAK}N, mm", _under_load, 1),
            both("Tyre to brace, mm", lambda b: _mm(room(b).tyre_to_brace_m), 1),
            both("Rear tyre to frame, mm", lambda b: _mm(room(b).rear_tyre_to_frame_m), 1),
        ],
    }  # fmt: skip
    rows: list[Row] = []
    for title, group in groups.items():
        known = [row for row in group if any(c != NONE for c in row.cells)]
        if known:
            rows += [Row(title, group=True), *known]
    return rows


def _part(bench: BenchFile, changed: BenchFile) -> list[Row]:
    """What of the air spring itself is another: one row for each key that differs, in the unit its key is written in."""
    one, two = (b.fork.air if b.fork is not None else None for b in (bench, changed))
    if one is None or two is None:
        return []
    rows = []
    for word, (attribute, key) in keys(Air).items():
        was, now = getattr(one, attribute), getattr(two, attribute)
        if was == now or attribute in ("spacers", "pressure_gauge_pa"):
            continue
        name = word.replace("_", " ").capitalize()
        if key.kind == "coil":
            rows += [
                line(f"{name}, {coil.word}, {coil.unit}", _in(was, inner, coil), _in(now, inner, coil), 1)
                for inner, coil in keys(NegativeCoil).values()
            ]
        elif key.kind == "choice":
            rows.append(Row(name, (Cell(was.replace("-", " ")), Cell(now.replace("-", " ")), NONE)))
        else:
            unit = f", {key.unit}" if key.unit else ""
            rows.append(line(name + unit, _in(one, attribute, key), _in(two, attribute, key), 1 if key.unit else 0))
    return rows


def _in(table: Any, attribute: str, key: Key) -> Value:
    """A value of the bench file in the unit that its key is written in; None where it is not given."""
    value = None if table is None else getattr(table, attribute)
    return from_si(value, key.unit, key.dimension) if value is not None and key.dimension else value


STANCE = (
    ("Head angle, °", "head_angle_rad", math.degrees(1), 1), ("Seat angle, °", "seat_angle_rad", math.degrees(1), 1),
    ("Trail, mm", "trail_m", 1e3, 0), ("Wheel flop, mm", "wheel_flop_m", 1e3, 0),
    ("Bottom bracket, mm", "bb_height_m", 1e3, 0), ("Reach, mm", "reach_m", 1e3, 0), ("Stack, mm", "stack_m", 1e3, 0),
    ("Wheelbase, mm", "wheelbase_m", 1e3, 0), ("Front centre, mm", "front_centre_m", 1e3, 0),
)  # fmt: skip


def stances(plan: Plan) -> list[Row]:
    """Unloaded and at sag, three figures each; empty without a frame."""
    one, two = plan.before.geometry, plan.after.geometry
    if one is None or two is None:
        return []
    rows = []
    for name, attribute, factor, places in STANCE:

        def get(stance: Stance | None, attribute: str = attribute, factor: float = factor) -> Value:
            return None if stance is None else getattr(stance, attribute) * factor

        free = line(name, get(one.unloaded), get(two.unloaded), places)
        at_sag = line(name, get(one.sagged), get(two.sagged), places)
        rows.append(Row(name, free.cells + (at_sag.cells if one.sagged and two.sagged else ())))
    return rows


def along_the_travel(sides: tuple[Side, ...]) -> list[Row]:
    """Forces at every 20 mm and at the ends: slow and fast of each state; a dash where a line is not drawn."""
    if not sides:
        return []
    ends = {side.end_mm for side in sides}
    stops = sorted({float(mm) for mm in np.arange(0, max(ends), 20)} | ends)
    columns: list[list[Cell]] = []
    for side in sides:
        x = side.curve.travel_m * 1e3
        for y, start in ((side.curve.force_n, 0.0), (side.fast_n, side.fast_from_m * 1e3)):
            at = np.interp(stops, x, y)
            drawn = [start - 1e-9 <= mm <= side.end_mm + 1e-9 for mm in stops]
            columns.append([cell(float(v), grain=GRAIN_N) if ok else NONE for v, ok in zip(at, drawn, strict=True)])
    names = [digits(mm, 0 if abs(mm - round(mm)) < 0.05 else 1) for mm in stops]
    return [Row(name, tuple(column[i] for column in columns)) for i, name in enumerate(names)]


def _mm(value: Value) -> Value:
    return None if value is None else value * 1e3


def _ml(value: float) -> str:
    return f"{digits(value * 1e6, 0 if abs(value * 1e6 - round(value * 1e6)) < 0.05 else 1)}{NO_BREAK}ml"


def _pressure(bench: BenchFile, unit: str) -> Value:
    air = bench.fork.air if bench.fork else None
    return None if air is None or air.pressure_gauge_pa is None else from_si(air.pressure_gauge_pa, unit, "pressure")


def _psi_places(*benches: BenchFile) -> int:
    """Whole psi where both pressures are."""
    values = [_pressure(bench, "psi") for bench in benches]
    return 0 if all(v is None or abs(v - round(v)) < 0.05 for v in values) else 1


def front(state: State, name: str, factor: float) -> Value:
    front: Any = state.sag.front if state.sag is not None else None
    value = None if front is None else getattr(front, name)
    return None if value is None else value * factor


def _fast(curve: Curve | None) -> Value:
    if curve is None:
        return None
    line_n = curve.force_fast_n if curve.force_fast_from_sag_n is None else curve.force_fast_from_sag_n
    return float(line_n[-1])


def _ratio(curve: Curve | None) -> Value:
    return None if curve is None else float(curve.positive_pa[-1] / curve.positive_pa[0])


def _energies(before: Curve | None, after: Curve | None) -> tuple[Value, Value]:
    return (before.energy_j if before else None), (after.energy_j if after else None)


def _under_load(bench: BenchFile) -> Value:
    """Tyre to crown less what 2,800 N add to a travel measured by hand."""
    gap = room(bench).tyre_to_crown_m
    over = bench.fork.overtravel_m if bench.fork else 0.0
    return None if gap is None or over == 0.0 else (gap - over) * 1e3
