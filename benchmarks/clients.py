"""Twenty people at the steps for a minute, and a page beside 110 silent connections: how long each of them waits.

    .venv/bin/python benchmarks/clients.py [--clients N] [--seconds S]

A workshop of its own, served by `topout serve` as an owner starts it, on loopback. Each client has jobs of its own at the steps of a
travel change; it fetches the step, waits one to three seconds as a person does, and signs it, one after the other. The answers
were worked out before, so the clients are light. Then 110 connections are opened that say nothing, and as many of which each
says half of a request or asks for a page and reads nothing of it, and beside them one client asks for its step. Said with the figures: the
server's own processor time for each request, and the load of the machine while it ran. Ends 1 where the 99th of a hundred steps
takes more than 200 ms, or a page beside the silent ones more than a second.
"""

from __future__ import annotations

import argparse
import http.client
import os
import random
import re
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

MOST_STEP_MS, MOST_BESIDE_S = 200.0, 1.0
PAUSES_S = (1.0, 3.0)
SILENT = 110
AFTER = "wash"  # the last of the early steps that take a photo; the next one is some twenty later


@dataclass(frozen=True)
class Visit:
    """One step: its address behind the job's, and what its form is answered with."""

    path: str
    fields: dict[str, str]


@dataclass
class Waited:
    """What a client waited for, in milliseconds."""

    shown: list[float] = field(default_factory=list)
    signed: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def prepare(folder: Path, clients: int, seconds: float) -> tuple[str, list[Visit], int]:
    """A workshop with enough jobs at their steps; a session's cookie, the way through the steps to come, how many jobs each client has."""
    sys.path[:0] = [str(Path(__file__).resolve().parent.parent / "tests")]
    os.environ |= {
        "TOPOUT_DATABASE": str(folder / "workshop.sqlite3"),
        "DJANGO_SETTINGS_MODULE": "topout.web.settings",
    }
    import django

    django.setup()
    from django.contrib.auth.models import User
    from django.core.management import call_command
    from django.utils import timezone

    from topout.web.access.models import Workshop
    from web import people
    from web.steps_kit import Hands, gauge, make_job, one_a_page, passing

    call_command("migrate", verbosity=0)
    now = timezone.now()
    Workshop.objects.create(name="Kiln Row", started_at=now, set_up_at=now)
    cast = people.make_cast()
    one_a_page(*User.objects.all())
    gauge()
    first = Hands(cast.technician, make_job(cast.technician, 300, at=now), now)
    first.begin()
    first.sign(up_to(first))
    way: list[Visit] = []
    while True:
        here = first.here()
        slot = here.current
        assert slot is not None
        if any(each.kind == "photo" for each in slot.step.evidence):
            break
        answers = {
            name: "on" if given.tick else given.choice or given.text for name, given in passing(here, slot).items()
        }
        way.append(Visit(slot.step.key + "/" + (f"{slot.round}/" if slot.round else ""), answers))
        first.sign(slot)
    jobs_each = int(seconds / (sum(PAUSES_S) / 2) / len(way)) + 1
    for number in range(301, 301 + clients * jobs_each):
        hands = Hands(cast.technician, make_job(cast.technician, number, at=now), now)
        hands.begin()
        hands.sign(up_to(hands))
    cookie = people.browser(cast.technician).cookies["sessionid"].value
    from django.db import connection

    connection.close()
    return cookie, way, jobs_each


def up_to(hands: Any) -> Any:
    """Sign everything before the last of the early photos; its slot."""
    slot = hands._work(AFTER)
    assert slot is not None
    return slot


class Client:
    """One person's connection."""

    def __init__(self, port: int, cookie: str) -> None:
        self.wire = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self.cookies = {"sessionid": cookie}

    def ask(self, method: str, path: str, form: dict[str, str] | None = None) -> tuple[int, str, float]:
        """Status, page and milliseconds until the last byte."""
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        body = None
        if form is not None:
            body = urllib.parse.urlencode(form)
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        begun = time.perf_counter()
        self.wire.request(method, path, body, headers)
        answer = self.wire.getresponse()
        page = answer.read().decode()
        took = 1000 * (time.perf_counter() - begun)
        for row in answer.headers.get_all("Set-Cookie") or []:
            name, _, value = row.partition(";")[0].partition("=")
            self.cookies[name] = value
        return answer.status, page, took


def hidden(page: str) -> dict[str, str]:
    """What the form of a step carries of its own."""
    form = page[page.index('id="reading"') :]
    form = form[: form.index("</form>")]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form)
    return dict(found + re.findall(r'name="(csrfmiddlewaretoken)" value="([^"]*)"', form))


