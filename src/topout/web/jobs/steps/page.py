"""What a step page shows, gathered from the walk: sentence, band, what was read, what comes next. Nothing is decided here."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from topout.procedures import words
from topout.procedures.model import Evidence
from topout.procedures.roles import of_air
from topout.units import Typed, number, to_si
from topout.web import clock
from topout.web.access import preferences
from topout.web.fields import WRITTEN
from topout.web.jobs import core
from topout.web.jobs.core import both_ends, step_numbers, steps
from topout.web.jobs.core.danger import GAS, SECOND, SPRING, TRAPPED
from topout.web.jobs.core.leak_hold import Hold
from topout.web.jobs.records.models import Photo, StepEntry
from topout.web.jobs.steps import emptied, filling, holds, not_now, pictures, stands
from topout.web.jobs.steps.form import GAUGE, StepForm, unit_of
from topout.web.jobs.steps.lines import answered, cautioned, said
from topout.web.jobs.steps.progress import LEFT, Progress, Slot, hour, name, undone_by
from topout.web.jobs.steps.sheet import Given, given
from topout.web.jobs.steps.sheet import mark as sheet_mark
from topout.web.prepared import Prepared

_PHOTOS = Prepared(lambda job, key: Photo.objects.filter(job=job, step_key=key).order_by("sequence"))
# What the figures of a stop page are worked out from.
_FROM = {
    TRAPPED: "at full length, from the last settled {last_pressure}",
    SECOND: "from {second_pressure}",
    SPRING: "at full length, from {spring_rate} with {preload} of preload",
}
_MARKED_TO = {"psi": 0, "kPa": -1}  # decimals of a coarse gauge's marks; else tenths


@dataclass(frozen=True)
class Asked:
    """One piece of evidence as the page draws it."""

    evidence: Evidence
    field: Any
    unit: str
    range: str
    echo: str
    card: Any
    sheet: Given | None = None
    aimed: bool = False  # whether the sheet's value is the big figure of the page


def page(here: Progress, slot: Slot, form: StepForm) -> dict[str, Any]:
    """Everything that the template of a step needs."""
    last, now = here.last, here.current
    at = here.at(slot)
    latest = here.latest.get(slot.key)
    bands = {each.key: _band(here, slot, each, form) for each in slot.step.evidence if each.kind == "number"}
    main = next((each for each in slot.step.evidence if _worth_a_rule(each, bands)), None)
    ready, may = here.ready_at(slot), here.may_from(slot)
    past = now is None or at < here.at(now) or here.settled(slot)
    following = here.slots[at + 1] if at + 1 < len(here.slots) else None
    context: dict[str, Any] = {
        "told_seen": sheet_mark(here, slot),
        "job": here.job, "walk": here, "slot": slot, "form": form, "step": slot.step, "past": past, "latest": latest,
        "do": here.say(slot, slot.step.do), "detail": here.say(slot, slot.step.detail, second=True),
        "caution": cautioned(here, slot), "why": here.say(slot, slot.step.why),
        "group": here.procedure.group_of(slot.step), "complete": _complete(here, at),
        "next": following, "next_do": here.say(following, following.step.do) if following else "",
        "before": here.slots[at - 1] if at else None, "not_in_steps": lambda: both_ends.not_in_steps_of(here.frozen, here.procedure),
        "safe": safe_word(here),
        "saved": last, "saved_by": name(last) if last else "", "stopped": here.stopped,
        "danger_found": None if here.danger is not None and here.danger.point == slot.key else here.danger,
        "undoes": lambda: undone_by(here, slot) if here.settled(slot) else [],
        "not_now": lambda: "" if here.settled(slot) else not_now.said(here, [slot]),
        "stopped_by": name(here.stopped) if here.stopped else "",
        "stands": stands.of(here.job) if here.stopped else "",
        "asked": [_asked(here, each, form, bands.get(each.key), main) for each in slot.step.evidence],
        # Our own keys where one number is all that is asked; beside other things the tablet's own keyboard serves.
        "sole": _sole(slot, form), "moves_on": _moves_on(slot, form),
        "keys": [each.kind for each in slot.step.evidence] == ["number"] and not form.on_card,
        "numbers": sum(each.kind == "number" for each in slot.step.evidence),
        "gauge": form[GAUGE] if GAUGE in form.fields else None,
        "ladder_tall": pictures.ladder(here, slot, tall=True),
        "ladder_flat": pictures.ladder(here, slot, tall=False),
        "ready": holds.moment(ready) if ready is not None and clock.now() < ready else "",
        "may_read": holds.judged(slot.step) is not None and may is not None and may <= clock.now(),
        "read": answered(here, latest) if latest else "", "read_by": name(latest) if latest else "",
        "verdict": _verdict(here, slot, latest),
    }  # fmt: skip
    if main is not None:
        context |= _expected(here, slot, main, bands[main.key], latest)
    if slot.step.rounds is not None:
        context["filling"] = filling.rounds(here, slot, unit_of(here, slot.step.evidence[0]))
    return context


def _needed(slot: Slot, form: StepForm) -> list[Evidence]:
    return [each for each in slot.step.evidence if not each.optional and each.key not in form.on_card]


def _sole(slot: Slot, form: StepForm) -> str:
    """The key of the one tick that is all a step asks for: its main button is the tick. Empty where it asks for more."""
    only = slot.step.evidence[0] if len(slot.step.evidence) == 1 and not form.on_card else None
    return only.key if only is not None and only.kind == "tick" else ""


def _moves_on(slot: Slot, form: StepForm) -> bool:
    """Whether a finger's choice, or a photo, signs at once: where it is all that is asked and blocks nothing.

    Signed in error it is read again, and the new answer counts.
    """
    needed = _needed(slot, form)
    if slot.step.blocks or len(slot.step.evidence) != 1 or form.on_card:
        return False
    return len(needed) == 1 and needed[0].kind in ("choice", "photo")


def safe_word(here: Progress) -> str:
    """What is said to be safe where the work stops."""
    return here.job.noun


def aim_of(here: Progress, slot: Slot, form: StepForm) -> tuple[str, str]:
    """The target of a step in a list, and its unit; empty where nothing is expected or its band can't be told yet."""
    for each in slot.step.evidence:
        span = form.band(each.key, {}) if each.kind == "number" else None
        if span is None or not span.bounded:
            continue
        unit = unit_of(here, each)
        if span.expect_si is not None:
            return _number(_shown(here, span.expect_si, each, unit)), WRITTEN.get(unit, unit)
        if each.low is not None and each.low.name is not None:
            return _number(_range(here, each, span, unit)), WRITTEN.get(unit, unit)
    return "", ""


