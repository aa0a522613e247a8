"""Every landing's database, brought up to date: no row is lost or changed, and its plans come out again."""

from __future__ import annotations

import gzip
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.test.utils import override_settings

import topout
from topout.web.jobs import bridge, triggers
from topout.web.jobs.models import FrozenPlan, Job
from web import people
from web.conftest import use_file
from web.landing import FOLDER

LANDINGS = sorted(FOLDER.glob("*.sqlite3.gz"))


def rows(path: Path) -> dict[str, tuple[list[str], list[tuple[Any, ...]]]]:
    """Columns and rows of every table of ours."""
    with sqlite3.connect(path) as raw:
        names = [
            row[0]
            for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            if row[0].split("_")[0] in ("access", "auth", "book", "jobs", "shelf")
        ]
        found = {}
        for name in names:
            columns = [row[1] for row in raw.execute(f"PRAGMA table_info({name})")]
            found[name] = (columns, raw.execute(f"SELECT * FROM {name} ORDER BY id").fetchall())
        return found


@pytest.fixture(params=LANDINGS, ids=lambda path: path.name)
def landed(request: pytest.FixtureRequest, tmp_path: Path, _unblocked: None) -> Iterator[Path]:
    path = tmp_path / "landed.sqlite3"
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    use_file(path)
    with override_settings(PHOTOS=tmp_path / "photos"):
        yield path
    connection.close()


def test_there_is_a_landing_and_it_is_small() -> None:
    assert LANDINGS
    assert all(path.stat().st_size < 120_000 for path in LANDINGS)
    assert settings.DATABASES["default"]["ENGINE"].endswith("sqlite3")


def test_every_row_is_found_again(landed: Path) -> None:
    before = rows(landed)
    assert sum(len(found) for _, found in before.values()) > 40
    call_command("migrate", verbosity=0)
    connection.close()
    after = rows(landed)
    for table, (columns, kept) in before.items():
        if table in ("auth_permission",):
            continue  # Django's own list of what could be permitted; nobody uses it
        new_columns, new_rows = after[table]
        assert set(columns) <= set(new_columns), table
        places = [new_columns.index(column) for column in columns]
        assert [tuple(row[place] for place in places) for row in new_rows] == kept, table
    assert triggers.missing() == []


def test_its_plans_come_out_again(landed: Path) -> None:
    call_command("migrate", verbosity=0)
    for frozen in FrozenPlan.objects.all():
        again = bridge.recompute(frozen)
        assert again.same_version == (frozen.version == topout.__version__)
        assert again.holds or not again.same_version, again.largest


def test_its_pages_open(landed: Path) -> None:
    from django.contrib.auth.models import User

    call_command("migrate", verbosity=0)
    client = people.browser(User.objects.get(username="wren"))
    for address in ("/", "/book/", "/shelf/", *(f"/jobs/{job.number}/" for job in Job.objects.all())):
        assert client.get(address).status_code == 200, address
