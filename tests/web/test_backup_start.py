"""Every way in which the file at the workshop's place can be wrong: said in words at the start, and nothing changed by it."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client

import warm
from topout.web import clock, environment
from topout.web.access.change import change
from topout.web.access.models import Workshop
from topout.web.backup import at_start, snapshot, witness
from topout.web.jobs.records.models import Release
from web import people, raw
from web.conftest import using_file
from web.plan_cast import hollin_job
from web.test_hand_over import TOLD, service

ROOT = Path(__file__).parents[2]


NO_PASS = "-dac_override,-dac_read_search,-fowner"  # root without these is stopped by a file's mode, as others are


def topout(folder: Path, *words: str, first: Sequence[str] = ()) -> subprocess.CompletedProcess[str]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("TOPOUT_", "DJANGO_"))}
    env = {**kept, "HOME": str(folder), "PYTHONPATH": str(ROOT / "src")}
    line = [*first, *(warm.FRESH if first else warm.line()), *words, "--data", str(folder)]
    return subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)


def put(template: Path, folder: Path) -> Path:
    path = folder / "workshop.sqlite3"
    shutil.copyfile(template, path)
    path.chmod(0o600)
    with using_file(path):
        Workshop.objects.create(name="Kiln Row", started_at=datetime(2026, 11, 1, 8, tzinfo=UTC))
    return path


def empty(path: Path) -> None:
    path.write_bytes(b"")


def gone(path: Path) -> None:
    path.unlink()


def tables_gone(path: Path) -> None:
    path.unlink()
    with raw.opened(path) as base:
        base.execute("CREATE TABLE gone (id INTEGER)")
        base.execute("DROP TABLE gone")


def cut_amid_a_page(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size - 1000)


def cut(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2 // 4096 * 4096)


def cut_to_its_head(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(50)


def text(path: Path) -> None:
    path.write_text("Kiln Row, list of jobs\n" * 400)


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def foreign(path: Path) -> None:
    path.unlink()
    with raw.opened(path) as base:
        for name in ("albums", "songs", "bands", "years"):
            base.execute(f"CREATE TABLE {name} (id INTEGER PRIMARY KEY)")


def another_django(path: Path) -> None:
    path.unlink()
    with raw.opened(path) as base:
        base.execute("CREATE TABLE django_migrations (id INTEGER PRIMARY KEY, app TEXT, name TEXT, applied TEXT)")
        base.execute("INSERT INTO django_migrations (app, name) VALUES ('auth', '0001_initial'), ('letters', '0001_initial')")  # fmt: skip


def newer(path: Path) -> None:
    with raw.opened(path) as base:
        base.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('jobs', '0999_of_tomorrow', '2030-01-01')")  # fmt: skip


def newer_app(path: Path) -> None:
    with raw.opened(path) as base:
        base.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('orders', '0001_initial', '2030-01-01')")  # fmt: skip


def bytes_in_a_text(path: Path) -> None:
    """SQLite takes them, and calls the file whole; the column is one of text by its migration."""
    with raw.opened(path) as base:
        base.execute("UPDATE access_workshop SET name = x'fffe0080'")


def read_only(path: Path) -> None:
    """Root passes by every mode, so the file says that it is of a newer format for writing."""
    with path.open("r+b") as file:
        file.seek(18)
        file.write(b"\x03")


def of_another_state(path: Path, mode: str) -> None:
    """A power cut amid a change; then somebody puts an older copy in the file's place and leaves the journal beside."""
    work = path.with_name("work")
    work.mkdir()
    live, older = work / path.name, work / "older.sqlite3"
    shutil.copyfile(path, live)
    left = live.with_name(live.name + ("-wal" if mode == "wal" else "-journal"))
    with closing(sqlite3.connect(live, isolation_level=None)) as base:
        base.execute(f"PRAGMA journal_mode={mode}")
        base.execute("PRAGMA cache_size=5")  # so that the journal is on the disk before the change ends
        base.execute("CREATE TABLE load (id INTEGER PRIMARY KEY, t TEXT)")
        base.execute("CREATE INDEX by_t ON load (t)")
        base.execute("BEGIN")  # one wait for the disk
        base.executemany("INSERT INTO load (t) VALUES (?)", [(f"{n * 7919 % 1000:05}" * 20,) for n in range(3000)])
        base.execute("COMMIT")
        with closing(sqlite3.connect(older, isolation_level=None)) as other:
            base.backup(other)
            other.execute("DELETE FROM load WHERE id % 3 = 0")
            other.execute("VACUUM")
        base.execute("BEGIN IMMEDIATE")
        base.execute("UPDATE load SET t = 'x' || t")
        if mode == "wal":
            base.execute("COMMIT")
        shutil.copyfile(left, path.with_name(path.name + left.name.removeprefix(live.name)))
    shutil.copyfile(older, path)
    shutil.rmtree(work)


