"""Whether a file is exact, and what is drawn for it where it is not: asked by every command, so the drawing itself stands elsewhere (`drawn`)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from topout.bench_file.model import BenchFile, End
from topout.errors import Fault
from topout.planner import left_out

SEED: Final = 20_26
MOVING: Final = 2_000  # draws while a control moves
AT_REST: Final = 20_000


def is_drawn(bench: BenchFile) -> bool:
    """Whether a file is not exact: a value carries an uncertainty, or stanchions stand there and the air spring is not whole.

    bench [SI] (one) as read → [-] (one). Raises nothing. Source: bench-file.md.
    """
    return bool(bench.doubts) or fills(bench) or fills_behind(bench)


def fills(bench: BenchFile) -> bool:
    """Whether what a file leaves out of its air spring is drawn from what such forks usually are.

    bench [SI] (one) as read → [-] (one). Raises nothing. Source: bench-file.md.
    """
    return bool(left_out.FORK.left_open(bench))


def fills_behind(bench: BenchFile) -> bool:
    """The same of its air can behind.

    bench [SI] (one) as read → [-] (one). Raises nothing. Source: bench-file.md.
    """
    return bool(left_out.SHOCK.left_open(bench))


def left_open(bench: BenchFile) -> list[str]:
    """The keys that are drawn from what such forks usually are, by the file's words; none where nothing is filled in.

    bench [SI] (one) as read → [-] (any) keys, "fork.air.bore". Raises nothing. Source: bench-file.md.
    """
    return left_out.FORK.left_open(bench) + left_out.SHOCK.left_open(bench)


def hurt_by(assumed: Iterable[str], end: End) -> tuple[str, ...]:
    """Of the keys that were drawn those of this end that a force or an energy at full extension hangs on: its air, its damper's gas.

    assumed [-] (any) keys, "fork.air.bore"; end [-] (one) front or rear → [-] (any) keys. Raises nothing. Source: physics.md 9.
    """
    noun = "fork" if end == "front" else "shock"
    return tuple(key for key in assumed if key.startswith((f"{noun}.air.", f"{noun}.damper")))


def lacking(bench: BenchFile, faults: Iterable[Fault]) -> list[Fault]:
    """Of what a file lacks for an answer that which is not drawn for it.

    bench [SI] (one) as read; faults [-] (any) as `checks.missing` finds them → [-] (any). Raises nothing. Source:
    bench-file.md.
    """
    left = left_open(bench)
    if not left:
        return list(faults)
    drawn_for = {*left, "rider.front_share"}
    return [fault for fault in faults if fault.key not in drawn_for]


def as_it_is(bench: BenchFile) -> BenchFile:
    """The file without what is asked for.

    bench [SI] (one) as read → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
    """
    return replace(bench, change=None, doubts=tuple(off for off in bench.doubts if not off.key.startswith("change.")))
