"""What to fit to a rear shock, on its page: table, map, both ends, what is wanted, from the Shelf to the plan's boxes."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape
from urllib.parse import parse_qsl, urlsplit

import pytest
from django.test import Client

from topout.web.access.change import change
from topout.web.book.models import Family, Unit
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.core.ways import looked_at
from topout.web.jobs.records.models import Job
from topout.web.shelf import keeping as shelf
from web import people
from web.test_options_page import text
from web.test_shock_plan import COIL, full_suspension

PARTS = (
    {"kind": "volume spacer", "measured": {"volume": "8 ml", "bore": "46 mm"}, "cost": Decimal("7"), "on_hand": 3},
    {"kind": "volume spacer", "measured": {"volume": "8.5 ml", "bore": "34.6 mm"}, "cost": Decimal("9"), "on_hand": 3},
    {"kind": "stroke reducer", "measured": {"reduces": "2.5 mm"}, "cost": Decimal("6")},
    {"kind": "stroke reducer", "measured": {}, "marking": "not measured"},
    {"kind": "coil", "measured": {"rate": "75 N/mm", "bind": "66 mm"}, "marking": "428 x 2.6", "cost": Decimal("95")},
    {"kind": "coil", "measured": {"rate": "65 N/mm", "bind": "50 mm"}, "marking": "short", "cost": Decimal("20")},
    {"kind": "air shaft", "measured": {"gives": "160 mm"}, "cost": Decimal("90")},
)  # fmt: skip


def lying(cast: people.Cast, job: Job) -> str:
    with change(cast.owner, "shelf", {"made": "for a test"}) as doing:
        for more in PARTS:
            shelf.make_part(doing, **more)  # type: ignore[arg-type]
    return f"/jobs/{job.number}/options/"


@pytest.fixture
def browser(cast: people.Cast) -> Client:
    return people.browser(cast.technician)


def test_a_cans_job_has_table_and_map_and_a_way_sets_the_plans_boxes(cast: people.Cast, browser: Client) -> None:
    job = full_suspension(cast.owner)
    here = lying(cast, job)
    assert f'formaction="{here}"' in browser.get(f"/jobs/{job.number}/plan/").content.decode()
    bare = browser.get(here)
    assert bare.status_code == 200 and "Nothing is asked for yet" in text(bare)
    answer = browser.get(f"{here}?shock_pressure=150&shock_spacers=2&looked=1&free=shock_pressure&shock_stroke=52.5")
    page, html = text(answer), answer.content.decode()
    assert answer.status_code == 200 and html.count("data-way=") > 1 and "<svg" in html
    assert "Nearest to how it sits now" in page and "stroke reduced to 52.5 mm" in page.casefold()
    assert "sag behind, %" in page and "sag, %" not in page
    above = page[: page.index("Not these")]
    assert (
        "Taken for granted. The shock’s negative chamber is taken to fill itself" in above
        and "Sag is an estimate. Front" in above
    )
    # What lies there for the fork alone is no part of the question; a fork's spacer and a coil do not fit the can.
    assert re.search(r"Parts that do not fit: another bore, family or wheel size 3\b", page)
    assert "what it gives was not measured" in page
    found = re.search(r'class="go" href="([^"]+)"', html)
    assert found is not None
    address = unescape(found[1])
    boxes = dict(parse_qsl(urlsplit(address).query, keep_blank_values=True))
    assert boxes["shock_stroke"] == "52.5" and boxes["shock_spacers"] == "2" and boxes["shock_spacer_volume"] == "7"
    plan = browser.get(address)
    assert plan.status_code == 200 and "of 52.5 mm" in text(plan) or "52.5" in text(plan)


@pytest.mark.parametrize(("end", "asked", "front", "rear"), [
    ("shock", {}, False, True), ("shock", {"change": {"travel": "150 mm"}}, True, True),
    ("shock", {"change.shock": {"spacers": 2}}, False, True), ("fork", {}, True, False),
    ("fork", {"change": {"travel": "150 mm"}}, True, False), ("fork", {"change.shock": {"spacers": 2}}, True, True),
])  # fmt: skip
def test_the_jobs_own_end_is_looked_at_and_the_other_where_something_is_asked_of_it(
    cast: people.Cast, end: str, asked: Tables, front: bool, rear: bool
) -> None:
    job = full_suspension(cast.owner, end)
    looked = looked_at(job, core.bench(job, asked))
    assert (looked.front, looked.rear) == (front, rear)


def test_both_ends_the_fork_alone_and_what_is_wanted(cast: people.Cast, browser: Client) -> None:
    here = lying(cast, full_suspension(cast.owner))
    asked = f"{here}?shock_pressure=150&shock_spacers=2&travel=150&pressure=80&spacers=2&looked=1&free=shock_pressure&free=pressure"
    both = text(browser.get(f"{asked}&end=both"))
    assert "sag, % firmer, % sag behind, % firmer behind, %" in both and "in front the same" in both
    wide = {end: 'class="ways wide"' in browser.get(f"{asked}&end={end}").content.decode() for end in ("both", "front")}
    assert wide == {"both": True, "front": False}, "eight figures leave no room for a name beside them"
    ahead = text(browser.get(f"{asked}&end=front"))
    assert "sag, % firmer, %" in ahead and "sag behind, %" not in ahead
    wanted = browser.get(f"{asked}&want_rear_sag=30+%25")
    page = text(wanted)
    assert "Nearest to what is wanted" in page and "Sag behind 30 %" in page and "as it is wanted" in page
    assert "how far from what is wanted" in page and "want_rear_sag=30+%25" in unescape(wanted.content.decode())
    for query, status, said in (
        ("want_rear_sag=3+psi", 422, "Sag behind, of the stroke, “3 psi”"),
        ("want_rear_sag=95+%25", 422, "a share of the stroke is 1 to 90 %"),
        ("want_rear_sag=57", 422, "inside the shock’s stroke"),
        ("want_head_angle=12&want_trail=x", 422, "a head angle is 45 to 90 deg"),
        ("want_sag=20+%25&end=rear", 422, "A sag or a force in front is reached at the fork, which is not looked at."),
        ("end=nowhere", 200, "sag behind, %"),
    ):
        answer = browser.get(f"{asked}&{query}")
        assert answer.status_code == status and said in text(answer), query
        assert "--" not in text(answer), query  # no option of the command line
        if status == 422:
            assert "data-way=" not in answer.content.decode(), query


def test_a_coils_job_has_the_coils_that_do_not_bind(cast: people.Cast, browser: Client) -> None:
    job = full_suspension(cast.owner, shock_coil=COIL)
    here = lying(cast, job)
    answer = browser.get(f"{here}?want_rear_sag=25+%25&looked=1")
    page, html = text(answer), answer.content.decode()
    assert answer.status_code == 200 and "coil of 75 N/mm" in page.casefold().replace("n/mm", "N/mm")
    assert "65 N/mm" not in page.partition("Not these")[0]
    assert re.search(r"The shock’s coil would bind before the end of the stroke \d", page)
    found = re.search(r'class="go" href="([^"]+)"', html)
    assert found is not None
    boxes = dict(parse_qsl(urlsplit(unescape(found[1])).query, keep_blank_values=True))
    assert boxes["shock_rate"] in ("75", "70") and browser.get(unescape(found[1])).status_code == 200


def test_of_a_can_that_nobody_knows_the_middles_of_draws_are_said(cast: people.Cast, browser: Client) -> None:
    unknown = tuple(
        f"shock.air.{word}" for word in ("bore", "shaft", "positive_volume", "negative_volume", "spacer_volume")
    )
    job = full_suspension(cast.owner, without=(*unknown, "shock.friction"), shock={"body": "54 mm", "sag": "13.5 mm"})
    page = text(browser.get(f"{lying(cast, job)}?shock_pressure=150&shock_spacers=2&looked=1&free=shock_pressure"))
    assert "Drawn 200 times, the figures are the middles: what nobody knows of this shock stays open." in page
    assert "Nearest to how it sits now" in page


def test_parts_of_the_other_ends_family_and_a_shock_without_a_spring(cast: people.Cast, browser: Client) -> None:
    job = full_suspension(cast.owner)
    here = lying(cast, job)
    assert job.unit_id is not None
    with change(cast.owner, "families", {"made": "for a test"}):
        fork = Family.objects.create(name="Corrie 36", kind="fork", made_at=job.taken_in_at)
        can = Family.objects.create(name="Corrie can", kind="shock", made_at=job.taken_in_at)
        Unit.objects.filter(pk=job.unit_id).update(family=can)
    query = "?shock_pressure=150&shock_spacers=2&looked=1&free=shock_pressure"
    with change(cast.owner, "shelf", {"made": "for a test"}) as doing:
        for family, marking in ((fork, "for the fork"), (can, "for the can")):
            shelf.make_part(
                doing,
                kind="volume spacer",
                measured={"volume": "7 ml"},
                cost=Decimal("1"),
                family=family,
                marking=marking,
            )
    html = browser.get(here + query).content.decode()
    assert "for the can" in html and "for the fork" not in html
    Unit.objects.filter(pk=job.unit_id).update(tables={}, family=None)
    answer = browser.get(here + query)
    assert answer.status_code == 200 and "Nothing of this shock’s spring is in the Book yet" in text(answer)
