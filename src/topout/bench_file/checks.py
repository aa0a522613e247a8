"""What no key can tell alone: keys that speak against each other, and keys that a command needs and does not find.

`contradictions` is part of reading: two ways to say one thing at once, a key that belongs to another way, a volume
that is used up before the travel is. It concludes nothing from a value that is missing or already at fault.

`missing` and `require` are asked by the commands for the tables they need; what they name is only left out, so a
file may be read, kept and changed without it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping
from functools import cache
from typing import Any, Final, NamedTuple

from topout.bench_file import calls_for, coil_checks, guesses, model, rear_checks, samples, say, settles
from topout.bench_file.look import Look, Path
from topout.bench_file.look import key_at as key_at
from topout.bench_file.look import value_at as value_at
from topout.errors import Fault, FaultsFound

ML: Final = 1e-6


def contradictions(
    bench: model.BenchFile, bad: Collection[str] = (), written: Mapping[str, str] | None = None
) -> list[Fault]:
    """Everything in a bench file that speaks against itself.

    `bad` holds the paths of values that are at fault already, `written` how values stand in the file.
    """
    look = Look(bench, bad, written or {})
    return [fault for check in _CHECKS for fault in check(look)]


def _either(look: Look) -> Iterator[Fault]:
    """Two ways to give one thing: one of them."""
    pairs = [
        ("conditions.altitude", "conditions.ambient_pressure"),
        ("frame.fork_length", "frame.fork_length_straight"),
        ("fork.length", "fork.length_straight"),
        ("change.spacers", "change.air.spacers"),
        ("change.pressure", "change.air.pressure"),
    ]
    for wheel in ("front_wheel", "rear_wheel", "change.front_wheel", "change.rear_wheel"):
        half = "bead_seat" if look(f"{wheel}.bead_seat") is not None else "tyre_height"
        pairs.append((f"{wheel}.{half}", f"{wheel}.radius"))
    for first, second in pairs:
        if look(first) is not None and look(second) is not None:
            yield look.fault(second, f"{say.place(first.split('.'))} stands too; give one of them.")


def _wheels(look: Look) -> Iterator[Fault]:
    """A tyre stands on a bead seat; a bead seat alone is no wheel."""
    for wheel in ("front_wheel", "rear_wheel"):
        yield from _pair(look, wheel, wheel)
        yield from _pair(look, f"change.{wheel}", wheel)


def _pair(look: Look, at: str, below: str) -> Iterator[Fault]:
    for word, other in (("bead_seat", "tyre_height"), ("tyre_height", "bead_seat")):
        known = {f"{home}.{other}" for home in (at, below)}
        if look(f"{at}.{word}") is None or any(path in look.bad for path in known | {at, below}):
            continue
        if all(look(path) is None for path in known) and look(f"{at}.radius") is None:
            example = samples.sample(tuple(f"{at}.{other}".split(".")))
            yield look.fault(f"{at}.{word}", f"needs {other} beside it, as in {example}; or give radius alone.")


def _belongs(look: Look) -> Iterator[Fault]:
    """A key that only one way of building has."""
    for air in ("fork.air", "change.air"):
        kind = look(f"{air}.negative")
        if kind is None and air == "change.air" and "change.air.negative" not in look.bad:
            kind = look("fork.air.negative")
        for word, way in (("negative_pressure", "separate-valve"), ("negative_coil", "coil")):
            if kind is not None and kind != way and look(f"{air}.{word}") is not None:
                yield look.fault(f"{air}.{word}", f'belongs to negative = "{way}"; here negative is "{kind}".')
    by = look("change.by")
    if by is not None and by != "piston-spacer" and look("change.spacer_solid_volume") is not None:
        yield look.fault("change.spacer_solid_volume", f'belongs to by = "piston-spacer"; here by is "{by}".')


def _lengths(look: Look) -> Iterator[Fault]:
    offset = look("fork.offset")
    if offset is None and "fork.offset" not in look.bad:
        offset = look("frame.fork_offset")
    for path, ahead in (("frame.fork_length_straight", look("frame.fork_offset")), ("fork.length_straight", offset)):
        straight = look(path)
        if straight is not None and ahead is not None and straight <= abs(ahead):
            yield look.fault(
                path, f"the straight line from axle to crown race is longer than the offset, {say.millimetres(ahead)}."
            )
    chainstay, drop = look("frame.chainstay"), _drop(look)
    if chainstay is not None and drop is not None and chainstay <= abs(drop):
        yield look.fault(
            "frame.chainstay",
            f"a chainstay is longer than the bottom bracket's drop below its axle, {say.millimetres(drop)}.",
        )
    for path in ("fork.bumper.length", "fork.top_out.length", "found.sag", "found.read_at"):
        length, travel = look(path), look("fork.travel")
        if length is not None and travel is not None and length > travel:
            yield look.fault(path, f"that is more than the travel, [fork] travel = {look.shown('fork.travel')}.")
    for air in ("fork.air", "change.air"):
        bore, shaft = _air(look, air, "bore"), _air(look, air, "shaft")
        if bore is not None and shaft is not None and shaft >= bore:
            named = [word for word in ("shaft", "bore") if look(f"{air}.{word}") is not None]
            if named:
                other = "bore" if named[0] == "shaft" else "shaft"
                message = f"an air shaft is thinner than the bore; {other} is {say.millimetres(bore if other == 'bore' else shaft)}."
                yield look.fault(f"{air}.{named[0]}", message)


def _air(look: Look, air: str, word: str) -> Any:
    """A key of the air side; in a change, of the fork where the change does not name it."""
    if f"{air}.{word}" in look.bad:
        return None
    value = look(f"{air}.{word}")
    return look(f"fork.air.{word}") if value is None and air == "change.air" else value


def _drop(look: Look) -> float | None:
    """Bottom bracket below the rear axle; None where the chart counts from the line between the axles."""
    drop, counted = look("frame.bb_drop"), look("frame.bb_drop_from")
    if drop is None or counted is None or counted == "axle line":
        return None
    if counted == "rear axle":
        return float(drop)
    front, rear = look("frame.front_radius"), look("frame.rear_radius")
    return None if front is None or rear is None else float(drop + rear - front)


def _masses(look: Look) -> Iterator[Fault]:
    bike, front, rear = (look(f"bike.{word}") for word in ("mass", "unsprung_front", "unsprung_rear"))
    if bike is not None and front is not None and front + (rear or 0) >= bike:
        yield look.fault(
            "bike.unsprung_front",
            f"what is not carried by the springs is all of the bike; [bike] mass = {look.shown('bike.mass')}.",
        )
        return
    rider, share = look("rider.mass"), look("rider.front_share")
    if None not in (bike, front, rider, share) and (rider + bike) * share <= front:
        yield look.fault(
            "bike.unsprung_front",
            f"that is all the weight on the front wheel: [rider] front_share {share:g} of "
            f"{say.plain_number(round(rider + bike, 1))} kg. Look at the masses and the share.",
        )


class _Volume(NamedTuple):
    """A volume at the place where it is smallest: the key it stands on, the keys in it, what is left [m³]."""

    name: str
    where: str
    parts: tuple[str, ...]
    left: Callable[..., float]


def _disc(diameter_m: float) -> float:
    return math.pi / 4 * diameter_m**2


_FRONT: Final = (
    _Volume(
        "the positive chamber",
        "at full travel",
        (
            "fork.air.positive_volume", "fork.air.spacers", "fork.air.spacer_volume", "fork.air.oil_on_piston",
            "fork.air.bore", "fork.travel",
        ),
        lambda v, n, spacer, oil, bore, travel: v - n * spacer - oil - _disc(bore) * travel,
    ),
    _Volume(
        "the negative chamber",
        "at full extension",
        ("fork.air.negative_volume", "fork.air.grease_in_negative"),
        lambda v, grease: v - grease,
    ),
    _Volume(
        "the air in the lower legs",
        "at full travel",
        ("fork.lower_legs.air_volume", "fork.lower_legs.area", "fork.travel"),
        lambda v, area, travel: v - area * travel,
    ),
    _Volume(
        "the damper gas",
        "at full travel",
        ("fork.damper.gas_volume", "fork.damper.rod", "fork.travel"),
        lambda v, rod, travel: v - _disc(rod) * travel,
    ),
)  # fmt: skip


def _behind(volume: _Volume) -> _Volume:
    """The same volume of a rear shock, whose travel is its stroke."""
    parts = tuple(part.replace("fork.travel", "shock.stroke").replace("fork.", "shock.") for part in volume.parts)
    return _Volume(volume.name, volume.where.replace("travel", "stroke"), parts, volume.left)


_VOLUMES: Final = (*_FRONT, *(_behind(volume) for volume in _FRONT if "fork.lower_legs.area" not in volume.parts))


def _locks(look: Look) -> Iterator[Fault]:
    """Hydraulic lock of the bike as it is: every key of the volume is named, and by how many ml it falls short."""
    for volume in _VOLUMES:
        first = volume.parts[0]
        gas = ("self-equalising", "separate-valve")
        if first.endswith("negative_volume") and look(first.removesuffix("_volume")) not in gas:
            continue
        values = {path: look(path) for path in volume.parts}
        for air in ("fork.air", "shock.air"):
            if values.get(f"{air}.spacers") == 0:
                values[f"{air}.spacer_volume"] = 0.0
        if any(value is None for value in values.values()):
            continue
        left = volume.left(*values.values())
        if left > 0:
            continue
        others = [
            f"{say.place(path.split('.'))} = {look.shown(path)}"
            for path in volume.parts[1:]
            if values[path] or path in look.written
        ]
        yield look.fault(
            volume.parts[0],
            f"hydraulic lock, {volume.name} is {_short(left)} {volume.where}. Look at it and at {_and(others)}.",
        )


def _short(left_m3: float) -> str:
    """What lacks, to a tenth of a millilitre; less than that is a chamber with nothing left."""
    lacks = round(-left_m3 / ML, 1)
    return f"{say.plain_number(lacks)} ml short" if lacks else "used up, 0 ml left,"


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _settled(look: Look) -> Iterator[Fault]:
    text = look("found.settles")
    if text is not None and settles.counted(text) is None:
        yield look.fault("found.settles", settles.EXPECTED)


def _guessed(look: Look) -> Iterator[Fault]:
    for noun in guesses.NOUNS:
        text = look(f"guessed.{noun}")
        for word in guesses.words(text or ""):
            if word not in guesses.WORDS:
                near = say.nearest(word, list(guesses.WORDS))
                hint = f" Is it {near}?" if near else ""
                yield look.fault(f"guessed.{noun}", f"keys of [{noun}.air] are expected, as in {samples.sample(('guessed', noun))}; {say.plain(word)} is none.{hint}")  # fmt: skip


_CHECKS: Final = (
    _settled, _guessed, _either, _wheels, _belongs, coil_checks.coils, _lengths, _masses, _locks, rear_checks.contradictions,
)  # fmt: skip


_SPRING: Final = ("fork", "fork.air", "fork.lower_legs?", "fork.damper?", "fork.bumper?", "fork.top_out?")
_CAN: Final = ("shock", "shock.air", "shock.damper?", "shock.bumper?")
NEEDS: Final[dict[str, tuple[str, ...]]] = {
    "curve": _SPRING,
    "curve of the shock": _CAN,
    "inflate": _SPRING,
    "geometry": ("frame",),
    "sag": (*_SPRING, "rider", "bike", "frame"),
}


def needs_of_sag(bench: model.BenchFile) -> tuple[str, ...]:
    """What sag needs of this bike: a load from rider, bike and frame, or from the sag that was found."""
    if bench.fork is None and bench.shock is not None:
        return ("shock",)  # behind alone; what else it needs `lacks_behind` says
    if not calls_for.found_in_front(bench):
        return NEEDS["sag"]
    turned = bench.fork is not None and bench.fork.friction_side > 0  # the side load follows from the head angle
    return (*_SPRING, "found", "frame" if turned else "frame?")


def needs_behind(bench: model.BenchFile) -> tuple[str, ...]:
    """What the spring of this bike's rear shock needs: its air can, or its coil."""
    coil = bench.shock is not None and bench.shock.coil is not None
    return tuple("shock.coil" if coil and path == "shock.air" else path for path in NEEDS["curve of the shock"])


