"""What the plan page shows of the core: the figures of a plan as the planner holds them, and the few functions beside it.

The names are the planner's own and are passed on as they are; nothing is computed here.
"""

from __future__ import annotations

from topout.bench_file.model import BenchFile
from topout.planner.change import changed as changed
from topout.planner.facts import FORCES_SAID_TO as FORCES_SAID_TO
from topout.planner.facts import NONE as NONE
from topout.planner.facts import Chosen as Chosen
from topout.planner.facts import Fact as Fact
from topout.planner.kept import Kept as Kept
from topout.planner.kept import said as kept
from topout.planner.load import said_found as said_found
from topout.planner.plan import plan
from topout.planner.results import Curve as Curve
from topout.planner.results import Plan as Plan
from topout.planner.sentence import Piece as Piece
from topout.planner.sentence import not_known as not_known
from topout.planner.sentence import whole as sentence
from topout.planner.summary import Heard as Heard
from topout.planner.summary import Lacking as Lacking
from topout.planner.summary import Summary as Summary
from topout.planner.summary import of_plan as summary

__all__ = [
    "FORCES_SAID_TO", "NONE", "Chosen", "Curve", "Fact", "Heard", "Kept", "Lacking", "Piece", "Plan", "Summary", "changed",
    "kept", "not_known", "sentence", "summary", "with_curves",
]  # fmt: skip


def with_curves(file: BenchFile) -> Plan:
    """The plan with the curves of both states, which the pictures are drawn from. Raises FaultsFound."""
    return plan(file, curves=True)
