"""What to fit, for people: the answer, every way with what it changes and gives up, what was left out and why, what keeps the stance.

Every word and figure is the planner's; here they are only laid out.
"""

from __future__ import annotations

from collections.abc import Sequence

from topout.cli.page import Page
from topout.planner.facts import NONE
from topout.planner.options import gives_up, now_and_then, words
from topout.planner.options.option import Option, Options
from topout.units import System, digits


def head(of: Options) -> tuple[str, ...]:
    """What each column holds."""
    front = ("sag", "firmer") if of.ends.front else ()
    behind = ("sag behind", "firmer behind") if of.ends.rear else ()
    return ("way", "head angle", "trail", "bracket", *front, *behind, "cost", "days")


def options(of: Options, system: System) -> str:
    """The answer first, then the ways, then what is below the line."""
    page = Page(system)
    page.say(words.answer(of, system))
    dangers, taken = words.of_its_plan(of, system)
    page.say(*(f"! {each}" for each in dangers), *words.leans_on(of), *taken)
    if of.options:
        page.table(
            "Change at sag, nearest first; cost and days of the shelf’s parts",
            head(of),
            [row(each, of.options, system) for each in of.options],
        )
        page.say(*(line(each, system) for each in of.options))
    left_out = [(words.excluded(code), digits(count, 0)) for code, count in of.excluded.items()]
    if left_out:
        page.table(f"Left out, of {digits(of.tried, 0)} ways and settings looked at", ("why", "how many"), left_out)
    said = words.not_looked_at(of)
    if said:
        page.say(said)
    kept = list(words.neutral(of, system))
    if any(length != NONE for _, length, _ in kept):
        page.table(
            "To keep one figure at full extension with what is asked for",
            ("keep", "fork length", "nearest travel"),
            kept,
        )
    page.say("A part is measured before it is fitted. The maker’s sheet comes first.")
    return page.text()


def row(option: Option, among: Sequence[Option], system: System) -> tuple[str, ...]:
    """One way of those it stands among: its number, name and setting, and the figures."""
    facts = {name: each.in_system(system) for name, each in option.facts.items()}
    ends = [pair for pair in (("sag_share", "end_force"), ("rear_share", "rear_end_force")) if pair[0] in facts]
    both = option.front and option.rear is not None  # then the figures leave no room for names: those stand below
    return (
        str(option.number) if both else f"{option.number}. {words.fits(option, system)}",
        *(facts[name].says("change", second=system.beside) for name in ("head_angle", "trail", "bb_height")),
        *(
            _percent(said)
            for share, force in ends
            for said in (now_and_then.said(option, share, system)[1], gives_up.end(option, force))
        ),
        now_and_then.cost(option, among),
        NONE if option.waiting_days is None else digits(option.waiting_days, 0),
    )


def _percent(end: str) -> str:
    return end if end == NONE else f"{end} %"


def line(option: Option, system: System) -> str:
    """What is set for one way and what it gives up."""
    set_to = words.sets(option, system)
    keeps = words.keeps(option)
    fits = f"{words.fits(option, system)}; " if option.front and option.rear is not None else ""
    pieces = [f"{option.number}. {fits}{set_to}: {keeps}." if set_to else f"{option.number}."]
    return " ".join([*pieces, gives_up.said(option, system), words.told_apart(option)]).rstrip()
