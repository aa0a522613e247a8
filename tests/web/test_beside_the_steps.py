"""Doors beside the steps: the Book changed while they run, a reading that stands as on the card, the unit's own file."""

from __future__ import annotations

import copy
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from topout.bench_file.read import read_text
from topout.units import PSI_PA, parse
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Unit
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, Job, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.sign import Answer, Refused
from topout.web.jobs.steps.slots import BY_MISTAKE
from web import job_states, own_kit, people, springs_kit
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import START, Hands, form_of, gauge, one_a_page
from web.test_other_jobs import another, whole

OWN = """grammar = 2
title = "As it came"
version = 1
summary = "What it came with. The maker’s sheet comes first."
for = ["fork"]
plan = false

[[group]]
key = "came"
title = "How it came"
complete = "As found: complete."
[[group.step]]
key = "came-with"
do = "Read the pressure."
hold = true
evidence = [{ key = "came-with", kind = "number", label = "Pressure", unit = "psi", low = "50 psi", high = "100 psi", card = "as-found pressure" }]
"""


def without_second(hands: Hands) -> None:
    """The Book loses its second chamber, and the job is read anew."""
    unit = Unit.objects.get(jobs=hands.job)
    unit.tables = copy.deepcopy(unit.tables)
    for key in springs_kit.SECOND:
        del unit.tables["fork.air"][key]
    with change(hands.who, "book", {}) as doing:
        book.keep(doing, unit)
    hands.job = Job.objects.get(pk=hands.job.pk)


def test_a_second_chamber_that_the_book_loses_is_looked_for(cast: Cast) -> None:
    """At its own step, 150 psi behind the cap, its two lines were taken out of the Book: the steps went on to the foot bolts."""
    hands = springs_kit.begun(cast, "lower-leg-service")
    assert hands._work("second-vent") is not None
    without_second(hands)
    now = hands.here().current
    assert now is not None and now.step.key == "second-look"
    answer = {"second-look": Answer(choice="Air still comes, or not sure")}
    assert hands.sign(now, answer).verdict == "failed" and hands.here().blocked


@pytest.mark.parametrize("looked", ["negative-look", "second-look"])
def test_what_the_book_had_for_a_while_in_mid_job_is_looked_for_too(cast: Cast, looked: str) -> None:
    """Written down once the steps were begun, its pressure read at the fork, and taken out again: the cap came next."""
    hands = springs_kit.begun(cast, "lower-leg-service", {"negative": "self-equalising"})
    keys = NEGATIVE if looked == "negative-look" else springs_kit.SECOND
    book_says(hands, **keys)
    read = hands._work("wash")
    assert read is not None
    if looked == "negative-look":
        book_says(hands, negative="self-equalising", negative_pressure=None)
    else:
        without_second(hands)
    hands._work(looked)
    now = hands.here().current
    assert now is not None and now.step.key == looked


def test_one_that_the_book_lost_before_the_work_began_is_looked_for_by_nobody(cast: Cast) -> None:
    gauge()
    job = hollin_job(cast.owner, fork_air=springs_kit.SECOND)
    Job.objects.filter(pk=job.pk).update(procedure="lower-leg-service")
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    without_second(hands)
    hands.begin()
    assert hands.here().conditions["second"] == "none" and hands.here().slot("second-look") is None


NEGATIVE: dict[str, object] = {"negative": "separate-valve", "negative_volume": "40 ml", "negative_pressure": "60 psi"}


def book_says(hands: Hands, **air: object) -> None:
    """The Book says something else of the air spring, and the job is read anew."""
    unit = Unit.objects.get(jobs=hands.job)
    unit.tables = copy.deepcopy(unit.tables)
    unit.tables["fork.air"] |= air
    for key in [key for key, value in air.items() if value is None]:
        del unit.tables["fork.air"][key]
    with change(hands.who, "book", {}) as doing:
        book.keep(doing, unit)
    hands.job = Job.objects.get(pk=hands.job.pk)


