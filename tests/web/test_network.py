"""On the network: idle and slow connections hold nobody up, own names are admitted and others refused, a proxy is trusted when told."""

from __future__ import annotations

import http.client
import io
import os
import pty
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.parse
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from django.core.exceptions import ImproperlyConfigured
from django.test.utils import override_settings

import warm
from topout.web import network, server
from topout.web.environment import Environment
from web import people
from web.test_start import command, free_port, get, serving

MANY = 110  # more than waitress takes by itself
WITHIN_S = 5.0  # five times the target of a second: a busy machine is no finding, and 144 s were the fault


@pytest.fixture
def folder(template_file: Path, tmp_path: Path) -> Path:
    shutil.copyfile(template_file, tmp_path / "d.sqlite3")
    return tmp_path


def connected(port: int, kind: str) -> socket.socket:
    """A client that holds its connection: it says nothing, half of a head, half of a body, or reads nothing of what it asked for."""
    wire = socket.create_connection(("127.0.0.1", port), timeout=20)
    if kind == "half a head":
        wire.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.")
    elif kind == "half a body":
        wire.sendall(b"POST /sign-in/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5000\r\n\r\nname=jory")
    elif kind == "reads nothing":
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1024)
        wire.sendall(b"GET /sign-in/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 2)
    return wire


@pytest.mark.parametrize("kind", ["idle", "half a head", "half a body", "reads nothing"])
def test_connections_on_which_nothing_moves_hold_nobody_up(folder: Path, kind: str) -> None:
    """144 s with waitress's own limit of 100 connections."""
    with serving(folder) as (address, _, _), ExitStack() as held:
        port = int(address.rpartition(":")[2])
        for _ in range(MANY):
            held.enter_context(connected(port, kind))
        for _ in range(3):
            began = time.perf_counter()
            status, where, _ = get(f"{address}/")
            took = time.perf_counter() - began
            assert status == 200 and "/sign-in/" in where
            assert took < WITHIN_S, took


def test_a_connection_on_which_nothing_moves_is_closed(workshop: Path) -> None:
    """What waitress is told, and not its default: an idle one goes after a minute, looked for every five seconds."""
    told = server.options()
    assert told["channel_timeout"] == 60 and told["cleanup_interval"] == 5
    assert told["connection_limit"] >= 10 * MANY or told["connection_limit"] == server.connections()
    assert "trusted_proxy" not in told


def test_the_limit_of_connections_fits_the_files_that_may_be_open() -> None:
    """In a process of its own, since the limit is the process's: waitress may not run out of files below its own limit."""
    code = (
        "import resource; resource.setrlimit(resource.RLIMIT_NOFILE, (1024, 1024))\n"
        "from topout.web import server; print(server.connections())"
    )
    env = os.environ | {"TOPOUT_DATABASE": "/nowhere/d.sqlite3"}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, timeout=60)
    assert done.stderr == "" and int(done.stdout) * server.FILES_EACH + server.FILES_BESIDE <= 1024


