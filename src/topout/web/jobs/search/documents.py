"""What stands in the index, as SQL: one document for a rider with a unit and all their jobs, one for each rider, unit and part.

The number of a document says what it is of, and the latest comes first: that of a rider with a unit is their last job's,
the others lie below zero, each kind in a span of its own. One text serves SQLite and PostgreSQL, but for the word that
joins rows. Each kind is a view, and triggers copy its rows, so that no road to a record passes the index by: whoever opens the file
reads every trigger's text, and with what they copy in it that took 25 ms each time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from topout.web.folding import SPELT
from topout.web.jobs.search.fold import ENDING, SHORTEST

TABLE = "search_index"
VIEWS = "search_of_"
COLUMNS = ("who", "phone", "thing", "number", "words")
SPAN = 1 << 40  # more than there will be of anything
LINE = "\n"  # parts one text from the next
LONGEST = 20  # digits of a telephone number
_PARTING = "-’'"  # what stands inside names


def _plain(text: str) -> str:
    """Letters that no tokenizer takes apart, spelt out; nothing where the value is NULL."""
    text = f"coalesce({text}, '')"
    for letter, spelt in SPELT.items():
        text = f"replace({text}, '{letter}', '{spelt}')"
    return text


def _without(text: str, signs: str) -> str:
    text = f"coalesce({text}, '')"
    for sign in signs:
        text = f"replace({text}, '{sign.replace(chr(39), chr(39) * 2)}', '')"
    return text


def _endings(text: str) -> str:
    """Every ending of a telephone number of at least `SHORTEST` digits, with a letter before it: other numbers begin alike."""
    digits = _without(text, " -/.+()\u00a0\u202f\u2011\u2013\t")
    starts = ", ".join(f"({start})" for start in range(1, LONGEST - SHORTEST + 2))
    return (
        f"coalesce((SELECT JOINED('{ENDING}' || substr({digits}, column1), ' ') FROM (VALUES {starts}) AS n "
        f"WHERE length({digits}) - column1 >= {SHORTEST - 1}), '')"
    )


def _joined(text: str, source: str) -> str:
    return f"coalesce((SELECT JOINED({text}, '{LINE}') FROM {source}), '')"


def _with_serial(table: str) -> str:
    """A bike's or a unit's name and serial number, the number once more without what parts it: `QX-35 20/11`, `QX352011`."""
    serial = f"{table}.serial"
    return f"{_plain(f'{table}.name')} || ' ' || coalesce({serial}, '') || ' ' || {_without(serial, ' -/._')}"


def _code(tag: str) -> str:
    """A tag's number whole, and in the two halves that are printed."""
    half = f"(length({tag}.code) + 1) / 2"
    return f"'tag ' || {tag}.code || ' ' || substr({tag}.code, 1, {half}) || ' ' || substr({tag}.code, {half} + 1)"


def _texts(*columns: str) -> str:
    """Texts as they were written, for they are shown; where letters of them are spelt out, once more like that."""
    text = f" || '{LINE}' || ".join(f"coalesce({column}, '')" for column in columns)
    return f"{text} || coalesce('{LINE}' || nullif({_plain(text)}, {text}), '')"


def _same_pair(one: str, other: str) -> str:
    return f"{one}.rider_id = {other}.rider_id AND coalesce({one}.unit_id, 0) = coalesce({other}.unit_id, 0)"


# A name also without what parts it: `O’Brien` is found as `obrien`.
_NAME = f"coalesce(r.name, '') || ' ' || {_without('r.name', _PARTING)}"
_WHO = f"{_plain(_NAME)} || ' ' || coalesce(r.email, '')"
_TAGS = _joined(_code("t"), "shelf_tag t WHERE t.unit_id = u.id")
_ALL = f"jobs_job k WHERE {_same_pair('k', 'j')}"
_OF_ALL = f"JOIN jobs_job k ON k.id = n.job_id WHERE {_same_pair('k', 'j')}"


@dataclass(frozen=True)
class Kind:
    """One kind of document: its span, its rows (`alias` is the row it is of, `keys` its keys), and what stands in each column."""

    key: str
    base: int
    alias: str
    table: str
    keys: tuple[str, ...]
    joins: str
    columns: tuple[str, str, str, str, str]
    only: str = ""

    @property
    def number(self) -> str:
        return f"{self.base} + {self.alias}.id"

    @property
    def view(self) -> str:
        return f"{VIEWS}{self.key}"

    @property
    def definition(self) -> str:
        """The view: the row's own keys, by which its documents are chosen, and what stands in each column of the index."""
        keys = ", ".join(f"{self.alias}.{key}" for key in self.keys)
        columns = ", ".join(f"{text} AS {column}" for column, text in zip(COLUMNS, self.columns, strict=True))
        only = f" WHERE {self.only}" if self.only else ""
        return f"CREATE VIEW {self.view} AS SELECT {keys}, {columns} FROM {self.table} {self.alias} {self.joins}{only}"

    def again(self, where: str) -> Iterator[str]:
        """The statements that write the documents of these rows anew; `where` speaks of the kind's own row."""
        yield f"DELETE FROM {TABLE} WHERE rowid IN (SELECT {self.number} FROM {self.table} {self.alias} WHERE {where})"
        yield self.fill(where)

    def fill(self, where: str = "") -> str:
        columns = ", ".join(COLUMNS)
        chosen = f" WHERE {where}" if where else ""
        return f"INSERT INTO {TABLE} (rowid, {columns}) SELECT {self.number}, {columns} FROM {self.view} {self.alias}{chosen}"

    def gone(self, pk: str) -> str:
        return f"DELETE FROM {TABLE} WHERE rowid = {self.base} + {pk}"


