"""Who is answered next: not how long it takes, which a busy machine says, but in which order."""

from __future__ import annotations

import errno
import gc
import http.client
import platform
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from waitress.server import create_server
from waitress.task import ThreadedTaskDispatcher
from waitress.wasyncore import close_all

from topout.web import server

CONNECTIONS, EACH = 30, 4


class Asked:
    """An application that writes down who was answered; each answer waits until it is let go."""

    def __init__(self) -> None:
        self.order: list[str] = []
        self.entered = 0
        self.go = threading.Semaphore(0)

    def __call__(self, environ: dict[str, Any], start: Callable[..., Any]) -> list[bytes]:
        self.entered += 1
        assert self.go.acquire(timeout=20)
        self.order.append(environ["PATH_INFO"])
        start("200 OK", [("Content-Length", "2")])
        return [b"ok"]


@pytest.mark.parametrize(("taken", "other"), [(8000, 8001), (65534, 65535), (65535, 8000)])
def test_another_port_that_is_offered_is_one(monkeypatch: pytest.MonkeyPatch, taken: int, other: int) -> None:
    monkeypatch.setattr(settings, "PORT", taken, raising=False)
    monkeypatch.setattr(settings, "BIND", "127.0.0.1", raising=False)
    said = server._not_served(OSError(errno.EADDRINUSE, "Address already in use"))
    assert said.startswith(f"127.0.0.1:{taken} can't be served") and said.endswith(f"topout serve --port {other}")


def answered_before(make: Callable[..., Any]) -> list[int]:
    """How many answers were made before the first and before the second page of an honest client, beside those that ask for
    four pages each and read none."""
    app = Asked()
    held = make(app, host="127.0.0.1", port=0, threads=1)
    queue = held.task_dispatcher.queue
    loop = threading.Thread(target=held.run, daemon=True)
    loop.start()
    try:
        with ExitStack() as wires:
            for _ in range(CONNECTIONS):
                wire = wires.enter_context(socket.create_connection(("127.0.0.1", held.effective_port), timeout=20))
                wire.sendall(b"GET /unread HTTP/1.1\r\nHost: a\r\n\r\n" * EACH)
            _until(lambda: len(queue) == CONNECTIONS - 1)  # one is at the thread
            honest = http.client.HTTPConnection("127.0.0.1", held.effective_port, timeout=20)
            for nth in ("/honest/1", "/honest/2"):
                _until(lambda: app.entered == len(app.order) + 1)  # the thread has the next one
                waiting = len(queue)
                honest.request("GET", nth)
                _until(lambda: len(queue) > waiting)  # noqa: B023 - asked at once
                while nth not in app.order:
                    made = len(app.order)
                    app.go.release()
                    _until(lambda: len(app.order) > made)  # noqa: B023
                assert honest.getresponse().read() == b"ok"
            honest.close()
            app.go.release(CONNECTIONS * EACH)
            _until(lambda: len(app.order) == CONNECTIONS * EACH + 2)  # who reads nothing gets all of it still
    finally:
        held.task_dispatcher.shutdown()
        held.trigger.pull_trigger(lambda: close_all(held._map))
        loop.join(timeout=5)
    return [app.order.index(nth) for nth in ("/honest/1", "/honest/2")]


def _until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 20
    while not true():
        assert time.monotonic() < end
        time.sleep(0.001)


def test_a_page_waits_for_nobody_who_asked_for_several_at_once() -> None:
    """By waitress's own line the first page waits behind a request of each, the second behind another of each: the control."""
    first, second = answered_before(server.made)
    assert first <= 3 and second - first <= 3, (first, second)


def test_by_waitress_alone_every_page_waits_for_one_request_of_each() -> None:
    first, second = answered_before(create_server)
    assert CONNECTIONS // 2 < first <= CONNECTIONS and second - first > CONNECTIONS // 2, (first, second)


