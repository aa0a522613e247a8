"""The demo's times and numbers: within the working day and never ahead, whatever the hour of loading; as left as planned."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.db import models, transaction
from django.test.utils import override_settings
from django.utils import timezone

from topout import units
from topout.units import PSI_PA
from topout.web import clock
from topout.web.demo import hours, jobs
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.desk import up_next
from topout.web.jobs.records.models import Job, Reading
from topout.web.jobs.records.plans import current_plan
from web import people

DAY = datetime(2026, 11, 25, tzinfo=UTC)
PLANNED = {"promised_at"}  # times that are said ahead
OPENS, CLOSES = time(7, 30), time(19, 0)


def of_the_day(hour: time) -> datetime:
    return timezone.make_aware(datetime.combine(DAY.date(), hour))


def kept_times() -> Iterator[tuple[str, datetime]]:
    """Every time in every row of our own tables and of the accounts."""
    for model in apps.get_models():
        if not model.__module__.startswith("topout.") and model.__name__ != "User":
            continue
        for field in model._meta.concrete_fields:
            if isinstance(field, models.DateTimeField):
                for at in model._default_manager.exclude(**{field.name: None}).values_list(field.name, flat=True):
                    yield f"{model.__name__}.{field.name}", at


def load_at(moment: datetime, folder: Path) -> None:
    """Load the demo with the clock held, look at it, and take it back."""
    with override_settings(PHOTOS=folder / "photos"), transaction.atomic():
        with clock.frozen(moment):
            jobs.load()
            stand = Job.objects.get(number=PLAN_JOB)
            assert "circlip" in up_next.next_of(stand).sentence
            assert stand.promised_at is not None and stand.promised_at > moment
        times = list(kept_times())
        assert len(times) > 500
        for name, at in times:
            local = timezone.localtime(at)
            assert OPENS <= local.time() <= CLOSES, (moment, name, local)
            assert at <= moment or name.split(".")[1] in PLANNED, (moment, name, local)
        newest = max(at for name, at in times if name.split(".")[1] not in PLANNED)
        assert moment - newest < timedelta(hours=16), "the last work is of the last working day"
        transaction.set_rollback(True)


def test_no_time_lies_outside_the_working_day_or_ahead(cast: people.Cast, tmp_path: Path) -> None:
    """Before the workshop opens, where the last work is of the day before; within the day `test_demo.py` looks, at the hour it is run."""
    make_room()
    load_at(of_the_day(time(5, 41)), tmp_path)


@pytest.mark.soak
def test_so_it_is_at_every_hour_of_the_day(cast: people.Cast, tmp_path: Path) -> None:
    make_room()
    for half in range(48):
        load_at(of_the_day(time(half // 2, 30 * (half % 2) + 11)), tmp_path)


def make_room() -> None:
    """The cast has the demo's names and the one row of the workshop."""
    from django.contrib.auth.models import User

    from topout.web.access.models import Workshop

    Workshop.objects.all().delete()
    User.objects.all().delete()


def test_working_minutes_run_through_every_hour_of_a_day() -> None:
    """At every minute of a day: open times stay, nights are skipped, and there and back is where one was."""
    assert settings.TIME_ZONE
    for minute in range(24 * 60):
        at = of_the_day(time(minute // 60, minute % 60))
        for moment in (hours.opened(at), hours.closed(at)):
            assert OPENS <= moment.time() <= CLOSES
        assert hours.closed(at) <= at <= hours.opened(at)
        for minutes in (1, 100, 340, 690, 1500):
            ahead, back = hours.later(at, minutes), hours.earlier(at, minutes)
            assert back < at < ahead
            assert back.time() >= OPENS and ahead.time() <= CLOSES
            home = hours.closed(at)
            # One evening's end and the next morning's begin are the same working minute.
            assert hours.later(back, minutes) in (home, hours.closed(home - timedelta(seconds=1)))


def test_what_is_left_is_what_the_plan_said(demo: Path) -> None:
    """Each job's readings as left against its own frozen plan, within what its gauge or tape can tell."""
    looked: set[str] = set()
    for job in Job.objects.all():
        frozen = current_plan(job)
        rows = {row.kind: row for row in Reading.objects.filter(job=job, stage="as-left", corrected_by=None)}
        if frozen is None or not rows:
            continue
        for kind, row in rows.items():
            if kind == "pressure":
                assert row.instrument is not None and row.instrument.accuracy_class_percent is not None
                set_pa = float(frozen.sentence.split()[1]) * PSI_PA
                span_pa = units.parse(row.instrument.span, "pressure").value_si
                mark_pa = units.parse(row.instrument.mark, "pressure").value_si
                within = 2 * mark_pa + row.instrument.accuracy_class_percent / 100 * span_pa
                assert row.value_si == pytest.approx(set_pa, abs=within), job
            elif kind == "spacers":
                assert row.value_si == frozen_change(frozen.bench_file, "spacers"), job
            elif kind == "travel":
                assert row.value_si == pytest.approx(frozen_change(frozen.bench_file, "travel") * 1e-3, abs=2e-3), job
            elif kind == "exposed-length":
                found = Reading.objects.get(job=job, stage="as-found", kind=kind, corrected_by=None)
                # The plan's own file: the release wrote the new travel to the unit since.
                before = units.parse(tomllib.loads(frozen.bench_file)["fork"]["travel"], "length").value_si
                longer = frozen_change(frozen.bench_file, "travel") * 1e-3 - before
                assert row.value_si == pytest.approx(found.value_si + longer, abs=3e-3), job
            else:
                continue
            looked.add(kind)
    assert looked == {"pressure", "spacers", "travel", "exposed-length"}


def frozen_change(bench_file: str, key: str) -> float:
    """A number of the change in a frozen bench file, as it is written there."""
    return float(str(tomllib.loads(bench_file)["change"][key]).split()[0])
