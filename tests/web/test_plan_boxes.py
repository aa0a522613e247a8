"""Every key that a `[change]` may have goes through the boxes of the plan page and comes out with the same meaning."""

from __future__ import annotations

import re
import tomllib
from html import unescape
from typing import Any

import pytest
from django.test import Client

from topout.bench_file import samples
from topout.planner.change import changed
from topout.planner.plan import plan
from topout.web.book import tables as bench_tables
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.plan import box_keys
from topout.web.jobs.plan import boxes as plan_boxes
from topout.web.jobs.records.models import FrozenPlan, Job
from web import people
from web.plan_cast import ASKED, HOLLIN, hollin_job

REFUSED = {
    ("change.front_wheel", "sag"),  # stands in [found]; the reader says so
}
BESIDE: dict[str, Tables] = {  # what a key needs beside it
    "negative_pressure": {"change.air": {"negative": "separate-valve"}},
    "rate": {"change.air": {"negative": "coil", "negative_coil": {"length": "20 mm"}}},
    "length": {"change.air": {"negative": "coil", "negative_coil": {"rate": "4 N/mm"}}},
    "spacer_solid_volume": {"change": {"by": "piston-spacer", "travel": "130 mm"}},
}
OTHER = {"by": "piston-spacer", "negative": "none"}  # samples that say what is fitted, or the default


def every_key() -> list[tuple[str, str]]:
    return [
        (table, word)
        for table in core.CHANGE_TABLES
        for word, _ in bench_tables.keys(table)
        if (table, word) not in REFUSED
    ]


def fitted() -> Tables:
    data = tomllib.loads(HOLLIN.read_text())
    names = ("conditions", *bench_tables.RIDER, *bench_tables.BIKE, *bench_tables.UNIT, "found")
    return bench_tables.flat(data, names)


def fitted_for(table: str, word: str) -> Tables:
    """The bike whose page has the boxes of this table: a coil's are a coil fork's, a shock's those of a can or of a coil."""
    tables = fitted()
    if table == "change.coil":
        del tables["fork.air"], tables["found"]["pressure"]
        tables["fork.coil"] = {"rate": "7 N/mm", "preload": "5 mm", "bind": "160 mm"}
    if table == "change.shock":
        spring = "shock.air" if word in ("pressure", "spacers") else "shock.coil"
        for name, words in (("shock", ("length", "stroke", "leverage")), (spring, ())):
            tables[name] = {
                each: tomllib.loads(f"v = {text}")["v"]
                for each, text in samples.SAMPLES[name].items()
                if not words or each in words
            }
        for gone in ("negative_coil", "negative_pressure", "second_volume", "second_pressure"):
            tables[spring].pop(gone, None)
        tables.get("rear_wheel", {}).pop("sag", None)
    return tables


def asking_for(table: str, word: str) -> Tables:
    """A change that names this key, with what it needs beside it."""
    last = word.rpartition(".")[2]
    where = table if table in samples.SAMPLES else table.replace("change.", "fork." if "wheel" not in table else "")
    value: Any = tomllib.loads(f"v = {samples.SAMPLES[where][word.partition('.')[0]]}")["v"]
    asked: Tables = {
        name: dict(keys)
        for name, keys in BESIDE.get(last if "." in word or table != "change" else word, {}).items()
        if table != "change.coil"
    }
    if isinstance(value, dict):
        value = value[last]
    box_keys.put(asked, table, word, OTHER.get(word, value))
    return asked


@pytest.mark.parametrize(("table", "word"), every_key(), ids=lambda part: str(part))
def test_each_key_of_a_change_comes_through_the_boxes(table: str, word: str) -> None:
    asked = asking_for(table, word)
    bike = fitted_for(table, word)
    wanted = bench_tables.read(bench_tables.merged(bike, asked))
    drawn = plan_boxes.draw(bike, asked)
    assert not drawn.faults
    sent = {box.name: box.text for box in drawn.boxes}
    again = plan_boxes.draw(bike, {}, sent)  # as a browser sends them
    assert not again.faults and again.file is not None
    assert changed(again.file) == changed(wanted), "the state after is the one that was asked for"


def test_a_key_that_has_no_box_would_be_seen() -> None:
    boxes = {(place.change, place.word) for place in box_keys.PLACES}
    twins = set(box_keys.TWINS.values())
    assert set(every_key()) == boxes | twins
    assert len({place.name for place in box_keys.PLACES}) == len(box_keys.PLACES)


