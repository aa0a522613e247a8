"""A travel change whose air chamber's volume nobody knows: its steps are walked, its holds hold, and no side door opens.

The fork on the stand follows Boyle's law, worked out here on its own, not by the planner.
"""

from __future__ import annotations

import re

import pytest
from django.test import Client

from topout.units import PSI_PA
from topout.web.access.change import change
from topout.web.jobs.core import danger, step_numbers
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.records.models import StepEntry
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.steps import lines, owners
from topout.web.jobs.steps.progress import Slot
from topout.web.jobs.steps.sign import Answer, Refused
from web import people
from web.people import Cast
from web.steps_kit import BENCH, Hands, form_of, freeze, gauge, make_job

WITHOUT = BENCH.replace('positive_volume = "238 ml"\n', "")
assert WITHOUT != BENCH


class Fork:
    """The chambers of the bench on the stand: 218 ml and 48 ml, one psi of the gauge a mark, no hose."""

    def __init__(self, *, blocked: bool = False) -> None:
        self.blocked, self.behind = blocked, 0.0

    def stroke(self, slot: Slot) -> Answer:
        assert slot.pumped_to_pa is not None
        now = slot.pumped_to_pa / PSI_PA
        if not self.blocked:
            now = self.behind = (now * 218 + self.behind * 48) / 266
        return psi(round(now))


def psi(value: float) -> Answer:
    return Answer(text=f"{value:g} psi", value_si=value * PSI_PA, unit="psi")


def at_filling(cast: Cast, text: str = WITHOUT) -> Hands:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician, text=text))
    hands.begin()
    assert hands.until("fill") is not None
    return hands


def fill_on(hands: Hands, fork: Fork, most: int = 30) -> list[StepEntry]:
    """Rounds until the filling is over or one fails."""
    done: list[StepEntry] = []
    while (slot := hands.here().current) is not None and slot.step.key == "fill" and len(done) < most:
        done.append(hands.sign(slot, {"fill-reading": fork.stroke(slot)}))
        if done[-1].verdict != "passed":
            break
    return done


def points(hands: Hands) -> list[tuple[str, int]]:
    return [each.point for each in danger.of(hands.job)]


def test_a_missing_volume_leaves_no_step_out(cast: Cast) -> None:
    """It closed them all: "Not known: the volume of the air chamber"."""
    keys = {
        text: [slot.step.key for slot in Hands(cast.technician, make_job(cast.technician, number, text)).here().slots]
        for number, text in ((301, BENCH), (302, WITHOUT))
    }
    assert list(dict.fromkeys(keys[BENCH])) == list(dict.fromkeys(keys[WITHOUT])) != []


def test_only_what_is_needed_for_every_step_still_closes_them(cast: Cast) -> None:
    for number, line in enumerate(('travel = "150 mm"\n', 'pressure = "70 psi"\n'), 301):
        job = make_job(cast.technician, number, WITHOUT.replace(line, ""))
        with pytest.raises(NoSteps, match=r"^Not known: the (travel|pressure)"):
            Hands(cast.technician, job).here()
        assert lines.where(job).kind == "no-steps"


def test_the_whole_job_is_worked_and_every_hold_is_signed(cast: Cast) -> None:
    hands = at_filling(cast)
    entries = fill_on(hands, Fork())
    pumped = [round(entry.evidence["pumped_to_pa"] / PSI_PA) for entry in entries]
    assert [entry.verdict for entry in entries] == ["passed"] * len(entries)
    assert pumped[0] == 40 and set(pumped[1:]) == {73}, "bounded stops, never above what is asked for"
    read = [entry.evidence["answers"]["fill-reading"]["value_si"] / PSI_PA for entry in entries]
    assert read[-1] - read[-2] < 2 and read[0] < 38
    hands.until(None)
    here = hands.here()
    holds = {slot.step.key: here.passed(slot) for slot in here.slots if slot.step.holds_back}
    assert here.current is None and not here.failed_holds and all(holds.values())
    with_volumes = Hands(cast.technician, make_job(cast.technician, 302)).here()
    assert list(holds) == list(dict.fromkeys(slot.step.key for slot in with_volumes.slots if slot.step.holds_back))


def test_a_blocked_port_is_found_without_a_plan_s_figures(cast: Cast) -> None:
    hands = at_filling(cast)
    entries = fill_on(hands, Fork(blocked=True))
    assert entries[-1].verdict == "failed" and points(hands) == [("fill", 1)]
    slot = hands.here().slot("fill", 2)
    assert slot is not None
    with pytest.raises(Refused, match="comes first"):
        hands.sign(slot, {"fill-reading": psi(60)})
    assert not lines.finished(hands.job)


def test_a_failure_by_the_plan_is_not_lifted_once_the_volume_is_gone(cast: Cast) -> None:
    """Fail on the plan's figures, take the volume out, make the plan again, pass the weaker round: the danger stays."""
    hands = at_filling(cast, BENCH)
    slot = hands.here().current
    assert slot is not None
    assert hands.sign(slot, {"fill-reading": psi(26)}).verdict == "failed"
    freeze(cast.technician, hands.job, WITHOUT, hands.at)
    assert points(hands) == [("fill", 1)]
    fill_on(hands, Fork())
    assert points(hands) == [("fill", 1)], "what failed by figures is lifted by figures"
    assert not lines.finished(hands.job)
    freeze(cast.technician, hands.job, BENCH, hands.at)
    while (again := hands.here().current) is not None and again.step.key == "fill":
        hands.sign(again)
    slot = hands.here().slot("fill", 1)
    assert slot is not None
    hands.sign(slot, again=True)
    assert points(hands) == []