def test_the_line_is_kept_in_order() -> None:
    """Two lines: who asked once, in order, then the others in order; a connection that has come to its last is new again."""
    turns = server.Turns()
    one, two, three, four = (
        SimpleNamespace(name=name, requests=["r"] * count) for name, count in zip("abcd", (2, 1, 2, 1), strict=True)
    )
    for each in (one, two, three):
        turns.append(each)
    assert turns.popleft() is two and turns.popleft() is one and len(turns) == 1
    one.requests.pop()
    turns.append(one)
    turns.append(four)
    assert [turns.popleft().name for _ in range(3)] == ["d", "c", "a"]
    turns.append(one)
    turns.append(two)
    assert turns.popleft() is one and len(turns) == 1


def test_a_thread_that_computes_gives_way_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """The workshop's server, not every program that imports it."""
    told: list[float] = []
    monkeypatch.setattr(sys, "setswitchinterval", told.append)
    monkeypatch.setattr(server, "made", lambda *_: "held")
    assert server.listen() == "held"
    assert told == [server.GIVES_WAY_S] and server.GIVES_WAY_S < 0.005


def test_each_thread_opens_the_database_before_its_first_page(workshop: Path) -> None:
    """Asked by pages alone, each thread's first one opens it: the control."""
    assert opened_before(lambda dispatcher: None) == [False] * 4
    assert opened_before(lambda dispatcher: server.open_in_threads(dispatcher, 4)) == [True] * 4


def opened_before(make_ready: Callable[[Any], None]) -> list[bool]:
    """Whether the database is open in each of four threads as its first page comes."""
    dispatcher = ThreadedTaskDispatcher()
    dispatcher.queue = server.Turns()  # type: ignore[assignment]
    dispatcher.set_thread_count(4)
    together, found = threading.Barrier(4), list[bool]()

    def page() -> None:
        together.wait(20)
        found.append(connection.connection is not None)
        connection.close()

    make_ready(dispatcher)
    for _ in range(4):
        dispatcher.add_task(SimpleNamespace(requests=["r"], service=page))
    _until(lambda: len(found) == 4)
    dispatcher.shutdown()
    return found


def test_while_it_serves_garbage_is_looked_for_in_small_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was there at the start is not looked through again; the pages' code and templates are among it."""
    before, seen = gc.get_threshold(), list[tuple[int, bool]]()
    loaded: list[str] = []
    monkeypatch.setattr(server, "get_template", loaded.append)
    held = SimpleNamespace(
        task_dispatcher=SimpleNamespace(add_task=lambda task: None),
        run=lambda: seen.append((gc.get_threshold()[0], gc.get_freeze_count() > 1000)),
    )
    try:
        server.run(held)
    finally:
        gc.unfreeze()
        gc.set_threshold(*before)
    assert seen == [(server.OBJECTS, True)] and loaded == list(server.FIRST_PAGES)
    monkeypatch.undo()
    server.load_pages()  # each of them is there


_KEPT = """
import resource, sys, threading
import django.conf
django.conf.settings.configure()
from topout.web import server

def resident_mb():
    return next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmRSS")) / 1024

def page(together, done):
    together.wait()
    for _ in range(3):
        with one_at_a_time:
            taken = [bytearray(100_000) for _ in range(400)]  # 40 MB, in pieces as small as a drawn plan's
            left.append(bytearray(2_000))  # what stays, a cache's line, lies behind them
            del taken
    together.wait()
    done.wait()

if sys.argv[1] == "one":
    assert server.share_one_heap()
before, one_at_a_time = resident_mb(), threading.Lock()
together, done, left = threading.Barrier(7), threading.Event(), []
threads = [threading.Thread(target=page, args=(together, done)) for _ in range(6)]
for each in threads:
    each.start()
together.wait(); together.wait()
print(resident_mb() - before)
done.set()
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc gives each thread a heap of its own")
def test_threads_do_not_each_keep_the_memory_of_their_largest_page() -> None:
    """The same threads with a heap each are the control: they keep several times as much."""
    kept = {
        way: float(
            subprocess.run([sys.executable, "-c", _KEPT, way], capture_output=True, text=True, check=True).stdout
        )
        for way in ("one", "each")
    }
    assert kept["one"] * 3 < kept["each"], kept
