"""From a tag's row to what is printed on it, and the label that is in the printer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from topout.documents import tag as paper
from topout.errors import FaultsFound, TopoutError
from topout.units import NO_BREAK, from_si
from topout.web.access import preferences
from topout.web.access.codes import grouped
from topout.web.access.models import Workshop
from topout.web.fields import QuantityField
from topout.web.groups import Group
from topout.web.jobs.core import danger, step_numbers, unit_dangers
from topout.web.jobs.core import steps as steps_core
from topout.web.jobs.core.figures import at_mark
from topout.web.jobs.records.models import Job
from topout.web.jobs.steps import stands
from topout.web.jobs.steps.progress import walk
from topout.web.shelf.models import Tag, TagPrint
from topout.web.workshop.parts import Part, part

MEASURED = {"length": "length", "diameter": "shaft", "gives": "travel", "volume": "volume"}


@part
class LabelForm(Part):
    """Width and length of the label in the printer: on the tag's page, and on the Workshop page."""

    group = Group("Label", (("width", "length"),), says="In the printer of the tags.")
    width = QuantityField(
        dimension="length", unit="mm", low=paper.WIDTH_MM[0], high=paper.WIDTH_MM[1], label="Width",
        help_text="Across the roll.",
    )  # fmt: skip
    length = QuantityField(
        dimension="length", unit="mm", low=paper.LENGTH_MM[0], high=paper.LENGTH_MM[1], label="Length",
        help_text="Along the roll.",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("width") and data.get("length"):
            try:
                self.label()
            except FaultsFound as found:
                for fault in found.faults:
                    self.add_error(fault.key.rpartition(".")[2], fault.message)
        return data

    @classmethod
    def initial_of(cls, row: Workshop) -> dict[str, Any]:
        size = _of(row)
        return {"width": in_own_unit(size.width_mm), "length": in_own_unit(size.length_mm)}

    def values(self) -> dict[str, Any]:
        size = self.label()
        return {"label_width_mm": size.width_mm, "label_length_mm": size.length_mm}

    def label(self) -> paper.Label:
        """The label that was typed."""
        width, length = (self.cleaned_data[name].value_si * 1e3 for name in ("width", "length"))
        return paper.Label(round(width, 2), round(length, 2))


def in_own_unit(mm: float) -> str:
    """A side of the label as a number in the workshop's unit, finely enough to come back as it was."""
    return f"{from_si(mm / 1e3, preferences.unit('length', 'mm'), 'length'):.5g}"


def label() -> paper.Label:
    """The label in the workshop's printer."""
    return _of(preferences.workshop())


def _of(workshop: Workshop | None) -> paper.Label:
    if workshop is None or workshop.label_width_mm is None or workshop.label_length_mm is None:
        return paper.Label()
    return paper.Label(workshop.label_width_mm, workshop.label_length_mm)


def rows_of(job: Job) -> list[Tag]:
    """The tags made in this job, and those of its unit."""
    rows = Tag.objects.filter(job_number=job.number) | Tag.objects.filter(unit=job.unit, unit__isnull=False)
    return list(rows.select_related("part__family", "unit__family", "made_by").order_by("pk").distinct())


def of_unit(job: Job, loaded: danger.Danger | None) -> Tag | None:
    """The tag of the job's unit; of one that must not be opened, one made since that was found: an older label does not say so."""
    rows = Tag.objects.filter(unit=job.unit, unit__isnull=False).order_by("pk")
    return (rows if loaded is None else rows.filter(made_at__gte=loaded.entry.at)).first()


def not_printed(job: Job, loaded: danger.Danger) -> str:
    """That no label which says so was asked for since it was found, in a sentence; "" where one was.

    It counts whichever tag of the unit it was printed on: what is on the label is what holds the next hand back.
    """
    if TagPrint.objects.filter(
        tag__unit=job.unit, tag__unit__isnull=False, stop=True, at__gte=loaded.entry.at
    ).exists():
        return ""
    made = of_unit(job, loaded)
    if made is None:
        return f"The unit has no tag that says so. Print it first: {loaded.short}."
    return f"Its tag {made} is made, and nobody asked to print it. Print it first: {loaded.short}."


def address(request: HttpRequest, row: Tag) -> str:
    """What the code holds: this workshop's address as it is open now, and the tag's number."""
    return request.build_absolute_uri(f"/T/{row.code}")


def tag_of(job: Job, row: Tag, held: str) -> paper.Tag:
    """What is printed on a tag: a part as measured, the unit, or in black a unit that is still charged."""
    at = timezone.localtime(row.made_at)
    signed = f"{at.day} {at:%b %Y}, {_initials(row)}"
    code = grouped(row.code)
    part = getattr(row, "part", None)
    if part is None:
        stop = _stop(row, code, held)
        return stop if stop is not None else _unit(job, row, code, held, signed)
    measured = tuple(
        (name, _held_together(part.measured[key])) for key, name in MEASURED.items() if part.measured.get(key)
    )
    made_in = f"job {row.job_number}" if row.job_number else "from the shelf"
    foot = (made_in, signed)
    if part.kind == "air shaft":
        travel = str(part.measured.get("gives", "")).split(" ")[0]
        rows = tuple(pair for pair in measured if pair[0] != "travel")
        if part.family is not None:
            bore = part.family.tables.get("fork.air", {}).get("bore")
            rows += (("for bore", _held_together(str(bore))),) if bore else ()
        return paper.shaft_tag(travel=travel, measured=rows, marked=part.marking, foot=foot, code=code, address=held)
    rows = measured + ((("marked", f"“{part.marking}”"),) if part.marking else ())
    rows += (("state", part.state),) if part.state else ()
    kind = str(part.get_kind_display())
    return paper.Tag("part", kind[:1].upper() + kind[1:], rows, foot, code, held)


def _unit(job: Job, row: Tag, code: str, held: str, signed: str) -> paper.Tag:
    unit = row.unit
    foot = (f"job {job.number}", signed)
    if unit is None:
        return paper.Tag("unit", "Tag", (), foot, code, held)
    rows = []
    if unit.serial:
        rows.append(("serial", unit.serial))
    own = unit.whole_tables().get(unit.what.noun, {})
    for key in ("travel",) if unit.what.noun == "fork" else ("length", "stroke"):
        if key in own:
            rows.append((key, _held_together(str(own[key]))))
    if stands.of(job):
        rows.append(("stands", stands.of(job)))
    return paper.Tag("unit", unit.name, tuple(rows), foot, code, held)


def _shut_in(pressure_pa: float) -> str:
    """A pressure on the black tag, in the unit that stands first here; to one psi, or its like in bar."""
    return at_mark.show(pressure_pa, preferences.unit("pressure", "psi"))


def _force(hurts: Mapping[str, str]) -> str:
    """What presses, and how it is known where it is not exact; empty where nobody knows it."""
    behind = ", guessed" if "guess" in hurts else ", high side" if "wide" in hurts else ""
    return f"{hurts['force']}{behind}" if "force" in hurts else ""


def _stop(row: Tag, code: str, held: str) -> paper.Tag | None:
    """The black tag, while the unit stands at a hold point that found it charged, or its coil wound up: by whichever job."""
    if row.unit_id is None:
        return None
    dangers = unit_dangers.of_units([row.unit_id]).get(row.unit_id, ())
    found = next((each for each in dangers if each.loaded), None)
    if found is None:
        return None
    job = found.entry.job
    # As it was when the point failed: what is shut in does not change with a new plan.
    read, by_card = _read(job)
    plan = step_numbers.plan_of(found.entry) or by_card
    hurts = (steps_core.held(plan, found.shows, read) if plan is not None else None) or {}
    second = found.shows == danger.SECOND
    of_can = found.shows == danger.TRAPPED and plan is not None and plan.can
    pressure = None if plan is None else plan.pressure_gauge_pa
    if plan is not None and second:
        pressure = max(
            (p for p in (plan.second_pressure_gauge_pa, read.get("second-pressure")) if p is not None), default=None
        )
    when = timezone.localtime(found.entry.at)
    return paper.stop_tag(
        says=found.tag_says,
        where="damper" if found.shows == danger.GAS else "",
        chamber="second" if second else "negative",
        pressure=_shut_in(pressure) if pressure is not None and hurts and found.charged else "",
        on="can" if of_can else "seal head" if found.shows == danger.TRAPPED else "cap",
        force=_force(hurts),
        stands=stands.of(job),
        foot=(
            f"{row.unit.what.noun if row.unit else 'unit'}, job {job.number}",
            f"{when.day} {when:%b %Y, %H:%M}, {_letters(found.entry.who_name)}",
        ),
        code=code,
        address=held,
    )


def _read(job: Job) -> tuple[dict[str, float | None], steps_core.PlanNumbers | None]:
    """What the steps read, by role [SI], and what they are worked by; nothing where they can't be walked: the tag leaves it out."""
    try:
        here = walk(job)
    except TopoutError:
        return {}, None
    return here.readings, here.plan


def _initials(row: Tag) -> str:
    return _letters(row.made_by.get_full_name() or row.made_by.get_username())


def _letters(name: str) -> str:
    """`M.A.` for Maud Askel."""
    return "".join(f"{word[0].upper()}." for word in name.split()[:3])


def _held_together(typed: str) -> str:
    """A typed quantity that no line parts from its unit."""
    return typed.strip().replace(" ", NO_BREAK)
