"""The lists: a group's reversible steps on one page. What a tick signs, what takes it back, and every way round it that we know."""

from __future__ import annotations

import random
import re
from collections import Counter
from typing import Any

import pytest
from django.test import Client

from topout.web.access.change import change, new_key
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Photo, Reading, StepEntry, StepsShown
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import LEFT, Screen, Slot
from web import people
from web.people import Cast
from web.steps_kit import BENCH, Hands, failing, freeze, gauge, make_job, passing


def list_of(hands: Hands, key: str) -> Screen:
    """The list that a step stands in, worked up to its first row."""
    here = hands.here()
    slot = here.slot(key)
    assert slot is not None
    screen = here.screen_of(slot)
    assert screen.rows and len(screen.slots) > 1
    hands.until(screen.slots[0].step.key)
    return screen


def page(browser: Client, slot: Slot, more: str = "") -> str:
    answer = browser.get(f"/jobs/301/steps/{slot.step.key}/list/{more}")
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()


def token(browser: Client) -> str:
    return people.token(browser)


def hidden(hands: Hands, browser: Client, **more: str) -> dict[str, str]:
    """What a list's forms carry as they stand now."""
    return {
        "csrfmiddlewaretoken": token(browser), "change_key": new_key(), "seen": str(hands.here().seen), "list": "1", **more
    }  # fmt: skip


def given(hands: Hands, slot: Slot) -> dict[str, Any]:
    answers = passing(hands.here(), slot)
    return {k: "on" if a.tick else a.choice or a.text for k, a in answers.items()}


def ticks(screen: Screen) -> list[Slot]:
    return [slot for slot in screen.slots if [each.kind for each in slot.step.evidence] == ["tick"]]


def test_a_tick_signs_one_step_with_its_own_time_and_person(hands: Hands, cast: Cast) -> None:
    screen = list_of(hands, "shaft-out")
    jory, maud = people.browser(cast.technician), people.browser(cast.owner)
    first, second = ticks(screen)[:2]
    for browser, slot in ((jory, first), (maud, second)):
        answer = browser.post(f"/jobs/301/steps/{slot.step.key}/", hidden(hands, browser) | given(hands, slot))
        assert answer.status_code == 303
        assert answer.headers["Location"].partition("?")[0] == f"/jobs/301/steps/{screen.slots[0].step.key}/list/"
    entries = [StepEntry.objects.get(step_key=slot.step.key, verdict="passed") for slot in (first, second)]
    assert [entry.who.username for entry in entries] == ["jory", "maud"]
    text = page(jory, screen.slots[0])
    assert text.count("Jory Pask") >= 1 and text.count("Maud Askel") >= 1
    assert f"{len(screen.slots) - 2} still open" in text
    assert len(re.findall(r'class="go"', text)) == 1 and "Next: step" in text


def test_rows_may_be_ticked_in_any_order_and_the_list_ends_where_all_are_signed(hands: Hands, cast: Cast) -> None:
    screen = list_of(hands, "shaft-out")
    browser = people.browser(cast.technician)
    for slot in reversed(screen.slots):
        answer = browser.post(f"/jobs/301/steps/{slot.step.key}/", hidden(hands, browser) | given(hands, slot))
        assert answer.status_code == 303, slot.step.key
    text = page(browser, screen.slots[0])
    assert f"Done: {len(screen.slots)} steps" in text and "still open" not in text
    after = hands.here()
    assert after.current is not None and not screen.holds(after.current)
    assert browser.get("/jobs/301/steps/").headers["Location"].startswith(f"/jobs/301/steps/{after.current.step.key}/")


