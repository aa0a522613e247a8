"""Web tests run on a copy of a migrated file: the triggers refuse a flush, and real commits are what is promised.

`workshop` is the database with the cast and nothing else, `cast` its people; `owner_in`, `technician_in` and
`stranger` are browsers, `hands` works at the steps of a job. A test that wants the other journal takes `both_journals` too.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest
from django.db import transaction
from django.template.base import Template
from django.test import Client
from django.test.utils import override_settings, setup_test_environment, teardown_test_environment
from playwright.sync_api import Browser, expect, sync_playwright

from web.shared import SHIPPED_PRAGMAS, Laid, drawn_once, once_a_run, planned_once, pragmas, using_file

# What stands above sets Django up.
from topout.web import environment, opening  # isort: skip
from topout.web.demo import jobs  # isort: skip
from topout.web.jobs.core import figures  # isort: skip
from topout.web.jobs.readings import photos  # isort: skip
from web import people  # isort: skip
from web.served import end, launch  # isort: skip
from web.steps_kit import Hands, gauge, make_job  # isort: skip

FAST_HASHER = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(scope="session", autouse=True)
def _environment() -> Iterator[None]:
    """Django's own for tests, once a run. Its plugin for pytest would set eight things up for each of six thousand tests."""
    setup_test_environment(debug=False)
    with (
        # It keeps a copy of every template's context, which no test asks for.
        mock.patch.object(Template, "_render", lambda self, context: self.nodelist.render(context)),
        override_settings(PASSWORD_HASHERS=FAST_HASHER),
        mock.patch.object(photos, "draw_anew", drawn_once),
        mock.patch.object(figures, "plan_and_draws", planned_once),
    ):
        yield
        end()
    teardown_test_environment()


@pytest.fixture(scope="session")
def new_file(tmp_path_factory: pytest.TempPathFactory, _environment: None) -> Path:
    """A migrated database with nothing in it, made once a run."""

    def make(folder: Path) -> None:
        with using_file(folder / "workshop.sqlite3"):
            opening.bring_up_to_date()  # the same tables as by every migration in turn: test_first_tables.py

    return once_a_run(tmp_path_factory, "new", make) / "workshop.sqlite3"


@pytest.fixture(scope="session")
def template_file(tmp_path_factory: pytest.TempPathFactory, new_file: Path) -> Path:
    """A migrated database with the cast, made once a run."""

    def make(folder: Path) -> None:
        shutil.copyfile(new_file, folder / "workshop.sqlite3")
        with using_file(folder / "workshop.sqlite3"):
            people.make_cast()

    return once_a_run(tmp_path_factory, "template", make) / "workshop.sqlite3"


@pytest.fixture(scope="session")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Laid]:
    """The file that each test of this worker finds as its template has it."""
    file = Laid(tmp_path_factory.mktemp("laid") / "workshop.sqlite3")
    yield file
    file.end()


@pytest.fixture
def workshop(template_file: Path, laid: Laid) -> Iterator[Path]:
    """The path of the database file, in a folder that holds nothing else."""
    with laid.holding(template_file) as path:
        yield path


@pytest.fixture(params=["wal", "delete"])
def both_journals(request: pytest.FixtureRequest, workshop: Path) -> Iterator[str]:
    """Run the test once with each of SQLite's journals, and wait for the disk as a workshop does."""
    with pragmas(environment.pragmas(request.param)):
        yield request.param


@pytest.fixture
def durable(workshop: Path) -> Iterator[None]:
    """Every commit waits for the disk, as in a workshop: for what is timed."""
    with pragmas(SHIPPED_PRAGMAS):
        yield


@pytest.fixture
def cast(workshop: Path) -> people.Cast:
    from django.contrib.auth.models import User

    return people.Cast(User.objects.get(username="maud"), User.objects.get(username="jory"))


@pytest.fixture
def owner_in(cast: people.Cast) -> Client:
    return people.browser(cast.owner)


@pytest.fixture
def technician_in(cast: people.Cast) -> Client:
    return people.browser(cast.technician)


@pytest.fixture
def stranger(workshop: Path) -> Client:
    return people.browser()


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory: pytest.TempPathFactory, new_file: Path) -> Path:
    """The demo workshop, loaded once a run; its photos stand in `photos` beside the file."""

    def make(folder: Path) -> None:
        shutil.copyfile(new_file, folder / "demo.sqlite3")
        with using_file(folder / "demo.sqlite3"), override_settings(PHOTOS=folder / "photos"), transaction.atomic():
            jobs.load()

    return once_a_run(tmp_path_factory, "demo", make) / "demo.sqlite3"


@pytest.fixture
def demo(demo_file: Path, laid: Laid) -> Iterator[Path]:
    """The path of the demo's database file, with its photos beside it."""
    with laid.holding(demo_file, demo_file.parent / "photos") as path:
        yield path


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for every room of a worker; each test has contexts of its own."""
    expect.set_options(
        timeout=30_000
    )  # as long as every other wait: by itself it fails after five seconds, and so on a busy machine
    with sync_playwright() as play:
        browser = launch(play)
        yield browser
        browser.close()


@pytest.fixture
def hands(cast: people.Cast) -> Hands:
    """A technician's hands at the steps of a travel change that has begun."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    return hands
