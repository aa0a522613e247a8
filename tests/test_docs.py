"""Documents that can't rot: what is made from the code is as it would be made now, and what they name exists."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from topout.planner import limits

ROOT = Path(__file__).resolve().parents[1]
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").rglob("*.md"))]


def test_generated_parts_are_as_they_would_be_made() -> None:
    child = subprocess.run(
        [sys.executable, ROOT / "tools" / "write_docs.py", "--check"], capture_output=True, text=True
    )
    assert child.returncode == 0, child.stdout + child.stderr


def test_every_warning_code_is_described() -> None:
    text = (ROOT / "docs" / "bench-file.md").read_text("utf-8")
    assert set(limits.CODES) <= set(re.findall(r"`([a-z-]+)`", text))


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page: Path) -> None:
    text = re.sub(r"`[^`\n]*`", "", page.read_text("utf-8"))  # a list of functions, called, looks like a link
    for target in re.findall(r"\]\(([^)#]+)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_the_readmes_commands_are_targets_of_the_makefile() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    for name in ("README.md", "CONTRIBUTING.md"):
        text = (ROOT / name).read_text("utf-8")
        assert set(re.findall(r"(?:^    |`)make ([a-z]+)", text, re.MULTILINE)) <= targets
