"""Procedures from TOML: every fault of a file at once, each with its place, value, line and the way out.

The grammar is docs/procedures.md, whose examples are run by the tests. What the words of a step must be like is
checked in `check.py`; this room turns tables into the model.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any, Final

from topout.errors import Fault, FaultsFound
from topout.procedures import check, words
from topout.procedures.model import Definition, Evidence, Group, Procedure, Step, Variant
from topout.procedures.parts import Parts, list_of, near
from topout.units import TABLE

FILE_LIMIT_BYTES: Final = 256 * 1024
_NAME: Final = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")

_TOP: Final = ("title", "version", "summary", "group", "variant", "define")
_GROUP: Final = ("key", "title", "complete", "variant", "step")
_VARIANT: Final = ("key", "title", "caution")
_DEFINE: Final = ("key", "function", "of", "unit")
_STEP: Final = (
    "key",
    "do",
    "detail",
    "caution",
    "why",
    "good",
    "hold",
    "evidence",
    "stop",
    "when",
    "after",
    "rounds",
    "opens",
    "deals_with",
)


def read(text: str, key: str, source: str = "") -> Procedure:
    """The procedure in `text`; raises FaultsFound with all findings. `key` is its name, `source` stands before faults."""
    _refuse_unreadable(text, source)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        match = re.search(r"\(at line (\d+)", str(fault))
        line = int(match.group(1)) if match else text.count("\n") + 1
        message = "TOML is expected here: " + re.sub(r" \(at .*\)$", "", str(fault)) + "."
        raise FaultsFound([Fault("the file", message, line=line)], source) from None
    reader = _Reader(text)
    procedure = reader.procedure(table, key)
    if procedure is not None and not reader.faults:
        reader.faults.extend(check.faults(procedure, reader.places))
    if reader.faults:
        reader.faults.sort(key=lambda fault: fault.line or 0)
        raise FaultsFound(reader.faults, source)
    assert procedure is not None
    return procedure


def _refuse_unreadable(text: str, source: str) -> None:
    size = len(text.encode("utf-8", "surrogatepass"))
    finding = ""
    if size > FILE_LIMIT_BYTES:
        finding = f"{size} bytes; at most {FILE_LIMIT_BYTES} are read. Split the procedure."
    elif "\0" in text:
        finding = "it holds a NUL byte; a text file is expected."
    elif any(line.count("[") > 8 or line.split("=", 1)[0].count(".") > 8 for line in text.splitlines()):
        finding = "nested more than 8 deep; no procedure needs that."
    if finding:
        raise FaultsFound([Fault("the file", finding)], source)


@dataclass(frozen=True, slots=True)
class Shipped:
    """A procedure with its text and the SHA-256 of it, which every signed step keeps."""

    procedure: Procedure
    sha256: str
    text: str


def shipped_keys() -> tuple[str, ...]:
    """The procedures that come with the tool."""
    files = resources.files("topout.procedures").joinpath("data").iterdir()
    return tuple(sorted(file.name.removesuffix(".toml") for file in files if file.name.endswith(".toml")))


def text_of(key: str) -> str:
    """The text of a procedure as it comes with the tool today; KeyError for an unknown name."""
    if key not in shipped_keys():
        raise KeyError(key)
    return resources.files("topout.procedures").joinpath("data", f"{key}.toml").read_bytes().decode("utf-8")


def digest(text: str) -> str:
    """The SHA-256 of a text, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def known_text(key: str, sha256: str) -> str | None:
    """The text with this SHA-256: today's, or an earlier one in `data/earlier`, named KEY.FIRST-TWELVE.toml; else None."""
    if key not in shipped_keys():
        return None
    texts = [text_of(key)]
    for file in resources.files("topout.procedures").joinpath("data", "earlier").iterdir():
        if file.name == f"{key}.{sha256[:12]}.toml":
            texts.append(file.read_bytes().decode("utf-8"))
    return next((text for text in texts if digest(text) == sha256), None)


@lru_cache(maxsize=32)
def pinned(key: str, text: str) -> Shipped:
    """A procedure from a text that was kept; raises FaultsFound where this version reads it no more."""
    return Shipped(read(text, key, f"{key}.toml"), digest(text), text)


def shipped(key: str) -> Shipped:
    """A procedure that comes with the tool, as its file is now; KeyError for an unknown name."""
    return pinned(key, text_of(key))


