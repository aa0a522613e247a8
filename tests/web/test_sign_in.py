"""Signing in: who gets in, what a stranger sees, the delay after wrong passwords, the one-time code."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout.web import clock
from topout.web.access import codes, hashing, signin
from topout.web.access.models import OneTimeCode
from topout.web.jobs.records.models import Remark
from web import people
from web.plan_cast import hollin_job

HERE = "@127.0.0.1"  # where the test's browsers ask from
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def sign_in(client: Client, name: str, password: str) -> int:
    page = client.get("/sign-in/")
    data = {"name": name, "password": password, "csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken")}
    return int(client.post("/sign-in/", data).status_code)


def test_a_technician_signs_in_and_out(cast: people.Cast, stranger: Client) -> None:
    assert stranger.get("/").headers["Location"] == "/sign-in/?next=/"
    assert sign_in(stranger, "jory", people.PASSWORD) == 302
    known = stranger.cookies[signin.KNOWN_COOKIE]
    assert known["httponly"] and known["samesite"] == "Lax", "no script reads what lets a device wait less"
    page = stranger.get("/")
    assert page.status_code == 200
    token = people.field_of(page, "csrfmiddlewaretoken")
    assert stranger.post("/sign-out/", {"csrfmiddlewaretoken": token}).status_code == 302
    assert stranger.get("/").status_code == 302


def test_wrong_passwords_make_the_next_try_wait(cast: people.Cast, stranger: Client) -> None:
    waits = []
    at = NOON
    for _ in range(12):
        with clock.frozen(at):
            assert sign_in(stranger, "jory", "wrong") == 403
            assert sign_in(stranger, "jory", people.PASSWORD) == 429, "a try inside the wait is not looked at"
            wait = signin.wait_s("jory", HERE)
        waits.append(wait)
        at += timedelta(seconds=wait)
    assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300]


def test_at_most_twenty_tries_an_hour_are_looked_at(cast: people.Cast) -> None:
    """Someone who tries again the moment that the wait is over."""
    looked_at, at = 0, NOON
    while at < NOON + timedelta(hours=1):
        with clock.frozen(at):
            assert signin.claim("jory", HERE) == 0
            looked_at += 1
            at += timedelta(seconds=signin.wait_s("jory", HERE))
    assert 10 <= looked_at <= 20


def test_a_known_device_is_not_locked_out_by_a_stranger(cast: people.Cast, stranger: Client) -> None:
    known = people.browser()
    assert sign_in(known, "jory", people.PASSWORD) == 302
    for second in range(0, 1000, 5):
        with clock.frozen(NOON + timedelta(seconds=second)):
            signin.claim("jory", HERE)
    with clock.frozen(NOON + timedelta(seconds=1000)):
        assert sign_in(stranger, "jory", people.PASSWORD) == 429
        assert sign_in(known, "jory", people.PASSWORD) == 302


def test_a_device_known_to_one_account_is_strange_to_another(cast: people.Cast) -> None:
    known = people.browser()
    assert sign_in(known, "jory", people.PASSWORD) == 302
    with clock.frozen(NOON):
        assert sign_in(known, "maud", "wrong") == 403
        assert signin.wait_s("maud", HERE) == 1


@pytest.mark.parametrize("ahead", [timedelta(hours=1), timedelta(days=2), timedelta(days=400)])
def test_a_clock_that_was_ahead_locks_nobody_out(cast: people.Cast, stranger: Client, ahead: timedelta) -> None:
    """A wrong try while the clock was wrong, then the clock is set right: the wait is never longer than it says."""
    with clock.frozen(NOON + ahead):
        for _ in range(9):
            signin.claim("jory", HERE)
            assert signin.wait_s("jory", HERE) <= signin.LONGEST_STRANGE_S
    with clock.frozen(NOON):
        assert signin.wait_s("jory", HERE) == 0
        assert sign_in(stranger, "jory", people.PASSWORD) == 302


def test_a_clock_that_was_ahead_gives_no_free_tries(cast: people.Cast) -> None:
    with clock.frozen(NOON + timedelta(hours=1)):
        signin.claim("jory", HERE)
    with clock.frozen(NOON):
        assert signin.claim("jory", HERE) == 0
        assert signin.wait_s("jory", HERE) == 2, "the count goes on where it stood"


@pytest.mark.parametrize(
    "place",
    [
        "abc",
        "abc/",
        "sign-in",
        "?x",
        "#x",
        "",
        " /",
        "\x00",
        "https:/x",
        "jobs/214/",
        "/\\evil.example",
        "///evil.example",
        "\ud800",
    ],
)
def test_no_next_breaks_signing_in(cast: people.Cast, place: str) -> None:
    client = people.browser()
    page = client.get("/sign-in/")
    data = {"name": "jory", "password": people.PASSWORD, "next": place.encode("utf-8", "surrogatepass"),
            "csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken")}  # fmt: skip
    answer = client.post("/sign-in/", data)
    assert answer.status_code == 302 and answer.headers["Location"] == "/"


def test_passwords_are_hashed_a_few_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twelve threads hash at once; Argon2 itself is stood in for, so that how many run can be counted."""
    from django.contrib.auth.hashers import Argon2PasswordHasher

    running, most, counted = 0, 0, threading.Lock()

    def slow(self: object, *given: str) -> bool:
        nonlocal running, most
        with counted:
            running += 1
            most = max(most, running)
        time.sleep(0.02)
        with counted:
            running -= 1
        return True

    monkeypatch.setattr(Argon2PasswordHasher, "verify", slow)
    monkeypatch.setattr(Argon2PasswordHasher, "encode", slow)
    hasher = hashing.BoundedArgon2()
    work = [threading.Thread(target=hasher.verify if n % 2 else hasher.encode, args=("a", "b")) for n in range(12)]
    for thread in work:
        thread.start()
    for thread in work:
        thread.join()
    assert most == hashing.AT_ONCE == 2


