"""Jobs of other springs, their steps to be worked: coil forks, coil shocks, a fork with a second air chamber."""

from __future__ import annotations

from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Rider
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.records.models import Job
from web import people
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import START, Hands, gauge

FORK: Tables = {
    "fork": {"travel": "140 mm", "length": "536 mm", "offset": "44 mm"},
    "fork.coil": {"rate": "7.5 N/mm", "preload": "20 mm", "bind": "170 mm"},
}
SHOCK: Tables = {"shock": {"length": "210 mm", "stroke": "55 mm"}, "shock.coil": {"rate": "70 N/mm", "preload": "2 mm"}}
SECOND: dict[str, object] = {"second_volume": "40 ml", "second_pressure": "150 psi"}
PLANS: dict[str, Tables] = {
    "rate": {"change.coil": {"rate": "8.5 N/mm", "preload": "8 mm"}},
    "preload": {"change.coil": {"preload": "10 mm"}},
    "travel": {"change": {"travel": "130 mm"}, "change.coil": {"preload": "12 mm"}},
}


def taken_in(
    cast: Cast, procedure: str, *, kind: str = "coil-fork", asked: Tables | None = None, tables: Tables | None = None
) -> Hands:
    rider = Rider.objects.create(name="Ilse Varn", made_at=START)
    with change(cast.technician, "unit", {}, at=START) as doing:
        of = tables or (FORK if kind == "coil-fork" else SHOCK)
        unit = book.make_unit(doing, bike=None, name="a unit", kind=kind, tables=of)
    job = Job.objects.create(
        number=301, rider=rider, unit=unit, asked="Service.", asked_title="service", taken_in_at=START,
        taken_in_by=cast.technician, technician=cast.technician, procedure=procedure,
    )  # fmt: skip
    if asked is not None:
        with change(cast.technician, "freeze", {}, at=START) as doing:
            core.freeze(doing, job, asked)
    return Hands(cast.technician, job)


def planned(cast: people.Cast, job: Job) -> None:
    with change(cast.technician, "freeze", {"for": str(job.pk)}) as doing:
        core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}})


def begun(cast: people.Cast, procedure: str = "", keys: dict[str, object] | None = None) -> Hands:
    """A job on a fork with a second chamber, its steps begun: by a plan, or by this procedure and the card alone."""
    gauge()
    job = hollin_job(cast.owner, fork_air=SECOND if keys is None else keys)
    if procedure:
        Job.objects.filter(pk=job.pk).update(procedure=procedure)
    else:
        planned(cast, job)
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    hands.begin()
    return hands
