"""The index in the database: SQLite's FTS5, or PostgreSQL's text search behind the same functions.

It is made of the records and holds nothing of its own, so a migrate makes it anew. Its triggers and views are lifted before a
migrate, for the reason that `records/triggers.py` gives, and written after it. Where a migrate changed nothing and every
trigger stood, the index is as it was.
"""

from __future__ import annotations

import re
from typing import Any, Final

from django.db import connections, transaction

from topout.web.folding import PLAIN, folded, spelt
from topout.web.jobs.search.documents import COLUMNS, KINDS, SOURCES, TABLE, VIEWS, Watch, watches
from topout.web.jobs.search.fold import ENDING, WHOLE, Term, ways_to_write

PREFIX: Final = "find_"
_FTS = f"CREATE VIRTUAL TABLE {TABLE} USING fts5({', '.join(COLUMNS)}, tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3 4 5 6')"
_in_step: dict[str, bool] = {}  # before the migrate that is under way, by database


def statements(vendor: str, watch: Watch) -> list[str]:
    """A trigger in the database's own words."""
    body = "; ".join(map(in_words_of(vendor), watch.statements)) + ";"
    if vendor == "sqlite":
        when = f"WHEN {in_words_of(vendor)(watch.when)} " if watch.when else ""
        return [f"CREATE TRIGGER {watch.name} AFTER {watch.event} ON {watch.table} {when}BEGIN {body} END"]
    guarded = f"IF {in_words_of(vendor)(watch.when)} THEN {body} END IF;" if watch.when else body
    return [
        f"CREATE OR REPLACE FUNCTION {watch.name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {guarded} RETURN NULL; END $$",
        f"CREATE TRIGGER {watch.name} AFTER {watch.event} ON {watch.table} FOR EACH ROW EXECUTE FUNCTION {watch.name}()",
    ]


def in_words_of(vendor: str) -> Any:
    """What the two databases call differently: the word that joins rows, which takes text alone, and words in JSON.

    `REASON(n)` is why a step was left or struck, in the evidence of its entry; NULL where it was neither. `LISTED(n.x)` are the
    rows `d` of a list of texts, `ANSWERS(n)` those of what a step was answered, `CHOICE(d)` the words that were chosen there.
    """

    def said(sql: str) -> str:
        if vendor == "sqlite":
            sql = re.sub(r"REASON\((\w+)\)", r"json_extract(\1.evidence, '$.reason')", sql)
            sql = re.sub(r"LISTED\(([\w.]+)\)", r"json_each(\1) d", sql)
            sql = re.sub(r"ANSWERS\((\w+)\)", r"json_each(\1.evidence, '$.answers') d", sql)
            sql = sql.replace("CHOICE(d)", "json_extract(d.value, '$.choice')")
            return sql.replace("JOINED(", "group_concat(")
        sql = re.sub(r"REASON\((\w+)\)", r"(\1.evidence ->> 'reason')", sql)
        sql = re.sub(r"LISTED\(([\w.]+)\)", r"jsonb_array_elements_text(\1) AS d(value)", sql)
        sql = re.sub(r"ANSWERS\((\w+)\)", r"jsonb_each(\1.evidence -> 'answers') AS d(key, value)", sql)
        sql = sql.replace("CHOICE(d)", "(d.value ->> 'choice')")
        return sql.replace("JOINED(k.number,", "string_agg(k.number::text,").replace("JOINED(", "string_agg(")

    return said


