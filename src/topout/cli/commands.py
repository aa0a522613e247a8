"""What each command does: what it needs, what it computes, and the ways its answer is written.

The picture is drawn and saved before anything is returned: where something is wrong, nothing is printed.
"""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from topout import api
from topout.bench_file import checks
from topout.bench_file.model import BenchFile
from topout.cli import files
from topout.cli.files import Given
from topout.errors import Fault, FaultsFound, OutOfRange
from topout.planner import inexact
from topout.planner.results import RearCurve, told
from topout.units import PSI_PA, show

if TYPE_CHECKING:
    from topout.documents.plan_pictures import PlanPictures
    from topout.planner.fill import Schedule
    from topout.planner.landing import Landing
    from topout.planner.options.option import Options
    from topout.planner.rebound import Rebound
    from topout.planner.results import Curve, Geometry, Plan, Sag
    from topout.planner.ride import Ridden
    from topout.planner.wanted import Targets
    from topout.planner.ways import Ways


@dataclass(frozen=True, slots=True)
class Answer:
    """What is printed, and whether anything was warned of."""

    text: str
    warned: bool = False


@dataclass(frozen=True, slots=True)
class Command:
    """One command: what it computes, raising TopoutError; how people read it; what is drawn of it."""

    compute: Callable[[BenchFile, Namespace], Any]
    people: Callable[[Given, Any, Namespace], str]
    pictures: Callable[[BenchFile, Any], PlanPictures] | None = None
    stance: bool = True


def answer(asked: Namespace) -> Answer:
    """What a command prints: JSON, comma-separated values, or tables for people; raises TopoutError."""
    plot = getattr(asked, "plot", None)
    if plot:
        from topout.cli import pictures

        pictures.check(plot)
    given = files.read_all(asked.files, asked.units)
    if asked.command == "compare":
        return _compare(given, asked)
    command = COMMANDS[asked.command]
    results = files.of_each(given, lambda each: each.name, lambda each: command.compute(each.bench, asked))
    if plot and command.pictures is not None:
        from topout.cli import pictures

        pictures.save(plot, command.pictures(given[0].bench, results[0]), given[0].system, stance=command.stance)
    return Answer(_written(command, given, results, asked), any(getattr(each, "warnings", ()) for each in results))


def _written(command: Command, given: list[Given], results: list[Any], asked: Namespace) -> str:
    if asked.json and len(given) == 1:
        return _line(_plain(results[0]))
    if asked.json:
        return "".join(
            _line({"file": each.name, **_plain(result)}) for each, result in zip(given, results, strict=True)
        )
    if asked.csv:
        from topout.cli import csv_table

        rows = [(each.name, _plain(result)) for each, result in zip(given, results, strict=True)]
        return csv_table.written(rows)
    if len(given) > 1:
        from topout.cli import several

        return several.table(asked.command, given, results, given[0].system)
    return command.people(given[0], results[0], asked)


def _line(result: dict[str, Any]) -> str:
    return json.dumps(result, allow_nan=False) + "\n"


def _plain(result: Any) -> dict[str, Any]:
    """A result as JSON holds it."""
    own = getattr(result, "as_json", None)
    plain = own() if own is not None else told(result)
    assert isinstance(plain, dict)
    return plain


def _compare(given: list[Given], asked: Namespace) -> Answer:
    from topout.planner import compare

    one, other = given
    result = compare.compare(one.bench, other.bench)
    plain = result.as_json()
    warned = bool(plain["warnings"])
    if asked.json:
        return Answer(_line(plain), warned)
    if asked.csv:
        from topout.cli import csv_table

        rows = [(each.name, {"set": plain["set"][key], **plain[key]}) for each, key in zip(given, "ab", strict=True)]
        return Answer(csv_table.written(rows), warned)
    from topout.cli import compare_table

    return Answer(compare_table.compare((one.name, other.name), result, one.system), warned)


def _curve(bench: BenchFile, asked: Namespace) -> Curve:
    return api.curve(bench, asked.points or api.POINTS, end=asked.end)


def _curve_drawn(bench: BenchFile, result: Curve) -> PlanPictures:
    from topout.documents import plan_pictures
    from topout.planner import of_draws

    if isinstance(result, RearCurve):
        return plan_pictures.of_state(bench, of_draws.curve_behind(bench, api.POINTS), None, None)
    return plan_pictures.of_state(bench, of_draws.curve(bench, api.POINTS), of_draws.sag(bench), None)


def _curve_said(given: Given, result: Curve, asked: Namespace) -> str:
    from topout.cli import tables

    return tables.curve(given.bench, result, every=1 if asked.points else 10, system=given.system)


def _sag(bench: BenchFile, asked: Namespace) -> Sag:
    return api.sag(bench)


