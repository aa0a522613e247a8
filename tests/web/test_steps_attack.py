"""A hold point attacked: other steps' addresses, old forms, second tabs, forged keys, no evidence. Never passed.

Attacks come through the web as a browser sends them, tokens and all; what was signed is read from the database after
each. Every later step is aimed at once, by the five kinds that aim at one in turn, the others are tried some times each, in an order drawn by
chance; 5,000 with kind and step drawn by chance are in the soak. The seed is fixed, and every kind is counted.
"""

from __future__ import annotations

import itertools
import random
from collections import Counter
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from topout.web.access.change import new_key
from topout.web.jobs.records.models import Photo, Reading, StepEntry
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import Slot
from topout.web.jobs.steps.sign import Answer, Refused
from web import people, springs_kit
from web.people import Cast
from web.steps_kit import Hands, failing, form_of, gauge, make_job, passing

# Of which job, and the hold point. `return-to-rider-coil`, the sixth of the coil procedures, has none.
TRAVEL = [("travel-change-by-air-shaft", "empty-at-rest"), ("travel-change-by-air-shaft", "ring-seated")]
BRIEFLY = [("coil-lower-legs", "coil-unwound"), ("coil-shock-spring", "collar-off"), ("second chamber", "both-empty")]
SOAKED = [
    ("coil-fork-annual", "coil-unwound"),
    ("coil-clearance", "coil-unwound"),
    ("coil-spring-change", "coil-unwound"),
]
HOLDS = [*TRAVEL, *BRIEFLY, *SOAKED]
AT_A_LATER_STEP = ("later address", "later form", "later again", "engine, later", "draft then next")
AT_THE_HOLD = (
    "later with the hold's own", "old form", "old seen", "no evidence", "half the evidence", "other step's evidence", "forged answer",
    "key used before", "no key", "no token", "get with answers", "next by its address", "go on", "engine, old page", "undo by variant",
)  # fmt: skip
TIMES = 6  # of each that has no step to aim at; the most ways that one of them has is twelve, and all come in the soak
BRIEF = 2  # a day, at the holds of other springs
SOAK = 5000


def fields(answers: dict[str, Answer]) -> dict[str, Any]:
    sent: dict[str, Any] = {}
    for key, answer in answers.items():
        if answer.photo is not None:
            sent[key] = SimpleUploadedFile("a.jpg", answer.photo.data, "image/jpeg")
        else:
            sent[key] = "on" if answer.tick else answer.choice or answer.text
    return sent


