"""A copy of the workshop: whole under load, checked to the last byte, never half, put back elsewhere with the same sheet."""

from __future__ import annotations

import hashlib
import io
import json
import os
import random
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.test.utils import override_settings

import warm
from topout.web.backup import archive, at_start, files, make, names, progress, snapshot, witness
from topout.web.backup import restore as put_back
from topout.web.backup.files import locked
from topout.web.backup.make import NoCopy, Source
from topout.web.jobs.records.models import Photo, ReleasedSheet
from web import people, raw
from web.shared import once_a_run, using_file

ROOT = Path(__file__).parents[2]
NOW = datetime(2026, 11, 29, 2, 30, tzinfo=UTC)


def source_of(database: Path) -> Source:
    return Source(database, database.parent / "photos")


def fine(database: Path) -> str:
    return ""


def looked_at(database: Path) -> str:
    """What the command asks of a copy's database."""
    found = at_start.contents(database)
    return "" if found is None else found.words


def restored(path: Path, folder: Path, look: Callable[[Path], str] = fine) -> Path:
    """The database that a copy is put back as."""
    target = put_back.Target(folder / "workshop.sqlite3", folder / "photos")
    put_back.restore(path, target, NOW, look)
    return target.database


def content(path: Path) -> list[str]:
    with raw.opened(path) as base:
        return list(base.iterdump())


