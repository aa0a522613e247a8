"""A write carries a key: sent three times it is applied once and answered the same."""

from __future__ import annotations

import threading
from datetime import UTC, datetime

import pytest
from django.db import connections
from django.test import Client

from topout.web import clock
from topout.web.access.change import KeyUsed, SavedBefore, change, new_key
from topout.web.access.models import Change
from topout.web.book.models import Rider
from topout.web.jobs.records.models import Job, Reading
from web import people
from web.plan_cast import hollin_job

RIDER = {"name": "Ilse Varn", "phone": "", "email": "", "address": "", "rider-mass": "70 kg"}


def with_token(client: Client, path: str, data: dict[str, str]) -> dict[str, str]:
    page = client.get(path)
    return {"csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken"), **data}


def test_a_form_sent_three_times_is_one_record(technician_in: Client) -> None:
    data = with_token(technician_in, "/book/riders/new/", {**RIDER, "change_key": new_key()})
    answers = [technician_in.post("/book/riders/new/", data) for _ in range(3)]
    assert {answer.status_code for answer in answers} == {303}
    assert len({answer.headers["Location"] for answer in answers}) == 1
    assert Rider.objects.count() == 1


@pytest.mark.parametrize("many", [30, pytest.param(1000, marks=pytest.mark.soak)])
def test_many_writes_sent_three_times_are_so_many(technician_in: Client, cast: people.Cast, many: int) -> None:
    """So many rows through the form's own address, each sent three times: so many rows and so many keys."""
    job = hollin_job(cast.technician)
    path = f"/jobs/{job.number}/waits/"
    base = with_token(technician_in, path, {})
    before = Change.objects.count()
    for n in range(many):
        data = {**base, "change_key": f"key-{n}", "words": f"part {n}"}
        places = {technician_in.post(path, data).headers["Location"] for _ in range(3)}
        assert places == {f"/jobs/{job.number}/"}
    assert job.remarks.count() == many
    assert [row.words for row in job.remarks.order_by("sequence")] == [f"part {n}" for n in range(many)]
    assert Change.objects.count() == before + many


def test_another_payload_under_a_used_key_is_422(technician_in: Client) -> None:
    data = with_token(technician_in, "/book/riders/new/", {**RIDER, "change_key": new_key()})
    assert technician_in.post("/book/riders/new/", data).status_code == 303
    answer = technician_in.post("/book/riders/new/", {**data, "name": "Someone Else"})
    assert answer.status_code == 422
    assert "The first one stands" in answer.content.decode()
    assert [rider.name for rider in Rider.objects.all()] == ["Ilse Varn"]


def test_a_key_belongs_to_one_address_and_one_person(technician_in: Client, owner_in: Client) -> None:
    key = new_key()
    data = with_token(technician_in, "/book/riders/new/", {**RIDER, "change_key": key})
    assert technician_in.post("/book/riders/new/", data).status_code == 303
    other = with_token(owner_in, "/book/riders/new/", {**RIDER, "change_key": key})
    assert owner_in.post("/book/riders/new/", other).status_code == 422
    elsewhere = with_token(technician_in, "/shelf/new/", {**RIDER, "change_key": key})
    assert technician_in.post("/shelf/new/", elsewhere).status_code == 422


@pytest.mark.parametrize("key", [None, "", "x" * 81, "bell\x07"])
def test_no_key_is_400(technician_in: Client, key: str | None) -> None:
    data = with_token(technician_in, "/book/riders/new/", RIDER)
    answer = technician_in.post("/book/riders/new/", data if key is None else {**data, "change_key": key})
    assert answer.status_code == 400
    assert not Rider.objects.exists()


def test_a_program_may_send_its_key_in_the_header(technician_in: Client) -> None:
    data = with_token(technician_in, "/book/riders/new/", RIDER)
    for _ in range(3):
        assert (
            technician_in.post("/book/riders/new/", data, headers={"Idempotency-Key": "from-a-program"}).status_code
            == 303
        )
    assert Rider.objects.count() == 1


def test_a_form_with_a_fault_leaves_its_key_unused_and_saves_nothing(technician_in: Client, cast: people.Cast) -> None:
    job = hollin_job(cast.technician)
    path = f"/jobs/{job.number}/readings/as-left/"
    before = Reading.objects.count()
    data = with_token(technician_in, path, {"change_key": "one", "rebound": "7", "rebound-of": "14", "sag": "thirty"})
    assert technician_in.post(path, data).status_code == 422
    assert Reading.objects.count() == before, "nothing half-saved: the clicks were right"
    assert technician_in.post(path, {**data, "sag": "31", "sag-posture": "standing"}).status_code == 303
    assert Reading.objects.count() == before + 2


