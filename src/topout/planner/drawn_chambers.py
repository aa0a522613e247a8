"""The chambers of every fork that fits a file, as the steps need them: what can hurt is worked out on all of them."""

from __future__ import annotations

from typing import Final

from topout.bench_file.model import BenchFile
from topout.errors import FaultsFound
from topout.planner import design as designs
from topout.planner import drawn, inputs
from topout.planner.plan_numbers import DrawnChambers

COUNT: Final = 4_000  # a force at 97.5 % to about a hundredth; worked out once a process and file


def of_file(bench: BenchFile) -> DrawnChambers | None:
    """Before and after the file's change; None of an exact file, and where no fork shows what was found.

    bench [SI] (one) as read → [SI] (n,) or None. Raises nothing. Source: physics.md 9 and 12.
    """
    if not drawn.is_drawn(bench) or bench.fork is None or bench.fork.air is None:
        return None
    try:
        made = drawn.draw(bench, COUNT)
    except FaultsFound:  # the plan names it; here nothing is known
        return None
    after = designs.changed(made.design, made.changes)
    one, two = (inputs.bikes(each).chambers for each in (made.design, after))
    return DrawnChambers(one, two, made.weights, made.assumed)
