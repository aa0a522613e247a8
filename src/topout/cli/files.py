"""The bench files that a command is given: from disks, pipes and standard input; what is wrong with any is said of all."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from topout.bench_file import read, say, used
from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound, TopoutError
from topout.units import System

STANDARD_INPUT: Final = "-"
_SYSTEMS: Final = {
    "metric": System(metric=True, bar=True, beside=False),
    "imperial": System(metric=False, bar=False, beside=False),
}
Thing = TypeVar("Thing")
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Given:
    """One bench file: what it is called on the command line, the bike, and the units that its answer is said in."""

    name: str
    bench: BenchFile
    system: System


class OfFiles(TopoutError):
    """What is wrong with several files, each line with its file's name."""

    def __init__(self, lines: Iterable[str]) -> None:
        super().__init__("\n".join(lines))


def read_all(names: Sequence[str], units: str | None) -> list[Given]:
    """Every file, with the system asked for or the file's own; raises with every finding of every file."""
    return of_each(names, called, lambda name: _read(name, units))


def of_each(things: Sequence[Thing], name: Callable[[Thing], str], make: Callable[[Thing], Made]) -> list[Made]:
    """`make` of each; whatever is wrong with any is raised together, each line with its name where there are several."""
    made: list[Made] = []
    lines: list[str] = []
    for thing in things:
        try:
            made.append(make(thing))
        except TopoutError as error:
            if len(things) == 1:
                raise
            # A file that can't be opened is named in its finding already.
            own = name(thing)
            lines += [line if line.startswith(f"{own}:") else f"{own}: {line}" for line in str(error).splitlines()]
    if lines:
        raise OfFiles(lines)
    return made


def _read(name: str, units: str | None) -> Given:
    data = _standard_input() if name == STANDARD_INPUT else read.bytes_of(name)
    bench, tables = read.read_with_tables(data)
    own = used.system(tables)
    if units == "both":
        system = System(own.metric, own.bar, beside=True)
    else:
        system = own if units is None else _SYSTEMS[units]
    return Given(called(name), bench, system)


def called(name: str) -> str:
    """What a file is called in an answer."""
    return "standard input" if name == STANDARD_INPUT else say.plain(name, 300)


def _standard_input() -> bytes:
    if sys.stdin is None:
        raise FaultsFound([Fault(location="-", message="there is no standard input.")])
    return sys.stdin.buffer.read(read.MAX_BYTES + 1)
