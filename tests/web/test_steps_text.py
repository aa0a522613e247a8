"""A procedure file changed later changes no job under way: its text is pinned when its steps begin."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from topout.errors import FaultsFound
from topout.planner.variables import VOCABULARY
from topout.procedures import library, read
from topout.web.access.change import change
from topout.web.jobs.records import texts
from topout.web.jobs.records.models import FrozenPlan, Job, ProcedureText, StepEntry
from topout.web.jobs.records.sequence import next_sequence
from topout.web.jobs.steps import owners
from topout.web.jobs.steps.progress import walk
from topout.web.jobs.steps.sign import Refused
from web import people
from web.people import Cast
from web.steps_kit import START, Hands, gauge, make_job

KEY = "travel-change-by-air-shaft"
NEW = """[[group.step]]
key = "new-first"
do = "Look at the fork."
evidence = [{ key = "new-first", kind = "tick", label = "Looked at" }]

"""


VERSION = int(re.findall(r"^version = (\d+)$", library.text_of(KEY), re.MULTILINE)[0])


def changed() -> str:
    """Today's file with a step more at its very start, one reworded, one gone and a limit moved."""
    text = library.text_of(KEY)
    first, gone, after = (
        text.index(f'[[group.step]]\nkey = "{key}"') for key in ("shaft-fits", "shaft-label", "new-shaft-length")
    )
    text = text[:first] + NEW + text[first:gone] + text[after:]
    for old, new in (
        (f"version = {VERSION}\n", f"version = {VERSION + 1}\n"),
        ('do = "Measure the new shaft."', 'do = "Measure the new shaft, by calliper."'),
        ('expect = "{old_shaft_length}", within = "2 mm"', 'expect = "{old_shaft_length}", within = "1 mm"'),
    ):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


@pytest.fixture
def hands(cast: Cast) -> Hands:
    gauge()
    return Hands(cast.technician, make_job(cast.technician))


def shown(job: Job) -> list[tuple[int, int, str, str]]:
    """Every step of a job as it is written: number, round, key, sentence."""
    here = walk(job)
    return [(slot.number, slot.round, slot.step.key, here.say(slot, slot.step.do)) for slot in here.slots]


def test_a_file_changed_under_a_running_job_changes_nothing_of_it_and_a_new_job_has_the_change(
    hands: Hands, cast: Cast, monkeypatch: pytest.MonkeyPatch, technician_in: Client
) -> None:
    hands.begin()
    assert hands.until("new-shaft-length") is not None
    before, total, current = shown(hands.job), walk(hands.job).total, walk(hands.job).current
    new = changed()
    monkeypatch.setattr(library, "text_of", lambda key: new)
    assert read.read(new, KEY, VOCABULARY).version == VERSION + 1
    here = walk(hands.job)
    assert (shown(hands.job), here.total, here.current) == (before, total, current)
    page = technician_in.get("/jobs/301/steps/new-shaft-length/").content.decode()
    assert "Measure the new shaft." in page and f"of {total}" in page
    hands.sign(here.current)  # type: ignore[arg-type]
    hands.stop()
    hands.go_on()
    assert len({entry.procedure_hash for entry in StepEntry.objects.filter(job=hands.job)}) == 1
    assert walk(hands.job).procedure.version == VERSION and shown(hands.job) == before

    second = Hands(cast.technician, make_job(cast.technician, number=302))
    fresh = shown(second.job)
    assert fresh[0][2:] == ("new-first", "Look at the fork.") and "shaft-label" not in [key for _, _, key, _ in fresh]
    assert walk(second.job).slots[2].step.do == "Measure the new shaft, by calliper."
    second.begin()
    assert set(ProcedureText.objects.values_list("sha256", flat=True)) == {
        walk(hands.job).shipped.sha256, walk(second.job).shipped.sha256,
    }  # fmt: skip
    monkeypatch.undo()
    assert shown(second.job) == fresh and shown(hands.job) == before


