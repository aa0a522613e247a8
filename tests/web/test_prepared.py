"""Queries written once: they answer as Django's own do, and never with what was."""

from __future__ import annotations

import gc
import shutil
import sqlite3
import weakref
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import DEFAULT_DB_ALIAS, connection, connections, transaction
from django.db.models import Model, Q
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from topout.planner import plan_numbers, variables
from topout.web.access import sessions
from topout.web.jobs.core import steps
from topout.web.jobs.records import drafts, open, plans, readings, texts
from topout.web.jobs.records.models import Draft, FrozenPlan, Job, ProcedureText, Reading, StepEntry, StepsShown
from topout.web.jobs.steps import addresses, entries
from topout.web.prepared import Among, Prepared
from web.people import Cast
from web.steps_kit import Hands


def whole(row: Model) -> dict[str, Any]:
    """All that a row holds, and the rows that came with it."""
    kept = {name: value for name, value in vars(row).items() if not name.startswith("_")}
    return kept | {name: other and whole_flat(other) for name, other in row._state.fields_cache.items()}


def whole_flat(row: Model) -> dict[str, Any]:
    return {name: value for name, value in vars(row).items() if not name.startswith("_")}


def test_answers_as_django_does(demo: Path) -> None:
    """Every question about the records of a job and the job itself, for each job of the demo: rows, order, what comes with them."""
    seen = 0
    for job in Job.objects.all():
        for asked in (entries._ENTRIES, entries._PLANS, entries._READINGS, entries._SHEETS):
            plain = [whole(row) for row in asked.make(Q((asked.of, job)))]
            assert [whole(row) for row in asked.one.all(job.pk)] == plain
            seen += len(plain)
        shown = open._SHOWN.first(job.number)
        assert shown is not None
        assert whole(shown) == whole(open._shown().get(number=job.number))
        plan = FrozenPlan.objects.filter(job=job).last()
        kept = plans.current_plan(job)
        assert plan == kept and (plan is None or kept is None or whole_flat(kept) == whole_flat(plan))
        for stage in ("as-found", "as-left"):
            standing = Reading.objects.filter(job=job, stage=stage, corrected_by=None).select_related("instrument")
            current = {row.kind: whole(row) for row in standing.order_by("sequence")}
            assert {kind: whole(row) for kind, row in readings.current(job, stage).items()} == current
            seen += len(current)
        far = Reading.objects.filter(job=job, corrected_by=None, held_m__isnull=False).order_by("sequence")
        assert [row.pk for row in readings.far_in(job)] == [row.pk for row in far]
        for entry in StepEntry.objects.filter(job=job)[:1]:
            row = texts.kept_of([entry.procedure_hash])[entry.procedure_hash]
            assert row.sha256 == entry.procedure_hash
    assert seen > 100  # readings, entries, plans and service data, so that the loop said something


def one_of_several() -> None:
    """Any number of numbers or of texts as one value: none, one, some that no row has."""
    jobs = Prepared(lambda keys: Job.objects.filter(pk__in=Among(keys)).order_by("pk"))
    of_units = Prepared(lambda keys: StepEntry.objects.filter(job__unit__in=Among(keys)).order_by("pk"))
    of_hashes = Prepared(lambda keys: ProcedureText.objects.filter(sha256__in=Among(keys, str)).order_by("pk"))
    pks, units = ([*Job.objects.values_list(name, flat=True)] for name in ("pk", "unit"))
    hashes = [*ProcedureText.objects.values_list("sha256", flat=True)]
    assert pks and hashes
    for some in ([], pks[:1], {*pks, 2**40}, (pks[0], pks[0])):
        assert jobs.all(some) == [*Job.objects.filter(pk__in=some).order_by("pk")]
    for some in ([], {unit for unit in units if unit}):
        assert of_units.all(some) == [*StepEntry.objects.filter(job__unit__in=some).order_by("pk")]
    texts_: tuple[list[str] | set[str], ...] = ([], {*hashes, "it’s “none”"})
    for each in texts_:
        assert of_hashes.all(each) == [*ProcedureText.objects.filter(sha256__in=each).order_by("pk")]


def test_one_of_several_is_asked_for_as_django_does(demo: Path) -> None:
    one_of_several()


