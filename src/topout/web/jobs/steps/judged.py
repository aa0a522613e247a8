"""Whether what was answered at a step passes: by its words, its band, and a gauge that may judge it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from django.db.models import Q

from topout.errors import TopoutError
from topout.procedures import opening, words
from topout.procedures.model import ANSWERED, CONDITIONS, Bound, Evidence
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import both_ends, limits_before
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.core.danger import Danger
from topout.web.jobs.records.models import Instrument, Photo, StepEntry
from topout.web.jobs.steps import bands, holds
from topout.web.jobs.steps.laid_open import is_off
from topout.web.jobs.steps.progress import Progress, Slot
from topout.web.jobs.steps.slots import sets_other_end
from topout.web.jobs.steps.taken import Answer
from topout.web.jobs.steps.understood import UNDERSTOOD, hurts

WAY_OUT = "Write it on the card or in the Book, or leave the step with “Not done, because…”."


class Refused(TopoutError):
    """What was asked may not be done now; the text says why. Nothing is kept."""


def judge(
    here: Progress, slot: Slot, answers: Mapping[str, Answer], used: Instrument | None
) -> tuple[dict[str, dict[str, Any]], bool]:
    """Every answer as it is kept, and whether all of them pass."""
    others = set(answers) - {each.key for each in slot.step.evidence}
    if others:
        raise Refused(f"This step does not ask for {', '.join(sorted(others))}.")
    kept: dict[str, dict[str, Any]] = {}
    typed: dict[str, float | None] = {}
    passed = True
    for each in slot.step.evidence:
        answer = answers.get(each.key)
        row = _kept(each, answer) if answer is not None else None
        if row is None:
            if each.optional:
                continue
            if holds.judged(slot.step) is not None and "hold-temperature" in each.roles:
                raise Refused(
                    "No temperature was read. Without it colder air looks like a leak, and warmer air hides one."
                )
            raise Refused(f"{here.say(slot, each.label)}: this step can’t be signed without it.")
        if each.kind == "tick" and (unknown := _unknown(here, slot, each)):
            raise Refused(f"Nobody can sign that this is understood: {', '.join(unknown)} is not known.")
        if each.kind == "tick" and (names := hurts(here.procedure, each.label)):
            row[UNDERSTOOD] = {key: here.found(slot)[key] for key in names}
        if each.kind == "photo" and answer is not None and (where := _seen_before(here, slot, answer)):
            raise Refused(
                f"{here.say(slot, each.label)}: this very picture is kept {where} already. Take one of what lies before you."
            )
        if each.kind == "choice" and answer is not None:  # else it has no row
            if why := _would_go(here, each, answer.choice):
                raise Refused(why)
            row["pass"] = answer.choice in each.passes
        if each.kind == "number" and answer is not None and answer.value_si is not None:
            typed[each.key] = answer.value_si
            try:
                span = band_of(here, slot, each, typed, used)
            except core_steps.NotKnown as missing:
                way = f" {WAY_OUT}" if slot.step.may_skip and each.expect is not None else ""
                raise Refused(f"{here.say(slot, each.label)}: {missing}{way}") from None
            row |= {"expect_si": span.expect_si, "low_si": span.low_si, "high_si": span.high_si}
            row["pass"] = span.holds(answer.value_si)
        row |= here.shown(each)
        passed = passed and row["pass"]
        kept[each.key] = row
    return kept, passed


def band_of(
    here: Progress, slot: Slot, each: Evidence, typed: Mapping[str, float | None], used: Instrument | None
) -> core_steps.Band:
    """The band of a number, with what was typed at this step. Raises NotKnown.

    No number says by itself what it should be: where only it would, nothing is expected of it but what the maker's limit says.
    """
    try:
        return here.band(slot, each, here.found(slot, {**typed, each.key: None}), used)
    except core_steps.NotKnown:
        here.band(slot, each, here.found(slot, typed), used)
        return bands.under_limit(core_steps.Band(None, None, None), slot.step, each, here.plan, here.job.unit)


def _seen_before(here: Progress, slot: Slot, answer: Answer) -> str:
    """Where a hold point's picture was kept before: at another job, or at another step of this one; "" where nowhere.

    A photo of the card, of this job, may be the one that the step asks for.
    """
    if answer.photo is None or not slot.step.holds_back:
        return ""
    here_too = Q(job=here.job, step_key__in=("", slot.step.key))
    row = (
        Photo.objects.filter(sha256=answer.photo.sha256).exclude(here_too).select_related("job").order_by("pk").first()
    )
    return "" if row is None else f"at job {row.job.number}, as “{row.of}”,"


def _unknown(here: Progress, slot: Slot, each: Evidence) -> list[str]:
    """The forces and energies that a tick says are understood, and that have no number here."""
    found = here.found(slot)
    return [here.procedure.names[key].says for key in hurts(here.procedure, each.label) if found[key] is None]


def read_on(here: Progress, slot: Slot, answers: Mapping[str, Answer], used: Instrument | None) -> Instrument | None:
    """The gauge that a step's pressure was read on: of one that stands as on the card, the one that read it there."""
    asked = [each for each in slot.step.evidence if each.dimension == "pressure" and each.key in answers]
    on_card = [each.card for each in asked if each.card is not None and answers[each.key].from_card]
    if not asked or len(on_card) < len(asked):
        return used
    row = here.records.readings.get(on_card[0])
    of_card = row.instrument if row is not None else None
    if of_card is None and slot.step.holds_back:
        raise Refused(
            "The card does not say on which gauge it was read, so no hold point is judged by it. Read it again."
        )
    return of_card or used


