"""Settings read strictly from the environment, the secret, and the start command in a process of its own."""

from __future__ import annotations

import os
import re
import runpy
import shutil
import socket
import sqlite3
import stat
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from unittest import mock

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import override_settings

import warm
from topout.web import environment, modes, network, opening, start

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("TOPOUT_DEMO", "yes", "write 1 or 0"), ("TOPOUT_PORT", "eighty", "whole number"), ("TOPOUT_PORT", "0", "1 to 65535"),
        ("TOPOUT_PORT", "65536", "1 to 65535"), ("TOPOUT_BIND", "localhost", "address such as"), ("TOPOUT_HOSTS", "*", "in full"),
        ("TOPOUT_HOSTS", "a,,b", "in full"), ("TOPOUT_HOSTS", ".example", "in full"), ("TOPOUT_TIME_ZONE", "Mars/Base", "zone such as"),
        ("TOPOUT_TIME_ZONE", "../etc/passwd", "zone such as"), ("TOPOUT_JOURNAL", "off", "one of"), ("TOPOUT_DATABASE", " ", "empty"),
        ("TOPOUT_DATABSE", "x", "no such setting"), ("TOPOUT_DEBUG", "1", "no such setting"),
    ],
)  # fmt: skip
def test_a_setting_at_fault_stops_the_start_with_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, value: str, says: str
) -> None:
    """The settings are read anew, as a start reads them; in a process of its own: `test_a_wrong_setting_is_one_line_at_the_start`."""
    monkeypatch.setenv("TOPOUT_DATABASE", str(tmp_path / "d.sqlite3"))
    settings = str(ROOT / "src" / "topout" / "web" / "settings.py")
    runpy.run_path(settings)
    monkeypatch.setenv(name, value)
    with pytest.raises(ImproperlyConfigured) as caught:
        runpy.run_path(settings)
    assert name in str(caught.value) and says in str(caught.value)


def test_every_setting_is_in_the_table_of_the_docs() -> None:
    assert environment.__doc__ is not None
    named = set(re.findall(r"TOPOUT_[A-Z_]+", environment.__doc__))
    assert named == environment.KNOWN


def test_what_is_served_may_be_asked_for_by_its_address() -> None:
    assert "192.0.2.7" in network.allowed_hosts("192.0.2.7", [], False)
    assert "[2001:db8::1]" in network.allowed_hosts("2001:db8::1", [], False)
    assert "0.0.0.0" not in network.allowed_hosts("0.0.0.0", [], False)
    assert network.allowed_hosts("127.0.0.1", ["bench.example"], False) == [
        "localhost",
        "127.0.0.1",
        "[::1]",
        "bench.example",
    ]


def test_the_secret_is_made_once_and_for_its_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "new" / "topout.secret"
    first = environment.secret(path)
    assert len(first) >= 50 and environment.secret(path) == first
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.write_text("short")
    with pytest.raises(ImproperlyConfigured, match="no secret"):
        environment.secret(path)


def test_two_first_starts_at_once_agree_on_the_secret(tmp_path: Path) -> None:
    code = "import sys; from pathlib import Path; from topout.web import environment; print(environment.secret(Path(sys.argv[1])))"
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "s")], env=env, stdout=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    said = {process.communicate()[0] for process in both}
    assert len(said) == 1 and len(said.pop().strip()) >= 50
    assert [path.name for path in tmp_path.iterdir()] == ["s"]


def test_a_secret_is_put_in_its_place_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Another start that looks while this one writes finds no file, and one that was first keeps its secret, links or not."""
    place, first = tmp_path / "s", "x" * 64
    synced = os.fsync

    def other_start_meanwhile(handle: int) -> None:
        assert not place.exists()
        place.write_text(first, encoding="ascii")
        place.chmod(0o600)
        synced(handle)

    monkeypatch.setattr(os, "fsync", other_start_meanwhile)
    assert environment.secret(place) == first
    place.unlink()
    monkeypatch.setattr(os, "link", mock.Mock(side_effect=PermissionError))
    assert environment.secret(place) == first
    place.unlink()
    monkeypatch.setattr(os, "fsync", synced)
    made = environment.secret(place)
    assert len(made) >= 50 and environment.secret(place) == made
    assert [path.name for path in tmp_path.iterdir()] == ["s"]


@pytest.fixture
def own_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a test puts into the environment goes with it."""
    for key in [key for key in os.environ if key.startswith(("TOPOUT_", "DJANGO_"))]:
        monkeypatch.setenv(key, "")  # so that it is put back, whatever the test makes of it
        monkeypatch.delenv(key)
    mask = os.umask(0o077)
    os.umask(mask)
    monkeypatch.setattr(os, "umask", lambda _: mask)