def _sag_said(given: Given, result: Sag, asked: Namespace) -> str:
    from topout.cli import tables

    return tables.sag(given.bench, result, given.system)


def _geometry(bench: BenchFile, asked: Namespace) -> Geometry:
    return api.geometry(bench)


def _geometry_said(given: Given, result: Geometry, asked: Namespace) -> str:
    from topout.cli import tables

    return tables.geometry(given.bench, result, given.system)


def _one_state(bench: BenchFile, result: Any) -> PlanPictures:
    """The pictures of the bike as it is; a curve only where the file describes the spring."""
    from topout.documents import plan_pictures
    from topout.planner import of_draws

    spring = not inexact.lacking(bench, checks.missing(bench, *checks.NEEDS["curve"]))
    curve = of_draws.curve(bench, api.POINTS) if spring else None
    return plan_pictures.of_state(bench, curve, of_draws.sag(bench), of_draws.stance(bench))


def _plan(bench: BenchFile, asked: Namespace) -> Plan:
    return api.plan(bench, curves=bool(asked.plot))


def _plan_drawn(bench: BenchFile, result: Plan) -> PlanPictures:
    from topout.documents import plan_pictures

    return plan_pictures.of_plan(bench, result)


def _plan_said(given: Given, result: Plan, asked: Namespace) -> str:
    from topout.cli import plan_table

    return plan_table.plan(given.bench, result, given.system)


def _inflate(bench: BenchFile, asked: Namespace) -> Schedule:
    gauge_step_pa = _gauge_step_pa(asked)
    try:
        return api.inflate(bench, asked.to, stops_gauge_pa=asked.stop, gauge_step_pa=gauge_step_pa, hose_m3=asked.hose)
    except OutOfRange as stop:
        between = " and ".join(show(each, "pressure", "psi") for each in (stop.low, stop.high) if each is not None)
        message = f"a stop lies above the one before it and below the pressure to fill to: between {between}."
        value = f'"{show(stop.value, "pressure", "psi")}"'
        raise FaultsFound([Fault(location="--stop", value=value, message=message)]) from None


def _gauge_step_pa(asked: Namespace) -> float:
    return PSI_PA if asked.gauge is None else float(asked.gauge)


def _inflate_said(given: Given, result: Schedule, asked: Namespace) -> str:
    from topout.cli import tables

    return tables.inflate(given.bench, result, _gauge_step_pa(asked), asked.hose, given.system)


def _replied(given: Given, result: Any, asked: Namespace) -> str:
    """How the answer to a single question is printed."""
    from topout.cli import questions

    return questions.said(given, result)


def _target(bench: BenchFile, asked: Namespace) -> Targets:
    from topout.planner.wanted_words import WORDS

    found = [getattr(asked, name.replace("-", "_")) for name in WORDS]
    return api.target(bench, **_together(each for each in found if each is not None))


def _together(wanted: Iterable[dict[str, float]]) -> dict[str, float]:
    """Everything that is wanted, by the attributes of `Wanted`."""
    return {key: value for each in wanted for key, value in each.items()}


def _landing(bench: BenchFile, asked: Namespace) -> Landing:
    return api.landing(bench, end=asked.end)


def _ride(bench: BenchFile, asked: Namespace) -> Ridden:
    return api.ride(bench, temperature_k=asked.temperature, altitude_m=asked.altitude, end=asked.end)


def _rebound(bench: BenchFile, asked: Namespace) -> Rebound:
    return api.rebound(bench, asked.clicks, asked.of, end=asked.end)


def _options(bench: BenchFile, asked: Namespace) -> Options:
    return api.options(
        bench,
        limit=asked.limit,
        family=asked.family,
        rear_family=asked.rear_family,
        end=asked.end,
        wanted=_together(asked.target),
        offsets_m=asked.offset,
        gauge_step_pa=_gauge_step_pa(asked),
    )


def _options_said(given: Given, result: Options, asked: Namespace) -> str:
    from topout.cli import options_table

    return options_table.options(result, given.system)


def _ways(bench: BenchFile, asked: Namespace) -> Ways:
    return api.ways(bench)


COMMANDS: Final = {
    "curve": Command(_curve, _curve_said, _curve_drawn, stance=False),
    "sag": Command(_sag, _sag_said, _one_state),
    "geometry": Command(_geometry, _geometry_said, _one_state),
    "plan": Command(_plan, _plan_said, _plan_drawn),
    "inflate": Command(_inflate, _inflate_said),
    "target": Command(_target, _replied),
    "landing": Command(_landing, _replied),
    "ride": Command(_ride, _replied),
    "rebound": Command(_rebound, _replied),
    "ways": Command(_ways, _replied),
    "options": Command(_options, _options_said),
}
