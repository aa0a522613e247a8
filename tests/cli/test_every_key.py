"""A bike with every key, computed by every command; and each key shown to matter: another value, another answer.

Nothing is ignored. What changes no answer stands in NO_ANSWER with the reason.
"""

from __future__ import annotations

import contextlib
import functools
import itertools
import json
import re
from collections.abc import Callable
from typing import Any

import pytest

from bench_file import every
from cli.once import few_draws
from topout.bench_file import calls_for, model, read
from topout.errors import FaultsFound
from topout.planner import change, fill, missing, plan, ride, state
from topout.planner.results import as_json

NO_ANSWER = {
    "shock.length": "eye to eye, to know the shock by; it is checked against the stroke, and no model takes it",
    "shock.body": "the can's outside: checked against its bore; what pushes a can off in the steps follows from the Book's",
    "shock.air.spacer_limit": "a fault where more spacers are fitted, and warned of where a change asks for more",
    "found.posture": "a word for people, kept on the job",
}
# What must stand beside a key for it to speak: a limit that is passed, a check that fails, a port that opens.
CHECKED = ("frame.head_tube", "frame.wheelbase", "frame.front_centre", "frame.bb_height")
ALONE = {  # keys that speak only where others are silent
    "rider.front_share": (
        "found.sag",
        "found.pressure",
        "found.posture",
        "found.read_at",
        "found.settles",
        "found.reading",
    ),
    # What is drawn hangs on these: a negative chamber that nobody measured, beside stanchions that somebody did.
    "fork.stanchion": ("fork.air.bore", "fork.air.negative_volume", "found.reading"),
    "found.reading": ("fork.air.negative_volume", "fork.air.positive_volume"),
    "rider.posture": ("found.reading",),
    "found.settles": ("found.reading",),
    "frame.lower_headset": CHECKED[1:],
    "bike.unsprung_rear": ("rear_wheel.sag", "change.rear_wheel.sag"),  # the sag found says the load behind
    "shock.stroke": ("shock.leverage",),
    **{name: tuple(other for other in CHECKED if other != name) for name in CHECKED},
}
LOOSE = ("rider.posture", "found.settles")  # they say how far something is known, in a file that is not exact
PSI_AT_70_MM = (92, 96)  # what such a fork may show there
# The furthest first: a limit speaks once it is passed, and what the file refuses costs next to nothing.
FACTORS = (0.3, 0.5, 2.0, 0.7, 1.3, 0.9, 1.02)
ENOUGH = 2  # other values of a key that changes no answer

few = pytest.fixture(autouse=True)(few_draws)  # whether it says something else, not how well it is known


def _filled(bench: model.BenchFile) -> object:
    air = bench.fork.air if bench.fork is not None else None
    assert air is not None and air.pressure_gauge_pa is not None
    return fill.schedule(bench, air.pressure_gauge_pa, hose_m3=3e-6)


# Each command's answer, in the order that soonest tells two files apart: those that differ by one need no other, and the plan,
# which takes longest, comes last. What a change or a limit says, it tells first or alone.
COMMANDS: dict[str, Callable[[model.BenchFile], object]] = {
    "inflate": _filled,
    "sag": state.sag,
    "geometry": state.geometry_of,
    "curve": lambda bench: state.curve(bench, 21),
    "ride": lambda bench: ride.ride(bench, draws=200),
    "plan": lambda bench: plan.plan(bench, draws=200),
}


bench_of = functools.cache(read.read_text)


@functools.cache
def answer(text: str, command: str) -> str:
    """What a command says of a file, as JSON; nothing where the file is not for it."""
    bench = bench_of(text)
    air = bench.fork.air if bench.fork is not None else None
    pumped = air is not None and air.pressure_gauge_pa is not None
    if command != "plan" and missing.for_spring(bench):
        return ""
    if command == "inflate" and not pumped:
        return ""
    if command == "ride" and (not pumped or bench.ride is None or calls_for.on_coil(change.changed(bench))):
        return ""
    result = COMMANDS[command](bench)
    own = getattr(result, "as_json", None)
    return json.dumps(own() if own is not None else as_json(result), sort_keys=True)


def differ(one: str, other: str, told_by: str = "") -> bool:
    """Whether some command says something else of the other file; `told_by` is asked first."""
    bench_of(other)
    return any(answer(one, command) != answer(other, command) for command in sorted(COMMANDS, key=told_by.__ne__))


def others(key: model.Key, value: str) -> list[str]:
    """Other values of one key, as TOML."""
    if key.kind == "choice":
        return [f'"{choice}"' for choice in key.choices if f'"{choice}"' != value]
    if key.kind == "coil":
        return ['{ rate = "5 N/mm", length = "31 mm" }']
    if key.word == "settles":
        return ['"1 + 1"', '"5 + 5"']
    if key.word in ("fork", "shock"):  # what of its air spring is a guess
        return ['"shaft"']
    if key.kind == "text":
        return ['"seated"']
    if key.kind == "readings":
        return [f'[{{ travel = "70 mm", pressure = "{psi} psi", hose = "3 ml" }}]' for psi in PSI_AT_70_MM]
    if key.kind == "pairs":
        return [value.replace("2.56", "2.58").replace("26 mm", "26.2 mm")]
    number = re.search(r"[\d.]+", value)
    assert number is not None
    if key.kind == "count":
        return [str(n) for n in (2, 0, 3)]
    return [value.replace(number.group(), f"{float(number.group()) * f:.6g}") for f in FACTORS]


def test_a_bike_with_every_key_is_computed_by_every_command() -> None:
    """The other surroundings that a key asks for are among the bikes of test_any_bike."""
    assert all(answer(every.text(every.base()), command) for command in COMMANDS)


READ = [(path, key) for path, key in every.every_key() if ".".join(path) not in every.REFUSED]


def daily_or_soak() -> list[Any]:
    """Every third key of each table daily, its first among them; the others in the soak."""
    found = []
    for _, keys in itertools.groupby(READ, lambda each: each[0][:-1]):
        for n, (path, key) in enumerate(keys):
            marks = [pytest.mark.soak] if n % 3 else []
            found.append(pytest.param(path, key, marks=marks, id=".".join(path)))
    return found


@pytest.mark.parametrize(("path", "key"), daily_or_soak())
def test_another_value_gives_another_answer(path: every.Path, key: model.Key) -> None:
    name = ".".join(path)
    file = every.put(every.around(path), name, every.sample_of(path))
    for silent in ALONE.get(name, ()):
        file = every.put(file, silent, None)
    if name in LOOSE:
        file = every.put(file, "fork.friction", '"14 ± 3 N"')
    file = {table: keys for table, keys in file.items() if keys}
    first = every.text(file)
    told_by = "plan" if path[0] == "change" or path[-1].endswith("limit") else ""
    changed, read_too = False, 0
    for other in others(key, every.sample_of(path)):
        with contextlib.suppress(FaultsFound):  # a value may belong to another way of building; the next one is tried
            changed = changed or differ(first, every.text(every.put(file, name, other)), told_by)
            read_too += 1
        if name in NO_ANSWER and read_too == ENOUGH:
            break
    assert changed or read_too
    assert changed is (name not in NO_ANSWER), NO_ANSWER.get(name, f"{name} changes no answer")


def test_the_reasons_are_of_keys_that_exist() -> None:
    assert set(NO_ANSWER) <= {".".join(path) for path, _ in every.every_key()}
    assert all(len(reason) > 20 for reason in NO_ANSWER.values())