def test_a_negative_valve_that_the_book_loses_is_looked_for(cast: Cast) -> None:
    """At its own step, 60 psi in it, its kind was changed in the Book: the steps went on to the main valve."""
    hands = springs_kit.begun(cast, "lower-leg-service", NEGATIVE)
    assert hands._work("negative-vent") is not None
    book_says(hands, negative="self-equalising", negative_pressure=None)
    now = hands.here().current
    assert now is not None and now.step.key == "negative-look"
    assert hands.sign(now, STILL).verdict == "failed" and hands.here().blocked
    assert unit_dangers.loaded_of(hands.job) is not None
    assert hands.sign(now, {"negative-look": Answer(choice="There is none")}).verdict == "passed"
    after = hands.here()
    assert not after.blocked and after.current is not None and after.current.step.key == "main-vent-port"
    assert after.conditions["negative"] == "self-equalising"


STILL = {"negative-look": Answer(choice="Air still comes, or not sure")}


def test_a_text_that_looks_for_no_negative_valve_lets_it_out_as_it_began(cast: Cast) -> None:
    """A text of the workshop’s own that was kept before there was such a step."""
    hands = springs_kit.begun(cast, "lower-leg-service", NEGATIVE)
    whole = hands.here().shipped.procedure
    without = [
        replace(group, steps=tuple(step for step in group.steps if step.key != "negative-look"))
        for group in whole.groups
    ]
    book_says(hands, negative="none", negative_pressure=None, negative_volume=None)
    here = hands.here()
    assert here.conditions["negative"] == "none" and vars(here).pop("conditions")["negative-valve"] == "look"
    here.shipped = replace(here.shipped, procedure=replace(whole, groups=tuple(without)))
    assert here.conditions["negative"] == "separate-valve"


@pytest.mark.parametrize("same_job", [True, False])
@pytest.mark.parametrize("looked", ["negative-look", "second-look"])
def test_what_was_looked_for_and_found_is_let_out_by_its_own_steps_once_the_book_has_it(
    cast: Cast, looked: str, same_job: bool
) -> None:
    """Its page says to write it in the Book; once that was done, no step of any job tested what had failed."""
    keys = NEGATIVE if looked == "negative-look" else springs_kit.SECOND
    hands = springs_kit.begun(cast, "lower-leg-service", keys)
    if looked == "negative-look":
        book_says(hands, negative="self-equalising", negative_pressure=None)
    else:
        without_second(hands)
    now = hands.until(looked)
    assert now is not None
    bad = next(each for each in now.step.evidence[0].options if each not in now.step.evidence[0].passes)
    hands.sign(now, {looked: Answer(choice=bad)})
    book_says(hands, **keys)
    if not same_job:
        job = another(cast, hands.job, "lower-leg-service")
        hands = Hands(cast.technician, job, at=hands.at)
        hands.begin()
    here = hands.here()
    proof = "empty-at-rest" if looked == "negative-look" else "both-empty"
    at = here.slot(proof)
    assert here.slot(looked) is None and at is not None
    if same_job:
        assert here.blocked and here.current is not None and here.at(here.current) < here.at(at)
    assert hands.until("turn-over") is not None
    assert unit_dangers.loaded_of(hands.job) is None and not hands.here().blocked


def as_found_on(cast: Cast, on: Instrument | None) -> Hands:
    """A job of a text of their own, 70 psi as found on its card read on that gauge."""
    job = hollin_job(cast.technician)
    with change(cast.technician, "read", {}) as doing:
        taken = Taken.quantity("pressure", parse("70 psi", "pressure"), "pressure", instrument=on)
        readings.take(doing, job, "as-found", taken)
    job.procedure = own_kit.name_of(own_kit.keep(cast.owner, OWN, "as-it-came"))
    job.save()
    hands = Hands(cast.technician, job)
    hands.begin()
    return hands


def sign_as_on_card(hands: Hands) -> StepEntry:
    answer = Answer(text="70 psi", value_si=70 * PSI_PA, unit="psi", from_card=True)
    with change(hands.who, "sign", {}) as doing:
        named = Instrument.objects.get(code="P2")
        return sign.sign(doing, hands.job, "came-with", {"came-with": answer}, hands.here().seen, instrument=named)


@pytest.mark.parametrize(("known", "why"), [(True, "Gauge P9 is not confirmed"), (False, "on which gauge it was read")])
def test_no_hold_is_judged_as_on_the_card_by_a_gauge_that_did_not_read_it(cast: Cast, known: bool, why: str) -> None:
    """70 psi of a gauge that no owner confirmed, “as on the card”: the step named another one, and passed by that."""
    gauge()
    new = Instrument.objects.create(
        code="P9",
        kind="gauge",
        name="new",
        dimension="pressure",
        span="300 psi",
        mark="10 psi",
        accuracy_class_percent=4.0,
    )
    hands = as_found_on(cast, new if known else None)
    with pytest.raises(Refused, match=why):
        sign_as_on_card(hands)


