"""docs/procedures.md: every block of it is run, and its tables say what the code says."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from topout.errors import FaultsFound
from topout.planner.variables import FUNCTIONS, NAMES, VOCABULARY
from topout.procedures import library
from topout.procedures.model import CONDITIONS
from topout.procedures.read import read

DOCS = Path(__file__).resolve().parents[2] / "docs" / "procedures.md"
BLOCKS = re.findall(r"^```(\w+)([ \w]*)\n(.*?)^```", DOCS.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
HEAD = 'grammar = 2\ntitle = "A"\nversion = 1\nsummary = "B."\n'
GROUP = '[[group]]\nkey = "g"\ntitle = "G"\ncomplete = "All complete."\n'
BEFORE = """[[group.step]]
key = "before"
do = "Look at the fork."
"""
WHOLE: dict[str, Callable[[str], str]] = {
    "": lambda text: text,
    "step": lambda text: HEAD + GROUP + BEFORE + "[[group.step]]\n" + text,
    "define": lambda text: HEAD + text + GROUP + BEFORE,
    "own": library.whole,
    "variant": lambda text: HEAD + text + GROUP + BEFORE,
}
GOOD = [(kind.strip(), text) for language, kind, text in BLOCKS if language == "toml" and kind.strip() != "faults"]


@pytest.mark.parametrize(("kind", "text"), GOOD, ids=[str(n) for n in range(len(GOOD))])
def test_every_block_can_be_read(kind: str, text: str) -> None:
    assert list(read(WHOLE[kind](text), "docs", VOCABULARY).steps())


def test_the_example_of_a_workshops_own_is_the_demos() -> None:
    (shown,) = [text for kind, text in GOOD if kind == "own"]
    assert shown == (DOCS.parents[1] / "src/topout/web/demo/winter-look.toml").read_text("utf-8")


def test_the_block_of_faults_gives_the_text_below_it() -> None:
    (wrong,) = [text for language, kind, text in BLOCKS if kind.strip() == "faults"]
    (said,) = [text for language, _, text in BLOCKS if language == "text"]
    with pytest.raises(FaultsFound) as found:
        read(wrong, "docs", VOCABULARY)
    assert str(found.value) == said.strip()


def test_the_tables_list_every_name_and_condition() -> None:
    text = DOCS.read_text(encoding="utf-8")
    for key, name in NAMES.items():
        needs = ", ".join(f"`{need}`" for need in name.needs)
        assert f"| `{key}` | {name.says} | {needs} |" in text
    for condition, values in CONDITIONS.items():
        assert f"| `{condition}` | " + ", ".join(f"`{value}`" for value in values) + " |" in text
    for function in FUNCTIONS:
        assert f"`{function}`" in text
