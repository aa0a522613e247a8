"""Pictures as files: SVG, PNG, PDF by vl-convert, with the package's own type face.

A chart goes in as its Vega-Lite specification, a drawing as SVG with its inks inside. The library is imported when
the first picture is made: `--help` and plain plans never pay for it.
"""

from __future__ import annotations

import functools
import json
from pathlib import Path
from typing import Any, Final, Literal

from topout.documents.svg import Drawing
from topout.errors import TopoutError

Kind = Literal["svg", "png", "pdf"]
KINDS: Final = ("svg", "png", "pdf")
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
        f"{Path(path).name}: a picture is .svg, .png or .pdf, not {('.' + ending) if ending else 'without an ending'}."
    )


@functools.cache
def _library() -> Any:
    import vl_convert

    vl_convert.register_font_directory(str(Path(__file__).parent / "fonts"))
    return vl_convert


def chart(spec: dict[str, Any], kind: Kind) -> bytes:
    """A specification of charts.py as a file's bytes."""
    vl = _library()
    text = json.dumps(spec)
    if kind == "svg":
        return str(vl.vegalite_to_svg(text, allowed_base_urls=[])).encode()
    if kind == "png":
        return bytes(vl.vegalite_to_png(text, scale=PNG_SCALE, allowed_base_urls=[]))
    return bytes(vl.vegalite_to_pdf(text, allowed_base_urls=[]))


def drawing(picture: Drawing, kind: Kind) -> bytes:
    """A drawing as a file's bytes."""
    svg = picture.for_paper()
    if kind == "svg":
        return svg.encode()
    vl = _library()
    return bytes(vl.svg_to_png(svg, scale=PNG_SCALE)) if kind == "png" else bytes(vl.svg_to_pdf(svg))
