"""Procedures from TOML: every fault of a file at once, each with its place, value, line and the way out.

The grammar is docs/procedures.md, whose examples are run by the tests. What the words of a step must be like is
checked in `check.py`; this room turns tables into the model.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

from topout import toml_scan
from topout.errors import Fault, FaultsFound
from topout.procedures import check, earlier
from topout.procedures.findings import SLUG, list_of, near, texts
from topout.procedures.library import digest, text_of
from topout.procedures.model import (
    UNITS_SERVICED,
    Definition,
    Evidence,
    Group,
    Procedure,
    Step,
    Variant,
    Vocabulary,
)
from topout.procedures.parameters import fills, substituted
from topout.procedures.parts import Parts
from topout.procedures.places import Places
from topout.units import TABLE

FILE_LIMIT_BYTES: Final = 256 * 1024
# Ours, so that no text can cost more than its length: every condition, variant and step multiplies what is checked. The
# longest that comes with the tool has 95 steps, one variant, three pieces of evidence a step.
STEPS_LIMIT: Final = 250
VARIANTS_LIMIT: Final = 4
EVIDENCE_LIMIT: Final = 8
When = tuple[tuple[str, tuple[str, ...]], ...]
_NAME: Final = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")

GRAMMAR: Final = 2
_TOP: Final = ("grammar", "title", "version", "summary", "for", "plan", "group", "variant", "define", "shared")
_GROUP: Final = ("key", "title", "complete", "variant", "meanwhile", "step", "include", "with", "without", "when")
_INCLUDE: Final = ("include", "with", "without", "when")
_SHARED: Final = ("key", "title", "complete", "parameters", "step")
_VARIANT: Final = ("key", "title", "caution", "why")
_DEFINE: Final = ("key", "function", "of", "unit")
_STEP: Final = (
    "key", "do", "detail", "caution", "why", "good", "hold", "may_skip", "evidence", "stop", "when", "needs", "wait",
    "rounds", "opens", "deals_with",
)  # fmt: skip


# What else is looked at in a procedure that could be read: its places, where each step stands.
Also = Callable[[Procedure, Places, Mapping[str, str]], Iterable[Fault]]


def read(text: str, key: str, vocabulary: Vocabulary, source: str = "", also: Also | None = None) -> Procedure:
    """The procedure in `text`; raises FaultsFound with all findings. `key` is its name, `source` stands before faults.

    `also` finds more in a text that could be read; what it finds stands among the rest.
    """
    return _read(text, key, vocabulary, source, pinned_text=False, also=also)


def _read(
    text: str, key: str, vocabulary: Vocabulary, source: str, *, pinned_text: bool, also: Also | None = None
) -> Procedure:
    refuse_unreadable(text, source)
    try:
        toml_scan.guard(text)
        table = tomllib.loads(text)
    except toml_scan.TooDeep as deep:
        raise FaultsFound([Fault("the file", deep.what, line=deep.line)], source) from None
    except tomllib.TOMLDecodeError as fault:
        match = re.search(r"\(at line (\d+)", str(fault))
        line = int(match.group(1)) if match else text.rstrip("\n").count("\n") + 1  # at its end
        message = "TOML is expected here: " + re.sub(r" \(at .*\)$", "", str(fault)) + "."
        raise FaultsFound([Fault("the file", message, line=line)], source) from None
    old = pinned_text and "grammar" not in table
    if old:
        table = earlier.translate(table)
    reader = _Reader(text, vocabulary)
    procedure = reader.procedure(table, key)
    # A pinned text was looked at when it was pinned; what is asked of files today is not asked of it again.
    if procedure is not None and not pinned_text:
        given = (procedure, reader.places, reader.stands)
        whole = not reader.faults
        # What hangs together is looked at where all of it could be read: half of it would have findings of its own.
        # Words are looked at in any case, so that whoever mends the file mends all of them at once.
        reader.faults += check.of_whole(*given) if whole else []
        if whole or not reader.undefined:
            reader.faults += check.of_words(*given)
            reader.faults += also(*given) if also is not None else []
    if reader.faults:
        unlike = list(dict.fromkeys(reader.faults))  # a group that is included twice has each finding once
        raise FaultsFound(sorted(unlike, key=lambda fault: fault.line or 0), source)
    assert procedure is not None
    return procedure


def refuse_unreadable(text: str, source: str) -> None:
    """Raise FaultsFound where a text is none, or too long."""
    size = len(text.encode("utf-8", "surrogatepass"))
    finding = ""
    if size > FILE_LIMIT_BYTES:
        finding = f"{size} bytes; at most {FILE_LIMIT_BYTES} are read. Split the procedure."
    elif not text.strip():
        finding = "it is empty; a procedure is expected, as docs/procedures.md shows it."
    elif "\0" in text:
        finding = "it holds a NUL byte; a text file is expected."
    if finding:
        raise FaultsFound([Fault("the file", finding)], source)


@dataclass(frozen=True, slots=True)
class Shipped:
    """A procedure with its text and the SHA-256 of it, which every signed step keeps."""

    procedure: Procedure
    sha256: str
    text: str


@lru_cache(maxsize=32)
def pinned(key: str, text: str, vocabulary: Vocabulary) -> Shipped:
    """A procedure from a text that was looked at before: one that was kept, or that comes with the tool.

    Raises FaultsFound where this version reads it no more.
    """
    return Shipped(_read(text, key, vocabulary, f"{key}.toml", pinned_text=True), digest(text), text)


def shipped(key: str, vocabulary: Vocabulary) -> Shipped:
    """A procedure that comes with the tool, as its file is now; KeyError for an unknown name.

    Its words and its order were looked at by the tests, as a workshop's own are where it is given: not by every process again.
    """
    return pinned(key, text_of(key), vocabulary)


class _Reader(Parts):
    """Tables to the model. `stands` says where each step stands, for what is found about it later."""

    def __init__(self, text: str, vocabulary: Vocabulary) -> None:
        super().__init__(text, vocabulary)
        self.variants: set[str] = set()
        self.stands: dict[str, str] = {}
        self.count = 0  # of steps read so far
        self.shared: dict[str, tuple[str, dict[str, Any]]] = {}

    def procedure(self, table: dict[str, Any], key: str) -> Procedure | None:
        """The whole file."""
        self.known_of("", table, _TOP)
        if table.get("grammar") != GRAMMAR:
            self.fault(
                "", "grammar", table.get("grammar"), f"grammar = {GRAMMAR} is expected: what this file is written in."
            )
        title = self.text_of("", table, "title")
        summary = self.text_of("", table, "summary")
        version = table.get("version")
        if type(version) is not int or version < 1:
            self.fault("", "version", version, "a whole number from 1 is expected; it goes up with every change.")
            version = 1
        serviced = table.get("for", list(UNITS_SERVICED[:1]))
        if not texts(serviced) or not serviced or not set(serviced) <= set(UNITS_SERVICED):
            self.fault("", "for", serviced, f"what the procedure is for is expected: {list_of(UNITS_SERVICED)}.")
            serviced = []
        variants = tuple(self._variant(f"variant {n}", each) for n, each in self._tables("", table, "variant", False))
        self.variants = {variant.key for variant in variants}
        for n, each in self._tables("", table, "define", False):
            self._define(f"define {n}", each)
        for n, each in self._tables("", table, "shared", False):
            self._share(f"shared {n}", each)
        groups = tuple(
            self._group(n, each) for n, each in self._tables("", table, "group", True) if self.count <= STEPS_LIMIT
        )
        if len(variants) > VARIANTS_LIMIT:
            self.fault("", "variant", None, f"{len(variants)} variants; at most {VARIANTS_LIMIT} are read.")
        if self.count > STEPS_LIMIT:
            self.fault(
                "", "group", None, f"at most {STEPS_LIMIT} steps are read; the rest is not. Make two procedures of it."
            )
        self._unique("group", ((g.key, f"group {n}") for n, g in enumerate(groups, 1)))
        self._unique("variant", ((v.key, f"variant {n}") for n, v in enumerate(variants, 1)))
        return Procedure(
            key, title, version, summary, groups, variants, tuple(self.definitions), tuple(serviced),
            self.flag_of("", table, "plan", True), self.names_of(),
        )  # fmt: skip

    def _variant(self, place: str, table: dict[str, Any]) -> Variant:
        self.known_of(place, table, _VARIANT)
        return Variant(
            self.key_of(place, table), self.text_of(place, table, "title"), self.text_of(place, table, "caution"),
            self.text_of(place, table, "why", needed=False),
        )  # fmt: skip

    @property
    def undefined(self) -> bool:
        """Whether a name of the file's own could not be read: where it stands it is none that is not known."""
        return any(fault.location.startswith("define") for fault in self.faults)

    def _define(self, place: str, table: dict[str, Any]) -> None:
        self.known_of(place, table, _DEFINE)
        functions = self.vocabulary.functions
        key = table.get("key")
        if not isinstance(key, str) or not _NAME.fullmatch(key) or key in self.names_of():
            self.fault(place, "key", key, 'a new name is expected, small letters joined by _, as in "dry_pressure".')
            return
        function = table.get("function")
        if not isinstance(function, str) or function not in functions:
            wanted = f"one of {list_of(functions)} is expected.{near(function, functions)}"
            self.fault(place, "function", function, wanted)
            return
        of, asked = table.get("of"), functions[function]
        if not isinstance(of, list) or not of or (asked.count is not None and len(of) != asked.count):
            count = asked.count
            wanted = "a list of quantities or names" if count is None else f"a list of {count} quantity or name"
            self.fault(place, "of", of, f'{wanted} is expected, as in ["3 bar", "{{set_pressure}}"].')
            return
        dimension = asked.takes or next((d for d in (self.dimension_of(each) for each in of) if d), "")
        if not dimension:
            self.fault(place, "of", of, "quantities with a unit, or names, are expected.")
            return
        bounds = [self.bound_of(place, "of", each, dimension, "") for each in of]
        unit = table.get("unit", "") if asked.gives != "energy" else "J"
        out = asked.gives or dimension
        if out != "energy" and (not isinstance(unit, str) or unit not in TABLE.get(out, {})):
            self.fault(place, "unit", unit or None, f"a unit of {out} is expected: {list_of(TABLE.get(out, {}))}.")
            return
        known = tuple(bound for bound in bounds if bound is not None)
        if len(known) == len(bounds):
            self.definitions.append(Definition(key, function, known, out, unit))

    def _share(self, place: str, table: dict[str, Any]) -> None:
        """A group that others include; its steps are read where they are included."""
        self.known_of(place, table, _SHARED)
        key = self.key_of(place, table)
        given = table.get("parameters", {})
        if not isinstance(given, dict) or not all(SLUG.fullmatch(name) and fills(v) for name, v in given.items()):
            self.fault(place, "parameters", None, 'names with what stands for them are expected: { unit = "fork" }.')
            table = {**table, "parameters": {}}
        if key in self.shared:
            self.fault(place, "key", key, f"{self.shared[key][0]} has this key already; every shared needs its own.")
        elif key:
            self.shared[key] = (place, table)

    def _group(self, number: int, table: dict[str, Any]) -> Group:
        place = f"group {number}"
        self.known_of(place, table, _GROUP)
        variant = table.get("variant", "")
        if not isinstance(variant, str) or variant not in self.variants | {""}:
            self.fault(place, "variant", variant, f"a variant of this file is expected.{near(variant, self.variants)}")
        steps: list[Step] = []
        usual: dict[str, Any] = {}
        if "include" in table:
            usual = self._filled(place, table)
            steps += self._included(place, table, usual)
        elif any(key in table for key in ("with", "without", "when")):
            self.fault(place, "include", None, "with, without and when go with include.")
        for n, each in self._tables(place, table, "step", "include" not in table):
            if self.count > STEPS_LIMIT:
                break
            here = f"{place}, step {n}"
            if "include" in each:
                self.known_of(here, each, _INCLUDE)
                steps += self._included(here, each, self._filled(here, each))
            else:
                steps += self._stands(here, [self._step(here, each)])
        return Group(
            self.key_of(place, {"key": usual.get("key")} | table),
            self.text_of(place, usual | table, "title"),
            self.text_of(place, usual | table, "complete"),
            tuple(steps),
            variant if isinstance(variant, str) else "",
            self.flag_of(place, table, "meanwhile", False),
        )

    def _filled(self, place: str, table: dict[str, Any]) -> dict[str, Any]:
        """The shared group that is included, its parameters filled in; empty where there is none."""
        name, given = table["include"], table.get("with", {})
        if not isinstance(name, str) or name not in self.shared:
            message = f"no such shared group; docs/procedures.md lists them.{near(name, self.shared)}"
            self.fault(place, "include", name, message)
            return {}
        _, shared = self.shared[name]
        parameters = shared.get("parameters", {})
        if not isinstance(given, dict) or not all(fills(value) for value in given.values()):
            self.fault(place, "with", None, 'names with what stands for them are expected: { unit = "shock" }.')
            given = {}
        for key in given:
            if key not in parameters:
                self.fault(place, "with", key, f"{name} has no such parameter.{near(key, parameters)}")
        filled: dict[str, Any] = substituted(shared, parameters | given)
        return filled

    def _included(self, place: str, table: dict[str, Any], shared: dict[str, Any]) -> list[Step]:
        """The steps of a shared group, where it is included: without some, under conditions."""
        if not shared:
            return []
        at, _ = self.shared[table["include"]]
        rows = self._tables(at, shared, "step", True)
        keys = [each.get("key") for _, each in rows]
        without = table.get("without", [])
        if not texts(without) or not set(without) <= set(keys):
            self.fault(
                place, "without", without, f"keys of its steps are expected: {list_of(str(key) for key in keys)}."
            )
            without = []
        extra = self.when_of(place, table.get("when"))
        steps = []
        for n, each in rows[: STEPS_LIMIT + 1]:
            step = self._step(f"{at}, step {n}", each)
            if step.key in without:
                if not step.may_skip:
                    self.fault(place, "without", step.key, "this step keeps hands whole; no procedure leaves it out.")
                continue
            steps += self._stands(f"{at}, step {n}", [replace(step, when=_both(step.when, extra))], place)
        return steps

    def _stands(self, at: str, steps: list[Step], included: str = "") -> list[Step]:
        """Note where steps stand; no two share a key."""
        for step in steps:
            if step.key and step.key in self.stands:
                message = f"{self.stands[step.key]} has this key already; every step needs its own."
                self.fault(included or at, "include" if included else "key", step.key, message)
            elif step.key:
                self.stands[step.key] = at
        return steps

    def _step(self, place: str, table: dict[str, Any]) -> Step:
        self.count += 1
        self.known_of(place, table, _STEP)
        pieces = table.get("evidence", [])
        if isinstance(pieces, list) and len(pieces) > EVIDENCE_LIMIT:
            self.fault(
                place, "evidence", None, f"{len(pieces)} pieces; at most {EVIDENCE_LIMIT}. Make two steps of it."
            )
        evidence: list[Evidence] = []
        if not isinstance(pieces, list) or not all(isinstance(each, dict) for each in pieces):
            self.fault(place, "evidence", None, "a list of tables is expected, one a line between [ and ].")
        else:
            read = [self.evidence_of(place, n, each) for n, each in enumerate(pieces[:EVIDENCE_LIMIT], 1)]
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
            hold=self.flag_of(place, table, "hold", False),
            may_skip=self.flag_of(place, table, "may_skip", True),
            stop=self.stop_of(place, table.get("stop")),
            when=self.when_of(place, table.get("when")),
            needs=self.needs_of(place, table.get("needs", "")),
            wait=self.wait_of(place, table.get("wait")),
            rounds=self.rounds_of(place, table.get("rounds")),
            opens=self.opens_of(place, table.get("opens", "")),
            deals_with=self.deals_with_of(place, table["deals_with"]) if "deals_with" in table else (),
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


def _both(when: When, extra: When) -> When:
    """Conditions of a step and of where it is included: both must hold."""
    found = dict(when)
    for key, allowed in extra:
        found[key] = tuple(each for each in found.get(key, allowed) if each in allowed)
    return tuple(found.items())
