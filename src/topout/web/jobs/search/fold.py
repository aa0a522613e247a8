"""What was typed into the find box, taken apart: words, and the digits of what may be a telephone."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from topout.web.folding import folded, tokens

# As people without the key write them, and back: asked of names alone, beside what was typed.
_WRITTEN_OUT = {"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"}
LETTERS = 100  # of what is typed that are looked at
TERMS = 8


def cleaned(typed: str) -> str:
    """What was typed, at most `LETTERS`, without signs that can't be seen: NUL, line ends, marks of direction."""
    text = unicodedata.normalize("NFC", typed[: 4 * LETTERS])
    seen = "".join(
        " " if sign.isspace() else sign for sign in text if sign.isspace() or unicodedata.category(sign)[0] != "C"
    )
    return " ".join(seen.split())[:LETTERS].strip()


def ways_to_write(term: str) -> list[str]:
    """A name's other spellings: `Köhler` → `koehler`, `koehler` → `kohler`; nothing where there is none."""
    low = term.lower()
    out = low
    for letter, pair in _WRITTEN_OUT.items():
        out = out.replace(letter, pair)
    back = folded(low)
    for pair in ("ae", "oe", "ue"):
        back = back.replace(pair, pair[0])
    return [way for way in dict.fromkeys((folded(out), back)) if way != folded(low)]


@dataclass(frozen=True)
class Term:
    """One thing asked for: its words, each the beginning of one that is kept; and the digits of what may be a telephone."""

    words: tuple[str, ...]
    digits: str = ""


# Digits in groups, as telephone numbers are spaced; not those inside a serial number.
_TELEPHONE = re.compile(r"(?<![^\W_])\+?\(?[0-9][0-9 ()/.\-]*[0-9](?![^\W_])")
SHORTEST = 3  # digits of an ending
ENDING = "t"  # stands before an ending in the index
WHOLE = 8  # from so many digits on it is a whole number, and its ending counts whatever stands before it


def terms(typed: str) -> list[Term]:
    """What was typed, taken apart; at most `TERMS`. Every sign but letters and digits only parts words."""
    found: list[Term] = []

    def telephone(run: re.Match[str]) -> str:
        digits = "".join(re.findall("[0-9]+", run.group()))
        if len(digits) < SHORTEST:
            return run.group()
        found.append(Term(tuple(tokens(run.group())), digits))
        return " "

    rest = _TELEPHONE.sub(telephone, cleaned(typed))
    words = [Term(tuple(parts)) for word in rest.split() if (parts := tokens(word))]
    return [*words, *found][:TERMS]
