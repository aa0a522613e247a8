"""Nothing that was read once is typed twice: a whole job, from the door to the hand-over, every form of it looked at.

A box counts as asked again where it stands empty, the same quantity was read in this job or is known of the unit, and nothing on
the form gives it: no tick "as on the card", no line that says what stands. Quantities are told apart by their moment: what was
found is not what is left. `FRESH` are those that are read anew on purpose, each with its reason.
"""

from __future__ import annotations

import html
import re
from typing import Any

import pytest
from django.test import Client

from topout.procedures.model import Evidence
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, Job
from web import people
from web.plan_cast import hollin_job
from web.steps_kit import Hands, gauge, one_a_page
from web.test_shock_plan import full_suspension
from web.test_use_plan import use, words_of

AS_FOUND = {
    "pressure": "82 psi", "temperature": "19 degC", "spacers": "2", "exposed-length": "171 mm", "sag": "31 mm", "sag-posture": "standing",
    "rebound": "8", "rebound-of": "14", "compression": "3", "compression-of": "10", "length": "205 mm", "stroke": "60 mm",
    "stroke-sag": "18 mm", "stroke-sag-posture": "seated", "condition": "One mark.",
}  # fmt: skip
OF_A_SHOCK = {"pressure": "150 psi", "spacers": "1", "length": "210 mm", "stroke": "55 mm", "stroke-sag": "16 mm"}
# What a piece of evidence is, by its role, where it names no reading of the card.
BY_ROLE = {
    "full-length": "exposed-length", "free-length": "length", "found-pressure": "pressure", "temperature": "temperature", "stroke": "stroke",
    "spacers-found": "spacers", "rebound-clicks": "rebound", "compression-clicks": "compression", "rebound-range": "rebound-of",
    "compression-range": "compression-of",
}  # fmt: skip
FRESH = {
    "spacers-out": "counted with the cap off; the card’s may be what somebody told",
    "can-spacers": "counted with the can off; the card’s may be what somebody told",
    "leak-start-temperature": "the leak hold compares two moments",
    "leak-end-temperature": "the leak hold compares two moments",
    "hold-start-temperature": "the leak hold compares two moments",
    "hold-end-temperature": "the leak hold compares two moments",
}
OF_THE_PLAN = (
    "travel",
    "pressure",
    "spacers",
    "offset",
    "bead",
    "tyre",
    "shock_pressure",
    "shock_spacers",
    "shock_stroke",
)


def empty_boxes(page: str) -> set[str]:
    """Names of the boxes of a page's form for text and numbers that stand empty."""
    boxes = re.findall(r"<input\b[^>]*>", page)
    found = set()
    for box in boxes:
        kind, name, value = (re.search(rf'\b{word}="([^"]*)"', box) for word in ("type", "name", "value"))
        if name and (kind is None or kind[1] in ("text", "number")) and (value is None or not value[1]):
            found.add(name[1])
    areas = re.findall(r'<textarea name="([^"]+)"[^>]*>(.*?)</textarea>', page, re.DOTALL)
    return found | {name for name, text in areas if not text.strip()}


def shown(browser: Client, path: str) -> str:
    page = browser.get(path)
    assert page.status_code == 200, (path, page.status_code)
    return html.unescape(page.content.decode())


class Asked:
    """What was asked again on the way, and how many boxes were looked at."""

    def __init__(self, job: Job) -> None:
        self.job, self.again, self.boxes, self.fresh = job, list[str](), 0, set[str]()

    def known(self, stage: str, quantity: str) -> bool:
        """Whether it was read at this stage of the job; clicks in all are known from any, and from the Book."""
        clicks = quantity.removesuffix("-of")
        if clicks != quantity:
            found = [readings.current(self.job, each).get(clicks) for each in ("as-found", "as-left")]
            assert self.job.unit is not None
            return any(row is not None and row.of_range for row in found) or f"{clicks}-clicks" in self.job.unit.extras
        return quantity in readings.current(self.job, stage)

    def readings_page(self, browser: Client, stage: str) -> None:
        """A reading that stands is said on the page; a new one beside it is typed on purpose."""
        page = shown(browser, f"/jobs/{self.job.number}/readings/{stage}/")
        standing = readings.current(self.job, stage)
        for name in sorted(empty_boxes(page)):
            self.boxes += 1
            if name in standing:
                said = page[page.index("Written already") :] if "Written already" in page else ""
                if standing[name].text.split()[0] not in said:
                    self.again.append(f"{stage}: {name}")
            elif name.endswith("-of") and self.known(stage, name):
                self.again.append(f"{stage}: {name}")

    def step(self, page: str, step: str, evidence: tuple[Evidence, ...]) -> None:
        empty = empty_boxes(page)
        for each in evidence:
            if each.kind != "number":
                continue
            self.boxes += 1
            stage, quantity = each.card or (
                "as-found",
                next((BY_ROLE[role] for role in each.roles if role in BY_ROLE), ""),
            )
            if (
                each.key not in empty
                or not quantity
                or not self.known(stage, quantity)
                or f'name="card-{each.key}"' in page
            ):
                continue
            if each.key in FRESH:
                self.fresh.add(each.key)
            else:
                self.again.append(f"step {step}: {each.key} ({stage} {quantity})")


