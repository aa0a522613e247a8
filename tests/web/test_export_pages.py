"""Data out and riders in on the pages: the owner's alone, each row's fate before anything is saved, all of it or nothing."""

from __future__ import annotations

import io
import json
import re
import zipfile
from html import unescape
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.http import FileResponse
from django.test import Client

from topout.web.book.models import Bike, Rider
from topout.web.export import page, tables, write
from web import people

IN = "/workshop/riders-in/"
CSV = "name,telephone,mass,bike\nRuna Telvik,0555-0101,76 kg,Marn enduro\nNew One,0555 77,82.5,Hollin\nNew One,0555 77,,Second\n"


@pytest.fixture
def owner(demo: Path) -> Client:
    return people.browser(User.objects.get(username="maud"))


@pytest.fixture
def technician(demo: Path) -> Client:
    return people.browser(User.objects.filter(is_staff=False, is_active=True)[0])


def downloaded(answer: object) -> zipfile.ZipFile:
    assert isinstance(answer, FileResponse) and answer.status_code == 200
    made = zipfile.ZipFile(io.BytesIO(answer.getvalue()))
    answer.close()
    return made


def file(text: str | bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile("riders.csv", text.encode() if isinstance(text, str) else text, "text/csv")


def test_the_workshop_page_gives_all_data_and_leaves_nothing_behind(owner: Client, demo: Path) -> None:
    assert 'action="/workshop/data/"' in owner.get("/workshop/").content.decode()
    aliases = set(connections.settings)
    answer = people.send(owner, "/workshop/data/", {}, page_path="/workshop/")
    assert re.search(r'attachment; filename="workshop-\d{4}-\d\d-\d\d.zip"', answer["Content-Disposition"])
    held = downloaded(answer)
    told = json.loads(held.read("data.json"))["tables"]
    assert {table.name for table in tables.whole()} == set(told) and len(told["book_rider"]) == Rider.objects.count()
    assert not list(demo.parent.glob(f"{page.FOLDER}*")) and set(connections.settings) == aliases


def test_a_riders_page_gives_that_riders_data_alone(owner: Client) -> None:
    rider = Rider.objects.get(name="Runa Telvik")
    address = f"/book/riders/{rider.pk}/data/"
    assert f'action="{address}"' in owner.get(f"/book/riders/{rider.pk}/").content.decode()
    text = downloaded(people.send(owner, address, {}, page_path=f"/book/riders/{rider.pk}/")).read("data.json").decode()
    assert rider.name in text and not [other.name for other in Rider.objects.exclude(pk=rider.pk) if other.name in text]


def test_a_technician_and_a_stranger_get_nothing(technician: Client, owner: Client) -> None:
    rider = Rider.objects.get(name="Runa Telvik")
    for who, status in ((technician, 403), (Client(), 302)):
        for address in ("/workshop/data/", f"/book/riders/{rider.pk}/data/", IN):
            answer = who.post(address, {"change_key": "x"})
            assert answer.status_code == status and "attachment" not in answer.headers.get("Content-Disposition", "")
    assert "/data/" not in technician.get(f"/book/riders/{rider.pk}/").content.decode()
    assert owner.get("/workshop/data/").status_code == 405


def test_what_fails_leaves_nothing_and_says_so(owner: Client, demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(write, "_fill", full)
    answer = people.send(owner, "/workshop/data/", {}, page_path="/workshop/")
    assert answer.status_code in (302, 303)
    assert "No space left on device" in owner.get("/workshop/").content.decode()
    assert not list(demo.parent.glob(f"{page.FOLDER}*"))


def seen(answer: people.HasContent) -> dict[str, str]:
    """What the form below the fates sends."""
    text = answer.content.decode()
    area = re.search(r"<textarea name=\"text\"[^>]*>\n(.*?)</textarea>", text, re.DOTALL)
    mark = re.search(r'name="seen" value="(\w+)"', text)
    assert area is not None and mark is not None
    return {"text": unescape(area[1]), "seen": mark[1]}


def test_each_rows_fate_stands_before_anything_is_saved_and_then_all_of_it_is(owner: Client) -> None:
    before = (Rider.objects.count(), Bike.objects.count())
    looked = people.send(owner, IN, {"file": file(CSV)})
    text = unescape(looked.content.decode())
    assert looked.status_code == 200 and (Rider.objects.count(), Bike.objects.count()) == before
    for words in (
        "Runa Telvik, in the Book already, new bike Marn enduro", "new rider New One, new bike Hollin",
        "New One, of line 3, new bike Second", "1 new rider, 3 new bikes, 3 rows", "Nothing is saved yet.",
    ):  # fmt: skip
        assert words in text, words
    saved = people.send(owner, IN, seen(looked))
    assert saved.status_code == 303 and (Rider.objects.count(), Bike.objects.count()) == (before[0] + 1, before[1] + 3)
    again = people.send(owner, IN, {"file": file(CSV)})
    assert "All of it is in the Book already." in again.content.decode() and 'name="seen"' not in again.content.decode()


def test_every_fault_of_every_row_stands_at_once_and_nothing_can_be_saved(owner: Client) -> None:
    before = Rider.objects.count()
    wrong = "name,mass,bike,frame.reach\nGood One,80,,\nA,3 mm,B,470 mm\n,80,C,\nE,80,F,4 km\n"
    answer = people.send(owner, IN, {"file": file(wrong)})
    text = unescape(answer.content.decode())
    assert answer.status_code == 422 and Rider.objects.count() == before
    for line, column in ((3, "mass"), (4, "name"), (5, "frame.reach")):
        assert f"Line {line}: {column}: " in text, (line, column)
    assert 'name="seen"' not in text, "no button saves what is at fault"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "The file is empty."), (b" \n", "there is nothing in it"), (b"name,mas\n", "no such column. Is it mass?"),
        (b"name\nA\xff\n", "not UTF-8"), (b"\x89PNG\r\n\x1a\n", "UTF-8"), (b"name\n" + b"A" * 600_000, "longer than 500 kB"),
    ],
)  # fmt: skip
def test_a_file_that_is_none_is_refused_in_words(owner: Client, data: bytes, says: str) -> None:
    answer = people.send(owner, IN, {"file": file(data)})
    assert answer.status_code == 422 and says in unescape(answer.content.decode())


