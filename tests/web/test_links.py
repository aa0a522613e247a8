"""Every job number, name, bike and unit is a link to its page; the card is one tap from every page of its job."""

from __future__ import annotations

import re
from html import escape

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.records.models import Job
from web import people
from web.addresses import all_addresses
from web.browser.looks import PAGES

OF_A_JOB = re.compile(r"^/jobs/\d+/")


@pytest.fixture
def owner(demo: object) -> Client:
    return people.browser(User.objects.get(username="maud"))


def shown(client: Client, path: str) -> str:
    page = client.get(path, follow=True)
    assert page.status_code == 200, (path, page.status_code)
    return page.content.decode()


def outside_links(page: str) -> str:
    """The words of a page's main part that stand in no link, no box and no title."""
    main = re.sub(r"<b>.*?</b>", " ", page.partition("<main")[2])  # what a job waits for, in a person's own words
    main = re.sub(
        r"<a\b.*?</a>|<svg\b.*?</svg>|<textarea\b.*?</textarea>|<option\b.*?</option>|<button\b.*?</button>",
        " ",
        main,
        flags=re.S,
    )
    return re.sub(r"<[^>]*>", " ", main)


def test_names_and_numbers_are_links_and_the_card_is_one_tap_from_every_page_of_its_job(owner: Client) -> None:
    job, tapped = Job.objects.get(number=PLAN_JOB), 0
    for name, path in [("bench", "/"), *all_addresses()]:
        if name not in PAGES or name != "bench" and not OF_A_JOB.match(path):
            continue
        page = shown(owner, path)
        if name not in ("bench", "job"):
            assert re.search(rf'<a [^>]*href="/jobs/{PLAN_JOB}/"', page), (name, path)
            tapped += 1
        words = outside_links(page)
        if name not in ("hand-over", "hand-over-check", "sheet"):
            assert escape(job.rider.name) not in words, (name, path)
            assert escape(str(job.unit)) not in words or name in ("papers", "job-tag"), (name, path)
        if name == "bench":
            assert not re.search(r"[Jj]ob \d{3}", words), words
    assert tapped >= 9