def _band(here: Progress, slot: Slot, each: Evidence, form: StepForm) -> steps.Band | None:
    typed = form.cleaned_data if form.is_bound and hasattr(form, "cleaned_data") else {}
    return form.band(each.key, typed)


def _worth_a_rule(each: Evidence, bands: Mapping[str, steps.Band | None]) -> bool:
    """Whether the big figure and the rule say something: where a value is expected, or the band is asked for on purpose."""
    span = bands.get(each.key)
    return (
        each.kind == "number"
        and span is not None
        and (span.expect_si is not None or each.low is not None and each.low.name is not None)
    )


def unit_beside(here: Progress, each: Evidence) -> str:
    """The unit that stands beside the box of a number."""
    unit = unit_of(here, each)
    return WRITTEN.get(unit, unit)


def _asked(here: Progress, each: Evidence, form: StepForm, span: steps.Band | None, main: Evidence | None) -> Asked:
    unit = unit_of(here, each)
    text = form.echo(each.key) if each.kind == "number" and form.is_bound else ""
    card = form[f"card-{each.key}"] if f"card-{each.key}" in form.fields else None
    aimed = each is main
    return Asked(
        each,
        form[each.key],
        WRITTEN.get(unit, unit),
        _range(here, each, span, unit),
        text,
        card,
        given(here, each),
        aimed,
    )


def _shown(
    here: Progress, value_si: float, each: Evidence, unit: str, rounded: Callable[[float], float] = round
) -> str:
    """A bound as people read it; a pressure to the gauge's own marks, rounded inwards at the ends of a band."""
    if each.dimension != "pressure" or steps.fine(here.instrument):
        return words.quantity(value_si, each.dimension, unit)
    places = _MARKED_TO.get(unit, 1)
    value = rounded(number(value_si, "pressure", unit, 6) * 10.0**places) / 10.0**places
    return words.quantity(to_si(value, unit, "pressure"), "pressure", unit, max(0, places))


def _number(text: str) -> str:
    """A quantity in words without its unit."""
    return text.split("\N{NO-BREAK SPACE}")[0]


def _range(here: Progress, each: Evidence, span: steps.Band | None, unit: str) -> str:
    """`7 to 7.4 mm`, `at least 6 mm`; empty where anything goes."""
    if span is None or not span.bounded:
        return ""
    low = None if span.low_si is None else _shown(here, span.low_si, each, unit, math.ceil)
    high = None if span.high_si is None else _shown(here, span.high_si, each, unit, math.floor)
    if low is not None and high is not None:
        return low if low == high else f"{_number(low)} to {high}"
    return f"at least {low}" if low is not None else f"at most {high}"


