"""Numbers in order: of jobs, and of a job's records over all kinds. Each comes from one counter, moved in one statement.

The statement locks the counter's row until the change is over, so two writers stand in line on PostgreSQL too.
"""

from __future__ import annotations

from django.db import connection

from topout.web.jobs.records.models import Counter, Job

FIRST_JOB = 201
_JOBS = "job"


def next_job_number() -> int:
    """One more than the last that was given, or than the highest on a card; call inside a change."""
    counter, job = Counter._meta.db_table, Job._meta.db_table
    Counter.objects.get_or_create(name=_JOBS, defaults={"last": FIRST_JOB - 1})
    with connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE {counter} SET last = 1 + CASE WHEN last < (SELECT coalesce(max(number), 0) FROM {job}) "
            f"THEN (SELECT max(number) FROM {job}) ELSE last END WHERE name = %s RETURNING last",
            [_JOBS],
        )
        return int(cursor.fetchone()[0])


def next_sequence(job: Job) -> int:
    """The job's next record number; call inside a change."""
    table = Job._meta.db_table
    with connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE {table} SET last_record = last_record + 1 WHERE id = %s RETURNING last_record", [job.pk]
        )
        return int(cursor.fetchone()[0])
