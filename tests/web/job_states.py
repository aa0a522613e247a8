"""One job in every state it can be in, each as a database file of its own, and what its writing addresses take."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile

from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.records import changes, drafts, readings
from topout.web.jobs.records.models import Draft, Job, Reading
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.release.contradictions import faults_of
from topout.web.jobs.release.hand_over import mark
from topout.web.jobs.steps.progress import Progress, walk
from topout.web.jobs.steps.sign import Answer
from topout.web.shelf import keeping as shelf
from web import raw, springs_kit
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import Hands, failing, gauge, passing

CHANGE = {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}}
STATES = ("taken in", "planned", "in steps", "blocked", "waiting", "stopped", "released")
# Of other springs, for the generated attack: blocked at the hold point where the load of coil or second chamber is off, or in steps.
MORE_STATES = {
    "coil-lower-legs": "coil-unwound", "coil-shock-spring": "collar-off", "second chamber": "both-empty",
    "coil-fork-annual": "", "coil-clearance": "", "coil-spring-change": "", "return-to-rider-coil": "",
}  # fmt: skip
TOLD = {
    "found": "72 psi", "done": "Seals new.", "left": "70 psi", "defects": "Bell loose.", "next_service": "after 50 hours",
    "fit_to_ride": "yes",
}  # fmt: skip


def make(cast: Cast, state: str) -> Job:
    """The job in a state, in the database that is open."""
    if state in MORE_STATES:
        return of_another_spring(cast, state)
    gauge()
    job = hollin_job(cast.technician)
    with change(cast.technician, "more", {}) as doing:
        readings.take(doing, job, "as-found", Taken.count("rebound", 7, of_range=14))
        shelf.make_tag(doing, unit=job.unit)
    if state == "taken in":
        return job
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, CHANGE)
    if state == "planned":
        return job
    if state == "released":
        return released(cast, job)
    hands = Hands(cast.technician, job)
    hands.begin()
    if state == "blocked":
        hold = hands.until("empty-at-rest")
        assert hold is not None
        hands.sign(hold, failing(hands.here(), hold))
        return job
    hands.until("found-clicks")
    if state == "waiting":
        with change(cast.technician, "waits", {}) as doing:
            changes.remark(doing, job, "waits", "two bushings, 35 mm")
    if state == "stopped":
        hands.stop()
    return job


def of_another_spring(cast: Cast, state: str) -> Job:
    """A job of a coil or a second chamber: its first hold point failed, or its steps begun and four of them signed."""
    if state == "second chamber":
        hands = springs_kit.begun(cast)
    else:
        asked = springs_kit.PLANS["rate"] if state in ("coil-clearance", "coil-spring-change") else None
        hands = springs_kit.taken_in(cast, state, kind="coil-shock" if "shock" in state else "coil-fork", asked=asked)
        hands.begin()
    with change(cast.technician, "more", {}, at=hands.at) as doing:
        readings.take(doing, hands.job, "as-found", Taken.count("rebound", 7, of_range=14))
        shelf.make_tag(doing, unit=hands.job.unit)
    hold = MORE_STATES[state]
    if not hold:
        hands._work(hands.here().slots[4].step.key)
        return hands.job
    slot = hands._work(hold)
    assert slot is not None
    hands.sign(slot, failing(hands.here(), slot))
    return hands.job


def steps_of(job: Job) -> Progress | None:
    """Where the job stands in its steps; None before there is a plan or a step, and where its procedure was taken off."""
    if not job.frozenplans.exists() and not job.stepentrys.exists():
        return None
    try:
        return walk(job)
    except NoSteps:
        assert not job.stepentrys.exists(), "a step is signed, so there are steps"
        return None


def released(cast: Cast, job: Job) -> Job:
    with change(cast.technician, "left", {}) as doing:
        readings.take(doing, job, "as-left", Taken.count("rebound", 7, of_range=14))
        changes.release(
            doing,
            job,
            found="f",
            done="d",
            left="l",
            defects=["Bell loose."],
            next_service="50 hours",
            fit_to_ride=False,
        )
    return job


def dump(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every row that is saved but who is signed in: read past the pages' own connection."""
    with raw.opened(path) as base:
        tables = [row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            table: base.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()
            for table in tables
            if not table.startswith(("django_", "sqlite_", "auth_"))
        }


def _step(job: Job, round_: int = 0) -> dict[str, Any]:
    here = steps_of(job)
    if here is None or here.current is None or not here.begun:
        return {"seen": "0", "sheet": "on"}
    return {"seen": here.seen, "again": "1", **fields(passing(here, here.current))}


def fields(answers: dict[str, Answer]) -> dict[str, Any]:
    """Answers as a browser sends them."""
    sent: dict[str, Any] = {}
    for key, answer in answers.items():
        if answer.photo is not None:
            sent[key] = SimpleUploadedFile("a.jpg", answer.photo.data, "image/jpeg")
        else:
            sent[key] = "on" if answer.tick else answer.choice or answer.text
    return sent