def test_one_half_of_a_coil_is_said_to_be_missing() -> None:
    found = plan_boxes.draw(fitted(), {}, {"air_negative": "coil", "air_negative_coil_rate": "4"})
    assert found.file is not None
    said = [warned.text for warned in plan(found.file).warnings if warned.code == "missing-input"]
    assert any("negative_coil" in text for text in said), said


def test_a_spacers_own_volume_without_a_piston_spacer_is_said_and_not_dropped() -> None:
    found = plan_boxes.draw(fitted(), {}, {"solid": "3"})
    assert found.faults and found.faults[0][0] == "solid" and "piston-spacer" in found.faults[0][1]


def test_a_fault_of_the_bench_file_names_no_key_of_it() -> None:
    """Where no box of the page can mend it, it is called what the Book calls it."""
    tables = fitted()
    tables.setdefault("frame", {})["head_angle"] = "6 deg"
    tables.setdefault("fork", {})["overtravel"] = "900 mm"
    others = plan_boxes.draw(tables, {}).others
    assert any(text.startswith("Frame, as its chart gives it, head angle: ") for text in others), others
    assert others and not any("[" in text or "_" in text for text in others), others
    assert bench_tables.in_words('more than the travel, [fork] travel = "140 mm".') == (
        'more than the travel, Fork at full extension, travel "140 mm".'
    )
    assert bench_tables.in_words("[found] sag: is past the end") == "Sag: is past the end"


@pytest.fixture
def job(cast: people.Cast) -> Job:
    return hollin_job(cast.owner, fork={"overtravel": "0 mm"})


def test_a_new_part_is_used_kept_and_shown_again(technician_in: Client, job: Job) -> None:
    path = f"/jobs/{job.number}/plan/"
    boxes = {**ASKED, "air_bore": "36", "air_port_position": "0.2 in"}
    page = technician_in.get(path, boxes)  # type: ignore[arg-type]
    words = page.content.decode()
    assert "The new air-spring part" in words and '<details class="more" open>' in words
    assert "Bore, mm" in words
    form = {name: unescape(people.field_of(page, name)) for name in ("csrfmiddlewaretoken", "change_key", "answered")}
    assert technician_in.post(path, form | boxes).status_code == 303
    frozen = tomllib.loads(FrozenPlan.objects.get(job=job).bench_file)
    assert frozen["change"]["air"] == {"bore": "36 mm", "port_position": "0.2 in"}
    again = technician_in.get(path).content.decode()
    assert 'name="air_bore" value="36"' in again and 'name="air_port_position" value="0.2 in"' in again
    assert (
        '<details class="more">' in technician_in.get(path, {"air_bore": "", "air_port_position": ""}).content.decode()
    )


def test_a_wheel_is_called_what_riders_call_it(technician_in: Client, job: Job) -> None:
    page = technician_in.get(f"/jobs/{job.number}/plan/").content.decode().replace("\u00a0", " ")
    for value, words in (("622", "29 in (622)"), ("584", "27.5 in (584)"), ("559", "26 in (559)")):
        assert f'name="bead" value="{value}"' in page and f"<span>{words}</span>" in page
    assert 'id="tyre-echo">radius 369 mm<' in page, "622 / 2 + 58"


def test_a_box_has_a_key_for_the_program_and_a_label_for_people() -> None:
    for place in box_keys.PLACES:
        assert re.fullmatch("[a-z_]+", place.name), place
        assert re.match("[A-Z]", place.label), place


def test_what_may_stay_as_it_is_says_so_and_what_is_asked_every_day_has_its_figure() -> None:
    """A new part’s boxes and what nobody changes stand empty; the others hold what is fitted."""
    stay = {place.name for place in box_keys.PLACES if place.may_stay}
    new_part = {place.name for place in box_keys.PLACES if place.name.startswith("air_")}
    assert stay == new_part | {
        "bind",
        "length",
        "radius",
        "rear_radius",
        "rear_sag",
        "shock_bind",
        "shock_spacer_volume",
        "solid",
    }
    assert not stay & {
        "travel",
        "pressure",
        "spacers",
        "offset",
        "bead",
        "tyre",
        "shock_pressure",
        "shock_spacers",
        "shock_stroke",
    }
