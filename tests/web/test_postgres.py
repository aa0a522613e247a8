"""PostgreSQL through Django: the migrations, the guards against SQL, a signed step, the find box.

Topout serves from SQLite alone (docs/decisions/0018). What guards the records is written for both, and is tried here as Django and
the pages use it: one server, started once, and a migrated database that each test gets a copy of.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import DatabaseError, connection, connections, migrations, models
from django.db.migrations.state import ProjectState
from django.db.models.signals import post_migrate, pre_migrate
from django.db.utils import ConnectionHandler
from django.test.utils import override_settings

from topout.web import clock
from topout.web.access.models import SettingChange
from topout.web.jobs.records import triggers
from topout.web.jobs.records.models import Job, OnTheBench, Release, ReleasedSheet, RiderNotes, StepEntry
from topout.web.jobs.search import index
from topout.web.jobs.search.documents import TABLE
from topout.web.jobs.search.find import find
from topout.web.workshop import health
from web import find_kit, people
from web.kept_rows import TABLES, a_row_in_every_table
from web.steps_kit import Hands, form_of, gauge, make_job, one_a_page
from web.test_prepared import one_of_several
from web.throwaway import postgres

pytestmark = pytest.mark.postgres
OF_A_RELEASE = ("jobs_releasedsheet", "jobs_ridernotes")
NEVER = (*TABLES, *OF_A_RELEASE, "access_settingchange")


def _point(folder: Path, name: str) -> None:
    connections["default"].close()
    handler = ConnectionHandler(
        {"default": {"ENGINE": "django.db.backends.postgresql", "HOST": str(folder), "USER": "topout", "NAME": name}}
    )
    connections["default"] = handler["default"]


@pytest.fixture(scope="module")
def server(_environment: None) -> Iterator[Path]:
    """A server with a migrated database `workshop` that holds the cast; Django asks it until the room is left."""
    before = connections["default"]
    with postgres() as folder:
        try:
            _point(folder, "postgres")
            _run("CREATE DATABASE workshop")
            _point(folder, "workshop")
            call_command("migrate", verbosity=0)
            people.make_cast()
            yield folder
        finally:
            connections["default"].close()
            connections["default"] = before


@pytest.fixture
def cast(server: Path, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[people.Cast]:
    """The cast in this test's own copy of the database."""
    from django.contrib.auth.models import User

    _point(server, "postgres")
    _run(f'CREATE DATABASE "{request.node.name}" TEMPLATE workshop')
    _point(server, request.node.name)
    with override_settings(PHOTOS=tmp_path / "photos"):
        yield people.Cast(User.objects.get(username="maud"), User.objects.get(username="jory"))


def _run(sql: str) -> list[tuple[object, ...]]:
    """Past Django's models: a statement as somebody types it."""
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return cursor.fetchall() if cursor.description else []


def _refusal(attack: str) -> str:
    """With what words a statement is refused; empty where it is taken."""
    try:
        _run(attack)
    except DatabaseError as refused:
        return str(refused).splitlines()[0]
    return ""


def test_every_guard_stands_after_the_migrations_and_after_one_more(cast: people.Cast) -> None:
    assert connection.vendor == "postgresql" and triggers.missing() == []
    rows = _run("SELECT tgrelid::regclass::text, tgname FROM pg_trigger WHERE NOT tgisinternal")
    ours = {
        f"{table} {str(name).removeprefix(f'keep_{table}_')}" for table, name in rows if str(name).startswith("keep_")
    }
    assert ours == {
        *(f"{table} {end}" for table in (*NEVER, "shelf_tag") for end in ("update", "delete", "delete_all")),
        *(f"jobs_{name} released" for name in ("reading", "photo", "frozenplan", "stepentry", "remark", "draft", "ridernotes")),
        *("jobs_job released", "jobs_job procedure", "jobs_job opened", "jobs_job gone", "jobs_release closed"),
    }  # fmt: skip
    facts = dict(health.facts())
    assert facts["Database"] == "postgresql" and facts["Records that may not change"] == "guarded by the database"
    assert facts["What the find box looks through"] == "kept up to date by the database"

    before, config = ProjectState.from_apps(apps), apps.get_app_config("jobs")
    given = {"sender": config, "app_config": config, "verbosity": 0, "interactive": False, "using": "default", "plan": [], "apps": apps}  # fmt: skip
    pre_migrate.send(**given)
    assert "jobs_reading" in triggers.missing()
    after = before.clone()
    more = migrations.AddField("reading", "made_up", models.CharField(max_length=9, default="x"))
    more.state_forwards("jobs", after)
    with connection.schema_editor() as editor:
        more.database_forwards("jobs", editor, before, after)
    post_migrate.send(**given)
    assert triggers.missing() == [] and index.health()[0][1] == "kept up to date by the database"


