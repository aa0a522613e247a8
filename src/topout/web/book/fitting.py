"""A unit comes off its bike, or goes on another: who said so, since which day, and what it leaves with the frame.

The leverage is what the frame makes of a shock: it stays with the bike. How far a rider sat into the shock on another frame is no
fact of this one. Both stay in the history, with all else.
"""

from __future__ import annotations

import copy
from datetime import date
from typing import Any

from django.utils import timezone

from topout.web.access.change import ChangeContext
from topout.web.book import ends, keeping, worth
from topout.web.book import tables as bench_tables
from topout.web.book.ends import CannotStand
from topout.web.book.models import Bike, Unit


def fit(doing: ChangeContext, unit: Unit, bike: Bike | None, since: date, *, instead: bool = False) -> list[Unit]:
    """Put a unit on a bike since a day, or take it off the one it stands on; with `instead` what stands there comes off that day.

    Returns what came off for it. Raises CannotStand. Saying the same place again corrects the day alone.
    """
    others = ends.already_there(bike, unit.what.noun, unit) if bike is not None else []
    if bike is not None and others and not instead:
        raise CannotStand(ends.taken(bike, others))
    _judge_day(doing, unit, bike, since)
    _take_off(doing, others, since)
    _judge_leverage(unit, bike)
    _move(doing, unit, bike, since)
    return others


def make(
    doing: ChangeContext, bike: Bike | None, there: list[Unit], since: date | None, fields: dict[str, Any]
) -> Unit:
    """A new unit, on a bike or on none; what stands `there` comes off it on the day. Raises CannotStand."""
    if there:
        assert since is not None
        _take_off(doing, there, since)
    return keeping.make_unit(doing, bike=bike, stands_since=since, **fields)


def _take_off(doing: ChangeContext, units: list[Unit], since: date) -> None:
    for each in units:
        _judge_day(doing, each, None, since)
        _move(doing, each, None, since)


def _judge_day(doing: ChangeContext, unit: Unit, bike: Bike | None, since: date) -> None:
    """No day that is still to come, and none before the unit stood where it comes from."""
    if since > timezone.localtime(doing.at).date():
        raise CannotStand(f"{ends.day(since)} is still to come.")
    stands_there = unit.bike_id == (bike.pk if bike is not None else None)
    if stands_there:
        rows = unit.history.exclude(bike_id=unit.bike_id).order_by("-history_id")
        earliest = rows.values_list("stands_since", flat=True).first()
    else:
        earliest = unit.stands_since
    if earliest is not None and since < earliest:
        there = f"stood elsewhere since {ends.day(earliest)}" if stands_there else f"is {ends.where(unit)}"
        raise CannotStand(f"{unit} {there}: it can’t be {ends.day(since)}.")


def _judge_leverage(unit: Unit, bike: Bike | None) -> None:
    """A shock with a leverage of its own goes on no frame that has one, and one of its family's on no second frame."""
    if bike is None or bike.pk == unit.bike_id:
        return
    of_family = bench_tables.linkage(unit.family.tables if unit.family is not None else {})
    if of_family and (unit.bike_id is not None or unit.came_off_id not in (None, bike.pk)):
        raise CannotStand(
            f"Its family, {unit.family}, has a leverage, which is another frame’s. Take it out of the family first."
        )
    now = Bike.objects.get(pk=bike.pk)  # with what a shock that came off for it left there
    if unit.bike_id is None and bench_tables.linkage(unit.tables) and bench_tables.linkage(now.tables):
        raise CannotStand(f"{unit} has a leverage of its own, and {bike} has one. Empty one of the two first.")


def _move(doing: ChangeContext, unit: Unit, bike: Bike | None, since: date) -> None:
    if unit.bike_id != (bike.pk if bike is not None else None):
        tables = copy.deepcopy(unit.tables)
        if unit.bike is not None:
            _leave_leverage(doing, unit.bike, unit, tables)
        last = unit.bike_id or unit.came_off_id
        if bike is not None and last is not None and last != bike.pk:
            tables.get("shock", {}).pop("sag", None)
        tables = {name: held for name, held in tables.items() if held or not unit.tables[name]}
        unit.worth, unit.tables = worth.after(unit.tables, tables, unit.worth, ""), tables
        unit.came_off, unit.bike = unit.bike or unit.came_off, bike
    unit.stands_since = since
    keeping.keep(doing, unit)


def _leave_leverage(doing: ChangeContext, bike: Bike, unit: Unit, tables: bench_tables.Tables) -> None:
    """A leverage that the shock brought is the bike's from now on, as it counted; taken out of the shock's `tables`."""
    held = bench_tables.linkage(tables).get("shock", {})
    if not held:
        return
    bike = Bike.objects.get(pk=bike.pk)
    own = {word: value for word, value in bike.tables.get("shock", {}).items() if word not in bench_tables.LINKAGE}
    bike.tables = {**bike.tables, "shock": {**own, **held}}
    marks = {f"shock.{word}": unit.worth[f"shock.{word}"] for word in held if f"shock.{word}" in unit.worth}
    kept = {key: mark for key, mark in bike.worth.items() if key.removeprefix("shock.") not in bench_tables.LINKAGE}
    bike.worth = kept | marks
    keeping.keep(doing, bike)
    for word in held:
        del tables["shock"][word]
