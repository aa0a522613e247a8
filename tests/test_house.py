"""What no import contract can see: the habits of the house, read from the syntax trees or tried in a child process."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path

import pytest

from at_once import all_pass

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "topout"
ROOMS = sorted(path for path in PACKAGE.rglob("*.py") if "migrations" not in path.parts)
PURE = [path for path in ROOMS if path.relative_to(PACKAGE).parts[0] in ("physics", "planner", "survey")]
CORE = [path for path in ROOMS if path.relative_to(PACKAGE).parts[0] not in ("web", "cli", "__main__.py")]

# A file, the terminal, a clock, chance, or code found by name, under any of the names it is reached by.
SIDE_DOORS = re.compile(
    r"^(open|print|input|exec|eval|compile|__import__|breakpoint|globals"
    r"|numpy\.(load|save|savez\w*|loadtxt|savetxt|genfromtxt|fromfile|memmap|random\b.*|seterr)"
    r"|.*\.(tofile|import_module|read_text|write_text|read_bytes|write_bytes|now|utcnow|today|perf_counter|monotonic|time_ns)"
    r"|time\.\w+)$"
)
# What a pure room may import besides topout itself: values in, values out.
PURE_IMPORTS = {
    "__future__", "abc", "bisect", "collections", "contextlib", "dataclasses", "enum", "functools", "itertools", "math",
    "numbers", "numpy", "operator", "types", "typing",
}  # fmt: skip
HARD_LOOK_LINES = 400
DJANGO_SAYS_WHAT = ("apps.py", "urls.py")


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


def each_keeps(rule: Callable[[Path], None], rooms: list[Path]) -> None:
    """Every one of these rooms keeps the rule; all that don't are said."""
    all_pass(rule, [(name_of(path), (path,)) for path in rooms])


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Every node of a room: each rule goes through them, and walking a tree takes longer than reading it."""
    return tuple(ast.walk(tree(path)))


def called(node: ast.AST) -> str:
    """The dotted name of what a call calls, as far as it is written out."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return f"{called(node.value)}.{node.attr}"
    return ""


def side_doors(module: Sequence[ast.AST]) -> Iterator[tuple[int, str]]:
    """Line and name of every call that a pure room may not make, renamed imports included."""
    renamed = {"np": "numpy"}
    for node in module:
        if isinstance(node, ast.ImportFrom):
            renamed |= {alias.asname or alias.name: f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            renamed |= {alias.asname: alias.name for alias in node.names if alias.asname}
    for node in module:
        if isinstance(node, ast.Call):
            head, dot, rest = called(node.func).partition(".")
            full = (renamed.get(head, head) + dot + rest).removeprefix("builtins.")
            if SIDE_DOORS.match(full):
                yield node.lineno, full


def imported(module: Sequence[ast.AST]) -> Iterator[tuple[int, str]]:
    """Line and first name of every import, inside functions too."""
    for node in module:
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name.partition(".")[0]) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.lineno, node.module.partition(".")[0]


def child(code: str) -> str:
    """What a fresh Python prints for this code, with the package of this tree and warnings as errors."""
    ran = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


def test_a_pure_room_uses_no_file_clock_terminal_or_chance() -> None:
    def rule(path: Path) -> None:
        assert list(side_doors(nodes(path))) == []

    each_keeps(rule, PURE)


def test_a_pure_room_imports_numpy_and_plain_values_only() -> None:
    def rule(path: Path) -> None:
        assert [(line, name) for line, name in imported(nodes(path)) if name not in PURE_IMPORTS | {"topout"}] == []

    each_keeps(rule, PURE)


def test_a_pure_room_keeps_no_global_state() -> None:
    def rule(path: Path) -> None:
        module = tree(path)
        assert [node.lineno for node in nodes(path) if isinstance(node, ast.Global)] == []
        loose = [
            node.lineno
            for node in module.body
            if isinstance(node, ast.Assign | ast.AnnAssign)
            and isinstance(node.value, ast.List | ast.Set | ast.ListComp)
        ]
        assert loose == [], (
            "a list or set at the top of a room can be changed by anyone: make it a tuple or a frozenset"
        )

    each_keeps(rule, PURE)


@pytest.mark.parametrize(
    "code",
    [
        "open('x')",
        "from builtins import open as door\ndoor('x')",
        "print(1)",
        "np.load('x')",
        "import numpy as np\nnp.random.default_rng()",
        "import time\ntime.time()",
        "import time as clock\nclock.monotonic()",
        "from time import perf_counter\nperf_counter()",
        "from datetime import datetime\ndatetime.now()",
        "import importlib\nimportlib.import_module('os')",
        "from importlib import import_module as bring\nbring('os')",
        "path.write_text('x')",
    ],
)
def test_the_search_for_side_doors_finds_each_of_them(code: str) -> None:
    assert list(side_doors([*ast.walk(ast.parse(code))]))


def test_a_room_says_what_it_is_for_and_is_not_too_long() -> None:
    def rule(path: Path) -> None:
        assert ast.get_docstring(tree(path)) or path.name.endswith(DJANGO_SAYS_WHAT), (
            "a room begins with a line that says what is inside"
        )
        lines = len(path.read_text(encoding="utf-8").splitlines())
        assert lines <= HARD_LOOK_LINES, f"{lines} lines: make two rooms of it"

    each_keeps(rule, ROOMS)


def test_only_the_command_line_and_the_web_speak_to_the_terminal() -> None:
    def rule(path: Path) -> None:
        calls = [node for node in nodes(path) if isinstance(node, ast.Call)]
        assert [node.lineno for node in calls if called(node.func) in ("print", "input", "sys.exit", "exit")] == []

    each_keeps(rule, CORE)


