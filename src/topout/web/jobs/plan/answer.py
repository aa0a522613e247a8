"""The answer of the plan page to one set of boxes: sentence, warnings, tables, pictures."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from topout.bench_file.model import BenchFile
from topout.documents import detail, rules, stance
from topout.documents.plan_pictures import PlanPictures, of_plan
from topout.documents.svg import Drawing
from topout.web.access import preferences
from topout.web.jobs.core import End, figures
from topout.web.jobs.core.figures import Piece, Plan, Summary
from topout.web.jobs.plan import keeps as plan_keeps
from topout.web.jobs.plan import tables, words
from topout.web.jobs.plan.behind import BehindAnswer
from topout.web.jobs.plan.keeps import KeepRow
from topout.web.jobs.plan.open_answers import OpenAnswers
from topout.web.jobs.plan.rows import Row
from topout.web.jobs.plan.words import Said

SIZES = {"wide": 738, "narrow": 358, "least": 288}
LEAST_PX, MOST_PX = 280, 1000


@dataclass(frozen=True, slots=True)
class Picture:
    """The SVGs of one picture: one for each size, or the one that was asked for."""

    svgs: tuple[str, ...]


@dataclass(frozen=True)
class Answer:
    """Everything right of the margin line. Computed at once; said, drawn and laid out when a template asks for it."""

    file: BenchFile = field(repr=False)
    pressure_unit: str  # that counts in its box: what a keep would put there
    width: int | None  # in pixels; None where each picture is drawn at all three sizes
    plan: Plan = field(repr=False)
    changed: BenchFile = field(repr=False)  # the bike after
    pictures: PlanPictures = field(repr=False)
    told: Summary = field(repr=False)
    open: OpenAnswers | None = field(repr=False, default=None)  # what is not known exactly, where something was drawn
    mark_pa: float | None = None  # of the gauge that the pressure was found with, where that is known
    behind: BehindAnswer | None = field(repr=False, default=None)  # of a bike with a rear shock
    end: End = "front"  # that the job is about

    @property
    def sizes(self) -> dict[str, int]:
        """Class and width of each drawing of a picture."""
        return sizes(self.width)

    @property
    def set_pa(self) -> float | None:
        """The pressure that is asked for, gauge."""
        air = self.changed.fork.air if self.changed.fork is not None else None
        return air.pressure_gauge_pa if air is not None else None

    @cached_property
    def sentence(self) -> list[Piece]:
        return figures.sentence(self.told, preferences.unit("pressure", "psi"), self.end)

    @cached_property
    def warnings(self) -> list[Said]:
        return words.warnings(self.told)

    @cached_property
    def taken(self) -> tuple[list[str], str]:
        """What was taken for granted: what may hurt because of it, and the rest in one line."""
        of, system = self.told.defaults, preferences.system()
        return figures.defaults_words.dangers(of, system), figures.defaults_words.closing(of, system)

    @cached_property
    def heading(self) -> str:
        if self.behind is not None:
            return "Both ends" if self.told.forked else "Shock"
        return heading(self.told)

    @property
    def front_open(self) -> bool:
        """Whether the fork's own force is not known exactly, so that it is a band."""
        return bool(self.pictures.bands)

    @cached_property
    def number(self) -> int:
        """Of the fork's picture: with a shock it comes after those of the rear end."""
        if self.behind is None:
            return 1
        return 2 + sum(bool(each) for each in (self.behind.force, self.behind.ratio, self.behind.rate))

    @cached_property
    def force(self) -> Picture:
        drawn = self.sizes.items()
        return Picture(
            tuple(_svg(self.pictures.force(px, f"force{cls}", cls, preferences.system())) for cls, px in drawn)
        )

    @cached_property
    def difference(self) -> Picture:
        drawn = self.sizes.items()
        return Picture(
            tuple(_svg(self.pictures.difference(px, f"diff{cls}", cls, preferences.system())) for cls, px in drawn)
        )

    @cached_property
    def fast_note(self) -> str:
        return words.fast_note(self.plan.curve_after or self.plan.curve_before)

    @cached_property
    def travel_rows(self) -> list[Row]:
        if self.front_open:
            return tables.along_the_bands(self.pictures.bands, preferences.system())
        return tables.along_the_travel(self.pictures.sides, preferences.system())

    @property
    def travel_units(self) -> tuple[str, str]:
        """Of the travel and of the forces in that table."""
        return preferences.unit("length", "mm"), preferences.unit("force", "N")

    @cached_property
    def travel_heads(self) -> tuple[str, ...]:
        return tuple(f"{side.name}, {speed}" for side in self.pictures.sides for speed in ("slow", "fast"))

    @cached_property
    def pressures(self) -> Picture:
        if self.open is not None:  # its marks would stand for pressures that are not known to a mark
            return Picture(())
        return Picture(tuple(_rule(self.plan, self.set_pa, px, cls) for cls, px in self.sizes.items()))

    @cached_property
    def coil_keeps(self) -> tuple[tuple[str, str, str], ...]:
        """On a coil: what is kept, the spring that does it, the preload that does."""
        alone = replace(preferences.system(), beside=False)  # two units would not fit a telephone
        return figures.kept_on_coil(self.file, self.plan, alone) if self.plan.on_coil else ()

    @cached_property
    def keeps(self) -> list[KeepRow]:
        if self.plan.on_coil or not self.plan.curve_before or not self.plan.curve_after:
            return []
        return plan_keeps.keeps(
            figures.kept(self.file, self.plan, system=preferences.system(), mark_pa=self.mark_pa),
            self.pressure_unit,
            self.set_pa,
        )

    @property
    def keep_units(self) -> dict[str, str]:
        return plan_keeps.heads()

    @cached_property
    def stance(self) -> Picture:
        return Picture(tuple(_stance(self.pictures, px, cls) for cls, px in self.sizes.items()))

    @property
    def at_sag(self) -> bool:
        return self.pictures.at_sag

    @cached_property
    def details(self) -> Picture:
        return _details(self.pictures, next(iter(self.sizes.values())))

    @cached_property
    def detail_words(self) -> tuple[tuple[str, str], ...]:
        return _detail_words(self.pictures)

    @cached_property
    def larger(self) -> str:
        return _larger(self.pictures, self.width)

    @cached_property
    def table(self) -> list[Row]:
        return tables.compared(self.told)

    @cached_property
    def stances(self) -> list[Row]:
        return tables.stances(self.told)

    @cached_property
    def load_note(self) -> str:
        return words.load_note(self.file, self.plan)