def _hand_over_kept(job: Job) -> dict[str, Any]:
    """The check's form, with something written to be looked at: a draft from elsewhere opens no door."""
    who = User.objects.get(username="jory")
    kept = Draft.objects.filter(job=job, place="hand-over").first()
    if kept is None and not job.releases.exists():
        with change(who, "draft", {}) as doing:
            kept = drafts.keep(doing, job, "hand-over", dict(TOLD))
    drawn = mark(job, kept, faults_of(job)) if kept is not None else "2026-11-28T12:00:00+00:00"
    return {"drawn_at": drawn, "reason": "because"}


def _seen(job: Job) -> dict[str, Any]:
    here = steps_of(job)
    return {"seen": here.seen if here is not None else 0}


_ASKED = {"asked": "Ten more.", "asked_title": "travel 140 → 160 mm", "technician": "jory"}
_BOXES = {"travel": "150", "pressure": "71", "spacers": "1", "offset": "44", "bead": "622", "tyre": "62"}
_RUNNING = {"in steps", "blocked", "waiting"}
_ALL = {*STATES} - {"released"}
_STARTED = _RUNNING | {"stopped"}

# Each writing address of a job: what is sent, and the states in which that is taken. Everything else must be refused.
WRITING: dict[str, tuple[Callable[[Job], dict[str, Any]], set[str]]] = {
    "job-change": (lambda job: {**_ASKED, "procedure": job.procedure}, _ALL),
    "job-waits": (lambda job: {"words": "a part"}, _ALL),
    "readings": (lambda job: {"rebound": "8", "rebound-of": "14"}, _ALL),
    "readings-draft": (lambda job: {"rebound": "8", "rebound-of": "14"}, _ALL),
    "correct": (lambda job: {"rebound": "8", "rebound-of": "14", "reason": "miscounted"}, _ALL),
    "plan": (lambda job: {**_BOXES, "answered": "&".join(f"{k}={v}" for k, v in _BOXES.items())}, _ALL),
    "far-in": (lambda job: {"start": "30", "held": "90", "shown": "60"}, set()),  # every chamber of this fork is known
    "far-in-strike": (lambda job: {"reason": "misread"}, set()),
    "far-in-earlier-strike": (lambda job: {"reason": "misread"}, set()),
    "plan-draft": (lambda job: {**_BOXES, "pressure": "72"}, _ALL),
    "hand-over": (lambda job: dict(TOLD), set()),
    "hand-over-draft": (lambda job: {"found": "another"}, _ALL),
    "hand-over-check": (_hand_over_kept, set()),
    "papers": (lambda job: {}, _ALL),
    "job-tag": (
        lambda job: {"width": "62 mm", "length": "40 mm"},
        {*STATES},
    ),  # the workshop's label, nothing of the job
    "job-tag-print": (lambda job: {}, {*STATES}),  # a label may be printed again whenever it is lost
    "step": (_step, _RUNNING),
    "step-round": (_step, set()),
    "step-draft": (
        lambda job: {"sheet": "on", "shaft-fits": "Listed, the same fit", "rebound-clicks": "8", "rest-length": "170"},
        _STARTED | {"planned"},
    ),
    "step-round-draft": (lambda job: {"fill-reading": "20"}, set()),
    "step-left": (lambda job: {"verdict": "not-done", "reason": "no rider", **_seen(job)}, set()),
    "step-struck": (lambda job: {"reason": "ticked by mistake", **_seen(job)}, set()),
    "steps-shown": (lambda job: {"one": "1"}, {*STATES}),  # the person's own choice, nothing of the job
    "steps-go-on": (lambda job: {}, {"planned", "stopped"}),
    "steps-stop": (lambda job: {}, _RUNNING),
    "steps-variant": (
        lambda job: {"variant": "inflate-before-lower-legs", "on": "1"},
        _STARTED - {"blocked"} | {"planned"},
    ),
    "steps-text": (lambda job: {}, set()),
    "stands": (lambda job: {"stands": "rack 2"}, _ALL),
}


def argument(name: str, job: Job) -> dict[str, Any]:
    """What the address of a job holds."""
    here = steps_of(job) if name.startswith("step-") or name == "step" else None  # the others name no step
    current = here.current if here is not None else None
    if name == "step-left":
        current = next((slot for slot in here.slots if not slot.step.may_skip), None) if here is not None else None
    if name == "step-struck":
        current = next((slot for slot in here.slots if slot.step.hold), None) if here is not None else None
    tag = job.unit.tags.first() if job.unit else None
    return {
        "number": job.number, "stage": "as-found", "key": current.step.key if current else "sheet",
        "pk": Reading.objects.filter(job=job, kind="rebound", stage="as-found").latest("sequence").pk, "code": tag.code if tag else "",
        **({"key": "fill", "round_": 1} if name.startswith("step-round") else {}),
    }  # fmt: skip