class _Reader(Parts):
    """Tables to the model."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.variants: set[str] = set()

    def procedure(self, table: dict[str, Any], key: str) -> Procedure | None:
        """The whole file."""
        self.known_of("", table, _TOP)
        title = self.text_of("", table, "title")
        summary = self.text_of("", table, "summary")
        version = table.get("version")
        if type(version) is not int or version < 1:
            self.fault("", "version", version, "a whole number from 1 is expected; it goes up with every change.")
            version = 1
        variants = tuple(self._variant(f"variant {n}", each) for n, each in self._tables("", table, "variant", False))
        self.variants = {variant.key for variant in variants}
        for n, each in self._tables("", table, "define", False):
            self._define(f"define {n}", each)
        groups = tuple(self._group(n, each) for n, each in self._tables("", table, "group", True))
        self._unique("group", ((g.key, f"group {n}") for n, g in enumerate(groups, 1)))
        self._unique("variant", ((v.key, f"variant {n}") for n, v in enumerate(variants, 1)))
        self._unique(
            "step", ((s.key, f"group {n}, step {m}") for n, g in enumerate(groups, 1) for m, s in enumerate(g.steps, 1))
        )
        return Procedure(key, title, version, summary, groups, variants, tuple(self.definitions))

    def _variant(self, place: str, table: dict[str, Any]) -> Variant:
        self.known_of(place, table, _VARIANT)
        return Variant(
            self.key_of(place, table), self.text_of(place, table, "title"), self.text_of(place, table, "caution")
        )

    def _define(self, place: str, table: dict[str, Any]) -> None:
        self.known_of(place, table, _DEFINE)
        key = table.get("key")
        if not isinstance(key, str) or not _NAME.fullmatch(key) or key in words.NAMES or key in self.own_of():
            self.fault(place, "key", key, 'a new name is expected, small letters joined by _, as in "dry_pressure".')
            return
        function = table.get("function")
        if not isinstance(function, str) or function not in words.FUNCTIONS:
            self.fault(
                place,
                "function",
                function,
                f"one of {list_of(words.FUNCTIONS)} is expected.{near(function, words.FUNCTIONS)}",
            )
            return
        of = table.get("of")
        takes, count, gives = words.FUNCTIONS[function]
        if not isinstance(of, list) or not of or (count is not None and len(of) != count):
            wanted = "a list of quantities or names" if count is None else f"a list of {count} quantity or name"
            self.fault(place, "of", of, f'{wanted} is expected, as in ["3 bar", "{{set_pressure}}"].')
            return
        dimension = takes or next((d for d in (self.dimension_of(each) for each in of) if d), "")
        if not dimension:
            self.fault(place, "of", of, "quantities with a unit, or names, are expected.")
            return
        bounds = [self.bound_of(place, "of", each, dimension, "") for each in of]
        unit = table.get("unit", "") if gives != "energy" else "J"
        out = gives or dimension
        if out != "energy" and (not isinstance(unit, str) or unit not in TABLE.get(out, {})):
            self.fault(place, "unit", unit or None, f"a unit of {out} is expected: {list_of(TABLE.get(out, {}))}.")
            return
        known = tuple(bound for bound in bounds if bound is not None)
        if len(known) == len(bounds):
            self.definitions.append(Definition(key, function, known, out, unit))

    def _group(self, number: int, table: dict[str, Any]) -> Group:
        place = f"group {number}"
        self.known_of(place, table, _GROUP)
        variant = table.get("variant", "")
        if not isinstance(variant, str) or variant not in self.variants | {""}:
            self.fault(place, "variant", variant, f"a variant of this file is expected.{near(variant, self.variants)}")
        steps = tuple(self._step(f"{place}, step {n}", each) for n, each in self._tables(place, table, "step", True))
        return Group(
            self.key_of(place, table),
            self.text_of(place, table, "title"),
            self.text_of(place, table, "complete"),
            steps,
            variant if isinstance(variant, str) else "",
        )

    def _step(self, place: str, table: dict[str, Any]) -> Step:
        self.known_of(place, table, _STEP)
        hold = table.get("hold", False)
        if not isinstance(hold, bool):
            self.fault(place, "hold", hold, "true or false is expected.")
            hold = False
        pieces = table.get("evidence", [])
        evidence: list[Evidence] = []
        if not isinstance(pieces, list) or not all(isinstance(each, dict) for each in pieces):
            self.fault(place, "evidence", None, "a list of tables is expected, one a line between [ and ].")
        else:
            read = [self.evidence_of(place, n, each) for n, each in enumerate(pieces, 1)]
            evidence = [each for each in read if each is not None]
            keys = [each.key for each in evidence]
            for key in sorted({key for key in keys if keys.count(key) > 1}):
                self.fault(place, "evidence", key, "two pieces of evidence have this key; each needs its own.", key)
        return Step(
            key=self.key_of(place, table),
            do=self.text_of(place, table, "do"),
            evidence=tuple(evidence),
            detail=self.text_of(place, table, "detail", needed=False),
            caution=self.text_of(place, table, "caution", needed=False),
            why=self.text_of(place, table, "why", needed=False),
            good=self.text_of(place, table, "good", needed=False),
            hold=hold,
            stop=self.stop_of(place, table.get("stop")),
            when=self.when_of(place, table.get("when")),
            after=self.after_of(place, table.get("after")),
            rounds=self.rounds_of(place, table.get("rounds")),
            opens=self.opens_of(place, table.get("opens", "")),
            deals_with=self.deals_with_of(place, table["deals_with"]) if "deals_with" in table else (),
            line=self.places.line(place) or 0,
        )

    def _tables(self, place: str, table: dict[str, Any], key: str, needed: bool) -> list[tuple[int, dict[str, Any]]]:
        value = table.get(key, [])
        inside = key if not place else f"{place.split(' ', 1)[0]}.{key}"
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            self.fault(place, key, None, f"tables are expected, each under its own [[{inside}]].")
            return []
        if needed and not value:
            self.fault(place, key, None, f"at least one [[{inside}]] is expected.")
        return list(enumerate(value, 1))

    def _unique(self, what: str, keys: Iterable[tuple[str, str]]) -> None:
        seen: dict[str, str] = {}
        for key, place in keys:
            if key and key in seen:
                self.fault(place, "key", key, f"{seen[key]} has this key already; every {what} needs its own.")
            seen.setdefault(key, place)