def test_no_star_import_no_bare_except_and_no_path_to_another_host() -> None:
    def rule(path: Path) -> None:
        stars = [n.lineno for n in nodes(path) if isinstance(n, ast.ImportFrom) and n.names[0].name == "*"]
        bare = [n.lineno for n in nodes(path) if isinstance(n, ast.ExceptHandler) and n.type is None]
        assert (stars, bare) == ([], [])

    each_keeps(rule, ROOMS)


# Names of things and addresses that no one answers to: XML names, this machine, RFC 2606, a workshop's LAN.
NOT_CALLED = re.compile(r"https?://(www\.w3\.org/|127\.0\.0\.1|[\w.\-]*\.(example|test|invalid|lan)\b)")
PLAIN_TEXT = {".py", ".sh", ".toml", ".lock", ".js", ".css", ".html", ".txt", ".typ", ".json", ".svg", ""}


def test_no_file_names_another_host() -> None:
    folders = ("src", "tests", "tools", "benchmarks", "docs", "examples", ".ci")
    inside = (path for folder in folders for path in (ROOT / folder).rglob("*"))
    paths = [
        path for path in (*ROOT.iterdir(), *inside) if path.suffix in PLAIN_TEXT and "__pycache__" not in path.parts
    ]
    assert len(paths) > 50
    named = [
        f"{name_of(path)}: {found.group()}"
        for path in paths
        if path.is_file()
        and path.name not in {".git", ".coverage"}
        and ".min." not in path.name
        and "LICENSE" not in path.name
        for found in re.finditer(r"https?://[\w\-]+\.[\w.\-]+/?\w*", path.read_text(encoding="utf-8"))
        if not NOT_CALLED.match(found.group())
    ]
    assert named == []


def test_the_floors_are_there_and_carry_types() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    floors = next(contract for contract in contracts if contract["id"] == "floors")
    named = {name.strip() for layer in floors["layers"] if "(" not in layer for name in layer.split("|")}
    there = {path.stem for path in PACKAGE.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()}
    assert named <= there
    assert (PACKAGE / "py.typed").exists()
    assert floors["exhaustive"] is True


def test_every_folder_with_code_is_a_package() -> None:
    assert [name_of(path.parent) for path in ROOMS if not (path.parent / "__init__.py").exists()] == []


def test_a_plan_is_computed_without_scipy_django_or_a_drawing_library() -> None:
    heavy = ["scipy", "django", "typst", "rich", "pint", "matplotlib"]
    code = f"import sys, topout.planner.plan; print([name for name in {heavy} if name in sys.modules])"
    assert child(code).strip() == "[]"


def test_help_is_shown_without_numpy() -> None:
    code = (
        "import sys\nfrom topout.__main__ import main\nsys.argv = ['topout', '--help']\n"
        "try: main()\nexcept SystemExit: pass\n"
        "print([name for name in ('numpy', 'django', 'rich', 'typst') if name in sys.modules])"
    )
    assert child(code).splitlines()[-1] == "[]"


def test_an_exact_plan_starts_without_what_is_drawn_and_the_help_without_the_planner() -> None:
    """What a command imports is most of its time."""
    drawing = [
        "bands", "bounds", "doubted", "drawn", "drawn_can", "drawn_chambers", "far_in", "held_in", "known_to", "next_reading", "of_draws", "rear_bounds",
    ]  # fmt: skip
    drawing = [f"topout.planner.{name}" for name in drawing] + [
        "topout.uncertainty.draws",
        "topout.uncertainty.intervals",
    ]
    assert all((ROOT / "src" / f"{name.replace('.', '/')}.py").exists() for name in drawing)

    def imported(*words: str) -> list[str]:
        code = (
            f"import sys\nbefore = set(sys.modules)\nfrom topout.__main__ import main\ntry: main({list(words)})\nexcept SystemExit: pass\n"
            "print(*sorted(set(sys.modules) - before))"
        )
        return child(code).splitlines()[-1].split()

    for file in ("tests/reference/hollin.toml", "examples/rear-shock.toml", "examples/coil-fork.toml"):
        names = imported("plan", str(ROOT / file), "--json")
        assert "topout.planner.plan" in names
        assert sorted({*names} & {*drawing}) == [], file
    assert "topout.planner.drawn" in imported("plan", str(ROOT / "benchmarks/drawn.toml"), "--json")
    below = ("topout.planner", "topout.bench_file", "topout.physics", "topout.units", "topout.documents", "topout.web")
    slow = ("typing", "shutil", "contextlib", "dataclasses", "numpy")
    assert [name for name in imported("--help") if name.startswith(below) or name in slow] == []


def test_the_locks_hold_a_hash_for_every_package_and_agree() -> None:
    locks = {}
    for name in ("requirements.lock", "requirements-dev.lock"):
        text = (ROOT / name).read_text()
        pins = re.findall(
            r"^([\w.\-]+==[^ \\]+(?: ; [^\\]+)?) \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)", text, re.M
        )
        locks[name] = {pin.strip() for pin, _ in pins}
        assert len(pins) == len(re.findall(r"^[\w.\-]+==", text, re.M)), f"{name}: a package without a hash"
    assert locks["requirements.lock"] <= locks["requirements-dev.lock"]


def test_the_build_machine_runs_make_test_and_nothing_else() -> None:
    lines = [line for line in (ROOT / ".ci/run").read_text().splitlines() if line and not line.startswith("#")]
    assert lines == ['cd "$(dirname "$0")/.." && exec make test']