def fit(here: Progress, slot: Slot, used: Instrument | None, others: Sequence[Danger], *, anew: bool = True) -> None:
    """Refuse a gauge that may not judge this point: put away, not confirmed at a hold point, or coarser than one that failed it.

    `others` are the dangers of the unit by its other jobs: what passes here lifts them too. What stands on the card is not read `anew`.
    """
    if used is None or not any(each.kind == "number" and each.dimension == "pressure" for each in slot.step.evidence):
        return
    if used.retired_at is not None and anew:
        raise Refused(f"Gauge {used.code} is put away: no new reading is taken with it. Read it on another one.")
    if slot.step.holds_back and used.confirmed_at is None:
        raise Refused(
            f"Gauge {used.code} is not confirmed: an owner looks at its face and says so under Instruments. Until then no "
            "hold point is judged with it."
        )
    failed_on = here.gauges_failed(slot, _at_other_jobs(slot, others))
    try:
        gauge = core_steps.gauge_of(used)
        failed = [each for each in map(core_steps.gauge_of, failed_on) if each is not None]
    except core_steps.NotKnown as missing:
        raise Refused(f"{missing}") from None
    if gauge is not None and (why := _too_wide(here, slot, gauge)):
        raise Refused(f"Gauge {used.code} is too coarse here: {why} Read it on a finer one.")
    if gauge is not None and any(not gauge.as_fine_as(other) for other in failed):
        finest = min(failed_on, key=lambda each: core_steps.mark_pa(each) or 0.0)
        raise Refused(
            f"It failed on gauge {finest.code}. A gauge with wider marks, or a wider class, can’t tell better: read it "
            f"again on {finest.code}, or on one as fine."
        )


def _at_other_jobs(slot: Slot, others: Sequence[Danger]) -> list[StepEntry]:
    """What was signed at this step at those of the unit's other jobs at which it failed and stands."""
    jobs = {each.entry.job_id for each in others if each.entry.step_key == slot.step.key}
    entries = StepEntry.objects.filter(job__in=jobs, step_key=slot.step.key, verdict__in=("passed", "failed"))
    return list(entries.order_by("job", "sequence")) if jobs else []


def _too_wide(here: Progress, slot: Slot, gauge: core_steps.Gauge) -> str:
    """Why a gauge can't show what this point is judged by: that nothing is left, or that a stroke costs anything; "" where it can."""
    said = partial(words.quantity, dimension="pressure", unit=core_steps.gauge_unit(here.instrument))
    proves_nothing = any(
        each.dimension == "pressure" and each.expect == Bound(value_si=0.0) for each in slot.step.evidence
    )
    if (
        slot.step.holds_back
        and proves_nothing
        and gauge.mark_pa > core_steps.WIDEST_OF_NOTHING_PA * (1 + core_steps.SLACK)
    ):
        return f"marks of {said(gauge.mark_pa)} don’t tell nothing from a charge."
    for each in slot.step.evidence if slot.step.holds_back else ():
        if each.dimension != "pressure" or each.expect is None or each.below is None or each.below.kind != "gauge":
            continue
        wanted = core_steps.value_of(each.expect, here.found(slot))
        if wanted is not None and wanted > 0 and not gauge.tells(wanted, each.below.value):
            off = gauge.error_pa(each.below.value)
            return f"by its marks and class it may be off by {said(off)}, where {said(wanted)} should stand."
    # The first round costs most: where it does not show, a blocked port passes every round. One that is open at full
    # extension shares while the pump is on, and costs nothing.
    shares = here.plan.negative == "self-equalising" and core_steps.port(here.plan.port_position_m) == "further-in"
    if not shares or slot.round != 1 or slot.pumped_to_pa is None or slot.reading_pa is None:
        return ""
    costs, mark = slot.pumped_to_pa - slot.reading_pa, gauge.mark_pa
    return (
        f"the stroke costs {said(costs)}, its marks are {said(mark)}." if costs < mark * (1 - core_steps.SLACK) else ""
    )


