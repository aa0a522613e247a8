"""`--plot`: the curve or the stance, saved as the file that was asked for."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Final

from topout.bench_file import say
from topout.documents import paper
from topout.errors import TopoutError

if TYPE_CHECKING:
    from topout.documents.plan_pictures import PlanPictures
    from topout.documents.svg import Drawing
    from topout.units import System

WIDTH_PX: Final = 1000


class NotDrawn(TopoutError):
    """The picture can't be drawn or saved; `str()` says why and what helps."""


def check(path: str) -> None:
    """Before anything is computed: the file's ending is one that can be drawn; raises NoSuchPicture."""
    paper.kind_of(path)


def save(path: str, pictures: PlanPictures, system: System, *, stance: bool) -> None:
    """Draw to a file in the reader's units; the stance where it is asked for and there is a frame, else the force along the travel."""
    kind = paper.kind_of(path)
    drawing: Drawing | None
    if stance and pictures.now is not None:
        from topout.documents.stance import stance as draw

        drawing = draw(pictures.was, pictures.now, WIDTH_PX, windows=False, system=system)
    else:
        drawing = pictures.force(WIDTH_PX, system=system)
    if drawing is None:
        raise NotDrawn(
            f"--plot {say.plain(path, 300)}: nothing to draw; [frame], or [fork] with its [fork.air], is not whole."
        )
    data = paper.drawing(drawing, kind, dt.datetime.now(dt.UTC))
    try:
        Path(path).write_bytes(data)
    except (OSError, ValueError) as error:
        raise NotDrawn(
            f"--plot {say.plain(path, 300)}: can't be saved there ({getattr(error, 'strerror', None) or error})."
        ) from None
