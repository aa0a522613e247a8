"""The answer of the plan page to one set of boxes: sentence, warnings, tables, pictures."""

from __future__ import annotations

from dataclasses import dataclass, field

from topout.bench_file.model import BenchFile
from topout.documents import chart_svg, detail, rules, stance
from topout.documents.plan_pictures import PlanPictures, of_plan
from topout.web.jobs import plan_keeps, plan_tables, plan_words
from topout.web.jobs.bridge import figures
from topout.web.jobs.bridge.figures import Plan
from topout.web.jobs.plan_keeps import KeepRow
from topout.web.jobs.plan_tables import Row
from topout.web.jobs.plan_words import Piece, Said

SIZES = {"wide": 738, "narrow": 358, "least": 288}
LEAST_PX, MOST_PX = 280, 1000


@dataclass(frozen=True, slots=True)
class Picture:
    """The SVGs of one picture: one for each size, or the one that was asked for."""

    svgs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """Everything right of the margin line."""

    sentence: list[Piece]
    warnings: list[Said]
    heading: str
    force: Picture
    difference: Picture
    fast_note: str
    pressures: Picture
    keeps: list[KeepRow]
    stance: Picture
    at_sag: bool
    details: Picture
    detail_words: tuple[tuple[str, str], ...]
    larger: str
    table: list[Row]
    stances: list[Row]
    travel_rows: list[Row]
    travel_heads: tuple[str, ...]
    load_note: str
    plan: Plan = field(repr=False)
    changed: BenchFile = field(repr=False)  # the bike after


def answer(file: BenchFile, pressure_unit: str, width: int | None = None) -> Answer:
    """Compute and draw. `width` in pixels draws each picture once, None at all three sizes.

    Raises FaultsFound where the sag found can't be.
    """
    plan = figures.with_curves(file)
    changed = figures.changed(file)
    pictures = of_plan(file, plan, changed)
    sizes = SIZES if width is None else {"": min(max(width, LEAST_PX), MOST_PX)}
    air = changed.fork.air if changed.fork is not None else None
    set_pa = air.pressure_gauge_pa if air is not None else None
    at_keeps = figures.held(file, plan.keep)
    drawn_at = next(iter(sizes.values()))
    return Answer(
        plan_words.answer(changed, plan, pressure_unit),
        plan_words.warnings(plan),
        heading(file, changed),
        Picture(tuple(_chart(pictures.force(px), f"force{cls}", cls) for cls, px in sizes.items())),
        Picture(tuple(_chart(pictures.difference(px), f"diff{cls}", cls) for cls, px in sizes.items())),
        plan_words.fast_note(plan.curve_after or plan.curve_before),
        Picture(tuple(_rule(plan, set_pa, px, cls) for cls, px in sizes.items())),
        plan_keeps.keeps(plan, at_keeps, pressure_unit, set_pa) if plan.curve_before and plan.curve_after else [],
        Picture(tuple(_stance(pictures, px, cls) for cls, px in sizes.items())),
        pictures.at_sag,
        _details(pictures, drawn_at),
        _detail_words(pictures),
        _larger(pictures, width),
        plan_tables.compared(file, changed, plan),
        plan_tables.stances(plan),
        plan_tables.along_the_travel(pictures.sides),
        tuple(f"{side.name}, {speed}" for side in pictures.sides for speed in ("slow", "fast")),
        plan_words.load_note(file, plan),
        plan,
        changed,
    )


def heading(file: BenchFile, changed: BenchFile) -> str:
    """The plan's name: its travel before and after, else that it changes no travel."""
    was, now = (b.fork.travel_m if b.fork else None for b in (file, changed))
    if was is None or now is None:
        return "Plan"
    a, b = (plan_tables.cell(mm * 1e3, 0 if abs(mm * 1e3 - round(mm * 1e3)) < 0.05 else 1) for mm in (was, now))
    one, two = a.whole + a.fraction, b.whole + b.fraction
    return f"{one} → {two}\N{NO-BREAK SPACE}mm" if one != two else f"{two}\N{NO-BREAK SPACE}mm, as now"


def _chart(spec: dict[str, object] | None, name: str, cls: str) -> str:
    return chart_svg.draw(spec, name, cls).svg() if spec is not None else ""


def _rule(plan: Plan, set_pa: float | None, width: int, cls: str) -> str:
    keep = plan.keep
    found = {
        "sag": keep.sag.pressure_pa, "sag-share": keep.sag_share.pressure_pa,
        "end-force": keep.end_force.pressure_pa, "curve": keep.curve.pressure_pa,
    }  # fmt: skip
    if set_pa is None or not any(found.values()):
        return ""
    return rules.pressure_rule(found, set_pa, width, f"rule{cls}", cls).svg()


def _stance(pictures: PlanPictures, width: int, cls: str) -> str:
    if pictures.now is None:
        return ""
    return stance.stance(pictures.was, pictures.now, width, f"stance{cls}", cls, at_sag=pictures.at_sag).svg()


def _details(pictures: PlanPictures, width: int) -> Picture:
    """The windows A and B, enlarged from the first size drawn."""
    if pictures.was is None or pictures.now is None:
        return Picture(())
    on, _ = stance.paper(pictures.was, pictures.now, width)
    return Picture(tuple(detail.detail(x, pictures.was, pictures.now, on, f"detail{x}").svg() for x in "AB"))


def _detail_words(pictures: PlanPictures) -> tuple[tuple[str, str], ...]:
    if pictures.was is None or pictures.now is None:
        return ()
    was, now = detail.windows(pictures.was), detail.windows(pictures.now)
    names = {"A": "A · bottom bracket", "B": "B · top of the head tube"}
    return tuple((names[x], detail.moved(was[x], now[x])) for x in "AB")


def _larger(pictures: PlanPictures, width: int | None) -> str:
    """How much larger the windows are than the picture above them; with three pictures each has its own."""
    if pictures.was is None or pictures.now is None or width is None:
        return "enlarged"
    on, _ = stance.paper(pictures.was, pictures.now, min(max(width, LEAST_PX), MOST_PX))
    return detail.FACTOR_WORDS[detail.factor_of(pictures.was, pictures.now, on)]
