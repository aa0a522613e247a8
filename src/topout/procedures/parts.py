"""The parts of a step, read from TOML into the model: evidence, bounds, waits, stops, conditions.

Findings are collected; what can't be read is left out of what goes on.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from typing import Any, Final, Literal, TypeGuard

from topout.errors import Fault
from topout.procedures import words
from topout.procedures.model import (
    CARD_READINGS,
    CARD_STAGES,
    CONDITIONS,
    EVIDENCE_KINDS,
    WARNINGS,
    Bound,
    Definition,
    Evidence,
    EvidenceKind,
    Rounds,
    Stop,
    Tolerance,
    Wait,
)
from topout.procedures.places import Places
from topout.units import TABLE, UnitFault, parse, to_si

SLUG: Final = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
UNIT_DIMENSIONS: Final = {unit: dimension for dimension, units in TABLE.items() for unit in units}
_EVIDENCE: Final = {
    "tick": ("key", "kind", "label", "optional"),
    "photo": ("key", "kind", "label", "optional"),
    "choice": ("key", "kind", "label", "options", "pass", "optional"),
    "number": ("key", "kind", "label", "unit", "expect", "within", "below", "above", "low", "high", "optional", "delta", "card"),
}  # fmt: skip
_SHOWS: Final = ("trapped-chamber", "ring")


class Parts:
    """Reads parts of a step; `faults` holds every finding so far."""

    def __init__(self, text: str) -> None:
        self.faults: list[Fault] = []
        self.places = Places(text)
        self.definitions: list[Definition] = []

    def fault(self, table: str, key: str, value: Any, message: str, evidence: str = "") -> None:
        """Note one finding at a key of a table."""
        place = ", ".join(part for part in (table, f"evidence {evidence}" if evidence else "", key) if part)
        written = "" if value is None else shown(value)
        self.faults.append(Fault(place or "the file", message, written, self.places.line(table, key, evidence), key))

    def evidence_of(self, place: str, number: int, table: dict[str, Any]) -> Evidence | None:
        key = table.get("key")
        if not isinstance(key, str) or not SLUG.fullmatch(key):
            self.fault(
                place, f"evidence {number}, key", key, 'small letters joined by "-" are expected, as in "ring-depth".'
            )
            return None
        kind = table.get("kind")
        if kind not in EVIDENCE_KINDS:
            self.fault(
                place, "kind", kind, f"one of {list_of(EVIDENCE_KINDS)} is expected.{near(kind, EVIDENCE_KINDS)}", key
            )
            return None
        self.known_of(place, table, _EVIDENCE[kind], key)
        label = self.text_of(place, table, "label", evidence=key)
        flags = {flag: table.get(flag, False) for flag in ("optional", "delta")}
        for flag, value in flags.items():
            if not isinstance(value, bool):
                self.fault(place, flag, value, "true or false is expected.", key)
        if kind == "choice":
            return self._choice(place, key, label, table, bool(flags["optional"]))
        if kind == "number":
            return self._number(place, key, label, table, bool(flags["optional"]), bool(flags["delta"]))
        known: EvidenceKind = "tick" if kind == "tick" else "photo"
        return Evidence(key, known, label, optional=bool(flags["optional"]))

    def _choice(self, place: str, key: str, label: str, table: dict[str, Any], optional: bool) -> Evidence | None:
        options, passes = table.get("options"), table.get("pass", table.get("options"))
        if not texts(options) or len(set(options)) != len(options) or not 2 <= len(options) <= 5:
            self.fault(place, "options", options, "a list of two to five different answers is expected.", key)
            return None
        if not texts(passes) or not passes or not set(passes) <= set(options):
            self.fault(place, "pass", passes, f"the answers that pass are expected, out of {list_of(options)}.", key)
            return None
        return Evidence(key, "choice", label, options=tuple(options), passes=tuple(passes), optional=optional)

    def _number(
        self, place: str, key: str, label: str, table: dict[str, Any], optional: bool, delta: bool
    ) -> Evidence | None:
        unit = table.get("unit")
        dimension = "count" if unit == "count" else UNIT_DIMENSIONS.get(unit, "") if isinstance(unit, str) else ""
        if not dimension:
            hint = near(unit, UNIT_DIMENSIONS)
            self.fault(place, "unit", unit, f'a unit such as "mm", "psi", "N·m" or "count" is expected.{hint}', key)
            return None
        bounds = {
            end: self.bound_of(place, end, table[end], dimension, key)
            for end in ("expect", "low", "high")
            if end in table
        }
        within = {
            end: self._tolerance(place, end, table[end], dimension, key)
            for end in ("within", "below", "above")
            if end in table
        }
        if "within" in within and ("below" in within or "above" in within):
            self.fault(place, "within", table["within"], "write either within, or below and above.", key)
        if within and "expect" not in bounds:
            self.fault(
                place,
                "expect",
                None,
                "what the reading is compared with is expected beside within, below or above.",
                key,
            )
        low, high = bounds.get("low"), bounds.get("high")
        if low and high and low.value_si is not None and high.value_si is not None and low.value_si > high.value_si:
            self.fault(
                place, "low", table["low"], f"a low end at or under the high end, {table['high']}, is expected.", key
            )
        return Evidence(
            key,
            "number",
            label,
            dimension,
            "" if dimension == "count" else str(unit),
            bounds.get("expect"),
            within.get("below", within.get("within")),
            within.get("above", within.get("within")),
            low,
            high,
            optional=optional,
            delta=delta,
            card=self._card(place, key, table.get("card")),
        )

    def _card(self, place: str, key: str, value: Any) -> tuple[str, str] | None:
        if value is None:
            return None
        known = [f"{stage} {reading}" for stage in CARD_STAGES for reading in CARD_READINGS]
        if value not in known:
            message = f'a stage with a reading of the card is expected, as in "as-left pressure".{near(value, known)}'
            self.fault(place, "card", value, message, key)
            return None
        stage, reading = value.split(" ")
        return stage, reading

    def bound_of(self, place: str, end: str, value: Any, dimension: str, evidence: str) -> Bound | None:
        """A quantity of the dimension, or one `{name}` of it."""
        if isinstance(value, str) and (match := words.NAME_IN_TEXT.fullmatch(value.strip())):
            name = match.group(1)
            known = {**words.NAMES, **self.own_of()}
            if name not in known:
                self.fault(
                    place, end, value, f"no such name; docs/procedures.md lists them.{near(name, known)}", evidence
                )
            elif known[name].dimension != dimension:
                what = known[name].dimension
                self.fault(place, end, value, f"a name of {dimension} is expected; this one is of {what}.", evidence)
            else:
                return Bound(name=name)
            return None
        if dimension == "count":
            if type(value) is int and value >= 0:
                return Bound(float(value))
            self.fault(place, end, value, "a whole number from 0, or a {name}, is expected.", evidence)
            return None
        if not isinstance(value, str):
            self.fault(place, end, value, f"{dimension} with a unit in quotes, or a {{name}}, is expected.", evidence)
            return None
        try:
            return Bound(parse(value, dimension).value_si)
        except UnitFault as fault:
            self.fault(place, end, value, str(fault), evidence)
            return None

    def _tolerance(self, place: str, end: str, value: Any, dimension: str, evidence: str) -> Tolerance | None:
        """`"2 mm"`, `"1 %"` of what is expected, or `"2 marks"` of the gauge plus its class of the span."""
        if dimension == "count" and type(value) is int and value >= 0:
            return Tolerance("quantity", float(value))
        text = value.strip() if isinstance(value, str) else ""
        share = re.fullmatch(r"(\d+(?:\.\d+)?)\s*%", text)
        if share and 0 < float(share.group(1)) <= 50:
            return Tolerance("share", float(share.group(1)) / 100)
        marks = re.fullmatch(r"(\d+(?:\.\d+)?)\s*marks?", text)
        if marks and dimension == "pressure":
            return Tolerance("gauge", float(marks.group(1)))
        if text and not share and not marks and dimension not in ("count", "temperature"):
            try:
                typed = parse(text, dimension)
            except UnitFault as fault:
                self.fault(place, end, value, str(fault), evidence)
                return None
            if typed.value_si >= 0:
                return Tolerance("quantity", typed.value_si)
        if dimension == "temperature" and (match := re.fullmatch(r"(\d+(?:\.\d+)?)\s*K", text)):
            return Tolerance("quantity", float(match.group(1)))
        wanted = (
            'a distance such as "2 mm", a share such as "1 %", or for pressures "2 marks" of the gauge, is expected.'
        )
        self.fault(place, end, value, wanted, evidence)
        return None

    def stop_of(self, place: str, table: Any) -> Stop | None:
        if table is None:
            return None
        if not isinstance(table, dict):
            self.fault(place, "stop", table, "a table is expected: { title, text, ways }.")
            return None
        self.known_of(place, table, ("title", "text", "ways", "shows"))
        ways = table.get("ways")
        if not texts(ways) or not ways:
            self.fault(place, "stop", None, "what may be done now is expected in ways, one sentence each.")
            ways = []
        shows = table.get("shows", "")
        if shows not in ("", *_SHOWS):
            self.fault(place, "stop", shows, f"shows is one of {list_of(_SHOWS)}.{near(shows, _SHOWS)}")
            shows = ""
        title, text = self.text_of(place, table, "title"), self.text_of(place, table, "text")
        return Stop(title, text, tuple(ways), shows)

    def opens_of(self, place: str, value: Any) -> Literal["", "new-tag"]:
        """The page of the workshop that a step opens."""
        if value == "new-tag":
            return "new-tag"
        if value != "":
            self.fault(place, "opens", value, f'"new-tag" is expected.{near(value, ["new-tag"])}')
        return ""

    def deals_with_of(self, place: str, value: Any) -> tuple[str, ...]:
        """The warnings of the plan that a step deals with."""
        if not texts(value) or not value or len(set(value)) != len(value):
            self.fault(place, "deals_with", value, 'a list of warnings is expected, as in ["tyre-crown"].')
            return ()
        for code in value:
            if code not in WARNINGS:
                message = f"no warning of the plan; docs/bench-file.md lists them.{near(code, WARNINGS)}"
                self.fault(place, "deals_with", code, message)
        return tuple(value)

    def when_of(self, place: str, table: Any) -> tuple[tuple[str, tuple[str, ...]], ...]:
        if table is None:
            return ()
        if not isinstance(table, dict) or not table:
            self.fault(place, "when", table, 'a table is expected, as in { negative = ["coil", "none"] }.')
            return ()
        found: list[tuple[str, tuple[str, ...]]] = []
        for key, value in table.items():
            allowed = [value] if isinstance(value, str) else value
            if key not in CONDITIONS:
                self.fault(place, "when", key, f"one of {list_of(CONDITIONS)} is expected.{near(key, CONDITIONS)}")
            elif not texts(allowed) or not allowed or not set(allowed) <= set(CONDITIONS[key]):
                self.fault(place, "when", value, f"{key} is one or more of {list_of(CONDITIONS[key])}.")
            else:
                found.append((key, tuple(allowed)))
        return tuple(found)

    def after_of(self, place: str, table: Any) -> Wait | None:
        if table is None:
            return None
        minutes = table.get("minutes") if isinstance(table, dict) else None
        step = table.get("step") if isinstance(table, dict) else None
        if not isinstance(step, str) or not _number(minutes) or not 0 < minutes <= 24 * 60:
            self.fault(place, "after", None, 'a step and minutes are expected: { step = "leak-start", minutes = 30 }.')
            return None
        self.known_of(place, table, ("step", "minutes"))
        return Wait(step, float(minutes))

    def rounds_of(self, place: str, table: Any) -> Rounds | None:
        if table is None:
            return None
        stop_every = table.get("stop_every") if isinstance(table, dict) else None
        marks = table.get("marks") if isinstance(table, dict) else None
        if not isinstance(stop_every, str) or not _number(marks) or marks <= 0:
            self.fault(place, "rounds", None, 'stops and marks are expected: { stop_every = "20 psi", marks = 2 }.')
            return None
        self.known_of(place, table, ("stop_every", "marks"))
        try:
            pascal = parse(stop_every, "pressure").value_si
        except UnitFault as fault:
            self.fault(place, "rounds", stop_every, str(fault))
            return None
        if pascal < to_si(5, "psi", "pressure"):
            self.fault(place, "rounds", stop_every, "stops of at least 5 psi are expected.")
            return None
        return Rounds(pascal, float(marks))

    def own_of(self) -> dict[str, words.Name]:
        return words.own_names(tuple(self.definitions))

    def dimension_of(self, value: Any) -> str:
        """The dimension that a quantity or a name of a definition has."""
        if not isinstance(value, str):
            return ""
        match = words.NAME_IN_TEXT.fullmatch(value.strip())
        if match:
            known = {**words.NAMES, **self.own_of()}
            return known[match.group(1)].dimension if match.group(1) in known else ""
        return UNIT_DIMENSIONS.get(value.strip().split(" ")[-1], "")

    def known_of(self, place: str, table: dict[str, Any], known: Iterable[str], evidence: str = "") -> None:
        for key in table:
            if key not in known:
                self.fault(place, key, None, f"no such key.{near(key, known)}", evidence)

    def key_of(self, place: str, table: dict[str, Any]) -> str:
        key = table.get("key")
        if isinstance(key, str) and SLUG.fullmatch(key) and len(key) <= 40:
            return key
        self.fault(place, "key", key, 'small letters joined by "-" are expected, at most 40, as in "empty-at-rest".')
        return ""

    def text_of(self, place: str, table: dict[str, Any], key: str, *, needed: bool = True, evidence: str = "") -> str:
        value = table.get(key)
        if value is None and not needed:
            return ""
        if isinstance(value, str) and value.strip():
            return value.strip()
        self.fault(place, key, value, "a sentence in quotes is expected.", evidence)
        return ""


def texts(value: Any) -> TypeGuard[list[str]]:
    """Whether a value is a list of sentences."""
    return isinstance(value, list) and all(isinstance(each, str) and each.strip() for each in value)


def _number(value: Any) -> TypeGuard[float]:
    return type(value) in (int, float)


def list_of(values: Iterable[str]) -> str:
    """Words in quotes with commas."""
    return ", ".join(f'"{value}"' for value in values)


def near(value: Any, known: Iterable[str]) -> str:
    """ " Is it …?" with the nearest known word, or nothing."""
    near = difflib.get_close_matches(value, list(known), 1) if isinstance(value, str) else []
    return f" Is it {near[0]}?" if near else ""


def shown(value: Any) -> str:
    """A value of the file as a fault repeats it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "…"
