"""Writes the typeface for the pages: two woff2 files a style, what the pages usually need and the rest, and the style sheet that names them.

usage: .venv/bin/python tools/fonts.py    (or `make fonts`; only when the typeface or the characters below change)

The papers take the whole TrueType files of `documents/fonts`. A page of a megabyte of them is a minute on a slow line: a browser
fetches the first file of a style for nearly every page, and the second only where a character of it stands on the page.
The file's name holds a hash of its content, so that a browser may keep it for ever.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

SOURCE = Path(__file__).resolve().parent.parent / "src" / "topout"
STATIC = SOURCE / "web" / "static"
STYLES = {
    "400Regular": "font-weight: 400",
    "400Regular_Italic": "font-weight: 400; font-style: italic",
    "600SemiBold": "font-weight: 600",
    "700Bold": "font-weight: 700",
}
# Figures of one width, the forms that tell 0 from O and 1 from l, accents, kerning.
FEATURES = ["kern", "mark", "mkmk", "ccmp", "locl", "tnum", "ss02", "zero"]
# Latin as Western and Central Europe write it, punctuation, raised and lowered figures, and what sums are written with.
USUAL = {
    *range(0x20, 0x7F), *range(0xA0, 0x180), *range(0x2010, 0x2028), 0x202F, 0x2030, 0x2032, 0x2033, 0x2039, 0x203A, 0x2044,
    *range(0x2070, 0x2095), 0x20AC, 0x2122, *range(0x2190, 0x2194), 0x0394, 0x03A3, 0x03B1, 0x03B4, 0x03BC, 0x03C0,
    0x2202, 0x2212, 0x221A, 0x222B, 0x2248, 0x2260, 0x2264, 0x2265,
}  # fmt: skip


def cut(source: Path, characters: Iterable[int]) -> bytes:
    """The woff2 file of these characters; those that the typeface lacks are left out."""
    options = subset.Options(layout_features=FEATURES, hinting=False, flavor="woff2")
    font = TTFont(source, recalcTimestamp=False)
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=characters)
    subsetter.subset(font)
    font.flavor = "woff2"
    written = io.BytesIO()
    font.save(written)
    return written.getvalue()


def ranges(characters: Iterable[int]) -> str:
    """Characters as a style sheet's `unicode-range` lists them."""
    runs: list[list[int]] = []
    for each in sorted(characters):
        if runs and each == runs[-1][1] + 1:
            runs[-1][1] = each
        else:
            runs.append([each, each])
    return ", ".join(f"U+{first:X}" + (f"-{last:X}" if last > first else "") for first, last in runs)


def main() -> None:
    """Write the files and take away those of before."""
    folder = STATIC / "fonts"
    folder.mkdir(exist_ok=True)
    for old in folder.glob("*.woff2"):
        old.unlink()
    rules = ["/* Written by tools/fonts.py. */"]
    for style, properties in STYLES.items():
        source = SOURCE / "documents" / "fonts" / f"Inter_{style}.ttf"
        there = set(TTFont(source).getBestCmap())
        for part, characters in (("usual", there & USUAL), ("rest", there - USUAL)):
            content = cut(source, characters)
            name = f"{style.lower()}-{part}.{hashlib.sha256(content).hexdigest()[:12]}.woff2"
            (folder / name).write_bytes(content)
            print(f"{len(content):7} {name}")
            rules.append(
                f"@font-face {{ font-family: Inter; {properties}; font-display: swap; "
                f'src: url(fonts/{name}) format("woff2"); unicode-range: {ranges(characters)} }}'
            )
    (STATIC / "fonts.css").write_text("\n".join(rules) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
