"""The environment of every test: a workshop of its own in a temporary folder, never the user's."""

import gc
import os
import shutil
import sqlite3
import sys
import tempfile
import warnings
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from hypothesis import settings

from rewritten import compile_once

# A busy machine is no finding: no example has a time of its own.
settings.register_profile("topout", deadline=None)
settings.load_profile("topout")

_FOLDER = Path(tempfile.mkdtemp(prefix="topout-tests-"))
for _name in [name for name in os.environ if name.startswith("TOPOUT_")]:
    del os.environ[_name]
os.environ["TOPOUT_DATABASE"] = str(_FOLDER / "topout.sqlite3")
os.environ["TOPOUT_TIME_ZONE"] = "UTC"
os.environ["TOPOUT_HOSTS"] = "localhost,127.0.0.1,testserver"
os.environ["DJANGO_SETTINGS_MODULE"] = "topout.web.settings"
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # Playwright's loop and Django's database in one thread


_connect = sqlite3.connect
_ROOT = f"{Path(__file__).resolve().parent.parent}{os.sep}"


class Watched(sqlite3.Connection):
    """A connection that says who left it open. From Python 3.13 on SQLite's own does, but not who; here every Python does.

    It is told when the connection is collected, which may be under a later test of the same worker: a warning, so an error.
    """

    opened_by = ""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.opened_by = ", ".join(_callers(sys._getframe(1)))

    def close(self) -> None:
        super().close()
        self.opened_by = ""

    def __del__(self) -> None:
        if self.opened_by:
            opened_by = self.opened_by
            self.close()
            warnings.warn(
                f"a connection to SQLite was not closed; opened at {opened_by}", ResourceWarning, stacklevel=1
            )


def _callers(frame: FrameType | None) -> Iterator[str]:
    """Where in our own files it was called, the innermost first; a connection of Django's was first used there."""
    while frame is not None:
        path = frame.f_code.co_filename
        if path.startswith(_ROOT) and "site-packages" not in path and path != __file__:
            yield f"{path.removeprefix(_ROOT)}:{frame.f_lineno}"
        frame = frame.f_back


def _watched(*given: Any, **named: Any) -> sqlite3.Connection:
    return _connect(*given, **{"factory": Watched} | named)


setattr(sqlite3, "connect", _watched)  # noqa: B010  the one name, whatever its many signatures
setattr(sqlite3.dbapi2, "connect", _watched)  # noqa: B010  where Django takes it


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup() -> None:
    """No test leaves the next one a terminal of its own width: tools/write_docs.py sets one."""
    os.environ.pop("COLUMNS", None)


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile the tests once, where workers are to come and this is none of them."""
    config = session.config
    if config.getoption("numprocesses", None) and not hasattr(config, "workerinput") and not sys.dont_write_bytecode:
        compile_once(config)


def pytest_unconfigure() -> None:
    """Leave nothing behind in the temporary folder."""
    shutil.rmtree(_FOLDER, ignore_errors=True)


def pytest_collection_finish() -> None:
    """What was collected stays to the end: the garbage collector need not go through it again at every look."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


# Rooms with a single test of a quarter of a minute and more. They come first: begun last, one of them runs alone on its worker
# while the others have nothing left to take.
LONGEST = ("test_any_bike", "test_keyboard_browser", "test_journey_browser", "test_whole_jobs_browser")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A room that drives a browser, or reads a PDF back with poppler, says so even where it forgot the marker."""
    items.sort(key=lambda item: item.path.stem not in LONGEST)
    for item in items:
        if item.path.stem.endswith("_browser"):
            item.add_marker(pytest.mark.browser)
        if "readback" in vars(getattr(item, "module", None) or item):
            item.add_marker(pytest.mark.poppler)
