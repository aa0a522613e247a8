"""A workshop served to a real browser: waitress on loopback in a thread, Debian's Chromium, a signed-in context; one of each a worker."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from django.contrib.auth.models import User
from django.core.wsgi import get_wsgi_application
from django.db import connections
from playwright.sync_api import Browser, BrowserContext, Page, Playwright
from waitress.server import create_server
from waitress.wasyncore import close_all

from web import people

CHECKER = "/checker.js"  # the checker of rules.py, kept by the browser as it keeps a page's own scripts
CHROMIUM = "/usr/bin/chromium-headless-shell"  # Debian's Chromium without what draws on a screen: a fifth less work
# With `LATE_ANSWERS=0.3 pytest …` each answer takes so many seconds more, and each page comes in two pieces that long apart: a test
# that looks before the page is there fails then, and not once in fifty runs on a machine that has much to do.
LATE = float(os.environ.get("LATE_ANSWERS", "0"))
# With `SLOW_PAGES=4 pytest …` what a page itself does, its scripts and its drawing, takes four times as long: a test that looks, or
# presses, before a page has done what it was asked fails then. The processor is held meanwhile, also while the page rests: for one
# room at a time.
SLOW = float(os.environ.get("SLOW_PAGES", "1"))
SIZES = {"tablet": (1180, 820), "upright": (820, 1180), "phone": (390, 844)}


class Server:
    """The worker's one server: each test's file in its turn, always at the same address, so that a browser keeps what it fetched."""

    def __init__(self) -> None:
        self.inner = get_wsgi_application()
        self.opened: list[Any] = []
        self.signed_in: set[str] = set()  # sessions of the test that goes on
        self.over: set[str] = set()  # and of those before it
        self.refused: list[str] = []  # answers of 400 and above, since a test asked first
        self.serves = 0  # tests that ask just now: one, or one inside another's
        self.busy, self.rest = 0, threading.Condition()
        self.wire = create_server(self.app, host="127.0.0.1", port=0, threads=4)
        self.thread = threading.Thread(target=self.wire.run, daemon=True)
        self.thread.start()

    def app(self, environ: dict[str, Any], start: Callable[..., Any]) -> Any:
        if environ["PATH_INFO"] == CHECKER:
            start("200 OK", [("Content-Type", "text/javascript"), ("Cache-Control", "max-age=86400")])
            return [AXE_SCRIPT.encode()]
        with self.rest:
            # A last word of a page that was closed (a draft kept as it goes): between two tests it would open the file of the
            # first for its thread to keep, and the file of the second would answer it by taking the session away, from a
            # context that has a new one by now.
            if not self.serves or any(f"sessionid={key}" in environ.get("HTTP_COOKIE", "") for key in self.over):
                start("410 Gone", [])
                return []
            self.busy += 1
            start = self.noted(environ, start)
            connection = connections["default"]
            if all(connection is not known for known in self.opened):
                connection.inc_thread_sharing()
                self.opened.append(connection)
        try:
            if LATE and not environ["PATH_INFO"].startswith("/static/"):
                environ.pop("HTTP_ACCEPT_ENCODING", None)  # a page in two pieces can't be packed as one
                return late(self.inner(environ, start))
            return self.inner(environ, start)
        finally:
            with self.rest:
                self.busy -= 1
                self.rest.notify_all()

    def noted(self, environ: dict[str, Any], start: Callable[..., Any]) -> Callable[..., Any]:
        """What starts an answer, and keeps what was refused: to hear of every answer in the browser costs as much as a page."""

        def started(status: str, *given: Any) -> Any:
            if int(status[:3]) >= 400:
                self.refused.append(f"{status[:3]} {environ['REQUEST_METHOD']} {environ['PATH_INFO']}")
            return start(status, *given)

        return started

    def leave(self) -> None:
        """Whoever asked has an answer, and no file is open any more."""
        with self.rest:
            self.serves -= 1
            if not self.serves:
                self.over |= self.signed_in
                self.signed_in = set()
            assert self.rest.wait_for(lambda: self.busy == 0, timeout=60), "a page is still asked for"
            for connection in self.opened:
                connection.close()

    def end(self) -> None:
        self.wire.task_dispatcher.shutdown()
        # Closed by its own loop: a socket that goes while the loop waits on it ends the thread with an error.
        self.wire.trigger.pull_trigger(lambda: close_all(self.wire._map))
        self.thread.join(timeout=5)


def late(answer: Any) -> Iterator[bytes]:
    """The answer of a machine that has much else to do."""
    try:
        whole = b"".join(answer)
    finally:
        if hasattr(answer, "close"):
            answer.close()

    def pieces() -> Iterator[bytes]:
        time.sleep(LATE)
        if whole.lstrip()[:9].lower() == b"<!doctype":
            yield whole[:200]
            time.sleep(LATE)
            yield whole[200:]
        else:
            yield whole

    return pieces()


_SERVER: list[Server] = []


@contextmanager
def served() -> Iterator[str]:
    """The address of the workshop whose database file is in use; its connections are closed at the end."""
    if not _SERVER:
        _SERVER.append(Server())
    if not _SERVER[0].serves:
        _SERVER[0].refused.clear()
    _SERVER[0].serves += 1
    try:
        yield f"http://127.0.0.1:{_SERVER[0].wire.effective_port}"
    finally:
        if _SERVER[0].serves == 1:
            for context in [context for browser in _BROWSERS for context in browser.contexts]:
                context.close()  # of a test that failed, or left its page open: it would go on asking
        _SERVER[0].leave()


def refused() -> list[str]:
    """Status, method and address of each answer of 400 and above that this test was given."""
    return list(_SERVER[0].refused)


def end() -> None:
    """Nothing is served any more."""
    while _SERVER:
        _SERVER.pop().end()


# One workshop is one site: what keeps sites apart, and a process of its own for the drawing, are work for nothing here. The other
# processor has tests of its own: scripts are compiled and their rubbish collected on no thread beside, and collected less often. No
# page stands long enough to win back what its scripts are made faster for: without the two compilers that do it a page looked at by
# every rule takes a ninth less of the process that draws it.
CHROMIUM_OPTIONS = (
    "--no-sandbox", "--disable-gpu", "--in-process-gpu", "--renderer-process-limit=1", "--disable-site-isolation-trials",
    "--js-flags=--single-threaded --min-semi-space-size=16 --no-maglev --no-opt",
    "--disable-features=RenderDocument,SpareRendererForSitePerProcess,IsolateOrigins,site-per-process",
)  # fmt: skip


_BROWSERS: list[Browser] = []


def launch(play: Playwright) -> Browser:
    """Chromium without a screen."""
    browser = play.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_OPTIONS)
    _BROWSERS.append(browser)
    if SLOW > 1:
        slow(browser)
    return browser


def slow(browser: Browser) -> None:
    """The pages of a machine that has much else to do."""
    new_context = browser.new_context

    def slow_context(**options: Any) -> BrowserContext:
        context = new_context(**options)

        def slow_page(page: Page) -> None:
            context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOW})

        context.on("page", slow_page)
        return context

    browser.new_context = slow_context  # type: ignore[method-assign]


class Kept:
    """A context that is emptied where others are closed. A page of it that nobody sees keeps its process, with what is compiled there."""

    def __init__(self, context: BrowserContext) -> None:
        self.context, self.free = context, True
        self.new_page = context.new_page
        self.unseen = self.new_page()
        self.unseen.goto(f"http://127.0.0.1:{_SERVER[0].wire.effective_port}{CHECKER}")
        context.close = self.empty  # type: ignore[method-assign]

    def given(self, viewport: dict[str, int]) -> BrowserContext:
        self.free = False

        def new_page() -> Page:
            page = self.new_page()
            page.set_viewport_size(viewport)  # type: ignore[arg-type]
            return page

        self.context.new_page = new_page  # type: ignore[method-assign]
        return self.context

    def empty(self, **_: Any) -> None:
        """Our pages keep nothing in a browser but in their tab (`sessionStorage`); cookies are all there is beside."""
        for page in self.context.pages:
            if page is not self.unseen:
                page.close()
        self.context.clear_cookies()
        self.context.set_offline(False)
        self.free = True


_KEPT: dict[tuple[Browser, bool], Kept] = {}  # without fingers, and with


def context_of(
    browser: Browser, viewport: dict[str, int] | None = None, has_touch: bool = False, **options: Any
) -> BrowserContext:
    """A context with nothing in it: no cookie, no page. One of which no more is asked than a size, and fingers, is the worker's own,
    emptied when it is closed: styles, type and scripts that it fetched once it need not fetch and compile again."""
    kept = _KEPT.get((browser, has_touch))
    if options or SLOW > 1 or (kept is not None and not kept.free):
        return browser.new_context(viewport=viewport, has_touch=has_touch, **options)  # type: ignore[arg-type]
    if kept is None:
        kept = _KEPT[browser, has_touch] = Kept(browser.new_context(has_touch=has_touch))
    return kept.given(viewport or {"width": 1280, "height": 720})


def signed_in(browser: Browser, address: str, user: User, **options: Any) -> BrowserContext:
    """A context of the browser that carries the user's session."""
    cookie = people.browser(user).cookies["sessionid"].value
    if _SERVER:
        _SERVER[0].signed_in.add(cookie)
    context = context_of(browser, **options)
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": address}])
    return context
