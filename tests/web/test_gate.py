"""Who may see and change what, on every address; headers, hosts, and that looking changes nothing."""

from __future__ import annotations

import functools
import hashlib
import re
import socket
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.templatetags.static import static
from django.test import Client
from django.test.utils import override_settings

from at_once import all_pass
from topout.web.access.models import Workshop
from web import people, raw
from web.addresses import OPEN_TO_ALL, OWNERS, all_addresses, names

# Written out here, whoever sets them.
POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)
ALWAYS = {
    "Content-Security-Policy": POLICY, "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}  # fmt: skip
METHODS = ("get", "post", "head", "put", "delete", "patch", "options", "trace")


def content(path: Path) -> str:
    """A hash of everything in the database."""
    connection.close()
    digest = hashlib.sha256()
    with raw.opened(path) as base:
        for line in base.iterdump():
            digest.update(line.encode())
    return digest.hexdigest()


@pytest.fixture
def closed_demo(demo: Path) -> Path:
    """The demo's records in a workshop that nobody is signed in to by itself."""
    Workshop.objects.update(demo=False)
    return demo


def test_every_address_has_a_name_of_its_own() -> None:
    assert len(names()) == len(set(names()))
    assert "None" not in names()


def test_a_stranger_gets_the_sign_in_page_and_changes_nothing(closed_demo: Path) -> None:
    before = content(closed_demo)
    client = people.browser()
    client.raise_request_exception = True
    tried = 0
    for name, address in all_addresses():
        if name in OPEN_TO_ALL:
            continue
        for method in METHODS:
            answer = getattr(client, method)(address)
            tried += 1
            if method in ("post", "put", "delete", "patch"):
                assert answer.status_code in (302, 403), (method, address)
            else:
                assert answer.status_code == 302, (method, address, answer.status_code)
            if answer.status_code == 302:
                assert answer.headers["Location"].startswith("/sign-in/?next="), address
            assert b"Telvik" not in answer.content
    assert tried > 200
    assert content(closed_demo) == before


def test_a_stranger_without_a_token_check_is_refused_too(closed_demo: Path) -> None:
    """The gate itself, with the check for tokens out of the way."""
    client = Client(enforce_csrf_checks=False)
    before = content(closed_demo)
    for name, address in all_addresses():
        if name not in OPEN_TO_ALL:
            answer = client.post(address, {"change_key": f"stranger-{name}"})
            assert answer.status_code == 302 and answer.headers["Location"].startswith("/sign-in/"), address
    assert content(closed_demo) == before


@dataclass(frozen=True)
class Seen:
    """What one person got of one address."""

    who: str
    name: str
    address: str
    status: int
    headers: dict[str, str]
    page: str  # "" where the answer is no page


def test_what_an_owner_and_a_technician_get_of_every_address(closed_demo: Path) -> None:
    """One walk for all that can be said of it: every address by GET from both, and by HEAD from one."""
    browsers = {who: people.browser(User.objects.get(username=who)) for who in ("maud", "jory")}
    addresses = list(all_addresses())
    before = content(closed_demo)
    seen = []
    for who, browser in browsers.items():
        for name, address in addresses:
            answer = browser.get(address)
            html = answer.headers.get("Content-Type", "").startswith("text/html") and not answer.streaming
            page = answer.content.decode() if html else ""
            seen.append(Seen(who, name, address, answer.status_code, dict(answer.headers), page))
            answer.close()
    for _, address in addresses:
        browsers["maud"].head(address)
    after = content(closed_demo)
    checks = (
        opens_to_whom_it_may, offers_no_owners_address, holds_no_script_style_or_other_host, has_the_headers, no_title_says_error_twice,
    )  # fmt: skip
    all_pass(lambda check: check(seen), [(check.__name__, (check,)) for check in checks])
    assert after == before, "looking changed something"


def opens_to_whom_it_may(seen: list[Seen]) -> None:
    """A technician opens everything but the owner's pages."""
    got = {(each.who, each.address): each.status for each in seen}
    for name, address in {(each.name, each.address) for each in seen}:
        answers = got["jory", address], got["maud", address]
        if name in OWNERS:
            assert answers in ((403, 200), (403, 405)), (address, answers)
        elif name not in OPEN_TO_ALL:
            assert answers[0] == answers[1] and answers[0] in (200, 302, 405), (address, answers)


def offers_no_owners_address(seen: list[Seen]) -> None:
    """Links and forms of every page: an owner finds every owner's address from some page, a technician none of them."""
    owners = {re.sub(r"\\d+|\d+", r"\\d+", each.address) + "$" for each in seen if each.name in OWNERS}
    offered: dict[str, set[str]] = {"maud": set(), "jory": set()}
    for each in seen:
        if each.name not in OPEN_TO_ALL and each.name not in OWNERS:
            offered[each.who] |= set(re.findall(r'(?:href|action)="([^"?#]+)', each.page))
    reached = [each for each in owners if any(re.match(each, link) for link in offered["maud"])]
    assert len(reached) >= 3, "the bench and a rider's page show an owner's links to an owner"
    assert [link for link in offered["jory"] if any(re.match(each, link) for each in owners)] == []


def holds_no_script_style_or_other_host(seen: list[Seen]) -> None:
    """Nothing that the content policy would stop."""
    for each in seen:
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", each.page), each.address
        assert not re.search(r"<script(?![^>]*\ssrc=)", each.page), each.address
        assert not re.search(r"""(?:src|href|action)\s*=\s*["']?(?:https?:)?//""", each.page), each.address
        assert 'type="number"' not in each.page, each.address


def no_title_says_error_twice(seen: list[Seen]) -> None:
    """Of a page that was asked for; one that is refused stands in the test of what was sent."""
    for each in seen:
        assert errors_in_title(each.page) <= 1, each.address


def errors_in_title(page: str) -> int:
    """How often the title of a page says that something is wrong."""
    title = re.search(r"<title>(.*?)</title>", page, re.DOTALL)
    return title[1].count("Error") if title is not None else 0


def has_the_headers(seen: list[Seen]) -> None:
    """Of an answer to GET."""
    for each in seen:
        headers_stand(each.address, each.status, each.headers)


def headers_stand(address: str, status: int, headers: Mapping[str, str]) -> None:
    """The headers of look and trust on one answer; a photo has a policy of its own, and may be kept."""
    photo = address.endswith(".jpg") and status == 200
    own = {"Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'; sandbox"}
    shut = status == 200 and ("/photos/held/" in address or address.endswith(".jpg"))
    for name, value in (ALWAYS | (own if shut else {})).items():
        assert headers[name] == value, (address, name)
    if not address.startswith("/static/"):
        assert ("private" if photo else "no-store") in headers["Cache-Control"], address
    assert "X-Powered-By" not in headers


def test_headers_stand_on_every_answer(closed_demo: Path) -> None:
    """An owner's form without its token, a stranger's look and form, what is not there and what is not ours."""
    places = [address for _, address in all_addresses()] + ["/no/such/page", static("style.css"), "/static/none.css"]
    owner, stranger = people.browser(User.objects.get(username="maud")), people.browser()
    for address in places:
        for asked in (owner.post, stranger.get, stranger.post):
            answer = asked(address)
            answer.close()
            headers_stand(address, answer.status_code, answer.headers)
    for address in places[-3:]:
        answer = owner.get(address)
        answer.close()
        headers_stand(address, answer.status_code, answer.headers)


HOSTS = (
    "evil.example", "localhost.evil.example", "127.0.0.1.evil.example", "evil.example:8000", "localhost@evil.example", "[::2]",
    "localhost:80:80", "localhost/", "192.0.2.7", "0.0.0.0", "LOCALHOST.", "", "local host", "xn--lcalhost-54a.example",
    "127.1", "0x7f.0.0.1", "2130706433", "[::ffff:127.0.0.1]", "*.localhost", "a" * 300,
)  # fmt: skip


def test_another_host_is_refused_everywhere(closed_demo: Path) -> None:
    client = people.browser(User.objects.get(username="maud"))
    all_pass(_is_refused, [(host, (client, host)) for host in HOSTS])


def _is_refused(client: Client, host: str) -> None:
    for address in ("/", "/sign-in/", "/jobs/214/", static("style.css"), "/nothing", "/t/K7M4QX/"):
        for method in ("get", "post"):
            answer = getattr(client, method)(address, HTTP_HOST=host)
            answer.close()
            if host == "LOCALHOST.":
                assert answer.status_code != 500  # a trailing dot is the same name (RFC 1034)
                continue
            assert answer.status_code == 400, (address, host)
            assert all(answer.headers[name] == value for name, value in ALWAYS.items()), (address, host)
            assert b"Telvik" not in answer.content


@pytest.mark.parametrize(
    "header", ["HTTP_X_FORWARDED_HOST", "HTTP_FORWARDED", "HTTP_X_FORWARDED_FOR", "HTTP_X_REAL_IP"]
)
def test_forwarded_headers_say_nothing(closed_demo: Path, header: str) -> None:
    client = people.browser()
    value = "for=127.0.0.1;host=localhost" if header == "HTTP_FORWARDED" else "127.0.0.1"
    assert client.get("/", **{header: value}, REMOTE_ADDR="192.0.2.7").status_code == 302  # type: ignore[arg-type]


def test_the_demo_signs_its_user_in_on_loopback_alone(demo: Path) -> None:
    client = people.browser()
    assert client.get("/").status_code == 200
    assert client.get("/", REMOTE_ADDR="::1").status_code == 200
    assert client.get("/", REMOTE_ADDR="192.0.2.7").status_code == 302
    assert client.get("/", REMOTE_ADDR="").status_code == 302
    with override_settings(LOOPBACK=False):
        assert client.get("/").status_code == 302


BY_A_PROXY = (
    "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Forwarded", "Forwarded", "Via", "X-Real-IP", "X-Client-IP",
    "CF-Connecting-IP", "True-Client-IP", "X-Original-Host", "X-Proxy-User", "Proxy-Connection", "Tailscale-User-Login",
)  # fmt: skip


def test_the_demo_signs_nobody_in_whom_a_proxy_brings(demo: Path) -> None:
    """A proxy on this machine asks from loopback, for anybody: whatever it says of them, loopback's address too."""
    for header in BY_A_PROXY:
        client = people.browser()
        for value in ("203.0.113.9", "127.0.0.1", "localhost", "1.1 proxy", ""):
            assert client.get("/", headers={header: value}).status_code == 302, (header, value)
    assert client.get("/").status_code == 200


def test_the_demo_signs_nobody_in_by_another_name_or_by_http_1_0(demo: Path) -> None:
    client = people.browser()
    with override_settings(ALLOWED_HOSTS=["*"]):
        for host in ("bench.example", "192.0.2.7", "localhost.bench.example", "[2001:db8::1]:8000"):
            assert client.get("/", headers={"host": host}).status_code == 302, host
        for host in ("localhost:8000", "127.0.0.1", "[::1]:8000", "127.0.0.1:1"):
            assert client.get("/", headers={"host": host}).status_code == 200, host
    assert client.get("/", SERVER_PROTOCOL="HTTP/1.0").status_code == 302


def test_an_answer_to_head_has_no_body(closed_demo: Path) -> None:
    """Through the server itself, since Django's test client takes bodies off; the headers are those of GET."""
    import http.client

    from web.served import served

    owner = people.browser(User.objects.get(username="maud"))
    cookie = f"sessionid={owner.cookies['sessionid'].value}"
    with served() as address:
        wire = http.client.HTTPConnection(address.removeprefix("http://"), timeout=20)
        for place in (
            "/",
            "/sign-in/",
            "/jobs/214/",
            "/no/such/page",
            static("style.css"),
            "/static/none.css",
            "/health/",
        ):
            lengths = []
            for method in ("GET", "HEAD"):
                wire.request(method, place, headers={"Cookie": cookie})
                answer = wire.getresponse()
                lengths.append(answer.headers["Content-Length"])
                answer.read()
            assert lengths[0] == lengths[1], place
            # What http.client leaves unread of a HEAD's body would be taken for the head of the next answer.
            wire_itself = socket.create_connection(("127.0.0.1", int(address.rpartition(":")[2])), timeout=20)
            wire_itself.sendall(
                f"HEAD {place} HTTP/1.1\r\nHost: {address[7:]}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n".encode()
            )
            whole = b"".join(iter(functools.partial(wire_itself.recv, 65536), b""))
            wire_itself.close()
            assert whole.startswith(b"HTTP/1.1") and whole.endswith(b"\r\n\r\n") and whole.count(b"\r\n\r\n") == 1, (
                place
            )
        wire.close()


def test_no_title_says_error_twice_of_what_was_sent(closed_demo: Path) -> None:
    """Every address is sent an empty form by a technician, who is refused some."""
    client = people.browser(User.objects.get(username="jory"))
    token = people.field_of(client.get("/book/riders/new/"), "csrfmiddlewaretoken")
    said = 0
    for name, address in all_addresses():
        if name in OPEN_TO_ALL:
            continue
        sent = client.post(address, {"csrfmiddlewaretoken": token, "change_key": f"twice-{name}", "seen": "-1"})
        counted = errors_in_title(sent.content.decode("utf-8", "replace"))
        said += counted
        assert counted <= 1, address
    assert said > 10


def test_a_workshop_that_is_no_demo_signs_nobody_in(workshop: Path, cast: people.Cast) -> None:
    from topout.web import clock

    Workshop.objects.create(demo=False, demo_user=cast.owner, started_at=clock.now())
    assert people.browser().get("/").status_code == 302


def test_a_post_from_another_site_is_refused(closed_demo: Path) -> None:
    client = people.browser(User.objects.get(username="maud"))
    before = content(closed_demo)
    for _, address in all_addresses():
        answer = client.post(address, {"change_key": "k"}, headers={"Origin": "https://evil.example"})
        assert answer.status_code in (403, 405), (address, answer.status_code)
    assert content(closed_demo) == before


def test_unknown_objects_are_404_not_a_fault(closed_demo: Path) -> None:
    client = people.browser(User.objects.get(username="maud"))
    for address in (
        "/jobs/999999/", "/jobs/99999999999999999999999/", "/book/riders/999999/", "/book/units/99999999999999999999/",
        "/jobs/214/readings/as-was/", "/jobs/214/correct/999999/", "/jobs/214/photos/abc.jpg", "/t/ZZZZZZ/", "/accounts/999/",
    ):  # fmt: skip
        assert client.get(address).status_code == 404, address


def test_a_fault_of_ours_is_a_plain_page_and_saves_nothing(closed_demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The 500 page: no trace of the code, the headers in place, the change undone."""
    from topout.web.jobs.records import changes

    client = people.browser(User.objects.get(username="maud"))
    client.raise_request_exception = False
    page = client.get("/jobs/210/waits/")
    token = people.field_of(page, "csrfmiddlewaretoken")
    real = changes.remark

    def breaks(*given: object, **more: object) -> None:
        real(*given, **more)  # type: ignore[arg-type]
        raise RuntimeError("SECRET-PLACE")

    monkeypatch.setattr("topout.web.jobs.desk.card.changes.remark", breaks)
    before = content(closed_demo)
    answer = client.post("/jobs/210/waits/", {"csrfmiddlewaretoken": token, "change_key": "breaks", "words": "a part"})
    assert answer.status_code == 500
    body = answer.content.decode()
    assert "Nothing of this was saved" in body and "SECRET-PLACE" not in body and "Traceback" not in body
    assert answer.headers["Content-Security-Policy"] == ALWAYS["Content-Security-Policy"]
    assert content(closed_demo) == before