PAIR = Kind(
    "pair", 0, "j", "jobs_job", ("id", "rider_id", "unit_id", "bike_id"),
    "JOIN book_rider r ON r.id = j.rider_id LEFT JOIN book_unit u ON u.id = j.unit_id LEFT JOIN book_bike b ON b.id = j.bike_id",
    (
        _WHO, _endings("r.phone"), f"{_with_serial('b')} || ' ' || {_with_serial('u')} || ' ' || {_TAGS}",
        f"'job ' || {_joined('k.number', _ALL)}",
        f" || '{LINE}' || ".join((
            _joined(_texts("k.asked_title", "k.asked", "k.budget"), _ALL),
            _joined(_texts("n.words"), f"jobs_remark n {_OF_ALL}"),
            _joined(_texts("n.note", "n.reason"), f"jobs_reading n {_OF_ALL} AND (n.note <> '' OR n.reason <> '')"),
            _joined(_texts("n.reason"), f"jobs_frozenplan n {_OF_ALL} AND n.reason <> ''"),
            _joined(_texts("n.of"), f"jobs_photo n {_OF_ALL}"),
            _joined(_texts("REASON(n)"), f"jobs_stepentry n {_OF_ALL} AND REASON(n) IS NOT NULL"),
            _joined(_texts("CHOICE(d)"), f"jobs_stepentry n CROSS JOIN ANSWERS(n) {_OF_ALL} AND CHOICE(d) IS NOT NULL"),
            _joined(
                _texts("n.found", "n.done", "n.left", "n.next_service", "n.reason"), f"jobs_release n {_OF_ALL}"
            ),
            _joined(_texts("d.value"), f"jobs_release n CROSS JOIN LISTED(n.defects) {_OF_ALL}"),
            _joined(
                _texts("w.words"), f"jobs_ridernotes w JOIN jobs_release n ON n.id = w.release_id {_OF_ALL}"
            ),
        )),
    ),
    only=f"NOT EXISTS (SELECT 1 FROM jobs_job k WHERE {_same_pair('k', 'j')} AND k.id > j.id)",
)  # fmt: skip
UNIT = Kind(
    "unit", -SPAN, "u", "book_unit", ("id", "bike_id"), "LEFT JOIN book_bike b ON b.id = u.bike_id LEFT JOIN book_rider r ON r.id = b.rider_id",
    (_WHO, _endings("r.phone"), f"{_with_serial('b')} || ' ' || {_with_serial('u')} || ' ' || {_TAGS}", "''", "''"),
)  # fmt: skip
PART = Kind(
    "part", -2 * SPAN, "p", "shelf_part", ("id",), "LEFT JOIN shelf_tag t ON t.id = p.tag_id",
    ("''", "''", f"{_texts('p.kind', 'p.marking')} || ' ' || coalesce({_code('t')}, '')", "''", _texts("p.state", "p.place", "p.note")),
)  # fmt: skip
RIDER = Kind(
    "rider", -3 * SPAN, "r", "book_rider", ("id",), "",
    (_WHO, _endings("r.phone"), _joined(_with_serial("k"), "book_bike k WHERE k.rider_id = r.id"), "''", "''"),
    only="r.erased_at IS NULL",
)  # fmt: skip
KINDS = (PAIR, UNIT, PART, RIDER)


def kind_of(number: int) -> tuple[Kind, int]:
    """What a document's number is of: its kind and the row's key."""
    kind = max((kind for kind in KINDS if kind.base < number), key=lambda kind: kind.base)
    return kind, number - kind.base


def _jobs_like(job: str) -> str:
    """Every job of the rider and the unit of one job."""
    same = f"SELECT 1 FROM jobs_job o WHERE o.id = {job} AND {_same_pair('j', 'o')}"
    return f"EXISTS ({same}) AND j.rider_id = (SELECT o.rider_id FROM jobs_job o WHERE o.id = {job})"


def _jobs_of(row: str) -> str:
    """Every job of the rider and the unit of a jobs_job row, OLD or NEW."""
    return _same_pair("j", row)


