"""How words are compared: without case and accents, ß as ss, ø as o, and so on.

SQLite's tokenizer folds case and what Unicode takes apart itself; what it does not take apart stands in `SPELT`.
PostgreSQL folds by `SPELT` and `PLAIN`, the same letters for what is kept and for what is asked.
"""

from __future__ import annotations

import re
import unicodedata

SPELT = {
    "ß": "ss", "ẞ": "ss", "æ": "ae", "Æ": "ae", "œ": "oe", "Œ": "oe", "ø": "o", "Ø": "o", "ł": "l", "Ł": "l",
    "đ": "d", "Đ": "d", "ð": "d", "Ð": "d", "þ": "th", "Þ": "th", "ı": "i",
}  # fmt: skip
_LATIN = [chr(at) for at in (*range(0xC0, 0x250), *range(0x1E00, 0x1F00))]


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


def tokens(text: str) -> list[str]:
    """The words of a text: runs of letters and digits."""
    return re.findall(r"[^\W_]+", text)