def walked(job: Job, browser: Client, who: Any, plan: dict[str, str]) -> Asked:
    """The job from what was found to the hand-over's draft, every form looked at before it is sent."""
    asked, base = Asked(job), f"/jobs/{job.number}"
    found = shown(browser, f"{base}/readings/as-found/")
    asked.readings_page(browser, "as-found")
    values = AS_FOUND | (OF_A_SHOCK if 'name="stroke-sag"' in found else {})
    sent = {name: text for name, text in values.items() if f'name="{name}"' in found}
    sent |= {f"{name}-gauge": "P2" for name in ("pressure",)}
    assert people.send(browser, f"{base}/readings/as-found/", sent).status_code == 303
    asked.readings_page(browser, "as-found")
    page = shown(browser, f"{base}/plan/")
    there = [name for name in OF_THE_PLAN if f'name="{name}"' in page]
    assert len(there) >= 2
    asked.boxes += len(there)
    unknown = {"tyre"} if job.bike is None or "tyre_height" not in job.bike.tables.get("front_wheel", {}) else set()
    asked.again += [f"plan: {name}" for name in there if name in empty_boxes(page) - unknown]
    answer = use(browser, job, plan)
    if (
        answer.status_code == 422 and 'name="reason_for"' in answer.content.decode()
    ):  # what speaks against it takes an owner's reason
        answer = use(browser, job, plan, reason="The rider wants it.", reason_for=people.field_of(answer, "reason_for"))
    assert answer.status_code == 303, words_of(answer)
    hands = Hands(who, Job.objects.get(pk=job.pk))
    hands.begin()
    while (slot := (here := hands.here()).current) is not None:
        tail = f"{slot.round}/" if slot.round else ""
        if slot.round <= 1 and any(each.kind == "number" for each in slot.step.evidence):
            asked.step(shown(browser, f"{base}/steps/{slot.step.key}/{tail}"), slot.step.key, slot.step.evidence)
        hands.sign(slot, here=here)
    asked.readings_page(browser, "as-left")
    page = shown(browser, f"{base}/hand-over/")
    asked.boxes += 3
    asked.again += [f"hand-over: {name}" for name in ("found", "done", "left") if name in empty_boxes(page)]
    return asked


@pytest.mark.parametrize("procedure", ["travel-change-by-air-shaft", "pressure-and-spacers", "rear-shock-air-can"])
def test_nothing_read_once_is_typed_twice(cast: people.Cast, owner_in: Client, procedure: str) -> None:
    gauge()
    Instrument.objects.update(span="300 psi")
    one_a_page(cast.owner)
    of_a_shock = procedure == "rear-shock-air-can"
    known = full_suspension(cast.owner) if of_a_shock else hollin_job(cast.owner)
    assert known.unit is not None and known.rider is not None
    with change(cast.owner, "extras", {}) as doing:
        known.unit.extras["compression-clicks"] = 10
        book.keep(doing, known.unit)
    page = shown(owner_in, f"/jobs/new/?rider={known.rider_id}&unit={known.unit_id}")
    assert not {"rider_name", "unit"} & empty_boxes(page), "who and what is found is not typed"
    taken = {
        "rider": known.rider_id,
        "unit": known.unit_id,
        "asked_title": "service",
        "asked": "Harsh.",
        "technician": "maud",
        "procedure": procedure,
    }
    assert people.send(owner_in, "/jobs/new/", taken).status_code == 303
    job = Job.objects.latest("number")
    plan = {
        "travel-change-by-air-shaft": {"travel": "150", "pressure": "70", "spacers": "1"},
        "pressure-and-spacers": {"pressure": "70", "spacers": "1"}, "rear-shock-air-can": {"shock_pressure": "146", "shock_spacers": "2"},
    }[procedure]  # fmt: skip
    asked = walked(job, owner_in, cast.owner, plan)
    assert not asked.again, asked.again
    assert asked.boxes > 30 and asked.fresh <= set(FRESH)
