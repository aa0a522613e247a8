"""The files of docs/serving.md: Caddy and nginx in front of the workshop, the systemd unit, the autostart line.

Where a machine has no Caddy or nginx, the test plays its part over plain HTTP with the headers that its file sets, and says so.
"""

from __future__ import annotations

import configparser
import http.client
import os
import re
import shlex
import shutil
import socket
import ssl
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from topout.web import serve
from topout.web.access.models import WrongTries
from web.conftest import using_file
from web.test_network import Through, behind, code_of_owner, set_password, sign_in
from web.test_start import ROOT, free_port

DOCS = (ROOT / "docs" / "serving.md").read_text(encoding="utf-8")
AWAY = "127.0.0.2"  # a client's address that is not the proxy's own


def block(language: str) -> str:
    """The file of that kind in the docs."""
    found = re.findall(rf"```{language}\n(.*?)```", DOCS, re.DOTALL)
    assert len(found) == 1
    return str(found[0])


class Secure(Through):
    """A browser at the proxy's TLS port, from an address of its own."""

    def __init__(self, port: int, **headers: str) -> None:
        super().__init__(f"http://127.0.0.1:{port}")
        self.headers = {"Host": "bench.example"} | headers

    def connect(self) -> http.client.HTTPConnection:
        trusting = ssl.create_default_context()
        trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE  # the proxy's own certificate
        plain = socket.create_connection(("127.0.0.1", self.port), timeout=20, source_address=(AWAY, 0))
        wire = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        wire.sock = trusting.wrap_socket(plain, server_hostname="bench.example")
        return wire


def answers(port: int, process: subprocess.Popen[str]) -> bool:
    """Whether the proxy takes a TLS connection; raises AssertionError once it has gone."""
    assert process.poll() is None, process.communicate()[0]
    try:
        Secure(port).ask("GET", "/sign-in/")
        return True
    except (OSError, http.client.HTTPException):
        return False


