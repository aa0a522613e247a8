"""The text of a procedure that a job is walked by: today's file until its steps begin, from then on the text pinned then.

One of the workshop's own is a version: the one that the card names, from the taking in on (`own.py`).
A file that is changed later adds no step to a job under way and moves none. What is pinned stands in the database under
its SHA-256, which every entry names; the newest entry says which text the job is walked by.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from topout.errors import TopoutError
from topout.procedures import library
from topout.procedures.read import Shipped
from topout.web.access.change import ChangeContext
from topout.web.jobs.records import own
from topout.web.jobs.records.models import Job, ProcedureText, StepEntry
from topout.web.prepared import Among, Prepared

_OF_HASHES = Prepared(lambda hashes: ProcedureText.objects.filter(sha256__in=Among(hashes, str)))


class NoSteps(TopoutError):
    """The plan can't be worked by these steps; the text says why and what to do."""


class TextNotKept(NoSteps):
    """The job was begun with a text that this database does not hold, and this version does not bring."""


@dataclass(frozen=True, slots=True)
class Text:
    """The text of a procedure, in the grammar of today or of before."""

    procedure: str
    text: str


def kept_of(hashes: Collection[str]) -> dict[str, ProcedureText]:
    """Those of these texts that are kept, by SHA-256."""
    return {row.sha256: row for row in _OF_HASHES.all(hashes)} if hashes else {}


def of(job: Job, entries: Sequence[StepEntry], kept: Mapping[str, ProcedureText] | None = None) -> Text:
    """The text that a job is walked by. Raises NoSteps where it has none, TextNotKept where its text is not here.

    `kept` are texts by SHA-256 that were read already; left out, the text is looked for.
    """
    if not entries and own.is_own(job.procedure):
        known = ProcedureText.objects.filter(procedure=job.procedure) if kept is None else kept.values()
        own_text = next((row for row in known if row.procedure == job.procedure), None)
        if own_text is None or library.digest(own_text.text) != own_text.sha256:
            raise NoSteps(f"The workshop’s own procedure {job.procedure} is not kept here. Choose one on the card.")
        return Text(job.procedure, own_text.text)
    if not entries:
        try:
            return Text(job.procedure, library.text_of(job.procedure))
        except KeyError:
            raise NoSteps("This job has no procedure. Choose one on its card.") from None
    sha256 = entries[-1].procedure_hash
    row = ProcedureText.objects.filter(sha256=sha256).first() if kept is None else kept.get(sha256)
    if row is None or library.digest(row.text) != sha256:
        raise TextNotKept(
            f"This job was begun with a text of its procedure that is not kept here (SHA-256 {sha256[:12]}…). What was "
            "signed stays on the card. An owner can take today’s text: what no longer fits it is asked for again."
        )
    return Text(row.procedure, row.text)


def pin(doing: ChangeContext, known: Shipped) -> None:
    """Keep the text, in the change that writes the first entry under it."""
    ProcedureText.objects.get_or_create(
        sha256=known.sha256, defaults={"procedure": known.procedure.key, "text": known.text, "at": doing.at}
    )
