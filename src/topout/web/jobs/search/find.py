"""What was typed, answered: at most `MOST` lines, the latest first, each with what tells namesakes apart."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.db.models import Prefetch, prefetch_related_objects
from django.urls import reverse

from topout.web.book.models import Bike, Rider, Unit
from topout.web.folding import folded, tokens
from topout.web.jobs.records.models import Job
from topout.web.jobs.search import index
from topout.web.jobs.search.documents import KINDS, PAIR, PART, RIDER, UNIT, kind_of
from topout.web.jobs.search.fold import Term, terms
from topout.web.shelf.models import Part, Tag

MOST = 30
_LOOKED_AT = 4 * MOST  # documents: a rider with a unit and a job stands in three
EXCERPT = 44  # letters of a note on each side of the word
_JOB = re.compile(r"(?:job )?#?0*([0-9]{1,9})", re.IGNORECASE)


@dataclass(frozen=True)
class Hit:
    """One line: whose, what, and the last job of it. `note` is where a word of a note stood, if it was found by that alone."""

    rider: Rider | None = None
    bike: Bike | None = None
    unit: Unit | None = None
    job: Job | None = None
    part: Part | None = None
    note: str = ""
    exact: bool = False  # the job whose number was typed

    @property
    def url(self) -> str:
        """Where the line leads as a whole."""
        if self.exact and self.job is not None:
            return reverse("job", args=[self.job.number])
        if self.part is not None:
            return reverse("tag", args=[self.part.tag.code]) if self.part.tag else reverse("shelf")
        if self.rider is not None and self.rider.erased_at is None:
            return reverse("rider", args=[self.rider.pk])
        return reverse("unit", args=[self.unit.pk]) if self.unit is not None else reverse("job", args=[self.job.number])  # type: ignore[union-attr]

    @property
    def taking(self) -> str:
        """What the take-in is begun with, as the query of its address."""
        named = (
            ("rider", self.rider if self.rider and not self.rider.erased_at else None),
            ("unit", self.unit),
            ("bike", None if self.unit else self.bike),
        )
        return "&".join(f"{name}={row.pk}" for name, row in named if row is not None)

    @property
    def takes(self) -> bool:
        """Whether a job can be taken in from this line."""
        return self.rider is not None and self.rider.erased_at is None

    @property
    def ending(self) -> str:
        """The end of the rider's telephone number."""
        digits = "".join(re.findall("[0-9]", self.rider.phone)) if self.rider else ""
        return f"…{digits[-4:]}" if len(digits) >= 4 else ""

    @property
    def tags(self) -> list[Tag]:
        return list(self.unit.tags.all()) if self.unit else []


@dataclass(frozen=True)
class Found:
    """The lines, whether there are more, and the words that were looked for, folded."""

    hits: tuple[Hit, ...]
    more: bool
    words: tuple[str, ...]


def find(typed: str) -> Found:
    """Everything that holds each word of what was typed: the same few queries for a hundred jobs and for a hundred thousand."""
    asked = terms(typed)
    words = tuple(dict.fromkeys(folded(word) for term in asked for word in (*term.words, term.digits) if word))
    numbers = index.numbers(asked, _LOOKED_AT)
    keys: dict[str, list[int]] = {kind.key: [] for kind in KINDS}
    for number in numbers:
        kind, pk = kind_of(number)
        keys[kind.key].append(pk)
    exact = _by_number(typed)
    if len(keys[PAIR.key]) > MOST + 1:  # enough of them; nothing else is shown
        keys = {PAIR.key: keys[PAIR.key][: MOST + 2], UNIT.key: [], PART.key: [], RIDER.key: []}
    hits = [*exact, *(hit for hit in _hits(keys) if not exact or hit.job != exact[0].job)]
    shown = _with_notes(hits[:MOST], asked)
    units = [hit.unit for hit in shown if hit.unit is not None]
    prefetch_related_objects(units, Prefetch("tags", Tag.objects.order_by("pk")))
    return Found(tuple(shown), len(hits) > MOST or len(numbers) == _LOOKED_AT, words)


def _by_number(typed: str) -> list[Hit]:
    match = _JOB.fullmatch(typed.strip())
    row = _JOBS.filter(number=int(match.group(1))).first() if match else None
    return [Hit(row.rider, row.bike, row.unit, row, exact=True)] if row else []


_JOBS = Job.objects.select_related("rider", "bike", "unit")


def _hits(keys: dict[str, list[int]]) -> list[Hit]:
    """The rows behind the documents, in order; a unit or a rider that stands in a line above gets none of its own."""
    jobs, riders = _JOBS.in_bulk(keys["pair"]), Rider.objects.in_bulk(keys["rider"])
    units = Unit.objects.select_related("bike__rider").in_bulk(keys["unit"])
    parts = Part.objects.select_related("tag", "family").in_bulk(keys["part"])
    hits = [Hit(job.rider, job.bike, job.unit, job) for job in map(jobs.get, keys["pair"]) if job]
    seen = {(hit.rider.pk if hit.rider else None, hit.unit.pk if hit.unit else None) for hit in hits}
    known = {hit.unit.pk for hit in hits if hit.unit}
    for unit in map(units.get, keys["unit"]):
        owner = unit.bike.rider if unit and unit.bike else None
        if unit and (owner.pk if owner else None, unit.pk) not in seen and not (owner is None and unit.pk in known):
            hits.append(Hit(owner, unit.bike, unit))
    hits += [Hit(part=part) for part in map(parts.get, keys["part"]) if part]
    with_line = {hit.rider.pk for hit in hits if hit.rider}
    return hits + [Hit(rider) for rider in map(riders.get, keys["rider"]) if rider and rider.pk not in with_line]


def _with_notes(hits: list[Hit], asked: list[Term]) -> list[Hit]:
    """The same lines, those that only a note explains with the words around it."""
    wanted = [folded(word) for term in asked for word in term.words]
    texts = index.words_of([hit.job.pk for hit in hits if hit.job is not None and not hit.exact])
    found = []
    for hit in hits:
        note = ""
        if hit.job is not None and not hit.exact:
            told = folded(
                " ".join(
                    filter(None, (str(hit.rider), str(hit.bike), str(hit.unit), str(hit.job), hit.job.asked_title))
                )
            )
            hidden = [word for word in wanted if not any(each.startswith(word) for each in tokens(told))]
            note = next((said for word in hidden if (said := _around(texts.get(hit.job.pk, ""), word))), "")
        found.append(Hit(hit.rider, hit.bike, hit.unit, hit.job, hit.part, note, hit.exact))
    return found


def _around(text: str, word: str) -> str:
    """The words of a text's line around the first one that begins with `word`; "" where none does."""
    for line in text.splitlines():
        for match in re.finditer(r"[^\W_]+", line):
            if not folded(match.group()).startswith(word):
                continue
            start, end = max(0, match.start() - EXCERPT), min(len(line), match.end() + EXCERPT)
            start = line.find(" ", start, match.start()) + 1 if start else 0
            stop = line.rfind(" ", match.end(), end)
            end = end if end == len(line) or stop < 0 else stop
            return ("… " if start else "") + " ".join(line[start:end].split()) + (" …" if end < len(line) else "")
    return ""