def test_a_row_is_ticked_from_a_page_on_which_only_its_neighbour_was_ticked_since(hands: Hands, cast: Cast) -> None:
    """Two at one list, each with the page as it was at first: both sign. The same row once more from that page signs nothing."""
    screen = list_of(hands, "shaft-out")
    freeze(cast.technician, hands.job, BENCH, hands.at)  # the page is drawn after it: it came not since
    assert [each.number for each in hands.here().screens] == list(range(1, len(hands.here().screens) + 1))
    first, second = ticks(screen)[:2]
    jory, maud = people.browser(cast.technician), people.browser(cast.owner)
    forms = [
        (jory, first, hidden(hands, jory)),
        (maud, second, hidden(hands, maud)),
        (maud, first, hidden(hands, maud)),
    ]
    told = [
        browser.post(f"/jobs/301/steps/{slot.step.key}/", form | given(hands, slot)) for browser, slot, form in forms
    ]
    assert [answer.status_code for answer in told[:2]] == [303, 303] and told[2].status_code != 303
    signed = StepEntry.objects.filter(step_key__in=[first.step.key, second.step.key], verdict="passed").order_by(
        "sequence"
    )
    assert [(entry.step_key, entry.who.username) for entry in signed] == [
        (first.step.key, "jory"), (second.step.key, "maud"),
    ]  # fmt: skip


def test_a_tick_is_struck_with_a_reason_and_stays_to_be_read(hands: Hands, cast: Cast) -> None:
    screen = list_of(hands, "shaft-out")
    browser = people.browser(cast.technician)
    slot = ticks(screen)[0]
    place = f"/jobs/301/steps/{slot.step.key}/"
    browser.post(place, hidden(hands, browser) | given(hands, slot))
    signed = StepEntry.objects.get(step_key=slot.step.key, verdict="passed")
    assert f'href="?struck={slot.step.key}"' in page(browser, slot, "")
    assert "Why?" in page(browser, slot, f"?struck={slot.step.key}")
    nothing = browser.post(place + "struck/", hidden(hands, browser))
    assert nothing.status_code == 422 and "Say why." in nothing.content.decode()
    assert hands.here().settled(slot)
    drawn, beside = hidden(hands, browser, because="left lip folded"), ticks(screen)[1]
    hands.sign(beside)
    assert browser.post(place + "struck/", drawn).status_code == 303, "its neighbour alone was ticked since"
    assert not hands.here().settled(slot)
    assert StepEntry.objects.get(pk=signed.pk).verdict == "passed"
    struck = StepEntry.objects.get(step_key=slot.step.key, verdict="struck")
    assert struck.evidence == {"strikes": signed.sequence, "reason": "left lip folded"}
    assert "struck: left lip folded" in page(browser, slot)
    assert browser.post(place, hidden(hands, browser) | given(hands, slot)).status_code == 303
    assert hands.here().settled(slot) and "struck: left lip folded" in page(browser, slot)


@pytest.mark.parametrize(("sent", "verdict", "says"), [
    ({"reason": "Not needed on this unit"}, "not-done", "Not done: Not needed on this unit"),
    ({"because": "no stand here"}, "not-done", "Not done: no stand here"),
    ({"verdict": "not-known"}, "not-known", "Not known."),
])  # fmt: skip
def test_a_step_is_left_with_a_reason_signed_and_the_work_goes_on(
    hands: Hands, cast: Cast, sent: dict[str, str], verdict: str, says: str
) -> None:
    screen = list_of(hands, "shaft-out")
    browser = people.browser(cast.technician)
    slot = next(each for each in screen.slots if each.step.may_skip)
    place = f"/jobs/301/steps/{slot.step.key}/left/"
    assert f"Step {slot.number} was not done. Why?" in browser.get(place).content.decode()
    assert browser.post(place, hidden(hands, browser)).status_code == 422
    assert browser.post(place, hidden(hands, browser) | sent).status_code == 303
    entry = StepEntry.objects.get(step_key=slot.step.key, verdict=verdict)
    assert entry.who == cast.technician
    here = hands.here()
    assert here.left(slot) and not here.passed(slot) and here.current is not None and here.current.key != slot.key
    assert says in page(browser, slot)
    # Done after all: signed, and no longer left.
    assert (
        browser.post(f"/jobs/301/steps/{slot.step.key}/", hidden(hands, browser) | given(hands, slot)).status_code
        == 303
    )
    assert hands.here().passed(slot)


