"""What a plan misses, each with the address of the box in the Book where it is written."""

from __future__ import annotations

from typing import Final

from django.urls import reverse

from topout.web.book import tables as bench_tables
from topout.web.book.forms import box_name
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.core.figures import Next, Summary
from topout.web.jobs.core.step_numbers import not_known
from topout.web.jobs.records.kinds import OF_CAN, kinds_of
from topout.web.jobs.records.models import FrozenPlan, Job
from topout.web.jobs.records.open import released
from topout.web.onward import leading_back

NO_SPRING: Final = "Nothing of this shock’s spring is in the Book yet. Write its can or its coil there; what it does, and what fits it, is then worked out here."
NO_TRAVEL: Final = "Nothing can be planned before the fork’s travel is known. Write it in the Book, with the outside diameter of its stanchions: with the pressure as found that is enough for a first answer."


def not_begun(job: Job, fitted: Tables) -> dict[str, str]:
    """What a plan can't begin without: a sentence and the address of its box in the Book; empty where nothing is in the way."""
    if not released(job) and (which := core.which_one(job)):
        return {"later": which, "box": reverse("bike", args=[job.bike_id]), "button": "To the bike"}
    kind = job.unit.what if job.unit is not None else None
    # The pressure and the spacers that were found say nothing of what they are in, where the Book has no line of it.
    own = job.unit.whole_tables() if job.unit is not None else {}
    springs = [fitted.get(table, {}).keys() - {"pressure", "spacers"} for table in ("shock.air", "shock.coil")]
    springs += [set(own.get(table, {})) for table in ("shock.air", "shock.coil")]
    if core.end_of(job) == "rear" and not any(springs) and "body" not in own.get("shock", {}):
        first = "[shock.coil] rate" if kind is not None and kind.spring == "coil" else "[shock.air] bore"
        return {"later": NO_SPRING, "box": _address(job, first)}
    if core.end_of(job) == "front" and not fitted.get("fork", {}).get("travel"):
        return {"later": NO_TRAVEL, "box": _address(job, "[fork] travel")}
    return {}


def gaps(job: Job, of: Summary) -> list[tuple[str, str]]:
    """Words and address of each thing that is not known; no address where nothing of the Book holds it."""
    return [(each.words, _read_at(job, each.place) or _address(job, each.place)) for each in of.lacking]


def of_steps(job: Job, frozen: FrozenPlan | None) -> list[tuple[str, str]]:
    """The same for what the job's steps leave out, since the spring of its plan can't be worked out."""
    return [(words, _address(job, key, "steps")) for key, words in not_known(frozen).items()]


# What is read on a job's own shock is written down at the job, signed; what nobody reads there, in the Book.
_READ_AS: Final = {"[shock] sag": "stroke-sag", "[shock] stroke": "stroke", "[shock.air] pressure": "pressure"} | {
    f"[shock.air] {word}": kind for kind, word in OF_CAN.items()
}
# Where a reading of a shock is written.
_WRITTEN_AT: Final = {
    "gauge": "[shock.air] bore",  # read held in it has a page of its own; this is what an opened can tells in its place
    "syringe": "[shock.air] bore", "caliper": "[shock.air] bore", "settles": "[shock] friction",
    "front-share": "[rider] front_share",
}  # fmt: skip


def box_of_shock(job: Job, reading: Next | None) -> str:
    """The address of the box that takes a reading of the shock, at the job or in the Book; "" where none does, or none is proposed."""
    place = _WRITTEN_AT.get(reading.kind, "") if reading is not None else ""
    return _read_at(job, place) or _address(job, place) if place else ""


def _read_at(job: Job, place: str) -> str:
    """The box of the job's own readings as found that takes it; "" where there is none, or the job takes none any more."""
    kind = _READ_AS.get(place, "")
    if released(job) or not any(each.key == kind for each in kinds_of(job, "as-found")):
        return ""
    return f"{reverse('readings', args=[job.number, 'as-found'])}#id_{kind}"


def hardtail_box(job: Job, of: Summary) -> str:
    """The address of the bike's box that says it has no rear suspension; "" where nothing is taken for its rear end, or one
    has a shock."""
    silent = any(each.key == "rear_wheel.sag" for each in of.defaults) and of.rear is None
    return _address(job, "[rear_wheel] sag") if silent else ""


def _address(job: Job, key: str, back_to: str = "plan") -> str:
    """The box in the Book that holds it; saved, its form leads back to this page of the job. "" where nothing of the Book does."""
    table, _, word = key.strip("[").partition("]")
    word = word.strip()
    page = ""
    if table in bench_tables.RIDER:
        page = reverse("rider-change", args=[job.rider_id])
    elif table in bench_tables.BIKE and job.bike_id:
        page = reverse("bike-change", args=[job.bike_id])
    elif table == "shock" and word in bench_tables.LINKAGE and job.bike_id:
        page = reverse("bike-change", args=[job.bike_id])  # the frame's, whatever shock is in it
    elif table.partition(".negative_coil")[0] in bench_tables.UNIT and job.unit_id:
        page = _unit_page(job, table.partition(".")[0])
        if table.endswith(".negative_coil"):
            table, word = table.removesuffix(".negative_coil"), f"negative_coil.{word}"
    place = f"{page}#id_{box_name(table, word)}" if page and word else page
    return leading_back(place, reverse(back_to, args=[job.number])) if place else ""


def _unit_page(job: Job, noun: str) -> str:
    """Where the fork or the shock of the job's bike is written; one that is not in the Book is put in."""
    unit = job.unit if job.unit is not None and job.unit.what.noun == noun else core.other_end(job)
    if unit is not None:
        return reverse("unit-change", args=[unit.pk])
    return f"{reverse('unit-new', args=[job.bike_id])}?kind={noun}" if job.bike_id else ""
