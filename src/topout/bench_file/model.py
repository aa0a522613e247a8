"""One bike with what is fitted to it, as frozen dataclasses in SI.

Every field carries its entry of the bench file as metadata (`Key`): the word in the file, what kind of value it is,
the unit people use, limits, choices, default, whether the table is of use without it. Reader, writer, forms, the
documentation and the bad-input tests are generated from these entries, so a key stands here and nowhere else.

An absent optional value is None; a default of the file is the field's default. Pressures are gauge and say so, but
for `ambient_abs_pa`. Sources: docs/bench-file.md; ranges there.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from typing import Any, Final, Literal

from topout.bench_file.guesses import Guessed
from topout.bench_file.key import MOST_PRESSURE_PA, choice, count, entry, number, text
from topout.bench_file.key import Key as Key
from topout.bench_file.key import key_of as key_of
from topout.bench_file.key import pairs as pairs
from topout.bench_file.key import quantity as quantity
from topout.uncertainty.doubt import Doubt

NEGATIVE_KINDS: Final = ("self-equalising", "separate-valve", "coil", "none")
TRAVEL_WAYS: Final = ("shaft", "piston-spacer", "chassis")
End = Literal["front", "rear"]
ENDS: Final = ("front", "rear")
BB_DROP_FROM: Final = ("rear axle", "front axle", "axle line")
# What a wheel is called by, in inches, and the bead seat of its rim (ISO 5775).
BEAD_SEATS_MM: Final = {29.0: 622, 28.0: 622, 27.5: 584, 26.0: 559, 24.0: 507}
# Tables whose standing there says something: a load to be worked out, gas in a damper. Without a key they say nothing.
MEANT: Final = frozenset({
    "found", "ride", "fork.coil", "fork.lower_legs", "fork.damper", "fork.bumper", "fork.top_out", "shock", "shock.air",
    "shock.coil", "shock.damper", "shock.bumper", "change", "change.air", "change.coil", "change.shock",
    "change.front_wheel", "change.rear_wheel", "guessed",
})  # fmt: skip


def _frame_length(word: str, says: str, *, needed: bool = False, low: float = 50) -> Any:
    return quantity(word, "length", "mm", low, 2000, says, needed=needed)


def _pressure(word: str, says: str, *, needed: bool = False) -> Any:
    return entry(None, Key(word, "quantity", "pressure", "psi", 0.0, MOST_PRESSURE_PA, (), needed, says))


def _volume(word: str, says: str, *, default: float | None = None, needed: bool = False, low: float = 0) -> Any:
    return quantity(word, "volume", "ml", low, 3000, says, default=default, needed=needed)


ABOVE_ZERO_ML: Final = 0.1  # positive volumes are "above 0": nothing smaller than a drop is a chamber


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Where it is worked on."""

    temperature_k: float = quantity(
        "temperature", "temperature", "degC", -40, 60, "air where it is worked on", default=20
    )
    altitude_m: float | None = quantity("altitude", "length", "m", -400, 6000, "geometric height above sea level")
    ambient_abs_pa: float | None = quantity(
        "ambient_pressure", "pressure", "Pa", 30_000, 120_000, "absolute; in place of altitude"
    )
    fast_exponent: float = number("fast_exponent", 1, 1.4, "polytropic exponent of a riding stroke", default=1.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """Who rides."""

    mass_kg: float | None = quantity("mass", "mass", "kg", 10, 250, "dressed to ride", needed=True)
    front_share: float | None = number("front_share", 0.1, 0.9, "of rider and bike weight, on the front wheel")
    posture: str | None = text("posture", "that the front share is of: how the rider rides")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ride:
    """Where it is ridden, if elsewhere: `topout ride` alone reads it."""

    temperature_k: float | None = quantity(
        "temperature", "temperature", "degC", -40, 60, "air where it is ridden; as it is worked on where left out"
    )
    altitude_m: float | None = quantity("altitude", "length", "m", -400, 6000, "height above sea level; as it is worked on where left out")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Bike:
    """What the bike weighs."""

    mass_kg: float | None = quantity("mass", "mass", "kg", 3, 100, "the whole bike", needed=True)
    unsprung_front_kg: float | None = quantity("unsprung_front", "mass", "kg", 0, 30, "front wheel, brake, lower legs")
    unsprung_rear_kg: float | None = quantity(
        "unsprung_rear", "mass", "kg", 0, 40, "rear wheel, brake, part of the swing arm"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The frame as its chart gives it, at the chart's fork and wheels."""

    head_angle_rad: float | None = quantity("head_angle", "angle", "deg", 45, 90, "from horizontal", needed=True)
    seat_angle_rad: float | None = quantity("seat_angle", "angle", "deg", 45, 90, "from horizontal")
    reach_m: float | None = _frame_length("reach", "bottom bracket to top of head tube, level", needed=True)
    stack_m: float | None = _frame_length("stack", "bottom bracket to top of head tube, upright", needed=True)
    chainstay_m: float | None = _frame_length("chainstay", "bottom bracket to rear axle, straight", needed=True)
    bb_drop_m: float | None = quantity(
        "bb_drop", "length", "mm", -300, 300, "bottom bracket below the axle", needed=True
    )
    bb_drop_from: str = choice("bb_drop_from", BB_DROP_FROM, "what the drop is counted from", default="rear axle")
    fork_length_m: float | None = _frame_length(
        "fork_length", "crown race to foot of the axle, along the steering axis"
    )
    fork_length_straight_m: float | None = _frame_length("fork_length_straight", "crown race to axle, straight line")
    fork_offset_m: float | None = quantity(
        "fork_offset", "length", "mm", -50, 150, "axle ahead of the steering axis", needed=True
    )
    front_radius_m: float | None = _frame_length(
        "front_radius", "front wheel of the chart; those fitted where left out"
    )
    rear_radius_m: float | None = _frame_length("rear_radius", "rear wheel of the chart; those fitted where left out")
    fork_length_limit_m: float | None = _frame_length("fork_length_limit", "the frame maker's limit")
    head_tube_m: float | None = _frame_length("head_tube", "length of the head tube, to check the chart")
    lower_headset_m: float = quantity(
        "lower_headset", "length", "mm", 0, 60, "lower headset below the head tube", default=0
    )
    wheelbase_m: float | None = _frame_length("wheelbase", "axle to axle, to check the chart")
    front_centre_m: float | None = _frame_length("front_centre", "bottom bracket to front axle, to check the chart")
    bb_height_m: float | None = _frame_length("bb_height", "bottom bracket above ground, to check the chart")
    rear_tyre_room_m: float | None = _frame_length(
        "rear_tyre_room", "rear axle to the nearest frame part at full rear travel"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheel:
    """A wheel with its tyre: bead seat and tyre height, or the radius as measured."""

    bead_seat_m: float | None = quantity("bead_seat", "length", "mm", 200, 700, "29 in is 622 mm, 27.5 584, 26 559")
    tyre_height_m: float | None = quantity("tyre_height", "length", "mm", 10, 150, "bead seat to tread")
    radius_m: float | None = quantity("radius", "length", "mm", 100, 500, "axle to ground, as measured")
    sag_m: float | None = quantity("sag", "length", "mm", 0, 300, "rear wheel travel at sag; 0 mm on a hardtail")


@dataclass(frozen=True, slots=True, kw_only=True)
class NegativeCoil:
    """The coil in place of a negative chamber: rate and the travel over which it pushes."""

    rate_n_per_m: float = quantity("rate", "rate", "N/mm", 0.01, 200, "of the negative coil", needed=True)
    length_m: float = quantity("length", "length", "mm", 0, 300, "travel over which it pushes", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air spring at full extension."""

    bore_m: float | None = quantity("bore", "length", "mm", 10, 80, "inside diameter of the air tube", needed=True)
    shaft_m: float | None = quantity("shaft", "length", "mm", 3, 30, "diameter of the air shaft", needed=True)
    positive_volume_m3: float | None = _volume(
        "positive_volume", "at full extension, empty", needed=True, low=ABOVE_ZERO_ML
    )
    negative_volume_m3: float | None = _volume("negative_volume", "at full extension, clean", low=ABOVE_ZERO_ML)
    negative: str = choice("negative", NEGATIVE_KINDS, "what pulls against the main chamber", default="self-equalising")
    port_position_m: float | None = quantity(
        "port_position", "length", "mm", 0, 300, "where the port opens coming out; at full extension where left out"
    )
    port_length_m: float = quantity(
        "port_length", "length", "mm", 0, 100, "travel over which the port stays open", default=0
    )
    spacers: int = count("spacers", 0, 20, "volume spacers fitted", default=0)
    spacer_volume_m3: float | None = _volume("spacer_volume", "of one volume spacer", low=ABOVE_ZERO_ML)
    spacer_limit: int | None = count("spacer_limit", 0, 20, "the most that may be fitted")
    oil_on_piston_m3: float = _volume("oil_on_piston", "oil on the air piston", default=0)
    grease_in_negative_m3: float = _volume("grease_in_negative", "grease or oil in the negative chamber", default=0)
    pressure_gauge_pa: float | None = _pressure("pressure", "at full extension, settled", needed=True)
    pressure_limit_gauge_pa: float | None = _pressure("pressure_limit", "the maker's limit")
    negative_pressure_gauge_pa: float | None = _pressure("negative_pressure", "of a separate valve, at full extension")
    negative_coil: NegativeCoil | None = entry(
        None, Key("negative_coil", "coil", says="rate and length of a negative coil")
    )
    second_volume_m3: float | None = _volume(
        "second_volume", "second positive chamber, its floating piston on its stop", low=ABOVE_ZERO_ML
    )
    second_pressure_gauge_pa: float | None = _pressure(
        "second_pressure", "of the second positive chamber, filled before the main one"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LowerLegs:
    """The air shut into both lower legs."""

    air_volume_m3: float | None = _volume(
        "air_volume", "both legs, fork extended, oil in", needed=True, low=ABOVE_ZERO_ML
    )
    area_m2: float | None = quantity(
        "area", "area", "mm^2", 1, 20_000, "stanchions' outside area less shafts, both legs", needed=True
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Damper:
    """The gas behind the damper's rod."""

    rod_m: float | None = quantity("rod", "length", "mm", 1, 40, "diameter of the damper rod", needed=True)
    gas_pressure_gauge_pa: float | None = _pressure("gas_pressure", "at full extension", needed=True)
    gas_volume_m3: float | None = _volume("gas_volume", "at full extension", needed=True, low=ABOVE_ZERO_ML)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bumper:
    """An elastomer at one end of the travel: force = rate · length · (crush / length)^power."""

    length_m: float | None = quantity(
        "length", "length", "mm", 0.1, 100, "travel over which it is crushed", needed=True
    )
    rate_n_per_m: float | None = quantity("rate", "rate", "N/mm", 0, 5000, "force at full crush / length", needed=True)
    power: float = number("power", 1, 20, "1 evenly; 2 and more, harder towards the end", default=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fork:
    """The fork at full extension."""

    length_m: float | None = _frame_length("length", "crown race to foot of the axle, along the steering axis")
    length_straight_m: float | None = _frame_length("length_straight", "crown race to axle, straight line")
    offset_m: float | None = quantity("offset", "length", "mm", -50, 150, "axle ahead of the steering axis")
    travel_m: float | None = quantity("travel", "length", "mm", 20, 300, "to the solid stop", needed=True)
    travel_limit_m: float | None = quantity("travel_limit", "length", "mm", 20, 300, "the chassis' limit")
    stanchion_m: float | None = quantity(
        "stanchion", "length", "mm", 20, 60, "outside diameter; with it, what is not known may be left out"
    )
    overtravel_m: float = quantity(
        "overtravel", "length", "mm", 0, 30, "what 2800 N add to a travel measured by hand", default=0
    )
    tyre_room_m: float | None = _frame_length("tyre_room", "axle to crown underside at full extension")
    brace_room_m: float | None = _frame_length("brace_room", "axle to underside of the brace")
    friction_n: float | None = quantity(
        "friction", "force", "N", 0, 1000, "to make it move at all, without air; none where left out"
    )
    friction_per_bar_n: float = quantity(
        "friction_per_bar", "force", "N", 0, 200, "added by each bar of gauge pressure", default=0
    )
    friction_side: float = number("friction_side", 0, 1, "share of the side load", default=0)
    air: Air | None = None
    coil: Coil | None = None
    lower_legs: LowerLegs | None = None
    damper: Damper | None = None
    bumper: Bumper | None = None
    top_out: Bumper | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A coil spring: its rate, how far it is wound up at full extension, and where its coils touch."""

    rate_n_per_m: float | None = quantity(
        "rate", "rate", "N/mm", 0.5, 500, "of the spring, as marked or measured", needed=True
    )
    preload_m: float = quantity(
        "preload", "length", "mm", 0, 60, "how far the spring is wound up at full extension", default=0
    )
    bind_m: float | None = quantity("bind", "length", "mm", 10, 300, "travel at which its coils touch")


@dataclass(frozen=True, slots=True, kw_only=True)
class CanAir(Air):
    """A rear shock's air can: the keys of [fork.air], the can sliding on the damper body."""

    shaft_m: float | None = quantity("shaft", "length", "mm", 3, 60, "damper body that the can slides on", needed=True)


Pairs = tuple[tuple[float, float], ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shock:
    """The rear shock at free length, and the linkage between it and the rear wheel."""

    length_m: float | None = quantity("length", "length", "mm", 50, 400, "eye to eye, at full extension")
    stroke_m: float | None = quantity("stroke", "length", "mm", 20, 120, "to the solid stop", needed=True)
    body_m: float | None = quantity("body", "length", "mm", 10, 100, "outside diameter of the can")
    friction_n: float | None = quantity("friction", "force", "N", 0, 1000, "to make it move; none where left out")
    sag_m: float | None = quantity("sag", "length", "mm", 0.5, 120, "stroke used at sag, as found at its pressure")
    leverage: Pairs = pairs("leverage", "ratio", "wheel travel and leverage ratio, from wheel travel 0")
    leverage_stroke: Pairs = pairs("leverage_stroke", "stroke", "wheel travel and stroke, from wheel travel 0")
    air: CanAir | None = None
    coil: Coil | None = None
    damper: Damper | None = None
    bumper: Bumper | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A gauge read with the fork or the shock held in, pump on, the port shut."""

    travel_m: float = quantity("travel", "length", "mm", 1, 300, "at which it was held; a shock’s stroke", needed=True)
    pressure_gauge_pa: float = _pressure("pressure", "that the gauge showed there", needed=True)
    hose_m3: float = quantity("hose", "volume", "ml", 0, 50, "of the pump’s hose, which stays on", default=0)
    start_gauge_pa: float | None = _pressure("start", "at full extension before, pump on; else that of the sag found")
    end: str = choice("end", ENDS, "of the bike: the fork in front, the shock at the rear", default="front")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the bike showed, to calibrate the load."""

    sag_m: float | None = quantity("sag", "length", "mm", 0.5, 300, "front, as the ring shows it", needed=True)
    pressure_gauge_pa: float | None = _pressure("pressure", "at which the sag was found; a coil has none")
    read_at_m: float | None = quantity(
        "read_at", "length", "mm", 0, 300, "travel at which the fork rested for the reading, where it rested short"
    )
    posture: str | None = text("posture", "how the rider stood or sat")
    settles: str | None = text("settles", "times found, from above and from below; once where left out")
    readings: tuple[Reading, ...] = entry((), Key("reading", "readings", says="a gauge read held in: travel, pressure, hose, start, end"))  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ShockChange:
    """What is asked for at the rear shock; what it does not name stays."""

    stroke_m: float | None = quantity("stroke", "length", "mm", 20, 120, "with stroke reducers; chambers stay")
    spacers: int | None = count("spacers", 0, 20, "volume spacers fitted")
    spacer_volume_m3: float | None = _volume("spacer_volume", "of one, on the average", low=ABOVE_ZERO_ML)
    pressure_gauge_pa: float | None = _pressure("pressure", "at full extension, settled")
    rate_n_per_m: float | None = quantity("rate", "rate", "N/mm", 0.5, 500, "of another coil")
    preload_m: float | None = quantity("preload", "length", "mm", 0, 60, "how far the coil is wound up")
    bind_m: float | None = quantity("bind", "length", "mm", 10, 300, "travel at which another coil touches")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What is asked for; what it does not name stays."""

    travel_m: float | None = quantity("travel", "length", "mm", 20, 300, "to the solid stop")
    by: str = choice("by", TRAVEL_WAYS, "how the travel is changed", default="shaft")
    spacer_solid_volume_m3: float | None = _volume("spacer_solid_volume", "of the spacer under the piston itself")
    spacers: int | None = count("spacers", 0, 20, "volume spacers fitted")
    pressure_gauge_pa: float | None = _pressure("pressure", "at full extension, settled")
    offset_m: float | None = quantity("offset", "length", "mm", -50, 150, "axle ahead of the steering axis")
    fork_length_m: float | None = _frame_length(
        "fork_length", "along the steering axis; follows the travel where left out"
    )
    front_wheel: Wheel | None = None
    rear_wheel: Wheel | None = None
    air: dict[str, Any] | None = None  # attribute of Air -> its new value, only what the file names
    coil: dict[str, Any] | None = None  # the same of Coil
    shock: ShockChange | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchFile:
    """One bike with what is fitted to it, and what is asked for."""

    conditions: Conditions = Conditions()
    ride: Ride | None = None
    rider: Rider | None = None
    bike: Bike | None = None
    frame: Frame | None = None
    front_wheel: Wheel | None = None
    rear_wheel: Wheel | None = None
    fork: Fork | None = None
    shock: Shock | None = None
    found: Found | None = None
    guessed: Guessed | None = None
    change: Change | None = None
    doubts: tuple[Doubt, ...] = ()  # no table: how far values may be off, each by the place of its key
    shelf: tuple[Any, ...] = entry((), Key("shelf", "parts", says="parts that may be fitted"))
    written: frozenset[str] | None = field(default=None, compare=False, repr=False)  # keys that the file has; no table


@cache
def keys(table: type) -> dict[str, tuple[str, Key]]:
    """The keys of a table: word in the file -> (attribute, Key)."""
    result: dict[str, tuple[str, Key]] = {}
    for f in fields(table):
        key = key_of(f)
        if key is not None:
            result[key.word] = (f.name, key)
    return result


NAMED_ALONE: Final = {"air": Air, "coil": Coil}  # tables of [change] that hold only what they name


@cache
def subtables(table: type) -> dict[str, type]:
    """The tables inside a table: word in the file -> dataclass. `[change.air]` and `[change.coil]` take the fork's keys."""
    result: dict[str, type] = {}
    for f in fields(table):
        if key_of(f) is not None or f.name in ("doubts", "written"):
            continue
        named = NAMED_ALONE.get(f.name) if table is Change else None
        # Tables are of this room, so their names say which they are; `get_type_hints` would evaluate every key's type for it.
        for option in (named,) if named else [globals().get(name) for name in str(f.type).split(" | ")]:
            if isinstance(option, type) and is_dataclass(option):
                result[f.name] = option
    return result
