"""A job is offered the procedures that its unit can have, on the page, by the form that is sent, and where its steps would begin."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from topout.procedures import library
from topout.web.access.change import change, new_key
from topout.web.book import keeping as book
from topout.web.book.kinds import KINDS
from topout.web.book.models import Rider, Unit
from topout.web.jobs.desk.offered import Offers
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.steps.progress import walk
from web import own_kit, people
from web.plan_cast import hollin_job
from web.springs_kit import SECOND, planned
from web.steps_kit import gauge

ASKED = {"asked_title": "service", "asked": "It knocks.", "technician": "jory", "procedure": ""}
# Written out by hand: what a mechanic would expect to be offered.
FORK = {
    "air-spring-reseal", "clearance", "fork-annual", "leak-test", "lower-leg-service", "pressure-and-spacers", "return-to-rider",
    "travel-change-by-air-shaft",
}  # fmt: skip
OF = {
    "fork": FORK,
    "shock": {"rear-shock-air-can", "return-to-rider"},
    "coil-fork": {
        "coil-clearance",
        "coil-fork-annual",
        "coil-lower-legs",
        "coil-spring-change",
        "return-to-rider-coil",
    },
    "coil-shock": {"coil-shock-spring", "return-to-rider-coil"},
}


def drawn(page: str) -> set[str]:
    """The procedures that stand on a page to be tapped."""
    return set(re.findall(r'<input type="radio" name="procedure" value="([^"]+)"', page))


@pytest.fixture
def units(cast: people.Cast) -> dict[str, Unit]:
    """A rider with a unit of each kind, and the workshop's own procedure for forks."""
    own_kit.keep(cast.owner)
    with change(cast.owner, "made", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Ilse Varn")
        bikes = {kind: book.make_bike(doing, rider=rider, name=f"Sedge {kind}", tables={}) for kind in KINDS}
        return {kind: book.make_unit(doing, bike=bikes[kind], name=f"a {kind}", tables={}, kind=kind) for kind in KINDS}


def test_every_kind_is_offered_its_own_and_told_of_the_others(units: dict[str, Unit], technician_in: Client) -> None:
    rider = Rider.objects.get()
    every = set(library.shipped_keys())
    for kind, wanted in OF.items():
        own = {"own:wiper-care:1"} if kind == "fork" else set()
        page = technician_in.get(f"/jobs/new/?rider={rider.pk}&unit={units[kind].pk}").content.decode()
        assert drawn(page) == wanted | own, kind
        assert f"What is written for a {KINDS[kind].words}. Not here: " in page, kind
        tapped = technician_in.get(
            f"/jobs/new/procedures/?rider={rider.pk}&unit={units[kind].pk}&procedure=return-to-rider"
        )
        assert drawn(tapped.content.decode()) == wanted | own and "<html" not in tapped.content.decode(), kind
        assert ("checked" in tapped.content.decode()) is ("return-to-rider" in wanted), kind
        tapped = technician_in.get("/jobs/new/procedures/", {"unit": "", "unit_kind": kind})  # a new one
        assert drawn(tapped.content.decode()) == wanted | own, kind
    unknown = [
        technician_in.get("/jobs/new/"), technician_in.get(f"/jobs/new/?rider={rider.pk}"),
        *(technician_in.get(f"/jobs/new/procedures/?{more}") for more in ("", "unit_kind=x", f"unit={'9' * 40}", "unit=x%00")),
    ]  # fmt: skip
    for answer in unknown:  # nobody said what it is: nothing is kept back
        assert answer.status_code == 200 and drawn(answer.content.decode()) == every | {"own:wiper-care:1"}
        assert "Not here" not in answer.content.decode()


def test_no_form_takes_what_the_unit_can_not_have(units: dict[str, Unit], technician_in: Client) -> None:
    """Each procedure with each kind: sent for a unit of the Book, for a new one, and to change a job that is here."""
    rider, wrong = Rider.objects.get(), []
    key = people.field_of(technician_in.get("/jobs/new/"), "csrfmiddlewaretoken")
    own = "own:wiper-care:1"

    def taken(address: str, **more: str | int) -> bool:
        sent = {
            "csrfmiddlewaretoken": key,
            "change_key": new_key(),  # as a page would draw it
            **ASKED,
            **more,
        }
        answer = technician_in.post(address, sent)
        said = answer.content.decode()
        assert answer.status_code == 303 or (answer.status_code == 422 and "; this is a" in said), (
            address,
            more,
            said[-2000:],
        )
        return bool(answer.status_code == 303)

    for kind, wanted in OF.items():
        for name in (*library.shipped_keys(), own):
            fits = name in wanted or (name == own and kind == "fork")
            if taken("/jobs/new/", rider=rider.pk, unit=units[kind].pk, procedure=name) is not fits:
                wrong.append(("of the Book", kind, name))
        other = next(name for name in library.shipped_keys() if name not in wanted)
        new = {"rider_name": "Bo Lund", "unit_name": "new", "unit_kind": kind}
        if taken("/jobs/new/", **new, procedure=other) or not taken("/jobs/new/", **new, procedure=min(wanted)):
            wrong.append(("new", kind, other))
        job = Job.objects.filter(unit__kind=kind, procedure=min(wanted)).first()
        assert job is not None
        address = f"/jobs/{job.number}/change/"
        assert drawn(technician_in.get(address).content.decode()) >= wanted
        if taken(address, procedure=other) or not taken(address, procedure=max(wanted)):
            wrong.append(("changed", kind, other))
    if taken("/jobs/new/", rider_name="Bo Lund", unit_name="new", unit_kind="", procedure="coil-lower-legs"):
        wrong.append(("kind not said, kept as a fork", "fork", "coil-lower-legs"))
    assert not wrong, wrong
    assert not Job.objects.exclude(unit__kind__in=OF).exists()


def test_the_steps_refuse_it_too(units: dict[str, Unit], technician_in: Client) -> None:
    """Past the forms, and a job of before: a rear shock got the steps of a fork's lower legs."""
    rider, offers = Rider.objects.get(), Offers()
    sent = {**ASKED, "rider": rider.pk}
    for kind, unit in units.items():
        assert people.send(technician_in, "/jobs/new/", {**sent, "unit": unit.pk}).status_code == 303
        job = Job.objects.get(unit=unit)
        for each in offers.every:
            job.procedure = each.name
            job.save()
            if kind in each.units:
                continue
            with pytest.raises(NoSteps, match=f"this is a {KINDS[kind].words}"):
                walk(job)
        # One that it has from before may stay while a promise is changed; the steps say what is wrong with it.
        answer = people.send(technician_in, f"/jobs/{job.number}/change/", {**ASKED, "procedure": job.procedure})
        assert answer.status_code == 303


def test_a_second_chamber_can_have_what_every_fork_on_air_has(cast: people.Cast) -> None:
    """Each of ours lets it out (`test_second_chamber_steps.py`), so nothing is kept back; each is begun here."""
    gauge()
    job = hollin_job(cast.owner, fork_air=SECOND)
    planned(cast, job)
    for name, _ in Offers().choices("fork")[1:]:
        job.procedure = name
        assert name in FORK and walk(job).slots, name
