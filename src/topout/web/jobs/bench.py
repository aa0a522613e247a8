"""The Bench: today's jobs, what comes next on each, and the button that goes there."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from topout.web.jobs.models import Job


@require_safe
def bench(request: HttpRequest) -> HttpResponse:
    jobs = Job.objects.filter(releases=None).select_related("rider", "unit", "bike").order_by("promised_at", "number")
    return render(request, "jobs/bench.html", {"nav": "bench", "jobs": jobs})
