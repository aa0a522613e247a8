"""Which end of the bike a search is about: the fork, the rear shock, or both together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from topout.bench_file.model import BenchFile, Change
from topout.errors import Fault, FaultsFound
from topout.planner import missing
from topout.planner.wanted import Wanted

Which = Literal["front", "rear", "both"]


@dataclass(frozen=True, slots=True)
class Ends:
    """The ends that are looked at, and the families of their units, None where not known."""

    front: bool = True
    rear: bool = False
    family: str | None = None
    rear_family: str | None = None


FRONT: Final = Ends()


def of_bench(
    bench: BenchFile,
    which: Which | None = None,
    family: str | None = None,
    rear_family: str | None = None,
    wanted: Wanted | None = None,
) -> Ends:
    """The ends that a question is about: as told, else those that the change or what is wanted names, else what is there.

    bench [SI] (one) as read; which [-] (one) as told, or None; family, rear_family [-] (one) of fork and shock, or None; wanted
    [SI] (one) or None → [-] (one). Raises FaultsFound where an end is told or wanted that is not there, or is left out.
    Source: none needed, bookkeeping.
    """
    faults = list(_faults(bench, which, wanted))
    if faults:
        raise FaultsFound(faults)
    if which is None:
        front, rear = _asks_front(bench.change) or _wants_front(wanted), _asks_rear(bench.change, wanted)
        if not front and not rear:
            front = bench.fork is not None or bench.shock is None
            rear = not front
    else:
        front, rear = which in ("front", "both"), which in ("rear", "both")
    return Ends(front, rear, family, rear_family)


def _faults(bench: BenchFile, which: Which | None, wanted: Wanted | None) -> Iterator[Fault]:
    behind = which in ("rear", "both") or (wanted is not None and wanted.at_rear)
    if behind and bench.shock is None:
        yield missing.needed("[shock]", "is needed for the rear end")
    if which == "front" and wanted is not None and wanted.at_rear:
        yield Fault("--target", "a sag at the rear is reached at the shock, which is not looked at.")
    if which == "rear" and wanted is not None and wanted.of_spring:
        yield Fault("--target", "a sag or a force in front is reached at the fork, which is not looked at.")
    if which == "rear" and wanted is not None and wanted.stance:
        yield Fault("--target", "a stance at full extension is reached at the fork, which is not looked at.")


def _asks_front(change: Change | None) -> bool:
    """Whether a change names anything but the shock: fork, wheels, offset."""
    if change is None:
        return False
    named = (
        change.travel_m, change.spacers, change.pressure_gauge_pa, change.offset_m, change.fork_length_m, change.front_wheel,
        change.rear_wheel, change.air, change.coil,
    )  # fmt: skip
    return any(each is not None for each in named)


def _wants_front(wanted: Wanted | None) -> bool:
    return wanted is not None and (wanted.of_spring or bool(wanted.stance))


def _asks_rear(change: Change | None, wanted: Wanted | None) -> bool:
    return (change is not None and change.shock is not None) or (wanted is not None and wanted.at_rear)
