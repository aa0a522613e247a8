"""A step shows what the family's sheet says, keeps it with the signature, and asks for it where it is missing."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from topout.procedures.service import FIELDS
from topout.web.access.change import change
from topout.web.book import keeping, service
from topout.web.book.models import Family, ServiceValue
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.steps import entries, sheet, sign
from topout.web.jobs.steps.progress import Progress, Slot, walk
from web import people
from web.steps_kit import Hands, gauge, make_job, one_a_page
from web.test_queries import STEP, asked

SHEET = "Quillon sheet, issue 3"


@pytest.fixture
def hands(cast: people.Cast) -> Hands:
    gauge(hose="1 ml")
    job = make_job(cast.owner)
    with change(cast.owner, "family", {"for": "a test"}) as doing:
        family = keeping.make_family(doing, name="Quillon 35", tables={})
        job.unit = keeping.make_unit(doing, bike=None, name="Quillon", tables={}, family=family)
        job.bike = keeping.make_bike(doing, rider=job.rider, name="Hollin", tables={})
        job.save()
    return Hands(cast.owner, job)


def save(cast: people.Cast, name: str, text: str, **more: object) -> None:
    with change(cast.owner, "sheet", {"n": name, "t": text}) as doing:
        service.save_service(doing, Family.objects.get(), name, text, SHEET, **more)  # type: ignore[arg-type]


def asking(here: Progress, kind: str) -> Slot:
    """The first step that names service data in an answer of this kind."""
    return next(slot for slot in here.slots for each in slot.step.evidence if each.kind == kind and each.service in FIELDS
                and (kind != "number" or FIELDS[each.service].off > 0))  # fmt: skip


def field_of(slot: Slot) -> str:
    return next(each.service for each in slot.step.evidence if each.service)


def test_a_number_of_the_sheet_is_target_and_band(hands: Hands, cast: people.Cast) -> None:
    slot = asking(walk(hands.job), "number")
    each = next(e for e in slot.step.evidence if e.service)
    here = walk(hands.job)
    assert here.band(slot, each, here.found(slot)).expect_si is None, "nobody knows it yet"
    save(cast, each.service, "12 ml")
    here = walk(Job.objects.get(pk=hands.job.pk))
    band = here.band(slot, each, here.found(slot))
    off = FIELDS[each.service].off
    assert band.expect_si == pytest.approx(12e-6) and band.low_si == pytest.approx(12e-6 * (1 - off))
    assert band.high_si == pytest.approx(12e-6 * (1 + off))


def test_where_it_is_missing_the_step_asks_and_the_box_keeps_it(
    hands: Hands, cast: people.Cast, technician_in: Client
) -> None:
    slot = asking(walk(hands.job), "tick")
    name = field_of(slot)
    told = sheet.of_step(walk(hands.job), slot.step.evidence)[0]
    assert (
        not told.words
        and told.address == f"/book/families/{Family.objects.get().pk}/service/?only={name}&job={hands.job.number}"
    )
    page = technician_in.get(told.address).content.decode()
    assert page.count('name="source"') == 1 and page.count("<input") < 12, "one value and its sheet, nothing else"
    sent = {"source": SHEET, name.replace(".", "-"): "7.5" if FIELDS[name].dimension else "thin, none in the port"}
    answer = people.send(technician_in, told.address, sent)
    assert answer.status_code == 303 and answer.headers["Location"] == f"/jobs/{hands.job.number}/steps/", (
        "back to the work"
    )
    now = sheet.of_step(walk(Job.objects.get(pk=hands.job.pk)), slot.step.evidence)[0]
    assert now.words and now.source == SHEET and not now.address


@pytest.mark.parametrize("listed", [True, False], ids=["list", "page"])
def test_a_target_from_the_sheet_stands_once_beside_the_name_of_the_sheet(
    hands: Hands, cast: people.Cast, technician_in: Client, *, listed: bool
) -> None:
    """It stood there twice: as the target, and in the line that says which sheet it is from."""
    slot = asking(walk(hands.job), "number")
    save(cast, field_of(slot), "12.3 ml")
    hands.job = Job.objects.get(pk=hands.job.pk)
    hands.begin()
    hands.until(slot.step.key)
    here = walk(hands.job)
    screen = here.screen_of(slot)
    place = f"/jobs/{hands.job.number}/steps/"
    place += f"{screen.slots[0].step.key}/list/" if listed else f"{slot.step.key}/"
    page = technician_in.get(place).content.decode().replace("\u00a0", " ").replace("&nbsp;", " ")
    row = page[page.index(f'id="row-{slot.number}"') :].partition("</li>")[0] if listed else page
    assert SHEET in row and "12.3" in row and f"<b>12.3 ml</b>, by {SHEET}" not in row


def test_what_was_shown_stays_with_the_signature(hands: Hands, cast: people.Cast, technician_in: Client) -> None:
    slot = asking(walk(hands.job), "tick")
    name = field_of(slot)
    save(cast, name, "7.5 N·m" if FIELDS[name].dimension else "thin film")
    hands.job = Job.objects.get(pk=hands.job.pk)
    hands.begin()
    hands.until(slot.step.key)
    page = technician_in.get(f"/jobs/{hands.job.number}/steps/{slot.step.key}/").content.decode()
    assert SHEET in page
    hands.sign(slot)
    save(cast, name, "9 N·m" if FIELDS[name].dimension else "thick film", reason="issue 4")
    entry = StepEntry.objects.filter(step_key=slot.step.key, verdict="passed").latest("sequence")
    kept = next(row["sheet"] for row in entry.evidence["answers"].values() if "sheet" in row)
    assert kept["source"] == SHEET and ("7.5" in kept["value"] or "thin" in kept["value"]), (
        "what was signed, not what stands now"
    )
    assert ServiceValue.objects.count() == 2 and sign.where(hands.job).kind != "blocked"


def test_a_unit_without_a_family_is_asked_for_nothing(hands: Hands) -> None:
    assert hands.job.unit is not None
    hands.job.unit.family = None
    hands.job.unit.save()
    here = walk(Job.objects.get(pk=hands.job.pk))
    assert sheet.of_step(here, asking(here, "tick").step.evidence) == ()


def test_jobs_of_one_family_read_its_sheet_once_each_and_only_their_own(hands: Hands, cast: people.Cast) -> None:
    save(cast, "oil.lower-left", "12 ml")
    save(cast, "oil.lower-left", "14 ml", reason="issue 4")
    other = make_job(cast.owner, 302)
    stranger = make_job(cast.owner, 303)
    other.unit = hands.job.unit
    other.save()
    found = entries.read([hands.job, other, stranger])
    for job in (hands.job, other):
        assert [row.text for row in found[job.pk].sheets] == ["12 ml", "14 ml"], "each row once, oldest first"
    assert found[stranger.pk].sheets == ()
    only = entries.read([other])  # the family has another job: its rows are no concern of this one
    assert list(only) == [other.pk] and len(only[other.pk].sheets) == 2


def test_a_step_of_a_unit_with_a_sheet_asks_the_database_no_more(
    hands: Hands, cast: people.Cast, technician_in: Client
) -> None:
    slot = asking(walk(hands.job), "tick")
    hands.begin()
    hands.until(slot.step.key)
    address = f"/jobs/{hands.job.number}/steps/{slot.step.key}/"
    technician_in.get(address)
    without = asked(lambda: technician_in.get(address))
    for name in ("oil.lower-left", field_of(slot)):
        save(cast, name, "7 ml" if name == "oil.lower-left" else "7.5" if FIELDS[name].dimension else "thin film")
    assert asked(lambda: technician_in.get(address)) == without <= STEP


@pytest.mark.parametrize("listed", [True, False], ids=["list", "one a page"])
def test_a_tick_signs_the_value_that_stood_on_the_page(
    hands: Hands, cast: people.Cast, owner_in: Client, listed: bool
) -> None:
    """8 N·m stood there, 18 were written for the family meanwhile: the entry, and the rider's sheet, said tight to 18."""
    if not listed:
        one_a_page(cast.owner)
    save(cast, "torque.top-cap", "8 N·m")
    hands.job = Job.objects.get(pk=hands.job.pk)
    hands.begin()
    slot = hands._work("cap-torque")
    assert slot is not None
    address = f"/jobs/{hands.job.number}/steps/{slot.step.key}/"
    drawn = owner_in.get(f"{address}list/" if listed else address).content.decode()
    marks = re.findall(r'name="told_seen" value="([0-9a-f]+)"', drawn)
    assert sheet.mark(hands.here(), slot) in marks
    sent = {"cap-torque": "on", "seen": hands.here().seen, "told_seen": sheet.mark(hands.here(), slot)}
    save(cast, "torque.top-cap", "18 N·m", reason="misread")
    answer = people.send(owner_in, address, sent, page_path="/instruments/new/")
    assert answer.status_code == 409 and "changed since this page was drawn" in answer.content.decode()
    sent["told_seen"] = sheet.mark(hands.here(), slot)
    assert people.send(owner_in, address, sent, page_path="/instruments/new/").status_code == 303
    assert StepEntry.objects.latest("sequence").evidence["answers"]["cap-torque"]["sheet"]["value"].startswith("18")
