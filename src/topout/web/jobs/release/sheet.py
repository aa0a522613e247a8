"""From a job's records to the words of its set-up sheet. Nothing is computed here: documents does that."""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from django.utils import timezone

import topout
from topout.documents import sheet_of_plan, sheet_tables
from topout.documents.setup_sheet import Noted, SetUpSheet, Struck
from topout.documents.sheet_of_plan import Left
from topout.units import NO_BREAK, parse
from topout.web import clock
from topout.web.access import preferences
from topout.web.book import history, worth
from topout.web.jobs import core
from topout.web.jobs.core import both_ends
from topout.web.jobs.readings import show as shown
from topout.web.jobs.records import own, readings
from topout.web.jobs.records.kinds import FAR_IN, KINDS, label
from topout.web.jobs.records.models import FrozenPlan, Job, Reading, Release, Remark
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.release import drafted
from topout.web.shelf.models import Tag

OWN_PUMP = "own-pump"  # kind of reading: what the rider's own pump shows at the pressure that was left
CHECKED_LAST = ("brake", "axle", "stem")  # roles of the proofs that every procedure which ends on the bike has
# Warnings of a plan that a rider can see or feel; the others are for the bench.
RIDERS_WARNINGS = frozenset({
    "pressure-limit", "tyre-crown", "tyre-brace", "tyre-frame", "fork-length", "travel-limit", "lost-travel",
    "sag-range", "bb-change", "head-angle-change", "coil-bind",
})  # fmt: skip


def sheet_of(job: Job, *, anew: bool = True) -> tuple[SetUpSheet, datetime]:
    """The job's sheet, and the time it is as of: its release, else the plan's, else now.

    Drawn `anew` after the release it is of the Book and by the workshop's settings as they were then; in the release itself,
    whatever the clock, as they are.
    """
    release = Release.objects.filter(job=job).select_related("who", "plan", "notes").first()
    if release is None or not anew:
        return _drawn(job, release)
    with preferences.read_as_of(release.at):
        return _drawn(_as_released(job, release), release, release.at)


def _drawn(job: Job, release: Release | None, at: datetime | None = None) -> tuple[SetUpSheet, datetime]:
    """The sheet of a job whose unit and bike are those of then; `at`: when that was, None for now."""
    frozen = release.plan if release is not None and release.plan is not None else current_plan(job)
    left = readings.current(job, "as-left")
    what = _left(job, left)
    as_of = release.at if release is not None else clock.now()
    bench = None
    if frozen is not None:
        planned = core.frozen_bench(frozen)
        bench = sheet_tables.as_left(planned, what.gauge_pa, what.spacers, what.temperature_k, what.what)
    workshop = preferences.workshop()
    sheet = SetUpSheet(
        rider=str(job.rider),
        bike=str(job.bike or ""),
        unit=str(job.unit or ""),
        tag=_tag(job, as_of),
        workshop=workshop.name if workshop else "Workshop",
        paper=workshop.paper if workshop else "a4",
        day=_day(as_of),
        job=f"Job {job.number}",
        plan_said=_plan_said(frozen),
        version=f"Topout {frozen.version if frozen is not None else topout.__version__}",
        large=sheet_of_plan.four(what, bench),
        found=noted((row for row in readings.rows(job, "as-found") if row.kind != FAR_IN), job.noun),
        left=noted(readings.rows(job, "as-left"), job.noun),
        done=_lines(release.done if release is not None else "\n".join(drafted.done(job))),
        seen=tuple(
            Remark.objects.filter(job=job, kind="condition").order_by("sequence").values_list("words", flat=True)
        ),
        defects=_defects(job, release),
        notes=_lines(release.notes.words) if release is not None and hasattr(release, "notes") else (),
        watch=_watch(frozen),
        before_ride=_before_ride(job, release),
        next_service=f"Next service: {release.next_service.rstrip('.')}." if release is not None else "",
        known=worth.on_paper([row for row in (job.unit, job.bike, job.rider) if row is not None]),
        released=_released(release),
    )
    if bench is None:
        return sheet, as_of
    is_set = frozen is None or both_ends.half_is_set(frozen, at)
    sheet = sheet_of_plan.with_plan(sheet, bench, what.system, what.what, other_is_set=is_set)
    if guesses := [
        words for row in (job.unit, job.bike, job.rider) if row is not None for words in worth.named(row)["typical"]
    ]:
        sheet = replace(
            sheet,
            changed=f"{sheet.changed} {worth.ON_PAPER['typical']} Guessed, not measured: {', '.join(guesses)}.".lstrip(),
        )
    set_pa = sheet_tables.pressure_set(bench, what.what)
    ours, theirs = _compared(left) or _compared(readings.current(job, "as-found")) or (None, None)
    if set_pa is not None and ours is not None and theirs is not None:
        pump = sheet_tables.own_pump(
            set_pa, ours.value_si, theirs.value_si, what.system.unit("pressure", "psi"),
            hose_m3=theirs.hose_volume_m3, valve_m3=sheet_tables.valve_volume_m3(bench, what.what),
        )  # fmt: skip
        sheet = sheet_of_plan.with_own_pump(sheet, pump)
    return sheet, as_of


