"""`import topout`: loads nothing by itself, is typed, and every docstring of it runs."""

from __future__ import annotations

import doctest
import inspect
import re
import subprocess
import sys
from pathlib import Path
from typing import assert_type

import pytest

import topout
from topout import api
from topout.__main__ import main
from topout.bench_file.model import BenchFile
from topout.planner.fill import Schedule
from topout.planner.results import Curve, Geometry, Plan, Sag, told

ROOT = Path(__file__).resolve().parents[1]
HOLLIN = ROOT / "tests" / "reference" / "hollin.toml"
CALLS = ("read", "plan", "curve", "sag", "geometry", "inflate")


@pytest.mark.parametrize("module", [topout, api], ids=lambda module: module.__name__)
def test_every_docstring_runs(module: object) -> None:
    assert inspect.ismodule(module)
    ran = doctest.testmod(module)
    assert ran.failed == 0 and ran.attempted >= 3


def test_each_call_has_an_example_and_says_what_it_raises() -> None:
    for name in CALLS:
        text = inspect.getdoc(getattr(topout, name)) or ""
        assert ">>> " in text and "Raises " in text, name


def test_the_example_of_the_document_runs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "docs" / "command-line.md").read_text("utf-8"), re.DOTALL)
    monkeypatch.chdir(tmp_path)
    ran = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True)
    lines = ran.stdout.splitlines()
    assert len(lines) == 3 and lines[-1] == "no-such-file.toml: there is no such file."


def test_the_import_alone_loads_nothing() -> None:
    """numpy is fetched with the first function, SciPy and rich never."""
    code = (
        "import sys; before = set(sys.modules); import topout; print(sorted(set(sys.modules) - before)); dir(topout)\n"
        "print(topout.FaultsFound.__name__, 'numpy' in sys.modules); topout.plan\n"
        "print([name for name in ('scipy', 'rich', 'argparse', 'django', 'numpy') if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines() == ["['topout']", "FaultsFound False", "['numpy']"]


def test_the_names_are_those_promised_and_no_other() -> None:
    assert set(CALLS) <= set(topout.__all__) <= set(dir(topout))
    for name in topout.__all__:
        assert getattr(topout, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'plam'"):
        topout.plam  # noqa: B018


def test_the_types_are_seen_and_the_answers_are_the_commands(capsys: pytest.CaptureFixture[str]) -> None:
    import json

    bench = topout.read(HOLLIN)
    answers = {
        "plan": topout.plan(bench).as_json(),
        "curve": told(topout.curve(bench)),
        "sag": told(topout.sag(bench)),
        "geometry": told(topout.geometry(bench)),
        "inflate": topout.inflate(bench).as_json(),
    }
    assert_type(bench, BenchFile)
    assert_type(topout.plan(bench), Plan)
    assert_type(topout.curve(bench, 5), Curve)
    assert_type(topout.sag(bench), Sag)
    assert_type(topout.geometry(bench), Geometry)
    assert_type(topout.inflate(bench), Schedule)
    for name, answer in answers.items():
        assert main([name, str(HOLLIN), "--json"]) == 0
        assert json.loads(capsys.readouterr().out) == answer


def test_what_lacks_is_raised_with_every_key() -> None:
    empty = BenchFile()
    for call in (topout.curve, topout.sag, topout.geometry, topout.inflate):
        with pytest.raises(topout.FaultsFound) as found:
            call(empty)
        assert found.value.faults and all(fault.key for fault in found.value.faults)
    assert {warned.code for warned in topout.plan(empty).warnings} == {"missing-input"}
    with pytest.raises(ValueError, match="two points"):
        topout.curve(topout.read(HOLLIN), 1)
    for stops in ([90 * 6895.0], [20e4, 10e4]):
        with pytest.raises(topout.OutOfRange):
            topout.inflate(topout.read(HOLLIN), stops_gauge_pa=stops)