@pytest.mark.parametrize("demo", [False, True])
@pytest.mark.parametrize("given", ["--data", "TOPOUT_DATABASE", "both", "nothing"])
def test_every_way_to_say_where_the_records_lie(
    own_environment: None, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, demo: bool, given: str
) -> None:
    """The demo and a workshop have a database each; of two ways to name it the one that was typed wins."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home"))
    for key in ("TOPOUT_DATABASE", "TOPOUT_DEMO", "DJANGO_SETTINGS_MODULE"):
        monkeypatch.delenv(key, raising=False)
    if given in ("TOPOUT_DATABASE", "both"):
        monkeypatch.setenv("TOPOUT_DATABASE", str(tmp_path / "other.sqlite3"))
    words = ["--demo"] * demo + (["--data", str(tmp_path / "d")] if given in ("--data", "both") else [])
    start.read(start.parser("serve", ""), words)
    name = "demo.sqlite3" if demo else "workshop.sqlite3"
    expected = {
        "--data": tmp_path / "d" / name,
        "both": tmp_path / "d" / name,
        "TOPOUT_DATABASE": tmp_path / "other.sqlite3",
    }
    assert os.environ["TOPOUT_DATABASE"] == str(expected.get(given, tmp_path / "home" / "topout" / name))
    assert os.environ.get("TOPOUT_DEMO") == ("1" if demo else None)


@pytest.mark.parametrize(("words", "says"), [
    (["--data"], "--data: expected one argument. All options: topout serve --help"),
    (["--demo=1"], "--demo: ignored explicit argument '1'. All options: topout serve --help"),
    (["--dem"], 'There is no option "--dem". All options: topout serve --help'),
])  # fmt: skip
def test_what_is_wrong_with_an_option_is_said_whole_in_the_program_itself(words: list[str], says: str) -> None:
    with pytest.raises(start.Refused) as refused:
        start.read(start.parser("serve", ""), words)
    assert str(refused.value) == says


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--port", "eighty"], "--port: \"eighty\": a port is a whole number from 1 to 65535. All options"), (["--port", "0"], "1 to 65535"), (["--port"], "--port"),
        (["--bind", "workshop.local"], "--bind: \"workshop.local\": write an address such as 127.0.0.1, or 0.0.0.0"),
        (["--bind", ""], "--bind"), (["--data", " "], "--data: write the path of a folder"), (["--prot", "1"], "no option \"--prot\""),
        (["--settings", "x"], "no option \"--settings\""), (["--dem"], "no option \"--dem\""), (["elsewhere"], "no option \"elsewhere\""),
    ],
)  # fmt: skip
def test_a_wrong_option_is_one_line_with_its_name(tmp_path: Path, words: list[str], says: str) -> None:
    line, env = command(tmp_path, *words)
    done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr and done.stderr.count("\n") == 1, done.stderr
    assert list(tmp_path.iterdir()) == [], "and nothing is made"


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [("TOPOUT_TIME_ZONE", "Mars/Base", "zone such as"), ("TOPOUT_DEBUG", "1", "no such setting"), ("TOPOUT_PORT", "x", "whole number")],
)  # fmt: skip
def test_a_wrong_setting_is_one_line_at_the_start(tmp_path: Path, key: str, value: str, says: str) -> None:
    line, env = command(tmp_path, "--no-serve")
    done = subprocess.run(line, env=env | {key: value}, capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout) == (2, "")
    assert key in done.stderr and says in done.stderr and done.stderr.count("\n") == 1, done.stderr


def test_a_server_is_no_place_for_the_records(tmp_path: Path) -> None:
    """Every command says so in a line and makes nothing: taken for a path it was a folder `postgresql:` with a new workshop in it."""
    env = command(tmp_path)[1] | {"TOPOUT_DATABASE": "postgresql://workshop", "PYTHONPATH": str(ROOT / "src")}
    for words in (["serve", "--no-serve"], ["backup"], ["restore", "x.zip"], ["verify"]):
        done = subprocess.run([*warm.line(), *words], env=env, cwd=tmp_path, capture_output=True, text=True, timeout=60)
        assert (done.returncode, done.stdout) == (2, ""), (words, done)
        assert (
            'TOPOUT_DATABASE="postgresql://workshop": names a server' in done.stderr and done.stderr.count("\n") == 1
        ), (words, done.stderr)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("folder", ["/proc/workshop", "/dev/null/workshop"])
def test_a_folder_that_takes_nothing_is_one_line_with_the_way_out(tmp_path: Path, folder: str) -> None:
    """Neither can be made by any account, root included."""
    line, env = command(tmp_path, "--no-serve", "--data", folder)
    done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout) == (2, "")
    assert folder in done.stderr and "--data DIR" in done.stderr and done.stderr.count("\n") == 1, done.stderr


def test_the_folder_of_the_records_is_made_with_those_above_it_also_where_the_secret_lies_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside its secret the database finds its folder made; with TOPOUT_SECRET_FILE set it does not."""
    for looks_at_the_connection in ("look_at_storage", "bring_up_to_date"):
        monkeypatch.setattr(opening, looks_at_the_connection, lambda: None)
    folder = tmp_path / "a folder" / "in a folder"
    with override_settings(
        DATABASE_PATH=folder / "d.sqlite3", SECRET_FILE=tmp_path / "secret", PHOTOS=folder / "d.photos"
    ):
        for _ in range(2):
            opening.open_database()
            assert folder.is_dir()


