"""Procedures of the workshop's own as records: versions that stay, switched off and on by new rows.

A job's card names the version that it was taken in with, `own:seal-check:2`, and is walked by that one: what is given
later, or switched off, changes no job. Each text was checked before it comes here (`core/own_texts.py`).
"""

from __future__ import annotations

from typing import Final

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from topout.errors import TopoutError
from topout.procedures.own import UNCHECKED, Own
from topout.web.access.change import ChangeContext
from topout.web.jobs.records.models import Job, OwnSwitch, OwnVersion, ProcedureText

MARK: Final = "own:"


class NotKept(TopoutError):
    """A text that is whole and yet no new version; says why, and the way out."""


def said(row: OwnVersion) -> str:
    """A version as people read it."""
    return f"{row}, the workshop’s own"


def is_own(name: str) -> bool:
    """Whether a job's procedure is the workshop's own; no key of ours has a colon."""
    return name.startswith(MARK)


def same_key(name: str, other: str) -> bool:
    """Whether two names are versions of one procedure of the workshop's own."""
    return is_own(name) and is_own(other) and name.split(":")[1] == other.split(":")[1]


def named(name: str) -> OwnVersion | None:
    """The version of a name; None, without a query, where it is none of the workshop's own."""
    return OwnVersion.objects.filter(text__procedure=name).first() if is_own(name) else None


def unchecked(job: Job) -> str:
    """What is said of the steps of a job wherever they are read; "" where they come with the tool."""
    row = named(job.procedure)
    return "" if row is None else told(row.title, row.version)


def told(title: str, version: int) -> str:
    """The same of a procedure that was read already."""
    return f"{title}, version {version}. {UNCHECKED}"


def off(job: Job) -> OwnSwitch | None:
    """What switched the job's procedure off; None where it is offered still, or comes with the tool."""
    if not is_own(job.procedure):
        return None
    last = OwnSwitch.objects.filter(key=job.procedure.split(":")[1]).order_by("-sequence").first()
    return None if last is None or last.offered else last


def newest() -> list[OwnVersion]:
    """The newest version of each procedure, by title; their texts are left for whoever asks."""
    return _newest(OwnVersion.objects.defer("source", "text__text"))


def _newest(of: QuerySet[OwnVersion]) -> list[OwnVersion]:
    known = of.select_related("text").order_by("version")
    rows = {row.key: row for row in known}
    return sorted(rows.values(), key=lambda row: (row.title.casefold(), row.key))


def switches() -> dict[str, OwnSwitch]:
    """The newest switch of each key that has one."""
    return {row.key: row for row in OwnSwitch.objects.order_by("sequence")}


def offered() -> list[OwnVersion]:
    """What may be chosen for a job: the newest versions with their texts, without what is switched off."""
    off = {key for key, row in switches().items() if not row.offered}
    return [row for row in _newest(OwnVersion.objects.defer("text__text")) if row.key not in off]


def look(own: Own) -> None:
    """Raises NotKept where the text is one that is here, or does not raise its version."""
    with_key = OwnVersion.objects.filter(key=own.key).order_by("-version")
    same = next((row for row in with_key if row.source == own.source), None)
    if same is not None:
        raise NotKept(f"This text is here already, as version {same.version}.")
    last = with_key.first()
    version = own.procedure.version
    if last is not None and version <= last.version:
        raise NotKept(
            f"version = {version}: version {last.version} is here with another text. Write version = {last.version + 1}: "
            "jobs keep the version that they were taken in with."
        )
    twin = ProcedureText.objects.filter(sha256=own.sha256).first()
    if twin is not None:
        raise NotKept(f"This text is here already under “{twin.procedure}”. Change its title or what it says.")


def keep(doing: ChangeContext, own: Own) -> OwnVersion:
    """A new version. Raises NotKept where the text is no new one."""
    assert doing.who is not None
    look(own)
    try:
        with transaction.atomic():
            name = f"{MARK}{own.key}:{own.procedure.version}"
            text = ProcedureText.objects.create(sha256=own.sha256, procedure=name, text=own.whole, at=doing.at)
            return OwnVersion.objects.create(
                key=own.key, version=own.procedure.version, title=own.procedure.title, source=own.source, text=text,
                who=doing.who, at=doing.at,
            )  # fmt: skip
    except IntegrityError:
        raise NotKept(
            "Somebody else gave this version just now. Look at theirs, then raise the version of yours."
        ) from None


def switch(doing: ChangeContext, key: str, on: bool) -> bool:
    """Offer a procedure no more, or again; False where it stands like that already."""
    assert doing.who is not None
    last = switches().get(key)
    if (last is None or last.offered) == on:
        return False
    sequence = 1 if last is None else last.sequence + 1
    OwnSwitch.objects.create(key=key, sequence=sequence, offered=on, who=doing.who, at=doing.at)
    return True
