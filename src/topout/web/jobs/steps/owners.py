"""What an owner alone changes in the steps of a job: a variant, and today's text where its own is not kept."""

from __future__ import annotations

from topout.web.access.change import ChangeContext
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.records import texts
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.open import released
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.records.sequence import next_sequence
from topout.web.jobs.steps.progress import ROW, VARIANT, entries_of
from topout.web.jobs.steps.sign import Refused, opened


def switch(doing: ChangeContext, job: Job, variant: str, on: bool) -> StepEntry:
    """An owner switches a named variant on or off for this job, before the first of its steps is reached."""
    here = opened(doing, job, None, None)
    known = {each.key for each in here.procedure.variants}
    if variant not in known:
        raise Refused("This procedure has no such variant.")
    if not (doing.who is not None and doing.who.is_active and doing.who.is_staff):
        raise Refused("Only an owner of the workshop switches a variant on or off.")
    if (variant in here.variants) == on:
        raise Refused("It stands like that already.")
    if here.danger is not None:
        raise Refused(f"{here.danger.title} The order of the steps stays as it is until that point passes.")
    for elsewhere in unit_dangers.of_other_jobs(job):
        if elsewhere.stops:
            told = f"Job {elsewhere.entry.job.number}, the same unit: {elsewhere.title}"
            raise Refused(f"{told} The order of the steps stays as it is until that point passes.")
    ways = here.procedure.applying(here.conditions, here.variants | {variant})
    first = next(n for n, step in enumerate(ways) if here.procedure.group_of(step).variant == variant)
    before = {step.key for step in ways[:first]}
    # A tick before them that was taken back brings the work back there, and what was pumped since stays pumped.
    worked = {entry.step_key for entry in here.entries if entry.verdict in ROW}
    if here.current is None or here.current.step.key not in before or not worked <= before:
        raise Refused("The steps have come past it. A variant is switched before its steps are reached.")
    if not here.entries:
        texts.pin(doing, here.shipped)
    return StepEntry.objects.create(
        job=job, sequence=next_sequence(job), who=doing.who, at=doing.at, procedure=here.procedure.key,
        procedure_hash=here.shipped.sha256, step_key=VARIANT + variant, verdict="started" if on else "stopped",
        evidence={"variant": variant, "on": on}, plan=here.frozen,
    )  # fmt: skip


def take_todays_text(doing: ChangeContext, job: Job) -> StepEntry:
    """An owner goes on with today's text where the one that the job was begun with is not kept here.

    What was signed counts where its answers pass the step of the same key in today's text; the rest is asked for again.
    """
    if released(job):
        raise Refused("The job is handed over. A come-back is a new job.")
    if not (doing.who is not None and doing.who.is_active and doing.who.is_staff):
        raise Refused("Only an owner of the workshop takes today’s text for a job that was begun with another.")
    entries = entries_of(job)
    try:
        core_steps.procedure_of(job, entries)
    except texts.TextNotKept:
        today = core_steps.procedure_of(job, [])
    else:
        raise Refused("The text that this job was begun with is kept here. It stays with it.")
    texts.pin(doing, today)
    return StepEntry.objects.create(
        job=job, sequence=next_sequence(job), who=doing.who, at=doing.at, procedure=today.procedure.key,
        procedure_hash=today.sha256, verdict="started", plan=current_plan(job),
        evidence={"text": {"was": entries[-1].procedure_hash, "now": today.sha256}},
    )  # fmt: skip
