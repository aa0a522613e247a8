"""A workshop's data as files, one rider's alone, and riders and bikes from a file: whole, nobody else's, and nothing half saved."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import shutil
import sqlite3
import subprocess
import zipfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.utils import timezone

import warm
from topout.web.access.change import change
from topout.web.book.models import Bike, Rider
from topout.web.export import tables, take_in, write
from topout.web.jobs.records.models import Job, Photo
from web.people import Cast

SECRET = ("password", "hash", "token", "session", "fingerprint", "device", "key")
# The hash of a text, the name of a step or of a procedure of the workshop's own.
NO_SECRET = {"procedure_hash", "step_key", "jobs_ownversion.key", "jobs_ownswitch.key"}


def saved(path: Path, held: list[tables.Table]) -> tuple[dict[str, Any], zipfile.ZipFile]:
    write.save(path, held, timezone.now())
    held_file = zipfile.ZipFile(path)
    return json.loads(held_file.read("data.json"))["tables"], held_file


def test_every_kind_of_record_is_exported_or_left_out_with_a_reason() -> None:
    every = {model._meta.label for model in apps.get_models()}
    exported = {model._meta.label for model in tables.models()}
    assert exported | set(tables.LEFT_OUT) == every, "decide: tables.LEFT_OUT"
    assert not exported & set(tables.LEFT_OUT) and all(len(why) > 10 for why in tables.LEFT_OUT.values())
    for table in tables.whole():
        named = {column for column in table.columns if any(word in column.split("_") for word in SECRET)}
        named -= {column for column in named if f"{table.name}.{column}" in NO_SECRET}
        assert named <= NO_SECRET, f"{table.name}: a column that lets somebody in?"


@pytest.fixture
def raw(demo: Path) -> Iterator[sqlite3.Connection]:
    """SQLite's own reader of the demo's file."""
    with closing(sqlite3.connect(demo)) as opened:
        yield opened


def test_the_whole_workshop_is_in_the_file_row_by_row(tmp_path: Path, raw: sqlite3.Connection) -> None:
    """The second way: SQLite's own reader of the same file."""
    data, held = saved(tmp_path / "all.zip", tables.whole())
    raw.row_factory = sqlite3.Row
    counted = 0
    for name, rows in data.items():
        found = [dict(row) for row in raw.execute(f"SELECT * FROM {name}")]
        key = "history_id" if rows and "history_id" in rows[0] else "id"
        found.sort(key=lambda row: int(row[key]))
        assert len(rows) == len(found), name
        text = io.StringIO(held.read(f"csv/{name}.csv").decode("utf-8"), newline="")
        of_csv = list(csv.DictReader(text))
        assert [row[key] for row in of_csv] == [str(row[key]) for row in rows]
        for ours, theirs in zip(rows, found, strict=True):
            for column, value in ours.items():
                if isinstance(value, (int, float)) or value is None:
                    assert value == theirs[column], (name, column)
                elif isinstance(value, str) and not value.endswith("Z"):
                    assert value == theirs[column], (name, column)
        counted += len(rows)
    assert counted > 400
    photos = {row["sha256"] for row in data["jobs_photo"]}
    assert photos and all(hashlib.sha256(held.read(f"photos/{sha256}.jpg")).hexdigest() == sha256 for sha256 in photos)
    released = {job for (job,) in raw.execute("SELECT number FROM jobs_job j JOIN jobs_release r ON r.job_id = j.id "
                                              "JOIN jobs_releasedsheet s ON s.release_id = r.id")}  # fmt: skip
    assert released and all(held.read(f"sheets/job-{number}.pdf").startswith(b"%PDF") for number in released)
    assert b"argon2" not in held.read("data.json") and "password" not in data["auth_user"][0]
    assert (tmp_path / "all.zip").stat().st_mode & 0o077 == 0


def test_one_riders_file_holds_nothing_of_anybody_else(demo: Path, tmp_path: Path) -> None:
    riders = list(Rider.objects.filter(jobs__isnull=False).distinct())
    assert len(riders) > 3
    for rider in riders:
        data, held = saved(tmp_path / f"{rider.pk}.zip", tables.of_rider(rider))
        text = held.read("data.json").decode("utf-8")
        assert rider.name in text
        for other in Rider.objects.exclude(pk=rider.pk):
            assert other.name not in text and (not other.phone or other.phone not in text)
        numbers = set(Job.objects.filter(rider=rider).values_list("number", flat=True))
        assert {row["number"] for row in data["jobs_job"]} == numbers
        ids = {row["id"] for row in data["jobs_job"]}
        for name, rows in data.items():
            assert all(row["job_id"] in ids for row in rows if "job_id" in row), name
        own = set(Photo.objects.filter(job__rider=rider).values_list("sha256", flat=True))
        assert {name[7:-4] for name in held.namelist() if name.startswith("photos/")} == own


