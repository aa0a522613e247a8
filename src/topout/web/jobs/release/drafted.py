"""What the steps of a job already say, as lines for hand-over and sheet: nothing that was signed is typed again.

Oil, torques, the leak hold, parts that came out, and what was not checked. Each line says what was signed; what was not
signed makes no line. The words are a draft: the person who hands over changes them as they see fit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from topout.errors import TopoutError
from topout.procedures import words
from topout.procedures.model import ANSWERED, BIKE, CONDITIONS, Evidence, Step
from topout.procedures.service import FIELDS
from topout.web.access import preferences
from topout.web.book.service import Known, service_of
from topout.web.fields import written
from topout.web.jobs import core
from topout.web.jobs.core import both_ends
from topout.web.jobs.core.leak_hold import Hold
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import VERDICTS, Job, StepEntry
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.release.contradictions import set_as_planned, worked_through
from topout.web.jobs.steps import holds
from topout.web.jobs.steps.progress import LEFT, Progress, Slot, walk
from topout.web.shelf.models import Tag


def done(job: Job) -> list[str]:
    """What was done, a line each: the plan once it was read as left, or what was asked once its steps are through; then what
    the signed steps say."""
    plan, here = current_plan(job), _walk(job)
    lines = []
    if plan is not None:
        there, stroke = bool(both_ends.read_there(job)), "stroke" in readings.current(job, "as-left")
        lines += [core.done_of(plan, there=there, stroke=stroke)] if set_as_planned(job) else []
    elif worked_through(job):
        lines.append(job.asked_title)
    if here is not None:
        sheet = service_of(job.unit.family if job.unit else None)
        lines += [*_oil(here, sheet), *_torques(here), *_leak(here)]
    return lines + _parts(job)


def not_checked(job: Job) -> list[str]:
    """What was gone past, with its reason; what an answer left out; what could not be looked at because the unit came alone."""
    here = _walk(job)
    if here is None:
        return []
    lines = []
    for slot in here.slots:
        entry = here.latest.get(slot.key)
        if entry is not None and entry.verdict in LEFT:
            reason = str(entry.evidence.get("reason", "")).rstrip(".")
            known = VERDICTS[entry.verdict]
            lines.append(
                f"Not checked: {here.say(slot, slot.step.do).rstrip('.')}: {', '.join(filter(None, (known, reason)))}."
            )
    lines += [f"Leak hold: {_ends(each)}. {each.says}" for each in _holds(here) if each.verdict != "holds"]
    lines += [
        f"{each.label}: {given['choice'][:1].lower()}{given['choice'][1:]}."
        for _, each, given, _ in _signed(here)
        for role in each.roles
        if role in ANSWERED and each.meaning(given["choice"]) != CONDITIONS[role][0]
    ]
    return lines + _without_bike(here)


def not_told(job: Job, defects: Sequence[str]) -> Iterator[str]:
    """Hold points that were gone past and that these defects don't name: their words may be others, what was not done is told."""
    here, told = _walk(job), "\n".join(defects).casefold()
    if here is None:
        return
    for slot in here.slots:
        said = here.say(slot, slot.step.do).rstrip(".")
        if slot.step.holds_back and here.left(slot) and said.casefold() not in told:
            yield f"Step {slot.words}, a hold point, was gone past, and among the defects it is not told: {said}."
    for step in _on_its_bike(here):
        said = here.say(here.slots[0], step.do).rstrip(".")
        if step.holds_back and said.casefold() not in told:
            yield f"The unit came without its bike, and among the defects it is not told that this was not done: {said}."


def _on_its_bike(here: Progress) -> list[Step]:
    """What the procedure checks or tightens on a bike and nothing else of the job gives, where the unit came alone."""
    if here.conditions[BIKE] != "away" or not here.latest:
        return []
    given = {each.card for slot in here.slots for each in slot.step.evidence if each.card is not None}
    return [
        step
        for step in here.procedure.left_out(here.conditions, here.variants)
        if (step.hold or any(each.bounded or each.service for each in step.evidence))
        and given.isdisjoint(each.card for each in step.evidence if each.card is not None)
    ]


def _without_bike(here: Progress) -> list[str]:
    """The same in a line."""
    left = [here.say(here.slots[0], step.do).rstrip(".") for step in _on_its_bike(here)]
    said = "; ".join(each[:1].lower() + each[1:] for each in left)
    return [f"Not done, since the unit came without its bike: {said}."] if said else []


def proved(job: Job, roles: Sequence[str]) -> list[datetime]:
    """When each of these proofs passed, those that did: told by its role, for a step may bear any key."""
    here = _walk(job)
    if here is None:
        return []
    found = []
    for role in roles:
        latest = [here.latest.get(slot.key) for slot in here.slots if slot.step.has(role)]
        times = [entry.at for entry in latest if entry is not None and entry.verdict == "passed"]
        found += [max(times)] if times and len(times) == len(latest) else []
    return found