def _columns(table: str, *but: str) -> list[str]:
    sql = f"SELECT quote_ident(attname) FROM pg_attribute WHERE attrelid = '{table}'::regclass AND attnum > 0 AND NOT attisdropped"
    return [str(name) for (name,) in _run(sql) if name not in but]


def test_no_sql_changes_a_record(cast: people.Cast) -> None:
    """Every statement that could change or take out a row, table by table; the words are the trigger's own."""
    a_row_in_every_table(cast)
    release = Release.objects.get()
    RiderNotes.objects.create(release=release, words="Look again after two rides.")
    ReleasedSheet.objects.create(release=release, pdf=b"%PDF")
    SettingChange.objects.create(at=clock.now(), who=cast.owner, name="Time zone", was="UTC", became="Europe/Dublin")
    kept = {table: _run(f"SELECT * FROM {table} ORDER BY id") for table in (*NEVER, "shelf_tag")}
    assert all(kept.values())
    words = ("stays", "by a new one", "stays; a new row says otherwise", "is handed over")
    wrong, tried = [], 0

    def attack(sql: str, *words: str) -> None:
        nonlocal tried
        tried += 1
        said = _refusal(sql)
        if not said.endswith(words):
            wrong.append((sql, said))

    for table in NEVER:
        listed = ", ".join(_columns(table))
        for name in _columns(table):
            attack(f"UPDATE {table} SET {name} = {name}", *words)
        for sql in (
            "DELETE FROM {}", "DELETE FROM ONLY {} USING jobs_job", "TRUNCATE {} CASCADE", "DO $$ BEGIN DELETE FROM {}; END $$",
            "WITH gone AS (DELETE FROM {} RETURNING id) SELECT count(*) FROM gone",
            "MERGE INTO {0} AS kept USING {0} AS same ON kept.id = same.id WHEN MATCHED THEN DELETE",
        ):  # fmt: skip
            attack(sql.format(table), *words)
        key = "history_id" if "historical" in table else "id"
        attack(
            f"INSERT INTO {table} ({listed}) SELECT {listed} FROM {table} ON CONFLICT ({key}) DO UPDATE SET {key} = 77",
            *words,
        )
    for table in ("auth_user", "book_rider", "jobs_job"):  # and what hangs on it
        attack(f"TRUNCATE {table} CASCADE", *words, "unique for good")
    for sql in ("DELETE FROM shelf_tag", "UPDATE shelf_tag SET code = 'AAA'", "TRUNCATE shelf_tag CASCADE"):
        attack(sql, "a tag is unique for good")
    # Nothing more on a job that is handed over.
    for name in ("reading", "stepentry", "photo", "frozenplan", "remark"):
        listed = ", ".join(_columns(f"jobs_{name}", "id", "sequence"))
        attack(f"INSERT INTO jobs_{name} ({listed}, sequence) SELECT {listed}, 900 FROM jobs_{name}", "the job is handed over")  # fmt: skip
    attack(
        "INSERT INTO jobs_ridernotes (release_id, words) SELECT id, 'More.' FROM jobs_release", "the job is handed over"
    )
    attack("INSERT INTO jobs_draft (job_id, place, who_id, fields, at) SELECT job_id, 'plan', who_id, '{}', at FROM jobs_release", "the job is handed over")  # fmt: skip
    attack("UPDATE jobs_job SET asked = 'Else.'", "the job is handed over")
    assert not wrong, wrong
    assert tried > 200
    assert {table: _run(f"SELECT * FROM {table} ORDER BY id") for table in kept} == kept
    assert not OnTheBench.objects.exists()


