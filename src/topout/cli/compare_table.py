"""Two builds side by side, for people: what is unlike in the files, the warnings of each, and every figure of both."""

from __future__ import annotations

from topout.bench_file import calls_for
from topout.cli import plan_table
from topout.cli.page import Page
from topout.planner import compare as builds
from topout.planner import defaults_words, sentence, summary
from topout.planner.compare import Comparison
from topout.planner.facts import Chosen, set_title
from topout.units import System

_HEAD = ("", "A", "B", "difference")
_SET = tuple(set_title(is_set) for is_set in (True, False))
_SET_BEHIND, _BEHIND = ("Set behind", "Asked for behind"), "Build behind"
_MAY_DIFFER = ("fork", "shock")  # that is what two builds are for


def compare(names: tuple[str, str], result: Comparison, system: System) -> str:
    """Dangers first; then which is which, what is not one bike in the files, and the figures; `difference` is B less A."""
    page = Page(system)
    sides = tuple(summary.of_plan(b.bench, b.plan, system=system) for b in (result.a, result.b))
    heard = [[(w.danger, f"{w.name}. {w.text}") for w in side.heard if not w.found] for side in sides]
    leaning = [[each.in_degrees() for each in build.defaults] for build in (result.a, result.b)]
    for own, defaults in zip(heard, leaning, strict=True):
        own += [(True, text) for text in defaults_words.dangers(defaults, system)]
    both = [line for line in heard[0] if line in heard[1]]
    lines = [(danger, f"! A and B: {text}") for danger, text in both]
    for letter, own in zip("AB", heard, strict=True):
        lines += [(danger, f"! {letter}: {text}") for danger, text in own if (danger, text) not in both]
    for _, line in sorted(lines, key=lambda each: not each[0]):
        page.say(line)
    page.say(f"A is {names[0]}, B is {names[1]}; each as its own change leaves it.")
    unlike = [f"[{name}]" for name in result.unlike if name not in _MAY_DIFFER]
    if unlike:
        page.say(f"Not the same in both files: {', '.join(unlike)}. It may not be one bike, or not one rider.")
    of = builds.told(result, system)
    for letter, side in zip("AB", sides, strict=True):
        unit = system.unit("pressure", "psi")
        pieces = sentence.to_set(side, unit, system.beside) if side.forked else []
        if side.rear is not None:
            between = [sentence.Piece(" ")] if pieces else []
            pieces = [*pieces, *between, *sentence.rear_to_set(side.rear, unit, system.beside, side.bounds)]
        to_set = sentence.said(pieces)
        page.say(f"{letter}: {to_set}")
    for title, group in (*of.groups, *(of.rear.groups if of.rear is not None else ())):
        rows = [plan_table.row(each, system) for each in group if isinstance(each, Chosen) or each.known]
        if rows:
            page.table("Build" if title in _SET else _BEHIND if title in _SET_BEHIND else title, _HEAD, rows)
    for title, stance in (("Stance at full extension", of.unloaded), ("Stance at sag", of.sagged)):
        if stance:
            page.table(title, _HEAD, [plan_table.row(each, system) for each in stance])
    air = (
        " Let the air out before anything is opened."
        if any(calls_for.pumped(b.bench) for b in (result.a, result.b))
        else ""
    )
    page.say(f"The maker’s sheet comes first.{air}")
    taken = [defaults_words.closing(of, system) for of in leaning]
    if taken[0] == taken[1]:
        taken = [f"A and B: {taken[0]}" if taken[0] else ""]
    else:
        taken = [f"{letter}: {line}" if line else "" for letter, line in zip("AB", taken, strict=True)]
    page.say(*(line for line in taken if line))
    gaps = sentence.not_known(of, places=True)
    if gaps:
        page.say(gaps)
    return page.text()
