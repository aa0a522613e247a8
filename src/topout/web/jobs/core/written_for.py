"""Whether a procedure's steps are written for the unit and the plan at hand: those of another kind let no load off."""

from __future__ import annotations

from collections.abc import Sequence

from topout.planner.plan_numbers import PlanNumbers
from topout.procedures import opening, roles
from topout.procedures.model import Procedure, Step
from topout.web.book import kinds
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.texts import NoSteps


def refuse_another_kind(job: Job, procedure: Procedure, *, begun: bool) -> None:
    """Raises NoSteps where the steps are written for another kind of unit: none of them lets its load off.

    Steps of air that a job was begun with, before a procedure said what it is for, stay; those of a coil let no air
    out, whatever was signed before. Of a job that names no unit nobody knows the kind: it may hold air.
    """
    unit = job.unit
    if unit is not None and unit.kind in procedure.units:
        return
    of_coils = not roles.of_air(procedure.units)
    if not of_coils and (begun or unit is None):
        return
    is_a = "a unit that nobody took into the Book" if unit is None else f"a {unit.what.words}"
    lets_no_air_out = " They let no air out." if of_coils else ""
    raise NoSteps(
        f"These steps are {said(procedure.units, is_a)}{lets_no_air_out} Choose another procedure on the card."
    )


def said(units: Sequence[str], is_a: str) -> str:
    """For what steps are written, and what this is: `written for a coil shock; this is a coil fork.`"""
    return f"written for {' or '.join(f'a {kinds.KINDS[each].words}' for each in units)}; this is {is_a}."


def refuse_plan_of_another_spring(procedure: Procedure, plan: PlanNumbers) -> None:
    """Raises NoSteps where the plan in use is of another spring than the steps."""
    if not plan.planned:
        return
    carried = "coil" if plan.pressure_gauge_pa is None else "air"  # a plan of air has one, or there are no steps
    if carried in {roles.spring(each) for each in procedure.units}:
        return
    if carried == "coil":
        raise NoSteps("The plan is of a coil; these steps let air out, fill and count spacers.")
    raise NoSteps("The plan is of a spring of air; these steps are written for a coil and let no air out.")


def refuse_second_chamber(plan: PlanNumbers, job: Sequence[Step]) -> None:
    """Raises NoSteps where the job opens something and no step of it lets the second chamber out: a text of before knows none."""
    if plan.second != "here" or any(step.has("second-out") for step in job):
        return
    if any(opening.does(step, role) for step in job for role in ("opens", "ring-out")):
        raise NoSteps(
            "This fork has a second air chamber behind a floating piston, and these steps let only the main one out: "
            "it would stay charged behind the cap. Go by the maker’s sheet."
        )