@dataclass(frozen=True)
class Watch:
    """After `event` on a table: the statements that bring the index into step, in terms of OLD and NEW."""

    table: str
    event: str  # "INSERT", "DELETE", "UPDATE OF …"
    statements: tuple[str, ...]
    when: str = ""

    @property
    def name(self) -> str:
        return f"find_{self.table}_{self.event.split()[0].lower()}"


def _watch(table: str, event: str, *statements: Iterator[str] | str, when: str = "") -> Watch:
    flat = [line for each in statements for line in ([each] if isinstance(each, str) else each)]
    return Watch(table, event, tuple(flat), when)


def watches() -> Iterator[Watch]:
    """Every trigger that keeps the index in step."""
    yield _watch("book_rider", "INSERT", RIDER.again("r.id = NEW.id"))
    yield _watch(
        "book_rider", "UPDATE OF name, phone, email, erased_at", RIDER.again("r.id = NEW.id"),
        UNIT.again("u.bike_id IN (SELECT id FROM book_bike WHERE rider_id = NEW.id)"), PAIR.again("j.rider_id = NEW.id"),
    )  # fmt: skip
    yield _watch("book_rider", "DELETE", RIDER.gone("OLD.id"))
    yield _watch("book_bike", "INSERT", RIDER.again("r.id = NEW.rider_id"))
    yield _watch(
        "book_bike", "UPDATE OF name, serial, rider_id", RIDER.again("r.id = OLD.rider_id OR r.id = NEW.rider_id"),
        UNIT.again("u.bike_id = NEW.id"), PAIR.again("j.bike_id = NEW.id"),
    )  # fmt: skip
    yield _watch("book_bike", "DELETE", RIDER.again("r.id = OLD.rider_id"))
    yield _watch("book_unit", "INSERT", UNIT.again("u.id = NEW.id"))
    yield _watch(
        "book_unit", "UPDATE OF name, serial, bike_id", UNIT.again("u.id = NEW.id"), PAIR.again("j.unit_id = NEW.id")
    )
    yield _watch("book_unit", "DELETE", UNIT.gone("OLD.id"))
    tagged = (UNIT.again("u.id = NEW.unit_id"), PAIR.again("j.unit_id = NEW.unit_id"))
    yield _watch("shelf_tag", "INSERT", *tagged)
    both = "{0} = OLD.unit_id OR {0} = NEW.unit_id"
    yield _watch(
        "shelf_tag", "UPDATE OF unit_id, code", UNIT.again(both.format("u.id")), PAIR.again(both.format("j.unit_id"))
    )
    yield _watch("shelf_part", "INSERT", PART.again("p.id = NEW.id"))
    yield _watch("shelf_part", "UPDATE OF kind, marking, state, place, note, tag_id", PART.again("p.id = NEW.id"))
    yield _watch("shelf_part", "DELETE", PART.gone("OLD.id"))
    yield _watch("jobs_job", "INSERT", PAIR.again(_jobs_of("NEW")))
    yield _watch(
        "jobs_job", "UPDATE OF number, rider_id, bike_id, unit_id, asked, asked_title, budget", PAIR.gone("NEW.id"),
        PAIR.again(_jobs_of("OLD")), PAIR.again(_jobs_of("NEW")),
    )  # fmt: skip
    yield _watch("jobs_job", "DELETE", PAIR.gone("OLD.id"), PAIR.again(_jobs_of("OLD")))
    yield _watch("jobs_remark", "INSERT", PAIR.again(_jobs_like("NEW.job_id")))
    yield _watch(
        "jobs_reading", "INSERT", PAIR.again(_jobs_like("NEW.job_id")), when="NEW.note <> '' OR NEW.reason <> ''"
    )
    yield _watch("jobs_frozenplan", "INSERT", PAIR.again(_jobs_like("NEW.job_id")), when="NEW.reason <> ''")
    yield _watch("jobs_photo", "INSERT", PAIR.again(_jobs_like("NEW.job_id")))
    yield _watch(
        "jobs_stepentry",
        "INSERT",
        PAIR.again(_jobs_like("NEW.job_id")),
        when="REASON(NEW) IS NOT NULL OR EXISTS (SELECT 1 FROM ANSWERS(NEW) WHERE CHOICE(d) IS NOT NULL)",
    )
    yield _watch("jobs_release", "INSERT", PAIR.again(_jobs_like("NEW.job_id")))
    told = "(SELECT job_id FROM jobs_release WHERE id = {}.release_id)"
    yield _watch("jobs_ridernotes", "INSERT", PAIR.again(_jobs_like(told.format("NEW"))))
    yield _watch("jobs_ridernotes", "DELETE", PAIR.again(_jobs_like(told.format("OLD"))))


SOURCES = (
    "book_rider",
    "book_bike",
    "book_unit",
    "shelf_tag",
    "shelf_part",
    "jobs_job",
    "jobs_remark",
    "jobs_reading",
    "jobs_photo",
    "jobs_stepentry",
    "jobs_release",
    "jobs_frozenplan",
    "jobs_ridernotes",
)
