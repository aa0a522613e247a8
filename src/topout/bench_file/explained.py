"""A bench file that explains itself: every key in its table, how it is written, what it is and what it may be.

What is known is written as it was typed; every other key stands behind a # with a value of some other bike, so that
nothing counts before somebody has written it. Made from the model: a key that is read is explained here.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final

from topout.bench_file import model, parts, say
from topout.bench_file.samples import sample

_AT: Final = 34  # the column in which the explanations begin
_OPENING: Final = """\
# A bench file: one bike with what is fitted to it. Every line behind a # is left out; its value is an example, of no bike
# of yours. Take the # away where you know better, write what you measured or read, and leave the rest as it is. A table
# without a line of its own says nothing.
# A value with a unit stands in quotes: "62 psi", "4.3 bar", "140 mm", "245 ml". Pressures are gauge, at full extension.
# The maker's instructions come first.
"""


def explained(tables: dict[str, Any] | None = None) -> str:
    """The text of a bench file with every key; `tables` holds what is known, as TOML gives it."""
    written = [_OPENING]
    known = tables or {}
    on_coil = _at(known, ("fork", "coil")) is not None and _at(known, ("fork", "air")) is None
    for path, table in _tables(model.BenchFile, ()):
        if on_coil and path == ("fork", "air"):
            continue  # its header alone would be a second spring
        written.append("\n".join(_table(path, table, _at(known, path))) + "\n")
    written.append("\n".join(_shelf(known.get("shelf"))) + "\n")
    return "\n".join(written)


def _shelf(known: Any) -> Iterator[str]:
    """The parts that are known; else one of some shelf, left out with its header."""
    yield "# Parts that may be fitted, a table for each: topout options looks among them."
    some: list[dict[str, Any]] = known if isinstance(known, list) else []
    for each in some:
        yield "[[shelf]]"
        yield from (f"{word} = {_typed(value)}" for word, value in each.items())
    if not some:
        yield "# [[shelf]]"
        for word, (_, key) in model.keys(parts.AirShaft).items():
            yield _explained(f"# {parts.sample(word)}", key)


def _tables(table: type, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], type]]:
    for word, inner in model.subtables(table).items():
        yield (*path, word), inner
        if path != ("change",) or word not in model.NAMED_ALONE:
            yield from _tables(inner, (*path, word))


def _at(tables: dict[str, Any], path: tuple[str, ...]) -> dict[str, Any] | None:
    """What is known of one table; None where it is not there."""
    here: Any = tables
    for word in path:
        here = here.get(word) if isinstance(here, dict) else None
    return here if isinstance(here, dict) else None


def _table(path: tuple[str, ...], table: type, known: dict[str, Any] | None) -> Iterator[str]:
    """One table's lines: what it is, its header, its keys."""
    another = path[:1] == ("change",) and path[-1] in model.NAMED_ALONE
    what = {"air": "air spring", "coil": "coil"}.get(path[-1])
    yield f"# Another {what}: the keys of [fork.{path[-1]}], only those that change." if another else f"# {_is(table)}"
    yield f"[{'.'.join(path)}]"
    for word, (_, key) in model.keys(table).items():
        if word == "sag" and path[-1] == "front_wheel":
            continue  # the front's stands in [found]
        if known is not None and word in known:
            yield _explained(f"{word} = {_typed(known[word])}", key)
        elif not another:
            yield _explained(f"# {sample((*path, word))}", key)


def _is(table: type) -> str:
    return (table.__doc__ or "").splitlines()[0]


def _explained(line: str, key: model.Key) -> str:
    what = [key.says] if key.says else []
    if key.choices:
        what.append(", ".join(f'"{choice}"' for choice in key.choices))
    elif key.low_si is not None:
        what.append(say.limits(key))
    said = "; ".join(what) + ("; needed" if key.needed else "")
    return f"{line:<{_AT - 1}} # {said}"


def _typed(value: Any) -> str:
    """A value as TOML has it."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{word} = {_typed(inner)}" for word, inner in value.items()) + " }"
    return repr(value).lower() if isinstance(value, bool) else repr(value)