def test_the_text_is_written_once(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    made = []

    def shown(who: Any) -> Any:
        made.append(who)
        return StepsShown.objects.filter(who=who)

    ask = Prepared(shown)
    with CaptureQueriesContext(connection) as caught:
        for who in (1, 2, 1):
            ask.first(who)
    assert len(made) == 1 and len(caught) == 3
    assert caught.captured_queries[0]["sql"] == caught.captured_queries[2]["sql"] != caught.captured_queries[1]["sql"]
    assert in_a_thread(lambda: ask.first(2)) is None and len(made) == 1  # nor anew for the connection of another thread


def in_a_thread(act: Callable[[], Any]) -> Any:
    """What `act` gives in a thread of its own, whose connection is closed behind it."""

    def closed() -> Any:
        try:
            return act()
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as thread:
        return thread.submit(closed).result(timeout=20)


def test_no_connection_is_kept_by_a_text(hands: Hands) -> None:
    """The thread that asked first has ended, and its connection goes with it; the next one asks in its own."""
    ask = Prepared(lambda job: StepEntry.objects.filter(job=job).order_by("sequence"))

    def first() -> tuple[Any, list[StepEntry]]:
        return weakref.ref(connections[DEFAULT_DB_ALIAS]), ask.all(hands.job.pk)

    of_thread, rows = in_a_thread(first)
    assert rows and ask.all(hands.job.pk) == rows
    gc.collect()
    assert of_thread() is None


def test_sees_what_another_program_writes(hands: Hands, workshop: Path) -> None:
    """A writer beside us, through SQLite alone: the very next question has it."""
    before = [row.sequence for row in entries._ENTRIES.one.all(hands.job.pk)]
    other = sqlite3.connect(workshop)
    columns = [row[1] for row in other.execute("PRAGMA table_info(jobs_stepentry)") if row[1] not in ("id", "sequence")]
    names = ", ".join(columns)
    with other:
        other.execute(
            f"INSERT INTO jobs_stepentry (sequence, {names}) SELECT sequence + 1000, {names} FROM jobs_stepentry WHERE job_id = ?",
            [hands.job.pk],
        )
        other.execute("UPDATE jobs_job SET asked_title = 'oil alone' WHERE id = ?", [hands.job.pk])
    other.close()
    after = [row.sequence for row in entries._ENTRIES.one.all(hands.job.pk)]
    assert after == [*before, *(each + 1000 for each in before)]
    shown = open._SHOWN.first(hands.job.number)
    assert shown is not None and shown.asked_title == "oil alone"


def test_sees_a_change_that_is_taken_back_go(cast: Cast) -> None:
    ask: Callable[[], Any] = lambda: addresses._ONE_A_PAGE.first(cast.technician.pk)  # noqa: E731
    assert ask() is None
    with transaction.atomic():
        StepsShown.objects.create(who=cast.technician, one_a_page=True)
        assert ask() is not None
        transaction.set_rollback(True)
    assert ask() is None


def test_sees_a_copy_that_was_put_back(hands: Hands, workshop: Path, tmp_path: Path) -> None:
    """The file is another one under the same connection's name: what was signed since is not there, and not remembered."""
    connection.close()
    kept = shutil.copyfile(workshop, tmp_path / "kept.sqlite3")
    count = len(entries._ENTRIES.one.all(hands.job.pk))
    hands.sign(hands.here().slots[0])
    assert len(entries._ENTRIES.one.all(hands.job.pk)) == count + 1
    connection.close()
    for left in workshop.parent.glob(workshop.name + "-*"):
        left.unlink()
    shutil.copyfile(kept, workshop)
    assert len(entries._ENTRIES.one.all(hands.job.pk)) == count


def test_a_session_ends_at_its_time(technician_in: Client) -> None:
    key = sessions.stored(technician_in.cookies["sessionid"].value)
    row = sessions._LIVE.first(key, timezone.now())
    assert row is not None
    assert sessions._LIVE.first(key, row.expire_date) is None
    assert sessions._LIVE.first(key, row.expire_date - timedelta(microseconds=1)) is not None


def test_a_number_that_no_job_can_have_is_no_job(technician_in: Client) -> None:
    for number in (0, 2**31, 2**63, 10**40):
        assert technician_in.get(f"/jobs/{number}/").status_code == 404


def test_null_is_another_question(cast: Cast) -> None:
    with pytest.raises(ValueError, match="NULL is asked for in other words"):
        Prepared(lambda job: Draft.objects.filter(job=job)).all(None)  # type: ignore[arg-type]
    Draft.objects.create(place="take-in:0", who=cast.technician, at=timezone.now())
    found = drafts.find(None, "take-in:0")
    assert found is not None and found.job is None


def test_the_numbers_of_the_steps_are_those_of_this_plan_text_and_reading(hands: Hands) -> None:
    """They are kept for the next walk: against those worked out anew, for another plan, another reading and another text."""
    here = hands.here()
    other_plan = replace(here.plan, set_pressure_gauge_pa=(here.plan.set_pressure_gauge_pa or 0.0) * 1.1)
    other_text = replace(here.procedure, definitions=here.procedure.definitions[:1])
    read: tuple[dict[str, float | None], ...] = ({}, {"round_pressure": 4.1e5}, {"round_pressure": 4.2e5})
    seen = []
    for _ in range(2):
        for plan, text in ((here.plan, here.procedure), (other_plan, here.procedure), (here.plan, other_text)):
            for given in read:
                found = steps.named(plan, given, text)
                assert found == variables.numbers(plan, given, text.definitions)
                seen.append(found)
            assert steps.dangers(plan) == plan_numbers.dangers(plan)
    assert all(first is second for first, second in zip(seen[:9], seen[9:], strict=True))
    assert all(one != other for n, one in enumerate(seen[:6]) for other in seen[:n])
    with pytest.raises(TypeError):
        seen[0]["travel"] = 1.0


def test_a_draft_goes_with_its_form_and_no_other(hands: Hands) -> None:
    """Where there is none, nothing is deleted, and nothing asked beyond that."""
    for place in ("step:a:0", "step:b:0"):
        Draft.objects.create(job=hands.job, place=place, who=hands.who, at=timezone.now())
    drafts.gone(hands.job, "step:a:0")
    assert [row.place for row in Draft.objects.all()] == ["step:b:0"]
    with CaptureQueriesContext(connection) as caught:
        drafts.gone(hands.job, "step:a:0")
    assert [row["sql"].split()[0] for row in caught.captured_queries] == ["SELECT"]
