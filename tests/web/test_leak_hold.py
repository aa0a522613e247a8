"""The leak hold at the steps: three verdicts from its readings, and every way round them that we could think of."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from topout.errors import FaultsFound
from topout.physics.gas import ATMOSPHERE_PA
from topout.planner.leak import Leak
from topout.planner.variables import VOCABULARY
from topout.procedures import read as procedures
from topout.units import PSI_PA, parse
from topout.web import clock
from topout.web.access.change import change
from topout.web.jobs.core import danger, leak_hold
from topout.web.jobs.desk import up_next
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, Reading, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import drafted
from topout.web.jobs.steps import holds, lines, page, rows, sign
from topout.web.jobs.steps.addresses import list_place
from topout.web.jobs.steps.form import StepForm
from topout.web.jobs.steps.progress import Progress
from topout.web.jobs.steps.sign import Answer, Refused
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import START, Hands, gauge, make_job, passing
from web.test_other_jobs import another, planned

START_PSI, START_K = 73.0, 291.15  # what the kit's hands read at the start of the hold, on a gauge of 1 psi marks


@pytest.fixture
def hands(cast: Cast) -> Hands:
    """A job whose hold was just begun."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    assert hands.until("leak-end") is not None
    return hands


def plain(text: str) -> str:
    return text.replace("\xa0", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def read(hands: Hands, psi: float, minutes: float, degc: float = 18.0, on: Instrument | None = None) -> StepEntry:
    """Read the hold so many minutes after its start was signed."""
    here = hands.here()
    slot = here.slot("leak-end")
    assert slot is not None
    start = StepEntry.objects.filter(step_key="leak-start", verdict="passed").latest("sequence")
    hands.at = start.at + timedelta(minutes=minutes)
    answers = {
        "leak-end-temperature": Answer(text=f"{degc:g} degC", value_si=degc + 273.15, unit="degC"),
        "leak-end-pressure": Answer(text=f"{psi:g} psi", value_si=psi * PSI_PA, unit="psi"),
    }
    with change(hands.who, "sign", {}, at=hands.at) as doing:
        return sign.sign(doing, hands.job, "leak-end", answers, here.seen, instrument=on, again=here.passed(slot))


def said(entry: StepEntry) -> str:
    return plain(entry.evidence["hold"]["says"])


def shown(hands: Hands) -> str:
    """What the page of the step says of the hold now."""
    here = hands.here()
    slot = here.slot("leak-end")
    assert slot is not None
    with clock.frozen(hands.at):
        verdict = page.page(here, slot, StepForm(walk=here, slot=slot))["verdict"]
    return plain(" ".join(verdict.values()))


def listed(browser: Client, hands: Hands, query: str = "") -> str:
    """The page of the hold's group, as a list."""
    here = hands.here()
    slot = here.slot("leak-end")
    assert slot is not None
    with clock.frozen(hands.at):
        return plain(browser.get(f"{list_place(here, here.screen_of(slot))}{query}").content.decode())


def test_half_a_mark_is_nothing_lost_and_what_is_more_is_said() -> None:
    """Half a mark is written as 0, so it is nothing lost; beyond it a figure stands there that is not 0. Tenths are of a gauge marked finer."""
    first = leak_hold.Kept(START, 73 * PSI_PA, START_K)
    last = leak_hold.Kept(START + timedelta(minutes=45), 73 * PSI_PA, START_K)
    of_another = Reading(value_si=0.0, dimension="pressure")  # whichever has the number 1
    assert leak_hold.standing(first, "P2", {1: of_another}) == first, "what has no row is mended by none"
    for lost, words in ((0.499, "nothing lost"), (0.5, "nothing lost"), (0.51, "1 psi lost")):
        leak = Leak("holds", lost * PSI_PA, PSI_PA, 2 * PSI_PA, 73 * PSI_PA, None)
        told = leak_hold.Hold(first, last, "P2", "psi", PSI_PA, ATMOSPHERE_PA, leak)
        assert plain(told.says).startswith(f"It holds: {words}"), told.says
    for mark, words in (("0.95 psi", "1 psi lost"), ("0.94 psi", "0.7 psi lost")):
        leak = Leak("holds", 0.7 * PSI_PA, PSI_PA, 2 * PSI_PA, 73 * PSI_PA, None)
        told = leak_hold.Hold(first, last, "P2", "psi", parse(mark, "pressure").value_si, ATMOSPHERE_PA, leak)
        assert plain(told.says).startswith(f"It holds: {words}"), told.says
    leak = Leak("holds", 3400.0, 1000.0, 1e4, 73 * PSI_PA, None)
    told = leak_hold.Hold(first, last, "P2", "bar", 1000.0, ATMOSPHERE_PA, leak)
    assert plain(told.says).startswith("It holds: 0.03 bar lost"), "no finer than a gauge in bar is marked"


@pytest.mark.parametrize(
    ("missing", "words"),
    [
        ("leak-end-temperature", "No temperature was read"),
        ("leak-end-pressure", "this step can’t be signed without it"),
    ],
)
def test_what_a_hold_lacks_is_said_by_its_own_name(hands: Hands, missing: str, words: str) -> None:
    here = hands.here()
    slot = here.slot("leak-end")
    assert slot is not None
    whole = passing(here, slot)
    hands.at += timedelta(hours=2)
    with pytest.raises(Refused, match=words), change(hands.who, "sign", {}, at=hands.at) as doing:
        sign.sign(doing, hands.job, "leak-end", {k: v for k, v in whole.items() if k != missing}, here.seen)


def test_it_holds_when_the_gauge_can_tell(hands: Hands) -> None:
    entry = read(hands, 73, 44)
    assert entry.verdict == "passed"
    of_before = {key: value for key, value in entry.evidence["hold"].items() if key != "by_clock"}
    again = leak_hold.again(of_before, {})
    assert again is not None and not again.by_clock, "one that was kept before clocks were watched"
    assert "It holds: nothing lost in 44 minutes. At the same temperature" in shown(hands)
    assert hands.here().passed(hands.here().slot("leak-end")) and not danger.of(hands.job)  # type: ignore[arg-type]


def test_it_leaks_and_is_a_danger_like_any_failed_hold_point(hands: Hands) -> None:
    entry = read(hands, 70, 40)
    assert entry.verdict == "failed" and said(entry) == "It leaks: 3 psi in 40 minutes at the same temperature."
    assert not entry.evidence["answers"]["leak-end-pressure"]["pass"], "nor is it read for how the fork left"
    assert "It leaks: 3 psi in 40 minutes at the same temperature" in shown(hands) and "read the start again" in shown(
        hands
    )
    found = danger.of(hands.job)
    assert [plain(each.text) for each in found] == ["It leaks: 3 psi in 40 minutes at the same temperature."]
    assert not found[0].stops and not found[0].grave  # what comes after a leak may be done, and nothing holds it shut
    with pytest.raises(Refused, match="can’t be left out"), change(hands.who, "leave", {}, at=hands.at) as doing:
        sign.leave(doing, hands.job, "leak-end", "not-done", "no time", hands.here().seen)
    assert any("It leaks: 3 psi" in plain(line) for line in drafted.not_checked(hands.job))
    assert not any("Leak hold" in line for line in drafted.done(hands.job))


def test_not_yet_keeps_the_reading_and_says_until_when(hands: Hands) -> None:
    """1 psi marks at 73 psi: 2 % in the hour reach the mark and the temperature's doubt after 43 minutes."""
    entry = read(hands, 73, 31)
    assert entry.verdict == "not-yet" and entry.reading is not None
    tells = hands.here().ready_at(hands.here().slot("leak-end"))  # type: ignore[arg-type]
    start = StepEntry.objects.get(step_key="leak-start", verdict="passed").at
    doubt = ((1.0) ** 2 + (1.96 * 0.5 * (START_PSI + ATMOSPHERE_PA / PSI_PA) / START_K) ** 2) ** 0.5
    assert tells is not None and (tells - start).total_seconds() / 60 == pytest.approx(
        60 * doubt / (0.02 * START_PSI), abs=1
    )
    assert tells.second == 0
    assert "Can’t tell yet with this gauge: read again from " in shown(hands)
    assert "At 18 °C it shows 73 psi with nothing lost." in shown(hands) and "Kept: " in shown(hands)
    with clock.frozen(hands.at):
        words = lines.where_of(hands.here())
        assert words.kind == "waiting" and words.sentence.startswith("Leak hold, read again from ")
        span = up_next.hold_of(hands.here())
        assert span == (start, tells)
        assert up_next.next_of(hands.job).sentence == words.sentence
    assert read(hands, 73, 36).verdict == "not-yet"  # as many as one likes
    assert read(hands, 73, (tells - start).total_seconds() / 60).verdict == "passed", "at the minute that was said"
    assert Reading.objects.filter(kind="leak-end-pressure", corrected_by=None).count() == 3, "none struck another"


def test_a_cooler_room_is_no_leak_and_a_warmer_one_hides_none(hands: Hands) -> None:
    colder = (START_PSI + ATMOSPHERE_PA / PSI_PA) * (273.15 + 8) / START_K - ATMOSPHERE_PA / PSI_PA
    assert read(hands, round(colder), 31, 8).verdict == "not-yet"
    assert f"At 8 °C it shows {colder:.3g} psi with nothing lost." in shown(hands)
    assert read(hands, 73, 50, 31).verdict == "failed", "13 K warmer and no more pressure: 3.9 psi are gone"
    assert "It leaks: 4 psi in 50 minutes at the same temperature" in shown(hands)


def test_while_it_is_typed_the_box_says_what_it_would_show_at_that_temperature(hands: Hands) -> None:
    """By hand, p·T₂/T₁ in absolute pressures; in the gauge's own unit, whatever the other boxes are."""
    here = hands.here()
    slot = here.slot("leak-end")
    assert slot is not None
    colder = (START_PSI + ATMOSPHERE_PA / PSI_PA) * (273.15 + 10) / START_K - ATMOSPHERE_PA / PSI_PA
    typed = {"leak-end-temperature": "10", "leak-end-pressure": "70", "gauge": "P2"}
    echo = page.live(here, slot, StepForm(typed, walk=here, slot=slot))["echo"]
    assert plain(echo["leak-end-pressure"]).endswith(f"{colder:.1f} psi with nothing lost.")
    assert "nothing lost" not in echo["leak-end-temperature"]
    without = page.live(here, slot, StepForm({"leak-end-pressure": "70"}, walk=here, slot=slot))["echo"]
    assert "nothing lost" not in without["leak-end-pressure"], "without its temperature nothing is expected"


def test_other_steps_go_on_meanwhile(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    read(hands, 73, 31)
    here = hands.here()
    with monkeypatch.context() as patched:  # whatever may be done meanwhile, what waits is none of it
        patched.setattr(Progress, "_meanwhile", lambda self, slot: True)
        assert here.meanwhile is not None and here.meanwhile.number > here.current.number  # type: ignore[union-attr]
    here = hands.here()
    with clock.frozen(hands.at):
        assert here.at_hand is not None and here.at_hand.step.key == "oil-spot" and here.meanwhile is not None
        assert here.meanwhile.step.key == "left-clicks", "what comes next hangs on the hold"
        last = replace(here, current=here.slot("length-after-hold"))
        assert last.meanwhile == here.meanwhile, "nor is the first of what may be done passed over"
        assert hands.sign(here.meanwhile, minutes=0).verdict == "passed"
    assert hands.here().current.step.key == "leak-end"  # type: ignore[union-attr]


def test_nothing_is_done_meanwhile_where_nothing_waits(cast: Cast) -> None:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    here = hands.here()
    assert any(here.procedure.group_of(slot.step).meanwhile for slot in here.slots)
    assert here.current is not None and here.meanwhile is None and here.open == here.screen_of(here.current).slots
    done = replace(here, current=None)
    assert done.meanwhile is None and done.open == (), "nor when all is done"


def test_without_a_temperature_nothing_is_told(hands: Hands) -> None:
    hands.at += timedelta(minutes=60)
    answers = {"leak-end-pressure": Answer(text="73 psi", value_si=73 * PSI_PA, unit="psi")}
    with pytest.raises(Refused, match="No temperature was read"), change(hands.who, "sign", {}, at=hands.at) as doing:
        sign.sign(doing, hands.job, "leak-end", answers, hands.here().seen)
    assert not Reading.objects.filter(kind="leak-end-pressure").exists()


def test_an_end_before_its_start_is_refused(cast: Cast) -> None:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hands.until("leak-start")
    with pytest.raises(Refused, match="comes first"):
        hands.sign(hands.here().slot("leak-end"), {})  # type: ignore[arg-type]


def test_before_its_minutes_it_is_refused_whatever_is_read(hands: Hands) -> None:
    with pytest.raises(Refused, match="Not before"):
        read(hands, 73, 10)


def test_a_start_read_again_begins_the_hold_again(hands: Hands) -> None:
    read(hands, 73, 31)
    hands.sign(hands.here().slot("leak-start"), again=True)  # type: ignore[arg-type]
    with pytest.raises(Refused, match="Not before"):
        read(hands, 73, 20)
    assert read(hands, 73, 31).verdict == "not-yet", "the minutes before count no more"


def test_another_gauge_starts_the_hold_anew(hands: Hands) -> None:
    other = gauge("P3")
    entry = read(hands, 73, 50, on=other)
    assert entry.verdict == "not-yet"
    assert "Another gauge, P3: the hold starts anew with this reading. Read again from " in shown(hands)
    assert hands.here().readings["hold-start-pressure"] == pytest.approx(73 * PSI_PA)
    read(hands, 71, 52, on=gauge("P4"), degc=21)
    now = hands.here().readings
    assert now["hold-start-pressure"] == pytest.approx(71 * PSI_PA), (
        "its sentences are of the reading that it began anew with"
    )
    assert now["hold-start-temperature"] == now["hold-temperature"] == pytest.approx(294.15)
    read(hands, 73, 55, on=other)
    assert read(hands, 73, 60, on=other).verdict == "not-yet", "ten minutes on this gauge"
    assert read(hands, 73, 101, on=other).verdict == "passed"


def test_pumping_it_up_meanwhile_starts_the_hold_anew(hands: Hands) -> None:
    """A leak of 3 psi, pumped up before it is read: without this it would pass at once."""
    assert read(hands, 70, 35).verdict == "failed"
    entry = read(hands, 73, 50)
    assert entry.verdict == "not-yet" and "air went in" in said(entry)
    assert danger.of(hands.job), "what failed stays until a hold passes"
    assert read(hands, 73, 95).verdict == "passed" and not danger.of(hands.job)


def test_one_mark_up_is_no_rise(hands: Hands) -> None:
    assert read(hands, 74, 50).verdict == "passed"


def test_a_coarser_gauge_does_not_lift_a_leak(hands: Hands) -> None:
    coarse = gauge("P5")
    Instrument.objects.filter(pk=coarse.pk).update(mark="5 psi")
    coarse.refresh_from_db()
    read(hands, 70, 40)
    with pytest.raises(Refused, match="wider marks"):
        read(hands, 73, 90, on=coarse)


def test_another_step_is_not_bound_to_the_gauge_that_a_hold_failed_on(hands: Hands) -> None:
    """A step is judged on a gauge as fine as the one that it failed on itself, whatever another step failed on."""
    coarse = gauge("P5")
    Instrument.objects.filter(pk=coarse.pk).update(mark="5 psi")
    coarse.refresh_from_db()
    assert read(hands, 70, 40).verdict == "failed"
    here = hands.here()
    start = here.slot("leak-start")
    assert start is not None
    with change(hands.who, "sign", {}, at=hands.at) as doing:
        again = sign.sign(
            doing, hands.job, "leak-start", passing(here, start), here.seen, instrument=coarse, again=True
        )
    assert (again.verdict, again.evidence["gauge"]) == ("passed", "P5")


def test_a_clock_set_back_is_said_and_tells_nothing(hands: Hands) -> None:
    read(hands, 73, 40)
    with pytest.raises(Refused, match="clock stands before"):
        read(hands, 73, 35)
    with pytest.raises(Refused, match="Not before"):
        read(hands, 73, -600)


def test_overnight_with_coarse_marks_and_after_a_restart(cast: Cast) -> None:
    coarse = gauge("P5")
    Instrument.objects.filter(pk=coarse.pk).update(mark="2 psi")
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hands.until("leak-end")
    assert read(hands, 72, 31).verdict == "not-yet"
    tells = hands.here().ready_at(hands.here().slot("leak-end"))  # type: ignore[arg-type]
    start = StepEntry.objects.get(step_key="leak-start", verdict="passed").at
    assert tells is not None and timedelta(hours=8) <= tells - start <= timedelta(hours=8, minutes=1)
    with clock.frozen(start + timedelta(minutes=45)):
        assert "Leak hold, read again from " in lines.where_of(hands.here()).sentence
    connection.close()  # another process, another day: the records are all there is
    afresh = Hands(cast.technician, type(hands.job).objects.get(pk=hands.job.pk), hands.at)
    assert read(afresh, 72, 14 * 60).verdict == "passed"
    assert "in 14 hours" in shown(afresh)
    assert any(
        plain(line).startswith("Leak hold: 73 psi at 18 °C at the start, 72 psi at 18 °C at its end. It holds")
        for line in drafted.done(hands.job)
    )


def test_a_time_of_another_day_says_so(hands: Hands) -> None:
    Instrument.objects.update(mark="2 psi")
    hands.at += timedelta(hours=9)
    slot = hands.here().slot("leak-start")
    assert slot is not None
    hands.sign(slot, again=True)
    read(hands, 72, 31)
    assert " tomorrow." in shown(hands)


def test_correcting_the_start_changes_the_verdict(hands: Hands) -> None:
    """Typed 73, was 76: what held leaks. The step is open again, and it is a danger until a reading passes."""
    assert read(hands, 73, 44).verdict == "passed"
    first = Reading.objects.get(kind="leak-start-pressure")
    with change(hands.who, "correct", {}, at=hands.at) as doing:
        taken = Taken("leak-start-pressure", "76 psi", 76 * PSI_PA, "pressure", "psi", first.instrument, {})
        readings.correct(doing, first, taken, "typed wrong")
    here = hands.here()
    assert not here.passed(here.slot("leak-end"))  # type: ignore[arg-type]
    assert "It leaks: 3 psi in 44 minutes" in shown(hands)
    assert [each.entry.step_key for each in danger.of(hands.job)] == ["leak-end"]


def test_correcting_the_temperature_on_the_card_changes_the_verdict(hands: Hands) -> None:
    assert read(hands, 73, 44, 18).verdict == "passed"
    last = Reading.objects.get(kind="temperature", stage="as-left")
    with change(hands.who, "correct", {}, at=hands.at) as doing:
        readings.correct(
            doing, last, Taken("temperature", "31 degC", 304.15, "temperature", "degC", None, {}), "misread"
        )
    assert danger.of(hands.job) and "It leaks: 4 psi" in shown(hands)


def test_a_temperature_read_again_later_is_another_moment(hands: Hands) -> None:
    assert read(hands, 73, 44, 18).verdict == "passed"
    with change(hands.who, "read", {}, at=hands.at + timedelta(hours=5)) as doing:
        readings.take(
            doing, hands.job, "as-left", Taken("temperature", "31 degC", 304.15, "temperature", "degC", None, {})
        )
    here = hands.here()
    assert here.passed(here.slot("leak-end")) and not danger.of(hands.job)  # type: ignore[arg-type]


@pytest.mark.parametrize("read_once", [True, False])
def test_a_correction_on_another_gauge_tells_nothing(hands: Hands, read_once: bool) -> None:
    if read_once:
        assert read(hands, 73, 44).verdict == "passed"
    first, other = Reading.objects.get(kind="leak-start-pressure"), gauge("P9")
    with change(hands.who, "correct", {}, at=hands.at) as doing:
        readings.correct(
            doing, first, Taken(first.kind, "73 psi", 73 * PSI_PA, "pressure", "psi", other, {}), "wrong gauge"
        )
    here = hands.here()
    slot = here.slot("leak-end")
    assert slot is not None and not here.passed(slot)
    if not read_once:
        assert holds.worth_reading(here, slot) is None
        with pytest.raises(Refused, match="The hold has no first reading"):
            read(hands, 73, 50)


def test_the_page_says_it_and_takes_a_reading_before_its_time(hands: Hands, technician_in: Client) -> None:
    read(hands, 73, 31)
    slot = hands.here().slot("leak-end")
    assert slot is not None
    where = f"/jobs/{hands.job.number}/steps/{slot.step.key}/"
    with clock.frozen(hands.at):
        shut = technician_in.get(where).content.decode()
        assert "It can be told from" in shut and "Read it now" in shut and 'name="leak-end-pressure"' not in shut
        assert 'name="leak-end-pressure"' in technician_in.get(f"{where}?again").content.decode()
        assert "Leak hold, read again from" in technician_in.get("/").content.decode()


def test_the_list_says_it_too(hands: Hands, technician_in: Client) -> None:
    read(hands, 73, 31)
    found = listed(technician_in, hands)
    assert "Can’t tell yet with this gauge: read again from 10:" in found and "Read it now" in found
    assert 'name="leak-end-pressure"' in listed(technician_in, hands, "?put=leak-end")
    assert read(hands, 70, 40).verdict == "failed"
    assert "It leaks: 3 psi in 40 minutes at the same temperature." in listed(technician_in, hands)
    assert read(hands, 73, 45).verdict == "not-yet" and read(hands, 73, 95).verdict == "passed"
    assert "It leaks" not in listed(technician_in, hands)


def test_the_list_leads_to_the_bench_with_the_time_from_which_its_hold_is_due(hands: Hands) -> None:
    here = hands.here()
    slot = here.slot("leak-end")
    assert slot is not None
    due = here.ready_at(slot)
    assert due is not None and due > hands.at
    for at, says in ((hands.at, f"{timezone.localtime(due):%H:%M}"), (due, "")):
        with clock.frozen(at):
            assert rows.list_page(hands.here(), here.screen_of(slot))["ready"] == says


def test_no_hold_is_judged_on_a_gauge_that_nobody_confirmed(hands: Hands) -> None:
    Instrument.objects.update(confirmed_at=None)
    with pytest.raises(Refused, match="not confirmed"):
        read(hands, 73, 50)


HOLD = """grammar = 2
title = "A hold of our own"
version = 1
summary = "The fork is held under pressure."
plan = false
[[group]]
key = "hold"
title = "Hold"
complete = "Hold: complete."
[[group.step]]
key = "start"
do = "Read the pressure."
evidence = [
  { key = "first-temperature", kind = "number", label = "Temperature", unit = "degC", low = "0 degC", high = "45 degC", role = "hold-start-temperature" },
  { key = "first", kind = "number", label = "Pressure", unit = "psi", low = "10 psi", high = "300 psi", role = "hold-start-pressure" },
]
[[group.step]]
key = "end"
do = "Read the pressure again."
wait = { after = "start", minutes = 30 }
evidence = [
  { key = "last-temperature", kind = "number", label = "Temperature", unit = "degC", low = "0 degC", high = "45 degC", role = "hold-temperature" },
  { key = "last", kind = "number", label = "Pressure", unit = "psi", role = "hold-judged" },
]
"""


def test_a_procedure_of_ones_own_may_have_a_hold() -> None:
    assert procedures.read(HOLD, "own", VOCABULARY).title == "A hold of our own"


@pytest.mark.parametrize(
    ("was", "now", "says"),
    [
        ('wait = { after = "start", minutes = 30 }\n', "", "hold-start-pressure"),
        (', role = "hold-start-temperature"', "", "hold-start-temperature"),
        (', role = "hold-start-pressure"', ', role = "hold-start-pressure", optional = true', "hold-start-pressure"),
        ('role = "hold-temperature"', 'optional = true, role = "hold-temperature"', "hold-temperature"),
        ('role = "hold-judged"', 'low = "10 psi", role = "hold-judged"', "judged by its readings"),
        ('role = "hold-judged"', 'optional = true, role = "hold-judged"', "may not be left out"),
    ],
)
def test_the_checker_finds_a_hold_that_can_tell_nothing(was: str, now: str, says: str) -> None:
    text = HOLD.replace(was, now)
    assert text != HOLD
    with pytest.raises(FaultsFound, match=says):
        procedures.read(text, "own", VOCABULARY)


def test_a_hold_that_was_pumped_into_is_none(hands: Hands) -> None:
    """What leaked in twenty minutes was pumped back at a step signed once more: "nothing lost in 60 minutes"."""
    here = hands.here()
    fill = [slot for slot in here.slots if slot.step.key == "fill"][-1]
    hands.at += timedelta(minutes=20)
    hands.sign(fill, again=True)
    pumped = f"{hands.at:%H:%M}"
    with pytest.raises(sign.Refused, match=f"Step {fill.number} pumped at {pumped}, since step .* Sign step .* again"):
        read(hands, 73, 60)
    start = hands.here().slot("leak-start")
    assert start is not None
    hands.sign(start, again=True)
    assert read(hands, 73, 60).verdict == "passed"


def test_a_gauge_pushed_on_at_another_job_ends_a_hold_too(cast: Cast) -> None:
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    first._work("leak-end")
    second = planned(cast, another(cast, job, "leak-test"), first)
    second._work("leak-start")
    second.at += timedelta(minutes=10)
    first.at = second.at
    start = second.here().slot("leak-start")
    assert start is not None
    second.sign(start)
    with pytest.raises(sign.Refused, match=f"Job {second.job.number} read its pressure at "):
        first.sign(first.here().slot("leak-end"), minutes=90)  # type: ignore[arg-type]
