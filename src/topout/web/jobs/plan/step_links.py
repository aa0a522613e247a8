"""The step that deals with a warning of the plan, where the job's procedure has one; the procedure's own file says which."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from django.urls import reverse

from topout.bench_file.model import BenchFile
from topout.procedures import words
from topout.procedures.model import UNIT, Procedure, Step
from topout.web.access import preferences
from topout.web.jobs.core import step_numbers
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.plan.words import Said
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.texts import NoSteps
from topout.web.prepared import Prepared

_LAST = Prepared(lambda job: StepEntry.objects.filter(job=job).order_by("-sequence")[:1])


def named(job: Job, file: BenchFile, changed: BenchFile, warned: Iterable[Said]) -> list[Said]:
    """Each warning with its step: as words, and as an address once the job's steps have begun."""
    last = _LAST.first(job.pk)
    try:
        procedure = core_steps.procedure_of(job, [last] if last else []).procedure
    except NoSteps:
        return list(warned)
    known = _conditions(file, changed) | {UNIT: job.noun}
    steps = [
        step
        for step in procedure.steps()
        if step.deals_with and all(key not in known or known[key] in allowed for key, allowed in step.when)
    ]
    found = []
    for one in warned:
        step = next((each for each in steps if one.code in each.deals_with), None)
        if step is not None:
            address = reverse("step", args=[job.number, step.key]) if last else ""
            one = replace(one, step=_sentence(procedure, step, file, changed), address=address)
        found.append(one)
    return found


def _conditions(file: BenchFile, changed: BenchFile) -> dict[str, str]:
    """What steps depend on, as far as a plan that may lack something answers it; as `planner.plan_numbers.conditions` does."""
    air, new = (bench.fork.air if bench.fork else None for bench in (file, changed))
    if air is None or new is None:
        return {}
    return {
        "negative": air.negative, "port": core_steps.port(step_numbers.port_m(file)),
        "spacers": "unchanged" if air.spacers == new.spacers else "changed",
    }  # fmt: skip


def _sentence(procedure: Procedure, step: Step, file: BenchFile, changed: BenchFile) -> str:
    """The step's sentence with the numbers that the boxes give; any other name as its words."""
    new = changed.fork
    numbers: dict[str, float | None] = dict.fromkeys(procedure.names)
    numbers |= {
        "new_travel": new.travel_m if new else None,
        "spacers_after": new.air.spacers if new and new.air else None,
        "port_position": step_numbers.port_m(file),
    }
    return words.fill_in(step.do, numbers, procedure.names, system=preferences.system())
