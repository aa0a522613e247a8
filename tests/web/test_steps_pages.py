"""The step pages as a browser meets them: one step a screen, refusals, drafts, questions, the stop page, two people."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from at_once import all_pass
from topout.web.access.change import new_key
from topout.web.jobs.records.models import Draft, Reading, StepEntry
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import Progress, Slot
from web import people
from web.people import Cast
from web.steps_kit import Hands, failing, form_of, gauge, make_job, one_a_page, passing, picture


@pytest.fixture
def hands(cast: Cast) -> Hands:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    one_a_page(cast.technician, cast.owner)
    hands.begin()
    return hands


@pytest.fixture
def browser(cast: Cast) -> Client:
    return people.browser(cast.technician)


def address(slot: Slot) -> str:
    tail = f"{slot.round}/" if slot.round else ""
    return f"/jobs/301/steps/{slot.step.key}/{tail}"


def sent(hands: Hands, slot: Slot, here: Progress | None = None) -> dict[str, Any]:
    """What a browser sends for answers that pass; `here` where the caller has just looked."""
    fields: dict[str, Any] = {}
    for key, answer in passing(here or hands.here(), slot).items():
        if answer.photo is not None:
            fields[key] = SimpleUploadedFile("ring.jpg", answer.photo.data, "image/jpeg")
        elif answer.tick:
            fields[key] = "on"
        else:
            fields[key] = answer.choice or answer.text
    return fields


def post(browser: Client, slot: Slot, fields: dict[str, Any], hidden: dict[str, str] | None = None) -> Any:
    hidden = hidden or form_of(browser.get(address(slot)))
    return browser.post(address(slot), hidden | fields)


def test_every_step_is_shown_and_signed_in_the_browser(hands: Hands, browser: Client) -> None:
    """That what was typed comes back at every step is tried in test_resume.py."""
    seen, here = 0, hands.here()
    while (slot := here.current) is not None and slot.step.key != "leak-start":
        page = browser.get(address(slot))
        text = page.content.decode()
        assert page.status_code == 200 and f"<b>Step {slot.number}</b> of {here.total}" in text
        assert " style=" not in text and "{" not in re.sub(r"<[^>]*>", "", text)
        assert len(re.findall(r'class="go"', text)) == 1
        answer = post(browser, slot, sent(hands, slot, here), form_of(page))
        assert answer.status_code == 303, (slot.step.key, answer.content.decode()[:3000])
        seen, here = seen + 1, hands.here()
    assert seen > 50 and slot is not None
    waiting = browser.get(address(slot)).content.decode()
    assert "Not before" in waiting and 'id="reading"' not in waiting
    assert len(re.findall(r'class="go"', waiting)) == 1


def test_the_address_of_a_later_step_leads_to_the_one_that_comes_next(hands: Hands, browser: Client) -> None:
    slots = hands.here().slots
    answer = browser.get(address(slots[20]))
    assert answer.status_code == 302 and answer.headers["Location"] == address(slots[0])
    hidden = form_of(browser.get(address(slots[0])))
    refused = post(browser, slots[20], sent(hands, slots[20]), hidden)
    assert refused.status_code == 409 and "Step 1 comes first" in refused.content.decode()
    assert StepEntry.objects.filter(verdict="passed").count() == 0
    assert browser.get("/jobs/301/steps/nothing-such/").status_code == 302


def test_an_old_form_a_second_tab_and_the_back_button_are_refused(hands: Hands, browser: Client) -> None:
    slots = hands.here().slots
    tab_one, tab_two = form_of(browser.get(address(slots[0]))), form_of(browser.get(address(slots[0])))
    assert post(browser, slots[0], {"shaft-fits": "Listed, the same fit"}, tab_one).status_code == 303
    again = post(browser, slots[0], {"shaft-fits": "Listed, the same fit"}, tab_two)
    assert again.status_code == 409 and "Since this page was drawn" in again.content.decode()
    same = post(browser, slots[0], {"shaft-fits": "Listed, the same fit"}, tab_one)
    assert same.status_code == 303
    assert StepEntry.objects.filter(step_key="shaft-fits", verdict="passed").count() == 1


def test_missing_evidence_keeps_what_was_typed_and_says_what_is_missing(hands: Hands, browser: Client) -> None:
    slot = hands.until("leak-end")
    slot = hands.here().slot("leak-start")
    assert slot is not None
    page = browser.get(address(slot) + "?again")
    answer = post(browser, slot, {"leak-start-temperature": "18.5 degC"}, form_of(page))
    text = answer.content.decode()
    assert answer.status_code == 422 and 'class="fault"' in text and "Error: " in text
    assert 'value="18.5 degC"' in text and "Write it, as in" in text
    assert "invalid" not in text.lower().replace("aria-invalid", "")


NO_READING = ("", "abc", "7,2,1 mm", "nan", "1e999", "-7", "7 kg", "9" * 300, "1.2.3", "\x00", "⁷")


def test_what_can_not_be_read_is_refused_in_words_and_nothing_is_kept(hands: Hands, browser: Client) -> None:
    slot = hands.until("new-shaft-length")
    assert slot is not None
    before, hidden = Reading.objects.count(), form_of(browser.get(address(slot)))

    def is_refused(typed: str) -> None:
        answer = post(browser, slot, {"new-shaft-length": typed}, hidden | {"change_key": new_key()})
        assert answer.status_code == 422 and 'class="fault"' in answer.content.decode()
        assert Reading.objects.count() == before and hands.here().current == slot

    all_pass(is_refused, [(repr(typed), (typed,)) for typed in NO_READING])


def test_a_likely_slip_is_asked_about_and_never_mended_silently(hands: Hands, browser: Client) -> None:
    slot = hands.until("old-shaft-measured")
    assert slot is not None
    asked = post(browser, slot, {"old-shaft-measured": "27.2"})
    text = asked.content.decode()
    assert asked.status_code == 422 and "Was it 272 mm?" in text and "27.2 mm, as typed" in text
    assert not StepEntry.objects.filter(step_key="old-shaft-measured", verdict__in=("passed", "failed")).exists()
    mended = post(browser, slot, {"old-shaft-measured": "27.2", "mend": "old-shaft-measured=272 mm"}, form_of(asked))
    assert mended.status_code == 303
    entry = StepEntry.objects.get(step_key="old-shaft-measured", verdict="passed")
    answer = entry.evidence["answers"]["old-shaft-measured"]
    assert answer["text"] == "272 mm" and answer["typed_first"] == "27.2 mm"


def test_a_slip_that_is_stood_by_is_kept_as_typed_and_does_not_pass(hands: Hands, browser: Client) -> None:
    slot = hands.until("old-shaft-measured")
    assert slot is not None
    asked = post(browser, slot, {"old-shaft-measured": "27.2"})
    stood = post(browser, slot, {"old-shaft-measured": "27.2", "stand": "old-shaft-measured=27.2"}, form_of(asked))
    assert stood.status_code == 303
    assert StepEntry.objects.get(step_key="old-shaft-measured", verdict="failed").reading.value_si == pytest.approx(
        0.0272
    )
    page = browser.get(address(slot)).content.decode()
    assert "Not in the band." in page and "Read it again, or stop." in page and "27.2, far off" in page


def test_the_failed_hold_point_shows_force_energy_and_what_may_be_done(hands: Hands, browser: Client) -> None:
    slot = hands.until("empty-at-rest")
    assert slot is not None
    here = hands.here()
    bad = {"rest": "Stands part-way in", "rest-length": "120 mm"}
    assert post(browser, slot, bad).status_code == 303
    text = browser.get(address(slot)).content.decode()
    assert "Stop. Air stays trapped in the negative chamber." in text
    assert f"<b>Steps {slot.number + 1} to {here.total} are closed</b>" in text
    force, energy = here.found(slot)["trapped_force"], here.found(slot)["trapped_energy"]
    assert force is not None and energy is not None
    shown = [float(n.replace("\N{NARROW NO-BREAK SPACE}", "")) for n in re.findall(r"<dd><b>([^<]+)</b> [NJ]<", text)]
    for number, exact in zip(shown, (force, energy), strict=True):
        assert exact <= number <= exact * 1.1
    assert "51\u00a0mm in" in text and "Follow the maker’s sheet" in text and "Send it to a specialist" in text
    assert len(re.findall(r'class="go"', text)) == 1 and "Stop here for now" in text and "is safe" not in text
    again = form_of(browser.get(address(slot) + "?again"))
    assert post(browser, slot, sent(hands, slot), again).status_code == 303
    assert hands.here().current == here.slots[here.at(slot) + 1]


def test_stopping_keeps_the_typed_text_and_going_on_comes_back_to_it(hands: Hands, browser: Client) -> None:
    slot = hands.until("new-shaft-length")
    assert slot is not None
    page = browser.get(address(slot))
    stopped = browser.post("/jobs/301/steps/do/stop/", form_of(page) | {"new-shaft-length": "26"})
    assert stopped.status_code == 303
    text = browser.get(stopped.headers["Location"]).content.decode()
    assert "Stopped; the fork is safe," in text and "Jory Pask" in text and 'id="reading"' not in text
    people.send(browser, "/jobs/301/steps/do/go-on/", {}, page_path=address(slot))
    assert 'value="26"' in browser.get("/jobs/301/steps/", follow=True).content.decode()


def test_a_draft_is_kept_while_typing_and_stands_there_for_a_new_browser(
    hands: Hands, browser: Client, cast: Cast
) -> None:
    slot = hands.until("drain")
    assert slot is not None
    token = form_of(browser.get(address(slot)))["csrfmiddlewaretoken"]
    for typed in ("1", "14", "14 m"):
        kept = browser.post(
            address(slot) + "draft/", {"oil-out": typed, "oil-colour": "Grey", "x": "y", "csrfmiddlewaretoken": token}
        )
        assert kept.status_code == 200
    assert Draft.objects.get(job=hands.job).fields == {"oil-out": "14 m", "oil-colour": "Grey"}
    text = people.browser(cast.owner).get("/jobs/301/steps/", follow=True).content.decode()
    assert 'value="14 m"' in text and re.search(r'value="Grey"[^>]*checked', text)


def test_two_people_see_that_the_other_one_signed(hands: Hands, browser: Client, cast: Cast) -> None:
    slot = hands.here().slots[0]
    seen = re.search(r'data-seen="(\d+)"', browser.get(address(slot)).content.decode())
    assert seen is not None
    assert browser.get("/jobs/301/steps/standing.json").json()["seen"] == int(seen.group(1))
    owner = people.browser(cast.owner)
    assert post(owner, slot, {"shaft-fits": "Listed, the same fit"}).status_code == 303
    now = browser.get("/jobs/301/steps/standing.json").json()
    assert now["seen"] > int(seen.group(1)) and now["says"].startswith("Maud Askel signed step 1 at ")
    assert "by Maud Askel" in browser.get(now["place"]).content.decode()


def test_looking_changes_nothing(hands: Hands, browser: Client) -> None:
    hands.until("empty-by-shaft")
    from django.db import connection

    def count() -> list[Any]:
        with connection.cursor() as cursor:
            names = connection.introspection.table_names(cursor)
            return [cursor.execute(f'select count(*) from "{name}"').fetchone() for name in sorted(names)]

    before = count()
    for nth, slot in enumerate(hands.here().slots):
        browser.get(address(slot) + ("?again" if nth % 2 else ""))
    for path in ("", "all/", "standing.json"):
        browser.get(f"/jobs/301/steps/{path}")
    for path in ("do/stop/", "do/go-on/", "do/variant/"):
        assert browser.get(f"/jobs/301/steps/{path}").status_code == 405
    assert count() == before


def test_only_an_owner_switches_the_variant_on(hands: Hands, browser: Client, cast: Cast) -> None:
    page = browser.get("/jobs/301/steps/all/")
    assert "Switch it on" not in page.content.decode()
    owner = people.browser(cast.owner)
    fields = {"variant": "inflate-before-lower-legs", "on": "1"}
    text = owner.get("/jobs/301/steps/all/").content.decode()
    assert "Switch it on for this job" in text
    token = people.field_of(owner.get("/jobs/301/steps/all/"), "csrfmiddlewaretoken")
    mine = form_of(browser.get("/jobs/301/steps/", follow=True))
    refused = browser.post("/jobs/301/steps/do/variant/", mine | fields)
    assert refused.status_code == 403 and "Only an owner" in refused.content.decode()
    key = people.field_of(owner.get("/jobs/301/steps/all/"), "change_key")
    done = owner.post("/jobs/301/steps/do/variant/", fields | {"csrfmiddlewaretoken": token, "change_key": key})
    assert done.status_code == 303 and hands.here().variants == {"inflate-before-lower-legs"}
    assert "Switch it off" in owner.get("/jobs/301/steps/all/").content.decode()


def test_a_stranger_sees_no_step(hands: Hands, stranger: Client) -> None:
    for path in ("", "all/", "standing.json", "sheet/", "do/stop/", "do/go-on/", "do/variant/", "sheet/draft/"):
        for answer in (stranger.get(f"/jobs/301/steps/{path}"), stranger.post(f"/jobs/301/steps/{path}")):
            assert answer.status_code in (302, 403, 405) and b"service sheet" not in answer.content
    assert StepEntry.objects.filter(verdict="passed").count() == 0


def test_a_photo_that_is_none_is_refused(hands: Hands, browser: Client) -> None:
    slot = hands.until("shaft-label")
    assert slot is not None
    for data, name in ((b"GIF89a....", "a.gif"), (b"<svg/>", "a.jpg"), (b"", "a.jpg"), (picture()[:200], "a.jpg")):
        answer = post(browser, slot, {"shaft-label": SimpleUploadedFile(name, data, "image/jpeg")})
        assert answer.status_code == 422 and 'class="fault"' in answer.content.decode()
    assert post(browser, slot, sent(hands, slot)).status_code == 303
    assert StepEntry.objects.get(step_key="shaft-label", verdict="passed").photo is not None


def test_as_found_readings_of_the_card_are_not_asked_twice(hands: Hands, browser: Client) -> None:
    from topout.units import parse
    from topout.web.access.change import change
    from topout.web.jobs.records import readings

    with change(hands.who, "found", {}) as doing:
        readings.take(
            doing, hands.job, "as-found", readings.Taken.quantity("exposed-length", parse("171 mm", "length"), "length")
        )
    slot = hands.until("exposed-length")
    assert slot is not None
    text = browser.get(address(slot)).content.decode()
    assert "171.0\N{NO-BREAK SPACE}mm · 6.73\N{NO-BREAK SPACE}in, as on the card" in text
    assert post(browser, slot, {}).status_code == 422
    assert post(browser, slot, {"card-exposed-length": "on"}).status_code == 303
    assert hands.here().readings["full-length"] == pytest.approx(0.171)
    assert Reading.objects.filter(job=hands.job, kind="exposed-length").count() == 1


def test_the_filling_page_shows_rounds_and_readings(hands: Hands, browser: Client) -> None:
    slot = hands.until("fill")
    assert slot is not None
    text = browser.get(address(slot)).content.decode()
    assert f"round 1 of {slot.rounds}" in text and '<th scope="row">expect</th>' in text and 'class="mread"' not in text
    assert post(browser, slot, sent(hands, slot)).status_code == 303
    second = hands.here().current
    assert second is not None and second.round == 2
    text = browser.get(address(second)).content.decode()
    assert 'class="mread"' in text and "round 2 of" in text


def test_a_blocked_job_says_so_to_other_pages(hands: Hands) -> None:
    slot = hands.until("empty-by-shaft")
    assert slot is not None
    hands.sign(slot, failing(hands.here(), slot))
    where = sign.where(hands.job)
    assert (
        where.kind == "blocked" and where.blocked == "Stop. Something moves the shaft." and where.number == slot.number
    )


def test_of_several_figures_the_one_that_does_not_pass_is_named(hands: Hands, browser: Client) -> None:
    """Both stand at the same figure here: said without its name, a length in its band would be called out of it."""
    slot = hands.until("length")
    assert slot is not None
    page = browser.get(address(slot))
    browser.post(address(slot), form_of(page) | {"length": "161", "left-axle-to-crown": "161", "sure": ["161"]})
    entry = StepEntry.objects.latest("sequence")
    assert (entry.step_key, entry.verdict) == ("length", "failed")
    text = browser.get(address(slot)).content.decode().replace("\u00a0", " ").replace("&nbsp;", " ")
    assert "Not in the band." in text and "Saved: Axle to crown by tape, 161 mm, " in text


def test_a_step_s_own_reading_is_mended_at_its_step_and_the_words_lead_there(hands: Hands, browser: Client) -> None:
    """The card refused it with "taken again at its step", and nothing led to the step."""
    hands.until("length")
    for kind in ("new-shaft-length", "fill-reading"):
        reading = Reading.objects.filter(job=hands.job, stage="step", kind=kind).first()
        assert reading is not None
        place = f"/jobs/{hands.job.number}/correct/{reading.pk}/"
        token = people.field_of(browser.get(f"/jobs/{hands.job.number}/waits/"), "csrfmiddlewaretoken")
        sent = {kind: "41 psi", "reason": "misread", "csrfmiddlewaretoken": token, "change_key": new_key()}
        for answer in (browser.get(place), browser.post(place, sent)):
            assert answer.status_code == 409 and "Read it again there" in answer.content.decode()
        found = re.search(r'class="go" href="([^"]+)"', answer.content.decode())
        assert found is not None and found.group(1).endswith("?again")
        page = browser.get(found.group(1))
        assert page.status_code == 200 and f'name="{kind}"' in page.content.decode()
    assert not Reading.objects.filter(job=hands.job, stage="step").exclude(corrects=None).exists()
