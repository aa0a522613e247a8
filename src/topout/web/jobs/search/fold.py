"""How words are compared: without case and accents, ß as ss, ø as o, and so on; and the digits of a telephone.

SQLite's tokenizer folds case and what Unicode takes apart itself; what it does not take apart stands in `SPELT`.
PostgreSQL folds by `SPELT` and `PLAIN`, the same letters for what is kept and for what is asked.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

SPELT = {
    "ß": "ss", "ẞ": "ss", "æ": "ae", "Æ": "ae", "œ": "oe", "Œ": "oe", "ø": "o", "Ø": "o", "ł": "l", "Ł": "l",
    "đ": "d", "Đ": "d", "ð": "d", "Ð": "d", "þ": "th", "Þ": "th", "ı": "i",
}  # fmt: skip
# As people without the key write them, and back: asked of names alone, beside what was typed.
_WRITTEN_OUT = {"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"}
_LATIN = [chr(at) for at in (*range(0xC0, 0x250), *range(0x1E00, 0x1F00))]
LETTERS = 100  # of what is typed that are looked at
TERMS = 8


def _bare(letter: str) -> str:
    return "".join(sign for sign in unicodedata.normalize("NFD", letter) if not unicodedata.combining(sign))


PLAIN = {
    letter: _bare(letter).lower() for letter in _LATIN if letter not in SPELT and len(_bare(letter)) == 1 and _bare(letter).isascii()
}  # fmt: skip
_TABLE = str.maketrans({**PLAIN, **SPELT})
_SPELT = str.maketrans(SPELT)


def spelt(text: str) -> str:
    """What SQLite's tokenizer leaves to us; the rest it folds itself, in a question as in what is kept."""
    return text.translate(_SPELT)


def folded(text: str) -> str:
    """A text as it is compared: `Köhler Größe` → `kohler grosse`."""
    return _bare(unicodedata.normalize("NFC", text).translate(_TABLE)).lower()


def cleaned(typed: str) -> str:
    """What was typed, at most `LETTERS`, without signs that can't be seen: NUL, line ends, marks of direction."""
    text = unicodedata.normalize("NFC", typed[: 4 * LETTERS])
    seen = "".join(
        " " if sign.isspace() else sign for sign in text if sign.isspace() or unicodedata.category(sign)[0] != "C"
    )
    return " ".join(seen.split())[:LETTERS].strip()


def tokens(text: str) -> list[str]:
    """The words of a text: runs of letters and digits."""
    return re.findall(r"[^\W_]+", text)


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
