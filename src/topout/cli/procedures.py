"""A workshop's own procedure, checked at the terminal by the checker that the pages use; nothing is kept."""

from __future__ import annotations

import json
from argparse import Namespace

from topout.bench_file.read import bytes_of
from topout.planner.variables import VOCABULARY
from topout.procedures import own
from topout.procedures.read import FILE_LIMIT_BYTES


def check(asked: Namespace) -> str:
    """What the procedure is, one JSON object or lines for people; raises FaultsFound with everything that is wrong."""
    found = own.check(bytes_of(asked.file, FILE_LIMIT_BYTES, "procedure"), own.key_of(asked.file), VOCABULARY)
    procedure, steps = found.procedure, list(found.procedure.steps())
    told = {
        "key": found.key, "title": procedure.title, "version": procedure.version, "for": list(procedure.units),
        "needs_plan": procedure.needs_plan, "groups": len(procedure.groups), "steps": len(steps),
        "hold_points": sum(step.hold for step in steps), "variants": [each.key for each in procedure.variants],
        "sha256": found.sha256,
    }  # fmt: skip
    if asked.json:
        return json.dumps(told, ensure_ascii=False) + "\n"
    lines = [
        f"{procedure.title}, version {procedure.version} ({found.key})",
        f"for a {' or a '.join(procedure.units)}; {'with' if procedure.needs_plan else 'without'} a plan",
        f"steps: {told['steps']}; hold points among them: {told['hold_points']}; groups: {told['groups']}",
    ]
    lines += [f"variant {each.key}: {each.title}" for each in procedure.variants]
    return "\n".join([*lines, f"Nothing is wrong with it. {own.UNCHECKED}"]) + "\n"
