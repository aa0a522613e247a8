"""By which plan a job is worked: what can't be passed or must not be built is refused, or an owner signs a reason."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path
from types import SimpleNamespace as Namespace
from typing import Any

import pytest
from django.test import Client

from topout.bench_file.model import BenchFile
from topout.planner.variables import VOCABULARY
from topout.procedures import read
from topout.procedures.model import Bound, Definition
from topout.units import parse
from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.core import refusals
from topout.web.jobs.plan import gaps
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import FrozenPlan, Job
from topout.web.jobs.records.readings import Taken
from web import people
from web.plan_cast import ASKED, hollin_job

REASON = "Measured 12 mm at the hard stop with this tyre; shown to the rider."


def path(job: Job) -> str:
    return f"/jobs/{job.number}/plan/"


def use(client: Client, job: Job, boxes: dict[str, str], **more: str) -> Any:
    """Load the page with some boxes and press the button."""
    return press(client, job, boxes, client.get(path(job), boxes), **more)  # type: ignore[arg-type]


def press(client: Client, job: Job, boxes: dict[str, str], page: Any, **more: str) -> Any:
    """Press the button of a page that was loaded with these boxes."""
    names = ("csrfmiddlewaretoken", "change_key", "answered", "in_use", "worked_from")
    return client.post(path(job), boxes | {name: unescape(people.field_of(page, name)) for name in names} | more)


def words_of(answer: Any) -> str:
    body = re.sub(r"<(title|desc)[^>]*>.*?</\1>", " ", answer.content.decode(), flags=re.S)
    text = unescape(re.sub(r"<[^>]*>", " ", body)).replace("\u00a0", " ").replace("\u202f", " ")
    return re.sub(r"\s+", " ", text)


def job_against(cast: people.Cast, why: str) -> tuple[Job, dict[str, str], str]:
    """A job and boxes that something speaks against, and a piece of the sentence that says what."""
    if why == "crown":
        return hollin_job(cast.owner), ASKED, "Tyre to crown, bottomed 8.4 mm; a step of this job wants 9 mm or more."
    roomy: dict[str, object] = {"overtravel": "0 mm"}
    if why == "pressure":
        job = hollin_job(cast.owner, fork=roomy, fork_air={"pressure_limit": "80 psi"})
        return job, {**ASKED, "pressure": "81"}, "is above the maker's limit of 80 psi"
    if why == "negative pressure":
        air: dict[str, object] = {
            "negative": "separate-valve",
            "negative_pressure": "60 psi",
            "port_position": "0 mm",
            "pressure_limit": "80 psi",
        }
        return (
            hollin_job(cast.owner, fork=roomy, fork_air=air),
            {**ASKED, "negative": "90"},
            "in the negative chamber is above",
        )
    if why == "no spring":
        job = hollin_job(cast.owner, fork=roomy)
        assert job.unit is not None
        del job.unit.tables["fork.air"]["positive_volume"]
        job.unit.save()
        return job, ASKED, "Nothing is set: the spring can’t be worked out without the volume of the air chamber."
    if why == "spacers":
        return (
            hollin_job(cast.owner, fork=roomy, fork_air={"spacer_limit": 2}),
            {**ASKED, "spacers": "3"},
            "the maker allows 2",
        )
    if why == "chassis":
        return hollin_job(cast.owner, fork=roomy | {"travel_limit": "145 mm"}), ASKED, "this chassis allows 145 mm"
    assert why == "frame"
    return hollin_job(cast.owner, fork=roomy), {**ASKED, "travel": "160"}, "the frame's maker allows 550 mm"


WHYS = ("crown", "pressure", "negative pressure", "no spring", "spacers", "chassis", "frame")


# Where each of these comes from: a step's own limit, a warning, nothing worked out. The other warnings go the same way.
SIGNED = ("crown", "pressure", "no spring")


@pytest.mark.parametrize("why", WHYS)
def test_a_technician_is_told_why_and_whom_to_ask(technician_in: Client, cast: people.Cast, why: str) -> None:
    """Each was frozen by one press: 8.4 mm to the crown where the step wants 9, 81 psi over a limit of 80."""
    job, boxes, says = job_against(cast, why)
    for more in ({}, {"reason": REASON, "reason_for": "0" * 16})[: 2 if why in SIGNED else 1]:
        answer = use(technician_in, job, boxes, **more)
        words = words_of(answer)
        assert answer.status_code == 422 and says in words and "Ask an owner of the workshop" in words
        assert 'name="reason"' not in answer.content.decode()
        assert not FrozenPlan.objects.exists()


@pytest.mark.parametrize("why", [why if why in SIGNED else pytest.param(why, marks=pytest.mark.soak) for why in WHYS])
def test_an_owner_signs_a_reason_that_stays_with_the_plan(
    owner_in: Client, technician_in: Client, cast: people.Cast, why: str
) -> None:
    job, boxes, says = job_against(cast, why)
    page = owner_in.get(path(job), boxes)  # type: ignore[arg-type]
    asked = press(owner_in, job, boxes, page)
    assert asked.status_code == 422 and says in words_of(asked) and not FrozenPlan.objects.exists()
    signed_for = people.field_of(asked, "reason_for")
    assert press(owner_in, job, boxes, page, reason="  ", reason_for=signed_for).status_code == 422, "a reason is words"
    stolen = use(technician_in, job, boxes, reason=REASON, reason_for=signed_for)
    assert stolen.status_code == 422 and not FrozenPlan.objects.exists(), "a technician with the owner's mark"
    assert press(owner_in, job, boxes, page, reason=REASON, reason_for=signed_for).status_code == 303
    frozen = FrozenPlan.objects.get()
    assert frozen.reason == REASON and frozen.who == cast.owner
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))
    assert REASON in card and "Used all the same, signed" in card


def test_a_reason_counts_for_what_was_read_and_nothing_else(owner_in: Client, cast: people.Cast) -> None:
    """The reason was signed for the tyre's room; the pressure that comes on top is new."""
    job = hollin_job(cast.owner, fork_air={"pressure_limit": "80 psi"})
    signed_for = people.field_of(use(owner_in, job, ASKED), "reason_for")
    worse = use(owner_in, job, {**ASKED, "pressure": "95"}, reason=REASON, reason_for=signed_for)
    assert (
        worse.status_code == 422 and "is above the maker's limit" in words_of(worse) and not FrozenPlan.objects.exists()
    )


