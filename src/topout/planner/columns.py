"""The bench file's tables as columns: one array a key, one element a bike, SI; NaN where a file says nothing.

The fields bear the names of `bench_file.model`, so that a table is read by name and written back by name. A part that is
not there at all has no area, rate or length, and adds nothing; one that is there and half written has NaN, which whatever
needs it inherits. Words are numbers: their place in the list of words that the file knows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any, ClassVar, Final

import numpy as np

from topout.bench_file import model
from topout.physics.gas import Bools, Floats

# Words of a key: the key's attribute -> the words, whose place is the number in the column.
WORDS: Final[dict[str, tuple[str, ...]]] = {
    "negative": model.NEGATIVE_KINDS,
    "by": model.TRAVEL_WAYS,
    "bb_drop_from": model.BB_DROP_FROM,
}


class Columns:
    """What every table of columns can do; its fields are arrays of one shape, (n,) as read.

    Each table has a line of its own: without one `dataclass` writes its signature there, which costs more than the rest of it. They
    are not frozen, which would cost as much again seventeen times at every start; nobody writes into their fields all the same.
    """

    __slots__ = ()
    ABSENT: ClassVar[Any] = None  # stands in for a table that is left out

    @classmethod
    def of(cls, tables: Sequence[Any]) -> Any:
        """Read tables of the bench file, None where one is left out, or the dict of what a change names.

        tables [SI] (n) tables of the bench file, or None → [SI] (n,). Raises nothing. Source: none needed, bookkeeping.
        """
        names, read = _reader(cls)
        rows = [_named(table, names) if isinstance(table, dict) else read(table or cls.ABSENT) for table in tables]
        made = {}
        for name, column in zip(names, zip(*rows, strict=True), strict=True):
            if name in WORDS:
                made[name] = np.array([np.nan if word is None else WORDS[name].index(word) for word in column])
            else:
                made[name] = np.array(column, dtype=float)
        return cls(**made)

    def take(self, index: Any) -> Any:
        """The same for a part of the bikes (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        names, _ = _reader(type(self))
        return type(self)(**{name: _part(getattr(self, name), index) for name in names})

    def repeated(self, count: int) -> Any:
        """The one bike of these columns so many times, none of it copied.

        count [1] (one) 1 and more → [SI] (count,) not to be written into. Raises nothing. Source: none needed, bookkeeping.
        """
        names, _ = _reader(type(self))
        return type(self)(**{name: np.broadcast_to(getattr(self, name), (count,)) for name in names})

    def named_over(self, old: Any) -> Any:
        """What these columns name, and the old ones' value where they name nothing.

        old [SI] (n,) the same table → [SI] (n,). Raises nothing. Source: none needed, bookkeeping.
        """
        names, _ = _reader(type(self))
        return type(self)(**{name: first_known(getattr(self, name), getattr(old, name)) for name in names})


def _part(column: Any, index: Any) -> Any:
    """Those of a column; of one value repeated by `repeated` so many of it, none of it copied."""
    if column.ndim == 1 and column.strides[0] == 0 and isinstance(index, np.ndarray) and index.dtype.kind == "i":
        return np.broadcast_to(column[:1].reshape((1,) * index.ndim), index.shape)
    return column[index]


_READERS: dict[type, tuple[tuple[str, ...], Any]] = {}


def _reader(table: type) -> tuple[tuple[str, ...], Any]:
    """A table's names, and what reads them all off an object."""
    if table not in _READERS:
        names: tuple[str, ...] = table.__slots__  # type: ignore[attr-defined]
        _READERS[table] = names, attrgetter(*names)
    return _READERS[table]


def _named(table: dict[str, Any], names: tuple[str, ...]) -> tuple[Any, ...]:
    return tuple(table.get(name) for name in names)


def first_known(*values: Any) -> Any:
    """Element by element the first that is not NaN; arrays or floats, any unit, NaN where none is known.

    values [SI] (…) one unit, NaN where not known → [SI] (…). Raises nothing. Source: none needed, bookkeeping.
    """
    first, *others = values
    unknown = np.isnan(first)
    if not others or not unknown.any():
        return first
    return np.where(unknown, first_known(*others), first)


def is_word(column: Floats, key: str, word: str) -> Bools:
    """Where a column of words holds this one.

    column [-] (n,) places in a list of words; key, word [-] (one) as in WORDS → [-] (n,). Raises KeyError and
    ValueError at a word that is not there. Source: none needed, bookkeeping.
    """
    return np.asarray(column == WORDS[key].index(word))


@dataclass(slots=True, eq=False, repr=False)
class Conditions(Columns):
    """Of `[conditions]`."""

    ABSENT: ClassVar[Any] = model.Conditions()

    altitude_m: Floats
    ambient_abs_pa: Floats
    fast_exponent: Floats


@dataclass(slots=True, eq=False, repr=False)
class Rider(Columns):
    """Of `[rider]`."""

    ABSENT: ClassVar[Any] = model.Rider()

    mass_kg: Floats
    front_share: Floats


@dataclass(slots=True, eq=False, repr=False)
class Bike(Columns):
    """Of `[bike]`."""

    ABSENT: ClassVar[Any] = model.Bike()

    mass_kg: Floats
    unsprung_front_kg: Floats
    unsprung_rear_kg: Floats


@dataclass(slots=True, eq=False, repr=False)
class Frame(Columns):
    """Of `[frame]`."""

    ABSENT: ClassVar[Any] = model.Frame()

    head_angle_rad: Floats
    seat_angle_rad: Floats
    reach_m: Floats
    stack_m: Floats
    chainstay_m: Floats
    bb_drop_m: Floats
    bb_drop_from: Floats
    fork_length_m: Floats
    fork_length_straight_m: Floats
    fork_offset_m: Floats
    front_radius_m: Floats
    rear_radius_m: Floats
    rear_tyre_room_m: Floats


@dataclass(slots=True, eq=False, repr=False)
class Wheel(Columns):
    """Of a wheel, `[front_wheel]` or `[rear_wheel]`."""

    ABSENT: ClassVar[Any] = model.Wheel()

    bead_seat_m: Floats
    tyre_height_m: Floats
    radius_m: Floats
    sag_m: Floats


@dataclass(slots=True, eq=False, repr=False)
class Fork(Columns):
    """Of `[fork]`."""

    ABSENT: ClassVar[Any] = model.Fork()

    length_m: Floats
    length_straight_m: Floats
    offset_m: Floats
    travel_m: Floats
    tyre_room_m: Floats
    brace_room_m: Floats
    friction_n: Floats
    friction_per_bar_n: Floats
    friction_side: Floats


@dataclass(slots=True, eq=False, repr=False)
class Air(Columns):
    """Of `[fork.air]`, or a shock's."""

    ABSENT: ClassVar[Any] = model.Air()

    bore_m: Floats
    shaft_m: Floats
    positive_volume_m3: Floats
    negative_volume_m3: Floats
    negative: Floats
    port_position_m: Floats
    port_length_m: Floats
    spacers: Floats
    spacer_volume_m3: Floats
    oil_on_piston_m3: Floats
    grease_in_negative_m3: Floats
    pressure_gauge_pa: Floats
    negative_pressure_gauge_pa: Floats
    second_volume_m3: Floats
    second_pressure_gauge_pa: Floats


@dataclass(slots=True, eq=False, repr=False)
class NegativeCoil(Columns):
    """Of `[fork.air.coil]`."""

    ABSENT: ClassVar[Any] = model.NegativeCoil()

    rate_n_per_m: Floats
    length_m: Floats


@dataclass(slots=True, eq=False, repr=False)
class Coil(Columns):
    """Of `[fork.coil]`, or a shock's."""

    ABSENT: ClassVar[Any] = model.Coil()

    rate_n_per_m: Floats
    preload_m: Floats
    bind_m: Floats


# In place of the air where a spring is a coil: a space without an area, at ambient.
NO_AIR: Final = model.Air(
    bore_m=0.0, shaft_m=0.0, positive_volume_m3=1.0, negative="none", port_position_m=0.0, pressure_gauge_pa=0.0
)


@dataclass(slots=True, eq=False, repr=False)
class LowerLegs(Columns):
    """Of `[fork.lower_legs]`."""

    ABSENT: ClassVar[Any] = model.LowerLegs(air_volume_m3=1.0, area_m2=0.0)

    air_volume_m3: Floats
    area_m2: Floats


@dataclass(slots=True, eq=False, repr=False)
class Damper(Columns):
    """Of `[fork.damper]`."""

    ABSENT: ClassVar[Any] = model.Damper(rod_m=0.0, gas_pressure_gauge_pa=0.0, gas_volume_m3=1.0)

    rod_m: Floats
    gas_pressure_gauge_pa: Floats
    gas_volume_m3: Floats


@dataclass(slots=True, eq=False, repr=False)
class Bumper(Columns):
    """Of a bumper, at either end."""

    ABSENT: ClassVar[Any] = model.Bumper(length_m=1.0, rate_n_per_m=0.0, power=1.0)

    length_m: Floats
    rate_n_per_m: Floats
    power: Floats


@dataclass(slots=True, eq=False, repr=False)
class Shock(Columns):
    """Of `[shock]`."""

    ABSENT: ClassVar[Any] = model.Shock()

    length_m: Floats
    stroke_m: Floats
    friction_n: Floats
    sag_m: Floats


@dataclass(slots=True, eq=False, repr=False)
class Leverage(Columns):
    """Tables of wheel travel [m] and ratio [1] or stroke [m], (n, K), NaN after a table's last point; which of the two, (n,)."""

    travel_m: Floats
    value: Floats
    of_stroke: Bools

    @classmethod
    def of(cls, tables: Sequence[Any]) -> Leverage:
        """Read the leverage tables of rear shocks, None where a bike has none.

        tables [SI] (n) shocks of the bench file, or None → [SI] (n, K). Raises nothing. Source: none needed, bookkeeping.
        """
        rows = [(table.leverage or table.leverage_stroke or ()) if table else () for table in tables]
        travel, value = np.full((2, len(rows), max(2, *map(len, rows))), np.nan)
        for row, pairs in enumerate(rows):
            if pairs:
                travel[row, : len(pairs)], value[row, : len(pairs)] = np.array(pairs).T
        return cls(travel, value, np.array([bool(table and table.leverage_stroke) for table in tables]))


@dataclass(slots=True, eq=False, repr=False)
class Found(Columns):
    """Of `[found]`."""

    ABSENT: ClassVar[Any] = model.Found()

    sag_m: Floats
    pressure_gauge_pa: Floats
    read_at_m: Floats


@dataclass(slots=True, eq=False, repr=False)
class Asked(Columns):
    """The keys of `[change]` itself; its wheels and air spring are tables of their own."""

    ABSENT: ClassVar[Any] = model.Change()

    travel_m: Floats
    by: Floats
    spacer_solid_volume_m3: Floats
    spacers: Floats
    pressure_gauge_pa: Floats
    offset_m: Floats
    fork_length_m: Floats


@dataclass(slots=True, eq=False, repr=False)
class ShockAsked(Columns):
    """The keys of `[change.shock]`."""

    ABSENT: ClassVar[Any] = model.ShockChange()

    stroke_m: Floats
    spacers: Floats
    spacer_volume_m3: Floats
    pressure_gauge_pa: Floats
    rate_n_per_m: Floats
    preload_m: Floats
    bind_m: Floats
