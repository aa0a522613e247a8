"""Every address of the workshop, filled in with what the demo holds: complete against the list of addresses itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from topout.web.access.codes import tidy
from topout.web.book.models import Family
from topout.web.demo.load import OWN, PLAN_JOB
from topout.web.jobs.readings import held
from topout.web.jobs.records.models import Instrument, Job, Photo, Reading
from topout.web.shelf.models import Part, Tag
from web.shared import drawn_once
from web.steps_kit import picture

OPEN_TO_ALL = {"sign-in", "sign-out", "start", "code"}
OWNERS = {"accounts", "account-new", "account-change", "account-code", "rider-erase", "workshop", "instrument-confirm", "own-procedure-new",
    "own-procedures-folder", "own-procedure-switch", "backup-download", "export-all", "export-rider",
    "riders-in"}  # fmt: skip


def patterns(resolver: URLResolver | None = None) -> Iterator[URLPattern]:
    """Every pattern, those of included lists too."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from patterns(entry)
        else:
            yield entry


Demo = tuple[dict[str, Any], dict[str, dict[str, Any]]]


def of_the_demo() -> Demo:
    """Something of the demo for each argument, and what an address has of its own; a score of questions to the database."""
    job = Job.objects.get(number=PLAN_JOB)
    tag = Tag.objects.filter(job_number=PLAN_JOB).first() or Tag.objects.first()
    photo = Photo.objects.filter(job=job).first()
    assert tag is not None and photo is not None and job.bike_id is not None and job.unit_id is not None
    own: dict[str, dict[str, Any]] = {
        "account-change": {"pk": 1}, "account-code": {"pk": 1}, "rider": {"pk": job.rider_id}, "set-up": {"pk": job.rider_id}, "rider-change": {"pk": job.rider_id},
        "rider-erase": {"pk": job.rider_id}, "export-rider": {"pk": job.rider_id}, "bike": {"pk": job.bike_id}, "bike-change": {"pk": job.bike_id},
        "unit": {"pk": job.unit_id}, "unit-change": {"pk": job.unit_id}, "unit-fitted": {"pk": job.unit_id}, "bench-file-out": {"pk": job.unit_id},
        "part-change": {"pk": Part.objects.order_by("pk").first().pk},  # type: ignore[union-attr]
        "family-change": {"pk": Family.objects.first().pk},  # type: ignore[union-attr]
        "family-service": {"pk": Family.objects.get(name="Quillon 35").pk},
        "family-service-correct": {"pk": Family.objects.get(name="Quillon 35").pk, "name": "torque.foot-bolt", "travel_mm": 0},
        "far-in-strike": {"pk": Reading.objects.get(job=job, kind="rebound", stage="as-found").pk},
        "far-in-earlier-strike": {"pk": Reading.objects.get(job=job, kind="rebound", stage="as-found").pk},
        "correct": {"pk": Reading.objects.get(job=job, kind="rebound", stage="as-found").pk},
        "own-procedure": {"key": OWN}, "own-procedure-file": {"key": OWN}, "own-procedure-switch": {"key": OWN},
        "guide-page": {"name": "plan"},
        "steps-variant": {}, "instrument-away": {"pk": Instrument.objects.get(code="P2").pk},
        "instrument-confirm": {"pk": Instrument.objects.get(code="P2").pk},
    }  # fmt: skip
    return {
        "number": PLAN_JOB, "stage": "as-found", "sha256": photo.sha256, "rider_pk": job.rider_id, "bike_pk": job.bike_id,
        "code": tidy(tag.code), "key": "old-shaft-measured", "round_": 1, "version": 1,
    }, own  # fmt: skip


def arguments(pattern: URLPattern, demo: Demo | None = None) -> dict[str, Any]:
    """Of the demo; a pattern that asks for more makes the test fail until it is known here."""
    name = str(pattern.name)
    every, own = demo or of_the_demo()
    known = every | own.get(name, {})
    if "token" in pattern.pattern.converters:
        known["token"] = held.hold(drawn_once(picture()))
    if name in ("step-round", "step-round-draft"):
        known["key"] = "fill-round"
    if name in ("step-list", "step-left", "step-struck"):
        known["key"] = "wheel-out"
    wanted = pattern.pattern.converters
    missing = set(wanted) - set(known)
    assert not missing, f"{name}: {missing} is not known to tests/web/addresses.py"
    return {key: known[key] for key in wanted}


def all_addresses() -> list[tuple[str, str]]:
    """(name, address) of every pattern."""
    demo = of_the_demo()
    return [(str(p.name), reverse(str(p.name), kwargs=arguments(p, demo))) for p in patterns()]


def address_of(name: str) -> str:
    """The address of one pattern."""
    pattern = next(p for p in patterns() if p.name == name)
    return reverse(name, kwargs=arguments(pattern))


def names() -> list[str]:
    return [str(pattern.name) for pattern in patterns()]
