"""Every kind of page in a workshop of 1,000 jobs and in one of 100,000: how long the server takes, how often it asks the database.

    .venv/bin/python benchmarks/pages.py [--few JOBS] [--many JOBS]

Both workshops are the demo with so many jobs more (`find.py` makes them), all handed over but those of the last two weeks, as
many in both; parts lie on the Shelf as many in both too. Whole requests, answered by Django in this process, the middle of
eleven after two that do not count; the clock is the process's own, so that others on the machine weigh little. Ends 1 where a
page takes more than 1.5 times as long in the large workshop and more than 3 ms more, or asks the database more often.
"""

from __future__ import annotations

import argparse
import functools
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import find

MOST, LEAST_MS = 1.5, 3.0  # times; what is less is this clock's own
OPEN = 24  # jobs that are not handed over, beside the demo's own
TIMES, NOT_COUNTED = 11, 2
KINDS = ("SELECT", "INSERT", "UPDATE", "DELETE")
PARTS = 200


def hand_over(most_open: int) -> None:
    """All that `find.fill` made but the last are handed over, as a release writes it."""
    from topout.web.jobs.records.models import Job, Release

    of_fill = list(Job.objects.filter(asked_title__in=find.WORK, asked__in=find.NOTES, releases=None).order_by("pk"))
    rows = [
        Release(
            job=job, sequence=2, who=job.taken_in_by, who_name="Maud", at=job.taken_in_at, found="as the readings",
            done=job.asked_title, left="as the readings", next_service="after 50 hours", fit_to_ride=True,
        )
        for job in of_fill[:-most_open]
    ]  # fmt: skip
    Release.objects.bulk_create(rows, batch_size=500)


def lay_parts() -> None:
    """Parts with their tags."""
    from django.contrib.auth.models import User

    from topout.web.shelf.models import PART_KINDS, Part, Tag

    kinds, made = list(PART_KINDS), {"made_at": find.START, "made_by": User.objects.all()[0]}
    tags = Tag.objects.bulk_create(Tag(code=f"P{nth:06}", **made) for nth in range(PARTS))
    Part.objects.bulk_create(
        Part(tag=tag, kind=kinds[nth % len(kinds)], marking=f"{nth} mm", **made) for nth, tag in enumerate(tags)
    )


def pages() -> dict[str, str]:
    """What is asked for, by name: of a job with a plan at its steps, and of one of the many."""
    from topout.web.demo.load import PLAN_JOB
    from topout.web.jobs.records.models import Job, Release

    job = Job.objects.get(number=PLAN_JOB)
    many = Release.objects.filter(job__asked__in=find.NOTES).order_by("pk")[50].job
    opened = Job.objects.filter(asked__in=find.NOTES, releases=None).order_by("pk")[0]
    steps, card = f"/jobs/{PLAN_JOB}/steps", f"/jobs/{PLAN_JOB}/"
    return {
        "Bench": "/", "find, a name": "/find/?q=va", "find, a word": "/find/?q=harsh", "take-in": "/jobs/new/",
        "take-in, who": "/jobs/new/?q=moorcott", "take-in, rider found": f"/jobs/new/?rider={many.rider_id}",
        "Book": "/book/", "rider": f"/book/riders/{job.rider_id}/", "rider of many": f"/book/riders/{many.rider_id}/",
        "what pressure": f"/riders/{job.rider_id}/set-up/", "bike": f"/book/bikes/{many.bike_id}/",
        "unit": f"/book/units/{job.unit_id}/", "unit of many": f"/book/units/{many.unit_id}/",
        "card": card, "card handed over": f"/jobs/{many.number}/", "as found": f"/jobs/{opened.number}/readings/as-found/",
        "plan": f"{card}plan/", "steps": f"{steps}/all/", "step list": f"{steps}/wheel-out/list/",
        "step": f"{steps}/old-shaft-measured/", "hand-over": f"{card}hand-over/", "papers": f"{card}papers/",
        "Shelf": "/shelf/", "instruments": "/instruments/", "accounts": "/accounts/", "workshop": "/workshop/",
        "procedures": "/procedures/",
    }  # fmt: skip


