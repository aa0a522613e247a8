"""`topout verify`: whatever is not as it was saved is found and named, and what only another version sees otherwise is told."""

from __future__ import annotations

import gzip
import json
import os
import shutil
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.db import connection

import warm
from topout.web import opening
from topout.web.backup import archive, make, names, snapshot
from topout.web.backup.progress import silent
from topout.web.book.models import Unit
from topout.web.jobs.records import triggers
from topout.web.jobs.records.models import FrozenPlan, Photo, ProcedureText
from topout.web.verify import checks
from web import raw
from web.landing import FOLDER

ROOT = Path(__file__).parents[2]
NOW = datetime(2026, 11, 29, 2, 30, tzinfo=UTC)


def topout(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("TOPOUT_", "DJANGO_"))}
    env = {**kept, "HOME": str(folder), "PYTHONPATH": str(ROOT / "src")}
    return subprocess.run([*warm.line(), *words], env=env, capture_output=True, text=True, timeout=120)


def past_the_guards(path: Path, *statements: str) -> None:
    """Change a record as somebody would who takes the triggers away, and puts them back."""
    with raw.opened(path) as base:
        standing = base.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in standing:
            base.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            base.execute(statement)
        for _, sql in standing:
            base.execute(sql)


def photo_file(folder: Path) -> Path:
    row = Photo.objects.order_by("pk").first()
    assert row is not None
    return folder / archive.photo_name(row.sha256)


def of_photos(demo: Path) -> checks.Finding:
    return checks.photos(lambda sha256: archive.sha256_of(demo.parent / archive.photo_name(sha256)), silent)


def test_all_is_well_with_the_demo(demo: Path) -> None:
    found = [*checks.database(demo), checks.guards(), of_photos(demo), checks.texts(), checks.plans(silent), checks.rows(demo, None), checks.history()]  # fmt: skip
    assert [finding.wrong + finding.differs for finding in found] == [()] * 8, found
    plans = FrozenPlan.objects.count()
    assert plans >= 3 and found[5].stands == f"{plans} of {plans} come out again"
    assert ProcedureText.objects.count() > 0 and Photo.objects.count() > 0


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE book_unit SET tables = '{}' WHERE id = 1", "The unit 1, {}: tables is not as its history says."),
        (
            "UPDATE book_historicalunit SET serial = 'Z' WHERE id = 1",
            "The unit 1, {}: serial is not as its history says.",
        ),
        ("DELETE FROM book_historicalunit WHERE id = 1", "The unit 1, {}: there is no history of it."),
    ],
)
def test_what_was_changed_past_its_history_is_named(demo: Path, statement: str, said: str) -> None:
    """A limit taken out by SQL left no trace in “Changed by”, which the check of limits asks."""
    name = str(Unit.objects.get(pk=1))
    connection.close()
    past_the_guards(demo, statement)
    assert checks.history().wrong == (said.format(name),)


@pytest.mark.parametrize("fault", ["gone", "one byte"])
def test_a_photo_is_named_with_its_job(demo: Path, fault: str) -> None:
    path = photo_file(demo.parent)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.unlink()
    if fault == "one byte":
        path.write_bytes(data)
    finding = of_photos(demo)
    assert len(finding.wrong) == 1 and path.stem[:12] in finding.wrong[0] and finding.wrong[0].startswith("Job 2")


def changed_text(sql: str) -> str:
    return sql.replace("RAISE(ABORT", "RAISE(IGNORE").replace(
        "IGNORE, 'a reading is corrected by a new one')", "IGNORE)"
    )


GUARDS = pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda name, sql: (f"DROP TRIGGER {name}",), "is missing"),
        (lambda name, sql: (f"DROP TRIGGER {name}", changed_text(sql)), "has another text"),
        (lambda name, sql: ("CREATE TRIGGER quiet AFTER INSERT ON jobs_remark BEGIN DELETE FROM shelf_part; END",), "none of Topout’s"),
        (lambda name, sql: ("CREATE TRIGGER keep_more AFTER INSERT ON jobs_remark BEGIN DELETE FROM shelf_part; END",), "none of Topout’s"),
        (lambda name, sql: ("CREATE VIEW quiet AS SELECT 1",), "none of Topout’s"),
    ],
    ids=["dropped", "softened", "added", "added under a guard's name", "a view added"],
)  # fmt: skip


