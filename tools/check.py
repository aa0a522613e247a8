"""Runs every check of the project, all of them even where one fails, and ends non-zero where anything is wrong.

usage: .venv/bin/python tools/check.py [--soak]

A browser, poppler's programs and PostgreSQL are what some tests need. As root they are installed from Debian. Otherwise the tests that
use them are left out, the one line that mends it is printed, and the run counts as failed: a check that did not run has not passed.
"""

from __future__ import annotations

import glob
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
BIN = ROOT / ".venv" / "bin"

# What a test marker needs: commands that have to answer, each with Debian's package that brings it. Playwright's own program
# comes with its package from the lock, and wants a library that a bare Debian lacks.
NEEDS = {
    "browser": (
        (("chromium-headless-shell", "--version"), "chromium-headless-shell"),
        ((str(BIN / "python"), "-m", "playwright", "--version"), "libatomic1"),
    ),
    "poppler": ((("pdftotext", "-v"), "poppler-utils"),),
    "postgres": ((("initdb", "--version"), "postgresql"),),
}
# Debian keeps a server's programs off the PATH, and its package makes a server of its own unless it is told not to.
SERVER_PROGRAMS = "/usr/lib/postgresql/*/bin"
# Debian's packages of these would start a server on port 80: they are unpacked beside the project, not installed. Without them
# tests/web/test_proxies.py plays their part itself, and says so.
PROXIES = {"caddy": ("caddy", "version"), "nginx": ("nginx", "-v")}
UNPACKED = ROOT / ".proxies"
TIMED = "tests that time a page"  # runs when nothing else does
# Where what the tests write is memory: thousands of small databases, each thrown away a second later, else wait for a disk.
MEMORY, MEMORY_BYTES = Path("/dev/shm"), 4 << 30
NO_SERVER_OF_ITS_OWN = Path("/etc/postgresql-common/createcluster.d/topout-tests.conf")


@dataclass(frozen=True)
class Check:
    """One check: the name to show, the command, and whether it may run beside the next ones, on a processor of its own."""

    name: str
    command: tuple[str, ...]
    beside: bool = False


def missing() -> dict[str, list[str]]:
    """The test markers that can't run on this machine, and the packages that mend it."""
    lacking = {
        marker: [package for command, package in needs if not answers(command)] for marker, needs in NEEDS.items()
    }
    return {marker: packages for marker, packages in lacking.items() if packages}


def answers(command: tuple[str, ...]) -> bool:
    """Whether the command is there and ends well."""
    path = os.pathsep.join([os.environ.get("PATH", os.defpath), *glob.glob(SERVER_PROGRAMS)])
    program = shutil.which(command[0], path=path)
    if program is None:
        return False
    return subprocess.run([program, *command[1:]], capture_output=True, check=False).returncode == 0


def unpack_proxies() -> None:
    """Have Caddy and nginx where the tests find them: on this machine, or fetched and unpacked; no harm where neither works."""
    os.environ["PATH"] = os.pathsep.join(
        [os.environ.get("PATH", os.defpath), *(f"{UNPACKED}/usr/{end}" for end in ("bin", "sbin"))]
    )
    lacking = [name for name, command in PROXIES.items() if not answers(command)]
    if not lacking or not (shutil.which("apt-get") and shutil.which("dpkg")):
        return
    print(f"topout: fetching {' '.join(lacking)} for the tests, unpacked in {UNPACKED}", flush=True)
    UNPACKED.mkdir(parents=True, exist_ok=True)
    for name in lacking:
        fetched = subprocess.run(["apt-get", "download", "-qq", name], cwd=UNPACKED, capture_output=True, check=False)
        for package in UNPACKED.glob(f"{name}_*.deb") if fetched.returncode == 0 else ():
            subprocess.run(["dpkg", "-x", str(package), str(UNPACKED)], capture_output=True, check=False)
            package.unlink()
        if not answers(PROXIES[name]):  # one that can't run here must not be found by the tests
            for end in ("bin", "sbin"):
                (UNPACKED / "usr" / end / name).unlink(missing_ok=True)


def install(packages: list[str]) -> None:
    """As root on Debian, fetch packages; whether it worked is seen by looking again."""
    print(f"topout: installing {' '.join(packages)} for the tests", flush=True)
    if "postgresql" in packages:
        NO_SERVER_OF_ITS_OWN.parent.mkdir(parents=True, exist_ok=True)
        NO_SERVER_OF_ITS_OWN.write_text("create_main_cluster = false\n")
    quiet = {"env": os.environ | {"DEBIAN_FRONTEND": "noninteractive"}, "stdout": subprocess.DEVNULL, "check": False}
    subprocess.run(["apt-get", "update", "-qq"], **quiet)  # type: ignore[call-overload]
    subprocess.run(["apt-get", "install", "-y", "-qq", *packages], **quiet)  # type: ignore[call-overload]


