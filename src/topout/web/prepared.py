"""Queries whose text is written once and asked often: the rows are those of now, only the writing of the SQL is saved.

Django puts a query together anew each time it is asked, which takes ten times as long as SQLite takes to answer it: half of
what a page of steps cost. What is kept here is the text of the query and how its columns become objects, never a row, so that
there is nothing to be stale: another process, a copy put back and a change taken back are seen as by any other query.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from datetime import datetime
from functools import cache
from typing import Any, Generic, TypeVar

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Expression, Model, QuerySet
from django.db.models import query as django_query

Row = TypeVar("Row", bound=Model)
Value = int | str | datetime | Collection[int] | Collection[str]
_HELD = range(-(2**63), 2**63)  # what an address says may be more, and SQLite's driver refuses it


class Given(Expression):
    """Stands in a query for a value that is given each time it is asked; never None, which SQL asks for in other words."""

    def __init__(self, nth: int) -> None:
        super().__init__()
        self.nth = nth

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        """A place for the value, and itself as the parameter that `_Written` puts the value in for."""
        return "%s", [self]


class Among(Expression):
    """Stands behind `__in` for any number of whole numbers or of texts, given as one value: `filter(pk__in=Among(pks))`."""

    def __init__(self, given: Given, of: type[int] | type[str] = int) -> None:
        super().__init__()
        self.given, self.of = given, of

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        """As SQLite unpacks a list."""
        return "(SELECT value FROM json_each(%s))", [self.given]

    def as_postgresql(self, compiler: Any, connection: Any) -> Any:
        """As PostgreSQL does."""
        return f"(SELECT value::{'bigint' if self.of is int else 'text'} FROM json_array_elements_text(%s::json))", [
            self.given
        ]


@cache
def _unopened() -> Any:
    """The database as Django describes it, never opened: what a text keeps instead of the connection that it was written for."""
    return connections.create_connection(DEFAULT_DB_ALIAS)


class _Written:
    """One query as every connection asks it: its text, and how a row becomes an object (`ModelIterable`, done once)."""

    def __init__(self, asked: QuerySet[Any], connection: Any) -> None:
        self.compiler: Any = asked.query.get_compiler(connection=connection)
        self.sql, self.parameters = self.compiler.as_sql()
        self.compiler.connection = _unopened()  # a thread that ends takes its connection with it
        select, info = self.compiler.select, self.compiler.klass_info
        own = info["select_fields"]
        self.model, self.own = info["model"], slice(own[0], own[-1] + 1)
        self.names = [each[0].target.attname for each in select[self.own]]
        self.related = django_query.get_related_populators(info, select, connection.alias)  # type: ignore[call-arg]  # the stubs are of a later Django
        self.more = dict(self.compiler.annotation_col_map or {})
        self.converters = self.compiler.get_converters([each[0] for each in select])

    def ask(self, connection: Any, values: tuple[Any, ...]) -> list[Any]:
        said = [_said(connection, values[each.nth]) if isinstance(each, Given) else each for each in self.parameters]
        with connection.cursor() as cursor:
            cursor.execute(self.sql, said)
            rows = cursor.fetchall()
        if self.converters:
            rows = self.compiler.apply_converters(rows, self.converters)
        return [self._object(row) for row in rows]

    def _object(self, row: Any) -> Any:
        made = self.model.from_db(DEFAULT_DB_ALIAS, self.names, row[self.own])
        for each in self.related:
            each.populate(row, made)
        for name, column in self.more.items():
            setattr(made, name, row[column])
        return made


def _said(connection: Any, value: Any) -> Any:
    if value is None:
        raise ValueError("a prepared query is asked with values; NULL is asked for in other words")
    if isinstance(value, Collection) and not isinstance(value, str):
        return json.dumps(sorted(value))
    return connection.ops.adapt_datetimefield_value(value) if isinstance(value, datetime) else value


class Prepared(Generic[Row]):
    """A query of one shape: `Prepared(lambda job: Photo.objects.filter(job=job))`, asked with `all(job.pk)`.

    `make` is called with a `Given` for each value, once a process and kind of database; it says related rows by `select_related`,
    none by `prefetch_related`, and compares a `Given` for being equal or, if it is a time, later or earlier; by `Among` for being one
    of several.
    """

    def __init__(self, make: Callable[..., QuerySet[Row]]) -> None:
        self._make = make
        self._written: dict[str, _Written] = {}  # by the kind of database: each is asked in words of its own

    def all(self, *values: Value) -> list[Row]:
        """Every row that is found now. No row is equal to a whole number that no column holds."""
        if any(isinstance(value, int) and value not in _HELD for value in values):
            return []
        connection: Any = connections[DEFAULT_DB_ALIAS]
        written = self._written.get(connection.vendor)
        if written is None:  # two threads that come here at once write the same
            written = self._written[connection.vendor] = _Written(
                self._make(*map(Given, range(len(values)))), connection
            )
        return written.ask(connection, values)

    def first(self, *values: Value) -> Row | None:
        """The first row that is found now; None where there is none. `make` says by `[:1]` that one is enough."""
        return next(iter(self.all(*values)), None)
