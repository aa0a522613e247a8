"""The only room that knows the PDF library (typst).

A document is a template under `templates/` and plain data. The data goes in as one JSON string through `sys.inputs`
and reaches the page as values, so nothing a person typed is ever read as mark-up. Fonts are read once and shared; a
compiler is made for each call, because one compiler shared by threads raises "Already borrowed".

The library draws an empty box for a letter that the font lacks and gives no warning. So every text passes through
`drawable` first: what the font has stays, what it lacks is written out by its Unicode name in brackets.
"""

from __future__ import annotations

import datetime as dt
import functools
import json
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, Literal

import typst
from fontTools.ttLib import TTFont

from topout.errors import TopoutError

HERE: Final = Path(__file__).parent
TEMPLATES: Final = HERE / "templates"
FONTS: Final = HERE / "fonts"

# Joiners, direction marks and skin tones: they change how a neighbour is drawn and say nothing alone.
_SILENT_CATEGORIES: Final = ("Cc", "Cf", "Cs", "Co", "Cn")
_SKIN_TONES: Final = range(0x1F3FB, 0x1F400)
_VARIATION_SELECTORS: Final = range(0xFE00, 0xFE10)


class DoesNotFit(TopoutError):
    """The words don't fit the paper at the smallest size that can be read; nothing was made."""


@functools.cache
def fonts() -> typst.Fonts:
    """The type faces of the package and no other, so that a sheet looks the same on every machine."""
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONTS)])


@functools.cache
def letters() -> frozenset[int]:
    """The code points that every weight of the type face can draw."""
    sets = []
    for path in sorted(FONTS.glob("*.ttf")):
        with TTFont(path, lazy=True) as font:
            sets.append(frozenset(font.getBestCmap()))
    return frozenset.intersection(*sets)


def drawable(text: str) -> str:
    """`text` as the type face can draw it: composed (NFC), on one line, foreign signs as `[bicycle]`.

    Nothing readable is dropped: a sign that the face lacks is written as its Unicode name in lower case.
    """
    known = letters()
    out: list[str] = []
    for sign in unicodedata.normalize("NFC", text):
        code = ord(sign)
        if sign in "\n\r\t\v\f":
            out.append(" ")
        elif unicodedata.category(sign) in _SILENT_CATEGORIES or code in _SKIN_TONES or code in _VARIATION_SELECTORS:
            continue
        elif code in known:
            out.append(sign)
        else:
            plain = unicodedata.normalize("NFKD", sign)
            if plain != sign and all(ord(part) in known for part in plain):
                out.append(plain)
            else:
                out.append(f"[{unicodedata.name(sign, f'sign {code:X}').lower()}]")
    return "".join(out)


def prepared(value: Any) -> Any:
    """The data with every text made drawable; tuples become lists, numbers and None stay."""
    if isinstance(value, str):
        return drawable(value)
    if isinstance(value, Mapping):
        return {key: prepared(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [prepared(part) for part in value]
    return value


def pdf(template: str, data: Mapping[str, Any], created: dt.datetime) -> bytes:
    """A tagged PDF (PDF/UA-1) of `templates/<template>`; the same data and `created` give the same bytes.

    `created` carries its time zone. A template without title, language or alternative text is refused by the library.
    """
    if created.tzinfo is None:
        raise ValueError("created needs its time zone")
    return _made(template, data, format="pdf", pdf_standards="ua-1", timestamp=created.replace(microsecond=0))


def picture(template: str, data: Mapping[str, Any], kind: Literal["png", "svg"], ppi: float = 203.0) -> bytes:
    """The first page of a document as a picture, for a preview; `ppi` is pixels per inch of a PNG."""
    return _made(template, data, format=kind, ppi=ppi)


def _made(template: str, data: Mapping[str, Any], **options: Any) -> bytes:
    compiler = typst.Compiler(
        input=str(TEMPLATES / template),
        root=str(TEMPLATES),
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(prepared(data), ensure_ascii=False, allow_nan=False)},
    )
    try:
        made = compiler.compile(**options)
    except typst.TypstError as error:
        if "does not fit" in error.message:  # said by a template's own assert
            raise DoesNotFit("the words don't fit this paper") from error
        raise
    page = made[0] if isinstance(made, list) else made
    assert isinstance(page, bytes)
    return page
