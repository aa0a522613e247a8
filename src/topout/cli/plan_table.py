"""The plan for people: what can hurt, what to set, before beside after, and last what is not known.

Every figure is one of `planner.summary`; here they are only laid out.
"""

from __future__ import annotations

from topout.bench_file import calls_for
from topout.bench_file.model import BenchFile
from topout.cli.page import Page
from topout.cli.tables import said, to_set, told_of
from topout.physics.hazards import rounded_up
from topout.planner import at_mark, change, defaults_words, hurts, kept, open_to, over_limit, sentence, summary
from topout.planner.facts import FORCES_SAID_TO, KEEPS, NONE, Chosen, Fact
from topout.planner.fitted import STANDS_AT
from topout.planner.hazard import Hazard, HazardKnown
from topout.planner.keeps import RearKeeps
from topout.planner.known_to import Bounds
from topout.planner.results import Plan
from topout.units import System

_HEAD = ("", "before", "after", "difference")


def plan(bench: BenchFile, result: Plan, system: System) -> str:
    """Dangers first, then what can hurt, what else is warned of, the sentence, the keeps, the differences; what is not known in one closing line."""
    page = Page(system)
    of = summary.of_plan(bench, result, system=system)
    for warned in of.heard:
        if warned.danger:
            page.say(f"! {warned.name}. {warned.text}")
    for danger in defaults_words.dangers(of.defaults, system):
        page.say(f"! {danger}")
    for told in of.hurts:
        page.say(told.text)
    hazards = _hazards(result, system, on_coil=calls_for.on_coil(bench) and result.on_coil)
    if hazards:
        page.table(
            _titled(f"What can hurt, at {STANDS_AT['fork']}", result.hazard_known), ("", "before", "after"), hazards
        )
    behind = _rear_hazards(result, system, on_coil=calls_for.on_coil_behind(bench))
    if behind and result.rear is not None:
        title = _titled(f"What can hurt at the shock, at {STANDS_AT['shock']}", result.rear.hazard_known)
        page.table(title, ("", "before", "after"), behind)
    for warned in of.heard:
        if not warned.danger:
            page.say(f"! {warned.name}. {warned.text}")
    page.say(sentence.said(sentence.whole(of, system.unit("pressure", "psi"), system.beside)))
    if result.bounds is not None:
        _open(page, bench, result, result.bounds, system)
    else:
        keeps, marks = _keeps(kept.said(bench, result, system=system), system)
        if keeps:
            page.table("To keep one thing as it was, set", ("keep", "gauge", "sag", "bottom-out force"), keeps)
            page.say(*marks)
            if of.second_pa is not None:
                page.say("The second chamber stays as it is set; it is filled first, the main one empty.")
    if result.on_coil:
        rows = [(words, *cells) for words, *cells in kept.on_coil(bench, result, system)]
        heads = ("keep", "another spring, wound up as now", "or this preload")
        page.table("To keep one thing as it was, fit", heads, rows)
    if result.rear is not None and result.bounds is None:
        rear_keeps, marks = _rear_keeps(result.rear.keep, _limits(bench)[1], system)
        if rear_keeps:
            do = "fit" if calls_for.on_coil_behind(bench) else "set"
            page.table(f"To keep one thing behind as it was, {do}", ("keep", "at the shock"), rear_keeps)
            page.say(*marks)
    for title, group in (*of.groups, *(of.rear.groups if of.rear is not None else ())):
        known = [each for each in group if isinstance(each, Chosen) or each.known]
        if known:
            page.table(title, _HEAD, [row(each, system) for each in known])
    for title, stance in (("Stance at full extension", of.unloaded), ("Stance at sag", of.sagged)):
        if stance:
            page.table(title, _HEAD, [row(each, system) for each in stance])
    _by_weight(page, bench, system)
    air = " Let the air out before anything is opened; the gauge shows the main chamber only."
    page.say(f"The maker’s sheet comes first.{air if calls_for.pumped(bench) else ''}")
    taken = defaults_words.closing(of.defaults, system)
    if taken:
        page.say(taken)
    gaps = sentence.not_known(of, places=True)
    if gaps:
        page.say(gaps)
    return page.text()


def _by_weight(page: Page, bench: BenchFile, system: System) -> None:
    """What other riders set on the same build, as the set-up sheet has it; none where a pressure does not follow from a weight."""
    from topout.documents import sheet_tables

    for title, table in (
        ("By the rider’s weight", sheet_tables.by_mass(bench, system)),
        ("By the rider’s weight, at the shock", sheet_tables.by_mass_behind(bench, system)),
    ):
        if table is not None:
            rows = [(name.replace("· you", "· this one"), *cells) for name, *cells in table.rows]
            page.table(title, table.heads, rows)
            page.say(table.note)


def _titled(title: str, known: HazardKnown) -> str:
    return f"{title} {hurts.BEHIND[known]}".rstrip()


def _open(page: Page, bench: BenchFile, result: Plan, of: Bounds, system: System) -> None:
    """What is not known exactly: the pressure with its limits, each answer, the reading that helps, what was drawn."""
    firm = open_to.end(of, system)
    for open_end in (firm, open_to.end_behind(of, system)):
        if open_end is not None:
            page.say(*open_end.sentences)
    between = open_to.between(of, system, over_limit.places(result))
    rows = [(each.words, each.median + (" !" if each.over else ""), each.low, each.high) for each in between]
    behind = any(place[0] == "rear" for place in of.of)
    if rows:
        page.table(
            f"Between what it lies, in 19 of 20 {'bikes' if behind else 'forks'} that fit",
            ("", "middle", "from", "to"),
            rows,
        )
    for limit_pa, words, at in zip(
        _limits(bench), ("fork", "shock"), (over_limit.FRONT, over_limit.BEHIND), strict=True
    ):
        if limit_pa is not None and any(place[: len(at)] == at for place in over_limit.places(result)):
            page.say(f"! What is marked at the {words} is {kept.above(limit_pa, system)}, or may be: not to be set.")
    page.say(*told_of(of))


