"""The tables of docs/procedures.md that say where the order of the work stands: every step of the file, once, in order."""

from __future__ import annotations

import re

import pytest

from procedures.plans import a_plan
from procedures.test_docs import DOCS
from topout.planner.plan_numbers import conditions
from topout.planner.variables import VOCABULARY
from topout.procedures.model import CONDITIONS, Procedure
from topout.procedures.read import shipped

# Clauses that belong to one kind of job only.
AIR = ("self-equalising", "separate-valve", "none", "not-known")


def procedure() -> Procedure:
    """Read when a test asks for it: every worker collects this room, one of them runs it."""
    return shipped("travel-change-by-air-shaft", VOCABULARY).procedure


def rows(head: str) -> list[tuple[str, list[str]]]:
    """(first column, keys of the last column) of the table under a head."""
    text = DOCS.read_text(encoding="utf-8")
    table = text[text.index(head) :].split("\n\n", 1)[0].splitlines()[2:]
    return [(line.split("|")[1].strip(), re.findall(r"`([a-z-]+)`", line.split("|")[-2])) for line in table]


ORDER = rows("| the order | steps |")
COME_BACKS = rows("| come-back | number | evidence |")


def test_every_step_stands_in_the_order_once() -> None:
    told = [key for _, keys in ORDER for key in keys]
    assert sorted(told) == sorted(each.key for each in procedure().steps())


@pytest.mark.parametrize("negative", CONDITIONS["negative"])
@pytest.mark.parametrize(("bike", "second"), [("here", "none"), ("away", "here"), ("away", "not-known")])
@pytest.mark.parametrize("varied", [False, True], ids=["plain", "variant"])
def test_every_kind_of_fork_walks_it_in_that_order_and_leaves_out_no_clause(
    negative: str, bike: str, second: str, varied: bool
) -> None:
    variants = frozenset(each.key for each in procedure().variants) if varied else frozenset()
    clause = {key: number for number, (_, keys) in enumerate(ORDER) for key in keys}
    job = conditions(a_plan(negative)) | {"bike": bike, "second": second}
    walked = [clause[each.key] for each in procedure().applying(job, variants)]
    assert walked == sorted(walked)
    left_out = {ORDER[number][0] for number in range(len(ORDER)) if number not in walked}
    wanted = {text for text, _ in ORDER if text.startswith("variant:") and not variants}
    wanted |= {text for text, _ in ORDER if text.startswith("the other end, where the plan moves it:")}
    if second == "none":
        wanted.add("hold points: a second chamber let out after the main one; both read nothing")
    if negative != "not-known":
        wanted.add("hold point: a negative valve that nobody wrote down is looked for")
    if negative != "separate-valve":
        wanted.add("a separate negative valve first, held extended")
    if bike == "away":
        wanted.add("tyre at the lower of both limits; room at full travel to crown and brace, at full lock")
        wanted.add("hold points: brake, axle and stem, while the leak hold runs")
    assert left_out == wanted


def test_a_unit_without_its_bike_lists_what_was_not_checked_on_it() -> None:
    job = conditions(a_plan(wheel_changed=True)) | {"bike": "away", "travel": "longer"}
    left = [each.key for each in procedure().left_out(job)]
    assert left == [
        "frame-limit", "wheel-limit", "brake-bagged", "wheel-out", "full-stroke", "tyre-hard", "crown-gap", "brace-gap", "full-lock",
        "caliper", "tyre-pressure", "brake", "axle", "stem",
    ]  # fmt: skip
    here = {each.key for each in procedure().applying(job)}
    assert "full-stroke-bench" in here and not here & set(left)
    assert procedure().left_out(job | {"bike": "here"}) == ()


def test_going_shorter_asks_nothing_about_the_frame() -> None:
    job = conditions(a_plan())
    assert job["travel"] == "shorter" and "frame-limit" not in [each.key for each in procedure().applying(job)]
    assert "frame-limit" in [each.key for each in procedure().applying(job | {"travel": "longer"})]


def test_every_number_of_a_come_back_is_asked_for_and_one_that_fails_does_not_pass() -> None:
    asked = {each.key: each for step in procedure().steps() for each in step.evidence}
    noted = {
        "foot-bolts", "left-pump", "condition-photo", "crown-gap-photo", "ring-photo", "tyre-label", "foot-torque", "legs-on",
    }  # fmt: skip
    for come_back, keys in COME_BACKS:
        assert keys, come_back
        for key in keys:
            assert asked[key].bounded or key in noted, (come_back, key)


def test_the_evidence_of_the_trade_s_own_list_is_asked_for() -> None:
    """P1: label photo and two lengths; as received; oil out; ring photo; P5, P6: readings, gap, tyre label, photo."""
    kinds = {each.key: each.kind for step in procedure().steps() for each in step.evidence}
    photos = {"shaft-label", "condition-photo", "ring-photo", "tyre-label", "crown-gap-photo"}
    assert all(kinds[key] == "photo" for key in photos)
    numbers = {
        "new-shaft-length", "old-shaft-measured", "found-pressure", "found-temperature", "rebound-clicks", "exposed-length",
        "found-axle-to-crown", "spacers-out", "oil-out", "leak-start-pressure", "leak-start-temperature", "leak-end-pressure",
        "leak-end-temperature", "length-after-hold", "crown-gap",
    }  # fmt: skip
    assert all(kinds[key] == "number" for key in numbers)
