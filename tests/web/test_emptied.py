"""What proved a unit empty proves it until it is loaded again; what is opened again is closed and tested again; what lies open is told by the words of a step too."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from topout.units import parse
from topout.web.access.change import change
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import undone_by
from topout.web.jobs.steps.sign import Answer, Refused
from topout.web.jobs.steps.slots import BY_MISTAKE
from web import job_states, own_kit, springs_kit, test_other_end_steps
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import Hands, failing, gauge
from web.test_other_jobs import another, handed_back, planned

PROOFS = ("main-vent-port", "empty-at-rest", "empty-by-shaft")
OWN = """grammar = 2
title = "Cap care"
version = 1
summary = "The cap off, cleaned, on again, pumped. The maker’s sheet comes first."
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
key = "cap-care"
title = "The cap"
complete = "Cap: complete."
[[group.step]]
key = "care-off"
do = "Unscrew the cap."
evidence = [{ key = "care-off", kind = "tick", label = "Off" }]
[[group.step]]
key = "care-on"
do = "Put the cap on again."
hold = true
evidence = [{ key = "care-on", kind = "tick", label = "On" }]
[[group.step]]
key = "care-pump"
do = "Pump it to what the rider wants."
evidence = [{ key = "care-pump", kind = "number", label = "Pressure", unit = "psi", low = "0 psi", high = "300 psi" }]
"""


def again(hands: Hands, *keys: str) -> None:
    """Sign these steps once more."""
    for key in keys:
        slot = hands.here().slot(key)
        assert slot is not None
        assert hands.sign(slot, again=True).verdict == "passed"


def test_what_another_job_pumped_since_is_let_out_again_before_anything_is_opened(cast: Cast) -> None:
    """Proved empty at one job, pumped to 70 psi at the next one of the same fork: its top cap came off by the first one's proofs."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    cap = first._work("cap-off")
    second = planned(cast, another(cast, job, "leak-test"), first)
    second._work("leak-start")
    first.at = second.at
    assert cap is not None
    with pytest.raises(Refused, match=rf"Job {second.job.number} pumped it up at .* Do step \d+ again first"):
        first.sign(cap)
    again(first, "main-vent-port")
    with pytest.raises(Refused, match="Do step"):
        first.sign(cap)
    again(first, "empty-at-rest")
    assert first.sign(cap).verdict == "passed"


def test_a_pressure_written_on_another_card_is_one_too(cast: Cast) -> None:
    """Pumped by hand at a job without steps: all that says so is what was written down as left."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    ring, other = first._work("ring-out"), another(cast, job)
    first.at += timedelta(minutes=2)
    typed = parse("80 psi", "pressure")
    with change(cast.technician, "read", {}, at=first.at) as doing:
        taken = Taken.quantity("pressure", typed, "pressure", instrument=Instrument.objects.get())
        left = readings.take(doing, other, "as-left", taken)
    assert ring is not None
    with pytest.raises(Refused, match=f"^80\xa0psi .* was written down on job {other.number}"):
        first.sign(ring)
    for text, passes in (("82 psi", False), ("0 psi", True)):
        with change(cast.technician, "slip", {"now": text}, at=first.at) as doing:
            taken = Taken.quantity("pressure", parse(text, "pressure"), "pressure")
            left = readings.correct(doing, left, taken, "a slip of the pen")
        if passes:
            assert first.sign(ring).verdict == "passed"
            continue
        with pytest.raises(Refused, match="^82"):
            first.sign(ring)


def test_a_pressure_written_on_another_card_ends_a_leak_hold(cast: Cast) -> None:
    """What had leaked was pumped back at a job without steps, whose card said so: the hold “held”."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    end, other = first._work("leak-end"), another(cast, job)
    taken = Taken.quantity("pressure", parse("70 psi", "pressure"), "pressure", instrument=Instrument.objects.get())
    with change(cast.technician, "read", {}, at=first.at + timedelta(minutes=10)) as doing:
        readings.take(doing, other, "as-left", taken)
    assert end is not None
    with pytest.raises(Refused, match=f"Job {other.number} read its pressure at"):
        first.sign(end, minutes=90)


