"""One plan, one set of facts: terminal, sheet and what is frozen say the same of 1,500 random plans, and all add up.

The page is held to the same in tests/web/test_one_summary.py.
"""

from __future__ import annotations

import re

import pytest

from topout import units
from topout.bench_file.read import read_text
from topout.cli import plan_table
from topout.documents import sheet_words
from topout.planner import sentence, summary
from topout.planner.plan import plan

from . import bikes, said

COUNT = 1500
PART = 100


IMPERIAL = units.System(metric=False, bar=False, beside=False)


def _wrong(text: str) -> list[str]:
    """Every row of a plan at the terminal whose last cell is not the difference of the two before."""
    wrong: list[str] = []
    for line in text.splitlines():
        cells = re.split(r" {2,}", line.strip())
        if len(cells) == 4 and any(c in "0123456789" for c in cells[3]) and "psi" not in cells[0]:
            if cells[0].startswith("same "):
                continue  # the table of keeps compares nothing
            wrong += [f"{cells[0]}: {one}" for one in said.wrong_differences((cells[1], cells[2], cells[3]))]
    return wrong


@pytest.mark.parametrize("first", range(0, COUNT, PART))
def test_terminal_sheet_and_frozen_plan_say_the_same_and_add_up(first: int) -> None:
    wrong: list[str] = []
    spoken = 0
    for number in range(first, first + PART):
        bench = read_text(bikes.text(bikes.bike(number)))
        result = plan(bench)
        of = summary.of_plan(bench, result)
        text = plan_table.plan(bench, result, units.BENCH)
        wrong += [f"{number} imperial {one}" for one in _wrong(plan_table.plan(bench, result, IMPERIAL))]
        wrong += [f"{number} {one}" for one in _wrong(text)]
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
