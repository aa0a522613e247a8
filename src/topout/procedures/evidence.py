"""A piece of evidence, read from TOML into the model: its kind, its band, its role, its target.

Findings are collected; what can't be read is left out of what goes on.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, Final

from topout.procedures import roles, service, words
from topout.procedures.findings import SLUG, Findings, list_of, near, texts
from topout.procedures.model import (
    CARD_READINGS,
    CARD_STAGES,
    EVIDENCE_KINDS,
    Bound,
    Definition,
    Evidence,
    EvidenceKind,
    Name,
    Tolerance,
    Vocabulary,
)
from topout.units import TABLE, UnitFault, parse

UNIT_DIMENSIONS: Final = {unit: dimension for dimension, units in TABLE.items() for unit in units}
_EVIDENCE: Final = {
    "tick": ("key", "kind", "label", "optional", "role", "service"),
    "photo": ("key", "kind", "label", "optional"),
    "choice": ("key", "kind", "label", "options", "pass", "means", "optional", "role", "service"),
    "number": (
        "key", "kind", "label", "unit", "expect", "within", "below", "above", "low", "high", "optional", "delta", "card",
        "role", "service",
    ),
}  # fmt: skip


class EvidenceReader(Findings):
    """Reads evidence against a vocabulary, and the file's own definitions so far."""

    def __init__(self, text: str, vocabulary: Vocabulary) -> None:
        super().__init__(text)
        self.vocabulary = vocabulary
        self.definitions: list[Definition] = []

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
        optional = bool(flags["optional"])
        if kind == "choice":
            found = self._choice(place, key, label, table, optional)
        elif kind == "number":
            found = self._number(place, key, label, table, optional, bool(flags["delta"]))
        else:
            known: EvidenceKind = "tick" if kind == "tick" else "photo"
            found = Evidence(key, known, label, optional=optional)
        if found is None:
            return None
        given = self._roles(place, found, table.get("role"))
        field = self._service(place, found, table.get("service", ""))
        means = self._means(place, found, given, table.get("means"))
        return replace(found, roles=given, service=field, means=means)

    def _roles(self, place: str, found: Evidence, value: Any) -> tuple[str, ...]:
        """What the evidence is for the rest of the tool: one role, or a list."""
        if value is None:
            return ()
        given = [value] if isinstance(value, str) else value
        if not texts(given) or not given or len(set(given)) != len(given):
            self.fault(place, "role", value, 'a role, or a list of them, is expected, as in "full-length".', found.key)
            return ()
        for each in given:
            role = roles.ROLES.get(each)
            if role is None:
                message = f"no such role; docs/procedures.md lists them.{near(each, roles.ROLES)}"
                self.fault(place, "role", each, message, found.key)
            elif role.dimension != found.dimension and not (
                role.or_tick and found.kind == "tick" or role.or_choice and found.kind == "choice"
            ):
                wanted = f"a number of {role.dimension}" if role.dimension else "a tick or a choice"
                self.fault(place, "role", each, f"{wanted} is expected with this role.", found.key)
            elif role.means and found.kind != "choice":
                self.fault(place, "role", each, "a choice is expected with this role.", found.key)
        return tuple(each for each in given if each in roles.ROLES)

    def _means(self, place: str, found: Evidence, given: tuple[str, ...], value: Any) -> tuple[str, ...]:
        """What each option of a choice is for the rest of the tool, where its role has a list of that."""
        allowed = next((roles.ROLES[each].means for each in given if roles.ROLES[each].means), ())
        if not allowed:
            if value is not None:
                self.fault(
                    place, "means", value, "only a choice whose role has a list of answers has means.", found.key
                )
            return ()
        if not texts(value) or len(value) != len(found.options) or not set(value) <= set(allowed):
            message = f"one of {list_of(allowed)} for each of its options is expected."
            self.fault(place, "means", value, message, found.key)
            return ()
        return tuple(value)

    def _service(self, place: str, found: Evidence, value: Any) -> str:
        """The field of the family's service data that is the target."""
        if value == "":
            return ""
        field = service.FIELDS.get(value) if isinstance(value, str) else None
        if field is None:
            message = f"no such field of the service data; docs/procedures.md lists them.{near(value, service.FIELDS)}"
            self.fault(place, "service", value, message, found.key)
            return ""
        if found.kind == "number" and field.dimension != found.dimension:
            wanted = field.dimension or "no number but words"
            self.fault(
                place, "service", value, f"this field is {wanted}; the evidence is {found.dimension}.", found.key
            )
            return ""
        if found.kind == "number" and found.expect is not None:
            self.fault(place, "expect", None, "the service data is what is expected; leave expect out.", found.key)
        return str(value)

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
        if within and "expect" not in bounds and "service" not in table:
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
            known = self.names_of()
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
        marks = re.fullmatch(r"(\d+(?:\.\d+)?)\s*marks?(\s+of drop)?", text)
        if marks and dimension == "pressure":
            return Tolerance("drop" if marks.group(2) else "gauge", float(marks.group(1)))
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
        wanted = 'a distance such as "2 mm", a share such as "1 %", or for pressures "2 marks" of the gauge or "2 marks of drop", is expected.'
        self.fault(place, end, value, wanted, evidence)
        return None

    def names_of(self) -> dict[str, Name]:
        """Every name that may stand here: the vocabulary's, and the file's own so far."""
        return {**self.vocabulary.names, **words.own_names(tuple(self.definitions))}

    def dimension_of(self, value: Any) -> str:
        """The dimension that a quantity or a name of a definition has."""
        if not isinstance(value, str):
            return ""
        match = words.NAME_IN_TEXT.fullmatch(value.strip())
        if match:
            known = self.names_of()
            return known[match.group(1)].dimension if match.group(1) in known else ""
        return UNIT_DIMENSIONS.get(value.strip().split(" ")[-1], "")
