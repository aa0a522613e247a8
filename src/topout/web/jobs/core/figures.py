"""What the plan page shows of the core: the figures of a plan as the planner holds them, and the few functions beside it.

The names are the planner's own and are passed on as they are; nothing is computed here.
"""

from __future__ import annotations

from typing import Final

from topout.bench_file.model import BenchFile
from topout.planner import limits
from topout.planner.change import changed as changed
from topout.planner.fitted import fork_length_m as fork_length_m
from topout.planner.kept import Held as Held
from topout.planner.kept import held as held
from topout.planner.limits import ISO_4210_6_LOAD_N as ISO_4210_6_LOAD_N
from topout.planner.plan import plan
from topout.planner.plan import room as room
from topout.planner.results import Curve as Curve
from topout.planner.results import Plan as Plan
from topout.planner.results import Stance as Stance
from topout.planner.results import State as State

WARNING_NAMES: Final = limits.CODES  # code of a warning -> what the page calls it


def with_curves(file: BenchFile) -> Plan:
    """The plan with the curves of both states, which the pictures are drawn from. Raises FaultsFound."""
    return plan(file, curves=True)
