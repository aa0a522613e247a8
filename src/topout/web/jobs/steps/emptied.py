"""Whether what proved a unit empty, or its coil unwound, still holds when a step opens it.

It was proved once. Since then this job may have filled it again, or another one, or somebody by hand who wrote a pressure on a card:
a proof from before that says nothing of what is shut in now.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property

from topout.procedures import opening, roles
from topout.procedures.model import Step
from topout.web.jobs.core import danger, on_cards
from topout.web.jobs.core.both_ends import OTHER_UNIT
from topout.web.jobs.core.danger import Danger
from topout.web.jobs.readings import show
from topout.web.jobs.records.models import Reading, StepEntry
from topout.web.jobs.steps import laid_open
from topout.web.jobs.steps.entries import of_others
from topout.web.jobs.steps.pictures import MainSaid
from topout.web.jobs.steps.progress import Progress, Slot, hour
from topout.web.jobs.steps.slots import sets_other_end

_MAIN_OUT = ("air-out", "empty-at-rest", "empty-by-shaft")  # those by which the main chamber is empty
_DONE = ("passed", "failed", "not-yet")  # verdicts of a step that was worked, whatever was read


class Elsewhere:
    """What other jobs of the unit signed and what stands on their cards: asked for once, for all steps of a page, and where one opens something."""

    def __init__(self, here: Progress) -> None:
        self.here = here

    @cached_property
    def entries(self) -> list[StepEntry]:
        """What they signed since the job proved anything, in order; the other end's unit too, where it was set from there."""
        first = min((e.pk for e in self.here.entries if e.verdict == "passed"), default=0)
        return (
            list(of_others(self.here.job).filter(pk__gt=first, verdict__in=_DONE))
            if self.here.job.unit_id is not None
            else []
        )

    @cached_property
    def steps(self) -> dict[tuple[str, str], Step]:
        """Their steps, of the texts that are kept, by hash and key."""
        return danger.steps_kept({entry.procedure_hash for entry in self.entries})

    @cached_property
    def cards(self) -> list[tuple[Reading, Reading]]:
        """What says on cards that the unit was loaded, as it was read first and as it stands."""
        return on_cards.loads(self.here.job)


def refusal(here: Progress, slot: Slot, others: Sequence[Danger], elsewhere: Elsewhere) -> str:
    """Why a step opens nothing now; "" where it opens nothing, or its proofs are newer than every load of the unit.

    `others` are the dangers of the unit by its other jobs.
    """
    wanted = _wanted(here, slot)
    if not wanted:
        return ""
    proved = {
        each.key: here.latest[each.key]
        for each in here.slots
        if here.passed(each) and any(each.step.has(role) for role in wanted)
    }
    newest = {
        role: max(
            (entry.pk for each in here.slots if each.step.has(role) and (entry := proved.get(each.key))), default=0
        )
        for role in wanted
    }
    oldest = min(
        (entry for entry in proved.values() if entry.pk in newest.values()), key=lambda entry: entry.pk, default=None
    )
    if oldest is None:
        return ""
    since = next(_loaded_since(here, oldest, others, elsewhere), "")
    if not since:
        return ""
    first = here.slot(oldest.step_key)
    assert first is not None
    return f"{since}, so what step {first.words} showed at {hour(oldest.at)} proves nothing any more. Do step {first.words} again first."


def main_said(here: Progress, slot: Slot) -> MainSaid:
    """What is known of the main chamber where this point failed: empty by a proof of this job, and not loaded by it since."""
    if slot.step.has("air-out"):
        return "may still hold air"
    passed = [here.latest[each.key] for each in here.slots if here.passed(each) and any(map(each.step.has, _MAIN_OUT))]
    newest = max(passed, key=lambda entry: entry.pk, default=None)
    return "" if newest is None or _loaded_here(here, newest) is not None else "empty"


def _wanted(here: Progress, slot: Slot) -> frozenset[str]:
    """The proofs that must stand before this step, those that the job has a step for."""
    before = roles.before(here.procedure.units)
    asked = {proof for role, proofs in before.items() if opening.does(slot.step, role) for proof in proofs}
    return frozenset(role for role in asked & roles.SHOW_EMPTY if any(each.step.has(role) for each in here.slots))


def _loaded_since(here: Progress, proof: StepEntry, others: Sequence[Danger], elsewhere: Elsewhere) -> Iterator[str]:
    """What loaded the unit after this proof, or found it loaded, a sentence's beginning each."""
    own = _loaded_here(here, proof)
    if own is not None:
        yield f"Step {own.step_number} {_did(here)} at {hour(own.at)}"
    for each in (*here.failed_holds, *others):
        if each.loaded and each.entry.pk > proof.pk:
            yield f"Step {each.entry.step_number} of job {each.entry.job.number} found it at {hour(each.entry.at)}: {each.short}"
    there = _loaded_elsewhere(here, proof, elsewhere)
    if there is not None:
        yield f"Job {there.job.number} {_did(here)} at {hour(there.at)}"
    row = on_cards.loaded_since(proof, elsewhere.cards)
    if row is not None:
        yield f"{show.in_short(row)} was written down on job {row.job.number} at {hour(row.at)}"


def _did(here: Progress) -> str:
    return "pumped it up" if roles.of_air(here.procedure.units) else "wound the coil up"


def _loaded_here(here: Progress, proof: StepEntry) -> StepEntry | None:
    """The last entry of this job that loaded the unit after this proof; what a later step of the order proved empty again is none."""
    order = {slot.step.key: (n, slot.step) for n, slot in enumerate(here.slots)}
    found: tuple[int, StepEntry] | None = None
    for entry in here.entries:
        at, step = order.get(entry.step_key, (0, None))
        if entry.pk <= proof.pk or step is None:
            continue
        if entry.verdict in _DONE and _loads(step, beside=False):
            found = at, entry
        elif found is not None and entry.verdict == "passed" and at > found[0] and any(map(step.has, roles.SHOW_EMPTY)):
            found = None
    return found[1] if found is not None else None


def _loads(step: Step, *, beside: bool) -> bool:
    """Whether a step loads the job's own unit; `beside`: the one at the other end of its bike."""
    return laid_open.does(step, laid_open.LOADS) and sets_other_end(step) == beside


def _loaded_elsewhere(here: Progress, proof: StepEntry, elsewhere: Elsewhere) -> StepEntry | None:
    """The first entry of another job that loaded the unit after this proof; of a text that is not kept, one that read a gauge."""
    for entry in elsewhere.entries:
        if entry.pk <= proof.pk:
            continue
        step = elsewhere.steps.get((entry.procedure_hash, entry.step_key))
        beside = entry.evidence.get(OTHER_UNIT) == here.job.unit_id
        if "gauge" in entry.evidence if step is None else _loads(step, beside=beside):
            return entry
    return None
