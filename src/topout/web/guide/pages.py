"""The guide's pages: read from docs/guide, the one source, and drawn as HTML.

The text is ours and no HTML in it is passed on. A link to another page of the guide (`plan.md`) leads to its address here, a
picture is a static file; a heading gets an anchor of its own words, so that a page of the workshop can point at the place
that explains it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

from django.templatetags.static import static
from PIL import Image

from topout import shipped

if TYPE_CHECKING:
    from markdown_it.token import Token

# In the order of a first reading.
ORDER: Final = (
    "first-hour",
    "take-in",
    "plan",
    "options",
    "steps",
    "hand-over",
    "book-and-shelf",
    "when",
    "figures",
    "questions",
    "procedures",
    "safe",
    "settings",
)
PICTURES: Final = "guide"  # where settings.py puts docs/guide/pictures among the static files
_COMMENT: Final = re.compile(r"<!--.*?-->\n?", re.DOTALL)  # what is for tools/write_docs.py


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


def source(name: str) -> str:
    """The text of a page, Markdown."""
    return _COMMENT.sub("", (shipped.guide() / f"{name}.md").read_text(encoding="utf-8"))


@cache
def page(name: str) -> Page:
    """The page of that name. Raises KeyError where there is none."""
    from markdown_it import MarkdownIt  # only a process that shows the guide needs it

    if name not in ORDER:
        raise KeyError(name)
    drawn = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = drawn.parse(source(name))
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
            elif child.type == "image":
                _picture(child)
    return Page(name, title, str(drawn.renderer.render(tokens, drawn.options, {})), tuple(headings))


def _plain(token: Token) -> str:
    return "".join(child.content for child in token.children or ())


def _place(link: str) -> str:
    """`plan.md#the-pictures` as the address of that page here."""
    name, _, place = link.partition("#")
    if not name.endswith(".md") or "/" in name:
        return link
    return f"/guide/{name.removesuffix('.md')}/" + (f"#{place}" if place else "")


def _picture(image: Token) -> None:
    """A picture is fetched when it comes in sight, and its room is kept until then."""
    name = str(image.attrGet("src")).removeprefix("pictures/")
    with Image.open(shipped.guide() / "pictures" / name) as held:
        width, height = held.size
    image.attrSet("src", static(f"{PICTURES}/{name}"))
    image.attrSet("width", str(width))
    image.attrSet("height", str(height))
    image.attrSet("loading", "lazy")
