"""The plan page beside terminal, sheet and frozen plan: the same facts of 125 random plans, in the figures it shows; of 1,375 others in the soak.

The terminal and the sheet are held to it in tests/second_way/test_said.py; here the page's own cells and sentence are.
"""

from __future__ import annotations

import pytest
from django.test import Client

from second_way import bikes, said
from topout.bench_file.read import read_text
from topout.planner import sentence, summary
from topout.planner.plan import plan
from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.plan import tables
from topout.web.jobs.records.models import FrozenPlan
from web import people
from web.plan_cast import hollin_job

DAILY, COUNT = 125, 1500
PART = 125
PARTS = [*range(0, DAILY, PART), *(pytest.param(n, marks=pytest.mark.soak) for n in range(DAILY, COUNT, PART))]


@pytest.mark.parametrize("first", PARTS)
def test_every_row_of_the_page_adds_up_and_the_sentence_is_the_terminals(first: int) -> None:
    wrong: list[str] = []
    spoken = 0
    for number in range(first, first + PART):
        bench = read_text(bikes.text(bikes.bike(number)))
        of = summary.of_plan(bench, plan(bench))
        compared = tables.compared(of)
        for row in [*compared, *tables.stances(of)]:
            cells = [cell.whole + cell.fraction for cell in row.cells]
            for part in (cells[:3], cells[3:]):
                if len(part) == 3 and any(c in "0123456789" for c in part[2]):
                    wrong += said.wrong_differences((part[0], part[1], part[2]))
        told = said.facts_of_answer(sentence.said(core.figures.sentence(of)))
        shown = {row.name: row for row in compared}
        if "sag" in told:
            line = [said.decimal(cell.whole + cell.fraction) for cell in shown["Sag, mm"].cells]
            spoken += 1
            if [told["sag"], told["sag_gap"]] != line[1:3]:
                wrong.append(f"{number}: the sentence says {told['sag']} and {told['sag_gap']} beside {line}")
        if "percent" in told:
            end = [said.decimal(c.whole) for c in shown["Bottom-out force, N"].cells]
            percent = 100 * (end[1] / end[0] - 1)
            if abs(percent - told["percent"]) > 0.5:  # type: ignore[operator]
                wrong.append(f"{number}: {told['percent']} % of {end}")
    assert wrong == []
    assert spoken > PART / 3


@pytest.mark.parametrize(
    ("fork_air", "asked", "says"),
    [
        ({}, "62.5 psi", "Set 62.5\u00a0psi · 4.31\u00a0bar with one volume spacer."),
        ({}, "4.83 bar", "Set 4.83\u00a0bar · 70.1\u00a0psi with one volume spacer."),
        (
            {"negative": "separate-valve", "negative_pressure": "75 psi", "port_position": "0 mm"}, "76 psi",
            "Set 76\u00a0psi · 5.24\u00a0bar main and 75\u00a0psi · 5.17\u00a0bar negative with one volume spacer.",
        ),
    ],
)  # fmt: skip
def test_what_is_frozen_is_what_the_page_said(
    technician_in: Client, cast: people.Cast, fork_air: dict[str, object], asked: str, says: str
) -> None:
    """The frozen sentence dropped the negative chamber and said 62 for 62.5."""
    job = hollin_job(cast.owner, fork_air=fork_air)
    with change(cast.owner, "use", {}) as doing:
        frozen = core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": asked, "spacers": 1}})
    assert frozen.sentence == says
    # What is kept has the unit that was typed first, what is shown that of the workshop: the same figures.
    says = says.replace("Set 4.83\u00a0bar · 70.1\u00a0psi", "Set 70.1\u00a0psi · 4.83\u00a0bar")
    page = technician_in.get(f"/jobs/{job.number}/plan/", {"pressure": asked, "travel": "150", "spacers": "1"})
    words = page.content.decode().replace("<b>", "").replace("</b>", "")
    assert says in words
    assert says in technician_in.get(f"/jobs/{job.number}/").content.decode()
    assert FrozenPlan.objects.get(job=job).sentence == frozen.sentence


def test_card_and_page_give_one_sag(technician_in: Client, cast: people.Cast) -> None:
    """35.2 on the page and 34.7 on the card, where travel is lost at the top: both say both, by name."""
    job = hollin_job(cast.owner, fork_air={"port_position": "12 mm"})
    with change(cast.owner, "use", {}) as doing:
        core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}})
    of = core.told_frozen(FrozenPlan.objects.get(job=job))
    assert of.ring.number("after") != of.sag.number("after"), "travel is lost at the top of this one"
    card = technician_in.get(f"/jobs/{job.number}/").content.decode()
    page = technician_in.get(f"/jobs/{job.number}/plan/").content.decode()
    assert of.sag.says("after") in page and f"the O-ring shows {of.ring.says('after')}" in page
    listed = {fact.key: fact for fact in of.listed()}
    for key in ("sag", "ring"):
        whole, _, fraction = listed[key].number("after").partition(".")
        cell = f'<td class="n is">{whole}<i>.{fraction}</i></td>'
        assert cell in card and cell in page
