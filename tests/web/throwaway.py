"""A throw-away PostgreSQL in a temporary folder, for the checks that need one; it listens on a socket in that folder alone."""

from __future__ import annotations

import glob
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


def _program(name: str) -> str | None:
    found = sorted(glob.glob(f"/usr/lib/postgresql/*/bin/{name}"), reverse=True)
    return found[0] if found else shutil.which(name)


@contextmanager
def postgres() -> Iterator[Path]:
    """Gives the folder of the socket of a server, which knows one user: `topout`."""
    programs = {name: _program(name) for name in ("initdb", "pg_ctl")}
    if not all(programs.values()):
        pytest.fail("no PostgreSQL on this machine. Mend: sudo apt-get install postgresql")
    home = Path("/tmp") / f"topout-pg-{os.getpid()}"  # a socket's path must be short
    home.mkdir()
    as_user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    if as_user:
        shutil.chown(home, "postgres", "postgres")

    def run(*words: str) -> str:
        done = subprocess.run([*as_user, *words], capture_output=True, text=True, cwd="/", check=True)
        return done.stdout

    data = str(home / "data")
    run(str(programs["initdb"]), "-D", data, "-A", "trust", "-N", "-U", "topout")
    options = f"-c listen_addresses='' -c unix_socket_directories='{home}' -c fsync=off"
    # -s and a log file: pg_ctl would hand its pipes on to the server, and nobody could wait for their end
    run(str(programs["pg_ctl"]), "-D", data, "-s", "-w", "-l", str(home / "log"), "-o", options, "start")
    try:
        yield home
    finally:
        run(str(programs["pg_ctl"]), "-D", data, "-s", "-m", "immediate", "-w", "stop")
        shutil.rmtree(home)