def test_the_help_of_the_door_shows_its_own_options_alone(tmp_path: Path) -> None:
    line, env = command(tmp_path, "--help")
    done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0
    options = set(re.findall(r"(?<![\w-])--[a-z-]+", done.stdout))
    assert options == {"--help", "--demo", "--data", "--port", "--bind", "--host", "--behind-proxy", "--no-serve"}


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_what_others_could_open_is_closed_at_the_start_and_said_in_a_line(demo_file: Path, tmp_path: Path) -> None:
    """A workshop as an earlier version left it, under the usual umask of 022."""
    folder = tmp_path / "data"
    shutil.copytree(demo_file.parent / "photos", folder / "photos")
    shutil.copyfile(demo_file, folder / "d.sqlite3")
    line, env = command(folder, "--demo", "--no-serve")
    environment.secret(folder / "d.secret")
    for path in [folder, *folder.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)
    old = os.umask(0o022)
    try:
        first = subprocess.run(line, env=env, capture_output=True, text=True, timeout=120)
        again = subprocess.run(line, env=env, capture_output=True, text=True, timeout=120)
    finally:
        os.umask(old)
    assert first.returncode == 0, first.stderr
    said = [row for row in first.stdout.splitlines() if "Others on this machine" in row]
    assert len(said) == 1 and all(word in said[0] for word in ("database", "secret", "photos", str(folder))), (
        first.stdout
    )
    assert "Others on this machine" not in again.stdout
    open_still = [path for path in [folder, *folder.rglob("*")] if mode(path) & 0o077]
    assert open_still == [] and len(list(folder.rglob("*.jpg"))) > 0


@pytest.fixture(scope="module")
def first_demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """The folder that a first start of the demo made, under a umask that gives others all, and what it said."""
    folder = tmp_path_factory.mktemp("first") / "new"
    line, env = command(folder, "--demo", "--no-serve", fresh=True)
    old = os.umask(0)
    try:
        return folder, subprocess.run(line, env=env, capture_output=True, text=True, timeout=300)
    finally:
        os.umask(old)


def test_a_new_workshop_is_for_its_own_account_alone(
    first_demo: tuple[Path, subprocess.CompletedProcess[str]], tmp_path: Path
) -> None:
    """Every file that a first start and a first write make, journals included, under a umask that gives others all."""
    assert [str(path) for path in [first_demo[0], *first_demo[0].rglob("*")] if mode(path) & 0o077] == []
    folder = tmp_path / "new"
    shutil.copytree(first_demo[0], folder)
    old = os.umask(0)
    try:
        with serving(folder, "--demo") as (address, _, _):
            assert get(f"{address}/")[0] == 200
            files = [folder, *folder.rglob("*")]
            assert [str(path) for path in files if mode(path) & 0o077] == []
            assert any(path.name == "d.sqlite3" for path in files) and any(path.suffix == ".jpg" for path in files)
    finally:
        os.umask(old)


def test_a_folder_that_holds_other_things_is_named_and_left(tmp_path: Path) -> None:
    database, photos, secret = tmp_path / "d.sqlite3", tmp_path / "photos", tmp_path / "d.secret"
    (tmp_path / "letters.txt").write_text("mine")
    for path in (database, secret):
        path.write_text("x")
        path.chmod(0o644)
    tmp_path.chmod(0o755)
    said = modes.mend(database, photos, secret)
    assert mode(tmp_path) == 0o755 and "holds other things" in said
    assert mode(database) == mode(secret) == 0o600