def test_a_number_that_can_not_be_read_stays_beside_the_list(hands: Hands, cast: Cast) -> None:
    screen = list_of(hands, "gauge-zero")
    browser = people.browser(cast.technician)
    slot = next(each for each in screen.slots if each.step.key == "gauge-zero")
    key = slot.step.evidence[0].key
    assert 'class="keys"' in page(browser, slot, f"?put={slot.step.key}")
    wrong = browser.post(f"/jobs/301/steps/{slot.step.key}/", hidden(hands, browser) | {key: "about 17"})
    text = wrong.content.decode()
    assert (
        wrong.status_code == 422 and 'class="acts"' in text and 'value="about 17"' in text and 'class="fault"' in text
    )
    assert not StepEntry.objects.filter(step_key=slot.step.key, verdict="passed").exists()


def test_one_step_a_page_is_remembered_for_the_person_alone(hands: Hands, cast: Cast) -> None:
    screen = list_of(hands, "shaft-out")
    jory, maud = people.browser(cast.technician), people.browser(cast.owner)
    first = screen.slots[0].step.key
    assert jory.get("/jobs/301/steps/").headers["Location"] == f"/jobs/301/steps/{first}/list/"
    answer = jory.post("/jobs/301/steps/do/shown/", hidden(hands, jory, one="1", key=first))
    assert answer.headers["Location"] == f"/jobs/301/steps/{first}/"
    again = people.browser(cast.technician)  # another device
    assert again.get("/jobs/301/steps/").headers["Location"] == f"/jobs/301/steps/{first}/"
    assert maud.get("/jobs/301/steps/").headers["Location"] == f"/jobs/301/steps/{first}/list/"
    again.post("/jobs/301/steps/do/shown/", hidden(hands, again, one="0", key=first))
    assert jory.get("/jobs/301/steps/").headers["Location"] == f"/jobs/301/steps/{first}/list/"
    assert StepsShown.objects.count() == 1


def test_a_hold_point_never_stands_in_a_list_and_no_list_runs_across_one(hands: Hands) -> None:
    here = hands.here()
    assert [slot.key for screen in here.screens for slot in screen.slots] == [slot.key for slot in here.slots]
    for screen in here.screens:
        alone = [slot for slot in screen.slots if slot.step.hold or slot.step.blocks or slot.step.rounds]
        assert not alone or len(screen.slots) == 1
        assert len({here.procedure.group_of(slot.step).key for slot in screen.slots}) == 1
    assert sum(screen.rows and len(screen.slots) > 1 for screen in here.screens) >= 5


STATES = {"running": 120, "stopped": 50, "blocked": 50, "released": 50}  # and so many attempts in each; 200 in the soak


