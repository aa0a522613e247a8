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
    if coil is not None and air is None:
        if look("found.pressure") is not None:
            yield look.fault("found.pressure", "a coil fork has no pressure; leave it out.")
        if look("change.pressure") is not None and look("change.air.bore") is None:
            yield look.fault("change.pressure", "a coil fork has no pressure; leave it out.")
        if look("change.by") == "piston-spacer":
            yield look.fault(
                "change.by", "a coil fork has no air piston; its travel is changed by the shaft or the chassis."
            )


def _coil(look: Look, table: str, word: str) -> Any:
    """A key of the coil; in a change, of the fork where the change does not name it."""
    value = look(f"{table}.{word}")
    return look(f"fork.coil.{word}") if value is None and table == "change.coil" else value
