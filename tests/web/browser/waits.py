"""Waits on the state itself. A busy machine is no finding, so each is patient; none of them waits for ever."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page

PATIENCE_S = 30.0  # the browser's own waits are as long


def until(page: Page, holds: Callable[[], Any]) -> None:
    """Wait until it holds; what the browser says meanwhile is heard."""
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, "it did not come to hold"
        page.wait_for_timeout(20)


def loads(page: Page) -> Any:
    """What is done within leads to another page, which stands at the end. That a page changes its own address, as the plan's does a
    moment after each answer, is no other page; `expect_navigation` takes it for one."""
    return page.expect_event("load")


def kept(page: Page, text: str) -> Any:
    """What is done within is over once the server keeps a draft with this text: typed slowly it is kept in parts, the last one whole."""
    return page.expect_response(
        lambda answer: answer.url.endswith("/draft/") and f"\r\n\r\n{text}\r\n" in (answer.request.post_data or "")
    )
