"""Changes of the Book; each is called inside a change and takes who and when from it. Forms, imports and the demo use these."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.dispatch import Signal

from topout.web.access.change import ChangeContext
from topout.web.book import ends, kinds
from topout.web.book import tables as bench_tables
from topout.web.book.models import Bike, Family, Rider, Unit

# Sent inside the change that erases a rider, with `rider`, its `name` and `told`, the texts that told who it was: rooms above the
# Book that keep what people type take them out of it.
erased = Signal()


def keep(doing: ChangeContext, row: Any) -> Any:
    """Save a row of the Book, with who and when in its history."""
    row._history_user, row._history_date = doing.who, doing.at
    row.save()
    return row


def make_rider(
    doing: ChangeContext, *, name: str, tables: bench_tables.Tables | None = None, worth: dict[str, str] | None = None, **contact: str
) -> Rider:  # fmt: skip
    """A new rider; `contact` is phone, email, address."""
    return Rider.objects.create(name=name, tables=tables or {}, worth=worth or {}, made_at=doing.at, **contact)


def make_bike(
    doing: ChangeContext, *, rider: Rider | None, name: str, tables: bench_tables.Tables, serial: str = "", worth: dict[str, str] | None = None,
) -> Bike:  # fmt: skip
    """A new bike; its tables are read first, so that nothing at fault is kept."""
    bench_tables.read(tables)
    bike: Bike = keep(
        doing, Bike(rider=rider, name=name, serial=serial, tables=tables, worth=worth or {}, made_at=doing.at)
    )
    return bike


def make_unit(
    doing: ChangeContext, *, bike: Bike | None, name: str, tables: bench_tables.Tables, family: Family | None = None,
    kind: str = "fork", serial: str = "", extras: dict[str, Any] | None = None, worth: dict[str, str] | None = None,
    stands_since: date | None = None,
) -> Unit:  # fmt: skip
    """A new unit; its tables are read over its family's. Raises CannotStand where its end of the bike is taken."""
    if bike is not None and (others := ends.already_there(bike, kinds.KINDS[kind].noun)):
        raise ends.CannotStand(ends.taken(bike, others))
    bench_tables.read(bench_tables.merged(family.tables if family else {}, tables))
    unit = Unit(
        bike=bike, family=family, kind=kind, name=name, serial=serial, tables=tables, extras=extras or {},
        worth=worth or {}, made_at=doing.at, stands_since=stands_since,
    )  # fmt: skip
    kept: Unit = keep(doing, unit)
    return kept


def make_family(
    doing: ChangeContext, *, name: str, tables: bench_tables.Tables, source: str = "", kind: str = "fork"
) -> Family:
    """A new family."""
    bench_tables.read(tables)
    family: Family = keep(doing, Family(name=name, kind=kind, tables=tables, source=source, made_at=doing.at))
    return family


def erase_rider(doing: ChangeContext, rider: Rider) -> None:
    """Blank everything that tells who the rider is, drafts of other rooms too; jobs, readings and bikes stay, nameless."""
    name, told = rider.name, [text for text in (rider.name, rider.phone, rider.email, rider.address) if text.strip()]
    rider.name = rider.phone = rider.email = rider.address = ""
    rider.tables, rider.worth = {}, {}
    rider.erased_at, rider.erased_by = doing.at, doing.who
    rider.save()
    erased.send(Rider, rider=rider, name=name, told=told)


def take_apart(data: bytes) -> tuple[bench_tables.Tables, bench_tables.Tables, dict[str, bench_tables.Tables]]:
    """A bench file's tables for rider and bike, and for each kind of unit in it; raises FaultsFound with every finding.

    A file without a unit's table gives an empty fork: what came in is not described yet.
    """
    rider, bike, every = bench_tables.take_apart(data, bench_tables.RIDER, bench_tables.BIKE, bench_tables.UNIT)
    found = kinds.kinds_of(set(every))
    units = {kind.key: {name: every[name] for name in kind.tables if name in every} for kind in found}
    return rider, bike, units or {"fork": {}}