def sizes(width: int | None) -> dict[str, int]:
    """Class and width of each drawing of a picture: all three, or the one that was asked for."""
    return SIZES if width is None else {"": min(max(width, LEAST_PX), MOST_PX)}


def answer(
    file: BenchFile,
    pressure_unit: str,
    width: int | None = None,
    draws: int = figures.AT_REST,
    mark_pa: float | None = None,
    end: End = "front",
    rear_unit: str = "psi",
) -> Answer:
    """Compute, for a job about this `end`; `rear_unit` counts in the shock's box. `width` in pixels draws each picture once,
    None at all three sizes; `draws` is how often what the file leaves open is drawn; `mark_pa` one mark of the gauge that is
    used.

    Raises FaultsFound where the sag found can't be.
    """
    plan, drawn = figures.with_curves(file, draws)
    changed = figures.changed(file)
    told = figures.summary(file, plan, changed, preferences.system())
    pictures = of_plan(file, plan, changed, drawn)
    is_open = None if drawn is None else OpenAnswers(file, drawn, pressure_unit, sizes(width))
    behind = BehindAnswer(file, changed, plan, told, rear_unit, mark_pa, drawn) if told.rear is not None else None
    return Answer(file, pressure_unit, width, plan, changed, pictures, told, is_open, mark_pa, behind, end)


def heading(of: Summary) -> str:
    """The plan's name: its travel before and after, else that it changes no travel."""
    if not of.travel.both:
        return "Plan"
    after = f"{of.travel.trimmed('after')}\N{NO-BREAK SPACE}{of.travel.unit}"
    return f"{of.travel.trimmed('before')} → {after}" if of.travel.value("change") else f"{after}, as now"


def _svg(drawing: Drawing | None) -> str:
    return drawing.svg() if drawing is not None else ""


def _rule(plan: Plan, set_pa: float | None, width: int, cls: str) -> str:
    keep = plan.keep
    found = {
        "sag": keep.sag.pressure_pa, "sag-share": keep.sag_share.pressure_pa,
        "end-force": keep.end_force.pressure_pa, "curve": keep.curve.pressure_pa,
    }  # fmt: skip
    if set_pa is None or not any(found.values()):
        return ""
    return rules.pressure_rule(found, set_pa, width, f"rule{cls}", cls, preferences.system()).svg()


def _stance(pictures: PlanPictures, width: int, cls: str) -> str:
    if pictures.now is None:
        return ""
    system = preferences.system()
    name = f"stance{cls}"
    return stance.stance(pictures.was, pictures.now, width, name, cls, at_sag=pictures.at_sag, system=system).svg()


def _details(pictures: PlanPictures, width: int) -> Picture:
    """The windows A and B, enlarged from the first size drawn."""
    if pictures.was is None or pictures.now is None:
        return Picture(())
    on, _ = stance.paper(pictures.was, pictures.now, width)
    was, now, system = pictures.was, pictures.now, preferences.system()
    return Picture(tuple(detail.detail(x, was, now, on, f"detail{x}", system=system).svg() for x in "AB"))


def _detail_words(pictures: PlanPictures) -> tuple[tuple[str, str], ...]:
    if pictures.was is None or pictures.now is None:
        return ()
    was, now = detail.windows(pictures.was), detail.windows(pictures.now)
    names = {"A": "A · bottom bracket", "B": "B · top of the head tube"}
    return tuple((names[x], detail.moved(was[x], now[x], preferences.system())) for x in "AB")


def _larger(pictures: PlanPictures, width: int | None) -> str:
    """How much larger the windows are than the picture above them; with three pictures each has its own."""
    if pictures.was is None or pictures.now is None or width is None:
        return "enlarged"
    on, _ = stance.paper(pictures.was, pictures.now, min(max(width, LEAST_PX), MOST_PX))
    return detail.FACTOR_WORDS[detail.factor_of(pictures.was, pictures.now, on)]
