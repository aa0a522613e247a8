"""The Bench: today's jobs, what comes next on each, and the button that goes there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from topout.web import clock
from topout.web.backup import page as backup
from topout.web.jobs.desk import timeline
from topout.web.jobs.desk.up_next import Next, Standing, hold_of, last_worked_on, next_of, standings
from topout.web.jobs.records.models import Job, OnTheBench

NUMBERS = ("Nothing", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")


@dataclass(frozen=True)
class Row:
    """One job on the Bench."""

    job: Job
    next: Next
    standing: Standing
    day_word: str  # "today", "Thursday", "12 Dec"


@require_safe
def bench(request: HttpRequest) -> HttpResponse:
    """Every job that is in the workshop, by what it needs and when it is promised."""
    now = timezone.localtime(clock.now())
    jobs = list(
        Job.objects.filter(pk__in=OnTheBench.objects.values("job"), releases=None)
        .select_related("rider", "unit__family", "bike")
        .order_by("promised_at", "number")
    )
    have = standings(jobs, released=())  # those were not asked for
    stand = last_worked_on(have)
    rows = [Row(job, next_of(job, job.pk == stand, have[job.pk]), have[job.pk], _day_word(job, now)) for job in jobs]
    today = [row for row in rows if row.day_word in ("today", "late today")]
    promises = [
        timeline.Mark(timezone.localtime(row.job.promised_at), _short(row.job)) for row in today if row.job.promised_at
    ]
    waiting = [row for row in rows if row.next.group == "waits"]
    context = {
        "nav": "bench", "today": now, "rows": rows, "units": [job.unit for job in jobs], "out_today": len(today),
        "counted": _counted(len(today), len(waiting)),
        "stand": [row for row in rows if row.next.group == "stand"],
        "ready": [row for row in rows if row.next.group == "ready"],
        "waits": waiting,
        "copies": backup.for_bench(),
        "days": timeline.draw(now, promises, _holds(rows)),
    }  # fmt: skip
    return render(request, "jobs/bench.html", context)


def _holds(rows: list[Row]) -> list[timeline.Mark]:
    """What holds pressure now, the first to end first."""
    marks = []
    for row in rows:
        span = hold_of(row.standing.here) if row.next.waiting else None
        if span is not None:
            start, end = (timezone.localtime(at) for at in span)
            marks.append(timeline.Mark(start, _short(row.job), end))
    return sorted(marks, key=lambda mark: mark.until or mark.at)


def _short(job: Job) -> str:
    """A rider's last name, for a label on the rule."""
    return (job.rider.name.split() or [f"job {job.number}"])[-1]


def _counted(out: int, waiting: int) -> str:
    def number(count: int) -> str:
        return NUMBERS[count] if count < len(NUMBERS) else str(count)

    goes = f"{number(out)} {'goes' if out < 2 else 'go'} out today."
    waits = f" {number(waiting)} {'waits' if waiting < 2 else 'wait'}." if waiting else ""
    return goes + waits


def _day_word(job: Job, now: datetime) -> str:
    """When it is promised for, as people say it; late from the minute on that it was promised for."""
    if job.promised_at is None:
        return "not promised"
    promised = timezone.localtime(job.promised_at)
    date, ahead = promised.date(), promised.date() - now.date()
    if ahead == timedelta(0):
        return "today" if now <= promised else "late today"
    if ahead == timedelta(days=1):
        return "tomorrow"
    if ahead < timedelta(0):
        return f"late since {date.day} {date:%b}"
    return f"{date:%A}" if ahead < timedelta(days=7) else f"{date.day} {date:%b}"
