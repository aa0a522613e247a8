"""What can hurt is one sentence with one figure: on the plan page, at the terminal, on the sheet, in the frozen plan, at random forks and shocks
that are exact, guessed, doubted or left out; in the soak at more of them."""

from __future__ import annotations

import json
import random
import re
import tomllib
from html import unescape
from pathlib import Path

import pytest
import tomli_w
from django.template.loader import render_to_string

from documents import sheets
from second_way import bikes
from topout import units
from topout.bench_file.model import End
from topout.bench_file.read import read_text
from topout.cli import plan_table
from topout.documents import sheet_of_plan
from topout.physics.hazards import rounded_up
from topout.planner import hurts, summary
from topout.planner.inexact import AT_REST
from topout.planner.plan import plan
from topout.web.jobs import core
from topout.web.jobs.plan.answer import answer
from web.outside_cast import few_draws
from web.people import Cast

DAILY, COUNT, PART = 12, 240, 12
PARTS = [*range(0, DAILY, PART), *(pytest.param(n, marks=pytest.mark.soak) for n in range(DAILY, COUNT, PART))]
SHOCK = Path(__file__).parents[2] / "examples" / "air-shock-and-its-shelf.toml"
WAYS = ("exact", "guessed", "doubted", "left out")
INSIDE = ("bore", "shaft", "positive_volume", "negative_volume", "port_position", "spacer_volume")

few = pytest.fixture(autouse=True)(few_draws)


def text(number: int) -> tuple[str, str]:
    """A bench file, and how what can hurt of it is known."""
    chance, way = random.Random(f"hurts {number}"), WAYS[number % len(WAYS)]
    noun = "shock" if number % 3 == 2 else "fork"
    tables = tomllib.loads(SHOCK.read_text()) if noun == "shock" else bikes.bike(number)
    air = tables[noun]["air"]
    if noun == "shock":
        air["pressure"] = f"{chance.uniform(110, 180):.1f} psi"
    bore_mm = float(air["bore"].split()[0])
    outside = {"fork": "stanchion", "shock": "body"}[noun]
    if way == "guessed":
        tables[noun][outside] = f"{bore_mm + 4.5:.2f} mm"
        tables["guessed"] = {noun: ", ".join(word for word in INSIDE[:4] if word in air and (chance.random() < 0.7 or word == "bore"))}  # fmt: skip
    elif way == "doubted":
        air["bore"] = f"{bore_mm:.3f} ± 0.3 mm"
    elif way == "left out":
        tables[noun][outside] = f"{bore_mm + 4.5:.2f} mm"
        for word in INSIDE:
            air.pop(word, None)
    return (tomli_w.dumps(tables) if noun == "shock" else bikes.text(tables)), way


def flat(words: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", words)))


KNOWN = {"exact": ("exact",), "guessed": ("guess",), "doubted": ("high-side",), "left out": ("guess",)}


@pytest.mark.parametrize("first", PARTS)
def test_page_terminal_sheet_and_frozen_plan_say_one_sentence(first: int, cast: Cast) -> None:
    wrong, told = [], dict.fromkeys(WAYS, 0)
    for number in range(first, first + PART):
        typed, way = text(number)
        bench = read_text(typed)
        what = "shock" if number % 3 == 2 else "fork"
        end: End = "rear" if what == "shock" else "front"
        result = plan(bench, draws=AT_REST)
        of = summary.of_plan(bench, result)
        kept = summary.of_results(bench, json.loads(json.dumps(core.plain(result.to_keep()))))
        terminal = flat(plan_table.plan(bench, result, units.BENCH))
        page = flat(render_to_string("jobs/plan_warnings.html", {"answer": answer(bench, "psi", end=end)}))
        sheet = flat(sheet_of_plan.with_plan(sheets.full(), bench, units.BENCH, what).hurts)
        own = [each for each in of.hurts if each.end == end]
        if not own:
            wrong.append(f"{number} {way}: nothing is said")
            continue
        sentence = flat(own[0].text)
        told[way] += own[0].known in KNOWN[way]
        rooms = {
            "terminal": sentence in terminal, "page": sentence in page, "sheet": sentence == sheet,
            "frozen": [each.text for each in kept.hurts] == [each.text for each in of.hurts],
            "words": (hurts.BEHIND[own[0].known] or "holds") in sentence,
        }  # fmt: skip
        wrong += [
            f"{number} {way}: {room} says otherwise than “{sentence}”" for room, same in rooms.items() if not same
        ]
        behind = result.as_json()["rear"]["hazard"] if end == "rear" else result.as_json()["hazard"]
        force = max(each[name] for each in (behind["before"], behind["after"]) if each for name in ("cap_force_n", "ring_force_n") if each[name] is not None)  # fmt: skip
        if flat(units.BENCH.show(rounded_up(force), "force", "N")) not in sentence:
            wrong.append(f"{number} {way}: {force} N is not in “{sentence}”")
    assert wrong == []
    assert all(count >= PART // len(WAYS) - 1 for count in told.values()), told