@contextmanager
def running(line: list[str], port: int, env: dict[str, str]) -> Iterator[None]:
    process = subprocess.Popen(line, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        until = time.monotonic() + 60
        while not answers(port, process):
            assert time.monotonic() < until
            time.sleep(0.1)
        yield
    finally:
        process.terminate()
        process.communicate(timeout=20)


@contextmanager
def caddy(program: str, folder: Path, workshop: str) -> Iterator[int]:
    port = free_port()
    file = folder / "Caddyfile"
    ours = "{\n\tadmin off\n\tskip_install_trust\n\tauto_https disable_redirects\n\tlocal_certs\n}\n"  # no port but the one named
    file.write_text(
        ours
        + block("caddyfile").replace("bench.example {", f"bench.example:{port} {{").replace("127.0.0.1:8000", workshop)
    )
    env = os.environ | {"HOME": str(folder), "XDG_DATA_HOME": str(folder / "c"), "XDG_CONFIG_HOME": str(folder / "c")}
    with running([program, "run", "--config", str(file), "--adapter", "caddyfile"], port, env):
        yield port


@contextmanager
def nginx(program: str, folder: Path, workshop: str) -> Iterator[int]:
    port = free_port()
    cert, key = folder / "c.crt", folder / "c.key"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "1", "-subj", "/CN=bench.example", "-keyout", key, "-out", cert],
        check=True, capture_output=True,
    )  # fmt: skip
    file = block("nginx").replace("listen 443 ssl", f"listen 127.0.0.1:{port} ssl").replace("127.0.0.1:8000", workshop)
    file = file.replace("/etc/ssl/bench.example.crt", str(cert)).replace("/etc/ssl/bench.example.key", str(key))
    temporary = "".join(
        f"{kind}_temp_path {folder}/{kind};\n" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    whole = folder / "nginx.conf"
    user = "user root;\n" if os.geteuid() == 0 else ""
    whole.write_text(
        f"daemon off;\nmaster_process off;\n{user}pid {folder}/pid;\nerror_log stderr;\nevents {{}}\nhttp {{\naccess_log off;\n{temporary}{file}}}\n"
    )
    with running([program, "-p", str(folder), "-c", str(whole)], port, dict(os.environ)):
        yield port


PROXIES: dict[str, Any] = {"caddy": caddy, "nginx": nginx}


@contextmanager
def at_the_proxy(
    name: str, folder: Path, address: str, capsys: pytest.CaptureFixture[str], **headers: str
) -> Iterator[Through]:
    """A browser in front of the proxy of that name, or of the test's own stand-in for it."""
    program = shutil.which(name) or shutil.which(name, path="/usr/sbin")
    own = folder / name
    own.mkdir(exist_ok=True)
    if program is None or (name == "nginx" and shutil.which("openssl") is None):
        with capsys.disabled():
            print(f"\nno {name} on this machine: the test sets the headers itself that its file sets")
        yield Through(address, **({"X-Forwarded-For": AWAY} | headers))
        return
    with PROXIES[name](program, own, address.removeprefix("http://")) as port:
        yield Secure(port, **headers)


@pytest.mark.parametrize("name", PROXIES)
def test_a_workshop_behind_the_proxy_of_the_docs(
    template_file: Path, tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copyfile(template_file, tmp_path / "d.sqlite3")
    with behind(tmp_path) as address, at_the_proxy(name, tmp_path, address, capsys) as browser:
        status, headers, _ = browser.ask("GET", "/")
        assert status == 302 and headers["Location"] == "/sign-in/?next=/"
        assert sign_in(browser, Origin="http://bench.example")[0] == 403
        assert sign_in(browser, Origin="https://bench.example")[0] == 403  # the password is wrong there; counted, below
        status, headers, page = set_password(browser, code_of_owner(tmp_path), Origin="https://bench.example")
        assert status == 303, page
        cookies = headers.get_all("Set-Cookie") or []
        assert cookies and all("Secure" in cookie for cookie in cookies), cookies
        status, headers, page = browser.ask("GET", "/")
        assert status == 200 and "Maud Askel" in page and headers["Content-Security-Policy"]
        status, _, page = browser.ask("GET", "/sign-in/", Host="evil.example")
        assert "Sign in" not in page, (status, page)
        large = browser.ask("POST", "/sign-in/", {"name": "x" * 3_000_000})[0]
        assert large in (400, 403), "a photo's worth gets through to the workshop"
    with using_file(tmp_path / "d.sqlite3"):
        assert set(WrongTries.objects.values_list("device", flat=True)) == {f"@{AWAY}", "@"}, (
            "the client's address, not the proxy's"
        )
        connection.close()


@pytest.mark.parametrize("name", PROXIES)
@pytest.mark.parametrize(
    "forged", [{}, {"X-Forwarded-For": "127.0.0.1"}, {"Forwarded": "for=127.0.0.1;host=localhost"}]
)
def test_the_demo_signs_nobody_in_behind_the_proxy_of_the_docs(
    demo_file: Path, tmp_path: Path, name: str, forged: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copyfile(demo_file, tmp_path / "d.sqlite3")
    shutil.copytree(demo_file.parent / "photos", tmp_path / "d.photos")
    with behind(tmp_path, "--demo") as address, at_the_proxy(name, tmp_path, address, capsys, **forged) as browser:
        status, headers, page = browser.ask("GET", "/")
        assert status == 302 and headers["Location"].startswith("/sign-in/") and "Telvik" not in page


@pytest.mark.parametrize(
    ("language", "section", "key"), [("ini", "Service", "ExecStart"), ("desktop", "Desktop Entry", "Exec")]
)
def test_the_start_lines_of_the_docs_are_taken(language: str, section: str, key: str, tmp_path: Path) -> None:
    """Read as systemd and a desktop read them; the command's own parser takes the options; systemd finds nothing in its unit."""
    read = configparser.ConfigParser(interpolation=None)
    read.optionxform = str  # type: ignore[assignment, method-assign]
    read.read_string(block(language))
    program, name, *options = shlex.split(read[section][key])
    assert program.rpartition("/")[2] == "topout" and name == "serve"
    asked, more = serve.parser().parse_known_args(options)
    assert more == [] and asked.bind == "0.0.0.0"
    if language == "ini" and shutil.which("systemd-analyze"):
        unit = read["Service"]
        assert unit["Restart"] == "on-failure" and read["Install"]["WantedBy"] == "default.target"
        file = tmp_path / "topout.service"
        file.write_text(block(language).replace("%h/.local/bin/topout", sys.executable))
        with tempfile.TemporaryDirectory(dir="/tmp") as short:  # sockets of the machine's own units lie in it
            looked = subprocess.run(
                ["systemd-analyze", "verify", "--user", str(file)],
                env=os.environ | {"XDG_RUNTIME_DIR": short}, capture_output=True, text=True, timeout=60,
            )  # fmt: skip
        assert (looked.returncode, looked.stdout + looked.stderr) == (0, "")


def test_every_command_of_the_docs_is_taken() -> None:
    """Each line of `topout serve` in the page, with its own parser."""
    lines = re.findall(r"^    (topout serve[^#\n]*)", DOCS, re.MULTILINE)
    assert len(lines) >= 5
    for line in lines:
        assert serve.parser().parse_known_args(shlex.split(line)[2:])[1] == [], line
