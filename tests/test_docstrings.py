"""Every public function of physics, planner and uncertainty says what goes in and comes out, in one form that is read here.

The last paragraph of its docstring is its data sheet:

    name, name [unit] (shape) range; name [unit] (shape) range → [unit] (shape) range. Raises nothing. Source: where from.

Every parameter stands there once, with its unit ([SI] for a record whose fields bear theirs, [1] for a pure number, [-]
for words), its shape and the range it may have. What the function itself raises is named. A source is physics.md with
its section, a published work, a document of ours, "derived", or said to be none.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parent.parent / "src" / "topout"
ROOMS = ("physics", "planner", "uncertainty")

SHEET = re.compile(r"(?P<into>.+?) → (?P<out>.+?)\. Raises (?P<raises>.+?)\. Source: (?P<source>.+)\.", re.DOTALL)
PART = re.compile(r"(?P<names>[\w, ]+) \[(?P<unit>[^\]]+)\] \((?P<shape>[^)]+)\) ?(?P<range>.*)")
OUT = re.compile(r"nothing|\[[^\]]+\](, \[[^\]]+\])* (\([^)]+\)|warnings|words)( .*)?")
UNITS = {
    "SI", "1", "-", "m", "m²", "m³", "N", "N/m", "N/Pa", "Pa", "Pa abs", "Pa gauge", "Pa/m", "J", "K", "kg", "s", "rad",
}  # fmt: skip
ENDINGS = {  # what a name says of its unit, which the sheet may not gainsay
    "_per_pa": {"m²", "N/Pa"}, "_gauge_pa": {"Pa gauge"}, "_abs_pa": {"Pa abs"}, "_pa": {"Pa", "Pa abs", "Pa gauge"}, "_n_per_m": {"N/m"},
    "_m3": {"m³"}, "_m2": {"m²"}, "_m": {"m"}, "_n": {"N"}, "_j": {"J"}, "_k": {"K"}, "_kg": {"kg"}, "_s": {"s"},
    "_rad": {"rad"},
}  # fmt: skip
SOURCES = re.compile(
    r"physics\.md( \d+)?|bench-file\.md|procedures\.md|derived|no source|none needed|thermodynamics textbook"
    r"|JCGM 10\d|US Standard Atmosphere 1976|EN \d|the makers' limits|\b(19|20)\d\d\b"
)


class Function(NamedTuple):
    """A public function or method as it is written."""

    name: str
    node: ast.FunctionDef

    @property
    def sheet(self) -> str:
        """The last paragraph of its docstring in one line."""
        text = ast.get_docstring(self.node) or ""
        return " ".join(text.split("\n\n")[-1].split())

    @property
    def parameters(self) -> set[str]:
        of = self.node.args
        every = [*of.posonlyargs, *of.args, *of.kwonlyargs, *filter(None, (of.vararg, of.kwarg))]
        return {each.arg for each in every} - {"self", "cls"}

    @property
    def raised(self) -> set[str]:
        """The errors in its own body."""
        found = set()
        for node in ast.walk(self.node):
            if isinstance(node, ast.Raise) and node.exc is not None:
                called = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
                if isinstance(called, ast.Name):
                    found.add(called.id)
        return found


def functions(tree: ast.Module, room: str) -> Iterator[Function]:
    def walk(body: list[ast.stmt], inside: str) -> Iterator[Function]:
        for node in body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield Function(inside + node.name, node)
            elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                yield from walk(node.body, f"{inside}{node.name}.")

    return walk(tree.body, f"{room}: ")


@cache
def every() -> list[Function]:
    """Every public function of the rooms with data sheets."""
    return [
        function
        for room in ROOMS
        for path in sorted((ROOT / room).rglob("*.py"))
        for function in functions(ast.parse(path.read_text(encoding="utf-8")), f"{room}/{path.stem}")
    ]


def faults(function: Function) -> list[str]:
    """What lacks in a data sheet; nothing where it is whole."""
    sheet = SHEET.fullmatch(function.sheet)
    if sheet is None:
        return [f"its last paragraph is no data sheet: {function.sheet[:100]!r}"]
    found, named = [], []
    parts = [] if sheet["into"] == "nothing" else sheet["into"].split("; ")
    for text in parts:
        part = PART.fullmatch(text)
        if part is None or not (part["range"] or "None" in text):
            found.append(f"unit, shape and range of {text!r}")
            continue
        names = [name.strip() for name in part["names"].split(",")]
        named += names
        units = set(part["unit"].split(", "))
        found += [f"no unit of ours: {part['unit']}"] * (not units <= UNITS)
        for name in names:
            ending = next((e for e in ENDINGS if name.endswith(e)), None)
            if ending and part["unit"] not in ENDINGS[ending]:
                found.append(f"{name} is said to be in {part['unit']}")
    if len(named) != len(set(named)) or set(named) != function.parameters:
        found.append(f"names {sorted(named)}, takes {sorted(function.parameters)}")
    if not OUT.fullmatch(sheet["out"]):
        found.append(f"unit and shape of what comes out: {sheet['out']!r}")
    found += [f"a unit that is none of ours: {u}" for u in re.findall(r"\[([^\]]+)\]", sheet["out"]) if u not in UNITS]
    own = next((e for e in ENDINGS if function.node.name.endswith(e)), None)
    if own and not any(f"[{unit}]" in sheet["out"] for unit in ENDINGS[own]):
        found.append(f"its name says {own}, its sheet {sheet['out']!r}")
    found += [f"raises {name} and does not say so" for name in function.raised if name not in sheet["raises"]]
    if not (sheet["raises"] == "nothing" or re.match(r"[A-Z]\w+( and [A-Z]\w+)* (at|where|from) .+", sheet["raises"])):
        found.append(f"what it raises and when: {sheet['raises']!r}")
    if not SOURCES.search(sheet["source"]):
        found.append(f"no source: {sheet['source']!r}")
    return found


def test_its_data_sheet_is_whole() -> None:
    assert [(function.name, found) for function in every() if (found := faults(function))] == []


def test_the_functions_are_found() -> None:
    assert len(every()) > 100 and {function.name.split("/")[0] for function in every()} == set(ROOMS)


WHOLE = '''
def f_m(x_m, s):
    """Says what it does.

    x_m [m] (…) 0 to the travel; s [SI] (1,) settled → [m] (…). Raises ValueError at nothing. Source: physics.md 2.
    """
    raise ValueError("nothing")
'''


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (" [m] (…) 0 to", " (…) 0 to"), (" (…) 0 to the travel", " 0 to the travel"), (" 0 to the travel", ""),
        ("x_m [m]", "x_m [Pa]"), ("; s [SI] (1,) settled", ""), ("s [SI]", "t [SI]"), ("→ [m] (…)", "→ [N] (…)"),
        ("→ [m] (…)", "→ [m]"), ("Raises ValueError at nothing", "Raises nothing"), (" Source: physics.md 2.", ""),
        ("physics.md 2", "well known"), ("[m] (…). Raises ValueError at nothing.", "[m] (…)."), ("x_m [m]", "x_m [furlong]"),
    ],
)  # fmt: skip
def test_a_sheet_with_a_piece_missing_is_found(old: str, new: str) -> None:
    assert faults(next(functions(ast.parse(WHOLE), "physics/x"))) == []
    spoilt = WHOLE.replace(old, new, 1)
    assert spoilt != WHOLE and faults(next(functions(ast.parse(spoilt), "physics/x")))
