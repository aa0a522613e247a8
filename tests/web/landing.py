"""A small database of each landing, kept so that every later version is tried on it.

`.venv/bin/python tests/web/landing.py 0.1.0` makes `landings/0.1.0.sqlite3.gz` with the version that is checked out;
a landing that is there already is never made again.
"""

from __future__ import annotations

import gzip
import os
import sys
import tempfile
from pathlib import Path

FOLDER = Path(__file__).parent / "landings"


def make(path: Path) -> None:
    """A workshop with two jobs: one with a corrected reading, a plan and some steps, one handed over."""
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    from topout import units
    from topout.web import clock
    from topout.web.access.change import change
    from topout.web.access.models import Workshop
    from topout.web.jobs import core
    from topout.web.jobs.records import changes, readings
    from topout.web.jobs.records.models import Reading
    from topout.web.jobs.records.readings import Taken
    from topout.web.shelf import keeping as shelf
    from web import people, raw
    from web.plan_cast import hollin_job
    from web.steps_kit import Hands, gauge

    call_command("migrate", verbosity=0)
    cast = people.make_cast()
    Workshop.objects.create(name="Landing", altitude="210 m", started_at=clock.now())
    gauge()
    job = hollin_job(cast.owner)
    with change(cast.technician, "landing", {}) as doing:
        old = Reading.objects.get(job=job, kind="sag")
        taken = Taken.quantity("sag", units.parse("30 mm", "length"), "length", posture="standing")
        readings.correct(doing, old, taken, "ring pushed by hand")
        shelf.make_part(doing, kind="air shaft", measured={"length": "252 mm"}, job_number=job.number)
        changes.remark(doing, job, "condition", "Left stanchion: one mark.")
        core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}})
    hands = Hands(cast.technician, job)
    hands.begin()
    for _ in range(12):
        slot = hands.here().current
        assert slot is not None
        hands.sign(slot)
    hands.stop()
    with change(cast.technician, "service", {}) as doing:
        done = changes.take_in(
            doing, rider=job.rider, bike=job.bike, unit=job.unit, asked_title="50-hour service", asked="Due."
        )
        for stage in ("as-found", "as-left"):
            readings.take(doing, done, stage, Taken.count("rebound", 7, of_range=14))
        changes.release(
            doing, done, found="7 of 14", done="Oil new.", left="7 of 14", defects=["Bell loose."],
            next_service="after 50 hours", fit_to_ride=True,
        )  # fmt: skip
    connection.close()
    with raw.opened(os.environ["TOPOUT_DATABASE"]) as base:
        base.execute("VACUUM")
    path.write_bytes(gzip.compress(Path(os.environ["TOPOUT_DATABASE"]).read_bytes(), 9, mtime=0))


if __name__ == "__main__":
    target = FOLDER / f"{sys.argv[1]}.sqlite3.gz"
    if target.exists():
        sys.exit(f"{target} is there; a landing is never made again")
    sys.path[:0] = [str(Path(__file__).parents[2] / "src"), str(Path(__file__).parents[1])]
    folder = Path(tempfile.mkdtemp())
    os.environ.update(
        TOPOUT_DATABASE=str(folder / "landing.sqlite3"),
        DJANGO_SETTINGS_MODULE="topout.web.settings",
        TOPOUT_JOURNAL="delete",
    )
    make(target)
