"""Which records go into a file, and of which people; what stays out, each with its reason.

A table is a name, its columns, and its rows as plain values: times in UTC as ISO 8601, what people typed as they typed it,
what was understood in SI with the unit in the column's name.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

from django.apps import apps
from django.db.models import Model, Q, QuerySet

from topout.web.book.models import Rider

# Label of a model -> why no file holds it. Every model is either here or exported whole, but for HELD_BACK (a test asks).
LEFT_OUT: Final = {
    "auth.Permission": "the framework's own", "auth.Group": "the framework's own",
    "contenttypes.ContentType": "the framework's own",
    "sessions.Session": "lets in whoever has it", "access.OneTimeCode": "lets in whoever has it",
    "access.WrongTries": "counts wrong passwords, by their hash",
    "access.Change": "keys of forms, so that what is sent twice is saved once",
    "access.Answer": "keys of forms, so that what is sent twice is saved once",
    "jobs.Counter": "the next number of a job, which the jobs tell",
    "jobs.OnTheBench": "which jobs are not handed over, which the hand-overs tell",
}  # fmt: skip
# Columns that no file holds: what lets somebody in, and bytes, which are files of their own.
HELD_BACK: Final = {
    "auth.User": {"password"},
    "jobs.ReleasedSheet": {"pdf"},
}


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its name in files, its columns, the rows it is read from."""

    name: str
    columns: tuple[str, ...]
    of: QuerySet[Any]

    def using(self, database: str) -> Table:
        """The same table, read from another database."""
        return replace(self, of=self.of.using(database))

    def rows(self) -> Iterator[tuple[Any, ...]]:
        """Every row, in the order in which they were made, read in parts."""
        for row in self.of.order_by("pk").values_list(*self.columns).iterator(chunk_size=2000):
            yield tuple(_plain(value) for value in row)


def whole() -> list[Table]:
    """Every table of the workshop."""
    return [_table(model, model._default_manager.all()) for model in models()]


def models() -> list[type[Model]]:
    """The models whose rows are exported."""
    return [model for model in apps.get_models() if model._meta.label not in LEFT_OUT and _is_ours(model)]


def _is_ours(model: type[Model]) -> bool:
    return model.__module__.startswith("topout.") or model._meta.label == "auth.User"


def of_rider(rider: Rider) -> list[Table]:
    """What is kept of one rider: the rider, the bikes and units that are theirs, their jobs with every record of them.

    A unit that another rides today stands by its name alone; nothing of another's jobs comes along.
    """
    from topout.web.book.models import Bike, Unit
    from topout.web.jobs.records.models import Job, ReleasedSheet
    from topout.web.shelf.models import Tag, TagPrint

    jobs = Job.objects.filter(rider=rider)
    bikes = Bike.objects.filter(rider=rider)
    elsewhere = Job.objects.exclude(rider=rider).exclude(unit=None)
    loose = Unit.objects.filter(bike=None, came_off__in=bikes).exclude(pk__in=elsewhere.values("unit"))
    own = Unit.objects.filter(Q(bike__in=bikes) | Q(pk__in=loose.values("pk")))
    others = Unit.objects.filter(Q(jobs__in=jobs)).exclude(pk__in=own.values("pk")).distinct()
    tables = [
        _table(Rider, Rider.objects.filter(pk=rider.pk)),
        _table(Bike, bikes),
        _table(Unit, own),
        Table("units_now_with_another", ("id", "kind", "name", "serial"), others),
        _table(Tag, Tag.objects.filter(unit__in=own)),
        _table(TagPrint, TagPrint.objects.filter(tag__unit__in=own)),
        _table(Job, jobs),
        _table(ReleasedSheet, ReleasedSheet.objects.filter(release__job__in=jobs)),
    ]
    for model in models():
        if model is not Job and any(field.name == "job" for field in model._meta.concrete_fields):
            tables.append(_table(model, model._default_manager.filter(job__in=jobs)))
    return tables


def _table(model: type[Model], rows: QuerySet[Any]) -> Table:
    held_back = HELD_BACK.get(model._meta.label, set())
    columns = tuple(f.attname for f in model._meta.concrete_fields if f.attname not in held_back)
    return Table(model._meta.db_table, columns, rows)


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)  # money: two decimals come out as they went in
    return value