def row(of: Fact | Chosen, system: System) -> tuple[str, ...]:
    """One line; it adds up in each system of units that is shown."""
    if isinstance(of, Chosen):
        return of.words, of.before, of.after, NONE
    name = f"{of.words}, {of.note}" if of.note else of.words
    return name, *(of.says(which, second=system.beside) for which in ("before", "after", "change"))


def _keeps(found: tuple[kept.Kept, ...], system: System) -> tuple[list[tuple[str, ...]], list[str]]:
    """The rows of what can be kept, and below them each thing that is wrong with some, once; no rows where nothing could be
    worked out."""
    rows: list[tuple[str, ...]] = []
    wrong: dict[str, list[str]] = {}
    if all(one.pressure_pa is None for one in found):
        return [], []
    for one in found:
        words = f"{one.words}{f', {one.holds}' if one.holds else ''}"
        if one.pressure_pa is None:
            rows.append((words, NONE, NONE, NONE))
            continue
        pressure = one.pressure
        end_force = said(system, one.end_force_n, "force", "N", FORCES_SAID_TO)
        rows.append((words, pressure + (" !" if one.marks else ""), said(system, one.sag_m, "length", "mm"), end_force))
        for mark in one.marks:
            wrong.setdefault(mark, []).append(f"{pressure} for the {one.words}")
    return rows, [f"! {', '.join(names)}: {mark}." for mark, names in wrong.items()]


def _limits(bench: BenchFile) -> tuple[float | None, float | None]:
    """The makers' limits of the fork and the shock after the change [Pa gauge]."""
    after = change.changed(bench)
    airs = (each.air if each is not None else None for each in (after.fork, after.shock))
    front, behind = (None if air is None else air.pressure_limit_gauge_pa for air in airs)
    return front, behind


def _rear_keeps(of: RearKeeps, limit_pa: float | None, system: System) -> tuple[list[tuple[str, ...]], list[str]]:
    """What holds one thing behind: a pressure, or on a coil its rate, and below them which lie above the maker's limit; no rows
    where nothing could be worked out."""
    rows: list[tuple[str, ...]] = []
    above: list[str] = []
    for name, words in KEEPS.items():
        one = getattr(of, name)
        gauge = to_set(system, one.pressure_pa) + (" !" if one.over_limit else "")
        rows.append((words, said(system, one.rate_n_per_m, "rate", "N/mm") if one.pressure_pa is None else gauge))
        if one.over_limit:
            above.append(f"{at_mark.show_in(system, one.pressure_pa)} for the {words}")
    told = [f"! {', '.join(above)}: {kept.above(limit_pa, system)}."] if above and limit_pa is not None else []
    return (rows, told) if any(row[1] != NONE for row in rows) else ([], [])


def _rear_hazards(result: Plan, system: System, *, on_coil: bool) -> list[tuple[str, ...]]:
    """The same of a shock: what pushes its can off, or its coil's collar."""
    if result.rear is None:
        return []
    pair = (result.rear.hazard_before, result.rear.hazard_after)
    if on_coil:
        return _rows_of(pair, system, "coil", "force on the collar", None)
    return _rows_of(pair, system, "air", "force on the can’s end", "force on the can’s seal head")


def _hazards(result: Plan, system: System, *, on_coil: bool) -> list[tuple[str, ...]]:
    """Each hazard that is known, before and after; rounded up, never down. A coil pushes on no seal head."""
    pair = (result.hazard_before, result.hazard_after)
    ring = None if on_coil else "force on seal head and circlip"
    return _rows_of(pair, system, "coil" if on_coil else "air", "force on the top cap", ring)


def _rows_of(
    pair: tuple[Hazard | None, Hazard | None], system: System, holder: str, cap: str, ring: str | None
) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []

    def row(words: str, name: str) -> None:
        values = [_up(h, name) for h in pair]
        if any(value is not None for value in values):
            rows.append((words, *(said(system, v, "force", "N") for v in values)))

    row(cap, "cap_force_n")
    if ring is not None:
        row(ring, "ring_force_n")
    gas = [h.damper_energy_j if h is not None else None for h in pair]
    energies = [_up(h, "spring_energy_j") for h in pair]
    if any(energy is not None for energy in energies):
        rows.append((f"energy in the {holder}", *(NONE if e is None else hurts.shut_in(e, system) for e in energies)))
        from topout.procedures.words import falls  # procedures are no part of a plan's start

        heights = (NONE if e is None else falls(e, system) for e in energies)
        rows.append((f"as a {system.show(10.0, 'mass', 'kg', decimals=0)} mass falling", *heights))
    if any(gas):
        shut = (NONE if e is None else hurts.shut_in(e, system) for e in gas)
        rows.append(("energy in the damper’s gas, which stays in", *shut))
    return rows


def _up(of: Hazard | None, name: str) -> float | None:
    value = getattr(of, name) if of is not None else None
    return None if value is None else rounded_up(value)