def until_it_is_served(line: list[str], env: dict[str, str]) -> str:
    """What a start says into a pipe until it serves; then it is ended."""
    with subprocess.Popen(line, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as process:
        said = []
        assert process.stdout is not None
        for row in process.stdout:
            said.append(row)
            if row.startswith("Ctrl-C"):
                break
        process.terminate()
    return "".join(said)


def test_every_address_that_is_printed_opens_the_workshop_and_no_other(folder: Path) -> None:
    port = free_port()
    line, env = command(folder, "--bind", "0.0.0.0", "--port", str(port), "--host", "workshop.local")
    said = until_it_is_served(line, env)
    printed = re.findall(r"http://\S+/(?= |$)", said, re.MULTILINE)
    own = [each for each in network.own_addresses() if ":" not in each]
    assert {f"http://{each}:{port}/" for each in ["127.0.0.1", *own]} == set(printed), said
    assert "TLS" in said and "\x1b" not in said, "no code of blocks into a pipe"
    with serving(folder, "--bind", "0.0.0.0", "--host", "workshop.local") as (address, _, _):
        real = int(address.rpartition(":")[2])
        for each in printed:
            assert get(f"{each.replace(str(port), str(real))}sign-in/")[0] == 200
        wire = http.client.HTTPConnection("127.0.0.1", real, timeout=20)
        for host, status in (
            ("workshop.local", 200), (f"WORKSHOP.LOCAL:{real}", 200), (socket.gethostname().partition(".")[0], 200),
            ("evil.example", 400), ("workshop.local.evil.example", 400), ("0.0.0.0", 400), ("192.0.2.77", 400),
        ):  # fmt: skip
            wire.request("GET", "/sign-in/", headers={"Host": host})
            answer = wire.getresponse()
            page = answer.read().decode()
            assert answer.status == status, host
            assert status == 200 or ("Open an address that the start command printed" in page and "--host" in page)
        wire.close()


def test_an_address_that_comes_up_later_is_admitted(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The unit starts before the network has an address; a lease ends and another begins."""
    monkeypatch.setattr(network, "own_addresses", lambda: ["192.0.2.50"])
    monkeypatch.setattr(network, "_looked_at", -1e9)
    client = people.browser()
    with override_settings(LOOPBACK=False, BIND="0.0.0.0", ALLOWED_HOSTS=["localhost"]):
        assert client.get("/sign-in/", headers={"host": "192.0.2.51:8000"}).status_code == 400
        assert client.get("/sign-in/", headers={"host": "192.0.2.50:8000"}).status_code == 200
        monkeypatch.setattr(network, "own_addresses", lambda: pytest.fail("looked again at once"))
        assert client.get("/sign-in/", headers={"host": "192.0.2.52:8000"}).status_code == 400
    with override_settings(LOOPBACK=True):
        monkeypatch.setattr(network, "_looked_at", -1e9)
        assert not network.admit_new_addresses(), "on loopback no address of the network opens it"


def test_the_code_in_the_terminal_holds_the_address(folder: Path) -> None:
    """Read back from the half blocks that a terminal would show."""
    port = free_port()
    line, env = command(folder, "--bind", "0.0.0.0", "--port", str(port), fresh=True)
    master, slave = pty.openpty()
    process = subprocess.Popen(line, env=env | {"PYTHONUTF8": "1"}, stdout=slave, stderr=slave)
    os.close(slave)
    said = io.BytesIO()
    while b"Ctrl-C closes it." not in said.getvalue():
        try:
            part = os.read(master, 65536)
        except OSError:  # Linux says so at the end
            break
        said.write(part)
    process.terminate()
    process.wait(60)
    os.close(master)
    lines = re.findall("\x1b\\[38;5;231;48;5;16m([ ▀▄█]+)\x1b", said.getvalue().decode())
    assert lines, said.getvalue()
    upper = np.array([[sign in "▀█" for sign in row] for row in lines])
    lower = np.array([[sign in "▄█" for sign in row] for row in lines])
    white = np.stack([upper, lower], axis=1).reshape(-1, upper.shape[1])
    picture = np.kron(np.where(white, 255, 0).astype(np.uint8), np.ones((8, 8), np.uint8))
    found = zxingcpp.read_barcodes(np.pad(picture, 40, constant_values=255))
    assert [each.text for each in found] == [f"http://{network.served_addresses('0.0.0.0')[0]}:{port}/"]


@pytest.mark.parametrize(
    ("bind", "names", "says"), [("0.0.0.0", ["bench.example"], "leave it out"), ("127.0.0.1", [], "--host bench.example")]
)  # fmt: skip
def test_a_proxy_needs_loopback_and_a_name(bind: str, names: list[str], says: str) -> None:
    with pytest.raises(ImproperlyConfigured, match=says):
        network.allowed_hosts(bind, names, behind_proxy=True)


@pytest.mark.parametrize(
    "host", ["*", "a,,b", ".example", "http://bench.example", "bench.example:8000", "bench.example/", "a b", "-a", ""]
)
def test_a_further_name_is_written_in_full(host: str) -> None:
    with pytest.raises(ImproperlyConfigured):
        Environment({"TOPOUT_HOSTS": host}).hosts("TOPOUT_HOSTS")


# ------------------------------------------------------------------ behind a proxy


class Through:
    """A proxy's side of the wire: it says what its headers say."""

    def __init__(self, address: str, **headers: str) -> None:
        self.port = int(address.rpartition(":")[2])
        self.headers = {
            "Host": "bench.example",
            "X-Forwarded-Proto": "https",
            "X-Forwarded-For": "203.0.113.9",
        } | headers
        self.cookies: dict[str, str] = {}

    def connect(self) -> http.client.HTTPConnection:
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)

    def ask(
        self, method: str, path: str, form: dict[str, str] | None = None, **headers: str
    ) -> tuple[int, http.client.HTTPMessage, str]:
        wire = self.connect()
        sent = self.headers | headers
        if self.cookies:
            sent["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        body = None
        if form is not None:
            body = urllib.parse.urlencode(form)
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        wire.request(method, path, body, {name: value for name, value in sent.items() if value})
        answer = wire.getresponse()
        page = answer.read().decode()
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            name, _, value = cookie.partition(";")[0].partition("=")
            self.cookies[name] = value
        wire.close()
        return answer.status, answer.headers, page


@contextmanager
def behind(folder: Path, *words: str) -> Iterator[str]:
    with serving(folder, "--behind-proxy", "--host", "bench.example", *words, wait_for_page=False) as (address, _, _):
        yield address


def sign_in(proxy: Through, **headers: str) -> tuple[int, http.client.HTTPMessage, str]:
    _, _, page = proxy.ask("GET", "/sign-in/")
    token = re.findall(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[0]
    form = {"name": "jory", "password": people.PASSWORD, "csrfmiddlewaretoken": token}
    return proxy.ask("POST", "/sign-in/", form, **headers)


def code_of_owner(folder: Path) -> str:
    """What `topout owner-code` gives, read as its reader would."""
    _, env = command(folder)
    done = subprocess.run([*warm.line(), "owner-code"], env=env, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return re.findall(r"\n    ([2-9A-Z]{6}-[2-9A-Z]{6})\n", done.stdout)[0]


def set_password(proxy: Through, code: str, **headers: str) -> tuple[int, http.client.HTTPMessage, str]:
    _, _, page = proxy.ask("GET", f"/code/?code={code}")
    form = {
        name: re.findall(rf'name="{name}"[^>]*value="([^"]+)"', page)[-1]
        for name in ("csrfmiddlewaretoken", "change_key", "code")
    }
    return proxy.ask("POST", "/code/", form | {"password": "three dry bushings"}, **headers)


def test_through_a_proxy_cookies_are_secure_and_the_origin_is_right(folder: Path) -> None:
    """Signed in by an owner's code, made while the workshop is open: session, token and the known device's mark are for TLS alone."""
    with behind(folder) as address:
        proxy = Through(address)
        for origin in ("https://evil.example", "http://bench.example", "null"):
            assert sign_in(proxy, Origin=origin)[0] == 403, origin
        status, headers, page = set_password(proxy, code_of_owner(folder), Origin="https://bench.example")
        assert status == 303, page
        cookies = headers.get_all("Set-Cookie") or []
        assert {cookie.partition("=")[0] for cookie in cookies} >= {"sessionid", "topout_known"}
        for cookie in cookies:
            assert "Secure" in cookie and "SameSite=Lax" in cookie, cookie
        status, _, page = proxy.ask("GET", "/")
        assert status == 200 and "Maud Askel" in page
        assert Through(address).ask("GET", "/")[0] == 302


def test_told_of_a_proxy_nothing_is_shown_without_tls(folder: Path) -> None:
    with behind(folder) as address:
        for headers in (
            {"X-Forwarded-Proto": ""},
            {"X-Forwarded-Proto": "http"},
            {"X-Forwarded-Proto": "", "Host": "127.0.0.1"},
        ):
            status, _, page = Through(address, **headers).ask("GET", "/sign-in/")
            assert status == 400 and "https://bench.example/" in page, headers
        assert Through(address, Host="evil.example").ask("GET", "/sign-in/")[0] == 400
        assert Through(address, **{"X-Forwarded-Host": "evil.example"}).ask("GET", "/sign-in/")[0] == 200, (
            "and is not listened to"
        )


def test_untold_nobody_believes_a_forwarded_scheme_or_address(folder: Path) -> None:
    with serving(folder, "--host", "bench.example") as (address, _, _):
        status, headers, _ = Through(address).ask("GET", "/sign-in/")
        assert status == 200 and "Secure" not in (headers["Set-Cookie"] or "")
        assert sign_in(Through(address), Origin="https://bench.example")[0] == 403, (
            "the origin that it is asked by is http"
        )


def test_the_demo_signs_nobody_in_through_a_proxy_told_of_or_not(demo_file: Path, tmp_path: Path) -> None:
    shutil.copyfile(demo_file, tmp_path / "d.sqlite3")
    shutil.copytree(demo_file.parent / "photos", tmp_path / "d.photos")
    with behind(tmp_path, "--demo") as address:
        for headers in ({}, {"X-Forwarded-For": "127.0.0.1"}, {"X-Forwarded-For": ""}):
            status, told, page = Through(address, **headers).ask("GET", "/")
            assert status == 302 and told["Location"].startswith("/sign-in/"), headers
            assert "Telvik" not in page
    with serving(tmp_path, "--demo", "--host", "bench.example") as (address, _, _):
        assert get(f"{address}/")[2].count("Telvik")
        assert Through(address).ask("GET", "/")[0] == 302
        bare = Through(address, **{"X-Forwarded-For": "", "X-Forwarded-Proto": ""})
        assert bare.ask("GET", "/")[0] == 302, "by its name alone"