def _expected(
    here: Progress, slot: Slot, each: Evidence, span: steps.Band | None, latest: StepEntry | None
) -> dict[str, Any]:
    """The big figure with its range and rule."""
    assert span is not None
    unit = unit_of(here, each)
    middle = span.expect_si if span.expect_si is not None else span.low_si
    assert middle is not None
    row = (latest.evidence.get("answers", {}).get(each.key) or {}) if latest and latest.verdict == "failed" else {}
    read = row.get("value_si")
    return {
        "want": _number(_shown(here, middle, each, unit)),
        "want_unit": WRITTEN.get(unit, unit),
        "want_k": "expect" if span.expect_si is not None else "at least",
        "want_range": _range(here, each, span, unit) if span.expect_si is not None else "",
        "want_second": words.quantity(middle, each.dimension, unit, second=True) if each.dimension != "count" else "",
        "rule_wide": None
        if slot.step.rounds
        else pictures.band_rule(span, each.dimension, unit, read, "rule-wide", wide=True),
        "rule_narrow": None
        if slot.step.rounds
        else pictures.band_rule(span, each.dimension, unit, read, "rule-narrow", wide=False),
    }


def _verdict(here: Progress, slot: Slot, latest: StepEntry | None) -> dict[str, str] | None:
    """What is said of the last thing at this point."""
    hold = holds.told(here, slot) if holds.judged(slot.step) is not None else None
    if hold is not None:
        return _hold_said(here, slot, hold)
    if latest is None or latest.verdict in LEFT:
        return None
    answers: dict[str, dict[str, Any]] = latest.evidence.get("answers", {})
    if latest.verdict == "passed":
        return {
            "head": _held([row for row in answers.values() if "value_si" in row]) or "Done.",
            "text": here.say(slot, slot.step.good),
        }
    key, bad = next(((key, row) for key, row in answers.items() if not row.get("pass")), ("", {}))
    head = _outside(bad) if "value_si" in bad else "It does not pass."
    label = next((each.label for each in slot.step.evidence if each.key == key), "")
    which = here.say(slot, label) if label and len(answers) > 1 else ""  # else it is plain what does not pass
    # A choice begins a sentence of its own: “Let go, the fork”, “Sucks itself in”.
    told, between = (f"“{said(bad)}”", " ") if "choice" in bad else (said(bad), ", ")
    kept = f"Saved: {between.join(each for each in (which, told) if each)}, {hour(latest.at)}, {name(latest)}."
    return {"head": head, "text": "", "kept": f"{kept} Read it again, or stop.", "saved": kept}


def _hold_said(here: Progress, slot: Slot, hold: Hold) -> dict[str, str]:
    """The verdict of a leak hold by its last reading, what it should show now, and what is kept."""
    if hold.verdict == "holds":
        head, text = holds.says(hold).split(". ", 1)
        return {"head": f"{head}.", "text": text}
    last = holds.signed(here, slot)[-1]
    kept = f"Kept: {answered(here, last)}, {holds.moment(last.at)}, {name(last)}."
    then = " Find where, mend it, fill it, and read the start again." if hold.verdict == "leaks" else ""
    return {"head": holds.says(hold), "text": "" if hold.anew else hold.expects, "kept": kept + then}


def _banded(row: Mapping[str, Any]) -> bool:
    """Whether a number was read against something expected, so that there is a band to lie in and not just an end."""
    return row.get("expect_si") is not None and row.get("low_si") is not None and row.get("high_si") is not None


def _held(rows: Sequence[Mapping[str, Any]]) -> str:
    """What is said of numbers that passed; nothing where nothing bounds them."""
    if any(map(_banded, rows)):
        return "In the band."
    return (
        "Within the limit."
        if any(row.get("low_si") is not None or row.get("high_si") is not None for row in rows)
        else ""
    )


def _outside(row: Mapping[str, Any]) -> str:
    """What is said of a number that does not pass."""
    return "Not in the band." if _banded(row) else "Outside the limit."


def _complete(here: Progress, at: int) -> str:
    """The line that ends the group before, on the first step of the next one."""
    if at == 0:
        return ""
    before, group = here.procedure.group_of(here.slots[at - 1].step), here.procedure.group_of(here.slots[at].step)
    return "" if before is group or not here.passed(here.slots[at - 1]) else before.complete


