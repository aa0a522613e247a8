"""A full disk, a locked or a read-only database: 503 that says which, and every box as it was typed. Nothing half-saved."""

from __future__ import annotations

import errno
import html
import re
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import unquote

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client

from topout.web.access.models import Workshop
from topout.web.book.models import Unit
from topout.web.jobs.records.models import Job, Remark
from topout.web.storage import BROKEN, FULL, LOCKED, READ_ONLY, trouble
from web import people
from web.addresses import all_addresses
from web.test_gate import content

SAYS = {"read-only": READ_ONLY.words, "locked": LOCKED.words, "full": FULL.words}
TYPED = {"words": "waits for a “seal” <b>&", "rider_name": "Ilse Varn", "sag": "31 mm", "asked": "two\nlines"}


@contextmanager
def fault(kind: str, path: Path) -> Iterator[None]:
    """The database of this connection in trouble, and well again afterwards."""
    with connection.cursor() as cursor:
        if kind == "read-only":
            cursor.execute("PRAGMA query_only = ON")
            yield
            cursor.execute("PRAGMA query_only = OFF")
        elif kind == "locked":
            cursor.execute("PRAGMA busy_timeout = 20")
            with closing(sqlite3.connect(path, isolation_level=None)) as other:
                other.execute("BEGIN IMMEDIATE")
                yield
            cursor.execute("PRAGMA busy_timeout = 20000")
        else:
            pages = cursor.execute("PRAGMA page_count").fetchone()[0]
            cursor.execute(f"PRAGMA max_page_count = {pages + 32}")  # the find box writes its words in blocks
            yield
            cursor.execute("PRAGMA max_page_count = 1000000")


@pytest.fixture
def owner(demo: Path) -> Client:
    Workshop.objects.update(demo=False)
    return people.browser(User.objects.get(username="maud"))


# One room makes the page of both, with other words: each address is sent in one of the troubles, every third in the other too.
EVERY = {"read-only": 1, "locked": 3}


@pytest.mark.parametrize("kind", EVERY)
def test_every_writing_address_keeps_what_was_typed(owner: Client, demo: Path, kind: str) -> None:
    token = people.field_of(owner.get("/book/riders/new/"), "csrfmiddlewaretoken")
    addresses = all_addresses()
    before = content(demo)
    kept = 0
    for name, address in addresses[:: EVERY[kind]]:
        if name == "sign-out":
            continue
        data = {
            **TYPED,
            "name": "maud",
            "password": "TOP-SECRET",
            "change_key": f"key-{name}",
            "csrfmiddlewaretoken": token,
        }
        with fault(kind, demo):
            answer = owner.post(address, data)
        assert answer.status_code < 500 or answer.status_code == 503, (name, answer.status_code)
        if answer.status_code != 503:
            answer.close()  # a copy of the workshop is a file, and needs no room among the records
            assert answer.status_code in (302, 400, 403, 404, 405, 409, 422, 200, 204), (name, answer.status_code)
            assert answer.status_code != 302 or name == "start", name
            continue
        kept += 1
        page = answer.content.decode()
        assert SAYS[kind] in html.unescape(page) and "A fault in Topout" not in page, name
        assert f'action="{html.escape(address)}"' in page, name
        assert f'value="key-{name}"' in page and "TOP-SECRET" not in page, name
        for box, value in TYPED.items():
            found = re.search(rf'(?:name="{box}" value="([^"]*)"|name="{box}" rows="4">\s*([^<]*)</textarea>)', page)
            assert found is not None, (name, box)
            assert html.unescape(found[1] or found[2]).replace("\r\n", "\n") == value, (name, box)
            label = re.search(
                rf'<label for="(box-\d+)">[^<]+</label>\s*<(?:input|textarea)[^>]*id="\1" name="{box}"', page
            )
            assert label is not None, (name, box)
    assert kept >= 30 / EVERY[kind], kept
    assert content(demo) == before


def test_sent_again_it_is_saved_once(owner: Client, demo: Path) -> None:
    job = Job.objects.get(number=210)
    address = f"/jobs/{job.number}/waits/"
    page = owner.get(address)
    data = {
        "csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken"),
        "change_key": "again",
        "words": "a seal",
    }
    with fault("read-only", demo):
        answer = owner.post(address, data, headers={"Referer": f"http://localhost{address}"})
        assert answer.status_code == 503
    text = answer.content.decode()
    assert "Words" not in re.findall(r"<label[^>]*>([^<]*)</label>", text), "the form's own label, not the box's name"
    sent = {name: html.unescape(value) for name, value in re.findall(r'name="([^"]+)" value="([^"]*)"', text)}
    assert sent["words"] == "a seal" and sent["change_key"] == "again"
    before = Remark.objects.count()
    assert [owner.post(address, sent).status_code for _ in range(2)] == [303, 303]
    assert Remark.objects.count() == before + 1


