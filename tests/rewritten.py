"""The tests' files with pytest's own words for a failed assertion, compiled once before the workers begin.

Each worker that finds none compiles all of them for itself: in a fresh clone that was half of what collecting cost, once a worker.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from _pytest.assertion import rewrite

TESTS = Path(__file__).resolve().parent


def compile_once(config: pytest.Config) -> None:
    """Write the compiled files that lack or are older than their text, where pytest itself looks for them.

    They are pytest's to read: one that it does not take, it makes anew.
    """
    state = config.stash[rewrite.assertstate_key]
    for path in [*TESTS.rglob("conftest.py"), *TESTS.rglob("test_*.py")]:
        folder = rewrite.get_cache_dir(path)
        compiled = folder / f"{path.stem}{rewrite.PYC_TAIL}"
        if rewrite.try_makedirs(folder) and rewrite._read_pyc(path, compiled) is None:
            source_hash, code = rewrite._rewrite_test(path, config)
            rewrite._write_pyc(state, code, source_hash, compiled)
