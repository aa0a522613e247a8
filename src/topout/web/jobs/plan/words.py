"""The plan page's own lines: its warnings with their steps, where the load comes from, which fast line is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from topout.bench_file.model import BenchFile
from topout.units import NO_BREAK, show
from topout.web.jobs.core.figures import Curve, Plan, Summary, said_found


@dataclass(frozen=True, slots=True)
class Said:
    """A warning as the page says it: its name, its sentence, which state it is about where that is the one as found."""

    name: str
    text: str
    code: str = ""
    step: str = ""  # the sentence of the step that deals with it
    address: str = ""  # of that step, once the job's steps have begun


def warnings(of: Summary) -> list[Said]:
    """Each warning once, dangers first; one that the state as found raises alone says so."""
    return [Said(one.name, one.text, one.code) for one in of.heard]


def load_note(bench: BenchFile, plan: Plan) -> str:
    """Where the load comes from."""
    front = plan.before.sag.front if plan.before.sag is not None else None
    found = bench.found
    if front is None:
        return ""
    if found is None or not (at := said_found(bench)):
        share = bench.rider.front_share if bench.rider is not None else None
        said = f" at {show(share, 'share', '%')} of rider and bike" if share is not None else ""
        return f"Sag is an estimate: front weight guessed{said}; 3{NO_BREAK}points either way."
    text = f"The load comes from the sag found: {at}."
    if front.implied_share is not None:
        text += f" It puts {show(front.implied_share, 'share', '%')} of rider and bike on the front wheel."
    return text


def fast_note(curve: Curve | None) -> str:
    """Which fast line is drawn."""
    if curve is not None and curve.force_fast_from_sag_n is not None:
        return "thin is fast, a hit while riding at sag"
    return "thin is fast, from full extension: no load is known"
