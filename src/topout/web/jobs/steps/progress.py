"""Where a job stands in its procedure: read from its entries alone, once per page and once inside every change."""

from __future__ import annotations

from dataclasses import replace

from topout.procedures import opening
from topout.procedures.model import Rounds, Step
from topout.web.jobs.core import danger, step_numbers, steps, written_for
from topout.web.jobs.records import texts
from topout.web.jobs.records.models import Instrument, Job, ProcedureText, StepEntry
from topout.web.jobs.steps import entries, holds
from topout.web.jobs.steps.entries import Records
from topout.web.jobs.steps.slots import LEFT as LEFT
from topout.web.jobs.steps.slots import OPENS, alone
from topout.web.jobs.steps.slots import ROW as ROW
from topout.web.jobs.steps.slots import VARIANT as VARIANT
from topout.web.jobs.steps.slots import Screen as Screen
from topout.web.jobs.steps.slots import Slot as Slot
from topout.web.jobs.steps.slots import hour as hour
from topout.web.jobs.steps.slots import name as name
from topout.web.jobs.steps.slots import pumped_to as _pumped_to
from topout.web.jobs.steps.way import Progress as Progress


def walk(job: Job) -> Progress:
    """Read where a job stands. Raises NoSteps where it has no procedure or no plan that its steps can be taken from."""
    return derive(job, entries.read([job])[job.pk])


def derive(job: Job, records: Records) -> Progress:
    """Where a job stands by its records, without a query. Raises as `walk` does."""
    known = steps.procedure_of(job, records.entries, records.texts)
    written_for.refuse_another_kind(job, known.procedure, begun=bool(records.entries))
    if records.frozen is None and known.procedure.needs_plan:
        raise texts.NoSteps("No plan is in use yet. Make the plan first: its numbers stand in the steps.")
    variants: set[str] = set()
    for entry in records.entries:
        if entry.step_key.startswith(VARIANT):
            change = variants.add if entry.verdict == "started" else variants.discard
            change(entry.step_key.removeprefix(VARIANT))
    found = {kind: reading for (stage, kind), reading in records.readings.items() if stage == "as-found"}
    plan = (
        step_numbers.numbers(records.frozen) if records.frozen is not None else step_numbers.numbers_of_card(job, found)
    )
    written_for.refuse_plan_of_another_spring(known.procedure, plan)
    here = Progress(job, known, records, plan, frozenset(variants), _instrument(records))
    here.failed_holds = danger.found(records.entries, records.standing, records.texts, records.corrected)
    here.hose_loss_pa = steps.hose_loss_pa(plan, here.instrument)
    _read_entries(here)
    here.slots = _slots(here)
    written_for.refuse_second_chamber(plan, [slot.step for slot in here.slots])
    here.current = next((slot for slot in here.slots if not here.settled(slot)), None)
    stop = here.slot(*here.danger.point) if here.danger is not None else None
    if stop is not None:
        here.current = stop  # the danger first; what is open before it is asked for again once it is over
    return here


def then(here: Progress, entry: StepEntry) -> Progress:
    """Where the job stands once this entry is written, without a query."""
    kept = ProcedureText(sha256=here.shipped.sha256, procedure=here.procedure.key, text=here.shipped.text)
    texts_then = {here.shipped.sha256: kept, **here.records.texts}
    return derive(here.job, replace(here.records, entries=(*here.entries, entry), newest=entry, texts=texts_then))


def entries_of(job: Job) -> list[StepEntry]:
    """What happened at the steps of the job, in order: they say which procedure it is worked by, not a field of its card."""
    return list(StepEntry.objects.filter(job=job).order_by("sequence"))


def _instrument(records: Records) -> Instrument | None:
    """The gauge last named at a step, else the one that read the pressure as found, else the only one there is."""
    code = next((entry.evidence["gauge"] for entry in reversed(records.entries) if entry.evidence.get("gauge")), None)
    if code is not None:
        return records.instruments[code]
    found = records.readings.get(("as-found", "pressure"))
    if found is not None and found.instrument is not None:
        return found.instrument
    return records.gauges[0] if len(records.gauges) == 1 else None


