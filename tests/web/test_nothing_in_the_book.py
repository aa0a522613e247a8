"""A unit of which the Book has no line, as most are on the day they come in: what was read of it on the card is what its steps go by."""

from __future__ import annotations

import pytest

from topout.planner.variables import VOCABULARY
from topout.procedures import library
from topout.procedures.read import shipped
from topout.units import parse
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs.core.steps import NotKnown
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps.sign import Refused, leave
from topout.web.jobs.steps.taken import Answer
from web.people import Cast
from web.steps_kit import Hands, gauge

READ = {
    "fork": {"pressure": "71 psi", "travel": "140 mm"},
    "coil-fork": {"travel": "140 mm"},
    "shock": {"pressure": "171 psi", "stroke": "55 mm"},
    "coil-shock": {"stroke": "55 mm"},
}
WITHOUT_A_PLAN = [
    (key, kind)
    for key, head in sorted(library.heads().items())
    for kind in head.units
    if not shipped(key, VOCABULARY).procedure.needs_plan
]


def taken_in(cast: Cast, kind: str, procedure: str, read: dict[str, str]) -> Job:
    """By its name alone, and what was read as it came."""
    gauge()
    with change(cast.technician, "in", {}) as doing:
        rider = book.make_rider(doing, name="Ilse Varn")
        unit = book.make_unit(doing, bike=None, name="black thing", tables={}, kind=kind)
        job = changes.take_in(
            doing, rider=rider, bike=None, unit=unit, asked_title="service", asked="Due.", procedure=procedure
        )
        for each, text in read.items():
            dimension = "pressure" if each == "pressure" else "length"
            readings.take(doing, job, "as-found", Taken.quantity(each, parse(text, dimension), dimension))
    return job


@pytest.mark.parametrize(("procedure", "kind"), WITHOUT_A_PLAN)
def test_it_is_worked_to_the_end_by_what_was_read_of_it(cast: Cast, procedure: str, kind: str) -> None:
    """The stroke of a fork that came by post could not be judged, though its travel stood on the card."""
    hands = Hands(cast.technician, taken_in(cast, kind, procedure, READ[kind]))
    hands.begin()
    plan, read = hands.here().plan, READ[kind]
    if "pressure" in read:
        assert plan.set_pressure_gauge_pa == pytest.approx(parse(read["pressure"], "pressure").value_si, rel=1e-6)
    assert plan.new_travel_m == (0.14 if "travel" in read else None)
    assert plan.new_stroke_m == (0.055 if "stroke" in read else None)
    assert hands._work(None) is None


@pytest.mark.parametrize(("procedure", "kind"), WITHOUT_A_PLAN)
def test_with_nothing_read_no_step_is_a_dead_end(cast: Cast, procedure: str, kind: str) -> None:
    """What nobody can judge is left as not known; what keeps hands whole can be judged of any unit."""
    hands = Hands(cast.technician, taken_in(cast, kind, procedure, {}))
    hands.begin()
    left = []
    while (slot := (here := hands.here()).current) is not None:
        try:
            hands.sign(slot, here=here)
        except NotKnown:
            with change(cast.technician, "left", {}, at=hands.at) as doing:
                leave(doing, hands.job, slot.step.key, "not-known", "", here.seen, here)
            left.append(slot.step.key)
    by_travel, by_pressure = {"full-stroke-bench", "coil-full-stroke-bench", "coil-bind"}, {"pressure-first"}
    assert set(left) <= by_travel | by_pressure, left


def test_no_number_says_by_itself_what_it_should_be(cast: Cast) -> None:
    """The entry said that what was typed was expected; over the Book's limit it would have passed."""
    job = taken_in(cast, "fork", "return-to-rider", {})
    hands = Hands(cast.technician, job)
    hands.begin()
    step = hands._work("pressure-first")
    assert step is not None

    def pumped(psi: str) -> StepEntry:
        value = Answer(text=psi, value_si=parse(psi, "pressure").value_si, unit="psi")
        return hands.sign(step, {"pressure-first": value}, again=True)

    for psi in ("60 psi", "95 psi"):  # read again it is not held against what was pumped before
        entry = pumped(psi)
        assert (entry.verdict, entry.evidence["answers"]["pressure-first"]["expect_si"]) == ("passed", None)
    assert job.unit is not None
    job.unit.tables = {"fork.air": {"pressure_limit": "90 psi"}}
    with change(cast.owner, "limit", {}) as doing:
        book.keep(doing, job.unit)
    hands.job = Job.objects.get(pk=job.pk)
    assert pumped("95 psi").verdict == "failed" and pumped("90 psi").verdict == "passed"


def test_what_it_came_with_is_what_it_is_pumped_to(cast: Cast) -> None:
    """Whatever was typed at "pump to" was what was expected there, and so it passed."""
    hands = Hands(cast.technician, taken_in(cast, "fork", "return-to-rider", READ["fork"]))
    hands.begin()
    step = hands._work("pressure-first")
    assert step is not None
    forty = Answer(text="40 psi", value_si=parse("40 psi", "pressure").value_si, unit="psi")
    assert hands.sign(step, {"pressure-first": forty}).verdict == "failed"


def test_where_nothing_was_read_the_way_out_is_said(cast: Cast) -> None:
    hands = Hands(cast.technician, taken_in(cast, "fork", "lower-leg-service", {}))
    hands.begin()
    step = hands._work("full-stroke-bench")
    assert step is not None
    told = "Write it on the card or in the Book, or leave the step with “Not done, because…”."
    with pytest.raises(Refused, match=told):
        hands.sign(step, {"full-stroke-bench": Answer(text="140 mm", value_si=0.14, unit="mm")})
