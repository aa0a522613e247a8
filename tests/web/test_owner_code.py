"""`topout owner-code`: the way back in for an owner who forgot, on an open workshop; and what stops it, in one line each."""

from __future__ import annotations

import gzip
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client

import warm
from topout.web.access.models import Change, OneTimeCode
from web import people
from web.landing import FOLDER
from web.test_start import command


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    _, env = command(folder)
    return subprocess.run([*warm.line(), "owner-code", *words], env=env, capture_output=True, text=True, timeout=120)


@pytest.fixture
def folder(workshop: Path) -> Path:
    """The records under the name that the command is told."""
    (workshop.parent / "d.sqlite3").symlink_to(workshop)
    return workshop.parent


def code(done: subprocess.CompletedProcess[str]) -> str:
    assert done.returncode == 0, done.stderr
    return re.findall(r"\n    ([2-9A-Z]{6}-[2-9A-Z]{6})\n", done.stdout)[0]


def test_the_only_owner_gets_back_in_and_the_old_sessions_end(
    folder: Path, owner_in: Client, technician_in: Client
) -> None:
    """While the workshop is open: the test's own connection stays as it is."""
    assert owner_in.get("/").status_code == 200
    plain = code(run(folder))
    assert owner_in.get("/").status_code == 200, "nothing ends before the code is used"
    fresh = people.browser()
    assert people.send(fresh, "/code/", {"code": plain, "password": "three dry bushings"}).status_code == 303
    assert fresh.get("/accounts/").status_code == 200 and owner_in.get("/").status_code == 302
    assert technician_in.get("/").status_code == 200, "others stay"
    assert people.send(people.browser(), "/code/", {"code": plain, "password": "another of mine"}).status_code == 422
    assert Change.objects.filter(what="owner code", who=None).count() == 1 and OneTimeCode.objects.get().made_by is None


def test_of_several_owners_one_is_named(folder: Path, cast: people.Cast) -> None:
    User.objects.create_user("kit", password="x", is_staff=True)
    done = run(folder)
    assert (done.returncode, done.stdout) == (2, "") and "one of kit, maud" in done.stderr
    assert code(run(folder, "kit"))
    assert OneTimeCode.objects.get().user == User.objects.get(username="kit")


@pytest.mark.parametrize(
    ("state", "words", "says"),
    [
        ("usual", ["jory"], "no owner has this account. Owners: maud"), ("usual", ["nobody"], "Owners: maud"),
        ("usual", ["--account"], "no option"), ("no account", [], "There is no account yet"), ("elsewhere", [], "there is no workshop here"),
        ("older", [], "Start it once with this one"), ("no workshop", [], "another version"), ("usual", ["maud", "kit"], "no option"),
    ],
)  # fmt: skip
def test_what_stops_it_is_one_line_and_makes_no_code(folder: Path, state: str, words: list[str], says: str) -> None:
    database = folder / "d.sqlite3"
    connection.close()
    if state == "no account":
        User.objects.all().delete()
        connection.close()
    elif state == "elsewhere":
        words = ["--data", str(folder / "not there")]
    elif state == "older":
        database.write_bytes(gzip.decompress((FOLDER / "0.1.0.sqlite3.gz").read_bytes()))
    elif state == "no workshop":
        database.unlink()
        database.write_bytes(b"")
    done = run(folder, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr and done.stderr.count("\n") == 1, done.stderr
    assert not (folder / "not there").exists()
    if state == "usual":
        assert not OneTimeCode.objects.exists()


def test_the_demos_owner_gets_a_code_too(demo_file: Path, tmp_path: Path) -> None:
    """Bound to a network the demo wants sign-in, and nobody there has a password."""
    shutil.copyfile(demo_file, tmp_path / "d.sqlite3")
    assert code(run(tmp_path, "--demo"))
