"""A pytest plugin: which test runs which line of topout, so that a planted fault is looked for by the tests that reach it.

Loaded by tools/plant.py with `-p plant_lines`. Adds to PLANT_LINES a line for each test: its processor seconds, and its lines of each file.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

SOURCE = str(Path(os.environ["PLANT_SOURCE"])) + os.sep
CALLS = 300  # of one function in one test that are followed line by line: what it does later, it did before
_calls: dict[CodeType, int] = {}
_lines: dict[CodeType, set[int]] = {}
_ours: dict[CodeType, bool] = {}


def _called(frame: FrameType, event: str, _: Any) -> Any:
    code = frame.f_code
    ours = _ours.get(code)
    if ours is None:
        ours = _ours[code] = code.co_filename.startswith(SOURCE)
    if not ours:
        return None
    count = _calls[code] = _calls.get(code, 0) + 1
    if count > CALLS:
        return None
    seen = _lines.setdefault(code, set())
    seen.add(frame.f_lineno)

    def line(inner: FrameType, event: str, _: Any) -> Any:
        seen.add(inner.f_lineno)
        return line

    return line


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    _calls.clear()
    _lines.clear()
    start = time.process_time()
    threading.settrace(_called)
    sys.settrace(_called)
    try:
        return (yield)
    finally:
        sys.settrace(None)
        threading.settrace(None)
        found: dict[str, set[int]] = {}
        for code, lines in list(_lines.items()):
            found.setdefault(code.co_filename.removeprefix(SOURCE), set()).update(lines)
        told = item.nodeid, time.process_time() - start, {name: sorted(lines) for name, lines in found.items()}
        with Path(os.environ["PLANT_LINES"]).open("a") as kept:
            kept.write(json.dumps(told) + "\n")
