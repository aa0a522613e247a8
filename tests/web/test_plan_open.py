"""The plan page for a fork of which only the outside is known: said with its limits, drawn as bands, frozen as drawn."""

from __future__ import annotations

import datetime as dt
import json
import re
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from topout.documents.setup_sheet import sheet_pdf
from topout.planner import inexact, open_to
from topout.web.access import preferences
from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.core import refusals
from topout.web.jobs.records.models import FrozenPlan, Job
from topout.web.jobs.release import sheet
from web import people
from web.outside_cast import ASKED, outside_job
from web.test_plan_page import beside, words_of


@pytest.fixture
def job(cast: people.Cast) -> Job:
    return outside_job(cast.owner)


def moved(client: Client, job: Job, **more: str) -> HttpResponse:
    answer = client.get(f"/jobs/{job.number}/plan/", {**ASKED, "width": "738", **more}, headers={"HX-Request": "true"})
    return answer  # type: ignore[return-value]


def frozen(cast: people.Cast, job: Job) -> FrozenPlan:
    with change(cast.owner, "use", {}) as doing:
        return core.freeze(doing, job, {"change": {"travel": "160 mm", "pressure": "72 psi", "spacers": 1}})


def test_it_says_what_is_known_and_what_is_not(technician_in: Client, job: Job) -> None:
    words = words_of(technician_in.get(f"/jobs/{job.number}/plan/", ASKED))  # type: ignore[arg-type]
    said = re.search(r"Set 72 psi · 4\.96 bar \((\d+) to (\d+) psi\) with one volume spacer for the same sag\.", words)
    assert said is not None, words[:1500]
    assert int(said[1]) < 72 < int(said[2]) and int(said[2]) - int(said[1]) <= 4
    assert "How firm the end is: not known yet. Between" in words and "a strap or a press holds it, not hands" in words
    assert "Slow force, as bands" in words and "What one reading leaves" in words and "same bottom-out force" in words
    assert "typical, not known here" in words and "6 to 11 ml" in words
    assert "bottom-out force 1" not in words, "what is not known stands in no sentence as one figure"
    assert "Not known: the bore" not in words, "what was drawn is not missing"
    assert "Air may stay trapped in the negative chamber" in words


def test_every_picture_has_a_table_of_its_values(technician_in: Client, job: Job) -> None:
    page = technician_in.get(f"/jobs/{job.number}/plan/", ASKED).content.decode()
    for part in ("force", "leaves"):
        after = page[page.index(f'id="{part}"') :]
        assert "<svg" in after[:4000] or "<svg" in after
        table = after[after.index("<details") : after.index("</details>")]
        assert table.count("<tr>") > 5 and "The values of this picture" in table
    assert page.count('data-part="spread"') == 3  # one a size


def test_a_move_draws_few_and_says_so_to_the_script_and_at_rest_all_are_drawn(technician_in: Client, job: Job) -> None:
    few, all_of_them = moved(technician_in, job), moved(technician_in, job, rest="1")
    assert beside(few)["moving"] and not beside(all_of_them)["moving"]
    times = [int(re.search(r"usually are, (\d+) times", words_of(one))[1]) for one in (few, all_of_them)]  # type: ignore[index]
    assert times[0] < inexact.AT_REST <= times[1]
    assert words_of(moved(technician_in, job)) == words_of(few), "the same question, the same answer"
    assert "rest" not in beside(all_of_them)["address"]


def test_what_is_frozen_keeps_its_limits_and_comes_out_again(
    technician_in: Client, cast: people.Cast, job: Job
) -> None:
    plan = frozen(cast, job)
    kept = FrozenPlan.objects.get(pk=plan.pk).results
    assert (
        kept["drawn"]["seed"] == inexact.SEED
        and kept["drawn"]["draws"] >= inexact.AT_REST
        and kept["drawn"]["effective"] >= 500
    )
    assert "fork.air.bore" in kept["drawn"]["assumed"]
    assert kept["keep"]["sag"]["pressure_pa_low95"] < kept["keep"]["sag"]["pressure_pa"]
    again = core.recompute(plan)
    assert again.holds and again.largest == 0.0 and again.same_version
    # One more draw is another answer, and is seen: what is looked at is not only the medians.
    for place, value in ((("drawn", "draws"), 1), (("keep", "sag", "pressure_pa_low95"), 1.0)):
        spoilt: Any = json.loads(json.dumps(kept))
        here = spoilt
        for word in place[:-1]:
            here = here[word]
        here[place[-1]] += value
        assert not core.recompute(FrozenPlan(bench_file=plan.bench_file, results=spoilt, version=plan.version)).holds
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))  # type: ignore[arg-type]
    assert plan.sentence.replace("\u00a0", " ") in card and "for the same sag" in card
    assert "not known yet" in card


def test_a_plan_frozen_before_it_was_drawn_is_still_what_it_was(cast: people.Cast, job: Job) -> None:
    from topout.bench_file.read import read_text
    from topout.planner.plan import plan as compute

    text = core.bench_text(job, {"change": {"travel": "160 mm"}})
    old = FrozenPlan(bench_file=text, results=core.plain(compute(read_text(text)).as_json()), version="0")
    assert old.results["drawn"] is None and core.recompute(old).holds


def test_it_is_put_to_use_without_an_owners_reason(cast: people.Cast, job: Job) -> None:
    """A spring that is drawn is one: nothing speaks against the plan."""
    tables = {"change": {"travel": "160 mm", "pressure": "72 psi", "spacers": 1}}
    with change(cast.technician, "use", {}) as doing:
        plan = refusals.use(doing, job, core.bench(job, tables), tables)
    assert plan.reason == "" and "for the same sag" in plan.sentence


def test_a_sag_that_no_fork_of_that_outside_shows_is_said_on_the_page(
    cast: people.Cast, technician_in: Client, job: Job
) -> None:
    job.unit.tables["fork"]["stanchion"] = "28 mm"  # type: ignore[union-attr]
    job.unit.save()  # type: ignore[union-attr]
    answer = moved(technician_in, job, travel="160")
    assert "no fork with these stanchions" in words_of(answer) and answer.status_code == 200


def test_the_sheet_says_the_plans_own_sentence_and_what_was_not_measured(cast: people.Cast, job: Job) -> None:
    plan = frozen(cast, job)
    told, _ = sheet.sheet_of(job)
    assert plan.sentence in told.changed and "for the same sag" in told.changed
    assert "How firm the end is: not known yet. Between" in told.changed
    assert "○ Typical, not measured here: the bore of the air tube" in told.changed
    assert (
        told.force is not None and told.force.name == "Slow force, as bands." and "Nineteen of twenty" in told.force.alt
    )
    assert "firmer" not in told.changed and "you use" not in told.changed, "not known to a figure"
    at = re.search(r"Between ([^.]+)\.", told.changed)
    card = core.told_frozen(plan).bounds
    assert at is not None and card is not None
    firm = open_to.end(card, preferences.system())
    assert firm is not None and at[0] == firm.between, "the sheet's limits are the frozen plan's"
    assert sheet_pdf(told, dt.datetime(2026, 11, 29, tzinfo=dt.UTC)).startswith(b"%PDF")