@pytest.fixture(scope="session")
def copied(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo, made once a run."""

    def copy_demo(folder: Path) -> None:
        shutil.copyfile(demo_file, folder / "demo.sqlite3")
        shutil.copytree(demo_file.parent / "photos", folder / "photos")
        (folder / "out").mkdir()
        make.make(source_of(folder / "demo.sqlite3"), folder / "out", names.ASKED, NOW)

    (made,) = (once_a_run(tmp_path_factory, "copied", copy_demo) / "out").glob("*.zip")
    return made


@pytest.fixture
def copy(demo: Path, copied: Path, tmp_path: Path) -> Path:
    """This test's own, of the same demo."""
    shutil.copytree(copied.parent, tmp_path / "out")
    return tmp_path / "out" / copied.name


def test_a_copy_holds_every_row_and_every_photo_and_is_for_its_owner_alone(
    demo: Path, copy: Path, tmp_path: Path
) -> None:
    about = archive.check(copy)
    assert about.whole and about.reason == "asked" and about.made_at == "2026-11-29T02:30:00+00:00"
    assert set(about.files) == {archive.DATABASE, *(archive.photo_name(row.sha256) for row in Photo.objects.all())}
    assert about.counts["jobs_photo"] == Photo.objects.count() > 0 and about.releases > 0
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert [path.name for path in copy.parent.iterdir() if not path.name.startswith(".topout.lock")] == [copy.name]
    place = restored(copy, tmp_path / "elsewhere")
    assert content(place) == content(demo)
    for sha256 in Photo.objects.values_list("sha256", flat=True):
        path = place.parent / archive.photo_name(sha256)
        assert archive.sha256_of(path) == sha256 and stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(place.stat().st_mode) == 0o600 and stat.S_IMODE(place.parent.stat().st_mode) == 0o700


def test_what_lies_only_in_a_write_ahead_log_is_copied(tmp_path: Path) -> None:
    """The file alone lacks it: a copy of the file would too."""
    path = tmp_path / "w.sqlite3"
    (tmp_path / "out").mkdir()
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        base.execute("PRAGMA journal_mode=WAL")
        base.execute("CREATE TABLE reading (id INTEGER PRIMARY KEY)")
        base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        base.execute("INSERT INTO reading DEFAULT VALUES")
        base.execute("CREATE TABLE jobs_photo (sha256 TEXT, size_bytes INTEGER)")
        made = make.make(source_of(path), tmp_path / "out", names.ASKED, NOW)
        assert made.about.counts == {"reading": 1, "jobs_photo": 0}
        assert base.execute("PRAGMA journal_mode").fetchone()[0] == "wal"


@pytest.mark.parametrize("fault", ["gone", "other bytes", "a folder"])
def test_a_photo_that_is_not_there_or_not_itself_is_said_and_left_out(demo: Path, tmp_path: Path, fault: str) -> None:
    row = Photo.objects.first()
    assert row is not None
    path = demo.parent / archive.photo_name(row.sha256)
    path.unlink()
    if fault == "other bytes":
        path.write_bytes(b"x" * row.size_bytes)
    elif fault == "a folder":
        path.mkdir()
    (tmp_path / "out").mkdir()
    made = make.make(source_of(demo), tmp_path / "out", names.ASKED, NOW)
    assert not made.about.whole and row.sha256[:12] in made.about.losses[0] and len(made.about.losses) == 1
    assert archive.photo_name(row.sha256) not in made.about.files


def test_a_damaged_database_is_no_copy(demo: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    with demo.open("r+b") as file:
        file.seek(4096 * 40)
        file.write(b"\xff" * 4096 * 3)
    with pytest.raises(NoCopy, match="damaged"):
        make.make(source_of(demo), tmp_path / "out", names.ASKED, NOW)
    assert not list((tmp_path / "out").glob("*.zip"))


@pytest.mark.parametrize("every", [3, pytest.param(1, marks=pytest.mark.soak)])
def test_a_byte_anywhere_that_is_another_is_found_or_says_nothing(copy: Path, tmp_path: Path, every: int) -> None:
    """Whatever of the file is flipped, the check refuses it, or all that it would put back is the same."""
    whole, about = copy.read_bytes(), archive.check(copy)
    chance, spoilt, found = random.Random(7), tmp_path / "spoilt.zip", 0
    ends = [*range(64), *range(len(whole) - 400, len(whole))]
    places = [*ends, *(chance.randrange(len(whole)) for _ in range(200))][::every]
    for place in places:
        spoilt.write_bytes(whole[:place] + bytes([whole[place] ^ chance.randrange(1, 256)]) + whole[place + 1 :])
        try:
            assert archive.check(spoilt) == about, place
        except archive.NotACopy:
            found += 1
    assert found > len(places) * 0.45


@pytest.mark.parametrize("share", [0.0, 0.01, 0.5, 0.99, 0.9999])
def test_a_file_cut_short_is_no_copy(copy: Path, tmp_path: Path, share: float) -> None:
    whole = copy.read_bytes()
    short = tmp_path / "short.zip"
    short.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(archive.NotACopy):
        archive.check(short)
    with pytest.raises(archive.NotACopy):
        restored(short, tmp_path / "elsewhere")
    assert not (tmp_path / "elsewhere").exists()


def rewritten(copy: Path, target: Path, change: dict[str, object], *more: tuple[str, bytes]) -> Path:
    """A copy with another list, and other files beside."""
    with zipfile.ZipFile(copy) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == archive.MANIFEST:
                data = json.dumps({**json.loads(data), **change}).encode()
            new.writestr(name, data)
        for name, data in more:
            new.writestr(name, data)
    return target


HOSTILE: list[tuple[dict[str, object], list[tuple[str, bytes]], str]] = [
    ({"format": "other"}, [], "not a copy"),
    ({"format_version": 2}, [], "another Topout"),
    ({"counts": {"jobs_job": 1}}, [], "not what its list says"),
    ({"started_at": "2020-01-01 00:00:00"}, [], "not what its list says"),
    ({"migrations": []}, [], "not what its list says"),
    ({"made_at": "yesterday"}, [], "can’t be read"),
    ({"files": {}}, [], "can’t be read"),
    ({"files": {"../up.sqlite3": {"bytes": 1, "sha256": "0" * 64}}}, [("../up.sqlite3", b"x")], "can’t be read"),
    ({"files": [1]}, [], "can’t be read"),
    ({"losses": [1]}, [], "can’t be read"),
    ({"workshop": "x" * 2_000_000}, [], "can’t be read"),  # two megabytes on a terminal
    ({"releases": 99}, [], "not what its list says"),
    ({"counts": {"jobs_job": 10**400}}, [], "can’t be read"),
    (
        {"files": {"workshop.sqlite3": {"bytes": 10**400, "sha256": "0" * 64}}},
        [],
        "can’t be read",
    ),  # no float is as large
    ({}, [("../up.txt", b"x")], "other files"),
    ({}, [("photos/ab/x.jpg", b"x")], "other files"),
]


@pytest.mark.parametrize(("change", "more", "says"), HOSTILE, ids=range(len(HOSTILE)))
def test_a_copy_that_somebody_wrote_by_hand_puts_nothing_anywhere(
    copy: Path, tmp_path: Path, change: dict[str, object], more: list[tuple[str, bytes]], says: str
) -> None:
    path = rewritten(copy, tmp_path / "hostile.zip", change, *more)
    before = set(tmp_path.rglob("*"))
    with pytest.raises((archive.NotACopy, put_back.NotRestored), match=says):
        restored(path, tmp_path / "elsewhere")
    assert set(tmp_path.rglob("*")) == before


def swapped(copy: Path, target: Path, *statements: str) -> Path:
    """A copy whose database somebody changed, with a list that fits it: sizes, sums and counts."""
    database = target.with_suffix(".sqlite3")
    with zipfile.ZipFile(copy) as old:
        database.write_bytes(old.read(archive.DATABASE))
        given = json.loads(old.read(archive.MANIFEST))
    with raw.opened(database) as base:
        for statement in statements:
            base.execute(statement)
    facts, data = snapshot.facts(database), database.read_bytes()
    database.unlink()
    entry = {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
    change = {
        "counts": facts.counts,
        "migrations": facts.migrations,
        "files": {**given["files"], archive.DATABASE: entry},
    }
    with zipfile.ZipFile(copy) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            kept = {archive.MANIFEST: json.dumps({**given, **change}).encode(), archive.DATABASE: data}
            new.writestr(name, kept.get(name) or old.read(name))
    return target


OTHER_DATABASES = {
    "no table": (("DROP TABLE jobs_draft",), "the table jobs_draft is not there"),
    "not the first": (("DROP TABLE access_workshop",), "not what its list says"),
    "a view": (
        ("ALTER TABLE shelf_part RENAME TO elsewhere", "CREATE VIEW shelf_part AS SELECT * FROM elsewhere"),
        "the table shelf_part is not there",
    ),
    "no column": (("ALTER TABLE shelf_part DROP COLUMN cost",), "shelf_part has no column cost"),
    "a column more": (("ALTER TABLE book_family ADD COLUMN more TEXT",), "book_family has a column more, of no migration"),
    "a migration less": (("DELETE FROM django_migrations WHERE app = 'jobs' AND name LIKE '0012%'",), "the migration jobs 0012_on_the_bench is not noted, and a later one is"),
    "no migration": (("DELETE FROM django_migrations WHERE app = 'jobs'",), "is there, and not its migration, and"),
    "a photo more": (
        ("INSERT INTO jobs_photo SELECT 9999, job_id, sequence + 9999, who_id, who_name, at, 'ab', width_px, height_px, size_bytes, \"of\", step_key "
         "FROM jobs_photo WHERE job_id NOT IN (SELECT job_id FROM jobs_release) LIMIT 1",), "not what its list says",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("statements", "says"), OTHER_DATABASES.values(), ids=OTHER_DATABASES)
def test_a_copy_with_another_database_in_it_is_put_back_nowhere(
    copy: Path, tmp_path: Path, statements: tuple[str, ...], says: str
) -> None:
    """SQLite finds each of them whole; put back, the start ended in a traceback, or the first page that asked did."""
    path = swapped(copy, tmp_path / "other.zip", *statements)
    archive.check(path)
    with pytest.raises(put_back.NotRestored, match=says):
        restored(path, tmp_path / "elsewhere", looked_at)
    assert not (tmp_path / "elsewhere").exists()


def test_a_photo_in_the_copy_under_another_name_is_refused(copy: Path, tmp_path: Path) -> None:
    about = archive.read(copy)
    name = archive.photo_name("ab" * 32)
    files = {key: vars(entry) for key, entry in about.files.items()} | {name: {"bytes": 1, "sha256": "0" * 64}}
    with pytest.raises(archive.NotACopy, match="can’t be read"):
        archive.check(rewritten(copy, tmp_path / "x.zip", {"files": files}, (name, b"x")))


def test_another_zip_and_another_file_are_no_copy(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as other:
        other.writestr("letter.txt", "mine")
    (tmp_path / "letter.zip").write_text("mine")
    (tmp_path / "folder.zip").mkdir()
    os.mkfifo(tmp_path / "pipe.zip")  # nobody writes to it
    for name in ("other.zip", "letter.zip", "folder.zip", "pipe.zip"):
        with pytest.raises(archive.NotACopy, match=name):
            archive.check(tmp_path / name)
    with pytest.raises(archive.NotACopy, match="no file on a disk"):
        archive.read(Path("/dev/zero"))


def test_a_live_workshop_is_not_replaced_unasked_and_asked_the_old_is_kept(
    demo: Path, copy: Path, tmp_path: Path
) -> None:
    place = tmp_path / "live"
    database = restored(copy, place)
    with raw.opened(database) as base:
        base.execute("UPDATE book_rider SET name = 'Somebody New'")
    changed = content(database)
    target = put_back.Target(database, place / "photos")
    with pytest.raises(put_back.NotRestored, match="--replace"):
        put_back.restore(copy, target, NOW, fine)
    assert content(database) == changed
    (place / "workshop.witness").write_text("{}")
    done = put_back.restore(copy, target, NOW, fine, replace=True)
    assert done.old is not None and content(database) == content(demo)
    assert content(done.old / "workshop.sqlite3") == changed and (done.old / "workshop.witness").exists()
    for sha256 in Photo.objects.values_list("sha256", flat=True):
        assert archive.sha256_of(done.old / archive.photo_name(sha256)) == sha256
        assert archive.sha256_of(place / archive.photo_name(sha256)) == sha256


def test_a_restore_that_breaks_off_between_two_renames_is_noticed_at_the_start(
    copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worst moment: the old database is aside, the new one has no name yet. The next start begins no new workshop."""
    database = restored(copy, tmp_path / "live")
    before = content(database)
    files.save_json(witness.path_of(database), vars(witness.Witness("2026-11-01 08:00:00", 3, "k", 1, "job 214")))

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(put_back, "_name", cut)
    with pytest.raises(KeyboardInterrupt):
        put_back.restore(copy, put_back.Target(database, database.parent / "photos"), NOW, fine, replace=True)
    (old,) = database.parent.glob("before-restore-*")
    assert not database.exists() and content(old / database.name) == before
    found = at_start.look(database)
    assert found is not None and "is not there" in found.words and "job 214" in found.words


def test_a_workshop_that_is_open_is_not_replaced(copy: Path, tmp_path: Path) -> None:
    database = restored(copy, tmp_path / "live")
    target = put_back.Target(database, tmp_path / "live" / "photos")
    with locked(put_back.open_lock(database), shared=True), pytest.raises(put_back.NotRestored, match="is open"):
        put_back.restore(copy, target, NOW, fine, replace=True)
    with closing(sqlite3.connect(database, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(put_back.NotRestored, match="is open"):
            put_back.restore(copy, target, NOW, fine, replace=True)
    assert put_back.restore(copy, target, NOW, fine, replace=True).old is not None


def test_a_workshop_that_is_made_meanwhile_stays(copy: Path, tmp_path: Path) -> None:
    place = tmp_path / "elsewhere"

    def look(database: Path) -> str:
        place.mkdir()
        (place / "workshop.sqlite3").write_bytes(b"another start was first")
        return ""

    with pytest.raises(put_back.NotRestored, match="meanwhile"):
        put_back.restore(copy, put_back.Target(place / "workshop.sqlite3", place / "photos"), NOW, look)
    assert (place / "workshop.sqlite3").read_bytes() == b"another start was first"


def test_a_photo_folder_that_the_demo_uses_too_keeps_its_photos(copy: Path, tmp_path: Path) -> None:
    theirs = tmp_path / "both" / "photos" / "ab" / f"{'ab' * 32}.jpg"
    theirs.parent.mkdir(parents=True)
    theirs.write_bytes(b"of the demo")
    restored(copy, tmp_path / "both")
    assert theirs.read_bytes() == b"of the demo"


@pytest.mark.parametrize("left", [0, 1000])
def test_a_disk_without_room_is_said_before_anything_is_written(
    demo: Path, copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, left: int
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda path: shutil._ntuple_diskusage(1, 1, left))  # type: ignore[attr-defined]
    before = set(tmp_path.rglob("*"))
    with pytest.raises(NoCopy, match="has room for"):
        make.make(source_of(demo), copy.parent, names.ASKED, NOW)
    with pytest.raises(put_back.NotRestored, match="has room for"):
        restored(copy, tmp_path / "elsewhere")
    assert set(tmp_path.rglob("*")) == before


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a small disk")
def test_a_disk_that_fills_meanwhile_leaves_no_copy_and_no_half_place(
    demo: Path, copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk of 600 kB, and nobody looked before."""
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(small)], capture_output=True)
    if mounted.returncode:
        pytest.skip("this machine mounts nothing")
    try:
        monkeypatch.setattr(make, "_look_for_room", lambda *_: None)
        monkeypatch.setattr(put_back, "_look_for_room", lambda *_: None)
        with pytest.raises(NoCopy, match="disk .* is full"):
            make.make(source_of(demo), small, names.ASKED, NOW)
        with pytest.raises(put_back.NotRestored, match="disk .* is full"):
            restored(copy, small / "place")
        assert {path.name for path in small.iterdir()} <= {make.LOCK}
    finally:
        subprocess.run(["umount", str(small)], check=True)


def test_a_folder_that_is_not_there_is_not_made(demo: Path, tmp_path: Path) -> None:
    """A disk that is not plugged in: a folder made in its stead would lie on the disk that is to be copied."""
    with pytest.raises(NoCopy, match="no such folder"):
        make.make(source_of(demo), tmp_path / "stick", names.ASKED, NOW)
    assert not (tmp_path / "stick").exists()


def test_two_copies_at_once_in_one_folder_are_one_and_a_word(demo: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    with locked(tmp_path / "out" / make.LOCK), pytest.raises(make.Busy):
        make.make(source_of(demo), tmp_path / "out", names.ASKED, NOW)
    first = make.make(source_of(demo), tmp_path / "out", names.ASKED, NOW)
    second = make.make(source_of(demo), tmp_path / "out", names.ASKED, NOW)
    assert first.path != second.path and archive.check(first.path) == archive.check(second.path)


WRITER = """
import sqlite3, sys, time
from contextlib import closing
path, name, acknowledged = sys.argv[1:]
with closing(sqlite3.connect(path, timeout=60, isolation_level=None)) as base, open(acknowledged, "w") as log:
    base.execute("PRAGMA synchronous=OFF")
    n = 0
    while True:
        n += 1
        base.execute("BEGIN IMMEDIATE")
        base.execute("INSERT INTO load (who, n, twin) VALUES (?, ?, ?)", (name, n, n * 7))
        base.execute("UPDATE total SET n = n + 1")
        base.execute("COMMIT")
        log.write(f"{n}\\n"); log.flush()
        time.sleep(0.002)
"""


@contextmanager
def three_writers(database: Path, folder: Path) -> Iterator[list[Path]]:
    """Three processes that write in pairs, each with a log of what was acknowledged."""
    with closing(sqlite3.connect(database, isolation_level=None)) as base:
        base.execute("CREATE TABLE load (id INTEGER PRIMARY KEY, who TEXT, n INTEGER, twin INTEGER)")
        base.execute("CREATE TABLE total (n INTEGER)")
        base.execute("INSERT INTO total VALUES (0)")
    logs = [folder / f"writer-{n}" for n in range(3)]
    running = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(database), log.name, str(log)], stderr=subprocess.PIPE)
        for log in logs
    ]
    try:
        yield logs
        assert all(process.poll() is None for process in running), [process.stderr and process.stderr.read() for process in running]  # fmt: skip
    finally:
        for process in running:
            process.kill()
            process.communicate()


def acknowledged(log: Path) -> int:
    lines = log.read_text().splitlines() if log.exists() else []
    return int(lines[-1]) if lines else 0


def under_load(database: Path, tmp_path: Path, count: int) -> int:
    """Make copies while three processes write; each is read back, put back elsewhere and compared. How many changes were copied."""
    out = tmp_path / "out"
    out.mkdir()
    rows = 0
    with three_writers(database, tmp_path) as logs:
        while not all(acknowledged(log) for log in logs):
            time.sleep(0.02)
        for n in range(count):
            before = [acknowledged(log) for log in logs]
            made = make.make(source_of(database), out, names.ASKED, NOW)
            after = [acknowledged(log) for log in logs]
            assert made.about.whole, made.about.losses
            place = tmp_path / f"back-{n}"
            with raw.opened(restored(made.path, place)) as base:
                assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
                found = dict(base.execute("SELECT who, max(n) FROM load GROUP BY who").fetchall())
                whole = base.execute("SELECT count(*), sum(twin <> n * 7) FROM load").fetchone()
                # A moment between two changes, never amid one; all that was acknowledged before, nothing from the future.
                assert whole == (sum(found.values()), 0)
                assert base.execute("SELECT n FROM total").fetchone()[0] == whole[0] == made.about.counts["load"]
                for log, least, most in zip(logs, before, after, strict=True):
                    assert least <= found[log.name] <= most + 1, (log.name, least, found[log.name], most)
                rows = whole[0]
            shutil.rmtree(place)
            made.path.unlink()
    return rows


@pytest.mark.parametrize("journal", ["wal", "delete"])
def test_copies_under_three_writers_are_whole(demo: Path, tmp_path: Path, journal: str) -> None:
    with closing(sqlite3.connect(demo)) as base:
        base.execute(f"PRAGMA journal_mode={journal}")
    assert under_load(demo, tmp_path, 4) > 12


@pytest.mark.soak
@pytest.mark.parametrize("journal", ["wal", "delete"])
@pytest.mark.parametrize("piece", range(20))
def test_a_thousand_copies_under_three_writers_are_whole(demo: Path, tmp_path: Path, journal: str, piece: int) -> None:
    """A thousand in pieces of 25, so that a run which is stopped has shown what it has shown."""
    with closing(sqlite3.connect(demo)) as base:
        base.execute(f"PRAGMA journal_mode={journal}")
    assert under_load(demo, tmp_path, 25) > 75


MAKER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from topout.web.backup import make, names
database, out = map(Path, sys.argv[1:])
print("ready", flush=True)
while True:
    make.make(make.Source(database, database.parent / "photos"), out, names.ASKED, datetime.now(UTC))
"""


def killed_amid(database: Path, out: Path, times: int) -> int:
    """Kill the maker at chance moments of up to two copies' time, as it is here and now; how many whole copies are there."""
    chance = random.Random(11)
    begun = time.perf_counter()
    make.make(source_of(database), out, names.ASKED, NOW).path.unlink()
    longest = 2 * (time.perf_counter() - begun)
    for _ in range(times):
        child = subprocess.Popen(
            [sys.executable, "-c", MAKER, str(database), str(out)], stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "DJANGO_SETTINGS_MODULE": "topout.web.settings"},
        )  # fmt: skip
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(chance.uniform(0.0, longest))
        child.send_signal(signal.SIGKILL)
        child.communicate()
    for path in out.iterdir():
        if names.read(path.name) is not None:
            archive.check(path)  # raises for half a one
    return len(list(out.glob("*.zip")))


def test_a_maker_killed_at_any_moment_leaves_no_half_copy(demo: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    killed_amid(demo, out, 6)
    made = make.make(source_of(demo), out, names.ASKED, NOW)
    archive.check(made.path)
    assert not list(out.glob(f"{make.UNFINISHED}*")), "what broke off is gone with the next copy"


@pytest.mark.soak
def test_a_maker_killed_two_hundred_times_leaves_no_half_copy(demo: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    assert killed_amid(demo, out, 200) > 10


def topout(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("TOPOUT_", "DJANGO_"))}
    line = [*warm.line(), *words]
    env = {**kept, "HOME": str(folder), "XDG_DATA_HOME": str(folder / "data"), "PYTHONPATH": str(ROOT / "src")}
    return subprocess.run(line, env=env, capture_output=True, text=True, timeout=120)


def test_by_the_commands_a_workshop_is_copied_put_back_and_shows_the_same_sheet(demo: Path, tmp_path: Path) -> None:
    """Backup, restore elsewhere, verify; then sign in there and fetch the sheet."""
    with raw.opened(demo) as base:
        base.execute("UPDATE access_workshop SET demo = 0")
    sheet = ReleasedSheet.objects.select_related("release__job").first()
    assert sheet is not None
    number, pdf = sheet.release.job.number, bytes(sheet.pdf)
    live = tmp_path / "live"
    live.mkdir()
    shutil.copyfile(demo, live / "workshop.sqlite3")
    shutil.copytree(demo.parent / "photos", live / "photos")
    (tmp_path / "stick").mkdir()
    first = topout(tmp_path, "backup", "--data", str(live), str(tmp_path / "stick"))
    assert (first.returncode, first.stderr) == (0, ""), first
    (copy,) = (tmp_path / "stick").glob("topout-*-asked.zip")
    assert str(copy) in first.stdout and "last hand-over job" in first.stdout
    second = topout(tmp_path, "restore", "--data", str(tmp_path / "new"), str(copy))
    assert (second.returncode, second.stderr) == (0, ""), second
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == ["workshop.photos", "workshop.sqlite3"]
    again = topout(tmp_path, "restore", "--data", str(tmp_path / "new"), str(copy))
    assert again.returncode == 2 and again.stdout == "" and "--replace" in again.stderr
    for words in (["verify", str(copy)], ["verify", "--data", str(tmp_path / "new")]):
        looked = topout(tmp_path, *words)
        assert (looked.returncode, looked.stderr) == (0, ""), looked
        assert "All is as it was saved." in looked.stdout
    opened = topout(tmp_path, "serve", "--no-serve", "--data", str(tmp_path / "new"))
    assert opened.returncode == 0, opened.stderr
    with (
        using_file(tmp_path / "new" / "workshop.sqlite3"),
        override_settings(PHOTOS=tmp_path / "new" / "workshop.photos"),
    ):
        client = people.browser()
        user = User.objects.get(username="maud")
        user.set_password(people.PASSWORD)
        user.save()
        page = client.get("/sign-in/")
        data = {"csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken"), "name": "maud", "password": people.PASSWORD}  # fmt: skip
        assert client.post("/sign-in/", data).status_code in (302, 303)
        answer = client.get(f"/jobs/{number}/sheet.pdf")
        assert answer.status_code == 200 and answer.content == pdf


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["backup"], "there is no workshop to copy"), (["backup", "--nights"], "no option"), (["restore"], "copy is missing"),
        (["restore", "/no/such/copy.zip"], "can’t be read"), (["restore", "a", "b"], "no option"),
        (["verify"], "there is no workshop"), (["verify", "--data=--"], "is no value"), (["verify", "/no/such/copy.zip"], "can’t be read"),
    ],
)  # fmt: skip
def test_what_a_command_can_not_do_is_a_line_and_makes_nothing(tmp_path: Path, words: list[str], says: str) -> None:
    done = topout(tmp_path, *words)
    assert done.returncode == 2 and done.stdout == "" and says in done.stderr, done
    assert len(done.stderr.splitlines()) == 1 and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_progress_is_shown_after_a_second_on_a_terminal_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with progress.on_terminal() as tell:
        assert tell is progress.silent
    shown = Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    with progress.on_terminal() as tell:
        tell("Photos", 1, 4)
        assert shown.getvalue() == ""
    monkeypatch.setattr(progress, "SHOWN_AFTER_S", 0.0)
    with progress.on_terminal() as tell:
        tell("Photos", 1, 4)
        time.sleep(0.2)
    assert "Photos" in shown.getvalue()


