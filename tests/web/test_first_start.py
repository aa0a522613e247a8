"""The first start: from the address with its code to the open workshop; and the Workshop page that changes it all later."""

from __future__ import annotations

import os
import re
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import available_timezones

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import override_settings
from django.utils import timezone

from topout.web import clock
from topout.web.access import codes, preferences
from topout.web.access.models import SettingChange, Workshop
from topout.web.jobs.release import tags
from web import people, raw

SETTINGS = {
    "name": "Kiln Row", "altitude": "210", "time_zone": "Europe/Dublin", "currency": "EUR", "pressure_unit": "bar", "length_unit": "mm",
    "paper": "us-letter", "width": "50", "length": "2 in",
}  # fmt: skip


@pytest.fixture
def empty(workshop: Path) -> None:
    User.objects.all().delete()


def test_a_height_that_nobody_knows_stays_open(empty: None, stranger: Client) -> None:
    """The first page offered 0 m; left as it was, every plan took sea level as written down and said nothing of it."""
    data = {"code": codes.make_start_code(), "name": "mo", "person": "Mo Tarn", "password": "a long enough one"}
    people.send(stranger, "/start/", data)
    box = re.search(r'<input[^>]*name="altitude"[^>]*>', stranger.get("/workshop/").content.decode())
    assert box is not None and 'value="0' not in box[0], box
    assert people.send(stranger, "/workshop/", SETTINGS | {"altitude": ""}).status_code == 303
    assert Workshop.objects.get().altitude == ""
    assert people.send(stranger, "/workshop/", SETTINGS | {"altitude": "210 m"}).status_code == 303
    assert Workshop.objects.get().altitude == "210 m"


def test_from_the_printed_address_to_the_open_workshop(empty: None, stranger: Client) -> None:
    """Two forms: the account, then the questions; who works here gets an account and a code each."""
    code = codes.make_start_code()
    assert code is not None
    assert people.field_of(stranger.get(f"/start/?code={codes.grouped(code)}"), "code") == codes.grouped(code)
    data = {"code": code, "name": "mo", "person": "Mo Tarn", "password": "a long enough one"}
    assert people.send(stranger, "/start/", data).headers["Location"] == "/workshop/"
    with override_settings(TIME_ZONE="Europe/Lisbon"):
        page = stranger.get("/workshop/")
    assert people.field_of(page, "time_zone") == "Europe/Lisbon", "this computer's zone is offered"
    answer = people.send(
        stranger, "/workshop/", SETTINGS | {"people": "Jory Pask\n\n  Jory   Lund \nJory Pask\nÅsa Ek"}
    )
    assert answer.headers["Location"] == "/accounts/"
    told = stranger.get("/accounts/").content.decode()
    assert told.count('data-name="code"') == 3
    accounts = User.objects.exclude(username="mo").order_by("pk")
    assert [(row.username, row.first_name, row.is_staff) for row in accounts] == [
        ("jory", "Jory Pask", False), ("jory.lund", "Jory Lund", False), ("asa", "Åsa Ek", False),
    ]  # fmt: skip
    row = Workshop.objects.get()
    assert row.set_up_at is not None and (row.altitude, row.pressure_unit, row.paper) == ("210 m", "bar", "us-letter")
    label = tags.label()
    assert (label.width_mm, label.length_mm) == (50.0, 50.8)
    assert "Who works here" not in stranger.get("/workshop/").content.decode(), "asked once"


def test_the_page_is_the_owners_and_says_how_the_records_are_kept(
    owner_in: Client, technician_in: Client, workshop: Path
) -> None:
    assert technician_in.get("/workshop/").status_code == 403
    people.send(owner_in, "/workshop/", SETTINGS | {"people": ""})
    page = owner_in.get("/workshop/").content.decode()
    from django.conf import settings

    for words in (
        str(settings.DATABASE_PATH),
        str(settings.PHOTOS),
        sqlite3.sqlite_version,
        "Journal",
        "Synchronous",
        "Disk left",
        "GB of",
    ):
        assert words in page, words
    assert str(settings.DATABASE_PATH) not in technician_in.get("/health/").content.decode()


def test_every_change_of_a_setting_is_written_down_once(owner_in: Client, cast: people.Cast) -> None:
    people.send(owner_in, "/workshop/", SETTINGS | {"people": ""})
    before = SettingChange.objects.count()
    assert (
        people.send(
            owner_in, "/workshop/", SETTINGS | {"name": "Kiln Row 2", "pressure_unit": "psi"}, times=3
        ).status_code
        == 303
    )
    new = SettingChange.objects.order_by("pk")[before:]
    assert [(row.name, row.was, row.became, row.who) for row in new] == [
        ("Name", "Kiln Row", "Kiln Row 2", cast.owner), ("Pressures in", "bar", "psi", cast.owner),
    ]  # fmt: skip
    assert "Kiln Row → Kiln Row 2" in owner_in.get("/workshop/").content.decode()
    assert (
        people.send(owner_in, "/workshop/", SETTINGS | {"name": "Kiln Row 2", "pressure_unit": "psi"}).status_code
        == 303
    )
    assert SettingChange.objects.count() == before + 2, "what stays as it is is no change"


