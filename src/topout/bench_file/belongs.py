"""Where a word belongs that stands in the wrong table, or that a workshop says and the file calls otherwise; and what stands twice."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from typing import Final

from topout import toml_scan
from topout.bench_file import model, say
from topout.bench_file.samples import sample

Path = tuple[str, ...]
_SAG: Final = "The front's stands in [found] sag, with its pressure; the rear wheel's in [rear_wheel] sag, the shock's in [shock] sag."
_STRAIGHT: Final = "A tape gives [fork] length_straight; along the steering axis it is [fork] length."
# What is said at a bench and in other files, and what it is here.
_SAID: Final = {
    "sag": _SAG, "sag_front": _SAG, "front_sag": _SAG, "rear_sag": _SAG,
    "weight": "It is mass here: [rider] mass, dressed to ride; [bike] mass.",
    "axle_to_crown": _STRAIGHT, "a2c": _STRAIGHT,
    "rake": f"It is called offset here: [fork] {sample(('fork', 'offset'))}.",
    "hta": f"It is [frame] {sample(('frame', 'head_angle'))}.", "sta": f"It is [frame] {sample(('frame', 'seat_angle'))}.",
    "wheel_size": "A wheel is its bead seat and its tyre: [front_wheel] bead_seat and tyre_height.",
    "clicks": "Clicks of the damper are readings of a job, not of this file.",
    **dict.fromkeys(("leverage_ratio", "motion_ratio", "leverage_curve"), f"It is [shock] {sample(('shock', 'leverage'))}."),
    "spring_rate": f"It is [shock.coil] {sample(('shock', 'coil', 'rate'))}.",
    "rebound": "Clicks of the damper are readings of a job, not of this file.",
    "compression": "Clicks of the damper are readings of a job, not of this file.",
    **dict.fromkeys(("psi", "bar", "psi_front"), f"It is [fork.air] {sample(('fork', 'air', 'pressure'))}."),
}  # fmt: skip
_MOST_HOMES: Final = 3


def said_of(word: str) -> str:
    """What a word of the workshop is in the file; empty where it says nothing."""
    return _SAID.get(word.lower().replace(" ", "_").replace("-", "_"), "")


def elsewhere(word: str) -> str:
    """The tables that know a key of this name, in a sentence; empty where none does."""
    homes = [say.table_place(home) for home, table in _tables() if word in model.keys(table)]
    return f"It belongs to {say.either(homes[:_MOST_HOMES])}." if homes else ""


def table_elsewhere(path: Path) -> str:
    """The table that has the last word of a path, in a question; empty where none does."""
    found = [home for home, _ in _tables() if home[-1] == path[-1] and home != path]
    return f"Is it {say.table_place(found[0])}?" if found else ""


@cache
def _tables() -> tuple[tuple[Path, type], ...]:
    """Every table of the file but those that hold only what changes of another."""

    def walk(table: type, path: Path) -> Iterator[tuple[Path, type]]:
        for word, inner in model.subtables(table).items():
            if path == ("change",) and word in model.NAMED_ALONE:
                continue
            yield (*path, word), inner
            yield from walk(inner, (*path, word))

    return tuple(walk(model.BenchFile, ()))


# The standard parser's words for one thing that stands twice.
_TWICE: Final = re.compile(
    r"cannot overwrite a value|cannot declare|cannot mutate|duplicate inline table key|redefine", re.I
)


def twice(said: str, rows: list[str], number: int, path: Path) -> str:
    """What to do about a key or table that stands twice, with the line of the first; empty where the parser found else.

    `said` is the parser's finding, `number` the line of it (from 1) among the `rows` of the text, `path` what stands there.
    """
    if not _TWICE.search(said):
        return ""
    inner = re.search(r"key '([^']+)'", said)
    if inner:
        return f"{say.plain(inner.group(1))} stands twice in it; keep one."
    first = _first_line("\n".join(rows[: number - 1]), path)
    mend = "put all its keys under one" if "declare" in said.lower() else "keep one"
    return f"it stands twice, {f'first in line {first}; ' if first else ''}{mend}."


def _first_line(before: str, path: Path) -> int | None:
    """Where a path stands in the text before; None where that can't be told."""
    try:
        tomllib.loads(before)
    except tomllib.TOMLDecodeError:
        return None  # a value of several lines was cut in two
    return toml_scan.lines(before).get(path)
