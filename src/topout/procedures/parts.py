"""The parts of a step beside its evidence, read from TOML into the model: stops, conditions, waits, rounds.

Findings are collected; what can't be read is left out of what goes on.
"""

from __future__ import annotations

from typing import Any, Final, Literal, TypeGuard

from topout.procedures.evidence import EvidenceReader
from topout.procedures.findings import list_of, near, texts
from topout.procedures.model import CONDITIONS, WARNINGS, Rounds, Stop, Wait
from topout.units import UnitFault, parse, to_si

_SHOWS: Final = ("trapped-chamber", "second-chamber", "loaded-spring", "gas", "ring")


class Parts(EvidenceReader):
    """Reads the parts of a step."""

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

    def wait_of(self, place: str, table: Any) -> Wait | None:
        if table is None:
            return None
        minutes = table.get("minutes") if isinstance(table, dict) else None
        step = table.get("after") if isinstance(table, dict) else None
        if not isinstance(step, str) or not _number(minutes) or not 0 < minutes <= 24 * 60:
            self.fault(place, "wait", None, 'a step and minutes are expected: { after = "leak-start", minutes = 30 }.')
            return None
        self.known_of(place, table, ("after", "minutes"))
        return Wait(step, float(minutes))

    def needs_of(self, place: str, value: Any) -> Literal["", "bike"]:
        """What must be here for the step."""
        if value == "bike":
            return "bike"
        if value != "":
            self.fault(place, "needs", value, f'"bike" is expected.{near(value, ["bike"])}')
        return ""

    def rounds_of(self, place: str, table: Any) -> Rounds | None:
        if table is None:
            return None
        stop_every = table.get("stop_every") if isinstance(table, dict) else None
        marks = table.get("marks") if isinstance(table, dict) else None
        if not isinstance(stop_every, str) or not _number(marks) or marks <= 0:
            self.fault(place, "rounds", None, 'stops and marks are expected: { stop_every = "30 psi", marks = 2 }.')
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


def _number(value: Any) -> TypeGuard[float]:
    return type(value) in (int, float)