def test_what_the_forks_job_pumped_behind_is_let_out_before_the_can_comes_off(
    cast: Cast, technician_in: Client
) -> None:
    """Its own job had proved the shock empty; the fork’s job set it to its pressure, and the can was unscrewed by the old proof."""
    fork, hands = test_other_end_steps.begun(technician_in, cast)
    there = Hands(cast.technician, another(cast, fork, "rear-shock-air-can", unit=core.other_end(fork)), at=hands.at)
    there.begin()
    can, pump = there._work("can-off"), hands.here().current
    assert can is not None and pump is not None
    hands.at = there.at
    hands.sign(pump)
    there.at = hands.at
    with pytest.raises(Refused, match=f"Job {fork.number} pumped it up at"):
        there.sign(can)


def test_what_this_job_filled_is_let_out_before_it_is_opened_again(cast: Cast) -> None:
    """At the leak hold the circlip’s step could be signed once more, with 70 psi behind it."""
    gauge()
    hands = planned(cast, hollin_job(cast.technician))
    hands._work("leak-start")
    ring = hands.here().slot("ring-out")
    assert ring is not None
    with pytest.raises(Refused, match="pumped it up at"):
        hands.sign(ring, again=True)
    again(hands, *PROOFS, "ring-out")
    now = hands.here()
    assert now.current is not None and now.at(now.current) > now.at(ring)
    shut = now.slot("ring-seated")
    assert shut is not None and not now.passed(shut), "opened again, it is closed and tested again"
    fill = now.slot("fill", 1)
    assert fill is not None
    with pytest.raises(Refused, match="comes first"):
        hands.sign(fill, again=True)


def test_what_was_found_charged_is_opened_by_no_proof_of_before(cast: Cast) -> None:
    """The shaft moved by itself; the cap, signed before that and so open still, came off once more behind the stop page."""
    gauge()
    hands = planned(cast, hollin_job(cast.technician))
    point = hands._work("empty-by-shaft")
    cap = hands.here().slot("cap-off")
    assert point is not None and cap is not None
    hands.sign(point, failing(hands.here(), point))
    with pytest.raises(Refused, match="charged, do not open"):
        hands.sign(cap, again=True)


def test_a_coil_that_was_wound_up_since_is_unwound_before_its_cap_comes_off(cast: Cast) -> None:
    gauge()
    hands = springs_kit.taken_in(cast, "coil-lower-legs", asked=springs_kit.PLANS["preload"])
    hands.begin()
    foot = hands._work("foot-bolts")
    two = Hands(cast.technician, another(cast, hands.job, "coil-fork-annual"), at=hands.at)
    two.begin()
    two._work(None)
    hands.at = two.at
    assert foot is not None
    with pytest.raises(Refused, match=f"Job {two.job.number} wound the coil up at"):
        hands.sign(foot)


def test_what_lies_open_at_a_job_whose_steps_cannot_be_read_is_not_pumped(cast: Cast) -> None:
    """Its cap off, the coil fork became an air fork in the Book: its own steps could not be walked, and the next job pumped it."""
    gauge()
    hands = springs_kit.taken_in(cast, "coil-fork-annual")
    hands.begin()
    hands._work("coil-cap-on")
    unit = hands.job.unit
    assert unit is not None
    unit.kind, unit.tables = "fork", {}
    unit.save()
    job = Job.objects.get(pk=another(cast, hands.job, "leak-test").pk)
    two = Hands(cast.technician, job, at=hands.at)
    two.begin()
    pump = two._work("inflate")
    assert pump is not None
    with pytest.raises(Refused, match="it lies open there, and where its steps stand can’t be read: These steps are"):
        two.sign(pump)
    handed_back(cast, hands.job)
    with pytest.raises(Refused, match="it went back open, not fit to ride, and where its steps stand can’t be read"):
        two.sign(pump)