def test_until_the_steps_begin_a_job_follows_the_file(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    before = walk(hands.job).total
    new = changed()
    monkeypatch.setattr(library, "text_of", lambda key: new)
    assert walk(hands.job).slots[0].step.key == "new-first" and walk(hands.job).total == before  # one more, one less
    assert not ProcedureText.objects.exists()


def test_a_variant_switched_on_before_the_steps_begin_pins_the_text_too(
    hands: Hands, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    with change(cast.owner, "variant", {}, at=START) as doing:
        owners.switch(doing, hands.job, "inflate-before-lower-legs", True)
    before = shown(hands.job)
    new = changed()
    monkeypatch.setattr(library, "text_of", lambda key: new)
    hands.begin()
    assert shown(hands.job) == before


def test_a_file_that_can_not_be_read_any_more_stops_no_job_under_way(
    hands: Hands, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands.begin()
    before = shown(hands.job)
    monkeypatch.setattr(library, "text_of", lambda key: "title = 3")
    assert shown(hands.job) == before
    with pytest.raises(FaultsFound):
        walk(make_job(cast.technician, number=302))


def begun_with(job: Job, sha256: str) -> None:
    """A job whose first two steps were signed under a text that nobody kept."""
    plan = FrozenPlan.objects.get(job=job)
    answers = {
        "shaft-fits": {"shaft-fits": {"choice": "Listed, the same fit", "pass": True}},
        "shaft-label": {"shaft-label": {"pass": True}},
        "new-shaft-length": {
            "new-shaft-length": {"text": "9900 mm", "value_si": 9.9, "dimension": "length", "unit": "mm", "pass": True}
        },
    }
    for number, (key, given) in enumerate(answers.items(), 1):
        StepEntry.objects.create(
            job=job, sequence=next_sequence(job), who=plan.who, at=START, procedure=KEY, procedure_hash=sha256,
            step_key=key, step_number=number, verdict="passed", evidence={"answers": given}, plan=plan,
        )  # fmt: skip


def test_a_text_that_is_not_kept_is_said_plainly_and_an_owner_may_take_today_s(
    hands: Hands, cast: Cast, technician_in: Client
) -> None:
    begun_with(hands.job, "0" * 64)
    with pytest.raises(texts.TextNotKept, match=r"not kept here \(SHA-256 000000000000…\)"):
        walk(hands.job)
    page = technician_in.get("/jobs/301/steps/")
    assert page.status_code == 200 and "not kept here" in page.content.decode()
    assert "Take today’s text" not in page.content.decode()
    refused = people.send(technician_in, "/jobs/301/steps/do/text/", {}, "/book/riders/new/")
    assert refused.status_code == 409 and "Only an owner" in refused.content.decode()
    assert StepEntry.objects.count() == 3

    owner = people.browser(cast.owner)
    assert "Take today’s text" in owner.get("/jobs/301/steps/").content.decode()
    assert people.send(owner, "/jobs/301/steps/do/text/", {}, "/jobs/301/steps/").status_code == 303
    here = walk(hands.job)
    assert here.current is not None and here.current.step.key == "shaft-label"  # its answer is none of today's
    assert here.entries[-1].evidence["text"] == {"was": "0" * 64, "now": here.shipped.sha256}
    again = people.send(owner, "/jobs/301/steps/do/text/", {}, "/book/riders/new/")
    assert again.status_code == 409 and "It stays with it." in again.content.decode()
    hands.sign(here.current)
    assert walk(hands.job).current.step.key == "new-shaft-length"  # type: ignore[union-attr]


def test_a_text_that_is_kept_is_never_taken_away(hands: Hands, cast: Cast) -> None:
    hands.begin()
    with pytest.raises(Refused, match="kept here"), change(cast.owner, "text", {}, at=START) as doing:
        owners.take_todays_text(doing, hands.job)


def test_every_earlier_text_is_brought_along_under_its_own_hash_and_can_be_read() -> None:
    from importlib import resources

    files = list(resources.files("topout.procedures").joinpath("data", "earlier").iterdir())
    assert files
    for file in files:
        key, short, _ = file.name.split(".")
        text = file.read_bytes().decode("utf-8")
        assert library.digest(text).startswith(short) and library.known_text(key, library.digest(text)) == text
        assert len(list(read.pinned(key, text, VOCABULARY).procedure.steps())) >= 40
    assert library.known_text(KEY, "0" * 64) is None and library.known_text("nothing", "0" * 64) is None
