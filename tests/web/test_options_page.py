"""What to fit, on its page: from the Shelf, by the boxes of the plan; a way sets them again, and nothing is used by looking."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout.web.access.change import change
from topout.web.book.models import Family
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.records.models import Draft, FrozenPlan, Job
from topout.web.shelf import keeping as shelf
from topout.web.shelf.models import Part
from web import people
from web.outside_cast import ASKED as OUTSIDE_ASKED
from web.outside_cast import outside_job

HERE = f"/jobs/{PLAN_JOB}/options/"
ASKED = "travel=150&pressure=68&spacers=1&offset=44&bead=622&tyre=58"


@pytest.fixture
def lying(demo: Path) -> Job:
    """The demo's job to plan, and a Shelf for it."""
    job = Job.objects.get(number=PLAN_JOB)
    assert job.unit is not None
    family = job.unit.family
    assert family is not None
    other = Family.objects.exclude(name=family.name).first()
    with change(User.objects.get(username="maud"), "shelf", {"made": "for a test"}) as doing:
        for more in (
            {"kind": "air shaft", "measured": {"gives": "150 mm", "length": "352 mm"}, "cost": Decimal("110"), "family": family, "marking": "S-150"},
            {"kind": "air shaft", "measured": {"gives": "150 mm"}, "cost": Decimal("20"), "family": family, "state": "Bent, not for use"},
            {"kind": "air shaft", "measured": {"gives": "160 mm"}, "cost": Decimal("20"), "family": other, "marking": "other"},
            {"kind": "volume spacer", "measured": {"volume": "9 ml"}, "cost": Decimal("9.50"), "on_hand": 0, "waiting_days": 3},
            {"kind": "tyre", "measured": {"height": "54 mm", "bore": "622 mm"}, "cost": Decimal("50")},
            {"kind": "tyre", "measured": {}, "marking": "not measured"},
        ):  # fmt: skip
            shelf.make_part(doing, **more)  # type: ignore[arg-type]
    return job


@pytest.fixture
def demo_in(demo: Path) -> Client:
    return people.browser(User.objects.get(username="maud"))


def text(answer: object) -> str:
    html = answer.content.decode()  # type: ignore[attr-defined]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split()).replace("\xa0", " ")


def test_the_answer_comes_first_then_every_way_then_what_was_left_out(lying: Job, demo_in: Client) -> None:
    answer = demo_in.get(f"{HERE}?{ASKED}")
    assert answer.status_code == 200
    page = text(answer)
    assert page.index("Nearest to how it sits now") < page.index("Way, and what it gives up") < page.index("Not these")
    assert "150 mm shaft “S-150”" in page and re.search(
        "Parts that do not fit: another bore, family or wheel size [1-9]", page
    )
    assert "1 part marked “not for use” stays out" in page and "what it gives was not measured" in page
    above = page[: page.index("Way, and what it gives up")]
    assert "Not written down, and taken all the same" in above
    html = answer.content.decode()
    assert "style=" not in html and not re.search(r"<script(?![^>]*src=)", html)
    assert len(html) < 150_000


def test_the_costs_of_a_table_align_and_a_shaft_s_length_is_said_once(lying: Job, demo_in: Client) -> None:
    """“127.50” stood above “166”, and “150 mm shaft “150””."""
    way = f"{HERE}?{ASKED}&looked=1&free=spacers&free=pressure&free=tyre&all=1"
    costs = re.findall(r'data-name="cost">([^<]*)<', demo_in.get(way).content.decode())
    assert {"110.00", "119.50"} <= set(costs) and all(re.fullmatch(r"[\d\u202f]+\.\d\d|–", cost) for cost in costs), (
        costs
    )
    Part.objects.filter(marking="S-150").update(marking="150")
    page = text(demo_in.get(way))
    assert "150 mm shaft" in page and "shaft “150”" not in page


def test_a_way_sets_the_boxes_of_the_plan_and_nothing_is_used(lying: Job, demo_in: Client) -> None:
    plans = FrozenPlan.objects.count()
    html = demo_in.get(f"{HERE}?{ASKED}").content.decode()
    address = unescape(re.search(r'class="go" href="([^"]+)"', html)[1])  # type: ignore[index]
    boxes = dict(parse_qsl(urlsplit(address).query, keep_blank_values=True))
    assert address.startswith(f"/jobs/{PLAN_JOB}/plan/?") and boxes["travel"] == "150"
    plan = demo_in.get(address)
    assert plan.status_code == 200 and f'value="{boxes["pressure"]}"' in plan.content.decode()
    assert FrozenPlan.objects.count() == plans and not Draft.objects.filter(job=lying, place="plan").exists()


