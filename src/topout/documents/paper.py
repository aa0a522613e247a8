"""Pictures as files: SVG by our own pen, PNG and PDF of it by the PDF library, with the package's own type face.

The library is imported when the first picture is made: `--help` and plain plans never pay for it.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Final, Literal

from topout.bench_file import say
from topout.documents.svg import Drawing
from topout.errors import TopoutError

Kind = Literal["svg", "png", "pdf"]
KINDS: Final = ("svg", "png", "pdf")
CSS_PPI: Final = 96.0  # a CSS pixel is 1/96 inch
PNG_SCALE: Final = 2.0  # two device pixels a CSS pixel: sharp on a bench tablet and at 200 dpi on paper


class NoSuchPicture(TopoutError):
    """The file's ending is none that can be drawn."""


def kind_of(path: str | Path) -> Kind:
    """The kind of picture a file's ending asks for; raises NoSuchPicture that names the three there are."""
    ending = Path(path).suffix.lower().lstrip(".")
    for kind in KINDS:
        if ending == kind:
            return kind
    raise NoSuchPicture(
        f"{say.plain(Path(path).name, 300)}: a picture is .svg, .png or .pdf, not {say.plain('.' + ending, 40) if ending else 'without an ending'}."
    )


def drawing(picture: Drawing, kind: Kind, created: dt.datetime) -> bytes:
    """A drawing as a file's bytes; `created`, with its time zone, stands in a PDF and nowhere else."""
    svg = picture.for_paper()
    if kind == "svg":
        return svg.encode()
    from topout.documents import pdf

    alt = ". ".join(part for part in (picture.title, picture.says) if part)
    data = {"svg": svg, "title": picture.title, "alt": alt, "width": picture.width, "height": picture.height}
    if kind == "png":
        return pdf.picture("picture.typ", data, "png", ppi=CSS_PPI * PNG_SCALE)
    return pdf.pdf("picture.typ", data, created)
