"""What each command does: what it needs, what it computes, and the two ways its answer is written.

The picture is drawn and saved before anything is returned: where something is wrong, nothing is printed.
"""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from topout.bench_file import checks, read
from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.planner import plan, state
from topout.planner.results import as_json
from topout.units import PSI_PA

if TYPE_CHECKING:
    from topout.documents.plan_pictures import PlanPictures

POINTS = 201


def answer(asked: Namespace) -> str:
    """The text that a command prints, one JSON object or tables for people; raises TopoutError."""
    if getattr(asked, "plot", None):
        from topout.cli import pictures

        pictures.check(asked.plot)
    bench = read.read(asked.file)
    return _COMMANDS[asked.command](bench, asked)


def _written(asked: Namespace, result: Any, people: Callable[[], str]) -> str:
    if asked.json:
        return json.dumps(result, allow_nan=False) + "\n"
    return people()


def _drawn(asked: Namespace, make: Callable[[], PlanPictures], *, stance: bool) -> None:
    if asked.plot:
        from topout.cli import pictures

        pictures.save(asked.plot, make(), stance=stance)


def _curve(bench: BenchFile, asked: Namespace) -> str:
    checks.require(bench, *checks.NEEDS["curve"])
    result = state.curve(bench, asked.points or POINTS)
    rest = state.sag(bench)

    def pictures() -> PlanPictures:
        from topout.documents import plan_pictures

        return plan_pictures.of_state(bench, state.curve(bench, POINTS), rest, None)

    def people() -> str:
        from topout.cli import tables

        return tables.curve(bench, result, every=1 if asked.points else 10)

    _drawn(asked, pictures, stance=False)
    return _written(asked, as_json(result), people)


def _sag(bench: BenchFile, asked: Namespace) -> str:
    checks.require(bench, *checks.needs_of_sag(bench))
    result = state.sag(bench)

    def people() -> str:
        from topout.cli import tables

        return tables.sag(bench, result)

    _drawn(asked, lambda: _one_state(bench), stance=True)
    return _written(asked, as_json(result), people)


def _geometry(bench: BenchFile, asked: Namespace) -> str:
    checks.require(bench, *checks.NEEDS["geometry"])
    result = state.geometry_of(bench)
    assert result is not None, "the frame is whole"

    def people() -> str:
        from topout.cli import tables

        return tables.geometry(bench, result)

    _drawn(asked, lambda: _one_state(bench), stance=True)
    return _written(asked, as_json(result), people)


def _one_state(bench: BenchFile) -> PlanPictures:
    """The pictures of the bike as it is; a curve only where the file describes the spring."""
    from topout.documents import plan_pictures

    spring = not checks.missing(bench, *checks.NEEDS["curve"])
    return plan_pictures.of_state(
        bench, state.curve(bench, POINTS) if spring else None, state.sag(bench), state.geometry_of(bench)
    )


def _plan(bench: BenchFile, asked: Namespace) -> str:
    result = plan.plan(bench, curves=bool(asked.plot))

    def pictures() -> PlanPictures:
        from topout.documents import plan_pictures

        return plan_pictures.of_plan(bench, result)

    def people() -> str:
        from topout.cli import plan_table

        return plan_table.plan(bench, result)

    _drawn(asked, pictures, stance=True)
    return _written(asked, result.as_json(), people)


def _inflate(bench: BenchFile, asked: Namespace) -> str:
    if asked.to is not None and bench.fork is not None and bench.fork.air is not None:
        bench = replace(bench, fork=replace(bench.fork, air=replace(bench.fork.air, pressure_gauge_pa=asked.to)))
    checks.require(bench, *checks.NEEDS["inflate"])
    assert bench.fork is not None and bench.fork.air is not None and bench.fork.air.pressure_gauge_pa is not None
    to = bench.fork.air.pressure_gauge_pa
    last = 0.0
    for stop in asked.stop:
        if not last < stop < to:
            from topout.units import show

            between = f"{show(last, 'pressure', 'psi')} and {show(to, 'pressure', 'psi')}"
            message = f"a stop lies above the one before it and below the pressure to fill to: between {between}."
            raise FaultsFound([Fault(place="--stop", value=f'"{show(stop, "pressure", "psi")}"', message=message)])
        last = stop
    from topout.planner import fill

    gauge_step_pa = PSI_PA if asked.gauge is None else asked.gauge
    result = fill.schedule(bench, to, asked.stop, gauge_step_pa, asked.hose)

    def people() -> str:
        from topout.cli import tables

        return tables.inflate(bench, result, gauge_step_pa, asked.hose)

    return _written(asked, result.as_json(), people)


_COMMANDS: dict[str, Callable[[BenchFile, Namespace], str]] = {
    "curve": _curve,
    "sag": _sag,
    "geometry": _geometry,
    "plan": _plan,
    "inflate": _inflate,
}