def table(vendor: str) -> list[str]:
    """What makes the empty index."""
    if vendor == "sqlite":
        return [_FTS]
    origin, target = "".join(PLAIN), "".join(PLAIN.values())

    def vector(text: str) -> str:
        # translate() first: lower() leaves letters of other scripts to the database's locale.
        plain = f"regexp_replace(lower(translate({text}, '{origin}', '{target}')), '[^[:alnum:]]+', ' ', 'g')"
        return f"array_to_tsvector(array_remove(string_to_array({plain}, ' '), ''))"

    everything = " || ' ' || ".join(COLUMNS)
    return [
        f"CREATE TABLE {TABLE} (rowid bigint PRIMARY KEY, {', '.join(f'{column} text NOT NULL' for column in COLUMNS)}, "
        f"everything tsvector GENERATED ALWAYS AS ({vector(everything)}) STORED, "
        f"names tsvector GENERATED ALWAYS AS ({vector('who')}) STORED, "
        f"endings tsvector GENERATED ALWAYS AS ({vector('phone')}) STORED)",
        *(
            f"CREATE INDEX {TABLE}_{column} ON {TABLE} USING gin ({column})"
            for column in ("everything", "names", "endings")
        ),
    ]


def question(vendor: str, asked: list[Term], limit: int) -> tuple[str, list[Any]]:
    """The query for the numbers of the documents that hold every term, the latest first."""
    if vendor == "sqlite":
        match = " AND ".join(_fts(term) for term in asked)
        return f"SELECT rowid FROM {TABLE} WHERE {TABLE} MATCH %s ORDER BY rowid DESC LIMIT %s", [match, limit]
    conditions, values = [], []
    for term in asked:
        ways: list[tuple[str, str]] = [("everything", " & ".join(f"'{folded(word)}':*" for word in term.words))]
        ways += [("names", f"'{way}':*") for word in term.words for way in ways_to_write(word) if len(term.words) == 1]
        ways += [("endings", f"'{digits}'" + (":*" if begins else "")) for digits, begins in _endings(term)]
        conditions.append("(" + " OR ".join(f"{column} @@ %s::tsquery" for column, _ in ways) + ")")
        values += [query for _, query in ways]
    return f"SELECT rowid FROM {TABLE} WHERE {' AND '.join(conditions)} ORDER BY rowid DESC LIMIT %s", [*values, limit]


def _endings(term: Term) -> list[tuple[str, bool]]:
    """What a telephone's endings are asked for, and whether it is only their beginning."""
    if not term.digits:
        return []
    ways = [(term.digits, True)]
    bare = term.digits.lstrip("0")
    if len(bare) >= WHOLE:
        ways += [(bare, True), (term.digits[-WHOLE:], False)]
    return [(ENDING + digits, begins) for digits, begins in ways]


def _fts(term: Term) -> str:
    """One term for FTS5. Only letters and digits get here, each word in quotes, so nothing of it is read as syntax."""
    asked = [spelt(word) for word in term.words]
    words = " AND ".join(f'"{word}" *' for word in asked) if term.digits else f'"{" ".join(asked)}" *'
    ways = [f"({words})"]
    if len(term.words) == 1:
        ways += [f'(who : "{way}" *)' for way in ways_to_write(term.words[0])]
    ways += [f'(phone : "{digits}"{" *" if begins else ""})' for digits, begins in _endings(term)]
    return f"({' OR '.join(ways)})"


def numbers(asked: list[Term], limit: int, using: str = "default") -> list[int]:
    """The numbers of the documents that hold every term, the latest first."""
    if not asked:
        return []
    connection = connections[using]
    sql, values = question(connection.vendor, asked, limit)
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return [int(row[0]) for row in cursor.fetchall()]


def words_of(found: list[int], using: str = "default") -> dict[int, str]:
    """The notes of these documents, by number."""
    if not found:
        return {}
    with connections[using].cursor() as cursor:
        marks = ", ".join(["%s"] * len(found))
        cursor.execute(f"SELECT rowid, words FROM {TABLE} WHERE rowid IN ({marks})", found)
        return {int(number): str(words) for number, words in cursor.fetchall()}


