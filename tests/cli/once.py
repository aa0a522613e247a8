"""What a command reads and computes, once for all the ways in which a test has it written, and from few draws."""

from __future__ import annotations

from argparse import Namespace
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Any

import pytest

from topout.bench_file import read
from topout.bench_file.model import BenchFile
from topout.cli import commands
from topout.planner import drawn, drawn_chambers

WRITTEN = ("files", "json", "csv", "units", "strict")  # options that say how an answer is written, or of what

MANY = 40  # more files than one command is asked for at once, with those of another command beside them


def work_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same command of the same file reads and computes once: JSON, values and the page for people share it."""
    monkeypatch.setattr(read, "read_with_tables", lru_cache(MANY)(read.read_with_tables))
    for name, command in commands.COMMANDS.items():
        monkeypatch.setitem(commands.COMMANDS, name, replace(command, compute=_Last(command.compute)))


def for_the_room() -> Iterator[None]:
    """The same for a whole room: each command of each file computes once for all its tests."""
    with pytest.MonkeyPatch.context() as patched:
        work_out_once(patched)
        yield


def few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """For what hangs not on how well an answer is known: a bike that hardly any fork fits would be drawn a million times."""
    for name, count in (("AT_REST", 300), ("TO_REFUSE", 3_000), ("MOST", 3_000)):
        monkeypatch.setattr(drawn, name, count)
    monkeypatch.setattr(drawn_chambers, "COUNT", 300)


class _Last:
    """A command's computing that keeps its last results, and gives them again for the same questions."""

    def __init__(self, compute: Callable[[BenchFile, Namespace], Any]) -> None:
        self.compute = compute
        self.answers: deque[tuple[tuple[BenchFile, dict[str, Any]], Any]] = deque(maxlen=MANY)

    def __call__(self, bench: BenchFile, asked: Namespace) -> Any:
        question = bench, {name: value for name, value in vars(asked).items() if name not in WRITTEN}
        for answered, result in self.answers:
            if answered == question:
                return result
        self.answers.appendleft((question, self.compute(bench, asked)))
        return self.answers[0][1]
