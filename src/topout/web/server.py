"""The server that holds the workshop's address: many connections, few threads, none of them waiting for a slow client.

Waitress reads requests and sends answers in one loop and hands whole requests to its threads, so that a client which sends
or reads slowly holds a connection, no thread. It takes no new connection beyond its limit, 100 by default: that many idle
ones kept everybody out until the first of them was closed after two minutes. Who asks for several pages before reading the
first, which no browser does, gets them when nobody else waits (`Turns`). What a thread, or the process, needs once is done
before the first page is asked for: the threads take turns, so each of the first eight pages paid for it.
"""

from __future__ import annotations

import ctypes
import errno
import gc
import platform
import select
import sys
import threading
from collections import deque
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection
from django.template.loader import get_template
from django.urls import reverse

from topout.web import network, start

MOST_BODY = 64 * 1024 * 1024  # eight photos and a form
THREADS = 8
CONNECTIONS = 4000
FILES_EACH = 2  # of a connection: itself, and now and then a temporary file of a large form
FILES_BESIDE = 200  # database, photos, static files, sockets of the server itself
IDLE_S = 60  # a connection on which nothing moves is closed after this
LOOK_EVERY_S = 5
# A thread that computes lets others in after this; 5 ms is Python's own. A request asks the database twenty times, and stands
# in line for the interpreter after each of them, as the loop does that takes connections: with two that compute, 100 ms by reckoning (twenty waits of 5 ms).
GIVES_WAY_S = 0.0005
# After so many objects more, the new ones are looked through for garbage: 2 ms. 50,000, which suits a command that ends soon,
# stopped every thread for 50 ms (140 on a busy machine) every hundred requests.
OBJECTS = 5_000
FIRST_PAGES = ("access/sign_in.html", "jobs/bench.html", "search/find.html", "jobs/card.html", "jobs/step.html")
HEAPS = -8  # M_ARENA_MAX of glibc's mallopt(3)
OPENED_S = 5.0  # a thread waits for the others so long, that each opens the database once


def connections() -> int:
    """How many connections may be open at once, by how many files this process may open; it asks for what it may have."""
    try:
        import resource
    except ImportError:  # not on Windows
        return 400
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = CONNECTIONS * FILES_EACH + FILES_BESIDE
    if hard != resource.RLIM_INFINITY:
        wanted = min(wanted, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
        soft = wanted
    return (
        CONNECTIONS
        if soft == resource.RLIM_INFINITY
        else max(50, min(CONNECTIONS, (soft - FILES_BESIDE) // FILES_EACH))
    )


def options() -> dict[str, Any]:
    """What waitress is told: one place for the workshop and for the tests that measure it.

    Told of a proxy, it takes scheme and the client's address from it, and from nobody else; every other header of that kind
    is taken out. Without one nothing trusts them, and they stay, since the demo sees by them that a proxy asks.
    """
    made: dict[str, Any] = {
        "threads": THREADS, "ident": "", "max_request_body_size": MOST_BODY, "connection_limit": connections(),
        "channel_timeout": IDLE_S, "cleanup_interval": LOOK_EVERY_S, "asyncore_use_poll": hasattr(select, "poll"),
        "clear_untrusted_proxy_headers": settings.BEHIND_PROXY,
    }  # fmt: skip
    if settings.BEHIND_PROXY:  # bound to loopback, so that whoever connects is on this computer
        made |= {
            "trusted_proxy": "*",
            "trusted_proxy_count": 1,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        }
    return made


def listen() -> Any:
    """A server that holds the address; raises Refused where another program holds it already."""
    from topout.web.wsgi import application

    try:
        held = made(application, settings.BIND, settings.PORT)
    except OSError as fault:
        raise start.Refused(_not_served(fault)) from None
    sys.setswitchinterval(GIVES_WAY_S)
    return held


def run(held: Any) -> None:
    """Answer until Ctrl-C."""
    share_one_heap()
    load_pages()
    gc.collect()
    gc.freeze()  # what is there now stays, and is not looked through again
    gc.set_threshold(OBJECTS)
    open_in_threads(held.task_dispatcher, THREADS)
    held.run()


def share_one_heap() -> bool:
    """Let all threads take memory from one heap; whether that could be asked for, which it can of glibc before they start.

    Each thread keeps what its largest page took: eight of a plan drawn 20,000 times are half a gigabyte that nobody uses.
    """
    return platform.libc_ver()[0] == "glibc" and ctypes.CDLL(None).mallopt(HEAPS, 1) == 1


def load_pages() -> None:
    """Load every view and the templates of the first pages, which the first page of a process took a third of a second for."""
    reverse("bench")  # the first address that is looked up imports all of them
    for name in FIRST_PAGES:
        get_template(name)


def open_in_threads(dispatcher: Any, threads: int) -> None:
    """Let every thread open the database, which takes twice as long as a page: SQLite reads what tables and triggers there are."""
    together = threading.Barrier(threads)
    for _ in range(threads):
        dispatcher.add_task(_Opening(together))


def made(application: Any, host: str, port: int, **more: Any) -> Any:
    """A server of an application, as the workshop's is; `more` for a test that wants fewer threads."""
    from waitress.server import create_server

    held = create_server(application, host=host, port=port, **options() | more)
    held.task_dispatcher.queue = Turns()
    return held


class _Opening:
    """What a thread does before its first page, in the place of a connection with its requests."""

    requests = ()

    def __init__(self, together: threading.Barrier) -> None:
        self._together = together

    def service(self) -> None:
        """Called by a thread."""
        try:
            connection.ensure_connection()
            self._together.wait(OPENED_S)
        except (DatabaseError, threading.BrokenBarrierError):
            self._together.abort()  # the first page opens it, and says what is wrong

    def cancel(self) -> None:
        """Called where the server ends before."""


class Turns:
    """The connections whose requests wait for a thread: those that ask once before those that asked several times at once.

    It stands where waitress has a deque, used under its lock. A connection is put in when its first request has come, and
    again by the thread that answered one where more had come with it. What more came with the first is known when its turn
    comes: then it waits once more, in `later`.
    """

    def __init__(self) -> None:
        self._first: deque[Any] = deque()
        self._later: deque[Any] = deque()

    def __len__(self) -> int:
        return len(self._first) + len(self._later)

    def append(self, channel: Any) -> None:
        """Put a connection at the end of its line."""
        (self._later if getattr(channel, "asked_more", False) else self._first).append(channel)

    def popleft(self) -> Any:
        """The connection whose request is answered next."""
        while self._first and len(self._first[0].requests) > 1:
            self._later.append(self._first.popleft())
        channel = (self._first or self._later).popleft()
        channel.asked_more = len(channel.requests) > 1
        return channel


def _not_served(fault: OSError) -> str:
    place = f"{network.in_url(settings.BIND)}:{settings.PORT} can't be served ({fault.strerror})."
    if fault.errno == errno.EADDRINUSE:
        other = settings.PORT + 1 if settings.PORT < 65535 else 8000
        return f"{place} Is the workshop open already? Else give it another port: topout serve --port {other}"
    if fault.errno == errno.EACCES:
        return f"{place} Give it a port from 1024 on: topout serve --port 8000"
    return f"{place} This computer's addresses are: {', '.join(['127.0.0.1', *network.own_addresses()])}"
