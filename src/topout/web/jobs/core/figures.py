"""What the plan page shows of the core: the figures of a plan as the planner holds them, and the few functions beside it.

The names are the planner's own and are passed on as they are; nothing is computed here.
"""

from __future__ import annotations

from dataclasses import replace

from topout.bench_file.model import BenchFile
from topout.planner import at_mark, defaults_words, held_in, open_state, open_to, usual
from topout.planner.bands import Band as Band
from topout.planner.bands import slow_force as bands
from topout.planner.bounds import Answered as Answered
from topout.planner.change import changed as changed
from topout.planner.facts import FORCES_SAID_TO as FORCES_SAID_TO
from topout.planner.facts import NONE as NONE
from topout.planner.facts import Chosen as Chosen
from topout.planner.facts import Fact as Fact
from topout.planner.held_in import Leaves as Leaves
from topout.planner.hurts import Hurts as Hurts
from topout.planner.inexact import AT_REST as AT_REST
from topout.planner.inexact import MOVING as MOVING
from topout.planner.kept import Kept as Kept
from topout.planner.kept import on_coil as kept_on_coil
from topout.planner.kept import said as kept
from topout.planner.known_to import Bounds as Bounds
from topout.planner.known_to import Next as Next
from topout.planner.load import said_found as said_found
from topout.planner.open_to import Between as Between
from topout.planner.open_to import KeepTo as KeepTo
from topout.planner.open_to import NotYet as NotYet
from topout.planner.plan import plan_and_draws as plan_and_draws
from topout.planner.results import Curve as Curve
from topout.planner.results import Plan as Plan
from topout.planner.results import RearCurve as RearCurve
from topout.planner.sentence import Piece as Piece
from topout.planner.sentence import behind_name, whole
from topout.planner.sentence import not_known as not_known
from topout.planner.summary import Heard as Heard
from topout.planner.summary import Lacking as Lacking
from topout.planner.summary import Summary as Summary
from topout.planner.summary import of_plan as summary
from topout.planner.usual import Usual as Usual
from topout.web.jobs import core


def sentence(of: Summary, unit: str = "psi", end: core.End = "front") -> list[Piece]:
    """The answer to a plan. At the end that the job is not about nothing is said of what can't be worked out there."""
    if of.rear is None or end == "front" and of.rear.verdict == "no-spring":
        return whole(replace(of, rear=None), unit)
    if end == "front":
        return whole(of, unit)
    behind = whole(replace(of, forked=False), unit)
    if not of.forked or of.verdict not in ("set", "locks"):
        return behind
    return [*behind, Piece(" "), *behind_name("Fork", whole(replace(of, rear=None), unit))]


def gauge_can_show(gauge_pa: float, unit: str, mark_pa: float | None = None) -> str:
    """The digits of a pressure that the gauge can show in this unit."""
    value, places = at_mark.figure(gauge_pa, unit, mark_pa)
    return f"{value:.{max(places, 0)}f}"


__all__ = [
    "AT_REST", "FORCES_SAID_TO", "MOVING", "NONE", "Answered", "Band", "Between", "Bounds", "Chosen", "Curve", "Fact",
    "Heard", "Hurts", "KeepTo", "Kept", "Lacking", "Leaves", "Next", "NotYet", "Piece", "Plan", "RearCurve", "Summary", "Usual", "at_mark", "bands", "defaults_words", "changed", "gauge_can_show", "held_in", "kept", "kept_on_coil", "not_known", "open_state", "open_to",
    "sentence", "summary", "usual", "with_curves",
]  # fmt: skip


def with_curves(file: BenchFile, draws: int = AT_REST) -> tuple[Plan, Answered | None]:
    """The plan with the curves of both states, which the pictures are drawn from; where the file leaves something open,
    the draws in their place. Raises FaultsFound.
    """
    return plan_and_draws(file, curves=True, draws=draws)