def test_as_on_the_card_counts_by_the_gauge_that_read_it_though_it_is_put_away(cast: Cast) -> None:
    gauge()
    old = gauge("P5")
    hands = as_found_on(cast, old)
    old.retired_at = START
    old.save()
    entry = sign_as_on_card(hands)
    assert entry.verdict == "passed" and entry.evidence["gauge"] == "P5"


def test_the_bench_file_of_a_charged_unit_says_so_at_its_head(cast: Cast, owner_in: Client) -> None:
    """It left the workshop as a file, with every figure of a fork that nobody may open and no word of that."""
    job = job_states.make(cast, "blocked")
    text = owner_in.get(reverse("bench-file-out", args=[job.unit_id])).content.decode()
    first, _, rest = text.partition("\n")
    assert first.startswith(f"# {job.unit}, job {job.number}: Air stays trapped in the negative chamber.")
    assert read_text(text) == read_text(rest)
    other = job_states.hollin_job(cast.technician)
    assert not owner_in.get(reverse("bench-file-out", args=[other.unit_id])).content.startswith(b"#")


@pytest.mark.parametrize("begun", [False, True])
def test_what_was_read_with_a_gauge_becomes_no_coil(cast: Cast, technician_in: Client, begun: bool) -> None:
    """72 psi as found, and its kind “coil fork” a minute later: steps that let no air out were begun on it."""
    gauge()
    job = hollin_job(cast.technician)
    if begun:
        Job.objects.filter(pk=job.pk).update(procedure="leak-test")
        Hands(cast.technician, Job.objects.get(pk=job.pk)).begin()
    place = reverse("unit-change", args=[job.unit_id])
    answer = people.send(
        technician_in, place, {"kind": "coil-fork", "name": "fork"}, page_path=f"{place}?kind=coil-fork"
    )
    said = f"The steps of job {job.number} are begun for a fork" if begun else f"Job {job.number} read a pressure of it"
    assert answer.status_code == 422 and said in answer.content.decode()
    assert Unit.objects.get(pk=job.unit_id or 0).kind == "fork"


def test_a_step_is_signed_as_its_page_told_it(cast: Cast, technician_in: Client) -> None:
    """“Pump to 72 psi” stood there; the reading was corrected to 92 meanwhile, and the entry says that it was told to pump to 92."""
    gauge()
    job = hollin_job(cast.technician)
    Job.objects.filter(pk=job.pk).update(procedure="leak-test")
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    hands.begin()
    hands._work("inflate")
    one_a_page(cast.technician)
    place = reverse("step", args=[job.number, "inflate"])
    page = technician_in.get(place)
    assert "72" in page.content.decode()
    sent = form_of(page) | {"inflate": "72 psi", "gauge": "P2"}
    with change(cast.owner, "misread", {}) as doing:
        old = readings.current(hands.job, "as-found")["pressure"]
        taken = Taken.quantity("pressure", parse("92 psi", "pressure"), "pressure", instrument=old.instrument)
        readings.correct(doing, old, taken, "misread")
    before = StepEntry.objects.count()
    answer = technician_in.post(place, sent)
    assert answer.status_code == 409 and "What this step says was changed since" in answer.content.decode()
    assert StepEntry.objects.count() == before


HELD = (
    OWN.replace("As it came", "Held under pressure").replace('key = "came"', 'key = "held"')
    + """
[[group.step]]
key = "held-start"
do = "Read the pressure to start the hold."
evidence = [
  { key = "held-degc", kind = "number", label = "Temperature", unit = "degC", low = "-10 degC", high = "45 degC", role = "hold-start-temperature" },
  { key = "held-psi", kind = "number", label = "Pressure", unit = "psi", low = "10 psi", high = "200 psi", role = "hold-start-pressure" },
]
[[group.step]]
key = "held-end"
do = "Read the pressure after 30 minutes."
hold = true
may_skip = MAY
wait = { after = "held-start", minutes = 30 }
evidence = [
  { key = "held-end-degc", kind = "number", label = "Temperature", unit = "degC", low = "-10 degC", high = "45 degC", role = "hold-temperature" },
  { key = "held-end-psi", kind = "number", label = "Pressure", unit = "psi", role = ["hold-pressure", "hold-judged"] },
]
"""
)


