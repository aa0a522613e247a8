"""A pytest plugin that plants faults in the process itself: every test is collected once, each fault has a fork of its own.

Loaded by tools/plant.py with `-p plant_inside`. PLANT_TASKS holds a JSON list of tasks: a fault's file as it is with the fault, the
functions to change, the tests to run, quickest first. Answers go to PLANT_ANSWERS, a line each: what failed first, or nothing.

What was worked out before the fork stays as it was, so what survives here is planted in the file and looked at again.
"""

from __future__ import annotations

import functools
import gc
import importlib
import json
import os
import signal
import traceback
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

LIMIT_S = 60  # of the processor; then a fault is taken for one that never ends


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield from _codes(each)


def _functions() -> dict[str, list[FunctionType]]:
    """Every function that there is, by its file; looked for once, since it takes a second."""
    found: dict[str, list[FunctionType]] = {}
    for each in gc.get_objects():
        if type(each) is FunctionType:  # not isinstance: what is lazy would wake
            found.setdefault(each.__code__.co_filename, []).append(each)
    return found


def _change(path: str, source: str, functions: list[FunctionType]) -> bool:
    """Give every function of the file its code with the fault; False where the fault is none that a function has."""
    new = {(each.co_qualname, each.co_firstlineno): each for each in _codes(compile(source, path, "exec"))}
    done = False
    for function in functions:
        old = function.__code__
        other = new.get((old.co_qualname, old.co_firstlineno))
        if other is None or other.co_freevars != old.co_freevars or other == old:
            continue
        function.__code__ = other
        done = True
    return done


def _caches() -> list[Any]:
    """What keeps answers that were given before."""
    return [each for each in gc.get_objects() if type(each) is functools._lru_cache_wrapper]


def _first_failure(tests: list[str], by_id: dict[str, pytest.Item]) -> dict[str, str]:
    items = [
        item
        for test in tests
        for name, item in by_id.items()
        if name == test or name.startswith((f"{test}[", f"{test}::"))
    ]
    for item, after in zip(items, _next(items, by_id), strict=True):
        bad = next((report for report in runtestprotocol(item, nextitem=after, log=False) if report.failed), None)
        if bad is not None:
            crash = getattr(bad.longrepr, "reprcrash", None)
            return {"by": item.nodeid, "why": str(getattr(crash, "message", ""))[:300]}
    return {}


def _in_fork(
    task: dict[str, Any], by_id: dict[str, pytest.Item], out: int, functions: list[FunctionType], caches: list[Any]
) -> None:
    """In the child: change the code, run the tests to the first that fails, say which."""
    said: dict[str, str] = {"by": "", "why": ""}
    if not _change(task["file"], task["source"], functions):
        said["why"] = "not inside"
    else:
        for each in caches:
            if getattr(each.__wrapped__, "__code__", None) and each.__wrapped__.__code__.co_filename == task["file"]:
                each.cache_clear()
        said |= _first_failure(task["tests"], by_id)
    os.write(out, json.dumps(said).encode())


def _next(items: list[pytest.Item], by_id: dict[str, pytest.Item]) -> list[pytest.Item]:
    """What comes after each: always another one, so that what is made once a run stays."""
    last = next(each for each in by_id.values() if not items or each is not items[-1])
    return [*items[1:], last] if items else []


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool:
    """Instead of the tests: a fork for each task."""
    by_id = {item.nodeid: item for item in session.items}
    tasks = json.loads(Path(os.environ["PLANT_TASKS"]).read_text())
    warm = [by_id[test] for test in os.environ.get("PLANT_WARM", "").split("\n") if test in by_id]
    for item, after in zip(warm, _next(warm, by_id), strict=True):
        assert not any(report.failed for report in runtestprotocol(item, nextitem=after, log=False)), item.nodeid
    for task in tasks:  # what a test would load at its first page
        importlib.import_module(task["module"])
    gc.unfreeze()  # the tests froze what was there when they were collected, and what is frozen is not found
    gc.collect()
    functions, caches = _functions(), _caches()
    gc.freeze()
    with Path(os.environ["PLANT_ANSWERS"]).open("a") as answers:
        for task in tasks:
            near, far = os.pipe()
            child = os.fork()
            if child == 0:
                os.close(near)
                signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
                status = 1
                try:
                    _in_fork(task, by_id, far, functions.get(task["file"], []), caches)
                    status = 0
                except BaseException:
                    os.write(far, json.dumps({"by": "", "why": traceback.format_exc()[-2000:]}).encode())
                finally:
                    os._exit(status)
            os.close(far)
            with os.fdopen(near, "rb") as pipe:
                told = pipe.read()
            _, status, used = os.wait4(child, 0)
            said = json.loads(told) if told else {"by": "", "why": f"ended by {status}"}
            if os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGPROF:
                said["by"] = "never ends"
            answers.write(
                json.dumps({"id": task["id"], "seconds": round(used.ru_utime + used.ru_stime, 1), **said}) + "\n"
            )
            answers.flush()
    return True
