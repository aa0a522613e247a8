"""The plan of a rear shock: the Book's bike with both its ends, what was found at the shock, and what is tried on it."""

from __future__ import annotations

from dataclasses import dataclass

from topout.errors import FaultsFound
from topout.physics.hazards import rounded_up
from topout.planner import plan, sentence, summary
from topout.planner.results import RearCurve, RearPlan
from topout.planner.sentence import Piece
from topout.planner.summary import Summary
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.book.tables import Tables
from topout.web.jobs.core.left import typed_text
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Job


@dataclass(frozen=True, slots=True)
class Behind:
    """The answer: its sentence, the facts of both ends, and the shock's curves before and after, None where not known."""

    sentence: list[Piece]
    hurts: str
    told: Summary
    before: RearCurve | None
    after: RearCurve | None


def tables(job: Job) -> Tables:
    """The bench file of a shock's job: rider, bike, the fork on it, the shock; with what was read of the shock as found."""
    assert job.unit is not None
    found = readings.current(job, "as-found")
    measured: Tables = {"conditions": {}, "shock": {}, "shock.air": {}, "shock.coil": {}}
    workshop = preferences.workshop()
    if workshop:
        measured["conditions"]["altitude"] = workshop.altitude
    unit = job.unit.whole_tables()
    places = {"stroke-sag": ("shock", "sag"), "pressure": ("shock.air", "pressure"), "coil-rate": ("shock.coil", "rate"),
              "preload": ("shock.coil", "preload")}  # fmt: skip
    for kind, (table, key) in places.items():
        if kind in found and table in unit:
            measured[table][key] = typed_text(found[kind])
    if "spacers" in found and "shock.air" in unit:
        measured["shock.air"]["spacers"] = int(found["spacers"].value_si)
    other = next((each for each in job.bike.units.all() if each.what.noun == "fork"), None) if job.bike else None
    front = other.whole_tables() if other is not None else {}
    bike = bench_tables.fitted(job.bike.tables if job.bike else {}, front, unit)
    return bench_tables.merged(job.rider.tables, bike, measured)


def answer(fitted: Tables, asked: Tables) -> Behind:
    """What the shock does with what is asked of it; raises FaultsFound with every finding."""
    bench = bench_tables.read(bench_tables.merged(fitted, asked))
    worked = plan.plan(bench, curves=True)
    system = preferences.system()
    told = summary.of_plan(bench, worked, system=system)
    pieces = []
    if told.rear is not None:
        pieces = sentence.rear_to_set(told.rear, system.unit("pressure", "psi")) + [
            Piece(sentence.rear_does(told.rear))
        ]
    return Behind(pieces, _hurts(worked.rear), told, worked.shock_before, worked.shock_after)


def _hurts(of: RearPlan | None) -> str:
    """What pushes the can off and what is shut in, the higher of before and after; "" where that is not known."""
    states = [each for each in (of.hazard_before, of.hazard_after) if each is not None] if of is not None else []
    forces = [n for each in states for n in (each.cap_force_n, each.ring_force_n) if n is not None]
    energies = [each.energy_j for each in states if each.energy_j is not None]
    if not forces or max(forces) <= 0.0:
        return ""
    system = preferences.system()
    said = (
        f"At full extension the air pushes on the can with up to {system.show(rounded_up(max(forces)), 'force', 'N')}"
    )
    if energies:
        said += f" and holds {system.show(rounded_up(max(energies)), 'energy', 'J')}"
    return f"{said}: let it out, both chambers, before anything is unscrewed."


__all__ = ["Behind", "FaultsFound", "answer", "tables"]
