"""One plan, one set of facts: terminal, sheet and what is frozen say the same of 60 random plans, and all add up; of 1,440 others in the soak.

The page is held to the same in tests/web/test_one_summary.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import pytest

from topout import units
from topout.bench_file.model import BenchFile
from topout.bench_file.read import read_text
from topout.cli import plan_table
from topout.documents import sheet_words
from topout.planner import sentence, summary
from topout.planner.plan import plan
from topout.planner.results import Plan

from . import bikes, said

DAILY, COUNT = 60, 1500
PART = 60
PARTS = [*range(0, DAILY, PART), *(pytest.param(n, marks=pytest.mark.soak) for n in range(DAILY, COUNT, PART))]
PRINTED = 15  # one plan in so many is printed too: laying a table out takes ten times as long as working out its plan
LINE, BETWEEN_COLUMNS, WORDS = 110, 3, 14  # characters


class Cells:
    """A page of the terminal before it is laid out: its sentences, and its tables cell by cell."""

    def __init__(self) -> None:
        self.sentences: list[str] = []
        self.tables: list[list[tuple[str, ...]]] = []

    def say(self, *lines: str) -> None:
        self.sentences += lines

    def table(self, title: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
        self.tables.append([tuple(head), *map(tuple, rows)])

    def text(self) -> str:
        return "\n".join(self.sentences)


def too_wide(table: list[tuple[str, ...]]) -> bool:
    """Whether a number has to go on two lines: where all fit, each stands whole in its column."""
    widths = [max(map(len, column)) for column in list(zip(*table, strict=True))[1:]]
    return WORDS + 1 + sum(widths) + BETWEEN_COLUMNS * len(widths) > LINE


def not_printed(cells: Cells, text: str) -> list[str]:
    """What the page would say and its print does not: its sentences, and the numbers of each row on the line that its words begin."""
    flat, lines = re.sub(r"\s+", " ", text), [re.split(r" {2,}", line.strip()) for line in text.splitlines()]
    lost = [one for one in cells.sentences if re.sub(r"\s+", " ", one) not in flat]
    for row in (row for _, *rows in cells.tables for row in rows):
        numbers = [cell for cell in row[1:] if cell]
        if not any(line[-len(numbers) :] == numbers and row[0].startswith(line[0]) for line in lines if row[0]):
            lost += [str(row)] if row[0] else []
    return lost


IMPERIAL = units.System(metric=False, bar=False, beside=False)


def laid(monkeypatch: pytest.MonkeyPatch, bench: BenchFile, result: Plan, system: units.System) -> Cells:
    """What the terminal is given to say of a plan."""
    page = Cells()
    with monkeypatch.context() as here:
        here.setattr(plan_table, "Page", lambda system: page)
        plan_table.plan(bench, result, system)
    return page


def _wrong(page: Cells) -> list[str]:
    """Every row of a plan at the terminal whose last cell is not the difference of the two before."""
    wrong: list[str] = []
    for head, *rows in page.tables:
        if head[-1] != "difference":
            continue
        for name, was, now, gap in rows:
            if any(c in "0123456789" for c in gap):
                wrong += [f"{name}: {one}" for one in said.wrong_differences((was, now, gap))]
    return wrong


@pytest.mark.parametrize("first", PARTS)
def test_terminal_sheet_and_frozen_plan_say_the_same_and_add_up(first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    wrong: list[str] = []
    spoken = printed = 0
    for number in range(first, first + PART):
        bench = read_text(bikes.text(bikes.bike(number)))
        result = plan(bench)
        of = summary.of_plan(bench, result)
        page = laid(monkeypatch, bench, result, units.BENCH)
        text = page.text()
        for system, each in ((units.BENCH, page), (IMPERIAL, laid(monkeypatch, bench, result, IMPERIAL))):
            imperial = "" if system is units.BENCH else " imperial"
            wrong += [f"{number}{imperial}: too wide for the terminal: {one}" for one in each.tables if too_wide(one)]
            wrong += [f"{number}{imperial} {one}" for one in _wrong(each)]
            if number % PRINTED == 0:
                printed += 1
                lost = not_printed(each, plan_table.plan(bench, result, system))
                wrong += [f"{number}{imperial} not printed: {one}" for one in lost]
        told = said.facts_of_answer(text)
        sheet = said.facts_of_sheet(sheet_words.changed(of), sheet_words.stands(of))
        spoken += len(told)
        wrong += [
            f"{number} {key}: {told.get(key)} {sheet.get(key)}"
            for key in told.keys() | sheet.keys()
            if told.get(key) != sheet.get(key)
        ]
        frozen = sentence.said(sentence.to_set(of))
        if not re.sub(r"\s+", " ", text).count(re.sub(r"\s+", " ", frozen)):
            wrong.append(f"{number}: the terminal does not say “{frozen}”")
    assert wrong == []
    assert spoken > 3 * PART, "nearly every plan has its sag, its force and its angle"
    assert printed >= 2 * (PART // PRINTED)


def test_the_reader_of_this_test_sees_a_wrong_difference() -> None:
    assert (
        said.wrong_differences(
            ("31.0\u00a0mm · 1.22\u00a0in", "32.3\u00a0mm · 1.27\u00a0in", "+1.3\u00a0mm · +0.05\u00a0in")
        )
        == []
    )
    assert said.wrong_differences(
        ("140\u00a0mm · 5.51\u00a0in", "150\u00a0mm · 5.91\u00a0in", "+10\u00a0mm · +0.39\u00a0in")
    )
    assert said.wrong_differences(("1\u202f193\u00a0mm", "1\u202f197\u00a0mm", "\u22124\u00a0mm"))


@pytest.mark.parametrize("psi", [62.5, 70.0, 62.04, 99.96])
def test_a_pressure_is_said_as_it_is_set(psi: float) -> None:
    """62.5 was frozen as 62; one figure for page, terminal, sheet and records."""
    tables = bikes.bike(2)
    tables["change"] = {"pressure": f"{psi} psi"}
    bench = read_text(bikes.text(tables))
    of = summary.of_plan(bench, plan(bench))
    whole = sentence.said(sentence.whole(of))
    digits = {62.5: "62.5", 70.0: "70", 62.04: "62", 99.96: "100"}[psi]
    assert f"Set {digits}\u00a0psi · " in whole and f"Set {digits}\u00a0psi · " in sentence.said(sentence.to_set(of))


def test_a_second_valve_is_never_dropped() -> None:
    for number in (2, 8, 14, 20):
        bench = read_text(bikes.text(bikes.bike(number)))
        of = summary.of_plan(bench, plan(bench))
        if of.negative_pa is not None:
            assert (
                f"main and {units.show(of.negative_pa, 'pressure', 'psi', second=True, trim=True)} negative"
                in sentence.said(sentence.to_set(of))
            )
            return
    raise AssertionError("no plan with a separate valve among those tried")