def _standing(connection: Any, cursor: Any) -> dict[str, tuple[str, str]]:
    """Every trigger of ours in the database: its table and its text."""
    if connection.vendor == "sqlite":
        cursor.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
    else:
        cursor.execute(
            "SELECT tgname, tgrelid::regclass::text, pg_get_functiondef(tgfoid) FROM pg_trigger WHERE NOT tgisinternal"
        )
    return {name: (of, text) for name, of, text in cursor.fetchall() if name.startswith(PREFIX)}


def _views(connection: Any, cursor: Any) -> dict[str, str]:
    """Every view of ours in the database, and its text."""
    if connection.vendor == "sqlite":
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'view'")
    else:
        cursor.execute("SELECT viewname, definition FROM pg_views WHERE schemaname = current_schema()")
    return {name: text for name, text in cursor.fetchall() if name.startswith(VIEWS)}


def written() -> dict[str, str]:
    """Views and triggers by name, as a SQLite database holds them."""
    said = in_words_of("sqlite")
    return {kind.view: said(kind.definition) for kind in KINDS} | {
        watch.name: statements("sqlite", watch)[-1] for watch in watches()
    }


def _whole(connection: Any, cursor: Any) -> bool:
    """Whether the index, its views and its triggers stand as they are written here; PostgreSQL's by name."""
    there = set(connection.introspection.table_names(cursor))
    standing = _views(connection, cursor) | {name: text for name, (_, text) in _standing(connection, cursor).items()}
    wanted = written()
    if TABLE not in there or set(standing) != set(wanted):
        return False
    if connection.vendor != "sqlite":
        return True
    cursor.execute("SELECT sql FROM sqlite_master WHERE name = %s", [TABLE])
    return bool(cursor.fetchone()[0] == _FTS and standing == wanted)


def lift(using: str = "default") -> None:
    """Take triggers and views out, and remember whether the index was in step."""
    connection = connections[using]
    with connection.cursor() as cursor:
        _in_step[using] = _whole(connection, cursor)
        for name, (of, _) in _standing(connection, cursor).items():
            cursor.execute(f"DROP TRIGGER {name}" + ("" if connection.vendor == "sqlite" else f" ON {of}"))
        for name in _views(connection, cursor):
            cursor.execute(f"DROP VIEW {name}")


def write(using: str = "default", anew: bool = True) -> None:
    """Write views and triggers; `anew`: the index too, from the records. Where a table is not there yet, a later migrate does."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if not set(SOURCES) <= set(connection.introspection.table_names(cursor)):
            return
        said = in_words_of(connection.vendor)
        lines = [said(kind.definition) for kind in KINDS]
        if anew:
            lines += [
                f"DROP TABLE IF EXISTS {TABLE}",
                *table(connection.vendor),
                *(said(kind.fill()) for kind in KINDS),
            ]
        lines += [line for watch in watches() for line in statements(connection.vendor, watch)]
        with transaction.atomic(using=using):  # one wait for the disk
            for line in lines:
                cursor.execute(line)


def before_migrate(sender: Any, using: str, **_: Any) -> None:
    lift(using)


def after_migrate(sender: Any, using: str, plan: Any = (), **_: Any) -> None:
    write(using, anew=bool(plan) or not _in_step.get(using, False))


def mend(using: str = "default") -> None:
    """Make the index and its triggers anew where they are not as they are written here: another version's, or one that somebody dropped."""
    connection = connections[using]
    with connection.cursor() as cursor:
        whole = _whole(connection, cursor)
    if not whole:
        lift(using)
        write(using)


def forget(sender: object, **_: object) -> None:
    """A rider is erased: the trigger took the name out, and its words go from the index's own pages too, not only from sight."""
    connection = connections["default"]
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute(f"INSERT INTO {TABLE} ({TABLE}) VALUES ('optimize')")


def health() -> list[tuple[str, str]]:
    """Whether the index is kept in step."""
    connection = connections["default"]
    with connection.cursor() as cursor:
        said = (
            "kept up to date by the database"
            if _whole(connection, cursor)
            else "NOT in step. Mend: stop and start the workshop"
        )
    return [("What the find box looks through", said)]