def over_limit(here: Progress, slot: Slot, other: Unit | None) -> str:
    """Why nobody pumps here over a limit of the Book that no plan in use knew of; "" where nothing is over. `other` is the unit at the other end.

    A plan that knew the limit and goes over it took an owner's reason. Without one nobody signed that: what came in over the
    limit is not pumped to it again.
    """
    to, unit = _pumped_to(here, slot), other or here.job.unit
    planned = here.plan.other_limit_gauge_pa if other is not None else here.plan.pressure_limit_gauge_pa
    known = planned if here.frozen is not None else None
    now = limits_before.now_pa(unit)
    if to is None or now is None or to <= now * (1 + 1e-9) or known is not None and now >= known * (1 - 1e-9):
        return ""
    least, most = (words.quantity(each, "pressure", core_steps.gauge_unit(here.instrument)) for each in (now, to))
    if here.frozen is None:
        return f"The Book says at most {least} for {unit}, and this step pumps to {most}. Make a plan with less, or correct the Book."
    return f"The Book says at most {least} for {unit} now, and the plan in use pumps to {most}. Make the plan again."


def _pumped_to(here: Progress, slot: Slot) -> float | None:
    """The pressure [Pa gauge] that a step pumps a chamber of the maker's limit to; None where it pumps none, or says no pressure.

    A second chamber has a valve and a limit of its own, which the Book does not know.
    """
    found, to = here.found(slot), [slot.pumped_to_pa]
    for each in slot.step.evidence:
        if not opening.pumped_to(slot.step, each):
            continue
        if each.kind == "tick":  # the pressure is read at a later step
            to.append(found.get("set_pressure"))
        elif each.expect is not None and each.expect.name not in bands.OF_SECOND and slot.pumped_to_pa is None:
            others = here.found(slot, {each.key: None})  # what was pumped here before is no word of what to pump to
            to.append(each.expect.value_si if each.expect.name is None else others.get(each.expect.name))
    return max((each for each in to if each is not None), default=None)


def other_unit(here: Progress, slot: Slot) -> Unit | None:
    """The unit at the other end, where the step sets something there; None at any other step. Refused where a danger stands on it."""
    if not sets_other_end(slot.step):
        return None
    other = core.other_end(here.job)
    if which := core.which_one(here.job):
        raise Refused(which)
    if other is None:
        raise Refused("The Book has no unit at the other end of this bike any more. Put it in there first.")
    planned = core.other_end(here.job, here.frozen.at) if here.frozen is not None else None
    if planned is not None and planned != other:
        raise Refused(
            f"The plan in use was made with {planned} at the other end, and {other} stands there now. Make the plan again."
        )
    if told := both_ends.dangers_there(here.job, other):
        raise Refused(
            f"{told[0]} Leave it alone: no air in or out, no collar turned, until its own job has passed that."
        )
    return other


def _would_go(here: Progress, each: Evidence, choice: str) -> str:
    """Why another answer may not be given now: a step that hangs on the one before is signed, and would be gone, what it opened with it."""
    for role in ANSWERED:
        now = here.conditions.get(role, CONDITIONS[role][0])
        if role not in each.roles or choice not in each.passes or each.meaning(choice) in ("", now):
            continue  # what fails is always taken: it closes the rest, and takes nothing away
        hangs = (slot for slot in here.slots if role in dict(slot.step.when))
        done = next((slot for slot in hangs if here.settled(slot) or is_off(here, slot)), None)
        if done is not None:
            return f"Step {done.words} was signed since, by the answer before: “{here.say(done, done.step.do)}” With “{choice}” it would be gone. The answer stays."
    return ""


def _kept(each: Evidence, answer: Answer) -> dict[str, Any] | None:
    """An answer as the entry holds it; None where it says nothing."""
    if each.kind == "tick":
        return {"tick": True, "pass": True} if answer.tick else None
    if each.kind == "choice":
        if answer.choice and answer.choice not in each.options:
            raise Refused(f"{each.label}: “{answer.choice[:40]}” is not one of its answers.")
        return {"choice": answer.choice} if answer.choice else None
    if each.kind == "photo":
        return {"pass": True} if answer.photo is not None else None
    if answer.value_si is None:
        return None
    row: dict[str, Any] = {
        "text": answer.text,
        "value_si": answer.value_si,
        "dimension": each.dimension,
        "unit": answer.unit,
    }
    if answer.typed_first:
        row["typed_first"] = answer.typed_first
    if answer.from_card:
        row["from_card"] = True
    return row
