"""The plan for people: what to watch, what to set, before beside after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from topout.bench_file.model import BenchFile
from topout.cli.tables import NONE, STANCE, Page, both, gap
from topout.physics.hazards import fall_height_m, rounded_up
from topout.planner import change, fitted, limits
from topout.planner.results import Geometry, Plan, State
from topout.units import digits, show

_WATCH = {"before": " Now.", "after": " After the change.", "change": ""}


def plan(bench: BenchFile, result: Plan) -> str:
    """Warnings first, then the sentence, the keeps, the differences, the room and what can hurt."""
    page = Page()
    after = change.changed(bench)
    for line in _warnings(result):
        page.say(line)
    page.say(_sentence(after, result))
    page.table("To keep one thing as it was, set", ("keep", "gauge", ""), _keeps(result))
    page.table("Spring", ("", "before", "after", "difference"), _spring(bench, after, result))
    for title, pick in (("Stance at full extension", "unloaded"), ("Stance at sag", "sagged")):
        rows = _stance(result, pick)
        if rows:
            page.table(title, ("", "before", "after", "difference"), rows)
    page.table("Room at full travel, after", ("", ""), _room(result))
    if result.hazard_before is not None or result.hazard_after is not None:
        page.table("What can hurt, at full extension", ("", "before", "after"), _hazards(result))
    page.say(
        "The maker's sheet comes first. Let the air out before anything is opened; the gauge shows the main chamber only."
    )
    return page.text()


def _warnings(result: Plan) -> list[str]:
    """One line a warning; one that holds before and after alike is said once."""
    said: dict[tuple[str, str], list[str]] = {}
    for w in result.warnings:
        said.setdefault((w.code, w.text), []).append(w.state)
    lines = []
    for (code, text), states in said.items():
        when = "" if set(states) >= {"before", "after"} else _WATCH[states[0]]
        lines.append(f"! {limits.CODES[code]}. {text}{when}")
    return lines


def _sentence(after: BenchFile, result: Plan) -> str:
    air = after.fork.air if after.fork is not None else None
    if air is None or air.pressure_gauge_pa is None:
        return "No air spring is described: what it does to the bike stands below."
    spacers = {0: "no volume spacer", 1: "one volume spacer"}.get(air.spacers, f"{air.spacers} volume spacers")
    text = f"Set {show(air.pressure_gauge_pa, 'pressure', 'psi', second=True)} with {spacers}."
    one, two = (_front(state) for state in (result.before, result.after))
    if one is not None and two is not None:
        more = two - one
        how = (
            "as now"
            if abs(more) < 5e-5
            else f"{show(abs(more), 'length', 'mm')} {'more' if more > 0 else 'less'} than now"
        )
        text += f" Sag {show(two, 'length', 'mm')}, {how}."
    return text


def _front(state: State) -> float | None:
    return state.sag.front.travel_m if state.sag is not None and state.sag.front is not None else None


def _keeps(result: Plan) -> list[tuple[str, str, str]]:
    rows = []
    for name, words in (("sag", "sag"), ("sag_share", "sag share"), ("end_force", "end force"), ("curve", "the curve")):
        pressure = getattr(result.keep, name).pressure_pa
        if pressure is None:
            rows.append((words, NONE, ""))
        else:
            rows.append((words, show(pressure, "pressure", "psi"), show(pressure, "pressure", "bar")))
    return rows


def _spring(bench: BenchFile, after: BenchFile, result: Plan) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []

    def row(words: str, pair: Sequence[float | None], dimension: str, unit: str, decimals: int = 1) -> None:
        if any(value is not None for value in pair):
            cells = (both(value, dimension, unit, decimals) for value in pair)
            rows.append((words, *cells, gap(pair[0], pair[1], dimension, unit, decimals)))

    forks = (bench.fork, after.fork)
    row("travel", [f.travel_m if f else None for f in forks], "length", "mm", 0)
    airs = [f.air if f else None for f in forks]
    row("pressure", [a.pressure_gauge_pa if a else None for a in airs], "pressure", "psi")
    if airs[0] is not None and airs[1] is not None:
        counts = (airs[0].spacers, airs[1].spacers)
        rows.append(("volume spacers", *map(str, counts), digits(counts[1] - counts[0], 0, signed=True)))
    row("fork length", [fitted.fork_length_m(bench), fitted.fork_length_m(after)], "length", "mm", 0)
    fronts: list[Any] = [s.sag.front if s.sag else None for s in (result.before, result.after)]
    for name, words in (("travel_m", "sag"), ("low_m", "sag at the least"), ("high_m", "sag at the most")):
        row(words, [getattr(f, name) if f else None for f in fronts], "length", "mm")
    if all(fronts):
        one, two = (round(100 * f.share, 1) for f in fronts)
        rows.append(
            ("sag, share of travel", f"{one:.1f} %", f"{two:.1f} %", f"{digits(two - one, 1, signed=True)} points")
        )
    row("load along the steering axis", [f.load_n if f else None for f in fronts], "force", "N", 0)
    row("force at the end of travel, slow", [result.before.end_force_n, result.after.end_force_n], "force", "N", 0)
    return rows


def _stance(result: Plan, pick: str) -> list[tuple[str, ...]]:
    """The rows of one stance, before, after, difference; none where it is not known."""
    stances = [_pick(state.geometry, pick) for state in (result.before, result.after)]
    if any(stance is None for stance in stances):
        return []
    rows = []
    for name, words, dimension, unit, decimals in STANCE:
        one, two = (getattr(stance, name) for stance in stances)
        cells = (both(value, dimension, unit, decimals) for value in (one, two))
        rows.append((words, *cells, gap(one, two, dimension, unit, decimals)))
    return rows


def _pick(geometry: Geometry | None, pick: str) -> Any:
    return getattr(geometry, pick) if geometry is not None else None


def _room(result: Plan) -> list[tuple[str, str]]:
    room = result.clearance
    return [
        ("tyre to crown", both(room.tyre_to_crown_m, "length", "mm")),
        ("tyre to brace", both(room.tyre_to_brace_m, "length", "mm")),
        ("rear tyre to frame", both(room.rear_tyre_to_frame_m, "length", "mm")),
    ]


def _hazards(result: Plan) -> list[tuple[str, ...]]:
    rows = []
    for name, words in (("cap_force_n", "force on the top cap"), ("ring_force_n", "force on seal head and ring")):
        cells = (
            None if h is None else rounded_up(getattr(h, name)) for h in (result.hazard_before, result.hazard_after)
        )
        rows.append((words, *(both(c, "force", "N") for c in cells)))
    energies = [None if h is None else rounded_up(h.energy_j) for h in (result.hazard_before, result.hazard_after)]
    rows.append(("energy shut in", *(NONE if e is None else f"{e:.0f} J" for e in energies)))
    falls = (NONE if e is None else show(fall_height_m(e), "length", "m", decimals=2) for e in energies)
    rows.append(("as a 10 kg mass falling", *falls))
    return rows
