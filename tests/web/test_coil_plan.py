"""A coil fork's job: its plan page answers, its plan is put to use, and no air step is given to it."""

from __future__ import annotations

import html
import re
import tomllib

import pytest
from django.test import Client

from topout import units
from topout.planner import plan as planner
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs import core
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import FrozenPlan, Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.steps.progress import walk
from web import people
from web.plan_cast import HOLLIN

COIL = {
    "fork": {"travel": "140 mm", "length": "536 mm", "offset": "44 mm", "friction": "12 N"},
    "fork.coil": {"rate": "7.5 N/mm", "preload": "6 mm", "bind": "170 mm"},
    "fork.lower_legs": {"air_volume": "420 ml", "area": "1880 mm^2"},
}


@pytest.fixture
def job(cast: people.Cast) -> Job:
    rider_tables, bike_tables, _ = book.take_apart(HOLLIN.read_bytes())
    with change(cast.owner, "coil", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Runa Telvik", tables=rider_tables)
        bike = book.make_bike(doing, rider=rider, name="Hollin hardtail, size L", tables=bike_tables)
        unit = book.make_unit(doing, bike=bike, name="A coil fork", kind="coil-fork", tables=COIL)
        made = changes.take_in(
            doing,
            rider=rider,
            bike=bike,
            unit=unit,
            asked_title="140 to 150 mm",
            asked="Ten more.",
            procedure="lower-leg-service",
        )
        for kind, text, dimension, more in (
            ("coil-rate", "7.8 N/mm", "rate", {}), ("preload", "5 mm", "length", {}),
            ("sag", "31 mm", "length", {"posture": "standing"}),
        ):  # fmt: skip
            readings.take(
                doing, made, "as-found", Taken.quantity(kind, units.parse(text, dimension), dimension, **more)
            )
        return made


def words(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page.split("<main")[1])).split()).replace("\u202f", " ")


def test_the_file_of_the_card_has_what_was_found(job: Job) -> None:
    """Rate and preload as read come before the Book's; the sag found stands alone, and is where the load comes from."""
    file = core.bench(job, {"change": {"travel": "150 mm"}})
    assert file.fork is not None and file.fork.coil is not None and file.fork.air is None
    assert (file.fork.coil.rate_n_per_m, file.fork.coil.preload_m, file.fork.coil.bind_m) == (7800.0, 0.005, 0.170)
    assert file.found is not None and (file.found.sag_m, file.found.pressure_gauge_pa, file.found.posture) == (
        0.031,
        None,
        "standing",
    )


def test_the_plan_page_answers(technician_in: Client, job: Job) -> None:
    page = technician_in.get(f"/jobs/{job.number}/plan/?travel=150&rate=8&preload=5").content.decode()
    told = words(page)
    asked = set(re.findall(r'<input[^>]*name="([a-z_]+)"', page))
    assert {"travel", "rate", "preload", "offset"} <= asked
    assert not {"pressure", "negative", "spacers", "by", "solid", "air_bore"} & asked
    assert "Fit the spring of 8 N/mm" in told and "with 5 mm of preload ." in told
    assert "What to fit, to keep one thing as it was" in told and "Another spring wound up as set" in told
    assert (
        "comes with the next version" not in told
        and "psi" not in told.split("What to fit, to keep")[0].split("Fit the spring")[1]
    )
    keeps = planner.plan(
        core.bench(job, {"change": {"travel": "150 mm"}, "change.coil": {"rate": "8 N/mm", "preload": "5 mm"}})
    ).keep
    assert keeps.sag.rate_n_per_m is not None
    assert f"same sag {keeps.sag.rate_n_per_m / 1e3:.1f} N/mm" in told


def test_where_its_coils_touch_is_a_warning_of_the_page(technician_in: Client, job: Job) -> None:
    told = words(technician_in.get(f"/jobs/{job.number}/plan/?travel=150&rate=7.8&preload=40").content.decode())
    assert "Coils touch. The coils touch at 135 mm of 150 mm" in told.replace("\u202f", " ").replace("\xa0", " ")


def test_it_is_put_to_use_and_comes_out_again(technician_in: Client, cast: people.Cast, job: Job) -> None:
    page = technician_in.get(f"/jobs/{job.number}/plan/?travel=150&rate=8&preload=5").content.decode()
    answered = html.unescape(re.search(r'id="answered" value="([^"]*)"', page)[1])  # type: ignore[index]
    fields = dict(re.findall(r'<input id="([a-z_]+)" name="[a-z_]+" value="([^"]*)"', page)) | {"answered": answered}
    fields |= {
        name: html.unescape(value)
        for name, value in re.findall(r'type="radio" name="([a-z_]+)" value="([^"]*)" checked', page)
    }
    sent = people.send(
        technician_in, f"/jobs/{job.number}/plan/", {**fields, "travel": "150", "rate": "8", "preload": "5"}
    )
    assert sent.status_code in (302, 303), words(sent.content.decode())[:600]
    frozen = FrozenPlan.objects.get()
    assert frozen.sentence.replace("\xa0", " ").startswith("Fit the spring of 8 N/mm")
    assert tomllib.loads(frozen.bench_file)["change"]["coil"] == {"rate": "8 N/mm"}  # the preload stays
    again = core.recompute(frozen)
    assert again.same_version and again.holds
    card = technician_in.get(f"/jobs/{job.number}/").content.decode()
    assert "Fit the spring of 8" in html.unescape(card)
    with pytest.raises(NoSteps):
        walk(job)
    for address in ("", "plan/", "hand-over/", "papers/"):
        assert technician_in.get(f"/jobs/{job.number}/{address}").status_code in (200, 404), address


def test_no_air_step_is_given_to_a_coil(technician_in: Client, job: Job) -> None:
    """A procedure that does not name the coil fork is written for air: said where its steps would stand."""
    with pytest.raises(NoSteps, match="written for a fork; this is a coil fork"):
        walk(job)
    page = technician_in.get(f"/jobs/{job.number}/steps/", follow=True)
    assert "written for a fork; this is a coil fork" in html.unescape(page.content.decode())


def test_a_table_of_pressures_by_weight_is_not_offered(technician_in: Client, job: Job) -> None:
    page = technician_in.get(f"/book/riders/{job.rider_id}/set-up/")
    assert page.status_code in (200, 404) and "psi" not in words(page.content.decode())


@pytest.mark.parametrize(
    ("asked", "said"),
    [("", ""), ("?share=20", "fit a spring of"), ("?end=2000", "fit a spring of"), ("?temperature=0", "coil has no pressure to set"),
     ("?clicks=8", "8 clicks"), ("?head_angle=66", "fit a fork 541 mm long")],
)  # fmt: skip
def test_single_questions_are_answered_by_the_spring(technician_in: Client, job: Job, asked: str, said: str) -> None:
    answer = technician_in.get(f"/jobs/{job.number}/questions/{asked}")
    assert answer.status_code == 200
    told = words(answer.content.decode())
    assert said in told.lower() and "psi" not in told, told[:1500]


def test_no_gauge_is_asked_for_with_the_fork_held_in(technician_in: Client, job: Job) -> None:
    answer = technician_in.get(f"/jobs/{job.number}/plan/far-in/")
    assert answer.status_code == 200 and "<form" not in answer.content.decode().split("<main")[1]