def test_only_what_was_typed_stands_in_sight_and_an_answer_in_its_words(owner: Client, demo: Path) -> None:
    """Every empty box of the form stood there before, and a picked gauge under the words of another answer."""
    address = "/jobs/213/readings/as-left/"
    data = {
        "csrfmiddlewaretoken": people.field_of(owner.get(address), "csrfmiddlewaretoken"), "change_key": "typed", "pressure": "",
        "temperature": "18", "condition": "a bent circlip that was hard to come by", "photos": "", "pressure-gauge": "P1",
    }  # fmt: skip
    with fault("read-only", demo):
        text = owner.post(address, data, headers={"Referer": f"http://localhost{address}"}).content.decode()
    shown = re.findall(r'<label for="box-\d+">([^<]+)<', text)
    assert shown == ["Temperature, °C", "Condition"], shown
    assert 'type="hidden" name="pressure" value=""' in text and 'type="file"' not in text
    picked = '<span class="label">Pressure, gauge</span>shop gauge P1</p>'
    assert f'type="hidden" name="pressure-gauge" value="P1"><p class="field">{picked}' in text


def test_labels_are_those_of_the_page_as_it_was_asked_for(owner: Client, demo: Path) -> None:
    """A fork that becomes a coil's has other boxes, by what stands behind the address."""
    address = f"/book/units/{Unit.objects.filter(kind='fork')[0].pk}/change/"
    data = {
        "csrfmiddlewaretoken": people.field_of(owner.get(address), "csrfmiddlewaretoken"), "change_key": "kind", "kind": "coil-fork",
        "fork-coil-rate": "8 N/mm",
    }  # fmt: skip
    referer = {"Referer": f"http://localhost{address}?kind=coil-fork"}
    with fault("read-only", demo):
        text = owner.post(address, data, headers=referer).content.decode()
    assert re.findall(r'<label for="box-\d+">([^<]+)<', text) == ["Rate, N/mm"]


def test_a_full_disk_is_said_and_loses_nothing(owner: Client, demo: Path) -> None:
    address = "/jobs/210/waits/"
    token = people.field_of(owner.get(address), "csrfmiddlewaretoken")
    connection.close()
    with closing(sqlite3.connect(demo)) as base:
        base.execute("VACUUM")
    saved, answer = 0, None
    before = Remark.objects.count()
    with fault("full", demo):
        for n in range(400):
            data = {"csrfmiddlewaretoken": token, "change_key": f"full-{n}", "words": f"part {n} " + "x" * 200}
            answer = owner.post(address, data)
            if answer.status_code != 303:
                break
            saved += 1
    assert answer is not None and answer.status_code == 503 and saved > 0
    assert unquote(answer.headers["X-Not-Stored"]) == FULL.words, "a step's page says it, too"
    assert FULL.words in answer.content.decode() and f"part {saved} " in answer.content.decode()
    assert Remark.objects.count() == before + saved, "all that was said to be saved, and no more"
    assert owner.post(address, data).status_code == 303, "there is room again: the same form is saved"


def test_a_photo_that_finds_no_room_is_asked_for_once_more(
    owner: Client, demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from topout.web.jobs.readings import photos

    def no_room(*given: object, **more: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(tempfile, "mkstemp", no_room)
    monkeypatch.setattr(photos, "draw_anew", lambda data: photos.Drawn(b"never kept before", 1, 1))
    address = "/jobs/210/readings/as-left/"
    data = {"csrfmiddlewaretoken": people.field_of(owner.get(address), "csrfmiddlewaretoken"), "change_key": "photo",
            "photos": SimpleUploadedFile("a.jpg", b"x"), "photos-of": "The crown"}  # fmt: skip
    answer = owner.post(address, data)
    page = answer.content.decode()
    assert answer.status_code == 503 and FULL.words in page and 'value="The crown"' in page
    assert 'type="file"' in page and "multipart/form-data" in page


def test_a_session_that_can_not_be_stored_is_no_fault_of_ours(cast: people.Cast, workshop: Path) -> None:
    client = people.browser()
    page = client.get("/sign-in/")
    data = {
        "name": "jory",
        "password": people.PASSWORD,
        "csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken"),
    }
    with fault("locked", workshop):
        answer = client.post("/sign-in/", data)
    assert answer.status_code == 503 and people.PASSWORD not in answer.content.decode()


def test_a_page_of_others_is_not_drawn_for_a_strangers_labels(demo: Path) -> None:
    """A stranger's sign-in that fails, sent as if it came from a job's page: nothing of that page is shown."""
    Workshop.objects.update(demo=False)
    client = people.browser()
    page = client.get("/sign-in/")
    data = {
        "name": "x",
        "password": "y",
        "rider": "7",
        "csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken"),
    }
    with fault("locked", demo):
        answer = client.post("/sign-in/", data, headers={"Referer": "http://localhost/jobs/new/"})
    assert answer.status_code == 503 and "Telvik" not in answer.content.decode()


def test_other_errors_are_not_taken_for_the_storages() -> None:
    assert trouble(RuntimeError("database is locked")) is None and trouble(None) is None
    assert trouble(sqlite3.IntegrityError("UNIQUE")) is None and trouble(FileNotFoundError(2, "x")) is None
    assert trouble(OSError(errno.EROFS, "x")) is READ_ONLY and trouble(OSError(errno.EIO, "x")) is BROKEN
