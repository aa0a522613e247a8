"""A workshop served to a real browser: waitress on loopback in a thread, Debian's Chromium, a signed-in context."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from django.contrib.auth.models import User
from django.core.wsgi import get_wsgi_application
from django.db import connections
from playwright.sync_api import Browser, BrowserContext, Playwright
from waitress.server import create_server
from waitress.wasyncore import close_all

from web import people

CHECKER = "/checker.js"  # the checker of rules.py, kept by the browser as it keeps a page's own scripts
CHROMIUM = "/usr/bin/chromium-headless-shell"  # Debian's Chromium without what draws on a screen: a fifth less work
SIZES = {"tablet": (1180, 820), "upright": (820, 1180), "phone": (390, 844)}


@contextmanager
def served(threads: int = 4) -> Iterator[str]:
    """The address of the workshop whose database file is in use; its connections are closed at the end."""
    inner = get_wsgi_application()
    opened: list[Any] = []

    def app(environ: dict[str, Any], start: Callable[..., Any]) -> Any:
        if environ["PATH_INFO"] == CHECKER:
            start("200 OK", [("Content-Type", "text/javascript"), ("Cache-Control", "max-age=86400")])
            return [AXE_SCRIPT.encode()]
        connection = connections["default"]
        if all(connection is not known for known in opened):
            connection.inc_thread_sharing()
            opened.append(connection)
        return inner(environ, start)

    server = create_server(app, host="127.0.0.1", port=0, threads=threads)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.task_dispatcher.shutdown()
        # Closed by its own loop: a socket that goes while the loop waits on it ends the thread with an error.
        server.trigger.pull_trigger(lambda: close_all(server._map))
        thread.join(timeout=5)
        for connection in opened:
            connection.close()


# One workshop is one site: what keeps sites apart, and a process of its own for the drawing, are work for nothing here.
CHROMIUM_OPTIONS = (
    "--no-sandbox", "--disable-gpu", "--in-process-gpu", "--renderer-process-limit=1", "--disable-site-isolation-trials",
    "--disable-features=RenderDocument,SpareRendererForSitePerProcess,IsolateOrigins,site-per-process",
)  # fmt: skip


def launch(play: Playwright) -> Browser:
    """Chromium without a screen."""
    return play.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_OPTIONS)


def signed_in(browser: Browser, address: str, user: User, **options: Any) -> BrowserContext:
    """A context of the browser that carries the user's session."""
    cookie = people.browser(user).cookies["sessionid"].value
    context = browser.new_context(**options)
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": address}])
    return context