def test_order_choice_and_the_way_looked_at_work_without_script(lying: Job, demo_in: Client) -> None:
    def numbers(more: str) -> list[int]:
        html = demo_in.get(f"{HERE}?{ASKED}&looked=1&free=spacers&free=pressure&free=tyre&{more}").content.decode()
        return [int(n) for n in re.findall(r'data-way="(\d+)"', html)]

    near = numbers("")
    assert near == sorted(near) and len(near) > 2
    dear = numbers("sort=cost")
    assert dear != near
    assert set(numbers("only=here")) < set(numbers("all=1"))
    html = demo_in.get(f"{HERE}?{ASKED}&looked=1&free=spacers&free=pressure&way={near[1]}").content.decode()
    assert f'<tbody id="way-{near[1]}"' in html
    assert re.search(rf'id="picked-{near[1]}" aria-label="[^"]+">', html)  # not hidden
    assert re.search(rf'id="picked-{near[0]}" aria-label="[^"]+" hidden>', html)


def test_what_is_ticked_may_change_and_what_is_not_stays(lying: Job, demo_in: Client) -> None:
    def ways(more: str) -> int:
        return demo_in.get(f"{HERE}?{ASKED}&looked=1{more}").content.decode().count("data-way=")

    held = text(demo_in.get(f"{HERE}?{ASKED}&looked=1"))
    assert "68 psi" in held.partition("Not these")[0] and "130 mm shaft" not in held
    assert ways("&free=pressure&free=spacers&all=1") > ways("&free=pressure&all=1") > ways("&all=1")
    as_it_is = text(demo_in.get(f"{HERE}?{ASKED}&looked=1&free=travel&free=pressure&free=spacers"))
    assert "No part" in as_it_is  # nothing beats the bike as it is where all may stay


def test_what_is_wrong_or_missing_is_said(lying: Job, demo_in: Client) -> None:
    answer = demo_in.get(f"{HERE}?{ASKED.replace('=68', '=7o')}")
    assert answer.status_code == 200 or answer.status_code == 422
    answer = demo_in.get(f"{HERE}?{ASKED}&looked=1&offset_too=510")
    assert answer.status_code == 422 and "an offset is −50 to 150 mm" in text(answer)
    answer = demo_in.get(f"{HERE}?{ASKED}&looked=1&offset_too=51%00x")
    assert answer.status_code == 422
    assert lying.bike is not None
    lying.bike.tables = {}
    lying.bike.save()
    answer = demo_in.get(f"{HERE}?{ASKED}")
    assert answer.status_code in (200, 422)


def test_from_the_plan_page_to_the_options_and_a_stranger_is_refused(lying: Job, demo_in: Client) -> None:
    page = demo_in.get(f"/jobs/{PLAN_JOB}/plan/").content.decode()
    assert f'formaction="{HERE}"' in page
    assert Client().get(HERE).status_code == 302


def test_a_part_is_changed_and_keeps_its_tag(lying: Job, demo_in: Client) -> None:
    part = Part.objects.get(marking="not measured")
    tag = part.tag
    people.send(
        demo_in, f"/shelf/{part.pk}/",
        {"kind": "tyre", "marking": "T-58", "height": "58 mm", "bore": "622 mm", "on_hand": "2", "waiting_days": "", "cost": "48,50"},
    )  # fmt: skip
    part.refresh_from_db()
    assert part.tag == tag and part.measured == {"height": "58 mm", "bore": "622 mm"} and part.cost == Decimal("48.50")
    assert part.on_hand == 2 and part.waiting_days is None and part.changed_by
    refused = people.send(demo_in, f"/shelf/{part.pk}/", {"kind": "tyre", "on_hand": "2", "cost": "dear"})
    assert refused.status_code == 422 and "an amount is expected" in text(refused)


def test_a_part_of_the_shelf_sets_its_box_on_the_plan_page(lying: Job, demo_in: Client) -> None:
    page = demo_in.get(f"/jobs/{PLAN_JOB}/plan/?{ASKED}")
    assert "From the Shelf" in text(page) and "travel 150 mm" in text(page)
    html = page.content.decode()
    assert 'name="fit" value="travel=150 mm"' in html and "not for use" not in text(page)
    page = demo_in.get(f"/jobs/{PLAN_JOB}/plan/?{ASKED.replace('travel=150', 'travel=140')}&fit=travel%3D150+mm")
    assert re.search(r'name="travel"[^>]*value="150 mm"', page.content.decode())
    page = demo_in.get(f"/jobs/{PLAN_JOB}/plan/?{ASKED}&fit=spacers%3D%2B1")
    assert re.search(r'name="spacers"[^>]*value="2"', page.content.decode())
    page = demo_in.get(f"/jobs/{PLAN_JOB}/plan/?{ASKED}&fit=pressure%3D300+psi")  # no box of the Shelf's
    assert re.search(r'name="pressure"[^>]*value="68"', page.content.decode())


def test_of_a_fork_known_from_outside_now_and_then_say_what_they_lie_between(
    technician_in: Client, cast: people.Cast
) -> None:
    job = outside_job(cast.owner)
    told = text(technician_in.get(f"/jobs/{job.number}/options/", OUTSIDE_ASKED)).replace("\u202f", " ")  # type: ignore[arg-type]
    row = re.search(r"Bottom-out force, N (.{30})", told)
    assert row is not None and re.match(r"\d \d00 to \d \d00 \d \d00 to \d", row[1]), row