def test_a_failure_without_figures_is_lifted_by_the_last_level_round_alone(cast: Cast) -> None:
    """A round in between says nothing of the port: only the level one at the end does."""
    hands = at_filling(cast)
    slot = hands.here().current
    assert slot is not None
    hands.sign(slot, {"fill-reading": psi(33)})
    second = hands.here().current
    assert second is not None and second.round == 2
    assert hands.sign(second, {"fill-reading": psi(20)}).verdict == "failed"
    assert points(hands) == [("fill", 2)]
    fork = Fork()
    hands.sign(slot, {"fill-reading": fork.stroke(slot)}, again=True)
    assert points(hands) == [("fill", 2)], "the first round done again lifts nothing of the second"
    entries = fill_on(hands, fork)
    assert entries[-1].evidence["rounds"] == entries[-1].evidence["round"]
    assert [entry.evidence["rounds"] for entry in entries[:-1]] == [0] * (len(entries) - 1)
    assert points(hands) == []
    third, fourth = (slot for slot in hands.here().slots if slot.step.key == "fill" and slot.round > 2)
    hands.sign(third, {"fill-reading": psi(70)}, again=True)
    assert hands.sign(fourth, {"fill-reading": psi(71)}).evidence["rounds"] == 4
    once_more = hands.sign(fourth, {"fill-reading": psi(73)}, again=True)
    assert (once_more.verdict, once_more.evidence["rounds"]) == ("passed", 0), "read again it is level no more"
    assert hands.here().current == hands.here().slot("fill", 5)


def test_the_volume_known_in_mid_filling_asks_again_by_what_was_read(cast: Cast) -> None:
    hands = at_filling(cast)
    entries = fill_on(hands, Fork(), most=2)
    freeze(cast.technician, hands.job, BENCH, hands.at)
    here = hands.here()
    for entry in entries:
        slot = here.slot("fill", entry.evidence["round"])
        assert slot is not None and slot.filling is None
        read = entry.evidence["answers"]["fill-reading"]["value_si"]
        assert here.passed(slot) == here.band(slot, slot.step.evidence[0], here.found(slot)).holds(read)
    assert here.current is not None and here.current.step.key == "fill"


def test_a_volume_taken_out_after_the_filling_asks_for_the_rounds_it_has_not(cast: Cast) -> None:
    """Signed to the end by the plan's three rounds; without figures the last two have to agree, whatever was signed."""
    hands = at_filling(cast, BENCH)
    hands.until("length")
    before = hands.here()
    assert before.current is not None and before.current.step.key == "length"
    freeze(cast.technician, hands.job, WITHOUT, hands.at)
    after = hands.here()
    rounds = [slot for slot in after.slots if slot.step.key == "fill"]
    assert all(slot.filling is not None for slot in rounds)
    last = [before.stands(slot.step.evidence[0], after.latest[slot.key].evidence["answers"]["fill-reading"])
            for slot in rounds if slot.key in after.latest]  # fmt: skip
    level = len(last) >= 3 and last[-1] - last[-2] < 2 * PSI_PA
    assert (after.current is not None and after.current.step.key == "length") == level


def test_another_pressure_asks_for_its_own_rounds(cast: Cast) -> None:
    """Filled and level at 73 psi, then 75 are asked for: 73 is no round pumped to 75, though it lies in its span."""
    hands = at_filling(cast)
    fill_on(hands, Fork())
    assert hands.here().current is not None and hands.here().current.step.key == "length"  # type: ignore[union-attr]
    freeze(cast.technician, hands.job, WITHOUT.replace('pressure = "73 psi"', 'pressure = "75 psi"'), hands.at)
    current = hands.here().current
    assert current is not None and (current.step.key, current.round) == ("fill", 2), (
        "what was pumped to 73 is no round of 75"
    )
    assert current.pumped_to_pa == pytest.approx(75 * PSI_PA)


def test_no_force_that_nobody_knows_is_signed_as_understood(cast: Cast) -> None:
    """The dry pressure test has its forces understood first: without volumes there is no figure to understand."""
    gauge()
    hands = Hands(cast.owner, make_job(cast.owner, text=WITHOUT))
    hands.begin()
    variant = hands.here().procedure.variants[0].key
    with change(cast.owner, "switch", {}, at=hands.at) as doing:
        owners.switch(doing, hands.job, variant, True)
    slot = hands.until("dry-confirm-first")
    assert slot is not None
    with pytest.raises(Refused, match="Nobody can sign that this is understood"):
        hands.sign(slot)
    assert hands.here().current == slot


def test_the_force_on_the_top_cap_needs_no_volume(cast: Cast) -> None:
    job = make_job(cast.technician, text=WITHOUT)
    plan = step_numbers.numbers(job.frozenplans.get())
    bore = 0.034
    assert plan.before is None and core_steps.dangers(plan)["cap_force"] == pytest.approx(
        70 * PSI_PA * 3.141592653589793 / 4 * bore**2
    )
    assert core_steps.dangers(plan)["trapped_force"] is None


def test_the_pages_say_what_is_missing_with_a_link_to_its_box(cast: Cast) -> None:
    hands = at_filling(cast)
    browser: Client = people.browser(cast.technician)
    overview = browser.get(f"/jobs/{hands.job.number}/steps/all/")
    page = browser.get(f"/jobs/{hands.job.number}/steps/fill/1/")
    for answer in (overview, page):
        text = re.sub(r"\s+", " ", answer.content.decode())
        assert answer.status_code == 200 and "the volume of the air chamber" in text
    text = page.content.decode()
    assert "expect</th>" not in text and "round 1 of" not in text and form_of(page)
    sent = form_of(page) | {"fill-reading": "33 psi", "gauge": "P2"}
    assert browser.post(f"/jobs/{hands.job.number}/steps/fill/1/", sent).status_code == 303
    assert StepEntry.objects.filter(step_key="fill", verdict="passed").count() == 1
