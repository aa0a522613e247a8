"""The values of a bench file that are not exact: drawn, and put into the columns that they stand in.

In a file in which something is drawn or carries an uncertainty, what was found, the gauge's pressures and the front share
carry those of physics.md 12, unless they are written with their own. All else that is written without one is exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.bench_file import checks, model, say
from topout.bench_file import settles as settled
from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.planner import design as designs
from topout.planner import typical, typical_can
from topout.planner.design import Changes, Design
from topout.uncertainty import draws
from topout.uncertainty.doubt import Doubt
from topout.uncertainty.draws import Floats

# Read by the job's one gauge: its gain and zero are common to all of them.
BY_GAUGE: Final = (
    "fork.air.pressure", "fork.air.negative_pressure", "fork.air.second_pressure", "found.pressure", "change.pressure", "change.air.pressure",
    "change.air.negative_pressure", "change.air.second_pressure", "shock.air.pressure", "shock.air.negative_pressure",
    "shock.air.second_pressure", "change.shock.pressure",
)  # fmt: skip
MOST_REDRAWN: Final = 0.01  # a larger share of draws outside what a key allows is reported (physics.md 10)
# Tables of the file and the columns that hold them; what no model takes (a maker's limit) stands in none.
_DESIGN: Final = {
    "conditions": "conditions", "rider": "rider", "bike": "bike", "frame": "frame", "front_wheel": "front_wheel",
    "rear_wheel": "rear_wheel", "fork": "fork", "fork.air": "air", "fork.air.negative_coil": "negative_coil",
    "fork.coil": "coil", "fork.lower_legs": "lower_legs", "fork.damper": "damper", "fork.bumper": "bumper", "fork.top_out": "top_out",
    "found": "found",
}  # fmt: skip
_CHANGES: Final = {
    "change": "asked", "change.air": "air", "change.air.negative_coil": "negative_coil",
    "change.coil": "coil", "change.front_wheel": "front_wheel", "change.rear_wheel": "rear_wheel", "change.shock": "shock",
}  # fmt: skip
_SHOCK: Final = {
    "shock": "unit", "shock.air": "air", "shock.air.negative_coil": "negative_coil", "shock.coil": "coil",
    "shock.damper": "damper", "shock.bumper": "bumper",
}  # fmt: skip
_READING: Final = "found.reading"


@dataclass(frozen=True, slots=True, eq=False)
class Doubted:
    """The draws of each value that is not exact, by the place of its key, (n,) in SI; and where more than a few had to be
    drawn anew, what share of them."""

    values: Mapping[str, Floats]
    redrawn: tuple[tuple[str, float], ...]

    def of(self, place: str, otherwise: Any) -> Any:
        """The draws of a value, or what it is where it is exact.

        place [-] (one) of a key; otherwise [SI] (one) the exact value or None → [SI] (n,) or that. Raises nothing. Source: none needed,
        bookkeeping.
        """
        return self.values.get(place, otherwise)


def written(bench: BenchFile) -> dict[str, Doubt]:
    """The doubts that a file writes, by the place of their key.

    bench [SI] (one) as read → [SI] (any). Raises nothing. Source: bench-file.md.
    """
    return {off.key: off for off in bench.doubts}


def usual(bench: BenchFile) -> dict[str, Doubt]:
    """What is not exact though no uncertainty stands there: what was found, and the front share. Gauges see `BY_GAUGE`.

    bench [SI] (one) as read → [SI] (any) by place. Raises nothing. Source: physics.md 12, bench-file.md.
    """
    found, rider = bench.found, bench.rider
    usual: dict[str, Doubt] = {}
    if rider is not None and rider.front_share is not None:
        usual["rider.front_share"] = share(bench)
    if bench.shock is not None and bench.shock.sag_m is not None:
        usual["shock.sag"] = typical_can.SAG_DOUBT
    if found is not None:
        usual |= {"found.sag": ring(bench), "found.read_at": typical.TAPE_DOUBT}
        usual |= {f"{_READING}.{n}.travel": typical.TAPE_DOUBT for n in range(len(found.readings))}
    return usual


def share(bench: BenchFile) -> Doubt:
    """How far the front share may be off, wider where the sag was found in another posture than it is of.

    bench [SI] (one) as read → [1] (one). Raises nothing. Source: physics.md 12.
    """
    at, of = (held.posture if held else None for held in (bench.found, bench.rider))
    other = at is not None and of is not None and " ".join(at.lower().split()) != " ".join(of.lower().split())
    return typical.OTHER_POSTURE_DOUBT if other else typical.FRONT_SHARE_DOUBT


def settles(bench: BenchFile) -> tuple[int, int] | None:
    """How often the sag was found from above and from below; None for once, nobody knows from where.

    bench [SI] (one) as read → [1] (2) or None. Raises nothing. Source: bench-file.md.
    """
    text = bench.found.settles if bench.found else None
    return None if text is None else settled.counted(text)


def ring(bench: BenchFile) -> Doubt:
    """How far the sag found may be off for ring and posture, the mean of as many settles as there were.

    bench [SI] (one) as read → [m] (one). Raises nothing. Source: physics.md 12.
    """
    return typical.sag_doubt(sum(settles(bench) or (1,)))


def stood(bench: BenchFile, chance: np.random.Generator, count: int) -> Floats:
    """Where in its band of friction a fork stands at the mean of its settles: 1 held out all friction can, −1 held in.

    One that comes from above stops anywhere in the upper half, one from below in the lower; one of which nobody knows
    stops anywhere.

    bench [SI] (one) as read; chance [-] (one) a stream; count [1] (one) 1 and more → [1] (count,) −1 to 1. Raises nothing.
    Source: physics.md 7 and 12.
    """
    times = settles(bench)
    if times is None:
        return draws.uniform(chance, -1.0, 1.0, count)
    above, below = times
    each = [draws.uniform(chance, 0.0, 1.0, count) for _ in range(above)]
    each += [draws.uniform(chance, -1.0, 0.0, count) for _ in range(below)]
    mean: Floats = np.mean(each, axis=0)
    return mean


def drawn(bench: BenchFile, seed: int, count: int) -> Doubted:
    """Draw every value of a file that is not exact, the gauge's own aside.

    bench [SI] (one) as read; seed [1] (one) 0 and more; count [1] (one) 1 and more → [SI] (count,) by place. Raises
    FaultsFound at an uncertainty that no model takes yet. Source: physics.md 10 and 12.
    """
    own = written(bench)
    faults = [
        _not_taken(off) for off in own.values() if _table(off.key) not in {*_DESIGN, *_CHANGES, *_SHOCK, _READING}
    ]
    if faults:
        raise FaultsFound(faults)
    values, redrawn = {}, []
    for place, off in {**usual(bench), **own}.items():
        value = value_at(bench, place)
        if (
            value is None or place.startswith(_READING) and not place.endswith(".hose")
        ):  # `far_in` integrates over those
            continue
        key = key_at(place)
        assert key is not None and key.low_si is not None and key.high_si is not None
        limits = (key.low_si, key.high_si)
        values[place], outside = draws.doubted(draws.stream(seed, place), value, off, limits, count)
        if outside > MOST_REDRAWN:
            redrawn.append((place, outside))
    return Doubted(values, tuple(redrawn))


def _not_taken(off: Doubt) -> Fault:
    where = say.place(off.key.split("."))
    return Fault(where, "no uncertainty is computed here yet; give the value alone.", off.text, key=off.key)


def key_at(place: str) -> model.Key | None:
    """The key at a place, also of one of the readings: "found.reading.0.travel".

    place [-] (one) of a key → [-] (one) or None. Raises nothing. Source: bench-file.md.
    """
    if place.startswith(f"{_READING}."):
        return model.keys(model.Reading)[place.rpartition(".")[2]][1]
    return checks.key_at(tuple(place.split(".")))


def value_at(bench: BenchFile, place: str) -> Any:
    """The value at a place, also of one of the readings; None where it is left out.

    bench [SI] (one) as read; place [-] (one) of a key → [SI] (one) or None. Raises nothing. Source: bench-file.md.
    """
    if place.startswith(f"{_READING}."):
        number, _, word = place.removeprefix(f"{_READING}.").partition(".")
        return getattr(bench.found.readings[int(number)], model.keys(model.Reading)[word][0]) if bench.found else None
    return checks.value_at(bench, tuple(place.split(".")))


def put_in(design: Design, bench: BenchFile, values: Mapping[str, Floats]) -> Design:
    """The bikes with these values in their columns; a chart that does not say its wheels was drawn for those fitted.

    design [SI] (n,) of that file; bench [SI] (one) as read; values [SI] (n,) by place → [SI] (n,). Raises nothing.
    Source: none needed, bookkeeping.
    """
    put: Design = _put(design, _DESIGN, values)
    if put.shock is not None:
        put = replace(put, shock=_put(put.shock, _SHOCK, values))
    return designs.drawn_for_its_wheels(put, bench.frame)


def put_in_changes(changes: Changes, values: Mapping[str, Floats]) -> Changes:
    """What is asked for with these values in their columns.

    changes [SI] (n,) of that file; values [SI] (n,) by place → [SI] (n,). Raises nothing. Source: none needed,
    bookkeeping.
    """
    put: Changes = _put(changes, _CHANGES, values)
    return put


def _put(into: Any, tables: Mapping[str, str], values: Mapping[str, Floats]) -> Any:
    moved: dict[str, dict[str, Floats]] = {}
    for place, drawn_values in values.items():
        table = tables.get(_table(place))
        column = _attribute(place)
        if table is not None and column in type(getattr(into, table)).__slots__:
            moved.setdefault(table, {})[column] = drawn_values
    return replace(into, **{table: replace(getattr(into, table), **columns) for table, columns in moved.items()})


def _table(place: str) -> str:
    return _READING if place.startswith(f"{_READING}.") else place.rpartition(".")[0]


def _attribute(place: str) -> str:
    """The name of a key's value in the model, `bore` → `bore_m`."""
    table: type = model.BenchFile
    *home, word = place.split(".")
    for each in home:
        inner = model.subtables(table)
        table = inner[each] if each in inner else model.NegativeCoil
    return model.keys(table)[word][0]
