"""The band of a number at a step, where more than its text bounds it: the round of a filling, and the maker's limit as the Book has it now."""

from __future__ import annotations

from dataclasses import replace

from topout.procedures import opening
from topout.procedures.model import Evidence, Step
from topout.web.book.models import Unit
from topout.web.jobs.core import limits_before, steps
from topout.web.jobs.records.kinds import BESIDE
from topout.web.jobs.records.models import Instrument
from topout.web.jobs.steps.slots import Slot

OF_SECOND = (
    "set_second_pressure",
    "second_at_rest",
)  # names of a second chamber's pressures: it has a valve and a limit of its own, which the Book does not know
_HAIR = 1 + 1e-9


def of_round(slot: Slot, used: Instrument | None) -> steps.Band | None:
    """The band of a filling's round at a gauge; None at every other step. Raises NotKnown."""
    if slot.filling is None or slot.step.rounds is None:
        return None
    gauge = steps.gauge_of(used)
    if gauge is None:
        raise steps.NotKnown("the gauge")
    if len(slot.filling.read) < slot.round - 1:
        raise steps.NotKnown("the round before")
    return steps.Band(None, *slot.filling.span(slot.round, gauge.mark_pa, steps.step_pa(slot.step.rounds, used)))


def under_limit(
    span: steps.Band, step: Step, evidence: Evidence, plan: steps.PlanNumbers, unit: Unit | None
) -> steps.Band:
    """The band with the maker's limit as its end, where a step takes whatever pressure the rider wants.

    A step that says to what it is pumped is judged by that; whether it may be is asked before (`judged.limit`). A plan over the
    limit stands by an owner's reason: then that is the end.
    """
    free = span.expect_si is None and evidence.dimension == "pressure" and opening.pumped_to(step, evidence)
    elsewhere = evidence.card is not None and evidence.card[1] in BESIDE
    if not free or elsewhere or evidence.expect is not None and evidence.expect.name in OF_SECOND:
        return span
    most = limits_before.now_pa(unit)
    if most is None:
        return span
    known, to = plan.pressure_limit_gauge_pa, plan.set_pressure_gauge_pa
    if plan.planned and known is not None and to is not None and most >= known / _HAIR and to > known * _HAIR:
        most = to
    return replace(span, high_si=most if span.high_si is None else min(span.high_si, most))