def _slots(here: Progress) -> tuple[Slot, ...]:
    slots: list[Slot] = []
    for number, step in enumerate(here.procedure.applying(here.conditions, here.variants), 1):
        if step.rounds is None:
            slots.append(Slot(step, number))
            continue
        # A filling that was read on one gauge keeps its rounds when another is named later.
        codes = (entry.evidence.get("gauge") for entry in reversed(here.entries) if entry.step_key == step.key)
        gauge = next((here.gauges[code] for code in codes if code in here.gauges), here.instrument)
        if here.frozen is None:
            raise texts.NoSteps("These steps fill by a schedule, which is a plan’s. Make the plan first.")
        if here.plan.after is None:
            slots += _by_readings(here, step, number, step.rounds, gauge)
            continue
        rounds = steps.schedule(here.frozen, step.rounds, gauge).rounds
        for n, each in enumerate(rounds, 1):
            reading = each.after_stroke_gauge_pa if each.reading_gauge_pa is None else each.reading_gauge_pa
            slots.append(Slot(step, number, n, len(rounds), each.pumped_to_gauge_pa, reading))
    return tuple(slots)


def _by_readings(here: Progress, step: Step, number: int, rounds: Rounds, gauge: Instrument | None) -> list[Slot]:
    """The rounds of a filling of which nothing can be expected: those read, and those due by what they read."""
    mark = steps.step_pa(rounds, gauge)
    filling, read = steps.by_readings(here.plan, rounds), next(each for each in step.evidence if each.kind == "number")
    while len(filling.read) < len(filling.pumped_to(mark)):
        entry = here.latest.get((step.key, len(filling.read) + 1))
        due = filling.pumped_to(mark)[len(filling.read)]
        if entry is None or entry.verdict != "passed" or not _pumped_to(entry, due):
            break
        filling = replace(filling, read=(*filling.read, here.stands(read, entry.evidence["answers"][read.key])))
    due_at = filling.pumped_to(mark)
    return [
        Slot(step, number, n, len(due_at), pumped, None, replace(filling, read=filling.read[: n - 1]))
        for n, pumped in enumerate(due_at, 1)
    ]


def _read_entries(here: Progress) -> None:
    """The last entry of each point. A round done again undoes the rounds after it, a wait's start undoes its end.

    Opened again, a unit is closed, filled and tested again: that undoes what stands on every later page.
    """
    pages = _pages(here)
    waits = {step.key: step.wait.after for step in here.procedure.steps() if step.wait is not None}
    struck = {entry.evidence["strikes"] for entry in here.entries if entry.verdict == "struck"}
    keys = {step.key: step for step in here.procedure.steps()}
    for entry in here.entries:
        here.readings |= holds.overrides([entry])
        if entry.verdict not in ("passed", "failed", *LEFT) or entry.sequence in struck:
            continue
        round_ = int(entry.evidence.get("round", 0))
        for key in list(here.latest):
            if (key[0] == entry.step_key and key[1] > round_) or waits.get(key[0]) == entry.step_key:
                del here.latest[key]
        here.latest[entry.step_key, round_] = entry
        if entry.verdict == "passed":
            step = keys.get(entry.step_key)
            if step is not None and entry.step_key in pages and any(opening.does(step, role) for role in OPENS):
                page = pages[entry.step_key]
                for key in [each for each in here.latest if pages.get(each[0], 0) > page]:
                    del here.latest[key]
            given = entry.evidence.get("answers", {})
            asked = {each.key: each for each in step.evidence} if step is not None else {}
            read = {k: here.stands(asked[k], row) for k, row in given.items() if "value_si" in row and k in asked}
            here.readings |= step.readings(read) if step is not None else {}


def undone_by(here: Progress, slot: Slot) -> list[Slot]:
    """What stands on later pages and is done again once this step opens the unit again; none of a step that opens nothing."""
    if not any(opening.does(slot.step, role) for role in OPENS):
        return []
    pages = _pages(here)
    page = pages.get(slot.step.key, 0)
    return [each for each in here.slots if each.key in here.latest and pages.get(each.step.key, 0) > page]


def _pages(here: Progress) -> dict[str, int]:
    """On which page, of those in the order of work, each step of the job stands, by key."""
    found: dict[str, int] = {}
    before: Step | None = None
    for step in here.procedure.applying(here.conditions, here.variants):
        same = before is not None and here.procedure.group_of(step) is here.procedure.group_of(before)
        together = same and before is not None and not alone(step) and not alone(before)
        found[step.key] = len(found) if not together or before is None else found[before.key]
        before = step
    return found
