"""Answers for people: a sentence where there is one, then tables in both systems of units.

Numbers get their digits from `units.show` alone. rich is imported here and nowhere else in the command line.
"""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterable, Sequence
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table

from topout.bench_file.model import Air, BenchFile
from topout.planner import fitted, load
from topout.planner.facts import NONE, STANCE
from topout.planner.fill import Schedule
from topout.planner.results import Curve, EndSag, Geometry, Sag, Stance
from topout.units import show

WIDTH: Final = 110


class Page:
    """Lines and tables in the order in which they are read; `text()` is what is printed."""

    def __init__(self) -> None:
        self._buffer = io.StringIO()
        width = min(max(shutil.get_terminal_size((WIDTH, 24)).columns, 60), WIDTH)
        self._console = Console(
            file=self._buffer, width=width, color_system=None, highlight=False, markup=False, emoji=False
        )

    def say(self, *lines: str) -> None:
        """Sentences, a line each, wrapped; an empty line after them."""
        for line in lines:
            self._console.print(line)
        self._console.print()

    def table(self, title: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
        """A table: words left, numbers right."""
        made = Table(title=title or None, title_justify="left", title_style="", box=box.SIMPLE_HEAD, pad_edge=False)
        for place, words in enumerate(head):
            made.add_column(words, justify="left" if place == 0 else "right", no_wrap=place > 0)
        for row in rows:
            made.add_row(*row)
        self._console.print(made)

    def text(self) -> str:
        """Everything said, without spaces at line ends."""
        lines = (line.rstrip() for line in self._buffer.getvalue().splitlines())
        return "\n".join(lines).rstrip("\n") + "\n"


def both(value_si: float | None, dimension: str, unit: str, decimals: int | None = None) -> str:
    """A quantity in the unit asked for and the other system; a dash where there is none."""
    return NONE if value_si is None else show(value_si, dimension, unit, decimals=decimals, second=True)


def curve(bench: BenchFile, result: Curve, every: int) -> str:
    """The spring along the travel, every so many points and the last."""
    page = Page()
    name = show(float(result.travel_m[-1]), "length", "mm")
    page.say(
        f"Spring force along {name} of travel. Slow is by hand; fast is a riding stroke"
        + (" from full extension." if result.force_fast_from_sag_n is None else " from sag."),
        f"Energy to the end: {show(result.energy_j, 'energy', 'J')} slow, "
        f"{show(result.energy_fast_j, 'energy', 'J')} fast from full extension. "
        f"Lost travel: {both(result.lost_travel_m, 'length', 'mm')}.",
    )
    fast = result.force_fast_n if result.force_fast_from_sag_n is None else result.force_fast_from_sag_n
    ambient = fitted.ambient_abs_pa(bench)
    last = len(result.travel_m) - 1
    places = sorted({*range(0, last + 1, every), last})
    rows = []
    for i in places:
        main, negative = (float(p[i]) - ambient for p in (result.positive_pa, result.negative_pa))
        rows.append(
            (
                show(float(result.travel_m[i]), "length", "mm"),
                show(float(result.travel_m[i]), "length", "in"),
                show(float(result.force_n[i]), "force", "N"),
                show(float(result.force_n[i]), "force", "lbf"),
                show(float(fast[i]), "force", "N"),
                show(float(result.rate_n_per_m[i]), "rate", "N/mm"),
                show(main, "pressure", "psi"),
                show(main, "pressure", "bar"),
                show(negative, "pressure", "psi"),
            )
        )
    page.table("", ("travel used", "", "slow", "", "fast", "rate", "main, gauge", "", "negative, gauge"), rows)
    return page.text()


def sag(bench: BenchFile, result: Sag) -> str:
    """Where both ends rest."""
    page = Page()
    front = result.front
    rows = []
    if front is not None:
        rows += _front_rows(front)
    if result.rear is not None:
        rows.append(("rear wheel travel", both(result.rear.travel_m, "length", "mm")))
    if result.head_angle_rad is not None:
        rows.append(("head angle at sag", show(result.head_angle_rad, "angle", "deg")))
    found = load.said_found(bench)
    source = f"the sag found, {found}" if found else "an assumed share of the weight"
    page.say(f"At rest under the rider. The load comes from {source}.")
    page.table("", ("front", ""), rows)
    return page.text()


def _front_rows(front: EndSag) -> list[tuple[str, str]]:
    rows = [
        ("sag", both(front.travel_m, "length", "mm")),
        ("share of the travel", NONE if front.share is None else show(front.share, "share", "%", decimals=1)),
        ("at the least (friction holds it out)", both(front.low_m, "length", "mm")),
        ("at the most (friction lets it in)", both(front.high_m, "length", "mm")),
        ("as the sag O-ring shows it", both(front.shown_m, "length", "mm")),
        ("load along the steering axis", both(front.load_n, "force", "N")),
    ]
    if front.implied_share is not None:
        rows.append(("share of the weight on the front wheel", show(front.implied_share, "share", "%")))
    return rows


def stance_cell(stance: Stance | None, name: str, dimension: str, unit: str, decimals: int) -> str:
    """One figure of a stance."""
    return NONE if stance is None else both(getattr(stance, name), dimension, unit, decimals)


def geometry(bench: BenchFile, result: Geometry) -> str:
    """How the bike stands, at full extension and at sag."""
    page = Page()
    closes = {
        True: "The chart's figures agree.",
        False: "The chart's own figures do not agree with each other. Measure the frame, or check the chart.",
        None: "Nothing in the file to check the chart against.",
    }[result.chart.closes]
    page.say(f"Head tube to the crown race: {both(result.chart.head_tube_m, 'length', 'mm')}. {closes}")
    rows = [
        (words, *(stance_cell(s, name, dimension, unit, decimals) for s in (result.unloaded, result.sagged)))
        for name, words, dimension, unit, decimals in STANCE
    ]
    page.table("", ("stance", "at full extension", "at sag"), rows)
    return page.text()


def inflate(bench: BenchFile, result: Schedule, gauge_step_pa: float, hose_m3: float) -> str:
    """The filling schedule, round by round."""
    page = Page()
    fork = bench.fork
    assert fork is not None and fork.air is not None
    ported = fitted.port_in_reach(fork, fork.air)
    own_valve = fork.air.negative == "separate-valve"
    page.say(*_how_to_inflate(ported, fork.air), "Pumped air is warm: five minutes before a reading counts.")
    settled = result.settled_after
    if ported:
        page.say(
            f"Settled after {settled} round{'s' if settled != 1 else ''}: a stroke then costs less than "
            f"{show(gauge_step_pa, 'pressure', 'psi')}."
            if settled is not None
            else f"Not settled after {len(result.rounds)} rounds: look at the port."
        )
    heads, rows = ["round", "pump to"], []
    if ported:
        heads.append("after one stroke")
    if hose_m3 > 0.0:
        heads.append(f"gauge on again, hose {show(hose_m3, 'volume', 'ml', trim=True)}")
    if own_valve:
        heads.append("negative valve to")
    for count, r in enumerate(result.rounds, 1):
        row = [str(count), both(r.pumped_to_gauge_pa, "pressure", "psi")]
        if ported:
            row.append(both(r.after_stroke_gauge_pa, "pressure", "psi"))
        if hose_m3 > 0.0:
            row.append(both(r.reading_gauge_pa, "pressure", "psi"))
        if own_valve:
            row.append(both(r.negative_to_gauge_pa, "pressure", "psi"))
        rows.append([*row, both(r.lost_travel_m, "length", "mm")])
    page.table("", (*heads, "rests short by"), rows)
    return page.text()


def _how_to_inflate(ported: bool, air: Air) -> tuple[str, ...]:
    """What is done in a round, for what this fork has: a port, a port that is never reached, a valve of its own, neither."""
    if ported and air.port_position_m > 0.0:
        return ("Pump at full extension. Pump off, one stroke past the port, back to full extension, read.",)
    if ported:
        return (
            "Pump at full extension: the port is open there and both chambers fill.",
            "A stroke with the pump off changes nothing.",
        )
    if air.negative == "separate-valve":
        return (
            "Fill the main chamber first, at full extension.",
            "Then the negative chamber, through its own valve. No air passes between them.",
        )
    if air.negative == "self-equalising":
        return ("Pump at full extension. The piston never comes past the port: the negative chamber does not fill.",)
    return ("Pump at full extension. There is one chamber to fill, the main one.",)
