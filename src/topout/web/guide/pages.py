"""The guide's pages: read from docs/guide, the one source, and drawn as HTML.

The text is ours and no HTML in it is passed on. A link to another page of the guide (`plan.md`) leads to its address here; a
heading gets an anchor of its own words, so that a page of the workshop can point at the place that explains it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from markdown_it import MarkdownIt
from markdown_it.token import Token

from topout import shipped

# In the order of a first reading.
ORDER: Final = (
    "first-hour", "take-in", "plan", "steps", "hand-over", "book-and-shelf", "when", "figures", "procedures", "safe", "settings",
)  # fmt: skip
_DRAWN: Final = MarkdownIt("commonmark", {"html": False}).enable("table")


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the guide: its name in addresses, its title, the whole as HTML, and its headings with their anchors."""

    name: str
    title: str
    html: str
    headings: tuple[tuple[str, str], ...]


def anchor(words: str) -> str:
    """The anchor of a heading: its words in small letters, joined by hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", words.lower().replace("’", "")).strip("-")


@cache
def page(name: str) -> Page:
    """The page of that name. Raises KeyError where there is none."""
    if name not in ORDER:
        raise KeyError(name)
    tokens = _DRAWN.parse((folder() / f"{name}.md").read_text(encoding="utf-8"))
    headings = []
    title = name
    for i, token in enumerate(tokens):
        if token.type == "heading_open":
            words = _plain(tokens[i + 1])
            if token.tag == "h1":
                title = words
            else:
                token.attrSet("id", anchor(words))
                headings.append((anchor(words), words))
        for child in token.children or ():
            if child.type == "link_open":
                child.attrSet("href", _place(str(child.attrGet("href"))))
    return Page(name, title, str(_DRAWN.renderer.render(tokens, _DRAWN.options, {})), tuple(headings))


def folder() -> Path:
    """Where the guide's texts lie: in a checkout under docs, in the wheel inside the package."""
    return shipped.folder("docs") / "guide"


def _plain(token: Token) -> str:
    return "".join(child.content for child in token.children or ())


def _place(link: str) -> str:
    """`plan.md#the-pictures` as the address of that page here."""
    name, _, place = link.partition("#")
    if not name.endswith(".md") or "/" in name:
        return link
    return f"/guide/{name.removesuffix('.md')}/" + (f"#{place}" if place else "")