@pytest.mark.parametrize(
    ("state", "rounds"),
    [
        *(pytest.param(state, rounds, id=f"{state}-daily") for state, rounds in STATES.items()),
        *(pytest.param(state, 200, id=f"{state}-soak", marks=pytest.mark.soak) for state in STATES),
    ],
)
def test_ticks_from_the_wrong_page_hand_or_time_sign_nothing(cast: Cast, state: str, rounds: int) -> None:
    """Generated: what is done × to which step × from which page × by whom, in every state of a job."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    if state == "blocked":
        hold = hands.until("empty-at-rest")
        assert hold is not None
        hands.sign(hold, failing(hands.here(), hold))
        assert hands.here().blocked
        screen = None
    else:
        screen = list_of(hands, "shaft-out")
        hands.sign(screen.slots[0])
    if state == "stopped":
        hands.stop()
    if state == "released":
        with change(cast.owner, "release", {}, at=hands.at) as doing:
            changes.release(
                doing, hands.job, found="f", done="d", left="l", defects=["d"], next_service="n", fit_to_ride=False
            )
    start = hands.here()
    chance, allowed, refused = random.Random([*STATES].index(state)), Counter[str](), Counter[str]()
    clients = {
        "technician": people.browser(cast.technician),
        "owner": people.browser(cast.owner),
        "stranger": people.browser(),
    }
    tokens = {name: token(client) if name != "stranger" else "x" for name, client in clients.items()}
    old_key, used = new_key(), None

    def rows() -> int:
        return StepEntry.objects.count() + Reading.objects.count() + Photo.objects.count()

    for _ in range(rounds):
        here = hands.here()
        action = chance.choice(("tick", "tick", "struck", "left", "left", "not-known"))
        target = chance.choice(("row", "row", "row", "later", "hold", "bogus"))
        from_page = chance.choice(("now", "now", "now", "before the list", "forged", "key used before"))
        who = chance.choice(("technician", "owner", "stranger"))
        later = [slot for slot in here.slots if here.current is not None and here.at(slot) > here.at(here.current)]
        later = [slot for slot in later if screen is None or not screen.holds(slot)]
        slots = {
            "row": list(screen.slots[1:]) if screen else [slot for slot in here.slots[:20] if not slot.step.hold],
            "later": later,
            "hold": [slot for slot in here.slots if slot.step.hold and slot in later] or later,
            "bogus": [],
        }[target]
        slot = chance.choice(slots) if slots else None
        key = slot.step.key if slot else chance.choice(("no-such-step", "do", "list"))
        seen = {"now": here.seen, "before the list": 0, "forged": 10**9, "key used before": here.seen}[from_page]
        sent: dict[str, Any] = {
            "csrfmiddlewaretoken": tokens[who], "change_key": old_key if from_page == "key used before" else new_key(),
            "seen": str(seen), "list": "1", "reason": "tried", "verdict": "not-known" if action == "not-known" else "not-done",
        }  # fmt: skip
        if slot is not None and action == "tick":
            try:
                sent |= given(hands, slot)
            except Exception:  # a later step’s band is not known yet: something is sent all the same
                sent |= {each.key: "1" for each in slot.step.evidence}
        before = rows()
        tail = {"tick": "", "struck": "struck/"}.get(action, "left/")
        status = clients[who].post(f"/jobs/301/steps/{key}/{tail}", sent).status_code
        settled, readings = (
            (here.settled(slot), bool(slot.step.evidence and slot.step.evidence[0].kind == "number"))
            if slot
            else (False, False)
        )
        may = (
            state == "running" and who != "stranger" and target == "row" and slot is not None
            and from_page in ("now", "key used before") and (from_page == "now" or used is None)
            and (not here.passed(slot) if action == "tick" else settled and not (readings and here.passed(slot)) if action == "struck" else not settled)
        )  # fmt: skip
        if from_page == "key used before" and status in (302, 303):
            used = (key, tail)  # an answer that leads on uses its key up, whether something was signed or not
        what = f"{action} {target} {from_page} {who} {status}"
        if may:
            assert rows() > before, what
            allowed[action] += 1
        else:
            assert rows() == before, what
            refused[f"{action}, {target}"] += 1
    after = hands.here()
    if state == "running":
        assert sum(allowed.values()) >= 10 and set(allowed) >= {"tick", "struck", "left"}
        assert screen is not None
        done = [slot for slot in after.slots if slot.key in after.latest]
        assert all(after.at(slot) <= after.at(screen.slots[-1]) for slot in done)
    else:
        assert not allowed
        assert after.seen == start.seen and (state != "blocked" or after.blocked)
    assert min(refused.values()) >= 1 and len(refused) >= 12
    assert all(
        entry.verdict not in LEFT or entry.evidence["reason"] for entry in StepEntry.objects.filter(verdict="not-done")
    )


def test_a_later_list_that_is_signed_is_shown_while_an_earlier_step_is_open_again(
    hands: Hands, technician_in: Client
) -> None:
    first = list_of(hands, "cap-off")
    later = list_of(hands, "shaft-out")
    hands.until(None if later.slots[-1] is hands.here().slots[-1] else later.slots[-1].step.key)
    tick = next(slot for slot in ticks(first) if hands.here().passed(slot))
    with change(hands.who, "back", {}, at=hands.at) as doing:
        sign.strike(doing, hands.job, tick.step.key, "left lip folded", hands.here().seen)
    here = hands.here()
    assert here.current is not None and here.at(here.current) <= here.at(tick) and here.settled(later.slots[0])
    assert "shaft" in page(technician_in, later.slots[0]).lower()
    beyond = next(each for each in here.screens if each.rows and here.at(each.slots[0]) > here.at(later.slots[-1]))
    away = technician_in.get(f"/jobs/301/steps/{beyond.slots[0].step.key}/list/")
    assert away.status_code == 302, "what nobody has come to is not shown"
