"""What the find box is asked about: two namesakes, a rider with a loose unit, and every kind of words."""

from __future__ import annotations

from datetime import UTC, datetime

from django.contrib.auth.models import User

from topout.web import clock
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import FrozenPlan, Job, Reading, Release, RiderNotes, StepEntry
from topout.web.jobs.records.sequence import next_sequence
from topout.web.jobs.search.find import Found
from topout.web.shelf import keeping as shelf

AT = datetime(clock.now().year, 1, 2, 9, tzinfo=UTC)


def keep(who: User) -> dict[str, Job]:
    """Two namesakes, a rider with a loose unit, and words of every kind of note."""
    jobs: dict[str, Job] = {}
    with change(who, "made", {"made": "for a test"}, at=AT) as doing:
        for key, name, phone in (
            ("uwe", "Uwe Köhler", "+44 7700 900-443"), ("other", "Uwe Köhler", "07700 900999"), ("soren", "Søren O’Brien-Größe", "0555 0101"),
        ):  # fmt: skip
            rider = book.make_rider(doing, name=name, phone=phone)
            bike = (
                book.make_bike(doing, rider=rider, name="Hollin hardtail", tables={}, serial=f"H-77 {key}")
                if key != "soren"
                else None
            )
            unit = book.make_unit(doing, bike=bike, name=f"Quillon {key}", tables={}, serial=f"QX-35 20/{len(jobs)}8")
            jobs[key] = changes.take_in(
                doing, rider=rider, bike=bike, unit=unit, asked_title="50-hour service", asked=f"Harsh {key}"
            )
        changes.remark(doing, jobs["uwe"], "remark", "Ask for the neighbour at the door, the bell is broken.")
        Reading.objects.create(
            job=jobs["other"], sequence=next_sequence(jobs["other"]), who=who, at=AT, kind="pressure", stage="as-found", text="71 psi",
            value_si=1.0, note="needle sticks",
        )  # fmt: skip
        part = shelf.make_part(
            doing,
            measured={},
            kind="air shaft",
            marking="DX 160",
            family=None,
            state="face marked",
            place="drawer 4",
            on_hand=1,
            note="",
        )
        assert part.tag is not None
        shelf.make_tag(doing, unit=jobs["uwe"].unit)
    return jobs


def who(found: Found) -> list[int]:
    """The jobs behind the lines."""
    return [hit.job.number for hit in found.hits if hit.job]


def sign_words(job: Job, who: User) -> None:
    """Every kind of words that are signed beside a step: why a reading was taken again, an owner's two reasons, defects, the rider's notes."""
    common = {"job": job, "who": who, "at": AT}
    Reading.objects.create(
        **common, sequence=next_sequence(job), kind="pressure", stage="as-found", text="71 psi", value_si=1.0, reason="crooked hose"
    )  # fmt: skip
    FrozenPlan.objects.create(
        **common, sequence=next_sequence(job), bench_file="", results={}, version="0", sentence="Set 70 psi.", reason="yonder rides flat"
    )  # fmt: skip
    StepEntry.objects.create(
        **common, sequence=next_sequence(job), procedure="x", procedure_hash="b" * 64, step_key="oil", verdict="passed",
        evidence={"said": "Let the oil out.", "answers": {"oil": {"choice": "Murky, with grit", "pass": True}, "cc": {"text": "12 ml"}}},
    )  # fmt: skip
    release = Release.objects.create(
        **common, sequence=next_sequence(job), found="f", done="d", left="l", defects=["Zähne of the chainring", "worn threads"],
        next_service="n", fit_to_ride=True, contradictions=["c"], reason="ferry at nine",
    )  # fmt: skip
    RiderNotes.objects.create(release=release, words="zigzag after the second ride")


SIGNED = ("crooked", "yonder", "zähne", "threads", "ferry", "zigzag", "murky")