@pytest.mark.parametrize(("reason", "is_open"), [("Has to be done again", True), (BY_MISTAKE, False)])
def test_a_tick_that_was_taken_back_closes_nothing(cast: Cast, reason: str, is_open: bool) -> None:
    """The cap was off; its tick taken back to do it once more, the fork counted as never opened."""
    gauge()
    row = own_kit.keep(cast.owner, OWN, "cap-care")
    job = hollin_job(cast.technician)
    job.procedure = own_kit.name_of(row)
    job.save()
    first = planned(cast, job)
    first._work("care-on")
    with change(cast.technician, "back", {}, at=first.at) as doing:
        sign.strike(doing, job, "care-off", reason, first.here().seen)
    second = planned(cast, another(cast, job, "leak-test"), first)
    pump = second._work("inflate")
    assert pump is not None
    if is_open:
        with pytest.raises(Refused, match="it lies open there"):
            second.sign(pump)
    else:
        assert second.sign(pump).verdict == "passed"


def test_a_step_of_their_own_does_what_its_words_say(cast: Cast) -> None:
    """“Unscrew the cap”, “Pump it”: without the roles the checker took them, and a job beside them saw neither."""
    gauge()
    row = own_kit.keep(cast.owner, OWN, "cap-care")
    job = hollin_job(cast.technician)
    own = planned(cast, another(cast, job, own_kit.name_of(row)))
    own._work("care-on")
    second = planned(cast, another(cast, job, "leak-test"), own)
    pump = second._work("inflate")
    assert pump is not None
    with pytest.raises(Refused, match="it lies open there"):
        second.sign(pump)
    own.at = second.at
    last = own._work("care-pump")
    first = planned(cast, job, own)
    first._work("ring-seated")
    own.at = first.at
    assert last is not None
    with pytest.raises(Refused, match=f"Job {job.number}, the same unit: it lies open there"):
        own.sign(last)


def test_what_the_words_alone_pump_keeps_to_the_makers_limit(cast: Cast) -> None:
    """A band to 300 psi and no role: 200 psi passed on a fork of which the Book says 120 at most."""
    gauge()
    row = own_kit.keep(cast.owner, OWN, "cap-care")
    own = planned(cast, another(cast, hollin_job(cast.technician), own_kit.name_of(row)))
    pump = own._work("care-pump")
    assert pump is not None

    def pumped(psi: int) -> str:
        answer = Answer(text=f"{psi} psi", value_si=parse(f"{psi} psi", "pressure").value_si, unit="psi")
        return own.sign(pump, {"care-pump": answer}).verdict

    assert (pumped(200), pumped(100)) == ("failed", "passed")


def test_what_is_signed_again_says_before_what_it_undoes(cast: Cast, technician_in: Client) -> None:
    """The circlip's step, read again by a slip, opened the fork again: what was signed behind it was gone without a word before."""
    gauge()
    hands = planned(cast, hollin_job(cast.technician))
    ring = hands._work("tug")
    out = hands.here().slot("ring-out")
    assert ring is not None and out is not None
    place = f"/jobs/{hands.job.number}/steps"
    undone = undone_by(hands.here(), out)
    assert undone and undone[-1].number < ring.number and all(each.number > out.number for each in undone)
    said = f"<b>Signed again, it is open again.</b> What was signed from step {undone[0].words} on is then done again."
    list_ = hands.here().screen_of(out)
    assert len(list_.slots) > 1 and list_.slots[-1].number < undone[0].number, "what stands beside it on its page stays"
    first = f"{place}/ring-out/list/?struck=ring-out" if list_.rows else f"{place}/ring-out/"
    assert said in technician_in.get(first, follow=True).content.decode()
    assert "open again" not in technician_in.get(f"{place}/empty-by-shaft/").content.decode(), "it opens nothing"
    hands.sign(out, again=True)
    here = hands.here()
    assert here.current is not None and here.current.number <= undone[0].number
    assert not any(here.settled(each) for each in undone) and undone_by(here, out) == []