def test_an_amount_agreed_to_is_written_with_the_currency(owner_in: Client) -> None:
    assert preferences.money("180") == "180"
    people.send(owner_in, "/workshop/", SETTINGS | {"people": ""})
    assert preferences.money("180") == "180 EUR"


def test_the_label_set_on_a_tags_page_is_written_down_too(cast: people.Cast) -> None:
    """The other door to the same setting."""
    from topout.web.access.change import change

    with change(cast.owner, "label", {}) as doing:
        preferences.save(doing, label_width_mm=40.0, label_length_mm=30.0)
    assert list(SettingChange.objects.values_list("name", "became")) == [
        ("Label’s width, mm", "40"),
        ("Label’s length, mm", "30"),
    ]


@pytest.mark.parametrize("attack", ["UPDATE access_settingchange SET was = 'x'", "DELETE FROM access_settingchange"])
def test_no_sql_rewrites_what_was_changed(owner_in: Client, workshop: Path, attack: str) -> None:
    people.send(owner_in, "/workshop/", SETTINGS | {"people": ""})
    connection.close()
    with raw.opened(workshop) as base, pytest.raises(sqlite3.IntegrityError, match="a change of a setting stays"):
        base.execute(attack)


@pytest.mark.parametrize(
    ("box", "typed", "says"),
    [
        ("time_zone", "Mars/Base", "no such time zone"), ("time_zone", "Europe/Dubin", "Is it Europe/Dublin?"), ("time_zone", "", "Write a zone"),
        ("time_zone", "../../etc/passwd", "no such time zone"), ("pressure_unit", "atm", "Choose one"), ("length_unit", "", "Choose one"),
        ("paper", "a3", "Choose one"), ("altitude", "9000 m", "is expected"), ("name", "", "Write the workshop"), ("width", "2000", "is expected"),
        ("currency", "x" * 9, "at most 8"), ("people", "x" * 101, "at most 100 letters"), ("people", "\n".join(map(str, range(21))), "at most 20"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_and_nothing_is_saved(owner_in: Client, box: str, typed: str, says: str) -> None:
    answer = people.send(owner_in, "/workshop/", SETTINGS | {"people": ""} | {box: typed})
    assert answer.status_code == 422 and says in answer.content.decode()
    assert not Workshop.objects.exists() and not SettingChange.objects.exists() and User.objects.count() == 2


def test_a_zone_in_other_letters_is_the_same_zone(owner_in: Client) -> None:
    people.send(owner_in, "/workshop/", SETTINGS | {"people": "", "time_zone": "america/new york"})
    assert Workshop.objects.get().time_zone == "America/New_York"


def test_every_time_is_shown_in_the_workshops_zone(owner_in: Client) -> None:
    """22:30 on Saturday in UTC is Sunday morning in Auckland: pages, and what reads the local time below them."""
    at = datetime(2026, 11, 28, 22, 30, tzinfo=UTC)
    with clock.frozen(at):
        people.send(owner_in, "/workshop/", SETTINGS | {"people": "", "time_zone": "Pacific/Auckland"})
        page = owner_in.get("/workshop/").content.decode()
        assert "29 Nov 2026, 11:30" in page and "28 Nov" not in page
        with preferences.read_once():
            assert timezone.localtime(clock.now()).strftime("%a %H:%M") == "Sun 11:30"
    assert timezone.localtime(at).hour == 22, "and nothing of it stays behind"


def test_a_zone_that_this_computer_does_not_know_is_said_and_locks_nobody_out(owner_in: Client) -> None:
    people.send(owner_in, "/workshop/", SETTINGS | {"people": ""})
    Workshop.objects.update(time_zone="Atlantis/North")
    assert "NOT known to this computer" in owner_in.get("/workshop/").content.decode()


@pytest.mark.parametrize(
    ("zone", "named"), [("Asia/Kolkata", "Asia/Kolkata"), ("Nowhere/At-all", ""), (":/no/such/file", "")]
)
def test_this_computers_zone_is_found_or_utc(zone: str, named: str) -> None:
    """Where the terminal names none that is known, it is that of the whole computer, or UTC: never a traceback."""
    code = "from topout.web import environment; print(environment.zone_of_this_computer())"
    done = subprocess.run(
        [sys.executable, "-c", code], env=os.environ | {"TZ": zone}, capture_output=True, text=True, timeout=60
    )
    assert done.stderr == "" and done.stdout.strip() in ([named] if named else available_timezones())


def test_a_workshop_of_before_is_not_asked_again(workshop: Path) -> None:
    """From the landing before: its people and its row are there, so the first questions are answered."""
    from django.core.management import call_command

    call_command("migrate", "access", "0003", verbosity=0)
    connection.close()
    with raw.opened(workshop) as base:
        base.execute(
            "INSERT INTO access_workshop (only, name, demo, altitude, started_at) VALUES (1, 'W', 0, '0 m', '2026-01-01')"
        )
    call_command("migrate", verbosity=0)
    assert Workshop.objects.get().set_up_at is not None
