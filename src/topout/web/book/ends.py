"""Which unit stands at which end of a bike: now, or as the Book had it at another time; and which ones came off it.

A bike has one fork and one shock at most. Where the Book has two units for one end, as an older one may, nobody knows which is
fitted: that is said, and neither is taken for it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import date, datetime
from typing import Final

from django.db.models import QuerySet

from topout.errors import TopoutError
from topout.web.book import history
from topout.web.book.models import Bike, Unit
from topout.web.prepared import Prepared

_STANDING: Final = Prepared(lambda bike: Unit.objects.filter(bike=bike).select_related("family").order_by("pk"))
NOUNS: Final = ("fork", "shock")  # of the unit at the front and the one at the rear


class CannotStand(TopoutError):
    """A unit can't be there like this; the text says why, and what to do first."""


def standing(bike: Bike, at: datetime | None = None) -> list[Unit]:
    """The units that stand on a bike, the first one that was put in first; `at` another time as the Book had it then."""
    if at is None:
        units = _STANDING.all(bike.pk)
        for unit in units:
            unit.bike = bike
        return units
    ever = Unit.history.filter(bike_id=bike.pk, history_date__lte=at).values("id")
    then = [history.unit_as_of(row, at) for row in Unit.objects.filter(pk__in=ever).order_by("pk")]
    return [each for each in then if each.bike_id == bike.pk]


def at_end(bike: Bike, noun: str, at: datetime | None = None) -> list[Unit]:
    """Those of one end: one, or none, or in a Book of before more."""
    return [unit for unit in standing(bike, at) if unit.what.noun == noun]


def fitted(bike: Bike, noun: str, at: datetime | None = None) -> Unit | None:
    """The one unit of that end; None where there is none, and where nobody knows which of several it is."""
    found = at_end(bike, noun, at)
    return found[0] if len(found) == 1 else None


def not_told(bike: Bike | None, nouns: Collection[str] = NOUNS) -> list[str]:
    """Each end for which the Book has several units, in a sentence that asks which one is fitted."""
    units = standing(bike) if bike is not None else []
    each = {noun: [str(unit) for unit in units if unit.what.noun == noun] for noun in NOUNS if noun in nouns}
    return [
        f"The Book has {len(names)} {noun}s on {bike}: {', '.join(names[:-1])} and {names[-1]}. Say on the page of each that is "
        "not fitted that it is off the bike."
        for noun, names in each.items()
        if len(names) > 1
    ]


def already_there(bike: Bike, noun: str, unit: Unit | None = None) -> list[Unit]:
    """What stands at an end of a bike beside `unit`. The bike is locked: of two that put a unit there, the second finds the first."""
    Bike.objects.select_for_update().get(pk=bike.pk)
    return [each for each in at_end(bike, noun) if unit is None or each.pk != unit.pk]


def taken(bike: Bike, others: Collection[Unit]) -> str:
    """That other units stand where one is to go, in a sentence."""
    names = " and ".join(str(each) for each in others)
    return f"{names} {'stands' if len(others) == 1 else 'stand'} there on {bike} in the Book."


def day(since: date) -> str:
    """A day as people write it."""
    return f"{since:%-d %b %Y}"


def said(since: date | None) -> str:
    """Since when, as it stands behind where a unit stands; "" where nobody said."""
    return f" since {day(since)}" if since is not None else ""


def where(unit: Unit) -> str:
    """Where a unit stands and since when: "on Hollin since 3 Dec 2026", "off Hollin since …", "on no bike"."""
    if unit.bike is not None:
        return f"on {unit.bike}{said(unit.stands_since)}"
    return f"off {unit.came_off}{said(unit.stands_since)}" if unit.came_off is not None else "on no bike"


def came_off(bike: Bike) -> QuerySet[Unit]:
    """Every unit that stood on a bike and does not now."""
    ever = Unit.history.filter(bike_id=bike.pk).order_by().values("id")
    last = bike.units_off.order_by().values("pk")
    return (
        Unit.objects.filter(pk__in=ever.union(last))
        .exclude(bike=bike)
        .select_related("bike", "came_off")
        .order_by("pk")
    )


def beside(bike: Bike | None, since: datetime) -> Iterator[tuple[Unit, str]]:
    """What leaves with a bike, and where it is: what stands on it, and what came off it after `since` or lies about without a bike.

    What came off while a job had the bike may be in the box beside it, wherever the Book has put it.
    """
    if bike is None:
        return
    for unit in standing(bike):
        yield unit, "on the same bike"
    off = {unit.pk: unit for unit in came_off(bike)}
    left: dict[int, datetime] = {}
    was: dict[int, int | None] = {}
    rows = Unit.history.filter(id__in=off).order_by("history_id").values_list("id", "bike_id", "history_date")
    for pk, on, at in rows if off else ():
        if was.get(pk) == bike.pk != on:
            left[pk] = at
        was[pk] = on
    for pk, unit in off.items():
        if unit.bike is None and unit.came_off_id == bike.pk or pk in left and left[pk] >= since:
            yield unit, f"off this bike{said(unit.stands_since)}"