def on_card(
    cast: Cast, job: Job, stage: str, kind: str, text: str, dimension: str, hands: Hands, minutes: float = 2
) -> None:
    """Something written on a card so many minutes after the hands' last sign."""
    hands.at += timedelta(minutes=minutes)
    on = Instrument.objects.get() if dimension == "pressure" else None
    with change(cast.technician, "read", {"kind": kind}, at=hands.at) as doing:
        readings.take(doing, job, stage, Taken.quantity(kind, parse(text, dimension), dimension, instrument=on))


@pytest.mark.parametrize("stage", ["as-found", "as-left"])
def test_a_sag_on_the_card_of_a_job_without_steps_says_that_it_was_loaded(cast: Cast, stage: str) -> None:
    """Pumped by hand, its rider on it, the sag written down and no pressure: the circlip came out by the proofs of before."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    ring = first._work("ring-out")
    assert ring is not None
    on_card(cast, another(cast, job), stage, "sag", "31 mm", "length", first)
    with pytest.raises(Refused, match="^31\xa0mm .* was written down on job"):
        first.sign(ring)


def test_a_preload_on_the_card_of_a_job_without_steps_says_that_a_coil_was_wound_up(cast: Cast) -> None:
    """Proved loose at one job, wound up by 12 mm at one without steps: the cap came off under it by the first one's proof."""
    hands = springs_kit.taken_in(cast, "coil-fork-annual")
    hands.begin()
    cap = hands._work("coil-cap-off")
    assert cap is not None
    on_card(cast, another(cast, hands.job), "as-left", "preload", "12 mm", "length", hands)
    with pytest.raises(Refused, match="^12\xa0mm .* was written down on job"):
        hands.sign(cap)


def test_a_pressure_as_found_that_is_read_after_the_proof_is_in_the_fork(cast: Cast) -> None:
    """On the job’s own card, at its own step once more: pumped by hand to see how it came, the circlip came out by the proofs of before."""
    gauge()
    first = planned(cast, hollin_job(cast.technician))
    ring = first._work("ring-out")
    assert ring is not None
    on_card(cast, first.job, "as-found", "pressure", "70 psi", "pressure", first)
    with pytest.raises(Refused, match="^70\xa0psi .* was written down on job"):
        first.sign(ring)