def checks(soak: bool, left_out: Iterable[str]) -> list[Check]:
    """Every check in order, quickest first."""
    python = str(BIN / "python")

    def pytest(name: str, marks: str, *options: str) -> Check:
        wanted = " and ".join([marks, *(f"not {marker}" for marker in left_out)])
        return Check(name, (python, "-m", "pytest", "-q", "-m", wanted, *options))

    # Two workers more than there are processors: a test in a browser waits for frames two thirds of its time, and with one more a
    # quarter of two processors stood idle. Four at most, since a browser beside each wants its share of the memory too.
    workers = ("-n", str(min((os.cpu_count() or 1) + 2, 4)), "--dist", "worksteal")
    if soak:
        return [pytest("tests, long variants", "soak", *workers)]
    return [
        Check("format", (python, "-m", "ruff", "format", "--check", "--quiet")),
        Check("lint", (python, "-m", "ruff", "check", "--quiet")),
        Check("types", (python, "-m", "mypy"), beside=True),
        Check("floors", (str(BIN / "lint-imports"), "--no-cache"), beside=True),
        pytest("tests", "not soak and not alone", *workers),
        *([] if "browser" in left_out else [pytest(TIMED, "alone and not soak", *alone())]),
    ]


def alone() -> list[str]:
    """The rooms that hold a test with the marker `alone`: collecting all the others would take longer than these run."""
    rooms = sorted(path for path in (ROOT / "tests").rglob("test_*.py") if "mark.alone" in path.read_text("utf-8"))
    return [str(path.relative_to(ROOT)) for path in rooms]


class Ran(NamedTuple):
    """A check that ran: its line of the table (name, passed, seconds), and what it said where that was held back."""

    result: tuple[str, bool, float]
    said: str


def in_memory() -> Path | None:
    """A folder whose files are kept in memory, where this machine has one with room enough; None: the usual temporary folder."""
    if not (MEMORY.is_dir() and os.access(MEMORY, os.W_OK)):
        return None
    there = os.statvfs(MEMORY)
    roomy = there.f_bavail * there.f_frsize >= MEMORY_BYTES
    return MEMORY if roomy and not there.f_flag & os.ST_NOEXEC else None  # some tests run programs that they put there


def run(check: Check, *, hold: bool = False) -> Ran:
    """Run a check; `hold` keeps what it says for later, since others are saying something meanwhile."""
    start = time.perf_counter()
    there = None if check.name == TIMED else in_memory()  # what is timed waits for a disk, as in a workshop
    with tempfile.TemporaryDirectory(prefix="topout-", dir=there, ignore_cleanup_errors=True) as folder:
        # Reading the settings makes a secret beside the database: here, and never in the user's own workshop.
        own = {name: value for name, value in os.environ.items() if not name.startswith("TOPOUT_")}
        own["TMPDIR"] = folder
        own["TOPOUT_DATABASE"] = f"{folder}/topout.sqlite3"
        own.pop("PYTHONDONTWRITEBYTECODE", None)  # hundreds of short commands would compile the program each time
        out = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT, "text": True} if hold else {}
        done = subprocess.run(check.command, cwd=ROOT, env=own, check=False, **out)  # type: ignore[call-overload]
    return Ran((check.name, done.returncode == 0, time.perf_counter() - start), done.stdout or "")


def main(arguments: list[str]) -> int:
    """Run the checks; 0 where all of them ran and passed, 1 otherwise."""
    if unknown := [word for word in arguments if word != "--soak"]:
        print(f"topout: no such option: {unknown[0]}. There is --soak.", file=sys.stderr)
        return 2
    left_out = missing()
    if left_out and os.geteuid() == 0 and shutil.which("apt-get"):
        install(sum(left_out.values(), []))
        left_out = missing()

    unpack_proxies()

    results: list[tuple[str, bool, float]] = []
    with ThreadPoolExecutor(max_workers=1) as beside:
        waiting: list[Future[Ran]] = []
        for check in checks("--soak" in arguments, left_out):
            if check.beside:
                waiting.append(beside.submit(run, check, hold=True))
                continue
            if check.name == TIMED:
                wait(waiting)
            print(f"\n── {check.name}", flush=True)
            results.append(run(check).result)
        for each in waiting:
            ran = each.result()
            print(f"\n── {ran.result[0]}\n{ran.said}", end="", flush=True)
            results.append(ran.result)

    print()
    for name, passed, seconds in results:
        print(f"{'ok    ' if passed else 'FAILED'} {seconds:7.1f} s  {name}")
    if left_out:
        packages = " ".join(sum(left_out.values(), []))
        print(f"FAILED  not run    tests that need {packages}. Mend: sudo apt-get install {packages}")
    return int(bool(left_out) or not all(passed for _, passed, _ in results))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
