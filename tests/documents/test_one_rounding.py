"""What a picture says is what the plan's table says: rounded once, in `units`, and a difference is that of the figures shown."""

from __future__ import annotations

import ast
import random
import re
from dataclasses import replace
from pathlib import Path

import pytest

import topout
from topout.bench_file.model import Change
from topout.bench_file.read import read
from topout.documents import charts, stance
from topout.documents.plan_pictures import of_plan
from topout.planner.facts import stances
from topout.planner.plan import plan
from topout.planner.summary import of_plan as summary

HOLLIN = Path(__file__).parents[1] / "reference" / "hollin.toml"
SOURCE = Path(topout.__file__).parent
ROOMS = [
    *sorted((SOURCE / "documents").glob("*.py")),
    SOURCE / "web/jobs/core/steps.py",
    SOURCE / "web/jobs/steps/page.py",
    SOURCE / "web/jobs/steps/filling.py",
]


def plain(text: str) -> str:
    return re.sub("[\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]", " ", text).replace("\N{MINUS SIGN}", "-")


@pytest.mark.parametrize("seed", range(12))
def test_a_picture_says_the_figures_of_the_table(seed: int) -> None:
    """Sag stood at 387 N beside a load of 390 N, and a difference of 18 N as 20 where the table's figures differ by 10."""
    chance = random.Random(seed)
    asked = Change(
        travel_m=chance.randrange(130, 171) / 1e3, spacers=chance.randrange(0, 3),
        pressure_gauge_pa=chance.uniform(55, 95) * 6894.757293168361,
    )  # fmt: skip
    bench = replace(read(HOLLIN), change=asked)
    worked = plan(bench, curves=True)
    facts = {fact.key: fact for fact in summary(bench, worked).listed()}
    pictures = of_plan(bench, worked)
    drawing = pictures.force(900)
    assert drawing is not None
    force = plain(re.sub(r"<[^>]*>", "", drawing.svg()))
    assert f"sag at {plain(facts['load'].says('after'))}" in force
    for key in ("end_force", "share"):
        for said in (plain(facts[key].says("before")), plain(facts[key].says("after"))):
            assert said in force, (key, said, force)
    assert pictures.now is not None
    bike = stance.stance(pictures.was, pictures.now, 900, at_sag=pictures.at_sag)
    drawn = plain(re.sub(r"<[^>]*>", "", bike.svg()))
    by_key = {fact.key: fact for fact in stances((worked.as_json()["before"], worked.as_json()["after"]), "sagged")}
    for key in ("head_angle_rad", "trail_m", "wheelbase_m", "bb_height_m"):
        fact = by_key[key]
        assert plain(f"{fact.number('before')} → {fact.says('after')}, {fact.number('change')}") in drawn, (key, drawn)


def test_a_difference_at_the_end_is_that_of_the_figures_said_there() -> None:
    """Without a bumper both lines end where the difference does: 18 N were said where the labels differ by 10 or 20."""
    apart = 0
    for tenths in range(560, 720, 7):
        bench = replace(read(HOLLIN), change=Change(pressure_gauge_pa=tenths * 689.4757))
        worked = plan(bench, curves=True)
        end = {fact.key: fact for fact in summary(bench, worked).listed()}["end_force"]
        pictures = of_plan(bench, worked)
        assert pictures.before is not None and pictures.after is not None
        gap = charts.difference(pictures.before, pictures.after, pictures.after.end_mm, charts.room(900), "gap")
        assert end.before_si is not None and end.after_si is not None
        if plain(gap.title).endswith(f"at {pictures.after.end_mm:.0f} mm"):
            assert f": {plain(end.says('change'))} at" in plain(gap.title)
            apart += round(end.after_si - end.before_si, -1) != end.value("change")
    assert apart > 2, "some where rounding the difference itself says another figure"


def formatted(node: ast.FormattedValue) -> str:
    spec = node.format_spec
    return "" if spec is None else "".join(str(part.value) for part in ast.walk(spec) if isinstance(part, ast.Constant))


def test_no_room_of_pictures_and_pages_rounds_what_people_read() -> None:
    """A path's coordinates are no words; everything else goes through `units`."""
    found = []
    for path in ROOMS:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "digits":
                found += [
                    f"{path.name}:{node.lineno} rounds inside digits()" for inner in ast.walk(node)
                    if isinstance(inner, ast.Call) and getattr(inner.func, "id", "") == "round"
                ]  # fmt: skip
            if isinstance(node, ast.JoinedStr):
                first = node.values[0]
                drawn = isinstance(first, ast.Constant) and re.match(r"[MLlAv]", str(first.value))
                said = [
                    part
                    for part in node.values
                    if isinstance(part, ast.FormattedValue) and formatted(part).endswith("f")
                ]
                if said and not drawn and path.name != "svg.py":
                    found.append(f"{path.name}:{node.lineno} has decimals of its own")
    assert found == []
