"""The Bench's day as a rule, drawn to scale; holds on it; labels that keep out of each other's way."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from topout.web import clock
from topout.web.jobs.desk import bench, timeline, up_next
from topout.web.jobs.records.models import Job
from web import people
from web.steps_kit import Hands, gauge, make_job

NOON = datetime(2026, 11, 3, 12, tzinfo=UTC)


@pytest.mark.parametrize("which", [0, 1, 2])
def test_the_day_is_drawn_to_scale(which: int) -> None:
    promises = [timeline.Mark(NOON + timedelta(hours=hours), "Varn") for hours in (1.5, 4, 6.25)]
    drawn = timeline.draw(NOON, promises, [])[which]
    width = drawn.width - 4
    assert drawn.now_x == pytest.approx(2 + width * 4 / 11, abs=0.06)
    for x, mark in zip(drawn.flags, promises, strict=True):
        hours = (mark.at - NOON.replace(hour=8)) / timedelta(hours=1)
        assert x == pytest.approx(2 + width * hours / 11, abs=0.06)
    assert drawn.label == "Today from 8 to 19 o’clock: now 12:00; promised 13:30 Varn, 16:00 Varn, 18:15 Varn"


@pytest.mark.parametrize("hour", [0, 5, 23])
def test_the_day_grows_for_what_lies_outside(hour: int) -> None:
    drawn = timeline.draw(NOON.replace(hour=hour), [timeline.Mark(NOON.replace(hour=21), "Varn")], [])
    for one in drawn:
        assert one.now_x is not None and 2 <= one.now_x <= one.end
        assert all(2 <= x <= one.end for x in one.flags)


def test_two_that_go_out_at_one_time_are_both_named() -> None:
    """The second had no label: three went out by the page’s first line, two by its drawing."""
    late, telvik = NOON + timedelta(hours=4.5), timeline.Mark(NOON + timedelta(hours=6.25), "Telvik")
    now = NOON + timedelta(hours=3.3)

    def drawn(*names: str) -> list[set[str]]:
        days = timeline.draw(now, [*(timeline.Mark(late, name) for name in names), telvik], [])
        return [{text.words for text in day.texts} for day in days]

    wide, upright, narrow = drawn("Harrow", "Moorcott")
    assert wide == {"now", "16:30 Harrow, Moorcott", "18:15 Telvik"} and "16:30 Harrow, Moorcott" in upright & narrow
    assert "16:30 Harrow and 4 more" in drawn("Harrow", "Moorcott", "Tallis", "Santerre", "Vauquellé")[2]


def test_a_flag_whose_names_find_no_room_says_its_time() -> None:
    """On an upright tablet, early in the morning, the flag of 16:30 stood there without a word."""
    now = NOON.replace(hour=1, minute=37)
    promised = [
        timeline.Mark(NOON.replace(hour=hour, minute=30), name)
        for hour, name in ((10, "Telvik"), (11, "Tallis"), (16, "Harrow"), (16, "Moorcott"))
    ]
    for day in timeline.draw(now, promised, []):
        said = " ".join(text.words for text in day.texts)
        assert all(time in said for time in ("10:30", "11:30", "16:30")), (day.kind, said)


def test_the_last_hours_do_not_run_together() -> None:
    """At half past ten in the evening an upright tablet had “2223” at the end of its day."""
    for hour in range(18, 24):
        for day in timeline.draw(NOON.replace(hour=hour), [], []):
            digit = timeline.LETTER[16 if day.kind == "narrow" else 20] * 1.2
            before, last = day.hours[-2:]
            if last.anchor == "end":
                assert last.x - 2 * digit - (before.x + digit) >= 4, (hour, day.kind, before, last)


def test_labels_never_run_into_each_other_nor_out_of_the_picture() -> None:
    scatter = random.Random(11)
    for _ in range(300):
        promises = sorted(
            (
                timeline.Mark(NOON + timedelta(minutes=scatter.randrange(-200, 400)), "V" * scatter.randrange(3, 14))
                for _ in range(5)
            ),
            key=lambda mark: mark.at,
        )
        for one in timeline.draw(NOON, promises, []):
            px = timeline.LETTER[16 if one.kind == "narrow" else 20]
            spans = []
            for text in one.texts:
                long = len(text.words) * px
                left = text.x - long if text.anchor == "end" else text.x
                spans.append((text.y, left, left + long))
            for n, (row, left, right) in enumerate(spans):
                assert n == 0 or (left >= 0 and right <= one.width)
                for other_row, other_left, other_right in spans[:n]:
                    assert row != other_row or right < other_left or left > other_right


def test_a_hold_stands_on_the_bench_until_it_is_over(technician_in: Client, cast: people.Cast) -> None:
    gauge()
    job = make_job(cast.technician)
    hands = Hands(cast.technician, job)
    hands.begin()
    slot = hands.until("leak-end")
    assert slot is not None
    with clock.frozen(hands.at):
        span = up_next.hold_of(hands.here())
        assert span is not None and timedelta(minutes=42) < span[1] - span[0] < timedelta(minutes=45), (
            "1 psi marks: no sooner"
        )
        page = technician_in.get("/").content.decode()
        assert "Varn holds pressure to" in page and "Not before" in page
    with clock.frozen(span[1]):
        assert up_next.hold_of(hands.here()) is None
        assert "holds pressure" not in technician_in.get("/").content.decode()


@pytest.mark.parametrize(
    ("ahead", "word"),
    [
        (None, "not promised"), (timedelta(hours=3), "today"), (timedelta(0), "today"), (timedelta(minutes=-1), "late today"),
        (timedelta(days=-1), "late since 2 Nov"), (timedelta(days=1), "tomorrow"), (timedelta(days=3), "Friday"), (timedelta(days=7), "10 Nov"),
    ],
)  # fmt: skip
def test_the_day_it_is_promised_for_is_said_as_people_say_it(ahead: timedelta | None, word: str) -> None:
    now = timezone.localtime(NOON)
    assert bench._day_word(Job(promised_at=None if ahead is None else NOON + ahead), now) == word


def test_an_empty_bench_says_what_belongs_there(technician_in: Client) -> None:
    page = technician_in.get("/").content.decode()
    assert "Jobs stand here once one is taken in" in page and page.count('class="go"') == 1


@pytest.mark.parametrize("minute", range(0, 60, 7))
def test_the_word_now_stays_in_the_picture_and_off_its_neighbours_at_night(minute: int) -> None:
    """Before eight the rule begins at this hour: the word hung out over its left edge."""
    now = datetime(2026, 11, 29, 3, minute, tzinfo=UTC)
    for day in timeline.draw(now, [timeline.Mark(now + timedelta(minutes=20), "Ilse Varn")], []):
        px = 16 if day.kind == "narrow" else 20
        spans = {}
        for text in day.texts:
            long = len(text.words) * timeline.LETTER[px]
            left = text.x - long if text.anchor == "end" else text.x
            assert left >= 0 and left + long <= day.width, (day.kind, text)
            spans[text.words, text.y] = left, left + long
        said = next(span for (words, _), span in spans.items() if words == "now")
        for (words, y), (left, right) in spans.items():
            assert words == "now" or y != 56 or right < said[0] or left > said[1], (day.kind, words)


def test_taking_in_stands_beside_the_day(demo: object) -> None:
    """It was below every job: some 3,000 px down on a phone."""
    page = people.browser(people.User.objects.get(username="maud")).get("/").content.decode()
    assert page.index("Take in a job") < page.index('class="sec stand"') and page.count("Take in a job") == 1
