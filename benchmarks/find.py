"""The find box in a workshop of 100,000 jobs: makes one, asks it, and says how long the answers took.

    .venv/bin/python benchmarks/find.py [JOBS]

Names, telephones and words are drawn with a fixed seed; a rider has two units and comes back some eight times. The triggers are
lifted while the rows go in, and the index is made of them at the end, as a migrate does it. Times are of whole requests,
as a browser sends them while one types, answered by Django in this process; each question is asked once before it counts.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

FIRST = (
    "Ilse",
    "Runa",
    "Idris",
    "Léonie",
    "Søren",
    "Pell",
    "Aino",
    "Bryn",
    "Lowri",
    "Uwe",
    "Zoë",
    "Åsa",
    "Marek",
    "Tova",
    "Kjell",
    "Noor",
)
SYLLABLES = (
    "var",
    "tel",
    "moor",
    "köh",
    "hal",
    "brask",
    "pen",
    "øst",
    "gris",
    "lund",
    "rød",
    "vik",
    "cott",
    "ler",
    "sen",
    "mar",
    "ska",
    "dor",
)
WORK = ("50-hour service", "full service", "travel 140 → 150 mm", "leaks at the seal", "set-up", "knocks under braking")
NOTES = (
    "harsh since the cold came",
    "knocks once when she brakes",
    "ask at the door",
    "scratched stanchion, told",
    "new bushings wanted",
    "rides in the wet",
)
CHOSEN = (
    "Clean", "Milky", "Grey", "Whole", "Worn: noted on the card", "Stays at full length", "Turns freely, in its groove all round",
    "New O-ring fitted", "Smooth", "Dry", "Quiet", "No bubbles", "Open, clean", "Tight, no play, turns freely",
)  # fmt: skip
START = datetime(2016, 1, 4, 9, tzinfo=UTC)
QUESTIONS = ("va", "varvik", "soren", "moorcott ilse", "il va", "0443", "07700 9004", "service", "harsh", "milky", "fork milky", "fork service", "10007", "sn-4711", "zz top")  # fmt: skip


def set_up(folder: Path) -> None:
    """A new, migrated database in this folder; the process's own Django from here on."""
    os.environ |= {"TOPOUT_DATABASE": str(folder / "find.sqlite3"), "DJANGO_SETTINGS_MODULE": "topout.web.settings"}
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)


