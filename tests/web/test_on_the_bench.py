"""What a page asks does not grow with the years: the database itself says which jobs are here, and no table is read whole."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.records import triggers
from topout.web.jobs.records.models import Job, OnTheBench, Release
from web import people, raw
from web.people import Cast
from web.steps_kit import START, make_job

GROW = (
    "jobs_job",
    "jobs_release",
    "jobs_stepentry",
    "jobs_reading",
    "book_rider",
    "book_bike",
    "book_unit",
    "access_change",
)


def listed() -> set[int]:
    return set(OnTheBench.objects.values_list("job__number", flat=True))


def open_jobs() -> set[int]:
    """The second way: every job is looked at."""
    return set(Job.objects.filter(releases=None).values_list("number", flat=True))


def test_the_demo_s_jobs_that_are_not_handed_over_are_listed(demo: Path) -> None:
    assert Release.objects.exists() and listed() == open_jobs() != set()


def test_a_job_is_listed_however_it_came_until_it_is_handed_over(workshop: Path, cast: Cast) -> None:
    first, second = make_job(cast.technician, 301), make_job(cast.technician, 302)
    connection.close()
    with raw.opened(workshop) as base:  # past Django
        base.execute(
            "INSERT INTO jobs_job (number, rider_id, asked, asked_title, taken_in_at, taken_in_by_id, technician_id, procedure, budget, last_record)"
            " SELECT 303, rider_id, asked, asked_title, taken_in_at, taken_in_by_id, technician_id, procedure, budget, last_record FROM jobs_job WHERE number = 301"
        )
    assert listed() == {301, 302, 303} == open_jobs()
    Release.objects.create(
        job=first, sequence=9, who=cast.owner, who_name="Maud", at=START, found="x", done="x", left="x", next_service="x", fit_to_ride=True,
    )  # fmt: skip
    assert listed() == {302, 303} == open_jobs()
    second.frozenplans.all()
    Job.objects.get(number=303).delete()
    assert listed() == {302}


def test_a_list_that_is_not_in_step_is_told_and_mended(workshop: Path, cast: Cast) -> None:
    """A migrate that broke off left its triggers out: the health page names it, and the next start has it right again."""
    make_job(cast.technician, 301)
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER keep_jobs_job_opened")
    make_job(cast.technician, 302)
    assert listed() == {301} and "jobs_job" in triggers.missing()
    assert "The guard keep_jobs_job_opened is missing." in triggers.differences()
    call_command("migrate", verbosity=0)
    assert listed() == {301, 302} and triggers.missing() == []


@pytest.mark.parametrize(
    "address",
    ["/", "/book/", "/jobs/new/", "/jobs/new/?rider={rider}", f"/jobs/{PLAN_JOB}/", "/riders/{rider}/set-up/", "/book/riders/{rider}/",
     f"/jobs/{PLAN_JOB}/steps/all/", f"/jobs/{PLAN_JOB}/plan/"],
)  # fmt: skip
def test_no_page_reads_a_table_whole_that_grows_with_the_years(demo: Path, address: str) -> None:
    """As SQLite says it will look: by an index or a key, or in an index's own order up to a limit."""
    owner = people.browser(people.User.objects.get(username="maud"))
    address = address.format(rider=Job.objects.get(number=PLAN_JOB).rider_id)
    with CaptureQueriesContext(connection) as caught:
        assert owner.get(address).status_code == 200
    asked = [row["sql"] for row in caught.captured_queries if row["sql"].lstrip().upper().startswith("SELECT")]
    assert asked
    assert read_whole(asked) == []
    counted_like_a_hundred_thousand()
    assert read_whole(asked) == []


def read_whole(asked: list[str]) -> list[tuple[str, list[str]]]:
    """Of these questions those for which SQLite reads such a table from end to end, each with the way it goes."""
    whole = []
    for sql in asked:
        with connection.cursor() as cursor:
            cursor.execute("EXPLAIN QUERY PLAN " + sql.replace("%", "%%"), [])
            plan = [str(row[3]) for row in cursor.fetchall()]
        limited = re.search(r"LIMIT \d+\s*$", sql) and not any("TEMP B-TREE FOR ORDER" in line for line in plan)
        scanned = [line for line in plan if re.match(rf"SCAN (TABLE )?({'|'.join(GROW)})\b", line)]
        whole += [(sql[:300], plan)] if scanned and not limited else []
    return whole


def counted_like_a_hundred_thousand() -> None:
    """What SQLite counts of the jobs of such a workshop, where somebody lets it: of a column that is mostly NULL, little is known by a value."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE jobs_job")
        cursor.execute(
            "UPDATE sqlite_stat1 SET stat = CASE WHEN idx LIKE 'sqlite_autoindex%' THEN '100016 1' ELSE '100016 8' END"
        )
        cursor.execute("UPDATE sqlite_stat1 SET stat = '100016 50008' WHERE idx LIKE 'jobs_job_comes_back%'")
        assert cursor.rowcount == 1
        cursor.execute("ANALYZE sqlite_schema")
