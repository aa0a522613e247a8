"""Web tests run on a copy of a migrated file: the triggers refuse a flush, and real commits are what is promised.

`workshop` is the database with the cast and nothing else, `cast` its people; `owner_in`, `technician_in` and
`stranger` are browsers. A test that wants the other journal takes `both_journals` too.
"""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import django
import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client
from django.test.utils import override_settings
from playwright.sync_api import Browser, sync_playwright

django.setup()
from topout.web import environment  # noqa: E402
from topout.web.demo import jobs  # noqa: E402
from web import people  # noqa: E402  the cast needs the accounts of a set-up Django
from web.served import launch  # noqa: E402

FAST_HASHER = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@contextmanager
def using_file(path: Path) -> Iterator[None]:
    """Point Django's connection at another database file; afterwards at the one before, or at none that can be opened."""
    before = connection.settings_dict["NAME"]
    _point(path)
    try:
        yield
    finally:
        _point(before)


def _point(path: Path | str) -> None:
    connection.close()
    settings.DATABASES["default"]["NAME"] = str(path)
    connection.settings_dict["NAME"] = str(path)


_point("/nowhere/workshop.sqlite3")  # a test that asks for no workshop has none, and not that of the test before it


@pytest.fixture(scope="session", autouse=True)
def _unblocked(django_db_blocker: pytest.FixtureRequest) -> Iterator[None]:
    with django_db_blocker.unblock(), override_settings(PASSWORD_HASHERS=FAST_HASHER):  # type: ignore[attr-defined]
        yield


def once_a_run(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """A folder that is made by the first worker that asks for it; the others of the same run wait and take it."""
    shared = factory.getbasetemp().parent if "PYTEST_XDIST_WORKER" in os.environ else factory.getbasetemp()
    folder, whole = shared / name, shared / f"{name}.whole"
    with (shared / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not whole.exists():
            folder.mkdir()
            make(folder)
            whole.touch()
    return folder


@pytest.fixture(scope="session")
def template_file(tmp_path_factory: pytest.TempPathFactory, _unblocked: None) -> Path:
    """A migrated database with the cast, made once a run."""

    def make(folder: Path) -> None:
        with using_file(folder / "workshop.sqlite3"):
            call_command("migrate", verbosity=0)
            people.make_cast()

    return once_a_run(tmp_path_factory, "template", make) / "workshop.sqlite3"


@pytest.fixture
def workshop(template_file: Path, tmp_path: Path) -> Iterator[Path]:
    """The path of this test's own database file."""
    path = tmp_path / "workshop.sqlite3"
    shutil.copyfile(template_file, path)
    with using_file(path), override_settings(PHOTOS=tmp_path / "photos"):
        yield path


@pytest.fixture(params=["wal", "delete"])
def both_journals(request: pytest.FixtureRequest, workshop: Path) -> Iterator[str]:
    """Run the test once with each of SQLite's journals."""
    options = connection.settings_dict["OPTIONS"]
    before = options["init_command"]
    connection.close()
    options["init_command"] = environment.pragmas(request.param)
    yield request.param
    connection.close()
    options["init_command"] = before


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
def demo_file(tmp_path_factory: pytest.TempPathFactory, _unblocked: None) -> Path:
    """The demo workshop, loaded once a run; its photos stand in `photos` beside the file."""

    def make(folder: Path) -> None:
        with using_file(folder / "demo.sqlite3"), override_settings(PHOTOS=folder / "photos"):
            call_command("migrate", verbosity=0)
            with transaction.atomic():
                jobs.load()

    return once_a_run(tmp_path_factory, "demo", make) / "demo.sqlite3"


@pytest.fixture
def demo(demo_file: Path, tmp_path: Path) -> Iterator[Path]:
    """This test's own copy of the demo workshop."""
    path = tmp_path / "demo.sqlite3"
    shutil.copyfile(demo_file, path)
    shutil.copytree(demo_file.parent / "photos", tmp_path / "photos")
    with using_file(path), override_settings(PHOTOS=tmp_path / "photos"):
        yield path


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for every room of a worker; each test has contexts of its own."""
    with sync_playwright() as play:
        browser = launch(play)
        yield browser
        browser.close()