def test_nothing_sent_says_so_and_a_text_that_nobody_looked_at_is_only_looked_at(owner: Client) -> None:
    assert people.send(owner, IN, {}).status_code == 422
    before = Rider.objects.count()
    looked = people.send(owner, IN, {"text": CSV})
    assert looked.status_code == 200 and Rider.objects.count() == before
    forged = people.send(owner, IN, {"text": CSV.replace("New One", "Another"), "seen": seen(looked)["seen"]})
    assert forged.status_code == 422 and "The Book changed meanwhile" in forged.content.decode()
    assert Rider.objects.count() == before


def test_a_rider_written_in_meanwhile_is_not_saved_twice(owner: Client) -> None:
    """Looked at, then the same rider came by the other door: the rows are shown once more, nothing is saved."""
    looked = seen(people.send(owner, IN, {"file": file("name,telephone\nNew One,0555 77\n")}))
    Rider.objects.create(name="new one", phone="055577", made_at=Rider.objects.all()[0].made_at)
    before = Rider.objects.count()
    answer = people.send(owner, IN, looked)
    assert answer.status_code == 422 and "in the Book already" in answer.content.decode()
    assert Rider.objects.count() == before


def test_sent_twice_it_is_saved_once(owner: Client) -> None:
    looked = seen(people.send(owner, IN, {"file": file("name,telephone\nNew One,0555 77\n")}))
    assert people.send(owner, IN, looked, times=2).status_code == 303
    assert Rider.objects.filter(name="New One").count() == 1
