"""Measures the house: rooms, arrows between them, climbs, and lines, of the upper storey and of the whole.

usage: .venv/bin/python tools/house.py

A room is a package of the web (or one of the jobs' packages), or a module that stands beside them; an arrow is one room importing
another, however often. A climb is an arrow against the order that the contracts of pyproject.toml declare.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterable
from pathlib import Path

import grimp

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "topout"
WEB = "topout.web"
JOBS = "topout.web.jobs"
LONG = 250  # lines of a room that ask for a look (house.md: 60 to 250, a hard look at 400)


def room_of(module: str) -> str:
    """The room of the web that a module stands in: a package of the jobs, a package of the web, or the module itself."""
    parts = module.split(".")
    if module.startswith(JOBS + "."):
        return ".".join(parts[:4])
    return ".".join(parts[:3])


def arrows(graph: grimp.ImportGraph) -> set[tuple[str, str]]:
    """Which room of the web imports which other."""
    found = set()
    for module in graph.modules:
        if not module.startswith(WEB + "."):
            continue
        for imported in graph.find_modules_directly_imported_by(module):
            if imported.startswith(WEB + ".") and room_of(module) != room_of(imported):
                found.add((room_of(module), room_of(imported)))
    return found


def floors() -> list[str]:
    """The rooms of the web that the contracts put in order, topmost first."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    by_id = {contract["id"]: contract["layers"] for contract in contracts if contract["type"] == "layers"}
    order: list[str] = []
    for name in by_id["web-floors"]:
        order += [f"{JOBS}.{inner}" for inner in by_id["jobs-floors"]] if name == "jobs" else [f"{WEB}.{name}"]
    return order


def climbs(found: Iterable[tuple[str, str]], order: list[str]) -> list[tuple[str, str]]:
    """Arrows that point up; the contracts allow none."""
    at = {room: n for n, room in enumerate(order)}
    return [(one, other) for one, other in found if one in at and other in at and at[one] > at[other]]


def lengths() -> list[tuple[int, str]]:
    """Lines of every module, longest first; migrations are not counted."""
    rows = [
        (len(path.read_text().splitlines()), str(path.relative_to(SOURCE)))
        for path in SOURCE.rglob("*.py")
        if "migrations" not in path.parts
    ]
    return sorted(rows, reverse=True)


def main() -> int:
    """Print the figures; 1 where an arrow climbs."""
    graph = grimp.build_graph("topout", cache_dir=None)
    order = floors()
    found = arrows(graph)
    named = {pair for pair in found if pair[0] in order and pair[1] in order}
    up = climbs(named, order)
    rows = lengths()
    print(f"upper storey: {len(order)} rooms on as many floors, {len(named)} arrows between them, {len(up)} climbs")
    for room in order:
        below = sorted(other.removeprefix(WEB + ".") for one, other in named if one == room)
        print(f"  {room.removeprefix(WEB + '.'):18} -> {', '.join(below) or '–'}")
    beside = {one for pair in found for one in pair} - set(order)
    print(
        f"beside them: {len(beside)} modules that every room may use or that start it, {len(found) - len(named)} arrows"
    )
    total = sum(lines for lines, _ in rows)
    print(f"modules: {len(rows)}, {total} lines, median {rows[len(rows) // 2][0]}; over {LONG} lines:")
    for lines, name in rows:
        if lines > LONG:
            print(f"  {lines:4} {name}")
    return 1 if up else 0


if __name__ == "__main__":
    sys.exit(main())
