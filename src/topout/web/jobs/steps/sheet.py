"""What the maker's sheet says at a step: shown as its target, kept with the signature, asked for where it is missing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from topout.procedures.model import Evidence
from topout.procedures.service import FIELDS
from topout.web.access.change import fingerprint
from topout.web.jobs.steps.progress import Progress, Slot


@dataclass(frozen=True)
class Given:
    """One value that a step names: what it is, as the sheet has it and which sheet; or where to keep it, if missing."""

    says: str
    words: str = ""
    source: str = ""
    address: str = ""  # of the box for it, where the family has none


def given(here: Progress, each: Evidence) -> Given | None:
    """What the sheet says of one piece of evidence; None where it names nothing, or the unit has no family to keep it for."""
    if not each.service:
        return None
    says, known = FIELDS[each.service].says, here.sheet.get(each.service)
    if known is not None:
        return Given(says, known.words, known.source)
    family = here.job.unit.family_id if here.job.unit is not None else None
    if family is None:
        return None
    query = urlencode({"only": each.service, "job": here.job.number})
    return Given(says, address=f"{reverse('family-service', args=[family])}?{query}")


def of_step(here: Progress, evidence: Iterable[Evidence]) -> tuple[Given, ...]:
    """What the sheet says of a step, each value once."""
    found = {each.service: told for each in evidence if (told := given(here, each)) is not None}
    return tuple(found.values())


def mark(here: Progress, slot: Slot) -> str:
    """Stands for what a page told at a step, figures and the sheet's values: what is signed is that; "" where nothing of it can change."""
    step = slot.step
    texts = [
        text for text in (step.do, step.detail, step.caution, *(each.label for each in step.evidence)) if "{" in text
    ]
    told: list[object] = [(each.says, each.words, each.source) for each in of_step(here, step.evidence)]
    told += [here.say(slot, text) for text in texts]
    return fingerprint(told)[:12] if told else ""
