"""A session's key stands in the cookie alone: the table, read by a thief, signs nobody in."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import connection
from django.test import Client

from topout.web.access.sessions import SessionStore
from web import people, raw


def cookie(client: Client) -> str:
    return client.cookies["sessionid"].value


def test_who_reads_the_database_signs_in_as_nobody(technician_in: Client, cast: people.Cast, workshop: Path) -> None:
    assert technician_in.get("/").status_code == 200
    key = cookie(technician_in)
    stolen = Session.objects.get().session_key
    connection.close()
    files = b"".join(path.read_bytes() for path in workshop.parent.iterdir() if path.is_file())
    assert key.encode() not in files and stolen.encode() in files
    thief = people.browser()
    thief.cookies["sessionid"] = stolen
    assert thief.get("/").status_code == 302
    assert Session.objects.count() == 1, "and the thief's look changes nothing"


def test_a_session_lives_and_ends_as_before(technician_in: Client, cast: people.Cast) -> None:
    store = SessionStore(cookie(technician_in))
    assert store.exists(cookie(technician_in)) and store["_auth_user_id"] == str(cast.technician.pk)
    store["kept"] = "yes"
    store.save()
    assert SessionStore(cookie(technician_in))["kept"] == "yes" and Session.objects.count() == 1
    old = cookie(technician_in)
    store.cycle_key()
    assert not SessionStore().exists(old) and SessionStore(store.session_key)["kept"] == "yes"
    store.flush()
    assert Session.objects.count() == 0
    fresh = SessionStore("a" * 32)  # a key that somebody made up is not taken over
    assert fresh.get("kept") is None and fresh.session_key is None


def test_sign_out_removes_the_row(technician_in: Client) -> None:
    token = people.field_of(technician_in.get("/"), "csrfmiddlewaretoken")
    assert technician_in.post("/sign-out/", {"csrfmiddlewaretoken": token}).status_code == 302
    assert Session.objects.count() == 0


@pytest.mark.parametrize("name", ["aexists", "adelete", "acreate_model_instance"])
def test_the_asynchronous_half_stores_no_bare_key(workshop: Path, name: str) -> None:
    async def call() -> Any:
        return await getattr(SessionStore("k" * 32), name)({} if "model" in name else "k" * 32)

    # In a thread of its own: beside a browser's tests this one has a running loop already.
    with ThreadPoolExecutor(1) as other, pytest.raises(NotImplementedError):
        other.submit(lambda: asyncio.run(call())).result()


def test_bare_keys_of_before_end_and_the_label_keeps_its_size(workshop: Path) -> None:
    """From the landing before: sessions stood readable, the label's size in `owner_switches`."""
    call_command("migrate", "access", "0001", verbosity=0)
    connection.close()
    with raw.opened(workshop) as base:
        base.execute("INSERT INTO django_session VALUES ('bare', 'x', '2099-01-01')")
        base.execute(
            "INSERT INTO access_workshop (only, name, demo, altitude, started_at, owner_switches) "
            "VALUES (1, 'W', 0, '0 m', '2026-01-01', '{\"label_mm\": [50.0, 30.5]}')"
        )
    call_command("migrate", verbosity=0)
    from topout.web.access.models import Workshop

    row = Workshop.objects.get()
    assert (row.label_width_mm, row.label_length_mm) == (50.0, 30.5)
    assert Session.objects.count() == 0
