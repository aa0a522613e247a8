"""Each database has a folder of photos of its own; one that databases shared is parted without losing or doubling a photo."""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from pathlib import Path

import pytest

from topout.web import opening, own_photos, start
from topout.web.backup.files import locked
from topout.web.backup.restore import open_lock
from topout.web.environment import Environment, Files, files
from web import raw

ONLY_DEMO, ONLY_WORKSHOP, BOTH = b"of the demo", b"of the workshop", b"of both"


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def keep(folder: Path, data: bytes) -> Path:
    path = folder / sha256(data)[:2] / f"{sha256(data)}.jpg"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


def database(folder: Path, name: str, *photos: bytes) -> None:
    with raw.opened(folder / name) as base:
        base.execute("CREATE TABLE jobs_photo (sha256 TEXT)")
        base.executemany("INSERT INTO jobs_photo VALUES (?)", [(sha256(data),) for data in photos])


def of(folder: Path, name: str = "workshop.sqlite3", **more: str) -> Files:
    return files(Environment({"TOPOUT_DATABASE": str(folder / name), **more}))


def held(folder: Path) -> set[bytes]:
    return {path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    """A folder as an earlier version left it: demo and workshop beside one folder of photos, one of them not saved yet."""
    database(tmp_path, "demo.sqlite3", ONLY_DEMO, BOTH)
    database(tmp_path, "workshop.sqlite3", ONLY_WORKSHOP, BOTH)
    for data in (ONLY_DEMO, ONLY_WORKSHOP, BOTH):
        keep(tmp_path / "photos", data)
    (tmp_path / "photos" / "held").mkdir()
    (tmp_path / "photos" / "held" / "a.jpg").write_bytes(b"not saved yet")
    return tmp_path


def test_a_new_database_has_a_folder_of_its_name_whatever_lies_beside(shared: Path) -> None:
    assert of(shared, "third.sqlite3").photos == shared / "third.photos"
    assert of(shared, "elsewhere/workshop.sqlite3").photos == shared / "elsewhere" / "workshop.photos"


def test_of_two_databases_each_gets_its_own_photos_and_the_last_one_the_folder(shared: Path) -> None:
    assert of(shared).photos == of(shared, "demo.sqlite3").photos == shared / "photos", "used where it lies, until then"
    inode = (shared / "photos" / sha256(BOTH)[:2] / f"{sha256(BOTH)}.jpg").stat().st_ino
    said = own_photos.give_own(of(shared, "demo.sqlite3"))
    assert "demo.photos" in said and of(shared, "demo.sqlite3").photos == shared / "demo.photos"
    assert held(shared / "demo.photos") == {ONLY_DEMO, BOTH, b"not saved yet"}
    assert (shared / "demo.photos" / sha256(BOTH)[:2] / f"{sha256(BOTH)}.jpg").stat().st_ino == inode, "no second copy"
    assert held(shared / "photos") == {ONLY_DEMO, ONLY_WORKSHOP, BOTH, b"not saved yet"}, "the workshop's are all there"
    assert own_photos.give_own(of(shared, "demo.sqlite3")) == ""
    assert "workshop.photos" in own_photos.give_own(of(shared))
    assert of(shared).photos == shared / "workshop.photos" and not (shared / "photos").exists()
    assert held(shared / "workshop.photos") >= {ONLY_WORKSHOP, BOTH, b"not saved yet"}


def test_a_database_of_any_name_keeps_the_folder_in_use(shared: Path) -> None:
    database(shared, "old.db", ONLY_DEMO)
    own_photos.give_own(of(shared, "demo.sqlite3"))
    own_photos.give_own(of(shared))
    assert of(shared, "old.db").photos == shared / "photos" and ONLY_DEMO in held(shared / "photos")
    own_photos.give_own(of(shared, "old.db"))
    assert of(shared, "old.db").photos == shared / "old.photos" and not (shared / "photos").exists()


def test_a_disk_without_second_names_takes_copies(shared: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise OSError(95, "not supported")

    monkeypatch.setattr("os.link", refused)
    own_photos.give_own(of(shared, "demo.sqlite3"))
    assert held(shared / "demo.photos") == {ONLY_DEMO, BOTH, b"not saved yet"}


@pytest.mark.parametrize("linked", [0, 1, 2])
def test_a_power_cut_meanwhile_leaves_the_shared_folder_in_use(
    shared: Path, monkeypatch: pytest.MonkeyPatch, linked: int
) -> None:
    """The folder has its name once it is whole; what broke off is begun anew."""
    whole = own_photos._link
    count: list[Path] = []

    def cut(source: Path, target: Path) -> None:
        if len(count) == linked:
            raise KeyboardInterrupt
        count.append(source)
        whole(source, target)

    monkeypatch.setattr(own_photos, "_link", cut)
    with suppress(KeyboardInterrupt):
        own_photos.give_own(of(shared, "demo.sqlite3"))
    assert of(shared, "demo.sqlite3").photos == shared / "photos"
    monkeypatch.undo()
    own_photos.give_own(of(shared, "demo.sqlite3"))
    assert held(shared / "demo.photos") == {ONLY_DEMO, BOTH, b"not saved yet"}
    assert {path.name for path in shared.glob("demo.*")} == {"demo.lock", "demo.photos", "demo.sqlite3"}


def test_an_open_workshop_a_spoilt_file_and_a_named_folder_keep_what_they_have(shared: Path) -> None:
    with locked(open_lock(shared / "workshop.sqlite3"), shared=True):
        assert own_photos.give_own(of(shared)) == ""
    for name in ("photos of mine", "photos"):
        named = of(shared, TOPOUT_PHOTOS=str(shared / name))
        assert own_photos.give_own(named) == "" and named.photos == shared / name
    (shared / "workshop.sqlite3").write_text("Kiln Row, list of jobs")
    assert own_photos.give_own(of(shared)) == "", "the start says what is wrong with the file"
    assert held(shared / "photos") == {ONLY_DEMO, ONLY_WORKSHOP, BOTH, b"not saved yet"}
    assert not list(shared.glob("*.photos"))


def test_a_named_folder_that_became_anothers_own_is_missed_in_words_at_start(
    shared: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A database elsewhere names the folder of a workshop; that workshop's upgrade renames it."""
    (shared / "elsewhere").mkdir()
    database(shared / "elsewhere", "third.sqlite3", BOTH)
    third = {"TOPOUT_DATABASE": str(shared / "elsewhere/third.sqlite3"), "TOPOUT_PHOTOS": str(shared / "photos")}
    assert own_photos.without_folder(files(Environment(third))) == ""
    own_photos.give_own(of(shared, "demo.sqlite3"))
    own_photos.give_own(of(shared))
    monkeypatch.setattr("os.environ", {**os.environ, **third})
    with pytest.raises(start.Refused) as refused:
        opening.look_for_photos()
    said = str(refused.value)
    assert f"{shared / 'photos'}: TOPOUT_PHOTOS names this folder, and it is not there" in said
    assert "1 photos" not in said and "the photo that the records name is in it" in said
    assert f"TOPOUT_PHOTOS={shared / 'demo.photos'}" in said and said.endswith("Then start again.")
    assert not (shared / "photos").exists(), "no empty folder takes its place"
    monkeypatch.setitem(os.environ, "TOPOUT_PHOTOS", str(shared / "workshop.photos"))
    opening.look_for_photos()


def test_a_database_that_came_without_its_photos_is_missed_in_words_at_start(tmp_path: Path) -> None:
    database(tmp_path, "workshop.sqlite3", ONLY_WORKSHOP, BOTH)
    said = own_photos.without_folder(of(tmp_path))
    assert "workshop.photos: the photos stand beside the database, and it is not there; 2 photos" in said
    assert "make an empty one of that name" in said
    (tmp_path / "workshop.photos").mkdir()
    assert own_photos.without_folder(of(tmp_path)) == "", "the way out that it names"
    database(tmp_path, "new.sqlite3")
    assert own_photos.without_folder(of(tmp_path, "new.sqlite3")) == "", "no photo is named: none is missed"
    assert own_photos.without_folder(of(tmp_path, "none.sqlite3")) == ""
