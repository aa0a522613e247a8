"""What comes from a terminal and may go to one: every line that a command prints or logs passes here, and nowhere else is it cleaned.

Names and notes come out of files and databases that somebody else may have written. An escape sequence among them would
move the cursor, colour the screen or hide a line; a sign that turns the direction of writing would let a line read otherwise.
"""

from __future__ import annotations

TYPE_CHECKING = False  # typing's own costs its import
if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Final

_OURS: Final = "\n\t\u00a0\u202f"  # line ends, and the spaces that hold a number and its unit together
_WITHOUT_OURS: Final = dict.fromkeys(map(ord, _OURS))
_PLAINER: Final = {  # where the output has no such letter
    "\u00a0": " ", "\u202f": " ", "\u2212": "-", "\u2013": "-", "\u2500": "-", "\u2026": "...", "\u00b7": "|",
    "\u00b0": " deg", "\u2192": ">", "\u2019": "'",
}  # fmt: skip


def printable(text: str, encoding: str | None = None) -> str:
    """The text without a sign that could steer a terminal, in letters that the output can carry.

    Control, direction and unassigned signs stand as their codes (`\\u001b`). A console or file of an old code page has no
    true minus: it gets a plainer one; `encoding` None is UTF-8.
    """
    encoding = encoding or "utf-8"
    if not text.translate(_WITHOUT_OURS).isprintable():
        text = "".join(c if c in _OURS or c.isprintable() else f"\\u{ord(c):04x}" for c in text)
    try:
        text.encode(encoding)
        return text
    except UnicodeEncodeError:
        return "".join(_letter(c, encoding) for c in text)


def without_value(arguments: Sequence[str]) -> str:
    """The first option that is written with -- for its value, which argparse takes for the end of the options and makes a list of; "" for none."""
    return next((word[:-3] for word in arguments if word.startswith("--") and word.endswith("=--")), "")


def _letter(c: str, encoding: str) -> str:
    try:
        c.encode(encoding)
        return c
    except UnicodeEncodeError:
        return _PLAINER.get(c) or c.encode(encoding, "backslashreplace").decode(encoding)