def test_a_step_is_signed_once_and_a_failed_hold_point_stays(cast: people.Cast) -> None:
    """Through the pages: the same form twice is one entry, the hold point that failed closes the rest, and its row stays."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    one_a_page(cast.technician)
    hands.begin()
    browser = people.browser(cast.technician)
    first = hands.here().current
    assert first is not None and first.step.key == "shaft-fits"
    fields = form_of(browser.get("/jobs/301/steps/shaft-fits/")) | {"shaft-fits": "Listed, the same fit"}
    answers = [browser.post("/jobs/301/steps/shaft-fits/", fields) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [303, 303]
    assert len({answer.headers["Location"] for answer in answers}) == 1
    assert StepEntry.objects.filter(step_key="shaft-fits", verdict="passed").count() == 1
    slot = hands._work("empty-at-rest")
    assert slot is not None
    bad = {"rest": "Stands part-way in", "rest-length": "120 mm"}
    address = "/jobs/301/steps/empty-at-rest/"
    assert browser.post(address, form_of(browser.get(address)) | bad).status_code == 303
    text = browser.get(address).content.decode()
    assert "Stop. Air stays trapped in the negative chamber." in text
    entry = StepEntry.objects.get(step_key="empty-at-rest")
    assert entry.verdict == "failed" and entry.sequence == Job.objects.get().last_record
    assert "a signed step stays" in _refusal("UPDATE jobs_stepentry SET verdict = 'passed' WHERE verdict = 'failed'")
    assert "a procedure stays" in _refusal("UPDATE jobs_job SET procedure = ''")
    for page in ("/", "/jobs/301/", "/jobs/301/plan/", "/jobs/301/steps/all/", "/health/", "/shelf/", "/book/"):
        assert browser.get(page).status_code == 200, page
    number = 2**40  # larger than the column holds
    assert browser.get(f"/jobs/{number}/").status_code == 404
    one_of_several()  # what is asked of the other jobs of a unit, and what is dangerous on it


def test_the_find_box_answers_as_with_sqlite(cast: people.Cast) -> None:
    kept = find_kit.keep(cast.owner)
    browser = people.browser(cast.owner)

    def numbers(typed: str) -> list[int]:
        return find_kit.who(find(typed))

    uwe, soren = kept["uwe"].number, kept["soren"].number
    for typed in ("uwe KÖHLER", "koehler", "443", "07700 900 443", "+44 7700 900443", "0044 7700900443", "h77uwe", "bell door köhler", f"job {uwe}"):  # fmt: skip
        assert uwe in numbers(typed) and soren not in numbers(typed), typed
    for typed in ("Søren", "soren", "SOEREN", "obrien", "o'brien", "Grosse", "größe", "0101", "QX-35 20/28", "qx352028", str(soren)):  # fmt: skip
        assert numbers(typed) == [soren], typed
    assert [hit.part is not None for hit in find("drawer marked").hits] == [True] and not find("zzz").hits
    find_kit.sign_words(kept["uwe"], cast.owner)
    assert [numbers(word) for word in find_kit.SIGNED] == [[uwe]] * len(find_kit.SIGNED)
    assert "<mark>ferry</mark>" in browser.get("/find/?q=ferry").content.decode()
    in_step = sorted(_run(f"SELECT * FROM {TABLE}"))
    index.lift()
    index.write()
    assert sorted(_run(f"SELECT * FROM {TABLE}")) == in_step, "made anew it is the index that was kept in step"
    for key, gone in (("soren", ("brien", "05550101")), ("uwe", ("zigzag",))):
        assert people.send(browser, f"/book/riders/{kept[key].rider.pk}/erase/", {}).status_code == 303
        assert not [typed for typed in gone if find(typed).hits]
    assert numbers("quillon soren") == [soren] and numbers("ferry") == [uwe]
    for typed in ("' OR 1=1 --", "a & b | !c", ":*", "\\", "(((", "x" * 10_000):
        assert browser.get("/find/", {"q": typed}).status_code == 200, typed
