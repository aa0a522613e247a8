"""A change applied to a bench file, so that the state after is a bench file like the one before.

What a change does is said once, on columns (`design.changed`); here the columns that it moved are written back by name.
"""

from __future__ import annotations

from dataclasses import replace
from operator import attrgetter
from typing import Any, Final

from topout.bench_file import model
from topout.bench_file.model import BenchFile
from topout.planner import columns, design
from topout.planner.design import Changes, Design
from topout.uncertainty.doubt import Doubt


def as_it_is(bench: BenchFile) -> tuple[str, ...]:
    """What is said on top of an answer that leaves `[change]` out; nothing of a file without one.

    bench [SI] (one) as read → [-] (1) at most. Raises nothing. Source: bench-file.md.
    """
    return () if bench.change is None else ("As the bike is now, before the change.",)


def changed(bench: BenchFile) -> BenchFile:
    """The bike after the change; what the change does not name stays, the pressure too. See `design.changed`.

    bench [SI] (one) as read → [SI] (one) a bench file. Raises nothing. Source: none needed, bookkeeping.
    """
    if bench.change is None:
        return bench
    before = Design.of([bench])
    return written_back(bench, before, design.changed(before, Changes.of([bench])))


def written_back(bench: BenchFile, before: Design, after: Design) -> BenchFile:
    """The bench file with every value that differs between two designs of one bike, its change done.

    bench [SI] (one) as read; before, after [SI] (1,) the same bike → [SI] (one) a bench file. Raises nothing. Source:
    none needed, bookkeeping.
    """
    change = bench.change
    if change is None:
        return bench
    fork = bench.fork
    if fork is not None:
        moved = _moved(before.fork, after.fork)
        if fork.air is not None:
            named = change.air or {}  # the makers' limits among them are no columns: no model asks for them
            air = {key: value for key, value in named.items() if key not in columns.Air.__slots__}
            moved["air"] = replace(fork.air, **air, **_moved(before.air, after.air))
        if change.coil is not None and (fork.coil is not None or "rate_n_per_m" in change.coil):
            moved |= {"coil": replace(fork.coil or model.Coil(), **_moved(before.coil, after.coil)), "air": None}
        elif fork.coil is not None and fork.air is None and "bore_m" in (change.air or {}):
            own = {"spacers": change.spacers, "pressure_gauge_pa": change.pressure_gauge_pa}
            own = {name: value for name, value in own.items() if value is not None}  # else as [change.air] says
            moved |= {"coil": None, "air": model.Air(**{**(change.air or {}), **own})}
        if fork.lower_legs is not None:
            moved["lower_legs"] = replace(fork.lower_legs, **_moved(before.lower_legs, after.lower_legs))
        fork = replace(fork, **moved)
    elif change.fork_length_m is not None or change.offset_m is not None:
        fork = model.Fork(length_m=change.fork_length_m, offset_m=change.offset_m)
    front, rear = bench.front_wheel, bench.rear_wheel
    if change.front_wheel is not None:
        front = replace(front or model.Wheel(), **_moved(before.front_wheel, after.front_wheel))
    if change.rear_wheel is not None:
        rear = replace(rear or model.Wheel(), **_moved(before.rear_wheel, after.rear_wheel))
    shock = bench.shock
    if shock is not None and before.shock is not None and after.shock is not None:
        shock = replace(shock, **_moved(before.shock.unit, after.shock.unit))
        if shock.air is not None:
            shock = replace(shock, air=replace(shock.air, **_moved(before.shock.air, after.shock.air)))
        if shock.coil is not None:
            shock = replace(shock, coil=replace(shock.coil, **_moved(before.shock.coil, after.shock.coil)))
        if shock != bench.shock:
            shock = replace(shock, sag_m=None)  # it was found before the change
    done = replace(bench, fork=fork, front_wheel=front, rear_wheel=rear, shock=shock, change=None)
    return replace(done, doubts=_doubts_after(bench, done))


# Where a value of the change stands afterwards.
_LANDS: Final = {
    "change.travel": "fork.travel", "change.pressure": "fork.air.pressure", "change.offset": "fork.offset",
    "change.fork_length": "fork.length", "change.shock.pressure": "shock.air.pressure", "change.shock.stroke": "shock.stroke",
    "change.shock.spacer_volume": "shock.air.spacer_volume",
    "change.shock.rate": "shock.coil.rate", "change.shock.preload": "shock.coil.preload", "change.shock.bind": "shock.coil.bind",
}  # fmt: skip


def _doubts_after(bench: BenchFile, done: BenchFile) -> tuple[Doubt, ...]:
    """The uncertainties of what a change left as it was, and those of what it put in its place."""
    if not bench.doubts:
        return ()
    from topout.planner import doubted  # an exact plan starts without what is drawn

    found = {}
    for off in bench.doubts:
        lands = _LANDS.get(off.key) or off.key.replace("change.air.", "fork.air.").replace("change.", "")
        if doubted.value_at(bench, off.key) == doubted.value_at(done, lands):
            found[lands] = replace(off, key=lands)
    return tuple(sorted(found.values(), key=attrgetter("key")))


def filled(bench: BenchFile, one: Design, full: Design) -> BenchFile:
    """The bench file with what `full` knows and it does not: the fork's own keys, its air spring, lower legs and bumper.

    bench [SI] (one) as read; one, full [SI] (1,) the same bike → [SI] (one) a bench file. Raises nothing. Source: none
    needed, bookkeeping.
    """
    if bench.fork is None:
        return bench
    inner: dict[str, Any] = {}
    for name, empty in (
        ("air", model.Air()),
        ("coil", model.Coil()),
        ("lower_legs", model.LowerLegs()),
        ("bumper", model.Bumper()),
    ):
        moved = _moved(getattr(one, name), getattr(full, name))
        if moved:
            inner[name] = replace(getattr(bench.fork, name) or empty, **moved)
    return replace(bench, fork=replace(bench.fork, **_moved(one.fork, full.fork), **inner))


def _moved(before: Any, after: Any) -> dict[str, Any]:
    """The values of a table that differ, as the bench file holds them: None, a word, a whole number or a float."""
    result: dict[str, Any] = {}
    for name in before.__slots__:
        old, new = getattr(before, name).item(), getattr(after, name).item()
        if old == new or (old != old and new != new):
            continue
        if new != new:
            result[name] = None
        elif name in columns.WORDS:
            result[name] = columns.WORDS[name][int(new)]
        else:
            result[name] = int(new) if name == "spacers" else new
    return result
