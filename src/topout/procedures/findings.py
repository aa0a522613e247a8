"""What is found wrong while a procedure's file is read: noted with its place, value and line, never raised at once."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from typing import Any, Final, TypeGuard

from topout.errors import Fault
from topout.procedures.places import Places

SLUG: Final = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


class Findings:
    """Notes what is wrong; `faults` holds every finding so far."""

    def __init__(self, text: str) -> None:
        self.faults: list[Fault] = []
        self.places = Places(text)

    def fault(self, table: str, key: str, value: Any, message: str, evidence: str = "") -> None:
        """Note one finding at a key of a table."""
        place = ", ".join(part for part in (table, f"evidence {evidence}" if evidence else "", plain(key)) if part)
        written = "" if value is None else shown(value)
        self.faults.append(Fault(place or "the file", message, written, self.places.line(table, key, evidence), key))

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

    def flag_of(self, place: str, table: dict[str, Any], key: str, usual: bool) -> bool:
        """true or false."""
        value = table.get(key, usual)
        if isinstance(value, bool):
            return value
        self.fault(place, key, value, "true or false is expected.")
        return usual


def texts(value: Any) -> TypeGuard[list[str]]:
    """Whether a value is a list of sentences."""
    return isinstance(value, list) and all(isinstance(each, str) and each.strip() for each in value)


def list_of(values: Iterable[str]) -> str:
    """Words in quotes with commas."""
    return ", ".join(f'"{value}"' for value in values)


def near(value: Any, known: Iterable[str]) -> str:
    """ " Is it …?" with the nearest known word, or nothing."""
    near = difflib.get_close_matches(value, list(known), 1) if isinstance(value, str) else []
    return f" Is it {near[0]}?" if near else ""


def shown(value: Any) -> str:
    """A value of the file as a fault repeats it: short, and no sign in it that nobody sees."""
    if isinstance(value, bool):
        return "true" if value else "false"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return plain(text)


def plain(text: str) -> str:
    """At most 60 letters of a text, with the number of a sign in its place where nobody sees it."""
    cut = text if len(text) <= 60 else text[:57] + "…"
    return "".join(f"\\u{ord(letter):04x}" if unseen(letter) else letter for letter in cut)


def unseen(letter: str) -> bool:
    """Whether a sign is one that nobody sees: of control, of direction, of no width, or none at all."""
    return unicodedata.category(letter)[0] == "C"
