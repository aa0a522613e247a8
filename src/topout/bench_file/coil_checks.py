"""What a coil has against itself and against the rest of the file; part of `checks.contradictions`."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from topout.bench_file import say
from topout.bench_file.look import Look
from topout.errors import Fault


def coils(look: Look) -> Iterator[Fault]:
    """A fork stands on air or on a coil, now and after the change, and a coil's preload is short of where its coils touch."""
    air, coil = look("fork.air"), look("fork.coil")
    if air is not None and coil is not None:
        yield Fault(
            location=say.table_place(("fork", "coil")),
            message="[fork.air] stands too; give one of them.",
            key="fork.coil",
        )
    if look("change.coil") and look("change.air"):
        yield Fault(
            location=say.table_place(("change", "coil")),
            message="[change.air] stands too; give one of them: the fork stands on a coil or on air.",
            key="change.coil",
        )
    for table in ("fork.coil", "change.coil"):
        bind, preload = (_coil(look, table, word) for word in ("bind", "preload"))
        named = look(table) is not None and any(look(f"{table}.{word}") is not None for word in ("bind", "preload"))
        if bind is not None and preload is not None and preload >= bind and named:
            word = "preload" if look(f"{table}.preload") else "bind"
            yield look.fault(
                f"{table}.{word}",
                f"the coils would touch: preload {say.millimetres(preload)}, below bind, {say.millimetres(bind)}.",
            )
    if coil is not None and air is None and look("found.pressure") is not None:
        yield look.fault("found.pressure", "a coil fork has no pressure; leave it out.")
    yield from _after(look, air_before=air is not None, coil_before=coil is not None)


def _after(look: Look, *, air_before: bool, coil_before: bool) -> Iterator[Fault]:
    """What of an air spring is asked for where the fork stands on a coil after the change; a coil that has no rate."""
    onto_coil = look("change.coil.rate") is not None
    stays = coil_before and not air_before and look("change.air.bore") is None
    if air_before and not onto_coil and "change.coil" not in look.bad:
        for word in ("preload", "bind"):
            if look(f"change.coil.{word}") is not None:
                yield look.fault(f"change.coil.{word}", "needs rate beside it: the fork stands on air.")
    if not (stays or air_before and onto_coil):
        return
    a_coil = "a coil fork" if stays else "on the coil of [change.coil] the fork"
    for word, lacks in (("pressure", "pressure"), ("spacers", "volume spacers"), ("spacer_solid_volume", "air piston")):
        asked = look(f"change.{word}")
        if asked is not None and (word, asked) != ("spacers", 0):  # none of them is what a coil has
            yield look.fault(f"change.{word}", f"{a_coil} has no {lacks}; leave it out.")
    if look("change.by") == "piston-spacer":
        yield look.fault("change.by", f"{a_coil} has no air piston; its travel is changed by the shaft or the chassis.")


def _coil(look: Look, table: str, word: str) -> Any:
    """A key of the coil; in a change, of the fork where the change does not name it."""
    value = look(f"{table}.{word}")
    return look(f"fork.coil.{word}") if value is None and table == "change.coil" else value
