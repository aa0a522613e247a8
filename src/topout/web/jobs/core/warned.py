"""What is dangerous on a unit, wherever the unit is named and not its job: the Book's pages, find, take-in, a scanned tag, another job's card.

A template asks for it, since the Book and the Shelf lie below the jobs and know nothing of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import Q, QuerySet
from django.template import Context, Library
from django.utils.safestring import SafeString

from topout.web.book.models import Bike, Rider, Unit
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.core.danger import Danger

register = Library()


def told_of(units: Iterable[int]) -> dict[int, list[Danger]]:
    """What is told of units away from their steps: what stops the work, what must not be opened, what a rider hangs on."""
    found = unit_dangers.of_units(list(units))
    told = {unit: [each for each in dangers if each.grave] for unit, dangers in found.items()}
    return {unit: dangers for unit, dangers in told.items() if dangers}


def units_of(thing: Unit | Bike | Rider) -> dict[int, Unit]:
    """A unit itself, a bike's units with those that came off it and lie about, or a rider's: on the bikes and brought loose."""
    if isinstance(thing, Unit):
        return {thing.pk: thing}
    if isinstance(thing, Bike):
        return Unit.objects.filter(Q(bike=thing) | Q(bike=None, came_off=thing)).in_bulk()
    return brought_by(thing).in_bulk()


def brought_by(rider: Rider) -> QuerySet[Unit]:
    """What a rider brought or may bring: the units on their bikes, those that came off one and stand on none, and those of their jobs."""
    # Apart, not as an OR, which looks through every unit of the workshop.
    on_bikes = Unit.objects.filter(bike__rider=rider).order_by().values("pk")
    of_jobs = rider.jobs.exclude(unit=None).order_by().values("unit")
    loose = Unit.objects.filter(bike=None, came_off__rider=rider).order_by().values("pk")
    return Unit.objects.filter(pk__in=on_bikes.union(of_jobs, loose))


def told_of_bike(bike: Bike, units: dict[int, Unit]) -> dict[int, Sequence[Danger]]:
    """The same of a bike and of `units` beside it, which a unit joins that has left it and by whose job something of the bike is told."""
    found = unit_dangers.of_bike(bike.pk, units)
    units |= Unit.objects.in_bulk(found.keys() - units.keys())
    return dict(found)


@register.inclusion_tag("jobs/unit_dangers.html")
def dangers_of(thing: Unit | Bike | Rider | None, beside: int | None = None, own_row: bool = False) -> dict[str, Any]:
    """Every danger of a unit, or of the units of a bike or a rider, which are named then; the card of job `beside` shows its own.

    `own_row`: not inside a section's column but a section of its own.
    """
    units = units_of(thing) if thing else {}
    told: Mapping[int, Sequence[Danger]] = told_of_bike(thing, units) if isinstance(thing, Bike) else told_of(units)
    found = [
        (None if isinstance(thing, Unit) else units[unit], each)
        for unit, dangers in told.items()
        for each in reversed(dangers)
        if each.entry.job.number != beside
    ]
    return {"dangers": found, "own_row": own_row}


@register.simple_tag
def dangers_among(units: Iterable[Unit | None]) -> dict[int, list[Danger]]:
    """The dangers of all units that a list names, asked for at once: kept as `charged` for the marks beside the names."""
    return told_of(unit.pk for unit in units if unit is not None)


@register.simple_tag
def dangers_as_comments(unit: Unit) -> SafeString:
    """What is told of a unit as the head of its bench file, a line each: whoever opens that reads no page."""
    told = told_of([unit.pk]).get(unit.pk, ())
    lines = [" ".join(f"# {unit}, job {each.entry.job.number}: {each.told}".split()) for each in told]
    return SafeString("".join(f"{line}\n" for line in lines))  # plain text: nothing in it is a page's


@register.inclusion_tag("jobs/charged.html", takes_context=True)
def charged_mark(context: Context, unit: Unit | None, leads: bool = True) -> dict[str, Any]:
    """Beside the name of a unit: that it must not be opened, with the way to the job; without `leads` where the line is a link itself."""
    if unit is None:
        return {"dangers": ()}
    charged = context["charged"] if "charged" in context else told_of([unit.pk])
    return {"dangers": charged.get(unit.pk, ()), "leads": leads}