def tightened(job: Job, service: str) -> datetime | None:
    """When what this field of the service data is of was tightened as the sheet says, the last time; None where it was not."""
    here = _walk(job)
    found = [entry.at for _, each, _, entry in _signed(here) if each.service == service] if here is not None else []
    return max(found, default=None)


def next_service(job: Job) -> str:
    """When the maker's sheet wants the next service; "" where the family has none."""
    known = service_of(job.unit.family if job.unit else None).get("interval.lowers")
    return f"after {known.text} hours of riding" if known is not None else ""


def _walk(job: Job) -> Progress | None:
    if not job.procedure:
        return None
    try:
        return walk(job)
    except TopoutError:  # no text, or a plan that this version reads otherwise: its steps say nothing
        return None


def _signed(here: Progress) -> Iterator[tuple[Slot, Evidence, dict[str, Any], StepEntry]]:
    """Each answer of a passed step, in the order of work."""
    for slot in here.slots:
        entry = here.latest.get(slot.key)
        if entry is None or entry.verdict != "passed":
            continue
        answers: dict[str, dict[str, Any]] = entry.evidence.get("answers", {})
        for each in slot.step.evidence:
            if each.key in answers:
                yield slot, each, answers[each.key], entry


def _oil(here: Progress, sheet: dict[str, Known]) -> list[str]:
    """The oil that went in, by leg or chamber, with its name and viscosity where the sheet gives them."""
    found = []
    for _, each, answer, _ in _signed(here):
        if each.dimension != "volume" or not each.service.startswith("oil."):
            continue
        kind = each.service.split(".")[1].split("-")[0]
        name = sheet.get(f"oil.{kind}-name")
        viscosity = sheet.get(f"oil.{kind}-viscosity")
        more = [name.text] if name else []
        more += [f"{viscosity.text} mm²/s at 40 °C"] if viscosity else []
        of = f" of {', '.join(more)}" if more else ""
        found.append(f"{_says(each)}: {written(answer['text'])}{of}.")
    return found


def _torques(here: Progress) -> list[str]:
    """Torques as they were read, and fasteners that were ticked as the sheet says, with the value that it showed then."""
    found: dict[str, str] = {}
    for _, each, answer, _ in _signed(here):
        if each.dimension == "torque":
            found[each.key] = f"{each.label}: {written(answer['text'])}."
        elif each.service.startswith("torque.") and (answer.get("tick") or answer.get("choice") in each.passes):
            shown = answer.get("sheet")  # what stood on the page when it was signed
            by = f"{shown['value']}, by {shown['source']}" if shown else "as the sheet says"
            found[each.service] = f"{_says(each)}: {by}."
    return list(found.values())


def _leak(here: Progress) -> list[str]:
    """The leak hold: as it was judged, else by the roles of its readings."""
    told = [hold for hold in _holds(here) if hold.verdict == "holds"]
    if told:
        return [f"Leak hold: {_ends(each)}. {each.says}" for each in told]
    read: dict[str, str] = {}
    for _, each, answer, _ in _signed(here):
        for role in each.roles:
            if "text" in answer:
                read[role] = written(answer["text"])
    if "hold-start-pressure" not in read or "hold-pressure" not in read:
        return []
    at = [f" at {read[role]}" if role in read else "" for role in ("hold-start-temperature", "hold-temperature")]
    return [
        f"Leak hold passed: {read['hold-start-pressure']}{at[0]} at the start, {read['hold-pressure']}{at[1]} at its end."
    ]


def _holds(here: Progress) -> list[Hold]:
    """Every leak hold that was read, by its last reading."""
    found = [holds.told(here, slot) for slot in here.slots if holds.judged(slot.step) is not None]
    return [each for each in found if each is not None]


def _ends(hold: Hold) -> str:
    """First and last reading of a hold."""
    first, last = (
        f"{words.quantity(each.pressure_gauge_pa, 'pressure', hold.unit)} at "
        f"{words.quantity(each.temperature_k, 'temperature', preferences.unit('temperature', 'degC'))}"
        for each in (hold.first, hold.last)
    )
    return f"{first} at the start, {last} at its end"


def _parts(job: Job) -> list[str]:
    """Parts that were taken out and tagged in this job."""
    rows = Tag.objects.filter(job_number=job.number, part__isnull=False).select_related("part").order_by("pk")
    found = []
    for row in rows:
        gives = str(row.part.measured.get("gives", ""))
        words = f"{row.part.get_kind_display()}{f' for {gives}' if gives else ''}"
        found.append(f"Taken out and kept: {words}, tag {row}.")
    return found


def _says(each: Evidence) -> str:
    words = FIELDS[each.service].says
    return words[:1].upper() + words[1:]