def unlevered(bench: model.BenchFile) -> list[Fault]:
    """The leverage, where a rear shock has none; nothing of the wheel follows from it then."""
    shock = bench.shock
    if shock is None or shock.leverage or shock.leverage_stroke:
        return []
    return [lacks(("shock", "leverage"), "to know the rear wheel’s travel")]


def lacks_behind(bench: model.BenchFile) -> list[Fault]:
    """The keys without which nobody knows where a rear shock rests; none without a shock, or where its sag was found.

    Where its spring or the load is not known, the one thing to ask for is the sag found, in mm of stroke; without a leverage
    that says nothing of the wheel.
    """
    shock = bench.shock
    if shock is None or (bench.rear_wheel is not None and bench.rear_wheel.sag_m is not None):
        return []
    found = unlevered(bench)
    if shock.sag_m is None and (missing(bench, *needs_behind(bench)) or not _weighed(bench)):
        found.append(unfound_behind())
    return found


def unfound_behind() -> Fault:
    """The one thing to ask for where a shock's spring or the load on it is not known."""
    because = "in mm of stroke, where the shock’s spring or the weight on it is not described"
    return lacks(("shock", "sag"), because)


def _weighed(bench: model.BenchFile) -> bool:
    """Whether the load on the rear wheel follows from the weights."""
    rider, bike = bench.rider, bench.bike
    if rider is None or bike is None:
        return False
    masses = (rider.mass_kg, bike.mass_kg, bike.unsprung_front_kg, bike.unsprung_rear_kg)
    return None not in masses and (rider.front_share is not None or calls_for.found_in_front(bench))