def journal_of_another_state(path: Path) -> None:
    of_another_state(path, "delete")


def log_of_another_state(path: Path) -> None:
    of_another_state(path, "wal")


FILES = ("workshop.sqlite3", "workshop.secret", "workshop.witness")


@dataclass(frozen=True)
class Planted:
    fault: Callable[[Path], None]
    says: str
    seen: bool = False  # whether a workshop was seen there before

    @property
    def name(self) -> str:
        return self.fault.__name__ + (" after it was seen" if self.seen else "")


PLANTED = [
    Planted(empty, "database is not there.*Put its file back", seen=True), Planted(gone, "database is not there.*topout restore", seen=True),
    Planted(tables_gone, "database is not there", seen=True), Planted(cut_amid_a_page, "is damaged.*topout restore"), Planted(cut, "is damaged"),
    Planted(cut_to_its_head, "is damaged"), Planted(text, "no database of a workshop"), Planted(folder, "A folder stands where"),
    Planted(pipe, "is no file"), Planted(foreign, "another program’s database: it holds albums, bands, songs and others"),
    Planted(another_django, "another program’s database"), Planted(newer, "newer Topout.*jobs 0999_of_tomorrow"),
    Planted(journal_of_another_state, "workshop.sqlite3-journal, which is of another state.*Nothing was changed"),
    Planted(log_of_another_state, "workshop.sqlite3-wal, which is of another state.*Nothing was changed"),
    Planted(bytes_in_a_text, "not as Topout made it: the column name of the table access_workshop holds bytes where text belongs.*topout restore"),
    Planted(newer_app, "newer Topout.*orders 0001_initial"), Planted(read_only, "can be read, but not written"),
]  # fmt: skip