def _as_released(job: Job, release: Release) -> Job:
    """The job with unit and bike as the Book had them when it was handed over: later jobs change the Book, and no sheet."""
    then = copy.copy(job)
    then.bike = history.as_of(job.bike, release.at) if job.bike is not None else None
    then.unit = history.unit_as_of(job.unit, release.at) if job.unit is not None else None
    return then


def _compared(stage: dict[str, Reading]) -> tuple[Reading, Reading] | None:
    """Our gauge and the rider's own at one pressure, both as read; None where a stage has not both."""
    ours, theirs = stage.get("pressure"), stage.get(OWN_PUMP)
    return (ours, theirs) if ours is not None and theirs is not None else None


def _left(job: Job, left: dict[str, Reading]) -> Left:
    """What counts as left, SI."""
    rate, preload = _coil(job, left)
    pressure, rebound, compression = (left.get(kind) for kind in ("pressure", "rebound", "compression"))
    sag = left.get("stroke-sag" if job.noun == "shock" else "sag")
    spacers, temperature = left.get("spacers"), left.get("temperature")
    full = _full(job)
    were = readings.current(job, "as-found").get("spacers")
    return Left(
        what=job.noun,
        full_m=full,
        full="stroke" if job.noun == "shock" else "travel",
        gauge_pa=pressure.counts_si if pressure is not None else None,
        temperature_k=temperature.value_si if temperature is not None else None,
        sag_m=sag.value_si if sag is not None else None,
        posture=sag.posture if sag is not None else "",
        rebound=int(rebound.value_si) if rebound is not None else None,
        rebound_of=rebound.of_range if rebound is not None else None,
        compression=value(compression) if compression is not None else "",
        spacers=int(spacers.value_si) if spacers is not None else None,
        spacers_before=int(were.value_si) if were is not None else None,
        system=preferences.system(),
        rate_n_per_m=rate,
        preload_m=preload,
    )


def _coil(job: Job, left: dict[str, Reading]) -> tuple[float | None, float | None]:
    """Rate [N/m] and preload [m] of a coil as left, else as the Book has them; None of what is on air, or not known."""
    if job.unit is None or job.unit.what.spring != "coil":
        return None, None
    book = job.unit.whole_tables().get(f"{job.noun}.coil", {})

    def of(kind: str, key: str, dimension: str) -> float | None:
        row, text = left.get(kind), book.get(key)
        return row.value_si if row is not None else parse(text, dimension).value_si if isinstance(text, str) else None

    return of("coil-rate", "rate", "rate"), of("preload", "preload", "length")


def _full(job: Job) -> float | None:
    """The travel or stroke that the Book knows [m]; None where it does not."""
    noun = job.noun
    text = job.unit.whole_tables().get(noun, {}).get("stroke" if noun == "shock" else "travel") if job.unit else None
    return parse(text, "length").value_si if isinstance(text, str) else None