def test_no_reason_builds_what_locks(owner_in: Client, cast: people.Cast) -> None:
    job = hollin_job(cast.owner, fork_air={"spacer_limit": 20})
    boxes = {**ASKED, "spacers": "15"}
    for reason_for in ("", "0" * 16):
        answer = use(owner_in, job, boxes, reason=REASON, reason_for=reason_for)
        assert answer.status_code == 422 and "This would lock" in words_of(answer)
        assert 'name="reason"' not in answer.content.decode() and not FrozenPlan.objects.exists()


def test_a_bike_that_locks_at_both_ends_is_told_of_its_fork_first(
    cast: people.Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = hollin_job(cast.owner)
    locks = Namespace(verdict="locks", forked=True, rear=Namespace(verdict="locks"))
    monkeypatch.setattr(core, "told", lambda _: locks)
    with pytest.raises(refusals.Refused) as refused, change(cast.owner, "use", {}) as doing:
        refusals.use(doing, job, BenchFile(), {})
    assert refused.value.against == [refusals.LOCKS, refusals.LOCKS_BEHIND] and not refused.value.ask_owner


def test_the_steps_name_what_is_not_known_as_a_mechanic_does(cast: people.Cast) -> None:
    """They named a key of the file: "[fork.air] positive_volume"."""
    job, _, _ = job_against(cast, "no spring")
    with change(cast.owner, "use", {}) as doing:
        frozen = core.freeze(doing, job, {"change": {"travel": "150 mm"}}, REASON)
    assert [words for words, _ in gaps.of_steps(job, frozen)] == ["the volume of the air chamber"]
    assert gaps.of_steps(job, frozen)[0][1].endswith("#id_fork-air-positive_volume")


def test_a_gap_as_wide_as_the_step_wants_is_no_reason_to_refuse(technician_in: Client, cast: people.Cast) -> None:
    job = hollin_job(cast.owner, fork={"overtravel": "2 mm"})  # 8.4 mm to the crown, 8 wanted
    assert use(technician_in, job, ASKED).status_code == 303
    assert FrozenPlan.objects.get().reason == ""


@pytest.mark.parametrize(
    ("bound", "least"),
    [
        (None, None), (Bound(0.004), 0.004), (Bound(name="overtravel"), 0.003), (Bound(name="wanted"), 0.009),
        (Bound(name="wanted_less"), 0.007), (Bound(name="nearest"), 0.006), (Bound(name="found_length"), None),
        (Bound(name="of_a_reading"), None), (Bound(name="of_another_kind"), None),
    ],
)  # fmt: skip
def test_a_steps_length_is_known_beforehand_unless_it_hangs_on_what_is_read(
    bound: Bound | None, least: float | None
) -> None:
    """3 mm of overtravel, by hand."""
    six, over = Bound(0.006), Bound(name="overtravel")
    definitions = tuple(
        Definition(key, function, of, "length", "mm") for key, function, of in (
            ("wanted", "sum", (six, over)), ("wanted_less", "sum", (Bound(0.004), over)), ("nearest", "least", (six, Bound(name="wanted"))),
            ("of_a_reading", "least", (six, Bound(name="found_length"))), ("of_another_kind", "ring_force_at", (six,)),
        )
    )  # fmt: skip
    procedure = replace(read.shipped("travel-change-by-air-shaft", VOCABULARY).procedure, definitions=definitions)
    assert refusals._least_m(procedure, bound, 0.003) == (least if least is None else pytest.approx(least))


def test_pages_have_one_door_to_a_frozen_plan() -> None:
    """`core.freeze` writes without looking: only the guarded door and the demo call it, and nothing else makes the row."""
    source = Path(__file__).parents[2] / "src" / "topout"
    callers = {
        file.relative_to(source).as_posix()
        for file in source.rglob("*.py")
        if re.search(
            r"(?<!gc\.)\bfreeze\(|FrozenPlan\.objects\.(create|bulk_create|get_or_create|update_or_create)|FrozenPlan\(",
            file.read_text("utf-8"),
        )
        and "migrations" not in file.parts
    }
    assert callers == {
        "web/jobs/core/__init__.py", "web/jobs/core/refusals.py", "web/demo/jobs.py", "web/demo/load.py", "web/jobs/records/models.py",
    }  # fmt: skip


def test_a_keep_over_the_limit_says_so_where_it_stands(technician_in: Client, cast: people.Cast) -> None:
    """147.5 psi over a limit of 120 stood there as a button and a figure like any other."""
    job = hollin_job(cast.owner, fork_air={"pressure_limit": "67 psi"})
    page = technician_in.get(path(job), ASKED).content.decode()  # type: ignore[arg-type]
    keeps = re.search(r'<table class="keeps">.*?</table>', page, re.S)
    assert keeps is not None
    rows = re.findall(r"<tr>.*?</tr>", keeps.group().replace("\u00a0", " "), re.S)[1:]
    over = [row for row in rows if "above the maker’s limit of 67 psi" in row]
    assert len(over) == 3 and all('class="mark-over"' in row and "over the limit" in row for row in over)
    assert [row for row in rows if "Set 66<" in row and "mark-over" not in row], "66 psi is not marked"


def test_of_two_people_at_one_plan_none_puts_theirs_over_the_others_unseen(
    owner_in: Client, technician_in: Client, cast: people.Cast
) -> None:
    """The page of the second went over the plan of the first without a word: two tabs, or the back button."""
    job = hollin_job(cast.owner, fork={"overtravel": "0 mm"})
    boxes = {**ASKED, "pressure": "71"}
    page = technician_in.get(path(job), boxes)  # type: ignore[arg-type]
    names = ("csrfmiddlewaretoken", "change_key", "answered", "in_use", "worked_from")
    sent = boxes | {name: unescape(people.field_of(page, name)) for name in names}
    assert sent["in_use"] == "0"
    assert use(owner_in, job, {**ASKED, "pressure": "74"}).status_code == 303
    again = technician_in.post(path(job), sent)
    assert again.status_code == 422 and FrozenPlan.objects.filter(job=job).count() == 1
    told = words_of(again)
    assert "Maud Askel put a plan to use at" in told and "Set 74 psi" in told
    assert use(technician_in, job, boxes).status_code == 303, "looked at, it is used"
    assert [each.sentence[:10] for each in FrozenPlan.objects.filter(job=job)] == ["Set 74\u00a0psi", "Set 71\u00a0psi"]


@pytest.mark.parametrize("what", ["rider", "reading"])
def test_an_answer_to_another_bike_is_looked_at_before_it_is_used(
    technician_in: Client, cast: people.Cast, what: str
) -> None:
    """The page said what 75 psi do for 82 kg; Maud wrote 120 kg into the Book meanwhile, and that plan was put to use unseen."""
    job, boxes = hollin_job(cast.technician, fork={"overtravel": "0 mm"}), {**ASKED, "travel": "140", "spacers": "2"}
    page = technician_in.get(path(job), boxes)
    if what == "rider":
        job.rider.tables["rider"]["mass"] = "120 kg"
        job.rider.save()
    else:
        with change(cast.owner, "read", {}) as doing:
            sag = Taken.quantity("sag", parse("36 mm", "length"), "length", posture="standing")
            readings.take(doing, job, "as-found", sag)
    answer = press(technician_in, job, boxes, page)
    assert answer.status_code == 422 and "changed after this answer was worked out" in words_of(answer)
    assert not FrozenPlan.objects.exists()
    assert use(technician_in, job, boxes).status_code == 303, "looked at, it is used"
