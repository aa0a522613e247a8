"""Accounts: the owner never knows a password, a one-time code works once, and no stranger keeps anybody out."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.contrib.messages.storage.cookie import CookieStorage
from django.db import connection
from django.test import Client
from django.test.utils import override_settings

from topout.web import clock, network
from topout.web.access import codes, signin
from topout.web.access.models import OneTimeCode, WrongTries
from web import people
from web.test_sign_in import NOON, sign_in

NEW = "three dry bushings"


def given(page: people.HasContent) -> str:
    """The one-time code that the page shows."""
    found = re.findall(r'data-name="code">([2-9A-Z]{6}-[2-9A-Z]{6})<', page.content.decode())
    assert len(found) == 1, page.content.decode()
    return str(found[0])


def test_a_new_person_sets_the_password_and_the_owner_never_types_one(owner_in: Client, workshop: Path) -> None:
    page = owner_in.get("/accounts/new/")
    assert b'type="password"' not in page.content
    data = {"name": "kit", "person": "Kit Fisher", "role": "technician"}
    answer = people.send(owner_in, "/accounts/new/", data)
    assert answer.headers["Location"] == "/accounts/"
    code = given(owner_in.get("/accounts/"))
    assert code not in owner_in.get("/accounts/").content.decode(), "shown once"
    kit = User.objects.get(username="kit")
    assert not kit.has_usable_password()
    assert b'type="password"' not in owner_in.get(f"/accounts/{kit.pk}/").content
    connection.close()
    held = b"".join(path.read_bytes() for path in workshop.parent.iterdir() if path.is_file())
    assert code.encode() not in held and codes.tidy(code).encode() not in held, "the database keeps its hash alone"
    own = people.browser()
    assert people.field_of(own.get(f"/code/?code={code}"), "code") == code
    assert people.send(own, "/code/", {"code": code.lower(), "password": NEW}).headers["Location"] == "/"
    assert own.get("/").status_code == 200
    assert sign_in(people.browser(), "kit", NEW) == 302


@pytest.mark.parametrize("state", ["used", "over", "replaced", "closed", "not one"])
def test_a_code_that_is_no_good_sets_nothing(cast: people.Cast, state: str) -> None:
    with clock.frozen(NOON):
        code = codes.make(cast.technician)
    at = NOON + timedelta(hours=1)
    if state == "used":
        with clock.frozen(at):
            assert people.send(people.browser(), "/code/", {"code": code, "password": NEW}).status_code == 303
    elif state == "over":
        at = NOON + codes.LASTS
    elif state == "replaced":
        with clock.frozen(at):
            codes.make(cast.technician)
    elif state == "closed":
        User.objects.filter(pk=cast.technician.pk).update(is_active=False)
    else:
        code = "2" * 12
    before = User.objects.get(pk=cast.technician.pk).password
    with clock.frozen(at):
        answer = people.send(people.browser(), "/code/", {"code": code, "password": "quite another one"})
    assert answer.status_code == 422 and "This is not the code" in answer.content.decode()
    assert User.objects.get(pk=cast.technician.pk).password == before


def test_the_first_accounts_code_sets_no_persons_password_and_the_other_way_round(cast: people.Cast) -> None:
    """Two doors with codes: neither takes the other's."""
    nobodys = codes.make(None)
    assert people.send(people.browser(), "/code/", {"code": nobodys, "password": NEW}).status_code == 422
    own = codes.make(cast.technician)
    User.objects.filter(pk__in=[cast.owner.pk]).exists()
    assert codes.start_code(own) is None and codes.start_code(nobodys) is None, "there are accounts"


def test_a_used_code_ends_the_sessions_of_before(cast: people.Cast, technician_in: Client, owner_in: Client) -> None:
    answer = people.send(
        owner_in, f"/accounts/{cast.technician.pk}/code/", {}, page_path=f"/accounts/{cast.technician.pk}/"
    )
    assert answer.status_code == 303
    assert technician_in.get("/").status_code == 200, "the old password works until the code is used"
    code = given(owner_in.get("/accounts/"))
    assert people.send(people.browser(), "/code/", {"code": code, "password": NEW}).status_code == 303
    assert technician_in.get("/").status_code == 302
    assert sign_in(people.browser(), "jory", people.PASSWORD) == 403
    row = OneTimeCode.objects.get()
    assert (row.made_by, row.user) == (cast.owner, cast.technician) and row.used_at is not None


def test_a_technician_gives_no_codes(technician_in: Client, cast: people.Cast) -> None:
    token = people.field_of(technician_in.get("/"), "csrfmiddlewaretoken")
    data = {"csrfmiddlewaretoken": token, "change_key": "take-over"}
    assert technician_in.post(f"/accounts/{cast.owner.pk}/code/", data).status_code == 403
    assert not OneTimeCode.objects.exists()


def test_everyone_changes_the_own_password_and_other_devices_are_out(cast: people.Cast, technician_in: Client) -> None:
    other = people.browser(cast.technician)
    wrong = people.send(technician_in, "/password/", {"old": "not it", "password": NEW})
    assert wrong.status_code == 422 and "not the password" in wrong.content.decode()
    with clock.frozen(clock.now() + timedelta(minutes=10)):
        assert (
            people.send(technician_in, "/password/", {"old": people.PASSWORD, "password": NEW}, times=3).status_code
            == 303
        )
    assert technician_in.get("/").status_code == 200 and other.get("/").status_code == 302
    assert sign_in(people.browser(), "jory", NEW) == 302