def test_a_unit_that_went_to_another_rider_takes_its_new_life_along(demo: Path, tmp_path: Path) -> None:
    job = Job.objects.exclude(unit=None).filter(bike__rider__isnull=False).first()
    assert job is not None and job.unit is not None
    other = Bike.objects.exclude(rider=job.rider).exclude(rider=None).first()
    unit = job.unit
    unit.bike, unit.left = other, {"job": 999, "readings": {}, "at": "2026-01-01", "next_service": "of the other rider"}
    unit.save()
    data, _ = saved(tmp_path / "one.zip", tables.of_rider(job.rider))
    assert unit.pk not in {row["id"] for row in data["book_unit"]}
    (row,) = [row for row in data["units_now_with_another"] if row["id"] == unit.pk]
    assert set(row) == {"id", "kind", "name", "serial"}


@pytest.mark.parametrize("name", ['=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "\tx", "'=x"])
def test_a_spreadsheet_takes_nobodys_name_for_a_formula(workshop: Path, tmp_path: Path, name: str) -> None:
    Rider.objects.create(name=name, made_at=timezone.now())
    data, held = saved(tmp_path / "all.zip", tables.whole())
    assert [row["name"] for row in data["book_rider"]] == [name], "JSON holds it as it is"
    (row,) = csv.DictReader(io.StringIO(held.read("csv/book_rider.csv").decode(), newline=""))
    assert not row["name"].startswith(write.FORMULA)
    assert take_in._cell(row["name"]) == (name if name[0] != "'" else "=x")


def test_what_is_read_is_of_one_moment_and_nobody_waits_for_it(
    both_journals: str, workshop: Path, tmp_path: Path
) -> None:
    """With a rollback journal a reader that stays would lock every writer out: it is read from a copy."""
    raw = sqlite3.connect(workshop, timeout=0.5)
    before = Rider.objects.count()
    with write.one_moment(tmp_path) as moment:
        raw.execute(
            "INSERT INTO book_rider (name, phone, email, address, tables, worth, made_at) VALUES ('x','','','','{}','{}','2026-01-01')"
        )
        raw.commit()
        assert Rider.objects.using(moment).count() == before and Rider.objects.count() == before + 1
    raw.close()
    assert Rider.objects.count() == before + 1
    assert not list(tmp_path.glob(".topout-export-*"))


def test_nothing_is_written_over_and_nothing_is_left_where_it_fails(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "out" / "all.zip"
    path.parent.mkdir()
    path.write_text("mine")
    with pytest.raises(FileExistsError):
        write.save(path, tables.whole(), timezone.now())
    assert path.read_text() == "mine" and list(path.parent.iterdir()) == [path]
    path.unlink()
    monkeypatch.setattr(write, "_csv_of", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write.save(path, tables.whole(), timezone.now())
    assert list(path.parent.iterdir()) == []


# ---------------------------------------------------------------- riders and bikes from a file


def fates(text: str) -> list[take_in.Fate]:
    return take_in.fates(take_in.rows_of(text.encode("utf-8")))


FILE = """Name;Telephone;Mass;Bike;Frame number;frame.head_angle;Address
Runa Telvik;0555-0101;76 kg;Marn enduro;;65.5 deg;"1 Row
Town"
Runa Telvik;0555 9999;;;;;
Újvári Ede;'+36 555 1;82.5;Hollin hardtail;X1;;
ujvari ede;+36 5551;;Hollin hardtail;x1;;
ujvari ede;+36 5551;;Second bike;;;

Újvári Ede;'+36 555 1;;;;;
"""


def test_each_rows_fate_is_said_and_nothing_is_saved(demo: Path) -> None:
    before = (Rider.objects.count(), Bike.objects.count())
    said = {fate.line: " ".join(fate.words.split()) for fate in fates(FILE)}
    assert said == {
        2: "Runa Telvik, in the Book already, new bike Marn enduro",
        4: "new rider Runa Telvik; a namesake is in the Book, telephone 0555 0101",
        5: "new rider Újvári Ede, new bike Hollin hardtail",
        6: "ujvari ede, of line 5: the bike Hollin hardtail is that of line 5, nothing new",
        7: "ujvari ede, of line 5, new bike Second bike",
        9: "Újvári Ede, of line 5: nothing new",
    }
    assert (Rider.objects.count(), Bike.objects.count()) == before


def test_saved_they_stand_in_the_book_and_once(demo: Path) -> None:
    from django.contrib.auth.models import User

    owner = User.objects.get(is_staff=True)
    there = {row.pk: (row.name, row.phone, row.tables) for row in Rider.objects.all()}
    with change(owner, "import riders", FILE) as doing:
        assert take_in.save(doing, fates(FILE)) == (2, 3)
    assert {row.pk: (row.name, row.phone, row.tables) for row in Rider.objects.filter(pk__in=there)} == there
    ede = Rider.objects.get(name="Újvári Ede")
    assert ede.phone == "+36 555 1" and ede.tables == {"rider": {"mass": "82.5 kg"}}
    assert sorted(bike.name for bike in ede.bikes.all()) == ["Hollin hardtail", "Second bike"]
    enduro = Bike.objects.get(name="Marn enduro")
    assert (
        enduro.rider is not None
        and enduro.rider.name == "Runa Telvik"
        and enduro.tables["frame"]["head_angle"] == "65.5 deg"
    )
    assert enduro.history.get().history_user == owner
    again = fates(FILE)
    assert not [fate for fate in again if fate.rider or fate.bike], "the same file again brings nothing"


def test_every_fault_of_every_row_is_said_with_its_column(workshop: Path) -> None:
    found = fates('name,mass,bike,frame.reach\nA,3 mm,B,470 mm\n,80,C,\nD,80,,470\nE,80,F,"4,7 mm"\n')
    said = [(fate.line, fault.split(":")[0]) for fate in found for fault in fate.faults]
    assert said == [(2, "mass"), (3, "name"), (4, "bike"), (5, "frame.reach")]
    (fate,) = fates("name,weight,bike,bike weight\nA,80 kg,B,15 kg\n")
    assert not fate.faults and fate.rider is not None and fate.bike is not None, "the pages say weight"
    assert (fate.rider.tables, fate.bike.tables) == ({"rider": {"mass": "80 kg"}}, {"bike": {"mass": "15 kg"}})


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"name,mas\n", 'line 1: "mas": no such column. Is it mass?'), (b"", 'no column "name"'),
        (b"mass\n80\n", 'no column "name"'), (b"name,Name\n", "stands in two columns"),
        (b"telephone,phone,name\n", "stands in two columns"), (b"name,mass,weight\n", "stands in two columns"), (b"name\nA\xff\n", "line 2: a letter is not UTF-8"),
        (b"name\n\0\n", "NUL"), (b'name\n"open\n', "can't be read as CSV"), (b"name,mass\nA,1,2\n", "line 2: 3 cells, and 2 columns"),
        (b"name\n" + b"A\n" * 20_001, "more than 20000 rows"), (b"x" * (5 * 1024 * 1024 + 1), "more than 5 MB"),
    ],
)  # fmt: skip
def test_a_file_that_is_none_is_refused_whole(data: bytes, says: str) -> None:
    with pytest.raises(take_in.NotRead, match=says.replace("(", r"\(").replace("?", r"\?")):
        take_in.rows_of(data)


# ---------------------------------------------------------------- at the terminal


def run(folder: Path, *words: str, given: str = "") -> tuple[int, str, str]:
    env = {name: value for name, value in os.environ.items() if not name.startswith(("TOPOUT_", "DJANGO_"))}
    done = subprocess.run(
        [*warm.line(), words[0], "--demo", "--data", str(folder), *words[1:]],
        capture_output=True, text=True, check=False, env=env | {"HOME": str(folder)}, input=given,
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


def test_both_commands_at_the_terminal(demo_file: Path, tmp_path: Path, cast: Cast) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    shutil.copy(demo_file, folder / "demo.sqlite3")
    shutil.copytree(demo_file.parent / "photos", folder / "photos")
    status, out, err = run(folder, "export", str(tmp_path / "all.zip"))
    assert (status, err) == (0, "") and "is written" in out and zipfile.ZipFile(tmp_path / "all.zip").testzip() is None
    status, out, err = run(folder, "export", "--rider", "runa telvik", str(tmp_path / "one.zip"))
    assert (status, err) == (0, "") and (tmp_path / "one.zip").exists()
    for words, says in (
        (["export", str(tmp_path / "all.zip")], "is there already"),
        (["export", "--rider", "nobody", str(tmp_path / "x.zip")], "no such rider"),
        (["export", str(tmp_path / "none" / "x.zip")], "can't be written"),
        (["export"], "required"),
        (["export", "--rider", "\udcff", str(tmp_path / "x.zip")], "write it in UTF-8"),  # a byte that is no letter
        (["export", "--rider", "a" * 60_000, str(tmp_path / "x.zip")], "longer than any name here"),
        (["import", "--save", "--as", "\udcff", "-"], "write it in UTF-8"),
        (["import", str(tmp_path / "none.csv")], "can't be read"),
        (["import", "--save", "--as", "nobody", "-"], "--as ACCOUNT"),
    ):
        status, out, err = run(folder, *words, given="name\nNew One\n")
        assert status == 2 and out == "" and says in err and "Traceback" not in err, (words, out, err)
    status, out, err = run(folder, "import", "-", given="name\nNew One\n")
    assert status == 0 and "line 2: new rider New One" in out and "Nothing is saved yet" in out
    status, out, err = run(folder, "import", "--save", "-", given="name,mass\nNew One,80\nB,3 mm\n")
    assert status == 2 and out == "" and "line 3: mass" in err
    status, out, err = run(folder, "import", "--save", "-", given="name\nNew One\n")
    assert status == 0 and "1 new rider, 0 new bikes, 1 row: saved" in out and "saved" in out
    with closing(sqlite3.connect(folder / "demo.sqlite3")) as raw:
        assert raw.execute("SELECT count(*) FROM book_rider WHERE name IN ('New One', 'B')").fetchone() == (1,)
    empty = tmp_path / "empty"
    empty.mkdir()
    status, out, err = run(empty, "export", str(tmp_path / "y.zip"))
    assert status == 2 and "there is no workshop here" in err and list(empty.iterdir()) == []