def test_the_folder_of_procedures_is_the_workshops_own_and_closed(tmp_path: Path) -> None:
    database, procedures = tmp_path / "d.sqlite3", tmp_path / "procedures"
    database.write_text("x")
    procedures.mkdir(mode=0o777)
    procedures.chmod(0o777)
    tmp_path.chmod(0o755)
    said = modes.mend(database, tmp_path / "photos", tmp_path / "d.secret")
    assert mode(procedures) == mode(tmp_path) == 0o700, said
    assert "the folder of procedures" in said and "holds other things" not in said


def test_a_file_that_can_not_be_closed_stops_the_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "d.sqlite3"
    path.write_text("x")
    path.chmod(0o644)
    monkeypatch.setattr(Path, "chmod", mock.Mock(side_effect=PermissionError(1, "not permitted")))
    with pytest.raises(ImproperlyConfigured, match="others on this machine"):
        modes.mend(path, tmp_path / "photos", tmp_path / "s")


@pytest.mark.parametrize("fault", ["read-only", "locked"])
def test_a_database_that_takes_no_write_is_said_at_the_start(template_file: Path, tmp_path: Path, fault: str) -> None:
    """Read-only by the file itself: root passes by every mode, so the file says it is of a newer format for writing."""
    path = tmp_path / "d.sqlite3"
    shutil.copyfile(template_file, path)
    line, env = command(tmp_path, "--no-serve")
    if fault == "read-only":
        with path.open("r+b") as file:  # file format, byte 18: what a version does not know it may only read
            file.seek(18)
            file.write(b"\x03")
        done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    else:
        with closing(sqlite3.connect(path)) as other:
            other.execute("BEGIN IMMEDIATE")
            done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2 and "Traceback" not in done.stderr
    assert ("can be read, but not written" if fault == "read-only" else "Another program holds") in done.stderr
    assert "is open at" not in done.stdout


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def command(folder: Path, *words: str, fresh: bool = False) -> tuple[list[str], dict[str, str]]:
    """The start command and its environment; `fresh` where the whole of a start is what is looked at (tests/warm.py)."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("TOPOUT_", "DJANGO_"))}
    env = {**kept, "TOPOUT_DATABASE": str(folder / "d.sqlite3"), "HOME": str(folder)}
    return [*(warm.FRESH if fresh else warm.line()), "serve", *words], env


@contextmanager
def serving(
    folder: Path, *words: str, wait_for_page: bool = True, fresh: bool = False
) -> Iterator[tuple[str, float, subprocess.Popen[str]]]:
    """The start command, serving: its address, the seconds until it answered, the process."""
    port = free_port()
    line, env = command(folder, "--port", str(port), *words, fresh=fresh)
    began = time.perf_counter()
    process = subprocess.Popen(line, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    address = f"http://127.0.0.1:{port}"
    try:
        while True:
            assert process.poll() is None, process.communicate()[0]
            try:
                with urllib.request.urlopen(f"{address}/health/", timeout=5):
                    break
            except urllib.error.HTTPError as refused:  # told of a proxy it answers, but shows nothing
                refused.close()
                assert not wait_for_page, refused
                break
            except (urllib.error.URLError, ConnectionError, TimeoutError):
                assert time.perf_counter() - began < 120
                time.sleep(0.05)
        yield address, time.perf_counter() - began, process
    finally:
        process.terminate()
        process.wait(20)
        assert process.stdout is not None
        process.stdout.close()


def get(address: str) -> tuple[int, str, str]:
    request = urllib.request.Request(address)
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status, answer.geturl(), answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.geturl(), error.read().decode()


def test_the_demo_starts_prints_its_plan_and_starts_again_quickly(
    first_demo: tuple[Path, subprocess.CompletedProcess[str]], tmp_path: Path
) -> None:
    first = first_demo[1]
    shutil.copytree(first_demo[0], tmp_path, dirs_exist_ok=True)
    line, env = command(tmp_path, "--demo", "--no-serve")
    assert first.returncode == 0, first.stderr
    assert first.stderr == ""
    for words in (
        "Job 214",
        "Set 70\xa0psi · 4.83\xa0bar with one volume spacer.",
        "31.0",
        "32.5",
        "+1.5",
        "http://127.0.0.1:8000/",
    ):
        assert words in first.stdout, words
    hurts = [
        first.stdout.index(words) for words in ("Negative chamber. Air stays trapped", "Tyre to crown. 5.4\xa0mm left")
    ]
    assert max(hurts) < first.stdout.index("Set 70"), "what can hurt comes before what to set"
    with serving(tmp_path, "--demo", fresh=True) as (address, seconds, _):
        status, where, page = get(f"{address}/")
        assert status == 200 and where == f"{address}/" and "Runa Telvik" in page, "signed in by itself on loopback"
    # Two cores are shared with other checks here; the start itself takes about a second.
    assert seconds < 3.0 or os.getloadavg()[0] > 2.5, seconds
    again = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    said = first.stdout.replace(str(first_demo[0]), str(tmp_path))
    assert again.stdout == said, "loaded once; a second start loses nothing and adds nothing"


def test_a_hostile_name_in_the_database_does_not_steer_the_terminal(demo_file: Path, tmp_path: Path) -> None:
    shutil.copyfile(demo_file, tmp_path / "d.sqlite3")
    shutil.copytree(demo_file.parent / "photos", tmp_path / "d.photos")
    with closing(sqlite3.connect(tmp_path / "d.sqlite3")) as raw:
        raw.execute("UPDATE book_unit SET name = name || char(27) || '[2J' || char(155) || '31m'")
        raw.commit()
    line, env = command(tmp_path, "--demo", "--no-serve")
    done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0 and "fork\\u001b[2J\\u009b31m" in done.stdout, done.stdout
    assert "\x1b" not in done.stdout and "\x9b" not in done.stdout


def test_the_command_serves_too_and_takes_the_same_options(template_file: Path, tmp_path: Path) -> None:
    folder = tmp_path / "data" / "topout"
    folder.mkdir(parents=True)
    shutil.copyfile(template_file, folder / "workshop.sqlite3")
    _, env = command(tmp_path)
    del env["TOPOUT_DATABASE"]
    env["XDG_DATA_HOME"] = str(tmp_path / "data")
    line = [*warm.FRESH, "serve", "--port", "8123", "--no-serve"]
    done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert "without --no-serve the workshop opens at http://127.0.0.1:8123/\n" in done.stdout
    assert "is open at" not in done.stdout and "Ctrl-C" not in done.stdout
    assert "There is no account yet" not in done.stdout, "the workshop in the user's data folder has its people"


def test_a_workshop_starts_with_a_code_and_shows_nothing_without_sign_in(tmp_path: Path) -> None:
    tmp_path /= "a folder/in a folder"  # neither is there yet
    with serving(tmp_path) as (address, _, process):
        status, where, page = get(f"{address}/")
        assert status == 200 and "/sign-in/" in where and "Make the first one" in page
    assert process.returncode is not None
    line, env = command(tmp_path, "--no-serve")
    said = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60).stdout
    assert re.search(r"\n    http://127.0.0.1:8000/start/\?code=[2-9C-Y]{6}-[2-9C-Y]{6}\n", said)
    mixed = subprocess.run([*line, "--demo"], env=env, capture_output=True, text=True, timeout=60)
    assert mixed.returncode == 2 and "a workshop's own database" in mixed.stderr and "Traceback" not in mixed.stderr


def test_the_demo_bound_to_another_address_wants_sign_in(demo_file: Path, tmp_path: Path) -> None:
    """Bound to every address, but asked through loopback: nothing is shown."""
    shutil.copyfile(demo_file, tmp_path / "d.sqlite3")
    shutil.copytree(demo_file.parent / "photos", tmp_path / "d.photos")
    with serving(tmp_path, "--demo", "--bind", "0.0.0.0") as (address, _, _):
        status, where, page = get(f"{address}/")
        assert status == 200 and "/sign-in/" in where
        assert "Telvik" not in page


def test_a_taken_port_is_said_in_a_line(template_file: Path, tmp_path: Path) -> None:
    shutil.copyfile(template_file, tmp_path / "d.sqlite3")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        line, env = command(tmp_path, "--port", str(taken.getsockname()[1]))
        done = subprocess.run(line, env=env, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2
    assert "another port: topout serve --port" in done.stderr and "Traceback" not in done.stderr
    assert "is open at" not in done.stdout


def test_the_deploy_check_is_clean_but_for_what_plain_http_forces(workshop: Path) -> None:
    from django.core import checks

    found = checks.run_checks(include_deployment_checks=True)
    silenced = {message.id for message in found if message.is_silenced()}
    assert silenced == {"security.W004", "security.W008", "security.W012", "security.W016"}
    assert {message.id for message in found if not message.is_silenced()} <= {"async.E001"}, (
        "E001: the tests' own switch"
    )