@GUARDS
def test_a_guard_that_is_not_as_written_is_named(
    demo: Path, change: Callable[[str, str], tuple[str, ...]], says: str
) -> None:
    name = "keep_jobs_reading_update"
    assert triggers.differences() == []
    with raw.opened(demo) as base:
        sql = base.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()[0]
        for statement in change(name, sql):
            base.execute(statement)
    assert len(triggers.differences()) == 1 and says in triggers.differences()[0]


@GUARDS
def test_a_start_has_the_guards_as_written_and_says_what_somebody_else_wrote(
    demo: Path, change: Callable[[str, str], tuple[str, ...]], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A copy with a trigger of somebody else's was put back, started and stayed: the start looked at names alone."""
    name = "keep_jobs_reading_update"
    with raw.opened(demo) as base:
        sql = base.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()[0]
        for statement in change(name, sql):
            base.execute(statement)
        base.execute('CREATE TRIGGER "a "" b" AFTER INSERT ON jobs_remark BEGIN DELETE FROM shelf_part; END')
    assert "NOT guarded" in dict(triggers.health())["Records that may not change"]
    opening.bring_up_to_date()
    said = capsys.readouterr().out
    assert triggers.differences() == [] and 'a " b in the database is none of Topout’s. It was taken out.' in said
    assert (says in said) == (says != "is missing"), "what a broken migrate leaves out is put back without a word"
    assert "NOT guarded" not in dict(triggers.health())["Records that may not change"]
    opening.bring_up_to_date()
    assert capsys.readouterr().out == ""


def test_a_text_that_jobs_were_begun_with_and_another_is_named(demo: Path) -> None:
    past_the_guards(
        demo, "UPDATE jobs_proceduretext SET text = text || ' ' WHERE id = (SELECT min(id) FROM jobs_proceduretext)"
    )
    finding = checks.texts()
    assert len(finding.wrong) == 1 and "not what jobs were begun with" in finding.wrong[0]


def plan() -> FrozenPlan:
    row = FrozenPlan.objects.order_by("pk").first()
    assert row is not None
    return row


def with_results(demo: Path, frozen: FrozenPlan, change: Callable[[dict[str, object]], object], version: str = "") -> checks.Finding:  # fmt: skip
    results = json.loads(json.dumps(frozen.results))
    change(results)
    text = json.dumps(results).replace("'", "''")
    past_the_guards(
        demo, f"UPDATE jobs_frozenplan SET results = '{text}' WHERE id = {frozen.pk}",
        *([f"UPDATE jobs_frozenplan SET version = '{version}' WHERE id = {frozen.pk}"] if version else []),
    )  # fmt: skip
    return checks.plans(silent)


def a_number(results: object) -> tuple[dict[str, object], str]:
    """A dictionary of the results with a key whose value is a number of some size."""
    assert isinstance(results, dict)
    for key, value in results.items():
        if isinstance(value, float) and abs(value) > 1e-3:
            return results, key
        if isinstance(value, dict):
            try:
                return a_number(value)
            except LookupError:
                continue
    raise LookupError


def a_millionth_more(results: dict[str, object]) -> None:
    where, key = a_number(results)
    where[key] = float(str(where[key])) * (1 + 1e-6)


def test_a_plan_whose_figures_were_changed_is_wrong_by_its_own_version_and_told_by_another(demo: Path) -> None:
    frozen = plan()
    finding = with_results(demo, frozen, a_millionth_more)
    assert len(finding.wrong) == 1 and finding.differs == ()
    assert finding.wrong[0].startswith(f"Job {frozen.job.number}, plan ") and "differ by 0.0001 %" in finding.wrong[0]
    finding = with_results(demo, frozen, a_millionth_more, "0.0.7")
    assert finding.wrong == () and len(finding.differs) == 1 and "by version 0.0.7" in finding.differs[0]


def test_a_plan_with_other_warnings_or_other_figures_or_that_can_not_be_read_is_named(demo: Path) -> None:
    frozen = plan()

    def warned(results: dict[str, object]) -> None:
        results["warnings"] = [{"code": "made-up", "state": "after"}]

    finding = with_results(demo, frozen, warned)
    assert len(finding.wrong) == 1 and "other warnings" in finding.wrong[0]
    finding = with_results(demo, frozen, lambda results: results.update(more=1.0))
    assert len(finding.wrong) == 1 and "other figures" in finding.wrong[0]
    past_the_guards(demo, f"UPDATE jobs_frozenplan SET bench_file = 'no file' WHERE id = {frozen.pk}")
    finding = checks.plans(silent)
    assert len(finding.wrong) == 1 and "can’t be computed again" in finding.wrong[0]


def test_a_row_that_points_nowhere_and_a_damaged_page_are_named(demo: Path) -> None:
    past_the_guards(demo, "DELETE FROM book_rider WHERE id = (SELECT rider_id FROM jobs_job LIMIT 1)")
    references = list(checks.database(demo))[1]
    assert references.stands == "NOT whole" and any("book_rider" in line for line in references.wrong)
    with demo.open("r+b") as file:
        file.seek(4096 * 40)
        file.write(b"\xff" * 4096 * 3)
    (damaged,) = checks.database(demo)
    assert damaged.stands == "damaged" and damaged.wrong


def test_rows_are_compared_with_the_list_of_the_copy(demo: Path) -> None:
    counts = snapshot.facts(demo).counts
    assert checks.rows(demo, counts).wrong == ()
    fewer = {**counts, "jobs_job": counts["jobs_job"] + 1}
    assert "rows of jobs_job" in checks.rows(demo, fewer).wrong[0]


def test_the_command_says_what_is_wrong_and_changes_nothing(demo: Path, tmp_path: Path) -> None:
    live = tmp_path / "live"
    live.mkdir()
    shutil.copytree(demo.parent / "photos", live / "photos")
    path = photo_file(live)
    path.unlink()
    past_the_guards(demo, "UPDATE access_workshop SET demo = 0")
    with raw.opened(demo) as base:
        base.execute("DROP TRIGGER keep_jobs_reading_update")
    shutil.copyfile(demo, live / "workshop.sqlite3")
    before = {each: each.read_bytes() for each in live.rglob("*") if each.is_file()}
    done = topout(tmp_path, "verify", "--data", str(live))
    assert done.returncode == 1 and "Traceback" not in done.stderr, done
    assert "keep_jobs_reading_update is missing" in done.stderr and path.stem[:12] in done.stderr
    assert len(done.stderr.splitlines()) == 2 and "All is as it was saved" not in done.stdout
    assert {each: each.read_bytes() for each in live.rglob("*") if each.is_file()} == before
    copy = make.make(make.Source(live / "workshop.sqlite3", live / "photos"), tmp_path, names.ASKED, NOW).path
    done = topout(tmp_path, "verify", str(copy))
    assert done.returncode == 1 and "When the copy was made: The photo" in done.stdout
    copy.write_bytes(copy.read_bytes()[:-100])
    done = topout(tmp_path, "verify", str(copy))
    assert done.returncode == 1 and "is not a whole copy" in done.stderr and done.stdout == ""


@pytest.mark.parametrize("nth", [-1, pytest.param(0, marks=pytest.mark.soak)], ids=["the last", "the first"])
def test_a_workshop_of_an_earlier_version_is_copied_before_its_upgrade_and_the_copy_looked_over(
    tmp_path: Path, nth: int
) -> None:
    """By the command, on the database of a landing: the copy has the old schema, and verify says so."""
    live = tmp_path / "live"
    live.mkdir(mode=0o700)
    landing = sorted(FOLDER.glob("*.sqlite3.gz"))[nth]
    (live / "workshop.sqlite3").write_bytes(gzip.decompress(landing.read_bytes()))
    with raw.opened(live / "workshop.sqlite3") as base:
        base.execute("UPDATE access_workshop SET demo = 0")
        old = base.execute("SELECT count(*) FROM django_migrations").fetchone()[0]
    (live / "workshop.photos").mkdir()  # the landing was kept without its photo; a start without the folder is refused
    done = topout(tmp_path, "serve", "--no-serve", "--data", str(live))
    assert done.returncode == 0, done.stderr
    (copy,) = (live / "backups").glob("*-upgrade.zip")
    assert str(copy) in done.stdout and len(archive.check(copy).migrations) == old
    again = topout(tmp_path, "serve", "--no-serve", "--data", str(live))
    assert again.returncode == 0 and len(list((live / "backups").iterdir())) == 2, "one copy and its lock"
    looked = topout(tmp_path, "verify", str(copy))
    assert looked.returncode == (1 if "When the copy was made" in looked.stdout else 0), looked
    assert "of an older version" in looked.stdout and "come out again" in looked.stdout