def test_every_form_draws_a_key_of_its_own(technician_in: Client) -> None:
    keys = {people.field_of(technician_in.get("/book/riders/new/"), "change_key") for _ in range(20)}
    assert len(keys) == 20
    assert all(len(key) >= 22 for key in keys), "132 random bits or more"


def test_parallel_sends_are_one(technician_in: Client, cast: people.Cast, both_journals: str) -> None:
    """Eight browsers' threads with one key and one payload at once."""
    data = with_token(technician_in, "/book/riders/new/", {**RIDER, "change_key": "at once"})
    cookies = technician_in.cookies
    answers: list[tuple[int, str]] = []
    start = threading.Barrier(8)

    def send() -> None:
        client = Client(enforce_csrf_checks=True)
        client.cookies = cookies
        start.wait()
        answer = client.post("/book/riders/new/", data)
        answers.append((answer.status_code, answer.headers.get("Location", "")))
        connections.close_all()

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 8 and len(set(answers)) == 1 and answers[0][0] == 303
    assert Rider.objects.count() == 1


def test_parallel_writes_all_arrive_in_order(technician_in: Client, cast: people.Cast) -> None:
    """Four people write to one job at once: no number is given twice, none is lost."""
    job = hollin_job(cast.technician)
    path = f"/jobs/{job.number}/waits/"
    base = with_token(technician_in, path, {})
    cookies = technician_in.cookies
    first = job.remarks.count()

    def send(who: int) -> None:
        client = Client(enforce_csrf_checks=True)
        client.cookies = cookies
        for n in range(10):
            answer = client.post(path, {**base, "change_key": f"{who}-{n}", "words": f"{who}-{n}"})
            assert answer.status_code == 303
        connections.close_all()

    threads = [threading.Thread(target=send, args=(who,)) for who in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    numbers = list(job.remarks.order_by("sequence").values_list("sequence", flat=True))
    assert len(numbers) == len(set(numbers)) == first + 40


def test_a_key_is_taken_before_anything_is_done(
    technician_in: Client, cast: people.Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not looked for and then done: the row with the key stands while the view runs, and goes with it where it fails."""
    from topout.web.jobs.records import changes

    job = hollin_job(cast.technician)
    real, seen = changes.remark, []

    def watched(*given: object, **more: object) -> object:
        seen.append(Change.objects.filter(key="first").count())
        return real(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(changes, "remark", watched)
    path = f"/jobs/{job.number}/waits/"
    assert (
        technician_in.post(path, with_token(technician_in, path, {"change_key": "first", "words": ""})).status_code
        == 422
    )
    assert not Change.objects.filter(key="first").exists(), "a form with a fault leaves its key"
    assert (
        technician_in.post(path, with_token(technician_in, path, {"change_key": "first", "words": "x"})).status_code
        == 303
    )
    assert seen == [1]
    with change(cast.owner, "watched", {}, key="program"):
        assert Change.objects.filter(key="program").exists()


def test_programs_get_the_same_rule(cast: people.Cast) -> None:
    with change(cast.owner, "one", {"a": 1}, key="k") as doing:
        doing.answer_place = "/somewhere/"
    with pytest.raises(SavedBefore) as saved, change(cast.owner, "one", {"a": 1}, key="k"):
        raise AssertionError("must not run twice")
    assert saved.value.change.answer.location == "/somewhere/"
    with pytest.raises(KeyUsed), change(cast.owner, "one", {"a": 2}, key="k"):
        raise AssertionError("must not run")


def test_a_change_that_breaks_leaves_nothing(cast: people.Cast) -> None:
    with pytest.raises(RuntimeError), change(cast.owner, "broken", {}, key="broken") as doing:
        Rider.objects.create(name="Half", made_at=doing.at)
        raise RuntimeError
    assert not Rider.objects.exists()
    assert not Change.objects.filter(key="broken").exists()


def test_one_change_has_one_time(cast: people.Cast) -> None:
    at = datetime(2026, 3, 1, 9, tzinfo=UTC)
    with change(cast.owner, "timed", {}, at=at) as doing:
        assert clock.now() == at == doing.at
        assert clock.now() == at
    assert clock.now() != at
    assert Change.objects.get(what="timed").at == at
    assert not Job.objects.exists()
