"""`topout` in a process of its own that needs no second for its imports: forked off one that has its libraries already.

The process that forks holds what no setting can reach: other people's libraries, and the rooms below the web. Environment, folder,
mask and open files are those of the caller, and `topout.__main__` runs from its first line. `line()` stands where `sys.executable
-m topout` would, under `subprocess` as it is. What times a start or takes rights away from it has a whole one: `FRESH`.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    import subprocess
    from typing import Any

FRESH = [sys.executable, "-m", "topout"]
LIBRARIES = (
    "numpy", "PIL.Image", "PIL.ExifTags", "fontTools.ttLib", "typst", "waitress", "whitenoise.middleware", "argon2", "markdown_it",
    "django.core.management", "django.core.servers.basehttp", "django.db.backends.sqlite3.base", "django.db.migrations.executor",
    "django.template.defaulttags", "django.template.loader_tags", "django.forms", "django.core.handlers.wsgi", "django_htmx.middleware",
    "topout.cli.main", "topout.planner.open_to", "topout.planner.sentence", "topout.documents.setup_sheet", "topout.documents.sheet_of_plan",
    "topout.documents.plan_pictures", "topout.documents.pdf", "topout.procedures.words",
)  # fmt: skip
_FORKS: list[tuple[str, subprocess.Popen[bytes]]] = []  # this worker's: where it listens, and its process


def line() -> list[str]:
    """`topout`, for the words of a command to follow. The process that forks is begun by the first who asks, and ends with him."""
    import atexit
    import subprocess
    import tempfile

    if not _FORKS:
        place = os.path.join(tempfile.mkdtemp(prefix="topout-warm-"), "socket")  # a socket's path must be short
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("TOPOUT_", "DJANGO_"))}
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        process = subprocess.Popen([sys.executable, __file__, "--fork", place], env=kept, **pipes)  # type: ignore[call-overload]
        atexit.register(process.communicate)  # closes its stdin, by which it ends
        assert process.stdout.readline() == b"ready\n"
        _FORKS.append((place, process))
    return [sys.executable, "-I", "-S", __file__, _FORKS[0][0]]


def fork_for_whoever_asks(place: str) -> None:
    """Until stdin ends."""
    import gc
    import importlib
    import select

    for name in LIBRARIES:
        importlib.import_module(name)
    assert not any(name.startswith("topout.web") for name in sys.modules), "a room of the web may have read a setting"
    gc.freeze()
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for the forked: each says itself how it ended
    with socket.socket(socket.AF_UNIX) as door:
        door.bind(place)
        door.listen(16)
        print("ready", flush=True)
        ends = select.poll()
        ends.register(0)
        ends.register(door, select.POLLIN)
        while not any(place == 0 for place, _ in ends.poll()):
            asked, _ = door.accept()
            if os.fork() == 0:
                door.close()
                be_topout(asked)
            asked.close()
    os.unlink(place)
    os.rmdir(os.path.dirname(place))


def be_topout(asked: socket.socket) -> None:
    """Be the process that was asked for, and say at the end how it ended."""
    import atexit
    import io
    import runpy

    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    data, handles, _, _ = socket.recv_fds(asked, 1 << 20, 3)
    while not data.endswith(b"\n"):
        data += asked.recv(1 << 20)
    want: dict[str, Any] = json.loads(data)
    for place, handle in enumerate(handles):
        os.dup2(handle, place)
        os.close(handle)
    os.chdir(want["folder"])
    os.umask(want["mask"])
    os.environ.clear()
    os.environ.update(want["env"])
    sys.argv = ["topout", *want["words"]]
    sys.stdin = io.TextIOWrapper(open(0, "rb"), "utf-8")
    sys.stdout = io.TextIOWrapper(open(1, "wb"), "utf-8", line_buffering=os.isatty(1))
    sys.stderr = io.TextIOWrapper(open(2, "wb"), "utf-8", "backslashreplace", line_buffering=True)
    asked.sendall(f"{os.getpid()}\n".encode())
    status = 0
    try:
        runpy.run_module("topout", run_name="__main__", alter_sys=True)
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else int(end.code is not None)
    except BaseException:
        sys.excepthook(*sys.exc_info())
        status = 1
    atexit._run_exitfuncs()
    sys.stdout.flush()
    asked.sendall(f"{status}\n".encode())
    os._exit(status)


def stand_for_it(place: str, words: list[str]) -> int:
    """In the process that the caller started: hand over what it was given, pass signals on, end as the forked one ends."""
    mask = os.umask(0)
    os.umask(mask)
    want = {"words": words, "env": dict(os.environ), "folder": os.getcwd(), "mask": mask}
    wire = socket.socket(socket.AF_UNIX)
    wire.connect(place)
    socket.send_fds(wire, [b"{"], [0, 1, 2])
    wire.sendall(json.dumps(want).encode()[1:] + b"\n")
    said = wire.makefile("r")
    other, passed = int(said.readline()), [signal.SIGKILL]

    def pass_on(number: int, _: object) -> None:
        passed.append(signal.Signals(number))
        os.kill(other, number)

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, pass_on)
    for handle in (0, 1, 2):  # the forked one has them: who reads there shall see its end
        os.close(handle)
    status = said.readline()
    if not status:  # a signal ended it
        if len(passed) > 1:
            signal.signal(passed[-1], signal.SIG_DFL)
        os.kill(os.getpid(), passed[-1])
    return int(status)


if __name__ == "__main__":
    if sys.argv[1] == "--fork":
        fork_for_whoever_asks(sys.argv[2])
    else:
        raise SystemExit(stand_for_it(sys.argv[1], sys.argv[2:]))
