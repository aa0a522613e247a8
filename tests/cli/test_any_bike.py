"""Any bike whose values stand in their ranges is answered or refused in plain lines: no traceback, no NaN, no warning."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

import topout
from bench_file import every
from cli.once import few_draws, work_out_once
from topout import units
from topout.__main__ import main
from topout.bench_file import model

# The model of one place would be no bike; these are tried by themselves in test_bad_input.
KEYS = [(path, key) for path, key in every.every_key() if ".".join(path) not in every.REFUSED]


@st.composite
def value(draw: st.DrawFn, path: every.Path, key: model.Key) -> str:
    """A value of a key anywhere in its range, its ends often."""
    if key.kind == "choice":
        return f'"{draw(st.sampled_from(key.choices))}"'
    if key.kind in ("text", "coil", "readings", "pairs", "parts"):
        return every.sample_of(path)
    assert key.low_si is not None and key.high_si is not None
    if key.kind == "count":
        return str(draw(st.integers(int(key.low_si), int(key.high_si))))
    low, high = key.low_si, key.high_si
    if key.kind == "quantity":
        low, high = (units.from_si(v, key.unit, key.dimension) for v in (low, high))
    low, high = round(low, 6), round(high, 6)
    number = draw(st.sampled_from([low, high]) | st.floats(low, high).map(lambda v: float(f"{v:.4g}")))
    number = min(max(number, low), high)
    return repr(number) if key.kind == "number" else f'"{number!r} {key.unit}"'


@st.composite
def bikes(draw: st.DrawFn) -> str:
    """A plausible bike with some keys anywhere in their ranges, some left out, now and then another way of building."""
    around = draw(st.sampled_from([("fork", "travel"), *(tuple(name.split(".")) for name in every.INSTEAD)]))
    file = every.around(around)
    if ".".join(around) in every.INSTEAD:
        file = every.put(file, ".".join(around), every.sample_of(around))
    for path, key in draw(st.lists(st.sampled_from(KEYS), max_size=6, unique_by=lambda e: e[0])):
        name = ".".join(path)
        file = every.put(file, name, None if draw(st.integers(0, 4)) == 0 else draw(value(path, key)))
    for table in draw(st.lists(st.sampled_from(sorted(file)), max_size=2)):
        file = {name: keys for name, keys in file.items() if name != table and not name.startswith(f"{table}.")}
    return every.text(file)


def frame_known_only_after() -> str:
    """The rear wheel is given by the change alone: the load found has no sideways part, and with friction no sag follows."""
    file = every.around(("fork", "travel"))
    file = every.put(file, "frame.rear_radius", None)
    file = {name: keys for name, keys in file.items() if name != "rear_wheel"}
    return every.text(file)


once = pytest.fixture(autouse=True)(work_out_once)


few = pytest.fixture(autouse=True)(few_draws)  # what is asked is that every answer is in order


@example(text=frame_known_only_after())
@settings(max_examples=24, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=bikes())
def test_any_bike_is_answered_or_refused(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same two dozen every day; others in the soak."""
    answered_or_refused(text, tmp_path, capsys)


@pytest.mark.soak
@settings(max_examples=600, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=bikes())
def test_other_bikes_are_answered_or_refused(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answered_or_refused(text, tmp_path, capsys, OF_ONE_QUESTION)


OF_A_FILE = (["curve"], ["sag"], ["geometry"], ["plan"], ["inflate"])
BESIDE = str(topout.examples()["longer-travel"])
OF_ONE_QUESTION = (
    ["target", "--sag", "20 %"],
    ["ride", "--temperature", "-5 degC"],
    ["ways"],
    ["landing"],
    ["rebound"],
    ["options"],
)


def answered_or_refused(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], more: Sequence[list[str]] = ()
) -> None:
    """Every command, as JSON and for people; with `more` beside a hardtail too."""
    file = tmp_path / "any.toml"
    file.write_text(text, "utf-8")
    if more:
        assert main(["compare", str(file), BESIDE, "--json"]) == 2 or isinstance(
            json.loads(capsys.readouterr().out), dict
        )
        capsys.readouterr()
    for command, *words in (*OF_A_FILE, *more):
        status = main([command, str(file), *words, "--json"])
        shown = capsys.readouterr()
        if status == 2:
            assert shown.out == "" and shown.err.strip() and "Traceback" not in shown.err
            assert not re.search(r"\bnan\b|\binf\b", shown.err), shown.err
            continue
        assert status == 0 and shown.err == "" and isinstance(json.loads(shown.out), dict)
        assert main([command, str(file), *words]) == 0
        shown = capsys.readouterr()
        assert shown.err == "" and shown.out.strip() and not re.search(r"\bnan\b|\binf\b", shown.out)