def require(bench: model.BenchFile, *paths: str) -> None:
    """Raise FaultsFound that names every key the tables at `paths` lack, each with an example of how to write it.

    A path with a question mark, `fork.bumper?`, may be left out, but not half written.
    """
    faults = missing(bench, *paths)
    if faults:
        raise FaultsFound(faults)


def missing(bench: model.BenchFile, *paths: str) -> tuple[Fault, ...]:
    """The findings of `require`, as data: `key` names the key in words, `fork.air.bore`."""
    return tuple(fault for path in paths for fault in _table_missing(bench, path))


def _table_missing(bench: model.BenchFile, path: str) -> Iterator[Fault]:
    optional = path.endswith("?")
    words = tuple(path.rstrip("?").split("."))
    if words == ("fork", "air") and calls_for.on_coil(bench):
        words = ("fork", "coil")
    table = value_at(bench, words)
    if table is None:
        if not optional:
            yield from _no_table(bench, words)
        return
    kind: type = type(table)
    for word, attribute in _needed(kind):
        if getattr(table, attribute) is None:
            yield lacks((*words, word))
    for needed, because in calls_for.keys(bench, table):
        yield lacks((*words, *needed.split(".")), because)
    sprung = isinstance(table, model.Change) and (table.air is not None or table.coil is not None)
    if isinstance(table, model.Change) and table.by == "chassis" and not sprung and not calls_for.on_coil(bench):
        yield Fault(
            location="[change.air]",
            message='missing, needed with by = "chassis"; it takes the keys of [fork.air] that the other chassis has.',
            key="change.air",
        )


@cache
def _needed(table: type) -> tuple[tuple[str, str], ...]:
    """The keys that a table can't do without: (word in the file, attribute)."""
    return tuple((word, attribute) for word, (attribute, key) in model.keys(table).items() if key.needed)


def _no_table(bench: model.BenchFile, words: Path) -> Iterator[Fault]:
    if words[:-1] and value_at(bench, words[:-1]) is None:
        return  # the table above is named already
    home = ".".join(words)
    yield Fault(location=say.table_place(words), message=f"missing; it needs {sampled(words)}.", key=home)


def sampled(table: Path) -> str:
    """The keys that a table can't do without, as they are written."""
    return _and([samples.sample((*table, word)) for word, _ in _needed(_table_type(table))])


def _table_type(words: Path) -> type:
    table: type = model.BenchFile
    for word in words:
        table = model.subtables(table)[word]
    return table


def lacks(path: Path, because: str = "") -> Fault:
    """The finding that a key is missing, with how it is written."""
    reason = f"missing, needed {because}" if because else "missing"
    return Fault(location=say.place(path), message=f"{reason}; as in {samples.sample(path)}.", key=".".join(path))
