"""What the plan page shows of the core: the figures of a plan as the planner holds them, and the few functions beside it.

The names are the planner's own and are passed on as they are; nothing is computed here.
"""

from __future__ import annotations

from topout.bench_file.model import BenchFile
from topout.planner import at_mark, defaults_words, held_in, open_to, usual
from topout.planner.bands import Band as Band
from topout.planner.bands import slow_force as bands
from topout.planner.bounds import Answered as Answered
from topout.planner.change import changed as changed
from topout.planner.drawn import AT_REST as AT_REST
from topout.planner.drawn import MOVING as MOVING
from topout.planner.facts import FORCES_SAID_TO as FORCES_SAID_TO
from topout.planner.facts import NONE as NONE
from topout.planner.facts import Chosen as Chosen
from topout.planner.facts import Fact as Fact
from topout.planner.held_in import Leaves as Leaves
from topout.planner.kept import Kept as Kept
from topout.planner.kept import on_coil as kept_on_coil
from topout.planner.kept import said as kept
from topout.planner.known_to import Bounds as Bounds
from topout.planner.load import said_found as said_found
from topout.planner.open_to import Between as Between
from topout.planner.open_to import KeepTo as KeepTo
from topout.planner.open_to import NotYet as NotYet
from topout.planner.plan import plan_and_draws
from topout.planner.results import Curve as Curve
from topout.planner.results import Plan as Plan
from topout.planner.sentence import Piece as Piece
from topout.planner.sentence import not_known as not_known
from topout.planner.sentence import whole as sentence
from topout.planner.summary import Heard as Heard
from topout.planner.summary import Lacking as Lacking
from topout.planner.summary import Summary as Summary
from topout.planner.summary import of_plan as summary
from topout.planner.usual import Usual as Usual

__all__ = [
    "AT_REST", "FORCES_SAID_TO", "MOVING", "NONE", "Answered", "Band", "Between", "Bounds", "Chosen", "Curve", "Fact",
    "Heard", "KeepTo", "Kept", "Lacking", "Leaves", "NotYet", "Piece", "Plan", "Summary", "Usual", "at_mark", "bands", "defaults_words", "changed", "held_in", "kept", "kept_on_coil", "not_known", "open_to",
    "sentence", "summary", "usual", "with_curves",
]  # fmt: skip


def with_curves(file: BenchFile, draws: int = AT_REST) -> tuple[Plan, Answered | None]:
    """The plan with the curves of both states, which the pictures are drawn from; where the file leaves something open,
    the draws in their place. Raises FaultsFound.
    """
    return plan_and_draws(file, curves=True, draws=draws)
