"""The import contracts of pyproject.toml are kept, and each of them is broken by the import it is there against."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def lint_imports(tree: Path) -> tuple[int, str]:
    """Exit status and output of import-linter over the tree."""
    ran = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        env={**os.environ, "PYTHONPATH": str(tree / "src"), "PYTHONWARNINGS": ""},
        cwd=tree,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    return ran.returncode, ran.stdout + ran.stderr


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package that a test may spoil."""
    tree = tmp_path_factory.mktemp("house")
    shutil.copytree(ROOT / "src", tree / "src", ignore=shutil.ignore_patterns("__pycache__", "static", "fonts"))
    shutil.copy(ROOT / "pyproject.toml", tree)
    return tree


def test_every_contract_is_kept(copy: Path) -> None:
    code, said = lint_imports(copy)
    assert code == 0, said


@pytest.mark.parametrize(
    ("room", "line", "broken"),
    [
        ("physics/spoilt.py", "import topout.planner", "Floors"),
        ("bench_file/spoilt.py", "import topout.procedures", "Floors"),
        ("cli/spoilt.py", "import topout.web.settings", "Floors"),
        ("loose.py", "import math", "not listed as layers"),
        ("web/book/spoilt.py", "import topout.web.jobs", "Inside the web"),
        ("web/jobs/records/spoilt.py", "import topout.web.jobs.core", "Inside the jobs"),
        ("web/jobs/plan/spoilt.py", "import topout.web.jobs.steps.sign", "Inside the jobs"),
        ("web/jobs/steps/spoilt.py", "import topout.planner", "only the core reaches"),
        ("web/workshop/spoilt.py", "import topout.web.book", "Inside the web"),
        ("web/access/spoilt.py", "import topout.web.book", "Inside the web"),
        ("documents/spoilt.py", "def late():\n    from django.db import models", "Only the web knows Django"),
        ("web/book/spoilt.py", "import topout.planner.results", "only the jobs reach the core"),
        ("documents/spoilt.py", "import typst", "Only documents.pdf"),
        ("planner/spoilt.py", "import scipy.optimize", "SciPy"),
        ("physics/spoilt.py", "import pathlib", "touch no file"),
    ],
)
def test_a_contract_is_broken_by_what_it_is_there_against(copy: Path, room: str, line: str, broken: str) -> None:
    path = copy / "src" / "topout" / room
    path.write_text(f'"""A room that breaks a contract."""\n{line}\n')
    try:
        code, said = lint_imports(copy)
    finally:
        path.unlink()
    assert code == 1
    verdicts = [line for line in said.splitlines() if broken in line]
    assert any("BROKEN" in line or "not listed" in line for line in verdicts), said


def test_the_measure_of_the_house_finds_its_rooms_and_no_climb() -> None:
    ran = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "house.py")], capture_output=True, text=True, timeout=60, check=False
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    first = ran.stdout.splitlines()[0]
    rooms, on_floors = first.split()[2], first.split("floors, ")[1]
    arrows = int(on_floors.split()[0])
    assert rooms == "19" and first.endswith("0 climbs"), first
    assert 20 <= arrows <= 61, (
        first
    )  # 39 when it was written, 46 with the find box, 55 with the copies, 57 with the plan’s own reading (plan to readings), 61 with what to fit (its own room, and the Shelf’s parts); every new one is a door to think about
