"""Two builds side by side: each bench file as it would stand after its own change, and what differs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from topout import units
from topout.bench_file import model
from topout.bench_file.model import BenchFile
from topout.planner import change, inexact, leans_on, summary
from topout.planner.known_to import with_limits
from topout.planner.plan import plan
from topout.planner.results import Default, Plan, as_json, difference
from topout.planner.summary import Summary
from topout.uncertainty.doubt import Doubt
from topout.uncertainty.intervals import interval


@dataclass(frozen=True, slots=True)
class Build:
    """One of the two: its bench file, the same with its change done, its plan."""

    bench: BenchFile
    changed: BenchFile
    plan: Plan

    @property
    def defaults(self) -> tuple[Default, ...]:
        """What its file does not say and its figures lean on.

        nothing → [SI] (any). Raises nothing. Source: bench-file.md's defaults.
        """
        return leans_on.of_build(self.plan.defaults)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two builds; `unlike` names the tables of the files, the change apart, that are not the same in both."""

    a: Build
    b: Build
    unlike: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """The object that `topout compare --json` prints; `difference` is b − a.

        nothing → [SI] (one) as docs/command-line.md has it. Raises nothing. Source: none needed, bookkeeping.
        """
        builds = {"a": self.a, "b": self.b}
        plans = {name: build.plan.as_json() for name, build in builds.items()}
        plain = {name: as_json(build.plan.after) for name, build in builds.items()}
        return {
            "set": {name: _set(build.changed) for name, build in builds.items()},
            **{name: each["after"] for name, each in plans.items()},
            "difference": self._difference(plain["a"], plain["b"]),
            "clearance": {name: each["clearance"] for name, each in plans.items()},
            "hazard": {name: each["hazard"]["after"] for name, each in plans.items()},
            "drawn": {name: each.get("drawn") for name, each in plans.items()},
            "defaults": {name: [each.as_json() for each in build.defaults] for name, build in builds.items()},
            "unlike": list(self.unlike),
            "warnings": [
                {"code": w.code, "text": w.text, "build": name}
                for name, build in builds.items()
                for w in build.plan.warnings
                if w.state != "before"
            ],
        }

    def _difference(self, a: dict[str, Any], b: dict[str, Any]) -> Any:
        """b − a; where both are drawn of one bike, fork by fork, with limits: what is not known of it cancels."""
        exact = difference(a, b)
        one, two = self.a.plan.bounds, self.b.plan.bounds
        if one is None or two is None or one.weights is None or two.weights is None:
            return exact
        if not np.array_equal(one.weights, two.weights):
            return exact
        pairs = {at: two.values[at] - each for at, each in one.values.items() if at[0] == "after" and at in two.values}
        told = {("difference", *at[1:]): interval(each, one.weights) for at, each in pairs.items()}
        known = {at: each for at, each in told.items() if each is not None and each.high95 > each.low95}
        return with_limits({"difference": exact}, known)["difference"]


def compare(a: BenchFile, b: BenchFile) -> Comparison:
    """The bike of either file after that file's own change; a file without one is taken as it is.

    a, b [SI] (one) as read → [SI] (one). Raises FaultsFound where a sag found can't be. Source: bench-file.md.
    """
    unlike = tuple(name for name in model.subtables(BenchFile) if name != "change" and _told(a, name) != _told(b, name))
    return Comparison(_build(a), _build(b), unlike)


def _told(bench: BenchFile, table: str) -> tuple[Any, tuple[Doubt, ...]]:
    """A table of a file, and how far its values may be off."""
    return getattr(bench, table), tuple(off for off in bench.doubts if off.key.startswith(f"{table}."))


def _build(bench: BenchFile) -> Build:
    return Build(bench, change.changed(bench), plan(bench, draws=inexact.AT_REST))


def _set(bench: BenchFile) -> dict[str, Any]:
    """What a build is set to, gauge pressures."""
    fork = bench.fork
    air = fork.air if fork is not None else None
    return {
        "travel_m": None if fork is None else fork.travel_m,
        "spacers": None if air is None else air.spacers,
        "pressure_pa": None if air is None else air.pressure_gauge_pa,
        "negative_pressure_pa": None if air is None else air.negative_pressure_gauge_pa,
        **({} if bench.shock is None else {"shock": _set_behind(bench.shock)}),
    }


def _set_behind(shock: model.Shock) -> dict[str, Any]:
    """The same of a rear shock."""
    return {
        "stroke_m": shock.stroke_m,
        "spacers": None if shock.air is None else shock.air.spacers,
        "pressure_pa": None if shock.air is None else shock.air.pressure_gauge_pa,
        "rate_n_per_m": None if shock.coil is None else shock.coil.rate_n_per_m,
        "preload_m": None if shock.coil is None else shock.coil.preload_m,
    }


def told(of: Comparison, system: units.System = units.BENCH) -> Summary:
    """The facts of both builds, a before b, rounded once; its warnings are those of neither.

    of [SI] (one) a comparison; system [-] (one) the units to say it in → [SI] (one). Raises nothing. Source: none needed,
    bookkeeping.
    """
    results = {
        "before": as_json(of.a.plan.after), "after": as_json(of.b.plan.after),
        "clearance": as_json(of.b.plan.clearance), "warnings": [],
    }  # fmt: skip
    return summary.of_results(of.a.changed, results, of.b.changed, system=system)
