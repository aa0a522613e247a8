"""How often the database is asked: the same for few jobs and for many, at an early step and at a late one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from topout.web.access.change import change
from topout.web.book.models import Family, Rider, Unit
from topout.web.jobs import core
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Instrument, Job, Reading, StepEntry
from topout.web.jobs.steps.progress import Slot
from web import job_states
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import START, Hands, form_of, gauge, make_job, passing

BENCH, STEP, SIGN = 12, 15, 21  # one of each reads the workshop's settings


def asked(act: Callable[[], Any]) -> int:
    """How many statements `act` sends; the frames of transactions are not counted."""
    with CaptureQueriesContext(connection) as caught:
        act()
    kinds = ("SELECT", "INSERT", "UPDATE", "DELETE")
    return sum(row["sql"].lstrip().upper().startswith(kinds) for row in caught.captured_queries)


def address(slot: Slot) -> str:
    return f"/jobs/301/steps/{slot.step.key}/" + (f"{slot.round}/" if slot.round else "")


def _signing(browser: Client, hands: Hands, slot: Slot) -> Callable[[], None]:
    """Send the form of a step, filled in so that it passes; the page is loaded before."""
    fields = form_of(browser.get(address(slot)))
    for name, given in passing(hands.here(), slot).items():
        fields[name] = "on" if given.tick else given.choice or given.text

    def send() -> None:
        answer = browser.post(address(slot), fields)
        assert answer.status_code == 303, answer.content.decode()[:2000]

    return send


def test_the_bench_asks_as_often_for_many_jobs_as_for_few(cast: Cast, hands: Hands, technician_in: Client) -> None:
    technician_in.get("/")
    few = asked(lambda: technician_in.get("/"))
    for number in range(302, 325):
        more = Hands(cast.technician, make_job(cast.technician, number), datetime(2026, 11, 4, tzinfo=UTC))
        if number % 2:
            more.begin()
            more.sign(more.here().slots[0])
    page: list[Any] = []
    many = asked(lambda: page.append(technician_in.get("/")))
    assert page[0].content.decode().count("Ilse Varn") >= 24
    assert many == few <= BENCH, (few, many)


def test_a_job_without_a_plan_costs_the_bench_no_question(cast: Cast, technician_in: Client) -> None:
    """Worked by its card: unit, family and readings as found, one gauge's among them, are fetched for all jobs at once."""
    read_with = gauge()
    family = Family.objects.create(name="Quillon 35", tables={"fork": {"travel": "150 mm"}}, made_at=START)

    def lower_legs(number: int) -> None:
        rider = Rider.objects.create(name="Runa Telvik", made_at=START)
        unit = Unit.objects.create(
            family=family, name="Quillon 35 fork", tables={"fork.air": {"pressure": "70 psi"}}, made_at=START
        )
        job = Job.objects.create(
            number=number, rider=rider, unit=unit, asked="Service.", asked_title="lower legs", taken_in_at=START,
            taken_in_by=cast.technician, technician=cast.technician, procedure="lower-leg-service",
        )  # fmt: skip
        Reading.objects.create(
            job=job, sequence=1, who=cast.technician, at=START, stage="as-found", kind="pressure", text="70",
            value_si=482633.0, dimension="pressure", unit="psi", instrument=read_with,
        )  # fmt: skip

    lower_legs(401)
    technician_in.get("/")
    few = asked(lambda: technician_in.get("/"))
    for number in range(402, 414):
        lower_legs(number)
    page: list[Any] = []
    many = asked(lambda: page.append(technician_in.get("/")))
    assert page[0].content.decode().count("Runa Telvik") >= 13
    assert many == few <= BENCH, (few, many)


def test_a_step_and_signing_it_ask_as_often_late_as_early(hands: Hands, technician_in: Client) -> None:
    seen: dict[str, tuple[int, int]] = {}
    for key in ("shaft-fits", "new-shaft-length", "left-pressure"):
        slot = hands.until(key)
        assert slot is not None
        shown = asked(lambda slot=slot: technician_in.get(address(slot)))  # type: ignore[misc]
        signed = asked(_signing(technician_in, hands, slot))
        hands.at += timedelta(minutes=1)
        seen[key] = shown, signed
    assert len(seen) == 3, seen
    assert all(shown <= STEP and signed <= SIGN for shown, signed in seen.values()), seen
    assert StepEntry.objects.count() > 50 and Instrument.objects.count() == 1


def test_every_step_of_a_unit_with_a_history_asks_no_more_than_one_without(cast: Cast, technician_in: Client) -> None:
    """What other jobs found and left open is asked once a page: at a list of four steps that open something it was asked four times."""
    gauge()
    job = hollin_job(cast.technician)
    for number in range(3):
        with change(cast.technician, "before", {"nth": number}) as doing:
            was = changes.take_in(
                doing, rider=job.rider, bike=job.bike, unit=job.unit, asked_title="before", asked="Before.", procedure="lower-leg-service",
            )  # fmt: skip
        first = Hands(cast.technician, was)
        first.begin()
        first.until("foot-bolts")
        with change(cast.technician, "back", {"nth": number}, at=first.at) as doing:
            changes.release(doing, was, found="f", done="d", left="l", defects=[], next_service="n", fit_to_ride=True)
    hands = Hands(cast.technician, job)
    with change(cast.technician, "plan", {}, at=hands.at) as doing:
        core.freeze(doing, job, job_states.CHANGE)
    hands.begin()
    seen: dict[str, int] = {}
    while (now := hands.here().current) is not None and now.step.key != "leak-start":
        screen = hands.here().screen_of(now)
        list_ = "list/" if screen.rows else ""
        place = f"/jobs/{job.number}/steps/{now.step.key}/{f'{now.round}/' if now.round else list_}"
        seen[place] = asked(lambda place=place: technician_in.get(place))  # type: ignore[misc]
        last = screen.slots[-1]
        hands._work(last.step.key)
        hands.sign(last)
    assert len(seen) > 15 and max(seen.values()) <= STEP, seen
