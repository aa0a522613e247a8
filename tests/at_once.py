"""Many small cases in one test: every one is tried, and all that fail are said together.

A test costs more than a thousandth of a second of a processor before it does anything, and more in each worker that collects it. An array of hundreds whose cases take less than that is one test a row of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest


def fail_of(check: Callable[..., None], cases: Iterable[tuple[str, tuple[Any, ...]]]) -> list[str]:
    """The cases, (name, arguments), in which `check` fails, each with what it said; at least one is tried."""
    found, tried = [], 0
    for name, given in cases:
        tried += 1
        try:
            check(*given)
        except (Exception, pytest.fail.Exception) as error:
            found.append(f"{name}: {type(error).__name__}: {error}")
    assert tried, "no case"
    return found


def all_pass(check: Callable[..., None], cases: Iterable[tuple[str, tuple[Any, ...]]]) -> None:
    """Fails with every case that fails."""
    found = fail_of(check, cases)
    assert not found, f"{len(found)} fail:\n" + "\n".join(found)


def each_of(cases: Iterable[Any], in_soak: Iterable[Any] = ()) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """A test of one case made a test of all of them, and of others in the soak: a case is its one argument, or a tuple of all."""

    def of(check: Callable[..., None]) -> Callable[..., None]:
        def every(these: Iterable[Any]) -> None:
            all_pass(check, [(str(case), case if isinstance(case, tuple) else (case,)) for case in these])

        def daily() -> None:
            every(cases)

        for made in (every, daily):
            made.__name__, made.__doc__, made.__module__ = check.__name__, check.__doc__, check.__module__
        both = pytest.param(cases, id="daily"), pytest.param(in_soak, id="others", marks=pytest.mark.soak)
        return pytest.mark.parametrize("these", both)(every) if in_soak else daily

    return of
