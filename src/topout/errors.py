"""The errors of Topout, one family.

    TopoutError                 anything a person can mend; its text is fit to show
    ├── FaultsFound             findings in what was given: a bench file, a procedure, a form; all at once
    └── OutOfRange              a number the models refuse: name, value, unit, limits

A `Fault` is one finding; it is data, not an exception, so that many can be collected and shown together.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One finding: where it stands, what was found there, what was expected and the way out.

    `location` names the table or field (`[fork.air] bore`, `step 12`), `value` is what was written (empty where
    something is missing), `message` is a sentence with what was expected and how to mend it, `line` counts from 1.
    `key` is the machine's name of the field (`fork.air.bore`), for forms that show the sentence beside the box.
    """

    location: str
    message: str
    value: str = ""
    line: int | None = None
    key: str = ""

    def __str__(self) -> str:
        where = f"line {self.line}, {self.location}" if self.line is not None else self.location
        return f"{where} = {self.value}: {self.message}" if self.value else f"{where}: {self.message}"


class TopoutError(Exception):
    """Anything that a person can mend; `str()` of it is fit to show."""


class FaultsFound(TopoutError):
    """All findings in one thing that was given, in the order in which they stand there."""

    def __init__(self, faults: Iterable[Fault], source: str = "") -> None:
        self.faults = tuple(faults)
        self.source = source
        super().__init__(source, self.faults)

    def __str__(self) -> str:
        prefix = f"{self.source}: " if self.source else ""
        return "\n".join(prefix + str(fault) for fault in self.faults)


class OutOfRange(TopoutError):
    """A number that the models refuse; carries its name, value, unit and limits (None: open on that side)."""

    def __init__(self, name: str, value: float, unit: str, low: float | None = None, high: float | None = None) -> None:
        self.name, self.value, self.unit, self.low, self.high = name, value, unit, low, high
        super().__init__(name, value, unit, low, high)

    def __str__(self) -> str:
        if self.low is not None and self.high is not None:
            expected = f"{self.low:g} to {self.high:g} {self.unit}"
        elif self.low is not None:
            expected = f"at least {self.low:g} {self.unit}"
        else:
            expected = f"at most {self.high:g} {self.unit}"
        value = f"{self.value:g} {self.unit}".strip()
        return f"{self.name} = {value}: {expected.strip()} is expected."