@pytest.mark.parametrize("may_skip", [True, False])
def test_a_leak_at_a_hold_that_takes_no_not_done_is_handed_over_by_no_reason(cast: Cast, may_skip: bool) -> None:
    """Of a text of the workshop’s own: 70 psi that were 20 half an hour later went out at the unit’s next job by an owner’s reason."""
    gauge()
    job = hollin_job(cast.technician)
    text = HELD.replace("MAY", "true" if may_skip else "false")
    job.procedure = own_kit.name_of(own_kit.keep(cast.owner, text, "held"))
    job.save()
    hands = Hands(cast.technician, job)
    hands.begin()
    slot = hands._work("held-end")
    assert slot is not None
    answers = {
        "held-end-degc": Answer(text="18 degC", value_si=291.15, unit="degC"),
        "held-end-psi": Answer(text="20 psi", value_si=20 * PSI_PA, unit="psi"),
    }
    assert hands.sign(slot, answers).verdict == "failed"
    told = [each for each in contradictions.faults_of(whole(cast, another(cast, job))) if "leak hold" in each.words]
    assert [each.hard for each in told] == [not may_skip]


def begun_annual(cast: Cast, key: str, procedure: str = "fork-annual") -> Hands:
    gauge()
    job = hollin_job(cast.technician)
    Job.objects.filter(pk=job.pk).update(procedure=procedure)
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    hands.begin()
    assert hands._work(key) is not None
    return hands


SHUT = "Stays shut, goes to its maker"


def test_a_cap_whose_tick_was_taken_back_to_be_done_again_keeps_the_answer(cast: Cast) -> None:
    """The damper’s cap off, its tick taken back: “stays shut” was taken then, and what closes the damper was no step any more."""
    hands = begun_annual(cast, "shims")
    with change(cast.technician, "again", {}, at=hands.at) as doing:
        sign.strike(doing, hands.job, "damper-out", "To be done again", hands.here().seen)
    gas = hands.here().slot("damper-gas")
    assert gas is not None
    with pytest.raises(Refused, match="was signed since, by the answer before"):
        hands.sign(gas, {"damper-gas": Answer(choice=SHUT)}, again=True)
    hands.sign(hands.here().slot("damper-out"))  # type: ignore[arg-type]
    with change(cast.technician, "slip", {}, at=hands.at) as doing:
        sign.strike(doing, hands.job, "damper-out", BY_MISTAKE, hands.here().seen)
    assert hands.sign(gas, {"damper-gas": Answer(choice=SHUT)}, again=True).verdict == "passed"


LIKE_GAS = """grammar = 2
title = "Damper looked at"
version = 1
summary = "What it came with. The maker’s sheet comes first."
for = ["fork"]
plan = false
[[group]]
key = "came"
title = "How it came"
complete = "As found: complete."
[[group.step]]
include = "how-it-came"
[[group]]
include = "relieve"
[[group]]
include = "relieve-second"
[[group]]
include = "damper-out"
[[group]]
key = "look"
title = "Look"
complete = "Look: complete."
[[group.step]]
key = "look"
do = "Look at the card of the damper."
evidence = [{ key = "damper-gas", kind = "choice", label = "It says", options = ["Stays shut, goes to its maker", "Nothing"] }]
[[group]]
include = "damper-rebuilt"
"""


def test_no_other_steps_answer_settles_what_the_job_hangs_on(cast: Cast) -> None:
    """A piece of evidence that has the key of the one that asks for the damper, at another step, and no role: it shut an open damper."""
    own_ = own_kit.name_of(own_kit.keep(cast.owner, LIKE_GAS, "damper-look"))
    hands = begun_annual(cast, "look", own_)
    before = [slot.key for slot in hands.here().slots]
    hands.sign(hands.here().current, {"damper-gas": Answer(choice=SHUT)})  # type: ignore[arg-type]
    here = hands.here()
    assert [slot.key for slot in here.slots] == before and here.conditions["damper"] == "opened"