def state(folder: Path) -> dict[str, bytes | None]:
    """Every file with its bytes; the secret and the lock are made by whoever looks."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
        if path.suffix not in (".secret", ".lock")
    }


@pytest.mark.parametrize("planted", PLANTED, ids=lambda planted: planted.name)
def test_a_file_that_is_wrong_is_said_in_a_line_with_the_way_out_and_left_as_it_is(
    template_file: Path, tmp_path: Path, planted: Planted
) -> None:
    path = put(template_file, tmp_path)
    if planted.seen:
        assert topout(tmp_path, "serve", "--no-serve").returncode == 0
        assert (tmp_path / "workshop.witness").exists()
    planted.fault(path)
    before = state(tmp_path)
    done = topout(tmp_path, "serve", "--no-serve")
    assert done.returncode == 2 and done.stdout == "", done
    lines = done.stderr.splitlines()
    assert len(lines) == 1 and lines[0].startswith(f"{path}: ") and re.search(planted.says, lines[0]), done.stderr
    assert lines[0].endswith("start again.") and "Traceback" not in done.stderr
    assert state(tmp_path) == before


def test_the_journal_of_a_power_cut_is_taken_in_as_it_should_be(workshop: Path) -> None:
    """The same journal beside its own file: nothing stands against the start, and SQLite puts back what was not saved."""
    with closing(sqlite3.connect(workshop, isolation_level=None)) as base:
        base.execute("PRAGMA cache_size=5")
        base.execute("CREATE TABLE load (id INTEGER PRIMARY KEY, t TEXT)")
        base.execute("BEGIN")  # one wait for the disk
        base.executemany("INSERT INTO load (t) VALUES (?)", [(f"{n:05}" * 20,) for n in range(3000)])
        base.execute("COMMIT")
        base.execute("BEGIN IMMEDIATE")
        base.execute("UPDATE load SET t = 'x' || t")
        cut = [(path, path.read_bytes()) for path in (workshop, workshop.with_name(workshop.name + "-journal"))]
        base.execute("ROLLBACK")
    connection.close()
    for path, data in cut:
        path.write_bytes(data)
    before = state(workshop.parent)
    assert at_start._left_beside(workshop) is None and state(workshop.parent) == before
    with raw.opened(workshop) as base:
        assert base.execute("SELECT count(*) FROM load WHERE t LIKE 'x%'").fetchone() == (0,)


def test_what_another_program_holds_and_another_account_owns_is_said(template_file: Path, tmp_path: Path) -> None:
    path = put(template_file, tmp_path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        done = topout(tmp_path, "serve", "--no-serve")
    assert done.returncode == 2 and "Another program holds" in done.stderr and len(done.stderr.splitlines()) == 1
    if os.geteuid() != 0 or shutil.which("setpriv") is None:
        pytest.skip("only root can give a file to another account")
    os.chown(path, 65534, 65534)
    done = topout(
        tmp_path, "serve", "--no-serve", first=["setpriv", f"--bounding-set={NO_PASS}", f"--inh-caps={NO_PASS}"]
    )
    assert done.returncode == 2 and "belongs to another account" in done.stderr, done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a small disk")
@pytest.mark.parametrize("before", ["nothing", "a workshop", "a secret"])
def test_a_full_disk_is_said(template_file: Path, tmp_path: Path, before: str) -> None:
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=6m", "tmpfs", str(small)], capture_output=True)
    if mounted.returncode:
        pytest.skip("this machine mounts nothing")
    try:
        if before == "a workshop":
            put(template_file, small)
        if before != "nothing":
            environment.secret(small / "workshop.secret")
        with (small / "ballast").open("wb", buffering=0) as ballast, suppress(OSError):
            while True:
                ballast.write(b"x" * 4096)
        done = topout(small, "serve", "--no-serve")
        assert done.returncode == 2 and "Traceback" not in done.stderr, done.stderr
        assert len(done.stderr.splitlines()) == 1 and ("full" in done.stderr or "No space left" in done.stderr), (
            done.stderr
        )
        assert not [path for path in small.iterdir() if path.name not in ("ballast", *FILES)], list(small.iterdir())
        (small / "ballast").unlink()
        again = topout(small, "serve", "--no-serve")
        assert again.returncode == 0, "with room it starts, from whatever was left"
    finally:
        subprocess.run(["umount", str(small)], check=True)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a folder that may only be read")
def test_a_disk_that_may_only_be_read_is_said(template_file: Path, tmp_path: Path) -> None:
    (tmp_path / "seen").mkdir()
    put(template_file, tmp_path / "seen")
    environment.secret(tmp_path / "seen" / "workshop.secret")
    folder = tmp_path / "read"
    folder.mkdir()
    bound = ["mount", "--bind", str(tmp_path / "seen"), str(folder)]
    if subprocess.run(bound, capture_output=True).returncode:
        pytest.skip("this machine mounts nothing")
    try:
        subprocess.run(["mount", "-o", "remount,ro,bind", str(folder)], check=True)
        before = state(folder)
        done = topout(folder, "serve", "--no-serve")
        assert done.returncode == 2 and done.stdout == "" and len(done.stderr.splitlines()) == 1, done
        assert "can be read, but not written" in done.stderr and state(folder) == before
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def seen(workshop: Path, cast: people.Cast) -> Path:
    """A workshop with a job, as it was noted."""
    Workshop.objects.create(started_at=clock.now())
    hollin_job(cast.technician)
    witness.note()
    return workshop


def less(path: Path) -> str:
    found = at_start.look(path)
    return "" if found is None else f"{found.words} {found.way}"


def later(cast: people.Cast, what: str) -> None:
    with change(cast.owner, what, {}):
        pass


def put_back(older: Path, path: Path) -> None:
    connection.close()
    shutil.copyfile(older, path)


def test_an_older_copy_another_workshop_and_another_history_are_noticed(
    seen: Path, cast: people.Cast, tmp_path: Path
) -> None:
    assert less(seen) == ""
    older = tmp_path / "older.sqlite3"
    connection.close()
    shutil.copyfile(seen, older)
    later(cast, "one more")
    assert less(seen) == "", "more than was seen is no fault"
    witness.note()
    put_back(older, seen)
    assert "1 changes that were saved are not in it" in less(seen) and "topout restore" in less(seen)
    later(cast, "another way")
    assert "went on from an older copy" in less(seen)
    Workshop.objects.update(started_at="2020-01-01 00:00:00+00:00")
    assert "another workshop" in less(seen)
    witness.path_of(seen).unlink()
    assert less(seen) == "", "the way out that it names"


def test_the_last_hand_over_is_named_when_an_older_copy_is_put_back(demo: Path, tmp_path: Path) -> None:
    """A hand-over is noted when it is in the database; the copy from before it is refused at the next start."""
    Workshop.objects.update(demo=False)
    owner = people.Cast(User.objects.get(username="maud"), User.objects.get(username="jory")).owner
    last = Release.objects.select_related("job").order_by("pk").last()
    assert last is not None and not witness.path_of(demo).exists()
    with change(owner, "hand over", {}):
        witness.note_when_saved()
        assert not witness.path_of(demo).exists(), "not before it is saved"
    noted = witness.read(demo)
    assert noted is not None and noted.release == last.pk and f"job {last.job.number}, " in noted.last_release
    connection.close()
    with raw.opened(demo) as base:
        for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f"DROP TRIGGER {name}")
        base.execute("DELETE FROM jobs_releasedsheet WHERE release_id = ?", (last.pk,))
        base.execute("DELETE FROM jobs_release WHERE id = ?", (last.pk,))
    assert f"The last hand-over seen here is job {last.job.number}, " in less(demo) and "It lacks that" in less(demo)


def test_a_hand_over_notes_it(workshop: Path, technician_in: Client, cast: people.Cast) -> None:
    Workshop.objects.create(started_at=clock.now())
    job = service(cast, technician_in)
    assert not witness.path_of(workshop).exists()
    place = f"/jobs/{job.number}/hand-over/"
    people.send(technician_in, place, TOLD)
    drawn = people.field_of(technician_in.get(f"{place}check/"), "drawn_at")
    answer = people.send(technician_in, f"{place}check/", {"drawn_at": drawn})
    assert answer.status_code == 303, answer.content.decode()
    noted = witness.read(workshop)
    assert noted is not None and noted.release == 1 and noted.last_release.startswith(f"job {job.number}, ")


def test_a_note_that_fails_costs_no_hand_over(seen: Path, cast: people.Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("topout.web.backup.files.save_json", full)
    before = snapshot.facts(seen).changes
    with change(cast.owner, "hand over", {}):
        witness.note_when_saved()
    assert snapshot.facts(seen).changes == before + 1


def test_the_demo_has_no_witness(demo: Path) -> None:
    witness.note()
    assert not witness.path_of(demo).exists()


@pytest.mark.parametrize("spoilt", ["", "{}", "[1]", '{"started_at": 1, "change": 1, "key": "", "release": 0, "last_release": ""}'])  # fmt: skip
def test_a_witness_that_can_not_be_read_is_said_and_written_anew(
    template_file: Path, tmp_path: Path, spoilt: str
) -> None:
    put(template_file, tmp_path)
    (tmp_path / "workshop.witness").write_text(spoilt)
    done = topout(tmp_path, "serve", "--no-serve")
    assert done.returncode == 0, done.stderr
    assert "workshop.witness: can’t be read" in done.stdout
    assert "can’t be read" not in topout(tmp_path, "serve", "--no-serve").stdout


def test_behind_is_a_database_with_a_migration_to_come(workshop: Path) -> None:
    assert not at_start.behind()
    with raw.opened(workshop) as base:
        base.execute("DELETE FROM django_migrations WHERE app = 'shelf'")
    assert at_start.behind()