def attacks(later: tuple[Slot, ...], chance: random.Random, how: str) -> list[tuple[str, Slot]]:
    """Kind and step of each attack, in the order in which they come."""
    if how == "soak":
        kinds = AT_A_LATER_STEP + AT_THE_HOLD
        return [(chance.choice(kinds), chance.choice(later)) for _ in range(SOAK // len(HOLDS))]
    times, aimed = (TIMES, later) if how == "daily" else (BRIEF, chance.sample(later, BRIEF * len(AT_A_LATER_STEP)))
    found = list(zip(itertools.cycle(AT_A_LATER_STEP), aimed))
    found += [(kind, chance.choice(later)) for kind in AT_THE_HOLD for _ in range(times)]
    chance.shuffle(found)
    return found


def begun(cast: Cast, procedure: str) -> Hands:
    """A job with its steps begun."""
    if procedure == "second chamber":
        return springs_kit.begun(cast)
    if procedure.startswith("coil"):
        asked = springs_kit.PLANS["rate"] if procedure in ("coil-clearance", "coil-spring-change") else None
        kind = "coil-shock" if procedure == "coil-shock-spring" else "coil-fork"
        hands = springs_kit.taken_in(cast, procedure, kind=kind, asked=asked)
    else:
        gauge()
        hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    return hands


@pytest.mark.parametrize(
    ("procedure", "key", "how"),
    [
        *((*each, "daily") for each in TRAVEL), *((*each, "brief") for each in BRIEFLY),
        *(pytest.param(*each, "soak", marks=pytest.mark.soak) for each in HOLDS),
    ],
)  # fmt: skip
def test_a_hold_point_attacked_is_never_passed(cast: Cast, procedure: str, key: str, how: str) -> None:
    hands = begun(cast, procedure)
    browser, other = people.browser(cast.technician), people.browser(cast.owner)
    steps = f"/jobs/{hands.job.number}/steps/"

    def address(slot: Slot) -> str:
        return f"{steps}{slot.step.key}/" + (f"{slot.round}/" if slot.round else "")

    hold = hands.until(key) if procedure == TRAVEL[0][0] else hands._work(key)
    assert hold is not None
    old = form_of(browser.get(address(hold)))  # drawn before the failure, complete, its key unused
    used = form_of(browser.get(address(hold)))
    bad = fields(failing(hands.here(), hold))
    assert browser.post(address(hold), used | bad).status_code == 303
    here = hands.here()
    assert here.blocked
    at, later, earlier = here.at(hold), here.slots[here.at(hold) + 1 :], here.slots[: here.at(hold)]
    good = passing(here, hold)
    needed = sorted(each.key for each in hold.step.evidence if not each.optional)
    answers_of = {slot.key: passing(here, earlier[0]) for slot in later}
    for slot in later:
        answers_of[slot.key] = {
            each.key: Answer(tick=True, choice=each.passes[0] if each.passes else "", text="7 mm")
            for each in slot.step.evidence
        }
    chance, kinds = random.Random(214), Counter[str]()

    def counts() -> tuple[int, int, int]:
        passed = StepEntry.objects.filter(job=hands.job, verdict="passed").count()
        return passed, Reading.objects.count(), Photo.objects.count()

    def fresh(client: Any) -> dict[str, str]:
        return form_of(client.get(address(hold) + "?again"))

    drawn = {id(client): fresh(client) for client in (browser, other)}

    def hidden(client: Any, **more: str) -> dict[str, str]:
        """A form as it stands now, with a key of its own."""
        return drawn[id(client)] | {"change_key": new_key()} | more

    before = counts()
    for kind, slot in attacks(later, chance, how):
        client = chance.choice((browser, other))
        kinds[kind] += 1
        sent = fields(answers_of[slot.key])
        status, refused = 0, False
        if kind == "later address":
            answer = client.get(address(slot))
            assert answer.headers["Location"] == address(hold)
            status = answer.status_code
        elif kind == "later form":
            status = client.post(address(slot), hidden(client) | sent).status_code
        elif kind == "later again":
            status = client.post(address(slot), hidden(client, again="1") | sent).status_code
        elif kind == "later with the hold's own":
            status = client.post(address(slot), hidden(client) | fields(good)).status_code
        elif kind == "old form":
            status = browser.post(address(hold), old | {"change_key": new_key()} | fields(good)).status_code
        elif kind == "old seen":
            seen = str(chance.choice((0, -1, 10**9, here.seen - 1, "x", "")))
            status = client.post(address(hold), hidden(client, seen=seen) | fields(good)).status_code
        elif kind == "no evidence":
            status = client.post(address(hold), hidden(client)).status_code
        elif kind == "half the evidence":
            left = chance.choice(needed)
            status = client.post(
                address(hold), hidden(client) | fields({k: v for k, v in good.items() if k != left})
            ).status_code
        elif kind == "other step's evidence":
            status = client.post(address(hold), hidden(client) | fields(passing(here, earlier[3]))).status_code
        elif kind == "forged answer":
            forged = fields(good)
            forged[chance.choice(needed)] = chance.choice(("passed", "", "999999", "true", "{}", "NaN mm"))
            status = client.post(address(hold), hidden(client, verdict="passed", override="1") | forged).status_code
        elif kind == "key used before":
            # Sent again as it was: the first answer comes again. With other words: refused.
            again = used | (bad if chance.random() < 0.5 else fields(good))
            status = browser.post(address(hold), again).status_code
        elif kind == "no key":
            form = {name: value for name, value in hidden(client).items() if name != "change_key"}
            status = client.post(address(hold), form | fields(good)).status_code
        elif kind == "no token":
            form = {name: value for name, value in hidden(client).items() if name != "csrfmiddlewaretoken"}
            status = client.post(address(hold), form | fields(good)).status_code
        elif kind == "get with answers":
            status = client.get(
                address(hold), {k: v for k, v in fields(good).items() if isinstance(v, str)}
            ).status_code
        elif kind == "next by its address":
            status = client.get(address(later[0]) + "?again").status_code
            assert status == 302
        elif kind == "go on":
            status = client.post(f"{steps}do/go-on/", hidden(client)).status_code
        elif kind == "engine, later":
            with pytest.raises(Refused):
                hands.sign(slot, answers_of[slot.key], minutes=0, again=chance.random() < 0.5)
            refused = True
        elif kind == "engine, old page":
            with pytest.raises(Refused):
                hands.sign(hold, good, minutes=0, seen=chance.randrange(here.seen))
            refused = True
        elif kind == "draft then next":
            token = {"csrfmiddlewaretoken": drawn[id(client)]["csrfmiddlewaretoken"]}
            status = client.post(
                address(slot) + "draft/", token | {k: v for k, v in sent.items() if isinstance(v, str)}
            ).status_code
            assert status == 409
        else:
            more = {"variant": "inflate-before-lower-legs", "on": chance.choice("01")}
            status = browser.post(
                f"{steps}do/variant/", drawn[id(browser)] | {"change_key": new_key()} | more
            ).status_code
        assert refused or status in (200, 302, 303, 400, 403, 409, 422), (kind, status)
        assert counts() == before, kind
    now = hands.here()
    assert len(kinds) == 20 and min(kinds.values()) >= {"daily": TIMES, "brief": BRIEF, "soak": 8}[how]
    assert now.current == hold and now.blocked and now.at(now.current) == at
    assert all(slot.key not in now.latest for slot in later)
    # The one way: a form drawn now, with evidence that passes.
    assert browser.post(address(hold), fresh(browser) | fields(good)).status_code == 303
    assert hands.here().current == later[0]


@pytest.mark.parametrize("seed", [0, 1, *(pytest.param(seed, marks=pytest.mark.soak) for seed in (2, 3))])
def test_random_walks_never_leave_a_hold_point_behind_without_its_evidence(cast: Cast, seed: int) -> None:
    """Any order of signing, failing, redoing, stopping: wherever the job stands, every hold point before it has passed."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hands.until("empty-at-rest")
    chance = random.Random(seed)
    for _ in range(60):
        here = hands.here()
        if here.current is None:
            break
        now = here.at(here.current)
        slot = here.slots[max(0, min(len(here.slots) - 1, now + chance.choice((-9, -2, -1, 0, 0, 0, 0, 0, 1, 2, 5))))]
        try:
            if chance.random() < 0.08:
                hands.stop()
                hands.go_on()
            can_fail = any(each.bounded for each in slot.step.evidence)
            answers = failing(here, slot) if can_fail and chance.random() < 0.3 else passing(here, slot)
            hands.sign(slot, answers, again=chance.random() < 0.5)
        except (Refused, ValueError):
            continue
        except Exception as other:  # a band that needs a reading nobody took yet
            assert type(other).__name__ == "NotKnown", other
            continue
        after = hands.here()
        end = len(after.slots) if after.current is None else after.at(after.current)
        for held in after.slots[:end]:
            if after.blocked and not held.step.holds_back:
                continue  # what is done again before the danger is over is asked for again then
            last = [e for e in after.entries if e.step_key == held.step.key and e.verdict in ("passed", "failed")][-1]
            assert last.verdict == "passed"
            for each in held.step.evidence:
                assert each.optional or last.evidence["answers"][each.key]["pass"] is True
    assert sign.where(hands.job).count > 40