def test_the_facts_are_read_of_an_older_database_too(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite3"
    with raw.opened(path) as base:
        base.execute("CREATE TABLE access_workshop (name TEXT, started_at TEXT, demo INTEGER)")
        base.execute("INSERT INTO access_workshop VALUES ('Kiln Row', '2026-11-01 08:00:00', 0)")
    facts = snapshot.facts(path)
    assert facts == replace(facts, workshop="Kiln Row", releases=0, photos=(), migrations=(), last_release="")


def test_threads_that_ask_meanwhile_wait_no_longer_than_the_pages_take(demo: Path, tmp_path: Path) -> None:
    """A writer with a rollback journal waits for the copying of the pages, not for the zip nor the check."""
    out = tmp_path / "out"
    out.mkdir()
    waits: list[float] = []
    ended = threading.Event()

    def write() -> None:
        with closing(sqlite3.connect(demo, timeout=20, isolation_level=None)) as base:
            base.execute("PRAGMA journal_mode=DELETE")
            base.execute("CREATE TABLE tried (n INTEGER)")
            while not ended.wait(0.005):
                began = time.perf_counter()
                base.execute("INSERT INTO tried VALUES (1)")
                waits.append(time.perf_counter() - began)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for _ in range(3):
            make.make(source_of(demo), out, names.ASKED, NOW)
    finally:
        ended.set()
        writer.join()
    assert len(waits) > 20 and max(waits) < 2.0, (len(waits), max(waits))