def fill(jobs: int, seed: int = 7) -> None:
    """So many jobs more into the workshop that Django is connected to."""
    from django.contrib.auth.models import User
    from django.db import transaction

    from topout.web.book.models import Bike, Rider, Unit
    from topout.web.jobs.records.models import Job, Remark
    from topout.web.jobs.search import index
    from topout.web.shelf.models import Tag

    draw = random.Random(seed)
    who = User.objects.first() or User.objects.create_user("maud", password="unused but long")
    start = START
    count = max(1, jobs // 8)
    before = getattr(Job.objects.order_by("pk").last(), "pk", 0)  # more than there are of anything else
    riders, units = range(before + 1, before + count + 1), range(before + 1, before + 2 * count + 1)

    def owner(unit: int) -> int:
        return before + (unit - before + 1) // 2

    def name() -> str:
        return f"{draw.choice(FIRST)} {''.join(draw.choices(SYLLABLES, k=draw.choice((2, 2, 3)))).capitalize()}"

    def add(rows: list[Any]) -> None:
        type(rows[0])._default_manager.bulk_create(rows, batch_size=500)

    index.lift()
    with transaction.atomic():
        add([Rider(pk=pk, name=name(), phone=f"07700 {draw.randrange(10**6):06}", made_at=start) for pk in riders])
        add(
            [
                Bike(
                    pk=pk,
                    rider_id=pk,
                    name=f"Hollin hardtail, size {draw.choice('SML')}",
                    serial=f"H{pk:06}",
                    made_at=start,
                )
                for pk in riders
            ]
        )
        add([
            Unit(pk=pk, bike_id=owner(pk), name=draw.choice(("Quillon 35 fork", "Sorrel rear shock", "Linnet fork")), serial=f"SN-{pk:05}/{draw.randrange(100)}", made_at=start)
            for pk in units
        ])  # fmt: skip
        add([Tag(code=f"T{pk:06}", unit_id=pk, made_by=who, made_at=start) for pk in units[::6]])
        rows = []
        for pk in range(before + 1, before + jobs + 1):
            unit = draw.choice(units)
            at = start + timedelta(minutes=50 * pk)
            rows.append(Job(
                pk=pk, number=200 + pk, rider_id=owner(unit), bike_id=owner(unit), unit_id=unit, asked_title=draw.choice(WORK), asked=draw.choice(NOTES),
                taken_in_at=at, taken_in_by=who, technician=who, procedure="", last_record=1,
            ))  # fmt: skip
        add(rows)
        add(
            [
                Remark(
                    job_id=row.pk,
                    sequence=1,
                    who=who,
                    who_name="Maud",
                    at=row.taken_in_at,
                    kind="remark",
                    words=draw.choice(NOTES),
                )
                for row in rows[::3]
            ]
        )
    index.write(anew=True)


def sign(seed: int = 7) -> None:
    """What was chosen at the steps of every job, eight answers each, as words in the index."""
    from django.contrib.auth.models import User
    from django.db import transaction

    from topout.web.jobs.records.models import Job, StepEntry
    from topout.web.jobs.search import index

    draw, who = random.Random(seed), User.objects.all()[0]
    index.lift()
    with transaction.atomic():
        for at_once in range(0, Job.objects.count(), 5000):
            StepEntry.objects.bulk_create(
                StepEntry(
                    job=job, sequence=2, who=who, who_name="Maud", at=job.taken_in_at, procedure="x", procedure_hash="0" * 64, verdict="passed",
                    evidence={"answers": {str(nth): {"choice": draw.choice(CHOSEN), "pass": True} for nth in range(8)}},
                )
                for job in Job.objects.order_by("pk")[at_once : at_once + 5000]
            )  # fmt: skip
    index.write(anew=True)


@dataclass(frozen=True)
class Answered:
    """One question: the middle of its answers' times, by the clock and of this process alone, and its lines."""

    clock_ms: float
    process_ms: float
    lines: int


def asked(questions: tuple[str, ...] = QUESTIONS, times: int = 9) -> dict[str, Answered]:
    """Each question sent so often, after once that does not count."""
    from django.contrib.auth.models import User
    from django.test import Client

    client = Client(SERVER_NAME="localhost")
    client.force_login(User.objects.all()[0])
    found = {}
    for question in questions:
        clock, process, lines = [], [], 0
        for _ in range(times + 1):
            start = time.perf_counter(), time.process_time()
            answer = client.get("/find/", {"q": question}, headers={"HX-Request": "true"})
            clock.append(1000 * (time.perf_counter() - start[0]))
            process.append(1000 * (time.process_time() - start[1]))
            assert answer.status_code == 200, (question, answer.status_code)
            lines = answer.content.count(b'role="option"')
        found[question] = Answered(median(clock[1:]), median(process[1:]), lines)
    return found


def main() -> None:
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        set_up(Path(folder))
        start = time.perf_counter()
        fill(jobs)
        sign()
        filled = time.perf_counter() - start
        from topout.web.jobs.search import index

        start = time.perf_counter()
        index.lift()
        index.write(anew=True)
        print(
            f"{jobs} jobs: filled in {filled:.1f} s, the index made anew in {time.perf_counter() - start:.1f} s,",
            end=" ",
        )
        print(f"file {(Path(folder) / 'find.sqlite3').stat().st_size / 1e6:.0f} MB")
        for question, said in asked().items():
            print(
                f"{question:>16}  {said.clock_ms:5.1f} ms by the clock, {said.process_ms:5.1f} ms of the process, {said.lines} lines"
            )


if __name__ == "__main__":
    main()
