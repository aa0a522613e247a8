"""Faults that can be planted: found in the syntax trees, chosen by a seed, so many on each floor.

The choice hangs on what a fault says and in which function it stands, not on its line, so a room that grows keeps most of it.
"""

from __future__ import annotations

import ast
import hashlib
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path
from typing import Any, Final

SMALLEST: Final = 1e-6  # a number of this size guards against rounding
# How often a kind is drawn against the others: there are numbers everywhere, and a crude fault is noticed by any test.
WEIGHTS: Final = {"number nudged": 0.4, "arguments swapped": 0.5, "nothing returned": 0.5, "boundary": 2.0}


@dataclass(frozen=True)
class Floor:
    """So many faults in the rooms of these paths, below src/topout."""

    name: str
    faults: int
    paths: tuple[str, ...]


JOBS: Final = "web/jobs/"
# A fault's floor is the first that its path fits.
SEEN: Final = "seen to survive"
FLOORS: Final = (
    Floor("signing", 26, tuple(f"{JOBS}steps/{n}.py" for n in ("sign", "judged", "written", "progress", "holds", "entries", "taken", "slots", "way"))),
    Floor("judging", 20, ("planner/judge.py", "planner/leak.py", *(f"{JOBS}core/{n}.py" for n in ("danger", "unit_dangers", "refusals", "leak_hold")))),
    Floor("records", 12, (f"{JOBS}records/*",)),
    Floor("release", 8, (f"{JOBS}release/contradictions.py", f"{JOBS}release/leaving.py")),
    Floor("units and errors", 5, ("*.py",)),
    Floor("physics", 11, ("physics/*", "uncertainty/*")),
    Floor("planner", 12, ("planner/*",)),
    Floor("bench file", 7, ("bench_file/*",)),
    Floor("procedures", 8, ("procedures/*", "shipped/*")),
    Floor("documents", 9, ("documents/*",)),
    Floor("command line", 5, ("cli/*",)),
    Floor("jobs", 14, (f"{JOBS}*",)),
    Floor("web", 13, ("web/*",)),
    Floor(SEEN, 0, ()),
)  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One fault: the bytes from `start` to `end` of a file become `after`."""

    floor: str
    path: str
    function: str
    kind: str
    before: str
    after: str
    nth: int  # of those that read the same in the function
    start: int
    end: int
    lines: range
    function_lines: range
    tests: tuple[str, ...] = ()  # files of tests, where no line tells

    @property
    def id(self) -> str:
        """What tells it apart, whatever its line."""
        said = "|".join((self.path, self.function, self.kind, self.before, self.after, str(self.nth)))
        return hashlib.sha256(said.encode()).hexdigest()[:12]

    def planted(self, whole: bytes) -> bytes:
        """The file with the fault in it."""
        return whole[: self.start] + self.after.encode() + whole[self.end :]

    def row(self) -> dict[str, Any]:
        """As it is kept."""
        return {
            "id": self.id, "floor": self.floor, "path": self.path, "line": self.lines.start, "function": self.function,
            "kind": self.kind, "before": self.before, "after": self.after,
        }  # fmt: skip

    def __str__(self) -> str:
        return f"{self.id} {self.path}:{self.lines.start} {self.function} {self.kind}: {self.before[:70]!r} → {self.after[:70]!r}"


def sample(root: Path, seed: int) -> list[Fault]:
    """The faults of a seed, floor by floor."""
    found: dict[str, list[tuple[float, Fault]]] = {floor.name: [] for floor in FLOORS}
    for path in sorted((root / "src" / "topout").rglob("*.py")):
        name = str(path.relative_to(root / "src" / "topout"))
        if "migrations" in path.parts:
            continue
        floor = next((each for each in FLOORS if any(_fits(name, pattern) for pattern in each.paths)), None)
        if floor is None:
            raise ValueError(f"{name} stands on no floor that plant_faults.py knows")
        for fault in faults_of(path.read_bytes(), f"src/topout/{name}", floor.name):
            drawn = hashlib.sha256(f"{seed}|{fault.id}".encode()).digest()
            rank = int.from_bytes(drawn[:8]) / WEIGHTS.get(fault.kind, 1.0)
            found[floor.name].append((rank, fault))
    return [fault for floor in FLOORS for _, fault in sorted(found[floor.name], key=lambda one: one[0])[: floor.faults]]


def seen(root: Path) -> list[Fault]:
    """The faults of plant_seen.toml, which tests once let pass."""
    found = []
    for row in tomllib.loads((root / "tools" / "plant_seen.toml").read_text())["seen"]:
        whole, before = (root / row["path"]).read_bytes(), row["before"].encode()
        if whole.count(before) != 1:
            raise ValueError(
                f"plant_seen.toml: {row['what']}: what should stand once in {row['path']} stands {whole.count(before)} times"
            )
        start = whole.index(before)
        first = whole.count(b"\n", 0, start) + 1
        lines = range(first, first + before.count(b"\n") + 1)
        found.append(
            Fault(SEEN, row["path"], "", row["what"], row["before"], row["after"], 0, start, start + len(before), lines, lines,
                  tuple(row.get("tests", ())))
        )  # fmt: skip
    return found


def _fits(name: str, pattern: str) -> bool:
    return fnmatch(name, pattern) and (pattern != "*.py" or "/" not in name)


def faults_of(whole: bytes, path: str, floor: str) -> Iterator[Fault]:
    """Every fault that can be planted in a file."""
    tree = ast.parse(whole)
    starts = [0]
    for line in whole.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    seen: Counter[tuple[str, ...]] = Counter()
    for function, inside, statement, node, kind, after in _walk(tree, "", range(1, len(starts)), None):
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[node.end_lineno - 1] + node.end_col_offset
        before = whole[start:end].decode()
        says = function, kind, before, after
        nth = seen[says]
        seen[says] += 1
        lines = range(node.lineno, node.end_lineno + 1)
        if statement is not None and not isinstance(
            statement, ast.FunctionDef | ast.ClassDef | ast.If | ast.For | ast.With | ast.Try
        ):
            lines = range(statement.lineno, (statement.end_lineno or statement.lineno) + 1)
        yield Fault(floor, path, function, kind, before, after, nth, start, end, lines, inside)


def _walk(
    node: ast.AST, function: str, inside: range, statement: ast.stmt | None
) -> Iterator[tuple[str, range, ast.stmt | None, Any, str, str]]:
    for child in _inner(node):
        name, span = function, inside
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            name, span = f"{function}.{child.name}".lstrip("."), range(child.lineno, (child.end_lineno or 0) + 1)
        own = child if isinstance(child, ast.stmt) else statement
        for kind, after in _turned(child):
            yield name, span, own, child, kind, after
        yield from _walk(child, name, span, own)


def _inner(node: ast.AST) -> Iterator[ast.AST]:
    """What a fault may be planted in: no annotation, decorator, assertion, docstring, or text with names in it."""
    if isinstance(node, ast.JoinedStr | ast.Assert):
        return
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
        return
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "keywords") and name != "keywords":
            continue
        for each in value if isinstance(value, list) else [value]:
            if isinstance(each, ast.arg) or not isinstance(each, ast.AST):
                continue
            yield each


_BOUNDARY: Final = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_TURNED: Final = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_SIGN: Final = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}


def _turned(node: ast.AST) -> Iterator[tuple[str, str]]:
    """The faults of one node: kind, and what stands there then."""
    if isinstance(node, ast.Compare):
        for kind, table in (("boundary", _BOUNDARY), ("comparison turned", _TURNED)):
            new = [table.get(type(op)) for op in node.ops]
            for n, op in enumerate(new):
                if op is not None:
                    ops = [*node.ops[:n], op(), *node.ops[n + 1 :]]
                    yield kind, _said(ast.Compare(node.left, ops, node.comparators))
    elif isinstance(node, ast.BoolOp):
        other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "and for or" if isinstance(node.op, ast.Or) else "or for and", _said(ast.BoolOp(other, node.values))
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield "not dropped" if isinstance(node.op, ast.Not) else "sign turned", _said(node.operand)
    elif isinstance(node, ast.BinOp) and type(node.op) in _SIGN:
        yield "sign turned", _said(ast.BinOp(node.left, _SIGN[type(node.op)](), node.right))
    elif isinstance(node, ast.Constant):
        yield from _nudged(node.value)
    elif isinstance(node, ast.Call) and _alike(node.args):
        yield (
            "arguments swapped",
            _said(ast.Call(node.func, [node.args[1], node.args[0], *node.args[2:]], node.keywords)),
        )
    elif isinstance(node, ast.Return) and not (
        node.value is None or isinstance(node.value, ast.Constant) and not node.value.value
    ):
        yield "nothing returned", "return None"
    elif _droppable(node):
        yield "statement left out", "pass"
    if isinstance(node, ast.If | ast.IfExp) and not isinstance(node.test, ast.Compare | ast.BoolOp | ast.UnaryOp):
        turned = ast.UnaryOp(ast.Not(), node.test)
        if isinstance(node, ast.IfExp):
            yield "test turned", _said(ast.IfExp(turned, node.body, node.orelse))


def _nudged(value: object) -> Iterator[tuple[str, str]]:
    if isinstance(value, bool):
        yield "yes for no", str(not value)
    elif isinstance(value, int):
        yield "number nudged", str(value + 1)
    elif isinstance(value, float) and abs(value) > SMALLEST:
        yield "number nudged", repr(value * 1.1)


def _alike(given: list[ast.expr]) -> bool:
    """Whether the first two of a call's arguments could be taken for each other."""
    if len(given) < 2 or isinstance(given[0], ast.Starred) or isinstance(given[1], ast.Starred):
        return False
    plain = all(isinstance(each, ast.Name | ast.Attribute | ast.Subscript) for each in given[:2])
    return (plain or type(given[0]) is type(given[1])) and ast.dump(given[0]) != ast.dump(given[1])


def _droppable(node: ast.AST) -> bool:
    """A statement without which the rest still has all its names."""
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Call | ast.Await)
    if isinstance(node, ast.Assign):
        return all(isinstance(target, ast.Attribute | ast.Subscript) for target in node.targets)
    return isinstance(node, ast.AugAssign | ast.Raise | ast.Delete | ast.Continue | ast.Break)


def _said(node: ast.expr) -> str:
    return f"({ast.unparse(ast.fix_missing_locations(node))})"