def take_in(client: Any) -> Callable[[], Any]:
    """A job taken in for a rider of the many, as its form sends it; each time another change."""
    import re
    import uuid

    from topout.web.jobs.records.models import Release

    job = Release.objects.filter(job__asked__in=find.NOTES).order_by("pk")[60].job
    address = f"/jobs/new/?rider={job.rider_id}"
    text = client.get(address).content.decode()
    form = {
        name: value
        for name, value in re.findall(
            r'<input type="hidden" name="([^"]+)"(?: [a-z-]+="[^"]*")*? value="([^"]*)"', text
        )
    }

    def send() -> Any:
        sent = form | {
            "change_key": uuid.uuid4().hex, "rider": job.rider_id, "unit": job.unit_id, "asked_title": "50-hour service",
            "technician": "maud", "asked": "As before.",
        }  # fmt: skip
        return client.post(address, sent)

    return send


def measured() -> dict[str, tuple[float, int]]:
    """Milliseconds of this process and statements to the database, by page."""
    from django.contrib.auth.models import User
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    client = Client(SERVER_NAME="localhost")
    client.force_login(User.objects.get(username="maud"))
    asks: dict[str, tuple[Callable[[], Any], int]] = {
        name: (functools.partial(client.get, address), 200) for name, address in pages().items()
    }
    asks["take-in, sent"] = take_in(client), 303
    found = {}
    for name, (ask, status) in asks.items():
        spent, counts = [], set()
        for nth in range(NOT_COUNTED + TIMES):
            start = time.process_time()
            if nth < NOT_COUNTED:
                with CaptureQueriesContext(connection) as caught:
                    answer = ask()
                counts.add(sum(row["sql"].lstrip().upper().startswith(KINDS) for row in caught.captured_queries))
            else:
                answer = ask()
                spent.append(1000 * (time.process_time() - start))
            assert answer.status_code == status, (name, answer.status_code)
        found[name] = median(spent), max(counts)
    return found


def workshop_of(jobs: int) -> dict[str, tuple[float, int]]:
    """A workshop of so many jobs, in a folder that goes again; measured."""
    with tempfile.TemporaryDirectory(prefix="topout-pages-") as folder:
        find.set_up(Path(folder))
        from django.db import connection, transaction

        from topout.web.demo import jobs as demo

        with transaction.atomic():
            demo.load()
        find.fill(jobs)
        hand_over(OPEN)
        lay_parts()
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE" if connection.vendor != "sqlite" else "PRAGMA optimize")
        return measured()


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--few", type=int, default=1000, metavar="JOBS")
    parser.add_argument("--many", type=int, default=100_000, metavar="JOBS")
    parser.add_argument("--one", type=int, metavar="JOBS", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        print(json.dumps(workshop_of(given.one)))
        return 0
    few, many = (
        json.loads(
            subprocess.run(
                [sys.executable, __file__, "--one", str(jobs)], check=True, stdout=subprocess.PIPE, text=True
            ).stdout
        )
        for jobs in (given.few, given.many)
    )
    print(f"{'page':24}{given.few:>10,} jobs{given.many:>10,} jobs   ratio   questions")
    missed = []
    for name, (ms, asked) in few.items():
        ms_many, asked_many = many[name]
        wrong = asked_many > asked or (ms_many > MOST * ms and ms_many - ms > LEAST_MS)
        missed += [name] if wrong else []
        print(
            f"{name:24}{ms:>12.1f} ms{ms_many:>12.1f} ms{ms_many / ms:>8.2f}{asked:>8} {asked_many:>5}{'  MISSED' * wrong}"
        )
    ratios = sorted(many[name][0] / few[name][0] for name in few)
    print(f"middle of the ratios {median(ratios):.2f}, largest {ratios[-1]:.2f}")
    return 1 if missed else 0


if __name__ == "__main__":
    raise SystemExit(main())