def work(client: Client, jobs: range, way: list[Visit], until: float, draw: random.Random, waited: Waited) -> None:
    """Fetch a step, look at it, sign it; on to the next."""
    time.sleep(draw.uniform(0, PAUSES_S[1]))
    for number in jobs:
        for visit in way:
            if time.monotonic() > until:
                return
            place = f"/jobs/{number}/steps/{visit.path}"
            status, page, took = client.ask("GET", place)
            if status != 200:
                waited.wrong.append(f"{place}: {status}")
                return
            waited.shown.append(took)
            time.sleep(draw.uniform(*PAUSES_S))
            status, page, took = client.ask("POST", place, hidden(page) | visit.fields)
            if status != 303:
                waited.wrong.append(f"{place} signed: {status}")
                return
            waited.signed.append(took)
    waited.wrong.append("the jobs ran out")


def busy(port: int, cookie: str, way: list[Visit], clients: int, seconds: float, jobs_each: int) -> Waited:
    waited = Waited()
    until = time.monotonic() + seconds
    threads = [
        threading.Thread(
            target=work,
            args=(
                Client(port, cookie),
                range(301 + nth * jobs_each, 301 + (nth + 1) * jobs_each),
                way,
                until,
                random.Random(nth),
                waited,
            ),
        )
        for nth in range(clients)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return waited


def silent(port: int, kind: str) -> socket.socket:
    """A connection that holds on and says nothing, half of a head, or reads nothing of what it asked for."""
    wire = socket.create_connection(("127.0.0.1", port), timeout=20)
    if kind == "half a head":
        wire.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.")
    elif kind == "reads nothing":
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1024)
        wire.sendall(b"GET /sign-in/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 4)
    return wire


def beside(port: int, cookie: str, kind: str, page: str) -> float:
    """Milliseconds for an honest page, the slowest of ten, right after the silent ones came."""
    with ExitStack() as held:
        for _ in range(SILENT):
            held.enter_context(silent(port, kind))
        taken = []
        for _ in range(10):
            status, _, took = Client(port, cookie).ask("GET", page)
            assert status == 200, status
            taken.append(took)
    return max(taken)


def processor_s(pid: int) -> float:
    """Seconds of processor that a process took so far, its own and the system's for it."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def share(values: list[float], of: float) -> float:
    return sorted(values)[min(len(values) - 1, int(of * len(values)))]


def told(name: str, values: list[float]) -> str:
    return f"{name:28}{len(values):6}{share(values, 0.5):9.0f}{share(values, 0.95):9.0f}{share(values, 0.99):9.0f}{max(values):9.0f}"


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--clients", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60)
    given = parser.parse_args()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    with tempfile.TemporaryDirectory(prefix="topout-clients-") as name:
        cookie, way, jobs_each = prepare(Path(name), given.clients, given.seconds)
        env = {key: value for key, value in os.environ.items() if not key.startswith(("TOPOUT_", "DJANGO_"))}
        line = [sys.executable, "-m", "topout", "serve", "--data", name, "--port", str(port)]
        with subprocess.Popen(line, env=env, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as server:
            try:
                assert server.stdout is not None
                for row in server.stdout:
                    if row.startswith("Ctrl-C"):
                        break
                page = f"/jobs/300/steps/{way[0].path}"
                Client(port, cookie).ask("GET", page)
                before, load = processor_s(server.pid), os.getloadavg()[0]
                waited = busy(port, cookie, way, given.clients, given.seconds, jobs_each)
                spent = processor_s(server.pid) - before
                print(f"{given.clients} clients, pauses of {PAUSES_S[0]:.0f} to {PAUSES_S[1]:.0f} s, {given.seconds:.0f} s;"
                      f" load {load:.1f} before, {os.getloadavg()[0]:.1f} after, {os.cpu_count()} processors")  # fmt: skip
                print(f"{'ms':28}{'number':>6}{'median':>9}{'95 %':>9}{'99 %':>9}{'longest':>9}")
                print(told("a step shown", waited.shown))
                print(told("a step signed", waited.signed))
                print(told("both", both := waited.shown + waited.signed))
                print(f"the server's own processor time: {1000 * spent / len(both):.1f} ms for each request, {100 * spent / given.seconds:.0f} % of one processor")  # fmt: skip
                apart = {kind: beside(port, cookie, kind, page) for kind in ("says nothing", "half a head", "reads nothing")}  # fmt: skip
                for kind, took in apart.items():
                    print(f"beside {SILENT} connections, {kind}: the slowest of ten pages {took:.0f} ms")
            finally:
                server.terminate()
                server.wait(20)
    for each in sorted(set(waited.wrong)):
        print(each, file=sys.stderr)
    missed = share(both, 0.99) > MOST_STEP_MS or max(apart.values()) > 1000 * MOST_BESIDE_S
    return 1 if waited.wrong or missed else 0


if __name__ == "__main__":
    raise SystemExit(main())
