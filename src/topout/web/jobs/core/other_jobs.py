"""The other jobs of a unit, from one question: which were worked, which ever failed a point, and how the unit went back from them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Exists, F, OuterRef, QuerySet

from topout.web.jobs.records.models import Job, Reading, StepEntry
from topout.web.prepared import Given, Prepared


def _of_unit(unit: Given, but: Given) -> QuerySet[Job]:
    entries = StepEntry.objects.filter(job=OuterRef("pk"))
    mended = Reading.objects.filter(job=OuterRef("pk"), corrects__isnull=False)
    return (
        Job.objects.filter(unit=unit)
        .exclude(pk=but)
        .order_by("number")
        .only("pk")
        .annotate(
            worked=Exists(entries),
            suspected=Exists(entries.filter(verdict="failed")) | Exists(mended),
            release=F("releases__pk"),
            fit=F("releases__fit_to_ride"),
        )
    )


_OTHERS = Prepared(_of_unit)


@dataclass(frozen=True)
class OtherJob:
    """One of them, by its primary key; `release` is that of its hand-over, None while it is under way."""

    pk: int
    worked: bool  # whether a step of it was ever signed, or left
    suspected: bool  # whether it ever failed a point, or had a reading mended: what may be dangerous by it
    release: int | None
    fit: bool


class OtherJobs:
    """All jobs of a unit but one, asked for once and when somebody wants to know; a job without a unit has none."""

    def __init__(self, unit: int | None, but: int) -> None:
        self.unit, self.but = unit, but

    @cached_property
    def rows(self) -> tuple[OtherJob, ...]:
        """In the order in which they were taken in."""
        if self.unit is None:
            return ()
        rows: list[Any] = _OTHERS.all(self.unit, self.but)
        return tuple(OtherJob(row.pk, row.worked, row.suspected, row.release, fit=bool(row.fit)) for row in rows)

    @property
    def suspected(self) -> bool:
        """Whether anything of the unit may be dangerous by one of them."""
        return any(each.suspected for each in self.rows)

    @property
    def under_way(self) -> tuple[int, ...]:
        """Those whose steps are begun and that are not handed over."""
        return tuple(each.pk for each in self.rows if each.worked and each.release is None)

    @property
    def went_back(self) -> int | None:
        """The release by which the unit went back last, where it was not fit to ride and steps were begun; None where it was fit.

        A job that was taken in and handed back not fit without a step tells nothing of the unit: what the one before left open is open still.
        """
        out = sorted((each for each in self.rows if each.release is not None), key=lambda each: each.release or 0)
        last = next((each for each in reversed(out) if each.fit or each.worked), None)
        return None if last is None or last.fit else last.release