def test_a_clock_that_was_set_back_hides_no_pressure(cast: Cast) -> None:
    """An hour back after the proof, and right again: what was pumped in between bore an earlier time than the proof."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    ring = first._work("ring-out")
    assert ring is not None
    on_card(cast, another(cast, job), "as-left", "pressure", "80 psi", "pressure", first, minutes=-60)
    first.at += timedelta(minutes=61)
    with pytest.raises(Refused, match="^80\xa0psi .* was written down on job"):
        first.sign(ring)


def replanned(hands: Hands, asked: Tables) -> list[str]:
    """Another plan is put to use; the steps that are open or to come, by key."""
    with change(hands.who, "another plan", {}, at=hands.at) as doing:
        core.freeze(doing, hands.job, asked)
    here = hands.here()
    assert here.current is not None
    return [slot.step.key for slot in here.slots[here.at(here.current) :]]


def test_a_plan_that_leaves_the_spacers_closes_no_cap_that_is_off(cast: Cast) -> None:
    """The cap off, and a new plan with as many spacers as were in: its steps went, and “Pump to 70 psi” came next."""
    gauge()
    hands = planned(
        cast, another(cast, hollin_job(cast.technician), "pressure-and-spacers"), pressure="70 psi", spacers=1
    )
    assert hands._work("spacers-in") is not None
    as_it_was: Tables = {"change": {"pressure": "70 psi", "spacers": 2}}
    assert replanned(hands, as_it_was)[:4] == ["spacers-in", "cap-torque", "core-in", "pumped"]
    with change(cast.technician, "slip", {}, at=hands.at) as doing:
        sign.strike(doing, hands.job, "cap-off", BY_MISTAKE, hands.here().seen)
    assert "cap-off" not in [slot.step.key for slot in hands.here().slots], "it never was off"


@pytest.mark.parametrize("word", ["not-done", "not-known"])
def test_nothing_is_pumped_behind_a_cap_that_was_left(cast: Cast, technician_in: Client, word: str) -> None:
    """A cap left “not done”, and the air came next."""
    gauge()
    hands = planned(
        cast, another(cast, hollin_job(cast.technician), "pressure-and-spacers"), pressure="70 psi", spacers=1
    )
    cap = hands._work("cap-torque")
    assert cap is not None
    with change(cast.technician, "left", {}, at=hands.at) as doing:
        sign.leave(doing, hands.job, "cap-torque", word, "Another task came first", hands.here().seen)
    pump = hands._work("pumped")
    assert pump is not None and hands.here().left(cap)
    signed = f"Step {cap.words} was left: “Tighten the top cap, threaded in by hand first.” Nothing is pumped"
    with pytest.raises(Refused, match=signed):
        hands.sign(pump)
    page = technician_in.get(f"/jobs/{hands.job.number}/steps/", follow=True).content.decode()
    assert "Nothing is pumped or wound up before that is done." in page
    with change(cast.technician, "after all", {}, at=hands.at) as doing:
        sign.strike(doing, hands.job, "cap-torque", BY_MISTAKE, hands.here().seen)
    assert hands._work("pumped") is not None and hands.sign(pump).verdict == "passed"


@pytest.mark.parametrize(
    ("before", "after", "reached", "closes"),
    [
        ("rate", "preload", "coil-bind", ["coil-bind", "coil-greased", "coil-in", "coil-cap-on"]),
        ("travel", "rate", "ring-seated", ["ring-seated", "tug", "legs-on"]),
    ],
)
def test_a_plan_of_less_leaves_no_coil_fork_open(
    cast: Cast, before: str, after: str, reached: str, closes: list[str]
) -> None:
    """The cap off, or the circlip out, and a new plan that wants neither: their steps went, and the preload was wound up."""
    hands = springs_kit.taken_in(cast, "coil-spring-change", asked=springs_kit.PLANS[before])
    hands.begin()
    assert hands._work(reached) is not None
    assert replanned(hands, springs_kit.PLANS[after])[: len(closes)] == closes
    assert hands.until(None) is None and sign.finished(hands.job)


def test_another_plan_that_opens_the_same_asks_what_it_wants(cast: Cast) -> None:
    """From shorter to longer with the circlip out: the frame’s limit is asked for, that of before hides it not."""
    hands = springs_kit.taken_in(cast, "coil-spring-change", asked=springs_kit.PLANS["travel"])
    hands.begin()
    assert hands._work("ring-seated") is not None and hands.here().conditions["travel"] == "shorter"
    replanned(hands, {"change": {"travel": "150 mm"}, "change.coil": {"preload": "12 mm"}})
    assert hands.here().conditions["travel"] == "longer"


def test_what_the_unit_is_the_book_may_put_right_though_it_was_open(cast: Cast) -> None:
    """Closed as one that fills itself, “pull the shaft out until they meet”, and a coil pulls it in: the coil’s steps come all the same."""
    gauge()
    hands = planned(cast, hollin_job(cast.technician))
    assert hands._work("spacers-in") is not None and hands.here().passed(hands.here().slot("close"))  # type: ignore[arg-type]
    unit = hands.job.unit
    assert unit is not None
    unit.tables = {**unit.tables, "fork.air": {**unit.tables["fork.air"], "negative": "none"}}
    del unit.tables["fork.air"]["negative_volume"]
    unit.save()
    hands.job = Job.objects.get(pk=hands.job.pk)
    assert {"close-none", "fill-main"} <= set(replanned(hands, job_states.CHANGE))
