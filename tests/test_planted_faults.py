"""The faults that `make plant` plants: chosen the same for the same seed, on every floor, each of them code; reasons are of faults it chose."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path

import pytest

import plant
import plant_faults as faults

ROOT = Path(__file__).resolve().parents[1]
GUARDED = {"signing", "judging", "records", "release"}


@pytest.fixture(scope="module")
def sample() -> list[faults.Fault]:
    return faults.sample(ROOT, 6)


def test_the_sample_holds_150_over_every_floor_and_60_where_hands_hang_on_it(sample: list[faults.Fault]) -> None:
    found = Counter(fault.floor for fault in sample)
    assert sum(found.values()) == 150 and sum(found[floor] for floor in GUARDED) >= 60
    assert found == {floor.name: floor.faults for floor in faults.FLOORS if floor.faults}
    assert len({fault.id for fault in sample}) == 150


def test_each_is_code_that_says_something_else(sample: list[faults.Fault]) -> None:
    for fault in sample:
        whole = (ROOT / fault.path).read_bytes()
        assert whole[fault.start : fault.end].decode() == fault.before
        compile(fault.planted(whole), fault.path, "exec")
        assert fault.planted(whole) != whole


def test_what_was_once_seen_to_survive_still_stands_where_it_is_planted() -> None:
    """Where the code moved on, tools/plant_seen.toml moves with it."""
    seen = faults.seen(ROOT)
    assert len(seen) >= 28 and len({fault.kind for fault in seen}) == len(seen)


def test_every_reason_is_a_sentence_about_one_fault() -> None:
    rows = tomllib.loads((ROOT / "tools" / "plant_reasons.toml").read_text()).get("cannot", [])
    assert all(set(row) == {"id", "fault", "why"} and row["why"].endswith(".") for row in rows)
    assert len({row["id"] for row in rows}) == len(rows)


@pytest.mark.parametrize(
    ("code", "kind", "after"),
    [
        ("x = a < b", "boundary", "(a <= b)"), ("x = a >= b", "comparison turned", "(a < b)"), ("x = a and b", "or for and", "(a or b)"),
        ("x = not a", "not dropped", "(a)"), ("x = 3", "number nudged", "4"), ("x = a - b", "sign turned", "(a + b)"),
        ("x = f(a, b)", "arguments swapped", "(f(b, a))"), ("def f():\n    g(1)", "statement left out", "pass"),
        ("def f():\n    return a", "nothing returned", "return None"), ("x = a if b else c", "test turned", "(a if not b else c)"),
        ("x = True", "yes for no", "False"),
    ],
)  # fmt: skip
def test_each_kind_is_found(code: str, kind: str, after: str) -> None:
    found = {(fault.kind, fault.after) for fault in faults.faults_of(code.encode(), "x.py", "x")}
    assert (kind, after) in found


@pytest.mark.parametrize(
    "code", ["x = 1e-9", "assert a < b", "def f(x: int = None) -> bool: ...", "@d(frozen=True)\nclass A: ..."]
)
def test_what_says_nothing_is_left_alone(code: str) -> None:
    """What guards against rounding, what only the type checker reads, and how a class is made."""
    assert list(faults.faults_of(code.encode(), "x.py", "x")) == []


def test_what_is_named_for_a_line_that_runs_once_a_process_is_a_test_and_a_room() -> None:
    rooms = list((ROOT / "tests").rglob("test_*.py"))
    tests = "".join(path.read_text("utf-8") for path in rooms)
    names = {path.name for path in rooms}
    for room, of_it in plant.ONCE.items():
        for name in of_it:
            assert f"\ndef {name}(" in tests or name.removesuffix("::") in names, name
        assert (ROOT / "src" / "topout" / f"{room}.py").exists(), room
