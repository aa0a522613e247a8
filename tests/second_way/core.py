"""The core behind the same three questions as the plain script: text of a bench file in, plain JSON values out."""

from __future__ import annotations

from typing import Any

from topout.bench_file import read
from topout.bench_file.model import BenchFile
from topout.planner import change, fill, fitted, load, state
from topout.planner.plan import plan as planner_plan
from topout.planner.results import as_json


def plan(text: str) -> dict[str, Any]:
    return planner_plan(read.read_text(text)).as_json()


def curve_of(bench: BenchFile, on: load.LoadOn | None = None, points: int = 201) -> dict[str, Any]:
    return as_json(state.curve(bench, points, of=state.parts(bench, on)))


def curves(text: str, points: int = 201) -> tuple[dict[str, Any], dict[str, Any]]:
    """Curve before and after; the load of the state before goes along."""
    bench = read.read_text(text)
    on = load.load_on(bench)
    return curve_of(bench, on, points), curve_of(change.changed(bench), on, points)


def schedule(
    text: str, to_gauge_pa: float, stops: list[float], gauge_step_pa: float, hose_m3: float = 0.0
) -> dict[str, Any]:
    return fill.schedule(read.read_text(text), to_gauge_pa, stops, gauge_step_pa, hose_m3).as_json()


def ambient_abs_pa(text: str) -> float:
    return fitted.ambient_abs_pa(read.read_text(text))