def test_guessing_at_an_unattended_tablet_waits_like_signing_in(cast: people.Cast, technician_in: Client) -> None:
    with clock.frozen(NOON):
        technician_in = people.browser(cast.technician)
        assert technician_in.get("/").status_code == 200
        said = [
            people.send(technician_in, "/password/", {"old": f"try {n}", "password": NEW}).content.decode()
            for n in range(2)
        ]
        assert "Too many wrong passwords" in said[1]
        assert people.send(technician_in, "/password/", {"old": people.PASSWORD, "password": NEW}).status_code == 422


def attack(name: str, address: str, times: int) -> datetime:
    """Somebody who tries again the moment that the wait is over."""
    at = NOON
    for _ in range(times):
        with clock.frozen(at):
            assert signin.claim(name, address) == 0
        last = at
        at += timedelta(seconds=max(1, signin.wait_s(name, address, at)))
    return last


def test_a_strangers_tries_hold_up_nobody_at_another_address(cast: people.Cast) -> None:
    """Neither a new tablet, nor one whose cookies are gone."""
    with clock.frozen(attack("jory", "@192.0.2.66", 20)):
        assert signin.wait_s("jory", "@192.0.2.66") > 0 and signin.wait_s("jory", "@192.0.2.7") == 0
        assert sign_in(people.browser(), "jory", people.PASSWORD) == 302


def test_tries_from_many_addresses_count_together_and_a_code_gets_in_all_the_same(cast: people.Cast) -> None:
    known = people.browser()
    assert sign_in(known, "jory", people.PASSWORD) == 302
    with clock.frozen(NOON):
        for nth in range(signin.TOGETHER):
            assert signin.claim("jory", f"@203.0.113.{nth}") == 0
        assert signin.claim("jory", "@198.51.100.1") == signin.LONGEST_STRANGE_S
        assert sign_in(people.browser(), "jory", people.PASSWORD) == 429
        assert sign_in(known, "jory", people.PASSWORD) == 302
        for nth in range(signin.TOGETHER):
            signin.claim("jory", f"@203.0.113.{nth}")
        fresh = people.browser()
        code = codes.make(cast.technician)
        assert people.send(fresh, "/code/", {"code": code, "password": NEW}).status_code == 303


@pytest.mark.parametrize(
    ("address", "seen"),
    [("192.0.2.7", "@192.0.2.7"), ("2001:db8:0:1:aa::9", "@2001:db8:0:1::"), ("fe80::1%eth0", "@fe80::"), ("::ffff:192.0.2.7", "@192.0.2.7"),
     ("", "@nowhere"), ("x" * 300, "@nowhere")],
)  # fmt: skip
def test_an_address_counts_as_the_network_of_one_household(cast: people.Cast, address: str, seen: str) -> None:
    request = people.browser().get("/sign-in/", REMOTE_ADDR=address).wsgi_request
    assert signin.seen_from(request, "jory") == seen
    assert len(seen) <= WrongTries._meta.get_field("device").max_length  # type: ignore[operator]


def test_who_has_to_wait_takes_no_turn(cast: people.Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """A flood from one address is answered without touching what the others wait for."""
    from topout.web.access import hashing

    with clock.frozen(NOON):
        signin.claim("jory", "@127.0.0.1")
        monkeypatch.setattr(hashing, "turn", None)
        assert sign_in(people.browser(), "jory", "whatever") == 429


def test_the_code_stays_in_the_browser_that_asked_for_it(owner_in: Client, cast: people.Cast) -> None:
    """Between the form and its page the code stands in the owner's own cookie alone, which scripts can't read."""
    people.send(owner_in, f"/accounts/{cast.technician.pk}/code/", {}, page_path=f"/accounts/{cast.technician.pk}/")
    cookie = owner_in.cookies[CookieStorage.cookie_name]
    assert cookie["httponly"] and cookie["samesite"] == "Lax"
    assert given(owner_in.get("/accounts/"))
    assert owner_in.cookies[CookieStorage.cookie_name].value == ""


@pytest.mark.parametrize(
    ("host", "loopback", "opened"),
    [("localhost", True, "localhost/code/"), ("localhost", False, "192.0.2.50:8000/code/"), ("192.0.2.50", False, "192.0.2.50/code/")],
)  # fmt: skip
def test_a_code_is_handed_over_with_an_address_that_its_person_can_open(
    cast: people.Cast, monkeypatch: pytest.MonkeyPatch, host: str, loopback: bool, opened: str
) -> None:
    """The owner sits at the workshop's computer; whoever gets the code sits elsewhere."""
    monkeypatch.setattr(network, "own_addresses", lambda: ["192.0.2.50"])
    with override_settings(
        LOOPBACK=loopback, BIND="127.0.0.1" if loopback else "0.0.0.0", PORT=8000, ALLOWED_HOSTS=["*"]
    ):
        owner = people.browser(cast.owner)
        people.send(owner, f"/accounts/{cast.technician.pk}/code/", {}, page_path=f"/accounts/{cast.technician.pk}/")
        page = owner.get("/accounts/", headers={"host": host}).content.decode()
    assert f">http://{opened}<wbr>?code=" in page and ("on this computer" in page) == loopback