def noted(rows: Iterable[Reading], noun: str = "fork") -> tuple[Noted, ...]:
    """Readings as the sheet tells them: a corrected one stays beside what replaced it, with the reason."""
    told: list[Noted] = []
    struck: list[Struck] = []
    for row in rows:
        newer = getattr(row, "struck_by", None)
        if newer is not None:
            struck.append(Struck(value(row), newer.reason))
            continue
        told.append(Noted(_name(row, noun), value(row), tuple(struck)))
        struck = []
    return tuple(told)


def _name(row: Reading, noun: str) -> str:
    name = label(row.kind, noun)
    if row.posture:
        return f"{name}, {row.posture}"
    clicks = row.kind in KINDS and KINDS[row.kind].clicks
    return f"{name}, from closed" if clicks else name


def value(row: Reading) -> str:
    """A reading with its unit, as typed; a pressure that was corrected for the hose says so."""
    number, unit = shown.split(row)
    said = f"{number}{NO_BREAK}{unit}".strip(NO_BREAK)
    if row.corrected_si is not None and row.dimension:
        before = shown.before_the_hose(row)
        return f"{said}, {before} before the hose" if row.stage == "as-left" else f"{before}, read {said}"
    return said


def _tag(job: Job, as_of: datetime) -> str:
    if job.unit_id is None:
        return ""
    row = Tag.objects.filter(unit_id=job.unit_id, made_at__lte=as_of).order_by("-pk").first()
    return str(row) if row is not None else ""


def _day(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{local:%A} {local.day} {local:%B %Y}"


def _plan_said(frozen: FrozenPlan | None) -> str:
    if frozen is None:
        return ""
    at = timezone.localtime(frozen.at)
    return f"plan of {at.day} {at:%B, %H:%M}"


def _lines(words: str) -> tuple[str, ...]:
    return tuple(_sentence(line) for line in words.splitlines() if line.strip())


def _sentence(words: str) -> str:
    """A line as a sentence: a full stop where it ends without one."""
    words = words.strip()
    return words if words.endswith((".", "!", "?", ":", ";")) else f"{words}."


def _defects(job: Job, release: Release | None) -> tuple[str, ...]:
    told = [str(defect) for defect in release.defects] if release is not None else drafted.not_checked(job)
    declined = Remark.objects.filter(job=job, kind="declined").order_by("sequence").values_list("words", flat=True)
    told += [f"Declined: {words}" for words in declined]
    return tuple(_sentence(words) for words in told)


def _watch(frozen: FrozenPlan | None) -> tuple[str, ...]:
    if frozen is None:
        return ()
    return tuple(one.text for one in core.told_frozen(frozen).heard if not one.found and one.code in RIDERS_WARNINGS)


def _before_ride(job: Job, release: Release | None) -> tuple[str, ...]:
    told = []
    if release is not None and not release.fit_to_ride:
        told.append("Not fit to ride: see what is left as it is.")
    checked, behind = drafted.proved(job, CHECKED_LAST), core.end_of(job) == "rear"
    bolts_at = drafted.tightened(job, "torque.shock-bolt") if behind else None
    if len(checked) == len(CHECKED_LAST):
        at = timezone.localtime(max([*checked, *filter(None, [bolts_at])]))
        what = "Brake, axle and stem" if bolts_at is None else "The shock’s bolts, brake, axle and stem"
        told.append(f"{what} were checked on {at.day} {at:%B at %H:%M}.")
        if behind and bolts_at is None:
            told.append("Check the shock’s bolts before the first ride.")
        told.append("Check them again after the first ride.")
    else:
        bolts = "the shock’s bolts, " if behind else ""
        told.append(f"Check {bolts}brake, axle and stem before the first ride and after it.")
    if job.unit is not None and job.unit.what.spring == "coil":
        told.append("The maker’s instructions come before this sheet.")
    else:
        told.append(
            f"Let the air out only with the wheel off the ground and the {sheet_of_plan.stands_out(job.noun)}; the maker’s "
            "instructions come before this sheet."
        )
    if steps := own.unchecked(job):
        told.append(f"Worked by {steps}")
    return tuple(told)


def _released(release: Release | None) -> str:
    if release is None:
        return "Not handed over yet: this sheet is a draft."
    at = timezone.localtime(release.at)
    return f"Released by {release.who_name}, {at.day} {at:%B %Y, %H:%M}"