def test_a_flood_of_strangers_is_told_to_come_again_and_known_devices_get_in(
    cast: people.Cast, stranger: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While somebody else's password is looked at: a strange device is not kept waiting, nor counted; a known one gets in."""
    known = people.browser()
    assert sign_in(known, "jory", people.PASSWORD) == 302
    monkeypatch.setattr(hashing, "STRANGER_WAITS_S", 0.05)
    with hashing.turn(known=False) as got:
        assert got
        assert sign_in(stranger, "maud", people.PASSWORD) == 429
        assert signin.wait_s("maud", HERE) == 0, "not looked at, so not counted as wrong"
        assert sign_in(known, "jory", people.PASSWORD) == 302
    assert sign_in(stranger, "maud", people.PASSWORD) == 302


def test_the_workshops_own_hasher_is_strong_and_bounded() -> None:
    """Read from the settings file, since the tests' own hasher stands in its place."""
    from topout.web import settings as ours

    assert ours.PASSWORD_HASHERS == ["topout.web.access.hashing.BoundedArgon2"]
    hasher = hashing.BoundedArgon2()
    assert hasher.memory_cost >= 19 * 1024 and hasher.time_cost >= 2  # OWASP's least
    made = hasher.encode("a fork is not a spoon", "x" * 22)
    assert hasher.verify("a fork is not a spoon", made) and not hasher.verify("a fork is a spoon", made)


@pytest.mark.parametrize("place", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"])
def test_no_way_leads_off_this_host(cast: people.Cast, stranger: Client, place: str) -> None:
    page = stranger.get("/sign-in/", {"next": place})
    assert people.field_of(page, "next") == "/"


@pytest.fixture
def empty(workshop: object) -> None:
    User.objects.all().delete()


def test_a_fresh_workshop_has_no_account_until_the_code_is_used_once(empty: None, stranger: Client) -> None:
    code = codes.make_start_code()
    assert code is not None
    assert b"Make the first one" in stranger.get("/sign-in/").content
    data = {"name": "mo", "person": "Mo Tarn", "password": "a long enough one"}
    wrong = people.send(stranger, "/start/", {"code": "2222-22", **data})
    assert wrong.status_code == 422
    assert not User.objects.exists()
    first = people.send(stranger, "/start/", {"code": codes.grouped(code).lower(), **data})
    assert first.status_code == 303
    assert User.objects.get().is_staff
    assert OneTimeCode.objects.get().used_at is not None
    assert stranger.get("/workshop/").status_code == 200, "signed in, and asked about the workshop"
    assert people.browser().get("/workshop/").status_code == 302
    assert stranger.get("/start/").status_code == 302, "nothing here any more"
    assert codes.make_start_code() is None
    assert sign_in(stranger, "mo", "a long enough one") == 302


def test_the_code_ends_after_a_day(empty: None, stranger: Client) -> None:
    with clock.frozen(NOON):
        code = codes.make_start_code()
    assert code is not None
    with clock.frozen(NOON + timedelta(hours=24, seconds=1)):
        assert codes.start_code(code) is None
    with clock.frozen(NOON + timedelta(hours=23)):
        assert codes.start_code(code) is not None


def test_common_and_short_passwords_are_refused(owner_in: Client) -> None:
    kit = User.objects.create_user("kitfisher", first_name="Kit Fisher")
    for password in ("short", "password123", "kitfisher"):
        answer = people.send(people.browser(), "/code/", {"code": codes.make(kit), "password": password})
        assert answer.status_code == 422
    kit.refresh_from_db()
    assert not kit.has_usable_password() and OneTimeCode.objects.get().used_at is None


def test_only_an_owner_keeps_accounts(owner_in: Client, technician_in: Client, cast: people.Cast) -> None:
    assert technician_in.get("/accounts/").status_code == 403
    assert technician_in.get("/accounts/new/").status_code == 403
    data = {"name": "kit", "person": "Kit Fisher", "role": "technician"}
    assert people.send(owner_in, "/accounts/new/", data, times=3).status_code == 303
    assert User.objects.filter(username="kit").count() == 1


def test_a_closed_account_is_out_at_once(owner_in: Client, technician_in: Client, cast: people.Cast) -> None:
    assert technician_in.get("/").status_code == 200
    data = {"person": "Jory Pask", "role": "technician"}
    assert people.send(owner_in, f"/accounts/{cast.technician.pk}/", data).status_code == 303
    assert technician_in.get("/").status_code == 302
    again = people.browser()
    assert sign_in(again, "jory", people.PASSWORD) == 403


def test_an_owner_can_not_close_the_own_account(owner_in: Client, cast: people.Cast) -> None:
    answer = people.send(owner_in, f"/accounts/{cast.owner.pk}/", {"person": "Maud Askel", "role": "technician"})
    assert answer.status_code == 422
    cast.owner.refresh_from_db()
    assert cast.owner.is_staff and cast.owner.is_active


def test_a_form_that_an_owner_drew_is_not_sent_by_who_signs_in_after(owner_in: Client, cast: people.Cast) -> None:
    """One tablet for two: the page that stands open behind the sign-in is nobody's signature any more, and the other way round."""
    job = hollin_job(cast.technician)
    drawn = people.field_of(owner_in.get(f"/jobs/{job.number}/waits/"), "csrfmiddlewaretoken")
    owner_in.post("/sign-out/", {"csrfmiddlewaretoken": drawn})
    assert sign_in(owner_in, "jory", people.PASSWORD) == 302
    held = {"csrfmiddlewaretoken": drawn, "change_key": "held", "words": "a part"}
    assert owner_in.post(f"/jobs/{job.number}/waits/", held).status_code == 403
    assert not Remark.objects.exists()


def test_who_signed_in_here_before_waits_longer_than_a_stranger(monkeypatch: pytest.MonkeyPatch) -> None:
    waited: dict[bool, float] = {}

    class Turn:
        def __init__(self, known: bool) -> None:
            self.known = known

        def acquire(self, timeout: float) -> bool:
            waited[self.known] = timeout
            return False

    monkeypatch.setattr(hashing, "_turns", {known: Turn(known) for known in (False, True)})
    for known in (False, True):
        with hashing.turn(known=known) as got:
            assert not got
    assert waited == {False: hashing.STRANGER_WAITS_S, True: hashing.KNOWN_WAITS_S} and waited[False] < waited[True]