def live(here: Progress, slot: Slot, form: StepForm) -> dict[str, Any]:
    """What is understood of the boxes while they are typed in, and whether the number lies in its band. Saves nothing."""
    form.is_valid()
    cleaned = getattr(form, "cleaned_data", {})
    echoes = {key: form.echo(key) for key, each in form.evidence.items() if each.kind == "number"}
    verdict = ""
    pressure = holds.judged(slot.step)
    if (
        pressure is not None
        and (nothing_lost := form.band(pressure.key, cleaned)) is not None
        and nothing_lost.expect_si is not None
    ):
        for key, each in form.evidence.items():
            if "hold-temperature" in each.roles and isinstance(cleaned.get(key), Typed):
                shown = words.quantity(nothing_lost.expect_si, "pressure", unit_of(here, pressure), 1)
                echoes[pressure.key] = f"{echoes[pressure.key]} {shown} with nothing lost.".strip()
    for key, each in form.evidence.items():
        span = form.band(key, cleaned) if each.kind == "number" and each.bounded and each is not pressure else None
        value = cleaned.get(key)
        if span is not None and isinstance(value, Typed | int):
            row = {"expect_si": span.expect_si, "low_si": span.low_si, "high_si": span.high_si}
            if not span.holds(value.value_si if isinstance(value, Typed) else float(value)):
                return {"echo": echoes, "verdict": _outside(row)}
            verdict = verdict or _held([row])
    return {"echo": echoes, "verdict": verdict}


def stop_page(here: Progress, slot: Slot, latest: StepEntry) -> dict[str, Any]:
    """What the page of a block shows beside the step: where the force acts, how much, what may be done now."""
    assert slot.step.stop is not None
    answers: dict[str, dict[str, Any]] = latest.evidence.get("answers", {})
    # What is shut in was shut in under the plan that the point failed with, whatever the plan is now.
    found = next((each for each in here.failed_holds if each.point == slot.key), None)
    plan = step_numbers.plan_of(found.entry) or here.plan if found is not None else here.plan
    shows = slot.step.stop.shows
    danger = steps.held(plan, shows, here.readings)
    in_m = _stands_in_m(here, slot, answers)
    charged = danger is not None and shows == TRAPPED and not plan.can
    # The picture is of a fork's main and negative chamber: of a can it would show a seal head, and its negative side empty; a coil has neither.
    drawn = shows not in (SECOND, SPRING, GAS) and core.end_of(here.job) == "front" and of_air(here.procedure.units)
    main = emptied.main_said(here, slot)
    context: dict[str, Any] = {
        "stop": slot.step.stop, "danger": danger, "closed_from": slot.number + 1, "closed_to": here.total,
        "section_wide": pictures.section(plan, in_m, charged=charged, main=main, wide=True) if drawn else "",
        "section_narrow": pictures.section(plan, in_m, charged=charged, main=main, wide=False) if drawn else "",
        "open_before": [each for each in here.slots[: here.at(slot)] if not here.passed(each)],
        "from_what": here.say(slot, _from_what(danger, plan, shows), second=True),
        "tag_says": found.tag_says if found is not None else "",
    }  # fmt: skip
    if charged and in_m > 0.0005:
        force = steps.trapped_force_n(here.plan, in_m)
        if force is not None and force > 0:
            system = preferences.system()
            in_words = system.show(in_m, "length", "mm", decimals=0, trim=True)
            said_force = words.rounded_up(force, "force", system.unit("force", "N"))
            context["as_it_stands"] = f"As it stands, in by {in_words}, the force is {said_force}."
    return context


def _from_what(danger: dict[str, str] | None, plan: steps.PlanNumbers, shows: str) -> str:
    """What force and energy were worked out from."""
    if danger is not None and "by_outside" in danger:
        return "at free length, from the can’s outside and the pressure it came with"
    return "at free length, from the pressure it came with" if plan.can and shows == TRAPPED else _FROM.get(shows, "")


def _stands_in_m(here: Progress, slot: Slot, answers: Mapping[str, dict[str, Any]]) -> float:
    """How far in the fork stood when it failed, from what was read there; 0 where nobody measured it."""
    full = here.readings.get("full-length")
    read = {role: answers.get(each.key, {}).get("value_si") for each in slot.step.evidence for role in each.roles}
    rest, drawn = read.get("rest-length"), read.get("drawn-in")
    if drawn is not None:
        return float(min(max(drawn, 0.0), _travel_m(here)))
    if full is None or rest is None:
        return 0.0
    return float(min(max(full - rest, 0.0), _travel_m(here)))


def _travel_m(here: Progress) -> float:
    """As far as the fork goes in: its travel, where it is known."""
    return math.inf if here.plan.old_travel_m is None else here.plan.old_travel_m


def photos_of(here: Progress, slot: Slot) -> list[Photo]:
    """The photos signed at a step that asks for any."""
    if not any(each.kind == "photo" for each in slot.step.evidence):
        return []
    return _PHOTOS.all(here.job.pk, slot.step.key)
